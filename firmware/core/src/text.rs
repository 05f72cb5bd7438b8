//! Short text of a fixed capacity, cut at a character where it is too long.

use core::fmt::Write;

/// Text that allocates nothing, of at most 255 bytes: its length is one byte,
/// for a watch holds hundreds.
pub type Text<const N: usize> = heapless::String<N, u8>;

/// The name of a sail plan, change or item, as the boat file gives it.
pub type Name = Text<32>;

/// As much of `words` as fits.
pub fn text<const N: usize>(words: &str) -> Text<N> {
    let mut fitted = Text::new();
    for character in words.chars() {
        if fitted.push(character).is_err() {
            break;
        }
    }
    fitted
}

/// Formats into a [`Text`], cut where it no longer fits.
pub fn format<const N: usize>(words: core::fmt::Arguments<'_>) -> Text<N> {
    let mut cut = Cut(Text::new());
    // `Cut` never fails: what does not fit is left off.
    let _ = cut.write_fmt(words);
    cut.0
}

struct Cut<const N: usize>(Text<N>);

impl<const N: usize> Write for Cut<N> {
    fn write_str(&mut self, words: &str) -> core::fmt::Result {
        for character in words.chars() {
            if self.0.push(character).is_err() {
                break;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_words_are_cut_at_a_character_not_lost() {
        assert_eq!(text::<5>("reef 3").as_str(), "reef ");
        assert_eq!(text::<4>("aéé").as_str(), "aé");
        assert_eq!(format::<6>(format_args!("{} kn", 23.5)).as_str(), "23.5 k");
    }
}
