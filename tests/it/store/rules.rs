//! The database's own rules: each is tried with raw SQL and must hold whatever the program does.

use scrapwright::store::Refusal;
use sqlx::AssertSqlSafe;

use super::bench::Bench;

/// A maple piece of three, a project, a claim on two of the pieces, four clamps and a booking of
/// three of them for an hour.
const STOCK: &str = "
    insert into offcut (id, tag, species, length_nm, width_nm, thickness_nm, volume_mm3, count, bin_id, added_at)
    values (10, 'T10', 'hard maple', 500000000, 80000000, 20000000, 800000, 3, 1, 0);
    insert into project (id, member_id, name, kind, design, created_at) values (20, 1, 'Board', 'striped-board', '{}', 0);
    insert into claim (id, project_id, offcut_id, pieces, last_day, claimed_by, claimed_at)
    values (30, 20, 10, 2, '2027-03-15', 1, 0);
    insert into layout (id, project_id, position, claim_id, copies, cut) values (40, 20, 0, 30, 2, '{}');
    insert into resource (id, kind, name, capacity, reach_nm) values (50, 'clamp set', 'long clamps', 4, 600000000);
    insert into booking (id, project_id, step, kind, name, from_at, to_at, attended, changed_at)
    values (60, 20, 'glue-up', 'glue-up', 'Glue up', 3600, 7200, 1, 0);
    insert into booking_use (id, booking_id, resource_id, amount, from_at, to_at) values (70, 60, 50, 3, 3600, 7200);
    insert into ledger (id, at, month, what, offcut_id, species, pieces, volume_mm3)
    values (80, 0, '1970-01', 'added', 10, 'hard maple', 3, 2400000);
";

/// Runs the statement on the stock and gives the database's answer, as the store understands it.
async fn answer(bench: &Bench, sql: &'static str) -> Result<u64, String> {
    let mut db = bench.app.store.begin().await.unwrap();
    sqlx::raw_sql(STOCK).execute(&mut *db).await.unwrap();
    // Rolled back when dropped, so that every rule meets the same stock.
    let done = sqlx::raw_sql(AssertSqlSafe(sql)).execute(&mut *db).await;
    done.map(|done| done.rows_affected())
        .map_err(|error| format!("{:?}", Refusal::from(error)))
}

