//! Members, their tokens, and the links that let them in.

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::app::{App, NewLink, Secret, Standing};
use crate::store::api_token::{ApiToken, Scope};
use crate::store::member::MemberEdit;
use crate::store::{self, ApiTokenId, InvitationId, MemberId, Role, api_token, invitation, member};
use crate::units::{InchFraction, LengthFormat};
use crate::web::pages::change_error;
use crate::web::{Error, IfMatch, Json, Member, Path, Routes, Steward, Version, Who, line, lines};
use crate::wire::FieldError;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(find_me))
        .api(Who::Member, routes!(update_me))
        .api(Who::Member, routes!(list_tokens))
        .api(Who::Member, routes!(create_token))
        .api(Who::Member, routes!(end_token))
        .api(Who::Member, routes!(list_members))
        .api(Who::Steward, routes!(update_member))
        .api(Who::Steward, routes!(list_invitations))
        .api(Who::Steward, routes!(create_invitation))
        .api(Who::Steward, routes!(withdraw_invitation))
        .api(Who::Steward, routes!(create_reset_link))
}

/// A member as members see each other.
#[derive(Serialize, ToSchema)]
struct MemberBody {
    #[schema(example = 3)]
    id: i64,
    #[schema(example = "Maren Holt")]
    name: String,
    #[schema(example = "member")]
    role: &'static str,
    is_active: bool,
    /// Goes into `If-Match` as `"vN"`.
    version: i64,
}

impl MemberBody {
    fn new(member: &store::Member) -> MemberBody {
        MemberBody {
            id: member.id.0,
            name: member.name.clone(),
            role: member.role.word(),
            is_active: member.is_active,
            version: member.version,
        }
    }
}

/// The member who calls.
#[derive(Serialize, ToSchema)]
struct MeBody {
    id: i64,
    name: String,
    sign_in_name: String,
    role: &'static str,
    /// `in` or `mm`.
    #[schema(example = "in")]
    length_unit: &'static str,
    /// Lengths in inches are shown to this fraction: 16, 32 or 64.
    #[schema(example = 16)]
    inch_denominator: i64,
    /// Days on which the member can come, Monday first.
    own_days: [bool; 7],
}

impl MeBody {
    fn new(member: &store::Member) -> MeBody {
        let (length_unit, inch_denominator) = match member.lengths {
            LengthFormat::Millimetres => ("mm", InchFraction::default().denominator()),
            LengthFormat::Inches(fraction) => ("in", fraction.denominator()),
        };
        MeBody {
            id: member.id.0,
            name: member.name.clone(),
            sign_in_name: member.sign_in_name.clone(),
            role: member.role.word(),
            length_unit,
            inch_denominator,
            own_days: member.own_days,
        }
    }
}

