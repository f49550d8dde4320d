//! The shapes of what is read and printed by hand, for the API's description.

use std::borrow::Cow;

use serde::Serialize;
use serde_json::{Value, json};
use utoipa::openapi::schema::{OneOfBuilder, Schema};
use utoipa::openapi::{ObjectBuilder, RefOr, Type};
use utoipa::{PartialSchema, ToSchema};

/// A length: in requests text with its unit or a number of millimetres, in answers a number of millimetres.
#[derive(Serialize)]
pub(super) struct Length(Value);

impl PartialSchema for Length {
    fn schema() -> RefOr<Schema> {
        let text = ObjectBuilder::new()
            .schema_type(Type::String)
            .examples([json!("17 1/2 in")]);
        let millimetres = ObjectBuilder::new()
            .schema_type(Type::Number)
            .minimum(Some(0.0))
            .examples([json!(444.5)]);
        OneOfBuilder::new()
            .description(Some(
                "Text with its unit (`17 1/2 in`, `445 mm`, `2 ft 3 in`), or a number of millimetres. In answers always millimetres.",
            ))
            .item(text)
            .item(millimetres)
            .into()
    }
}

impl ToSchema for Length {
    fn name() -> Cow<'static, str> {
        "Length".into()
    }
}

/// A strip of an arrangement.
#[derive(Serialize, ToSchema)]
pub(super) struct Strip {
    #[schema(example = "hard maple")]
    species: String,
    width: Length,
}

/// `eased`, `round over` with a radius, or `chamfer` with a size.
#[derive(Serialize, ToSchema)]
pub(super) struct Edge {
    #[schema(example = "eased")]
    shape: String,
    radius: Option<Length>,
    size: Option<Length>,
}

#[derive(Serialize, ToSchema)]
pub(super) struct Groove {
    width: Length,
    depth: Length,
    inset: Length,
}

#[derive(Serialize, ToSchema)]
pub(super) struct Grips {
    length: Length,
    height: Length,
    depth: Length,
}

#[derive(Serialize, ToSchema)]
pub(super) struct Hole {
    diameter: Length,
    from_tip: Length,
}

/// What a shape is sawn from: one piece of a species, or strips glued together.
#[derive(Serialize, ToSchema)]
pub(super) struct Blank {
    #[schema(example = "black walnut")]
    species: Option<String>,
    surface: Option<String>,
    strips: Option<Vec<Strip>>,
}

/// What is made; `kind` decides which other fields there are.
#[derive(Serialize, ToSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schema(example = json!({"kind": "striped-board", "length": "17 in", "width": "2 1/4 in", "thickness": "1 1/2 in",
    "surface": "edge grain", "strips": [{"species": "hard maple", "width": "3/4 in"},
        {"species": "black walnut", "width": "3/4 in"}, {"species": "hard maple", "width": "3/4 in"}]}))]
#[expect(dead_code, reason = "documents what `wire::design` reads and prints")]
pub(super) enum Design {
    StripedBoard {
        length: Length,
        width: Length,
        thickness: Length,
        /// `edge grain`, `face grain` or `either`.
        surface: String,
        strips: Vec<Strip>,
        edge: Option<Edge>,
        groove: Option<Groove>,
        grips: Option<Grips>,
        /// How many; none if left out.
        feet: Option<u32>,
    },
    EndGrainBoard {
        length: Length,
        thickness: Length,
        surface: String,
        strips: Vec<Strip>,
        panel_thickness: Length,
        slices: u32,
        /// `plain`, `flip` or `shift`.
        turn: String,
        edge: Option<Edge>,
        groove: Option<Groove>,
        grips: Option<Grips>,
        /// How many; none if left out.
        feet: Option<u32>,
    },
    HandleBoard {
        body_length: Length,
        body_width: Length,
        thickness: Length,
        handle_length: Length,
        handle_width: Length,
        slant_degrees: f64,
        corner_radius: Length,
        throat_radius: Length,
        tip_radius: Length,
        hole: Option<Hole>,
        relief_drill: Option<Length>,
        edge: Option<Edge>,
        blank: Blank,
    },
    RoundTray {
        diameter: Length,
        rim: Length,
        base_thickness: Length,
        ring_thickness: Length,
        bit: Length,
        edge: Option<Edge>,
        base: Blank,
        ring: Blank,
    },
}

