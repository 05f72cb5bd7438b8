//! All that a hindcast finds, as plain figures with their bounds.

use cringle_core::boat::Calling;
use rayon::prelude::*;

use crate::aboard::Played;
use crate::alarm;
use crate::bounds::{self, Bounds};
use crate::curve::{Caller, Curve, LEVELS, Point};
use crate::judged::{Cell, Judged};
use crate::reliability::{self, Reliability};
use crate::series::Series;
use crate::tally::{self, Outcome, Stands, Tally};
use crate::truth::Truth;

/// Points of a curve that are kept for drawing.
const DRAWN: usize = 120;
/// Idle minutes up to which a curve is drawn.
pub const DRAWN_TO_MIN: f64 = 150.0;
/// The crew shall not be sounded at needlessly more often in 24 h.
pub const MOST_SOUNDED: f64 = 1.0;
/// Settings of a fixed pre-alarm that are looked through for one that idles as
/// long as ours: halvings of what its scores span.
const HALVINGS: usize = 24;

/// A figure with how sure it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// What was found; none where there was nothing to find it from.
    pub value: Option<f64>,
    /// Bounds; none where there are too few days.
    pub bounds: Option<Bounds>,
}

/// What is judged.
#[derive(Clone, Debug)]
pub struct Asked {
    /// Limits and call times.
    pub cells: Vec<Cell>,
    /// When is called; its odds are the one setting.
    pub calling: Calling,
    /// Where the local hour is reckoned from.
    pub longitude_deg: f64,
}

/// Everything.
#[derive(Clone, Debug)]
pub struct Report {
    /// The cells.
    pub cells: Vec<Cell>,
    /// All series together, then each if there are several.
    pub pools: Vec<Pool>,
    /// Each cell over all series, with its own best setting.
    pub by_cell: Vec<Pool>,
    /// At the one setting, beside fixed pre-alarms that idle as long.
    pub at_setting: Vec<AtSetting>,
    /// What other settings of the odds would cost.
    pub prices: Vec<Price>,
    /// The soonest setting that sounds needlessly at most once in 24 h in every
    /// cell.
    pub soonest: Option<Price>,
    /// Odds against outcomes.
    pub reliability: Reliability,
    /// The figure against outcomes, where a series was played.
    pub truth: Option<Truth>,
    /// Length of a block of the bounds, days.
    pub block_days: i64,
}

/// Curves of all callers on some cells and series together.
#[derive(Clone, Debug)]
pub struct Pool {
    /// What was pooled.
    pub name: String,
    /// Days of wind that were judged.
    pub days: f64,
    /// Crossings that could be missed, once for each call time.
    pub judged: usize,
    /// Crossings of all limits.
    pub crossings: usize,
    /// One for each caller.
    pub rows: Vec<Row>,
}

/// One caller's curve.
#[derive(Clone, Debug)]
pub struct Row {
    /// Who calls.
    pub caller: Caller,
    /// Share warned at [`LEVELS`].
    pub shares: [Figure; LEVELS.len()],
    /// Settings at [`LEVELS`].
    pub settings: [Option<f64>; LEVELS.len()],
    /// For drawing.
    pub points: Vec<Point>,
}

/// What became of all calls of one caller at one setting.
#[derive(Clone, Debug)]
pub struct AtSetting {
    /// Who calls.
    pub caller: Caller,
    /// The setting, as a score.
    pub setting: f64,
    /// Sums over cells and series.
    pub total: Tally,
    /// [`FIGURES`] in their order.
    pub figures: [Figure; FIGURES.len()],
    /// Most needless sounded calls per 24 h of a single cell, and its place.
    pub worst_sounded: Option<(f64, usize)>,
}

/// What is told of a setting: key and words.
pub const FIGURES: [(&str, &str); 13] = [
    ("share_warned", "share warned in time"),
    ("idle_min_per_24h", "idle minutes per 24 h"),
    ("nuisance_calls_per_24h", "nuisance calls per 24 h"),
    (
        "needless_sounded_per_24h",
        "needless sounded calls per 24 h",
    ),
    ("needless_wakes_per_night", "needless wakes per night"),
    ("raised_per_crossing", "calls raised per crossing"),
    ("hours_standing_a_night", "hours of a night a call stands"),
    ("hours_silent_a_night", "of these in silence"),
    ("share_too_early", "share of the warned too early"),
    (
        "squall_share_at_call_time",
        "squalls warned the call time before",
    ),
    ("squall_share_at_2min", "squalls warned 2 min before"),
    ("median_lead_min", "median lead, minutes"),
    (
        "tenth_percentile_lead_min",
        "tenth-percentile lead, minutes",
    ),
];
/// Of these, so many come of sums; the others are leads.
const OF_SUMS: usize = 11;
const LEADS: [f64; 2] = [0.5, 0.1];

/// What a setting of the odds costs and buys.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Price {
    /// The setting.
    pub setting: f64,
    /// Sums over cells and series.
    pub total: Tally,
    /// Needless sounded calls per 24 h in the worst cell.
    pub worst_sounded: f64,
}