#[derive(Serialize, ToSchema)]
struct MembersBody {
    items: Vec<MemberBody>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct MeChange {
    name: Option<String>,
    #[schema(example = "mm")]
    length_unit: Option<String>,
    #[schema(example = 32)]
    inch_denominator: Option<i64>,
    own_days: Option<[bool; 7]>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct MemberChange {
    /// `member` or `steward`.
    #[schema(example = "steward")]
    role: Option<String>,
    is_active: Option<bool>,
}

/// A token of the member who calls, without its secret.
#[derive(Serialize, ToSchema)]
struct TokenBody {
    id: i64,
    name: String,
    #[schema(example = "read")]
    scope: &'static str,
    #[schema(value_type = String, format = DateTime)]
    created_at: Timestamp,
    /// Noted to ten minutes.
    #[schema(value_type = Option<String>, format = DateTime)]
    used_at: Option<Timestamp>,
}

impl TokenBody {
    fn new(token: &ApiToken) -> TokenBody {
        TokenBody {
            id: token.id.0,
            name: token.name.clone(),
            scope: token.scope.word(),
            created_at: token.created_at,
            used_at: token.used_at,
        }
    }
}

#[derive(Serialize, ToSchema)]
struct TokensBody {
    items: Vec<TokenBody>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewToken {
    #[schema(example = "shelf printer")]
    name: String,
    /// `read`, `write` or `steward`; no more than the caller has.
    #[schema(example = "read")]
    scope: String,
}

#[derive(Serialize, ToSchema)]
struct NewTokenBody {
    id: i64,
    /// Shown this once.
    token: String,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewInvitation {
    /// Whom it is for; may be empty.
    #[serde(default)]
    name: String,
    /// `member` or `steward`.
    #[schema(example = "member")]
    role: String,
}

/// A link that works once.
#[derive(Serialize, ToSchema)]
struct LinkBody {
    /// Shown this once.
    url: String,
    #[schema(value_type = String, format = DateTime)]
    ends_at: Timestamp,
}

impl LinkBody {
    fn new(app: &App, (secret, ends_at): &(Secret, Timestamp)) -> LinkBody {
        let url = format!("{}/join/{}", app.config.public_url, secret.reveal());
        LinkBody {
            url,
            ends_at: *ends_at,
        }
    }
}

fn wrong(pointer: &str, detail: impl Into<String>) -> FieldError {
    FieldError {
        pointer: pointer.to_owned(),
        detail: detail.into(),
    }
}

fn role(word: &str) -> Result<Role, FieldError> {
    Role::from_word(word).ok_or_else(|| {
        wrong(
            "/role",
            format!("is {word:?}; must be \"member\" or \"steward\""),
        )
    })
}

/// Who the token or the session belongs to.
#[utoipa::path(get, path = "/api/v1/me", tag = "members", security(("token" = [])),
    responses((status = 200, body = MeBody)))]
async fn find_me(Member(caller): Member) -> impl IntoResponse {
    (
        Version(caller.member.version).etag(),
        Json(MeBody::new(&caller.member)),
    )
}

/// Change your name, your units or your days; what is left out stays.
#[utoipa::path(patch, path = "/api/v1/me", tag = "members", security(("token" = [])), request_body = MeChange,
    params(("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = MeBody),
        (status = 422)))]
async fn update_me(
    State(app): State<App>,
    Member(caller): Member,
    IfMatch(Version(version)): IfMatch,
    Json(change): Json<MeChange>,
) -> Result<Response, Error> {
    let mut errors = Vec::new();
    let before = MeBody::new(&caller.member);
    let name = match change.name.as_deref().map(|name| line(name, 120)) {
        None => caller.member.name.clone(),
        Some(Ok(name)) => name,
        Some(Err(error)) => {
            errors.push(wrong("/name", error));
            String::new()
        }
    };
    let denominator = change.inch_denominator.unwrap_or(before.inch_denominator);
    let fraction = InchFraction::from_denominator(denominator).unwrap_or_else(|| {
        errors.push(wrong(
            "/inch_denominator",
            format!("is {denominator}; must be 16, 32 or 64"),
        ));
        InchFraction::default()
    });
    let lengths = match change.length_unit.as_deref().unwrap_or(before.length_unit) {
        "in" => LengthFormat::Inches(fraction),
        "mm" => LengthFormat::Millimetres,
        other => {
            errors.push(wrong(
                "/length_unit",
                format!("is {other:?}; must be \"in\" or \"mm\""),
            ));
            LengthFormat::Millimetres
        }
    };
    if !errors.is_empty() {
        return Err(Error::Wrong(errors));
    }
    let own_days = change.own_days.unwrap_or(caller.member.own_days);
    let edit = MemberEdit {
        name: &name,
        lengths,
        own_days,
    };
    let mut db = app.store.begin().await?;
    if !member::update(&mut db, caller.member.id, version, &edit, app.clock.now()).await? {
        return Err(Error::Stale);
    }
    let after = member::find(&mut *db, caller.member.id)
        .await?
        .ok_or(Error::Stale)?;
    db.commit().await?;
    Ok((Version(after.version).etag(), Json(MeBody::new(&after))).into_response())
}

/// Your tokens, the newest first.
#[utoipa::path(get, path = "/api/v1/me/tokens", tag = "members", security(("token" = [])),
    responses((status = 200, body = TokensBody)))]
