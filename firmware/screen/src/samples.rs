//! Invented moments of an invented boat, for pictures, tests and measuring.

use cringle_core::act::{
    Condition, Doing, Hands, Helm, NotNow, PointOfSail, Readiness, Rigging, Sea,
};
use cringle_core::event::{Call, Cause, Hint, Priority};
use cringle_core::fault::Fault;
use cringle_core::instruments::Confirmation;
use cringle_core::ladder::{ItemId, PlanId, RiggedId};
use cringle_core::picture::{AppliedCorrection, Correction};
use cringle_core::reading::{Quantity, SourceId};
use cringle_core::text::text;
use cringle_core::time::Timestamp;
use cringle_core::view::{
    AlertState, CallTime, Doubt, DoubtPhase, ForecastError, ForecastStanding, ForecastView,
    HeelView, Light, Liveness, Manoeuvre, MinutesInHand, MotionView, Opens, PeopleView, PlanView,
    PressureView, PutOff, RiggedView, RungView, SetupView, Sounds, SourceView, TrendMinute, View,
    Wanted, WindView,
};

use crate::aboard::{Aboard, Alive, DataOrigin, Port, PortState, Recorder, Storage};

/// Five hours after the start.
const NOW: Timestamp = Timestamp::from_secs(18_000);

/// Makes a moment.
pub type Make = fn() -> View;

/// The moments, by name.
pub const MOMENTS: [(&str, Make); 20] = [
    ("calm", calm),
    ("prepare", prepare),
    ("acknowledged", acknowledged),
    ("reduce", reduce),
    ("past", past),
    ("blind", blind),
    ("blind_acknowledged", blind_acknowledged),
    ("changing", changing),
    ("anchored", anchored),
    ("cold", cold),
    ("unconfirmed", unconfirmed),
    ("put_off", put_off),
    ("went", went),
    ("last_plan", last_plan),
    ("doubted", doubted),
    ("alternative", alternative),
    ("old_odds", old_odds),
    ("foretold", foretold),
    ("last_good_moment", last_good_moment),
    ("doubted_wind", doubted_wind),
];

/// The moment of this name.
pub fn moment(name: &str) -> Option<View> {
    MOMENTS
        .iter()
        .find(|(known, _)| *known == name)
        .map(|(_, make)| make())
}

