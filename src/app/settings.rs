//! What stewards set: the figures of the practice as one table, limits, and saving without loss.

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::calc::work::Practice;
use crate::export::pdf::LabelStock;
use crate::store::practice::PracticeChanges;
use crate::store::settings::{Labels, Settings};
use crate::store::workshop::{self, Workshop};
use crate::store::{By, Written, species};
use crate::units::{Length, LengthFormat, Minutes, Money};
use crate::wire::FieldError;

/// What a figure of the practice counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counts {
    /// Whole nanometres.
    Length,
    Minutes,
    /// Newtons.
    Force,
    /// Seconds, coats.
    Plain,
}

/// A figure of the practice that a workshop may change, as a whole number of its unit.
#[derive(Clone, Copy, Debug)]
pub struct Figure {
    pub name: &'static str,
    pub label: &'static str,
    pub hint: &'static str,
    pub counts: Counts,
    pub least: i64,
    pub most: i64,
    pub get: fn(&PracticeChanges) -> Option<i64>,
    pub set: fn(&mut PracticeChanges, Option<i64>),
    /// The program's own.
    pub usual: fn(&Practice) -> i64,
}

const INCH: i64 = Length::from_inches(1, 1).nm();
const DAY: i64 = Minutes::from_days(1).0;

/// Declares a figure whose field in `PracticeChanges` has the type `$kind`.
macro_rules! figure {
    (length $field:ident, $label:literal, $hint:literal, $most:expr, $usual:expr) => {
        Figure {
            name: stringify!($field),
            label: $label,
            hint: $hint,
            counts: Counts::Length,
            least: 0,
            most: $most,
            get: |changes| changes.$field.map(Length::nm),
            set: |changes, value| changes.$field = value.map(Length::from_nm),
            usual: $usual,
        }
    };
    (minutes $field:ident, $label:literal, $hint:literal, $range:expr, $usual:expr) => {
        Figure {
            name: stringify!($field),
            label: $label,
            hint: $hint,
            counts: Counts::Minutes,
            least: $range.0,
            most: $range.1,
            get: |changes| changes.$field,
            set: |changes, value| changes.$field = value,
            usual: $usual,
        }
    };
    (plain $field:ident, $label:literal, $hint:literal, $range:expr, $usual:expr) => {
        Figure {
            name: stringify!($field),
            label: $label,
            hint: $hint,
            counts: Counts::Plain,
            least: $range.0,
            most: $range.1,
            get: |changes| changes.$field.map(i64::from),
            set: |changes, value| {
                changes.$field = value.and_then(|value| u32::try_from(value).ok())
            },
            usual: $usual,
        }
    };
}

/// Wood that a cut piece has more than the finished one.
pub const ALLOWANCES: [Figure; 7] = [
    figure!(length rough_length, "Extra length",
        "On a strip's length, cut off when the ends are squared.", 12 * INCH,
        |practice| practice.allowances.rough_length.nm()),
    figure!(length flattening, "For flattening",
        "On each face of a panel, sanded or planed off.", INCH,
        |practice| practice.allowances.flattening.nm()),
    figure!(length squaring, "For squaring",
        "Off each long side when the panel is squared.", 2 * INCH,
        |practice| practice.allowances.squaring.nm()),
    figure!(length glue_face, "On glue faces",
        "Planed off each glue face of a strip before gluing.", INCH,
        |practice| practice.allowances.glue_face.nm()),
    figure!(length end_grain, "On end faces",
        "On each cut face of an end-grain board, for flattening.", INCH,
        |practice| practice.allowances.end_grain.nm()),
    figure!(length outline, "Around an outline",
        "Wood around a shape that is sawn out of a blank.", 4 * INCH,
        |practice| practice.allowances.outline.nm()),
    figure!(length panel_end, "Panel ends",
        "Off each end of a first panel before slices are cut.", 12 * INCH,
        |practice| practice.allowances.panel_end.nm()),
];

