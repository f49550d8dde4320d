//! What members do with pieces at the bins: add, correct, move, take away.
//!
//! Each change of stock appends its row to the ledger in the same transaction, which the caller
//! began and commits.

use sqlx::SqliteConnection;

use super::{claim, tag};
use crate::app::species::Woods;
use crate::store::ledger::{self, Entry, What};
use crate::store::offcut::{self, NewOffcut, Offcut, OffcutState};
use crate::store::{self, BinId, By, OffcutId, Refusal, change, claim::Claim, workshop};
use crate::units::Length;
use crate::wire::FieldError;

/// The most equal pieces under one tag.
const MOST_PIECES: u32 = 10_000;
/// The most stretches that may be marked unusable on one piece.
const MOST_STRETCHES: usize = 50;
/// The longest note, in characters.
const LONGEST_NOTE: usize = 2_000;

/// Why pieces were not stored as asked.
#[derive(Debug, thiserror::Error)]
pub enum OffcutError {
    /// Fields that must be something else; nothing was stored.
    #[error("some fields are wrong")]
    Wrong(Vec<FieldError>),
    /// There is no such piece.
    #[error("there is no such piece")]
    Unknown,
    /// Somebody changed it since it was read.
    #[error("somebody changed it meanwhile")]
    Stale,
    /// The tag is on another piece.
    #[error("another piece has this tag")]
    TagTaken,
    /// The change would take wood from those who claimed it.
    #[error("pieces of it are claimed")]
    Claimed(Vec<Claim>),
    #[error("failed to store the piece")]
    Store(#[source] Refusal),
}

impl From<sqlx::Error> for OffcutError {
    fn from(error: sqlx::Error) -> OffcutError {
        OffcutError::Store(error.into())
    }
}

impl From<Refusal> for OffcutError {
    fn from(refusal: Refusal) -> OffcutError {
        match refusal {
            Refusal::Stale => OffcutError::Stale,
            Refusal::Taken(_) => OffcutError::TagTaken,
            other => OffcutError::Store(other),
        }
    }
}

/// What becomes of claims that a change would leave without their wood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BrokenClaims {
    /// Nothing is changed, and the claims are named.
    Refuse,
    /// They end, and their projects want the strips again.
    LetGo,
}

/// Everything that is wrong with a piece as somebody describes it; pointers start with `prefix`.
pub fn flaws(piece: &NewOffcut, woods: &Woods, prefix: &str) -> Vec<FieldError> {
    let mut flaws = Vec::new();
    let mut wrong = |field: &str, detail: String| {
        flaws.push(FieldError {
            pointer: format!("{prefix}/{field}"),
            detail,
        });
    };
    if let Some(detail) = woods.flaw(&piece.species) {
        wrong("species", detail);
    }
    for (field, size) in [
        ("length", piece.length),
        ("width", piece.width),
        ("thickness", piece.thickness),
    ] {
        if !size.is_positive() || size > Length::LONGEST {
            wrong(
                field,
                format!(
                    "is {size}; must be more than 0 and at most {}",
                    Length::LONGEST
                ),
            );
        }
    }
    if piece.count == 0 || piece.count > MOST_PIECES {
        wrong(
            "count",
            format!("is {}; must be from 1 to {MOST_PIECES}", piece.count),
        );
    }
    if piece.unusable.len() > MOST_STRETCHES {
        let n_stretches = piece.unusable.len();
        wrong(
            "unusable",
            format!("is a list of {n_stretches}; must be at most {MOST_STRETCHES}"),
        );
    }
    for (position, stretch) in piece.unusable.iter().enumerate() {
        if stretch.from < Length::ZERO || stretch.from >= stretch.to || stretch.to > piece.length {
            wrong(
                &format!("unusable/{position}"),
                format!(
                    "is from {} to {}; must begin before it ends and lie within the length of {}",
                    stretch.from, stretch.to, piece.length
                ),
            );
        }
    }
    if piece
        .moisture_milli
        .is_some_and(|milli| !(0..=200_000).contains(&milli))
    {
        wrong(
            "moisture_percent",
            "is out of range; must be from 0 to 200".to_owned(),
        );
    }
    if piece.note.chars().count() > LONGEST_NOTE {
        wrong(
            "note",
            format!("is too long; must be at most {LONGEST_NOTE} characters"),
        );
    }
    flaws
}

