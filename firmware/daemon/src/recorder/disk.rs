//! Writes the recording on a thread of its own, so that a slow or full card
//! never holds up the watch.
//!
//! ```text
//!             no room, or an error              a minute later
//! Recording ------------------------> Stopped ----------------> Recording
//!     what comes meanwhile is counted and not kept     (a new part)
//! ```
//!
//! The card is spared: lines are packed as they come, go to the system once a
//! second and to the card every twenty seconds, or at once when a call has
//! changed. A program that dies loses a second, a battery that dies half a
//! minute at most: the rest is left to a card that takes long to answer.

use std::io;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::Duration;

use cringle_core::time::Timestamp;

use super::files;
use super::lines::{Entry, FORMAT};
use super::part::Part;
use crate::clock::Clock;
use crate::disk::{Disk, RealDisk, TOO_OLD, remedy};

/// Lines that may wait for the card: about half a minute of a busy boat.
const MOST_WAITING: usize = 8192;
/// How often lines go to the system.
const FLUSH: Duration = Duration::from_secs(1);
/// How often they go to the card. Thirty seconds are promised; at thirty a power
/// cut was seen to cost 37, so ten are left for a card that answers late.
const SYNC: Duration = Duration::from_secs(20);
/// How often the free space is looked at, and whether the part is still there.
const LOOK: Duration = Duration::from_secs(5);
/// How long an end waits for a disk that makes no progress.
const PATIENCE: Duration = Duration::from_secs(2);
/// And how long in all, where the watch never waits for a disk: see the service's
/// `TimeoutStopSec`.
const PATIENCE_IN_ALL: Duration = Duration::from_secs(4);
/// A day: a part never holds more.
const DAY_MS: u64 = 86_400_000;

/// Where and how much to record.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Into which directory.
    pub directory: PathBuf,
    /// A part is closed when it has this many bytes, or a day has gone by.
    pub part_bytes: u64,
    /// Recording stops while the file system has less room than this.
    pub keep_free_bytes: u64,
    /// Whether parts are gzipped.
    pub packing: Packing,
    /// The oldest are removed while all take more than this.
    pub most_bytes: u64,
    /// And while there are more files than this.
    pub most_parts: usize,
    /// How long after a failure it is tried again.
    pub retry: Duration,
    /// What is done with an input when the disk is far behind.
    pub when_behind: WhenBehind,
}

/// What is done with an input when the disk is far behind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhenBehind {
    /// It is lost, and that is shown: aboard the watch never waits for a disk.
    Lose,
    /// The watch waits: a told story has time, and is recorded whole.
    Wait,
}

/// Whether parts are gzipped as they are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Packing {
    /// They are.
    Gzip,
    /// They stand as they were heard.
    Plain,
}

impl Settings {
    /// What suits a small card: parts of 8 MB, some hours of a full set of
    /// instruments; 100 MB left free.
    pub fn new(directory: PathBuf) -> Settings {
        Settings {
            directory,
            part_bytes: 8 << 20,
            keep_free_bytes: 100 << 20,
            packing: Packing::Gzip,
            most_bytes: 2000 << 20,
            // Eight of 8 MB a day fill a year; a directory of more is slow to list.
            most_parts: 3000,
            retry: Duration::from_secs(60),
            when_behind: WhenBehind::Lose,
        }
    }
}

/// How the recorder fares.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RecorderState {
    /// The part that is being written; none when stopped.
    pub path: Option<PathBuf>,
    /// Bytes written since the start.
    pub bytes: u64,
    /// Inputs that could not be written since the start.
    pub lost: u64,
    /// What is wrong, while it is.
    pub fault: Option<String>,
    /// Room left on the file system when it was last looked at.
    pub free_bytes: Option<u64>,
    /// Older recordings removed since the start, to make room.
    pub removed: Vec<String>,
}

/// Takes entries; whether it may block is a setting.
pub struct Recorder {
    entries: Option<SyncSender<Message>>,
    state: Arc<Mutex<RecorderState>>,
    way: SharedWay,
    crew_state: Arc<Mutex<Option<Entry>>>,
    clock: Clock,
    when_behind: WhenBehind,
}

