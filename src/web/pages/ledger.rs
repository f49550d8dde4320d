//! The wood ledger: sums, pictures with their figures as tables, and every row.

use askama::Template;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp, ToSpan as _};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::app::{App, Caller, days, ledger_file};
use crate::export::svg::{self, Bar, ChartWords, Colour, Drawing, InAndOut, Style};
use crate::store::ledger::{self, LedgerRow, Search, Sums, SumsOf, What};
use crate::store::workshop::Workshop;
use crate::store::{MemberId, member, offcut, workshop};
use crate::units::Volume;
use crate::web::paging::percent_encoded;
use crate::web::{
    Error, Member, Query, Routes, Section, Shell, Typed, Who, page, page_again, words,
};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/ledger", Who::Member, show)
        .get("/ledger/export", Who::Member, export)
}

/// Rows on one page.
const LIMIT: u32 = 25;
/// Months in the pictures.
const MONTHS: i64 = 12;
/// Members in the picture of who uses shared wood.
const MOST_USERS: usize = 12;

/// The words of the filter.
const WHATS: [(&str, &str); 6] = [
    ("", "everything"),
    ("added", "brought in"),
    ("cut", "cut up"),
    ("remainder", "remainders that went back"),
    ("corrected", "corrections"),
    ("gone", "gone without being cut"),
];