/// The piece with its species in the spelling of the reference, or what is wrong with it.
async fn checked(
    db: &mut SqliteConnection,
    piece: &NewOffcut,
    woods: &Woods,
    prefix: &str,
) -> Result<NewOffcut, OffcutError> {
    let mut flaws = flaws(piece, woods, prefix);
    if store::bin::find(&mut *db, piece.bin).await?.is_none() {
        flaws.push(FieldError {
            pointer: format!("{prefix}/bin"),
            detail: format!("is {}; must be a bin of the workshop", piece.bin),
        });
    }
    if !flaws.is_empty() {
        return Err(OffcutError::Wrong(flaws));
    }
    let mut piece = piece.clone();
    if let Some(wood) = woods.find(&piece.species) {
        piece.species.clone_from(&wood.name);
    }
    Ok(piece)
}

/// A tag that no piece has.
pub(super) async fn next_tag(db: &mut SqliteConnection) -> store::Result<String> {
    loop {
        let tag = tag::tag(workshop::take_tag_number(db).await?);
        // Somebody may have typed this one before its turn.
        if offcut::find_by_tag(&mut *db, &tag).await?.is_none() {
            return Ok(tag);
        }
    }
}

/// Adds a piece, under `tag` if somebody labelled it already, else under the next one.
pub async fn add(
    db: &mut SqliteConnection,
    by: By,
    piece: &NewOffcut,
    tag: Option<&str>,
) -> Result<OffcutId, OffcutError> {
    let woods = Woods::load(&mut *db).await?;
    let piece = checked(db, piece, &woods, "").await?;
    add_checked(db, by, &piece, tag).await
}

/// Adds many pieces, or none if any of them is wrong: then all flaws are reported, with pointers
/// that begin with the piece's place in the list.
pub async fn add_many(
    db: &mut SqliteConnection,
    by: By,
    pieces: &[(NewOffcut, Option<String>)],
) -> Result<Vec<OffcutId>, OffcutError> {
    let woods = Woods::load(&mut *db).await?;
    let mut wrong = Vec::new();
    let mut good = Vec::with_capacity(pieces.len());
    let mut tags = std::collections::BTreeSet::new();
    for (position, (piece, tag)) in pieces.iter().enumerate() {
        let prefix = format!("/{position}");
        match checked(db, piece, &woods, &prefix).await {
            Ok(piece) => good.push((piece, tag)),
            Err(OffcutError::Wrong(flaws)) => wrong.extend(flaws),
            Err(error) => return Err(error),
        }
        if let Some(tag) = tag {
            let is_known = offcut::find_by_tag(&mut *db, tag).await?.is_some();
            if is_known || !tags.insert(tag.to_lowercase()) {
                wrong.push(FieldError {
                    pointer: format!("{prefix}/tag"),
                    detail: format!("is \"{tag}\"; must be a tag that no other piece has"),
                });
            }
        }
    }
    if !wrong.is_empty() {
        return Err(OffcutError::Wrong(wrong));
    }
    let mut ids = Vec::with_capacity(good.len());
    for (piece, tag) in good {
        ids.push(add_checked(db, by, &piece, tag.as_deref()).await?);
    }
    Ok(ids)
}

async fn add_checked(
    db: &mut SqliteConnection,
    by: By,
    piece: &NewOffcut,
    tag: Option<&str>,
) -> Result<OffcutId, OffcutError> {
    let tag = match tag {
        Some(tag) => tag.trim().to_owned(),
        None => next_tag(db).await?,
    };
    let id = offcut::insert(db, by, &tag, piece, None).await?;
    let entry = Entry {
        what: What::Added,
        offcut: id,
        project: None,
        species: piece.species.clone(),
        pieces: i64::from(piece.count),
        volume_mm3: i64::from(piece.count) * piece.volume_mm3(),
        strips_mm3: 0,
        waste_mm3: 0,
        why: String::new(),
    };
    ledger::append(db, by, &entry).await?;
    change::append(db, by, "created", "offcut", id, &tag).await?;
    Ok(id)
}

/// Whether everything that was laid out on the piece before can still be cut from it.
fn still_gives(before: &Offcut, after: &NewOffcut) -> bool {
    after.species.eq_ignore_ascii_case(&before.species)
        && after.length >= before.length
        && after.width >= before.width
        && after.thickness >= before.thickness
        && after.unusable == before.unusable
        && (after.square_ends || !before.square_ends)
        && (after.straight_edges || !before.straight_edges)
}

