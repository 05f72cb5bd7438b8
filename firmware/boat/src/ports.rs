//! Port names: where bytes come from and go to.
//!
//! ```text
//! [name=]serial:/dev/ttyUSB0?baud=4800
//! [name=]tcp:HOST:PORT
//! [name=]serve-tcp:[ADDR]:PORT?clients=may-acknowledge
//! [name=]udp:[ADDR]:PORT?to=HOST:PORT
//! [name=]file:PATH
//! [name=]-
//! ```
//! Options follow a `?`, joined by `&`. The boat file and `--port` share this.

use std::fmt;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::path::PathBuf;
use std::str::FromStr;

/// The baud rate of plain NMEA 0183.
pub const BAUD: u32 = 4800;

/// One port, with the name that screens and recordings call it by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PortSpec {
    /// Given, or made from the address.
    pub name: String,
    /// Where it leads.
    pub address: Address,
}

/// Where a port leads.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Address {
    /// A serial device.
    Serial {
        /// Device file.
        path: PathBuf,
        /// Bits a second.
        baud: u32,
    },
    /// A TCP server to connect to.
    Tcp {
        /// Name or address.
        host: String,
        /// Its port.
        port: u16,
        /// What is heard of it.
        senders: Senders,
    },
    /// A TCP port on which others connect to us.
    ServeTcp {
        /// Own address.
        socket: SocketAddr,
        /// What they may do there.
        clients: Clients,
    },
    /// A UDP port on which datagrams come in.
    Udp {
        /// Own address, or a multicast group's.
        listen: SocketAddr,
        /// The one whom ours are sent to, as `HOST:PORT`; none given, they go
        /// to all on the net, or to the group.
        to: Option<String>,
        /// What is heard of those who send.
        senders: Senders,
    },
    /// A file or named pipe.
    File(PathBuf),
    /// Standard input.
    Stdin,
}

/// What those who connect to us may do beside listening. Anybody on the boat's
/// net can connect, so nothing is allowed unless it is said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Clients {
    /// Nothing: what they say is not heard.
    #[default]
    OnlyListen,
    /// Acknowledge alerts; whatever else they say is not heard.
    MayAcknowledge,
    /// Bring readings too, as an instrument does.
    MaySpeak,
}

impl Clients {
    const ALL: [Clients; 3] = [
        Clients::OnlyListen,
        Clients::MayAcknowledge,
        Clients::MaySpeak,
    ];

    /// As it is written.
    pub fn word(self) -> &'static str {
        match self {
            Clients::OnlyListen => "only-listen",
            Clients::MayAcknowledge => "may-acknowledge",
            Clients::MaySpeak => "may-speak",
        }
    }
}

/// What is heard of whoever sends on the network: anybody on the boat's net can, and
/// an acknowledgement that was not the crew's would silence an alarm.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Senders {
    /// Readings alone.
    #[default]
    OnlyReadings,
    /// Acknowledgements of alerts too.
    MayAcknowledge,
}

impl Senders {
    const ALL: [Senders; 2] = [Senders::OnlyReadings, Senders::MayAcknowledge];

    /// As it is written.
    pub fn word(self) -> &'static str {
        match self {
            Senders::OnlyReadings => "only-readings",
            Senders::MayAcknowledge => "may-acknowledge",
        }
    }
}

/// What is wrong with a port name and what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PortError {
    /// What was found.
    pub what: String,
    /// What would be accepted.
    pub mend: String,
}

impl fmt::Display for PortError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.what, self.mend)
    }
}

impl std::error::Error for PortError {}

fn error<T>(what: impl Into<String>, mend: impl Into<String>) -> Result<T, PortError> {
    Err(PortError {
        what: what.into(),
        mend: mend.into(),
    })
}

impl FromStr for PortSpec {
    type Err = PortError;

    fn from_str(words: &str) -> Result<Self, PortError> {
        let (name, rest) = split_name(words.trim())?;
        let (place, options) = match rest.split_once('?') {
            Some((place, options)) => (place, options),
            None => (rest, ""),
        };
        let mut options = Options::of(options)?;
        let address = if place == "-" {
            Address::Stdin
        } else {
            let Some((kind, place)) = place.split_once(':') else {
                return error(
                    format!("\"{words}\" does not say what kind of port it is"),
                    "begin with serial:, tcp:, serve-tcp:, udp: or file:, or give - for standard input",
                );
            };
            address(kind, place, &mut options)?
        };
        options.finish()?;
        Ok(PortSpec {
            name: name.map_or_else(|| address.plain_name(), str::to_owned),
            address,
        })
    }
}

