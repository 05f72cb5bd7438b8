//! The alert sentences: ALR and ACK of the older way; ALF, ALC, ACN, ARC of
//! the bridge alert management way; HBT beside both.
//!
//! One alert goes out the one way or the other, never both. Each type here is
//! one sentence, written and read back the same. Field order and state letters
//! follow open references and three manuals that agree (a fourth, a radio
//! manual, swaps the letters A, N and V and is not followed).

mod moment;
mod read;
mod words;
mod write;

pub use moment::TimeOfDay;
pub(crate) use read::{ack, acn, alc, alf, alr, arc, hbt};
pub(crate) use words::Sent;
pub use words::{WORDS_MOST, Words};
pub use write::{Alert, TITLE_MOST, list};

/// A maker's three letters; empty for alerts of the standard itself.
pub type MakerCode = heapless::String<3>;

/// Any alert sentence, as it was read.
// Handed out by reference, one at a time: the size of the largest is no cost.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq)]
pub enum AlertIn {
    /// ACK, from a bridge.
    Acknowledge(Ack),
    /// ACN, from a bridge.
    Command(Acn),
    /// HBT, from anywhere.
    Heartbeat(Hbt),
    /// ALR, from another device.
    Alarm(Alr),
    /// ALF, from another device.
    Alert(Alf),
    /// ALC, from another device.
    List(Alc),
    /// ARC, from another device.
    Refused(Arc),
}

/// Which alert: the same through all its states.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AlertName {
    /// The maker's letters; empty for alerts of the standard.
    pub maker: MakerCode,
    /// The alert's identifier; a maker's own from 10000 up (from memory).
    pub id: u32,
    /// Its instance, 1 to 999999; `None` where there is only one.
    pub instance: Option<u32>,
}

/// Whether an alert can be acknowledged elsewhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Category {
    /// A: only where it is shown in full.
    AtSource,
    /// B: anywhere.
    Anywhere,
    /// C: not on the bridge.
    NotOnBridge,
}

/// How urgent an alert is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Priority {
    /// E: immediate danger to life or ship.
    EmergencyAlarm,
    /// A: immediate action.
    Alarm,
    /// W: immediate attention.
    Warning,
    /// C: out of the ordinary.
    Caution,
}

/// Where an alert stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AlertState {
    /// V.
    ActiveUnacknowledged,
    /// S.
    ActiveSilenced,
    /// A; a caution that stands, too.
    ActiveAcknowledged,
    /// O.
    ResponsibilityTransferred,
    /// U.
    RectifiedUnacknowledged,
    /// N.
    Normal,
}

macro_rules! letters {
    ($type:ty { $($variant:ident = $letter:literal),+ $(,)? }) => {
        impl $type {
            /// Its letter on the wire.
            pub const fn letter(self) -> u8 {
                match self {
                    $(<$type>::$variant => $letter,)+
                }
            }

            /// By its letter on the wire.
            pub const fn from_letter(letter: u8) -> Option<Self> {
                match letter {
                    $($letter => Some(<$type>::$variant),)+
                    _ => None,
                }
            }
        }
    };
}

letters!(Category { AtSource = b'A', Anywhere = b'B', NotOnBridge = b'C' });
letters!(Priority { EmergencyAlarm = b'E', Alarm = b'A', Warning = b'W', Caution = b'C' });
letters!(AlertState {
    ActiveUnacknowledged = b'V',
    ActiveSilenced = b'S',
    ActiveAcknowledged = b'A',
    ResponsibilityTransferred = b'O',
    RectifiedUnacknowledged = b'U',
    Normal = b'N',
});
letters!(Command { Acknowledge = b'A', Repeat = b'Q', TakeOver = b'O', Silence = b'S' });

/// What ACN asks for and ARC refuses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// A: acknowledge.
    Acknowledge,
    /// Q: send the alert again.
    Repeat,
    /// O: responsibility is taken over.
    TakeOver,
    /// S: silence for a while.
    Silence,
}

