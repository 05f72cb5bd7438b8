//! One talker: what it senses, how often it speaks, and what it says.

use serde::Deserialize;

use super::masthead::{BowWind, Inertia, Unit, UnitState, at_unit, instrument_true_wind};
use super::sentence::{self, Fix, Transducer};
use crate::boat::Motion;
use crate::calendar;
use crate::dice::{Dice, Drift};
use crate::faults::DeviceFaults;
use crate::maths::{compass_deg, deg, kn, ms, rad, wrap};

/// Steps a second at which instruments are sampled.
pub const SAMPLES_PER_S: f64 = 10.0;

/// A talker as a scenario describes it.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DevicePlan {
    /// Its name, for faults and the eye.
    pub name: String,
    /// What it is.
    pub kind: DeviceKind,
    /// The line it talks on.
    pub line: String,
    /// Two letters it signs with.
    pub talker: String,
    /// Sentences of each kind a second.
    pub hz: f64,
    /// What it says.
    pub says: Vec<Says>,
    /// Mount or card turned by so much.
    #[serde(default)]
    pub offset_deg: f64,
    /// Speed reads so many times too much.
    #[serde(default = "one")]
    pub speed_factor: f64,
    /// Turn of the wind by the sails, close-hauled (masthead).
    #[serde(default)]
    pub upwash_deg: f64,
    /// Time constant of its damping (masthead).
    #[serde(default)]
    pub damping_s: f64,
    /// Noise against what is usual for its kind.
    #[serde(default = "one")]
    pub noise: f64,
    /// Digits after the point.
    #[serde(default = "one_digit")]
    pub decimals: usize,
    /// Name it gives its value (transducers): HEEL or ROLL.
    #[serde(default)]
    pub label: Option<String>,
}

/// What a talker is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DeviceKind {
    /// Vane and cups.
    Masthead,
    /// A unit without moving parts.
    Ultrasonic,
    /// Works out true wind from the masthead unit and the log.
    WindComputer,
    /// Paddle wheel.
    Log,
    /// Magnetic compass.
    Compass,
    /// Gyro compass.
    Gyro,
    /// Heel and pitch.
    Attitude,
    /// Satellite receiver.
    Gnss,
    /// Barometer.
    Barometer,
}

/// A sentence a talker can say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Says {
    /// Apparent wind.
    MwvR,
    /// True wind by the bow.
    MwvT,
    /// Apparent wind, old form.
    Vwr,
    /// True wind, old form.
    Vwt,
    /// True wind by the compass rose.
    Mwd,
    /// Speed through the water.
    Vhw,
    /// Magnetic heading with variation.
    Hdg,
    /// Magnetic heading.
    Hdm,
    /// True heading.
    Hdt,
    /// Rate of turn.
    Rot,
    /// Heel, or heel and pitch, or pressure, by what the talker is.
    Xdr,
    /// Attitude, proprietary form.
    Pashr,
    /// Position, speed and course.
    Rmc,
    /// Speed and course.
    Vtg,
    /// Time and date.
    Zda,
}

/// What there is to sense at one moment.
#[derive(Clone, Copy, Debug, Default)]
pub struct World {
    /// Seconds from the start.
    pub now_s: f64,
    /// Unix seconds.
    pub unix_s: f64,
    /// How the boat moves.
    pub motion: Motion,
    /// Apparent wind as an upright, steady boat feels it at the masthead.
    pub felt: BowWind,
    /// Height of the masthead unit, m.
    pub masthead_m: f64,
    /// North positive.
    pub latitude_deg: f64,
    /// East positive.
    pub longitude_deg: f64,
    /// East positive.
    pub variation_deg: f64,
    /// Pressure, hPa.
    pub pressure_hpa: f64,
}

/// What talkers tell each other aboard.
#[derive(Clone, Copy, Debug, Default)]
pub struct Aboard {
    /// Last apparent wind, and when.
    apparent: Option<(BowWind, f64)>,
    /// Last log speed, m/s.
    stw_ms: f64,
    /// Last true heading.
    heading_rad: f64,
}

