//! What a forecast of known error does to warnings and idle time, on invented
//! weather, by the hindcast's own definitions and at the shipped setting.
//!
//! The table in `data/forecast-errors.txt` is a snapshot; to make it anew:
//! `CRINGLE_BLESS=1 cargo test -p cringle-tests --test forecast`.
//!
//! Each day is a story of its own: wind of 12 to 16 kn, on two days of three a
//! front that brings 9 to 16 kn more within 15 to 60 min. The skipper has a
//! table of 24 hourly rows, right but for the error named. Errors are those of
//! the weather against the table.

use std::fmt::Write;
use std::sync::Arc;

use cringle_core::boat::Calling;
use cringle_core::forecast::{Curve as Told, Forecast, Frame, Joined, Row, Sure, Table};
use cringle_core::instruments::Gradient;
use cringle_core::ladder::Limit;
use cringle_core::outlook::{Curve, Outlook, Summary};
use cringle_core::units::Knots;
use cringle_hindcast::alarm;
use cringle_hindcast::curve::Caller;
use cringle_hindcast::judged::{Cell, Judged, Limit as Crossings, running_mean};
use cringle_hindcast::series::{Part, Series as Slots};
use cringle_hindcast::tally::{Tally, count};
use cringle_sim::dice::Dice;
use cringle_sim::series::Series;
use cringle_sim::weather::{Event, Plan, Story, TurningPoint};
use cringle_tests::snapshot;

const DAYS: u64 = 24;
/// How far a forecast is believed was chosen on days 0 to 14; these are others.
const JUDGED_FROM: u64 = 100;
const HOURS: i64 = 24;
const LIMITS_KN: [f64; 2] = [20.0, 24.0];
const CALL_TIMES_S: [u32; 3] = [600, 1200, 2400];
const KN_PER_MS: f64 = 3600.0 / 1852.0;
/// The forecast is asked this often; the watch asks it every minute.
const ASKED_MIN: usize = 10;
const SNAPSHOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/data/forecast-errors.txt");

/// What is wrong with the skipper's table.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Wrong {
    Absent,
    /// The weather comes so many hours later and so many knots stronger than
    /// the table tells.
    By {
        late_h: f64,
        over_kn: f64,
    },
    /// It tells of fronts that do not come, and of none of those that do.
    Contrary,
}

const WRONG: [(&str, Wrong); 9] = [
    ("no forecast", Wrong::Absent),
    (
        "exact",
        Wrong::By {
            late_h: 0.0,
            over_kn: 0.0,
        },
    ),
    (
        "front 3 h early",
        Wrong::By {
            late_h: -3.0,
            over_kn: 0.0,
        },
    ),
    (
        "front 3 h late",
        Wrong::By {
            late_h: 3.0,
            over_kn: 0.0,
        },
    ),
    (
        "8 kn over",
        Wrong::By {
            late_h: 0.0,
            over_kn: 8.0,
        },
    ),
    (
        "8 kn under",
        Wrong::By {
            late_h: 0.0,
            over_kn: -8.0,
        },
    ),
    (
        "3 h early, 8 kn over",
        Wrong::By {
            late_h: -3.0,
            over_kn: 8.0,
        },
    ),
    (
        "3 h late, 8 kn under",
        Wrong::By {
            late_h: 3.0,
            over_kn: -8.0,
        },
    ),
    ("fronts that do not come", Wrong::Contrary),
];

/// One day of weather.
struct Day {
    story: Story,
    /// The same without its front, or with one where there is none.
    contrary: Story,
    wind_kn: Vec<f64>,
    /// Measured odds by minute and limit.
    measured: Vec<[Option<Curve>; LIMITS_KN.len()]>,
}

fn day(number: u64) -> Day {
    let mut dice = Dice::new(number, "forecast-days");
    let mean = vec![TurningPoint {
        at_min: 0.0,
        speed_kn: dice.between(12.0, 16.0),
        from_deg: 220.0,
        pressure_hpa: 1008.0,
    }];
    let front = Event::Front {
        at_min: dice.between(8.0 * 60.0, 18.0 * 60.0),
        over_min: dice.between(15.0, 60.0),
        veer_deg: 60.0,
        add_kn: dice.between(9.0, 16.0),
        trough_hpa: 3.0,
        gustier: 1.3,
    };
    let with = Story {
        mean: mean.clone(),
        event: vec![front],
    };
    let without = Story {
        mean,
        event: Vec::new(),
    };
    let (story, contrary) = match number % 3 {
        0 => (without, with),
        _ => (with, without),
    };
    let plan = Plan {
        mean: story.mean.clone(),
        event: story.event.clone(),
        ..Plan::default()
    };
    let rows = Series::new(&plan, 10.0, 0.0, 60, number);
    let wind_kn: Vec<f64> = rows
        .take(HOURS as usize * 60)
        .map(|row| row.speed_ms * KN_PER_MS)
        .collect();
    let mut outlook = Outlook::new();
    let measured = (0_u64..).zip(&wind_kn).map(|(minute, kn)| {
        let summary = Summary::of_wind(*kn, 60);
        outlook.step(minute * 60, &summary).expect("in order");
        LIMITS_KN.map(|limit| outlook.curve(limit))
    });
    Day {
        measured: measured.collect(),
        story,
        contrary,
        wind_kn,
    }
}

