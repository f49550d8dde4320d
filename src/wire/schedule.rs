//! The `schedule` calculation as JSON.

use std::time::Duration;

use serde::{Serialize, Serializer};
use utoipa::ToSchema;

use super::matching::{DEFAULT_TIME, Limits, MOST_THREADS, limits, or_default};
use super::problem::{FieldError, Problem};
use super::reading::{Node, Object, read};
use crate::calc::budget::Budget;
use crate::calc::schedule::{
    self, After, Busy, Calendar, Conflict, Due, Hold, MAX_ENTRIES, MAX_TASKS, Need, Outcome,
    Progress, Request, Resource, Solution, Step, Tardiness, Task, Weight, Window,
};
use crate::units::{Minutes, WallMinute};

/// The longest body that is read.
pub const MAX_BODY_BYTES: usize = 32 * 1024 * 1024;

/// Reads the body, solves within the budget that `budget` makes of the request's limits, and
/// checks the answer before it is given out.
///
/// The kind of the problem is `wrong-content`, `no-schedule` or `not-found-in-time`.
pub fn answer<'a>(
    body: &[u8],
    budget: impl FnOnce(Limits) -> Budget<'a>,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Response, Problem> {
    let (problem, limits) = problem(body)?;
    let budget = budget(limits);
    match schedule::solve(&problem, &budget, progress) {
        Outcome::Scheduled(solution) => {
            checked(problem.request(), &solution)?;
            Ok(Response::new(
                problem.request(),
                &solution,
                budget.elapsed(),
            ))
        }
        Outcome::NoSchedule(conflict) => Err(no_schedule(&conflict)),
        Outcome::NotFoundInTime => Err(not_found_in_time()),
    }
}

fn checked(request: &Request, solution: &Solution) -> Result<(), Problem> {
    let wrong = match schedule::check(request, &solution.starts) {
        Ok(figures)
            if (figures.tardiness, figures.finish) == (solution.tardiness, solution.finish) =>
        {
            return Ok(());
        }
        Ok(_) => "the figures differ from the recomputed ones".to_owned(),
        Err(violations) => {
            let violations: Vec<String> = violations.iter().map(ToString::to_string).collect();
            violations.join("; ")
        }
    };
    Err(Problem {
        kind: "wrong-answer",
        status: 500,
        title: "The answer did not pass its own check".to_owned(),
        detail: wrong,
        errors: Vec::new(),
    })
}

/// There is no schedule, proven.
pub fn no_schedule(conflict: &Conflict) -> Problem {
    Problem {
        kind: "no-schedule",
        status: 422,
        title: "No schedule keeps all rules".to_owned(),
        detail: conflict.reasons.join(" "),
        errors: Vec::new(),
    }
}

/// No schedule was found, and none was proven impossible.
pub fn not_found_in_time() -> Problem {
    Problem {
        kind: "not-found-in-time",
        status: 422,
        title: "No schedule was found in time".to_owned(),
        detail: "There may be one: allow more `seconds`, a later `to` or more openings.".to_owned(),
        errors: Vec::new(),
    }
}

/// Reads a request and its limits.
pub fn parse(body: &[u8]) -> Result<(Request, Limits), Problem> {
    at_most(body)?;
    read(body, request)
}

/// Reads a request and checks what it means: what cannot be read and what cannot be right is told at once.
fn problem(body: &[u8]) -> Result<(schedule::Problem, Limits), Problem> {
    at_most(body)?;
    read(body, |body| {
        let (request, limits) = request(body.clone())?;
        match schedule::Problem::new(request) {
            Ok(problem) => Some((problem, limits)),
            Err(flaws) => {
                for flaw in flaws {
                    body.note(FieldError {
                        pointer: pointer(&flaw.path),
                        detail: flaw.detail,
                    });
                }
                None
            }
        }
    })
}

fn at_most(body: &[u8]) -> Result<(), Problem> {
    if body.len() <= MAX_BODY_BYTES {
        return Ok(());
    }
    Err(Problem::wrong_content(vec![FieldError {
        pointer: String::new(),
        detail: format!(
            "is {} bytes long; must be at most {MAX_BODY_BYTES}",
            body.len()
        ),
    }]))
}

fn pointer(path: &[Step]) -> String {
    path.iter()
        .map(|step| match step {
            Step::Field(name) => format!("/{name}"),
            Step::Index(index) => format!("/{index}"),
            // RFC 6901, section 4: "~" and "/" inside a name are written "~0" and "~1".
            Step::Key(key) => format!("/{}", key.replace('~', "~0").replace('/', "~1")),
        })
        .collect()
}

