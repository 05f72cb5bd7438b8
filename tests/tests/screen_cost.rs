//! What a picture costs on the wire: bytes for the whole of it, and for what
//! changed a second later.

use std::fmt::Write as _;
use std::path::Path;

use cringle_core::time::Timestamp;
use cringle_core::view::View;
use cringle_screen::draw::{Scene, draw};
use cringle_screen::frame::{COLOUR_320X240, Frame, MONO_128X64, MONO_296X128, Stored};
use cringle_screen::hue::{Look, Palette};
use cringle_screen::panel::Panel;
use cringle_screen::samples;
use cringle_screen::ui::{Page, Ui};
use cringle_screen::words::ENGLISH;
use cringle_tests::snapshot;
use embedded_graphics::pixelcolor::{BinaryColor, Rgb565};

type Step = fn(&mut View);

/// What happens between two pictures.
const STEPS: [(&str, Step); 4] = [
    ("the tick alone", |_| {}),
    ("wind +0.4 kn", |view| shift_wind(view, 0.4)),
    ("a call comes", |view| *view = samples::prepare()),
    ("it flashes", |view| {
        *view = samples::prepare();
        view.now = Timestamp::from_millis(view.now.as_millis() + 700);
    }),
];

fn shift_wind(view: &mut View, by: f64) {
    for value in [
        &mut view.wind.mean_1min_kn,
        &mut view.wind.gust_kn,
        &mut view.wind.tws_kn,
    ] {
        *value = value.map(|knots| knots + by);
    }
}

#[test]
fn the_table_of_bytes_is_what_dirty_areas_give() {
    let mut table = String::from("| panel | page | whole picture |");
    for (name, _) in STEPS {
        write!(table, " {name} |").expect("memory");
    }
    table.push_str("\n|---|---|---|---|---|---|---|\n");
    for page in Page::ALL {
        rows::<BinaryColor, MONO_128X64>(&mut table, "128x64 mono", &Panel::OLED_2_42, page);
    }
    rows::<BinaryColor, MONO_296X128>(
        &mut table,
        "296x128 e-paper",
        &Panel::PAPER_2_9,
        Page::Ladder,
    );
    for page in Page::ALL {
        rows::<Rgb565, COLOUR_320X240>(&mut table, "320x240 colour", &Panel::TFT_2_8, page);
    }
    println!("{table}");
    let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("../firmware/screen/README.md");
    snapshot::marked(&readme, "bytes", &table);
}

#[test]
fn the_tick_alone_costs_a_small_part_of_a_picture() {
    let mono = step_bytes::<BinaryColor, MONO_128X64>(
        &Panel::OLED_2_42,
        Page::Ladder,
        STEPS[0].1,
        samples::calm(),
    );
    assert!(mono > 0 && mono * 20 < MONO_128X64, "{mono}");
    let colour = step_bytes::<Rgb565, COLOUR_320X240>(
        &Panel::TFT_2_8,
        Page::Ladder,
        STEPS[0].1,
        samples::calm(),
    );
    assert!(colour > 0 && colour * 100 < COLOUR_320X240, "{colour}");
}

fn rows<C: Stored, const BYTES: usize>(table: &mut String, name: &str, panel: &Panel, page: Page) {
    write!(table, "| {name} | {page:?} | {BYTES} |").expect("memory");
    for (step, change) in STEPS {
        let from = if step == "it flashes" {
            samples::prepare()
        } else {
            samples::calm()
        };
        write!(
            table,
            " {} |",
            step_bytes::<C, BYTES>(panel, page, change, from)
        )
        .expect("memory");
    }
    table.push('\n');
}

/// Bytes of the areas that change in one step.
fn step_bytes<C: Stored, const BYTES: usize>(
    panel: &Panel,
    page: Page,
    change: Step,
    from: View,
) -> usize {
    let before = picture::<C, BYTES>(panel, page, &from, 3);
    let mut view = from;
    change(&mut view);
    let after = picture::<C, BYTES>(panel, page, &view, 4);
    after
        .changes(&before)
        .map(Frame::<C, BYTES>::bytes_of)
        .sum()
}

fn picture<C: Stored, const BYTES: usize>(
    panel: &Panel,
    page: Page,
    view: &View,
    beats: u32,
) -> Box<Frame<C, BYTES>> {
    let mut frame = Box::new(Frame::new(panel.size).expect("fits"));
    let mut aboard = samples::aboard(&samples::PORTS, &samples::RAW_LINES);
    aboard.alive.beats = beats;
    let ui = Ui::at(page);
    let scene = Scene {
        view,
        aboard: &aboard,
        ui: &ui,
        panel,
        words: &ENGLISH,
    };
    draw(frame.as_mut(), &scene, Look::of(Palette::Day)).expect("memory takes all pixels");
    frame
}
