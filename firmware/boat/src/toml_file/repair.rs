//! Broken TOML: one error for each broken line, and the rest still read.
//!
//! A TOML reader that goes on after an error takes what follows an unclosed
//! bracket for its contents, and reports every line down to the end of the
//! file. So a broken file is taken section by section: the lines that break a
//! section are blanked out (their length stays, so that places in the text
//! stay), and what is left is one clean document.

use std::ops::Range;

use toml::de::DeTable;

/// Most broken lines that are told: a file with more is no boat file.
const MOST_BROKEN: usize = 30;
/// Most lines of a section in which the culprit is looked for.
const MOST_LINES: usize = 150;

/// What was done about a broken text.
pub(super) struct Repaired {
    /// The text with broken lines blanked.
    pub(super) text: String,
    /// What was wrong where, and how to mend it; never empty.
    pub(super) broken: Vec<(Range<usize>, String, String)>,
}

/// Blanks what is broken; `None` for a text that is in order.
pub(super) fn repaired(text: &str) -> Option<Repaired> {
    DeTable::parse(text).err()?;
    let mut repaired = Repaired {
        text: text.to_owned(),
        broken: Vec::new(),
    };
    for section in sections(text) {
        repaired.mend_section(text, section);
    }
    if let Err(error) = DeTable::parse(&repaired.text) {
        // Sections that are right alone but not together: one is there twice.
        repaired.blame(error.span().unwrap_or(0..0), &error);
    }
    Some(repaired)
}

impl Repaired {
    fn mend_section(&mut self, text: &str, section: Range<usize>) {
        let lines = lines(text, section.clone());
        for _ in &lines {
            let Err(error) = DeTable::parse(&self.text[section.clone()]) else {
                return;
            };
            let at = error.span().map_or(0, |span| span.start) + section.start;
            if lines.len() > MOST_LINES || self.broken.len() >= MOST_BROKEN {
                if self.broken.len() < MOST_BROKEN {
                    self.blame(at..at, &error);
                }
                self.blank(section);
                return;
            }
            let (line, error) = self.culprit(&lines, &section, at, error);
            self.blame(line.clone(), &error);
            let is_header = line.start == section.start && is_header(&text[line.clone()]);
            // Without its header a section's keys would fall to the one before.
            self.blank(if is_header { section.clone() } else { line });
        }
    }

    /// The line to blame: the one without which the section is right; else
    /// the first broken by itself, up to where reading stopped; else that.
    fn culprit(
        &self,
        lines: &[Range<usize>],
        section: &Range<usize>,
        stopped: usize,
        error: toml::de::Error,
    ) -> (Range<usize>, toml::de::Error) {
        let alone = |line: &Range<usize>| DeTable::parse(&self.text[line.clone()]).err();
        let mut first = None;
        for line in lines {
            let Some(own) = alone(line) else { continue };
            let without = [
                &self.text[section.start..line.start],
                &self.text[line.end..section.end],
            ]
            .concat();
            if DeTable::parse(&without).is_ok() {
                return (line.clone(), own);
            }
            if first.is_none() && line.start <= stopped {
                first = Some((line.clone(), own));
            }
        }
        first.unwrap_or_else(|| {
            let here = lines.iter().rfind(|line| line.start <= stopped);
            (here.cloned().unwrap_or(section.clone()), error)
        })
    }

    fn blame(&mut self, at: Range<usize>, error: &toml::de::Error) {
        let line = self.text.get(at.clone()).unwrap_or_default();
        let (what, mend) = match decimal_comma(line) {
            Some((written, meant)) => (
                format!("\"{written}\" has a comma where the decimal point goes"),
                format!("write {meant}"),
            ),
            None => (
                error.message().to_owned(),
                "correct the TOML on this line".to_owned(),
            ),
        };
        self.broken.push((at, what, mend));
    }

    fn blank(&mut self, range: Range<usize>) {
        let blanks: String = self.text[range.clone()]
            .chars()
            .map(|c| {
                if c == '\n' {
                    "\n".into()
                } else {
                    " ".repeat(c.len_utf8())
                }
            })
            .collect();
        self.text.replace_range(range, &blanks);
    }
}

/// `14,5` as a value on a line, and how TOML has it.
fn decimal_comma(line: &str) -> Option<(String, String)> {
    line.match_indices('=').find_map(|(at, _)| {
        let value = line.get(at + 1..)?.trim_start();
        let (whole, rest) = value.split_once(',')?;
        let digits = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit()).len();
        let (part, after) = rest.split_at(digits);
        // In `{ 2 = 8,3 = 5 }` the comma parts two entries.
        let ends = matches!(
            after.trim_start().chars().next(),
            None | Some(',' | '}' | '#')
        );
        let is_number = whole.parse::<i64>().is_ok() && digits > 0 && ends;
        is_number.then(|| (format!("{whole},{part}"), format!("{whole}.{part}")))
    })
}

