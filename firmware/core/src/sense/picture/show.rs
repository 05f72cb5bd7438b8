//! The picture's parts as a view shows them: what is not known, or too old,
//! is `None`.

use heapless::Vec;

use crate::act::PointOfSail;
use crate::angle::wrap_360;
use crate::fault::Fault;
use crate::instruments::Confirmation;
use crate::reading::{Measure, Quantity};
use crate::sources::Slot;
use crate::stats::beaufort::force;
use crate::stats::minute::{LEAST_SHARE, roll_band};
use crate::stats::tendency::{Tendency, tendency};
use crate::stats::trend::{trend, unwrapped};
use crate::stats::{Minute, Window};
use crate::time::Timestamp;
use crate::view::{HeelView, Liveness, MotionView, PressureView, SourceView, SpikeView, WindView};
use crate::wind::gradient::to_ten_metres;
use crate::wind::round_up::{OFF_THE_WIND_TWA_DEG, heel_in, round_up_kn};
use crate::wind::{North, Vector};

use super::basis::Basis;
use super::{MOST_WAIT_MS, Picture, Trends};
use crate::units::Position;

/// The trend looks back so many minutes.
const TREND_MINUTES: usize = 60;

/// The WMO's tendency looks back so many minutes.
const TENDENCY_MINUTES: usize = 180;

/// A wind unit nobody has vouched for may read wrong by so much.
const UNVOUCHED_SHARE: f64 = 0.08;

/// One that was vouched for still may by so much. Common practice.
const VOUCHED_SHARE: f64 = 0.03;

/// A gust is told once there is half a minute that it is the greatest of.
const LEAST_GUST_SHARE: f64 = 0.05;

/// Wind of one minute follows itself: it holds about so many independent
/// values. From memory: the time scale of gusts is some ten seconds.
const INDEPENDENT_A_MINUTE: f64 = 6.0;

/// That time scale.
const GUSTS_S: f64 = 10.0;

/// Wind under this has no direction: less than the least that vanes turn to.
/// Common practice, no source.
const CALM_KN: f64 = 0.3;

/// A mast that rolls 12 degrees either way reads gusts high by 18 % (the
/// table of contributions in the tests): about two of these.
const SWUNG_SHARE: f64 = 0.08;

impl Picture {
    /// Wind.
    pub fn wind(&self, now: Timestamp) -> WindView {
        let mut view = WindView {
            gated: self.gate.dropped(),
            by_hand: self.hand_wind(now).map(|w| (w.speed.get(), w.at)),
            doubt: self.doubt(now),
            ..WindView::default()
        };
        if self.sources.live(Quantity::ApparentWind, now).is_some()
            && self.signal_is_fresh(now)
            && let Some(apparent) = self.signals.apparent.get()
        {
            view.aws_kn = Some(apparent.speed());
            view.awa_deg = direction(apparent);
        }
        if let Some(doubt) = self.struck_out(now) {
            withhold(&mut view, doubt.fault);
            return view;
        }
        if !self.wind_is_fresh(now) {
            return view;
        }
        self.show_true_wind(&mut view, now);
        self.show_means(&mut view);
        let apart = Fault::Disagree(Quantity::ApparentWind);
        if self.is_doubted(apart) && !self.is_preferred() {
            view.other_mean_kn = self.other_unit.mean_kn(now);
        }
        self.show_trend(&mut view);
        view.squall = self.squall;
        self.show_round_up(&mut view, now);
        view
    }

    /// Heel against a plan's limit.
    pub fn heel(&self, now: Timestamp, limit: Option<f64>) -> HeelView {
        let mut view = HeelView {
            limit_deg: limit,
            ..HeelView::default()
        };
        view.pitch_deg = self.pitch_deg(now);
        if self.live_heel(now).is_none() {
            return view;
        }
        view.now_deg = self.steady_heel.get().map(|steady| steady.x);
        let minute = self.seconds.window(60, 0);
        if minute.heel_share() >= LEAST_SHARE
            && let Some(heel) = minute.heel()
        {
            view.mean_deg = Some(heel.mean);
            view.roll_deg = Some(roll_band(heel.deviation));
        }
        let ten = self.seconds.window(600, 0);
        view.share_past = limit.and_then(|limit| ten.heel_share_past(limit));
        view.stiffness = self.heel_by_sail.last();
        view.round_up_deg = self.round_up_heel(now);
        view
    }

