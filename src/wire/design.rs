//! Designs in JSON: the form of requests, and the form in which the database keeps them.
//!
//! Reading what was printed gives the same design, and printing that gives the same text. Lengths are
//! printed in millimetres and read in any form of the calculation contract.

use serde_json::{Map, Value, json};

use super::length::to_json;
use super::problem::{FieldError, Problem};
use super::reading::{Node, Object, read};
use crate::calc::pattern::{Arrangement, BoardStrip};
use crate::calc::work::{
    Design, EdgeTreatment, Extras, Flaw, GripRecesses, JuiceGroove, Kind, StripedBoard, Surface,
};

const SURFACES: [(&str, Surface); 3] = [
    ("edge grain", Surface::EdgeGrain),
    ("face grain", Surface::FaceGrain),
    ("either", Surface::Either),
];

/// Reads a design from a body of its own.
pub fn read_design(body: &[u8]) -> Result<Design, Problem> {
    read(body, |node| design(&node))
}

/// Reads a design at its place in a larger body; flaws are noted with their pointers.
pub fn design(node: &Node<'_>) -> Option<Design> {
    let kinds: Vec<(&str, Kind)> = Kind::ALL
        .into_iter()
        .map(|kind| (kind.slug(), kind))
        .collect();
    // The kind decides which other fields there may be.
    let kind = node.member("kind")?.one_of(&kinds)?;
    match kind {
        Kind::StripedBoard => striped_board(node).map(Design::StripedBoard),
    }
}

/// The design as [`design`] reads it.
pub fn print_design(design: &Design) -> Value {
    let mut fields = Map::new();
    fields.insert("kind".to_owned(), json!(design.kind().slug()));
    match design {
        Design::StripedBoard(board) => {
            fields.insert("length".to_owned(), to_json(board.length));
            fields.insert("width".to_owned(), to_json(board.width));
            fields.insert("thickness".to_owned(), to_json(board.thickness));
            fields.insert("surface".to_owned(), word(&SURFACES, board.surface));
            fields.insert("strips".to_owned(), print_arrangement(&board.arrangement));
            print_extras(&mut fields, &board.extras);
        }
    }
    Value::Object(fields)
}

/// What a calculation found wrong with a design that stands at `pointer` of a body.
pub fn field_errors(pointer: &str, flaws: &[Flaw]) -> Vec<FieldError> {
    flaws
        .iter()
        .map(|flaw| FieldError {
            pointer: format!("{pointer}/{}", flaw.place.join("/")),
            detail: flaw.about.to_string(),
        })
        .collect()
}

/// Strips from left to right: `[{"species": "hard maple", "width": 19.05}]`.
pub fn arrangement(node: &Node<'_>) -> Option<Arrangement> {
    node.list(|strip| {
        let strip = strip.object(&["species", "width"])?;
        let species = strip.required("species", |field| field.text());
        let width = strip.required("width", |field| field.positive_length());
        Some(BoardStrip {
            species: species?.to_owned(),
            width: width?,
        })
    })
    .map(Arrangement::new)
}

/// The strips as [`arrangement`] reads them.
pub fn print_arrangement(arrangement: &Arrangement) -> Value {
    let strips = arrangement.strips.iter();
    strips
        .map(|strip| json!({"species": strip.species, "width": to_json(strip.width)}))
        .collect()
}

fn striped_board(node: &Node<'_>) -> Option<StripedBoard> {
    let fields = node.object(&[
        "kind",
        "length",
        "width",
        "thickness",
        "surface",
        "strips",
        "edge",
        "groove",
        "grips",
        "feet",
    ])?;
    let length = fields.required("length", |field| field.positive_length());
    let width = fields.required("width", |field| field.positive_length());
    let thickness = fields.required("thickness", |field| field.positive_length());
    let surface = fields.required("surface", |field| field.one_of(&SURFACES));
    let arrangement = fields.required("strips", |field| arrangement(&field));
    let extras = extras(&fields);
    Some(StripedBoard {
        length: length?,
        width: width?,
        thickness: thickness?,
        surface: surface?,
        arrangement: arrangement?,
        extras: extras?,
    })
}

