//! Two drawings in SVG: share warned against idle minutes, and odds against
//! what came. Colours come from the page, so both follow its light and dark.

use std::fmt::Write;

use super::curve::LEVELS;
use super::reliability::Reliability;
use super::report::{DRAWN_TO_MIN, Pool, Row};
use super::truth::{BEFORE_MIN, Truth};

const WIDE: f64 = 640.0;
const HIGH: f64 = 400.0;
const LEFT: f64 = 56.0;
const RIGHT: f64 = 16.0;
const TOP: f64 = 14.0;
const FOOT: f64 = 48.0;

/// The curves of a pool.
pub(super) fn curves(pool: &Pool) -> String {
    let frame = Frame {
        most_x: DRAWN_TO_MIN,
    };
    let title = format!("Share warned in time against idle minutes, {}", pool.name);
    let mut out = frame.open(&title);
    let every_half_hour = (0..=5).map(|k| f64::from(k) * 30.0);
    frame.axes(
        &mut out,
        every_half_hour.map(|minutes| (minutes, format!("{minutes:.0}"))),
        "idle minutes per 24 h",
        "share warned in time",
    );
    for row in &pool.rows {
        frame.bounds(&mut out, row);
    }
    for (k, row) in pool.rows.iter().enumerate() {
        let key = row.caller.key();
        let start = std::iter::once((0.0, 0.0));
        let points = start.chain(row.points.iter().map(|it| (it.idle_min, it.share)));
        frame.line(&mut out, key, points);
        let y = HIGH - FOOT + 18.0 - 20.0 * (pool.rows.len() - k + 1) as f64;
        let x = WIDE - RIGHT - 230.0;
        let _ = write!(
            out,
            "<line class=\"line {key}\" x1=\"{x}\" y1=\"{y}\" x2=\"{}\" y2=\"{y}\"/>\
             <text x=\"{}\" y=\"{}\">{}</text>",
            x + 30.0,
            x + 38.0,
            y + 4.0,
            row.caller.words()
        );
    }
    out + "</svg>"
}

/// Odds that were said against the share that came true.
pub(super) fn reliability(account: &Reliability) -> String {
    let frame = Frame { most_x: 1.0 };
    let mut out = frame.open("Odds that were said against the share that came true");
    let every_fifth = (0..=5).map(|k| f64::from(k) * 0.2);
    frame.axes(
        &mut out,
        every_fifth.map(|odds| (odds, format!("{odds:.1}"))),
        "odds that were said",
        "share that came true",
    );
    frame.line(&mut out, "honest", [(0.0, 0.0), (1.0, 1.0)].into_iter());
    for band in account.bands.iter().flatten() {
        let (x, y) = frame.place(band.said, band.came);
        if let Some(bounds) = band.bounds {
            frame.bar(&mut out, "odds", band.said, (bounds.low, bounds.high));
        }
        let _ = write!(
            out,
            "<circle class=\"dot\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4.5\">\
             <title>said {:.2}, came {:.2}, {} days</title></circle>\
             <text class=\"small\" x=\"{:.1}\" y=\"{:.1}\">{} d</text>",
            band.said,
            band.came,
            band.days,
            x + 8.0,
            y + 14.0,
            band.days
        );
    }
    out + "</svg>"
}

/// The figure before crossings, as a share of an hour, against what was left.
pub(super) fn truth(it: &Truth) -> String {
    let frame = Frame { most_x: 60.0 };
    let mut out = frame.open("Minutes shown against minutes left before a crossing");
    let every_ten = (0..=6).map(|k| f64::from(k) * 10.0);
    frame.axes(
        &mut out,
        every_ten.map(|minutes| (minutes, format!("{minutes:.0}"))),
        "minutes left",
        "shown, share of an hour",
    );
    frame.line(&mut out, "honest", [(0.0, 0.0), (60.0, 1.0)].into_iter());
    for (place, left) in BEFORE_MIN.iter().enumerate() {
        let Some(shown) = it.median_before(place) else {
            continue;
        };
        let (x, y) = frame.place(*left as f64, shown / 60.0);
        let _ = write!(
            out,
            "<circle class=\"dot\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4.5\"/>\
             <text class=\"small\" x=\"{:.1}\" y=\"{:.1}\">{shown:.0} min</text>",
            x + 8.0,
            y + 14.0
        );
    }
    out + "</svg>"
}

