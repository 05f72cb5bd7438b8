//! Walks through the keys as a crew would, and at random.

use super::*;
use crate::samples;
use crate::words::ENGLISH;
use cringle_core::act::{Doing, Hands, NotNow, PointOfSail, Question, Readiness, Reply, Sea};
use cringle_core::event::{Call, Priority};
use cringle_core::ladder::{ItemId, PlanId};
use cringle_core::units::Knots;
use cringle_core::view::Manoeuvre;

const L: (Key, Press) = (Key::Left, Press::Short);
const M: (Key, Press) = (Key::Middle, Press::Short);
const R: (Key, Press) = (Key::Right, Press::Short);
const HOLD_M: (Key, Press) = (Key::Middle, Press::Long);
const HOLD_R: (Key, Press) = (Key::Right, Press::Long);
const HOLD_L: (Key, Press) = (Key::Left, Press::Long);

fn at(seconds: u64) -> Timestamp {
    Timestamp::from_secs(20_000 + seconds)
}

/// Presses keys a second apart; gives the acts that came of it.
fn walk(ui: &mut Ui, view: &View, keys: &[(Key, Press)]) -> heapless::Vec<Act, 8> {
    keys.iter()
        .enumerate()
        .filter_map(|(second, &(key, press))| ui.press(key, press, view, at(second as u64)))
        .collect()
}

/// Opens the menu and goes down to the entry with this label, then chooses
/// it.
#[track_caller]
fn choose_in_menu(ui: &mut Ui, view: &View, entry: &str) {
    ui.open(List::Menu, view);
    ui.last_key = Some(at(0));
    let all = choices(List::Menu, view);
    let place = all
        .iter()
        .position(|&choice| lists::label(choice, view, &ENGLISH).contains(entry))
        .expect(entry);
    for _ in 0..place {
        assert_eq!(ui.press(R.0, R.1, view, at(0)), None);
    }
    assert_eq!(ui.press(M.0, M.1, view, at(0)), None);
}

#[test]
fn a_call_takes_over_any_page_and_one_press_answers_it() {
    let mut ui = Ui::at(Page::Bench);
    ui.tick(&samples::calm(), at(0));
    let view = samples::prepare();
    ui.tick(&view, at(1));
    assert_eq!(ui.shown(&view), Shown::Call);
    assert_eq!(ui.press(M.0, M.1, &view, at(3)), Some(Act::Acknowledge));
    let view = samples::acknowledged();
    assert_eq!(ui.shown(&view), Shown::Page(Page::Bench));
}

#[test]
fn a_press_meant_for_a_menu_never_answers_a_call_that_has_just_come() {
    let mut ui = Ui::new();
    let calm = samples::calm();
    walk(&mut ui, &calm, &[R, R]);
    assert!(matches!(ui.shown(&calm), Shown::List(List::Menu, 1)));
    let view = samples::reduce();
    ui.tick(&view, at(2));
    let soon = Timestamp::from_millis(at(2).as_millis() + 300);
    assert_eq!(ui.press(M.0, M.1, &view, soon), None);
    assert_eq!(ui.shown(&view), Shown::Call);
    assert_eq!(ui.press(M.0, M.1, &view, at(4)), Some(Act::Acknowledge));
}

#[test]
fn an_escalation_takes_the_screen_from_a_menu_again() {
    let mut ui = Ui::new();
    let mut view = samples::prepare();
    ui.tick(&view, at(0));
    assert_eq!(ui.press(R.0, R.1, &view, at(5)), None);
    assert!(matches!(ui.shown(&view), Shown::List(List::Menu, _)));
    // Gone on to the bunk: whoever deals with it keeps the menu.
    view.call.escalation += 1;
    view.call.revision += 1;
    ui.tick(&view, at(6));
    assert!(matches!(ui.shown(&view), Shown::List(List::Menu, _)));
    // Worse: the call has the screen again.
    ui.tick(&samples::reduce(), at(7));
    assert_eq!(ui.shown(&samples::reduce()), Shown::Call);
}

