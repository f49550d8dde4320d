//! When the workshop is open: weekly hours, extra openings and closures as spans of real time.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use super::days::{day_of, instant_of};
use crate::store::opening::{self, Closure, ExtraOpening, WeeklyOpening};
use crate::store::{self, workshop};

/// Everything that decides when the workshop is open.
#[derive(Clone, Debug)]
pub struct Hours {
    pub zone: TimeZone,
    pub weekly: Vec<WeeklyOpening>,
    pub extra: Vec<ExtraOpening>,
    pub closures: Vec<Closure>,
}

/// A time in which the workshop is open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Span {
    /// The local day on which it begins.
    pub day: Date,
    pub from: Timestamp,
    pub to: Timestamp,
    /// A steward is on duty, so the machines may run.
    pub machines: bool,
    /// Of an extra opening.
    pub note: String,
}

/// Whether `weekday`, Monday being 0, is among the days on which somebody can come.
fn can_come(own_days: [bool; 7], day: Date) -> bool {
    let weekday = usize::from(day.weekday().to_monday_zero_offset().unsigned_abs());
    own_days.get(weekday).copied().unwrap_or(true)
}

impl Hours {
    /// What holds from `from` on.
    pub async fn load(db: &mut SqliteConnection, from: Timestamp) -> store::Result<Hours> {
        let zone = workshop::get(&mut *db).await?.time_zone;
        let day = day_of(from, &zone);
        Ok(Hours {
            weekly: opening::list_weekly(&mut *db).await?,
            extra: opening::list_extra(&mut *db, day).await?,
            closures: opening::list_closures(&mut *db, day).await?,
            zone,
        })
    }

    /// The closure that a day lies in.
    pub fn closure_on(&self, day: Date) -> Option<&Closure> {
        self.closures
            .iter()
            .find(|closure| closure.days.from_day <= day && day <= closure.days.to_day)
    }

    /// The openings of the days from `from` to `to`, both included, by time, as they were entered:
    /// they may touch or overlap. Extra openings hold on closed days too.
    pub fn openings(&self, from: Date, to: Date) -> Vec<Span> {
        let mut spans = Vec::new();
        let mut day = from;
        while day <= to {
            if self.closure_on(day).is_none() {
                let weekday = day.weekday().to_monday_one_offset();
                for WeeklyOpening { hours, .. } in &self.weekly {
                    let holds = hours.weekday == weekday
                        && hours.from_day <= day
                        && hours.to_day.is_none_or(|last| day <= last);
                    if holds {
                        let (from, to) = (hours.from_minute, hours.to_minute);
                        spans.push(self.span(day, from, to, hours.machines, ""));
                    }
                }
            }
            for ExtraOpening { hours, .. } in &self.extra {
                if hours.on_day == day {
                    let (from, to) = (hours.from_minute, hours.to_minute);
                    spans.push(self.span(day, from, to, hours.machines, &hours.note));
                }
            }
            match day.tomorrow() {
                Ok(next) => day = next,
                Err(_) => break,
            }
        }
        spans.retain(|span| span.from < span.to);
        spans.sort_by_key(|span| (span.from, span.to));
        spans
    }

    fn span(&self, day: Date, from: u16, to: u16, machines: bool, note: &str) -> Span {
        Span {
            day,
            from: instant_of(day, from, &self.zone),
            to: instant_of(day, to, &self.zone),
            machines,
            note: note.to_owned(),
        }
    }

    /// The openings as work sees them: what touches or overlaps is one time, cut only where the
    /// machines start or stop being allowed. Only those on somebody's own days, if they are given.
    pub fn windows(&self, from: Date, to: Date, own_days: Option<[bool; 7]>) -> Windows {
        let mut spans = self.openings(from, to);
        if let Some(own_days) = own_days {
            spans.retain(|span| can_come(own_days, span.day));
        }
        let merged = |with_machines: bool| {
            let mut merged: Vec<(Timestamp, Timestamp)> = Vec::new();
            for span in spans.iter().filter(|span| span.machines || !with_machines) {
                match merged.last_mut() {
                    Some(last) if span.from <= last.1 => last.1 = last.1.max(span.to),
                    _ => merged.push((span.from, span.to)),
                }
            }
            merged
        };
        Windows {
            open: merged(false),
            machines: merged(true),
        }
    }
}

/// Times in which work may be done, by time; none touches the next.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Windows {
    pub open: Vec<(Timestamp, Timestamp)>,
    /// Times in which machines may run.
    pub machines: Vec<(Timestamp, Timestamp)>,
}

