//! What if: one key tried at several values, the rest as it was.

use std::str::FromStr;

use super::report::AtSetting;

/// Values that are tried where no number is given.
const USUAL_STEPS: u32 = 5;
/// Most values that are tried.
const MOST_STEPS: u32 = 50;

/// A key and the values to try.
#[derive(Clone, Debug, PartialEq)]
pub struct Sweep {
    /// What is changed.
    pub key: String,
    /// To what, in order.
    pub values: Vec<f64>,
}

impl FromStr for Sweep {
    type Err = String;

    fn from_str(text: &str) -> Result<Sweep, String> {
        let shape = || format!("{text:?} is not of the shape key=a..b or key=a..b/steps");
        let (key, range) = text.split_once('=').ok_or_else(shape)?;
        let (range, steps) = match range.split_once('/') {
            Some((range, steps)) => (range, steps.trim().parse().map_err(|_| shape())?),
            None => (range, USUAL_STEPS),
        };
        if !(2..=MOST_STEPS).contains(&steps) {
            return Err(format!("{steps} steps is outside 2 to {MOST_STEPS}"));
        }
        let (from, to) = range.split_once("..").ok_or_else(shape)?;
        let number = |text: &str| {
            let value: Result<f64, _> = text.trim().parse();
            value.ok().filter(|it| it.is_finite()).ok_or_else(shape)
        };
        let (from, to) = (number(from)?, number(to)?);
        let value = |k: u32| from + (to - from) * f64::from(k) / f64::from(steps - 1);
        Ok(Sweep {
            key: key.trim().into(),
            values: (0..steps).map(value).collect(),
        })
    }
}

/// What became of one value.
#[derive(Clone, Debug)]
pub struct Tried {
    /// The value.
    pub value: f64,
    /// The odds' calls with it.
    pub found: AtSetting,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_spread_evenly_ends_included() {
        let sweep: Sweep = "muster_minutes=2..12/3".parse().unwrap();
        assert_eq!(sweep.key, "muster_minutes");
        assert_eq!(sweep.values, [2.0, 7.0, 12.0]);
        let five: Sweep = "setting=0.1..0.5".parse().unwrap();
        assert_eq!(five.values.len(), 5);
    }

    #[test]
    fn other_shapes_are_refused() {
        for text in [
            "x",
            "x=1",
            "x=1..",
            "x=a..b",
            "x=1..2/1",
            "x=1..2/999",
            "x=1..inf",
        ] {
            assert!(text.parse::<Sweep>().is_err(), "{text}");
        }
    }
}
