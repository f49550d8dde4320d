//! The day: in clamps, next, lapsing, at risk; and what a screen on the wall shows of it.

use axum::extract::State;
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use super::body::Named;
use crate::app::App;
use crate::app::hours::Span;
use crate::app::today::{AtRisk, InClamps, NextThing, Risk, Today};
use crate::store::booking::{Booking, BookingState};
use crate::store::workshop;
use crate::web::{Error, Json, MaybeMember, Routes, Who};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Visitor, routes!(find_today))
        .api(Who::Visitor, routes!(find_wall))
}

/// A time in which the workshop is open.
#[derive(Serialize, ToSchema)]
struct OpenSpanBody {
    #[schema(value_type = String, format = DateTime)]
    from: Timestamp,
    #[schema(value_type = String, format = DateTime)]
    to: Timestamp,
    /// A steward is on duty, so the machines may run.
    machines: bool,
    /// Of an extra opening.
    note: String,
}

impl OpenSpanBody {
    fn new(span: &Span) -> OpenSpanBody {
        OpenSpanBody {
            from: span.from,
            to: span.to,
            machines: span.machines,
            note: span.note.clone(),
        }
    }
}

#[derive(Serialize, ToSchema)]
struct ClampsBody {
    #[schema(example = "long clamps")]
    name: String,
    amount: u32,
}

/// A panel that is in clamps.
#[derive(Serialize, ToSchema)]
struct PanelBody {
    project: Named,
    /// Nobody's name is told to guests.
    member: Option<Named>,
    clamps: Vec<ClampsBody>,
    /// When the glue has held for long enough.
    #[schema(value_type = String, format = DateTime)]
    may_come_out: Timestamp,
    is_ready: bool,
    /// The booking that takes the clamps off, and when.
    off: Option<i64>,
    #[schema(value_type = Option<String>, format = DateTime)]
    off_at: Option<Timestamp>,
}

/// A step with its time.
#[derive(Serialize, ToSchema)]
struct StepBody {
    booking: i64,
    project: Named,
    /// Nobody's name is told to guests.
    member: Option<Named>,
    #[schema(example = "Glue up")]
    name: String,
    #[schema(value_type = String, format = DateTime)]
    from: Timestamp,
    #[schema(value_type = String, format = DateTime)]
    to: Timestamp,
    is_running: bool,
}

/// What a screen on the wall shows.
#[derive(Serialize, ToSchema)]
struct WallBody {
    #[schema(example = "Sparrow Yard Workshop")]
    workshop: String,
    #[schema(example = "America/New_York")]
    time_zone: String,
    #[schema(value_type = String, format = DateTime)]
    now: Timestamp,
    /// The opening that has begun.
    open: Option<OpenSpanBody>,
    /// The openings of the next two weeks, soonest first.
    next: Vec<OpenSpanBody>,
    in_clamps: Vec<PanelBody>,
    /// Steps that somebody attends in the present opening, or in the next if it is shut.
    coming: Vec<StepBody>,
    /// Finishes that dry or cure.
    curing: Vec<StepBody>,
}

/// Pieces whose claim ends soon.
#[derive(Serialize, ToSchema)]
struct LapsingBody {
    claim: i64,
    project: Named,
    #[schema(example = "A017")]
    tag: String,
    pieces: u32,
    #[schema(value_type = String, format = Date)]
    last_day: String,
}

/// A project whose due day is at risk.
#[derive(Serialize, ToSchema)]
struct RiskBody {
    project: Named,
    member: Named,
    #[schema(value_type = String, format = Date)]
    due_day: String,
    /// `over`, `late`, `missed`, `not planned` or `too late`.
    #[schema(example = "late")]
    because: &'static str,
    /// When it is ready by what is booked, if that is late.
    #[schema(value_type = Option<String>, format = DateTime)]
    ready_at: Option<Timestamp>,
    /// How many days of work, drying and cure it takes at the least, where nothing is booked.
    least_days: Option<i64>,
    /// The step that nobody said to be done, where one was missed.
    missed_step: Option<String>,
}

/// Something that waits for the member and that is not booked.
#[derive(Serialize, ToSchema)]
struct ToDoBody {
    project: Named,
    /// `match`, `claim`, `plan` or `cut`.
    #[schema(example = "plan")]
    next: &'static str,
}

/// The day for whoever asks; stewards see everybody's.
#[derive(Serialize, ToSchema)]
struct TodayBody {
    wall: WallBody,
    /// Steps whose time has passed without anybody saying that they were done.
    missed: Vec<StepBody>,
    lapsing: Vec<LapsingBody>,
    at_risk: Vec<RiskBody>,
    to_do: Vec<ToDoBody>,
}

/// Prints for one caller.
struct Printer {
    is_member: bool,
    now: Timestamp,
}

impl Printer {
    fn member(&self, booking: &Booking) -> Option<Named> {
        self.is_member.then(|| Named {
            id: booking.member.0,
            name: booking.member_name.clone(),
        })
    }

