//! The mean wind of a scenario: turning points, and events laid over them.
//!
//! Speeds are the mean over the ground at masthead height, in knots, because
//! that is how sailors write a story down; everything becomes SI on the way in.

use serde::Deserialize;

use crate::dice::Dice;
use crate::maths::{ease, ms, rad, wrap};

/// What the mean wind does over the length of a scenario.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Story {
    /// Turning points in order of time; between them the change is smooth.
    #[serde(default)]
    pub mean: Vec<TurningPoint>,
    /// Events laid over the mean.
    #[serde(default)]
    pub event: Vec<Event>,
}

/// The mean wind at one moment of the story.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TurningPoint {
    /// Minutes from the start.
    pub at_min: f64,
    /// Mean speed, knots.
    pub speed_kn: f64,
    /// Direction it comes from, true degrees.
    pub from_deg: f64,
    /// Pressure at sea level, hPa.
    pub pressure_hpa: f64,
}

/// Something the weather does at its own time.
#[derive(Clone, Debug, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Event {
    /// A cold front: the glass dips and kicks up, the wind veers and comes in gusty.
    Front {
        /// Minutes from the start to its passage.
        at_min: f64,
        /// Minutes the shift takes.
        over_min: f64,
        /// Turn of the wind, clockwise positive.
        veer_deg: f64,
        /// Stronger by so much behind it.
        add_kn: f64,
        /// Depth of the trough.
        trough_hpa: f64,
        /// How much gustier the air behind it is.
        gustier: f64,
    },
    /// A squall line: a lull before it, then a wall of wind.
    Squall {
        /// Minutes from the start to its gust front.
        at_min: f64,
        /// Seconds from the lull to full strength.
        rise_s: f64,
        /// Minutes it blows.
        hold_min: f64,
        /// Minutes it takes to die out.
        fade_min: f64,
        /// Stronger by so much.
        add_kn: f64,
        /// Turn of the wind while it blows, clockwise positive.
        turn_deg: f64,
        /// Jump of the pressure while it blows.
        pressure_hpa: f64,
    },
    /// A sea breeze that fills in and dies with the sun.
    SeaBreeze {
        /// Minutes from the start when it sets in.
        from_min: f64,
        /// Minutes from the start when it is gone.
        to_min: f64,
        /// Stronger by so much at its height.
        add_kn: f64,
        /// Turn of the wind at its height, clockwise positive.
        turn_deg: f64,
    },
    /// The wind drops for a while and comes back.
    Lull {
        /// Minutes from the start.
        at_min: f64,
        /// Minutes it lasts, ends included.
        for_min: f64,
        /// What is left of the wind.
        factor: f64,
    },
    /// A rise that looks like more and comes to nothing.
    FalseAlarm {
        /// Minutes from the start.
        at_min: f64,
        /// Minutes to its top.
        rise_min: f64,
        /// Minutes from its top until it is gone.
        fade_min: f64,
        /// Stronger by so much at its top.
        add_kn: f64,
    },
    /// Gusts off high land or out of showers, single and hard.
    Capfuls {
        /// Minutes from the start.
        from_min: f64,
        /// Minutes from the start when they end.
        to_min: f64,
        /// How many an hour on average.
        per_hour: f64,
        /// Strength of each against the mean.
        factor: f64,
        /// How long each lasts.
        seconds: f64,
    },
}

/// The mean wind, and how gusty it is against the scenario's usual.
#[derive(Clone, Copy, Debug, Default)]
pub struct Mean {
    /// Mean speed over ground at masthead height, m/s.
    pub speed_ms: f64,
    /// Direction it comes from.
    pub from_rad: f64,
    /// Pressure at sea level, hPa.
    pub pressure_hpa: f64,
    /// Factor on the turbulence intensity.
    pub gustier: f64,
}

impl Story {
    /// The same story told a little differently: times stretched and strengths
    /// changed by about `vary` of themselves. Zero leaves it as written.
    pub fn varied(mut self, vary: f64, dice: &mut Dice) -> Self {
        if vary <= 0.0 {
            return self;
        }
        let stretch = dice.factor(vary);
        let strength = dice.factor(0.5 * vary);
        for point in &mut self.mean {
            point.at_min *= stretch;
            point.speed_kn *= strength;
        }
        for event in &mut self.event {
            event.vary(stretch, dice.factor(vary));
        }
        self
    }

    /// The mean wind at `t_s` from the start.
    pub fn at(&self, t_s: f64) -> Mean {
        let mut mean = self.between_points(t_s / 60.0);
        for event in &self.event {
            event.lay_over(&mut mean, t_s / 60.0);
        }
        mean.speed_ms = mean.speed_ms.max(0.0);
        mean.from_rad = wrap(mean.from_rad);
        mean
    }

    fn between_points(&self, minute: f64) -> Mean {
        let after = self.mean.partition_point(|point| point.at_min <= minute);
        let (Some(from), Some(to)) = (
            self.mean.get(after.saturating_sub(1)),
            self.mean.get(after).or(self.mean.last()),
        ) else {
            return Mean::default();
        };
        let span = to.at_min - from.at_min;
        let part = if span > 0.0 {
            ease((minute - from.at_min) / span)
        } else {
            0.0
        };
        let turn = wrap(rad(to.from_deg) - rad(from.from_deg));
        Mean {
            speed_ms: ms(from.speed_kn + part * (to.speed_kn - from.speed_kn)),
            from_rad: rad(from.from_deg) + part * turn,
            pressure_hpa: from.pressure_hpa + part * (to.pressure_hpa - from.pressure_hpa),
            gustier: 1.0,
        }
    }
}

