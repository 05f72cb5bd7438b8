//! What was last reckoned of the hours ahead, and what was said of it.

use super::deck::Asking;
use crate::act::Hands;
use crate::bill::BillClock;
use crate::event::Hint;
use crate::ladder::PlanId;
use crate::moment::{Advice, Turning};
use crate::time::Timestamp;
use crate::view::MomentView;

/// See the module.
#[derive(Clone, Debug, Default)]
pub(super) struct LastGoodMoment {
    pub(super) bill: BillClock,
    pub(super) looked_minute: Option<u64>,
    pub(super) answer: Option<Answer>,
    pub(super) said: Option<Said>,
    pub(super) watch_due: WatchDue,
    /// Aloud until acknowledged or no longer so, where the boat file says so.
    pub(super) sound: Asking,
}

/// Whether "watch changed?" is asked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum WatchDue {
    #[default]
    No,
    Asked,
}

#[derive(Clone, Debug)]
pub(super) struct Answer {
    pub(super) advice: Advice,
    pub(super) to: PlanId,
    pub(super) by: Option<Turning>,
    pub(super) at_s: f64,
    pub(super) hands: Hands,
    pub(super) shown: MomentView,
}

/// What was said, and until when it is not said again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Said {
    pub(super) hint: Hint,
    pub(super) by: Option<Turning>,
    pub(super) hands: Hands,
    pub(super) until: Timestamp,
}

impl LastGoodMoment {
    /// What was reckoned no longer holds: another plan, other hands.
    pub(super) fn forget_answer(&mut self) {
        self.looked_minute = None;
        self.sound = Asking::Still;
        self.answer = None;
    }

    /// Another plan is another question.
    pub(super) fn forget_plan(&mut self) {
        self.forget_answer();
        self.said = None;
    }
}

impl Answer {
    /// The hint that it gives, if any.
    pub(super) fn hint(&self) -> Option<Hint> {
        match self.advice {
            Advice::Nothing => None,
            Advice::Now { .. } => Some(Hint::ReduceNow(self.to)),
            Advice::CanWait { .. } => Some(Hint::CanWait(self.to)),
        }
    }
}
