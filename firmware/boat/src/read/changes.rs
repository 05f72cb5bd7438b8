//! `[[setup]]`, `[[rigged]]`, `[[change]]`: the work between the rungs; and
//! `[[at_once]]`: what there is to do where none of it fits any more.

use cringle_core::act::PointOfSail;
use cringle_core::ladder::{
    AT_ONCE_NAME, AtOnce, Change, Course, HandsMinutes, ItemId, Ladder, MAX_AT_ONCE, MAX_CHANGES,
    MAX_ITEMS, MAX_PLANS, MAX_RIGGED, PlanId, RiggedItem, SetupItem, Standing,
};
use cringle_core::text::text;
use cringle_core::units::Knots;

use super::plans::{find_name, find_plan, limited};
use super::{MOST_HANDS, MOST_MINUTES, NAME, knots};
use crate::toml_file::Section;

/// What comes before changes: read first, since changes name it.
pub(super) fn steps(root: &Section<'_>, ladder: &mut Ladder) {
    for section in limited(root, "setup", MAX_ITEMS) {
        let _ = ladder.setup.push(setup_item(section));
    }
    for section in limited(root, "rigged", MAX_RIGGED) {
        let _ = ladder.rigged.push(rigged_item(section));
    }
}

/// The changes: read last, since they name plans and set-up.
pub(super) fn changes(root: &Section<'_>, ladder: &mut Ladder) {
    for section in limited(root, "change", MAX_CHANGES) {
        if let Some(change) = change(section, ladder) {
            let _ = ladder.changes.push(change);
        }
    }
}

/// What can be done at once: read last, since it names plans.
pub(super) fn at_once(root: &Section<'_>, ladder: &mut Ladder) {
    for section in limited(root, "at_once", MAX_AT_ONCE) {
        let name = section.required_words("name", AT_ONCE_NAME, "what unloads her");
        must_have_work(&section);
        let (minutes, hands) = minutes_and_hands(&section);
        let plans = section.list("plans");
        let plans = plans.iter().filter_map(|found| find_plan(found, ladder));
        let at_once = AtOnce {
            name: text(name.unwrap_or_default()),
            minutes,
            hands,
            points: points(&section),
            plans: plans.take(MAX_PLANS).collect(),
        };
        let _ = ladder.at_once.push(at_once);
    }
}

fn points(section: &Section<'_>) -> heapless::Vec<PointOfSail, 3, u8> {
    let words = [
        ("close_hauled", PointOfSail::CloseHauled),
        ("reaching", PointOfSail::Reaching),
        ("running", PointOfSail::Running),
    ];
    let list = section.list("points");
    list.iter()
        .filter_map(|it| it.choice(&words))
        .take(3)
        .collect()
}

fn setup_item(section: Section<'_>) -> SetupItem {
    let name = section.required_words("name", NAME, "what is made ready");
    let standing = match section.flag("permanent") {
        Some(true) => Standing::Permanent,
        Some(false) | None => Standing::WhenNeeded,
    };
    let work = match standing {
        Standing::Permanent => optional_work(&section),
        Standing::WhenNeeded => required_work(&section),
    };
    SetupItem {
        name: text(name.unwrap_or_default()),
        minutes: work.minutes,
        hands: work.hands,
        highest_wind: work.highest_wind,
        standing,
    }
}

fn rigged_item(section: Section<'_>) -> RiggedItem {
    let name = section.required_words("name", NAME, "what has to be taken in");
    let work = required_work(&section);
    RiggedItem {
        name: text(name.unwrap_or_default()),
        minutes: work.minutes,
        hands: work.hands,
        highest_wind: work.highest_wind,
    }
}

/// What a step takes.
#[derive(Default)]
struct Work {
    minutes: f64,
    hands: u8,
    highest_wind: Option<Knots>,
}

fn optional_work(section: &Section<'_>) -> Work {
    let (minutes, hands) = minutes_and_hands(section);
    Work {
        minutes,
        hands,
        highest_wind: knots(section, "highest_wind_kn"),
    }
}

fn minutes_and_hands(section: &Section<'_>) -> (f64, u8) {
    let minutes = section.number("minutes", 0.0..=MOST_MINUTES);
    let hands = section.whole("hands", 1..=MOST_HANDS);
    (minutes.unwrap_or_default(), hands.unwrap_or_default() as u8)
}

fn must_have_work(section: &Section<'_>) {
    for (key, mend) in [
        ("minutes", "the minutes it takes"),
        ("hands", "the hands it takes"),
    ] {
        section.must_have(key, mend);
    }
}

fn required_work(section: &Section<'_>) -> Work {
    must_have_work(section);
    optional_work(section)
}

fn change(section: Section<'_>, ladder: &Ladder) -> Option<Change> {
    let ends = ["from", "to"].map(|key| {
        let found = section.find(key);
        section.must_have(key, "a plan's name");
        found.and_then(|found| find_plan(&found, ladder))
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
        found.wrong(
            "is given for a change that needs no coming up",
            "leave it out, or leave out comes_up = false",
        );
    }
    let (from, to) = (ends[0]?, ends[1]?);
    check_ends(&section, ladder, from, to);
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

fn check_ends(section: &Section<'_>, ladder: &Ladder, from: PlanId, to: PlanId) {
    if from == to {
        section.wrong("leads from a plan to itself", "name two plans");
    } else if ladder.change(from, to).is_some() {
        section.wrong(
            "is there twice: another change joins the same two plans",
            "keep one; more hands go into the same `minutes`",
        );
    }
}

/// `minutes = { 2 = 8, 3 = 5 }`: minutes by hands.
fn hands_minutes(section: &Section<'_>) -> heapless::Vec<HandsMinutes, 4> {
    let mut minutes: heapless::Vec<HandsMinutes, 4> = heapless::Vec::new();
    let like = "minutes by hands, such as minutes = { 2 = 8, 3 = 5 }";
    let Some(found) = section.find("minutes") else {
        section.missing("minutes", like);
        return minutes;
    };
    let Some(table) = found.section(like) else {
        return minutes;
    };
    let entries = table.entries();
    if entries.is_empty() {
        table.wrong("is empty", format!("give {like}"));
    }
    for (key, entry) in entries {
        let hands = key.parse::<u8>().ok();
        let hands = hands.filter(|hands| (1..=MOST_HANDS as u8).contains(hands));
        let booked = entry.number(0.1..=MOST_MINUTES);
        let Some(hands) = hands else {
            let what = format!("\"{key}\" is not a number of hands");
            entry.wrong(what, format!("give {like}"));
            continue;
        };
        let minutes_entry = HandsMinutes {
            hands,
            minutes: booked.unwrap_or_default(),
        };
        if minutes.push(minutes_entry).is_err() {
            table.wrong("has more than 4 entries", "keep the 4 that matter");
            break;
        }
    }
    minutes.sort_unstable_by_key(|entry| entry.hands);
    minutes
}

fn items(section: &Section<'_>, ladder: &Ladder) -> heapless::Vec<ItemId, 6> {
    let names: Vec<&str> = ladder.setup.iter().map(|item| item.name.as_str()).collect();
    let mut items = heapless::Vec::new();
    for found in section.list("setup") {
        let Some(id) = find_name(&found, &names, "[[setup]] item") else {
            continue;
        };
        if items.push(ItemId(id as u8)).is_err() {
            found.wrong("is number 7", "name at most 6 set-up items for a change");
            break;
        }
    }
    items
}
