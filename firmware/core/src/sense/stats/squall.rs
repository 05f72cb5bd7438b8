//! A squall, and the onset that may be one.
//!
//! WMO: wind up by at least 16 kn to at least 22 kn, for at least one minute.
//! Judged here by means over whole seconds: the last minute against the
//! quietest minute of the four before it. An onset is told at once, from ten
//! seconds, for those who cannot wait for the minute to be full.

use super::seconds::Seconds;

/// Rise of a squall (8 m/s).
pub const RISE_KN: f64 = 16.0;
/// Least wind in a squall (11 m/s).
pub const LEAST_KN: f64 = 22.0;
/// How long it lasts at least.
const MINUTE: usize = 60;
/// How long ago the quiet may have been.
const BEFORE: usize = 240;
/// An onset is judged by this much.
const ONSET_SECONDS: usize = 10;
/// Rise of an onset. Common practice, no source: about two reefs' worth.
const ONSET_RISE_KN: f64 = 10.0;
/// And by this many standard deviations of the minute before.
const ONSET_SPREADS: f64 = 3.0;
/// Wind under this is no onset, whatever it came from.
const ONSET_LEAST_KN: f64 = 15.0;

/// What is blowing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Squall {
    /// Nothing sudden.
    #[default]
    None,
    /// It has just risen steeply and may be a squall.
    Onset,
    /// A squall by the WMO's definition.
    Squall,
}

/// Judges the last closed seconds.
pub fn judge(seconds: &Seconds) -> Squall {
    if is_squall(seconds) {
        Squall::Squall
    } else if is_onset(seconds) {
        Squall::Onset
    } else {
        Squall::None
    }
}

fn is_squall(seconds: &Seconds) -> bool {
    let last = seconds.window(MINUTE, 0);
    let Some(now) = last.tws().filter(|_| last.share() > 0.8) else {
        return false;
    };
    if now.mean < LEAST_KN {
        return false;
    }
    (MINUTE..=BEFORE).step_by(15).any(|skip| {
        let quiet = seconds.window(MINUTE, skip);
        quiet.share() > 0.5
            && quiet
                .tws()
                .is_some_and(|before| now.mean - before.mean >= RISE_KN)
    })
}

fn is_onset(seconds: &Seconds) -> bool {
    let last = seconds.window(ONSET_SECONDS, 0);
    let Some(now) = last.tws().filter(|_| last.share() > 0.8) else {
        return false;
    };
    if now.mean < ONSET_LEAST_KN {
        return false;
    }
    [ONSET_SECONDS, 2 * ONSET_SECONDS, 3 * ONSET_SECONDS]
        .into_iter()
        .any(|skip| {
            let quiet = seconds.window(MINUTE, skip);
            quiet.share() > 0.5
                && quiet.tws().is_some_and(|before| {
                    let rise = now.mean - before.mean;
                    rise >= ONSET_RISE_KN && rise >= ONSET_SPREADS * before.deviation
                })
        })
}