fn table(day: &Day, wrong: Wrong) -> Option<Table> {
    let (story, late_h, over_kn) = match wrong {
        Wrong::Absent => return None,
        Wrong::By { late_h, over_kn } => (&day.story, late_h, over_kn),
        Wrong::Contrary => (&day.contrary, 0.0, 0.0),
    };
    let rows: Vec<Row> = (0..HOURS)
        .map(|hour| {
            let told_of_s = (hour as f64 + late_h) * 3600.0;
            let kn = story.at(told_of_s).speed_ms * KN_PER_MS - over_kn;
            Row {
                unix_s: hour * 3600,
                wind: Knots::new(kn.max(0.0)).expect("a wind"),
                gust: None,
                from_deg: Some(220.0),
                sure: Sure::default(),
                current: None,
            }
        })
        .collect();
    Some(Table::new(&rows).expect("a sound table"))
}

/// The odds by limit, call time and minute.
type Odds = [[Vec<f64>; CALL_TIMES_S.len()]; LIMITS_KN.len()];

fn odds(day: &Day, wrong: Wrong) -> (Odds, Option<Forecast>) {
    let frame = Frame {
        law: Gradient::LogOpenSea,
        masthead_m: None,
    };
    let mut forecast = table(day, wrong).map(|table| Forecast::new(table, frame));
    let mut odds = Odds::default();
    let mut told: [Option<Told>; LIMITS_KN.len()] = [None; LIMITS_KN.len()];
    for (minute, (kn, measured)) in day.wind_kn.iter().zip(&day.measured).enumerate() {
        let ends_s = (minute as i64 + 1) * 60;
        if let Some(forecast) = &mut forecast {
            forecast.step(ends_s - 60, *kn, None);
            if minute % ASKED_MIN == 0 {
                told = LIMITS_KN.map(|limit_kn| {
                    let limit = Limit {
                        mean: Knots::new(limit_kn).ok(),
                        gust: None,
                    };
                    forecast.curve(limit, 1.3, ends_s)
                });
            }
        }
        let weight = forecast.as_ref().map_or(0.0, Forecast::weight);
        for ((row, measured), told) in odds.iter_mut().zip(measured).zip(told) {
            for (cell, call_time_s) in row.iter_mut().zip(CALL_TIMES_S) {
                // As the hindcast asks: the call time and one sample more.
                let horizon_s = call_time_s + 60;
                let asked = match (*measured, told) {
                    (Some(measured), Some(told)) => Joined {
                        measured,
                        told,
                        weight,
                    }
                    .odds(horizon_s),
                    (Some(measured), None) => measured.odds(horizon_s),
                    (None, _) => f64::NAN,
                };
                cell.push(asked);
            }
        }
    }
    (odds, forecast)
}

fn judged(day: &Day, odds: &Odds) -> Vec<Judged> {
    let wind: Arc<[f64]> = running_mean(&day.wind_kn, 60).into();
    let slots = day.wind_kn.iter().map(|kn| Some(Summary::of_wind(*kn, 60)));
    let series = Slots {
        name: String::new(),
        start_s: 0,
        step_s: 60,
        slots: slots.collect(),
    };
    let keep: Arc<[bool]> = series.keep(&Part::default()).into();
    let mut all = Vec::new();
    for (limit_kn, row) in LIMITS_KN.into_iter().zip(odds) {
        let limit = Arc::new(Crossings::new(&wind, &day.wind_kn, limit_kn, 60));
        for (call_time_s, odds) in CALL_TIMES_S.into_iter().zip(row) {
            let cell = Cell::new(limit_kn, call_time_s);
            all.push(Judged::new(
                (0, &series),
                (0, &cell),
                &limit,
                &keep,
                odds.clone(),
            ));
        }
    }
    all
}

