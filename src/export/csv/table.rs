//! Rows of cells with named columns: writing, and reading with every flaw at once.

use std::collections::BTreeMap;

use ::csv::{ByteRecord, ReaderBuilder, Terminator, WriterBuilder};

use super::flaw::CsvFlaw;
use crate::units::{Length, LengthFormat, LengthUnit};

/// The most rows of one file.
pub const MOST_ROWS: usize = 100_000;
/// The most flaws that are listed.
const MOST_FLAWS: usize = 200;
/// The longest text of one cell, in letters.
const MOST_LETTERS: usize = 2_000;

/// A row that was read, with its line in the file.
#[derive(Clone, Debug, PartialEq)]
pub struct Numbered<T> {
    pub line: u64,
    pub row: T,
}

/// A column of a table.
#[derive(Clone, Copy, Debug)]
pub(super) struct Column {
    pub name: &'static str,
    /// A file must have it.
    pub is_needed: bool,
}

pub(super) const fn needed(name: &'static str) -> Column {
    Column {
        name,
        is_needed: true,
    }
}

pub(super) const fn optional(name: &'static str) -> Column {
    Column {
        name,
        is_needed: false,
    }
}

/// A file with a heading; lines end in CRLF.
pub(super) fn write(columns: &[Column], rows: impl Iterator<Item = Vec<String>>) -> Vec<u8> {
    let mut writer = WriterBuilder::new()
        .terminator(Terminator::CRLF)
        .from_writer(Vec::new());
    let headings = columns.iter().map(|column| column.name);
    writer
        .write_record(headings)
        .expect("writing to memory cannot fail");
    for row in rows {
        writer
            .write_record(&row)
            .expect("every row has the table's columns");
    }
    writer.into_inner().expect("writing to memory cannot fail")
}

fn begins_a_formula(text: &str) -> bool {
    text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n'])
}

/// Words that no spreadsheet takes for a formula.
pub(super) fn words(text: &str) -> String {
    if begins_a_formula(text.trim_start_matches('\'')) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

/// The words that [`words`] was given.
fn plain(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if begins_a_formula(rest.trim_start_matches('\'')) => rest,
        _ => text,
    }
}

pub(super) fn yes_or_no(value: bool) -> String {
    if value { "yes" } else { "no" }.to_owned()
}

/// A length that reads back exactly, with its unit.
pub(super) fn length(lengths: LengthFormat, value: Length) -> String {
    lengths.show_exact(value)
}

/// One line while it is read.
pub(super) struct Line<'a> {
    number: u64,
    cells: Vec<String>,
    headings: &'a BTreeMap<&'static str, Heading>,
    flaws: Vec<CsvFlaw>,
}

struct Heading {
    place: usize,
    /// The unit that the heading states.
    unit: Option<LengthUnit>,
}

/// Reads a file. `row` turns a line into a row; it reports what is wrong to the line and may
/// then give nothing.
pub(super) fn read<T>(
    columns: &[Column],
    bytes: &[u8],
    row: impl Fn(&mut Line) -> Option<T>,
) -> Result<Vec<Numbered<T>>, Vec<CsvFlaw>> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter(bytes))
        .from_reader(bytes);
    let mut record = ByteRecord::new();
    let mut lines = Lines { read: 0, line: 1 };
    let mut flaws = Vec::new();
    let mut headings = None;
    let mut rows = Vec::new();
    loop {
        match reader.read_byte_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            Err(error) => {
                flaws.push(CsvFlaw::of_line(0, format!("cannot be read: {error}")));
                break;
            }
        }
        let number = lines.of(bytes, record.position().map_or(0, ::csv::Position::byte));
        if record.iter().all(|cell| cell.trim_ascii().is_empty()) {
            continue;
        }
        let Some(headings) = &headings else {
            match find_headings(columns, &record, number) {
                Ok(found) => headings = Some((found, record.len())),
                Err(found) => return Err(found),
            }
            continue;
        };
        if rows.len() >= MOST_ROWS {
            let detail = format!("is one row too many; must be at most {MOST_ROWS} in one file");
            flaws.push(CsvFlaw::of_line(number, detail));
            break;
        }
        let (headings, width) = (&headings.0, headings.1);
        match cells(&record, number, width) {
            Err(flaw) => flaws.push(flaw),
            Ok(cells) => {
                let mut line = Line {
                    number,
                    cells,
                    headings,
                    flaws: Vec::new(),
                };
                let read = row(&mut line);
                match read {
                    Some(row) if line.flaws.is_empty() => rows.push(Numbered { line: number, row }),
                    _ => flaws.append(&mut line.flaws),
                }
            }
        }
        if flaws.len() >= MOST_FLAWS {
            flaws.truncate(MOST_FLAWS);
            let detail = "has flaws enough; what follows was not looked at";
            flaws.push(CsvFlaw::of_line(number, detail));
            break;
        }
    }
    if headings.is_none() && flaws.is_empty() {
        let detail = format!(
            "is empty; must begin with a line of column names: {}",
            names(columns)
        );
        flaws.push(CsvFlaw::of_line(1, detail));
    }
    if flaws.is_empty() {
        Ok(rows)
    } else {
        Err(flaws)
    }
}

