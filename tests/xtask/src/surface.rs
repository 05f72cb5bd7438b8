//! The public surface of each crate: every `pub` item, as text in
//! `tests/data/surface`.
//!
//! The lint `unreachable_pub` lets nothing be `pub` that cannot be reached, so
//! the word in the source is enough; what macros make is not seen. Fields and
//! variants are left out.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::Result;

use crate::snapshot;
use crate::sources::{Source, bare, crates, of_crate};

const KINDS: [&str; 8] = [
    "fn", "struct", "enum", "trait", "const", "static", "type", "mod",
];

pub(crate) fn check(root: &Path) -> Result<()> {
    let mut moved = Vec::new();
    for folder in &crates(root, None)? {
        // Nobody but the tests uses what the tests share.
        if folder.starts_with("tests") {
            continue;
        }
        let sources = of_crate(root, folder, None)?;
        if !sources.iter().any(|source| source.path == "lib.rs") {
            continue;
        }
        let name = folder.replace('/', "-");
        let path = root.join(format!("tests/data/surface/{name}.txt"));
        if let Err(error) = snapshot::compare(&path, &listed(&sources)) {
            moved.push(error.to_string());
        }
    }
    anyhow::ensure!(moved.is_empty(), "{}", moved.join("\n"));
    Ok(())
}

/// A line for each module with its items, and one for each type with its
/// functions.
fn listed(sources: &[Source]) -> String {
    let mut lines = BTreeMap::new();
    for source in sources {
        let module = module(&source.path);
        for (owner, item) in items(&bare(&source.text)) {
            let key = match owner.as_str() {
                "" => module.clone(),
                owner => format!("{module} {owner}"),
            };
            let items: &mut Vec<String> = lines.entry(key).or_default();
            items.push(item);
        }
    }
    let line = |(key, mut items): (String, Vec<String>)| {
        items.sort();
        format!("{key}: {}\n", items.join(" "))
    };
    lines.into_iter().map(line).collect()
}

/// `ladder/time.rs` is `ladder::time`; the crate itself is `crate`.
pub(crate) fn module(path: &str) -> String {
    let stem = path.strip_suffix(".rs").unwrap_or(path);
    let stem = stem.strip_suffix("/mod").unwrap_or(stem);
    match stem {
        "lib" | "main" => "crate".into(),
        stem => stem.replace('/', "::"),
    }
}

/// Public items with the type they belong to, if to any.
fn items(text: &str) -> Vec<(String, String)> {
    let mut items = Vec::new();
    let mut owner = String::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        if !line.is_empty() && !line.starts_with([' ', '}']) {
            owner = owner_of(line).unwrap_or_default();
        }
        let Some(item) = line.trim_start().strip_prefix("pub ") else {
            continue;
        };
        if let Some(used) = item.strip_prefix("use ") {
            let mut used = used.to_owned();
            while !used.ends_with(';') {
                let Some(more) = lines.next() else { break };
                used += more.trim();
            }
            items.push((
                owner.clone(),
                format!("use({})", used.trim_end_matches(';')),
            ));
        } else if let Some(name) = name_of(item) {
            items.push((owner.clone(), name));
        }
    }
    items
}

/// The type of an `impl` that opens here.
fn owner_of(line: &str) -> Option<String> {
    let rest = line.strip_prefix("impl")?;
    let rest = match rest.strip_prefix('<') {
        Some(generic) => generic.split_once("> ")?.1,
        None => rest,
    };
    let rest = rest.rsplit(" for ").next()?.trim();
    let name: String = rest.chars().take_while(|it| it.is_alphanumeric()).collect();
    (!name.is_empty()).then_some(name)
}

/// The name of an item; functions with `()` behind them.
fn name_of(item: &str) -> Option<String> {
    let mut words = item.split_whitespace().peekable();
    let mut kind = words.next()?;
    while matches!(kind, "const" | "async" | "unsafe" | "extern")
        && words
            .peek()
            .is_some_and(|next| matches!(*next, "fn" | "async" | "unsafe"))
    {
        kind = words.next()?;
    }
    if !KINDS.contains(&kind) {
        return None;
    }
    let is_name = |letter: &char| letter.is_alphanumeric() || *letter == '_';
    let name: String = words.next()?.chars().take_while(is_name).collect();
    Some(match kind {
        "fn" => format!("{name}()"),
        "mod" => format!("{name}::"),
        _ => name,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn items_and_methods_are_found_and_private_ones_are_not() {
        let text = "pub mod a;\nmod b;\npub use b::{C,\n    D};\npub(crate) fn e() {}\n\
                    pub const fn f() {}\nimpl<T> G<T> {\n    fn i() {}\n\n    pub fn h(&self) {}\n}\n\
                    impl J for K {\n}\npub struct L {\n    pub m: u8,\n}\n";
        let found = items(text);
        let found: Vec<_> = found
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_eq!(
            found,
            [
                ("", "a::"),
                ("", "use(b::{C,D})"),
                ("", "f()"),
                ("G", "h()"),
                ("", "L")
            ]
        );
    }
}
