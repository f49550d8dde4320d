//! What a steward may set, with the program's defaults.
//!
//! Stored as JSON text in one column: what is missing there has its default, so a new setting
//! needs no migration.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::practice::PracticeChanges;
use crate::calc::matching::{KeepCredit, Shop};
use crate::units::{Length, Money};

/// Everything that is the workshop's own to decide.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    pub cutting: Cutting,
    /// Where the workshop differs from the program's own allowances, gluing, finish and minutes.
    pub practice: PracticeChanges,
    /// How long a claim lasts unless it is extended.
    pub claim_days: u16,
    /// Whether who has not signed in may look at bins, hours and reference.
    pub guests_may_look: bool,
    /// Whether members see who used how much of the shared wood.
    pub members_see_users: bool,
    /// Asked for a board foot from the bins where the species has no price of its own, in cents.
    pub price_per_board_foot_cents: i64,
    pub materials: MaterialPrices,
    /// Readings of the air, by place and season.
    pub air: Vec<AirReading>,
    /// Grits of sandpaper that are on the shelf, coarse to fine.
    pub grits: Vec<u16>,
    pub labels: Labels,
    /// Whether notices may be posted to addresses inside the workshop's own network.
    pub notices_inside: bool,
}

/// Saws, trims, and what is worth keeping.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Cutting {
    #[serde(rename = "rip_kerf_nm", with = "nm")]
    pub rip_kerf: Length,
    #[serde(rename = "crosscut_kerf_nm", with = "nm")]
    pub crosscut_kerf: Length,
    #[serde(rename = "edge_trim_nm", with = "nm")]
    pub edge_trim: Length,
    #[serde(rename = "end_trim_nm", with = "nm")]
    pub end_trim: Length,
    #[serde(rename = "min_rip_length_nm", with = "nm")]
    pub min_rip_length: Length,
    #[serde(rename = "keep_length_nm", with = "nm")]
    pub keep_length: Length,
    #[serde(rename = "keep_width_nm", with = "nm")]
    pub keep_width: Length,
    /// From 0 to 1000: the share of a kept remainder that counts as not used.
    pub keep_credit_thousandths: u16,
}

/// What glue, sandpaper and finish cost, in cents; nothing where members bring their own or nobody counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct MaterialPrices {
    /// Of a kilogram.
    pub glue_cents: i64,
    /// For a square metre of board, through all grits.
    pub abrasive_cents: i64,
    /// Of a litre.
    pub finish_cents: i64,
}

/// The place whose newest reading is the air that glue and offcuts are in now.
pub const HERE: &str = "workshop";

/// A reading of the air.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AirReading {
    /// [`HERE`], or where pieces live: a kitchen, a shed.
    pub place: String,
    pub season: Season,
    pub temperature_c: f64,
    pub relative_humidity_percent: f64,
    pub read_on: Date,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Season {
    Winter,
    Spring,
    Summer,
    Autumn,
}

impl Season {
    pub const ALL: [(&'static str, Season); 4] = [
        ("winter", Season::Winter),
        ("spring", Season::Spring),
        ("summer", Season::Summer),
        ("autumn", Season::Autumn),
    ];

    pub fn word(self) -> &'static str {
        Season::ALL[self as usize].0
    }
}

/// The sheet that labels are printed on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Labels {
    /// `A4` or `Letter`.
    pub paper: String,
    pub columns: u16,
    pub rows: u16,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            cutting: Cutting::default(),
            practice: PracticeChanges::default(),
            claim_days: 14,
            guests_may_look: false,
            members_see_users: true,
            price_per_board_foot_cents: 0,
            materials: MaterialPrices::default(),
            air: Vec::new(),
            grits: vec![80, 120, 150, 180, 220],
            labels: Labels::default(),
            notices_inside: false,
        }
    }
}

impl Default for Cutting {
    /// The defaults of the matching problem.
    fn default() -> Cutting {
        let shop = Shop::default();
        Cutting {
            rip_kerf: shop.rip_kerf,
            crosscut_kerf: shop.crosscut_kerf,
            edge_trim: shop.edge_trim,
            end_trim: shop.end_trim,
            min_rip_length: shop.min_rip_length,
            keep_length: shop.keep_length,
            keep_width: shop.keep_width,
            keep_credit_thousandths: (shop.keep_credit.share() * 1000.0).round() as u16,
        }
    }
}

impl Cutting {
    /// As the matching problem wants it. A credit above one counts as one.
    pub fn shop(&self) -> Shop {
        let billionths = u32::from(self.keep_credit_thousandths.min(1000)) * 1_000_000;
        Shop {
            rip_kerf: self.rip_kerf,
            crosscut_kerf: self.crosscut_kerf,
            edge_trim: self.edge_trim,
            end_trim: self.end_trim,
            min_rip_length: self.min_rip_length,
            keep_length: self.keep_length,
            keep_width: self.keep_width,
            keep_credit: KeepCredit::from_billionths(billionths)
                .expect("a thousand millionfold is one in billionths"),
        }
    }
}

impl Default for Labels {
    fn default() -> Labels {
        Labels {
            paper: "Letter".to_owned(),
            columns: 3,
            rows: 10,
        }
    }
}

impl Settings {
    pub fn price_per_board_foot(&self) -> Money {
        Money::from_cents(self.price_per_board_foot_cents)
    }

    /// The newest reading of the workshop's own air.
    pub fn air_now(&self) -> Option<&AirReading> {
        let here = self.air.iter();
        here.filter(|reading| reading.place.eq_ignore_ascii_case(HERE))
            .max_by_key(|reading| reading.read_on)
    }
}

/// A length as its whole nanometres.
mod nm {
    use serde::{Deserialize, Deserializer, Serializer};

    use crate::units::Length;

    pub fn serialize<S: Serializer>(length: &Length, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_i64(length.nm())
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Length, D::Error> {
        i64::deserialize(deserializer).map(Length::from_nm)
    }
}
