//! Layouts as pages show them: the drawing, what it gives, where the piece lies.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use super::drawn::Drawer;
use crate::app::matching::StripName;
use crate::app::numbering::Numbering;
use crate::calc::matching::{Layout, Shop, Stock, Use};
use crate::calc::work::{Blank, Design, Needs};
use crate::export::svg::{self, CutPiece, Drawing};
use crate::store::layout::{self, StoredLayout};
use crate::store::{ProjectId, project};
use crate::web::{Error, words};

/// One layout on a page.
pub(in crate::web) struct CutLayout {
    /// The tag of the piece, or the name of the board.
    pub piece: String,
    pub copies: u32,
    pub species: String,
    pub size: String,
    /// Where the piece lies, and its page.
    pub bin: Option<String>,
    pub href: Option<String>,
    pub drawing: Drawing,
    /// `strips 1, 4 and 7`.
    pub gives: String,
    /// What goes back to a bin, by size.
    pub kept: Vec<String>,
    pub price: Option<String>,
    /// Who cuts, where that is another project.
    pub cut_by: Option<String>,
    /// What other projects get from it: `1 strip for Board of Ines (P7)`.
    pub for_others: Vec<String>,
}

/// On a strip for another project this and the project's number is written.
const OF_OTHERS: char = 'P';

fn is_of_others(label: &str) -> bool {
    let number = label.strip_prefix(OF_OTHERS);
    number.is_some_and(|number| number.parse::<u64>().is_ok())
}

/// What is written on the strips of a project's layouts, in the order of the layouts.
pub(in crate::web) struct Labels {
    numbering: Numbering,
    /// By place.
    labels: Vec<String>,
}

impl Labels {
    pub fn new(project: ProjectId, needs: Option<&Needs>) -> Labels {
        // `strip 3` is drawn as 3, `ring strip 2` as ring 2; a blank keeps its name.
        let places = needs.iter().flat_map(|needs| &needs.places);
        Labels {
            numbering: Numbering::new(project, needs),
            labels: places
                .map(|place| place.label.replace("strip ", ""))
                .collect(),
        }
    }

    /// What stands on each strip of a layout, for all its copies together.
    pub fn labels(&mut self, layout: &Layout, stock: &Stock<'_>, shop: &Shop) -> Vec<String> {
        layout
            .rectangles(stock, shop)
            .iter()
            .filter_map(|rectangle| match rectangle.used_as {
                Use::Strip(id) => Some(self.label(id, layout.copies)),
                _ => None,
            })
            .collect()
    }

    /// What stands on one strip, for all copies of its layout together.
    pub fn label(&mut self, id: &str, copies: u32) -> String {
        let Some(places) = self.numbering.take(id, copies) else {
            return id.parse::<StripName>().map_or_else(
                |()| id.to_owned(),
                |name| format!("{OF_OTHERS}{}", name.project),
            );
        };
        let numbers: Vec<&str> = places
            .iter()
            .map(|place| self.labels[*place].as_str())
            .collect();
        if numbers.is_empty() {
            id.parse::<StripName>()
                .map_or_else(|()| id.to_owned(), |name| name.key)
        } else {
            numbers.join("·")
        }
    }
}

impl CutLayout {
    /// Says who cuts and for whom, where the layout serves several projects.
    pub async fn share(
        &mut self,
        db: &mut SqliteConnection,
        stored: &StoredLayout,
        project: ProjectId,
    ) -> Result<(), Error> {
        if stored.project != project {
            self.cut_by = Some(who(&mut *db, stored.project).await?);
        }
        let mut counts: BTreeMap<ProjectId, u32> = BTreeMap::new();
        for strip in layout::list_strips(&mut *db, stored.id).await? {
            *counts.entry(strip.project_id).or_default() += strip.count * stored.copies;
        }
        counts.remove(&project);
        for (other, count) in counts {
            let strips = words::counted(count as usize, "strip", "strips");
            let who = who(&mut *db, other).await?;
            self.for_others.push(format!("{strips} for {who}"));
        }
        Ok(())
    }

    pub fn new(
        drawer: &Drawer<'_>,
        prefix: &str,
        layout: &Layout,
        stock: Stock<'_>,
        shop: &Shop,
        labels: &[String],
        design: &Design,
    ) -> CutLayout {
        let lengths = drawer.lengths;
        let kept = layout
            .rectangles(&stock, shop)
            .iter()
            .filter(|rectangle| rectangle.used_as == Use::Keep)
            .map(|rectangle| {
                format!(
                    "{} × {}",
                    lengths.show(rectangle.length),
                    lengths.show(rectangle.width)
                )
            })
            .collect();
        let is_bought = stock.count.is_none() && stock.price.cents() > 0;
        CutLayout {
            piece: stock.id.to_owned(),
            copies: layout.copies,
            species: stock.species.to_owned(),
            size: format!(
                "{} × {} × {}",
                lengths.show(stock.length),
                lengths.show(stock.width),
                lengths.show(stock.thickness)
            ),
            bin: None,
            href: None,
            gives: gives(labels),
            cut_by: None,
            for_others: Vec::new(),
            kept,
            price: is_bought.then(|| (stock.price * i64::from(layout.copies)).to_string()),
            drawing: drawing(
                drawer,
                prefix,
                &CutPiece {
                    layout,
                    stock,
                    shop,
                    labels,
                },
                design,
            ),
        }
    }
}

/// `Board for the fair of Ines Sorrel (P7)`.
async fn who(db: &mut SqliteConnection, id: ProjectId) -> Result<String, Error> {
    let project = project::find(db, id).await?;
    Ok(project.map_or_else(
        || format!("P{id}"),
        |project| format!("{} of {} (P{id})", project.about.name, project.member_name),
    ))
}

/// A shape that is sawn from a single piece is drawn lying in it.
fn drawing(drawer: &Drawer<'_>, prefix: &str, cut: &CutPiece<'_>, design: &Design) -> Drawing {
    drawer.with(prefix, svg::Style::PHONE, |style| {
        let on_piece = match design {
            Design::HandleBoard(board) if matches!(board.blank, Blank::OnePiece { .. }) => board
                .shape()
                .ok()
                .and_then(|shape| svg::handle_on_piece(style, cut, &shape)),
            _ => None,
        };
        on_piece.unwrap_or_else(|| svg::layout(style, cut))
    })
}

fn gives(labels: &[String]) -> String {
    let own = labels.iter().filter(|label| !is_of_others(label));
    let numbers: Vec<&str> = own.flat_map(|label| label.split('·')).collect();
    let is_numbers = numbers
        .iter()
        .all(|number| number.bytes().all(|byte| byte.is_ascii_digit()));
    let noun = match (is_numbers, numbers.len()) {
        (true, 1) => "strip ",
        (true, _) => "strips ",
        (false, _) => "",
    };
    format!("{noun}{}", words::listed(&numbers))
}
