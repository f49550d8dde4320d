//! A steward adds a wood, or puts this workshop's own figures over the printed ones.

use std::str::FromStr;

use axum::extract::State;
use axum::response::Response;

use super::units::plain;
use super::wood::unknown;
use super::woods::address;
use crate::app::App;
use crate::app::species::{Figures, SpeciesError, Woods, add, correct, forget};
use crate::export::svg::Colour;
use crate::reference::{Pores, Species};
use crate::store::species;
use crate::units::{FoodGrade, Force, Hazard};
use crate::web::pages::workshop::form::{Field, FormPage, Group, Input, refuse_all, version_of};
use crate::web::{Error, Flash, Path, Section, Shell, Steward, Typed, see_other};

const LIST: &str = "/reference/woods";

fn words(options: &[(&str, &str)]) -> Vec<(String, String)> {
    options
        .iter()
        .map(|(value, words)| ((*value).to_owned(), (*words).to_owned()))
        .collect()
}

fn groups(is_new: bool) -> Vec<Group> {
    let percent = "Per cent of the green size; leave empty if nobody knows it.";
    let share = "Share of the width for each per cent of moisture, such as 0.00353; leave empty if nobody knows it.";
    let mut about = Vec::new();
    if is_new {
        about.push(Field::line("name", "Name").hint("As people here say it: osage orange."));
    }
    about.extend([
        Field::line("latin", "Botanical name").optional(),
        Field::line("region", "Where it grows").optional(),
        Field::choice(
            "kind",
            "Kind",
            words(&[("hardwood", "hardwood"), ("softwood", "softwood")]),
        ),
        Field {
            input: Input::Line("color", ""),
            ..Field::line("colour", "Colour when oiled").hint("For drawings.")
        },
        Field::line("source", "Where the figures are from")
            .optional()
            .hint("A book, a maker, or what you did: weighed ten pieces. Pages then name this workshop as the source."),
    ]);
    vec![
        Group {
            fields: about,
            ..Group::default()
        },
        Group {
            heading: "Weight and hardness",
            fields: vec![
                Field::line("specific_gravity", "Specific gravity")
                    .hint("Dry mass over volume at 12 % moisture, against water: 0.63."),
                Field::line("density_kg_m3", "Density")
                    .hint("At 12 % moisture with its water, in kg/m³, or write 44 lb/ft3."),
                Field::line("hardness_n", "Hardness")
                    .hint("Janka ball in side grain, in newtons, or write 1450 lbf."),
            ],
            ..Group::default()
        },
        Group {
            heading: "Movement",
            fields: vec![
                Field::line("shrinkage_tangential", "Shrinkage along the rings")
                    .optional()
                    .hint(percent),
                Field::line("shrinkage_radial", "Shrinkage across the rings")
                    .optional()
                    .hint(percent),
                Field::line("coefficient_tangential", "Movement, flat-sawn")
                    .optional()
                    .hint(share),
                Field::line("coefficient_radial", "Movement, quarter-sawn")
                    .optional()
                    .hint(share),
            ],
            ..Group::default()
        },
        Group {
            heading: "Food and health",
            says: "A cutting surface wants a hard, close-grained wood: hard maple or its equal (FDA Food Code 2022, 4-101.17). When in doubt choose the stricter word.".to_owned(),
            fields: vec![
                Field::choice(
                    "pores",
                    "Pores",
                    words(&[
                        ("closed", "closed"),
                        ("semi-open", "semi-open"),
                        ("open", "open"),
                        ("none", "none: a softwood"),
                    ]),
                ),
                Field::choice(
                    "food",
                    "With food",
                    words(&[
                        ("avoid", "avoid: not where food touches it"),
                        ("accent", "accent: thin strips among others"),
                        ("serving", "serving: no knife"),
                        ("cutting", "cutting: a surface to cut on"),
                    ]),
                ),
                Field::line("food_reason", "Why this grade"),
                Field::choice(
                    "hazard",
                    "Dust and skin",
                    words(&[
                        ("toxic", "toxic"),
                        ("sensitiser", "sensitiser"),
                        ("irritant", "irritant"),
                        ("none known", "no hazard known"),
                    ]),
                ),
                Field::line("hazard_note", "What it does").optional(),
            ],
        },
    ]
}

