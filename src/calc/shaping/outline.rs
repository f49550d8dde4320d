//! Closed outlines of lines and arcs, and what can be measured on them exactly.
//!
//! An outline runs counter-clockwise, so wood lies on its left. Rounding a corner of a polygon puts
//! an arc between its two edges that touches both without a kink: with a corner that turns by an angle
//! `t`, an arc of radius `r` begins and ends `r tan(t / 2)` from the corner. Length, area (Green's theorem), extent and
//! distance come from closed formulas, not from a polygon with many corners. Coordinates are millimetres.

use std::f64::consts::{PI, TAU};

/// Millimetres from the origin of the drawing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point {
    pub x: f64,
    pub y: f64,
}

impl Point {
    pub const fn new(x: f64, y: f64) -> Point {
        Point { x, y }
    }

    pub fn distance(self, other: Point) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// Turned about the origin, counter-clockwise.
    pub fn turned(self, radians: f64) -> Point {
        let (sin, cos) = radians.sin_cos();
        Point::new(self.x * cos - self.y * sin, self.x * sin + self.y * cos)
    }
}

/// A straight line or an arc of a circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Segment {
    Line {
        from: Point,
        to: Point,
    },
    /// From angle `start`, measured counter-clockwise from the x axis, through `sweep`, which is
    /// negative for an arc that runs clockwise: an inside corner.
    Arc {
        centre: Point,
        radius: f64,
        start: f64,
        sweep: f64,
    },
}

impl Segment {
    pub fn from(&self) -> Point {
        match *self {
            Segment::Line { from, .. } => from,
            Segment::Arc {
                centre,
                radius,
                start,
                ..
            } => on_circle(centre, radius, start),
        }
    }

    pub fn to(&self) -> Point {
        match *self {
            Segment::Line { to, .. } => to,
            Segment::Arc {
                centre,
                radius,
                start,
                sweep,
            } => on_circle(centre, radius, start + sweep),
        }
    }

    pub fn length(&self) -> f64 {
        match *self {
            Segment::Line { from, to } => from.distance(to),
            Segment::Arc { radius, sweep, .. } => radius * sweep.abs(),
        }
    }

    /// The directions, in radians, in which it leaves its start and reaches its end.
    pub fn directions(&self) -> (f64, f64) {
        match *self {
            Segment::Line { from, to } => {
                let direction = (to.y - from.y).atan2(to.x - from.x);
                (direction, direction)
            }
            Segment::Arc { start, sweep, .. } => {
                let quarter = sweep.signum() * PI / 2.0;
                (start + quarter, start + sweep + quarter)
            }
        }
    }

    /// Its part of the area by Green's theorem, `(x dy - y dx) / 2` along it.
    fn area(&self) -> f64 {
        let (from, to) = (self.from(), self.to());
        match *self {
            Segment::Line { .. } => (from.x * to.y - to.x * from.y) / 2.0,
            Segment::Arc {
                centre,
                radius,
                sweep,
                ..
            } => {
                let moved = centre.x * (to.y - from.y) - centre.y * (to.x - from.x);
                (radius * radius * sweep + moved) / 2.0
            }
        }
    }

    /// The least distance from a point.
    fn distance(&self, point: Point) -> f64 {
        let ends = point.distance(self.from()).min(point.distance(self.to()));
        match *self {
            Segment::Line { from, to } => {
                let (along_x, along_y) = (to.x - from.x, to.y - from.y);
                let squared = along_x * along_x + along_y * along_y;
                if squared == 0.0 {
                    return ends;
                }
                let share = ((point.x - from.x) * along_x + (point.y - from.y) * along_y) / squared;
                let share = share.clamp(0.0, 1.0);
                point.distance(Point::new(
                    from.x + share * along_x,
                    from.y + share * along_y,
                ))
            }
            Segment::Arc {
                centre,
                radius,
                start,
                sweep,
            } => {
                let angle = (point.y - centre.y).atan2(point.x - centre.x);
                if is_swept(angle, start, sweep) {
                    ends.min((point.distance(centre) - radius).abs())
                } else {
                    ends
                }
            }
        }
    }

