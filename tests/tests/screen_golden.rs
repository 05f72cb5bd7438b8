//! Every page, panel, palette and call as a picture, compared by pixel.
//!
//! After a change that is meant to change pictures:
//!
//! ```text
//! CRINGLE_BLESS=1 cargo test -p cringle-tests --test screen_golden
//! ```
//!
//! writes them anew into `tests/data/screens`; look at them before committing.

use std::fs::{self, File};
use std::io::BufWriter;
use std::path::{Path, PathBuf};

use cringle_core::act::{Act, NotNow};
use cringle_core::time::Timestamp;
use cringle_core::view::{AlertState, View};
use cringle_screen::aboard::{Aboard, Alive};
use cringle_screen::draw::{Scene, draw};
use cringle_screen::frame::{COLOUR_320X240, Frame, MONO_128X64, MONO_296X128, Stored};
use cringle_screen::hue::{Brightness, Look, Palette};
use cringle_screen::panel::Panel;
use cringle_screen::samples;
use cringle_screen::ui::lists::List;
use cringle_screen::ui::{Key, Page, Press, Ui};
use cringle_screen::words::ENGLISH;
use cringle_tests::snapshot::is_blessing;
use embedded_graphics::pixelcolor::{BinaryColor, Rgb565};

const DAY: Look = Look::of(Palette::Day);
const NIGHT: Look = Look {
    palette: Palette::Night,
    brightness: Brightness::new(3),
};

/// Panels with the name that their pictures bear.
const MONO: [(&str, Panel); 2] = [("128x64", Panel::OLED_2_42), ("296x128", Panel::PAPER_2_9)];
const COLOUR: [(&str, Panel); 2] = [
    ("320x240", Panel::TFT_2_8),
    ("240x320", Panel::TFT_2_8_TALL),
];

struct Shot {
    name: String,
    view: View,
    ui: Ui,
    alive: Alive,
}

fn shot(name: &str, view: View, ui: Ui) -> Shot {
    let alive = Alive {
        beats: 3,
        still_s: 0.4,
        hung_s: 0.1,
    };
    Shot {
        name: name.into(),
        view,
        ui,
        alive,
    }
}

/// Every moment on the home page, every page in calm, lists, questions, and
/// what a dead daemon leaves.
fn shots() -> Vec<Shot> {
    let mut all: Vec<Shot> = samples::MOMENTS
        .iter()
        .map(|(name, make)| shot(&format!("home-{name}"), make(), Ui::new()))
        .collect();
    let mut flash = samples::reduce();
    flash.now = Timestamp::from_millis(flash.now.as_millis() + 700);
    all.push(shot("home-reduce_flash", flash, Ui::new()));
    for page in Page::ALL.into_iter().skip(1) {
        let name = format!("page-{page:?}").to_lowercase();
        all.push(shot(&name, samples::acknowledged(), Ui::at(page)));
        if matches!(page, Page::Wind | Page::Health | Page::Trend) {
            all.push(shot(
                &format!("{name}_blind"),
                samples::blind_acknowledged(),
                Ui::at(page),
            ));
        }
    }
    for (name, view, page) in [
        ("wind_foretold", samples::foretold(), Page::Wind),
        ("wind_old_odds", samples::old_odds(), Page::Wind),
        ("wind_doubted", samples::doubted_wind(), Page::Wind),
        ("setup_needed", samples::alternative(), Page::Setup),
        ("hands_to_call", samples::alternative(), Page::Hands),
    ] {
        let mut view = view;
        view.call.alert = AlertState::Acknowledged;
        all.push(shot(&format!("page-{name}"), view, Ui::at(page)));
    }
    for (name, list) in [
        ("menu", List::Menu),
        ("not_now_for", List::NotNowMinutes(NotNow::Traffic)),
        ("setup", List::Setup),
        ("hands", List::OnDeck),
    ] {
        let view = samples::acknowledged();
        let mut ui = Ui::new();
        ui.open(list, &view);
        all.push(shot(&format!("list-{name}"), view, ui));
    }
    all.push(question(
        "begun",
        samples::acknowledged(),
        &[(Key::Middle, Press::Long)],
    ));
    let mut frozen = shot("home-frozen", samples::calm(), Ui::new());
    frozen.alive.still_s = 31.0;
    all.push(frozen);
    let mut frozen = shot("page-wind_frozen", samples::calm(), Ui::at(Page::Wind));
    frozen.alive.still_s = 31.0;
    all.push(frozen);
    let mut keys = Ui::new();
    let view = samples::calm();
    keys.press(Key::Left, Press::Long, &view, view.now);
    all.push(shot("home-keys", view, keys));
    all
}

