//! The weather at the masthead: mean wind, gusts, pressure, sea, day and night.
//!
//! A [`Plan`] is either a story with turning points and events, or a climate
//! that runs for thousands of hours. [`Weather::step`] takes any step; 0.1 s
//! for a boat, 0.5 s for long series of one-minute means.

mod climate;
mod sea;
mod story;
mod sun;
mod turbulence;

use serde::Deserialize;

use crate::dice::{Dice, Drift};
use crate::maths::{Flow, rad};

pub use climate::Climate;
pub use sea::{Sea, SeaState, encounter, fully_developed_m, peak_period_s};
pub use story::{Event, Mean, Story, TurningPoint};
pub use sun::{altitude_deg, is_dark};
pub use turbulence::{Turbulence, kaimal_density};

/// Turbulence intensity far from land in strong wind (Harper, Kepert and Ginger
/// 2010, WMO/TD-No. 1555: "at sea").
pub const INTENSITY_AT_SEA: f64 = 0.10;

/// The weather section of a scenario.
#[derive(Clone, Debug, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Plan {
    /// Standard deviation of the along-wind gusts over the mean.
    pub intensity: f64,
    /// How much the mean wanders over minutes to an hour: 1 is usual, 0 none.
    pub wander: f64,
    /// Old swell that does not follow this wind, m.
    pub swell_m: f64,
    /// Turning points of the mean.
    pub mean: Vec<TurningPoint>,
    /// Events laid over the mean.
    pub event: Vec<Event>,
    /// Weather without a story, instead of turning points.
    pub climate: Option<Climate>,
}

impl Default for Plan {
    fn default() -> Self {
        Self {
            intensity: INTENSITY_AT_SEA,
            wander: 1.0,
            swell_m: 0.3,
            mean: Vec::new(),
            event: Vec::new(),
            climate: None,
        }
    }
}

/// The air at the masthead at one moment.
#[derive(Clone, Copy, Debug, Default)]
pub struct Air {
    /// The wind over ground, gusts and all.
    pub wind: Flow,
    /// The mean under the gusts.
    pub mean: Mean,
    /// Turbulence intensity in force.
    pub intensity: f64,
}

/// What a hand adds to the weather, whatever its story says.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Nudge {
    /// Added to the speed of the mean, which never goes under nothing.
    pub speed_ms: f64,
    /// Added to its direction; veering is positive.
    pub turn_rad: f64,
}

/// The weather as it runs.
#[derive(Clone, Debug)]
pub struct Weather {
    dice: Dice,
    source: Source,
    intensity: f64,
    wander: f64,
    swell_m: f64,
    now_s: f64,
    wanders: [Drift; 3],
    turbulence: Turbulence,
    capful: Option<Capful>,
    nudge: Nudge,
    air: Air,
}

#[derive(Clone, Debug)]
enum Source {
    Story(Story),
    Climate(Box<climate::Running>),
}

#[derive(Clone, Copy, Debug)]
struct Capful {
    began_s: f64,
    seconds: f64,
    factor: f64,
}

impl Weather {
    /// The weather of `plan` at a masthead `height_m` above the sea. `vary`
    /// tells the story a little differently for each seed; 0 as written.
    pub fn new(plan: &Plan, height_m: f64, vary: f64, seed: u64) -> Self {
        let mut dice = Dice::new(seed, "weather");
        let source = match &plan.climate {
            Some(climate) => {
                Source::Climate(Box::new(climate::Running::new(climate.clone(), &mut dice)))
            }
            None => {
                let story = Story {
                    mean: plan.mean.clone(),
                    event: plan.event.clone(),
                };
                Source::Story(story.varied(vary, &mut dice))
            }
        };
        let mut turbulence = Turbulence::new(height_m);
        turbulence.settle(&mut dice);
        let mut weather = Self {
            dice,
            source,
            intensity: plan.intensity,
            wander: plan.wander,
            swell_m: plan.swell_m,
            now_s: 0.0,
            wanders: [Drift::default(), Drift::default(), Drift::default()],
            turbulence,
            capful: None,
            nudge: Nudge::default(),
            air: Air::default(),
        };
        weather.step(0.0);
        weather
    }

    /// A sea that fits the wind at this moment.
    pub fn sea(&self) -> Sea {
        Sea::new(self.air.mean.speed_ms, self.swell_m)
    }

    /// One step on.
    pub fn step(&mut self, dt_s: f64) -> Air {
        self.now_s += dt_s;
        let mut mean = match &mut self.source {
            Source::Story(story) => story.at(self.now_s),
            Source::Climate(running) => running.step(dt_s, &mut self.dice),
        };
        self.let_wander(&mut mean, dt_s);
        mean.speed_ms *= self.capful_factor(dt_s);
        mean.speed_ms = (mean.speed_ms + self.nudge.speed_ms).max(0.0);
        mean.from_rad += self.nudge.turn_rad;
        let intensity = self.intensity * mean.gustier;
        let (along, across) = self
            .turbulence
            .step(dt_s, mean.speed_ms, intensity, &mut self.dice);
        // Gusts are departures along and across the mean direction.
        let wind = Flow::from_direction(mean.speed_ms + along, mean.from_rad).and(
            Flow::from_direction(across, mean.from_rad + crate::maths::PI / 2.0),
        );
        self.air = Air {
            wind,
            mean,
            intensity,
        };
        self.air
    }

