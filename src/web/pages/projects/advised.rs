//! Advice in words, each sentence with its source.

use crate::app::advice::ProjectAdvice;
use crate::app::basis::Basis;
use crate::app::species::Woods;
use crate::calc::advice::{Concern, MovementAdvice, PanelAdvice};
use crate::calc::cost::BoardPrice;
use crate::calc::finishing::{GRIT_SOURCE, Moment};
use crate::calc::gluing::{CLAMP_SOURCE, ClampSet, GLUE_AMOUNT_SOURCE, PRESSURE_SOURCE};
use crate::calc::wood::{FoodVerdict, movement_source};
use crate::calc::work::{Kind, Needs, Panel, Practice};
use crate::reference;
use crate::units::{Between, Length, LengthFormat, Minutes, Money, Newtons, Source};
use crate::web::words;

/// One sentence and where it comes from.
pub(super) struct Fact {
    pub text: String,
    pub source: Option<String>,
    /// Something to think about before the first cut.
    pub is_warning: bool,
}

/// The cautions about one subject, such as ripping.
pub(super) struct Cautions {
    pub about: String,
    pub facts: Vec<Fact>,
}

impl Cautions {
    /// The source of them all, where it is one: said once, below them.
    pub fn shared_source(&self) -> Option<&str> {
        let first = self.facts.first()?.source.as_deref()?;
        let is_shared = |fact: &Fact| fact.source.as_deref() == Some(first);
        self.facts.iter().all(is_shared).then_some(first)
    }
}

/// What speaks against the project as it stands, and what would cure it.
pub(super) struct ConcernLine {
    pub about: String,
    pub cure: String,
}

/// Advice under its headings.
pub(super) struct Advised {
    pub gluing: Vec<Fact>,
    pub clamps: Vec<Fact>,
    pub movement: Vec<Fact>,
    pub sanding: Vec<Fact>,
    pub finish: Vec<Fact>,
    pub woods: Vec<Fact>,
    pub concerns: Vec<ConcernLine>,
}

fn fact(text: String, source: &Source) -> Fact {
    Fact {
        text,
        source: Some(source.to_string()),
        is_warning: false,
    }
}

fn plain(text: String) -> Fact {
    Fact {
        text,
        source: None,
        is_warning: false,
    }
}

impl Advised {
    pub fn new(of: &ProjectAdvice, needs: &Needs, basis: &Basis, lengths: LengthFormat) -> Advised {
        let advice = &of.advice;
        let practice = &basis.practice;
        let rack = &practice.clamping.rack;
        Advised {
            gluing: gluing(of, practice),
            clamps: advice
                .panels
                .iter()
                .flat_map(|panel| Advised::of_panel(panel, rack, needs, lengths))
                .chain(sharing(of, rack))
                .collect(),
            movement: advice
                .movement
                .iter()
                .flat_map(|panel| movement(panel, of))
                .chain(seasons(of))
                .chain(cross_pieces(of, needs.kind, lengths))
                .chain(ring(of, lengths))
                .collect(),
            sanding: sanding(of),
            finish: finish(of),
            woods: woods(of, &basis.woods),
            concerns: advice
                .concerns
                .iter()
                .map(|concern| concern_line(concern, lengths))
                .collect(),
        }
    }

    /// The sentences about one panel's clamps.
    pub fn of_panel(
        panel: &PanelAdvice,
        rack: &[ClampSet],
        needs: &Needs,
        lengths: LengthFormat,
    ) -> Vec<Fact> {
        match needs.panels.last() {
            // A ring on its disc is pressed all around and not across: spacing along a line says nothing of it.
            Some(last) if needs.kind == Kind::RoundTray && last.name == panel.panel => {
                vec![fact(
                    format!(
                        "{}: {} around the rim, opening {}.",
                        capital(&last.name),
                        words::counted(last.clamp_count() as usize, "clamp", "clamps"),
                        lengths.show(last.need.reach)
                    ),
                    &CLAMP_SOURCE,
                )]
            }
            _ => {
                let own = needs.panels.iter().find(|own| own.name == panel.panel);
                clamps(panel, own, rack, lengths)
            }
        }
    }
}

fn concern_line(concern: &Concern, lengths: LengthFormat) -> ConcernLine {
    ConcernLine {
        about: concern.about.show(lengths),
        cure: concern.cure.show(lengths),
    }
}

