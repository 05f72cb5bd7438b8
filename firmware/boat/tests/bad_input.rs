//! A wrong boat file: every error at once, each with file, line, key, what is
//! wrong and how to mend it. And no file, however mangled, makes a panic.

use cringle_boat::{Problems, example_text, parse};

/// The example boat with one piece of text put in place of another.
fn changed(from: &str, to: &str) -> String {
    let text = example_text();
    assert!(text.contains(from), "the example boat has no {from:?}");
    text.replacen(from, to, 1)
}

fn problems(text: &str) -> Problems {
    parse("dunlin.toml", text).expect_err("this file is wrong")
}

fn line_of(text: &str, piece: &str) -> usize {
    let before = text.split(piece).next().unwrap_or_default();
    before.lines().count() + usize::from(before.ends_with('\n') || before.is_empty())
}

/// The file is wrong in one way, said in these words.
#[track_caller]
fn wrong(from: &str, to: &str, key: &str, what: &str, mend: &str) {
    let text = changed(from, to);
    let problems = problems(&text);
    let all = problems.to_string();
    assert_eq!(problems.count(), 1, "{all}");
    let problem = problems.iter().next().expect("one");
    assert_eq!(problem.key, key, "{all}");
    assert!(problem.what.contains(what), "{all}");
    assert!(problem.mend.contains(mend), "{all}");
    assert_eq!(problem.file, "dunlin.toml");
}

#[test]
fn all_errors_come_at_once_in_the_order_of_their_lines() {
    let text = changed("area_m2 = 71", "area_m2 = \"big\"")
        .replace("night_factor = 1.4", "nihgt_factor = 1.4")
        .replace("to = \"trysail\"", "to = \"tysail\"")
        .replace("baud=4800", "baud=quick");
    let problems = problems(&text);
    let keys: Vec<&str> = problems.iter().map(|p| p.key.as_str()).collect();
    assert_eq!(
        keys,
        [
            "port[1].port",
            "plan[2].area_m2",
            "change[8].to",
            "crew.nihgt_factor"
        ],
        "{problems}"
    );
    for (problem, piece) in problems.iter().zip([
        "baud=quick",
        "area_m2 = \"big\"",
        "to = \"tysail\"",
        "nihgt_factor",
    ]) {
        let line = text.lines().position(|line| line.contains(piece));
        assert_eq!(Some(problem.line), line.map(|n| n + 1), "{problem}");
    }
}

#[test]
fn an_error_reads_as_one_line_a_person_can_act_on() {
    let text = changed("night_factor = 1.4", "nihgt_factor = 1.4");
    let line = line_of(&text, "nihgt_factor");
    assert_eq!(
        problems(&text).to_string(),
        format!(
            "dunlin.toml:{line}: crew.nihgt_factor: is not a known key; did you mean `night_factor`?"
        )
    );
}

#[test]
fn each_kind_of_error_says_what_and_how_to_mend_it() {
    wrong(
        "format = 1",
        "format = 2",
        "format",
        "newer than this program",
        "newer program",
    );
    wrong(
        "format = 1",
        "format = 0",
        "format",
        "never was",
        "format = 1",
    );
    wrong("format = 1\n", "\n", "format", "is missing", "format = 1");
    wrong(
        "name = \"Dunlin\"",
        "",
        "boat.name",
        "is missing",
        "her name",
    );
    wrong(
        "area_m2 = 80",
        "area_m2 = -3",
        "plan[1].area_m2",
        "cannot be",
        "0 to 2000",
    );
    wrong(
        "area_m2 = 80",
        "area_m2 = nan",
        "plan[1].area_m2",
        "is the number nan",
        "a number",
    );
    wrong(
        "on_deck = 2",
        "on_deck = 2.5",
        "start.on_deck",
        "number 2.5",
        "whole number",
    );
    wrong(
        "helm = \"pilot\"",
        "helm = \"pilt\"",
        "start.helm",
        "not known",
        "\"pilot\"",
    );
    wrong(
        "minutes = { 4 = 22, 6 = 13 }",
        "minutes = { four = 22 }",
        "change[8].minutes.four",
        "not a number of hands",
        "{ 2 = 8",
    );
    wrong(
        "checksum = \"required\"",
        "checksum = true",
        "port[1].checksum",
        "is true",
        "\"required\"",
    );
    wrong(
        "sea_factors = [1.0, 1.0,",
        "sea_factors = [1.0, 1.2, 1.0,",
        "crew.sea_factors",
        "6 numbers",
        "five",
    );
    wrong(
        "wind_confirmed = false",
        "wind_confirmed = \"no\"",
        "instruments.wind_confirmed",
        "\"no\"",
        "without quotes",
    );
    wrong(
        "wind_confirmed = false",
        "wind_confirmed = false\nmay_differ = { wind_deg = 200 }",
        "instruments.may_differ.wind_deg",
        "is 200",
        "0.9 to 90",
    );
    wrong(
        "wind_confirmed = false",
        "wind_confirmed = false\nwind_damping_s = -2",
        "instruments.wind_damping_s",
        "is -2",
        "0 to 30",
    );
    wrong(
        "alternative_to = \"4 reefs\"",
        "alternative_to = \"trysail\"",
        "plan[7].alternative_to",
        "itself",
        "other plan",
    );
    wrong(
        "MWD = 1.0",
        "MWX = 1.0",
        "outputs.true_wind_every_s.MWX",
        "not a known key",
        "MW",
    );
}

