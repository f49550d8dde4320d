//! Tables that are brought in: what can be read is written so that no spreadsheet runs it, and reads back the same.

#![no_main]

use libfuzzer_sys::fuzz_target;
use scrapwright::export::csv::{
    CsvFlaw, Numbered, read_clamps, read_ledger, read_offcuts, read_openings, write_clamps, write_ledger,
    write_offcuts, write_openings,
};
use scrapwright::units::{InchFraction, LengthFormat};

const FORMATS: [LengthFormat; 2] =
    [LengthFormat::Millimetres, LengthFormat::Inches(InchFraction::Sixteenths)];

fuzz_target!(|data: &[u8]| {
    let Some((table, file)) = data.split_first() else {
        return;
    };
    match table % 4 {
        0 => FORMATS.into_iter().for_each(|format| {
            there_and_back(file, read_offcuts, |rows| write_offcuts(format, rows));
        }),
        1 => FORMATS.into_iter().for_each(|format| {
            there_and_back(file, read_clamps, |rows| write_clamps(format, rows));
        }),
        2 => there_and_back(file, read_openings, write_openings),
        _ => there_and_back(file, read_ledger, write_ledger),
    }
});

fn there_and_back<T: PartialEq + std::fmt::Debug>(
    file: &[u8],
    read: fn(&[u8]) -> Result<Vec<Numbered<T>>, Vec<CsvFlaw>>,
    write: impl Fn(&[T]) -> Vec<u8>,
) {
    match read(file) {
        Ok(rows) => {
            let rows: Vec<T> = rows.into_iter().map(|numbered| numbered.row).collect();
            let written = write(&rows);
            no_cell_is_a_formula(&written);
            let again = read(&written).expect("what was written can be read");
            let again: Vec<T> = again.into_iter().map(|numbered| numbered.row).collect();
            assert_eq!(rows, again);
        }
        Err(flaws) => assert!(!flaws.is_empty()),
    }
}

fn no_cell_is_a_formula(file: &[u8]) {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(file);
    for record in reader.records() {
        for cell in &record.expect("a table") {
            // A negative number is a number.
            let is_formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']);
            assert!(!is_formula || cell.parse::<i64>().is_ok(), "{cell:?}");
        }
    }
}
