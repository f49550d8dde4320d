//! An end-grain board: a striped panel is glued, crosscut into slices, and the slices are turned onto
//! their cut faces and glued again.
//!
//! Each slice becomes one row of the board: as long as the panel was wide, as wide as the panel was thick, and as
//! thick as the slice was cut. With every second row turned end for end, or shifted by one strip,
//! neighbouring rows differ, and the board is a checkerboard where each strip is as wide as the panel is thick.

use super::blank::{Blank, BlankAsk};
use super::design::{Design, Kind, KindRow, Work};
use super::extras::{EdgeTreatment, Extras};
use super::finish::add_finish;
use super::food::food_warnings;
use super::glue_up::{add_glued, flatten};
use super::limits::{arrangement_flaws, machine_warnings, within};
use super::needs::{
    Alternative, Change, Flaw, Leftover, Needs, PanelPart, Size, Warning, WarningKind, Wood, gather,
};
use super::panel::{Glued, assembly_warning};
use super::practice::Practice;
use super::step::{Amount, StepKind, Steps, after, step};
use super::striped_board::Surface;
use super::wood::{softest, weight};
use crate::calc::matching::Shop;
use crate::calc::pattern::{Arrangement, BoardStrip, fill};
use crate::calc::wood::ServedAs;
use crate::units::{Area, Length, Volume, say};

/// What is done to every second slice before the second glue-up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Turn {
    /// Nothing: the strips run on as stripes.
    Plain,
    /// Turned end for end.
    #[default]
    Flip,
    /// Shifted by the width of the first strip; what stands over is trimmed off both sides.
    Shift,
}

/// An end-grain board; finished sizes.
///
/// # Worked example
/// A checkerboard 15 x 9 in and 1 1/2 in thick, of six 1 1/2 in strips and ten slices of a panel 1 1/2 in thick
/// (allowances are common practice). Each slice is cut 1 1/2 + 2 x 1/16 = 1 5/8 in; the panel is 10 x 1 5/8 + 10 x 1/8
/// (kerfs) + 2 x 1 (end pieces) = 19 1/2 in long and 9 in wide. Every second slice is turned end for end: with six
/// alternating strips it then begins with the other wood. The first glue-up has 5 lines of 19 1/2 in, the second 9
/// lines of 9 in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EndGrainBoard {
    /// Across the rows, as wanted. What the board really measures follows from its slices.
    pub length: Length,
    /// Of the board: the height of its end grain.
    pub thickness: Length,
    /// The strips of the first panel. Their width together is the board's width.
    pub arrangement: Arrangement,
    /// How the strips of the first panel may be cut from their pieces.
    pub surface: Surface,
    /// Of the first panel once it is flat: the width of a row.
    pub panel_thickness: Length,
    pub slices: u32,
    pub turn: Turn,
    pub extras: Extras,
}

pub(super) const KIND: KindRow = KindRow {
    slug: "end-grain-board",
    title: "End-grain board",
    about: "A checkerboard of end grain that is kind to knives. Glued twice, so give it time.",
    served_as: ServedAs::CuttingSurface,
    usual,
};

/// A checkerboard of maple and walnut.
fn usual() -> Design {
    let inches = Length::from_inches;
    let pair = ["hard maple", "black walnut"].map(|species| BoardStrip::new(species, inches(3, 2)));
    Design::EndGrainBoard(EndGrainBoard {
        length: inches(15, 1),
        thickness: inches(3, 2),
        arrangement: fill(&pair, inches(9, 1)),
        surface: Surface::Either,
        panel_thickness: inches(3, 2),
        slices: 10,
        turn: Turn::Flip,
        extras: Extras::rounded(),
    })
}

/// Sizes beyond these are slips of the finger.
const LENGTHS: (Length, Length) = (Length::from_inches(3, 1), Length::from_inches(48, 1));
const WIDTHS: (Length, Length) = (Length::from_inches(2, 1), Length::from_inches(30, 1));
const THICKNESSES: (Length, Length) = (Length::from_inches(1, 2), Length::from_inches(5, 1));
const PANEL_THICKNESSES: (Length, Length) = (Length::from_inches(3, 8), Length::from_inches(4, 1));
const MOST_SLICES: u32 = 100;
/// End grain thinner than this breaks along the grain when dropped. Common practice.
const ENOUGH_THICKNESS: Length = Length::from_inches(1, 1);

