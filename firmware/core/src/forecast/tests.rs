//! Forecasts of known error against wind that is known.

use super::*;
use crate::instruments::Gradient;
use crate::units::Knots;

const HOUR: i64 = 3600;

/// Wind that rises from 14 to 28 kn in the hour about `front_h`.
fn truth_kn(unix_s: f64, front_h: f64) -> f64 {
    let part = (unix_s / 3600.0 - front_h + 0.5).clamp(0.0, 1.0);
    14.0 + 14.0 * part
}

fn table(front_h: f64, over_kn: f64, sure: Sure) -> Table {
    let rows: std::vec::Vec<Row> = (0..24)
        .map(|hour| Row {
            unix_s: hour * HOUR,
            wind: Knots::new((truth_kn((hour * HOUR) as f64, front_h) + over_kn).max(0.0))
                .unwrap_or_default(),
            gust: None,
            from_deg: None,
            sure,
            current: None,
        })
        .collect();
    Table::new(&rows).expect("a sound table")
}

fn forecast(front_h: f64, over_kn: f64) -> Forecast {
    let frame = Frame {
        law: Gradient::LogOpenSea,
        masthead_m: None,
    };
    Forecast::new(table(front_h, over_kn, Sure::default()), frame)
}

/// Feeds wind whose front comes at hour 12, up to an hour, with some scatter.
fn fed(mut forecast: Forecast, to_h: f64) -> Forecast {
    let mut minute = 0_i64;
    while (minute as f64) < to_h * 60.0 {
        let at = minute * 60;
        let scatter = 1.2 * libm::sin(minute as f64 / 37.0);
        forecast.step(at, truth_kn(at as f64, 12.0) + scatter, None);
        minute += 1;
    }
    forecast
}

fn limit(kn: f64) -> Limit {
    Limit {
        mean: Knots::new(kn).ok(),
        gust: None,
    }
}

#[test]
fn an_error_in_strength_is_learned_and_told() {
    // Told 6 kn too much, so the weather is 6 kn under.
    let under = fed(forecast(12.0, 6.0), 6.0);
    assert!(
        (under.error().over_kn + 6.0).abs() < 1.5,
        "{:?}",
        under.error()
    );
    assert_eq!(under.words().as_str(), "wind 6 kn under the forecast");
    let over = fed(forecast(12.0, -6.0), 6.0);
    assert!(
        over.words().contains("kn over the forecast"),
        "{}",
        over.words()
    );
}

#[test]
fn a_front_that_came_early_or_does_not_come_is_told() {
    let early = fed(forecast(14.0, 0.0), 13.5);
    assert_eq!(early.words().as_str(), "front about 2 h early");
    let late = fed(forecast(10.0, 0.0), 11.5);
    assert!(
        late.words().contains("h late"),
        "{} {:?}",
        late.words(),
        late.error()
    );
}

#[test]
fn a_forecast_that_is_right_says_so_and_keeps_its_weight() {
    let right = fed(forecast(12.0, 0.0), 10.0);
    assert_eq!(right.words().as_str(), "about as forecast so far");
    assert!(right.weight() > 0.9, "{}", right.weight());
    assert_eq!(
        forecast(12.0, 0.0).words().as_str(),
        "forecast not tried yet"
    );
}

#[test]
fn the_more_it_is_off_the_less_it_counts() {
    let mut before = 1.0;
    for over_kn in [0.0, 5.0, 10.0, 20.0, 40.0] {
        let weight = fed(forecast(12.0, over_kn), 8.0).weight();
        assert!(weight < before, "{over_kn}: {weight} {before}");
        before = weight;
    }
    assert!(before < 0.3, "{before}");
}

#[test]
fn a_front_due_in_an_hour_is_likely_and_one_due_in_eight_is_not() {
    let odds = |to_h: f64| {
        let forecast = fed(forecast(12.0, 0.0), to_h);
        let curve = forecast.curve(limit(22.0), 1.3, (to_h * 3600.0) as i64);
        curve.map_or(f64::NAN, |curve| curve.odds(HORIZON_S))
    };
    assert!(odds(11.0) > 0.25, "{}", odds(11.0));
    assert!(odds(4.0) < 0.02, "{}", odds(4.0));
}

