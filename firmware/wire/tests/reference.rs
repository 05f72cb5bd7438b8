//! Our decoders beside pynmea2 on a generated corpus over all sentences that
//! it knows.
//!
//! `tests/reference/wire/make.py` generates the sentences and asks pynmea2;
//! its answers are kept in `answers.tsv` and compared here always. Where
//! Python with pynmea2 is at hand (`CRINGLE_PYTHON`, else `python3`), the
//! answers are made anew and must be those kept. `AGREEMENT.md` is written by
//! this test when `CRINGLE_WRITE_AGREEMENT` is set, and compared otherwise.

mod common;

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::PathBuf;
use std::process::Command;

use common::hear;

const ANSWERS: &str = include_str!("../../../tests/reference/wire/answers.tsv");
const AGREEMENT: &str = include_str!("../../../tests/reference/wire/AGREEMENT.md");
const VERSION: &str = "1.19.0";

/// Why the two differ, and who is right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Difference {
    OutOfRange,
    Mode,
    NavigationalStatus,
    Magnetic,
    GroundStatus,
}

impl Difference {
    const fn words(self) -> &'static str {
        match self {
            Difference::OutOfRange => {
                "pynmea2 hands on a value that the field cannot have (a direction \
                 outside 0 to 360, a negative speed, 512 kn). Ours is right: the \
                 standard gives the ranges"
            }
            Difference::Mode => {
                "pynmea2 takes VTG and GLL for valid whatever their mode, and RMC with \
                 mode E, M or S. For N ours is right by the standard; estimated, manual and \
                 simulated fixes are marked as such by it, and we choose not to use them"
            }
            Difference::NavigationalStatus => {
                "pynmea2 takes RMC for invalid where the navigational status (4.1) is V. \
                 Ours is right in practice: V there says that the receiver does not give \
                 that status, beside a good fix (from memory; receivers send it always)"
            }
            Difference::Magnetic => {
                "MWD by magnetic north alone: pynmea2 has no true direction, nor have we; \
                 we say why. No conflict"
            }
            Difference::GroundStatus => {
                "pynmea2 takes VBW for invalid when either status is V. Ours is right: the \
                 water speeds have a status of their own"
            }
        }
    }
}

struct Line<'a> {
    sentence: &'a str,
    formatter: &'a str,
    theirs: Vec<&'a str>,
    ours: Vec<String>,
}

fn lines() -> Vec<Line<'static>> {
    let read = |row: &'static str| {
        let (sentence, answer) = row.split_once('\t').unwrap();
        let address = sentence[1..].split(',').next().unwrap();
        Line {
            sentence,
            formatter: &address[address.len() - 3..],
            theirs: answer
                .split('|')
                .filter(|words| !words.is_empty())
                .collect(),
            ours: hear(sentence),
        }
    };
    ANSWERS.lines().map(read).collect()
}

impl Line<'_> {
    fn agrees(&self) -> bool {
        if self.theirs == ["not read by us"] {
            return self.ours.len() == 1 && self.ours[0].starts_with("unknown ");
        }
        let mut ours: Vec<&str> = self.ours.iter().map(String::as_str).collect();
        let mut theirs = self.theirs.clone();
        ours.sort_unstable();
        theirs.sort_unstable();
        ours.len() == theirs.len()
            && ours
                .iter()
                .zip(theirs)
                .all(|(ours, theirs)| same(ours, theirs))
    }

    fn difference(&self) -> Option<Difference> {
        let refused = |what: &str| self.ours.iter().any(|words| words.contains(what));
        let invalid = |said: &[&str]| said.iter().any(|words| words.ends_with("invalid"));
        let ours: Vec<&str> = self.ours.iter().map(String::as_str).collect();
        let fields: Vec<&str> = self.sentence.split(['*', ',']).collect();
        if refused("is outside what can be") {
            return Some(Difference::OutOfRange);
        }
        match self.formatter {
            "MWD" if refused("magnetic north only") => Some(Difference::Magnetic),
            "VBW" if invalid(&self.theirs) && fields[3] == "A" && fields[6] == "V" => {
                Some(Difference::GroundStatus)
            }
            "RMC" if invalid(&self.theirs) && fields[13] == "V" => {
                Some(Difference::NavigationalStatus)
            }
            "RMC" | "GLL" | "VTG" if invalid(&ours) => {
                let mode = fields[fields.len() - 2];
                ["N", "E", "M", "S"]
                    .contains(&mode)
                    .then_some(Difference::Mode)
            }
            _ => None,
        }
    }
}

