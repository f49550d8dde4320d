//! The woods that the workshop knows: those of the reference, with its own added and corrected.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};
use sqlx::SqliteExecutor;

use crate::calc::work::Wood;
use crate::reference::{self, Hazard, Pores, Species, WoodKind};
use crate::store::{self, species::WorkshopSpecies};
use crate::units::{FoodGrade, Force, Provenance, Source, WoodFigures};

/// What a steward says of a wood: the form in which it is kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Figures {
    #[serde(default)]
    pub latin: String,
    pub is_hardwood: bool,
    #[serde(default)]
    pub region: String,
    /// Ovendry mass over volume at 12 % moisture, relative to water.
    pub specific_gravity: f64,
    /// At 12 % moisture, water included.
    pub density_kg_m3: f64,
    #[serde(default)]
    pub shrinkage_tangential: Option<f64>,
    #[serde(default)]
    pub shrinkage_radial: Option<f64>,
    #[serde(default)]
    pub coefficient_tangential: Option<f64>,
    #[serde(default)]
    pub coefficient_radial: Option<f64>,
    /// Janka, in newtons.
    pub hardness_n: f64,
    /// A word of [`Pores`].
    pub pores: String,
    /// A word of [`Hazard`].
    pub hazard: String,
    #[serde(default)]
    pub hazard_note: String,
    /// A word of [`FoodGrade`].
    pub food: String,
    #[serde(default)]
    pub food_reason: String,
    /// Oiled heartwood as red, green and blue of sRGB.
    pub colour: [u8; 3],
    /// Where the steward has the figures from.
    pub source: String,
}

impl Figures {
    /// As the reference has its woods. Words that are not known give the careful value.
    fn species(&self, name: &str) -> Species {
        let source = Source {
            publication: Cow::Owned(self.source.clone()),
            provenance: Provenance::Workshop,
        };
        let shrinks = self.shrinkage_tangential.is_some() || self.shrinkage_radial.is_some();
        let moves = self.coefficient_tangential.is_some() || self.coefficient_radial.is_some();
        Species {
            name: name.to_owned(),
            other_names: Vec::new(),
            latin: self.latin.clone(),
            kind: if self.is_hardwood {
                WoodKind::Hardwood
            } else {
                WoodKind::Softwood
            },
            region: self.region.clone(),
            figures: WoodFigures {
                specific_gravity: self.specific_gravity,
                shrinkage_tangential: self.shrinkage_tangential,
                shrinkage_radial: self.shrinkage_radial,
                coefficient_tangential: self.coefficient_tangential,
                coefficient_radial: self.coefficient_radial,
            },
            density_kg_m3: self.density_kg_m3,
            density_source: source.clone(),
            hardness: Force::from_newtons(self.hardness_n),
            hardness_source: source.clone(),
            shrinkage_source: shrinks.then(|| source.clone()),
            coefficient_source: moves.then(|| source.clone()),
            pores: Pores::from_word(&self.pores).unwrap_or(Pores::Open),
            pores_source: source.clone(),
            hazard: Hazard::from_word(&self.hazard).unwrap_or(Hazard::NoneKnown),
            hazard_note: self.hazard_note.clone(),
            hazard_source: source.clone(),
            food: FoodGrade::from_word(&self.food).unwrap_or(FoodGrade::Avoid),
            food_reason: self.food_reason.clone(),
            food_source: source,
            colour: self.colour,
        }
    }
}

/// Every wood that the workshop knows.
#[derive(Clone, Debug)]
pub struct Woods(Vec<Species>);

impl Woods {
    /// Reads the workshop's own woods and lays them over the reference.
    pub async fn load(db: impl SqliteExecutor<'_>) -> store::Result<Woods> {
        Ok(Woods::with(&store::species::list(db).await?))
    }

    fn with(own: &[WorkshopSpecies]) -> Woods {
        let mut woods = reference::woods().to_vec();
        for row in own {
            // Only this program writes them; a row that it cannot read leaves the reference as it is.
            let Ok(figures) = serde_json::from_str::<Figures>(&row.figures) else {
                tracing::error!(species = row.name, "figures of a species cannot be read");
                continue;
            };
            let species = figures.species(&row.name);
            match woods
                .iter_mut()
                .find(|wood| wood.name.eq_ignore_ascii_case(&row.name))
            {
                Some(wood) => {
                    *wood = Species {
                        other_names: wood.other_names.clone(),
                        ..species
                    }
                }
                None => woods.push(species),
            }
        }
        Woods(woods)
    }

    pub fn list(&self) -> &[Species] {
        &self.0
    }

    /// The wood of that name or other name, whatever its capitals.
    pub fn find(&self, name: &str) -> Option<&Species> {
        let name = name.trim();
        let is_called = |known: &str| known.eq_ignore_ascii_case(name);
        self.0
            .iter()
            .find(|wood| is_called(&wood.name))
            .or_else(|| {
                self.0
                    .iter()
                    .find(|wood| wood.other_names.iter().any(|other| is_called(other)))
            })
    }

    /// As the calculation of needs wants them.
    pub fn for_work(&self) -> Vec<Wood> {
        self.0
            .iter()
            .map(|wood| Wood {
                species: wood.name.clone(),
                figures: wood.figures,
                food: wood.food,
            })
            .collect()
    }

    /// What is wrong with a species that somebody typed; `None` for a known one.
    pub fn flaw(&self, name: &str) -> Option<String> {
        if self.find(name).is_some() {
            return None;
        }
        let near = reference::nearest_species(name);
        let shown: String = name.trim().chars().take(60).collect();
        Some(match near.as_slice() {
            [] => format!("is \"{shown}\"; must be a species that the workshop knows"),
            names => format!(
                "is \"{shown}\"; must be a species that the workshop knows, such as {}",
                names.join(", ")
            ),
        })
    }
}
