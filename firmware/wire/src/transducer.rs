//! Which quantity each transducer name of XDR feeds, and with which sign.
//!
//! XDR names are the maker's own, so the boat file can map any name; what is
//! met most is mapped as shipped. Names compare without regard to case. The
//! angles of PASHR have no names on the wire and are mapped as
//! [`PASHR_ROLL`] and [`PASHR_PITCH`].

use cringle_core::reading::Quantity;

use crate::decode::units::{HPA_PER_INHG, HPA_PER_MMHG};
use crate::prefer::Full;
use crate::source::PARTS;

/// Most names mapped at once.
pub const TRANSDUCERS_MOST: usize = PARTS as usize;

/// A transducer's name; longer ones cannot be mapped.
pub type Name = heapless::String<20>;

/// The name under which the roll of PASHR is mapped.
pub const PASHR_ROLL: &str = "PASHR.ROLL";

/// The name under which the pitch of PASHR is mapped.
pub const PASHR_PITCH: &str = "PASHR.PITCH";

/// Whether a transducer's sign is ours.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sign {
    /// As the module docs of the crate have it.
    #[default]
    AsSent,
    /// The other way round.
    Reversed,
}

impl Sign {
    /// The value with our sign.
    pub fn apply(self, value: f64) -> f64 {
        match self {
            Sign::AsSent => value,
            Sign::Reversed => -value,
        }
    }
}

/// One mapped name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Transducer {
    /// The name on the wire.
    pub name: Name,
    /// What it feeds; `None` for a name to be passed over.
    pub feeds: Option<Quantity>,
    /// Its sign.
    pub sign: Sign,
}

/// Why a name cannot be mapped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MapError {
    /// All places are taken.
    Full,
    /// The name is longer than a [`Name`], or empty.
    Name,
    /// No XDR transducer measures this.
    Quantity(Quantity),
}

impl core::fmt::Display for MapError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            MapError::Full => Full.fmt(f),
            MapError::Name => f.write_str("transducer name is not of 1 to 20 characters"),
            MapError::Quantity(quantity) => write!(
                f,
                "no transducer feeds {}, expected heel, pitch, rudder, pressure, \
                 air temperature, water temperature or humidity",
                quantity.name()
            ),
        }
    }
}

impl core::error::Error for MapError {}

/// The names mapped.
#[derive(Clone, Debug)]
pub struct Transducers(heapless::Vec<Transducer, TRANSDUCERS_MOST>);

/// PTCH, PITCH and ROLL are met in open references, STNP in a weather-sensor
/// manual; the others are from memory. Roll with the starboard side down
/// positive is one weather-sensor manual's and one motion-sensor manual's.
const SHIPPED: [(&str, Quantity); 16] = [
    ("HEEL", Quantity::Heel),
    ("ROLL", Quantity::Heel),
    (PASHR_ROLL, Quantity::Heel),
    ("PTCH", Quantity::Pitch),
    ("PITCH", Quantity::Pitch),
    ("TRIM", Quantity::Pitch),
    (PASHR_PITCH, Quantity::Pitch),
    ("RUDDER", Quantity::Rudder),
    ("BARO", Quantity::Pressure),
    ("BAROMETER", Quantity::Pressure),
    ("STNP", Quantity::Pressure),
    ("AIR", Quantity::AirTemperature),
    ("AIRTEMP", Quantity::AirTemperature),
    ("TEMPAIR", Quantity::AirTemperature),
    ("WATERTEMP", Quantity::WaterTemperature),
    ("HUMIDITY", Quantity::Humidity),
];

impl Default for Transducers {
    fn default() -> Self {
        Transducers::shipped()
    }
}

impl Transducers {
    /// The names that are mapped as shipped.
    pub fn shipped() -> Self {
        let mut map = Transducers(heapless::Vec::new());
        for (name, quantity) in SHIPPED {
            // Fewer are shipped than there are places; a test counts them.
            let _ = map.set(name, Some(quantity), Sign::AsSent);
        }
        map
    }

