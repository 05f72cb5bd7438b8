//! The one check command: `cargo run -p xtask -- check`.
//!
//! Runs every step that a change must pass, in the order in which a failure
//! is cheapest to learn of. `.ci/run` installs what the steps need and calls
//! this; by hand, one step runs alone: `cargo run -p xtask -- clippy`.
//! `cargo run -p xtask -- lines [COMMIT]` counts lines and checks nothing.

mod circles;
mod lines;
mod programs;
mod snapshot;
mod sources;
mod surface;
mod versions;

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::Instant;

use anyhow::{Context, Result, bail};
use programs::{cargo, succeed};

/// A step's name, what it proves, and its work.
struct Step {
    name: &'static str,
    proves: &'static str,
    run: fn(&Path) -> Result<()>,
}

const STEPS: &[Step] = &[
    Step {
        name: "format",
        proves: "stock rustfmt",
        run: |root| cargo(root, &["fmt", "--all", "--check"]),
    },
    Step {
        name: "circles",
        proves: "no two files of a crate use each other",
        run: circles::check,
    },
    Step {
        name: "surface",
        proves: "the public items of each crate are those a person last looked at",
        run: surface::check,
    },
    Step {
        name: "rust-version",
        proves: "what we depend on builds on the Rust version we state",
        run: versions::check,
    },
    Step {
        name: "deny",
        proves: "licences and sources of what we depend on",
        run: versions::dependencies,
    },
    Step {
        name: "clippy",
        proves: "no warning, in tests and benches too",
        run: |root| {
            cargo(
                root,
                &[
                    "clippy",
                    "--workspace",
                    "--all-targets",
                    "--",
                    "-D",
                    "warnings",
                ],
            )
        },
    },
    Step {
        name: "doc",
        proves: "no broken link in the documentation",
        run: |root| cargo(root, &["doc", "--workspace", "--no-deps", "--quiet"]),
    },
    Step {
        name: "test",
        proves: "the README's test command",
        run: |root| cargo(root, &["test", "--workspace"]),
    },
    Step {
        name: "net",
        proves: "every recorded story gives the events it gave, every word its lead",
        run: net,
    },
    Step {
        name: "demo",
        proves: "the README's demo command, without a terminal",
        run: demo,
    },
    Step {
        name: "bare",
        proves: "core, wire and screen link without an allocator",
        run: |root| script(root, "tests/bare/check.sh"),
    },
    Step {
        name: "thumb",
        proves: "core, wire and screen build for a microcontroller",
        run: |root| script(root, "tests/bare/thumb.sh"),
    },
    Step {
        name: "cross",
        proves: "arm64 under qemu does what this machine does",
        run: |root| script(root, "tests/cross/run.sh"),
    },
    Step {
        name: "package",
        proves: "the Debian package installs, runs read-only and purges",
        run: |root| script(root, "tests/packaging/run.sh"),
    },
];

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("xtask: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<()> {
    let wanted = std::env::args().nth(1).unwrap_or_default();
    let root = root()?;
    if wanted == "lines" {
        return lines::print(&root, std::env::args().nth(2).as_deref());
    }
    if wanted == "faults" {
        return faults(&root);
    }
    if wanted == "check" {
        return STEPS.iter().try_for_each(|step| timed(step, &root));
    }
    let Some(step) = STEPS.iter().find(|step| step.name == wanted) else {
        let names: Vec<_> = STEPS.iter().map(|step| step.name).collect();
        bail!("unknown step \"{wanted}\", expected check, faults, lines or one of {names:?}");
    };
    timed(step, &root)
}

fn timed(step: &Step, root: &Path) -> Result<()> {
    println!("== {}: {}", step.name, step.proves);
    let began = Instant::now();
    (step.run)(root).with_context(|| format!("step {} failed", step.name))?;
    println!(
        "== {}: passed in {} s",
        step.name,
        began.elapsed().as_secs()
    );
    Ok(())
}

fn root() -> Result<PathBuf> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let root = here.ancestors().nth(2).context("xtask has moved")?;
    Ok(root.to_path_buf())
}

/// Scripts say for themselves what they skip, and skip nothing in CI.
fn script(root: &Path, path: &str) -> Result<()> {
    succeed(Command::new("sh").arg(root.join(path)).current_dir(root))
}

/// The tests have played a part of it already.
fn net(root: &Path) -> Result<()> {
    let mut command = Command::new("cargo");
    command.args(["test", "-p", "cringle-tests"]);
    command.args(["--test", "net", "--test", "lead_times"]);
    command.env("CRINGLE_NET", "all");
    succeed(command.current_dir(root))
}

/// The long form of the days on which things fail; the tests have played a short one.
/// `CRINGLE_DAYS` and `CRINGLE_SEED` say how many and from which on.
fn faults(root: &Path) -> Result<()> {
    let mut command = Command::new("cargo");
    command.args([
        "test",
        "--profile",
        "cross",
        "-p",
        "cringle-tests",
        "--test",
        "faults",
    ]);
    command.args(["--", "--ignored", "--nocapture"]);
    succeed(command.current_dir(root))
}

/// The demo ends by itself without a terminal and must have called.
fn demo(root: &Path) -> Result<()> {
    let output = Command::new("cargo")
        .args(["run", "--release"])
        .current_dir(root)
        .stdin(Stdio::null())
        .stderr(Stdio::inherit())
        .output()
        .context("cargo did not start")?;
    let said = String::from_utf8_lossy(&output.stdout);
    print!("{said}");
    if !output.status.success() {
        bail!("the demo ended with {}", output.status);
    }
    for word in ["prepare", "plan"] {
        if !said.contains(word) {
            bail!("the demo never said \"{word}\"");
        }
    }
    Ok(())
}
