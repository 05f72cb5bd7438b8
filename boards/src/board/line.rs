//! How a board file names a GPIO line and its levels.

/// A GPIO line: `GPIO25`, as the kernel names it, or `gpiochip0:25`.
///
/// A name is better: the number of the chip has changed from one kernel to the
/// next on common boards, the name has not.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum LineName {
    /// The kernel's name of the line, from the board's device tree.
    Named(String),
    /// A chip under `/dev` and the number of a line on it.
    Numbered {
        /// Such as `gpiochip0`.
        chip: String,
        /// Number of the line.
        offset: u32,
    },
}

impl LineName {
    /// Reads either form.
    pub fn parse(text: &str) -> Option<LineName> {
        match text.split_once(':') {
            Some((chip, offset)) => {
                let number = chip.strip_prefix("gpiochip")?;
                let chip_is_numbered =
                    !number.is_empty() && number.bytes().all(|byte| byte.is_ascii_digit());
                let offset = offset.parse().ok()?;
                chip_is_numbered.then(|| LineName::Numbered {
                    chip: chip.to_string(),
                    offset,
                })
            }
            None => {
                let fits = |byte: u8| byte.is_ascii_graphic() && byte != b'/';
                (!text.is_empty() && text.bytes().all(fits))
                    .then(|| LineName::Named(text.to_string()))
            }
        }
    }
}

impl core::fmt::Display for LineName {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            LineName::Named(name) => f.write_str(name),
            LineName::Numbered { chip, offset } => write!(f, "{chip}:{offset}"),
        }
    }
}

/// The level at which a line means "yes".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Active {
    /// At ground.
    Low,
    /// At the supply.
    High,
}

/// What holds an input line when nothing drives it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pull {
    /// The computer's resistor to the supply.
    Up,
    /// The computer's resistor to ground.
    Down,
    /// A resistor on the wiring.
    None,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_forms_read_back_as_written() {
        for text in ["GPIO25", "gpiochip0:25", "gpiochip12:0", "PA7"] {
            assert_eq!(LineName::parse(text).unwrap().to_string(), text);
        }
    }

    #[test]
    fn what_is_no_line_is_refused() {
        for text in [
            "",
            "GPIO 25",
            "gpiochip0:",
            "gpiochip:1",
            "gpiochip0:x",
            "chip0:3",
            "/dev/gpiochip0",
            "gpiochip0:-1",
            "gpiochip../x:1",
        ] {
            assert_eq!(LineName::parse(text), None, "{text}");
        }
    }
}
