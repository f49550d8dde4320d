//! Calendar feeds for other programs (RFC 5545), under a secret link that its member can change.

use askama::Template;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse as _, Response};
use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};

use super::local_time::LocalTime;
use super::pages::plans::shown::TimedStep;
use super::{Error, Flash, Member, Path, Routes, Shell, Who, page, see_other};
use crate::app::App;
use crate::app::days::days_after;
use crate::app::hours::Hours;
use crate::export::ics::{Event, Instant, When, calendar};
use crate::store::booking::{self, BookedUse, Booking};
use crate::store::resource::{self, Resource};
use crate::store::{MemberId, TokenHash, calendar_link, project, workshop};
use crate::units::WallMinute;

/// How far back and ahead a feed reaches, in days.
const BACK: i64 = 60;
const AHEAD: i64 = 400;
/// Openings are told for so many days ahead.
const OPENINGS_AHEAD: u16 = 60;

#[derive(Template)]
#[template(path = "calendar_link.html")]
struct LinkPage {
    shell: Shell,
    own: String,
    everybody: String,
}

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/calendar/{token}", Who::Anyone, of_member)
        .get("/calendar/{token}/workshop", Who::Anyone, of_workshop)
        .post("/me/calendar", Who::Member, make)
        .post("/me/calendar/end", Who::Member, end)
}

/// Makes a new link; the one before opens nothing any more. The addresses of the member's calendar and of everybody's are
/// shown this once.
pub(super) async fn make_link(app: &App, member: MemberId) -> Result<(String, String), Error> {
    let secret = app.tokens.secret();
    let mut db = app.store.begin().await?;
    calendar_link::set(&mut db, member, Some(secret.hash()), app.clock.now()).await?;
    db.commit().await?;
    let at = format!("{}/calendar/{}", app.config.public_url, secret.reveal());
    Ok((format!("{at}.ics"), format!("{at}/workshop")))
}

async fn make(State(app): State<App>, shell: Shell, member: Member) -> Result<Response, Error> {
    let (own, everybody) = make_link(&app, member.id()).await?;
    page(&LinkPage {
        own,
        everybody,
        shell,
    })
}

async fn end(State(app): State<App>, member: Member) -> Result<Response, Error> {
    let mut db = app.store.begin().await?;
    calendar_link::set(&mut db, member.id(), None, app.clock.now()).await?;
    db.commit().await?;
    Ok(see_other("/me#calendar")
        .saying(Flash::done("The calendar link opens nothing any more."))
        .response(&app))
}

async fn owner(app: &App, token: &str) -> Result<MemberId, Error> {
    let token = token.strip_suffix(".ics").unwrap_or(token);
    calendar_link::find(app.store.read(), TokenHash::of(token))
        .await?
        .ok_or_else(|| {
            Error::NotFound(
                "This calendar link opens nothing (any more). Its member finds a new one on their own page.".into(),
            )
        })
}

async fn of_member(State(app): State<App>, Path(token): Path<String>) -> Result<Response, Error> {
    let member = owner(&app, &token).await?;
    feed(&app, Some(member)).await
}

async fn of_workshop(State(app): State<App>, Path(token): Path<String>) -> Result<Response, Error> {
    owner(&app, &token).await?;
    feed(&app, None).await
}

/// An event with texts of its own.
struct Entry {
    uid: String,
    sequence: i64,
    changed: Timestamp,
    when: When,
    summary: String,
    description: String,
    url: String,
    is_cancelled: bool,
}

fn instant(at: Timestamp) -> Instant {
    Instant(at.as_second())
}

/// What makes ids unlike those of any other workshop: its address without scheme.
fn authority(app: &App) -> &str {
    let url = app.config.public_url.as_str();
    url.split_once("://").map_or(url, |(_, rest)| rest)
}

fn booked(
    app: &App,
    known: &Booking,
    uses: &[BookedUse],
    resources: &[Resource],
    is_own: bool,
) -> Entry {
    let of = uses.iter().filter(|used| used.booking == known.id);
    let step = TimedStep::booked(known, of.map(|used| used.used.clone()).collect());
    let uses = step.uses_words(resources);
    let whose = if is_own {
        String::new()
    } else {
        format!(" ({})", known.member_name)
    };
    Entry {
        uid: format!("booking-{}@{}", known.id, authority(app)),
        sequence: known.sequence,
        changed: known.changed_at,
        when: When::Span {
            from: instant(known.from),
            to: instant(known.to),
        },
        summary: format!("{}: {}{whose}", known.name, known.project_name),
        description: uses,
        url: format!("{}/bookings/{}", app.config.public_url, known.id),
        is_cancelled: false,
    }
}

