//! What end-grain boards, boards with a handle and round trays ask of wood and shop.

use std::f64::consts::PI;

use proptest::prelude::*;
use scrapwright::calc::matching::{Section, Shop};
use scrapwright::calc::pattern::{Arrangement, BoardStrip, fill};
use scrapwright::calc::work::{
    Blank, Change, Design, EdgeTreatment, EndGrainBoard, Extras, Flattening, FlatteningTool,
    HandleBoard, Hole, Kind, Needs, PanelPart, Practice, RoundTray, Station, StepKind, Surface,
    Turn, WarningKind, default_design, needs,
};
use scrapwright::units::{Length, Minutes};

use crate::woods::woods;

fn inches(numerator: i64, denominator: i64) -> Length {
    Length::from_inches(numerator, denominator)
}

fn needs_of(design: Design, practice: &Practice) -> Needs {
    needs(&design, practice, &Shop::default(), &woods()).unwrap_or_else(|flaws| panic!("{flaws:?}"))
}

fn flaws_of(design: Design) -> Vec<String> {
    let found = needs(&design, &Practice::default(), &Shop::default(), &woods()).err();
    found
        .unwrap_or_default()
        .iter()
        .map(ToString::to_string)
        .collect()
}

fn warned(needs: &Needs, kind: WarningKind) -> Vec<String> {
    let warnings = needs.warnings.iter().filter(|warning| warning.kind == kind);
    warnings.map(|warning| warning.about.to_string()).collect()
}

fn end_grain() -> EndGrainBoard {
    match default_design(Kind::EndGrainBoard) {
        Design::EndGrainBoard(board) => board,
        other => panic!("{other:?}"),
    }
}

fn handle() -> HandleBoard {
    match default_design(Kind::HandleBoard) {
        Design::HandleBoard(board) => board,
        other => panic!("{other:?}"),
    }
}

fn tray() -> RoundTray {
    match default_design(Kind::RoundTray) {
        Design::RoundTray(tray) => tray,
        other => panic!("{other:?}"),
    }
}

/// By hand: 10 slices of 1 1/2 in and 1/16 in a face, each followed by a kerf of 1/8 in, and 1 in left
/// at either end: 10 x 1 5/8 + 10 x 1/8 + 2 = 19 1/2 in.
#[test]
fn an_end_grain_board_asks_for_a_panel_with_all_its_kerfs() {
    let layout = end_grain().layout(&Practice::default(), &Shop::default());
    assert_eq!(layout.slice_thickness, inches(13, 8));
    assert_eq!(layout.kerfs, inches(5, 4));
    assert_eq!(layout.panel_length, inches(39, 2));
    assert_eq!(layout.panel_width, inches(9, 1));

    let needs = needs_of(Design::EndGrainBoard(end_grain()), &Practice::default());
    assert_eq!(
        (needs.finished.length, needs.finished.width),
        (inches(15, 1), inches(9, 1))
    );
    let strips = &needs.strips;
    assert_eq!(
        strips.iter().map(|strip| strip.count).collect::<Vec<_>>(),
        [3, 3]
    );
    assert_eq!(strips[0].length, inches(39, 2));
    // Either way: 1 1/2 in wide, and 1 1/2 in thick with 1/16 in a face to flatten.
    let flat = Section {
        rip: inches(3, 2),
        thickness: inches(13, 8),
    };
    let on_edge = Section {
        rip: inches(13, 8),
        thickness: inches(3, 2),
    };
    assert_eq!(strips[0].sections, [on_edge, flat]);
    // 15 x 9 x 1 1/2 in, less the rounded edges.
    assert!(needs.finished_board_feet() < 202.5 / 144.0);
    assert!(needs.finished_board_feet() > 202.0 / 144.0);
}

