//! The wood ledger: every change of stock, in the transaction that makes it.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan as _};
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::By;
use super::row::{instant, unreadable};
use super::text::words;
use super::{LedgerId, MemberId, OffcutId, ProjectId, Result};

words! {
    /// Why stock changed.
    What {
        Added = "added",
        /// What was left of a piece that was cut.
        Remainder = "remainder",
        /// Size, number or species were wrong.
        Corrected = "corrected",
        Cut = "cut",
        Gone = "gone",
    }
}

/// A row to append. Pieces and volume are what came (positive) or went (negative).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    pub what: What,
    pub offcut: OffcutId,
    pub project: Option<ProjectId>,
    pub species: String,
    pub pieces: i64,
    pub volume_mm3: i64,
    /// Of a cut piece: what went into strips.
    pub strips_mm3: i64,
    /// Of a cut piece: what was neither strip nor remainder.
    pub waste_mm3: i64,
    pub why: String,
}

/// A row as it stands in the ledger.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LedgerRow {
    pub id: LedgerId,
    pub at: Timestamp,
    pub member: Option<MemberId>,
    pub member_name: Option<String>,
    /// Nothing where the entry is of an earlier book, whose names are words only.
    pub offcut: Option<OffcutId>,
    pub tag: String,
    pub project: Option<ProjectId>,
    pub project_name: Option<String>,
    pub what: What,
    pub species: String,
    pub pieces: i64,
    pub volume_mm3: i64,
    pub strips_mm3: i64,
    pub waste_mm3: i64,
    pub why: String,
}

/// An entry of an earlier book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EarlierEntry {
    pub at: Timestamp,
    /// Empty where nobody is known.
    pub member: String,
    pub what: What,
    pub tag: String,
    /// Empty where it was for none.
    pub project: String,
    pub species: String,
    pub pieces: i64,
    pub volume_mm3: i64,
    pub strips_mm3: i64,
    pub waste_mm3: i64,
    pub why: String,
}

impl FromRow<'_, SqliteRow> for LedgerRow {
    fn from_row(row: &SqliteRow) -> Result<LedgerRow> {
        Ok(LedgerRow {
            id: row.try_get("id")?,
            at: instant(row, "at")?,
            member: row.try_get("member_id")?,
            member_name: row.try_get("member_name")?,
            offcut: row.try_get("offcut_id")?,
            tag: row.try_get("tag")?,
            project: row.try_get("project_id")?,
            project_name: row.try_get("project_name")?,
            what: row.try_get("what")?,
            species: row.try_get("species")?,
            pieces: row.try_get("pieces")?,
            volume_mm3: row.try_get("volume_mm3")?,
            strips_mm3: row.try_get("strips_mm3")?,
            waste_mm3: row.try_get("waste_mm3")?,
            why: row.try_get("why")?,
        })
    }
}

/// Appends a row. Its month is the workshop's own, whatever the time is in UTC.
pub async fn append(db: &mut SqliteConnection, by: By, entry: &Entry) -> Result<LedgerId> {
    let zone = zone(db).await?;
    let month = by.at.to_zoned_datetime(zone).strftime("%Y-%m").to_string();
    sqlx::query_scalar(
        "insert into ledger (at, month, member_id, what, offcut_id, project_id, species, pieces, volume_mm3,
             strips_mm3, waste_mm3, why)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)
         returning id",
    )
    .bind(by.at.as_second())
    .bind(month)
    .bind(by.member)
    .bind(entry.what)
    .bind(entry.offcut)
    .bind(entry.project)
    .bind(&entry.species)
    .bind(entry.pieces)
    .bind(entry.volume_mm3)
    .bind(entry.strips_mm3)
    .bind(entry.waste_mm3)
    .bind(&entry.why)
    .fetch_one(db)
    .await
}

