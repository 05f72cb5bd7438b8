//! Rows of name and value, in as many columns as the panel has room for.

use embedded_graphics::primitives::Rectangle;

use cringle_core::text::{Text, format, text};

use super::Scene;
use super::pen::Pen;
use crate::boxes::Cut;
use crate::hue::{Role, Surface};
use crate::letters::Side;
use crate::print::{self, Print};

/// A value, or what stands for one that is not known.
pub(crate) type Value = Text<40>;

/// A number with its unit; dashes where it is not known.
pub(crate) fn number(value: Option<f64>, decimals: usize, unit: &str, scene: &Scene<'_>) -> Value {
    match value {
        Some(value) if value.is_finite() => {
            let separator = if unit.is_empty() { "" } else { " " };
            // No "-0".
            let value = if value.abs() < 0.5 * libm::pow(10.0, -(decimals as f64)) {
                0.0
            } else {
                value
            };
            format(format_args!("{value:.decimals$}{separator}{unit}"))
        }
        Some(_) | None => text(scene.words.home.unknown),
    }
}

/// A row of a table.
pub(crate) struct Row {
    pub(crate) name: &'static str,
    pub(crate) value: Value,
}

/// A row.
pub(crate) fn row(name: &'static str, value: Value) -> Row {
    Row { name, value }
}

/// Draws rows in the largest print with which all of them fit, in one column
/// or, where one would need the smallest print, in two. What does not fit at
/// all is left off the end: what matters most comes first.
pub(crate) fn draw<D: Surface>(
    pen: &mut Pen<'_, D>,
    area: Rectangle,
    rows: &[Row],
) -> Result<(), D::Error> {
    let count = rows.len().max(1) as u32;
    let name_length = longest_name(rows);
    let value_length = rows
        .iter()
        .map(|row| print::count(&row.value))
        .max()
        .unwrap_or(0);
    // A character between name and value, and one between two columns.
    let length = name_length + value_length + 2;
    let cell = |columns: u32| area.column(0, columns).row(0, count.div_ceil(columns));
    let columns = if cell(1).size.height >= 9 && Print::fit(length, cell(1)) < Print::SMALLEST
        || area.size.width < 200
    {
        1
    } else {
        2
    };
    let print = Print::fit(length, cell(columns));
    let fitting = (area.size.height / print.ink_height()).max(1);
    let rows_a_column = count.div_ceil(columns).min(fitting);
    for (index, row) in rows
        .iter()
        .take((rows_a_column * columns) as usize)
        .enumerate()
    {
        let index = index as u32;
        let column = area.column(index / rows_a_column, columns);
        let height = (area.size.height / rows_a_column).min(print.line_height() + 6);
        let line = column
            .cut_top(index % rows_a_column * height)
            .1
            .cut_top(height)
            .0;
        // Its own column's names: a long one in the next is no reason to push
        // this value up against it.
        let own = index - index % rows_a_column;
        let names = rows.get(own as usize..).unwrap_or_default();
        let names = names.get(..rows_a_column as usize).unwrap_or(names);
        let (left, right) = line.cut_left((longest_name(names) as u32 + 1) * print.width());
        pen.line(left, row.name, print, Side::Left, Role::Faint)?;
        pen.line(right, &row.value, print, Side::Left, Role::Ink)?;
    }
    Ok(())
}

fn longest_name(rows: &[Row]) -> usize {
    let lengths = rows.iter().map(|row| print::count(row.name));
    lengths.max().unwrap_or(0)
}
