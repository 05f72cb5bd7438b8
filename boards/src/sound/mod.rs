//! Buzzer, bunk sounder and lamp: things that are on or off.
//!
//! Which pattern belongs to which call is decided elsewhere; here a pattern
//! is played on time ([`Player`], pure) and driven to a [`Sounder`] ([`Horn`]).

mod pattern;

use std::time::Duration;

use cringle_core::time::Timestamp;

pub use pattern::{Pattern, Player, Repeat, Stage};

use crate::backoff::Backoff;
use crate::board::{BoardFile, SounderName, SounderSpec};
use crate::gpio::Output;

/// On or off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Level {
    /// Silent, or dark.
    Off,
    /// Sounding, or lit.
    On,
}

/// Something that can be switched.
pub trait Sounder: Send {
    /// Switches it. Errors say what the line did.
    fn set(&mut self, level: Level) -> Result<(), String>;
}

/// The sounder cannot be driven: a call would not be heard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SoundFault {
    /// Which sounder.
    pub name: String,
    /// What the line said.
    pub why: String,
}

impl core::fmt::Display for SoundFault {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "sounder {} cannot be driven: {}", self.name, self.why)
    }
}

impl std::error::Error for SoundFault {}

/// A tick just long enough to be heard by who listens for it.
const CHECK_TICK: Pattern = Pattern {
    stages: &[Stage {
        on: Duration::from_millis(40),
        off: Duration::from_millis(60),
    }],
    repeat: Repeat::Times(1),
};

/// Whether a horn ticks by itself now and then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SelfCheck {
    /// Never.
    Off,
    /// So often, when it has been silent so long. A failed line is a fault
    /// then and not only at the call; that it was *heard* only ears can tell.
    Every(Duration),
}

/// Opens the line, anew after each fault.
pub type Opener<S> = Box<dyn FnMut() -> Result<S, String> + Send>;

/// The sounders of a board file on this computer's lines, all silent.
pub fn open(
    board: &BoardFile,
    check: SelfCheck,
    now: Timestamp,
) -> Vec<(SounderName, Horn<Output>)> {
    let horn = |spec: &SounderSpec| {
        let (line, active) = (spec.line.clone(), spec.active);
        let open = move || Output::open(&line, active).map_err(|error| error.to_string());
        // A lamp that blinks by itself would look like a call.
        let check = match spec.name {
            SounderName::Buzzer | SounderName::Bunk => check,
            SounderName::Lamp => SelfCheck::Off,
        };
        let horn = Horn::new(spec.name.as_str(), check, Box::new(open), now);
        (spec.name, horn)
    };
    board.sounders.iter().map(horn).collect()
}

/// Plays patterns on one sounder and outlives its faults.
pub struct Horn<S: Sounder> {
    name: String,
    open: Opener<S>,
    sounder: Option<S>,
    player: Player,
    driven: Level,
    check: SelfCheck,
    last_heard: Timestamp,
    backoff: Backoff,
    fault: Option<SoundFault>,
}

impl<S: Sounder> Horn<S> {
    /// A silent horn; the line is opened at the first [`Horn::tick`].
    pub fn new(name: impl Into<String>, check: SelfCheck, open: Opener<S>, now: Timestamp) -> Self {
        Horn {
            name: name.into(),
            open,
            sounder: None,
            player: Player::silent(),
            driven: Level::Off,
            check,
            last_heard: now,
            backoff: Backoff::new(),
            fault: None,
        }
    }

    /// Begins a pattern, unless that very pattern already plays. Call
    /// [`Horn::tick`] next.
    pub fn play(&mut self, pattern: Pattern, now: Timestamp) {
        self.player.play(pattern, now);
    }

    /// Ends whatever plays. Call [`Horn::tick`] next.
    pub fn silence(&mut self) {
        self.player = Player::silent();
    }

    /// Drives the line to what is due now. Returns the fault as long as it lasts.
    pub fn tick(&mut self, now: Timestamp) -> Result<(), SoundFault> {
        if self.check_due().is_some_and(|due| now >= due) {
            self.player.play(CHECK_TICK, now);
            self.last_heard = now;
        }
        if let Some(fault) = self.fault.clone().filter(|_| self.backoff.is_waiting(now)) {
            return Err(fault);
        }
        let level = self.player.level(now);
        if self.player.is_playing(now) {
            self.last_heard = now;
        }
        match self.drive(level) {
            Ok(()) => {
                self.fault = None;
                self.backoff.worked();
                Ok(())
            }
            Err(why) => Err(self.went_wrong(why, now)),
        }
    }

    /// When to call [`Horn::tick`] next.
    pub fn next_deadline(&self, now: Timestamp) -> Option<Timestamp> {
        let retry = self.backoff.next_try();
        let change = self.player.next_change(now);
        retry.or(change).or(self.check_due())
    }

    fn check_due(&self) -> Option<Timestamp> {
        match self.check {
            SelfCheck::Off => None,
            SelfCheck::Every(span) => Some(self.last_heard.after(span)),
        }
    }

    fn drive(&mut self, level: Level) -> Result<(), String> {
        let sounder = match &mut self.sounder {
            Some(_) if self.driven == level => return Ok(()),
            Some(sounder) => sounder,
            empty => empty.insert((self.open)()?),
        };
        sounder.set(level)?;
        self.driven = level;
        Ok(())
    }

