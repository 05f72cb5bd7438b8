//! Health: what is wrong, ports, sources, recorder, disk. And the bench page
//! with raw lines.

use embedded_graphics::primitives::Rectangle;

use cringle_core::text::{Text, format, text};
use cringle_core::view::Liveness;

use super::Scene;
use super::notes::{age, fault_note};
use super::pen::{Pen, Weight};
use crate::aboard::{Port, PortState, Recorder, Storage};
use crate::boxes::Cut;
use crate::hue::{Role, Surface};
use crate::letters::Side;
use crate::print::Print;

type HealthLine = Text<56>;

/// Draws the page below its title: what is wrong before what is well.
pub(crate) fn draw<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let print = health_print(scene);
    let mut left = area;
    for weight in [Weight::Wrong, Weight::Well] {
        let is_well = || lines(scene).all(|(of, _)| of == Weight::Well);
        if weight == Weight::Wrong && is_well() {
            let line = text::<56>(scene.words.page.no_faults);
            left = pen.tell(left, &line, print, Weight::Well)?;
        }
        for line in lines(scene)
            .filter(|(of, _)| *of == weight)
            .map(|(_, line)| line)
        {
            left = pen.tell(left, &line, print, weight)?;
        }
    }
    Ok(())
}

fn lines<'a>(scene: &'a Scene<'a>) -> impl Iterator<Item = (Weight, HealthLine)> + 'a {
    let words = scene.words;
    let faults = scene.view.faults.iter().map(|&fault| {
        (
            Weight::Wrong,
            format(format_args!("! {}", fault_note(fault, words))),
        )
    });
    let shell = [recorder(scene), storage(scene)];
    let ports = scene.aboard.ports.iter().map(|port| port_line(port, scene));
    let devices = scene
        .aboard
        .devices
        .iter()
        .map(|fault| (Weight::Wrong, format(format_args!("! {fault}"))));
    let no_ports = scene.aboard.ports.is_empty().then(|| {
        (
            Weight::Wrong,
            format(format_args!("! {}", words.page.no_ports)),
        )
    });
    let sources = scene.view.sources.iter().map(|source| {
        let name = (words.name.quantity)(source.quantity);
        let old = age(source.age_s);
        match source.live {
            Liveness::Live => (Weight::Well, format(format_args!("{name} {old}"))),
            Liveness::Dead => (
                Weight::Wrong,
                format(format_args!("! {name} {} {old}", words.page.dead)),
            ),
        }
    });
    faults
        .chain(shell)
        .chain(devices)
        .chain(no_ports)
        .chain(ports)
        .chain(sources)
}

fn recorder(scene: &Scene<'_>) -> (Weight, HealthLine) {
    let page = &scene.words.page;
    let (weight, state, mark) = match scene.aboard.recorder {
        Recorder::Recording => (Weight::Well, page.recording, ""),
        Recorder::Off => (Weight::Well, page.recorder_off, ""),
        Recorder::Failed => (Weight::Wrong, page.failed, "! "),
    };
    (
        weight,
        format(format_args!("{mark}{}: {state}", page.recorder)),
    )
}

fn storage(scene: &Scene<'_>) -> (Weight, HealthLine) {
    let page = &scene.words.page;
    let disk = page.storage;
    match scene.aboard.storage {
        Storage::Unknown => (
            Weight::Well,
            format(format_args!("{disk}: {}", page.unknown)),
        ),
        Storage::Free { megabytes } => (
            Weight::Well,
            format(format_args!("{disk}: {megabytes} {}", page.free)),
        ),
        Storage::Low { megabytes } => (
            Weight::Wrong,
            format(format_args!(
                "! {disk} {}: {megabytes} {}",
                page.low, page.free
            )),
        ),
        Storage::Failed => (
            Weight::Wrong,
            format(format_args!("! {disk}: {}", page.failed)),
        ),
    }
}

fn port_line(port: &Port<'_>, scene: &Scene<'_>) -> (Weight, HealthLine) {
    let page = &scene.words.page;
    let name = port.name;
    let old = port
        .age_s
        .map_or(text("-"), |seconds| age(f64::from(seconds)));
    match port.state {
        PortState::Open => (
            Weight::Well,
            format(format_args!(
                "{name} {old} {} {}, {} {}",
                port.lines, page.lines, port.bad, page.bad
            )),
        ),
        PortState::Garbage => (
            Weight::Wrong,
            format(format_args!("! {name} {}", page.garbage)),
        ),
        PortState::Silent => (
            Weight::Wrong,
            format(format_args!("! {name} {} {old}", page.silent)),
        ),
        PortState::Lost => (
            Weight::Wrong,
            format(format_args!("! {name} {}", page.lost)),
        ),
    }
}

/// Draws raw lines below the title, newest at the bottom.
pub(crate) fn bench<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    scene: &Scene<'_>,
) -> Result<(), D::Error> {
    let print = Print::of_height(if scene.panel.size.height < 100 {
        10
    } else {
        12
    });
    let raw = scene.aboard.raw_lines;
    if raw.is_empty() {
        let line = area.cut_top(print.line_height()).0;
        return pen.line(
            line,
            scene.words.page.nothing_heard,
            print,
            Side::Left,
            Role::Ink,
        );
    }
    // Newest first from the bottom, each wrapped over as many rows as it
    // needs, until there is no more room.
    let room = print.fitting(area.size.width).max(1);
    let mut left = area;
    for line in raw.iter().rev() {
        let rows = line.chars().count().div_ceil(room).max(1) as u32;
        let (block, rest) = left.cut_bottom(rows * print.line_height());
        if block.size.height < rows * print.line_height() {
            break;
        }
        pen.paragraph(block, line, print, Role::Ink)?;
        left = rest;
    }
    Ok(())
}

fn health_print(scene: &Scene<'_>) -> Print {
    let height = scene.panel.size.height;
    Print::of_height(if height < 100 {
        10
    } else {
        (height / 18).max(11)
    })
}
