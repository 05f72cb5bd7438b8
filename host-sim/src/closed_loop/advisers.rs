//! The two advisers to measure against: nobody, and an alarm at a fixed wind.

use super::{Advice, Adviser};
use crate::crew::CrewEvent;
use crate::instruments::{BowWind, Sentence, instrument_true_wind};
use crate::maths::{kn, lag, ms, rad};
use crate::scenario::Scenario;

/// Says nothing: the crew has its own eyes.
#[derive(Clone, Copy, Debug, Default)]
pub struct Nobody;

impl Adviser for Nobody {
    fn hear(&mut self, _: &Sentence) {}

    fn crew_did(&mut self, _: CrewEvent, _: f64) {}

    fn advise(&mut self, _: f64) -> Option<Advice> {
        None
    }
}

/// An alarm that goes when the mean true wind comes within a fixed margin of
/// the plan's limit, and says to reduce.
#[derive(Clone, Debug)]
pub struct FixedAlarm {
    limits_kn: Vec<f64>,
    rung: usize,
    margin_kn: f64,
    stw_ms: f64,
    heard_at_s: f64,
    mean_kn: Option<f64>,
    is_ringing: bool,
}

/// Time constant of the mean it looks at.
const MEAN_S: f64 = 120.0;
/// It falls silent so far under the wind that set it off.
const FALLS_SILENT_KN: f64 = 2.0;
/// Wind older than this rings nothing.
const STALE_S: f64 = 10.0;

impl FixedAlarm {
    /// For the ladder of `scenario`, `margin_kn` under each limit.
    pub fn new(scenario: &Scenario, margin_kn: f64) -> Self {
        Self {
            limits_kn: scenario
                .boat
                .rung
                .iter()
                .map(|rung| rung.limit_kn)
                .collect(),
            rung: scenario.rung,
            margin_kn,
            stw_ms: 0.0,
            heard_at_s: 0.0,
            mean_kn: None,
            is_ringing: false,
        }
    }

    fn wind(&mut self, angle_deg: f64, speed_kn: f64, at_s: f64) {
        let apparent = BowWind {
            angle_rad: rad(angle_deg),
            speed_ms: ms(speed_kn),
        };
        let tws_kn = kn(instrument_true_wind(apparent, self.stw_ms).speed_ms);
        let part = lag(at_s - self.heard_at_s, MEAN_S);
        let mean_kn = self.mean_kn.get_or_insert(tws_kn);
        *mean_kn += (tws_kn - *mean_kn) * part;
        self.heard_at_s = at_s;
    }
}

impl Adviser for FixedAlarm {
    fn hear(&mut self, sentence: &Sentence) {
        let Ok(line) = core::str::from_utf8(&sentence.bytes) else {
            return;
        };
        let mut fields = line.split([',', '*']);
        let formatter = fields.next().and_then(|address| address.get(3..));
        let fields: Vec<&str> = fields.collect();
        let number = |at: usize| fields.get(at).and_then(|field| field.parse::<f64>().ok());
        match formatter {
            Some("VHW") => {
                if let Some(knots) = number(4) {
                    self.stw_ms = ms(knots);
                }
            }
            Some("MWV") if fields.get(1) == Some(&"R") && fields.get(4) == Some(&"A") => {
                if let (Some(angle_deg), Some(speed_kn)) = (number(0), number(2)) {
                    self.wind(angle_deg, speed_kn, sentence.due_s);
                }
            }
            _ => {}
        }
    }

    fn crew_did(&mut self, event: CrewEvent, _: f64) {
        if let CrewEvent::Changed(rung) = event {
            self.rung = rung;
            self.is_ringing = false;
        }
    }

    fn advise(&mut self, now_s: f64) -> Option<Advice> {
        let bar_kn = self.limits_kn.get(self.rung)? - self.margin_kn;
        let mean_kn = self.mean_kn.filter(|_| now_s - self.heard_at_s < STALE_S)?;
        if mean_kn > bar_kn {
            self.is_ringing = true;
        } else if mean_kn < bar_kn - FALLS_SILENT_KN {
            self.is_ringing = false;
        }
        self.is_ringing.then_some(Advice::Reduce)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hear(alarm: &mut FixedAlarm, line: &str, at_s: f64) {
        alarm.hear(&Sentence {
            line: 0,
            due_s: at_s,
            bytes: line.as_bytes().to_vec(),
        });
    }

    fn alarm() -> FixedAlarm {
        let scenario = Scenario::builtin("rising-breeze").expect("built in");
        FixedAlarm::new(&scenario, 3.0)
    }

    #[test]
    fn it_rings_on_the_true_wind_and_not_on_the_apparent() {
        // AWS 20 at 35, STW 6.5 make 15.14 kn true: past 17 - 3.
        let mut alarm = alarm();
        hear(&mut alarm, "$VWVHW,,T,,M,6.5,N,12.0,K*00", 0.0);
        hear(&mut alarm, "$WIMWV,035.0,R,20.0,N,A*00", 0.5);
        assert_eq!(alarm.advise(1.0), Some(Advice::Reduce));
        // AWS 18 at -45, STW 6: 14.40; AWS 16 at 35: 11.3, after a long while.
        hear(&mut alarm, "$WIMWV,035.0,R,16.0,N,A*00", 2000.0);
        assert_eq!(alarm.advise(2001.0), None);
    }

    #[test]
    fn a_new_plan_has_a_new_limit_and_old_wind_rings_nothing() {
        let mut alarm = alarm();
        hear(&mut alarm, "$WIMWV,090.0,R,16.0,N,A*00", 0.5);
        assert_eq!(alarm.advise(1.0), Some(Advice::Reduce));
        alarm.crew_did(CrewEvent::Changed(1), 2.0);
        assert_eq!(alarm.advise(3.0), None);
        alarm.crew_did(CrewEvent::Changed(0), 4.0);
        assert_eq!(alarm.advise(5.0), Some(Advice::Reduce));
        assert_eq!(alarm.advise(60.0), None);
    }
}