/// What gluing takes. Open time and clamp time follow the glue where they are not set.
pub const GLUING: [Figure; 7] = [
    figure!(minutes open_time_minutes, "Open time",
        "From the first spread to the clamps; a glue-up that takes longer is split.", (1, 240),
        |practice| practice.gluing.open_time.0),
    figure!(plain seconds_a_line, "Seconds for one glue line", "To spread it on both faces.", (1, 900),
        |practice| i64::from(practice.gluing.seconds_a_line)),
    figure!(minutes clamped_minutes, "In the clamps", "Overnight is usual.", (10, 14 * DAY),
        |practice| practice.gluing.clamped.0),
    figure!(minutes after_milling_minutes, "From milling to glue, at most",
        "Milled faces move and age.", (60, 60 * DAY),
        |practice| practice.gluing.after_milling.0),
    Figure {
        name: "clamp_force_n",
        label: "Force of a clamp that nobody rated",
        hint: "In newtons. Clamps are reckoned with the force of their own set where it is known.",
        counts: Counts::Force,
        least: 100,
        most: 100_000,
        get: |changes| changes.clamp_force_n.map(|newtons| newtons.round() as i64),
        set: |changes, value| changes.clamp_force_n = value.map(|newtons| newtons as f64),
        usual: |practice| practice.clamping.force.newtons().round() as i64,
    },
    figure!(length caul_depth, "Depth of a caul", "From the jaw to the panel, on each side.", 12 * INCH,
        |practice| practice.clamping.caul_depth.nm()),
    figure!(length cross_grain, "Longest solid joint across the grain",
        "Of an inlay, a cross piece or a ring; one that is longer is warned about.", 36 * INCH,
        |practice| practice.gluing.cross_grain.nm()),
];

/// What finishing takes. All follow the finish where they are not set.
pub const FINISHING: [Figure; 6] = [
    figure!(plain coats, "Coats", "", (0, 20), |practice| i64::from(practice.finish.coats)),
    figure!(plain end_grain_coats, "More coats on end grain", "It drinks more.", (0, 10),
        |practice| i64::from(practice.finish.end_grain_coats)),
    figure!(minutes recoat_from_minutes, "From coat to coat, at least", "", (0, 60 * DAY),
        |practice| practice.finish.recoat_from.0),
    figure!(minutes recoat_to_minutes, "From coat to coat, at most", "0 says that there is no latest time.",
        (0, 120 * DAY),
        |practice| practice.finish.recoat_to.map_or(0, |latest| latest.0)),
    figure!(minutes dry_minutes, "From the last coat to leaving the rack", "", (0, 60 * DAY),
        |practice| practice.finish.dry.0),
    figure!(minutes water_after_minutes, "From the last coat to water", "The maker's word goes first.",
        (0, 120 * DAY),
        |practice| practice.finish.water_after.0),
];

/// All figures of the practice.
pub fn figures() -> impl Iterator<Item = &'static Figure> {
    ALLOWANCES.iter().chain(&GLUING).chain(&FINISHING)
}

impl Figure {
    /// A value in words: `1/16 in`, `12 h`, `4500 N`, `30`.
    pub fn said(&self, value: i64, lengths: LengthFormat) -> String {
        match self.counts {
            Counts::Length => lengths.show_exact(Length::from_nm(value)),
            Counts::Minutes => Minutes(value).to_string(),
            Counts::Force => format!("{value} N"),
            Counts::Plain => value.to_string(),
        }
    }

    /// What is wrong with a value, as a predicate.
    pub fn flaw(&self, value: i64, lengths: LengthFormat) -> Option<String> {
        (!(self.least..=self.most).contains(&value)).then(|| {
            format!(
                "is {}; must be from {} to {}",
                self.said(value, lengths),
                self.said(self.least, lengths),
                self.said(self.most, lengths)
            )
        })
    }
}

/// The most minutes that one step takes for one unit of its work.
pub const LONGEST_STEP: u32 = 1440;
/// The longest claim, in days.
pub const LONGEST_CLAIM: u16 = 365;
/// The widest saw kerf that is believed.
const WIDEST_KERF: Length = Length::from_inches(1, 1);
/// The widest trim that is believed.
const WIDEST_TRIM: Length = Length::from_inches(12, 1);
/// Nothing shorter goes through a rip saw; "least length" and "general rule" in the reference's table of machining.
const SHORTEST_RIP: Length = Length::from_inches(12, 1);
/// Grits from the coarsest to the finest that is made for wood.
const GRITS: std::ops::RangeInclusive<u16> = 12..=5000;
const MOST_GRITS: usize = 40;
/// Readings of the air that are kept.
pub const MOST_READINGS: usize = 24;

