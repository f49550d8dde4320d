use std::net::IpAddr;
use std::num::NonZeroU32;
use std::time::Duration;

use governor::clock::{Clock as _, DefaultClock};
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};
use jiff::{SignedDuration, Timestamp};

use super::passwords::PasswordError;
use super::{App, Secret};
use crate::store::api_token::Scope;
use crate::store::change::{self, By};
use crate::store::{
    self, ApiTokenId, Member, MemberId, Role, TokenHash, api_token, member, session,
};

/// A session ends after this long without use.
const IDLE: SignedDuration = SignedDuration::from_hours(14 * 24);

/// A session ends after this long in any case.
const ABSOLUTE: SignedDuration = SignedDuration::from_hours(90 * 24);

/// Last use is noted no more often than this, so that reading pages seldom writes.
const TOUCH: SignedDuration = SignedDuration::from_mins(10);

/// Beyond this many keys, those that are full again are dropped.
const MANY_KEYS: usize = 4096;

/// Longest name under which somebody may sign in, in characters.
pub const LONGEST_NAME: usize = 120;

/// How a caller proved who they are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SignedInBy {
    Session(TokenHash),
    ApiToken { id: ApiTokenId, scope: Scope },
}

/// A member who is calling.
#[derive(Clone, Debug)]
pub struct Caller {
    pub member: Member,
    pub by: SignedInBy,
}

impl Caller {
    /// Whether the caller may do what only stewards may.
    #[must_use]
    pub fn is_steward(&self) -> bool {
        self.member.role == Role::Steward && self.has_scope(Scope::Steward)
    }

    /// A browser has every scope, a token its own and those below.
    #[must_use]
    pub fn has_scope(&self, scope: Scope) -> bool {
        match &self.by {
            SignedInBy::Session(_) => true,
            SignedInBy::ApiToken { scope: given, .. } => *given >= scope,
        }
    }
}

/// How many sign-ins may be tried from one address and under one name.
#[derive(Debug)]
pub struct SignInLimits {
    by_address: DefaultKeyedRateLimiter<IpAddr>,
    by_name: DefaultKeyedRateLimiter<String>,
    clock: DefaultClock,
}

impl Default for SignInLimits {
    fn default() -> Self {
        let quota = |burst, refill| {
            Quota::with_period(refill)
                .expect("the period is not zero")
                .allow_burst(NonZeroU32::new(burst).expect("the burst is not zero"))
        };
        SignInLimits {
            by_address: RateLimiter::keyed(quota(30, Duration::from_secs(6))),
            by_name: RateLimiter::keyed(quota(10, Duration::from_secs(30))),
            clock: DefaultClock::default(),
        }
    }
}

impl SignInLimits {
    /// Counts a try; an error says how long to wait before the next.
    fn count(&self, address: IpAddr, name: &str) -> Result<(), Duration> {
        self.count_address(address)?;
        if self.by_name.len() > MANY_KEYS {
            self.by_name.retain_recent();
        }
        self.by_name
            .check_key(&name.to_lowercase())
            .map_err(|until| until.wait_time_from(self.clock.now()))
    }

    /// Counts a try with a secret from an address; an error says how long to wait before the next.
    ///
    /// # Errors
    /// How long to wait.
    pub fn count_address(&self, address: IpAddr) -> Result<(), Duration> {
        if self.by_address.len() > MANY_KEYS {
            self.by_address.retain_recent();
        }
        self.by_address
            .check_key(&network(address))
            .map_err(|until| until.wait_time_from(self.clock.now()))
    }
}

/// One IPv6 subscriber has a whole /64, so that is what is counted.
#[must_use]
pub fn network(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(v6) => {
            let [a, b, c, d, ..] = v6.segments();
            std::net::Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0).into()
        }
        v4 => v4,
    }
}

