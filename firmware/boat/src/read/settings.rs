//! `[[port]]`, `[[prefer]]`, `[transducers]`, `[outputs]`, `[recorder]` and
//! `[page]`.

use std::net::SocketAddr;

use cringle_core::reading::{Quantity, Rank};

use crate::ports::PortSpec;
use crate::settings::{
    AlertSentences, Checksum, Outputs, Page, PortSettings, Preference, Recorder, SendWhat, Sign,
    Transducer,
};
use crate::toml_file::{Entry, Section};

/// Quantities that an XDR transducer may carry.
const MEASURED_BY_XDR: [Quantity; 8] = [
    Quantity::Heel,
    Quantity::Pitch,
    Quantity::Pressure,
    Quantity::AirTemperature,
    Quantity::WaterTemperature,
    Quantity::Humidity,
    Quantity::Rudder,
    Quantity::EngineTurns,
];

/// Sentences in which true wind is sent.
const TRUE_WIND_SENTENCES: [&str; 3] = ["MWV", "MWD", "VWT"];

/// Fewer letters than this are guessed too easily.
const SHORTEST_KEY: usize = 8;

pub(super) fn ports(root: &Section<'_>) -> Vec<PortSettings> {
    let mut ports: Vec<PortSettings> = Vec::new();
    for section in root.sections("port") {
        let Some(settings) = port(&section) else {
            continue;
        };
        if ports.iter().any(|p| p.port.name == settings.port.name) {
            section.wrong_at(
                "name",
                format!("\"{}\" is there twice", settings.port.name),
                "give each port its own name",
            );
        }
        ports.push(settings);
    }
    ports
}

fn port(section: &Section<'_>) -> Option<PortSettings> {
    let name = section.words("name", 15);
    let checksums = [
        ("required", Checksum::Required),
        ("optional", Checksum::Optional),
    ];
    let checksum = section.choice("checksum", &checksums).unwrap_or_default();
    let kinds = [
        ("alerts", SendWhat::Alerts),
        ("true-wind", SendWhat::TrueWind),
    ];
    let send = section
        .list("send")
        .iter()
        .filter_map(|found| found.choice(&kinds))
        .collect();
    let Some(found) = section.find("port") else {
        section.missing("port", "port = \"serial:/dev/ttyUSB0?baud=4800\"");
        return None;
    };
    let words = found.words(250)?;
    let named = match name {
        Some(name) => format!("{name}={words}"),
        None => words.to_owned(),
    };
    match named.parse::<PortSpec>() {
        Ok(port) => Some(PortSettings {
            port,
            checksum,
            send,
        }),
        Err(error) => {
            found.wrong(error.what, error.mend);
            None
        }
    }
}

pub(super) fn preferences(root: &Section<'_>, ports: &[PortSettings]) -> Vec<Preference> {
    let mut preferences = Vec::new();
    for section in root.sections("prefer") {
        if let Some(preference) = preference(&section, ports) {
            preferences.push(preference);
        }
    }
    preferences
}

fn preference(section: &Section<'_>, ports: &[PortSettings]) -> Option<Preference> {
    let quantities = Quantity::ALL.map(|quantity| (quantity.name(), quantity));
    let quantity = section.choice("quantity", &quantities);
    section.must_have("quantity", "what is preferred, such as \"apparent wind\"");
    let port = section.words("port", 15);
    if let (Some(port), Some(found)) = (port, section.find("port")) {
        let names: Vec<&str> = ports.iter().map(|p| p.port.name.as_str()).collect();
        if !names.contains(&port) {
            found.wrong(
                format!("\"{port}\" is not the name of a [[port]]"),
                "name one, or leave it out for any port",
            );
        }
    }
    let talker = letters(section, "talker", 2);
    let sentence = letters(section, "sentence", 3);
    let rank = section.whole("rank", 0..=255);
    section.must_have("rank", "rank = 1; lower goes first, 128 is by itself");
    Some(Preference {
        quantity: quantity?,
        port: port.map(str::to_owned),
        talker,
        sentence,
        rank: Rank(rank? as u8),
    })
}

/// A talker or sentence: so many capital letters or digits.
fn letters(section: &Section<'_>, key: &'static str, count: usize) -> Option<String> {
    let found = section.find(key)?;
    let word = found.words(64)?;
    let is_right = word.len() == count
        && word
            .bytes()
            .all(|b| b.is_ascii_uppercase() || b.is_ascii_digit());
    if !is_right {
        found.wrong(
            format!("is \"{word}\""),
            format!("give {count} capital letters"),
        );
        return None;
    }
    Some(word.to_owned())
}

