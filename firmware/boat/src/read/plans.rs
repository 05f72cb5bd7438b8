//! `[[plan]]`: the rungs of the ladder, and names that lead to them.

use cringle_core::ladder::{Ladder, Limit, Limits, MAX_PLANS, MAX_SAILS, Plan, PlanId};
use cringle_core::text::{Text, text};
use cringle_core::units::Degrees;

use super::changes;
use super::{NAME, knots};
use crate::settings::Hulls;
use crate::toml_file::{Entry, Section, nearest, quoted};

/// The longest short name, in bytes.
const SHORT: usize = 10;

pub(super) fn ladder(root: &Section<'_>, hulls: Hulls) -> Ladder {
    let mut ladder = Ladder::default();
    changes::steps(root, &mut ladder);
    plans(root, hulls, &mut ladder);
    changes::changes(root, &mut ladder);
    changes::at_once(root, &mut ladder);
    root.must_have("plan", "[[plan]] for each sail plan, from full to storm");
    root.must_have("change", "[[change]] for each way from one plan to another");
    ladder
}

/// The tables of an array, at most as many as the core holds.
pub(super) fn limited<'d>(root: &Section<'d>, key: &'static str, most: usize) -> Vec<Section<'d>> {
    let mut sections = root.sections(key);
    if let Some(first_over) = sections.get(most) {
        first_over.wrong(
            format!("is number {}", most + 1),
            format!("keep at most {most} of [[{key}]]"),
        );
        sections.drain(most..).for_each(|it| it.allow_other_keys());
    }
    all_differ(&sections, "name", "give each its own name");
    sections
}

fn plans(root: &Section<'_>, hulls: Hulls, ladder: &mut Ladder) {
    let sections = limited(root, "plan", MAX_PLANS);
    // Changes may name a plan by its short name, so that must tell it apart.
    all_differ(&sections, "short", "give each plan its own short name");
    let mut replaced = Vec::new();
    for section in sections {
        let (plan, alternative) = plan(section, hulls);
        replaced.push(alternative);
        let _ = ladder.plans.push(plan);
    }
    for (place, found) in replaced.iter().enumerate() {
        let Some(found) = found else { continue };
        let other = find_plan(found, ladder);
        let own = PlanId(place as u8);
        let Some(other) = other else { continue };
        let is_chain = ladder
            .plan(other)
            .is_some_and(|p| p.alternative_to.is_some());
        if other == own {
            found.wrong("is the plan itself", "name the other plan of like area");
        } else if other > own || is_chain {
            found.wrong(
                "is not a plan further up that stands for itself",
                "put the plan that is mostly used first and name that",
            );
        } else if let Some(plan) = ladder.plans.get_mut(place) {
            plan.alternative_to = Some(other);
        }
    }
}

/// No two tables may have the same text under this key.
fn all_differ(sections: &[Section<'_>], key: &'static str, mend: &str) {
    let mut seen = Vec::new();
    for found in sections.iter().filter_map(|section| section.find(key)) {
        found.must_differ(&mut seen, mend);
    }
}

fn plan<'d>(section: Section<'d>, hulls: Hulls) -> (Plan, Option<Entry<'d>>) {
    let name = section.required_words("name", NAME, "the crew's own words for it");
    let short = section.required_words(
        "short",
        SHORT,
        "a name of at most 10 letters for the smallest screen",
    );
    let area_m2 = section.number("area_m2", 0.0..=2000.0);
    section.must_have("area_m2", "the area of all sails set, in square metres");
    let heel_limit = degrees(&section, "heel_deg", 60.0);
    if let (Hulls::Several, Some(found)) = (hulls, section.find("heel_deg")) {
        found.wrong(
            "is given for a boat of several hulls, whose heel says nothing",
            "take it out, and give gust_kn and trim_deg",
        );
    }
    let alternative = section.find("alternative_to");
    let plan = Plan {
        name: text(name.unwrap_or_default()),
        short: text(short.unwrap_or_default()),
        sails: sails(&section),
        area_m2: area_m2.unwrap_or_default(),
        limits: limits(&section),
        heel_limit,
        trim_limit: degrees(&section, "trim_deg", 30.0),
        alternative_to: None,
    };
    (plan, alternative)
}

fn degrees(section: &Section<'_>, key: &'static str, most: f64) -> Option<Degrees> {
    let angle = section.number(key, 0.5..=most)?;
    Degrees::new(angle).ok()
}

fn sails(section: &Section<'_>) -> heapless::Vec<Text<24>, MAX_SAILS> {
    let mut sails = heapless::Vec::new();
    for found in section.list("sails") {
        let Some(sail) = found.words(24) else {
            continue;
        };
        if sails.push(text(sail)).is_err() {
            found.wrong(
                format!("is number {}", MAX_SAILS + 1),
                format!("name at most {MAX_SAILS} sails"),
            );
            break;
        }
    }
    sails
}

/// `mean_kn` and `gust_kn` for all points of sail, and a table for each point
/// of sail that differs.
fn limits(section: &Section<'_>) -> Limits {
    let all = limit(section);
    let at = |key: &'static str| match section.section(key) {
        Some(point) => {
            let own = limit(&point);
            if own == Limit::default() {
                point.missing("mean_kn", "mean_kn, gust_kn or both");
            }
            own
        }
        None => all,
    };
    Limits {
        close_hauled: at("close_hauled"),
        reaching: at("reaching"),
        running: at("running"),
    }
}

fn limit(section: &Section<'_>) -> Limit {
    Limit {
        mean: knots(section, "mean_kn"),
        gust: knots(section, "gust_kn"),
    }
}

/// The plan that a value names, by its name or its short name.
pub(super) fn find_plan(found: &Entry<'_>, ladder: &Ladder) -> Option<PlanId> {
    let names = ladder.plans.iter().map(|plan| plan.name.as_str());
    let shorts = ladder.plans.iter().map(|plan| plan.short.as_str());
    let both: Vec<&str> = shorts.chain(names).collect();
    let place = find_name(found, &both, "plan")?;
    Some(PlanId((place % ladder.plans.len()) as u8))
}

/// The place of a name in a list; an unknown one is named with its nearest.
pub(super) fn find_name(found: &Entry<'_>, names: &[&str], thing: &str) -> Option<usize> {
    let word = found.words(64)?;
    let place = names.iter().position(|name| *name == word);
    if place.is_none() && !found.is_in_broken_file() {
        let mend = match nearest(word, names) {
            Some(like) => format!("did you mean \"{like}\"?"),
            None if names.is_empty() => format!("there is no {thing} in this file: add one"),
            None => format!("there are {}", quoted(names)),
        };
        let what = format!("\"{word}\" is not the name of a {thing}");
        found.wrong(what, mend);
    }
    place
}
