//! The advice for a project of this workshop: its air, clamps, grits and prices, its chosen glue and finish, and the
//! moistures of the pieces that it holds.

use sqlx::SqliteConnection;

use super::basis::Basis;
use super::cut_wood::{CutWood, price_of_bins};
use crate::calc::advice::{
    self, Advice, Air, Circumstances, MeasuredPiece, Season, driest_and_dampest,
};
use crate::calc::cost::Prices;
use crate::calc::finishing::FinishChoice;
use crate::calc::work::Needs;
use crate::reference::{self, Finish, Glue};
use crate::store::claim::{self, ClaimState};
use crate::store::project::Project;
use crate::store::settings::{AirReading, Settings};
use crate::store::{self, offcut, species};
use crate::units::{Humidity, Moisture, Money, Temperature, Volume};
use crate::wire::advice::usual_circumstances;

/// The glue and the finish of a project that names none, in a workshop that names none.
const USUAL_GLUE: &str = "crosslinked PVA";
const USUAL_FINISH: &str = "tung oil";

/// Advice with what it rests on.
pub struct ProjectAdvice {
    pub advice: Advice,
    pub circumstances: Circumstances,
    /// What the cuts take from the bins, as far as they are found.
    pub bins: Volume,
    pub glue: &'static Glue,
    pub finish: &'static Finish,
}

/// What the rough wood of a project costs at the workshop's price per board foot, before any of it is found.
pub fn wood_from_bins(needs: &Needs, settings: &Settings, prices: &[(String, Money)]) -> Money {
    let rough = needs.wood.iter();
    let rough: Vec<(String, Volume)> = rough
        .map(|wood| (wood.species.clone(), wood.rough))
        .collect();
    price_of_bins(&rough, settings.price_per_board_foot(), prices)
}

/// The glue that the project or its workshop chose.
pub fn chosen_glue(basis: &Basis) -> &'static Glue {
    basis
        .glue
        .as_deref()
        .and_then(reference::glue)
        .or_else(|| reference::glue(USUAL_GLUE))
        .expect("the usual glue stands in the reference")
}

/// The finish that the project or its workshop chose.
pub fn chosen_finish(basis: &Basis) -> &'static Finish {
    basis
        .finish
        .as_deref()
        .and_then(reference::finish)
        .or_else(|| reference::finish(USUAL_FINISH))
        .expect("the usual finish stands in the reference")
}

/// Everything that is worth knowing before the first cut of a stored project.
pub async fn of_project(
    db: &mut SqliteConnection,
    project: &Project,
    needs: &Needs,
    basis: &Basis,
    settings: &Settings,
) -> store::Result<ProjectAdvice> {
    let (glue, finish) = (chosen_glue(basis), chosen_finish(basis));
    let mut circumstances = usual_circumstances(basis.woods.list(), needs.kind, glue, finish);
    // Who chose it for the project was told what speaks against it.
    circumstances.glue.accepted = project.about.practice.glue.is_some();
    circumstances.finish.choice = FinishChoice {
        coats: i64::from(needs.coats),
        recoat: basis.practice.finish.recoat_from,
        water_contact: basis.practice.finish.water_after,
        ..circumstances.finish.choice
    };
    circumstances.air = settings.air_now().and_then(air_of);
    (circumstances.dry_season, circumstances.damp_season) = seasons(settings);
    circumstances.grits = settings.grits.iter().map(|grit| i64::from(*grit)).collect();
    circumstances.measured = measured(db, project).await?;
    let wood = CutWood::load(db, project, needs, &basis.practice).await?;
    circumstances.rings = wood.rings;
    circumstances.bought = wood.bought;
    let materials = settings.materials;
    circumstances.prices = Prices {
        glue_kilogram: Money::from_cents(materials.glue_cents),
        abrasive_square_metre: Money::from_cents(materials.abrasive_cents),
        finish_litre: Money::from_cents(materials.finish_cents),
        ..Prices::default()
    };
    let prices = species::list_prices(&mut *db).await?;
    let mut advice = advice::advise(needs, &basis.practice, &circumstances);
    // Species have prices of their own.
    advice.cost.bin_wood = price_of_bins(&wood.bins, settings.price_per_board_foot(), &prices);
    Ok(ProjectAdvice {
        advice,
        circumstances,
        bins: wood.bins.iter().map(|(_, volume)| *volume).sum(),
        glue,
        finish,
    })
}

fn air_of(reading: &AirReading) -> Option<Air> {
    Some(Air {
        temperature: Temperature::from_celsius(reading.temperature_c).ok()?,
        humidity: Humidity::from_percent(reading.relative_humidity_percent).ok()?,
    })
}

/// The driest and the dampest air that the workshop has read.
pub fn seasons(settings: &Settings) -> (Season, Season) {
    let readings = settings.air.iter();
    let readings: Vec<advice::AirReading> = readings
        .filter_map(|reading| {
            Some(advice::AirReading {
                place: reading.place.clone(),
                season: reading.season.word().to_owned(),
                air: air_of(reading)?,
            })
        })
        .collect();
    driest_and_dampest(&readings)
}

/// The pieces that the project holds and whose moisture somebody measured.
async fn measured(
    db: &mut SqliteConnection,
    project: &Project,
) -> store::Result<Vec<MeasuredPiece>> {
    let mut pieces = Vec::new();
    for claim in claim::list_of_project(&mut *db, project.id).await? {
        if claim.state != ClaimState::Held {
            continue;
        }
        let piece = offcut::find(&mut *db, claim.offcut).await?;
        let moisture = piece
            .and_then(|piece| piece.moisture_milli)
            .and_then(|milli| Moisture::from_percent(milli as f64 / 1000.0).ok());
        if let Some(moisture) = moisture {
            pieces.push(MeasuredPiece {
                name: claim.tag,
                moisture,
            });
        }
    }
    Ok(pieces)
}
