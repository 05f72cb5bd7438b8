//! What is told to other instruments: the true wind worked out here, and the
//! call as an alert. Only sentences of our own are sent, so nothing that came
//! in is ever echoed; and ours that come back, by a multiplexer or as our own
//! broadcast, are known again and not heard as if another had said them.

use std::collections::VecDeque;
use std::sync::Arc;
use std::time::Duration;

use cringle_core::angle::{Bearing, BowAngle};
use cringle_core::event::Priority;
use cringle_core::time::Timestamp;
use cringle_core::units::Knots;
use cringle_core::view::{AlertState, CallView, View};
use cringle_wire::alert::{
    self, Acn, Alert, AlertName, Category, Entry, Hbt, Health, Standing, TimeOfDay, Words,
};
use cringle_wire::encode::SentenceBytes;
use cringle_wire::encode::wind::{mwd, mwv_true, vwt};
use cringle_wire::outputs::{Outgoing, Scheduler};
use cringle_wire::sentence::Talker;

use crate::engine::{ALARM_NUMBER, ALERT_ID};
use crate::names::Names;
use crate::ports::PortId;

/// Seconds between two lists of alerts (a radio manual's figure).
const LIST: Duration = Duration::from_secs(30);
/// Seconds between two signs of life (from memory).
const HEARTBEAT: Duration = Duration::from_secs(60);
/// How long a sentence of ours is known again.
const KNOWN_AGAIN: Duration = Duration::from_secs(5);
/// How many are.
const MOST_KNOWN: usize = 128;

/// What a port is sent.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Wanted {
    /// Calls, and how.
    pub alerts: Option<AlertForm>,
    /// Wind sentences, and the time between two of each.
    pub wind: Vec<(Outgoing, Duration)>,
}

/// In which sentences a call is told. Never in both for one alert.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AlertForm {
    /// ALF and ALC, the newer way.
    Alf,
    /// ALR, the older way.
    Alr,
}

/// A sentence for a port.
pub type Sending = (PortId, Arc<[u8]>);

/// Keeps what is due on every port.
pub struct Outputs {
    talker: Talker,
    names: Names,
    ports: Vec<Port>,
    told: Told,
    sequence: u8,
    beats: u8,
    sent: VecDeque<(Timestamp, Arc<[u8]>)>,
}

struct Port {
    id: PortId,
    alerts: Option<AlertForm>,
    scheduler: Scheduler,
}

/// The state of the alert that was told last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Told {
    id: u32,
    revision: u32,
    escalation: u8,
}

impl Outputs {
    /// Sends to each port what it wants, from `now` on.
    pub fn new(wanted: Vec<(PortId, Wanted)>, names: Names, now: Timestamp) -> Option<Outputs> {
        let ports = wanted
            .into_iter()
            .filter(|(_, wanted)| *wanted != Wanted::default())
            .map(|(id, wanted)| Port::new(id, &wanted, now))
            .collect();
        Some(Outputs {
            // Integrated instrumentation.
            talker: Talker::new(*b"II")?,
            names,
            ports,
            told: Told {
                id: 0,
                revision: 0,
                escalation: 0,
            },
            sequence: 0,
            beats: 0,
            sent: VecDeque::new(),
        })
    }

    /// When to ask again.
    pub fn next_deadline(&self) -> Option<Timestamp> {
        self.ports
            .iter()
            .filter_map(|port| port.scheduler.next_deadline())
            .min()
    }

    /// All that is to be sent now.
    pub fn due(&mut self, view: &View, now: Timestamp) -> Vec<Sending> {
        let mut sending = Vec::new();
        self.tell_change(&view.call, view, now, &mut sending);
        let mut ports = std::mem::take(&mut self.ports);
        for port in &mut ports {
            for what in port.scheduler.due(now) {
                for line in self.lines(what, port.alerts, view) {
                    sending.push((port.id, line.as_slice().into()));
                }
            }
        }
        self.ports = ports;
        self.remember(&sending, now);
        sending
    }

    /// Answers to commands that cannot be obeyed.
    pub fn refuse(&mut self, refused: &[Acn], view: &View, now: Timestamp) -> Vec<Sending> {
        let mut sending = Vec::new();
        for command in refused {
            let refusal = alert::Arc {
                at: moment(view),
                name: command.name.clone(),
                command: command.command,
            };
            let Ok(line) = refusal.write(self.talker) else {
                continue;
            };
            for port in self.alert_ports(AlertForm::Alf) {
                sending.push((port, line.as_slice().into()));
            }
        }
        self.remember(&sending, now);
        sending
    }

    /// Whether a line that came in is one of ours coming back.
    pub fn is_own(&mut self, line: &[u8], now: Timestamp) -> bool {
        while let Some((at, _)) = self.sent.front() {
            if now.since(*at) < KNOWN_AGAIN {
                break;
            }
            self.sent.pop_front();
        }
        self.sent
            .iter()
            .any(|(_, sent)| sent.trim_ascii_end() == line.trim_ascii_end())
    }