/// Both glue-ups in numbers, for drawings and the bench sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EndGrainLayout {
    /// As cut.
    pub panel_length: Length,
    pub panel_width: Length,
    /// As cut: the finished board and both end faces' allowance.
    pub slice_thickness: Length,
    /// Lost to all cuts between and after the slices.
    pub kerfs: Length,
    /// Left of the panel at either end.
    pub end_piece: Length,
    /// Trimmed off either side of the board, where rows are shifted.
    pub trimmed: Length,
    /// For each row its strips from left to right, as numbers of strips of the panel, with the width that
    /// shows in the finished board.
    pub rows: Vec<Vec<(usize, Length)>>,
    /// Every cell is as wide as its row.
    pub is_square: bool,
    /// Rows and neighbours differ everywhere.
    pub is_checker: bool,
}

impl EndGrainBoard {
    pub fn layout(&self, practice: &Practice, shop: &Shop) -> EndGrainLayout {
        let allowances = &practice.allowances;
        let slices = i64::from(self.slices);
        let slice_thickness = self.thickness + allowances.end_grain * 2;
        // The last slice is cut free from the end piece too: as many kerfs as slices.
        let kerfs = shop.crosscut_kerf * slices;
        let strips = &self.arrangement.strips;
        let shift = match (self.turn, strips.first()) {
            (Turn::Shift, Some(first)) => first.width,
            _ => Length::ZERO,
        };
        let rows: Vec<Vec<(usize, Length)>> = (0..self.slices as usize)
            .map(|row| self.row(row, shift))
            .collect();
        let differ = |left: usize, right: usize| strips[left].species != strips[right].species;
        let is_checker = rows
            .iter()
            .all(|row| row.windows(2).all(|pair| differ(pair[0].0, pair[1].0)))
            && rows.windows(2).all(|pair| {
                pair[0].len() == pair[1].len()
                    && pair[0]
                        .iter()
                        .zip(&pair[1])
                        .all(|(above, below)| above.1 == below.1 && differ(above.0, below.0))
            });
        EndGrainLayout {
            panel_length: slice_thickness * slices + kerfs + allowances.panel_end * 2,
            panel_width: self.arrangement.width(),
            slice_thickness,
            kerfs,
            end_piece: allowances.panel_end,
            trimmed: shift,
            is_square: rows
                .iter()
                .flatten()
                .all(|(_, width)| *width == self.panel_thickness),
            is_checker,
            rows,
        }
    }

    /// The strips of one row inside the board's final width, which begins `shift` from the left end of
    /// the rows that are not shifted.
    fn row(&self, row: usize, shift: Length) -> Vec<(usize, Length)> {
        let strips = &self.arrangement.strips;
        let every_second = row % 2 == 1;
        let order: Vec<usize> = if every_second && self.turn == Turn::Flip {
            (0..strips.len()).rev().collect()
        } else {
            (0..strips.len()).collect()
        };
        let (from, to) = (shift, self.arrangement.width());
        let mut left = if every_second { shift } else { Length::ZERO };
        let mut shown = Vec::new();
        for strip in order {
            let right = left + strips[strip].width;
            let width = right.min(to) - left.max(from);
            if width.is_positive() {
                shown.push((strip, width));
            }
            left = right;
        }
        shown
    }

    /// The two numbers of slices around a wanted length, each with the length that it gives; one
    /// where the length is met exactly.
    pub fn slice_counts(length: Length, panel_thickness: Length) -> Vec<(usize, Length)> {
        if !length.is_positive() || !panel_thickness.is_positive() {
            return Vec::new();
        }
        let fewer = length.nm() / panel_thickness.nm();
        let exact = panel_thickness * fewer == length;
        let counts = if exact {
            vec![fewer]
        } else {
            vec![fewer, fewer + 1]
        };
        let counts = counts.into_iter().filter(|slices| *slices > 0);
        counts
            .map(|slices| (slices as usize, panel_thickness * slices))
            .collect()
    }

    fn size(&self) -> Size {
        let trimmed = match (self.turn, self.arrangement.strips.first()) {
            (Turn::Shift, Some(first)) => first.width,
            _ => Length::ZERO,
        };
        Size {
            length: self.panel_thickness * i64::from(self.slices),
            width: self.arrangement.width() - trimmed,
            thickness: self.thickness,
        }
    }

