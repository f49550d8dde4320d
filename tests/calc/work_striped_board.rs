//! What a striped board asks of wood and shop.

use proptest::prelude::*;
use scrapwright::calc::matching::{Section, Shop};
use scrapwright::calc::pattern::{Arrangement, BoardStrip, fill};
use scrapwright::calc::work::{
    Change, Design, EdgeTreatment, Extras, Flattening, FlatteningTool, GripRecesses, JuiceGroove,
    Kind, Needs, PanelPart, Practice, Presence, Size, Station, StepKind, StripedBoard, Surface,
    WarningKind, default_design, needs,
};
use scrapwright::units::{Length, Minutes, Volume};

use crate::woods::woods;

fn inches(numerator: i64, denominator: i64) -> Length {
    Length::from_inches(numerator, denominator)
}

fn first_board() -> StripedBoard {
    let Design::StripedBoard(board) = default_design(Kind::StripedBoard) else {
        panic!("the first striped board is a striped board")
    };
    board
}

fn needs_of(board: &StripedBoard, practice: &Practice) -> Needs {
    needs(
        &Design::StripedBoard(board.clone()),
        practice,
        &Shop::default(),
        &woods(),
    )
    .unwrap_or_else(|flaws| panic!("{flaws:?}"))
}

fn flaws_of(board: &StripedBoard) -> Vec<String> {
    let design = Design::StripedBoard(board.clone());
    needs(&design, &Practice::default(), &Shop::default(), &woods())
        .err()
        .unwrap_or_default()
        .iter()
        .map(ToString::to_string)
        .collect()
}

/// Common practice: 10 in from 3/4 in strips asks 13.33, so 13 give 9 3/4 in and 14 give 10 1/2 in.
#[test]
fn ten_inches_from_three_quarter_inch_strips_can_be_thirteen_or_fourteen() {
    let counts = StripedBoard::strip_counts(inches(10, 1), inches(3, 4), &Practice::default());
    assert_eq!(counts, [(13, inches(39, 4)), (14, inches(21, 2))]);

    let board = StripedBoard {
        width: inches(10, 1),
        ..first_board()
    };
    let needs = needs_of(&board, &Practice::default());
    assert_eq!(needs.finished.width, inches(39, 4));
    let warning = needs
        .warnings
        .iter()
        .find(|warning| warning.kind == WarningKind::Size);
    let warning = warning.expect("the width differs");
    assert_eq!(
        warning.cure.to_string(),
        "The width asks 13.33 strips of 19.05 mm: 13 give 247.65 mm, 14 give 266.7 mm."
    );
    let fourteen = Change::StripCount {
        strips: 14,
        width: inches(21, 2),
    };
    assert!(
        needs
            .alternatives
            .iter()
            .any(|other| other.change == fourteen)
    );
}

#[test]
fn an_exact_width_has_one_number_of_strips() {
    let counts = StripedBoard::strip_counts(inches(9, 1), inches(3, 4), &Practice::default());
    assert_eq!(counts, [(12, inches(9, 1))]);
    let none = StripedBoard::strip_counts(inches(9, 1), Length::ZERO, &Practice::default());
    assert_eq!(none, []);
}

/// By hand: 17 in board, rough 17 1/2 in; 1 1/2 in thick, 1/16 in a side for flattening: 1 5/8 in.
#[test]
fn strips_on_edge_are_ripped_to_the_boards_rough_thickness() {
    let needs = needs_of(&first_board(), &Practice::default());
    let asked: Vec<(&str, &str, u32, Length, &[Section])> = needs
        .strips
        .iter()
        .map(|strip| {
            let species = strip.species[0].as_str();
            (
                strip.id.as_str(),
                species,
                strip.count,
                strip.length,
                strip.sections.as_slice(),
            )
        })
        .collect();
    let section = [Section {
        rip: inches(13, 8),
        thickness: inches(3, 4),
    }];
    assert_eq!(
        asked,
        [
            ("s1", "hard maple", 7, inches(35, 2), section.as_slice()),
            ("s2", "black walnut", 6, inches(35, 2), section.as_slice()),
        ]
    );
    let places: Vec<usize> = needs.places.iter().map(|place| place.need).collect();
    assert_eq!(places, [0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0]);
    assert_eq!(needs.places[2].label, "strip 3");
}

