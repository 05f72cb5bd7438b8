//! Settings of a boat file that are no matter of the core: ports, sources,
//! outputs, recorder, page.

use cringle_core::reading::{Quantity, Rank};

use crate::ports::PortSpec;

/// How many hulls she has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Hulls {
    /// One: heel tells how hard she is pressed.
    #[default]
    One,
    /// Two or three: gusts and trim tell it, heel never does.
    Several,
}

/// One port with how it is treated.
#[derive(Clone, Debug, PartialEq)]
pub struct PortSettings {
    /// Where it leads.
    pub port: PortSpec,
    /// What is done with lines that carry no checksum.
    pub checksum: Checksum,
    /// What is sent out on it.
    pub send: Vec<SendWhat>,
}

/// What is done with lines that carry no checksum. A wrong one is always
/// refused.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Checksum {
    /// Refused.
    #[default]
    Required,
    /// Let through: for old instruments that send none.
    Optional,
}

/// What can be sent out on a port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SendWhat {
    /// Calls, as alert sentences.
    Alerts,
    /// True wind, corrected.
    TrueWind,
}

/// A source that goes before or after others.
#[derive(Clone, Debug, PartialEq)]
pub struct Preference {
    /// Of what.
    pub quantity: Quantity,
    /// From this port; any where not given.
    pub port: Option<String>,
    /// By this two-letter talker; any where not given.
    pub talker: Option<String>,
    /// By this three-letter sentence; any where not given.
    pub sentence: Option<String>,
    /// Lower goes first.
    pub rank: Rank,
}

/// What a transducer name in an XDR sentence means.
#[derive(Clone, Debug, PartialEq)]
pub struct Transducer {
    /// As the sentence has it; compared without regard to case.
    pub name: String,
    /// What it measures.
    pub quantity: Quantity,
    /// Its sense.
    pub sign: Sign,
}

/// The sense of a sensor.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sign {
    /// Starboard down or bow up is positive, as here.
    #[default]
    AsIs,
    /// The other way round.
    Reversed,
}

/// What is sent to other instruments.
#[derive(Clone, Debug, PartialEq)]
pub struct Outputs {
    /// Sentence for calls.
    pub alerts: AlertSentences,
    /// True wind sentences with the seconds between two of each.
    pub true_wind: Vec<(String, f64)>,
}

impl Default for Outputs {
    fn default() -> Self {
        Outputs {
            alerts: AlertSentences::Alf,
            true_wind: Vec::new(),
        }
    }
}

/// How calls are told to other instruments.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AlertSentences {
    /// ALF, ALC and acknowledgements, the newer way.
    #[default]
    Alf,
    /// ALR, the older way.
    Alr,
    /// Not at all.
    None,
}

/// The recorder.
#[derive(Clone, Debug, PartialEq)]
pub struct Recorder {
    /// Where recordings go; none records nothing.
    pub directory: Option<String>,
    /// Most megabytes that recordings may take.
    pub most_mb: u32,
}

impl Default for Recorder {
    fn default() -> Self {
        Recorder {
            directory: Some("/var/lib/cringle/recordings".into()),
            most_mb: 2000,
        }
    }
}

/// The page for a telephone or tablet aboard.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Page {
    /// Address and port it listens on; none serves no page.
    pub listen: Option<std::net::SocketAddr>,
    /// What a person must know to act from the page; without one the page
    /// only shows.
    pub key: Option<String>,
    /// Names by which browsers know this computer, beside its own.
    pub hosts: Vec<String>,
}

impl Page {
    /// Where a page is served that is asked for without an address: to this
    /// computer alone.
    pub const USUAL: std::net::SocketAddr =
        std::net::SocketAddr::new(std::net::IpAddr::V4(std::net::Ipv4Addr::LOCALHOST), 8040);
}