/// What one kind of error does.
struct Outcome {
    name: &'static str,
    total: Tally,
    /// Where the measured odds are higher: never.
    lowered: usize,
    words: String,
}

fn outcomes() -> Vec<Outcome> {
    let setting = Calling::default().odds;
    let days: Vec<Day> = (JUDGED_FROM..JUDGED_FROM + DAYS).map(day).collect();
    let absent: Vec<Odds> = days.iter().map(|day| odds(day, Wrong::Absent).0).collect();
    let one = |(name, wrong): (&'static str, Wrong)| {
        let mut outcome = Outcome {
            name,
            total: Tally::default(),
            lowered: 0,
            words: String::new(),
        };
        for (day, absent) in days.iter().zip(&absent) {
            let (with, forecast) = odds(day, wrong);
            for it in judged(day, &with) {
                let stands = alarm::stands(&it, Caller::Odds, setting);
                let one = count(&it, &stands, 0.0, 86_400).total();
                outcome.total.add(&one, 1.0);
            }
            outcome.lowered += lowered(absent, &with);
            if let Some(forecast) = forecast {
                outcome.words = forecast.words().to_string();
            }
        }
        outcome
    };
    std::thread::scope(|scope| {
        let running = WRONG.map(|wrong| {
            let one = &one;
            scope.spawn(move || one(wrong))
        });
        let outcomes = running.into_iter().map(|it| it.join().expect("no panic"));
        outcomes.collect()
    })
}

fn lowered(without: &Odds, with: &Odds) -> usize {
    let all = |odds: &Odds| {
        odds.iter()
            .flatten()
            .flatten()
            .copied()
            .collect::<Vec<f64>>()
    };
    let pairs = all(without).into_iter().zip(all(with));
    pairs.filter(|(without, with)| with < without).count()
}

fn written(outcomes: &[Outcome]) -> String {
    let mut text = String::new();
    let crossings = outcomes.first().map_or(0.0, |it| it.total.crossings);
    let days = outcomes.first().map_or(0.0, |it| it.total.days);
    let _ = writeln!(
        text,
        "What forecasts of known error do, at the shipped setting {}.",
        Calling::default().odds
    );
    let _ = writeln!(
        text,
        "Invented weather: {DAYS} days on which nothing was chosen, limits 20 and 24 kn,\n\
         call times 10, 20, 40 min,\n\
         fronts within 15 to 60 min out of quiet air, which measured odds seldom see coming:\n\
         {crossings:.0} crossings to be warned of, {days:.0} days of all cells.\n\
         Made by CRINGLE_BLESS=1 cargo test -p cringle-tests --test forecast\n"
    );
    let _ = writeln!(
        text,
        "{:<24} {:>7} {:>9} {:>9} {:>8}  said at the end of the last day",
        "the weather is", "warned", "too early", "idle/24h", "needless"
    );
    for it in outcomes {
        let total = &it.total;
        let _ = writeln!(
            text,
            "{:<24} {:>7.2} {:>9.2} {:>8.0}m {:>8.2}  {}",
            it.name,
            total.warned / total.crossings,
            total.too_early / total.warned.max(1.0),
            total.idle_min / total.days,
            total.sounded / total.days,
            it.words,
        );
    }
    text + "\nwarned: share of crossings with a call standing the call time before.\n\
            too early: share of those that had stood longer than twice the call time and 30 min.\n\
            idle/24h: minutes a day of readiness that led to nothing, by limit and call time.\n\
            needless: calls a day sounded at an idle moment, by limit and call time.\n"
}

#[test]
fn a_forecast_warns_more_often_and_a_wrong_one_never_less() {
    let outcomes = outcomes();
    let text = written(&outcomes);
    println!("{text}");
    let difference = snapshot::difference(SNAPSHOT.as_ref(), &text);
    let command = "cargo test -p cringle-tests --test forecast";
    snapshot::none_moved(&difference.into_iter().collect::<Vec<_>>(), command);

    let share = |name: &str| {
        let it = outcomes.iter().find(|it| it.name == name).expect(name);
        it.total.warned / it.total.crossings
    };
    for it in &outcomes {
        assert_eq!(it.lowered, 0, "{}: odds under the measured ones", it.name);
        assert!(share(it.name) >= share("no forecast"), "{}", it.name);
    }
    assert!(share("exact") >= share("no forecast") + 0.2);
    // On any of them, right or wrong, the crew is not called at for nothing
    // more than once a day.
    for it in &outcomes {
        let needless = it.total.sounded / it.total.days;
        assert!(needless <= 1.0, "{}: {needless}", it.name);
    }
}
