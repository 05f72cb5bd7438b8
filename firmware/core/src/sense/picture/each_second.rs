//! What happens at each whole second and minute, heard or not.

use crate::reading::{Measure, Quantity};
use crate::stats::minute::LEAST_SHARE;
use crate::stats::{Minute, squall};
use crate::time::Timestamp;
use crate::wind::doubt::Evidence;
use crate::wind::round_up::upright_stiffness;

use super::{GATE_RESET_S, LATE_MS, Picture};

impl Picture {
    pub(super) fn on_second(&mut self, edge: Timestamp) {
        self.gate.tick(edge);
        if self.gate.held_since().is_some()
            && self
                .signals
                .last_wind
                .is_some_and(|last| edge.secs_since(last) > GATE_RESET_S)
        {
            self.gate.reset();
        }
        for turn in &self.sources.review(edge) {
            self.on_hand_over(*turn);
        }
        // Deadlines see the moment they were set for, however late they run.
        let late = core::mem::replace(&mut self.now, edge);
        self.release();
        self.settle(edge);
        self.weigh(edge);
        self.now = late;
    }

    /// Closes the seconds that nothing can be added to any more.
    fn settle(&mut self, edge: Timestamp) {
        let late = edge.as_millis().saturating_sub(LATE_MS);
        let held = self.gate.held_since();
        let first = match (held, self.waiting.front().map(|sample| sample.at)) {
            (Some(a), Some(b)) => Some(if a < b { a } else { b }),
            (one, other) => one.or(other),
        };
        let until = first.map_or(late, |first| late.min(first.as_millis()));
        let seconds = &mut self.seconds;
        self.signals
            .wind
            .settle(Timestamp::from_millis(until), |piece, sample| {
                seconds.add_wind(piece, sample);
            });
        self.signals
            .heel
            .settle(Timestamp::from_millis(late), |piece, heel| {
                seconds.add_heel(piece, *heel);
            });
        while (self.seconds.closed() + 1) * 1000 <= until {
            let second = self.seconds.close_one();
            if (second + 1).is_multiple_of(60) {
                self.on_minute(second + 1);
            }
        }
    }

    fn on_minute(&mut self, end_second: u64) {
        let start = Timestamp::from_secs(end_second.saturating_sub(60));
        let pressure = match self.sources.live(Quantity::Pressure, self.now) {
            Some(Measure::Pressure(hpa)) => Some(hpa.get()),
            _ => None,
        };
        self.learn_stiffness();
        let mut minute = Minute::of(start, self.seconds.window(60, 0), self.north, pressure);
        if self.doubt(self.now).is_some() {
            minute.forget_wind();
        }
        self.day.push(&minute);
        self.minutes.push(minute);
        self.trends = self.find_trends();
    }

    /// Upwind and with wind enough, heel per AWS squared is the boat's own
    /// figure; the usual one follows slowly, and not while it is doubted.
    /// Wind that is not believed is looked at too: by this it may be forgiven.
    fn learn_stiffness(&mut self) {
        let minute = self.seconds.window(60, 0);
        let known = |share: f64| share >= LEAST_SHARE;
        let heel = minute.heel().filter(|_| known(minute.heel_share()));
        let aws = minute.aws_kn().filter(|_| known(minute.aws_share()));
        self.stiffness.last = match (heel.map(|heel| heel.mean), aws, minute.twa()) {
            (Some(heel), Some(aws), Some(twa))
                if heel.abs() > 4.0 && aws > 2.0 && (25.0..=90.0).contains(&twa.mean_deg.abs()) =>
            {
                upright_stiffness(heel, aws)
            }
            _ => None,
        };
        if self.doubt(self.now).is_some() {
            return;
        }
        self.stiffness.usual = match (self.stiffness.usual, self.stiffness.last) {
            (None, last) => last,
            (usual, None) => usual,
            // A sudden doubling is not learnt: it may be the cups.
            (Some(usual), Some(last)) if last > 1.8 * usual => Some(usual * 1.005),
            (Some(usual), Some(last)) => Some(usual + 0.1 * (last - usual)),
        };
    }

    fn weigh(&mut self, edge: Timestamp) {
        let evidence = self.evidence(edge);
        self.doubts.look(&evidence, edge);
        self.weigh_trust(edge);
        self.squall = squall::judge(&self.seconds);
        self.judge_faults(edge);
    }

    fn evidence(&self, now: Timestamp) -> Evidence {
        let mut evidence = Evidence {
            heading_deg: self.heading().map(|h| h.bearing.degrees()),
            heel_deg: self.live_heel(now),
            stiffness: self.stiffness.last,
            usual_stiffness: self.stiffness.usual,
            ..Evidence::default()
        };
        if let Some(Measure::ApparentWind { angle, speed }) =
            self.sources.live(Quantity::ApparentWind, now)
        {
            evidence.awa_deg = Some(angle.degrees());
            evidence.aws_kn = Some(speed.get());
        }
        if let Some(Measure::WaterSpeed(stw)) = self.sources.live(Quantity::WaterSpeed, now) {
            evidence.stw_kn = Some(stw.get());
        }
        if let Some(Measure::GroundMotion { speed, .. }) =
            self.sources.live(Quantity::GroundMotion, now)
        {
            evidence.sog_kn = Some(speed.get());
        }
        evidence
    }
}