#[test]
fn strips_laid_flat_swap_rip_and_thickness_and_either_way_offers_both() {
    let on_edge = Section {
        rip: inches(13, 8),
        thickness: inches(3, 4),
    };
    let flat = Section {
        rip: inches(3, 4),
        thickness: inches(13, 8),
    };
    for (surface, sections) in [
        (Surface::EdgeGrain, vec![on_edge]),
        (Surface::FaceGrain, vec![flat]),
        (Surface::Either, vec![on_edge, flat]),
    ] {
        let board = StripedBoard {
            surface,
            ..first_board()
        };
        assert_eq!(
            needs_of(&board, &Practice::default()).strips[0].sections,
            sections
        );
    }
    let square = StripedBoard {
        surface: Surface::Either,
        thickness: inches(5, 8),
        ..first_board()
    };
    let needs = needs_of(&square, &Practice::default());
    assert_eq!(
        needs.strips[0].sections.len(),
        1,
        "both ways are the same section"
    );
}

/// A 1x2 is dressed to 3/4 x 1 1/2 in (American Softwood Lumber Standard PS 20).
#[test]
fn a_board_just_too_thick_for_dressed_pieces_is_offered_thinner() {
    let needs = needs_of(&first_board(), &Practice::default());
    let thinner = Change::Thickness(inches(11, 8));
    assert!(
        needs
            .alternatives
            .iter()
            .any(|other| other.change == thinner)
    );
    let board = StripedBoard {
        thickness: inches(11, 8),
        ..first_board()
    };
    let needs = needs_of(&board, &Practice::default());
    assert_eq!(
        needs.strips[0].sections[0],
        Section {
            rip: inches(3, 2),
            thickness: inches(3, 4)
        }
    );
    assert_eq!(needs.alternatives, []);
}

/// By hand: 17 x 9 3/4 x 1 1/2 in = 248.625 in^3 = 1.7266 board feet; as cut 17 1/2 x 9 3/4 x 1 5/8 in =
/// 277.265625 in^3 = 1.92546 board feet.
#[test]
fn board_feet_are_those_of_the_finished_and_of_the_cut_wood() {
    let board = StripedBoard {
        extras: Extras::default(),
        ..first_board()
    };
    let needs = needs_of(&board, &Practice::default());
    assert!((needs.finished_board_feet() - 248.625 / 144.0).abs() < 1e-9);
    assert!((needs.rough_board_feet() - 277.265625 / 144.0).abs() < 1e-9);
    // 7 of 13 strips of maple at 0.63 x 1120 kg/m3, 6 of walnut at 0.55 x 1120; 248.625 in^3 = 4074.23 cm^3.
    let grams = 4074.234 * (7.0 / 13.0 * 0.7056 + 6.0 / 13.0 * 0.616);
    assert!(
        (needs.weight.grams() - grams).abs() < 0.1,
        "{} g",
        needs.weight.grams()
    );
}

/// By hand: an 1/8 in (3.175 mm) round-over takes (1 - pi/4) r^2 = 2.16333 mm^2 along both faces'
/// outlines of 2 x (431.8 + 247.65) mm each: 2 x 1358.9 x 2.16333 = 5879.5 mm^3.
#[test]
fn rounded_edges_weigh_less() {
    let sharp = StripedBoard {
        extras: Extras::default(),
        ..first_board()
    };
    let volume = |board: &StripedBoard| -> Volume {
        needs_of(board, &Practice::default())
            .wood
            .iter()
            .map(|wood| wood.finished)
            .sum()
    };
    let taken = volume(&sharp).mm3() - volume(&first_board()).mm3();
    assert!((taken - 5879.5).abs() < 0.5, "{taken} mm3");
}

