//! However a boat file is mangled: no panic, and every error points into the
//! file and says what and how to mend it.

use cringle_boat::ports::PortSpec;
use cringle_boat::{TEMPLATES, example_text, judge, parse};

/// Files tried of each kind. A few seconds in all.
const TRIES: usize = 500;

/// Seeded noise (xorshift), so that a failure can be met again.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, most: usize) -> usize {
        (self.next() % most.max(1) as u64) as usize
    }

    fn pick<'p>(&mut self, from: &[&'p str]) -> &'p str {
        from[self.below(from.len())]
    }
}

/// Values that a hurried hand or a wrong editor might leave.
const ODD_VALUES: &[&str] = &[
    "",
    "nan",
    "-inf",
    "inf",
    "-1",
    "0",
    "-0.0",
    "1e308",
    "1e-308",
    "99999999999999999999999",
    "0x7fffffffffffffff",
    "-9223372036854775808",
    "0b1",
    "0o17",
    "1_000",
    "true",
    "\"\"",
    "\"\\u0000\"",
    "\"é̈ナ\"",
    "\"a\\nb\"",
    "'''x\ny'''",
    "[]",
    "[[]]",
    "[1, [2, 3], {}]",
    "{}",
    "{ 2 = 3 }",
    "{ a = { b = { c = 1 } } }",
    "1979-05-27T07:32:00Z",
    "07:32:00",
    "[1,",
    "{ 2 = ",
    "\"",
    "\"full\"",
    "\"3 reefs\"",
    "[[0, 1], [90, 2]]",
    "[[90, 1], [0, 2]]",
];

fn with_odd_value(text: &str, noise: &mut Noise) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for _ in 0..1 + noise.below(3) {
        let place = noise.below(lines.len());
        let odd = noise.pick(ODD_VALUES);
        if let Some((key, _)) = lines[place].clone().split_once('=') {
            lines[place] = format!("{key}= {odd}");
        }
    }
    lines.join("\n")
}

fn with_lines_moved(text: &str, noise: &mut Noise) -> String {
    let mut lines: Vec<&str> = text.lines().collect();
    for _ in 0..1 + noise.below(6) {
        let (a, b) = (noise.below(lines.len()), noise.below(lines.len()));
        match noise.below(3) {
            0 => lines.swap(a, b),
            1 => lines.insert(a, lines[b]),
            _ => drop(lines.remove(a)),
        }
    }
    lines.join("\n")
}

fn with_letters_changed(text: &str, noise: &mut Noise) -> String {
    let mut letters: Vec<char> = text.chars().collect();
    for _ in 0..1 + noise.below(8) {
        let place = noise.below(letters.len());
        if letters.is_empty() {
            break;
        }
        match noise.below(3) {
            0 => letters[place] = char::from(noise.below(128) as u8),
            1 => letters.insert(
                place,
                ['"', '[', '{', '=', '\n', '.', 'é', '\u{feff}'][noise.below(8)],
            ),
            _ => drop(letters.remove(place)),
        }
    }
    letters.truncate(letters.len() - noise.below(letters.len() / 4));
    letters.into_iter().collect()
}

/// What came of one file: read, or refused with sensible errors.
#[track_caller]
fn try_file(text: &str) -> bool {
    match parse("mangled.toml", text) {
        Ok(file) => {
            for remark in judge(&file) {
                assert!(remark.line >= 1 && remark.line <= text.lines().count().max(1));
                assert!(!remark.what.is_empty() && !remark.mend.is_empty());
            }
            true
        }
        Err(problems) => {
            assert!(problems.count() > 0, "refused for nothing:\n{text}");
            for problem in problems.iter() {
                let last = text.lines().count() + 1;
                assert!(problem.line >= 1 && problem.line <= last, "{problem}");
                assert!(!problem.what.is_empty() && !problem.mend.is_empty());
                assert!(!problem.to_string().contains('\n'), "{problem}");
            }
            false
        }
    }
}

#[test]
fn no_mangled_file_panics_and_every_refusal_says_why() {
    let mut noise = Noise(0x5eed_c419_1e00_0001);
    let mut texts = vec![example_text()];
    texts.extend(TEMPLATES.iter().map(|template| template.text));
    let (mut read, mut refused) = (0, 0);
    for _ in 0..TRIES {
        let text = texts[noise.below(texts.len())];
        for mangled in [
            with_odd_value(text, &mut noise),
            with_lines_moved(text, &mut noise),
            with_letters_changed(text, &mut noise),
        ] {
            if try_file(&mangled) {
                read += 1;
            } else {
                refused += 1;
            }
        }
    }
    println!("{read} read, {refused} refused");
    // Neither all right nor all wrong, else this would try nothing.
    assert!(read > TRIES / 20 && refused > TRIES, "{read} {refused}");
}

#[test]
fn no_mangled_port_panics() {
    let mut noise = Noise(0x5eed_c419_1e00_0002);
    for _ in 0..20_000 {
        let word = noise.pick(&[
            "wind=serial:/dev/ttyUSB0?baud=4800",
            "udp:[::1]:2000",
            "tcp:host:1",
            "serve-tcp::80",
            "-",
        ]);
        let mangled = with_letters_changed(&format!("{word}{word}"), &mut noise);
        if let Ok(port) = mangled.parse::<PortSpec>() {
            assert!(!port.name.is_empty());
        }
    }
}
