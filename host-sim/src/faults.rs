//! Faults on demand: in the sensor, on the wire, in the plug.
//!
//! A fault has a kind, a target by name (a device or a line; `all` hits every
//! one) and minutes from and to. Scenarios list them; a bench can raise and
//! clear them by hand.

use serde::{Deserialize, Serialize};

use crate::dice::Dice;

/// One fault of a scenario.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fault {
    /// What goes wrong.
    pub kind: FaultKind,
    /// Device or line it strikes; `all` strikes every one.
    #[serde(default = "everything")]
    pub target: String,
    /// Minutes from the start when it begins.
    #[serde(default)]
    pub from_min: f64,
    /// Minutes from the start when it ends.
    #[serde(default = "for_ever")]
    pub to_min: f64,
    /// How much of it; its meaning and default are the kind's.
    #[serde(default)]
    pub amount: Option<f64>,
}

/// What can go wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FaultKind {
    /// Device: says nothing.
    Silence,
    /// Device: says that it has no data.
    Void,
    /// Device: the vane stays where it was.
    StuckVane,
    /// Device: the cups stand still.
    FrozenCup,
    /// Device: wild values, `amount` a minute (6).
    Spikes,
    /// Device: angle or heading off by `amount` degrees (15).
    Offset,
    /// Device: speed reads `amount` times too much (1.4).
    SpeedFactor,
    /// Device: its clock is `amount` seconds ahead (3600).
    ClockStep,
    /// Line: `amount` bytes of noise a second (20).
    Garbage,
    /// Line: the listener runs at `amount` baud (4800, or 38400 on a 4800 line).
    WrongBaud,
    /// Line: a share `amount` of the bytes is lost (0.02).
    DroppedBytes,
    /// Line: a share `amount` of the bytes comes twice (0.02).
    DoubledBytes,
    /// Line: a share `amount` of the sentences has a wrong checksum (0.2).
    BadChecksum,
    /// Line: the plug is pulled; the port goes away and comes back with its end.
    Unplug,
    /// Line: the connection stands and nothing comes.
    HalfOpen,
    /// Nothing here: the disk of the listener is full, for whoever runs it.
    DiskFull,
}

impl FaultKind {
    /// Every kind: first those of a device, then those of a line.
    pub const ALL: [FaultKind; 16] = [
        FaultKind::Silence,
        FaultKind::Void,
        FaultKind::StuckVane,
        FaultKind::FrozenCup,
        FaultKind::Spikes,
        FaultKind::Offset,
        FaultKind::SpeedFactor,
        FaultKind::ClockStep,
        FaultKind::Garbage,
        FaultKind::WrongBaud,
        FaultKind::DroppedBytes,
        FaultKind::DoubledBytes,
        FaultKind::BadChecksum,
        FaultKind::Unplug,
        FaultKind::HalfOpen,
        FaultKind::DiskFull,
    ];

    /// What it strikes.
    pub fn strikes(self) -> Strikes {
        match self {
            FaultKind::Silence
            | FaultKind::Void
            | FaultKind::StuckVane
            | FaultKind::FrozenCup
            | FaultKind::Spikes
            | FaultKind::Offset
            | FaultKind::SpeedFactor
            | FaultKind::ClockStep => Strikes::Device,
            FaultKind::Garbage
            | FaultKind::WrongBaud
            | FaultKind::DroppedBytes
            | FaultKind::DoubledBytes
            | FaultKind::BadChecksum
            | FaultKind::Unplug
            | FaultKind::HalfOpen => Strikes::Line,
            FaultKind::DiskFull => Strikes::Disk,
        }
    }
}

/// What a fault strikes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Strikes {
    /// A talker.
    Device,
    /// A line.
    Line,
    /// The disk of the listener.
    Disk,
}

/// How a line is connected.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Link {
    /// As it should be.
    #[default]
    Up,
    /// The plug is out.
    Unplugged,
    /// Connected, and silent.
    HalfOpen,
}

/// Room on the disk of the listener.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Disk {
    /// Room enough.
    Room,
    /// Full.
    Full,
}

