//! `cargo run -p xtask -- lines [COMMIT]`: lines of code outside tests by
//! crate, so that everybody counts alike.
//!
//! All tracked `.rs` files under a crate's `src`, without what is compiled for
//! tests only. `plain` counts every line, `code` those that are neither blank
//! nor all comment. The second pair of columns leaves generated files out.

use std::path::Path;

use anyhow::Result;

use crate::sources::{Source, bare, crates, of_crate};

/// Files that a fit writes.
const GENERATED: [&str; 3] = [
    "outlook/fitted.rs",
    "trial/logistic_fitted.rs",
    "logistic_fitted.rs",
];

#[derive(Clone, Copy, Default)]
struct Count {
    plain: usize,
    code: usize,
}

pub(crate) fn print(root: &Path, commit: Option<&str>) -> Result<()> {
    println!("crate               files    plain     code   written by hand: plain     code");
    let mut sum = [0; 5];
    for folder in &crates(root, commit)? {
        let sources = of_crate(root, folder, commit)?;
        if sources.is_empty() {
            continue;
        }
        let all = count(sources.iter());
        let is_by_hand = |source: &&Source| !GENERATED.contains(&source.path.as_str());
        let by_hand = count(sources.iter().filter(is_by_hand));
        let row = [
            sources.len(),
            all.plain,
            all.code,
            by_hand.plain,
            by_hand.code,
        ];
        print_row(folder, row);
        for (sum, one) in sum.iter_mut().zip(row) {
            *sum += one;
        }
    }
    print_row("all", sum);
    Ok(())
}

fn print_row(name: &str, [files, plain, code, hand_plain, hand_code]: [usize; 5]) {
    println!("{name:18} {files:6} {plain:8} {code:8} {hand_plain:24} {hand_code:8}");
}

fn count<'a>(sources: impl Iterator<Item = &'a Source>) -> Count {
    sources.fold(Count::default(), |count, source| Count {
        plain: count.plain + source.text.lines().count(),
        code: count.code + code(&source.text),
    })
}

/// Words in quotation marks are code, comments are none.
fn code(text: &str) -> usize {
    let bare = bare(text);
    let pairs = text.lines().zip(bare.lines());
    let is_code = |(line, bare): &(&str, &str)| {
        !bare.trim().is_empty() || !line.trim().is_empty() && !line.trim().starts_with("//")
    };
    pairs.filter(is_code).count()
}
