//! The one line that says why: the same sum as the figure, in words.

use super::standing::Standing;
use super::threat::{Against, Reached, Threat};
use crate::event::Call;
use crate::ladder::PlanId;
use crate::text::{Text, format, text};
use crate::time::Timestamp;

/// A line.
pub type Sentence = Text<96>;

/// The sentence of a standing call; empty where none stands. `short` names a
/// plan.
pub fn sentence<'a>(
    standing: &Standing,
    short: impl Fn(PlanId) -> &'a str,
    now: Timestamp,
) -> Sentence {
    let Some(lead) = standing.lead() else {
        return match standing.call().is_threat() {
            true => text("called before the restart"),
            false => Text::new(),
        };
    };
    let sum = match standing.call() {
        Call::None | Call::Blind => return Text::new(),
        Call::Prepare => in_hand(standing, lead, &short),
        Call::Reduce => at_once(standing, lead, &short),
        Call::Past => past(standing, lead, now),
    };
    let target = standing.target();
    match (target.instead_of(), target.plan(), standing.at_once()) {
        // A new order is told before all else.
        (Some(before), Some(plan), _) => format(format_args!(
            "not {}: {}. {sum}",
            short(before),
            short(plan)
        )),
        (_, _, Some(at_once)) => {
            format(format_args!("{}{}. {sum}", lead_in(standing), at_once.name))
        }
        _ => sum,
    }
}

/// Before what can be done at once.
fn lead_in(standing: &Standing) -> &'static str {
    match standing.call() {
        Call::Prepare => "then: ",
        _ => "at once: ",
    }
}

/// What the minutes of the sum are for.
fn takes(standing: &Standing) -> &'static str {
    match standing.target().plan() {
        Some(_) => "change",
        None => "it takes",
    }
}

/// Minutes of a sum that are told together: what is left is rounded down, the
/// change to the nearest, and soonest is what they come to.
pub fn told_min(soonest_s: f64, change_s: f64) -> (u32, u32, u32) {
    let left = ((soonest_s - change_s).max(0.0) / 60.0) as u32;
    let change = (change_s / 60.0 + 0.5) as u32;
    (left + change, change, left)
}

fn in_hand<'a>(standing: &Standing, lead: &Threat, short: &impl Fn(PlanId) -> &'a str) -> Sentence {
    let sums = standing.sums();
    let what = what(lead, short);
    let Some(soonest_s) = standing.soonest_s() else {
        return what;
    };
    let (soonest, change, left) = told_min(soonest_s, sums.change_s);
    let takes = takes(standing);
    let work = libm::ceil(sums.work_s / 60.0);
    let when = match lead.against {
        Against::Squall => "in",
        _ => "not before",
    };
    let sum: Sentence = format(format_args!(
        "{what} {when} {soonest} min: {takes} {change}, {left} in hand"
    ));
    // Where nothing is left to take in there is no more work than that.
    match standing.target().plan() {
        Some(_) => format(format_args!("{sum}; work {work:.0}")),
        None => sum,
    }
}

fn at_once<'a>(standing: &Standing, lead: &Threat, short: &impl Fn(PlanId) -> &'a str) -> Sentence {
    let what = what(lead, short);
    let change = (standing.sums().change_s / 60.0 + 0.5) as u32;
    let soonest = (standing.soonest_s().unwrap_or(0.0) / 60.0) as u32;
    let takes = takes(standing);
    if lead.against == Against::Squall {
        return match soonest {
            0 => format(format_args!("{what} due: {takes} {change} min")),
            _ => format(format_args!("{what} in {soonest} min: {takes} {change}")),
        };
    }
    if lead.reached != Reached::Under || lead.level >= lead.limit {
        return format(format_args!("{what}, reached: {takes} {change} min"));
    }
    format(format_args!(
        "{what}, may be passed in {soonest} min: {takes} {change}"
    ))
}

fn past(standing: &Standing, lead: &Threat, now: Timestamp) -> Sentence {
    let passed_at = standing.passed_at().unwrap_or(standing.since());
    let minutes = (now.secs_since(passed_at) / 60.0) as u32;
    let (level, limit) = (lead.level, lead.limit);
    let (name, unit) = unit(lead.against);
    if level >= limit {
        format(format_args!(
            "{name} {level:.1} {unit}, over the limit of {limit:.1} for {minutes} min"
        ))
    } else {
        format(format_args!(
            "limit of {limit:.1} {unit} passed {minutes} min ago, {name} now {level:.1}"
        ))
    }
}

fn what<'a>(lead: &Threat, short: &impl Fn(PlanId) -> &'a str) -> Sentence {
    let (level, limit) = (lead.level, lead.limit);
    let (name, unit) = unit(lead.against);
    match lead.against {
        Against::Squall if level > 0.0 => format(format_args!("squall of {level:.0} kn")),
        Against::Squall => text("squall"),
        Against::Forecast => format(format_args!(
            "forecast: wind now {level:.1}, limit {limit:.1} kn"
        )),
        Against::Door(plan) => format(format_args!(
            "wind {level:.1}, {} only under {limit:.0} kn",
            short(plan)
        )),
        _ => format(format_args!("{name} {level:.1}, limit {limit:.1} {unit}")),
    }
}

const fn unit(against: Against) -> (&'static str, &'static str) {
    match against {
        Against::Gust => ("gusts", "kn"),
        Against::Heel => ("heel", "deg"),
        Against::Trim => ("bow-down trim", "deg"),
        _ => ("wind", "kn"),
    }
}
