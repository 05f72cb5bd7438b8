//! From the answers to a boat file: the ladder's template with the answers put
//! in, so that its comments stay for the one who goes on from there.

use std::fs::{self, File};
use std::io::{self, Write};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

use crate::disk::{KEPT_MODE, SECRET_MODE, new_file};
use anyhow::{Context, anyhow};
use cringle_boat::ports::PortSpec;
use cringle_boat::{BoatFile, Template};

/// Longest name of a port, as `[[port]]` takes it.
const LONGEST_PORT_NAME: usize = 15;

/// All that is asked.
#[derive(Clone, Debug)]
pub(super) struct Answers {
    pub(super) name: String,
    pub(super) ladder: Template,
    /// None leaves the template's own.
    pub(super) ports: Vec<PortSpec>,
    pub(super) on_deck: u8,
    pub(super) below: u8,
    pub(super) masthead_m: f64,
    pub(super) board: Option<String>,
}

/// Whether a boat file that is there may be replaced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Old {
    /// Never.
    Keep,
    /// It was asked for.
    Replace,
}

/// The text of the boat file, read back before anybody sees it.
pub(super) fn boat_file(answers: &Answers, file: &Path) -> anyhow::Result<BoatFile> {
    let text = text(answers)?;
    let name = file.display().to_string();
    cringle_boat::parse(&name, &text).map_err(|problems| {
        anyhow!("these answers make no boat file that can be used; nothing is written\n{problems}")
    })
}

fn text(answers: &Answers) -> anyhow::Result<String> {
    let mut ports = String::new();
    for (port, name) in answers.ports.iter().zip(port_names(&answers.ports)) {
        let words = format!("{name}={}", port.address);
        let (name, port) = (quoted(&name), quoted(&port.address.to_string()));
        words
            .parse::<PortSpec>()
            .with_context(|| format!("port {words}"))?;
        ports += &format!("[[port]]\nname = {name}\nport = {port}\n\n");
    }
    let board = answers.board.as_deref().map(quoted);
    let mut out = Vec::new();
    let mut section = "";
    let mut skips_port = false;
    for line in answers.ladder.text.lines() {
        if line.starts_with('[') {
            section = line.trim();
            if skips_port || (section == "[[port]]" && !answers.ports.is_empty()) {
                out.extend(ports.lines().map(str::to_owned));
                ports.clear();
            }
            skips_port = section == "[[port]]" && !answers.ports.is_empty();
        }
        if skips_port {
            continue;
        }
        let key = line.split('=').next().unwrap_or_default().trim();
        out.push(match (section, key) {
            ("", "format") => match &board {
                Some(board) => format!("{line}\nboard = {board}"),
                None => line.to_owned(),
            },
            ("[boat]", "name") => format!("name = {}", quoted(&answers.name)),
            ("[instruments]", "masthead_height_m") => {
                format!("masthead_height_m = {}", answers.masthead_m)
            }
            ("[start]", "on_deck") => format!("on_deck = {}", answers.on_deck),
            ("[start]", "below") => format!("below = {}", answers.below),
            _ => line.to_owned(),
        });
    }
    Ok(out.join("\n") + "\n")
}

/// Names that a boat file takes, each once: a port that was given without one
/// is called by its address, which may be too long or hold other letters.
fn port_names(ports: &[PortSpec]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for port in ports {
        let plain = port.name.chars().map(|letter| match letter {
            '_' => '_',
            letter if letter.is_ascii_alphanumeric() => letter,
            _ => '-',
        });
        let plain: String = plain.collect();
        // The end of an address or path tells more than its beginning.
        let start = plain.len().saturating_sub(LONGEST_PORT_NAME);
        let plain = plain[start..].trim_matches('-');
        let mut name = match plain {
            "" => "port".to_owned(),
            plain => plain.to_owned(),
        };
        for number in 2.. {
            if !names.contains(&name) {
                break;
            }
            let tail = format!("-{number}");
            let most = plain.len().min(LONGEST_PORT_NAME - tail.len());
            name = format!("{}{tail}", &plain[..most]);
        }
        names.push(name);
    }
    names
}

/// As TOML writes a text.
fn quoted(words: &str) -> String {
    let mut quoted = String::from("\"");
    for letter in words.chars() {
        match letter {
            '"' | '\\' => quoted.extend(['\\', letter]),
            letter if letter.is_control() => quoted += &format!("\\u{:04X}", u32::from(letter)),
            letter => quoted.push(letter),
        }
    }
    quoted + "\""
}

/// Writes it whole or not at all. One that is there is never replaced unasked,
/// not even one that came while the questions were answered.
pub(super) fn write(path: &Path, text: &str, old: Old) -> io::Result<()> {
    let half_done = path.with_extension("new");
    // Left by a crash, or planted: what it leads to is not touched.
    match fs::remove_file(&half_done) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    // It may hold the page's key.
    let mut file = new_file(&half_done, SECRET_MODE)?;
    let_the_watch_read(&file);
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    let put = match old {
        Old::Replace => fs::rename(&half_done, path),
        Old::Keep => put_new(&half_done, path),
    };
    if put.is_err() {
        // What is half done helps nobody; the first error is the one to tell.
        let _ = fs::remove_file(&half_done);
    }
    put?;
    match path.parent().filter(|it| !it.as_os_str().is_empty()) {
        Some(directory) => File::open(directory)?.sync_all(),
        None => Ok(()),
    }
}

