//! Panels: how strips are shared out to glue-ups, and how many clamps each takes.

use std::ops::Range;

use super::needs::{Panel, PanelPart, Warning, WarningKind};
use super::practice::{Clamping, FlatteningTool, Practice};
use super::step::ClampAsk;
use crate::calc::gluing::{
    AssemblyPlan, ClampNeed, ClampSet, GlueLines, Rig, Spreading, clamp_need, plan_assembly,
    pressure_band, take_from_rack,
};
use crate::units::{Force, Length, Newtons, say};

/// What glue lines `width` apart from the first face to the last ask of clamps, at the pressure that the softest wood
/// bears. `outer_part` is the wood between a caul and the nearest line.
pub(super) fn clamps_asked(
    lines: &GlueLines,
    width: Length,
    outer_part: Length,
    softest: f64,
    clamping: &Clamping,
) -> ClampNeed {
    let rig = Rig {
        caul_depth: clamping.caul_depth,
        pad: clamping.pad,
        jaw_width: clamping.jaw_width,
        outer_strip: outer_part,
    };
    clamp_need(lines, width, pressure_band(softest), &rig)
        .expect("the outer part is wood, so pressure spreads")
}

/// The clamps to book: those of the rack that together do it, each as strong as they were reckoned. Where the rack
/// does not do, so many of its strongest that would; where their force is not known, so many of usual force.
pub(super) fn clamps_to_book(need: &ClampNeed, clamping: &Clamping) -> Vec<ClampAsk> {
    let ask = |clamps: i64, least_force: Newtons| ClampAsk {
        number: clamps.clamp(1, i64::from(u32::MAX)) as u32,
        least_reach: need.reach,
        least_force,
    };
    let force = |set: &ClampSet| set.rated.filter(|rated| rated.newtons() > 0.0);
    if let Some(picks) = take_from_rack(&clamping.rack, need) {
        let picks = picks.iter().map(|pick| {
            let rated = force(&clamping.rack[pick.set]).unwrap_or_default();
            ask(pick.clamps, rated.into())
        });
        return picks.collect();
    }
    let long_enough = clamping.rack.iter().filter(|set| set.reach >= need.reach);
    let forces: Option<Vec<Force>> = long_enough.map(force).collect();
    let strongest = forces
        .into_iter()
        .flatten()
        .max_by(|one, other| one.newtons().total_cmp(&other.newtons()));
    vec![match strongest {
        Some(strongest) => ask(need.clamps(strongest), strongest.into()),
        None => ask(need.clamps(clamping.force), Newtons::default()),
    }]
}

/// Strips side by side that become one board or blank.
#[derive(Clone, Debug)]
pub(super) struct Glued<'a> {
    /// As the panel is called: `board`, `base`.
    pub name: &'a str,
    /// Tells its steps from those of other panels of the project; empty where it is the only one.
    pub suffix: &'a str,
    /// Along the glue lines, as cut.
    pub length: Length,
    /// Of the glue lines, as cut.
    pub height: Length,
    pub widths: Vec<Length>,
    /// Its first strip, with its number among all pieces of the project, or its first slice. Slices show their end
    /// grain.
    pub first_part: PanelPart,
    /// The index that its first panel will have among all panels of the project.
    pub first_panel: usize,
}

/// The panels of one board in rounds: those of a round can be in clamps at the same time, and the last
/// round makes the board. A board of a single strip has none.
#[derive(Clone, Debug)]
pub(super) struct GluedPlan {
    pub suffix: String,
    pub rounds: Vec<Vec<Panel>>,
    pub first_panel: usize,
    pub is_end_grain: bool,
    pub assembly: AssemblyPlan,
}

impl Glued<'_> {
    /// `softest` is the lowest specific gravity among its species.
    pub fn plan(&self, softest: f64, practice: &Practice) -> GluedPlan {
        let is_end_grain = matches!(self.first_part, PanelPart::Slice(_));
        let widest = match practice.flattening.tool {
            // End grain never meets a planer.
            FlatteningTool::Planer if !is_end_grain => practice.flattening.pass_width,
            FlatteningTool::DrumSander => practice.flattening.pass_width,
            _ => None,
        };
        let spreading = Spreading {
            seconds_per_line: f64::from(practice.gluing.seconds_a_line),
            open_time: practice.gluing.open_time,
            widest,
        };
        let assembly = plan_assembly(&self.widths, &spreading);
        let last = assembly.rounds.len().saturating_sub(1);
        // The strips of each panel so far, so that later rounds find what they are joined from.
        let mut made: Vec<Range<usize>> = Vec::new();
        let mut rounds = Vec::new();
        for (round, parts) in assembly.rounds.iter().enumerate() {
            let mut panels = Vec::new();
            let known = made.clone();
            for part in &parts.parts {
                let name = if round == last {
                    self.name.to_owned()
                } else {
                    format!("{}, sub-panel {}", self.name, made.len() + 1)
                };
                panels.push(self.panel(name, &part.from, &known, softest, &practice.clamping));
                made.push(part.strips.clone());
            }
            rounds.push(panels);
        }
        GluedPlan {
            suffix: self.suffix.to_owned(),
            rounds,
            first_panel: self.first_panel,
            is_end_grain,
            assembly,
        }
    }

    fn panel(
        &self,
        name: String,
        from: &[Range<usize>],
        made: &[Range<usize>],
        softest: f64,
        clamping: &Clamping,
    ) -> Panel {
        let parts = from
            .iter()
            .map(
                |strips| match made.iter().position(|panel| panel == strips) {
                    Some(panel) => PanelPart::Panel(self.first_panel + panel),
                    None => match self.first_part {
                        PanelPart::Slice(first) => PanelPart::Slice(first + strips.start),
                        PanelPart::Piece(first) | PanelPart::Panel(first) => {
                            PanelPart::Piece(first + strips.start)
                        }
                    },
                },
            )
            .collect();
        let wide = |strips: &Range<usize>| self.widths[strips.clone()].iter().copied().sum();
        let widths: Vec<Length> = from.iter().map(wide).collect();
        let width: Length = widths.iter().copied().sum();
        let outer = [widths.first(), widths.last()]
            .into_iter()
            .flatten()
            .copied()
            .min();
        let outer = outer.unwrap_or(Length::ZERO);
        let lines = GlueLines::between(from.len(), self.length, self.height);
        let need = clamps_asked(&lines, width, outer, softest, clamping);
        Panel {
            name,
            length: self.length,
            width,
            height: self.height,
            parts,
            lines,
            clamps: clamps_to_book(&need, clamping),
            need,
        }
    }
}

impl GluedPlan {
    /// All panels, the board last.
    pub fn panels(&self) -> Vec<Panel> {
        self.rounds.iter().flatten().cloned().collect()
    }

    /// The index among all panels of the project of the first panel that the piece is glued into.
    pub fn panel_of(&self, piece: usize) -> Option<usize> {
        let holds = |panel: &Panel| panel.parts.contains(&PanelPart::Piece(piece));
        let place = self.rounds.iter().flatten().position(holds)?;
        Some(self.first_panel + place)
    }
}

/// A warning where not even one glue line can be spread in time.
pub(super) fn assembly_warning(plan: &GluedPlan, practice: &Practice) -> Option<Warning> {
    plan.assembly.too_slow.then(|| Warning {
        kind: WarningKind::OpenTime,
        about: say![format!(
            "Not even one glue line can be spread in the {} minutes that the glue stays open.",
            practice.gluing.open_time.0
        )],
        cure: say!["Take a glue with a longer open time, or a second pair of hands."],
    })
}