fn gluing(of: &ProjectAdvice, practice: &Practice) -> Vec<Fact> {
    let glue = &of.advice.glue;
    if glue.glue_lines == 0 {
        return Vec::new();
    }
    let properties = &of.glue.properties;
    let source = |name: &str| {
        properties
            .find(name)
            .map_or(Source::PRACTICE, |property| property.source.clone())
    };
    vec![
        fact(
            format!(
                "{}, water class {}.",
                capital(&glue.name),
                of.glue.figures.water_class
            ),
            &source("water class"),
        ),
        fact(
            format!(
                "Open for {}; in the clamps for {}.",
                words::span(practice.gluing.open_time),
                words::span(practice.gluing.clamped)
            ),
            &source("open assembly"),
        ),
        fact(
            format!(
                "About {:.0} g of glue for all {} of the project.",
                glue.amount.grams(),
                words::counted(
                    usize::try_from(glue.glue_lines).unwrap_or(0),
                    "glue line",
                    "glue lines"
                )
            ),
            &GLUE_AMOUNT_SOURCE,
        ),
    ]
}

fn clamps(
    panel: &PanelAdvice,
    booked: Option<&Panel>,
    rack: &[ClampSet],
    lengths: LengthFormat,
) -> Vec<Fact> {
    let need = &panel.need;
    let mut facts = vec![
        fact(
            format!(
                "{}: at most {} apart, above and below by turns, opening {} with the cauls.",
                capital(&panel.panel),
                lengths.show(need.spacing),
                lengths.show(need.reach),
            ),
            &CLAMP_SOURCE,
        ),
        fact(
            format!(
                "{:.0} to {:.0} kPa on a glue line, {:.1} to {:.1} kN from all clamps together.",
                need.pressure.low.kpa(),
                need.pressure.high.kpa(),
                need.force.low.newtons() / 1000.0,
                need.force.high.newtons() / 1000.0,
            ),
            &PRESSURE_SOURCE,
        ),
    ];
    if !panel.take.is_empty() {
        let take: Vec<String> = panel
            .take
            .iter()
            .map(|pick| format!("{} of the {}", pick.clamps, rack[pick.set].name))
            .collect();
        let take: Vec<&str> = take.iter().map(String::as_str).collect();
        let pressure = panel.pressure.map_or_else(String::new, |pressure| {
            format!(
                ", which give {:.0} kPa at their rated force",
                pressure.kpa()
            )
        });
        facts.push(plain(format!("Take {}{pressure}.", words::listed(&take))));
    } else if let (Some(booked), false) = (booked, panel.sets.is_empty()) {
        let strongest = booked.clamps.iter().map(|ask| ask.least_force).max();
        let force = match strongest {
            Some(Newtons(force)) if force > 0 => {
                format!("the {force} N of the strongest that are long enough")
            }
            _ => "the force of a usual clamp".to_owned(),
        };
        facts.push(plain(format!(
            "{} are drawn and booked, reckoned with {force}.",
            words::counted(booked.clamp_count() as usize, "clamp", "clamps")
        )));
    } else if panel.sets.is_empty() {
        facts.push(Fact {
            text: "The workshop has no clamps in its list; a steward can add them.".to_owned(),
            source: None,
            is_warning: true,
        });
    }
    facts.push(plain(format!(
        "Spreading all its lines takes about {}{}.",
        words::span(panel.spread_time),
        if panel.fits_open_time {
            ", within the open time"
        } else {
            ", longer than the glue stays open"
        }
    )));
    facts
}

fn sharing(of: &ProjectAdvice, rack: &[ClampSet]) -> Vec<Fact> {
    let sharing = of.advice.sharing.iter();
    sharing
        .map(|sharing| {
            let panels: Vec<&str> = sharing
                .panels
                .iter()
                .map(|&panel| of.advice.panels[panel].panel.as_str())
                .collect();
            fact(
                format!(
                    "{} may lie side by side in one set of {}, glue only in their own seams: {} saved.",
                    capital(&words::listed(&panels)),
                    rack[sharing.set].name,
                    words::counted(usize::try_from(sharing.load.saved).unwrap_or(0), "clamp", "clamps")
                ),
                &CLAMP_SOURCE,
            )
        })
        .collect()
}

/// A small change: millimetres say it better than fractions.
fn small(length: Length) -> String {
    format!("{:.1} mm", length.abs().mm())
}

fn range(range: Between<Length>) -> String {
    let (low, high) = (range.low.abs(), range.high.abs());
    let (low, high) = (low.min(high), low.max(high));
    if low == high {
        small(low)
    } else {
        format!("{:.1} to {}", low.mm(), small(high))
    }
}

