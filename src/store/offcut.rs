//! Offcuts: what lies in the bins, and what became of it.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::By;
use super::refusal::{Written, changed_one};
use super::row::{instant, json, length, to_json};
use super::text::words;
use super::{BinId, MemberId, OffcutId, Result};
use crate::calc::matching::{Board, Section, Shop};
use crate::units::{Length, Volume};

words! {
    /// How the growth rings meet the face.
    GrowthRings {
        FlatSawn = "flat-sawn",
        QuarterSawn = "quarter-sawn",
        Unknown = "unknown",
    }
}

impl From<GrowthRings> for crate::calc::wood::GrowthRings {
    fn from(rings: GrowthRings) -> Self {
        match rings {
            GrowthRings::FlatSawn => Self::FlatSawn,
            GrowthRings::QuarterSawn => Self::QuarterSawn,
            GrowthRings::Unknown => Self::Unknown,
        }
    }
}

words! {
    /// Whether pieces are there, and else what became of the last one.
    OffcutState {
        InBin = "in bin",
        CutUp = "cut up",
        Gone = "gone",
    }
}

/// A stretch along the untrimmed length that may lie in no strip: a split, a knot, a nail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unusable {
    pub from: Length,
    pub to: Length,
    pub why: String,
}

#[derive(Serialize, Deserialize)]
struct StoredUnusable {
    from_nm: i64,
    to_nm: i64,
    #[serde(default)]
    why: String,
}

/// What a member says of a piece, or of `count` equal ones under one tag.
#[derive(Clone, Debug, PartialEq)]
pub struct NewOffcut {
    pub species: String,
    /// Along the grain.
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
    pub count: u32,
    pub unusable: Vec<Unusable>,
    pub square_ends: bool,
    pub straight_edges: bool,
    pub growth_rings: GrowthRings,
    /// Thousandths of a per cent of the ovendry mass.
    pub moisture_milli: Option<i64>,
    pub bin: BinId,
    pub note: String,
}

/// A stored piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Offcut {
    pub id: OffcutId,
    pub tag: String,
    pub species: String,
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
    /// Of one piece.
    pub volume_mm3: i64,
    /// Pieces that are there.
    pub count: u32,
    /// Of these, pieces that are claimed.
    pub held: u32,
    pub unusable: Vec<Unusable>,
    pub square_ends: bool,
    pub straight_edges: bool,
    pub growth_rings: GrowthRings,
    pub moisture_milli: Option<i64>,
    /// Where it lies, or lay last.
    pub bin: Option<BinId>,
    pub bin_name: Option<String>,
    /// The piece it was cut from.
    pub parent: Option<OffcutId>,
    pub note: String,
    pub state: OffcutState,
    pub added_by: Option<MemberId>,
    pub added_at: Timestamp,
    pub has_photo: bool,
    pub version: i64,
}

impl Offcut {
    /// Pieces that nobody claimed.
    pub fn free(&self) -> u32 {
        self.count - self.held
    }

    /// The state in the words of the workshop: `claimed` is a piece in a bin of which nothing is free.
    pub fn state_word(&self) -> &'static str {
        if self.state == OffcutState::InBin && self.free() == 0 {
            "claimed"
        } else {
            self.state.word()
        }
    }

    /// What it would be if it were added anew, for a form that edits it.
    pub fn as_new(&self, bin: BinId) -> NewOffcut {
        NewOffcut {
            species: self.species.clone(),
            length: self.length,
            width: self.width,
            thickness: self.thickness,
            count: self.count,
            unusable: self.unusable.clone(),
            square_ends: self.square_ends,
            straight_edges: self.straight_edges,
            growth_rings: self.growth_rings,
            moisture_milli: self.moisture_milli,
            bin,
            note: self.note.clone(),
        }
    }
}

impl NewOffcut {
    /// Of one piece, in whole cubic millimetres: the form in which the ledger counts.
    pub fn volume_mm3(&self) -> i64 {
        volume_mm3(self.length, self.width, self.thickness)
    }
}

/// The nearest whole number of cubic millimetres.
pub fn volume_mm3(length: Length, width: Length, thickness: Length) -> i64 {
    const NM3_PER_MM3: i128 = 1_000_000_000_000_000_000;
    let nm3 = Volume::of(length, width, thickness).nm3();
    i64::try_from((nm3 + NM3_PER_MM3 / 2) / NM3_PER_MM3)
        .expect("a piece of at most 100 m each way has at most 10^15 mm3")
}

