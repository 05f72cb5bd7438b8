//! The report as tables for people.

use std::fmt::Write;

use super::bounds::Bounds;
use super::curve::{Caller, LEVELS};
use super::report::{AtSetting, FIGURES, Figure, Pool, Price, Report};
use super::series::Series;
use super::truth::{BEFORE_MIN, Truth};

/// Levels that are told of each cell.
const OF_CELLS: [usize; 3] = [2, 3, 4];
/// Every so many settings are told.
const PRICES_APART: usize = 3;

/// All of a report.
pub fn report(report: &Report, series: &[Series]) -> String {
    let mut out = String::new();
    for it in series {
        let _ = writeln!(out, "{}", facts(it));
    }
    let _ = writeln!(
        out,
        "In brackets: 5th and 95th percentile of drawing {} anew, seeded.",
        match report.block_days {
            1 => "whole days".to_owned(),
            days => format!("blocks of {days} whole days"),
        }
    );
    for it in &report.pools {
        out += &pool(it);
    }
    out += &cells(&report.by_cell);
    out += &at_setting(report);
    out += &prices(report);
    out += &reliability(report);
    if let Some(it) = &report.truth {
        out += &truth(it);
    }
    out
}

fn facts(series: &Series) -> String {
    let heard = series.slots.iter().flatten().count();
    let gaps = series.slots.len() - heard;
    let days = heard as f64 * f64::from(series.step_s) / super::DAY_S;
    format!(
        "{}: {days:.1} days heard at {} s, {gaps} of {} samples missing",
        series.name,
        series.step_s,
        series.slots.len()
    )
}

fn pool(pool: &Pool) -> String {
    let mut out = format!(
        "\n{}: {:.0} days, {} crossings, {} judged (limits and call times)\n",
        pool.name, pool.days, pool.crossings, pool.judged
    );
    let _ = write!(out, "  share warned at idle min per 24 h");
    for level in LEVELS {
        let _ = write!(out, "  {level:<17.0}");
    }
    let _ = writeln!(out);
    for row in &pool.rows {
        let _ = write!(out, "  {:<33}", row.caller.words());
        for share in &row.shares {
            let _ = write!(out, "  {:<17}", figure(share, 2));
        }
        let _ = writeln!(out);
    }
    for row in &pool.rows {
        let _ = write!(
            out,
            "  {:<33}",
            format!("  setting, {}", row.caller.words())
        );
        for setting in row.settings {
            let shown = setting.map_or("-".into(), |it| short(row.caller.shown(it)));
            let _ = write!(out, "  {shown:<17}");
        }
        let _ = writeln!(out);
    }
    out
}

fn cells(pools: &[Pool]) -> String {
    let mut out = String::from("\nEach cell with its own best setting\n");
    let names = pools.iter().map(|it| it.name.chars().count());
    let wide = names.max().unwrap_or(0).max(16);
    let _ = write!(out, "  {:<wide$}{:>11}", "limit, call time", "crossings");
    let callers = pools.first().map_or(&[][..], |it| &it.rows);
    let keys: Vec<&str> = callers.iter().map(|row| row.caller.key()).collect();
    for level in OF_CELLS {
        let head = format!("at {:.0}: {}", LEVELS[level], keys.join(", "));
        let _ = write!(out, "   {head:<36}");
    }
    let _ = writeln!(out);
    for pool in pools {
        let _ = write!(out, "  {:<wide$}{:>11}", pool.name, pool.judged);
        for level in OF_CELLS {
            let shares = pool.rows.iter().map(|row| match row.caller {
                Caller::Odds => figure(&row.shares[level], 2),
                Caller::Fraction | Caller::Knots | Caller::Aboard => {
                    bare(row.shares[level].value, 2)
                }
            });
            let shares: Vec<String> = shares.collect();
            let _ = write!(out, "   {:<36}", shares.join(" "));
        }
        let _ = writeln!(out);
    }
    out
}

fn at_setting(report: &Report) -> String {
    let all: &[AtSetting] = &report.at_setting;
    let mut out = String::from(
        "\nAt the one setting; fixed pre-alarms, with 1 kn of hysteresis, at what idles as long\n",
    );
    let _ = write!(out, "  {:<38}", "");
    for it in all {
        let _ = write!(out, "  {:<26}", it.caller.words());
    }
    let _ = write!(out, "\n  {:<38}", "setting");
    for it in all {
        let _ = write!(out, "  {:<26}", short(it.caller.shown(it.setting)));
    }
    let _ = writeln!(out);
    for (k, (_, words)) in FIGURES.iter().enumerate() {
        let _ = write!(out, "  {words:<38}");
        for it in all {
            let _ = write!(out, "  {:<26}", figure(&it.figures[k], 2));
        }
        let _ = writeln!(out);
    }
    out += &worst_sounded(report);
    if let Some(it) = all.first() {
        let _ = writeln!(
            out,
            "  of {} crossings, {} squalls, {:.0} days and cells",
            it.total.crossings, it.total.squalls, it.total.days
        );
    }
    out
}