/// As root the file would be closed to the account that the watch runs under: its
/// group, where there is one, may read.
fn let_the_watch_read(file: &File) {
    let groups = fs::read_to_string("/etc/group").unwrap_or_default();
    let line = groups
        .lines()
        .find_map(|line| line.strip_prefix("cringle:"));
    let number = line.and_then(|rest| rest.split(':').nth(1)?.parse().ok());
    let Some(number) = number.filter(|_| rustix::process::geteuid().is_root()) else {
        return;
    };
    let group = Some(rustix::fs::Gid::from_raw(number));
    if rustix::fs::fchown(file, None, group).is_ok() {
        // It stays closed where this does not go: the watch then says so.
        let _ = file.set_permissions(fs::Permissions::from_mode(KEPT_MODE));
    }
}

fn put_new(half_done: &Path, path: &Path) -> io::Result<()> {
    match fs::hard_link(half_done, path) {
        Ok(()) => fs::remove_file(half_done),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(error),
        // Some file systems of memory cards know no second names.
        Err(_) if !path.exists() => fs::rename(half_done, path),
        Err(error) => Err(error),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cringle_boat::TEMPLATES;
    use cringle_core::instruments::Confirmation;

    fn answers(ladder: Template) -> Answers {
        Answers {
            name: r#"The "Old" Wagtail"#.into(),
            ladder,
            ports: vec![
                "wind=serial:/dev/ttyUSB7?baud=38400".parse().unwrap(),
                "net=udp:0.0.0.0:2000".parse().unwrap(),
            ],
            on_deck: 2,
            below: 3,
            masthead_m: 19.5,
            board: Some("cockpit-oled".into()),
        }
    }

    #[test]
    fn every_ladder_takes_every_answer_and_nothing_is_confirmed() {
        for ladder in TEMPLATES {
            let answers = answers(*ladder);
            let file = boat_file(&answers, Path::new("boat.toml")).unwrap();
            assert_eq!(file.boat.name.as_str(), answers.name);
            let ports: Vec<_> = file.ports.iter().map(|it| it.port.clone()).collect();
            assert_eq!(ports, answers.ports);
            let hands = file.boat.start.hands;
            assert_eq!((hands.on_deck, hands.below), (2, 3), "{}", ladder.kind);
            let height = file.boat.instruments.masthead_height.unwrap();
            assert_eq!(height.get(), 19.5);
            assert_eq!(file.board.as_deref(), Some("cockpit-oled"));
            assert_eq!(file.boat.calling.limits, Confirmation::Unconfirmed);
            assert_eq!(
                file.boat.instruments.wind_confirmed,
                Confirmation::Unconfirmed
            );
            assert!(file.text.contains("time your own"), "its comments stay");
        }
    }

    #[test]
    fn a_port_without_a_name_gets_one_that_the_boat_file_takes() {
        let mut answers = answers(TEMPLATES[0]);
        let given = [
            "tcp:192.168.4.1:10110",
            "tcp:192.168.4.1:10110",
            "serial:/dev/serial/by-id/usb-FTDI_FT232R_USB_UART_A10.0-if00-port0?baud=4800",
            "udp:0.0.0.0:2000",
        ];
        answers.ports = given.map(|words| words.parse().unwrap()).to_vec();
        let file = boat_file(&answers, Path::new("boat.toml")).unwrap();
        let addresses: Vec<_> = file.ports.iter().map(|it| &it.port.address).collect();
        let asked: Vec<_> = answers.ports.iter().map(|it| &it.address).collect();
        assert_eq!(addresses, asked, "no answer is lost");
    }

    #[test]
    fn answers_that_make_no_boat_file_are_told_and_not_written() {
        let mut answers = answers(TEMPLATES[0]);
        answers.masthead_m = 900.0;
        let error = boat_file(&answers, Path::new("boat.toml")).unwrap_err();
        assert!(error.to_string().contains("masthead_height_m"), "{error}");
    }

    #[test]
    fn a_file_that_is_there_is_replaced_only_when_that_was_asked_for() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("boat.toml");
        write(&path, "first", Old::Keep).unwrap();
        let error = write(&path, "second", Old::Keep).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(fs::read_to_string(&path).unwrap(), "first");
        write(&path, "third", Old::Replace).unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "third");
        let left = fs::read_dir(directory.path()).unwrap().count();
        assert_eq!(left, 1, "nothing half done is left");
    }

    #[test]
    fn the_boat_file_with_its_key_is_for_its_owner_and_no_planted_link_is_followed() {
        let directory = tempfile::tempdir().unwrap();
        let treasure = directory.path().join("treasure");
        fs::write(&treasure, "gold").unwrap();
        let path = directory.path().join("boat.toml");
        std::os::unix::fs::symlink(&treasure, directory.path().join("boat.new")).unwrap();
        write(&path, "key", Old::Keep).unwrap();
        assert_eq!(fs::read_to_string(&treasure).unwrap(), "gold");
        let mode = fs::metadata(&path).unwrap().permissions().mode();
        // Others read nothing.
        assert_eq!(mode & 0o137, 0, "{mode:o}");
    }
}
