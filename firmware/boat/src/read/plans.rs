//! `[[plan]]`, `[[change]]`, `[[setup]]` and `[[rigged]]`: the ladder.

use cringle_core::ladder::{
    Change, Course, HandsMinutes, ItemId, Ladder, Limit, Limits, MAX_CHANGES, MAX_ITEMS, MAX_PLANS,
    MAX_RIGGED, MAX_SAILS, Plan, PlanId, RiggedItem, SetupItem, Standing,
};
use cringle_core::text::{Text, text};
use cringle_core::units::{Degrees, Knots};

use super::{MOST_HANDS, MOST_MINUTES, NAME, knots};
use crate::document::{Document, Found, Section, nearest, quoted};
use crate::settings::Hulls;

/// The longest short name, in bytes.
const SHORT: usize = 10;

pub(super) fn ladder(root: &Section<'_, '_>, hulls: Hulls) -> Ladder {
    let mut ladder = Ladder::default();
    for section in limited(root, "setup", MAX_ITEMS) {
        let _ = ladder.setup.push(setup_item(section));
    }
    for section in limited(root, "rigged", MAX_RIGGED) {
        let _ = ladder.rigged.push(rigged_item(section));
    }
    plans(root, hulls, &mut ladder);
    for section in limited(root, "change", MAX_CHANGES) {
        if let Some(change) = change(section, &ladder) {
            let _ = ladder.changes.push(change);
        }
    }
    if !root.has("plan") {
        root.missing("plan", "[[plan]] for each sail plan, from full to storm");
    }
    if !root.has("change") {
        root.missing("change", "[[change]] for each way from one plan to another");
    }
    ladder
}

