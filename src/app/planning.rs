//! What a plan is made from, read from the store: steps, hours, clamps, and what is booked.
//!
//! Plans are made in minutes of real time, counted in UTC, so that twelve hours in clamps are
//! twelve hours across a clock change. Openings are turned into real time before, and starts back
//! into the workshop's own time where they are shown.

use std::collections::BTreeMap;

use jiff::Timestamp;
use sqlx::SqliteConnection;

use super::basis::Basis;
use super::days::{day_of, days_after, instant_of};
use super::hours::{Hours, Windows};
use super::project::{self as projects, ProjectError};
use super::stage::stage_after;
use crate::calc::schedule::{Weight, Window};
use crate::calc::work::{
    After, AtWork, ClampLoad, Given, Job, Lends, Lent, Needs, Opening, Planning, Practice,
    Presence, Station, Step, StepKind, Use, clamp_loads,
};
use crate::store::booking::{self, Booking, BookingState};
use crate::store::project::{Project, Stage};
use crate::store::resource::{self, Resource, ResourceKind};
use crate::store::{self, BookingId, MemberId, ProjectId, ResourceId, member};
use crate::units::{Minutes, Newtons, WallMinute};

/// How far ahead plans look, in days; further where a due date is further away.
const HORIZON_DAYS: u16 = 180;
/// How far beyond the last due date they look.
const AFTER_DUE_DAYS: u16 = 60;

/// Changes of the workshop that are only supposed, to see what they would do to dates.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Suppose {
    /// From, to, and whether machines may run.
    pub openings: Vec<(Timestamp, Timestamp, bool)>,
    /// So many more of a resource.
    pub more: BTreeMap<ResourceId, u32>,
    /// Coats of oil that are left out.
    pub fewer_coats: BTreeMap<ProjectId, u32>,
}

/// Everything that planning some projects rests on.
#[derive(Clone, Debug)]
pub struct Ground {
    pub planning: Planning,
    pub projects: Vec<Project>,
    pub needs: Vec<Needs>,
    /// How each is made.
    pub practices: Vec<Practice>,
    /// What those projects have booked.
    pub bookings: Vec<Booking>,
    pub uses: BTreeMap<BookingId, Vec<booking::Use>>,
    pub resources: Vec<Resource>,
    pub hours: Hours,
    /// The openings that anybody may use.
    pub windows: Windows,
    /// Waits that have become too long already.
    pub overdue: Vec<Overdue>,
}

/// A step that should have followed a done one sooner than it still can: glue on faces that were
/// milled days ago. It is planned all the same, and the maker is told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Overdue {
    pub project: ProjectId,
    pub step: String,
    pub after: String,
    /// The longest wait that was wanted.
    pub at_most: Minutes,
}

