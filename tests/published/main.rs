//! The program against figures, standards and worked examples that others published.

mod gluing;
mod reference;
mod wood;
