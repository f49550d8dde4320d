//! Small honest charts: bars from zero, axes with their unit, every value written or readable.

use super::drawing::{Canvas, Drawing, Rect};
use super::paint::{Lettering, Paint, words_width};
use super::palette;
use super::path::Path;
use super::style::{Style, listed};

/// One bar and what it stands for.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    pub label: String,
    /// At least zero.
    pub value: f64,
}

/// One species or the like, with what came and what went.
#[derive(Clone, Debug, PartialEq)]
pub struct InAndOut {
    pub label: String,
    pub came: f64,
    pub went: f64,
}

/// What a chart shows.
#[derive(Clone, Copy, Debug)]
pub struct ChartWords<'a> {
    pub title: &'a str,
    /// What one unit of the value axis is: `board feet`, `pieces`.
    pub unit: &'a str,
}

const LEFT: f64 = 46.0;
const RIGHT: f64 = 14.0;
const TOP: f64 = 30.0;
const HIGH: f64 = 150.0;

/// Upright bars over labels, such as months or ages.
pub fn bars(style: &Style, words: ChartWords, bars: &[Bar]) -> Drawing {
    let said: Vec<String> = bars
        .iter()
        .map(|bar| format!("{} {}", bar.label, value_words(bar.value)))
        .collect();
    let description = describe(words, &said);
    let mut canvas = Canvas::new(style.prefix, style.width, words.title, &description);
    let most = bars.iter().map(|bar| bar.value).fold(0.0, f64::max);
    let ground = Ground::new(&mut canvas, words.unit, most, 5);
    let pitch = (style.width - LEFT - RIGHT) / bars.len().max(1) as f64;
    let wide = (pitch * 0.68).min(48.0);
    // Labels that would touch are written for every second, third, ... bar.
    let widest = bars
        .iter()
        .map(|bar| words_width(&bar.label, Style::SMALL) + 6.0)
        .fold(0.0, f64::max);
    let every = ((widest / pitch).ceil() as usize).max(1);
    for (index, bar) in bars.iter().enumerate() {
        let middle = LEFT + pitch * (index as f64 + 0.5);
        let y = ground.y(bar.value);
        canvas.rect(
            Rect::new(middle - wide / 2.0, y, wide, ground.bottom - y),
            &Paint::fill(palette::CHALK).class("bar"),
        );
        if index % every == 0 {
            canvas.words(
                (middle, ground.bottom + 15.0),
                &bar.label,
                &Lettering::new(Style::SMALL).middle(),
            );
        }
    }
    ground.line(&mut canvas);
    canvas.finish(ground.bottom + 26.0)
}

/// Two level bars for each label: what came is full, what went is hatched.
pub fn in_and_out(style: &Style, words: ChartWords, rows: &[InAndOut]) -> Drawing {
    let said: Vec<String> = rows
        .iter()
        .map(|row| {
            format!(
                "{}: {} came, {} went",
                row.label,
                value_words(row.came),
                value_words(row.went)
            )
        })
        .collect();
    let description = describe(words, &said);
    let mut canvas = Canvas::new(style.prefix, style.width, words.title, &description);
    let names = rows
        .iter()
        .map(|row| words_width(&row.label, Style::SMALL))
        .fold(30.0, f64::max)
        .min(style.width * 0.36);
    let (left, right) = (names + 20.0, 44.0);
    let most = rows
        .iter()
        .map(|row| row.came.max(row.went))
        .fold(0.0, f64::max);
    let top_of_scale = axis_steps(most, 4).last().copied().unwrap_or(1.0);
    let per_unit = (style.width - left - right) / top_of_scale;
    let (pitch, thick) = (30.0, 10.0);
    let top = 34.0;
    let bottom = top + pitch * rows.len() as f64 + 2.0;
    let hatch = canvas.hatch();
    for tick in axis_steps(most, 4) {
        let x = left + tick * per_unit;
        canvas.line(
            (x, top - 4.0),
            (x, bottom),
            &Paint::line(palette::FAINT, 1.0),
        );
        canvas.words(
            (x, bottom + 14.0),
            &value_words(tick),
            &Lettering::new(Style::SMALL).middle().colour(palette::QUIET),
        );
    }
    let small = Lettering::new(Style::SMALL);
    canvas.rect(
        Rect::new(left, 8.0, 20.0, 10.0),
        &Paint::fill(palette::CHALK),
    );
    canvas.words((left + 25.0, 17.0), "came", &small);
    canvas.rect(
        Rect::new(left + 66.0, 8.0, 20.0, 10.0),
        &Paint::fill(&hatch).stroke(palette::INK, 0.9),
    );
    canvas.words((left + 91.0, 17.0), "went", &small);
    for (index, row) in rows.iter().enumerate() {
        let y = top + pitch * index as f64 + 3.0;
        canvas.words(
            (left - 8.0, y + thick + 3.5),
            &row.label,
            &small.clone().end(),
        );
        let lines = [
            (row.came, Paint::fill(palette::CHALK).class("came")),
            (
                row.went,
                Paint::fill(&hatch).stroke(palette::INK, 0.9).class("went"),
            ),
        ];
        for (line, (value, paint)) in lines.into_iter().enumerate() {
            let bar_top = y + line as f64 * (thick + 1.0);
            let wide = value * per_unit;
            canvas.rect(Rect::new(left, bar_top, wide, thick), &paint);
            canvas.words(
                (left + wide + 4.0, bar_top + 9.0),
                &value_words(value),
                &Lettering::new(Style::SMALL - 1.0),
            );
        }
    }
    canvas.line(
        (left, top - 4.0),
        (left, bottom),
        &Paint::line(palette::INK, 1.2),
    );
    canvas.words(
        (style.width - 10.0, bottom + 30.0),
        words.unit,
        &small.end().colour(palette::QUIET),
    );
    canvas.finish(bottom + 40.0)
}

