//! What must hold in every file: each rule as a query that finds what breaks it.

use sqlx::{Row, SqliteConnection};

use super::Result;

/// A row that breaks a rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Breach {
    pub rule: &'static str,
    pub detail: String,
}

/// Each query gives one text column that names what breaks the rule. A file that no program of today has opened yet may lack
/// what the last rules ask about, so each names the migration from which on it holds.
const RULES: &[(i64, &str, &str)] = &[
    (
        1,
        "the ledger's pieces add up to the count of every offcut",
        "select 'offcut ' || tag || ' has ' || count || ' pieces, the ledger says ' || total
         from (select offcut.tag, offcut.count,
                   (select coalesce(sum(pieces), 0) from ledger where offcut_id = offcut.id) as total from offcut)
         where count <> total",
    ),
    (
        1,
        "the ledger's volumes add up to what lies in the bins",
        "select 'offcut ' || tag || ' has ' || volume || ' mm3, the ledger says ' || total
         from (select offcut.tag, offcut.count * offcut.volume_mm3 as volume,
                   (select coalesce(sum(volume_mm3), 0) from ledger where offcut_id = offcut.id) as total from offcut)
         where volume <> total",
    ),
    (
        1,
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
        1,
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
        1,
        "no offcut has more pieces claimed than there are",
        "select 'offcut ' || tag || ' has ' || count || ' pieces, ' || held || ' are claimed'
         from (select offcut.tag, offcut.count, sum(claim.pieces) as held
               from claim join offcut on offcut.id = claim.offcut_id where claim.state = 'held' group by claim.offcut_id)
         where held > count",
    ),
    (
        1,
        "every held claim is what its layouts still have to cut",
        "select 'claim ' || id || ' holds ' || pieces || ' pieces, its layouts want ' || wanted
         from (select claim.id, claim.pieces,
                   (select coalesce(sum(copies - copies_cut), 0) from layout where claim_id = claim.id) as wanted
               from claim where claim.state = 'held')
         where pieces <> wanted and wanted > 0",
    ),
    (
        1,
        "no claim that has ended has anything left to cut",
        "select 'claim ' || claim.id || ' is ' || claim.state || ', layout ' || layout.id || ' is not cut'
         from claim join layout on layout.claim_id = claim.id
         where claim.state <> 'held' and layout.copies_cut < layout.copies",
    ),
    (
        1,
        "no resource is booked beyond its count, from when that was last changed on",
        // A file of the first form has no `resource.changed_at`; there the name means the 0 beside it.
        "with span as (
             select resource_id, to_at, amount, max(from_at, (select changed_at from resource where id = resource_id)) as from_at
             from booking_use, (select 0 as changed_at) as never)
         select name || ': ' || used || ' of ' || capacity || ' in use at ' || at
         from (select resource_id, at, sum(amount) over (partition by resource_id order by at, amount rows unbounded preceding) as used
               from (select resource_id, from_at as at, amount from span where to_at > from_at
                     union all
                     select resource_id, to_at, -amount from span where to_at > from_at))
         join resource on resource.id = resource_id where used > capacity",
    ),
    (
        1,
        "a piece that was cut from another did not come before it",
        "select 'offcut ' || child.tag || ' is older than ' || parent.tag
         from offcut as child join offcut as parent on parent.id = child.parent_id
         where child.id <= parent.id or child.added_at < parent.added_at",
    ),
    (
        2,
        "what is said to lie in each bin is what lies there",
        "select 'bin ' || bin_id || ', ' || species || ': ' || sum(said) || ' said, ' || sum(there) || ' there'
         from (select bin_id, species, tags + pieces * 3 + volume_mm3 * 7 as said, 0 as there from stock
               union all
               select bin_id, species, 0, 1 + count * 3 + count * volume_mm3 * 7 from offcut where count > 0)
         group by bin_id, species having sum(said) <> sum(there)",
    ),
    (
        4,
        "whatever an earlier book left in its bins is carried over",
        "select earlier_tag || ', ' || species || ': ' || sum(pieces) || ' pieces, ' || sum(volume_mm3) || ' mm3 are left'
         from ledger where earlier_tag is not null group by earlier_tag, species
         having sum(pieces) <> 0 or sum(volume_mm3) <> 0",
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
    let form: i64 = sqlx::query_scalar("select max(version) from _sqlx_migrations")
        .fetch_one(&mut *db)
        .await?;
    for (_, rule, sql) in RULES.iter().filter(|(since, _, _)| *since <= form) {
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
