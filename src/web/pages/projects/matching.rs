use std::convert::Infallible;
use std::time::Duration;

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse as _, Response};
use tokio_stream::StreamExt as _;
use tokio_stream::wrappers::WatchStream;

use super::cut_layout::{CutLayout, Labels};
use super::drawn::Drawer;
use super::live::{NeedLine, need_lines};
use super::opened::{Opened, by, own};
use super::path::{Head, Here};
use crate::app::App;
use crate::app::claim::TakenPiece;
use crate::app::matching::{StripName, wanted};
use crate::app::running_match::MatchState;
use crate::calc::matching::{Bound, Progress};
use crate::calc::work::Needs;
use crate::store::claim::{self, ClaimState};
use crate::store::{ClaimId, LayoutId, OffcutId, ProjectId, layout, offcut};
use crate::units::{Money, Volume};
use crate::web::shell::page_with;
use crate::web::{Error, Flash, Member, Path, Section, Shell, Typed, see_other, words};
use crate::wire::kept_match::KeptMatch;

/// How long a member's match may go on.
const TIME: Duration = Duration::from_secs(20);
/// How long the answer to a press of the button waits, so that small matches need no second page.
const WAIT: Duration = Duration::from_millis(1_200);

#[derive(Template)]
#[template(path = "projects/match.html")]
struct MatchPage {
    shell: Shell,
    head: Head,
    needs: Vec<NeedLine>,
    /// A solver is at work: what it knows so far.
    running: Option<String>,
    /// Why the last try gave nothing.
    failed: Option<String>,
    found: Option<Found>,
    claims: Vec<ClaimLine>,
    boards: Vec<BoardLine>,
    /// Strips that neither a claimed piece nor a board to buy gives.
    n_wanted: u32,
    taken: Vec<String>,
    /// The last day of what is held.
    typed: Typed,
}

impl MatchPage {
    fn holds_any(&self) -> bool {
        self.claims.iter().any(|claim| claim.is_held)
    }
}

