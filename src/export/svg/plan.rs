//! A plan over the openings: steps in lanes, clamps in use below, cure as a thin line to the due date.

use super::drawing::{Canvas, Drawing, Rect};
use super::paint::{Lettering, Paint, words_width};
use super::palette;
use super::path::Path;
use super::style::{Style, counted};
use crate::calc::schedule::Window;
use crate::units::{MINUTES_PER_DAY, WallMinute};

/// Everything that a plan shows.
#[derive(Clone, Debug)]
pub struct PlanFace<'a> {
    pub title: &'a str,
    /// In order of time, not overlapping.
    pub openings: &'a [Window],
    pub lanes: &'a [Lane<'a>],
    pub clamps: &'a [ClampUse<'a>],
}

/// One project's bookings.
#[derive(Clone, Debug)]
pub struct Lane<'a> {
    pub project: &'a str,
    pub steps: &'a [LaneStep<'a>],
    /// The end of its last step, which may lie beyond what is drawn.
    pub ready: Option<WallMinute>,
    /// The end of the due day.
    pub due: Option<WallMinute>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LaneStep<'a> {
    pub name: &'a str,
    pub from: WallMinute,
    pub to: WallMinute,
    pub is: Presence,
}

/// Who is there while something goes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// Somebody works, in an opening.
    Attended,
    /// Clamps hold, whether the workshop is open or shut.
    Clamped,
    /// A finish dries or cures.
    Curing,
}

/// How many clamps of one set are in use.
#[derive(Clone, Debug)]
pub struct ClampUse<'a> {
    pub name: &'a str,
    pub capacity: u32,
    /// The number in use from each minute on, in order of time; none before the first.
    pub from: &'a [(WallMinute, u32)],
}

/// Time across the page: openings are wide, what lies between them is narrow whatever its length.
struct TimeScale {
    /// Minute and place, in order; straight in between.
    points: Vec<(i64, f64)>,
}

const SHUT: f64 = 12.0;
const LEAST_COLUMN: f64 = 34.0;
const LEFT: f64 = 14.0;
const RIGHT: f64 = 26.0;

impl TimeScale {
    fn new(openings: &[Window], width: f64) -> (TimeScale, f64) {
        let minutes: i64 = openings
            .iter()
            .map(|opening| opening.to.0 - opening.from.0)
            .sum();
        let gaps = openings.len() as f64 * SHUT;
        let least = openings.len() as f64 * LEAST_COLUMN;
        let room = (width - LEFT - RIGHT - gaps).max(least);
        let spare = room - least;
        let mut points = Vec::with_capacity(openings.len() * 2);
        let mut x = LEFT;
        for opening in openings {
            let share = (opening.to.0 - opening.from.0) as f64 / minutes.max(1) as f64;
            points.push((opening.from.0, x));
            x += LEAST_COLUMN + spare * share;
            points.push((opening.to.0, x));
            x += SHUT;
        }
        (TimeScale { points }, x - SHUT + RIGHT)
    }

    fn x(&self, at: WallMinute) -> f64 {
        let after = self.points.partition_point(|(minute, _)| *minute <= at.0);
        if after == 0 {
            return self.points.first().map_or(LEFT, |(_, x)| *x);
        }
        let (before, left) = self.points[after - 1];
        match self.points.get(after) {
            Some((next, right)) => {
                left + (right - left) * (at.0 - before) as f64 / (next - before).max(1) as f64
            }
            // What lies beyond the last opening shows as just beyond it.
            None if at.0 > before => left + SHUT,
            None => left,
        }
    }

    /// Whether it lies after the day of the last opening.
    fn is_beyond(&self, at: WallMinute) -> bool {
        let day = |minute: i64| minute.div_euclid(MINUTES_PER_DAY);
        self.points
            .last()
            .is_some_and(|(last, _)| day(at.0 - 1) > day(*last - 1))
    }
}

