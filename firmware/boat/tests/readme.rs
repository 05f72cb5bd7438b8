//! The description of the format names every key that is read.

use cringle_boat::{example_text, parse};

const README: &str = include_str!("../README.md");

/// A file with every kind of table, each with a key that nobody knows: the
/// errors then list all known keys.
fn with_an_unknown_key_everywhere() -> String {
    let odd = "\nxyzzyxyzzy = 1\n";
    let mut text = format!("xyzzyxyzzy = 1\n{}", example_text());
    for header in [
        "[boat]",
        "[[port]]",
        "[instruments]",
        "[[plan]]",
        "[[setup]]",
        "[[rigged]]",
        "[[change]]",
        "[[at_once]]",
        "[crew]",
        "[calling]",
        "[start]",
        "[outputs]",
        "[outputs.true_wind_every_s]",
        "[recorder]",
    ] {
        assert!(text.contains(header), "{header}");
        text = text.replacen(&format!("{header}\n"), &format!("{header}{odd}"), 1);
    }
    text = text.replacen(
        "[[plan]]",
        &format!("[instruments.may_differ]\n{odd}\n[[plan]]"),
        1,
    );
    let watch_bill = [
        "[watch_bill]",
        "[[watch_bill.role]]",
        "[[watch_bill.turn]]",
        "[costs]",
    ];
    let watch_bill = watch_bill.map(|header| header.to_owned() + odd).concat();
    text + "[page]" + odd + "[[prefer]]" + odd + "[[forecast]]" + odd + &watch_bill
}

#[test]
fn every_key_that_is_read_is_described() {
    let problems =
        parse("dunlin.toml", &with_an_unknown_key_everywhere()).expect_err("unknown keys");
    let mut sections = 0;
    for problem in problems.iter() {
        let Some(known) = problem.mend.strip_prefix("known here: ") else {
            continue;
        };
        sections += 1;
        for key in known.split(", ") {
            let is_described =
                README.contains(&format!("`{key}`")) || README.contains(&format!("[{key}]"));
            assert!(is_described, "{}: {key}", problem.key);
        }
    }
    assert_eq!(sections, 23, "{problems}");
}
