//! The event log and the state file, written on a thread of their own: a card
//! may take a second to answer, and the watch does not wait for it.
//!
//! The newest wanted state is owned here: it is tried again and again until it
//! is on the disk, and what is wrong stands until then. A write that is not done
//! after five seconds is a fault as well, for a disk may hang without an error.
//!
//! ```text
//!   event, state, receipt --> waiting, bounded --> Keeper --> disk
//!                    fault <-- refused, or too old --'
//! ```
//!
//! The event log is bounded: when it is full it becomes `events.1.jsonl`, what
//! was that `events.2.jsonl`, and so on; the oldest goes.

use std::collections::VecDeque;
use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use cringle_core::time::Timestamp;
use rustix::fs::{FlockOperation, flock};
use rustix::io::Errno;

use crate::clock::Clock;
use crate::disk::{Disk, DiskFile, RealDisk, TOO_OLD, remedy, replace};
use crate::receipt::Receipt;
use crate::state::sealed;

/// The event log in the state directory.
pub const EVENT_LOG: &str = "events.jsonl";
/// The state file in the state directory.
pub const STATE_FILE: &str = "state.json";

/// The event log turns over at this size: at some 600 bytes an event, and a
/// few hundred events a day, about a month at sea.
const LOG_BYTES: u64 = 8 << 20;
/// Older logs that are kept beside it.
const OLDER_LOGS: u32 = 4;

/// Event lines that may wait for the disk: some days of a restless boat, at most
/// 3 MB. What comes on top is counted and told.
const MOST_WAITING: usize = 4096;
/// Lines that may be written and not yet on the card.
const MOST_UNSYNCED: usize = 64;
/// Receipts that may wait: more people do not act at one time.
const MOST_RECEIPTS: usize = 64;
/// What failed is tried again after this.
const TRY_AGAIN: Duration = Duration::from_secs(1);
/// How often it is seen whether the files are still there.
const LOOK: Duration = Duration::from_secs(2);
/// How long it stays said that they were not.
const SAID_FOR: Duration = Duration::from_secs(600);
/// How long an end waits: with the page's and the recorder's it stays under the
/// ten seconds of the service's `TimeoutStopSec`.
const PATIENCE: Duration = Duration::from_secs(2);

/// Takes what is to be kept and never blocks.
pub struct Store {
    shared: Arc<Shared>,
    clock: Clock,
}

/// How soon an event must be on the card.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Urgency {
    /// With the next that is urgent.
    Later,
    /// At once: a call has changed.
    Now,
}

/// Waits for the thread, and what it says of it.
#[derive(Default)]
struct Shared {
    desk: Mutex<Desk>,
    changed: Condvar,
}

#[derive(Default)]
struct Desk {
    events: VecDeque<(String, Urgency)>,
    /// Event lines that found no place.
    lost: u64,
    /// The newest state that is not on the disk.
    wanted: Option<String>,
    receipts: Vec<Receipt>,
    /// Since when something has waited without a pause.
    oldest: Option<Timestamp>,
    is_writing: bool,
    /// What the disk refused: the log, the state, the directory.
    faults: [Option<String>; 3],
    has_ended: bool,
    /// There is no keeper any more: nothing is waited for.
    is_gone: bool,
}

