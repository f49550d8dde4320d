//! Lengths as people write them: fractions of inches, feet and inches, metric decimals.

use std::fmt;

use super::decimal::Decimal;
use super::length::{Length, NM_PER_INCH, NM_PER_MM};

/// A unit in which lengths are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthUnit {
    Millimetres,
    Centimetres,
    Metres,
    Inches,
    Feet,
}

impl LengthUnit {
    fn nm(self) -> i128 {
        i128::from(match self {
            LengthUnit::Millimetres => NM_PER_MM,
            LengthUnit::Centimetres => 10 * NM_PER_MM,
            LengthUnit::Metres => 1000 * NM_PER_MM,
            LengthUnit::Inches => NM_PER_INCH,
            LengthUnit::Feet => 12 * NM_PER_INCH,
        })
    }

    fn from_word(word: &str) -> Option<LengthUnit> {
        Some(match word {
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => {
                LengthUnit::Millimetres
            }
            "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => {
                LengthUnit::Centimetres
            }
            "m" | "metre" | "metres" | "meter" | "meters" => LengthUnit::Metres,
            "in" | "inch" | "inches" | "\"" => LengthUnit::Inches,
            "ft" | "foot" | "feet" | "'" => LengthUnit::Feet,
            _ => return None,
        })
    }
}

/// Why a text is no length; the message says what would be one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LengthError {
    /// What was written, cut short if it was very long.
    pub text: String,
    pub flaw: LengthFlaw,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthFlaw {
    Empty,
    NotALength,
    NoUnit,
    UnknownUnit,
    Comma,
    Negative,
    Zero,
    TooLong,
    TooFine,
    Fraction,
}

impl LengthError {
    /// Of what was written; cut short if it is very long.
    pub fn new(text: &str, flaw: LengthFlaw) -> LengthError {
        const MOST_SHOWN: usize = 40;
        let mut shown: String = text.trim().chars().take(MOST_SHOWN).collect();
        if text.trim().chars().nth(MOST_SHOWN).is_some() {
            shown.push('…');
        }
        LengthError { text: shown, flaw }
    }
}

impl fmt::Display for LengthError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = &self.text;
        match self.flaw {
            LengthFlaw::Empty => {
                f.write_str("is empty; must be a length such as 450 mm or 17 1/2 in")
            }
            LengthFlaw::NotALength => {
                write!(
                    f,
                    "is \"{text}\"; must be a length such as 450 mm, 17 1/2 in or 2 ft 3 in"
                )
            }
            LengthFlaw::NoUnit => {
                write!(
                    f,
                    "is \"{text}\", which has no unit; must name one: {text} mm or {text} in"
                )
            }
            LengthFlaw::UnknownUnit => write!(
                f,
                "is \"{text}\", whose unit is not known; must be in mm, cm, m, in (\") or ft (')"
            ),
            LengthFlaw::Comma => write!(
                f,
                "is \"{text}\", which has a comma; must use a point before decimals and nothing between thousands"
            ),
            LengthFlaw::Negative => {
                write!(f, "is \"{text}\", which is negative; must not be below 0")
            }
            LengthFlaw::Zero => write!(f, "is \"{text}\"; must be more than 0"),
            LengthFlaw::TooLong => write!(f, "is \"{text}\"; must be at most 100 m"),
            LengthFlaw::TooFine => write!(
                f,
                "is \"{text}\", which is not a whole number of nanometres; must be exact, such as 0.1 mm or 1/64 in"
            ),
            LengthFlaw::Fraction => write!(
                f,
                "is \"{text}\"; must have a fraction such as 3/4, with a denominator above 0, and below 1 after a whole number"
            ),
        }
    }
}

impl std::error::Error for LengthError {}

impl Length {
    /// Reads a length that is zero or more and at most [`Length::LONGEST`].
    ///
    /// A number without a unit is in `default`; without a default it is refused. A fraction
    /// without a unit (`3/4`, `1 3/4`) is in inches whatever the default, because nobody
    /// measures in fractions of a millimetre.
    pub fn parse(text: &str, default: Option<LengthUnit>) -> Result<Length, LengthError> {
        read(text, default).map_err(|flaw| LengthError::new(text, flaw))
    }

