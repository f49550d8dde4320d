//! Cutting: a claimed piece becomes strips of projects, remainders in a bin, and waste.
//!
//! Saws differ, so what really was left may differ from the layout: the member says what goes
//! back. It is checked against the piece: no remainder is larger than the piece in any direction,
//! and strips and remainders together are no more wood than there was. What is left over in that
//! sum is waste, so nothing is lost from the ledger.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use super::offcut::next_tag;
use super::{claim, stage};
use crate::app::matching::StripName;
use crate::calc::matching::Use;
use crate::store::layout::{self, Source};
use crate::store::ledger::{self, Entry, What};
use crate::store::offcut::{self, GrowthRings, NewOffcut, OffcutState, volume_mm3};
use crate::store::{
    self, BinId, By, LayoutId, OffcutId, ProjectId, Refusal, change, claim as claims,
};
use crate::units::Length;
use crate::wire::FieldError;
use crate::wire::kept_match::{KeptLayout, Unreadable};

/// The most remainders of one cut.
const MOST_REMAINDERS: usize = 100;

/// What rounding each part to whole cubic millimetres may add up to.
const ROUNDING_MM3: i64 = 1_000;

/// What goes back to a bin.
#[derive(Clone, Debug, PartialEq)]
pub struct Remainder {
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
    /// Equal ones that get one tag.
    pub count: u32,
    pub square_ends: bool,
    pub straight_edges: bool,
    pub bin: BinId,
    pub note: String,
}