/// The request, with something harmless in the place of what could not be read and is noted, so that the rest can be
/// looked at too. Nothing where too little is left to be sure of what is meant: the names of things.
fn request(body: Node<'_>) -> Option<(Request, Limits)> {
    let body = body.object(&[
        "from",
        "to",
        "calendars",
        "resources",
        "tasks",
        "holds",
        "busy",
        "due",
        "prefer",
        "limits",
    ])?;
    let from = body.required("from", |field| field.wall_minute());
    let to = body.required("to", |field| field.wall_minute());
    let (from, to) = (from.or(to)?, to.or(from)?);
    let calendars = or_default(&body, "calendars", Vec::new(), |field| {
        let read: Vec<_> = field
            .table()?
            .into_iter()
            .map(|entry| calendar(entry, from))
            .collect();
        read.into_iter().collect()
    });
    let resources = body.required("resources", |field| {
        field.list_of_at_most(MAX_ENTRIES, resource)
    });
    let tasks = body.required("tasks", |field| field.list_of_at_most(MAX_TASKS, task));
    let holds = list(&body, "holds", hold);
    let busy = list(&body, "busy", |node| busy(node, from));
    let due = list(&body, "due", |node| due(node, from));
    let prefer = list(&body, "prefer", |node| preferred(node, from));
    let usual = Limits {
        time: DEFAULT_TIME,
        threads: MOST_THREADS,
    };
    let limits = match body.field("limits") {
        Some(field) => limits(field).unwrap_or(usual),
        None => usual,
    };
    let request = Request {
        from,
        to,
        calendars: calendars?,
        resources: resources?,
        tasks: tasks?,
        holds: holds?,
        busy: busy?,
        due: due?,
        prefer: prefer?,
    };
    Some((request, limits))
}

/// The list `name`, empty where it is left out.
fn list<'a, T>(
    object: &Object<'a>,
    name: &str,
    element: impl FnMut(Node<'a>) -> Option<T>,
) -> Option<Vec<T>> {
    or_default(object, name, Vec::new(), |field| {
        field.list_of_at_most(MAX_ENTRIES, element)
    })
}

/// The field `name`; `Some(None)` where it is left out or `null`.
fn or_nothing<'a, T>(
    object: &Object<'a>,
    name: &str,
    read: impl FnOnce(Node<'a>) -> Option<T>,
) -> Option<Option<T>> {
    or_default(object, name, None, |field| {
        if field.is_null() {
            Some(None)
        } else {
            read(field).map(Some)
        }
    })
}

/// The ends of a span; where one cannot be read it has no length.
fn span(object: &Object<'_>, otherwise: WallMinute) -> (WallMinute, WallMinute) {
    let from = object.required("from", |field| field.wall_minute());
    let to = object.required("to", |field| field.wall_minute());
    match (from, to) {
        (Some(from), Some(to)) => (from, to),
        (one, other) => {
            let known = one.or(other).unwrap_or(otherwise);
            (known, known)
        }
    }
}

