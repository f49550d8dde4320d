//! Drawings of the shop's side: a panel in its clamps, the router about its pivot, plans, charts.

use scrapwright::calc::matching::Shop;
use scrapwright::calc::pattern::{Arrangement, BoardStrip};
use scrapwright::calc::schedule::Window;
use scrapwright::calc::shaping::{Circle, cut_circle};
use scrapwright::calc::work::{
    Design, Extras, Needs, Practice, StripedBoard, Surface, Wood, needs,
};
use scrapwright::export::svg::{
    Bar, ChartWords, ClampUse, InAndOut, Lane, LaneStep, PlanFace, Presence, Style, bars, glue_up,
    in_and_out, plan, router_circle, use_by_hour,
};
use scrapwright::units::{FoodGrade, WallMinute, WoodFigures};

use super::drawing::{Seen, attribute, inches, style};

fn board_needs() -> Needs {
    let strips = (0..6)
        .map(|index| {
            let species = if index % 2 == 0 {
                "walnut"
            } else {
                "hard maple"
            };
            BoardStrip::new(species, inches(3, 2))
        })
        .collect();
    let design = Design::StripedBoard(StripedBoard {
        length: inches(17, 1),
        width: inches(9, 1),
        thickness: inches(3, 2),
        surface: Surface::EdgeGrain,
        arrangement: Arrangement::new(strips),
        extras: Extras::default(),
    });
    let woods = ["walnut", "hard maple"].map(|species| Wood {
        species: species.to_owned(),
        figures: WoodFigures {
            specific_gravity: 0.63,
            shrinkage_tangential: None,
            shrinkage_radial: None,
            coefficient_tangential: None,
            coefficient_radial: None,
        },
        food: FoodGrade::Cutting,
    });
    needs(&design, &Practice::default(), &Shop::default(), &woods).expect("it can be made")
}

#[test]
fn clamps_lie_above_and_below_by_turns() {
    let needs = board_needs();
    let clamps = needs.panels[0].clamps.number as usize;
    assert!(clamps >= 2);
    let seen = Seen::new(&glue_up(&style(), &needs, 0, inches(2, 1)).expect("there is one panel"));
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
    for number in 1..=6 {
        assert!(seen.says(&number.to_string()));
    }
    assert!(seen.description().contains("6 parts"));
    assert!(seen.description().contains("5 glue lines"));
    assert!(glue_up(&style(), &needs, 1, inches(2, 1)).is_none());
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
        due: Some(due),
    };
    let lanes = [lane("Bread board", at(5, 21)), lane("Tray", at(3, 20))];
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
    assert_eq!(bars.len(), 4);
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
    assert_eq!(seen.all("line.cure").len(), 2);
    assert!(seen.says("due") && seen.says("late"));
    assert!(seen.says("1 glue-up · 2 unclamp"));
    assert!(seen.says("1 Mar") && seen.says("17–21") && seen.says("Mon"));
    assert_eq!(
        seen.description(),
        "2 projects and 1 set of clamps over 3 openings. Bread board: ready Fri 5 Mar, due Fri 5 Mar. \
         Tray: ready Fri 5 Mar, after its due date Wed 3 Mar."
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
