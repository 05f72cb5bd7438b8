//! Text snapshots: what the program gave when a person last looked at it.
//!
//! With `CRINGLE_BLESS` in the environment they are written anew instead of
//! being compared; `git diff` then shows what moved.

use std::path::Path;

/// Whether snapshots are to be written anew.
pub fn is_blessing() -> bool {
    std::env::var_os("CRINGLE_BLESS").is_some()
}

/// Whether all is to be played, however long it takes: when blessing, and with
/// `CRINGLE_NET` in the environment.
pub fn is_long() -> bool {
    is_blessing() || std::env::var_os("CRINGLE_NET").is_some()
}

/// Where this text differs from the snapshot, in words; `None` where it does
/// not. Writes it if blessing.
pub fn difference(path: &Path, text: &str) -> Option<String> {
    if is_blessing() {
        std::fs::write(path, text).expect("snapshots can be written");
        return None;
    }
    let known = match std::fs::read_to_string(path) {
        Ok(known) => known,
        Err(error) => return Some(format!("{}: {error}", path.display())),
    };
    if known == text {
        return None;
    }
    let pairs = known.lines().zip(text.lines());
    let same = pairs.take_while(|(was, is)| was == is).count();
    let line = |text: &str| text.lines().nth(same).unwrap_or("(nothing)").to_owned();
    Some(format!(
        "{}:{}\n  was {}\n  is  {}",
        path.display(),
        same + 1,
        line(&known),
        line(text),
    ))
}

/// Compares a table with its place between two marks in a file, or writes it
/// there if blessing.
#[track_caller]
pub fn marked(path: &Path, name: &str, table: &str) {
    let text = std::fs::read_to_string(path).expect("the file with the table is there");
    let begin = format!("<!-- {name}: begin -->\n");
    let end = format!("<!-- {name}: end -->");
    let from = text.find(&begin).expect("begin mark") + begin.len();
    let to = text.find(&end).expect("end mark");
    if is_blessing() {
        let new = format!("{}{table}{}", &text[..from], &text[to..]);
        std::fs::write(path, new).expect("snapshots can be written");
        return;
    }
    assert_eq!(&text[from..to], table, "{name} in {}", path.display());
}

/// Fails with every difference, and says how they are blessed.
#[track_caller]
pub fn none_moved(differences: &[String], command: &str) {
    assert!(
        differences.is_empty(),
        "{} snapshots moved, each shown where it first does:\n{}\nif that is meant, run\n  \
         CRINGLE_BLESS=1 {command}\nlook at the diff, and say in the commit why it moved",
        differences.len(),
        differences.join("\n"),
    );
}