/// Openings as columns, each project's steps in its own lane with their numbers and names, holds as hatched bands, cure as a
/// thin line, and what is left to the due date as a thinner one; below, the clamps in use against how many there are.
///
/// The drawing grows wider than the style asks where there are too many openings to tell apart.
pub fn plan(style: &Style, face: &PlanFace) -> Drawing {
    let (time, width) = TimeScale::new(face.openings, style.width);
    let mut canvas = Canvas::new(
        style.prefix,
        width.max(style.width),
        face.title,
        &describe(face),
    );
    if face.openings.is_empty() {
        canvas.words(
            (style.width / 2.0, 34.0),
            "no openings in this time",
            &Lettering::new(Style::WORDS).middle().colour(palette::QUIET),
        );
        return canvas.finish(56.0);
    }
    let lanes_top = 50.0;
    let room = canvas.width() - LEFT - RIGHT;
    let mut lane_tops = vec![lanes_top];
    for lane in face.lanes {
        let rows = names_of(lane, room).len() as f64;
        let height = LANE + rows * (NAMES + 3.0) + 4.0;
        lane_tops.push(lane_tops[lane_tops.len() - 1] + height);
    }
    let lanes_bottom = lane_tops[lane_tops.len() - 1];
    let clamps_bottom = lanes_bottom + face.clamps.len() as f64 * CLAMPS;
    columns(&mut canvas, &time, face.openings, clamps_bottom + 4.0);
    for (lane, top) in face.lanes.iter().zip(&lane_tops) {
        draw_lane(&mut canvas, &time, lane, *top);
    }
    for (index, set) in face.clamps.iter().enumerate() {
        let top = lanes_bottom + index as f64 * CLAMPS;
        draw_clamps(&mut canvas, &time, face.openings, set, top);
    }
    let y = key(&mut canvas, clamps_bottom + 26.0);
    canvas.finish(y)
}

const LANE: f64 = 42.0;
/// Height of the steps' names.
const NAMES: f64 = 9.5;
const CLAMPS: f64 = 62.0;

fn columns(canvas: &mut Canvas, time: &TimeScale, openings: &[Window], bottom: f64) {
    let small = Lettering::new(Style::SMALL - 0.5);
    let mut last_day = None;
    for opening in openings {
        let (from, to) = (time.x(opening.from), time.x(opening.to));
        canvas.rect(
            Rect::new(from, 42.0, to - from, bottom - 42.0),
            &Paint::fill(palette::OPEN).class("opening"),
        );
        let day = opening.from.0.div_euclid(MINUTES_PER_DAY);
        if last_day != Some(day) {
            canvas.words((from, 14.0), weekday(day), &small.clone().bold());
            canvas.words((from, 26.0), &day_and_month(opening.from), &small);
        }
        last_day = Some(day);
        let hours = format!("{}–{}", clock(opening.from), clock(opening.to));
        let size = ((to - from + SHUT - 2.0) / words_width(&hours, 1.0)).min(Style::SMALL - 0.5);
        canvas.words(
            (from, 38.0),
            &hours,
            &Lettering::new(size.max(6.0)).colour(palette::QUIET),
        );
    }
}

fn draw_lane(canvas: &mut Canvas, time: &TimeScale, lane: &Lane, top: f64) {
    canvas.line(
        (LEFT - 6.0, top),
        (canvas.width() - 8.0, top),
        &Paint::line(palette::FAINT, 1.0),
    );
    canvas.words(
        (LEFT - 4.0, top + 13.0),
        lane.project,
        &Lettering::new(Style::SMALL).bold().halo(),
    );
    let bar = (top + 20.0, 18.0);
    if let (Some(ready), Some(due)) = (lane.ready, lane.due)
        && time.x(ready) < time.x(due)
    {
        let y = bar.0 + bar.1 / 2.0;
        canvas.line(
            (time.x(ready), y),
            (time.x(due), y),
            &Paint::line(palette::QUIET, 0.8).class("spare"),
        );
    }
    for step in lane.steps {
        let (from, to) = (time.x(step.from), time.x(step.to));
        match step.is {
            Presence::Clamped => {
                let hatch = canvas.hatch();
                let band = Rect::new(from, bar.0 + 5.0, to - from, 8.0);
                canvas.rect(band, &Paint::fill(palette::PAPER));
                canvas.rect(
                    band,
                    &Paint::fill(hatch).stroke(palette::INK, 0.8).class("hold"),
                );
            }
            Presence::Curing => {
                let y = bar.0 + 9.0;
                canvas.line(
                    (from, y),
                    (to, y),
                    &Paint::line(palette::CHALK, 1.6).dash("2 3").class("cure"),
                );
            }
            Presence::Attended => {}
        }
    }
    let attended = lane
        .steps
        .iter()
        .filter(|step| step.is == Presence::Attended);
    for (index, step) in attended.enumerate() {
        draw_step(canvas, time, step, index + 1, bar);
    }
    let mut y = top + LANE + 6.0;
    for row in names_of(lane, canvas.width() - LEFT - RIGHT) {
        canvas.words((LEFT - 4.0, y), &row, &Lettering::new(NAMES).halo());
        y += NAMES + 3.0;
    }
    draw_due(canvas, time, lane, top);
}

