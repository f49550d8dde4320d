//! Lists and sums that must stay quick after years say the same as the plain way.

use jiff::Timestamp;
use scrapwright::app::offcut::{BrokenClaims, take_away};
use scrapwright::app::{claim, matching};
use scrapwright::store::ledger::{self, Entry, Search as LedgerSearch, Sums, What};
use scrapwright::store::offcut::{self, Offcut, OffcutState, Search, Show};
use scrapwright::store::{By, OffcutId, bin};
use sqlx::AssertSqlSafe;

use super::bench::{Bench, MOMENT, inches};

fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

#[tokio::test]
async fn sums_of_whole_months_and_of_what_is_left_at_both_ends_are_those_of_the_rows() {
    let bench = Bench::new().await;
    let piece = bench
        .add(&bench.maple(inches(24, 1), inches(3, 1), 1))
        .await;
    let mut db = bench.app.store.begin().await.unwrap();
    // In New York a month begins four or five hours after it has begun in UTC.
    sqlx::query("update workshop set time_zone = 'America/New_York'")
        .execute(&mut *db)
        .await
        .unwrap();
    let moments = [
        "2027-03-31T23:00:00Z",
        "2027-04-01T03:59:59Z",
        "2027-04-01T04:00:00Z",
        "2027-04-17T12:00:00Z",
        "2027-05-01T03:59:59Z",
        "2027-05-31T12:00:00Z",
        "2027-06-01T04:00:00Z",
        "2027-11-01T04:30:00Z",
    ];
    for (number, moment) in moments.iter().enumerate() {
        for (species, what) in [
            ("hard maple", What::Added),
            ("hard maple", What::Gone),
            ("black walnut", What::Cut),
        ] {
            let sign = if what == What::Added { 1 } else { -1 };
            let entry = Entry {
                what,
                offcut: piece,
                project: None,
                species: species.to_owned(),
                pieces: 0,
                volume_mm3: sign * 10_i64.pow(u32::try_from(number).unwrap()),
                strips_mm3: 0,
                waste_mm3: 0,
                why: String::new(),
            };
            let by = By::member(bench.ada, at(moment));
            ledger::append(&mut db, by, &entry).await.unwrap();
        }
    }
    let spans = [
        (None, None),
        (Some("2027-04-01T04:00:00Z"), Some("2027-06-01T04:00:00Z")),
        (Some("2027-03-31T04:00:00Z"), Some("2027-05-02T04:00:00Z")),
        (Some("2027-04-10T04:00:00Z"), Some("2027-04-20T04:00:00Z")),
        (Some("2027-04-10T04:00:00Z"), Some("2027-05-10T04:00:00Z")),
        (Some("2027-04-10T04:00:00Z"), None),
        (None, Some("2027-05-10T04:00:00Z")),
        (Some("2027-06-01T04:00:00Z"), Some("2027-04-01T04:00:00Z")),
    ];
    for (from, to) in spans {
        for species in [None, Some("hard maple"), Some("black walnut")] {
            for what in [None, Some(What::Added), Some(What::Cut)] {
                let search = LedgerSearch {
                    what,
                    species: species.map(str::to_owned),
                    from: from.map(at),
                    to: to.map(at),
                    limit: 1000,
                    ..LedgerSearch::default()
                };
                let rows = ledger::list(&mut *db, &search).await.unwrap();
                let total = |what: What| -> i64 {
                    let of = rows.iter().filter(|row| row.what == what);
                    of.map(|row| row.volume_mm3.abs()).sum()
                };
                let expected = Sums {
                    added_mm3: total(What::Added),
                    cut_mm3: total(What::Cut),
                    gone_mm3: total(What::Gone),
                    ..Sums::default()
                };
                let sums = ledger::sum(&mut db, &search).await.unwrap();
                assert_eq!(sums, expected, "{search:?}");
            }
        }
    }
}

fn shown(found: &[Offcut]) -> Vec<i64> {
    found.iter().map(|piece| piece.id.0).collect()
}

