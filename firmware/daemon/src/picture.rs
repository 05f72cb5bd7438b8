//! The cockpit screen drawn into memory: for terminals, files and pages.

use std::io::Write;
use std::path::Path;

use anyhow::Context;
use cringle_core::time::Timestamp;
use cringle_core::view::View;
use cringle_screen::aboard as screen;
use cringle_screen::draw::{Scene, draw};
use cringle_screen::frame::{COLOUR_320X240, Frame, MONO_128X64, MONO_296X128, Stored};
use cringle_screen::hue::Look;
use cringle_screen::panel::Panel;
use cringle_screen::ui::Ui;
use cringle_screen::words::ENGLISH;
use embedded_graphics::pixelcolor::{BinaryColor, Rgb565};

use crate::aboard::{Aboard, PortState, PortView};
use crate::disk::{KEPT_MODE, write_named};

/// Below so much free space the disk is shown as nearly full.
const LOW_MB: u32 = 500;

/// The panels that can be drawn without the panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// 128x64, on and off.
    Mono,
    /// 296x128, on and off, as on paper.
    Paper,
    /// 320x240, in colour.
    Colour,
    /// The same standing on its short side.
    ColourTall,
}

/// A picture as rows of red, green and blue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Pixels across.
    pub width: usize,
    /// Row by row.
    pub pixels: Vec<[u8; 3]>,
}

impl Picture {
    /// Draws this moment as the screen itself would.
    pub fn draw(size: Size, view: &View, aboard: &Aboard, ui: &Ui) -> Picture {
        Picture::draw_in(ui.look(view), size, view, aboard, ui)
    }

    /// Draws this moment in a look that somebody asked for.
    pub fn draw_in(look: Look, size: Size, view: &View, aboard: &Aboard, ui: &Ui) -> Picture {
        with_screen_part(aboard, view.now, |aboard| {
            let scene = |panel| Scene {
                view,
                aboard,
                ui,
                panel,
                words: &ENGLISH,
            };
            match size {
                Size::Mono => paint::<BinaryColor, MONO_128X64>(&scene(&Panel::OLED_2_42), look),
                Size::Paper => paint::<BinaryColor, MONO_296X128>(&scene(&Panel::PAPER_2_9), look),
                Size::Colour => paint::<Rgb565, COLOUR_320X240>(&scene(&Panel::TFT_2_8), look),
                Size::ColourTall => {
                    paint::<Rgb565, COLOUR_320X240>(&scene(&Panel::TFT_2_8_TALL), look)
                }
            }
        })
    }

    /// Pixels down.
    pub fn height(&self) -> usize {
        self.pixels.len() / self.width.max(1)
    }

    /// The pixel at a place; black beyond the edge.
    pub fn at(&self, x: usize, y: usize) -> [u8; 3] {
        let inside = x < self.width;
        let pixel = self.pixels.get(y * self.width + x).filter(|_| inside);
        pixel.copied().unwrap_or_default()
    }

    /// Half as wide and high: each pixel the mean of four.
    pub fn halved(&self) -> Picture {
        let width = self.width / 2;
        let mean = |x: usize, y: usize| {
            let four = [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(dx, dy)| self.at(x + dx, y + dy));
            [0, 1, 2].map(|c| (four.iter().map(|p| u16::from(p[c])).sum::<u16>() / 4) as u8)
        };
        let rows = 0..self.height() / 2;
        Picture {
            width,
            pixels: rows
                .flat_map(|y| (0..width).map(move |x| (x, y)))
                .map(|(x, y)| mean(2 * x, 2 * y))
                .collect(),
        }
    }

    /// Writes a PNG file, each pixel `scale` pixels wide and high.
    pub fn save_png(&self, path: &Path, scale: usize) -> anyhow::Result<()> {
        let mut bytes = Vec::new();
        self.write_png(&mut bytes, scale)?;
        write_named(path, &bytes, KEPT_MODE)
            .with_context(|| format!("{} cannot be written", path.display()))
    }

    /// Writes a PNG, each pixel `scale` pixels wide and high.
    pub fn write_png(&self, to: impl Write, scale: usize) -> anyhow::Result<()> {
        let scale = scale.clamp(1, 16);
        let (width, height) = (self.width * scale, self.height() * scale);
        let mut encoder = png::Encoder::new(to, width as u32, height as u32);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        let mut bytes = Vec::with_capacity(width * height * 3);
        for y in 0..height {
            for x in 0..width {
                bytes.extend(self.at(x / scale, y / scale));
            }
        }
        let mut writer = encoder.write_header()?;
        writer.write_image_data(&bytes)?;
        writer.finish()?;
        Ok(())
    }
}

fn paint<C: Stored, const BYTES: usize>(scene: &Scene<'_>, look: Look) -> Picture {
    let mut pixels = Vec::new();
    if let Some(mut frame) = Frame::<C, BYTES>::new(scene.panel.size) {
        // Memory takes every pixel: the error of its type cannot be made.
        let Ok(()) = draw(&mut frame, scene, look);
        pixels.extend(frame.rgb());
    }
    Picture {
        width: scene.panel.size.width as usize,
        pixels,
    }
}

