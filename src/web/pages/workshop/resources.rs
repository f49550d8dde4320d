//! Clamp sets and stations: what the workshop lends by the hour.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use serde::Deserialize;

use super::form::{Field, FormPage, Group, version_of};
use crate::app::App;
use crate::store::resource::{self, NewResource, Resource, ResourceKind};
use crate::store::{Refusal, ResourceId};
use crate::units::{Force, Length, LengthFormat};
use crate::web::{
    Error, Flash, Path, Query, Routes, Section, Shell, Steward, Typed, Who, line, page, see_other,
};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/workshop/clamps", Who::Visitor, list)
        .get("/workshop/clamps/new", Who::Steward, new)
        .post("/workshop/clamps", Who::Steward, create)
        .get("/workshop/clamps/{id}", Who::Steward, edit)
        .post("/workshop/clamps/{id}", Who::Steward, update)
        .post("/workshop/clamps/{id}/remove", Who::Steward, remove)
}

const LIST: &str = "/workshop/clamps";

#[derive(Template)]
#[template(path = "workshop/clamps.html")]
struct ListPage {
    shell: Shell,
    clamps: Vec<ClampLine>,
    stations: Vec<StationLine>,
    /// Kinds of stations that steps of projects ask for and that the workshop has none of.
    missing: Vec<&'static str>,
}

struct ClampLine {
    id: ResourceId,
    name: String,
    capacity: u32,
    reach: String,
    force: String,
}

struct StationLine {
    id: ResourceId,
    name: String,
    kind: &'static str,
    capacity: u32,
    pass_width: String,
}

/// Stations without which no project of any kind gets through.
const NEEDED: [ResourceKind; 4] = [
    ResourceKind::GlueBench,
    ResourceKind::TableSaw,
    ResourceKind::Sander,
    ResourceKind::RackPlace,
];

/// The kinds to which a widest panel belongs.
fn has_pass_width(kind: ResourceKind) -> bool {
    matches!(kind, ResourceKind::Planer | ResourceKind::DrumSander)
}

async fn list(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
    let resources = resource::list(app.store.read()).await?;
    let lengths = shell.lengths();
    let show =
        |length: Option<Length>| length.map_or_else(String::new, |length| lengths.show(length));
    let (clamps, stations): (Vec<_>, Vec<_>) = resources
        .iter()
        .partition(|resource| resource.about.kind == ResourceKind::ClampSet);
    let missing = NEEDED
        .iter()
        .filter(|kind| {
            !stations
                .iter()
                .any(|station| station.about.kind == **kind && station.about.capacity > 0)
        })
        .map(|kind| kind.word())
        .collect();
    page(&ListPage {
        clamps: clamps
            .iter()
            .map(|set| ClampLine {
                id: set.id,
                name: set.about.name.clone(),
                capacity: set.about.capacity,
                reach: show(set.about.reach),
                force: force_words(set.about.rated_force_n),
            })
            .collect(),
        stations: stations
            .iter()
            .map(|station| StationLine {
                id: station.id,
                name: station.about.name.clone(),
                kind: station.about.kind.word(),
                capacity: station.about.capacity,
                pass_width: show(station.about.pass_width),
            })
            .collect(),
        missing,
        shell: shell.at(Section::Workshop),
    })
}

/// `4500 N (1012 lbf)`.
fn force_words(newtons: Option<i64>) -> String {
    newtons.map_or_else(String::new, |newtons| {
        let pounds = Force::from_newtons(newtons as f64).pounds();
        format!("{newtons} N ({pounds:.0} lbf)")
    })
}

fn fields(is_clamp: bool) -> Vec<Group> {
    let mut fields = Vec::new();
    if is_clamp {
        fields.push(Field::line("name", "Name").hint("As people call the set: Long bar clamps."));
        fields.push(
            Field::whole("capacity", "How many").hint("Clamps of this set that are fit for use."),
        );
        fields.push(
            Field::line("reach", "Reach")
                .hint("The widest thing between the jaws: panel, cauls and pads together."),
        );
        fields.push(
            Field::line("force", "Rated force of one")
                .optional()
                .hint("From the maker, in newtons (4500 or 4500 N) or pounds (1000 lbf)."),
        );
    } else {
        let kinds = ResourceKind::ALL
            .iter()
            .filter(|kind| **kind != ResourceKind::ClampSet)
            .map(|kind| (kind.word().to_owned(), kind.word().to_owned()))
            .collect();
        fields.push(Field::choice("kind", "What it is", kinds));
        fields.push(
            Field::line("name", "Name").hint("As people call it: Window bench, Drying rack."),
        );
        fields.push(
            Field::whole("capacity", "How many at once")
                .hint("Members who can work at it at one time, or places on a rack. 0 while it is out of order."),
        );
        fields.push(
            Field::line("pass_width", "Widest panel that passes")
                .optional()
                .hint("For a planer or a drum sander."),
        );
    }
    vec![Group {
        fields,
        ..Group::default()
    }]
}