/// Where a project differs from its workshop's practice.
#[derive(Serialize, ToSchema)]
pub(super) struct PracticeShape {
    rough_length: Option<Length>,
    flattening: Option<Length>,
    squaring: Option<Length>,
    glue_face: Option<Length>,
    end_grain: Option<Length>,
    outline: Option<Length>,
    panel_end: Option<Length>,
    #[schema(example = "crosslinked PVA")]
    glue: Option<String>,
    /// A glue without a water class fit for food ware is refused unless this is true.
    #[schema(write_only)]
    accept_glue: Option<bool>,
    #[schema(example = "tung oil")]
    finish: Option<String>,
    /// A finish that does not suit food ware is refused unless this is true.
    #[schema(write_only)]
    accept_finish: Option<bool>,
    coats: Option<u32>,
    #[schema(example = "sander")]
    flattening_tool: Option<String>,
    /// Minutes of steps by the key of their kind.
    #[schema(value_type = Option<Object>, example = json!({"glue-up": 60}))]
    step_minutes: Option<Value>,
}

#[derive(Serialize, ToSchema)]
pub(super) struct Owner {
    #[schema(example = 3)]
    id: i64,
    #[schema(example = "Ines Sorrel")]
    name: String,
}

/// A project without its match.
#[derive(Serialize, ToSchema)]
pub(super) struct Project {
    #[schema(example = 7)]
    id: i64,
    #[schema(example = "Board for the fair")]
    name: String,
    /// `striped-board`, `end-grain-board`, `handle-board` or `round-tray`.
    #[schema(example = "striped-board")]
    kind: String,
    member: Owner,
    /// `drawn`, `matched`, `claimed`, `milled`, `glued`, `shaped`, `finishing`, `curing`, `ready` or `handed over`.
    #[schema(example = "drawn")]
    stage: String,
    #[schema(example = "2027-03-05")]
    due_day: Option<String>,
    note: String,
    design: Design,
    practice: PracticeShape,
    /// There is a match for the design as it stands.
    is_matched: bool,
    #[schema(value_type = String, format = DateTime)]
    created_at: String,
    #[schema(value_type = Option<String>, format = DateTime)]
    ended_at: Option<String>,
    version: i64,
}

#[derive(Serialize, ToSchema)]
pub(super) struct Projects {
    items: Vec<Project>,
    /// The cursor of the next page.
    next: Option<String>,
}

/// A new project.
#[derive(Serialize, ToSchema)]
pub(super) struct ProjectDraft {
    #[schema(example = "Board for the fair")]
    name: String,
    design: Design,
    practice: Option<PracticeShape>,
    #[schema(example = "2027-03-05")]
    due_day: Option<String>,
    note: Option<String>,
}

/// What changes of a project; what is left out stays, `"due_day": null` takes the day away.
#[derive(Serialize, ToSchema)]
pub(super) struct ProjectChange {
    #[schema(example = "Board for Ines and Tove")]
    name: Option<String>,
    design: Option<Design>,
    practice: Option<PracticeShape>,
    due_day: Option<String>,
    note: Option<String>,
}

/// A piece that is held for a project, or was.
#[derive(Serialize, ToSchema)]
pub(super) struct Claim {
    id: i64,
    #[schema(example = "A017")]
    tag: String,
    offcut: i64,
    pieces: u32,
    pieces_cut: u32,
    /// `held`, `cut`, `let go` or `lapsed`.
    #[schema(example = "held")]
    state: String,
    #[schema(example = "2027-03-20")]
    last_day: String,
    version: i64,
}

#[derive(Serialize, ToSchema)]
pub(super) struct Claims {
    items: Vec<Claim>,
}

