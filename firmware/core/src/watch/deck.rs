//! What the crew has said: the plan set, what is ready, who is there.

use core::time::Duration;

use heapless::Vec;

use crate::act::{Condition, Doing, Hands, Helm, NotNow, Readiness, Rigging, Sea};
use crate::boat::Boat;
use crate::call::standing::SavedCall;
use crate::event::Call;
use crate::forecast::Table;
use crate::instruments::Confirmation;
use crate::ladder::{Ladder, MAX_ITEMS, MAX_RIGGED, PlanId, Standing};
use crate::sense::health::sail::LearntHeel;
use crate::time::Timestamp;
use crate::units::Knots;
use crate::view::{Manoeuvre, PlanView, PutOff};

/// A squall that was seen keeps calling this long after it was due.
const SQUALL_KEEPS: Duration = Duration::from_secs(30 * 60);

/// A squall may be here so long before it was due.
const SQUALL_EARLY: Duration = Duration::from_secs(10 * 60);
/// Its wind has gone once it has stayed under this share of the limit...
const GONE_SHARE: f64 = 0.8;
/// ...for so long: a squall seldom has a second blow after ten minutes (common
/// practice, no source); one of them is in the mean.
const GONE_AFTER: Duration = Duration::from_secs(9 * 60);
/// Who is on deck is known for so long without power: by then whoever was
/// called for it has come up. Common practice, no source.
const HANDS_ARE_KNOWN: Duration = Duration::from_secs(30 * 60);

/// See the module.
#[derive(Clone, Debug)]
pub(crate) struct Deck {
    pub(crate) plan: PlanView,
    pub(crate) readiness: Vec<Readiness, MAX_ITEMS>,
    pub(crate) rigging: Vec<Rigging, MAX_RIGGED>,
    pub(crate) hands: Hands,
    pub(crate) condition: Condition,
    pub(crate) helm: Helm,
    pub(crate) doing: Doing,
    pub(crate) sea: Option<Sea>,
    pub(crate) limits: Confirmation,
    pub(crate) wind: Confirmation,
    pub(crate) manoeuvre: Option<Manoeuvre>,
    /// The call that stood when it was begun.
    pub(crate) begun_at: Call,
    pub(crate) not_now: Option<PutOff>,
    pub(crate) squall: Option<Squall>,
    pub(crate) dark_declined_day: Option<i64>,
    /// What was saved and is too old to be believed.
    pub(crate) restored: Restored,
}

/// A squall that was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Squall {
    /// When it is likely to be here.
    pub(crate) due: Timestamp,
    /// The wind that it is thought to bring.
    pub(crate) strength: Option<Knots>,
    /// Whether sail has been shortened for it.
    pub(crate) met: Met,
    /// How long it calls after it was due.
    keeps: Duration,
    /// Whether its wind has come, and since when it has gone.
    passage: Passage,
}

/// Whether it is being asked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Asking {
    #[default]
    Still,
    Aloud,
}

/// How far a squall has passed over.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Passage {
    #[default]
    Awaited,
    Here,
    Going(Timestamp),
}

/// Whether sail has been shortened for a squall.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Met {
    /// It is still to be done.
    NotYet,
    /// It has been.
    Shortened,
}

/// A squall that was seen, as it is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SavedSquall {
    /// Whole minutes until it is likely to be here; fewer than none where it
    /// was due already.
    pub due_min: i16,
    /// Whether sail has been shortened for it.
    pub met: Met,
    /// The wind that it is thought to bring, whole knots.
    pub strength_kn: Option<u16>,
}

/// A change under way, as it is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SavedChange {
    /// To which plan.
    pub to: PlanId,
    /// Whole seconds left of what was booked; 0 where it has used them up, and
    /// it is asked whether it is set.
    pub left_s: u32,
}

/// What of it is older than its own work: it is asked for by key, and not
/// believed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct TooOld {
    /// The call.
    pub call: bool,
    /// The change under way.
    pub change: bool,
    /// Who is on deck and who below.
    pub hands: bool,
}

