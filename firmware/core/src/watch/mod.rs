//! The one type that owns all of the core.
//!
//! In: readings, acts of the crew, UTC fixes, and time. Out: events, and a
//! [`View`] whenever one is asked for. Live, replay and simulation differ
//! only in who calls and where `now` comes from.
//!
//! Judgement falls on whole seconds of [`Timestamp`], and on each act, so
//! that extra ticks never change an event and a recording of readings and
//! acts replays to the same ones.

mod acts;
mod answers;
mod bunk;
mod circumstances;
mod deck;
mod doubts;
mod dusk;
mod forecast;
mod hints;
mod judge;
mod limits;
mod lit;
mod moment;
mod point;
mod questions;
mod show;
mod tell;
mod utc;
mod weighed;

#[cfg(test)]
mod asked;
#[cfg(test)]
mod faults;
#[cfg(test)]
mod moment_tests;
#[cfg(test)]
mod regressions;
#[cfg(test)]
mod steps;
#[cfg(test)]
mod tests;

use core::time::Duration;

use heapless::Deque;

pub use crate::call::standing::SavedCall;
pub use deck::{Met, Saved, SavedChange, SavedForecast, SavedSquall, TooOld};

use crate::act::Act;
use crate::ahead::{Ahead, HandAhead};
use crate::boat::Boat;
use crate::call::alert::Ids;
use crate::call::blind::Blindness;
use crate::call::standing::Standing;
use crate::event::{Event, EventKind};
use crate::picture::Picture;
use crate::reading::Reading;
use crate::time::{Timestamp, UtcFix};
use crate::view::{TREND_MINUTES, TrendMinute, View};
use bunk::Bunk;
use deck::Deck;
use doubts::{DoingDoubt, PlanDoubt};
use dusk::DuskHere;
use forecast::ForecastThreat;
use hints::Hinted;
use judge::{Assessment, Measured};
use lit::Lit;
use point::HeldPoint;
use questions::Questions;
use utc::HeldUtc;
use weighed::LastGoodMoment;

/// Most events that wait to be fetched; the oldest goes first.
pub const MAX_EVENTS: usize = 32;

/// Time ends here, short of where a millisecond more could wrap.
const END: Timestamp = Timestamp::from_millis(u64::MAX / 4);

/// See the module.
pub struct Watch {
    boat: Boat,
    picture: Picture,
    wind_ahead: Ahead,
    /// The outlook of a wind read off by hand.
    hand_ahead: HandAhead,
    heel_ahead: Ahead,
    deck: Deck,
    bunk: Bunk,
    questions: Questions,
    standing: Standing,
    blindness: Blindness,
    ids: Ids,
    forecast: ForecastThreat,
    measured: Measured,
    point: HeldPoint,
    /// Mean trim, bow down positive.
    trim_deg: Option<f64>,
    assessment: Assessment,
    /// Whether the call needed no sound at the last judgement.
    was_handled: bool,
    hinted: Hinted,
    moment: LastGoodMoment,
    plan_doubt: PlanDoubt,
    doing_doubt: DoingDoubt,
    dusk: DuskHere,
    lit: Lit,
    trend: Deque<TrendMinute, TREND_MINUTES>,
    utc: HeldUtc,
    now: Timestamp,
    next_second: Timestamp,
    next_summary: Timestamp,
    events: Deque<Event, MAX_EVENTS>,
    seq: u64,
}