#[test]
fn a_press_meant_for_a_prepare_never_answers_the_reduce_it_has_become() {
    let mut ui = Ui::new();
    ui.tick(&samples::prepare(), at(0));
    let view = samples::reduce();
    ui.tick(&view, at(5));
    assert_eq!(ui.press(M.0, M.1, &view, at(5)), None);
    assert_eq!(ui.press(M.0, M.1, &view, at(6)), Some(Act::Acknowledge));
}

#[test]
fn begun_is_held_then_confirmed_on_another_key() {
    let view = samples::acknowledged();
    let mut ui = Ui::new();
    assert_eq!(walk(&mut ui, &view, &[HOLD_M]).as_slice(), []);
    assert_eq!(ui.shown(&view), Shown::Confirm(Act::Started));
    // The key that asked does nothing more, however long it is leant on.
    assert_eq!(walk(&mut ui, &view, &[M, HOLD_M, M, HOLD_M]).as_slice(), []);
    assert_eq!(ui.shown(&view), Shown::Confirm(Act::Started));
    assert_eq!(walk(&mut ui, &view, &[R]).as_slice(), [Act::Started]);
    let mut ui = Ui::new();
    assert_eq!(walk(&mut ui, &view, &[HOLD_M, L]).as_slice(), []);
    assert_eq!(ui.shown(&view), Shown::Page(Page::Ladder));
}

#[test]
fn a_change_ends_with_the_plan_confirmed_or_is_given_up() {
    let view = samples::changing();
    let mut ui = Ui::new();
    assert_eq!(
        walk(&mut ui, &view, &[HOLD_M, R]).as_slice(),
        [Act::Plan(PlanId(2))]
    );
    choose_in_menu(&mut ui, &view, "given up");
    assert_eq!(ui.shown(&view), Shown::Confirm(Act::GivenUp));
    assert_eq!(ui.press(R.0, R.1, &view, at(1)), Some(Act::GivenUp));
}

#[test]
fn a_prepare_is_put_off_with_a_reason_and_a_reduce_is_not() {
    let view = samples::prepare();
    let mut ui = Ui::new();
    ui.tick(&view, at(0));
    let put_off = [
        ui.press(L.0, L.1, &view, at(2)),
        ui.press(R.0, R.1, &view, at(3)),
        ui.press(M.0, M.1, &view, at(4)),
        ui.press(M.0, M.1, &view, at(5)),
    ];
    let act = Act::NotNow {
        minutes: 20,
        because: NotNow::Lull,
    };
    assert_eq!(put_off, [None, None, None, Some(act)]);
    let view = samples::reduce();
    let mut ui = Ui::new();
    ui.tick(&view, at(0));
    assert_eq!(ui.press(L.0, L.1, &view, at(2)), None);
    assert_eq!(ui.shown(&view), Shown::Call);
    assert!(!choices(List::Menu, &view).contains(&Choice::Open(List::NotNowWhy)));
}

#[test]
fn every_other_act_is_reached_from_the_menu() {
    let view = samples::unconfirmed();
    let mut ui = Ui::new();
    let mut reach = |entry: &str, keys: &[(Key, Press)]| {
        choose_in_menu(&mut ui, &view, entry);
        walk(&mut ui, &view, keys).first().copied()
    };
    assert_eq!(reach("plan set", &[M, R]), Some(Act::Plan(PlanId(2))));
    assert_eq!(
        reach("squall", &[R, R, M, M]),
        Some(Act::SquallSeen {
            minutes: 15,
            strength: None
        })
    );
    let tick = Act::Setup {
        item: ItemId(1),
        readiness: Readiness::Ready,
    };
    assert_eq!(reach("set-up", &[R, M]), Some(tick));
    let hands = Act::Hands(Hands {
        on_deck: 2,
        below: 1,
    });
    assert_eq!(reach("hands on deck", &[R, M, L, M]), Some(hands));
    assert_eq!(
        reach("crew is", &[R, M]),
        Some(Act::Condition(cringle_core::act::Condition::WornOut))
    );
    assert_eq!(
        reach("boat is", &[R, M]),
        Some(Act::Doing(Doing::MotorSailing))
    );
    assert_eq!(reach("sea", &[R, M]), Some(Act::Sea(Some(Sea::Rough))));
    let by_hand = Act::WindByHand {
        speed: Knots::new(20.0).unwrap(),
        side: PointOfSail::CloseHauled,
    };
    assert_eq!(reach("wind by hand", &[R, M, M]), Some(by_hand));
    assert_eq!(reach("limits confirmed", &[R]), Some(Act::ConfirmLimits));
    assert_eq!(reach("wind calibrated", &[R]), Some(Act::ConfirmWind));
    assert_eq!(
        walk(&mut Ui::new(), &view, &[HOLD_R]).as_slice(),
        [Act::Wake]
    );
}

