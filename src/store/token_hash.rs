use sha2::{Digest, Sha256};

/// The SHA-256 of a random token of 256 bits: enough to find its row, useless to whoever reads the file.
/// (A slow hash is for passwords, which people choose; nobody can search 2^256 tokens.)
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct TokenHash([u8; 32]);

impl TokenHash {
    /// The hash of a token as its holder presents it.
    #[must_use]
    pub fn of(token: &str) -> TokenHash {
        TokenHash(Sha256::digest(token.as_bytes()).into())
    }
}

impl sqlx::Type<sqlx::Sqlite> for TokenHash {
    fn type_info() -> sqlx::sqlite::SqliteTypeInfo {
        <Vec<u8> as sqlx::Type<sqlx::Sqlite>>::type_info()
    }
}

impl sqlx::Encode<'_, sqlx::Sqlite> for TokenHash {
    fn encode_by_ref(
        &self,
        buffer: &mut sqlx::sqlite::SqliteArgumentsBuffer,
    ) -> Result<sqlx::encode::IsNull, sqlx::error::BoxDynError> {
        <Vec<u8> as sqlx::Encode<'_, sqlx::Sqlite>>::encode(self.0.to_vec(), buffer)
    }
}
