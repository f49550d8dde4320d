//! Which pieces a project could be cut from: from what lies in the bins to a kept match.
//!
//! A match holds nothing: it is an offer until its pieces are claimed (`claim`). It is kept with
//! the project, together with what it was made for, so that a claim can tell whether it still
//! stands.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::str::FromStr;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use sqlx::SqliteConnection;

use super::project::{self as projects, ProjectError};
use super::{App, Busy, Stop, claim, stage};
use crate::calc::budget::Budget;
use crate::calc::matching::{
    self, Board, Bound, Layout, NetWood, Outcome, Piece, Problem, Progress, Request, Stretch, Strip,
};
use crate::store::bin::{self, Bin};
use crate::store::offcut::Offcut;
use crate::store::project::{FoundMatch, Project, WantedStrip};
use crate::store::{
    self, BinId, By, ProjectId, Refusal, change, layout, lumber, offcut, project, workshop,
};
use crate::units::{Money, Volume};
use crate::wire::kept_match::{KeptMatch, Unreadable};

/// Threads of one solve.
pub(super) const THREADS: usize = 2;

/// How long a solve may go on, and the flag that ends it early with the best answer so far.
#[derive(Clone, Debug)]
pub struct Patience {
    pub time: Duration,
    pub enough: Stop,
}

impl From<Duration> for Patience {
    fn from(time: Duration) -> Patience {
        Patience {
            time,
            enough: Stop::default(),
        }
    }
}

/// Why there is no match.
#[derive(Debug, thiserror::Error)]
pub enum MatchError {
    #[error("there is no such project")]
    Unknown,
    #[error("the project has ended")]
    Ended,
    /// Every strip is claimed or cut already.
    #[error("every strip is claimed or cut already")]
    NothingWanted,
    /// Somebody changed the design while the solver was at work.
    #[error("the design was changed meanwhile")]
    DesignChanged,
    /// The design cannot be made by the workshop's practice of today.
    #[error("the design cannot be made as it stands")]
    Design(#[source] ProjectError),
    /// The bins or the project ask for more than one match takes; in words.
    #[error("{0}")]
    TooLarge(String),
    /// All solver slots are taken.
    #[error("the solvers are busy")]
    Busy,
    #[error("a kept match cannot be read")]
    Unreadable(#[from] Unreadable),
    #[error("failed to store the match")]
    Store(#[source] Refusal),
}

impl From<sqlx::Error> for MatchError {
    fn from(error: sqlx::Error) -> MatchError {
        MatchError::Store(error.into())
    }
}

impl From<Refusal> for MatchError {
    fn from(refusal: Refusal) -> MatchError {
        MatchError::Store(refusal)
    }
}

impl From<Busy> for MatchError {
    fn from(_: Busy) -> MatchError {
        MatchError::Busy
    }
}

impl From<ProjectError> for MatchError {
    fn from(error: ProjectError) -> MatchError {
        match error {
            ProjectError::Unknown => MatchError::Unknown,
            ProjectError::Ended => MatchError::Ended,
            ProjectError::Store(refusal) => MatchError::Store(refusal),
            other => MatchError::Design(other),
        }
    }
}

/// A strip of a project, as it is called in matches, layouts and on the wood itself: `P7-s1`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct StripName {
    pub project: ProjectId,
    pub key: String,
}

impl fmt::Display for StripName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "P{}-{}", self.project, self.key)
    }
}

impl FromStr for StripName {
    type Err = ();

    fn from_str(text: &str) -> Result<StripName, ()> {
        let (project, key) = text
            .strip_prefix('P')
            .and_then(|rest| rest.split_once('-'))
            .ok_or(())?;
        let project = project.parse().map_err(|_| ())?;
        Ok(StripName {
            project: ProjectId(project),
            key: key.to_owned(),
        })
    }
}

/// A free piece as the matching problem wants it; its id is its tag.
pub(super) fn piece_of(offcut: &Offcut, pieces: u32) -> Piece {
    Piece {
        id: offcut.tag.clone(),
        species: offcut.species.clone(),
        length: offcut.length,
        width: offcut.width,
        thickness: offcut.thickness,
        count: pieces,
        unusable: offcut
            .unusable
            .iter()
            .map(|stretch| Stretch {
                from: stretch.from,
                to: stretch.to,
            })
            .collect(),
        square_ends: offcut.square_ends,
        straight_edges: offcut.straight_edges,
        preference: 0,
    }
}

