//! What a member wants to make: one of the kinds, with its sizes.

use super::end_grain_board::{self, EndGrainBoard};
use super::extras::{EdgeTreatment, Extras};
use super::handle_board::{self, HandleBoard};
use super::needs::{Flaw, Needs, Size, Wood};
use super::practice::Practice;
use super::round_tray::{self, RoundTray};
use super::striped_board::{self, StripedBoard};
use crate::calc::matching::Shop;
use crate::calc::pattern::Arrangement;
use crate::calc::wood::ServedAs;
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

/// What a kind is called and is for.
pub(super) struct KindRow {
    /// The word for it in addresses and in JSON.
    pub slug: &'static str,
    pub title: &'static str,
    /// In a sentence, for those who choose.
    pub about: &'static str,
    pub served_as: ServedAs,
    /// A good first design, which a member then changes.
    pub usual: fn() -> Design,
}

/// What each kind of project knows how to do. A further kind is one file with this implemented and a
/// [`KindRow`], one variant in [`Design`] and one in [`Kind`].
pub(super) trait Work {
    /// The size that the piece will have, which may differ from the size wanted.
    fn finished(&self, practice: &Practice) -> Size;

    /// Everything that cannot be made as it stands; the species are checked elsewhere.
    fn flaws(&self, practice: &Practice, shop: &Shop) -> Vec<Flaw>;

    /// The species used, each with its place in the design.
    fn species(&self) -> Vec<(Vec<String>, &str)>;

    /// Called only for a design without flaws whose species are all known.
    fn needs(&self, practice: &Practice, shop: &Shop, woods: &[Wood]) -> Needs;

    /// What is flattened once it is glued, each part with the thickness that it gets.
    fn flattened(&self) -> Vec<(&'static str, Length)>;

    fn edge(&self) -> EdgeTreatment;

    /// The strips that make its look, for kinds whose order the bins may choose.
    fn arrangement(&self) -> Option<&Arrangement> {
        None
    }

    /// The same strips, to be exchanged.
    fn arrangement_mut(&mut self) -> Option<&mut Arrangement> {
        None
    }

    /// Groove, grips, feet and the like, for the kinds that may have them.
    fn extras(&self) -> Option<&Extras> {
        None
    }
}

impl Kind {
    pub const ALL: [Kind; 4] = [
        Kind::StripedBoard,
        Kind::EndGrainBoard,
        Kind::HandleBoard,
        Kind::RoundTray,
    ];

    fn row(self) -> &'static KindRow {
        match self {
            Kind::StripedBoard => &striped_board::KIND,
            Kind::EndGrainBoard => &end_grain_board::KIND,
            Kind::HandleBoard => &handle_board::KIND,
            Kind::RoundTray => &round_tray::KIND,
        }
    }

    /// The word for it in addresses and in JSON.
    pub fn slug(self) -> &'static str {
        self.row().slug
    }

    pub fn title(self) -> &'static str {
        self.row().title
    }

    /// What it is, in a sentence.
    pub fn about(self) -> &'static str {
        self.row().about
    }

    pub fn served_as(self) -> ServedAs {
        self.row().served_as
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

    /// What is flattened once it is glued, each part with the thickness that it gets.
    pub fn flattened(&self) -> Vec<(&'static str, Length)> {
        self.work().flattened()
    }

    pub fn edge(&self) -> EdgeTreatment {
        self.work().edge()
    }

    /// The strips that make its look, for kinds whose order the bins may choose.
    pub fn arrangement(&self) -> Option<&Arrangement> {
        self.work().arrangement()
    }

    /// The design with other strips; `None` for kinds without an arrangement.
    pub fn with_arrangement(&self, arrangement: Arrangement) -> Option<Design> {
        let mut design = self.clone();
        *design.work_mut().arrangement_mut()? = arrangement;
        Some(design)
    }

    /// Groove, grips, feet and the like, for the kinds that may have them.
    pub fn extras(&self) -> Option<&Extras> {
        self.work().extras()
    }

    fn work(&self) -> &dyn Work {
        match self {
            Design::StripedBoard(board) => board,
            Design::EndGrainBoard(board) => board,
            Design::HandleBoard(board) => board,
            Design::RoundTray(tray) => tray,
        }
    }

    fn work_mut(&mut self) -> &mut dyn Work {
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
    (kind.row().usual)()
}
