//! No two files of a crate use each other, directly or around a corner.
//!
//! A file is a module. It uses another where it names it in a `use` or in a
//! path that begins with `crate`, `self`, `super`, one of its own modules or
//! something it has imported. A name that a module only hands on (`pub use`)
//! is looked for where it comes from. What calls a method sees is not seen.
//!
//! Today's circles are listed in `circles.txt`, which may only shrink.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use anyhow::{Result, bail};

use crate::snapshot;
use crate::sources::{Source, bare, crates, of_crate};
use crate::surface::module;

/// `["ladder", "time"]`; the crate itself is empty.
type Module = Vec<String>;

/// Names handed on by way of one another are followed so far.
const FOLLOWED: usize = 8;

pub(crate) fn check(root: &Path) -> Result<()> {
    let path = root.join("tests/xtask/circles.txt");
    let mut text = String::new();
    for folder in &crates(root, None)? {
        for circle in circles(&of_crate(root, folder, None)?) {
            text += &format!("{folder}: {}\n", circle.join(" "));
        }
    }
    let known = std::fs::read_to_string(&path).unwrap_or_default();
    let known: Vec<BTreeSet<&str>> = known.lines().map(words).collect();
    let is_new = |line: &&str| !known.iter().any(|known| words(line).is_subset(known));
    let new: Vec<&str> = text.lines().filter(is_new).collect();
    if !new.is_empty() {
        bail!("new circles, or wider ones:\n{}", new.join("\n"));
    }
    snapshot::compare(&path, &text)
}

fn words(line: &str) -> BTreeSet<&str> {
    line.split_whitespace().collect()
}

/// Groups of files of which each uses each other in the end.
fn circles(sources: &[Source]) -> Vec<Vec<String>> {
    let files = read(sources);
    let names: Vec<&Module> = files.keys().collect();
    let place = |module: &Module| names.iter().position(|it| *it == module);
    let mut reaches: Vec<Vec<bool>> = vec![vec![false; names.len()]; names.len()];
    for (from, file) in files.values().enumerate() {
        for to in file.uses.iter().filter_map(|path| target(&files, path)) {
            if let Some(to) = place(&to).filter(|to| *to != from) {
                reaches[from][to] = true;
            }
        }
    }
    for by in 0..names.len() {
        for from in 0..names.len() {
            if reaches[from][by] {
                let further = reaches[by].clone();
                let row = reaches[from].iter_mut().zip(further);
                row.for_each(|(reach, further)| *reach |= further);
            }
        }
    }
    let mut circles: Vec<Vec<String>> = Vec::new();
    for one in (0..names.len()).filter(|one| reaches[*one][*one]) {
        let is_with = |other: &usize| reaches[one][*other] && reaches[*other][one];
        let circle = (0..names.len()).filter(is_with).map(|it| word(names[it]));
        circles.push(circle.collect());
    }
    circles.sort();
    circles.dedup();
    circles
}

fn word(module: &Module) -> String {
    match module.as_slice() {
        [] => "crate".into(),
        names => names.join("::"),
    }
}

/// What a file names.
#[derive(Default)]
struct File {
    /// Paths from the crate on.
    uses: BTreeSet<Vec<String>>,
    /// What its names stand for.
    imports: BTreeMap<String, Vec<String>>,
}

fn read(sources: &[Source]) -> BTreeMap<Module, File> {
    let names = sources.iter().map(|source| path_of(&source.path));
    let modules: BTreeSet<Module> = names.collect();
    let files = sources.iter().map(|source| {
        let module = path_of(&source.path);
        let file = read_file(&bare(&source.text), &module, &modules);
        (module, file)
    });
    files.collect()
}

fn path_of(path: &str) -> Module {
    match module(path).as_str() {
        "crate" => Vec::new(),
        module => module.split("::").map(str::to_owned).collect(),
    }
}

fn read_file(text: &str, module: &Module, modules: &BTreeSet<Module>) -> File {
    let mut file = File::default();
    let mut rest = String::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        let words = line.trim_start();
        let is_handed_on = words.starts_with("pub");
        let visible = words.split_once("use ").filter(|(before, _)| {
            before.is_empty() || before.starts_with("pub") && before.trim_end().len() < 20
        });
        let Some((_, used)) = visible.filter(|(before, _)| !before.contains("fn")) else {
            rest += line;
            rest.push('\n');
            continue;
        };
        let mut used = used.to_owned();
        while !used.ends_with(';') {
            let Some(more) = lines.next() else { break };
            used += more.trim();
        }
        for (name, path) in tree(used.trim_end_matches(';')) {
            let Some(path) = from_crate(&path, module, modules, &BTreeMap::new()) else {
                continue;
            };
            if !is_handed_on && !modules.contains(&path) {
                file.uses.insert(path.clone());
            }
            file.imports.insert(name, path);
        }
    }
    let paths = paths(&rest).into_iter();
    let inside = paths.filter_map(|path| from_crate(&path, module, modules, &file.imports));
    file.uses.extend(inside);
    file
}