/// A name before `=`, which must come before any `:`, `?` or `/`.
fn split_name(words: &str) -> Result<(Option<&str>, &str), PortError> {
    let Some((name, rest)) = words.split_once('=') else {
        return Ok((None, words));
    };
    if name.contains([':', '?', '/']) {
        return Ok((None, words));
    }
    let is_plain = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    if name.is_empty() || name.len() > 15 || !name.chars().all(is_plain) {
        return error(
            format!("the port name \"{name}\" cannot be"),
            "use 1 to 15 letters, digits, - or _",
        );
    }
    Ok((Some(name), rest))
}

fn address(kind: &str, place: &str, options: &mut Options<'_>) -> Result<Address, PortError> {
    match kind {
        "serial" => Ok(Address::Serial {
            path: path(place, "serial:/dev/ttyUSB0?baud=4800")?,
            baud: options.baud()?,
        }),
        "file" => Ok(Address::File(path(place, "file:/path/to/log.nmea")?)),
        "tcp" => {
            let (host, port) = host_and_port(place, "tcp:192.168.4.1:10110")?;
            if host.is_empty() {
                return error("tcp: names no host", "write tcp:192.168.4.1:10110");
            }
            Ok(Address::Tcp {
                host: host.to_owned(),
                port,
                senders: options.senders()?,
            })
        }
        "serve-tcp" => Ok(Address::ServeTcp {
            socket: socket(place, "serve-tcp::10110")?,
            clients: options.clients()?,
        }),
        "udp" => Ok(Address::Udp {
            listen: socket(place, "udp::10110")?,
            to: options.to()?,
            senders: options.senders()?,
        }),
        other => error(
            format!("\"{other}:\" is not a kind of port"),
            "use serial:, tcp:, serve-tcp:, udp: or file:, or - for standard input",
        ),
    }
}

fn path(place: &str, like: &str) -> Result<PathBuf, PortError> {
    if place.is_empty() {
        return error("the path is missing", format!("write {like}"));
    }
    if place.contains('\0') {
        return error("the path holds a zero byte", format!("write {like}"));
    }
    Ok(PathBuf::from(place))
}

/// The last `:` parts host from port, so that `[::1]:10110` works.
fn host_and_port<'p>(place: &'p str, like: &str) -> Result<(&'p str, u16), PortError> {
    let Some((host, port)) = place.rsplit_once(':') else {
        return error(
            format!("\"{place}\" names no port number"),
            format!("write {like}"),
        );
    };
    match port.parse::<u16>() {
        Ok(port) if port > 0 => Ok((host, port)),
        _ => error(
            format!("\"{port}\" is not a port number"),
            format!("give 1 to 65535, as in {like}"),
        ),
    }
}

/// An address of this machine; none given means all of them.
fn socket(place: &str, like: &str) -> Result<SocketAddr, PortError> {
    let (host, port) = host_and_port(place, like)?;
    let bare = host.trim_start_matches('[').trim_end_matches(']');
    let ip = match bare {
        "" => IpAddr::V4(Ipv4Addr::UNSPECIFIED),
        "localhost" => IpAddr::V4(Ipv4Addr::LOCALHOST),
        "*" => IpAddr::V6(Ipv6Addr::UNSPECIFIED),
        other => match other.parse() {
            Ok(ip) => ip,
            Err(_) => {
                return error(
                    format!("\"{other}\" is not an address of this machine"),
                    format!("leave it out or give one, as in {like} or udp:127.0.0.1:10110"),
                );
            }
        },
    };
    Ok(SocketAddr::new(ip, port))
}

/// `key=value` pairs after the `?`, taken out as they are asked for.
struct Options<'o>(Vec<(&'o str, &'o str)>);

impl<'o> Options<'o> {
    fn of(words: &'o str) -> Result<Self, PortError> {
        let mut pairs: Vec<(&str, &str)> = Vec::new();
        for pair in words.split('&').filter(|pair| !pair.is_empty()) {
            let Some((key, value)) = pair.split_once('=') else {
                return error(
                    format!("the option \"{pair}\" has no value"),
                    "write key=value, as in ?baud=4800",
                );
            };
            if pairs.iter().any(|(other, _)| *other == key) {
                return error(format!("the option {key} is given twice"), "keep one");
            }
            pairs.push((key, value));
        }
        Ok(Options(pairs))
    }