    /// Reads a length that is more than zero; otherwise as [`Length::parse`].
    pub fn parse_positive(text: &str, default: Option<LengthUnit>) -> Result<Length, LengthError> {
        let length = Length::parse(text, default)?;
        if length.is_positive() {
            Ok(length)
        } else {
            Err(LengthError::new(text, LengthFlaw::Zero))
        }
    }
}

fn read(text: &str, default: Option<LengthUnit>) -> Result<Length, LengthFlaw> {
    // Far longer than any length that is meant; keeps hostile input cheap.
    const MOST_BYTES: usize = 200;
    if text.len() > MOST_BYTES {
        return Err(LengthFlaw::NotALength);
    }
    let tokens = tokens(text)?;
    if tokens.is_empty() {
        return Err(LengthFlaw::Empty);
    }
    if tokens[0] == Token::Dash {
        return Err(LengthFlaw::Negative);
    }
    let mut rest = tokens.as_slice();
    let (first, mut unit) = read_part(&mut rest)?;
    if unit == Some(LengthUnit::Feet) && !rest.is_empty() {
        // Architects write 2'-3": the dash only separates.
        if rest[0] == Token::Dash {
            rest = &rest[1..];
        }
        let (inches, inch_unit) = read_part(&mut rest)?;
        if !rest.is_empty() || inch_unit.is_some_and(|unit| unit != LengthUnit::Inches) {
            return Err(LengthFlaw::NotALength);
        }
        let nm = first.nanometres(LengthUnit::Feet)? + inches.nanometres(LengthUnit::Inches)?;
        return checked(nm);
    }
    if !rest.is_empty() {
        return Err(LengthFlaw::NotALength);
    }
    if unit.is_none() && default.is_some() && first.has_fraction {
        unit = Some(LengthUnit::Inches);
    }
    let unit = unit.or(default).ok_or(LengthFlaw::NoUnit)?;
    checked(first.nanometres(unit)?)
}

fn checked(nm: i128) -> Result<Length, LengthFlaw> {
    if nm > i128::from(Length::LONGEST.nm()) {
        return Err(LengthFlaw::TooLong);
    }
    Ok(Length::from_nm(nm as i64))
}

#[derive(Clone, Copy)]
struct Quantity {
    numerator: i128,
    denominator: i128,
    has_fraction: bool,
}

impl Quantity {
    fn nanometres(self, unit: LengthUnit) -> Result<i128, LengthFlaw> {
        let product = self
            .numerator
            .checked_mul(unit.nm())
            .ok_or(LengthFlaw::TooLong)?;
        if product / self.denominator > i128::from(Length::LONGEST.nm()) {
            return Err(LengthFlaw::TooLong);
        }
        if product % self.denominator != 0 {
            return Err(LengthFlaw::TooFine);
        }
        Ok(product / self.denominator)
    }
}

#[derive(Clone, Debug, PartialEq)]
enum Token {
    Number(Decimal),
    Slash,
    Dash,
    Unit(LengthUnit),
}

/// `1`, `1.5`, `3/4`, `1 3/4` or `1-3/4`, with a unit behind it if there is one.
fn read_part(rest: &mut &[Token]) -> Result<(Quantity, Option<LengthUnit>), LengthFlaw> {
    let (quantity, used) = match **rest {
        [Token::Number(top), Token::Slash, Token::Number(bottom), ..] => {
            (fraction(None, top, bottom)?, 3)
        }
        [
            Token::Number(whole),
            Token::Dash,
            Token::Number(top),
            Token::Slash,
            Token::Number(bottom),
            ..,
        ] => (fraction(Some(whole), top, bottom)?, 5),
        [
            Token::Number(whole),
            Token::Number(top),
            Token::Slash,
            Token::Number(bottom),
            ..,
        ] => (fraction(Some(whole), top, bottom)?, 4),
        [Token::Number(number), ..] => {
            let quantity = Quantity {
                numerator: number.digits,
                denominator: number.denominator(),
                has_fraction: false,
            };
            (quantity, 1)
        }
        _ => return Err(LengthFlaw::NotALength),
    };
    *rest = &rest[used..];
    let unit = match rest.first() {
        Some(Token::Unit(unit)) => {
            *rest = &rest[1..];
            Some(*unit)
        }
        _ => None,
    };
    Ok((quantity, unit))
}

