//! From a design to strips on the bench: match, claim, cut, and everything that can get between.

use scrapwright::app::claim::{self as claims, ClaimError};
use scrapwright::app::cut::{self, CutError};
use scrapwright::app::matching::{self, MatchError};
use scrapwright::app::offcut::{self as pieces, BrokenClaims, OffcutError};
use scrapwright::app::project::{self as projects, ProjectError};
use scrapwright::store::bin::{self, NewBin};
use scrapwright::store::claim::{self, ClaimState};
use scrapwright::store::layout::{self, StoredLayout};
use scrapwright::store::ledger;
use scrapwright::store::offcut::{NewOffcut, OffcutState, Search, Show};
use scrapwright::store::project::{self, Stage};
use scrapwright::store::{self, ProjectId};
use scrapwright::wire::kept_match::KeptLayout;

use super::bench::{Bench, MOMENT, inches};

async fn find(bench: &Bench, id: ProjectId) -> scrapwright::wire::kept_match::KeptMatch {
    matching::find(&bench.app, bench.by(), id, MOMENT, |_| {})
        .await
        .unwrap()
}

async fn claim_match(bench: &Bench, id: ProjectId) -> Result<usize, ClaimError> {
    let mut db = bench.app.store.begin().await.unwrap();
    let claimed = claims::claim_match(&mut db, bench.by(), bench.ada, id).await?;
    db.commit().await.unwrap();
    Ok(claimed.len())
}

async fn stage(bench: &Bench, id: ProjectId) -> Stage {
    project::find(bench.app.store.read(), id)
        .await
        .unwrap()
        .unwrap()
        .stage
}

async fn layouts(bench: &Bench, id: ProjectId) -> Vec<StoredLayout> {
    layout::list_of_project(bench.app.store.read(), id)
        .await
        .unwrap()
}

/// Cuts one copy of a layout and puts back what it keeps.
async fn cut_one(bench: &Bench, stored: &StoredLayout) -> Result<cut::CutDone, CutError> {
    let kept = KeptLayout::parse(&stored.cut).unwrap();
    let remainders = cut::expected_remainders(&kept, bench.bin);
    let mut db = bench.app.store.begin().await.unwrap();
    let done = cut::cut(&mut db, bench.by(), stored.id, 1, &remainders).await?;
    db.commit().await.unwrap();
    Ok(done)
}

#[tokio::test]
async fn a_board_is_matched_claimed_and_cut_and_no_wood_is_lost() {
    let bench = Bench::new().await;
    bench
        .add(&bench.maple(inches(40, 1), inches(4, 1), 1))
        .await;
    bench
        .add(&bench.maple(inches(13, 1), inches(2, 1), 2))
        .await;
    let id = bench.project(bench.ada, 4).await;
    assert_eq!(stage(&bench, id).await, Stage::Drawn);

    let kept = find(&bench, id).await;
    assert_eq!((kept.outcome.covered, kept.wanted()), (4, 4));
    assert_eq!(stage(&bench, id).await, Stage::Matched);
    let stored = project::find(bench.app.store.read(), id)
        .await
        .unwrap()
        .unwrap();
    let read_back =
        scrapwright::wire::kept_match::KeptMatch::parse(&stored.found.unwrap().answer).unwrap();
    assert_eq!(read_back.outcome.layouts, kept.outcome.layouts);
    assert_eq!(read_back.outcome.net_wood, kept.outcome.net_wood);
    assert_eq!(read_back.request, kept.request);

    claim_match(&bench, id).await.unwrap();
    assert_eq!(stage(&bench, id).await, Stage::Claimed);
    bench.assert_sound().await;
    let held = claim::list_of_project(bench.app.store.read(), id)
        .await
        .unwrap();
    // The workshop's default: fourteen days.
    assert!(
        held.iter()
            .all(|claim| claim.last_day.to_string() == "2027-03-15")
    );

    let before = ledger::sum_all(bench.app.store.read()).await.unwrap();
    for stored in layouts(&bench, id).await {
        for _ in 0..stored.copies {
            cut_one(&bench, &stored).await.unwrap();
            bench.assert_sound().await;
        }
        assert!(matches!(
            cut_one(&bench, &stored).await,
            Err(CutError::NothingLeft)
        ));
    }
    assert_eq!(stage(&bench, id).await, Stage::Milled);
    let sums = ledger::sum_all(bench.app.store.read()).await.unwrap();
    assert_eq!(sums.added_mm3, before.added_mm3);
    assert_eq!(
        sums.cut_mm3,
        sums.strips_mm3 + sums.waste_mm3 + sums.remainders_mm3
    );
    // Four strips of 12 1/2 x 1 1/2 x 7/8 in: 65.625 cubic inches, or 1 075 401 mm3.
    assert!(
        (sums.strips_mm3 - 1_075_401).abs() <= 4,
        "{}",
        sums.strips_mm3
    );
    let held = claim::list_of_project(bench.app.store.read(), id)
        .await
        .unwrap();
    assert!(
        held.iter()
            .all(|claim| claim.state == ClaimState::Cut && claim.pieces == 0)
    );
}

