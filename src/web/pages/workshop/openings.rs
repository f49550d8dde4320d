//! Weekly hours, extra openings and closures.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use jiff::civil::Date;

use super::form::{Field, FormPage, Group, refuse_all, version_of};
use crate::app::opening_rule::{
    self as rules, KeptRule, Rule, RuleKind, WEEKDAYS, clock, parse_clock,
};
use crate::app::{App, days, hours::Hours};
use crate::store::opening::{ClosedDays, ExtraHours, WeeklyHours};
use crate::store::{Refusal, booking, workshop};
use crate::web::{
    Error, Flash, Path, Routes, Section, Shell, Steward, Typed, Who, page, see_other, words,
};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/workshop/openings", Who::Visitor, list)
        .get("/workshop/openings/{kind}/new", Who::Steward, new)
        .post("/workshop/openings/{kind}", Who::Steward, create)
        .get("/workshop/openings/{kind}/{id}", Who::Steward, edit)
        .post("/workshop/openings/{kind}/{id}", Who::Steward, update)
        .post(
            "/workshop/openings/{kind}/{id}/remove",
            Who::Steward,
            remove,
        )
}

const LIST: &str = "/workshop/openings";

/// The kind as an address names it.
fn kind_of(word: &str) -> Result<RuleKind, Error> {
    match word {
        "weekly" => Ok(RuleKind::Weekly),
        "extra" => Ok(RuleKind::Extra),
        "closures" => Ok(RuleKind::Closure),
        _ => Err(Error::NotFound("There is nothing at this address.".into())),
    }
}

fn word_of(kind: RuleKind) -> &'static str {
    match kind {
        RuleKind::Weekly => "weekly",
        RuleKind::Extra => "extra",
        RuleKind::Closure => "closures",
    }
}

fn path_of(kind: RuleKind) -> String {
    format!("{LIST}/{}", word_of(kind))
}

/// The name of a weekday; Monday is 1 (ISO 8601).
pub(super) fn weekday_name(number: i8) -> &'static str {
    WEEKDAYS[usize::from(number.unsigned_abs()).clamp(1, 7) - 1]
}

/// A local day as a form's date input writes it.
pub(in crate::web) fn parse_day(text: &str) -> Result<Date, String> {
    let shown: String = text.chars().take(30).collect();
    text.parse::<Date>()
        .ok()
        .filter(|day| text.len() == 10 && (1970..=9000).contains(&day.year()))
        .ok_or_else(|| format!("is \"{shown}\"; must be a day like 2027-03-01"))
}

/// The local day.
async fn today(app: &App) -> Result<Date, Error> {
    let zone = workshop::get(app.store.read()).await?.time_zone;
    Ok(days::day_of(app.clock.now(), &zone))
}

#[derive(Template)]
#[template(path = "workshop/openings.html")]
struct ListPage {
    shell: Shell,
    weekly: Vec<RuleLine>,
    extra: Vec<RuleLine>,
    closures: Vec<RuleLine>,
    coming: Vec<ComingDay>,
    /// Booked steps that nobody could be there for.
    outside: Vec<OutsideLine>,
}

/// A rule in words.
struct RuleLine {
    id: i64,
    when: String,
    times: String,
    machines: bool,
    says: String,
}

/// A day of the next two weeks.
struct ComingDay {
    day: String,
    is_today: bool,
    times: Vec<(String, bool, String)>,
    closed: Option<String>,
}

struct OutsideLine {
    project: i64,
    what: String,
    when: String,
}

fn span_words(from: u16, to: u16) -> String {
    format!("{} to {}", clock(from), clock(to))
}

impl RuleLine {
    fn new(kept: &KeptRule, today: Date) -> RuleLine {
        match &kept.rule {
            Rule::Weekly(hours) => RuleLine {
                id: kept.id,
                when: weekday_name(hours.weekday).to_owned(),
                times: span_words(hours.from_minute, hours.to_minute),
                machines: hours.machines,
                says: match (hours.from_day > today, hours.to_day) {
                    (true, None) => format!("from {}", words::day(hours.from_day)),
                    (true, Some(last)) => format!(
                        "from {} to {}",
                        words::day(hours.from_day),
                        words::day(last)
                    ),
                    (false, Some(last)) if last < today => {
                        format!("ended on {}", words::day(last))
                    }
                    (false, Some(last)) => format!("until {}", words::day(last)),
                    (false, None) => String::new(),
                },
            },
            Rule::Extra(hours) => RuleLine {
                id: kept.id,
                when: words::day(hours.on_day),
                times: span_words(hours.from_minute, hours.to_minute),
                machines: hours.machines,
                says: hours.note.clone(),
            },
            Rule::Closure(closed) => RuleLine {
                id: kept.id,
                when: if closed.from_day == closed.to_day {
                    words::day(closed.from_day)
                } else {
                    format!(
                        "{} to {}",
                        words::day(closed.from_day),
                        words::day(closed.to_day)
                    )
                },
                times: String::new(),
                machines: false,
                says: closed.reason.clone(),
            },
        }
    }
}