    /// The points that bound it left, right, below and above.
    fn extremes(&self) -> Vec<Point> {
        let mut points = vec![self.from(), self.to()];
        if let Segment::Arc {
            centre,
            radius,
            start,
            sweep,
        } = *self
        {
            for quarter in 0..4 {
                let angle = f64::from(quarter) * PI / 2.0;
                if is_swept(angle, start, sweep) {
                    points.push(on_circle(centre, radius, angle));
                }
            }
        }
        points
    }

    fn turned(self, radians: f64) -> Segment {
        match self {
            Segment::Line { from, to } => Segment::Line {
                from: from.turned(radians),
                to: to.turned(radians),
            },
            Segment::Arc {
                centre,
                radius,
                start,
                sweep,
            } => Segment::Arc {
                centre: centre.turned(radians),
                radius,
                start: start + radians,
                sweep,
            },
        }
    }
}

fn on_circle(centre: Point, radius: f64, angle: f64) -> Point {
    Point::new(
        centre.x + radius * angle.cos(),
        centre.y + radius * angle.sin(),
    )
}

fn is_swept(angle: f64, start: f64, sweep: f64) -> bool {
    let from = if sweep >= 0.0 { start } else { start + sweep };
    (angle - from).rem_euclid(TAU) <= sweep.abs()
}

/// A corner of a polygon and how round it is to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corner {
    pub at: Point,
    /// 0 for a sharp corner.
    pub radius: f64,
}

/// Why corners cannot be rounded as asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CornerError {
    /// The arcs of this corner and the next ask more than the edge between them has.
    EdgeTooShort {
        corner: usize,
        edge: f64,
        asked: f64,
    },
    /// Fewer than three corners, corners upon each other, or a turn straight back.
    NoPolygon { corner: usize },
}

/// A closed line without kinks other than its sharp corners.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    segments: Vec<Segment>,
}

/// A rectangle along the axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    pub low: Point,
    pub high: Point,
}

impl Extent {
    /// Along x.
    pub fn length(&self) -> f64 {
        self.high.x - self.low.x
    }

    /// Along y.
    pub fn width(&self) -> f64 {
        self.high.y - self.low.y
    }
}

/// Two lengths closer than this, in millimetres, are one: a nanometre, the unit of all lengths.
const SAME: f64 = 1e-6;

impl Outline {
    /// The polygon through the corners, counter-clockwise, with each corner rounded.
    pub fn rounded(corners: &[Corner]) -> Result<Outline, CornerError> {
        let count = corners.len();
        if count < 3 {
            return Err(CornerError::NoPolygon { corner: 0 });
        }
        let direction = |place: usize| {
            let (here, next) = (corners[place].at, corners[(place + 1) % count].at);
            (next.y - here.y).atan2(next.x - here.x)
        };
        let mut turns = Vec::with_capacity(count);
        for place in 0..count {
            if corners[place].at.distance(corners[(place + 1) % count].at) < SAME {
                return Err(CornerError::NoPolygon { corner: place });
            }
            let turn = direction(place) - direction((place + count - 1) % count);
            let turn = (turn + PI).rem_euclid(TAU) - PI;
            if PI - turn.abs() < 1e-9 {
                return Err(CornerError::NoPolygon { corner: place });
            }
            turns.push(turn);
        }
        let cut = |place: usize| corners[place].radius * (turns[place].abs() / 2.0).tan();
        let mut segments = Vec::with_capacity(2 * count);
        for place in 0..count {
            let next = (place + 1) % count;
            let (from, to) = (corners[place].at, corners[next].at);
            let edge = from.distance(to);
            let asked = cut(place) + cut(next);
            if asked > edge + SAME {
                return Err(CornerError::EdgeTooShort {
                    corner: place,
                    edge,
                    asked,
                });
            }
            let along = direction(place);
            if edge - asked > SAME {
                segments.push(Segment::Line {
                    from: on_circle(from, cut(place), along),
                    to: on_circle(from, edge - cut(next), along),
                });
            }
            if corners[next].radius > 0.0 && turns[next].abs() > 1e-12 {
                let side = turns[next].signum();
                let begin = on_circle(from, edge - cut(next), along);
                let centre = on_circle(begin, corners[next].radius, along + side * PI / 2.0);
                segments.push(Segment::Arc {
                    centre,
                    radius: corners[next].radius,
                    start: along - side * PI / 2.0,
                    sweep: turns[next],
                });
            }
        }
        Ok(Outline { segments })
    }

