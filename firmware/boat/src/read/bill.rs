//! `[watch_bill]`: roles, and the turns in which they go on deck.

use cringle_core::bill::{DeckTurn, MAX_ROLES, MAX_TURNS, Refused, Role, WatchBill};
use cringle_core::text::text;

use crate::toml_file::{Entry, Section};

/// The longest name of a role, in bytes.
const ROLE_NAME: usize = 16;
/// The most people in one role.
const MOST_HANDS: u32 = 30;
/// Minutes for which both watches are up at a change. Common practice, no
/// source.
const OVERLAP_MIN: u8 = 15;
/// The usual systems: how many roles, and the minutes of each turn, in which
/// the roles go on deck one after the other. Common practice, no source.
const SYSTEMS: [(&str, System); 4] = [
    ("four-on-four-off", System(2, &[240, 240])),
    ("three-threes", System(3, &[180, 180, 180])),
    ("two-handed", System(2, &[180, 180])),
    // Five turns a day, from 08:00, so that the hours swap from day to day.
    (
        "swedish",
        System(2, &[300, 360, 300, 240, 240, 300, 360, 300, 240, 240]),
    ),
];

/// Roles, and minutes of the turns.
#[derive(Clone, Copy)]
struct System(usize, &'static [u16]);

/// The watch bill, if there is one.
pub(super) fn bill(root: &Section<'_>) -> Option<WatchBill> {
    let section = root.section("watch_bill")?;
    let roles = roles(&section);
    let begins = section.find("begins").and_then(|found| found.unix_s());
    let overlap = section.whole("overlap_minutes", 0..=60);
    let overlap = overlap.map_or(OVERLAP_MIN, |minutes| minutes as u8);
    let system = section.choice("system", &SYSTEMS);
    let own = section.sections("turn");
    let turns = match (system, own.as_slice()) {
        (Some(system), []) => by_system(&section, system, roles.len()),
        (None, []) => {
            let mend = "system = \"two-handed\", or [[watch_bill.turn]] for each turn";
            if !section.has("system") {
                section.missing("system", mend);
            }
            return None;
        }
        (_, own) => {
            if section.has("system") {
                section.wrong_at("system", "stands beside turns", "give one of the two");
            }
            own.iter().map(|turn| by_hand(turn, &roles)).collect()
        }
    }?;
    WatchBill::new(&roles, &turns, begins, overlap)
        .map_err(|refused| complain(refused, &section, &own))
        .ok()
}

fn roles(section: &Section<'_>) -> Vec<Role> {
    let mut seen = Vec::new();
    let mut roles = Vec::new();
    for each in section.sections("role") {
        if let Some(found) = each.find("name") {
            found.must_differ(&mut seen, "give each role a name of its own");
        }
        let name = each.words("name", ROLE_NAME);
        each.must_have("name", "what the crew calls it, such as name = \"port\"");
        let hands = each.whole("hands", 1..=MOST_HANDS);
        each.must_have("hands", "how many people are in it");
        roles.push(Role {
            name: text(name.unwrap_or_default()),
            hands: hands.unwrap_or(1) as u8,
        });
    }
    roles
}

fn by_system(section: &Section<'_>, system: System, roles: usize) -> Option<Vec<DeckTurn>> {
    let System(wanted, minutes) = system;
    if roles != wanted {
        section.wrong_at(
            "role",
            format!("is there {roles} times"),
            format!("this system takes {wanted} roles: [[watch_bill.role]] for each"),
        );
        return None;
    }
    let turns = minutes.iter().enumerate();
    let turns = turns.map(|(place, minutes)| DeckTurn {
        minutes: *minutes,
        on_deck: 1 << (place % wanted),
    });
    Some(turns.collect())
}

fn by_hand(turn: &Section<'_>, roles: &[Role]) -> Option<DeckTurn> {
    let hours = turn.number("hours", 0.5..=12.0);
    turn.must_have("hours", "how long it lasts, such as hours = 4");
    turn.must_have("on_deck", "who is on deck, such as on_deck = [\"port\"]");
    let mut on_deck = 0;
    for named in turn.list("on_deck") {
        on_deck |= bit(&named, roles).unwrap_or(0);
    }
    Some(DeckTurn {
        minutes: (hours? * 60.0).round() as u16,
        on_deck,
    })
}

fn bit(named: &Entry<'_>, roles: &[Role]) -> Option<u8> {
    let name = named.words(ROLE_NAME)?;
    let place = roles.iter().position(|role| role.name.as_str() == name);
    if place.is_none() {
        named.wrong(
            format!("is \"{name}\", which is no role"),
            "name a [[watch_bill.role]]",
        );
    }
    1_u8.checked_shl(place? as u32)
}

fn complain(refused: Refused, section: &Section<'_>, own: &[Section<'_>]) {
    match refused {
        Refused::Roles => section.wrong_at(
            "role",
            "is not there, or too often",
            format!("add 1 to {MAX_ROLES} tables [[watch_bill.role]]"),
        ),
        Refused::Turns => section.wrong_at(
            "turn",
            "is there too often",
            format!("leave out turns: at most {MAX_TURNS}"),
        ),
        Refused::Nobody(place) | Refused::Length(place) => {
            if let Some(turn) = own.get(place) {
                turn.wrong("has nobody on deck", "name a role in on_deck");
            }
        }
    }
}