#[test]
fn the_steps_follow_each_other_to_the_hand_over() {
    let needs = needs_of(&first_board(), &Practice::default());
    let keys: Vec<&str> = needs.steps.iter().map(|step| step.key.as_str()).collect();
    assert_eq!(
        keys,
        [
            "mill",
            "dry-fit",
            "glue-up",
            "unclamp",
            "flatten",
            "square",
            "round-over-and-sand",
            "coat-1",
            "coat-2",
            "drying",
            "off-rack",
            "cure",
            "hand-over"
        ]
    );
    let step = |key: &str| {
        needs
            .steps
            .iter()
            .find(|step| step.key == key)
            .expect("listed above")
    };

    assert_eq!(step("mill").presence, Presence::Machine);
    let mill = step("glue-up")
        .after
        .iter()
        .find(|after| after.key == "mill")
        .expect("a wait");
    assert_eq!(
        mill.max_gap,
        Some(Minutes(2880)),
        "glued within two days of milling"
    );
    let hold = step("glue-up").hold.as_ref().expect("clamps stay on");
    assert_eq!(hold.until, "unclamp");
    assert_eq!(
        step("unclamp").after[0].min_gap,
        Minutes(720),
        "clamped overnight"
    );

    let second = &step("coat-2").after[0];
    assert_eq!(
        (second.min_gap, second.max_gap),
        (Minutes(1440), Some(Minutes(10_080)))
    );
    let rack = step("coat-1").hold.as_ref().expect("a rack place is held");
    assert_eq!(
        (rack.until.as_str(), rack.stations.as_slice()),
        ("off-rack", [(Station::RackPlace, 1)].as_slice())
    );
    assert_eq!(
        step("cure").minutes,
        Minutes(10_080),
        "seven days before water"
    );
    assert!(!step("cure").is_attended());
    assert_eq!(step("cure").after[0].max_gap, Some(Minutes(0)));
    assert!(needs.cautions().contains(&"drying oil"));
}

/// Common practice: about 20 minutes a side; the reference board is 18 by 10 in.
#[test]
fn flattening_takes_twenty_minutes_a_side_and_grows_with_the_area() {
    let minutes = |board: &StripedBoard| {
        let needs = needs_of(board, &Practice::default());
        needs
            .steps
            .iter()
            .find(|step| step.kind == StepKind::Flatten)
            .map(|step| step.minutes)
    };
    // The rough panel is 17 1/2 x 9 3/4 in: 0.948 of 180 in^2, so 37.9, up to the next five.
    assert_eq!(minutes(&first_board()), Some(Minutes(40)));
    let long = StripedBoard {
        length: inches(71, 2),
        ..first_board()
    };
    assert_eq!(minutes(&long), Some(Minutes(80)), "36 x 9 3/4 in: 78");
}

#[test]
fn clamps_are_enough_in_force_and_in_spread() {
    let needs = needs_of(&first_board(), &Practice::default());
    let [panel] = needs.panels.as_slice() else {
        panic!("one glue-up")
    };
    assert_eq!(
        panel.glue_lines(),
        12,
        "a board of n strips has n - 1 glue lines"
    );
    assert_eq!(
        (panel.length, panel.width, panel.height),
        (inches(35, 2), inches(39, 4), inches(13, 8))
    );
    // Softest is walnut (0.55): 860 kPa x 444.5 x 41.275 mm = 15.78 kN: 4 clamps of 4.5 kN.
    // Spread: 2 x (2 in caul + 3/4 in strip) = 5 1/2 in; 17 1/2 in: 4 clamps.
    assert_eq!(panel.clamp_count(), 4);
    assert_eq!(panel.need.reach, inches(55, 4), "panel and two cauls");
}

#[test]
fn more_glue_lines_than_the_open_time_allows_become_sub_panels() {
    let strips = (0..44)
        .map(|_| BoardStrip::new("hard maple", inches(3, 8)))
        .collect();
    let board = StripedBoard {
        width: inches(33, 2),
        arrangement: Arrangement::new(strips),
        ..first_board()
    };
    // 10 minutes at 30 s a line: 20 lines. 43 lines need 3 sub-panels: two of 22 would have 21 each.
    let needs = needs_of(&board, &Practice::default());
    let lines: Vec<usize> = needs
        .panels
        .iter()
        .map(|panel| panel.glue_lines())
        .collect();
    assert_eq!(lines, [13, 14, 14, 2]);
    assert_eq!(needs.panels[3].parts, [0, 1, 2].map(PanelPart::Panel));
    assert!(
        needs
            .warnings
            .iter()
            .all(|warning| warning.kind != WarningKind::OpenTime)
    );
    let keys: Vec<&str> = needs.steps.iter().map(|step| step.key.as_str()).collect();
    assert!(keys.contains(&"glue-up-part-3") && keys.contains(&"flatten-parts-1"));
    assert_eq!(
        needs.places[15].panel,
        Some(1),
        "strip 16 is in the second sub-panel"
    );
}

