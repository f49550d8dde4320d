//! What the workshop is at a glance, and the way to everything that stewards set.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::openings::weekday_name;
use crate::app::opening_rule::clock;
use crate::app::start::FirstHour;
use crate::app::{App, days, hours::Hours};
use crate::store::resource::{self, ResourceKind};
use crate::store::{bin, lumber, workshop};
use crate::units::Volume;
use crate::web::{Error, Routes, Section, Shell, Who, page, words};

pub(super) fn routes(routes: Routes) -> Routes {
    routes.get("/workshop", Who::Visitor, show)
}

#[derive(Template)]
#[template(path = "workshop/overview.html")]
struct OverviewPage {
    shell: Shell,
    opening: String,
    /// Everything that a first project needs is there.
    is_ready: bool,
    /// Weekday and times.
    weekly: Vec<(&'static str, String)>,
    closed: Vec<String>,
    clamps: String,
    stations: String,
    bins: String,
    lumber: String,
    facts: Vec<(&'static str, String)>,
    /// When the newest reading of the air was taken.
    read_on: Option<String>,
}

async fn show(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
    let now = app.clock.now();
    let mut db = app.store.read().acquire().await?;
    let hours = Hours::load(&mut db, now).await?;
    let today = days::day_of(now, &hours.zone);
    let settings = workshop::get(&mut *db).await?.settings;
    let resources = resource::list(&mut *db).await?;
    let bins = bin::list(&mut *db).await?;
    let boards = lumber::list(&mut *db).await?;
    let is_ready = FirstHour::load(&mut db).await?.is_over();
    drop(db);
    let (clamps, stations): (Vec<_>, Vec<_>) = resources
        .iter()
        .partition(|resource| resource.about.kind == ResourceKind::ClampSet);
    let n_clamps: u32 = clamps.iter().map(|set| set.about.capacity).sum();
    let widest = clamps.iter().filter_map(|set| set.about.reach).max();
    let lengths = shell.lengths();
    let n_pieces: i64 = bins.iter().map(|bin| bin.pieces).sum();
    let volume: i64 = bins.iter().map(|bin| bin.volume_mm3).sum();
    let board_feet = Volume::from_mm3(volume as f64).board_feet();
    let cutting = &settings.cutting;
    let mut facts = vec![
        ("Saw kerf, ripping", lengths.show(cutting.rip_kerf)),
        (
            "Saw kerf, crosscutting",
            lengths.show(cutting.crosscut_kerf),
        ),
        (
            "A claim lasts",
            words::counted(settings.claim_days.into(), "day", "days"),
        ),
        (
            "Wood from the bins",
            if settings.price_per_board_foot_cents == 0 {
                "free, unless its species has a price".to_owned()
            } else {
                format!("{} a board foot", settings.price_per_board_foot())
            },
        ),
    ];
    let air = settings.air_now();
    if let Some(air) = air {
        facts.push((
            "Air in the workshop",
            format!(
                "{:.0} °C, {:.0} % humidity",
                air.temperature_c, air.relative_humidity_percent
            ),
        ));
    }
    let read_on = air.map(|air| words::day(air.read_on));
    page(&OverviewPage {
        is_ready,
        opening: next_opening(&hours, now, today),
        weekly: weekly(&hours, today),
        closed: hours
            .closures
            .iter()
            .map(|closure| {
                let days = &closure.days;
                let when = if days.from_day == days.to_day {
                    words::day(days.from_day)
                } else {
                    format!(
                        "{} to {}",
                        words::day(days.from_day),
                        words::day(days.to_day)
                    )
                };
                if days.reason.is_empty() {
                    when
                } else {
                    format!("{when}: {}", days.reason)
                }
            })
            .collect(),
        clamps: match widest {
            None => "None yet.".to_owned(),
            Some(widest) => format!(
                "{} in {}; the longest reach {}.",
                words::counted(n_clamps as usize, "clamp", "clamps"),
                words::counted(clamps.len(), "set", "sets"),
                lengths.show(widest)
            ),
        },
        stations: if stations.is_empty() {
            "No bench or machine yet.".to_owned()
        } else {
            format!("{}.", words::counted(stations.len(), "station", "stations"))
        },
        bins: format!(
            "{} with {}, {board_feet:.1} board feet.",
            words::counted(bins.len(), "bin", "bins"),
            words::counted(usize::try_from(n_pieces).unwrap_or(0), "piece", "pieces"),
        ),
        lumber: if boards.is_empty() {
            "None on the list yet.".to_owned()
        } else {
            format!(
                "{} that a match may buy.",
                words::counted(boards.len(), "board", "boards")
            )
        },
        facts,
        read_on,
        shell: shell.at(Section::Workshop),
    })
}

/// How far ahead an opening is looked for, in days.
const AHEAD: u16 = 60;

/// Whether it is open, and until when or from when.
pub(super) fn next_opening(
    hours: &Hours,
    now: jiff::Timestamp,
    today: jiff::civil::Date,
) -> String {
    let last = days::days_after(today, AHEAD);
    let yesterday = today.yesterday().unwrap_or(today);
    let windows = hours.windows(yesterday, last, None);
    let Some((from, to)) = windows.open.iter().find(|(_, to)| *to > now) else {
        return "No opening in the next two months.".to_owned();
    };
    let local = |at: &jiff::Timestamp| at.to_zoned_datetime(hours.zone.clone());
    if *from <= now {
        let until = local(to);
        let day = if until.date() == today {
            String::new()
        } else {
            format!(" on {}", words::short_day(until.date()))
        };
        return format!("Open now, until {}{day}.", until.strftime("%H:%M"));
    }
    let opens = local(from);
    let day = if opens.date() == today {
        "today".to_owned()
    } else {
        format!("on {}", words::day(opens.date()))
    };
    format!("Opens {day} at {}.", opens.strftime("%H:%M"))
}

fn weekly(hours: &Hours, today: jiff::civil::Date) -> Vec<(&'static str, String)> {
    (1..=7)
        .filter_map(|number| {
            let times: Vec<String> = hours
                .weekly
                .iter()
                .map(|rule| &rule.hours)
                .filter(|rule| {
                    rule.weekday == number
                        && rule.from_day <= today
                        && rule.to_day.is_none_or(|last| today <= last)
                })
                .map(|rule| {
                    let times = format!("{} to {}", clock(rule.from_minute), clock(rule.to_minute));
                    if rule.machines {
                        times
                    } else {
                        format!("{times} without machines")
                    }
                })
                .collect();
            (!times.is_empty()).then(|| (weekday_name(number), times.join(", ")))
        })
        .collect()
}
