//! Every board file in the folder reads, and wrong ones say all that is wrong.

use std::path::{Path, PathBuf};

use super::*;

fn boards() -> Vec<(PathBuf, BoardFile)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut boards = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let file = entry.unwrap().path().join("board.toml");
        if file.is_file() {
            let text = std::fs::read_to_string(&file).unwrap();
            match BoardFile::parse(&file.display().to_string(), &text) {
                Ok(board) => boards.push((file, board)),
                Err(problems) => panic!("{problems}"),
            }
        }
    }
    boards
}

fn problems(text: &str) -> Vec<String> {
    let problems = BoardFile::parse("board.toml", text).unwrap_err();
    problems.iter().map(ToString::to_string).collect()
}

#[test]
fn every_board_in_the_folder_reads_and_has_its_wiring_sheet() {
    let boards = boards();
    assert!(boards.len() >= 3, "{}", boards.len());
    for (file, board) in &boards {
        let sheet = std::fs::read_to_string(file.with_file_name("WIRING.md"))
            .unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        for (what, line) in board.lines() {
            assert!(
                sheet.contains(&line.to_string()),
                "{}: {what} on {line} is not on the wiring sheet",
                file.display()
            );
        }
        for word in ["fuse", "isolated", "electrician", "ISO 13297", "Lithium"] {
            assert!(
                sheet.contains(word),
                "{}: no word on {word}",
                file.display()
            );
        }
    }
}

/// Large numerals fill at least half the height of every page.
#[test]
fn every_board_is_read_from_no_farther_than_its_numerals_allow() {
    for (file, board) in boards() {
        let legibility = board.panel.unwrap().legibility;
        let reach = legibility.reads_to_m(0.5);
        assert!(
            legibility.read_from_m <= reach,
            "{}: to be read from {} m, reads to {reach:.2} m",
            file.display(),
            legibility.read_from_m
        );
    }
}

#[test]
fn every_kind_of_panel_is_on_some_board() {
    let boards = boards();
    let has = |kind: fn(&ChipSpec) -> bool| {
        boards
            .iter()
            .filter_map(|(_, board)| board.panel.as_ref())
            .any(|panel| kind(&panel.chip))
    };
    assert!(has(|chip| matches!(chip, ChipSpec::Oled { .. })));
    assert!(has(|chip| matches!(chip, ChipSpec::Tft { .. })));
    assert!(has(|chip| matches!(chip, ChipSpec::Paper { .. })));
}

#[test]
fn all_that_is_wrong_is_told_at_once_with_line_key_and_mending() {
    let text = r#"format = 1
name = 7
[panel]
chip = "ssd1310"
bus = "i2c-1"
width_mm = 0
height_mm = 11
colour = "red"
[[key]]
name = "reef"
line = "GPIO 5"
[[sounder]]
line = "GPIO12"
active = "maybe"
"#;
    assert_eq!(
        problems(text),
        [
            "board.toml:2: name: is the whole number 7; give text in quotes",
            "board.toml:3: panel.read_from_m: is missing; add how far away the eye is",
            "board.toml:4: panel.chip: is \"ssd1310\", which is not known; did you mean \
             \"ssd1306\"? It is one of \"ssd1306\", \"ssd1309\", \"ili9341\", \"st7789\", \
             \"epd2in9-v2\"",
            "board.toml:5: panel.bus: \"i2c-1\" is not under /dev; write the node of its bus, \
             such as \"/dev/i2c-1\"",
            "board.toml:6: panel.width_mm: is 0, which cannot be; give a number from 5 to 1000",
            "board.toml:8: panel.colour: is not a known key; known here: chip, turn, bus, \
             width_mm, height_mm, read_from_m, address, clock_hz, busy, data_command, reset, \
             lamp, colour_order, inverted",
            "board.toml:10: key[1].name: is \"reef\", which is not known; give one of \"left\", \
             \"middle\", \"right\", \"bunk\"",
            "board.toml:11: key[1].line: \"GPIO 5\" is no GPIO line; write a line such as \
             \"GPIO25\" or \"gpiochip0:25\"",
            "board.toml:12: sounder[1].name: is missing; add which sounder it is: buzzer, bunk \
             or beacon",
            "board.toml:14: sounder[1].active: is \"maybe\", which is not known; give one of \
             \"low\", \"high\"",
        ]
    );
}

#[test]
fn a_line_used_twice_is_told_where_it_is_used_again() {
    let text = r#"format = 1
name = "bench"
[[key]]
name = "left"
line = "GPIO5"
[[key]]
name = "left"
line = "GPIO6"
[[sounder]]
name = "buzzer"
line = "GPIO5"
"#;
    assert_eq!(
        problems(text),
        [
            "board.toml:7: key[2].name: \"left\" is there twice; keep one of them",
            "board.toml:11: sounder[1].line: line GPIO5 is already used by key left; every line \
             can do one thing",
        ]
    );
}

#[test]
fn a_newer_format_is_refused_and_a_missing_one_told() {
    assert_eq!(
        problems("format = 2\nname = \"x\"\n"),
        [
            "board.toml:1: format: is 2, newer than this program, which reads 1; take a newer \
          program, or a file of format 1"
        ]
    );
    assert_eq!(
        problems("name = \"x\"\n"),
        ["board.toml:1: format: is missing; add `format = 1` as the first line"]
    );
}

#[test]
fn broken_toml_is_told_by_its_line() {
    let told = problems("format = 1\nname = \"x\n[panel]\nbus = \n");
    assert!(
        told.iter().any(|line| line.starts_with("board.toml:2: ")),
        "{told:?}"
    );
    assert!(
        told.iter().any(|line| line.starts_with("board.toml:4: ")),
        "{told:?}"
    );
}

#[test]
fn a_board_may_have_no_hardware_at_all() {
    let board = BoardFile::parse("board.toml", "format = 1\nname = \"desk\"\n").unwrap();
    assert_eq!(board.panel, None);
    assert!(board.lines().is_empty());
}

#[test]
fn hexadecimal_addresses_read() {
    let text = r#"format = 1
name = "bench"
[panel]
chip = "ssd1306"
bus = "/dev/i2c-1"
address = 0x3D
width_mm = 22
height_mm = 11
read_from_m = 0.5
"#;
    let panel = BoardFile::parse("board.toml", text).unwrap().panel.unwrap();
    let ChipSpec::Oled { address, reset } = panel.chip else {
        panic!("{:?}", panel.chip)
    };
    assert_eq!((address, reset), (0x3D, None));
}