#[test]
fn sub_panels_pass_a_narrow_planer() {
    let practice = Practice {
        flattening: Flattening {
            tool: FlatteningTool::Planer,
            pass_width: Some(inches(6, 1)),
        },
        ..Practice::default()
    };
    let needs = needs_of(&first_board(), &practice);
    let (whole, parts) = needs.panels.split_last().expect("panels");
    assert_eq!(parts.len(), 2);
    assert!(parts.iter().all(|part| part.width <= inches(6, 1)));
    assert_eq!(whole.width, inches(39, 4));
    let flatten = needs
        .steps
        .iter()
        .find(|step| step.kind == StepKind::Flatten)
        .expect("flat");
    assert_eq!(
        flatten.stations,
        [(Station::Sander, 1)],
        "the whole no longer passes the planer"
    );
}

#[test]
fn extras_have_their_steps_and_limits() {
    let groove = JuiceGroove {
        width: inches(1, 2),
        depth: inches(1, 4),
        inset: inches(3, 4),
    };
    let grips = GripRecesses {
        length: inches(4, 1),
        height: inches(1, 2),
        depth: inches(1, 2),
    };
    let extras = Extras {
        groove: Some(groove),
        grips: Some(grips),
        feet: 4,
        ..first_board().extras
    };
    let board = StripedBoard {
        extras,
        ..first_board()
    };
    let keys: Vec<StepKind> = needs_of(&board, &Practice::default())
        .steps
        .iter()
        .map(|step| step.kind)
        .collect();
    for kind in [StepKind::Groove, StepKind::Grips, StepKind::Feet] {
        assert!(keys.contains(&kind), "{kind:?}");
    }

    let deep = JuiceGroove {
        depth: inches(1, 1),
        ..groove
    };
    let extras = Extras {
        groove: Some(deep),
        ..Extras::default()
    };
    assert_eq!(
        flaws_of(&StripedBoard {
            extras,
            ..first_board()
        }),
        [
            "groove depth is 25.4 mm; must be at most 19.05 mm in a board 38.1 mm thick: no more than \
          half, and at least 9.525 mm left below"
        ]
    );
    // Most on thickness t, both faces: t / 2 - 1 mm (common practice): 38.1 / 2 - 1 = 18.05 mm.
    let edge = EdgeTreatment::RoundOver {
        radius: inches(3, 4),
    };
    let extras = Extras {
        edge,
        ..Extras::default()
    };
    let flaws = flaws_of(&StripedBoard {
        extras,
        ..first_board()
    });
    assert!(flaws[0].contains("must be at most 18.05 mm"), "{flaws:?}");
}

/// By hand, on a board 17 x 10 x 1 1/2 in: 1 1/4 in from every side (common practice).
#[test]
fn feet_stand_in_from_the_sides_clear_of_grips_and_groove() {
    let size = Size {
        length: inches(17, 1),
        width: inches(10, 1),
        thickness: inches(3, 2),
    };
    let feet = |feet| Extras {
        feet,
        ..Extras::default()
    };
    let (low, far, top) = (inches(5, 4), inches(63, 4), inches(35, 4));
    assert_eq!(feet(0).foot_places(size), []);
    assert_eq!(
        feet(4).foot_places(size),
        [(low, low), (low, top), (far, low), (far, top)]
    );
    assert_eq!(
        feet(3).foot_places(size),
        [(low, low), (low, top), (far, inches(5, 1))]
    );
    let middle = inches(17, 2);
    assert_eq!(
        feet(7).foot_places(size),
        [
            (low, low),
            (low, top),
            (middle, low),
            (middle, top),
            (far, low),
            (far, top),
            (middle, inches(5, 1)),
        ]
    );
    // A grip 1 in deep pushes them to 1 + 3/4 in.
    let grips = Some(GripRecesses {
        length: inches(4, 1),
        height: inches(1, 2),
        depth: inches(1, 1),
    });
    let beside = Extras { grips, ..feet(4) };
    assert_eq!(beside.foot_places(size)[0], (inches(7, 4), low));
    // Half of 1 1/2 in less 1/8 in; under a groove 1 1/8 in deep only 3/8 in less 1/8 in.
    assert_eq!(feet(4).foot_screw_depth(size.thickness), inches(5, 8));
    let groove = Some(JuiceGroove {
        width: inches(1, 2),
        depth: inches(9, 8),
        inset: inches(3, 4),
    });
    let grooved = Extras { groove, ..feet(4) };
    assert_eq!(grooved.foot_screw_depth(size.thickness), inches(1, 4));
}

