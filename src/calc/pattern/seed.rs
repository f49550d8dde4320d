//! Choices from a seed: the same seed gives the same choices on every machine.

/// The splitmix64 generator (Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", OOPSLA 2014; constants from memory).
pub(super) struct Choices(u64);

impl Choices {
    pub(super) fn from_seed(seed: u64) -> Choices {
        Choices(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// A number below `limit`, which must not be 0. The bias of the remainder is below one in 2^50
    /// for the few hundred things chosen from here.
    pub(super) fn below(&mut self, limit: usize) -> usize {
        (self.next() % limit as u64) as usize
    }
}
