//! What an outlook has been asked, kept until its next minute: judged every
//! second, the answers change once a minute.

use core::cell::Cell;

use heapless::Deque;

use crate::ladder::MAX_PLANS;
use crate::outlook::{Curve, Outlook, Summary};

/// How long each plan would last, two settings for the present one's limit, and
/// some to spare; the oldest goes first.
const KEPT: usize = MAX_PLANS + 8;

/// Curves that are kept: those of the present plan's limit, of the heel's and of
/// hints.
const CURVES: usize = 4;

/// More likely than not.
const LIKELY: f64 = 0.5;

/// Which odds are asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Line {
    /// Those at which a call is raised.
    Raise(f64),
    /// More likely than not: how long a plan would last.
    Likely,
}

impl Line {
    fn odds(self) -> f64 {
        match self {
            Line::Raise(odds) => odds,
            Line::Likely => LIKELY,
        }
    }
}

/// What tells of the wind to come.
pub trait TellsAhead {
    /// Odds that a limit is passed within a horizon.
    fn odds(&self, limit: f64, horizon_s: u32) -> Option<f64>;

    /// First horizon at which the odds of passing a limit reach a line.
    fn time_to_s(&mut self, limit: f64, line: Line) -> Option<f64>;
}

/// An outlook and what it has been asked since its last step.
#[derive(Clone, Debug)]
pub struct Ahead {
    outlook: Outlook,
    answers: Answers,
    curves: Curves,
}

impl Default for Ahead {
    fn default() -> Self {
        Self::new()
    }
}

impl Ahead {
    /// Knows nothing yet.
    pub fn new() -> Self {
        Ahead {
            outlook: Outlook::new(),
            answers: Answers::default(),
            curves: Curves::default(),
        }
    }

    /// Takes the summary of the interval that began at `at_s`.
    pub fn step(&mut self, at_s: u64, summary: &Summary) {
        self.answers.forget();
        self.curves.forget();
        // Refused, it leaves a gap in the outlook, which then gives no odds.
        let _ = self.outlook.step(at_s, summary);
    }

    /// Forgets all.
    pub fn reset(&mut self) {
        self.answers.forget();
        self.curves.forget();
        self.outlook.reset();
    }

    /// The outlook by itself.
    pub fn outlook(&self) -> &Outlook {
        &self.outlook
    }
}

impl TellsAhead for Ahead {
    fn odds(&self, limit: f64, horizon_s: u32) -> Option<f64> {
        let curve = self.curves.of(limit, || self.outlook.curve(limit));
        Some(curve?.odds(horizon_s))
    }

    fn time_to_s(&mut self, limit: f64, line: Line) -> Option<f64> {
        let outlook = &self.outlook;
        self.answers
            .of(limit, line, || outlook.time_to_s(limit, line.odds()))
    }
}

/// A wind read off by hand: one minute without trend or past.
#[derive(Clone, Debug, Default)]
pub struct HandAhead(Outlook);

impl HandAhead {
    /// Takes a reading.
    pub fn read(&mut self, kn: f64) {
        self.0.reset();
        // Refused, there are no odds.
        let _ = self.0.step(0, &Summary::of_wind(kn, 60));
    }
}

impl TellsAhead for HandAhead {
    fn odds(&self, limit: f64, horizon_s: u32) -> Option<f64> {
        self.0.odds(limit, horizon_s)
    }

    fn time_to_s(&mut self, limit: f64, line: Line) -> Option<f64> {
        self.0.time_to_s(limit, line.odds())
    }
}

/// What has been asked already.
#[derive(Clone, Debug, Default)]
struct Answers(Deque<Answer, KEPT>);

#[derive(Clone, Copy, Debug)]
struct Answer {
    limit: f64,
    line: Line,
    time_s: Option<f64>,
}

impl Answers {
    fn forget(&mut self) {
        self.0.clear();
    }

    fn of(&mut self, limit: f64, line: Line, ask: impl FnOnce() -> Option<f64>) -> Option<f64> {
        let is_it = |known: &&Answer| known.limit == limit && known.line == line;
        if let Some(known) = self.0.iter().find(is_it) {
            return known.time_s;
        }
        let time_s = ask();
        if self.0.is_full() {
            self.0.pop_front();
        }
        // Made room for above.
        let _ = self.0.push_back(Answer {
            limit,
            line,
            time_s,
        });
        time_s
    }
}

/// The outlook's curves since its last step, newest first: odds are asked for
/// every second, and a curve is dear.
#[derive(Clone, Debug, Default)]
struct Curves(Cell<[Option<OfLimit>; CURVES]>);

#[derive(Clone, Copy, Debug)]
struct OfLimit {
    limit: f64,
    curve: Option<Curve>,
}

impl Curves {
    fn forget(&self) {
        self.0.take();
    }

    fn of(&self, limit: f64, ask: impl FnOnce() -> Option<Curve>) -> Option<Curve> {
        let mut known = self.0.get();
        if let Some(known) = known.iter().flatten().find(|it| it.limit == limit) {
            return known.curve;
        }
        let curve = ask();
        known.rotate_right(1);
        if let Some(newest) = known.first_mut() {
            *newest = Some(OfLimit { limit, curve });
        }
        self.0.set(known);
        curve
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_is_worked_once_until_the_next_step() {
        let mut ahead = Ahead::new();
        for minute in 0..60 {
            ahead.step(minute * 60, &Summary::of_wind(12.0, 60));
        }
        let by_itself = ahead.outlook.curve(20.0);
        assert_eq!(ahead.curves.of(20.0, || by_itself), by_itself);
        let asked = |ahead: &Ahead| ahead.curves.of(20.0, || panic!("asked again"));
        assert_eq!(asked(&ahead), by_itself);
        let mut limits = (0..CURVES).map(|place| 21.0 + place as f64);
        assert!(limits.all(|limit| ahead.odds(limit, 600).is_some()));
        // The oldest has gone.
        let mut was_asked = false;
        ahead.curves.of(20.0, || {
            was_asked = true;
            None
        });
        assert!(was_asked);
        ahead.step(3600, &Summary::of_wind(16.0, 60));
        assert_ne!(
            ahead.odds(20.0, 600),
            by_itself.map(|curve| curve.odds(600))
        );
    }
}
