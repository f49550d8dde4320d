//! Claims: a match's pieces held for its project, all at once or none.
//!
//! What is claimed is not in anybody's next match. A claim ends when its pieces are cut, let go,
//! or its last day is over; ended claims leave no layouts behind that were not cut, so the
//! project wants those strips again.

use std::collections::BTreeMap;
use std::time::Duration;

use jiff::civil::Date;
use sqlx::SqliteConnection;

use super::matching::{StripName, piece_of, same_piece};
use super::{App, days, stage};
use crate::calc::matching::{Layout, Request};
use crate::store::claim::{self, Claim, ClaimState};
use crate::store::layout::{self, LayoutStrip, NewLayout, NewSource, Source};
use crate::store::project;
use crate::store::{
    self, BinId, By, ClaimId, MemberId, OffcutId, ProjectId, Refusal, Written, change, offcut,
    workshop,
};
use crate::wire::kept_match::{KeptMatch, Unreadable};

/// The longest time that a claim may be extended to, in days from today.
pub const MOST_DAYS: u16 = 366;

/// A piece of the match that cannot be had as it was.
#[derive(Clone, Debug, PartialEq)]
pub struct TakenPiece {
    pub tag: String,
    /// Pieces that the match wants, and pieces that are free.
    pub wanted: u32,
    pub free: u32,
    /// Who holds pieces of it; empty where it was changed, cut or lost.
    pub held_by: Vec<Claim>,
    /// Its size, species or edges are no longer what the match was made for.
    pub is_changed: bool,
}

