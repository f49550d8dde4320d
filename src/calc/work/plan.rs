//! From the steps of projects to a schedule, and back to bookings.
//!
//! Steps become tasks: attended ones inside openings, machines inside openings with a steward on duty, glue and
//! oil at any hour. Stations and clamps become resources. Stations of one kind are alike; clamps are not: a long clamp
//! can do a short job, never the other way; and a strong one can do the work of a weak one.
//!
//! **Clamps.** Let `r1 < r2 < .. < rm` be the reaches that the workshop has. A job that asks reach `r` may use any clamp
//! of the first reach `rc >= r` or beyond. For each `k` one resource stands for all clamps with a reach of at least `rk`, and the job
//! uses it for every `k <= c`. At any one moment the clamps can be handed out exactly if none of
//! these nested resources is overdrawn (Hall's condition, which for nested sets is just that). Over time it is
//! necessary but not sufficient, because a job keeps its clamps: with one short and one long clamp, a long job in [0, 1), short ones in
//! [0, 3) and [1, 4) and a long one in [3, 5) overdraw nothing, yet cannot be handed out. So clamps are handed out after solving, by
//! search; where that fails, the jobs that stood against each other are bound to the sets they were tried with, each set
//! becomes a resource of its own for them, and the request is solved again. A round binds at least one more job, and
//! jobs that are all bound can always be handed out, so this ends. The bound of the first request holds for all.
//! Jobs that ask for clamps of at least a force draw on one more resource, of the clamps that are long and strong enough
//! for them. Reach and force are not nested, so this is necessary and not sufficient even at one moment, and the search
//! that hands out decides.

use super::assign::{Handed, hand_out};
use super::draft::Draft;
use super::maker::AtWork;
use super::step::{ClampAsk, Station, Step};
use crate::calc::schedule::{Bound, Conflict, Outcome, Request, Tardiness, Weight, Window};
use crate::units::{Length, Newtons, WallMinute};

/// A time in which the workshop is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Opening {
    pub window: Window,
    /// A steward is on duty, so machines may run.
    pub machines: bool,
}

/// What a lent thing is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lends {
    /// Their force is nothing where nobody entered it.
    Clamps {
        reach: Length,
        force: Newtons,
    },
    Station(Station),
}

/// Equal things that the workshop lends: a set of clamps, sanders, rack places.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lent {
    pub id: String,
    pub what: Lends,
    pub count: u32,
}

/// Use of a lent thing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Use {
    /// Of the lent thing.
    pub id: String,
    pub from: WallMinute,
    pub to: WallMinute,
    pub amount: u32,
}

/// A step that stays as it is: done, running, or pinned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Given {
    pub key: String,
    pub from: WallMinute,
    pub to: WallMinute,
    /// What it has been handed, by id and amount; what is missing is handed out anew.
    pub uses: Vec<(String, u32)>,
}

/// One project to be planned.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    pub id: String,
    /// Who attends its steps, and can be in one place at a time only; `None` where nobody asks.
    pub maker: Option<String>,
    pub steps: Vec<Step>,
    /// When its member can come; `None` for every opening.
    pub openings: Option<Vec<Opening>>,
    pub given: Vec<Given>,
    /// Bookings to keep where that costs nothing, by key.
    pub prefer: Vec<(String, WallMinute)>,
    /// Of the hand-over, and what a minute late costs.
    pub due: Option<(WallMinute, Weight)>,
}

/// Panels of these jobs and glue-ups share one set of clamps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClampLoad {
    /// Place of the job among the jobs, and key of its glue-up.
    pub members: Vec<(usize, String)>,
    /// For all panels side by side.
    pub clamps: ClampAsk,
}

/// Everything that a plan is made from.
#[derive(Clone, Debug, PartialEq)]
pub struct Planning {
    /// Nothing that is not given starts before.
    pub from: WallMinute,
    /// Nothing that is not given ends after.
    pub to: WallMinute,
    pub openings: Vec<Opening>,
    pub lent: Vec<Lent>,
    /// By bookings that are not planned here.
    pub used: Vec<Use>,
    /// Where makers of these jobs are by bookings that are not planned here.
    pub at_work: Vec<AtWork>,
    pub jobs: Vec<Job>,
    pub loads: Vec<ClampLoad>,
}

