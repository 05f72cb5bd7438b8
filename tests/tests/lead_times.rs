//! The lead-time table: how long before the wind's mean reaches the limit each
//! word comes, by rate of rise, crew and turbulence.
//!
//! The core alone, fed at 1 Hz. Nobody aboard acts. Here every fifth row is
//! played; all are by the first of these, and are written anew by the second.
//!
//! ```sh
//! CRINGLE_NET=all cargo test -p cringle-tests --test lead_times
//! CRINGLE_BLESS=1 cargo test -p cringle-tests --test lead_times
//! ```

use std::collections::BTreeSet;
use std::f64::consts::TAU;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use cringle_boat::BoatFile;
use cringle_core::act::Hands;
use cringle_core::angle::{Bearing, BowAngle};
use cringle_core::event::{Call, EventKind};
use cringle_core::reading::{Heard, Measure, Rank, Reading, SourceId};
use cringle_core::time::{Timestamp, UtcFix, UtcQuality};
use cringle_core::units::{Knots, Position, SignedKnots};
use cringle_core::watch::Watch;
use cringle_tests::snapshot;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

/// As many tellings of each cell.
const SEEDS: u64 = 10;

/// The mean wind that full sail carries in `lead_times.toml`.
const LIMIT_KN: f64 = 20.0;

/// A steady wind comes first for so long: the core's trends need 20 minutes.
const STEADY_S: u64 = 30 * 60;

/// Then it rises from here to there, past the limit.
const RISES_FROM_KN: f64 = 15.0;
const RISES_TO_KN: f64 = 26.0;

/// So long after the limit nothing more is awaited.
const AFTERWARDS_S: u64 = 20 * 60;

/// Turbulence forgets itself over so long: a length of 170 m (IEC 61400-1,
/// along the wind at 30 m: 8.1 times 21 m) blown by at 9 m/s.
const FORGETS_S: f64 = 20.0;

/// What instruments add by themselves (common practice, no source).
const NOISE_KN: f64 = 0.1;
const NOISE_DEG: f64 = 0.5;

/// She sails like this all the time.
const STW_KN: f64 = 6.0;
const TWA_DEG: f64 = 60.0;

#[derive(Clone, Copy)]
enum Rise {
    KnotsAnHour(f64),
    Step,
}

/// The slowest takes as long as all others together.
const RISES: [Rise; 6] = [
    Rise::KnotsAnHour(1.0),
    Rise::KnotsAnHour(3.0),
    Rise::KnotsAnHour(6.0),
    Rise::KnotsAnHour(10.0),
    Rise::KnotsAnHour(20.0),
    Rise::Step,
];

#[derive(Clone, Copy)]
struct Crew {
    name: &'static str,
    on_deck: u8,
    below: u8,
    /// Light or dark for all of the longest run, at 50 north.
    begins_unix_ms: i64,
}

/// 2026-06-21 08:00 and 2026-12-21 18:00 UTC.
const DAY_MS: i64 = 1_782_028_800_000;
const NIGHT_MS: i64 = 1_797_876_000_000;

const CREWS: [Crew; 3] = [
    Crew {
        name: "two by day",
        on_deck: 2,
        below: 0,
        begins_unix_ms: DAY_MS,
    },
    Crew {
        name: "one and one asleep, night",
        on_deck: 1,
        below: 1,
        begins_unix_ms: NIGHT_MS,
    },
    Crew {
        name: "six by day",
        on_deck: 4,
        below: 2,
        begins_unix_ms: DAY_MS,
    },
];

/// Standard deviation of the wind as a share of its mean.
const TURBULENCE: [f64; 2] = [0.0, 0.08];

impl Rise {
    fn name(self) -> String {
        match self {
            Rise::KnotsAnHour(rate) => format!("{rate} kn/h"),
            Rise::Step => "step".into(),
        }
    }

    fn mean_kn(self, second: u64) -> f64 {
        let hours = second.saturating_sub(STEADY_S) as f64 / 3600.0;
        match self {
            Rise::KnotsAnHour(rate) => (RISES_FROM_KN + rate * hours).min(RISES_TO_KN),
            Rise::Step if hours > 0.0 => RISES_TO_KN,
            Rise::Step => RISES_FROM_KN,
        }
    }

    /// When the mean reaches the limit.
    fn limit_s(self) -> u64 {
        let mut second = STEADY_S;
        while self.mean_kn(second) < LIMIT_KN {
            second += 1;
        }
        second
    }
}

/// Chance, the same on every machine.
struct Dice(ChaCha8Rng);

