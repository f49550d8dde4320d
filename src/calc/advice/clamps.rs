//! What the panels ask of clamps, and what the workshop's own clamps can do.

use super::circumstances::Circumstances;
use super::concern::{Concern, ConcernKind};
use crate::calc::gluing::{
    ClampNeed, ClampShortfall, GlueLines, LoadPanel, LoadRules, Pick, Placement, RackAnswer, Rig,
    SharedLoad, clamp_need, pick_from_rack, placements, share_clamps, shared_loads, what_it_can_do,
};
use crate::calc::work::{Clamping, Needs, Panel, PanelPart, Practice};
use crate::units::{Length, Minutes, Sentence};

/// One panel in its clamps.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelAdvice {
    pub panel: String,
    pub lines: GlueLines,
    /// To spread all its lines.
    pub spread_time: Minutes,
    pub fits_open_time: bool,
    pub need: ClampNeed,
    /// What each of the workshop's clamp sets can do, in their order.
    pub sets: Vec<RackAnswer>,
    /// The set to take: one that does it all, with the shortest reach.
    pub best_set: Option<usize>,
    /// What to take: from the best set, or from several together; empty where the rack does not do.
    pub take: Vec<Pick>,
    /// Where those go along the panel, below and above by turns.
    pub places: Vec<Placement>,
}

/// Panels of the project that may lie in one set of clamps.
#[derive(Clone, Debug, PartialEq)]
pub struct ClampSharing {
    /// Places in the list of panels.
    pub panels: Vec<usize>,
    /// Place in the list of clamp sets.
    pub set: usize,
    pub load: SharedLoad,
}

pub(super) fn panel_advice(
    needs: &Needs,
    practice: &Practice,
    circumstances: &Circumstances,
) -> (Vec<PanelAdvice>, Vec<Concern>) {
    let mut concerns = Vec::new();
    let advice = needs
        .panels
        .iter()
        .filter_map(|panel| {
            let lines = GlueLines::between(panel.parts.len(), panel.length, panel.height);
            let rig = rig(panel, &practice.clamping, needs);
            let need = clamp_need(&lines, panel.width, panel.pressure, &rig)?;
            let sets: Vec<RackAnswer> = circumstances
                .clamps
                .iter()
                .map(|set| what_it_can_do(set, &need))
                .collect();
            let best_set = (0..sets.len())
                .filter(|&set| sets[set].is_enough())
                .min_by_key(|&set| circumstances.clamps[set].reach);
            let take = match best_set {
                Some(set) => vec![Pick {
                    set,
                    clamps: sets[set].clamps,
                }],
                None => pick_from_rack(&circumstances.clamps, &need).unwrap_or_default(),
            };
            if take.is_empty() && !sets.is_empty() {
                concerns.push(shortfall(panel, &need, &sets, circumstances));
            }
            let seconds = f64::from(practice.gluing.seconds_a_line);
            Some(PanelAdvice {
                panel: panel.name.clone(),
                lines,
                spread_time: Minutes::from_minutes_up(seconds * lines.count as f64 / 60.0 - 1e-9),
                fits_open_time: seconds * lines.count as f64
                    <= practice.gluing.open_time.0 as f64 * 60.0,
                places: placements(panel.length, take.iter().map(|pick| pick.clamps).sum()),
                need,
                sets,
                best_set,
                take,
            })
        })
        .collect();
    (advice, concerns)
}

/// Sub-panels and blanks of the project that can be in clamps together, for the set that takes them.
pub(super) fn sharing(
    needs: &Needs,
    panels: &[PanelAdvice],
    practice: &Practice,
    circumstances: &Circumstances,
) -> Vec<ClampSharing> {
    // Only panels that wait for no other panel can be in clamps at the same time.
    let first_round: Vec<usize> = (0..panels.len().min(needs.panels.len()))
        .filter(|&place| {
            needs.panels[place]
                .parts
                .iter()
                .all(|part| matches!(part, PanelPart::Piece(_)))
        })
        .collect();
    let cauls = (practice.clamping.caul_depth + practice.clamping.pad) * 2;
    let mut sharing = Vec::new();
    for (set, clamps) in circumstances.clamps.iter().enumerate() {
        let Some(rated) = clamps.rated.filter(|rated| rated.newtons() > 0.0) else {
            continue;
        };
        let loads: Vec<LoadPanel> = first_round
            .iter()
            .map(|&place| LoadPanel {
                length: needs.panels[place].length,
                width: needs.panels[place].width,
                height: needs.panels[place].height,
                clamp_time: practice.gluing.clamped,
                pressure: panels[place].need.pressure,
                clamps: panels[place].need.clamps(rated),
            })
            .collect();
        let rules = LoadRules::usual(cauls, clamps.reach);
        for places in shared_loads(&loads, &rules) {
            let together: Vec<LoadPanel> = places.iter().map(|&place| loads[place]).collect();
            if let (true, Ok(load)) = (places.len() > 1, share_clamps(&together, &rules))
                && load.clamps <= clamps.count
            {
                sharing.push(ClampSharing {
                    panels: places.iter().map(|&place| first_round[place]).collect(),
                    set,
                    load,
                });
            }
        }
    }
    sharing
}

/// Cauls as the workshop has them; the outer part of the panel spreads the pressure too.
fn rig(panel: &Panel, clamping: &Clamping, needs: &Needs) -> Rig {
    let width = |part: Option<&PanelPart>| match part {
        Some(PanelPart::Piece(piece)) => needs.places.get(*piece).map(|piece| piece.width),
        Some(PanelPart::Panel(inner)) => needs.panels.get(*inner).map(|inner| inner.width),
        Some(PanelPart::Slice(_)) | None => None,
    };
    let outer = [width(panel.parts.first()), width(panel.parts.last())];
    Rig {
        caul_depth: clamping.caul_depth,
        pad: clamping.pad,
        jaw_width: clamping.jaw_width,
        outer_strip: outer.into_iter().flatten().min().unwrap_or(Length::ZERO),
    }
}

/// No set does it all: what the one that lacks least falls short of, and what would cure that.
fn shortfall(
    panel: &Panel,
    need: &ClampNeed,
    sets: &[RackAnswer],
    circumstances: &Circumstances,
) -> Concern {
    let nearest = (0..sets.len())
        .min_by_key(|&set| (sets[set].shortfalls.len(), set))
        .expect("called with at least one set");
    let name = &circumstances.clamps[nearest].name;
    let mut about = Vec::new();
    let mut cure = Vec::new();
    for shortfall in &sets[nearest].shortfalls {
        match shortfall {
            ClampShortfall::Reach { has, needs } => {
                about.push(format!("The {name} reach ").into());
                about.push((*has).into());
                about.push(format!("; the {} with its cauls asks ", panel.name).into());
                about.push((*needs).into());
                about.push(". ".into());
                cure.push("Take longer clamps or thinner cauls, or glue up in sub-panels. ".into());
            }
            ClampShortfall::Number { has, needs } => {
                about.push(
                    format!(
                        "There are {has} {name}; the {} asks {needs} for {}. ",
                        panel.name, need.pressure.low
                    )
                    .into(),
                );
                cure.push(
                    "Take more or stronger clamps, or thicker cauls where only spacing asks for more. "
                        .into(),
                );
            }
            ClampShortfall::NoRatedForce => {
                about.push(
                    format!(
                        "Nobody knows the force of the {name}, so their number follows from spacing alone. "
                    )
                    .into(),
                );
                cure.push("Enter the rated or measured force of the clamps. ".into());
            }
        }
    }
    Concern::new(ConcernKind::Clamps, Sentence::of(about), Sentence::of(cure))
}
