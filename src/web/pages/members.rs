//! Who belongs to the workshop; stewards invite, and help those who forgot their password.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use jiff::Timestamp;

use crate::app::{App, MemberChangeError, NewLink, Secret, Standing};
use crate::store::invitation::{self, Invitation, Purpose};
use crate::store::{self, InvitationId, MemberId, Role, member};
use crate::web::{
    Error, Flash, Member, Path, Routes, Section, Shell, Steward, Typed, Who, lines, page,
    page_again, see_other,
};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/members", Who::Member, list)
        .post("/members/invitations", Who::Steward, invite)
        .post("/members/invitations/{id}/withdraw", Who::Steward, withdraw)
        .post("/members/{id}/reset-link", Who::Steward, reset_link)
        .post("/members/{id}/role", Who::Steward, change_role)
        .post("/members/{id}/leave", Who::Steward, leave)
        .post("/members/{id}/return", Who::Steward, come_back)
}

const ROLES: [(&str, &str); 2] = [("member", "member"), ("steward", "steward")];

#[derive(Template)]
#[template(path = "members.html")]
struct MembersPage {
    shell: Shell,
    invitation: Typed,
    roles: [(&'static str, &'static str); 2],
    members: Vec<MemberLine>,
    invitations: Vec<InvitationLine>,
}

struct MemberLine {
    id: MemberId,
    version: i64,
    name: String,
    sign_in_name: String,
    role: &'static str,
    other_role: &'static str,
    is_active: bool,
    is_me: bool,
    since: String,
}

struct InvitationLine {
    id: InvitationId,
    what: String,
    ends: String,
}

#[derive(Template)]
#[template(path = "link_made.html")]
struct LinkMadePage {
    shell: Shell,
    title: &'static str,
    says: String,
    address: String,
    ends: String,
}

impl MembersPage {
    async fn new(app: &App, shell: Shell, me: MemberId) -> Result<MembersPage, Error> {
        let members = member::list(app.store.read()).await?;
        let invitations = if shell.is_steward() {
            invitation::list_open(app.store.read(), app.clock.now()).await?
        } else {
            Vec::new()
        };
        Ok(MembersPage {
            invitation: Typed::filled([("role", Role::Member.word().to_owned())]),
            roles: ROLES,
            members: members
                .into_iter()
                .filter(|member| member.is_active || shell.is_steward())
                .map(|member| MemberLine::new(member, me))
                .collect(),
            invitations: invitations.iter().map(InvitationLine::new).collect(),
            shell: shell.at(Section::Members),
        })
    }
}

impl MemberLine {
    fn new(member: store::Member, me: MemberId) -> MemberLine {
        let other_role = match member.role {
            Role::Member => Role::Steward,
            Role::Steward => Role::Member,
        };
        MemberLine {
            id: member.id,
            version: member.version,
            name: member.name,
            sign_in_name: member.sign_in_name,
            role: member.role.word(),
            other_role: other_role.word(),
            is_active: member.is_active,
            is_me: member.id == me,
            since: member.created_at.strftime("%B %Y").to_string(),
        }
    }
}

impl InvitationLine {
    fn new(link: &Invitation) -> InvitationLine {
        let what = match link.purpose {
            Purpose::FirstSteward => "First steward".to_owned(),
            Purpose::Invitation if link.name.is_empty() => {
                format!("Invitation of a {}", link.role.word())
            }
            Purpose::Invitation => format!("Invitation of {} as a {}", link.name, link.role.word()),
            Purpose::Reset => "New password".to_owned(),
        };
        InvitationLine {
            id: link.id,
            what,
            ends: moment(link.ends_at),
        }
    }
}

fn moment(at: Timestamp) -> String {
    at.strftime("%-d %B %Y, %H:%M UTC").to_string()
}

fn link_page(
    app: &App,
    shell: Shell,
    title: &'static str,
    says: String,
    (secret, ends_at): &(Secret, Timestamp),
) -> Result<Response, Error> {
    page(&LinkMadePage {
        shell: shell.at(Section::Members),
        title,
        says,
        address: format!("{}/join/{}", app.config.public_url, secret.reveal()),
        ends: moment(*ends_at),
    })
}