#[test]
fn all_flaws_are_listed_at_once_with_their_places() {
    let board = StripedBoard {
        length: Length::ZERO,
        thickness: inches(8, 1),
        arrangement: Arrangement::new(vec![
            BoardStrip::new("hard maple", inches(13, 1)),
            BoardStrip::new("unobtainium", inches(3, 4)),
        ]),
        ..first_board()
    };
    assert_eq!(
        flaws_of(&board),
        [
            "length is 0 mm; must be from 101.6 mm to 1524 mm",
            "thickness is 203.2 mm; must be from 9.525 mm to 101.6 mm",
            "strips 0 width is 330.2 mm; must be from 3.175 mm to 304.8 mm",
            "strips 1 species is \"unobtainium\"; must be a species that the workshop knows",
        ]
    );
    let empty = StripedBoard {
        arrangement: Arrangement::default(),
        ..first_board()
    };
    assert_eq!(
        flaws_of(&empty),
        ["strips are none; must be at least one strip"]
    );
}

#[test]
fn woods_that_do_not_suit_a_cutting_face_are_warned_about() {
    let strips = fill(
        &["hard maple", "red oak", "padauk"].map(|species| BoardStrip::new(species, inches(3, 4))),
        inches(9, 1),
    );
    let board = StripedBoard {
        width: inches(9, 1),
        arrangement: strips,
        ..first_board()
    };
    let needs = needs_of(&board, &Practice::default());
    let food: Vec<String> = needs
        .warnings
        .iter()
        .filter(|warning| warning.kind == WarningKind::Food)
        .map(|warning| warning.about.to_string())
        .collect();
    assert_eq!(
        food,
        [
            "red oak suits serving, not knives.",
            "padauk suits thin accents only; here it is 33 % of the wood.",
        ]
    );
}

proptest! {
    #[test]
    fn strips_fill_the_width_and_volumes_add_up(
        strips in proptest::collection::vec((0..3_usize, 13..60_i64), 2..40),
        length in 120..1200_i64,
        thickness in 12..90_i64,
        surface in prop_oneof![Just(Surface::EdgeGrain), Just(Surface::FaceGrain), Just(Surface::Either)],
    ) {
        let names = ["hard maple", "black walnut", "black cherry"];
        let strips: Vec<BoardStrip> = strips
            .into_iter()
            .map(|(species, width)| BoardStrip::new(names[species], Length::from_mm(width)))
            .collect();
        let arrangement = Arrangement::new(strips);
        prop_assume!(arrangement.width() >= inches(2, 1) && arrangement.width() <= inches(36, 1));
        let board = StripedBoard {
            length: Length::from_mm(length),
            width: arrangement.width(),
            thickness: Length::from_mm(thickness),
            surface,
            arrangement,
            extras: Extras::default(),
        };
        let needs = needs_of(&board, &Practice::default());
        prop_assert_eq!(needs.finished.width, needs.places.iter().map(|place| place.width).sum::<Length>());
        let counted: u32 = needs.strips.iter().map(|strip| strip.count).sum();
        prop_assert_eq!(counted as usize, needs.places.len());
        let asked: Volume = needs
            .strips
            .iter()
            .map(|strip| {
                let section = strip.sections[0];
                Volume::of(strip.length, section.rip, section.thickness) * i64::from(strip.count)
            })
            .sum();
        prop_assert_eq!(asked, needs.wood.iter().map(|wood| wood.rough).sum::<Volume>());
        prop_assert_eq!(asked, needs.rough.volume());
        let finished = needs.wood.iter().map(|wood| wood.finished).sum::<Volume>();
        prop_assert!((finished.mm3() - needs.finished.volume().mm3()).abs() < 1e-3);
        // Every piece is glued exactly once, and every panel but the last into a later one.
        let parts: Vec<PanelPart> = needs.panels.iter().flat_map(|panel| panel.parts.clone()).collect();
        for piece in 0..needs.places.len() {
            prop_assert_eq!(parts.iter().filter(|part| **part == PanelPart::Piece(piece)).count(), 1);
        }
        prop_assert_eq!(parts.len(), needs.places.len() + needs.panels.len() - 1);
        // Waits and holds name steps that come earlier and later.
        for (place, step) in needs.steps.iter().enumerate() {
            for after in &step.after {
                prop_assert!(needs.steps[..place].iter().any(|earlier| earlier.key == after.key));
            }
            if let Some(hold) = &step.hold {
                prop_assert!(needs.steps[place..].iter().any(|later| later.key == hold.until));
            }
        }
    }
}
