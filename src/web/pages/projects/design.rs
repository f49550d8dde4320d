use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::drawn::Drawer;
use super::form::{
    Changed, PRACTICE_LENGTHS, StripRow, change_strips, field_of, fill, fill_practice,
    judge_choices, minutes_field, read, read_practice, rows, strip_lists, workshop_value,
};
use super::live::Live;
use super::opened::{Opened, by, error, own};
use super::path::{Head, Here};
use super::start::day;
use crate::app::App;
use crate::app::basis::Basis;
use crate::app::project::{self as projects, Draft, ProjectError};
use crate::calc::work::{Design, Kind, Needs, Per, StepKind};
use crate::reference;
use crate::store::practice::{FLATTENING_TOOLS, PracticeChanges};
use crate::store::{ProjectId, species};
use crate::units::{Length, Money};
use crate::web::{
    Error, Flash, Member, Path, Section, Shell, Typed, line, lines, page, page_again, see_other,
};

#[derive(Template)]
#[template(path = "projects/design.html")]
struct DesignPage {
    shell: Shell,
    head: Head,
    typed: Typed,
    kind: Kind,
    lists: Vec<StripList>,
    species: Vec<String>,
    allowances: Vec<Allowance>,
    glues: Vec<(String, String)>,
    finishes: Vec<(String, String)>,
    tools: Vec<(String, String)>,
    minutes: Vec<StepField>,
    live: Live,
    /// What a button did, until the design is saved.
    said: Option<String>,
}

/// A list of strips with the names of its fields.
struct StripList {
    prefix: &'static str,
    title: &'static str,
    rows: Vec<SwatchedRow>,
    key: String,
    new_species: String,
    new_width: String,
    rule: String,
    seed: String,
    times: String,
    made: String,
    species: String,
    surface: String,
}

impl StripList {
    fn new(
        prefix: &'static str,
        title: &'static str,
        typed: &Typed,
        drawer: &Drawer<'_>,
    ) -> StripList {
        let rows = rows(typed, prefix).into_iter().map(|row| SwatchedRow {
            colour: drawer.colour_code(&row.species),
            row,
        });
        let field = |name: &str| format!("{prefix}{name}");
        StripList {
            prefix,
            title,
            rows: rows.collect(),
            key: field("strips"),
            new_species: field("new_species"),
            new_width: field("new_width"),
            rule: field("rule"),
            seed: field("seed"),
            times: field("times"),
            made: field("made"),
            species: field("species"),
            surface: field("surface"),
        }
    }
}

/// A strip of the form with its colour.
struct SwatchedRow {
    row: StripRow,
    colour: String,
}

struct Allowance {
    name: &'static str,
    label: &'static str,
    hint: String,
}

/// The minutes of a kind of step.
struct StepField {
    name: String,
    label: &'static str,
    hint: String,
}

/// The kinds of steps that the design asks for; all where it cannot be worked out.
fn step_fields(tried: &Tried, typed: &Typed, workshop: &Basis) -> Vec<StepField> {
    let design = tried.design.as_ref().unwrap_or(&tried.opened.design);
    let needs = tried.basis.needs(design).ok();
    let is_asked = |kind: StepKind| {
        let has_step = |needs: &Needs| needs.steps.iter().any(|step| step.kind == kind);
        needs.as_ref().is_none_or(has_step) || !typed.text(&minutes_field(kind)).is_empty()
    };
    StepKind::worked()
        .filter(|kind| is_asked(*kind))
        .map(|kind| {
            let row = kind.row();
            let per = match row.per {
                Per::Job => "",
                Per::Piece => " for each piece",
                Per::BoardFace => " for a face of 18 by 10 in",
            };
            StepField {
                name: minutes_field(kind),
                label: row.name,
                hint: format!(
                    "Minutes{per}. Empty: the workshop's {}.",
                    workshop.practice.minutes.of(kind)
                ),
            }
        })
        .collect()
}

/// The part of the page that changes while somebody types.
#[derive(Template)]
#[template(path = "projects/live.html")]
struct LiveParts {
    live: Live,
}

/// A design in a form that may hold flaws, with everything to judge it by.
struct Tried {
    opened: Opened,
    /// With the practice of the form.
    basis: Basis,
    prices: Vec<(String, Money)>,
    design: Option<Design>,
    practice: Option<PracticeChanges>,
}

