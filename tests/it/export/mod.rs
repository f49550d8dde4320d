//! What leaves the program as bytes: drawings, sheets, tables, calendars.

mod drawing;
mod pdf;
mod qr;
mod shop_drawing;
