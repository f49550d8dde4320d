//! The `match` calculation as JSON.

use std::time::Duration;

use serde::Serialize;
use utoipa::ToSchema;

use super::length::{sentence_to_json, to_json};
use super::problem::{FieldError, Problem};
use super::reading::{Node, Object, read};
use crate::calc::budget::Budget;
use crate::calc::matching::{
    self, Board, Content, Direction, Flaw, KeepCredit, Layout, MAX_DETAILS, MAX_ENTRIES, MAX_KINDS,
    Outcome, Part, Piece, Progress, Request, Section, Shop, Step, Stretch, Strip,
};
use crate::units::{Length, LengthFormat, Money};

/// How long a solve goes on where the request does not say.
pub const DEFAULT_TIME: Duration = Duration::from_secs(10);
/// No request gets more, whatever it asks for.
pub const MOST_TIME: Duration = Duration::from_secs(300);
/// No request gets more, whatever it asks for.
pub const MOST_THREADS: usize = 2;

/// What a request may spend, within [`MOST_TIME`] and [`MOST_THREADS`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    pub time: Duration,
    pub threads: usize,
}

/// Reads the body, solves within the budget that `budget` makes of the request's limits, and
/// checks the answer before it is given out.
pub fn answer<'a>(
    body: &[u8],
    budget: impl FnOnce(Limits) -> Budget<'a>,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Response, Problem> {
    let (problem, limits) = parse(body)?;
    let budget = budget(limits);
    let outcome = matching::solve(&problem, &budget, progress);
    if let Err(violations) = matching::check(problem.request(), &outcome) {
        return Err(Problem {
            kind: "wrong-answer",
            status: 500,
            title: "The answer did not pass its own check".to_owned(),
            detail: violations
                .iter()
                .map(|violation| format!("{}: {}", violation.place, violation.detail))
                .collect::<Vec<_>>()
                .join("; "),
            errors: Vec::new(),
        });
    }
    Ok(Response::new(&outcome, budget.elapsed()))
}

/// Reads a request and its limits; the error lists every flaw.
pub fn parse(body: &[u8]) -> Result<(matching::Problem, Limits), Problem> {
    read(body, request)
}

fn pointer(path: &[Step]) -> String {
    path.iter()
        .map(|step| match step {
            Step::Field(name) => format!("/{name}"),
            Step::Index(index) => format!("/{index}"),
        })
        .collect()
}

const SIZES: [&str; 7] = [
    "id",
    "species",
    "length",
    "width",
    "thickness",
    "unusable",
    "square_ends",
];

/// Stands in for a length that could not be read.
const SOME_LENGTH: Length = Length::from_mm(1);
const NO_STRETCH: Stretch = Stretch {
    from: Length::ZERO,
    to: Length::ZERO,
};

/// For what could not be read something right stands in, so that the flaws of all the rest are found too.
fn request(body: Node<'_>) -> Option<(matching::Problem, Limits)> {
    let object = body.object(&["stock", "buy", "strips", "shop", "limits"])?;
    let stock = object.required("stock", |field| {
        field.list_of_at_most(MAX_ENTRIES, |node| Some(piece(&node)))
    });
    let buy = match object.field("buy") {
        Some(field) => field.list_of_at_most(MAX_ENTRIES, |node| Some(board(&node))),
        None => Some(Vec::new()),
    };
    let strips = object.required("strips", |field| {
        field.list_of_at_most(MAX_KINDS, |node| Some(strip(&node)))
    });
    let shop = match object.field("shop") {
        Some(field) => shop(field),
        None => Some(Shop::default()),
    };
    let limits = match object.field("limits") {
        Some(field) => limits(field),
        None => Some(Limits {
            time: DEFAULT_TIME,
            threads: MOST_THREADS,
        }),
    };
    let request = Request {
        stock: stock.unwrap_or_default(),
        buy: buy.unwrap_or_default(),
        strips: strips.unwrap_or_default(),
        shop: shop.unwrap_or_default(),
    };
    match matching::Problem::new(request) {
        Ok(problem) => Some((problem, limits?)),
        Err(flaws) => {
            for Flaw { path, detail } in flaws {
                let pointer = pointer(&path);
                body.note(FieldError { pointer, detail });
            }
            None
        }
    }
}

/// The field `name` read by `read`, or `default` where it is left out; `None` if it is wrong.
pub(super) fn or_default<'a, T>(
    object: &Object<'a>,
    name: &str,
    default: T,
    read: impl FnOnce(Node<'a>) -> Option<T>,
) -> Option<T> {
    match object.field(name) {
        Some(field) => read(field),
        None => Some(default),
    }
}

fn whole_count(field: Node<'_>) -> Option<u32> {
    let count = field.whole(1..=i64::from(u32::MAX))?;
    u32::try_from(count).ok()
}

