//! From the text of a board file to a [`BoardFile`].

use toml::de::DeTable;

use super::walk::{Complaint, Findings, Walk};
use super::{
    Active, BoardFile, ChipSpec, Legibility, LineName, PanelSpec, Pull, SerialSpec, SounderName,
    SounderSpec, TftModel, Turn,
};
use crate::gpio::KeyLine;
use crate::key::KeyName;
use crate::panel::tft::{Glass, Inversion, Order};

/// The format this program reads.
const FORMAT: i64 = 1;

const LINE: &str = "write a line such as \"GPIO25\" or \"gpiochip0:25\"";
const ACTIVE: &[(&str, Active)] = &[("low", Active::Low), ("high", Active::High)];
const PULLS: &[(&str, Pull)] = &[("up", Pull::Up), ("down", Pull::Down), ("none", Pull::None)];
const TURNS: &[(&str, Turn)] = &[
    ("upright", Turn::Upright),
    ("upside-down", Turn::UpsideDown),
];

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

pub(super) fn board(text: &str) -> Result<BoardFile, Vec<Complaint>> {
    let mut findings = Findings::new(text);
    let (document, errors) = DeTable::parse_recoverable(text);
    for error in &errors {
        let span = error.span().unwrap_or(0..0);
        let what = error.message().trim().replace('\n', "; ");
        findings.add(&span, "", what, "see any file in boards/ for the form");
    }
    // Half a document gives only false complaints.
    if !errors.is_empty() {
        return Err(findings.into_sorted());
    }
    let file = Walk::new(document.get_ref(), 0..0, "", &mut findings).finish(read_board);
    if let Some(file) = &file {
        clashes(file, text, &mut findings);
    }
    let complaints = findings.into_sorted();
    match file {
        Some(file) if complaints.is_empty() => Ok(file),
        _ => Err(complaints),
    }
}

fn read_board(walk: &mut Walk<'_, '_, '_>) -> Option<BoardFile> {
    let format = walk.whole_if_any("format", 1..=i64::MAX, "write format = 1");
    let top = walk.span();
    match &format {
        Some(found) if found.value > FORMAT => {
            let what = format!("{} is newer than this program reads", found.value);
            walk.complain(&found.span, "format", what, "install a newer cringle");
        }
        Some(_) => {}
        None => walk.complain(&top, "format", "is missing", "write format = 1"),
    }
    let name = walk.text("name", "say what to call the board");
    let panel = walk.table_if_any("panel", |walk| Some(read_panel(walk)));
    let keys = walk.tables("key", |walk| Some(read_key(walk)));
    let sounders = walk.tables("sounder", |walk| Some(read_sounder(walk)));
    let serial = walk.tables("serial", |walk| Some(read_serial(walk)));
    // A part that did not read has complained already; go on only for clashes.
    Some(BoardFile {
        name: name?.value,
        panel: panel.flatten(),
        keys: keys.into_iter().flatten().collect(),
        sounders: sounders.into_iter().flatten().collect(),
        serial: serial.into_iter().flatten().collect(),
    })
}

fn read_panel(walk: &mut Walk<'_, '_, '_>) -> Option<PanelSpec> {
    let kind = walk.word(
        "chip",
        CHIPS,
        "name the chip of the panel, such as \"ssd1309\"",
    );
    let turn = walk.word_if_any("turn", TURNS, "leave it out if it is upright");
    let bus = read_node(
        walk,
        "bus",
        "write the node of its bus, such as \"/dev/i2c-1\"",
    );
    let legibility = read_legibility(walk);
    let chip = match kind?.value {
        ChipKind::Oled => read_oled(walk),
        ChipKind::Tft(model) => read_tft(walk, model),
        ChipKind::Paper => read_paper(walk),
    };
    Some(PanelSpec {
        chip: chip?,
        bus: bus?,
        turn: turn.map_or(Turn::Upright, |found| found.value),
        legibility: legibility?,
    })
}

fn read_legibility(walk: &mut Walk<'_, '_, '_>) -> Option<Legibility> {
    let width_mm = walk.number("width_mm", 5.0..=1000.0, "measure the visible part");
    let height_mm = walk.number("height_mm", 5.0..=1000.0, "measure the visible part");
    let read_from_m = walk.number("read_from_m", 0.2..=20.0, "say how far the eye is");
    Some(Legibility {
        width_mm: width_mm?,
        height_mm: height_mm?,
        read_from_m: read_from_m?,
    })
}

fn read_oled(walk: &mut Walk<'_, '_, '_>) -> Option<ChipSpec> {
    let address = walk.whole_if_any("address", 0x3C..=0x3D, "use 0x3C or 0x3D, see the module");
    let reset = read_line_if_any(walk, "reset");
    Some(ChipSpec::Oled {
        address: address.map_or(0x3C, |found| found.value as u8),
        reset,
    })
}

fn read_tft(walk: &mut Walk<'_, '_, '_>, model: TftModel) -> Option<ChipSpec> {
    let clock_hz = read_clock(walk, 32_000_000);
    let data_command = read_line(walk, "data_command");
    let reset = read_line(walk, "reset");
    let light = read_line_if_any(walk, "light");
    let (order, inversion) = model.usual();
    let order = walk
        .word_if_any(
            "colour_order",
            &[("rgb", Order::Rgb), ("bgr", Order::Bgr)],
            "set it if red shows blue",
        )
        .map_or(order, |found| found.value);
    let inversion = match walk.yes_no_if_any("inverted", "set it if black shows white") {
        Some(true) => Inversion::Inverted,
        Some(false) => Inversion::Normal,
        None => inversion,
    };
    Some(ChipSpec::Tft {
        model,
        clock_hz,
        data_command: data_command?,
        reset: reset?,
        light,
        glass: Glass {
            // The panel's own `turn` is put in when it is opened.
            turn: Turn::Upright,
            order,
            inversion,
        },
    })
}

