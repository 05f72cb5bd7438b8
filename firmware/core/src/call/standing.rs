//! The standing call: the one machine that owns word, cause, figure, target
//! and acknowledgement from raising to rest.
//!
//! ```text
//!          soonest <= work, or the lead     soonest <= change,
//!          before `reduce`                  or at the limit
//!   None ------------------------> Prepare ------------------> Reduce
//!    ^ ^  <-- wind over, quiet, ----  ^  <-- eased, held a ----  | ^
//!    | |      clock run out           |      lull                | | eased
//!    | +------------------------------+--------------------------+ |
//!    |                                    limit passed           v |
//!    +----- plan entered, crew's word, not under sail --------- Past
//! ```
//!
//! Up at once, with a sound where it is worse than what was acknowledged; down
//! after a held lull, silently. While nothing can be judged it waits: a gap
//! costs neither id nor acknowledgement.

use core::time::Duration;

use heapless::Vec;

use super::Since;
use super::alert::{Alert, Ids};
use super::blind::Turn;
use super::soonest::Soonest;
use super::target::{Order, Target};
use super::threat::{Against, Demand, LET_GO_AT_MOST_S, Sums, Threat};
use crate::event::Call;
use crate::ladder::PlanId;
use crate::time::Timestamp;
use crate::view::{AlertState, AtOnceView, Preparation};

/// Most threats at a time: mean, gust, door, heel, trim, onset, squall,
/// forecast.
pub const MAX_THREATS: usize = 8;

/// A lower demand must last this long before a call falls.
const LULL: Duration = Duration::from_secs(180);
/// A call stays this long after the wind was last over a limit: it hovers, and
/// a call each time would be a dozen (ocean minutes: 2.7 calls a crossing so).
const LINGERS: Duration = Duration::from_secs(1800);
/// The wind has gone once it has stayed under this share of all limits...
const QUIET_SHARE: f64 = 0.8;
/// ...for so long: a 1-minute mean knows it up to a minute later, and ten
/// minutes after the wind the call is to be over.
const QUIET: Duration = Duration::from_secs(510);
/// ...and the outlook has the limit so many times further off than what raises
/// a call: where the work is long, a steady wind under that share calls too, and
/// must not come and go about the edge...
const QUIET_TIMES: f64 = 1.5;
/// ...but once it is under this share of the most that it was under this call,
/// it has eased, whatever the outlook says, and that alone does not call again
/// until the wind is back.
const EASED_SHARE: f64 = 0.75;
/// A call by what is not judged any more is kept for so long.
const KEPT_UNSEEN: Duration = Duration::from_secs(1800);
/// An acknowledged call sounds again when a level has risen by this share of
/// its limit.
const WORSE_LOAD: f64 = 0.12;
/// A change no longer fits when so many seconds of it are missing, and fits
/// again when there are so many to spare: the figures are told in minutes.
const TOO_LATE_S: f64 = 60.0;
/// A call that is ready and hovers asks once after so long.
const READY_ASKS: Duration = Duration::from_secs(1800);
/// Of like threats the one that leads goes on leading, unless another is
/// sooner by so many seconds.
const LEADS_BY_S: f64 = 120.0;

/// What can be judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judgeability {
    /// Wind, with an outlook on what comes.
    Full,
    /// Wind as it is now; what comes is not known yet, or not any more.
    NoOutlook,
    /// No wind: heel and what the crew entered at most.
    NoWind,
}

/// The figures of one moment.
#[derive(Clone, Debug)]
pub struct Moment {
    /// What is threatened.
    pub threats: Vec<Threat, MAX_THREATS>,
    /// What the hands need for the change.
    pub sums: Sums,
    /// What can be judged.
    pub judged: Judgeability,
    /// The plan that the change leads to.
    pub target: Option<PlanId>,
    /// Whether these hands can make it.
    pub way: Way,
    /// What would unload her at once.
    pub at_once: Option<AtOnceView>,
    /// How far the crew has prepared it.
    pub preparation: Preparation,
}

/// Whether there is a change that these hands can make now.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Way {
    /// There is.
    #[default]
    Open,
    /// It is being made.
    UnderWay,
    /// There is none: nothing is left to take in, or it is too much for them.
    None,
}