fn fraction(whole: Option<Decimal>, top: Decimal, bottom: Decimal) -> Result<Quantity, LengthFlaw> {
    // Larger terms are typing errors, and small ones cannot overflow below.
    const LARGEST_TERM: i128 = 1_000_000_000;
    let all_whole =
        whole.is_none_or(|whole| whole.places == 0) && top.places == 0 && bottom.places == 0;
    let in_range = top.digits <= LARGEST_TERM && (1..=LARGEST_TERM).contains(&bottom.digits);
    if !all_whole || !in_range || (whole.is_some() && top.digits >= bottom.digits) {
        return Err(LengthFlaw::Fraction);
    }
    let whole = whole.map_or(0, |whole| whole.digits);
    Ok(Quantity {
        numerator: whole * bottom.digits + top.digits,
        denominator: bottom.digits,
        has_fraction: true,
    })
}

fn tokens(text: &str) -> Result<Vec<Token>, LengthFlaw> {
    let plain = plain(text);
    let mut tokens = Vec::new();
    let mut rest = plain.trim_start();
    while let Some(first) = rest.chars().next() {
        let taken = match first {
            '0'..='9' | '.' => {
                let end = rest
                    .find(|c: char| !c.is_ascii_digit() && c != '.')
                    .unwrap_or(rest.len());
                let number = &rest[..end];
                if number.len() > Decimal::MOST_DIGITS {
                    return Err(LengthFlaw::TooFine);
                }
                tokens.push(Token::Number(
                    Decimal::parse(number).ok_or(LengthFlaw::NotALength)?,
                ));
                end
            }
            '/' => {
                tokens.push(Token::Slash);
                1
            }
            '-' => {
                tokens.push(Token::Dash);
                1
            }
            ',' => return Err(LengthFlaw::Comma),
            '\'' | '"' => {
                let unit = LengthUnit::from_word(&rest[..1]).ok_or(LengthFlaw::UnknownUnit)?;
                tokens.push(Token::Unit(unit));
                1
            }
            _ if first.is_alphabetic() => {
                let end = rest
                    .find(|c: char| !c.is_alphabetic())
                    .unwrap_or(rest.len());
                let flaw = if tokens.is_empty() {
                    LengthFlaw::NotALength
                } else {
                    LengthFlaw::UnknownUnit
                };
                tokens.push(Token::Unit(
                    LengthUnit::from_word(&rest[..end]).ok_or(flaw)?,
                ));
                // "18 in." ends its abbreviation with a stop.
                end + usize::from(rest[end..].trim_end() == ".")
            }
            _ => return Err(LengthFlaw::NotALength),
        };
        rest = rest[taken..].trim_start();
    }
    Ok(tokens)
}

/// The text in small ASCII letters, with typographic fractions, quotes and dashes spelled plainly.
fn plain(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for letter in text.chars() {
        let spelled = match letter {
            '¼' => " 1/4",
            '½' => " 1/2",
            '¾' => " 3/4",
            '⅛' => " 1/8",
            '⅜' => " 3/8",
            '⅝' => " 5/8",
            '⅞' => " 7/8",
            '⅓' => " 1/3",
            '⅔' => " 2/3",
            '⅕' => " 1/5",
            '⅖' => " 2/5",
            '⅗' => " 3/5",
            '⅘' => " 4/5",
            '⁄' | '∕' => "/",
            '″' | '”' | '“' => "\"",
            '′' | '’' | '‘' => "'",
            '–' | '—' | '−' | '‐' | '‑' => "-",
            _ => {
                plain.extend(letter.to_lowercase());
                continue;
            }
        };
        plain.push_str(spelled);
    }
    plain.replace("''", "\"")
}

