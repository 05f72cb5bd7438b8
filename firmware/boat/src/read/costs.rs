//! `[costs]`: what work costs these people.

use cringle_core::moment::{Costs, HintSound};

use crate::toml_file::Section;

/// The most that a minute in the dark or past the limit may weigh.
const MOST_TIMES: f64 = 100.0;
/// The most that a wake or a change missed may weigh, minutes.
const MOST_COST_MIN: f64 = 2400.0;

pub(super) fn costs(root: &Section<'_>) -> Costs {
    let mut costs = Costs::default();
    let Some(section) = root.section("costs") else {
        return costs;
    };
    let keep = |key, most, place: &mut f64| {
        *place = section.number(key, 0.0..=most).unwrap_or(*place);
    };
    keep("wake_minutes", MOST_COST_MIN, &mut costs.wake_min);
    keep("dark", MOST_TIMES, &mut costs.dark);
    keep("past", MOST_TIMES, &mut costs.past);
    keep(
        "impossible_minutes",
        MOST_COST_MIN,
        &mut costs.impossible_min,
    );
    let sounds = [
        ("silent", HintSound::Silent),
        ("sounded", HintSound::Sounded),
    ];
    costs.hint = section.choice("hint", &sounds).unwrap_or_default();
    costs
}