/// ALR: one alarm and where it stands, the older way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alr {
    /// When its state changed.
    pub at: Option<TimeOfDay>,
    /// Local number, 0 to 999.
    pub number: u16,
    /// Whether its threshold is passed.
    pub condition: Condition,
    /// Whether someone has acknowledged it.
    pub acknowledgement: Acknowledgement,
    /// What it says.
    pub words: Words,
}

/// Whether an alarm's threshold is passed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Condition {
    /// A.
    Exceeded,
    /// V.
    NotExceeded,
}

/// Whether an alarm was acknowledged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Acknowledgement {
    /// A.
    Acknowledged,
    /// V.
    Unacknowledged,
}

letters!(Condition { Exceeded = b'A', NotExceeded = b'V' });
letters!(Acknowledgement { Acknowledged = b'A', Unacknowledged = b'V' });

impl AlertState {
    /// The same state in ALR's two letters. Silenced is not acknowledged.
    pub const fn for_alr(self) -> (Condition, Acknowledgement) {
        match self {
            AlertState::ActiveUnacknowledged | AlertState::ActiveSilenced => {
                (Condition::Exceeded, Acknowledgement::Unacknowledged)
            }
            AlertState::ActiveAcknowledged | AlertState::ResponsibilityTransferred => {
                (Condition::Exceeded, Acknowledgement::Acknowledged)
            }
            AlertState::RectifiedUnacknowledged => {
                (Condition::NotExceeded, Acknowledgement::Unacknowledged)
            }
            AlertState::Normal => (Condition::NotExceeded, Acknowledgement::Acknowledged),
        }
    }
}

/// ACK: acknowledges an ALR.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ack {
    /// Local number, 0 to 999.
    pub number: u16,
}

/// ALF: one alert in full, in one sentence or two.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alf {
    /// How many sentences, 1 or 2.
    pub total: u8,
    /// Which of them, 1 or 2.
    pub number: u8,
    /// Ties the two together, 0 to 9.
    pub sequence: u8,
    /// Null in the second sentence.
    pub standing: Option<Standing>,
    /// Which alert.
    pub name: AlertName,
    /// 1 to 99, up at each change of state.
    pub revision: u8,
    /// 0 to 9, up at each escalation.
    pub escalation: u8,
    /// The title in the first sentence, the description in the second.
    pub words: Words,
}

/// Where the alert of an [`Alf`] stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    /// When its state changed.
    pub at: Option<TimeOfDay>,
    /// Whether it can be acknowledged elsewhere.
    pub category: Category,
    /// How urgent it is.
    pub priority: Priority,
    /// Its state.
    pub state: AlertState,
}

/// Entries that one [`Alc`] has room for: the shortest take 6 bytes.
pub const ENTRIES_MOST: usize = 10;

/// ALC: a part of the list of all alerts that are not normal, sent in turn.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alc {
    /// How many sentences, 1 to 99.
    pub total: u8,
    /// Which of them, from 1.
    pub number: u8,
    /// Ties them together, 0 to 99.
    pub sequence: u8,
    /// The alerts; none active is an empty list.
    pub entries: heapless::Vec<Entry, ENTRIES_MOST>,
}

/// One alert in an [`Alc`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Which alert.
    pub name: AlertName,
    /// 1 to 99, as in its last [`Alf`].
    pub revision: u8,
}

/// ACN: a command for one alert.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Acn {
    /// When it was given.
    pub at: Option<TimeOfDay>,
    /// Which alert.
    pub name: AlertName,
    /// What is asked.
    pub command: Command,
}

/// ARC: a command refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Arc {
    /// When.
    pub at: Option<TimeOfDay>,
    /// Which alert.
    pub name: AlertName,
    /// What was asked.
    pub command: Command,
}

/// HBT: the sender is alive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hbt {
    /// Seconds between heartbeats, 1 to 999; `None` where null.
    pub interval_s: Option<u16>,
    /// Whether it says that it works as it should.
    pub health: Health,
    /// 0 to 9, up by one each time.
    pub sequence: Option<u8>,
}

/// What a heartbeat says of its sender.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Health {
    /// A.
    Working,
    /// V.
    Faulty,
}

letters!(Health { Working = b'A', Faulty = b'V' });