/// Appends entries of an earlier book, each in the month of its own time.
pub async fn append_earlier(db: &mut SqliteConnection, entries: &[EarlierEntry]) -> Result<()> {
    let zone = zone(db).await?;
    for entry in entries {
        let month = entry.at.to_zoned_datetime(zone.clone()).strftime("%Y-%m");
        sqlx::query(
            "insert into ledger (at, month, what, species, pieces, volume_mm3, strips_mm3, waste_mm3, why,
                 earlier_tag, earlier_member, earlier_project)
             values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, nullif(?11, ''), nullif(?12, ''))",
        )
        .bind(entry.at.as_second())
        .bind(month.to_string())
        .bind(entry.what)
        .bind(&entry.species)
        .bind(entry.pieces)
        .bind(entry.volume_mm3)
        .bind(entry.strips_mm3)
        .bind(entry.waste_mm3)
        .bind(&entry.why)
        .bind(&entry.tag)
        .bind(&entry.member)
        .bind(&entry.project)
        .execute(&mut *db)
        .await?;
    }
    Ok(())
}

/// Whether the ledger has an entry that says the same of the same piece.
pub async fn is_there(db: impl SqliteExecutor<'_>, entry: &EarlierEntry) -> Result<bool> {
    sqlx::query_scalar(
        "select exists (
             select 1 from ledger left join offcut on offcut.id = ledger.offcut_id
             where ledger.at = ?1 and ledger.what = ?2 and ledger.species = ?3 and ledger.pieces = ?4
                 and ledger.volume_mm3 = ?5 and (offcut.tag = ?6 or ledger.earlier_tag = ?6))",
    )
    .bind(entry.at.as_second())
    .bind(entry.what)
    .bind(&entry.species)
    .bind(entry.pieces)
    .bind(entry.volume_mm3)
    .bind(&entry.tag)
    .fetch_one(db)
    .await
}

/// Whether an earlier book has entries for a tag.
pub async fn has_earlier(db: impl SqliteExecutor<'_>, tag: &str) -> Result<bool> {
    sqlx::query_scalar("select exists (select 1 from ledger where earlier_tag = ?1)")
        .bind(tag)
        .fetch_one(db)
        .await
}

/// Which rows to show. What is `None` does not matter.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Search {
    pub what: Option<What>,
    /// In the spelling in which it is stored.
    pub species: Option<String>,
    pub offcut: Option<OffcutId>,
    /// Entries of an earlier book for this tag, beside those of `offcut`.
    pub earlier_tag: Option<String>,
    pub project: Option<ProjectId>,
    pub member: Option<MemberId>,
    pub from: Option<Timestamp>,
    /// Before this instant.
    pub to: Option<Timestamp>,
    /// Only rows older than this one: the cursor of the page before.
    pub before: Option<LedgerId>,
    pub limit: u32,
}

/// What rows must fulfil, with the condition that picks their index first. Equality is written out, and
/// the two upper ends of time made one, because SQLite uses an index for nothing else.
macro_rules! matching {
    ($first:literal) => {
        concat!(
            "where ",
            $first,
            "    and ledger.at >= coalesce(?7, -9223372036854775808)
                 and ledger.at <= min(coalesce(?8 - 1, 9223372036854775807),
                     coalesce((select at from ledger where id = ?1), 9223372036854775807))
                 and (?1 is null or (ledger.at, ledger.id) < ((select at from ledger where id = ?1), ?1))
                 and (?2 is null or ledger.what = ?2)
                 and (?3 is null or ledger.species = ?3)
                 and (?4 is null and ?9 is null or ledger.offcut_id = ?4 or ledger.earlier_tag = ?9)
                 and (?5 is null or ledger.project_id = ?5)
                 and (?6 is null or ledger.member_id = ?6)"
        )
    };
}

