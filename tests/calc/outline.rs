//! Outlines of lines and arcs, against plain geometry and against polygons with many corners.

use std::f64::consts::{PI, TAU};

use proptest::prelude::*;
use scrapwright::calc::shaping::{Corner, CornerError, Outline, Point, Segment};

fn corners(radius: f64, points: &[(f64, f64)]) -> Vec<Corner> {
    points
        .iter()
        .map(|&(x, y)| Corner {
            at: Point::new(x, y),
            radius,
        })
        .collect()
}

fn rectangle(length: f64, width: f64, radius: f64) -> Vec<Corner> {
    corners(
        radius,
        &[(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)],
    )
}

fn close(left: f64, right: f64, tolerance: f64) -> bool {
    (left - right).abs() <= tolerance
}

/// By hand: four quarter circles of 10 mm and straight sides of 80 and 30 mm.
#[test]
fn a_rectangle_with_round_corners() {
    let outline = Outline::rounded(&rectangle(100.0, 50.0, 10.0)).expect("it fits");
    assert!(close(
        outline.length(),
        2.0 * (80.0 + 30.0) + 20.0 * PI,
        1e-9
    ));
    assert!(close(outline.area(), 5000.0 - (4.0 - PI) * 100.0, 1e-9));
    let extent = outline.extent();
    assert!(close(extent.length(), 100.0, 1e-9) && close(extent.width(), 50.0, 1e-9));
    assert!(close(outline.distance(Point::new(50.0, 25.0)), 25.0, 1e-9));
    // From the corner point to the arc: 10 sqrt(2) - 10.
    assert!(close(
        outline.distance(Point::new(0.0, 0.0)),
        10.0 * 2_f64.sqrt() - 10.0,
        1e-9
    ));
    assert_eq!(outline.least_inside_radius(), None);
}

#[test]
fn a_circle_has_its_known_measures() {
    let circle = Outline::circle(Point::new(3.0, 4.0), 177.8);
    assert!(close(circle.length(), TAU * 177.8, 1e-9));
    assert!(close(circle.area(), PI * 177.8 * 177.8, 1e-6));
    assert!(close(circle.extent().width(), 355.6, 1e-9));
    assert!(close(circle.distance(Point::new(3.0, 4.0)), 177.8, 1e-9));
}

/// An L with an inside corner of 20 mm: 60 x 60 less 30 x 30, plus the fillet of (1 - pi/4) 20^2.
#[test]
fn an_inside_corner_adds_wood() {
    let mut points = corners(
        0.0,
        &[
            (0.0, 0.0),
            (60.0, 0.0),
            (60.0, 30.0),
            (30.0, 30.0),
            (30.0, 60.0),
            (0.0, 60.0),
        ],
    );
    let sharp = Outline::rounded(&points).expect("it fits");
    assert_eq!(sharp.least_inside_radius(), Some(0.0));
    assert!(close(sharp.area(), 2700.0, 1e-9));
    points[3].radius = 20.0;
    let rounded = Outline::rounded(&points).expect("it fits");
    assert!(close(
        rounded.area(),
        2700.0 + (1.0 - PI / 4.0) * 400.0,
        1e-9
    ));
    assert_eq!(rounded.least_inside_radius(), Some(20.0));
}

#[test]
fn a_full_round_end_leaves_no_straight_piece() {
    let outline = Outline::rounded(&rectangle(100.0, 50.0, 25.0)).expect("it just fits");
    assert_eq!(
        outline.segments().len(),
        6,
        "two long sides and four quarter circles"
    );
    assert!(close(outline.area(), 2500.0 + PI * 625.0, 1e-9));
}

#[test]
fn arcs_that_do_not_fit_are_named() {
    let error = Outline::rounded(&rectangle(100.0, 50.0, 26.0)).expect_err("52 on 50 mm");
    let CornerError::EdgeTooShort {
        corner,
        edge,
        asked,
    } = error
    else {
        panic!("{error:?}")
    };
    assert_eq!(corner, 1);
    assert!(close(edge, 50.0, 1e-9) && close(asked, 52.0, 1e-9));
    assert!(Outline::rounded(&corners(0.0, &[(0.0, 0.0), (1.0, 0.0)])).is_err());
    let twice = corners(0.0, &[(0.0, 0.0), (0.0, 0.0), (1.0, 0.0), (1.0, 1.0)]);
    assert_eq!(
        Outline::rounded(&twice),
        Err(CornerError::NoPolygon { corner: 0 })
    );
}