impl FromRow<'_, SqliteRow> for Offcut {
    fn from_row(row: &SqliteRow) -> Result<Offcut> {
        let unusable: Vec<StoredUnusable> = json(row, "unusable")?;
        Ok(Offcut {
            id: row.try_get("id")?,
            tag: row.try_get("tag")?,
            species: row.try_get("species")?,
            length: length(row, "length_nm")?,
            width: length(row, "width_nm")?,
            thickness: length(row, "thickness_nm")?,
            volume_mm3: row.try_get("volume_mm3")?,
            count: row.try_get("count")?,
            held: row.try_get("held")?,
            unusable: unusable
                .into_iter()
                .map(|stretch| Unusable {
                    from: Length::from_nm(stretch.from_nm),
                    to: Length::from_nm(stretch.to_nm),
                    why: stretch.why,
                })
                .collect(),
            square_ends: row.try_get("square_ends")?,
            straight_edges: row.try_get("straight_edges")?,
            growth_rings: row.try_get("growth_rings")?,
            moisture_milli: row.try_get("moisture_milli")?,
            bin: row.try_get("bin_id")?,
            bin_name: row.try_get("bin_name")?,
            parent: row.try_get("parent_id")?,
            note: row.try_get("note")?,
            state: row.try_get("state")?,
            added_by: row.try_get("added_by")?,
            added_at: instant(row, "added_at")?,
            has_photo: row.try_get("has_photo")?,
            version: row.try_get("version")?,
        })
    }
}

fn unusable_json(unusable: &[Unusable]) -> String {
    let stored: Vec<StoredUnusable> = unusable
        .iter()
        .map(|stretch| StoredUnusable {
            from_nm: stretch.from.nm(),
            to_nm: stretch.to.nm(),
            why: stretch.why.clone(),
        })
        .collect();
    to_json(&stored)
}

pub async fn find(db: impl SqliteExecutor<'_>, id: OffcutId) -> Result<Option<Offcut>> {
    sqlx::query_as(
        "select offcut.*, bin.name as bin_name,
             (select coalesce(sum(pieces), 0) from claim where offcut_id = offcut.id and state = 'held') as held,
             exists (select 1 from photo where offcut_id = offcut.id) as has_photo
         from offcut left join bin on bin.id = offcut.bin_id
         where offcut.id = ?1",
    )
    .bind(id)
    .fetch_optional(db)
    .await
}

/// Ignores upper and lower case.
pub async fn find_by_tag(db: impl SqliteExecutor<'_>, tag: &str) -> Result<Option<Offcut>> {
    sqlx::query_as(
        "select offcut.*, bin.name as bin_name,
             (select coalesce(sum(pieces), 0) from claim where offcut_id = offcut.id and state = 'held') as held,
             exists (select 1 from photo where offcut_id = offcut.id) as has_photo
         from offcut left join bin on bin.id = offcut.bin_id
         where offcut.tag = ?1",
    )
    .bind(tag)
    .fetch_optional(db)
    .await
}

/// The pieces that were cut from one, oldest first.
pub async fn list_cut_from(db: impl SqliteExecutor<'_>, parent: OffcutId) -> Result<Vec<Offcut>> {
    sqlx::query_as(
        "select offcut.*, bin.name as bin_name,
             (select coalesce(sum(pieces), 0) from claim where offcut_id = offcut.id and state = 'held') as held,
             exists (select 1 from photo where offcut_id = offcut.id) as has_photo
         from offcut left join bin on bin.id = offcut.bin_id
         where offcut.parent_id = ?1 order by offcut.id",
    )
    .bind(parent)
    .fetch_all(db)
    .await
}

/// Every piece of these species that is there and of which one is free, by id: what a match may use.
pub async fn list_free(db: impl SqliteExecutor<'_>, species: &[String]) -> Result<Vec<Offcut>> {
    sqlx::query_as(
        "select offcut.*, bin.name as bin_name, coalesce(claimed.pieces, 0) as held, 0 as has_photo
         from offcut left join bin on bin.id = offcut.bin_id
         left join (select offcut_id, sum(pieces) as pieces from claim where state = 'held' group by offcut_id) as claimed
             on claimed.offcut_id = offcut.id
         where offcut.count > 0 and offcut.species in (select value from json_each(?1))
             and offcut.count > coalesce(claimed.pieces, 0)
         order by offcut.id",
    )
    .bind(to_json(&species))
    .fetch_all(db)
    .await
}

