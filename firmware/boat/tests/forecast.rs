//! The skipper's forecast: in the boat file, in a file of its own, in a line.

use cringle_boat::{example_text, parse, parse_forecast, read_forecast, write_forecast};
use cringle_core::forecast::{Current, Sure};

const TABLE: &str = r#"
[[forecast]]
time = 2026-11-08T12:00:00Z
wind_kn = 18
gust_kn = 25
from_deg = 210
sure = 0.8

[[forecast]]
time = "2026-11-08T18:00Z"
wind_kn = 30.5
from_deg = 280
spread_kn = 5
current_kn = 1.5
current_to_deg = 90
"#;

const LINE: &str = "2026-11-08T12:00Z 18 gust 25 from 210 sure 0.8; \
                    2026-11-08T18:00Z 30.5 from 280 spread 5 current 1.5 to 90";

#[test]
fn file_boat_file_and_line_say_the_same() {
    let by_file = parse_forecast("f.toml", TABLE)
        .expect("in order")
        .expect("rows");
    let boat = parse("dunlin.toml", &(example_text().to_owned() + TABLE)).expect("in order");
    let by_line = read_forecast(LINE).expect("in order");
    assert_eq!(boat.boat.forecast.as_ref(), Some(&by_file));
    assert_eq!(by_line, by_file);
    assert_eq!(write_forecast(&by_line), LINE);
    let [first, second] = by_line.rows() else {
        panic!("two rows");
    };
    assert_eq!(first.sure, Sure::Share(0.8));
    assert_eq!(second.unix_s - first.unix_s, 6 * 3600);
    assert!(matches!(second.current, Some(Current { to_deg: 90.0, .. })));
}

#[test]
fn a_boat_file_without_one_is_in_order() {
    let boat = parse("dunlin.toml", example_text()).expect("in order");
    assert_eq!(boat.boat.forecast, None);
    assert_eq!(parse_forecast("f.toml", ""), Ok(None));
}

#[test]
fn each_wrong_row_is_named_with_its_line_and_how_to_mend_it() {
    let text = r#"[[forecast]]
time = 2026-11-08T12:00:00
wind_kn = 18
[[forecast]]
wind_kn = 200
sure = 0.5
spread_kn = 3
[[forecast]]
time = 2026-11-08T12:00:00Z
wind = 18
[[forecast]]
time = 2026-11-08T12:00:00Z
wind_kn = 18
current_kn = 2
"#;
    let problems = parse_forecast("f.toml", text).expect_err("wrong");
    let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
    for (line, words) in [
        (2, "no moment of UTC"),
        (4, "forecast[2].time: is missing"),
        (5, "which cannot be"),
        (4, "stands beside `sure`"),
        (8, "forecast[3].wind_kn: is missing"),
        (10, "known here: time, wind_kn"),
        (11, "current_to_deg: is missing"),
    ] {
        let start = format!("f.toml:{line}:");
        assert!(
            told.iter()
                .any(|it| it.starts_with(&start) && it.contains(words)),
            "{words}: {told:#?}"
        );
    }
}

#[test]
fn rows_in_the_wrong_order_and_too_many_are_told() {
    let row = |hour: usize| {
        format!(
            "[[forecast]]\ntime = 2026-11-{:02}T{:02}:00:00Z\nwind_kn = 9\n",
            8 + hour / 24,
            hour % 24
        )
    };
    let back = parse_forecast("f.toml", &(row(5) + &row(4))).expect_err("wrong");
    assert!(
        back.to_string()
            .contains("f.toml:4: forecast[2]: is not later"),
        "{back}"
    );
    let many: String = (0..25).map(row).collect();
    let many = parse_forecast("f.toml", &many).expect_err("wrong");
    assert!(many.to_string().contains("makes 25 rows"), "{many}");
}

#[test]
fn a_line_that_is_wrong_says_what_it_takes() {
    for (line, words) in [
        ("", "without rows"),
        ("12:00 20", "no moment of UTC"),
        ("2026-11-08T12:00Z", "no wind"),
        ("2026-11-08T12:00Z 20 gusts 30", "cannot use \"gusts\""),
        ("2026-11-08T12:00Z 20 current 2", "cannot use \"current\""),
        ("2026-11-08T12:00Z 20 sure 7", "sureness from 0 to 1"),
        ("2026-11-08T12:00Z 20 gust 10", "gusts no less"),
    ] {
        let told = read_forecast(line).expect_err(line);
        assert!(told.contains(words), "{line}: {told}");
    }
}
