//! The life of one alert: raised, sounded, answered, raised again, over.
//!
//! ```text
//!            raise                 acknowledge
//!   Normal --------> Unacknowledged ---------> Acknowledged
//!     ^                |    ^  ^                 |      |
//!     |   silence 30 s v    |  +---- worse ------+      |
//!     |              Silenced                           | over
//!     |                |  over                          |
//!     +--- acknowledge RectifiedUnacknowledged          |
//!     +-------------------------------------------------+
//! ```
//!
//! States are those of bridge alert management (IEC 62923-1 as alert sentence
//! letters V, S, A, U, N); the 30 s of silence are MSC.302(87) 7.3.

use core::time::Duration;

use crate::event::{Call, Priority};
use crate::time::Timestamp;
use crate::view::{AlertState, Sounds};

/// A silenced alert sounds again after this (MSC.302(87) 7.3).
const SILENCE: Duration = Duration::from_secs(30);

/// The wake key sounds at the bunk this long.
const WAKE: Duration = Duration::from_secs(20);

/// How bad things were when somebody last answered.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Severity {
    /// Odds that the limit is passed within the call time.
    pub odds: f64,
    /// Level over limit.
    pub load: f64,
}

/// An answered call is raised again when the odds have risen by this...
const WORSE_ODDS: f64 = 0.25;
/// ...or the level has risen by this share of the limit.
const WORSE_LOAD: f64 = 0.12;

impl Severity {
    /// Whether this is worse than `before` by the set step.
    pub fn is_worse_than(self, before: Severity) -> bool {
        self.odds >= before.odds + WORSE_ODDS || self.load >= before.load + WORSE_LOAD
    }
}

/// What a change in an alert's life was, for the event log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// Nothing to tell.
    Quiet,
    /// A call was raised, fell or was raised again.
    Told,
}

/// An alert's life. One stands at a time: one situation, one alert.
#[derive(Clone, Copy, Debug)]
pub struct Life {
    last_id: u32,
    id: u32,
    call: Call,
    state: AlertState,
    revision: u32,
    escalation: u8,
    changed: Timestamp,
    since: Timestamp,
    /// When it last became unacknowledged.
    sounding_since: Timestamp,
    silenced_until: Timestamp,
    bunk_until: Timestamp,
    answered: Severity,
    /// The answered call that stood before the data were lost, if one did,
    /// and how bad things were when it was answered.
    before_blind: Option<(Call, Severity)>,
    bunk_after: Duration,
}

impl Life {
    /// No alert; the bunk sounder is called `bunk_after` unanswered.
    pub fn new(bunk_after: Duration, now: Timestamp) -> Self {
        Life {
            last_id: 0,
            id: 0,
            call: Call::None,
            state: AlertState::Normal,
            revision: 0,
            escalation: 0,
            changed: now,
            since: now,
            sounding_since: now,
            silenced_until: now,
            bunk_until: now,
            answered: Severity::default(),
            before_blind: None,
            bunk_after,
        }
    }

    /// Takes the call that stands now, and how bad it is.
    pub fn update(&mut self, call: Call, severity: Severity, now: Timestamp) -> Turn {
        let turn = if call != self.call {
            self.turn_to(call, now);
            Turn::Told
        } else if self.state == AlertState::Acknowledged
            && call.is_threat()
            && severity.is_worse_than(self.answered)
        {
            self.answered = severity;
            self.become_state(AlertState::Unacknowledged, now);
            Turn::Told
        } else {
            Turn::Quiet
        };
        if self.state == AlertState::Silenced && now >= self.silenced_until {
            self.become_state(AlertState::Unacknowledged, now);
        }
        self.escalate(now);
        turn
    }

    /// A person answers. Says whether there was anything to answer.
    pub fn acknowledge(&mut self, severity: Severity, now: Timestamp) -> Turn {
        match self.state {
            AlertState::Unacknowledged | AlertState::Silenced => {
                self.answered = severity;
                self.become_state(AlertState::Acknowledged, now);
                Turn::Told
            }
            AlertState::RectifiedUnacknowledged => {
                self.end(now);
                Turn::Told
            }
            AlertState::Normal | AlertState::Acknowledged => Turn::Quiet,
        }
    }

    /// A person stills the sound for a moment.
    pub fn silence(&mut self, now: Timestamp) {
        if self.state == AlertState::Unacknowledged {
            self.silenced_until = now.after(SILENCE);
            self.become_state(AlertState::Silenced, now);
        }
    }

    /// Sounds the standing call again: a put-off has run out.
    pub fn raise_again(&mut self, now: Timestamp) -> Turn {
        if self.call.priority().is_some() && self.state == AlertState::Acknowledged {
            self.become_state(AlertState::Unacknowledged, now);
            Turn::Told
        } else {
            Turn::Quiet
        }
    }