/// Counts lines on the way through a file. The reader's own count is one short after CRLF, since it leaves the LF
/// to the next record.
struct Lines {
    read: usize,
    line: u64,
}

impl Lines {
    /// The line on which the record begins whose first byte is said to be at `start`.
    fn of(&mut self, bytes: &[u8], start: u64) -> u64 {
        let mut start = usize::try_from(start)
            .unwrap_or(bytes.len())
            .min(bytes.len());
        while matches!(bytes.get(start), Some(b'\r' | b'\n')) {
            start += 1;
        }
        let passed = &bytes[self.read.min(start)..start];
        self.line += passed.iter().filter(|byte| **byte == b'\n').count() as u64;
        self.read = start;
        self.line
    }
}

/// Spreadsheets in countries with a decimal comma part cells by semicolons.
fn delimiter(bytes: &[u8]) -> u8 {
    let heading = bytes.split(|byte| *byte == b'\n').next().unwrap_or(bytes);
    let count = |wanted: u8| heading.iter().filter(|byte| **byte == wanted).count();
    if count(b';') > count(b',') {
        b';'
    } else {
        b','
    }
}

fn names(columns: &[Column]) -> String {
    let names: Vec<&str> = columns.iter().map(|column| column.name).collect();
    names.join(", ")
}

fn find_headings(
    columns: &[Column],
    record: &ByteRecord,
    number: u64,
) -> Result<BTreeMap<&'static str, Heading>, Vec<CsvFlaw>> {
    let mut flaws = Vec::new();
    let mut found = BTreeMap::new();
    for (place, cell) in record.iter().enumerate() {
        let Ok(cell) = std::str::from_utf8(cell) else {
            let detail = format!("has a name in column {} that is not UTF-8", place + 1);
            return Err(vec![CsvFlaw::of_line(number, detail)]);
        };
        let written = cell.trim().to_lowercase();
        let (name, unit) = match written
            .strip_suffix(')')
            .and_then(|rest| rest.split_once(" ("))
        {
            Some((name, "mm")) => (name, Some(LengthUnit::Millimetres)),
            Some((name, "cm")) => (name, Some(LengthUnit::Centimetres)),
            Some((name, "in")) => (name, Some(LengthUnit::Inches)),
            _ => (written.as_str(), None),
        };
        let column = columns
            .iter()
            .find(|column| column.name == written || column.name == name);
        let detail = match column {
            Some(column) => {
                let heading = Heading { place, unit };
                if found.insert(column.name, heading).is_none() {
                    continue;
                }
                format!(
                    "has the column \"{}\" twice; must have it once",
                    column.name
                )
            }
            None => format!(
                "has the column \"{}\"; must be one of: {}",
                shortened(cell.trim()),
                names(columns)
            ),
        };
        flaws.push(CsvFlaw::of_line(number, detail));
    }
    for column in columns {
        if column.is_needed && !found.contains_key(column.name) {
            let detail = format!("has no column \"{}\"; must have it", column.name);
            flaws.push(CsvFlaw::of_line(number, detail));
        }
    }
    if flaws.is_empty() {
        Ok(found)
    } else {
        flaws.truncate(MOST_FLAWS);
        Err(flaws)
    }
}

fn cells(record: &ByteRecord, number: u64, width: usize) -> Result<Vec<String>, CsvFlaw> {
    if record.len() != width {
        let detail = format!(
            "has {} cells; must have {width}, as the heading has",
            record.len()
        );
        return Err(CsvFlaw::of_line(number, detail));
    }
    record
        .iter()
        .enumerate()
        .map(|(place, cell)| match std::str::from_utf8(cell) {
            Ok(text) => Ok(text.to_owned()),
            Err(_) => {
                let detail = format!("has a cell in column {} that is not UTF-8", place + 1);
                Err(CsvFlaw::of_line(number, detail))
            }
        })
        .collect()
}

