//! Readings of the air, by place and season: what movement of wood is reckoned from.

use jiff::civil::Date;

use super::form::{Field, Group};
use super::openings::parse_day;
use crate::app::settings::MOST_READINGS;
use crate::store::settings::{AirReading, HERE, Season};
use crate::web::{Typed, line, words};

/// Empty rows below those that are filled in.
const MORE_ROWS: usize = 2;

fn name(row: usize, field: &str) -> String {
    format!("air-{row}-{field}")
}

pub(super) fn groups(readings: &[AirReading]) -> Vec<Group> {
    let seasons = std::iter::once((String::new(), "none".to_owned()))
        .chain(Season::ALL.map(|(word, _)| (word.to_owned(), word.to_owned())));
    let seasons: Vec<(String, String)> = seasons.collect();
    (0..(readings.len() + MORE_ROWS).min(MOST_READINGS))
        .map(|row| {
            // Hints stand where something is written for the first time.
            let is_new = row >= readings.len();
            let hint = |field: Field, words: String| if is_new { field.hint(words) } else { field };
            Group {
            heading: if row == readings.len() {
                "More readings"
            } else {
                ""
            },
            says: readings.get(row).map_or_else(String::new, |reading| {
                format!(
                    "{} in the {}, read on {}.",
                    reading.season.word(),
                    reading.place,
                    words::day(reading.read_on)
                )
            }),
            fields: vec![
                hint(
                    Field::line(name(row, "place"), "Place").optional(),
                    format!("{HERE}, or where pieces live: kitchen, shed. Empty: the row is left out."),
                ),
                Field::choice(name(row, "season"), "Season", seasons.clone()).optional(),
                hint(
                    Field::decimal(name(row, "temperature_c"), "Temperature").optional(),
                    "Like 20 or 68 F; a bare number is °C.".to_owned(),
                ),
                Field::decimal(
                    name(row, "relative_humidity_percent"),
                    "Humidity, per cent",
                )
                .optional(),
                hint(
                    Field::day(name(row, "read_on"), "Read on").optional(),
                    "Empty: today.".to_owned(),
                ),
            ],
            }
        })
        .collect()
}

pub(super) fn fill(readings: &[AirReading]) -> Vec<(String, String)> {
    let mut values = Vec::new();
    for (row, reading) in readings.iter().enumerate() {
        values.extend([
            (name(row, "place"), reading.place.clone()),
            (name(row, "season"), reading.season.word().to_owned()),
            (
                name(row, "temperature_c"),
                format!("{} °C", reading.temperature_c),
            ),
            (
                name(row, "relative_humidity_percent"),
                reading.relative_humidity_percent.to_string(),
            ),
            (name(row, "read_on"), reading.read_on.to_string()),
        ]);
    }
    values
}

/// The rows that name a place; the first `before` rows held readings already.
pub(super) fn read(typed: &mut Typed, before: usize, today: Date) -> Option<Vec<AirReading>> {
    let mut readings = Vec::new();
    for row in 0..MOST_READINGS {
        let field = |field: &str| name(row, field);
        let figures = ["temperature_c", "relative_humidity_percent"];
        let is_empty = |name: &str| typed.text(&field(name)).is_empty();
        // Who clears the place takes the reading away; who forgot it beside new figures is told.
        if is_empty("place") && (row < before || figures.into_iter().all(is_empty)) {
            continue;
        }
        let place = typed.take(&field("place"), |text| line(text, 60));
        let season = typed.take(&field("season"), |text| {
            let known = Season::ALL.iter().find(|(word, _)| *word == text);
            known
                .map(|(_, season)| *season)
                .ok_or("is not chosen; must be one of the list")
        });
        let temperature = typed.take(&field("temperature_c"), parse_temperature);
        let humidity = typed.take(
            &field("relative_humidity_percent"),
            super::settings::parse_percent,
        );
        let read_on = typed.take_if_any(&field("read_on"), parse_day);
        if let (
            Some(place),
            Some(season),
            Some(temperature_c),
            Some(relative_humidity_percent),
            Some(read_on),
        ) = (place, season, temperature, humidity, read_on)
        {
            readings.push(AirReading {
                place,
                season,
                temperature_c,
                relative_humidity_percent,
                read_on: read_on.unwrap_or(today),
            });
        }
    }
    typed.is_fine().then_some(readings)
}

/// Degrees Celsius of `20`, `20 °C`, `68 F`.
fn parse_temperature(text: &str) -> Result<f64, String> {
    let shown: String = text.chars().take(30).collect();
    let wrong = || format!("is \"{shown}\"; must be like 20 or 20 °C or 68 °F");
    let plain = text.trim().to_ascii_lowercase().replace('°', "");
    let (number, is_fahrenheit) = match plain.strip_suffix('f') {
        Some(number) => (number, true),
        None => (plain.strip_suffix('c').unwrap_or(&plain), false),
    };
    let degrees: f64 = number.trim().parse().map_err(|_| wrong())?;
    let celsius = if is_fahrenheit {
        (degrees - 32.0) * 5.0 / 9.0
    } else {
        degrees
    };
    if celsius.is_finite() {
        Ok((celsius * 10.0).round() / 10.0)
    } else {
        Err(wrong())
    }
}
