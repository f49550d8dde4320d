//! The reference for scripts: every figure with its source.

use axum::extract::State;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::app::App;
use crate::app::settings::{self, Counts};
use crate::calc::cautions::{of_finish, of_glue};
use crate::calc::work::{Per, Practice, StepKind};
use crate::reference::{
    self, Property, cautions, cautions_about, finishes, glossary, glues, gluing_figures, grits,
    lumber_sizes, machining_figures,
};
use crate::store::settings::Cutting;
use crate::store::workshop;
use crate::units::{Length, Source};
use crate::web::{Error, Json, Routes, Who};
use crate::wire::length::to_json;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Visitor, routes!(list_glues))
        .api(Who::Visitor, routes!(list_gluing))
        .api(Who::Visitor, routes!(list_finishes))
        .api(Who::Visitor, routes!(list_abrasives))
        .api(Who::Visitor, routes!(list_lumber_sizes))
        .api(Who::Visitor, routes!(list_machining))
        .api(Who::Visitor, routes!(list_cautions))
        .api(Who::Visitor, routes!(list_words))
        .api(Who::Visitor, routes!(list_defaults))
}

/// Where a figure comes from.
#[derive(Serialize, ToSchema)]
struct Origin {
    /// As pages show it.
    #[schema(example = "common practice, no single source")]
    source: String,
    /// `read` in a text that prints the publication, from `memory`, common `practice`, or this `workshop`.
    #[schema(example = "practice")]
    provenance: &'static str,
}

impl Origin {
    fn new(source: &Source) -> Origin {
        Origin {
            source: source.to_string(),
            provenance: source.provenance.word(),
        }
    }
}

/// A figure or a sentence.
#[derive(Serialize, ToSchema)]
struct FigureBody {
    #[schema(example = "open assembly")]
    what: String,
    /// From `low` to `high` in `unit`, where it is a number.
    low: Option<f64>,
    high: Option<f64>,
    #[schema(example = "min")]
    unit: String,
    text: String,
    #[serde(flatten)]
    origin: Origin,
}

impl FigureBody {
    fn new(property: &Property) -> FigureBody {
        FigureBody {
            what: property.name.clone(),
            low: property.range.map(|range| range.low),
            high: property.range.map(|range| range.high),
            unit: property.unit.clone(),
            text: property.text.clone(),
            origin: Origin::new(&property.source),
        }
    }
}

#[derive(Serialize, ToSchema)]
struct CautionBody {
    /// The step, machine, wood, glue or finish that it is about.
    #[schema(example = "drying oil")]
    subject: String,
    text: String,
    #[serde(flatten)]
    origin: Origin,
}

impl CautionBody {
    fn new(caution: &reference::Caution) -> CautionBody {
        CautionBody {
            subject: caution.subject.clone(),
            text: caution.text.clone(),
            origin: Origin::new(&caution.source),
        }
    }

    fn about(subjects: Vec<&str>) -> Vec<CautionBody> {
        subjects
            .into_iter()
            .flat_map(cautions_about)
            .map(CautionBody::new)
            .collect()
    }
}

/// A family of glues or finishes; the maker's sheet of what is in your hand goes first.
#[derive(Serialize, ToSchema)]
struct MaterialBody {
    #[schema(example = "crosslinked PVA")]
    name: String,
    other_names: Vec<String>,
    figures: Vec<FigureBody>,
    cautions: Vec<CautionBody>,
}

#[derive(Serialize, ToSchema)]
struct Materials {
    items: Vec<MaterialBody>,
}

#[derive(Serialize, ToSchema)]
struct Figures {
    items: Vec<FigureBody>,
}

/// Families of glue: water class by EN 204 or EN 12765, open and closed assembly, time in the clamps, cure, least temperature.
#[utoipa::path(get, path = "/api/v1/reference/glues", tag = "reference", security((), ("token" = [])),
    responses((status = 200, body = Materials)))]
async fn list_glues() -> Json<Materials> {
    let items = glues().iter().map(|glue| MaterialBody {
        name: glue.name.clone(),
        other_names: glue.other_names.clone(),
        figures: glue.properties.iter().map(FigureBody::new).collect(),
        cautions: CautionBody::about(of_glue(&glue.figures)),
    });
    Json(Materials {
        items: items.collect(),
    })
}

/// What holds for gluing in general, and for glue that meets food.
#[utoipa::path(get, path = "/api/v1/reference/gluing", tag = "reference", security((), ("token" = [])),
    responses((status = 200, body = Figures)))]
async fn list_gluing() -> Json<Figures> {
    Json(Figures {
        items: gluing_figures().iter().map(FigureBody::new).collect(),
    })
}

