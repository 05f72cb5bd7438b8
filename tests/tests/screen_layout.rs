//! Layout on the supported panels and on sizes that nobody drew for.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use cringle_screen::draw::headline::Tone;
use cringle_screen::draw::layout::{self, Layout};
use cringle_screen::draw::{Scene, draw, word};
use cringle_screen::frame::{Frame, MONO_128X64};
use cringle_screen::hue::{Look, Palette};
use cringle_screen::letters::Setting;
use cringle_screen::panel::Panel;
use cringle_screen::samples;
use cringle_screen::ui::lists::List;
use cringle_screen::ui::{Page, Ui};
use cringle_screen::words::ENGLISH;
use cringle_tests::snapshot;
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::primitives::Rectangle;

/// Tangent of 20 minutes of arc.
const TAN_20_ARCMIN: f64 = 0.005_817_8;

/// Panels of the legibility table. Active areas of the first five are the
/// supported panels'; the last two show what the layout makes of sizes that
/// no driver here is for (common sizes, from memory).
const PANELS: [(&str, Panel); 7] = [
    ("0.96 inch 128x64 mono", Panel::OLED_0_96),
    ("2.42 inch 128x64 mono", Panel::OLED_2_42),
    ("2.9 inch 296x128 e-paper", Panel::PAPER_2_9),
    ("2.8 inch 320x240 colour", Panel::TFT_2_8),
    ("2.8 inch 240x320 colour", Panel::TFT_2_8_TALL),
    ("3.2 inch 320x240 colour", Panel::lit(320, 240, 64.8, 48.6)),
    ("3.5 inch 480x320 colour", Panel::lit(480, 320, 73.4, 49.0)),
];

/// Heights in pixels of what must be read from afar.
struct Heights {
    home_word: u32,
    home_number: u32,
    call_word: u32,
    call_number: u32,
}

fn heights(panel: &Panel) -> Heights {
    let (home, call) = (layout::home(panel), layout::call(panel));
    let number = |layout: &Layout, number: &str| {
        Setting::fit(number.chars().count(), layout.number.size).height
    };
    Heights {
        home_word: least_word(home.word),
        // The longest number decides.
        home_number: number(&home, ENGLISH.home.beyond),
        call_word: least_word(call.word),
        call_number: number(&call, ENGLISH.home.now),
    }
}

/// The lowest letters of the words of calls: the longest decides.
fn least_word(area: Rectangle) -> u32 {
    let action = ENGLISH.action;
    [
        (action.prepare, Tone::Warning),
        (action.blind, Tone::Warning),
        (action.reduce, Tone::Alarm),
        (action.past, Tone::Past),
    ]
    .map(|(word, tone)| word::letter_height(area, word, tone))
    .into_iter()
    .min()
    .unwrap_or(0)
}

#[test]
fn the_legibility_table_is_what_the_layout_gives() {
    let mut table = String::new();
    table.push_str(
        "| panel | home: word | home: number | call: word | call: number | main number at 3 m |\n|---|---|---|---|---|---|\n",
    );
    for (name, panel) in PANELS {
        let heights = heights(&panel);
        let millimetres = |px: u32| f64::from(px) * f64::from(panel.pitch_mm());
        let cell = |px: u32| {
            let mm = millimetres(px);
            format!("{mm:.1} mm, {:.1} m", mm / TAN_20_ARCMIN / 1000.0)
        };
        let least = millimetres(heights.home_number.min(heights.call_number));
        let verdict = if least / TAN_20_ARCMIN >= 3000.0 {
            "yes"
        } else {
            "no: chart-table panel"
        };
        writeln!(
            table,
            "| {name} | {} | {} | {} | {} | {verdict} |",
            cell(heights.home_word),
            cell(heights.home_number),
            cell(heights.call_word),
            cell(heights.call_number),
        )
        .expect("memory");
    }
    println!("{table}");
    snapshot::marked(&readme(), "legibility", &table);
}