impl Price {
    /// Share warned in time.
    pub fn share(&self) -> Option<f64> {
        ratio(self.total.warned, self.total.crossings)
    }

    /// Needless sounded calls per 24 h, mean of the cells.
    pub fn sounded(&self) -> f64 {
        self.total.sounded / self.total.days
    }
}

/// Works everything out. `played` is what the engine did in each of `judged`.
pub fn report(
    asked: &Asked,
    judged: &[Judged],
    played: &[Option<Played>],
    series: &[Series],
) -> Report {
    let all: Vec<&Judged> = judged.iter().collect();
    let block_s = bounds::block_s(judged);
    let prices = prices(asked, judged);
    // Not all later ones need do: calls that stand on run together.
    let soonest = prices.iter().rfind(|it| it.worst_sounded <= MOST_SOUNDED);
    let mut pools = vec![("all together".to_owned(), all.clone())];
    if series.len() > 1 {
        pools.extend(series.iter().enumerate().map(|(place, it)| {
            let of = judged.iter().filter(|it| it.series == place);
            (it.name.clone(), of.collect())
        }));
    }
    let of_cell = |(place, cell): (usize, &Cell)| {
        let of = judged.iter().filter(|it| it.cell == place);
        (cell.words(), of.collect())
    };
    let cells: Vec<_> = asked.cells.iter().enumerate().map(of_cell).collect();
    let pool = |(name, of): &(String, Vec<&Judged>)| pool(name, of, block_s);
    Report {
        cells: asked.cells.clone(),
        at_setting: at_setting(asked, judged, played, block_s),
        pools: pools.par_iter().map(pool).collect(),
        by_cell: cells.par_iter().map(pool).collect(),
        soonest: soonest.copied(),
        prices,
        reliability: reliability::account(&all, block_s),
        truth: truth(judged, played),
        block_days: block_s / 86_400,
    }
}

/// A part of a whole; none where there is no whole.
pub fn ratio(part: f64, whole: f64) -> Option<f64> {
    (whole > 0.0).then(|| part / whole)
}

fn of_sums(it: &Tally) -> [Option<f64>; OF_SUMS] {
    [
        ratio(it.warned, it.crossings),
        ratio(it.idle_min, it.days),
        ratio(it.nuisance, it.days),
        ratio(it.sounded, it.days),
        ratio(it.wakes, it.days),
        ratio(it.raised, it.all_crossings),
        ratio(it.night_h, it.days),
        ratio(it.silent_night_h, it.days),
        ratio(it.too_early, it.warned),
        ratio(it.squalls_warned, it.squalls),
        ratio(it.squalls_shortly, it.squalls),
    ]
}

/// The smallest value that so large a share is at or under.
fn percentile(sorted: &[f64], share: f64) -> Option<f64> {
    let place = (share * sorted.len() as f64).ceil() as usize;
    sorted.get(place.saturating_sub(1)).copied()
}

fn pool(name: &str, of: &[&Judged], block_s: i64) -> Pool {
    // Cells of one series share its days; a limit shares its crossings.
    let mut seen = std::collections::BTreeMap::new();
    for it in of {
        let key = (it.series, it.limit.limit_kn.to_bits());
        seen.insert(key, (it.days, it.crossings.len()));
    }
    let mut days = std::collections::BTreeMap::new();
    for ((series, _), (of_series, _)) in &seen {
        days.insert(series, of_series);
    }
    let row = |caller| row(caller, of, block_s);
    Pool {
        name: name.into(),
        days: days.values().copied().sum(),
        judged: of.iter().map(|it| it.missable.len()).sum(),
        crossings: seen.values().map(|(_, crossings)| crossings).sum(),
        rows: Caller::SWEPT.into_par_iter().map(row).collect(),
    }
}

fn row(caller: Caller, of: &[&Judged], block_s: i64) -> Row {
    let curve = Curve::sweep(caller, of);
    let drawn = bounds::of_curve(caller, of, &curve, &LEVELS, block_s);
    Row {
        caller,
        shares: std::array::from_fn(|k| Figure {
            value: curve.share_at(LEVELS[k]),
            bounds: drawn[k].filter(|_| curve.crossings > 0),
        }),
        settings: LEVELS.map(|level| curve.setting_at(level)),
        points: curve.thinned(DRAWN_TO_MIN, DRAWN),
    }
}

/// The odds by themselves, the engine where it was played, and fixed
/// pre-alarms that idle as long as the last of these.
fn at_setting(
    asked: &Asked,
    judged: &[Judged],
    played: &[Option<Played>],
    block_s: i64,
) -> Vec<AtSetting> {
    let setting = asked.calling.odds;
    let cells = || judged.iter().zip(played);
    let stands: Option<Vec<&[Stands]>> = played
        .iter()
        .map(|it| it.as_ref().map(|it| &it.stands[..]))
        .collect();
    let mut ours = vec![by_alarm(asked, judged, Caller::Odds, setting, block_s)];
    if let Some(stands) = stands.filter(|it| !it.is_empty()) {
        let counted = cells().zip(stands);
        let outcomes = counted.map(|((it, _), stands)| count(asked, it, stands, block_s));
        ours.push(sum_up(
            Caller::Aboard,
            setting,
            judged,
            &outcomes.collect::<Vec<_>>(),
        ));
    }
    let idle_min = ours.last().and_then(|it| it.figures[1].value);
    let fixed = [Caller::Fraction, Caller::Knots].into_par_iter();
    let fixed = fixed.map(|caller| {
        let setting = idles_as_long(asked, judged, caller, idle_min.unwrap_or(0.0));
        by_alarm(asked, judged, caller, setting, block_s)
    });
    let mut rows: Vec<AtSetting> = fixed.collect();
    rows.extend(ours);
    rows
}

