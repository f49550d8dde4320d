//! Questions about a project's dates: how early, how late, and what would make a difference. Nothing is stored.

use std::time::Duration;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use jiff::Timestamp;

use super::of_project::{Ground, verdict};
use super::trouble::{Trouble, trouble};
use super::what_if::{self, Difference, NOT_PROVEN, Offered};
use crate::app::App;
use crate::app::dates::{self, LatestStart, WhatIf};
use crate::app::plan::PlanError;
use crate::store::ProjectId;
use crate::units::LengthFormat;
use crate::web::local_time::LocalTime;
use crate::web::pages::projects::{Head, Here, Opened, by};
use crate::web::{Error, Member, Path, Query, Section, Shell, Typed, page, page_again, words};

/// For each of the three questions; what is proven ends sooner.
const TIME: Duration = Duration::from_secs(5);

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
    offered: Offered,
    answer: Option<WhatIfAnswer>,
}

/// What a supposition does to the ready date.
struct WhatIfAnswer {
    title: String,
    words: String,
    is_better: bool,
}

fn ready_of(list: &[crate::app::plan::ReadyDate], time: &LocalTime) -> Option<Timestamp> {
    let ready = list.first()?;
    Some(super::of_project::ready_at(ready, time))
}

fn answer(found: &WhatIf, supposed: &[String], time: &LocalTime) -> Option<WhatIfAnswer> {
    let (now, then) = (ready_of(&found.now, time)?, ready_of(&found.then, time)?);
    let with = words::listed(supposed);
    let difference = Difference::new(now, then);
    let mut words = if difference.is_none {
        format!(
            "Also with {with} it would be ready {}: something else holds it up.",
            time.moment(now)
        )
    } else {
        format!(
            "With {with} it would be ready {} instead of {}.",
            time.moment(then),
            time.moment(now)
        )
    };
    if !found.proven {
        words = format!("{words} {NOT_PROVEN}");
    }
    Some(WhatIfAnswer {
        title: difference.words,
        words,
        is_better: difference.is_better,
    })
}

/// Trouble beside which the rest of the page still says something.
async fn kept<T>(
    app: &App,
    result: Result<T, PlanError>,
    lengths: LengthFormat,
    seen: &mut Option<Trouble>,
) -> Result<Option<T>, Error> {
    match result {
        Ok(found) => Ok(Some(found)),
        Err(error) => {
            *seen = Some(trouble(app, error, lengths).await?);
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
    let time = &ground.time;
    let by_day = typed.take_if_any("by_day", |text| what_if::day(text, time.today()));
    let supposed = what_if::read(&mut typed, &[id], &ground);
    let is_wrong = by_day.is_none() || supposed.is_none();
    let due = opened.project.about.due_day;
    let lengths = shell.lengths();
    let mut trouble = None;
    let earliest = kept(
        &app,
        dates::earliest(&app, by, id, TIME).await,
        lengths,
        &mut trouble,
    )
    .await?;
    let by_day = by_day.flatten().or(due);
    let latest = match by_day.filter(|day| *day >= time.today() && earliest.is_some()) {
        None => None,
        Some(day) => {
            let found = dates::latest_start(&app, by, id, day, TIME).await;
            kept(&app, found, lengths, &mut trouble)
                .await?
                .map(|found| (day, found))
        }
    };
    let asked = supposed.as_ref().filter(|asked| !asked.words.is_empty());
    let what_if = match asked.filter(|_| trouble.is_none()) {
        None => None,
        Some(asked) => {
            let found = dates::what_if(&app, by, &[id], &asked.suppose, TIME).await;
            kept(&app, found, lengths, &mut trouble)
                .await?
                .and_then(|found| answer(&found, &asked.words, time))
        }
    };
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
        offered: Offered::new(&ground),
        answer: what_if,
        shell: shell.at(Section::Projects),
    };
    if is_wrong {
        page_again(&shown)
    } else {
        page(&shown)
    }
}
