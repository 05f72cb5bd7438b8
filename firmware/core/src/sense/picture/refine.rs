//! From a reading to a true wind: scale, gate, wait for heel, level, and the
//! triangle.

use crate::fault::Fault;
use crate::instruments::Switch;
use crate::reading::{Measure, Quantity, SourceId};
use crate::sense::health::table::StrikesOut;
use crate::stats::WindSample;
use crate::time::Timestamp;
use crate::wind::vector::Turn as Turning;
use crate::wind::{Attitude, Heading, North, Sample, Vector, triangle};

use super::basis::Basis;
use super::{MOST_WAIT_MS, Picture};

/// Heel that is lost stands for so long in the lean of the mast: a watch
/// rarely changes tack or sail in less. Common practice, no source.
const HEEL_STANDS_S: f64 = 1800.0;

/// A true wind as it was found: in boat axes, compass axes, or both.
struct Found {
    boat: Option<Vector>,
    compass: Option<Vector>,
    north: North,
    aws_kn: Option<f64>,
}

impl Found {
    fn off_bow(wind: Vector, aws_kn: Option<f64>, heading: Option<Heading>) -> Self {
        let turn = heading.map(|h| Turning::by(h.bearing.degrees()));
        Found::turned(wind, aws_kn, heading, turn)
    }

    fn turned(
        wind: Vector,
        aws_kn: Option<f64>,
        heading: Option<Heading>,
        turn: Option<Turning>,
    ) -> Self {
        Found {
            boat: Some(wind),
            compass: turn.map(|turn| wind.turned_by(turn)),
            north: heading.map_or(North::True, |h| h.north),
            aws_kn,
        }
    }
}

impl Picture {
    pub(super) fn on_measure(&mut self, measure: Measure, at: Timestamp) {
        match measure {
            Measure::ApparentWind { angle, speed } => {
                let sample = Sample {
                    at,
                    felt: self.corrections.in_plane(angle, speed),
                    heading: self.heading(),
                    hold_ms: self.hold_ms(Quantity::ApparentWind),
                };
                self.on_apparent(sample);
            }
            Measure::TrueWind { angle, speed } if self.basis() == Basis::TrueWind => {
                let wind = Vector::polar(speed.get(), angle.degrees());
                let found = Found::off_bow(wind, None, self.heading());
                self.on_true_wind(found, at, self.hold_ms(Quantity::TrueWind));
            }
            Measure::GroundWind { direction, speed } if self.basis() == Basis::GroundWind => {
                self.on_ground_wind(Vector::polar(speed.get(), direction.degrees()), at);
            }
            Measure::Heel(heel) => {
                let heel = self.corrections.heel(heel);
                self.heel.put(at, heel);
                self.steady_heel.put(Vector { x: heel, y: 0.0 }, at);
                let hold = self.hold_ms(Quantity::Heel);
                let seconds = &mut self.seconds;
                self.signals
                    .heel
                    .put(heel, at, hold, |piece, heel| seconds.add_heel(piece, *heel));
                self.release();
            }
            Measure::Pitch(pitch) => self.pitch.put(at, self.corrections.pitch(pitch)),
            // Taken from their source when they are needed.
            _ => {}
        }
    }

    /// A wind unit that is not in use is heard for what it would make of the
    /// true wind, should the two differ.
    pub(super) fn on_other(&mut self, source: SourceId, measure: Measure) {
        let Measure::ApparentWind { angle, speed } = measure else {
            return;
        };
        let attitude = Attitude {
            heel_deg: self.steady_heel.get().map(|steady| steady.x),
            ..Attitude::default()
        };
        let felt = self.corrections.in_plane(angle, speed);
        let apparent = self.corrections.level(felt, Vector::default(), attitude);
        let velocity = match self.basis() {
            Basis::Water => self.water_velocity(),
            _ => self.ground_for_water(self.heading()),
        };
        if let Some(velocity) = velocity {
            let tws = triangle::true_wind(apparent, velocity).speed();
            self.other_unit.put(source, tws, self.now);
        }
    }

    pub(super) fn hold_ms(&self, quantity: Quantity) -> u32 {
        self.sources
            .chosen(quantity)
            .map_or(0, |slot| slot.ageing().limit_ms)
    }

    fn on_apparent(&mut self, sample: Sample) {
        let at = sample.at;
        let (dropped, held) = (self.gate.dropped(), self.gate.held_since());
        let waiting = &mut self.waiting;
        self.gate.put(sample, |sample| {
            if waiting.is_full() {
                waiting.pop_front();
            }
            // Made room for above.
            let _ = waiting.push_back(sample);
        });
        if self.gate.dropped() > dropped {
            let from = held.unwrap_or(at).as_millis() / 1000;
            self.seconds.patch(from, at.as_millis() / 1000);
        }
        self.release();
    }

    /// Works out the samples whose heel is known, in order of time.
    pub(super) fn release(&mut self) {
        while let Some(sample) = self.waiting.front().copied() {
            let Some(attitude) = self.attitude(sample.at) else {
                break;
            };
            self.waiting.pop_front();
            self.on_level(sample, attitude);
        }
    }

