//! Passages with planted errors: what `calibrate` finds, and where it refuses.
//!
//! `CRINGLE_PASSAGES=200` is the long form.

mod passages;

use cringle_calibrate::{Finding, Refusal, calibrate};
use passages::{Errors, Sailed, sail, without_sides};

/// Nine in ten by chance: of so many passages at least so many must hold, but
/// for one run in a hundred (the binomial's own spread).
fn least_within(passages: u64) -> u64 {
    let n = passages as f64;
    (n * 0.9 - 2.33 * (n * 0.09).sqrt()).floor() as u64
}

/// One quantity over all passages.
#[derive(Default)]
struct Score {
    within: u64,
    told: u64,
    widest: f64,
    sum: f64,
}

impl Score {
    fn take(&mut self, found: &Result<Finding, Refusal>, planted: f64) {
        let Ok(found) = found else { return };
        self.told += 1;
        self.within += u64::from((found.value - planted).abs() <= found.within);
        self.widest = self.widest.max(found.within);
        self.sum += found.within;
    }
}

#[test]
fn planted_errors_are_found_within_the_stated_confidence() {
    let passages = std::env::var("CRINGLE_PASSAGES")
        .ok()
        .and_then(|count| count.parse().ok())
        .unwrap_or(16);
    let mut scores: [Score; 4] = Default::default();
    for seed in 1..=passages {
        let errors = Errors::drawn(seed);
        let report = calibrate(&sail(seed, &errors, Sailed::Whole));
        let found = [
            (&report.vane_offset_deg, -errors.vane_deg),
            (&report.log_factor, 1.0 / errors.log),
            (&report.anemometer_factor, 1.0 / errors.cups),
            (&report.heel_offset_deg, -errors.heel_deg),
        ];
        for (score, (found, planted)) in scores.iter_mut().zip(found) {
            score.take(found, planted);
        }
    }
    let mut failed = false;
    for (score, (name, widest)) in
        scores
            .iter()
            .zip([("vane", 1.0), ("log", 0.02), ("cups", 0.03), ("heel", 0.5)])
    {
        let mean = score.sum / score.told.max(1) as f64;
        println!(
            "{name}: {} of {} within, {} told; within {mean:.3} on average, {:.3} at most",
            score.within, passages, score.told, score.widest
        );
        failed |= score.within < least_within(passages) || mean > widest;
    }
    assert!(!failed, "see the figures above");
}

#[test]
fn without_tacks_the_vane_is_refused_with_what_to_sail() {
    let errors = Errors::drawn(1);
    let report = calibrate(&sail(1, &errors, Sailed::OneTack));
    let refused = report.vane_offset_deg.unwrap_err();
    assert!(refused.why.contains("on port tack"), "{refused}");
    assert!(refused.remedy.contains("eight tacks"), "{refused}");
    assert!(report.anemometer_factor.is_err() && report.heel_offset_deg.is_err());
}

#[test]
fn without_a_reciprocal_course_the_log_is_refused() {
    let errors = Errors::drawn(1);
    let report = calibrate(&sail(1, &errors, Sailed::Upwind));
    let refused = report.log_factor.unwrap_err();
    assert!(refused.remedy.contains("opposite"), "{refused}");
}

#[test]
fn angles_without_a_side_are_refused_by_name() {
    let errors = Errors::drawn(1);
    let samples = without_sides(sail(1, &errors, Sailed::Whole));
    let refused = calibrate(&samples).vane_offset_deg.unwrap_err();
    assert!(refused.why.contains("no side"), "{refused}");
}

#[test]
fn an_empty_log_is_refused_in_words() {
    let report = calibrate(&[]);
    assert!(report.vane_offset_deg.is_err() && report.log_factor.is_err());
    assert_eq!((report.legs, report.tacks), (0, 0));
}