fn draw_step(
    canvas: &mut Canvas,
    time: &TimeScale,
    step: &LaneStep,
    number: usize,
    bar: (f64, f64),
) {
    let (from, to) = (time.x(step.from), time.x(step.to));
    let face = Rect::new(from, bar.0, (to - from).max(3.0), bar.1);
    canvas.rounded_rect(
        face,
        2.0,
        &Paint::fill(palette::CHALK_WASH)
            .stroke(palette::CHALK, 1.2)
            .class("step"),
    );
    canvas.words(
        (face.x + face.width / 2.0, face.y + 12.7),
        &number.to_string(),
        &Lettering::new(Style::SMALL).middle().bold(),
    );
}

/// The names of the numbered steps, in rows as wide as the drawing.
fn names_of(lane: &Lane, width: f64) -> Vec<String> {
    let attended = lane
        .steps
        .iter()
        .filter(|step| step.is == Presence::Attended);
    let mut rows: Vec<String> = Vec::new();
    for (index, step) in attended.enumerate() {
        let entry = format!("{} {}", index + 1, step.name);
        let wider = |row: &String| words_width(&format!("{row} · {entry}"), NAMES) > width;
        match rows.last_mut() {
            Some(row) if !wider(row) => {
                row.push_str(" · ");
                row.push_str(&entry);
            }
            _ => rows.push(entry),
        }
    }
    rows
}

/// A diamond at the due date with its day; an arrow where that lies beyond what is drawn.
fn draw_due(canvas: &mut Canvas, time: &TimeScale, lane: &Lane, top: f64) {
    let Some(due) = lane.due else { return };
    let is_late = lane.ready.is_some_and(|ready| ready > due);
    let ink = if is_late {
        palette::WARNING
    } else {
        palette::CHALK
    };
    let (x, y, half) = (time.x(due), top + 29.0, 5.5);
    canvas.line(
        (x, top + 2.0),
        (x, top + LANE - 2.0),
        &Paint::line(ink, 1.4),
    );
    let mark = if time.is_beyond(due) {
        Path::new()
            .to(x, y - half)
            .line(x + half * 1.6, y)
            .line(x, y + half)
            .shut()
    } else {
        Path::new()
            .to(x, y - half)
            .line(x + half, y)
            .line(x, y + half)
            .line(x - half, y)
            .shut()
    };
    canvas.path(
        &mark,
        &Paint::fill(palette::PAPER).stroke(ink, 1.6).class("due"),
    );
    let late = if is_late { "late, " } else { "" };
    let words = format!("{late}due {}", day_and_month(last_minute(due)));
    let lettering = Lettering::new(Style::SMALL).bold().colour(ink).halo();
    // Beside the mark, or right of the project's name where that would be written over.
    let after_name = LEFT + words_width(lane.project, Style::SMALL) * BOLD + 10.0;
    if x - 4.0 - words_width(&words, Style::SMALL) * BOLD > after_name {
        canvas.words((x - 4.0, top + 13.0), &words, &lettering.end());
    } else {
        canvas.words((after_name.max(x + 4.0), top + 13.0), &words, &lettering);
    }
}

/// Bold letters are wider by about so much.
const BOLD: f64 = 1.1;

