//! The sign of life: it turns only while everything upstream does.
//!
//! A step means that the core has taken a reading since the last one. A port
//! that is silent, a line that is only noise, a decoder or a core that hangs:
//! each stops it. Time alone never moves it.

use std::time::Duration;

use cringle_core::time::Timestamp;

/// It steps no faster than this, so that the eye sees it turn.
const LEAST_STEP: Duration = Duration::from_secs(1);

/// Counts steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pulse {
    heard: u64,
    beats: u32,
    stepped: Timestamp,
    taken: Timestamp,
}

impl Pulse {
    /// Nothing has been heard yet.
    pub fn new(wall: Timestamp) -> Pulse {
        Pulse {
            heard: 0,
            beats: 0,
            stepped: wall,
            taken: wall,
        }
    }

    /// Takes how many readings the core has taken so far, by the wall.
    pub fn take(&mut self, heard: u64, wall: Timestamp) {
        if heard == self.heard {
            return;
        }
        self.heard = heard;
        self.taken = wall;
        if wall.since(self.stepped) >= LEAST_STEP {
            self.stepped = wall;
            self.beats = self.beats.wrapping_add(1);
        }
    }

    /// Steps so far.
    pub fn beats(&self) -> u32 {
        self.beats
    }

    /// Seconds since the core last took something.
    pub fn still_s(&self, wall: Timestamp) -> f64 {
        wall.secs_since(self.taken)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: u64) -> Timestamp {
        Timestamp::from_secs(seconds)
    }

    #[test]
    fn it_stands_still_when_time_goes_on_and_nothing_is_heard() {
        let mut pulse = Pulse::new(at(0));
        for second in 1..=10 {
            pulse.take(second, at(second));
        }
        assert_eq!((pulse.beats(), pulse.still_s(at(10))), (10, 0.0));
        for second in 11..=60 {
            pulse.take(10, at(second));
        }
        assert_eq!((pulse.beats(), pulse.still_s(at(60))), (10, 50.0));
    }

    /// A watch whose only instruments speak every six seconds, for so long,
    /// and whether its picture is frozen at each second until `until`.
    fn frozen(speak_for_s: u64, until: u64) -> Vec<u64> {
        use crate::engine::Engine;
        use crate::ports::PortId;
        let boat_file = cringle_boat::example().unwrap();
        let decoders = crate::wiring::decoders(&boat_file, &["mast".to_owned()]);
        let mut engine = Engine::new(&boat_file.boat, decoders, None, at(0));
        let mut pulse = Pulse::new(at(0));
        let mut frozen = Vec::new();
        for second in 1..=until {
            if second % 6 == 1 && second < speak_for_s {
                for line in [
                    "$WIMWV,041.0,R,15.6,N,A*14",
                    "$YXXDR,A,12.4,D,HEEL*57",
                    "$VWVHW,080.0,T,084.0,M,6.2,N,11.5,K*61",
                ] {
                    engine.line(PortId(0), line.as_bytes(), at(second));
                }
            }
            engine.tick(at(second));
            pulse.take(engine.heard(), at(second));
            let alive = cringle_screen::aboard::Alive {
                beats: pulse.beats(),
                still_s: pulse.still_s(at(second)) as f32,
                hung_s: 0.2,
            };
            if alive.is_stopped(&engine.view()) {
                frozen.push(second);
            }
        }
        frozen
    }

    #[test]
    fn instruments_that_speak_every_six_seconds_do_not_freeze_the_picture() {
        assert_eq!(frozen(600, 600), [0; 0]);
        // The last words are of second 295.
        assert_eq!(frozen(300, 400).first(), Some(&310));
    }

    #[test]
    fn many_readings_a_second_are_one_step() {
        let mut pulse = Pulse::new(at(0));
        for millis in 1..=5_000 {
            pulse.take(millis, Timestamp::from_millis(millis));
        }
        assert_eq!(pulse.beats(), 5);
    }
}