/// A strip that pieces are looked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StripWanted {
    pub species: String,
    pub length: Length,
    pub section: Section,
}

/// A piece, and the most strips that it could give if all of it were clear and nothing of it claimed.
#[derive(Clone, Debug, PartialEq, sqlx::FromRow)]
pub struct Promising {
    #[sqlx(flatten)]
    pub piece: Offcut,
    pub at_most: f64,
}

/// The pieces that are large enough for a strip, claimed or not, those that could give most first, then by id.
pub async fn list_promising(
    db: impl SqliteExecutor<'_>,
    wanted: &StripWanted,
    shop: &Shop,
    offset: usize,
    limit: usize,
) -> Result<Vec<Promising>> {
    sqlx::query_as(
        "with sized as (
             select id, count, length_nm - iif(square_ends, 0, 2 * ?5) as along, width_nm - iif(straight_edges, 0, ?6) as across
             from offcut indexed by offcut_sizes
             where count > 0 and species = ?1 and thickness_nm >= ?4 and width_nm >= ?3),
         best as materialized (
             select id, cast(count as real) * ((along + ?7) / (?2 + ?7)) * ((across + ?8) / (?3 + ?8)) as at_most
             from sized where along >= ?2 and across >= ?3
             order by at_most desc, id limit ?9 offset ?10)
         select offcut.*, bin.name as bin_name, at_most, 0 as has_photo,
             (select coalesce(sum(pieces), 0) from claim where offcut_id = offcut.id and state = 'held') as held
         from best join offcut on offcut.id = best.id left join bin on bin.id = offcut.bin_id
         order by at_most desc, offcut.id",
    )
    .bind(&wanted.species)
    .bind(wanted.length.nm())
    .bind(wanted.section.rip.nm())
    .bind(wanted.section.thickness.nm())
    .bind(shop.end_trim.nm())
    .bind(shop.edge_trim.nm())
    .bind(shop.crosscut_kerf.nm())
    .bind(shop.rip_kerf.nm())
    .bind(i64::try_from(limit).unwrap_or(i64::MAX))
    .bind(i64::try_from(offset).unwrap_or(i64::MAX))
    .fetch_all(db)
    .await
}

words! {
    /// Which pieces a search shows by what became of them.
    Show {
        /// Pieces of which one is free.
        Free = "free",
        /// Pieces that lie in a bin, claimed or not.
        InBin = "in bin",
        /// Pieces of which one is claimed.
        Claimed = "claimed",
        CutUp = "cut up",
        Gone = "gone",
        All = "all",
    }
}

/// Which pieces to show. What is `None` does not matter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Search {
    pub show: Show,
    /// Part of a tag, species or note.
    pub text: Option<String>,
    pub species: Option<String>,
    pub least_length: Option<Length>,
    pub least_width: Option<Length>,
    pub least_thickness: Option<Length>,
    pub bin: Option<BinId>,
    /// Pieces that came before this instant.
    pub added_before: Option<Timestamp>,
    /// Pieces that came at this instant or later.
    pub added_since: Option<Timestamp>,
    /// Only pieces that came before this one: the cursor of the page before.
    pub before: Option<OffcutId>,
    pub limit: u32,
}

impl Default for Search {
    fn default() -> Search {
        Search {
            show: Show::InBin,
            text: None,
            species: None,
            least_length: None,
            least_width: None,
            least_thickness: None,
            bin: None,
            added_before: None,
            added_since: None,
            before: None,
            limit: 50,
        }
    }
}

/// The pieces that fit are found among those that `$from` and `$first` pick by an index; only what is shown is read whole.
macro_rules! listing {
    ($from:literal, $first:literal) => {
        concat!(
            "select offcut.*, bin.name as bin_name,
                 (select coalesce(sum(pieces), 0) from claim where offcut_id = offcut.id and state = 'held') as held,
                 exists (select 1 from photo where offcut_id = offcut.id) as has_photo
             from offcut left join bin on bin.id = offcut.bin_id
             where offcut.id in (select offcut.id from ",
            $from,
            " where ",
            $first,
            "    and offcut.id < coalesce(?1, 9223372036854775807)
                 and (?3 is null or offcut.species = ?3)
                 and (?4 is null or offcut.length_nm >= ?4)
                 and (?5 is null or offcut.width_nm >= ?5)
                 and (?6 is null or offcut.thickness_nm >= ?6)
                 and (?7 is null or offcut.bin_id = ?7)
                 and (?8 is null or offcut.added_at < ?8)
                 and (?9 is null or offcut.added_at >= ?9)
                 and (?10 is null or instr(lower(offcut.tag || char(10) || offcut.species || char(10) || offcut.note), ?10))
                 and (?2 <> 'free' or offcut.count > (select coalesce(sum(pieces), 0) from claim
                                                      where offcut_id = offcut.id and state = 'held'))
                 order by offcut.id desc limit ?11)
             order by offcut.id desc"
        )
    };
}

