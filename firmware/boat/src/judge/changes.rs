//! Changes and set-up: can this crew do them, in the wind that calls for them?

use cringle_core::act::Hands;
use cringle_core::ladder::{
    Change, Circumstances, ItemId, Ladder, Obstacle, Plan, PlanId, Standing, call_time,
    effective_limit,
};

use super::{Remarks, entry};
use crate::times::{CallTimes, call_times};

/// As far as the outlook sees.
const OUTLOOK_MINUTES: f64 = 90.0;
/// Minutes between which a change is likely. Common practice, no source.
const LIKELY_MINUTES: std::ops::RangeInclusive<f64> = 1.0..=60.0;

pub(super) fn judge(remarks: &mut Remarks<'_>) {
    let file = remarks.file;
    let ladder = &file.boat.ladder;
    for (place, change) in ladder.changes.iter().enumerate() {
        minutes(remarks, place, change);
        if change.to > change.from {
            highest_wind(remarks, ladder, place, change);
        }
    }
    for place in 0..ladder.plans.len() {
        hands(remarks, ladder, PlanId(place as u8));
    }
    for times in call_times(file) {
        beyond_outlook(remarks, &times);
    }
    for (place, item) in ladder.setup.iter().enumerate() {
        let id = ItemId(place as u8);
        if !ladder.changes.iter().any(|c| c.setup.contains(&id)) {
            remarks.note(
                entry("setup", place),
                format!("no change needs \"{}\"", item.name),
                "name it in `setup` of a change, or take it out",
            );
        } else if item.standing == Standing::WhenNeeded && item.minutes == 0.0 {
            remarks.note(
                format!("{}.minutes", entry("setup", place)),
                format!("\"{}\" takes no time, so it buys none", item.name),
                "time it, or say permanent = true",
            );
        }
    }
}

fn minutes(remarks: &mut Remarks<'_>, place: usize, change: &Change) {
    let key = || format!("{}.minutes", entry("change", place));
    for pair in change.minutes.windows(2) {
        if let [fewer, more] = pair
            && more.minutes > fewer.minutes
        {
            let what = format!(
                "{} hands take {} min, {} hands {}",
                more.hands, more.minutes, fewer.hands, fewer.minutes
            );
            remarks.fault(key(), what, "more hands should not take longer: time them");
        }
        if let [fewer, more] = pair
            && more.hands == fewer.hands
        {
            let what = format!("{} hands are there twice", more.hands);
            remarks.fault(key(), what, "keep one");
        }
    }
    for entry in &change.minutes {
        if !LIKELY_MINUTES.contains(&entry.minutes) {
            let what = format!("{} min by {} hands", entry.minutes, entry.hands);
            remarks.note(key(), what, "time it at sea: 1 to 60 min is usual");
        }
    }
}

/// The change must still be possible in the wind that calls for it.
fn highest_wind(remarks: &mut Remarks<'_>, ladder: &Ladder, place: usize, change: &Change) {
    let (Some(from), Some(highest)) = (ladder.plan(change.from), change.highest_wind) else {
        return;
    };
    let key = format!("{}.highest_wind_kn", entry("change", place));
    let Some(limit) = lowest_mean(from) else {
        return;
    };
    let above = ladder
        .plans
        .iter()
        .take(ladder.rung(change.from).0 as usize);
    let entered_at = above.filter_map(lowest_mean).fold(0.0, f64::max);
    if entered_at > 0.0 && highest.get() <= entered_at {
        remarks.fault(
            key,
            format!(
                "only up to {highest}, yet \"{}\" is set for {entered_at} kn and up",
                from.name
            ),
            "raise it, or give another way down",
        );
    } else if highest.get() < limit {
        remarks.note(
            key,
            format!("only up to {highest}, below the limit {limit} kn of the plan that is left"),
            "the call comes for this wind instead of the limit: check that it is meant",
        );
    }
}

fn lowest_mean(plan: &Plan) -> Option<f64> {
    let limit = effective_limit(plan, None);
    limit.mean.or(limit.gust).map(|limit| limit.get())
}

/// A call that would have to come before the outlook sees anything.
fn beyond_outlook(remarks: &mut Remarks<'_>, times: &CallTimes) {
    let Some(minutes) = times.by_night_min.filter(|m| *m > OUTLOOK_MINUTES) else {
        return;
    };
    let what = format!("takes {minutes:.0} min by night with its set-up open");
    remarks.note(
        format!("{}.minutes", entry("change", times.change)),
        what,
        "the outlook sees 90 min ahead: do the set-up early, or call for more hands",
    );
}

/// Somebody aboard must be able to leave every plan, with every hand called,
/// nothing set up, and the wind low enough for the pilot.
fn hands(remarks: &mut Remarks<'_>, ladder: &Ladder, id: PlanId) {
    let boat = &remarks.file.boat;
    let Hands { on_deck, below } = boat.start.hands;
    let mut now = Circumstances::fair(boat.start.hands);
    now.helm = boat.start.helm;
    now.tws_kn = Some(0.0);
    let short_of =
        |change: &Change, now: &Circumstances| match call_time(ladder, &boat.crew, change, now) {
            cringle_core::ladder::Feasibility::Impossible(Obstacle::TooFewHands {
                need, ..
            }) => Some(need),
            _ => None,
        };
    let mut needs: Vec<(usize, u8)> = Vec::new();
    let mut ways = 0;
    for (place, change) in ladder.changes.iter().enumerate() {
        if change.from != id || ladder.rung(change.to) <= ladder.rung(id) {
            continue;
        }
        ways += 1;
        if let Some(need) = short_of(change, &now) {
            needs.push((place, need));
        }
    }
    let aboard = on_deck.saturating_add(below);
    let is_stuck = ways > 0 && needs.len() == ways;
    for (place, need) in needs {
        let what = format!("takes {need} people with its set-up, {aboard} are aboard");
        let key = format!("{}.minutes", entry("change", place));
        if is_stuck {
            remarks.fault(
                key,
                what,
                "give minutes for fewer hands, or another way down",
            );
        } else {
            remarks.note(key, what, "these hands go another way, which is shown");
        }
    }
}