/// Corrects what is said of a piece that is there.
pub async fn edit(
    db: &mut SqliteConnection,
    by: By,
    id: OffcutId,
    version: i64,
    piece: &NewOffcut,
    why: &str,
    broken: BrokenClaims,
) -> Result<(), OffcutError> {
    let before = offcut::find(&mut *db, id)
        .await?
        .ok_or(OffcutError::Unknown)?;
    if before.version != version {
        return Err(OffcutError::Stale);
    }
    let woods = Woods::load(&mut *db).await?;
    let piece = checked(db, piece, &woods, "").await?;
    let mut version = version;
    if before.held > 0 && (!still_gives(&before, &piece) || piece.count < before.held) {
        let_go_or_refuse(db, by, id, broken).await?;
        version = offcut::find(&mut *db, id)
            .await?
            .ok_or(OffcutError::Unknown)?
            .version;
    }
    offcut::update(db, id, version, &piece).await?;
    let pieces = i64::from(piece.count) - i64::from(before.count);
    let before_mm3 = i64::from(before.count) * before.volume_mm3;
    let after_mm3 = i64::from(piece.count) * piece.volume_mm3();
    let same_species = before.species == piece.species;
    if !same_species {
        // Two rows, so that the sums of both species are right.
        for (species, pieces, volume_mm3) in [
            (&before.species, -i64::from(before.count), -before_mm3),
            (&piece.species, i64::from(piece.count), after_mm3),
        ] {
            append_correction(db, by, id, species, pieces, volume_mm3, why).await?;
        }
    } else if pieces != 0 || after_mm3 != before_mm3 {
        append_correction(
            db,
            by,
            id,
            &piece.species,
            pieces,
            after_mm3 - before_mm3,
            why,
        )
        .await?;
    }
    change::append(db, by, "changed", "offcut", id, why).await?;
    Ok(())
}

async fn append_correction(
    db: &mut SqliteConnection,
    by: By,
    offcut: OffcutId,
    species: &str,
    pieces: i64,
    volume_mm3: i64,
    why: &str,
) -> Result<(), OffcutError> {
    let entry = Entry {
        what: What::Corrected,
        offcut,
        project: None,
        species: species.to_owned(),
        pieces,
        volume_mm3,
        strips_mm3: 0,
        waste_mm3: 0,
        why: why.to_owned(),
    };
    ledger::append(db, by, &entry).await?;
    Ok(())
}

/// Ends all claims on a piece, or says whose they are.
async fn let_go_or_refuse(
    db: &mut SqliteConnection,
    by: By,
    id: OffcutId,
    broken: BrokenClaims,
) -> Result<(), OffcutError> {
    let held = store::claim::list_held_of_offcut(&mut *db, id).await?;
    match broken {
        BrokenClaims::Refuse => Err(OffcutError::Claimed(held)),
        BrokenClaims::LetGo => {
            for claim in held {
                claim::end(db, by, &claim, store::claim::ClaimState::LetGo).await?;
            }
            Ok(())
        }
    }
}

/// Moves a piece to another bin.
pub async fn move_to(
    db: &mut SqliteConnection,
    by: By,
    id: OffcutId,
    version: i64,
    bin: BinId,
) -> Result<(), OffcutError> {
    offcut::find(&mut *db, id)
        .await?
        .ok_or(OffcutError::Unknown)?;
    let Some(bin) = store::bin::find(&mut *db, bin).await? else {
        return Err(OffcutError::Wrong(vec![FieldError {
            pointer: "/bin".to_owned(),
            detail: format!("is {bin}; must be a bin of the workshop"),
        }]));
    };
    offcut::update_bin(db, id, version, bin.id).await?;
    change::append(db, by, "moved", "offcut", id, &bin.name).await?;
    Ok(())
}

/// Takes pieces away that went without being cut for a project: used up, lost, burnt.
pub async fn take_away(
    db: &mut SqliteConnection,
    by: By,
    id: OffcutId,
    pieces: u32,
    why: &str,
    broken: BrokenClaims,
) -> Result<(), OffcutError> {
    let before = offcut::find(&mut *db, id)
        .await?
        .ok_or(OffcutError::Unknown)?;
    if pieces == 0 || pieces > before.count {
        return Err(OffcutError::Wrong(vec![FieldError {
            pointer: "/pieces".to_owned(),
            detail: format!(
                "is {pieces}; must be from 1 to {}, which are there",
                before.count
            ),
        }]));
    }
    if before.free() < pieces {
        let_go_or_refuse(db, by, id, broken).await?;
    }
    offcut::take(db, id, pieces, OffcutState::Gone).await?;
    let entry = Entry {
        what: What::Gone,
        offcut: id,
        project: None,
        species: before.species.clone(),
        pieces: -i64::from(pieces),
        volume_mm3: -i64::from(pieces) * before.volume_mm3,
        strips_mm3: 0,
        waste_mm3: 0,
        why: why.to_owned(),
    };
    ledger::append(db, by, &entry).await?;
    change::append(db, by, "gone", "offcut", id, why).await?;
    Ok(())
}