/// What was saved and waits for the crew's word.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Restored {
    pub(crate) call: Option<SavedCall>,
    pub(crate) change: Option<SavedChange>,
    pub(crate) hands: Option<Hands>,
}

/// Which forecast was in use.
// There is nowhere to put a table but in place.
#[expect(clippy::large_enum_variant)]
#[derive(Clone, Debug, Default, PartialEq)]
pub enum SavedForecast {
    /// The boat's own, if she has one.
    #[default]
    OfTheBoat,
    /// One that was entered on the way; none if it was taken away.
    Entered(Option<Table>),
}

/// What is worth keeping when the power fails, and the start of a recording:
/// all that the crew has said that outlives a restart.
#[derive(Clone, Debug, PartialEq)]
pub struct Saved {
    /// The plan believed set.
    pub plan: PlanId,
    /// Set-up items by their place in the ladder.
    pub readiness: Vec<Readiness, MAX_ITEMS>,
    /// Items in the way by their place in the ladder.
    pub rigging: Vec<Rigging, MAX_RIGGED>,
    /// Who is there.
    pub hands: Hands,
    /// How fit.
    pub condition: Condition,
    /// Who steers.
    pub helm: Helm,
    /// What she is doing.
    pub doing: Doing,
    /// Sea set by hand.
    pub sea: Option<Sea>,
    /// Whether the skipper has vouched for the limits.
    pub limits: Confirmation,
    /// Whether the fitter has vouched for the wind unit.
    pub wind: Confirmation,
    /// A squall in sight.
    pub squall: Option<SavedSquall>,
    /// The skipper's forecast; what was learned of it begins anew.
    pub forecast: SavedForecast,
    /// What was learnt of heel by sail plan and point of sail.
    pub heel: LearntHeel,
    /// The call that stood, with its acknowledgement.
    pub call: Option<SavedCall>,
    /// A change under way.
    pub change: Option<SavedChange>,
    /// What of this is not believed any more.
    pub too_old: TooOld,
}

impl Saved {
    /// The same so much later: a squall has come nearer, or is over.
    pub fn aged(mut self, span: Duration) -> Saved {
        let off_s = u32::try_from(span.as_secs()).unwrap_or(u32::MAX);
        let old = &mut self.too_old;
        old.call |= self.call.is_some_and(|call| off_s > call.work_s);
        old.change |= self.change.is_some_and(|change| off_s > change.left_s);
        old.hands |= span > HANDS_ARE_KNOWN;
        self.change = self.change.map(|change| SavedChange {
            left_s: change.left_s.saturating_sub(off_s),
            ..change
        });
        let minutes = i64::try_from(span.as_secs().div_ceil(60)).unwrap_or(i64::MAX);
        self.squall = self.squall.and_then(|squall| {
            let due_min = i64::from(squall.due_min).saturating_sub(minutes);
            let keeps_min = (SQUALL_KEEPS.as_secs() / 60) as i64;
            let due_min = i16::try_from(due_min).ok()?;
            (i64::from(due_min) > -keeps_min).then_some(SavedSquall { due_min, ..squall })
        });
        self
    }
}

impl Squall {
    fn saved(self, now: Timestamp) -> SavedSquall {
        // Rather a minute early than late.
        let ahead = self.due.millis_since(now) / 60_000;
        let over = now.millis_since(self.due).div_ceil(60_000);
        let minutes = |millis: u64| i16::try_from(millis).unwrap_or(i16::MAX);
        SavedSquall {
            due_min: minutes(ahead) - minutes(over),
            met: self.met,
            strength_kn: self.strength.map(|kn| kn.get() as u16),
        }
    }

    /// Whether nothing is left to do for it under a plan of this limit: it
    /// stands what is thought to come; where nobody can tell what does, or
    /// where the plan has no limit, that sail has been shortened.
    pub(crate) fn is_met(&self, limit_kn: Option<f64>) -> bool {
        match self.strength.zip(limit_kn) {
            Some((kn, limit)) => limit >= kn.get(),
            None => self.met == Met::Shortened,
        }
    }

