//! All that a hindcast finds, as plain figures with their bounds.

use rayon::prelude::*;

use super::bounds::{self, Bounds};
use super::calls::{self, Manner, Outcome, Tally};
use super::cells::{Caller, Cell, Judged};
use super::curve::{Curve, LEVELS, Point};
use super::reliability::{self, Reliability};
use super::series::Series;

/// Points of a curve that are kept for drawing.
const DRAWN: usize = 120;
/// Idle minutes up to which a curve is drawn.
pub const DRAWN_TO_MIN: f64 = 150.0;
/// The crew shall not be sounded at needlessly more often in 24 h.
pub const MOST_SOUNDED: f64 = 1.0;

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
    /// The one setting.
    pub setting: f64,
    /// How calls are held.
    pub manner: Manner,
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
    /// What other settings would cost.
    pub prices: Vec<Price>,
    /// The soonest setting that sounds needlessly at most once in 24 h.
    pub soonest: Option<Price>,
    /// The same for the worst cell instead of their mean.
    pub soonest_everywhere: Option<Price>,
    /// Odds against outcomes.
    pub reliability: Reliability,
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
    /// Crossings of all limits, once for each call time.
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
pub const FIGURES: [(&str, &str); 11] = [
    ("share_warned", "share warned in time"),
    ("idle_min_per_24h", "idle minutes per 24 h"),
    ("nuisance_calls_per_24h", "nuisance calls per 24 h"),
    (
        "needless_sounded_per_24h",
        "needless sounded calls per 24 h",
    ),
    ("needless_wakes_per_night", "needless wakes per night"),
    ("share_too_early", "share of the warned too early"),
    ("over_limit_min_per_24h", "minutes over the limit per 24 h"),
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
const OF_SUMS: usize = 9;
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

/// Works everything out.
pub fn report(asked: &Asked, judged: &[Judged], series: &[Series]) -> Report {
    let all: Vec<&Judged> = judged.iter().collect();
    let block_s = bounds::block_s(judged);
    let prices = prices(asked, judged);
    let soonest = |sounded: fn(&Price) -> f64| {
        // Not all later ones need do: calls that stand on run together.
        let within = |it: &&Price| sounded(it) <= MOST_SOUNDED;
        prices.iter().rfind(within).copied()
    };
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
    let pools: Vec<Pool> = pools.par_iter().map(pool).collect();
    Report {
        cells: asked.cells.clone(),
        at_setting: at_setting(asked, judged, block_s),
        pools,
        by_cell: cells.par_iter().map(pool).collect(),
        soonest: soonest(Price::sounded),
        soonest_everywhere: soonest(|it| it.worst_sounded),
        prices,
        reliability: reliability::account(&all, block_s),
        block_days: block_s / 86_400,
    }
}

/// What became of the odds' calls at a setting, with bounds.
pub fn judge_setting(
    caller: Caller,
    setting: f64,
    manner: &Manner,
    judged: &[&Judged],
    block_s: i64,
) -> AtSetting {
    let outcomes: Vec<Outcome> = judged
        .par_iter()
        .map(|it| calls::judge(it, caller, setting, manner, block_s))
        .collect();
    let mut total = Tally::default();
    for outcome in &outcomes {
        total.add(&outcome.total(), 1.0);
    }
    let minutes = |seconds: f64| seconds / 60.0;
    let mut leads: Vec<f64> = outcomes
        .iter()
        .flat_map(|it| it.leads.iter().map(|(_, lead)| minutes(*lead)))
        .collect();
    leads.sort_unstable_by(f64::total_cmp);
    let drawn_leads = bounds::of_leads(&outcomes, &LEADS);
    let drawn_sums = bounds::of_outcomes(&outcomes, of_sums);
    let sums = of_sums(&total);
    let figures = std::array::from_fn(|k| match k.checked_sub(OF_SUMS) {
        None => Figure {
            value: sums[k],
            bounds: drawn_sums[k],
        },
        Some(lead) => Figure {
            value: percentile(&leads, LEADS[lead]),
            bounds: drawn_leads[lead].map(|it| Bounds {
                low: minutes(it.low),
                high: minutes(it.high),
            }),
        },
    });
    let mut cells = std::collections::BTreeMap::<usize, Tally>::new();
    for (it, outcome) in judged.iter().zip(&outcomes) {
        cells.entry(it.cell).or_default().add(&outcome.total(), 1.0);
    }
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
        ratio(it.too_early, it.warned),
        ratio(it.over_min, it.days),
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
        judged: of.iter().map(|it| it.crossings.len()).sum(),
        crossings: seen.values().map(|(_, crossings)| crossings).sum(),
        rows: Caller::of(of).into_par_iter().map(row).collect(),
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

fn at_setting(asked: &Asked, judged: &[Judged], block_s: i64) -> Vec<AtSetting> {
    let all: Vec<&Judged> = judged.iter().collect();
    let (idle_min, _) = Curve::sweep(Caller::by_setting(&all), &all).at(asked.setting);
    let row = |caller: Caller| {
        let setting = match caller {
            Caller::Odds | Caller::Aboard => Some(asked.setting),
            Caller::Fraction | Caller::Knots | Caller::Logistic => {
                Curve::sweep(caller, &all).setting_at(idle_min)
            }
        };
        let setting = setting?;
        Some(judge_setting(caller, setting, &asked.manner, &all, block_s))
    };
    Caller::of(&all).into_iter().filter_map(row).collect()
}

/// Settings from late to soon: a twentieth of the scale's logarithm apart.
fn settings() -> impl Iterator<Item = f64> {
    (0..44).map(|k| 0.9 * 0.89_f64.powi(k))
}

fn prices(asked: &Asked, judged: &[Judged]) -> Vec<Price> {
    let settings: Vec<f64> = settings().collect();
    let caller = Caller::by_setting(&judged.iter().collect::<Vec<_>>());
    let price = |setting: &f64| {
        let mut cells = vec![Tally::default(); asked.cells.len()];
        for it in judged {
            let block_s = i64::MAX;
            let outcome = calls::judge(it, caller, *setting, &asked.manner, block_s);
            cells[it.cell].add(&outcome.total(), 1.0);
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
