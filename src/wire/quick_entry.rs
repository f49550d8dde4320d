//! Quick entry: one line for a piece, as people say it.
//!
//! `walnut 24 x 3 1/2 x 3/4 x4` is four equal pieces of black walnut; `hard maple 610x89x19 mm` is one of
//! hard maple. A line is a species, then length, width and thickness with `x` between them, then
//! perhaps a count. A unit at the end holds for the sizes before it that have none.

use crate::reference;
use crate::units::{Length, LengthUnit};

/// The most lines that are read at once.
pub const MOST_LINES: usize = 500;

/// Short names of the North American timber trade. Common practice, no single source.
const SHORT_NAMES: [(&str, &str); 9] = [
    ("maple", "hard maple"),
    ("walnut", "black walnut"),
    ("cherry", "black cherry"),
    ("birch", "yellow birch"),
    ("beech", "American beech"),
    ("ash", "white ash"),
    ("poplar", "yellow-poplar"),
    ("rock maple", "hard maple"),
    ("sugar maple", "hard maple"),
];

/// One line and what was understood of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EntryLine {
    pub text: String,
    pub reading: Result<EntryPiece, Unclear>,
}

/// A piece as its line says it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EntryPiece {
    /// In the spelling of the list of species.
    pub species: String,
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
    pub count: u32,
}

/// The part of a line that was not understood: bytes `from..to` of its text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unclear {
    pub from: usize,
    pub to: usize,
    /// A predicate: `is a species that the workshop does not know; ...`.
    pub why: String,
}

/// Reads every line that is not empty. `species` are the known names; those `at_hand` win where a
/// word fits several. A number without a unit is in `unit`.
pub fn read_lines(
    text: &str,
    species: &[String],
    at_hand: &[String],
    unit: LengthUnit,
) -> Vec<EntryLine> {
    text.lines()
        .filter(|line| !line.trim().is_empty())
        .take(MOST_LINES)
        .map(|line| EntryLine {
            text: line.trim().to_owned(),
            reading: read_line(line.trim(), species, at_hand, unit),
        })
        .collect()
}

fn read_line(
    line: &str,
    species: &[String],
    at_hand: &[String],
    unit: LengthUnit,
) -> Result<EntryPiece, Unclear> {
    let sizes_at = line
        .find(|letter: char| letter.is_ascii_digit() || VULGAR.contains(letter))
        .ok_or_else(|| Unclear {
            from: 0,
            to: line.len(),
            why: "has no sizes; must be a species and then length x width x thickness".to_owned(),
        })?;
    let name = line[..sizes_at].trim().trim_end_matches([',', ':', ';']);
    if name.is_empty() {
        return Err(Unclear {
            from: 0,
            to: line.len(),
            why: "begins with a size; must begin with the species".to_owned(),
        });
    }
    let species = find_species(name, species, at_hand).map_err(|why| Unclear {
        from: 0,
        to: sizes_at,
        why,
    })?;

    let mut parts = parts_of(line, sizes_at);
    let count = if parts.len() == 4 {
        let (from, to) = parts.remove(3);
        line[from..to]
            .parse::<u32>()
            .ok()
            .filter(|count| (1..=10_000).contains(count))
            .ok_or(Unclear {
                from,
                to,
                why: "is not a count; must be a whole number from 1 to 10000".to_owned(),
            })?
    } else {
        1
    };
    let [length, width, thickness] = parts[..] else {
        return Err(Unclear {
            from: sizes_at,
            to: line.len(),
            why: format!(
                "has {} sizes; must be length x width x thickness, and perhaps x count",
                parts.len()
            ),
        });
    };
    // The unit that ends the sizes holds for those before it, if they have none.
    let shared = unit_at_end(&line[thickness.0..thickness.1]).unwrap_or(unit);
    let size = |(from, to): (usize, usize)| {
        Length::parse_positive(&line[from..to], Some(shared)).map_err(|error| Unclear {
            from,
            to,
            why: error.to_string(),
        })
    };
    Ok(EntryPiece {
        species,
        length: size(length)?,
        width: size(width)?,
        thickness: size(thickness)?,
        count,
    })
}

const VULGAR: &str = "¼½¾⅛⅜⅝⅞";

/// Where the parts between the `x` of a line lie, from `start` on, without the spaces around them.
fn parts_of(line: &str, start: usize) -> Vec<(usize, usize)> {
    let mut parts = Vec::new();
    let mut from = start;
    for (at, letter) in line.char_indices().skip_while(|(at, _)| *at < start) {
        if matches!(letter, 'x' | 'X' | '×' | '*') {
            parts.push(trimmed(line, from, at));
            from = at + letter.len_utf8();
        }
    }
    parts.push(trimmed(line, from, line.len()));
    // `3/4 x4` and `3/4, x4` both count.
    parts
}