    /// Time begins anew with a watch: what was due before it did is due then,
    /// and keeps calling for what is left.
    fn restored(saved: SavedSquall, now: Timestamp) -> Option<Self> {
        let span = |minutes: i16| Duration::from_secs(u64::from(minutes.unsigned_abs()) * 60);
        let (due, keeps) = match saved.due_min {
            ahead @ 0.. => (now.after(span(ahead)), SQUALL_KEEPS),
            over => (now, SQUALL_KEEPS.checked_sub(span(over))?),
        };
        let strength = saved.strength_kn.map(f64::from);
        Some(Squall {
            due,
            strength: strength.and_then(|kn| Knots::new(kn).ok()),
            met: saved.met,
            keeps,
            passage: Passage::Awaited,
        })
    }
}

impl Deck {
    /// What the boat file assumes at a cold start.
    pub(crate) fn new(boat: &Boat) -> Self {
        Deck {
            plan: PlanView {
                id: boat.start.plan,
                confirmed: None,
            },
            readiness: at_rest(&boat.ladder),
            rigging: boat
                .ladder
                .rigged
                .iter()
                .map(|_| Rigging::Cleared)
                .collect(),
            hands: boat.start.hands,
            condition: Condition::Fresh,
            helm: boat.start.helm,
            doing: boat.start.doing,
            sea: None,
            limits: boat.calling.limits,
            wind: boat.instruments.wind_confirmed,
            manoeuvre: None,
            begun_at: Call::None,
            not_now: None,
            squall: None,
            dark_declined_day: None,
            restored: Restored::default(),
        }
    }

    /// What was saved, on top of what the boat file assumes. A saved part
    /// that does not fit this boat is left out.
    pub(crate) fn restored(boat: &Boat, saved: &Saved, now: Timestamp) -> Self {
        let mut deck = Deck::new(boat);
        if boat.ladder.plan(saved.plan).is_some() {
            deck.plan.id = saved.plan;
        }
        for (now, was) in deck.readiness.iter_mut().zip(&saved.readiness) {
            *now = *was;
        }
        for (now, was) in deck.rigging.iter_mut().zip(&saved.rigging) {
            *now = *was;
        }
        deck.hands = saved.hands;
        let old = saved.too_old;
        if old.hands {
            deck.restored.hands = Some(saved.hands);
            deck.hands = fewest_on_deck(saved.hands);
        }
        deck.restored.call = saved.call.filter(|_| old.call);
        deck.condition = saved.condition;
        deck.helm = saved.helm;
        deck.doing = saved.doing;
        deck.sea = saved.sea;
        let is_known = |change: &SavedChange| boat.ladder.plan(change.to).is_some();
        let change = saved.change.filter(is_known);
        deck.restored.change = change.filter(|_| old.change);
        deck.manoeuvre = change.filter(|_| !old.change).map(|change| Manoeuvre {
            to: change.to,
            since: now,
            booked_s: f64::from(change.left_s),
            worst: saved.call.map_or(Call::None, |call| call.call),
        });
        deck.begun_at = saved.call.map_or(Call::None, |call| call.call);
        deck.squall = saved.squall.and_then(|it| Squall::restored(it, now));
        if saved.limits == Confirmation::Confirmed {
            deck.limits = Confirmation::Confirmed;
        }
        if saved.wind == Confirmation::Confirmed {
            deck.wind = Confirmation::Confirmed;
        }
        deck
    }

    /// All that outlives a restart, but for the forecast.
    pub(crate) fn saved(&self, now: Timestamp) -> Saved {
        let change = self.manoeuvre.map(|it| SavedChange {
            to: it.to,
            left_s: (it.booked_s - now.secs_since(it.since)).max(0.0) as u32,
        });
        Saved {
            plan: self.plan.id,
            readiness: self.readiness.clone(),
            rigging: self.rigging.clone(),
            hands: self.restored.hands.unwrap_or(self.hands),
            condition: self.condition,
            helm: self.helm,
            doing: self.doing,
            sea: self.sea,
            limits: self.limits,
            wind: self.wind,
            squall: self.squall.map(|squall| squall.saved(now)),
            forecast: SavedForecast::OfTheBoat,
            heel: LearntHeel::default(),
            call: self.restored.call,
            change: self.restored.change.or(change),
            too_old: TooOld {
                call: self.restored.call.is_some(),
                change: self.restored.change.is_some(),
                hands: self.restored.hands.is_some(),
            },
        }
    }

