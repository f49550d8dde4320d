//! The program against figures, standards and worked examples that others published.

mod reference;
