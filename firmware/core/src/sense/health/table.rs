//! How instruments lie: one row for each fault, with how it is noticed, how
//! soon, what is struck out for it and how long the word outlives its cause.
//! What the crew reads is the fault's own words.
//!
//! Each row names two tests: one in which the lie is found, and one in which
//! its honest twin is not. They stand in `tests/tests/wind/lies.rs` unless a
//! path is given.

use core::time::Duration;

use crate::sense::fault::Fault;
use crate::sense::reading::Quantity;

/// Until this long after a unit moves again it is not believed: gate, cups
/// and smoothing come up first.
pub const SETTLE: Duration = Duration::from_secs(10);

/// The word stays for so long after its cause: settling, a whole minute of
/// sound seconds, and what a second waits for its heel.
const CLEAN_MINUTE_S: u16 = 75;

/// A spike's word stays for so long.
const SPIKE_SHOWN_S: u16 = 60;

/// Two that differed have agreed for 30 s when it is over; by so much later
/// nothing that was disputed is left in a 1-minute mean.
const AGREED_S: u16 = 30;

/// What a doubt takes out of means, gusts and limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StrikesOut {
    /// Nothing: it is a word beside a number.
    Nothing,
    /// Wind speed and direction, from when it began until it has settled.
    TrueWind,
    /// Wind speed and direction from when it began until it was found: from
    /// then on another sensor stands in.
    TrueWindBefore,
    /// Wind while two units differed, once they agree again; while they
    /// differ both levels are given.
    DisputedWind,
    /// Wind direction.
    Direction,
    /// Heel: its limit, corrections by it, doubts by it.
    Heel,
    /// The one wild value.
    OneValue,
}

/// One row.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// Whose.
    pub sensor: &'static str,
    /// What it does.
    pub lie: &'static str,
    /// By what it is noticed.
    pub noticed: &'static str,
    /// Within how long, seconds from its beginning, where it tells at all.
    pub within_s: u16,
    /// What is struck out.
    pub strikes_out: StrikesOut,
    /// For how long the word outlives the cause.
    pub recovers_s: u16,
    /// The test in which it is found.
    pub found_by: &'static str,
    /// The test in which its honest twin is not.
    pub honest_twin: &'static str,
}

/// The row of a fault.
pub const fn row(fault: Fault) -> &'static Row {
    match fault {
        Fault::Lost(_) => &LOST,
        Fault::Invalid(_) => &INVALID,
        Fault::Frozen(Quantity::Heel) => &HEEL_FROZEN,
        Fault::Frozen(_) => &FEED_FROZEN,
        Fault::CupsSlow => &CUPS_SLOW,
        Fault::VaneStuck => &VANE_STUCK,
        Fault::Disagree(Quantity::ApparentWind) => &WIND_UNITS_APART,
        Fault::Disagree(_) => &SOURCES_APART,
        Fault::AngleUnsigned => &ANGLE_UNSIGNED,
        Fault::HeadingAgainstCourse => &HEADING_AGAINST_COURSE,
        Fault::NoWaterSpeed => &NO_WATER_SPEED,
        Fault::TrueWindOnly => &TRUE_WIND_ONLY,
        Fault::Spikes(_) => &SPIKES,
        Fault::NoHeading => &NO_HEADING,
        Fault::NoVariation => &NO_VARIATION,
        Fault::WindLowForHeel => &WIND_LOW_FOR_HEEL,
        Fault::TrueWindDiffers => &TRUE_WIND_DIFFERS,
        Fault::SlowHeel => &SLOW_HEEL,
    }
}

const LOST: Row = Row {
    sensor: "any",
    lie: "says nothing any more",
    noticed: "three of its own periods and 3 s without a value",
    within_s: 30,
    strikes_out: StrikesOut::Nothing,
    recovers_s: 0,
    found_by: "a_unit_that_falls_silent_is_lost",
    honest_twin: "a_gateway_of_a_tenth_of_a_hertz_is_not_lost",
};

