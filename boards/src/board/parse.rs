//! From the text of a board file to a [`BoardFile`].

use std::path::PathBuf;

use cringle_boat::Problems;
use cringle_boat::toml_file::{self, Entry, Section};

use super::{
    Active, BoardFile, ChipSpec, Legibility, LineName, Mounting, PanelSpec, Pull, SerialSpec,
    SounderName, SounderSpec, TftModel,
};
use crate::gpio::KeyLine;
use crate::key::KeyName;
use crate::panel::tft::{GlassWiring, Inversion, Order};

const LINE: &str = "a line such as \"GPIO25\" or \"gpiochip0:25\"";
const ACTIVE: &[(&str, Active)] = &[("low", Active::Low), ("high", Active::High)];
const PULLS: &[(&str, Pull)] = &[("up", Pull::Up), ("down", Pull::Down), ("none", Pull::None)];
const TURNS: &[(&str, Mounting)] = &[
    ("upright", Mounting::Upright),
    ("upside-down", Mounting::UpsideDown),
];
const ORDERS: &[(&str, Order)] = &[("rgb", Order::Rgb), ("bgr", Order::Bgr)];
/// The longest name of anything, in bytes.
const NAME: usize = 64;
/// The longest path of a device, in bytes.
const PATH: usize = 250;

/// What the `chip` of a panel says.
#[derive(Clone, Copy)]
enum ChipKind {
    Oled,
    Tft(TftModel),
    Paper,
}

const CHIPS: &[(&str, ChipKind)] = &[
    ("ssd1306", ChipKind::Oled),
    ("ssd1309", ChipKind::Oled),
    ("ili9341", ChipKind::Tft(TftModel::Ili9341)),
    ("st7789", ChipKind::Tft(TftModel::St7789)),
    ("epd2in9-v2", ChipKind::Paper),
];

pub(super) fn board(file: &str, text: &str) -> Result<BoardFile, Problems> {
    let (board, _) = toml_file::read(file, text, |root| {
        root.has_known_format().then(|| read_board(root)).flatten()
    })?;
    Ok(board)
}

fn read_board(root: &Section<'_>) -> Option<BoardFile> {
    let mut used = UsedLines::default();
    let name = root.required_words("name", NAME, "what to call the board");
    let panel = root.section("panel");
    let panel = panel.map(|section| read_panel(&section, &mut used));
    // A part that did not read has been told already; the rest is read on.
    let keys = each(root, "key", |section| read_key(section, &mut used));
    let sounders = each(root, "sounder", |section| read_sounder(section, &mut used));
    let serial = each(root, "serial", read_serial);
    Some(BoardFile {
        name: name?.to_owned(),
        panel: panel.flatten(),
        keys,
        sounders,
        serial,
    })
}