/// With the moment at which it was left here.
struct Message {
    left: Timestamp,
    what: Work,
}

enum Work {
    Entry(Timestamp, Vec<u8>),
    /// To the card with all that came before.
    Sync,
}

/// How far the thread has come.
#[derive(Default)]
struct Way {
    /// When the oldest that is not written was left here.
    oldest: Option<Timestamp>,
    written: u64,
    has_ended: bool,
}

type SharedWay = Arc<(Mutex<Way>, Condvar)>;

impl Recorder {
    /// Begins a run. `head` says what every part begins with: ports, boat
    /// file, start.
    pub fn start(settings: Settings, head: Vec<Entry>) -> Recorder {
        let disk = Arc::new(RealDisk);
        let (recorder, writer) = Recorder::apart(settings, head, disk, Clock::real());
        std::thread::spawn(move || writer.run());
        recorder
    }

    /// Both halves, for a test that lets the second work when it likes.
    pub fn apart(
        settings: Settings,
        head: Vec<Entry>,
        disk: Arc<dyn Disk>,
        clock: Clock,
    ) -> (Recorder, Writer) {
        let (entries, coming) = sync_channel(MOST_WAITING);
        let recorder = Recorder {
            entries: Some(entries),
            state: Arc::default(),
            way: Arc::default(),
            crew_state: Arc::default(),
            clock: clock.clone(),
            when_behind: settings.when_behind,
        };
        let writer = Writer {
            settings,
            head,
            disk,
            coming,
            state: Arc::clone(&recorder.state),
            way: Arc::clone(&recorder.way),
            crew_state: Arc::clone(&recorder.crew_state),
            clock,
            run: None,
            part: 0,
            open: None,
            retry_at: Timestamp::ZERO,
            unwritten: 0,
            flushed_at: Timestamp::ZERO,
            synced_at: Timestamp::ZERO,
            looked_at: None,
        };
        (recorder, writer)
    }

    /// Records an input.
    pub fn record(&self, at: Timestamp, entry: &Entry) {
        self.send(Work::Entry(at, entry.write()));
    }

    /// Brings all so far onto the card, as when a call has changed.
    pub fn sync(&self) {
        self.send(Work::Sync);
    }

    /// What a later part must say of the time before it.
    pub fn set_crew_state(&self, entry: Entry) {
        *lock(&self.crew_state) = Some(entry);
    }

    /// How it fares.
    pub fn state(&self) -> RecorderState {
        let mut state = lock(&self.state).clone();
        let oldest = lock(&self.way.0).oldest;
        let age = oldest.map(|at| self.clock.now().since(at));
        if let Some(age) = age.filter(|age| state.fault.is_none() && *age > TOO_OLD) {
            let seconds = age.as_secs();
            state.fault = Some(format!(
                "the disk of the recordings has not answered for {seconds} s: look at it, or \
                 restart with another --record"
            ));
        }
        state
    }

    /// Ends the recording in good order and waits a moment until it is on the card.
    pub fn end(mut self, at: Timestamp) -> RecorderState {
        self.record(at, &Entry::End(at));
        self.close();
        self.state()
    }

    /// Waits as long as the disk makes progress, and not long for one that hangs.
    fn close(&mut self) {
        if self.entries.take().is_none() {
            return;
        }
        let begun = self.clock.now();
        let mut way = lock(&self.way.0);
        while !way.has_ended {
            let before = way.written;
            let waited = self
                .way
                .1
                .wait_timeout_while(way, PATIENCE, |way| !way.has_ended && way.written == before);
            way = waited.unwrap_or_else(PoisonError::into_inner).0;
            let is_late = self.when_behind == WhenBehind::Lose
                && self.clock.now().since(begun) > PATIENCE_IN_ALL;
            if !way.has_ended && (way.written == before || is_late) {
                let mut state = lock(&self.state);
                let words = "the disk did not answer at the end: the last inputs are not on it";
                state.fault.get_or_insert(words.into());
                return;
            }
        }
    }

