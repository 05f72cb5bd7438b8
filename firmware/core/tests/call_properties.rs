//! What the standing call promises, for any honest curve: synthetic winds and
//! synthetic odds, thousands of cases.

use core::time::Duration;

use cringle_core::call::alert::Ids;
use cringle_core::call::sentence::sentence;
use cringle_core::call::standing::{Judgeability, Moment, Standing, Way};
use cringle_core::call::threat::{Against, Reached, Sums, Threat};
use cringle_core::event::Call;
use cringle_core::ladder::{AtOnceId, PlanId};
use cringle_core::time::Timestamp;
use cringle_core::view::{AlertState, AtOnceView, Preparation};
use proptest::prelude::*;

const LIMIT_KN: f64 = 20.0;

/// A synthetic curve: the odds of first passing grow with time and with how
/// near the level is; soonest is where they come to the setting. Beyond 90
/// minutes there is none.
fn soonest_s(level_kn: f64) -> Option<f64> {
    let gap = 1.0 - level_kn / LIMIT_KN;
    let seconds = if gap <= 0.0 {
        0.0
    } else {
        60.0 * 12.0 * (gap / 0.1).powf(1.5)
    };
    (seconds <= 5400.0).then_some(seconds)
}

fn wind(level: f64, reached: Reached) -> Threat {
    Threat {
        against: Against::Mean,
        limit: LIMIT_KN,
        level,
        reached,
        soonest_s: soonest_s(level),
        odds: Some((level / LIMIT_KN).powi(8).min(1.0)),
    }
}

fn moment(threats: &[Threat], sums: Sums, judged: Judgeability) -> Moment {
    Moment {
        threats: threats.iter().copied().collect(),
        sums,
        judged,
        target: Some(PlanId(1)),
        way: Way::Open,
        at_once: Some(AtOnceView {
            id: AtOnceId(0),
            name: "luff, or bear away".parse().unwrap_or_default(),
            minutes: 1.0,
            hands: 1,
        }),
        preparation: Preparation::Open,
    }
}

/// A watch on one limit, second by second.
struct Sail {
    standing: Standing,
    ids: Ids,
    now: u64,
    sums: Sums,
    way: Way,
    target: Option<PlanId>,
    over_s: u64,
    sounded: u32,
}

impl Sail {
    fn new(sums: Sums) -> Self {
        Sail {
            standing: Standing::new(Duration::from_secs(300), Duration::from_secs(30), at(0)),
            ids: Ids::default(),
            now: 0,
            sums,
            way: Way::Open,
            target: Some(PlanId(1)),
            over_s: 0,
            sounded: 0,
        }
    }

    fn hear(&mut self, level_kn: f64) {
        self.over_s = if level_kn >= LIMIT_KN {
            self.over_s + 1
        } else {
            0
        };
        let reached = match self.over_s {
            0..=20 => Reached::Under,
            21..=80 => Reached::At,
            _ => Reached::Past,
        };
        self.take(&[wind(level_kn, reached)], Judgeability::Full);
    }

    fn miss(&mut self) {
        self.take(&[], Judgeability::NoWind);
    }

    fn take(&mut self, threats: &[Threat], judged: Judgeability) {
        self.now += 1;
        let was = self.standing.alert().is_unacknowledged();
        let moment = Moment {
            way: self.way,
            target: self.target,
            ..moment(threats, self.sums, judged)
        };
        self.standing.update(&moment, &mut self.ids, at(self.now));
        self.sounded += u32::from(!was && self.standing.alert().is_unacknowledged());
    }

    fn words(&self) -> String {
        let name = |id: PlanId| if id == PlanId(1) { "reef 1" } else { "full" };
        sentence(&self.standing, name, at(self.now)).to_string()
    }
}

fn at(seconds: u64) -> Timestamp {
    Timestamp::from_secs(seconds)
}

fn sums() -> impl Strategy<Value = Sums> {
    (60.0..1800.0_f64, 0.0..2400.0_f64, 0.0..900.0_f64).prop_map(|(change_s, more_s, lead_s)| {
        Sums {
            work_s: change_s + more_s,
            change_s,
            lead_s,
        }
    })
}

/// Levels by five minutes, straight between.
fn winds() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec(4.0..28.0_f64, 3..14)
}

