//! Strips in a form: a list of species and widths, and buttons that change it.

use super::lengths::{length, whole};
use crate::calc::pattern::{Arrangement, BoardStrip, Edit, MOST_STRIPS, Rule, fill as filled};
use crate::units::{Length, LengthFormat};
use crate::web::Typed;

/// The name of the buttons that change the form and save nothing.
pub const CHANGE: &str = "change";

/// One strip as it is typed.
pub struct StripRow {
    pub species: String,
    pub width: String,
    pub is_chosen: bool,
    pub species_error: Option<String>,
    pub width_error: Option<String>,
}

/// What a button did.
pub enum Changed {
    /// No button that changes strips was pressed.
    Nothing,
    /// The strips in the form are now these, and this is what was done.
    Done(String),
    /// The form says why it could not be done.
    Refused,
}

pub(super) fn fill(
    values: &mut Vec<(String, String)>,
    prefix: &str,
    arrangement: &Arrangement,
    lengths: LengthFormat,
) {
    for strip in &arrangement.strips {
        values.push((format!("{prefix}strip_species"), strip.species.clone()));
        values.push((
            format!("{prefix}strip_width"),
            lengths.show_exact(strip.width),
        ));
    }
}

/// The strips in the form; a flaw of the third strip's width stands at `strip_width-2`.
pub(super) fn read(typed: &mut Typed, prefix: &str, lengths: LengthFormat) -> Option<Arrangement> {
    let species: Vec<String> = typed
        .all(&format!("{prefix}strip_species"))
        .map(str::to_owned)
        .collect();
    let widths: Vec<String> = typed
        .all(&format!("{prefix}strip_width"))
        .map(str::to_owned)
        .collect();
    if species.len() != widths.len() || species.len() > MOST_STRIPS {
        typed.refuse(
            format!("{prefix}strips"),
            format!(
                "are not whole; must be at most {MOST_STRIPS}, each with a species and a width"
            ),
        );
        return None;
    }
    let mut strips = Vec::with_capacity(species.len());
    for (place, (species, width)) in species.into_iter().zip(widths).enumerate() {
        if species.is_empty() {
            typed.refuse(
                format!("{prefix}strip_species-{place}"),
                "is empty; must be the name of a species",
            );
        }
        match Length::parse_positive(&width, Some(lengths.unit())) {
            Ok(width) => strips.push(BoardStrip { species, width }),
            Err(error) => {
                typed.refuse(format!("{prefix}strip_width-{place}"), error.to_string());
            }
        }
    }
    typed.is_fine().then(|| Arrangement::new(strips))
}

fn put(typed: &mut Typed, prefix: &str, arrangement: &Arrangement, lengths: LengthFormat) {
    let strips = &arrangement.strips;
    typed.put(
        &format!("{prefix}strip_species"),
        strips.iter().map(|strip| strip.species.clone()),
    );
    typed.put(
        &format!("{prefix}strip_width"),
        strips.iter().map(|strip| lengths.show_exact(strip.width)),
    );
}

/// The rows of the list.
pub fn rows(typed: &Typed, prefix: &str) -> Vec<StripRow> {
    let (species, widths) = (
        format!("{prefix}strip_species"),
        format!("{prefix}strip_width"),
    );
    let count = typed.all(&species).count();
    let chosen = chosen(typed, prefix, count);
    let error = |name: &str| typed.error(name).map(str::to_owned);
    typed
        .all(&species)
        .zip(typed.all(&widths))
        .enumerate()
        .map(|(place, (species, width))| StripRow {
            species: species.to_owned(),
            width: width.to_owned(),
            is_chosen: place == chosen,
            species_error: error(&format!("{prefix}strip_species-{place}")),
            width_error: error(&format!("{prefix}strip_width-{place}")),
        })
        .collect()
}

/// The strip that the buttons are about: the last one until another is chosen.
fn chosen(typed: &Typed, prefix: &str, count: usize) -> usize {
    let last = count.saturating_sub(1);
    typed
        .text(&format!("{prefix}chosen"))
        .parse::<usize>()
        .map_or(last, |place| place.min(last))
}

/// Does what the pressed button says to the strips of the form. `lightness` orders species, `wanted` is the width
/// that the strips should fill.
pub fn change_strips(
    typed: &mut Typed,
    prefix: &str,
    lengths: LengthFormat,
    lightness: &dyn Fn(&str) -> f64,
) -> Changed {
    // Each list has its own buttons: `base_add`.
    let Some(button) = typed
        .text(CHANGE)
        .strip_prefix(prefix)
        .filter(|button| !button.is_empty())
        .map(str::to_owned)
    else {
        return Changed::Nothing;
    };
    let Some(board) = read(typed, prefix, lengths) else {
        return Changed::Refused;
    };
    let at = chosen(typed, prefix, board.strips.len());
    match changed(typed, prefix, lengths, lightness, &board, at, &button) {
        Some((board, at, said)) => {
            put(typed, prefix, &board, lengths);
            typed.put(&format!("{prefix}chosen"), [at.to_string()]);
            Changed::Done(said)
        }
        None if typed.is_fine() => Changed::Nothing,
        None => Changed::Refused,
    }
}

