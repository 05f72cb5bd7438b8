//! What seamanship asks of the odds, and agreement with the reference.

use super::*;
use proptest::prelude::*;
use std::vec;
use std::vec::Vec;

const TEN_MINUTES: u32 = 600;
const LIMIT: f64 = 24.0;

fn outlook(means: &[f64], interval_s: u32) -> Outlook {
    let mut outlook = Outlook::new();
    for (i, &mean) in means.iter().enumerate() {
        let at_s = i as u64 * u64::from(interval_s);
        outlook
            .step(at_s, &Summary::of_wind(mean, interval_s))
            .expect("a sound summary");
    }
    outlook
}

/// Wind in steps that add and scale without rounding.
fn on_grid(kn: f64) -> f64 {
    libm::round(kn * 64.0) / 64.0
}

/// Wind that wanders, so that every window has something to say.
fn wandering() -> impl Strategy<Value = (Vec<f64>, u32)> {
    let steps = prop::collection::vec(-2.0..2.0_f64, 1..150);
    (
        8.0..24.0_f64,
        steps,
        prop::sample::select(vec![60_u32, 300, 600, 900]),
    )
        .prop_map(|(start, steps, interval_s)| {
            let mut mean = start;
            let means = steps
                .into_iter()
                .map(|step| {
                    mean = on_grid((mean + step).clamp(2.0, 40.0));
                    mean
                })
                .collect();
            (means, interval_s)
        })
}