macro_rules! listing {
    ($first:literal) => {
        concat!(
            "select ledger.*, coalesce(member.name, ledger.earlier_member) as member_name,
                 coalesce(offcut.tag, ledger.earlier_tag) as tag,
                 coalesce(project.name, ledger.earlier_project) as project_name
             from ledger
             left join offcut on offcut.id = ledger.offcut_id
             left join member on member.id = ledger.member_id
             left join project on project.id = ledger.project_id ",
            matching!($first),
            " order by ledger.at desc, ledger.id desc limit ?10"
        )
    };
}

macro_rules! summing {
    ($first:literal) => {
        concat!(
            "select coalesce(sum(iif(what in ('added', 'corrected'), volume_mm3, 0)), 0) as added_mm3,
                 coalesce(sum(iif(what = 'cut', -volume_mm3, 0)), 0) as cut_mm3,
                 coalesce(sum(iif(what = 'remainder', volume_mm3, 0)), 0) as remainders_mm3,
                 coalesce(sum(strips_mm3), 0) as strips_mm3, coalesce(sum(waste_mm3), 0) as waste_mm3,
                 coalesce(sum(iif(what = 'gone', -volume_mm3, 0)), 0) as gone_mm3
             from ledger ",
            matching!($first)
        )
    };
}

/// The statement of `$build` for the column by which the search finds its rows fastest.
macro_rules! by_index {
    ($search:expr, $query:ident, $build:ident) => {
        if $search.earlier_tag.is_some() {
            sqlx::$query($build!(
                "(ledger.offcut_id = ?4 or ledger.earlier_tag = ?9)"
            ))
        } else if $search.offcut.is_some() {
            sqlx::$query($build!("ledger.offcut_id = ?4"))
        } else if $search.project.is_some() {
            sqlx::$query($build!("ledger.project_id = ?5"))
        } else if $search.member.is_some() {
            sqlx::$query($build!("ledger.member_id = ?6"))
        } else if $search.what.is_some() {
            sqlx::$query($build!("ledger.what = ?2"))
        } else if $search.species.is_some() {
            sqlx::$query($build!("ledger.species = ?3"))
        } else {
            sqlx::$query($build!("true"))
        }
        .bind($search.before)
        .bind($search.what)
        .bind(&$search.species)
        .bind($search.offcut)
        .bind($search.project)
        .bind($search.member)
        .bind($search.from.map(|at| at.as_second()))
        .bind($search.to.map(|at| at.as_second()))
        .bind(&$search.earlier_tag)
    };
}

/// The newest matching rows, newest first.
pub async fn list(db: impl SqliteExecutor<'_>, search: &Search) -> Result<Vec<LedgerRow>> {
    by_index!(search, query_as, listing)
        .bind(search.limit)
        .fetch_all(db)
        .await
}

