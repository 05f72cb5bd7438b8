//! All that the core knows and a screen may show, as one plain struct.
//!
//! A number that is not known, or is too old to trust, is `None`: there is no
//! way to show stale data by accident.

use heapless::Vec;

use crate::act::{Condition, Doing, Hands, Helm, NotNow, PointOfSail, Question, Sea};
use crate::event::{Call, Cause, Hint, Priority};
use crate::fault::Fault;
use crate::instruments::Confirmation;
pub use crate::ladder::AtOnceView;
use crate::ladder::{ItemId, MAX_ITEMS, MAX_PLANS, PlanId, RiggedId};
use crate::moment::{Conditions, Turning, Work};
use crate::picture::AppliedCorrections;
use crate::reading::{Quantity, SourceId};
pub use crate::sense::health::{Doubt, DoubtPhase};
use crate::stats::squall::Squall;
use crate::text::{Name, Text};
use crate::time::Timestamp;

/// Minutes in the trend that a view carries: the last three hours.
pub const TREND_MINUTES: usize = 180;

/// The picture of one moment.
#[derive(Clone, Debug)]
pub struct View {
    /// The moment.
    pub now: Timestamp,
    /// Unix milliseconds, if UTC is known.
    pub unix_ms: Option<i64>,
    /// Another time that a clock tells, and that is not followed yet.
    pub other_unix_ms: Option<i64>,
    /// The boat's name.
    pub boat: Name,
    /// What she is said to be doing.
    pub doing: Doing,
    /// The call and its minutes.
    pub call: CallView,
    /// What should sound.
    pub sounds: Sounds,
    /// What the crew is asked; two keys answer.
    pub question: Option<Question>,
    /// The same as a sentence.
    pub question_words: Text<96>,
    /// Seconds until whoever answered at the bunk is on deck; fewer than none
    /// once that time is over.
    pub muster_left_s: Option<f64>,
    /// Plans for the picture of the ladder, most sail first.
    pub ladder: Vec<RungView, MAX_PLANS>,
    /// The plan believed set.
    pub plan: PlanView,
    /// The plan called for, or that would be called for next.
    pub next: Option<PlanId>,
    /// Why that one, of all that could be taken.
    pub next_because: Text<96>,
    /// Hands that have to be called from below for it.
    pub to_call: u8,
    /// A change that is being made.
    pub manoeuvre: Option<Manoeuvre>,
    /// A call that was put off.
    pub not_now: Option<PutOff>,
    /// When a squall that was seen is due.
    pub squall_due: Option<Timestamp>,
    /// The wind that it is thought to bring, knots.
    pub squall_kn: Option<f64>,
    /// Wind.
    pub wind: WindView,
    /// The corrections applied between the sensors and the wind above, each
    /// with its size just now, in the order in which they are made. One whose
    /// sensor is silent is not applied and not listed.
    pub corrections_applied: AppliedCorrections,
    /// Heel and motion.
    pub heel: HeelView,
    /// Speed and heading.
    pub motion: MotionView,
    /// Wild values of heel, log and compass that were kept out.
    pub spikes: SpikeView,
    /// Pressure.
    pub pressure: PressureView,
    /// Set-up items that the next change needs or may need.
    pub setup: Vec<SetupView, MAX_ITEMS>,
    /// Items that stand in the way of a change.
    pub rigged: Vec<RiggedView, 8>,
    /// Who is there.
    pub people: PeopleView,
    /// The skipper's forecast.
    pub forecast: ForecastView,
    /// Silent words beside the call.
    pub hints: Vec<Hint, 8>,
    /// The hours ahead, and the last good moment among them.
    pub moment: MomentView,
    /// What is wrong with the data.
    pub faults: Vec<Fault, 16>,
    /// What each quantity is taken from.
    pub sources: Vec<SourceView, { Quantity::COUNT }>,
    /// One-minute means of the last hours, oldest first.
    pub trend: Vec<TrendMinute, TREND_MINUTES>,
    /// Whether the skipper has vouched for the limits.
    pub limits_confirmed: Confirmation,
    /// Whether the fitter has vouched for the wind unit.
    pub wind_confirmed: Confirmation,
}

