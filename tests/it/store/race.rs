//! Many members at once, over the same few pieces and clamps.

use std::time::Duration;

use scrapwright::app::claim::{self as claims, ClaimError};
use scrapwright::app::cut;
use scrapwright::app::matching;
use scrapwright::app::offcut::{self as pieces, BrokenClaims};
use scrapwright::app::plan::{self, PlanError};
use scrapwright::store::booking;
use scrapwright::store::layout;
use scrapwright::store::offcut;
use scrapwright::store::resource::{self, NewResource};
use scrapwright::store::{OffcutId, ProjectId, Refusal};
use scrapwright::wire::kept_match::KeptLayout;

use super::bench::{Bench, MOMENT, inches};

/// A small generator (Steele, Lea, Flood 2014: SplitMix64), so that a failing run can be had again.
struct Chance(u64);

impl Chance {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (mixed ^ (mixed >> 31)) % limit
    }
}

/// One thing that somebody does; whether it was done, or refused with a reason.
async fn act(bench: &Bench, project: ProjectId, piece: OffcutId, chance: &mut Chance) -> bool {
    let by = bench.by();
    match chance.below(6) {
        0 | 1 => {
            let mut db = bench.app.store.begin().await.unwrap();
            match claims::claim_match(&mut db, by, bench.ada, project).await {
                Ok(_) => {
                    db.commit().await.unwrap();
                    true
                }
                Err(ClaimError::Taken(taken)) => {
                    assert!(
                        taken
                            .iter()
                            .all(|piece| piece.free < piece.wanted || piece.is_changed)
                    );
                    false
                }
                Err(ClaimError::NoMatch) => false,
                Err(error) => panic!("{error:?}"),
            }
        }
        2 => {
            let again = matching::find_keeping_rest(
                &bench.app,
                by,
                project,
                Duration::from_millis(5),
                |_| {},
            );
            // Whoever waits too long goes away: the solve is stopped and nothing is kept.
            let patience = Duration::from_millis(chance.below(40));
            tokio::time::timeout(patience, again)
                .await
                .is_ok_and(|found| found.is_ok())
        }
        3 => {
            let stored = layout::list_of_project(bench.app.store.read(), project)
                .await
                .unwrap();
            let Some(open) = stored
                .iter()
                .find(|layout| layout.copies_cut < layout.copies)
            else {
                return false;
            };
            let kept = KeptLayout::parse(&open.cut).unwrap();
            let remainders = cut::expected_remainders(&kept, bench.bin);
            let mut db = bench.app.store.begin().await.unwrap();
            let done = cut::cut(&mut db, by, open.id, 1, &remainders).await.is_ok();
            // Half of those who cut lose their connection before the end.
            if done && chance.below(2) == 0 {
                db.commit().await.unwrap();
                return true;
            }
            false
        }
        4 => {
            let mut db = bench.app.store.begin().await.unwrap();
            claims::let_go_all(&mut db, by, project).await.unwrap();
            db.commit().await.unwrap();
            true
        }
        _ => {
            let before = bench.offcut(piece).await;
            let mut db = bench.app.store.begin().await.unwrap();
            let mut edited = before.as_new(bench.bin);
            edited.note = format!("seen by {project}");
            let done = pieces::edit(
                &mut db,
                by,
                piece,
                before.version,
                &edited,
                "",
                BrokenClaims::Refuse,
            )
            .await;
            db.commit().await.unwrap();
            done.is_ok()
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_hundred_who_race_for_fifty_pieces_never_share_one() {
    let bench = std::sync::Arc::new(Bench::new().await);
    let mut stock = Vec::new();
    for width in 0..50 {
        let piece = bench.maple(inches(13, 1), inches(2, 1) + inches(1, 16) * width, 1);
        stock.push(bench.add(&piece).await);
    }
    let mut projects = Vec::new();
    for _ in 0..25 {
        let project = bench.project(bench.ada, 4).await;
        matching::find(&bench.app, bench.by(), project, MOMENT / 30, |_| {})
            .await
            .unwrap();
        projects.push(project);
    }
    let mut tasks = tokio::task::JoinSet::new();
    for number in 0..200_u64 {
        let (bench, project) = (bench.clone(), projects[number as usize % projects.len()]);
        let piece = stock[number as usize % stock.len()];
        tasks.spawn(async move {
            let mut chance = Chance(number);
            let mut done = 0;
            for _ in 0..3 {
                done += u32::from(act(&bench, project, piece, &mut chance).await);
            }
            done
        });
    }
    let mut done = 0;
    while let Some(task) = tasks.join_next().await {
        done += task.unwrap();
    }
    assert!(done > 50, "only {done} things were done: the race was none");
    bench.assert_sound().await;
    // Counted anew from the rows, not by the program's own rules.
    let mut db = bench.app.store.read().acquire().await.unwrap();
    let twice: i64 = sqlx::query_scalar(
        "select count(*) from (select offcut_id from claim where state = 'held' group by offcut_id having sum(pieces) > 1)
         join offcut on offcut.id = offcut_id where offcut.id <= 50",
    )
    .fetch_one(&mut *db)
    .await
    .unwrap();
    assert_eq!(twice, 0);
    let all = offcut::Search {
        show: offcut::Show::All,
        limit: 10_000,
        ..Default::default()
    };
    for piece in offcut::list(bench.app.store.read(), &all).await.unwrap() {
        assert!(piece.held <= piece.count, "{}", piece.tag);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn plans_that_were_made_at_once_never_book_a_clamp_twice() {
    let (bench, long) = super::plans::workshop(5).await;
    let bench = std::sync::Arc::new(bench);
    let mut proposals = Vec::new();
    for _ in 0..8 {
        let id = bench.project(bench.ada, 6).await;
        let time = Duration::from_secs(5);
        let made = plan::propose(&bench.app, bench.by(), bench.ada, &[id], time, |_| {})
            .await
            .unwrap();
        proposals.push((id, made.0));
    }
    let mut tasks = tokio::task::JoinSet::new();
    for number in 0..40_usize {
        let (bench, (id, proposal)) = (bench.clone(), proposals[number % proposals.len()]);
        tasks.spawn(async move {
            let by = bench.by();
            let mut db = bench.app.store.begin().await.unwrap();
            if number % 5 == 4 {
                // A steward counts the clamps anew.
                let known = resource::find(&mut *db, long).await.unwrap().unwrap();
                let capacity = 3 + u32::try_from(number % 3).unwrap();
                let about = NewResource {
                    capacity,
                    ..known.about
                };
                return match resource::update(&mut db, by, long, known.version, &about).await {
                    Ok(()) => db.commit().await.is_ok(),
                    Err(Refusal::ResourceInUse) => false,
                    Err(error) => panic!("{error:?}"),
                };
            }
            match plan::accept(&mut db, by, proposal).await {
                Ok(booked) => {
                    assert_eq!(booked, [id]);
                    // Some lose their connection before the end.
                    number % 3 > 0 && db.commit().await.is_ok()
                }
                Err(PlanError::BookedMeanwhile | PlanError::AlreadyAccepted) => false,
                Err(error) => panic!("{error:?}"),
            }
        });
    }
    let mut done = 0;
    while let Some(task) = tasks.join_next().await {
        done += u32::from(task.unwrap());
    }
    assert!(done > 1);
    bench.assert_sound().await;
    // A project has all its bookings or none.
    for (id, proposal) in proposals {
        let mut db = bench.app.store.begin().await.unwrap();
        let (answer, _, accepted_at) = plan::find(&mut db, proposal).await.unwrap();
        let booked = booking::list_of_project(&mut *db, id).await.unwrap().len();
        assert_eq!(
            booked,
            if accepted_at.is_some() {
                answer.steps.len()
            } else {
                0
            }
        );
    }
}