/// Sums of all matching rows, whatever the limit. Where nothing but month, species and kind matters, whole months come from the
/// sums that are kept, and only what is left at both ends is added up.
pub async fn sum(db: &mut SqliteConnection, search: &Search) -> Result<Sums> {
    let rows = Search {
        before: None,
        ..search.clone()
    };
    let is_of_one = rows.offcut.is_some() || rows.earlier_tag.is_some();
    if is_of_one || rows.project.is_some() || rows.member.is_some() {
        return sum_rows(db, &rows).await;
    }
    let zone = zone(db).await?;
    let month_of = |at: Timestamp| at.to_zoned_datetime(zone.clone()).date().first_of_month();
    let begin_of = |month: Date| {
        zone.to_ambiguous_zoned_datetime(month.at(0, 0, 0, 0))
            .compatible()
            .map_or(Timestamp::MAX, |begin| begin.timestamp())
    };
    let first = rows.from.map(|from| {
        let month = month_of(from);
        if begin_of(month) == from {
            month
        } else {
            month.saturating_add(1.month())
        }
    });
    let end = rows.to.map(month_of);
    if let (Some(first), Some(end)) = (first, end)
        && first >= end
    {
        return sum_rows(db, &rows).await;
    }
    let name = |month: Date| month.strftime("%Y-%m").to_string();
    let mut sums: Sums = sqlx::query_as(
        "select coalesce(sum(iif(what in ('added', 'corrected'), volume_mm3, 0)), 0) as added_mm3,
             coalesce(sum(iif(what = 'cut', -volume_mm3, 0)), 0) as cut_mm3,
             coalesce(sum(iif(what = 'remainder', volume_mm3, 0)), 0) as remainders_mm3,
             coalesce(sum(strips_mm3), 0) as strips_mm3, coalesce(sum(waste_mm3), 0) as waste_mm3,
             coalesce(sum(iif(what = 'gone', -volume_mm3, 0)), 0) as gone_mm3
         from ledger_sum
         where month >= ?1 and month < ?2 and (?3 is null or what = ?3) and (?4 is null or species = ?4)",
    )
    .bind(first.map_or_else(String::new, name))
    .bind(end.map_or_else(|| "9999-99".to_owned(), name))
    .bind(rows.what)
    .bind(&rows.species)
    .fetch_one(&mut *db)
    .await?;
    let ends = [
        (rows.from, first.map(begin_of)),
        (end.map(begin_of), rows.to),
    ];
    for (from, to) in ends {
        if from < to && from.is_some() {
            let part = Search {
                from,
                to,
                ..rows.clone()
            };
            sums.add(&sum_rows(db, &part).await?);
        }
    }
    Ok(sums)
}

async fn sum_rows(db: &mut SqliteConnection, search: &Search) -> Result<Sums> {
    by_index!(search, query_as, summing).fetch_one(db).await
}

/// The workshop's own time.
async fn zone(db: &mut SqliteConnection) -> Result<TimeZone> {
    let zone: String = sqlx::query_scalar("select time_zone from workshop")
        .fetch_one(db)
        .await?;
    TimeZone::get(&zone).map_err(|error| unreadable("time_zone", error))
}

/// The whole history of one piece, oldest first.
pub async fn list_of_offcut(
    db: impl SqliteExecutor<'_>,
    offcut: OffcutId,
) -> Result<Vec<LedgerRow>> {
    sqlx::query_as(
        "select ledger.*, member.name as member_name, offcut.tag, project.name as project_name
         from ledger
         join offcut on offcut.id = ledger.offcut_id
         left join member on member.id = ledger.member_id
         left join project on project.id = ledger.project_id
         where ledger.offcut_id = ?1 order by ledger.id",
    )
    .bind(offcut)
    .fetch_all(db)
    .await
}

/// What came, went and was made of it, in cubic millimetres; each is positive.
#[derive(Clone, Debug, Default, PartialEq, Eq, sqlx::FromRow)]
pub struct Sums {
    /// Pieces and boards that were brought in; corrections are counted here, whichever sign they have.
    pub added_mm3: i64,
    /// Whole pieces that were cut, before their remainders went back.
    pub cut_mm3: i64,
    pub remainders_mm3: i64,
    /// What went into strips of projects: wood kept from the fire.
    pub strips_mm3: i64,
    pub waste_mm3: i64,
    /// Pieces that went without being cut for a project.
    pub gone_mm3: i64,
}

impl Sums {
    fn add(&mut self, other: &Sums) {
        self.added_mm3 += other.added_mm3;
        self.cut_mm3 += other.cut_mm3;
        self.remainders_mm3 += other.remainders_mm3;
        self.strips_mm3 += other.strips_mm3;
        self.waste_mm3 += other.waste_mm3;
        self.gone_mm3 += other.gone_mm3;
    }
}

/// Sums for one month, species or member.
#[derive(Clone, Debug, PartialEq, Eq, sqlx::FromRow)]
pub struct SumsOf {
    /// `YYYY-MM`, a species, or a member's name.
    pub of: String,
    #[sqlx(flatten)]
    pub sums: Sums,
}

