//! What decides when the workshop is open, one by one: weekly hours, extra openings, closures.

use jiff::civil::Date;
use sqlx::SqliteConnection;

use crate::store::opening::{self, ClosedDays, ExtraHours, WeeklyHours};
use crate::store::{self, By, ClosureId, ExtraOpeningId, WeeklyOpeningId, Written};
use crate::wire::FieldError;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RuleKind {
    Weekly,
    Extra,
    Closure,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Rule {
    Weekly(WeeklyHours),
    Extra(ExtraHours),
    Closure(ClosedDays),
}

/// The days of the week from Monday on, which is 1 in ISO 8601.
pub const WEEKDAYS: [&str; 7] = [
    "Monday",
    "Tuesday",
    "Wednesday",
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
];

/// A rule that is stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptRule {
    pub id: i64,
    pub version: i64,
    pub rule: Rule,
}

/// The longest note or reason, in characters.
const LONGEST_NOTE: usize = 200;
/// The longest closure, in days. A longer one is most likely a slip in the year.
const LONGEST_CLOSURE: i32 = 400;

impl KeptRule {
    fn weekly(row: opening::WeeklyOpening) -> KeptRule {
        KeptRule {
            id: row.id.0,
            version: row.version,
            rule: Rule::Weekly(row.hours),
        }
    }

    fn extra(row: opening::ExtraOpening) -> KeptRule {
        KeptRule {
            id: row.id.0,
            version: row.version,
            rule: Rule::Extra(row.hours),
        }
    }

    fn closure(row: opening::Closure) -> KeptRule {
        KeptRule {
            id: row.id.0,
            version: row.version,
            rule: Rule::Closure(row.days),
        }
    }
}

/// All rules of a kind; single days and closures only where they do not lie before `from_day`.
pub async fn list(
    db: &mut SqliteConnection,
    kind: RuleKind,
    from_day: Date,
) -> store::Result<Vec<KeptRule>> {
    Ok(match kind {
        RuleKind::Weekly => each(opening::list_weekly(db).await?, KeptRule::weekly),
        RuleKind::Extra => each(opening::list_extra(db, from_day).await?, KeptRule::extra),
        RuleKind::Closure => each(
            opening::list_closures(db, from_day).await?,
            KeptRule::closure,
        ),
    })
}

fn each<T>(rows: Vec<T>, kept: fn(T) -> KeptRule) -> Vec<KeptRule> {
    rows.into_iter().map(kept).collect()
}

pub async fn find(
    db: &mut SqliteConnection,
    kind: RuleKind,
    id: i64,
) -> store::Result<Option<KeptRule>> {
    Ok(match kind {
        RuleKind::Weekly => opening::find_weekly(db, WeeklyOpeningId(id))
            .await?
            .map(KeptRule::weekly),
        RuleKind::Extra => opening::find_extra(db, ExtraOpeningId(id))
            .await?
            .map(KeptRule::extra),
        RuleKind::Closure => opening::find_closure(db, ClosureId(id))
            .await?
            .map(KeptRule::closure),
    })
}

/// The rule's number.
///
/// # Errors
/// What the database refuses; look at [`flaws`] first.
pub async fn create(db: &mut SqliteConnection, by: By, rule: &Rule) -> Written<i64> {
    Ok(match rule {
        Rule::Weekly(hours) => opening::create_weekly(db, by, hours).await?.0,
        Rule::Extra(hours) => opening::create_extra(db, by, hours).await?.0,
        Rule::Closure(days) => opening::create_closure(db, by, days).await?.0,
    })
}

/// # Errors
/// `Stale`.
pub async fn update(
    db: &mut SqliteConnection,
    by: By,
    id: i64,
    version: i64,
    rule: &Rule,
) -> Written {
    match rule {
        Rule::Weekly(hours) => {
            opening::update_weekly(db, by, WeeklyOpeningId(id), version, hours).await
        }
        Rule::Extra(hours) => {
            opening::update_extra(db, by, ExtraOpeningId(id), version, hours).await
        }
        Rule::Closure(days) => opening::update_closure(db, by, ClosureId(id), version, days).await,
    }
}

/// # Errors
/// `Stale`.
pub async fn remove(
    db: &mut SqliteConnection,
    by: By,
    kind: RuleKind,
    id: i64,
    version: i64,
) -> Written {
    match kind {
        RuleKind::Weekly => opening::remove_weekly(db, by, WeeklyOpeningId(id), version).await,
        RuleKind::Extra => opening::remove_extra(db, by, ExtraOpeningId(id), version).await,
        RuleKind::Closure => opening::remove_closure(db, by, ClosureId(id), version).await,
    }
}

