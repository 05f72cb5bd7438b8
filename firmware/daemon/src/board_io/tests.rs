//! A board without hardware: fakes behind the traits of panel, keys, sounders.

use super::*;

use std::cell::RefCell;
use std::rc::Rc;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use cringle_boards::board::SounderName;
use cringle_boards::frame::{Depth, Frame, Geometry};
use cringle_boards::key::{KeyEvent, KeyFault, KeyName, KeySource, Press};
use cringle_boards::panel::{Brightness, Change, Chip, Haste, Kept, RedrawLimits};
use cringle_boards::sound::{Horn, Level, Sounder};
use cringle_core::act::Act;
use cringle_core::event::{Call, EventKind};
use cringle_screen::panel::Panel as GlassKind;
use cringle_screen::samples;
use tokio::sync::Notify;

use crate::engine::Engine;
use crate::ports::{Place, Port, PortId};
use crate::progress::Progress;
use crate::watch::{Parts, Watcher};
use crate::wiring;
use moment::LatestMoment;
use paint::Studio;

const OLED: Geometry = Geometry {
    width: 128,
    height: 64,
    depth: Depth::Mono,
};
const PAPER: Geometry = Geometry {
    width: 296,
    height: 128,
    depth: Depth::Mono,
};

fn at(millis: u64) -> Timestamp {
    Timestamp::from_millis(millis)
}

/// A clock wound by hand.
#[derive(Clone, Default)]
struct Hand(Arc<AtomicU64>);

impl Hand {
    fn wind_to(&self, millis: u64) {
        self.0.store(millis, Ordering::SeqCst);
    }

    fn wall(&self) -> Wall {
        let hand = self.clone();
        Arc::new(move || at(hand.0.load(Ordering::SeqCst)))
    }
}