    /// Pitch, bow up positive.
    pub fn pitch_deg(&self, now: Timestamp) -> Option<f64> {
        match self.sources.live(Quantity::Pitch, now)? {
            Measure::Pitch(pitch) => Some(self.corrections.pitch(pitch)),
            _ => None,
        }
    }

    /// Speed and heading.
    pub fn motion(&self, now: Timestamp) -> MotionView {
        let mut view = MotionView {
            stw_kn: self.stw(now).filter(|_| !self.log_is_fouled()),
            ..MotionView::default()
        };
        view.leeway_deg = view.stw_kn.map(|stw| self.leeway(stw, now));
        if let Some(Measure::GroundMotion { speed, course }) =
            self.sources.live(Quantity::GroundMotion, now)
        {
            view.sog_kn = Some(speed.get());
            view.cog_deg = course.map(|course| course.degrees());
        }
        view.heading_deg = self
            .heading()
            .filter(|heading| heading.north == North::True)
            .map(|heading| heading.bearing.degrees());
        if let Some(Measure::Rudder(rudder)) = self.sources.live(Quantity::Rudder, now) {
            view.rudder_deg = Some(rudder.get());
        }
        if let Some(Measure::Depth(depth)) = self.sources.live(Quantity::Depth, now) {
            view.depth_m = Some(depth.get());
        }
        view
    }

    /// Wild values that were never heard, since the start.
    pub fn spikes(&self) -> SpikeView {
        let count = |quantity| self.spikes.count(quantity);
        SpikeView {
            heel: count(Quantity::Heel),
            pitch: count(Quantity::Pitch),
            stw: count(Quantity::WaterSpeed),
            heading: count(Quantity::HeadingTrue)
                .saturating_add(count(Quantity::HeadingMagnetic))
                .saturating_add(count(Quantity::HeadingCompass)),
        }
    }

    /// Turns of the engine or its shaft.
    pub fn engine_rpm(&self, now: Timestamp) -> Option<f64> {
        match self.sources.live(Quantity::EngineTurns, now)? {
            Measure::EngineTurns(turns) => Some(turns.get()),
            _ => None,
        }
    }

    /// Where she is, for sun and forecast.
    pub fn position(&self, now: Timestamp) -> Option<Position> {
        match self.sources.live(Quantity::Position, now)? {
            Measure::Position(position) => Some(position),
            _ => None,
        }
    }

    /// Pressure.
    pub fn pressure(&self, now: Timestamp) -> PressureView {
        let Some(Measure::Pressure(hpa)) = self.sources.live(Quantity::Pressure, now) else {
            return PressureView::default();
        };
        let told = self.tendency(hpa.get());
        PressureView {
            hpa: Some(hpa.get()),
            tendency_hpa_3h: told.map(|t| t.change_hpa),
            wmo_code: told.map(|t| t.code),
        }
    }

    /// What each quantity that was ever heard is taken from.
    pub fn sources(&self, now: Timestamp) -> Vec<SourceView, { Quantity::COUNT }> {
        Quantity::ALL
            .iter()
            .filter_map(|quantity| {
                let newest = || {
                    self.sources
                        .slots()
                        .filter(|slot| slot.quantity == *quantity)
                        .max_by_key(|slot| slot.heard_at())
                };
                let slot = self.sources.chosen(*quantity).or_else(newest)?;
                Some(source_view(slot, now))
            })
            .collect()
    }

    /// Whether what passed the gate is as fresh as its source promises.
    fn signal_is_fresh(&self, now: Timestamp) -> bool {
        self.signals.apparent_age(now).is_some_and(|age_ms| {
            age_ms <= u64::from(self.hold_ms(Quantity::ApparentWind)) + MOST_WAIT_MS
        })
    }

    pub(super) fn wind_is_fresh(&self, now: Timestamp) -> bool {
        let quantity = match self.basis_at(now) {
            Basis::Water | Basis::Ground => Quantity::ApparentWind,
            Basis::TrueWind => Quantity::TrueWind,
            Basis::GroundWind => Quantity::GroundWind,
            Basis::None(_) => return false,
        };
        self.signals.last_wind.is_some_and(|last| {
            now.millis_since(last) <= u64::from(self.hold_ms(quantity)) + MOST_WAIT_MS
        })
    }

