//! What `check` says: of the example boat nothing but that nobody has vouched
//! for it; of a ladder that would lead a crew astray, what and where.

use cringle_boat::{Problem, Weight, call_times, example, example_text, judge, parse};

fn remarks_with(changes: &[(&str, &str)]) -> Vec<Problem> {
    let mut text = example_text().to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "the example boat has no {from:?}");
        text = text.replacen(from, to, 1);
    }
    let file = parse("dunlin.toml", &text).unwrap_or_else(|e| panic!("{e}"));
    judge(&file)
}

/// The change brings this remark, which was not there before.
#[track_caller]
fn brings(changes: &[(&str, &str)], weight: Weight, key: &str, what: &str) {
    let is_it = |r: &Problem| r.weight == weight && r.key == key && r.what.contains(what);
    let all = remarks_with(changes);
    let shown: Vec<String> = all.iter().map(Problem::to_string).collect();
    assert!(all.iter().any(is_it), "{}", shown.join("\n"));
    assert!(!remarks_with(&[]).iter().any(is_it), "it is always there");
}

#[test]
fn the_example_boat_has_no_fault() {
    let remarks = judge(&example().expect("in order"));
    let faults: Vec<String> = remarks
        .iter()
        .filter(|r| r.weight == Weight::Fault)
        .map(Problem::to_string)
        .collect();
    assert_eq!(faults, Vec::<String>::new());
    let keys: Vec<&str> = remarks.iter().map(|r| r.key.as_str()).collect();
    assert_eq!(
        keys,
        [
            "instruments.wind_confirmed",
            "change[8].minutes",
            "calling.limits_confirmed"
        ]
    );
}

#[test]
fn a_remark_reads_as_one_line() {
    let remarks = remarks_with(&[]);
    let hands = remarks.iter().find(|r| r.key == "change[8].minutes");
    let hands = hands.expect("the trysail is beyond three hands");
    assert_eq!(
        hands.to_string(),
        format!(
            "dunlin.toml:{}: note: change[8].minutes: takes 4 people with its set-up, \
             3 are aboard; these hands go another way, which is shown",
            hands.line
        )
    );
    let line = example_text().lines().nth(hands.line - 1);
    assert_eq!(line, Some("minutes = { 4 = 22, 6 = 13 }"));
}

#[test]
fn limits_must_rise_as_sail_goes_down() {
    brings(
        &[(
            "close_hauled = { mean_kn = 29",
            "close_hauled = { mean_kn = 24",
        )],
        Weight::Fault,
        "plan[5].close_hauled",
        "mean limit 24.0 kn is not above the 25.0 kn",
    );
    brings(
        &[("area_m2 = 33", "area_m2 = 50")],
        Weight::Fault,
        "plan[4].area_m2",
        "50 m2 is not less than the 48 m2",
    );
    brings(
        &[(
            "close_hauled = { mean_kn = 29, gust_kn = 38 }",
            "close_hauled = { mean_kn = 29, gust_kn = 28 }",
        )],
        Weight::Fault,
        "plan[5].close_hauled",
        "not above the mean limit",
    );
}

#[test]
fn every_plan_but_the_last_needs_a_limit_and_a_way_down() {
    brings(
        &[("mean_kn = 54\ngust_kn = 70\n", "")],
        Weight::Fault,
        "plan[8].running",
        "has no limit",
    );
    brings(
        &[(
            "from = \"2 reefs +s\"\nto = \"3 reefs\"",
            "from = \"1 reef\"\nto = \"3 reefs\"",
        )],
        Weight::Fault,
        "plan[4]",
        "no change leads down",
    );
    brings(
        &[(
            "heel_deg = 25\nclose_hauled = { mean_kn = 43",
            "close_hauled = { mean_kn = 43",
        )],
        Weight::Note,
        "plan[6].heel_deg",
        "no heel limit",
    );
}

#[test]
fn a_change_that_nobody_aboard_can_do_is_a_fault_where_there_is_no_other() {
    brings(
        &[("below = 1", "below = 0"), ("on_deck = 2", "on_deck = 1")],
        Weight::Fault,
        "change[7].minutes",
        "takes 2 people",
    );
    brings(
        &[("minutes = { 2 = 9, 3 = 5 }", "minutes = { 2 = 9, 3 = 15 }")],
        Weight::Fault,
        "change[7].minutes",
        "3 hands take 15 min",
    );
    brings(
        &[("minutes = { 2 = 9, 3 = 5 }", "minutes = { 2 = 90, 3 = 5 }")],
        Weight::Note,
        "change[7].minutes",
        "90 min by 2 hands",
    );
}

#[test]
fn a_change_must_be_possible_in_the_wind_that_calls_for_it() {
    brings(
        &[(
            "highest_wind_kn = 42\nround_up_kn = 52",
            "highest_wind_kn = 20\nround_up_kn = 52",
        )],
        Weight::Fault,
        "change[7].highest_wind_kn",
        "only up to 20.0 kn",
    );
    brings(
        &[(
            "highest_wind_kn = 42\nround_up_kn = 52",
            "highest_wind_kn = 27\nround_up_kn = 52",
        )],
        Weight::Note,
        "change[7].highest_wind_kn",
        "below the limit 29 kn",
    );
}

#[test]
fn what_is_never_used_or_never_sent_is_told() {
    brings(
        &[("setup = [\"trysail on its track\"]", "setup = []")],
        Weight::Note,
        "setup[4]",
        "no change needs",
    );
    brings(
        &[
            ("checksum = \"required\"", "send = [\"alerts\"]"),
            ("\"ALF\"", "\"none\""),
        ],
        Weight::Fault,
        "port[1].send",
        "alerts",
    );
    brings(
        &[
            (
                "serial:/dev/ttyUSB0?baud=4800",
                "file:/tmp/a\"\nsend = [\"alerts\"]\nchecksum = \"required",
            ),
            ("\"\nchecksum = \"required\"\n", "\"\n"),
        ],
        Weight::Fault,
        "port[1].send",
        "nothing can be sent",
    );
    brings(
        &[("pilot_limit_kn = 30", "")],
        Weight::Note,
        "crew.pilot_limit_kn",
        "the pilot is trusted",
    );
}

/// By day two hands need about as long as the plan "5 to 10 min with call and
/// dressing" says; by night with one asleep about twice as long and more.
/// Common practice, no source.
#[test]
fn the_call_times_of_a_first_reef_are_such_as_crews_tell() {
    let file = example().expect("in order");
    let first = call_times(&file)[0];
    assert_eq!(first.by_day_min, Some(8.0));
    assert_eq!(first.alone_min, Some(12.0));
    let text = example_text().replacen("on_deck = 2", "on_deck = 1", 1);
    let file = parse("dunlin.toml", &text).expect("in order");
    let night = call_times(&file)[0].by_night_min.expect("possible");
    assert!((16.0..=24.0).contains(&night), "{night}");
}

#[test]
fn a_call_time_beyond_the_outlook_is_told() {
    brings(
        &[("minutes = { 2 = 9, 3 = 5 }", "minutes = { 2 = 60 }")],
        Weight::Note,
        "change[7].minutes",
        "by night with its set-up open",
    );
}

#[test]
fn a_limit_that_any_wind_passes_is_a_fault() {
    let remarks = remarks_with(&[("mean_kn = 14", "mean_kn = 0")]);
    let fault = remarks
        .iter()
        .find(|it| it.what.contains("passed in any wind"));
    let fault = fault.expect("told");
    assert_eq!(fault.weight, Weight::Fault);
    assert_eq!(fault.key, "plan[1].close_hauled");
}
