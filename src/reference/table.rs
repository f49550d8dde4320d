//! Reading a compiled-in CSV table with the place of every flaw.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt::Display;
use std::sync::LazyLock;

use crate::units::{Provenance, Source};

/// One row of a table; every reading method names table, line and column where it fails.
pub(super) struct Row<'a> {
    table: &'static str,
    line: usize,
    fields: BTreeMap<&'a str, &'a str>,
}

impl<'a> Row<'a> {
    fn fail(&self, column: &str, flaw: impl Display) -> ! {
        // The tables are part of the program, and the tests read them all.
        panic!("table {}, line {}, {column}: {flaw}", self.table, self.line)
    }

    pub fn text(&self, column: &str) -> &'a str {
        match self.fields.get(column) {
            Some(text) => text,
            None => self.fail(column, "no such column"),
        }
    }

    /// The text, which must not be empty.
    pub fn required(&self, column: &str) -> &'a str {
        let text = self.text(column);
        if text.is_empty() {
            self.fail(column, "is empty");
        }
        text
    }

    /// The field read by `read`.
    pub fn parsed<T>(&self, column: &str, read: impl FnOnce(&str) -> Option<T>) -> T {
        let text = self.required(column);
        match read(text) {
            Some(value) => value,
            None => self.fail(column, format_args!("cannot be read: {text}")),
        }
    }

    pub fn number(&self, column: &str) -> f64 {
        self.parsed(column, |text| text.parse().ok())
    }

    /// A number, or `None` where the field is empty.
    pub fn optional_number(&self, column: &str) -> Option<f64> {
        (!self.text(column).is_empty()).then(|| self.number(column))
    }

    /// The source whose key and provenance stand in `key_column` and `provenance_column`.
    pub fn source(&self, key_column: &str, provenance_column: &str) -> Source {
        let provenance = self.parsed(provenance_column, Provenance::from_word);
        let key = self.text(key_column);
        let publication = match (key, provenance) {
            ("", Provenance::Practice) => "",
            _ => match PUBLICATIONS.get(key) {
                Some(publication) => publication,
                None => self.fail(key_column, format_args!("unknown source: {key}")),
            },
        };
        Source {
            publication: Cow::Borrowed(publication),
            provenance,
        }
    }
}

/// Every row of the CSV text `csv`, read by `read`.
pub(super) fn read_table<T>(
    table: &'static str,
    csv: &'static str,
    mut read: impl FnMut(&Row<'_>) -> T,
) -> Vec<T> {
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = match reader.headers() {
        Ok(header) => header.clone(),
        Err(error) => panic!("table {table}: {error}"),
    };
    let mut rows = Vec::new();
    for (place, record) in reader.records().enumerate() {
        let line = place + 2;
        let record = match record {
            Ok(record) => record,
            Err(error) => panic!("table {table}, line {line}: {error}"),
        };
        let fields = header.iter().zip(record.iter()).collect();
        rows.push(read(&Row {
            table,
            line,
            fields,
        }));
    }
    rows
}

static PUBLICATIONS: LazyLock<BTreeMap<String, &'static str>> = LazyLock::new(|| {
    let rows = read_table("sources", include_str!("sources.csv"), |row| {
        let publication: &'static str = row.required("publication").to_owned().leak();
        (row.required("key").to_owned(), publication)
    });
    rows.into_iter().collect()
});

/// Reads every table, so that a flaw in one of them shows at once.
pub fn check() {
    let rows = super::woods().len()
        + super::glues().len()
        + super::gluing_figures().len()
        + super::finishes().len()
        + super::grits().len()
        + super::lumber_sizes().len()
        + super::machining_figures().len()
        + super::cautions().len()
        + super::glossary().len();
    assert!(rows > 0, "the tables are empty");
}
