//! The plan that a standing call orders.
//!
//! Until somebody acknowledges it may become a deeper one, each time with a
//! sound; then it is frozen: the crew is getting it ready. Only what can no
//! longer be done, or would be past its own limit before it is done, is
//! replaced, and that is a new order, sounded: "not reef 1: reef 3".

use core::time::Duration;

use super::Since;
use crate::ladder::{Choice, PlanId};
use crate::time::Timestamp;

/// A deeper plan must have been the better one for so long: the odds that it
/// is chosen by move once a minute. Chosen by trial on the simulator's stories.
const DEEPER: Duration = Duration::from_secs(150);
/// A target must have been past saving for so long: a gust is over sooner.
const SPENT: Duration = Duration::from_secs(20);

/// See the module.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Target {
    plan: Option<PlanId>,
    hold: Hold,
    /// What was ordered before, until the new order is acknowledged.
    instead_of: Option<PlanId>,
    order: Order,
    deeper: Since,
    spent: Since,
    asked: Asked,
}

/// Whether the crew has entered something that may ask for another plan.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Asked {
    #[default]
    AsBefore,
    Anew,
}

/// Whether the target may still become a deeper one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Hold {
    #[default]
    MayDeepen,
    Frozen,
}

/// Whether an order has still to be sounded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Order {
    /// As it was.
    #[default]
    Same,
    /// Another, to be sounded.
    Anew,
}

/// What the target's own plan is still good for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Worth {
    /// It will stand for a while.
    Good,
    /// Its own limit would be passed before it is set.
    Spent,
}

impl Target {
    /// The plan ordered; none while no call stands.
    pub const fn plan(&self) -> Option<PlanId> {
        self.plan
    }

    /// The plan that was ordered before this one.
    pub const fn instead_of(&self) -> Option<PlanId> {
        self.instead_of
    }

    /// A call begins with this order.
    pub fn begin(&mut self, plan: Option<PlanId>) {
        *self = Target {
            plan,
            ..Target::default()
        };
    }

    /// The crew has taken the order up.
    pub fn freeze(&mut self) {
        self.hold = Hold::Frozen;
        self.instead_of = None;
    }

    /// The crew has entered another squall: the target is chosen anew.
    pub fn renew(&mut self) {
        self.asked = Asked::Anew;
    }

    /// What has still to be sounded; asked once.
    pub fn take_order(&mut self) -> Order {
        core::mem::take(&mut self.order)
    }

    /// The choice to order, of the one that stands, as it is now (none where
    /// it cannot be done), and the one that would be made afresh.
    pub fn resolve(
        &mut self,
        standing: Option<Choice>,
        fresh: Option<Choice>,
        worth: Worth,
        now: Timestamp,
    ) -> Option<Choice> {
        let (Some(plan), Some(fresh)) = (self.plan, fresh) else {
            return standing;
        };
        let is_deeper = fresh.to > plan;
        self.deeper.track(is_deeper, now);
        self.spent.track(worth == Worth::Spent, now);
        let may_deepen = self.hold == Hold::MayDeepen && self.deeper.has_held(DEEPER, now);
        let is_spent = self.spent.has_held(SPENT, now);
        let is_lost = standing.is_none() && fresh.to != plan;
        let is_asked = core::mem::take(&mut self.asked) == Asked::Anew && fresh.to != plan;
        if is_asked || is_lost || (is_deeper && (may_deepen || is_spent)) {
            *self = Target {
                plan: Some(fresh.to),
                instead_of: Some(self.instead_of.unwrap_or(plan)),
                order: Order::Anew,
                ..Target::default()
            };
            return Some(fresh);
        }
        standing.or(Some(fresh))
    }
}