/// Families of finish: soak, coats, waits, days until water, food, allergy, which rags take fire, coverage.
#[utoipa::path(get, path = "/api/v1/reference/finishes", tag = "reference", security((), ("token" = [])),
    responses((status = 200, body = Materials)))]
async fn list_finishes() -> Json<Materials> {
    let items = finishes().iter().map(|finish| MaterialBody {
        name: finish.name.clone(),
        other_names: finish.other_names.clone(),
        figures: finish.properties.iter().map(FigureBody::new).collect(),
        cautions: CautionBody::about(of_finish(&finish.figures)),
    });
    Json(Materials {
        items: items.collect(),
    })
}

#[derive(Serialize, ToSchema)]
struct GritBody {
    /// `FEPA` (with a P before the number) or `CAMI`.
    #[schema(example = "FEPA")]
    system: &'static str,
    #[schema(example = 120)]
    number: i64,
    /// Median (FEPA) or mean (CAMI) grain.
    #[schema(example = 125.0)]
    particle_um: f64,
    #[serde(flatten)]
    origin: Origin,
}

#[derive(Serialize, ToSchema)]
struct Grits {
    items: Vec<GritBody>,
}

/// Grits of coated abrasives, coarse to fine within each scale.
#[utoipa::path(get, path = "/api/v1/reference/abrasives", tag = "reference", security((), ("token" = [])),
    responses((status = 200, body = Grits)))]
async fn list_abrasives() -> Json<Grits> {
    let items = grits().iter().map(|grit| GritBody {
        system: grit.system.word(),
        number: grit.number,
        particle_um: grit.particle_um,
        origin: Origin::new(&grit.source),
    });
    Json(Grits {
        items: items.collect(),
    })
}

#[derive(Serialize, ToSchema)]
struct LumberSizeBody {
    #[schema(example = "softwood piece")]
    group: String,
    /// What the trade calls it.
    #[schema(example = "1x4")]
    nominal: String,
    /// `thickness` or `width`.
    #[schema(example = "width")]
    dimension: String,
    #[schema(example = "dressed dry")]
    condition: String,
    /// Millimetres.
    #[schema(value_type = f64, example = 88.9)]
    size: Value,
    #[serde(flatten)]
    origin: Origin,
}

#[derive(Serialize, ToSchema)]
struct LumberSizes {
    items: Vec<LumberSizeBody>,
}

/// Standard sizes: dressed softwood by PS 20, hardwood by quarters.
#[utoipa::path(get, path = "/api/v1/reference/lumber-sizes", tag = "reference", security((), ("token" = [])),
    responses((status = 200, body = LumberSizes)))]
async fn list_lumber_sizes() -> Json<LumberSizes> {
    let items = lumber_sizes().iter().map(|size| LumberSizeBody {
        group: size.group.clone(),
        nominal: size.nominal.clone(),
        dimension: size.dimension.clone(),
        condition: size.condition.clone(),
        size: to_json(size.size),
        origin: Origin::new(&size.source),
    });
    Json(LumberSizes {
        items: items.collect(),
    })
}

#[derive(Serialize, ToSchema)]
struct MachiningBody {
    #[schema(example = "kerf")]
    kind: String,
    #[schema(example = "table saw, full kerf")]
    item: String,
    low: Option<f64>,
    high: Option<f64>,
    #[schema(example = "mm")]
    unit: String,
    text: String,
    note: String,
    #[serde(flatten)]
    origin: Origin,
}

#[derive(Serialize, ToSchema)]
struct Machining {
    items: Vec<MachiningBody>,
}

/// Kerfs, radii, depths of cut, speeds, least lengths; the maker's manual goes first.
#[utoipa::path(get, path = "/api/v1/reference/machining", tag = "reference", security((), ("token" = [])),
    responses((status = 200, body = Machining)))]
async fn list_machining() -> Json<Machining> {
    let items = machining_figures().iter().map(|figure| MachiningBody {
        kind: figure.kind.clone(),
        item: figure.item.clone(),
        low: figure.range.map(|range| range.low),
        high: figure.range.map(|range| range.high),
        unit: figure.unit.clone(),
        text: figure.text.clone(),
        note: figure.note.clone(),
        origin: Origin::new(&figure.source),
    });
    Json(Machining {
        items: items.collect(),
    })
}

#[derive(Serialize, ToSchema)]
struct Cautions {
    items: Vec<CautionBody>,
}

/// Every caution; makers' instructions, local codes and trained people come first.
#[utoipa::path(get, path = "/api/v1/reference/cautions", tag = "reference", security((), ("token" = [])),
    responses((status = 200, body = Cautions)))]