/// The strips afterwards, the chosen one, and what was done; or flaws in the form.
fn changed(
    typed: &mut Typed,
    prefix: &str,
    lengths: LengthFormat,
    lightness: &dyn Fn(&str) -> f64,
    board: &Arrangement,
    at: usize,
    button: &str,
) -> Option<(Arrangement, usize, String)> {
    let number = at + 1;
    let (edit, at, said) = match button {
        "add" => {
            let strip = new_strip(typed, prefix, lengths)?;
            let at = if board.strips.is_empty() { 0 } else { at + 1 };
            let said = format!("Strip {} is new: {}.", at + 1, strip.species);
            (Edit::Add { at, strip }, at, said)
        }
        "replace" => {
            let strip = new_strip(typed, prefix, lengths)?;
            let said = format!("Strip {number} is {} now.", strip.species);
            (Edit::Replace { at, strip }, at, said)
        }
        "remove" => (
            Edit::Remove { at },
            at.saturating_sub(1),
            format!("Strip {number} is gone."),
        ),
        "earlier" | "later" => {
            let last = board.strips.len().saturating_sub(1);
            let to = if button == "earlier" {
                at.saturating_sub(1)
            } else {
                (at + 1).min(last)
            };
            let said = format!("Strip {number} is strip {} now.", to + 1);
            (Edit::Move { from: at, to }, to, said)
        }
        "mirror" => (
            Edit::Mirror,
            board.strips.len().saturating_sub(number),
            "Left and right are exchanged.".to_owned(),
        ),
        "repeat" => {
            let times = whole(typed, &format!("{prefix}times"), 1, 50)? as usize;
            (
                Edit::Repeat { times },
                at,
                format!("The order stands there {times} times."),
            )
        }
        "arrange" => return arranged(typed, prefix, lengths, lightness, board, at),
        "fill" => {
            let wanted = length(typed, "width", lengths)?;
            let board = filled(&board.strips, wanted);
            let said = format!(
                "{} strips, {} together.",
                board.strips.len(),
                lengths.show(board.width())
            );
            return Some((board, at, said));
        }
        "widths" => {
            let width = length(typed, &format!("{prefix}new_width"), lengths)?;
            let strips = board.strips.iter();
            let strips = strips.map(|strip| BoardStrip::new(&strip.species, width));
            let said = format!("Every strip is {} wide.", lengths.show(width));
            return Some((Arrangement::new(strips.collect()), at, said));
        }
        other => {
            let count = other.strip_prefix("count-")?.parse::<usize>().ok()?;
            let board = board.resized(count.min(MOST_STRIPS));
            let said = format!("{} strips.", board.strips.len());
            return Some((board, at, said));
        }
    };
    match board.edited(&edit) {
        Ok(board) => Some((board, at, said)),
        Err(error) => {
            typed.refuse(
                format!("{prefix}strips"),
                format!("cannot do that: {error}"),
            );
            None
        }
    }
}

/// The strip to add or to put in the place of the chosen one.
fn new_strip(typed: &mut Typed, prefix: &str, lengths: LengthFormat) -> Option<BoardStrip> {
    let width = length(typed, &format!("{prefix}new_width"), lengths);
    let species = typed.take(&format!("{prefix}new_species"), |text| {
        if text.is_empty() {
            Err("is empty; must be the name of a species")
        } else {
            Ok(text.to_owned())
        }
    });
    Some(BoardStrip {
        species: species?,
        width: width?,
    })
}

fn arranged(
    typed: &mut Typed,
    prefix: &str,
    lengths: LengthFormat,
    lightness: &dyn Fn(&str) -> f64,
    board: &Arrangement,
    at: usize,
) -> Option<(Arrangement, usize, String)> {
    let (rule, said) = match typed.text(&format!("{prefix}rule")) {
        "alternate" => (Rule::Alternate, "The species take turns.".to_owned()),
        "mirror" => (
            Rule::MirrorAboutCentre,
            "The left half is mirrored onto the right.".to_owned(),
        ),
        "dark to light" => (Rule::DarkToLight, "From dark to light.".to_owned()),
        "light to dark" => (Rule::LightToDark, "From light to dark.".to_owned()),
        "accent" => {
            let strip = new_strip(typed, prefix, lengths)?;
            let said = format!("One accent of {} at strip {}.", strip.species, at + 1);
            (Rule::Accent { at, strip }, said)
        }
        "scatter" => {
            let seed = u64::from(whole(typed, &format!("{prefix}seed"), 0, 999_999)?);
            let said = format!("Scattered from number {seed}; another number gives another order.");
            (Rule::Scatter { seed }, said)
        }
        other => {
            let shown: String = other.chars().take(30).collect();
            typed.refuse(
                format!("{prefix}rule"),
                format!("is \"{shown}\"; must be one of the rules"),
            );
            return None;
        }
    };
    Some((rule.arrange(board, lightness), at, said))
}