async fn list_tokens(
    State(app): State<App>,
    Member(caller): Member,
) -> Result<Json<TokensBody>, Error> {
    let tokens = api_token::list(app.store.read(), caller.member.id).await?;
    Ok(Json(TokensBody {
        items: tokens.iter().map(TokenBody::new).collect(),
    }))
}

/// Make a token; its secret is in this answer and nowhere else.
#[utoipa::path(post, path = "/api/v1/me/tokens", tag = "members", security(("token" = [])), request_body = NewToken,
    responses((status = 201, body = NewTokenBody),
        (status = 422)))]
async fn create_token(
    State(app): State<App>,
    Member(caller): Member,
    Json(new): Json<NewToken>,
) -> Result<Response, Error> {
    let name = line(&new.name, 120).map_err(|error| wrong("/name", error));
    let scope = Scope::from_word(&new.scope).ok_or_else(|| {
        wrong(
            "/scope",
            format!(
                "is {:?}; must be \"read\", \"write\" or \"steward\"",
                new.scope
            ),
        )
    });
    let (name, scope) = match (name, scope) {
        (Ok(name), Ok(scope)) => (name, scope),
        (name, scope) => {
            return Err(Error::Wrong(
                name.err().into_iter().chain(scope.err()).collect(),
            ));
        }
    };
    let is_too_much = !caller.has_scope(scope) || (scope == Scope::Steward && !caller.is_steward());
    if is_too_much {
        return Err(Error::Forbidden(
            "A token can do no more than who makes it.".into(),
        ));
    }
    let (id, secret) = app.make_api_token(caller.member.id, &name, scope).await?;
    let body = NewTokenBody {
        id: id.0,
        token: secret.reveal().to_owned(),
    };
    let headers = [(header::CACHE_CONTROL, "no-store")];
    Ok((StatusCode::CREATED, headers, Json(body)).into_response())
}

/// End a token of yours.
#[utoipa::path(delete, path = "/api/v1/me/tokens/{id}", tag = "members", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 204), (status = 404)))]
async fn end_token(
    State(app): State<App>,
    Member(caller): Member,
    Path(id): Path<ApiTokenId>,
) -> Result<StatusCode, Error> {
    let mut db = app.store.begin().await?;
    if !api_token::end(&mut db, id, caller.member.id, app.clock.now()).await? {
        return Err(Error::NotFound("You have no such token.".into()));
    }
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}

/// Everybody; those who left only for stewards.
#[utoipa::path(get, path = "/api/v1/members", tag = "members", security(("token" = [])),
    responses((status = 200, body = MembersBody)))]
async fn list_members(
    State(app): State<App>,
    Member(caller): Member,
) -> Result<Json<MembersBody>, Error> {
    let members = member::list(app.store.read()).await?;
    let seen = members
        .iter()
        .filter(|member| member.is_active || caller.is_steward());
    Ok(Json(MembersBody {
        items: seen.map(MemberBody::new).collect(),
    }))
}

/// Change what a member may do: one of `role` and `is_active`.
#[utoipa::path(patch, path = "/api/v1/members/{id}", tag = "members", security(("token" = [])), request_body = MemberChange,
    params(("id" = i64, Path), ("If-Match" = String, Header, description = "The version that was read, as \"vN\"")),
    responses((status = 200, body = MemberBody),
        (status = 404), (status = 409),
        (status = 422)))]
