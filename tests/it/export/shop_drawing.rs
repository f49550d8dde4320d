//! Drawings of the shop's side: a panel in its clamps, the router about its pivot, plans, charts.

use std::sync::LazyLock;

use scrapwright::calc::matching::{Content, Layout, Part, Shop, Stock, Stretch};
use scrapwright::calc::schedule::Window;
use scrapwright::calc::shaping::{Circle, cut_circle};
use scrapwright::calc::work::{
    Design, HandleBoard, Kind, Needs, Practice, Wood, default_design, needs,
};
use scrapwright::export::svg::{
    Bar, Bench, ChartWords, ClampUse, CutPiece, InAndOut, Lane, LaneStep, PlanFace, Presence,
    Style, bars, exploded_strips, finished_piece, glue_up, handle_board, handle_on_piece,
    in_and_out, plan, round_tray, router_circle, slicing, use_by_hour,
};
use scrapwright::units::{FoodGrade, Length, Money, WallMinute, WoodFigures};

use super::drawing::{Seen, attribute, inches, style};

fn woods() -> Vec<Wood> {
    ["black walnut", "hard maple", "black cherry"]
        .map(|species| Wood {
            species: species.to_owned(),
            figures: WoodFigures {
                specific_gravity: 0.63,
                shrinkage_tangential: None,
                shrinkage_radial: None,
                coefficient_tangential: None,
                coefficient_radial: None,
            },
            food: FoodGrade::Cutting,
        })
        .to_vec()
}

pub(super) fn needs_of(design: &Design) -> Needs {
    needs(design, &Practice::default(), &Shop::default(), &woods()).expect("it can be made")
}

fn draw_glue_up(design: &Design, panel: usize) -> Seen {
    let needs = needs_of(design);
    let drawing = glue_up(&style(), design, &needs, panel, &Practice::default());
    Seen::new(&drawing.expect("there is such a panel"))
}

#[test]
fn clamps_lie_above_and_below_by_turns() {
    let design = default_design(Kind::StripedBoard);
    let needs = needs_of(&design);
    let clamps = needs.panels[0].clamp_count() as usize;
    assert!(clamps >= 2);
    let seen = draw_glue_up(&design, 0);
    assert_eq!(seen.all("g.clamp-above").len(), clamps.div_ceil(2));
    assert_eq!(seen.all("g.clamp-below").len(), clamps / 2);
    // What the panel hides of a clamp is dashed: two edges each.
    let hidden = seen.all("line.hidden");
    assert_eq!(hidden.len(), clamps / 2 * 2);
    assert!(
        hidden
            .iter()
            .all(|line| line.attr("stroke-dasharray").is_some())
    );
    assert_eq!(seen.all("rect.caul").len(), 2);
    // Thirteen strips of 3/4 in make the default board; each is numbered.
    for number in 1..=13 {
        assert!(seen.says(&number.to_string()));
    }
    assert!(seen.description().contains("13 parts"));
    assert!(seen.description().contains("12 glue lines"));
    let missing = glue_up(&style(), &design, &needs, 1, &Practice::default());
    assert!(missing.is_none());
}

#[test]
fn slices_are_glued_as_they_are_turned() {
    let design = default_design(Kind::EndGrainBoard);
    let needs = needs_of(&design);
    let seen = draw_glue_up(&design, needs.panels.len() - 1);
    // The first cells of the first two slices differ, as every second slice is turned.
    let dark = seen.all("rect[fill='#5b3a26']");
    let left = |cell: &scraper::ElementRef| attribute(cell, "x");
    let first_row = dark
        .iter()
        .map(|cell| attribute(cell, "y"))
        .fold(f64::MAX, f64::min);
    let in_first: Vec<f64> = dark
        .iter()
        .filter(|cell| (attribute(cell, "y") - first_row).abs() < 0.01)
        .map(left)
        .collect();
    let in_second: Vec<f64> = dark
        .iter()
        .filter(|cell| {
            let y = attribute(cell, "y") - first_row;
            y > 0.01 && (y - attribute(cell, "height")).abs() < 0.01
        })
        .map(left)
        .collect();
    assert!(!in_first.is_empty() && !in_second.is_empty());
    for x in &in_second {
        assert!(in_first.iter().all(|other| (x - other).abs() > 1.0));
    }
}

