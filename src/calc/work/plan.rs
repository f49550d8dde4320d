//! From the steps of projects to a schedule, and back to bookings.
//!
//! Steps become tasks: attended ones inside openings, machines inside openings with a steward on duty, glue and
//! oil at any hour. Stations and clamps become resources. Stations of one kind are alike; clamps are not: a long clamp
//! can do a short job, never the other way.
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

use std::collections::BTreeMap;

use super::assign::{Ask, Handed, Lending, hand_out};
use super::step::{Presence, Station, Step, StepKind};
use crate::calc::schedule::{
    After, Bound, Busy, Calendar, Conflict, Due, Hold, Need, Outcome, Request, Resource, Solution,
    Tardiness, Task, Weight, Window,
};
use crate::units::{Length, Minutes, WallMinute};

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
    Clamps { reach: Length },
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
    pub clamps: super::step::ClampAsk,
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
    pub jobs: Vec<Job>,
    pub loads: Vec<ClampLoad>,
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

/// One task of the request: a step, or the steps of a clamp load that run as one.
struct Run {
    /// Job and place of the step, of each member.
    members: Vec<(usize, usize)>,
}

/// The parts of the request that do not change from round to round.
struct Draft<'a> {
    jobs: &'a [Job],
    runs: Vec<Run>,
    /// The run of each step of each job.
    run_of: Vec<Vec<usize>>,
    /// Each from the start of a run to the end of a run.
    asks: Vec<Ask>,
    lending: Lending,
    unlisted: Vec<Station>,
}