/// A project that cannot be planned.
#[derive(Debug, thiserror::Error)]
pub enum GroundError {
    #[error("there is no project {0}")]
    Unknown(ProjectId),
    #[error("project {0} has ended")]
    Ended(ProjectId),
    #[error("project {0} cannot be made as it stands")]
    Design(ProjectId, #[source] ProjectError),
    #[error(transparent)]
    Store(#[from] store::Error),
}

/// The minute of an instant; seconds are cut off.
pub fn minute_of(at: Timestamp) -> WallMinute {
    WallMinute(at.as_second().div_euclid(60))
}

/// The instant of a minute.
pub fn instant(minute: WallMinute) -> Timestamp {
    Timestamp::from_second(minute.0.saturating_mul(60)).unwrap_or(Timestamp::MAX)
}

/// A project as plans and conflicts call it.
pub fn job_id(project: ProjectId) -> String {
    format!("P{project}")
}

/// A member as plans and conflicts call them: two may have one name.
pub(super) fn maker_name(member: MemberId, name: &str) -> String {
    format!("{name} (M{member})")
}

/// The project of a job.
pub fn project_of(job: &str) -> Option<ProjectId> {
    job.strip_prefix('P')?.parse().ok()
}

pub(super) fn openings_of(windows: &Windows) -> Vec<Opening> {
    let opening = |machines: bool| {
        move |(from, to): &(Timestamp, Timestamp)| Opening {
            window: Window {
                from: minute_of(*from),
                to: minute_of(*to),
            },
            machines,
        }
    };
    // A time with machines lies inside a time that is open to all; steps that need no machine use
    // the wider one, and windows do not join.
    let open = windows.open.iter().map(opening(false));
    open.chain(windows.machines.iter().map(opening(true)))
        .collect()
}

/// A station as the workshop lends it; `None` for clamps.
fn station_of(kind: ResourceKind) -> Option<Station> {
    Station::from_name(kind.word())
}

fn lent(resource: &Resource, more: u32) -> Option<Lent> {
    let what = match resource.about.kind {
        ResourceKind::ClampSet => Lends::Clamps {
            reach: resource.about.reach?,
            force: Newtons(
                resource
                    .about
                    .rated_force_n
                    .and_then(|force| u32::try_from(force).ok())
                    .unwrap_or(0),
            ),
        },
        kind => Lends::Station(station_of(kind)?),
    };
    Some(Lent {
        id: resource.about.name.clone(),
        what,
        count: resource.about.capacity + more,
    })
}

impl Ground {
    /// Reads what planning `ids` from `at` on rests on. Bookings of all other projects stay as
    /// they are.
    pub async fn load(
        db: &mut SqliteConnection,
        at: Timestamp,
        ids: &[ProjectId],
        suppose: &Suppose,
    ) -> Result<Ground, GroundError> {
        let hours = Hours::load(&mut *db, at).await?;
        let today = day_of(at, &hours.zone);
        let mut projects = Vec::with_capacity(ids.len());
        let mut needs = Vec::with_capacity(ids.len());
        let mut practices = Vec::with_capacity(ids.len());
        let mut last_day = days_after(today, HORIZON_DAYS);
        for &id in ids {
            let mut project = store::project::find(&mut *db, id)
                .await?
                .ok_or(GroundError::Unknown(id))?;
            if project.ended_at.is_some() {
                return Err(GroundError::Ended(id));
            }
            if let Some(due) = project.about.due_day {
                last_day = last_day.max(days_after(due, AFTER_DUE_DAYS));
            }
            let design = |error| GroundError::Design(id, error);
            let mut asked = projects::needs(&mut *db, &project).await.map_err(design)?;
            if let Some(left_out) = suppose.fewer_coats.get(&id) {
                let coats = asked.coats.saturating_sub(*left_out).max(1);
                project.about.practice.coats = Some(coats);
                project.about.practice.end_grain_coats = Some(0);
                asked = projects::needs(&mut *db, &project).await.map_err(design)?;
            }
            practices.push(
                Basis::load(&mut *db, &project.about.practice)
                    .await?
                    .practice,
            );
            needs.push(asked);
            projects.push(project);
        }
        let resources = resource::list(&mut *db).await?;
        let mut windows = hours.windows(today, last_day, None);
        for (from, to, machines) in &suppose.openings {
            windows.open.push((*from, *to));
            if *machines {
                windows.machines.push((*from, *to));
            }
        }
        let mut bookings = Vec::new();
        for &id in ids {
            bookings.extend(booking::list_of_project(&mut *db, id).await?);
        }
        let mut uses = BTreeMap::new();
        for booking in &bookings {
            uses.insert(booking.id, booking::list_uses(&mut *db, booking.id).await?);
        }
        let to = instant_of(last_day, 1440, &hours.zone);
        let name_of = |id: ResourceId| {
            let found = resources.iter().find(|resource| resource.id == id);
            found.map_or_else(String::new, |resource| resource.about.name.clone())
        };
        // Planned projects' own uses may reach back before now: what they still hold is theirs.
        let others = booking::list_uses_between(&mut *db, at, to).await?;
        let used = others
            .iter()
            .filter(|other| !ids.contains(&other.project))
            .map(|other| Use {
                id: name_of(other.used.resource),
                from: minute_of(other.used.from),
                to: minute_of(other.used.to),
                amount: other.used.amount,
            })
            .collect();
        let lent = resources
            .iter()
            .filter_map(|resource| {
                lent(
                    resource,
                    suppose.more.get(&resource.id).copied().unwrap_or(0),
                )
            })
            .collect();
        let mut ground = Ground {
            planning: Planning {
                // A minute that has begun is over.
                from: minute_of(at) + Minutes(1),
                to: minute_of(to),
                openings: openings_of(&windows),
                lent,
                used,
                at_work: Vec::new(),
                jobs: Vec::new(),
                loads: Vec::new(),
            },
            projects,
            needs,
            practices,
            bookings,
            uses,
            resources,
            hours,
            windows,
            overdue: Vec::new(),
        };
        for position in 0..ground.projects.len() {
            let owner = member::find(&mut *db, ground.projects[position].member).await?;
            let own_days = owner.map_or([true; 7], |owner| owner.own_days);
            let mut own = None;
            if own_days != [true; 7] {
                let mut windows = ground.hours.windows(today, last_day, Some(own_days));
                // A supposed opening is one that everybody would come to.
                for (from, to, machines) in &suppose.openings {
                    windows.open.push((*from, *to));
                    if *machines {
                        windows.machines.push((*from, *to));
                    }
                }
                own = Some(openings_of(&windows));
            }
            let mut job = ground.job(position, own, at);
            let overdue = ground.forgive(position, &mut job);
            ground.overdue.extend(overdue);
            ground.planning.jobs.push(job);
        }
        let members: Vec<MemberId> = ground.projects.iter().map(|known| known.member).collect();
        let elsewhere = booking::list_between(&mut *db, at, to, None).await?;
        ground.planning.at_work = elsewhere
            .iter()
            .filter(|other| other.attended && other.state != BookingState::Done && other.to > at)
            .filter(|other| !ids.contains(&other.project) && members.contains(&other.member))
            .map(|other| AtWork {
                maker: maker_name(other.member, &other.member_name),
                from: minute_of(other.from),
                to: minute_of(other.to),
            })
            .collect();
        Ok(ground)
    }

    /// A project's booking of a step.
    pub fn booking(&self, project: ProjectId, step: &str) -> Option<&Booking> {
        self.bookings
            .iter()
            .find(|booking| booking.project == project && booking.step == step)
    }

    fn job(&self, position: usize, openings: Option<Vec<Opening>>, at: Timestamp) -> Job {
        let project = &self.projects[position];
        let booked = |key: &str| self.booking(project.id, key);
        let mut steps = self.needs[position].steps.clone();
        // What was done without a booking needs none any more.
        steps.retain(|step| {
            let is_past = project.stage >= Stage::Milled && stage_after(step.kind) <= project.stage;
            !is_past
                || booked(&step.key).is_some_and(|booking| booking.state != BookingState::Planned)
        });
        let mut given = Vec::new();
        let mut prefer = Vec::new();
        for step in &mut steps {
            let Some(booking) = booked(&step.key) else {
                continue;
            };
            let uses = self
                .uses
                .get(&booking.id)
                .map(Vec::as_slice)
                .unwrap_or_default();
            let is_missed = booking.state == BookingState::Planned && booking.from < at;
            let stays = match booking.state {
                BookingState::Done | BookingState::Running => true,
                BookingState::Planned => {
                    !is_missed && (booking.pinned || self.is_load_settled(booking))
                }
            };
            if stays {
                given.push(Given {
                    key: step.key.clone(),
                    from: minute_of(booking.from),
                    to: minute_of(booking.to),
                    uses: self.handed(uses),
                });
                if booking.clamp_load.is_some() && uses.is_empty() {
                    // What it shares is booked with another panel of the same load.
                    step.hold = None;
                    step.stations.clear();
                }
            } else if !is_missed {
                prefer.push((step.key.clone(), minute_of(booking.from)));
            }
        }
        for step in &mut steps {
            let began = booked(&step.key).filter(|known| known.state != BookingState::Planned);
            if let Some(began) = began {
                let from = minute_of(began.from);
                step.after = step
                    .after
                    .iter()
                    .filter_map(|after| as_it_was(after, from, &given))
                    .collect();
            }
        }
        let due = project.about.due_day.map(|due| {
            (
                minute_of(instant_of(due, 1440, &self.hours.zone)),
                Weight::ONE,
            )
        });
        Job {
            id: job_id(project.id),
            maker: Some(maker_name(project.member, &project.member_name)),
            steps,
            openings,
            given,
            prefer,
            due,
        }
    }

    /// Takes away the longest waits after done steps that cannot be kept any more.
    fn forgive(&self, position: usize, job: &mut Job) -> Vec<Overdue> {
        let mut overdue = Vec::new();
        let given = job.given.clone();
        let names: BTreeMap<String, String> = job
            .steps
            .iter()
            .map(|step| (step.key.clone(), step.name.clone()))
            .collect();
        for step in &mut job.steps {
            if given.iter().any(|given| given.key == step.key) {
                continue;
            }
            let windows = match step.presence {
                Presence::Machine => &self.windows.machines,
                Presence::Member | Presence::Alone => &self.windows.open,
            };
            let first = windows.iter().find_map(|(opens, shuts)| {
                let start = minute_of(*opens).max(self.planning.from);
                (start + step.minutes <= minute_of(*shuts)).then_some(start)
            });
            let first = match step.presence {
                Presence::Alone => Some(self.planning.from),
                Presence::Member | Presence::Machine => first,
            };
            for after in &mut step.after {
                let done = given.iter().find(|given| given.key == after.key);
                let (Some(done), Some(at_most)) = (done, after.max_gap) else {
                    continue;
                };
                if first.is_none_or(|first| done.to + at_most < first) {
                    after.max_gap = None;
                    overdue.push(Overdue {
                        project: self.projects[position].id,
                        step: step.name.clone(),
                        after: names.get(&after.key).cloned().unwrap_or_default(),
                        at_most,
                    });
                }
            }
        }
        overdue
    }

    /// What a booking has been handed, by name and amount.
    pub(super) fn handed(&self, uses: &[booking::Use]) -> Vec<(String, u32)> {
        uses.iter()
            .filter_map(|used| {
                let found = self
                    .resources
                    .iter()
                    .find(|resource| resource.id == used.resource)?;
                Some((found.about.name.clone(), used.amount))
            })
            .collect()
    }

    /// Whether a booking is in one set of clamps with a panel that stays where it is: one that has
    /// begun, is pinned, or belongs to a project that is not planned here.
    fn is_load_settled(&self, booking: &Booking) -> bool {
        members_of(booking.clamp_load.as_deref())
            .iter()
            .any(|(project, step)| {
                self.booking(*project, step)
                    .is_none_or(|other| other.state != BookingState::Planned || other.pinned)
            })
    }

    /// Panels of different projects that could share clamps.
    pub(super) fn loads(&self) -> Vec<ClampLoad> {
        let projects: Vec<(&Needs, &Practice)> = self.needs.iter().zip(&self.practices).collect();
        clamp_loads(&self.planning, &projects)
    }

    /// How many panels may lie in clamps with another, at most.
    pub(super) fn may_share(&self) -> usize {
        let open = self.planning.jobs.iter().flat_map(|job| {
            let is_given = |step: &Step| job.given.iter().any(|given| given.key == step.key);
            job.steps.iter().filter(move |step| !is_given(step))
        });
        open.filter(|step| step.kind == StepKind::GlueUp && step.panel.is_some())
            .count()
    }
}

/// The wait of a step that began at `from` for one that stays too. Where it was not as it should have been, such as when
/// clamps came off early, it is as it was, and stands in the way of no plan.
fn as_it_was(after: &After, from: WallMinute, given: &[Given]) -> Option<After> {
    let earlier = given.iter().find(|given| given.key == after.key)?;
    let gap = from - earlier.to;
    (gap >= Minutes(0)).then(|| After {
        min_gap: after.min_gap.min(gap),
        max_gap: after.max_gap.filter(|most| gap <= *most),
        ..after.clone()
    })
}

/// A load's text: project and step of each panel.
pub fn label_of(members: &[(ProjectId, String)]) -> String {
    let names: Vec<String> = members
        .iter()
        .map(|(project, step)| format!("{}/{step}", job_id(*project)))
        .collect();
    names.join(" ")
}

/// The panels that a load's text names.
pub fn members_of(label: Option<&str>) -> Vec<(ProjectId, String)> {
    label
        .unwrap_or_default()
        .split(' ')
        .filter_map(|name| {
            let (job, step) = name.split_once('/')?;
            Some((project_of(job)?, step.to_owned()))
        })
        .collect()
}