    fn went_wrong(&mut self, why: String, now: Timestamp) -> SoundFault {
        self.sounder = None;
        self.backoff.failed(now);
        let fault = SoundFault {
            name: self.name.clone(),
            why,
        };
        self.fault = Some(fault.clone());
        fault
    }
}

impl<S: Sounder> Drop for Horn<S> {
    /// A program that ends must not leave a horn sounding.
    fn drop(&mut self) {
        if let Some(sounder) = &mut self.sounder {
            // Nothing is left to tell it to if this fails.
            let _ = sounder.set(Level::Off);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::{Arc, Mutex};

    /// A sounder that writes down every switch, and can break.
    #[derive(Clone, Default)]
    struct Bench(Arc<Mutex<(Vec<Level>, Option<String>)>>);

    impl Sounder for Bench {
        fn set(&mut self, level: Level) -> Result<(), String> {
            let mut bench = self.0.lock().unwrap();
            match &bench.1 {
                Some(why) => Err(why.clone()),
                None => {
                    bench.0.push(level);
                    Ok(())
                }
            }
        }
    }

    const TWICE: Pattern = Pattern {
        stages: &[Stage {
            on: Duration::from_millis(200),
            off: Duration::from_millis(300),
        }],
        repeat: Repeat::Times(2),
    };

    fn at(millis: u64) -> Timestamp {
        Timestamp::from_millis(millis)
    }

    fn horn(check: SelfCheck) -> (Bench, Horn<Bench>) {
        let bench = Bench::default();
        let line = bench.clone();
        let open = Box::new(move || Ok(line.clone()));
        (bench, Horn::new("buzzer", check, open, at(0)))
    }

    fn switches(bench: &Bench) -> Vec<Level> {
        bench.0.lock().unwrap().0.clone()
    }

    /// Ticks at every deadline, as the daemon does, and lists when it sounded.
    fn run(horn: &mut Horn<Bench>, from: u64, to: u64) -> Vec<u64> {
        let mut now = at(from);
        let mut ticks = Vec::new();
        while now <= at(to) {
            horn.tick(now).unwrap();
            ticks.push(now.as_millis());
            match horn.next_deadline(now) {
                Some(next) => now = next,
                None => break,
            }
        }
        ticks
    }

    #[test]
    fn pattern_is_driven_to_the_line_at_its_deadlines_only() {
        let (bench, mut horn) = horn(SelfCheck::Off);
        horn.play(TWICE, at(1000));
        assert_eq!(run(&mut horn, 1000, 9000), [1000, 1200, 1500, 1700]);
        let on_off = [Level::On, Level::Off];
        assert_eq!(switches(&bench), [on_off, on_off].concat());
    }

    #[test]
    fn silence_stops_it_in_the_middle() {
        let (bench, mut horn) = horn(SelfCheck::Off);
        horn.play(TWICE, at(0));
        horn.tick(at(0)).unwrap();
        horn.silence();
        horn.tick(at(50)).unwrap();
        assert_eq!(switches(&bench), [Level::On, Level::Off]);
        assert_eq!(horn.next_deadline(at(50)), None);
    }

    #[test]
    fn a_silent_horn_ticks_once_an_hour() {
        let hour = 3_600_000;
        let (bench, mut horn) = horn(SelfCheck::Every(Duration::from_millis(hour)));
        run(&mut horn, 0, 3 * hour + 1000);
        // The line is opened silent, then three ticks of one on and one off.
        assert_eq!(
            switches(&bench)
                .iter()
                .filter(|level| **level == Level::On)
                .count(),
            3
        );
        assert_eq!(switches(&bench).last(), Some(&Level::Off));
    }

    #[test]
    fn a_broken_line_is_found_by_the_hourly_tick_and_told_until_mended() {
        let hour = 3_600_000;
        let (bench, mut horn) = horn(SelfCheck::Every(Duration::from_millis(hour)));
        horn.tick(at(0)).unwrap();
        bench.0.lock().unwrap().1 = Some("input/output error".into());
        let fault = horn.tick(at(hour)).unwrap_err();
        assert_eq!(
            fault.to_string(),
            "sounder buzzer cannot be driven: input/output error"
        );
        bench.0.lock().unwrap().1 = None;
        assert!(
            horn.tick(at(hour + 500)).is_err(),
            "left alone for a second"
        );
        assert_eq!(horn.next_deadline(at(hour + 500)), Some(at(hour + 1000)));
        assert_eq!(horn.tick(at(hour + 1000)), Ok(()));
    }

    #[test]
    fn a_mended_line_takes_up_the_running_call() {
        let (bench, mut horn) = horn(SelfCheck::Off);
        bench.0.lock().unwrap().1 = Some("gone".into());
        let forever = Pattern {
            repeat: Repeat::Forever,
            ..TWICE
        };
        horn.play(forever, at(0));
        assert!(horn.tick(at(0)).is_err());
        bench.0.lock().unwrap().1 = None;
        horn.tick(at(1100)).unwrap();
        assert_eq!(switches(&bench), [Level::On]);
    }

    #[test]
    fn a_horn_that_is_dropped_is_silent() {
        let (bench, mut horn) = horn(SelfCheck::Off);
        horn.play(TWICE, at(0));
        horn.tick(at(0)).unwrap();
        drop(horn);
        assert_eq!(switches(&bench), [Level::On, Level::Off]);
    }
}