#[tokio::test]
async fn whoever_is_later_hears_which_pieces_are_gone_and_gets_the_rest_again() {
    let bench = Bench::new().await;
    let long = bench
        .add(&bench.maple(inches(13, 1), inches(8, 1), 1))
        .await;
    for _ in 0..6 {
        bench
            .add(&bench.maple(inches(13, 1), inches(2, 1), 1))
            .await;
    }
    let mine = bench.project(bench.ada, 6).await;
    let theirs = bench.project(bench.ben, 6).await;
    let matched = find(&bench, mine).await;
    assert_eq!(matched.outcome.covered, 6);
    find(&bench, theirs).await;
    // Ben takes what he needs first.
    claim_match(&bench, theirs).await.unwrap();
    let error = claim_match(&bench, mine).await;
    let Err(ClaimError::Taken(taken)) = error else {
        panic!("{error:?}")
    };
    assert!(!taken.is_empty());
    assert!(
        taken
            .iter()
            .all(|piece| piece.free == 0 && !piece.is_changed)
    );
    assert!(
        taken
            .iter()
            .all(|piece| piece.held_by[0].member_name == "Ben")
    );
    assert!(layouts(&bench, mine).await.is_empty(), "nothing half done");
    bench.assert_sound().await;

    let again = matching::find_keeping_rest(&bench.app, bench.by(), mine, MOMENT, |_| {})
        .await
        .unwrap();
    let gone: Vec<&str> = taken.iter().map(|piece| piece.tag.as_str()).collect();
    assert!(
        again
            .outcome
            .layouts
            .iter()
            .all(|layout| !gone.contains(&layout.stock.as_str()))
    );
    if again.outcome.covered > 0 {
        claim_match(&bench, mine).await.unwrap();
    }
    bench.assert_sound().await;
    assert!(bench.offcut(long).await.count == 1);
}

#[tokio::test]
async fn a_piece_that_was_measured_again_is_not_claimed_as_it_was() {
    let bench = Bench::new().await;
    let id = bench
        .add(&bench.maple(inches(13, 1), inches(8, 1), 1))
        .await;
    let project = bench.project(bench.ada, 4).await;
    find(&bench, project).await;
    let mut db = bench.app.store.begin().await.unwrap();
    let shorter = bench.maple(inches(12, 1), inches(8, 1), 1);
    pieces::edit(
        &mut db,
        bench.by(),
        id,
        1,
        &shorter,
        "",
        BrokenClaims::Refuse,
    )
    .await
    .unwrap();
    db.commit().await.unwrap();
    let error = claim_match(&bench, project).await;
    assert!(matches!(error, Err(ClaimError::Taken(taken)) if taken[0].is_changed));
}

