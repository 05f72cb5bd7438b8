//! What is wrong with the data, once a second: every detector hands in what
//! it finds, and the one health machine keeps it.

use crate::sense::fault::Fault;
use crate::sense::health::evidence::Evidence;
use crate::sense::health::table::{StrikesOut, row};
use crate::sense::health::{Doubt, Edge, Finding, Findings, SensorHealth};
use crate::sense::reading::{Measure, Quantity};
use crate::sense::wind::North;
use crate::time::Timestamp;

use super::basis::Basis;
use super::{Picture, Turn, WATCHED};

/// What was never heard is missed only after this, so that instruments have
/// time to wake up.
const GRACE_S: f64 = 60.0;

/// What is missed when it was heard and no longer is, most needed first.
const MISSED: [Quantity; 10] = [
    Quantity::ApparentWind,
    Quantity::Heel,
    Quantity::WaterSpeed,
    Quantity::HeadingTrue,
    Quantity::HeadingMagnetic,
    Quantity::HeadingCompass,
    Quantity::GroundMotion,
    Quantity::Pressure,
    Quantity::Rudder,
    Quantity::Pitch,
];

/// What is watched for wild values.
const GATED: [Quantity; WATCHED] = [
    Quantity::ApparentWind,
    Quantity::Heel,
    Quantity::Pitch,
    Quantity::WaterSpeed,
    Quantity::HeadingTrue,
    Quantity::HeadingMagnetic,
    Quantity::HeadingCompass,
];

impl Picture {
    /// What is wrong now, most needed first.
    pub fn faults(&self) -> impl Iterator<Item = Fault> {
        self.health.doubts().map(|doubt| doubt.fault)
    }

    /// How the sensor of a quantity is.
    pub fn health(&self, quantity: Quantity, now: Timestamp) -> SensorHealth {
        if self.sources.live(quantity, now).is_none() {
            return SensorHealth::Lost(quantity);
        }
        let doubt = match quantity {
            Quantity::ApparentWind => self.doubt(now),
            Quantity::Heel => self.health.striking(StrikesOut::Heel),
            _ => self.health.doubt(Fault::Disagree(quantity)),
        };
        doubt.map_or(SensorHealth::Fresh, Doubt::health)
    }

    /// What speaks against a wind that is heard: what strikes it out, else
    /// that two units differ.
    pub(super) fn doubt(&self, now: Timestamp) -> Option<Doubt> {
        self.sources.live(Quantity::ApparentWind, now)?;
        self.struck_out(now)
            .or_else(|| self.health.striking(StrikesOut::DisputedWind))
    }

    /// What strikes out a wind that is heard.
    pub(super) fn struck_out(&self, now: Timestamp) -> Option<Doubt> {
        self.sources.live(Quantity::ApparentWind, now)?;
        self.health.striking(StrikesOut::TrueWind)
    }

    pub(super) fn is_doubted(&self, fault: Fault) -> bool {
        self.health.doubt(fault).is_some()
    }

    /// One second: look, step the health of all sensors, strike out.
    pub(super) fn look(&mut self, now: Timestamp) {
        let evidence = self.evidence(now);
        let findings = self.find(&evidence, now);
        let mut health = core::mem::take(&mut self.health);
        health.step(&findings, now, |edge| self.on_edge(edge, now));
        self.health = health;
        if self.health.is_spoiling(StrikesOut::TrueWind, now) {
            self.strike_out(now, now);
        }
        if self.health.is_spoiling(StrikesOut::Heel, now) {
            let second = now.as_millis() / 1000;
            self.seconds.disbelieve_heel(second, second + 1);
        }
    }

    fn on_edge(&mut self, edge: Edge, now: Timestamp) {
        match edge {
            Edge::Turn(fault, turn) => self.tell(Turn::Fault(fault, turn)),
            Edge::Found(doubt) => self.on_found(doubt, now),
            Edge::Over(doubt) => self.on_over(doubt, now),
        }
    }

