//! Times that the outlook gives, kept until it steps: judged every second,
//! they change once a minute.

use heapless::Deque;

use crate::outlook::{Outlook, Summary};

/// Two settings for each plan's limit and some to spare; the oldest goes
/// first.
const KEPT: usize = 40;

/// An outlook and what it has been asked since its last step.
#[derive(Clone, Debug)]
pub(super) struct Ahead {
    outlook: Outlook,
    asked: Deque<Asked, KEPT>,
}

#[derive(Clone, Copy, Debug)]
struct Asked {
    limit: f64,
    odds: f64,
    time_s: Option<f64>,
}

impl Ahead {
    pub(super) fn new() -> Self {
        Ahead {
            outlook: Outlook::new(),
            asked: Deque::new(),
        }
    }

    pub(super) fn step(&mut self, at_s: u64, summary: &Summary) {
        self.asked.clear();
        // Refused, it leaves a gap in the outlook, which then gives no odds.
        let _ = self.outlook.step(at_s, summary);
    }

    pub(super) fn reset(&mut self) {
        self.asked.clear();
        self.outlook.reset();
    }

    pub(super) fn outlook(&self) -> &Outlook {
        &self.outlook
    }

    /// First horizon at which the odds of passing a limit reach `odds`.
    pub(super) fn time_to_s(&mut self, limit: f64, odds: f64) -> Option<f64> {
        let known = self
            .asked
            .iter()
            .find(|asked| asked.limit == limit && asked.odds == odds);
        if let Some(asked) = known {
            return asked.time_s;
        }
        let time_s = self.outlook.time_to_s(limit, odds);
        if self.asked.is_full() {
            self.asked.pop_front();
        }
        // Made room for above.
        let _ = self.asked.push_back(Asked {
            limit,
            odds,
            time_s,
        });
        time_s
    }
}
