//! A checked problem: every name resolved, every flaw reported at once.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::flaw::{Flaw, Flaws, Step, field, index_ids, place};
use super::request::{Need, Request};
use crate::units::{Minutes, WallMinute};

/// The most tasks of one problem.
pub const MAX_TASKS: usize = 20_000;
/// The most of each further kind of entry: resources, links, needs, holds, windows, dates.
pub const MAX_ENTRIES: usize = 100_000;
/// The most intervals in which tasks of distinct calendars and lengths may start, all together.
const MAX_START_INTERVALS: usize = 4_000_000;
/// The longest time that may be counted with: about a hundred years.
pub const LONGEST: Minutes = Minutes(100 * 366 * 1440);
/// Starts that a task's calendar allows, in minutes after the request's `from`: disjoint closed
/// intervals in order.
pub(super) type StartIntervals = Vec<(i64, i64)>;

/// A task with its names resolved. Times are minutes after the request's `from`.
#[derive(Clone, Debug)]
pub(super) struct Job {
    pub minutes: i64,
    /// Index into `Problem::start_sets`.
    pub start_set: usize,
    pub fixed: bool,
    pub needs: Vec<(usize, i64)>,
    pub after: Vec<Link>,
    pub before: Vec<Link>,
    /// Holds that begin or end with this task.
    pub holds: Vec<usize>,
    /// Minute and weight, weights in units of `Problem::weight_unit`.
    pub due: Vec<(i64, i64)>,
    /// The start that is preferred, if one is.
    pub prefer: Option<i64>,
}

/// A link to another task: that one is the earlier in `after` and the later in `before`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Link {
    pub job: usize,
    pub min_gap: i64,
    pub max_gap: Option<i64>,
}

/// Use from the start of one job to the end of another. (A hold of one job is among its needs.)
#[derive(Clone, Debug)]
pub(super) struct Holding {
    pub from: usize,
    pub to: usize,
    pub needs: Vec<(usize, i64)>,
}

/// A span of use by others.
#[derive(Clone, Copy, Debug)]
pub(super) struct Occupied {
    pub resource: usize,
    pub from: i64,
    pub to: i64,
    pub amount: i64,
}

/// A request whose names and numbers are right. It may still have no schedule.
#[derive(Clone, Debug)]
pub struct Problem {
    pub(super) request: Arc<Request>,
    pub(super) horizon: i64,
    pub(super) capacity: Vec<i64>,
    pub(super) jobs: Vec<Job>,
    pub(super) holds: Vec<Holding>,
    pub(super) busy: Vec<Occupied>,
    pub(super) start_sets: Arc<Vec<StartIntervals>>,
    /// Billionths that one unit of weight stands for.
    pub(super) weight_unit: i64,
}

impl Problem {
    /// Resolves all names and checks all numbers.
    ///
    /// What is well formed but impossible (a need above a capacity, a circle) is no flaw: solving
    /// tells it as a conflict.
    pub fn new(request: Request) -> Result<Problem, Vec<Flaw>> {
        let mut flaws = Flaws {
            list: Vec::new(),
            more: 0,
        };
        check_sizes(&request, &mut flaws);
        if !flaws.list.is_empty() {
            return Err(flaws.list);
        }
        let built = build(&request, &mut flaws);
        if flaws.more > 0 {
            let detail = format!("has {} more flaws like these", flaws.more);
            flaws.list.push(Flaw {
                path: Vec::new(),
                detail,
            });
        }
        if !flaws.list.is_empty() {
            return Err(flaws.list);
        }
        Ok(Problem {
            request: Arc::new(request),
            ..built
        })
    }

    /// The request that was checked.
    pub fn request(&self) -> &Request {
        &self.request
    }

    /// The wall-clock minute that is `offset` minutes after the request's `from`.
    pub(super) fn wall(&self, offset: i64) -> WallMinute {
        self.request.from + Minutes(offset)
    }

