//! `[[plan]]`: the rungs of the ladder, and names that lead to them.

use cringle_core::ladder::{Ladder, Limit, Limits, MAX_PLANS, MAX_SAILS, Plan, PlanId};
use cringle_core::text::{Text, text};
use cringle_core::units::Degrees;

use super::changes;
use super::{NAME, knots};
use crate::document::{Document, Found, Section, nearest, quoted};
use crate::settings::Hulls;

/// The longest short name, in bytes.
const SHORT: usize = 10;

pub(super) fn ladder(root: &Section<'_, '_>, hulls: Hulls) -> Ladder {
    let mut ladder = Ladder::default();
    changes::steps(root, &mut ladder);
    plans(root, hulls, &mut ladder);
    changes::changes(root, &mut ladder);
    if !root.has("plan") {
        root.missing("plan", "[[plan]] for each sail plan, from full to storm");
    }
    if !root.has("change") {
        root.missing("change", "[[change]] for each way from one plan to another");
    }
    ladder
}

/// The tables of an array, at most as many as the core holds.
pub(super) fn limited<'d, 'i>(
    root: &Section<'d, 'i>,
    key: &'static str,
    most: usize,
) -> Vec<Section<'d, 'i>> {
    let mut sections = root.sections(key);
    if let Some(first_over) = sections.get(most) {
        root.document.wrong(
            first_over.at.clone(),
            first_over.path.clone(),
            format!("is number {}", most + 1),
            format!("keep at most {most} of [[{key}]]"),
        );
        sections.truncate(most);
    }
    let mut seen: Vec<String> = Vec::new();
    for section in &sections {
        let Some(found) = section.find("name") else {
            continue;
        };
        let Some(name) = found.value.as_str() else {
            continue;
        };
        if seen.iter().any(|other| other == name) {
            root.document.wrong(
                found.at,
                found.path,
                format!("\"{name}\" is there twice"),
                "give each its own name",
            );
        }
        seen.push(name.to_owned());
    }
    sections
}

fn plans(root: &Section<'_, '_>, hulls: Hulls, ladder: &mut Ladder) {
    let sections = limited(root, "plan", MAX_PLANS);
    shorts_differ(&sections);
    let mut replaced = Vec::new();
    for section in sections {
        let (plan, alternative) = plan(section, hulls);
        replaced.push(alternative);
        let _ = ladder.plans.push(plan);
    }
    for (place, found) in replaced.iter().enumerate() {
        let Some(found) = found else { continue };
        let other = find_plan(root.document, found, ladder);
        let own = PlanId(place as u8);
        let wrong = |what: &str, mend: &str| {
            root.document
                .wrong(found.at.clone(), found.path.clone(), what, mend);
        };
        let Some(other) = other else { continue };
        let is_chain = ladder
            .plan(other)
            .is_some_and(|p| p.alternative_to.is_some());
        if other == own {
            wrong("is the plan itself", "name the other plan of like area");
        } else if other > own || is_chain {
            wrong(
                "is not a plan further up that stands for itself",
                "put the plan that is mostly used first and name that",
            );
        } else if let Some(plan) = ladder.plans.get_mut(place) {
            plan.alternative_to = Some(other);
        }
    }
}

/// Changes may name a plan by its short name, so that must tell it apart.
fn shorts_differ(sections: &[Section<'_, '_>]) {
    let mut seen: Vec<&str> = Vec::new();
    for section in sections {
        let Some(found) = section.find("short") else {
            continue;
        };
        let Some(short) = found.value.as_str() else {
            continue;
        };
        if seen.contains(&short) {
            let what = format!("\"{short}\" is there twice");
            let mend = "give each plan its own short name";
            section.document.wrong(found.at, found.path, what, mend);
        }
        seen.push(short);
    }
}