/// The mean of the cells hides the one that sounds most.
fn worst_sounded(report: &Report) -> String {
    let mut out = format!("  {:<38}", "the same sounded, worst cell");
    for it in &report.at_setting {
        let worst = it.worst_sounded;
        let _ = write!(out, "  {:<26}", bare(worst.map(|(sounded, _)| sounded), 2));
    }
    let mut named = String::from("\n");
    let ours = report.at_setting.last();
    if let Some((_, cell)) = ours.and_then(|it| it.worst_sounded)
        && let Some(cell) = report.cells.get(cell)
    {
        named = format!("\n  (ours: {})\n", cell.words());
    }
    out + &named
}

fn prices(report: &Report) -> String {
    let mut out =
        String::from("\nThe one setting, later to sooner, and its price by the odds alone\n");
    let _ = writeln!(
        out,
        "  {:>8}  {:>12}  {:>17}  {:>16}  {:>10}  {:>18}",
        "odds",
        "share warned",
        "idle min per 24 h",
        "needless sounded",
        "worst cell",
        "wakes in 3 nights"
    );
    for it in report.prices.iter().step_by(PRICES_APART) {
        out += &price(it);
    }
    out += &soonest(report.soonest.as_ref());
    out
}

fn price(it: &Price) -> String {
    let total = &it.total;
    format!(
        "  {:>8.3}  {:>12}  {:>17.1}  {:>16.2}  {:>10.2}  {:>18.2}\n",
        it.setting,
        bare(it.share(), 2),
        total.idle_min / total.days,
        it.sounded(),
        it.worst_sounded,
        3.0 * total.wakes / total.days
    )
}

fn soonest(found: Option<&Price>) -> String {
    match found {
        Some(it) => format!(
            "  at most one needless sounded call in 24 h in the worst cell: odds {:.3}, warned {}\n",
            it.setting,
            bare(it.share(), 2)
        ),
        None => "  no setting sounds needlessly at most once in 24 h in the worst cell\n".into(),
    }
}

fn truth(it: &Truth) -> String {
    let mut out = format!(
        "\nThe figure as shown aboard, at or under 60 min, wind under the limit: {} minutes\n  \
         the limit was passed sooner in {} of them; {} jumps an hour\n  median",
        it.shown,
        bare(it.early_share(), 3),
        bare(it.jumps_an_hour(), 2),
    );
    for (place, minutes) in BEFORE_MIN.iter().enumerate() {
        let median = bare(it.median_before(place), 0);
        let _ = write!(out, " {median} at {minutes} min before a crossing,");
    }
    let lead = bare(it.median_lead_min(), 0);
    let _ = writeln!(
        out,
        " of {}; the call stood {lead} min before it (median)",
        it.crossings
    );
    out
}

fn reliability(report: &Report) -> String {
    let it = &report.reliability;
    let skill = Figure {
        value: it.skill,
        bounds: it.skill_bounds,
    };
    let mut out = format!(
        "\nOdds against what came, wind under the limit, {} days\n  Brier skill against each \
         cell's own base rate {}\n",
        it.days,
        figure(&skill, 3)
    );
    for (k, band) in it.bands.iter().enumerate() {
        let (low, high) = (k as f64 / 10.0, (k + 1) as f64 / 10.0);
        let Some(band) = band else {
            let _ = writeln!(out, "  {low:.1} to {high:.1}: never said");
            continue;
        };
        let came = Figure {
            value: Some(band.came),
            bounds: band.bounds,
        };
        let _ = writeln!(
            out,
            "  {low:.1} to {high:.1}: said {:.3}, came {:<20} {} times on {} days",
            band.said,
            figure(&came, 3),
            band.samples,
            band.days
        );
    }
    out
}

/// "0.56 (0.50 0.61)".
fn figure(it: &Figure, places: usize) -> String {
    let value = bare(it.value, places);
    match it.bounds {
        Some(Bounds { low, high }) => format!("{value} ({low:.places$} {high:.places$})"),
        None => value,
    }
}

fn bare(value: Option<f64>, places: usize) -> String {
    value.map_or("-".into(), |value| format!("{value:.places$}"))
}

fn short(value: f64) -> String {
    format!("{:.3}", value + 0.0)
}
