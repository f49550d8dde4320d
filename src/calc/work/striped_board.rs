//! A board glued up from strips side by side, grain along its length.
//!
//! On an edge-grain board the strips stand on edge and are glued face to face: what is ripped is the
//! board's thickness, and the stock's thickness is the strip's width in the board. On a face-grain
//! board they lie flat: what is ripped is the strip's width, and the stock's thickness is the
//! board's. Where the member does not mind, a strip may be had either way.

use super::blank::sections;
use super::design::{Design, Kind, KindRow, Work};
use super::extras::{EdgeTreatment, Extras};
use super::finish::add_finish;
use super::food::food_warnings;
use super::glue_up::{add_glued, flatten};
use super::limits::{arrangement_flaws, machine_warnings, within};
use super::needs::{
    Alternative, Change, Flaw, Needs, PanelPart, Piece, Size, Warning, WarningKind, Wood, gather,
};
use super::panel::{Glued, assembly_warning};
use super::practice::Practice;
use super::step::{Amount, StepKind, Steps, step};
use super::wood::{softest, weight};
use crate::calc::matching::{Section, Shop};
use crate::calc::pattern::{Arrangement, BoardStrip, fill};
use crate::calc::wood::ServedAs;
use crate::units::{Area, Length, Part, Sentence, Volume, say};

/// Which face of the wood is cut on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Surface {
    #[default]
    EdgeGrain,
    FaceGrain,
    Either,
}

/// A striped board; finished sizes.
///
/// # Worked example
/// A board 17 in long and 1 1/2 in thick on edge, 10 in wide from 3/4 in strips (allowances are common
/// practice). Width: 10 / 0.75 = 13.33, so 13 strips make it 9 3/4 in and 14 make it 10 1/2 in. Each strip is cut 17 + 1/2
/// = 17 1/2 in long and ripped 1 1/2 + 2 x 1/16 = 1 5/8 in wide from stock 3/4 in thick. Thirteen strips have
/// 12 glue lines of 17 1/2 x 1 5/8 in. Finished 17 x 9 3/4 x 1 1/2 in = 248.6 in^3 = 1.73 board feet; as cut 17 1/2 x
/// 9 3/4 x 1 5/8 in = 1.93 board feet. Flattening at 20 minutes for 18 x 10 in: 2 x 20 x 170.6 / 180 = 37.9, planned as
/// 40 minutes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StripedBoard {
    pub length: Length,
    /// As wanted. What the board really measures follows from its strips.
    pub width: Length,
    pub thickness: Length,
    pub surface: Surface,
    pub arrangement: Arrangement,
    pub extras: Extras,
}

pub(super) const KIND: KindRow = KindRow {
    slug: "striped-board",
    title: "Striped board",
    about: "Strips of two or more woods glued side by side. A good first project.",
    served_as: ServedAs::CuttingSurface,
    usual,
};

/// Maple and walnut in turns, on edge.
fn usual() -> Design {
    let inches = Length::from_inches;
    let pair = ["hard maple", "black walnut"].map(|species| BoardStrip::new(species, inches(3, 4)));
    Design::StripedBoard(StripedBoard {
        length: inches(17, 1),
        width: inches(39, 4),
        thickness: inches(3, 2),
        surface: Surface::EdgeGrain,
        arrangement: fill(&pair, inches(39, 4)),
        extras: Extras::rounded(),
    })
}

/// Sizes beyond these are slips of the finger: a board is 4 in to 60 in long, 2 in to 36 in wide and
/// 3/8 in to 4 in thick.
const LENGTHS: (Length, Length) = (Length::from_inches(4, 1), Length::from_inches(60, 1));
const WIDTHS: (Length, Length) = (Length::from_inches(2, 1), Length::from_inches(36, 1));
const THICKNESSES: (Length, Length) = (Length::from_inches(3, 8), Length::from_inches(4, 1));
/// Dressed widths of nominal 1x2, 1x3 and 1x4, and the dressed thickness of nominal 1 in
/// (American Softwood Lumber Standard PS 20).
const DRESSED_WIDTHS: [Length; 3] = [
    Length::from_inches(3, 2),
    Length::from_inches(5, 2),
    Length::from_inches(7, 2),
];
const DRESSED_THICKNESS: Length = Length::from_inches(3, 4);

impl StripedBoard {
    /// The sections a strip of this width may have, before gluing; the first is the one preferred.
    pub fn sections(&self, strip_width: Length, practice: &Practice) -> Vec<Section> {
        sections(self.surface, strip_width, self.thickness, practice)
    }