const INVALID: Row = Row {
    sensor: "any",
    lie: "says itself that its value is not valid",
    noticed: "three such lines in a row",
    within_s: 30,
    strikes_out: StrikesOut::Nothing,
    recovers_s: 0,
    found_by: "a_unit_that_says_invalid_is_believed_in_that",
    honest_twin: "one_invalid_line_in_a_row_of_good_ones_is_no_fault",
};

const FEED_FROZEN: Row = Row {
    sensor: "wind unit",
    lie: "repeats speed and angle to the last digit",
    noticed: "both the same while anything else moves, over 4 kn",
    within_s: 155,
    strikes_out: StrikesOut::TrueWind,
    recovers_s: CLEAN_MINUTE_S,
    found_by: "a_frozen_feed_is_found",
    honest_twin: "a_damped_unit_of_whole_knots_and_degrees_is_not_frozen",
};

const HEEL_FROZEN: Row = Row {
    sensor: "heel",
    lie: "hangs at one figure",
    noticed: "the same to the last digit while she moves through the water",
    within_s: 65,
    strikes_out: StrikesOut::Heel,
    recovers_s: CLEAN_MINUTE_S,
    found_by: "heel_that_hangs_at_45_in_8_knots_is_found",
    honest_twin: "heel_of_whole_degrees_in_flat_water_is_not_frozen",
};

const CUPS_SLOW: Row = Row {
    sensor: "cups",
    lie: "stop, freeze at a figure, or drag to two thirds",
    noticed: "zero while she moves; one figure while she rolls or turns; heel per AWS squared 2.25 times what is usual",
    within_s: 300,
    strikes_out: StrikesOut::TrueWind,
    recovers_s: CLEAN_MINUTE_S,
    found_by: "cups_that_stop_freeze_or_drag_are_found",
    honest_twin: "a_sound_unit_in_a_seaway_is_never_doubted",
};

const VANE_STUCK: Row = Row {
    sensor: "vane",
    lie: "does not turn",
    noticed: "within 1 degree for 90 s while she turns by 10 or rolls by 6",
    within_s: 120,
    strikes_out: StrikesOut::TrueWind,
    recovers_s: CLEAN_MINUTE_S,
    found_by: "a_vane_that_sticks_is_found",
    honest_twin: "a_still_vane_at_a_mooring_is_not_stuck",
};

const WIND_UNITS_APART: Row = Row {
    sensor: "two wind units",
    lie: "one of them reads far off",
    noticed: "speed over 4 kn and a quarter apart, or angle 25 degrees, for 20 s",
    within_s: 41,
    strikes_out: StrikesOut::DisputedWind,
    recovers_s: AGREED_S,
    found_by: "two_wind_units_apart_give_both_levels",
    honest_twin: "two_wind_units_at_two_heights_do_not_disagree",
};

const SOURCES_APART: Row = Row {
    sensor: "two sources of any other quantity",
    lie: "one of them reads far off",
    noticed: "apart by more than the boat file allows, for 20 s",
    within_s: 41,
    strikes_out: StrikesOut::Nothing,
    recovers_s: AGREED_S,
    found_by: "two_logs_apart_disagree",
    honest_twin: "two_logs_a_little_apart_do_not",
};

const ANGLE_UNSIGNED: Row = Row {
    sensor: "vane",
    lie: "tells 0 to 180 without a side",
    noticed: "heel to windward for 2 min, or two turns in which the true wind direction swings with the tack and no angle is to port",
    within_s: 600,
    strikes_out: StrikesOut::Direction,
    recovers_s: 0,
    found_by: "an_angle_without_its_side_is_found_by_heel_and_by_turns",
    honest_twin: "hours_on_one_tack_with_turns_are_no_unsigned_angle",
};

const HEADING_AGAINST_COURSE: Row = Row {
    sensor: "compass",
    lie: "points far off",
    noticed: "40 degrees from the course over ground for 90 s, smoothed over 60 s",
    within_s: 240,
    strikes_out: StrikesOut::Nothing,
    recovers_s: 0,
    found_by: "without_a_log_a_wrong_heading_takes_sog_along_the_bow",
    honest_twin: "a_strong_stream_on_the_beam_is_no_wrong_heading",
};