/// Names are the instruments' own, so every key is right here:
/// `ROLL = "heel"` or `ROLL = { quantity = "heel", sign = "reversed" }`.
pub(super) fn transducers(root: &Section<'_>) -> Vec<Transducer> {
    let Some(section) = root.section("transducers") else {
        return Vec::new();
    };
    let mut transducers: Vec<Transducer> = Vec::new();
    for (name, found) in section.entries() {
        let is_new = !transducers
            .iter()
            .any(|t| t.name.eq_ignore_ascii_case(&name));
        if !is_new {
            found.wrong("is there twice but for capital letters", "keep one");
        }
        transducers.extend(transducer(name, found));
    }
    transducers
}

fn transducer(name: String, found: Entry<'_>) -> Option<Transducer> {
    let quantities = MEASURED_BY_XDR.map(|quantity| (quantity.name(), quantity));
    if found.as_text().is_some() {
        return Some(Transducer {
            name,
            quantity: found.choice(&quantities)?,
            sign: Sign::AsIs,
        });
    }
    let like = "\"heel\" or { quantity = \"heel\", sign = \"reversed\" }";
    let table = found.section(like)?;
    let quantity = table.choice("quantity", &quantities);
    table.must_have("quantity", "what it measures");
    let signs = [("as-is", Sign::AsIs), ("reversed", Sign::Reversed)];
    let sign = table.choice("sign", &signs).unwrap_or_default();
    Some(Transducer {
        name,
        quantity: quantity?,
        sign,
    })
}

pub(super) fn outputs(root: &Section<'_>) -> Outputs {
    let mut outputs = Outputs::default();
    let Some(section) = root.section("outputs") else {
        return outputs;
    };
    let kinds = [
        ("ALF", AlertSentences::Alf),
        ("ALR", AlertSentences::Alr),
        ("none", AlertSentences::None),
    ];
    outputs.alerts = section.choice("alerts", &kinds).unwrap_or_default();
    if let Some(every) = section.section("true_wind_every_s") {
        for sentence in TRUE_WIND_SENTENCES {
            if let Some(seconds) = every.number(sentence, 0.1..=60.0) {
                outputs.true_wind.push((sentence.to_owned(), seconds));
            }
        }
    }
    outputs
}

pub(super) fn recorder(root: &Section<'_>) -> Recorder {
    let mut recorder = Recorder::default();
    let Some(section) = root.section("recorder") else {
        return recorder;
    };
    let is_on = section.flag("on").unwrap_or(true);
    if let Some(directory) = section.words("directory", 250) {
        recorder.directory = Some(directory.to_owned());
    }
    if !is_on {
        recorder.directory = None;
    }
    // Files of before may have it. It is not obeyed: a computer whose clock is
    // wrong would remove what is a day old.
    let _ = section.whole("keep_days", 1..=3650);
    if let Some(megabytes) = section.whole("most_mb", 10..=1_000_000) {
        recorder.most_mb = megabytes;
    }
    recorder
}

pub(super) fn page(root: &Section<'_>) -> Page {
    let mut page = Page::default();
    let Some(section) = root.section("page") else {
        return page;
    };
    page.listen = Some(Page::USUAL);
    if let Some(found) = section.find("listen") {
        let words = found.words(64);
        page.listen = words.and_then(|words| words.parse::<SocketAddr>().ok());
        if let (Some(words), None) = (words, page.listen) {
            found.wrong(
                format!("is \"{words}\", no address with a port"),
                "give one, such as listen = \"127.0.0.1:8040\"",
            );
        }
    }
    page.key = page_key(&section);
    let hosts = section.list("hosts");
    page.hosts = hosts
        .iter()
        .filter_map(|host| host.words(250))
        .map(str::to_owned)
        .collect();
    page
}

/// Plain letters and digits, so that it can be typed on a telephone and found
/// again in the file's text where it must be hidden. What was given is not
/// repeated: a problem is read by others.
fn page_key(section: &Section<'_>) -> Option<String> {
    let found = section.find("key")?;
    let words = found.words(64)?;
    let is_plain = words
        .bytes()
        .all(|byte| byte.is_ascii_alphanumeric() || byte == b'-');
    if !is_plain || words.len() < SHORTEST_KEY {
        found.wrong(
            "is too short, or has more than letters, digits and hyphens",
            format!("give {SHORTEST_KEY} to 64 letters, digits or hyphens"),
        );
        return None;
    }
    Some(words.to_owned())
}
