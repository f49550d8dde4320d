//! What leaves the program as bytes: drawings, sheets, tables, calendars.

mod drawing;
mod shop_drawing;
