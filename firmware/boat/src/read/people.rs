//! `[crew]`, `[calling]` and `[start]`.

use cringle_core::act::{Doing, Hands, Helm};
use cringle_core::boat::{Calling, Crew, Start};
use cringle_core::instruments::Confirmation;
use cringle_core::ladder::{Ladder, PlanId};

use super::plans::find_plan;
use super::{MOST_HANDS, MOST_KN, MOST_MINUTES};
use crate::toml_file::Section;

/// Words for what the boat may be doing.
const DOINGS: [(&str, Doing); 6] = [
    ("sailing", Doing::Sailing),
    ("motor-sailing", Doing::MotorSailing),
    ("motoring", Doing::Motoring),
    ("hove-to", Doing::HoveTo),
    ("anchored", Doing::Anchored),
    ("moored", Doing::Moored),
];

pub(super) fn crew(root: &Section<'_>) -> Crew {
    let mut crew = Crew::default();
    let Some(section) = root.section("crew") else {
        return crew;
    };
    let minutes = 0.0..=MOST_MINUTES;
    let factor = 1.0..=10.0;
    let keep = |value: Option<f64>, place: &mut f64| *place = value.unwrap_or(*place);
    keep(
        section.number("muster_minutes", minutes.clone()),
        &mut crew.muster_minutes,
    );
    keep(
        section.number("ready_minutes", minutes),
        &mut crew.ready_minutes,
    );
    keep(
        section.number("night_factor", factor.clone()),
        &mut crew.night_factor,
    );
    keep(
        section.number("worn_factor", factor.clone()),
        &mut crew.worn_factor,
    );
    keep(section.number("spread", 0.0..=2.0), &mut crew.spread);
    sea_factors(&section, &mut crew.sea_factors);
    crew.pilot_limit_kn = section.number("pilot_limit_kn", 0.0..=MOST_KN);
    crew
}

fn sea_factors(section: &Section<'_>, factors: &mut [f64; 5]) {
    let Some(found) = section.find("sea_factors") else {
        return;
    };
    let Some(entries) = found.list() else {
        return;
    };
    if entries.len() != factors.len() {
        found.wrong(
            format!("has {} numbers", entries.len()),
            "give five: smooth, slight, moderate, rough, very rough",
        );
        return;
    }
    let mut least = 1.0;
    for (entry, place) in entries.iter().zip(factors.iter_mut()) {
        let Some(factor) = entry.number(1.0..=10.0) else {
            continue;
        };
        if factor < least {
            entry.wrong(
                format!("is {factor}, less than {least} for a lesser sea"),
                "let the factors rise with the sea",
            );
        }
        least = factor.max(least);
        *place = factor;
    }
}

pub(super) fn calling(root: &Section<'_>) -> Calling {
    let mut calling = Calling::default();
    let Some(section) = root.section("calling") else {
        return calling;
    };
    if let Some(odds) = section.number("sooner_later", 0.005..=0.5) {
        calling.odds = odds;
    }
    if let Some(seconds) = section.whole("bunk_after_s", 0..=3600) {
        calling.bunk_after_s = seconds;
    }
    if let Some(minutes) = section.whole("lead_minutes", 0..=60) {
        calling.lead_s = minutes * 60;
    }
    if let Some(seconds) = section.whole("least_standing_s", 0..=3600) {
        calling.least_standing_s = seconds;
    }
    if let Some(knots) = section.number("squall_kn", 10.0..=MOST_KN) {
        calling.squall_kn = knots;
    }
    if let Some(minutes) = section.whole("shake_out_after_min", 10..=1440) {
        calling.shake_out_after_min = minutes;
    }
    calling.limits = confirmation(&section, "limits_confirmed");
    calling
}

/// A flag by which a person vouches for something; absent is not vouched.
pub(super) fn confirmation(section: &Section<'_>, key: &'static str) -> Confirmation {
    match section.flag(key) {
        Some(true) => Confirmation::Confirmed,
        Some(false) | None => Confirmation::Unconfirmed,
    }
}

pub(super) fn start(root: &Section<'_>, ladder: &Ladder) -> Start {
    let mut start = Start {
        plan: PlanId(0),
        hands: Hands {
            on_deck: 1,
            below: 0,
        },
        helm: Helm::Pilot,
        doing: Doing::Sailing,
    };
    let Some(section) = root.section("start") else {
        root.missing("start", "[start] with on_deck and below, the people aboard");
        return start;
    };
    if let Some(found) = section.find("plan") {
        start.plan = find_plan(&found, ladder).unwrap_or(PlanId(0));
    }
    for (key, place) in [
        ("on_deck", &mut start.hands.on_deck),
        ("below", &mut start.hands.below),
    ] {
        match section.whole(key, 0..=MOST_HANDS) {
            Some(hands) => *place = hands as u8,
            None if !section.has(key) => section.missing(key, "how many people"),
            None => {}
        }
    }
    let helms = [("pilot", Helm::Pilot), ("hand", Helm::Hand)];
    start.helm = section.choice("helm", &helms).unwrap_or_default();
    start.doing = section.choice("doing", &DOINGS).unwrap_or_default();
    start
}