    fn take(&mut self, wanted: &str) -> Option<&'o str> {
        let place = self.0.iter().position(|(key, _)| *key == wanted)?;
        Some(self.0.remove(place).1)
    }

    /// One receiver of what is sent by UDP.
    fn to(&mut self) -> Result<Option<String>, PortError> {
        let Some(value) = self.take("to") else {
            return Ok(None);
        };
        let like = "udp::10110?to=192.168.4.20:10110";
        let (host, port) = host_and_port(value, like)?;
        if host.is_empty() {
            return error(format!("to={value} names no host"), format!("write {like}"));
        }
        // An address of the newer kind has colons of its own.
        if host.contains(':') && !(host.starts_with('[') && host.ends_with(']')) {
            return error(
                format!("\"{host}\" is no host"),
                "put such an address in brackets, as in to=[fd00::20]:10110",
            );
        }
        Ok(Some(format!("{host}:{port}")))
    }

    fn clients(&mut self) -> Result<Clients, PortError> {
        let Some(value) = self.take("clients") else {
            return Ok(Clients::default());
        };
        match Clients::ALL.into_iter().find(|it| it.word() == value) {
            Some(clients) => Ok(clients),
            None => error(
                format!("clients={value} says nothing of what clients may do"),
                "give only-listen, may-acknowledge or may-speak",
            ),
        }
    }

    fn senders(&mut self) -> Result<Senders, PortError> {
        let Some(value) = self.take("senders") else {
            return Ok(Senders::default());
        };
        match Senders::ALL.into_iter().find(|it| it.word() == value) {
            Some(senders) => Ok(senders),
            None => error(
                format!("senders={value} says nothing of what senders may do"),
                "give only-readings or may-acknowledge",
            ),
        }
    }

    fn baud(&mut self) -> Result<u32, PortError> {
        let Some(value) = self.take("baud") else {
            return Ok(BAUD);
        };
        match value.parse::<u32>() {
            Ok(baud) if (50..=4_000_000).contains(&baud) => Ok(baud),
            _ => error(
                format!("\"{value}\" is not a baud rate"),
                "give one such as 4800, 38400 or 115200",
            ),
        }
    }

    fn finish(self) -> Result<(), PortError> {
        match self.0.first() {
            None => Ok(()),
            Some((key, _)) => error(
                format!("the option \"{key}\" is not known here"),
                "serial: takes baud, tcp: takes senders, udp: takes to and senders, serve-tcp: takes clients; the others take none",
            ),
        }
    }
}

