//! A stored project with everything that its pages rest on.

use jiff::civil::Date;

use super::path::{Head, Here};
use crate::app::basis::Basis;
use crate::app::project::ProjectError;
use crate::app::{App, days, project as projects};
use crate::calc::work::{Design, Flaw, Needs};
use crate::store::project::{self, Project};
use crate::store::settings::Settings;
use crate::store::{self, By, ProjectId, booking, workshop};
use crate::units::LengthFormat;
use crate::web::{Error, Member};

pub(in crate::web) struct Opened {
    pub project: Project,
    pub design: Design,
    pub basis: Basis,
    pub settings: Settings,
    pub today: Date,
    pub is_planned: bool,
}

impl Opened {
    pub async fn find(app: &App, id: ProjectId) -> Result<Opened, Error> {
        let mut db = app.store.read().acquire().await?;
        let project = project::find(&mut *db, id).await?.ok_or_else(unknown)?;
        let design = projects::design(&project).map_err(error)?;
        let basis = Basis::load(&mut db, &project.about.practice).await?;
        let workshop = workshop::get(&mut *db).await?;
        let today = days::day_of(app.clock.now(), &workshop.time_zone);
        let is_planned = !booking::list_of_project(&mut *db, id).await?.is_empty();
        Ok(Opened {
            project,
            design,
            basis,
            settings: workshop.settings,
            today,
            is_planned,
        })
    }

    /// What the design asks of wood and shop. The workshop's practice may have changed so that a stored design cannot
    /// be made any more.
    pub fn needs(&self) -> Result<Needs, Vec<Flaw>> {
        self.basis.needs(&self.design)
    }

    /// Whether the page may offer what only the owner and stewards do, as long as the project goes on.
    pub fn may_edit(&self, member: &Member) -> bool {
        self.project.ended_at.is_none() && member.require_owner(self.project.member).is_ok()
    }

    pub fn head(&self, member: &Member, here: Here) -> Head {
        Head::new(self, member, here)
    }
}

/// Who acts, now.
pub(in crate::web) fn by(app: &App, member: &Member) -> By {
    By {
        member: Some(member.id()),
        at: app.clock.now(),
    }
}

pub(in crate::web) fn unknown() -> Error {
    Error::NotFound("There is no such project.".into())
}

/// What a page that shows no form answers.
pub(in crate::web) fn error(error: ProjectError) -> Error {
    match error {
        ProjectError::Unknown => unknown(),
        ProjectError::Stale => Error::Stale,
        ProjectError::Ended => Error::Conflict("The project has ended.".into()),
        ProjectError::Wrong(flaws) => Error::Wrong(flaws),
        ProjectError::StripsLeftOver(keys) => Error::Conflict(format!(
            "Wood is claimed or cut for strips that the new design does not want any more ({}). Let the pieces go first.",
            keys.join(", ")
        )),
        ProjectError::Unreadable(problem) => {
            Error::Internal(anyhow::anyhow!("a stored design: {}", problem.detail))
        }
        ProjectError::Store(refusal) => refusal.into(),
    }
}

/// The project, if it is the member's or the member is a steward.
pub(in crate::web) async fn own(
    app: &App,
    member: &Member,
    id: ProjectId,
) -> Result<Project, Error> {
    let project = store::project::find(app.store.read(), id)
        .await?
        .ok_or_else(unknown)?;
    member.require_owner(project.member)?;
    Ok(project)
}

/// Whether the member may have these projects matched together: one of them is the member's, or the member is a steward. That
/// is an offer only; it is claimed when all agree.
pub(in crate::web) async fn own_one(
    app: &App,
    member: &Member,
    ids: &[ProjectId],
) -> Result<(), Error> {
    let mut answer = Ok(());
    for id in ids {
        let project = store::project::find(app.store.read(), *id)
            .await?
            .ok_or_else(unknown)?;
        match member.require_owner(project.member) {
            Ok(()) => return Ok(()),
            refused => answer = refused,
        }
    }
    answer
}

/// A flaw in the reader's unit.
pub(super) fn flaw_words(flaw: &Flaw, lengths: LengthFormat) -> String {
    let place: Vec<String> = flaw
        .place
        .iter()
        .map(|part| match part.parse::<usize>() {
            Ok(place) => (place + 1).to_string(),
            Err(_) => part.replace('_', " "),
        })
        .collect();
    format!("{} {}.", place.join(" "), flaw.about.show(lengths))
}