/// Days that are shown ahead.
const COMING_DAYS: u16 = 14;
/// How far ahead bookings are looked at, in days.
const BOOKED_DAYS: u16 = 120;

async fn list(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
    let now = app.clock.now();
    let mut db = app.store.read().acquire().await?;
    let hours = Hours::load(&mut db, now).await?;
    let today = days::day_of(now, &hours.zone);
    let mut lines = Vec::new();
    for kind in [RuleKind::Weekly, RuleKind::Extra, RuleKind::Closure] {
        let kept = rules::list(&mut db, kind, today).await?;
        lines.push(
            kept.iter()
                .map(|rule| RuleLine::new(rule, today))
                .collect::<Vec<_>>(),
        );
    }
    let outside = if shell.caller.is_some() {
        outside(&mut db, &hours, now, today).await?
    } else {
        Vec::new()
    };
    let mut lines = lines.into_iter();
    page(&ListPage {
        weekly: lines.next().unwrap_or_default(),
        extra: lines.next().unwrap_or_default(),
        closures: lines.next().unwrap_or_default(),
        coming: coming(&hours, today),
        outside,
        shell: shell.at(Section::Workshop),
    })
}

fn coming(hours: &Hours, today: Date) -> Vec<ComingDay> {
    let local = |at: jiff::Timestamp, day: Date| {
        let there = at.to_zoned_datetime(hours.zone.clone());
        let is_midnight_after = there.date() > day;
        if is_midnight_after {
            "24:00".to_owned()
        } else {
            there.strftime("%H:%M").to_string()
        }
    };
    (0..COMING_DAYS)
        .map(|ahead| days::days_after(today, ahead))
        .map(|day| ComingDay {
            day: words::short_day(day),
            is_today: day == today,
            times: hours
                .openings(day, day)
                .iter()
                .map(|span| {
                    let times = format!("{} to {}", local(span.from, day), local(span.to, day));
                    (times, span.machines, span.note.clone())
                })
                .collect(),
            closed: hours
                .closure_on(day)
                .map(|closure| closure.days.reason.clone()),
        })
        .filter(|day| !day.times.is_empty() || day.closed.is_some())
        .collect()
}

/// Steps that somebody must be there for, booked at times in which the workshop is shut by now.
async fn outside(
    db: &mut sqlx::SqliteConnection,
    hours: &Hours,
    now: jiff::Timestamp,
    today: Date,
) -> Result<Vec<OutsideLine>, Error> {
    let last = days::days_after(today, BOOKED_DAYS);
    let windows = hours.windows(today, last, None);
    let until = days::instant_of(last, 0, &hours.zone);
    let booked = booking::list_between(&mut *db, now, until, None).await?;
    Ok(booked
        .iter()
        .filter(|step| step.attended && step.from >= now && !windows.hold(step.from, step.to))
        .map(|step| {
            let from = step.from.to_zoned_datetime(hours.zone.clone());
            OutsideLine {
                project: step.project.0,
                what: format!(
                    "{} of {}, {}",
                    step.name, step.project_name, step.member_name
                ),
                when: format!("{}, {}", words::day(from.date()), from.strftime("%H:%M")),
            }
        })
        .collect())
}