#[derive(Template)]
#[template(path = "ledger.html")]
struct LedgerPage {
    shell: Shell,
    lead: String,
    all: Vec<(&'static str, String)>,
    pictures: Vec<Picture>,
    typed: Typed,
    whats: Vec<(String, String)>,
    species: Vec<(String, String)>,
    members: Vec<(String, String)>,
    is_search: bool,
    matching: Vec<(&'static str, String)>,
    rows: Vec<RowLine>,
    /// The query of the next page.
    next: Option<String>,
    /// The query of the export.
    query: String,
    shows_users: bool,
}

/// A drawing with the figures that it shows.
struct Picture {
    title: &'static str,
    says: String,
    drawing: Option<Drawing>,
    columns: Vec<&'static str>,
    rows: Vec<Vec<String>>,
}

struct RowLine {
    when: String,
    what: &'static str,
    tag: String,
    /// Nothing where the entry was read from an earlier book.
    offcut: Option<i64>,
    species: String,
    pieces: String,
    board_feet: String,
    member: String,
    project: String,
    project_id: Option<i64>,
    why: String,
}

/// Which rows are wanted; each may be empty.
#[derive(Deserialize, Default, IntoParams)]
#[serde(default)]
#[into_params(parameter_in = Query)]
pub(in crate::web) struct Asked {
    /// `added`, `cut`, `remainder`, `corrected` or `gone`.
    what: String,
    species: String,
    /// The number of a member.
    member: String,
    /// The tag of a piece.
    tag: String,
    /// The first day, such as `2027-03-01`.
    from: String,
    /// The last day.
    to: String,
    #[param(ignore)]
    before: String,
}

fn board_feet(mm3: i64) -> f64 {
    Volume::from_mm3(mm3 as f64).board_feet()
}

fn board_feet_words(mm3: i64) -> String {
    format!("{:.1}", board_feet(mm3))
}

/// `+3` or `−2`, with the minus sign of typography.
fn signed(text: &str) -> String {
    match text.strip_prefix('-') {
        Some(rest) => format!("−{rest}"),
        None => format!("+{text}"),
    }
}

/// Whether the caller sees who used the wood, besides themselves.
fn sees_users(caller: &Caller, workshop: &Workshop) -> bool {
    caller.is_steward() || workshop.settings.members_see_users
}

/// The only member whose name the caller sees in the ledger, where the workshop hides who used what.
pub(in crate::web) async fn sees_only(
    app: &App,
    caller: &Caller,
) -> Result<Option<MemberId>, Error> {
    let workshop = workshop::get(app.store.read()).await?;
    Ok((!sees_users(caller, &workshop)).then_some(caller.member.id))
}

/// What to look for; what cannot be read stands beside its field.
async fn search(
    app: &App,
    typed: &mut Typed,
    asked: &Asked,
    workshop: &Workshop,
    only: Option<MemberId>,
) -> Result<Search, Error> {
    let day = |text: &str| super::workshop::parse_day(text);
    let what = typed.take_if_any("what", |word| {
        What::from_word(word).ok_or("is not chosen; must be one of the list")
    });
    let from = typed.take_if_any("from", day);
    let to = typed.take_if_any("to", day);
    let chosen = typed.take_if_any("member", |text| {
        text.parse::<MemberId>()
            .ok()
            .filter(|id| only.is_none_or(|only| only == *id))
            .ok_or("is not chosen; must be one of the list")
    });
    let tag = typed.text("tag").to_owned();
    let piece = match tag.as_str() {
        "" => None,
        tag => {
            let found = offcut::find_by_tag(app.store.read(), tag).await?;
            if found.is_none() && !ledger::has_earlier(app.store.read(), tag).await? {
                let shown: String = tag.chars().take(30).collect();
                typed.refuse("tag", format!("is \"{shown}\"; must be the tag of a piece"));
            }
            found.map(|piece| piece.id)
        }
    };
    let begins = |day: Date| days::instant_of(day, 0, &workshop.time_zone);
    Ok(Search {
        what: what.flatten(),
        species: Some(asked.species.trim().to_owned()).filter(|name| !name.is_empty()),
        offcut: piece,
        earlier_tag: Some(tag).filter(|tag| !tag.is_empty()),
        project: None,
        member: chosen.flatten(),
        from: from.flatten().map(begins),
        to: to.flatten().map(|day| begins(days::days_after(day, 1))),
        before: asked.before.parse().ok(),
        limit: LIMIT + 1,
    })
}

fn filled(asked: &Asked) -> Typed {
    Typed::filled([
        ("what", asked.what.clone()),
        ("species", asked.species.clone()),
        ("member", asked.member.clone()),
        ("tag", asked.tag.clone()),
        ("from", asked.from.clone()),
        ("to", asked.to.clone()),
    ])
}

fn query_of(typed: &Typed) -> String {
    let parts: Vec<String> = typed
        .pairs()
        .filter(|(_, value)| !value.is_empty())
        .map(|(name, value)| format!("{name}={}", percent_encoded(value)))
        .collect();
    parts.join("&")
}

async fn show(
    State(app): State<App>,
    shell: Shell,
    Member(caller): Member,
    Query(asked): Query<Asked>,
) -> Result<Response, Error> {
    let workshop = workshop::get(app.store.read()).await?;
    let sees_users = sees_users(&caller, &workshop);
    let only = (!sees_users).then_some(caller.member.id);
    let mut typed = filled(&asked);
    let search = search(&app, &mut typed, &asked, &workshop, only).await?;
    let is_fine = typed.is_fine();
    let query = query_of(&typed);
    let is_search = !query.is_empty();
    let mut rows = if is_fine {
        ledger::list(app.store.read(), &search).await?
    } else {
        Vec::new()
    };
    let has_more = rows.len() > LIMIT as usize;
    rows.truncate(LIMIT as usize);
    let matching = if is_search && is_fine {
        let mut db = app.store.read().acquire().await?;
        sum_words(&ledger::sum(&mut db, &search).await?)
    } else {
        Vec::new()
    };
    let all = ledger::sum_all(app.store.read()).await?;
    let next = rows.last().filter(|_| has_more).map(|last| {
        let joint = if query.is_empty() { "" } else { "&" };
        format!("{query}{joint}before={}", last.id)
    });
    let options = |first: &str, names: Vec<(String, String)>| {
        let mut options = vec![(String::new(), first.to_owned())];
        options.extend(names);
        options
    };
    let species = ledger::list_species(app.store.read()).await?;
    let members = if sees_users {
        let members = member::list(app.store.read()).await?;
        members
            .into_iter()
            .map(|member| (member.id.to_string(), member.name))
            .collect()
    } else {
        vec![(caller.member.id.to_string(), caller.member.name.clone())]
    };
    let template = LedgerPage {
        lead: lead(&all),
        pictures: pictures(&app, &workshop, sees_users, &shell).await?,
        all: sum_words(&all),
        whats: WHATS
            .map(|(word, words)| (word.to_owned(), words.to_owned()))
            .to_vec(),
        species: options(
            "any species",
            species
                .into_iter()
                .map(|name| (name.clone(), name))
                .collect(),
        ),
        members: options("anybody", members),
        is_search,
        matching,
        rows: rows
            .iter()
            .map(|row| RowLine::new(row, &workshop, only))
            .collect(),
        next,
        query,
        shows_users: sees_users,
        typed,
        shell: shell.at(Section::Ledger),
    };
    if is_fine {
        page(&template)
    } else {
        page_again(&template)
    }
}

fn lead(all: &Sums) -> String {
    if all.strips_mm3 == 0 {
        "Every piece that came, went or was cut, and what became of it.".to_owned()
    } else {
        format!(
            "{} board feet went into gifts instead of the fire.",
            board_feet_words(all.strips_mm3)
        )
    }
}

fn sum_words(sums: &Sums) -> Vec<(&'static str, String)> {
    let said = |mm3: i64| format!("{} board feet", board_feet_words(mm3));
    vec![
        ("Brought in", said(sums.added_mm3)),
        ("Cut up", said(sums.cut_mm3)),
        ("Of that, into strips", said(sums.strips_mm3)),
        ("Of that, back to the bins", said(sums.remainders_mm3)),
        ("Of that, waste", said(sums.waste_mm3)),
        ("Gone without being cut", said(sums.gone_mm3)),
    ]
}

fn what_words(what: What) -> &'static str {
    match what {
        What::Added => "brought in",
        What::Remainder => "remainder",
        What::Corrected => "corrected",
        What::Cut => "cut up",
        What::Gone => "gone",
    }
}

impl RowLine {
    /// With `only`, who did it and for what stays hidden for everybody else.
    fn new(row: &LedgerRow, workshop: &Workshop, only: Option<MemberId>) -> RowLine {
        let at = row.at.to_zoned_datetime(workshop.time_zone.clone());
        let is_shown = only.is_none_or(|only| row.member == Some(only));
        RowLine {
            when: words::moment_of_year(&at),
            what: what_words(row.what),
            tag: row.tag.clone(),
            offcut: row.offcut.map(|offcut| offcut.0),
            species: row.species.clone(),
            pieces: signed(&row.pieces.to_string()),
            board_feet: signed(&format!("{:.2}", board_feet(row.volume_mm3))),
            member: row
                .member_name
                .clone()
                .filter(|_| is_shown)
                .unwrap_or_default(),
            project: row
                .project_name
                .clone()
                .filter(|_| is_shown)
                .unwrap_or_default(),
            project_id: row.project.filter(|_| is_shown).map(|id| id.0),
            why: row.why.clone(),
        }
    }
}

/// The months that the pictures show, oldest first, as `YYYY-MM`, for the axis, and in words.
fn months(today: Date) -> Vec<(String, String, String)> {
    let first = today.first_of_month();
    (0..MONTHS)
        .rev()
        .map(|back| first.saturating_sub(back.months()))
        .map(|month| {
            let key = month.strftime("%Y-%m").to_string();
            let axis = if month.month() == 1 {
                month.strftime("%b %Y").to_string()
            } else {
                month.strftime("%b").to_string()
            };
            (key, axis, month.strftime("%B %Y").to_string())
        })
        .collect()
}

async fn pictures(
    app: &App,
    workshop: &Workshop,
    sees_users: bool,
    shell: &Shell,
) -> Result<Vec<Picture>, Error> {
    let now = app.clock.now();
    let today = days::day_of(now, &workshop.time_zone);
    let months = months(today);
    let (Some((from, _, _)), Some((to, _, _))) = (months.first(), months.last()) else {
        return Ok(Vec::new());
    };
    let db = app.store.read();
    let by_month = ledger::sum_by_month(db, from, to).await?;
    let by_species = ledger::sum_by_species(db, from, to).await?;
    let mut pictures = vec![
        kept_by_month(&months, &by_month, shell),
        in_and_out(&by_species, shell),
        ages(app, now, shell).await?,
    ];
    if sees_users {
        let by_member = ledger::sum_by_member(db, from, to).await?;
        pictures.push(users(&by_member, shell));
    }
    Ok(pictures)
}

fn colourless(_: &str) -> Colour {
    Colour::new(190, 160, 120)
}

fn style<'a>(prefix: &'a str, shell: &Shell) -> Style<'a> {
    Style {
        prefix,
        width: Style::PHONE,
        lengths: shell.lengths(),
        colour: &colourless,
    }
}

