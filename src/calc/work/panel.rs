//! Panels: how strips are shared out to glue-ups, and how many clamps each takes.

use super::needs::{Panel, PanelPart, Warning, WarningKind};
use super::practice::{Clamping, FlatteningTool, Practice};
use super::sentence::say;
use super::step::ClampAsk;
use crate::units::Length;

/// Clamps for glue lines `length` by `height`, `width` apart from first to last face.
///
/// The larger of two numbers: the force that the wood's lowest pressure asks over one line (strips
/// edge to edge share the force), by what one clamp gives; and the clamps whose pressure, spread 45 degrees
/// each way through caul and outer part, covers the length. Never below two.
pub(super) fn clamps_for(
    length: Length,
    width: Length,
    height: Length,
    outer_part: Length,
    softest: f64,
    clamping: Clamping,
) -> ClampAsk {
    let force = low_pressure_kpa(softest) / 1000.0 * length.mm() * height.mm();
    let by_force = (force / clamping.force.newtons()).ceil();
    let spread = 2.0 * (clamping.caul_depth + outer_part).mm();
    let by_spread = (length.mm() / spread).ceil();
    ClampAsk {
        number: by_force.max(by_spread).max(2.0) as u32,
        least_reach: width + clamping.caul_depth * 2,
    }
}

/// The lowest pressure that a glue line asks, by the specific gravity of its softest wood. Common
/// practice: 690 kPa below 0.45, 860 kPa to 0.60, 1200 kPa above.
pub(super) fn low_pressure_kpa(specific_gravity: f64) -> f64 {
    match specific_gravity {
        gravity if gravity < 0.45 => 690.0,
        gravity if gravity <= 0.60 => 860.0,
        _ => 1200.0,
    }
}

/// How the strips of a board are shared out to glue-ups.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Split {
    /// Consecutive strips of each sub-panel; one group where the board is glued at one go.
    pub groups: Vec<Vec<usize>>,
    /// Even so, some glue-up has more lines than can be spread in the open time.
    pub too_many_lines: bool,
    /// Even so, some sub-panel is too wide for the machine that flattens it.
    pub too_wide: bool,
}

/// The most glue lines that can be spread within the open time.
pub(super) fn most_lines(practice: &Practice) -> usize {
    let seconds = practice.gluing.open_time.0.max(0) as u64 * 60;
    (seconds / u64::from(practice.gluing.seconds_a_line.max(1))) as usize
}

/// As few sub-panels as let every glue-up fit the open time and every sub-panel pass the machine
/// that flattens it, where its width has a limit.
pub(super) fn split(widths: &[Length], practice: &Practice) -> Split {
    let lines = most_lines(practice);
    let total: Length = widths.iter().copied().sum();
    let pass_width = match practice.flattening.tool {
        FlatteningTool::Planer | FlatteningTool::DrumSander => practice.flattening.pass_width,
        FlatteningTool::Sander | FlatteningTool::RouterSled => None,
    };
    let fits = |groups: &[Vec<usize>]| {
        let lines_fit = groups.len() - 1 <= lines
            && groups
                .iter()
                .all(|group| group.len().saturating_sub(1) <= lines);
        let width_fits = pass_width.is_none_or(|most| {
            groups
                .iter()
                .all(|group| group.iter().map(|&strip| widths[strip]).sum::<Length>() <= most)
        });
        (lines_fit, width_fits)
    };
    let at_one_go = vec![(0..widths.len()).collect::<Vec<usize>>()];
    let mut best = Split {
        groups: at_one_go,
        too_many_lines: true,
        too_wide: true,
    };
    for count in 1..=widths.len().max(1) {
        let groups = shared_by_width(widths, total, count);
        let (lines_fit, width_fits) = fits(&groups);
        if lines_fit && width_fits {
            return Split {
                groups,
                too_many_lines: false,
                too_wide: false,
            };
        }
        // Rather a board that is glued in time than one that passes a machine.
        if lines_fit && best.too_many_lines {
            best = Split {
                groups,
                too_many_lines: false,
                too_wide: true,
            };
        }
    }
    best
}

