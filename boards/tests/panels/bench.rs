//! Fake buses and lines for the panel tests.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use cringle_core::time::Timestamp;
use embedded_hal::digital::{self, InputPin, OutputPin};
use embedded_hal::spi::{self, SpiDevice};
use embedded_hal_mock::eh1::digital::{
    Mock as PinMock, State as PinState, Transaction as PinTransaction,
};
use embedded_hal_mock::eh1::spi::{Mock as SpiMock, Transaction as SpiTransaction};

pub(crate) fn at(seconds: u64) -> Timestamp {
    Timestamp::from_secs(seconds)
}

/// What a panel must put on an SPI bus and its data/command line, byte by byte.
#[derive(Default)]
pub(crate) struct Script {
    spi: Vec<SpiTransaction<u8>>,
    data_command: Vec<PinTransaction>,
}

impl Script {
    /// One command byte, the line low, then its arguments, the line high.
    pub(crate) fn command(mut self, command: u8, arguments: &[u8]) -> Self {
        self.data_command.push(PinTransaction::set(PinState::Low));
        self = self.write(&[command]);
        self.data_command.push(PinTransaction::set(PinState::High));
        if arguments.is_empty() {
            return self;
        }
        self.write(arguments)
    }

    /// The data/command line goes low, but nothing reaches the bus.
    pub(crate) fn data_command_low(mut self) -> Self {
        self.data_command.push(PinTransaction::set(PinState::Low));
        self
    }

    /// A command of a driver that raises the line only for data.
    pub(crate) fn bare(mut self, command: u8) -> Self {
        self.data_command.push(PinTransaction::set(PinState::Low));
        self.write(&[command])
    }

    /// A command of a driver that sends its data byte by byte.
    pub(crate) fn command_bytewise(mut self, command: u8, data: &[u8]) -> Self {
        self = self.bare(command);
        self.data_command.push(PinTransaction::set(PinState::High));
        data.iter()
            .fold(self, |script, byte| script.write(&[*byte]))
    }

    pub(crate) fn write(mut self, bytes: &[u8]) -> Self {
        self.spi.push(SpiTransaction::transaction_start());
        self.spi.push(SpiTransaction::write_vec(bytes.to_vec()));
        self.spi.push(SpiTransaction::transaction_end());
        self
    }

    pub(crate) fn mocks(&self) -> (SpiMock<u8>, PinMock) {
        (SpiMock::new(&self.spi), PinMock::new(&self.data_command))
    }
}

/// A bus with a plug that can be pulled: then every write fails.
#[derive(Clone)]
pub(crate) struct Plug<T> {
    pub(crate) inner: T,
    pub(crate) pulled: Arc<AtomicBool>,
}

impl<T> Plug<T> {
    pub(crate) fn new(inner: T) -> Self {
        Plug {
            inner,
            pulled: Arc::default(),
        }
    }

    pub(crate) fn pull(&self) {
        self.pulled.store(true, Ordering::Relaxed);
    }

    pub(crate) fn push_in(&self) {
        self.pulled.store(false, Ordering::Relaxed);
    }
}

impl<T: SpiDevice<Error = spi::ErrorKind>> spi::ErrorType for Plug<T> {
    type Error = spi::ErrorKind;
}

impl<T: SpiDevice<Error = spi::ErrorKind>> SpiDevice for Plug<T> {
    fn transaction(
        &mut self,
        operations: &mut [spi::Operation<'_, u8>],
    ) -> Result<(), spi::ErrorKind> {
        if self.pulled.load(Ordering::Relaxed) {
            return Err(spi::ErrorKind::Other);
        }
        self.inner.transaction(operations)
    }
}

/// A line nobody checks.
#[derive(Clone, Default)]
pub(crate) struct Free;

impl digital::ErrorType for Free {
    type Error = core::convert::Infallible;
}

impl OutputPin for Free {
    fn set_low(&mut self) -> Result<(), Self::Error> {
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Self::Error> {
        Ok(())
    }
}

/// How the busy line of an e-paper module behaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum BusyLine {
    /// High for so many looks after the chip is told to turn.
    Works(u32),
    /// High for ever: an empty plug with a pull-up.
    StuckHigh,
    /// Low for ever: an empty plug with a pull-down.
    StuckLow,
}

/// The bus of an e-paper module whose busy line follows what it is told.
#[derive(Clone)]
pub(crate) struct Module<SPI> {
    pub(crate) spi: SPI,
    pub(crate) line: BusyLine,
    pub(crate) looks: Arc<AtomicU32>,
    pub(crate) looked: Arc<AtomicU32>,
}

impl<SPI> Module<SPI> {
    pub(crate) fn new(spi: SPI, line: BusyLine) -> Self {
        Module {
            spi,
            line,
            looks: Arc::default(),
            looked: Arc::default(),
        }
    }
}

impl<SPI: SpiDevice> spi::ErrorType for Module<SPI> {
    type Error = SPI::Error;
}

impl<SPI: SpiDevice> SpiDevice for Module<SPI> {
    fn transaction(
        &mut self,
        operations: &mut [spi::Operation<'_, u8>],
    ) -> Result<(), Self::Error> {
        // 0x20 is "turn now", in the chip's data sheet "master activation".
        let turns = operations
            .iter()
            .any(|operation| matches!(operation, spi::Operation::Write([0x20])));
        if let (true, BusyLine::Works(looks)) = (turns, self.line) {
            self.looks.store(looks, Ordering::Relaxed);
        }
        self.spi.transaction(operations)
    }
}

impl<SPI> digital::ErrorType for Module<SPI> {
    type Error = core::convert::Infallible;
}

impl<SPI> InputPin for Module<SPI> {
    fn is_high(&mut self) -> Result<bool, Self::Error> {
        self.looked.fetch_add(1, Ordering::Relaxed);
        Ok(match self.line {
            BusyLine::StuckHigh => true,
            BusyLine::StuckLow => false,
            BusyLine::Works(_) => self
                .looks
                .fetch_update(Ordering::Relaxed, Ordering::Relaxed, |left| {
                    left.checked_sub(1)
                })
                .is_ok(),
        })
    }

    fn is_low(&mut self) -> Result<bool, Self::Error> {
        self.is_high().map(|high| !high)
    }
}