impl Address {
    /// A short name for a port that was given none.
    fn plain_name(&self) -> String {
        let last = |path: &PathBuf| match path.file_name() {
            Some(name) => name.to_string_lossy().into_owned(),
            None => path.to_string_lossy().into_owned(),
        };
        match self {
            Address::Serial { path, .. } | Address::File(path) => last(path),
            Address::Tcp { host, port, .. } => format!("tcp-{host}-{port}"),
            Address::ServeTcp { socket, .. } => format!("tcp-{}", socket.port()),
            Address::Udp { listen, .. } => format!("udp-{}", listen.port()),
            Address::Stdin => "stdin".to_owned(),
        }
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Address::Serial { path, baud } => {
                write!(f, "serial:{}?baud={baud}", path.display())
            }
            Address::Tcp {
                host,
                port,
                senders,
            } => {
                write!(f, "tcp:{host}:{port}")?;
                match senders {
                    Senders::OnlyReadings => Ok(()),
                    Senders::MayAcknowledge => write!(f, "?senders={}", senders.word()),
                }
            }
            Address::ServeTcp { socket, clients } if *clients == Clients::default() => {
                write!(f, "serve-tcp:{socket}")
            }
            Address::ServeTcp { socket, clients } => {
                write!(f, "serve-tcp:{socket}?clients={}", clients.word())
            }
            Address::Udp {
                listen,
                to,
                senders,
            } => {
                let to = to.iter().map(|to| format!("to={to}"));
                let senders = match senders {
                    Senders::OnlyReadings => None,
                    Senders::MayAcknowledge => Some(format!("senders={}", senders.word())),
                };
                let options: Vec<_> = to.chain(senders).collect();
                match options.is_empty() {
                    true => write!(f, "udp:{listen}"),
                    false => write!(f, "udp:{listen}?{}", options.join("&")),
                }
            }
            Address::File(path) => write!(f, "file:{}", path.display()),
            Address::Stdin => write!(f, "-"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn port(words: &str) -> PortSpec {
        words.parse().unwrap_or_else(|e| panic!("{words}: {e}"))
    }

    #[test]
    fn every_kind_of_port_is_understood() {
        assert_eq!(
            port("wind=serial:/dev/ttyUSB0?baud=38400"),
            PortSpec {
                name: "wind".into(),
                address: Address::Serial {
                    path: "/dev/ttyUSB0".into(),
                    baud: 38400
                }
            }
        );
        assert_eq!(port("serial:/dev/ttyS1").name, "ttyS1");
        assert_eq!(
            port("tcp:gateway.local:10110").address,
            Address::Tcp {
                host: "gateway.local".into(),
                port: 10110,
                senders: Senders::OnlyReadings
            }
        );
        assert_eq!(
            port("udp::2000").address,
            Address::Udp {
                listen: ([0, 0, 0, 0], 2000).into(),
                to: None,
                senders: Senders::OnlyReadings
            }
        );
        assert_eq!(
            port("plotter=udp::2000?to=192.168.4.20:2001").address,
            Address::Udp {
                listen: ([0, 0, 0, 0], 2000).into(),
                to: Some("192.168.4.20:2001".into()),
                senders: Senders::OnlyReadings
            }
        );
        assert_eq!(
            port("serve-tcp:127.0.0.1:2000").address,
            Address::ServeTcp {
                socket: ([127, 0, 0, 1], 2000).into(),
                clients: Clients::OnlyListen,
            }
        );
        assert_eq!(
            port("file:/tmp/a=b.nmea").address,
            Address::File("/tmp/a=b.nmea".into())
        );
        assert_eq!(port("-").address, Address::Stdin);
        assert_eq!(port("log=-").name, "log");
    }

    #[test]
    fn clients_only_listen_unless_it_is_said_and_it_is_written_as_it_was() {
        let clients = |words: &str| match port(words).address {
            Address::ServeTcp { clients, .. } => clients,
            other => panic!("{other}"),
        };
        assert_eq!(clients("serve-tcp::10110"), Clients::OnlyListen);
        for clients_may in Clients::ALL {
            let words = format!("serve-tcp::10110?clients={}", clients_may.word());
            assert_eq!(clients(&words), clients_may);
            let written = port(&words).address.to_string();
            assert_eq!(clients(&written), clients_may);
        }
        let wrong = "serve-tcp::10110?clients=any".parse::<PortSpec>();
        assert!(wrong.unwrap_err().mend.contains("may-acknowledge"));
    }

    #[test]
    fn what_is_shown_reads_back_the_same() {
        for words in [
            "serial:/dev/ttyUSB0?baud=4800",
            "tcp:host:1",
            "udp:0.0.0.0:2000",
            "udp:0.0.0.0:2000?to=pilot.local:2001",
            "udp:[::]:2000?to=[fd00::20]:2001",
            "serve-tcp:[::1]:2000",
            "file:/a/b",
            "-",
        ] {
            assert_eq!(port(words).address.to_string(), words);
        }
    }

    #[test]
    fn a_wrong_port_says_what_and_how_to_mend_it() {
        for (words, what) in [
            ("/dev/ttyUSB0", "does not say what kind"),
            ("usb:/dev/ttyUSB0", "is not a kind of port"),
            ("serial:", "path is missing"),
            ("serial:/dev/x?baud=fast", "not a baud rate"),
            ("serial:/dev/x?speed=4800", "not known here"),
            ("serial:/dev/x?baud", "has no value"),
            ("serial:/dev/x?baud=1&baud=2", "given twice"),
            ("tcp:host", "names no port"),
            ("tcp::10110", "names no host"),
            ("udp::99999", "not a port number"),
            ("udp::10?to=192.168.4.20", "names no port"),
            ("udp::10?to=:10110", "names no host"),
            ("udp::10?to=192.168.4.20:0", "not a port number"),
            ("udp::10?to=fd00::20:10110", "is no host"),
            ("tcp:host:10?to=192.168.4.20:10", "not known here"),
            ("udp:elsewhere:10", "not an address of this machine"),
            ("a b=-", "port name"),
        ] {
            let error = words.parse::<PortSpec>().expect_err(words);
            assert!(error.what.contains(what), "{words}: {error}");
            assert!(!error.mend.is_empty());
        }
    }
}