const NO_WATER_SPEED: Row = Row {
    sensor: "log",
    lie: "is silent, stands still or races",
    noticed: "under 0.3 kn with SOG over 2, or 8 kn over SOG, for 20 s",
    within_s: 25,
    strikes_out: StrikesOut::TrueWindBefore,
    recovers_s: 0,
    found_by: "a_fouled_log_gives_way_to_sog",
    honest_twin: "a_log_in_a_stream_is_not_fouled",
};

const TRUE_WIND_ONLY: Row = Row {
    sensor: "wind unit",
    lie: "only a true wind of unknown reference is heard",
    noticed: "no apparent wind",
    within_s: 61,
    strikes_out: StrikesOut::Nothing,
    recovers_s: CLEAN_MINUTE_S,
    found_by: "true_wind_alone_is_named",
    honest_twin: "a_sound_unit_in_a_seaway_is_never_doubted",
};

const SPIKES: Row = Row {
    sensor: "wind, heel, log, compass",
    lie: "a wild value: a bird, the radio, a dropout",
    noticed: "far from those before it and from those after it",
    within_s: 16,
    strikes_out: StrikesOut::OneValue,
    recovers_s: SPIKE_SHOWN_S,
    found_by: "a_wild_value_is_struck_out_and_named",
    honest_twin: "a_fast_feed_loses_no_rise",
};

const NO_HEADING: Row = Row {
    sensor: "compass",
    lie: "no heading of any kind",
    noticed: "none is heard",
    within_s: 61,
    strikes_out: StrikesOut::Nothing,
    recovers_s: 0,
    found_by: "no_heading_and_no_variation_are_named",
    honest_twin: "a_sound_unit_in_a_seaway_is_never_doubted",
};

const NO_VARIATION: Row = Row {
    sensor: "compass",
    lie: "magnetic heading without a variation",
    noticed: "none is heard or set",
    within_s: 61,
    strikes_out: StrikesOut::Nothing,
    recovers_s: 0,
    found_by: "no_heading_and_no_variation_are_named",
    honest_twin: "a_sound_unit_in_a_seaway_is_never_doubted",
};

const WIND_LOW_FOR_HEEL: Row = Row {
    sensor: "cups",
    lie: "drag more and more, slowly",
    noticed: "heel per AWS squared five times as far over what is usual with this plan on this point of sail as minutes stray from it, 1.22 to 1.4 times",
    within_s: 600,
    strikes_out: StrikesOut::Nothing,
    recovers_s: 0,
    found_by: "cups_that_fade_over_half_an_hour_are_named",
    honest_twin: "another_plan_and_another_point_of_sail_are_no_drag",
};

const TRUE_WIND_DIFFERS: Row = Row {
    sensor: "an instrument's own true wind",
    lie: "lies far from ours: one of the two has a wrong part",
    noticed: "5 kn and 35 % apart, smoothed over 60 s, for 120 s",
    within_s: 300,
    strikes_out: StrikesOut::Nothing,
    recovers_s: 0,
    found_by: "an_instruments_own_true_wind_ten_knots_off_is_named",
    honest_twin: "an_instruments_true_wind_over_ground_is_not",
};

const SLOW_HEEL: Row = Row {
    sensor: "heel",
    lie: "too slow to show a roll",
    noticed: "over 1.3 s between values, where the mast's motion is corrected for",
    within_s: 61,
    strikes_out: StrikesOut::Nothing,
    recovers_s: 0,
    found_by: "heel_too_slow_for_the_mast_is_named",
    honest_twin: "heel_at_one_hertz_is_not_too_slow",
};

/// All rows, for documents and for the test that names every test.
pub const ROWS: [&Row; 18] = [
    &LOST,
    &INVALID,
    &FEED_FROZEN,
    &HEEL_FROZEN,
    &CUPS_SLOW,
    &VANE_STUCK,
    &WIND_UNITS_APART,
    &SOURCES_APART,
    &ANGLE_UNSIGNED,
    &HEADING_AGAINST_COURSE,
    &NO_WATER_SPEED,
    &TRUE_WIND_ONLY,
    &SPIKES,
    &NO_HEADING,
    &NO_VARIATION,
    &WIND_LOW_FOR_HEEL,
    &TRUE_WIND_DIFFERS,
    &SLOW_HEEL,
];
