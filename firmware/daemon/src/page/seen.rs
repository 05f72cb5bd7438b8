//! A moment as JSON: what the page needs, and anybody else who reads it.
//!
//! Fields may be added, never renamed. A number that is not known is null,
//! never 0. Words come from the screens' own table, so that page and screen
//! never say two things.

use cringle_core::act::{Readiness, Reply, Rigging};
use cringle_core::event::Call;
use cringle_core::instruments::Confirmation;
use cringle_core::ladder::PlanId;
use cringle_core::moment::{Darkness, Work};
use cringle_core::time::Timestamp;
use cringle_core::view::{
    AlertState, DoubtPhase, Light, Liveness, MinutesInHand, Opens, RungView, View, Wanted,
};
use cringle_screen::aboard::{Alive, DataOrigin};
use cringle_screen::draw::headline::{Headline, Tone, Trust, headline};
use cringle_screen::draw::notes::{Room, fault_note, notes};
use cringle_screen::words::ENGLISH;
use serde_json::{Value, json};

use super::moment::Moment;
use super::{Shared, foretell};
use crate::aboard::{Aboard, PortState, PortView};
use crate::picture::with_screen_part;
use crate::words::Word;

/// Writes a moment as it looks now.
pub(super) fn json(moment: &Moment, shared: &Shared) -> String {
    seen(moment, shared, shared.wall.now()).to_string()
}

fn seen(moment: &Moment, shared: &Shared, wall: Timestamp) -> Value {
    let view = &moment.view;
    let aboard = moment.aboard_at(wall);
    let (head, noted) = with_screen_part(&aboard, view.now, |part| {
        let head = headline(view, part, &ENGLISH);
        let noted = notes(view, part, &ENGLISH, Room::Ample);
        let noted: Vec<String> = noted.iter().map(|note| whole(note)).collect();
        (head, noted)
    });
    let mut seen = head_fields(&head);
    let parts = [
        life(moment, &aboard, shared, wall),
        call(view),
        plans(view),
        json!({ "wind": wind(view), "heel": heel(view), "motion": motion(view), "notes": noted }),
        people(view),
        health(view, &aboard, shared),
        json!({
            "trend": trend(view),
            "hours_ahead": hours_ahead(view),
            "forecast": foretell::seen(&view.forecast, aboard.forecast.as_deref()),
        }),
    ];
    for part in parts {
        if let (Some(seen), Value::Object(part)) = (seen.as_object_mut(), part) {
            seen.extend(part);
        }
    }
    seen
}

/// Now and each later moment at which the next reduction is other work.
fn hours_ahead(view: &View) -> Value {
    let rows = view.moment.rows.iter().map(|row| {
        let wakes = match row.work {
            Work::Possible { wakes, .. } => Some(wakes),
            Work::Impossible => None,
        };
        json!({
            "in_min": tenths(row.in_s / 60.0),
            "on_deck": row.conditions.hands.on_deck,
            "daylight": row.conditions.dark == Darkness::Light,
            "work_min": some_tenths(row.work.minutes()),
            "wakes": wakes,
            "odds_by_end": rounded(Some(row.odds_by_end), 100.0),
        })
    });
    Value::Array(rows.collect())
}

fn head_fields(head: &Headline) -> Value {
    json!({
        "word": head.word,
        "tone": match head.tone {
            Tone::Calm => "calm",
            Tone::Absent => "absent",
            Tone::Working => "working",
            Tone::Warning => "warning",
            Tone::Alarm => "alarm",
            Tone::Past => "past",
        },
        "number": head.number.as_str(),
        "trust": match head.trust {
            Trust::Good => "good",
            Trust::Crossed => "crossed",
        },
        "unit": head.unit.as_str(),
    })
}

/// The sign of life: `alive` counts pictures of the loop, `heard_s` is the
/// age of the newest line by the wall.
fn life(moment: &Moment, aboard: &Aboard, shared: &Shared, wall: Timestamp) -> Value {
    let view = &moment.view;
    let (kind, times) = match aboard.pace {
        DataOrigin::Live => ("live", 1.0),
        DataOrigin::Demo { times } => ("demo", times),
        DataOrigin::Replay { times } => ("replay", times),
    };
    json!({
        "v": 1,
        "alive": moment.alive,
        "still_s": tenths(aboard.still_s),
        "hung_s": tenths(aboard.hung_s),
        "patience_s": tenths(f64::from(Alive::patience_s(view))),
        "heard_s": some_tenths(moment.heard_s(wall)),
        "up_s": tenths(view.now.as_secs_f64()),
        "t": view.unix_ms.map(|ms| ms as f64 / 1000.0),
        "t_told": view.other_unix_ms.map(|ms| ms as f64 / 1000.0),
        "pace": { "kind": kind, "times": tenths(f64::from(times)) },
        "boat": view.boat.as_str(),
        "acts": match shared.key {
            Some(_) => "with the key",
            None => "off",
        },
        "daylight": match view.people.light {
            Light::Day => "day",
            Light::Night => "night",
            Light::Unknown => "unknown",
        },
    })
}

