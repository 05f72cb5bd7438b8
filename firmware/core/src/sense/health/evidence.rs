//! What the detectors judge by, at one second: newest values as they were
//! measured, unless too old.

/// See the module. Degrees and knots; what is not known is none.
#[derive(Clone, Copy, Debug, Default)]
pub struct Evidence {
    /// AWA as measured.
    pub awa_deg: Option<f64>,
    /// AWS as measured.
    pub aws_kn: Option<f64>,
    /// Smoothed TWA.
    pub twa_deg: Option<f64>,
    /// Smoothed TWS as worked out here.
    pub tws_kn: Option<f64>,
    /// TWS as an instrument worked it out.
    pub their_tws_kn: Option<f64>,
    /// Heading by any north.
    pub heading_deg: Option<f64>,
    /// Heading by true north.
    pub heading_true_deg: Option<f64>,
    /// Heel of the moment as it was said, believed or not.
    pub heel_said_deg: Option<f64>,
    /// Heel of the moment, where it is believed.
    pub heel_deg: Option<f64>,
    /// Pitch of the moment.
    pub pitch_deg: Option<f64>,
    /// STW.
    pub stw_kn: Option<f64>,
    /// SOG.
    pub sog_kn: Option<f64>,
    /// COG by true north.
    pub cog_deg: Option<f64>,
}

impl Evidence {
    /// The faster of STW and SOG.
    pub fn speed_kn(&self) -> f64 {
        self.stw_kn.unwrap_or(0.0).max(self.sog_kn.unwrap_or(0.0))
    }
}
