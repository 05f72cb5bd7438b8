//! The direction of the true wind through the passage, before and after: what
//! is right makes one line of it, what is wrong makes steps at every tack.

use std::fmt::Write;

use cringle_core::angle::{wrap_180, wrap_360};

use crate::finding::Corrections;
use crate::gather::Sample;
use crate::solve::Plane;

/// Each dot is the mean of so many seconds.
const DOT_S: usize = 30;
const WIDTH: f64 = 960.0;
const HEIGHT: f64 = 360.0;
const MARGIN: f64 = 56.0;

/// An SVG picture, to be looked at or printed.
pub fn picture(samples: &[Sample], before: Corrections, after: Corrections) -> String {
    let old = directions(samples, before);
    let new = directions(samples, after);
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" \
         font-family=\"sans-serif\" font-size=\"14\">\n\
         <rect width=\"100%\" height=\"100%\" fill=\"white\"/>\n"
    );
    let Some(frame) = Frame::around(&old, &new) else {
        svg.push_str("<text x=\"40\" y=\"60\">no true wind in this log</text>\n</svg>\n");
        return svg;
    };
    frame.scale(&mut svg);
    frame.dots(&mut svg, &old, "none", "#777");
    frame.dots(&mut svg, &new, "#000", "#000");
    let _ = write!(
        svg,
        "<text x=\"{MARGIN}\" y=\"20\">direction of the true wind, degrees; minutes from the \
         start. Open: as it is corrected now. Filled: as found</text>\n</svg>\n"
    );
    svg
}

/// Seconds and direction of the true wind over water, degrees.
fn directions(samples: &[Sample], by: Corrections) -> Vec<(f64, f64)> {
    samples
        .chunks(DOT_S)
        .filter_map(|chunk| {
            let winds = chunk.iter().map(|sample| true_wind(sample, by));
            let sum = winds.fold(Plane::default(), |a, b| a + b);
            Some((chunk.first()?.at_s, wrap_360(sum.direction_deg())))
        })
        .collect()
}

fn true_wind(sample: &Sample, by: Corrections) -> Plane {
    let felt = sample.felt.turned(by.vane_deg) * by.cups;
    let heel = sample.heel_deg.map_or(0.0, |heel| heel + by.heel_deg);
    let level = Plane {
        x: felt.x,
        y: felt.y / heel.clamp(-60.0, 60.0).to_radians().cos(),
    };
    let ahead = Plane {
        x: sample.stw_kn * by.log,
        y: 0.0,
    };
    (level - ahead).turned(sample.heading_deg)
}

/// What part of the rose and of the time the picture shows.
struct Frame {
    from_s: f64,
    to_s: f64,
    middle_deg: f64,
    half_deg: f64,
}

impl Frame {
    fn around(old: &[(f64, f64)], new: &[(f64, f64)]) -> Option<Frame> {
        let middle = new
            .iter()
            .map(|(_, deg)| Plane::polar(1.0, *deg))
            .fold(Plane::default(), |a, b| a + b);
        let middle_deg = wrap_360(middle.direction_deg());
        let off = |(_, deg): &(f64, f64)| wrap_180(deg - middle_deg).abs();
        let half = old.iter().chain(new).map(off).fold(0.0, f64::max);
        Some(Frame {
            from_s: new.first()?.0,
            to_s: new.last()?.0.max(new.first()?.0 + 60.0),
            middle_deg,
            half_deg: (half / 10.0).ceil().max(1.0) * 10.0,
        })
    }

    fn x(&self, at_s: f64) -> f64 {
        let share = (at_s - self.from_s) / (self.to_s - self.from_s);
        MARGIN + share * (WIDTH - 1.5 * MARGIN)
    }

    fn y(&self, deg: f64) -> f64 {
        let off = wrap_180(deg - self.middle_deg);
        HEIGHT / 2.0 - off / self.half_deg * (HEIGHT / 2.0 - MARGIN)
    }

    fn scale(&self, svg: &mut String) {
        for part in -2..=2 {
            let deg = self.middle_deg + self.half_deg * f64::from(part) / 2.0;
            let y = self.y(deg);
            let _ = writeln!(
                svg,
                "<line x1=\"{MARGIN}\" x2=\"{:.0}\" y1=\"{y:.1}\" y2=\"{y:.1}\" \
                 stroke=\"#ddd\"/><text x=\"8\" y=\"{:.1}\">{:03.0}</text>",
                WIDTH - MARGIN / 2.0,
                y + 5.0,
                wrap_360(deg).round() % 360.0,
            );
        }
        for part in 0..=4 {
            let at_s = self.from_s + (self.to_s - self.from_s) * f64::from(part) / 4.0;
            let _ = writeln!(
                svg,
                "<text x=\"{:.0}\" y=\"{:.0}\" text-anchor=\"middle\">{:.0}</text>",
                self.x(at_s),
                HEIGHT - 16.0,
                (at_s - self.from_s) / 60.0,
            );
        }
    }

    fn dots(&self, svg: &mut String, dots: &[(f64, f64)], fill: &str, stroke: &str) {
        for (at_s, deg) in dots {
            let _ = writeln!(
                svg,
                "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"3\" fill=\"{fill}\" stroke=\"{stroke}\"/>",
                self.x(*at_s),
                self.y(*deg),
            );
        }
    }
}
