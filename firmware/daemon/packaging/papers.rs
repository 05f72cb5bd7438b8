//! Writes manual pages and shell completions from the command definitions.
//!
//! `cargo run -p cringle --example papers -- FOLDER`

use std::fs;
use std::path::Path;

use clap_complete::Shell;

/// Where bash, fish and zsh look for a completion of `cringle`.
const COMPLETIONS: [(Shell, &str); 3] = [
    (Shell::Bash, "cringle"),
    (Shell::Fish, "cringle.fish"),
    (Shell::Zsh, "_cringle"),
];

fn main() -> anyhow::Result<()> {
    let folder = std::env::args()
        .nth(1)
        .ok_or_else(|| anyhow::anyhow!("name the folder to write to"))?;
    let folder = Path::new(&folder);
    fs::create_dir_all(folder)?;
    // A page for the program and one for each command: cringle-watch(1).
    clap_mangen::generate_to(cringle::commands::command(), folder)?;
    for (shell, name) in COMPLETIONS {
        let mut text = Vec::new();
        clap_complete::generate(
            shell,
            &mut cringle::commands::command(),
            "cringle",
            &mut text,
        );
        fs::write(folder.join(name), text)?;
    }
    Ok(())
}