fn level(winds: &[f64], second: u64) -> f64 {
    let place = (second / 300) as usize;
    let part = (second % 300) as f64 / 300.0;
    let of = |place: usize| winds.get(place).or(winds.last()).copied().unwrap_or(8.0);
    of(place) + part * (of(place + 1) - of(place))
}

/// The whole numbers in a sentence after a word.
fn number_after(words: &str, mark: &str) -> Option<f64> {
    let rest = words.split_once(mark)?.1.trim_start();
    let digits: String = rest.chars().take_while(|c| c.is_ascii_digit()).collect();
    digits.parse().ok()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn prepare_has_a_figure_and_the_sentence_comes_to_it(sums in sums(), winds in winds()) {
        let mut sail = Sail::new(sums);
        for second in 0..winds.len() as u64 * 300 {
            sail.hear(level(&winds, second));
            if sail.standing.call() != Call::Prepare {
                continue;
            }
            let soonest_s = sail.standing.soonest_s();
            prop_assert!(soonest_s.is_some(), "at {second} s");
            let in_hand = (soonest_s.unwrap_or(0.0) - sums.change_s).max(0.0) / 60.0;
            let words = sail.words();
            let soonest = number_after(&words, "not before");
            let change = number_after(&words, "change");
            let left = number_after(&words, &format!("change {},", change.unwrap_or(-1.0)));
            let (Some(soonest), Some(change), Some(left)) = (soonest, change, left) else {
                return Err(TestCaseError::fail(format!("no sum in: {words}")));
            };
            prop_assert_eq!(soonest, change + left, "{}", words);
            prop_assert_eq!(left, in_hand.floor(), "{}", words);
        }
    }

    /// Ways open and close, and the ladder may end: hands go below, it blows too
    /// hard for a change, nothing is left to take in.
    #[test]
    fn reduce_and_past_have_a_target_or_something_to_do_at_once(
        sums in sums(),
        winds in winds(),
        ways in prop::collection::vec((60_u64..900, 0_u8..3), 1..12),
        ends in any::<bool>(),
        acknowledge_every in 30_u64..900,
    ) {
        let mut sail = Sail::new(sums);
        sail.target = (!ends).then_some(PlanId(1));
        let mut turns = ways.iter().cycle();
        let mut until = 0;
        for second in 0..winds.len() as u64 * 300 {
            if second >= until {
                let Some((length, way)) = turns.next() else { break };
                until = second + length;
                sail.way = match way {
                    _ if ends => Way::None,
                    0 => Way::Open,
                    1 => Way::UnderWay,
                    _ => Way::None,
                };
            }
            sail.hear(level(&winds, second));
            if second % acknowledge_every == 0 {
                sail.standing.acknowledge(at(sail.now));
            }
            let call = sail.standing.call();
            let at_once = sail.standing.at_once();
            if call >= Call::Reduce {
                let has_target = sail.way != Way::None && sail.standing.target().plan().is_some();
                prop_assert!(has_target || at_once.is_some(), "{call:?} at {second} s");
            }
            prop_assert!(call.is_threat() || at_once.is_none());
            prop_assert!(sail.way != Way::UnderWay || at_once.is_none());
            if at_once.is_some() {
                let words = sail.words();
                prop_assert!(words.contains("luff, or bear away") && words.len() < 96, "{words}");
            }
        }
    }

    #[test]
    fn none_never_stands_with_less_than_the_work_in_hand(sums in sums(), winds in winds()) {
        let mut sail = Sail::new(sums);
        for second in 0..winds.len() as u64 * 300 {
            sail.hear(level(&winds, second));
            if sail.standing.call() == Call::None {
                let slack = sail.standing.soonest_s().map(|s| s - sums.work_s);
                prop_assert!(slack.is_none_or(|slack| slack >= 0.0), "{slack:?} at {second} s");
            }
        }
    }

    #[test]
    fn steps_of_the_figure_never_hold_back_a_call(sums in sums(), winds in winds()) {
        let mut sail = Sail::new(sums);
        for second in 0..winds.len() as u64 * 300 {
            let kn = level(&winds, second);
            sail.hear(kn);
            // Unless the wind has come and gone under this call: then by rule.
            let has_eased = sail.standing.has_eased();
            prop_assert!(!has_eased || kn < 0.8 * LIMIT_KN, "{kn} kn at {second} s");
            let call = sail.standing.call();
            prop_assert!(has_eased || call >= sums.call_for(soonest_s(kn)), "at {second} s");
        }
    }

    #[test]
    fn the_figure_rises_by_2_and_falls_by_4_a_minute_while_a_call_stands(
        sums in sums(),
        winds in winds(),
    ) {
        let mut sail = Sail::new(sums);
        let mut before: Option<(Call, f64)> = None;
        for second in 0..winds.len() as u64 * 300 {
            sail.hear(level(&winds, second));
            let call = sail.standing.call();
            let shown = sail.standing.soonest_s().map(|s| (call, s));
            if let (Some((was, before)), Some((_, shown))) = (before, shown)
                && was == call && call.is_threat()
            {
                prop_assert!(shown <= before + 2.0 + 1e-9 && shown >= before - 4.0 - 1e-9,
                    "{before} {shown} at {second} s");
            }
            before = shown;
        }
    }

    #[test]
    fn a_steady_wind_sounds_nothing_again(
        sums in sums(),
        kn in 8.0..24.0_f64,
        wobble in 0.0..0.03_f64,
    ) {
        let mut sail = Sail::new(sums);
        for second in 0..5400 {
            // The start has its own call, and the hands their time for it.
            if second == 300 {
                sail.standing.acknowledge(at(sail.now));
                sail.sounded = 0;
            }
            sail.hear(kn * (1.0 + wobble * (second as f64 / 97.0).sin()));
        }
        let near = (kn * (1.0 - wobble)..=kn * (1.0 + wobble)).contains(&LIMIT_KN);
        let edges = [sums.change_s, sums.prepare_s()];
        let span = [kn * (1.0 - wobble), kn * (1.0 + wobble)].map(|kn| soonest_s(kn).unwrap_or(5400.0));
        let on_edge = edges.iter().any(|edge| (span[1]..=span[0]).contains(edge));
        // On an edge it may rise once more; never again and again.
        prop_assert!(sail.sounded <= u32::from(near || on_edge) * 2, "{}", sail.sounded);
    }

    #[test]
    fn a_gap_keeps_id_and_acknowledgement(
        sums in sums(),
        kn in 12.0..26.0_f64,
        gap in 1_u64..120,
        eased in 0.0..3.0_f64,
    ) {
        let mut sail = Sail::new(sums);
        for _ in 0..600 {
            sail.hear(kn);
        }
        sail.standing.acknowledge(at(sail.now));
        let (call, id) = (sail.standing.call(), sail.standing.alert().id);
        for _ in 0..gap {
            sail.miss();
        }
        sail.sounded = 0;
        for _ in 0..60 {
            sail.hear(kn - eased);
        }
        if call.is_threat() {
            prop_assert_eq!(sail.standing.alert().id, id);
            prop_assert_eq!(sail.standing.alert().state, AlertState::Acknowledged);
            prop_assert_eq!(sail.sounded, 0);
        }
    }

    #[test]
    fn what_is_worse_after_a_gap_sounds(sums in sums(), gap in 1_u64..120) {
        let mut sail = Sail::new(sums);
        for _ in 0..600 {
            sail.hear(19.0);
        }
        sail.standing.acknowledge(at(sail.now));
        let id = sail.standing.alert().id;
        for _ in 0..gap {
            sail.miss();
        }
        sail.sounded = 0;
        for _ in 0..120 {
            sail.hear(25.0);
        }
        prop_assert_eq!(sail.standing.call(), Call::Past);
        prop_assert!(sail.sounded > 0);
        if id != 0 {
            prop_assert_eq!(sail.standing.alert().id, id);
        }
    }

    #[test]
    fn a_call_by_wind_ends_within_ten_minutes_of_a_wind_that_stays_low(
        sums in sums(),
        winds in winds(),
        low in 2.0..8.0_f64,
    ) {
        let mut sail = Sail::new(sums);
        for second in 0..winds.len() as u64 * 300 {
            sail.hear(level(&winds, second));
        }
        for _ in 0..600 {
            sail.hear(low);
        }
        prop_assert_eq!(sail.standing.call(), Call::None);
    }

    /// Squall and forecast are there until their time has run out, and call by
    /// it; the wind stays low.
    #[test]
    fn what_goes_by_a_clock_ends_by_it(
        sums in sums(),
        by_forecast in any::<bool>(),
        due_s in 60_u64..3600,
        kept_s in 0_u64..1800,
        kn in 4.0..12.0_f64,
    ) {
        let mut sail = Sail::new(sums);
        let against = if by_forecast { Against::Forecast } else { Against::Squall };
        for second in 0..due_s + kept_s {
            let clock = Threat {
                against,
                limit: if by_forecast { LIMIT_KN } else { 0.0 },
                soonest_s: Some(due_s.saturating_sub(second) as f64),
                ..wind(if by_forecast { kn } else { 0.0 }, Reached::Under)
            };
            sail.take(&[wind(kn, Reached::Under), clock], Judgeability::Full);
            let call = sail.standing.call();
            let asked = sums.call_for(clock.soonest_s);
            prop_assert!(call >= asked, "{call:?} at {second} s");
            // Never before its time, and never past a limit.
            prop_assert!(call == asked && call < Call::Past, "{call:?} at {second} s");
        }
        let within_s = if by_forecast { 600 } else { 1 };
        for _ in 0..within_s {
            sail.hear(kn);
        }
        let by_wind = sums.call_for(soonest_s(kn));
        prop_assert!(sail.standing.call() <= by_wind, "{:?}", sail.standing.call());
    }

    #[test]
    fn the_first_prepare_is_never_later_with_more_wind_or_more_work(
        sums in sums(),
        winds in winds(),
        scale in 1.0..1.5_f64,
        more_s in 0.0..1800.0_f64,
        slower in 1.0..2.0_f64,
    ) {
        let first = |sums: Sums, scale: f64| {
            let mut sail = Sail::new(sums);
            (0..winds.len() as u64 * 300).find(|second| {
                sail.hear(level(&winds, *second) * scale);
                sail.standing.call().is_threat()
            })
        };
        let or_never = |second: Option<u64>| second.unwrap_or(u64::MAX);
        let fair = or_never(first(sums, 1.0));
        prop_assert!(or_never(first(sums, scale)) <= fair, "more wind");
        let harder = Sums {
            work_s: sums.work_s * slower + more_s,
            change_s: sums.change_s * slower,
            lead_s: sums.lead_s,
        };
        prop_assert!(or_never(first(harder, 1.0)) <= fair, "more work");
    }

    #[test]
    fn a_restart_at_any_second_keeps_word_id_and_acknowledgement(
        sums in sums(),
        winds in winds(),
        stop in 0_u64..3900,
        acknowledge_every in 30_u64..900,
    ) {
        let mut sail = Sail::new(sums);
        for second in 0..stop.min(winds.len() as u64 * 300) {
            sail.hear(level(&winds, second));
            if second % acknowledge_every == 0 {
                sail.standing.acknowledge(at(sail.now));
            }
        }
        let saved = sail.standing.saved();
        prop_assert_eq!(saved.is_some(), sail.standing.call().is_threat());
        let mut again = Sail::new(sums);
        if let Some(saved) = &saved {
            again.standing.restore(saved, at(0));
        }
        // Nothing is heard yet.
        for _ in 0..60 {
            again.take(&[], Judgeability::NoWind);
        }
        prop_assert_eq!(again.standing.call(), sail.standing.call());
        prop_assert_eq!(again.standing.target().plan(), sail.standing.target().plan());
        let still = |sail: &Sail| sail.standing.alert().state == AlertState::Acknowledged;
        if sail.standing.call().is_threat() {
            prop_assert_eq!(again.standing.alert().id, sail.standing.alert().id);
            prop_assert_eq!(still(&again), still(&sail));
        }
    }

    #[test]
    fn a_restart_within_a_second_of_the_next_word_keeps_the_word(
        change_s in 60.0..1800.0_f64,
        over in 0.0..1.0_f64,
    ) {
        let sums = Sums { work_s: change_s + 600.0, change_s, lead_s: 0.0 };
        let mut sail = Sail::new(sums);
        let threat = Threat {
            soonest_s: Some(change_s + over + 1e-6),
            ..wind(15.0, Reached::Under)
        };
        sail.take(&[threat], Judgeability::Full);
        prop_assert_eq!(sail.standing.call(), Call::Prepare);
        let saved = sail.standing.saved();
        let mut again = Sail::new(sums);
        if let Some(saved) = &saved {
            again.standing.restore(saved, at(0));
        }
        again.take(&[], Judgeability::NoWind);
        prop_assert_eq!(again.standing.call(), Call::Prepare);
    }
}
