//! Heading by true north from whatever compass there is.
//!
//! True heading as heard first; else the compass with the boat's own
//! deviation table; else magnetic heading. Both of these need the variation,
//! heard or set; without it the wind's direction stays magnetic and is never
//! passed off as true.

use crate::angle::{Bearing, wrap_360};
use crate::instruments::Instruments;
use crate::reading::{Measure, Quantity};
use crate::sources::Sources;
use crate::time::Timestamp;
use crate::units::Degrees;

use super::correct::between;

/// A heading and the north it counts from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heading {
    /// Degrees clockwise.
    pub bearing: Bearing,
    /// From which north.
    pub north: North,
}

/// Which north a bearing counts from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum North {
    /// The pole.
    #[default]
    True,
    /// The compass needle's, variation not known.
    Magnetic,
}

/// The best heading that is live.
pub fn heading(sources: &Sources, instruments: &Instruments, now: Timestamp) -> Option<Heading> {
    if let Some(Measure::HeadingTrue(bearing)) = sources.live(Quantity::HeadingTrue, now) {
        return Some(Heading {
            bearing,
            north: North::True,
        });
    }
    let magnetic = magnetic(sources, instruments, now)?;
    Some(match variation(sources, instruments, now) {
        Some(variation) => Heading {
            bearing: magnetic.turned(variation),
            north: North::True,
        },
        None => Heading {
            bearing: magnetic,
            north: North::Magnetic,
        },
    })
}

fn magnetic(sources: &Sources, instruments: &Instruments, now: Timestamp) -> Option<Bearing> {
    let compass = match sources.live(Quantity::HeadingCompass, now) {
        Some(Measure::HeadingCompass(bearing)) => Some(bearing),
        _ => None,
    };
    let magnetic = match sources.live(Quantity::HeadingMagnetic, now) {
        Some(Measure::HeadingMagnetic(bearing)) => Some(bearing),
        _ => None,
    };
    let table = &instruments.deviation_table;
    match (compass, magnetic) {
        (Some(compass), _) if !table.is_empty() => {
            Some(compass.turned(deviation(table, compass.degrees())))
        }
        (_, Some(magnetic)) => Some(magnetic),
        // No table: the compass is taken as it reads.
        (compass, None) => compass,
    }
}

/// Degrees from magnetic to true north, east positive, heard or set.
pub fn variation(sources: &Sources, instruments: &Instruments, now: Timestamp) -> Option<f64> {
    match sources.live(Quantity::Variation, now) {
        Some(Measure::Variation(variation)) => Some(variation.get()),
        _ => instruments.variation.map(Degrees::get),
    }
}

/// Deviation, east positive, at a compass heading: straight lines between
/// the table's entries, joined round the compass.
pub fn deviation(table: &[(Degrees, Degrees)], compass_deg: f64) -> f64 {
    let (Some(first), Some(last)) = (table.first(), table.last()) else {
        return 0.0;
    };
    let heading = wrap_360(compass_deg);
    for pair in table.windows(2) {
        if let [(x0, y0), (x1, y1)] = pair
            && (x0.get()..=x1.get()).contains(&heading)
        {
            return between((x0.get(), y0.get()), (x1.get(), y1.get()), heading);
        }
    }
    // Between the last entry and the first, once round.
    let start = (last.0.get(), last.1.get());
    let end = (first.0.get() + 360.0, first.1.get());
    let turned = if heading < first.0.get() {
        heading + 360.0
    } else {
        heading
    };
    between(start, end, turned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn deviation_is_joined_round_the_compass() {
        let degrees = |d| Degrees::new(d).unwrap();
        let table = [
            (degrees(90.0), degrees(2.0)),
            (degrees(180.0), degrees(-1.0)),
            (degrees(270.0), degrees(-2.0)),
        ];
        for (heading, expected) in [
            (90.0, 2.0),
            (135.0, 0.5),
            (270.0, -2.0),
            (0.0, 0.0),
            (315.0, -1.0),
            (45.0, 1.0),
            (360.0, 0.0),
        ] {
            let found = deviation(&table, heading);
            assert!((found - expected).abs() < 1e-9, "{heading}: {found}");
        }
    }
}
