//! Advice in words, each sentence with its source.

use crate::app::advice::{Advice, PanelAdvice, PanelMovement};
use crate::calc::finishing::{FinishFlaw, Moment};
use crate::calc::gluing::{ClampShortfall, GlueFlaw, WATER_CLASS_SOURCE};
use crate::units::{Between, Length, LengthFormat, Mass, Minutes, Source};
use crate::web::words;

/// One sentence and where it comes from.
pub(super) struct Fact {
    pub text: String,
    pub source: Option<String>,
    /// Something to think about before the first cut.
    pub is_warning: bool,
}

/// Advice under its headings.
pub(super) struct Advised {
    pub gluing: Vec<Fact>,
    pub clamps: Vec<Fact>,
    pub movement: Vec<Fact>,
    pub sanding: Vec<Fact>,
    pub finish: Vec<Fact>,
    pub woods: Vec<Fact>,
}

fn fact(text: String, source: &Source) -> Fact {
    Fact {
        text,
        source: Some(source.to_string()),
        is_warning: false,
    }
}

fn warning(text: String, source: Option<&Source>) -> Fact {
    Fact {
        text,
        source: source.map(Source::to_string),
        is_warning: true,
    }
}

impl Advised {
    pub fn new(advice: &Advice, lengths: LengthFormat) -> Advised {
        Advised {
            gluing: gluing(advice),
            clamps: advice
                .panels
                .iter()
                .flat_map(|panel| clamps(panel, lengths))
                .collect(),
            movement: advice
                .movement
                .iter()
                .flat_map(|panel| movement(panel, lengths))
                .collect(),
            sanding: sanding(advice),
            finish: finish(advice),
            woods: woods(advice),
        }
    }

    /// Everything that should be thought about first.
    pub fn warnings(&self) -> impl Iterator<Item = &Fact> {
        [
            &self.woods,
            &self.gluing,
            &self.clamps,
            &self.movement,
            &self.sanding,
            &self.finish,
        ]
        .into_iter()
        .flatten()
        .filter(|fact| fact.is_warning)
    }
}

fn grams(amount: Between<Mass>) -> String {
    format!("{:.0} to {:.0} g", amount.low.grams(), amount.high.grams())
}

fn gluing(advice: &Advice) -> Vec<Fact> {
    let glue = &advice.glue;
    let name = &glue.glue.name;
    let class = &glue.glue.figures.water_class;
    let mut facts = Vec::new();
    if glue.amount.high.grams() > 0.0 {
        facts.push(fact(
            format!(
                "{}, water class {class}: open for {}, in the clamps for {}.",
                capital(name),
                words::span(glue.open_time),
                words::span(glue.clamped)
            ),
            &glue
                .glue
                .properties
                .find("open assembly")
                .map_or(Source::PRACTICE, |property| property.source.clone()),
        ));
        facts.push(fact(
            format!("{} of glue for all lines.", grams(glue.amount)),
            &glue.amount_source,
        ));
        for flaw in &glue.flaws {
            facts.push(glue_flaw(name, *flaw));
        }
    }
    facts
}

fn glue_flaw(name: &str, flaw: GlueFlaw) -> Fact {
    match flaw {
        GlueFlaw::NoWaterClass => warning(
            format!(
                "Nobody classes {name} for water, and what touches food is washed. Take one of class D3 or better."
            ),
            Some(&WATER_CLASS_SOURCE),
        ),
        GlueFlaw::TooLittleWater { has, least_level } => warning(
            format!(
                "{name} is of water class {has}; what touches food is washed and wants D{least_level} or better."
            ),
            Some(&WATER_CLASS_SOURCE),
        ),
        GlueFlaw::TooCold { has, least } => warning(
            format!(
                "The workshop has {:.0} °C; some makes of {name} do not harden below {:.0} °C. Warm wood and glue, or wait.",
                has.celsius(),
                least.celsius()
            ),
            None,
        ),
    }
}

fn clamps(panel: &PanelAdvice, lengths: LengthFormat) -> Vec<Fact> {
    let need = &panel.need;
    let mut facts = vec![fact(
        format!(
            "{}: {} at most {} apart, above and below by turns, opening {} with the cauls; {:.0} to {:.0} kPa on a glue \
             line, {:.1} to {:.1} kN in all.",
            capital(&panel.name),
            words::counted(
                usize::try_from(panel.clamps).unwrap_or(0),
                "clamp",
                "clamps"
            ),
            lengths.show(need.spacing),
            lengths.show(need.reach),
            need.pressure.low.kpa(),
            need.pressure.high.kpa(),
            need.force.low.newtons() / 1000.0,
            need.force.high.newtons() / 1000.0,
        ),
        &panel.pressure_source,
    )];
    match &panel.set {
        None => facts.push(warning(
            "The workshop has no clamps in its list. A steward can add them.".to_owned(),
            None,
        )),
        Some((set, answer)) => {
            if answer.is_enough() {
                let pressure = answer.pressure.map_or_else(String::new, |pressure| {
                    format!(
                        ", which give {:.0} kPa at their rated force",
                        pressure.kpa()
                    )
                });
                facts.push(Fact {
                    text: format!(
                        "{} of {set} will do{pressure}.",
                        words::counted(
                            usize::try_from(answer.clamps).unwrap_or(0),
                            "clamp",
                            "clamps"
                        )
                    ),
                    source: None,
                    is_warning: false,
                });
            }
            for shortfall in &answer.shortfalls {
                let text = match shortfall {
                    ClampShortfall::Reach { has, needs } => format!(
                        "{} is wider than any clamp reaches: {set} open to {}, {} is needed. Longer clamps, thinner cauls or \
                         sub-panels would do.",
                        capital(&panel.name),
                        lengths.show(*has),
                        lengths.show(*needs)
                    ),
                    ClampShortfall::Number { has, needs } => format!(
                        "{set} are {has}; {needs} are needed for {}. More or stronger clamps, or thicker cauls, would do.",
                        panel.name
                    ),
                    ClampShortfall::NoRatedForce => format!(
                        "Nobody wrote down how hard {set} press, so their number follows from the length alone."
                    ),
                };
                facts.push(warning(text, None));
            }
        }
    }
    facts
}