/// The daemon's part as the screen takes it, for as long as it is needed.
pub fn with_screen_part<R>(
    aboard: &Aboard,
    now: Timestamp,
    show: impl FnOnce(&screen::Aboard<'_>) -> R,
) -> R {
    let ports: Vec<_> = aboard.ports.iter().map(|it| port(it, now)).collect();
    let raw_lines = aboard.printable_lines();
    let raw_lines: Vec<&str> = raw_lines.iter().map(String::as_str).collect();
    let devices: Vec<&str> = aboard.devices.iter().map(String::as_str).collect();
    show(&screen::Aboard {
        alive: alive(aboard),
        recorder: recorder(aboard),
        storage: storage(aboard),
        devices: &devices,
        ports: &ports,
        pace: aboard.pace,
        raw_lines: &raw_lines,
    })
}

/// The sign of life as the screen takes it.
pub fn alive(aboard: &Aboard) -> screen::Alive {
    screen::Alive {
        beats: aboard.beats,
        still_s: aboard.still_s as f32,
        hung_s: aboard.hung_s as f32,
    }
}

fn port(port: &PortView, now: Timestamp) -> screen::Port<'_> {
    screen::Port {
        name: &port.name,
        state: match port.state {
            PortState::Open if port.is_garbage(now) => screen::PortState::Garbage,
            PortState::Open if port.is_silent(now) => screen::PortState::Silent,
            PortState::Open => screen::PortState::Open,
            PortState::Opening | PortState::Lost(_) | PortState::Ended => screen::PortState::Lost,
        },
        age_s: port.age_s(now).map(|age| age as f32),
        lines: port.lines.saturating_sub(port.refused),
        bad: port.bad(),
    }
}

fn recorder(aboard: &Aboard) -> screen::Recorder {
    match &aboard.recorder {
        None => screen::Recorder::Off,
        Some(state) if state.fault.is_some() => screen::Recorder::Failed,
        Some(_) => screen::Recorder::Recording,
    }
}

fn storage(aboard: &Aboard) -> screen::Storage {
    let free = aboard.recorder.as_ref().and_then(|state| state.free_bytes);
    match free {
        _ if aboard.storage.is_some() => screen::Storage::Failed,
        None => screen::Storage::Unknown,
        Some(bytes) => match u32::try_from(bytes >> 20).unwrap_or(u32::MAX) {
            megabytes if megabytes < LOW_MB => screen::Storage::Low { megabytes },
            megabytes => screen::Storage::Free { megabytes },
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::Engine;
    use cringle_core::act::Act;
    use cringle_core::ladder::PlanId;

    #[test]
    fn a_picture_is_drawn_halved_and_written() {
        let view = cringle_screen::samples::prepare();
        let picture = Picture::draw(Size::Colour, &view, &Aboard::default(), &Ui::new());
        assert_eq!((picture.width, picture.height()), (320, 240));
        let halved = picture.halved();
        assert_eq!((halved.width, halved.height()), (160, 120));
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("screen.png");
        picture.save_png(&path, 2).unwrap();
        let decoder =
            png::Decoder::new(std::io::BufReader::new(std::fs::File::open(path).unwrap()));
        let reader = decoder.read_info().unwrap();
        assert_eq!((reader.info().width, reader.info().height), (640, 480));
    }

    #[test]
    fn the_alive_tick_does_not_turn_with_the_clock() {
        let aboard = Aboard {
            beats: 7,
            ..Aboard::default()
        };
        for second in [1, 2, 100] {
            let now = Timestamp::from_secs(second);
            let beats = with_screen_part(&aboard, now, |part| part.alive.beats);
            assert_eq!(beats, 7);
        }
    }

    #[test]
    fn a_call_looks_other_than_calm_on_every_size() {
        for size in [Size::Mono, Size::Paper, Size::Colour, Size::ColourTall] {
            let draw = |view| Picture::draw(size, &view, &Aboard::default(), &Ui::new());
            let calm = draw(cringle_screen::samples::calm());
            assert_ne!(calm, draw(cringle_screen::samples::reduce()));
            assert_ne!(calm, draw(cringle_screen::samples::blind()));
        }
    }

    #[test]
    fn a_restored_plan_is_drawn_as_one_that_nobody_has_vouched_for() {
        let boat = cringle_boat::example().unwrap().boat;
        let mut before = Engine::new(&boat, Vec::new(), None, Timestamp::ZERO);
        before.act(Act::Plan(PlanId(2)), Timestamp::from_secs(1));
        let saved = before.saved();
        for size in [Size::Mono, Size::Paper, Size::Colour, Size::ColourTall] {
            let mut engine = Engine::new(&boat, Vec::new(), Some(&saved), Timestamp::ZERO);
            let draw = |view: &View| Picture::draw(size, view, &Aboard::default(), &Ui::new());
            let mut view = engine.view();
            let restored = draw(&view);
            // But for this the pictures are of the same moment.
            view.plan.confirmed = Some(view.now);
            assert_ne!(restored, draw(&view), "{size:?}");
            engine.act(Act::Plan(PlanId(2)), Timestamp::from_secs(1));
            assert_eq!(engine.view().plan.confirmed, Some(Timestamp::from_secs(1)));
        }
    }
}
