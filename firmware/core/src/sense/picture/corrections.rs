//! The corrections that are applied at this moment.
//!
//! A correction that the boat file asks for but whose sensor is silent is not
//! in force, and is not listed.
//!
//! Each comes with its size just now: what is judged less what was measured,
//! by the newest reading and the steady heel.

use core::fmt;

use heapless::Vec;

use crate::angle::wrap_180;
use crate::instruments::{Factor, Instruments, Switch};
use crate::reading::{Measure, Quantity};
use crate::time::Timestamp;
use crate::wind::correct::{self, Attitude};
use crate::wind::{Vector, heading};

use super::Picture;
use super::basis::Basis;

/// One correction between what the sensors say and what is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Correction {
    /// The vane's offset.
    VaneOffset,
    /// The cups' factor or table.
    Anemometer,
    /// Upwash of the sails.
    Upwash,
    /// Lean of the masthead plane by heel and pitch.
    Heel,
    /// The masthead's own motion.
    MastMotion,
    /// Leeway.
    Leeway,
    /// The log's factor.
    Log,
    /// The compass's deviation.
    Deviation,
    /// Magnetic variation.
    Variation,
}

impl Correction {
    /// In plain words.
    pub const fn name(self) -> &'static str {
        match self {
            Correction::VaneOffset => "vane offset",
            Correction::Anemometer => "anemometer",
            Correction::Upwash => "upwash",
            Correction::Heel => "heel",
            Correction::MastMotion => "mast motion",
            Correction::Leeway => "leeway",
            Correction::Log => "log",
            Correction::Deviation => "deviation",
            Correction::Variation => "variation",
        }
    }
}

/// One correction in force and what it does just now: what is judged less
/// what was measured. A part that it does not touch, or that cannot be told,
/// is `None`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AppliedCorrection {
    /// Which.
    pub what: Correction,
    /// Degrees. Of AWA (starboard positive) for vane offset, upwash and heel;
    /// leeway to starboard; deviation and variation east positive.
    pub angle_deg: Option<f64>,
    /// Knots. Of AWS for anemometer and heel, of STW for log. For mast motion
    /// the root mean square of the masthead's own speed over the last
    /// seconds: it swings to both sides, so it has no sign.
    pub speed_kn: Option<f64>,
}

/// Those in force at one moment.
pub type AppliedCorrections = Vec<AppliedCorrection, 9>;

impl fmt::Display for AppliedCorrection {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.what.name())?;
        if let Some(degrees) = self.angle_deg {
            write!(f, " {degrees:+.1} deg")?;
        }
        match (self.speed_kn, self.what) {
            (Some(knots), Correction::MastMotion) => write!(f, " {knots:.1} kn rms"),
            (Some(knots), _) => write!(f, " {knots:+.1} kn"),
            (None, _) => Ok(()),
        }
    }
}

impl Picture {
    /// The corrections in force, in the order in which they are made.
    pub fn corrections_applied(&self, now: Timestamp) -> AppliedCorrections {
        let mut applied = AppliedCorrections::new();
        // One each, so they always fit.
        let mut found = |what, angle_deg, speed_kn| {
            let _ = applied.push(AppliedCorrection {
                what,
                angle_deg,
                speed_kn,
            });
        };
        self.find_at_masthead(now, &mut found);
        self.find_in_water(now, &mut found);
        self.find_in_compass(now, &mut found);
        applied
    }