fn fields_of(kind: RuleKind, is_new: bool) -> Vec<Group> {
    let weekdays = (1..=7)
        .map(|number| (number.to_string(), weekday_name(number).to_owned()))
        .collect();
    let hours = || {
        [
            Field::line("from", "Opens at").hint("Like 18:30 or 6:30 pm."),
            Field::line("to", "Shuts at").hint("24:00 is the midnight after."),
        ]
    };
    let machines = || {
        Field::tick("machines", "A steward is on duty, so machines may run")
            .hint("Without it, only steps at benches and racks are planned into this time.")
    };
    let mut fields = Vec::new();
    match kind {
        RuleKind::Weekly => {
            fields.push(if is_new {
                Field::several("weekday", "On these days", weekdays)
            } else {
                Field::choice("weekday", "Every", weekdays)
            });
            fields.extend(hours());
            fields.push(
                Field::day("first_day", "From the day")
                    .optional()
                    .hint("Today, if you leave it empty."),
            );
            fields.push(
                Field::day("last_day", "To the day")
                    .optional()
                    .hint("Leave it empty if it holds for good."),
            );
            fields.push(machines());
        }
        RuleKind::Extra => {
            fields.push(Field::day("day", "On"));
            fields.extend(hours());
            fields.push(
                Field::line("note", "Note")
                    .optional()
                    .hint("What it is for, or who has the key."),
            );
            fields.push(machines());
        }
        RuleKind::Closure => {
            fields.push(Field::day("first_day", "First closed day"));
            fields.push(
                Field::day("last_day", "Last closed day")
                    .optional()
                    .hint("The same day, if you leave it empty."),
            );
            fields.push(Field::line("reason", "Why").optional());
        }
    }
    vec![Group {
        fields,
        ..Group::default()
    }]
}

fn fill(kept: &KeptRule) -> Typed {
    let mut values = vec![("version", kept.version.to_string())];
    match &kept.rule {
        Rule::Weekly(hours) => {
            values.push(("weekday", hours.weekday.to_string()));
            values.push(("from", clock(hours.from_minute)));
            values.push(("to", clock(hours.to_minute)));
            values.push(("first_day", hours.from_day.to_string()));
            values.push((
                "last_day",
                hours.to_day.map_or_else(String::new, |day| day.to_string()),
            ));
            if hours.machines {
                values.push(("machines", "yes".to_owned()));
            }
        }
        Rule::Extra(hours) => {
            values.push(("day", hours.on_day.to_string()));
            values.push(("from", clock(hours.from_minute)));
            values.push(("to", clock(hours.to_minute)));
            values.push(("note", hours.note.clone()));
            if hours.machines {
                values.push(("machines", "yes".to_owned()));
            }
        }
        Rule::Closure(closed) => {
            values.push(("first_day", closed.from_day.to_string()));
            values.push(("last_day", closed.to_day.to_string()));
            values.push(("reason", closed.reason.clone()));
        }
    }
    Typed::filled(values)
}

/// The rules of a form: several where weekly hours hold on several days.
fn read(kind: RuleKind, typed: &mut Typed, today: Date) -> Option<Vec<Rule>> {
    let rules = read_fields(kind, typed, today);
    let rules = rules.filter(|_| typed.is_fine())?;
    if let Some(first) = rules.first() {
        refuse_all(typed, rules::flaws(first));
    }
    typed.is_fine().then_some(rules)
}

fn read_fields(kind: RuleKind, typed: &mut Typed, today: Date) -> Option<Vec<Rule>> {
    let machines = typed.is_ticked("machines");
    match kind {
        RuleKind::Weekly => {
            let weekdays: Vec<i8> = (1..=7)
                .filter(|number| typed.has("weekday", &number.to_string()))
                .collect();
            if weekdays.is_empty() {
                typed.refuse("weekday", "has no day chosen; must have at least one");
            }
            let from = typed.take("from", parse_clock);
            let to = typed.take("to", parse_clock);
            let from_day = typed.take_if_any("first_day", parse_day);
            let to_day = typed.take_if_any("last_day", parse_day);
            let hours = WeeklyHours {
                weekday: 1,
                from_minute: from?,
                to_minute: to?,
                machines,
                from_day: from_day?.unwrap_or(today),
                to_day: to_day?,
            };
            let each = |weekday| {
                Rule::Weekly(WeeklyHours {
                    weekday,
                    ..hours.clone()
                })
            };
            Some(weekdays.into_iter().map(each).collect())
        }
        RuleKind::Extra => {
            let on_day = typed.take("day", parse_day);
            let from = typed.take("from", parse_clock);
            let to = typed.take("to", parse_clock);
            Some(vec![Rule::Extra(ExtraHours {
                on_day: on_day?,
                from_minute: from?,
                to_minute: to?,
                machines,
                note: typed.text("note").to_owned(),
            })])
        }
        RuleKind::Closure => {
            let from_day = typed.take("first_day", parse_day);
            let to_day = typed.take_if_any("last_day", parse_day);
            let from_day = from_day?;
            Some(vec![Rule::Closure(ClosedDays {
                from_day,
                to_day: to_day?.unwrap_or(from_day),
                reason: typed.text("reason").to_owned(),
            })])
        }
    }
}