/// So many more make any clamps or bench enough for all.
const ENOUGH: u32 = 10_000;

impl Planning {
    /// The same with so much room that no panel need share clamps: every plan of this one, whichever panels share, stands
    /// for one of that one that is no worse. So what is certain there is certain here.
    ///
    /// In a load each member works while the others do and for less time, so there are clamps and stations for all
    /// of them, a maker of several panels has hands for all, and nothing is too long after it.
    #[must_use]
    pub fn with_room_to_share(&self) -> Planning {
        let mut roomy = self.clone();
        roomy.loads.clear();
        let mut shared: Vec<Station> = Vec::new();
        let mut makers: Vec<&str> = Vec::new();
        for job in &self.jobs {
            for (step, hold) in job
                .steps
                .iter()
                .filter_map(|step| Some((step, step.hold.as_ref()?)))
            {
                let until = job.steps.iter().filter(|until| until.key == hold.until);
                let of_steps = until.chain([step]).flat_map(|step| &step.stations);
                shared.extend(of_steps.chain(&hold.stations).map(|(station, _)| *station));
                makers.extend(job.maker.as_deref());
            }
        }
        for lent in &mut roomy.lent {
            let is_shared = match lent.what {
                Lends::Clamps { .. } => true,
                Lends::Station(station) => shared.contains(&station),
            };
            if is_shared && lent.count > 0 {
                lent.count = lent.count.saturating_add(ENOUGH);
            }
        }
        for job in &mut roomy.jobs {
            let has_several =
                |maker: &String| makers.iter().filter(|known| *known == maker).count() > 1;
            job.maker = job.maker.take().filter(|maker| !has_several(maker));
            for step in &mut job.steps {
                for after in &mut step.after {
                    after.max_gap = None;
                }
            }
        }
        roomy
    }
}

/// A step with its times and what it uses.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlannedBooking {
    /// Of the job.
    pub job: String,
    pub key: String,
    pub name: String,
    pub from: WallMinute,
    pub to: WallMinute,
    pub is_attended: bool,
    /// Including what is held until a later step.
    pub uses: Vec<Use>,
}

/// The bookings of all jobs, in the order of jobs and steps.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    pub bookings: Vec<PlannedBooking>,
    pub tardiness: Tardiness,
    pub finish: WallMinute,
    /// How many of the preferred bookings start at another time.
    pub moved: usize,
    /// What no plan can beat.
    pub bound: Bound,
    pub proven: bool,
    /// Kinds of stations that steps ask for and the workshop does not list; they were not limited.
    pub unlisted: Vec<Station>,
}

/// How planning ended.
#[derive(Clone, Debug, PartialEq)]
pub enum PlanOutcome {
    Planned(Plan),
    NoSchedule(Conflict),
    NotFoundInTime,
}

/// Plans all jobs. `solve` solves one request; it is called again with a stricter one in the rare case that
/// clamps cannot be handed out, see the module's description. Its errors are passed on.
pub fn plan<E>(
    planning: &Planning,
    mut solve: impl FnMut(Request) -> Result<Outcome, E>,
) -> Result<PlanOutcome, E> {
    let draft = Draft::new(planning);
    let mut asks = draft.asks.clone();
    let mut first_bound = None;
    loop {
        let request = draft.request(planning, &asks);
        let solution = match solve(request)? {
            Outcome::Scheduled(solution) => solution,
            Outcome::NoSchedule(conflict) if first_bound.is_none() => {
                return Ok(PlanOutcome::NoSchedule(conflict));
            }
            // Bound jobs may have no schedule where free ones have: that proves nothing.
            Outcome::NoSchedule(_) | Outcome::NotFoundInTime => {
                return Ok(PlanOutcome::NotFoundInTime);
            }
        };
        let bound = *first_bound.get_or_insert(solution.bound);
        let spans: Vec<(WallMinute, WallMinute)> =
            asks.iter().map(|ask| draft.span(ask, &solution)).collect();
        match hand_out(&draft.lending, &asks, &spans, &planning.used) {
            Handed::All(handed) => {
                return Ok(PlanOutcome::Planned(
                    draft.plan(planning, &solution, bound, &asks, &handed),
                ));
            }
            Handed::Bind(bindings) => {
                for (ask, binding) in bindings {
                    asks[ask].bound = Some(binding);
                }
            }
        }
    }
}