/// Why nothing was claimed.
#[derive(Debug, thiserror::Error)]
pub enum ClaimError {
    #[error("there is no such project or claim")]
    Unknown,
    #[error("the project has ended")]
    Ended,
    /// There is no match, or the design or the wanted strips have changed since it was found.
    #[error("there is no current match to claim")]
    NoMatch,
    #[error("the match found no piece that gives a strip")]
    NothingFound,
    /// Somebody was quicker with these pieces.
    #[error("pieces of the match are gone")]
    Taken(Vec<TakenPiece>),
    #[error("somebody changed it meanwhile")]
    Stale,
    /// The day is before today or too far away: the earliest and the latest that will do.
    #[error("the day must be from {0} to {1}")]
    Day(Date, Date),
    #[error("a kept match cannot be read")]
    Unreadable(#[from] Unreadable),
    #[error("failed to store the claim")]
    Store(#[source] Refusal),
}

impl From<sqlx::Error> for ClaimError {
    fn from(error: sqlx::Error) -> ClaimError {
        ClaimError::Store(error.into())
    }
}

impl From<Refusal> for ClaimError {
    fn from(refusal: Refusal) -> ClaimError {
        match refusal {
            Refusal::Stale => ClaimError::Stale,
            other => ClaimError::Store(other),
        }
    }
}

/// Layouts to claim, with the project that cuts each.
pub(super) struct Assigned<'a> {
    pub project: ProjectId,
    pub layout: &'a Layout,
}

/// Claims everything that the project's current match uses. `member` is who claims.
pub async fn claim_match(
    db: &mut SqliteConnection,
    by: By,
    member: MemberId,
    id: ProjectId,
) -> Result<Vec<ClaimId>, ClaimError> {
    lapse(db, by).await?;
    let project = project::find(&mut *db, id)
        .await?
        .ok_or(ClaimError::Unknown)?;
    if project.ended_at.is_some() {
        return Err(ClaimError::Ended);
    }
    let found = project.current_match().ok_or(ClaimError::NoMatch)?;
    let kept = KeptMatch::parse(&found.answer)?;
    let assigned: Vec<Assigned<'_>> = kept
        .outcome
        .layouts
        .iter()
        .map(|layout| Assigned {
            project: id,
            layout,
        })
        .collect();
    if assigned.is_empty() {
        return Err(ClaimError::NothingFound);
    }
    let claims = claim_layouts(db, by, member, &kept, &assigned).await?;
    project::clear_match(db, id).await?;
    stage::refresh(db, by, id).await?;
    Ok(claims)
}

/// Claims layouts, all or none: verifies that every piece is free and as it was.
pub(super) async fn claim_layouts(
    db: &mut SqliteConnection,
    by: By,
    member: MemberId,
    kept: &KeptMatch,
    assigned: &[Assigned<'_>],
) -> Result<Vec<ClaimId>, ClaimError> {
    let pieces = verified(db, &kept.request, assigned).await?;
    still_wanted(db, assigned).await?;
    let settings = workshop::get(&mut *db).await?;
    let today = days::day_of(by.at, &settings.time_zone);
    let last_day = days::days_after(today, settings.settings.claim_days);
    // One claim for each project and piece, however many layouts cut its copies.
    let mut claims: BTreeMap<(ProjectId, OffcutId), ClaimId> = BTreeMap::new();
    let mut wanted: BTreeMap<(ProjectId, OffcutId), u32> = BTreeMap::new();
    for Assigned { project, layout } in assigned {
        if let Some(offcut) = pieces.get(layout.stock.as_str()) {
            *wanted.entry((*project, *offcut)).or_default() += layout.copies;
        }
    }
    for ((project, offcut), pieces) in wanted {
        let claim = claim::insert(db, by, member, project, offcut, pieces, last_day).await?;
        claims.insert((project, offcut), claim);
    }
    let mut positions: BTreeMap<ProjectId, i64> = BTreeMap::new();
    for Assigned { project, layout } in assigned {
        let Some(kept_layout) = kept.kept_layout(layout) else {
            return Err(ClaimError::NoMatch);
        };
        let source = match pieces.get(layout.stock.as_str()) {
            Some(offcut) => NewSource::Claimed(claims[&(*project, *offcut)]),
            None => NewSource::Bought(layout.stock.clone()),
        };
        let position = positions
            .entry(*project)
            .or_insert(next_position(db, *project).await?);
        let new = NewLayout {
            project: *project,
            position: *position,
            source,
            copies: layout.copies,
            cut: kept_layout.print(),
            strips: strips_of(layout),
        };
        *position += 1;
        layout::insert(db, &new).await?;
    }
    Ok(claims.into_values().collect())
}

async fn next_position(db: &mut SqliteConnection, project: ProjectId) -> store::Result<i64> {
    let layouts = layout::list_of_project(db, project).await?;
    Ok(layouts
        .iter()
        .map(|layout| layout.position + 1)
        .max()
        .unwrap_or(0))
}

/// What one copy of a layout gives, for whom.
fn strips_of(layout: &Layout) -> Vec<LayoutStrip> {
    layout
        .strips()
        .into_iter()
        .filter_map(|(id, count)| {
            let name: StripName = id.parse().ok()?;
            Some(LayoutStrip {
                project_id: name.project,
                strip_key: name.key,
                count,
            })
        })
        .collect()
}

/// The ids of the pieces by tag, if each is free and as it was; boards of the trade are not listed.
async fn verified<'a>(
    db: &mut SqliteConnection,
    request: &'a Request,
    assigned: &[Assigned<'_>],
) -> Result<BTreeMap<&'a str, OffcutId>, ClaimError> {
    let mut pieces = BTreeMap::new();
    let mut taken = Vec::new();
    for piece in &request.stock {
        let wanted: u32 = assigned
            .iter()
            .filter(|assigned| assigned.layout.stock == piece.id)
            .map(|assigned| assigned.layout.copies)
            .sum();
        if wanted == 0 {
            continue;
        }
        let now = offcut::find_by_tag(&mut *db, &piece.id).await?;
        let (free, is_changed) = match &now {
            None => (0, true),
            Some(now) => {
                let as_now = Request {
                    stock: vec![piece_of(now, now.count)],
                    ..Request::default()
                };
                let as_was = Request {
                    stock: vec![piece.clone()],
                    ..Request::default()
                };
                let both = as_was.pieces().next().zip(as_now.pieces().next());
                (
                    now.free(),
                    !both.is_some_and(|(was, now)| same_piece(&was, &now)),
                )
            }
        };
        match now {
            Some(now) if free >= wanted && !is_changed => {
                pieces.insert(piece.id.as_str(), now.id);
            }
            now => {
                let held_by = match &now {
                    Some(now) => claim::list_held_of_offcut(&mut *db, now.id).await?,
                    None => Vec::new(),
                };
                taken.push(TakenPiece {
                    tag: piece.id.clone(),
                    wanted,
                    free,
                    held_by,
                    is_changed,
                });
            }
        }
    }
    if taken.is_empty() {
        Ok(pieces)
    } else {
        Err(ClaimError::Taken(taken))
    }
}

/// `NoMatch` if a strip would be made more often than its project still wants it.
async fn still_wanted(
    db: &mut SqliteConnection,
    assigned: &[Assigned<'_>],
) -> Result<(), ClaimError> {
    let mut made: BTreeMap<ProjectId, BTreeMap<String, u32>> = BTreeMap::new();
    for Assigned { layout, .. } in assigned {
        for strip in strips_of(layout) {
            let of_project = made.entry(strip.project_id).or_default();
            *of_project.entry(strip.strip_key).or_default() += strip.count * layout.copies;
        }
    }
    for (project, made) in made {
        let wanted = super::matching::wanted(db, project).await?;
        for (key, count) in made {
            let asked = wanted
                .iter()
                .find(|strip| strip.key == key)
                .map_or(0, |strip| strip.count);
            if count > asked {
                return Err(ClaimError::NoMatch);
            }
        }
    }
    Ok(())
}

/// Ends one claim without cutting: what its layouts would have given is wanted again.
pub(super) async fn end(
    db: &mut SqliteConnection,
    by: By,
    claim: &Claim,
    state: ClaimState,
) -> Written {
    let mut sharing = vec![claim.project];
    for stored in layout::list_of_claim(&mut *db, claim.id).await? {
        let strips = layout::list_strips(&mut *db, stored.id).await?;
        sharing.extend(strips.iter().map(|strip| strip.project_id));
        layout::drop_uncut(db, stored.id).await?;
    }
    claim::end(db, by, claim.id, state).await?;
    sharing.sort_unstable();
    sharing.dedup();
    for project in sharing {
        stage::refresh(db, by, project).await?;
    }
    Ok(())
}

/// Lets one piece go: it stays where it lies, free for others.
pub async fn let_go(db: &mut SqliteConnection, by: By, id: ClaimId) -> Result<(), ClaimError> {
    let claim = claim::find(&mut *db, id)
        .await?
        .ok_or(ClaimError::Unknown)?;
    Ok(end(db, by, &claim, ClaimState::LetGo).await?)
}

/// Puts a piece back uncut, into another bin if it is named.
pub async fn put_back(
    db: &mut SqliteConnection,
    by: By,
    id: ClaimId,
    bin: Option<BinId>,
) -> Result<(), ClaimError> {
    let claim = claim::find(&mut *db, id)
        .await?
        .ok_or(ClaimError::Unknown)?;
    end(db, by, &claim, ClaimState::LetGo).await?;
    if let Some(bin) = bin {
        let piece = offcut::find(&mut *db, claim.offcut)
            .await?
            .ok_or(ClaimError::Unknown)?;
        if piece.bin != Some(bin) {
            offcut::update_bin(db, piece.id, piece.version, bin).await?;
            change::append(db, by, "moved", "offcut", piece.id, "put back").await?;
        }
    }
    Ok(())
}

/// Lets everything go that the project holds, and forgets the boards that it would have bought.
pub async fn let_go_all(db: &mut SqliteConnection, by: By, id: ProjectId) -> Written {
    for claim in claim::list_of_project(&mut *db, id).await? {
        if claim.state == ClaimState::Held {
            end(db, by, &claim, ClaimState::LetGo).await?;
        }
    }
    for stored in layout::list_of_project(&mut *db, id).await? {
        if matches!(stored.source, Source::Bought(_)) {
            layout::drop_uncut(db, stored.id).await?;
        }
    }
    stage::refresh(db, by, id).await
}

/// Forgets a board that would have been bought.
pub async fn drop_board(
    db: &mut SqliteConnection,
    by: By,
    id: store::LayoutId,
) -> Result<(), ClaimError> {
    let stored = layout::find(&mut *db, id)
        .await?
        .ok_or(ClaimError::Unknown)?;
    if !matches!(stored.source, Source::Bought(_)) {
        return Err(ClaimError::Unknown);
    }
    layout::drop_uncut(db, id).await?;
    Ok(stage::refresh(db, by, stored.project).await?)
}

/// Moves a claim's last day.
pub async fn extend(
    db: &mut SqliteConnection,
    by: By,
    id: ClaimId,
    version: i64,
    last_day: Date,
) -> Result<(), ClaimError> {
    claim::find(&mut *db, id)
        .await?
        .ok_or(ClaimError::Unknown)?;
    let today = days::day_of(by.at, &workshop::get(&mut *db).await?.time_zone);
    let latest = days::days_after(today, MOST_DAYS);
    if last_day < today || last_day > latest {
        return Err(ClaimError::Day(today, latest));
    }
    Ok(claim::set_last_day(db, by, id, version, last_day).await?)
}

/// Moves the last day of everything that the project holds.
pub async fn extend_all(
    db: &mut SqliteConnection,
    by: By,
    id: ProjectId,
    last_day: Date,
) -> Result<(), ClaimError> {
    for claim in claim::list_of_project(&mut *db, id).await? {
        if claim.state == ClaimState::Held {
            extend(db, by, claim.id, claim.version, last_day).await?;
        }
    }
    Ok(())
}

/// Ends the claims whose last day is over, and gives their number.
pub async fn lapse(db: &mut SqliteConnection, by: By) -> Written<usize> {
    let today = days::day_of(by.at, &workshop::get(&mut *db).await?.time_zone);
    let Ok(yesterday) = today.yesterday() else {
        return Ok(0);
    };
    // The program ends them, whoever happens to come by.
    let program = By { member: None, ..by };
    let over = claim::list_held_until(&mut *db, yesterday, None).await?;
    for claim in &over {
        end(db, program, claim, ClaimState::Lapsed).await?;
    }
    Ok(over.len())
}

/// Ends the claims whose last day is over, if there are any: to be called before anything is shown,
/// so that nothing depends on [`keep_lapsing`]. Most times it only reads.
pub async fn lapse_due(app: &App) -> Written<usize> {
    let by = By {
        member: None,
        at: app.clock.now(),
    };
    let mut read = app.store.read().acquire().await?;
    let today = days::day_of(by.at, &workshop::get(&mut *read).await?.time_zone);
    let is_due = claim::is_any_over(&mut *read, today).await?;
    drop(read);
    if !is_due {
        return Ok(0);
    }
    let mut db = app.store.begin().await?;
    let lapsed = lapse(&mut db, by).await?;
    db.commit().await?;
    tracing::info!(lapsed, "claims lapsed");
    Ok(lapsed)
}

/// Ends claims soon after their last day, until the program is asked to end.
pub async fn keep_lapsing(app: App) {
    const BETWEEN: Duration = Duration::from_secs(600);
    loop {
        if let Err(error) = lapse_due(&app).await {
            tracing::warn!(%error, "claims whose last day is over could not be ended");
        }
        tokio::select! {
            () = tokio::time::sleep(BETWEEN) => {}
            () = app.shutdown.cancelled() => return,
        }
    }
}
