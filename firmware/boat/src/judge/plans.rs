//! Plans: do limits rise as sail goes down, and is there a way down?

use cringle_core::act::PointOfSail;
use cringle_core::ladder::{Ladder, Limit, Plan, PlanId};

use super::{Remarks, entry};
use crate::settings::Hulls;

/// Alternatives should not differ in area by more than this share.
const ALIKE: f64 = 0.3;
/// A gust limit above the mean limit by more than this is never met first.
const WIDEST_GUST: f64 = 1.8;

/// Under the least wind of Beaufort force 2 (4 kn) nobody reefs.
const LEAST_LIMIT_KN: f64 = 4.0;

/// Points of sail with their keys.
const POINTS: [(PointOfSail, &str); 3] = [
    (PointOfSail::CloseHauled, "close_hauled"),
    (PointOfSail::Reaching, "reaching"),
    (PointOfSail::Running, "running"),
];

pub(super) fn judge(remarks: &mut Remarks<'_>) {
    let file = remarks.file;
    let ladder = &file.boat.ladder;
    let last_rung = ladder.plans.len().checked_sub(1);
    let last_rung = last_rung.map(|last| ladder.rung(PlanId(last as u8)));
    for (place, plan) in ladder.plans.iter().enumerate() {
        let id = PlanId(place as u8);
        let is_last = Some(ladder.rung(id)) == last_rung;
        limits_of(remarks, place, plan, is_last);
        if let Some((above, wider)) = rung_above(ladder, id) {
            compare(remarks, place, plan, above, wider);
        }
        if let Some(other) = plan.alternative_to.and_then(|other| ladder.plan(other)) {
            alternative(remarks, place, plan, other);
        }
        ways(remarks, ladder, id, is_last);
    }
}

/// The nearest plan on the rung above.
fn rung_above(ladder: &Ladder, id: PlanId) -> Option<(PlanId, &Plan)> {
    let own = ladder.rung(id);
    let above = (0..own.0).rev().map(PlanId);
    let above = above.filter(|other| ladder.rung(*other) < own);
    above
        .map(|other| (other, ladder.plan(other)))
        .find_map(|(other, plan)| {
            // The plan that its rung is named after speaks for it.
            let rung = ladder.rung(other);
            plan.and(ladder.plan(rung)).map(|plan| (rung, plan))
        })
}

fn limits_of(remarks: &mut Remarks<'_>, place: usize, plan: &Plan, is_last: bool) {
    for (point, key) in POINTS {
        let limit = plan.limits.at(point);
        let path = format!("{}.{key}", entry("plan", place));
        match (limit.mean, limit.gust) {
            (None, None) if !is_last => remarks.fault(
                path,
                format!(
                    "\"{}\" has no limit here, so nothing is called for",
                    plan.name
                ),
                "give mean_kn, gust_kn or both; only the last plan does without",
            ),
            (Some(limit), _) | (_, Some(limit)) if limit.get() < LEAST_LIMIT_KN => remarks.fault(
                path,
                format!("a limit of {limit} is passed in any wind"),
                "give the wind in knots at which she should be reefed, or leave it out",
            ),
            (Some(mean), Some(gust)) if gust <= mean => remarks.fault(
                path,
                format!("the gust limit {gust} is not above the mean limit {mean}"),
                "give the greatest 3-second gust that she stands",
            ),
            (Some(mean), Some(gust)) if gust.get() > mean.get() * WIDEST_GUST => remarks.note(
                path,
                format!("the gust limit {gust} is far above the mean limit {mean}"),
                "gusts at sea are mostly 1.2 to 1.5 times the mean: lower it or leave it out",
            ),
            _ => {}
        }
        if remarks.file.hulls == Hulls::Several && limit.mean.is_some() && limit.gust.is_none() {
            remarks.fault(
                format!("{}.{key}", entry("plan", place)),
                format!("\"{}\" has no gust limit", plan.name),
                "give gust_kn: a boat of several hulls is overpowered by gusts, unseen by heel",
            );
        }
    }
    let wants_heel = remarks.file.hulls == Hulls::One && !is_last;
    if wants_heel && plan.heel_limit.is_none() {
        remarks.note(
            format!("{}.heel_deg", entry("plan", place)),
            format!(
                "\"{}\" has no heel limit, so only wind is judged",
                plan.name
            ),
            "give heel_deg, the steady heel beyond which she sails worse",
        );
    }
}