/// The paths of a `use`, each with the name it gets.
fn tree(text: &str) -> Vec<(String, Vec<String>)> {
    let text = text.trim();
    let Some((before, inner)) = text.split_once('{') else {
        let (path, name) = text.split_once(" as ").unwrap_or((text, ""));
        let mut path: Vec<String> = path.split("::").map(|it| it.trim().to_owned()).collect();
        if path.len() > 1 && path.last().is_some_and(|last| last == "self") {
            path.pop();
        }
        let name = match name.trim() {
            "" => path.last().cloned().unwrap_or_default(),
            name => name.to_owned(),
        };
        return vec![(name, path)];
    };
    let inner = inner.rsplit_once('}').map_or(inner, |(inner, _)| inner);
    let mut depth = 0;
    let parts = inner.split(|letter| {
        depth += i32::from(letter == '{') - i32::from(letter == '}');
        letter == ',' && depth == 0
    });
    let parts = parts.filter(|part| !part.trim().is_empty());
    parts
        .flat_map(|part| tree(&format!("{before}{}", part.trim())))
        .collect()
}

/// Every path of more than one name.
fn paths(text: &str) -> Vec<Vec<String>> {
    let is_in_path = |letter: char| letter.is_alphanumeric() || matches!(letter, '_' | ':');
    text.split(|letter| !is_in_path(letter))
        .filter(|word| word.contains("::") && !word.starts_with(':'))
        .map(|word| word.split("::").map(|it| it.trim_matches(':').to_owned()))
        .map(|names| names.filter(|name| !name.is_empty()).collect())
        .collect()
}

/// A path as the crate would write it; `None` for one that leads out of it.
fn from_crate(
    path: &[String],
    module: &Module,
    modules: &BTreeSet<Module>,
    imports: &BTreeMap<String, Vec<String>>,
) -> Option<Vec<String>> {
    let (first, rest) = path.split_first()?;
    let mut whole = match first.as_str() {
        "crate" => Vec::new(),
        "self" => module.clone(),
        "super" => {
            let parent = module.split_last()?.1.to_vec();
            if rest.first().is_some_and(|next| next == "super") {
                return from_crate(rest, &parent, modules, imports);
            }
            parent
        }
        name => {
            let mut own = module.clone();
            own.push(name.to_owned());
            match imports.get(name) {
                Some(import) => import.clone(),
                None if modules.contains(&own) => own,
                None => return None,
            }
        }
    };
    whole.extend_from_slice(rest);
    Some(whole)
}

/// The file in which what a path names is written.
fn target(files: &BTreeMap<Module, File>, path: &[String]) -> Option<Module> {
    let mut path = path.to_vec();
    for _ in 0..FOLLOWED {
        let length = (0..=path.len())
            .rev()
            .find(|length| files.contains_key(&path[..*length]))?;
        let module = path[..length].to_vec();
        let handed_on = path
            .get(length)
            .and_then(|name| files[&module].imports.get(name));
        let Some(import) = handed_on else {
            return Some(module);
        };
        path = import.iter().chain(&path[length + 1..]).cloned().collect();
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(files: &[(&str, &str)]) -> Vec<Vec<String>> {
        let source = |(path, text): &(&str, &str)| Source {
            path: (*path).into(),
            text: (*text).into(),
        };
        circles(&files.iter().map(source).collect::<Vec<_>>())
    }

    #[test]
    fn files_that_use_each_other_are_found_however_they_name_each_other() {
        for (one, other) in [
            ("use crate::b::B;", "use crate::a::A;"),
            (
                "use crate::{b::{C, B}};",
                "use super::a;\nfn f() { a::g() }",
            ),
            (
                "fn f() { crate::b::g(); }",
                "pub(crate) fn f(a: super::a::A) {}",
            ),
        ] {
            let found = of(&[("lib.rs", "mod a;\nmod b;"), ("a.rs", one), ("b.rs", other)]);
            assert_eq!(found, [["a", "b"]], "{one} {other}");
        }
    }

    #[test]
    fn a_name_that_is_handed_on_is_used_where_it_is_written() {
        let child = ("a/b.rs", "use super::C;\nuse crate::a::c::D;");
        let hands_on = ("a/mod.rs", "mod b;\nmod c;\npub use b::B;\npub use c::C;");
        let found = of(&[("lib.rs", "mod a;"), hands_on, child, ("a/c.rs", "")]);
        assert_eq!(found, [[""; 0]; 0]);
        let uses = ("a/mod.rs", "mod b;\nstruct C;\nfn f() { b::g() }");
        let found = of(&[("lib.rs", "mod a;"), uses, child, ("a/c.rs", "")]);
        assert_eq!(found, [["a", "a::b"]]);
    }

    #[test]
    fn three_in_a_ring_are_one_circle() {
        let found = of(&[
            ("lib.rs", ""),
            ("a.rs", "use crate::b::B;"),
            ("b.rs", "use crate::c::C;"),
            ("c.rs", "use crate::a::A;"),
            ("d.rs", "use crate::a::A;"),
        ]);
        assert_eq!(found, [["a", "b", "c"]]);
    }
}
