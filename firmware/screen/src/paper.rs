//! When e-paper is worth redrawing.
//!
//! Paper is slow, wears, ghosts, can't flash and is dark at night. So it is
//! redrawn when something a person would act on has changed, at once for a
//! call and otherwise seldom; by partial refresh, with a full one after so
//! many partial ones and at least so often. What paper can't do, others must:
//! the beacon flashes in its place and the sounder wakes; a paper panel at night
//! needs a lamp of its own (red), and is never the only screen at the wheel.

use core::time::Duration;

use cringle_core::event::Call;
use cringle_core::time::Timestamp;
use cringle_core::view::{MinutesInHand, View};

use crate::aboard::Alive;

/// Partial refreshes between full ones; data sheets of common panels ask for
/// a full one after 5 to 10 (common practice, no source).
pub const PARTIALS_BETWEEN_FULL: u8 = 8;
/// Least time between refreshes while nothing calls: panels last some million
/// refreshes, and each is a small disturbance to the eye.
pub const LEAST_GAP: Duration = Duration::from_secs(20);
/// Least time between refreshes while a call changes: what a partial refresh
/// itself takes, and a margin.
pub const CALL_GAP: Duration = Duration::from_secs(2);
/// The picture is drawn anew at least this often, so that its printed time
/// shows that the instrument lives.
pub const MOST_GAP: Duration = Duration::from_secs(60);
/// A full refresh at least this often: makers warn of burn-in after a day
/// (common practice, no source).
pub const FULL_EVERY: Duration = Duration::from_secs(12 * 3600);

/// How much a change matters on paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Worth {
    /// Not worth a refresh.
    Nothing,
    /// Worth one when the gap allows.
    Something,
    /// Worth one now.
    Call,
}

/// What a paper panel should do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refresh {
    /// Nothing.
    Keep,
    /// A partial refresh.
    Partial,
    /// A full refresh, with its black and white flash.
    Full,
}

/// Whether what changed from one view to another is worth a refresh.
pub fn worth_redrawing(prev: &View, next: &View) -> Worth {
    let call = |view: &View| {
        let in_call = &view.call;
        (
            in_call.call,
            in_call.alert,
            in_call.id,
            in_call.escalation,
            view.doing,
        )
    };
    if call(prev) != call(next) {
        return Worth::Call;
    }
    let plan = |view: &View| {
        (
            view.plan,
            view.next,
            view.manoeuvre.map(|m| (m.to, m.worst)),
            view.not_now,
        )
    };
    let vouched = |view: &View| (view.limits_confirmed, view.wind_confirmed);
    let notes_changed = prev.faults != next.faults
        || prev.hints != next.hints
        || prev.setup != next.setup
        || prev.rigged != next.rigged
        || prev.people != next.people
        || prev.squall_due.is_some() != next.squall_due.is_some();
    let something = plan(prev) != plan(next)
        || vouched(prev) != vouched(next)
        || notes_changed
        || minutes_step(prev) != minutes_step(next)
        || is_apart(prev.wind.mean_1min_kn, next.wind.mean_1min_kn, 1.0)
        || is_apart(prev.wind.gust_kn, next.wind.gust_kn, 2.0)
        || manoeuvre_minutes(prev) != manoeuvre_minutes(next);
    if something {
        Worth::Something
    } else {
        Worth::Nothing
    }
}

/// Minutes as they are worth showing: each one to 15, then each five.
fn minutes_step(view: &View) -> Option<i32> {
    match view.call.minutes_in_hand {
        MinutesInHand::Unknown => None,
        MinutesInHand::Beyond => Some(i32::MAX),
        MinutesInHand::Minutes(minutes) if minutes < 15.0 => Some(libm::floor(minutes) as i32),
        MinutesInHand::Minutes(minutes) => Some(5 * libm::floor(minutes / 5.0) as i32),
    }
}

fn manoeuvre_minutes(view: &View) -> Option<u64> {
    view.manoeuvre
        .map(|m| view.now.since(m.since).as_secs() / 60)
}

fn is_apart(prev: Option<f64>, next: Option<f64>, step: f64) -> bool {
    match (prev, next) {
        (Some(prev), Some(next)) => {
            let apart = (prev - next).abs();
            apart.is_nan() || apart >= step
        }
        (None, None) => false,
        (Some(_), None) | (None, Some(_)) => true,
    }
}

/// Keeps a paper panel within its limits.
#[derive(Clone, Debug)]
pub struct Policy {
    drawn: Option<Drawn>,
    partials: u8,
    full_at: Timestamp,
}

#[derive(Clone, Debug)]
struct Drawn {
    view: View,
    was_stopped: Liveness,
    at: Timestamp,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Liveness {
    Runs,
    Stopped,
}

impl Default for Policy {
    fn default() -> Self {
        Policy::new()
    }
}

impl Policy {
    /// Nothing drawn yet: the first refresh is a full one.
    pub const fn new() -> Policy {
        Policy {
            drawn: None,
            partials: 0,
            full_at: Timestamp::ZERO,
        }
    }

