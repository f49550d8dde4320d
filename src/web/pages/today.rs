//! Today: what is in clamps, what comes next, what lapses and what is at risk; the same in large type for a screen on the wall.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use jiff::Timestamp;

use crate::app::App;
use crate::app::hours::Span;
use crate::app::start::FirstHour;
use crate::app::today::{AtRisk, InClamps, NextThing, Risk, Today};
use crate::store::booking::{Booking, BookingState};
use crate::store::claim::Claim;
use crate::store::{BookingId, ProjectId};
use crate::web::local_time::LocalTime;
use crate::web::{Error, MaybeMember, Routes, Section, Shell, Who, page, words};

#[derive(Template)]
#[template(path = "today.html")]
struct TodayPage {
    shell: Shell,
    date: String,
    now: OpenNow,
    panels: Vec<PanelLine>,
    curing: Vec<StepLine>,
    coming_title: String,
    mine: Vec<StepLine>,
    others: Vec<StepLine>,
    missed: Vec<StepLine>,
    lapsing: Vec<LapseLine>,
    risks: Vec<RiskLine>,
    to_do: Vec<ToDoLine>,
    week: Vec<(String, String)>,
    is_member: bool,
    /// A steward is led through what a first project still needs.
    needs_first_hour: bool,
}

#[derive(Template)]
#[template(path = "wall.html")]
struct WallPage {
    shell: Shell,
    date: String,
    clock: String,
    now: OpenNow,
    panels: Vec<PanelLine>,
    coming_title: String,
    coming: Vec<StepLine>,
    curing: Vec<StepLine>,
}

/// Whether the workshop is open.
struct OpenNow {
    is_open: bool,
    words: String,
    machines: bool,
    note: String,
}

struct PanelLine {
    project: ProjectId,
    project_name: String,
    /// Nobody's name is told to guests.
    who: Option<String>,
    clamps: String,
    out: String,
    is_ready: bool,
    booked: Option<String>,
    off: Option<BookingId>,
    is_mine: bool,
}

struct StepLine {
    booking: BookingId,
    project_name: String,
    who: Option<String>,
    name: String,
    time: String,
    is_running: bool,
}

struct LapseLine {
    project: ProjectId,
    words: String,
    is_today: bool,
}

struct RiskLine {
    project: ProjectId,
    name: String,
    who: Option<String>,
    due: String,
    words: String,
    cure: &'static str,
}

struct ToDoLine {
    project: ProjectId,
    name: String,
    button: &'static str,
    page: &'static str,
    words: &'static str,
}

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/", Who::Visitor, show)
        .get("/wall", Who::Visitor, wall)
}

fn span_words(span: &Span, time: &LocalTime) -> String {
    let day = time.day(span.from);
    let which = match (day - time.today()).get_days() {
        0 => "today".to_owned(),
        1 => "tomorrow".to_owned(),
        _ => words::short_day(day),
    };
    format!("{which}, {}", time.span(span.from, span.to))
}

fn open_now(today: &Today, time: &LocalTime) -> OpenNow {
    match (&today.open, today.next.first()) {
        (Some(span), _) => OpenNow {
            is_open: true,
            words: format!("Open until {}.", time.clock(span.to)),
            machines: span.machines,
            note: span.note.clone(),
        },
        (None, Some(span)) => OpenNow {
            is_open: false,
            words: format!("Shut now. Open again {}.", span_words(span, time)),
            machines: span.machines,
            note: span.note.clone(),
        },
        (None, None) => OpenNow {
            is_open: false,
            words: "Shut now, and no opening is written for the next two weeks.".to_owned(),
            machines: false,
            note: String::new(),
        },
    }
}

/// What the page knows of whoever looks.
struct Viewer<'a> {
    time: &'a LocalTime,
    shell: &'a Shell,
}

