//! Instruments: from the boat's true motion to bytes on lines.

mod device;
mod line;
mod masthead;
pub mod sentence;

use serde::Deserialize;

pub use device::{Aboard, Device, DeviceKind, DevicePlan, SAMPLES_PER_S, Says, World};
pub use line::{Sentence, SerialLine};
pub use masthead::{BowWind, Inertia, Unit, UnitState, at_unit, ideal, instrument_true_wind};

use crate::faults::{Faults, LineFaults, Link};

/// A line as a scenario describes it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LinePlan {
    /// Its name, for faults and sinks.
    pub name: String,
    /// Bits a second.
    pub baud: u32,
}

/// All talkers and lines of a boat.
#[derive(Clone, Debug)]
pub struct Suite {
    devices: Vec<(Device, usize)>,
    lines: Vec<(LinePlan, SerialLine, LineFaults)>,
    aboard: Aboard,
}

impl Suite {
    /// Talkers whose line is not there are left out; scenarios are checked first.
    pub fn new(devices: &[DevicePlan], lines: &[LinePlan], seed: u64) -> Self {
        let place = |name: &str| lines.iter().position(|line| line.name == name);
        Self {
            devices: devices
                .iter()
                .enumerate()
                .filter_map(|(index, plan)| {
                    let line = place(&plan.line)?;
                    Some((Device::new(plan.clone(), index, seed), line))
                })
                .collect(),
            lines: lines
                .iter()
                .enumerate()
                .map(|(index, plan)| {
                    let line = SerialLine::new(index, plan.baud);
                    (plan.clone(), line, LineFaults::default())
                })
                .collect(),
            aboard: Aboard::default(),
        }
    }

    /// One sample: everyone on the beat speaks, and what has left its line by
    /// now is put into `heard`, in order of time.
    pub fn tick(
        &mut self,
        tick: u64,
        world: &World,
        faults: &mut Faults,
        heard: &mut Vec<Sentence>,
    ) {
        let dt_s = 1.0 / SAMPLES_PER_S;
        for (plan, line, wrong) in &mut self.lines {
            *wrong = faults.line(&plan.name, plan.baud, world.now_s);
            if let Some(noise) = faults.garbage(wrong, dt_s) {
                line.send(world.now_s, noise);
            }
        }
        for (device, place) in &mut self.devices {
            let wrong = faults.device(device.name(), world.now_s);
            let (plan, line, on_line) = &mut self.lines[*place];
            device.tick(tick, world, &mut self.aboard, &wrong, |bytes| {
                let bytes = faults.mangle(bytes, on_line, plan.baud);
                if !bytes.is_empty() {
                    line.send(world.now_s, bytes);
                }
            });
        }
        let fresh = heard.len();
        for (_, line, wrong) in &mut self.lines {
            match wrong.link {
                Link::Up => line.collect(world.now_s, heard),
                Link::Unplugged | Link::HalfOpen => line.clear(),
            }
        }
        heard[fresh..].sort_by(|a, b| a.due_s.total_cmp(&b.due_s).then(a.line.cmp(&b.line)));
    }

    /// How each line is connected now, in the order of the scenario.
    pub fn links(&self) -> impl Iterator<Item = (&str, Link)> {
        self.lines
            .iter()
            .map(|(plan, _, wrong)| (plan.name.as_str(), wrong.link))
    }

    /// Sentences thrown away because lines were too slow.
    pub fn overruns(&self) -> u64 {
        self.lines.iter().map(|(_, line, _)| line.overruns()).sum()
    }
}