/// The same words, and numbers within what four decimals and the `nmea` crate's
/// f32 leave.
fn same(ours: &str, theirs: &str) -> bool {
    let split = |words: &str| -> (Vec<String>, Vec<f64>) {
        let (numbers, names): (Vec<&str>, Vec<&str>) = words
            .split(' ')
            .partition(|word| word.parse::<f64>().is_ok());
        (
            names.into_iter().map(str::to_owned).collect(),
            numbers.iter().map(|word| word.parse().unwrap()).collect(),
        )
    };
    let (our_names, our_numbers) = split(ours);
    let (their_names, their_numbers) = split(theirs);
    let near = |(ours, theirs): (&f64, &f64)| (ours - theirs).abs() < 2e-4;
    our_names == their_names
        && our_numbers.len() == their_numbers.len()
        && our_numbers.iter().zip(&their_numbers).all(near)
}

fn table(lines: &[Line<'_>]) -> String {
    let mut types: BTreeMap<&str, [u32; 2]> = BTreeMap::new();
    let mut differences: BTreeMap<Difference, (u32, &str)> = BTreeMap::new();
    for line in lines {
        let counts = types.entry(line.formatter).or_default();
        if line.agrees() {
            counts[0] += 1;
        } else {
            counts[1] += 1;
            let difference = line.difference().unwrap_or_else(|| {
                panic!(
                    "{}\n  ours   {:?}\n  theirs {:?}",
                    line.sentence, line.ours, line.theirs
                )
            });
            differences
                .entry(difference)
                .or_insert((0, line.sentence))
                .0 += 1;
        }
    }
    let mut page = format!(
        "# Agreement with pynmea2 {VERSION}\n\n\
         Written by `firmware/wire/tests/reference.rs`; see there.\n\n\
         {} sentences over {} types. Types that pynmea2 knows and we do not read agree \
         when they are named as unknown and harm nothing.\n\n\
         | sentence | agree | differ |\n|---|---:|---:|\n",
        lines.len(),
        types.len(),
    );
    for (formatter, [agree, differ]) in &types {
        writeln!(page, "| {formatter} | {agree} | {differ} |").unwrap();
    }
    let [agree, differ] = types.values().fold([0, 0], |sum, counts| {
        [sum[0] + counts[0], sum[1] + counts[1]]
    });
    writeln!(page, "| all | {agree} | {differ} |\n\n## Differences\n").unwrap();
    for (difference, (count, example)) in &differences {
        writeln!(
            page,
            "- {count} times: {}. First: `{example}`",
            difference.words()
        )
        .unwrap();
    }
    page
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/wire")
}

#[test]
fn every_difference_is_explained() {
    let lines = lines();
    assert!(lines.len() >= 2000, "{}", lines.len());
    let page = table(&lines);
    if std::env::var_os("CRINGLE_WRITE_AGREEMENT").is_some() {
        std::fs::write(folder().join("AGREEMENT.md"), &page).unwrap();
    } else {
        assert_eq!(page, AGREEMENT);
    }
}

#[test]
fn the_kept_answers_are_pynmea2_s() {
    let python = std::env::var("CRINGLE_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let version = Command::new(&python)
        .args(["-c", "import pynmea2; print(pynmea2.__version__)"])
        .output();
    let found = version
        .map(|output| String::from_utf8_lossy(&output.stdout).trim().to_owned())
        .unwrap_or_default();
    if found != VERSION {
        println!("skipped: {python} has pynmea2 {found:?}, this test needs {VERSION}");
        return;
    }
    let made = Command::new(&python)
        .arg(folder().join("make.py"))
        .output()
        .unwrap();
    assert!(made.status.success());
    assert!(String::from_utf8(made.stdout).unwrap() == ANSWERS);
}