fn calendar((id, node): (&str, Node<'_>), otherwise: WallMinute) -> Option<Calendar> {
    let windows = node.list_of_at_most(MAX_ENTRIES, |node| {
        let (from, to) = span(&node.object(&["from", "to"])?, otherwise);
        Some(Window { from, to })
    });
    Some(Calendar {
        id: id.to_owned(),
        windows: windows.unwrap_or_default(),
    })
}

fn resource(node: Node<'_>) -> Option<Resource> {
    let object = node.object(&["id", "capacity"])?;
    let id = object.required("id", |field| field.text());
    let capacity = object.required("capacity", amount);
    Some(Resource {
        id: id?.to_owned(),
        capacity: capacity.unwrap_or_default(),
    })
}

fn amount(field: Node<'_>) -> Option<u32> {
    let amount = field.whole(0..=i64::from(u32::MAX))?;
    u32::try_from(amount).ok()
}

fn minutes(field: Node<'_>) -> Option<Minutes> {
    field.whole(0..=i64::MAX).map(Minutes)
}

fn needs(field: Node<'_>) -> Option<Vec<Need>> {
    let entries = field.table()?;
    let read: Vec<_> = entries
        .into_iter()
        .map(|(resource, node)| {
            Some(Need {
                resource: resource.to_owned(),
                amount: amount(node)?,
            })
        })
        .collect();
    read.into_iter().collect()
}

fn task(node: Node<'_>) -> Option<Task> {
    let object = node.object(&["id", "minutes", "calendar", "needs", "after", "at"])?;
    let id = object.required("id", |field| field.text());
    let length = object.required("minutes", minutes);
    let calendar = or_nothing(&object, "calendar", |field| Some(field.text()?.to_owned()));
    let needs = or_default(&object, "needs", Vec::new(), needs);
    let after = list(&object, "after", after);
    let at = or_nothing(&object, "at", |field| field.wall_minute());
    Some(Task {
        id: id?.to_owned(),
        minutes: length.unwrap_or(Minutes(0)),
        calendar: calendar.unwrap_or_default(),
        needs: needs.unwrap_or_default(),
        after: after.unwrap_or_default(),
        at: at.unwrap_or_default(),
    })
}

fn after(node: Node<'_>) -> Option<After> {
    let object = node.object(&["task", "min_gap", "max_gap"])?;
    let task = object.required("task", |field| field.text());
    let min_gap = or_default(&object, "min_gap", Minutes(0), minutes);
    let max_gap = or_nothing(&object, "max_gap", minutes);
    Some(After {
        task: task?.to_owned(),
        min_gap: min_gap.unwrap_or(Minutes(0)),
        max_gap: max_gap.unwrap_or_default(),
    })
}

fn hold(node: Node<'_>) -> Option<Hold> {
    let object = node.object(&["from", "to", "needs"])?;
    let from = object.required("from", |field| field.text());
    let to = object.required("to", |field| field.text());
    let needs = object.required("needs", needs);
    Some(Hold {
        from: from?.to_owned(),
        to: to?.to_owned(),
        needs: needs.unwrap_or_default(),
    })
}

fn busy(node: Node<'_>, otherwise: WallMinute) -> Option<Busy> {
    let object = node.object(&["resource", "from", "to", "amount"])?;
    let resource = object.required("resource", |field| field.text());
    let (from, to) = span(&object, otherwise);
    let amount = object.required("amount", amount);
    Some(Busy {
        resource: resource?.to_owned(),
        from,
        to,
        amount: amount.unwrap_or_default(),
    })
}

fn due(node: Node<'_>, otherwise: WallMinute) -> Option<Due> {
    let object = node.object(&["task", "by", "weight"])?;
    let task = object.required("task", |field| field.text());
    let by = object.required("by", |field| field.wall_minute());
    let weight = or_default(&object, "weight", Weight::ONE, |field| {
        let text = field.decimal()?;
        match Weight::parse(&text) {
            Some(weight) => Some(weight),
            None => field.refuse(format!(
                "is {text}; must be a number from 0 to 1000 with at most nine decimal places"
            )),
        }
    });
    Some(Due {
        task: task?.to_owned(),
        by: by.unwrap_or(otherwise),
        weight: weight.unwrap_or(Weight::ONE),
    })
}

/// A start to keep where tardiness and finish allow it.
fn preferred(node: Node<'_>, otherwise: WallMinute) -> Option<(String, WallMinute)> {
    let object = node.object(&["task", "at"])?;
    let task = object.required("task", |field| field.text());
    let at = object.required("at", |field| field.wall_minute());
    Some((task?.to_owned(), at.unwrap_or(otherwise)))
}

/// The best schedule found, and how good any schedule can be. Times are wall-clock minutes.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = ScheduleResponse)]
pub struct Response {
    /// The start of each task by its id.
    #[serde(serialize_with = "as_object")]
    #[schema(value_type = std::collections::HashMap<String, String>, example = json!({"P7 mill": "2027-03-01T10:00"}))]
    pub starts: Vec<(String, String)>,
    /// The sum of weight times minutes late.
    #[schema(value_type = f64)]
    pub tardiness_minutes: serde_json::Number,
    /// The end of the last task.
    #[schema(example = "2027-03-02T10:15")]
    pub finish: String,
    pub bound: Bound,
    /// Whether both bounds equal their values.
    pub proven: bool,
    /// How many tasks of `prefer` start at another time.
    pub moved: usize,
    pub seconds: f64,
}

/// What no schedule can beat.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = ScheduleBound)]
pub struct Bound {
    /// Holds for every schedule.
    #[schema(value_type = f64)]
    pub tardiness_minutes: serde_json::Number,
    /// Holds for every schedule that is at most as late as this one.
    pub finish: String,
}

impl Response {
    /// The face of a solution of `request`.
    pub fn new(request: &Request, solution: &Solution, elapsed: Duration) -> Response {
        let starts = request.tasks.iter().zip(&solution.starts);
        Response {
            starts: starts
                .map(|(task, start)| (task.id.clone(), start.to_string()))
                .collect(),
            tardiness_minutes: number(solution.tardiness),
            finish: solution.finish.to_string(),
            bound: Bound {
                tardiness_minutes: number(solution.bound.tardiness),
                finish: solution.bound.finish.to_string(),
            },
            proven: solution.proven,
            moved: solution.moved,
            seconds: (elapsed.as_secs_f64() * 1e6).round() / 1e6,
        }
    }
}

/// A whole number where it is one.
fn number(tardiness: Tardiness) -> serde_json::Number {
    let text = tardiness.to_string();
    text.parse()
        .expect("a decimal of digits and at most one point is a number")
}

fn as_object<S: Serializer>(
    entries: &[(String, String)],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    serializer.collect_map(entries.iter().map(|(name, value)| (name, value)))
}