/// A talker as it runs.
#[derive(Clone, Debug)]
pub struct Device {
    plan: DevicePlan,
    unit: Unit,
    state: UnitState,
    reading: BowWind,
    stuck_at_rad: Option<f64>,
    drift: Drift,
    every: u64,
    phase: u64,
    dice: Dice,
}

impl Device {
    /// A talker that shares its beat with no other: `index` sets it off.
    pub fn new(plan: DevicePlan, index: usize, seed: u64) -> Self {
        let every = libm::round(SAMPLES_PER_S / plan.hz.max(0.01)).max(1.0) as u64;
        let inertia = match plan.kind {
            DeviceKind::Masthead => Inertia::Mechanical,
            _ => Inertia::None,
        };
        let unit = Unit {
            offset_rad: rad(plan.offset_deg),
            speed_factor: plan.speed_factor,
            upwash_rad: rad(plan.upwash_deg),
            // Usual noise of a unit; common practice, no source.
            angle_noise_rad: rad(1.0) * plan.noise,
            speed_noise: 0.015 * plan.noise,
            damping_s: plan.damping_s,
            inertia,
        };
        Self {
            dice: Dice::new(seed, &plan.name),
            plan,
            unit,
            state: UnitState::default(),
            reading: BowWind::default(),
            stuck_at_rad: None,
            drift: Drift::default(),
            every,
            phase: index as u64,
        }
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.plan.name
    }

    /// The line it talks on.
    pub fn line(&self) -> &str {
        &self.plan.line
    }

    /// One sample; on its beat it speaks through `say`.
    pub fn tick(
        &mut self,
        tick: u64,
        world: &World,
        aboard: &mut Aboard,
        faults: &DeviceFaults,
        mut say: impl FnMut(Vec<u8>),
    ) {
        if self.is_wind_unit() {
            self.sense_wind(world, faults);
        }
        if tick % self.every != self.phase % self.every || faults.silent {
            return;
        }
        if self.is_wind_unit() && !faults.void {
            aboard.apparent = Some((self.reading, world.now_s));
        }
        for index in 0..self.plan.says.len() {
            let says = self.plan.says[index];
            if let Some(bytes) = self.speak(says, world, aboard, faults) {
                say(bytes);
            }
        }
    }

    fn is_wind_unit(&self) -> bool {
        matches!(
            self.plan.kind,
            DeviceKind::Masthead | DeviceKind::Ultrasonic
        )
    }

    fn sense_wind(&mut self, world: &World, faults: &DeviceFaults) {
        let air = at_unit(world.felt, &world.motion, world.masthead_m);
        let dt_s = 1.0 / SAMPLES_PER_S;
        let mut reading = self.state.sample(dt_s, air, &self.unit, &mut self.dice);
        reading.angle_rad = wrap(reading.angle_rad + rad(faults.offset_deg));
        reading.speed_ms *= 1.0 + faults.speed_excess;
        if faults.stuck_vane {
            reading.angle_rad = *self.stuck_at_rad.get_or_insert(reading.angle_rad);
        } else {
            self.stuck_at_rad = None;
        }
        if faults.frozen_cup {
            reading.speed_ms = 0.0;
        }
        self.reading = reading;
    }

    fn speak(
        &mut self,
        says: Says,
        world: &World,
        aboard: &mut Aboard,
        faults: &DeviceFaults,
    ) -> Option<Vec<u8>> {
        match says {
            Says::MwvR | Says::Vwr => self.apparent_wind(says, faults),
            Says::MwvT | Says::Vwt | Says::Mwd => self.true_wind(says, world, aboard, faults),
            Says::Vhw => self.log_speed(world, aboard, faults),
            Says::Hdg | Says::Hdm | Says::Hdt => self.heading(says, world, aboard, faults),
            Says::Rot => {
                let noise = 2.0 * self.plan.noise * self.dice.normal();
                let rate = deg(world.motion.turn_rad_s) * 60.0 + noise;
                Some(sentence::rot(&self.plan.talker, rate))
            }
            Says::Xdr => self.transducer(world, faults),
            Says::Pashr => {
                let utc = calendar::utc(world.unix_s + faults.clock_s);
                let (heel, pitch) = self.attitude(world, faults);
                let heading = compass_deg(world.motion.heading_rad);
                Some(sentence::pashr(&utc, heading, heel, pitch))
            }
            Says::Rmc | Says::Vtg | Says::Zda => self.fix(says, world, faults),
        }
    }