/// The form with figures in it.
fn fill(figures: &Figures, version: i64) -> Typed {
    let [red, green, blue] = figures.colour;
    let kind = if figures.is_hardwood {
        "hardwood"
    } else {
        "softwood"
    };
    let optional = |number: Option<f64>| number.map_or_else(String::new, plain);
    Typed::filled([
        ("version", version.to_string()),
        ("latin", figures.latin.clone()),
        ("region", figures.region.clone()),
        ("kind", kind.to_owned()),
        ("colour", format!("#{red:02x}{green:02x}{blue:02x}")),
        ("source", figures.source.clone()),
        ("specific_gravity", plain(figures.specific_gravity)),
        ("density_kg_m3", plain(figures.density_kg_m3)),
        ("hardness_n", plain(figures.hardness_n)),
        (
            "shrinkage_tangential",
            optional(figures.shrinkage_tangential),
        ),
        ("shrinkage_radial", optional(figures.shrinkage_radial)),
        (
            "coefficient_tangential",
            optional(figures.coefficient_tangential),
        ),
        ("coefficient_radial", optional(figures.coefficient_radial)),
        ("pores", figures.pores.clone()),
        ("food", figures.food.clone()),
        ("food_reason", figures.food_reason.clone()),
        ("hazard", figures.hazard.clone()),
        ("hazard_note", figures.hazard_note.clone()),
    ])
}

/// A number, with or without a unit behind it that `scale` knows.
fn number(text: &str, scale: &[(&str, f64)]) -> Result<f64, String> {
    let lower = text.to_lowercase();
    let (bare, factor) = scale
        .iter()
        .find_map(|(unit, factor)| Some((lower.strip_suffix(unit)?, *factor)))
        .unwrap_or((lower.as_str(), 1.0));
    match f64::from_str(bare.trim()) {
        Ok(number) if number.is_finite() => Ok(number * factor),
        _ if text.is_empty() => Err("is empty; must be a number".to_owned()),
        _ => {
            let shown: String = text.chars().take(40).collect();
            Err(format!("is \"{shown}\"; must be a number"))
        }
    }
}

/// Reads every field; whether the figures can be right is for the use case to say.
fn read(typed: &mut Typed) -> Option<Figures> {
    let pound = Force::from_pounds(1.0).newtons();
    let specific_gravity = typed.take("specific_gravity", |text| number(text, &[]));
    let density = typed.take("density_kg_m3", |text| {
        number(
            text,
            &[
                ("lb/ft3", super::units::KG_M3_A_POUND_FT3),
                ("lb/ft³", super::units::KG_M3_A_POUND_FT3),
                ("kg/m3", 1.0),
                ("kg/m³", 1.0),
            ],
        )
    });
    let hardness = typed.take("hardness_n", |text| {
        number(text, &[("lbf", pound), ("n", 1.0)])
    });
    let mut optional = |name: &str| typed.take_if_any(name, |text| number(text, &[("%", 1.0)]));
    let shrinkage_tangential = optional("shrinkage_tangential");
    let shrinkage_radial = optional("shrinkage_radial");
    let coefficient_tangential = optional("coefficient_tangential");
    let coefficient_radial = optional("coefficient_radial");
    let colour = typed.take("colour", |text| {
        Colour::parse(text).ok_or(format!("is {text:?}; must be a colour like #d9b98c"))
    });
    let text = |name: &str| typed.text(name).to_owned();
    let colour = colour?;
    Some(Figures {
        latin: text("latin"),
        is_hardwood: typed.text("kind") != "softwood",
        region: text("region"),
        specific_gravity: specific_gravity?,
        density_kg_m3: density?,
        shrinkage_tangential: shrinkage_tangential?,
        shrinkage_radial: shrinkage_radial?,
        coefficient_tangential: coefficient_tangential?,
        coefficient_radial: coefficient_radial?,
        hardness_n: hardness?,
        pores: text("pores"),
        hazard: text("hazard"),
        hazard_note: text("hazard_note"),
        food: text("food"),
        food_reason: text("food_reason"),
        colour: [colour.red, colour.green, colour.blue],
        source: text("source"),
    })
}

fn new_page(shell: Shell, typed: Typed) -> FormPage {
    let mut form = FormPage::new(shell, "Add a wood", groups(true), typed)
        .lead("For a wood that is not in the list. Pages will say that its figures are this workshop's.")
        .between(LIST, LIST);
    form.shell = form.shell.at(Section::Reference);
    form
}

fn edit_page(shell: Shell, wood: &Species, version: i64, typed: Typed) -> FormPage {
    let is_printed = crate::reference::species(&wood.name).is_some();
    let address = address(&wood.name);
    let mut form = FormPage::new(
        shell,
        format!("Figures of {}", wood.name),
        groups(false),
        typed,
    )
    .lead("Change what this workshop knows better. What stays as printed keeps its source; what you change names this workshop.")
    .between(address.clone(), address.clone());
    if version > 0 {
        form = form.removal(
            format!("{address}/forget"),
            if is_printed {
                format!("Go back to the printed figures of {}?", wood.name)
            } else {
                format!("Take {} off the list of woods?", wood.name)
            },
        );
    }
    form.shell = form.shell.at(Section::Reference);
    form
}