/// Where each section of the text stands: from a header to the next.
fn sections(text: &str) -> Vec<Range<usize>> {
    let lines = lines(text, 0..text.len());
    let headers = lines
        .iter()
        .filter(|line| is_header(&text[(*line).clone()]));
    let mut starts: Vec<usize> = vec![0];
    starts.extend(headers.map(|line| line.start).filter(|start| *start > 0));
    let ends = starts.iter().skip(1).copied().chain([text.len()]);
    starts.iter().zip(ends).map(|(s, e)| *s..e).collect()
}

/// `[crew]`, `[[plan]]`, and what was meant to be: a row of a table of numbers
/// begins with no letter.
fn is_header(line: &str) -> bool {
    let Some(rest) = line.strip_prefix('[') else {
        return false;
    };
    let name = rest.strip_prefix('[').unwrap_or(rest);
    name.trim_start()
        .starts_with(|c: char| c.is_ascii_alphabetic())
}

/// Lines with their ends.
fn lines(text: &str, within: Range<usize>) -> Vec<Range<usize>> {
    let mut start = within.start;
    text[within]
        .split_inclusive('\n')
        .map(|line| {
            let range = start..start + line.len();
            start = range.end;
            range
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn broken_lines(text: &str) -> Vec<usize> {
        let repaired = repaired(text).expect("it is broken");
        assert_eq!(repaired.text.len(), text.len());
        let line = |at: usize| text[..at].matches('\n').count() + 1;
        repaired
            .broken
            .iter()
            .map(|(at, ..)| line(at.start))
            .collect()
    }

    #[test]
    fn an_unclosed_bracket_is_one_error_on_its_own_line() {
        assert_eq!(broken_lines("a = 1\nb = [2\nc = 3\n[d]\ne = 4\n"), [2]);
        assert_eq!(
            broken_lines("a = 1\n[[b]]\nc = { d = 1\ne = 2\n[[b]]\nf = 3"),
            [3]
        );
    }

    #[test]
    fn every_broken_line_is_told() {
        assert_eq!(
            broken_lines("a = \"x\nb = = 2\n[c]\nd = 'y\ne = 1"),
            [1, 2, 4]
        );
    }

    #[test]
    fn lists_over_several_lines_are_not_blamed() {
        let text = "a = [\n  [0, 1],\n  [2, 3],\n]\nb = nought\nc = 1\n";
        assert_eq!(broken_lines(text), [5]);
    }

    #[test]
    fn a_broken_header_takes_its_section_with_it() {
        let text = "[[a]]\nb = 1\n[[a]\nb = 2\n[c]\nd = 3\n";
        assert_eq!(broken_lines(text), [3]);
        let repaired = repaired(text).expect("broken");
        assert!(!repaired.text.contains("b = 2"));
        assert!(repaired.text.contains("d = 3"));
    }

    #[test]
    fn what_is_there_twice_is_told() {
        assert_eq!(broken_lines("a = 1\na = 2\n"), [2]);
        assert_eq!(broken_lines("[a]\nb = 1\n[c]\n[a]\nb = 2\n").len(), 1);
    }

    #[test]
    fn a_recording_given_for_a_boat_file_is_told_soon() {
        let line = "$WIMWV,041.1,R,14.0,N,A*1A\n";
        assert_eq!(broken_lines(&line.repeat(20_000)), [1]);
        let sections = "[[a]]\nb = = 1\n".repeat(5000);
        assert_eq!(broken_lines(&sections).len(), MOST_BROKEN);
    }

    #[test]
    fn a_decimal_comma_is_told_as_one() {
        let told = |text: &str| {
            let mut broken = repaired(text).expect("broken").broken.into_iter();
            broken.next().map(|(_, what, mend)| (what, mend))
        };
        let (what, mend) = told("a = 1\nmean_kn = 14,5 # upwind\nb = 2\n").expect("told");
        assert_eq!(what, "\"14,5\" has a comma where the decimal point goes");
        assert_eq!(mend, "write 14.5");
        let (what, _) = told("a = { b = 14,5, c = 19 }\n").expect("told");
        assert_eq!(what, "\"14,5\" has a comma where the decimal point goes");
        for other in ["a = 14,\n", "a = { 2 = 8,3 = 5\n", "a = \n"] {
            let (what, _) = told(other).expect("told");
            assert!(!what.contains("decimal point"), "{what}");
        }
    }

    #[test]
    fn a_text_in_order_needs_nothing() {
        assert!(repaired("a = \"\"\"\n[b\n\"\"\"\n").is_none());
    }
}