    /// How wide the board is after its sides are squared.
    pub fn actual_width(&self, practice: &Practice) -> Length {
        self.arrangement.width() - practice.allowances.squaring * 2
    }

    /// The two numbers of equal strips around a wanted width, each with the width that it gives; one
    /// where the width is met exactly.
    ///
    /// Check (common practice): 10 in from 3/4 in strips asks 13.33, so 13 strips give 9 3/4 in and
    /// 14 give 10 1/2 in.
    pub fn strip_counts(
        width: Length,
        strip_width: Length,
        practice: &Practice,
    ) -> Vec<(usize, Length)> {
        if !strip_width.is_positive() || !width.is_positive() {
            return Vec::new();
        }
        let lost = practice.allowances.squaring * 2;
        let fewer = (width + lost).nm() / strip_width.nm();
        let wide = |strips: i64| strip_width * strips - lost;
        let counts = if wide(fewer) == width {
            vec![fewer]
        } else {
            vec![fewer, fewer + 1]
        };
        counts
            .into_iter()
            .filter(|&strips| strips > 0 && wide(strips).is_positive())
            .map(|strips| (strips as usize, wide(strips)))
            .collect()
    }

    /// The width that all strips share, if they do.
    fn one_strip_width(&self) -> Option<Length> {
        let first = self.arrangement.strips.first()?.width;
        self.arrangement
            .strips
            .iter()
            .all(|strip| strip.width == first)
            .then_some(first)
    }

    fn size(&self, practice: &Practice) -> Size {
        Size {
            length: self.length,
            width: self.actual_width(practice),
            thickness: self.thickness,
        }
    }

    fn width_alternatives(&self, practice: &Practice) -> (Vec<Warning>, Vec<Alternative>) {
        let actual = self.actual_width(practice);
        if actual == self.width {
            return (Vec::new(), Vec::new());
        }
        let counts = self.one_strip_width().map(|strip| {
            (
                strip,
                StripedBoard::strip_counts(self.width, strip, practice),
            )
        });
        let (cure, alternatives) = match counts {
            None => (
                say![
                    "Add, remove or change strips until they are ",
                    self.width,
                    " together."
                ],
                Vec::new(),
            ),
            Some((strip, counts)) => {
                let exact = (self.width + practice.allowances.squaring * 2).mm() / strip.mm();
                let mut parts: Vec<Part> = vec![
                    format!("The width asks {exact:.2} strips of ").into(),
                    strip.into(),
                ];
                for (place, (strips, width)) in counts.iter().enumerate() {
                    parts.push(if place == 0 { ": ".into() } else { ", ".into() });
                    parts.push(format!("{strips} give ").into());
                    parts.push((*width).into());
                }
                parts.push(".".into());
                let alternatives = counts
                    .into_iter()
                    .filter(|(_, width)| *width != actual)
                    .map(|(strips, width)| Alternative {
                        change: Change::StripCount { strips, width },
                        about: say![strips, " strips of ", strip, " make it ", width, " wide."],
                    })
                    .collect();
                (Sentence::of(parts), alternatives)
            }
        };
        let about = say![
            "The strips make the board ",
            actual,
            " wide; ",
            self.width,
            " was wanted."
        ];
        (
            vec![Warning {
                kind: WarningKind::Size,
                about,
                cure,
            }],
            alternatives,
        )
    }

    /// A slightly thinner board lets dressed pieces go in as they are.
    fn dressed_alternative(&self, practice: &Practice) -> Option<Alternative> {
        let needed = self.thickness + practice.allowances.flattening * 2;
        let dressed = match self.surface {
            Surface::EdgeGrain | Surface::Either => DRESSED_WIDTHS
                .into_iter()
                .find(|dressed| *dressed >= self.thickness)?,
            Surface::FaceGrain => DRESSED_THICKNESS,
        };
        let thickness = dressed - practice.allowances.flattening * 2;
        let close = needed > dressed && self.thickness <= dressed;
        (close && thickness >= THICKNESSES.0).then(|| Alternative {
            change: Change::Thickness(thickness),
            about: say![
                "At ",
                thickness,
                " thick, pieces dressed to ",
                dressed,
                " go in as they are; now they are too thin once flattened.",
            ],
        })
    }
}

impl Work for StripedBoard {
    fn flattened(&self) -> Vec<(&'static str, Length)> {
        vec![("board", self.thickness)]
    }

    fn arrangement(&self) -> Option<&Arrangement> {
        Some(&self.arrangement)
    }