/// Edge, groove, grips and feet, each of which may be left out.
fn extras(fields: &Object<'_>) -> Option<Extras> {
    let edge = left_out_or(fields, "edge", EdgeTreatment::Eased, edge);
    let groove = left_out_or(fields, "groove", None, |field| groove(field).map(Some));
    let grips = left_out_or(fields, "grips", None, |field| grips(field).map(Some));
    let feet = left_out_or(fields, "feet", 0, |field| field.whole(0..=12));
    Some(Extras {
        edge: edge?,
        groove: groove?,
        grips: grips?,
        feet: u32::try_from(feet?).ok()?,
    })
}

/// `None` only where the field is there and wrong.
fn left_out_or<'a, T>(
    fields: &Object<'a>,
    name: &str,
    left_out: T,
    read: impl FnOnce(&Node<'a>) -> Option<T>,
) -> Option<T> {
    match fields.field(name) {
        None => Some(left_out),
        Some(field) => read(&field),
    }
}

fn edge(node: &Node<'_>) -> Option<EdgeTreatment> {
    #[derive(Clone, Copy)]
    enum Shape {
        Eased,
        RoundOver,
        Chamfer,
    }
    let shapes = [
        ("eased", Shape::Eased),
        ("round over", Shape::RoundOver),
        ("chamfer", Shape::Chamfer),
    ];
    match node.member("shape")?.one_of(&shapes)? {
        Shape::Eased => node.object(&["shape"]).map(|_| EdgeTreatment::Eased),
        Shape::RoundOver => {
            let radius = node.object(&["shape", "radius"])?;
            let radius = radius.required("radius", |field| field.positive_length())?;
            Some(EdgeTreatment::RoundOver { radius })
        }
        Shape::Chamfer => {
            let size = node.object(&["shape", "size"])?;
            let size = size.required("size", |field| field.positive_length())?;
            Some(EdgeTreatment::Chamfer { size })
        }
    }
}

fn groove(node: &Node<'_>) -> Option<JuiceGroove> {
    let fields = node.object(&["width", "depth", "inset"])?;
    let width = fields.required("width", |field| field.positive_length());
    let depth = fields.required("depth", |field| field.positive_length());
    let inset = fields.required("inset", |field| field.positive_length());
    Some(JuiceGroove {
        width: width?,
        depth: depth?,
        inset: inset?,
    })
}

fn grips(node: &Node<'_>) -> Option<GripRecesses> {
    let fields = node.object(&["length", "height", "depth"])?;
    let length = fields.required("length", |field| field.positive_length());
    let height = fields.required("height", |field| field.positive_length());
    let depth = fields.required("depth", |field| field.positive_length());
    Some(GripRecesses {
        length: length?,
        height: height?,
        depth: depth?,
    })
}

fn print_extras(fields: &mut Map<String, Value>, extras: &Extras) {
    fields.insert("edge".to_owned(), print_edge(extras.edge));
    if let Some(groove) = extras.groove {
        let printed = json!({
            "width": to_json(groove.width),
            "depth": to_json(groove.depth),
            "inset": to_json(groove.inset),
        });
        fields.insert("groove".to_owned(), printed);
    }
    if let Some(grips) = extras.grips {
        let printed = json!({
            "length": to_json(grips.length),
            "height": to_json(grips.height),
            "depth": to_json(grips.depth),
        });
        fields.insert("grips".to_owned(), printed);
    }
    if extras.feet > 0 {
        fields.insert("feet".to_owned(), json!(extras.feet));
    }
}

fn print_edge(edge: EdgeTreatment) -> Value {
    match edge {
        EdgeTreatment::Eased => json!({"shape": "eased"}),
        EdgeTreatment::RoundOver { radius } => {
            json!({"shape": "round over", "radius": to_json(radius)})
        }
        EdgeTreatment::Chamfer { size } => json!({"shape": "chamfer", "size": to_json(size)}),
    }
}

fn word<T: PartialEq>(words: &[(&'static str, T)], value: T) -> Value {
    let found = words.iter().find(|(_, meaning)| *meaning == value);
    json!(found.map(|(word, _)| *word))
}