/// By month, oldest first; months are `YYYY-MM`, both included.
pub async fn sum_by_month(
    db: impl SqliteExecutor<'_>,
    from_month: &str,
    to_month: &str,
) -> Result<Vec<SumsOf>> {
    sqlx::query_as(
        "select month as \"of\",
             sum(iif(what in ('added', 'corrected'), volume_mm3, 0)) as added_mm3,
             sum(iif(what = 'cut', -volume_mm3, 0)) as cut_mm3,
             sum(iif(what = 'remainder', volume_mm3, 0)) as remainders_mm3,
             sum(strips_mm3) as strips_mm3, sum(waste_mm3) as waste_mm3,
             sum(iif(what = 'gone', -volume_mm3, 0)) as gone_mm3
         from ledger_sum where month between ?1 and ?2 group by month order by month",
    )
    .bind(from_month)
    .bind(to_month)
    .fetch_all(db)
    .await
}

/// By species, in alphabetical order; months are `YYYY-MM`, both included.
pub async fn sum_by_species(
    db: impl SqliteExecutor<'_>,
    from_month: &str,
    to_month: &str,
) -> Result<Vec<SumsOf>> {
    sqlx::query_as(
        "select species as \"of\",
             sum(iif(what in ('added', 'corrected'), volume_mm3, 0)) as added_mm3,
             sum(iif(what = 'cut', -volume_mm3, 0)) as cut_mm3,
             sum(iif(what = 'remainder', volume_mm3, 0)) as remainders_mm3,
             sum(strips_mm3) as strips_mm3, sum(waste_mm3) as waste_mm3,
             sum(iif(what = 'gone', -volume_mm3, 0)) as gone_mm3
         from ledger_sum where month between ?1 and ?2 group by species order by species",
    )
    .bind(from_month)
    .bind(to_month)
    .fetch_all(db)
    .await
}

/// By the member whose projects used the wood, most wood in strips first.
pub async fn sum_by_member(
    db: impl SqliteExecutor<'_>,
    from_month: &str,
    to_month: &str,
) -> Result<Vec<SumsOf>> {
    sqlx::query_as(
        "select member.name as \"of\",
             sum(iif(what in ('added', 'corrected'), volume_mm3, 0)) as added_mm3,
             sum(iif(what = 'cut', -volume_mm3, 0)) as cut_mm3,
             sum(iif(what = 'remainder', volume_mm3, 0)) as remainders_mm3,
             sum(strips_mm3) as strips_mm3, sum(waste_mm3) as waste_mm3,
             sum(iif(what = 'gone', -volume_mm3, 0)) as gone_mm3
         from ledger_sum join member on member.id = ledger_sum.member_id
         where month between ?1 and ?2
         group by ledger_sum.member_id order by sum(strips_mm3) desc, member.name",
    )
    .bind(from_month)
    .bind(to_month)
    .fetch_all(db)
    .await
}

/// The species that ever came, in alphabetical order.
pub async fn list_species(db: impl SqliteExecutor<'_>) -> Result<Vec<String>> {
    sqlx::query_scalar("select distinct species from ledger_sum order by species")
        .fetch_all(db)
        .await
}

/// Everything since the first row.
pub async fn sum_all(db: impl SqliteExecutor<'_>) -> Result<Sums> {
    sqlx::query_as(
        "select coalesce(sum(iif(what in ('added', 'corrected'), volume_mm3, 0)), 0) as added_mm3,
             coalesce(sum(iif(what = 'cut', -volume_mm3, 0)), 0) as cut_mm3,
             coalesce(sum(iif(what = 'remainder', volume_mm3, 0)), 0) as remainders_mm3,
             coalesce(sum(strips_mm3), 0) as strips_mm3, coalesce(sum(waste_mm3), 0) as waste_mm3,
             coalesce(sum(iif(what = 'gone', -volume_mm3, 0)), 0) as gone_mm3
         from ledger_sum",
    )
    .fetch_one(db)
    .await
}