    fn send(&self, what: Work) {
        let Some(entries) = &self.entries else { return };
        let left = self.clock.now();
        lock(&self.way.0).oldest.get_or_insert(left);
        let message = Message { left, what };
        let sent = match self.when_behind {
            WhenBehind::Lose => entries.try_send(message),
            WhenBehind::Wait => entries
                .send(message)
                .map_err(|unsent| TrySendError::Disconnected(unsent.0)),
        };
        match sent.map_err(|unsent| match unsent {
            TrySendError::Full(message) => Some(message.what),
            TrySendError::Disconnected(_) => None,
        }) {
            Err(Some(Work::Entry(..))) => {
                let mut state = lock(&self.state);
                state.lost += 1;
                state.fault = Some("the disk is too slow: inputs were not recorded".into());
            }
            Err(None) => lock(&self.state).fault = Some("the recorder has stopped".into()),
            Ok(()) | Err(Some(Work::Sync)) => {}
        }
    }
}

impl Drop for Recorder {
    fn drop(&mut self) {
        self.close();
    }
}

fn lock<T>(shared: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The thread's side.
pub struct Writer {
    settings: Settings,
    head: Vec<Entry>,
    disk: Arc<dyn Disk>,
    coming: Receiver<Message>,
    way: SharedWay,
    state: Arc<Mutex<RecorderState>>,
    crew_state: Arc<Mutex<Option<Entry>>>,
    clock: Clock,
    run: Option<u32>,
    part: u32,
    open: Option<Part>,
    retry_at: Timestamp,
    unwritten: u64,
    flushed_at: Timestamp,
    synced_at: Timestamp,
    looked_at: Option<Timestamp>,
}

impl Writer {
    fn run(mut self) {
        self.begin();
        loop {
            match self.coming.recv_timeout(FLUSH) {
                Ok(message) => self.take(message),
                Err(RecvTimeoutError::Timeout) => self.caught_up(),
                Err(RecvTimeoutError::Disconnected) => break,
            }
            self.look_after();
        }
        self.finish();
    }

    /// Opens the first part.
    pub fn begin(&mut self) {
        self.heed_now(|writer| writer.open_part(Timestamp::ZERO));
    }

    /// Writes what waits, once.
    pub fn turn(&mut self) {
        while let Ok(message) = self.coming.try_recv() {
            self.take(message);
        }
        self.caught_up();
        self.look_after();
    }

    /// Closes the part in good order.
    pub fn finish(&mut self) {
        self.heed_now(|writer| writer.close());
    }

    fn take(&mut self, message: Message) {
        lock(&self.way.0).oldest = Some(message.left);
        match message.what {
            Work::Entry(at, line) => self.entry(at, &line),
            Work::Sync => self.heed_now(|writer| writer.sync()),
        }
        let mut way = lock(&self.way.0);
        way.written += 1;
        // Whatever else waits was left later than this.
        way.oldest = Some(self.clock.now());
        self.way.1.notify_all();
    }

    fn caught_up(&self) {
        lock(&self.way.0).oldest = None;
    }

    /// Does what may fail; a failure stops the recording for a while.
    fn heed(&mut self, now: Timestamp, act: impl FnOnce(&mut Self) -> io::Result<()>) {
        if let Err(error) = act(self) {
            tracing::warn!("recording stopped: {error}");
            // What had not gone to the system may be lost, all of it.
            let waiting = self.open.take().map_or(0, |part| part.unflushed);
            self.unwritten += waiting;
            self.retry_at = now.after(self.settings.retry);
            let mut state = lock(&self.state);
            state.lost += waiting;
            state.path = None;
            let directory = self.settings.directory.display();
            let remedy = remedy(&error);
            state.fault = Some(format!("{directory}: {error}; {remedy}"));
        }
    }

    fn heed_now(&mut self, act: impl FnOnce(&mut Self) -> io::Result<()>) {
        self.heed(self.clock.now(), act);
    }

    fn entry(&mut self, at: Timestamp, line: &[u8]) {
        if self.open.is_none() && self.clock.now() >= self.retry_at {
            self.heed_now(|writer| writer.open_part(at));
        }
        if self.open.is_none() {
            self.unwritten += 1;
            lock(&self.state).lost += 1;
            return;
        }
        self.heed_now(|writer| {
            if let Some(part) = &mut writer.open {
                part.unflushed += 1;
            }
            writer.append(line)?;
            writer.turn_over(at)
        });
    }

    fn append(&mut self, line: &[u8]) -> io::Result<()> {
        self.counting(|part| part.append(line))
    }

    /// Does something with the open part, if there is one, and counts what
    /// went into its file.
    fn counting(&mut self, act: impl FnOnce(&mut Part) -> io::Result<()>) -> io::Result<()> {
        let Some(part) = &mut self.open else {
            return Ok(());
        };
        let before = part.bytes();
        let done = act(part);
        lock(&self.state).bytes += part.bytes() - before;
        done
    }

    /// Goes on to a new part when this one is big or old.
    fn turn_over(&mut self, at: Timestamp) -> io::Result<()> {
        let due = self.open.as_ref().is_some_and(|part| {
            part.bytes() >= self.settings.part_bytes
                || at.as_millis().saturating_sub(part.began.as_millis()) >= DAY_MS
        });
        if !due {
            return Ok(());
        }
        self.close()?;
        self.open_part(at)
    }

    fn open_part(&mut self, at: Timestamp) -> io::Result<()> {
        let directory = self.settings.directory.clone();
        self.disk.make_directory(&directory)?;
        self.make_room();
        self.look_for_room()?;
        let run = match self.run {
            Some(run) => run,
            None => files::next_run(&*self.disk, &directory)?,
        };
        self.run = Some(run);
        self.part += 1;
        let packing = self.settings.packing;
        let path = files::part_path(&directory, run, self.part, packing);
        self.open = Some(Part::create(&*self.disk, &path, packing, at)?);
        // To the card at once: on a full one a part that holds nothing would
        // look like a recording that goes on.
        let begun = self.write_head(run).and_then(|()| self.sync());
        if let Err(error) = begun.and_then(|()| self.disk.sync_directory(&directory)) {
            self.disk.remove(&path).ok();
            self.part -= 1;
            return Err(error);
        }
        let mut state = lock(&self.state);
        state.path = Some(path);
        state.fault = None;
        Ok(())
    }

    fn write_head(&mut self, run: u32) -> io::Result<()> {
        let part = self.part;
        let mut head = vec![Entry::Format(FORMAT), Entry::Part { run, part }];
        head.extend(self.head.iter().cloned());
        // The first part tells the state itself, as an input.
        if part > 1 {
            head.extend(lock(&self.crew_state).clone());
        }
        head.extend((self.unwritten > 0).then_some(Entry::Lost(self.unwritten)));
        for entry in head {
            self.append(&entry.write())?;
        }
        self.flush()?;
        self.unwritten = 0;
        Ok(())
    }

    /// What is due once in a while.
    fn look_after(&mut self) {
        let now = self.clock.now();
        if now.since(self.synced_at) >= SYNC {
            self.synced_at = now;
            self.heed(now, |writer| writer.sync());
        } else if now.since(self.flushed_at) >= FLUSH {
            self.flushed_at = now;
            self.heed(now, |writer| writer.flush());
        }
        let due = self.looked_at.is_none_or(|at| now.since(at) >= LOOK);
        if due && self.open.is_some() {
            self.looked_at = Some(now);
            self.heed(now, |writer| {
                writer.look_for_part()?;
                writer.look_for_room()
            });
        }
    }

    /// A part that somebody deleted is no recording: another is begun.
    fn look_for_part(&mut self) -> io::Result<()> {
        let path = lock(&self.state).path.clone();
        match path {
            Some(path) if !self.disk.is_there(&path) => {
                let words = format!("{} was deleted while running", path.display());
                Err(io::Error::new(io::ErrorKind::NotFound, words))
            }
            _ => Ok(()),
        }
    }

    /// Removes the oldest of what is more than may be kept, but nothing of this
    /// run: that is the one worth most. Each removal is told.
    fn make_room(&self) {
        let directory = &self.settings.directory;
        let kept = files::Kept {
            most_bytes: self.settings.most_bytes,
            most_parts: self.settings.most_parts,
            spared_run: self.run,
        };
        match files::prune(&*self.disk, directory, &kept) {
            Ok(removed) => {
                for name in &removed {
                    tracing::warn!("old recording removed to make room: {name}");
                }
                lock(&self.state).removed.extend(removed);
            }
            Err(error) => tracing::warn!("old recordings cannot be removed: {error}"),
        }
    }

    fn look_for_room(&mut self) -> io::Result<()> {
        let free = self.disk.free_bytes(&self.settings.directory)?;
        lock(&self.state).free_bytes = Some(free);
        if free >= self.settings.keep_free_bytes {
            return Ok(());
        }
        // What was heard so far is still worth its place.
        self.close().ok();
        Err(io::Error::new(
            io::ErrorKind::StorageFull,
            format!(
                "{} MB are free, {} MB are to be left free",
                free >> 20,
                self.settings.keep_free_bytes >> 20
            ),
        ))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.counting(Part::flush)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.counting(Part::sync)
    }

    fn close(&mut self) -> io::Result<()> {
        // While it is still open a failure tells what is lost by it.
        self.sync()?;
        let Some(part) = self.open.take() else {
            return Ok(());
        };
        lock(&self.state).path = None;
        let before = part.bytes();
        let bytes = part.close()?;
        lock(&self.state).bytes += bytes - before;
        Ok(())
    }
}

impl Drop for Writer {
    /// Nothing is waited for any more.
    fn drop(&mut self) {
        lock(&self.way.0).has_ended = true;
        self.way.1.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ports::PortId;
    use crate::recorder::read::{Kind, Recording};

    fn head() -> Vec<Entry> {
        vec![
            Entry::Port(PortId(0), "mast".into()),
            Entry::Boat("name = \"Tern\"".into()),
            Entry::Start(Timestamp::ZERO),
        ]
    }

    fn heard(second: u64) -> Entry {
        Entry::Heard {
            port: PortId(0),
            at: Timestamp::from_secs(second),
            unix_ms: None,
            line: b"$WIMWV,214.8,R,15.6,N,A*1E".to_vec(),
        }
    }

    fn files_in(directory: &std::path::Path) -> Vec<PathBuf> {
        let entries = std::fs::read_dir(directory).unwrap();
        let paths = entries.map(|entry| entry.unwrap().path());
        paths.filter(|path| path.extension().is_some()).collect()
    }

    fn settings(directory: &std::path::Path) -> Settings {
        Settings {
            keep_free_bytes: 0,
            ..Settings::new(directory.to_owned())
        }
    }

    #[test]
    fn parts_follow_each_other_and_read_as_one() {
        for packing in [Packing::Gzip, Packing::Plain] {
            follow_each_other(packing);
        }
    }

    fn follow_each_other(packing: Packing) {
        let directory = tempfile::tempdir().unwrap();
        let small = Settings {
            part_bytes: 300,
            packing,
            ..settings(directory.path())
        };
        let recorder = Recorder::start(small, head());
        recorder.set_crew_state(Entry::Carried(Timestamp::ZERO, "{}".into()));
        for second in 0..40 {
            recorder.record(Timestamp::from_secs(second), &heard(second));
            // What the packer still holds has no size yet.
            recorder.sync();
        }
        let state = recorder.end(Timestamp::from_secs(40));
        assert_eq!((state.lost, state.fault), (0, None));
        let sizes = files_in(directory.path())
            .into_iter()
            .map(|file| file.metadata());
        assert_eq!(state.bytes, sizes.map(|it| it.unwrap().len()).sum::<u64>());

        let files = files_in(directory.path());
        assert!(files.len() > 3, "{files:?}");
        let mut recording = Recording::open(&files).unwrap();
        assert_eq!(recording.kind(), Kind::Own);
        let head = recording.head().unwrap();
        assert_eq!(head.boat_file.as_deref(), Some("name = \"Tern\"\n"));
        assert_eq!(head.ports, [(PortId(0), "mast".into())]);
        for second in 0..40 {
            assert_eq!(recording.input().unwrap(), Some(heard(second)));
        }
        assert_eq!(
            recording.input().unwrap(),
            Some(Entry::End(Timestamp::from_secs(40)))
        );
        assert_eq!(recording.input().unwrap(), None);
        assert_eq!(recording.damage(), Default::default());
    }

    #[test]
    fn a_last_line_that_was_cut_off_is_passed_over() {
        let directory = tempfile::tempdir().unwrap();
        let plain = Settings {
            packing: Packing::Plain,
            ..settings(directory.path())
        };
        let recorder = Recorder::start(plain, head());
        recorder.record(Timestamp::from_secs(1), &heard(1));
        recorder.record(
            Timestamp::from_secs(2),
            &Entry::Utc(cringle_core::time::UtcFix {
                unix_ms: 1_764_050_000_000,
                at: Timestamp::from_secs(2),
                quality: cringle_core::time::UtcQuality::System,
            }),
        );
        drop(recorder);
        let files = files_in(directory.path());
        let whole = std::fs::read(&files[0]).unwrap();
        std::fs::write(&files[0], &whole[..whole.len() - 9]).unwrap();

        let mut recording = Recording::open(&files).unwrap();
        recording.head().unwrap();
        assert_eq!(recording.input().unwrap(), Some(heard(1)));
        assert_eq!(recording.input().unwrap(), None);
        assert_eq!(recording.damage().lines, 1);
    }

    #[test]
    fn a_disk_without_room_stops_the_recording_and_says_so() {
        let directory = tempfile::tempdir().unwrap();
        let greedy = Settings {
            keep_free_bytes: u64::MAX,
            ..settings(directory.path())
        };
        let recorder = Recorder::start(greedy, head());
        recorder.record(Timestamp::from_secs(1), &heard(1));
        let state = recorder.end(Timestamp::from_secs(2));
        assert_eq!(state.path, None);
        assert_eq!(state.lost, 2);
        assert!(state.fault.unwrap().contains("are to be left free"));
    }

    #[test]
    fn a_directory_that_cannot_be_made_is_a_fault_not_the_end() {
        let directory = tempfile::tempdir().unwrap();
        let in_the_way = directory.path().join("in-the-way");
        std::fs::write(&in_the_way, "").unwrap();
        let recorder = Recorder::start(settings(&in_the_way), head());
        recorder.record(Timestamp::from_secs(1), &heard(1));
        let state = recorder.end(Timestamp::from_secs(2));
        assert!(state.fault.is_some());
        assert_eq!(state.lost, 2);
    }

    /// A recorder whose writer works only when the test lets it.
    fn by_hand(directory: &std::path::Path) -> (Recorder, Writer, crate::clock::Winder) {
        let (winder, clock) = Clock::by_hand();
        let settings = settings(directory);
        let (recorder, writer) = Recorder::apart(settings, head(), Arc::new(RealDisk), clock);
        (recorder, writer, winder)
    }

    #[test]
    fn a_hung_disk_is_a_fault_after_five_seconds_and_the_end_does_not_wait_for_it() {
        let directory = tempfile::tempdir().unwrap();
        let (recorder, mut writer, winder) = by_hand(directory.path());
        writer.begin();
        for second in 1..=6 {
            winder.wind_to(Timestamp::from_secs(second));
            recorder.record(Timestamp::from_secs(second), &heard(second));
        }
        assert_eq!(recorder.state().fault, None);
        winder.wind_to(Timestamp::from_secs(7));
        let fault = recorder.state().fault.unwrap();
        assert!(fault.contains("has not answered for 6 s"), "{fault}");
        writer.turn();
        assert_eq!(recorder.state().fault, None);
        let wall = Clock::real();
        let state = recorder.end(Timestamp::from_secs(8));
        assert!(wall.now() < Timestamp::from_secs(5));
        assert!(state.fault.unwrap().contains("at the end"));
    }

    #[test]
    fn a_recording_deleted_while_running_is_told_and_begun_again() {
        let directory = tempfile::tempdir().unwrap();
        let (recorder, mut writer, winder) = by_hand(directory.path());
        writer.begin();
        writer.turn();
        std::fs::remove_dir_all(directory.path()).unwrap();
        winder.wind_to(Timestamp::from_secs(6));
        writer.turn();
        let fault = recorder.state().fault.unwrap();
        assert!(fault.contains("was deleted while running"), "{fault}");
        winder.wind_to(Timestamp::from_secs(70));
        recorder.record(Timestamp::from_secs(70), &heard(70));
        writer.turn();
        assert_eq!(recorder.state().fault, None);
        assert!(recorder.state().path.unwrap().exists());
    }
}
