//! How the piece moves between the dry and the damp season.

use super::circumstances::Circumstances;
use super::concern::{Concern, ConcernKind};
use crate::calc::wood::{
    CrossGrain, GrowthRings, Run, Side, Strip, board_movement, change, coefficient, mismatch,
};
use crate::calc::work::{Kind, Needs, Panel, PanelPart};
use crate::units::{Between, Length, Moisture, Part, Sentence, say};

/// Expected movement of one panel from the dry to the damp season. Where it is not known how the rings of a strip lie,
/// because its piece is not picked yet or nobody looked, figures are ranges.
#[derive(Clone, Debug, PartialEq)]
pub struct MovementAdvice {
    pub panel: String,
    pub dry: Moisture,
    pub damp: Moisture,
    pub width: Between<Length>,
    /// Across the rows of an end-grain board, whose length runs across the grain too.
    pub length: Option<Between<Length>>,
    /// The largest ridge at a glue line between unlike woods.
    pub ridge: Length,
    /// Of its strips so many are known to be flat- or quarter-sawn, of so many.
    pub known_rings: (usize, usize),
}

/// What a cross piece at the end of a panel, or an inlay across it, would hold back if it were glued over the whole
/// width: its own grain hardly moves.
#[derive(Clone, Debug, PartialEq)]
pub struct CrossPieces {
    pub panel: String,
    pub crossed: CrossGrain,
}

impl CrossPieces {
    /// Of one that is glued solid over the longest joint that the workshop allows.
    pub fn over_the_longest(&self) -> Length {
        let share = self.crossed.longest.mm() / self.crossed.joint.mm();
        Length::from_mm_rounded(self.crossed.mismatch.high.mm() * share.min(1.0))
    }
}

/// What a tray's ring does to the disc that it is glued on.
#[derive(Clone, Debug, PartialEq)]
pub struct RingOnDisc {
    /// Grain along grain.
    pub lined_up: Between<Length>,
    /// Grain across grain.
    pub crossed: CrossGrain,
}

/// The moistures of the two seasons, if their air is one that can be reckoned with.
fn seasons(circumstances: &Circumstances) -> Option<(Moisture, Moisture)> {
    Some((
        circumstances.dry_season.air.settles_at()?,
        circumstances.damp_season.air.settles_at()?,
    ))
}

/// Movement of every panel that is not part of another and of every piece that is in none, with a
/// concern for each that lacks a figure.
pub(super) fn panel_movements(
    needs: &Needs,
    circumstances: &Circumstances,
) -> (Vec<MovementAdvice>, Vec<Concern>) {
    let Some((dry, damp)) = seasons(circumstances) else {
        return (Vec::new(), Vec::new());
    };
    let mut boards: Vec<(&str, Vec<usize>)> = (0..needs.panels.len())
        .filter(|&place| !is_joined_later(needs, place))
        .filter_map(|place| {
            let panel = &needs.panels[place];
            Some((panel.name.as_str(), pieces_of(needs, panel)?))
        })
        .collect();
    for (piece, place) in needs.places.iter().enumerate() {
        if boards.iter().all(|(_, pieces)| !pieces.contains(&piece)) {
            boards.push((place.label.as_str(), vec![piece]));
        }
    }
    let length = across_rows(needs, circumstances, dry, damp);
    let mut advice = Vec::new();
    let mut concerns = Vec::new();
    for (name, pieces) in boards {
        let strips: Vec<Strip> = pieces
            .iter()
            .filter_map(|&place| {
                let piece = needs.places.get(place)?;
                Some(Strip {
                    // A blank is wider than what is cut out of it.
                    width: piece.width.min(needs.finished.width),
                    wood: circumstances.wood(&piece.species)?.figures,
                    rings: circumstances.rings(place),
                })
            })
            .collect();
        match board_movement(&strips, needs.finished.thickness, dry, damp) {
            Ok(board) => advice.push(MovementAdvice {
                panel: name.to_owned(),
                dry,
                damp,
                width: board.width,
                length,
                ridge: board.ridges.into_iter().max().unwrap_or(Length::ZERO),
                known_rings: (
                    strips
                        .iter()
                        .filter(|strip| strip.rings != GrowthRings::Unknown)
                        .count(),
                    strips.len(),
                ),
            }),
            Err((strip, error)) => {
                let species = pieces
                    .get(strip)
                    .and_then(|&piece| needs.places.get(piece))
                    .map_or("a wood", |piece| piece.species.as_str());
                concerns.push(Concern::new(
                    ConcernKind::Movement,
                    say![format!(
                        "{species} {error}, so the movement of the {name} is not known."
                    )],
                    say!["Enter a figure for the wood, or reckon with that of a like one."],
                ));
            }
        }
    }
    (advice, concerns)
}

/// Cross pieces and inlays across each panel that is glued to no other.
pub(super) fn cross_pieces(
    needs: &Needs,
    movement: &[MovementAdvice],
    longest: Length,
) -> Vec<CrossPieces> {
    if needs.kind == Kind::RoundTray {
        return Vec::new();
    }
    let crossed = movement.iter().map(|panel| CrossPieces {
        panel: panel.panel.clone(),
        crossed: CrossGrain {
            joint: needs.finished.width,
            mismatch: Between {
                low: panel.width.low.abs().min(panel.width.high.abs()),
                high: panel.width.low.abs().max(panel.width.high.abs()),
            },
            longest,
        },
    });
    crossed.collect()
}