async fn list(
    State(app): State<App>,
    shell: Shell,
    Member(caller): Member,
) -> Result<Response, Error> {
    page(&MembersPage::new(&app, shell, caller.member.id).await?)
}

async fn invite(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    mut typed: Typed,
) -> Result<Response, Error> {
    let name = typed.take("name", |text| lines(text, 120));
    let role = typed.take("role", |word| {
        Role::from_word(word).ok_or("must be member or steward")
    });
    let (Some(name), Some(role)) = (name, role) else {
        let form = MembersPage::new(&app, shell, caller.member.id).await?;
        return page_again(&MembersPage {
            invitation: typed,
            ..form
        });
    };
    let link = NewLink::Invitation {
        role,
        name: &name,
        by: caller.member.id,
    };
    let made = app.make_link(link).await?;
    let whom = if name.is_empty() {
        "the new member"
    } else {
        &name
    };
    let says = format!(
        "Give this link to {whom}. Whoever opens it first becomes a {}.",
        role.word()
    );
    link_page(&app, shell, "Invitation", says, &made)
}

async fn withdraw(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<InvitationId>,
) -> Result<Response, Error> {
    let mut db = app.store.begin().await?;
    if !invitation::withdraw(&mut db, app.by(&caller), id).await? {
        return Err(Error::NotFound(
            "This link was used or withdrawn already.".into(),
        ));
    }
    db.commit().await?;
    Ok(see_other("/members")
        .saying(Flash::done("The link opens nothing any more."))
        .response(&app))
}

async fn reset_link(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    Path(id): Path<MemberId>,
) -> Result<Response, Error> {
    let member = member::find(app.store.read(), id)
        .await?
        .ok_or_else(unknown)?;
    let made = app
        .make_link(NewLink::Reset {
            member_id: id,
            by: caller.member.id,
        })
        .await?;
    let says = format!(
        "Give this link to {}, and to nobody else: it lets them choose a new password and signs them out everywhere.",
        member.name
    );
    link_page(&app, shell, "New password", says, &made)
}

async fn change_role(
    State(app): State<App>,
    steward: Steward,
    Path(id): Path<MemberId>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let role = typed.take("role", |word| {
        Role::from_word(word).ok_or("must be member or steward")
    });
    let role =
        role.ok_or_else(|| Error::Malformed("The role must be member or steward.".into()))?;
    stand(&app, &steward, id, &typed, Standing::Role(role), |name| {
        format!("{name} is a {} now.", role.word())
    })
    .await
}

async fn leave(
    State(app): State<App>,
    steward: Steward,
    Path(id): Path<MemberId>,
    typed: Typed,
) -> Result<Response, Error> {
    stand(
        &app,
        &steward,
        id,
        &typed,
        Standing::Active(false),
        |name| format!("{name} has left and is signed out everywhere."),
    )
    .await
}

async fn come_back(
    State(app): State<App>,
    steward: Steward,
    Path(id): Path<MemberId>,
    typed: Typed,
) -> Result<Response, Error> {
    stand(&app, &steward, id, &typed, Standing::Active(true), |name| {
        format!("{name} is back.")
    })
    .await
}

async fn stand(
    app: &App,
    Steward(caller): &Steward,
    id: MemberId,
    typed: &Typed,
    standing: Standing,
    says: impl FnOnce(&str) -> String,
) -> Result<Response, Error> {
    let version = typed
        .text("version")
        .parse()
        .map_err(|_| Error::Malformed("The form has no version.".into()))?;
    let changed = app
        .set_standing(caller.member.id, id, version, standing)
        .await
        .map_err(change_error)?;
    Ok(see_other("/members")
        .saying(Flash::done(says(&changed.name)))
        .response(app))
}

/// A member who was not changed, as an error of either face.
pub(in crate::web) fn change_error(error: MemberChangeError) -> Error {
    match error {
        MemberChangeError::Unknown => unknown(),
        MemberChangeError::Stale => Error::Stale,
        MemberChangeError::LastSteward => Error::Conflict(
            "The workshop needs at least one steward who can sign in. Make somebody else a steward first.".into(),
        ),
        MemberChangeError::Failed(error) => error.into(),
    }
}

fn unknown() -> Error {
    Error::NotFound("There is no such member.".into())
}
