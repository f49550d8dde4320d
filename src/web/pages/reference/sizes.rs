//! Plain tables: grits of abrasives, sizes of lumber, figures of machines.

use askama::Template;
use axum::response::Response;

use super::materials::capital;
use crate::reference::{
    Caution, GritSystem, anchor, cautions_about, grits, lumber_sizes, machining_figures,
};
use crate::units::{InchFraction, LengthFormat};
use crate::web::{Error, Section, Shell, page};

#[derive(Template)]
#[template(path = "reference/tables.html")]
struct TablesPage {
    shell: Shell,
    title: &'static str,
    lead: &'static str,
    tables: Vec<Table>,
    cautions: Vec<&'static Caution>,
}

struct Table {
    anchor: String,
    heading: String,
    columns: Vec<&'static str>,
    rows: Vec<Vec<String>>,
    /// Where the source is the same for all rows, it stands once.
    source: Option<String>,
}

impl Table {
    /// The last cell of each row is its source.
    fn new(heading: String, columns: &[&'static str], mut rows: Vec<Vec<String>>) -> Table {
        let mut columns = columns.to_vec();
        let first = rows.first().and_then(|row| row.last()).cloned();
        let is_shared = rows.iter().all(|row| row.last() == first.as_ref());
        let source = first.filter(|_| is_shared);
        if source.is_some() {
            for row in &mut rows {
                row.pop();
            }
        } else {
            columns.push("Source");
        }
        Table {
            anchor: anchor(&heading),
            heading,
            columns,
            rows,
            source,
        }
    }
}

pub(super) async fn abrasives(shell: Shell) -> Result<Response, Error> {
    let of = |system: GritSystem, heading: &str, prefix: &str, size: &'static str| {
        let rows = grits().iter().filter(|grit| grit.system == system);
        let rows = rows.map(|grit| {
            vec![
                format!("{prefix}{}", grit.number),
                format!("{} µm", grit.particle_um),
                grit.source.to_string(),
            ]
        });
        Table::new(heading.to_owned(), &["Grit", size], rows.collect())
    };
    page(&TablesPage {
        title: "Abrasives",
        lead: "How large the grains of a grit are. The two scales agree up to about 220 and part company above: a fine CAMI paper is finer than a FEPA paper of the same number. Go up in steps of half again to double, and skip none that would leave scratches.",
        tables: vec![
            of(
                GritSystem::Fepa,
                "FEPA, with a P before the number",
                "P",
                "Median grain",
            ),
            of(GritSystem::Cami, "CAMI, plain numbers", "", "Mean grain"),
        ],
        cautions: cautions_about("sanding")
            .chain(cautions_about("wood dust"))
            .collect(),
        shell: shell.at(Section::Reference),
    })
}

pub(super) async fn lumber(shell: Shell) -> Result<Response, Error> {
    let mut tables = Vec::new();
    let mut groups: Vec<(&str, &str)> = Vec::new();
    for size in lumber_sizes() {
        let group = (size.group.as_str(), size.condition.as_str());
        if !groups.contains(&group) {
            groups.push(group);
        }
    }
    let inches = LengthFormat::Inches(InchFraction::default());
    for (group, condition) in groups {
        let rows = lumber_sizes()
            .iter()
            .filter(|size| size.group == group && size.condition == condition)
            .map(|size| {
                vec![
                    size.nominal.clone(),
                    capital(&size.dimension),
                    format!(
                        "{}, {}",
                        inches.show(size.size),
                        LengthFormat::Millimetres.show(size.size)
                    ),
                    size.source.to_string(),
                ]
            });
        tables.push(Table::new(
            format!("{}, {condition}", capital(group)),
            &["Sold as", "What", "Is really"],
            rows.collect(),
        ));
    }
    page(&TablesPage {
        title: "Sizes of lumber",
        lead: "What a board is called is larger than what it is: a dressed 1 × 4 of softwood is 3/4 by 3 1/2 in. Hardwood is sold rough by quarters of an inch: 4/4 is 1 in before it is surfaced.",
        tables,
        cautions: Vec::new(),
        shell: shell.at(Section::Reference),
    })
}

pub(super) async fn machining(shell: Shell) -> Result<Response, Error> {
    let mut kinds: Vec<&str> = Vec::new();
    for figure in machining_figures() {
        if !kinds.contains(&figure.kind.as_str()) {
            kinds.push(&figure.kind);
        }
    }
    let tables = kinds.into_iter().map(|kind| {
        let rows = machining_figures()
            .iter()
            .filter(|figure| figure.kind == kind)
            .map(|figure| {
                let range = figure.range.map(|range| {
                    if range.low == range.high {
                        format!("{} {}", range.low, figure.unit)
                    } else {
                        format!("{} to {} {}", range.low, range.high, figure.unit)
                    }
                });
                let said = match (range, figure.text.as_str()) {
                    (Some(range), "") => range,
                    (Some(range), text) => format!("{text} ({})", range.trim_end()),
                    (None, text) => text.to_owned(),
                };
                vec![
                    capital(&figure.item),
                    said,
                    figure.note.clone(),
                    figure.source.to_string(),
                ]
            });
        Table::new(capital(kind), &["What", "Figure", "Note"], rows.collect())
    });
    page(&TablesPage {
        title: "Sawing, routing, planing",
        lead: "Kerfs, radii, depths and least lengths. The maker's manual of the machine before you goes first.",
        tables: tables.collect(),
        cautions: cautions_about("any machine").collect(),
        shell: shell.at(Section::Reference),
    })
}
