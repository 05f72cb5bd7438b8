//! What was found, how sure that is, and why something was not.

use std::fmt;

use crate::legs::Passage;

/// One correction, as the boat file takes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finding {
    /// The correction itself: degrees or a factor.
    pub value: f64,
    /// It lies within so much of the value nine times in ten.
    pub within: f64,
    /// Hours of steady sailing that it rests on.
    pub hours: f64,
}

/// Why a log cannot tell, and what to sail so that it can.
#[derive(Clone, Debug, PartialEq)]
pub struct Refusal {
    /// What stands in the way.
    pub why: String,
    /// What would mend it.
    pub remedy: &'static str,
}

impl Refusal {
    pub(crate) fn new(why: impl Into<String>, remedy: &'static str) -> Refusal {
        Refusal {
            why: why.into(),
            remedy,
        }
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.why, self.remedy)
    }
}

/// A finding, or why there is none.
pub(crate) type Found = Result<Finding, Refusal>;

/// All that was looked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// Hours of steady legs, and how many legs.
    pub hours: f64,
    /// Steady legs.
    pub legs: usize,
    /// Turns between legs in which the wind changed sides.
    pub tacks: usize,
    /// Degrees to be added to the AWA as measured.
    pub vane_offset_deg: Found,
    /// What the AWS as measured is to be multiplied by.
    pub anemometer_factor: Found,
    /// What the STW as measured is to be multiplied by.
    pub log_factor: Found,
    /// Degrees to be added to the heel as measured.
    pub heel_offset_deg: Found,
    /// Leeway in degrees is this times heel over STW squared.
    pub leeway_k: Found,
    /// Degrees by which the heading as used reads too little.
    pub compass_deg: Found,
    /// Degrees close-hauled by which the vane reads too far from the bow.
    pub upwash_deg: Found,
}

/// The corrections of a report that can be used, zero or one where none is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corrections {
    /// Added to AWA, degrees.
    pub vane_deg: f64,
    /// Times AWS.
    pub cups: f64,
    /// Times STW.
    pub log: f64,
    /// Added to heel, degrees.
    pub heel_deg: f64,
}

impl Report {
    pub(crate) fn of(passage: &Passage) -> Report {
        let none = || Err(Refusal::new("not looked for", ""));
        Report {
            hours: passage.hours(),
            legs: passage.legs,
            tacks: passage.tacks,
            vane_offset_deg: none(),
            anemometer_factor: none(),
            log_factor: none(),
            heel_offset_deg: none(),
            leeway_k: none(),
            compass_deg: none(),
            upwash_deg: none(),
        }
    }

    /// What to correct by.
    pub fn corrections(&self) -> Corrections {
        let or = |found: &Found, otherwise| found.as_ref().map_or(otherwise, |it| it.value);
        Corrections {
            vane_deg: or(&self.vane_offset_deg, 0.0),
            cups: or(&self.anemometer_factor, 1.0),
            log: or(&self.log_factor, 1.0),
            heel_deg: or(&self.heel_offset_deg, 0.0),
        }
    }
}