/// How many of something are in use over the hours, against how many there are. `from` gives the
/// number in use from each hour on; hours may have fractions.
pub fn use_by_hour(
    style: &Style,
    words: ChartWords,
    from: &[(f64, u32)],
    hours: (f64, f64),
    capacity: u32,
) -> Drawing {
    let peak = from.iter().map(|(_, used)| *used).max().unwrap_or(0);
    let description = format!(
        "{}: at most {peak} of {capacity} in use between {} and {} o'clock.",
        words.title,
        value_words(hours.0),
        value_words(hours.1)
    );
    let mut canvas = Canvas::new(style.prefix, style.width, words.title, &description);
    let most = f64::from(peak.max(capacity));
    let ground = Ground::new(&mut canvas, words.unit, most, 4);
    let span = (hours.1 - hours.0).max(1.0);
    let x = |hour: f64| {
        LEFT + (style.width - LEFT - RIGHT) * (hour.clamp(hours.0, hours.1) - hours.0) / span
    };
    let mut used = from
        .iter()
        .take_while(|(hour, _)| *hour <= hours.0)
        .last()
        .map_or(0, |(_, used)| *used);
    let mut outline = Path::new()
        .to(x(hours.0), ground.bottom)
        .line(x(hours.0), ground.y(f64::from(used)));
    for (hour, next) in from {
        if *hour > hours.0 && *hour < hours.1 {
            outline = outline
                .line(x(*hour), ground.y(f64::from(used)))
                .line(x(*hour), ground.y(f64::from(*next)));
            used = *next;
        }
    }
    outline = outline
        .line(x(hours.1), ground.y(f64::from(used)))
        .line(x(hours.1), ground.bottom)
        .shut();
    canvas.path(
        &outline,
        &Paint::fill(palette::STEEL)
            .stroke(palette::STEEL_DARK, 1.2)
            .class("in-use"),
    );
    let full = ground.y(f64::from(capacity));
    canvas.line(
        (LEFT, full),
        (style.width - RIGHT, full),
        &Paint::line(palette::INK, 1.2).dash("5 3").class("capacity"),
    );
    canvas.words(
        (style.width - RIGHT, full - 4.0),
        &format!("all {capacity}"),
        &Lettering::new(Style::SMALL).end().halo(),
    );
    let hour_step = if span <= 8.0 {
        1.0
    } else if span <= 16.0 {
        2.0
    } else {
        4.0
    };
    let mut hour = hours.0.ceil();
    while hour <= hours.1 {
        canvas.words(
            (x(hour), ground.bottom + 15.0),
            &value_words(hour),
            &Lettering::new(Style::SMALL).middle(),
        );
        hour += hour_step;
    }
    ground.line(&mut canvas);
    canvas.words(
        (style.width - RIGHT, ground.bottom + 30.0),
        "o'clock",
        &Lettering::new(Style::SMALL).end().colour(palette::QUIET),
    );
    canvas.finish(ground.bottom + 40.0)
}

/// The value axis, from zero up.
struct Ground {
    bottom: f64,
    per_unit: f64,
    right: f64,
}

impl Ground {
    fn new(canvas: &mut Canvas, unit: &str, most: f64, steps: usize) -> Ground {
        let ticks = axis_steps(most, steps);
        let top_of_scale = ticks.last().copied().unwrap_or(1.0);
        let ground = Ground {
            bottom: TOP + HIGH,
            per_unit: HIGH / top_of_scale,
            right: canvas.width() - RIGHT,
        };
        for tick in ticks {
            let y = ground.y(tick);
            if tick > 0.0 {
                canvas.line(
                    (LEFT, y),
                    (ground.right, y),
                    &Paint::line(palette::FAINT, 1.0),
                );
            }
            canvas.words(
                (LEFT - 6.0, y + 3.6),
                &value_words(tick),
                &Lettering::new(Style::SMALL).end().colour(palette::QUIET),
            );
        }
        canvas.words(
            (10.0, 15.0),
            unit,
            &Lettering::new(Style::SMALL).colour(palette::QUIET),
        );
        ground
    }

    fn y(&self, value: f64) -> f64 {
        self.bottom - value * self.per_unit
    }

    fn line(&self, canvas: &mut Canvas) {
        canvas.line(
            (LEFT, self.bottom),
            (self.right, self.bottom),
            &Paint::line(palette::INK, 1.2),
        );
    }
}

/// Zero and round steps of 1, 2 or 5 up to at least `most`, about `steps` of them.
fn axis_steps(most: f64, steps: usize) -> Vec<f64> {
    let most = if most.is_finite() && most > 0.0 {
        most
    } else {
        1.0
    };
    let rough = most / steps.max(1) as f64;
    let power = 10f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * power)
        .find(|step| step * steps.max(1) as f64 >= most * (1.0 - 1e-9))
        .unwrap_or(10.0 * power);
    let count = (most / step - 1e-9).ceil() as usize;
    (0..=count).map(|tick| tick as f64 * step).collect()
}

/// A value with one decimal where it has any that matters.
fn value_words(value: f64) -> String {
    let tenths = (value * 10.0).round() / 10.0;
    if tenths.fract() == 0.0 {
        format!("{tenths:.0}")
    } else {
        format!("{tenths:.1}")
    }
}

fn describe(words: ChartWords, said: &[String]) -> String {
    if said.is_empty() {
        format!("{}: nothing to show yet.", words.title)
    } else {
        format!("In {}. {}.", words.unit, listed(said))
    }
}
