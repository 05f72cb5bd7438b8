//! Two wind units that differ: the true wind by the one that is not in use,
//! and which of two levels a limit is to be held against.

use crate::sense::reading::SourceId;
use crate::time::Timestamp;

/// Its mean follows over so long: about what a 1-minute mean shows.
const SMOOTHED_S: f64 = 25.0;

/// It must have been heard for so long until it counts.
const LEAST_S: f64 = 20.0;

/// Silent for longer and another may be listened to.
const SILENT_S: f64 = 30.0;

/// The true wind by another unit over about the last minute: without the
/// mast's own motion, which a mean does not need.
#[derive(Clone, Debug, Default)]
pub struct OtherUnit {
    source: Option<SourceId>,
    began: Timestamp,
    heard: Timestamp,
    mean_kn: f64,
}

impl OtherUnit {
    /// Takes what a unit that is not in use makes of the true wind. The first
    /// one is listened to until it is silent.
    pub fn put(&mut self, source: SourceId, tws_kn: f64, now: Timestamp) {
        let is_silent = now.secs_since(self.heard) > SILENT_S;
        if self.source != Some(source) || is_silent {
            if self.source.is_some() && !is_silent {
                return;
            }
            *self = OtherUnit {
                source: Some(source),
                began: now,
                heard: now,
                mean_kn: tws_kn,
            };
        }
        let kept = libm::exp(-now.secs_since(self.heard) / SMOOTHED_S);
        self.mean_kn = tws_kn + (self.mean_kn - tws_kn) * kept;
        self.heard = now;
    }

    /// The unit in use has changed: what was the other may be in use now.
    pub fn forget(&mut self) {
        *self = OtherUnit::default();
    }

    /// Which unit it is.
    pub fn source(&self) -> Option<SourceId> {
        self.source
    }

    /// Its mean.
    pub fn mean_kn(&self, now: Timestamp) -> Option<f64> {
        let is_known = self.heard.secs_since(self.began) >= LEAST_S;
        (is_known && now.secs_since(self.heard) <= SILENT_S).then_some(self.mean_kn)
    }
}

/// The level that a limit is held against, where two units differ and neither
/// is preferred: the lower where both are over it, for then it is passed
/// whichever is right; else the higher, to be on the safe side.
pub fn level_to_judge_kn(in_use_kn: f64, other_kn: Option<f64>, limit_kn: f64) -> f64 {
    match other_kn {
        Some(other) if in_use_kn >= limit_kn && other >= limit_kn => in_use_kn.min(other),
        Some(other) => in_use_kn.max(other),
        None => in_use_kn,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_over_gives_the_lower_and_astride_the_higher() {
        assert_eq!(level_to_judge_kn(18.0, Some(27.0), 14.0), 18.0);
        assert_eq!(level_to_judge_kn(27.0, Some(18.0), 14.0), 18.0);
        assert_eq!(level_to_judge_kn(12.0, Some(18.0), 14.0), 18.0);
        assert_eq!(level_to_judge_kn(9.0, Some(13.0), 14.0), 13.0);
        assert_eq!(level_to_judge_kn(9.0, None, 14.0), 9.0);
    }

    #[test]
    fn the_other_units_mean_is_of_about_the_last_minute() {
        let mut other = OtherUnit::default();
        for second in 0..150u64 {
            let kn = if second < 50 { 30.0 } else { 12.0 };
            other.put(SourceId(2), kn, Timestamp::from_secs(second));
            other.put(SourceId(3), 99.0, Timestamp::from_secs(second));
        }
        let mean = other.mean_kn(Timestamp::from_secs(150)).unwrap();
        assert!((mean - 12.0).abs() < 0.5, "{mean}");
        assert_eq!(other.mean_kn(Timestamp::from_secs(190)), None);
    }
}