/// What somebody acknowledged.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Acknowledged {
    call: Call,
    load: f64,
}

/// A call as it is kept over a restart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SavedCall {
    /// The word.
    pub call: Call,
    /// The alert's id.
    pub id: u32,
    /// Whether somebody had acknowledged it.
    pub acknowledged: bool,
    /// The plan it orders.
    pub target: Option<PlanId>,
    /// Whole seconds that were left at the soonest.
    pub soonest_s: u32,
    /// Whole seconds after which it is not believed any more: its work.
    pub work_s: u32,
}

/// See the module.
#[derive(Clone, Debug)]
pub struct Standing {
    call: Call,
    since: Timestamp,
    lead: Option<Threat>,
    soonest: Soonest,
    clock_s: Option<f64>,
    sums: Sums,
    target: Target,
    /// What is to be done at once, where that is the order.
    at_once: Option<AtOnceView>,
    alert: Alert,
    acknowledged: Option<Acknowledged>,
    lower: Option<(Timestamp, Call)>,
    over_at: Option<Timestamp>,
    passed_at: Option<Timestamp>,
    /// Highest level over its limit while this call stands.
    peak: f64,
    judged_at: Timestamp,
    quiet: Since,
    /// Since when a call has been over because the wind had eased: the outlook
    /// alone raises none.
    eased_at: Option<Timestamp>,
    ready: Since,
    has_asked: bool,
    least: Duration,
    bunk_after: Duration,
}

impl Standing {
    /// No call. One that is raised stands at least `least`; unacknowledged it
    /// goes on to the bunk after `bunk_after`.
    pub fn new(least: Duration, bunk_after: Duration, now: Timestamp) -> Self {
        Standing {
            call: Call::None,
            since: now,
            lead: None,
            soonest: Soonest::default(),
            clock_s: None,
            sums: Sums::default(),
            target: Target::default(),
            at_once: None,
            alert: Alert::none(now),
            acknowledged: None,
            lower: None,
            over_at: None,
            passed_at: None,
            peak: 0.0,
            judged_at: now,
            quiet: Since::default(),
            eased_at: None,
            ready: Since::default(),
            has_asked: false,
            least,
            bunk_after,
        }
    }

    /// Takes the call that stood before a restart.
    pub fn restore(&mut self, saved: &SavedCall, now: Timestamp) {
        let state = match saved.acknowledged {
            true => AlertState::Acknowledged,
            false => AlertState::Unacknowledged,
        };
        self.call = saved.call;
        self.since = now;
        self.alert = Alert::restored(saved.id, state, now);
        self.soonest.snap(Some(f64::from(saved.soonest_s)), now);
        self.target.begin(saved.target);
        if saved.acknowledged {
            self.take_as_acknowledged();
        }
    }

    /// As it is kept over a restart; none where none stands.
    pub fn saved(&self) -> Option<SavedCall> {
        self.call.is_threat().then_some(SavedCall {
            call: self.call,
            id: self.alert.id,
            acknowledged: self.alert.state == AlertState::Acknowledged,
            target: self.target.plan(),
            // Upwards: a second less could ask for the next word.
            soonest_s: libm::ceil(self.soonest_s().unwrap_or(0.0)) as u32,
            work_s: self.sums.work_s.clamp(0.0, 86_400.0) as u32,
        })
    }

    /// Takes the figures of a moment.
    pub fn update(&mut self, moment: &Moment, ids: &mut Ids, now: Timestamp) -> Turn {
        self.sums = moment.sums;
        self.track_levels(moment, now);
        let moment = &self.as_eased(moment);
        let before = (self.call, self.alert.id);
        let led_by_forecast = self.is_led_by_forecast();
        let led = self.lead.map(|lead| lead.against);
        let demand = self.take_figures(moment, now);
        let mut turn = Turn::Quiet;
        // What was acknowledged while only a forecast called is no answer to
        // the wind.
        if led_by_forecast && self.calls_itself() && self.alert.sound_again(now) {
            turn = Turn::Turned;
        }
        if demand.raise_to > self.call {
            self.rise(demand.raise_to, moment.target, ids, now);
        } else {
            self.fall(demand, moment, led, now);
        }
        if self.order_at_once(moment, now) {
            turn = Turn::Turned;
        }
        if self.call.is_threat() && self.is_worse(now) {
            turn = Turn::Turned;
        }
        self.track_ready(moment, now);
        if (self.call, self.alert.id) != before {
            turn = Turn::Turned;
        }
        self.alert.tick(self.call.priority(), self.bunk_after, now);
        turn
    }

