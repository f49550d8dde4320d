//! What a member wants to make: one of the kinds, with its sizes.

use super::extras::{EdgeTreatment, Extras};
use super::needs::{Flaw, Needs, Size, Wood};
use super::practice::Practice;
use super::sentence::say;
use super::striped_board::{StripedBoard, Surface};
use crate::calc::matching::Shop;
use crate::calc::pattern::{BoardStrip, fill};
use crate::units::Length;

/// The design of one project.
#[derive(Clone, Debug, PartialEq)]
pub enum Design {
    StripedBoard(StripedBoard),
}

/// What a design is a design of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    StripedBoard,
}

/// What each kind of project knows how to do. A further kind is one file with this implemented, one
/// variant in [`Design`] and one in [`Kind`].
pub(super) trait Work {
    /// The size that the piece will have, which may differ from the size wanted.
    fn finished(&self, practice: &Practice) -> Size;

    /// Everything that cannot be made as it stands; the species are checked elsewhere.
    fn flaws(&self, practice: &Practice, shop: &Shop) -> Vec<Flaw>;

    /// The species used, each with its place in the design.
    fn species(&self) -> Vec<(Vec<String>, &str)>;

    /// Called only for a design without flaws whose species are all known.
    fn needs(&self, practice: &Practice, shop: &Shop, woods: &[Wood]) -> Needs;
}

impl Kind {
    pub const ALL: [Kind; 1] = [Kind::StripedBoard];

    /// The word for it in addresses and in JSON.
    pub fn slug(self) -> &'static str {
        match self {
            Kind::StripedBoard => "striped-board",
        }
    }

    pub fn title(self) -> &'static str {
        match self {
            Kind::StripedBoard => "Striped board",
        }
    }

    pub fn from_slug(slug: &str) -> Option<Kind> {
        Kind::ALL.into_iter().find(|kind| kind.slug() == slug)
    }
}

impl Design {
    pub fn kind(&self) -> Kind {
        match self {
            Design::StripedBoard(_) => Kind::StripedBoard,
        }
    }

    /// The size that the piece will have, which may differ from the size wanted.
    pub fn finished(&self, practice: &Practice) -> Size {
        self.work().finished(practice)
    }

    /// Each species once, in the order of first appearance.
    pub fn species(&self) -> Vec<&str> {
        let mut seen = Vec::new();
        for (_, species) in self.work().species() {
            if !seen.contains(&species) {
                seen.push(species);
            }
        }
        seen
    }

    fn work(&self) -> &dyn Work {
        match self {
            Design::StripedBoard(board) => board,
        }
    }
}

/// What the design asks of wood and shop, or everything that keeps it from being made.
///
/// `woods` are the figures of all species that the workshop knows.
pub fn needs(
    design: &Design,
    practice: &Practice,
    shop: &Shop,
    woods: &[Wood],
) -> Result<Needs, Vec<Flaw>> {
    let work = design.work();
    let mut flaws = work.flaws(practice, shop);
    for (place, species) in work.species() {
        if woods.iter().all(|wood| wood.species != species) {
            let about = if species.is_empty() {
                say!["is empty; must be the name of a species"]
            } else {
                say![format!(
                    "is \"{species}\"; must be a species that the workshop knows"
                )]
            };
            flaws.push(Flaw { place, about });
        }
    }
    if flaws.is_empty() {
        Ok(work.needs(practice, shop, woods))
    } else {
        Err(flaws)
    }
}

/// A good first design of a kind, which a member then changes.
pub fn default_design(kind: Kind) -> Design {
    let inches = Length::from_inches;
    match kind {
        Kind::StripedBoard => {
            let strip = |species| BoardStrip::new(species, inches(3, 4));
            Design::StripedBoard(StripedBoard {
                length: inches(17, 1),
                width: inches(39, 4),
                thickness: inches(3, 2),
                surface: Surface::EdgeGrain,
                arrangement: fill(&[strip("hard maple"), strip("black walnut")], inches(39, 4)),
                extras: Extras {
                    edge: EdgeTreatment::RoundOver {
                        radius: inches(1, 8),
                    },
                    ..Extras::default()
                },
            })
        }
    }
}