fn movement(panel: &MovementAdvice, of: &ProjectAdvice) -> Vec<Fact> {
    let (dry, damp) = (&of.circumstances.dry_season, &of.circumstances.damp_season);
    let source = movement_source(panel.dry, panel.damp);
    let mut facts = vec![fact(
        format!(
            "{} grows {} in width from {} ({:.1} % moisture) to {} ({:.1} %){}.",
            capital(&panel.panel),
            range(panel.width),
            dry.name,
            panel.dry.percent(),
            damp.name,
            panel.damp.percent(),
            known_rings(panel)
        ),
        &source,
    )];
    if let Some(length) = panel.length {
        facts.push(fact(
            format!("Across its rows it grows {} in length.", range(length)),
            &source,
        ));
    }
    if panel.ridge.mm() >= 0.2 {
        facts.push(fact(
            format!(
                "Unlike neighbours may part by up to {} in thickness at a glue line; sand again after the first season.",
                small(panel.ridge)
            ),
            &source,
        ));
    }
    facts
}

/// Of how many strips the rings are known, where they are of some.
fn known_rings(panel: &MovementAdvice) -> String {
    match panel.known_rings {
        (0, _) => String::new(),
        (known, all) if known == all => ", as the growth rings of its pieces lie".to_owned(),
        (known, all) => format!(", with the growth rings of {known} of {all} pieces known"),
    }
}

/// Where the air of the two seasons comes from.
fn seasons(of: &ProjectAdvice) -> Vec<Fact> {
    if of.advice.movement.is_empty() {
        return Vec::new();
    }
    let seasons = [&of.circumstances.dry_season, &of.circumstances.damp_season];
    seasons
        .into_iter()
        .map(|season| {
            let air = format!(
                "{}: {:.0} °C and {:.0} % humidity.",
                capital(&season.name),
                season.air.temperature.celsius(),
                season.air.humidity.percent()
            );
            if season.is_read {
                fact(air, &Source::WORKSHOP)
            } else {
                fact(air, &Source::PRACTICE)
            }
        })
        .collect()
}

fn cross_pieces(of: &ProjectAdvice, kind: Kind, lengths: LengthFormat) -> Vec<Fact> {
    // The end of a board with a handle is no place for a cross piece.
    let what = |panel: &str| match kind {
        Kind::HandleBoard => format!("An inlay across the {panel}"),
        _ => format!("A cross piece at the end of the {panel}, or an inlay across it"),
    };
    let across = of.advice.cross_pieces.iter();
    across
        .map(|across| {
            let crossed = &across.crossed;
            let mut about = format!(
                "{}, glued over the whole {} would hold back {}",
                what(&across.panel),
                lengths.show(crossed.joint),
                range(crossed.mismatch),
            );
            if crossed.is_too_long() {
                about += &format!(
                    "; the workshop glues at most {} solid across the grain, which holds back {}: let the rest slide in slots",
                    lengths.show(crossed.longest),
                    small(across.over_the_longest())
                );
            }
            fact(
                format!("{about}."),
                &of.advice.movement.first().map_or(Source::PRACTICE, |movement| {
                    movement_source(movement.dry, movement.damp)
                }),
            )
        })
        .collect()
}

fn ring(of: &ProjectAdvice, lengths: LengthFormat) -> Option<Fact> {
    let ring = of.advice.ring_on_disc.as_ref()?;
    let crossed = &ring.crossed;
    let limit = if crossed.is_too_long() {
        format!(
            ", and the workshop glues at most {} solid across the grain",
            lengths.show(crossed.longest)
        )
    } else {
        String::new()
    };
    Some(plain(format!(
        "Glue the ring on with its grain along the base's: they then differ by {}; crosswise it would be {} over the joint of {}{limit}.",
        range(ring.lined_up),
        range(crossed.mismatch),
        lengths.show(crossed.joint)
    )))
}

/// What the project costs, line by line, and the sum.
pub(super) fn costs(of: &ProjectAdvice) -> Vec<(String, String)> {
    let cost = &of.advice.cost;
    let mut lines = vec![(
        format!("{:.2} board feet from the bins", of.bins.board_feet()),
        match cost.bin_wood {
            Money::ZERO => "free here".to_owned(),
            price => price.to_string(),
        },
    )];
    for board in &of.circumstances.bought {
        let count = if board.count > 1 {
            format!("{} × ", board.count)
        } else {
            String::new()
        };
        let (tally, price) = match board.price {
            BoardPrice::Piece(price) => (String::new(), price),
            BoardPrice::BoardFoot { tallied, price } => (
                format!(", {tallied:.2} board feet at {price}"),
                Money::from_units_rounded(price.units() * tallied),
            ),
        };
        let price = price * board.count;
        lines.push((
            format!("To buy: {count}{}{tally}", board.name),
            price.to_string(),
        ));
    }
    for (what, price) in [
        (
            format!("{:.0} g of glue", of.advice.glue.amount.grams()),
            cost.glue,
        ),
        ("Sandpaper".to_owned(), cost.abrasive),
        (
            format!(
                "{:.2} L of {}",
                of.advice.finish.plan.litres, of.advice.finish.name
            ),
            cost.finish,
        ),
    ] {
        if price != Money::ZERO {
            lines.push((what, price.to_string()));
        }
    }
    lines.push(("Together".to_owned(), cost.total().to_string()));
    lines
}

