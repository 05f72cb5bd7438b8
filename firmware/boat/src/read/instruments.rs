//! `[instruments]`: how each sensor reads wrong and where it sits.

use cringle_core::instruments::{Factor, Gradient, Instruments, MayDiffer, Switch};
use cringle_core::units::{Degrees, Knots, Metres};

use super::people::confirmation;
use crate::toml_file::{Entry, Section};

pub(super) fn instruments(root: &Section<'_>) -> Instruments {
    let Some(section) = root.section("instruments") else {
        return Instruments::default();
    };
    Instruments {
        vane_offset: degrees(&section, "vane_offset_deg", 180.0).unwrap_or_default(),
        anemometer_factor: factor(&section, "anemometer_factor"),
        anemometer_table: pairs(&section, "anemometer_table_kn", KNOTS)
            .into_iter()
            .filter_map(|(a, b)| Some((Knots::new(a).ok()?, Knots::new(b).ok()?)))
            .collect(),
        upwash_table: degree_pairs(&section, "upwash_table_deg", UPWASH),
        heel_correction: match section.flag("heel_correction") {
            Some(true) => Switch::On,
            Some(false) | None => Switch::Off,
        },
        mast_motion: metres(&section, "mast_motion_height_m"),
        wind_damping_s: section.number("wind_damping_s", 0.0..=30.0),
        leeway_k: section.number("leeway_k", 0.0..=60.0),
        log_factor: factor(&section, "log_factor"),
        deviation_table: degree_pairs(&section, "deviation_table_deg", DEVIATION),
        variation: degrees(&section, "variation_deg", 180.0),
        masthead_height: metres(&section, "masthead_height_m"),
        gradient: gradient(&section),
        heel_offset: degrees(&section, "heel_offset_deg", 45.0).unwrap_or_default(),
        pitch_offset: degrees(&section, "pitch_offset_deg", 45.0).unwrap_or_default(),
        wind_confirmed: confirmation(&section, "wind_confirmed"),
        may_differ: may_differ(&section),
    }
}

/// `[instruments.may_differ]`: what is left out stays as it is by itself.
fn may_differ(section: &Section<'_>) -> MayDiffer {
    let usual = MayDiffer::default();
    let Some(table) = section.section("may_differ") else {
        return usual;
    };
    let number =
        |key, most: f64, usual: f64| table.number(key, most / 100.0..=most).unwrap_or(usual);
    MayDiffer {
        wind_kn: number("wind_kn", 20.0, usual.wind_kn),
        wind_share: number("wind_share", 1.0, usual.wind_share),
        wind_deg: number("wind_deg", 90.0, usual.wind_deg),
        heading_deg: number("heading_deg", 90.0, usual.heading_deg),
        stw_kn: number("stw_kn", 5.0, usual.stw_kn),
        stw_share: number("stw_share", 1.0, usual.stw_share),
        sog_kn: number("sog_kn", 5.0, usual.sog_kn),
        heel_deg: number("heel_deg", 30.0, usual.heel_deg),
        variation_deg: number("variation_deg", 20.0, usual.variation_deg),
        rudder_deg: number("rudder_deg", 45.0, usual.rudder_deg),
        pressure_hpa: number("pressure_hpa", 20.0, usual.pressure_hpa),
        seconds: table
            .whole("seconds", 5..=250)
            .map_or(usual.seconds, |seconds| seconds as u8),
    }
}

fn degrees(section: &Section<'_>, key: &'static str, most: f64) -> Option<Degrees> {
    let angle = section.number(key, -most..=most)?;
    Degrees::new(angle).ok()
}

fn factor(section: &Section<'_>, key: &'static str) -> Factor {
    section
        .number(key, 0.25..=4.0)
        .map_or_else(Factor::default, Factor)
}

fn metres(section: &Section<'_>, key: &'static str) -> Option<Metres> {
    let height = section.number(key, 1.0..=120.0)?;
    Metres::new(height).ok()
}