/// Waits for what another thread does, but not for ever.
#[track_caller]
fn soon(what: &str, mut is_so: impl FnMut() -> bool) {
    for _ in 0..5000 {
        if is_so() {
            return;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    panic!("never {what}");
}

/// A chip whose plug can be pulled.
#[derive(Clone, Default)]
struct Bench(Arc<Mutex<Bus>>);

#[derive(Default)]
struct Bus {
    pulled: bool,
    starts: u32,
    last: Option<Frame>,
}

impl Bench {
    fn panel(&self) -> Box<dyn cringle_boards::panel::Panel> {
        let bench = self.clone();
        let open = Box::new(move |_: &_| Ok::<_, String>(bench.clone()));
        Box::new(Kept::new("bench", OLED, RedrawLimits::oled(), open))
    }

    fn act(&self, act: impl FnOnce(&mut Bus)) -> Result<(), String> {
        let mut bus = self.0.lock().unwrap();
        if bus.pulled {
            return Err("no such device".into());
        }
        act(&mut bus);
        Ok(())
    }

    fn pull(&self, pulled: bool) {
        self.0.lock().unwrap().pulled = pulled;
    }

    fn starts(&self) -> u32 {
        self.0.lock().unwrap().starts
    }

    fn last(&self) -> Option<Frame> {
        self.0.lock().unwrap().last.clone()
    }
}

impl Chip for Bench {
    fn start(&mut self) -> Result<(), String> {
        self.act(|bus| bus.starts += 1)
    }

    fn send_whole(&mut self, frame: &Frame) -> Result<(), String> {
        self.act(|bus| bus.last = Some(frame.clone()))
    }

    fn send_parts(&mut self, change: &Change<'_>) -> Result<(), String> {
        self.act(|bus| bus.last = Some(change.new.clone()))
    }

    fn set_brightness(&mut self, _: Brightness) -> Result<(), String> {
        self.act(|_| {})
    }
}

/// Keys that a hand presses again and again.
struct Hands;

impl KeySource for Hands {
    fn wait(&mut self, _: Duration) {
        std::thread::sleep(Duration::from_millis(5));
    }

    fn presses(&mut self, _: Timestamp) -> Result<Vec<KeyEvent>, KeyFault> {
        Ok(vec![KeyEvent {
            key: KeyName::Middle,
            press: Press::Short,
        }])
    }

    fn stuck(&self) -> Vec<KeyName> {
        Vec::new()
    }

    fn next_deadline(&self) -> Option<Timestamp> {
        None
    }
}

#[test]
fn any_press_of_the_key_at_the_bunk_but_a_lashing_is_up_at_the_bunk() {
    struct Bunk(Press);
    impl KeySource for Bunk {
        fn wait(&mut self, _: Duration) {}
        fn presses(&mut self, _: Timestamp) -> Result<Vec<KeyEvent>, KeyFault> {
            Ok(vec![KeyEvent {
                key: KeyName::Bunk,
                press: self.0,
            }])
        }
        fn stuck(&self) -> Vec<KeyName> {
            Vec::new()
        }
        fn next_deadline(&self) -> Option<Timestamp> {
            None
        }
    }
    for (press, inputs) in [
        (Press::Short, vec![Input::Act(Act::UpAtBunk)]),
        (Press::Long, vec![Input::Act(Act::UpAtBunk)]),
        (Press::Stuck, vec![]),
    ] {
        let mut listener = Listener::new(Box::new(Bunk(press)), Faults::default());
        assert_eq!(listener.presses(Timestamp::ZERO), inputs);
    }
}

/// Keys under water, or with a cut wire.
struct Wet(Result<Vec<KeyName>, KeyFault>);

impl KeySource for Wet {
    fn wait(&mut self, _: Duration) {}

    fn presses(&mut self, _: Timestamp) -> Result<Vec<KeyEvent>, KeyFault> {
        self.0.clone().map(|_| Vec::new())
    }

    fn stuck(&self) -> Vec<KeyName> {
        self.0.clone().unwrap_or_default()
    }

    fn next_deadline(&self) -> Option<Timestamp> {
        None
    }
}

/// A sounder that writes down when it was switched on.
#[derive(Clone, Default)]
struct SharedLine(Arc<Mutex<Level0>>);

#[derive(Default)]
struct Level0 {
    on: bool,
    times: u32,
}

impl Sounder for SharedLine {
    fn set(&mut self, level: Level) -> Result<(), String> {
        let mut line = self.0.lock().unwrap();
        line.on = level == Level::On;
        line.times += u32::from(line.on);
        Ok(())
    }
}

impl SharedLine {
    fn horn(&self, name: SounderName) -> (SounderName, Horn) {
        let line = self.clone();
        let open = move || Ok(Box::new(line.clone()) as Box<dyn Sounder>);
        (name, Horn::new(name.as_str(), Box::new(open)))
    }

    fn times(&self) -> u32 {
        self.0.lock().unwrap().times
    }

    fn is_on(&self) -> bool {
        self.0.lock().unwrap().on
    }
}

fn moment(view: View, wall: Timestamp) -> Moment {
    Moment {
        view,
        aboard: Aboard::default(),
        ui: Ui::new(),
        touch: Touch::None,
        at: wall,
    }
}

fn found(view: View, wall: Timestamp) -> LatestMoment {
    LatestMoment {
        moment: Some(Arc::new(moment(view, wall))),
        ..LatestMoment::default()
    }
}

fn nobody() -> mpsc::Sender<Input> {
    mpsc::channel(1).0
}

/// A watch that hears nothing calls itself blind; a key of the board acknowledges.
#[tokio::test(start_paused = true)]
async fn a_press_on_the_board_acknowledges_the_call() {
    let boat_file = cringle_boat::example().unwrap();
    let ports = vec!["mast".to_owned()];
    let port = Port {
        id: PortId(0),
        name: "mast".into(),
        place: Place::StandardInput,
    };
    let (sender, inputs) = mpsc::channel(16);
    let devices = Devices {
        keys: Some(Box::new(Hands)),
        ..Devices::default()
    };
    // A tenth of a second between any two looks at the clock.
    let ticking = AtomicU64::new(0);
    let wall: Wall = Arc::new(move || at(ticking.fetch_add(100, Ordering::SeqCst)));
    let board_io = BoardIo::start_by(devices, sender, wall);
    let told = Rc::new(RefCell::new(Vec::new()));
    let stop = Arc::new(Notify::new());
    let (teller, acknowledged) = (Rc::clone(&told), Arc::clone(&stop));
    let mut watcher = Watcher::new(Parts {
        engine: Engine::new(
            &boat_file.boat,
            wiring::decoders(&boat_file, &ports),
            None,
            Timestamp::ZERO,
        ),
        names: wiring::names(&boat_file, &ports),
        aboard: Aboard::new(&[port], cringle_screen::aboard::DataOrigin::Live),
        clock: Clock::real(),
        recorder: None,
        store: None,
        outputs: None,
        tellers: vec![Box::new(move |event, _| {
            teller.borrow_mut().push((event.kind.clone(), event.call));
            if event.kind == EventKind::Acknowledge {
                acknowledged.notify_one();
            }
        })],
        faces: vec![Box::new(board_io)],
        progress: Progress::default(),
        unsure: Vec::new(),
        boat_file,
    });
    let (_news, coming) = mpsc::channel(1);
    watcher.run(&[], coming, inputs, stop).await;
    let told = told.borrow();
    let last = told.last().unwrap();
    assert_eq!(*last, (EventKind::Acknowledge, Call::Blind));
}

#[test]
fn an_unplugged_panel_is_told_and_started_afresh_when_it_is_back() {
    let (bench, hand) = (Bench::default(), Hand::default());
    let devices = Devices {
        panel: Some((bench.panel(), GlassKind::OLED_2_42)),
        ..Devices::default()
    };
    let mut board_io = BoardIo::start_by(devices, nobody(), hand.wall());
    // Each second the picture is another one: the panel has to be written.
    let second = std::cell::Cell::new(0);
    let go_on = |board_io: &mut BoardIo| {
        second.set(second.get() + 1);
        hand.wind_to(second.get() * 1000);
        let views = [samples::calm, samples::reduce];
        let mut view = views[second.get() as usize % 2]();
        view.now = at(second.get() * 1000);
        board_io.show(&view, &Aboard::default());
    };
    go_on(&mut board_io);
    soon("shown", || bench.last().is_some());
    assert_eq!(board_io.faults(), [""; 0]);

    bench.pull(true);
    soon("faulty", || {
        go_on(&mut board_io);
        !board_io.faults().is_empty()
    });
    let told = "panel on bench does not answer: no such device";
    assert_eq!(board_io.faults(), [told]);

    bench.pull(false);
    soon("mended", || {
        go_on(&mut board_io);
        board_io.faults().is_empty()
    });
    assert_eq!(bench.starts(), 2);
}

#[test]
fn the_last_picture_says_that_nobody_watches() {
    let (bench, hand) = (Bench::default(), Hand::default());
    let devices = Devices {
        panel: Some((bench.panel(), GlassKind::OLED_2_42)),
        ..Devices::default()
    };
    let mut board_io = BoardIo::start_by(devices, nobody(), hand.wall());
    board_io.show(&samples::calm(), &Aboard::default());
    soon("shown", || bench.last().is_some());
    let calm = bench.last().unwrap();
    drop(board_io);
    let studio = Studio::new(OLED, GlassKind::OLED_2_42);
    let last = studio.not_watching(Some(&moment(samples::calm(), at(0))));
    assert_eq!(bench.last(), Some(last.clone()));
    assert_ne!(last, calm);
    assert_ne!(last, studio.not_watching(None), "the time is on it");
}

#[test]
fn glass_is_drawn_once_a_second_and_at_the_edges_of_the_flash() {
    let drawn = |view: fn() -> View| -> Vec<u64> {
        let mut studio = Studio::new(OLED, GlassKind::OLED_2_42);
        let found = found(view(), at(0));
        (0..3000)
            .step_by(10)
            .filter(|ms| studio.draw(&found, at(*ms)).is_some())
            .collect()
    };
    assert_eq!(drawn(samples::calm), [0, 1000, 2000]);
    assert_eq!(drawn(samples::prepare), [0, 600, 1000, 1600, 2000, 2600]);
    let studio = Studio::new(OLED, GlassKind::OLED_2_42);
    let found = found(samples::prepare(), at(0));
    assert_eq!(studio.next(&found, at(10)), at(600));
    assert_eq!(studio.next(&found, at(700)), at(1000));
}

#[test]
fn paper_is_drawn_when_it_is_worth_it_and_wiped_between() {
    let mut studio = Studio::new(PAPER, GlassKind::PAPER_2_9);
    let mut hastes = Vec::new();
    for second in 0..600 {
        let mut view = samples::calm();
        view.now = at(second * 1000);
        let found = found(view, at(second * 1000));
        hastes.extend(
            studio
                .draw(&found, at(second * 1000))
                .map(|(_, haste)| haste),
        );
    }
    assert_eq!(hastes.len(), 10, "once a minute in a calm");
    assert_eq!(hastes[0], Haste::Whole);
    let wiped = hastes.iter().filter(|it| **it == Haste::Whole).count();
    assert_eq!(wiped, 2, "after eight turns in part");
}

#[test]
fn paper_is_mostly_white() {
    let mut studio = Studio::new(PAPER, GlassKind::PAPER_2_9);
    let (frame, _) = studio.draw(&found(samples::calm(), at(0)), at(0)).unwrap();
    let Frame::Mono(picture) = &frame else {
        panic!("paper is mono");
    };
    let all = frame.whole();
    let inked = picture.pixels_in(&all).filter(|it| it.1.is_on()).count();
    assert!(inked * 2 < 296 * 128, "{inked} pixels are black");
}

#[test]
fn a_loop_that_hangs_is_shown_after_five_seconds_and_sounded_after_ten() {
    let buzzer = SharedLine::default();
    let mut sounders = Sounders::new(
        vec![buzzer.horn(SounderName::Buzzer)],
        Faults::default(),
        at(0),
    );
    let calm = moment(samples::calm(), at(0));
    let play = |sounders: &mut Sounders, until: u64| {
        let mut now = sounders.play(Some(&calm), at(0));
        while now < at(until) {
            now = sounders.play(Some(&calm), now);
        }
    };
    play(&mut sounders, 9_900);
    assert_eq!(buzzer.times(), 1, "the self-check at the start");
    play(&mut sounders, 11_000);
    assert!(buzzer.times() > 1);

    let aged = calm.aged(at(5_000));
    let frozen = crate::picture::with_screen_part(&aged.aboard, aged.view.now, |part| {
        part.alive.is_stopped(&aged.view)
    });
    assert!(frozen);
}

#[test]
fn nothing_sounds_at_anchor_though_the_loop_hangs() {
    let buzzer = SharedLine::default();
    let horns = vec![buzzer.horn(SounderName::Buzzer)];
    let mut sounders = Sounders::new(horns, Faults::default(), at(0));
    let anchored = moment(samples::anchored(), at(0));
    let mut now = at(0);
    while now < at(60_000) {
        now = sounders.play(Some(&anchored), now);
    }
    assert_eq!(buzzer.times(), 1, "the self-check at the start");
}

#[test]
fn a_stuck_key_and_a_cut_wire_are_faults() {
    let faults = Faults::default();
    let stuck = Wet(Ok(vec![KeyName::Left]));
    Listener::new(Box::new(stuck), faults.clone()).presses(at(0));
    assert_eq!(faults.all(), ["key stuck: left"]);
    let cut = Wet(Err(KeyFault { why: "gone".into() }));
    Listener::new(Box::new(cut), faults.clone()).presses(at(0));
    assert_eq!(faults.all(), ["keys cannot be read: gone"]);
    Listener::new(Box::new(Wet(Ok(vec![]))), faults.clone()).presses(at(0));
    assert_eq!(faults.all(), [""; 0]);
}

#[test]
fn a_long_press_is_as_long_on_the_board_as_on_the_screen() {
    let screen = cringle_screen::ui::keys::LONG_PRESS_MS;
    assert_eq!(cringle_boards::key::LONG.as_millis(), u128::from(screen));
}

/// Wind that rises towards the first limit, heard as sentences.
#[test]
fn an_unacknowledged_prepare_sounds_at_the_bunk_after_thirty_seconds() {
    let boat_file = cringle_boat::example().unwrap();
    let ports = vec!["mast".to_owned()];
    let decoders = wiring::decoders(&boat_file, &ports);
    let mut engine = Engine::new(&boat_file.boat, decoders, None, Timestamp::ZERO);
    let (buzzer, bunk) = (SharedLine::default(), SharedLine::default());
    let horns = vec![
        buzzer.horn(SounderName::Buzzer),
        bunk.horn(SounderName::Bunk),
    ];
    let mut sounders = Sounders::new(horns, Faults::default(), at(0));
    let mut prepared = None;
    for second in 1..3600 {
        let now = at(second * 1000);
        for line in sentences(second) {
            engine.line(PortId(0), line.as_bytes(), now);
        }
        let view = engine.view();
        let call = view.call.call;
        sounders.play(Some(&moment(view, now)), now);
        if prepared.is_none() && call == Call::Prepare {
            prepared = Some((second, bunk.times()));
            assert!(buzzer.is_on(), "at the wheel at once");
        }
        let Some((since, quiet)) = prepared else {
            continue;
        };
        assert_eq!(call, Call::Prepare);
        if second < since + 30 {
            assert_eq!(bunk.times(), quiet, "{} s after", second - since);
        }
        if second > since + 31 {
            assert!(bunk.times() > quiet);
            return;
        }
    }
    panic!("the wind never brought a call");
}

fn sentences(second: u64) -> [String; 2] {
    let s = second as f64;
    let (angle, knots) = (45.0 + 4.0 * (s / 7.0).sin(), 8.0 + s / 300.0);
    [
        format!("WIMWV,{angle:05.1},R,{knots:.1},N,A"),
        "VWVHW,,,,,0.0,N,0.0,K".to_owned(),
    ]
    .map(|body| {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("${body}*{sum:02X}")
    })
}