#[test]
fn a_ring_is_clamped_all_around_its_base() {
    let design = default_design(Kind::RoundTray);
    let needs = needs_of(&design);
    let last = needs.panels.len() - 1;
    let seen = draw_glue_up(&design, last);
    assert_eq!(
        seen.all("g.clamp-around").len(),
        needs.panels[last].clamp_count() as usize
    );
    assert!(
        seen.description()
            .starts_with("The ring on its base, 14 in across and 1 1/2 in high")
    );
}

#[test]
fn every_kind_is_drawn_finished_and_in_pieces() {
    for kind in Kind::ALL {
        let design = default_design(kind);
        let drawn = finished_piece(
            &style(),
            "A gift",
            &design,
            Bench {
                practice: &Practice::default(),
                shop: &Shop::default(),
            },
            3,
        );
        let seen = Seen::new(&drawn.expect("its shape closes"));
        assert_eq!(seen.only("title").text().collect::<String>(), "A gift");
        let needs = needs_of(&design);
        let seen = Seen::new(&exploded_strips(&style(), "A gift", &needs));
        assert_eq!(seen.all("rect.strip").len(), needs.places.len());
        assert!(seen.says(&needs.places.len().to_string()));
        for panel in 0..needs.panels.len() {
            draw_glue_up(&design, panel);
        }
    }
}

#[test]
fn every_second_slice_of_a_checker_is_turned() {
    let design = default_design(Kind::EndGrainBoard);
    let drawing = finished_piece(
        &style(),
        "Checker",
        &design,
        Bench {
            practice: &Practice::default(),
            shop: &Shop::default(),
        },
        3,
    );
    let seen = Seen::new(&drawing.expect("it is drawn"));
    let cells = seen.all("rect.cell");
    // 10 slices of 6 strips, each cell 1 1/2 by 1 1/2 in.
    assert_eq!(cells.len(), 60);
    for pair in cells.chunks(6).collect::<Vec<_>>().windows(2) {
        for (cell, beside) in pair[0].iter().zip(pair[1]) {
            assert!((attribute(cell, "y") - attribute(beside, "y")).abs() < 0.01);
            assert_ne!(cell.attr("fill"), beside.attr("fill"));
        }
    }
    assert!(seen.description().starts_with(
        "An end-grain board 15 × 9 in × 1 1/2 in of 10 slices, every second one turned end for end"
    ));
}

/// The worked example of the end-grain board: 10 slices of 1 5/8 in with a kerf of 1/8 in after each, between end
/// pieces of 1 in, make a panel of 19 1/2 in.
#[test]
fn a_panel_is_drawn_with_every_slice_and_kerf_to_scale() {
    let Design::EndGrainBoard(board) = default_design(Kind::EndGrainBoard) else {
        panic!("the default of another kind")
    };
    let layout = board.layout(&Practice::default(), &Shop::default());
    let seen = Seen::new(&slicing(&style(), &board, &layout));
    let kerfs = seen.all("rect.kerf");
    assert_eq!(kerfs.len(), 10);
    let apart = attribute(&kerfs[1], "x") - attribute(&kerfs[0], "x");
    let end_pieces = seen.all("rect.end-piece");
    let end = attribute(&end_pieces[0], "width");
    assert_eq!(end_pieces.len(), 2);
    // A slice and its kerf are 1 3/4 times as long as an end piece.
    assert!((apart / end - 1.75).abs() < 0.01, "{apart} {end}");
    let last = attribute(&kerfs[9], "x") + attribute(&kerfs[9], "width");
    assert!((last - attribute(&end_pieces[1], "x")).abs() < 0.1);
    assert_eq!(seen.all("path.mark").len(), 10);
    for number in 1..=10 {
        assert!(seen.says(&number.to_string()));
    }
    assert!(seen.says("1 5/8 in") && seen.says("19 1/2 in"));
    assert_eq!(
        seen.description(),
        "A panel 19 1/2 × 9 in × 1 1/2 in of 6 strips, cut across into 10 slices of 1 5/8 in with a kerf after each; \
         1 in is left at either end. Every second slice is turned end for end before gluing."
    );
}

fn handle() -> HandleBoard {
    match default_design(Kind::HandleBoard) {
        Design::HandleBoard(handle) => handle,
        _ => unreachable!("the kind was asked for"),
    }
}

