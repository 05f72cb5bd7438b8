//! The strip chart: truth beside what the daemon makes of it, once a second.

use std::collections::VecDeque;

use serde::Serialize;
use serde_json::Value;

use crate::maths::{Flow, compass_deg, rad};
use crate::passage::Truth;

/// Seconds kept: two hours.
const KEPT: usize = 7200;
/// Truth is averaged over the minute that the estimate is averaged over.
const MEAN_S: usize = 60;

/// What the daemon's picture says; what it does not know is none.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Estimate {
    /// True wind, one-minute mean, knots.
    pub mean_tws_kn: Option<f64>,
    /// True wind, smoothed, knots.
    pub tws_kn: Option<f64>,
    /// Its direction, true.
    pub twd_deg: Option<f64>,
    /// Heel, smoothed.
    pub heel_deg: Option<f64>,
}

impl Estimate {
    /// Reads the daemon's view.
    pub fn of(view: &Value) -> Self {
        let number = |path: &str| view.pointer(path).and_then(Value::as_f64);
        Self {
            mean_tws_kn: number("/wind/mean_1min_kn"),
            tws_kn: number("/wind/tws_kn"),
            twd_deg: number("/wind/twd_deg"),
            heel_deg: number("/heel/now_deg"),
        }
    }
}

/// One second of the chart.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Sample {
    /// Seconds from the start.
    pub now_s: f64,
    /// True wind over water at the masthead, knots.
    pub tws_kn: f64,
    /// The same, mean of the last minute.
    pub mean_tws_kn: f64,
    /// Direction, mean of the last minute.
    pub twd_deg: f64,
    /// Heel.
    pub heel_deg: f64,
    /// What the daemon says; none where it says nothing.
    pub says: Estimate,
}

/// The last hours of it, with a number for each second.
#[derive(Debug, Default)]
pub struct Strip {
    samples: VecDeque<Sample>,
    first: usize,
    minute: VecDeque<Truth>,
}

impl Strip {
    /// One second more.
    pub fn push(&mut self, truth: &Truth, says: Estimate) {
        self.minute.push_back(*truth);
        if self.minute.len() > MEAN_S {
            self.minute.pop_front();
        }
        let count = self.minute.len() as f64;
        let speeds: f64 = self.minute.iter().map(|truth| truth.tws_kn).sum();
        let flow = self.minute.iter().fold(Flow::default(), |sum, truth| {
            sum.and(Flow::from_direction(truth.tws_kn, rad(truth.twd_deg)))
        });
        self.samples.push_back(Sample {
            now_s: truth.now_s,
            tws_kn: truth.tws_kn,
            mean_tws_kn: speeds / count,
            twd_deg: compass_deg(flow.from_rad()),
            heel_deg: truth.heel_deg,
            says,
        });
        if self.samples.len() > KEPT {
            self.samples.pop_front();
            self.first += 1;
        }
    }

    /// Samples from this number on, and the number that comes next.
    pub fn since(&self, number: usize) -> (Vec<Sample>, usize) {
        let skip = number.saturating_sub(self.first);
        let samples = self.samples.iter().skip(skip).copied().collect();
        (samples, self.first + self.samples.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn truth(now_s: f64, twd_deg: f64) -> Truth {
        Truth {
            now_s,
            tws_kn: 10.0,
            twd_deg,
            ..Truth::default()
        }
    }

    #[test]
    fn what_is_not_known_stays_unknown() {
        let view = serde_json::json!({"wind": {"tws_kn": 14.5, "twd_deg": null}});
        let estimate = Estimate::of(&view);
        assert_eq!(estimate.tws_kn, Some(14.5));
        assert_eq!((estimate.twd_deg, estimate.heel_deg), (None, None));
    }

    #[test]
    fn a_page_gets_what_it_does_not_have_yet() {
        let mut strip = Strip::default();
        for second in 0..10 {
            strip.push(&truth(f64::from(second), 350.0), Estimate::default());
        }
        let (all, next) = strip.since(0);
        assert_eq!((all.len(), next), (10, 10));
        assert_eq!(strip.since(next).0, []);
        strip.push(&truth(10.0, 350.0), Estimate::default());
        let (news, _) = strip.since(next);
        assert_eq!(news.first().map(|sample| sample.now_s), Some(10.0));
    }

    #[test]
    fn old_seconds_go_and_numbers_stay() {
        let mut strip = Strip::default();
        for second in 0..KEPT + 5 {
            strip.push(&truth(second as f64, 0.0), Estimate::default());
        }
        let (all, next) = strip.since(0);
        assert_eq!((all.len(), next), (KEPT, KEPT + 5));
        assert_eq!(all.first().map(|sample| sample.now_s), Some(5.0));
    }

    #[test]
    fn directions_either_side_of_north_average_to_north() {
        let mut strip = Strip::default();
        strip.push(&truth(0.0, 350.0), Estimate::default());
        strip.push(&truth(1.0, 10.0), Estimate::default());
        let (all, _) = strip.since(1);
        let off = (all[0].twd_deg + 180.0).rem_euclid(360.0) - 180.0;
        assert!(off.abs() < 1e-6, "{off}");
    }
}