/// No minute's odds of the first are over those of the second.
#[track_caller]
fn assert_never_higher(lower: &Curve, higher: &Curve) {
    for minutes in 1..=90 {
        let (lower, higher) = (lower.odds(minutes * 60), higher.odds(minutes * 60));
        assert!(lower <= higher, "{minutes} min: {lower} over {higher}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn more_wind_throughout_never_lowers_the_odds(
        (means, interval_s) in wandering(),
        more in 0.01..8.0_f64,
    ) {
        let raised: Vec<f64> = means.iter().map(|mean| mean + on_grid(more)).collect();
        let before = outlook(&means, interval_s).curve(LIMIT).expect("a curve");
        let after = outlook(&raised, interval_s).curve(LIMIT).expect("a curve");
        assert_never_higher(&before, &after);
    }

    #[test]
    fn wind_scaled_up_never_lowers_the_odds(
        (means, interval_s) in wandering(),
        sixteenths in 1..24_u32,
    ) {
        let scale = 1.0 + f64::from(sixteenths) / 16.0;
        let scaled: Vec<f64> = means.iter().map(|mean| mean * scale).collect();
        let before = outlook(&means, interval_s).curve(LIMIT).expect("a curve");
        let after = outlook(&scaled, interval_s).curve(LIMIT).expect("a curve");
        assert_never_higher(&before, &after);
    }

    #[test]
    fn a_lower_limit_never_lowers_the_odds(
        (means, interval_s) in wandering(),
        lower in 0.5..1.0_f64,
    ) {
        let outlook = outlook(&means, interval_s);
        let high = outlook.curve(LIMIT).expect("a curve");
        let low = outlook.curve(LIMIT * lower).expect("a curve");
        assert_never_higher(&high, &low);
    }

    #[test]
    fn more_time_never_lowers_the_odds((means, interval_s) in wandering()) {
        let curve = outlook(&means, interval_s).curve(LIMIT).expect("a curve");
        for minutes in 1..90 {
            prop_assert!(curve.odds((minutes + 1) * 60) >= curve.odds(minutes * 60));
        }
    }

    #[test]
    fn time_to_s_is_where_the_odds_are_reached(
        (means, interval_s) in wandering(),
        odds in 0.005..0.9_f64,
    ) {
        let curve = outlook(&means, interval_s).curve(LIMIT).expect("a curve");
        match curve.time_to_s(odds) {
            None => prop_assert!(curve.odds(HORIZON_S) < odds),
            Some(0.0) => prop_assert_eq!(curve.odds(1), 1.0),
            Some(seconds) => {
                let at = seconds as u32;
                prop_assert!(curve.odds(at) >= odds);
                prop_assert!(at <= 1 || curve.odds(at - 1) < odds);
            }
        }
    }

    #[test]
    fn units_do_not_matter((means, interval_s) in wandering()) {
        // A power of two, so that no rounding tells the two apart.
        let halved: Vec<f64> = means.iter().map(|mean| mean / 2.0).collect();
        let full = outlook(&means, interval_s).curve(LIMIT);
        let half = outlook(&halved, interval_s).curve(LIMIT / 2.0);
        prop_assert_eq!(full, half);
    }

    #[test]
    fn seconds_within_a_minute_may_come_in_any_pieces(
        means in prop::collection::vec(5.0..30.0_f64, 8..20),
        piece in prop::sample::select(vec![1_u32, 2, 5, 15, 30]),
    ) {
        let mut pieces = Outlook::new();
        for (minute, &mean) in means.iter().enumerate() {
            for part in 0..60 / piece {
                let at_s = minute as u64 * 60 + u64::from(part * piece);
                pieces.step(at_s, &Summary::of_wind(mean, piece)).expect("sound");
            }
        }
        let whole = outlook(&means, 60);
        for limit in [12.0, 20.0, 28.0] {
            let a = pieces.odds(limit, 1800).expect("odds");
            let b = whole.odds(limit, 1800).expect("odds");
            prop_assert!((a - b).abs() < 1e-9, "{a} against {b}");
        }
    }
}

#[test]
fn odds_rise_as_the_wind_nears_the_limit() {
    let near = outlook(&[16.0, 17.0, 18.5, 20.0, 21.5, 23.0], TEN_MINUTES);
    let far = outlook(&[8.0; 6], TEN_MINUTES);
    let (near, far) = (near.odds(LIMIT, 1800), far.odds(LIMIT, 1800));
    assert!(near > Some(0.15), "{near:?}");
    assert!(far < Some(0.01), "{far:?}");
}

#[test]
fn wind_at_the_limit_has_passed() {
    let outlook = outlook(&[20.0, 22.0, 25.0], TEN_MINUTES);
    assert_eq!(outlook.odds(LIMIT, 60), Some(1.0));
    assert_eq!(outlook.time_to_s(LIMIT, 0.9), Some(0.0));
}

#[test]
fn one_minute_over_the_limit_has_not_passed() {
    let mut means = [21.0; 30];
    means[29] = 25.0;
    let odds = outlook(&means, 60).odds(LIMIT, 600).expect("odds");
    assert!(odds < 0.9, "{odds}");
}

#[test]
fn one_minute_is_enough_to_start() {
    assert_eq!(Outlook::new().odds(LIMIT, 1200), None);
    let odds = outlook(&[15.0], 60).odds(LIMIT, 1200).expect("odds");
    assert!(odds > 0.0 && odds < 0.3, "{odds}");
    let close = outlook(&[22.0], 60).odds(LIMIT, 1200).expect("odds");
    assert!(close > 2.0 * odds, "{close} {odds}");
    // A single minute over the limit is not yet its running mean.
    let over = outlook(&[25.0], 60).odds(LIMIT, 60).expect("odds");
    assert!(over < 1.0, "{over}");
}

#[test]
fn wind_long_watched_is_surer_than_wind_just_heard() {
    let young = outlook(&[18.0], 60).odds(LIMIT, 3600).expect("odds");
    let old = outlook(&[18.0; 1440], 60).odds(LIMIT, 3600).expect("odds");
    assert!(old < young, "{old} {young}");
}

#[test]
fn one_minute_moves_the_odds_by_a_step() {
    let mut outlook = outlook(&[18.0; 120], 60);
    let before = outlook.odds(LIMIT, 3600).expect("odds");
    let puff = Summary::of_wind(24.0, 60);
    outlook.step(7200, &puff).expect("later");
    let after = outlook.odds(LIMIT, 3600).expect("odds");
    assert!(after > before && after < before + 0.2, "{before} {after}");
}

#[test]
fn a_gap_ends_the_old_rows() {
    let mut gone = outlook(&[23.0; 60], 60);
    gone.step(3600 + 600, &Summary::of_wind(15.0, 60))
        .expect("later");
    let rows = gone.rows.iter().flatten().count();
    assert_eq!(rows, 1, "ten minutes of silence leave the newest alone");
}

#[test]
fn a_day_of_silence_starts_afresh() {
    let mut old = outlook(&[23.0; 60], 60);
    let mut fresh = Outlook::new();
    for minute in 0..10 {
        let at_s = 3600 + 2 * DAY_S + minute * 60;
        let summary = Summary::of_wind(12.0, 60);
        old.step(at_s, &summary).expect("later");
        fresh.step(at_s, &summary).expect("later");
    }
    assert_eq!(old.curve(LIMIT), fresh.curve(LIMIT));
}

#[test]
fn nonsense_is_refused_and_changes_nothing() {
    let mut outlook = outlook(&[20.0; 60], 60);
    let before = outlook.curve(LIMIT);
    for mean in [f64::NAN, f64::INFINITY, -0.1, 301.0] {
        let refused = outlook.step(3600, &Summary::of_wind(mean, 60));
        assert!(matches!(refused, Err(Refused::Mean(_))), "{mean}");
    }
    for interval_s in [0, 901] {
        let refused = outlook.step(3600, &Summary::of_wind(20.0, interval_s));
        assert_eq!(refused, Err(Refused::Interval(interval_s)));
    }
    for interval_s in [10, 60, 600] {
        let refused = outlook.step(3000, &Summary::of_wind(20.0, interval_s));
        assert!(
            matches!(refused, Err(Refused::NotLater { .. })),
            "{interval_s}"
        );
    }
    assert_eq!(outlook.curve(LIMIT), before);
    for limit in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(outlook.odds(limit, 600), None);
    }
}

