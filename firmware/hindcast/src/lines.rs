//! The report as one JSON object a line. A figure that is not known is null;
//! low and high are the bounds of what stands beside them.

use serde_json::{Map, Value, json};

use super::curve::LEVELS;
use super::judged::Cell;
use super::report::{AtSetting, FIGURES, Figure, Pool, Price, Report};
use super::series::Series;
use super::truth::{BEFORE_MIN, Truth};

/// All lines of a report, in the order of the tables.
pub fn report(report: &Report, series: &[Series]) -> Vec<Value> {
    let mut lines: Vec<Value> = series.iter().map(facts).collect();
    lines.extend(report.pools.iter().flat_map(|it| pool("pooled", it)));
    lines.extend(report.by_cell.iter().flat_map(|it| pool("cell", it)));
    lines.extend(report.at_setting.iter().map(|it| {
        let mut line = setting("setting", it);
        let worst = it
            .worst_sounded
            .and_then(|(_, cell)| report.cells.get(cell));
        line["worst_cell"] = json!(worst.map(Cell::words));
        line
    }));
    lines.extend(report.prices.iter().map(|it| price("price", it)));
    lines.push(match &report.soonest {
        Some(it) => price("soonest", it),
        None => json!({"v": 1, "kind": "soonest", "odds": null}),
    });
    lines.extend(reliability(report));
    lines.extend(report.truth.as_ref().map(truth));
    lines
}

fn facts(it: &Series) -> Value {
    let heard = it.slots.iter().flatten().count();
    json!({
        "v": 1, "kind": "series", "name": it.name, "start_unix_s": it.start_s,
        "step_s": it.step_s, "samples": heard, "missing": it.slots.len() - heard,
    })
}

fn pool(kind: &str, pool: &Pool) -> Vec<Value> {
    let mut lines = Vec::new();
    for row in &pool.rows {
        for (k, level) in LEVELS.iter().enumerate() {
            let mut line = json!({
                "v": 1, "kind": kind, "of": pool.name, "caller": row.caller.key(),
                "idle_min_per_24h": level,
                "setting": row.settings[k].map(|it| row.caller.shown(it)),
                "crossings": pool.crossings, "judged": pool.judged, "days": pool.days,
            });
            put(&mut line, "share_warned", &row.shares[k]);
            lines.push(line);
        }
    }
    lines
}

fn setting(kind: &str, it: &AtSetting) -> Value {
    let mut line = json!({
        "v": 1, "kind": kind, "caller": it.caller.key(),
        "setting": it.caller.shown(it.setting),
        "judged": it.total.crossings, "squalls": it.total.squalls,
        "cell_days": it.total.days,
        "needless_sounded_per_24h_worst_cell": it.worst_sounded.map(|(sounded, _)| sounded),
    });
    for ((key, _), figure) in FIGURES.iter().zip(&it.figures) {
        put(&mut line, key, figure);
    }
    line
}

fn price(kind: &str, it: &Price) -> Value {
    let total = &it.total;
    json!({
        "v": 1, "kind": kind, "odds": it.setting, "share_warned": it.share(),
        "idle_min_per_24h": total.idle_min / total.days,
        "needless_sounded_per_24h": it.sounded(),
        "needless_sounded_per_24h_worst_cell": it.worst_sounded,
        "needless_wakes_in_3_nights": 3.0 * total.wakes / total.days,
        "judged": total.crossings,
    })
}

fn reliability(report: &Report) -> Vec<Value> {
    let it = &report.reliability;
    let mut lines = Vec::new();
    for (k, band) in it.bands.iter().enumerate() {
        let Some(band) = band else {
            continue;
        };
        let mut line = json!({
            "v": 1, "kind": "decile", "from": k as f64 / 10.0, "to": (k + 1) as f64 / 10.0,
            "said": band.said, "samples": band.samples, "days": band.days,
        });
        let came = Figure {
            value: Some(band.came),
            bounds: band.bounds,
        };
        put(&mut line, "came", &came);
        lines.push(line);
    }
    let mut line = json!({"v": 1, "kind": "brier", "days": it.days});
    let skill = Figure {
        value: it.skill,
        bounds: it.skill_bounds,
    };
    put(&mut line, "skill", &skill);
    lines.push(line);
    lines
}

fn truth(it: &Truth) -> Value {
    let mut line = json!({
        "v": 1, "kind": "figure", "minutes_shown": it.shown, "early": it.early_share(),
        "jumps_per_h": it.jumps_an_hour(), "crossings": it.crossings,
        "median_lead_min": it.median_lead_min(),
    });
    for (place, minutes) in BEFORE_MIN.iter().enumerate() {
        line[format!("shown_at_{minutes}")] = json!(it.median_before(place));
    }
    line
}

fn put(line: &mut Value, key: &str, figure: &Figure) {
    let mut more = Map::new();
    more.insert(key.into(), json!(figure.value));
    more.insert(format!("{key}_low"), json!(figure.bounds.map(|it| it.low)));
    more.insert(
        format!("{key}_high"),
        json!(figure.bounds.map(|it| it.high)),
    );
    if let Value::Object(fields) = line {
        fields.append(&mut more);
    }
}
