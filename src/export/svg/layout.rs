//! How one piece is cut: sections, rips, strips, kerfs, what is kept and what is waste.

use super::board::strip_number;
use super::drawing::{Canvas, Drawing, Rect};
use super::offcut::{stretches, unusable_stretches};
use super::paint::{Lettering, Paint, words_width};
use super::palette;
use super::style::{Scale, Style, counted, dimension_across, dimension_down, listed};
use super::wood::{long_grain, seed_of};
use crate::calc::matching::{Content, Layout, Part, Rectangle, Shop, Stock, Use};
use crate::units::Length;

/// A cut piece to draw.
pub struct CutPiece<'a> {
    pub layout: &'a Layout,
    pub stock: Stock<'a>,
    pub shop: &'a Shop,
    /// What is written on the strips, such as their numbers in the board, in the order in which
    /// [`Layout::rectangles`] gives them. Where one is missing its strip shows its id.
    pub labels: &'a [String],
}

/// The whole piece with everything that becomes of it, to scale.
///
/// Strips are wood with a full outline and their number, what is kept is pale with a dashed
/// outline, waste and trimmed ends are hatched, kerfs are black.
pub fn layout(style: &Style, cut: &CutPiece) -> Drawing {
    let stock = &cut.stock;
    let rectangles = cut.layout.rectangles(stock, cut.shop);
    let strips = named_strips(cut, &rectangles);
    let kept: Vec<&Rectangle> = rectangles
        .iter()
        .filter(|rectangle| rectangle.used_as == Use::Keep)
        .collect();
    let legend = legend(style, &strips, &kept);
    let times = if cut.layout.copies > 1 {
        format!(", {} times", cut.layout.copies)
    } else {
        String::new()
    };
    let mut canvas = Canvas::new(
        style.prefix,
        style.width,
        &format!("How {} is cut{times}", stock.id),
        &describe(style, cut, &legend),
    );
    let (left, top, right) = (12.0, 14.0, 70.0);
    let scale = Scale::fitting(
        stock.length,
        stock.width,
        style.width - left - right,
        style.width * 0.6,
    );
    let piece = Rect::new(
        left,
        top,
        scale.units(stock.length),
        scale.units(stock.width),
    );
    let (_, usable_width) = stock.usable(cut.shop);
    // The edge that is made straight lies at the top, so that rips are measured down from it.
    let straight_edge = top + scale.units((stock.width - usable_width).max(Length::ZERO));
    let placed = |rectangle: &Rectangle| {
        Rect::new(
            left + scale.units(rectangle.along),
            straight_edge + scale.units(rectangle.across),
            scale.units(rectangle.length),
            scale.units(rectangle.width),
        )
    };
    let hatch = canvas.hatch();
    canvas.rect(piece, &Paint::fill(palette::PAPER));
    canvas.rect(piece, &Paint::fill(&hatch).class("waste"));
    let colour = style.colour(stock.species);
    let seed = seed_of(stock.id);
    for (index, rectangle) in rectangles.iter().enumerate() {
        let face = placed(rectangle);
        match rectangle.used_as {
            Use::Strip(_) => {
                long_grain(&mut canvas, face, colour, seed.wrapping_add(index as u64));
                canvas.rect(face, &Paint::line(palette::INK, 1.4).class("strip"));
            }
            Use::Keep => {
                canvas.rect(face, &Paint::fill(palette::PAPER));
                canvas.rect(face, &Paint::fill(colour).opacity(0.4));
                canvas.rect(
                    face.inset(1.2),
                    &Paint::line(palette::INK, 1.4).dash("6 4").class("kept"),
                );
            }
            Use::Kerf { .. } => canvas.rect(face, &Paint::fill(palette::INK).class("kerf")),
            Use::Waste => {}
        }
    }
    unusable_stretches(&mut canvas, piece, scale, &pairs(stock));
    canvas.rect(piece, &Paint::line(palette::INK, 1.2));
    for (label, rectangle) in &strips {
        let face = placed(rectangle);
        let above = strips.iter().map(|(_, other)| placed(other));
        let row = above
            .filter(|other| (other.x - face.x).abs() < 1.0 && other.y < face.y)
            .count();
        label_strip(&mut canvas, face, label, row);
    }
    for rectangle in &kept {
        label_kept(style, &mut canvas, placed(rectangle), rectangle);
    }
    dimension_rips(style, &mut canvas, cut, piece, straight_edge, scale);
    let mut y = dimension_sections(style, &mut canvas, cut, piece, scale);
    dimension_across(
        &mut canvas,
        piece.x,
        piece.right(),
        y,
        &style.show(stock.length),
    );
    y += 20.0;
    for line in &legend {
        y = draw_legend_line(&mut canvas, line, colour, left, y);
    }
    canvas.finish(y - 4.0)
}