impl Watch {
    /// A watch that starts at `now` and knows what the boat file says and
    /// what was saved before the power went, if anything was.
    pub fn new(boat: &Boat, saved: Option<&Saved>, now: Timestamp) -> Self {
        let now = now.min(END);
        let deck = match saved {
            Some(saved) => Deck::restored(boat, saved, now),
            None => Deck::new(boat),
        };
        let mut picture = Picture::new(&boat.instruments);
        let plan = usize::from(deck.plan.id.0);
        picture.restore_learnt_heel(saved.map_or_else(Default::default, |s| s.heel), plan);
        let calling = &boat.calling;
        let least = Duration::from_secs(u64::from(calling.least_standing_s));
        let bunk_after = Duration::from_secs(u64::from(calling.bunk_after_s));
        let mut standing = Standing::new(least, bunk_after, now);
        let call = saved.and_then(|saved| saved.call);
        if let Some(call) = call.as_ref().filter(|_| deck.restored.call.is_none()) {
            standing.restore(call, now);
        }
        Watch {
            picture,
            wind_ahead: Ahead::new(),
            hand_ahead: HandAhead::default(),
            heel_ahead: Ahead::new(),
            standing,
            blindness: Blindness::none(now),
            ids: Ids::after(call.map_or(0, |call| call.id)),
            forecast: ForecastThreat::started(boat, saved),
            measured: Measured::default(),
            point: HeldPoint::default(),
            trim_deg: None,
            assessment: Assessment::default(),
            bunk: Bunk::Quiet,
            questions: Questions::default(),
            was_handled: false,
            hinted: Hinted::default(),
            moment: LastGoodMoment::default(),
            plan_doubt: PlanDoubt::default(),
            doing_doubt: DoingDoubt::default(),
            dusk: DuskHere::default(),
            lit: Lit::default(),
            trend: Deque::new(),
            utc: HeldUtc::default(),
            now,
            next_second: second_after(now),
            next_summary: now.after(tell::SUMMARY_EVERY),
            events: Deque::new(),
            seq: 0,
            deck,
            boat: boat.clone(),
        }
    }

    /// Takes one reading, after the deadlines that were due before it.
    pub fn hear(&mut self, reading: &Reading, now: Timestamp) {
        self.tick(now);
        self.picture.hear(reading, self.now);
    }

    /// Takes one act of the crew, and judges at once.
    pub fn press(&mut self, act: Act, now: Timestamp) {
        self.tick(now);
        self.take_act(act);
        self.assess();
    }

    /// Takes a moment of UTC; a worse one does not replace a better one, and
    /// one that jumps is told and not followed until it is confirmed.
    pub fn set_utc(&mut self, fix: UtcFix, now: Timestamp) {
        self.tick(now);
        if let Some((turn, jump)) = self.utc.take(fix, self.now) {
            self.tell(EventKind::Clock(turn, jump));
        }
    }

    /// Does what is due by `now`, second by second: after a long silence begin
    /// another watch. Extra ticks never change an event.
    pub fn tick(&mut self, now: Timestamp) {
        let now = now.min(END);
        while self.next_second <= now {
            self.now = self.next_second;
            self.next_second = second_after(self.now);
            self.picture.tick(self.now);
            self.look_for_dusk();
            self.take_trim();
            self.take_minutes();
            self.look_for_light();
            self.assess();
        }
        self.now = self.now.max(now);
    }

    /// When to call [`Watch::tick`] if nothing is heard before.
    pub fn next_deadline(&self) -> Option<Timestamp> {
        Some(self.next_second)
    }

    /// The oldest event not fetched yet.
    pub fn next_event(&mut self) -> Option<Event> {
        self.events.pop_front()
    }

    /// The picture of this moment.
    pub fn view(&self) -> View {
        self.show()
    }

    /// What is worth keeping when the power fails.
    pub fn saved(&self) -> Saved {
        let deck = self.deck.saved(self.now);
        Saved {
            forecast: self.forecast.saved(),
            heel: self.picture.learnt_heel(),
            call: self.standing.saved().or(deck.call),
            ..deck
        }
    }

    /// The moment of UTC in use.
    pub fn utc_fix(&self) -> Option<UtcFix> {
        self.utc.fix()
    }

    fn bunk_after(&self) -> Duration {
        Duration::from_secs(u64::from(self.boat.calling.bunk_after_s))
    }

    /// Unix milliseconds now, if UTC is known.
    pub fn unix_ms(&self) -> Option<i64> {
        self.utc.fix().map(|fix| fix.unix_ms_at(self.now))
    }
}

/// The next whole second after a moment.
fn second_after(moment: Timestamp) -> Timestamp {
    Timestamp::from_secs(moment.as_millis() / 1000 + 1)
}