    fn on_found(&mut self, doubt: Doubt, now: Timestamp) {
        match row(doubt.fault).strikes_out {
            StrikesOut::TrueWind | StrikesOut::TrueWindBefore if doubt.began < now => {
                self.strike_out(self.seen_late(doubt.began), now);
            }
            StrikesOut::Heel => {
                let first = doubt.began.as_millis() / 1000;
                let last = now.as_millis() / 1000;
                self.seconds.disbelieve_heel(first, last + 1);
                self.steady_heel.clear();
            }
            StrikesOut::Direction => {
                self.seconds.forget_direction();
                self.minutes.forget_direction();
                self.signals.true_compass.clear();
                self.trends = self.find_trends();
            }
            _ => {}
        }
    }

    fn on_over(&mut self, doubt: Doubt, now: Timestamp) {
        match row(doubt.fault).strikes_out {
            StrikesOut::TrueWind => {
                // What stood still is no middle for what moves again.
                self.gate.reset();
                self.signals.forget_smoothed();
            }
            StrikesOut::DisputedWind => {
                let from = self.seen_late(doubt.began);
                // Minutes by a preferred unit stay in the trend.
                if self.is_preferred() {
                    self.strike_out_seconds(from, now);
                } else {
                    self.strike_out(from, now);
                }
                self.signals.forget_smoothed();
            }
            _ => {}
        }
    }

    /// A still figure is seen at the whole second after it was said, and may
    /// be a repetition of one a period older.
    fn seen_late(&self, began: Timestamp) -> Timestamp {
        let slot = self.sources.chosen(Quantity::ApparentWind);
        let period_ms = slot.and_then(|slot| slot.period_ms()).unwrap_or(0);
        let late_ms = 1_000 + u64::from(period_ms);
        Timestamp::from_millis(began.as_millis().saturating_sub(late_ms))
    }

    /// Wind from a moment until now is no wind.
    fn strike_out(&mut self, from: Timestamp, now: Timestamp) {
        self.strike_out_seconds(from, now);
        if from < now {
            let gaps = self.minutes.forget_wind_since(from);
            self.day.forget_wind(gaps);
            self.trends = self.find_trends();
        }
    }

    fn strike_out_seconds(&mut self, from: Timestamp, now: Timestamp) {
        let first = from.as_millis() / 1000;
        self.seconds
            .disbelieve_wind(first, now.as_millis() / 1000 + 1);
    }

    fn find(&mut self, evidence: &Evidence, now: Timestamp) -> Findings {
        let mut findings = Findings::new();
        // A full list drops what is looked for last.
        let mut found = |finding: Finding| {
            let known = findings.iter().any(|f: &Finding| f.fault == finding.fault);
            if !known {
                let _ = findings.push(finding);
            }
        };
        let mut plainly = |fault| found(Finding { fault, began: now });
        self.find_missing(now, &mut plainly);
        if let Some(began) = self.standstill.log_fouled(now)
            && matches!(self.basis_at(now), Basis::Ground)
        {
            let fault = Fault::NoWaterSpeed;
            found(Finding { fault, began });
        }
        self.find_basis(now, |fault| found(Finding { fault, began: now }));
        self.standstill.look(evidence, now, &mut found);
        self.heel_by_sail.look(evidence, now, &mut found);
        let mut turning = *evidence;
        if let Some(doubt) = self.struck_out(now) {
            self.side.forget_since(doubt.began);
            turning.awa_deg = None;
        }
        self.side.look(&turning, now, &mut found);
        self.crosschecks.look(evidence, now, &mut found);
        let mut plainly = |fault| found(Finding { fault, began: now });
        self.find_spikes(&mut plainly);
        self.find_poor(now, &mut plainly);
        let differed_s = 2 * u64::from(self.corrections.instruments().may_differ.seconds);
        let before = now.as_millis().saturating_sub(differed_s * 1000);
        for quantity in Quantity::ALL {
            if self.sources.is_disputed(quantity) {
                found(Finding {
                    fault: Fault::Disagree(quantity),
                    began: Timestamp::from_millis(before),
                });
            }
        }
        findings
    }

