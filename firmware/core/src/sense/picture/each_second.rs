//! What happens at each whole second and minute, heard or not.

use crate::reading::{Measure, Quantity};
use crate::sense::health::sail::SailMinute;
use crate::stats::minute::LEAST_SHARE;
use crate::stats::{Minute, squall};
use crate::time::Timestamp;

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
        self.look(edge);
        self.squall = squall::judge(&self.seconds);
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
        self.learn_heel();
        let mut minute = Minute::of(start, self.seconds.window(60, 0), self.north, pressure);
        if self.struck_out(self.now).is_some() {
            minute.forget_wind();
        }
        self.day.push(&minute);
        self.minutes.push(minute);
        self.trends = self.find_trends();
    }

    fn learn_heel(&mut self) {
        let minute = self.seconds.window(60, 0);
        let known = |share: f64| share >= LEAST_SHARE;
        let heel = minute.heel().filter(|_| known(minute.heel_share()));
        let means = SailMinute {
            heel_deg: heel.map(|heel| heel.mean),
            aws_kn: minute.aws_kn().filter(|_| known(minute.aws_share())),
        };
        let is_doubted = self.doubt(self.now).is_some();
        self.heel_by_sail.take(means, is_doubted);
    }
}
