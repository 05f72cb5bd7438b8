//! How long a picture takes, by page and panel: `cargo bench -p cringle-screen`.

use cringle_screen::draw::{Scene, draw};
use cringle_screen::frame::{COLOUR_320X240, Frame, MONO_128X64, MONO_296X128, Stored};
use cringle_screen::hue::{Look, Palette};
use cringle_screen::panel::Panel;
use cringle_screen::samples;
use cringle_screen::ui::{Page, Ui};
use cringle_screen::words::ENGLISH;
use divan::Bencher;
use embedded_graphics::pixelcolor::{BinaryColor, Rgb565};

fn main() {
    divan::main();
}

#[divan::bench(args = Page::ALL)]
fn mono_128x64(bencher: Bencher<'_, '_>, page: Page) {
    measure::<BinaryColor, MONO_128X64>(bencher, &Panel::OLED_2_42, page);
}

#[divan::bench(args = Page::ALL)]
fn paper_296x128(bencher: Bencher<'_, '_>, page: Page) {
    measure::<BinaryColor, MONO_296X128>(bencher, &Panel::PAPER_2_9, page);
}

#[divan::bench(args = Page::ALL)]
fn colour_320x240(bencher: Bencher<'_, '_>, page: Page) {
    measure::<Rgb565, COLOUR_320X240>(bencher, &Panel::TFT_2_8, page);
}

/// A call takes the whole panel with the largest letters there are.
#[divan::bench]
fn colour_320x240_call(bencher: Bencher<'_, '_>) {
    let mut frame: Box<Frame<Rgb565, COLOUR_320X240>> =
        Box::new(Frame::new(Panel::TFT_2_8.size).expect("fits"));
    let view = samples::past();
    let ui = Ui::new();
    let aboard = samples::aboard(&samples::PORTS, &samples::RAW_LINES);
    let scene = Scene {
        view: &view,
        aboard: &aboard,
        ui: &ui,
        panel: &Panel::TFT_2_8,
        words: &ENGLISH,
    };
    bencher.bench_local(|| draw(frame.as_mut(), &scene, Look::of(Palette::Day)));
}

/// Finding what changed, where nothing has but the tick.
#[divan::bench]
fn colour_320x240_changes(bencher: Bencher<'_, '_>) {
    let frame: Box<Frame<Rgb565, COLOUR_320X240>> =
        Box::new(Frame::new(Panel::TFT_2_8.size).expect("fits"));
    let shown = frame.clone();
    bencher.bench_local(|| frame.changes(&shown).count());
}

fn measure<C: Stored, const BYTES: usize>(bencher: Bencher<'_, '_>, panel: &Panel, page: Page) {
    let mut frame: Box<Frame<C, BYTES>> = Box::new(Frame::new(panel.size).expect("fits"));
    let view = samples::acknowledged();
    let ui = Ui::at(page);
    let aboard = samples::aboard(&samples::PORTS, &samples::RAW_LINES);
    let scene = Scene {
        view: &view,
        aboard: &aboard,
        ui: &ui,
        panel,
        words: &ENGLISH,
    };
    bencher.bench_local(|| draw(frame.as_mut(), &scene, Look::of(Palette::Day)));
}
