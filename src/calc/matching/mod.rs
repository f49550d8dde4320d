//! Which piece yields which strip, and where to cut.
