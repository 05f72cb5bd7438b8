//! The tracked Rust sources of each crate, now or at a commit, and what of
//! them is no test and no comment.

use std::path::Path;
use std::process::Command;

use anyhow::{Context, Result, bail};

/// One source file under a crate's `src`.
pub(crate) struct Source {
    /// From the crate's `src`, as `call/hold.rs`.
    pub(crate) path: String,
    /// As it is written.
    pub(crate) text: String,
}

/// The folders of all crates of the workspace.
pub(crate) fn crates(root: &Path, commit: Option<&str>) -> Result<Vec<String>> {
    let manifest = match commit {
        None => std::fs::read_to_string(root.join("Cargo.toml"))?,
        Some(commit) => git(root, &["show", &format!("{commit}:Cargo.toml")])?,
    };
    let behind = manifest.split_once("\nmembers = [");
    let inside = behind.and_then(|(_, behind)| behind.split_once(']'));
    let (members, _) = inside.context("Cargo.toml lists no members")?;
    let members = members.split('"').skip(1).step_by(2);
    Ok(members.map(str::to_owned).collect())
}

/// The sources of a crate outside tests: those under `src`, without what is
/// compiled for tests only. None for a crate that is not there.
pub(crate) fn of_crate(root: &Path, folder: &str, commit: Option<&str>) -> Result<Vec<Source>> {
    let src = format!("{folder}/src/");
    let listed = match commit {
        None => git(root, &["ls-files", "--", &src])?,
        Some(commit) => git(root, &["ls-tree", "-r", "--name-only", commit, "--", &src])?,
    };
    let mut sources = Vec::new();
    for path in listed.lines().filter(|path| path.ends_with(".rs")) {
        let text = match commit {
            None => match std::fs::read_to_string(root.join(path)) {
                Ok(text) => text,
                // Removed, and git not told yet.
                Err(_) => continue,
            },
            Some(commit) => git(root, &["show", &format!("{commit}:{path}")])?,
        };
        let path = path.strip_prefix(&src).unwrap_or(path).to_owned();
        sources.push(Source { path, text });
    }
    Ok(without_tests(sources))
}

fn git(root: &Path, arguments: &[&str]) -> Result<String> {
    let output = Command::new("git")
        .args(arguments)
        .current_dir(root)
        .output()
        .context("git did not start")?;
    if !output.status.success() {
        bail!(
            "git {arguments:?}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
    }
    Ok(String::from_utf8(output.stdout)?)
}

/// Takes out what stands behind `#[cfg(test)]`, and the files of modules that
/// do.
fn without_tests(mut sources: Vec<Source>) -> Vec<Source> {
    let mut only_tests = Vec::new();
    for source in &mut sources {
        let folder = folder_of(&source.path);
        let (kept, modules) = split_tests(&source.text);
        source.text = kept;
        only_tests.extend(modules.iter().map(|module| format!("{folder}{module}")));
    }
    sources.retain(|source| {
        let is_of = |module: &String| {
            let rest = source.path.strip_prefix(module.as_str());
            rest.is_some_and(|rest| rest == ".rs" || rest.starts_with('/'))
        };
        !only_tests.iter().any(is_of)
    });
    sources
}

/// Where the modules that a file declares lie.
pub(crate) fn folder_of(path: &str) -> String {
    let stem = path.strip_suffix(".rs").unwrap_or(path);
    match stem.rsplit_once('/') {
        Some((folder, "mod")) => format!("{folder}/"),
        None if matches!(stem, "lib" | "main" | "mod") => String::new(),
        _ => format!("{stem}/"),
    }
}

/// The text without items that are for tests, and the modules among these that
/// lie in files of their own. Trusts rustfmt: an item ends where its
/// indentation comes back.
fn split_tests(text: &str) -> (String, Vec<String>) {
    let mut kept = String::new();
    let mut modules = Vec::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        if line.trim() != "#[cfg(test)]" {
            kept += line;
            kept.push('\n');
            continue;
        }
        let indentation = line.len() - line.trim_start().len();
        let end = format!("{}}}", " ".repeat(indentation));
        let mut is_first = true;
        for line in lines.by_ref() {
            let words = line.trim();
            if let Some(name) = words.strip_suffix(';').and_then(|it| it.split_once("mod ")) {
                modules.push(name.1.to_owned());
            }
            let is_attribute = is_first && words.starts_with('#');
            let is_whole = is_first && (words.ends_with(';') || words.ends_with('}'));
            if line == end || is_whole || words == "};" && line.starts_with(&end) {
                break;
            }
            is_first = is_attribute;
        }
    }
    (kept, modules)
}

/// The text without comments and without what stands between quotation marks;
/// its lines stay where they are.
pub(crate) fn bare(text: &str) -> String {
    let mut bare = String::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let skipped = match first {
            '/' if rest.starts_with("//") => rest.find('\n').unwrap_or(rest.len()),
            '/' if rest.starts_with("/*") => rest.find("*/").map_or(rest.len(), |end| end + 2),
            'r' if rest.starts_with("r#\"") => rest.find("\"#").map_or(rest.len(), |end| end + 2),
            '"' => quoted(rest),
            '\'' if rest.starts_with("'\"'") || rest.starts_with("'/'") => 3,
            '\'' if rest.starts_with("'\\\"'") || rest.starts_with("'\\''") => 4,
            _ => 0,
        };
        if skipped == 0 {
            bare.push(first);
            rest = &rest[first.len_utf8()..];
        } else {
            bare.extend(rest[..skipped].matches('\n'));
            rest = &rest[skipped..];
        }
    }
    bare
}

fn quoted(rest: &str) -> usize {
    let mut is_escaped = false;
    for (place, letter) in rest.char_indices().skip(1) {
        match letter {
            _ if is_escaped => is_escaped = false,
            '\\' => is_escaped = true,
            '"' => return place + 1,
            _ => {}
        }
    }
    rest.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_for_tests_is_taken_out_and_no_more() {
        let text = "mod a;\n#[cfg(test)]\nmod steps;\n#[cfg(test)]\nuse x::Y;\nfn f() {}\n\
                    impl A {\n    #[cfg(test)]\n    fn g() {\n        h();\n    }\n    fn i() {}\n}\n\
                    #[cfg(test)]\nmod tests {\n    fn j() {\n    }\n}\nfn k() {}\n";
        let (kept, modules) = split_tests(text);
        assert_eq!(
            kept,
            "mod a;\nfn f() {}\nimpl A {\n    fn i() {}\n}\nfn k() {}\n"
        );
        assert_eq!(modules, ["steps"]);
    }

    #[test]
    fn comments_and_words_in_quotation_marks_are_taken_out() {
        let text = "a // crate::b\nlet c = \"crate::\\\"d\"; '\"' e /* f */ r#\"g\"# 'h'\n";
        assert_eq!(bare(text), "a \nlet c = ;  e   'h'\n");
    }

    #[test]
    fn modules_of_a_file_lie_beside_it_or_under_it() {
        for (path, folder) in [
            ("lib.rs", ""),
            ("a.rs", "a/"),
            ("a/mod.rs", "a/"),
            ("a/b.rs", "a/b/"),
        ] {
            assert_eq!(folder_of(path), folder);
        }
    }
}
