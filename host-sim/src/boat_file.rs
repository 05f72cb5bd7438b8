//! The boat file that goes with a made-up boat and crew.
//!
//! Whoever listens to a scenario has to know the boat that sails it; this
//! writes what her skipper would have written, and no more: the ladder, the
//! crew's times, the heights, and which of two wind units is to be believed.
//! Noise, upwash and faults are not in it.

use core::fmt::Write;

use crate::boat::{SailRung, Steering};
use crate::crew::Light;
use crate::crew::slowness;
use crate::instruments::{DeviceKind, DevicePlan};
use crate::scenario::Scenario;

/// The text of the boat file.
pub fn boat_file(scenario: &Scenario) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = write_all(&mut text, scenario);
    text
}

/// The place in the file's set-up list of what the change down to `rung` needs.
pub fn setup_item(ladder: &[SailRung], rung: usize) -> Option<usize> {
    let wants = |rung: &SailRung| rung.setup_min > 0.0;
    ladder.get(rung).filter(|rung| wants(rung))?;
    Some(ladder.iter().take(rung).filter(|rung| wants(rung)).count())
}

/// The name in the file of what the change down to `rung` needs.
pub fn setup_name(ladder: &[SailRung], rung: usize) -> Option<String> {
    setup_item(ladder, rung)?;
    Some(format!("set-up for {}", ladder.get(rung)?.short))
}

fn write_all(text: &mut String, scenario: &Scenario) -> core::fmt::Result {
    let boat = &scenario.boat;
    write!(
        text,
        "format = 1\n\n[boat]\nname = \"{}\"\n\n[instruments]\nmasthead_height_m = {:.1}\n\
         mast_motion_height_m = {:.1}\nheel_correction = true\nleeway_k = {:.1}\n\
         wind_confirmed = true\n",
        boat.name, boat.masthead_m, boat.masthead_m, boat.leeway_k
    )?;
    write_preference(text, &scenario.device)?;
    for rung in &boat.rung {
        write_plan(text, rung, boat.heel_limit_deg)?;
    }
    writeln!(
        text,
        "\n[[plan]]\nname = \"bare poles\"\nshort = \"bare\"\nsails = []\narea_m2 = 0"
    )?;
    for (place, rung) in boat.rung.iter().enumerate() {
        if let Some(name) = setup_name(&boat.rung, place) {
            write!(
                text,
                "\n[[setup]]\nname = \"{name}\"\nminutes = {:.1}\nhands = 1\n",
                rung.setup_min
            )?;
        }
    }
    for pair in boat.rung.windows(2) {
        if let [from, to] = pair {
            write_changes(text, from, to)?;
        }
    }
    if let Some(last) = boat.rung.last() {
        write!(
            text,
            "\n[[change]]\nfrom = \"{}\"\nto = \"bare\"\nminutes = {{ 1 = 10 }}\ncomes_up = false\n",
            last.short
        )?;
    }
    write_crew(text, scenario)
}

/// Of two wind units the one at the masthead goes first. Left to itself the
/// watch keeps to the one heard first, at equal pace: here one at the stern,
/// turned by some degrees.
fn write_preference(text: &mut String, devices: &[DevicePlan]) -> core::fmt::Result {
    let is_wind =
        |device: &&DevicePlan| matches!(device.kind, DeviceKind::Masthead | DeviceKind::Ultrasonic);
    let at_masthead = |device: &&DevicePlan| device.kind == DeviceKind::Masthead;
    match devices.iter().find(at_masthead) {
        Some(first) if devices.iter().filter(is_wind).count() > 1 => write!(
            text,
            "\n[[prefer]]\nquantity = \"apparent wind\"\ntalker = \"{}\"\nrank = 1\n",
            first.talker
        ),
        _ => Ok(()),
    }
}

fn write_plan(text: &mut String, rung: &SailRung, heel_limit_deg: f64) -> core::fmt::Result {
    write!(
        text,
        "\n[[plan]]\nname = \"{}\"\nshort = \"{}\"\nsails = [\"{}\"]\narea_m2 = {:.0}\n\
         mean_kn = {:.0}\nheel_deg = {heel_limit_deg:.0}\n",
        rung.name, rung.short, rung.name, rung.area_m2, rung.limit_kn
    )
}

fn write_changes(text: &mut String, from: &SailRung, to: &SailRung) -> core::fmt::Result {
    let minutes = |hands| to.change_min * slowness(hands, to.hands, Light::Day, 0.0);
    let times = if to.hands > 1 {
        format!(
            "{{ 1 = {:.1}, {} = {:.1}, {} = {:.1} }}",
            minutes(1),
            to.hands,
            minutes(to.hands),
            to.hands.saturating_mul(2),
            minutes(to.hands.saturating_mul(2))
        )
    } else {
        format!("{{ 1 = {:.1} }}", minutes(1))
    };
    write!(
        text,
        "\n[[change]]\nfrom = \"{}\"\nto = \"{}\"\nminutes = {times}\ncomes_up = false\n",
        from.short, to.short
    )?;
    if to.setup_min > 0.0 {
        writeln!(text, "setup = [\"set-up for {}\"]", to.short)?;
    }
    write!(
        text,
        "\n[[change]]\nfrom = \"{}\"\nto = \"{}\"\nminutes = {times}\ncomes_up = false\n",
        to.short, from.short
    )
}

fn write_crew(text: &mut String, scenario: &Scenario) -> core::fmt::Result {
    let crew = &scenario.crew;
    let on_deck = (crew.hands / 2).max(1);
    let helm = match scenario.steering {
        Steering::Pilot => "pilot",
        Steering::Hand => "hand",
    };
    let plan = scenario
        .boat
        .rung
        .get(scenario.rung)
        .map_or("bare", |rung| rung.short.as_str());
    write!(
        text,
        "\n[crew]\nmuster_minutes = {:.1}\nready_minutes = {:.1}\n\
         sea_factors = [1.0, 1.0, 1.0, 1.5, 1.5]\n\n[calling]\nlimits_confirmed = true\n\n\
         [start]\nplan = \"{plan}\"\non_deck = {on_deck}\nbelow = {}\nhelm = \"{helm}\"\n",
        crew.muster_min,
        crew.dawdles_min,
        crew.hands.saturating_sub(on_deck)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_scenario_has_a_boat_file_without_an_error() {
        for name in Scenario::names() {
            for hands in [1, 2, 6] {
                let scenario = Scenario::builtin(name).expect("built in").with_hands(hands);
                let text = boat_file(&scenario);
                let file = cringle_boat::parse(name, &text)
                    .unwrap_or_else(|problems| panic!("{name}: {problems}\n{text}"));
                let plans = scenario.boat.rung.len();
                assert_eq!(file.boat.ladder.plans.len(), plans + 1);
                assert_eq!(usize::from(file.boat.start.plan.0), scenario.rung);
            }
        }
    }

    #[test]
    fn set_up_items_are_counted_without_the_rungs_that_need_none() {
        let ladder = SailRung::teasel();
        assert_eq!(setup_item(&ladder, 0), None);
        assert_eq!(setup_item(&ladder, 1), Some(0));
        assert_eq!(setup_item(&ladder, 5), Some(4));
        assert_eq!(setup_item(&ladder, 6), None);
    }
}