fn draw_clamps(
    canvas: &mut Canvas,
    time: &TimeScale,
    openings: &[Window],
    set: &ClampUse,
    top: f64,
) {
    let (Some(first), Some(last)) = (openings.first(), openings.last()) else {
        return;
    };
    canvas.line(
        (LEFT - 6.0, top),
        (canvas.width() - 8.0, top),
        &Paint::line(palette::FAINT, 1.0),
    );
    canvas.words(
        (LEFT - 4.0, top + 13.0),
        &format!("{} in use, of {}", set.name, set.capacity),
        &Lettering::new(Style::SMALL).halo(),
    );
    let (ground, high) = (top + CLAMPS - 6.0, CLAMPS - 28.0);
    let most = set
        .from
        .iter()
        .map(|(_, used)| *used)
        .max()
        .unwrap_or(0)
        .max(set.capacity)
        .max(1);
    let y = |used: u32| ground - high * f64::from(used) / f64::from(most);
    let (start, end) = (time.x(first.from), time.x(last.to));
    let mut outline = Path::new().to(start, ground);
    let mut used = set
        .from
        .iter()
        .take_while(|(from, _)| *from <= first.from)
        .last()
        .map_or(0, |(_, used)| *used);
    outline = outline.line(start, y(used));
    for (from, next) in set.from {
        if *from > first.from && *from < last.to {
            let x = time.x(*from);
            outline = outline.line(x, y(used)).line(x, y(*next));
            used = *next;
        }
    }
    outline = outline.line(end, y(used)).line(end, ground).shut();
    canvas.path(
        &outline,
        &Paint::fill(palette::STEEL)
            .stroke(palette::STEEL_DARK, 1.0)
            .class("in-use"),
    );
    canvas.line(
        (start, y(set.capacity)),
        (end, y(set.capacity)),
        &Paint::line(palette::INK, 1.0).dash("5 3").class("capacity"),
    );
    for tick in [0, set.capacity] {
        canvas.words(
            (end + 4.0, y(tick) + 3.5),
            &tick.to_string(),
            &Lettering::new(Style::SMALL - 1.5).colour(palette::QUIET),
        );
    }
}

fn key(canvas: &mut Canvas, y: f64) -> f64 {
    let words = Lettering::new(Style::SMALL);
    let mut x = LEFT;
    let hatch = canvas.hatch();
    let samples = [
        ("work in an opening", 0),
        ("in clamps", 1),
        ("drying, cure", 2),
    ];
    for (text, sample) in samples {
        let mark = Rect::new(x, y - 10.0, 24.0, 12.0);
        match sample {
            0 => canvas.rounded_rect(
                mark,
                2.0,
                &Paint::fill(palette::CHALK_WASH).stroke(palette::CHALK, 1.2),
            ),
            1 => canvas.rect(
                Rect::new(x, y - 8.0, 24.0, 8.0),
                &Paint::fill(&hatch).stroke(palette::INK, 0.8),
            ),
            _ => canvas.line(
                (x, y - 4.0),
                (x + 24.0, y - 4.0),
                &Paint::line(palette::CHALK, 1.6).dash("2 3"),
            ),
        }
        canvas.words((x + 29.0, y), text, &words);
        x += 29.0 + words_width(text, Style::SMALL) + 14.0;
    }
    y + 14.0
}

fn describe(face: &PlanFace) -> String {
    let mut text = format!(
        "{} and {} over {}.",
        counted(face.lanes.len(), "project", "projects"),
        counted(face.clamps.len(), "set of clamps", "sets of clamps"),
        counted(face.openings.len(), "opening", "openings")
    );
    for lane in face.lanes {
        text.push_str(&match (lane.ready, lane.due) {
            (Some(ready), Some(due)) if ready > due => {
                format!(
                    " {}: ready {}, after its due date {}.",
                    lane.project,
                    day_words(ready),
                    day_words(due)
                )
            }
            (Some(ready), Some(due)) => format!(
                " {}: ready {}, due {}.",
                lane.project,
                day_words(ready),
                day_words(due)
            ),
            (Some(ready), None) => format!(" {}: ready {}.", lane.project, day_words(ready)),
            (None, _) => format!(" {}: nothing booked.", lane.project),
        });
    }
    text
}

/// Day 0 is 1970-01-01, a Thursday.
fn weekday(day: i64) -> &'static str {
    ["Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed"][day.rem_euclid(7) as usize]
}

fn day_and_month(at: WallMinute) -> String {
    const MONTHS: [&str; 12] = [
        "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
    ];
    let (_, month, day, _, _) = at.to_civil();
    format!("{day} {}", MONTHS[(month - 1) as usize])
}

/// What ends at midnight belongs to the day that ends.
fn last_minute(end: WallMinute) -> WallMinute {
    WallMinute(end.0 - 1)
}

/// The day of an end.
fn day_words(end: WallMinute) -> String {
    let at = last_minute(end);
    format!(
        "{} {}",
        weekday(at.0.div_euclid(MINUTES_PER_DAY)),
        day_and_month(at)
    )
}

/// `17` or `17:30`.
fn clock(at: WallMinute) -> String {
    let (_, _, _, hour, minute) = at.to_civil();
    if minute == 0 {
        hour.to_string()
    } else {
        format!("{hour}:{minute:02}")
    }
}
