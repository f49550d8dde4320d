//! Several projects matched at once: pieces shared between them where that saves wood.
//!
//! One piece may give strips for two boards: then one of the projects holds the claim and cuts,
//! and the other gets its strips from there. Where there is too little wood for all, equal strips go first to the
//! member who has claimed least so far.

use std::collections::BTreeMap;
use std::time::Duration;

use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;

use super::claim::{self, Assigned, ClaimError};
use super::matching::{self as matches, MatchError, StripName};
use super::project as projects;
use super::{App, stage};
use crate::calc::matching::{
    Content, Layout, Outcome, Part, Progress, Request, Strip, Uncovered, check,
};
use crate::store::claim as claims;
use crate::store::proposal::{self, ProposalKind};
use crate::store::{self, By, ClaimId, MemberId, ProjectId, ProposalId, Refusal, change, project};
use crate::units::Sentence;
use crate::wire::kept_match::KeptMatch;

/// The most projects that are matched together.
const MOST_PROJECTS: usize = 100;

/// What a match is worth, in the order of the goals.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Worth {
    pub covered: u32,
    pub wanted: u32,
    pub spend_cents: i64,
    pub net_wood_mm3: f64,
    /// Pieces that are cut.
    pub touched: u32,
}

/// What one project gets from a match of several.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Portion {
    pub project: ProjectId,
    pub name: String,
    pub member_name: String,
    pub covered: u32,
    pub wanted: u32,
}

/// A match of several projects that waits to be accepted.
#[derive(Clone, Debug, PartialEq)]
pub struct Together {
    pub kept: KeptMatch,
    /// For each layout the project that holds the claim and cuts.
    pub cutters: Vec<ProjectId>,
    pub portions: Vec<Portion>,
    pub together: Worth,
    /// The same projects matched one after the other, in the order of the portions.
    pub one_by_one: Worth,
    /// Members who want it claimed as it is, as long as others are waited for.
    pub agreed: Vec<MemberId>,
}

/// What came of accepting a match of several projects.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Accepted {
    Claimed(Vec<ClaimId>),
    /// Nothing is claimed before these members agree too.
    WaitsFor(Vec<String>),
}

#[derive(Serialize, Deserialize)]
struct StoredTogether {
    kept: String,
    cutters: Vec<ProjectId>,
    portions: Vec<Portion>,
    together: Worth,
    one_by_one: Worth,
    #[serde(default)]
    agreed: Vec<MemberId>,
}

/// Each project with the version of its design.
#[derive(Serialize, Deserialize)]
struct MadeFor(Vec<(ProjectId, i64)>);