#[tokio::test]
async fn what_is_claimed_is_not_changed_under_its_project() {
    let bench = Bench::new().await;
    let id = bench
        .add(&bench.maple(inches(13, 1), inches(8, 1), 1))
        .await;
    let project = bench.project(bench.ada, 4).await;
    find(&bench, project).await;
    claim_match(&bench, project).await.unwrap();
    let version = bench.offcut(id).await.version;
    let shorter = bench.maple(inches(12, 1), inches(8, 1), 1);
    let mut db = bench.app.store.begin().await.unwrap();
    let refused = pieces::edit(
        &mut db,
        bench.by(),
        id,
        version,
        &shorter,
        "",
        BrokenClaims::Refuse,
    )
    .await;
    assert!(matches!(refused, Err(OffcutError::Claimed(held)) if held[0].project == project));
    let refused = pieces::take_away(&mut db, bench.by(), id, 1, "", BrokenClaims::Refuse).await;
    assert!(matches!(refused, Err(OffcutError::Claimed(_))));
    // More wood than before takes nothing from anybody.
    let longer = bench.maple(inches(14, 1), inches(8, 1), 1);
    pieces::edit(
        &mut db,
        bench.by(),
        id,
        version,
        &longer,
        "",
        BrokenClaims::Refuse,
    )
    .await
    .unwrap();
    pieces::take_away(&mut db, bench.by(), id, 1, "lost", BrokenClaims::LetGo)
        .await
        .unwrap();
    db.commit().await.unwrap();
    assert_eq!(stage(&bench, project).await, Stage::Drawn);
    assert!(layouts(&bench, project).await.is_empty());
    assert_eq!(bench.offcut(id).await.state, OffcutState::Gone);
    bench.assert_sound().await;
}

#[tokio::test]
async fn a_claim_lapses_after_its_last_day_by_itself() {
    let bench = Bench::new().await;
    let id = bench
        .add(&bench.maple(inches(13, 1), inches(8, 1), 1))
        .await;
    let project = bench.project(bench.ada, 4).await;
    find(&bench, project).await;
    claim_match(&bench, project).await.unwrap();
    let lapse = async |days: i64| {
        bench.app.clock.advance(days * 86_400);
        let mut db = bench.app.store.begin().await.unwrap();
        let lapsed = claims::lapse(&mut db, bench.by()).await.unwrap();
        db.commit().await.unwrap();
        lapsed
    };
    assert_eq!(lapse(14).await, 0, "the last day still counts");
    assert_eq!(lapse(1).await, 1);
    assert_eq!(bench.offcut(id).await.free(), 1);
    assert_eq!(stage(&bench, project).await, Stage::Drawn);
    let held = claim::list_of_project(bench.app.store.read(), project)
        .await
        .unwrap();
    assert_eq!(held[0].state, ClaimState::Lapsed);
    bench.assert_sound().await;
}

#[tokio::test]
async fn a_claim_can_be_extended_let_go_and_put_back() {
    let bench = Bench::new().await;
    bench
        .add(&bench.maple(inches(13, 1), inches(8, 1), 1))
        .await;
    let project = bench.project(bench.ada, 4).await;
    find(&bench, project).await;
    claim_match(&bench, project).await.unwrap();
    let held = claim::list_of_project(bench.app.store.read(), project)
        .await
        .unwrap();
    let (id, version) = (held[0].id, held[0].version);
    let mut db = bench.app.store.begin().await.unwrap();
    let day = |text: &str| text.parse::<jiff::civil::Date>().unwrap();
    let past = claims::extend(&mut db, bench.by(), id, version, day("2027-02-28")).await;
    assert!(matches!(past, Err(ClaimError::Day(from, _)) if from == day("2027-03-01")));
    claims::extend(&mut db, bench.by(), id, version, day("2027-04-01"))
        .await
        .unwrap();
    let stale = claims::extend(&mut db, bench.by(), id, version, day("2027-04-02")).await;
    assert!(matches!(stale, Err(ClaimError::Stale)));
    claims::put_back(&mut db, bench.by(), id, Some(bench.bin))
        .await
        .unwrap();
    let twice = claims::let_go(&mut db, bench.by(), id).await;
    assert!(matches!(twice, Err(ClaimError::Stale)));
    db.commit().await.unwrap();
    bench.assert_sound().await;
}

