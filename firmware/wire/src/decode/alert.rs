//! What a bridge says back to our alerts: ACK, ACN, HBT.

use super::Out;
use super::hearing::{Hearing, Status};
use crate::fields::whole;
use crate::refusal::Refusal;

/// A maker's three letters; empty for alerts of the standard.
pub type MakerCode = heapless::String<3>;

/// An alert sentence from elsewhere.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AlertIn {
    /// ACK: the older acknowledgement, by local alarm number.
    Acknowledge {
        /// 0 to 999.
        number: u16,
    },
    /// ACN: a command for one alert.
    Command {
        /// The maker's letters.
        maker: MakerCode,
        /// The alert's identifier.
        id: u32,
        /// Its instance, 1 to 999999; `None` where null.
        instance: Option<u32>,
        /// What is to be done.
        command: AlertCommand,
    },
    /// HBT: the other side is alive.
    Heartbeat {
        /// Seconds to the next one.
        interval_s: Option<u16>,
        /// Whether it says that it works as it should.
        normal: Normal,
        /// 0 to 9.
        sequence: Option<u8>,
    },
}

/// What a heartbeat says of its sender.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Normal {
    /// Status A.
    Working,
    /// Status V or null.
    Faulty,
}

/// What ACN asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AlertCommand {
    /// A: acknowledge.
    Acknowledge,
    /// Q: send the alert again.
    Repeat,
    /// O: responsibility is taken over.
    TakeOver,
    /// S: silence for a while.
    Silence,
}

impl AlertCommand {
    /// Its letter on the wire.
    pub const fn letter(self) -> u8 {
        match self {
            AlertCommand::Acknowledge => b'A',
            AlertCommand::Repeat => b'Q',
            AlertCommand::TakeOver => b'O',
            AlertCommand::Silence => b'S',
        }
    }

    fn read(letter: u8) -> Option<AlertCommand> {
        match letter {
            b'A' => Some(AlertCommand::Acknowledge),
            b'Q' => Some(AlertCommand::Repeat),
            b'O' => Some(AlertCommand::TakeOver),
            b'S' => Some(AlertCommand::Silence),
            _ => None,
        }
    }
}

/// `alarm number`.
pub(crate) fn ack(h: &mut Hearing<'_, '_>) {
    match whole(h.fields().text(0), 3) {
        Some(number) => h.out(Out::Alert(AlertIn::Acknowledge {
            number: number as u16,
        })),
        None => h.refuse(Refusal::Layout),
    }
}

/// `UTC, maker, id, instance, command, C`. Without the C it is no command.
pub(crate) fn acn(h: &mut Hearing<'_, '_>) {
    if h.fields().letter(5) != Some(b'C') {
        return h.refuse(Refusal::NotACommand);
    }
    match command(h) {
        Some(command) => h.out(Out::Alert(command)),
        None => h.refuse(Refusal::Layout),
    }
}

fn command(h: &Hearing<'_, '_>) -> Option<AlertIn> {
    let fields = h.fields();
    let instance = match fields.text(3) {
        b"" => None,
        digits => Some(whole(digits, 6)?),
    };
    let maker = core::str::from_utf8(fields.text(1)).ok()?;
    Some(AlertIn::Command {
        maker: MakerCode::try_from(maker).ok()?,
        id: whole(fields.text(2), 7)?,
        instance,
        command: AlertCommand::read(fields.letter(4)?)?,
    })
}

/// `interval, status, sequence`.
pub(crate) fn hbt(h: &mut Hearing<'_, '_>) {
    let Some(status) = h.status(1) else { return };
    let fields = h.fields();
    // The interval may be written with decimals.
    let interval = fields
        .number(0)
        .value()
        .filter(|seconds| (0.0..=999.0).contains(seconds));
    let heartbeat = AlertIn::Heartbeat {
        interval_s: interval.map(|seconds| seconds as u16),
        normal: match status {
            Status::Valid => Normal::Working,
            Status::Invalid => Normal::Faulty,
        },
        sequence: whole(fields.text(2), 1).map(|digit| digit as u8),
    };
    h.out(Out::Alert(heartbeat));
}