    /// What these figures would ask for, if they were those of now; changes
    /// nothing.
    pub fn demand(&self, threats: &[Threat], sums: &Sums) -> Demand {
        Demand::of(threats, self.soonest_s(), sums)
    }

    fn take_figures(&mut self, moment: &Moment, now: Timestamp) -> Demand {
        let threats = &moment.threats;
        self.lead_by(threats);
        self.clock_s = soonest_of(threats, |it| it == Against::Squall);
        let is_wind = |it: Against| it != Against::Squall;
        let raw = soonest_of(threats, is_wind);
        if moment.judged == Judgeability::Full || raw.is_some() {
            self.judged_at = now;
            self.soonest.follow(raw, now);
            // Steps must not hold back a call.
            let raised = Demand::of(threats, raw, &moment.sums).raise_to;
            if raised > self.call && raised > moment.sums.call_for(self.soonest_s()) {
                self.soonest.snap(raw, now);
            }
        } else if self.call.is_threat() && now.since(self.judged_at) < KEPT_UNSEEN {
            self.soonest.wait(now);
        } else {
            self.soonest.forget();
        }
        Demand::of(threats, self.soonest_s(), &moment.sums)
    }

    fn track_levels(&mut self, moment: &Moment, now: Timestamp) {
        let most = most_load(moment);
        if most >= 1.0 {
            self.over_at = Some(now);
        }
        self.peak = self.peak.max(most);
        self.quiet.track(
            moment.judged != Judgeability::NoWind && most < QUIET_SHARE,
            now,
        );
        let has_eased = most < self.peak * EASED_SHARE && self.quiet.has_held(QUIET, now);
        if self.call.is_threat() && has_eased {
            self.eased_at = self.eased_at.or(Some(now));
        }
        let lasts = |at: &Timestamp| most < QUIET_SHARE && now.since(*at) < LINGERS;
        self.eased_at = self.eased_at.filter(lasts);
    }

    /// Whether the wind has come and gone: what the outlook alone asks for is
    /// not called until the wind is back, or half an hour has passed.
    pub const fn has_eased(&self) -> bool {
        self.eased_at.is_some()
    }

    /// The figures as they are judged: after a burst the odds of another are
    /// long in coming down, and the crew has just seen it pass.
    fn as_eased(&self, moment: &Moment) -> Moment {
        let mut moment = moment.clone();
        if self.has_eased() {
            let not_before_s = moment.sums.prepare_s() + 1.0;
            for threat in &mut moment.threats {
                threat.put_off(not_before_s);
            }
        }
        moment
    }

    /// The threat that asks for most, then the soonest; of like ones the one
    /// that led before.
    fn lead_by(&mut self, threats: &[Threat]) {
        let sums = self.sums;
        let key = |it: &Threat| (it.asks_for(&sums), it.soonest_s().unwrap_or(f64::INFINITY));
        let best = threats.iter().max_by(|a, b| {
            let ((call_a, s_a), (call_b, s_b)) = (key(a), key(b));
            // A forecast leads only where nothing measured calls.
            let is_measured = |it: &Threat| it.against != Against::Forecast;
            call_a
                .cmp(&call_b)
                .then(is_measured(a).cmp(&is_measured(b)))
                .then(s_b.total_cmp(&s_a))
        });
        let led = self.lead.map(|lead| lead.against);
        let same = threats.iter().find(|it| Some(it.against) == led);
        let Some(best) = best else {
            // Kept while it cannot be judged.
            return;
        };
        let stays = |same: &&Threat| {
            let ((call, s), (best_call, best_s)) = (key(same), key(best));
            call == best_call && s <= best_s + LEADS_BY_S && same.against != Against::Forecast
        };
        let is_unseen = same.is_none() && led.is_some_and(Against::needs_wind);
        if is_unseen && self.call.is_threat() && key(best).0 < self.call {
            return;
        }
        self.lead = Some(*same.filter(stays).unwrap_or(best));
    }