impl Event {
    fn lay_over(&self, mean: &mut Mean, minute: f64) {
        match *self {
            Event::Front {
                at_min,
                over_min,
                veer_deg,
                add_kn,
                trough_hpa,
                gustier,
            } => {
                let past = ease((minute - at_min) / over_min + 0.5);
                mean.from_rad += past * rad(veer_deg);
                mean.speed_ms += past * ms(add_kn);
                mean.gustier *= 1.0 + past * (gustier - 1.0);
                // Falls over hours before it, kicks up in the hour after.
                let over = if minute < at_min { 150.0 } else { 45.0 };
                mean.pressure_hpa -= trough_hpa * libm::exp(-(minute - at_min).abs() / over);
            }
            Event::Squall {
                at_min,
                rise_s,
                hold_min,
                fade_min,
                add_kn,
                turn_deg,
                pressure_hpa,
            } => {
                let since = minute - at_min;
                let rise_min = rise_s / 60.0;
                let up = ease(since / rise_min);
                let down = ease((since - rise_min - hold_min) / fade_min);
                let blow = up * (1.0 - down);
                // The inflow ahead of it takes the wind for ten minutes.
                let before = ease((since + 12.0) / 8.0) * (1.0 - up);
                mean.speed_ms *= 1.0 - 0.3 * before;
                mean.speed_ms += blow * ms(add_kn);
                mean.from_rad += blow * rad(turn_deg);
                mean.pressure_hpa += blow * pressure_hpa;
                mean.gustier *= 1.0 + 0.4 * blow;
            }
            Event::SeaBreeze {
                from_min,
                to_min,
                add_kn,
                turn_deg,
            } => {
                let half = 0.5 * (to_min - from_min);
                let up = ease((minute - from_min) / half);
                let down = ease((minute - from_min - half) / half);
                mean.speed_ms += (up - down) * ms(add_kn);
                mean.from_rad += (up - down) * rad(turn_deg);
            }
            Event::Lull {
                at_min,
                for_min,
                factor,
            } => {
                let edge = 0.25 * for_min;
                let in_it = ease((minute - at_min) / edge)
                    - ease((minute - at_min - for_min + edge) / edge);
                mean.speed_ms *= 1.0 + in_it * (factor - 1.0);
            }
            Event::FalseAlarm {
                at_min,
                rise_min,
                fade_min,
                add_kn,
            } => {
                let up = ease((minute - at_min) / rise_min);
                let down = ease((minute - at_min - rise_min) / fade_min);
                mean.speed_ms += (up - down) * ms(add_kn);
            }
            // Struck at random by [`super::Weather`].
            Event::Capfuls { .. } => {}
        }
    }

    fn vary(&mut self, stretch: f64, strength: f64) {
        match self {
            Event::Front { at_min, add_kn, .. }
            | Event::Squall { at_min, add_kn, .. }
            | Event::FalseAlarm { at_min, add_kn, .. } => {
                *at_min *= stretch;
                *add_kn *= strength;
            }
            Event::SeaBreeze { add_kn, .. } => *add_kn *= strength,
            Event::Lull { at_min, .. } => *at_min *= stretch,
            Event::Capfuls { per_hour, .. } => *per_hour *= strength,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::maths::{compass_deg, kn};

    fn steady(event: Event) -> Story {
        let point = TurningPoint {
            at_min: 0.0,
            speed_kn: 15.0,
            from_deg: 350.0,
            pressure_hpa: 1010.0,
        };
        Story {
            mean: vec![point],
            event: vec![event],
        }
    }

    #[test]
    fn a_front_veers_kicks_the_glass_and_stays() {
        let story = steady(Event::Front {
            at_min: 60.0,
            over_min: 10.0,
            veer_deg: 60.0,
            add_kn: 8.0,
            trough_hpa: 4.0,
            gustier: 1.5,
        });
        let (before, at, after) = (story.at(0.0), story.at(3600.0), story.at(7200.0));
        assert!((compass_deg(after.from_rad) - 50.0).abs() < 1e-6);
        assert!((kn(after.speed_ms) - 23.0).abs() < 1e-6);
        assert!(at.pressure_hpa < before.pressure_hpa && at.pressure_hpa < after.pressure_hpa);
        assert!(after.gustier > before.gustier);
    }

    #[test]
    fn a_squall_meets_the_usual_definition_and_passes() {
        // A rise of 16 kn to 22 kn or more that lasts a minute (UK Met Office
        // glossary, second hand).
        let story = steady(Event::Squall {
            at_min: 30.0,
            rise_s: 40.0,
            hold_min: 8.0,
            fade_min: 10.0,
            add_kn: 20.0,
            turn_deg: 30.0,
            pressure_hpa: 2.0,
        });
        let (before, top, gone) = (
            story.at(29.9 * 60.0),
            story.at(33.0 * 60.0),
            story.at(3600.0),
        );
        assert!(kn(before.speed_ms) < 13.0);
        assert!((kn(top.speed_ms) - 35.0).abs() < 1e-6);
        assert!((kn(gone.speed_ms) - 15.0).abs() < 1e-6);
    }

    #[test]
    fn the_mean_turns_the_short_way_round_north() {
        let mut story = steady(Event::Lull {
            at_min: 500.0,
            for_min: 10.0,
            factor: 0.5,
        });
        story.mean.push(TurningPoint {
            at_min: 60.0,
            speed_kn: 15.0,
            from_deg: 10.0,
            pressure_hpa: 1010.0,
        });
        assert!(compass_deg(story.at(1800.0).from_rad) % 360.0 < 1e-6);
    }
}