/// What of a piece goes back to a bin.
#[derive(Serialize, ToSchema)]
pub(super) struct RemainderShape {
    length: Length,
    width: Length,
    thickness: Length,
    count: Option<u32>,
    square_ends: Option<bool>,
    straight_edges: Option<bool>,
}

/// A layout to be cut.
#[derive(Serialize, ToSchema)]
pub(super) struct Cut {
    id: i64,
    /// Of the claimed piece; a bought board has a name instead.
    tag: Option<String>,
    bought: Option<String>,
    copies: u32,
    copies_cut: u32,
    layout: crate::wire::matching::LayoutBody,
    /// What each copy should leave.
    remainders: Vec<RemainderShape>,
}

#[derive(Serialize, ToSchema)]
pub(super) struct Cuts {
    items: Vec<Cut>,
}

/// A remainder that went into a bin.
#[derive(Serialize, ToSchema)]
pub(super) struct KeptRemainder {
    length: Length,
    width: Length,
    thickness: Length,
    count: Option<u32>,
    square_ends: Option<bool>,
    straight_edges: Option<bool>,
    #[schema(example = 1)]
    bin: i64,
    note: Option<String>,
}

/// Copies of a layout that were cut, with what went back of all of them.
#[derive(Serialize, ToSchema)]
pub(super) struct CutDone {
    #[schema(example = 1)]
    copies: u32,
    remainders: Option<Vec<KeptRemainder>>,
}

/// What became of the pieces that were cut.
#[derive(Serialize, ToSchema)]
pub(super) struct CutAnswer {
    offcut: Option<i64>,
    /// Of the new remainders, to be written on the wood.
    #[schema(example = json!(["A061"]))]
    tags: Vec<String>,
    strips_mm3: i64,
    waste_mm3: i64,
}

#[derive(Serialize, ToSchema)]
pub(super) struct LastDay {
    #[schema(example = "2027-03-20")]
    last_day: String,
}

#[derive(Serialize, ToSchema)]
pub(super) struct StageShape {
    /// `milled` or later; earlier stages follow from the wood.
    #[schema(example = "glued")]
    stage: String,
}

#[derive(Serialize, ToSchema)]
pub(super) struct MatchAsked {
    /// From 0 to 300; 10 if left out.
    #[schema(example = 2.0)]
    seconds: Option<f64>,
    /// Layouts of the match before whose pieces are still free stay.
    keep_rest: Option<bool>,
}

#[derive(Serialize, ToSchema)]
pub(super) struct TogetherAsked {
    #[schema(example = json!([7, 9]))]
    projects: Vec<i64>,
    /// From 0 to 300; 10 if left out.
    #[schema(example = 4.0)]
    seconds: Option<f64>,
}

/// How good a match is.
#[derive(Serialize, ToSchema)]
pub(super) struct WorthShape {
    covered: u32,
    wanted: u32,
    spend: f64,
    net_wood_mm3: f64,
    touched: u32,
}

/// What one project gets of a match of several.
#[derive(Serialize, ToSchema)]
pub(super) struct PortionShape {
    #[schema(example = 7)]
    project: i64,
    #[schema(example = "Board for the fair")]
    name: String,
    #[schema(example = "Ines Sorrel")]
    member_name: String,
    covered: u32,
    wanted: u32,
}

/// A match of several projects.
#[derive(Serialize, ToSchema)]
pub(super) struct TogetherAnswer {
    id: i64,
    answer: crate::wire::matching::Response,
    /// For each layout the project that holds its claim and cuts it.
    #[schema(example = json!([7, 9, 7]))]
    cutters: Vec<i64>,
    portions: Vec<PortionShape>,
    together: WorthShape,
    one_by_one: WorthShape,
    /// Members who agreed to it while others are waited for.
    agreed: Vec<i64>,
}

#[derive(Serialize, ToSchema)]
pub(super) struct TogetherClaims {
    claims: Vec<i64>,
    /// Names of members who have to agree before anything is claimed.
    waits_for: Vec<String>,
}