pub(super) async fn new(shell: Shell) -> Result<Response, Error> {
    // The stricter words come first, for who leaves them as they are.
    let typed = Typed::filled([
        ("version", "0".to_owned()),
        ("kind", "hardwood".to_owned()),
        ("colour", "#b08a5a".to_owned()),
        ("pores", Pores::Open.word().to_owned()),
        ("food", FoodGrade::Avoid.word().to_owned()),
        ("hazard", Hazard::Sensitiser.word().to_owned()),
    ]);
    new_page(shell, typed).show()
}

pub(super) async fn create(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    mut typed: Typed,
) -> Result<Response, Error> {
    let Some(figures) = read(&mut typed) else {
        return new_page(shell, typed).again();
    };
    let mut db = app.store.begin().await?;
    let name = typed.text("name").to_owned();
    match add(&mut db, app.by(&caller), &name, &figures).await {
        Ok(name) => {
            db.commit().await?;
            Ok(see_other(address(&name))
                .saying(Flash::done(format!("{name} is in the list of woods.")))
                .response(&app))
        }
        Err(SpeciesError::Wrong(flaws)) => {
            refuse_all(&mut typed, flaws);
            new_page(shell, typed).again()
        }
        Err(error) => Err(species_error(error)),
    }
}

/// The wood and the version of the workshop's own figures, 0 where it has none.
async fn found(app: &App, name: &str) -> Result<(Species, i64), Error> {
    let woods = Woods::load(app.store.read()).await?;
    let wood = woods.find(name).ok_or_else(|| unknown(name))?;
    let own = species::find(app.store.read(), &wood.name).await?;
    Ok((wood.clone(), own.map_or(0, |own| own.version)))
}

pub(super) async fn edit(
    State(app): State<App>,
    shell: Shell,
    Path(name): Path<String>,
) -> Result<Response, Error> {
    let (wood, version) = found(&app, &name).await?;
    edit_page(shell, &wood, version, fill(&Figures::of(&wood), version)).show()
}

pub(super) async fn update(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    Path(name): Path<String>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let (wood, version) = found(&app, &name).await?;
    let Some(figures) = read(&mut typed) else {
        return edit_page(shell, &wood, version, typed).again();
    };
    let mut db = app.store.begin().await?;
    match correct(
        &mut db,
        app.by(&caller),
        &wood.name,
        version_of(&typed),
        &figures,
    )
    .await
    {
        Ok(()) => {
            db.commit().await?;
            Ok(see_other(address(&wood.name))
                .saying(Flash::done(format!(
                    "These figures of {} hold from now on.",
                    wood.name
                )))
                .response(&app))
        }
        Err(SpeciesError::Wrong(flaws)) => {
            refuse_all(&mut typed, flaws);
            edit_page(shell, &wood, version, typed).again()
        }
        Err(SpeciesError::Stale) => {
            drop(db);
            let (wood, version) = found(&app, &name).await?;
            let newer = fill(&Figures::of(&wood), version);
            edit_page(shell, &wood, version, typed).stale(&newer, &fill(&figures, version))
        }
        Err(error) => Err(species_error(error)),
    }
}

pub(super) async fn remove(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(name): Path<String>,
    typed: Typed,
) -> Result<Response, Error> {
    let mut db = app.store.begin().await?;
    forget(&mut db, app.by(&caller), &name, version_of(&typed))
        .await
        .map_err(species_error)?;
    db.commit().await?;
    let (to, said) = match crate::reference::species(&name) {
        Some(wood) => (
            address(&wood.name),
            format!("The printed figures of {} hold again.", wood.name),
        ),
        None => (LIST.to_owned(), format!("{name} is off the list of woods.")),
    };
    Ok(see_other(to).saying(Flash::done(said)).response(&app))
}

/// What no field can carry.
pub(in crate::web) fn species_error(error: SpeciesError) -> Error {
    match error {
        SpeciesError::Wrong(flaws) => Error::Wrong(flaws),
        SpeciesError::Unknown => Error::NotFound("The workshop knows no such wood.".to_owned()),
        SpeciesError::Stale => Error::Stale,
        SpeciesError::InBins => Error::Conflict(
            "Pieces of it lie in the bins; the wood must stay known as long as they do.".to_owned(),
        ),
        SpeciesError::Store(refusal) => refusal.into(),
    }
}
