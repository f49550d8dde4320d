//! What the panels ask of clamps, and what the workshop's own clamps can do.

use super::concern::{Concern, ConcernKind};
use crate::calc::gluing::{
    ClampNeed, ClampSet, ClampShortfall, GlueLines, LoadPanel, LoadRules, Pick, Placement,
    RackAnswer, SharedLoad, placements, share_clamps, shared_loads, take_from_rack, what_it_can_do,
};
use crate::calc::work::{Needs, Panel, PanelPart, Practice};
use crate::units::{Minutes, Pressure, Sentence};

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
    /// What to take: from the shortest set that does it all, or from several together; empty where the rack does not do.
    pub take: Vec<Pick>,
    /// On the glue line when all of those are screwed to their rated force.
    pub pressure: Option<Pressure>,
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

pub(super) fn panel_advice(needs: &Needs, practice: &Practice) -> (Vec<PanelAdvice>, Vec<Concern>) {
    let rack = &practice.clamping.rack;
    let mut concerns = Vec::new();
    let advice = needs
        .panels
        .iter()
        .map(|panel| {
            let (lines, need) = (panel.lines, panel.need);
            let sets: Vec<RackAnswer> = rack.iter().map(|set| what_it_can_do(set, &need)).collect();
            let take = take_from_rack(rack, &need).unwrap_or_default();
            if take.is_empty() && !sets.is_empty() {
                concerns.push(shortfall(panel, &need, &sets, rack));
            }
            let seconds = f64::from(practice.gluing.seconds_a_line);
            PanelAdvice {
                panel: panel.name.clone(),
                lines,
                spread_time: Minutes::from_minutes_up(seconds * lines.count as f64 / 60.0 - 1e-9),
                fits_open_time: seconds * lines.count as f64
                    <= practice.gluing.open_time.0 as f64 * 60.0,
                pressure: (!take.is_empty()).then(|| pressure_of(&take, rack, &need)),
                places: placements(panel.length, take.iter().map(|pick| pick.clamps).sum()),
                need,
                sets,
                take,
            }
        })
        .collect();
    (advice, concerns)
}

/// Sub-panels and blanks of the project that can be in clamps together, for the set that takes them.
pub(super) fn sharing(
    needs: &Needs,
    panels: &[PanelAdvice],
    practice: &Practice,
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
    for (set, clamps) in practice.clamping.rack.iter().enumerate() {
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

fn pressure_of(take: &[Pick], rack: &[ClampSet], need: &ClampNeed) -> Pressure {
    let newtons: f64 = take
        .iter()
        .map(|pick| {
            let rated = rack[pick.set].rated.unwrap_or_default();
            rated.newtons() * pick.clamps as f64
        })
        .sum();
    Pressure::from_kpa(newtons * 1000.0 / need.line.mm2())
}

/// No set does it all: what the one that lacks least falls short of, and what would cure that.
fn shortfall(panel: &Panel, need: &ClampNeed, sets: &[RackAnswer], rack: &[ClampSet]) -> Concern {
    let nearest = (0..sets.len())
        .min_by_key(|&set| (sets[set].shortfalls.len(), set))
        .expect("called with at least one set");
    let name = &rack[nearest].name;
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
