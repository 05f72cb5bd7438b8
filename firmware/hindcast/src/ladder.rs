//! The cells of a boat's own ladder: each rung's limit by the 1-minute mean
//! close-hauled, or by gust where it has none by the mean, with the call time
//! of its next reduction by her own crew, by day and by night.

use cringle_boat::BoatFile;
use cringle_core::act::Hands;
use cringle_core::ladder::{Circumstances, Feasibility, Plan, PlanId, call_time};
use cringle_core::view::Light;

use super::judged::{By, Cell};

/// There are no odds for longer call times.
const LONGEST_S: f64 = cringle_core::outlook::HORIZON_S as f64;

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
}
