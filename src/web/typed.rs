use std::fmt::Display;

use axum::extract::{FromRequest, Request};
use axum::http::StatusCode;

use super::Error;
use crate::app::App;
use crate::wire::FieldError;

/// A form as it was typed, and what is wrong with it.
///
/// It goes back into the page when something failed, so that nothing typed is lost. An error is a predicate that follows the
/// field's label: `is "7 furlongs"; must be a length like 17 1/2 in or 445 mm`.
#[derive(Clone, Debug, Default)]
pub struct Typed {
    values: Vec<(String, String)>,
    errors: Vec<(String, String)>,
}

/// The most fields a form may have.
const MOST_FIELDS: usize = 5_000;

impl Typed {
    /// A form as it is first shown.
    #[must_use]
    pub fn filled<'a>(values: impl IntoIterator<Item = (&'a str, String)>) -> Typed {
        Typed {
            values: values
                .into_iter()
                .map(|(name, value)| (name.to_owned(), value))
                .collect(),
            errors: Vec::new(),
        }
    }

    /// What stands in a field, without the spaces around it; empty if the field is missing.
    #[must_use]
    pub fn text(&self, name: &str) -> &str {
        self.all(name).next().unwrap_or_default()
    }

    /// Every value of a field that can have several.
    pub fn all(&self, name: &str) -> impl Iterator<Item = &str> {
        self.values
            .iter()
            .filter(move |(key, _)| key == name)
            .map(|(_, value)| value.trim())
    }

    /// Exactly what was typed, as a password wants it.
    #[must_use]
    pub fn exact(&self, name: &str) -> &str {
        self.values
            .iter()
            .find(|(key, _)| key == name)
            .map_or("", |(_, value)| value)
    }

    /// Whether a box is ticked.
    #[must_use]
    pub fn is_ticked(&self, name: &str) -> bool {
        self.values.iter().any(|(key, _)| key == name)
    }

    /// Whether this value is among those of the field.
    #[must_use]
    pub fn has(&self, name: &str, value: &str) -> bool {
        self.all(name).any(|typed| typed == value)
    }

    /// Every name and value, in the order of the form.
    pub fn pairs(&self) -> impl Iterator<Item = (&str, &str)> {
        self.values
            .iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
    }

    /// Parses a field; on failure the error is kept beside it.
    pub fn take<T, E: Display>(
        &mut self,
        name: &str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        match parse(self.text(name)) {
            Ok(value) => Some(value),
            Err(error) => {
                self.refuse(name, error.to_string());
                None
            }
        }
    }

    /// Parses a field that may be empty, which gives `Some(None)`.
    pub fn take_if_any<T, E: Display>(
        &mut self,
        name: &str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<Option<T>> {
        if self.text(name).is_empty() {
            Some(None)
        } else {
            self.take(name, parse).map(Some)
        }
    }

    /// Puts an error beside a field.
    pub fn refuse(&mut self, name: impl Into<String>, error: impl Into<String>) {
        self.errors.push((name.into(), error.into()));
    }

    /// Puts other values into a field, as if they had been typed.
    pub fn put(&mut self, name: &str, values: impl IntoIterator<Item = String>) {
        self.values.retain(|(key, _)| key != name);
        let values = values.into_iter().map(|value| (name.to_owned(), value));
        self.values.extend(values);
    }

    /// The first error of a field.
    #[must_use]
    pub fn error(&self, name: &str) -> Option<&str> {
        self.errors
            .iter()
            .find(|(key, _)| key == name)
            .map(|(_, error)| error.as_str())
    }

    /// Whether nothing was refused.
    #[must_use]
    pub fn is_fine(&self) -> bool {
        self.errors.is_empty()
    }

    /// Everything that was refused, for an answer that is no page.
    #[must_use]
    pub fn flaws(&self) -> Vec<FieldError> {
        let flaws = self.errors.iter().map(|(name, detail)| FieldError {
            pointer: format!("/{name}"),
            detail: detail.clone(),
        });
        flaws.collect()
    }

    /// How many errors there are.
    #[must_use]
    pub fn n_errors(&self) -> usize {
        self.errors.len()
    }

    /// The field with the first error, to lead there.
    #[must_use]
    pub fn first_wrong(&self) -> &str {
        self.errors.first().map_or("", |(name, _)| name)
    }
}

impl FromRequest<App> for Typed {
    type Rejection = Error;

    #[expect(
        clippy::disallowed_types,
        reason = "this is the wrapper that everybody else uses"
    )]
    async fn from_request(request: Request, app: &App) -> Result<Self, Error> {
        let form = axum::extract::Form::<Vec<(String, String)>>::from_request(request, app).await;
        let axum::extract::Form(values) = form.map_err(|rejection| {
            match axum::response::IntoResponse::into_response(rejection).status() {
                StatusCode::PAYLOAD_TOO_LARGE => Error::TooLarge,
                StatusCode::UNSUPPORTED_MEDIA_TYPE => {
                    Error::WrongMediaType("application/x-www-form-urlencoded")
                }
                _ => Error::Malformed("The form cannot be read.".into()),
            }
        })?;
        if values.len() > MOST_FIELDS {
            return Err(Error::TooLarge);
        }
        // Browsers send line ends as CR LF; NUL has no business in a text.
        let values = values
            .into_iter()
            .map(|(name, value)| (name, value.replace("\r\n", "\n").replace('\0', "")))
            .collect();
        Ok(Typed {
            values,
            errors: Vec::new(),
        })
    }
}

/// One line of text, at least one character and at most `longest`.
///
/// # Errors
/// A predicate that says what would be right.
pub fn line(text: &str, longest: usize) -> Result<String, String> {
    if text.chars().any(char::is_control) {
        return Err("has a character that cannot be shown; must be one line of plain text".into());
    }
    let text = lines(text, longest)?;
    if text.is_empty() {
        return Err("is empty; must be filled in".into());
    }
    Ok(text)
}

/// Several lines of text or none, at most `longest` characters.
///
/// # Errors
/// A predicate that says what would be right.
pub fn lines(text: &str, longest: usize) -> Result<String, String> {
    let n_characters = text.chars().count();
    if n_characters > longest {
        return Err(format!(
            "is {n_characters} characters long; must be at most {longest}"
        ));
    }
    if text
        .chars()
        .any(|letter| letter.is_control() && letter != '\n' && letter != '\t')
    {
        return Err("has a character that cannot be shown; must be plain text".into());
    }
    Ok(text.trim().to_owned())
}