    pub fn circle(centre: Point, radius: f64) -> Outline {
        Outline {
            segments: vec![Segment::Arc {
                centre,
                radius,
                start: 0.0,
                sweep: TAU,
            }],
        }
    }

    /// In order around the wood; the end of the last is the start of the first.
    pub fn segments(&self) -> &[Segment] {
        &self.segments
    }

    pub fn length(&self) -> f64 {
        self.segments.iter().map(Segment::length).sum()
    }

    /// In square millimetres; positive, as the outline runs counter-clockwise.
    pub fn area(&self) -> f64 {
        self.segments.iter().map(Segment::area).sum()
    }

    pub fn extent(&self) -> Extent {
        let mut low = Point::new(f64::INFINITY, f64::INFINITY);
        let mut high = Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY);
        for point in self.segments.iter().flat_map(Segment::extremes) {
            low = Point::new(low.x.min(point.x), low.y.min(point.y));
            high = Point::new(high.x.max(point.x), high.y.max(point.y));
        }
        Extent { low, high }
    }

    /// From a point to the nearest place of the line.
    pub fn distance(&self, point: Point) -> f64 {
        self.segments
            .iter()
            .map(|segment| segment.distance(point))
            .fold(f64::INFINITY, f64::min)
    }

    /// The smallest radius of its inside corners; `None` where it has none. A sharp inside corner
    /// has radius 0.
    pub fn least_inside_radius(&self) -> Option<f64> {
        let arcs = self.segments.iter().filter_map(|segment| match *segment {
            Segment::Arc { radius, sweep, .. } if sweep < 0.0 => Some(radius),
            _ => None,
        });
        let count = self.segments.len();
        let sharp = (0..count).filter_map(|place| {
            let (_, reaches) = self.segments[place].directions();
            let (leaves, _) = self.segments[(place + 1) % count].directions();
            let turn = (leaves - reaches + PI).rem_euclid(TAU) - PI;
            (turn < -1e-6).then_some(0.0)
        });
        arcs.chain(sharp).min_by(f64::total_cmp)
    }

    /// The same outline turned about the origin, counter-clockwise.
    pub fn turned(&self, radians: f64) -> Outline {
        Outline {
            segments: self
                .segments
                .iter()
                .map(|segment| segment.turned(radians))
                .collect(),
        }
    }

    /// Corners of a polygon that leaves the line by at most `tolerance` millimetres.
    pub fn polygon(&self, tolerance: f64) -> Vec<Point> {
        let mut points = Vec::new();
        for segment in &self.segments {
            match *segment {
                Segment::Line { from, .. } => points.push(from),
                Segment::Arc {
                    centre,
                    radius,
                    start,
                    sweep,
                } => {
                    // The sagitta of a chord over an angle a is r (1 - cos(a / 2)).
                    let most = 2.0 * (1.0 - (tolerance / radius).min(1.0)).acos();
                    let pieces = (sweep.abs() / most.max(1e-3)).ceil().max(1.0);
                    let pieces = pieces as u32;
                    for piece in 0..pieces {
                        let share = f64::from(piece) / f64::from(pieces);
                        points.push(on_circle(centre, radius, start + sweep * share));
                    }
                }
            }
        }
        points
    }
}