/// The call.
#[derive(Clone, Debug)]
pub struct CallView {
    /// Which.
    pub call: Call,
    /// Whether a person has answered it.
    pub alert: AlertState,
    /// Stays for the alert's life; 0 for none.
    pub id: u32,
    /// Goes up at each change of the alert's state.
    pub revision: u32,
    /// Goes up each time it is escalated.
    pub escalation: u8,
    /// When it last changed state.
    pub changed: Timestamp,
    /// Since when it stands.
    pub since: Timestamp,
    /// What brought it.
    pub cause: Option<Cause>,
    /// In one line.
    pub why: Text<96>,
    /// The number on the screen: time to the limit less the change alone.
    pub minutes_in_hand: MinutesInHand,
    /// Whether those minutes run down by a clock, or wander with the wind.
    pub pace: Pace,
    /// Time to the limit at the odds of the setting, seconds; none where that
    /// is not known or is beyond the outlook.
    pub soonest_s: Option<f64>,
    /// Those odds: that it is sooner.
    pub promise: Option<f64>,
    /// When the limit was passed, while it is past.
    pub passed_at: Option<Timestamp>,
    /// What can be done at once, where that is the order: the change no longer
    /// fits, or there is none.
    pub at_once: Option<AtOnceView>,
    /// How far a call that hovers is prepared.
    pub preparation: Preparation,
    /// Time to the limit less the call time, seconds.
    pub slack_s: Option<f64>,
    /// What has to be done and how long it takes.
    pub call_time: Option<CallTime>,
    /// Odds that the limit is passed within the call time.
    pub odds: Option<f64>,
    /// Odds by horizon, for the second page: 10, 20, 30, 45, 60, 90 minutes.
    pub odds_ahead: Option<[f64; 6]>,
    /// Age of the outlook where it is kept though the wind is lost, seconds.
    pub outlook_age_s: Option<f64>,
}

/// An alert's state, in the terms of bridge alert management.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AlertState {
    /// No alert.
    #[default]
    Normal,
    /// Stands and nobody has answered.
    Unacknowledged,
    /// Stands, stilled for 30 s.
    Silenced,
    /// Stands and somebody has answered.
    Acknowledged,
    /// Over, but nobody has answered yet.
    RectifiedUnacknowledged,
}

/// Minutes in hand: never a computed number beyond the outlook.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MinutesInHand {
    /// So many; negative when the change no longer fits.
    Minutes(f64),
    /// More than the outlook's 90.
    Beyond,
    /// Cannot be told.
    Unknown,
}

/// Whether the next change could begin without more ado.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Preparation {
    /// Hands are to be called, or set-up is open.
    Open,
    /// Hands on deck, set-up done.
    Ready,
}

/// What moves the minutes in hand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pace {
    /// The wind: they wander, and are shown in steps.
    #[default]
    Wind,
    /// A clock: a squall or a forecast that was entered.
    Clock,
}

/// The parts of the call time, in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CallTime {
    /// Calling the off watch, dressing, clipping on.
    pub muster_s: f64,
    /// Set-up that is still open, and what stands in the way.
    pub setup_s: f64,
    /// The change itself.
    pub change_s: f64,
    /// One standard deviation of the whole.
    pub spread_s: f64,
}

impl CallTime {
    /// The whole, in seconds.
    pub fn total_s(&self) -> f64 {
        self.muster_s + self.setup_s + self.change_s
    }
}

/// What should sound where.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sounds {
    /// In the cockpit.
    pub cockpit: Option<Priority>,
    /// At the bunk.
    pub bunk: Option<Priority>,
}

/// One rung of the ladder's picture.
#[derive(Clone, Debug, PartialEq)]
pub struct RungView {
    /// Which.
    pub id: PlanId,
    /// Its short name.
    pub short: Text<10>,
    /// Its name.
    pub name: Name,
    /// Its limit on the present point of sail, by mean (or gust where only
    /// that judges); none for the last.
    pub limit_kn: Option<f64>,
}

/// The plan believed set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanView {
    /// Which.
    pub id: PlanId,
    /// When a person last said so; none since a cold start.
    pub confirmed: Option<Timestamp>,
}