fn pairs(stock: &Stock) -> Vec<(Length, Length)> {
    stock
        .unusable
        .iter()
        .map(|stretch| (stretch.from, stretch.to))
        .collect()
}

fn named_strips<'a>(cut: &CutPiece, rectangles: &[Rectangle<'a>]) -> Vec<(String, Rectangle<'a>)> {
    let mut labels = cut.labels.iter();
    rectangles
        .iter()
        .filter_map(|rectangle| match rectangle.used_as {
            Use::Strip(id) => Some((
                labels.next().cloned().unwrap_or_else(|| id.to_owned()),
                *rectangle,
            )),
            _ => None,
        })
        .collect()
}

enum Legend {
    Strips { labels: Vec<String>, size: String },
    Kept { size: String },
    Waste,
}

/// One line for each size of strip, one for each remainder, one for waste.
fn legend(style: &Style, strips: &[(String, Rectangle)], kept: &[&Rectangle]) -> Vec<Legend> {
    let mut sizes: Vec<((Length, Length), Vec<String>)> = Vec::new();
    for (label, rectangle) in strips {
        let size = (rectangle.length, rectangle.width);
        match sizes.iter_mut().find(|(known, _)| *known == size) {
            Some((_, labels)) => labels.push(label.clone()),
            None => sizes.push((size, vec![label.clone()])),
        }
    }
    let mut lines: Vec<Legend> = sizes
        .into_iter()
        .map(|((length, width), labels)| Legend::Strips {
            labels,
            size: style.show_by(length, width),
        })
        .collect();
    lines.extend(kept.iter().map(|rectangle| Legend::Kept {
        size: style.show_by(rectangle.length, rectangle.width),
    }));
    lines.push(Legend::Waste);
    lines
}

/// Each label once, however many strips carry it.
fn said_once(labels: &[String]) -> Vec<String> {
    let mut once: Vec<String> = Vec::new();
    for label in labels {
        if !once.contains(label) {
            once.push(label.clone());
        }
    }
    once
}

fn draw_legend_line(
    canvas: &mut Canvas,
    line: &Legend,
    colour: palette::Colour,
    left: f64,
    y: f64,
) -> f64 {
    let sample = Rect::new(left, y - 9.5, 22.0, 12.0);
    let words = Lettering::new(Style::SMALL);
    let text = match line {
        Legend::Strips { labels, size } => {
            canvas.rect(sample, &Paint::fill(colour).stroke(palette::INK, 1.4));
            let noun = if labels.len() == 1 { "strip" } else { "strips" };
            format!("{noun} {}: {size}", listed(&said_once(labels)))
        }
        Legend::Kept { size } => {
            canvas.rect(sample, &Paint::fill(colour).opacity(0.4));
            canvas.rect(sample, &Paint::line(palette::INK, 1.4).dash("6 4"));
            format!("kept: {size}")
        }
        Legend::Waste => {
            let hatch = canvas.hatch();
            canvas.rect(sample, &Paint::fill(hatch).stroke(palette::INK, 0.8));
            "waste; black lines are kerfs".to_owned()
        }
    };
    // Long lists of strips go on below, rather than off the page.
    let most = ((canvas.width() - left - 40.0) / (Style::SMALL * 0.56)) as usize;
    let mut y = y;
    for row in wrapped(&text, most) {
        canvas.words((left + 30.0, y), &row, &words);
        y += 17.0;
    }
    y
}

/// Words in rows of at most `most` letters.
fn wrapped(text: &str, most: usize) -> Vec<String> {
    let mut rows = vec![String::new()];
    for word in text.split(' ') {
        let row = rows.last_mut().expect("there is always a row");
        if !row.is_empty() && row.chars().count() + 1 + word.chars().count() > most {
            rows.push(word.to_owned());
        } else {
            if !row.is_empty() {
                row.push(' ');
            }
            row.push_str(word);
        }
    }
    rows
}

fn label_strip(canvas: &mut Canvas, face: Rect, label: &str, row: usize) {
    let is_number = label.chars().count() <= 2;
    let width = if is_number {
        16.0
    } else {
        words_width(label, Style::SMALL) + 8.0
    };
    // Rings are wider than narrow rips; neighbours step aside from each other.
    let stagger = if face.height < 17.0 {
        (row % 4) as f64 * (width + 3.0)
    } else {
        0.0
    };
    let x = (face.x + 6.0 + width / 2.0 + stagger).min(face.right() - width / 2.0 - 1.0);
    let x = x.max(face.x + face.width / 2.0 - (face.width / 2.0 - width / 2.0).max(0.0));
    let y = face.y + face.height / 2.0;
    match label.parse::<usize>() {
        Ok(number) if is_number => strip_number(canvas, (x, y), number),
        _ => {
            canvas.rounded_rect(
                Rect::new(x - width / 2.0, y - 7.0, width, 14.0),
                3.0,
                &Paint::fill(palette::PAPER).stroke(palette::CHALK, 1.0),
            );
            canvas.words(
                (x, y + 3.7),
                label,
                &Lettering::new(Style::SMALL)
                    .middle()
                    .bold()
                    .colour(palette::CHALK),
            );
        }
    }
}

