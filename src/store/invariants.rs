//! What must hold in every file: each rule as a query that finds what breaks it.

use sqlx::{Row, SqliteConnection};

use super::Result;

/// A row that breaks a rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Breach {
    pub rule: &'static str,
    pub detail: String,
}

/// Each query gives one text column that names what breaks the rule.
const RULES: &[(&str, &str)] = &[
    (
        "the ledger's pieces add up to the count of every offcut",
        "select 'offcut ' || tag || ' has ' || count || ' pieces, the ledger says ' || total
         from (select offcut.tag, offcut.count,
                   (select coalesce(sum(pieces), 0) from ledger where offcut_id = offcut.id) as total from offcut)
         where count <> total",
    ),
    (
        "the ledger's volumes add up to what lies in the bins",
        "select 'offcut ' || tag || ' has ' || volume || ' mm3, the ledger says ' || total
         from (select offcut.tag, offcut.count * offcut.volume_mm3 as volume,
                   (select coalesce(sum(volume_mm3), 0) from ledger where offcut_id = offcut.id) as total from offcut)
         where volume <> total",
    ),
    (
        "the ledger's sums by month are those of its rows",
        "select 'month ' || month || ', ' || what || ', ' || species || ': ' || kept || ' mm3 kept, ' || counted || ' counted'
         from (select month, what, species, sum(kept) as kept, sum(counted) as counted
               from (select month, what, species, volume_mm3 + strips_mm3 * 3 + waste_mm3 * 7 as kept, 0 as counted
                     from ledger_sum
                     union all
                     select month, what, species, 0, volume_mm3 + strips_mm3 * 3 + waste_mm3 * 7 from ledger)
               group by month, what, species)
         where kept <> counted",
    ),
    (
        "a cut piece becomes strips, remainders and waste, and nothing is lost or made",
        "select 'offcut ' || offcut.tag || ': ' || cut || ' mm3 cut, ' || made || ' mm3 made of it'
         from (select offcut_id, -sum(volume_mm3) as cut,
                   sum(strips_mm3 + waste_mm3) + (select coalesce(sum(remainder.volume_mm3), 0)
                       from offcut as child join ledger as remainder
                           on remainder.offcut_id = child.id and remainder.what = 'remainder'
                       where child.parent_id = ledger.offcut_id) as made
               from ledger where what = 'cut' group by offcut_id)
         join offcut on offcut.id = offcut_id where cut <> made",
    ),
    (
        "no offcut has more pieces claimed than there are",
        "select 'offcut ' || tag || ' has ' || count || ' pieces, ' || held || ' are claimed'
         from (select offcut.tag, offcut.count, sum(claim.pieces) as held
               from claim join offcut on offcut.id = claim.offcut_id where claim.state = 'held' group by claim.offcut_id)
         where held > count",
    ),
    (
        "every held claim is what its layouts still have to cut",
        "select 'claim ' || id || ' holds ' || pieces || ' pieces, its layouts want ' || wanted
         from (select claim.id, claim.pieces,
                   (select coalesce(sum(copies - copies_cut), 0) from layout where claim_id = claim.id) as wanted
               from claim where claim.state = 'held')
         where pieces <> wanted and wanted > 0",
    ),
    (
        "no claim that has ended has anything left to cut",
        "select 'claim ' || claim.id || ' is ' || claim.state || ', layout ' || layout.id || ' is not cut'
         from claim join layout on layout.claim_id = claim.id
         where claim.state <> 'held' and layout.copies_cut < layout.copies",
    ),
    (
        "no resource is booked beyond its count",
        "select resource.name || ': ' || used || ' of ' || capacity || ' in use at ' || moment_at
         from (select moment.resource_id, moment.from_at as moment_at,
                   (select sum(amount) from booking_use where resource_id = moment.resource_id
                        and from_at <= moment.from_at and to_at > moment.from_at) as used
               from booking_use as moment where moment.to_at > moment.from_at)
         join resource on resource.id = resource_id where used > capacity",
    ),
    (
        "a piece that was cut from another did not come before it",
        "select 'offcut ' || child.tag || ' is older than ' || parent.tag
         from offcut as child join offcut as parent on parent.id = child.parent_id
         where child.id <= parent.id or child.added_at < parent.added_at",
    ),
];

/// Everything that is wrong, SQLite's own checks of structure and references included; empty in a
/// sound file. At most `limit` breaches of each rule are listed.
pub async fn list_breaches(db: &mut SqliteConnection, limit: usize) -> Result<Vec<Breach>> {
    let mut breaches = Vec::new();
    for text in sqlx::query_scalar::<_, String>("pragma integrity_check")
        .fetch_all(&mut *db)
        .await?
    {
        if text != "ok" {
            breaches.push(Breach {
                rule: "the file's structure is sound",
                detail: text,
            });
        }
    }
    for row in sqlx::query("pragma foreign_key_check")
        .fetch_all(&mut *db)
        .await?
        .iter()
        .take(limit)
    {
        let (table, parent): (String, String) = (row.try_get(0)?, row.try_get(2)?);
        let detail = format!("a row of {table} points to a row of {parent} that is not there");
        breaches.push(Breach {
            rule: "every reference points to a row",
            detail,
        });
    }
    for (rule, sql) in RULES {
        let found: Vec<String> = sqlx::query_scalar(*sql).fetch_all(&mut *db).await?;
        breaches.extend(
            found
                .into_iter()
                .take(limit)
                .map(|detail| Breach { rule, detail }),
        );
    }
    Ok(breaches)
}

/// Figures by which a copy of a file can be compared with the file.
#[derive(Clone, Debug, PartialEq, Eq, sqlx::FromRow)]
pub struct Totals {
    pub members: i64,
    pub offcuts: i64,
    pub pieces: i64,
    pub volume_mm3: i64,
    pub projects: i64,
    pub claims: i64,
    pub bookings: i64,
    pub ledger_rows: i64,
    pub ledger_mm3: i64,
    pub changes: i64,
}

pub async fn totals(db: &mut SqliteConnection) -> Result<Totals> {
    sqlx::query_as(
        "select (select count(*) from member) as members,
             (select count(*) from offcut) as offcuts,
             (select coalesce(sum(count), 0) from offcut) as pieces,
             (select coalesce(sum(count * volume_mm3), 0) from offcut) as volume_mm3,
             (select count(*) from project) as projects,
             (select count(*) from claim) as claims,
             (select count(*) from booking) as bookings,
             (select count(*) from ledger) as ledger_rows,
             (select coalesce(sum(volume_mm3), 0) from ledger) as ledger_mm3,
             (select count(*) from change) as changes",
    )
    .fetch_one(db)
    .await
}
