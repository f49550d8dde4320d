//! Several projects matched at once: shared pieces, fair shares, all or nothing.

use scrapwright::app::claim as claims;
use scrapwright::app::cut;
use scrapwright::app::matching;
use scrapwright::app::together::{self, Accepted, TogetherError};
use scrapwright::store::project::{self, Stage};
use scrapwright::store::{ProjectId, claim, layout, ledger};
use scrapwright::wire::kept_match::KeptLayout;

use super::bench::{Bench, MOMENT, inches};

async fn stage(bench: &Bench, id: ProjectId) -> Stage {
    project::find(bench.app.store.read(), id)
        .await
        .unwrap()
        .unwrap()
        .stage
}

#[tokio::test]
async fn one_piece_serves_two_boards_and_the_gain_is_shown() {
    let bench = Bench::new().await;
    bench
        .add(&bench.maple(inches(13, 1), inches(8, 1), 2))
        .await;
    let one = bench.project(bench.ada, 2).await;
    let other = bench.project(bench.ben, 2).await;
    let (id, found) = together::propose(
        &bench.app,
        bench.by(),
        bench.ada,
        &[other, one],
        MOMENT * 2,
        |_| {},
    )
    .await
    .unwrap();
    assert_eq!((found.together.covered, found.one_by_one.covered), (4, 4));
    assert_eq!((found.together.touched, found.one_by_one.touched), (1, 2));
    assert!(found.together.net_wood_mm3 < found.one_by_one.net_wood_mm3);
    assert_eq!(found.cutters.len(), 1);

    let mut db = bench.app.store.begin().await.unwrap();
    let (again, asked_by, is_accepted) = together::find(&mut db, id).await.unwrap();
    assert_eq!(
        (&again.kept.outcome.layouts, asked_by),
        (&found.kept.outcome.layouts, bench.ada)
    );
    assert!(!is_accepted);
    // Both have to agree; until then nothing is held.
    for _ in 0..2 {
        let waits = together::accept(&mut db, bench.by(), bench.ada, false, id).await;
        assert_eq!(waits.unwrap(), Accepted::WaitsFor(vec!["Ben".to_owned()]));
    }
    let held = claim::list_of_project(&mut *db, one).await.unwrap();
    assert_eq!(held, Vec::new());
    let waiting = together::waiting_for(&mut db, bench.ben).await.unwrap();
    assert_eq!(waiting.len(), 1);
    let by_ben = bench.by_member(bench.ben);
    let claimed = together::accept(&mut db, by_ben, bench.ben, false, id).await;
    let Ok(Accepted::Claimed(claimed)) = claimed else {
        panic!("{claimed:?}");
    };
    assert_eq!(claimed.len(), 1, "one holds the piece for both");
    let twice = together::accept(&mut db, bench.by(), bench.ada, true, id).await;
    assert!(matches!(twice, Err(TogetherError::AlreadyAccepted)));
    db.commit().await.unwrap();
    assert_eq!(stage(&bench, one).await, Stage::Claimed);
    assert_eq!(stage(&bench, other).await, Stage::Claimed);
    bench.assert_sound().await;

    let cutter = found.cutters[0];
    let guest = if cutter == one { other } else { one };
    let shared = layout::list_shared_with_project(bench.app.store.read(), guest)
        .await
        .unwrap();
    assert_eq!(shared.len(), 1);
    let kept = KeptLayout::parse(&shared[0].cut).unwrap();
    let remainders = cut::expected_remainders(&kept, bench.bin);
    let mut db = bench.app.store.begin().await.unwrap();
    cut::cut(&mut db, bench.by(), shared[0].id, 1, &remainders)
        .await
        .unwrap();
    db.commit().await.unwrap();
    assert_eq!(stage(&bench, one).await, Stage::Milled);
    assert_eq!(stage(&bench, other).await, Stage::Milled);
    bench.assert_sound().await;
    // Each project's wood is in its own row: two strips of 12 1/2 x 1 1/2 x 7/8 in each.
    for project in [one, other] {
        let search = ledger::Search {
            project: Some(project),
            limit: 10,
            ..Default::default()
        };
        let rows = ledger::list(bench.app.store.read(), &search).await.unwrap();
        let strips: i64 = rows.iter().map(|row| row.strips_mm3).sum();
        assert!((strips - 537_701).abs() <= 2, "{strips}");
    }
}

#[tokio::test]
async fn where_there_is_too_little_whoever_claimed_least_goes_first() {
    let bench = Bench::new().await;
    bench
        .add(&bench.maple(inches(13, 1), inches(2, 1), 1))
        .await;
    let earlier = bench.project(bench.ada, 2).await;
    matching::find(&bench.app, bench.by(), earlier, MOMENT, |_| {})
        .await
        .unwrap();
    let mut db = bench.app.store.begin().await.unwrap();
    claims::claim_match(&mut db, bench.by(), bench.ada, earlier)
        .await
        .unwrap();
    db.commit().await.unwrap();

    bench
        .add(&bench.maple(inches(13, 1), inches(8, 1), 1))
        .await;
    let adas = bench.project(bench.ada, 4).await;
    let bens = bench.project(bench.ben, 4).await;
    let (id, found) = together::propose(
        &bench.app,
        bench.by(),
        bench.ada,
        &[adas, bens],
        MOMENT * 2,
        |_| {},
    )
    .await
    .unwrap();
    let covered: Vec<(&str, u32)> = found
        .portions
        .iter()
        .map(|portion| (portion.member_name.as_str(), portion.covered))
        .collect();
    // Eight inches give five strips of 1 1/2 in with four kerfs of 1/8 in between them.
    assert_eq!(covered, [("Ben", 4), ("Ada", 1)]);
    assert!(
        found
            .kept
            .outcome
            .uncovered
            .iter()
            .all(|missing| !missing.why.is_empty())
    );

    // Somebody takes the piece in between: nothing is claimed for anybody.
    matching::find(&bench.app, bench.by(), adas, MOMENT, |_| {})
        .await
        .unwrap();
    let mut db = bench.app.store.begin().await.unwrap();
    claims::claim_match(&mut db, bench.by(), bench.ada, adas)
        .await
        .unwrap();
    db.commit().await.unwrap();
    let mut db = bench.app.store.begin().await.unwrap();
    let error = together::accept(&mut db, bench.by(), bench.ada, true, id).await;
    assert!(
        matches!(
            error,
            Err(TogetherError::Claim(claims::ClaimError::Taken(_)))
        ),
        "{error:?}"
    );
    drop(db);
    assert_eq!(stage(&bench, bens).await, Stage::Drawn);
    bench.assert_sound().await;
}
