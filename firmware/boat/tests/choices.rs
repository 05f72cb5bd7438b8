//! The choice of the next reduction on the example boat, as her crew would
//! reason it.

use cringle_boat::example;
use cringle_core::act::{Condition, Hands, PointOfSail, Readiness, Rigging, Sea};
use cringle_core::boat::Boat;
use cringle_core::ladder::{
    Buys, Choice, Circumstances, Feasibility, ItemId, Obstacle, PlanId, Reason, Steering, buys,
    choose, choose_up, wanted_items,
};
use cringle_core::view::{Light, Wanted};

/// Longer than any outlook.
const ON_AND_ON: f64 = f64::INFINITY;

fn boat() -> Boat {
    example().expect("the example boat is in order").boat
}

fn plan(boat: &Boat, short: &str) -> PlanId {
    let place = boat.ladder.plans.iter().position(|p| p.short == short);
    PlanId(place.unwrap_or_else(|| panic!("no plan {short}")) as u8)
}

fn item(boat: &Boat, name: &str) -> ItemId {
    let place = boat.ladder.setup.iter().position(|i| i.name == name);
    ItemId(place.unwrap_or_else(|| panic!("no item {name}")) as u8)
}

fn in_wind(on_deck: u8, below: u8, tws_kn: f64) -> Circumstances {
    Circumstances {
        tws_kn: Some(tws_kn),
        point: Some(PointOfSail::CloseHauled),
        ..Circumstances::fair(Hands { on_deck, below })
    }
}

#[track_caller]
fn next(boat: &Boat, from: &str, now: &Circumstances, lasts: impl Fn(PlanId) -> f64) -> Choice {
    choose(&boat.ladder, &boat.crew, plan(boat, from), now, lasts).expect("a way down")
}

#[test]
fn the_next_rung_is_called_for_while_it_will_last() {
    let boat = boat();
    let choice = next(&boat, "full", &in_wind(2, 1, 12.0), |_| ON_AND_ON);
    assert_eq!(choice.to, plan(&boat, "1 reef"));
    assert_eq!(choice.reason, Reason::Next);
    assert_eq!(choice.must_be_done_below, None);
    assert_eq!(choice.sooner_s, 0.0);
}

#[test]
fn a_rung_that_would_not_last_is_passed_over_and_it_is_said() {
    let boat = boat();
    let (one, two_g) = (plan(&boat, "1 reef"), plan(&boat, "2 reefs +g"));
    let rising = |id: PlanId| if id <= two_g { 20.0 } else { ON_AND_ON };
    let choice = next(&boat, "full", &in_wind(2, 1, 12.0), rising);
    // No single change leads there: two are reckoned, mustered once.
    assert_eq!(choice.to, plan(&boat, "2 reefs +s"));
    assert_eq!(choice.steps.as_slice(), [two_g, choice.to]);
    assert_eq!(choice.reason, Reason::WouldNotLast { passed_over: one });
    let minutes = choice.call_time.total_s() / 60.0;
    // Ready 2, runners 3, 11 to the second reef, 5 to the staysail.
    assert!((minutes - 21.0).abs() < 1e-9, "{minutes}");
    assert_eq!(
        choice.reason.words(&boat.ladder).as_str(),
        "1 reef would not last"
    );
}

#[test]
fn where_nothing_lasts_the_one_that_lasts_longest_is_called_for() {
    let boat = boat();
    let staysail = plan(&boat, "staysail");
    let short = |id: PlanId| if id == staysail { 30.0 } else { 10.0 };
    let choice = next(&boat, "4 reefs", &in_wind(2, 1, 41.0), short);
    assert_eq!((choice.to, choice.reason), (staysail, Reason::LastsLongest));
}

#[test]
fn six_hands_still_take_the_quicker_of_two_like_plans_and_hear_by_how_much() {
    let boat = boat();
    let choice = next(&boat, "3 reefs", &in_wind(6, 0, 27.0), |_| ON_AND_ON);
    assert_eq!(choice.to, plan(&boat, "4 reefs"));
    let Reason::Quicker { than, by_min } = choice.reason else {
        panic!("{:?}", choice.reason);
    };
    assert_eq!(than, plan(&boat, "trysail"));
    // Trysail 12 + 13, fourth reef 10 + 5.
    assert!((by_min - 10.0).abs() < 1e-9, "{by_min}");
}

#[test]
fn a_trysail_ready_on_its_track_wins_where_the_pendant_cannot_be_led_any_more() {
    let boat = boat();
    let mut now = in_wind(6, 0, 37.0);
    now = now.with_item(item(&boat, "trysail on its track"), Readiness::Ready);
    let choice = next(&boat, "3 reefs", &now, |_| ON_AND_ON);
    assert_eq!(choice.to, plan(&boat, "trysail"));
    let Reason::OutOfReach { better, obstacle } = choice.reason else {
        panic!("{:?}", choice.reason);
    };
    assert_eq!(better, plan(&boat, "4 reefs"));
    assert!(matches!(obstacle, Obstacle::TooMuchWind { highest } if highest.get() == 36.0));
}