#[test]
fn a_handle_board_is_drawn_with_true_arcs() {
    let design = handle();
    let shape = design.shape().expect("it closes");
    let seen = Seen::new(&handle_board(&style(), "Bread board", &design, &shape));
    let outline = seen.only("path.outline");
    let data = outline.attr("d").expect("a path");
    // Four body corners, two throats, two tip corners, each in two halves.
    assert_eq!(data.matches('A').count(), 16);
    assert!(seen.says("17 in") && seen.says("7 in") && seen.says("3/4 in"));
    assert_eq!(
        seen.description(),
        "A board 3/4 in thick, 17 × 7 in over all, its body 12 × 7 in, with a straight handle 5 × 1 3/4 in along the grain. \
         A hole of 1/2 in, with 5/8 in of wood around it. Across it: 7 in black cherry. Edges rounded over at 1/8 in."
    );
    let slanted = HandleBoard {
        slant_degrees: -15.0,
        ..design
    };
    let shape = slanted.shape().expect("it closes");
    let seen = Seen::new(&handle_board(&style(), "Bread board", &slanted, &shape));
    assert!(seen.description().contains("slanted by 15°"));
}

#[test]
fn a_handle_board_lies_in_its_blank_beside_the_bad_end() {
    let design = handle();
    let shape = design.shape().expect("it closes");
    let unusable = [Stretch {
        from: Length::ZERO,
        to: inches(3, 2),
    }];
    let stock = Stock {
        id: "B2-0099",
        species: "black cherry",
        length: inches(22, 1),
        width: inches(8, 1),
        thickness: inches(1, 1),
        unusable: &unusable,
        square_ends: true,
        straight_edges: true,
        count: Some(1),
        price: Money::ZERO,
        preference: 0,
    };
    let kerf = inches(1, 8);
    let part = |size, content| Part { size, content };
    let strip = part(inches(15, 2), Content::Strip("s1".to_owned()));
    let rest = part(inches(1, 2) - kerf, Content::Waste);
    let cut = Layout {
        stock: "B2-0099".to_owned(),
        copies: 1,
        parts: vec![
            part(inches(3, 2), Content::Waste),
            part(inches(18, 1), Content::Cut(vec![strip, rest])),
            part(inches(5, 2) - kerf * 2, Content::Waste),
        ],
    };
    let piece = |layout| CutPiece {
        layout,
        stock,
        shop: &SHOP,
        labels: &[],
    };
    let drawn = handle_on_piece(&style(), &piece(&cut), &shape).expect("a blank is cut");
    let seen = Seen::new(&drawn);
    let (blank, bad) = (seen.only("rect.blank"), seen.only("rect.unusable"));
    assert!(attribute(&blank, "x") >= attribute(&bad, "x") + attribute(&bad, "width"));
    let per_inch = attribute(&blank, "width") / 18.0;
    // The outline is 17 in long in a blank of 18 in, its middle on the blank's middle.
    let outline = seen.only("path.outline");
    let first = outline.attr("d").expect("a path");
    let x: f64 = first[1..first.find(' ').expect("two numbers")]
        .parse()
        .expect("a number");
    let from_blank = x - attribute(&blank, "x");
    assert!((0.0..=18.0 * per_inch).contains(&from_blank));
    assert_eq!(blank.attr("stroke-dasharray"), Some("6 4"));
    let empty = Layout {
        parts: vec![part(inches(22, 1), Content::Keep)],
        ..cut.clone()
    };
    assert!(handle_on_piece(&style(), &piece(&empty), &shape).is_none());
}

static SHOP: LazyLock<Shop> = LazyLock::new(Shop::default);

#[test]
fn a_tray_shows_its_ring_to_scale() {
    let design = default_design(Kind::RoundTray);
    let Design::RoundTray(tray) = &design else {
        unreachable!("the kind was asked for")
    };
    let seen = Seen::new(&round_tray(&style(), "Tray", tray));
    let (disc, hole) = (seen.only("circle.disc"), seen.only("circle.ring-hole"));
    let ratio = attribute(&hole, "r") / attribute(&disc, "r");
    // 13 in in 14 in.
    assert!((ratio - 13.0 / 14.0).abs() < 1e-3);
    assert_eq!(seen.all("rect.ring").len(), 2);
    assert!(seen.says("14 in") && seen.says("1/2 in") && seen.says("3/4 in"));
}

/// The circle whose figures everybody checks: 14 in disc, 1/2 in rim, 1/4 in bit.
pub(super) fn circle() -> Circle {
    Circle {
        diameter: inches(14, 1),
        rim: Some(inches(1, 2)),
        bit: inches(1, 4),
        thickness: inches(1, 1),
        depth_per_pass: inches(3, 16),
    }
}

