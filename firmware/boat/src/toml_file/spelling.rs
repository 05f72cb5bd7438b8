//! What somebody is likely to have meant by a word that is not known.

/// A unit that is read, and others that are often given in its place.
struct Unit {
    /// The ending of a key.
    ending: &'static str,
    /// In words.
    name: &'static str,
    /// Endings of other units, with how many of ours one of them is.
    others: &'static [(&'static str, f64)],
}

const fn unit(
    ending: &'static str,
    name: &'static str,
    others: &'static [(&'static str, f64)],
) -> Unit {
    Unit {
        ending,
        name,
        others,
    }
}

/// By definition: international nautical mile 1852 m, mile 1609.344 m, foot
/// 0.3048 m; inch of mercury 33.8639 hPa (US Standard Atmosphere, from memory).
const UNITS: &[Unit] = &[
    unit(
        "kn",
        "knots",
        &[("ms", 1.944), ("mps", 1.944), ("kmh", 0.54), ("mph", 0.869)],
    ),
    unit(
        "m",
        "metres",
        &[("ft", 0.3048), ("mm", 0.001), ("cm", 0.01)],
    ),
    unit(
        "mm",
        "millimetres",
        &[("cm", 10.0), ("in", 25.4), ("m", 1000.0)],
    ),
    unit("m2", "square metres", &[("ft2", 0.0929), ("sqft", 0.0929)]),
    unit("deg", "degrees", &[("rad", 57.3)]),
    unit(
        "hpa",
        "hectopascals",
        &[("mb", 1.0), ("mbar", 1.0), ("inhg", 33.86)],
    ),
    unit("s", "seconds", &[("min", 60.0), ("ms", 0.001)]),
    unit("min", "minutes", &[("s", 0.0167), ("h", 60.0)]),
    unit(
        "minutes",
        "minutes",
        &[("s", 0.0167), ("min", 1.0), ("h", 60.0)],
    ),
];

/// What to do about a key that nobody asked for.
pub(super) fn mend_for_unknown_key(name: &str, known: &[&str]) -> String {
    let in_other_unit = || known.iter().find_map(|right| other_unit(name, right));
    if let Some(mend) = in_other_unit() {
        return mend;
    }
    match nearest(name, known) {
        Some(like) => format!("did you mean `{like}`?"),
        None => format!("known here: {}", known.join(", ")),
    }
}

/// `mean_ms` for `mean_kn`: the right quantity in a unit that is not read.
fn other_unit(name: &str, right: &str) -> Option<String> {
    let (given_of, given) = name.rsplit_once('_')?;
    let (wanted_of, wanted) = right.rsplit_once('_')?;
    let unit = UNITS.iter().find(|unit| unit.ending == wanted)?;
    let (_, factor) = unit.others.iter().find(|(ending, _)| *ending == given)?;
    let name = unit.name;
    (given_of == wanted_of)
        .then(|| format!("give it in {name} as `{right}`: 1 {given} is {factor} {wanted}"))
}

/// The texts in quotes, with commas between.
pub(crate) fn quoted(names: &[&str]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    quoted.join(", ")
}

/// The name that a slip of the fingers would have made into `word`.
pub(crate) fn nearest<'n>(word: &str, names: &[&'n str]) -> Option<&'n str> {
    let close = names.iter().map(|name| (distance(word, name), *name));
    let (slips, name) = close.min_by_key(|(slips, _)| *slips)?;
    (slips <= 1 + word.chars().count() / 4).then_some(name)
}

/// Letters to add, drop or change to make one word of the other (Levenshtein).
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, letter) in a.chars().enumerate() {
        let mut corner = i;
        let mut left = i + 1;
        for (j, other) in b.iter().enumerate() {
            let above = row[j + 1];
            let changed = corner + usize::from(letter != *other);
            row[j] = left;
            left = changed.min(above + 1).min(left + 1);
            corner = above;
        }
        row[b.len()] = left;
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_finds_its_word_and_nonsense_does_not() {
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("abc", "abc"), 0);
        assert_eq!(
            nearest("gust_knn", &["mean_kn", "gust_kn"]),
            Some("gust_kn")
        );
        assert_eq!(nearest("xyzzy", &["mean_kn", "gust_kn"]), None);
    }

    #[test]
    fn a_key_in_another_unit_is_told_the_unit_and_what_one_is() {
        let known = ["mean_kn", "gust_kn", "area_m2", "bunk_after_s"];
        let mend = |name| mend_for_unknown_key(name, &known);
        assert_eq!(
            mend("mean_ms"),
            "give it in knots as `mean_kn`: 1 ms is 1.944 kn"
        );
        assert_eq!(
            mend("area_ft2"),
            "give it in square metres as `area_m2`: 1 ft2 is 0.0929 m2"
        );
        assert_eq!(
            mend("bunk_after_min"),
            "give it in seconds as `bunk_after_s`: 1 min is 60 s"
        );
        assert_eq!(mend("mean_kt"), "did you mean `mean_kn`?");
    }
}
