//! One whole second of wind and heel, each with how much of it was measured.

/// What is known of the wind at one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct WindSample {
    /// TWS.
    pub tws_kn: f64,
    /// Sine and cosine of TWA; none in a flat calm.
    pub twa: Option<(f64, f64)>,
    /// Sine and cosine of TWD.
    pub twd: Option<(f64, f64)>,
    /// AWS; none where only a true wind is heard.
    pub aws_kn: Option<f64>,
}

/// One second. A sum is over milliseconds; a mean is over what was measured.
/// Wind that is not to be believed leaves its AWS and TWA, by which it is
/// doubted, and neither TWS nor TWD.
#[derive(Clone, Copy, Debug, Default)]
pub struct Bin {
    /// Milliseconds with wind.
    pub wind_ms: u16,
    /// Milliseconds with a wind direction.
    pub twd_ms: u16,
    /// Milliseconds with a wind angle.
    pub twa_ms: u16,
    /// Milliseconds with heel.
    pub heel_ms: u16,
    /// Milliseconds with AWS.
    pub aws_ms: u16,
    /// Whether a sample of it was struck out: what stands in for it is no
    /// gust.
    pub(super) is_patched: bool,
    /// Mean TWS.
    pub tws: f32,
    pub(super) tws_about: f32,
    pub(super) twd: (f32, f32),
    pub(super) twa: (f32, f32),
    /// Mean AWS.
    pub aws: f32,
    /// Mean heel.
    pub heel: f32,
    pub(super) heel_about: f32,
    /// Mean over this second and the two before it; 0 for none, so a calm is
    /// the least above it.
    pub(super) gust: f32,
}

impl Bin {
    /// Squares of TWS about its mean, times milliseconds.
    pub(super) fn tws_about(&self) -> f32 {
        self.tws_about
    }

    /// Squares of heel about its mean, times milliseconds.
    pub(super) fn heel_about(&self) -> f32 {
        self.heel_about
    }

    /// Sums of sine and cosine of TWD.
    pub(super) fn twd(&self) -> (f32, f32) {
        self.twd
    }

    /// Sums of sine and cosine of TWA.
    pub(super) fn twa(&self) -> (f32, f32) {
        self.twa
    }

    pub(super) fn forget_wind(&mut self) {
        self.wind_ms = 0;
        self.tws = 0.0;
        self.tws_about = 0.0;
        self.twd_ms = 0;
        self.twd = (0.0, 0.0);
        self.gust = 0.0;
    }

    pub(super) fn add_wind(&mut self, sample: &WindSample, millis: u16) {
        self.add_true_wind(sample, millis);
        self.add_apparent(sample, millis);
    }

    pub(super) fn add_true_wind(&mut self, sample: &WindSample, millis: u16) {
        let before = f64::from(self.wind_ms);
        let added = f64::from(millis);
        let total = before + added;
        let step = sample.tws_kn - f64::from(self.tws);
        self.tws += (step * added / total) as f32;
        self.tws_about += (step * step * before * added / total) as f32;
        self.wind_ms += millis;
        if let Some((sin, cos)) = sample.twd {
            self.twd.0 += (sin * added) as f32;
            self.twd.1 += (cos * added) as f32;
            self.twd_ms += millis;
        }
    }

    pub(super) fn add_apparent(&mut self, sample: &WindSample, millis: u16) {
        let added = f64::from(millis);
        if let Some((sin, cos)) = sample.twa {
            self.twa.0 += (sin * added) as f32;
            self.twa.1 += (cos * added) as f32;
            self.twa_ms += millis;
        }
        if let Some(aws) = sample.aws_kn {
            let total = f64::from(self.aws_ms) + added;
            self.aws += ((aws - f64::from(self.aws)) * added / total) as f32;
            self.aws_ms += millis;
        }
    }

    pub(super) fn add_heel(&mut self, heel: f64, millis: u16) {
        let before = f64::from(self.heel_ms);
        let added = f64::from(millis);
        let total = before + added;
        let step = heel - f64::from(self.heel);
        self.heel += (step * added / total) as f32;
        self.heel_about += (step * step * before * added / total) as f32;
        self.heel_ms += millis;
    }
}