#[test]
fn an_end_grain_board_is_glued_twice_and_never_planed_on_its_end_grain() {
    let practice = Practice {
        flattening: Flattening {
            tool: FlatteningTool::Planer,
            pass_width: Some(inches(13, 1)),
        },
        ..Practice::default()
    };
    let needs = needs_of(Design::EndGrainBoard(end_grain()), &practice);
    let keys: Vec<&str> = needs.steps.iter().map(|step| step.key.as_str()).collect();
    assert_eq!(
        keys,
        [
            "mill",
            "dry-fit-panel",
            "glue-up-panel",
            "unclamp-panel",
            "flatten-panel",
            "cut-slices",
            "dry-fit-slices",
            "glue-up-slices",
            "unclamp-slices",
            "flatten-end-grain",
            "square",
            "round-over-and-sand",
            "coat-1",
            "coat-2",
            "coat-3",
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
    assert_eq!(step("flatten-panel").stations, [(Station::Planer, 1)]);
    assert_eq!(
        step("flatten-end-grain").stations,
        [(Station::Router, 1)],
        "a router sled"
    );
    assert!(step("flatten-end-grain").cautions.contains(&"end grain"));
    let fresh = step("glue-up-slices")
        .after
        .iter()
        .find(|after| after.key == "flatten-panel");
    assert_eq!(fresh.and_then(|after| after.max_gap), Some(Minutes(2880)));

    let [first, second] = needs.panels.as_slice() else {
        panic!("two glue-ups")
    };
    assert_eq!((first.glue_lines(), second.glue_lines()), (5, 9));
    assert_eq!(
        (second.length, second.width, second.height),
        (inches(9, 1), inches(15, 1), inches(13, 8))
    );
    assert_eq!(second.parts[9], PanelPart::Slice(9));
}

#[test]
fn turned_slices_make_a_checkerboard_only_where_the_ends_differ() {
    let practice = Practice::default();
    let layout = end_grain().layout(&practice, &Shop::default());
    assert!(layout.is_checker && layout.is_square);
    assert_eq!(layout.rows[0][0].0, 0);
    assert_eq!(
        layout.rows[1][0].0, 5,
        "the second slice begins with the last strip"
    );
    let needs = needs_of(Design::EndGrainBoard(end_grain()), &practice);
    assert_eq!(warned(&needs, WarningKind::Pattern), [""; 0]);

    let mut odd = end_grain();
    odd.arrangement
        .strips
        .push(BoardStrip::new("hard maple", inches(3, 2)));
    let needs = needs_of(Design::EndGrainBoard(odd.clone()), &practice);
    assert!(warned(&needs, WarningKind::Pattern)[0].contains("read the same from both ends"));

    odd.turn = Turn::Shift;
    let layout = odd.layout(&practice, &Shop::default());
    assert!(layout.is_checker);
    assert_eq!(layout.trimmed, inches(3, 2));
    let shifted = needs_of(Design::EndGrainBoard(odd), &practice);
    assert_eq!(
        shifted.finished.width,
        inches(9, 1),
        "7 strips, one of them trimmed off"
    );

    let oblong = EndGrainBoard {
        panel_thickness: inches(1, 1),
        ..end_grain()
    };
    let needs = needs_of(Design::EndGrainBoard(oblong), &practice);
    assert!(warned(&needs, WarningKind::Pattern)[0].contains("not square"));
}

#[test]
fn slices_that_miss_the_length_are_offered_both_ways() {
    let counts = EndGrainBoard::slice_counts(inches(16, 1), inches(3, 2));
    assert_eq!(counts, [(10, inches(15, 1)), (11, inches(33, 2))]);
    let board = EndGrainBoard {
        length: inches(16, 1),
        ..end_grain()
    };
    let needs = needs_of(Design::EndGrainBoard(board), &Practice::default());
    let eleven = Change::SliceCount {
        slices: 11,
        length: inches(33, 2),
    };
    assert!(
        needs
            .alternatives
            .iter()
            .any(|other| other.change == eleven)
    );
    assert_eq!(warned(&needs, WarningKind::Size).len(), 1);
}

/// By hand, in inches: body 12 x 7 with four corners of 1, handle 5 x 1 3/4 with a round end (two quarters
/// of 7/8) and two throats of 3/4, hole 1/2.
/// Area: 84 - (4 - pi) + 8.75 - (2 - pi/2) 49/64 + (2 - pi/2) 9/16 - pi/16.
#[test]
fn a_straight_handle_has_the_area_and_outline_of_its_parts() {
    let shape = handle().shape().expect("the first design can be cut");
    let corner_part = 2.0 - PI / 2.0;
    let area =
        84.0 - (4.0 - PI) + 8.75 - corner_part * 49.0 / 64.0 + corner_part * 9.0 / 16.0 - PI / 16.0;
    assert!(
        (shape.area_mm2 / 645.16 - area).abs() < 1e-9,
        "{}",
        shape.area_mm2 / 645.16
    );
    // Sides 2 x 10, far end 5, shoulders 2 x (7/2 - 7/8 - 1 - 3/4), handle 2 x (5 - 3/4 - 7/8),
    // quarters: 4 of 1, 2 of 3/4, 2 of 7/8.
    let straight = 20.0 + 5.0 + 2.0 * 0.875 + 2.0 * 3.375;
    let arcs = PI / 2.0 * (4.0 + 1.5 + 1.75);
    assert!((shape.outline_length.inches() - (straight + arcs)).abs() < 1e-6);
    assert_eq!(shape.extent, (inches(17, 1), inches(7, 1)));
    // The hole's centre is that of the round end: 7/8 less 1/4 in is left all round.
    assert_eq!(shape.around_hole, Some(inches(5, 8)));
}

/// The blank is the outline's extent and 1/4 in all round, with the grain along the handle.
#[test]
fn a_handle_board_from_one_piece_has_no_glue_up() {
    let needs = needs_of(Design::HandleBoard(handle()), &Practice::default());
    let [blank] = needs.strips.as_slice() else {
        panic!("one piece")
    };
    assert_eq!(blank.length, inches(35, 2));
    assert_eq!(
        blank.sections,
        [Section {
            rip: inches(15, 2),
            thickness: inches(7, 8)
        }]
    );
    assert_eq!(needs.panels, []);
    let keys: Vec<&str> = needs.steps.iter().map(|step| step.key.as_str()).collect();
    assert_eq!(
        &keys[..5],
        [
            "mill",
            "flatten",
            "drill-hole",
            "cut-outline",
            "round-over-and-sand"
        ]
    );
}

#[test]
fn a_slanted_handle_needs_a_wider_blank() {
    let slanted = HandleBoard {
        slant_degrees: 30.0,
        ..handle()
    };
    let shape = slanted.shape().expect("it can be cut");
    // Across the grain the body's rounded rectangle measures 10 sin 30 + 5 cos 30 + 2 in.
    let across = 10.0 * 0.5 + 5.0 * 0.75_f64.sqrt() + 2.0;
    assert!((shape.extent.1.inches() - across).abs() < 1e-6);
    let straight = handle().shape().expect("it can be cut");
    assert!((shape.area_mm2 - straight.area_mm2).abs() < 1500.0);
    let needs = needs_of(Design::HandleBoard(slanted.clone()), &Practice::default());
    assert!(warned(&needs, WarningKind::Strength)[0].contains("crosses the body at 30 degrees"));
    let mirrored = HandleBoard {
        slant_degrees: -30.0,
        ..slanted
    };
    let mirrored = mirrored.shape().expect("it can be cut");
    assert_eq!(mirrored.extent, shape.extent);
}

#[test]
fn a_glued_blank_must_be_wide_enough_and_has_its_glue_up() {
    let strips = |count: i64| Blank::Glued {
        surface: Surface::EdgeGrain,
        arrangement: fill(
            &[
                BoardStrip::new("hard maple", inches(3, 4)),
                BoardStrip::new("black cherry", inches(3, 4)),
            ],
            inches(3 * count, 4),
        ),
    };
    let narrow = HandleBoard {
        blank: strips(9),
        ..handle()
    };
    assert_eq!(
        flaws_of(Design::HandleBoard(narrow)),
        ["blank strips are 171.45 mm wide together; must be at least 190.5 mm for this shape"]
    );
    let needs = needs_of(
        Design::HandleBoard(HandleBoard {
            blank: strips(10),
            ..handle()
        }),
        &Practice::default(),
    );
    assert_eq!(needs.panels.len(), 1);
    assert_eq!(needs.panels[0].glue_lines(), 9);
    assert_eq!(
        needs.strips.iter().map(|strip| strip.count).sum::<u32>(),
        10
    );
}

#[test]
fn handles_that_break_or_cannot_be_sawn_are_warned_about() {
    let thin = HandleBoard {
        throat_radius: inches(1, 4),
        hole: Some(Hole {
            diameter: inches(9, 8),
            from_tip: inches(7, 8),
        }),
        ..handle()
    };
    let needs = needs_of(Design::HandleBoard(thin.clone()), &Practice::default());
    assert_eq!(
        warned(&needs, WarningKind::Strength),
        ["Only 7.9375 mm of wood are left around the hole."]
    );
    assert!(warned(&needs, WarningKind::Tool)[0].contains("turns in 19.05 mm"));
    let drilled = HandleBoard {
        relief_drill: Some(inches(1, 2)),
        ..thin.clone()
    };
    let needs = needs_of(Design::HandleBoard(drilled), &Practice::default());
    assert_eq!(warned(&needs, WarningKind::Tool), [""; 0]);

    let bitten = HandleBoard {
        hole: Some(Hole {
            diameter: inches(7, 4),
            from_tip: inches(7, 8),
        }),
        relief_drill: Some(inches(1, 1)),
        ..thin
    };
    let flaws = flaws_of(Design::HandleBoard(bitten));
    assert!(
        flaws[0].starts_with("relief_drill is 25.4 mm; must be at most 12.7 mm"),
        "{flaws:?}"
    );
    let wide = HandleBoard {
        handle_width: inches(7, 1),
        ..handle()
    };
    assert!(flaws_of(Design::HandleBoard(wide))[0].contains("must be less than 177.8 mm"));
    let round = HandleBoard {
        throat_radius: inches(3, 1),
        ..handle()
    };
    let flaws = flaws_of(Design::HandleBoard(round));
    assert!(
        flaws[0].contains("the shoulder beside the handle"),
        "{flaws:?}"
    );
    let upside_down = HandleBoard {
        slant_degrees: f64::NAN,
        ..handle()
    };
    assert_eq!(flaws_of(Design::HandleBoard(upside_down)).len(), 1);
}

/// Plain geometry: 14 in disc, 1/2 in rim, 1/4 in bit.
#[test]
fn a_tray_has_the_routers_settings() {
    let layout = tray().layout(&Practice::default()).expect("it can be cut");
    assert_eq!(
        layout.base.outside.to_near_edge,
        Length::from_nm(177_800_000)
    );
    assert_eq!(
        layout.base.outside.to_bit_centre,
        Length::from_nm(180_975_000)
    );
    let inside = layout.ring.inside.expect("a ring has an inside");
    assert_eq!(inside.to_near_edge, Length::from_nm(158_750_000));
    assert_eq!(inside.to_bit_centre, Length::from_nm(161_925_000));
    assert_eq!(layout.ring.falls_out, Some(Length::from_nm(317_500_000)));
    assert_eq!(layout.blank_at_least, Length::from_nm(368_300_000));
    assert_eq!(layout.bare_blank, inches(14, 1));
    assert_eq!(layout.rim_by_wrong_edge, inches(1, 4), "one bit thinner");
    // Makers' 1/8 in: 6 passes through 3/4 in; common practice 3/16 in: 4.
    assert_eq!((layout.base.passes.len(), layout.bold_passes), (6, (4, 4)));
    assert_eq!(
        layout.arm_at_least,
        inches(33, 4),
        "7 in, the bit, and an inch"
    );
    let thick = RoundTray {
        base_thickness: inches(1, 1),
        ..tray()
    };
    let layout = thick.layout(&Practice::default()).expect("it can be cut");
    assert_eq!(layout.bold_passes.0, 6, "1 in in passes of 3/16 in");
}

#[test]
fn a_tray_is_glued_three_times() {
    let needs = needs_of(Design::RoundTray(tray()), &Practice::default());
    let glue_ups: Vec<&str> = needs
        .steps
        .iter()
        .filter(|step| step.kind == StepKind::GlueUp)
        .map(|step| step.key.as_str())
        .collect();
    assert_eq!(glue_ups, ["glue-up-base", "glue-up-ring", "glue-up-tray"]);
    assert_eq!(
        needs.panels[2].parts,
        [PanelPart::Panel(0), PanelPart::Panel(1)]
    );
    let [boards] = needs.strips.as_slice() else {
        panic!("four equal boards")
    };
    assert_eq!((boards.count, boards.length), (4, inches(15, 1)));
    assert_eq!(
        boards.sections,
        [Section {
            rip: inches(29, 4),
            thickness: inches(7, 8)
        }]
    );
    let [round] = needs.leftovers.as_slice() else {
        panic!("one round falls out")
    };
    assert!(round.is_round);
    assert_eq!(round.size.length, inches(25, 2));
    assert_eq!(round.species, ["hard maple"]);
    // 317.5 / sqrt 2 = 224.506 mm.
    assert_eq!(round.usable(), (Length::from_mm(224), Length::from_mm(224)));
    assert_eq!(warned(&needs, WarningKind::Blank), [""; 0]);
    // Disc and ring without edges: pi 49 x 3/4 and pi (49 - 42.25) x 3/4 in^3; each loses one edge of 1/8 in.
    let volume = PI * (49.0 + 6.75) * 0.75 - 2.0 * PI * 14.0 * (1.0 - PI / 4.0) / 64.0;
    assert!((needs.finished_board_feet() * 144.0 - volume).abs() < 1e-6);
}

/// Two 7 in boards make a 14 in blank: enough for the disc only, the bit runs off at four places.
#[test]
fn a_bare_blank_is_warned_about_and_a_smaller_one_refused() {
    let boards = |width: Length| Blank::Glued {
        surface: Surface::FaceGrain,
        arrangement: Arrangement::new(vec![BoardStrip::new("hard maple", width); 2]),
    };
    let bare = RoundTray {
        base: boards(inches(7, 1)),
        ..tray()
    };
    let needs = needs_of(Design::RoundTray(bare), &Practice::default());
    let [warning] = &warned(&needs, WarningKind::Blank)[..] else {
        panic!("the base's blank")
    };
    assert!(
        warning.contains("runs off the wood at four places"),
        "{warning}"
    );
    let small = RoundTray {
        ring: boards(inches(6, 1)),
        ..tray()
    };
    assert_eq!(
        flaws_of(Design::RoundTray(small)),
        ["ring strips are 304.8 mm wide together; must be at least 355.6 mm for this shape"]
    );
}

#[test]
fn a_tray_from_single_pieces_is_glued_once() {
    let piece = || Blank::OnePiece {
        species: "black walnut".to_owned(),
    };
    let one = RoundTray {
        base: piece(),
        ring: piece(),
        ..tray()
    };
    let needs = needs_of(Design::RoundTray(one), &Practice::default());
    assert_eq!(needs.panels.len(), 1);
    assert_eq!(
        needs.panels[0].parts,
        [PanelPart::Piece(0), PanelPart::Piece(1)]
    );
    assert_eq!(
        needs.strips[0].sections[0].rip,
        inches(29, 2),
        "the disc and the bit's whole kerf"
    );
    let flat = needs
        .steps
        .iter()
        .find(|step| step.kind == StepKind::FlattenPanel)
        .expect("flat");
    assert_eq!(flat.after.len(), 1);
}

#[test]
fn a_tray_that_cannot_be_cut_is_refused_with_every_reason() {
    let wrong = RoundTray {
        diameter: inches(40, 1),
        bit: inches(2, 1),
        base: Blank::OnePiece {
            species: "moon wood".to_owned(),
        },
        edge: EdgeTreatment::RoundOver {
            radius: inches(1, 2),
        },
        ..tray()
    };
    let flaws = flaws_of(Design::RoundTray(wrong));
    assert!(
        flaws
            .iter()
            .any(|flaw| flaw.starts_with("diameter is 1016 mm")),
        "{flaws:?}"
    );
    assert!(flaws.iter().any(|flaw| flaw.starts_with("bit is 50.8 mm")));
    assert!(
        flaws
            .iter()
            .any(|flaw| flaw.starts_with("base species is \"moon wood\""))
    );
    let broad = RoundTray {
        rim: inches(4, 1),
        ..tray()
    };
    assert!(flaws_of(Design::RoundTray(broad))[0].starts_with("rim is 101.6 mm; must be from"));
}

/// Every caution that a step names is one that the table of cautions has.
#[test]
fn cautions_of_steps_are_known() {
    for kind in Kind::ALL {
        let needs = needs_of(default_design(kind), &Practice::default());
        for subject in needs.cautions() {
            let known = scrapwright::reference::cautions_about(subject).next();
            assert!(known.is_some(), "{kind:?}: {subject}");
        }
    }
}

proptest! {
    #[test]
    fn rows_of_an_end_grain_board_fill_its_width(
        strips in proptest::collection::vec((0..3_usize, 10..60_i64), 2..12),
        slices in 2..12_u32,
        turn in prop_oneof![Just(Turn::Plain), Just(Turn::Flip), Just(Turn::Shift)],
    ) {
        let names = ["hard maple", "black walnut", "black cherry"];
        let strips = strips
            .into_iter()
            .map(|(species, width)| BoardStrip::new(names[species], Length::from_mm(width)))
            .collect();
        let board = EndGrainBoard {
            length: inches(10, 1),
            arrangement: Arrangement::new(strips),
            slices,
            turn,
            extras: Extras::default(),
            ..end_grain()
        };
        let (practice, shop) = (Practice::default(), Shop::default());
        let design = Design::EndGrainBoard(board.clone());
        let layout = board.layout(&practice, &shop);
        prop_assert_eq!(layout.rows.len(), slices as usize);
        let width = design.finished(&practice).width;
        for row in &layout.rows {
            prop_assert_eq!(row.iter().map(|(_, width)| *width).sum::<Length>(), width);
        }
        if let Ok(needs) = needs(&design, &practice, &shop, &woods()) {
            let finished: f64 = needs.wood.iter().map(|wood| wood.finished.mm3()).sum();
            prop_assert!((finished - needs.finished.volume().mm3()).abs() < 1e-3);
            let rough: f64 = needs.wood.iter().map(|wood| wood.rough.mm3()).sum();
            prop_assert!(rough > finished);
        }
    }

    #[test]
    fn any_handle_closes_or_says_why(
        body in (100..500_i64, 60..300_i64),
        handle_size in (30..250_i64, 20..120_i64),
        radii in (0..60_i64, 0..60_i64, 0..60_i64),
        slant in -45.0..45.0_f64,
    ) {
        let mm = Length::from_mm;
        let board = HandleBoard {
            body_length: mm(body.0),
            body_width: mm(body.1),
            handle_length: mm(handle_size.0),
            handle_width: mm(handle_size.1),
            slant_degrees: slant,
            corner_radius: mm(radii.0),
            throat_radius: mm(radii.1),
            tip_radius: mm(radii.2),
            hole: None,
            ..handle()
        };
        match board.shape() {
            Err(flaws) => prop_assert!(!flaws.is_empty()),
            Ok(shape) => {
                prop_assert!(shape.area_mm2 > 0.0);
                // The outline lies in its extent, and no line that closes around an area is shorter
                // than the circle around the same area.
                let box_area = shape.extent.0.mm() * shape.extent.1.mm();
                prop_assert!(shape.area_mm2 <= box_area + 1e-3);
                let around = shape.outline_length.mm();
                prop_assert!(around * around >= 4.0 * PI * shape.area_mm2);
            }
        }
    }
}