/// Everything of the workshop that a steward may set at once.
#[derive(Clone, Debug, PartialEq)]
pub struct Draft {
    pub name: String,
    /// A name of the IANA database.
    pub time_zone: String,
    pub settings: Settings,
    /// Prices of species that change; `None` goes back to the general price.
    pub prices: Vec<(String, Option<Money>)>,
}

impl Draft {
    /// What is set now.
    pub fn of(workshop: &Workshop) -> Draft {
        Draft {
            name: workshop.name.clone(),
            time_zone: workshop.time_zone.iana_name().unwrap_or("UTC").to_owned(),
            settings: workshop.settings.clone(),
            prices: Vec::new(),
        }
    }
}

/// The sheet of labels that the workshop has set, or the first in use on its paper.
pub fn label_stock(labels: &Labels) -> usize {
    let is_paper = |stock: &LabelStock| stock.paper.name() == labels.paper;
    LabelStock::COMMON
        .iter()
        .position(|stock| {
            is_paper(stock)
                && stock.columns == usize::from(labels.columns)
                && stock.rows == usize::from(labels.rows)
        })
        .or_else(|| LabelStock::COMMON.iter().position(is_paper))
        .unwrap_or(0)
}

/// Everything that is wrong with a draft. Pointers are the names of the fields; those of the practice have no other parent.
pub fn flaws(draft: &Draft, lengths: LengthFormat) -> Vec<FieldError> {
    let mut flaws = Vec::new();
    let mut wrong = |field: &str, detail: String| {
        flaws.push(FieldError {
            pointer: format!("/{field}"),
            detail,
        });
    };
    let shown = |text: &str| text.chars().take(40).collect::<String>();
    let n_letters = draft.name.trim().chars().count();
    if !(1..=120).contains(&n_letters) || draft.name.chars().any(char::is_control) {
        wrong(
            "name",
            format!("is {n_letters} letters long; must be one line of 1 to 120"),
        );
    }
    if TimeZone::get(&draft.time_zone).is_err() {
        wrong(
            "time_zone",
            format!(
                "is \"{}\"; must be a name like Europe/Paris, America/New_York or UTC",
                shown(&draft.time_zone)
            ),
        );
    }
    let settings = &draft.settings;
    let cutting = &settings.cutting;
    for (field, length, least, most) in [
        ("rip_kerf", cutting.rip_kerf, Length::ZERO, WIDEST_KERF),
        (
            "crosscut_kerf",
            cutting.crosscut_kerf,
            Length::ZERO,
            WIDEST_KERF,
        ),
        ("edge_trim", cutting.edge_trim, Length::ZERO, WIDEST_TRIM),
        ("end_trim", cutting.end_trim, Length::ZERO, WIDEST_TRIM),
        (
            "keep_length",
            cutting.keep_length,
            Length::ZERO,
            Length::LONGEST,
        ),
        (
            "keep_width",
            cutting.keep_width,
            Length::ZERO,
            Length::LONGEST,
        ),
    ] {
        if length < least || length > most {
            wrong(
                field,
                format!(
                    "is {}; must be from {} to {}",
                    lengths.show(length),
                    lengths.show(least),
                    lengths.show(most)
                ),
            );
        }
    }
    if cutting.min_rip_length < SHORTEST_RIP || cutting.min_rip_length > Length::LONGEST {
        wrong(
            "min_rip_length",
            format!(
                "is {}; must be at least {}, since a shorter piece is not safe to rip on a saw",
                lengths.show(cutting.min_rip_length),
                lengths.show(SHORTEST_RIP)
            ),
        );
    }
    if cutting.keep_credit_thousandths > 1000 {
        wrong(
            "keep_credit",
            "is more than all of it; must be from 0 to 1".into(),
        );
    }
    if !(1..=LONGEST_CLAIM).contains(&settings.claim_days) {
        wrong(
            "claim_days",
            format!(
                "is {}; must be from 1 to {LONGEST_CLAIM} days",
                settings.claim_days
            ),
        );
    }
    let price = settings.price_per_board_foot_cents;
    if !(0..=Money::MOST.cents()).contains(&price) {
        wrong(
            "price_per_board_foot",
            format!(
                "is {}; must be from {} to {}",
                Money::from_cents(price),
                Money::ZERO,
                Money::MOST
            ),
        );
    }
    if settings.grits.len() > MOST_GRITS || settings.grits.iter().any(|grit| !GRITS.contains(grit))
    {
        wrong(
            "grits",
            format!(
                "has a grit that nobody makes for wood, or more than {MOST_GRITS}; must be numbers from {} to {}",
                GRITS.start(),
                GRITS.end()
            ),
        );
    }
    let materials = &settings.materials;
    for (field, cents) in [
        ("price_of_glue", materials.glue_cents),
        ("price_of_abrasive", materials.abrasive_cents),
        ("price_of_finish", materials.finish_cents),
    ] {
        if !(0..=Money::MOST.cents()).contains(&cents) {
            wrong(
                field,
                format!(
                    "is {}; must be from {} to {}",
                    Money::from_cents(cents),
                    Money::ZERO,
                    Money::MOST
                ),
            );
        }
    }
    if settings.air.len() > MOST_READINGS {
        wrong(
            "air",
            format!(
                "has {} readings; must have at most {MOST_READINGS}",
                settings.air.len()
            ),
        );
    }
    for (place, reading) in settings.air.iter().enumerate() {
        let n_letters = reading.place.chars().count();
        if !(1..=60).contains(&n_letters) || reading.place.chars().any(char::is_control) {
            wrong(
                &format!("air/{place}/place"),
                format!("is {n_letters} letters long; must be one line of 1 to 60"),
            );
        }
        if !(-30.0..=60.0).contains(&reading.temperature_c) {
            wrong(
                &format!("air/{place}/temperature_c"),
                format!("is {} °C; must be from -30 to 60", reading.temperature_c),
            );
        }
        if !(0.0..=100.0).contains(&reading.relative_humidity_percent) {
            wrong(
                &format!("air/{place}/relative_humidity_percent"),
                format!(
                    "is {} %; must be from 0 to 100",
                    reading.relative_humidity_percent
                ),
            );
        }
    }
    for figure in figures() {
        if let Some(detail) =
            (figure.get)(&settings.practice).and_then(|value| figure.flaw(value, lengths))
        {
            wrong(figure.name, detail);
        }
    }
    for (key, minutes) in &settings.practice.step_minutes {
        if *minutes > LONGEST_STEP {
            wrong(
                key,
                format!("is {minutes}; must be at most {LONGEST_STEP} minutes"),
            );
        }
    }
    flaws
}

