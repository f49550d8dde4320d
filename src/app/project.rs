//! Projects: from a design to what it asks of the wood.

use jiff::civil::Date;
use sqlx::SqliteConnection;

use super::basis::Basis;
use super::{claim, days, stage};
use crate::calc::work::{self, Design, Needs};
use crate::store::booking::{self, BookingState};
use crate::store::practice::PracticeChanges;
use crate::store::project::{self, NewProject, Project, Stage, WantedStrip};
use crate::store::{self, By, MemberId, ProjectId, Refusal, layout, workshop};
use crate::wire::{self, FieldError, Problem};

/// What a member says of a project.
#[derive(Clone, Debug, PartialEq)]
pub struct Draft {
    pub name: String,
    pub design: Design,
    /// Where it differs from the workshop's practice.
    pub practice: PracticeChanges,
    pub due_day: Option<Date>,
    pub note: String,
}

/// Why a project was not stored as asked.
#[derive(Debug, thiserror::Error)]
pub enum ProjectError {
    /// Fields that must be something else; nothing was stored.
    #[error("some fields are wrong")]
    Wrong(Vec<FieldError>),
    #[error("there is no such project")]
    Unknown,
    #[error("somebody changed it meanwhile")]
    Stale,
    #[error("the project has ended")]
    Ended,
    /// Strips of the design before are claimed or cut, and the new design has no use for them;
    /// their keys.
    #[error("claimed or cut strips would be left over")]
    StripsLeftOver(Vec<String>),
    /// The stored design cannot be read any more.
    #[error("the stored design cannot be read")]
    Unreadable(Problem),
    #[error("failed to store the project")]
    Store(#[source] Refusal),
}

impl From<sqlx::Error> for ProjectError {
    fn from(error: sqlx::Error) -> ProjectError {
        ProjectError::Store(error.into())
    }
}

impl From<Refusal> for ProjectError {
    fn from(refusal: Refusal) -> ProjectError {
        match refusal {
            Refusal::Stale => ProjectError::Stale,
            other => ProjectError::Store(other),
        }
    }
}

/// The design of a stored project.
pub fn design(project: &Project) -> Result<Design, ProjectError> {
    wire::design::read_design(project.about.design.as_bytes()).map_err(ProjectError::Unreadable)
}

/// What a stored project asks of wood and shop, by the workshop's practice of today.
///
/// # Errors
/// `Wrong` where the practice has changed so that the design cannot be made any more.
pub async fn needs(db: &mut SqliteConnection, project: &Project) -> Result<Needs, ProjectError> {
    let design = design(project)?;
    needs_of(db, &design, &project.about.practice).await
}

/// What a design asks of wood and shop.
pub async fn needs_of(
    db: &mut SqliteConnection,
    design: &Design,
    practice: &PracticeChanges,
) -> Result<Needs, ProjectError> {
    let basis = Basis::load(db, practice).await?;
    work::needs(
        design,
        &basis.practice,
        &basis.shop,
        &basis.woods.for_work(),
    )
    .map_err(|flaws| ProjectError::Wrong(wire::design::field_errors("/design", &flaws)))
}

/// The longest note, in characters.
const LONGEST_NOTE: usize = 4_000;

async fn checked(
    db: &mut SqliteConnection,
    by: By,
    draft: &Draft,
    due_before: Option<Date>,
) -> Result<(NewProject, Needs), ProjectError> {
    let mut flaws = Vec::new();
    let mut wrong = |field: &str, detail: String| {
        flaws.push(FieldError {
            pointer: format!("/{field}"),
            detail,
        });
    };
    let name = draft.name.trim();
    let n_characters = name.chars().count();
    if n_characters == 0 || n_characters > 120 {
        wrong(
            "name",
            format!("has {n_characters} characters; must have from 1 to 120"),
        );
    }
    if draft.note.chars().count() > LONGEST_NOTE {
        wrong(
            "note",
            format!("is too long; must be at most {LONGEST_NOTE} characters"),
        );
    }
    let zone = workshop::get(&mut *db).await?.time_zone;
    let today = days::day_of(by.at, &zone);
    // A date that has passed meanwhile may stay as it is.
    if let Some(due) = draft.due_day
        && due < today
        && draft.due_day != due_before
    {
        wrong("due_day", format!("is {due}; must be {today} or later"));
    }
    let needs = match needs_of(db, &draft.design, &draft.practice).await {
        Ok(needs) => needs,
        Err(ProjectError::Wrong(more)) => {
            flaws.extend(more);
            return Err(ProjectError::Wrong(flaws));
        }
        Err(error) => return Err(error),
    };
    if !flaws.is_empty() {
        return Err(ProjectError::Wrong(flaws));
    }
    let project = NewProject {
        name: name.to_owned(),
        kind: draft.design.kind().slug().to_owned(),
        design: wire::design::print_design(&draft.design).to_string(),
        practice: draft.practice.clone(),
        due_day: draft.due_day,
        note: draft.note.trim().to_owned(),
    };
    Ok((project, needs))
}

fn strips_of(needs: &Needs) -> Vec<WantedStrip> {
    needs
        .strips
        .iter()
        .map(|strip| WantedStrip {
            key: strip.id.clone(),
            count: strip.count,
            length: strip.length,
            species: strip.species.clone(),
            sections: strip.sections.clone(),
        })
        .collect()
}

/// Starts a project for `member`.
pub async fn create(
    db: &mut SqliteConnection,
    by: By,
    member: MemberId,
    draft: &Draft,
) -> Result<ProjectId, ProjectError> {
    let (project, needs) = checked(db, by, draft, None).await?;
    let id = project::insert(db, by, member, &project).await?;
    project::replace_strips(db, id, &strips_of(&needs)).await?;
    Ok(id)
}

/// Changes a project. A changed design keeps what was claimed and cut for it if it still has a
/// use for every such strip.
pub async fn edit(
    db: &mut SqliteConnection,
    by: By,
    id: ProjectId,
    version: i64,
    draft: &Draft,
) -> Result<(), ProjectError> {
    let before = project::find(&mut *db, id)
        .await?
        .ok_or(ProjectError::Unknown)?;
    if before.ended_at.is_some() {
        return Err(ProjectError::Ended);
    }
    if before.version != version {
        return Err(ProjectError::Stale);
    }
    let (project, needs) = checked(db, by, draft, before.about.due_day).await?;
    let strips = strips_of(&needs);
    let strips_before = project::list_strips(&mut *db, id).await?;
    let left_over: Vec<String> = layout::progress(&mut *db, id)
        .await?
        .iter()
        .filter(|progress| progress.cut + progress.to_cut > 0)
        .filter(|progress| {
            let same = |strip: &&WantedStrip| strip.key == progress.strip_key;
            let is_wanted = strips_before
                .iter()
                .find(same)
                .zip(strips.iter().find(same))
                .is_some_and(|(before, after)| {
                    before.length == after.length
                        && before.species == after.species
                        && before.sections == after.sections
                        && after.count >= progress.cut + progress.to_cut
                });
            !is_wanted
        })
        .map(|progress| progress.strip_key.clone())
        .collect();
    if !left_over.is_empty() {
        return Err(ProjectError::StripsLeftOver(left_over));
    }
    project::update(db, by, id, version, &project).await?;
    if strips != strips_before {
        project::replace_strips(db, id, &strips).await?;
    }
    stage::refresh(db, by, id).await?;
    Ok(())
}

/// Works the strips out anew where the workshop's practice has changed since they were stored, so
/// that the next match asks for what would be cut today. Nothing changes while wood is claimed or
/// cut for the project.
pub async fn refresh_strips(
    db: &mut SqliteConnection,
    by: By,
    id: ProjectId,
) -> Result<(), ProjectError> {
    let project = project::find(&mut *db, id)
        .await?
        .ok_or(ProjectError::Unknown)?;
    if project.ended_at.is_some() || !layout::progress(&mut *db, id).await?.is_empty() {
        return Ok(());
    }
    let strips = strips_of(&needs(db, &project).await?);
    if strips != project::list_strips(&mut *db, id).await? {
        project::replace_strips(db, id, &strips).await?;
        project::mark_redesigned(db, id).await?;
        stage::refresh(db, by, id).await?;
    }
    Ok(())
}

/// Says by hand how far a project is, for those who do not book their steps.
///
/// # Errors
/// `Wrong` for a stage before `milled`: those follow from the wood.
pub async fn reach(
    db: &mut SqliteConnection,
    by: By,
    id: ProjectId,
    version: i64,
    stage: Stage,
) -> Result<(), ProjectError> {
    let project = project::find(&mut *db, id)
        .await?
        .ok_or(ProjectError::Unknown)?;
    if project.ended_at.is_some() {
        return Err(ProjectError::Ended);
    }
    if project.version != version {
        return Err(ProjectError::Stale);
    }
    if stage < Stage::Milled {
        let detail = format!(
            "is \"{stage}\"; must be \"milled\" or later, since earlier stages follow from the wood"
        );
        return Err(ProjectError::Wrong(vec![FieldError {
            pointer: "/stage".to_owned(),
            detail,
        }]));
    }
    project::set_stage(db, by, id, stage).await?;
    if stage == Stage::HandedOver {
        end(db, by, id).await?;
    }
    Ok(())
}

/// Gives a project up: its pieces go back, its bookings are cancelled.
pub async fn give_up(
    db: &mut SqliteConnection,
    by: By,
    id: ProjectId,
    version: i64,
) -> Result<(), ProjectError> {
    let project = project::find(&mut *db, id)
        .await?
        .ok_or(ProjectError::Unknown)?;
    if project.ended_at.is_some() {
        return Err(ProjectError::Ended);
    }
    if project.version != version {
        return Err(ProjectError::Stale);
    }
    end(db, by, id).await
}

/// Ends a project in whatever state it is.
pub(super) async fn end(
    db: &mut SqliteConnection,
    by: By,
    id: ProjectId,
) -> Result<(), ProjectError> {
    claim::let_go_all(db, by, id).await?;
    for booking in booking::list_of_project(&mut *db, id).await? {
        if booking.state == BookingState::Planned {
            booking::cancel(db, by, booking.id, booking.version).await?;
        }
    }
    let version = project::find(&mut *db, id)
        .await?
        .ok_or(ProjectError::Unknown)?
        .version;
    project::end(db, by, id, version).await?;
    Ok(())
}

/// The project as it is stored, or `Unknown`.
pub async fn get(db: &mut SqliteConnection, id: ProjectId) -> Result<Project, ProjectError> {
    store::project::find(db, id)
        .await?
        .ok_or(ProjectError::Unknown)
}