async fn list_cautions() -> Json<Cautions> {
    Json(Cautions {
        items: cautions().iter().map(CautionBody::new).collect(),
    })
}

#[derive(Serialize, ToSchema)]
struct WordBody {
    #[schema(example = "kerf")]
    term: String,
    meaning: String,
    /// The word that it goes with.
    see: Option<String>,
}

#[derive(Serialize, ToSchema)]
struct Words {
    items: Vec<WordBody>,
}

/// The words that the pages use, each in a sentence.
#[utoipa::path(get, path = "/api/v1/reference/words", tag = "reference", security((), ("token" = [])),
    responses((status = 200, body = Words)))]
async fn list_words() -> Json<Words> {
    let items = glossary().iter().map(|term| WordBody {
        term: term.term.clone(),
        meaning: term.meaning.clone(),
        see: term.see.clone(),
    });
    Json(Words {
        items: items.collect(),
    })
}

#[derive(Serialize, ToSchema)]
struct DefaultBody {
    /// `cutting` (the fields of `shop`), `practice`, or `steps`.
    #[schema(example = "cutting")]
    group: &'static str,
    #[schema(example = "rip_kerf")]
    name: &'static str,
    /// `mm`, `min`, `N`, or empty.
    #[schema(example = "mm")]
    unit: &'static str,
    /// Of a step: `job`, `piece` or `board face`.
    #[serde(skip_serializing_if = "Option::is_none")]
    per: Option<&'static str>,
    #[schema(value_type = f64, example = 3.175)]
    usual: Value,
    /// What this workshop has set instead.
    #[schema(value_type = Option<f64>)]
    here: Option<Value>,
    #[serde(flatten)]
    origin: Origin,
}

#[derive(Serialize, ToSchema)]
struct Defaults {
    items: Vec<DefaultBody>,
}

/// What the calculations take where nothing is said, and what this workshop has set.
#[utoipa::path(get, path = "/api/v1/reference/defaults", tag = "reference", security((), ("token" = [])),
    responses((status = 200, body = Defaults)))]
async fn list_defaults(State(app): State<App>) -> Result<Json<Defaults>, Error> {
    let set = workshop::get(app.store.read()).await?.settings;
    let usual = Cutting::default();
    let ours = set.cutting;
    let practice = Practice::default();
    let item = |group, name, unit, usual: Value, here: Option<Value>| DefaultBody {
        group,
        name,
        unit,
        per: None,
        usual,
        here,
        origin: Origin::new(&Source::PRACTICE),
    };
    let lengths = [
        ("rip_kerf", usual.rip_kerf, ours.rip_kerf),
        ("crosscut_kerf", usual.crosscut_kerf, ours.crosscut_kerf),
        ("edge_trim", usual.edge_trim, ours.edge_trim),
        ("end_trim", usual.end_trim, ours.end_trim),
        ("min_rip_length", usual.min_rip_length, ours.min_rip_length),
        ("keep_length", usual.keep_length, ours.keep_length),
        ("keep_width", usual.keep_width, ours.keep_width),
    ];
    let mut items: Vec<DefaultBody> = lengths
        .into_iter()
        .map(|(name, usual, ours)| {
            let here = (usual != ours).then(|| to_json(ours));
            item("cutting", name, "mm", to_json(usual), here)
        })
        .collect();
    let share = |thousandths: u16| Value::from(f64::from(thousandths) / 1000.0);
    let (credit, ours) = (usual.keep_credit_thousandths, ours.keep_credit_thousandths);
    let here = (credit != ours).then(|| share(ours));
    items.push(item("cutting", "keep_credit", "", share(credit), here));
    for figure in settings::figures() {
        let (unit, print): (_, fn(i64) -> Value) = match figure.counts {
            Counts::Length => ("mm", |value| to_json(Length::from_nm(value))),
            Counts::Minutes => ("min", Value::from),
            Counts::Force => ("N", Value::from),
            Counts::Plain => ("", Value::from),
        };
        let here = (figure.get)(&set.practice).map(print);
        let usual = print((figure.usual)(&practice));
        items.push(item("practice", figure.name, unit, usual, here));
    }
    for kind in StepKind::ALL {
        let row = kind.row();
        if row.minutes == 0 {
            continue;
        }
        let here = set.practice.step_minutes.get(row.key).copied();
        items.push(DefaultBody {
            per: Some(match row.per {
                Per::Job => "job",
                Per::Piece => "piece",
                Per::BoardFace => "board face",
            }),
            ..item(
                "steps",
                row.key,
                "min",
                row.minutes.into(),
                here.map(Value::from),
            )
        });
    }
    Ok(Json(Defaults { items }))
}
