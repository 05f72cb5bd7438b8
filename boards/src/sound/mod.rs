//! Buzzer, bunk sounder and beacon: things that are on or off.
//!
//! What is on at which moment, the hourly self-check included, is decided
//! with the picture of the moment, elsewhere. A [`Horn`] drives its line to
//! that and outlives its faults.

use cringle_core::time::Timestamp;

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

/// Opens the line, anew after each fault.
pub type Opener = Box<dyn FnMut() -> Result<Box<dyn Sounder>, String> + Send>;

/// The sounders of a board file on this computer's lines.
pub fn open(board: &BoardFile) -> Vec<(SounderName, Horn)> {
    let horn = |spec: &SounderSpec| {
        let (line, active) = (spec.line.clone(), spec.active);
        let open = move || match Output::open(&line, active) {
            Ok(output) => Ok(Box::new(output) as Box<dyn Sounder>),
            Err(error) => Err(error.to_string()),
        };
        (
            spec.name,
            Horn::new(spec.name.as_str(), Box::new(open) as Opener),
        )
    };
    board.sounders.iter().map(horn).collect()
}

/// One sounder that outlives its faults.
pub struct Horn {
    name: String,
    open: Opener,
    sounder: Option<Box<dyn Sounder>>,
    driven: Level,
    backoff: Backoff,
    fault: Option<SoundFault>,
}

impl Horn {
    /// A silent horn; its line is opened at the first [`Horn::drive`].
    pub fn new(name: impl Into<String>, open: Opener) -> Self {
        Horn {
            name: name.into(),
            open,
            sounder: None,
            driven: Level::Off,
            backoff: Backoff::new(),
            fault: None,
        }
    }

    /// Switches it to what is on now; the line is touched only when that
    /// changes. Gives the fault as long as it lasts: call it at least once a
    /// second, so that a mended line is taken up.
    pub fn drive(&mut self, level: Level, now: Timestamp) -> Result<(), SoundFault> {
        if let Some(fault) = self.fault.clone().filter(|_| self.backoff.is_waiting(now)) {
            return Err(fault);
        }
        match self.switch(level) {
            Ok(()) => {
                self.fault = None;
                self.backoff.worked();
                Ok(())
            }
            Err(why) => Err(self.went_wrong(why, now)),
        }
    }

    fn switch(&mut self, level: Level) -> Result<(), String> {
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
        let name = self.name.clone();
        let fault = SoundFault { name, why };
        self.fault = Some(fault.clone());
        fault
    }
}

impl Drop for Horn {
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
    use super::Level::{Off, On};
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

    impl Bench {
        fn switches(&self) -> Vec<Level> {
            self.0.lock().unwrap().0.clone()
        }

        fn say(&self, broken: Option<&str>) {
            self.0.lock().unwrap().1 = broken.map(str::to_owned);
        }
    }

    fn at(millis: u64) -> Timestamp {
        Timestamp::from_millis(millis)
    }

    fn horn() -> (Bench, Horn) {
        let bench = Bench::default();
        let line = bench.clone();
        let open = move || Ok(Box::new(line.clone()) as Box<dyn Sounder>);
        (bench, Horn::new("buzzer", Box::new(open)))
    }

    #[test]
    fn only_changes_reach_the_line() {
        let (bench, mut horn) = horn();
        for (millis, level) in [(0, Off), (100, On), (150, On), (300, Off), (900, Off)] {
            horn.drive(level, at(millis)).unwrap();
        }
        assert_eq!(bench.switches(), [Off, On, Off]);
    }

    #[test]
    fn a_broken_line_is_told_until_it_is_mended() {
        let (bench, mut horn) = horn();
        horn.drive(Off, at(0)).unwrap();
        bench.say(Some("input/output error"));
        let fault = horn.drive(On, at(5000)).unwrap_err();
        assert_eq!(
            fault.to_string(),
            "sounder buzzer cannot be driven: input/output error"
        );
        bench.say(None);
        assert!(
            horn.drive(Off, at(5500)).is_err(),
            "left alone for a second"
        );
        assert_eq!(horn.drive(Off, at(6000)), Ok(()));
    }

    #[test]
    fn a_mended_line_takes_up_the_running_call() {
        let (bench, mut horn) = horn();
        bench.say(Some("gone"));
        assert!(horn.drive(On, at(0)).is_err());
        bench.say(None);
        horn.drive(On, at(1000)).unwrap();
        assert_eq!(bench.switches(), [On]);
    }

    #[test]
    fn a_horn_that_is_dropped_is_silent() {
        let (bench, mut horn) = horn();
        horn.drive(On, at(0)).unwrap();
        drop(horn);
        assert_eq!(bench.switches(), [On, Off]);
    }
}
