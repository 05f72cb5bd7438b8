//! The way through, whoever calls: lines, acts and time go in, readings go to
//! the core, events come out.
//!
//! Nothing here looks at a clock or a port, so the same inputs at the same
//! times give the same events, whoever calls.

use std::time::Duration;

use cringle_core::act::Act;
use cringle_core::boat::Boat;
use cringle_core::event::Event;
use cringle_core::forecast::Table;
use cringle_core::reading::Reading;
use cringle_core::time::{Timestamp, UtcFix, UtcQuality};
use cringle_core::view::{AlertState, View};
use cringle_core::watch::{Saved, Watch};
use cringle_wire::alert::{Acn, AlertIn, AlertName, Command};
use cringle_wire::decode::{Decoder, Out, Trust};
use cringle_wire::tally::Tally;

use crate::PortId;
use crate::input::Input;

/// Our one alert's identifier in ALF and ACN; a maker's own begin at 10000.
pub const ALERT_ID: u32 = 10_101;

/// The same in ALR and ACK, where there are three digits.
pub const ALARM_NUMBER: u16 = 101;

/// A silence so long ends a run, and what comes after it begins another, as
/// after a restart. Nothing that the core has under way outlives it (the wind
/// that was heard is of no more use, a squall seen and a put-off are over),
/// and where nothing was heard for a quarter of a day, not even that time goes
/// on, nobody was listening. Aboard and in recordings of our own time goes on
/// every ten seconds, so what was silent there is lived through.
const RUN_ENDS_AFTER: Duration = Duration::from_secs(6 * 3600);
/// So much of such a silence is lived through all the same: a wind that is
/// lost is shown at once, sounds after 30 s and goes on to those below.
const STILL_LIVED: Duration = Duration::from_secs(600);

/// Decoders and the core.
pub struct Engine {
    boat: Boat,
    watch: Box<Watch>,
    /// The newest moment that it has seen.
    now: Timestamp,
    decoders: Vec<Decoder>,
    events: Vec<Event>,
    refused: Vec<Acn>,
    runs_ended: u32,
    heard: u64,
}

impl Engine {
    /// Begins at `now` with what the boat file says, and with what was saved
    /// before a restart.
    pub fn new(
        boat: &Boat,
        decoders: Vec<Decoder>,
        saved: Option<&Saved>,
        now: Timestamp,
    ) -> Engine {
        Engine {
            boat: boat.clone(),
            watch: Box::new(Watch::new(boat, saved, now)),
            now,
            runs_ended: 0,
            decoders,
            events: Vec::new(),
            refused: Vec::new(),
            heard: 0,
        }
    }

    /// Takes any input.
    pub fn take(&mut self, at: Timestamp, input: &Input) {
        match input {
            Input::Line(port, line) => self.line(*port, line, at),
            Input::Reading(reading) => self.reading(reading, at),
            Input::Act(act) => self.act(*act, at),
            Input::Utc(fix) => self.utc(*fix),
            Input::Forecast(table) => self.forecast((**table).clone(), at),
            Input::State(saved) => self.begin_with(saved, at),
            Input::Tick => self.tick(at),
        }
    }

    /// Takes one line as a port cut it.
    pub fn line(&mut self, port: PortId, line: &[u8], at: Timestamp) {
        self.line_told(port, line, at, |_| {});
    }

