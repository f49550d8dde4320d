use std::sync::LazyLock;
use std::time::Duration;

use argon2::password_hash::phc::PasswordHash;
use argon2::{Algorithm, Argon2, Params, PasswordHasher, PasswordVerifier, Version};
use tokio::sync::Semaphore;

/// Shortest password, in characters. NIST SP 800-63B-4, 3.1.1.2, asks for at least 15 where a password is all there is and 8 beside a second
/// factor; a workshop's own service sits between, and sign-ins are rate limited.
pub const SHORTEST: usize = 12;

/// Longest password in bytes, so that hashing stays bounded work.
pub const LONGEST: usize = 256;

/// How long a sign-in waits for its turn at the hashing.
const TURN_WAIT: Duration = Duration::from_secs(5);

/// How dear a guess at a password is.
#[derive(Clone, Copy, Debug)]
pub enum PasswordCost {
    /// Argon2id with 19 MiB, two passes, one lane (OWASP Password Storage Cheat Sheet, the crate's default).
    Full,
    /// As little as the algorithm allows: for tests only.
    Least,
}

/// Hashes and verifies passwords off the async threads, few at a time, since each takes 19 MiB.
#[derive(Debug)]
pub struct Passwords {
    cost: PasswordCost,
    turns: Semaphore,
}

/// Why a password was not hashed or verified.
#[derive(Debug, thiserror::Error)]
pub enum PasswordError {
    #[error("too many sign-ins at once")]
    Busy,
    #[error("is {0} characters long; must be at least {SHORTEST}")]
    TooShort(usize),
    #[error("is longer than {LONGEST} bytes; must be shorter")]
    TooLong,
    #[error("cannot be hashed")]
    Failed(#[source] anyhow::Error),
}

/// Verified in place of the hash that an unknown name lacks, so that both answers take the same time.
static NOBODYS: LazyLock<[String; 2]> = LazyLock::new(|| {
    [PasswordCost::Full, PasswordCost::Least].map(|cost| {
        hash(cost, "nobody has this password").expect("a constant password can be hashed")
    })
});

impl Passwords {
    /// With as many hashings at once as `at_once`.
    #[must_use]
    pub fn new(cost: PasswordCost, at_once: usize) -> Passwords {
        Passwords {
            cost,
            turns: Semaphore::new(at_once),
        }
    }

    /// Hashes a password that somebody chose.
    ///
    /// # Errors
    /// It is too short or too long, or too many others are waiting.
    pub async fn hash(&self, password: &str) -> Result<String, PasswordError> {
        let n_characters = password.chars().count();
        if n_characters < SHORTEST {
            return Err(PasswordError::TooShort(n_characters));
        }
        if password.len() > LONGEST {
            return Err(PasswordError::TooLong);
        }
        let cost = self.cost;
        let password = password.to_owned();
        self.in_turn(move || hash(cost, &password)).await?
    }

    /// Whether the password belongs to the stored hash. Without a hash it takes as long, and is false.
    ///
    /// # Errors
    /// Too many others are waiting.
    pub async fn verify(
        &self,
        password: &str,
        stored: Option<String>,
    ) -> Result<bool, PasswordError> {
        let cost = self.cost;
        // A longer one was never set.
        let is_possible = password.len() <= LONGEST;
        let password = if is_possible {
            password.to_owned()
        } else {
            String::new()
        };
        self.in_turn(move || {
            let is_known = stored.is_some();
            let stored = stored.unwrap_or_else(|| NOBODYS[cost as usize].clone());
            let parsed = PasswordHash::new(&stored).map_err(failed)?;
            let is_right = Argon2::default()
                .verify_password(password.as_bytes(), &parsed)
                .is_ok();
            Ok(is_right && is_known && is_possible)
        })
        .await?
    }

    async fn in_turn<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, PasswordError> {
        let turn = tokio::time::timeout(TURN_WAIT, self.turns.acquire())
            .await
            .map_err(|_| PasswordError::Busy)?
            .map_err(|_| PasswordError::Busy)?;
        let done = tokio::task::spawn_blocking(work).await;
        drop(turn);
        done.map_err(failed)
    }
}

fn hash(cost: PasswordCost, password: &str) -> Result<String, PasswordError> {
    let params = match cost {
        PasswordCost::Full => Params::default(),
        PasswordCost::Least => Params::new(
            Params::MIN_M_COST,
            Params::MIN_T_COST,
            Params::MIN_P_COST,
            None,
        )
        .map_err(failed)?,
    };
    let argon2 = Argon2::new(Algorithm::Argon2id, Version::V0x13, params);
    let hashed = argon2.hash_password(password.as_bytes()).map_err(failed)?;
    Ok(hashed.to_string())
}

fn failed(error: impl std::error::Error + Send + Sync + 'static) -> PasswordError {
    PasswordError::Failed(error.into())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Algorithm, version and costs of a hash.
    fn dearness(hash: &str) -> &str {
        let salt = hash.match_indices('$').nth(3).map(|(at, _)| at);
        &hash[..salt.expect("a hash has a salt after its costs")]
    }

    #[test]
    fn nobodys_hash_is_as_dear_as_one_that_somebody_has() {
        for (cost, nobodys) in [PasswordCost::Full, PasswordCost::Least]
            .into_iter()
            .zip(&*NOBODYS)
        {
            let somebodys = hash(cost, "plane with the grain").expect("it can be hashed");
            assert_eq!(dearness(nobodys), dearness(&somebodys));
        }
        // OWASP Password Storage Cheat Sheet: Argon2id with at least 19 MiB, two passes, one lane.
        assert_eq!(dearness(&NOBODYS[0]), "$argon2id$v=19$m=19456,t=2,p=1");
    }

    #[tokio::test]
    async fn nobody_has_the_password_of_nobodys_hash() {
        let passwords = Passwords::new(PasswordCost::Least, 1);
        let verified = passwords.verify("nobody has this password", None).await;
        assert!(matches!(verified, Ok(false)));
    }
}
