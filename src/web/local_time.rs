use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};

use super::{Error, words};
use crate::app::App;
use crate::app::days::day_of;
use crate::store::workshop;
use crate::units::WallMinute;

/// Instants as the clock on the workshop's wall shows them.
#[derive(Clone, Debug)]
pub(super) struct LocalTime {
    pub zone: TimeZone,
    pub now: Timestamp,
}

impl LocalTime {
    pub async fn load(app: &App) -> Result<LocalTime, Error> {
        Ok(LocalTime {
            zone: workshop::get(app.store.read()).await?.time_zone,
            now: app.clock.now(),
        })
    }

    pub fn today(&self) -> Date {
        self.day(self.now)
    }

    pub fn day(&self, at: Timestamp) -> Date {
        day_of(at, &self.zone)
    }

    fn zoned(&self, at: Timestamp) -> ZonedDateTime {
        at.to_zoned_datetime(self.zone.clone())
    }

    /// `18:05`.
    pub fn clock(&self, at: Timestamp) -> String {
        self.zoned(at).strftime("%H:%M").to_string()
    }

    /// `Tue 2 Mar, 18:05`.
    pub fn moment(&self, at: Timestamp) -> String {
        format!("{}, {}", words::short_day(self.day(at)), self.clock(at))
    }

    /// `18:05–18:45`; `18:05 to Wed 3 Mar, 06:05` where it ends on another day.
    pub fn span(&self, from: Timestamp, to: Timestamp) -> String {
        if self.day(from) == self.day(to) {
            format!("{}–{}", self.clock(from), self.clock(to))
        } else {
            format!("{} to {}", self.clock(from), self.moment(to))
        }
    }

    /// `Friday 5 March 2027, in 4 days`.
    pub fn full_day(&self, day: Date) -> String {
        format!(
            "{}, {}",
            words::day(day),
            words::from_today(day, self.today())
        )
    }

    /// The minute on the wall's clock. An hour that comes twice is drawn once over the other.
    pub fn wall(&self, at: Timestamp) -> WallMinute {
        let local = self.zoned(at);
        WallMinute::from_civil(
            i64::from(local.year()),
            i64::from(local.month()),
            i64::from(local.day()),
            i64::from(local.hour()),
            i64::from(local.minute()),
        )
        .unwrap_or(WallMinute::FIRST)
    }
}