#[test]
fn a_question_is_put_on_the_home_page_and_one_press_answers_it() {
    for question in Question::ALL {
        let ask = |keys: &[(Key, Press)]| {
            let mut ui = Ui::at(Page::Health);
            let mut view = samples::calm();
            view.question = Some(question);
            view.sounds.cockpit = Some(Priority::Warning);
            ui.tick(&view, at(0));
            assert_eq!(ui.shown(&view), Shown::Page(Page::Ladder));
            // What was meant for the page before is no answer.
            assert_eq!(ui.press(R.0, R.1, &view, at(0)), None);
            ui.last_key = None;
            let labels = ui.labels(&view, &ENGLISH);
            let answer = ENGLISH.name.answer;
            assert_eq!(labels[0].short, answer(question, Reply::No));
            assert_eq!(labels[1].short, ENGLISH.key.acknowledge);
            assert_eq!(labels[2].short, answer(question, Reply::Yes));
            let acts: heapless::Vec<Act, 8> = keys
                .iter()
                .filter_map(|&(key, press)| ui.press(key, press, &view, at(1)))
                .collect();
            (acts, ui.shown(&view))
        };
        let act = |reply| {
            let to = question;
            Act::Answer { to, reply }
        };
        assert_eq!(ask(&[R]).0.as_slice(), [act(Reply::Yes)]);
        let (no, shown) = ask(&[L]);
        assert_eq!(no.as_slice(), [act(Reply::No)]);
        let asks_on = matches!(shown, Shown::List(List::OnDeck, _));
        assert_eq!(asks_on, question == Question::OldHands);
        assert_eq!(ask(&[M]).0.as_slice(), [Act::Acknowledge]);
    }
    // A call comes first: its keys are its own.
    let mut view = samples::prepare();
    view.question = Some(Question::IsItSet);
    let mut ui = Ui::new();
    ui.tick(&view, at(0));
    assert_eq!(ui.press(R.0, R.1, &view, at(3)), None);
    assert!(matches!(ui.shown(&view), Shown::List(List::Menu, _)));
}

#[test]
fn whoever_was_called_is_up_and_on_deck_by_a_key_each() {
    let mut view = samples::calm();
    view.sounds.bunk = Some(Priority::Warning);
    view.muster_left_s = Some(200.0);
    let mut choices_of = |act| {
        let all = choices(List::Menu, &view);
        view.sounds.bunk = None;
        all.contains(&Choice::Do(act))
    };
    assert!(choices_of(Act::UpAtBunk));
    assert!(choices_of(Act::OnDeck));
    assert!(!choices_of(Act::UpAtBunk));
}

#[test]
fn to_stop_the_watch_is_asked_and_to_start_it_is_not() {
    let sailing = samples::calm();
    let stops = choices(List::Doing, &sailing);
    assert!(stops.contains(&Choice::Ask(Act::Doing(Doing::Anchored))));
    let anchored = samples::anchored();
    let starts = choices(List::Doing, &anchored);
    assert!(starts.contains(&Choice::Do(Act::Doing(Doing::Sailing))));
}

#[test]
fn ticks_stay_in_their_list() {
    let view = samples::calm();
    let mut ui = Ui::at(Page::Setup);
    let acts = walk(&mut ui, &view, &[M, M, R, M]);
    assert_eq!(acts.len(), 2);
    assert!(matches!(ui.shown(&view), Shown::List(List::Setup, 1)));
}

