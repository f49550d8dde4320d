//! How far a project is, from what was matched, claimed, cut and done.

use sqlx::SqliteConnection;

use crate::calc::work::StepKind;
use crate::store::booking::{self, BookingState};
use crate::store::project::{self, Stage};
use crate::store::{self, By, ProjectId, Refusal, Written, layout};
use crate::wire::kept_match::KeptMatch;

/// What the bookings of steps say once they are done.
pub(super) fn stage_after(step: StepKind) -> Stage {
    match step {
        StepKind::Mill | StepKind::DryFit => Stage::Milled,
        StepKind::GlueUp | StepKind::Unclamp | StepKind::FlattenPanel | StepKind::CutSlices => {
            Stage::Glued
        }
        StepKind::Flatten
        | StepKind::FlattenEndGrain
        | StepKind::Square
        | StepKind::CutOutline
        | StepKind::DrillHole
        | StepKind::RouteDisc
        | StepKind::RouteRing
        | StepKind::Groove
        | StepKind::Grips
        | StepKind::RoundOverAndSand
        | StepKind::Feet => Stage::Shaped,
        StepKind::Coat | StepKind::Drying => Stage::Finishing,
        StepKind::OffRack => Stage::Curing,
        StepKind::Cure => Stage::Ready,
        StepKind::HandOver => Stage::HandedOver,
    }
}

/// Brings the stored stage up to date after anything that may have changed it.
///
/// Stages up to `milled` follow from the wood and may go back; later ones only go on, because
/// members may also set them by hand.
pub(super) async fn refresh(db: &mut SqliteConnection, by: By, id: ProjectId) -> Written {
    let project = project::find(&mut *db, id).await?.ok_or(Refusal::Stale)?;
    let wood = of_wood(db, &project).await?;
    let done = of_bookings(db, id).await?;
    let reached = wood.max(done.unwrap_or(Stage::Drawn));
    let stage = if project.stage > Stage::Milled {
        project.stage.max(reached)
    } else {
        reached
    };
    project::set_stage(db, by, id, stage).await
}

async fn of_wood(db: &mut SqliteConnection, project: &project::Project) -> store::Result<Stage> {
    let strips = project::list_strips(&mut *db, project.id).await?;
    let progress = layout::progress(&mut *db, project.id).await?;
    let of = |key: &str| {
        progress
            .iter()
            .find(|progress| progress.strip_key == key)
            .map_or((0, 0), |progress| (progress.cut, progress.to_cut))
    };
    let is_cut = strips.iter().all(|strip| of(&strip.key).0 >= strip.count);
    let is_claimed = strips.iter().all(|strip| {
        let (cut, to_cut) = of(&strip.key);
        cut + to_cut >= strip.count
    });
    Ok(if strips.is_empty() {
        Stage::Drawn
    } else if is_cut {
        Stage::Milled
    } else if is_claimed {
        Stage::Claimed
    } else if finds_something(project) {
        Stage::Matched
    } else {
        Stage::Drawn
    })
}

/// A match that gives no strip leaves a project where it was.
fn finds_something(project: &project::Project) -> bool {
    project
        .current_match()
        .and_then(|found| KeptMatch::parse(&found.answer).ok())
        .is_some_and(|kept| !kept.outcome.layouts.is_empty())
}

/// The last stage all of whose booked steps, and those of the stages before, are done.
async fn of_bookings(db: &mut SqliteConnection, id: ProjectId) -> store::Result<Option<Stage>> {
    let bookings = booking::list_of_project(db, id).await?;
    let steps = bookings.iter().filter_map(|booking| {
        let kind = StepKind::from_key(&booking.kind)?;
        Some((stage_after(kind), booking.state == BookingState::Done))
    });
    let mut steps: Vec<(Stage, bool)> = steps.collect();
    steps.sort_by_key(|(stage, _)| *stage);
    let mut reached = None;
    for stage in Stage::ALL {
        let mut of_stage = steps.iter().filter(|(of, _)| of == stage).peekable();
        if of_stage.peek().is_none() {
            continue;
        }
        if of_stage.any(|(_, is_done)| !is_done) {
            break;
        }
        reached = Some(*stage);
    }
    Ok(reached)
}