#[test]
fn the_odds_never_fall_with_the_look_ahead_and_rise_as_the_limit_falls() {
    let forecast = fed(forecast(12.0, 0.0), 10.5);
    let mut before = 1.0;
    for kn in [16.0, 20.0, 24.0, 28.0, 34.0] {
        let curve = forecast.curve(limit(kn), 1.3, 10 * HOUR + 1800);
        let curve = curve.expect("inside the table");
        let mut shorter = 0.0;
        for horizon_s in 0..=HORIZON_S {
            let odds = curve.odds(horizon_s);
            assert!(odds >= shorter, "{kn} {horizon_s}");
            shorter = odds;
        }
        assert!(shorter <= before, "{kn}");
        before = shorter;
    }
}

#[test]
fn gusts_told_are_held_against_a_gust_limit() {
    let mut rows = std::vec::Vec::from(table(12.0, 0.0, Sure::default()).rows());
    for row in &mut rows {
        row.gust = Knots::new(row.wind.get() * 1.6).ok();
    }
    let frame = forecast(12.0, 0.0).frame;
    let gusty = Forecast::new(Table::new(&rows).expect("sound"), frame);
    let by_gust = Limit {
        mean: None,
        gust: Knots::new(30.0).ok(),
    };
    let odds = |forecast: Forecast| {
        let curve = fed(forecast, 2.0).curve(by_gust, 1.2, 2 * HOUR);
        curve.map_or(f64::NAN, |curve| curve.odds(600))
    };
    assert!(odds(gusty) > odds(forecast(12.0, 0.0)));
}

#[test]
fn what_it_says_of_now_is_held_against_the_wind_before_it_calls() {
    // Told 30 kn at once, and the wind is 14.
    let wrong = forecast(12.0, 16.0);
    assert!(wrong.curve(limit(20.0), 1.3, 0).is_none());
    let odds = |forecast: &Forecast, unix_s| {
        let curve = forecast.curve(limit(20.0), 1.3, unix_s);
        curve.map_or(f64::NAN, |curve| curve.odds(600))
    };
    let heard = fed(wrong, 1.0);
    assert!(odds(&forecast(12.0, 16.0), -300) > 0.1);
    // What is to come later can be told before it begins.
    assert!(odds(&forecast(12.0, 16.0), -300) > 0.3);
}

#[test]
fn before_it_begins_and_after_it_ends_it_says_nothing() {
    let forecast = forecast(12.0, 0.0);
    assert_eq!(forecast.told_kn(-HOUR), None);
    assert!(forecast.curve(limit(16.0), 1.3, 24 * HOUR).is_none());
    let long_before = forecast.curve(limit(1.0), 1.3, -10 * HOUR);
    assert!(long_before.is_some_and(|curve| curve.odds(HORIZON_S) < 1e-3));
}

#[test]
fn absurd_means_and_steps_of_the_clock_leave_it_sound() {
    let mut forecast = forecast(12.0, 0.0);
    for (minute, kn) in [
        (0, f64::NAN),
        (1, 1e9),
        (1, -5.0),
        (-900, 3.0),
        (1 << 40, 9.0),
    ] {
        for more in 0..12 {
            forecast.step((minute + more) * 60, kn, None);
        }
    }
    let curve = forecast.curve(limit(20.0), f64::NAN, HOUR);
    assert!(curve.is_some_and(|curve| (0.0..=1.0).contains(&curve.odds(3600))));
    assert!((0.0..=1.0).contains(&forecast.weight()));
}

#[test]
fn it_stays_small() {
    assert!(
        size_of::<Forecast>() <= 8 * 1024,
        "{}",
        size_of::<Forecast>()
    );
}
