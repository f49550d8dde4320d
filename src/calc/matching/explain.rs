//! Why a strip could not be had: the nearest thing in stock and what it lacks.

use std::collections::BTreeMap;

use super::layout::Layout;
use super::request::{Request, Shop, Stock, Strip};
use crate::units::{Length, Part, Sentence, say};

/// Knows the pieces and which of them the answer cuts.
pub(super) struct Reasons<'a> {
    shop: &'a Shop,
    /// With the number that is left.
    pieces: Vec<(Stock<'a>, u64)>,
}

/// What one piece lacks for one strip.
struct Lack<'a> {
    piece: Stock<'a>,
    is_left: bool,
    rip: Length,
    /// Millimetres short along, across and through; zero where enough.
    along: Length,
    across: Length,
    through: Length,
    /// How much longer the piece must be so that it may be ripped at all.
    to_rip: Length,
    is_flawed: bool,
}

impl<'a> Reasons<'a> {
    pub fn new(request: &'a Request, layouts: &[Layout]) -> Reasons<'a> {
        let mut used: BTreeMap<&str, u64> = BTreeMap::new();
        for layout in layouts {
            *used.entry(layout.stock.as_str()).or_default() += u64::from(layout.copies);
        }
        let pieces = request.pieces().map(|piece| {
            let used = used.get(piece.id).copied().unwrap_or(0);
            let left = piece
                .count
                .map_or(u64::MAX, |count| u64::from(count).saturating_sub(used));
            (piece, left)
        });
        Reasons {
            shop: &request.shop,
            pieces: pieces.collect(),
        }
    }

    /// One sentence that a person can act on.
    pub fn why(&self, strip: &Strip) -> Sentence {
        let species = strip.species.join(" or ");
        let of_species = self
            .pieces
            .iter()
            .filter(|(piece, _)| strip.species.iter().any(|name| name == piece.species));
        let nearest = of_species
            .flat_map(|(piece, left)| {
                strip.sections.iter().map(move |section| {
                    self.lack(
                        piece,
                        *left > 0,
                        strip.length,
                        section.rip,
                        section.thickness,
                    )
                })
            })
            .min_by_key(Lack::distance);
        match nearest {
            None => say![format!("There is no {species} in stock or for sale.")],
            Some(lack) => lack.sentence(strip, &species),
        }
    }

    fn lack(
        &self,
        piece: &Stock<'a>,
        is_left: bool,
        length: Length,
        rip: Length,
        thickness: Length,
    ) -> Lack<'a> {
        let (usable_length, usable_width) = piece.usable(self.shop);
        let clear = longest_clear(piece, self.shop, usable_length);
        let is_ripped = rip != usable_width;
        let to_rip = if is_ripped {
            self.shop.min_rip_length.saturating_sub(usable_length)
        } else {
            Length::ZERO
        };
        Lack {
            piece: *piece,
            is_left,
            rip,
            along: length.saturating_sub(clear),
            across: rip.saturating_sub(usable_width),
            through: thickness.saturating_sub(piece.thickness),
            to_rip,
            is_flawed: clear < usable_length,
        }
    }
}

/// The longest stretch of the usable length that no flaw touches.
fn longest_clear(piece: &Stock<'_>, shop: &Shop, usable: Length) -> Length {
    let start = piece.start(shop);
    let end = start + usable;
    let mut flaws: Vec<(Length, Length)> = piece
        .unusable
        .iter()
        .map(|stretch| (stretch.from, stretch.to))
        .collect();
    flaws.sort_unstable();
    let (mut at, mut longest) = (start, Length::ZERO);
    for (from, to) in flaws {
        longest = longest.max(from.min(end) - at);
        at = at.max(to);
    }
    longest.max(end - at).max(Length::ZERO)
}

impl Lack<'_> {
    fn distance(&self) -> (bool, Length, bool) {
        let size = self.along + self.across + self.through + self.to_rip;
        // A size that is nearly enough can be acted on; a fitting piece that is used up comes
        // first of all, since it says that more of the same would do.
        (size.is_positive(), size, !self.is_left)
    }

    fn sentence(&self, strip: &Strip, species: &str) -> Sentence {
        let id = self.piece.id;
        let edge = if self.piece.straight_edges {
            ""
        } else {
            " after one edge is made straight"
        };
        let ends = match (self.is_flawed, self.piece.square_ends) {
            (true, _) => " clear of its unusable part",
            (false, false) => " after its ends are squared",
            (false, true) => "",
        };
        let lacks = [
            (self.across, format!(" too narrow{edge}")),
            (self.along, format!(" too short{ends}")),
            (self.through, " too thin".to_owned()),
            (self.to_rip, " too short to be ripped safely".to_owned()),
        ];
        let mut said: Vec<Part> = Vec::new();
        for (lack, words) in lacks {
            if lack.is_positive() {
                let before = if said.is_empty() {
                    format!("The nearest piece, {id}, is ")
                } else {
                    " and ".to_owned()
                };
                said.extend([before.into(), lack.into(), words.into()]);
            }
        }
        if !said.is_empty() {
            said.push(".".into());
            return Sentence::of(said);
        }
        if self.is_left {
            return say![
                format!("Piece {id} could still give one "),
                strip.length,
                " long and ",
                self.rip,
                " wide, but was not reached in the time."
            ];
        }
        say![
            format!("Every piece of {species} that can give one "),
            strip.length,
            " long and ",
            self.rip,
            format!(" wide is used already; more pieces like {id} would do.")
        ]
    }
}
