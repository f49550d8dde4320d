//! Coats of finish: how much, when each goes on, when water may come.

use crate::units::{Area, FinishFigures, FinishFoodUse, Length, Minutes};

/// The times that a project plans with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FinishChoice {
    pub coats: i64,
    pub soak: Minutes,
    pub recoat: Minutes,
    pub water_contact: Minutes,
}

impl FinishChoice {
    /// The lower end of what is published for the finish; for a pure drying oil that is common
    /// practice: flood, 10 to 20 minutes, wipe off, 24 hours between coats, seven days before
    /// water.
    pub fn usual(figures: &FinishFigures) -> FinishChoice {
        FinishChoice {
            coats: figures.coats.low,
            soak: figures.soak.low,
            recoat: figures.recoat.low,
            water_contact: figures.water_contact.low,
        }
    }
}

/// What happens at a moment of the finish.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moment {
    /// Coat number so-and-so, from 1.
    Coat(i64),
    /// Wipe off what the wood did not take of that coat.
    Wipe(i64),
    /// Water may touch it.
    Water,
    /// Hard.
    Cured,
}

/// A moment, so long after the first coat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FinishStep {
    pub after: Minutes,
    pub moment: Moment,
}

/// The calendar of a finish and how much of it is used.
#[derive(Clone, Debug, PartialEq)]
pub struct FinishPlan {
    pub area: Area,
    pub litres: f64,
    pub calendar: Vec<FinishStep>,
    /// From the first coat until water may touch it.
    pub ready: Minutes,
}

/// All six faces of a board.
pub fn surface_area(length: Length, width: Length, thickness: Length) -> Area {
    (Area::of(length, width) + Area::of(length, thickness) + Area::of(width, thickness)) * 2
}

/// Plans `choice` over `area`; the amount is reckoned with the lower coverage, so it is enough.
pub fn plan_finish(figures: &FinishFigures, choice: &FinishChoice, area: Area) -> FinishPlan {
    let mut calendar = Vec::new();
    for coat in 1..=choice.coats {
        let at = choice.recoat * (coat - 1);
        calendar.push(FinishStep {
            after: at,
            moment: Moment::Coat(coat),
        });
        if choice.soak > Minutes::ZERO {
            calendar.push(FinishStep {
                after: at + choice.soak,
                moment: Moment::Wipe(coat),
            });
        }
    }
    let last_coat = choice.recoat * (choice.coats - 1).max(0);
    let ready = last_coat + choice.water_contact;
    calendar.push(FinishStep {
        after: ready,
        moment: Moment::Water,
    });
    if let Some(cure) = figures.full_cure {
        calendar.push(FinishStep {
            after: last_coat + cure.low.max(choice.water_contact),
            moment: Moment::Cured,
        });
    }
    FinishPlan {
        area,
        litres: area.m2() * choice.coats as f64 / figures.coverage.low,
        calendar,
        ready,
    }
}

/// What speaks against a finish on a piece for food.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FinishFlaw {
    /// Not offered for food ware.
    NotForFood,
    /// Only with its maker's word.
    AskMaker,
    /// A knife chips the film.
    FilmUnderKnife,
}

/// Everything that speaks against `finish` on a piece that food touches, cut on or not.
pub fn judge_finish(finish: &FinishFigures, food: bool, cut_on: bool) -> Vec<FinishFlaw> {
    let mut flaws = Vec::new();
    if !food {
        return flaws;
    }
    match finish.food_use {
        FinishFoodUse::Listed => {}
        FinishFoodUse::AskMaker => flaws.push(FinishFlaw::AskMaker),
        FinishFoodUse::No => flaws.push(FinishFlaw::NotForFood),
    }
    if cut_on && finish.film {
        flaws.push(FinishFlaw::FilmUnderKnife);
    }
    flaws
}