    /// A squall is in sight, so many minutes away; none any more at 0.
    pub(crate) fn see_squall(&mut self, minutes: u8, strength: Option<Knots>, now: Timestamp) {
        self.squall = (minutes > 0).then(|| Squall {
            due: now.after(Duration::from_secs(u64::from(minutes) * 60)),
            strength,
            met: Met::NotYet,
            keeps: SQUALL_KEEPS,
            passage: Passage::Awaited,
        });
    }

    /// Takes the wind over the plan's limit: a squall that has come and gone
    /// is over.
    pub(crate) fn note_wind(&mut self, load: Option<f64>, now: Timestamp) {
        let (Some(squall), Some(load)) = (&mut self.squall, load) else {
            return;
        };
        let is_due = now.after(SQUALL_EARLY) >= squall.due;
        squall.passage = match squall.passage {
            Passage::Awaited if is_due && load >= 1.0 => Passage::Here,
            Passage::Here if load < GONE_SHARE => Passage::Going(now),
            Passage::Going(_) if load >= GONE_SHARE => Passage::Here,
            passage => passage,
        };
        if let Passage::Going(since) = squall.passage
            && now.since(since) >= GONE_AFTER
        {
            self.squall = None;
        }
    }

    /// A plan is set: it ends a begun change, and what a change used up has
    /// to be made ready again.
    pub(crate) fn set_plan(&mut self, ladder: &Ladder, plan: PlanId, now: Timestamp) {
        let before = self.plan.id;
        if let Some(change) = ladder.change(before, plan) {
            for item in &change.setup {
                let standing = ladder.item(*item).map(|item| item.standing);
                if standing == Some(Standing::WhenNeeded)
                    && let Some(ready) = self.readiness.get_mut(item.0 as usize)
                {
                    *ready = Readiness::Open;
                }
            }
        }
        self.plan = PlanView {
            id: plan,
            confirmed: Some(now),
        };
        self.manoeuvre = None;
        self.restored.change = None;
        self.restored.call = None;
        self.not_now = None;
        if let Some(squall) = &mut self.squall {
            if plan > before {
                squall.met = Met::Shortened;
            } else if now < squall.due {
                // Sail was made again before it came.
                squall.met = Met::NotYet;
            }
        }
    }

    /// Drops what time has ended.
    pub(crate) fn expire(&mut self, now: Timestamp) {
        if self
            .squall
            .is_some_and(|squall| now >= squall.due.after(squall.keeps))
        {
            self.squall = None;
        }
        if self.not_now.is_some_and(|put_off| now >= put_off.until) {
            self.not_now = None;
        }
    }

    /// Puts a call off, 20 to 60 minutes.
    pub(crate) fn put_off(&mut self, minutes: u8, because: NotNow, now: Timestamp) {
        let minutes = u64::from(minutes.clamp(20, 60));
        self.not_now = Some(PutOff {
            until: now.after(Duration::from_secs(minutes * 60)),
            because,
        });
    }
}

/// The most cautious that these people can be reckoned with.
fn fewest_on_deck(hands: Hands) -> Hands {
    let on_deck = hands.on_deck.min(1);
    Hands {
        on_deck,
        below: hands.below.saturating_add(hands.on_deck - on_deck),
    }
}

fn at_rest(ladder: &Ladder) -> Vec<Readiness, MAX_ITEMS> {
    ladder
        .setup
        .iter()
        .map(|item| match item.standing {
            Standing::Permanent => Readiness::Ready,
            Standing::WhenNeeded => Readiness::Open,
        })
        .collect()
}
