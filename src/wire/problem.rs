//! Problem documents (RFC 9457) that name wrong fields by JSON Pointer (RFC 6901).

use serde::{Serialize, Serializer};
use utoipa::ToSchema;

/// What went wrong with a request, as `application/problem+json`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct Problem {
    /// The last segment of `type`, such as `wrong-content` or `no-schedule`.
    #[serde(rename = "type", serialize_with = "as_address")]
    #[schema(value_type = String, example = "/problems/wrong-content")]
    pub kind: &'static str,
    /// The HTTP status that goes with it.
    pub status: u16,
    /// The same short sentence for every problem of this type.
    pub title: String,
    /// What is wrong this time and what would be right.
    pub detail: String,
    /// The fields that are wrong, all at once.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<FieldError>,
}

/// One wrong field.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct FieldError {
    /// JSON Pointer to the field; empty for the whole body.
    #[schema(example = "/strips/0/length")]
    pub pointer: String,
    /// "is X; must be Y", to be read after the name of the field.
    pub detail: String,
}

impl Problem {
    /// A body that could be read but says something wrong: status 422.
    ///
    /// `detail` names the first field, so that a reader who sees nothing else can go on.
    pub fn wrong_content(errors: Vec<FieldError>) -> Problem {
        let detail = match errors.split_first() {
            None => "The body is not what this address expects.".to_owned(),
            Some((first, [])) => first.sentence(),
            Some((first, rest)) => format!("{} ({} more below.)", first.sentence(), rest.len()),
        };
        Problem {
            kind: "wrong-content",
            status: 422,
            title: "The request says something that cannot be right".to_owned(),
            detail,
            errors,
        }
    }
}

impl FieldError {
    fn sentence(&self) -> String {
        if self.pointer.is_empty() {
            format!("The body {}.", self.detail)
        } else {
            format!("{} {}.", self.pointer, self.detail)
        }
    }
}

/// The title, the detail, and each wrong field on a line of its own: the command line's face.
impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.title)?;
        if self.errors.is_empty() {
            write!(f, "\n{}", self.detail)?;
        }
        for error in &self.errors {
            write!(f, "\n{}", error.sentence())?;
        }
        Ok(())
    }
}

impl std::error::Error for Problem {}

fn as_address<S: Serializer>(kind: &&'static str, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(&format_args!("/problems/{kind}"))
}
