//! Claiming a match, and what can be done with claims from a project's page.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;

use super::matching::match_page;
use super::opened::{by, own};
use super::start::day;
use crate::app::App;
use crate::app::claim::{self as claims, ClaimError};
use crate::store::{ClaimId, LayoutId, ProjectId, claim, layout};
use crate::web::{Error, Flash, Member, Path, Shell, Typed, see_other, words};

fn not_there() -> Error {
    Error::NotFound("There is no such claim.".into())
}

/// What a page answers where it has nothing better to say.
pub(in crate::web) fn claim_error(error: ClaimError) -> Error {
    match error {
        ClaimError::Unknown => not_there(),
        ClaimError::Ended => Error::Conflict("The project has ended.".into()),
        ClaimError::NoMatch => Error::Conflict(
            "There is no current match to claim: the design or the wanted strips have changed since. Match again.".into(),
        ),
        ClaimError::NothingFound => Error::Conflict(
            "The match found no piece that gives a strip, so there is nothing to claim. Change the design, add pieces to the bins or list boards to buy, and match again.".into(),
        ),
        ClaimError::Taken(pieces) => {
            let tags: Vec<&str> = pieces.iter().map(|piece| piece.tag.as_str()).collect();
            Error::Conflict(format!(
                "Nothing was claimed: {} cannot be had any more. Match again with what is left.",
                words::listed(&tags)
            ))
        }
        ClaimError::Stale => Error::Stale,
        ClaimError::Day(first, last) => Error::Conflict(format!(
            "The last day must be from {} to {}.",
            words::day(first),
            words::day(last)
        )),
        ClaimError::Unreadable(error) => Error::Internal(error.into()),
        ClaimError::Store(refusal) => refusal.into(),
    }
}

/// Claims the whole match or nothing.
pub(super) async fn claim_all(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    let project = own(&app, &member, id).await?;
    let mut db = app.store.begin().await?;
    match claims::claim_match(&mut db, by(&app, &member), project.member, id).await {
        Ok(claimed) => {
            db.commit().await?;
            let said = format!(
                "{} held for you. Take them from their bins when you cut.",
                match claimed.len() {
                    1 => "One piece is".to_owned(),
                    count => format!("{count} pieces are"),
                }
            );
            Ok(see_other(format!("/projects/{id}/match#claim"))
                .saying(Flash::done(said))
                .response(&app))
        }
        Err(ClaimError::Taken(pieces)) => {
            drop(db);
            match_page(
                &app,
                shell,
                &member,
                id,
                StatusCode::CONFLICT,
                &pieces,
                None,
            )
            .await
        }
        Err(error) => Err(claim_error(error)),
    }
}

/// Moves the last day of everything that is held.
pub(super) async fn extend(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
    mut typed: Typed,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let wrong = StatusCode::UNPROCESSABLE_ENTITY;
    let Some(last_day) = typed.take("last_day", day) else {
        return match_page(&app, shell, &member, id, wrong, &[], Some(typed)).await;
    };
    let mut db = app.store.begin().await?;
    match claims::extend_all(&mut db, by(&app, &member), id, last_day).await {
        Ok(()) => db.commit().await?,
        Err(ClaimError::Day(first, last)) => {
            drop(db);
            typed.refuse(
                "last_day",
                format!(
                    "is {}; must be from {} to {}",
                    words::day(last_day),
                    words::day(first),
                    words::day(last)
                ),
            );
            return match_page(&app, shell, &member, id, wrong, &[], Some(typed)).await;
        }
        Err(error) => return Err(claim_error(error)),
    }
    Ok(see_other(format!("/projects/{id}/match#claim"))
        .saying(Flash::done(format!(
            "The pieces are held until {}.",
            words::day(last_day)
        )))
        .response(&app))
}

/// Lets one piece go.
pub(super) async fn let_go(
    State(app): State<App>,
    member: Member,
    Path((id, claim_id)): Path<(ProjectId, ClaimId)>,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let held = claim::find(app.store.read(), claim_id)
        .await?
        .filter(|claim| claim.project == id)
        .ok_or_else(not_there)?;
    let mut db = app.store.begin().await?;
    claims::let_go(&mut db, by(&app, &member), claim_id)
        .await
        .map_err(claim_error)?;
    db.commit().await?;
    Ok(see_other(format!("/projects/{id}/match#claim"))
        .saying(Flash::done(format!(
            "{} is free for others again.",
            held.tag
        )))
        .response(&app))
}

/// Forgets a board that would have been bought.
pub(super) async fn drop_board(
    State(app): State<App>,
    member: Member,
    Path((id, board)): Path<(ProjectId, LayoutId)>,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    layout::find(app.store.read(), board)
        .await?
        .filter(|layout| layout.project == id)
        .ok_or_else(not_there)?;
    let mut db = app.store.begin().await?;
    claims::drop_board(&mut db, by(&app, &member), board)
        .await
        .map_err(claim_error)?;
    db.commit().await?;
    Ok(see_other(format!("/projects/{id}/match#claim"))
        .saying(Flash::done("The board is not bought."))
        .response(&app))
}