fn bars(prefix: &str, title: &str, bars: &[Bar], shell: &Shell) -> Option<Drawing> {
    let words = ChartWords {
        title,
        unit: "board feet",
    };
    let has_any = bars.iter().any(|bar| bar.value > 0.0);
    has_any.then(|| svg::bars(&style(prefix, shell), words, bars))
}

fn kept_by_month(months: &[(String, String, String)], sums: &[SumsOf], shell: &Shell) -> Picture {
    let title = "Kept from the fire, by month";
    let of = |key: &str| {
        sums.iter()
            .find(|sums| sums.of == key)
            .map(|sums| &sums.sums)
    };
    let drawn: Vec<Bar> = months
        .iter()
        .map(|(key, axis, _)| Bar {
            label: axis.clone(),
            value: of(key).map_or(0.0, |sums| board_feet(sums.strips_mm3)),
        })
        .collect();
    Picture {
        title,
        says: "Wood that went into strips of projects, in the last twelve months.".to_owned(),
        drawing: bars("kept", title, &drawn, shell),
        columns: vec!["Month", "Into strips", "Brought in", "Waste"],
        rows: months
            .iter()
            .map(|(key, _, name)| {
                let figure = |get: fn(&Sums) -> i64| board_feet_words(of(key).map_or(0, get));
                vec![
                    name.clone(),
                    figure(|sums| sums.strips_mm3),
                    figure(|sums| sums.added_mm3),
                    figure(|sums| sums.waste_mm3),
                ]
            })
            .collect(),
    }
}