#[test]
fn menus_and_questions_left_alone_go_away_without_an_act() {
    let view = samples::acknowledged();
    for (keys, seconds) in [(&[R, R][..], 31), (&[HOLD_M][..], 16)] {
        let mut ui = Ui::new();
        walk(&mut ui, &view, keys);
        ui.tick(&view, at(seconds + keys.len() as u64));
        assert_eq!(ui.shown(&view), Shown::Page(Page::Ladder));
    }
}

#[test]
fn a_late_yes_to_a_question_that_has_gone_is_no_yes() {
    let view = samples::acknowledged();
    let mut ui = Ui::new();
    walk(&mut ui, &view, &[HOLD_M]);
    assert_eq!(ui.press(R.0, R.1, &view, at(20)), None);
}

#[test]
fn the_page_key_goes_round_and_the_middle_one_home() {
    let view = samples::calm();
    let mut ui = Ui::new();
    for page in Page::ALL {
        assert_eq!(ui.shown(&view), Shown::Page(page));
        walk(&mut ui, &view, &[L]);
    }
    assert_eq!(ui.shown(&view), Shown::Page(Page::Ladder));
    walk(&mut ui, &view, &[L, M]);
    assert_eq!(ui.shown(&view), Shown::Page(Page::Ladder));
}

#[test]
fn the_light_key_steps_down_and_round() {
    let view = samples::calm();
    let mut ui = Ui::new();
    let steps: heapless::Vec<u8, 6> = (0..6)
        .map(|_| {
            walk(&mut ui, &view, &[HOLD_L]);
            ui.look(&view).brightness.step()
        })
        .collect();
    assert_eq!(steps.as_slice(), [4, 3, 2, 1, 5, 4]);
}

#[test]
fn the_palette_goes_by_twilight_until_chosen() {
    let mut ui = Ui::new();
    let (day, night) = (samples::calm(), samples::acknowledged());
    assert_eq!(ui.look(&day).palette, Palette::Day);
    assert_eq!(ui.look(&night).palette, Palette::Night);
    ui.take_look_step(LookStep::Day);
    assert_eq!(ui.look(&night).palette, Palette::Day);
}

#[test]
fn a_call_that_came_and_went_is_answered_too() {
    let view = samples::went();
    let mut ui = Ui::at(Page::Wind);
    ui.tick(&view, at(0));
    assert_eq!(ui.shown(&view), Shown::Page(Page::Ladder));
    assert_eq!(ui.press(M.0, M.1, &view, at(2)), Some(Act::Acknowledge));
}

/// Acts that begin, end or enter a reduction, or stop the watch.
fn is_weighty(act: Act) -> bool {
    match act {
        Act::Started
        | Act::GivenUp
        | Act::Plan(_)
        | Act::PlanDown
        | Act::PlanUp
        | Act::ConfirmLimits
        | Act::ConfirmWind => true,
        Act::Doing(doing) => !doing.is_under_sail(),
        _ => false,
    }
}

/// A small generator, so that the walk is the same each time.
fn random(state: &mut u64) -> u64 {
    *state = state
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add(1_442_695_040_888_963_407);
    *state >> 33
}

#[test]
fn no_random_walk_does_anything_weighty_without_its_question() {
    let views: [View; 5] = [
        samples::calm(),
        samples::prepare(),
        samples::reduce(),
        samples::changing(),
        samples::unconfirmed(),
    ];
    let mut state = 42;
    let mut ui = Ui::new();
    let mut millis = at(0).as_millis();
    let (mut weighty, mut acts) = (0, 0);
    for _ in 0..60_000 {
        let view = &views[(random(&mut state) % 5) as usize];
        millis += random(&mut state) % 2_500;
        let now = Timestamp::from_millis(millis);
        let key = [Key::Left, Key::Middle, Key::Right][(random(&mut state) % 3) as usize];
        let press = if random(&mut state).is_multiple_of(6) {
            Press::Long
        } else {
            Press::Short
        };
        ui.tick(view, now);
        let before = ui.shown(view);
        if let Some(act) = ui.press(key, press, view, now) {
            acts += 1;
            if is_weighty(act) {
                weighty += 1;
                assert_eq!(before, Shown::Confirm(act));
                assert_eq!((key, press), (Key::Right, Press::Short));
            }
        }
    }
    assert!(
        acts > 1_000 && weighty > 20,
        "{acts} acts, {weighty} weighty"
    );
}

