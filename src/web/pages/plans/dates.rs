//! Questions about a project's dates: how early, how late, and what would make a difference. Nothing is stored.

use std::time::Duration;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use jiff::Timestamp;
use jiff::civil::{Date, Time};

use super::of_project::{Ground, verdict};
use super::trouble::{Trouble, trouble};
use crate::app::App;
use crate::app::dates::{self, LatestStart, WhatIf};
use crate::app::days::instant_of;
use crate::app::plan::PlanError;
use crate::app::planning::Suppose;
use crate::store::ProjectId;
use crate::store::ResourceId;
use crate::store::resource::ResourceKind;
use crate::units::LengthFormat;
use crate::web::local_time::LocalTime;
use crate::web::pages::projects::{Head, Here, Opened, by};
use crate::web::{Error, Member, Path, Query, Section, Shell, Typed, page, page_again, words};

/// For each of the three questions; what is proven ends sooner.
const TIME: Duration = Duration::from_secs(5);
/// The most clamps or coats that are supposed.
const MOST_MORE: u32 = 50;

#[derive(Template)]
#[template(path = "plans/dates.html")]
struct DatesPage {
    shell: Shell,
    head: Head,
    trouble: Option<Trouble>,
    earliest: Option<super::of_project::Verdict>,
    latest: Option<String>,
    is_too_late: bool,
    typed: Typed,
    clamps: Vec<(String, String)>,
    coats: Vec<(String, String)>,
    answer: Option<WhatIfAnswer>,
    today: String,
}

/// What a supposition does to the ready date.
struct WhatIfAnswer {
    title: String,
    words: String,
    is_better: bool,
}

/// What is typed into the form, checked.
struct Supposed {
    by_day: Option<Date>,
    suppose: Suppose,
    /// What is supposed, in words; nothing where the form is empty.
    words: Vec<String>,
}

fn whole(text: &str) -> Result<u32, String> {
    match text.parse::<u32>() {
        Ok(count) if count <= MOST_MORE => Ok(count),
        _ => Err(format!(
            "is {text:?}; must be a whole number from 0 to {MOST_MORE}"
        )),
    }
}

fn time_of_day(text: &str) -> Result<u16, String> {
    let time: Result<Time, _> = text.parse();
    time.map(|time| {
        u16::from(time.hour().unsigned_abs()) * 60 + u16::from(time.minute().unsigned_abs())
    })
    .map_err(|_| format!("is {text:?}; must be a time like 18:00"))
}

fn day(text: &str, today: Date) -> Result<Date, String> {
    match text.parse::<Date>() {
        Ok(day) if day >= today => Ok(day),
        Ok(_) => Err("has passed; must be today or later".to_owned()),
        Err(_) => Err(format!("is {text:?}; must be a day like 2027-03-01")),
    }
}

/// Reads the form; errors stay beside their fields.
fn read(typed: &mut Typed, id: ProjectId, ground: &Ground) -> Option<Supposed> {
    let today = ground.time.today();
    let by_day = typed.take_if_any("by_day", |text| day(text, today));
    let more = typed.take_if_any("more", whole);
    let set = typed.take_if_any("set", |text| {
        let set: Option<ResourceId> = text.parse().ok();
        set.and_then(|set| ground.resources.iter().find(|known| known.id == set))
            .ok_or("is none of the sets; choose one")
    });
    let coats = typed.take_if_any("coats", whole);
    let on = typed.take_if_any("on", |text| day(text, today));
    let opens = typed.take_if_any("opens", time_of_day);
    let shuts = typed.take_if_any("shuts", time_of_day);
    let (by_day, more, set, coats, on) = (by_day?, more?, set?, coats?, on?);
    let (opens, shuts) = (opens?, shuts?);
    let mut suppose = Suppose::default();
    let mut words = Vec::new();
    if let (Some(more), Some(set)) = (more.filter(|more| *more > 0), set) {
        suppose.more.insert(set.id, more);
        words.push(format!("{more} more {}", set.about.name));
    }
    if let Some(coats) = coats.filter(|coats| *coats > 0) {
        suppose.fewer_coats.insert(id, coats);
        words.push(match coats {
            1 => "one coat left out".to_owned(),
            _ => format!("{coats} coats left out"),
        });
    }
    if let Some(on) = on {
        let (Some(opens), Some(shuts)) = (opens, shuts) else {
            typed.refuse(
                if opens.is_none() { "opens" } else { "shuts" },
                "is empty; must be the time of day of the opening",
            );
            return None;
        };
        if shuts <= opens {
            typed.refuse(
                "shuts",
                "is not after the beginning; must be later on the same day",
            );
            return None;
        }
        let at = |minute| instant_of(on, minute, &ground.time.zone);
        suppose
            .openings
            .push((at(opens), at(shuts), typed.is_ticked("machines")));
        words.push(format!(
            "an opening on {}, {}",
            crate::web::words::short_day(on),
            ground.time.span(at(opens), at(shuts))
        ));
    }
    Some(Supposed {
        by_day,
        suppose,
        words,
    })
}