/// Consecutive groups whose widths are as equal as cutting at equal steps makes them, none empty.
fn shared_by_width(widths: &[Length], total: Length, count: usize) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = vec![Vec::new(); count];
    let mut before = Length::ZERO;
    for (strip, width) in widths.iter().enumerate() {
        // The group in whose share of the width the strip's middle lies.
        let middle = i128::from(before.nm()) * 2 + i128::from(width.nm());
        let whole = i128::from(total.nm()).max(1) * 2;
        let group = (middle * count as i128 / whole) as usize;
        groups[group.min(count - 1)].push(strip);
        before += *width;
    }
    groups.retain(|group| !group.is_empty());
    if groups.is_empty() {
        vec![Vec::new()]
    } else {
        groups
    }
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
    /// The number of its first strip among all pieces of the project.
    pub first_piece: usize,
    /// The index that its first panel will have among all panels of the project.
    pub first_panel: usize,
}

/// The panels of one board: sub-panels, where there are any, and last the whole. A board of a
/// single strip has none.
#[derive(Clone, Debug)]
pub(super) struct GluedPlan {
    pub suffix: String,
    pub panels: Vec<Panel>,
    pub first_panel: usize,
    pub split: Split,
}

impl Glued<'_> {
    /// `softest` is the lowest specific gravity among its species.
    pub fn plan(&self, softest: f64, practice: &Practice) -> GluedPlan {
        let split = split(&self.widths, practice);
        let mut panels: Vec<Panel> = Vec::new();
        let mut joined: Vec<(PanelPart, Length)> = Vec::new();
        for group in &split.groups {
            let parts: Vec<(PanelPart, Length)> = group
                .iter()
                .map(|&strip| {
                    (
                        PanelPart::Piece(self.first_piece + strip),
                        self.widths[strip],
                    )
                })
                .collect();
            if split.groups.len() == 1 || parts.len() == 1 {
                joined.extend(parts);
                continue;
            }
            let name = format!("{}, sub-panel {}", self.name, panels.len() + 1);
            let part = self.panel(name, parts, softest, practice.clamping);
            joined.push((
                PanelPart::Panel(self.first_panel + panels.len()),
                part.width,
            ));
            panels.push(part);
        }
        if joined.len() > 1 {
            panels.push(self.panel(self.name.to_owned(), joined, softest, practice.clamping));
        }
        GluedPlan {
            suffix: self.suffix.to_owned(),
            panels,
            first_panel: self.first_panel,
            split,
        }
    }

    fn panel(
        &self,
        name: String,
        parts: Vec<(PanelPart, Length)>,
        softest: f64,
        clamping: Clamping,
    ) -> Panel {
        let (parts, widths): (Vec<PanelPart>, Vec<Length>) = parts.into_iter().unzip();
        let width: Length = widths.iter().copied().sum();
        let outer = [widths.first(), widths.last()]
            .into_iter()
            .flatten()
            .copied()
            .min();
        let outer = outer.unwrap_or(Length::ZERO);
        let clamps = clamps_for(self.length, width, self.height, outer, softest, clamping);
        Panel {
            name,
            length: self.length,
            width,
            height: self.height,
            parts,
            clamps,
        }
    }
}

/// The innermost panel that a piece is glued into.
pub(super) fn panel_of(piece: usize, panels: &[Panel]) -> Option<usize> {
    panels
        .iter()
        .position(|panel| panel.parts.contains(&PanelPart::Piece(piece)))
}

/// A warning where even sub-panels have more lines than can be spread in time.
pub(super) fn open_time_warning(split: &Split, practice: &Practice) -> Option<Warning> {
    split.too_many_lines.then(|| Warning {
        kind: WarningKind::OpenTime,
        about: say![format!(
            "The glue lines take longer to spread than the glue stays open, even in sub-panels: {} \
             lines can be spread in {} minutes.",
            most_lines(practice),
            practice.gluing.open_time.0
        )],
        cure: say!["Take a glue with a longer open time, wider strips, or a second pair of hands."],
    })
}