fn read_paper(walk: &mut Walk<'_, '_, '_>) -> Option<ChipSpec> {
    let clock_hz = read_clock(walk, 4_000_000);
    let busy = read_line(walk, "busy");
    let data_command = read_line(walk, "data_command");
    let reset = read_line(walk, "reset");
    Some(ChipSpec::Paper {
        clock_hz,
        busy: busy?,
        data_command: data_command?,
        reset: reset?,
    })
}

fn read_clock(walk: &mut Walk<'_, '_, '_>, usual: u32) -> u32 {
    let mend = format!("leave it out for {usual}");
    walk.whole_if_any("clock_hz", 100_000..=80_000_000, &mend)
        .map_or(usual, |found| found.value as u32)
}

fn read_key(walk: &mut Walk<'_, '_, '_>) -> Option<(KeyName, KeyLine)> {
    let names = KeyName::ALL.map(|name| (name.as_str(), name));
    let name = walk.word("name", &names, "say what the key does");
    let line = read_line(walk, "line");
    let active = walk.word_if_any("active", ACTIVE, "leave it out for a key to ground");
    let pull = walk.word_if_any("pull", PULLS, "leave it out for a key to ground");
    let wired = KeyLine {
        line: line?,
        active: active.map_or(Active::Low, |found| found.value),
        pull: pull.map_or(Pull::Up, |found| found.value),
    };
    Some((name?.value, wired))
}

fn read_sounder(walk: &mut Walk<'_, '_, '_>) -> Option<SounderSpec> {
    let names = SounderName::ALL.map(|name| (name.as_str(), name));
    let name = walk.word("name", &names, "say which sounder it is");
    let line = read_line(walk, "line");
    let active = walk.word_if_any("active", ACTIVE, "leave it out if it sounds when high");
    Some(SounderSpec {
        name: name?.value,
        line: line?,
        active: active.map_or(Active::High, |found| found.value),
    })
}

fn read_serial(walk: &mut Walk<'_, '_, '_>) -> Option<SerialSpec> {
    let name = walk.text("name", "say what the boat file calls it");
    let device = read_node(walk, "device", "write its node, such as \"/dev/ttyUSB0\"");
    Some(SerialSpec {
        name: name?.value,
        device: device?,
    })
}

fn read_node(
    walk: &mut Walk<'_, '_, '_>,
    key: &'static str,
    mend: &str,
) -> Option<std::path::PathBuf> {
    let found = walk.text(key, mend)?;
    if found.value.starts_with("/dev/") && !found.value.contains("..") {
        return Some(found.value.into());
    }
    let what = format!("\"{}\" is not under /dev", found.value);
    walk.complain(&found.span, key, what, mend);
    None
}

fn read_line(walk: &mut Walk<'_, '_, '_>, key: &'static str) -> Option<LineName> {
    let found = walk.text(key, LINE)?;
    parse_line(walk, key, found.value, &found.span)
}

fn read_line_if_any(walk: &mut Walk<'_, '_, '_>, key: &'static str) -> Option<LineName> {
    let found = walk.text_if_any(key, LINE)?;
    parse_line(walk, key, found.value, &found.span)
}

fn parse_line(
    walk: &mut Walk<'_, '_, '_>,
    key: &str,
    text: String,
    span: &std::ops::Range<usize>,
) -> Option<LineName> {
    let line = LineName::parse(&text);
    if line.is_none() {
        walk.complain(span, key, format!("\"{text}\" is no GPIO line"), LINE);
    }
    line
}

/// Two things on one line, or one thing twice.
fn clashes(file: &BoardFile, text: &str, findings: &mut Findings<'_>) {
    let mut lines: Vec<(String, &LineName)> = Vec::new();
    for (what, line) in file.lines() {
        if let Some((first, _)) = lines.iter().find(|(_, taken)| *taken == line) {
            let said = format!("line {line} is already used by {first}");
            let mend = "every line can do one thing";
            findings.add(
                &last_place(text, &line.to_string()),
                what.clone(),
                said,
                mend,
            );
        }
        lines.push((what, line));
    }
    twice(
        file.keys.iter().map(|(name, _)| name.as_str()),
        "key",
        text,
        findings,
    );
    let sounders = file.sounders.iter().map(|sounder| sounder.name.as_str());
    twice(sounders, "sounder", text, findings);
    let serial = file.serial.iter().map(|port| port.name.as_str());
    twice(serial, "serial", text, findings);
}

fn twice<'n>(
    names: impl Iterator<Item = &'n str>,
    table: &str,
    text: &str,
    findings: &mut Findings<'_>,
) {
    let mut seen: Vec<&str> = Vec::new();
    for name in names {
        if seen.contains(&name) {
            let what = format!("\"{name}\" is there twice");
            let place = last_place(text, &format!("\"{name}\""));
            findings.add(&place, format!("{table}.name"), what, "keep one of them");
        }
        seen.push(name);
    }
}

/// Where a word stands last: the second of two that clash.
fn last_place(text: &str, word: &str) -> std::ops::Range<usize> {
    text.rfind(word).map_or(0..0, |at| at..at + word.len())
}
