//! The steps of finishing.

use super::practice::Practice;
use super::step::{Amount, Hold, Station, StepKind, Steps, after, step};
use crate::units::Minutes;

/// Coats, drying, cure and hand-over, after the latest step; feet go on once the piece is dry.
pub(super) fn add_finish(steps: &mut Steps, coats: u32, feet: bool, practice: &Practice) {
    let finish = &practice.finish;
    let off_rack = StepKind::OffRack.row().key;
    let mut last_coat: Option<String> = None;
    for number in 1..=coats {
        let mut coat = step(StepKind::Coat, Amount::Job, practice);
        coat.key = format!("coat-{number}");
        coat.name = format!("Coat {number}");
        if finish.is_drying_oil {
            coat.cautions.push("drying oil");
        }
        last_coat = Some(match &last_coat {
            None => {
                coat.hold = Some(Hold {
                    until: off_rack.to_owned(),
                    clamps: Vec::new(),
                    stations: vec![(Station::RackPlace, 1)],
                });
                steps.next(coat)
            }
            Some(earlier) => {
                let mut wait = after(earlier);
                wait.min_gap = finish.recoat_from;
                wait.max_gap = finish.recoat_to;
                coat.after = vec![wait];
                steps.start(coat)
            }
        });
    }
    let Some(last_coat) = last_coat else {
        if feet {
            steps.next(step(StepKind::Feet, Amount::Job, practice));
        }
        steps.next(step(StepKind::HandOver, Amount::Job, practice));
        return;
    };
    let mut follows = after(&last_coat);
    follows.max_gap = Some(Minutes(0));
    let mut drying = step(StepKind::Drying, Amount::Job, practice);
    drying.minutes = finish.dry;
    drying.after = vec![follows.clone()];
    let dry = steps.start(drying);
    let mut off = step(StepKind::OffRack, Amount::Job, practice);
    off.after = vec![after(&dry)];
    let mut off = steps.start(off);
    if feet {
        let mut screwed = step(StepKind::Feet, Amount::Job, practice);
        screwed.after = vec![after(&off)];
        off = steps.start(screwed);
    }
    let mut cure = step(StepKind::Cure, Amount::Job, practice);
    cure.minutes = finish.water_after;
    cure.after = vec![follows];
    let cured = steps.start(cure);
    let mut hand_over = step(StepKind::HandOver, Amount::Job, practice);
    hand_over.after = vec![after(&off), after(&cured)];
    steps.start(hand_over);
}
