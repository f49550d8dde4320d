//! What a member wants to make: one of the kinds, with its sizes.

use super::blank::Blank;
use super::end_grain_board::{EndGrainBoard, Turn};
use super::extras::{EdgeTreatment, Extras};
use super::handle_board::{HandleBoard, Hole};
use super::needs::{Flaw, Needs, Size, Wood};
use super::practice::Practice;
use super::round_tray::RoundTray;
use super::striped_board::{StripedBoard, Surface};
use crate::calc::matching::Shop;
use crate::calc::pattern::{BoardStrip, fill};
use crate::units::{Length, say};

/// The design of one project.
#[derive(Clone, Debug, PartialEq)]
pub enum Design {
    StripedBoard(StripedBoard),
    EndGrainBoard(EndGrainBoard),
    HandleBoard(HandleBoard),
    RoundTray(RoundTray),
}

/// What a design is a design of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    StripedBoard,
    EndGrainBoard,
    HandleBoard,
    RoundTray,
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
    pub const ALL: [Kind; 4] = [
        Kind::StripedBoard,
        Kind::EndGrainBoard,
        Kind::HandleBoard,
        Kind::RoundTray,
    ];

    /// The word for it in addresses and in JSON.
    pub fn slug(self) -> &'static str {
        match self {
            Kind::StripedBoard => "striped-board",
            Kind::EndGrainBoard => "end-grain-board",
            Kind::HandleBoard => "handle-board",
            Kind::RoundTray => "round-tray",
        }
    }

    pub fn title(self) -> &'static str {
        match self {
            Kind::StripedBoard => "Striped board",
            Kind::EndGrainBoard => "End-grain board",
            Kind::HandleBoard => "Board with a handle",
            Kind::RoundTray => "Round tray with a rim",
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
            Design::EndGrainBoard(_) => Kind::EndGrainBoard,
            Design::HandleBoard(_) => Kind::HandleBoard,
            Design::RoundTray(_) => Kind::RoundTray,
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

    /// Groove, grips, feet and the like, for the kinds that may have them.
    pub fn extras(&self) -> Option<&Extras> {
        match self {
            Design::StripedBoard(board) => Some(&board.extras),
            Design::EndGrainBoard(board) => Some(&board.extras),
            Design::HandleBoard(_) | Design::RoundTray(_) => None,
        }
    }

    fn work(&self) -> &dyn Work {
        match self {
            Design::StripedBoard(board) => board,
            Design::EndGrainBoard(board) => board,
            Design::HandleBoard(board) => board,
            Design::RoundTray(tray) => tray,
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
    let strip = |species: &str, width| BoardStrip::new(species, width);
    let pair = |width| [strip("hard maple", width), strip("black walnut", width)];
    let edge = EdgeTreatment::RoundOver {
        radius: inches(1, 8),
    };
    let extras = Extras {
        edge,
        ..Extras::default()
    };
    match kind {
        Kind::StripedBoard => Design::StripedBoard(StripedBoard {
            length: inches(17, 1),
            width: inches(39, 4),
            thickness: inches(3, 2),
            surface: Surface::EdgeGrain,
            arrangement: fill(&pair(inches(3, 4)), inches(39, 4)),
            extras,
        }),
        Kind::EndGrainBoard => Design::EndGrainBoard(EndGrainBoard {
            length: inches(15, 1),
            thickness: inches(3, 2),
            arrangement: fill(&pair(inches(3, 2)), inches(9, 1)),
            surface: Surface::Either,
            panel_thickness: inches(3, 2),
            slices: 10,
            turn: Turn::Flip,
            extras,
        }),
        Kind::HandleBoard => Design::HandleBoard(HandleBoard {
            body_length: inches(12, 1),
            body_width: inches(7, 1),
            thickness: inches(3, 4),
            handle_length: inches(5, 1),
            handle_width: inches(7, 4),
            slant_degrees: 0.0,
            corner_radius: inches(1, 1),
            throat_radius: inches(3, 4),
            tip_radius: inches(7, 8),
            hole: Some(Hole {
                diameter: inches(1, 2),
                from_tip: inches(7, 8),
            }),
            relief_drill: None,
            edge,
            blank: Blank::OnePiece {
                species: "black cherry".to_owned(),
            },
        }),
        Kind::RoundTray => {
            let boards = || Blank::Glued {
                surface: Surface::FaceGrain,
                arrangement: fill(&[strip("hard maple", inches(29, 4))], inches(29, 2)),
            };
            Design::RoundTray(RoundTray {
                diameter: inches(14, 1),
                rim: inches(1, 2),
                base_thickness: inches(3, 4),
                ring_thickness: inches(3, 4),
                bit: inches(1, 4),
                edge,
                base: boards(),
                ring: boards(),
            })
        }
    }
}