fn label_kept(style: &Style, canvas: &mut Canvas, face: Rect, rectangle: &Rectangle) {
    let full = format!("keep {}", style.show_by(rectangle.length, rectangle.width));
    let words = [full.as_str(), "keep"]
        .into_iter()
        .find(|words| words_width(words, Style::SMALL) + 8.0 <= face.width);
    if let Some(words) = words
        && face.height >= 12.0
    {
        let (x, y) = face.centre();
        let width = words_width(words, Style::SMALL) + 6.0;
        let plate = Rect::new(x - width / 2.0, y - 6.5, width, 13.0);
        canvas.rounded_rect(plate, 2.0, &Paint::fill(palette::PAPER).opacity(0.8));
        canvas.words((x, y + 3.7), words, &Lettering::new(Style::SMALL).middle());
    }
}

/// Widths from the straight edge down, where one section is ripped and has room for the words.
fn dimension_rips(
    style: &Style,
    canvas: &mut Canvas,
    cut: &CutPiece,
    piece: Rect,
    straight_edge: f64,
    scale: Scale,
) {
    let x = piece.right() + 8.0;
    let ripped: Vec<&Vec<Part>> = cut
        .layout
        .parts
        .iter()
        .filter_map(|section| match &section.content {
            Content::Cut(rips) => Some(rips),
            _ => None,
        })
        .collect();
    if let [rips] = ripped.as_slice() {
        let kerf = scale.units(cut.shop.rip_kerf);
        let roomy = |part: &&Part| scale.units(part.size) >= 12.0;
        let wanted: Vec<&Part> = rips
            .iter()
            .filter(|part| part.content != Content::Waste)
            .collect();
        if wanted.len() > 1 && wanted.iter().all(roomy) {
            let mut y = straight_edge;
            for part in rips.iter() {
                let height = scale.units(part.size);
                if part.content != Content::Waste {
                    dimension_down(canvas, x, y, y + height, &style.show(part.size));
                }
                y += height + kerf;
            }
            return;
        }
    }
    dimension_down(
        canvas,
        x,
        piece.y,
        piece.bottom(),
        &style.show(cut.stock.width),
    );
}

/// The lengths of the sections, below the piece; returns where the next line goes.
fn dimension_sections(
    style: &Style,
    canvas: &mut Canvas,
    cut: &CutPiece,
    piece: Rect,
    scale: Scale,
) -> f64 {
    let mut y = piece.bottom() + 14.0;
    let sections: Vec<&Part> = cut.layout.parts.iter().collect();
    let wanted = sections
        .iter()
        .filter(|section| section.content != Content::Waste)
        .count();
    if wanted == 0 {
        return y;
    }
    let mut along = cut.stock.start(cut.shop);
    let mut free_from = f64::NEG_INFINITY;
    for section in sections {
        if section.content != Content::Waste {
            let from = piece.x + scale.units(along);
            let to = from + scale.units(section.size);
            let words = style.show(section.size);
            // Short neighbours step down, so that their words stay apart.
            if from < free_from {
                y += 15.0;
            }
            dimension_across(canvas, from, to, y, &words);
            let width = words_width(&words, Style::SMALL);
            free_from = if width + 8.0 > to - from {
                to + 8.0 + width
            } else {
                f64::NEG_INFINITY
            };
        }
        along = along + section.size + cut.shop.crosscut_kerf;
    }
    y + 17.0
}

fn describe(style: &Style, cut: &CutPiece, legend: &[Legend]) -> String {
    let stock = &cut.stock;
    let sizes = format!(
        "{} × {}",
        style.show_by(stock.length, stock.width),
        style.show(stock.thickness)
    );
    let mut said = Vec::new();
    let mut kept = Vec::new();
    for line in legend {
        match line {
            Legend::Strips { labels, size } => said.push(format!(
                "{} of {size} ({})",
                counted(labels.len(), "strip", "strips"),
                said_once(labels).join(", ")
            )),
            Legend::Kept { size } => kept.push(size.clone()),
            Legend::Waste => {}
        }
    }
    let mut text = format!(
        "A piece of {}, {sizes}, gives {}.",
        stock.species,
        listed(&said)
    );
    if kept.is_empty() {
        text.push_str(" Nothing of it is kept.");
    } else {
        text.push_str(&format!(" Kept for a bin: {}.", listed(&kept)));
    }
    if !stock.unusable.is_empty() {
        text.push_str(&format!(
            " Not usable, from the left end: {}.",
            listed(&stretches(style, &pairs(stock)))
        ));
    }
    if cut.layout.copies > 1 {
        text.push_str(&format!(" {} equal pieces are cut so.", cut.layout.copies));
    }
    text
}