/// What left the bins for good: cut pieces without their remainders, and what went uncut.
fn left(sums: &Sums) -> i64 {
    sums.cut_mm3 - sums.remainders_mm3 + sums.gone_mm3
}

fn in_and_out(sums: &[SumsOf], shell: &Shell) -> Picture {
    let title = "In and out, by species";
    let drawn: Vec<InAndOut> = sums
        .iter()
        .map(|species| InAndOut {
            label: species.of.clone(),
            came: board_feet(species.sums.added_mm3.max(0)),
            went: board_feet(left(&species.sums).max(0)),
        })
        .collect();
    let words = ChartWords {
        title,
        unit: "board feet",
    };
    Picture {
        title,
        says: "What was brought in, and what left the bins for good, in the last twelve months."
            .to_owned(),
        drawing: (!drawn.is_empty())
            .then(|| svg::in_and_out(&style("species", shell), words, &drawn)),
        columns: vec!["Species", "Came", "Went", "Of that, into strips"],
        rows: sums
            .iter()
            .map(|species| {
                vec![
                    species.of.clone(),
                    board_feet_words(species.sums.added_mm3),
                    board_feet_words(left(&species.sums)),
                    board_feet_words(species.sums.strips_mm3),
                ]
            })
            .collect(),
    }
}

/// Ages by days, oldest last: label of the axis, words, and the youngest age that no longer belongs.
const AGES: [(&str, &str, Option<i64>); 6] = [
    ("1 mo", "less than 30 days", Some(30)),
    ("3 mo", "30 to 90 days", Some(90)),
    ("6 mo", "90 to 180 days", Some(180)),
    ("1 yr", "180 days to a year", Some(365)),
    ("2 yr", "one to two years", Some(730)),
    ("older", "more than two years", None),
];