#[tokio::test]
async fn a_cut_that_gives_more_than_there_was_is_refused() {
    let bench = Bench::new().await;
    bench
        .add(&bench.maple(inches(40, 1), inches(4, 1), 1))
        .await;
    let project = bench.project(bench.ada, 2).await;
    find(&bench, project).await;
    claim_match(&bench, project).await.unwrap();
    let stored = &layouts(&bench, project).await[0];
    let kept = KeptLayout::parse(&stored.cut).unwrap();
    let mut remainders = cut::expected_remainders(&kept, bench.bin);
    assert!(!remainders.is_empty());
    remainders[0].length = inches(41, 1);
    remainders[0].count = 50;
    let mut db = bench.app.store.begin().await.unwrap();
    let error = cut::cut(&mut db, bench.by(), stored.id, 1, &remainders).await;
    let Err(CutError::Wrong(flaws)) = error else {
        panic!("{error:?}")
    };
    let pointers: Vec<&str> = flaws.iter().map(|flaw| flaw.pointer.as_str()).collect();
    assert_eq!(pointers, ["/remainders/0/length", "/remainders"]);
    // Nothing back at all is allowed: the rest is waste.
    let done = cut::cut(&mut db, bench.by(), stored.id, 1, &[])
        .await
        .unwrap();
    assert!(done.waste_mm3 > 0);
    db.commit().await.unwrap();
    bench.assert_sound().await;
}

#[tokio::test]
async fn a_bought_board_passes_through_the_ledger_too() {
    let bench = Bench::new().await;
    let mut db = bench.app.store.begin().await.unwrap();
    let board = store::lumber::NewLumber {
        name: "maple 4/4 x 4".to_owned(),
        species: "hard maple".to_owned(),
        length: inches(48, 1),
        width: inches(4, 1),
        thickness: inches(13, 16),
        price: scrapwright::units::Money::from_cents(1450),
        sale: store::lumber::Sale::Whole,
        square_ends: false,
        straight_edges: false,
    };
    // Rough 4/4 lumber planes to 13/16 in, which a 3/4 in board with flattening does not fit, so
    // ask for a thicker one.
    let board = store::lumber::NewLumber {
        thickness: inches(1, 1),
        ..board
    };
    store::lumber::create(&mut db, bench.by(), &board)
        .await
        .unwrap();
    db.commit().await.unwrap();
    let project = bench.project(bench.ada, 2).await;
    let kept = find(&bench, project).await;
    assert_eq!(kept.outcome.spend.cents(), 1450);
    claim_match(&bench, project).await.unwrap();
    let stored = &layouts(&bench, project).await[0];
    let done = cut_one(&bench, stored).await.unwrap();
    assert!(!done.remainders.is_empty());
    assert_eq!(stage(&bench, project).await, Stage::Milled);
    bench.assert_sound().await;
    let all = Search {
        show: Show::CutUp,
        ..Search::default()
    };
    let cut_up = store::offcut::list(bench.app.store.read(), &all)
        .await
        .unwrap();
    assert_eq!(cut_up[0].note, "bought: maple 4/4 x 4");
}

#[tokio::test]
async fn a_design_changes_only_as_far_as_its_wood_allows() {
    let bench = Bench::new().await;
    bench
        .add(&bench.maple(inches(13, 1), inches(8, 1), 1))
        .await;
    let id = bench.project(bench.ada, 4).await;
    find(&bench, id).await;
    claim_match(&bench, id).await.unwrap();
    let version = async || {
        project::find(bench.app.store.read(), id)
            .await
            .unwrap()
            .unwrap()
            .version
    };
    let mut db = bench.app.store.begin().await.unwrap();
    let fewer = bench.draft("Board", bench.board(3));
    let error = projects::edit(&mut db, bench.by(), id, version().await, &fewer).await;
    assert!(matches!(error, Err(ProjectError::StripsLeftOver(keys)) if keys == ["s1"]));
    let more = bench.draft("Longer name", bench.board(5));
    projects::edit(&mut db, bench.by(), id, version().await, &more)
        .await
        .unwrap();
    db.commit().await.unwrap();
    assert_eq!(
        stage(&bench, id).await,
        Stage::Drawn,
        "a fifth strip is wanted"
    );
    let nothing = find(&bench, id).await;
    assert_eq!(nothing.outcome.covered, 0, "the only piece is claimed");
    assert!(matches!(
        claim_match(&bench, id).await,
        Err(ClaimError::NothingFound)
    ));
}

