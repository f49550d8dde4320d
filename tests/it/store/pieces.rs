//! Pieces at the bins: added, corrected, moved, taken away, with the ledger beside them.

use scrapwright::app::offcut::{self as pieces, BrokenClaims, OffcutError};
use scrapwright::store::ledger::{self, What};
use scrapwright::store::offcut::{self, OffcutState, Search, Show, Unusable};
use scrapwright::store::{BinId, OffcutId};
use scrapwright::units::Length;

use super::bench::{Bench, inches};

async fn history(bench: &Bench, id: OffcutId) -> Vec<(What, i64, i64)> {
    let rows = ledger::list_of_offcut(bench.app.store.read(), id)
        .await
        .unwrap();
    rows.iter()
        .map(|row| (row.what, row.pieces, row.volume_mm3))
        .collect()
}

#[tokio::test]
async fn a_piece_gets_the_next_tag_and_its_row_in_the_ledger() {
    let bench = Bench::new().await;
    let first = bench
        .add(&bench.maple(inches(24, 1), inches(3, 1), 2))
        .await;
    let second = bench
        .add(&bench.maple(inches(12, 1), inches(3, 1), 1))
        .await;
    assert_eq!(bench.offcut(first).await.tag, "A001");
    assert_eq!(bench.offcut(second).await.tag, "A002");
    // 24 x 3 x 7/8 in is 63 cubic inches; one cubic inch is 16 387.064 mm3.
    assert_eq!(bench.offcut(first).await.volume_mm3, 1_032_385);
    assert_eq!(history(&bench, first).await, [(What::Added, 2, 2_064_770)]);
    bench.assert_sound().await;
}

#[tokio::test]
async fn every_flaw_of_a_piece_is_reported_at_once_and_nothing_is_stored() {
    let bench = Bench::new().await;
    let mut piece = bench.maple(inches(24, 1), Length::ZERO, 0);
    piece.species = "hard mapel".to_owned();
    piece.bin = BinId(77);
    piece.unusable = vec![Unusable {
        from: inches(20, 1),
        to: inches(30, 1),
        why: "split".into(),
    }];
    let good = bench.maple(inches(24, 1), inches(3, 1), 1);
    let mut db = bench.app.store.begin().await.unwrap();
    let error = pieces::add_many(&mut db, bench.by(), &[(good, None), (piece, None)]).await;
    let Err(OffcutError::Wrong(flaws)) = error else {
        panic!("{error:?}")
    };
    let pointers: Vec<&str> = flaws.iter().map(|flaw| flaw.pointer.as_str()).collect();
    assert_eq!(
        pointers,
        [
            "/1/species",
            "/1/width",
            "/1/count",
            "/1/unusable/0",
            "/1/bin"
        ]
    );
    assert!(
        flaws[0].detail.contains("hard maple"),
        "{}",
        flaws[0].detail
    );
    drop(db);
    assert_eq!(
        offcut::list(bench.app.store.read(), &Search::default())
            .await
            .unwrap(),
        []
    );
}

#[tokio::test]
async fn many_pieces_come_together_and_a_typed_tag_is_kept() {
    let bench = Bench::new().await;
    let piece = bench.maple(inches(24, 1), inches(3, 1), 1);
    let mut db = bench.app.store.begin().await.unwrap();
    let list = [
        (piece.clone(), Some("A001".to_owned())),
        (piece.clone(), None),
    ];
    let ids = pieces::add_many(&mut db, bench.by(), &list).await.unwrap();
    let twice = [
        (piece.clone(), Some("x9".to_owned())),
        (piece, Some("X9".to_owned())),
    ];
    let error = pieces::add_many(&mut db, bench.by(), &twice).await;
    assert!(matches!(error, Err(OffcutError::Wrong(flaws)) if flaws[0].pointer == "/1/tag"));
    db.commit().await.unwrap();
    // A001 was taken by hand, so the next number was used.
    assert_eq!(bench.offcut(ids[1]).await.tag, "A002");
}

#[tokio::test]
async fn a_correction_keeps_the_ledger_equal_to_the_bin() {
    let bench = Bench::new().await;
    let id = bench
        .add(&bench.maple(inches(24, 1), inches(3, 1), 3))
        .await;
    let mut piece = bench.maple(inches(20, 1), inches(3, 1), 2);
    let edit = async |version, piece: &_| {
        let mut db = bench.app.store.begin().await.unwrap();
        let done = pieces::edit(
            &mut db,
            bench.by(),
            id,
            version,
            piece,
            "measured again",
            BrokenClaims::Refuse,
        )
        .await;
        db.commit().await.unwrap();
        done
    };
    edit(1, &piece).await.unwrap();
    bench.assert_sound().await;
    assert!(matches!(edit(1, &piece).await, Err(OffcutError::Stale)));
    // Another name of red maple, which is stored under its own.
    piece.species = "soft maple".to_owned();
    edit(2, &piece).await.unwrap();
    bench.assert_sound().await;
    let rows = history(&bench, id).await;
    assert_eq!(rows.len(), 4);
    assert_eq!(rows.iter().map(|row| row.1).sum::<i64>(), 2);
    let species = offcut::stock_by_species(bench.app.store.read())
        .await
        .unwrap();
    assert_eq!(species.len(), 1);
    assert_eq!(
        (species[0].of.as_str(), species[0].stock.pieces),
        ("red maple", 2)
    );
}

#[tokio::test]
async fn pieces_that_went_are_counted_out_and_the_last_one_ends_the_tag() {
    let bench = Bench::new().await;
    let id = bench
        .add(&bench.maple(inches(24, 1), inches(3, 1), 3))
        .await;
    let take = async |count| {
        let mut db = bench.app.store.begin().await.unwrap();
        let done = pieces::take_away(
            &mut db,
            bench.by(),
            id,
            count,
            "kindling",
            BrokenClaims::Refuse,
        )
        .await;
        db.commit().await.unwrap();
        done
    };
    take(1).await.unwrap();
    assert!(matches!(take(3).await, Err(OffcutError::Wrong(_))));
    take(2).await.unwrap();
    let piece = bench.offcut(id).await;
    assert_eq!((piece.count, piece.state), (0, OffcutState::Gone));
    bench.assert_sound().await;
}

#[tokio::test]
async fn a_search_finds_what_is_long_wide_and_thick_enough_page_by_page() {
    let bench = Bench::new().await;
    for width in 1..=5 {
        bench
            .add(&bench.maple(inches(24, 1), inches(width, 1), 1))
            .await;
    }
    let search = |before| Search {
        show: Show::Free,
        least_width: Some(inches(2, 1)),
        least_thickness: Some(inches(3, 4)),
        before,
        limit: 3,
        ..Search::default()
    };
    let first = offcut::list(bench.app.store.read(), &search(None))
        .await
        .unwrap();
    let tags = |page: &[offcut::Offcut]| -> Vec<String> {
        page.iter().map(|offcut| offcut.tag.clone()).collect()
    };
    assert_eq!(tags(&first), ["A005", "A004", "A003"]);
    let second = search(first.last().map(|offcut| offcut.id));
    let second = offcut::list(bench.app.store.read(), &second).await.unwrap();
    assert_eq!(tags(&second), ["A002"]);
    let text = Search {
        text: Some("a00".to_owned()),
        ..Search::default()
    };
    assert_eq!(
        offcut::list(bench.app.store.read(), &text)
            .await
            .unwrap()
            .len(),
        5
    );
}
