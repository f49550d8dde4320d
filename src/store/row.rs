//! Columns as the values they stand for: nanometres, cents, instants, local days.

use jiff::Timestamp;
use jiff::civil::Date;
use sqlx::sqlite::SqliteRow;
use sqlx::{ColumnIndex, Decode, Row, Sqlite, Type};

use crate::units::Length;

/// A column that cannot be read as what it must be: the file was written by something else.
pub(crate) fn unreadable(name: &str, source: impl Into<sqlx::error::BoxDynError>) -> sqlx::Error {
    sqlx::Error::ColumnDecode {
        index: name.to_owned(),
        source: source.into(),
    }
}

fn get<'row, T>(row: &'row SqliteRow, name: &str) -> sqlx::Result<T>
where
    T: Decode<'row, Sqlite> + Type<Sqlite>,
    for<'name> &'name str: ColumnIndex<SqliteRow>,
{
    row.try_get(name)
}

pub(crate) fn length(row: &SqliteRow, name: &str) -> sqlx::Result<Length> {
    get(row, name).map(Length::from_nm)
}

pub(crate) fn optional_length(row: &SqliteRow, name: &str) -> sqlx::Result<Option<Length>> {
    Ok(get::<Option<i64>>(row, name)?.map(Length::from_nm))
}

/// Whole seconds since 1970 in UTC.
pub(crate) fn instant(row: &SqliteRow, name: &str) -> sqlx::Result<Timestamp> {
    Timestamp::from_second(get(row, name)?).map_err(|error| unreadable(name, error))
}

pub(crate) fn optional_instant(row: &SqliteRow, name: &str) -> sqlx::Result<Option<Timestamp>> {
    get::<Option<i64>>(row, name)?
        .map(|seconds| Timestamp::from_second(seconds).map_err(|error| unreadable(name, error)))
        .transpose()
}

/// `YYYY-MM-DD`.
pub(crate) fn day(row: &SqliteRow, name: &str) -> sqlx::Result<Date> {
    get::<&str>(row, name)?
        .parse()
        .map_err(|error: jiff::Error| unreadable(name, error))
}

pub(crate) fn optional_day(row: &SqliteRow, name: &str) -> sqlx::Result<Option<Date>> {
    get::<Option<&str>>(row, name)?
        .map(|text| {
            text.parse()
                .map_err(|error: jiff::Error| unreadable(name, error))
        })
        .transpose()
}

pub(crate) fn json<T: serde::de::DeserializeOwned>(row: &SqliteRow, name: &str) -> sqlx::Result<T> {
    serde_json::from_str(get(row, name)?).map_err(|error| unreadable(name, error))
}

/// JSON text of a value that always has one.
pub(crate) fn to_json(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).expect("a plain value with text keys has a JSON form")
}