/// A change that is being made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Manoeuvre {
    /// To which plan.
    pub to: PlanId,
    /// When it began.
    pub since: Timestamp,
    /// Seconds booked for it.
    pub booked_s: f64,
    /// Whether a limit was crossed meanwhile.
    pub worst: Call,
}

/// A call that was put off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PutOff {
    /// Until when.
    pub until: Timestamp,
    /// Why.
    pub because: NotNow,
}

/// Wind.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WindView {
    /// Something speaks against the masthead unit. What the doubted sensor
    /// gives is then `None`, and so are means, gust and all that is made of
    /// them; what is still there is to be marked, never drawn as good.
    pub doubt: Option<Doubt>,
    /// AWA, smoothed and corrected, degrees, starboard positive.
    pub awa_deg: Option<f64>,
    /// AWS, smoothed and corrected.
    pub aws_kn: Option<f64>,
    /// TWA over water, degrees, starboard positive.
    pub twa_deg: Option<f64>,
    /// TWS over water at the masthead, smoothed.
    pub tws_kn: Option<f64>,
    /// TWD by true north.
    pub twd_deg: Option<f64>,
    /// TWD by magnetic north, where no variation is known.
    pub twd_magnetic_deg: Option<f64>,
    /// Standard deviation of the direction over 10 minutes.
    pub twd_deviation_deg: Option<f64>,
    /// Wind over the ground: speed.
    pub ground_kn: Option<f64>,
    /// Wind over the ground: direction.
    pub ground_deg: Option<f64>,
    /// TWS at 10 m.
    pub tws_10m_kn: Option<f64>,
    /// 1-minute mean TWS.
    pub mean_1min_kn: Option<f64>,
    /// 1-minute mean TWS by another unit, where the two differ and neither is
    /// preferred; `mean_1min_kn` is then that of the one in use. Which of both
    /// a limit is held against: [`crate::sense::health::apart`].
    pub other_mean_kn: Option<f64>,
    /// 2-minute mean TWS.
    pub mean_2min_kn: Option<f64>,
    /// 10-minute mean TWS.
    pub mean_10min_kn: Option<f64>,
    /// Greatest 3-second mean of the last 10 minutes.
    pub gust_kn: Option<f64>,
    /// One standard deviation of what that gust may be wrong by, knots: the
    /// unit's scale, its damping where the boat file gives it (the gust then
    /// reads low), and a mast whose motion is not undone (it then reads high).
    /// There whenever the gust and the 10-minute mean are.
    pub gust_spread_kn: Option<f64>,
    /// Standard deviation over 10 minutes.
    pub deviation_kn: Option<f64>,
    /// 10-minute gust over 10-minute mean.
    pub gust_factor: Option<f64>,
    /// Deviation over mean.
    pub turbulence: Option<f64>,
    /// Trend, knots an hour.
    pub trend_kn_h: Option<f64>,
    /// One standard deviation of the trend.
    pub trend_spread_kn_h: Option<f64>,
    /// Veer (+) or back (-) over the last hour, degrees.
    pub veer_deg_h: Option<f64>,
    /// One standard deviation of what the 1-minute mean may be wrong by,
    /// knots either way; there whenever that mean is.
    pub uncertainty_kn: Option<f64>,
    /// A squall, or an onset that may be one.
    pub squall: Squall,
    /// Samples dropped as spikes since the start.
    pub gated: u32,
    /// Beaufort force of the 10-minute mean at 10 m.
    pub beaufort: Option<u8>,
    /// Where it meets the boat.
    pub point: Option<PointOfSail>,
    /// Where the 1-minute mean is likely to be at the end of the call time:
    /// 1 in 10 below, middle, 1 in 10 above.
    pub likely_kn: Option<[f64; 3]>,
    /// Apparent wind on coming up to a close reach with this plan.
    pub round_up_kn: Option<f64>,
    /// Wind entered by hand, and when.
    pub by_hand: Option<(f64, Timestamp)>,
}

/// The skipper's forecast, held against what is measured.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ForecastView {
    /// Whether it is used.
    pub standing: ForecastStanding,
    /// How it has done so far, in plain words; empty where there is none.
    pub words: Text<64>,
    /// What it says of now as it stands, at the masthead over water.
    pub told_kn: Option<f64>,
    /// How far it has been off so far.
    pub error: Option<ForecastError>,
    /// How much it counts, 0 to 1.
    pub weight: Option<f64>,
}