fn gradient(section: &Section<'_>) -> Gradient {
    let Some(found) = section.find("gradient") else {
        return Gradient::LogOpenSea;
    };
    let like = "\"open-sea\", { roughness_m = 0.0002 } or { exponent = 0.11 }";
    if found.as_text().is_some() {
        let words = [("open-sea", Gradient::LogOpenSea)];
        return found.choice(&words).unwrap_or_default();
    }
    let Some(table) = found.section(like) else {
        return Gradient::LogOpenSea;
    };
    let roughness = table.number("roughness_m", 0.00001..=2.0);
    let exponent = table.number("exponent", 0.0..=0.5);
    match (roughness, exponent) {
        (Some(roughness), None) => Gradient::Log(roughness),
        (None, Some(exponent)) => Gradient::Power(exponent),
        (None, None) if table.has("roughness_m") || table.has("exponent") => Gradient::LogOpenSea,
        _ => {
            let what = "names not one law of wind by height";
            table.wrong(what, format!("give {like}"));
            Gradient::LogOpenSea
        }
    }
}

/// What a correction table may hold.
#[derive(Clone, Copy)]
struct Shape {
    least: usize,
    most: usize,
    at: (f64, f64),
    value: (f64, f64),
    like: &'static str,
}

const KNOTS: Shape = Shape {
    least: 2,
    most: 8,
    at: (0.0, 150.0),
    value: (0.0, 150.0),
    like: "pairs of measured and true AWS, rising: [[10, 10.5], [20, 21]]",
};
const UPWASH: Shape = Shape {
    least: 1,
    most: 8,
    at: (0.0, 180.0),
    value: (-30.0, 30.0),
    like: "pairs of AWA and degrees to take out, rising: [[30, 4], [90, 1]]",
};
const DEVIATION: Shape = Shape {
    least: 2,
    most: 16,
    at: (0.0, 359.999),
    value: (-60.0, 60.0),
    like: "pairs of compass heading and deviation, rising: [[0, 1], [180, -2]]",
};

fn degree_pairs<const N: usize>(
    section: &Section<'_>,
    key: &'static str,
    shape: Shape,
) -> heapless::Vec<(Degrees, Degrees), N> {
    pairs(section, key, shape)
        .into_iter()
        .filter_map(|(a, b)| Some((Degrees::new(a).ok()?, Degrees::new(b).ok()?)))
        .take(N)
        .collect()
}

/// A table of pairs, the first of each rising.
fn pairs(section: &Section<'_>, key: &'static str, shape: Shape) -> Vec<(f64, f64)> {
    let Some(found) = section.find(key) else {
        return Vec::new();
    };
    let wrong = |found: &Entry<'_>, what: String| {
        let mend = format!("give {}", shape.like);
        found.wrong(what, mend);
    };
    let Some(entries) = found.list() else {
        return Vec::new();
    };
    let count = entries.len();
    if !(shape.least..=shape.most).contains(&count) {
        let (least, most) = (shape.least, shape.most);
        wrong(&found, format!("has {count} pairs, not {least} to {most}"));
        return Vec::new();
    }
    let mut pairs: Vec<(f64, f64)> = Vec::new();
    for entry in &entries {
        let Some(numbers) = entry.list() else {
            continue;
        };
        let [at, value] = numbers.as_slice() else {
            wrong(entry, format!("has {} numbers, not 2", numbers.len()));
            continue;
        };
        let at_number = at.number(shape.at.0..=shape.at.1);
        let value = value.number(shape.value.0..=shape.value.1);
        let (Some(at_number), Some(value)) = (at_number, value) else {
            continue;
        };
        if pairs.last().is_some_and(|(before, _)| *before >= at_number) {
            wrong(at, format!("is {at_number}, not above the one before"));
        }
        pairs.push((at_number, value));
    }
    pairs
}