async fn try_form(
    app: &App,
    shell: &Shell,
    id: ProjectId,
    typed: &mut Typed,
) -> Result<Tried, Error> {
    let opened = Opened::find(app, id).await?;
    let lengths = shell.lengths();
    let design = read(typed, opened.design.kind(), lengths);
    let practice = read_practice(typed, lengths, &opened.project.about.practice);
    let mut db = app.store.read().acquire().await?;
    let basis = match &practice {
        Some(practice) => Basis::load(&mut db, practice).await?,
        None => opened.basis.clone(),
    };
    let prices = species::list_prices(&mut *db).await?;
    Ok(Tried {
        opened,
        basis,
        prices,
        design,
        practice,
    })
}

impl Tried {
    fn live(&self, shell: &Shell, name: &str) -> Live {
        Live::new(
            self.design.as_ref(),
            name,
            &self.basis,
            &self.opened.settings,
            &self.prices,
            shell.lengths(),
        )
    }
}

async fn design_page(
    app: &App,
    shell: Shell,
    member: &Member,
    tried: &Tried,
    typed: Typed,
    said: Option<String>,
) -> Result<DesignPage, Error> {
    let opened = &tried.opened;
    let lengths = shell.lengths();
    let workshop = Basis::load(
        &mut *app.store.read().acquire().await?,
        &PracticeChanges::default(),
    )
    .await?;
    let drawer = Drawer {
        basis: &tried.basis,
        lengths,
    };
    let listed = |names: Vec<String>, first: &str| {
        let mut options = vec![(String::new(), first.to_owned())];
        options.extend(names.into_iter().map(|name| (name.clone(), name)));
        options
    };
    let usual = &opened.settings.practice;
    let workshops = |name: &Option<String>| match name {
        Some(name) => format!("the workshop's: {name}"),
        None => "the workshop's".to_owned(),
    };
    Ok(DesignPage {
        head: opened.head(member, Here::Design),
        kind: opened.design.kind(),
        lists: strip_lists(opened.design.kind())
            .iter()
            .map(|(prefix, title)| StripList::new(prefix, title, &typed, &drawer))
            .collect(),
        species: tried
            .basis
            .woods
            .list()
            .iter()
            .map(|wood| wood.name.clone())
            .collect(),
        allowances: PRACTICE_LENGTHS
            .iter()
            .map(|(name, label, hint)| Allowance {
                name,
                label,
                hint: format!(
                    "{hint} Empty: the workshop's {}.",
                    lengths.show(workshop_value(&workshop.practice, name))
                ),
            })
            .collect(),
        glues: listed(
            reference::glues()
                .iter()
                .map(|glue| glue.name.clone())
                .collect(),
            &workshops(&usual.glue),
        ),
        finishes: listed(
            reference::finishes()
                .iter()
                .map(|finish| finish.name.clone())
                .collect(),
            &workshops(&usual.finish),
        ),
        tools: listed(
            FLATTENING_TOOLS
                .iter()
                .map(|(word, _)| (*word).to_owned())
                .collect(),
            &workshops(&usual.flattening_tool),
        ),
        minutes: step_fields(tried, &typed, &workshop),
        live: tried.live(&shell, &opened.project.about.name),
        shell: shell.at(Section::Projects),
        typed,
        said,
    })
}

pub(super) async fn edit(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    let opened = Opened::find(&app, id).await?;
    let project = &opened.project;
    let lengths = shell.lengths();
    let mut values = fill(&opened.design, lengths);
    fill_practice(&mut values, &project.about.practice, lengths);
    let mut put = |name: &str, value: String| values.push((name.to_owned(), value));
    put("version", project.version.to_string());
    put("name", project.about.name.clone());
    let due = project.about.due_day;
    put(
        "due_day",
        due.map_or_else(String::new, |day| day.to_string()),
    );
    put("note", project.about.note.clone());
    for (prefix, _) in strip_lists(opened.design.kind()) {
        put(&format!("{prefix}times"), "2".to_owned());
        put(&format!("{prefix}seed"), "1".to_owned());
    }
    let typed = Typed::filled(
        values
            .iter()
            .map(|(name, value)| (name.as_str(), value.clone())),
    );
    let mut read_again = typed.clone();
    let tried = try_form(&app, &shell, id, &mut read_again).await?;
    page(&design_page(&app, shell, &member, &tried, typed, None).await?)
}

