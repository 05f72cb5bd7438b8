//! That the workspace builds on the Rust version it states.
//!
//! Where that toolchain is installed it builds everything. Elsewhere it is
//! said aloud that the compiler was not tried, and two things are checked
//! without it: no dependency states a newer version, and (by clippy's
//! `incompatible_msrv`, in its own step) nothing younger is called from `std`.

use std::path::Path;
use std::process::{Command, Stdio};

use anyhow::{Context, Result, ensure};
use serde_json::Value;

use crate::programs::{cargo, succeed};

pub(crate) fn check(root: &Path) -> Result<()> {
    let output = Command::new("cargo")
        .args(["metadata", "--format-version", "1", "--locked"])
        .current_dir(root)
        .stderr(Stdio::inherit())
        .output()
        .context("cargo did not start")?;
    ensure!(output.status.success(), "cargo metadata failed");
    let metadata: Value = serde_json::from_slice(&output.stdout)?;
    let packages = metadata["packages"].as_array().context("no packages")?;
    let own = |package: &&Value| package["source"].is_null();
    let stated = packages
        .iter()
        .filter(own)
        .map(|package| &package["rust_version"]);
    let ours = stated
        .filter_map(Value::as_str)
        .min()
        .context("no rust-version stated")?;
    let mut newer = Vec::new();
    for package in packages {
        let theirs = package["rust_version"].as_str().unwrap_or("0");
        if number(theirs) > number(ours) {
            newer.push(format!("{} needs {theirs}", package["name"]));
        }
    }
    ensure!(
        newer.is_empty(),
        "stated is Rust {ours}, but {}",
        newer.join(", ")
    );
    println!("{} packages need Rust {ours} at most", packages.len());
    build(root, ours)
}

fn number(version: &str) -> Vec<u32> {
    let parts = version.split('.').map(|part| part.parse().unwrap_or(0));
    parts.collect()
}

fn build(root: &Path, version: &str) -> Result<()> {
    let toolchain = format!("+{version}");
    let mut asked = Command::new("cargo");
    asked
        .args([&toolchain, "--version"])
        .env("RUSTUP_AUTO_INSTALL", "0");
    let is_there = asked.stdout(Stdio::null()).stderr(Stdio::null()).status();
    if !is_there.is_ok_and(|status| status.success()) {
        println!("NOT TRIED: Rust {version} is not installed (rustup toolchain install {version})");
        return Ok(());
    }
    let target = root.join(format!("target/rust-{version}"));
    let mut command = Command::new("cargo");
    command.args([&toolchain, "check", "--workspace", "--all-targets"]);
    succeed(command.current_dir(root).env("CARGO_TARGET_DIR", target))
}

/// Licences, sources and needless doubles of what we depend on.
pub(crate) fn dependencies(root: &Path) -> Result<()> {
    let asked = Command::new("cargo-deny")
        .arg("--version")
        .stdout(Stdio::null())
        .status();
    if !asked.is_ok_and(|status| status.success()) {
        ensure!(
            std::env::var_os("CI").is_none(),
            "cargo-deny is not installed"
        );
        println!("SKIPPED: cargo-deny is not installed (.ci/run installs it)");
        return Ok(());
    }
    // Advisories want their own database, which is fetched: for those online,
    // `cargo deny check advisories`.
    println!("NOT TRIED: the database of advisories");
    cargo(
        root,
        &["deny", "--locked", "check", "licenses", "bans", "sources"],
    )
}