    /// How the mast stood and moved; none while it pays to wait.
    fn attitude(&self, at: Timestamp) -> Option<Attitude> {
        let instruments = self.corrections.instruments();
        if instruments.heel_correction == Switch::Off && instruments.mast_motion.is_none() {
            return Some(Attitude::default());
        }
        if self.live_heel(self.now).is_none() {
            return Some(Attitude {
                heel_deg: self.last_heel(),
                ..Attitude::default()
            });
        }
        let pitch = match self.sources.live(Quantity::Pitch, self.now) {
            Some(_) => self.pitch.at(at).map(|p| (p.value, Some(p.rate))),
            None => None,
        };
        let pitch = pitch.or_else(|| self.pitch_as_it_is());
        if let Some(heel) = self.heel.at(at) {
            return Some(Attitude {
                heel_deg: Some(heel.value),
                roll_rate: Some(heel.rate),
                pitch_deg: pitch.map(|(value, _)| value),
                pitch_rate: pitch.and_then(|(_, rate)| rate),
            });
        }
        let waited = self.now.millis_since(at) >= MOST_WAIT_MS;
        (waited || self.heel.is_hopeless(at)).then(|| Attitude {
            heel_deg: self.heel.newest(),
            pitch_deg: pitch.map(|(value, _)| value),
            ..Attitude::default()
        })
    }

    /// Where heel is lost, she stands as she last stood for a while: nearer
    /// than upright. There is a word for it beside the wind.
    fn last_heel(&self) -> Option<f64> {
        let is_doubted = self.health.striking(StrikesOut::Heel).is_some();
        let at = self.steady_heel.at().filter(|_| !is_doubted)?;
        let is_near = self.now.secs_since(at) <= HEEL_STANDS_S;
        self.steady_heel.get().filter(|_| is_near).map(|h| h.x)
    }

    fn pitch_as_it_is(&self) -> Option<(f64, Option<f64>)> {
        self.sources.live(Quantity::Pitch, self.now)?;
        self.pitch.newest().map(|value| (value, None))
    }

    fn on_level(&mut self, sample: Sample, attitude: Attitude) {
        let moved = self.corrections.mast_velocity(attitude);
        let mast = match self.corrections.instruments().wind_damping_s {
            Some(damping_s) => self.mast.follow(moved, sample.at, damping_s),
            None => moved,
        };
        let apparent = self.corrections.level(sample.felt, mast, attitude);
        self.signals.apparent.put(apparent, sample.at);
        let heading = sample.heading;
        // One turn from boat to compass serves both winds.
        let turn = heading.map(|h| Turning::by(h.bearing.degrees()));
        if let Some(turn) = turn
            && heading.is_some_and(|h| h.north == North::True)
            && let Some(ground) = self.ground_velocity()
        {
            let wind = triangle::ground_wind(apparent, turn, ground);
            self.signals.ground.put(wind, sample.at);
        }
        let velocity = match self.basis() {
            Basis::Water => self.water_velocity(),
            Basis::Ground => self.ground_for_water(heading),
            Basis::TrueWind | Basis::GroundWind | Basis::None(_) => None,
        };
        if let Some(velocity) = velocity {
            let wind = triangle::true_wind(apparent, velocity);
            let found = Found::turned(wind, Some(apparent.speed()), heading, turn);
            self.on_true_wind(found, sample.at, sample.hold_ms);
        }
    }

    /// A wind over the ground for want of any other: its direction needs no
    /// heading, its angle off the bow does.
    fn on_ground_wind(&mut self, compass: Vector, at: Timestamp) {
        let heading = self.heading().filter(|h| h.north == North::True);
        let found = Found {
            boat: heading.map(|h| compass.turned(-h.bearing.degrees())),
            compass: Some(compass),
            north: North::True,
            aws_kn: None,
        };
        self.on_true_wind(found, at, self.hold_ms(Quantity::GroundWind));
    }

    fn on_true_wind(&mut self, found: Found, at: Timestamp, hold_ms: u32) {
        let Some(speed) = found.boat.or(found.compass).map(Vector::speed) else {
            return;
        };
        let unit = |v: Vector| (speed > 0.0).then(|| (v.y / speed, v.x / speed));
        // An angle without its side points nowhere.
        let compass = found
            .compass
            .filter(|_| !self.is_doubted(Fault::AngleUnsigned));
        if found.north != self.north {
            self.signals.true_compass.clear();
            self.north = found.north;
        }
        let sample = WindSample {
            tws_kn: speed,
            twa: found.boat.and_then(unit),
            twd: compass.and_then(unit),
            aws_kn: found.aws_kn,
        };
        self.signals.true_boat.put_or_clear(found.boat, at);
        self.signals.true_compass.put_or_clear(compass, at);
        self.signals.tws.put(Vector { x: speed, y: 0.0 }, at);
        self.signals.last_wind = Some(at);
        let seconds = &mut self.seconds;
        self.signals
            .wind
            .put(sample, at, hold_ms, |piece, s| seconds.add_wind(piece, s));
    }
}
