//! Passages of the simulator with errors planted in the instruments.

use cringle_calibrate::{Gather, Sample};
use cringle_core::reading::Heard;
use cringle_core::time::Timestamp;
use cringle_sim::dice::Dice;
use cringle_sim::passage::Passage;
use cringle_sim::scenario::{Leg, Scenario};
use cringle_wire::decode::{Decoder, Out, PortOptions};

/// What the instruments do wrong.
pub(crate) struct Errors {
    pub(crate) vane_deg: f64,
    pub(crate) cups: f64,
    pub(crate) log: f64,
    pub(crate) heel_deg: f64,
    drift_kn: f64,
    towards_deg: f64,
}

impl Errors {
    /// About as large as fitters meet: vane 4 degrees, cups 8 %, log 6 %, heel
    /// 2 degrees, either way, in up to 1.5 kn of current.
    pub(crate) fn drawn(seed: u64) -> Errors {
        let mut dice = Dice::new(seed, "planted errors");
        Errors {
            vane_deg: dice.between(-4.0, 4.0),
            cups: 1.0 + dice.between(-0.08, 0.08),
            log: 1.0 + dice.between(-0.06, 0.06),
            heel_deg: dice.between(-2.0, 2.0),
            drift_kn: dice.between(0.0, 1.5),
            towards_deg: dice.between(0.0, 360.0),
        }
    }
}

/// Which legs are sailed.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Sailed {
    /// Eight tacks, then a beam reach and a broad reach on either tack.
    Whole,
    /// Eight tacks.
    Upwind,
    /// One tack all the time.
    OneTack,
}

const STEADY_WIND: &str = r#"
format = 1
name = "calibration"
story = "Steady wind, as a fitter waits for."
minutes = 130
start = 2026-05-06T09:00:00Z
leg = [{ at_min = 0, wind_angle_deg = 48 }]

[weather]
intensity = 0.08
wander = 0.2
swell_m = 0.6
mean = [{ at_min = 0, speed_kn = 13, from_deg = 210, pressure_hpa = 1016 }]
"#;

const LEG_MIN: f64 = 10.0;

fn legs(sailed: Sailed) -> Vec<Leg> {
    let upwind = (0..9).map(|leg| match (sailed, leg % 2) {
        (Sailed::OneTack, _) | (_, 0) => 48.0,
        _ => -48.0,
    });
    let reaches = [95.0, -95.0, 130.0, -130.0];
    let reaches = reaches.into_iter().filter(|_| sailed == Sailed::Whole);
    upwind
        .chain(reaches)
        .enumerate()
        .map(|(place, angle)| Leg {
            at_min: place as f64 * LEG_MIN,
            heading_deg: None,
            wind_angle_deg: Some(angle),
        })
        .collect()
}

/// Sails it and gathers what the instruments put on the wire.
pub(crate) fn sail(seed: u64, errors: &Errors, sailed: Sailed) -> Vec<Sample> {
    let mut scenario = Scenario::parse(STEADY_WIND).unwrap();
    scenario.leg = legs(sailed);
    scenario.current.drift_kn = errors.drift_kn;
    scenario.current.towards_deg = errors.towards_deg;
    for device in &mut scenario.device {
        match device.name.as_str() {
            "masthead" => {
                device.offset_deg = errors.vane_deg;
                device.speed_factor = errors.cups;
            }
            "log" => device.speed_factor = errors.log,
            "attitude" => device.offset_deg = errors.heel_deg,
            _ => {}
        }
    }
    let seconds = scenario.leg.len() as f64 * LEG_MIN * 60.0;
    let mut decoders: Vec<Decoder> = (0..scenario.line.len() as u8)
        .map(|port| Decoder::new(port, PortOptions::default()))
        .collect();
    let mut passage = Passage::new(scenario, seed);
    let mut gather = Gather::new(None);
    while passage.now_s() < seconds {
        for sentence in passage.step(1.0) {
            let at = Timestamp::from_millis((sentence.due_s * 1000.0) as u64);
            decoders[sentence.line].decode(&sentence.bytes, at, &mut |out| {
                if let Out::Reading(reading) = out
                    && let Heard::Value(measure) = reading.heard
                {
                    gather.hear(measure, at);
                }
            });
        }
    }
    gather.into_samples()
}

/// The same with the side of the wind angle lost.
pub(crate) fn without_sides(mut samples: Vec<Sample>) -> Vec<Sample> {
    for sample in &mut samples {
        sample.felt.y = sample.felt.y.abs();
    }
    samples
}