/// One reef, 18 kn, nothing to do.
pub fn calm() -> View {
    let mut view = View::blank(NOW);
    view.boat = text("Kittling");
    view.unix_ms = Some(1_764_050_000_000);
    view.ladder = rungs();
    view.plan = PlanView {
        id: PlanId(1),
        confirmed: Some(Timestamp::from_secs(18_000 - 11_000)),
    };
    view.next = Some(PlanId(2));
    view.call.minutes_in_hand = MinutesInHand::Beyond;
    view.call.slack_s = Some(5_400.0);
    view.call.call_time = Some(CallTime {
        muster_s: 300.0,
        setup_s: 240.0,
        change_s: 480.0,
        spread_s: 200.0,
    });
    view.call.odds = Some(0.02);
    view.call.odds_ahead = Some([0.00, 0.01, 0.02, 0.04, 0.07, 0.12]);
    view.wind = wind(18.0, 21.5, [15.5, 18.5, 21.0]);
    view.heel = HeelView {
        now_deg: Some(13.0),
        mean_deg: Some(12.5),
        roll_deg: Some(4.0),
        share_past: Some(0.0),
        limit_deg: Some(22.0),
        stiffness: Some(0.04),
        pitch_deg: Some(1.0),
        round_up_deg: Some(16.0),
    };
    view.motion = MotionView {
        stw_kn: Some(6.4),
        sog_kn: Some(6.1),
        cog_deg: Some(231.0),
        heading_deg: Some(228.0),
        leeway_deg: Some(4.0),
        rudder_deg: Some(3.0),
        depth_m: Some(48.0),
    };
    view.pressure = PressureView {
        hpa: Some(1008.4),
        tendency_hpa_3h: Some(-2.1),
        wmo_code: Some(7),
    };
    view.setup.extend([
        item(0, "reef 2 pendant led", Readiness::Ready, Wanted::Now, 4.0),
        item(1, "staysail hanked on", Readiness::Open, Wanted::Now, 6.0),
        item(2, "jacklines rigged", Readiness::Ready, Wanted::Later, 5.0),
        item(
            3,
            "trysail on its track",
            Readiness::Open,
            Wanted::Later,
            15.0,
        ),
    ]);
    view.rigged.extend([
        RiggedView {
            id: RiggedId(0),
            name: text("preventer"),
            rigging: Rigging::Rigged,
        },
        RiggedView {
            id: RiggedId(1),
            name: text("pole"),
            rigging: Rigging::Cleared,
        },
    ]);
    view.people = PeopleView {
        hands: Hands {
            on_deck: 1,
            below: 2,
        },
        condition: Condition::Fresh,
        helm: Helm::Pilot,
        sea: Sea::Moderate,
        light: Light::Day,
    };
    view.sources.extend([
        source(Quantity::ApparentWind, 1, 0.4, Liveness::Live),
        source(Quantity::WaterSpeed, 1, 0.8, Liveness::Live),
        source(Quantity::HeadingMagnetic, 2, 0.1, Liveness::Live),
        source(Quantity::GroundMotion, 3, 0.6, Liveness::Live),
        source(Quantity::Heel, 2, 0.1, Liveness::Live),
    ]);
    view.corrections_applied.extend([
        undone(Correction::VaneOffset, Some(-2.0), None),
        undone(Correction::Heel, Some(1.1), Some(0.3)),
        undone(Correction::MastMotion, None, Some(0.6)),
        undone(Correction::Leeway, Some(4.0), None),
        undone(Correction::Variation, Some(4.5), None),
    ]);
    view.trend = trend();
    view.limits_confirmed = Confirmation::Confirmed;
    view.wind_confirmed = Confirmation::Confirmed;
    view
}

/// Calm, and now is the last good moment to reduce.
pub fn last_good_moment() -> View {
    let mut view = calm();
    view.hints
        .extend([Hint::ReduceNow(PlanId(2)), Hint::WatchDue]);
    view.moment.lines = [
        text("reef 2 now: 2 up, light, 8 min"),
        text("in 35 min: 1 up, dark, 26 min, wake 1; 4 in 10"),
    ];
    view
}

/// Twelve minutes in hand, nobody has acknowledged.
pub fn prepare() -> View {
    let mut view = calm();
    view.wind = wind(22.0, 26.5, [20.5, 24.0, 27.5]);
    view.people.light = Light::Night;
    raise(
        &mut view,
        Call::Prepare,
        AlertState::Unacknowledged,
        MinutesInHand::Minutes(12.6),
    );
    view.call.cause = Some(Cause::Wind);
    view.call.why = text("22 kn rising 4 kn an hour, limit 24");
    view.call.slack_s = Some(0.0);
    view.call.odds = Some(0.62);
    view.call.odds_ahead = Some([0.18, 0.44, 0.62, 0.74, 0.82, 0.88]);
    view.hints.extend([Hint::OpenSetup(ItemId(1))]);
    view
}

/// The same, acknowledged.
pub fn acknowledged() -> View {
    let mut view = prepare();
    view.call.alert = AlertState::Acknowledged;
    view.sounds = Sounds::default();
    view
}

/// Only the change itself still fits.
pub fn reduce() -> View {
    let mut view = prepare();
    view.wind = wind(23.6, 28.0, [23.0, 25.5, 28.0]);
    raise(
        &mut view,
        Call::Reduce,
        AlertState::Unacknowledged,
        MinutesInHand::Minutes(-1.5),
    );
    view.call.why = text("wind 23.6, limit 24.0 kn, may be passed in 4 min: change 8");
    view.call.soonest_s = Some(290.0);
    view
}