    fn panel(&self, panel: &InClamps) -> PanelBody {
        PanelBody {
            project: project_of(&panel.booking),
            member: self.member(&panel.booking),
            clamps: panel
                .clamps
                .iter()
                .map(|(name, amount)| ClampsBody {
                    name: name.clone(),
                    amount: *amount,
                })
                .collect(),
            may_come_out: panel.may_come_out,
            is_ready: panel.may_come_out <= self.now,
            off: panel.off.as_ref().map(|off| off.id.0),
            off_at: panel.off.as_ref().map(|off| off.from),
        }
    }

    fn steps(&self, bookings: &[Booking]) -> Vec<StepBody> {
        bookings
            .iter()
            .map(|booking| StepBody {
                booking: booking.id.0,
                project: project_of(booking),
                member: self.member(booking),
                name: booking.name.clone(),
                from: booking.from,
                to: booking.to,
                is_running: booking.state == BookingState::Running,
            })
            .collect()
    }
}

fn project_of(booking: &Booking) -> Named {
    Named {
        id: booking.project.0,
        name: booking.project_name.clone(),
    }
}

fn risk(at_risk: &AtRisk) -> RiskBody {
    let project = &at_risk.project;
    let mut body = RiskBody {
        project: Named {
            id: project.id.0,
            name: project.about.name.clone(),
        },
        member: Named {
            id: project.member.0,
            name: project.member_name.clone(),
        },
        due_day: at_risk.due.to_string(),
        because: "over",
        ready_at: None,
        least_days: None,
        missed_step: None,
    };
    match &at_risk.risk {
        Risk::Over => {}
        Risk::Late { ready } => {
            body.because = "late";
            body.ready_at = Some(*ready);
        }
        Risk::Missed { step, .. } => {
            body.because = "missed";
            body.missed_step = Some(step.clone());
        }
        Risk::NotPlanned { least_days } => {
            body.because = "not planned";
            body.least_days = Some(*least_days);
        }
        Risk::TooLate { least_days } => {
            body.because = "too late";
            body.least_days = Some(*least_days);
        }
    }
    body
}

async fn load(app: &App, caller: &MaybeMember) -> Result<(Today, WallBody, Printer), Error> {
    let now = app.clock.now();
    let member = caller.0.as_ref().map(|caller| caller.member.id);
    let is_steward = caller
        .0
        .as_ref()
        .is_some_and(crate::app::Caller::is_steward);
    let mut db = app.store.read().acquire().await?;
    let workshop = workshop::get(&mut *db).await?;
    let today = Today::load(&mut db, now, member, is_steward).await?;
    let printer = Printer {
        is_member: member.is_some(),
        now,
    };
    let wall = WallBody {
        workshop: workshop.name,
        time_zone: workshop
            .time_zone
            .iana_name()
            .unwrap_or_default()
            .to_owned(),
        now,
        open: today.open.as_ref().map(OpenSpanBody::new),
        next: today.next.iter().map(OpenSpanBody::new).collect(),
        in_clamps: today
            .in_clamps
            .iter()
            .map(|panel| printer.panel(panel))
            .collect(),
        coming: printer.steps(&today.coming),
        curing: printer.steps(&today.curing),
    };
    Ok((today, wall, printer))
}

/// The day: what is in clamps and may come out when, what comes next, which claims lapse soon, which due days are at risk, and what
/// waits for the caller.
#[utoipa::path(get, path = "/api/v1/today", tag = "plans", security((), ("token" = [])),
    responses((status = 200, body = TodayBody)))]
async fn find_today(State(app): State<App>, caller: MaybeMember) -> Result<Json<TodayBody>, Error> {
    let (today, wall, printer) = load(&app, &caller).await?;
    Ok(Json(TodayBody {
        wall,
        missed: printer.steps(&today.missed),
        lapsing: today
            .lapsing
            .iter()
            .map(|claim| LapsingBody {
                claim: claim.id.0,
                project: Named {
                    id: claim.project.0,
                    name: claim.project_name.clone(),
                },
                tag: claim.tag.clone(),
                pieces: claim.pieces,
                last_day: claim.last_day.to_string(),
            })
            .collect(),
        at_risk: today.at_risk.iter().map(risk).collect(),
        to_do: today
            .to_do
            .iter()
            .map(|(project, next)| ToDoBody {
                project: Named {
                    id: project.id.0,
                    name: project.about.name.clone(),
                },
                next: match next {
                    NextThing::Match => "match",
                    NextThing::Claim => "claim",
                    NextThing::Plan => "plan",
                    NextThing::Cut => "cut",
                },
            })
            .collect(),
    }))
}

/// What a screen on the wall shows: whether the workshop is open, what is in clamps, what comes next.
#[utoipa::path(get, path = "/api/v1/wall", tag = "plans", security((), ("token" = [])),
    responses((status = 200, body = WallBody)))]
async fn find_wall(State(app): State<App>, caller: MaybeMember) -> Result<Json<WallBody>, Error> {
    let (_, wall, _) = load(&app, &caller).await?;
    Ok(Json(wall))
}