fn draw_circle(circle: &Circle) -> Seen {
    let cuts = cut_circle(circle).expect("it can be cut");
    Seen::new(&router_circle(&style(), circle, &cuts))
}

#[test]
fn the_wrong_edge_of_the_bit_is_drawn_and_its_loss_said() {
    let seen = draw_circle(&circle());
    let right: Vec<f64> = seen
        .all("rect.bit")
        .iter()
        .map(|bit| attribute(bit, "x"))
        .collect();
    let wide = attribute(&seen.all("rect.bit")[0], "width");
    assert_eq!(right.len(), 2);
    // Two bits and the rim of 1/2 in, which is two bits again, lie between the inside cut and the line of the disc.
    assert!((right[0] - right[1] - 3.0 * wide).abs() < 0.01);
    let wrong = attribute(&seen.only("rect.bit-wrong"), "x");
    assert!((wrong - right[1] - wide).abs() < 0.01);
    assert!(seen.says("near edge 7 in") && seen.says("middle 7 1/8 in"));
    assert!(seen.says("near edge 6 1/4 in") && seen.says("middle 6 3/8 in"));
    assert!(seen.says("rim 1/2 in") && seen.says("rim 1/4 in"));
    assert!(
        seen.description()
            .ends_with("which leaves a rim of 1/4 in.")
    );
    let thin = draw_circle(&Circle {
        rim: Some(inches(1, 4)),
        ..circle()
    });
    assert!(thin.description().ends_with("which leaves no rim at all."));
    let disc = draw_circle(&Circle {
        rim: None,
        ..circle()
    });
    assert_eq!(disc.all("rect.bit").len(), 1);
    assert!(disc.all("rect.bit-wrong").is_empty());
}

fn at(day: i64, hour: i64) -> WallMinute {
    WallMinute::from_civil(2027, 3, day, hour, 0).expect("a day of March")
}

#[test]
fn a_plan_lies_in_its_openings_and_says_what_is_late() {
    let openings = [1, 3, 5].map(|day| Window {
        from: at(day, 17),
        to: at(day, 21),
    });
    let step = |name, from, to, is| LaneStep { name, from, to, is };
    let steps = [
        step("glue-up", at(1, 18), at(1, 19), Presence::Attended),
        step("clamped", at(1, 19), at(3, 17), Presence::Clamped),
        step("unclamp", at(3, 17), at(3, 18), Presence::Attended),
        step("cure", at(3, 18), at(5, 20), Presence::Curing),
    ];
    let lane = |project, due| Lane {
        project,
        steps: &steps,
        ready: Some(at(5, 20)),
        due: Some(due),
    };
    // A due day ends at the midnight after it.
    let lanes = [
        lane("Bread board", at(6, 0)),
        lane("Tray", at(4, 0)),
        lane("Late March", at(21, 0)),
    ];
    let used = [(at(1, 18), 5), (at(3, 18), 0)];
    let face = PlanFace {
        title: "Plan",
        openings: &openings,
        lanes: &lanes,
        clamps: &[ClampUse {
            name: "24 in clamps",
            capacity: 8,
            from: &used,
        }],
    };
    let seen = Seen::new(&plan(&style(), &face));
    let columns = seen.all("rect.opening");
    assert_eq!(columns.len(), 3);
    let spans: Vec<(f64, f64)> = columns
        .iter()
        .map(|column| {
            let x = attribute(column, "x");
            (x, x + attribute(column, "width"))
        })
        .collect();
    let bars = seen.all("rect.step");
    assert_eq!(bars.len(), 6);
    for bar in &bars {
        let (from, to) = (
            attribute(bar, "x"),
            attribute(bar, "x") + attribute(bar, "width"),
        );
        assert!(
            spans
                .iter()
                .any(|(open, shut)| *open <= from && to <= *shut + 0.01)
        );
    }
    // A quarter of a four-hour opening.
    let hour = (spans[0].1 - spans[0].0) / 4.0;
    assert!((attribute(&bars[0], "width") - hour).abs() < 0.01);
    let hold = &seen.all("rect.hold")[0];
    assert_eq!(hold.attr("fill"), Some("url(#d1-hatch)"));
    assert!((attribute(hold, "x") - spans[0].0 - 2.0 * hour).abs() < 0.01);
    assert_eq!(seen.all("line.cure").len(), 3);
    assert!(seen.says("due 5 Mar") && seen.says("late, due 3 Mar") && seen.says("due 20 Mar"));
    // What is left until a due date is a line of its own, and a date that lies beyond has another mark.
    assert_eq!(seen.all("line.spare").len(), 2);
    let marks: Vec<usize> = seen
        .all("path.due")
        .iter()
        .map(|mark| mark.attr("d").unwrap().matches('L').count())
        .collect();
    assert_eq!(marks, [3, 3, 2]);
    assert!(seen.says("1 glue-up · 2 unclamp"));
    assert!(seen.says("1 Mar") && seen.says("17–21") && seen.says("Mon"));
    assert_eq!(
        seen.description(),
        "3 projects and 1 set of clamps over 3 openings. Bread board: ready Fri 5 Mar, due Fri 5 Mar. \
         Tray: ready Fri 5 Mar, after its due date Wed 3 Mar. Late March: ready Fri 5 Mar, due Sat 20 Mar."
    );
}