    /// The problem of these jobs alone, what they use and the links and holds between them.
    /// Its request stays the whole one.
    pub(super) fn restricted(&self, keep: &[usize]) -> Problem {
        let mut place = vec![usize::MAX; self.jobs.len()];
        for (i, &job) in keep.iter().enumerate() {
            place[job] = i;
        }
        let links = |list: &[Link]| {
            let kept = list.iter().filter(|link| place[link.job] != usize::MAX);
            kept.map(|link| Link {
                job: place[link.job],
                ..*link
            })
            .collect()
        };
        let mut jobs: Vec<Job> = keep
            .iter()
            .map(|&job| {
                let job = &self.jobs[job];
                let (after, before) = (links(&job.after), links(&job.before));
                Job {
                    after,
                    before,
                    holds: Vec::new(),
                    ..job.clone()
                }
            })
            .collect();
        let mut holds = Vec::new();
        for hold in &self.holds {
            let (from, to) = (place[hold.from], place[hold.to]);
            if from != usize::MAX && to != usize::MAX {
                jobs[from].holds.push(holds.len());
                jobs[to].holds.push(holds.len());
                holds.push(Holding {
                    from,
                    to,
                    needs: hold.needs.clone(),
                });
            }
        }
        Problem {
            jobs,
            holds,
            ..self.clone()
        }
    }

    pub(super) fn starts_of(&self, job: usize) -> &StartIntervals {
        &self.start_sets[self.jobs[job].start_set]
    }
}

fn check_sizes(request: &Request, flaws: &mut Flaws) {
    let links = request.tasks.iter().map(|task| task.after.len()).sum();
    let needs = request
        .tasks
        .iter()
        .map(|task| task.needs.len())
        .sum::<usize>()
        + request
            .holds
            .iter()
            .map(|hold| hold.needs.len())
            .sum::<usize>();
    let windows = request
        .calendars
        .iter()
        .map(|calendar| calendar.windows.len())
        .sum();
    for (name, what, count, most) in [
        ("tasks", "tasks", request.tasks.len(), MAX_TASKS),
        ("tasks", "links in `after`", links, MAX_ENTRIES),
        ("tasks", "needs", needs, MAX_ENTRIES),
        (
            "calendars",
            "calendars",
            request.calendars.len(),
            MAX_ENTRIES,
        ),
        ("calendars", "windows", windows, MAX_ENTRIES),
        (
            "resources",
            "resources",
            request.resources.len(),
            MAX_ENTRIES,
        ),
        ("holds", "holds", request.holds.len(), MAX_ENTRIES),
        ("busy", "entries", request.busy.len(), MAX_ENTRIES),
        ("due", "entries", request.due.len(), MAX_ENTRIES),
        ("prefer", "entries", request.prefer.len(), MAX_ENTRIES),
    ] {
        if count > most {
            flaws.add(
                vec![field(name)],
                format!("has {count} {what}; must be at most {most}"),
            );
        }
    }
}

