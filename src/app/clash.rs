//! Bookings that do not fit together any more: hours that were changed under them, one person in two places.
//!
//! Clamps and stations are never among them: the database refuses to book more than there are, and to have fewer than are booked.

use jiff::Timestamp;

use super::hours::Windows;
use crate::calc::work::{Presence, StepKind};
use crate::store::booking::{Booking, BookingState};

/// What is wrong with a booking.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Clash<'a> {
    /// The workshop is not open for all of it.
    Shut(&'a Booking),
    /// The workshop is open, and its machines may not run for all of it.
    NoMachines(&'a Booking),
    /// Its member has another step at the same time.
    TwoPlaces(&'a Booking, &'a Booking),
}

/// The clashes of what has not begun and can still be moved, by time. `windows` must reach as far as the bookings.
pub fn clashes<'a>(bookings: &'a [Booking], windows: &Windows, now: Timestamp) -> Vec<Clash<'a>> {
    let attended: Vec<&Booking> = bookings
        .iter()
        .filter(|booking| booking.attended && booking.state != BookingState::Done)
        .collect();
    let mut found = Vec::new();
    for (place, booking) in attended.iter().enumerate() {
        if booking.state == BookingState::Planned && booking.from > now {
            let presence = StepKind::from_key(&booking.kind).map(|kind| kind.row().presence);
            if !windows.hold(booking.from, booking.to) {
                found.push(Clash::Shut(booking));
            } else if presence == Some(Presence::Machine)
                && !windows.hold_machines(booking.from, booking.to)
            {
                found.push(Clash::NoMachines(booking));
            }
        }
        for other in &attended[place + 1..] {
            let is_same_load =
                booking.clamp_load.is_some() && booking.clamp_load == other.clamp_load;
            let is_at_once = booking.from < other.to && other.from < booking.to;
            if booking.member == other.member && is_at_once && !is_same_load && other.to > now {
                found.push(Clash::TwoPlaces(booking, other));
            }
        }
    }
    found
}