    fn arrangement_mut(&mut self) -> Option<&mut Arrangement> {
        Some(&mut self.arrangement)
    }

    fn extras(&self) -> Option<&Extras> {
        Some(&self.extras)
    }

    fn edge(&self) -> EdgeTreatment {
        self.extras.edge
    }

    fn finished(&self, practice: &Practice) -> Size {
        self.size(practice)
    }

    fn species(&self) -> Vec<(Vec<String>, &str)> {
        let strips = self.arrangement.strips.iter().enumerate();
        strips
            .map(|(place, strip)| {
                let place = vec!["strips".to_owned(), place.to_string(), "species".to_owned()];
                (place, strip.species.as_str())
            })
            .collect()
    }

    fn flaws(&self, practice: &Practice, _shop: &Shop) -> Vec<Flaw> {
        let mut flaws: Vec<Flaw> = [
            within(&["length"], self.length, LENGTHS),
            within(&["width"], self.width, WIDTHS),
            within(&["thickness"], self.thickness, THICKNESSES),
        ]
        .into_iter()
        .flatten()
        .collect();
        flaws.extend(arrangement_flaws(&[], &self.arrangement));
        if flaws.is_empty() {
            let actual = self.actual_width(practice);
            if actual < WIDTHS.0 || actual > WIDTHS.1 {
                let about = say![
                    "make the board ",
                    actual,
                    " wide; must make it from ",
                    WIDTHS.0,
                    " to ",
                    WIDTHS.1,
                ];
                flaws.push(Flaw::at(&["strips"], about));
            } else {
                flaws.extend(self.extras.flaws(self.size(practice)));
            }
        }
        flaws
    }

    fn needs(&self, practice: &Practice, shop: &Shop, woods: &[Wood]) -> Needs {
        let finished = self.size(practice);
        let allowances = &practice.allowances;
        let rough = Size {
            length: self.length + allowances.rough_length,
            width: self.arrangement.width(),
            thickness: self.thickness + allowances.flattening * 2,
        };
        let widths: Vec<Length> = self
            .arrangement
            .strips
            .iter()
            .map(|strip| strip.width)
            .collect();
        let glued = Glued {
            name: "board",
            suffix: "",
            length: rough.length,
            height: rough.thickness,
            widths,
            first_part: PanelPart::Piece(0),
            first_panel: 0,
        };
        let plan = glued.plan(softest(self.arrangement.species(), woods), practice);

        let whole = Volume::of(self.length, rough.width, self.thickness).mm3();
        let kept = (finished.volume() - self.extras.removed(finished)).mm3() / whole;
        let pieces: Vec<Piece> = self
            .arrangement
            .strips
            .iter()
            .enumerate()
            .map(|(place, strip)| Piece {
                label: format!("strip {}", place + 1),
                species: strip.species.clone(),
                length: rough.length,
                sections: self.sections(strip.width, practice),
                panel: plan.panel_of(place),
                width: strip.width,
                finished: Volume::from_mm3(
                    Volume::of(self.length, strip.width, self.thickness).mm3() * kept,
                ),
            })
            .collect();
        let (strips, places, wood) = gather(&pieces);

        let (mut warnings, mut alternatives) = self.width_alternatives(practice);
        alternatives.extend(self.dressed_alternative(practice));
        warnings.extend(food_warnings(&wood, KIND.served_as, woods));
        warnings.extend(assembly_warning(&plan, practice));
        warnings.extend(machine_warnings(rough, &plan, practice, shop));
        warnings.extend(self.extras.warnings(finished));

        let mut steps = Steps::default();
        let mill = steps.start(step(StepKind::Mill, Amount::Pieces(pieces.len()), practice));
        add_glued(&mut steps, &plan, &[mill], practice);
        let faces = Area::of(rough.length, rough.width) * 2;
        steps.next(flatten(
            StepKind::Flatten,
            &[(rough.length, rough.width)],
            practice,
        ));
        steps.next(step(StepKind::Square, Amount::Job, practice));
        self.extras.add_steps(&mut steps, practice);
        steps.next(step(
            StepKind::RoundOverAndSand,
            Amount::Faces(faces),
            practice,
        ));
        add_finish(
            &mut steps,
            practice.finish.coats,
            self.extras.feet > 0,
            practice,
        );

        Needs {
            kind: Kind::StripedBoard,
            finished,
            rough,
            weight: weight(&wood, woods),
            strips,
            places,
            panels: plan.panels(),
            steps: steps.list,
            wood,
            coats: practice.finish.coats,
            leftovers: Vec::new(),
            warnings,
            alternatives,
        }
    }
}