    fn remember(&mut self, sending: &[Sending], now: Timestamp) {
        for (_, line) in sending {
            if self.sent.len() >= MOST_KNOWN {
                self.sent.pop_front();
            }
            self.sent.push_back((now, Arc::clone(line)));
        }
    }

    fn alert_ports(&self, form: AlertForm) -> Vec<PortId> {
        self.ports
            .iter()
            .filter(|port| port.alerts == Some(form))
            .map(|port| port.id)
            .collect()
    }

    /// Tells the alert once at each change of its state.
    fn tell_change(
        &mut self,
        call: &CallView,
        view: &View,
        now: Timestamp,
        sending: &mut Vec<Sending>,
    ) {
        let state = Told {
            id: call.id,
            revision: call.revision,
            escalation: call.escalation,
        };
        if state == self.told {
            return;
        }
        self.told = state;
        let alert = self.alert(call, view);
        self.sequence = (self.sequence + 1) % 10;
        for line in alert.write(self.talker, self.sequence).unwrap_or_default() {
            for port in self.alert_ports(AlertForm::Alf) {
                sending.push((port, line.as_slice().into()));
            }
        }
        if let Ok(line) = alert.as_alr(ALARM_NUMBER).write(self.talker) {
            for port in self.alert_ports(AlertForm::Alr) {
                sending.push((port, line.as_slice().into()));
            }
        }
        for port in &mut self.ports {
            if port.alerts == Some(AlertForm::Alf) {
                port.scheduler.hurry(Outgoing::AlertList, now);
            }
        }
    }

    fn lines(
        &mut self,
        what: Outgoing,
        form: Option<AlertForm>,
        view: &View,
    ) -> Vec<SentenceBytes> {
        let talker = self.talker;
        let line = match what {
            Outgoing::TrueWind => mwv_true(talker, true_wind(view)),
            Outgoing::TrueWindOldForm => vwt(talker, true_wind(view)),
            // The core's directions are by true north; how far magnetic north
            // is off is not in its view.
            Outgoing::GroundWind => mwd(talker, ground_wind(view), None),
            Outgoing::AlertList => return self.standing_alert(form, view),
            Outgoing::Heartbeat => {
                self.beats = (self.beats + 1) % 10;
                Hbt {
                    interval_s: Some(HEARTBEAT.as_secs() as u16),
                    health: Health::Working,
                    sequence: Some(self.beats),
                }
                .write(talker)
            }
        };
        line.into_iter().collect()
    }

    /// The list in the newer form; the alert itself again in the older.
    fn standing_alert(&mut self, form: Option<AlertForm>, view: &View) -> Vec<SentenceBytes> {
        let call = &view.call;
        let stands = call.alert != AlertState::Normal;
        if form == Some(AlertForm::Alr) {
            let alr = self.alert(call, view).as_alr(ALARM_NUMBER);
            let line = stands.then(|| alr.write(self.talker));
            return line.into_iter().flatten().collect();
        }
        let entry = Entry {
            name: name(call),
            revision: revision(call),
        };
        let entries = if stands { vec![entry] } else { Vec::new() };
        let mut lines = Vec::new();
        self.sequence = (self.sequence + 1) % 10;
        let sequence = self.sequence;
        // One short entry always fits.
        let _ = alert::list(self.talker, sequence, &entries, &mut |line| {
            lines.push(line.clone());
        });
        lines
    }

    fn alert(&self, call: &CallView, view: &View) -> Alert {
        let next = view.next.map(|next| self.names.plan(next));
        let title = match next {
            Some(next) => format!("{}: {next}", call.call.word()),
            None => call.call.word().to_owned(),
        };
        Alert {
            name: name(call),
            standing: Standing {
                at: moment(view),
                category: Category::Anywhere,
                priority: match call.call.priority() {
                    Some(Priority::Alarm) => alert::Priority::Alarm,
                    Some(Priority::Warning) => alert::Priority::Warning,
                    // It is over: as it was last would do as well.
                    Some(Priority::Caution) | None => alert::Priority::Caution,
                },
                state: state(call.alert),
            },
            revision: revision(call),
            escalation: call.escalation.min(9),
            title: words(&title),
            description: words(call.why.as_str()),
        }
    }
}

impl Port {
    fn new(id: PortId, wanted: &Wanted, now: Timestamp) -> Port {
        let mut scheduler = Scheduler::new();
        for (what, period) in &wanted.wind {
            scheduler.set(*what, Some(*period), now);
        }
        if let Some(form) = wanted.alerts {
            scheduler.set(Outgoing::AlertList, Some(LIST), now);
            if form == AlertForm::Alf {
                scheduler.set(Outgoing::Heartbeat, Some(HEARTBEAT), now);
            }
        }
        Port {
            id,
            alerts: wanted.alerts,
            scheduler,
        }
    }
}

fn name(call: &CallView) -> AlertName {
    AlertName {
        id: ALERT_ID,
        instance: Some(call.id.clamp(1, 999_999)),
        ..AlertName::default()
    }
}

/// 1 to 99, round and round.
fn revision(call: &CallView) -> u8 {
    (call.revision.saturating_sub(1) % 99 + 1) as u8
}