impl Draft<'_> {
    fn new(planning: &Planning) -> Draft<'_> {
        let jobs = &planning.jobs;
        let place_of =
            |job: usize, key: &str| jobs[job].steps.iter().position(|step| step.key == key);
        // A load's glue-ups become one run, and so do the steps that take the clamps off.
        let mut merged: Vec<Vec<(usize, usize)>> = Vec::new();
        let mut load_clamps: Vec<(usize, usize)> = Vec::new();
        for (place, load) in planning.loads.iter().enumerate() {
            let glue_ups: Vec<(usize, usize)> = load
                .members
                .iter()
                .filter_map(|(job, key)| Some((*job, place_of(*job, key)?)))
                .collect();
            let unclamps: Vec<(usize, usize)> = glue_ups
                .iter()
                .filter_map(|&(job, step)| {
                    let hold = jobs[job].steps[step].hold.as_ref()?;
                    Some((job, place_of(job, &hold.until)?))
                })
                .collect();
            if !glue_ups.is_empty() {
                load_clamps.push((place, merged.len()));
                merged.push(glue_ups);
                merged.push(unclamps);
            }
        }
        let mut runs: Vec<Run> = Vec::new();
        let mut run_of: Vec<Vec<usize>> = jobs
            .iter()
            .map(|job| vec![usize::MAX; job.steps.len()])
            .collect();
        for (job, of) in jobs.iter().enumerate() {
            for step in 0..of.steps.len() {
                if run_of[job][step] != usize::MAX {
                    continue;
                }
                let together = merged.iter().find(|members| members.contains(&(job, step)));
                let members = together.cloned().unwrap_or_else(|| vec![(job, step)]);
                for &(job, step) in &members {
                    run_of[job][step] = runs.len();
                }
                runs.push(Run { members });
            }
        }
        let (lending, mut asks, unlisted) = (Lending::new(&planning.lent), Vec::new(), Vec::new());
        let mut draft = Draft {
            jobs,
            runs,
            run_of,
            asks: Vec::new(),
            lending,
            unlisted,
        };
        for run in 0..draft.runs.len() {
            draft.add_asks(run, planning, &load_clamps, &merged, &mut asks);
        }
        draft.asks = asks;
        draft
    }

    fn add_asks(
        &mut self,
        run: usize,
        planning: &Planning,
        load_clamps: &[(usize, usize)],
        merged: &[Vec<(usize, usize)>],
        asks: &mut Vec<Ask>,
    ) {
        let jobs = self.jobs;
        let members = self.runs[run].members.clone();
        // What members of a load use together they use once: one bench, one set of clamps.
        let mut stations: BTreeMap<(Station, usize), u32> = BTreeMap::new();
        let mut clamps: BTreeMap<usize, (Length, u32)> = BTreeMap::new();
        let mut handed: Vec<(String, u32)> = Vec::new();
        for &(job, place) in &members {
            let step = &jobs[job].steps[place];
            if let Some(given) = jobs[job].given.iter().find(|given| given.key == step.key) {
                handed.extend(given.uses.iter().cloned());
            }
            for &(station, amount) in &step.stations {
                let most = stations.entry((station, run)).or_default();
                *most = (*most).max(amount);
            }
            let Some(hold) = &step.hold else { continue };
            let Some(until) = jobs[job]
                .steps
                .iter()
                .position(|step| step.key == hold.until)
            else {
                continue;
            };
            let until = self.run_of[job][until];
            for &(station, amount) in &hold.stations {
                let most = stations.entry((station, until)).or_default();
                *most = (*most).max(amount);
            }
            if let Some(ask) = hold.clamps {
                let most = clamps.entry(until).or_default();
                *most = (most.0.max(ask.least_reach), most.1.max(ask.number));
            }
        }
        let load = load_clamps
            .iter()
            .find(|(_, place)| merged[*place] == members);
        if let Some((load, _)) = load {
            let ask = planning.loads[*load].clamps;
            for most in clamps.values_mut() {
                *most = (ask.least_reach, ask.number);
            }
        }
        for ((station, until), amount) in stations {
            match self.lending.family(Lends::Station(station)) {
                Some(family) => {
                    let bound = self.lending.bind(family, &handed, amount);
                    asks.push(Ask {
                        run,
                        until,
                        family,
                        level: 0,
                        amount,
                        bound,
                    });
                }
                None if !self.unlisted.contains(&station) => self.unlisted.push(station),
                None => {}
            }
        }
        for (until, (reach, amount)) in clamps {
            let family = self.lending.clamps();
            let bound = self.lending.bind(family, &handed, amount);
            asks.push(Ask {
                run,
                until,
                family,
                level: reach.nm(),
                amount,
                bound,
            });
        }
    }

    fn step(&self, member: (usize, usize)) -> &Step {
        &self.jobs[member.0].steps[member.1]
    }

    fn given(&self, run: usize) -> Option<&Given> {
        self.runs[run].members.iter().find_map(|&member| {
            let key = &self.step(member).key;
            self.jobs[member.0]
                .given
                .iter()
                .find(|given| given.key == *key)
        })
    }

    fn minutes(&self, run: usize) -> Minutes {
        match self.given(run) {
            Some(given) => given.to - given.from,
            None => Minutes(
                self.runs[run]
                    .members
                    .iter()
                    .map(|&member| self.step(member).minutes.0)
                    .sum(),
            ),
        }
    }

    /// Unique, and readable where a conflict names it.
    fn task_id(&self, run: usize) -> String {
        let members = self.runs[run].members.iter();
        let names: Vec<String> = members
            .map(|&member| format!("{} {}", self.jobs[member.0].id, self.step(member).key))
            .collect();
        names.join(" with ")
    }

    fn request(&self, planning: &Planning, asks: &[Ask]) -> Request {
        let mut calendars: Vec<Calendar> = Vec::new();
        let tasks: Vec<Task> = (0..self.runs.len())
            .map(|run| Task {
                id: self.task_id(run),
                minutes: self.minutes(run),
                calendar: self.calendar(run, planning, &mut calendars),
                needs: asks
                    .iter()
                    .filter(|ask| ask.run == run && ask.until == run)
                    .flat_map(|ask| self.needs(ask))
                    .collect(),
                after: self.afters(run),
                at: self.given(run).map(|given| given.from),
            })
            .collect();
        let holds = asks
            .iter()
            .filter(|ask| ask.until != ask.run)
            .map(|ask| Hold {
                from: self.task_id(ask.run),
                to: self.task_id(ask.until),
                needs: self.needs(ask),
            })
            .collect();
        let resources = self
            .lending
            .resources(asks)
            .into_iter()
            .map(|(id, capacity)| Resource { id, capacity })
            .collect();
        let mut due = Vec::new();
        let mut prefer = Vec::new();
        for (job, of) in self.jobs.iter().enumerate() {
            let last = of
                .steps
                .iter()
                .position(|step| step.kind == StepKind::HandOver)
                .or_else(|| of.steps.len().checked_sub(1));
            if let (Some((by, weight)), Some(last)) = (of.due, last) {
                due.push(Due {
                    task: self.task_id(self.run_of[job][last]),
                    by,
                    weight,
                });
            }
            for (key, at) in &of.prefer {
                let Some(place) = of.steps.iter().position(|step| step.key == *key) else {
                    continue;
                };
                let run = self.run_of[job][place];
                let task = self.task_id(run);
                let is_new = prefer
                    .iter()
                    .all(|(known, _): &(String, WallMinute)| *known != task);
                if is_new && self.given(run).is_none() {
                    prefer.push((task, *at));
                }
            }
        }
        Request {
            from: planning.from,
            to: planning.to,
            calendars,
            resources,
            tasks,
            holds,
            busy: self.busy(planning, asks),
            due,
            prefer,
        }
    }

    fn needs(&self, ask: &Ask) -> Vec<Need> {
        self.lending
            .draws(ask)
            .into_iter()
            .map(|(resource, amount)| Need { resource, amount })
            .collect()
    }

    fn busy(&self, planning: &Planning, asks: &[Ask]) -> Vec<Busy> {
        let used = planning.used.iter().filter(|used| used.to > used.from);
        used.flat_map(|used| {
            let resources = self.lending.drawn_by(&used.id, asks);
            resources.into_iter().map(|resource| Busy {
                resource,
                from: used.from,
                to: used.to,
                amount: used.amount,
            })
        })
        .collect()
    }

    fn afters(&self, run: usize) -> Vec<After> {
        let mut afters: Vec<After> = Vec::new();
        for &(job, place) in &self.runs[run].members {
            for after in &self.jobs[job].steps[place].after {
                let earlier = self.jobs[job]
                    .steps
                    .iter()
                    .position(|step| step.key == after.key);
                let Some(earlier) = earlier.map(|earlier| self.run_of[job][earlier]) else {
                    continue;
                };
                if earlier != run {
                    afters.push(After {
                        task: self.task_id(earlier),
                        min_gap: after.min_gap,
                        max_gap: after.max_gap,
                    });
                }
            }
        }
        afters
    }

    /// The name of the calendar in which a run must lie; calendars that are new are added.
    fn calendar(
        &self,
        run: usize,
        planning: &Planning,
        calendars: &mut Vec<Calendar>,
    ) -> Option<String> {
        let members = &self.runs[run].members;
        let presence = members.iter().map(|&member| self.step(member).presence);
        let strictest = presence.fold(Presence::Alone, |strictest, presence| match presence {
            Presence::Alone => strictest,
            Presence::Member if strictest == Presence::Machine => Presence::Machine,
            other => other,
        });
        let machines = match strictest {
            Presence::Alone => return None,
            Presence::Member => false,
            Presence::Machine => true,
        };
        let windows_of = |openings: &[Opening]| -> Vec<Window> {
            let open = openings
                .iter()
                .filter(|opening| opening.machines || !machines);
            open.map(|opening| opening.window)
                .filter(|window| window.to > window.from)
                .collect()
        };
        let mut id = if machines { "machines" } else { "shop" }.to_owned();
        let mut windows = windows_of(&planning.openings);
        let mut seen: Vec<usize> = Vec::new();
        for &(job, _) in members {
            if let Some(own) = &self.jobs[job].openings
                && !seen.contains(&job)
            {
                seen.push(job);
                id = format!("{id}, {}", self.jobs[job].id);
                windows = common(&windows, &windows_of(own));
            }
        }
        if calendars.iter().all(|calendar| calendar.id != id) {
            calendars.push(Calendar {
                id: id.clone(),
                windows,
            });
        }
        Some(id)
    }

    /// From the start of the run that asks to the end of the run until which it keeps what it has.
    fn span(&self, ask: &Ask, solution: &Solution) -> (WallMinute, WallMinute) {
        (
            solution.starts[ask.run],
            solution.starts[ask.until] + self.minutes(ask.until),
        )
    }

    fn plan(
        &self,
        planning: &Planning,
        solution: &Solution,
        bound: Bound,
        asks: &[Ask],
        handed: &[Vec<(usize, u32)>],
    ) -> Plan {
        let mut bookings = Vec::new();
        for (job, of) in self.jobs.iter().enumerate() {
            for (place, step) in of.steps.iter().enumerate() {
                let run = self.run_of[job][place];
                let from = solution.starts[run];
                // What a load shares is booked once, with its first member.
                let is_first = self.runs[run].members[0] == (job, place);
                let uses = asks
                    .iter()
                    .zip(handed)
                    .filter(|(ask, _)| is_first && ask.run == run);
                let uses = uses
                    .flat_map(|(ask, sets)| {
                        let (from, to) = self.span(ask, solution);
                        sets.iter().map(move |&(set, amount)| Use {
                            id: planning.lent[set].id.clone(),
                            from,
                            to,
                            amount,
                        })
                    })
                    .collect();
                bookings.push(PlannedBooking {
                    job: of.id.clone(),
                    key: step.key.clone(),
                    name: step.name.clone(),
                    from,
                    to: from + self.minutes(run),
                    is_attended: step.is_attended(),
                    uses,
                });
            }
        }
        Plan {
            bookings,
            tardiness: solution.tardiness,
            finish: solution.finish,
            moved: solution.moved,
            proven: solution.tardiness == bound.tardiness && solution.finish == bound.finish,
            bound,
            unlisted: self.unlisted.clone(),
        }
    }
}

/// The times that lie in a window of both; both sorted or not.
fn common(left: &[Window], right: &[Window]) -> Vec<Window> {
    let mut shared: Vec<Window> = left
        .iter()
        .flat_map(|one| {
            right.iter().map(|other| Window {
                from: one.from.max(other.from),
                to: one.to.min(other.to),
            })
        })
        .filter(|window| window.to > window.from)
        .collect();
    shared.sort_by_key(|window| (window.from, window.to));
    shared.dedup();
    shared
}