/// Of equally good pieces those go first that came in an earlier month; of these the ones from the bin that holds
/// least, so that it becomes empty.
fn prefer(free: &[Offcut], bins: &[Bin], stock: &mut [Piece]) {
    const MONTH_SECONDS: i64 = 30 * 86_400;
    let pieces_in: BTreeMap<BinId, i64> = bins.iter().map(|bin| (bin.id, bin.pieces)).collect();
    let order_of = |offcut: &Offcut| {
        let month = offcut.added_at.as_second().div_euclid(MONTH_SECONDS);
        let in_bin = offcut.bin.and_then(|bin| pieces_in.get(&bin));
        (month, in_bin.copied(), offcut.bin)
    };
    let orders: BTreeSet<_> = free.iter().map(order_of).collect();
    let ranks: BTreeMap<_, u32> = orders.into_iter().zip(0..).collect();
    for (offcut, piece) in free.iter().zip(stock) {
        piece.preference = ranks.get(&order_of(offcut)).copied().unwrap_or(0);
    }
}

/// What a project still wants: strips that are neither cut nor in a claimed piece.
pub async fn wanted(
    db: &mut SqliteConnection,
    project: ProjectId,
) -> store::Result<Vec<WantedStrip>> {
    let progress = layout::progress(&mut *db, project).await?;
    let given: BTreeMap<&str, u32> = progress
        .iter()
        .map(|progress| (progress.strip_key.as_str(), progress.cut + progress.to_cut))
        .collect();
    let mut strips = project::list_strips(db, project).await?;
    strips.retain_mut(|strip| {
        strip.count = strip
            .count
            .saturating_sub(given.get(strip.key.as_str()).copied().unwrap_or(0));
        strip.count > 0
    });
    Ok(strips)
}

/// The strips of a project by their names.
fn strips_of(project: ProjectId, wanted: &[WantedStrip]) -> Vec<Strip> {
    wanted
        .iter()
        .map(|strip| Strip {
            id: StripName {
                project,
                key: strip.key.clone(),
            }
            .to_string(),
            species: strip.species.clone(),
            count: strip.count,
            length: strip.length,
            sections: strip.sections.clone(),
        })
        .collect()
}

/// The problem of finding everything that the projects still want among the free pieces and the
/// boards of the trade.
pub async fn request_for(
    db: &mut SqliteConnection,
    projects: &[ProjectId],
) -> store::Result<Request> {
    let mut strips = Vec::new();
    for project in projects {
        strips.extend(strips_of(*project, &wanted(db, *project).await?));
    }
    let is_asked = |species: &str| {
        strips.iter().any(|strip: &Strip| {
            strip
                .species
                .iter()
                .any(|asked| asked.eq_ignore_ascii_case(species))
        })
    };
    let mut species: Vec<String> = strips
        .iter()
        .flat_map(|strip: &Strip| strip.species.iter().cloned())
        .collect();
    species.sort_unstable();
    species.dedup();
    let free = offcut::list_free(&mut *db, &species).await?;
    let mut stock: Vec<Piece> = free
        .iter()
        .map(|offcut| piece_of(offcut, offcut.free()))
        .collect();
    prefer(&free, &bin::list(&mut *db).await?, &mut stock);
    let buy = lumber::list(&mut *db)
        .await?
        .into_iter()
        .map(|lumber| lumber.board)
        .filter(|board| is_asked(&board.species))
        .map(|board| Board {
            price: board.whole_price(),
            // A name may happen to be a tag, and ids are unique over both.
            id: if stock.iter().any(|piece| piece.id == board.name) {
                format!("{} (bought)", board.name)
            } else {
                board.name
            },
            species: board.species,
            length: board.length,
            width: board.width,
            thickness: board.thickness,
            unusable: Vec::new(),
            square_ends: board.square_ends,
            straight_edges: board.straight_edges,
        })
        .collect();
    let shop = workshop::get(db).await?.settings.cutting.shop();
    Ok(Request {
        stock,
        buy,
        strips,
        shop,
    })
}

