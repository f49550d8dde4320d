//! Values to bytes: drawings, printed sheets, tables and calendars. Pure: a time stamp is an
//! argument, and nothing here reads the database, the network or a clock.

pub mod csv;
pub mod ics;
pub mod pdf;
pub mod qr;
pub mod svg;