fn new_page(shell: Shell, kind: RuleKind, typed: Typed) -> FormPage {
    let (title, lead) = match kind {
        RuleKind::Weekly => (
            "New weekly hours",
            "Hours that come back every week. Plans put steps that need somebody into them.",
        ),
        RuleKind::Extra => (
            "New extra opening",
            "An opening on a single day; it holds on closed days too.",
        ),
        RuleKind::Closure => (
            "New closure",
            "Days on which the weekly hours do not hold. Glue hardens and oil cures all the same.",
        ),
    };
    FormPage::new(shell, title, fields_of(kind, true), typed)
        .lead(lead)
        .between(path_of(kind), LIST)
}

fn edit_page(shell: Shell, kind: RuleKind, id: i64, typed: Typed) -> FormPage {
    let title = match kind {
        RuleKind::Weekly => "Weekly hours",
        RuleKind::Extra => "Extra opening",
        RuleKind::Closure => "Closure",
    };
    let path = format!("{}/{id}", path_of(kind));
    FormPage::new(shell, title, fields_of(kind, false), typed)
        .between(path.clone(), LIST)
        .removal(
            format!("{path}/remove"),
            "Remove it? What is booked stays booked; plan it anew where nobody could be there.",
        )
}

async fn new(shell: Shell, Path(kind): Path<String>) -> Result<Response, Error> {
    let kind = kind_of(&kind)?;
    let typed = match kind {
        RuleKind::Closure => Typed::default(),
        _ => Typed::filled([("machines", "yes".to_owned())]),
    };
    new_page(shell, kind, typed).show()
}

async fn create(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    Path(kind): Path<String>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let kind = kind_of(&kind)?;
    let Some(rules) = read(kind, &mut typed, today(&app).await?) else {
        return new_page(shell, kind, typed).again();
    };
    let mut db = app.store.begin().await?;
    for rule in &rules {
        rules::create(&mut db, app.by(&caller), rule).await?;
    }
    db.commit().await?;
    let says = match kind {
        RuleKind::Weekly if rules.len() > 1 => {
            format!("Hours on {} days a week are there.", rules.len())
        }
        RuleKind::Weekly => "The weekly hours are there.".to_owned(),
        RuleKind::Extra => "The extra opening is there.".to_owned(),
        RuleKind::Closure => "The closure is there.".to_owned(),
    };
    Ok(see_other(LIST).saying(Flash::done(says)).response(&app))
}

async fn found(app: &App, kind: RuleKind, id: i64) -> Result<Option<KeptRule>, Error> {
    let mut db = app.store.read().acquire().await?;
    Ok(rules::find(&mut db, kind, id).await?)
}

async fn edit(
    State(app): State<App>,
    shell: Shell,
    Path((kind, id)): Path<(String, i64)>,
) -> Result<Response, Error> {
    let kind = kind_of(&kind)?;
    let kept = found(&app, kind, id)
        .await?
        .ok_or_else(|| Error::NotFound("There are no such hours any more.".into()))?;
    edit_page(shell, kind, id, fill(&kept)).show()
}

async fn update(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    Path((kind, id)): Path<(String, i64)>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let kind = kind_of(&kind)?;
    let rule =
        read(kind, &mut typed, today(&app).await?).and_then(|rules| rules.into_iter().next());
    let Some(rule) = rule else {
        return edit_page(shell, kind, id, typed).again();
    };
    let mut db = app.store.begin().await?;
    let written = rules::update(&mut db, app.by(&caller), id, version_of(&typed), &rule).await;
    if matches!(written, Err(Refusal::Stale)) {
        drop(db);
        let form = edit_page(shell, kind, id, typed);
        return match found(&app, kind, id).await? {
            Some(newer) => {
                let yours = KeptRule {
                    rule,
                    ..newer.clone()
                };
                form.stale(&fill(&newer), &fill(&yours))
            }
            None => form.gone(path_of(kind)),
        };
    }
    written?;
    db.commit().await?;
    Ok(see_other(LIST)
        .saying(Flash::done(
            "It is changed. What is booked already stays where it is.",
        ))
        .response(&app))
}

async fn remove(
    State(app): State<App>,
    Steward(caller): Steward,
    Path((kind, id)): Path<(String, i64)>,
    typed: Typed,
) -> Result<Response, Error> {
    let kind = kind_of(&kind)?;
    let mut db = app.store.begin().await?;
    rules::remove(&mut db, app.by(&caller), kind, id, version_of(&typed)).await?;
    db.commit().await?;
    Ok(see_other(LIST)
        .saying(Flash::done("It is removed."))
        .response(&app))
}
