//! The example boat against what is commonly said of such a boat. None of
//! these figures has a source: they are common practice, and the boat file
//! says so.

use cringle_boat::example;
use cringle_core::act::{Hands, PointOfSail, Readiness, Sea};
use cringle_core::boat::Boat;
use cringle_core::ladder::{
    Change, Circumstances, Feasibility, ItemId, Job, Obstacle, PlanId, Reason, Standing, call_time,
    choose, effective_limit, wanted_items,
};
use cringle_core::view::Wanted;

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

fn change<'b>(boat: &'b Boat, from: &str, to: &str) -> &'b Change {
    let (from, to) = (plan(boat, from), plan(boat, to));
    boat.ladder
        .change(from, to)
        .expect("there is such a change")
}

/// So many hands on deck in 28 kn: the pilot still steers.
fn on_deck(hands: u8) -> Circumstances {
    let mut now = Circumstances::fair(Hands {
        on_deck: hands,
        below: 0,
    });
    now.tws_kn = Some(28.0);
    now
}

#[track_caller]
fn job(boat: &Boat, change: &Change, now: &Circumstances) -> Job {
    match call_time(&boat.ladder, &boat.crew, change, now) {
        Feasibility::Feasible(job) => job,
        Feasibility::Impossible(why) => panic!("{why}"),
    }
}

fn close_hauled_mean(boat: &Boat, short: &str) -> f64 {
    let plan = boat.ladder.plan(plan(boat, short)).expect("a plan");
    let limit = effective_limit(plan, Some(PointOfSail::CloseHauled));
    limit.mean.expect("a mean limit").get()
}

#[test]
fn a_trysail_takes_six_hands_about_25_minutes_in_flat_water() {
    let boat = boat();
    let mut now = on_deck(6);
    now.sea = Sea::Smooth;
    let job = job(&boat, change(&boat, "3 reefs", "trysail"), &now);
    let minutes = (job.time.setup_s + job.time.change_s) / 60.0;
    assert!((minutes - 25.0).abs() < 1.0, "{minutes}");
    assert_eq!(job.called, 0);
}

#[test]
fn a_fourth_reef_with_its_pendant_led_takes_three_a_few_minutes() {
    let boat = boat();
    let now = on_deck(3).with_item(item(&boat, "fourth-reef pendant led"), Readiness::Ready);
    let job = job(&boat, change(&boat, "3 reefs", "4 reefs"), &now);
    let minutes = job.time.change_s / 60.0;
    assert!((3.0..=6.0).contains(&minutes), "{minutes}");
    assert_eq!(job.time.setup_s, 0.0);
}

#[test]
fn a_third_reef_is_overpowered_by_25_to_30_true_on_the_wind() {
    let limit = close_hauled_mean(&boat(), "3 reefs");
    assert!((25.0..=30.0).contains(&limit), "{limit}");
}

#[test]
fn three_reefs_with_a_staysail_are_near_the_top_at_30() {
    let limit = close_hauled_mean(&boat(), "3 reefs");
    assert!((limit - 30.0).abs() <= 2.0, "{limit}");
}

#[test]
fn the_fourth_reef_serves_35_to_40_and_carries_on_past_40() {
    let boat = boat();
    assert!(close_hauled_mean(&boat, "3 reefs") < 35.0);
    assert!(close_hauled_mean(&boat, "4 reefs") > 40.0);
    let staysail = item(&boat, "staysail on its stay");
    let standing = boat.ladder.item(staysail).expect("an item").standing;
    assert_eq!(standing, Standing::Permanent);
}

#[test]
fn there_is_a_plan_for_every_wind() {
    let boat = boat();
    let last = boat.ladder.plans.last().expect("plans");
    for point in [
        PointOfSail::CloseHauled,
        PointOfSail::Reaching,
        PointOfSail::Running,
    ] {
        let limit = effective_limit(last, Some(point));
        assert_eq!((limit.mean, limit.gust), (None, None));
    }
}

#[test]
fn three_hands_take_the_fourth_reef_for_want_of_hands_for_the_trysail() {
    let boat = boat();
    let now = on_deck(3);
    let from = plan(&boat, "3 reefs");
    let choice =
        choose(&boat.ladder, &boat.crew, from, &now, |_| f64::INFINITY).expect("a way down");
    assert_eq!(choice.to, plan(&boat, "4 reefs"));
    assert_eq!(
        choice.reason,
        Reason::OutOfReach {
            better: plan(&boat, "trysail"),
            obstacle: Obstacle::TooFewHands { need: 4, have: 3 },
        }
    );
    assert_eq!(
        choice.reason.words(&boat.ladder).as_str(),
        "trysail: takes 4 people, 3 aboard"
    );
}

#[test]
fn the_next_pendant_is_asked_for_as_soon_as_a_reef_is_in() {
    let boat = boat();
    let wanted = wanted_items(&boat.ladder, plan(&boat, "3 reefs"), None);
    let state = |name: &str| {
        let id = item(&boat, name);
        let hit = wanted.iter().find(|(other, _)| *other == id);
        hit.map(|(_, wanted)| *wanted)
    };
    assert_eq!(state("fourth-reef pendant led"), Some(Wanted::Now));
    assert_eq!(state("drogue and bridle led"), Some(Wanted::Later));
    assert_eq!(state("third-reef pendant led"), None);
    assert_eq!(state("staysail on its stay"), None);
}