impl Dice {
    fn share(&mut self) -> f64 {
        (self.0.next_u32() as f64 + 0.5) / 4_294_967_296.0
    }

    /// Of mean 0 and variance 1.
    fn normal(&mut self) -> f64 {
        let size = libm::sqrt(-2.0 * libm::log(self.share()));
        size * libm::cos(TAU * self.share())
    }
}

/// What one telling gave, in minutes before the limit; negative after it.
#[derive(Clone, Default)]
struct Told {
    prepare: Option<f64>,
    reduce: Option<f64>,
    past: Option<f64>,
    work: Option<f64>,
    /// Calls that rose from nothing.
    calls: usize,
}

fn boat_file() -> BoatFile {
    let text = include_str!("../data/lead_times.toml");
    cringle_boat::parse("lead_times.toml", text).unwrap()
}

fn tell(rise: Rise, crew: Crew, turbulence: f64, seed: u64) -> Told {
    let mut boat = boat_file().boat;
    boat.start.hands = Hands {
        on_deck: crew.on_deck,
        below: crew.below,
    };
    let mut watch = Watch::new(&boat, None, Timestamp::ZERO);
    let limit_s = rise.limit_s();
    let mut dice = Dice(ChaCha8Rng::seed_from_u64(seed));
    let mut gust = dice.normal();
    let stays = libm::exp(-1.0 / FORGETS_S);
    let mut told = Told::default();
    let mut ids = BTreeSet::new();
    for second in 0..limit_s + AFTERWARDS_S {
        let at = Timestamp::from_secs(second);
        gust = stays * gust + libm::sqrt(1.0 - stays * stays) * dice.normal();
        let tws_kn = rise.mean_kn(second) * (1.0 + turbulence * gust);
        hear(&mut watch, &mut dice, tws_kn, second);
        if second % 60 == 0 {
            let unix_ms = crew.begins_unix_ms + second as i64 * 1000;
            let quality = UtcQuality::Gnss;
            let fix = UtcFix {
                unix_ms,
                at,
                quality,
            };
            watch.set_utc(fix, at);
        }
        watch.tick(at);
        while let Some(event) = watch.next_event() {
            if event.kind != EventKind::Call {
                continue;
            }
            let lead = (limit_s as f64 - event.at.as_secs_f64()) / 60.0;
            if event.call == Call::None && second < limit_s {
                // It let go: what counts is the call that stands at the limit.
                told = Told::default();
            }
            if matches!(event.call, Call::Prepare | Call::Reduce | Call::Past) {
                ids.insert(event.id);
                told.prepare.get_or_insert(lead);
                told.work = told.work.or(event.call_time_s.map(|work| work / 60.0));
            }
            if matches!(event.call, Call::Reduce | Call::Past) {
                told.reduce.get_or_insert(lead);
            }
            if event.call == Call::Past {
                told.past.get_or_insert(lead);
            }
        }
    }
    told.calls = ids.len();
    told
}

fn hear(watch: &mut Watch, dice: &mut Dice, tws_kn: f64, second: u64) {
    let twa = TWA_DEG.to_radians();
    let stw_kn = STW_KN + NOISE_KN * dice.normal();
    let along = tws_kn * libm::cos(twa) + stw_kn;
    let across = tws_kn * libm::sin(twa);
    let aws_kn = libm::sqrt(along * along + across * across) + NOISE_KN * dice.normal();
    let awa_deg = libm::atan2(across, along).to_degrees() + NOISE_DEG * dice.normal();
    let measures = [
        Measure::ApparentWind {
            angle: BowAngle::new(awa_deg).unwrap(),
            speed: Knots::new(aws_kn.max(0.0)).unwrap(),
        },
        Measure::WaterSpeed(SignedKnots::new(stw_kn).unwrap()),
        Measure::HeadingTrue(Bearing::new(90.0 + NOISE_DEG * dice.normal()).unwrap()),
        Measure::Position(Position::new(50.0, 0.0).unwrap()),
    ];
    let at = Timestamp::from_secs(second);
    for (source, measure) in (1..).zip(measures) {
        let reading = Reading {
            source: SourceId(source),
            rank: Rank::AUTOMATIC,
            at,
            heard: Heard::Value(measure),
        };
        watch.hear(&reading, at);
    }
}