/// Why a match of several projects was not made or not claimed.
#[derive(Debug, thiserror::Error)]
pub enum TogetherError {
    #[error(transparent)]
    Match(MatchError),
    #[error(transparent)]
    Claim(ClaimError),
    #[error("it was accepted already")]
    AlreadyAccepted,
    #[error("none of the projects is the member's")]
    NotAmongThem,
    #[error("a stored match cannot be read")]
    Unreadable(#[from] serde_json::Error),
}

impl From<MatchError> for TogetherError {
    fn from(error: MatchError) -> TogetherError {
        TogetherError::Match(error)
    }
}

impl From<ClaimError> for TogetherError {
    fn from(error: ClaimError) -> TogetherError {
        TogetherError::Claim(error)
    }
}

impl From<sqlx::Error> for TogetherError {
    fn from(error: sqlx::Error) -> TogetherError {
        TogetherError::Match(error.into())
    }
}

impl From<Refusal> for TogetherError {
    fn from(refusal: Refusal) -> TogetherError {
        TogetherError::Claim(refusal.into())
    }
}

fn worth(outcome: &Outcome, wanted: u32) -> Worth {
    Worth {
        covered: outcome.covered,
        wanted,
        spend_cents: outcome.spend.cents(),
        net_wood_mm3: outcome.net_wood.mm3(),
        touched: outcome.touched,
    }
}

/// Matches projects together and one after the other, and keeps the first as a proposal of
/// `member`. Half of `time` is for each.
pub async fn propose(
    app: &App,
    by: By,
    member: MemberId,
    ids: &[ProjectId],
    time: Duration,
    progress: impl Fn(Progress) + Send + Sync + 'static,
) -> Result<(ProposalId, Together), TogetherError> {
    let mut ids = ids.to_vec();
    ids.sort_unstable();
    ids.dedup();
    if ids.len() > MOST_PROJECTS {
        return Err(MatchError::TooLarge(format!(
            "The match is for {} projects; it must be for at most {MOST_PROJECTS}.",
            ids.len()
        ))
        .into());
    }
    let (order, made_for, request) = prepare(app, by, &ids).await?;
    if request.strips.is_empty() {
        return Err(MatchError::NothingWanted.into());
    }
    let (request, outcome, elapsed) = matches::solve(app, request, time / 2, progress).await?;
    let one_by_one = one_by_one(app, &request, &order, time / 2).await?;
    let outcome = shared_out(&request, outcome, &order);
    if let Err(violations) = check(&request, &outcome) {
        tracing::error!(?violations, "a shared match did not pass its own check");
        return Err(MatchError::TooLarge(
            "The answer did not pass its own check, so it is not offered.".to_owned(),
        )
        .into());
    }
    let cutters = outcome
        .layouts
        .iter()
        .map(|layout| cutter(&request, layout, &order))
        .collect();
    let mut read = app.store.read().acquire().await?;
    let mut portions = Vec::with_capacity(order.len());
    for id in &order {
        let known = project::find(&mut *read, *id)
            .await?
            .ok_or(MatchError::Unknown)?;
        portions.push(Portion {
            project: *id,
            name: known.about.name,
            member_name: known.member_name,
            covered: covered_of(&outcome.layouts, *id),
            wanted: strips_of(&request, *id).map(|strip| strip.count).sum(),
        });
    }
    drop(read);
    let wanted = request.strips.iter().map(|strip| strip.count).sum();
    let together = Together {
        together: worth(&outcome, wanted),
        kept: KeptMatch::new(&request, outcome, 0, elapsed),
        cutters,
        portions,
        one_by_one: Worth {
            wanted,
            ..one_by_one
        },
        agreed: Vec::new(),
    };
    let answer = print(&together)?;
    let made_for = serde_json::to_string(&made_for)?;
    let mut db = app.store.begin().await?;
    let id = proposal::insert(&mut db, by, member, ProposalKind::Match, &made_for, &answer).await?;
    db.commit().await?;
    Ok((id, together))
}

/// The projects in the order in which they are served, with their designs' versions, and the
/// problem of all of them.
async fn prepare(
    app: &App,
    by: By,
    ids: &[ProjectId],
) -> Result<(Vec<ProjectId>, MadeFor, Request), TogetherError> {
    let mut db = app.store.begin().await?;
    claim::lapse(&mut db, by).await?;
    let mut order = Vec::with_capacity(ids.len());
    let mut made_for = Vec::with_capacity(ids.len());
    for id in ids {
        projects::refresh_strips(&mut db, by, *id)
            .await
            .map_err(MatchError::from)?;
        let known = project::find(&mut *db, *id)
            .await?
            .ok_or(MatchError::Unknown)?;
        if known.ended_at.is_some() {
            return Err(MatchError::Ended.into());
        }
        made_for.push((*id, known.design_version));
        let claimed = claims::held_mm3_of_member(&mut *db, known.member).await?;
        order.push((claimed, *id));
    }
    order.sort_unstable();
    let order: Vec<ProjectId> = order.into_iter().map(|(_, id)| id).collect();
    let request = matches::request_for(&mut db, &order).await?;
    db.commit().await?;
    Ok((order, MadeFor(made_for), request))
}

fn name(id: &str) -> Option<StripName> {
    id.parse().ok()
}

fn strips_of(request: &Request, project: ProjectId) -> impl Iterator<Item = &Strip> {
    request
        .strips
        .iter()
        .filter(move |strip| name(&strip.id).is_some_and(|name| name.project == project))
}

fn covered_of(layouts: &[Layout], project: ProjectId) -> u32 {
    let strips = layouts.iter().flat_map(|layout| {
        layout
            .strips()
            .into_iter()
            .map(move |(id, count)| (id, count * layout.copies))
    });
    strips
        .filter(|(id, _)| name(id).is_some_and(|name| name.project == project))
        .map(|(_, count)| count)
        .sum()
}

/// Solves for one project after the other, each from what the ones before left.
async fn one_by_one(
    app: &App,
    request: &Request,
    order: &[ProjectId],
    time: Duration,
) -> Result<Worth, MatchError> {
    let mut left = request.clone();
    let mut sum = Worth::default();
    let share = time / u32::try_from(order.len().max(1)).unwrap_or(u32::MAX);
    for project in order {
        let strips: Vec<Strip> = strips_of(request, *project).cloned().collect();
        if strips.is_empty() {
            continue;
        }
        let own = Request {
            strips,
            ..left.clone()
        };
        let (_, outcome, _) = matches::solve(app, own, share, |_| {}).await?;
        for layout in &outcome.layouts {
            if let Some(piece) = left.stock.iter_mut().find(|piece| piece.id == layout.stock) {
                piece.count -= layout.copies.min(piece.count);
            }
        }
        left.stock.retain(|piece| piece.count > 0);
        let own = worth(&outcome, 0);
        sum.covered += own.covered;
        sum.spend_cents += own.spend_cents;
        sum.net_wood_mm3 += own.net_wood_mm3;
        sum.touched += own.touched;
    }
    Ok(sum)
}

/// Shares equal strips out anew, in the order of the projects, so that what is missing is missing
/// to those who come last; within that, a layout's strips go to one project as far as they can.
fn shared_out(request: &Request, outcome: Outcome, order: &[ProjectId]) -> Outcome {
    let kind_of = |id: &str| {
        let strip = request.strips.iter().find(|strip| strip.id == id)?;
        request.strips.iter().position(|other| {
            other.length == strip.length
                && other.species == strip.species
                && other.sections == strip.sections
        })
    };
    let mut made: BTreeMap<usize, u32> = BTreeMap::new();
    for layout in &outcome.layouts {
        for (id, count) in layout.strips() {
            if let Some(kind) = kind_of(id) {
                *made.entry(kind).or_default() += count * layout.copies;
            }
        }
    }
    // How many strips each gets, by the id of the strip.
    let mut quota: BTreeMap<String, u32> = BTreeMap::new();
    for project in order {
        for strip in strips_of(request, *project) {
            let Some(left) = kind_of(&strip.id).and_then(|kind| made.get_mut(&kind)) else {
                continue;
            };
            let count = strip.count.min(*left);
            *left -= count;
            quota.insert(strip.id.clone(), count);
        }
    }
    let missing = |strip: &Strip| {
        let count = strip.count - quota.get(&strip.id).copied().unwrap_or(0);
        let kind = kind_of(&strip.id);
        let why = outcome
            .uncovered
            .iter()
            .find(|missing| kind_of(&missing.id) == kind)
            .map_or_else(Sentence::default, |missing| missing.why.clone());
        (count > 0).then(|| Uncovered {
            id: strip.id.clone(),
            count,
            why,
        })
    };
    let uncovered: Vec<Uncovered> = request.strips.iter().filter_map(missing).collect();
    let mut layouts: Vec<Layout> = Vec::new();
    for layout in &outcome.layouts {
        for _ in 0..layout.copies {
            let mut last = None;
            let mut once = Layout {
                copies: 1,
                ..layout.clone()
            };
            rename(&mut once.parts, &mut |id| {
                let kind = kind_of(id);
                let fits = |other: &&Strip| {
                    kind_of(&other.id) == kind && quota.get(&other.id).is_some_and(|left| *left > 0)
                };
                let of = |strip: &&Strip| name(&strip.id).map(|name| name.project);
                let same = request
                    .strips
                    .iter()
                    .filter(fits)
                    .find(|strip| of(strip) == last);
                let chosen = same.or_else(|| request.strips.iter().find(fits))?;
                last = name(&chosen.id).map(|name| name.project);
                *quota.get_mut(&chosen.id)? -= 1;
                Some(chosen.id.clone())
            });
            match layouts
                .iter_mut()
                .find(|known| known.stock == once.stock && known.parts == once.parts)
            {
                Some(known) => known.copies += 1,
                None => layouts.push(once),
            }
        }
    }
    Outcome {
        layouts,
        uncovered,
        ..outcome
    }
}

/// Gives every strip the name that `new` says, in the order of the cuts.
fn rename(parts: &mut [Part], new: &mut impl FnMut(&str) -> Option<String>) {
    for part in parts {
        match &mut part.content {
            Content::Cut(parts) => rename(parts, new),
            Content::Strip(id) => {
                if let Some(name) = new(id) {
                    *id = name;
                }
            }
            Content::Keep | Content::Waste => {}
        }
    }
}

/// Who cuts: the project that gets most strips of the layout, by length; of equals the first.
fn cutter(request: &Request, layout: &Layout, order: &[ProjectId]) -> ProjectId {
    let length_of = |project: ProjectId| {
        let own = layout.strips().into_iter().filter_map(|(id, count)| {
            let strip = request.strips.iter().find(|strip| strip.id == id)?;
            let is_own = name(id).is_some_and(|name| name.project == project);
            is_own.then(|| strip.length * i64::from(count))
        });
        own.sum::<crate::units::Length>()
    };
    let first = order.first().copied().unwrap_or(ProjectId(0));
    order.iter().copied().fold(first, |best, project| {
        if length_of(project) > length_of(best) {
            project
        } else {
            best
        }
    })
}

/// A kept match of several projects, who asked for it, and whether it was accepted.
pub async fn find(
    db: &mut SqliteConnection,
    id: ProposalId,
) -> Result<(Together, MemberId, bool), TogetherError> {
    let kept = proposal::find(db, id)
        .await?
        .filter(|kept| kept.kind == ProposalKind::Match)
        .ok_or(MatchError::Unknown)?;
    Ok((read(&kept.answer)?, kept.member, kept.accepted_at.is_some()))
}

/// Kept matches to which somebody agreed and that still wait for the member.
pub async fn waiting_for(
    db: &mut SqliteConnection,
    member: MemberId,
) -> Result<Vec<(ProposalId, Together)>, TogetherError> {
    let mut found = Vec::new();
    for kept in proposal::list_open(&mut *db, ProposalKind::Match).await? {
        let together = read(&kept.answer)?;
        let waits = !together.agreed.is_empty()
            && waits_for(&mut *db, &together)
                .await?
                .iter()
                .any(|(owner, _)| *owner == member);
        if waits {
            found.push((kept.id, together));
        }
    }
    Ok(found)
}

fn read(answer: &str) -> Result<Together, TogetherError> {
    let stored: StoredTogether = serde_json::from_str(answer)?;
    Ok(Together {
        kept: KeptMatch::parse(&stored.kept).map_err(MatchError::from)?,
        cutters: stored.cutters,
        portions: stored.portions,
        together: stored.together,
        one_by_one: stored.one_by_one,
        agreed: stored.agreed,
    })
}

fn print(together: &Together) -> Result<String, TogetherError> {
    Ok(serde_json::to_string(&StoredTogether {
        kept: together.kept.print(),
        cutters: together.cutters.clone(),
        portions: together.portions.clone(),
        together: together.together,
        one_by_one: together.one_by_one,
        agreed: together.agreed.clone(),
    })?)
}

/// Of the members whose projects are in a kept match, those who have not agreed to it, with their names.
pub async fn waits_for(
    db: &mut SqliteConnection,
    together: &Together,
) -> Result<Vec<(MemberId, String)>, TogetherError> {
    let mut waits: Vec<(MemberId, String)> = Vec::new();
    for portion in &together.portions {
        let known = project::find(&mut *db, portion.project)
            .await?
            .ok_or(MatchError::Unknown)?;
        let is_new = waits.iter().all(|(member, _)| *member != known.member);
        if is_new && !together.agreed.contains(&known.member) {
            waits.push((known.member, known.member_name));
        }
    }
    Ok(waits)
}

/// Claims everything that a kept match of several projects uses, all of it or nothing: at once for a steward, and
/// when the last of the members whose projects they are agrees.
pub async fn accept(
    db: &mut SqliteConnection,
    by: By,
    member: MemberId,
    is_steward: bool,
    id: ProposalId,
) -> Result<Accepted, TogetherError> {
    claim::lapse(db, by).await?;
    let kept = proposal::find(&mut *db, id)
        .await?
        .filter(|kept| kept.kind == ProposalKind::Match)
        .ok_or(MatchError::Unknown)?;
    let MadeFor(made_for) = serde_json::from_str(&kept.made_for)?;
    let mut together = read(&kept.answer)?;
    if kept.accepted_at.is_some() {
        return Err(TogetherError::AlreadyAccepted);
    }
    if !is_steward {
        let mut waits = waits_for(db, &together).await?;
        let is_among_them = waits.iter().any(|(owner, _)| *owner == member);
        if !is_among_them && !together.agreed.contains(&member) {
            return Err(TogetherError::NotAmongThem);
        }
        waits.retain(|(owner, _)| *owner != member);
        if !waits.is_empty() {
            if is_among_them {
                together.agreed.push(member);
                proposal::put_answer(db, id, &print(&together)?).await?;
                let first = made_for.first().map_or(ProjectId(0), |(id, _)| *id);
                change::append(db, by, "agreed to match together", "project", first, "").await?;
            }
            let names = waits.into_iter().map(|(_, name)| name);
            return Ok(Accepted::WaitsFor(names.collect()));
        }
    }
    proposal::accept(db, by, id)
        .await
        .map_err(|refusal| match refusal {
            Refusal::Stale => TogetherError::AlreadyAccepted,
            other => other.into(),
        })?;
    for (id, design_version) in &made_for {
        let known = project::find(&mut *db, *id)
            .await?
            .ok_or(MatchError::Unknown)?;
        if known.ended_at.is_some() {
            return Err(MatchError::Ended.into());
        }
        if known.design_version != *design_version {
            return Err(MatchError::DesignChanged.into());
        }
    }
    let assigned: Vec<Assigned<'_>> = together
        .kept
        .outcome
        .layouts
        .iter()
        .zip(&together.cutters)
        .map(|(layout, project)| Assigned {
            project: *project,
            layout,
        })
        .collect();
    let claimed = claim::claim_layouts(db, by, member, &together.kept, &assigned).await?;
    for (id, _) in &made_for {
        store::project::clear_match(db, *id).await?;
        change::append(db, by, "matched together", "project", id, "").await?;
        stage::refresh(db, by, *id).await?;
    }
    Ok(Accepted::Claimed(claimed))
}
