//! The thin layer over `/dev/gpiochip*`, by the character device.
//!
//! No test runs this: there is no simulated GPIO on a desk. It holds nothing
//! that decides anything; see [`crate::key`] and [`crate::sound`] for that.

use std::time::Duration;

use embedded_hal::digital::{self, InputPin, OutputPin};
use gpiocdev::Request;
use gpiocdev::line::{Bias, EdgeDetection, Offset, Value, Values};

use crate::board::{Active, LineName, Pull};
use crate::key::{Contact, Contacts};
use crate::sound::{Level, Sounder};

/// How the kernel names us beside a line we hold.
const CONSUMER: &str = "cringle";

/// What was asked of a line and what the kernel said.
#[derive(Debug)]
pub struct LineError {
    line: String,
    why: String,
}

impl core::fmt::Display for LineError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "line {}: {}", self.line, self.why)
    }
}

impl std::error::Error for LineError {}

impl digital::Error for LineError {
    fn kind(&self) -> digital::ErrorKind {
        digital::ErrorKind::Other
    }
}

/// An output line.
#[derive(Debug)]
pub struct Output {
    request: Request,
    name: String,
}

impl Output {
    /// Takes a line and drives it to its resting level.
    pub fn open(line: &LineName, active: Active) -> Result<Self, LineError> {
        let (chip, offset) = find(line)?;
        let mut builder = Request::builder();
        builder
            .with_consumer(CONSUMER)
            .on_chip(chip)
            .with_line(offset)
            .as_output(Value::Inactive);
        if active == Active::Low {
            builder.as_active_low();
        }
        let request = builder
            .request()
            .map_err(|error| fault(&line.to_string(), &error))?;
        Ok(Output {
            request,
            name: line.to_string(),
        })
    }

    fn put(&self, value: Value) -> Result<(), LineError> {
        self.request
            .set_lone_value(value)
            .map_err(|error| fault(&self.name, &error))
    }
}

impl digital::ErrorType for Output {
    type Error = LineError;
}

impl OutputPin for Output {
    fn set_low(&mut self) -> Result<(), LineError> {
        self.put(Value::Inactive)
    }

    fn set_high(&mut self) -> Result<(), LineError> {
        self.put(Value::Active)
    }
}

impl Sounder for Output {
    fn set(&mut self, level: Level) -> Result<(), String> {
        let value = match level {
            Level::Off => Value::Inactive,
            Level::On => Value::Active,
        };
        self.put(value).map_err(|error| error.to_string())
    }
}

/// An input line.
#[derive(Debug)]
pub struct Input {
    request: Request,
    name: String,
}

impl Input {
    /// Takes a line for reading.
    pub fn open(line: &LineName, pull: Pull) -> Result<Self, LineError> {
        let (chip, offset) = find(line)?;
        let request = Request::builder()
            .with_consumer(CONSUMER)
            .on_chip(chip)
            .with_line(offset)
            .as_input()
            .with_bias(bias(pull))
            .request()
            .map_err(|error| fault(&line.to_string(), &error))?;
        Ok(Input {
            request,
            name: line.to_string(),
        })
    }
}

impl digital::ErrorType for Input {
    type Error = LineError;
}

impl InputPin for Input {
    fn is_high(&mut self) -> Result<bool, LineError> {
        let value = self
            .request
            .lone_value()
            .map_err(|error| fault(&self.name, &error))?;
        Ok(value == Value::Active)
    }

    fn is_low(&mut self) -> Result<bool, LineError> {
        self.is_high().map(|high| !high)
    }
}

/// How one key is wired.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyLine {
    /// The line it closes.
    pub line: LineName,
    /// The level when it is pressed.
    pub active: Active,
    /// What holds the line when it is not.
    pub pull: Pull,
}

/// All keys of a board: edges wake, levels count, so none is missed for good.
#[derive(Debug)]
pub struct KeyLines {
    request: Request,
    offsets: Vec<Offset>,
}

impl KeyLines {
    /// Takes all lines, in the order of the board file. They must be on one
    /// chip, so that there is one thing to wait on.
    pub fn open(keys: &[KeyLine]) -> Result<Self, LineError> {
        let mut builder = Request::builder();
        builder.with_consumer(CONSUMER);
        let mut offsets = Vec::new();
        let mut one_chip = None;
        for key in keys {
            let (chip, offset) = find(&key.line)?;
            if one_chip.get_or_insert_with(|| chip.clone()) != &chip {
                return Err(LineError {
                    line: key.line.to_string(),
                    why: "keys must all be on one GPIO chip".into(),
                });
            }
            builder
                .on_chip(chip)
                .with_line(offset)
                .as_input()
                .with_bias(bias(key.pull))
                .with_edge_detection(EdgeDetection::BothEdges);
            match key.active {
                Active::Low => builder.as_active_low(),
                Active::High => builder.as_active_high(),
            };
            offsets.push(offset);
        }
        let request = builder.request().map_err(|error| fault("keys", &error))?;
        Ok(KeyLines { request, offsets })
    }
}

impl Contacts for KeyLines {
    fn read(&mut self) -> Result<Vec<Contact>, String> {
        let said = |error: gpiocdev::Error| fault("keys", &error).to_string();
        // Edges only wake us: empty the queue, then ask for the levels.
        while self.request.has_edge_event().map_err(said)? {
            self.request.read_edge_event().map_err(said)?;
        }
        let mut values = Values::from_offsets(&self.offsets);
        self.request.values(&mut values).map_err(said)?;
        let contact = |offset: &Offset| match values.get(*offset) {
            Some(Value::Active) => Contact::Closed,
            Some(Value::Inactive) | None => Contact::Open,
        };
        Ok(self.offsets.iter().map(contact).collect())
    }

    fn wait(&mut self, at_most: Duration) -> Result<(), String> {
        self.request
            .wait_edge_event(at_most)
            .map(|_| ())
            .map_err(|error| fault("keys", &error).to_string())
    }
}

/// The chip and offset of a line, by number or by the name the kernel gives it.
fn find(line: &LineName) -> Result<(std::path::PathBuf, Offset), LineError> {
    match line {
        LineName::Numbered { chip, offset } => Ok((format!("/dev/{chip}").into(), *offset)),
        LineName::Named(name) => gpiocdev::find_named_line(name)
            .map(|found| (found.chip, found.info.offset))
            .ok_or_else(|| LineError {
                line: line.to_string(),
                why: "no chip has a line of this name (`gpioinfo` lists them)".into(),
            }),
    }
}

fn bias(pull: Pull) -> Bias {
    match pull {
        Pull::Up => Bias::PullUp,
        Pull::Down => Bias::PullDown,
        Pull::None => Bias::Disabled,
    }
}

fn fault(line: &str, error: &gpiocdev::Error) -> LineError {
    LineError {
        line: line.to_string(),
        why: error.to_string(),
    }
}
