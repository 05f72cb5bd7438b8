//! As aboard: a series played into the engine, holds and all.
//!
//! A still boat with one limit, on one plan throughout: nobody touches a key.
//! She hears one true wind a second. Nothing is known of the wind within a slot
//! but its mean, and its gust where there is one, so each slot is filled with
//! the same small gusts about its mean: no second knows more of what comes than
//! the sample that it belongs to. A call time is two minutes of getting ready,
//! a change of six minutes, and an open set-up for the rest. Nothing is said of
//! time or place, so it is day. What stands at the end of a slot is what stands
//! in it.
//!
//! Slots coarser than a minute are not played: within ten minutes a boat hears
//! more than their mean.

use cringle_core::angle::BowAngle;
use cringle_core::boat::{Boat, Calling, Crew};
use cringle_core::event::Call;
use cringle_core::outlook::Summary;
use cringle_core::reading::{Heard, Measure, Rank, Reading, SourceId};
use cringle_core::time::Timestamp;
use cringle_core::units::Knots;
use cringle_core::view::View;
use cringle_engine::engine::Engine;
use rayon::prelude::*;

use crate::bounds::Random;
use crate::judged::{By, Cell};
use crate::series::Series;
use crate::tally::Stands;

/// Slots up to this are played, seconds.
pub const LONGEST_STEP_S: u32 = 90;

/// The change itself, and getting ready for it; shorter call times have less
/// of both.
const CHANGE_MIN: f64 = 6.0;
const READY_MIN: f64 = 2.0;
/// Standard deviation of the gusts where none are known, as a share of the mean
/// (open water: from memory), and the time over which they are alike, seconds.
const TURBULENCE: f64 = 0.06;
const GUST_S: f64 = 8.0;
/// The angle at which the wind comes in: close-hauled.
const TWA_DEG: f64 = 45.0;

/// What one cell heard and called, by slot.
#[derive(Clone, Debug, PartialEq)]
pub struct Played {
    /// Whether a call stood.
    pub stands: Vec<Stands>,
    /// The figure: minutes within which the limit is passed at the odds of the
    /// setting, where one was shown; unrounded.
    pub soonest_min: Vec<Option<f64>>,
}

/// Plays all cells on all series, in the order of cells within series. None for
/// cells by gust where no gusts are known, and for coarse series.
pub fn play_all(
    series: &[Series],
    cells: &[Cell],
    calling: &Calling,
    progress: impl Fn() + Sync,
) -> Vec<Option<Played>> {
    let work: Vec<(&Series, &Cell)> = series
        .iter()
        .flat_map(|series| cells.iter().map(move |cell| (series, cell)))
        .collect();
    let play = |(series, cell): &(&Series, &Cell)| {
        let played = is_played(series).then(|| play(series, cell, calling));
        progress();
        played.flatten()
    };
    work.par_iter().map(play).collect()
}

/// Whether a series is fine enough.
pub fn is_played(series: &Series) -> bool {
    series.step_s <= LONGEST_STEP_S
}

/// Plays one cell; none where no boat can be made of it.
pub fn play(series: &Series, cell: &Cell, calling: &Calling) -> Option<Played> {
    let boat = boat(cell, calling)?;
    let mut engine = Engine::new(&boat, Vec::new(), None, Timestamp::ZERO);
    let mut gusts = Gusts::new();
    let mut played = Played {
        stands: Vec::with_capacity(series.slots.len()),
        soonest_min: Vec::with_capacity(series.slots.len()),
    };
    let mut at_s = 0;
    for slot in &series.slots {
        let winds = slot.map(|summary| gusts.around(&summary, series.step_s));
        for second in 0..u64::from(series.step_s) {
            let wind = winds.as_ref().and_then(|winds| winds.get(second as usize));
            if let Some(reading) = wind.and_then(|kn| reading(*kn, at_s + second)) {
                engine.reading(&reading, reading.at);
            }
        }
        at_s += u64::from(series.step_s);
        engine.tick(Timestamp::from_secs(at_s));
        engine.events();
        let view = engine.view();
        played.stands.push(stands(&view));
        let soonest_s = view.call.soonest_s;
        played
            .soonest_min
            .push(soonest_s.map(|seconds| seconds / 60.0));
    }
    Some(played)
}

fn stands(view: &View) -> Stands {
    match view.call.call {
        Call::None | Call::Blind => Stands::Not,
        Call::Prepare | Call::Reduce | Call::Past => match view.sounds.cockpit {
            Some(_) => Stands::Sounding,
            None => Stands::Silent,
        },
    }
}

fn reading(kn: f64, second: u64) -> Option<Reading> {
    Some(Reading {
        source: SourceId(0),
        rank: Rank::AUTOMATIC,
        at: Timestamp::from_secs(second),
        heard: Heard::Value(Measure::TrueWind {
            angle: BowAngle::new(TWA_DEG)?,
            speed: Knots::new(kn).ok()?,
        }),
    })
}

/// Getting ready, change and set-up, minutes.
fn parts(cell: &Cell) -> [f64; 3] {
    let whole = f64::from(cell.call_time_s) / 60.0;
    let ready = READY_MIN.min(whole / 5.0);
    let change = CHANGE_MIN.min(0.6 * whole);
    [ready, change, whole - ready - change]
}