/// The tables of an array, at most as many as the core holds.
fn limited<'d, 'i>(root: &Section<'d, 'i>, key: &'static str, most: usize) -> Vec<Section<'d, 'i>> {
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

fn setup_item(section: Section<'_, '_>) -> SetupItem {
    let name = required_words(&section, "name", NAME, "what is made ready");
    let standing = match section.flag("permanent") {
        Some(true) => Standing::Permanent,
        Some(false) | None => Standing::WhenNeeded,
    };
    let work = match standing {
        Standing::Permanent => optional_work(&section),
        Standing::WhenNeeded => required_work(&section),
    };
    let item = SetupItem {
        name: text(name),
        minutes: work.minutes,
        hands: work.hands,
        highest_wind: work.highest_wind,
        standing,
    };
    section.finish();
    item
}

fn rigged_item(section: Section<'_, '_>) -> RiggedItem {
    let name = required_words(&section, "name", NAME, "what has to be taken in");
    let work = required_work(&section);
    let item = RiggedItem {
        name: text(name),
        minutes: work.minutes,
        hands: work.hands,
        highest_wind: work.highest_wind,
    };
    section.finish();
    item
}

/// What a step takes.
#[derive(Default)]
struct Work {
    minutes: f64,
    hands: u8,
    highest_wind: Option<Knots>,
}

fn optional_work(section: &Section<'_, '_>) -> Work {
    Work {
        minutes: section
            .number("minutes", 0.0..=MOST_MINUTES)
            .unwrap_or_default(),
        hands: section.whole("hands", 1..=MOST_HANDS).unwrap_or_default() as u8,
        highest_wind: knots(section, "highest_wind_kn"),
    }
}

fn required_work(section: &Section<'_, '_>) -> Work {
    for (key, mend) in [
        ("minutes", "the minutes it takes"),
        ("hands", "the hands it takes"),
    ] {
        if !section.has(key) {
            section.missing(key, mend);
        }
    }
    optional_work(section)
}

fn change(section: Section<'_, '_>, ladder: &Ladder) -> Option<Change> {
    let ends = ["from", "to"].map(|key| {
        let found = section.find(key);
        if found.is_none() {
            section.missing(key, "a plan's name");
        }
        found.and_then(|found| find_plan(section.document, &found, ladder))
    });
    let minutes = hands_minutes(&section);
    let setup = items(&section, ladder);
    let course = match section.flag("comes_up") {
        Some(false) => Course::Holds,
        Some(true) | None => Course::ComesUp,
    };
    let highest_wind = knots(&section, "highest_wind_kn");
    let round_up = knots(&section, "round_up_kn");
    if let (Course::Holds, Some(found)) = (course, section.find("round_up_kn")) {
        section.document.wrong(
            found.at,
            found.path,
            "is given for a change that needs no coming up",
            "leave it out, or leave out comes_up = false",
        );
    }
    let (from, to) = (ends[0]?, ends[1]?);
    check_ends(&section, ladder, from, to);
    section.finish();
    Some(Change {
        from,
        to,
        minutes,
        setup,
        highest_wind,
        course,
        round_up,
    })
}

fn check_ends(section: &Section<'_, '_>, ladder: &Ladder, from: PlanId, to: PlanId) {
    let wrong = |what: &str, mend: &str| {
        let at = section.at.clone();
        section.document.wrong(at, section.path.clone(), what, mend);
    };
    if from == to {
        wrong("leads from a plan to itself", "name two plans");
    } else if ladder.change(from, to).is_some() {
        wrong(
            "is there twice: another change joins the same two plans",
            "keep one; more hands go into the same `minutes`",
        );
    }
}

/// `minutes = { 2 = 8, 3 = 5 }`: minutes by hands.
fn hands_minutes(section: &Section<'_, '_>) -> heapless::Vec<HandsMinutes, 4> {
    let mut minutes: heapless::Vec<HandsMinutes, 4> = heapless::Vec::new();
    let like = "minutes by hands, such as minutes = { 2 = 8, 3 = 5 }";
    let Some(found) = section.find("minutes") else {
        section.missing("minutes", like);
        return minutes;
    };
    let document = section.document;
    let (at, path) = (found.at.clone(), found.path.clone());
    let Some(table) = document.section(found, like) else {
        return minutes;
    };
    for (key, entry) in table.entries() {
        let hands = key.parse::<u8>().ok();
        let hands = hands.filter(|hands| (1..=MOST_HANDS as u8).contains(hands));
        let booked = document.number(&entry, 0.1..=MOST_MINUTES);
        let Some(hands) = hands else {
            let what = format!("\"{key}\" is not a number of hands");
            document.wrong(entry.at, entry.path, what, format!("give {like}"));
            continue;
        };
        let minutes_entry = HandsMinutes {
            hands,
            minutes: booked.unwrap_or_default(),
        };
        if minutes.push(minutes_entry).is_err() {
            document.wrong(
                at,
                path,
                "has more than 4 entries",
                "keep the 4 that matter",
            );
            break;
        }
    }
    if table.entries().is_empty() {
        let at = table.at.clone();
        document.wrong(at, table.path.clone(), "is empty", format!("give {like}"));
    }
    minutes.sort_unstable_by_key(|entry| entry.hands);
    minutes
}

fn items(section: &Section<'_, '_>, ladder: &Ladder) -> heapless::Vec<ItemId, 6> {
    let names: Vec<&str> = ladder.setup.iter().map(|item| item.name.as_str()).collect();
    let mut items = heapless::Vec::new();
    for found in section.list("setup") {
        let Some(id) = find_name(section.document, &found, &names, "[[setup]] item") else {
            continue;
        };
        if items.push(ItemId(id as u8)).is_err() {
            section.document.wrong(
                found.at,
                found.path,
                "is number 7",
                "name at most 6 set-up items for a change",
            );
            break;
        }
    }
    items
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
fn find_name(
    document: &Document<'_>,
    found: &Found<'_, '_>,
    names: &[&str],
    thing: &str,
) -> Option<usize> {
    let word = document.words(found, 64)?;
    let place = names.iter().position(|name| *name == word);
    if place.is_none() {
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

fn required_words<'d>(
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