fn build(request: &Request, flaws: &mut Flaws) -> Problem {
    let from = request.from.0;
    let horizon = request.to.0 - from;
    if horizon < 0 {
        flaws.add(
            vec![field("to")],
            format!(
                "is {}; must not be before `from`, {}",
                request.to, request.from
            ),
        );
    } else if horizon > LONGEST.0 {
        flaws.add(
            vec![field("to")],
            "is more than a hundred years after `from`".to_string(),
        );
    }
    let near = |minute: WallMinute| (minute.0 - from).abs() <= LONGEST.0;

    let calendars = index_ids(
        request
            .calendars
            .iter()
            .map(|calendar| calendar.id.as_str()),
        |i| {
            vec![
                field("calendars"),
                Step::Key(request.calendars[i].id.clone()),
            ]
        },
        flaws,
    );
    for calendar in &request.calendars {
        for (i, window) in calendar.windows.iter().enumerate() {
            if window.to < window.from {
                let path = vec![
                    field("calendars"),
                    Step::Key(calendar.id.clone()),
                    Step::Index(i),
                    field("to"),
                ];
                flaws.add(
                    path,
                    format!(
                        "is {}; must not be before `from`, {}",
                        window.to, window.from
                    ),
                );
            }
        }
    }
    let resources = index_ids(
        request
            .resources
            .iter()
            .map(|resource| resource.id.as_str()),
        |i| place("resources", i, "id"),
        flaws,
    );
    let tasks = index_ids(
        request.tasks.iter().map(|task| task.id.as_str()),
        |i| place("tasks", i, "id"),
        flaws,
    );

    let weight_unit = weight_unit(request);
    let mut start_sets = Vec::new();
    let mut set_of: BTreeMap<(Option<usize>, i64), usize> = BTreeMap::new();
    let mut intervals_total = 0;
    let mut jobs = Vec::with_capacity(request.tasks.len());
    for (i, task) in request.tasks.iter().enumerate() {
        let minutes = task.minutes.0;
        if !(0..=LONGEST.0).contains(&minutes) {
            flaws.add(
                place("tasks", i, "minutes"),
                format!("is {minutes}; must be from 0 to {}", LONGEST.0),
            );
        }
        // What is flawed is looked at further, for the other flaws.
        let minutes = minutes.clamp(0, LONGEST.0);
        let calendar = task.calendar.as_deref().and_then(|id| {
            let known = calendars.get(id).copied();
            if known.is_none() {
                flaws.add(
                    place("tasks", i, "calendar"),
                    format!("is {id:?}; must be a calendar's id"),
                );
            }
            known
        });
        if let Some(at) = task.at
            && !near(at)
        {
            flaws.add(
                place("tasks", i, "at"),
                format!("is {at}, more than a hundred years off"),
            );
        }
        let needs = read_needs(&task.needs, &resources, &place("tasks", i, "needs"), flaws);
        let mut after = Vec::with_capacity(task.after.len());
        for (j, link) in task.after.iter().enumerate() {
            let path = |name| {
                let mut path = place("tasks", i, "after");
                path.extend([Step::Index(j), field(name)]);
                path
            };
            let gaps = [("min_gap", Some(link.min_gap)), ("max_gap", link.max_gap)];
            for (name, gap) in gaps
                .into_iter()
                .filter_map(|(name, gap)| Some((name, gap?.0)))
            {
                if !(0..=LONGEST.0).contains(&gap) {
                    flaws.add(
                        path(name),
                        format!("is {gap}; must be from 0 to {}", LONGEST.0),
                    );
                }
            }
            match tasks.get(link.task.as_str()) {
                Some(&job) => after.push(Link {
                    job,
                    min_gap: link.min_gap.0,
                    max_gap: link.max_gap.map(|gap| gap.0),
                }),
                None => flaws.add(
                    path("task"),
                    format!("is {:?}; must be a task's id", link.task),
                ),
            }
        }
        let start_set = match task.at {
            Some(at) => {
                start_sets.push(vec![(at.0 - from, at.0 - from)]);
                start_sets.len() - 1
            }
            None => *set_of.entry((calendar, minutes)).or_insert_with(|| {
                let windows = calendar.map(|calendar| &request.calendars[calendar].windows);
                let set = if intervals_total > MAX_START_INTERVALS {
                    Vec::new()
                } else {
                    start_intervals(windows.map(Vec::as_slice), from, horizon, minutes)
                };
                intervals_total += set.len();
                start_sets.push(set);
                start_sets.len() - 1
            }),
        };
        jobs.push(Job {
            minutes,
            start_set,
            fixed: task.at.is_some(),
            needs,
            after,
            before: Vec::new(),
            holds: Vec::new(),
            due: Vec::new(),
            prefer: None,
        });
    }
    if intervals_total > MAX_START_INTERVALS {
        flaws.add(
            vec![field("calendars")],
            format!(
                "leave more than {MAX_START_INTERVALS} intervals for tasks to start in; must be fewer windows"
            ),
        );
    }
    for job in 0..jobs.len() {
        for link in jobs[job].after.clone() {
            jobs[link.job].before.push(Link { job, ..link });
        }
    }

    let holds = read_holds(request, &tasks, &resources, &mut jobs, flaws);
    let busy = read_busy(request, &resources, near, flaws);
    read_dates(request, &tasks, weight_unit, near, &mut jobs, flaws);
    Problem {
        request: Arc::default(),
        horizon,
        capacity: request
            .resources
            .iter()
            .map(|resource| i64::from(resource.capacity))
            .collect(),
        jobs,
        holds,
        busy,
        start_sets: Arc::new(start_sets),
        weight_unit,
    }
}

