//! Every template is a boat file in order whose ladder leads its crew down.

use cringle_boat::{BoatFile, Hulls, TEMPLATES, Weight, judge, parse};
use cringle_core::ladder::{Circumstances, PlanId, choose};

fn files() -> Vec<(&'static str, BoatFile)> {
    TEMPLATES
        .iter()
        .map(|template| {
            let file = parse(template.kind, template.text);
            (template.kind, file.unwrap_or_else(|e| panic!("{e}")))
        })
        .collect()
}

#[test]
fn there_is_one_for_each_kind_of_boat() {
    let kinds: Vec<&str> = files().iter().map(|(kind, _)| *kind).collect();
    assert_eq!(kinds, ["sloop", "cutter", "ketch", "multihull"]);
}

#[test]
fn none_has_a_fault() {
    for (kind, file) in files() {
        let faults: Vec<String> = judge(&file)
            .iter()
            .filter(|r| r.weight == Weight::Fault)
            .map(ToString::to_string)
            .collect();
        assert!(faults.is_empty(), "{kind}: {}", faults.join("\n"));
    }
}

/// One on deck and one below, calling for the next reduction from full sail
/// down, in the wind in which each is entered, end with no sail set.
#[test]
fn two_hands_are_led_from_full_sail_to_none() {
    for (kind, file) in files() {
        let ladder = &file.boat.ladder;
        let mut plan = PlanId(0);
        let mut steps = 0;
        while let Some(limit) = ladder.plan(plan).and_then(|p| p.limits.close_hauled.mean) {
            let mut now = Circumstances::fair(file.boat.start.hands);
            now.tws_kn = Some(limit.get() - 2.0);
            let choice = choose(ladder, &file.boat.crew, plan, &now, |_| f64::INFINITY)
                .unwrap_or_else(|| panic!("{kind}: no way down from {plan:?}"));
            assert!(choice.feasibility.job().is_some(), "{kind}: {choice:?}");
            assert!(choice.to > plan);
            plan = choice.to;
            steps += 1;
        }
        let last = ladder.plan(plan).expect("a plan");
        assert_eq!(last.area_m2, 0.0, "{kind} ends at {}", last.name);
        assert!(steps >= 4, "{kind}");
    }
}

#[test]
fn the_multihull_is_judged_by_gusts_and_trim_and_never_by_heel() {
    for (kind, file) in files() {
        let is_multihull = kind == "multihull";
        assert_eq!(file.hulls == Hulls::Several, is_multihull);
        let (last, plans) = file.boat.ladder.plans.split_last().expect("plans");
        assert_eq!(last.heel_limit, None);
        for plan in plans {
            assert_eq!(plan.heel_limit.is_some(), !is_multihull, "{kind}");
            assert_eq!(plan.trim_limit.is_some(), is_multihull, "{kind}");
            assert!(plan.limits.reaching.gust.is_some());
        }
    }
}

#[test]
fn nobody_has_vouched_for_a_template() {
    use cringle_core::instruments::Confirmation;
    for (_, file) in files() {
        assert_eq!(file.boat.calling.limits, Confirmation::Unconfirmed);
        let instruments = &file.boat.instruments;
        assert_eq!(instruments.wind_confirmed, Confirmation::Unconfirmed);
    }
}
