//! The stretches of time between changes that are known beforehand: who is on
//! deck, how light it is, how hard the forecast has it blow.

use heapless::Vec;

use super::costs::Darkness;
use crate::act::Hands;

/// Most stretches that are compared.
pub const MAX_SPANS: usize = 24;

/// What is known to be so in a stretch of time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// On deck and below.
    pub hands: Hands,
    /// Day or night.
    pub dark: Darkness,
    /// The forecast's wind, where it says anything.
    pub forecast_kn: Option<f64>,
}

/// One thing that changes at a known time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Turning {
    /// The watch changes: both are up for a while.
    WatchChanges(Hands),
    /// The watch that was relieved is below.
    WatchBelow(Hands),
    /// It gets dark.
    Nightfall,
    /// It gets light.
    Daylight,
    /// The forecast has another wind from here.
    Forecast(f64),
}

/// A stretch with nothing known to change in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Seconds from now.
    pub from_s: f64,
    /// Seconds from now.
    pub to_s: f64,
    /// What began it; none for the one that is now.
    pub begun_by: Option<Turning>,
    /// What is so in it.
    pub conditions: Conditions,
}

/// Turnings with the seconds until each, to be put in order.
#[derive(Clone, Debug, Default)]
pub struct Turnings(Vec<(f64, Turning), MAX_SPANS>);

impl Turnings {
    /// Another; one in the past, or too many, is left out.
    pub fn add(&mut self, in_s: f64, turning: Turning) {
        if in_s > 0.0 {
            let _ = self.0.push((in_s, turning));
        }
    }

    /// The stretches from now to a horizon.
    pub fn stretches(mut self, now: Conditions, horizon_s: f64) -> Vec<Stretch, MAX_SPANS> {
        self.0.sort_unstable_by(|(a, _), (b, _)| a.total_cmp(b));
        let mut stretches = Vec::new();
        let mut open = Stretch {
            from_s: 0.0,
            to_s: horizon_s,
            begun_by: None,
            conditions: now,
        };
        for (at, turning) in self.0.into_iter().filter(|(at, _)| *at < horizon_s) {
            let conditions = open.conditions.after(turning);
            if conditions == open.conditions {
                continue;
            }
            let closed = Stretch { to_s: at, ..open };
            if at > open.from_s && stretches.push(closed).is_err() {
                return stretches;
            }
            open = Stretch {
                from_s: at,
                begun_by: Some(turning),
                conditions,
                ..open
            };
        }
        let _ = stretches.push(open);
        stretches
    }
}

impl Conditions {
    fn after(mut self, turning: Turning) -> Self {
        match turning {
            Turning::WatchChanges(hands) | Turning::WatchBelow(hands) => self.hands = hands,
            Turning::Nightfall => self.dark = Darkness::Dark,
            Turning::Daylight => self.dark = Darkness::Light,
            Turning::Forecast(kn) => self.forecast_kn = Some(kn),
        }
        self
    }
}
