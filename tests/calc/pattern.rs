//! Arrangements: by hand, by rule, from what the bins hold, from scraps of free widths.

use proptest::prelude::*;
use scrapwright::calc::pattern::{
    Arrangement, Available, BoardStrip, Edit, EditError, Form, Rule, Scrap, Wanted, fill,
    free_widths, look, propose, scatter,
};
use scrapwright::units::Length;

const STRIP: Length = Length::from_inches(3, 4);

/// One letter a strip.
fn board(letters: &str) -> Arrangement {
    Arrangement::new(
        letters
            .chars()
            .map(|letter| BoardStrip::new(&letter.to_string(), STRIP))
            .collect(),
    )
}

fn letters(board: &Arrangement) -> String {
    board
        .strips
        .iter()
        .map(|strip| strip.species.as_str())
        .collect()
}

/// `a` is black, `z` is white.
fn lightness(species: &str) -> f64 {
    f64::from(species.as_bytes()[0] - b'a') / 25.0
}

fn edited(letters_before: &str, edit: Edit) -> Result<String, EditError> {
    board(letters_before)
        .edited(&edit)
        .map(|after| letters(&after))
}

#[test]
fn strips_are_added_replaced_removed_and_moved_by_hand() {
    let strip = || BoardStrip::new("x", STRIP);
    assert_eq!(
        edited(
            "abc",
            Edit::Add {
                at: 0,
                strip: strip()
            }
        ),
        Ok("xabc".to_owned())
    );
    assert_eq!(
        edited(
            "abc",
            Edit::Add {
                at: 3,
                strip: strip()
            }
        ),
        Ok("abcx".to_owned())
    );
    assert_eq!(
        edited(
            "abc",
            Edit::Replace {
                at: 1,
                strip: strip()
            }
        ),
        Ok("axc".to_owned())
    );
    assert_eq!(edited("abc", Edit::Remove { at: 1 }), Ok("ac".to_owned()));
    assert_eq!(
        edited("abcd", Edit::Move { from: 0, to: 2 }),
        Ok("bcad".to_owned())
    );
    assert_eq!(
        edited("abcd", Edit::Move { from: 3, to: 0 }),
        Ok("dabc".to_owned())
    );
    assert_eq!(edited("abc", Edit::Mirror), Ok("cba".to_owned()));
    assert_eq!(
        edited("ab", Edit::Repeat { times: 3 }),
        Ok("ababab".to_owned())
    );
}

#[test]
fn an_edit_that_cannot_be_made_says_what_could() {
    let error = edited("abc", Edit::Remove { at: 3 }).expect_err("there is no fourth strip");
    assert_eq!(
        error.to_string(),
        "place 4 is asked for; must be from 1 to 3"
    );
    let error = edited("ab", Edit::Repeat { times: 101 }).expect_err("202 strips");
    assert_eq!(
        error.to_string(),
        "202 strips would result; must be at most 200"
    );
    assert!(edited("ab", Edit::Repeat { times: 0 }).is_err());
    assert!(edited("ab", Edit::Repeat { times: usize::MAX }).is_err());
}

#[test]
fn rules_order_the_strips() {
    let arranged = |rule: Rule, before: &str| letters(&rule.arrange(&board(before), lightness));
    assert_eq!(arranged(Rule::Alternate, "aaabb"), "ababa");
    assert_eq!(arranged(Rule::Alternate, "aaabbc"), "abcaba");
    assert_eq!(arranged(Rule::MirrorAboutCentre, "abcde"), "abcba");
    assert_eq!(arranged(Rule::MirrorAboutCentre, "abcd"), "abba");
    assert_eq!(arranged(Rule::DarkToLight, "zbya"), "abyz");
    assert_eq!(arranged(Rule::LightToDark, "zbya"), "zyba");
    let accent = Rule::Accent {
        at: 1,
        strip: BoardStrip::new("x", STRIP),
    };
    assert_eq!(arranged(accent, "mmm"), "mxm");
}