/// Solves off the async threads. Dropping the future stops the solver.
pub(super) async fn solve(
    app: &App,
    request: Request,
    patience: impl Into<Patience>,
    progress: impl Fn(Progress) + Send + Sync + 'static,
) -> Result<(Request, Outcome, Duration), MatchError> {
    let problem = Problem::new(request).map_err(|flaws| {
        let first = flaws
            .first()
            .map_or_else(String::new, |flaw| flaw.detail.clone());
        MatchError::TooLarge(format!(
            "The match asks for something that cannot be: {first}"
        ))
    })?;
    let Patience { time, enough } = patience.into();
    let time = time.min(app.slots.longest());
    let solved = app
        .slots
        .run(move |stop| {
            let started = Instant::now();
            let elapsed = move || {
                if enough.load(Ordering::Relaxed) {
                    Duration::MAX
                } else {
                    started.elapsed()
                }
            };
            let budget = Budget::until(time, elapsed)
                .with_stop(stop)
                .with_threads(THREADS);
            let outcome = matching::solve(&problem, &budget, &progress);
            let violations = matching::check(problem.request(), &outcome).err();
            (
                problem.request().clone(),
                outcome,
                started.elapsed(),
                violations,
            )
        })
        .await?;
    let (request, outcome, elapsed, violations) = solved;
    if let Some(violations) = violations {
        tracing::error!(?violations, "a match did not pass its own check");
        return Err(MatchError::TooLarge(
            "The answer did not pass its own check, so it is not offered.".to_owned(),
        ));
    }
    Ok((request, outcome, elapsed))
}

/// The project, if it can be matched.
async fn open_project(db: &mut SqliteConnection, id: ProjectId) -> Result<Project, MatchError> {
    let project = project::find(db, id).await?.ok_or(MatchError::Unknown)?;
    if project.ended_at.is_some() {
        Err(MatchError::Ended)
    } else {
        Ok(project)
    }
}

/// Keeps a match with its project.
async fn keep(app: &App, by: By, project: &Project, kept: &KeptMatch) -> Result<(), MatchError> {
    let mut db = app.store.begin().await?;
    let found = FoundMatch {
        answer: kept.print(),
        design_version: project.design_version,
        at: by.at,
    };
    project::put_match(&mut db, project.id, &found)
        .await
        .map_err(|refusal| match refusal {
            Refusal::Stale => MatchError::DesignChanged,
            other => MatchError::Store(other),
        })?;
    let detail = format!("{} of {} strips", kept.outcome.covered, kept.wanted());
    change::append(&mut db, by, "matched", "project", project.id, &detail).await?;
    stage::refresh(&mut db, by, project.id).await?;
    db.commit().await?;
    Ok(())
}

/// Brings claims and strips up to date and gives the problem of one project.
async fn prepare(app: &App, by: By, id: ProjectId) -> Result<(Project, Request), MatchError> {
    let mut db = app.store.begin().await?;
    claim::lapse(&mut db, by).await?;
    open_project(&mut db, id).await?;
    projects::refresh_strips(&mut db, by, id).await?;
    let project = open_project(&mut db, id).await?;
    let request = request_for(&mut db, &[id]).await?;
    db.commit().await?;
    if request.strips.is_empty() {
        return Err(MatchError::NothingWanted);
    }
    Ok((project, request))
}

/// Finds the best match for what a project still wants and keeps it.
pub async fn find(
    app: &App,
    by: By,
    id: ProjectId,
    patience: impl Into<Patience>,
    progress: impl Fn(Progress) + Send + Sync + 'static,
) -> Result<KeptMatch, MatchError> {
    let (project, request) = prepare(app, by, id).await?;
    let (request, outcome, elapsed) = solve(app, request, patience, progress).await?;
    let kept = KeptMatch::new(&request, outcome, 0, elapsed);
    keep(app, by, &project, &kept).await?;
    Ok(kept)
}

/// Finds what one piece can give a project and keeps that as its match: what somebody asks who stands
/// at the bin with the piece in hand. The match may leave strips uncovered.
pub async fn find_in_piece(
    app: &App,
    by: By,
    id: ProjectId,
    tag: &str,
    patience: impl Into<Patience>,
) -> Result<KeptMatch, MatchError> {
    let (project, mut request) = prepare(app, by, id).await?;
    request.stock.retain(|piece| piece.id == tag);
    request.buy.clear();
    let (request, outcome, elapsed) = solve(app, request, patience, |_| {}).await?;
    let kept = KeptMatch::new(&request, outcome, 0, elapsed);
    if kept.outcome.covered > 0 {
        keep(app, by, &project, &kept).await?;
    }
    Ok(kept)
}

/// Finds a match that keeps every layout of the current one whose piece is still free and as it
/// was: what to do when somebody was quicker with a few pieces.
pub async fn find_keeping_rest(
    app: &App,
    by: By,
    id: ProjectId,
    patience: impl Into<Patience>,
    progress: impl Fn(Progress) + Send + Sync + 'static,
) -> Result<KeptMatch, MatchError> {
    let (project, request) = prepare(app, by, id).await?;
    let before = match project.current_match() {
        Some(found) => KeptMatch::parse(&found.answer)?,
        None => return find(app, by, id, patience, progress).await,
    };
    let Rest { given, open } = rest(&before, &request);
    let (_, outcome, elapsed) = solve(app, open, patience, progress).await?;
    let given_layouts = given.len();
    let outcome = joined(&request, given, outcome);
    let kept = KeptMatch::new(&request, outcome, given_layouts, elapsed);
    keep(app, by, &project, &kept).await?;
    Ok(kept)
}

