//! Money in whole cents.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Sub};

use super::decimal::Decimal;

/// An amount of money in whole hundredths of the workshop's currency.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Money(i64);

/// Why a text is no amount of money.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MoneyError {
    text: String,
}

impl fmt::Display for MoneyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "is \"{}\"; must be an amount from 0 to 10000000 in whole cents, such as 14.50",
            self.text
        )
    }
}

impl std::error::Error for MoneyError {}

impl Money {
    pub const ZERO: Money = Money(0);
    /// The largest amount that is read from a person or a program.
    pub const MOST: Money = Money(1_000_000_000);

    pub const fn from_cents(cents: i64) -> Money {
        Money(cents)
    }

    /// The nearest whole cent to a calculated amount.
    pub fn from_units_rounded(amount: f64) -> Money {
        Money((amount * 100.0).round() as i64)
    }

    pub const fn cents(self) -> i64 {
        self.0
    }

    /// The amount in whole units of the currency, for JSON.
    pub fn units(self) -> f64 {
        self.0 as f64 / 100.0
    }

    /// Reads `$14.50`, `14.5` or `14`: never negative, at most two decimals, no thousands commas.
    pub fn parse(text: &str) -> Result<Money, MoneyError> {
        let error = || MoneyError {
            text: text.trim().chars().take(40).collect(),
        };
        let number = text.trim();
        let number = number.strip_prefix('$').unwrap_or(number).trim_start();
        let cents = Decimal::parse(number)
            .and_then(|amount| amount.scaled(100))
            .filter(|cents| *cents <= i128::from(Money::MOST.0))
            .ok_or_else(error)?;
        Ok(Money(cents as i64))
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let cents = self.0.unsigned_abs();
        write!(f, "{sign}${}.{:02}", cents / 100, cents % 100)
    }
}

impl Add for Money {
    type Output = Money;
    fn add(self, other: Money) -> Money {
        Money(self.0 + other.0)
    }
}

impl AddAssign for Money {
    fn add_assign(&mut self, other: Money) {
        self.0 += other.0;
    }
}

impl Sub for Money {
    type Output = Money;
    fn sub(self, other: Money) -> Money {
        Money(self.0 - other.0)
    }
}

impl Mul<i64> for Money {
    type Output = Money;
    fn mul(self, times: i64) -> Money {
        Money(self.0 * times)
    }
}

impl Sum for Money {
    fn sum<I: Iterator<Item = Money>>(amounts: I) -> Money {
        amounts.fold(Money::ZERO, Add::add)
    }
}
