//! The first hour of a workshop: what it still needs until somebody can match a first project.

use sqlx::SqliteConnection;

use crate::store::resource::{self, NewResource, ResourceKind};
use crate::store::{self, By, Written, bin, opening, project, species, workshop};

/// What is there already.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FirstHour {
    /// A steward has saved the workshop's name and time zone.
    pub is_named: bool,
    pub n_openings: usize,
    pub n_bins: usize,
    /// A price is set, for all wood or for a species.
    pub is_priced: bool,
    pub n_clamp_sets: usize,
    pub n_stations: usize,
    pub n_pieces: i64,
    pub has_match: bool,
}

/// Pieces from which a first match has something to choose.
pub const FIRST_PIECES: i64 = 10;

impl FirstHour {
    pub async fn load(db: &mut SqliteConnection) -> store::Result<FirstHour> {
        let workshop = workshop::get(&mut *db).await?;
        let bins = bin::list(&mut *db).await?;
        let resources = resource::list(&mut *db).await?;
        let n_clamp_sets = resources
            .iter()
            .filter(|resource| resource.about.kind == ResourceKind::ClampSet)
            .count();
        let has_prices = !species::list_prices(&mut *db).await?.is_empty();
        let first_day = jiff::civil::date(1, 1, 1);
        Ok(FirstHour {
            is_named: workshop.version > 1,
            n_openings: opening::list_weekly(&mut *db).await?.len()
                + opening::list_extra(&mut *db, first_day).await?.len(),
            n_bins: bins.len(),
            is_priced: has_prices || workshop.settings.price_per_board_foot_cents > 0,
            n_clamp_sets,
            n_stations: resources.len() - n_clamp_sets,
            n_pieces: bins.iter().map(|bin| bin.pieces).sum(),
            has_match: project::has_any_match(&mut *db).await?,
        })
    }

    /// Whether nothing more is needed to go on.
    pub fn is_over(&self) -> bool {
        self.has_match || (self.is_equipped() && self.n_pieces >= FIRST_PIECES)
    }

    /// Whether projects can be planned once there is wood.
    fn is_equipped(&self) -> bool {
        self.n_openings > 0 && self.n_bins > 0 && self.n_clamp_sets > 0 && self.n_stations > 0
    }
}

/// The stations that most small workshops have, with how many work at one at a time.
const USUAL_STATIONS: [(ResourceKind, u32); 10] = [
    (ResourceKind::GlueBench, 1),
    (ResourceKind::TableSaw, 1),
    (ResourceKind::CrosscutSaw, 1),
    (ResourceKind::Sander, 2),
    (ResourceKind::RouterTable, 1),
    (ResourceKind::Router, 1),
    (ResourceKind::Jigsaw, 1),
    (ResourceKind::DrillPress, 1),
    (ResourceKind::WorkBench, 2),
    (ResourceKind::RackPlace, 4),
];

/// Adds the usual stations of which the workshop has none yet, and tells how many that were.
///
/// # Errors
/// `Taken` if something else has the name of one.
pub async fn add_usual_stations(db: &mut SqliteConnection, by: By) -> Written<usize> {
    let there = resource::list(&mut *db).await?;
    let mut n_added = 0;
    for (kind, capacity) in USUAL_STATIONS {
        if there.iter().any(|resource| resource.about.kind == kind) {
            continue;
        }
        let station = NewResource {
            kind,
            name: kind.word().to_owned(),
            capacity,
            reach: None,
            rated_force_n: None,
            pass_width: None,
        };
        resource::create(db, by, &station).await?;
        n_added += 1;
    }
    Ok(n_added)
}