#[tokio::test]
async fn what_breaks_a_rule_is_refused_by_the_database_itself() {
    let bench = Bench::new().await;
    let claim = "insert into claim (project_id, offcut_id, pieces, last_day, claimed_by, claimed_at) values ";
    let used = "insert into booking_use (booking_id, resource_id, amount, from_at, to_at) values ";
    for (why, sql, expected) in [
        ("two claims on one piece", format!("{claim} (20, 10, 2, '2027-03-15', 1, 0)"), "PieceAlreadyClaimed"),
        ("a claim on a piece that is not there", format!("{claim} (20, 99, 1, '2027-03-15', 1, 0)"), "Reference"),
        ("a claim that grows beyond what is free", "update claim set pieces = 4 where id = 30".into(), "PieceAlreadyClaimed"),
        ("a claim on nothing", format!("{claim} (20, 10, 0, '2027-03-15', 1, 0)"), "Check("),
        ("an end without a time", "update claim set state = 'let go' where id = 30".into(), "Check("),
        ("a claim that comes back",
            "update claim set state = 'lapsed', ended_at = 1 where id = 30;
             update claim set state = 'held', ended_at = null where id = 30".into(), "ClaimAlreadyEnded"),
        ("a claim cut that has pieces", "update claim set state = 'cut', ended_at = 1 where id = 30".into(), "Check("),
        ("pieces that vanish under a claim", "update offcut set count = 1 where id = 10".into(), "PiecesAreClaimed"),
        ("fewer than no pieces", "update offcut set count = -1 where id = 10".into(), "PiecesAreClaimed"),
        ("a piece that is gone and there", "update offcut set state = 'gone' where id = 10".into(), "Check("),
        ("a piece in no bin", "update offcut set bin_id = null where id = 10".into(), "Check("),
        ("a bin removed under its pieces", "delete from bin where id = 1".into(), "Reference"),
        ("two pieces with one tag",
            "insert into offcut (tag, species, length_nm, width_nm, thickness_nm, volume_mm3, count, bin_id, added_at)
             values ('t10', 'cherry', 1, 1, 1, 0, 1, 1, 0)".into(), "Taken(\"offcut.tag\")"),
        ("a piece without size", "update offcut set width_nm = 0 where id = 10".into(), "Check("),
        ("more copies cut than there are", "update layout set copies_cut = 3 where id = 40".into(), "Check("),
        ("a layout of nothing", "update layout set claim_id = null where id = 40".into(), "Check("),
        ("a clamp too many at the start", format!("{used} (60, 50, 2, 0, 3660)"), "ResourceInUse"),
        ("a clamp too many inside", format!("{used} (60, 50, 2, 3000, 9000)"), "ResourceInUse"),
        ("a clamp too many at the end", format!("{used} (60, 50, 2, 7140, 9000)"), "ResourceInUse"),
        ("more clamps than there are", format!("{used} (60, 50, 5, 9000, 9600)"), "ResourceInUse"),
        ("a use that is moved in place", "update booking_use set amount = 4 where id = 70".into(), "a use is replaced"),
        ("clamps taken away while in use", "update resource set capacity = 2 where id = 50".into(), "ResourceInUse"),
        ("clamps taken away before their use has ended",
            "update resource set capacity = 2, changed_at = 7199 where id = 50".into(), "ResourceInUse"),
        ("a clamp set without reach", "update resource set reach_nm = null where id = 50".into(), "Check("),
        ("a booking that ends before it starts", "update booking set to_at = 3540 where id = 60".into(), "Check("),
        ("a booking off the minute", "update booking set from_at = 3601 where id = 60".into(), "Check("),
        ("a ledger row that changes", "update ledger set pieces = 4 where id = 80".into(), "OnlyAddedTo"),
        ("a ledger row that vanishes", "delete from ledger where id = 80".into(), "OnlyAddedTo"),
        ("a member removed under their project", "delete from member where id = 1".into(), "Reference"),
        ("a second workshop",
            "insert into workshop (id, name, time_zone, settings, changed_at) values (2, 'x', 'UTC', '{}', 0)".into(), "Check("),
        ("settings that are no JSON", "update workshop set settings = '{'".into(), "Check("),
        ("an unknown stage", "update project set stage = 'lost' where id = 20".into(), "Check("),
    ] {
        match answer(&bench, sql.leak()).await {
            Ok(_) => panic!("{why} was let in"),
            Err(error) => assert!(error.contains(expected), "{why}: {error}"),
        }
    }
}

#[tokio::test]
async fn what_keeps_the_rules_is_let_in() {
    let bench = Bench::new().await;
    for sql in [
        "insert into claim (project_id, offcut_id, pieces, last_day, claimed_by, claimed_at)
         values (20, 10, 1, '2027-03-15', 1, 0)",
        "update claim set state = 'let go', ended_at = 1 where id = 30;
         update offcut set count = 0, state = 'gone' where id = 10",
        // Half open: what ends at an instant is free at that instant.
        "insert into booking_use (booking_id, resource_id, amount, from_at, to_at) values (60, 50, 4, 7200, 9000)",
        "insert into booking_use (booking_id, resource_id, amount, from_at, to_at) values (60, 50, 4, 0, 3600)",
        "insert into booking_use (booking_id, resource_id, amount, from_at, to_at) values (60, 50, 1, 0, 9000)",
        "update resource set capacity = 3 where id = 50",
        // What was in use before the clamps broke does not bring them back.
        "update resource set capacity = 2, changed_at = 7200 where id = 50",
    ] {
        assert_eq!(answer(&bench, sql).await.err(), None, "{sql}");
    }
}
