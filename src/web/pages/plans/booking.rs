//! One booked step: when and with what, begun, done, moved to another possible time, pinned.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use jiff::Timestamp;

use super::of_project::Ground;
use super::shown::TimedStep;
use super::trouble::{plan_error, why_words};
use crate::app::booking::{self as bookings, BookingError, PossibleTime};
use crate::app::{App, why};
use crate::store::booking::{self, Booking, BookingState};
use crate::store::{BookingId, ProjectId};
use crate::web::local_time::LocalTime;
use crate::web::pages::projects::by;
use crate::web::shell::page_with;
use crate::web::{Error, Flash, Member, Path, Section, Shell, Steward, Typed, see_other, words};

#[derive(Template)]
#[template(path = "plans/booking.html")]
struct BookingPage {
    shell: Shell,
    id: BookingId,
    project: ProjectId,
    project_name: String,
    member_name: String,
    name: String,
    day: String,
    time: String,
    uses: String,
    clamped_until: Option<String>,
    state: &'static str,
    is_planned: bool,
    is_done: bool,
    is_pinned: bool,
    is_attended: bool,
    is_shared: bool,
    may_change: bool,
    reasons: Vec<String>,
    days: Vec<PossibleDay>,
    typed: Typed,
    version: i64,
}

/// Times of one day to which it can be moved.
struct PossibleDay {
    day: String,
    /// What is sent, and what is read.
    times: Vec<(String, String)>,
}

/// What a page or call answers where it has nothing better to say.
pub(in crate::web) fn booking_error(error: BookingError) -> Error {
    match error {
        BookingError::Unknown => Error::NotFound("There is no such booking.".into()),
        BookingError::Stale => Error::Stale,
        BookingError::Begun => {
            Error::Conflict("The step has begun already, so it stays where it is.".into())
        }
        BookingError::Shared => Error::Conflict(
            "The step shares its clamps with panels of other projects, which would have to move too. A steward plans them together."
                .into(),
        ),
        BookingError::NotPossible => Error::Conflict(
            "The step cannot be at that time: the workshop is shut, clamps or stations are in use, or another step of the project is too near or too far."
                .into(),
        ),
        BookingError::Plan(error) => plan_error(error),
    }
}

async fn find(app: &App, id: BookingId) -> Result<Booking, Error> {
    booking::find(app.store.read(), id)
        .await?
        .ok_or_else(|| booking_error(BookingError::Unknown))
}

fn possible_days(times: &[PossibleTime], present: Timestamp, time: &LocalTime) -> Vec<PossibleDay> {
    let mut days: Vec<(jiff::civil::Date, PossibleDay)> = Vec::new();
    for possible in times.iter().filter(|possible| possible.from != present) {
        let day = time.day(possible.from);
        if days.last().is_none_or(|(last, _)| *last != day) {
            days.push((
                day,
                PossibleDay {
                    day: time.full_day(day),
                    times: Vec::new(),
                },
            ));
        }
        if let Some((_, last)) = days.last_mut() {
            last.times.push((
                possible.from.to_string(),
                format!(
                    "{}, {}",
                    words::short_day(day),
                    time.span(possible.from, possible.to)
                ),
            ));
        }
    }
    days.into_iter().map(|(_, day)| day).collect()
}

async fn booking_page(
    app: &App,
    shell: Shell,
    member: &Member,
    id: BookingId,
    status: StatusCode,
    typed: Typed,
) -> Result<Response, Error> {
    let booking = find(app, id).await?;
    let ground = Ground::load(app, booking.from.min(app.clock.now())).await?;
    let time = &ground.time;
    let is_planned = booking.state == BookingState::Planned;
    let may_change = member.require_owner(booking.member).is_ok();
    let by = by(app, member);
    let mut db = app.store.read().acquire().await?;
    let uses = booking::list_uses(&mut *db, id).await?;
    // What a design that was changed since does not ask for any more has neither reasons nor times.
    let reasons = if is_planned && booking.attended {
        why::of_booking(&mut db, by, id).await.unwrap_or_default()
    } else {
        Vec::new()
    };
    let times = if is_planned && booking.attended && may_change {
        bookings::possible_times(&mut db, by, id)
            .await
            .unwrap_or_default()
    } else {
        Vec::new()
    };
    let step = TimedStep::booked(&booking, uses);
    let page = BookingPage {
        id,
        project: booking.project,
        project_name: booking.project_name.clone(),
        member_name: booking.member_name.clone(),
        name: booking.name.clone(),
        day: time.full_day(time.day(booking.from)),
        time: time.span(booking.from, booking.to),
        uses: step.uses_words(&ground.resources),
        clamped_until: step
            .clamped_until(&ground.resources)
            .map(|until| time.moment(until)),
        state: match booking.state {
            BookingState::Planned if booking.to <= time.now => "its time has passed",
            BookingState::Planned => "booked",
            BookingState::Running => "under way",
            BookingState::Done => "done",
        },
        is_planned,
        is_done: booking.state == BookingState::Done,
        is_pinned: booking.pinned,
        is_attended: booking.attended,
        is_shared: booking.clamp_load.is_some(),
        may_change,
        reasons: why_words(&reasons, booking.project, shell.lengths(), time),
        days: possible_days(&times, booking.from, time),
        typed,
        version: booking.version,
        shell: shell.at(Section::GlueUps),
    };
    page_with(status, &page)
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<BookingId>,
) -> Result<Response, Error> {
    booking_page(&app, shell, &member, id, StatusCode::OK, Typed::default()).await
}