    /// Adds this to the story from now on.
    pub fn nudge(&mut self, nudge: Nudge) {
        self.nudge = nudge;
    }

    /// The air now.
    pub fn air(&self) -> Air {
        self.air
    }

    /// Slow change that no story tells: 4 % over a quarter of an hour, 5 % over
    /// an hour and more, 4 degrees. Common practice, no source.
    fn let_wander(&mut self, mean: &mut Mean, dt_s: f64) {
        if self.wander <= 0.0 {
            return;
        }
        let [minutes, hours, turn] = &mut self.wanders;
        let dice = &mut self.dice;
        let speed = 0.04 * minutes.step(dt_s, 900.0, dice) + 0.05 * hours.step(dt_s, 4500.0, dice);
        mean.speed_ms *= libm::exp(self.wander * speed);
        mean.from_rad += self.wander * rad(4.0) * turn.step(dt_s, 1200.0, dice);
    }

    fn capful_factor(&mut self, dt_s: f64) -> f64 {
        if let Some(capful) = self.capful {
            let part = (self.now_s - capful.began_s) / capful.seconds;
            if part < 1.0 {
                let sine = libm::sin(crate::maths::PI * part);
                return 1.0 + (capful.factor - 1.0) * sine * sine;
            }
            self.capful = None;
        }
        self.capful = self.strike_capful(dt_s);
        1.0
    }

    fn strike_capful(&mut self, dt_s: f64) -> Option<Capful> {
        let Source::Story(story) = &self.source else {
            return None;
        };
        let minute = self.now_s / 60.0;
        for event in &story.event {
            if let Event::Capfuls {
                from_min,
                to_min,
                per_hour,
                factor,
                seconds,
            } = *event
                && (from_min..to_min).contains(&minute)
                && self.dice.strikes(per_hour, dt_s)
            {
                return Some(Capful {
                    began_s: self.now_s,
                    seconds: seconds * self.dice.between(0.6, 1.4),
                    factor: 1.0 + (factor - 1.0) * self.dice.between(0.7, 1.2),
                });
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::maths::{kn, ms};

    #[test]
    fn gusts_leave_the_mean_where_it_is() {
        let plan = Plan {
            wander: 0.0,
            mean: vec![TurningPoint {
                at_min: 0.0,
                speed_kn: 20.0,
                from_deg: 250.0,
                pressure_hpa: 1000.0,
            }],
            ..Plan::default()
        };
        let mut weather = Weather::new(&plan, 18.0, 0.0, 4);
        let n = 40_000;
        let mut sum = Flow::default();
        for _ in 0..n {
            sum = sum.and(weather.step(0.5).wind);
        }
        let mean = sum.scaled(1.0 / f64::from(n));
        assert!((kn(mean.speed_ms()) - 20.0).abs() < 0.3);
        assert!(crate::maths::deg(crate::maths::wrap(mean.from_rad() - rad(250.0))).abs() < 0.5);
    }

    #[test]
    fn capfuls_strike_in_their_hours_at_about_their_rate() {
        let plan = Plan {
            wander: 0.0,
            intensity: 0.0,
            mean: vec![TurningPoint {
                at_min: 0.0,
                speed_kn: 12.0,
                from_deg: 310.0,
                pressure_hpa: 1010.0,
            }],
            event: vec![Event::Capfuls {
                from_min: 60.0,
                to_min: 660.0,
                per_hour: 6.0,
                factor: 1.6,
                seconds: 50.0,
            }],
            ..Plan::default()
        };
        let mut weather = Weather::new(&plan, 18.0, 0.0, 1);
        let (mut strikes, mut before, mut was_over) = (0, 0, false);
        for second in 0..43_200 {
            let over = kn(weather.step(1.0).mean.speed_ms) > 12.5;
            let began = over && !was_over;
            was_over = over;
            strikes += i32::from(began);
            before += i32::from(began && second < 3600);
        }
        assert_eq!(before, 0);
        // Sixty expected in ten hours, less what falls into another.
        assert!((35..75).contains(&strikes), "{strikes}");
    }

    #[test]
    fn a_climate_has_the_median_and_the_gales_it_was_asked_for() {
        let plan = Plan {
            climate: Some(Climate::default()),
            ..Plan::default()
        };
        let mut weather = Weather::new(&plan, 18.0, 0.0, 11);
        // Six thousand hours in steps of ten minutes: no gusts are judged here.
        let mut means: Vec<f64> = (0..36_000)
            .map(|_| weather.step(600.0).mean.speed_ms)
            .collect();
        means.sort_by(f64::total_cmp);
        let (median, p95) = (means[means.len() / 2], means[means.len() * 95 / 100]);
        assert!((kn(median) - 13.0).abs() < 2.0, "median {} kn", kn(median));
        assert!((ms(24.0)..ms(34.0)).contains(&p95), "p95 {} kn", kn(p95));
    }
}
