//! The program against figures, standards and worked examples that others published.

mod cutting_stock;
mod formats;
mod gluing;
mod job_shop;
mod psplib;
mod reference;
mod wood;
