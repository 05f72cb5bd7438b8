//! Keeps one chip going: what changed, fresh starts, faults and retries.

use cringle_core::time::Timestamp;
use embedded_graphics::primitives::Rectangle;

use super::redraw_limits::{Changed, RedrawStep};
use super::{Brightness, Change, Haste, Notes, Panel, PanelFault, Redraw, RedrawLimits, Shown};
use crate::backoff::Backoff;
use crate::frame::{Frame, Geometry};

/// A display chip and its driver crate. Errors say what the bus did.
pub trait Chip: Send {
    /// Resets and sets up the chip, from whatever state it is in.
    fn start(&mut self) -> Result<(), String>;

    /// Sends the whole frame, just after a start.
    fn send_whole(&mut self, frame: &Frame) -> Result<(), String>;

    /// Sends what changed.
    fn send_parts(&mut self, change: &Change<'_>) -> Result<(), String>;

    /// Sets how bright it is; called after each start too.
    fn set_brightness(&mut self, brightness: Brightness) -> Result<(), String>;
}

/// Opens the device nodes of a chip, anew after each fault: an adapter that
/// was unplugged comes back as another open file.
pub type Opener<C> = Box<dyn FnMut(&Notes) -> Result<C, String> + Send>;

/// A panel that outlives its faults.
pub struct Kept<C> {
    node: String,
    geometry: Geometry,
    open: Opener<C>,
    chip: Option<C>,
    glass: Option<Frame>,
    limits: RedrawLimits,
    backoff: Backoff,
    deferred: Option<Timestamp>,
    fault: Option<PanelFault>,
    brightness: Brightness,
    brightness_set: Option<Brightness>,
    notes: Notes,
}

impl<C: Chip> Kept<C> {
    /// A panel on `node`, opened at the first frame.
    pub fn new(
        node: impl Into<String>,
        geometry: Geometry,
        limits: RedrawLimits,
        open: Opener<C>,
    ) -> Self {
        Kept {
            node: node.into(),
            geometry,
            open,
            chip: None,
            glass: None,
            limits,
            backoff: Backoff::new(),
            deferred: None,
            fault: None,
            brightness: Brightness::FULL,
            brightness_set: None,
            notes: Notes::default(),
        }
    }

    fn redraw(
        &mut self,
        frame: &Frame,
        areas: &[Rectangle],
        redraw: Redraw,
    ) -> Result<(), PanelFault> {
        let chip = match &mut self.chip {
            Some(chip) => chip,
            empty => {
                let chip = (self.open)(&self.notes).map_err(|why| PanelFault::Open {
                    node: self.node.clone(),
                    why,
                })?;
                empty.insert(chip)
            }
        };
        let sent = match (redraw, &self.glass) {
            (Redraw::Parts, Some(old)) => {
                let new = frame;
                dim(chip, self.brightness, &mut self.brightness_set)
                    .and_then(|()| chip.send_parts(&Change { old, new, areas }))
            }
            (Redraw::Parts, None) | (Redraw::Whole, _) => {
                self.brightness_set = None;
                chip.start()
                    .and_then(|()| dim(chip, self.brightness, &mut self.brightness_set))
                    .and_then(|()| chip.send_whole(frame))
            }
        };
        sent.map_err(|why| PanelFault::Bus {
            node: self.node.clone(),
            why,
        })
    }

    fn went_well(&mut self, frame: &Frame, redraw: Redraw, now: Timestamp) {
        self.glass = Some(frame.clone());
        self.fault = None;
        self.backoff.worked();
        self.limits.done(redraw, now);
    }

    /// Lets go of the device: what the glass shows is unknown from here on.
    fn went_wrong(&mut self, fault: PanelFault, now: Timestamp) -> PanelFault {
        self.chip = None;
        self.glass = None;
        self.limits.lost();
        self.backoff.failed(now);
        self.fault = Some(fault.clone());
        fault
    }
}

fn dim<C: Chip>(
    chip: &mut C,
    wanted: Brightness,
    set: &mut Option<Brightness>,
) -> Result<(), String> {
    if *set != Some(wanted) {
        chip.set_brightness(wanted)?;
        *set = Some(wanted);
    }
    Ok(())
}

impl<C: Chip> Panel for Kept<C> {
    fn geometry(&self) -> Geometry {
        self.geometry
    }

    fn show(&mut self, frame: &Frame, haste: Haste, now: Timestamp) -> Result<Shown, PanelFault> {
        if frame.geometry() != self.geometry {
            return Err(PanelFault::Frame {
                wanted: self.geometry,
                given: frame.geometry(),
            });
        }
        if let Some(fault) = self.fault.clone().filter(|_| self.backoff.is_waiting(now)) {
            return Err(fault);
        }
        let areas = match &self.glass {
            Some(old) => frame.changes_since(old),
            None => vec![frame.whole()],
        };
        let dimmed = self.brightness_set != Some(self.brightness);
        let changed = if areas.is_empty() && !dimmed {
            Changed::No
        } else {
            Changed::Yes
        };
        self.deferred = None;
        let redraw = match self.limits.step(changed, haste, now) {
            RedrawStep::Nothing => return Ok(Shown::Unchanged),
            RedrawStep::Wait { until } => {
                self.deferred = Some(until);
                return Ok(Shown::Deferred { until });
            }
            RedrawStep::Redraw(redraw) => redraw,
        };
        let before = self.notes.bytes();
        match self.redraw(frame, &areas, redraw) {
            Ok(()) => {
                self.went_well(frame, redraw, now);
                let bytes = self.notes.bytes() - before;
                Ok(Shown::Sent { bytes, redraw })
            }
            Err(fault) => Err(self.went_wrong(fault, now)),
        }
    }

    fn set_brightness(&mut self, brightness: Brightness) {
        self.brightness = brightness;
    }

    fn next_deadline(&self) -> Option<Timestamp> {
        self.backoff
            .next_try()
            .or(self.deferred)
            .or(self.limits.whole_due())
    }

    fn bytes_sent(&self) -> u64 {
        self.notes.bytes()
    }
}