fn compare(remarks: &mut Remarks<'_>, place: usize, plan: &Plan, above_id: PlanId, above: &Plan) {
    if plan.area_m2 >= above.area_m2 {
        remarks.fault(
            format!("{}.area_m2", entry("plan", place)),
            format!(
                "{} m2 is not less than the {} m2 of \"{}\" above it",
                plan.area_m2, above.area_m2, above.name
            ),
            "put the plans in order from most sail to least",
        );
    }
    for (point, key) in POINTS {
        let lower = plan.limits.at(point);
        let upper = above.limits.at(point);
        if let Some(what) = not_rising(upper, lower) {
            remarks.fault(
                format!("{}.{key}", entry("plan", place)),
                format!("{what} of \"{}\" (plan {})", above.name, above_id.0 + 1),
                "less sail must stand more wind: raise this limit or lower the other",
            );
        }
    }
}

fn not_rising(upper: &Limit, lower: &Limit) -> Option<String> {
    for (kind, above, below) in [
        ("mean", upper.mean, lower.mean),
        ("gust", upper.gust, lower.gust),
    ] {
        if let (Some(above), Some(below)) = (above, below)
            && below <= above
        {
            return Some(format!("the {kind} limit {below} is not above the {above}"));
        }
    }
    None
}

fn alternative(remarks: &mut Remarks<'_>, place: usize, plan: &Plan, other: &Plan) {
    let larger = plan.area_m2.max(other.area_m2);
    let apart = (plan.area_m2 - other.area_m2).abs();
    if apart > larger * ALIKE {
        remarks.note(
            format!("{}.alternative_to", entry("plan", place)),
            format!(
                "{} m2 and the {} m2 of \"{}\" are not of like area",
                plan.area_m2, other.area_m2, other.name
            ),
            "make it a rung of its own",
        );
    }
}

fn ways(remarks: &mut Remarks<'_>, ladder: &Ladder, id: PlanId, is_last: bool) {
    let Some(plan) = ladder.plan(id) else { return };
    let place = id.0 as usize;
    let rung = ladder.rung(id);
    let leads_down = ladder.reductions(id).any(|c| ladder.rung(c.to) > rung);
    if !is_last && !leads_down {
        remarks.fault(
            entry("plan", place),
            format!("no change leads down from \"{}\"", plan.name),
            "add a [[change]] from it to a plan with less sail",
        );
    }
    if !is_reached(ladder, id) {
        remarks.fault(
            entry("plan", place),
            format!("no reductions lead from full sail to \"{}\"", plan.name),
            "add a [[change]] that leads to it from a plan with more sail",
        );
    }
    if id != PlanId(0) && ladder.increases(id).next().is_none() {
        remarks.note(
            entry("plan", place),
            format!("no change leads up from \"{}\"", plan.name),
            "add a [[change]] for shaking out, or it is never offered",
        );
    }
}

/// Whether reductions lead from full sail to a plan. One that leads to it
/// from a reached plan does, and plans stand in order, so one pass is enough.
fn is_reached(ladder: &Ladder, id: PlanId) -> bool {
    let mut reached = vec![PlanId(0)];
    for place in 0..ladder.plans.len() {
        let from = PlanId(place as u8);
        if reached.contains(&from) {
            reached.extend(ladder.reductions(from).map(|change| change.to));
        }
    }
    reached.contains(&id)
}
