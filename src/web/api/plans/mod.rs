//! Plans, bookings and questions about dates.

mod booking;
mod dates;
mod plan;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::app::App;
use crate::store::workshop;
use crate::web::{Error, Routes};

pub(super) fn routes(routes: Routes) -> Routes {
    let routes = plan::routes(routes);
    let routes = booking::routes(routes);
    dates::routes(routes)
}

/// An instant with the workshop's offset: `2027-03-05T18:00:00+01:00`.
fn moment(at: Timestamp, zone: &TimeZone) -> String {
    let zoned = at.to_zoned_datetime(zone.clone());
    at.display_with_offset(zoned.offset()).to_string()
}

/// An instant that is kept as seconds since 1970.
fn kept_moment(seconds: i64, zone: &TimeZone) -> Result<String, Error> {
    let at = Timestamp::from_second(seconds).map_err(|error| Error::Internal(error.into()))?;
    Ok(moment(at, zone))
}

async fn zone(app: &App) -> Result<TimeZone, Error> {
    Ok(workshop::get(app.store.read()).await?.time_zone)
}