    fn apparent_wind(&mut self, says: Says, faults: &DeviceFaults) -> Option<Vec<u8>> {
        let reading = self.with_spikes(self.reading, faults);
        let (angle, speed) = (deg(reading.angle_rad), kn(reading.speed_ms));
        let (talker, decimals) = (&self.plan.talker, self.plan.decimals);
        let wind = (!faults.void).then_some((angle, speed));
        match says {
            Says::Vwr => wind.map(|_| sentence::vwr(talker, "VWR", angle, speed)),
            _ => Some(sentence::mwv(talker, 'R', wind, decimals)),
        }
    }

    fn true_wind(
        &mut self,
        says: Says,
        world: &World,
        aboard: &Aboard,
        faults: &DeviceFaults,
    ) -> Option<Vec<u8>> {
        // A computer without its wind unit says so for as long as it lasts.
        let apparent = aboard
            .apparent
            .filter(|(_, at_s)| world.now_s - at_s < 5.0 && !faults.void);
        let (talker, decimals) = (&self.plan.talker, self.plan.decimals);
        let Some((apparent, _)) = apparent else {
            return (says == Says::MwvT).then(|| sentence::mwv(talker, 'T', None, decimals));
        };
        let mut wind = instrument_true_wind(apparent, aboard.stw_ms);
        wind.angle_rad = wrap(wind.angle_rad + rad(faults.offset_deg));
        let (angle, speed) = (deg(wind.angle_rad), kn(wind.speed_ms));
        Some(match says {
            Says::Vwt => sentence::vwr(talker, "VWT", angle, speed),
            Says::Mwd => {
                let from = compass_deg(aboard.heading_rad + wind.angle_rad);
                sentence::mwd(talker, from, from - world.variation_deg, speed)
            }
            _ => sentence::mwv(talker, 'T', Some((angle, speed)), decimals),
        })
    }

    fn log_speed(
        &mut self,
        world: &World,
        aboard: &mut Aboard,
        faults: &DeviceFaults,
    ) -> Option<Vec<u8>> {
        let noise = ms(0.08) * self.plan.noise * self.dice.normal();
        let factor = self.plan.speed_factor + faults.speed_excess;
        let speed = (world.motion.stw_ms * factor + noise).max(0.0);
        aboard.stw_ms = speed;
        let knots = self.with_speed_spikes(kn(speed), faults);
        (!faults.void).then(|| sentence::vhw(&self.plan.talker, knots, self.plan.decimals))
    }

    fn heading(
        &mut self,
        says: Says,
        world: &World,
        aboard: &mut Aboard,
        faults: &DeviceFaults,
    ) -> Option<Vec<u8>> {
        let noise = 0.4 * self.plan.noise * self.dice.normal();
        let off = rad(self.plan.offset_deg + faults.offset_deg + noise);
        let heading = wrap(world.motion.heading_rad + off);
        aboard.heading_rad = heading;
        if faults.void {
            return None;
        }
        let true_deg = self.with_heading_spikes(compass_deg(heading), faults);
        let talker = &self.plan.talker;
        let magnetic = true_deg - world.variation_deg;
        Some(match says {
            Says::Hdg => sentence::hdg(talker, magnetic, world.variation_deg),
            Says::Hdm => sentence::hdm(talker, magnetic),
            _ => sentence::hdt(talker, true_deg, self.plan.decimals),
        })
    }