#[test]
fn no_key_names_what_it_does_not_do() {
    let mut changing = samples::changing();
    changing.manoeuvre = changing.manoeuvre.map(|m| Manoeuvre { to: PlanId(3), ..m });
    for view in [
        samples::calm(),
        samples::prepare(),
        samples::past(),
        changing,
        samples::anchored(),
        samples::went(),
        samples::doubted(),
    ] {
        for page in Page::ALL {
            let fresh = || {
                let mut ui = Ui::at(page);
                ui.tick(&view, at(0));
                ui
            };
            let labels = fresh().labels(&view, &ENGLISH);
            for (label, key) in labels.iter().zip([Key::Left, Key::Middle, Key::Right]) {
                for (name, press) in [(label.short, Press::Short), (label.long, Press::Long)] {
                    let (before, mut ui) = (fresh(), fresh());
                    let act = ui.press(key, press, &view, at(5));
                    ui.last_key = before.last_key;
                    ui.now = before.now;
                    let did = act.is_some() || ui != before;
                    let is_home_at_home = name == ENGLISH.key.home && page == Page::Ladder;
                    assert_eq!(
                        did,
                        !name.is_empty() || is_home_at_home,
                        "{page:?} {key:?} {press:?} {name}"
                    );
                }
            }
        }
    }
}

#[test]
fn a_squall_that_was_seen_is_taken_back_only_when_asked() {
    let mut view = samples::calm();
    let gone = Choice::Ask(Act::SquallSeen {
        minutes: 0,
        strength: None,
    });
    assert!(!choices(List::Squall, &view).contains(&gone));
    view.squall_due = Some(view.now.after(Duration::from_secs(600)));
    assert_eq!(choices(List::Squall, &view).first(), Some(&gone));
    let pressed = |keys: &[(Key, Press)]| {
        let mut ui = Ui::new();
        ui.open(List::Squall, &view);
        ui.last_key = Some(at(0));
        walk(&mut ui, &view, keys)
    };
    // The cursor begins below it; a press there tells of another squall.
    assert_eq!(
        pressed(&[M, M])[..],
        [Act::SquallSeen {
            minutes: 5,
            strength: None
        }]
    );
    let strength = Knots::new(25.0).ok();
    let seen = Act::SquallSeen {
        minutes: 5,
        strength,
    };
    assert_eq!(pressed(&[M, R, R, M])[..], [seen]);
    assert_eq!(pressed(&[L, M])[..], []);
    assert_eq!(
        pressed(&[L, M, R])[..],
        [Act::SquallSeen {
            minutes: 0,
            strength: None
        }]
    );
}

#[test]
fn no_menu_is_longer_than_a_list_holds() {
    for (_, make) in samples::MOMENTS {
        let view = make();
        assert!(choices(List::Menu, &view).len() < lists::MAX_CHOICES);
        assert_eq!(choices(List::WindSpeed, &view).len(), 29);
    }
    assert_eq!(samples::past().call.call, Call::Past);
}

#[test]
fn a_doubt_is_answered_from_home_by_the_middle_key() {
    let mut view = samples::doubted();
    let mut ui = Ui::new();
    walk(&mut ui, &view, &[M]);
    assert!(matches!(ui.shown(&view), Shown::List(List::Plans, _)));
    view.hints = [Hint::DoingDoubted].into_iter().collect();
    let mut ui = Ui::new();
    walk(&mut ui, &view, &[M]);
    assert!(matches!(ui.shown(&view), Shown::List(List::Doing, 0)));
}

#[test]
fn keys_are_named_by_a_persons_time_though_the_cores_runs_faster() {
    let mut view = samples::calm();
    let mut ui = Ui::new();
    assert!(!ui.names_keys());
    ui.press(Key::Left, Press::Short, &view, at(5));
    // Five minutes by the core, a second by the wall.
    view.now = view.now.after(Duration::from_secs(300));
    ui.tick(&view, at(6));
    assert!(ui.names_keys());
    ui.tick(&view, at(15));
    assert!(!ui.names_keys());
}
