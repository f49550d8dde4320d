//! What each calculator asks, as fields of a form. A field is named as its place in the body, `one-species` for
//! `/one/species`; a list is a few rows of fields.

use crate::web::Typed;

/// How a field is filled in and what it becomes in the body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Input {
    /// A bare number is in the member's unit.
    Length,
    /// A number, of which some other unit may be written: its name, and how many of ours it is plus what is added first.
    Number(&'static [(&'static str, f64, f64)]),
    Text,
    Choice(&'static [(&'static str, &'static str)]),
    /// A choice whose values are numbers.
    NumberChoice(&'static [(&'static str, &'static str)]),
    Species,
    Glue,
    Finish,
    /// Words with commas between them.
    Words,
    /// Numbers with commas between them.
    Numbers,
    Tick,
    /// Always this, and not shown.
    Always(&'static str),
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Field {
    pub name: &'static str,
    pub label: &'static str,
    pub hint: &'static str,
    pub input: Input,
    pub is_required: bool,
}

#[derive(Clone, Debug)]
pub(super) enum Part {
    One(Field),
    /// A list in the body: its name, what one of it is called, what may be said about it, the fields of one.
    Rows {
        name: &'static str,
        one: &'static str,
        hint: &'static str,
        fields: Vec<Field>,
    },
}

const NUMBER: Input = Input::Number(&[]);
/// Degrees Fahrenheit: 32 is taken off, and the rest is five ninths of a degree Celsius.
const CELSIUS: Input = Input::Number(&[
    ("°c", 1.0, 0.0),
    ("c", 1.0, 0.0),
    ("°f", 5.0 / 9.0, -32.0),
    ("f", 5.0 / 9.0, -32.0),
]);
const PERCENT: Input = Input::Number(&[("%", 1.0, 0.0)]);
/// NIST SP 811, appendix B.8: a pound of force is 4.448222 N.
const NEWTONS: Input = Input::Number(&[
    ("lbf", 4.448_222, 0.0),
    ("kn", 1000.0, 0.0),
    ("n", 1.0, 0.0),
]);
const RINGS: Input = Input::Choice(&[
    ("flat-sawn", "flat-sawn: rings along the face"),
    ("quarter-sawn", "quarter-sawn: rings across the face"),
]);
const RINGS_IF_KNOWN: Input = Input::Choice(&[
    ("unknown", "not looked at"),
    ("flat-sawn", "flat-sawn"),
    ("quarter-sawn", "quarter-sawn"),
]);
const RUN: Input = Input::Choice(&[
    ("along", "with its grain along the joint"),
    ("across", "with its grain across the joint"),
]);

fn must(name: &'static str, label: &'static str, input: Input) -> Field {
    Field {
        name,
        label,
        hint: "",
        input,
        is_required: !matches!(input, Input::Tick | Input::Always(_)),
    }
}

fn may(name: &'static str, label: &'static str, input: Input) -> Field {
    Field {
        is_required: false,
        ..must(name, label, input)
    }
}

impl Field {
    fn hint(self, hint: &'static str) -> Field {
        Field { hint, ..self }
    }
}

impl From<Field> for Part {
    fn from(field: Field) -> Part {
        Part::One(field)
    }
}

fn rows(name: &'static str, one: &'static str, hint: &'static str, fields: Vec<Field>) -> Part {
    Part::Rows {
        name,
        one,
        hint,
        fields,
    }
}

fn air(fields: &mut Vec<Part>, temperature: Field, humidity: Field) {
    fields.push(temperature.hint("In °C, or write 70 F.").into());
    fields.push(humidity.hint("Per cent.").into());
}

fn size(fields: &mut Vec<Part>) {
    fields.push(must("length", "Length", Input::Length).into());
    fields.push(must("width", "Width", Input::Length).into());
    fields.push(must("thickness", "Thickness", Input::Length).into());
}

/// What the calculator of this name asks.
pub(super) fn parts(name: &str) -> Vec<Part> {
    let mut parts = Vec::new();
    match name {
        "emc" => air(
            &mut parts,
            must("temperature_c", "Temperature", CELSIUS),
            must("relative_humidity_percent", "Relative humidity", PERCENT),
        ),
        "moisture-check" => {
            air(
                &mut parts,
                must("temperature_c", "Temperature in the workshop", CELSIUS),
                must("relative_humidity_percent", "Relative humidity", PERCENT),
            );
            parts.push(
                may("points_between_pieces", "Pieces may differ by", PERCENT)
                    .hint("Per cent of moisture; 2 if left empty.")
                    .into(),
            );
            parts.push(
                may(
                    "points_from_equilibrium",
                    "And be off the air's by",
                    PERCENT,
                )
                .hint("Per cent of moisture; 2 if left empty.")
                .into(),
            );
            parts.push(rows(
                "pieces",
                "Piece",
                "",
                vec![
                    must("name", "Name", Input::Text),
                    must("mc_percent", "Measured moisture, %", PERCENT),
                ],
            ));
        }
        "movement" => {
            parts.push(must("species", "Wood", Input::Species).into());
            parts.push(must("width", "Width across the grain", Input::Length).into());
            parts.push(must("growth_rings", "Growth rings", RINGS).into());
            parts.push(
                must("from_mc_percent", "From a moisture of", PERCENT)
                    .hint("Per cent.")
                    .into(),
            );
            parts.push(
                must("to_mc_percent", "To a moisture of", PERCENT)
                    .hint("Per cent.")
                    .into(),
            );
        }
        "board-movement" => {
            parts.push(must("thickness", "Thickness of the board", Input::Length).into());
            air(
                &mut parts,
                must("from_air-temperature_c", "From air of", CELSIUS),
                must(
                    "from_air-relative_humidity_percent",
                    "with a humidity of",
                    PERCENT,
                ),
            );
            air(
                &mut parts,
                must("to_air-temperature_c", "To air of", CELSIUS),
                must(
                    "to_air-relative_humidity_percent",
                    "with a humidity of (to)",
                    PERCENT,
                ),
            );
            parts.push(rows(
                "strips",
                "Strip",
                "In the order in which they lie in the board.",
                vec![
                    must("species", "Wood", Input::Species),
                    must("width", "Width", Input::Length),
                    may("growth_rings", "Growth rings", RINGS_IF_KNOWN),
                ],
            ));
        }
        "cross-grain" => {
            parts.push(must("joint", "Length of the joint", Input::Length).into());
            parts.push(must("one-species", "One side is of", Input::Species).into());
            parts.push(must("one-run", "and lies", RUN).into());
            parts.push(may("one-growth_rings", "Its growth rings", RINGS_IF_KNOWN).into());
            parts.push(must("other-species", "The other side is of", Input::Species).into());
            parts.push(must("other-run", "and lies (other side)", RUN).into());
            parts.push(
                may(
                    "other-growth_rings",
                    "Growth rings of the other side",
                    RINGS_IF_KNOWN,
                )
                .into(),
            );
            parts.push(
                must("from_mc_percent", "From a moisture of", PERCENT)
                    .hint("Per cent.")
                    .into(),
            );
            parts.push(
                must("to_mc_percent", "To a moisture of", PERCENT)
                    .hint("Per cent.")
                    .into(),
            );
            parts.push(
                may("longest", "Longest joint to glue solid", Input::Length)
                    .hint("3 in if left empty.")
                    .into(),
            );
        }
        "food-check" => {
            parts.push(
                must(
                    "use",
                    "What it is for",
                    Input::Choice(&[
                        ("cutting", "a surface to cut on"),
                        ("serving", "serving, without a knife"),
                        ("no food", "no food touches it"),
                    ]),
                )
                .into(),
            );
            parts.push(rows(
                "woods",
                "Wood",
                "",
                vec![
                    must("species", "Wood", Input::Species),
                    must("share", "Share of the surface", NUMBER)
                        .hint("From 0 to 1: 0.25 is a quarter."),
                ],
            ));
        }
        "board-feet" => {
            size(&mut parts);
            parts.push(
                may("count", "Pieces", NUMBER)
                    .hint("1 if left empty.")
                    .into(),
            );
        }
        "weight" => {
            size(&mut parts);
            parts.push(must("species", "Wood", Input::Species).into());
            parts.push(
                may("mc_percent", "Moisture", PERCENT)
                    .hint("Per cent; 12 if left empty.")
                    .into(),
            );
            parts.push(
                may("count", "Pieces", NUMBER)
                    .hint("1 if left empty.")
                    .into(),
            );
        }
        "clamping" => {
            parts.push(
                must("length", "Length of the panel", Input::Length)
                    .hint("Along the glue lines.")
                    .into(),
            );
            parts.push(must("width", "Width of the panel", Input::Length).into());
            parts.push(
                must("height", "Height of a glue line", Input::Length)
                    .hint("The thickness of the panel.")
                    .into(),
            );
            parts.push(
                must("species", "Woods", Input::Words)
                    .hint("With commas between them; the softest decides.")
                    .into(),
            );
            parts.push(
                must("clamp_force_n", "Force of one clamp", NEWTONS)
                    .hint("In newtons, or write 1000 lbf. As rated, or better as measured.")
                    .into(),
            );
            parts.push(must("clamp_reach", "Reach of the clamps", Input::Length).into());
            parts.push(
                must("caul_depth", "Depth of a caul", Input::Length)
                    .hint("From the jaw to the panel; 0 without cauls.")
                    .into(),
            );
            parts.push(may("pad", "Thickness of a pad", Input::Length).into());
            parts.push(may("jaw_width", "Width of a jaw", Input::Length).into());
            parts.push(may("outer_strip", "Width of the outer strip", Input::Length).into());
        }
        "clamp-load" => {
            parts.push(must("clamp_reach", "Reach of the clamps", Input::Length).into());
            parts.push(must("caul_depth", "Depth of a caul", Input::Length).into());
            parts.push(may("separator", "Separator between panels", Input::Length).into());
            parts.push(rows(
                "panels",
                "Panel",
                "",
                vec![
                    must("name", "Name", Input::Text),
                    must("length", "Length", Input::Length),
                    must("width", "Width", Input::Length),
                    must("height", "Height of a glue line", Input::Length),
                    must("species", "Woods", Input::Words),
                    must("clamps", "Clamps it needs alone", NUMBER),
                    must("clamp_minutes", "Minutes in the clamps", NUMBER),
                ],
            ));
        }
        "glue-up" => {
            parts.push(must("length", "Length of the glue lines", Input::Length).into());
            parts.push(must("height", "Height of a glue line", Input::Length).into());
            parts.push(must("glue", "Glue", Input::Glue).into());
            parts.push(
                may(
                    "workshop_temperature_c",
                    "Temperature in the workshop",
                    CELSIUS,
                )
                .hint("In °C, or write 65 F.")
                .into(),
            );
            parts.push(
                may("seconds_per_line", "Seconds to spread one line", NUMBER)
                    .hint("30 if left empty.")
                    .into(),
            );
            parts.push(may("planer_width", "Widest panel for the planer", Input::Length).into());
            parts.push(
                may("spread_g_m2", "Glue, grams a square metre", NUMBER)
                    .hint("200 if left empty.")
                    .into(),
            );
            parts.push(must("for_food", "Food touches it", Input::Tick).into());
            parts.push(must("accept_glue", "Use this glue all the same", Input::Tick).into());
            parts.push(rows(
                "strips",
                "Strips",
                "In their order; equal ones side by side in one row.",
                vec![
                    may("species", "Wood", Input::Species),
                    must("width", "Width of one", Input::Length),
                    may("count", "How many", NUMBER),
                ],
            ));
        }
        "circle" => {
            parts.push(must("diameter", "Diameter of the disc", Input::Length).into());
            parts.push(
                may("rim", "Width of the ring", Input::Length)
                    .hint("Where the inside is cut out.")
                    .into(),
            );
            parts.push(must("bit", "Diameter of the bit", Input::Length).into());
            parts.push(must("thickness", "Thickness of the wood", Input::Length).into());
            parts.push(
                must("depth_per_pass", "Depth at each pass", Input::Length)
                    .hint("Router makers allow 1/8 in.")
                    .into(),
            );
        }
        "flattening" => {
            parts.push(must("length", "Length", Input::Length).into());
            parts.push(must("width", "Width", Input::Length).into());
            parts.push(
                must(
                    "faces",
                    "Faces",
                    Input::NumberChoice(&[("2", "both faces"), ("1", "one face")]),
                )
                .into(),
            );
            parts.push(
                may(
                    "minutes_for_18_by_10_in",
                    "Minutes for a face of 18 by 10 in",
                    NUMBER,
                )
                .hint("20 if left empty; measure your own.")
                .into(),
            );
        }
        "grits" => {
            parts.push(
                must("owned", "Grits on the shelf", Input::Numbers)
                    .hint("With commas between them.")
                    .into(),
            );
            parts.push(must("first", "Start with", NUMBER).into());
            parts.push(
                may("last", "End with", NUMBER)
                    .hint("220 if left empty.")
                    .into(),
            );
            parts.push(
                may("largest_step", "Largest step", NUMBER)
                    .hint("How many times the grit before; leave empty for the usual.")
                    .into(),
            );
        }
        "finish" => {
            parts.push(must("finish", "Finish", Input::Finish).into());
            size(&mut parts);
            parts.push(
                may("coats", "Coats", NUMBER)
                    .hint("The usual number if left empty.")
                    .into(),
            );
            parts.push(must("for_food", "Food touches it", Input::Tick).into());
            parts.push(must("cut_on", "It is cut on", Input::Tick).into());
            parts.push(must("accept_finish", "Use this finish all the same", Input::Tick).into());
        }
        "cost" => {
            parts.push(
                may(
                    "bin_wood_board_feet",
                    "Wood from the bins, board feet",
                    NUMBER,
                )
                .into(),
            );
            parts.push(
                may(
                    "prices-bin_wood_board_foot",
                    "A board foot of it costs",
                    NUMBER,
                )
                .into(),
            );
            parts.push(may("glue_g", "Glue, grams", NUMBER).into());
            parts.push(may("prices-glue_kg", "A kilogram of glue costs", NUMBER).into());
            parts.push(may("sanded_m2", "Sanded, square metres", NUMBER).into());
            parts.push(
                may(
                    "prices-abrasive_m2",
                    "Abrasive for a square metre costs",
                    NUMBER,
                )
                .into(),
            );
            parts.push(may("finish_l", "Finish, litres", NUMBER).into());
            parts.push(may("prices-finish_l", "A litre of finish costs", NUMBER).into());
            parts.push(rows(
                "bought",
                "Boards bought",
                "Either the price of a board, or its board feet and the price of one.",
                vec![
                    must("name", "Name", Input::Text),
                    may("price", "Price of one", NUMBER),
                    may("board_feet", "Board feet of one", NUMBER),
                    may("price_board_foot", "Price of a board foot", NUMBER),
                    may("count", "How many", NUMBER),
                ],
            ));
        }
        "advice" => {
            parts.push(must("design-kind", "", Input::Always("striped-board")).into());
            parts.push(must("design-length", "Length, finished", Input::Length).into());
            parts.push(
                must("design-width", "Width, finished", Input::Length)
                    .hint("The strips' widths together.")
                    .into(),
            );
            parts.push(must("design-thickness", "Thickness, finished", Input::Length).into());
            parts.push(
                must(
                    "design-surface",
                    "Surface",
                    Input::Choice(&[
                        ("edge grain", "edge grain: strips stand on edge"),
                        ("face grain", "face grain: strips lie flat"),
                    ]),
                )
                .into(),
            );
            parts.push(rows(
                "design-strips",
                "Strip",
                "In the order in which they lie in the board.",
                vec![
                    must("species", "Wood", Input::Species),
                    must("width", "Width", Input::Length),
                ],
            ));
            parts.push(must("glue", "Glue", Input::Glue).into());
            parts.push(must("finish", "Finish", Input::Finish).into());
            parts.push(
                may("coats", "Coats", NUMBER)
                    .hint("The usual number if left empty.")
                    .into(),
            );
            air(
                &mut parts,
                may(
                    "workshop_air-temperature_c",
                    "Temperature in the workshop",
                    CELSIUS,
                ),
                may(
                    "workshop_air-relative_humidity_percent",
                    "Relative humidity",
                    PERCENT,
                ),
            );
            parts.push(
                may("grits", "Grits on the shelf", Input::Numbers)
                    .hint("With commas between them.")
                    .into(),
            );
            parts.push(must("accept_glue", "Use this glue all the same", Input::Tick).into());
            parts.push(rows(
                "clamps",
                "Clamp set",
                "",
                vec![
                    must("name", "Name", Input::Text),
                    must("reach", "Reach", Input::Length),
                    may("force_n", "Force of one", NEWTONS),
                    must("count", "How many", NUMBER),
                ],
            ));
        }
        _ => {}
    }
    parts
}

/// What the lists of a form offer.
pub(super) struct Options {
    pub woods: Vec<(String, String)>,
    pub glues: Vec<(String, String)>,
    pub finishes: Vec<(String, String)>,
}

/// A stretch of the form as the template shows it.
pub(super) enum Block {
    Fields(Vec<Entry>),
    Rows {
        name: &'static str,
        one: &'static str,
        hint: &'static str,
        rows: Vec<Vec<Entry>>,
    },
}

pub(super) enum Kind {
    Line(&'static str),
    Choice(Vec<(String, String)>),
    Tick,
}

/// One field as the template shows it.
pub(super) struct Entry {
    pub name: String,
    pub label: &'static str,
    pub hint: &'static str,
    pub kind: Kind,
    pub is_required: bool,
}

/// Rows that wait to be filled in below those that are.
const BLANK_ROWS: usize = 2;

pub(super) fn blocks(parts: &[Part], typed: &Typed, options: &Options) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    for part in parts {
        match part {
            Part::One(field) => {
                let Some(entry) = entry(field, field.name.to_owned(), options, false) else {
                    continue;
                };
                match blocks.last_mut() {
                    Some(Block::Fields(entries)) => entries.push(entry),
                    _ => blocks.push(Block::Fields(vec![entry])),
                }
            }
            Part::Rows {
                name,
                one,
                hint,
                fields,
            } => {
                let rows = (0..n_rows(typed, name) + BLANK_ROWS).map(|row| {
                    let place = |field: &Field| format!("{name}-{row}-{}", field.name);
                    fields
                        .iter()
                        .filter_map(|field| entry(field, place(field), options, true))
                        .collect()
                });
                blocks.push(Block::Rows {
                    name,
                    one,
                    hint,
                    rows: rows.collect(),
                });
            }
        }
    }
    blocks
}

/// Rows of a list that hold anything; they are numbered from 0 without a gap.
pub(super) fn n_rows(typed: &Typed, list: &str) -> usize {
    typed
        .pairs()
        .filter_map(|(name, _)| row_of(name, list))
        .map(|(row, _)| row + 1)
        .max()
        .unwrap_or(0)
}

/// The row and field that a name like `strips-2-width` belongs to.
pub(super) fn row_of<'a>(name: &'a str, list: &str) -> Option<(usize, &'a str)> {
    let (row, field) = name
        .strip_prefix(list)?
        .strip_prefix('-')?
        .split_once('-')?;
    Some((row.parse().ok()?, field))
}

fn entry(field: &Field, name: String, options: &Options, in_row: bool) -> Option<Entry> {
    let with_none = |choices: Vec<(String, String)>| {
        let none = (in_row || !field.is_required).then(|| (String::new(), "–".to_owned()));
        none.into_iter().chain(choices).collect()
    };
    let owned = |choices: &[(&str, &str)]| {
        choices
            .iter()
            .map(|(value, words)| ((*value).to_owned(), (*words).to_owned()))
            .collect()
    };
    let kind = match field.input {
        Input::Always(_) => return None,
        Input::Length | Input::Text | Input::Words | Input::Numbers => Kind::Line(""),
        Input::Number(units) => Kind::Line(if units.is_empty() { "decimal" } else { "" }),
        Input::Choice(choices) | Input::NumberChoice(choices) => Kind::Choice(owned(choices)),
        Input::Species => Kind::Choice(with_none(options.woods.clone())),
        Input::Glue => Kind::Choice(options.glues.clone()),
        Input::Finish => Kind::Choice(options.finishes.clone()),
        Input::Tick => Kind::Tick,
    };
    Some(Entry {
        name,
        label: field.label,
        hint: field.hint,
        kind,
        is_required: field.is_required && !in_row,
    })
}
