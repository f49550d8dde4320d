//! The request that stands for a plan, and the bookings that its answer stands for.

use std::collections::{BTreeMap, BTreeSet};

use super::lending::{Ask, Lending, Sets};
use super::maker::{self, Makers};
use super::plan::{Given, Job, Lends, Opening, Plan, PlannedBooking, Planning, Use};
use super::step::{ClampAsk, Presence, Station, Step, StepKind};
use crate::calc::schedule::{
    After, Bound, Busy, Calendar, Due, Hold, Need, Request, Resource, Solution, Task, Window,
};
use crate::units::{Minutes, Newtons, WallMinute};

/// One task of the request: a step, or the steps of a clamp load that run as one.
struct Run {
    /// Job and place of the step, of each member.
    members: Vec<(usize, usize)>,
}

/// The parts of the request that do not change from round to round.
pub(super) struct Draft<'a> {
    jobs: &'a [Job],
    runs: Vec<Run>,
    /// The run of each step of each job.
    run_of: Vec<Vec<usize>>,
    /// Each from the start of a run to the end of a run.
    pub asks: Vec<Ask>,
    pub lending: Lending,
    makers: Makers,
    unlisted: Vec<Station>,
}

impl Draft<'_> {
    pub fn new(planning: &Planning) -> Draft<'_> {
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
            makers: Makers::new(planning),
            unlisted,
        };
        for run in 0..draft.runs.len() {
            draft.add_asks(run, planning, &load_clamps, &merged, &mut asks);
        }
        draft.lending.divide(&asks);
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
        let mut clamps: Vec<(usize, ClampAsk)> = Vec::new();
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
            clamps.extend(hold.clamps.iter().map(|ask| (until, *ask)));
        }
        let load = load_clamps
            .iter()
            .find(|(_, place)| merged[*place] == members);
        if let Some((load, _)) = load {
            let ask = planning.loads[*load].clamps;
            clamps.truncate(1);
            for (_, own) in &mut clamps {
                *own = ask;
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
                        force: Newtons::default(),
                        amount,
                        bound,
                    });
                }
                None if !self.unlisted.contains(&station) => self.unlisted.push(station),
                None => {}
            }
        }
        let family = self.lending.clamps();
        let together: u32 = clamps.iter().map(|(_, ask)| ask.number).sum();
        // What stays as it is keeps the very clamps that it has, whichever of its asks they serve.
        let bound = self.lending.bind(family, &handed, together);
        if let (Some(bound), Some((until, ask))) = (bound, clamps.first()) {
            asks.push(Ask {
                amount: together,
                bound: Some(bound),
                ..clamps_asked(run, family, &(*until, *ask))
            });
            return;
        }
        asks.extend(clamps.iter().map(|ask| clamps_asked(run, family, ask)));
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

    pub fn request(&self, planning: &Planning, asks: &[Ask]) -> Request {
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
                    .chain(self.makers_of(run))
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
            .chain(self.makers.resources().map(|maker| (maker, 1)))
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
        .chain(self.makers.busy())
        .collect()
    }

    /// Whose time the run takes. What stays where it is takes it whatever is planned, see [`Makers`].
    fn makers_of(&self, run: usize) -> Vec<Need> {
        if self.given(run).is_some() {
            return Vec::new();
        }
        let attended = self.runs[run]
            .members
            .iter()
            .filter(|member| self.step(**member).is_attended());
        let makers = attended.filter_map(|(job, _)| self.jobs[*job].maker.as_deref());
        let makers: BTreeSet<&str> = makers.filter(|maker| self.makers.has(maker)).collect();
        makers
            .into_iter()
            .map(|maker| Need {
                resource: maker::resource(maker),
                amount: 1,
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
    pub fn span(&self, ask: &Ask, solution: &Solution) -> (WallMinute, WallMinute) {
        (
            solution.starts[ask.run],
            solution.starts[ask.until] + self.minutes(ask.until),
        )
    }

    pub fn plan(
        &self,
        planning: &Planning,
        solution: &Solution,
        bound: Bound,
        asks: &[Ask],
        handed: &[Sets],
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

fn clamps_asked(run: usize, family: usize, (until, ask): &(usize, ClampAsk)) -> Ask {
    Ask {
        run,
        until: *until,
        family,
        level: ask.least_reach.nm(),
        force: ask.least_force,
        amount: ask.number,
        bound: None,
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