#[test]
fn broken_toml_is_one_error_on_its_line() {
    let text = changed("on_deck = 2", "on_deck = = 2");
    let problems = problems(&text);
    let line = line_of(&text, "on_deck = =");
    assert!(problems.iter().any(|p| p.line == line), "{problems}");
    assert!(
        problems.iter().all(|p| !p.what.contains("is missing")),
        "{problems}"
    );
}

#[test]
fn an_empty_file_asks_for_all_that_is_needed() {
    let problems = problems("");
    let keys: Vec<&str> = problems.iter().map(|p| p.key.as_str()).collect();
    assert_eq!(keys, ["format", "boat", "plan", "change", "start"]);
}

#[test]
fn a_heel_limit_on_a_boat_of_several_hulls_is_refused() {
    let text = changed("name = \"Dunlin\"", "name = \"Dunlin\"\nhulls = 2");
    let problems = problems(&text);
    // One for each plan that has one.
    assert_eq!(problems.count(), 8, "{problems}");
    for problem in problems.iter() {
        assert!(problem.key.ends_with(".heel_deg"), "{problem}");
    }
}

#[test]
fn text_that_breaks_lines_is_told_on_one() {
    let text = changed("area_m2 = 80", "area_m2 = \"\"\"eighty\nor so\"\"\"");
    let told = problems(&text).to_string();
    assert_eq!(told.lines().count(), 1, "{told}");
}

#[test]
fn two_plans_of_one_short_name_are_refused() {
    let text = changed("short = \"1 reef\"", "short = \"full\"");
    let told = problems(&text).to_string();
    let expected = "plan[2].short: \"full\" is there twice; give each plan its own short name";
    assert!(told.contains(expected), "{told}");
}

#[test]
fn a_file_that_is_no_text_says_on_which_line() {
    let mut bytes = b"format = 1\n# caf".to_vec();
    bytes.extend([0xe9, b'\n']);
    let problems = cringle_boat::parse_bytes("dunlin.toml", &bytes).expect_err("no text");
    assert_eq!(
        problems.to_string(),
        "dunlin.toml:2: holds a byte that is not UTF-8 text; save the file as UTF-8"
    );
}

#[test]
fn line_ends_and_marks_of_other_systems_do_no_harm() {
    let text = example_text().replace('\n', "\r\n");
    assert!(parse("dunlin.toml", &text).is_ok());
    let marked = format!("\u{feff}{}", example_text());
    assert!(parse("dunlin.toml", &marked).is_ok());
}

/// A bracket left open once brought an error for every line down to the end.
#[test]
fn a_bracket_left_open_is_one_error_and_hides_no_other() {
    let text = changed("heel_deg = 22", "heel_deg = [22")
        .replacen("name = \"pole\"", "name = \"pole", 1)
        .replacen("on_deck = 2", "on_dek = 2", 1);
    let problems = problems(&text);
    let told: Vec<(usize, &str)> = problems.iter().map(|p| (p.line, p.key.as_str())).collect();
    let line = |piece: &str| 1 + text.lines().position(|l| l == piece).expect("a line");
    assert_eq!(
        told,
        [
            (line("heel_deg = [22"), ""),
            (line("name = \"pole"), ""),
            (line("on_dek = 2"), "start.on_dek"),
        ],
        "{problems}"
    );
}

#[test]
fn a_key_that_is_too_easy_is_refused_and_not_repeated() {
    for weak in ["reef", "two words here", "quote\\\"quote"] {
        let text = format!("{}\n[page]\nkey = \"{weak}\"\n", example_text());
        let told = problems(&text).to_string();
        assert!(
            told.contains("page.key") && told.contains("8 to 64"),
            "{told}"
        );
        assert!(!told.contains(weak), "{told}");
    }
}

#[test]
fn a_page_without_an_address_is_for_this_computer_alone() {
    let page = |more: &str| parse("dunlin.toml", &format!("{}\n{more}", example_text()));
    let listen = page("[page]\n").expect("in order").page.listen;
    assert!(listen.is_some_and(|at| at.ip().is_loopback()));
    assert_eq!(page("").expect("in order").page.listen, None);
}

#[test]
fn a_decimal_comma_and_a_foreign_unit_are_named_as_such() {
    wrong(
        "mean_kn = 14,",
        "mean_kn = 14,5,",
        "",
        "\"14,5\" has a comma where the decimal point goes",
        "write 14.5",
    );
    wrong(
        "mean_kn = ",
        "mean_ms = ",
        "plan[1].close_hauled.mean_ms",
        "not a known key",
        "give it in knots as `mean_kn`: 1 ms is 1.944 kn",
    );
}

#[test]
fn a_name_too_long_by_its_accents_says_that_bytes_are_counted() {
    wrong(
        "name = \"Dunlin\"",
        "name = \"ééééééééééééééééé\"",
        "boat.name",
        "34 bytes long (a letter with an accent takes 2)",
        "32 bytes",
    );
}

/// A change to a plan that is not there once hid the other slips in it.
#[test]
fn a_wrong_end_of_a_change_hides_no_unknown_key() {
    let text = changed("to = \"trysail\"", "to = \"tysail\"\ncomes_upp = false");
    let problems = problems(&text);
    let keys: Vec<&str> = problems.iter().map(|p| p.key.as_str()).collect();
    assert_eq!(keys, ["change[8].to", "change[8].comes_upp"], "{problems}");
}