/// Why nothing was booked as cut.
#[derive(Debug, thiserror::Error)]
pub enum CutError {
    #[error("there is no such layout")]
    Unknown,
    /// All copies are cut, or the claim has ended.
    #[error("nothing of it is left to cut")]
    NothingLeft,
    #[error("some fields are wrong")]
    Wrong(Vec<FieldError>),
    #[error("a kept layout cannot be read")]
    Unreadable(#[from] Unreadable),
    #[error("failed to store the cut")]
    Store(#[source] Refusal),
}

impl From<sqlx::Error> for CutError {
    fn from(error: sqlx::Error) -> CutError {
        CutError::Store(error.into())
    }
}

impl From<Refusal> for CutError {
    fn from(refusal: Refusal) -> CutError {
        match refusal {
            Refusal::Stale => CutError::NothingLeft,
            other => CutError::Store(other),
        }
    }
}

/// What a cut gave.
#[derive(Clone, Debug, PartialEq)]
pub struct CutDone {
    /// The piece that was cut; for a bought board the row it got in passing.
    pub offcut: OffcutId,
    /// The remainders with their new tags.
    pub remainders: Vec<(OffcutId, String)>,
    pub strips_mm3: i64,
    pub waste_mm3: i64,
}

/// The remainders that a layout keeps of one copy, as a form would offer them: `bin` is where
/// they would go.
pub fn expected_remainders(kept: &KeptLayout, bin: BinId) -> Vec<Remainder> {
    kept.layout
        .rectangles(&kept.stock(), &kept.shop)
        .iter()
        .filter(|rectangle| rectangle.used_as == Use::Keep)
        .map(|rectangle| Remainder {
            length: rectangle.length,
            width: rectangle.width,
            thickness: kept.piece.thickness,
            count: 1,
            // The saw made at least one end and one edge; the others are as they were.
            square_ends: false,
            straight_edges: kept.piece.straight_edges,
            bin,
            note: String::new(),
        })
        .collect()
}

/// The wood of one strip in a piece: its rectangle, at the full thickness of the piece.
fn strip_volumes(kept: &KeptLayout) -> Vec<(StripName, i64)> {
    let mut volumes: Vec<(StripName, i64)> = Vec::new();
    for rectangle in kept.layout.rectangles(&kept.stock(), &kept.shop) {
        if let Use::Strip(id) = rectangle.used_as
            && let Ok(name) = id.parse::<StripName>()
        {
            let mm3 = volume_mm3(rectangle.length, rectangle.width, kept.piece.thickness);
            volumes.push((name, mm3));
        }
    }
    volumes
}

async fn flaws(
    db: &mut SqliteConnection,
    kept: &KeptLayout,
    piece_mm3: i64,
    strips_mm3: i64,
    remainders: &[Remainder],
) -> store::Result<Vec<FieldError>> {
    let mut flaws = Vec::new();
    let mut wrong = |pointer: String, detail: String| flaws.push(FieldError { pointer, detail });
    if remainders.len() > MOST_REMAINDERS {
        let n_remainders = remainders.len();
        wrong(
            "/remainders".to_owned(),
            format!("is a list of {n_remainders}; must be at most {MOST_REMAINDERS}"),
        );
        return Ok(flaws);
    }
    let piece = &kept.piece;
    let mut left_mm3 = piece_mm3 - strips_mm3;
    for (position, remainder) in remainders.iter().enumerate() {
        let at = |field: &str| format!("/remainders/{position}/{field}");
        for (field, size, most) in [
            ("length", remainder.length, piece.length),
            ("width", remainder.width, piece.width),
            ("thickness", remainder.thickness, piece.thickness),
        ] {
            if !size.is_positive() || size > most {
                wrong(
                    at(field),
                    format!("is {size}; must be more than 0 and at most the piece's {most}"),
                );
            }
        }
        if remainder.count == 0 || remainder.count > 1000 {
            wrong(
                at("count"),
                format!("is {}; must be from 1 to 1000", remainder.count),
            );
        }
        let one = volume_mm3(remainder.length, remainder.width, remainder.thickness);
        left_mm3 -= one.saturating_mul(i64::from(remainder.count));
        if store::bin::find(&mut *db, remainder.bin).await?.is_none() {
            wrong(
                at("bin"),
                format!("is {}; must be a bin of the workshop", remainder.bin),
            );
        }
    }
    // Each size was rounded to whole cubic millimetres by itself.
    if left_mm3 < -ROUNDING_MM3 {
        wrong(
            "/remainders".to_owned(),
            format!(
                "are {} mm3 more wood than the strips leave of the piece; must be what really is left",
                -left_mm3
            ),
        );
    }
    Ok(flaws)
}

/// Books `copies` of a layout as cut. `remainders` are what went back of all of them.
pub async fn cut(
    db: &mut SqliteConnection,
    by: By,
    id: LayoutId,
    copies: u32,
    remainders: &[Remainder],
) -> Result<CutDone, CutError> {
    claim::lapse(db, by).await?;
    let stored = layout::find(&mut *db, id).await?.ok_or(CutError::Unknown)?;
    if copies == 0 || stored.copies - stored.copies_cut < copies {
        return Err(CutError::NothingLeft);
    }
    let kept = KeptLayout::parse(&stored.cut)?;
    let n_copies = i64::from(copies);
    let one_mm3 = volume_mm3(kept.piece.length, kept.piece.width, kept.piece.thickness);
    let strips = strip_volumes(&kept);
    let strips_mm3 = strips.iter().map(|(_, mm3)| mm3).sum::<i64>() * n_copies;
    let flaws = flaws(db, &kept, one_mm3 * n_copies, strips_mm3, remainders).await?;
    if !flaws.is_empty() {
        return Err(CutError::Wrong(flaws));
    }

    let (parent, parent_mm3) = match &stored.source {
        Source::Claimed { claim, offcut, .. } => {
            let piece = offcut::find(&mut *db, *offcut)
                .await?
                .ok_or(CutError::Unknown)?;
            claims::take_cut(db, by, *claim, copies).await?;
            offcut::take(db, *offcut, copies, OffcutState::CutUp).await?;
            (piece.id, piece.volume_mm3)
        }
        Source::Bought(name) => (bring_in_board(db, by, &kept, name, copies).await?, one_mm3),
    };
    for _ in 0..copies {
        layout::take_copy(db, id).await?;
    }

    let mut kept_mm3 = 0;
    let mut done = Vec::with_capacity(remainders.len());
    for remainder in remainders {
        let (offcut, tag, mm3) =
            put_in_bin(db, by, &kept, parent, stored.project, remainder).await?;
        kept_mm3 += mm3;
        done.push((offcut, tag));
    }

    // Each project that gets strips has its row; who cuts has the piece, the remainders and the
    // waste.
    let cut_mm3 = parent_mm3 * n_copies;
    let mut shares: BTreeMap<ProjectId, i64> = BTreeMap::from([(stored.project, 0)]);
    for (name, mm3) in &strips {
        *shares.entry(name.project).or_default() += mm3 * n_copies;
    }
    let rounding_mm3 = (strips_mm3 + kept_mm3 - cut_mm3).max(0);
    if let Some(largest) = shares.values_mut().max() {
        *largest -= rounding_mm3;
    }
    let strips_mm3 = strips_mm3 - rounding_mm3;
    let waste_mm3 = cut_mm3 - strips_mm3 - kept_mm3;
    for (project, share_mm3) in &shares {
        let cuts = *project == stored.project;
        let others_mm3 = strips_mm3 - share_mm3;
        let entry = Entry {
            what: What::Cut,
            offcut: parent,
            project: Some(*project),
            species: kept.piece.species.clone(),
            pieces: if cuts { -n_copies } else { 0 },
            volume_mm3: if cuts {
                others_mm3 - cut_mm3
            } else {
                -share_mm3
            },
            strips_mm3: *share_mm3,
            waste_mm3: if cuts { waste_mm3 } else { 0 },
            why: String::new(),
        };
        ledger::append(db, by, &entry).await?;
    }
    let detail = format!("{copies} for project {}", stored.project);
    change::append(db, by, "cut", "offcut", parent, &detail).await?;
    for project in shares.into_keys() {
        stage::refresh(db, by, project).await?;
    }
    Ok(CutDone {
        offcut: parent,
        remainders: done,
        strips_mm3,
        waste_mm3,
    })
}

/// A board that was bought is in no bin, but its wood passes through the ledger all the same:
/// in, and at once cut up.
async fn bring_in_board(
    db: &mut SqliteConnection,
    by: By,
    kept: &KeptLayout,
    name: &str,
    copies: u32,
) -> Result<OffcutId, CutError> {
    let tag = next_tag(db).await?;
    let id = offcut::insert_cut_up(db, by, &tag, &kept.piece, &format!("bought: {name}")).await?;
    let one_mm3 = volume_mm3(kept.piece.length, kept.piece.width, kept.piece.thickness);
    let entry = Entry {
        what: What::Added,
        offcut: id,
        project: None,
        species: kept.piece.species.clone(),
        pieces: i64::from(copies),
        volume_mm3: one_mm3 * i64::from(copies),
        strips_mm3: 0,
        waste_mm3: 0,
        why: format!("bought: {name}"),
    };
    ledger::append(db, by, &entry).await?;
    Ok(id)
}

/// Puts a remainder into its bin under a new tag; gives its volume too.
async fn put_in_bin(
    db: &mut SqliteConnection,
    by: By,
    kept: &KeptLayout,
    parent: OffcutId,
    project: ProjectId,
    remainder: &Remainder,
) -> Result<(OffcutId, String, i64), CutError> {
    let from = offcut::find(&mut *db, parent).await?;
    let piece = NewOffcut {
        species: kept.piece.species.clone(),
        length: remainder.length,
        width: remainder.width,
        thickness: remainder.thickness,
        count: remainder.count,
        unusable: Vec::new(),
        square_ends: remainder.square_ends,
        straight_edges: remainder.straight_edges,
        growth_rings: from
            .as_ref()
            .map_or(GrowthRings::Unknown, |piece| piece.growth_rings),
        moisture_milli: from.as_ref().and_then(|piece| piece.moisture_milli),
        bin: remainder.bin,
        note: remainder.note.clone(),
    };
    let tag = next_tag(db).await?;
    let id = offcut::insert(db, by, &tag, &piece, Some(parent)).await?;
    let mm3 = piece.volume_mm3() * i64::from(piece.count);
    let entry = Entry {
        what: What::Remainder,
        offcut: id,
        project: Some(project),
        species: piece.species.clone(),
        pieces: i64::from(piece.count),
        volume_mm3: mm3,
        strips_mm3: 0,
        waste_mm3: 0,
        why: String::new(),
    };
    ledger::append(db, by, &entry).await?;
    change::append(db, by, "created", "offcut", id, &tag).await?;
    Ok((id, tag, mm3))
}
