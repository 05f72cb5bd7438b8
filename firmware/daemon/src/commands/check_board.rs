//! `cringle check --board`: which devices, permissions and groups a board
//! still needs on this computer, and how to mend each.

use std::path::{Path, PathBuf};

use anyhow::anyhow;
use clap::Args;
use cringle_boards::board::{Account, BoardFile, Missing, missing, missing_for};
use serde_json::json;

use crate::answer::{Failure, Verdict, aside, say};
use crate::board_io;

/// The arguments of `check` that concern a board.
#[derive(Debug, Args)]
// The group's name would be that of the other arguments of `check`.
#[group(skip)]
pub(super) struct Arguments {
    /// A board, by name or file: says what it needs of this computer.
    #[arg(long, value_name = "FILE")]
    board: Option<PathBuf>,
    /// Looks for devices and groups below this directory.
    #[arg(long, value_name = "DIR", default_value = "/", requires = "board")]
    root: PathBuf,
    /// For this account, such as the one the service runs under; else for
    /// the one that asks.
    #[arg(long, value_name = "NAME", requires = "board")]
    account: Option<String>,
}

impl Arguments {
    /// Whether a board was named.
    pub(super) fn is_given(&self) -> bool {
        self.board.is_some()
    }
}

pub(super) fn run(arguments: &Arguments, json: bool) -> Result<Verdict, Failure> {
    let Some(named) = &arguments.board else {
        return Ok(Verdict::Well);
    };
    let board = board_io::load(&named.to_string_lossy(), None).map_err(Failure::Usage)?;
    let missing = look(&board, &arguments.root, arguments.account.as_deref())?;
    for missing in &missing {
        match json {
            true => say(&missing_json(named, missing)),
            false => aside(&missing.to_string()),
        }
    }
    if !json {
        let count = match missing.len() {
            0 => "nothing missing".to_owned(),
            count => format!("{count} missing"),
        };
        eprintln!("{}, {}: {count}", named.display(), board.name);
    }
    Ok(match missing.is_empty() {
        true => Verdict::Well,
        false => Verdict::Wanting,
    })
}

fn look(board: &BoardFile, root: &Path, account: Option<&str>) -> Result<Vec<Missing>, Failure> {
    let Some(name) = account else {
        return Ok(missing(board, root));
    };
    match Account::named(name, root) {
        Some(account) => Ok(missing_for(board, root, &account)),
        None => Err(Failure::Usage(anyhow!(
            "no account {name} in {}; leave --account out for the one that asks",
            root.join("etc/passwd").display()
        ))),
    }
}

fn missing_json(file: &Path, missing: &Missing) -> String {
    json!({
        "v": 1,
        "kind": "missing",
        "file": file.display().to_string(),
        "what": missing.what,
        "mend": missing.mend,
    })
    .to_string()
}

#[cfg(test)]
mod tests {
    /// The service may open no device that its unit does not name.
    #[test]
    fn the_unit_lets_the_service_at_every_device_of_a_board_that_comes_with_it() {
        let unit = include_str!("../../packaging/cringle.service");
        let rules = include_str!("../../packaging/60-cringle.rules");
        let groups = unit
            .lines()
            .find_map(|it| it.strip_prefix("SupplementaryGroups="));
        let boards = concat!(env!("CARGO_MANIFEST_DIR"), "/../../boards");
        let mut looked_at = 0;
        for folder in std::fs::read_dir(boards).unwrap() {
            let Ok(board) = std::fs::read_to_string(folder.unwrap().path().join("board.toml"))
            else {
                continue;
            };
            let devices = board.split('"').filter(|word| word.starts_with("/dev/"));
            // Keys and sounders are found by name on whichever chip has them.
            for device in devices.chain(["/dev/gpiochip0"]) {
                let (class, group) = match device {
                    _ if device.starts_with("/dev/i2c-") => ("i2c", "i2c"),
                    _ if device.starts_with("/dev/spidev") => ("spi", "spi"),
                    _ if device.starts_with("/dev/gpiochip") => ("gpiochip", "gpio"),
                    // Our own name of a USB adapter, whichever driver it has.
                    _ if device.starts_with("/dev/cringle/") => ("ttyUSB", "dialout"),
                    other => panic!("{other} is of no class that the unit could name"),
                };
                assert!(
                    unit.contains(&format!("DeviceAllow=char-{class} rw\n")),
                    "{device}"
                );
                assert!(groups.unwrap().split(' ').any(|it| it == group), "{device}");
                // Serial lines are dialout's by the system's own rules.
                let is_ruled = rules.contains(&format!("GROUP=\"{group}\""));
                assert!(is_ruled || group == "dialout", "{device}");
                looked_at += 1;
            }
        }
        assert!(looked_at >= 9, "{looked_at}");
    }
}
