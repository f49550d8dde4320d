//! Seeded randomness: the same seed gives the same numbers everywhere.

/// The generator xorshift64* (Vigna 2016).
#[derive(Clone, Debug)]
pub(super) struct Random(u64);

impl Random {
    pub fn new(seed: u64) -> Random {
        Random(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    /// A number below `end`, which must be above zero.
    pub fn below(&mut self, end: usize) -> usize {
        ((u128::from(self.next()) * end as u128) >> 64) as usize
    }

    /// True in one of `times` cases.
    pub fn one_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }
}