fn fill(resource: &Resource, lengths: LengthFormat) -> Typed {
    let show = |length: Option<Length>| {
        length.map_or_else(String::new, |length| lengths.show_exact(length))
    };
    let about = &resource.about;
    Typed::filled([
        ("version", resource.version.to_string()),
        ("kind", about.kind.word().to_owned()),
        ("name", about.name.clone()),
        ("capacity", about.capacity.to_string()),
        ("reach", show(about.reach)),
        (
            "force",
            about
                .rated_force_n
                .map_or_else(String::new, |force| format!("{force} N")),
        ),
        ("pass_width", show(about.pass_width)),
    ])
}

/// The most of one kind that a workshop is believed to have.
const MOST: u32 = 1000;
/// The strongest clamp that is believed, in newtons.
const STRONGEST_N: i64 = 100_000;

/// Newtons of `4500`, `4500 N`, `4.5 kN`, `1000 lbf`, `1000 lb`.
fn parse_force(text: &str) -> Result<i64, String> {
    let shown: String = text.chars().take(30).collect();
    let wrong = || {
        format!("is \"{shown}\"; must be a force like 4500 N or 1000 lbf, at most {STRONGEST_N} N")
    };
    let lower = text.to_ascii_lowercase();
    let split = lower
        .find(|letter: char| letter.is_ascii_alphabetic())
        .unwrap_or(lower.len());
    let (number, unit) = lower.split_at(split);
    let number: f64 = number.trim().parse().map_err(|_| wrong())?;
    let force = match unit.trim() {
        "" | "n" => Force::from_newtons(number),
        "kn" => Force::from_newtons(number * 1000.0),
        "lbf" | "lb" | "lbs" => Force::from_pounds(number),
        _ => return Err(wrong()),
    };
    let newtons = force.newtons().round();
    if newtons >= 1.0 && newtons <= STRONGEST_N as f64 {
        Ok(newtons as i64)
    } else {
        Err(wrong())
    }
}

fn read(typed: &mut Typed, is_clamp: bool, lengths: LengthFormat) -> Option<NewResource> {
    let size = |text: &str| Length::parse_positive(text, Some(lengths.unit()));
    let name = typed.take("name", |text| line(text, 60));
    let capacity = typed.take("capacity", |text| {
        let shown: String = text.chars().take(30).collect();
        text.parse::<u32>()
            .ok()
            .filter(|count| *count <= MOST)
            .ok_or_else(|| format!("is \"{shown}\"; must be a whole number from 0 to {MOST}"))
    });
    if is_clamp {
        let reach = typed.take("reach", size);
        let rated_force_n = typed.take_if_any("force", parse_force);
        return Some(NewResource {
            kind: ResourceKind::ClampSet,
            name: name?,
            capacity: capacity?,
            reach: Some(reach?),
            rated_force_n: rated_force_n?,
            pass_width: None,
        });
    }
    let kind = typed.take("kind", |word| {
        ResourceKind::from_word(word)
            .filter(|kind| *kind != ResourceKind::ClampSet)
            .ok_or("is not chosen; must be one of the list")
    });
    let pass_width = typed.take_if_any("pass_width", size);
    if let (Some(kind), Some(Some(_))) = (kind, pass_width)
        && !has_pass_width(kind)
    {
        typed.refuse(
            "pass_width",
            format!("is given for a {kind}; must be empty, since only a planer and a drum sander have one"),
        );
        return None;
    }
    Some(NewResource {
        kind: kind?,
        name: name?,
        capacity: capacity?,
        reach: None,
        rated_force_n: None,
        pass_width: pass_width?,
    })
}

fn new_page(shell: Shell, is_clamp: bool, typed: Typed) -> FormPage {
    let (title, lead) = if is_clamp {
        (
            "New clamp set",
            "Equal clamps that are lent together. Glue-ups book single clamps out of it.",
        )
    } else {
        (
            "New station",
            "A bench, a machine or places on a rack: what one step occupies while it lasts.",
        )
    };
    let action = if is_clamp {
        LIST.to_owned()
    } else {
        format!("{LIST}?what=station")
    };
    FormPage::new(shell, title, fields(is_clamp), typed)
        .lead(lead)
        .between(action, LIST)
}

