//! Bins and what lies in them.

pub(in crate::web) mod entry;
pub(in crate::web) mod labels;
pub(in crate::web) mod piece;
mod piece_form;
mod shelves;

pub(super) use shelves::PieceLine;

use super::Routes;
use crate::app::offcut::OffcutError;
use crate::app::species::Woods;
use crate::export::svg::Colour;
use crate::reference::WoodKind;
use crate::store::Refusal;
use crate::store::bin::Bin;
use crate::web::Error;

pub(super) fn routes(routes: Routes) -> Routes {
    let routes = shelves::routes(routes);
    let routes = entry::routes(routes);
    let routes = labels::routes(routes);
    piece::routes(routes)
}

/// The colour of a species when oiled.
fn colour_of(woods: &Woods, species: &str) -> Colour {
    woods
        .find(species)
        .map_or(Colour::new(190, 160, 120), |wood| {
            let [red, green, blue] = wood.colour;
            Colour::new(red, green, blue)
        })
}

/// Bins as a list to choose from.
fn bin_options(bins: &[Bin]) -> Vec<(String, String)> {
    bins.iter()
        .map(|bin| (bin.id.to_string(), bin.name.clone()))
        .collect()
}

/// Known species as a list to choose from, hardwoods first.
pub(super) fn species_options(woods: &Woods) -> Vec<(String, String)> {
    let mut woods: Vec<_> = woods.list().iter().collect();
    woods.sort_by_key(|wood| (wood.kind != WoodKind::Hardwood, wood.name.to_lowercase()));
    woods
        .iter()
        .map(|wood| (wood.name.clone(), wood.name.clone()))
        .collect()
}

/// Errors of a change of stock that no field can carry.
pub(in crate::web) fn failed(error: OffcutError) -> Error {
    match error {
        OffcutError::Wrong(errors) => Error::Wrong(errors),
        OffcutError::Unknown => Error::NotFound("no such piece".to_owned()),
        OffcutError::Stale => Error::Stale,
        OffcutError::TagTaken => Error::Conflict("Another piece has this tag.".to_owned()),
        OffcutError::Claimed(claims) => {
            let whose: Vec<String> = claims
                .iter()
                .map(|claim| format!("{} for {}", claim.member_name, claim.project_name))
                .collect();
            Error::Conflict(format!(
                "Pieces of it are claimed by {}; they must be let go first.",
                whose.join(" and by ")
            ))
        }
        OffcutError::Store(refusal) => refused(refusal),
    }
}

fn refused(refusal: Refusal) -> Error {
    refusal.into()
}