fn question(name: &str, view: View, presses: &[(Key, Press)]) -> Shot {
    let mut ui = Ui::new();
    for &(key, press) in presses {
        assert_eq!(ui.press(key, press, &view, view.now), None::<Act>);
    }
    shot(&format!("ask-{name}"), view, ui)
}

#[test]
fn pictures_are_as_they_were_judged() {
    let mut wrong = Vec::new();
    for shot in &shots() {
        for (size, panel) in MONO {
            if size == "128x64" {
                wrong.extend(check::<BinaryColor, MONO_128X64>(
                    shot, size, "mono", &panel, DAY,
                ));
            } else {
                wrong.extend(check::<BinaryColor, MONO_296X128>(
                    shot, size, "paper", &panel, DAY,
                ));
            }
        }
        for (size, panel) in COLOUR {
            wrong.extend(check::<Rgb565, COLOUR_320X240>(
                shot, size, "day", &panel, DAY,
            ));
            wrong.extend(check::<Rgb565, COLOUR_320X240>(
                shot, size, "night", &panel, NIGHT,
            ));
        }
    }
    assert!(
        wrong.is_empty(),
        "pictures differ: {wrong:#?}\nif that is meant: CRINGLE_BLESS=1 cargo test -p cringle-tests --test screen_golden"
    );
}

#[test]
fn no_picture_is_left_that_nothing_draws() {
    if is_blessing() {
        return;
    }
    let drawn = shots().len() * 6;
    let kept = fs::read_dir(folder()).expect("tests/data/screens").count();
    assert_eq!(kept, drawn, "pictures in tests/data/screens");
}

/// Draws a shot and compares it with its picture; gives the name if it is
/// not the same.
fn check<C: Stored, const BYTES: usize>(
    shot: &Shot,
    size: &str,
    palette: &str,
    panel: &Panel,
    look: Look,
) -> Option<String> {
    let mut frame: Box<Frame<C, BYTES>> = Box::new(Frame::new(panel.size).expect("fits"));
    let aboard = Aboard {
        alive: shot.alive,
        ..samples::aboard(&samples::PORTS, &samples::RAW_LINES)
    };
    let scene = Scene {
        view: &shot.view,
        aboard: &aboard,
        ui: &shot.ui,
        panel,
        words: &ENGLISH,
    };
    draw(frame.as_mut(), &scene, look).expect("memory takes all pixels");
    let rgb: Vec<u8> = frame.rgb().flatten().collect();
    let name = format!("{size}-{palette}-{}.png", shot.name);
    let path = folder().join(&name);
    if is_blessing() {
        write(&path, panel.size.width, panel.size.height, &rgb);
        return None;
    }
    match read(&path) {
        Some(kept) if kept == rgb => None,
        Some(_) => Some(name),
        None => Some(format!("{name} (missing)")),
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/screens")
}

/// As few colours as the picture has, so that the files stay small.
fn write(path: &Path, width: u32, height: u32, rgb: &[u8]) {
    let mut colours: Vec<[u8; 3]> = rgb.chunks_exact(3).map(|c| [c[0], c[1], c[2]]).collect();
    let pixels = colours.clone();
    colours.sort_unstable();
    colours.dedup();
    assert!(colours.len() <= 16, "more colours than roles");
    let mut encoder = png::Encoder::new(
        BufWriter::new(File::create(path).expect("create")),
        width,
        height,
    );
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_depth(png::BitDepth::Four);
    encoder.set_palette(colours.concat());
    encoder.set_compression(png::Compression::High);
    let indices: Vec<u8> = pixels
        .iter()
        .map(|colour| colours.binary_search(colour).expect("known") as u8)
        .collect();
    let packed: Vec<u8> = indices
        .chunks(width as usize)
        .flat_map(|row| {
            row.chunks(2)
                .map(|pair| pair[0] << 4 | pair.get(1).copied().unwrap_or(0))
        })
        .collect();
    let mut writer = encoder.write_header().expect("header");
    writer.write_image_data(&packed).expect("pixels");
}

fn read(path: &Path) -> Option<Vec<u8>> {
    let mut decoder = png::Decoder::new(std::io::BufReader::new(File::open(path).ok()?));
    decoder.set_transformations(png::Transformations::EXPAND);
    let mut reader = decoder.read_info().ok()?;
    let mut pixels = vec![0; reader.output_buffer_size()?];
    let info = reader.next_frame(&mut pixels).ok()?;
    pixels.truncate(info.buffer_size());
    Some(pixels)
}