    fn rise(&mut self, call: Call, target: Option<PlanId>, ids: &mut Ids, now: Timestamp) {
        let was = self.call;
        self.set(call, now);
        if was == Call::None {
            self.alert.begin(ids, now);
            self.acknowledged = None;
            self.target.begin(target);
            if self
                .lead
                .is_some_and(|lead| lead.against == Against::Squall)
            {
                // By what was entered: no figure of the wind deepens it.
                self.target.freeze();
            }
            self.has_asked = false;
            self.peak = 0.0;
            return;
        }
        let is_acknowledged = self.acknowledged.is_some_and(|it| call <= it.call);
        if is_acknowledged || !self.alert.sound_again(now) {
            self.alert.revise(now);
        }
    }

    /// `led` is what led until now: a squall that is taken back leads no more.
    fn fall(&mut self, demand: Demand, moment: &Moment, led: Option<Against>, now: Timestamp) {
        let by_outlook = demand_by_outlook(moment);
        if by_outlook < self.call && self.is_over(moment, led, by_outlook, now) {
            let raw = soonest_of(&moment.threats, |it| it != Against::Squall);
            self.soonest.snap(raw, now);
            self.lower_to(by_outlook, now);
            return;
        }
        let floor = self.floor(demand, moment, now);
        if floor >= self.call {
            self.lower = None;
            return;
        }
        let (since, most) = self
            .lower
            .map_or((now, floor), |(since, most)| (since, most.max(floor)));
        self.lower = Some((since, most));
        let has_stood = now.since(self.since) >= self.least || self.call > Call::Prepare;
        if has_stood && now.since(since) >= LULL {
            // A lull is as good as its worst.
            self.lower_to(most, now);
        }
    }

    /// The least that the call may fall to.
    fn floor(&self, demand: Demand, moment: &Moment, now: Timestamp) -> Call {
        let is_unseen = moment.judged != Judgeability::Full
            && self.lead.is_none_or(|lead| lead.against.needs_wind())
            && !self.quiet.has_held(QUIET, now)
            && now.since(self.judged_at) < KEPT_UNSEEN;
        if is_unseen {
            return self.call;
        }
        let lingers = self.over_at.is_some_and(|at| now.since(at) < LINGERS)
            && !self.quiet.has_held(QUIET, now);
        match lingers && self.call.is_threat() {
            true => demand.hold_at.max(Call::Prepare),
            false => demand.hold_at,
        }
    }

    /// Whether what brought the call is over for good, so that neither lull
    /// nor lingering holds it: the clock has run out, the crew has said so, or
    /// the wind has come and gone.
    fn is_over(
        &self,
        moment: &Moment,
        led: Option<Against>,
        by_outlook: Call,
        now: Timestamp,
    ) -> bool {
        let clock_ran_out = led == Some(Against::Squall)
            && !moment
                .threats
                .iter()
                .any(|it| it.against == Against::Squall);
        let raw = soonest_of(&moment.threats, |_| true);
        let is_far = raw.is_none_or(|raw| raw > moment.sums.prepare_s() * QUIET_TIMES)
            || most_load(moment) < self.peak * EASED_SHARE;
        clock_ran_out || (by_outlook == Call::None && is_far && self.quiet.has_held(QUIET, now))
    }

    fn lower_to(&mut self, call: Call, now: Timestamp) {
        self.set(call, now);
        if call == Call::None {
            self.alert.rectify(now);
            self.rest();
        } else {
            // Whoever acknowledged the worse has acknowledged this.
            self.alert.revise(now);
        }
    }

    fn set(&mut self, call: Call, now: Timestamp) {
        match (self.call == Call::Past, call == Call::Past) {
            (false, true) => self.passed_at = Some(now),
            (true, false) => self.passed_at = None,
            _ => {}
        }
        self.call = call;
        self.since = now;
        self.lower = None;
    }

