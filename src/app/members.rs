use super::App;
use crate::store::change::{self, By};
use crate::store::{self, Member, MemberId, Role, api_token, member, session};

/// Why a member was not changed.
#[derive(Debug, thiserror::Error)]
pub enum MemberChangeError {
    #[error("there is no such member")]
    Unknown,
    #[error("it was changed in the meantime")]
    Stale,
    #[error("the workshop needs at least one steward who can sign in")]
    LastSteward,
    #[error("failed to change the member")]
    Failed(#[from] store::Error),
}

/// What stewards change of a member.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    Role(Role),
    /// Whether the member can come in. One who cannot loses every session and token at once.
    Active(bool),
}

impl App {
    /// Changes what a member may do. The last steward stays one.
    ///
    /// # Errors
    /// The member is unknown, was changed since `version`, or is the last steward.
    pub async fn set_standing(
        &self,
        by: MemberId,
        id: MemberId,
        version: i64,
        standing: Standing,
    ) -> Result<Member, MemberChangeError> {
        let at = self.clock.now();
        let mut db = self.store.begin().await?;
        let before = member::find(&mut *db, id)
            .await?
            .ok_or(MemberChangeError::Unknown)?;
        let (is_written, said) = match standing {
            Standing::Role(role) => (
                member::set_role(&mut db, id, version, role).await?,
                format!("role {}", role.word()),
            ),
            Standing::Active(is_active) => (
                member::set_active(&mut db, id, version, is_active).await?,
                if is_active { "came back" } else { "left" }.to_owned(),
            ),
        };
        if !is_written {
            return Err(MemberChangeError::Stale);
        }
        let was_steward = before.role == Role::Steward && before.is_active;
        if was_steward && member::count_stewards(&mut *db).await? == 0 {
            return Err(MemberChangeError::LastSteward);
        }
        if standing == Standing::Active(false) {
            session::delete_all(&mut db, id, None).await?;
            api_token::end_all(&mut db, id, at).await?;
        }
        change::append(
            &mut db,
            By {
                member: Some(by),
                at,
            },
            "changed",
            "member",
            id,
            &said,
        )
        .await?;
        let after = member::find(&mut *db, id)
            .await?
            .ok_or(MemberChangeError::Unknown)?;
        db.commit().await?;
        Ok(after)
    }
}
