//! From a board's name or file to its devices.

use std::path::{Path, PathBuf};

use anyhow::Context;
use cringle_boards::board::{BoardFile, ChipSpec, PanelSpec, SHIPPED, SounderName};
use cringle_boards::key::{self, KeySource};
use cringle_boards::panel::{self, Panel};
use cringle_boards::sound::{self, Horn};
use cringle_boat::BoatFile;
use cringle_screen::panel::{self as screen, Kind};

/// What is wired to a board; nothing is opened before it is used.
#[derive(Default)]
pub struct Devices {
    /// The panel, and what the screen is to know of its glass.
    pub panel: Option<(Box<dyn Panel>, screen::Panel)>,
    /// The keys.
    pub keys: Option<Box<dyn KeySource>>,
    /// Buzzer, bunk sounder, beacon.
    pub horns: Vec<(SounderName, Horn)>,
}

impl Devices {
    /// Those of a board file, on this computer.
    pub fn of(board: &BoardFile) -> Devices {
        let panel = board.panel.as_ref();
        let keys = key::open(board).map(|keys| Box::new(keys) as Box<dyn KeySource>);
        Devices {
            panel: panel.map(|spec| (panel::open::panel(spec), glass(spec))),
            keys,
            horns: sound::open(board),
        }
    }
}

/// The board given by hand, else the one that the boat file names, if any.
pub fn named(by_hand: Option<&Path>, boat_file: &BoatFile) -> anyhow::Result<Option<BoardFile>> {
    if let Some(by_hand) = by_hand {
        return load(&by_hand.to_string_lossy(), None).map(Some);
    }
    let named = boat_file.board.as_deref();
    let place = Path::new(&boat_file.file);
    named.map(|named| load(named, Some(place))).transpose()
}

/// Reads the board file that `named` says: the name of a board that is known,
/// or a path; one in a boat file starts from where that file is. All that is
/// wrong in it is in the error.
pub fn load(named: &str, boat_file: Option<&Path>) -> anyhow::Result<BoardFile> {
    let (place, text) = match SHIPPED.iter().find(|(name, _)| *name == named) {
        Some((name, text)) => (format!("board {name}"), (*text).to_owned()),
        None => {
            let path = path(named, boat_file);
            let text = std::fs::read_to_string(&path).with_context(|| unread(named, &path))?;
            (path.display().to_string(), text)
        }
    };
    Ok(BoardFile::parse(&place, &text)?)
}

fn path(named: &str, boat_file: Option<&Path>) -> PathBuf {
    let beside = boat_file.and_then(Path::parent);
    beside.map_or_else(|| named.into(), |beside| beside.join(named))
}

fn unread(named: &str, path: &Path) -> String {
    let known: Vec<_> = SHIPPED.iter().map(|(name, _)| *name).collect();
    format!(
        "board \"{named}\": it is none of {}, and {} cannot be read",
        known.join(", "),
        path.display()
    )
}

/// A panel as the screen sees it.
fn glass(spec: &PanelSpec) -> screen::Panel {
    let geometry = spec.geometry();
    let (width_mm, height_mm) = (spec.legibility.width_mm, spec.legibility.height_mm);
    screen::Panel {
        kind: match spec.chip {
            ChipSpec::Oled { .. } | ChipSpec::Tft { .. } => Kind::Lit,
            ChipSpec::Paper { .. } => Kind::Paper,
        },
        ..screen::Panel::lit(
            geometry.width,
            geometry.height,
            width_mm as f32,
            height_mm as f32,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shipped_board_is_known_by_name_and_has_glass_of_its_own_size() {
        for (name, _) in SHIPPED {
            let board = load(name, None).unwrap();
            let spec = board.panel.unwrap();
            let glass = glass(&spec);
            assert_eq!(glass.size.width, spec.geometry().width, "{name}");
            let is_paper = matches!(spec.chip, ChipSpec::Paper { .. });
            assert_eq!(glass.kind == Kind::Paper, is_paper, "{name}");
        }
    }

    #[test]
    fn a_board_beside_the_boat_file_is_found_and_its_errors_name_the_file() {
        let directory = tempfile::tempdir().unwrap();
        let boat = directory.path().join("boat.toml");
        std::fs::write(directory.path().join("bench.toml"), "format = 1\n").unwrap();
        let error = load("bench.toml", Some(&boat)).unwrap_err().to_string();
        assert!(error.contains("bench.toml:1: name: is missing"), "{error}");
        let error = load("nowhere", Some(&boat)).unwrap_err().to_string();
        assert!(error.contains("cockpit-oled"), "{error}");
    }
}
