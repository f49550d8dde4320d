//! What leaves the program as bytes: drawings, sheets, tables, calendars.

mod csv;
mod drawing;
mod ics;
mod pdf;
mod pdf_reader;
mod qr;
mod shop_drawing;
