//! Local days and instants of the workshop.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// The local day of an instant.
pub fn day_of(at: Timestamp, zone: &TimeZone) -> Date {
    at.to_zoned_datetime(zone.clone()).date()
}

/// `days` later; the last day there is where the calendar ends.
pub fn days_after(day: Date, days: u16) -> Date {
    day.saturating_add(jiff::Span::new().days(i64::from(days)))
}

/// The instant of a minute of a local day; 1440 is the midnight that ends it. A time that a clock
/// change leaves out is taken as if the clock had not been changed; of one that comes twice, the
/// first is taken.
pub fn instant_of(day: Date, minute: u16, zone: &TimeZone) -> Timestamp {
    let (day, minute) = if minute >= 1440 {
        (day.saturating_add(jiff::Span::new().days(1)), 0)
    } else {
        (day, minute)
    };
    let hour = i8::try_from(minute / 60).expect("a minute of the day has at most hour 23");
    let minute = i8::try_from(minute % 60).expect("a minute of the hour is below 60");
    zone.to_ambiguous_zoned_datetime(day.at(hour, minute, 0, 0))
        .compatible()
        .map_or(Timestamp::MAX, |zoned| zoned.timestamp())
}