impl Viewer<'_> {
    fn who(&self, name: &str) -> Option<String> {
        self.shell.caller.is_some().then(|| name.to_owned())
    }

    fn is_mine(&self, owner: crate::store::MemberId) -> bool {
        let caller = self.shell.caller.as_ref();
        caller.is_some_and(|caller| caller.member.id == owner || caller.is_steward())
    }

    fn panel(&self, panel: &InClamps) -> PanelLine {
        let is_ready = panel.may_come_out <= self.time.now;
        let clamps: Vec<String> = panel
            .clamps
            .iter()
            .map(|(name, amount)| format!("{amount} × {name}"))
            .collect();
        PanelLine {
            project: panel.booking.project,
            project_name: panel.booking.project_name.clone(),
            who: self.who(&panel.booking.member_name),
            clamps: words::listed(&clamps),
            out: if is_ready {
                format!("may come out, since {}", self.moment(panel.may_come_out))
            } else {
                format!("may come out {}", self.moment(panel.may_come_out))
            },
            is_ready,
            booked: panel.off.as_ref().map(|off| self.moment(off.from)),
            off: panel.off.as_ref().map(|off| off.id),
            is_mine: self.is_mine(panel.booking.member),
        }
    }

    /// `at 18:05`, or with its day where that is another.
    fn moment(&self, at: Timestamp) -> String {
        let day = self.time.day(at);
        if day == self.time.today() {
            format!("today at {}", self.time.clock(at))
        } else {
            self.time.moment(at)
        }
    }

    fn step(&self, booking: &Booking) -> StepLine {
        StepLine {
            booking: booking.id,
            project_name: booking.project_name.clone(),
            who: self.who(&booking.member_name),
            name: booking.name.clone(),
            time: if self.time.day(booking.from) == self.time.today() {
                self.time.span(booking.from, booking.to)
            } else {
                format!(
                    "{}, {}",
                    words::short_day(self.time.day(booking.from)),
                    self.time.span(booking.from, booking.to)
                )
            },
            is_running: booking.state == BookingState::Running,
        }
    }

    fn drying(&self, booking: &Booking) -> StepLine {
        StepLine {
            time: format!("until {}", self.moment(booking.to)),
            ..self.step(booking)
        }
    }

    fn lapses(&self, claims: &[Claim]) -> Vec<LapseLine> {
        let mut found: Vec<LapseLine> = Vec::new();
        let today = self.time.today();
        let mut rest = claims;
        while let Some(first) = rest.first() {
            let same =
                |claim: &Claim| claim.project == first.project && claim.last_day == first.last_day;
            if found.iter().any(|line| line.project == first.project) {
                rest = &rest[1..];
                continue;
            }
            let count = claims.iter().filter(|claim| same(claim)).count();
            let whose = if self
                .shell
                .caller
                .as_ref()
                .is_some_and(|caller| caller.member.id == first.member)
            {
                String::new()
            } else {
                format!(" of {}", first.member_name)
            };
            found.push(LapseLine {
                project: first.project,
                words: format!(
                    "{} for “{}”{whose}: held until {}, {}",
                    words::counted(count, "piece", "pieces"),
                    first.project_name,
                    words::short_day(first.last_day),
                    words::from_today(first.last_day, today)
                ),
                is_today: first.last_day <= today,
            });
            rest = &rest[1..];
        }
        found
    }

    fn risk(&self, at_risk: &AtRisk) -> RiskLine {
        let project = &at_risk.project;
        let today = self.time.today();
        let (words, cure) = match &at_risk.risk {
            Risk::Over => ("The due day has passed.".to_owned(), "See its plan"),
            Risk::Late { ready } => (
                format!(
                    "What is booked is ready {}, after it is due.",
                    self.time.moment(*ready)
                ),
                "Plan it again",
            ),
            Risk::Missed { step, was } => (
                format!(
                    "“{step}” was booked for {}, and nobody said that it was done.",
                    self.time.moment(*was)
                ),
                "See its plan",
            ),
            Risk::NotPlanned { least_days } => (
                format!(
                    "Nothing is booked yet; work, drying and cure take at least {least_days} days."
                ),
                "Plan it",
            ),
            Risk::TooLate { least_days } => (
                format!(
                    "Nothing is booked, and work, drying and cure take at least {least_days} days: it can hardly be met."
                ),
                "See the earliest day",
            ),
        };
        RiskLine {
            project: project.id,
            name: project.about.name.clone(),
            who: self
                .shell
                .caller
                .as_ref()
                .filter(|caller| caller.member.id != project.member)
                .map(|_| project.member_name.clone()),
            due: format!(
                "{}, {}",
                words::short_day(at_risk.due),
                words::from_today(at_risk.due, today)
            ),
            words,
            cure,
        }
    }
}