/// The setting of a fixed pre-alarm that idles so long, hysteresis and all.
fn idles_as_long(asked: &Asked, judged: &[Judged], caller: Caller, idle_min: f64) -> f64 {
    let (mut soon, mut late) = match caller {
        Caller::Knots => (-60.0, 0.0),
        Caller::Fraction | Caller::Odds | Caller::Aboard => (0.0, 1.0),
    };
    for _ in 0..HALVINGS {
        let middle = (soon + late) / 2.0;
        let total = total(asked, judged, caller, middle);
        match total.idle_min > idle_min * total.days {
            true => soon = middle,
            false => late = middle,
        }
    }
    late
}

fn total(asked: &Asked, judged: &[Judged], caller: Caller, setting: f64) -> Tally {
    let mut total = Tally::default();
    for it in judged {
        let stands = alarm::stands(it, caller, setting);
        total.add(&count(asked, it, &stands, i64::MAX).total(), 1.0);
    }
    total
}

fn count(asked: &Asked, it: &Judged, stands: &[Stands], block_s: i64) -> Outcome {
    tally::count(it, stands, asked.longitude_deg, block_s)
}

fn by_alarm(
    asked: &Asked,
    judged: &[Judged],
    caller: Caller,
    setting: f64,
    block_s: i64,
) -> AtSetting {
    let one = |it: &Judged| count(asked, it, &alarm::stands(it, caller, setting), block_s);
    let outcomes: Vec<Outcome> = judged.par_iter().map(one).collect();
    sum_up(caller, setting, judged, &outcomes)
}

fn sum_up(caller: Caller, setting: f64, judged: &[Judged], outcomes: &[Outcome]) -> AtSetting {
    let mut total = Tally::default();
    let mut cells = std::collections::BTreeMap::<usize, Tally>::new();
    for (it, outcome) in judged.iter().zip(outcomes) {
        total.add(&outcome.total(), 1.0);
        cells.entry(it.cell).or_default().add(&outcome.total(), 1.0);
    }
    let mut leads: Vec<f64> = outcomes
        .iter()
        .flat_map(|it| it.leads.iter().map(|(_, lead)| *lead))
        .collect();
    leads.sort_unstable_by(f64::total_cmp);
    let drawn_leads = bounds::of_leads(outcomes, &LEADS);
    let drawn_sums = bounds::of_outcomes(outcomes, of_sums);
    let sums = of_sums(&total);
    let figures = std::array::from_fn(|k| match k.checked_sub(OF_SUMS) {
        None => Figure {
            value: sums[k],
            bounds: drawn_sums[k],
        },
        Some(lead) => Figure {
            value: percentile(&leads, LEADS[lead]),
            bounds: drawn_leads[lead],
        },
    });
    let sounded = cells
        .iter()
        .filter_map(|(cell, it)| Some((ratio(it.sounded, it.days)?, *cell)));
    AtSetting {
        caller,
        setting,
        total,
        figures,
        worst_sounded: sounded.max_by(|a, b| a.0.total_cmp(&b.0)),
    }
}

/// Settings from late to soon: an eighth of a factor of e apart.
fn settings() -> impl Iterator<Item = f64> {
    (0..44).map(|k| 0.9 * 0.89_f64.powi(k))
}

fn prices(asked: &Asked, judged: &[Judged]) -> Vec<Price> {
    let settings: Vec<f64> = settings().collect();
    let price = |setting: &f64| {
        let mut cells = vec![Tally::default(); asked.cells.len()];
        for it in judged {
            let stands = alarm::stands(it, Caller::Odds, *setting);
            cells[it.cell].add(&count(asked, it, &stands, i64::MAX).total(), 1.0);
        }
        let mut total = Tally::default();
        let mut worst_sounded = 0.0_f64;
        for cell in &cells {
            total.add(cell, 1.0);
            worst_sounded = worst_sounded.max(ratio(cell.sounded, cell.days).unwrap_or(0.0));
        }
        Price {
            setting: *setting,
            total,
            worst_sounded,
        }
    };
    settings.par_iter().map(price).collect()
}

fn truth(judged: &[Judged], played: &[Option<Played>]) -> Option<Truth> {
    let mut truth: Option<Truth> = None;
    for (it, played) in judged.iter().zip(played) {
        if let Some(played) = played {
            truth.get_or_insert_default().add(it, played);
        }
    }
    truth
}
