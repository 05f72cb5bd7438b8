//! The whole program in process: engine, loop, store and recorder on a clock wound by
//! hand and a disk in memory. Only ports and page are left out; what they would hand
//! over is handed over here.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

use cringle::aboard::Aboard;
use cringle::before::state_before;
use cringle::clock::{Clock, Winder};
use cringle::engine::Engine;
use cringle::face::{Face, Input, Stroke};
use cringle::ports::{Line, News, Place, Port, PortId, What};
use cringle::progress::Progress;
use cringle::recorder::lines::Entry;
use cringle::recorder::{Packing, Recorder, Settings, Writer};
use cringle::state::Unsure;
use cringle::store::{Keeper, Store, StoreSettings};
use cringle::watch::{Parts, Watcher};
use cringle::wiring;
use cringle_boat::BoatFile;
use cringle_core::act::Act;
use cringle_core::event::Call;
use cringle_core::ladder::PlanId;
use cringle_core::time::Timestamp;
use cringle_core::view::View;
use cringle_screen::aboard::DataOrigin;

use super::disk::SimDisk;

/// Where state and events lie on that disk.
pub(crate) const STATE: &str = "/state";
/// And the recordings.
pub(crate) const RECORDINGS: &str = "/recordings";

/// What screens show, as far as a judge wants to know.
#[derive(Clone, Debug, Default)]
pub(crate) struct Shown {
    pub(crate) call: Call,
    /// Numbers have vanished, or it is said that nothing can be judged.
    pub(crate) is_blind: bool,
    /// It is said that there are no odds, or none that know a trend.
    pub(crate) is_warming: bool,
    pub(crate) faults: Vec<String>,
}

struct Screen(Rc<RefCell<Shown>>);

impl Face for Screen {
    fn show(&mut self, view: &View, aboard: &Aboard) {
        let mut faults = aboard.faults(view.now);
        faults.extend(view.faults.iter().map(|fault| format!("{fault:?}")));
        *self.0.borrow_mut() = Shown {
            call: view.call.call,
            is_blind: view.call.call == Call::Blind || view.wind.mean_1min_kn.is_none(),
            is_warming: view.call.odds_ahead.is_none()
                || faults
                    .iter()
                    .any(|it| it.contains(Unsure::Trend.question())),
            faults,
        };
    }

    fn take(&mut self, _: Input, _: &View) -> Stroke {
        Stroke::Nothing
    }
}

/// The program while it runs.
pub(crate) struct Program {
    watcher: Watcher,
    keeper: Keeper,
    writer: Writer,
    winder: Winder,
    began: u64,
    shown: Rc<RefCell<Shown>>,
}

impl Program {
    /// Starts at this second of the day on what the disk has.
    pub(crate) fn start(boat_file: &BoatFile, disk: &SimDisk, second: u64) -> Program {
        let (winder, clock) = Clock::by_hand();
        let names = vec!["mast".to_owned()];
        let (state, unsure) = state_before(disk, boat_file, Path::new(STATE), None);
        let engine = Engine::new(
            &boat_file.boat,
            wiring::decoders(boat_file, &names),
            state.as_ref().map(|state| &state.saved),
            Timestamp::ZERO,
        );
        let port = Port {
            id: PortId(0),
            name: "mast".into(),
            place: Place::StandardInput,
        };
        let (store, keeper) = Store::apart(
            StoreSettings::new(STATE.into()),
            Arc::new(disk.clone()),
            clock.clone(),
        );
        let (recorder, mut writer) = recorder(boat_file, disk, clock.clone());
        writer.begin();
        if let Some(state) = &state {
            let line = state.write(&boat_file.boat);
            recorder.record(Timestamp::ZERO, &Entry::State(Timestamp::ZERO, line));
        }
        let shown = Rc::<RefCell<Shown>>::default();
        let watcher = Watcher::new(Parts {
            engine,
            names: wiring::names(boat_file, &names),
            aboard: Aboard::new(&[port], DataOrigin::Live),
            clock,
            recorder: Some(recorder),
            store: Some(store),
            outputs: None,
            tellers: Vec::new(),
            faces: vec![Box::new(Screen(Rc::clone(&shown)))],
            progress: Progress::default(),
            unsure,
            boat_file: boat_file.clone(),
        });
        let mut program = Program {
            watcher,
            keeper,
            writer,
            winder,
            began: second,
            shown,
        };
        program.news(second, What::Open);
        program
    }

    fn at(&self, second: u64) -> Timestamp {
        Timestamp::from_secs(second - self.began)
    }

    /// Something from the port.
    pub(crate) fn news(&mut self, second: u64, what: What) {
        let at = self.at(second);
        let port = PortId(0);
        self.watcher.hear(&News { port, at, what });
    }

    /// A line from the port, if it is one.
    pub(crate) fn line(&mut self, second: u64, bytes: &[u8]) {
        if let Ok(line) = Line::from_slice(bytes) {
            self.news(second, What::Line(line));
        }
    }

    /// Something the crew does.
    pub(crate) fn act(&mut self, act: Act) {
        self.watcher.act(act);
    }

    /// Lets a second go by; what is left for the disk waits.
    pub(crate) fn tick(&mut self, second: u64) {
        self.winder.wind_to(self.at(second));
        self.watcher.tick();
        self.watcher.settle(&[]);
        self.watcher.beat();
    }

    /// The disk takes what waits; whether the store has nothing left.
    pub(crate) fn write(&mut self) -> bool {
        self.writer.turn();
        self.keeper.turn()
    }

    pub(crate) fn shown(&self) -> Shown {
        self.shown.borrow().clone()
    }

    /// Killed: nothing more is written.
    pub(crate) fn kill(self) {
        // Both threads first: then nobody waits for them.
        drop((self.keeper, self.writer));
        drop(self.watcher);
    }

    /// Ends in good order.
    pub(crate) fn end(mut self) {
        self.write();
        self.writer.finish();
        self.kill();
    }
}

fn recorder(boat_file: &BoatFile, disk: &SimDisk, clock: Clock) -> (Recorder, Writer) {
    let settings = Settings {
        keep_free_bytes: 1,
        packing: Packing::Gzip,
        ..Settings::new(RECORDINGS.into())
    };
    let boat = boat_file.text.lines().map(|line| Entry::Boat(line.into()));
    let head = [Entry::Port(PortId(0), "mast".into())]
        .into_iter()
        .chain(boat);
    let head = head.chain([Entry::Start(Timestamp::ZERO)]).collect();
    Recorder::apart(settings, head, Arc::new(disk.clone()), clock)
}

/// The plan that the disk would give to another start, if it is sure.
pub(crate) fn plan_on(disk: &SimDisk, boat_file: &BoatFile) -> Option<PlanId> {
    let (state, unsure) = state_before(disk, boat_file, Path::new(STATE), None);
    state
        .filter(|_| unsure == [Unsure::Trend])
        .map(|state| state.saved.plan)
}

/// All parts of the recordings that the disk has, by run.
pub(crate) fn recordings(disk: &SimDisk) -> BTreeMap<String, Vec<(PathBuf, Vec<u8>)>> {
    let mut runs = BTreeMap::<String, Vec<_>>::new();
    for (path, bytes) in disk.files() {
        let name = path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        if name.starts_with("run-") {
            runs.entry(name[..10].to_owned())
                .or_default()
                .push((path, bytes));
        }
    }
    runs
}