/// The shoelace formula.
fn polygon_area(points: &[Point]) -> f64 {
    let next = |place: usize| points[(place + 1) % points.len()];
    (0..points.len())
        .map(|place| points[place].x * next(place).y - next(place).x * points[place].y)
        .sum::<f64>()
        / 2.0
}

fn polygon_length(points: &[Point]) -> f64 {
    (0..points.len())
        .map(|place| points[place].distance(points[(place + 1) % points.len()]))
        .sum()
}

/// Corners on a circle at growing angles and differing distances: a star-shaped polygon with outside and
/// inside corners, counter-clockwise.
fn any_polygon() -> impl Strategy<Value = Vec<Corner>> {
    proptest::collection::vec((60.0..140.0_f64, 0.0..1.0_f64), 5..10).prop_map(|parts| {
        let count = parts.len();
        let points: Vec<Point> = parts
            .iter()
            .enumerate()
            .map(|(place, (distance, _))| {
                let angle = TAU * place as f64 / count as f64;
                Point::new(distance * angle.cos(), distance * angle.sin())
            })
            .collect();
        // Each corner takes less than half of either of its edges.
        (0..count)
            .map(|place| {
                let (before, at, next) = (
                    points[(place + count - 1) % count],
                    points[place],
                    points[(place + 1) % count],
                );
                let into = (at.y - before.y).atan2(at.x - before.x);
                let out = (next.y - at.y).atan2(next.x - at.x);
                let turn = (out - into + PI).rem_euclid(TAU) - PI;
                let room = 0.49 * at.distance(before).min(at.distance(next));
                let radius = parts[place].1 * (room / (turn.abs() / 2.0).tan()).min(500.0);
                Corner { at, radius }
            })
            .collect()
    })
}

proptest! {
    #[test]
    fn neighbouring_segments_meet_without_a_kink(corners in any_polygon()) {
        let outline = Outline::rounded(&corners).expect("the arcs fit");
        let segments = outline.segments();
        for (place, segment) in segments.iter().enumerate() {
            let next = &segments[(place + 1) % segments.len()];
            prop_assert!(segment.to().distance(next.from()) < 1e-6);
            let is_round = matches!(segment, Segment::Arc { radius, .. } if *radius > 1e-3)
                || matches!(next, Segment::Arc { radius, .. } if *radius > 1e-3);
            if is_round {
                let turn = next.directions().0 - segment.directions().1;
                prop_assert!(((turn + PI).rem_euclid(TAU) - PI).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn measures_agree_with_a_fine_polygon(corners in any_polygon(), turned in 0.0..TAU) {
        let outline = Outline::rounded(&corners).expect("the arcs fit");
        let points = outline.polygon(1e-4);
        prop_assert!(close(outline.area(), polygon_area(&points), 1e-1));
        prop_assert!(close(outline.length(), polygon_length(&points), 1e-1));
        // A polygon inside the curve misses at most the tolerance on either side.
        let extent = outline.extent();
        let low = points.iter().map(|point| point.x).fold(f64::INFINITY, f64::min);
        let high = points.iter().map(|point| point.y).fold(f64::NEG_INFINITY, f64::max);
        prop_assert!(close(extent.low.x, low, 1e-3) && close(extent.high.y, high, 1e-3));
        let centre = Point::new(0.0, 0.0);
        let nearest = points.iter().map(|point| point.distance(centre)).fold(f64::INFINITY, f64::min);
        prop_assert!(outline.distance(centre) <= nearest + 1e-9);
        let again = outline.turned(turned);
        prop_assert!(close(again.area(), outline.area(), 1e-6));
        prop_assert!(close(again.distance(centre), outline.distance(centre), 1e-9));
    }
}
