//! The boat file with what was found in it: comments and order stay.

use anyhow::Context;
use toml_edit::{DocumentMut, Item, Table, value};

/// The text with these keys of `[instruments]` set.
pub(super) fn patched(text: &str, corrections: &[(&str, f64)]) -> anyhow::Result<String> {
    let mut document: DocumentMut = text.parse().context("the boat file is no TOML")?;
    let instruments = document
        .entry("instruments")
        .or_insert_with(|| Item::Table(Table::new()))
        .as_table_like_mut()
        .context("`instruments` is no table")?;
    for (key, corrected) in corrections {
        match instruments.get_mut(key).and_then(Item::as_value_mut) {
            Some(known) => {
                let decor = known.decor().clone();
                *known = (*corrected).into();
                *known.decor_mut() = decor;
            }
            None => {
                instruments.insert(key, value(*corrected));
            }
        }
    }
    Ok(document.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_order_stay() {
        let before = "# ours\n[instruments]\nlog_factor = 1.02 # by the mile\n\
                      vane_offset_deg = 0.0   # since the refit\n[crew]\n";
        let corrections = [("vane_offset_deg", -4.0)];
        let after = patched(before, &corrections).unwrap();
        assert_eq!(after, before.replace("0.0   #", "-4.0   #"));
        let none = patched("format = 1\n", &corrections).unwrap();
        assert!(
            none.contains("[instruments]\nvane_offset_deg = -4.0"),
            "{none}"
        );
    }
}