fn piece(node: &Node<'_>) -> Piece {
    let known = [&SIZES[..], &["straight_edges", "count"]].concat();
    let object = node.object(&known);
    let count = object.as_ref();
    let count = count.and_then(|object| or_default(object, "count", 1, whole_count));
    let board = sizes(node, object.as_ref(), Money::ZERO);
    Piece {
        id: board.id,
        species: board.species,
        length: board.length,
        width: board.width,
        thickness: board.thickness,
        count: count.unwrap_or(1),
        unusable: board.unusable,
        square_ends: board.square_ends,
        straight_edges: board.straight_edges,
        preference: 0,
    }
}

fn board(node: &Node<'_>) -> Board {
    let known = [&SIZES[..], &["straight_edges", "price"]].concat();
    let object = node.object(&known);
    let price = object.as_ref();
    let price = price.and_then(|object| object.required("price", |field| field.money()));
    sizes(node, object.as_ref(), price.unwrap_or(Money::ZERO))
}

/// What pieces and boards have in common; `price` has been read already.
fn sizes(node: &Node<'_>, object: Option<&Object<'_>>, price: Money) -> Board {
    let length = |name: &str| {
        let length =
            object.and_then(|object| object.required(name, |field| field.positive_length()));
        length.unwrap_or(SOME_LENGTH)
    };
    let boolean = |name: &str| {
        let is = object.and_then(|object| or_default(object, name, false, |field| field.boolean()));
        is.unwrap_or(false)
    };
    let unusable = object.and_then(|object| {
        or_default(object, "unusable", Vec::new(), |field| {
            field.list_of_at_most(MAX_DETAILS, |node| {
                Some(stretch(&node).unwrap_or(NO_STRETCH))
            })
        })
    });
    let species = object.and_then(|object| object.required("species", |field| field.text()));
    Board {
        id: id(node, object),
        species: species.unwrap_or("?").to_owned(),
        length: length("length"),
        width: length("width"),
        thickness: length("thickness"),
        unusable: unusable.unwrap_or_default(),
        square_ends: boolean("square_ends"),
        straight_edges: boolean("straight_edges"),
        price,
    }
}

/// The id; its place stands in for it.
fn id(node: &Node<'_>, object: Option<&Object<'_>>) -> String {
    let id = object.and_then(|object| object.required("id", |field| field.text()));
    id.map_or_else(|| format!("\0{}", node.pointer()), str::to_owned)
}

fn stretch(node: &Node<'_>) -> Option<Stretch> {
    let object = node.object(&["from", "to"])?;
    let from = object.required("from", |field| field.length());
    let to = object.required("to", |field| field.length());
    Some(Stretch {
        from: from?,
        to: to?,
    })
}

fn strip(node: &Node<'_>) -> Strip {
    let object = node.object(&["id", "species", "count", "length", "sections"]);
    let object = object.as_ref();
    let species = object.and_then(|object| {
        object.required("species", |field| {
            field.list_of_at_most(MAX_DETAILS, |item| item.text())
        })
    });
    let count = object.and_then(|object| or_default(object, "count", 1, whole_count));
    let length =
        object.and_then(|object| object.required("length", |field| field.positive_length()));
    let sections = object.and_then(|object| {
        object.required("sections", |field| {
            field.list_of_at_most(MAX_DETAILS, section)
        })
    });
    let some_section = Section {
        rip: SOME_LENGTH,
        thickness: SOME_LENGTH,
    };
    let species = species.unwrap_or_else(|| vec!["?"]);
    Strip {
        id: id(node, object),
        species: species.into_iter().map(str::to_owned).collect(),
        count: count.unwrap_or(1),
        length: length.unwrap_or(SOME_LENGTH),
        sections: sections.unwrap_or_else(|| vec![some_section]),
    }
}

fn section(node: Node<'_>) -> Option<Section> {
    let object = node.object(&["rip", "thickness"])?;
    let rip = object.required("rip", |field| field.positive_length());
    let thickness = object.required("thickness", |field| field.positive_length());
    Some(Section {
        rip: rip?,
        thickness: thickness?,
    })
}

fn shop(node: Node<'_>) -> Option<Shop> {
    let object = node.object(&[
        "rip_kerf",
        "crosscut_kerf",
        "edge_trim",
        "end_trim",
        "min_rip_length",
        "keep_length",
        "keep_width",
        "keep_credit",
    ])?;
    let default = Shop::default();
    let length =
        |name: &str, default: Length| or_default(&object, name, default, |field| field.length());
    let limit = |name: &str, default: Length| {
        or_default(&object, name, default, |field| field.limit_length())
    };
    let rip_kerf = length("rip_kerf", default.rip_kerf);
    let crosscut_kerf = length("crosscut_kerf", default.crosscut_kerf);
    let edge_trim = length("edge_trim", default.edge_trim);
    let end_trim = length("end_trim", default.end_trim);
    let min_rip_length = limit("min_rip_length", default.min_rip_length);
    let keep_length = limit("keep_length", default.keep_length);
    let keep_width = limit("keep_width", default.keep_width);
    let keep_credit = or_default(&object, "keep_credit", default.keep_credit, |field| {
        let share = field.number(0.0..=1.0)?;
        KeepCredit::from_billionths((share * 1e9).round() as u32)
    });
    Some(Shop {
        rip_kerf: rip_kerf?,
        crosscut_kerf: crosscut_kerf?,
        edge_trim: edge_trim?,
        end_trim: end_trim?,
        min_rip_length: min_rip_length?,
        keep_length: keep_length?,
        keep_width: keep_width?,
        keep_credit: keep_credit?,
    })
}