/// Past the limit, by heel too.
pub fn past() -> View {
    let mut view = reduce();
    view.wind = wind(26.5, 33.0, [25.0, 28.0, 31.5]);
    view.heel.mean_deg = Some(25.0);
    view.heel.share_past = Some(0.6);
    raise(
        &mut view,
        Call::Past,
        AlertState::Unacknowledged,
        MinutesInHand::Minutes(-9.0),
    );
    view.call.why = text("mean 26.5 kn is past 24, heel 25 past 22");
    view.call.passed_at = Some(Timestamp::from_secs(18_000 - 540));
    view
}

/// The wind unit has gone silent.
pub fn blind() -> View {
    let mut view = calm();
    raise(
        &mut view,
        Call::Blind,
        AlertState::Unacknowledged,
        MinutesInHand::Unknown,
    );
    view.call.cause = Some(Cause::Data);
    view.call.why = text("apparent wind lost 40 s ago");
    view.call.slack_s = None;
    view.call.odds = None;
    view.call.odds_ahead = None;
    view.call.outlook_age_s = Some(40.0);
    view.wind = WindView::default();
    view.faults
        .extend([Fault::Lost(Quantity::ApparentWind), Fault::NoHeading]);
    if let Some(source) = view.sources.first_mut() {
        source.live = Liveness::Dead;
        source.age_s = 40.0;
    }
    view
}

/// The same, acknowledged.
pub fn blind_acknowledged() -> View {
    let mut view = blind();
    view.call.alert = AlertState::Acknowledged;
    view.sounds = Sounds::default();
    view
}

/// The crew is at work: seven of twelve minutes gone, a limit crossed.
pub fn changing() -> View {
    let mut view = acknowledged();
    view.wind = wind(24.5, 29.0, [23.0, 25.5, 28.0]);
    view.manoeuvre = Some(Manoeuvre {
        to: PlanId(2),
        since: Timestamp::from_secs(18_000 - 440),
        booked_s: 720.0,
        worst: Call::Reduce,
    });
    view
}

/// At anchor: nobody watches, nothing sounds.
pub fn anchored() -> View {
    let mut view = calm();
    view.doing = Doing::Anchored;
    view.call.minutes_in_hand = MinutesInHand::Unknown;
    view
}

/// Just started: no wind history, no plan confirmed.
pub fn cold() -> View {
    let mut view = calm();
    view.now = Timestamp::from_secs(20);
    view.unix_ms = None;
    view.plan.confirmed = None;
    view.call.minutes_in_hand = MinutesInHand::Unknown;
    view.call.odds = None;
    view.call.odds_ahead = None;
    view.wind = WindView {
        awa_deg: Some(38.0),
        aws_kn: Some(22.0),
        twa_deg: Some(52.0),
        tws_kn: Some(17.4),
        point: Some(PointOfSail::CloseHauled),
        ..WindView::default()
    };
    view.trend.clear();
    view.limits_confirmed = Confirmation::Unconfirmed;
    view.wind_confirmed = Confirmation::Unconfirmed;
    view.people.light = Light::Unknown;
    view
}

/// Nobody has vouched for limits or wind unit.
pub fn unconfirmed() -> View {
    let mut view = calm();
    view.call.minutes_in_hand = MinutesInHand::Minutes(47.2);
    view.limits_confirmed = Confirmation::Unconfirmed;
    view.wind_confirmed = Confirmation::Unconfirmed;
    view
}

/// A call put off for traffic, with a squall in sight.
pub fn put_off() -> View {
    let mut view = acknowledged();
    view.not_now = Some(PutOff {
        until: Timestamp::from_secs(18_000 + 1_130),
        because: NotNow::Traffic,
    });
    view.squall_due = Some(Timestamp::from_secs(18_000 + 1_500));
    view
}

/// A call that is over but that nobody has acknowledged.
pub fn went() -> View {
    let mut view = calm();
    view.call.alert = AlertState::RectifiedUnacknowledged;
    view.call.id = 5;
    view.call.revision = 2;
    view
}