#[tokio::test]
async fn each_state_is_searched_by_bin_species_and_page() {
    let bench = Bench::new().await;
    let mut ids = Vec::new();
    for _ in 0..6 {
        ids.push(
            bench
                .add(&bench.maple(inches(24, 1), inches(3, 1), 1))
                .await,
        );
    }
    let project = bench.project(bench.ada, 2).await;
    matching::find(&bench.app, bench.by(), project, MOMENT, |_| {})
        .await
        .unwrap();
    let mut db = bench.app.store.begin().await.unwrap();
    claim::claim_match(&mut db, bench.by(), bench.ada, project)
        .await
        .unwrap();
    db.commit().await.unwrap();
    let list =
        async |search: Search| shown(&offcut::list(bench.app.store.read(), &search).await.unwrap());
    let of = |show| Search {
        show,
        ..Search::default()
    };
    let claimed = list(of(Show::Claimed)).await;
    assert!(!claimed.is_empty());
    let free = list(of(Show::Free)).await;
    assert_eq!(free.len() + claimed.len(), 6);
    assert_eq!(list(of(Show::InBin)).await, [6, 5, 4, 3, 2, 1]);
    let mut db = bench.app.store.begin().await.unwrap();
    let gone = OffcutId(free[0]);
    take_away(&mut db, bench.by(), gone, 1, "burnt", BrokenClaims::Refuse)
        .await
        .unwrap();
    db.commit().await.unwrap();
    assert_eq!(list(of(Show::Gone)).await, [gone.0]);
    assert_eq!(list(of(Show::All)).await, [6, 5, 4, 3, 2, 1]);
    assert_eq!(list(of(Show::InBin)).await.len(), 5);
    let page = Search {
        bin: Some(bench.bin),
        before: Some(OffcutId(4)),
        limit: 2,
        ..of(Show::InBin)
    };
    let expected: Vec<i64> = [3, 2, 1]
        .into_iter()
        .filter(|id| *id != gone.0)
        .take(2)
        .collect();
    assert_eq!(list(page).await, expected);
    let walnut = Search {
        species: Some("black walnut".to_owned()),
        ..of(Show::Free)
    };
    assert!(list(walnut).await.is_empty());
    bench.assert_sound().await;
}

#[tokio::test]
async fn what_a_bin_holds_follows_whatever_happens_to_its_pieces() {
    let bench = Bench::new().await;
    let first = bench
        .add(&bench.maple(inches(24, 1), inches(3, 1), 2))
        .await;
    bench
        .add(&bench.maple(inches(12, 1), inches(3, 1), 1))
        .await;
    let mut db = bench.app.store.begin().await.unwrap();
    let second_bin = "insert into bin (id, name) values (2, 'B2')";
    sqlx::query(second_bin).execute(&mut *db).await.unwrap();
    db.commit().await.unwrap();
    // 24 x 3 x 7/8 in is 63 cubic inches, 1 032 385 mm3; half of that 516 193.
    for (what, expected) in [
        ("note = 'x'", [(2, 3, 2_580_963), (0, 0, 0)]),
        ("bin_id = 2", [(1, 1, 516_193), (1, 2, 2_064_770)]),
        ("count = 1", [(1, 1, 516_193), (1, 1, 1_032_385)]),
        ("volume_mm3 = 5", [(1, 1, 516_193), (1, 1, 5)]),
        ("species = 'black cherry'", [(1, 1, 516_193), (1, 1, 5)]),
        ("count = 0, state = 'gone'", [(1, 1, 516_193), (0, 0, 0)]),
        (
            "count = 3, state = 'in bin', bin_id = 1",
            [(2, 4, 516_208), (0, 0, 0)],
        ),
    ] {
        let mut db = bench.app.store.begin().await.unwrap();
        let change = format!("update offcut set {what} where id = {first}");
        sqlx::query(AssertSqlSafe(change))
            .execute(&mut *db)
            .await
            .unwrap();
        db.commit().await.unwrap();
        let bins = bin::list(bench.app.store.read()).await.unwrap();
        let held: Vec<(i64, i64, i64)> = bins
            .iter()
            .map(|bin| (bin.tags, bin.pieces, bin.volume_mm3))
            .collect();
        assert_eq!(held, expected, "{what}");
    }
    assert_eq!(bench.offcut(first).await.state, OffcutState::InBin);
    let species = offcut::list_species(bench.app.store.read()).await.unwrap();
    assert_eq!(species, ["black cherry", "hard maple"]);
}