    fn blank(&self) -> Blank {
        Blank::Glued {
            surface: self.surface,
            arrangement: self.arrangement.clone(),
        }
    }

    fn pattern_warnings(&self, layout: &EndGrainLayout) -> Vec<Warning> {
        if self.turn == Turn::Plain || layout.is_checker && layout.is_square {
            return Vec::new();
        }
        let strips = &self.arrangement.strips;
        if !layout.is_checker {
            let same = self.turn == Turn::Flip && self.arrangement.is_symmetric();
            let (about, cure) = if same {
                (
                    say![
                        "The strips read the same from both ends, so turned slices match: the rows make stripes."
                    ],
                    say!["Take an even number of alternating strips, or shift every second slice."],
                )
            } else {
                (
                    say![
                        "Some neighbouring cells are of one species or do not meet at their corners: this is no checkerboard."
                    ],
                    say!["For a checkerboard alternate two species in strips of one width."],
                )
            };
            return vec![Warning {
                kind: WarningKind::Pattern,
                about,
                cure,
            }];
        }
        let widths = strips.first().map_or(Length::ZERO, |strip| strip.width);
        vec![Warning {
            kind: WarningKind::Pattern,
            about: say![
                "The cells are not square: strips ",
                widths,
                " wide, rows ",
                self.panel_thickness,
                " wide.",
            ],
            cure: say!["For squares make every strip as wide as the panel is thick."],
        }]
    }

    fn length_alternatives(&self) -> (Vec<Warning>, Vec<Alternative>) {
        let actual = self.size().length;
        if actual == self.length {
            return (Vec::new(), Vec::new());
        }
        let counts = EndGrainBoard::slice_counts(self.length, self.panel_thickness);
        let alternatives: Vec<Alternative> = counts
            .into_iter()
            .filter(|(_, length)| *length != actual)
            .map(|(slices, length)| Alternative {
                change: Change::SliceCount { slices, length },
                about: say![slices, " slices make it ", length, " long."],
            })
            .collect();
        let warning = Warning {
            kind: WarningKind::Size,
            about: say![
                "The slices make the board ",
                actual,
                " long; ",
                self.length,
                " was wanted.",
            ],
            cure: say!["Change the number of slices or the panel's thickness."],
        };
        (vec![warning], alternatives)
    }
}

