//! The advice for a project of this workshop: its air, clamps, grits and prices, its chosen glue and finish, and the
//! moistures of the pieces that it holds.

use sqlx::SqliteConnection;

use super::basis::Basis;
use crate::calc::advice::{self, Advice, Air, Circumstances, MeasuredPiece};
use crate::calc::cost::{BoardPrice, Bought, Prices, Used, cost};
use crate::calc::finishing::FinishChoice;
use crate::calc::gluing::ClampSet;
use crate::calc::work::Needs;
use crate::reference::{self, Finish, Glue};
use crate::store::claim::{self, ClaimState};
use crate::store::project::Project;
use crate::store::resource::{self, ResourceKind};
use crate::store::settings::Settings;
use crate::store::{self, offcut, species};
use crate::units::{Force, Humidity, Moisture, Money, Temperature};
use crate::wire::advice::usual_circumstances;
use crate::wire::kept_match::KeptMatch;

/// The glue and the finish of a project that names none, in a workshop that names none.
const USUAL_GLUE: &str = "crosslinked PVA";
const USUAL_FINISH: &str = "tung oil";

/// Advice with what it rests on.
pub struct ProjectAdvice {
    pub advice: Advice,
    pub circumstances: Circumstances,
    pub glue: &'static Glue,
    pub finish: &'static Finish,
}

/// What the rough wood of a project costs at the workshop's price per board foot.
pub fn wood_from_bins(needs: &Needs, settings: &Settings, prices: &[(String, Money)]) -> Money {
    needs
        .wood
        .iter()
        .map(|wood| {
            let own = prices
                .iter()
                .find(|(species, _)| species.eq_ignore_ascii_case(&wood.species));
            let price = own.map_or(settings.price_per_board_foot(), |(_, price)| *price);
            let used = Used {
                bin_wood: wood.rough,
                ..Used::default()
            };
            let prices = Prices {
                bin_wood_board_foot: price,
                ..Prices::default()
            };
            cost(&used, &prices).bin_wood
        })
        .sum()
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
    circumstances.air = air(settings);
    circumstances.grits = settings.grits.iter().map(|grit| i64::from(*grit)).collect();
    circumstances.clamps = clamp_sets(db).await?;
    circumstances.measured = measured(db, project).await?;
    circumstances.bought = bought(project);
    let prices = species::list_prices(&mut *db).await?;
    let mut advice = advice::advise(needs, &basis.practice, &circumstances);
    // Species have prices of their own.
    advice.cost.bin_wood = wood_from_bins(needs, settings, &prices);
    Ok(ProjectAdvice {
        advice,
        circumstances,
        glue,
        finish,
    })
}

fn air(settings: &Settings) -> Option<Air> {
    let climate = settings.climate?;
    Some(Air {
        temperature: Temperature::from_celsius(climate.temperature_c).ok()?,
        humidity: Humidity::from_percent(climate.relative_humidity_percent).ok()?,
    })
}

async fn clamp_sets(db: &mut SqliteConnection) -> store::Result<Vec<ClampSet>> {
    let resources = resource::list(db).await?;
    let sets = resources
        .into_iter()
        .filter(|resource| resource.about.kind == ResourceKind::ClampSet)
        .filter_map(|resource| {
            let force = resource.about.rated_force_n;
            Some(ClampSet {
                name: resource.about.name,
                reach: resource.about.reach?,
                rated: force.map(|newtons| Force::from_newtons(newtons as f64)),
                count: i64::from(resource.about.capacity),
            })
        });
    Ok(sets.collect())
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

/// The boards that the newest match would buy.
fn bought(project: &Project) -> Vec<Bought> {
    let kept = project
        .current_match()
        .and_then(|found| KeptMatch::parse(&found.answer).ok());
    let Some(kept) = kept else {
        return Vec::new();
    };
    let boards = kept.request.buy.iter();
    boards
        .map(|board| Bought {
            name: board.id.clone(),
            price: BoardPrice::Piece(board.price),
            count: kept
                .outcome
                .layouts
                .iter()
                .filter(|layout| layout.stock == board.id)
                .map(|layout| i64::from(layout.copies))
                .sum(),
        })
        .collect()
}