/// Whether the forecast is used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ForecastStanding {
    /// None was entered.
    #[default]
    None,
    /// UTC is not known, so it cannot be held against anything.
    NoUtc,
    /// It is used.
    Used,
    /// Its last row is past.
    Over,
}

/// The error of a forecast: the weather against what was told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ForecastError {
    /// Hours by which the weather is later (+) or earlier (-) than told.
    pub late_h: f64,
    /// One standard deviation of that.
    pub late_spread_h: f64,
    /// Knots by which it is stronger (+) or weaker (-) than told.
    pub over_kn: f64,
    /// One standard deviation of that.
    pub over_spread_kn: f64,
}

/// Heel and motion.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HeelView {
    /// Smoothed, starboard down positive, degrees.
    pub now_deg: Option<f64>,
    /// Steady: 1-minute mean.
    pub mean_deg: Option<f64>,
    /// Half the width of the roll band.
    pub roll_deg: Option<f64>,
    /// Share of the last 10 minutes past the plan's limit.
    pub share_past: Option<f64>,
    /// The plan's limit.
    pub limit_deg: Option<f64>,
    /// Heel by AWS squared, degrees per kn^2.
    pub stiffness: Option<f64>,
    /// Pitch, bow up positive.
    pub pitch_deg: Option<f64>,
    /// Heel on coming up to a close reach with this plan.
    pub round_up_deg: Option<f64>,
}

/// Speed and heading.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MotionView {
    /// STW.
    pub stw_kn: Option<f64>,
    /// SOG.
    pub sog_kn: Option<f64>,
    /// COG by true north.
    pub cog_deg: Option<f64>,
    /// HDG by true north.
    pub heading_deg: Option<f64>,
    /// Leeway, degrees, to starboard positive.
    pub leeway_deg: Option<f64>,
    /// Rudder, starboard positive.
    pub rudder_deg: Option<f64>,
    /// Depth, shown, not judged.
    pub depth_m: Option<f64>,
}

/// Wild values that were never heard, since the start: a `Spikes` fault stands
/// for a minute after each. Those of the wind are in [`WindView::gated`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SpikeView {
    /// Of heel.
    pub heel: u32,
    /// Of pitch.
    pub pitch: u32,
    /// Of the log.
    pub stw: u32,
    /// Of all compasses.
    pub heading: u32,
}

/// Pressure.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PressureView {
    /// Now.
    pub hpa: Option<f64>,
    /// Change over 3 h.
    pub tendency_hpa_3h: Option<f64>,
    /// Characteristic of the tendency, WMO code table 0200.
    pub wmo_code: Option<u8>,
}

/// A set-up item.
#[derive(Clone, Debug, PartialEq)]
pub struct SetupView {
    /// Which.
    pub id: ItemId,
    /// Its name.
    pub name: Name,
    /// Whether it is ready.
    pub ready: crate::act::Readiness,
    /// Whether the next reduction needs it.
    pub wanted: Wanted,
    /// Minutes that it takes off the call time when ready.
    pub buys_min: f64,
    /// Whether these hands can make the change at all while it is open.
    pub opens: Opens,
}

/// What an open item stands in the way of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Opens {
    /// It costs time.
    #[default]
    Time,
    /// The change cannot be made while it is open.
    TheChange,
}

/// Whether the next reduction needs an item.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// The next reduction needs it.
    Now,
    /// A later one may.
    Later,
}

/// An item that stands in the way of a change.
#[derive(Clone, Debug, PartialEq)]
pub struct RiggedView {
    /// Which.
    pub id: RiggedId,
    /// Its name.
    pub name: Name,
    /// Whether it is up.
    pub rigging: crate::act::Rigging,
}

/// Who is there and what they meet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PeopleView {
    /// Hands.
    pub hands: Hands,
    /// Fit or worn out.
    pub condition: Condition,
    /// Who steers.
    pub helm: Helm,
    /// The sea reckoned with.
    pub sea: Sea,
    /// Day or night.
    pub light: Light,
}

