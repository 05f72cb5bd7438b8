//! The watch bill and what work costs, in the boat file.

use cringle_boat::{BoatFile, Problems, example_text, judge, parse};
use cringle_core::act::Hands;
use cringle_core::moment::{Costs, HintSound};

fn with(tables: &str) -> Result<BoatFile, Problems> {
    parse("dunlin.toml", &format!("{}\n{tables}", example_text()))
}

const ROLES: &str = r#"
[[watch_bill.role]]
name = "skipper"
hands = 1
[[watch_bill.role]]
name = "mate"
hands = 1
"#;

#[test]
fn a_usual_system_gives_the_hands_of_every_hour() {
    for (system, cycle_h) in [("four-on-four-off", 8), ("two-handed", 6), ("swedish", 48)] {
        let file =
            with(&format!("[watch_bill]\nsystem = \"{system}\"\n{ROLES}")).expect("in order");
        let bill = file.boat.bill.expect("a bill");
        assert_eq!(bill.cycle_s(), cycle_h * 3600, "{system}");
        assert_eq!(bill.overlap_s(), 900);
        let one = Hands {
            on_deck: 1,
            below: 1,
        };
        assert_eq!(bill.at(0).hands, one);
    }
}

#[test]
fn turns_of_ones_own_need_not_fit_a_day() {
    let turns = r#"
[[watch_bill.turn]]
hours = 2.5
on_deck = ["skipper"]
[[watch_bill.turn]]
hours = 4
on_deck = ["skipper", "mate"]
"#;
    let file = with(&format!(
        "[watch_bill]\noverlap_minutes = 0\n{ROLES}{turns}"
    ))
    .expect("in order");
    let bill = file.boat.bill.expect("a bill");
    assert_eq!(bill.cycle_s(), 390 * 60);
    assert_eq!(bill.at(3 * 3600).hands.on_deck, 2);
}

#[test]
fn each_fault_of_a_bill_says_how_to_mend_it() {
    for (tables, what, mend) in [
        (
            "[watch_bill]\n".to_owned() + ROLES,
            "watch_bill.system is missing",
            "two-handed",
        ),
        (
            "[watch_bill]\nsystem = \"sweedish\"\n".to_owned() + ROLES,
            "not known",
            "did you mean \"swedish\"",
        ),
        (
            "[watch_bill]\nsystem = \"three-threes\"\n".to_owned() + ROLES,
            "is there 2 times",
            "takes 3 roles",
        ),
        (
            "[watch_bill]\n".to_owned()
                + ROLES
                + "[[watch_bill.turn]]\nhours = 4\non_deck = [\"cook\"]\n",
            "no role",
            "name a [[watch_bill.role]]",
        ),
        (
            "[watch_bill]\nsystem = \"two-handed\"\nbegins = 2026-11-08T20:00:00\n".to_owned()
                + ROLES,
            "no moment of UTC",
            "with a Z",
        ),
    ] {
        let problems = with(&tables).expect_err(what).to_string();
        assert!(
            problems.contains(what.trim_start_matches("watch_bill.system ")),
            "{problems}"
        );
        assert!(problems.contains(mend), "{problems}");
    }
}

#[test]
fn a_bill_for_another_number_of_people_is_a_fault() {
    let file = with(
        &format!("[watch_bill]\nsystem = \"swedish\"\n{ROLES}").replace("hands = 1", "hands = 4"),
    )
    .expect("in order");
    let problems = judge(&file);
    let told = problems.iter().map(ToString::to_string).collect::<Vec<_>>();
    assert!(
        told.iter()
            .any(|it| it.contains("the watch bill has 8 people")),
        "{told:?}"
    );
}

#[test]
fn costs_are_common_practice_until_the_crew_says_otherwise() {
    assert_eq!(with("").expect("in order").boat.costs, Costs::default());
    let costs = with("[costs]\nwake_minutes = 45\nhint = \"sounded\"\n");
    let costs = costs.expect("in order").boat.costs;
    assert_eq!(costs.wake_min, 45.0);
    assert_eq!(costs.hint, HintSound::Sounded);
    assert_eq!(costs.past, Costs::default().past);
}
