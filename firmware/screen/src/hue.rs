//! What each part of the picture is painted with: roles, palettes, brightness.
//!
//! Drawing code names roles only. A role's colour says nothing that its word,
//! shape or place does not say too.

use embedded_graphics::draw_target::DrawTarget;
use embedded_graphics::pixelcolor::{BinaryColor, PixelColor, Rgb565, RgbColor};

/// What a thing is in the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Behind everything.
    Ground,
    /// Words and numbers.
    Ink,
    /// Lesser words, scales and rails.
    Faint,
    /// The wind.
    Wind,
    /// Behind the word of a warning.
    WarningGround,
    /// The word of a warning.
    WarningInk,
    /// Behind the word of an alarm.
    AlarmGround,
    /// The word of an alarm.
    AlarmInk,
    /// The cross over what can't be trusted.
    Cross,
}

/// A set of colours.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Palette {
    /// Dark on white, for sun on the glass.
    Day,
    /// Red alone, for eyes used to the dark.
    Night,
    /// Light on black.
    #[default]
    Mono,
    /// Black on light: paper, or a mono panel by day.
    MonoInverse,
}

/// Five steps of brightness.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Brightness(u8);

impl Brightness {
    /// Barely to be seen on a dark night.
    pub const LOWEST: Brightness = Brightness(1);
    /// All there is.
    pub const FULL: Brightness = Brightness(5);

    /// Steps from 1 to 5; others are taken to the nearer end.
    pub const fn new(step: u8) -> Brightness {
        match step {
            0 | 1 => Brightness(1),
            2 => Brightness(2),
            3 => Brightness(3),
            4 => Brightness(4),
            _ => Brightness(5),
        }
    }

    /// The step, 1 to 5.
    pub const fn step(self) -> u8 {
        self.0
    }

    /// For a panel's own contrast register or backlight: 0 to 255. Each step
    /// is about 2.5 times the one below, as the eye counts.
    pub const fn drive(self) -> u8 {
        match self.0 {
            0 | 1 => 6,
            2 => 16,
            3 => 40,
            4 => 102,
            _ => 255,
        }
    }
}

/// Palette and brightness.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// Colours.
    pub palette: Palette,
    /// Brightness.
    pub brightness: Brightness,
}

impl Look {
    /// This palette at full brightness.
    pub const fn of(palette: Palette) -> Look {
        Look {
            palette,
            brightness: Brightness::FULL,
        }
    }
}

/// A pixel colour that can be told from role and look.
pub trait Hue: PixelColor {
    /// Whether it has more than on and off.
    const HAS_COLOURS: bool;

    /// The colour for a role.
    fn of(role: Role, look: Look) -> Self;
}

/// What can be drawn on: any target whose colours can be told from roles.
pub trait Surface: DrawTarget<Color: Hue> {}

impl<D: DrawTarget<Color: Hue>> Surface for D {}

impl Hue for BinaryColor {
    const HAS_COLOURS: bool = false;

    fn of(role: Role, look: Look) -> Self {
        let raised = match role {
            Role::Ground | Role::WarningInk | Role::AlarmInk => BinaryColor::Off,
            Role::Ink
            | Role::Faint
            | Role::Wind
            | Role::WarningGround
            | Role::AlarmGround
            | Role::Cross => BinaryColor::On,
        };
        match look.palette {
            Palette::Mono | Palette::Night | Palette::Day => raised,
            Palette::MonoInverse => raised.invert(),
        }
    }
}

impl Hue for Rgb565 {
    const HAS_COLOURS: bool = true;

    fn of(role: Role, look: Look) -> Self {
        match look.palette {
            Palette::Day => day(role),
            Palette::Night => red(night(role), look.brightness),
            Palette::Mono | Palette::MonoInverse => match BinaryColor::of(role, look) {
                BinaryColor::On => Rgb565::WHITE,
                BinaryColor::Off => Rgb565::BLACK,
            },
        }
    }
}

/// By day the backlight carries brightness: dimmed colours only lose contrast.
const fn day(role: Role) -> Rgb565 {
    match role {
        Role::Ground => rgb(255, 255, 255),
        Role::Ink | Role::WarningInk => rgb(0, 0, 0),
        Role::Faint => rgb(88, 88, 88),
        Role::Wind => rgb(0, 84, 140),
        Role::WarningGround => rgb(255, 184, 0),
        Role::AlarmGround | Role::Cross => rgb(200, 0, 0),
        Role::AlarmInk => rgb(255, 255, 255),
    }
}

/// Share of full red by night.
const fn night(role: Role) -> u32 {
    match role {
        Role::Ground | Role::WarningInk | Role::AlarmInk => 0,
        Role::Ink | Role::AlarmGround | Role::WarningGround | Role::Cross => 255,
        Role::Faint => 195,
        Role::Wind => 160,
    }
}

/// Red at a brightness; what is lit at all stays above black at any step.
const fn red(level: u32, brightness: Brightness) -> Rgb565 {
    if level == 0 {
        return rgb(0, 0, 0);
    }
    let share = match brightness.step() {
        0 | 1 => 90,
        2 => 120,
        3 => 160,
        4 => 205,
        _ => 255,
    };
    rgb((level * share / 255) as u8, 0, 0)
}

const fn rgb(red: u8, green: u8, blue: u8) -> Rgb565 {
    Rgb565::new(red >> 3, green >> 2, blue >> 3)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROLES: [Role; 9] = [
        Role::Ground,
        Role::Ink,
        Role::Faint,
        Role::Wind,
        Role::WarningGround,
        Role::WarningInk,
        Role::AlarmGround,
        Role::AlarmInk,
        Role::Cross,
    ];

    #[test]
    fn night_is_red_alone_at_every_step() {
        for step in 1..=5 {
            let look = Look {
                palette: Palette::Night,
                brightness: Brightness::new(step),
            };
            for role in ROLES {
                let colour = Rgb565::of(role, look);
                assert_eq!((colour.g(), colour.b()), (0, 0), "{role:?} at {step}");
            }
            assert_ne!(
                Rgb565::of(Role::Faint, look),
                Rgb565::of(Role::Ground, look)
            );
        }
    }

    #[test]
    fn each_night_step_is_brighter_than_the_one_below() {
        let ink = |step| {
            let brightness = Brightness::new(step);
            Rgb565::of(
                Role::Ink,
                Look {
                    palette: Palette::Night,
                    brightness,
                },
            )
            .r()
        };
        assert!((1..5).all(|step| ink(step) < ink(step + 1)));
        assert!((1..5).all(|s| Brightness::new(s).drive() < Brightness::new(s + 1).drive()));
    }
}