/// Under the storm jib: nothing is left to take in.
pub fn last_plan() -> View {
    let mut view = calm();
    view.plan.id = PlanId(4);
    view.next = None;
    view.wind = wind(41.0, 52.0, [37.0, 41.0, 45.0]);
    view.call.minutes_in_hand = MinutesInHand::Unknown;
    view
}

/// Heel and speed do not fit the plan believed set.
pub fn doubted() -> View {
    let mut view = calm();
    view.hints.extend([Hint::PlanDoubted, Hint::DoingDoubted]);
    view
}

/// Another plan than the next rung, for which a hand has to come up, and
/// without an item that is still below.
pub fn alternative() -> View {
    let mut view = prepare();
    view.next = Some(PlanId(3));
    view.next_because = text("reef 2 would not last");
    view.to_call = 1;
    if let Some(item) = view.setup.iter_mut().find(|item| item.id == ItemId(1)) {
        item.opens = Opens::TheChange;
    }
    view
}

/// The wind is lost, and what was likely is kept with its age.
pub fn old_odds() -> View {
    let mut view = blind_acknowledged();
    view.call.outlook_age_s = Some(260.0);
    view.call.odds_ahead = Some([0.18, 0.44, 0.62, 0.74, 0.82, 0.88]);
    view
}

/// A front that comes before its time.
pub fn foretold() -> View {
    let mut view = acknowledged();
    view.forecast = ForecastView {
        standing: ForecastStanding::Used,
        words: text("front about 2 h early, 4 kn over the forecast"),
        told_kn: Some(18.0),
        error: Some(ForecastError {
            late_h: -2.1,
            late_spread_h: 0.4,
            over_kn: 4.2,
            over_spread_kn: 1.0,
        }),
        weight: Some(0.6),
    };
    view
}

/// The cups read too slow: what hangs on them is withheld.
pub fn doubted_wind() -> View {
    let mut view = blind_acknowledged();
    view.faults.clear();
    view.faults.extend([Fault::CupsSlow]);
    view.call.why = text("wind cups read too low for heel and sea");
    view.wind.awa_deg = Some(38.0);
    view.wind.doubt = Some(Doubt {
        fault: Fault::CupsSlow,
        phase: DoubtPhase::Stands,
        began: Timestamp::ZERO,
        found: Timestamp::ZERO,
    });
    view
}

