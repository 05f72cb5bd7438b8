//! How well the wind is known, for who must decide whether to trust it.

use core::time::Duration;

use crate::act::PointOfSail;
use crate::fault::Fault;
use crate::reading::Quantity;
use crate::time::Timestamp;
use crate::units::Knots;

use super::Picture;
use super::basis::Basis;

/// Wind entered by hand counts for so long. Common practice, no source: as
/// often as a careful watch writes the log in a breeze.
pub const BY_HAND_LIMIT: Duration = Duration::from_secs(30 * 60);

/// How well the wind is known now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WindHealth {
    /// Apparent wind and log, and nothing against either.
    Good,
    /// Good enough to judge by, with this missing.
    Degraded(Fault),
    /// Heard, but this speaks against it: heel tells more.
    Doubted(Fault),
    /// Only what was entered by hand, not too long ago.
    ByHand,
    /// Not known, for want of this.
    Lost {
        /// What is missing.
        what: Quantity,
    },
}

/// Wind entered by hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ByHand {
    /// TWS.
    pub speed: Knots,
    /// Where it meets the boat.
    pub point: PointOfSail,
    /// When it was entered.
    pub at: Timestamp,
}

impl Picture {
    /// How well the wind is known.
    pub fn needs(&self, now: Timestamp) -> WindHealth {
        let fresh = self.wind_is_fresh(now);
        match self.basis_at(now) {
            Basis::None(what) => self.by_hand_or(what, now),
            // Live, but all of it is being gated out.
            _ if !fresh => self.by_hand_or(Quantity::ApparentWind, now),
            // What speaks against the masthead says nothing against the hand.
            _ if self.struck_out(now).is_some() && self.hand_wind(now).is_some() => {
                WindHealth::ByHand
            }
            basis => match (self.struck_out(now), self.doubt(now), basis) {
                (Some(doubt), _, _) => WindHealth::Doubted(doubt.fault),
                (None, Some(apart), _) => WindHealth::Degraded(apart.fault),
                (None, None, Basis::Water) => WindHealth::Good,
                (None, None, Basis::Ground) => WindHealth::Degraded(Fault::NoWaterSpeed),
                (None, None, _) => WindHealth::Degraded(Fault::TrueWindOnly),
            },
        }
    }

    /// Wind entered by hand that is not too old.
    pub fn hand_wind(&self, now: Timestamp) -> Option<ByHand> {
        self.by_hand
            .filter(|by_hand| now.since(by_hand.at) <= BY_HAND_LIMIT)
    }

    fn by_hand_or(&self, what: Quantity, now: Timestamp) -> WindHealth {
        match self.hand_wind(now) {
            Some(_) => WindHealth::ByHand,
            None => WindHealth::Lost { what },
        }
    }
}