/// The newest matching pieces, newest first.
pub async fn list(db: impl SqliteExecutor<'_>, search: &Search) -> Result<Vec<Offcut>> {
    let query = match search.show {
        Show::Claimed => sqlx::query_as(listing!(
            "offcut",
            "offcut.id in (select offcut_id from claim where state = 'held')"
        )),
        Show::Free | Show::InBin if search.bin.is_some() => sqlx::query_as(listing!(
            "offcut",
            "offcut.count > 0 and offcut.bin_id = ?7"
        )),
        Show::Free | Show::InBin => sqlx::query_as(listing!(
            "offcut indexed by offcut_there",
            "offcut.count > 0"
        )),
        Show::CutUp | Show::Gone => sqlx::query_as(listing!("offcut", "offcut.state = ?2")),
        Show::All => sqlx::query_as(listing!("offcut", "true")),
    };
    query
        .bind(search.before)
        .bind(search.show)
        .bind(&search.species)
        .bind(search.least_length.map(Length::nm))
        .bind(search.least_width.map(Length::nm))
        .bind(search.least_thickness.map(Length::nm))
        .bind(search.bin)
        .bind(search.added_before.map(|at| at.as_second()))
        .bind(search.added_since.map(|at| at.as_second()))
        .bind(search.text.as_ref().map(|text| text.to_lowercase()))
        .bind(search.limit)
        .fetch_all(db)
        .await
}

/// How much of something there is.
#[derive(Clone, Debug, Default, PartialEq, Eq, sqlx::FromRow)]
pub struct Stock {
    pub tags: i64,
    pub pieces: i64,
    pub volume_mm3: i64,
}

#[derive(Clone, Debug, PartialEq, Eq, sqlx::FromRow)]
pub struct StockOf {
    pub of: String,
    #[sqlx(flatten)]
    pub stock: Stock,
}

/// What lies in the bins, by species.
pub async fn stock_by_species(db: impl SqliteExecutor<'_>) -> Result<Vec<StockOf>> {
    sqlx::query_as(
        "select species as \"of\", sum(tags) as tags, sum(pieces) as pieces, sum(volume_mm3) as volume_mm3
         from stock group by species order by species",
    )
    .fetch_all(db)
    .await
}

/// What lies in the bins and came from `from` on and before `to`.
pub async fn stock_added_between(
    db: impl SqliteExecutor<'_>,
    from: Timestamp,
    to: Timestamp,
) -> Result<Stock> {
    sqlx::query_as(
        "select count(*) as tags, coalesce(sum(count), 0) as pieces, coalesce(sum(count * volume_mm3), 0) as volume_mm3
         from offcut where count > 0 and added_at >= ?1 and added_at < ?2",
    )
    .bind(from.as_second())
    .bind(to.as_second())
    .fetch_one(db)
    .await
}

/// The species of which a piece lies in a bin, in alphabetical order.
pub async fn list_species(db: impl SqliteExecutor<'_>) -> Result<Vec<String>> {
    sqlx::query_scalar("select distinct species from stock order by species")
        .fetch_all(db)
        .await
}