fn call(view: &View) -> Value {
    let call = &view.call;
    json!({
        "call": {
            "call": call.call.word(),
            "alert": alert_word(call.alert),
            "priority": call.call.priority().map(|it| it.word()),
            "id": call.id,
            "revision": call.revision,
            "cause": call.cause.map(|it| it.word()),
            "why": call.why.as_str(),
            "at_once": call.at_once.as_ref().map(|it| json!({
                "name": it.name.as_str(),
                "minutes": tenths(it.minutes),
                "hands": it.hands,
            })),
            "since_s": tenths(view.now.secs_since(call.since)),
            "minutes_in_hand": match call.minutes_in_hand {
                MinutesInHand::Minutes(minutes) => some_tenths(Some(minutes)),
                MinutesInHand::Beyond | MinutesInHand::Unknown => Value::Null,
            },
            "beyond_90": call.minutes_in_hand == MinutesInHand::Beyond,
            "slack_s": some_tenths(call.slack_s),
            "call_time_s": some_tenths(call.call_time.map(|it| it.total_s())),
            "muster_s": some_tenths(call.call_time.map(|it| it.muster_s)),
            "setup_s": some_tenths(call.call_time.map(|it| it.setup_s)),
            "change_s": some_tenths(call.call_time.map(|it| it.change_s)),
            "odds": rounded(call.odds, 1000.0),
            "odds_age_s": some_tenths(call.outlook_age_s),
            "odds_ahead": call.odds_ahead.map(|all| all.map(|it| rounded(Some(it), 1000.0))),
        },
        "sounds": {
            "cockpit": view.sounds.cockpit.map(|it| it.word()),
            "bunk": view.sounds.bunk.map(|it| it.word()),
        },
        "question": view.question.map(|it| json!({
            "ask": it.word(),
            "words": view.question_words.as_str(),
            "no": (ENGLISH.name.answer)(it, Reply::No),
            "yes": (ENGLISH.name.answer)(it, Reply::Yes),
        })),
        "muster_left_s": some_tenths(view.muster_left_s),
        "not_now": view.not_now.map(|it| json!({
            "left_s": tenths(it.until.secs_since(view.now)),
            "because": it.because.word(),
        })),
        "squall_kn": some_tenths(view.squall_kn),
        "squall_s": view.squall_due.map(|due| tenths(due.secs_since(view.now))),
    })
}

fn alert_word(alert: AlertState) -> &'static str {
    match alert {
        AlertState::Normal => "normal",
        AlertState::Unacknowledged => "unacknowledged",
        AlertState::Silenced => "silenced",
        AlertState::Acknowledged => "acknowledged",
        AlertState::RectifiedUnacknowledged => "rectified-unacknowledged",
    }
}

fn plans(view: &View) -> Value {
    let short = |id: PlanId| rung(view, id).map(|rung| rung.short.as_str());
    let rungs = view.ladder.iter().map(|rung| {
        json!({
            "short": rung.short.as_str(),
            "name": rung.name.as_str(),
            "limit_kn": some_tenths(rung.limit_kn),
        })
    });
    json!({
        "ladder": rungs.collect::<Vec<_>>(),
        "plan": {
            "short": short(view.plan.id),
            "name": rung(view, view.plan.id).map(|rung| rung.name.as_str()),
            "age_s": view.plan.confirmed.map(|at| tenths(view.now.secs_since(at))),
        },
        "next": view.next.map(|id| json!({
            "short": short(id),
            "name": rung(view, id).map(|rung| rung.name.as_str()),
            "because": view.next_because.as_str(),
            "to_call": view.to_call,
        })),
        "manoeuvre": view.manoeuvre.map(|it| json!({
            "to": short(it.to),
            "gone_s": tenths(view.now.secs_since(it.since)),
            "booked_s": tenths(it.booked_s),
            "worst": it.worst.word(),
        })),
        "setup": view.setup.iter().map(|item| json!({
            "item": item.name.as_str(),
            "ready": item.ready == Readiness::Ready,
            "wanted": match item.wanted {
                Wanted::Now => "now",
                Wanted::Later => "later",
            },
            "buys_min": tenths(item.buys_min),
            "opens": match item.opens {
                Opens::Time => "time",
                Opens::TheChange => "the-change",
            },
        })).collect::<Vec<_>>(),
        "rigged": view.rigged.iter().map(|item| json!({
            "item": item.name.as_str(),
            "rigged": item.rigging == Rigging::Rigged,
        })).collect::<Vec<_>>(),
        "limits_confirmed": view.limits_confirmed == Confirmation::Confirmed,
        "wind_confirmed": view.wind_confirmed == Confirmation::Confirmed,
    })
}

