//! Times that the outlook gives, or the last minutes by themselves where they
//! are sooner; kept until the next minute: judged every second, they change
//! once a minute.

use heapless::Deque;

use crate::near::Near;
use crate::outlook::{Outlook, Summary};

/// Two settings for each plan's limit and some to spare; the oldest goes
/// first.
const KEPT: usize = 40;

/// The last minutes by themselves call when passing is about as likely as not:
/// a call too many costs less than one too late.
const NEAR_ODDS: f64 = 0.4;
/// They let go of a call when it is this unlikely.
const NEAR_LET_GO: f64 = 0.25;

/// More likely than not.
const LIKELY: f64 = 0.5;

/// Which odds are asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Line {
    /// Those at which a call is raised.
    Raise(f64),
    /// Those at which a standing call lets go.
    LetGo(f64),
    /// More likely than not: how long a plan would last.
    Likely,
}

impl Line {
    fn odds(self) -> f64 {
        match self {
            Line::Raise(odds) | Line::LetGo(odds) => odds,
            Line::Likely => LIKELY,
        }
    }

    fn near_odds(self) -> f64 {
        match self {
            Line::Raise(_) => NEAR_ODDS,
            Line::LetGo(_) => NEAR_LET_GO,
            Line::Likely => LIKELY,
        }
    }
}

/// An outlook and what it has been asked since its last step.
#[derive(Clone, Debug)]
pub(super) struct Ahead {
    outlook: Outlook,
    near: Near,
    asked: Deque<Asked, KEPT>,
}

#[derive(Clone, Copy, Debug)]
struct Asked {
    limit: f64,
    line: Line,
    time_s: Option<f64>,
}

impl Ahead {
    pub(super) fn new() -> Self {
        Ahead {
            outlook: Outlook::new(),
            near: Near::new(),
            asked: Deque::new(),
        }
    }

    pub(super) fn step(&mut self, at_s: u64, summary: &Summary) {
        self.asked.clear();
        // Refused, it leaves a gap in the outlook, which then gives no odds.
        let _ = self.outlook.step(at_s, summary);
        self.near.step(at_s, summary.mean_kn);
    }

    pub(super) fn reset(&mut self) {
        self.asked.clear();
        self.outlook.reset();
        self.near.reset();
    }

    pub(super) fn outlook(&self) -> &Outlook {
        &self.outlook
    }

    /// Odds that a limit is passed within a horizon.
    pub(super) fn odds(&self, limit: f64, horizon_s: u32) -> Option<f64> {
        let near = self.near.odds(limit, horizon_s);
        let fitted = self.outlook.odds(limit, horizon_s)?;
        // What is not yet likely by the last minutes says nothing against
        // the fitted odds.
        Some(
            near.filter(|odds| *odds >= NEAR_ODDS)
                .map_or(fitted, |odds| odds.max(fitted)),
        )
    }

    /// First horizon at which the odds of passing a limit reach a line.
    pub(super) fn time_to_s(&mut self, limit: f64, line: Line) -> Option<f64> {
        let known = self
            .asked
            .iter()
            .find(|asked| asked.limit == limit && asked.line == line);
        if let Some(asked) = known {
            return asked.time_s;
        }
        let fitted = self.outlook.time_to_s(limit, line.odds());
        let near = self.near.time_to_s(limit, line.near_odds());
        let time_s = match (fitted, near) {
            (Some(fitted), Some(near)) => Some(fitted.min(near)),
            (fitted, near) => fitted.or(near),
        };
        if self.asked.is_full() {
            self.asked.pop_front();
        }
        // Made room for above.
        let _ = self.asked.push_back(Asked {
            limit,
            line,
            time_s,
        });
        time_s
    }
}
