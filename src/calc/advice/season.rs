//! The air between whose driest and dampest season a piece moves.

use crate::calc::wood::equilibrium;
use crate::units::{Humidity, Moisture, Temperature};

/// The air of a place or a season.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    pub temperature: Temperature,
    pub humidity: Humidity,
}

impl Air {
    fn of(celsius: f64, percent: f64) -> Air {
        Air {
            temperature: Temperature::from_celsius(celsius).expect("a room's temperature"),
            humidity: Humidity::from_percent(percent).expect("a humidity"),
        }
    }

    /// What wood settles at in it; `None` where it is too cold or too hot to say.
    pub fn settles_at(&self) -> Option<Moisture> {
        equilibrium(self.temperature, self.humidity).ok()
    }
}

/// Air that somebody read.
#[derive(Clone, Debug, PartialEq)]
pub struct AirReading {
    pub place: String,
    pub season: String,
    pub air: Air,
}

/// One end of the year.
#[derive(Clone, Debug, PartialEq)]
pub struct Season {
    pub air: Air,
    /// `winter in the workshop`, `a dry winter indoors`.
    pub name: String,
    /// Somebody read it; otherwise it is common practice with no single source.
    pub is_read: bool,
}

impl Season {
    /// A heated house in winter: 21.1 °C (70 °F) and 30 %. Common practice, no single source.
    pub fn usual_dry() -> Season {
        Season {
            air: Air::of(21.1, 30.0),
            name: "a dry winter indoors".to_owned(),
            is_read: false,
        }
    }

    /// A house in a damp summer: 21.1 °C (70 °F) and 60 %. Common practice, no single source.
    pub fn usual_damp() -> Season {
        Season {
            air: Air::of(21.1, 60.0),
            name: "a damp summer".to_owned(),
            is_read: false,
        }
    }

    fn read(reading: &AirReading) -> Season {
        Season {
            air: reading.air,
            name: format!("{} in the {}", reading.season, reading.place),
            is_read: true,
        }
    }
}

/// The driest and the dampest of the readings, whatever their place. Readings of a single season do not tell both ends,
/// so the usual air of a house stands beside them.
pub fn driest_and_dampest(readings: &[AirReading]) -> (Season, Season) {
    let mut known: Vec<Season> = readings.iter().map(Season::read).collect();
    let is_one_season = readings
        .windows(2)
        .all(|pair| pair[0].season == pair[1].season);
    if is_one_season {
        known.extend([Season::usual_dry(), Season::usual_damp()]);
    }
    let settled = |season: &Season| {
        let moisture = season.air.settles_at();
        moisture.map(|moisture| moisture.percent())
    };
    let mut settled: Vec<(f64, Season)> = known
        .into_iter()
        .filter_map(|season| Some((settled(&season)?, season)))
        .collect();
    settled.sort_by(|one, other| one.0.total_cmp(&other.0));
    let driest = settled.first().map(|(_, season)| season.clone());
    let dampest = settled.last().map(|(_, season)| season.clone());
    (
        driest.unwrap_or_else(Season::usual_dry),
        dampest.unwrap_or_else(Season::usual_damp),
    )
}