fn trimmed(line: &str, from: usize, to: usize) -> (usize, usize) {
    let part = &line[from..to];
    let is_space = |letter: char| letter.is_whitespace() || letter == ',' || letter == ';';
    let left = part.len() - part.trim_start_matches(is_space).len();
    let kept = part.trim_matches(is_space).len();
    (from + left, from + left + kept)
}

fn unit_at_end(size: &str) -> Option<LengthUnit> {
    let size = size.trim_end().to_ascii_lowercase();
    if size.ends_with("mm") {
        Some(LengthUnit::Millimetres)
    } else if size.ends_with("in") || size.ends_with('"') {
        Some(LengthUnit::Inches)
    } else {
        None
    }
}

fn find_species(name: &str, species: &[String], at_hand: &[String]) -> Result<String, String> {
    let wanted = name.split_whitespace().collect::<Vec<_>>().join(" ");
    let same = |known: &&String| known.eq_ignore_ascii_case(&wanted);
    if let Some(known) = species.iter().find(same) {
        return Ok(known.clone());
    }
    let lower = wanted.to_lowercase();
    let contains = |known: &&String| {
        known
            .to_lowercase()
            .split([' ', '-'])
            .any(|word| word == lower)
    };
    let nearby: Vec<&String> = at_hand.iter().filter(contains).collect();
    if let [only] = nearby[..] {
        return Ok(only.clone());
    }
    if let Some((_, long)) = SHORT_NAMES.iter().find(|(short, _)| *short == lower)
        && let Some(known) = species
            .iter()
            .find(|known| known.eq_ignore_ascii_case(long))
    {
        return Ok(known.clone());
    }
    let candidates: Vec<&String> = species.iter().filter(contains).collect();
    match candidates[..] {
        [only] => Ok(only.clone()),
        [] => {
            let mut near = reference::nearest_species(&wanted);
            near.retain(|name| species.iter().any(|known| known.eq_ignore_ascii_case(name)));
            let such_as = if near.is_empty() {
                String::new()
            } else {
                format!(", such as {}", near.join(", "))
            };
            Err(format!(
                "is {wanted:?}, a species that the workshop does not know; must be one of the woods in the reference{such_as}"
            ))
        }
        _ => {
            let names: Vec<&str> = candidates.iter().map(|name| name.as_str()).collect();
            Err(format!(
                "is {wanted:?}, which may be several; must be one of {}",
                names.join(", ")
            ))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(line: &str) -> Result<EntryPiece, Unclear> {
        let species: Vec<String> = [
            "hard maple",
            "soft maple",
            "black walnut",
            "European walnut",
            "red oak",
            "white oak",
        ]
        .map(str::to_owned)
        .to_vec();
        read_line(line, &species, &[], LengthUnit::Inches)
    }

    #[test]
    fn lines_are_read_as_people_say_them() {
        let walnut = read("walnut 24 x 3 1/2 x 3/4 x4").unwrap();
        assert_eq!(walnut.species, "black walnut");
        assert_eq!(walnut.length, Length::from_inches(24, 1));
        assert_eq!(walnut.width, Length::from_inches(7, 2));
        assert_eq!(walnut.thickness, Length::from_inches(3, 4));
        assert_eq!(walnut.count, 4);
        let maple = read("hard maple 610x89x19 mm").unwrap();
        assert_eq!((maple.species.as_str(), maple.count), ("hard maple", 1));
        assert_eq!(maple.length, Length::from_mm(610));
        assert_eq!(maple.thickness, Length::from_mm(19));
        assert_eq!(
            read("Black Walnut: 1' 6\" x 2½\" × ¾").unwrap().length,
            Length::from_inches(18, 1)
        );
    }

    #[test]
    fn the_unclear_part_is_named() {
        let line = "walnut 24 x wide x 3/4";
        let unclear = read(line).unwrap_err();
        assert_eq!(&line[unclear.from..unclear.to], "wide");
        let line = "oak 24 x 3 x 3/4";
        let unclear = read(line).unwrap_err();
        assert_eq!(line[unclear.from..unclear.to].trim(), "oak");
        assert!(
            unclear.why.contains("red oak, white oak"),
            "{}",
            unclear.why
        );
        assert!(
            read("24 x 3 x 3/4")
                .unwrap_err()
                .why
                .contains("begin with the species")
        );
        assert!(read("walnut").unwrap_err().why.contains("no sizes"));
        assert!(
            read("walnut 24 x 3")
                .unwrap_err()
                .why
                .contains("has 2 sizes")
        );
        assert_eq!(
            read("walnut 24 x 3 x 1 x many").unwrap_err().why,
            "is not a count; must be a whole number from 1 to 10000"
        );
    }
}
