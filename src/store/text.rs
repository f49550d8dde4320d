//! Words that a column may hold, as types.

/// Declares an enum whose variants are stored, printed and read as fixed words.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$variant_doc:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $($(#[$variant_doc])* $variant),+
        }

        impl $name {
            pub const ALL: &'static [$name] = &[$($name::$variant),+];

            pub const fn word(self) -> &'static str {
                match self {
                    $($name::$variant => $word),+
                }
            }

            /// The variant of a word; `None` for any other text.
            pub fn from_word(text: &str) -> Option<$name> {
                match text {
                    $($word => Some($name::$variant),)+
                    _ => None,
                }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.word())
            }
        }

        impl sqlx::Type<sqlx::Sqlite> for $name {
            fn type_info() -> sqlx::sqlite::SqliteTypeInfo {
                <str as sqlx::Type<sqlx::Sqlite>>::type_info()
            }
        }

        impl sqlx::Encode<'_, sqlx::Sqlite> for $name {
            fn encode_by_ref(
                &self,
                buffer: &mut <sqlx::Sqlite as sqlx::Database>::ArgumentBuffer,
            ) -> std::result::Result<sqlx::encode::IsNull, sqlx::error::BoxDynError> {
                sqlx::Encode::<sqlx::Sqlite>::encode(self.word(), buffer)
            }
        }

        impl<'row> sqlx::Decode<'row, sqlx::Sqlite> for $name {
            fn decode(
                value: sqlx::sqlite::SqliteValueRef<'row>,
            ) -> std::result::Result<$name, sqlx::error::BoxDynError> {
                let word = <&str as sqlx::Decode<sqlx::Sqlite>>::decode(value)?;
                $name::from_word(word)
                    .ok_or_else(|| format!("is {word:?}; must be a word of {}", stringify!($name)).into())
            }
        }
    };
}

pub(crate) use words;