impl Desk {
    fn is_empty(&self) -> bool {
        self.events.is_empty() && self.wanted.is_none() && self.receipts.is_empty()
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Desk> {
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Store {
    /// Keeps things in this directory, which is made if it is not there. `held`
    /// is its lock, when it could be had.
    pub fn start(directory: PathBuf, held: Option<File>) -> Store {
        let settings = StoreSettings {
            held,
            ..StoreSettings::new(directory)
        };
        let (store, keeper) = Store::apart(settings, Arc::new(RealDisk), Clock::real());
        std::thread::spawn(move || keeper.run());
        store
    }

    /// Both halves, for a test that lets the second work when it likes.
    pub fn apart(settings: StoreSettings, disk: Arc<dyn Disk>, clock: Clock) -> (Store, Keeper) {
        let shared = Arc::<Shared>::default();
        let keeper = Keeper {
            settings,
            disk,
            clock: clock.clone(),
            log: None,
            unsynced: VecDeque::new(),
            kept: None,
            looked_at: clock.now(),
            said_until: None,
            shared: Arc::clone(&shared),
        };
        (Store { shared, clock }, keeper)
    }

    /// Adds an event line, without line end.
    pub fn event(&self, line: String, urgency: Urgency) {
        self.leave(|desk| match desk.events.len() < MOST_WAITING {
            true => desk.events.push_back((line, urgency)),
            false => desk.lost += 1,
        });
    }

    /// Replaces the state file.
    pub fn state(&self, line: String) {
        self.leave(|desk| desk.wanted = Some(line));
    }

    /// Gives word when all that was left here before is on the disk.
    pub fn receipt(&self, receipt: Receipt) {
        self.leave(|desk| {
            if desk.receipts.len() < MOST_RECEIPTS {
                desk.receipts.push(receipt);
            }
        });
    }

    fn leave(&self, leave: impl FnOnce(&mut Desk)) {
        let mut desk = self.shared.lock();
        leave(&mut desk);
        if desk.oldest.is_none() {
            desk.oldest = Some(self.clock.now());
        }
        self.shared.changed.notify_all();
    }

    /// What is wrong, while it is.
    pub fn fault(&self) -> Option<String> {
        let desk = self.shared.lock();
        let mut faults: Vec<String> = desk.faults.iter().flatten().cloned().collect();
        let age = desk.oldest.map(|at| self.clock.now().since(at));
        if let Some(age) = age.filter(|age| faults.is_empty() && *age > TOO_OLD) {
            let seconds = age.as_secs();
            faults.push(format!(
                "the disk of the state directory has not answered for {seconds} s: \
                 look at it, or restart with another --state"
            ));
        }
        if desk.lost > 0 {
            faults.push(format!("{} events were not kept", desk.lost));
        }
        (!faults.is_empty()).then(|| faults.join("; "))
    }

    /// Waits a moment until all is written, and says what could not be.
    pub fn end(self) -> Option<String> {
        self.settle();
        self.fault()
    }

    fn settle(&self) {
        let mut desk = self.shared.lock();
        desk.has_ended = true;
        self.shared.changed.notify_all();
        let is_busy = |desk: &mut Desk| {
            let has_failed = desk.faults.iter().flatten().next().is_some();
            !desk.is_gone && (desk.is_writing || !desk.is_empty() && !has_failed)
        };
        let waited = self
            .shared
            .changed
            .wait_timeout_while(desk, PATIENCE, is_busy);
        drop(waited.unwrap_or_else(PoisonError::into_inner));
    }
}

impl Drop for Store {
    /// Waits a moment until all is written.
    fn drop(&mut self) {
        self.settle();
    }
}

/// Where a store keeps things.
#[derive(Debug)]
pub struct StoreSettings {
    /// Into which directory.
    pub directory: PathBuf,
    /// The event log turns over at this size.
    pub log_bytes: u64,
    /// The directory's lock.
    pub held: Option<File>,
}

impl StoreSettings {
    /// What is usual.
    pub fn new(directory: PathBuf) -> StoreSettings {
        StoreSettings {
            directory,
            log_bytes: LOG_BYTES,
            held: None,
        }
    }
}

/// The thread's half.
pub struct Keeper {
    settings: StoreSettings,
    disk: Arc<dyn Disk>,
    clock: Clock,
    log: Option<Log>,
    /// Lines written since the log was last on the card.
    unsynced: VecDeque<(String, Urgency)>,
    /// The state that is on the disk, as far as we know.
    kept: Option<String>,
    looked_at: Timestamp,
    said_until: Option<Timestamp>,
    shared: Arc<Shared>,
}

impl Keeper {
    fn run(mut self) {
        loop {
            let went_well = self.turn();
            let desk = self.shared.lock();
            if desk.has_ended && (desk.is_empty() || !went_well) {
                return;
            }
            let rest = match went_well {
                true => LOOK,
                false => TRY_AGAIN,
            };
            let is_idle = |desk: &mut Desk| !desk.has_ended && (!went_well || desk.is_empty());
            let waited = self.shared.changed.wait_timeout_while(desk, rest, is_idle);
            drop(waited.unwrap_or_else(PoisonError::into_inner));
        }
    }

    /// Writes what waits, once; whether all of it is on the disk.
    pub fn turn(&mut self) -> bool {
        self.shared.lock().is_writing = true;
        let looked = self.look();
        let mut desk = self.shared.lock();
        let mut batch = Batch {
            events: std::mem::take(&mut desk.events),
            wanted: desk.wanted.clone(),
            receipts: std::mem::take(&mut desk.receipts),
            is_done: false,
        };
        drop(desk);
        let (logged, stated) = match &looked {
            Err(_) => (Ok(()), Ok(())),
            Ok(()) => {
                let logged = self.events(&mut batch.events);
                (logged, self.state(batch.wanted.as_deref()))
            }
        };
        if looked.is_err() || stated.is_err() {
            batch.wanted = None;
        }
        batch.is_done = looked.is_ok() && logged.is_ok() && stated.is_ok();
        let faults = [
            self.fault_of(EVENT_LOG, logged),
            self.fault_of(STATE_FILE, stated),
            self.directory_fault(looked),
        ];
        self.put_back(batch, faults)
    }

    /// What could not be written goes before what has come meanwhile.
    fn put_back(&self, mut batch: Batch, faults: [Option<String>; 3]) -> bool {
        let mut desk = self.shared.lock();
        batch.events.append(&mut desk.events);
        desk.events = batch.events;
        while desk.events.len() > MOST_WAITING {
            desk.events.pop_back();
            desk.lost += 1;
        }
        if batch.wanted.is_some() && desk.wanted == batch.wanted {
            desk.wanted = None;
        }
        if batch.is_done {
            batch.receipts.iter().for_each(Receipt::give);
        } else {
            desk.receipts.splice(0..0, batch.receipts);
            desk.receipts.truncate(MOST_RECEIPTS);
        }
        desk.faults = faults;
        desk.is_writing = false;
        match (desk.is_empty(), batch.is_done) {
            (true, _) => desk.oldest = None,
            (false, true) => desk.oldest = Some(self.clock.now()),
            (false, false) => {}
        }
        self.shared.changed.notify_all();
        batch.is_done
    }

    fn fault_of(&self, name: &str, done: io::Result<()>) -> Option<String> {
        let path = self.settings.directory.join(name);
        let error = done.err()?;
        let remedy = remedy(&error);
        Some(format!(
            "{} cannot be written: {error}; {remedy}",
            path.display()
        ))
    }

    fn directory_fault(&self, looked: io::Result<()>) -> Option<String> {
        let directory = self.settings.directory.display();
        if let Err(error) = looked {
            return Some(format!("{directory}: {error}"));
        }
        let is_said = self
            .said_until
            .is_some_and(|until| self.clock.now() < until);
        let words = "was deleted while running and is made anew: older events are gone";
        is_said.then(|| format!("{directory} {words}"))
    }

    /// Whether the files are still there; a directory that somebody deleted is
    /// made again, and held again.
    fn look(&mut self) -> io::Result<()> {
        let now = self.clock.now();
        if now.since(self.looked_at) < LOOK && self.kept.is_some() {
            return Ok(());
        }
        self.looked_at = now;
        let directory = self.settings.directory.clone();
        let has_gone = |name: &str| !self.disk.is_there(&directory.join(name));
        let state_gone = self.kept.is_some() && has_gone(STATE_FILE);
        let log_gone = self.log.is_some() && has_gone(EVENT_LOG);
        if state_gone || log_gone {
            tracing::warn!("{} was deleted while running", directory.display());
            self.said_until = Some(now.after(SAID_FOR));
            self.log = None;
        }
        if state_gone {
            let mut desk = self.shared.lock();
            let kept = self.kept.take();
            desk.wanted = desk.wanted.take().or(kept);
        }
        self.hold(&directory)
    }

    /// Two watches never keep their state in one directory, nor in one that was
    /// made again behind the first one's back.
    fn hold(&mut self, directory: &Path) -> io::Result<()> {
        let Some(held) = &self.settings.held else {
            return Ok(());
        };
        let mine = rustix::fs::fstat(held)?;
        match rustix::fs::stat(directory) {
            Ok(there) if (there.st_dev, there.st_ino) == (mine.st_dev, mine.st_ino) => {
                return Ok(());
            }
            _ => self.disk.make_directory(directory)?,
        }
        let new = File::open(directory)?;
        match flock(&new, FlockOperation::NonBlockingLockExclusive) {
            Err(Errno::WOULDBLOCK) => Err(io::Error::other(
                "another watch keeps its state here now: end one of the two",
            )),
            _ => {
                self.settings.held = Some(new);
                Ok(())
            }
        }
    }

    /// What a failed sync may have lost is written again.
    fn events(&mut self, events: &mut VecDeque<(String, Urgency)>) -> io::Result<()> {
        let written = self.append_and_sync(events);
        if written.is_err() {
            self.log = None;
            self.unsynced.append(events);
            std::mem::swap(&mut self.unsynced, events);
        }
        written
    }

    fn append_and_sync(&mut self, events: &mut VecDeque<(String, Urgency)>) -> io::Result<()> {
        while let Some((line, urgency)) = events.front().cloned() {
            self.event(&line)?;
            events.pop_front();
            self.unsynced.push_back((line, urgency));
        }
        let is_urgent = |(_, urgency): &(String, Urgency)| *urgency == Urgency::Now;
        let is_due = self.unsynced.len() >= MOST_UNSYNCED || self.unsynced.iter().any(is_urgent);
        if let (true, Some(log)) = (is_due, &mut self.log) {
            log.file.sync()?;
            self.unsynced.clear();
        }
        Ok(())
    }

    /// A log that failed is opened anew: its last line may have been cut.
    fn event(&mut self, line: &str) -> io::Result<()> {
        let directory = &self.settings.directory;
        let disk = &*self.disk;
        let mut log = match self.log.take() {
            Some(log) => log,
            None => open_log(disk, directory)?,
        };
        if log.bytes >= self.settings.log_bytes {
            log.file.sync()?;
            drop(log);
            turn_over(disk, directory)?;
            log = open_log(disk, directory)?;
        }
        // One write for the whole line: a crash leaves it whole or cut, never
        // mixed with another.
        let whole = format!("{line}\n");
        log.file.write_all(whole.as_bytes())?;
        log.bytes += whole.len() as u64;
        self.log = Some(log);
        Ok(())
    }

    fn state(&mut self, wanted: Option<&str>) -> io::Result<()> {
        let Some(line) = wanted else { return Ok(()) };
        self.disk.make_directory(&self.settings.directory)?;
        let path = self.settings.directory.join(STATE_FILE);
        replace(&*self.disk, &path, sealed(line).as_bytes())?;
        self.kept = Some(line.to_owned());
        Ok(())
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        self.shared.lock().is_gone = true;
        self.shared.changed.notify_all();
    }
}

/// What one turn takes from the desk.
struct Batch {
    events: VecDeque<(String, Urgency)>,
    /// The state to be written; afterwards the one that was.
    wanted: Option<String>,
    receipts: Vec<Receipt>,
    is_done: bool,
}

struct Log {
    file: Box<dyn DiskFile>,
    bytes: u64,
}

/// A line that a crash or a full disk cut off is ended first, so that the next
/// one stands alone.
fn open_log(disk: &dyn Disk, directory: &Path) -> io::Result<Log> {
    disk.make_directory(directory)?;
    let path = directory.join(EVENT_LOG);
    let is_new = !disk.is_there(&path);
    let mut file = disk.append(&path)?;
    if is_new {
        disk.sync_directory(directory)?;
    }
    let mut bytes = file.size()?;
    if file.last_byte()?.is_some_and(|last| last != b'\n') {
        file.write_all(b"\n")?;
        bytes += 1;
    }
    Ok(Log { file, bytes })
}

/// Moves every log one on; the oldest is written over.
fn turn_over(disk: &dyn Disk, directory: &Path) -> io::Result<()> {
    for age in (0..OLDER_LOGS).rev() {
        match disk.rename(&log_path(directory, age), &log_path(directory, age + 1)) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            moved => moved?,
        }
    }
    disk.sync_directory(directory)
}

fn log_path(directory: &Path, age: u32) -> PathBuf {
    match age {
        0 => directory.join(EVENT_LOG),
        age => directory.join(format!("events.{age}.jsonl")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn events_are_added_behind_those_of_the_last_run_even_a_cut_one() {
        let directory = tempfile::tempdir().unwrap();
        let log = directory.path().join(EVENT_LOG);
        std::fs::write(&log, "{\"seq\":1}\n{\"se").unwrap();
        let store = Store::start(directory.path().to_owned(), None);
        store.event("{\"seq\":1}".into(), Urgency::Now);
        store.event("{\"seq\":2}".into(), Urgency::Later);
        drop(store);
        let words = std::fs::read_to_string(log).unwrap();
        assert_eq!(words, "{\"seq\":1}\n{\"se\n{\"seq\":1}\n{\"seq\":2}\n");
    }

    #[test]
    fn a_state_that_cannot_be_written_is_told_until_it_can() {
        let directory = tempfile::tempdir().unwrap();
        let place = directory.path().join("state");
        std::fs::write(&place, "in the way").unwrap();
        let store = Store::start(place.clone(), None);
        store.state("{}".into());
        while store.fault().is_none() {
            std::thread::yield_now();
        }
        let fault = store.fault().unwrap();
        assert!(
            fault.contains(STATE_FILE) && fault.contains("; "),
            "{fault}"
        );
        // Nothing else is said: the store itself tries until it is on the disk.
        std::fs::remove_file(&place).unwrap();
        while store.fault().is_some() {
            std::thread::yield_now();
        }
        drop(store);
        assert_eq!(
            std::fs::read_to_string(place.join(STATE_FILE)).unwrap(),
            sealed("{}")
        );
    }

    #[test]
    fn the_event_log_is_bounded_and_keeps_the_newest_in_order() {
        let directory = tempfile::tempdir().unwrap();
        let small = StoreSettings {
            log_bytes: 100,
            ..StoreSettings::new(directory.path().to_owned())
        };
        let (store, mut keeper) = Store::apart(small, Arc::new(RealDisk), Clock::real());
        for event in 0..200 {
            store.event(format!("{{\"seq\":{event}}}"), Urgency::Later);
        }
        assert!(keeper.turn());
        let mut kept = String::new();
        for age in (0..=OLDER_LOGS).rev() {
            let log = std::fs::read_to_string(log_path(directory.path(), age)).unwrap();
            // The line that fills it is the last.
            assert!(!log.is_empty() && log.len() < 100 + 12, "{}", log.len());
            kept += &log;
        }
        let count = kept.lines().count();
        // Nine lines of 11 or 12 bytes fill a log; the newest may hold one.
        let least = 9 * OLDER_LOGS as usize + 1;
        assert!((least..200).contains(&count), "{count}");
        for (line, event) in kept.lines().zip(200 - count..) {
            assert_eq!(line, format!("{{\"seq\":{event}}}"));
        }
        let files = std::fs::read_dir(directory.path()).unwrap().count();
        assert_eq!(files, 1 + OLDER_LOGS as usize);
    }

    #[test]
    fn a_state_that_is_written_does_not_hide_a_log_that_is_not() {
        let directory = tempfile::tempdir().unwrap();
        std::fs::create_dir(directory.path().join(EVENT_LOG)).unwrap();
        let store = Store::start(directory.path().to_owned(), None);
        store.event("{}".into(), Urgency::Now);
        store.state("{}".into());
        let fault = store.end().expect("the log's fault is hidden");
        assert!(fault.contains(EVENT_LOG), "{fault}");
        assert!(directory.path().join(STATE_FILE).exists());
    }

    /// A store whose keeper works only when the test lets it.
    fn by_hand(directory: &Path) -> (Store, Keeper, crate::clock::Winder) {
        let (winder, clock) = Clock::by_hand();
        let settings = StoreSettings::new(directory.to_owned());
        let (store, keeper) = Store::apart(settings, Arc::new(RealDisk), clock);
        (store, keeper, winder)
    }

    #[test]
    fn a_disk_that_does_not_answer_is_a_fault_after_five_seconds_and_no_queue_is_endless() {
        let directory = tempfile::tempdir().unwrap();
        let (store, mut keeper, winder) = by_hand(directory.path());
        store.state("{}".into());
        winder.wind_to(Timestamp::from_secs(5));
        assert_eq!(store.fault(), None);
        winder.wind_to(Timestamp::from_secs(6));
        assert!(store.fault().unwrap().contains("has not answered for 6 s"));
        for event in 0..MOST_WAITING + 7 {
            store.event(format!("{event}"), Urgency::Later);
        }
        assert!(store.fault().unwrap().contains("7 events were not kept"));
        assert!(keeper.turn());
        assert_eq!(store.fault().unwrap(), "7 events were not kept");
    }

    #[test]
    fn a_receipt_is_given_when_the_state_is_on_the_disk_and_not_before() {
        let directory = tempfile::tempdir().unwrap();
        let place = directory.path().join("state");
        std::fs::write(&place, "in the way").unwrap();
        let (store, mut keeper, _) = by_hand(&place);
        let (receipt, kept) = Receipt::new();
        store.state("{}".into());
        store.receipt(receipt);
        assert!(!keeper.turn());
        assert!(!*kept.borrow());
        std::fs::remove_file(&place).unwrap();
        assert!(keeper.turn());
        assert!(*kept.borrow() && place.join(STATE_FILE).exists());
    }

    #[test]
    fn a_state_directory_deleted_while_running_is_told_and_made_again() {
        let place = tempfile::tempdir().unwrap();
        let directory = place.path().join("state");
        std::fs::create_dir(&directory).unwrap();
        let held = File::open(&directory).unwrap();
        flock(&held, FlockOperation::NonBlockingLockExclusive).unwrap();
        let (winder, clock) = Clock::by_hand();
        let settings = StoreSettings {
            held: Some(held),
            ..StoreSettings::new(directory.clone())
        };
        let (store, mut keeper) = Store::apart(settings, Arc::new(RealDisk), clock);
        store.state("{}".into());
        assert!(keeper.turn());
        std::fs::remove_dir_all(&directory).unwrap();
        winder.wind_to(Timestamp::from_secs(3));
        assert!(keeper.turn());
        assert!(store.fault().unwrap().contains("was deleted while running"));
        assert_eq!(
            std::fs::read_to_string(directory.join(STATE_FILE)).unwrap(),
            sealed("{}")
        );
        // A second watch does not get the new one either.
        let second = File::open(&directory).unwrap();
        let held = flock(&second, FlockOperation::NonBlockingLockExclusive);
        assert_eq!(held, Err(Errno::WOULDBLOCK));
    }

    #[test]
    fn an_end_does_not_wait_for_a_disk_that_hangs() {
        let directory = tempfile::tempdir().unwrap();
        let (store, _keeper, _) = by_hand(directory.path());
        store.state("{}".into());
        let wall = Clock::real();
        drop(store);
        assert!(wall.now() < Timestamp::from_secs(5));
    }
}