fn rung(view: &View, id: PlanId) -> Option<&RungView> {
    view.ladder.iter().find(|rung| rung.id == id)
}

fn wind(view: &View) -> Value {
    let wind = &view.wind;
    json!({
        "doubt": wind.doubt.map(|it| json!({
            "fault": whole(&fault_note(it.fault, &ENGLISH)),
            "phase": match it.phase {
                DoubtPhase::Stands => "stands",
                DoubtPhase::Recovering { .. } => "recovering",
            },
        })),
        "twd_magnetic_deg": some_tenths(wind.twd_magnetic_deg),
        "corrections": view.corrections_applied.iter().map(|it| json!({
            "what": it.what.name(),
            "angle_deg": some_tenths(it.angle_deg),
            "speed_kn": some_tenths(it.speed_kn),
            "words": it.to_string(),
        })).collect::<Vec<_>>(),
        "aws_kn": some_tenths(wind.aws_kn),
        "awa_deg": some_tenths(wind.awa_deg),
        "tws_kn": some_tenths(wind.tws_kn),
        "twa_deg": some_tenths(wind.twa_deg),
        "twd_deg": some_tenths(wind.twd_deg),
        "mean_1min_kn": some_tenths(wind.mean_1min_kn),
        "mean_10min_kn": some_tenths(wind.mean_10min_kn),
        "gust_kn": some_tenths(wind.gust_kn),
        "trend_kn_h": some_tenths(wind.trend_kn_h),
        "uncertainty_kn": some_tenths(wind.uncertainty_kn),
        "ground_kn": some_tenths(wind.ground_kn),
        "beaufort": wind.beaufort,
        "point": wind.point.map(Word::word),
        "likely_kn": wind.likely_kn.map(|all| all.map(tenths)),
        "by_hand_kn": some_tenths(wind.by_hand.map(|(knots, _)| knots)),
        "hpa": some_tenths(view.pressure.hpa),
        "hpa_3h": some_tenths(view.pressure.tendency_hpa_3h),
    })
}

fn heel(view: &View) -> Value {
    json!({
        "now_deg": some_tenths(view.heel.now_deg),
        "mean_deg": some_tenths(view.heel.mean_deg),
        "limit_deg": some_tenths(view.heel.limit_deg),
    })
}

fn motion(view: &View) -> Value {
    json!({
        "stw_kn": some_tenths(view.motion.stw_kn),
        "sog_kn": some_tenths(view.motion.sog_kn),
        "heading_deg": some_tenths(view.motion.heading_deg),
    })
}

fn people(view: &View) -> Value {
    let people = &view.people;
    json!({
        "hands": {
            "on_deck": people.hands.on_deck,
            "below": people.hands.below,
            "condition": people.condition.word(),
            "helm": people.helm.word(),
            "sea": people.sea.word(),
        },
        "doing": view.doing.word(),
        "under_sail": view.doing.is_under_sail(),
    })
}

fn health(view: &View, aboard: &Aboard, shared: &Shared) -> Value {
    let recorder = aboard.recorder.as_ref();
    let fault = recorder.and_then(|it| it.fault.clone());
    let faults = view
        .faults
        .iter()
        .map(|&it| whole(&fault_note(it, &ENGLISH)));
    json!({
        "faults": faults.chain(aboard.faults(view.now)).collect::<Vec<_>>(),
        "sources": view.sources.iter().map(|it| json!({
            "quantity": it.quantity.name(),
            "source": shared.names.source(it.source),
            "age_s": tenths(it.age_s),
            "live": it.live == Liveness::Live,
        })).collect::<Vec<_>>(),
        "ports": aboard.ports.iter().map(|it| port(it, view.now)).collect::<Vec<_>>(),
        "recorder": {
            "state": match (recorder, &fault) {
                (None, _) => "off",
                (Some(_), Some(_)) => "failed",
                (Some(_), None) => "recording",
            },
            "fault": fault,
            "free_mb": recorder.and_then(|it| it.free_bytes).map(|bytes| bytes >> 20),
        },
        "storage": aboard.storage,
    })
}

