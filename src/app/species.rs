//! The woods that the workshop knows: those of the reference, with its own added and corrected.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};
use sqlx::{SqliteConnection, SqliteExecutor};

use crate::calc::work::Wood;
use crate::reference::{self, Hazard, Pores, Species, WoodKind};
use crate::store::{self, By, Refusal, species::WorkshopSpecies};
use crate::units::{FoodGrade, Force, Provenance, Source, WoodFigures};
use crate::wire::FieldError;

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
    /// Where the steward has the figures from; empty for measured or judged here.
    #[serde(default)]
    pub source: String,
}

impl Figures {
    /// The figures of a wood that is known, as a steward would begin to correct them.
    pub fn of(wood: &Species) -> Figures {
        let ours = |source: &Source| source.provenance == Provenance::Workshop;
        Figures {
            latin: wood.latin.clone(),
            is_hardwood: wood.kind == WoodKind::Hardwood,
            region: wood.region.clone(),
            specific_gravity: wood.figures.specific_gravity,
            density_kg_m3: wood.density_kg_m3,
            shrinkage_tangential: wood.figures.shrinkage_tangential,
            shrinkage_radial: wood.figures.shrinkage_radial,
            coefficient_tangential: wood.figures.coefficient_tangential,
            coefficient_radial: wood.figures.coefficient_radial,
            hardness_n: wood.hardness.newtons(),
            pores: wood.pores.word().to_owned(),
            hazard: wood.hazard.word().to_owned(),
            hazard_note: wood.hazard_note.clone(),
            food: wood.food.word().to_owned(),
            food_reason: wood.food_reason.clone(),
            colour: wood.colour,
            source: wood
                .sources()
                .into_iter()
                .find(|(_, source)| ours(source))
                .map_or_else(String::new, |(_, source)| source.publication.to_string()),
        }
    }

    /// As the reference has its woods. What is the same as in `printed` keeps the source that it has there; words that are
    /// not known give the careful value.
    fn species(&self, name: &str, printed: Option<&Species>) -> Species {
        let ours = Source {
            publication: Cow::Owned(self.source.clone()),
            provenance: Provenance::Workshop,
        };
        let pores = Pores::from_word(&self.pores).unwrap_or(Pores::Open);
        let hazard = Hazard::from_word(&self.hazard).unwrap_or(Hazard::Toxic);
        let food = FoodGrade::from_word(&self.food).unwrap_or(FoodGrade::Avoid);
        let source = |is_printed: &dyn Fn(&Species) -> bool,
                      theirs: &dyn Fn(&Species) -> Option<Source>| {
            printed
                .filter(|wood| is_printed(wood))
                .and_then(theirs)
                .unwrap_or_else(|| ours.clone())
        };
        let shrinks = self.shrinkage_tangential.is_some() || self.shrinkage_radial.is_some();
        let moves = self.coefficient_tangential.is_some() || self.coefficient_radial.is_some();
        Species {
            name: name.to_owned(),
            other_names: printed.map_or_else(Vec::new, |wood| wood.other_names.clone()),
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
            density_source: source(
                &|wood| {
                    wood.density_kg_m3 == self.density_kg_m3
                        && wood.figures.specific_gravity == self.specific_gravity
                },
                &|wood| Some(wood.density_source.clone()),
            ),
            hardness: Force::from_newtons(self.hardness_n),
            hardness_source: source(
                &|wood| wood.hardness.newtons() == self.hardness_n,
                &|wood| Some(wood.hardness_source.clone()),
            ),
            shrinkage_source: shrinks.then(|| {
                source(
                    &|wood| {
                        wood.figures.shrinkage_tangential == self.shrinkage_tangential
                            && wood.figures.shrinkage_radial == self.shrinkage_radial
                    },
                    &|wood| wood.shrinkage_source.clone(),
                )
            }),
            coefficient_source: moves.then(|| {
                source(
                    &|wood| {
                        wood.figures.coefficient_tangential == self.coefficient_tangential
                            && wood.figures.coefficient_radial == self.coefficient_radial
                    },
                    &|wood| wood.coefficient_source.clone(),
                )
            }),
            pores,
            pores_source: source(&|wood| wood.pores == pores, &|wood| {
                Some(wood.pores_source.clone())
            }),
            hazard,
            hazard_note: self.hazard_note.clone(),
            hazard_source: source(
                &|wood| wood.hazard == hazard && wood.hazard_note == self.hazard_note,
                &|wood| Some(wood.hazard_source.clone()),
            ),
            food,
            food_reason: self.food_reason.clone(),
            food_source: source(
                &|wood| wood.food == food && wood.food_reason == self.food_reason,
                &|wood| Some(wood.food_source.clone()),
            ),
            colour: self.colour,
        }
    }

