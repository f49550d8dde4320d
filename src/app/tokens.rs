use std::fmt::Write as _;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use sha2::{Digest, Sha256};

use crate::store::TokenHash;

/// Where secrets come from.
#[derive(Clone, Debug)]
pub enum Tokens {
    /// The operating system's random source.
    Random,
    /// The same secrets in the same order every time, for tests.
    Counted(Arc<AtomicU64>),
}

/// A secret of 256 bits, as 64 hexadecimal digits. Its `Debug` shows nothing.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl Secret {
    /// The text to hand to its one holder.
    #[must_use]
    pub fn reveal(&self) -> &str {
        &self.0
    }

    /// What is stored of it.
    #[must_use]
    pub fn hash(&self) -> TokenHash {
        TokenHash::of(&self.0)
    }
}

impl std::fmt::Debug for Secret {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("Secret(..)")
    }
}

impl Tokens {
    /// A source that always starts with the same secret.
    #[must_use]
    pub fn counted() -> Tokens {
        Tokens::Counted(Arc::new(AtomicU64::new(0)))
    }

    /// A new secret.
    #[must_use]
    pub fn secret(&self) -> Secret {
        let mut bytes = [0_u8; 32];
        match self {
            Tokens::Random => {
                getrandom::fill(&mut bytes)
                    .expect("the operating system gives random bytes once it has started");
            }
            Tokens::Counted(count) => {
                let n = count.fetch_add(1, Ordering::Relaxed);
                bytes = Sha256::digest(n.to_be_bytes()).into();
            }
        }
        let mut text = String::with_capacity(64);
        for byte in bytes {
            write!(text, "{byte:02x}").expect("a String takes what is written to it");
        }
        Secret(text)
    }
}