fn shortened(text: &str) -> String {
    const MOST_SHOWN: usize = 40;
    match text.char_indices().nth(MOST_SHOWN) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

impl Line<'_> {
    /// Reports a flaw of one column.
    pub fn flaw(&mut self, column: &'static str, detail: impl Into<String>) {
        self.flaws.push(CsvFlaw {
            line: self.number,
            column: Some(column.to_owned()),
            detail: detail.into(),
        });
    }

    /// The trimmed cell; empty where the file lacks the column.
    fn cell(&self, column: &'static str) -> &str {
        self.headings
            .get(column)
            .and_then(|heading| self.cells.get(heading.place))
            .map_or("", |cell| cell.trim())
    }

    pub fn is_empty(&self, column: &'static str) -> bool {
        self.cell(column).is_empty()
    }

    /// Words as they were written, blanks and all.
    pub fn words(&mut self, column: &'static str) -> String {
        let cell = self
            .headings
            .get(column)
            .and_then(|heading| self.cells.get(heading.place));
        let text = cell.map_or(String::new(), |cell| plain(cell).to_owned());
        if text.chars().nth(MOST_LETTERS).is_some() {
            let detail = format!("is longer than {MOST_LETTERS} letters; must be shorter");
            self.flaw(column, detail);
        }
        text
    }

    /// Words of which there must be some, without blanks around them.
    pub fn name(&mut self, column: &'static str) -> Option<String> {
        let text = self.words(column).trim().to_owned();
        if text.is_empty() {
            self.flaw(column, "is empty; must not be");
            return None;
        }
        Some(text)
    }

    /// A length of more than zero.
    pub fn length(&mut self, column: &'static str) -> Option<Length> {
        let unit = self.headings.get(column).and_then(|heading| heading.unit);
        match Length::parse_positive(plain(self.cell(column)), unit) {
            Ok(length) => Some(length),
            Err(error) => {
                self.flaw(column, error.to_string());
                None
            }
        }
    }

    /// A whole number within limits.
    pub fn whole(&mut self, column: &'static str, low: i64, high: i64) -> Option<i64> {
        let cell = self.cell(column);
        match cell.parse::<i64>() {
            Ok(number) if (low..=high).contains(&number) => Some(number),
            _ => {
                let written = if cell.is_empty() {
                    "is empty".to_owned()
                } else {
                    format!("is \"{}\"", shortened(cell))
                };
                let detail = format!("{written}; must be a whole number from {low} to {high}");
                self.flaw(column, detail);
                None
            }
        }
    }

    /// `yes` or `no`; an empty cell is no.
    pub fn yes_or_no(&mut self, column: &'static str) -> bool {
        let cell = self.cell(column).to_lowercase();
        match cell.as_str() {
            "yes" | "y" | "true" | "1" => true,
            "" | "no" | "n" | "false" | "0" => false,
            _ => {
                let detail = format!("is \"{}\"; must be yes or no", shortened(&cell));
                self.flaw(column, detail);
                false
            }
        }
    }

    /// One of some words, whatever their case.
    pub fn one_of<T: Copy>(&mut self, column: &'static str, known: &[(&str, T)]) -> Option<T> {
        let cell = self.cell(column).to_lowercase();
        if let Some((_, value)) = known.iter().find(|(word, _)| *word == cell) {
            return Some(*value);
        }
        let words: Vec<&str> = known.iter().map(|(word, _)| *word).collect();
        let detail = format!(
            "is \"{}\"; must be one of: {}",
            shortened(&cell),
            words.join(", ")
        );
        self.flaw(column, detail);
        None
    }

    /// Anything that `parse` understands; `must_be` says what that is.
    pub fn parsed<T>(
        &mut self,
        column: &'static str,
        parse: impl Fn(&str) -> Option<T>,
        must_be: &str,
    ) -> Option<T> {
        let cell = plain(self.cell(column)).to_owned();
        let value = parse(&cell);
        if value.is_none() {
            let detail = format!("is \"{}\"; must be {must_be}", shortened(&cell));
            self.flaw(column, detail);
        }
        value
    }
}