    fn attitude(&mut self, world: &World, faults: &DeviceFaults) -> (f64, f64) {
        let noise = 0.15 * self.plan.noise;
        let heel = deg(world.motion.heel_rad) + self.plan.offset_deg + faults.offset_deg;
        let pitch = deg(world.motion.pitch_rad);
        (
            heel + noise * self.dice.normal(),
            pitch + noise * self.dice.normal(),
        )
    }

    fn transducer(&mut self, world: &World, faults: &DeviceFaults) -> Option<Vec<u8>> {
        if faults.void {
            return None;
        }
        if self.plan.kind == DeviceKind::Barometer {
            let noise = 0.03 * self.plan.noise * self.drift.step(1.0, 60.0, &mut self.dice);
            let bar = Transducer {
                kind: 'P',
                value: (world.pressure_hpa + noise + self.plan.offset_deg) / 1000.0,
                decimals: 5,
                unit: 'B',
                name: self.plan.label.as_deref().unwrap_or("Barometer"),
            };
            return Some(sentence::xdr(&self.plan.talker, &[bar]));
        }
        let (heel, pitch) = self.attitude(world, faults);
        let heel = self.with_angle_spikes(heel, faults);
        let angle = |value, name| Transducer {
            kind: 'A',
            value,
            decimals: self.plan.decimals,
            unit: 'D',
            name,
        };
        let label = self.plan.label.as_deref().unwrap_or("HEEL");
        let values = [angle(heel, label), angle(pitch, "PTCH")];
        Some(sentence::xdr(&self.plan.talker, &values))
    }

    fn fix(&mut self, says: Says, world: &World, faults: &DeviceFaults) -> Option<Vec<u8>> {
        let utc = calendar::utc(world.unix_s + faults.clock_s);
        let noise = self.plan.noise;
        let over_ground = world.motion.over_ground;
        let sog_kn = (kn(over_ground.speed_ms()) + 0.05 * noise * self.dice.normal()).max(0.0);
        let fix = Fix {
            latitude_deg: world.latitude_deg + 1e-5 * noise * self.dice.normal(),
            longitude_deg: world.longitude_deg + 1e-5 * noise * self.dice.normal(),
            sog_kn,
            cog_deg: compass_deg(over_ground.towards_rad() + rad(0.6) * noise * self.dice.normal()),
            variation_deg: world.variation_deg,
        };
        let talker = &self.plan.talker;
        match says {
            Says::Vtg => (!faults.void).then(|| sentence::vtg(talker, &fix)),
            Says::Zda => (!faults.void).then(|| sentence::zda(talker, &utc)),
            _ => Some(sentence::rmc(talker, &utc, (!faults.void).then_some(&fix))),
        }
    }

    fn spikes_now(&mut self, faults: &DeviceFaults) -> bool {
        let odds = faults.spikes_per_min / 60.0 / self.plan.hz.max(0.01);
        odds > 0.0 && self.dice.happens(odds)
    }

    fn with_spikes(&mut self, wind: BowWind, faults: &DeviceFaults) -> BowWind {
        if !self.spikes_now(faults) {
            return wind;
        }
        BowWind {
            angle_rad: rad(self.dice.between(-180.0, 180.0)),
            speed_ms: ms(self.dice.between(45.0, 99.0)),
        }
    }

    fn with_speed_spikes(&mut self, knots: f64, faults: &DeviceFaults) -> f64 {
        if self.spikes_now(faults) {
            self.dice.between(25.0, 60.0)
        } else {
            knots
        }
    }

    fn with_heading_spikes(&mut self, degrees: f64, faults: &DeviceFaults) -> f64 {
        if self.spikes_now(faults) {
            self.dice.between(0.0, 360.0)
        } else {
            degrees
        }
    }

    fn with_angle_spikes(&mut self, degrees: f64, faults: &DeviceFaults) -> f64 {
        if self.spikes_now(faults) {
            self.dice.between(-89.0, 89.0)
        } else {
            degrees
        }
    }
}

fn one() -> f64 {
    1.0
}

fn one_digit() -> usize {
    1
}
