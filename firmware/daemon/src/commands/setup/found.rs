//! Which serial lines this computer has.

use std::path::{Path, PathBuf};

/// Names that stay the same whichever socket an adapter is in come first.
const BY_ID: &str = "dev/serial/by-id";
/// Beginnings of the others' names.
const KINDS: [&str; 5] = ["ttyUSB", "ttyACM", "ttyAMA", "ttyS", "ttymxc"];

/// The serial lines below `root`, each once.
pub(super) fn serial_lines(root: &Path) -> Vec<PathBuf> {
    let mut found = names(&root.join(BY_ID));
    let mut known: Vec<_> = found
        .iter()
        .filter_map(|it| it.canonicalize().ok())
        .collect();
    for path in names(&root.join("dev")) {
        let name = path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        if !KINDS.iter().any(|kind| is_of(kind, &name)) || !has_hardware(root, &name) {
            continue;
        }
        let place = path.canonicalize().unwrap_or_else(|_| path.clone());
        if !known.contains(&place) {
            known.push(place);
            found.push(path);
        }
    }
    // As this computer names them, whatever they were looked for under.
    let plain = |path: &PathBuf| match path.strip_prefix(root) {
        Ok(rest) => Path::new("/").join(rest),
        Err(_) => path.clone(),
    };
    found.iter().map(plain).collect()
}

fn is_of(kind: &str, name: &str) -> bool {
    let number = name.strip_prefix(kind).unwrap_or_default();
    !number.is_empty() && number.bytes().all(|byte| byte.is_ascii_digit())
}

/// Many computers name 32 lines that nobody has built in: the kernel gives
/// those type 0.
fn has_hardware(root: &Path, name: &str) -> bool {
    let kind = root.join("sys/class/tty").join(name).join("type");
    std::fs::read_to_string(kind).map_or(true, |kind| kind.trim() != "0")
}

fn names(directory: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(directory).into_iter().flatten().flatten();
    let mut names: Vec<_> = entries.map(|entry| entry.path()).collect();
    names.sort();
    names
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;
    use std::os::unix::fs::symlink;

    #[test]
    fn each_line_is_named_once_and_by_the_name_that_stays() {
        let root = tempfile::tempdir().unwrap();
        let at = |path: &str| root.path().join(path);
        for directory in [
            "dev/serial/by-id",
            "sys/class/tty/ttyS0",
            "sys/class/tty/ttyS1",
        ] {
            fs::create_dir_all(at(directory)).unwrap();
        }
        for node in [
            "ttyUSB0", "ttyUSB1", "ttyAMA0", "ttyS0", "ttyS1", "tty1", "ttyUSBx", "null",
        ] {
            fs::write(at("dev").join(node), "").unwrap();
        }
        fs::write(at("sys/class/tty/ttyS0/type"), "4\n").unwrap();
        fs::write(at("sys/class/tty/ttyS1/type"), "0\n").unwrap();
        symlink("../../ttyUSB0", at("dev/serial/by-id/usb-adapter-7")).unwrap();
        let found = serial_lines(root.path());
        let wanted = [
            "/dev/serial/by-id/usb-adapter-7",
            "/dev/ttyAMA0",
            "/dev/ttyS0",
            "/dev/ttyUSB1",
        ];
        assert_eq!(found, wanted.map(PathBuf::from));
    }
}