#[test]
fn a_plan_without_openings_says_so() {
    let face = PlanFace {
        title: "Plan",
        openings: &[],
        lanes: &[],
        clamps: &[],
    };
    assert!(Seen::new(&plan(&style(), &face)).says("no openings in this time"));
}

#[test]
fn many_openings_widen_the_drawing_rather_than_vanish() {
    let openings: Vec<Window> = (1..=31)
        .map(|day| Window {
            from: at(day, 17),
            to: at(day, 21),
        })
        .collect();
    let face = PlanFace {
        title: "Plan",
        openings: &openings,
        lanes: &[],
        clamps: &[],
    };
    let drawing = plan(&style(), &face);
    assert!(drawing.width > Style::PHONE * 2.0);
    for column in Seen::new(&drawing).all("rect.opening") {
        assert!(attribute(&column, "width") >= 30.0);
    }
}

const WOOD: ChartWords = ChartWords {
    title: "Wood kept from the fire",
    unit: "board feet",
};

#[test]
fn bars_start_at_zero_and_are_as_high_as_they_say() {
    let bar = |label: &str, value| Bar {
        label: label.to_owned(),
        value,
    };
    let values = [bar("Jan", 4.0), bar("Feb", 0.0), bar("Mar", 8.0)];
    let seen = Seen::new(&bars(&style(), WOOD, &values));
    let heights: Vec<f64> = seen
        .all("rect.bar")
        .iter()
        .map(|bar| attribute(bar, "height"))
        .collect();
    assert!((heights[2] - 2.0 * heights[0]).abs() < 0.01);
    assert!(heights[1].abs() < 0.01);
    assert!(seen.says("0") && seen.says("8") && seen.says("board feet") && seen.says("Feb"));
    assert_eq!(seen.description(), "In board feet. Jan 4, Feb 0 and Mar 8.");
    let empty = Seen::new(&bars(&style(), WOOD, &[]));
    assert!(empty.description().ends_with("nothing to show yet."));
}

#[test]
fn what_came_and_what_went_share_one_scale() {
    let rows = [InAndOut {
        label: "hard maple".to_owned(),
        came: 20.0,
        went: 5.0,
    }];
    let seen = Seen::new(&in_and_out(&style(), WOOD, &rows));
    let (came, went) = (seen.only("rect.came"), seen.only("rect.went"));
    let ratio = attribute(&came, "width") / attribute(&went, "width");
    assert!((ratio - 4.0).abs() < 0.01);
    assert_eq!(went.attr("fill"), Some("url(#d1-hatch)"));
    assert!(seen.says("20") && seen.says("5"));
}

#[test]
fn clamps_by_hour_show_how_many_there_are() {
    let words = ChartWords {
        title: "Bar clamps on Saturday",
        unit: "clamps",
    };
    let chart = use_by_hour(&style(), words, &[(0.0, 2), (12.0, 6)], (9.0, 18.0), 8);
    let seen = Seen::new(&chart);
    assert!(seen.says("all 8"));
    assert!(seen.only(".capacity").attr("stroke-dasharray").is_some());
    assert_eq!(
        seen.description(),
        "Bar clamps on Saturday: at most 6 of 8 in use between 9 and 18 o'clock."
    );
}

#[test]
fn a_chart_holds_a_huge_value() {
    let huge = [Bar {
        label: "all".to_owned(),
        value: 1e12,
    }];
    Seen::new(&bars(&style(), WOOD, &huge));
}
