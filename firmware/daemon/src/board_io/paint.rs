//! Draws the moment for the board's panel and puts it up.
//!
//! BoardIo is drawn once a second, at each new state of the call, at each key,
//! and at the edges of the flash while nobody has acknowledged it. Paper is drawn
//! when something worth it has changed.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use cringle_boards::frame::{Frame, Geometry, Picture};
use cringle_boards::panel::{Brightness, Haste, Panel, PanelThread};
use cringle_core::time::Timestamp;
use cringle_core::view::AlertState;
use cringle_screen::draw::{Scene, draw};
use cringle_screen::hue::Hue;
use cringle_screen::panel::{self as screen, Kind};
use cringle_screen::paper::{Policy, Refresh, Touch};
use cringle_screen::words::ENGLISH;
use embedded_graphics::Pixel;
use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::geometry::{OriginDimensions, Point, Size};
use embedded_graphics::mono_font::MonoTextStyle;
use embedded_graphics::mono_font::ascii::{FONT_6X10, FONT_10X20};
use embedded_graphics::pixelcolor::{BinaryColor, Rgb565, RgbColor};
use embedded_graphics::text::{Alignment, Baseline, Text, TextStyleBuilder};

use super::Wall;
use super::faults::Faults;
use super::moment::{Latest, LatestMoment, Moment};
use crate::picture::{alive, with_screen_part};

/// An unacknowledged call is steady so long in each second, then flashed.
const STEADY_MS: u64 = 600;
/// One round of the flash, and the longest time between two drawings.
const ROUND_MS: u64 = 1000;

/// Draws for one panel.
pub(super) struct Painter {
    panel_thread: PanelThread,
    studio: Studio,
    faults: Faults,
}

impl Painter {
    pub(super) fn new(
        panel: Box<dyn Panel>,
        glass: screen::Panel,
        faults: Faults,
        wall: &Wall,
    ) -> std::io::Result<Painter> {
        let geometry = panel.geometry();
        let clock = Arc::clone(wall);
        Ok(Painter {
            panel_thread: PanelThread::start(panel, move || clock())?,
            studio: Studio::new(geometry, glass),
            faults,
        })
    }

    /// Paints until the watch ends; the last picture says that it has.
    pub(super) fn run(mut self, latest: &Latest, wall: &Wall) -> std::io::Result<()> {
        let mut found = latest.look();
        while !found.ends {
            let next = self.paint(&found, wall());
            found = latest.wait(found.number, next.since(wall()));
        }
        let last = self.studio.not_watching(found.moment.as_deref());
        self.panel_thread.put(last, Haste::Whole);
        Ok(())
    }

    fn paint(&mut self, found: &LatestMoment, now: Timestamp) -> Timestamp {
        if let Some((frame, haste)) = self.studio.draw(found, now) {
            self.panel_thread.set_brightness(self.studio.brightness);
            self.panel_thread.put(frame, haste);
        }
        let fault = self.panel_thread.fault().map(|fault| fault.to_string());
        self.faults.set("panel", fault);
        self.studio.next(found, now)
    }
}

/// Decides when to draw, and draws.
pub(super) struct Studio {
    geometry: Geometry,
    glass: screen::Panel,
    policy: Policy,
    drawn: Option<Drawn>,
    touches: u64,
    brightness: Brightness,
}

/// What was drawn last, as far as it makes a new drawing due.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Drawn {
    second: u64,
    flashed: bool,
    call: (u32, u32, AlertState),
    touches: u64,
}

impl Studio {
    pub(super) fn new(geometry: Geometry, glass: screen::Panel) -> Studio {
        Studio {
            geometry,
            glass,
            policy: Policy::new(),
            drawn: None,
            touches: 0,
            brightness: Brightness::FULL,
        }
    }

    /// The picture of now, if it is time for one.
    pub(super) fn draw(&mut self, found: &LatestMoment, now: Timestamp) -> Option<(Frame, Haste)> {
        let moment = found.moment.as_ref()?.aged(now);
        let haste = match self.glass.kind {
            Kind::Lit => self.haste_on_glass(found, &moment)?,
            Kind::Paper => self.haste_on_paper(found, &moment, now)?,
        };
        Some((self.picture(&moment), haste))
    }

    /// When to look again though nothing new was handed over.
    pub(super) fn next(&self, found: &LatestMoment, now: Timestamp) -> Timestamp {
        let Some(moment) = &found.moment else {
            return now.after(Duration::from_millis(ROUND_MS));
        };
        let into = moment.aged(now).view.now.as_millis() % ROUND_MS;
        let edge = match into {
            ..STEADY_MS => STEADY_MS,
            _ => ROUND_MS,
        };
        now.after(Duration::from_millis(edge - into))
    }