/// Day or night, by civil twilight.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Light {
    /// Civil twilight or lighter.
    Day,
    /// Darker.
    Night,
    /// Position or UTC is not known; reckoned as night.
    #[default]
    Unknown,
}

/// What a quantity is taken from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SourceView {
    /// Which quantity.
    pub quantity: Quantity,
    /// From which source.
    pub source: SourceId,
    /// Age of the newest reading.
    pub age_s: f64,
    /// Measured period.
    pub period_s: Option<f64>,
    /// Whether it still is trusted.
    pub live: Liveness,
}

/// Whether a source is still trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Liveness {
    /// Fresh and valid.
    Live,
    /// Too old, or the sensor says invalid.
    Dead,
}

/// Most moments that are shown.
pub const MAX_MOMENTS: usize = 8;

/// The hours ahead, as the comparison sees them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MomentView {
    /// The hint in two lines; empty where there is none.
    pub lines: [Text<48>; 2],
    /// Now and each later moment at which the work is another, the soonest.
    pub rows: Vec<MomentRow, MAX_MOMENTS>,
    /// Whether the crew keeps a watch bill.
    pub watch_bill: WatchBillKept,
}

/// Whether there is a watch bill whose changes can be pressed for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum WatchBillKept {
    /// No.
    #[default]
    No,
    /// Yes.
    Kept,
}

/// One moment, and the next reduction made from then on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MomentRow {
    /// Seconds from now.
    pub in_s: f64,
    /// What changes then; none for now.
    pub begun_by: Option<Turning>,
    /// Hands and daylight from then on.
    pub conditions: Conditions,
    /// What it takes.
    pub work: Work,
    /// Odds that the reduction is wanted before the next moment.
    pub odds_by_end: f64,
}

/// One minute of the trend.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TrendMinute {
    /// Mean TWS; NaN never: none where the minute was not measured.
    pub mean_kn: Option<f32>,
    /// Greatest 3-second gust.
    pub gust_kn: Option<f32>,
    /// Limit in force.
    pub limit_kn: Option<f32>,
    /// Call that stood at its end.
    pub call: Call,
}

impl View {
    /// A view in which nothing is known yet.
    pub fn blank(now: Timestamp) -> View {
        View {
            now,
            unix_ms: None,
            other_unix_ms: None,
            boat: Name::new(),
            doing: Doing::Sailing,
            call: CallView::blank(now),
            sounds: Sounds::default(),
            question: None,
            question_words: Text::new(),
            muster_left_s: None,
            ladder: Vec::new(),
            plan: PlanView {
                id: PlanId(0),
                confirmed: None,
            },
            next: None,
            next_because: Text::new(),
            to_call: 0,
            manoeuvre: None,
            not_now: None,
            squall_due: None,
            squall_kn: None,
            wind: WindView::default(),
            corrections_applied: AppliedCorrections::new(),
            heel: HeelView::default(),
            motion: MotionView::default(),
            spikes: SpikeView::default(),
            pressure: PressureView::default(),
            setup: Vec::new(),
            rigged: Vec::new(),
            people: PeopleView {
                hands: Hands {
                    on_deck: 0,
                    below: 0,
                },
                condition: Condition::Fresh,
                helm: Helm::Pilot,
                sea: Sea::Slight,
                light: Light::Unknown,
            },
            forecast: ForecastView::default(),
            hints: Vec::new(),
            moment: MomentView::default(),
            faults: Vec::new(),
            sources: Vec::new(),
            trend: Vec::new(),
            limits_confirmed: Confirmation::Unconfirmed,
            wind_confirmed: Confirmation::Unconfirmed,
        }
    }
}

impl CallView {
    /// No call, nothing known.
    pub fn blank(now: Timestamp) -> CallView {
        CallView {
            call: Call::None,
            alert: AlertState::Normal,
            id: 0,
            revision: 0,
            escalation: 0,
            changed: now,
            since: now,
            cause: None,
            why: Text::new(),
            minutes_in_hand: MinutesInHand::Unknown,
            pace: Pace::Wind,
            soonest_s: None,
            promise: None,
            passed_at: None,
            at_once: None,
            preparation: Preparation::Open,
            slack_s: None,
            call_time: None,
            odds: None,
            odds_ahead: None,
            outlook_age_s: None,
        }
    }
}