#[test]
fn a_supported_panel_is_read_at_3_m_in_word_and_number() {
    let panel = Panel::TFT_2_8;
    let heights = heights(&panel);
    for px in [heights.call_word, heights.call_number, heights.home_number] {
        let distance = f64::from(px) * f64::from(panel.pitch_mm()) / TAN_20_ARCMIN / 1000.0;
        assert!(distance >= 3.0, "{px} px is read at {distance:.2} m");
    }
}

#[test]
fn the_number_drawn_has_the_height_that_the_table_tells() {
    let panel = Panel::OLED_2_42;
    let frame = picture(&panel, samples::prepare(), &Ui::new());
    let area = layout::call(&panel).number;
    let left = area.top_left.x as u32;
    let top = area.top_left.y as u32;
    let inked = (top..top + area.size.height)
        .filter(|&y| {
            (left..left + area.size.width).any(|x| frame.at(x, y) == Some(BinaryColor::On))
        })
        .count();
    assert_eq!(inked as u32, heights(&panel).call_number);
}

#[test]
fn parts_lie_inside_the_panel_and_apart_at_any_size() {
    for (width, height) in sizes() {
        let panel = Panel::lit(width, height, width as f32 * 0.2, height as f32 * 0.2);
        for layout in [layout::home(&panel), layout::call(&panel)] {
            let parts = [
                layout.ladder,
                Some(layout.word),
                Some(layout.number),
                Some(layout.side),
            ];
            let parts: Vec<Rectangle> = parts.into_iter().flatten().collect();
            for (index, part) in parts.iter().enumerate() {
                let inside = part.intersection(&panel.area());
                assert_eq!(inside.size, part.size, "{width}x{height} part {index}");
                for other in parts.iter().skip(index + 1).chain([&layout.strip]) {
                    assert!(
                        part.intersection(other).is_zero_sized(),
                        "{width}x{height} {part:?} {other:?}"
                    );
                }
            }
            assert!(layout.number.size.height >= 16, "{width}x{height}");
            assert!(
                layout.word.size.height >= 8,
                "{width}x{height} {:?}",
                layout.word
            );
        }
    }
}

#[test]
fn every_page_and_moment_draws_at_any_size() {
    for (width, height) in sizes() {
        let panel = Panel::lit(width, height, width as f32 * 0.2, height as f32 * 0.2);
        for (_, make) in samples::MOMENTS {
            for page in Page::ALL {
                picture(&panel, make(), &Ui::at(page));
            }
        }
        let view = samples::acknowledged();
        let mut ui = Ui::new();
        ui.open(List::WindSpeed, &view);
        picture(&panel, view, &ui);
    }
}

/// Lying, standing and square, from the smallest to beyond the largest.
fn sizes() -> [(u32, u32); 12] {
    [
        (96, 64),
        (128, 64),
        (128, 128),
        (160, 128),
        (200, 200),
        (250, 122),
        (296, 128),
        (128, 296),
        (320, 240),
        (240, 320),
        (480, 320),
        (600, 600),
    ]
}

/// Draws into a frame of the panel's size, or what of it fits the largest.
fn picture(
    panel: &Panel,
    view: cringle_core::view::View,
    ui: &Ui,
) -> Box<Frame<BinaryColor, { 600 * 600 / 8 }>> {
    const { assert!(MONO_128X64 <= 600 * 600 / 8) };
    let mut frame = Box::new(Frame::new(panel.size).expect("fits"));
    let aboard = samples::aboard(&samples::PORTS, &samples::RAW_LINES);
    let scene = Scene {
        view: &view,
        aboard: &aboard,
        ui,
        panel,
        words: &ENGLISH,
    };
    draw(frame.as_mut(), &scene, Look::of(Palette::Mono)).expect("memory takes all pixels");
    frame
}

fn readme() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../firmware/screen/README.md")
}
