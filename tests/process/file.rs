//! Reading a workshop's file with SQL that the program does not have.

use std::collections::BTreeMap;
use std::path::Path;

use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{Connection as _, Row as _, SqliteConnection};

/// Runs every statement, and gives the rows of the last one as texts.
pub fn ask(path: &Path, statements: &[&'static str]) -> Vec<Vec<String>> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime.block_on(async {
        let options = SqliteConnectOptions::new().filename(path);
        let mut db = SqliteConnection::connect_with(&options).await.unwrap();
        let mut last = Vec::new();
        for statement in statements {
            last = sqlx::query(*statement).fetch_all(&mut db).await.unwrap();
        }
        let texts = last
            .iter()
            .map(|row| (0..row.len()).map(|at| row.get(at)).collect())
            .collect();
        db.close().await.unwrap();
        texts
    })
}

/// Rows of an identity and a count.
pub fn counts(path: &Path, statement: &'static str) -> BTreeMap<i64, i64> {
    ask(path, &[statement])
        .iter()
        .map(|row| (row[0].parse().unwrap(), row[1].parse().unwrap()))
        .collect()
}

/// Structure, claims, clamps and the ledger, counted anew.
pub fn assert_sound(path: &Path) {
    assert_eq!(ask(path, &["pragma integrity_check"]), [["ok"]]);
    assert!(
        ask(
            path,
            &["select cast(\"table\" as text) from pragma_foreign_key_check"]
        )
        .is_empty()
    );

    let there = counts(
        path,
        "select cast(id as text), cast(count as text) from offcut",
    );
    let held = counts(
        path,
        "select cast(offcut_id as text), cast(sum(pieces) as text) from claim where ended_at is null group by 1",
    );
    for (piece, held) in held {
        assert!(held <= there[&piece], "{held} of piece {piece} are claimed");
    }
    let booked = counts(
        path,
        "select cast(offcut_id as text), cast(sum(pieces) as text) from ledger group by 1",
    );
    assert_eq!(booked, there, "the ledger and the bins differ");

    let capacity = counts(
        path,
        "select cast(id as text), cast(capacity as text) from resource",
    );
    let mut moments: Vec<(i64, i64, i64)> = Vec::new();
    for row in ask(
        path,
        &[
            "select cast(resource_id as text), cast(from_at as text), cast(to_at as text), cast(amount as text) from booking_use",
        ],
    ) {
        let row: Vec<i64> = row.iter().map(|text| text.parse().unwrap()).collect();
        moments.push((row[0], row[1], row[3]));
        moments.push((row[0], row[2], -row[3]));
    }
    // At the same moment what ends comes before what begins, as a negative amount sorts first.
    moments.sort_unstable();
    let mut used = BTreeMap::<i64, i64>::new();
    for (resource, at, amount) in moments {
        let used = used.entry(resource).or_default();
        *used += amount;
        assert!(
            *used <= capacity[&resource],
            "{used} of resource {resource} at {at}"
        );
    }
}

/// Lends clamps and a glue bench, and opens every day. Pages of stewards do the same.
pub fn lend(path: &Path) {
    ask(
        path,
        &[
            "insert into resource (kind, name, capacity, reach_nm) values ('clamp set', 'long clamps', 9, 914400000)",
            "insert into resource (kind, name, capacity) values ('glue bench', 'glue bench', 1)",
            "insert into weekly_opening (weekday, from_minute, to_minute, from_day)
             select value, 540, 1260, '2020-01-01' from json_each('[1, 2, 3, 4, 5, 6, 7]')",
        ],
    );
}