async fn ages(app: &App, now: Timestamp, shell: &Shell) -> Result<Picture, Error> {
    let title = "Age of what lies in the bins";
    let mut drawn = Vec::new();
    let mut rows = Vec::new();
    // A moment later than now, since what came just now counts.
    let mut to = now + SignedDuration::from_secs(1);
    for (axis, said, oldest) in AGES {
        let from = oldest.map_or(Timestamp::UNIX_EPOCH, |days| {
            now - SignedDuration::from_hours(24 * days)
        });
        let stock = offcut::stock_added_between(app.store.read(), from, to).await?;
        drawn.push(Bar {
            label: axis.to_owned(),
            value: board_feet(stock.volume_mm3),
        });
        rows.push(vec![
            said.to_owned(),
            stock.pieces.to_string(),
            board_feet_words(stock.volume_mm3),
        ]);
        to = from;
    }
    Ok(Picture {
        title,
        says: "Since the piece came; a remainder counts from the day it was cut.".to_owned(),
        drawing: bars("ages", title, &drawn, shell),
        columns: vec!["Age", "Pieces", "Board feet"],
        rows,
    })
}

fn users(sums: &[SumsOf], shell: &Shell) -> Picture {
    let title = "Who uses shared wood";
    let users: Vec<&SumsOf> = sums
        .iter()
        .filter(|member| member.sums.cut_mm3 > 0)
        .collect();
    let drawn: Vec<Bar> = users
        .iter()
        .take(MOST_USERS)
        .map(|member| Bar {
            label: member
                .of
                .split_whitespace()
                .next()
                .unwrap_or_default()
                .to_owned(),
            value: board_feet(member.sums.strips_mm3),
        })
        .collect();
    Picture {
        title,
        says: "Wood in strips of each member's projects, in the last twelve months.".to_owned(),
        drawing: bars("users", title, &drawn, shell),
        columns: vec!["Member", "Into strips", "Waste"],
        rows: users
            .iter()
            .map(|member| {
                vec![
                    member.of.clone(),
                    board_feet_words(member.sums.strips_mm3),
                    board_feet_words(member.sums.waste_mm3),
                ]
            })
            .collect(),
    }
}

/// What a caller looks for, and whose doings alone they see by name: everybody's where it is `None`.
///
/// # Errors
/// [`Error::Wrong`] names what cannot be looked for.
pub(in crate::web) async fn filter(
    app: &App,
    caller: &Caller,
    asked: &Asked,
) -> Result<(Search, Option<MemberId>), Error> {
    let workshop = workshop::get(app.store.read()).await?;
    let only = (!sees_users(caller, &workshop)).then_some(caller.member.id);
    let mut typed = filled(asked);
    let search = search(app, &mut typed, asked, &workshop, only).await?;
    if typed.is_fine() {
        Ok((search, only))
    } else {
        Err(Error::Wrong(typed.flaws()))
    }
}

/// The matching rows as a file, the newest first.
pub(in crate::web) async fn export(
    State(app): State<App>,
    Member(caller): Member,
    Query(asked): Query<Asked>,
) -> Result<Response, Error> {
    let (search, only) = filter(&app, &caller, &asked).await?;
    let mut db = app.store.read().acquire().await?;
    let bytes = ledger_file::export(&mut db, search, only).await?;
    Ok(csv_file("ledger.csv", bytes))
}

/// A CSV file to be saved (RFC 4180, media type `text/csv`).
pub(in crate::web) fn csv_file(name: &str, bytes: Vec<u8>) -> Response {
    let headers = [
        (
            header::CONTENT_TYPE,
            "text/csv; charset=utf-8; header=present".to_owned(),
        ),
        (
            header::CONTENT_DISPOSITION,
            format!("attachment; filename=\"{name}\""),
        ),
        (header::CACHE_CONTROL, "private, no-store".to_owned()),
    ];
    (headers, bytes).into_response()
}