/// A frame whose left edge runs from 0 to 1.
struct Frame {
    most_x: f64,
}

impl Frame {
    fn open(&self, title: &str) -> String {
        format!(
            "<svg viewBox=\"0 0 {WIDE} {HIGH}\" role=\"img\" aria-label=\"{0}\">\
             <title>{0}</title>",
            escaped(title)
        )
    }

    fn place(&self, x: f64, y: f64) -> (f64, f64) {
        (
            LEFT + (WIDE - LEFT - RIGHT) * (x / self.most_x).clamp(0.0, 1.0),
            HIGH - FOOT - (HIGH - TOP - FOOT) * y.clamp(0.0, 1.0),
        )
    }

    fn axes(
        &self,
        out: &mut String,
        marks: impl Iterator<Item = (f64, String)>,
        below: &str,
        beside: &str,
    ) {
        let (left, foot) = self.place(0.0, 0.0);
        let (right, top) = self.place(self.most_x, 1.0);
        for fifth in 0..=5 {
            let share = f64::from(fifth) * 0.2;
            let (_, y) = self.place(0.0, share);
            let _ = write!(
                out,
                "<line class=\"grid\" x1=\"{left}\" y1=\"{y:.1}\" x2=\"{right}\" y2=\"{y:.1}\"/>\
                 <text class=\"small end\" x=\"{}\" y=\"{:.1}\">{share:.1}</text>",
                left - 6.0,
                y + 4.0
            );
        }
        for (value, words) in marks {
            let (x, _) = self.place(value, 0.0);
            let _ = write!(
                out,
                "<line class=\"grid\" x1=\"{x:.1}\" y1=\"{top}\" x2=\"{x:.1}\" y2=\"{foot}\"/>\
                 <text class=\"small middle\" x=\"{x:.1}\" y=\"{}\">{words}</text>",
                foot + 17.0
            );
        }
        let _ = write!(
            out,
            "<text class=\"middle\" x=\"{}\" y=\"{}\">{below}</text>\
             <text class=\"middle\" transform=\"translate(14 {}) rotate(-90)\">{beside}</text>",
            (left + right) / 2.0,
            HIGH - 8.0,
            (top + foot) / 2.0
        );
    }

    fn line(&self, out: &mut String, class: &str, points: impl Iterator<Item = (f64, f64)>) {
        let _ = write!(out, "<polyline class=\"line {class}\" points=\"");
        for (x, y) in points {
            let (x, y) = self.place(x, y);
            let _ = write!(out, "{x:.1},{y:.1} ");
        }
        *out += "\"/>";
    }

    fn bounds(&self, out: &mut String, row: &Row) {
        for (level, share) in LEVELS.iter().zip(&row.shares) {
            if let Some(bounds) = share.bounds {
                self.bar(out, row.caller.key(), *level, (bounds.low, bounds.high));
            }
        }
    }

    fn bar(&self, out: &mut String, class: &str, x: f64, (low, high): (f64, f64)) {
        let (x, low) = self.place(x, low);
        let (_, high) = self.place(0.0, high);
        let _ = write!(
            out,
            "<line class=\"bar {class}\" x1=\"{x:.1}\" y1=\"{low:.1}\" x2=\"{x:.1}\" \
             y2=\"{high:.1}\"/>"
        );
    }
}

/// Text that says nothing to a browser.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out += "&amp;",
            '<' => out += "&lt;",
            '>' => out += "&gt;",
            '"' => out += "&quot;",
            other => out.push(other),
        }
    }
    out
}
