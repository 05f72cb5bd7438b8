//! The three keys, and what stands in for them on a desk.

/// A key, by its place under the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Key {
    /// The left one.
    Left,
    /// The middle one; it acknowledges.
    Middle,
    /// The right one.
    Right,
}

/// How long a key was held. Debouncing and timing are the driver's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Press {
    /// Let go before [`LONG_PRESS_MS`].
    Short,
    /// Held that long: acts while still held, so that it is felt.
    Long,
}

/// How long a key is held for a long press: longer than a glove that leans.
pub const LONG_PRESS_MS: u64 = 900;

/// The keyboard that stands in: 1 2 3 for short presses, q w e below them for
/// long ones.
pub fn stand_in(character: char) -> Option<(Key, Press)> {
    match character.to_ascii_lowercase() {
        '1' => Some((Key::Left, Press::Short)),
        '2' => Some((Key::Middle, Press::Short)),
        '3' => Some((Key::Right, Press::Short)),
        'q' => Some((Key::Left, Press::Long)),
        'w' => Some((Key::Middle, Press::Long)),
        'e' => Some((Key::Right, Press::Long)),
        _ => None,
    }
}
