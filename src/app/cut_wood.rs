//! The wood of a project as far as it is found: how the rings of each strip lie, what the cuts take from the bins, and
//! what is bought. It comes from the layouts of its claims, and from its match for what is not claimed yet.

use sqlx::SqliteConnection;

use super::numbering::Numbering;
use crate::calc::cost::{BoardPrice, Bought};
use crate::calc::matching::{Layout, Rectangle, Shop, Stock, Use};
use crate::calc::wood::GrowthRings;
use crate::calc::work::{Needs, Place, Practice};
use crate::store::layout::{self, Source};
use crate::store::lumber::{self, NewLumber, Sale};
use crate::store::project::Project;
use crate::store::{self, offcut};
use crate::units::{Length, Money, Volume};
use crate::wire::kept_match::{KeptLayout, KeptMatch};

#[derive(Clone, Debug, Default, PartialEq)]
pub struct CutWood {
    /// To the face of its panel, by place.
    pub rings: Vec<GrowthRings>,
    /// Taken from the bins, by species: what goes back is left out, and what is not found yet is in it as cut.
    pub bins: Vec<(String, Volume)>,
    pub bought: Vec<Bought>,
}

/// One layout with what it cuts.
struct Cut {
    kept: KeptLayout,
    from: From,
}

enum From {
    /// With its rings.
    Bin(GrowthRings),
    Yard,
}

impl CutWood {
    pub async fn load(
        db: &mut SqliteConnection,
        project: &Project,
        needs: &Needs,
        practice: &Practice,
    ) -> store::Result<CutWood> {
        let cuts = cuts(db, project).await?;
        let mut wood = CutWood {
            rings: vec![GrowthRings::Unknown; needs.places.len()],
            ..CutWood::default()
        };
        let mut numbering = Numbering::new(project.id, Some(needs));
        for Cut { kept, from } in &cuts {
            let stock = kept.stock();
            let rectangles = kept.layout.rectangles(&stock, &kept.shop);
            let mut own = 0.0;
            for rectangle in &rectangles {
                let Use::Strip(id) = rectangle.used_as else {
                    continue;
                };
                let Some(places) = numbering.take(id, kept.layout.copies) else {
                    continue;
                };
                own += rectangle.area().mm2();
                if let From::Bin(rings) = from {
                    for place in places {
                        let of = &needs.places[place];
                        wood.rings[place] =
                            rings_in_panel(*rings, rectangle.width, of, needs, practice);
                    }
                }
            }
            let share = own / strips_mm2(&rectangles).max(f64::MIN_POSITIVE);
            match from {
                From::Bin(_) => {
                    let taken = taken(&stock, &rectangles).mm3() * f64::from(kept.layout.copies);
                    wood.add(stock.species, Volume::from_mm3(taken * share));
                }
                From::Yard if share > 0.0 => {
                    let sold = lumber_of(db, stock.id).await?;
                    wood.bought
                        .push(bought(&stock, &kept.layout, &kept.shop, sold.as_ref()));
                }
                From::Yard => {}
            }
        }
        for place in numbering.into_rest() {
            let place = &needs.places[place];
            let strip = &needs.strips[place.need];
            if let Some(section) = strip.sections.first() {
                let rough = Volume::of(strip.length, section.rip, section.thickness);
                wood.add(&place.species, rough);
            }
        }
        Ok(wood)
    }

    fn add(&mut self, species: &str, volume: Volume) {
        match self.bins.iter_mut().find(|(known, _)| known == species) {
            Some((_, sum)) => *sum = *sum + volume,
            None => self.bins.push((species.to_owned(), volume)),
        }
    }
}

async fn cuts(db: &mut SqliteConnection, project: &Project) -> store::Result<Vec<Cut>> {
    let mut cuts = Vec::new();
    let mut stored = layout::list_of_project(&mut *db, project.id).await?;
    stored.extend(layout::list_shared_with_project(&mut *db, project.id).await?);
    for stored in stored {
        // A layout that cannot be read any more is told where layouts are shown.
        let Ok(kept) = KeptLayout::parse(&stored.cut) else {
            continue;
        };
        let from = match stored.source {
            Source::Claimed { offcut, .. } => {
                let piece = offcut::find(&mut *db, offcut).await?;
                From::Bin(piece.map_or(GrowthRings::Unknown, |piece| piece.growth_rings.into()))
            }
            Source::Bought(_) => From::Yard,
        };
        cuts.push(Cut { kept, from });
    }
    let found = project
        .current_match()
        .and_then(|found| KeptMatch::parse(&found.answer).ok());
    for kept in found.iter() {
        for layout in &kept.outcome.layouts {
            let Some(layout) = kept.kept_layout(layout) else {
                continue;
            };
            let tag = &layout.layout.stock;
            let from = if kept.request.stock.iter().any(|piece| piece.id == *tag) {
                let piece = offcut::find_by_tag(&mut *db, tag).await?;
                From::Bin(piece.map_or(GrowthRings::Unknown, |piece| piece.growth_rings.into()))
            } else {
                From::Yard
            };
            cuts.push(Cut { kept: layout, from });
        }
    }
    Ok(cuts)
}