    /// Maps a name, in place of what it was mapped to before. `None` passes
    /// the name over.
    pub fn set(&mut self, name: &str, feeds: Option<Quantity>, sign: Sign) -> Result<(), MapError> {
        if let Some(quantity) = feeds.filter(|quantity| Kind::of(*quantity).is_none()) {
            return Err(MapError::Quantity(quantity));
        }
        let stored = Name::try_from(name.trim()).map_err(|_| MapError::Name)?;
        if stored.is_empty() {
            return Err(MapError::Name);
        }
        let transducer = Transducer {
            name: stored,
            feeds,
            sign,
        };
        match self.place(transducer.name.as_bytes()) {
            Some(place) => {
                if let Some(known) = self.0.get_mut(place) {
                    *known = transducer;
                }
                Ok(())
            }
            None => self.0.push(transducer).map_err(|_| MapError::Full),
        }
    }

    /// All names with their places, as [`Source::part`](crate::source::Source)
    /// counts them.
    pub fn iter(&self) -> impl Iterator<Item = &Transducer> {
        self.0.iter()
    }

    /// The name mapped at this place.
    pub fn get(&self, part: u8) -> Option<&Transducer> {
        self.0.get(usize::from(part))
    }

    /// A name's place and what it feeds.
    pub(crate) fn find(&self, name: &[u8]) -> Option<(u8, Option<Quantity>, Sign)> {
        let place = self.place(name)?;
        let found = self.0.get(place)?;
        Some((place as u8, found.feeds, found.sign))
    }

    fn place(&self, name: &[u8]) -> Option<usize> {
        self.0
            .iter()
            .position(|known| known.name.as_bytes().eq_ignore_ascii_case(name))
    }
}

/// What sort of transducer, by the type letter of XDR.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Angle,
    Temperature,
    Humidity,
    Pressure,
}

impl Kind {
    pub(crate) fn read(letter: u8) -> Option<Kind> {
        match letter {
            b'A' => Some(Kind::Angle),
            b'C' => Some(Kind::Temperature),
            b'H' => Some(Kind::Humidity),
            b'P' => Some(Kind::Pressure),
            _ => None,
        }
    }

    pub(crate) fn of(quantity: Quantity) -> Option<Kind> {
        match quantity {
            Quantity::Heel | Quantity::Pitch | Quantity::Rudder => Some(Kind::Angle),
            Quantity::AirTemperature | Quantity::WaterTemperature => Some(Kind::Temperature),
            Quantity::Humidity => Some(Kind::Humidity),
            Quantity::Pressure => Some(Kind::Pressure),
            _ => None,
        }
    }

    /// Brings a value to the unit of its quantity. The unit letter alone does
    /// not tell: `P` is pascal behind a pressure and per cent elsewhere, `B`
    /// is bar or binary. No letter is the usual unit, where there is one.
    pub(crate) fn convert(self, value: f64, unit: &[u8]) -> Option<f64> {
        let letter = match unit {
            [] => None,
            [letter] => Some(letter.to_ascii_uppercase()),
            _ => return None,
        };
        match (self, letter) {
            (Kind::Angle, Some(b'D') | None) => Some(value),
            (Kind::Temperature, Some(b'C') | None) => Some(value),
            (Kind::Temperature, Some(b'K')) => Some(value - 273.15),
            (Kind::Temperature, Some(b'F')) => Some((value - 32.0) / 1.8),
            (Kind::Humidity, Some(b'P') | None) => Some(value),
            (Kind::Pressure, Some(b'B')) => Some(value * 1000.0),
            (Kind::Pressure, Some(b'P')) => Some(value / 100.0),
            // Letters of a weather-sensor manual: hectopascal, inches and
            // millimetres of mercury at 0 C.
            (Kind::Pressure, Some(b'H')) => Some(value),
            (Kind::Pressure, Some(b'I')) => Some(value * HPA_PER_INHG),
            (Kind::Pressure, Some(b'M')) => Some(value * HPA_PER_MMHG),
            _ => None,
        }
    }
}