/// The drawing and the figures for what is typed so far; nothing is stored.
pub(super) async fn live(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
    mut typed: Typed,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let name = typed.text("name").to_owned();
    let tried = try_form(&app, &shell, id, &mut typed).await?;
    page(&LiveParts {
        live: tried.live(&shell, &name),
    })
}

pub(super) async fn update(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
    mut typed: Typed,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    if let Some(said) = press(&app, &shell, id, &mut typed).await? {
        let mut shown = typed.clone();
        let tried = try_form(&app, &shell, id, &mut shown).await?;
        return page(&design_page(&app, shell, &member, &tried, shown, Some(said)).await?);
    }
    let mut tried = try_form(&app, &shell, id, &mut typed).await?;
    let name = typed.take("name", |text| line(text, 120));
    let due_day = typed.take_if_any("due_day", day);
    let note = typed.take("note", |text| lines(text, 4_000));
    let version = typed.text("version").parse::<i64>().unwrap_or_default();
    let before = &tried.opened.project.about.practice;
    if let Some(practice) = &tried.practice {
        judge_choices(&mut typed, tried.opened.design.kind(), practice, before);
    }
    if let Some(design) = &tried.design
        && let Err(flaws) = tried.basis.needs(design)
    {
        for flaw in flaws {
            typed.refuse(field_of(&flaw.place), flaw.about.show(shell.lengths()));
        }
    }
    if typed.is_fine()
        && let (Some(name), Some(due_day), Some(note)) = (name, due_day, note)
        && let (Some(design), Some(practice)) = (tried.design.take(), tried.practice.take())
    {
        let draft = Draft {
            name,
            design: design.clone(),
            practice: practice.clone(),
            due_day,
            note,
        };
        let mut db = app.store.begin().await?;
        match projects::edit(&mut db, by(&app, &member), id, version, &draft).await {
            Ok(()) => {
                db.commit().await?;
                return Ok(see_other(format!("/projects/{id}"))
                    .saying(Flash::done("The design is saved."))
                    .response(&app));
            }
            Err(ProjectError::Wrong(flaws)) => {
                for flaw in flaws {
                    typed.refuse(flaw.pointer.trim_start_matches('/').to_owned(), flaw.detail);
                }
            }
            Err(ProjectError::Stale) => typed.refuse(
                "version",
                "was changed by somebody else since you opened it. Open it in a second tab to compare; send this \
                 form again to put yours in its place",
            ),
            Err(ProjectError::StripsLeftOver(keys)) => typed.refuse(
                "strips",
                format!(
                    "leave no use for wood that is claimed or cut already ({}); keep those strips, or let the pieces go first",
                    keys.join(", ")
                ),
            ),
            Err(other) => return Err(error(other)),
        }
        tried.design = Some(design);
        tried.practice = Some(practice);
        if typed.error("version").is_some() {
            typed.put("version", [tried.opened.project.version.to_string()]);
        }
    }
    page_again(&design_page(&app, shell, &member, &tried, typed, None).await?)
}

/// Does what a button of the form says, if one was pressed: `None` for the button that saves, and where the form has
/// flaws that keep the button from working.
async fn press(
    app: &App,
    shell: &Shell,
    id: ProjectId,
    typed: &mut Typed,
) -> Result<Option<String>, Error> {
    let button = typed.text(super::form::CHANGE).to_owned();
    if let Some(nm) = button.strip_prefix("thickness-") {
        let thickness = Length::from_nm(nm.parse().unwrap_or_default());
        typed.put("thickness", [shell.lengths().show_exact(thickness)]);
        let said = format!("{} thick now.", shell.lengths().show(thickness));
        return Ok(Some(said));
    }
    if button.is_empty() {
        return Ok(None);
    }
    let opened = Opened::find(app, id).await?;
    let lightness = |species: &str| {
        let wood = opened.basis.woods.find(species);
        wood.map_or(0.5, |wood| wood.lightness() / 100.0)
    };
    for (prefix, _) in strip_lists(opened.design.kind()) {
        match change_strips(typed, prefix, shell.lengths(), &lightness) {
            Changed::Done(said) => return Ok(Some(said)),
            Changed::Refused => return Ok(None),
            Changed::Nothing => {}
        }
    }
    Ok(Some(String::new()))
}
