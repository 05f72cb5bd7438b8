//! How likely the present limit is passed, and when: a first honest outlook
//! of level, shrunk trend and a spread that grows with the horizon.

/// The outlook reaches this far, seconds.
pub const HORIZON_S: u32 = 5400;

/// One interval's summary.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Summary {
    /// Mean wind over the interval.
    pub mean_kn: f64,
    /// Greatest 3-second gust.
    pub gust_kn: Option<f64>,
    /// Direction.
    pub direction_deg: Option<f64>,
    /// Pressure.
    pub pressure_hpa: Option<f64>,
    /// Length of the interval, seconds.
    pub interval_s: u32,
}

/// See the module.
#[derive(Clone, Debug, Default)]
pub struct Outlook {
    at_s: Option<u64>,
    level: f64,
    slow: f64,
    variance: f64,
}

impl Outlook {
    /// An outlook that has seen nothing.
    pub fn new() -> Self {
        Outlook::default()
    }

    /// Forgets all.
    pub fn reset(&mut self) {
        *self = Outlook::default();
    }

    /// When the newest summary began.
    pub fn at_s(&self) -> Option<u64> {
        self.at_s
    }

    /// Takes the summary of the interval that began at `at_s`.
    pub fn step(&mut self, at_s: u64, summary: &Summary) {
        let span = f64::from(summary.interval_s);
        if self.at_s.is_none() {
            self.level = summary.mean_kn;
            self.slow = summary.mean_kn;
        }
        let gain = |tau: f64| 1.0 - libm::exp(-span / tau);
        let off = summary.mean_kn - self.level;
        self.variance += gain(1800.0) * (off * off - self.variance);
        self.level += gain(300.0) * off;
        self.slow += gain(2400.0) * (summary.mean_kn - self.slow);
        self.at_s = Some(at_s);
    }

    fn ahead(&self, horizon_s: f64) -> (f64, f64) {
        let hours = horizon_s / 3600.0;
        let drift = (self.level - self.slow) * 0.35 * (1.0 - libm::exp(-hours));
        let spread = libm::sqrt(0.3 + self.variance + 0.02 * self.level * self.level * hours);
        (self.level + drift, spread)
    }

    /// Odds that a limit is passed within a horizon.
    pub fn odds(&self, limit_kn: f64, horizon_s: u32) -> Option<f64> {
        self.at_s?;
        let at = |horizon: f64| {
            let (middle, spread) = self.ahead(horizon);
            0.5 * libm::erfc((limit_kn - middle) / spread / core::f64::consts::SQRT_2)
        };
        let steps = horizon_s / 300;
        let most = (0..=steps).map(|step| at(f64::from(step) * 300.0));
        Some(most.fold(at(f64::from(horizon_s)), f64::max))
    }

    /// First horizon at which the odds reach a setting; none beyond.
    pub fn time_to_s(&self, limit_kn: f64, setting: f64) -> Option<f64> {
        (0..=HORIZON_S / 60)
            .map(|minute| minute * 60)
            .find(|horizon| self.odds(limit_kn, *horizon).is_some_and(|o| o >= setting))
            .map(f64::from)
    }

    /// Where the mean is likely to be: 1 in 10 below, middle, 1 in 10 above.
    pub fn likely(&self, horizon_s: u32) -> Option<[f64; 3]> {
        self.at_s?;
        let (middle, spread) = self.ahead(f64::from(horizon_s));
        Some([
            (middle - 1.2816 * spread).max(0.0),
            middle,
            middle + 1.2816 * spread,
        ])
    }
}