    /// What to do now; takes it as done. After a touched key, pages and menus
    /// are drawn at the call's gap.
    pub fn next(&mut self, view: &View, alive: &Alive, touch: Touch, now: Timestamp) -> Refresh {
        let liveness = if alive.is_stopped(view) {
            Liveness::Stopped
        } else {
            Liveness::Runs
        };
        let Some(drawn) = &self.drawn else {
            return self.full(view, liveness, now);
        };
        let waited = now.since(drawn.at);
        let worth = worth_redrawing(&drawn.view, view)
            .max(if drawn.was_stopped == liveness {
                Worth::Nothing
            } else {
                Worth::Call
            })
            .max(match touch {
                Touch::None => Worth::Nothing,
                Touch::Key => Worth::Call,
            });
        let is_due = match worth {
            Worth::Call => waited >= CALL_GAP,
            Worth::Something => waited >= LEAST_GAP,
            // A stopped instrument's time of drawing must grow old.
            Worth::Nothing => waited >= MOST_GAP && liveness == Liveness::Runs,
        };
        if !is_due {
            return Refresh::Keep;
        }
        let full_is_due =
            self.partials >= PARTIALS_BETWEEN_FULL || now.since(self.full_at) >= FULL_EVERY;
        // A full refresh takes seconds and blanks the picture: it waits while
        // a call is being raised, unless the last one is long ago.
        let may_wait = worth == Worth::Call
            && view.call.call != Call::None
            && self.partials < 2 * PARTIALS_BETWEEN_FULL;
        if full_is_due && !may_wait {
            return self.full(view, liveness, now);
        }
        self.partials = self.partials.saturating_add(1);
        self.keep(view, liveness, now);
        Refresh::Partial
    }

    fn full(&mut self, view: &View, liveness: Liveness, now: Timestamp) -> Refresh {
        self.partials = 0;
        self.full_at = now;
        self.keep(view, liveness, now);
        Refresh::Full
    }

    fn keep(&mut self, view: &View, was_stopped: Liveness, at: Timestamp) {
        self.drawn = Some(Drawn {
            view: view.clone(),
            was_stopped,
            at,
        });
    }
}

/// Whether a key was pressed since the last time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Touch {
    /// No.
    None,
    /// Yes.
    Key,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;

    const LIVES: Alive = Alive {
        beats: 1,
        still_s: 0.2,
        hung_s: 0.2,
    };

    fn at(seconds: u64) -> Timestamp {
        Timestamp::from_secs(seconds)
    }

    #[test]
    fn a_call_is_worth_it_at_once_and_a_tenth_of_a_knot_never() {
        let calm = samples::calm();
        assert_eq!(worth_redrawing(&calm, &samples::prepare()), Worth::Call);
        assert_eq!(worth_redrawing(&calm, &samples::anchored()), Worth::Call);
        let mut breath = calm.clone();
        breath.wind.mean_1min_kn = Some(18.1);
        breath.now = at(18_030);
        assert_eq!(worth_redrawing(&calm, &breath), Worth::Nothing);
        breath.wind.mean_1min_kn = None;
        assert_eq!(worth_redrawing(&calm, &breath), Worth::Something);
    }

    #[test]
    fn in_calm_paper_is_drawn_once_a_minute() {
        let mut policy = Policy::new();
        let calm = samples::calm();
        let drawn: usize = (0..3600)
            .filter(|&s| policy.next(&calm, &LIVES, Touch::None, at(s)) != Refresh::Keep)
            .count();
        assert_eq!(drawn, 60);
    }

    #[test]
    fn a_call_is_drawn_within_the_call_gap() {
        let mut policy = Policy::new();
        policy.next(&samples::calm(), &LIVES, Touch::None, at(100));
        let mut waits = (100..200).filter(|&s| {
            policy.next(&samples::prepare(), &LIVES, Touch::None, at(s)) != Refresh::Keep
        });
        assert_eq!(waits.next(), Some(102));
    }

    #[test]
    fn full_refreshes_come_between_partial_ones() {
        let mut policy = Policy::new();
        let mut run = 0;
        for s in 0..4 * 3600 {
            match policy.next(&samples::calm(), &LIVES, Touch::None, at(s)) {
                Refresh::Keep => {}
                Refresh::Partial => run += 1,
                Refresh::Full => run = 0,
            }
            assert!(run <= PARTIALS_BETWEEN_FULL);
        }
    }

    #[test]
    fn worst_case_stays_within_the_gap() {
        // Two views that differ in everything, turn by turn, keys pressed.
        let mut policy = Policy::new();
        let mut last = None;
        for s in 0..600 {
            let view = if s % 2 == 0 {
                samples::calm()
            } else {
                samples::past()
            };
            if policy.next(&view, &LIVES, Touch::Key, at(s)) != Refresh::Keep {
                assert!(last.is_none_or(|last| s - last >= CALL_GAP.as_secs()));
                last = Some(s);
            }
        }
    }

    #[test]
    fn when_all_has_stopped_it_says_so_once_and_its_time_grows_old() {
        let mut policy = Policy::new();
        let calm = samples::calm();
        policy.next(&calm, &LIVES, Touch::None, at(0));
        let stopped = Alive {
            beats: 1,
            still_s: 9.0,
            hung_s: 0.2,
        };
        let drawn: usize = (5..600)
            .filter(|&s| policy.next(&calm, &stopped, Touch::None, at(s)) != Refresh::Keep)
            .count();
        assert_eq!(drawn, 1);
    }
}