fn sanding(of: &ProjectAdvice) -> Vec<Fact> {
    let surface = &of.advice.surface;
    let grits: Vec<String> = surface
        .grits
        .grits
        .iter()
        .map(|grit| format!("P{grit}"))
        .collect();
    let mut facts = Vec::new();
    if grits.is_empty() {
        facts.push(plain(
            "The workshop's list has no sandpaper that would do.".to_owned(),
        ));
    } else {
        facts.push(fact(
            format!("Sand with {}.", words::listed(&grits)),
            &GRIT_SOURCE,
        ));
    }
    if surface.raise_grain {
        facts.push(fact(
            "Wet the wood once, let it dry and sand again with the last grit: what is washed raises its grain."
                .to_owned(),
            &GRIT_SOURCE,
        ));
    }
    facts
}

fn finish(of: &ProjectAdvice) -> Vec<Fact> {
    let plan = &of.advice.finish.plan;
    let name = &of.advice.finish.name;
    let property = |name: &str| of.finish.properties.find(name);
    let source =
        |name: &str| property(name).map_or(Source::PRACTICE, |property| property.source.clone());
    let coats = plan
        .calendar
        .iter()
        .filter(|step| matches!(step.moment, Moment::Coat(_)))
        .count();
    if coats == 0 {
        return vec![plain("No finish is planned.".to_owned())];
    }
    let wipe = plan.calendar.iter().find_map(|step| match step.moment {
        Moment::Wipe(1) => Some(step.after),
        _ => None,
    });
    let wipe = wipe.map_or_else(String::new, |after: Minutes| {
        format!(
            "; wipe off what the wood does not take after {}",
            words::span(after)
        )
    });
    let mut facts = vec![
        fact(
            format!(
                "{} of {name}, about {:.2} L for all faces{wipe}.",
                words::counted(coats, "coat", "coats"),
                plan.litres
            ),
            &source("coverage"),
        ),
        fact(
            format!(
                "No water before {} after the first coat.",
                words::span(plan.ready)
            ),
            &source("water contact"),
        ),
    ];
    for about in ["food contact", "ask maker", "allergy"] {
        if let Some(property) = property(about) {
            facts.push(fact(
                format!(
                    "{}: {}.",
                    capital(about),
                    property.text.trim_end_matches('.')
                ),
                &property.source,
            ));
        }
    }
    facts
}

fn woods(of: &ProjectAdvice, woods: &Woods) -> Vec<Fact> {
    of.advice
        .woods
        .iter()
        .filter_map(|wood| {
            let species = woods.find(&wood.species)?;
            let reason = species.food_reason.as_str();
            Some(Fact {
                text: format!(
                    "{}, {:.0} % of it: {}{}{}.",
                    capital(&wood.species),
                    wood.share * 100.0,
                    wood.grade.word(),
                    if reason.is_empty() { "" } else { "; " },
                    reason.trim_end_matches('.')
                ),
                source: Some(species.food_source.to_string()),
                is_warning: wood.verdict != FoodVerdict::Fit,
            })
        })
        .collect()
}

/// With a capital at the start of a sentence.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}

/// One caution with its source.
pub(super) fn cautions(subjects: &[&str]) -> Vec<Fact> {
    subjects
        .iter()
        .flat_map(|subject| reference::cautions_about(subject))
        .map(|caution| fact(caution.text.clone(), &caution.source))
        .collect()
}

/// The cautions under their subjects, in the order of `subjects`; those that nothing is said about are left out.
pub(super) fn cautions_by_subject(subjects: &[&str]) -> Vec<Cautions> {
    subjects
        .iter()
        .map(|subject| Cautions {
            about: (*subject).to_owned(),
            facts: cautions(&[subject]),
        })
        .filter(|group| !group.facts.is_empty())
        .collect()
}