/// A strip that is ripped as wide as it shows lies as its piece did; one that shows the thickness of its piece stands
/// on edge. One that is as wide as it is thick may be turned either way.
fn rings_in_panel(
    rings: GrowthRings,
    rip: Length,
    place: &Place,
    needs: &Needs,
    practice: &Practice,
) -> GrowthRings {
    let sections = &needs.strips[place.need].sections;
    let face = place.width + practice.allowances.glue_face * 2;
    match sections.iter().find(|section| section.rip == rip) {
        Some(section) if section.rip == section.thickness => GrowthRings::Unknown,
        Some(_) if rip == face => rings,
        Some(_) => rings.on_edge(),
        None => GrowthRings::Unknown,
    }
}

/// Of one copy: the piece without what goes back to a bin.
fn taken(stock: &Stock<'_>, rectangles: &[Rectangle<'_>]) -> Volume {
    let whole = Volume::of(stock.length, stock.width, stock.thickness).mm3();
    let kept = rectangles
        .iter()
        .filter(|rectangle| rectangle.used_as == Use::Keep)
        .map(|rectangle| rectangle.area().mm2() * stock.thickness.mm());
    Volume::from_mm3(whole - kept.sum::<f64>())
}

fn strips_mm2(rectangles: &[Rectangle<'_>]) -> f64 {
    let strips = rectangles
        .iter()
        .filter(|rectangle| matches!(rectangle.used_as, Use::Strip(_)));
    strips.map(|rectangle| rectangle.area().mm2()).sum()
}

/// The board of the yard's list; a name that is a tag too was bought with a word behind it.
async fn lumber_of(db: &mut SqliteConnection, id: &str) -> store::Result<Option<NewLumber>> {
    let name = id.strip_suffix(" (bought)").unwrap_or(id);
    let found = lumber::find_by_name(&mut *db, name).await?;
    Ok(found.map(|found| found.board))
}

/// Boards of one layout, at the price that was found. Where the yard sells parts of a board, as many whole feet as the cuts
/// reach into it.
fn bought(stock: &Stock<'_>, layout: &Layout, shop: &Shop, sold: Option<&NewLumber>) -> Bought {
    let count = i64::from(layout.copies);
    let whole = Bought {
        name: stock.id.to_owned(),
        price: BoardPrice::Piece(stock.price),
        count,
    };
    // A price that has changed since says nothing about the board as it was matched.
    let Some(sold) = sold.filter(|sold| sold.whole_price() == stock.price) else {
        return whole;
    };
    let Sale::BoardFoot { in_parts, .. } = sold.sale else {
        return whole;
    };
    let reach = layout
        .rectangles(stock, shop)
        .iter()
        .filter(|rectangle| matches!(rectangle.used_as, Use::Strip(_)))
        .map(|rectangle| rectangle.along + rectangle.length)
        .max()
        .unwrap_or(stock.length);
    let foot = Length::from_inches(12, 1);
    let feet = (reach + shop.crosscut_kerf + foot - Length::from_nm(1)).nm() / foot.nm();
    let part = foot * feet;
    let (name, length) = if in_parts && part < stock.length {
        (format!("{}, {feet} ft of it", stock.id), part)
    } else {
        (stock.id.to_owned(), stock.length)
    };
    Bought {
        name,
        price: BoardPrice::BoardFoot {
            tallied: sold.tally(length).board_feet(),
            price: sold.price,
        },
        count,
    }
}

/// At the price of the workshop, or of the species where it has its own.
pub fn price_of_bins(bins: &[(String, Volume)], usual: Money, prices: &[(String, Money)]) -> Money {
    bins.iter()
        .map(|(species, volume)| {
            let own = prices
                .iter()
                .find(|(priced, _)| priced.eq_ignore_ascii_case(species));
            let price = own.map_or(usual, |(_, price)| *price);
            Money::from_units_rounded(price.units() * volume.board_feet())
        })
        .sum()
}