/// What is wrong with one device now.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DeviceFaults {
    /// Says nothing.
    pub silent: bool,
    /// Says that it has no data.
    pub void: bool,
    /// Vane stays where it was.
    pub stuck_vane: bool,
    /// Cups stand still.
    pub frozen_cup: bool,
    /// Wild values a minute.
    pub spikes_per_min: f64,
    /// Degrees off.
    pub offset_deg: f64,
    /// Speed factor less 1.
    pub speed_excess: f64,
    /// Clock ahead, s.
    pub clock_s: f64,
}

/// What is wrong with one line now.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LineFaults {
    /// Noise bytes a second.
    pub garbage_per_s: f64,
    /// The listener's baud rate, if it is wrong.
    pub heard_at_baud: Option<f64>,
    /// Share of bytes lost.
    pub dropped: f64,
    /// Share of bytes doubled.
    pub doubled: f64,
    /// Share of sentences with a wrong sum.
    pub bad_sums: f64,
    /// How it is connected.
    pub link: Link,
}

/// All faults of a passage.
#[derive(Clone, Debug)]
pub struct Faults {
    faults: Vec<Fault>,
    dice: Dice,
}

impl Faults {
    /// The faults a scenario lists.
    pub fn new(faults: Vec<Fault>, seed: u64) -> Self {
        Self {
            faults,
            dice: Dice::new(seed, "faults"),
        }
    }

    /// Raises one more.
    pub fn raise(&mut self, fault: Fault) {
        self.faults.push(fault);
    }

    /// Takes back every fault of this kind on this target.
    pub fn clear(&mut self, kind: FaultKind, target: &str) {
        self.faults
            .retain(|fault| fault.kind != kind || fault.target != target);
    }

    /// What is wrong with this device.
    pub fn device(&self, name: &str, now_s: f64) -> DeviceFaults {
        let mut sum = DeviceFaults::default();
        for fault in self.active(name, now_s) {
            match fault.kind {
                FaultKind::Silence => sum.silent = true,
                FaultKind::Void => sum.void = true,
                FaultKind::StuckVane => sum.stuck_vane = true,
                FaultKind::FrozenCup => sum.frozen_cup = true,
                FaultKind::Spikes => sum.spikes_per_min += fault.amount.unwrap_or(6.0),
                FaultKind::Offset => sum.offset_deg += fault.amount.unwrap_or(15.0),
                FaultKind::SpeedFactor => sum.speed_excess += fault.amount.unwrap_or(1.4) - 1.0,
                FaultKind::ClockStep => sum.clock_s += fault.amount.unwrap_or(3600.0),
                FaultKind::Garbage
                | FaultKind::WrongBaud
                | FaultKind::DroppedBytes
                | FaultKind::DoubledBytes
                | FaultKind::BadChecksum
                | FaultKind::Unplug
                | FaultKind::HalfOpen
                | FaultKind::DiskFull => {}
            }
        }
        sum
    }

    /// What is wrong with this line.
    pub fn line(&self, name: &str, baud: u32, now_s: f64) -> LineFaults {
        let mut sum = LineFaults::default();
        for fault in self.active(name, now_s) {
            match fault.kind {
                FaultKind::Garbage => sum.garbage_per_s += fault.amount.unwrap_or(20.0),
                FaultKind::WrongBaud => {
                    let usual = if baud == 4800 { 38_400.0 } else { 4800.0 };
                    sum.heard_at_baud = Some(fault.amount.unwrap_or(usual));
                }
                FaultKind::DroppedBytes => sum.dropped += fault.amount.unwrap_or(0.02),
                FaultKind::DoubledBytes => sum.doubled += fault.amount.unwrap_or(0.02),
                FaultKind::BadChecksum => sum.bad_sums += fault.amount.unwrap_or(0.2),
                FaultKind::Unplug => sum.link = Link::Unplugged,
                FaultKind::HalfOpen => sum.link = Link::HalfOpen,
                FaultKind::Silence
                | FaultKind::Void
                | FaultKind::StuckVane
                | FaultKind::FrozenCup
                | FaultKind::Spikes
                | FaultKind::Offset
                | FaultKind::SpeedFactor
                | FaultKind::ClockStep
                | FaultKind::DiskFull => {}
            }
        }
        sum
    }

