//! What ten days through the whole core cost: 1 Hz wind, heel, speed and
//! heading, heard and judged every second, events fetched.
//! `cargo bench -p cringle-core --bench watch`.

use cringle_core::act::{Doing, Hands, Helm};
use cringle_core::angle::{Bearing, BowAngle};
use cringle_core::boat::{Boat, Calling, Crew, Start};
use cringle_core::instruments::{Instruments, Switch};
use cringle_core::ladder::{Change, HandsMinutes, Ladder, Limit, Limits, Plan, PlanId};
use cringle_core::reading::{Heard, Measure, Rank, Reading, SourceId};
use cringle_core::text::text;
use cringle_core::time::Timestamp;
use cringle_core::units::{Degrees, Knots, SignedKnots};
use cringle_core::watch::Watch;
use divan::Bencher;
use divan::counter::ItemsCount;

const TEN_DAYS_S: u64 = 10 * 86_400;

fn main() {
    divan::main();
}

/// Six plans, each change by two hands.
fn boat() -> Boat {
    let mut ladder = Ladder::default();
    for (place, kn) in [16.0, 20.0, 24.0, 30.0, 38.0, 60.0].into_iter().enumerate() {
        let limit = Limit {
            mean: Knots::new(kn).ok(),
            gust: Knots::new(kn * 1.35).ok(),
        };
        let plan = Plan {
            name: text("plan"),
            short: text("plan"),
            area_m2: 90.0 / (1.0 + place as f64),
            limits: Limits {
                close_hauled: limit,
                reaching: limit,
                running: limit,
            },
            heel_limit: Degrees::new(25.0).ok(),
            ..Plan::default()
        };
        ladder.plans.push(plan).unwrap();
    }
    for from in 0..5 {
        let mut change = Change {
            from: PlanId(from),
            to: PlanId(from + 1),
            ..Change::default()
        };
        for (hands, minutes) in [(1, 12.0), (2, 7.0)] {
            let entry = HandsMinutes { hands, minutes };
            change.minutes.push(entry).unwrap();
        }
        ladder.changes.push(change).unwrap();
    }
    Boat {
        name: text("Bench"),
        instruments: Instruments {
            heel_correction: Switch::On,
            leeway_k: Some(12.0),
            ..Instruments::default()
        },
        ladder,
        crew: Crew::default(),
        calling: Calling::default(),
        forecast: None,
        bill: None,
        costs: Default::default(),
        start: Start {
            plan: PlanId(1),
            hands: Hands {
                on_deck: 1,
                below: 3,
            },
            helm: Helm::Pilot,
            doing: Doing::Sailing,
        },
    }
}

fn hear(watch: &mut Watch, measure: Measure, now: Timestamp) {
    let reading = Reading {
        source: SourceId(measure.quantity().index() as u32),
        rank: Rank::AUTOMATIC,
        at: now,
        heard: Heard::Value(measure),
    };
    watch.hear(&reading, now);
}

/// Wind that comes and goes over hours, so that calls come and rest.
fn second(watch: &mut Watch, second: u64) {
    let t = second as f64;
    let now = Timestamp::from_secs(second);
    let mean = 15.0 + 6.0 * (t / 9000.0).sin();
    let angle = BowAngle::new(35.0 + 6.0 * (t * 0.9).sin() + 2.0 * (t * 7.1).sin());
    let speed = Knots::new(mean + 2.0 * (t * 0.3).sin() + (t * 5.3).sin() + 5.0);
    let wind = Measure::ApparentWind {
        angle: angle.unwrap(),
        speed: speed.unwrap(),
    };
    hear(watch, wind, now);
    let heel = Degrees::new(mean + 6.0 * (t * 0.9).sin()).unwrap();
    hear(watch, Measure::Heel(heel), now);
    let stw = SignedKnots::new(6.0 + 0.2 * (t * 0.1).sin()).unwrap();
    hear(watch, Measure::WaterSpeed(stw), now);
    let heading = Bearing::new(60.0 + 3.0 * (t * 0.5).sin()).unwrap();
    hear(watch, Measure::HeadingTrue(heading), now);
}

/// Ten days, once.
#[divan::bench(sample_count = 1, sample_size = 1)]
fn ten_days(bencher: Bencher) {
    let boat = boat();
    bencher
        .counter(ItemsCount::new(4 * TEN_DAYS_S))
        .bench_local(|| {
            let mut watch = Watch::new(&boat, None, Timestamp::ZERO);
            let mut told = 0_u64;
            for now in 0..TEN_DAYS_S {
                second(&mut watch, now);
                while watch.next_event().is_some() {
                    told += 1;
                }
            }
            told
        });
}
