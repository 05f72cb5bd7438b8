//! What a panel is: its pixels, its size in millimetres, what it can do.
//!
//! The millimetres matter. Layout gives the main number the height that is
//! read at 3 m where the panel can hold it, rather than a fixed share of it.

use embedded_graphics::geometry::{Point, Size};
use embedded_graphics::primitives::Rectangle;

/// Height in millimetres that subtends 20 minutes of arc at 3 m:
/// 3000 mm x tan(20/60 degrees) = 17.45. Twenty to 22 minutes is the character
/// height that ISO 9241-303 recommends (from memory).
pub const READABLE_AT_3M_MM: f32 = 17.5;

/// A display.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Panel {
    /// Pixels.
    pub size: Size,
    /// Width of the active area, millimetres.
    pub width_mm: f32,
    /// Height of the active area, millimetres.
    pub height_mm: f32,
    /// How it makes its picture.
    pub kind: Kind,
}

/// How a panel makes its picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Gives light: can flash, is seen in the dark.
    Lit,
    /// Reflects light: slow, can't flash, is dark at night.
    Paper,
}

impl Panel {
    /// 2.42 inch, 128x64, mono.
    pub const OLED_2_42: Panel = Panel::lit(128, 64, 55.0, 27.5);
    /// 0.96 inch, 128x64, mono.
    pub const OLED_0_96: Panel = Panel::lit(128, 64, 21.7, 10.9);
    /// 2.9 inch, 296x128, e-paper.
    pub const PAPER_2_9: Panel = Panel {
        kind: Kind::Paper,
        ..Panel::lit(296, 128, 66.9, 29.1)
    };
    /// 2.8 inch, 320x240, colour, lying.
    pub const TFT_2_8: Panel = Panel::lit(320, 240, 57.6, 43.2);
    /// 2.8 inch, 240x320, colour, standing.
    pub const TFT_2_8_TALL: Panel = Panel::lit(240, 320, 43.2, 57.6);

    /// A panel that gives light.
    pub const fn lit(width: u32, height: u32, width_mm: f32, height_mm: f32) -> Panel {
        Panel {
            size: Size::new(width, height),
            width_mm,
            height_mm,
            kind: Kind::Lit,
        }
    }

    /// The whole of it.
    pub fn area(&self) -> Rectangle {
        Rectangle::new(Point::zero(), self.size)
    }

    /// Millimetres a pixel is high.
    pub fn pitch_mm(&self) -> f32 {
        self.height_mm / self.size.height.max(1) as f32
    }

    /// Pixels that make the height read at 3 m.
    pub fn readable_px(&self) -> u32 {
        libm::ceilf(READABLE_AT_3M_MM / self.pitch_mm().max(0.001)) as u32
    }

    /// Whether it stands on its short side.
    pub fn is_tall(&self) -> bool {
        self.size.height > self.size.width
    }

    /// Whether there is room for little but the word and the number.
    pub fn is_small(&self) -> bool {
        self.size.height < 100 || self.size.width < 160
    }
}