    fn find_missing(&self, now: Timestamp, mut found: impl FnMut(Fault)) {
        for quantity in MISSED {
            if self.sources.live(quantity, now).is_some() {
                continue;
            }
            if self.sources.is_invalid(quantity, now) {
                found(Fault::Invalid(quantity));
            } else if self.sources.last_valid(quantity).is_some() {
                found(Fault::Lost(quantity));
            }
        }
        if self.is_awake(now)
            && self.corrections.wants_heel()
            && self.sources.last_valid(Quantity::Heel).is_none()
        {
            found(Fault::Lost(Quantity::Heel));
        }
    }

    fn find_basis(&self, now: Timestamp, mut found: impl FnMut(Fault)) {
        if !self.is_awake(now) {
            return;
        }
        match self.basis_at(now) {
            Basis::Water => {}
            Basis::Ground => found(Fault::NoWaterSpeed),
            Basis::TrueWind | Basis::GroundWind => found(Fault::TrueWindOnly),
            Basis::None(quantity) if self.sources.last_valid(quantity).is_none() => {
                found(Fault::Lost(quantity));
            }
            Basis::None(_) => {}
        }
    }

    /// What is there, and not good enough for all that it is wanted for.
    fn find_poor(&self, now: Timestamp, mut found: impl FnMut(Fault)) {
        let awake = self.is_awake(now);
        match self.heading() {
            Some(heading) if heading.north == North::Magnetic => found(Fault::NoVariation),
            None if awake => found(Fault::NoHeading),
            _ => {}
        }
        let heel = self.sources.live(Quantity::Heel, now).is_some();
        if awake && heel && self.corrections.wants_motion() && !self.heel.is_quick() {
            found(Fault::SlowHeel);
        }
    }

    fn is_awake(&self, now: Timestamp) -> bool {
        self.started
            .is_some_and(|started| now.secs_since(started) >= GRACE_S)
    }

    /// Tells of each quantity of which a wild value was struck out in the
    /// second that ends now.
    fn find_spikes(&mut self, mut found: impl FnMut(Fault)) {
        for (quantity, before) in GATED.into_iter().zip(&mut self.spikes_before) {
            let count = match quantity {
                Quantity::ApparentWind => self.gate.dropped(),
                _ => self.spikes.count(quantity),
            };
            if count != *before {
                found(Fault::Spikes(quantity));
            }
            *before = count;
        }
    }

    fn evidence(&self, now: Timestamp) -> Evidence {
        let heading = self.heading();
        let mut evidence = Evidence {
            heading_deg: heading.map(|h| h.bearing.degrees()),
            heading_true_deg: heading
                .filter(|h| h.north == North::True)
                .map(|h| h.bearing.degrees()),
            heel_deg: self.live_heel(now),
            twa_deg: self.signals.true_boat.get().map(|wind| wind.angle_deg()),
            tws_kn: self.signals.tws.get().map(|tws| tws.x),
            ..Evidence::default()
        };
        if !matches!(self.basis_at(now), Basis::Water | Basis::Ground) || !self.wind_is_fresh(now) {
            evidence.tws_kn = None;
            evidence.twa_deg = None;
        }
        for quantity in Quantity::ALL {
            match self.sources.live(quantity, now) {
                Some(Measure::ApparentWind { angle, speed }) => {
                    evidence.awa_deg = Some(angle.degrees());
                    evidence.aws_kn = Some(speed.get());
                }
                Some(Measure::TrueWind { speed, .. }) => evidence.their_tws_kn = Some(speed.get()),
                Some(Measure::WaterSpeed(stw)) => evidence.stw_kn = Some(stw.get()),
                Some(Measure::GroundMotion { speed, course }) => {
                    evidence.sog_kn = Some(speed.get());
                    evidence.cog_deg = course.map(|course| course.degrees());
                }
                Some(Measure::Heel(heel)) => evidence.heel_said_deg = Some(heel.get()),
                Some(Measure::Pitch(pitch)) => evidence.pitch_deg = Some(pitch.get()),
                _ => {}
            }
        }
        evidence
    }
}