fn to_do_line(project: &crate::store::project::Project, thing: NextThing) -> ToDoLine {
    let (button, page, words) = match thing {
        NextThing::Match => ("Match its wood", "match", "is drawn"),
        NextThing::Claim => ("Claim its pieces", "match", "is matched"),
        NextThing::Plan => ("Book its glue-up", "plan", "has its wood and no bookings"),
        NextThing::Cut => (
            "Mark pieces as cut",
            "cuts",
            "has its wood and its bookings",
        ),
    };
    ToDoLine {
        project: project.id,
        name: project.about.name.clone(),
        button,
        page,
        words,
    }
}

fn coming_title(today: &Today, time: &LocalTime) -> String {
    match (&today.open, today.next.first()) {
        (Some(_), _) => "In this opening".to_owned(),
        (None, Some(span)) => format!("In the next opening: {}", span_words(span, time)),
        (None, None) => "In the next opening".to_owned(),
    }
}

async fn load(app: &App, caller: &MaybeMember) -> Result<(Today, LocalTime), Error> {
    let time = LocalTime::load(app).await?;
    let mut db = app.store.read().acquire().await?;
    let member = caller.0.as_ref().map(|caller| caller.member.id);
    let is_steward = caller
        .0
        .as_ref()
        .is_some_and(crate::app::Caller::is_steward);
    let today = Today::load(&mut db, time.now, member, is_steward).await?;
    Ok((today, time))
}

async fn show(
    State(app): State<App>,
    shell: Shell,
    caller: MaybeMember,
) -> Result<Response, Error> {
    let (today, time) = load(&app, &caller).await?;
    let needs_first_hour = shell.is_steward() && {
        let mut db = app.store.read().acquire().await?;
        !FirstHour::load(&mut db).await?.is_over()
    };
    let viewer = Viewer {
        time: &time,
        shell: &shell,
    };
    let own = shell.caller.as_ref().map(|caller| caller.member.id);
    let (mine, others): (Vec<&Booking>, Vec<&Booking>) = today
        .coming
        .iter()
        .partition(|booking| Some(booking.member) == own);
    let lines = |list: Vec<&Booking>| {
        list.into_iter()
            .map(|booking| viewer.step(booking))
            .collect()
    };
    let mut week: Vec<(String, String)> = Vec::new();
    for span in today.next.iter().take(4) {
        let machines = if span.machines {
            "with machines"
        } else {
            "no machines"
        };
        week.push((span_words(span, &time), machines.to_owned()));
    }
    page(&TodayPage {
        date: words::day(time.today()),
        now: open_now(&today, &time),
        panels: today
            .in_clamps
            .iter()
            .map(|panel| viewer.panel(panel))
            .collect(),
        curing: today
            .curing
            .iter()
            .map(|booking| viewer.drying(booking))
            .collect(),
        coming_title: coming_title(&today, &time),
        mine: lines(mine),
        others: lines(others),
        missed: today
            .missed
            .iter()
            .map(|booking| viewer.step(booking))
            .collect(),
        lapsing: viewer.lapses(&today.lapsing),
        risks: today.at_risk.iter().map(|risk| viewer.risk(risk)).collect(),
        to_do: today
            .to_do
            .iter()
            .map(|(project, thing)| to_do_line(project, *thing))
            .collect(),
        week,
        is_member: own.is_some(),
        needs_first_hour,
        shell: shell.at(Section::Today),
    })
}

async fn wall(
    State(app): State<App>,
    shell: Shell,
    caller: MaybeMember,
) -> Result<Response, Error> {
    let (today, time) = load(&app, &caller).await?;
    let viewer = Viewer {
        time: &time,
        shell: &shell,
    };
    page(&WallPage {
        date: words::day(time.today()),
        clock: time.clock(time.now),
        now: open_now(&today, &time),
        panels: today
            .in_clamps
            .iter()
            .map(|panel| viewer.panel(panel))
            .collect(),
        coming_title: coming_title(&today, &time),
        coming: today
            .coming
            .iter()
            .map(|booking| viewer.step(booking))
            .collect(),
        curing: today
            .curing
            .iter()
            .map(|booking| viewer.drying(booking))
            .collect(),
        shell: shell.at(Section::Today),
    })
}