    /// Everything that cannot be right.
    fn flaws(&self) -> Vec<FieldError> {
        let mut flaws = Vec::new();
        let mut wrong = |field: &str, detail: String| {
            flaws.push(FieldError {
                pointer: format!("/{field}"),
                detail,
            });
        };
        // The lightest wood has a specific gravity of about 0.1, the heaviest of about 1.3; pure wood substance has 1.5.
        let numbers = [
            ("specific_gravity", Some(self.specific_gravity), 0.05..=1.5),
            ("density_kg_m3", Some(self.density_kg_m3), 50.0..=1700.0),
            ("hardness_n", Some(self.hardness_n), 50.0..=30_000.0),
            (
                "shrinkage_tangential",
                self.shrinkage_tangential,
                0.1..=30.0,
            ),
            ("shrinkage_radial", self.shrinkage_radial, 0.1..=30.0),
            (
                "coefficient_tangential",
                self.coefficient_tangential,
                0.0001..=0.02,
            ),
            ("coefficient_radial", self.coefficient_radial, 0.0001..=0.02),
        ];
        for (field, number, range) in numbers {
            if let Some(number) = number.filter(|number| !range.contains(number)) {
                wrong(
                    field,
                    format!(
                        "is {number}; must be from {} to {}",
                        range.start(),
                        range.end()
                    ),
                );
            }
        }
        let words = [
            (
                "pores",
                Pores::from_word(&self.pores).is_some(),
                &self.pores,
                "none, closed, semi-open or open",
            ),
            (
                "hazard",
                Hazard::from_word(&self.hazard).is_some(),
                &self.hazard,
                "none known, irritant, sensitiser or toxic",
            ),
            (
                "food",
                FoodGrade::from_word(&self.food).is_some(),
                &self.food,
                "cutting, serving, accent or avoid",
            ),
        ];
        for (field, is_known, word, known) in words {
            if !is_known {
                wrong(field, format!("is {word:?}; must be {known}"));
            }
        }
        let texts = [
            ("latin", &self.latin, 120),
            ("region", &self.region, 120),
            ("hazard_note", &self.hazard_note, 400),
            ("food_reason", &self.food_reason, 400),
            ("source", &self.source, 400),
        ];
        for (field, text, longest) in texts {
            let n_characters = text.chars().count();
            if n_characters > longest || text.chars().any(char::is_control) {
                wrong(
                    field,
                    format!(
                        "is {n_characters} characters long; must be one line of at most {longest}"
                    ),
                );
            }
        }
        if self.food_reason.trim().is_empty() {
            wrong(
                "food_reason",
                "is empty; must say why the wood has this grade".to_owned(),
            );
        }
        flaws
    }
}

/// Why the figures of a wood stay as they were.
#[derive(Debug, thiserror::Error)]
pub enum SpeciesError {
    #[error("the figures cannot be right")]
    Wrong(Vec<FieldError>),
    /// There is no such wood.
    #[error("no such wood")]
    Unknown,
    /// Somebody changed it since it was read.
    #[error("it was changed meanwhile")]
    Stale,
    /// It is only in the workshop's own list, and pieces of it lie in the bins.
    #[error("pieces of it lie in the bins")]
    InBins,
    #[error(transparent)]
    Store(Refusal),
}

impl From<store::Error> for SpeciesError {
    fn from(error: store::Error) -> SpeciesError {
        SpeciesError::Store(error.into())
    }
}