#[test]
fn the_band_holds_the_level_and_widens() {
    let means: Vec<f64> = (0..144).map(|i| 18.0 + libm::sin(f64::from(i))).collect();
    let outlook = outlook(&means, TEN_MINUTES);
    let [low, middle, high] = outlook.likely(600).expect("a band");
    let [lower, _, higher] = outlook.likely(5400).expect("a band");
    assert!(low < 18.0 && 18.0 < high);
    assert!(low < middle && middle < high);
    assert!(higher - lower > high - low);
}

#[test]
fn fits_a_small_board() {
    assert!(
        size_of::<Outlook>() <= 16 * 1024,
        "{}",
        size_of::<Outlook>()
    );
}

/// Columns: series, at_s, interval_s, mean_kn, then odds by the Python model for
/// some limits and look-aheads. Invented series; written by
/// `tests/reference/outlook/reference_table.py`.
const REFERENCE: &str = include_str!("../../../../tests/data/outlook-reference.csv");

#[test]
fn odds_agree_with_the_reference() {
    let mut series = "";
    let mut outlook = Outlook::new();
    let mut compared = 0;
    for line in REFERENCE.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        if cells[0] != series {
            series = cells[0];
            outlook = Outlook::new();
        }
        let number = |i: usize| cells[i].parse::<f64>().expect("a number");
        let at_s = cells[1].parse().expect("a time");
        let interval_s = cells[2].parse().expect("an interval");
        outlook
            .step(at_s, &Summary::of_wind(number(3), interval_s))
            .expect("a sound summary");
        let asked = [(16.0, 660), (20.0, 1200), (24.0, 3000), (20.0, 30)];
        for (i, (limit, horizon)) in asked.into_iter().enumerate() {
            let ours = outlook.odds(limit, horizon).expect("odds");
            let theirs = number(4 + i);
            assert!((ours - theirs).abs() < 1e-9, "{ours}, column {i}: {line}");
            compared += 1;
        }
    }
    assert!(compared > 1500, "{compared}");
}
