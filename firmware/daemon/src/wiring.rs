//! From a boat file to ports, decoders and outputs.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::time::Duration;

use cringle_boat::ports::{Address, PortSpec};
use cringle_boat::{AlertSentences, BoatFile, Outputs, PortSettings, SendWhat};
use cringle_engine::decoders::settings_of;
use cringle_wire::outputs::Outgoing;

pub use cringle_engine::decoders::{decoders, names};

use crate::outputs::{AlertForm, Wanted};
use crate::ports::{Place, Port, PortId};

/// Most ports at once: a source id has room for so many.
const MOST_PORTS: usize = 255;

/// The ports that are to be opened: those of the boat file, or, where any are
/// given by hand, only those. One that is given by the name of a port in the
/// boat file is treated as that one is.
pub fn ports(boat_file: &BoatFile, by_hand: &[PortSpec]) -> Vec<PortSettings> {
    if by_hand.is_empty() {
        return boat_file.ports.clone();
    }
    let treated = |spec: &PortSpec| match settings_of(boat_file, &spec.name) {
        Some(known) => PortSettings {
            port: spec.clone(),
            ..known.clone()
        },
        None => PortSettings {
            port: spec.clone(),
            checksum: Default::default(),
            send: Vec::new(),
        },
    };
    by_hand.iter().map(treated).collect()
}

/// One to open for each, numbered in their order.
pub fn openings(ports: &[PortSettings]) -> Vec<Port> {
    ports
        .iter()
        .take(MOST_PORTS)
        .zip(0..)
        .map(|(settings, number)| Port {
            id: PortId(number),
            name: settings.port.name.clone(),
            place: place(settings),
        })
        .collect()
}

fn place(settings: &PortSettings) -> Place {
    match &settings.port.address {
        Address::Serial { path, baud } => Place::Serial {
            path: path.clone(),
            baud: *baud,
        },
        Address::Tcp {
            host,
            port,
            senders,
        } => Place::Tcp {
            address: format!("{host}:{port}"),
            senders: *senders,
        },
        Address::ServeTcp { socket, clients } => Place::ServeTcp {
            address: socket.to_string(),
            clients: *clients,
        },
        Address::Udp {
            listen,
            to,
            senders,
        } => Place::Udp {
            senders: *senders,
            listen: listen.to_string(),
            send_to: Some(to.clone().unwrap_or_else(|| send_to(*listen).to_string())),
        },
        Address::File(path) => Place::File {
            path: path.clone(),
            baud: None,
        },
        Address::Stdin => Place::StandardInput,
    }
}

/// To all on the net, or to the group, on the port that is listened to.
fn send_to(listen: SocketAddr) -> SocketAddr {
    match listen.ip() {
        group if group.is_multicast() => listen,
        IpAddr::V4(own) if own.is_loopback() => listen,
        IpAddr::V4(_) => SocketAddr::new(Ipv4Addr::BROADCAST.into(), listen.port()),
        IpAddr::V6(_) => listen,
    }
}

/// What is sent out on each port.
pub fn wanted(boat_file: &BoatFile, ports: &[PortSettings]) -> Vec<(PortId, Wanted)> {
    ports
        .iter()
        .zip(0..)
        .map(|(settings, number)| {
            let wanted = wanted_on(&settings.send, &boat_file.outputs);
            (PortId(number), wanted)
        })
        .collect()
}

fn wanted_on(send: &[SendWhat], outputs: &Outputs) -> Wanted {
    let alerts = match outputs.alerts {
        AlertSentences::Alf => Some(AlertForm::Alf),
        AlertSentences::Alr => Some(AlertForm::Alr),
        AlertSentences::None => None,
    };
    let wind = outputs.true_wind.iter().filter_map(|(sentence, seconds)| {
        let what = match sentence.as_str() {
            "MWV" => Outgoing::TrueWind,
            "MWD" => Outgoing::GroundWind,
            "VWT" => Outgoing::TrueWindOldForm,
            _ => return None,
        };
        Some((what, Duration::try_from_secs_f64(*seconds).ok()?))
    });
    Wanted {
        alerts: alerts.filter(|_| send.contains(&SendWhat::Alerts)),
        wind: match send.contains(&SendWhat::TrueWind) {
            true => wind.collect(),
            false => Vec::new(),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spec(words: &str) -> PortSpec {
        words.parse().unwrap()
    }

    #[test]
    fn a_port_given_by_hand_takes_the_place_of_all_and_the_settings_of_its_name() {
        let boat_file = cringle_boat::example().unwrap();
        let named = format!("{}=-", boat_file.ports[0].port.name);
        let given = ports(&boat_file, &[spec(&named), spec("udp::2000")]);
        assert_eq!(given.len(), 2);
        assert_eq!(given[0].port.address, Address::Stdin);
        assert_eq!(given[0].checksum, boat_file.ports[0].checksum);
        let openings = openings(&given);
        assert_eq!(openings[1].id, PortId(1));
        assert_eq!(ports(&boat_file, &[]), boat_file.ports);
    }
}
