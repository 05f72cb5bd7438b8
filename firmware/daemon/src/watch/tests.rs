//! The loop on a stopped clock.

use super::*;
use std::cell::RefCell;
use std::rc::Rc;

use cringle_core::event::Call;

use crate::ports::{Line, Place, Port};
use crate::wiring;

type Told = Rc<RefCell<Vec<Event>>>;

/// A watch with one port on which nobody speaks but the test.
fn watcher(clock: Clock) -> (Watcher, Told) {
    let boat_file = cringle_boat::example().unwrap();
    let names = vec!["mast".to_owned()];
    let decoders = wiring::decoders(&boat_file, &names);
    let port = Port {
        id: PortId(0),
        name: "mast".into(),
        place: Place::StandardInput,
    };
    let told = Told::default();
    let teller = Rc::clone(&told);
    let parts = Parts {
        engine: Engine::new(&boat_file.boat, decoders, None, Timestamp::ZERO),
        names: wiring::names(&boat_file, &names),
        aboard: Aboard::new(&[port], DataOrigin::Live),
        clock,
        recorder: None,
        store: None,
        outputs: None,
        tellers: vec![Box::new(move |event, _| {
            teller.borrow_mut().push(event.clone());
        })],
        faces: Vec::new(),
        progress: Progress::default(),
        unsure: Vec::new(),
        boat_file,
    };
    (Watcher::new(parts), told)
}

fn calls(told: &Told) -> Vec<Call> {
    let told = told.borrow();
    let calls = told.iter().filter(|it| it.kind == EventKind::Call);
    calls.map(|event| event.call).collect()
}

#[tokio::test(start_paused = true)]
async fn a_watch_that_hears_nothing_calls_itself_blind_by_its_own_clock() {
    let (mut watcher, told) = watcher(Clock::real());
    let (_news, coming) = mpsc::channel(1);
    let (_keys, inputs) = mpsc::channel(1);
    let stop = Arc::new(Notify::new());
    let later = Arc::clone(&stop);
    tokio::spawn(async move {
        tokio::time::sleep(Duration::from_secs(120)).await;
        later.notify_one();
    });
    let ended = watcher.run(&[], coming, inputs, stop).await;
    assert_eq!(ended, Ended::Stopped);
    // Once when it is noticed, perhaps again when it is still so.
    let calls = calls(&told);
    assert!(!calls.is_empty() && calls.iter().all(|call| *call == Call::Blind));
    let finished = watcher.finish();
    assert!(finished.view.now >= Timestamp::from_secs(120));
}

#[tokio::test(start_paused = true)]
async fn an_act_is_taken_and_the_end_of_all_ports_ends_the_watch() {
    let (mut watcher, told) = watcher(Clock::real());
    let (news, coming) = mpsc::channel(8);
    let (keys, inputs) = mpsc::channel(8);
    keys.send(Input::Act(Act::PlanDown)).await.unwrap();
    tokio::spawn(async move {
        tokio::time::sleep(Duration::from_secs(5)).await;
        let at = Timestamp::from_secs(5);
        for what in [What::Open, What::Line(Line::new()), What::Ended] {
            let port = PortId(0);
            news.send(News { port, at, what }).await.unwrap();
        }
    });
    let ended = watcher.run(&[], coming, inputs, Arc::default()).await;
    assert_eq!(ended, Ended::InputsEnded);
    let told = told.borrow();
    let plan = told.iter().find(|it| it.kind == EventKind::Plan);
    assert_eq!(plan.expect("no plan was told").plan.0, 1);
}

/// Keeps the calls that it was shown.
struct Witness(Rc<RefCell<Vec<Call>>>);

impl Face for Witness {
    fn show(&mut self, view: &View, _: &Aboard) {
        self.0.borrow_mut().push(view.call.call);
    }

    fn take(&mut self, _: Input, _: &View) -> Stroke {
        Stroke::Nothing
    }
}

#[test]
fn a_call_is_shown_with_its_event_and_not_at_the_next_beat() {
    let (winder, clock) = Clock::by_hand();
    let (mut watcher, told) = watcher(clock);
    let shown = Rc::new(RefCell::new(Vec::new()));
    watcher.parts.faces = vec![Box::new(Witness(Rc::clone(&shown)))];
    for second in 1..=60 {
        winder.wind_to(Timestamp::from_secs(second));
        watcher.tick();
        watcher.settle(&[]);
        if !calls(&told).is_empty() {
            break;
        }
        assert!(shown.borrow().is_empty(), "nothing to see at {second} s");
    }
    // No beat was done: only the event can have shown it.
    assert_eq!(*shown.borrow(), [Call::Blind]);
}

#[test]
fn what_the_crew_says_is_kept_at_once_though_it_makes_no_event() {
    let (_, clock) = Clock::by_hand();
    let (mut watcher, _) = watcher(clock);
    let before = watcher.saved.clone();
    watcher.act(Act::ConfirmLimits);
    assert_ne!(watcher.saved, before);
    let before = watcher.saved.clone();
    let table = cringle_boat::read_forecast("2026-11-08T12:00Z 18").unwrap();
    watcher.forecast(Some(table.clone()));
    assert_ne!(watcher.saved, before);
    assert_eq!(watcher.parts.aboard.forecast.as_deref(), Some(&table));
    assert_eq!(watcher.saved, watcher.parts.engine.saved());
}

#[test]
fn time_never_goes_back_though_a_line_comes_late() {
    let (winder, clock) = Clock::by_hand();
    let (mut watcher, _) = watcher(clock);
    winder.wind_to(Timestamp::from_secs(60));
    watcher.tick();
    watcher.hear(&News {
        port: PortId(0),
        at: Timestamp::from_secs(59),
        what: What::Line(Line::from_slice(b"$YXXDR,A,12.4,D,HEEL*59").unwrap()),
    });
    assert_eq!(watcher.parts.engine.view().now, Timestamp::from_secs(60));
}

#[test]
fn what_is_not_sure_after_a_restart_is_asked_until_the_crew_has_said_it() {
    let (_, clock) = Clock::by_hand();
    let (mut watcher, _) = watcher(clock);
    watcher.parts.unsure = vec![Unsure::Plan, Unsure::Forecast];
    watcher.beat();
    assert_eq!(watcher.parts.aboard.devices.len(), 2);
    watcher.act(Act::PlanDown);
    watcher.beat();
    let asked = &watcher.parts.aboard.devices;
    assert!(
        asked.len() == 1 && asked[0].contains("forecast"),
        "{asked:?}"
    );
    watcher.forecast(None);
    watcher.beat();
    assert_eq!(watcher.parts.aboard.devices, [""; 0]);
}