/// The finest fraction of an inch that is shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum InchFraction {
    #[default]
    Sixteenths,
    ThirtySeconds,
    SixtyFourths,
}

impl InchFraction {
    pub const fn denominator(self) -> i64 {
        match self {
            InchFraction::Sixteenths => 16,
            InchFraction::ThirtySeconds => 32,
            InchFraction::SixtyFourths => 64,
        }
    }

    pub const fn from_denominator(denominator: i64) -> Option<InchFraction> {
        match denominator {
            16 => Some(InchFraction::Sixteenths),
            32 => Some(InchFraction::ThirtySeconds),
            64 => Some(InchFraction::SixtyFourths),
            _ => None,
        }
    }
}

/// How a member wants lengths shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthFormat {
    Inches(InchFraction),
    Millimetres,
}

impl LengthFormat {
    /// The unit of a bare number that this member types.
    pub const fn unit(self) -> LengthUnit {
        match self {
            LengthFormat::Inches(_) => LengthUnit::Inches,
            LengthFormat::Millimetres => LengthUnit::Millimetres,
        }
    }

    /// For reading: `17 1/2 in` or `444.5 mm`, rounded to the fraction or to 0.1 mm.
    /// A leading `≈` says that the length was rounded.
    pub fn show(self, length: Length) -> String {
        let (step, scale) = match self {
            LengthFormat::Inches(fraction) => (NM_PER_INCH, fraction.denominator()),
            LengthFormat::Millimetres => (NM_PER_MM, 10),
        };
        let nm = i128::from(length.nm()).abs();
        let grain = i128::from(step / scale);
        let count = (nm + grain / 2) / grain;
        let exact = count * grain == nm;
        let approximately = if exact { "" } else { "≈ " };
        let sign = if length.nm() < 0 && count > 0 {
            "-"
        } else {
            ""
        };
        let number = match self {
            LengthFormat::Inches(fraction) => mixed(count, i128::from(fraction.denominator())),
            LengthFormat::Millimetres if count % 10 == 0 => (count / 10).to_string(),
            LengthFormat::Millimetres => format!("{}.{}", count / 10, count % 10),
        };
        let unit = match self {
            LengthFormat::Inches(_) => "in",
            LengthFormat::Millimetres => "mm",
        };
        format!("{approximately}{sign}{number} {unit}")
    }

    /// The sizes of one thing with their unit once, for where room is scarce: `24 1/8 × 3 1/2 × 3/4 in`.
    pub fn show_sizes(self, sizes: &[Length]) -> String {
        let unit = match self {
            LengthFormat::Inches(_) => " in",
            LengthFormat::Millimetres => " mm",
        };
        let shown: Vec<String> = sizes.iter().map(|size| self.show(*size)).collect();
        let numbers: Vec<&str> = shown
            .iter()
            .map(|text| text.trim_end_matches(unit))
            .collect();
        format!("{}{unit}", numbers.join(" × "))
    }

    /// For an input field: exact, so that an untouched field keeps its value. Inches where 1/64 in
    /// can say it and inches are wanted, otherwise millimetres.
    pub fn show_exact(self, length: Length) -> String {
        let finest = LengthFormat::Inches(InchFraction::SixtyFourths);
        match self {
            LengthFormat::Inches(_) if length.nm() % (NM_PER_INCH / 64) == 0 => finest.show(length),
            _ => length.to_string(),
        }
    }
}

/// `count / denominator` in lowest terms with its whole part in front.
fn mixed(count: i128, denominator: i128) -> String {
    let (whole, mut top) = (count / denominator, count % denominator);
    if top == 0 {
        return whole.to_string();
    }
    let mut bottom = denominator;
    while top % 2 == 0 {
        top /= 2;
        bottom /= 2;
    }
    if whole == 0 {
        format!("{top}/{bottom}")
    } else {
        format!("{whole} {top}/{bottom}")
    }
}
