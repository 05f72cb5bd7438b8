//! Chance that a seed decides.

/// SplitMix64: small, and its whole state is the seed.
#[derive(Clone, Debug)]
pub(crate) struct Luck(u64);

impl Luck {
    pub(crate) fn new(seed: u64) -> Luck {
        Luck(seed)
    }

    pub(crate) fn draw(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// From 0 to below this; 0 where there is nothing below.
    pub(crate) fn below(&mut self, end: u64) -> u64 {
        self.draw() % end.max(1)
    }

    pub(crate) fn one_in(&mut self, count: u64) -> bool {
        self.below(count) == 0
    }

    /// From -1 to 1, more often near 0.
    pub(crate) fn around(&mut self) -> f64 {
        let unit = |draw: u64| draw as f64 / u64::MAX as f64;
        unit(self.draw()) + unit(self.draw()) - 1.0
    }
}
