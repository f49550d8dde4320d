//! Tags: the short codes on the labels of pieces.
//!
//! Letters, then three digits: `A001` to `A999`, `C001`, ..., `Y999`, `AA001`. A code is read
//! aloud in a noisy room and copied by hand, so letters that look or sound like a digit or like
//! each other (B, D, G, I, O, Q, S, U, Z) are left out.

const LETTERS: &[u8; 17] = b"ACEFHJKLMNPRTVWXY";
const NUMBERS: i64 = 999;

/// The tag made from the `serial`th number given out, from 1 on.
pub fn tag(serial: i64) -> String {
    let number = (serial - 1).rem_euclid(NUMBERS) + 1;
    let mut block = (serial - 1).div_euclid(NUMBERS);
    let mut letters = Vec::new();
    loop {
        let base = LETTERS.len() as i64;
        letters.push(char::from(LETTERS[block.rem_euclid(base) as usize]));
        block = block.div_euclid(base) - 1;
        if block < 0 {
            break;
        }
    }
    let letters: String = letters.into_iter().rev().collect();
    format!("{letters}{number:03}")
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::tag;

    #[test]
    fn tags_are_short_and_never_come_twice() {
        assert_eq!(tag(1), "A001");
        assert_eq!(tag(999), "A999");
        assert_eq!(tag(1000), "C001");
        assert_eq!(tag(17 * 999), "Y999");
        assert_eq!(tag(17 * 999 + 1), "AA001");
        assert_eq!(tag(18 * 17 * 999), "YY999");
        assert_eq!(tag(18 * 17 * 999 + 1), "AAA001");
        let tags: BTreeSet<String> = (1..=40_000).map(tag).collect();
        assert_eq!(tags.len(), 40_000);
    }
}