/// The greatest number of billionths of which every weight is a multiple.
fn weight_unit(request: &Request) -> i64 {
    let mut unit = 0;
    for due in &request.due {
        let (mut a, mut b) = (unit, due.weight.billionths());
        while b != 0 {
            (a, b) = (b, a % b);
        }
        unit = a;
    }
    unit.max(1)
}

/// Amounts by resource; amounts of zero are left out and several of one resource are summed.
fn read_needs(
    needs: &[Need],
    resources: &BTreeMap<&str, usize>,
    path: &[Step],
    flaws: &mut Flaws,
) -> Vec<(usize, i64)> {
    let mut read: BTreeMap<usize, i64> = BTreeMap::new();
    for need in needs {
        match resources.get(need.resource.as_str()) {
            Some(&resource) if need.amount > 0 => {
                *read.entry(resource).or_default() += i64::from(need.amount);
            }
            Some(_) => {}
            None => {
                let mut path = path.to_vec();
                path.push(Step::Key(need.resource.clone()));
                flaws.add(
                    path,
                    format!("is a need of {:?}; must be a resource's id", need.resource),
                );
            }
        }
    }
    read.into_iter().collect()
}

fn read_holds(
    request: &Request,
    tasks: &BTreeMap<&str, usize>,
    resources: &BTreeMap<&str, usize>,
    jobs: &mut [Job],
    flaws: &mut Flaws,
) -> Vec<Holding> {
    let mut holds = Vec::with_capacity(request.holds.len());
    let mut reached = vec![usize::MAX; jobs.len()];
    for (i, hold) in request.holds.iter().enumerate() {
        let needs = read_needs(&hold.needs, resources, &place("holds", i, "needs"), flaws);
        let mut known = |name, id: &str| {
            let task = tasks.get(id).copied();
            if task.is_none() {
                flaws.add(
                    place("holds", i, name),
                    format!("is {id:?}; must be a task's id"),
                );
            }
            task
        };
        let (from, to) = (known("from", &hold.from), known("to", &hold.to));
        let (Some(from), Some(to)) = (from, to) else {
            continue;
        };
        if !comes_after(jobs, from, to, &mut reached, i) {
            flaws.add(
                place("holds", i, "to"),
                format!(
                    "is {:?}; must be `from` or come after it, {:?}",
                    hold.to, hold.from
                ),
            );
            continue;
        }
        if from == to {
            for (resource, amount) in needs {
                match jobs[from].needs.iter_mut().find(|need| need.0 == resource) {
                    Some(need) => need.1 += amount,
                    None => jobs[from].needs.push((resource, amount)),
                }
            }
        } else if !needs.is_empty() {
            jobs[from].holds.push(holds.len());
            jobs[to].holds.push(holds.len());
            holds.push(Holding { from, to, needs });
        }
    }
    holds
}

/// Whether `to` is `from` or follows it through links. `reached` holds the number of the last
/// search that came by each job.
fn comes_after(jobs: &[Job], from: usize, to: usize, reached: &mut [usize], search: usize) -> bool {
    let mut open = vec![from];
    reached[from] = search;
    while let Some(job) = open.pop() {
        if job == to {
            return true;
        }
        for link in &jobs[job].before {
            if reached[link.job] != search {
                reached[link.job] = search;
                open.push(link.job);
            }
        }
    }
    false
}