pub(super) fn limits(node: Node<'_>) -> Option<Limits> {
    let object = node.object(&["seconds", "threads"])?;
    let time = or_default(&object, "seconds", DEFAULT_TIME, |field| {
        let seconds = field.number(0.0..=f64::INFINITY)?;
        Some(Duration::from_secs_f64(
            seconds.min(MOST_TIME.as_secs_f64()),
        ))
    });
    let threads = or_default(&object, "threads", MOST_THREADS, |field| {
        let threads = field.whole(1..=i64::MAX)?;
        Some(usize::try_from(threads).map_or(MOST_THREADS, |threads| threads.min(MOST_THREADS)))
    });
    Some(Limits {
        time: time?,
        threads: threads?,
    })
}

/// The best answer found, and how good any answer can be. Lengths are millimetres.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
pub struct Response {
    /// Strips that the layouts give.
    pub covered: u32,
    pub uncovered: Vec<Uncovered>,
    pub spend: f64,
    pub net_wood_mm3: f64,
    /// Pieces that are cut.
    pub touched: u32,
    pub bound: Bound,
    /// Whether all three bounds equal their values.
    pub proven: bool,
    pub layouts: Vec<LayoutBody>,
    pub seconds: f64,
}

/// Strips that could not be had: the nearest thing in stock and what it lacks.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Uncovered {
    pub id: String,
    pub count: u32,
    pub why: String,
    /// `why` in its parts: words as text, lengths as numbers of millimetres, for who shows them in another unit.
    #[schema(value_type = Vec<serde_json::Value>, example = json!(["The nearest piece, A044, is ", 3.175, " too thin."]))]
    pub why_parts: serde_json::Value,
}

/// What no answer can beat, in the order of the goals.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
pub struct Bound {
    pub covered: u32,
    pub spend: f64,
    pub net_wood_mm3: f64,
}

/// How `copies` equal pieces are cut.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = Layout)]
pub struct LayoutBody {
    pub stock: String,
    pub copies: u32,
    #[schema(example = "crosscut")]
    pub cut: &'static str,
    pub parts: Vec<PartBody>,
}

/// A part of a cut: cut again, or exactly one of `strip`, `keep` and `waste`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, ToSchema)]
#[schema(as = Part, no_recursion)]
pub struct PartBody {
    #[schema(value_type = f64)]
    pub size: serde_json::Value,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cut: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub parts: Option<Vec<PartBody>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strip: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub keep: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub waste: Option<bool>,
}

impl Response {
    pub fn new(outcome: &Outcome, elapsed: Duration) -> Response {
        let uncovered = outcome.uncovered.iter().map(|missing| Uncovered {
            id: missing.id.clone(),
            count: missing.count,
            why: missing.why.show(LengthFormat::Millimetres),
            why_parts: sentence_to_json(&missing.why),
        });
        Response {
            covered: outcome.covered,
            uncovered: uncovered.collect(),
            spend: outcome.spend.units(),
            net_wood_mm3: outcome.net_wood.mm3(),
            touched: outcome.touched,
            bound: Bound {
                covered: outcome.bound.covered,
                spend: outcome.bound.spend.units(),
                net_wood_mm3: outcome.bound.net_wood_mm3,
            },
            proven: outcome.proven,
            layouts: outcome.layouts.iter().map(LayoutBody::new).collect(),
            seconds: (elapsed.as_secs_f64() * 1e6).round() / 1e6,
        }
    }
}

impl LayoutBody {
    pub fn new(layout: &Layout) -> LayoutBody {
        LayoutBody {
            stock: layout.stock.clone(),
            copies: layout.copies,
            cut: word(Direction::of_level(0)),
            parts: parts(&layout.parts, 0),
        }
    }
}

fn word(direction: Direction) -> &'static str {
    match direction {
        Direction::Crosscut => "crosscut",
        Direction::Rip => "rip",
    }
}

fn parts(parts_of: &[Part], level: usize) -> Vec<PartBody> {
    let body = |part: &Part| {
        let empty = PartBody {
            size: to_json(part.size),
            ..PartBody::default()
        };
        match &part.content {
            Content::Cut(inner) => PartBody {
                cut: Some(word(Direction::of_level(level + 1))),
                parts: Some(parts(inner, level + 1)),
                ..empty
            },
            Content::Strip(id) => PartBody {
                strip: Some(id.clone()),
                ..empty
            },
            Content::Keep => PartBody {
                keep: Some(true),
                ..empty
            },
            Content::Waste => PartBody {
                waste: Some(true),
                ..empty
            },
        }
    };
    parts_of.iter().map(body).collect()
}