/// The tables of an array, no two of one name.
fn each<T>(
    root: &Section<'_>,
    key: &'static str,
    read: impl FnMut(&Section<'_>) -> Option<T>,
) -> Vec<T> {
    let sections = root.sections(key);
    let mut seen = Vec::new();
    for name in sections.iter().filter_map(|section| section.find("name")) {
        name.must_differ(&mut seen, "keep one of them");
    }
    sections.iter().filter_map(read).collect()
}

fn read_panel(section: &Section<'_>, used: &mut UsedLines) -> Option<PanelSpec> {
    section.must_have("chip", "the chip of the panel, such as chip = \"ssd1309\"");
    let kind = section.choice("chip", CHIPS);
    let turn = section.choice("turn", TURNS);
    let bus = read_node(
        section,
        "bus",
        "the node of its bus, such as \"/dev/i2c-1\"",
    );
    let legibility = read_legibility(section);
    let chip = match kind {
        Some(ChipKind::Oled) => read_oled(section, used),
        Some(ChipKind::Tft(model)) => read_tft(section, model, used),
        Some(ChipKind::Paper) => read_paper(section, used),
        None => {
            // Any of these may be right for the chip that was meant.
            for key in ["address", "clock_hz", "busy", "data_command", "reset"] {
                section.find(key);
            }
            for key in ["lamp", "colour_order", "inverted"] {
                section.find(key);
            }
            None
        }
    };
    Some(PanelSpec {
        chip: chip?,
        bus: bus?,
        turn: turn.unwrap_or(Mounting::Upright),
        legibility: legibility?,
    })
}

fn read_legibility(section: &Section<'_>) -> Option<Legibility> {
    for (key, mend) in [
        ("width_mm", "the width of the visible part"),
        ("height_mm", "the height of the visible part"),
        ("read_from_m", "how far away the eye is"),
    ] {
        section.must_have(key, mend);
    }
    let width_mm = section.number("width_mm", 5.0..=1000.0);
    let height_mm = section.number("height_mm", 5.0..=1000.0);
    let read_from_m = section.number("read_from_m", 0.2..=20.0);
    Some(Legibility {
        width_mm: width_mm?,
        height_mm: height_mm?,
        read_from_m: read_from_m?,
    })
}

fn read_oled(section: &Section<'_>, used: &mut UsedLines) -> Option<ChipSpec> {
    let address = section.whole("address", 0x3C..=0x3D);
    Some(ChipSpec::Oled {
        address: address.map_or(0x3C, |address| address as u8),
        reset: used.line(section, "reset", "panel reset"),
    })
}

fn read_tft(section: &Section<'_>, model: TftModel, used: &mut UsedLines) -> Option<ChipSpec> {
    let clock_hz = read_clock(section, 32_000_000);
    let data_command = used.required(section, "data_command", "panel data_command");
    let reset = used.required(section, "reset", "panel reset");
    let lamp = used.line(section, "lamp", "panel lamp");
    let (order, inversion) = model.usual();
    Some(ChipSpec::Tft {
        model,
        clock_hz,
        glass: GlassWiring {
            // The panel's own `turn` is put in when it is opened.
            turn: Mounting::Upright,
            order: section.choice("colour_order", ORDERS).unwrap_or(order),
            inversion: match section.flag("inverted") {
                Some(true) => Inversion::Inverted,
                Some(false) => Inversion::Normal,
                None => inversion,
            },
        },
        data_command: data_command?,
        reset: reset?,
        lamp,
    })
}

fn read_paper(section: &Section<'_>, used: &mut UsedLines) -> Option<ChipSpec> {
    let clock_hz = read_clock(section, 4_000_000);
    let busy = used.required(section, "busy", "panel busy");
    let data_command = used.required(section, "data_command", "panel data_command");
    let reset = used.required(section, "reset", "panel reset");
    Some(ChipSpec::Paper {
        clock_hz,
        busy: busy?,
        data_command: data_command?,
        reset: reset?,
    })
}

fn read_clock(section: &Section<'_>, usual: u32) -> u32 {
    let clock = section.whole("clock_hz", 100_000..=80_000_000);
    clock.unwrap_or(usual)
}

fn read_key(section: &Section<'_>, used: &mut UsedLines) -> Option<(KeyName, KeyLine)> {
    let names = KeyName::ALL.map(|name| (name.as_str(), name));
    section.must_have("name", "which key it is: left, middle, right or bunk");
    let name = section.choice("name", &names);
    let what = format!("key {}", name.map_or("", KeyName::as_str));
    let line = used.required(section, "line", &what);
    let active = section.choice("active", ACTIVE);
    let pull = section.choice("pull", PULLS);
    let wired = KeyLine {
        line: line?,
        active: active.unwrap_or(Active::Low),
        pull: pull.unwrap_or(Pull::Up),
    };
    Some((name?, wired))
}

fn read_sounder(section: &Section<'_>, used: &mut UsedLines) -> Option<SounderSpec> {
    let names = SounderName::ALL.map(|name| (name.as_str(), name));
    section.must_have("name", "which sounder it is: buzzer, bunk or beacon");
    let name = section.choice("name", &names);
    let what = format!("sounder {}", name.map_or("", SounderName::as_str));
    let line = used.required(section, "line", &what);
    let active = section.choice("active", ACTIVE);
    Some(SounderSpec {
        name: name?,
        line: line?,
        active: active.unwrap_or(Active::High),
    })
}

fn read_serial(section: &Section<'_>) -> Option<SerialSpec> {
    let name = section.required_words("name", NAME, "what the boat file calls it");
    let device = read_node(section, "device", "its node, such as \"/dev/ttyUSB0\"");
    Some(SerialSpec {
        name: name?.to_owned(),
        device: device?,
    })
}

fn read_node(section: &Section<'_>, key: &'static str, mend: &str) -> Option<PathBuf> {
    section.must_have(key, mend);
    let found = section.find(key)?;
    let path = found.words(PATH)?;
    if path.starts_with("/dev/") && !path.contains("..") {
        return Some(path.into());
    }
    let what = format!("\"{path}\" is not under /dev");
    found.wrong(what, format!("write {mend}"));
    None
}

/// Lines that something is wired to already: every line can do one thing.
#[derive(Default)]
struct UsedLines(Vec<(LineName, String)>);

impl UsedLines {
    /// The line under a key, which must be there; `what` is wired to it.
    fn required(
        &mut self,
        section: &Section<'_>,
        key: &'static str,
        what: &str,
    ) -> Option<LineName> {
        section.must_have(key, LINE);
        self.line(section, key, what)
    }

    /// The line under a key, if there is one.
    fn line(&mut self, section: &Section<'_>, key: &'static str, what: &str) -> Option<LineName> {
        let found = section.find(key)?;
        let text = found.words(NAME)?;
        let Some(line) = LineName::parse(text) else {
            found.wrong(
                format!("\"{text}\" is no GPIO line"),
                format!("write {LINE}"),
            );
            return None;
        };
        self.take(&found, &line, what);
        Some(line)
    }

    fn take(&mut self, found: &Entry<'_>, line: &LineName, what: &str) {
        if let Some((_, first)) = self.0.iter().find(|(taken, _)| taken == line) {
            let said = format!("line {line} is already used by {first}");
            found.wrong(said, "every line can do one thing");
        }
        self.0.push((line.clone(), what.to_owned()));
    }
}