impl Work for EndGrainBoard {
    fn flattened(&self) -> Vec<(&'static str, Length)> {
        // What the slices are cut from; their own faces are flattened after the second glue-up.
        vec![("panel", self.panel_thickness)]
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

    fn finished(&self, _practice: &Practice) -> Size {
        self.size()
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

    fn flaws(&self, _practice: &Practice, _shop: &Shop) -> Vec<Flaw> {
        let mut flaws: Vec<Flaw> = [
            within(&["length"], self.length, LENGTHS),
            within(&["thickness"], self.thickness, THICKNESSES),
            within(
                &["panel_thickness"],
                self.panel_thickness,
                PANEL_THICKNESSES,
            ),
        ]
        .into_iter()
        .flatten()
        .collect();
        if self.slices < 2 || self.slices > MOST_SLICES {
            let about = say![format!(
                "is {}; must be from 2 to {MOST_SLICES}",
                self.slices
            )];
            flaws.push(Flaw::at(&["slices"], about));
        }
        flaws.extend(arrangement_flaws(&[], &self.arrangement));
        if flaws.is_empty() {
            let size = self.size();
            if self.arrangement.strips.len() < 2 {
                let about = say!["are 1; must be at least 2, or there is nothing to glue first"];
                flaws.push(Flaw::at(&["strips"], about));
            } else if size.width < WIDTHS.0 || size.width > WIDTHS.1 {
                let about = say![
                    "make the board ",
                    size.width,
                    " wide; must make it from ",
                    WIDTHS.0,
                    " to ",
                    WIDTHS.1,
                ];
                flaws.push(Flaw::at(&["strips"], about));
            } else if size.length > LENGTHS.1 {
                let about = say![
                    format!("is {}, which makes the board ", self.slices),
                    size.length,
                    " long; must make it at most ",
                    LENGTHS.1,
                ];
                flaws.push(Flaw::at(&["slices"], about));
            } else {
                flaws.extend(self.extras.flaws(size));
            }
        }
        flaws
    }

    fn needs(&self, practice: &Practice, shop: &Shop, woods: &[Wood]) -> Needs {
        let layout = self.layout(practice, shop);
        let finished = self.size();
        let volume = Volume::from_mm3((finished.volume() - self.extras.removed(finished)).mm3());
        let ask = BlankAsk {
            name: "first panel",
            suffix: "panel",
            length: layout.panel_length,
            width: layout.panel_width,
            thickness: self.panel_thickness,
            first_piece: 0,
            first_panel: 0,
        };
        let plan = self.blank().plan(ask, volume, practice, woods);
        let softest = softest(self.arrangement.species(), woods);
        let slices = self.slices as usize;
        let (height, width) = (layout.slice_thickness, finished.length);
        let second = Glued {
            name: "slices",
            suffix: "slices",
            length: layout.panel_width,
            height,
            widths: vec![self.panel_thickness; slices],
            first_part: PanelPart::Slice(0),
            first_panel: plan.glued.panels().len(),
        };
        let second = second.plan(softest, practice);
        let rough = Size {
            length: width,
            width: layout.panel_width,
            thickness: height,
        };
        let (strips, places, wood) = gather(&plan.pieces);

        let (mut warnings, alternatives) = self.length_alternatives();
        warnings.extend(food_warnings(&wood, KIND.served_as, woods));
        warnings.extend(assembly_warning(&plan.glued, practice));
        warnings.extend(assembly_warning(&second, practice));
        let panel_size = Size {
            length: layout.panel_length,
            width: layout.panel_width,
            thickness: self.panel_thickness,
        };
        warnings.extend(machine_warnings(panel_size, &plan.glued, practice, shop));
        if self.thickness < ENOUGH_THICKNESS {
            warnings.push(Warning {
                kind: WarningKind::Strength,
                about: say![
                    "End grain ",
                    self.thickness,
                    " thick can break when it is dropped."
                ],
                cure: say!["Make the board at least ", ENOUGH_THICKNESS, " thick."],
            });
        }
        warnings.extend(self.pattern_warnings(&layout));
        warnings.extend(self.extras.warnings(finished));

        let coats = practice.finish.coats + practice.finish.end_grain_coats;
        let mut steps = Steps::default();
        let mill = steps.start(step(
            StepKind::Mill,
            Amount::Pieces(plan.pieces.len()),
            practice,
        ));
        let glued = add_glued(&mut steps, &plan.glued, &[mill], practice);
        let mut flat = flatten(
            StepKind::FlattenPanel,
            &[(layout.panel_length, layout.panel_width)],
            practice,
        );
        flat.after = vec![after(&glued)];
        let flat = steps.start(flat);
        let cut = steps.next(step(StepKind::CutSlices, Amount::Pieces(slices), practice));
        // The slices' glue faces are the panel's faces, so their time runs from its flattening.
        add_glued(&mut steps, &second, &[flat, cut], practice);
        let mut panels = plan.glued.panels();
        panels.extend(second.panels());
        let face = (rough.length, rough.width);
        steps.next(flatten(StepKind::FlattenEndGrain, &[face], practice));
        steps.next(step(StepKind::Square, Amount::Job, practice));
        self.extras.add_steps(&mut steps, practice);
        let faces = Area::of(face.0, face.1) * 2;
        steps.next(step(
            StepKind::RoundOverAndSand,
            Amount::Faces(faces),
            practice,
        ));
        add_finish(&mut steps, coats, self.extras.feet > 0, practice);

        Needs {
            kind: Kind::EndGrainBoard,
            finished,
            rough,
            weight: weight(&wood, woods),
            strips,
            places,
            panels,
            steps: steps.list,
            wood,
            coats,
            leftovers: vec![Leftover {
                name: "end pieces of the first panel".to_owned(),
                species: self.blank().woods(),
                size: Size {
                    length: layout.end_piece,
                    width: layout.panel_width,
                    thickness: self.panel_thickness,
                },
                is_round: false,
                count: 2,
            }],
            warnings,
            alternatives,
        }
    }
}