/// Adds a piece under `tag`. The ledger row is the caller's, in the same transaction.
///
/// # Errors
/// `Taken` if another piece has the tag; `Reference` if there is no such bin.
pub(crate) async fn insert(
    db: &mut SqliteConnection,
    by: By,
    tag: &str,
    piece: &NewOffcut,
    parent: Option<OffcutId>,
) -> Written<OffcutId> {
    let state = if piece.count > 0 {
        OffcutState::InBin
    } else {
        OffcutState::CutUp
    };
    Ok(sqlx::query_scalar(
        "insert into offcut (tag, species, length_nm, width_nm, thickness_nm, volume_mm3, count, unusable, square_ends,
             straight_edges, growth_rings, moisture_milli, bin_id, parent_id, note, state, added_by, added_at)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18)
         returning id",
    )
    .bind(tag)
    .bind(&piece.species)
    .bind(piece.length.nm())
    .bind(piece.width.nm())
    .bind(piece.thickness.nm())
    .bind(piece.volume_mm3())
    .bind(piece.count)
    .bind(unusable_json(&piece.unusable))
    .bind(piece.square_ends)
    .bind(piece.straight_edges)
    .bind(piece.growth_rings)
    .bind(piece.moisture_milli)
    .bind(piece.bin)
    .bind(parent)
    .bind(&piece.note)
    .bind(state)
    .bind(by.member)
    .bind(by.at.as_second())
    .fetch_one(db)
    .await?)
}

/// Adds a board that was bought and is being cut: nothing of it is there. The ledger rows are the
/// caller's.
pub(crate) async fn insert_cut_up(
    db: &mut SqliteConnection,
    by: By,
    tag: &str,
    board: &Board,
    note: &str,
) -> Written<OffcutId> {
    Ok(sqlx::query_scalar(
        "insert into offcut (tag, species, length_nm, width_nm, thickness_nm, volume_mm3, count, square_ends,
             straight_edges, note, state, added_by, added_at)
         values (?1, ?2, ?3, ?4, ?5, ?6, 0, ?7, ?8, ?9, 'cut up', ?10, ?11)
         returning id",
    )
    .bind(tag)
    .bind(&board.species)
    .bind(board.length.nm())
    .bind(board.width.nm())
    .bind(board.thickness.nm())
    .bind(volume_mm3(board.length, board.width, board.thickness))
    .bind(board.square_ends)
    .bind(board.straight_edges)
    .bind(note)
    .bind(by.member)
    .bind(by.at.as_second())
    .fetch_one(db)
    .await?)
}

/// Writes what a member says of a piece that is there. The ledger row is the caller's.
///
/// # Errors
/// `Stale`; `PiecesAreClaimed` if fewer pieces would be left than are claimed.
pub(crate) async fn update(
    db: &mut SqliteConnection,
    id: OffcutId,
    version: i64,
    piece: &NewOffcut,
) -> Written {
    let result = sqlx::query(
        "update offcut
         set species = ?3, length_nm = ?4, width_nm = ?5, thickness_nm = ?6, volume_mm3 = ?7, count = ?8, unusable = ?9,
             square_ends = ?10, straight_edges = ?11, growth_rings = ?12, moisture_milli = ?13, bin_id = ?14, note = ?15,
             version = version + 1
         where id = ?1 and version = ?2 and count > 0",
    )
    .bind(id)
    .bind(version)
    .bind(&piece.species)
    .bind(piece.length.nm())
    .bind(piece.width.nm())
    .bind(piece.thickness.nm())
    .bind(piece.volume_mm3())
    .bind(piece.count)
    .bind(unusable_json(&piece.unusable))
    .bind(piece.square_ends)
    .bind(piece.straight_edges)
    .bind(piece.growth_rings)
    .bind(piece.moisture_milli)
    .bind(piece.bin)
    .bind(&piece.note)
    .execute(db)
    .await?;
    changed_one(&result)
}

/// Moves a piece to another bin.
///
/// # Errors
/// `Stale`; `Reference` if there is no such bin.
pub(crate) async fn update_bin(
    db: &mut SqliteConnection,
    id: OffcutId,
    version: i64,
    bin: BinId,
) -> Written {
    let result = sqlx::query(
        "update offcut set bin_id = ?3, version = version + 1 where id = ?1 and version = ?2 and count > 0",
    )
    .bind(id)
    .bind(version)
    .bind(bin)
    .execute(db)
    .await?;
    changed_one(&result)
}

/// Takes `pieces` away; when none is left, `state` says what became of the last one.
///
/// # Errors
/// `Stale` if there are not so many; `PiecesAreClaimed` if too many of them are claimed.
pub(crate) async fn take(
    db: &mut SqliteConnection,
    id: OffcutId,
    pieces: u32,
    state: OffcutState,
) -> Written {
    let result = sqlx::query(
        "update offcut
         set count = count - ?2, state = iif(count = ?2, ?3, 'in bin'), version = version + 1
         where id = ?1 and count >= ?2",
    )
    .bind(id)
    .bind(pieces)
    .bind(state)
    .execute(db)
    .await?;
    changed_one(&result)
}
