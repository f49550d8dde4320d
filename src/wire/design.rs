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
    Blank, Design, EdgeTreatment, EndGrainBoard, Extras, Flaw, GripRecesses, HandleBoard, Hole,
    JuiceGroove, Kind, RoundTray, StripedBoard, Surface, Turn,
};

const SURFACES: [(&str, Surface); 3] = [
    ("edge grain", Surface::EdgeGrain),
    ("face grain", Surface::FaceGrain),
    ("either", Surface::Either),
];

const TURNS: [(&str, Turn); 3] = [
    ("plain", Turn::Plain),
    ("flip", Turn::Flip),
    ("shift", Turn::Shift),
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
        Kind::EndGrainBoard => end_grain_board(node).map(Design::EndGrainBoard),
        Kind::HandleBoard => handle_board(node).map(Design::HandleBoard),
        Kind::RoundTray => round_tray(node).map(Design::RoundTray),
    }
}

/// The design as [`design`] reads it.
pub fn print_design(design: &Design) -> Value {
    let mut fields = Fields(Map::new());
    fields.put("kind", json!(design.kind().slug()));
    match design {
        Design::StripedBoard(board) => {
            fields.put("length", to_json(board.length));
            fields.put("width", to_json(board.width));
            fields.put("thickness", to_json(board.thickness));
            fields.put("surface", word(&SURFACES, board.surface));
            fields.put("strips", print_arrangement(&board.arrangement));
            print_extras(&mut fields, &board.extras);
        }
        Design::EndGrainBoard(board) => {
            fields.put("length", to_json(board.length));
            fields.put("thickness", to_json(board.thickness));
            fields.put("surface", word(&SURFACES, board.surface));
            fields.put("strips", print_arrangement(&board.arrangement));
            fields.put("panel_thickness", to_json(board.panel_thickness));
            fields.put("slices", json!(board.slices));
            fields.put("turn", word(&TURNS, board.turn));
            print_extras(&mut fields, &board.extras);
        }
        Design::HandleBoard(board) => {
            fields.put("body_length", to_json(board.body_length));
            fields.put("body_width", to_json(board.body_width));
            fields.put("thickness", to_json(board.thickness));
            fields.put("handle_length", to_json(board.handle_length));
            fields.put("handle_width", to_json(board.handle_width));
            fields.put("slant_degrees", json!(board.slant_degrees));
            fields.put("corner_radius", to_json(board.corner_radius));
            fields.put("throat_radius", to_json(board.throat_radius));
            fields.put("tip_radius", to_json(board.tip_radius));
            if let Some(hole) = board.hole {
                let printed = json!({
                    "diameter": to_json(hole.diameter),
                    "from_tip": to_json(hole.from_tip),
                });
                fields.put("hole", printed);
            }
            if let Some(drill) = board.relief_drill {
                fields.put("relief_drill", to_json(drill));
            }
            fields.put("edge", print_edge(board.edge));
            fields.put("blank", print_blank(&board.blank));
        }
        Design::RoundTray(tray) => {
            fields.put("diameter", to_json(tray.diameter));
            fields.put("rim", to_json(tray.rim));
            fields.put("base_thickness", to_json(tray.base_thickness));
            fields.put("ring_thickness", to_json(tray.ring_thickness));
            fields.put("bit", to_json(tray.bit));
            fields.put("edge", print_edge(tray.edge));
            fields.put("base", print_blank(&tray.base));
            fields.put("ring", print_blank(&tray.ring));
        }
    }
    Value::Object(fields.0)
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

/// Reads strips from a body of their own.
pub fn read_arrangement(body: &[u8]) -> Result<Arrangement, Problem> {
    read(body, |node| arrangement(&node))
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

fn end_grain_board(node: &Node<'_>) -> Option<EndGrainBoard> {
    let fields = node.object(&[
        "kind",
        "length",
        "thickness",
        "surface",
        "strips",
        "panel_thickness",
        "slices",
        "turn",
        "edge",
        "groove",
        "grips",
        "feet",
    ])?;
    let length = fields.required("length", |field| field.positive_length());
    let thickness = fields.required("thickness", |field| field.positive_length());
    let surface = fields.required("surface", |field| field.one_of(&SURFACES));
    let arrangement = fields.required("strips", |field| arrangement(&field));
    let panel_thickness = fields.required("panel_thickness", |field| field.positive_length());
    let slices = fields.required("slices", |field| field.whole(1..=1000));
    let turn = fields.required("turn", |field| field.one_of(&TURNS));
    let extras = extras(&fields);
    Some(EndGrainBoard {
        length: length?,
        thickness: thickness?,
        arrangement: arrangement?,
        surface: surface?,
        panel_thickness: panel_thickness?,
        slices: u32::try_from(slices?).ok()?,
        turn: turn?,
        extras: extras?,
    })
}

fn handle_board(node: &Node<'_>) -> Option<HandleBoard> {
    let fields = node.object(&[
        "kind",
        "body_length",
        "body_width",
        "thickness",
        "handle_length",
        "handle_width",
        "slant_degrees",
        "corner_radius",
        "throat_radius",
        "tip_radius",
        "hole",
        "relief_drill",
        "edge",
        "blank",
    ])?;
    let body_length = fields.required("body_length", |field| field.positive_length());
    let body_width = fields.required("body_width", |field| field.positive_length());
    let thickness = fields.required("thickness", |field| field.positive_length());
    let handle_length = fields.required("handle_length", |field| field.positive_length());
    let handle_width = fields.required("handle_width", |field| field.positive_length());
    let slant = left_out_or(&fields, "slant_degrees", 0.0, |field| {
        field.number(-90.0..=90.0)
    });
    let corner_radius = fields.required("corner_radius", |field| field.length());
    let throat_radius = fields.required("throat_radius", |field| field.length());
    let tip_radius = fields.required("tip_radius", |field| field.length());
    let hole = left_out_or(&fields, "hole", None, |field| hole(field).map(Some));
    let relief_drill = left_out_or(&fields, "relief_drill", None, |field| {
        field.positive_length().map(Some)
    });
    let edge = left_out_or(&fields, "edge", EdgeTreatment::Eased, edge);
    let blank = fields.required("blank", |field| blank(&field));
    Some(HandleBoard {
        body_length: body_length?,
        body_width: body_width?,
        thickness: thickness?,
        handle_length: handle_length?,
        handle_width: handle_width?,
        slant_degrees: slant?,
        corner_radius: corner_radius?,
        throat_radius: throat_radius?,
        tip_radius: tip_radius?,
        hole: hole?,
        relief_drill: relief_drill?,
        edge: edge?,
        blank: blank?,
    })
}

fn hole(node: &Node<'_>) -> Option<Hole> {
    let fields = node.object(&["diameter", "from_tip"])?;
    let diameter = fields.required("diameter", |field| field.positive_length());
    let from_tip = fields.required("from_tip", |field| field.positive_length());
    Some(Hole {
        diameter: diameter?,
        from_tip: from_tip?,
    })
}

fn round_tray(node: &Node<'_>) -> Option<RoundTray> {
    let fields = node.object(&[
        "kind",
        "diameter",
        "rim",
        "base_thickness",
        "ring_thickness",
        "bit",
        "edge",
        "base",
        "ring",
    ])?;
    let diameter = fields.required("diameter", |field| field.positive_length());
    let rim = fields.required("rim", |field| field.positive_length());
    let base_thickness = fields.required("base_thickness", |field| field.positive_length());
    let ring_thickness = fields.required("ring_thickness", |field| field.positive_length());
    let bit = fields.required("bit", |field| field.positive_length());
    let edge = left_out_or(&fields, "edge", EdgeTreatment::Eased, edge);
    let base = fields.required("base", |field| blank(&field));
    let ring = fields.required("ring", |field| blank(&field));
    Some(RoundTray {
        diameter: diameter?,
        rim: rim?,
        base_thickness: base_thickness?,
        ring_thickness: ring_thickness?,
        bit: bit?,
        edge: edge?,
        base: base?,
        ring: ring?,
    })
}

/// `{"species": "black cherry"}` for one piece, or `{"surface": .., "strips": [..]}` for glued boards.
fn blank(node: &Node<'_>) -> Option<Blank> {
    let fields = node.object(&["species", "surface", "strips"])?;
    if let Some(species) = fields.field("species") {
        for glued in ["surface", "strips"] {
            if let Some(field) = fields.field(glued) {
                field.refuse::<()>("is given beside species; must be left out for a single piece");
            }
        }
        return species.text().map(|species| Blank::OnePiece {
            species: species.to_owned(),
        });
    }
    let surface = fields.required("surface", |field| field.one_of(&SURFACES));
    let arrangement = fields.required("strips", |field| arrangement(&field));
    Some(Blank::Glued {
        surface: surface?,
        arrangement: arrangement?,
    })
}

fn print_blank(blank: &Blank) -> Value {
    match blank {
        Blank::OnePiece { species } => json!({"species": species}),
        Blank::Glued {
            surface,
            arrangement,
        } => json!({
            "surface": word(&SURFACES, *surface),
            "strips": print_arrangement(arrangement),
        }),
    }
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

fn print_extras(fields: &mut Fields, extras: &Extras) {
    fields.put("edge", print_edge(extras.edge));
    if let Some(groove) = extras.groove {
        let printed = json!({
            "width": to_json(groove.width),
            "depth": to_json(groove.depth),
            "inset": to_json(groove.inset),
        });
        fields.put("groove", printed);
    }
    if let Some(grips) = extras.grips {
        let printed = json!({
            "length": to_json(grips.length),
            "height": to_json(grips.height),
            "depth": to_json(grips.depth),
        });
        fields.put("grips", printed);
    }
    if extras.feet > 0 {
        fields.put("feet", json!(extras.feet));
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

/// An object that is being printed.
struct Fields(Map<String, Value>);

impl Fields {
    fn put(&mut self, name: &str, value: Value) {
        self.0.insert(name.to_owned(), value);
    }
}