    fn find_at_masthead(&self, now: Timestamp, found: &mut Found<'_>) {
        if !matches!(self.basis_at(now), Basis::Water | Basis::Ground) {
            return;
        }
        let Some(Measure::ApparentWind { angle, speed }) =
            self.sources.live(Quantity::ApparentWind, now)
        else {
            return;
        };
        let instruments = self.corrections.instruments();
        let felt = self.corrections.in_plane(angle, speed);
        let offset = instruments.vane_offset.get();
        if offset != 0.0 {
            found(Correction::VaneOffset, Some(offset), None);
        }
        if scales_speed(instruments) {
            let more = felt.speed() - speed.get();
            found(Correction::Anemometer, None, Some(more));
        }
        if !instruments.upwash_table.is_empty() {
            let off_bow = wrap_180(angle.degrees() + offset);
            let upwash = self.corrections.upwash_undone(off_bow);
            found(Correction::Upwash, Some(upwash), None);
        }
        let Some(heel) = self.live_heel(now) else {
            return;
        };
        if instruments.heel_correction == Switch::On {
            let heel = self.steady_heel.get().map_or(heel, |steady| steady.x);
            let pitch = self.pitch_deg(now).unwrap_or(0.0);
            let (angle, speed) = lean_undone(felt, heel, pitch);
            found(Correction::Heel, Some(angle), Some(speed));
        }
        if let Some(height) = instruments.mast_motion.filter(|_| self.heel.is_quick()) {
            let attitude = Attitude {
                roll_rate: self.heel.rate_rms(),
                pitch_rate: self.pitch_deg(now).and_then(|_| self.pitch.rate_rms()),
                ..Attitude::default()
            };
            let damping_s = instruments.wind_damping_s.unwrap_or(0.0);
            let motion = damped(
                correct::mast_velocity(height.get(), attitude).speed(),
                damping_s,
            );
            found(Correction::MastMotion, None, Some(motion));
        }
    }

    fn find_in_water(&self, now: Timestamp, found: &mut Found<'_>) {
        if self.basis_at(now) != Basis::Water {
            return;
        }
        let Some(stw) = self.stw(now) else {
            return;
        };
        let instruments = self.corrections.instruments();
        let has_drift = self.sources.live(Quantity::WaterDrift, now).is_some();
        let by_formula = self.live_heel(now).is_some() && instruments.leeway_k.is_some();
        if by_formula || has_drift {
            found(Correction::Leeway, Some(self.leeway(stw, now)), None);
        }
        let factor = instruments.log_factor;
        if factor != Factor(1.0) && factor.0 != 0.0 {
            found(Correction::Log, None, Some(stw - stw / factor.0));
        }
    }

    fn find_in_compass(&self, now: Timestamp, found: &mut Found<'_>) {
        if self.sources.live(Quantity::HeadingTrue, now).is_some() {
            return;
        }
        let instruments = self.corrections.instruments();
        let table = &instruments.deviation_table;
        if let Some(Measure::HeadingCompass(compass)) =
            self.sources.live(Quantity::HeadingCompass, now)
            && !table.is_empty()
        {
            let deviation = heading::deviation(table, compass.degrees());
            found(Correction::Deviation, Some(deviation), None);
        }
        if self
            .heading()
            .is_some_and(|h| h.north == crate::wind::North::True)
        {
            let variation = heading::variation(&self.sources, instruments, now);
            found(Correction::Variation, variation, None);
        }
    }
}

/// Takes a correction, its degrees and its knots.
type Found<'a> = dyn FnMut(Correction, Option<f64>, Option<f64>) + 'a;

fn scales_speed(instruments: &Instruments) -> bool {
    instruments.anemometer_factor != Factor(1.0) || !instruments.anemometer_table.is_empty()
}

/// What a lag leaves of a swing as a yacht's, of some six seconds.
fn damped(speed_kn: f64, constant_s: f64) -> f64 {
    let turned = core::f64::consts::TAU / 6.0 * constant_s;
    speed_kn / libm::sqrt(1.0 + turned * turned)
}

/// Degrees of AWA and knots of AWS that the lean of the plane had taken.
fn lean_undone(felt: Vector, heel_deg: f64, pitch_deg: f64) -> (f64, f64) {
    let level = correct::upright(felt, heel_deg, pitch_deg);
    (
        wrap_180(level.angle_deg() - felt.angle_deg()),
        level.speed() - felt.speed(),
    )
}