#[tokio::test]
async fn a_project_that_is_given_up_frees_everything() {
    let bench = Bench::new().await;
    let piece = bench
        .add(&bench.maple(inches(13, 1), inches(8, 1), 1))
        .await;
    let id = bench.project(bench.ada, 4).await;
    find(&bench, id).await;
    claim_match(&bench, id).await.unwrap();
    let version = project::find(bench.app.store.read(), id)
        .await
        .unwrap()
        .unwrap()
        .version;
    let mut db = bench.app.store.begin().await.unwrap();
    projects::give_up(&mut db, bench.by(), id, version)
        .await
        .unwrap();
    let twice = projects::give_up(&mut db, bench.by(), id, version).await;
    assert!(matches!(twice, Err(ProjectError::Ended)));
    db.commit().await.unwrap();
    assert_eq!(bench.offcut(piece).await.free(), 1);
    let error = matching::find(&bench.app, bench.by(), id, MOMENT, |_| {}).await;
    assert!(matches!(error, Err(MatchError::Ended)));
    bench.assert_sound().await;
}

#[tokio::test]
async fn a_due_date_in_the_past_and_a_blank_name_are_both_named() {
    let bench = Bench::new().await;
    let mut draft = bench.draft("  ", bench.board(3));
    draft.due_day = Some("2027-02-01".parse().unwrap());
    let mut db = bench.app.store.begin().await.unwrap();
    let error = projects::create(&mut db, bench.by(), bench.ada, &draft).await;
    let Err(ProjectError::Wrong(flaws)) = error else {
        panic!("{error:?}")
    };
    let pointers: Vec<&str> = flaws.iter().map(|flaw| flaw.pointer.as_str()).collect();
    assert_eq!(pointers, ["/name", "/due_day"]);
    assert_eq!(
        flaws[1].detail,
        "is 2027-02-01; must be 2027-03-01 or later"
    );
}

/// The oldest goes first, then the one from the bin that becomes empty.
#[tokio::test]
async fn of_equal_pieces_the_older_goes_first_and_then_a_bin_is_emptied() {
    const MONTHS: i64 = 100 * 86_400;
    let bench = Bench::new().await;
    let add = async |bin, name: &str| {
        let piece = NewOffcut {
            bin,
            note: name.to_owned(),
            ..bench.maple(inches(13, 1), inches(4, 1), 1)
        };
        bench.add(&piece).await
    };
    let mut db = bench.app.store.begin().await.unwrap();
    let small = NewBin {
        name: "B2".to_owned(),
        place: String::new(),
    };
    let small = bin::create(&mut db, bench.by(), &small).await.unwrap();
    db.commit().await.unwrap();
    let full = bench.bin;
    let old = add(full, "old").await;
    bench.app.clock.advance(MONTHS);
    for _ in 0..2 {
        add(full, "of a full bin").await;
    }
    let alone = add(small, "alone in its bin").await;

    let tag = async |id| bench.offcut(id).await.tag;
    let project = bench.project(bench.ada, 2).await;
    let found = find(&bench, project).await;
    assert_eq!(found.outcome.layouts[0].stock, tag(old).await);
    claim_match(&bench, project).await.unwrap();
    let next = bench.project(bench.ada, 2).await;
    let found = find(&bench, next).await;
    assert_eq!(found.outcome.layouts[0].stock, tag(alone).await);
}
