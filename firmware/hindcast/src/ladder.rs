//! The cells of a boat's own ladder: each rung's limit by the 1-minute mean
//! close-hauled, or by gust where it has none by the mean, with the call time of its next reduction by her own crew, by
//! day and by night.

use cringle_boat::BoatFile;
use cringle_core::act::Hands;
use cringle_core::ladder::{Circumstances, Feasibility, Plan, PlanId, call_time};
use cringle_core::view::Light;

use super::cells::{By, Cell};

/// There are no odds for longer call times.
const LONGEST_S: f64 = cringle_core::outlook::HORIZON_S as f64;

/// What may be tried otherwise than the boat file says, and how.
pub const KEYS: [&str; 7] = [
    "hands_on_deck",
    "hands_below",
    "muster_minutes",
    "ready_minutes",
    "night_factor",
    "setup_minutes",
    "change_factor",
];

/// All rungs that can be reduced, and what is to be said of the others.
pub fn cells(file: &BoatFile) -> (Vec<Cell>, Vec<String>) {
    let mut cells = Vec::new();
    let mut remarks = Vec::new();
    for (plan, number) in file.boat.ladder.plans.iter().zip(0..) {
        if plan.alternative_to.is_some() {
            continue;
        }
        match rung(file, plan, PlanId(number)) {
            Ok(pair) => cells.extend(pair),
            Err(why) => remarks.push(format!("\"{}\" is left out: {why}", plan.name)),
        }
    }
    (cells, remarks)
}

/// Changes a key of the boat; what is wrong where it cannot be.
pub fn set(file: &mut BoatFile, key: &str, value: f64) -> Result<(), String> {
    let boat = &mut file.boat;
    match key {
        "hands_on_deck" => boat.start.hands.on_deck = whole(key, value, 1.0)?,
        "hands_below" => boat.start.hands.below = whole(key, value, 0.0)?,
        "muster_minutes" => boat.crew.muster_minutes = at_least(key, value, 0.0)?,
        "ready_minutes" => boat.crew.ready_minutes = at_least(key, value, 0.0)?,
        "night_factor" => boat.crew.night_factor = at_least(key, value, 1.0)?,
        "setup_minutes" => {
            let minutes = at_least(key, value, 0.0)?;
            for item in &mut boat.ladder.setup {
                item.minutes = minutes;
            }
        }
        "change_factor" => {
            let factor = at_least(key, value, 0.0)?;
            let all = boat.ladder.changes.iter_mut();
            for step in all.flat_map(|change| &mut change.minutes) {
                step.minutes *= factor;
            }
        }
        _ => {
            let known = KEYS.join(", ");
            return Err(format!("unknown key {key:?}, expected one of {known}"));
        }
    }
    Ok(())
}

fn rung(file: &BoatFile, plan: &Plan, id: PlanId) -> Result<[Cell; 2], String> {
    let limits = plan.limits.close_hauled;
    let (limit, by) = match (limits.mean, limits.gust) {
        (Some(mean), _) => (mean, By::Mean),
        (None, Some(gust)) => (gust, By::Gust),
        (None, None) => return Err("it has no limit by the wind close-hauled".into()),
    };
    let day = seconds(file, id, Light::Day)?;
    let night = seconds(file, id, Light::Night)?;
    if let Some(long) = [day, night].into_iter().find(|it| *it > LONGEST_S) {
        return Err(format!(
            "its next reduction takes {:.0} min, beyond the outlook",
            long / 60.0
        ));
    }
    let cell = |seconds: f64, light: &str| Cell {
        limit_kn: limit.get(),
        call_time_s: seconds.ceil() as u32,
        name: format!("{} by {light}", plan.name),
        by,
    };
    Ok([cell(day, "day"), cell(night, "night")])
}

/// The next reduction that these hands can do, all set-up open, in the wind
/// of a fair day: the crew has begun early.
fn seconds(file: &BoatFile, from: PlanId, light: Light) -> Result<f64, String> {
    let boat = &file.boat;
    let now = Circumstances {
        helm: boat.start.helm,
        light,
        ..Circumstances::fair(boat.start.hands)
    };
    let mut why = String::from("nothing is left to take in");
    for change in boat.ladder.reductions(from) {
        match call_time(&boat.ladder, &boat.crew, change, &now) {
            Feasibility::Feasible(job) => return Ok(job.time.total_s()),
            Feasibility::Impossible(obstacle) => {
                let Hands { on_deck, below } = boat.start.hands;
                why = format!("with {on_deck} on deck and {below} below, {obstacle}");
            }
        }
    }
    Err(why)
}

fn at_least(key: &str, value: f64, least: f64) -> Result<f64, String> {
    match value >= least {
        true => Ok(value),
        false => Err(format!("{key} {value} is under {least}")),
    }
}

fn whole(key: &str, value: f64, least: f64) -> Result<u8, String> {
    let value = at_least(key, value, least)?;
    match value.fract() == 0.0 && value <= 60.0 {
        true => Ok(value as u8),
        false => Err(format!("{key} {value} is no number of people")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_night_of_the_example_boat_takes_longer_than_a_day() {
        let (cells, _) = cells(&cringle_boat::example().unwrap());
        assert!(cells.len() >= 6, "{cells:?}");
        for pair in cells.chunks(2) {
            assert_eq!(pair[0].limit_kn, pair[1].limit_kn);
            assert!(pair[0].call_time_s < pair[1].call_time_s, "{pair:?}");
        }
    }

    #[test]
    fn a_longer_muster_never_shortens_a_call_time() {
        let file = cringle_boat::example().unwrap();
        let mut slow = file.clone();
        set(&mut slow, "muster_minutes", 20.0).unwrap();
        let both = cells(&file).0.into_iter().zip(cells(&slow).0);
        for (quick, slow) in both {
            assert!(quick.call_time_s <= slow.call_time_s);
        }
    }

    #[test]
    fn nonsense_is_refused() {
        let mut file = cringle_boat::example().unwrap();
        assert!(set(&mut file, "hands_on_deck", 1.5).is_err());
        assert!(set(&mut file, "night_factor", 0.5).is_err());
        let said = set(&mut file, "sails", 1.0).unwrap_err();
        assert!(said.contains("expected one of hands_on_deck"), "{said}");
    }
}