    /// Takes the standing call as answered without a person: it is being
    /// seen to, or nobody could answer it yet.
    pub fn still(&mut self, severity: Severity, now: Timestamp) {
        if self.is_unanswered() {
            self.answered = severity;
            self.become_state(AlertState::Acknowledged, now);
        }
    }

    /// Calls the hands below now, whatever stands.
    pub fn call_the_bunk(&mut self, now: Timestamp) {
        self.bunk_until = now.after(WAKE);
    }

    /// The call that stands, blindness included.
    pub fn call(&self) -> Call {
        self.call
    }

    /// Whether it stands and nobody has answered.
    pub fn is_unanswered(&self) -> bool {
        matches!(
            self.state,
            AlertState::Unacknowledged | AlertState::Silenced
        )
    }

    /// Since when it stands.
    pub fn since(&self) -> Timestamp {
        self.since
    }

    /// How bad things were when somebody last answered.
    pub fn answered(&self) -> Severity {
        self.answered
    }

    /// What should sound where.
    pub fn sounds(&self, now: Timestamp) -> Sounds {
        let woken = (now < self.bunk_until).then_some(Priority::Warning);
        if self.state != AlertState::Unacknowledged {
            return Sounds {
                cockpit: None,
                bunk: woken,
            };
        }
        let cockpit = self.call.priority();
        Sounds {
            cockpit,
            bunk: if self.escalation > 0 { cockpit } else { woken },
        }
    }

    /// When [`Life::update`] has something to do though nothing is heard.
    pub fn next_deadline(&self) -> Option<Timestamp> {
        match self.state {
            AlertState::Silenced => Some(self.silenced_until),
            AlertState::Unacknowledged if self.escalation == 0 => {
                Some(self.sounding_since.after(self.bunk_after))
            }
            _ => None,
        }
    }

    /// Stays for the alert's life; 0 for none.
    pub fn id(&self) -> u32 {
        self.id
    }

    /// Where the alert stands.
    pub fn state(&self) -> AlertState {
        self.state
    }

    /// Goes up at each change of state.
    pub fn revision(&self) -> u32 {
        self.revision
    }

    /// Goes up each time the alert goes on to somebody else.
    pub fn escalation(&self) -> u8 {
        self.escalation
    }

    /// When the state last changed.
    pub fn changed(&self) -> Timestamp {
        self.changed
    }

    fn turn_to(&mut self, call: Call, now: Timestamp) {
        let before = self.call;
        self.call = call;
        self.since = now;
        match (before.priority(), call.priority()) {
            (None, None) => {}
            (Some(_), None) => self.rectify(now),
            (None, Some(_)) => self.begin(now),
            // Blindness is another situation than wind: another alert.
            (Some(_), Some(_)) if before.is_threat() && !call.is_threat() => {
                let answered = self.state == AlertState::Acknowledged;
                self.before_blind = answered.then_some((before, self.answered));
                self.begin(now);
            }
            (Some(_), Some(_)) if before.is_threat() != call.is_threat() => {
                self.begin(now);
                // What was answered before the data were lost is answered.
                if let Some((was, answered)) = self.before_blind.take()
                    && call <= was
                {
                    self.answered = answered;
                    self.become_state(AlertState::Acknowledged, now);
                }
            }
            (Some(_), Some(_)) if call > before => {
                self.become_state(AlertState::Unacknowledged, now);
            }
            // Better than it was: whoever answered the worse has answered it.
            (Some(_), Some(_)) => {
                self.revision += 1;
                self.changed = now;
            }
        }
    }

    fn begin(&mut self, now: Timestamp) {
        self.last_id += 1;
        self.id = self.last_id;
        self.revision = 0;
        self.escalation = 0;
        self.answered = Severity::default();
        self.become_state(AlertState::Unacknowledged, now);
    }

    fn rectify(&mut self, now: Timestamp) {
        match self.state {
            AlertState::Unacknowledged | AlertState::Silenced => {
                self.become_state(AlertState::RectifiedUnacknowledged, now);
            }
            _ => self.end(now),
        }
    }

    fn end(&mut self, now: Timestamp) {
        self.become_state(AlertState::Normal, now);
        self.id = 0;
        self.escalation = 0;
    }

    fn become_state(&mut self, state: AlertState, now: Timestamp) {
        self.state = state;
        self.revision += 1;
        self.changed = now;
        if state == AlertState::Unacknowledged {
            self.sounding_since = now;
            self.escalation = 0;
        }
    }

    fn escalate(&mut self, now: Timestamp) {
        let unanswered = self.state == AlertState::Unacknowledged
            && now.since(self.sounding_since) >= self.bunk_after;
        // An alarm wakes the off watch at once: hands are needed on deck.
        let alarm = self.state == AlertState::Unacknowledged
            && self.call.priority() == Some(Priority::Alarm);
        if self.escalation == 0 && (unanswered || alarm) {
            self.escalation = 1;
            self.revision += 1;
            self.changed = now;
        }
    }
}