#[test]
fn a_unit_is_repeated_until_the_width_is_full() {
    let filled = fill(&board("mw").strips, Length::from_inches(10, 1));
    assert_eq!(letters(&filled), "mwmwmwmwmwmwm");
    assert_eq!(filled.width(), Length::from_inches(39, 4));
    assert_eq!(
        fill(&[], Length::from_inches(10, 1)),
        Arrangement::default()
    );
    assert_eq!(
        fill(&[BoardStrip::new("m", Length::ZERO)], STRIP),
        Arrangement::default()
    );
}

#[test]
fn looks_follow_the_four_stated_rules() {
    // Symmetric, no equal neighbours, full contrast; shares 3 and 2 of 5: evenness by hand
    // -(0.6 ln 0.6 + 0.4 ln 0.4) / ln 2 = 0.970951.
    let alternating = look(&board("azaza"), lightness);
    assert!(alternating.symmetric);
    assert_eq!(alternating.equal_neighbours, 0);
    assert!((alternating.contrast - 1.0).abs() < 1e-12);
    assert!((alternating.balance - 0.970951).abs() < 1e-6);
    assert!((alternating.score - (0.85 + 0.15 * 0.970951)).abs() < 1e-6);
    let plain = look(&board("aaa"), lightness);
    assert_eq!(
        (plain.equal_neighbours, plain.contrast, plain.balance),
        (2, 0.0, 0.0)
    );
    assert!((plain.score - 0.35).abs() < 1e-12);
}

fn available(species: &str, lightness: f64, count: usize) -> Available {
    Available {
        species: species.to_owned(),
        lightness,
        count,
    }
}

#[test]
fn proposals_come_in_several_forms_and_never_ask_for_more_than_there_is() {
    let have = [
        available("maple", 0.75, 9),
        available("walnut", 0.25, 5),
        available("cherry", 0.45, 4),
        available("none left", 0.5, 0),
    ];
    let wanted = Wanted {
        strips: 13,
        strip_width: STRIP,
        seed: 7,
        most: 8,
    };
    let proposals = propose(&have, wanted);
    assert!(proposals.len() >= 4, "{} proposals", proposals.len());
    for proposal in &proposals {
        assert_eq!(proposal.arrangement.strips.len(), 13);
        for species in &have {
            let used = proposal
                .arrangement
                .strips
                .iter()
                .filter(|s| s.species == species.species);
            assert!(used.count() <= species.count, "{:?}", proposal);
        }
    }
    let forms: std::collections::BTreeSet<Form> = proposals.iter().map(|p| p.form).collect();
    assert!(forms.len() >= 4, "{forms:?}");
    assert_eq!(
        propose(&have, wanted),
        proposals,
        "the same bins give the same proposals"
    );
    assert!(
        propose(
            &have,
            Wanted {
                strips: 19,
                ..wanted
            }
        )
        .is_empty(),
        "there are 18 strips"
    );
}

#[test]
fn free_widths_find_a_total_that_is_there() {
    let mm = Length::from_mm;
    let scrap = |species: &str, width, count| Scrap {
        species: species.to_owned(),
        width: mm(width),
        count,
    };
    let scraps = [
        scrap("maple", 19, 3),
        scrap("walnut", 22, 2),
        scrap("cherry", 31, 1),
    ];
    // 3 x 19 + 2 x 22 = 101; 19 + 2 x 22 + 31 = 94; 2 x 19 + 31 + 22 = 91; 3 x 19 + 31 = 88.
    let width = |wanted, tolerance| {
        free_widths(&scraps, mm(wanted), mm(tolerance), 1).map(|board| board.width())
    };
    assert_eq!(width(101, 0), Some(mm(101)));
    assert_eq!(width(96, 2), Some(mm(94)));
    assert_eq!(width(96, 1), None);
    assert_eq!(width(10, 5), None, "every scrap is wider than that");
}