/// What is wrong with a rule whose fields are each right.
pub fn flaws(rule: &Rule) -> Vec<FieldError> {
    let mut flaws = Vec::new();
    let mut wrong = |field: &str, detail: String| {
        flaws.push(FieldError {
            pointer: format!("/{field}"),
            detail,
        });
    };
    let mut hours = |from: u16, to: u16| {
        if to <= from {
            wrong(
                "to",
                format!(
                    "is {}; must be later than {}, when it opens",
                    clock(to),
                    clock(from)
                ),
            );
        }
    };
    match rule {
        Rule::Weekly(weekly) => {
            hours(weekly.from_minute, weekly.to_minute);
            if let Some(last) = weekly.to_day.filter(|last| *last < weekly.from_day) {
                wrong(
                    "last_day",
                    format!(
                        "is {last}; must not be before {}, the first",
                        weekly.from_day
                    ),
                );
            }
        }
        Rule::Extra(extra) => {
            hours(extra.from_minute, extra.to_minute);
            if extra.note.chars().count() > LONGEST_NOTE {
                wrong(
                    "note",
                    format!("is too long; must be at most {LONGEST_NOTE} characters"),
                );
            }
        }
        Rule::Closure(closed) => {
            if closed.to_day < closed.from_day {
                wrong(
                    "last_day",
                    format!(
                        "is {}; must not be before {}, the first",
                        closed.to_day, closed.from_day
                    ),
                );
            } else if (closed.to_day - closed.from_day).get_days() >= LONGEST_CLOSURE {
                wrong(
                    "last_day",
                    format!(
                        "is {}; must be at most {LONGEST_CLOSURE} days after the first",
                        closed.to_day
                    ),
                );
            }
            if closed.reason.chars().count() > LONGEST_NOTE {
                wrong(
                    "reason",
                    format!("is too long; must be at most {LONGEST_NOTE} characters"),
                );
            }
        }
    }
    flaws
}

/// A minute of the day as `18:30`; the midnight that ends it is `24:00`.
pub fn clock(minute: u16) -> String {
    format!("{:02}:{:02}", minute / 60, minute % 60)
}

/// The minute of the day of `18:30`, `18`, `6:30 pm`, `6pm`.
///
/// # Errors
/// A predicate that says what would be right.
pub fn parse_clock(text: &str) -> Result<u16, String> {
    let wrong = || {
        let shown: String = text.chars().take(30).collect();
        format!("is \"{shown}\"; must be a time like 18:30, from 0:00 to 24:00")
    };
    let plain = text.trim().to_ascii_lowercase();
    let half = [("am", 0), ("pm", 12)]
        .into_iter()
        .find_map(|(word, hours)| {
            plain
                .strip_suffix(word)
                .map(|rest| (rest.trim_end(), hours))
        });
    let (digits, half) = match half {
        Some((rest, hours)) => (rest, Some(hours)),
        None => (plain.as_str(), None),
    };
    let (hour, minute) = digits.split_once([':', '.']).unwrap_or((digits, "00"));
    let is_number = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if !(1..=2).contains(&hour.len()) || minute.len() != 2 || !is_number(hour) || !is_number(minute)
    {
        return Err(wrong());
    }
    let hour: u16 = hour.parse().map_err(|_| wrong())?;
    let minute: u16 = minute.parse().map_err(|_| wrong())?;
    let hour = match half {
        Some(hours) if (1..=12).contains(&hour) => hour % 12 + hours,
        Some(_) => return Err(wrong()),
        None => hour,
    };
    let minutes = hour * 60 + minute;
    if minute > 59 || minutes > 1440 {
        return Err(wrong());
    }
    Ok(minutes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read_as_people_write_them() {
        for (text, minutes) in [
            ("18:30", 1110),
            ("0:00", 0),
            ("24:00", 1440),
            ("9", 540),
            ("18.30", 1110),
            ("6:30 pm", 1110),
            ("6PM", 1080),
            ("12 am", 0),
            ("12:15 pm", 735),
        ] {
            assert_eq!(parse_clock(text), Ok(minutes), "{text}");
        }
        for text in [
            "", "24:01", "25", "7:5", "13 pm", "0 pm", "18:60", "noon", "-1", "1:2:3",
        ] {
            assert!(parse_clock(text).is_err(), "{text}");
        }
    }
}