impl Call {
    /// Whether it tells of wind or heel, not of missing data.
    pub const fn is_threat(self) -> bool {
        matches!(self, Call::Prepare | Call::Reduce | Call::Past)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: u64) -> Timestamp {
        Timestamp::from_secs(seconds)
    }

    fn life() -> Life {
        Life::new(Duration::from_secs(30), at(0))
    }

    fn bad(odds: f64) -> Severity {
        Severity { odds, load: 0.8 }
    }

    #[test]
    fn an_unanswered_warning_goes_on_to_the_bunk() {
        let mut life = life();
        life.update(Call::Prepare, bad(0.4), at(10));
        assert_eq!(life.sounds(at(10)).cockpit, Some(Priority::Warning));
        assert_eq!(life.sounds(at(10)).bunk, None);
        life.update(Call::Prepare, bad(0.4), at(40));
        assert_eq!(life.sounds(at(40)).bunk, Some(Priority::Warning));
    }

    #[test]
    fn acknowledging_stills_the_sound_and_keeps_the_call() {
        let mut life = life();
        life.update(Call::Prepare, bad(0.4), at(10));
        assert_eq!(life.acknowledge(bad(0.4), at(12)), Turn::Told);
        assert_eq!(life.sounds(at(500)), Sounds::default());
        assert_eq!(life.state(), AlertState::Acknowledged);
        assert_eq!(life.acknowledge(bad(0.4), at(13)), Turn::Quiet);
    }

    #[test]
    fn a_worse_call_and_a_set_worsening_sound_again() {
        let mut life = life();
        life.update(Call::Prepare, bad(0.4), at(10));
        life.acknowledge(bad(0.4), at(12));
        assert_eq!(life.update(Call::Prepare, bad(0.6), at(60)), Turn::Quiet);
        assert_eq!(life.update(Call::Prepare, bad(0.66), at(61)), Turn::Told);
        assert_eq!(life.state(), AlertState::Unacknowledged);
        life.acknowledge(bad(0.66), at(70));
        let id = life.id();
        life.update(Call::Reduce, bad(0.7), at(80));
        assert_eq!(life.state(), AlertState::Unacknowledged);
        assert_eq!(life.sounds(at(500)).cockpit, Some(Priority::Alarm));
        assert_eq!(life.id(), id, "one situation, one alert");
    }

    #[test]
    fn an_unanswered_call_that_is_over_is_shown_until_answered() {
        let mut life = life();
        life.update(Call::Prepare, bad(0.4), at(10));
        life.update(Call::None, bad(0.0), at(400));
        assert_eq!(life.state(), AlertState::RectifiedUnacknowledged);
        assert_eq!(life.sounds(at(500)), Sounds::default());
        life.acknowledge(bad(0.0), at(410));
        assert_eq!(life.state(), AlertState::Normal);
        assert_eq!(life.id(), 0);
    }

    #[test]
    fn silence_lasts_half_a_minute() {
        let mut life = life();
        life.update(Call::Reduce, bad(0.9), at(10));
        life.silence(at(11));
        life.update(Call::Reduce, bad(0.9), at(40));
        assert_eq!(life.sounds(at(500)), Sounds::default());
        life.update(Call::Reduce, bad(0.9), at(41));
        assert_eq!(life.sounds(at(500)).cockpit, Some(Priority::Alarm));
    }

    #[test]
    fn what_was_answered_before_the_data_were_lost_is_answered() {
        let mut life = life();
        life.update(Call::Prepare, bad(0.4), at(10));
        life.acknowledge(bad(0.4), at(12));
        life.update(Call::Blind, bad(0.0), at(20));
        assert_eq!(life.state(), AlertState::Unacknowledged);
        life.update(Call::Prepare, bad(0.4), at(40));
        assert_eq!(life.state(), AlertState::Acknowledged);
        life.update(Call::Blind, bad(0.0), at(50));
        life.update(Call::Reduce, bad(0.4), at(60));
        assert_eq!(life.state(), AlertState::Unacknowledged, "worse is not");
    }

    #[test]
    fn blindness_is_an_alert_of_its_own() {
        let mut life = life();
        life.update(Call::Prepare, bad(0.4), at(10));
        let wind = life.id();
        life.update(Call::Blind, bad(0.0), at(20));
        assert_ne!(life.id(), wind);
    }

    #[test]
    fn the_wake_key_calls_the_bunk_though_nothing_stands() {
        let mut life = life();
        life.call_the_bunk(at(10));
        assert_eq!(life.sounds(at(11)).bunk, Some(Priority::Warning));
        assert_eq!(life.sounds(at(11)).cockpit, None);
        assert_eq!(life.sounds(at(30)).bunk, None);
    }
}