/// The version that the form was made from; none of ours matches what cannot be read.
fn version(typed: &Typed) -> i64 {
    typed.text("version").parse().unwrap_or_default()
}

pub(super) async fn begin(
    State(app): State<App>,
    member: Member,
    Path(id): Path<BookingId>,
    typed: Typed,
) -> Result<Response, Error> {
    let found = find(&app, id).await?;
    member.require_owner(found.member)?;
    let mut db = app.store.begin().await?;
    bookings::begin(&mut db, by(&app, &member), id, version(&typed))
        .await
        .map_err(booking_error)?;
    db.commit().await?;
    Ok(see_other(format!("/bookings/{id}"))
        .saying(Flash::done(format!("“{}” is under way.", found.name)))
        .response(&app))
}

pub(super) async fn finish(
    State(app): State<App>,
    member: Member,
    Path(id): Path<BookingId>,
    typed: Typed,
) -> Result<Response, Error> {
    let found = find(&app, id).await?;
    member.require_owner(found.member)?;
    let mut db = app.store.begin().await?;
    bookings::finish(&mut db, by(&app, &member), id, version(&typed))
        .await
        .map_err(booking_error)?;
    db.commit().await?;
    Ok(see_other(format!("/projects/{}/plan", found.project))
        .saying(Flash::done(format!(
            "“{}” is done; what it used is free.",
            found.name
        )))
        .response(&app))
}

pub(super) async fn move_to(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<BookingId>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let found = find(&app, id).await?;
    member.require_owner(found.member)?;
    let unprocessable = StatusCode::UNPROCESSABLE_ENTITY;
    let to = typed.take("from", |text| {
        text.parse::<Timestamp>()
            .map_err(|_| "must be one of the times that are offered")
    });
    let Some(to) = to else {
        return booking_page(&app, shell, &member, id, unprocessable, typed).await;
    };
    let mut db = app.store.begin().await?;
    match bookings::move_to(&mut db, by(&app, &member), id, version(&typed), to).await {
        Ok(()) => db.commit().await?,
        Err(BookingError::NotPossible) => {
            drop(db);
            typed.refuse(
                "from",
                "is not possible any more: somebody booked in between, or the hours have changed; choose another of those below",
            );
            return booking_page(&app, shell, &member, id, unprocessable, typed).await;
        }
        Err(error) => return Err(booking_error(error)),
    }
    let time = LocalTime::load(&app).await?;
    Ok(see_other(format!("/bookings/{id}"))
        .saying(Flash::done(format!(
            "“{}” is on {} now.",
            found.name,
            time.moment(to)
        )))
        .response(&app))
}

/// A pinned booking stays where it is, whatever is planned anew.
pub(super) async fn pin(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<BookingId>,
    typed: Typed,
) -> Result<Response, Error> {
    find(&app, id).await?;
    let is_pinned = typed.text("pinned") == "yes";
    let by = crate::store::By {
        member: Some(caller.member.id),
        at: app.clock.now(),
    };
    let mut db = app.store.begin().await?;
    booking::set_pinned(&mut db, by, id, version(&typed), is_pinned).await?;
    db.commit().await?;
    let said = if is_pinned {
        "It is pinned: no plan moves it."
    } else {
        "It is not pinned any more: plans may move it."
    };
    Ok(see_other(format!("/bookings/{id}"))
        .saying(Flash::done(said))
        .response(&app))
}
