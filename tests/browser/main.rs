//! The program in a real browser: what members do from the first hour on, and every page looked at for reach, contrast and weight.
//!
//! Chromium is driven through `chromedriver`. Where one of them is missing the tests say that they were skipped;
//! with `SCRAPWRIGHT_BROWSER=required` they fail instead.

#![expect(
    clippy::disallowed_methods,
    reason = "what the tests need is told by the environment"
)]

mod at_the_bin;
mod chromium;
mod every_page;
mod first_hour;
mod main_job;
mod pictures;
mod steward;
mod workshop;