fn ready_of(list: &[crate::app::plan::ReadyDate], time: &LocalTime) -> Option<Timestamp> {
    let ready = list.first()?;
    Some(super::of_project::ready_at(ready, time))
}

fn answer(found: &WhatIf, supposed: &[String], time: &LocalTime) -> Option<WhatIfAnswer> {
    let (now, then) = (ready_of(&found.now, time)?, ready_of(&found.then, time)?);
    let with = words::listed(supposed);
    let minutes = (now.as_second() - then.as_second()) / 60;
    let sure = if found.proven {
        ""
    } else {
        " Neither plan is proven best, so the difference may be another."
    };
    // Hours that stay within the day of the hand-over are told too.
    let gained = |minutes: i64| {
        if minutes >= 1440 {
            let days = usize::try_from((minutes + 720) / 1440).unwrap_or(0);
            words::counted(days, "day", "days")
        } else {
            words::span(crate::units::Minutes(minutes))
        }
    };
    Some(if minutes > 0 {
        WhatIfAnswer {
            title: format!("{} sooner", gained(minutes)),
            words: format!(
                "With {with} it would be ready {} instead of {}.{sure}",
                time.moment(then),
                time.moment(now)
            ),
            is_better: true,
        }
    } else if minutes == 0 {
        WhatIfAnswer {
            title: "No difference".to_owned(),
            words: format!(
                "Also with {with} it would be ready {}: something else holds it up.{sure}",
                time.moment(now)
            ),
            is_better: false,
        }
    } else {
        WhatIfAnswer {
            title: format!("{} later", gained(-minutes)),
            words: format!(
                "With {with} it would be ready {} instead of {}.{sure}",
                time.moment(then),
                time.moment(now)
            ),
            is_better: false,
        }
    })
}

/// Trouble beside which the rest of the page still says something.
fn kept<T>(
    result: Result<T, PlanError>,
    lengths: LengthFormat,
    seen: &mut Option<Trouble>,
) -> Result<Option<T>, Error> {
    match result {
        Ok(found) => Ok(Some(found)),
        Err(error) => {
            *seen = Some(trouble(error, lengths)?);
            Ok(None)
        }
    }
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
    Query(asked): Query<Vec<(String, String)>>,
) -> Result<Response, Error> {
    let opened = Opened::find(&app, id).await?;
    if opened.project.ended_at.is_some() {
        return Err(Error::Conflict(
            "The project has ended, so nothing is planned for it.".into(),
        ));
    }
    let by = by(&app, &member);
    let mut typed = Typed::filled(
        asked
            .iter()
            .map(|(name, value)| (name.as_str(), value.clone())),
    );
    let ground = Ground::load(&app, app.clock.now()).await?;
    let supposed = read(&mut typed, id, &ground);
    let time = &ground.time;
    let due = opened.project.about.due_day;
    let lengths = shell.lengths();
    let mut trouble = None;
    let earliest = kept(
        dates::earliest(&app, by, id, TIME).await,
        lengths,
        &mut trouble,
    )?;
    let by_day = supposed.as_ref().and_then(|asked| asked.by_day).or(due);
    let latest = match by_day.filter(|day| *day >= time.today() && earliest.is_some()) {
        None => None,
        Some(day) => {
            let found = dates::latest_start(&app, by, id, day, TIME).await;
            kept(found, lengths, &mut trouble)?.map(|found| (day, found))
        }
    };
    let asked = supposed.as_ref().filter(|asked| !asked.words.is_empty());
    let what_if = match asked.filter(|_| trouble.is_none()) {
        None => None,
        Some(asked) => {
            let found = dates::what_if(&app, by, &[id], &asked.suppose, TIME).await;
            kept(found, lengths, &mut trouble)?.and_then(|found| answer(&found, &asked.words, time))
        }
    };
    let is_wrong = supposed.is_none();
    let mut clamps = vec![(String::new(), "none".to_owned())];
    let sets = ground
        .resources
        .iter()
        .filter(|known| known.about.kind == ResourceKind::ClampSet);
    clamps.extend(sets.map(|set| (set.id.to_string(), set.about.name.clone())));
    let shown = DatesPage {
        head: opened.head(&member, Here::Plan),
        trouble,
        earliest: earliest.map(|found| verdict(found.ready_at, due, found.proven, time)),
        is_too_late: matches!(latest, Some((_, LatestStart::TooLate))),
        latest: latest.map(|(day, found)| match found {
            LatestStart::Day(start) => format!(
                "To be ready by {}, the work must begin by {}.",
                words::day(day),
                time.full_day(start)
            ),
            LatestStart::TooLate => format!(
                "It cannot be ready by {}, even if the work begins at once.",
                words::day(day)
            ),
        }),
        typed,
        clamps,
        coats: vec![
            (String::new(), "none".to_owned()),
            ("1".to_owned(), "one".to_owned()),
            ("2".to_owned(), "two".to_owned()),
        ],
        answer: what_if,
        today: time.today().to_string(),
        shell: shell.at(Section::Projects),
    };
    if is_wrong {
        page_again(&shown)
    } else {
        page(&shown)
    }
}