impl From<Refusal> for SpeciesError {
    fn from(refusal: Refusal) -> SpeciesError {
        match refusal {
            Refusal::Stale | Refusal::Taken(_) => SpeciesError::Stale,
            other => SpeciesError::Store(other),
        }
    }
}

/// The longest name of a wood.
const LONGEST_NAME: usize = 60;

/// A name as it is kept: letters, digits and a few marks, since it stands in addresses and lists.
fn read_name(text: &str) -> Result<String, String> {
    let name = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let may_stand = |letter: char| letter.is_alphanumeric() || " -'(),.".contains(letter);
    let n_characters = name.chars().count();
    if n_characters > LONGEST_NAME {
        return Err(format!(
            "is {n_characters} characters long; must be at most {LONGEST_NAME}"
        ));
    }
    if !name.chars().any(char::is_alphabetic) || !name.chars().all(may_stand) || name == "new" {
        return Err(format!(
            "is {name:?}; must be a name of letters, such as osage orange"
        ));
    }
    Ok(name)
}

/// Adds a wood that nobody knew here.
///
/// # Errors
/// Everything that is wrong with it, or that the wood is known already.
pub async fn add(
    db: &mut SqliteConnection,
    by: By,
    name: &str,
    figures: &Figures,
) -> Result<String, SpeciesError> {
    let mut flaws = figures.flaws();
    let mut wrong_name = |detail| {
        flaws.insert(
            0,
            FieldError {
                pointer: "/name".to_owned(),
                detail,
            },
        );
    };
    let name = read_name(name).map_err(&mut wrong_name).ok();
    if let Some(name) = &name
        && let Some(known) = Woods::load(&mut *db).await?.find(name)
    {
        wrong_name(format!(
            "is known already, as {}; must be a new wood, or correct the figures of that one",
            known.name
        ));
    }
    let Some(name) = name.filter(|_| flaws.is_empty()) else {
        return Err(SpeciesError::Wrong(flaws));
    };
    store::species::create(db, by, &name, &json(figures)).await?;
    Ok(name)
}

/// Puts the workshop's own figures over those of a known wood. `version` is 0 where it had none of its own.
///
/// # Errors
/// Everything that is wrong with them; `Unknown`; `Stale`.
pub async fn correct(
    db: &mut SqliteConnection,
    by: By,
    name: &str,
    version: i64,
    figures: &Figures,
) -> Result<(), SpeciesError> {
    let woods = Woods::load(&mut *db).await?;
    let wood = woods.find(name).ok_or(SpeciesError::Unknown)?;
    let flaws = figures.flaws();
    if !flaws.is_empty() {
        return Err(SpeciesError::Wrong(flaws));
    }
    if version == 0 {
        store::species::create(db, by, &wood.name, &json(figures)).await?;
    } else {
        store::species::update(db, by, &wood.name, version, &json(figures)).await?;
    }
    Ok(())
}

/// Takes the workshop's own figures away: a printed wood goes back to the print, an added one is no longer known.
///
/// # Errors
/// `Unknown`; `Stale`; `InBins` where an added wood still lies in the bins.
pub async fn forget(
    db: &mut SqliteConnection,
    by: By,
    name: &str,
    version: i64,
) -> Result<(), SpeciesError> {
    let woods = Woods::load(&mut *db).await?;
    let wood = woods.find(name).ok_or(SpeciesError::Unknown)?;
    if reference::species(&wood.name).is_none() {
        let in_bins = store::offcut::list_species(&mut *db).await?;
        if in_bins
            .iter()
            .any(|here| here.eq_ignore_ascii_case(&wood.name))
        {
            return Err(SpeciesError::InBins);
        }
    }
    Ok(store::species::remove(db, by, &wood.name, version).await?)
}

fn json(figures: &Figures) -> String {
    serde_json::to_string(figures).expect("figures of a wood are plain JSON")
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
            let printed = woods
                .iter_mut()
                .find(|wood| wood.name.eq_ignore_ascii_case(&row.name));
            match printed {
                Some(wood) => *wood = figures.species(&wood.name, Some(wood)),
                None => woods.push(figures.species(&row.name, None)),
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
