use jiff::{SignedDuration, Timestamp};

use super::passwords::PasswordError;
use super::{App, Secret};
use crate::store::api_token::Scope;
use crate::store::change::{self, By};
use crate::store::invitation::{Invitation, NewInvitation, Purpose};
use crate::store::member::NewMember;
use crate::store::{
    self, ApiTokenId, MemberId, Role, TokenHash, api_token, invitation, member, session,
};

/// How long a one-time link can be used.
fn lifetime(purpose: Purpose) -> SignedDuration {
    match purpose {
        Purpose::FirstSteward => SignedDuration::from_hours(24),
        Purpose::Invitation => SignedDuration::from_hours(7 * 24),
        Purpose::Reset => SignedDuration::from_hours(2),
    }
}

/// A one-time link to be made.
#[derive(Clone, Copy, Debug)]
pub enum NewLink<'a> {
    Invitation {
        role: Role,
        name: &'a str,
        by: MemberId,
    },
    Reset {
        member_id: MemberId,
        by: MemberId,
    },
}

/// Why a one-time link opens nothing.
#[derive(Debug, thiserror::Error)]
pub enum LinkError {
    #[error("the link is unknown, was used, or has ended")]
    Ended,
    #[error("failed to look up the link")]
    Failed(#[from] store::Error),
}

/// Why a link was not turned into a member or a new password.
#[derive(Debug, thiserror::Error)]
pub enum JoinError {
    #[error(transparent)]
    Link(#[from] LinkError),
    #[error("is taken; choose another")]
    NameTaken,
    #[error(transparent)]
    Password(#[from] PasswordError),
}

impl From<store::Error> for JoinError {
    fn from(error: store::Error) -> Self {
        JoinError::Link(LinkError::Failed(error))
    }
}

impl App {
    /// Makes a one-time link; the secret is shown once and only its hash is kept. An older reset link of the same member ends.
    ///
    /// # Errors
    /// The database failed.
    pub async fn make_link(&self, link: NewLink<'_>) -> store::Result<(Secret, Timestamp)> {
        let (purpose, role, name, member_id, by) = match link {
            NewLink::Invitation { role, name, by } => (Purpose::Invitation, role, name, None, by),
            NewLink::Reset { member_id, by } => {
                (Purpose::Reset, Role::Member, "", Some(member_id), by)
            }
        };
        let now = self.clock.now();
        let ends_at = now + lifetime(purpose);
        let secret = self.tokens.secret();
        let mut db = self.store.begin().await?;
        if member_id.is_some() {
            invitation::withdraw_all(&mut db, purpose, member_id).await?;
        }
        let new = NewInvitation {
            token: secret.hash(),
            purpose,
            role,
            name,
            member_id,
            created_by: Some(by),
            ends_at,
        };
        let id = invitation::insert(&mut db, &new, now).await?;
        let by = By::member(by, now);
        let detail = match member_id {
            None => format!("for a {}", role.word()),
            Some(member) => format!("a new password for member {member}"),
        };
        change::append(&mut db, by, "created", "invitation", id, &detail).await?;
        db.commit().await?;
        Ok((secret, ends_at))
    }

    /// The one-time link that makes the first steward; none once there is a steward. An older one ends.
    ///
    /// # Errors
    /// The database failed.
    pub async fn first_steward_link(&self) -> store::Result<Option<Secret>> {
        let now = self.clock.now();
        let mut db = self.store.begin().await?;
        if member::count_stewards(&mut *db).await? > 0 {
            return Ok(None);
        }
        invitation::withdraw_all(&mut db, Purpose::FirstSteward, None).await?;
        let secret = self.tokens.secret();
        let new = NewInvitation {
            token: secret.hash(),
            purpose: Purpose::FirstSteward,
            role: Role::Steward,
            name: "",
            member_id: None,
            created_by: None,
            ends_at: now + lifetime(Purpose::FirstSteward),
        };
        invitation::insert(&mut db, &new, now).await?;
        db.commit().await?;
        Ok(Some(secret))
    }

    /// What a one-time link is good for.
    ///
    /// # Errors
    /// It is unknown, was used, or has ended.
    pub async fn open_link(&self, token: &str) -> Result<Invitation, LinkError> {
        let now = self.clock.now();
        invitation::find(self.store.read(), TokenHash::of(token))
            .await?
            .filter(|link| link.used_at.is_none() && link.ends_at > now)
            .ok_or(LinkError::Ended)
    }

    /// Makes a token for a member's scripts; the secret is shown once and only its hash is kept.
    ///
    /// # Errors
    /// The database failed.
    pub async fn make_api_token(
        &self,
        member_id: MemberId,
        name: &str,
        scope: Scope,
    ) -> store::Result<(ApiTokenId, Secret)> {
        let secret = self.tokens.secret();
        let mut db = self.store.begin().await?;
        let now = self.clock.now();
        let id = api_token::insert(&mut db, secret.hash(), member_id, name, scope, now).await?;
        db.commit().await?;
        Ok((id, secret))
    }

    /// Uses an invitation: makes the member and begins their first session.
    ///
    /// # Errors
    /// The link has ended, the sign-in name is taken, or the password will not do.
    pub async fn join(
        &self,
        token: &str,
        name: &str,
        sign_in_name: &str,
        password: &str,
    ) -> Result<(MemberId, Secret), JoinError> {
        let link = self.open_link(token).await?;
        if link.purpose == Purpose::Reset {
            return Err(LinkError::Ended.into());
        }
        let password_hash = &self.passwords.hash(password).await?;
        let now = self.clock.now();
        let mut db = self.store.begin().await?;
        let new = NewMember {
            name,
            sign_in_name,
            password_hash,
            role: link.role,
        };
        let member_id = match member::insert(&mut db, &new, now).await {
            Err(error) if is_unique_violation(&error) => return Err(JoinError::NameTaken),
            inserted => inserted?,
        };
        if !invitation::take(&mut db, link.id, member_id, now).await? {
            return Err(LinkError::Ended.into());
        }
        let by = By::member(member_id, now);
        let detail = format!("{name}, {}", link.role.word());
        change::append(&mut db, by, "joined", "member", member_id, &detail).await?;
        db.commit().await?;
        Ok((member_id, self.begin_session(member_id, None).await?))
    }

    /// Uses a reset link: sets the password, ends every session and token of the member, and begins a fresh session.
    ///
    /// # Errors
    /// The link has ended, or the password will not do.
    pub async fn reset_password(&self, token: &str, password: &str) -> Result<Secret, JoinError> {
        let link = self.open_link(token).await?;
        let (Purpose::Reset, Some(member_id)) = (link.purpose, link.member_id) else {
            return Err(LinkError::Ended.into());
        };
        let hash = self.passwords.hash(password).await?;
        let now = self.clock.now();
        let mut db = self.store.begin().await?;
        if !invitation::take(&mut db, link.id, member_id, now).await? {
            return Err(LinkError::Ended.into());
        }
        member::set_password(&mut db, member_id, &hash).await?;
        session::delete_all(&mut db, member_id, None).await?;
        api_token::end_all(&mut db, member_id, now).await?;
        let by = By::member(member_id, now);
        let detail = "by a one-time link; every session and token ended";
        change::append(&mut db, by, "changed", "password", member_id, detail).await?;
        db.commit().await?;
        Ok(self.begin_session(member_id, None).await?)
    }
}

fn is_unique_violation(error: &store::Error) -> bool {
    error
        .as_database_error()
        .is_some_and(|error| error.is_unique_violation())
}