/// A change of width: `1/16 in`, or in millimetres where that is finer.
fn small(length: Length) -> String {
    format!("{:.1} mm", length.abs().mm())
}

fn movement(panel: &PanelMovement, lengths: LengthFormat) -> Vec<Fact> {
    match &panel.change {
        Err(why) => vec![warning(
            format!("How far {} moves cannot be said: {why}.", panel.panel),
            None,
        )],
        Ok(change) => {
            let mut facts = vec![fact(
                format!(
                    "{} is {} wide and grows by {} to {} from a dry winter indoors ({:.1} % moisture) to a damp summer \
                     ({:.1} %).",
                    capital(&panel.panel),
                    lengths.show(panel.width),
                    small(change.width.low),
                    small(change.width.high),
                    panel.dry.percent(),
                    panel.damp.percent()
                ),
                &panel.source,
            )];
            let ridge = change.ridges.iter().max();
            if let Some(ridge) = ridge.filter(|ridge| ridge.mm() >= 0.2) {
                facts.push(fact(
                    format!(
                        "Unlike neighbours may part by up to {} in thickness at a glue line: sand again after the first season.",
                        small(*ridge)
                    ),
                    &panel.source,
                ));
            }
            facts
        }
    }
}

fn sanding(advice: &Advice) -> Vec<Fact> {
    let grits: Vec<String> = advice
        .sanding
        .grits
        .iter()
        .map(|grit| format!("P{grit}"))
        .collect();
    let mut facts = Vec::new();
    if grits.is_empty() {
        facts.push(warning(
            "The workshop's list has no sandpaper that would do.".to_owned(),
            None,
        ));
    } else {
        facts.push(fact(
            format!(
                "Sand with {}; wet the wood once, let it dry and go over it again with the last, so that washing raises no grain.",
                words::listed(&grits)
            ),
            &advice.sanding_source,
        ));
    }
    for gap in &advice.sanding.gaps {
        let buy = gap.buy.map_or_else(String::new, |grit| {
            format!(" P{grit} between them would help.")
        });
        facts.push(Fact {
            text: format!("From P{} to P{} is a large step.{buy}", gap.from, gap.to),
            source: None,
            is_warning: false,
        });
    }
    facts
}

fn finish(advice: &Advice) -> Vec<Fact> {
    let finish = &advice.finish;
    let name = &finish.finish.name;
    let property = |name: &str| finish.finish.properties.find(name);
    if finish.coats == 0 {
        return vec![Fact {
            text: "No finish is planned.".to_owned(),
            source: None,
            is_warning: false,
        }];
    }
    let coats = words::counted(finish.coats as usize, "coat", "coats");
    let wipe = finish
        .plan
        .calendar
        .iter()
        .find_map(|step| match step.moment {
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
                "{coats} of {name}, about {:.2} L for all faces{wipe}.",
                finish.plan.litres
            ),
            &property("coverage").map_or(Source::PRACTICE, |property| property.source.clone()),
        ),
        fact(
            format!(
                "No water before {} after the first coat.",
                words::span(finish.plan.ready)
            ),
            &property("water contact").map_or(Source::PRACTICE, |property| property.source.clone()),
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
    for flaw in &finish.flaws {
        let text = match flaw {
            FinishFlaw::NotForFood => format!("{name} is not offered for food ware."),
            FinishFlaw::AskMaker => {
                format!("{name} may touch food only if its maker says so: read the tin.")
            }
            FinishFlaw::FilmUnderKnife => {
                format!("{name} makes a film, which a knife chips. Take an oil or a wax.")
            }
        };
        facts.push(warning(text, None));
    }
    facts
}

fn woods(advice: &Advice) -> Vec<Fact> {
    let mut facts = Vec::new();
    for wood in &advice.woods {
        facts.push(fact(
            format!(
                "{}: {}.",
                capital(&wood.species),
                wood.food.trim_end_matches('.')
            ),
            &wood.food_source,
        ));
        if let Some((hazard, source)) = &wood.hazard {
            facts.push(warning(
                format!(
                    "The dust of {}: {}.",
                    wood.species,
                    hazard.trim_end_matches('.')
                ),
                Some(source),
            ));
        }
    }
    facts
}

/// With a capital at the start of a sentence.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}