fn any_board() -> impl Strategy<Value = Arrangement> {
    proptest::collection::vec((0..4_u8, 1..40_i64), 0..30).prop_map(|strips| {
        let strip = |(species, width): (u8, i64)| {
            BoardStrip::new(
                &char::from(b'a' + species).to_string(),
                Length::from_mm(width),
            )
        };
        Arrangement::new(strips.into_iter().map(strip).collect())
    })
}

fn sorted(board: &Arrangement) -> Vec<BoardStrip> {
    let mut strips = board.strips.clone();
    strips.sort();
    strips
}

proptest! {
    #[test]
    fn mirrored_twice_is_as_before(board in any_board()) {
        let twice = board.edited(&Edit::Mirror).and_then(|once| once.edited(&Edit::Mirror));
        prop_assert_eq!(twice, Ok(board));
    }

    #[test]
    fn moving_there_and_back_changes_nothing(board in any_board(), from in 0..30_usize, to in 0..30_usize) {
        prop_assume!(from < board.strips.len() && to < board.strips.len());
        let back = board
            .edited(&Edit::Move { from, to })
            .and_then(|moved| moved.edited(&Edit::Move { from: to, to: from }));
        prop_assert_eq!(back, Ok(board));
    }

    #[test]
    fn scatter_keeps_the_strips_and_parts_equal_neighbours_where_it_can(board in any_board(), seed in any::<u64>()) {
        let scattered = scatter(&board, seed);
        prop_assert_eq!(sorted(&scattered), sorted(&board));
        let count = board.strips.len();
        let most = board.species().iter()
            .map(|species| board.strips.iter().filter(|strip| strip.species == *species).count())
            .max()
            .unwrap_or(0);
        // With `others` strips of other species, at most `others + 1` of one can stand apart.
        let unavoidable = (2 * most).saturating_sub(count + 1);
        prop_assert_eq!(scattered.equal_neighbours(), unavoidable);
    }

    #[test]
    fn orderings_only_permute(board in any_board()) {
        for rule in [Rule::Alternate, Rule::DarkToLight, Rule::LightToDark, Rule::Scatter { seed: 3 }] {
            prop_assert_eq!(sorted(&rule.arrange(&board, lightness)), sorted(&board));
        }
        prop_assert!(Rule::MirrorAboutCentre.arrange(&board, lightness).is_symmetric());
    }

    #[test]
    fn free_widths_take_no_more_than_there_is(
        scraps in proptest::collection::vec((0..3_u8, 5..40_i64, 1..4_usize), 1..7),
        wanted in 20..400_i64,
        tolerance in 0..20_i64,
    ) {
        let scraps: Vec<Scrap> = scraps
            .into_iter()
            .map(|(species, width, count)| Scrap {
                species: char::from(b'a' + species).to_string(),
                width: Length::from_mm(width),
                count,
            })
            .collect();
        let (wanted, tolerance) = (Length::from_mm(wanted), Length::from_mm(tolerance));
        let found = free_widths(&scraps, wanted, tolerance, 5);
        // Every total, by trying all numbers of each scrap.
        let mut totals = std::collections::BTreeSet::from([Length::ZERO]);
        for scrap in &scraps {
            totals = totals
                .iter()
                .flat_map(|total| (0..=scrap.count).map(move |times| *total + scrap.width * times as i64))
                .collect();
        }
        let best = totals.range(..=wanted).next_back().copied().filter(|total| total.is_positive() && *total >= wanted - tolerance);
        prop_assert_eq!(found.as_ref().map(Arrangement::width), best);
        if let Some(board) = found {
            for strip in &board.strips {
                let used = board.strips.iter().filter(|other| *other == strip).count();
                let there: usize = scraps.iter()
                    .filter(|scrap| scrap.species == strip.species && scrap.width == strip.width)
                    .map(|scrap| scrap.count)
                    .sum();
                prop_assert!(used <= there);
            }
        }
    }
}
