//! What really happened on a bus.
//!
//! Display crates drop what the bus said: one turns every I2C error into "bus
//! write error", another throws away errors of its data/command and reset
//! lines and takes an unreadable busy line for idle. So buses and lines are
//! wrapped on their way in, and the notes tell how many bytes were sent and
//! what first went wrong.

use std::sync::{Arc, Mutex, PoisonError};

use embedded_hal::digital::{self, InputPin, OutputPin};
use embedded_hal::i2c::{self, I2c};
use embedded_hal::spi::{self, SpiDevice};

/// Bytes sent and the first fault since last asked; shared by all wrappers of
/// one panel.
#[derive(Clone, Debug, Default)]
pub struct Notes(Arc<Mutex<Noting>>);

#[derive(Debug, Default)]
struct Noting {
    bytes: u64,
    fault: Option<String>,
}

impl Notes {
    /// Bytes sent so far.
    pub fn bytes(&self) -> u64 {
        self.with(|noting| noting.bytes)
    }

    /// The first fault since the last call, and forgets it.
    pub fn take_fault(&self) -> Option<String> {
        self.with(|noting| noting.fault.take())
    }

    /// The noted fault as an error, or else the outcome itself.
    pub fn judge<T, E: core::fmt::Debug>(&self, outcome: Result<T, E>) -> Result<T, String> {
        match (self.take_fault(), outcome) {
            (Some(fault), _) => Err(fault),
            (None, Err(error)) => Err(format!("{error:?}")),
            (None, Ok(value)) => Ok(value),
        }
    }

    pub(crate) fn sent(&self, bytes: usize) {
        self.with(|noting| noting.bytes += bytes as u64);
    }

    pub(crate) fn fault(&self, fault: impl FnOnce() -> String) {
        self.with(|noting| {
            noting.fault.get_or_insert_with(fault);
        });
    }

    fn with<T>(&self, act: impl FnOnce(&mut Noting) -> T) -> T {
        act(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// A bus or line that keeps notes.
#[derive(Debug)]
pub struct Noted<T> {
    inner: T,
    name: &'static str,
    notes: Notes,
}

impl<T> Noted<T> {
    /// Wraps a bus or line; faults are told by this name.
    pub fn new(inner: T, name: &'static str, notes: Notes) -> Self {
        Noted { inner, name, notes }
    }

    fn note<V, E: core::fmt::Debug>(&self, outcome: Result<V, E>) -> Result<V, E> {
        if let Err(error) = &outcome {
            self.notes.fault(|| format!("{}: {error:?}", self.name));
        }
        outcome
    }
}

impl<T: i2c::ErrorType> i2c::ErrorType for Noted<T> {
    type Error = T::Error;
}

impl<T: I2c> I2c for Noted<T> {
    fn write(&mut self, address: u8, bytes: &[u8]) -> Result<(), Self::Error> {
        let outcome = self.inner.write(address, bytes);
        self.notes.sent(bytes.len());
        self.note(outcome)
    }

    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [i2c::Operation<'_>],
    ) -> Result<(), Self::Error> {
        let outcome = self.inner.transaction(address, operations);
        for operation in operations.iter() {
            if let i2c::Operation::Write(bytes) = operation {
                self.notes.sent(bytes.len());
            }
        }
        self.note(outcome)
    }
}

impl<T: spi::ErrorType> spi::ErrorType for Noted<T> {
    type Error = T::Error;
}

impl<T: SpiDevice> SpiDevice for Noted<T> {
    fn write(&mut self, bytes: &[u8]) -> Result<(), Self::Error> {
        // Commands without arguments come with an empty write of their own.
        if bytes.is_empty() {
            return Ok(());
        }
        let outcome = self.inner.write(bytes);
        self.notes.sent(bytes.len());
        self.note(outcome)
    }

    fn transaction(
        &mut self,
        operations: &mut [spi::Operation<'_, u8>],
    ) -> Result<(), Self::Error> {
        let outcome = self.inner.transaction(operations);
        for operation in operations.iter() {
            if let spi::Operation::Write(bytes) = operation {
                self.notes.sent(bytes.len());
            }
        }
        self.note(outcome)
    }
}

impl<T: digital::ErrorType> digital::ErrorType for Noted<T> {
    type Error = T::Error;
}

impl<T: OutputPin> OutputPin for Noted<T> {
    fn set_low(&mut self) -> Result<(), Self::Error> {
        let outcome = self.inner.set_low();
        self.note(outcome)
    }

    fn set_high(&mut self) -> Result<(), Self::Error> {
        let outcome = self.inner.set_high();
        self.note(outcome)
    }
}

impl<T: InputPin> InputPin for Noted<T> {
    fn is_high(&mut self) -> Result<bool, Self::Error> {
        let outcome = self.inner.is_high();
        self.note(outcome)
    }

    fn is_low(&mut self) -> Result<bool, Self::Error> {
        let outcome = self.inner.is_low();
        self.note(outcome)
    }
}