/// The daemon's part, all well, with ports from this list.
pub fn aboard<'a>(ports: &'a [Port<'a>], raw_lines: &'a [&'a str]) -> Aboard<'a> {
    Aboard {
        alive: Alive {
            beats: 3,
            still_s: 0.4,
            hung_s: 0.1,
        },
        recorder: Recorder::Recording,
        storage: Storage::Free { megabytes: 11_400 },
        devices: &[],
        ports,
        pace: DataOrigin::Live,
        raw_lines,
    }
}

/// Three ports, one of them lost.
pub const PORTS: [Port<'static>; 3] = [
    Port {
        name: "mast",
        state: PortState::Open,
        age_s: Some(0.2),
        lines: 128_411,
        bad: 3,
    },
    Port {
        name: "gnss",
        state: PortState::Silent,
        age_s: Some(74.0),
        lines: 40_120,
        bad: 0,
    },
    Port {
        name: "compass",
        state: PortState::Lost,
        age_s: None,
        lines: 0,
        bad: 0,
    },
];

/// Raw lines, oldest first.
pub const RAW_LINES: [&str; 6] = [
    "$WIMWV,038.0,R,22.1,N,A*2F",
    "$VWVHW,,T,228.0,M,06.4,N,11.8,K*47",
    "$HCHDG,228.0,,,4.5,W*24",
    "$GPRMC,053320,A,4712.40,N,00811.20,W,6.1,231.0,251125,4.5,W*5E",
    "$IIXDR,A,-13.0,D,HEEL*31",
    "$WIMWV,037.0,R,22.6,N,A*27",
];

fn raise(view: &mut View, call: Call, alert: AlertState, minutes: MinutesInHand) {
    view.call.call = call;
    view.call.alert = alert;
    view.call.id = 4;
    view.call.revision = 1 + call as u32;
    view.call.minutes_in_hand = minutes;
    view.sounds = Sounds {
        cockpit: call.priority(),
        bunk: call
            .priority()
            .filter(|&priority| priority == Priority::Alarm),
    };
}

fn rungs() -> heapless::Vec<RungView, { cringle_core::ladder::MAX_PLANS }> {
    [
        ("full", "full main, genoa", Some(18.0)),
        ("reef 1", "one reef, genoa part-rolled", Some(24.0)),
        ("reef 2", "two reefs, staysail", Some(30.0)),
        ("reef 3", "three reefs, staysail", Some(38.0)),
        ("storm", "storm jib alone", None),
    ]
    .into_iter()
    .enumerate()
    .map(|(index, (short, name, limit_kn))| RungView {
        id: PlanId(index as u8),
        short: text(short),
        name: text(name),
        limit_kn,
    })
    .collect()
}

fn wind(mean: f64, gust: f64, likely: [f64; 3]) -> WindView {
    WindView {
        awa_deg: Some(38.0),
        aws_kn: Some(mean + 5.0),
        twa_deg: Some(52.0),
        tws_kn: Some(mean + 0.4),
        twd_deg: Some(280.0),
        uncertainty_kn: Some(1.6),
        ground_kn: Some(mean - 0.5),
        ground_deg: Some(277.0),
        tws_10m_kn: Some(mean * 0.94),
        mean_1min_kn: Some(mean),
        mean_2min_kn: Some(mean - 0.2),
        mean_10min_kn: Some(mean - 0.8),
        gust_kn: Some(gust),
        deviation_kn: Some(1.6),
        gust_factor: Some(gust / mean),
        turbulence: Some(0.09),
        trend_kn_h: Some(2.2),
        trend_spread_kn_h: Some(0.9),
        veer_deg_h: Some(-6.0),
        beaufort: Some(5),
        point: Some(PointOfSail::CloseHauled),
        likely_kn: Some(likely),
        round_up_kn: Some(mean + 6.0),
        by_hand: None,
        ..WindView::default()
    }
}

fn undone(what: Correction, angle_deg: Option<f64>, speed_kn: Option<f64>) -> AppliedCorrection {
    AppliedCorrection {
        what,
        angle_deg,
        speed_kn,
    }
}

fn item(id: u8, name: &str, ready: Readiness, wanted: Wanted, buys_min: f64) -> SetupView {
    SetupView {
        id: ItemId(id),
        name: text(name),
        ready,
        wanted,
        buys_min,
        opens: Default::default(),
    }
}

fn source(quantity: Quantity, id: u32, age_s: f64, live: Liveness) -> SourceView {
    SourceView {
        quantity,
        source: SourceId(id),
        age_s,
        period_s: Some(1.0),
        live,
    }
}

/// Three hours: rising from 12 to 18 kn, a gap, a reef after a call.
fn trend() -> heapless::Vec<TrendMinute, { cringle_core::view::TREND_MINUTES }> {
    (0..180)
        .map(|minute: u16| {
            let t = f32::from(minute);
            let mean = 12.0 + t / 30.0 + 0.7 * libm::sinf(t / 7.0) + 0.4 * libm::sinf(t / 2.3);
            let is_gap = (61..72).contains(&minute);
            TrendMinute {
                mean_kn: (!is_gap).then_some(mean),
                gust_kn: (!is_gap).then_some(mean * 1.22),
                limit_kn: Some(if minute < 118 { 18.0 } else { 24.0 }),
                call: match minute {
                    61..72 => Call::Blind,
                    96..108 => Call::Prepare,
                    108..118 => Call::Reduce,
                    _ => Call::None,
                },
            }
        })
        .collect()
}
