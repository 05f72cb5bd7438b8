//! From a boat file to the decoders of its ports.

use cringle_boat::{BoatFile, PortSettings};
use cringle_wire::decode::{Decoder, PortOptions};
use cringle_wire::prefer::{Preference, Preferences};
use cringle_wire::sentence::{Checksum, Formatter, Talker};
use cringle_wire::transducer::{Sign, Transducers};

use crate::names::Names;

/// The names of these ports, and of what the boat has.
pub fn names(boat_file: &BoatFile, ports: &[String]) -> Names {
    Names::new(&boat_file.boat, ports.to_vec())
}

/// A decoder for each port, in their order. It goes by names alone, so that a
/// recording finds the same decoders again.
pub fn decoders(boat_file: &BoatFile, ports: &[String]) -> Vec<Decoder> {
    let transducers = transducers(boat_file);
    let preferences = preferences(boat_file, ports);
    ports
        .iter()
        .zip(0..)
        .map(|(name, number)| {
            let checksum = settings_of(boat_file, name).map(|known| known.checksum);
            let options = PortOptions {
                checksum: match checksum.unwrap_or_default() {
                    cringle_boat::Checksum::Required => Checksum::Required,
                    cringle_boat::Checksum::Optional => Checksum::Optional,
                },
            };
            Decoder::new(number, options)
                .with_transducers(transducers.clone())
                .with_preferences(preferences.clone())
        })
        .collect()
}

fn transducers(boat_file: &BoatFile) -> Transducers {
    let mut map = Transducers::shipped();
    for transducer in &boat_file.transducers {
        let sign = match transducer.sign {
            cringle_boat::Sign::AsIs => Sign::AsSent,
            cringle_boat::Sign::Reversed => Sign::Reversed,
        };
        if let Err(error) = map.set(&transducer.name, Some(transducer.quantity), sign) {
            tracing::warn!("transducer {}: {error}", transducer.name);
        }
    }
    map
}

fn preferences(boat_file: &BoatFile, ports: &[String]) -> Preferences {
    let mut preferences = Preferences::new();
    for stated in &boat_file.preferences {
        let port = match &stated.port {
            Some(name) => match ports.iter().position(|port| port == name) {
                Some(place) => u8::try_from(place).ok(),
                // That port is not open now: nothing can come from it.
                None => continue,
            },
            None => None,
        };
        let preference = Preference {
            quantity: Some(stated.quantity),
            port,
            talker: stated.talker.as_deref().and_then(Talker::from_text),
            formatter: stated.sentence.as_deref().and_then(Formatter::from_text),
            rank: stated.rank,
        };
        if preferences.add(preference).is_err() {
            tracing::warn!("too many preferences in the boat file: the last are left out");
            break;
        }
    }
    preferences
}

/// What the boat file says of a port of this name.
pub fn settings_of<'f>(boat_file: &'f BoatFile, name: &str) -> Option<&'f PortSettings> {
    boat_file.ports.iter().find(|known| known.port.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_preference_for_a_port_that_is_not_open_binds_nobody() {
        let mut boat_file = cringle_boat::example().unwrap();
        boat_file.preferences.push(cringle_boat::Preference {
            quantity: cringle_core::reading::Quantity::Heel,
            port: Some("elsewhere".into()),
            talker: None,
            sentence: None,
            rank: cringle_core::reading::Rank(1),
        });
        let rank = preferences(&boat_file, &["here".into()]).rank(
            cringle_core::reading::Quantity::Heel,
            0,
            Talker::new(*b"YX").unwrap(),
            Formatter::from_text("XDR").unwrap(),
        );
        assert_eq!(rank, cringle_core::reading::Rank::AUTOMATIC);
    }
}