fn plan<'d, 'i>(section: Section<'d, 'i>, hulls: Hulls) -> (Plan, Option<Found<'d, 'i>>) {
    let name = required_words(&section, "name", NAME, "the crew's own words for it");
    let short = required_words(
        &section,
        "short",
        SHORT,
        "a name of at most 10 letters for the smallest screen",
    );
    let area_m2 = section.number("area_m2", 0.0..=2000.0);
    if area_m2.is_none() && !section.has("area_m2") {
        section.missing("area_m2", "the area of all sails set, in square metres");
    }
    let heel_limit = degrees(&section, "heel_deg", 60.0);
    if let (Hulls::Several, Some(found)) = (hulls, section.find("heel_deg")) {
        section.document.wrong(
            found.at,
            found.path,
            "is given for a boat of several hulls, whose heel says nothing",
            "take it out, and give gust_kn and trim_deg",
        );
    }
    let alternative = section.find("alternative_to");
    let plan = Plan {
        name: text(name),
        short: text(short),
        sails: sails(&section),
        area_m2: area_m2.unwrap_or_default(),
        limits: limits(&section),
        heel_limit,
        trim_limit: degrees(&section, "trim_deg", 30.0),
        alternative_to: None,
    };
    section.finish();
    (plan, alternative)
}

fn degrees(section: &Section<'_, '_>, key: &'static str, most: f64) -> Option<Degrees> {
    let angle = section.number(key, 0.5..=most)?;
    Degrees::new(angle).ok()
}

fn sails(section: &Section<'_, '_>) -> heapless::Vec<Text<24>, MAX_SAILS> {
    let mut sails = heapless::Vec::new();
    for found in section.list("sails") {
        let Some(sail) = section.document.words(&found, 24) else {
            continue;
        };
        if sails.push(text(sail)).is_err() {
            section.document.wrong(
                found.at,
                found.path,
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
fn limits(section: &Section<'_, '_>) -> Limits {
    let all = limit(section);
    let at = |key: &'static str| match section.section(key) {
        Some(point) => {
            let own = limit(&point);
            if own == Limit::default() {
                point.missing("mean_kn", "mean_kn, gust_kn or both");
            }
            point.finish();
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

fn limit(section: &Section<'_, '_>) -> Limit {
    Limit {
        mean: knots(section, "mean_kn"),
        gust: knots(section, "gust_kn"),
    }
}

/// The plan that a value names, by its name or its short name.
pub(super) fn find_plan(
    document: &Document<'_>,
    found: &Found<'_, '_>,
    ladder: &Ladder,
) -> Option<PlanId> {
    let names = ladder.plans.iter().map(|plan| plan.name.as_str());
    let shorts = ladder.plans.iter().map(|plan| plan.short.as_str());
    let both: Vec<&str> = shorts.chain(names).collect();
    let place = find_name(document, found, &both, "plan")?;
    Some(PlanId((place % ladder.plans.len()) as u8))
}

/// The place of a name in a list; an unknown one is named with its nearest.
pub(super) fn find_name(
    document: &Document<'_>,
    found: &Found<'_, '_>,
    names: &[&str],
    thing: &str,
) -> Option<usize> {
    let word = document.words(found, 64)?;
    let place = names.iter().position(|name| *name == word);
    if place.is_none() && !document.is_broken() {
        let mend = match nearest(word, names) {
            Some(like) => format!("did you mean \"{like}\"?"),
            None if names.is_empty() => format!("there is no {thing} in this file: add one"),
            None => format!("there are {}", quoted(names)),
        };
        let what = format!("\"{word}\" is not the name of a {thing}");
        document.wrong(found.at.clone(), found.path.clone(), what, mend);
    }
    place
}

/// Text that must be there.
pub(super) fn required_words<'d>(
    section: &Section<'d, '_>,
    key: &'static str,
    most: usize,
    mend: &str,
) -> &'d str {
    if !section.has(key) {
        section.missing(key, mend);
    }
    section.words(key, most).unwrap_or_default()
}