    /// The same, and tells what the line said as well.
    pub fn line_told(
        &mut self,
        port: PortId,
        line: &[u8],
        at: Timestamp,
        mut tell: impl FnMut(&Out<'_>),
    ) {
        self.run_to(at);
        let Some(decoder) = self.decoders.get_mut(usize::from(port.0)) else {
            return;
        };
        let watch = &mut self.watch;
        let heard = &mut self.heard;
        let mut commands = Vec::new();
        let mut fix = None;
        decoder.decode(line, at, &mut |out| {
            tell(&out);
            match out {
                Out::Reading(reading) => {
                    *heard += 1;
                    watch.hear(&reading, at);
                }
                Out::Utc {
                    unix_ms,
                    trust: Trust::Valid,
                } => fix = Some(unix_ms),
                Out::Alert(alert) => commands.push(alert.clone()),
                Out::Utc { .. } | Out::Tag(_) | Out::Unknown { .. } | Out::Refused { .. } => {}
            }
        });
        if let Some(unix_ms) = fix {
            let quality = UtcQuality::Gnss;
            let fix = UtcFix {
                unix_ms,
                at,
                quality,
            };
            self.watch.set_utc(fix, at);
        }
        for command in &commands {
            self.alert(command, at);
        }
        self.fetch();
    }

    /// Takes a quantity that needs no decoding.
    pub fn reading(&mut self, reading: &Reading, at: Timestamp) {
        self.run_to(at);
        self.heard += 1;
        self.watch.hear(reading, at);
        self.fetch();
    }

    /// Takes an act of the crew.
    pub fn act(&mut self, act: Act, at: Timestamp) {
        self.run_to(at);
        self.watch.press(act, at);
        self.fetch();
    }

    /// Takes another forecast of the skipper, or none any more.
    pub fn forecast(&mut self, table: Option<Table>, at: Timestamp) {
        self.run_to(at);
        self.watch.set_forecast(table, at);
        self.fetch();
    }

    /// Takes a moment of UTC.
    pub fn utc(&mut self, fix: UtcFix) {
        self.run_to(fix.at);
        self.watch.set_utc(fix, fix.at);
        self.fetch();
    }

    /// Lets time go on.
    pub fn tick(&mut self, now: Timestamp) {
        self.run_to(now);
        self.watch.tick(now);
        self.fetch();
    }

    /// When [`Engine::tick`] is due if nothing is heard before.
    pub fn next_deadline(&self) -> Option<Timestamp> {
        self.watch.next_deadline()
    }

    /// Events since the last call, oldest first.
    pub fn events(&mut self) -> Vec<Event> {
        std::mem::take(&mut self.events)
    }

    /// Runs that a long silence has ended.
    pub fn runs_ended(&self) -> u32 {
        self.runs_ended
    }

    /// The silence before a moment, where it is so long that it ends the run.
    pub fn ends_run(&self, at: Timestamp) -> Option<Duration> {
        let silent = at.since(self.now);
        (silent >= RUN_ENDS_AFTER).then_some(silent)
    }

    /// Alert commands since the last call that could not be obeyed.
    pub fn refused(&mut self) -> Vec<Acn> {
        std::mem::take(&mut self.refused)
    }

    /// The picture of this moment.
    pub fn view(&self) -> View {
        self.watch.view()
    }

    /// All that outlives a restart.
    pub fn saved(&self) -> Saved {
        self.watch.saved()
    }

    /// Readings heard since the start.
    pub fn heard(&self) -> u64 {
        self.heard
    }

    /// Unix milliseconds at `now`, if UTC is known.
    pub fn unix_ms(&self, now: Timestamp) -> Option<i64> {
        self.utc_fix().map(|fix| fix.unix_ms_at(now))
    }

    /// The fix in use: the core alone chooses among them.
    pub fn utc_fix(&self) -> Option<UtcFix> {
        self.watch.utc_fix()
    }

    /// What a port's lines were counted as.
    pub fn tally(&self, port: PortId) -> Tally {
        match self.decoders.get(usize::from(port.0)) {
            Some(decoder) => decoder.tally(),
            None => Tally::default(),
        }
    }

    /// Runs the deadlines before `at` one by one and fetches after each, so
    /// that a long silence cannot overflow the core's own store of events.
    fn run_to(&mut self, at: Timestamp) {
        if let Some(silent) = self.ends_run(at) {
            self.end_run(silent, at);
        }
        self.run_deadlines(at);
        self.now = self.now.max(at);
    }

    /// What the crew has said is kept, and which time it is.
    fn end_run(&mut self, silent: Duration, at: Timestamp) {
        self.run_deadlines(self.now.after(STILL_LIVED));
        let saved = self.watch.saved().aged(silent);
        let fix = self.watch.utc_fix();
        self.begin_with(&saved, at);
        if let Some(fix) = fix {
            self.watch.set_utc(fix, at);
        }
        self.runs_ended += 1;
        tracing::warn!(
            "nothing was heard for {}: the run ends, and another begins as after a restart",
            span_in_words(silent)
        );
    }

    fn run_deadlines(&mut self, at: Timestamp) {
        let mut before = None;
        while let Some(deadline) = self.watch.next_deadline() {
            // One that does not move on is the core's own to run.
            if deadline >= at || before == Some(deadline) {
                break;
            }
            before = Some(deadline);
            self.watch.tick(deadline);
            self.fetch();
        }
    }

    /// Begins anew as after a restart; decoders and events stay.
    fn begin_with(&mut self, saved: &Saved, now: Timestamp) {
        self.fetch();
        *self.watch = Watch::new(&self.boat, Some(saved), now);
        self.now = now;
    }

    /// What a bridge says to our alert. Other devices' alerts are not ours.
    fn alert(&mut self, alert: &AlertIn, at: Timestamp) {
        match alert {
            AlertIn::Acknowledge(ack) if ack.number == ALARM_NUMBER => {
                self.watch.press(Act::Acknowledge, at);
            }
            AlertIn::Command(command) if is_ours(&command.name) => self.command(command, at),
            AlertIn::Acknowledge(_)
            | AlertIn::Command(_)
            | AlertIn::Heartbeat(_)
            | AlertIn::Alarm(_)
            | AlertIn::Alert(_)
            | AlertIn::List(_)
            | AlertIn::Refused(_) => {}
        }
    }

    fn command(&mut self, command: &Acn, at: Timestamp) {
        let call = self.watch.view().call;
        let stands = call.alert != AlertState::Normal
            && command.name.instance.is_none_or(|it| it == call.id);
        match command.command {
            Command::Acknowledge if stands => self.watch.press(Act::Acknowledge, at),
            Command::Silence if stands => self.watch.press(Act::Silence, at),
            // Each is repeated in the list anyway.
            Command::Repeat => {}
            Command::Acknowledge | Command::TakeOver | Command::Silence => {
                self.refused.push(command.clone());
            }
        }
    }

    fn fetch(&mut self) {
        while let Some(event) = self.watch.next_event() {
            self.events.push(event);
        }
    }
}

/// "60 d 3 h".
fn span_in_words(span: Duration) -> String {
    let hours = span.as_secs() / 3600;
    match hours / 24 {
        0 => format!("{hours} h"),
        days => format!("{days} d {} h", hours % 24),
    }
}

/// Whether an alert is this instrument's.
fn is_ours(name: &AlertName) -> bool {
    name.maker.is_empty() && name.id == ALERT_ID
}