impl Windows {
    /// Whether somebody can be there all the time.
    pub fn hold(&self, from: Timestamp, to: Timestamp) -> bool {
        Windows::cover(&self.open, from, to)
    }

    /// Whether somebody can be there all the time and machines may run.
    pub fn hold_machines(&self, from: Timestamp, to: Timestamp) -> bool {
        Windows::cover(&self.machines, from, to)
    }

    fn cover(windows: &[(Timestamp, Timestamp)], from: Timestamp, to: Timestamp) -> bool {
        windows
            .iter()
            .any(|(opens, shuts)| *opens <= from && to <= *shuts)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::opening::{ClosedDays, ExtraHours, WeeklyHours};
    use crate::store::{ClosureId, ExtraOpeningId, WeeklyOpeningId};

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    fn weekly(weekday: i8, from_minute: u16, to_minute: u16, machines: bool) -> WeeklyOpening {
        let from_day = day("2027-01-01");
        let hours = WeeklyHours {
            weekday,
            from_minute,
            to_minute,
            machines,
            from_day,
            to_day: None,
        };
        WeeklyOpening {
            id: WeeklyOpeningId(1),
            hours,
            version: 1,
        }
    }

    fn hours(weekly: Vec<WeeklyOpening>) -> Hours {
        let zone = TimeZone::get("America/New_York").unwrap();
        Hours {
            zone,
            weekly,
            extra: Vec::new(),
            closures: Vec::new(),
        }
    }

    fn times(spans: &[(Timestamp, Timestamp)]) -> Vec<String> {
        spans
            .iter()
            .map(|(from, to)| format!("{from} {to}"))
            .collect()
    }

    #[test]
    fn hours_that_touch_or_overlap_are_one_time() {
        // Monday 18 to 20 with machines, 20 to 22 without, 21 to 24, and Tuesday from midnight.
        let hours = hours(vec![
            weekly(1, 1080, 1200, true),
            weekly(1, 1200, 1320, false),
            weekly(1, 1260, 1440, false),
            weekly(2, 0, 60, false),
        ]);
        let windows = hours.windows(day("2027-03-01"), day("2027-03-02"), None);
        assert_eq!(
            times(&windows.open),
            ["2027-03-01T23:00:00Z 2027-03-02T06:00:00Z"]
        );
        assert_eq!(
            times(&windows.machines),
            ["2027-03-01T23:00:00Z 2027-03-02T01:00:00Z"]
        );
        let monday_only = [true, false, false, false, false, false, false];
        let own = hours.windows(day("2027-03-01"), day("2027-03-02"), Some(monday_only));
        assert_eq!(
            times(&own.open),
            ["2027-03-01T23:00:00Z 2027-03-02T05:00:00Z"]
        );
    }

    #[test]
    fn a_closure_shuts_the_weekly_hours_and_not_an_extra_opening() {
        let mut hours = hours(vec![weekly(1, 600, 720, true), weekly(2, 600, 720, true)]);
        hours.closures.push(Closure {
            id: ClosureId(1),
            days: ClosedDays {
                from_day: day("2027-03-01"),
                to_day: day("2027-03-01"),
                reason: "floor".into(),
            },
            version: 1,
        });
        hours.extra.push(ExtraOpening {
            id: ExtraOpeningId(1),
            hours: ExtraHours {
                on_day: day("2027-03-01"),
                from_minute: 900,
                to_minute: 960,
                machines: false,
                note: "keys at the desk".into(),
            },
            version: 1,
        });
        let spans = hours.openings(day("2027-03-01"), day("2027-03-02"));
        let notes: Vec<(Date, &str)> = spans
            .iter()
            .map(|span| (span.day, span.note.as_str()))
            .collect();
        assert_eq!(
            notes,
            [
                (day("2027-03-01"), "keys at the desk"),
                (day("2027-03-02"), "")
            ]
        );
    }

    #[test]
    fn an_opening_over_a_clock_change_lasts_as_long_as_it_really_does() {
        // In New York the clocks go from 2:00 to 3:00 on Sunday 2027-03-14 (Energy Policy Act of
        // 2005: second Sunday in March).
        let hours = hours(vec![weekly(7, 60, 240, true)]);
        let spans = hours.openings(day("2027-03-14"), day("2027-03-14"));
        let minutes = (spans[0].to.as_second() - spans[0].from.as_second()) / 60;
        assert_eq!(minutes, 120, "1:00 to 4:00 by the clock");
    }
}