/// Saves a draft that [`flaws`] finds nothing wrong with.
///
/// # Errors
/// `Stale` if somebody changed a setting since `version`.
pub async fn save(db: &mut SqliteConnection, by: By, version: i64, draft: &Draft) -> Written {
    workshop::update(
        db,
        by,
        version,
        draft.name.trim(),
        &draft.time_zone,
        &draft.settings,
    )
    .await?;
    for (name, price) in &draft.prices {
        species::set_price(db, by, name, *price).await?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_writes_and_reads_its_own_place() {
        let mut changes = PracticeChanges::default();
        for (place, figure) in figures().enumerate() {
            assert_eq!((figure.get)(&changes), None, "{}", figure.name);
            (figure.set)(&mut changes, Some(place as i64 + 100));
        }
        let mut practice = Practice::default();
        changes.apply(&mut practice);
        for (place, figure) in figures().enumerate() {
            assert_eq!(
                (figure.get)(&changes),
                Some(place as i64 + 100),
                "{}",
                figure.name
            );
            assert_eq!(
                (figure.usual)(&practice),
                place as i64 + 100,
                "{}",
                figure.name
            );
        }
    }

    #[test]
    fn the_programs_own_settings_have_no_flaw() {
        let draft = Draft {
            name: "Ours".into(),
            time_zone: "UTC".into(),
            settings: Settings::default(),
            prices: Vec::new(),
        };
        let lengths = LengthFormat::Millimetres;
        assert_eq!(flaws(&draft, lengths), []);
        let practice = Practice::default();
        for figure in figures() {
            assert_eq!(figure.flaw((figure.usual)(&practice), lengths), None);
        }
    }
}