    fn rest(&mut self) {
        self.target = Target::default();
        self.at_once = None;
        self.acknowledged = None;
        self.over_at = None;
        self.peak = 0.0;
        self.ready = Since::default();
        self.lead = None;
    }

    /// Raised anew though the word is the same: a new order, or a level that
    /// has risen since it was acknowledged.
    fn is_worse(&mut self, now: Timestamp) -> bool {
        if self.target.take_order() == Order::Anew {
            self.acknowledged = self.acknowledged.map(|it| Acknowledged {
                call: Call::None,
                ..it
            });
            self.alert.sound_again(now);
            return true;
        }
        let load = self.load();
        match &mut self.acknowledged {
            Some(it) if load >= it.load + WORSE_LOAD => {
                it.load = load;
                self.alert.sound_again(now)
            }
            _ => false,
        }
    }

    /// What unloads her is the order where nothing is left to take in, and under
    /// an alarm where the change cannot be made or no longer fits. Says whether
    /// it sounds: where the change that was ordered has become impossible.
    fn order_at_once(&mut self, moment: &Moment, now: Timestamp) -> bool {
        let was_ordered = self.at_once.is_some();
        let is_alarm = self.call >= Call::Reduce;
        let is_ordered = match moment.way {
            Way::None => is_alarm || (self.call.is_threat() && moment.target.is_none()),
            Way::Open => self.call == Call::Past || (is_alarm && self.is_too_late()),
            Way::UnderWay => false,
        };
        self.at_once = moment.at_once.clone().filter(|_| is_ordered);
        let is_new = self.at_once.is_some() && !was_ordered;
        is_new && moment.way == Way::None && is_alarm && self.sound_again(now)
    }

    /// Whether less is left than the change takes.
    fn is_too_late(&self) -> bool {
        let missing_s = match self.at_once {
            Some(_) => -TOO_LATE_S,
            None => TOO_LATE_S,
        };
        let left_s = self.soonest_s();
        left_s.is_some_and(|left_s| left_s + missing_s <= self.sums.change_s)
    }

    fn track_ready(&mut self, moment: &Moment, now: Timestamp) {
        let is_ready = self.call == Call::Prepare
            && self.alert.state == AlertState::Acknowledged
            && moment.preparation == Preparation::Ready;
        self.ready.track(is_ready, now);
        self.has_asked |= self.ready.has_held(READY_ASKS, now);
    }

    /// Whether it has hovered, acknowledged and ready, so long that the crew
    /// is asked once: reduce and rest, or carry on?
    pub const fn asks_whether_to_go_on(&self) -> bool {
        self.has_asked
    }

    /// Whether soonest runs down by a clock: that of a squall which is nearer
    /// than the wind, or of a forecast that calls.
    pub fn is_by_clock(&self) -> bool {
        match self.clock_s {
            Some(clock_s) => self.soonest.get().is_none_or(|wind_s| clock_s <= wind_s),
            None => self.is_led_by_forecast(),
        }
    }

    /// A person acknowledges. Says whether there was anything.
    pub fn acknowledge(&mut self, now: Timestamp) -> bool {
        let was_there = self.alert.acknowledge(now);
        if was_there && self.call.is_threat() {
            self.take_as_acknowledged();
        }
        was_there
    }

    /// Taken as acknowledged without a person: the crew is already working on
    /// it.
    pub fn mark_handled(&mut self, now: Timestamp) {
        if self.alert.is_unacknowledged() {
            self.alert.mark_handled(now);
            self.take_as_acknowledged();
        }
    }

    /// The crew has taken the order up: the target is frozen.
    pub fn freeze_target(&mut self) {
        self.target.freeze();
    }

    /// Sounds the standing call again. Says whether it does.
    pub fn sound_again(&mut self, now: Timestamp) -> bool {
        self.call.is_threat() && self.alert.sound_again(now)
    }

    /// A person stills the sound for a moment.
    pub fn silence(&mut self, now: Timestamp) {
        self.alert.silence(now);
    }