/// The ring of a tray on its disc, with a concern about crossed grain.
pub(super) fn ring_on_disc(
    needs: &Needs,
    longest: Length,
    circumstances: &Circumstances,
) -> Option<(RingOnDisc, Concern)> {
    if needs.kind != Kind::RoundTray {
        return None;
    }
    let (dry, damp) = seasons(circumstances)?;
    let (tray, blanks) = needs.panels.split_last()?;
    let [base, ring] = tray.parts.as_slice() else {
        return None;
    };
    let base = widest_mover(needs, blanks, *base, circumstances)?;
    let ring = widest_mover(needs, blanks, *ring, circumstances)?;
    let turned = Side {
        run: Run::Along,
        ..ring
    };
    let diameter = tray.length;
    let lined_up = mismatch(diameter, &base, &ring, dry, damp).ok()?;
    let crossed = mismatch(diameter, &base, &turned, dry, damp).ok()?;
    let ring = RingOnDisc {
        lined_up,
        crossed: CrossGrain {
            joint: diameter,
            mismatch: crossed,
            longest,
        },
    };
    let limit: Vec<Part> = if ring.crossed.is_too_long() {
        vec![
            "; the joint is ".into(),
            diameter.into(),
            " long, and the workshop glues at most ".into(),
            longest.into(),
            " solid across the grain.".into(),
        ]
    } else {
        vec![".".into()]
    };
    let mut about: Vec<Part> = vec![
        "With its grain across the base's the ring would hold back up to ".into(),
        format!("{:.1} mm", crossed.high.mm()).into(),
        " of movement from dry to damp season; with the grain lined up, up to ".into(),
        format!("{:.1} mm", lined_up.high.mm()).into(),
    ];
    about.extend(limit);
    let concern = Concern::new(
        ConcernKind::Movement,
        Sentence::of(about),
        say!["Glue the ring with grain and seams lined up with those of the base."],
    );
    Some((ring, concern))
}

/// The piece of a part that moves most, across its grain.
fn widest_mover(
    needs: &Needs,
    panels: &[Panel],
    part: PanelPart,
    circumstances: &Circumstances,
) -> Option<Side> {
    let pieces = match part {
        PanelPart::Piece(piece) => vec![piece],
        PanelPart::Panel(panel) => pieces_of(needs, panels.get(panel)?)?,
        PanelPart::Slice(_) => return None,
    };
    let sides = pieces.iter().filter_map(|&piece| {
        let wood = circumstances
            .wood(&needs.places.get(piece)?.species)?
            .figures;
        let rings = circumstances.rings(piece);
        let directions = rings.across_width().iter();
        let most = directions
            .filter_map(|direction| coefficient(&wood, *direction))
            .max_by(f64::total_cmp)?;
        let run = Run::Across(rings);
        Some((most, Side { wood, run }))
    });
    sides
        .max_by(|one, other| one.0.total_cmp(&other.0))
        .map(|(_, side)| side)
}

/// Whether the panel becomes part of a wider one; a tray's blanks do not, they lie on each other.
fn is_joined_later(needs: &Needs, place: usize) -> bool {
    needs.panels.iter().enumerate().any(|(later, panel)| {
        let is_tray = needs.kind == Kind::RoundTray && later + 1 == needs.panels.len();
        !is_tray && panel.parts.contains(&PanelPart::Panel(place))
    })
}

/// The pieces of a panel from one side to the other; `None` for slices and for discs on each other.
fn pieces_of(needs: &Needs, panel: &Panel) -> Option<Vec<usize>> {
    let is_tray = needs.kind == Kind::RoundTray
        && needs
            .panels
            .last()
            .is_some_and(|last| std::ptr::eq(last, panel));
    if is_tray {
        return None;
    }
    let mut pieces = Vec::new();
    for part in &panel.parts {
        match part {
            PanelPart::Piece(piece) => pieces.push(*piece),
            PanelPart::Panel(inner) => pieces.extend(pieces_of(needs, needs.panels.get(*inner)?)?),
            PanelPart::Slice(_) => return None,
        }
    }
    Some(pieces)
}

fn across_rows(
    needs: &Needs,
    circumstances: &Circumstances,
    dry: Moisture,
    damp: Moisture,
) -> Option<Between<Length>> {
    if needs.kind != Kind::EndGrainBoard {
        return None;
    }
    let mut changes: Vec<Length> = Vec::new();
    for (place, piece) in needs.places.iter().enumerate() {
        let wood = circumstances.wood(&piece.species)?;
        // The slices stand on end, so the first panel's thickness runs along the board.
        for direction in circumstances.rings(place).through_thickness() {
            let length = needs.finished.length;
            changes.push(change(length, &wood.figures, *direction, dry, damp).ok()?);
        }
    }
    Some(Between {
        low: changes.iter().copied().min()?,
        high: changes.iter().copied().max()?,
    })
}
