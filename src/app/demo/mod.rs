//! An invented workshop to try things out in: nobody and nothing in it is real.
//!
//! Everything is made from a seed, so it is the same each time but for the days, which count from the day it is made.
//! It goes through the use cases that members go through; only the instants lie in the past.

mod people;
mod projects;
mod stock;

use anyhow::Context as _;
use jiff::{SignedDuration, Timestamp};

use super::App;
use crate::store::{By, MemberId};

pub use people::{DEMO_PASSWORD, DemoMember};

/// Fills an empty workshop and tells who may sign in.
///
/// # Errors
/// The database failed, or the workshop was not empty.
pub async fn fill(app: &App) -> anyhow::Result<Vec<DemoMember>> {
    let members = people::fill(app)
        .await
        .context("failed to make the members")?;
    let ids: Vec<MemberId> = members.iter().map(|member| member.id).collect();
    stock::fill(app, &ids)
        .await
        .context("failed to fill the bins")?;
    projects::fill(app, &ids)
        .await
        .context("failed to make the projects")?;
    Ok(members)
}

/// A member acting some days before now.
fn days_ago(app: &App, member: MemberId, days: i64) -> By {
    By {
        member: Some(member),
        at: moment(app, days),
    }
}

fn moment(app: &App, days_ago: i64) -> Timestamp {
    app.clock.now() - SignedDuration::from_hours(24 * days_ago)
}

/// Numbers that look random and are the same each time (Marsaglia's xorshift with 64 bits of state,
/// Journal of Statistical Software 8(14), 2003).
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        // The high bits are the better ones.
        (self.0 >> 16) % limit
    }

    fn between(&mut self, least: i64, most: i64) -> i64 {
        let span = u64::try_from(most - least + 1).unwrap_or(1);
        least + i64::try_from(self.below(span)).unwrap_or(0)
    }

    fn one_in(&mut self, chances: u64) -> bool {
        self.below(chances) == 0
    }
}