fn port(port: &PortView, now: Timestamp) -> Value {
    let (state, why) = match &port.state {
        PortState::Opening => ("opening", None),
        PortState::Open if port.is_garbage(now) => ("garbage", None),
        PortState::Open if port.is_silent(now) => ("silent", None),
        PortState::Open => ("open", None),
        PortState::Lost(why) => ("lost", Some(why)),
        PortState::Ended => ("ended", None),
    };
    json!({
        "name": port.name,
        "state": state,
        "why": why,
        "age_s": some_tenths(port.age_s(now)),
        "lines": port.lines,
        "bad": port.bad(),
    })
}

/// A minute each, oldest first: mean, gust, limit, and the call that stood.
fn trend(view: &View) -> Value {
    let minutes = view.trend.iter().map(|minute| {
        json!([
            some_tenths(minute.mean_kn.map(f64::from)),
            some_tenths(minute.gust_kn.map(f64::from)),
            some_tenths(minute.limit_kn.map(f64::from)),
            match minute.call {
                Call::None => Value::Null,
                call => call.word().into(),
            },
        ])
    });
    minutes.collect()
}

/// Without the places where a small screen may break a word.
fn whole(words: &str) -> String {
    words.replace('\u{AD}', "")
}

fn tenths(number: f64) -> Value {
    some_tenths(Some(number))
}

pub(super) fn some_tenths(number: Option<f64>) -> Value {
    rounded(number, 10.0)
}

/// To one part in `parts`; what is not finite is not known.
pub(super) fn rounded(number: Option<f64>, parts: f64) -> Value {
    match number.filter(|number| number.is_finite()) {
        // Adding zero turns -0 into 0.
        Some(number) => json!((number * parts).round() / parts + 0.0),
        None => Value::Null,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::names::Names;
    use crate::page::Page;
    use cringle_screen::samples;

    fn of(view: View, wall: u64) -> Value {
        let page = Page::new(Names::default(), &cringle_boat::Page::default());
        page.face().show(&view, &Aboard::default());
        let moment = page.shared.newest.borrow().clone().unwrap();
        let wall = moment.shown.after(std::time::Duration::from_secs(wall));
        seen(&moment, &page.shared, wall)
    }

    #[test]
    fn page_and_screen_say_the_same_word_and_number() {
        let prepare = of(samples::prepare(), 0);
        assert_eq!(prepare["word"], "PREPARE");
        assert_eq!(prepare["number"], "10");
        assert_eq!(prepare["tone"], "warning");
        assert_eq!(prepare["call"]["alert"], "unacknowledged");
        assert_eq!(prepare["next"]["short"], "reef 2");
        assert_eq!(prepare["trend"].as_array().unwrap().len(), 180);
    }

    #[test]
    fn what_is_not_known_is_null_and_crossed_out() {
        let blind = of(samples::blind(), 0);
        assert_eq!(blind["word"], "BLIND");
        assert_eq!(blind["trust"], "crossed");
        assert!(blind["call"]["minutes_in_hand"].is_null());
        assert!(blind["heard_s"].is_null());
    }

    #[test]
    fn a_loop_that_has_stopped_is_told_as_frozen() {
        let frozen = of(samples::calm(), 6);
        assert_eq!(frozen["word"], "FROZEN");
        assert_eq!(frozen["trust"], "crossed");
        assert_eq!(frozen["still_s"], 6.0);
        assert_eq!(frozen["hung_s"], 6.0);
    }

    #[test]
    fn slow_instruments_make_the_page_wait_for_them_but_not_for_the_loop() {
        let mut view = samples::calm();
        for source in &mut view.sources {
            source.period_s = Some(6.0);
        }
        assert_eq!(of(view.clone(), 0)["patience_s"], 15.0);
        assert_eq!(of(view, 6)["word"], "FROZEN");
        assert_eq!(of(samples::calm(), 0)["patience_s"], 5.0);
    }

    #[test]
    fn a_doubted_wind_says_so_and_a_chosen_plan_says_why() {
        let doubted = of(samples::doubted_wind(), 0);
        assert_eq!(doubted["wind"]["doubt"]["phase"], "stands");
        assert!(doubted["wind"]["mean_1min_kn"].is_null());
        let other = of(samples::alternative(), 0);
        assert_eq!(other["next"]["because"], "reef 2 would not last");
        assert_eq!(other["next"]["to_call"], 1);
        let notes = other["notes"].to_string();
        assert!(notes.contains("reef 2 would not last"), "{notes}");
        let items = other["setup"].as_array().unwrap();
        assert!(items.iter().any(|item| item["opens"] == "the-change"));
        assert_eq!(of(samples::foretold(), 0)["forecast"]["standing"], "used");
    }
}
