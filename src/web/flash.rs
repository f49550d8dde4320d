use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};

use super::cookies;
use crate::app::App;

/// A message shown once on the page after a redirect.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flash {
    /// Whether it tells of something that went as wished.
    pub is_good: bool,
    pub text: String,
}

/// The longest message in bytes, so that a cookie can hold it.
const LONGEST: usize = 600;

impl Flash {
    /// What was asked for is done.
    pub fn done(text: impl Into<String>) -> Flash {
        Flash {
            is_good: true,
            text: text.into(),
        }
    }

    /// It was done, but there is something to know.
    pub fn note(text: impl Into<String>) -> Flash {
        Flash {
            is_good: false,
            text: text.into(),
        }
    }

    /// As hexadecimal digits, which pass through a cookie untouched.
    fn encode(&self) -> String {
        let mut end = self.text.len().min(LONGEST);
        while !self.text.is_char_boundary(end) {
            end -= 1;
        }
        let mut encoded = String::from(if self.is_good { "d" } else { "n" });
        for byte in self.text[..end].bytes() {
            encoded.push_str(&format!("{byte:02x}"));
        }
        encoded
    }

    pub(super) fn decode(encoded: &str) -> Option<Flash> {
        let is_good = encoded.starts_with('d');
        let digits = encoded.strip_prefix(['d', 'n'])?.as_bytes();
        if digits.len() > 2 * LONGEST {
            return None;
        }
        let bytes: Option<Vec<u8>> = digits
            .chunks(2)
            .map(|pair| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok())
            .collect();
        let text = String::from_utf8(bytes?).ok()?;
        Some(Flash { is_good, text })
    }
}

/// Sends the browser to another page of ours, after a form was done.
#[must_use]
pub struct Redirect {
    to: String,
    flash: Option<Flash>,
}

/// 303 to a path of ours. Post, redirect, get: so a reload repeats nothing.
pub fn see_other(to: impl Into<String>) -> Redirect {
    Redirect {
        to: to.into(),
        flash: None,
    }
}

impl Redirect {
    /// With a message that the next page shows once.
    pub fn saying(mut self, flash: Flash) -> Redirect {
        self.flash = Some(flash);
        self
    }

    /// The response.
    pub fn response(self, app: &App) -> Response {
        let mut response = StatusCode::SEE_OTHER.into_response();
        let headers = response.headers_mut();
        let to = HeaderValue::from_str(&self.to).unwrap_or(HeaderValue::from_static("/"));
        headers.insert(header::LOCATION, to);
        if let Some(flash) = self.flash {
            let cookie = cookies::say(app, flash.encode());
            if let Ok(value) = HeaderValue::from_str(&cookie.to_string()) {
                headers.append(header::SET_COOKIE, value);
            }
        }
        response
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_survives_the_cookie() {
        for text in ["", "3 pieces of “hard maple” <b>&", &"ß".repeat(1000)] {
            let decoded = Flash::decode(&Flash::done(text).encode()).unwrap();
            assert!(decoded.is_good);
            assert!(text.starts_with(&decoded.text));
            assert!(decoded.text.len() >= text.len().min(LONGEST - 1));
        }
        assert_eq!(Flash::decode("dzz"), None);
        assert_eq!(Flash::decode("x41"), None);
    }
}