/// Why somebody was not signed in. A wrong name and a wrong password look the same.
#[derive(Debug, thiserror::Error)]
pub enum SignInError {
    #[error("name and password do not belong together")]
    Wrong,
    #[error("too many tries")]
    TooMany(Duration),
    #[error("too many sign-ins at once")]
    Busy,
    #[error("failed to sign in")]
    Failed(#[from] anyhow::Error),
}

/// Why a password was not changed.
#[derive(Debug, thiserror::Error)]
pub enum PasswordChangeError {
    #[error("is not the present password")]
    WrongPresent,
    #[error("too many tries")]
    TooMany(Duration),
    #[error(transparent)]
    Password(#[from] PasswordError),
    #[error("failed to change the password")]
    Failed(#[from] store::Error),
}

impl App {
    /// Who acts and when, for a change that this caller makes now.
    #[must_use]
    pub fn by(&self, caller: &Caller) -> store::By {
        store::By {
            member: Some(caller.member.id),
            at: self.clock.now(),
        }
    }

    /// Signs a member in and begins a session with a fresh token; `before` is the browser's former session, which ends.
    ///
    /// # Errors
    /// Name and password do not belong together, or too many were tried.
    pub async fn sign_in(
        &self,
        address: IpAddr,
        sign_in_name: &str,
        password: &str,
        before: Option<TokenHash>,
    ) -> Result<Secret, SignInError> {
        let sign_in_name = sign_in_name.trim();
        let counted = sign_in_name.chars().take(LONGEST_NAME).collect::<String>();
        self.limits
            .count(address, &counted)
            .map_err(SignInError::TooMany)?;
        let stored = member::password_hash(self.store.read(), sign_in_name)
            .await
            .map_err(anyhow::Error::from)?;
        let (member_id, hash) = stored.unzip();
        let is_right =
            self.passwords
                .verify(password, hash)
                .await
                .map_err(|error| match error {
                    PasswordError::Busy => SignInError::Busy,
                    other => SignInError::Failed(other.into()),
                })?;
        match member_id {
            Some(member_id) if is_right => Ok(self
                .begin_session(member_id, before)
                .await
                .map_err(anyhow::Error::from)?),
            _ => Err(SignInError::Wrong),
        }
    }

    /// Begins a session of a member who has proved who they are.
    pub(super) async fn begin_session(
        &self,
        member_id: MemberId,
        before: Option<TokenHash>,
    ) -> store::Result<Secret> {
        let now = self.clock.now();
        let secret = self.tokens.secret();
        let mut db = self.store.begin().await?;
        if let Some(before) = before {
            session::delete(&mut db, before).await?;
        }
        session::insert(&mut db, secret.hash(), member_id, now, now + ABSOLUTE).await?;
        db.commit().await?;
        Ok(secret)
    }

    /// The member whose browser shows this session token, if the session has not ended.
    ///
    /// # Errors
    /// The database failed.
    pub async fn caller_by_session(&self, token: &str) -> store::Result<Option<Caller>> {
        let now = self.clock.now();
        let hash = TokenHash::of(token);
        let Some(found) = session::find(self.store.read(), hash).await? else {
            return Ok(None);
        };
        if found.ends_at <= now || found.seen_at + IDLE <= now {
            return Ok(None);
        }
        let Some(member) = member::find(self.store.read(), found.member_id).await? else {
            return Ok(None);
        };
        if !member.is_active {
            return Ok(None);
        }
        if is_due(Some(found.seen_at), now)
            && let Ok(mut db) = self.store.begin().await
        {
            session::touch(&mut db, hash, now).await?;
            db.commit().await?;
        }
        Ok(Some(Caller {
            member,
            by: SignedInBy::Session(hash),
        }))
    }

    /// The member whose script shows this API token.
    ///
    /// # Errors
    /// The database failed.
    pub async fn caller_by_api_token(&self, token: &str) -> store::Result<Option<Caller>> {
        let now = self.clock.now();
        let Some(found) = api_token::find(self.store.read(), TokenHash::of(token)).await? else {
            return Ok(None);
        };
        let Some(member) = member::find(self.store.read(), found.member_id).await? else {
            return Ok(None);
        };
        if !member.is_active {
            return Ok(None);
        }
        if is_due(found.used_at, now)
            && let Ok(mut db) = self.store.begin().await
        {
            api_token::touch(&mut db, found.id, now).await?;
            db.commit().await?;
        }
        Ok(Some(Caller {
            member,
            by: SignedInBy::ApiToken {
                id: found.id,
                scope: found.scope,
            },
        }))
    }

    /// Ends one session.
    ///
    /// # Errors
    /// The database failed.
    pub async fn sign_out(&self, session: TokenHash) -> store::Result<()> {
        let mut db = self.store.begin().await?;
        session::delete(&mut db, session).await?;
        db.commit().await
    }

    /// Ends every session of a member.
    ///
    /// # Errors
    /// The database failed.
    pub async fn sign_out_everywhere(&self, member_id: MemberId) -> store::Result<()> {
        let mut db = self.store.begin().await?;
        session::delete_all(&mut db, member_id, None).await?;
        let by = By::member(member_id, self.clock.now());
        change::append(&mut db, by, "ended", "sessions", member_id, "").await?;
        db.commit().await
    }

    /// Gives the member a new password and ends all their sessions but for a fresh one, whose token is returned.
    ///
    /// # Errors
    /// The present password is wrong, the new one is too short or too long, or too many were tried.
    pub async fn change_password(
        &self,
        address: IpAddr,
        member: &Member,
        present: &str,
        new: &str,
    ) -> Result<Secret, PasswordChangeError> {
        self.limits
            .count(address, &member.sign_in_name)
            .map_err(PasswordChangeError::TooMany)?;
        let stored = member::password_hash(self.store.read(), &member.sign_in_name).await?;
        if !self
            .passwords
            .verify(present, stored.map(|(_, hash)| hash))
            .await?
        {
            return Err(PasswordChangeError::WrongPresent);
        }
        let hash = self.passwords.hash(new).await?;
        let now = self.clock.now();
        let secret = self.tokens.secret();
        let mut db = self.store.begin().await?;
        member::set_password(&mut db, member.id, &hash).await?;
        session::delete_all(&mut db, member.id, None).await?;
        session::insert(&mut db, secret.hash(), member.id, now, now + ABSOLUTE).await?;
        let by = By::member(member.id, now);
        let detail = "every other session ended";
        change::append(&mut db, by, "changed", "password", member.id, detail).await?;
        db.commit().await?;
        Ok(secret)
    }

    /// Removes what has ended: sessions and kept answers.
    ///
    /// # Errors
    /// The database failed.
    pub async fn sweep(&self) -> store::Result<()> {
        let now = self.clock.now();
        let mut db = self.store.begin().await?;
        session::delete_ended(&mut db, now, now - IDLE).await?;
        store::idempotency::delete_old(&mut db, now - SignedDuration::from_hours(48)).await?;
        db.commit().await
    }
}

fn is_due(last: Option<Timestamp>, now: Timestamp) -> bool {
    last.is_none_or(|last| last + TOUCH <= now)
}