async fn openings(app: &App, time: &LocalTime, entries: &mut Vec<Entry>) -> Result<(), Error> {
    let mut db = app.store.read().acquire().await?;
    let hours = Hours::load(&mut db, time.now).await?;
    let changed = workshop::get(&mut *db).await?.changed_at;
    let today = time.today();
    let last = days_after(today, OPENINGS_AHEAD);
    for span in hours.openings(today, last) {
        let machines = if span.machines {
            "Open, with machines"
        } else {
            "Open, no machines"
        };
        entries.push(Entry {
            uid: format!("opening-{}@{}", span.from.as_second(), authority(app)),
            sequence: 0,
            changed,
            when: When::Span {
                from: instant(span.from),
                to: instant(span.to),
            },
            summary: machines.to_owned(),
            description: span.note,
            url: format!("{}/glue-ups?week={}", app.config.public_url, span.day),
            is_cancelled: false,
        });
    }
    for closure in &hours.closures {
        let mut day = closure.days.from_day.max(today);
        while day <= closure.days.to_day && day <= last {
            entries.push(Entry {
                uid: format!("closure-{}-{day}@{}", closure.id, authority(app)),
                sequence: closure.version,
                changed,
                when: When::Day(whole_day(day)),
                summary: format!("Closed: {}", closure.days.reason),
                description: String::new(),
                url: format!("{}/workshop/openings", app.config.public_url),
                is_cancelled: false,
            });
            day = days_after(day, 1);
        }
    }
    Ok(())
}

fn whole_day(day: jiff::civil::Date) -> WallMinute {
    let (year, month) = (i64::from(day.year()), i64::from(day.month()));
    WallMinute::from_civil(year, month, i64::from(day.day()), 0, 0).unwrap_or(WallMinute::FIRST)
}

async fn feed(app: &App, member: Option<MemberId>) -> Result<Response, Error> {
    let time = LocalTime::load(app).await?;
    let from = time.now - SignedDuration::from_hours(24 * BACK);
    let to = time.now + SignedDuration::from_hours(24 * AHEAD);
    let mut db = app.store.read().acquire().await?;
    let name = workshop::get(&mut *db).await?.name;
    let resources = resource::list(&mut *db).await?;
    let uses = booking::list_uses_between(&mut *db, from, to).await?;
    let mut entries = Vec::new();
    for known in booking::list_between(&mut *db, from, to, member).await? {
        // Drying and cure keep nobody busy.
        if known.attended {
            entries.push(booked(app, &known, &uses, &resources, member.is_some()));
        }
    }
    for gone in booking::list_cancelled(&mut *db, from, member).await? {
        entries.push(Entry {
            uid: format!("booking-{}@{}", gone.booking, authority(app)),
            sequence: gone.sequence,
            changed: gone.cancelled_at,
            when: When::Span {
                from: instant(gone.from),
                to: instant(gone.to),
            },
            summary: gone.name,
            description: String::new(),
            url: format!("{}/projects/{}", app.config.public_url, gone.project),
            is_cancelled: true,
        });
    }
    for due in project::list_due(&mut *db, Date::MAX, member).await? {
        if let Some(day) = due.about.due_day {
            let whose = if member.is_some() {
                String::new()
            } else {
                format!(" ({})", due.member_name)
            };
            entries.push(Entry {
                uid: format!("due-{}@{}", due.id, authority(app)),
                sequence: due.version,
                changed: due.created_at,
                when: When::Day(whole_day(day)),
                summary: format!("Due: {}{whose}", due.about.name),
                description: String::new(),
                url: format!("{}/projects/{}", app.config.public_url, due.id),
                is_cancelled: false,
            });
        }
    }
    drop(db);
    if member.is_none() {
        openings(app, &time, &mut entries).await?;
    }
    let events: Vec<Event<'_>> = entries
        .iter()
        .map(|entry| Event {
            uid: &entry.uid,
            sequence: entry.sequence,
            changed: instant(entry.changed),
            when: entry.when,
            summary: &entry.summary,
            description: &entry.description,
            place: &name,
            url: &entry.url,
            is_cancelled: entry.is_cancelled,
        })
        .collect();
    let title = if member.is_some() {
        format!("{name}: yours")
    } else {
        name.clone()
    };
    let headers = [
        (header::CONTENT_TYPE, "text/calendar; charset=utf-8"),
        (header::CACHE_CONTROL, "private, no-cache"),
    ];
    Ok((headers, calendar(&title, &events)).into_response())
}