/// A boat of one limit; the words are those of a boat file.
fn boat(cell: &Cell, calling: &Calling) -> Option<Boat> {
    let [ready, change, setup] = parts(cell);
    let by = match cell.by {
        By::Mean => "mean_kn",
        By::Gust => "gust_kn",
    };
    let text = format!(
        "format = 1\n[boat]\nname = \"hindcast\"\n\
         [[plan]]\nname = \"set\"\nshort = \"set\"\narea_m2 = 60\n{by} = {limit}\n\
         [[plan]]\nname = \"less\"\nshort = \"less\"\narea_m2 = 0\n\
         [[setup]]\nname = \"open\"\nminutes = {setup:.3}\nhands = 1\n\
         [[change]]\nfrom = \"set\"\nto = \"less\"\nminutes = {{ 1 = {change:.3} }}\n\
         setup = [\"open\"]\ncomes_up = false\n[start]\non_deck = 1\nbelow = 0\n",
        limit = cell.limit_kn
    );
    let mut boat = cringle_boat::parse("hindcast", &text).ok()?.boat;
    boat.crew = Crew {
        ready_minutes: ready,
        ..boat.crew
    };
    boat.calling = *calling;
    Some(boat)
}

/// Small gusts about a mean, the same for every cell of a series.
struct Gusts {
    random: Random,
    now: f64,
}

impl Gusts {
    fn new() -> Gusts {
        Gusts {
            // Any other does as well.
            random: Random(5),
            now: 0.0,
        }
    }

    /// Winds of a slot, a second each, whose mean is the slot's.
    fn around(&mut self, summary: &Summary, step_s: u32) -> Vec<f64> {
        let keeps = (-1.0 / GUST_S).exp();
        let mut winds: Vec<f64> = (0..step_s)
            .map(|_| {
                self.now = keeps * self.now + (1.0 - keeps * keeps).sqrt() * self.normal();
                self.now
            })
            .collect();
        let count = winds.len() as f64;
        let mean = winds.iter().sum::<f64>() / count;
        let most = winds
            .windows(3)
            .map(|three| three.iter().sum::<f64>() / 3.0);
        let most = most.fold(f64::MIN, f64::max) - mean;
        let size_kn = match summary.gust_kn {
            Some(gust_kn) if gust_kn > summary.mean_kn && most > 0.0 => {
                (gust_kn - summary.mean_kn) / most
            }
            Some(_) | None => TURBULENCE * summary.mean_kn,
        };
        for wind in &mut winds {
            *wind = (summary.mean_kn + size_kn * (*wind - mean)).max(0.0);
        }
        winds
    }

    /// About normal: twelve equal chances less six.
    fn normal(&mut self) -> f64 {
        let equal = |random: &mut Random| (random.next() >> 11) as f64 / (1_u64 << 53) as f64;
        (0..12).map(|_| equal(&mut self.random)).sum::<f64>() - 6.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cringle_core::act::Hands;
    use cringle_core::ladder::{Circumstances, PlanId, call_time};

    fn series(winds: impl Iterator<Item = f64>) -> Series {
        Series {
            name: String::new(),
            start_s: 0,
            step_s: 60,
            slots: winds.map(|kn| Some(Summary::of_wind(kn, 60))).collect(),
        }
    }

    #[test]
    fn the_boat_takes_the_call_time_and_has_the_limit() {
        for minutes in [5, 10, 20, 40] {
            let cell = Cell::new(18.0, 60 * minutes);
            let boat = boat(&cell, &Calling::default()).unwrap();
            let change = boat.ladder.reductions(PlanId(0)).next().unwrap();
            let hands = Hands {
                on_deck: 1,
                below: 0,
            };
            let now = Circumstances::fair(hands);
            let job = call_time(&boat.ladder, &boat.crew, change, &now);
            let total_s = job.job().unwrap().time.total_s();
            assert!(
                (total_s - 60.0 * f64::from(minutes)).abs() < 1.0,
                "{total_s}"
            );
            assert_eq!(
                boat.ladder.plans[0].limits.close_hauled.mean,
                Knots::new(18.0).ok()
            );
        }
    }

    #[test]
    fn gusts_keep_the_mean_and_reach_the_gust() {
        let summary = Summary {
            gust_kn: Some(16.0),
            ..Summary::of_wind(12.0, 60)
        };
        let winds = Gusts::new().around(&summary, 60);
        let mean = winds.iter().sum::<f64>() / 60.0;
        let gust = winds
            .windows(3)
            .map(|three| three.iter().sum::<f64>() / 3.0);
        assert!((mean - 12.0).abs() < 1e-9, "{mean}");
        assert!((gust.fold(0.0, f64::max) - 16.0).abs() < 1e-9);
    }

    #[test]
    fn a_rise_is_called_before_the_limit_and_a_calm_is_not() {
        let rise = series((0..240).map(|minute| 8.0 + f64::from(minute) / 15.0));
        let cell = Cell::new(20.0, 1200);
        let played = play(&rise, &cell, &Calling::default()).unwrap();
        let first = played.stands.iter().position(|it| *it != Stands::Not);
        assert!(
            first.is_some_and(|minute| (60..175).contains(&minute)),
            "{first:?}"
        );
        assert!(played.soonest_min.iter().any(Option::is_some));
        let calm = series((0..240).map(|_| 8.0));
        let played = play(&calm, &cell, &Calling::default()).unwrap();
        assert!(played.stands.iter().all(|it| *it == Stands::Not));
    }
}