/// The middle and the least of what was told, and of how many if not of all.
fn cell(values: impl Iterator<Item = Option<f64>>) -> String {
    let mut values: Vec<f64> = values.flatten().collect();
    values.sort_by(f64::total_cmp);
    let (Some(least), Some(middle)) = (values.first(), values.get(values.len() / 2)) else {
        return "-".into();
    };
    let of = match values.len() as u64 {
        SEEDS => String::new(),
        some => format!(" of {some}"),
    };
    format!("{middle:.1} ({least:.1}){of}")
}

fn line(rise: Rise, crew: Crew, turbulence: f64, told: &[Told]) -> String {
    let is_in_time = |told: &&Told| {
        let both = told.prepare.zip(told.work);
        both.is_some_and(|(prepare, work)| prepare >= work)
    };
    let in_time = told.iter().filter(is_in_time).count();
    let mut work: Vec<f64> = told.iter().filter_map(|told| told.work).collect();
    work.sort_by(f64::total_cmp);
    let work = work.get(work.len() / 2);
    let mut calls: Vec<_> = told.iter().map(|told| told.calls).collect();
    calls.sort_unstable();
    let most = calls.last().unwrap_or(&0);
    let calls = format!("{} ({most})", calls[calls.len() / 2]);
    format!(
        "{:7} {:25} {:>4} {:>15} {:>15} {:>15} {:>5} {:>6} {:>6}\n",
        rise.name(),
        crew.name,
        format!("{:.0}%", turbulence * 100.0),
        cell(told.iter().map(|told| told.prepare)),
        cell(told.iter().map(|told| told.reduce)),
        cell(told.iter().map(|told| told.past)),
        work.map_or("-".into(), |work| format!("{work:.1}")),
        calls,
        format!("{in_time}/{}", told.len()),
    )
}

const HEAD: &str = "\
Minutes before the wind's mean reaches the limit (after it: negative) at which
each word comes, or a louder one: the median of ten seeds, and the least. Nobody
acts. Work is the call time then, in minutes, the median. Calls: how many rose
from nothing, median and most; the leads are those of the one that stands at the
limit. In time: in how many of ten prepare came at least its work ahead.

rise    crew                      turb         prepare          reduce            past  work  calls   time
";

/// One row of the table: every seed of it.
type Row = (Rise, Crew, f64);

fn rows() -> Vec<Row> {
    let of_rise = |rise| {
        let of_crew = move |crew| TURBULENCE.map(move |turbulence| (rise, crew, turbulence));
        CREWS.into_iter().flat_map(of_crew)
    };
    RISES.into_iter().flat_map(of_rise).collect()
}

/// Plays these rows, on all processors, and gives their lines.
fn lines(rows: &[Row]) -> Vec<String> {
    let runs: Vec<(usize, u64)> = (0..rows.len())
        .flat_map(|row| (1..=SEEDS).map(move |seed| (row, seed)))
        .collect();
    let told = Mutex::new(vec![vec![Told::default(); SEEDS as usize]; rows.len()]);
    let next = AtomicUsize::new(0);
    let work = || {
        while let Some(&(row, seed)) = runs.get(next.fetch_add(1, Ordering::Relaxed)) {
            let (rise, crew, turbulence) = rows[row];
            let run = tell(rise, crew, turbulence, seed);
            told.lock().unwrap()[row][seed as usize - 1] = run;
        }
    };
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(work);
        }
    });
    let told = told.into_inner().unwrap();
    let of_row = |((rise, crew, turbulence), told): (&Row, &Vec<Told>)| {
        line(*rise, *crew, *turbulence, told)
    };
    rows.iter().zip(&told).map(of_row).collect()
}

/// The short form plays one row in so many, never the slowest rise: a row of
/// each other rise, and of each crew with and without turbulence.
const SHORT_EVERY: usize = 5;
const SHORT_FROM: usize = 8;

#[test]
fn each_word_comes_as_early_as_it_did() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/lead_times.txt");
    let rows = rows();
    let text = if snapshot::is_long() {
        format!("{HEAD}{}", lines(&rows).concat())
    } else {
        let known = std::fs::read_to_string(&path).unwrap();
        let mut known: Vec<String> = known.lines().map(|line| format!("{line}\n")).collect();
        let short: Vec<usize> = (SHORT_FROM..rows.len()).step_by(SHORT_EVERY).collect();
        let played = lines(&short.iter().map(|row| rows[*row]).collect::<Vec<_>>());
        for (row, line) in short.iter().zip(played) {
            known[HEAD.lines().count() + row] = line;
        }
        known.concat()
    };
    let difference = snapshot::difference(&path, &text);
    let command = "cargo test -p cringle-tests --test lead_times";
    snapshot::none_moved(&difference.into_iter().collect::<Vec<_>>(), command);
}