/// A match that waits to be claimed.
struct Found {
    summary: String,
    gap: String,
    is_proven: bool,
    figures: Vec<(&'static str, String)>,
    layouts: Vec<CutLayout>,
    uncovered: Vec<String>,
    /// The design has changed since.
    is_old: bool,
    keeps_given: bool,
}

struct ClaimLine {
    id: ClaimId,
    tag: String,
    offcut: OffcutId,
    pieces: u32,
    last_day: String,
    is_soon: bool,
    state: &'static str,
    is_held: bool,
}

struct BoardLine {
    id: LayoutId,
    name: String,
    copies: u32,
    left: u32,
}

/// How good an answer is, in plain words.
pub(super) fn gap_words(
    wanted: u32,
    covered: u32,
    spend: Money,
    net_wood_mm3: f64,
    bound: &Bound,
) -> String {
    if covered < bound.covered {
        return format!(
            "{covered} of {wanted} strips so far; it is not ruled out that {} can be had.",
            bound.covered
        );
    }
    if spend > bound.spend && bound.spend == Money::ZERO {
        return format!("Costs {spend} so far; it is not ruled out that nothing need be bought.");
    }
    if spend > bound.spend {
        return format!(
            "Costs {spend} so far; less than {} is not possible.",
            bound.spend
        );
    }
    let over = if net_wood_mm3 > 0.0 {
        (net_wood_mm3 - bound.net_wood_mm3) / net_wood_mm3
    } else {
        0.0
    };
    let least = Volume::from_mm3(bound.net_wood_mm3).board_feet();
    if over <= 1e-9 {
        "Nothing better is possible.".to_owned()
    } else if bound.net_wood_mm3 <= 0.0 {
        "How far it is from the best is not known.".to_owned()
    } else {
        format!(
            "At most {:.1} % less wood might be possible: nothing takes less than {least:.2} board feet.",
            (over * 100.0).max(0.1)
        )
    }
}

fn progress_words(progress: Option<&Progress>) -> String {
    match progress {
        None => "Looking through the bins.".to_owned(),
        Some(progress) => {
            let feet = Volume::from_mm3(progress.net_wood_mm3).board_feet();
            let wanted = progress.bound.covered.max(progress.covered);
            format!(
                "{} strips from {feet:.2} board feet. {}",
                progress.covered,
                gap_words(
                    wanted,
                    progress.covered,
                    progress.spend,
                    progress.net_wood_mm3,
                    &progress.bound
                )
            )
        }
    }
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    match_page(&app, shell, &member, id, StatusCode::OK, &[], None).await
}

/// The page, also after a claim that came too late.
pub(super) async fn match_page(
    app: &App,
    shell: Shell,
    member: &Member,
    id: ProjectId,
    status: StatusCode,
    taken: &[TakenPiece],
    typed: Option<Typed>,
) -> Result<Response, Error> {
    let opened = Opened::find(app, id).await?;
    let drawer = Drawer {
        basis: &opened.basis,
        lengths: shell.lengths(),
    };
    let needs = opened.needs().ok();
    let mut db = app.store.read().acquire().await?;
    let claims = claim::list_of_project(&mut *db, id).await?;
    let stored = layout::list_of_project(&mut *db, id).await?;
    let n_wanted = wanted(&mut db, id)
        .await?
        .iter()
        .map(|strip| strip.count)
        .sum();
    let state = app
        .running_matches
        .watch(id)
        .map(|state| state.borrow().clone());
    let (running, failed) = match state {
        Some(MatchState {
            ended: None,
            progress,
        }) => (Some(progress_words(progress.as_ref())), None),
        Some(MatchState {
            ended: Some(Err(why)),
            ..
        }) => (None, Some(why)),
        _ => (None, None),
    };
    let mut found = found(&opened, &drawer, needs.as_ref());
    if let Some(found) = &mut found {
        for layout in &mut found.layouts {
            if let Some(piece) = offcut::find_by_tag(&mut *db, &layout.piece).await? {
                layout.bin = piece.bin_name;
                layout.href = Some(format!("/offcuts/{}", piece.id));
            }
        }
    }
    let soon = crate::app::days::days_after(opened.today, 3);
    let extended = crate::app::days::days_after(opened.today, opened.settings.claim_days);
    let page = MatchPage {
        head: opened.head(member, Here::Match),
        needs: needs
            .as_ref()
            .map(|needs| need_lines(needs, &drawer))
            .unwrap_or_default(),
        running,
        failed,
        found,
        claims: claims
            .iter()
            .map(|claim| ClaimLine {
                id: claim.id,
                tag: claim.tag.clone(),
                offcut: claim.offcut,
                pieces: claim.pieces,
                last_day: format!(
                    "{}, {}",
                    words::short_day(claim.last_day),
                    words::from_today(claim.last_day, opened.today)
                ),
                is_soon: claim.state == ClaimState::Held && claim.last_day <= soon,
                state: claim.state.word(),
                is_held: claim.state == ClaimState::Held,
            })
            .collect(),
        boards: stored
            .iter()
            .filter_map(|stored| match &stored.source {
                layout::Source::Bought(name) => Some(BoardLine {
                    id: stored.id,
                    name: name.clone(),
                    copies: stored.copies,
                    left: stored.copies - stored.copies_cut,
                }),
                layout::Source::Claimed { .. } => None,
            })
            .collect(),
        n_wanted,
        taken: taken
            .iter()
            .map(|piece| taken_words(piece, member))
            .collect(),
        typed: typed.unwrap_or_else(|| Typed::filled([("last_day", extended.to_string())])),
        shell: shell.at(Section::Projects),
    };
    page_with(status, &page)
}

fn taken_words(piece: &TakenPiece, member: &Member) -> String {
    let tag = &piece.tag;
    if piece.is_changed {
        return format!("{tag} is no longer as it was: it was cut, moved out or measured again.");
    }
    let holders: Vec<String> = piece
        .held_by
        .iter()
        .map(|claim| {
            if claim.member == member.id() {
                format!("your project “{}”", claim.project_name)
            } else {
                format!("{} for “{}”", claim.member_name, claim.project_name)
            }
        })
        .collect();
    if holders.is_empty() {
        format!("{tag} is gone.")
    } else {
        format!("{tag} is held by {}.", words::listed(&holders))
    }
}

fn found(opened: &Opened, drawer: &Drawer<'_>, needs: Option<&Needs>) -> Option<Found> {
    let stored = opened.project.found.as_ref()?;
    let kept = KeptMatch::parse(&stored.answer).ok()?;
    let outcome = &kept.outcome;
    let shop = &kept.request.shop;
    let is_old = stored.design_version != opened.project.design_version;
    let mut numbers = Labels::new(opened.project.id, needs.filter(|_| !is_old));
    let layouts: Vec<CutLayout> = outcome
        .layouts
        .iter()
        .enumerate()
        .filter_map(|(place, layout)| {
            let stock = kept
                .request
                .pieces()
                .find(|piece| piece.id == layout.stock)?;
            let labels = numbers.labels(layout, &stock, shop);
            let prefix = format!("cut{place}");
            Some(CutLayout::new(
                drawer,
                &prefix,
                layout,
                stock,
                shop,
                &labels,
                &opened.design,
            ))
        })
        .collect();
    let wanted = kept.wanted();
    let n_kept: usize = layouts
        .iter()
        .map(|layout| layout.kept.len() * layout.copies as usize)
        .sum();
    let cut = outcome.net_wood.cut;
    let figures = vec![
        ("Wood cut up", format!("{:.2} board feet", cut.board_feet())),
        (
            "Goes back to a bin",
            format!(
                "{:.2} board feet in {}",
                outcome.net_wood.kept.board_feet(),
                words::counted(n_kept, "piece", "pieces")
            ),
        ),
        ("Pieces touched", outcome.touched.to_string()),
        (
            "To buy",
            if outcome.spend == Money::ZERO {
                "nothing".to_owned()
            } else {
                outcome.spend.to_string()
            },
        ),
        (
            "Found in",
            if kept.seconds < 0.1 {
                "a moment".to_owned()
            } else {
                format!("{:.1} s", kept.seconds)
            },
        ),
    ];
    let uncovered = outcome.uncovered.iter().map(|missing| {
        let which = missing
            .id
            .parse::<StripName>()
            .ok()
            .and_then(|name| {
                kept.request
                    .strips
                    .iter()
                    .find(|strip| strip.id == missing.id)
                    .map(|strip| (name, strip))
            })
            .map_or_else(
                || missing.id.clone(),
                |(_, strip)| {
                    format!(
                        "{} of {}, {} long",
                        words::counted(missing.count as usize, "strip", "strips"),
                        strip.species.join(" or "),
                        drawer.lengths.show(strip.length)
                    )
                },
            );
        format!("{which}: {}", missing.why.show(drawer.lengths))
    });
    Some(Found {
        summary: if outcome.covered == wanted {
            format!("All {wanted} strips can be had.")
        } else {
            format!("{} of {wanted} strips can be had.", outcome.covered)
        },
        gap: if outcome.proven {
            "Proven: no other way covers more, costs less or uses less wood.".to_owned()
        } else {
            gap_words(
                wanted,
                outcome.covered,
                outcome.spend,
                outcome.net_wood.mm3(),
                &outcome.bound,
            )
        },
        is_proven: outcome.proven,
        figures,
        uncovered: uncovered.collect(),
        layouts,
        is_old,
        keeps_given: kept.given_layouts > 0,
    })
}

/// Begins a match. Most end before the answer is sent; the page shows how the others get on.
pub(super) async fn start(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    typed: Typed,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let keep_rest = typed.text("keep") == "rest";
    let state = app
        .start_match(by(&app, &member), id, TIME, keep_rest, WAIT)
        .await;
    let redirect = see_other(format!("/projects/{id}/match"));
    Ok(match state.ended {
        Some(Ok(())) => redirect
            .saying(Flash::done("The match is found."))
            .response(&app),
        _ => redirect.response(&app),
    })
}

/// Ends the match that is being looked for, if one is; the best so far is kept.
pub(in crate::web) async fn stop_match(
    app: &App,
    member: &Member,
    id: ProjectId,
) -> Result<(), Error> {
    own(app, member, id).await?;
    app.running_matches.enough(id);
    if let Some(mut state) = app.running_matches.watch(id) {
        // The solver looks at the flag every few hundred microseconds; a late answer shows on the next look.
        let ended = state.wait_for(|state| state.ended.is_some());
        let _ = tokio::time::timeout(WAIT, ended).await;
    }
    Ok(())
}

/// Ends the search with the best so far.
pub(super) async fn stop(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    stop_match(&app, &member, id).await?;
    Ok(see_other(format!("/projects/{id}/match")).response(&app))
}

/// How the match gets on, as server-sent events: `progress` with a sentence, then `done`.
pub(super) async fn progress(
    State(app): State<App>,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    let Some(state) = app.running_matches.watch(id) else {
        let done = tokio_stream::once(Ok::<_, Infallible>(Event::default().event("done").data("")));
        return Ok(Sse::new(done).into_response());
    };
    let events = WatchStream::new(state).map(|state| {
        Ok::<_, Infallible>(match state.ended {
            Some(_) => Event::default().event("done").data(""),
            None => Event::default()
                .event("progress")
                .data(progress_words(state.progress.as_ref())),
        })
    });
    // When the match is over its sender is gone, and so the stream ends too.
    Ok(Sse::new(events)
        .keep_alive(KeepAlive::default())
        .into_response())
}