/// What of a match still stands, and the problem of finding the rest.
struct Rest {
    given: Vec<Layout>,
    open: Request,
}

fn rest(before: &KeptMatch, request: &Request) -> Rest {
    let mut open = request.clone();
    let mut given: Vec<Layout> = Vec::new();
    // Another kerf or trim makes every layout another one.
    if before.request.shop != request.shop {
        return Rest { given, open };
    }
    for layout in &before.outcome.layouts {
        let was = before
            .request
            .pieces()
            .find(|piece| piece.id == layout.stock);
        let now = request.pieces().find(|piece| piece.id == layout.stock);
        let is_same = was
            .zip(now)
            .is_some_and(|(was, now)| same_piece(&was, &now));
        if !is_same {
            continue;
        }
        let free = open
            .stock
            .iter()
            .find(|piece| piece.id == layout.stock)
            .map(|piece| piece.count);
        let mut copies = layout.copies.min(free.unwrap_or(u32::MAX));
        for (id, count) in layout.strips() {
            let wanted = open
                .strips
                .iter()
                .find(|strip| strip.id == id)
                .map_or(0, |strip| strip.count);
            copies = copies.min(wanted / count);
        }
        if copies == 0 {
            continue;
        }
        for (id, count) in layout.strips() {
            if let Some(strip) = open.strips.iter_mut().find(|strip| strip.id == id) {
                strip.count -= count * copies;
            }
        }
        if let Some(piece) = open.stock.iter_mut().find(|piece| piece.id == layout.stock) {
            piece.count -= copies;
        }
        given.push(Layout {
            copies,
            ..layout.clone()
        });
    }
    open.strips.retain(|strip| strip.count > 0);
    open.stock.retain(|piece| piece.count > 0);
    Rest { given, open }
}

/// Whether a layout made for one piece can be cut from the other.
pub(super) fn same_piece(was: &matching::Stock<'_>, now: &matching::Stock<'_>) -> bool {
    was.species == now.species
        && (was.length, was.width, was.thickness) == (now.length, now.width, now.thickness)
        && was.unusable == now.unusable
        && was.square_ends == now.square_ends
        && was.straight_edges == now.straight_edges
        && was.price == now.price
}

/// The answer that has the given layouts and the found ones. Its bound holds among such answers.
fn joined(request: &Request, given: Vec<Layout>, found: Outcome) -> Outcome {
    let mut covered = 0;
    let mut touched = 0;
    let mut spend = Money::ZERO;
    let mut cut = Volume::ZERO;
    let mut kept = Volume::ZERO;
    for layout in &given {
        let Some(piece) = request.pieces().find(|piece| piece.id == layout.stock) else {
            continue;
        };
        let copies = i64::from(layout.copies);
        covered += layout
            .strips()
            .iter()
            .map(|(_, count)| count * layout.copies)
            .sum::<u32>();
        touched += layout.copies;
        spend += piece.price * copies;
        cut = cut + piece.volume() * copies;
        let kept_once: Volume = layout
            .rectangles(&piece, &request.shop)
            .iter()
            .filter(|rectangle| rectangle.used_as == matching::Use::Keep)
            .map(|rectangle| Volume::of(rectangle.length, rectangle.width, piece.thickness))
            .sum();
        kept = kept + kept_once * copies;
    }
    let given_wood = NetWood {
        cut,
        kept,
        credit: found.net_wood.credit,
    };
    let net_wood = NetWood {
        cut: cut + found.net_wood.cut,
        kept: kept + found.net_wood.kept,
        credit: found.net_wood.credit,
    };
    let bound_mm3 = if found.proven {
        net_wood.mm3()
    } else {
        given_wood.mm3() + found.bound.net_wood_mm3
    };
    Outcome {
        covered: covered + found.covered,
        uncovered: found.uncovered,
        spend: spend + found.spend,
        net_wood,
        touched: touched + found.touched,
        bound: Bound {
            covered: covered + found.bound.covered,
            spend: spend + found.bound.spend,
            net_wood_mm3: bound_mm3,
        },
        proven: found.proven,
        statistics: found.statistics,
        layouts: given.into_iter().chain(found.layouts).collect(),
    }
}