fn state(alert: AlertState) -> alert::AlertState {
    match alert {
        AlertState::Normal => alert::AlertState::Normal,
        AlertState::Unacknowledged => alert::AlertState::ActiveUnacknowledged,
        AlertState::Silenced => alert::AlertState::ActiveSilenced,
        AlertState::Acknowledged => alert::AlertState::ActiveAcknowledged,
        AlertState::RectifiedUnacknowledged => alert::AlertState::RectifiedUnacknowledged,
    }
}

fn moment(view: &View) -> Option<TimeOfDay> {
    view.unix_ms.map(TimeOfDay::from_unix_ms)
}

/// As much as a sentence may hold.
fn words(long: &str) -> Words {
    let mut fitted = Words::new();
    for character in long.chars().take(alert::WORDS_MOST) {
        if fitted.push(character).is_err() {
            break;
        }
    }
    fitted
}

fn true_wind(view: &View) -> Option<(BowAngle, Knots)> {
    let angle = BowAngle::new(view.wind.twa_deg?)?;
    Some((angle, Knots::new(view.wind.tws_kn?).ok()?))
}

fn ground_wind(view: &View) -> Option<(Bearing, Knots)> {
    let direction = Bearing::new(view.wind.ground_deg?)?;
    Some((direction, Knots::new(view.wind.ground_kn?).ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use cringle_core::event::Call;

    const MAST: PortId = PortId(0);

    fn outputs(wanted: Wanted) -> Outputs {
        let names = Names::default();
        Outputs::new(vec![(MAST, wanted)], names, Timestamp::ZERO).unwrap()
    }

    fn sent(outputs: &mut Outputs, view: &View, second: u64) -> Vec<String> {
        outputs
            .due(view, Timestamp::from_secs(second))
            .into_iter()
            .map(|(_, line)| String::from_utf8(line.to_vec()).unwrap())
            .map(|line| line.split('*').next().unwrap().to_owned())
            .collect()
    }

    fn view() -> View {
        let mut view = View::blank(Timestamp::ZERO);
        view.wind.twa_deg = Some(-62.0);
        view.wind.tws_kn = Some(18.04);
        view
    }

    fn prepare() -> View {
        let mut view = view();
        view.call.call = Call::Prepare;
        view.call.alert = AlertState::Unacknowledged;
        view.call.id = 4;
        view.call.revision = 1;
        view.call.why = cringle_core::text::text("gusts 29 kn");
        view
    }

    #[test]
    fn wind_goes_out_at_its_rate_and_says_when_it_is_not_known() {
        let mut outputs = outputs(Wanted {
            wind: vec![(Outgoing::TrueWind, Duration::from_secs(2))],
            ..Wanted::default()
        });
        assert_eq!(sent(&mut outputs, &view(), 0), ["$IIMWV,298.0,T,18.0,N,A"]);
        assert_eq!(sent(&mut outputs, &view(), 1), [""; 0]);
        let unknown = View::blank(Timestamp::ZERO);
        assert_eq!(sent(&mut outputs, &unknown, 2), ["$IIMWV,,T,,N,V"]);
    }

    #[test]
    fn a_call_is_told_once_and_listed_again_and_again() {
        let mut outputs = outputs(Wanted {
            alerts: Some(AlertForm::Alf),
            ..Wanted::default()
        });
        let quiet = sent(&mut outputs, &view(), 0);
        assert_eq!(quiet[0], "$IIALC,01,01,01,0");
        let told = sent(&mut outputs, &prepare(), 1);
        assert_eq!(told[0], "$IIALF,2,1,2,,B,W,V,,10101,4,1,0,prepare");
        assert_eq!(told[1], "$IIALF,2,2,2,,,,,,10101,4,1,0,gusts 29 kn");
        assert_eq!(told[2], "$IIALC,01,01,03,1,,10101,4,1");
        assert_eq!(sent(&mut outputs, &prepare(), 2), [""; 0]);
        let later = sent(&mut outputs, &prepare(), 31);
        assert_eq!(later[0], "$IIALC,01,01,04,1,,10101,4,1");
    }

    #[test]
    fn the_older_form_is_never_mixed_with_the_newer() {
        let mut outputs = outputs(Wanted {
            alerts: Some(AlertForm::Alr),
            ..Wanted::default()
        });
        assert_eq!(sent(&mut outputs, &view(), 0), [""; 0]);
        let told = sent(&mut outputs, &prepare(), 1);
        assert_eq!(told, ["$IIALR,,101,A,V,prepare"]);
    }

    #[test]
    fn our_own_sentence_coming_back_is_known_again_for_a_while() {
        let mut outputs = outputs(Wanted {
            wind: vec![(Outgoing::TrueWind, Duration::from_secs(2))],
            ..Wanted::default()
        });
        let (_, line) = outputs.due(&view(), Timestamp::ZERO).remove(0);
        let cut = line.strip_suffix(b"\r\n").unwrap();
        assert!(outputs.is_own(cut, Timestamp::from_secs(1)));
        assert!(!outputs.is_own(b"$IIMWV,1", Timestamp::from_secs(1)));
        assert!(!outputs.is_own(cut, Timestamp::from_secs(6)));
    }
}