    /// Room on the listener's disk.
    pub fn disk(&self, now_s: f64) -> Disk {
        let full = self
            .faults
            .iter()
            .any(|fault| fault.kind == FaultKind::DiskFull && fault.is_active(now_s));
        if full { Disk::Full } else { Disk::Room }
    }

    /// What the listener hears of `bytes`.
    pub fn mangle(&mut self, bytes: Vec<u8>, line: &LineFaults, baud: u32) -> Vec<u8> {
        let dice = &mut self.dice;
        let mut bytes = bytes;
        if line.bad_sums > 0.0 && dice.happens(line.bad_sums) {
            spoil_sum(&mut bytes);
        }
        if line.dropped > 0.0 {
            bytes.retain(|_| !dice.happens(line.dropped));
        }
        if line.doubled > 0.0 {
            bytes = bytes
                .iter()
                .flat_map(|byte| {
                    let times = if dice.happens(line.doubled) { 2 } else { 1 };
                    core::iter::repeat_n(*byte, times)
                })
                .collect();
        }
        match line.heard_at_baud {
            Some(heard_at) => misread(&bytes, f64::from(baud), heard_at),
            None => bytes,
        }
    }

    /// Noise between the sentences of this line.
    pub fn garbage(&mut self, line: &LineFaults, dt_s: f64) -> Option<Vec<u8>> {
        let expected = line.garbage_per_s * dt_s;
        if expected <= 0.0 || !self.dice.happens(expected.min(1.0)) {
            return None;
        }
        let count = libm::ceil(expected) as usize;
        Some((0..count).map(|_| self.dice.byte()).collect())
    }

    fn active<'a>(&'a self, name: &'a str, now_s: f64) -> impl Iterator<Item = &'a Fault> {
        self.faults
            .iter()
            .filter(move |fault| fault.strikes(name) && fault.is_active(now_s))
    }
}

impl Fault {
    fn strikes(&self, name: &str) -> bool {
        self.target == "all" || self.target == name
    }

    fn is_active(&self, now_s: f64) -> bool {
        (self.from_min * 60.0..self.to_min * 60.0).contains(&now_s)
    }

    /// True if it belongs to a line and not to a device.
    pub fn is_on_the_line(&self) -> bool {
        self.kind.strikes() == Strikes::Line
    }
}

/// What a receiver makes of bytes that were sent at another rate: the line's
/// level is sampled in the middle of each bit it believes in.
fn misread(bytes: &[u8], sent_baud: f64, heard_baud: f64) -> Vec<u8> {
    let level = |time_s: f64| -> bool {
        let bit = libm::floor(time_s * sent_baud) as i64;
        let Some(byte) = usize::try_from(bit / 10).ok().and_then(|at| bytes.get(at)) else {
            return true;
        };
        match bit % 10 {
            0 => false,
            9 => true,
            data => byte >> (data - 1) & 1 == 1,
        }
    };
    let end_s = bytes.len() as f64 * 10.0 / sent_baud;
    let (bit_s, look_s) = (1.0 / heard_baud, 0.125 / heard_baud.max(sent_baud));
    let mut heard = Vec::new();
    let mut now_s = 0.0;
    while now_s < end_s {
        if level(now_s) {
            now_s += look_s;
            continue;
        }
        let byte = (0..8).fold(0u8, |byte, data| {
            let sampled = level(now_s + (1.5 + f64::from(data)) * bit_s);
            byte | (u8::from(sampled) << data)
        });
        heard.push(byte);
        now_s += 9.6 * bit_s;
    }
    heard
}

/// Makes the sum wrong and leaves the line well-formed.
fn spoil_sum(bytes: &mut [u8]) {
    let star = bytes.iter().position(|byte| *byte == b'*');
    if let Some(digit) = star.and_then(|star| bytes.get_mut(star + 2)) {
        *digit = if *digit == b'0' { b'1' } else { b'0' };
    }
}

fn everything() -> String {
    "all".to_owned()
}

