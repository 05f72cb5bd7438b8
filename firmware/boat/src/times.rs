//! The call time of every reduction, by day and by night, so that a crew can
//! see whether the file agrees with what they know.

use cringle_core::act::Hands;
use cringle_core::ladder::{Circumstances, PlanId, call_time};
use cringle_core::view::Light;

use crate::file::BoatFile;

/// Call times of one reduction in minutes, in a slight sea, with fresh hands
/// and all its set-up open. None where these hands cannot do it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CallTimes {
    /// Its place in the ladder's changes.
    pub change: usize,
    /// The plan that is left.
    pub from: PlanId,
    /// The plan that is set.
    pub to: PlanId,
    /// Everybody aboard on deck, by day.
    pub all_on_deck_min: Option<f64>,
    /// Hands as at the start, by day.
    pub by_day_min: Option<f64>,
    /// Hands as at the start, by night.
    pub by_night_min: Option<f64>,
    /// One alone by day.
    pub alone_min: Option<f64>,
}

/// All reductions in the order of the file.
pub fn call_times(file: &BoatFile) -> Vec<CallTimes> {
    let boat = &file.boat;
    let hands = boat.start.hands;
    let all = Hands {
        on_deck: hands.on_deck.saturating_add(hands.below),
        below: 0,
    };
    let alone = Hands {
        on_deck: 1,
        below: 0,
    };
    let reductions = boat.ladder.changes.iter().enumerate();
    reductions
        .filter(|(_, change)| change.to > change.from)
        .map(|(place, change)| {
            let minutes = |hands: Hands, light: Light| {
                let now = Circumstances {
                    helm: boat.start.helm,
                    light,
                    // Light enough for the pilot.
                    tws_kn: Some(0.0),
                    ..Circumstances::fair(hands)
                };
                let feasibility = call_time(&boat.ladder, &boat.crew, change, &now);
                feasibility.job().map(|job| job.time.total_s() / 60.0)
            };
            CallTimes {
                change: place,
                from: change.from,
                to: change.to,
                all_on_deck_min: minutes(all, Light::Day),
                by_day_min: minutes(hands, Light::Day),
                by_night_min: minutes(hands, Light::Night),
                alone_min: minutes(alone, Light::Day),
            }
        })
        .collect()
}
