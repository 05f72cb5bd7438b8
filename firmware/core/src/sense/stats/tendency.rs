//! What the barometer did in the last three hours, in the WMO's figures.

/// A change under this is none: reports are in tenths.
const STEADY_HPA: f64 = 0.05;

/// One half's change this many times the other's is "more rapidly".
const MORE: f64 = 2.0;

/// Change over three hours and its characteristic.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tendency {
    /// Now less three hours ago, hPa.
    pub change_hpa: f64,
    /// WMO code table 0200, 0 to 8.
    pub code: u8,
}

/// What one half of the time did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Half {
    Falling,
    Steady,
    Rising,
}

/// From pressure three hours ago, half-way, and now.
pub fn tendency(then: f64, half_way: f64, now: f64) -> Tendency {
    let change = now - then;
    let (first, second) = (half_way - then, now - half_way);
    Tendency {
        change_hpa: change,
        code: code(first, second, change),
    }
}

/// The characteristic of the WMO's code table 0200 (from memory).
fn code(first: f64, second: f64, change: f64) -> u8 {
    let slower = second.abs() * MORE < first.abs();
    let quicker = second.abs() > first.abs() * MORE;
    let whole = half(change);
    match (half(first), half(second)) {
        (Half::Steady, Half::Steady) => match whole {
            Half::Rising => 2,
            Half::Falling => 7,
            Half::Steady => 4,
        },
        (Half::Rising, Half::Steady) => 1,
        (Half::Rising, Half::Rising) if slower => 1,
        (Half::Rising, Half::Rising) if quicker => 3,
        (Half::Rising, Half::Rising) => 2,
        (Half::Steady, Half::Rising) => 3,
        (Half::Falling, Half::Steady) => 6,
        (Half::Falling, Half::Falling) if slower => 6,
        (Half::Falling, Half::Falling) if quicker => 8,
        (Half::Falling, Half::Falling) => 7,
        (Half::Steady, Half::Falling) => 8,
        // Turned: what counts is whether it ends higher or lower.
        (Half::Rising, Half::Falling) => match whole {
            Half::Falling => 8,
            Half::Steady | Half::Rising => 0,
        },
        (Half::Falling, Half::Rising) => match whole {
            Half::Rising => 3,
            Half::Steady | Half::Falling => 5,
        },
    }
}

fn half(change: f64) -> Half {
    if change > STEADY_HPA {
        Half::Rising
    } else if change < -STEADY_HPA {
        Half::Falling
    } else {
        Half::Steady
    }
}
