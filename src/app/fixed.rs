//! Plans in which every start is given: whether they keep all rules, and if not, which they break.

use crate::calc::schedule::{self, Bound, Outcome, Solution, Statistics, Violation};
use crate::calc::work::{self, Given, Plan, PlanOutcome, Planning};
use crate::units::WallMinute;

/// Why given starts are no plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Broken {
    Rules(Vec<Violation>),
    /// No rule is broken, but no single clamps are free for the whole time.
    Clamps,
}

/// The plan that has all steps at their given starts, with clamps handed out for those that have
/// none yet.
///
/// A given step is exempt from its calendar: whether somebody may be there is for the caller to
/// say.
pub(super) fn fixed(planning: &Planning) -> Result<Plan, Broken> {
    let outcome = work::plan(planning, |request| {
        let starts: Option<Vec<WallMinute>> = request.tasks.iter().map(|task| task.at).collect();
        let starts = starts.unwrap_or_default();
        let figures = schedule::check(&request, &starts)?;
        let bound = Bound {
            tardiness: figures.tardiness,
            finish: figures.finish,
        };
        Ok(Outcome::Scheduled(Solution {
            starts,
            tardiness: figures.tardiness,
            finish: figures.finish,
            moved: 0,
            bound,
            proven: true,
            statistics: Statistics::default(),
        }))
    });
    match outcome {
        Ok(PlanOutcome::Planned(plan)) => Ok(plan),
        Ok(PlanOutcome::NoSchedule(_) | PlanOutcome::NotFoundInTime) => Err(Broken::Clamps),
        Err(violations) => Err(Broken::Rules(violations)),
    }
}

/// The given step of a job, or the one that is added.
pub(super) fn given_of<'a>(given: &'a mut Vec<Given>, key: &str) -> &'a mut Given {
    if let Some(place) = given.iter().position(|given| given.key == key) {
        return &mut given[place];
    }
    given.push(Given {
        key: key.to_owned(),
        from: WallMinute::default(),
        to: WallMinute::default(),
        uses: Vec::new(),
    });
    let last = given.len() - 1;
    &mut given[last]
}
