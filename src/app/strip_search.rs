//! Which free pieces could give a strip: what somebody asks who needs one more of a size.

use std::cmp::Reverse;
use std::fmt;
use std::num::ParseIntError;
use std::str::FromStr;

use sqlx::SqliteConnection;

use super::matching::piece_of;
use crate::calc::pattern;
use crate::store::offcut::{self, Offcut, Promising, StripWanted};
use crate::store::{self, OffcutId, workshop};

/// Pieces that are looked at together.
const AT_A_TIME: usize = 150;

/// A free piece with the number of strips that it surely gives.
#[derive(Clone, Debug, PartialEq)]
pub struct Giving {
    pub piece: Offcut,
    pub strips: usize,
}

/// A place in the order: the most strips first, then the oldest piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place(Reverse<usize>, OffcutId);

impl Giving {
    pub fn place(&self) -> Place {
        Place(Reverse(self.strips), self.piece.id)
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{}", self.0.0, self.1)
    }
}

impl FromStr for Place {
    type Err = ParseIntError;

    fn from_str(text: &str) -> Result<Place, ParseIntError> {
        let (strips, id) = text.split_once('-').unwrap_or((text, ""));
        Ok(Place(Reverse(strips.parse()?), OffcutId(id.parse()?)))
    }
}

/// The first `most` free pieces after a place that surely give such a strip.
///
/// No more pieces are looked at than it takes: they come by what they could give if all of them were clear and free,
/// and once enough surely give more than the next could, the rest does not matter.
pub async fn pieces_for_strip(
    db: &mut SqliteConnection,
    wanted: &StripWanted,
    after: Option<Place>,
    most: usize,
) -> store::Result<Vec<Giving>> {
    let shop = workshop::get(&mut *db).await?.settings.cutting.shop();
    let mut found: Vec<Giving> = Vec::new();
    for offset in (0..).step_by(AT_A_TIME) {
        let some = offcut::list_promising(&mut *db, wanted, &shop, offset, AT_A_TIME).await?;
        let last = some.last().map(|last| (last.at_most, last.piece.id));
        let is_end = some.len() < AT_A_TIME;
        found.extend(some.into_iter().filter_map(|Promising { piece, .. }| {
            let pieces = [piece_of(&piece, piece.free())];
            let counts = pattern::strips_in_stock(&pieces, &[wanted.section], wanted.length, &shop);
            let strips = counts.into_values().sum();
            let giving = Giving { piece, strips };
            let is_wanted = strips > 0 && after.is_none_or(|after| giving.place() > after);
            is_wanted.then_some(giving)
        }));
        found.sort_by_key(Giving::place);
        found.truncate(most);
        let is_settled =
            found
                .get(most.saturating_sub(1))
                .zip(last)
                .is_some_and(|(giving, (at_most, id))| {
                    let strips = giving.strips as f64;
                    strips > at_most || (strips == at_most && giving.piece.id <= id)
                });
        if is_end || is_settled {
            break;
        }
    }
    Ok(found)
}