    /// Another plan is set: it is judged by its own limits, and whoever has
    /// entered it has heard the call.
    pub fn plan_entered(&mut self, now: Timestamp) {
        self.alert.mark_handled(now);
        if self.call.is_threat() {
            self.lower_to(Call::None, now);
        }
        self.rest();
        self.soonest.forget();
    }

    /// Not under sail: nothing is judged.
    pub fn drop(&mut self, now: Timestamp) {
        self.set(Call::None, now);
        self.alert.end(now);
        self.rest();
        self.soonest.forget();
    }

    fn take_as_acknowledged(&mut self) {
        self.acknowledged = Some(Acknowledged {
            call: self.call,
            load: self.load(),
        });
        self.target.freeze();
    }

    /// Whether a call stands that only a forecast brought.
    pub fn is_led_by_forecast(&self) -> bool {
        let led = self.lead.map(|lead| lead.against);
        self.call.is_threat() && led == Some(Against::Forecast)
    }

    /// Whether what leads is measured, and calls by itself.
    fn calls_itself(&self) -> bool {
        let calls = |lead: Threat| lead.asks_for(&self.sums).is_threat();
        !self.is_led_by_forecast() && self.lead.is_some_and(calls)
    }

    fn load(&self) -> f64 {
        self.lead.map_or(0.0, |lead| lead.load())
    }

    /// The word.
    pub const fn call(&self) -> Call {
        self.call
    }

    /// Since when it is this word.
    pub const fn since(&self) -> Timestamp {
        self.since
    }

    /// When the limit was passed, while it is past.
    pub const fn passed_at(&self) -> Option<Timestamp> {
        self.passed_at
    }

    /// What leads.
    pub const fn lead(&self) -> Option<&Threat> {
        self.lead.as_ref()
    }

    /// Its alert.
    pub const fn alert(&self) -> &Alert {
        &self.alert
    }

    /// The plan it orders.
    pub const fn target(&self) -> &Target {
        &self.target
    }

    /// The same, to resolve it by.
    pub const fn target_mut(&mut self) -> &mut Target {
        &mut self.target
    }

    /// What is to be done at once, where that is the order.
    pub const fn at_once(&self) -> Option<&AtOnceView> {
        self.at_once.as_ref()
    }

    /// What the hands need.
    pub const fn sums(&self) -> &Sums {
        &self.sums
    }

    /// Seconds until the limit is passed at the odds of the setting; none
    /// beyond the outlook, or where nothing is known.
    pub fn soonest_s(&self) -> Option<f64> {
        // No call stands on a time without end.
        let at_most = self.call.is_threat() && self.soonest.is_known();
        let wind = self.soonest.get().or(at_most.then_some(LET_GO_AT_MOST_S));
        [wind, self.clock_s].into_iter().flatten().reduce(f64::min)
    }

    /// Whether soonest is known, though it may be beyond the outlook.
    pub fn is_soonest_known(&self) -> bool {
        self.soonest.is_known() || self.clock_s.is_some()
    }

    /// Whether it hovers with all prepared and acknowledged.
    pub fn is_ready(&self, now: Timestamp) -> bool {
        self.ready.has_held(Duration::ZERO, now)
    }
}

/// The highest level over its limit.
fn most_load(moment: &Moment) -> f64 {
    moment.threats.iter().map(Threat::load).fold(0.0, f64::max)
}

/// The soonest of some of the threats.
fn soonest_of(threats: &[Threat], which: impl Fn(Against) -> bool) -> Option<f64> {
    let times = threats.iter().filter(|it| which(it.against));
    times.filter_map(Threat::soonest_s).reduce(f64::min)
}

/// What the threats themselves ask for, apart from any step or hold.
fn demand_by_outlook(moment: &Moment) -> Call {
    let raw = soonest_of(&moment.threats, |_| true);
    Demand::of(&moment.threats, raw, &moment.sums).raise_to
}

impl Call {
    /// Whether it tells of wind or heel, not of missing data.
    pub const fn is_threat(self) -> bool {
        matches!(self, Call::Prepare | Call::Reduce | Call::Past)
    }
}