#[test]
fn alone_nothing_below_the_third_reef_is_possible_and_it_is_said() {
    let boat = boat();
    let choice = next(&boat, "3 reefs", &in_wind(1, 0, 25.0), |_| ON_AND_ON);
    assert!(matches!(choice.feasibility, Feasibility::Impossible(_)));
    let expected = Obstacle::TooFewHands { need: 2, have: 1 };
    assert_eq!(choice.reason, Reason::NothingPossible(expected));
    assert!(choice.reckoned_s() > 0.0);
}

#[test]
fn above_the_pilots_limit_one_hand_steers_and_another_is_called() {
    let boat = boat();
    let below = next(&boat, "3 reefs", &in_wind(2, 1, 29.0), |_| ON_AND_ON);
    let above = next(&boat, "3 reefs", &in_wind(2, 1, 31.0), |_| ON_AND_ON);
    let steering = |choice: &Choice| {
        let job = choice.feasibility.job().expect("possible");
        (job.steering, job.called)
    };
    assert_eq!(steering(&below), (Steering::Pilot, 0));
    assert_eq!(steering(&above), (Steering::Hand, 1));
    assert!(above.call_time.total_s() > below.call_time.total_s());
}

#[test]
fn two_aboard_must_be_done_before_the_pilot_gives_up() {
    let boat = boat();
    let mut now = in_wind(2, 0, 26.0);
    // Off the wind the limit is 33 kn, above the pilot's 30.
    now.point = Some(PointOfSail::Running);
    let choice = next(&boat, "3 reefs", &now, |_| ON_AND_ON);
    let below = choice.must_be_done_below.expect("the pilot's limit");
    assert_eq!(below.get(), 30.0);
    now.hands.below = 1;
    let choice = next(&boat, "3 reefs", &now, |_| ON_AND_ON);
    assert_eq!(choice.must_be_done_below, None);
}

#[test]
fn a_pole_comes_in_first_and_its_wind_brings_the_call_forward() {
    let boat = boat();
    let mut now = in_wind(2, 1, 20.0);
    now.point = Some(PointOfSail::Running);
    let bare = next(&boat, "3 reefs", &now, |_| ON_AND_ON);
    now.rigging[1] = Rigging::Rigged;
    let poled = next(&boat, "3 reefs", &now, |_| ON_AND_ON);
    let more = (poled.call_time.total_s() - bare.call_time.total_s()) / 60.0;
    assert!((more - 8.0).abs() < 1e-9, "{more}");
    assert_eq!(poled.must_be_done_below.map(|kn| kn.get()), Some(30.0));
}

#[test]
fn night_sea_and_weariness_stretch_the_whole_and_widen_its_spread() {
    let boat = boat();
    let by_day = next(&boat, "full", &in_wind(1, 1, 12.0), |_| ON_AND_ON).call_time;
    let mut now = in_wind(1, 1, 12.0);
    now.light = Light::Night;
    now.sea = Sea::Rough;
    now.condition = Condition::WornOut;
    let by_night = next(&boat, "full", &now, |_| ON_AND_ON).call_time;
    let times = by_night.total_s() / by_day.total_s();
    assert!((times - 1.4 * 1.5 * 1.5).abs() < 1e-9, "{times}");
    let share = |time: cringle_core::view::CallTime| time.spread_s / time.total_s();
    assert!((share(by_day) - 0.3).abs() < 1e-9);
    assert!(share(by_night) > 0.3);
}

#[test]
fn an_open_pendant_buys_what_it_takes_and_on_the_way_down_the_choice_names_it() {
    let boat = boat();
    let pendant = item(&boat, "fourth-reef pendant led");
    let now = in_wind(2, 1, 25.0);
    let choice = next(&boat, "3 reefs", &now, |_| ON_AND_ON);
    let route = choice.route(&boat.ladder);
    let bought = buys(&boat.ladder, &boat.crew, &route, pendant, &now);
    assert_eq!(bought, Buys::Minutes(10.0));
    let too_late = in_wind(2, 1, 37.0);
    let bought = buys(&boat.ladder, &boat.crew, &route, pendant, &too_late);
    assert_eq!(bought, Buys::Opens);
    let wanted = wanted_items(&boat.ladder, choice.from, Some(&choice));
    assert_eq!(wanted.first(), Some(&(pendant, Wanted::Now)));
    let trysail = item(&boat, "trysail on its track");
    assert!(wanted.contains(&(trysail, Wanted::Later)));
}

#[test]
fn shaking_out_goes_one_rung_up_and_only_in_wind_that_allows_it() {
    let boat = boat();
    let up = |tws| {
        let now = in_wind(2, 1, tws);
        choose_up(&boat.ladder, &boat.crew, plan(&boat, "3 reefs"), &now)
    };
    assert_eq!(up(20.0).map(|c| c.to), Some(plan(&boat, "2 reefs +s")));
    assert_eq!(up(26.0), None);
}