    fn show_true_wind(&self, view: &mut WindView, now: Timestamp) {
        let (boat, compass) = (self.signals.true_boat, self.signals.true_compass);
        // As a vector by the compass where there is one: a boat that yaws or
        // tacks does not blur it. Off the bow it would dip through a tack.
        let scalar = self.signals.tws.get().map(|tws| tws.x);
        view.tws_kn = compass.get().map(Vector::speed).or(scalar);
        view.twa_deg = boat.get().and_then(direction);
        let from = compass.settled().and_then(direction).map(wrap_360);
        match self.north {
            North::True => view.twd_deg = from,
            North::Magnetic => view.twd_magnetic_deg = from,
        }
        let heading = self.heading();
        let over_ground = heading.is_some_and(|h| h.north == North::True)
            && self.sources.live(Quantity::GroundMotion, now).is_some();
        if let Some(ground) = self.signals.ground.get().filter(|_| over_ground) {
            view.ground_kn = Some(ground.speed());
            view.ground_deg = direction(ground).map(wrap_360);
        }
        view.tws_10m_kn = view.tws_kn.and_then(|tws| self.at_ten_metres(tws));
    }

    fn at_ten_metres(&self, masthead_kn: f64) -> Option<f64> {
        let instruments = self.corrections.instruments();
        let height = instruments.masthead_height?.get();
        to_ten_metres(instruments.gradient, height).map(|factor| masthead_kn * factor)
    }

    fn show_means(&self, view: &mut WindView) {
        // What two units just now differ over waits until it is decided
        // whether one of them is wrong.
        let undecided = usize::from(self.sources.undecided_s(Quantity::ApparentWind));
        let one = self.seconds.window(60, undecided);
        let ten = self.seconds.window(600, undecided);
        view.mean_1min_kn = mean(one);
        view.mean_2min_kn = mean(self.seconds.window(120, undecided));
        view.mean_10min_kn = mean(ten);
        // Three seconds of a unit that has just woken up are no gust.
        view.gust_kn = ten.gust_kn().filter(|_| ten.share() >= LEAST_GUST_SHARE);
        if let Some(spread) = ten.tws().filter(|_| ten.share() >= LEAST_SHARE) {
            view.deviation_kn = Some(spread.deviation);
            // Ratios to a calm say nothing.
            if spread.mean >= 1.0 {
                view.gust_factor = view.gust_kn.map(|gust| gust / spread.mean);
                view.turbulence = Some(spread.deviation / spread.mean);
            }
            view.beaufort = self.at_ten_metres(spread.mean).map(force);
            view.twd_deviation_deg = ten.twd().map(|twd| twd.deviation_deg());
        }
        view.gust_spread_kn = view
            .gust_kn
            .and_then(|gust| Some(self.gust_spread(gust, view.mean_10min_kn?)));
        view.uncertainty_kn = one
            .tws()
            .filter(|_| one.share() >= LEAST_SHARE)
            .map(|spread| {
                let chance = spread.deviation / libm::sqrt(INDEPENDENT_A_MINUTE);
                let scale = self.scale_share() * spread.mean;
                libm::sqrt(chance * chance + scale * scale)
            });
        let twa = one.twa().filter(|_| one.share() >= LEAST_SHARE);
        view.point = twa.map(|twa| point_of_sail(twa.mean_deg));
    }

    /// The share by which the unit's own scale may be off.
    fn scale_share(&self) -> f64 {
        match self.corrections.instruments().wind_confirmed {
            Confirmation::Confirmed => VOUCHED_SHARE,
            Confirmation::Unconfirmed => UNVOUCHED_SHARE,
        }
    }

    /// The unit's scale; what its damping took off the gusts; and the mast's
    /// motion, where it swings in the wind and is not undone.
    fn gust_spread(&self, gust: f64, mean: f64) -> f64 {
        let instruments = self.corrections.instruments();
        let scale = self.scale_share() * gust;
        // A lag of T leaves turbulence that follows itself over S this much
        // of its deviation: sqrt(S / (S + T)).
        let damping_s = instruments.wind_damping_s.unwrap_or(0.0);
        let left = libm::sqrt(GUSTS_S / (GUSTS_S + damping_s));
        let damped = (1.0 - left) / left * (gust - mean).max(0.0);
        let is_still = instruments.mast_motion.is_some() && self.heel.is_quick();
        let swung = if is_still { 0.0 } else { SWUNG_SHARE * gust };
        libm::sqrt(scale * scale + damped * damped + swung * swung)
    }