fn read_busy(
    request: &Request,
    resources: &BTreeMap<&str, usize>,
    near: impl Fn(WallMinute) -> bool,
    flaws: &mut Flaws,
) -> Vec<Occupied> {
    let from = request.from.0;
    let mut busy = Vec::with_capacity(request.busy.len());
    for (i, entry) in request.busy.iter().enumerate() {
        if entry.to < entry.from {
            flaws.add(
                place("busy", i, "to"),
                format!("is {}; must not be before `from`, {}", entry.to, entry.from),
            );
        }
        for (name, minute) in [("from", entry.from), ("to", entry.to)] {
            if !near(minute) {
                flaws.add(
                    place("busy", i, name),
                    format!("is {minute}, more than a hundred years off"),
                );
            }
        }
        match resources.get(entry.resource.as_str()) {
            Some(&resource) => {
                if entry.amount > 0 && entry.from < entry.to {
                    busy.push(Occupied {
                        resource,
                        from: entry.from.0 - from,
                        to: entry.to.0 - from,
                        amount: i64::from(entry.amount),
                    });
                }
            }
            None => flaws.add(
                place("busy", i, "resource"),
                format!("is {:?}; must be a resource's id", entry.resource),
            ),
        }
    }
    busy
}

fn read_dates(
    request: &Request,
    tasks: &BTreeMap<&str, usize>,
    weight_unit: i64,
    near: impl Fn(WallMinute) -> bool,
    jobs: &mut [Job],
    flaws: &mut Flaws,
) {
    let from = request.from.0;
    let mut weights: i128 = 0;
    for (i, due) in request.due.iter().enumerate() {
        if !near(due.by) {
            flaws.add(
                place("due", i, "by"),
                format!("is {}, more than a hundred years off", due.by),
            );
        }
        match tasks.get(due.task.as_str()) {
            Some(&job) => {
                let weight = due.weight.billionths() / weight_unit;
                if weight > 0 {
                    weights += i128::from(weight);
                    jobs[job].due.push((due.by.0 - from, weight));
                }
            }
            None => {
                flaws.add(
                    place("due", i, "task"),
                    format!("is {:?}; must be a task's id", due.task),
                );
            }
        }
    }
    // No task ends later than twice the longest time after `from`, nor is due earlier than once before.
    if weights * 3 * i128::from(LONGEST.0) > i128::from(i64::MAX / 4) {
        flaws.add(
            vec![field("due")],
            "has weights whose sum is too large to be exact; must have fewer decimal places"
                .to_string(),
        );
    }
    for (i, (task, at)) in request.prefer.iter().enumerate() {
        match tasks.get(task.as_str()) {
            Some(&job) if near(*at) => jobs[job].prefer = Some(at.0 - from),
            Some(_) => {
                flaws.add(
                    place("prefer", i, "at"),
                    format!("is {at}, more than a hundred years off"),
                );
            }
            None => {
                flaws.add(
                    place("prefer", i, "task"),
                    format!("is {task:?}; must be a task's id"),
                );
            }
        }
    }
}

/// Where a task of `minutes` may start so that it lies inside one window and the horizon.
fn start_intervals(
    windows: Option<&[super::request::Window]>,
    from: i64,
    horizon: i64,
    minutes: i64,
) -> StartIntervals {
    let latest = horizon - minutes;
    let mut intervals: StartIntervals = match windows {
        None => vec![(0, latest)],
        Some(windows) => windows
            .iter()
            .map(|window| {
                (
                    (window.from.0 - from).max(0),
                    (window.to.0 - from - minutes).min(latest),
                )
            })
            .collect(),
    };
    intervals.retain(|(first, last)| first <= last);
    intervals.sort_unstable();
    let mut merged: StartIntervals = Vec::with_capacity(intervals.len());
    for (first, last) in intervals {
        match merged.last_mut() {
            Some(previous) if first <= previous.1 + 1 => previous.1 = previous.1.max(last),
            _ => merged.push((first, last)),
        }
    }
    merged
}