async fn update_member(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<MemberId>,
    IfMatch(Version(version)): IfMatch,
    Json(change): Json<MemberChange>,
) -> Result<Response, Error> {
    let standing = match (change.role.as_deref(), change.is_active) {
        (Some(word), None) => {
            Standing::Role(role(word).map_err(|error| Error::Wrong(vec![error]))?)
        }
        (None, Some(is_active)) => Standing::Active(is_active),
        _ => {
            return Err(Error::Wrong(vec![wrong(
                "",
                "must have one of role and is_active",
            )]));
        }
    };
    let after = app
        .set_standing(caller.member.id, id, version, standing)
        .await
        .map_err(change_error)?;
    Ok((Version(after.version).etag(), Json(MemberBody::new(&after))).into_response())
}

/// A link that was made and not used yet, without its secret.
#[derive(Serialize, ToSchema)]
struct InvitationBody {
    id: i64,
    /// `invitation`, `first steward` or `reset`.
    purpose: &'static str,
    #[schema(example = "member")]
    role: &'static str,
    /// Whom it is for; may be empty.
    name: String,
    #[schema(value_type = String, format = DateTime)]
    ends_at: Timestamp,
}

#[derive(Serialize, ToSchema)]
struct InvitationsBody {
    items: Vec<InvitationBody>,
}

/// Links that still open something.
#[utoipa::path(get, path = "/api/v1/invitations", tag = "members", security(("token" = [])),
    responses((status = 200, body = InvitationsBody)))]
async fn list_invitations(State(app): State<App>) -> Result<Json<InvitationsBody>, Error> {
    let open = invitation::list_open(app.store.read(), app.clock.now()).await?;
    let items = open.iter().map(|link| InvitationBody {
        id: link.id.0,
        purpose: link.purpose.word(),
        role: link.role.word(),
        name: link.name.clone(),
        ends_at: link.ends_at,
    });
    Ok(Json(InvitationsBody {
        items: items.collect(),
    }))
}

/// Withdraw a link: it opens nothing any more.
#[utoipa::path(delete, path = "/api/v1/invitations/{id}", tag = "members", security(("token" = [])),
    params(("id" = i64, Path, example = 1)), responses((status = 204, description = "It opens nothing any more")))]
async fn withdraw_invitation(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<InvitationId>,
) -> Result<StatusCode, Error> {
    let mut db = app.store.begin().await?;
    if !invitation::withdraw(&mut db, app.by(&caller), id).await? {
        return Err(Error::NotFound(
            "This link was used or withdrawn already.".into(),
        ));
    }
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}

/// Make a link with which somebody becomes a member.
#[utoipa::path(post, path = "/api/v1/invitations", tag = "members", security(("token" = [])), request_body = NewInvitation,
    responses((status = 201, body = LinkBody),
        (status = 422)))]
async fn create_invitation(
    State(app): State<App>,
    Steward(caller): Steward,
    Json(new): Json<NewInvitation>,
) -> Result<Response, Error> {
    let name = lines(&new.name, 120).map_err(|error| wrong("/name", error));
    let (name, role) = match (name, role(&new.role)) {
        (Ok(name), Ok(role)) => (name, role),
        (name, role) => {
            return Err(Error::Wrong(
                name.err().into_iter().chain(role.err()).collect(),
            ));
        }
    };
    let link = NewLink::Invitation {
        role,
        name: &name,
        by: caller.member.id,
    };
    let made = app.make_link(link).await?;
    Ok((StatusCode::CREATED, Json(LinkBody::new(&app, &made))).into_response())
}

/// Make a link with which a member chooses a new password.
#[utoipa::path(post, path = "/api/v1/members/{id}/reset-link", tag = "members", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 201, body = LinkBody),
        (status = 404)))]
async fn create_reset_link(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<MemberId>,
) -> Result<Response, Error> {
    if member::find(app.store.read(), id).await?.is_none() {
        return Err(Error::NotFound("There is no such member.".into()));
    }
    let made = app
        .make_link(NewLink::Reset {
            member_id: id,
            by: caller.member.id,
        })
        .await?;
    Ok((StatusCode::CREATED, Json(LinkBody::new(&app, &made))).into_response())
}