fn for_ever() -> f64 {
    f64::INFINITY
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: &[u8] = b"$WIMWV,214.8,R,15.6,N,A*1E\r\n";

    fn faults(kind: FaultKind, amount: f64) -> Faults {
        let fault = Fault {
            kind,
            target: "mast".to_owned(),
            from_min: 1.0,
            to_min: 2.0,
            amount: Some(amount),
        };
        Faults::new(vec![fault], 1)
    }

    fn heard(kind: FaultKind, amount: f64) -> Vec<u8> {
        let mut faults = faults(kind, amount);
        let line = faults.line("mast", 4800, 90.0);
        faults.mangle(LINE.to_vec(), &line, 4800)
    }

    #[test]
    fn a_fault_strikes_its_target_in_its_time_only() {
        let faults = faults(FaultKind::Silence, 0.0);
        assert!(faults.device("mast", 60.0).silent);
        assert!(!faults.device("mast", 59.9).silent);
        assert!(!faults.device("mast", 120.0).silent);
        assert!(!faults.device("log", 90.0).silent);
    }

    #[test]
    fn without_a_fault_bytes_pass_untouched() {
        let mut faults = Faults::new(Vec::new(), 1);
        let line = faults.line("mast", 4800, 0.0);
        assert_eq!(faults.mangle(LINE.to_vec(), &line, 4800), LINE);
        assert_eq!(faults.garbage(&line, 0.1), None);
    }

    #[test]
    fn dropped_and_doubled_bytes_change_the_length() {
        assert!(heard(FaultKind::DroppedBytes, 0.5).len() < LINE.len());
        assert!(heard(FaultKind::DoubledBytes, 0.5).len() > LINE.len());
        assert_eq!(heard(FaultKind::DoubledBytes, 1.0).len(), 2 * LINE.len());
    }

    #[test]
    fn a_bad_sum_leaves_the_rest_alone() {
        let bytes = heard(FaultKind::BadChecksum, 1.0);
        assert_eq!(bytes.len(), LINE.len());
        let differ = bytes.iter().zip(LINE).filter(|(a, b)| a != b).count();
        assert_eq!(differ, 1);
    }

    #[test]
    fn the_right_baud_reads_every_byte_and_a_wrong_one_none() {
        assert_eq!(misread(LINE, 4800.0, 4800.0), LINE);
        // A receiver two parts in a hundred off still reads, as real ones do.
        assert_eq!(misread(LINE, 4800.0, 4896.0), LINE);
        let slow = misread(LINE, 38_400.0, 4800.0);
        assert!(slow.len() < LINE.len() / 4 && !slow.contains(&b'$'));
        let fast = heard(FaultKind::WrongBaud, 38_400.0);
        assert!(fast.len() > LINE.len() && !fast.windows(3).any(|w| w == b"MWV"));
    }

    #[test]
    fn garbage_comes_at_its_rate() {
        let mut faults = faults(FaultKind::Garbage, 20.0);
        let line = faults.line("mast", 4800, 90.0);
        let bytes: usize = (0..1000)
            .filter_map(|_| faults.garbage(&line, 0.1))
            .map(|bytes| bytes.len())
            .sum();
        assert!((1900..2100).contains(&bytes), "{bytes}");
    }

    #[test]
    fn plug_connection_and_disk_are_told_to_those_who_act_on_them() {
        let link = |kind| faults(kind, 0.0).line("mast", 4800, 90.0).link;
        assert_eq!(link(FaultKind::Unplug), Link::Unplugged);
        assert_eq!(link(FaultKind::HalfOpen), Link::HalfOpen);
        assert_eq!(link(FaultKind::Garbage), Link::Up);
        assert_eq!(faults(FaultKind::DiskFull, 0.0).disk(90.0), Disk::Full);
        assert_eq!(faults(FaultKind::DiskFull, 0.0).disk(0.0), Disk::Room);
    }

    #[test]
    fn a_fault_raised_by_hand_can_be_cleared() {
        let mut faults = Faults::new(Vec::new(), 1);
        let fault = Fault {
            kind: FaultKind::Void,
            target: "all".to_owned(),
            from_min: 0.0,
            to_min: f64::INFINITY,
            amount: None,
        };
        faults.raise(fault);
        assert!(faults.device("mast", 5.0).void);
        faults.clear(FaultKind::Void, "all");
        assert!(!faults.device("mast", 5.0).void);
    }
}
