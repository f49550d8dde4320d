//! Plain decimal numbers read exactly, without a detour through floating point.

/// `digits / 10^places`, never negative.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Decimal {
    pub digits: i128,
    pub places: u32,
}

impl Decimal {
    /// More digits than this are no measurement; fewer keep all later products within `i128`.
    pub const MOST_DIGITS: usize = 18;

    /// Reads digits with at most one point between or beside them: `12`, `0.75`, `.5`, `3.`.
    pub fn parse(text: &str) -> Option<Decimal> {
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let all_digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
        let count = whole.len() + part.len();
        if count == 0 || count > Decimal::MOST_DIGITS || !all_digits(whole) || !all_digits(part) {
            return None;
        }
        let digits = whole
            .bytes()
            .chain(part.bytes())
            .fold(0, |sum, byte| sum * 10 + i128::from(byte - b'0'));
        Some(Decimal {
            digits,
            places: part.len() as u32,
        })
    }

    /// The denominator that goes with `digits`.
    pub fn denominator(self) -> i128 {
        10_i128.pow(self.places)
    }

    /// The value times `scale` where that is a whole number.
    pub fn scaled(self, scale: i128) -> Option<i128> {
        let product = self.digits * scale;
        (product % self.denominator() == 0).then(|| product / self.denominator())
    }
}