fn edit_page(shell: Shell, id: ResourceId, is_clamp: bool, typed: Typed) -> FormPage {
    let title = if is_clamp { "Clamp set" } else { "Station" };
    FormPage::new(shell, title, fields(is_clamp), typed)
        .between(format!("{LIST}/{id}"), LIST)
        .removal(format!("{LIST}/{id}/remove"), "Remove it for good?")
}

/// What is asked for: a clamp set unless the address says otherwise.
#[derive(Deserialize)]
struct Asked {
    #[serde(default)]
    what: String,
}

async fn new(shell: Shell, Query(asked): Query<Asked>) -> Result<Response, Error> {
    let is_clamp = asked.what != "station";
    let first = if is_clamp { "6" } else { "1" };
    let typed = Typed::filled([("capacity", first.to_owned())]);
    new_page(shell, is_clamp, typed).show()
}

/// Puts what the database refused beside its field, or gives it back.
fn refuse(typed: &mut Typed, refusal: Refusal) -> Result<(), Error> {
    match refusal {
        Refusal::Taken(_) => typed.refuse("name", "is taken; must be a name of its own"),
        Refusal::ResourceInUse => typed.refuse(
            "capacity",
            "is less than what is booked at some time; must be at least as many, or those bookings must move first",
        ),
        other => return Err(other.into()),
    }
    Ok(())
}

async fn create(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    Query(asked): Query<Asked>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let is_clamp = asked.what != "station";
    if let Some(resource) = read(&mut typed, is_clamp, shell.lengths()) {
        let mut db = app.store.begin().await?;
        match resource::create(&mut db, app.by(&caller), &resource).await {
            Ok(_) => {
                db.commit().await?;
                return Ok(see_other(LIST)
                    .saying(Flash::done(format!("{} is there.", resource.name)))
                    .response(&app));
            }
            Err(refusal) => refuse(&mut typed, refusal)?,
        }
    }
    new_page(shell, is_clamp, typed).again()
}

async fn found(app: &App, id: ResourceId) -> Result<Option<Resource>, Error> {
    Ok(resource::find(app.store.read(), id).await?)
}

fn is_clamp(resource: &Resource) -> bool {
    resource.about.kind == ResourceKind::ClampSet
}

async fn edit(
    State(app): State<App>,
    shell: Shell,
    Path(id): Path<ResourceId>,
) -> Result<Response, Error> {
    let resource = found(&app, id)
        .await?
        .ok_or_else(|| Error::NotFound("There is no such clamp set or station any more.".into()))?;
    let typed = fill(&resource, shell.lengths());
    edit_page(shell, id, is_clamp(&resource), typed).show()
}

async fn update(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    Path(id): Path<ResourceId>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let lengths = shell.lengths();
    let Some(before) = found(&app, id).await? else {
        // A form that has a reach was one of clamps.
        let was_clamp = typed.is_ticked("reach");
        let again = if was_clamp {
            LIST.to_owned()
        } else {
            format!("{LIST}?what=station")
        };
        return edit_page(shell, id, was_clamp, typed).gone(again);
    };
    let is_clamp = is_clamp(&before);
    let Some(resource) = read(&mut typed, is_clamp, lengths) else {
        return edit_page(shell, id, is_clamp, typed).again();
    };
    let mut db = app.store.begin().await?;
    match resource::update(&mut db, app.by(&caller), id, version_of(&typed), &resource).await {
        Ok(()) => {
            db.commit().await?;
            Ok(see_other(LIST)
                .saying(Flash::done(format!("{} is changed.", resource.name)))
                .response(&app))
        }
        Err(Refusal::Stale) => {
            drop(db);
            let newer = found(&app, id).await?.ok_or(Error::Stale)?;
            let yours = Resource {
                about: resource,
                ..newer.clone()
            };
            edit_page(shell, id, is_clamp, typed)
                .stale(&fill(&newer, lengths), &fill(&yours, lengths))
        }
        Err(refusal) => {
            refuse(&mut typed, refusal)?;
            edit_page(shell, id, is_clamp, typed).again()
        }
    }
}

async fn remove(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<ResourceId>,
    typed: Typed,
) -> Result<Response, Error> {
    let mut db = app.store.begin().await?;
    match resource::remove(&mut db, app.by(&caller), id, version_of(&typed)).await {
        Ok(()) => {}
        Err(Refusal::Reference) => {
            return Err(Error::Conflict(
                "Steps were booked with it, and their history names it. Set how many there are to 0 instead.".into(),
            ));
        }
        Err(other) => return Err(other.into()),
    }
    db.commit().await?;
    Ok(see_other(LIST)
        .saying(Flash::done("It is removed."))
        .response(&app))
}