    fn show_trend(&self, view: &mut WindView) {
        if let Some(told) = self.trends.speed {
            view.trend_kn_h = Some(told.per_hour);
            view.trend_spread_kn_h = Some(told.spread);
        }
        view.veer_deg_h = self.trends.direction.map(|told| told.per_hour);
    }

    /// The last hour's trends, anew with each minute.
    pub(super) fn find_trends(&self) -> Trends {
        let north = self.north;
        let speeds = self
            .last_hour()
            .filter_map(|(hours, minute)| Some((hours, f64::from(minute.mean_kn?))));
        let directions = self
            .last_hour()
            .filter(|(_, minute)| minute.north == north)
            .filter_map(|(hours, minute)| Some((hours, f64::from(minute.twd_deg?))));
        Trends {
            speed: trend(speeds),
            direction: trend(unwrapped(directions)),
        }
    }

    fn last_hour(&self) -> impl Iterator<Item = (f64, Minute)> + Clone {
        let minutes = self.minutes.iter();
        let skip = minutes.len().saturating_sub(TREND_MINUTES);
        minutes
            .skip(skip)
            .map(|minute| (minute.start.as_secs_f64() / 3600.0, minute))
    }

    fn show_round_up(&self, view: &mut WindView, now: Timestamp) {
        view.round_up_kn = self.round_up_wind(now);
    }

    /// Apparent wind on a close reach; none while she is about there already.
    fn round_up_wind(&self, now: Timestamp) -> Option<f64> {
        let minute = self.seconds.window(60, 0);
        let twa = minute.twa()?.mean_deg;
        if !self.wind_is_fresh(now) || twa.abs() < OFF_THE_WIND_TWA_DEG {
            return None;
        }
        let speed = self
            .stw(now)
            .filter(|_| !self.log_is_fouled())
            .or_else(|| self.motion(now).sog_kn)?;
        mean(minute).map(|tws| round_up_kn(tws, speed))
    }

    fn round_up_heel(&self, now: Timestamp) -> Option<f64> {
        let wind = self.round_up_wind(now)?;
        self.heel_by_sail
            .usual()
            .map(|stiffness| heel_in(stiffness, wind))
    }

    /// From the day's minutes: three hours ago, half-way, and now. Nearby
    /// minutes stand in where one is missing.
    fn tendency(&self, now_hpa: f64) -> Option<Tendency> {
        let near = |minutes: usize| {
            self.day
                .newest_first()
                .skip(minutes.saturating_sub(3))
                .take(6)
                .find_map(|minute| minute.pressure_hpa)
        };
        let then = near(TENDENCY_MINUTES)?;
        let half_way = near(TENDENCY_MINUTES / 2)?;
        Some(tendency(then, half_way, now_hpa))
    }
}

impl super::Signals {
    fn apparent_age(&self, now: Timestamp) -> Option<u64> {
        self.apparent.at().map(|at| now.millis_since(at))
    }
}

/// Where a wind comes from; a flat calm comes from nowhere.
fn direction(wind: Vector) -> Option<f64> {
    (wind.speed() >= CALM_KN).then(|| wind.angle_deg())
}

/// What a doubted sensor gives is not shown. Two units that differ are both
/// heard still: the one in use stays, marked, to be held against the sails.
fn withhold(view: &mut WindView, fault: Fault) {
    match fault {
        Fault::CupsSlow => view.aws_kn = None,
        Fault::VaneStuck => view.awa_deg = None,
        Fault::Frozen(_) => (view.aws_kn, view.awa_deg) = (None, None),
        _ => {}
    }
}

fn source_view(slot: &Slot, now: Timestamp) -> SourceView {
    SourceView {
        quantity: slot.quantity,
        source: slot.source,
        age_s: now.secs_since(slot.at()),
        period_s: slot.period_ms().map(|ms| f64::from(ms) / 1000.0),
        live: if slot.is_live(now) {
            Liveness::Live
        } else {
            Liveness::Dead
        },
    }
}

/// The mean of a window that was measured for half of its time at least.
fn mean(window: Window<'_>) -> Option<f64> {
    window
        .tws()
        .filter(|_| window.share() >= LEAST_SHARE)
        .map(|spread| spread.mean)
}

/// The point of sail by true wind angle.
pub fn point_of_sail(twa_deg: f64) -> PointOfSail {
    match twa_deg.abs() {
        off if off < 60.0 => PointOfSail::CloseHauled,
        off if off <= 120.0 => PointOfSail::Reaching,
        _ => PointOfSail::Running,
    }
}
