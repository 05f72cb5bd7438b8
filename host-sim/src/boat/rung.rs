//! One sail plan of the ladder, as the simulator needs it.

use serde::Deserialize;

/// A sail plan: what it takes to carry it, and to get down to it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SailRung {
    /// Its name among the crew.
    pub name: String,
    /// Its name on a small screen.
    pub short: String,
    /// Sail area set, m2.
    pub area_m2: f64,
    /// Lever of the side force, centre of effort to centre of lateral plane, m.
    pub lever_m: f64,
    /// Mean true wind that she should not carry it past, knots.
    pub limit_kn: f64,
    /// Minutes of set-up before the change down to this plan.
    pub setup_min: f64,
    /// Minutes of the change down to this plan itself.
    pub change_min: f64,
    /// Hands the change is made for; with fewer it takes longer.
    pub hands: u8,
}

impl SailRung {
    /// No sail at all.
    pub fn bare() -> Self {
        Self {
            name: "bare poles".to_owned(),
            short: "bare".to_owned(),
            area_m2: 0.0,
            lever_m: 0.0,
            limit_kn: 64.0,
            setup_min: 0.0,
            change_min: 10.0,
            hands: 1,
        }
    }

    /// The ladder of the invented cutter Teasel.
    pub fn teasel() -> Vec<Self> {
        // Set-up and change times: common practice, no source.
        [
            ("full main, genoa", "full", 62.0, 6.4, 17.0, 0.0, 4.0),
            ("full main, jib", "full, jib", 50.0, 6.0, 20.0, 2.0, 6.0),
            ("reef 1, jib", "1 reef", 42.0, 5.5, 24.0, 3.0, 6.0),
            ("reef 2, staysail", "2 reefs", 29.0, 4.9, 30.0, 6.0, 10.0),
            ("reef 3, staysail", "3 reefs", 21.0, 4.3, 37.0, 5.0, 9.0),
            ("trysail, storm jib", "trysail", 12.0, 3.7, 48.0, 15.0, 18.0),
        ]
        .into_iter()
        .map(
            |(name, short, area_m2, lever_m, limit_kn, setup_min, change_min)| Self {
                name: name.to_owned(),
                short: short.to_owned(),
                area_m2,
                lever_m,
                limit_kn,
                setup_min,
                change_min,
                hands: 2,
            },
        )
        .collect()
    }
}
