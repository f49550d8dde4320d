//! Plain values with their units: a wrong unit does not compile.
//!
//! Counted things are whole numbers of their smallest part (nanometres, cents, minutes), so sums
//! are exact; measured things (forces, moistures) are floating-point newtypes. Every `parse`
//! refuses what it does not understand with an error whose message has the form
//! "is X; must be Y", so that it reads after the name of a field.

mod decimal;
mod length;
mod length_text;
mod material;
mod minutes;
mod money;
mod quantity;
mod sentence;
mod source;
mod time;
mod volume;

pub use length::{Length, NM_PER_INCH, NM_PER_MM};
pub use length_text::{InchFraction, LengthError, LengthFlaw, LengthFormat, LengthUnit};
pub use material::{
    FinishFigures, FinishFoodUse, FoodGrade, GlueFigures, GlueHazard, Hazard, WaterClass,
    WoodFigures,
};
pub use minutes::MinutesError;
pub use money::{Money, MoneyError};
pub use quantity::{Force, Humidity, Mass, Moisture, Newtons, Pressure, RangeError, Temperature};
pub(crate) use sentence::say;
pub use sentence::{Part, Sentence};
pub use source::{Between, Cited, Provenance, Source};
pub use time::{MINUTES_PER_DAY, Minutes, WallMinute};
pub use volume::{Area, Volume};