    fn haste_on_glass(&mut self, found: &LatestMoment, moment: &Moment) -> Option<Haste> {
        let (view, call) = (&moment.view, &moment.view.call);
        let millis = view.now.as_millis();
        let flashes = matches!(
            call.alert,
            AlertState::Unacknowledged | AlertState::RectifiedUnacknowledged
        );
        let drawn = Drawn {
            second: millis / ROUND_MS,
            flashed: flashes && millis % ROUND_MS >= STEADY_MS,
            call: (call.id, call.revision, call.alert),
            touches: found.touches,
        };
        if self.drawn == Some(drawn) {
            return None;
        }
        self.drawn = Some(drawn);
        Some(Haste::Call)
    }

    fn haste_on_paper(
        &mut self,
        found: &LatestMoment,
        moment: &Moment,
        now: Timestamp,
    ) -> Option<Haste> {
        let touch = match found.touches == self.touches {
            true => Touch::None,
            false => Touch::Key,
        };
        let alive = alive(&moment.aboard);
        let haste = match self.policy.next(&moment.view, &alive, touch, now) {
            Refresh::Keep => return None,
            Refresh::Partial => Haste::Call,
            Refresh::Full => Haste::Whole,
        };
        // A press waits for the paper, it is not forgotten.
        self.touches = found.touches;
        Some(haste)
    }

    fn picture(&mut self, moment: &Moment) -> Frame {
        let look = moment.ui.look(&moment.view);
        let percent = u32::from(look.brightness.drive()) * 100 / 255;
        self.brightness = Brightness::percent(percent as u8);
        let mut frame = Frame::blank(self.geometry);
        match &mut frame {
            Frame::Mono(picture) => match self.glass.kind {
                Kind::Lit => paint(picture, moment, &self.glass),
                Kind::Paper => paint(&mut Ink(picture), moment, &self.glass),
            },
            Frame::Colour(picture) => paint(picture, moment, &self.glass),
        }
        frame
    }

    /// The last picture of all, with the time from which on nobody watches.
    pub(super) fn not_watching(&self, moment: Option<&Moment>) -> Frame {
        let utc = moment.and_then(|moment| moment.view.unix_ms);
        let since = utc.map(|unix_ms| {
            let minutes = unix_ms.div_euclid(60_000).rem_euclid(24 * 60);
            format!("{:02}:{:02} UTC", minutes / 60, minutes % 60)
        });
        let mut frame = Frame::blank(self.geometry);
        let since = since.unwrap_or_default();
        // On paper "on" is ink, on glass it is light: both can be read.
        match &mut frame {
            Frame::Mono(picture) => farewell(picture, BinaryColor::On, &since),
            Frame::Colour(picture) => farewell(picture, Rgb565::WHITE, &since),
        }
        frame
    }
}

fn paint<D>(target: &mut D, moment: &Moment, panel: &screen::Panel)
where
    D: DrawTarget<Error = Infallible>,
    D::Color: Hue,
{
    let view = &moment.view;
    let look = moment.ui.look(view);
    with_screen_part(&moment.aboard, view.now, |aboard| {
        let scene = Scene {
            view,
            aboard,
            ui: &moment.ui,
            panel,
            words: &ENGLISH,
        };
        let Ok(()) = draw(target, &scene, look);
    });
}

fn farewell<D>(target: &mut D, ink: D::Color, since: &str)
where
    D: DrawTarget<Error = Infallible>,
{
    let middle = target.bounding_box().center();
    let style = TextStyleBuilder::new()
        .alignment(Alignment::Center)
        .baseline(Baseline::Bottom)
        .build();
    let words = ENGLISH.home.not_watching.to_uppercase();
    let large = MonoTextStyle::new(&FONT_10X20, ink);
    let small = MonoTextStyle::new(&FONT_6X10, ink);
    for (words, font, down) in [(words.as_str(), large, 4), (since, small, 20)] {
        let at = middle + Point::new(0, down);
        let Ok(_) = embedded_graphics::Drawable::draw(
            &Text::with_text_style(words, at, font, style),
            target,
        );
    }
}

/// Paper: what the screen calls dark is ink there.
struct Ink<'p>(&'p mut Picture<BinaryColor>);

impl OriginDimensions for Ink<'_> {
    fn size(&self) -> Size {
        self.0.size()
    }
}

impl DrawTarget for Ink<'_> {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I>(&mut self, pixels: I) -> Result<(), Infallible>
    where
        I: IntoIterator<Item = Pixel<BinaryColor>>,
    {
        let inked = pixels
            .into_iter()
            .map(|Pixel(at, it)| Pixel(at, it.invert()));
        self.0.draw_iter(inked)
    }
}
