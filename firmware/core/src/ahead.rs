//! Times that the outlook gives, or the last minutes by themselves where they
//! are sooner; kept until the next minute: judged every second, they change
//! once a minute.

use heapless::Deque;

use crate::near::{self, Near};
use crate::outlook::{Curve, Outlook, Summary, untrended};

/// Two settings for each plan's limit and some to spare; the oldest goes
/// first.
const KEPT: usize = 40;

/// More likely than not.
const LIKELY: f64 = 0.5;

/// Which odds are asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Line {
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
            Line::Raise(_) => near::RAISE_ODDS,
            Line::LetGo(_) => near::LET_GO_ODDS,
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
    near: Near,
    answers: Answers,
}

impl Ahead {
    /// Knows nothing yet.
    pub fn new() -> Self {
        Ahead {
            outlook: Outlook::new(),
            near: Near::new(),
            answers: Answers::default(),
        }
    }

    /// Takes the summary of the interval that began at `at_s`.
    pub fn step(&mut self, at_s: u64, summary: &Summary) {
        self.answers.forget();
        // Refused, it leaves a gap in the outlook, which then gives no odds.
        let _ = self.outlook.step(at_s, summary);
        self.near.step(at_s, summary.mean_kn);
    }

    /// Forgets all.
    pub fn reset(&mut self) {
        self.answers.forget();
        self.outlook.reset();
        self.near.reset();
    }

    /// The outlook by itself.
    pub fn outlook(&self) -> &Outlook {
        &self.outlook
    }

    /// The last minutes by themselves.
    pub fn near(&self) -> &Near {
        &self.near
    }

    /// Switched on a moment ago, it has seen nothing move yet: that is not
    /// the same as a wind that has stood still, for which the fitted odds
    /// would take it.
    fn young(&self, limit: f64) -> Option<Curve> {
        untrended(self.near.young_level_kn()?, limit)
    }
}

impl TellsAhead for Ahead {
    fn odds(&self, limit: f64, horizon_s: u32) -> Option<f64> {
        let fitted = self.outlook.odds(limit, horizon_s)?;
        let young = self.young(limit).map(|curve| curve.odds(horizon_s));
        // What is not yet likely by the last minutes says nothing against
        // the fitted odds.
        let near = self.near.odds(limit, horizon_s);
        let near = near.filter(|odds| *odds >= near::RAISE_ODDS);
        Some([young, near].into_iter().flatten().fold(fitted, f64::max))
    }

    fn time_to_s(&mut self, limit: f64, line: Line) -> Option<f64> {
        let (outlook, near, young) = (&self.outlook, &self.near, self.young(limit));
        self.answers.of(limit, line, || {
            let fitted = outlook.time_to_s(limit, line.odds());
            let young = young.and_then(|curve| curve.time_to_s(line.odds()));
            let near = near.time_to_s(limit, line.near_odds());
            [fitted, young, near].into_iter().flatten().reduce(f64::min)
        })
    }
}

/// A wind read off by hand: a level without trend or past.
#[derive(Clone, Debug, Default)]
pub struct HandAhead {
    level_kn: Option<f64>,
    answers: Answers,
}

impl HandAhead {
    /// Takes a reading.
    pub fn read(&mut self, kn: f64) {
        self.answers.forget();
        self.level_kn = Some(kn);
    }
}

impl TellsAhead for HandAhead {
    fn odds(&self, limit: f64, horizon_s: u32) -> Option<f64> {
        Some(untrended(self.level_kn?, limit)?.odds(horizon_s))
    }

    fn time_to_s(&mut self, limit: f64, line: Line) -> Option<f64> {
        let level_kn = self.level_kn?;
        self.answers.of(limit, line, || {
            untrended(level_kn, limit)?.time_to_s(line.odds())
        })
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
