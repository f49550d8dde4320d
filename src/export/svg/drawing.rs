//! A small writer of SVG: shapes, words, patterns and the text alternative around them.

use std::fmt::{self, Write as _};
use std::ops::Range;

use super::paint::{Anchor, Lettering, Paint};
use super::palette;
use super::path::Path;

/// A finished drawing: a complete `<svg>` element that can stand in a page, in a file or in a PDF.
///
/// It has no `style` attribute and no `<style>` element, so a strict content security policy
/// lets it pass; classes are extras that a stylesheet may use.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// Size of the view box in user units.
    pub width: f64,
    pub height: f64,
    pub svg: String,
    /// Where its shapes lie in `svg`, without title, description and ground.
    shapes: Range<usize>,
}

impl fmt::Display for Drawing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.svg)
    }
}

/// A rectangle in user units; y grows downward.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    pub x: f64,
    pub y: f64,
    pub width: f64,
    pub height: f64,
}

impl Rect {
    pub fn new(x: f64, y: f64, width: f64, height: f64) -> Rect {
        Rect {
            x,
            y,
            width,
            height,
        }
    }

    pub fn right(&self) -> f64 {
        self.x + self.width
    }

    pub fn bottom(&self) -> f64 {
        self.y + self.height
    }

    pub fn centre(&self) -> (f64, f64) {
        (self.x + self.width / 2.0, self.y + self.height / 2.0)
    }

    pub fn inset(&self, by: f64) -> Rect {
        Rect::new(
            self.x + by,
            self.y + by,
            (self.width - 2.0 * by).max(0.0),
            (self.height - 2.0 * by).max(0.0),
        )
    }
}

/// A drawing in the making.
pub struct Canvas {
    prefix: String,
    width: f64,
    title: String,
    description: String,
    defs: String,
    body: String,
    open: Vec<&'static str>,
    /// Patterns by name, so that each is defined once.
    patterns: Vec<&'static str>,
    has_links: bool,
}

impl Canvas {
    /// `prefix` makes the ids of this drawing its own on a page with several; it should be an
    /// identifier. Letters that cannot stand in an id become `-`.
    pub fn new(prefix: &str, width: f64, title: &str, description: &str) -> Canvas {
        let prefix = prefix
            .chars()
            .map(|letter| {
                if letter.is_ascii_alphanumeric() || letter == '_' {
                    letter
                } else {
                    '-'
                }
            })
            .collect();
        Canvas {
            prefix,
            width,
            title: title.to_owned(),
            description: description.to_owned(),
            defs: String::new(),
            body: String::new(),
            open: Vec::new(),
            patterns: Vec::new(),
            has_links: false,
        }
    }

    pub fn width(&self) -> f64 {
        self.width
    }

    pub fn rect(&mut self, shape: Rect, paint: &Paint) {
        self.rounded_rect(shape, 0.0, paint);
    }

    pub fn rounded_rect(&mut self, shape: Rect, radius: f64, paint: &Paint) {
        let _ = write!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"",
            number(shape.x),
            number(shape.y),
            number(shape.width.max(0.0)),
            number(shape.height.max(0.0))
        );
        if radius > 0.0 {
            let _ = write!(self.body, " rx=\"{}\"", number(radius));
        }
        paint.write(&mut self.body);
        self.body.push_str("/>");
    }

    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), paint: &Paint) {
        let _ = write!(
            self.body,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"",
            number(from.0),
            number(from.1),
            number(to.0),
            number(to.1)
        );
        paint.write(&mut self.body);
        self.body.push_str("/>");
    }

    pub fn circle(&mut self, centre: (f64, f64), radius: f64, paint: &Paint) {
        let _ = write!(
            self.body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"",
            number(centre.0),
            number(centre.1),
            number(radius)
        );
        paint.write(&mut self.body);
        self.body.push_str("/>");
    }

    pub fn path(&mut self, path: &Path, paint: &Paint) {
        let _ = write!(self.body, "<path d=\"{}\"", path.data());
        paint.write(&mut self.body);
        self.body.push_str("/>");
    }

    /// Writes one line of words.
    pub fn words(&mut self, at: (f64, f64), words: &str, lettering: &Lettering) {
        let (x, y) = (number(at.0), number(at.1));
        let _ = write!(
            self.body,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{}\"",
            number(lettering.size)
        );
        match lettering.anchor {
            Anchor::Start => {}
            Anchor::Middle => self.body.push_str(" text-anchor=\"middle\""),
            Anchor::End => self.body.push_str(" text-anchor=\"end\""),
        }
        if lettering.bold {
            self.body.push_str(" font-weight=\"bold\"");
        }
        if lettering.halo {
            let _ = write!(
                self.body,
                " paint-order=\"stroke\" stroke=\"{}\" stroke-width=\"3\" stroke-linejoin=\"round\"",
                palette::PAPER
            );
        }
        let _ = write!(
            self.body,
            " fill=\"{}\">{}</text>",
            lettering.colour,
            escape(words)
        );
    }

    /// Puts `window` of another drawing, in its own units, into `place` of this one, cut off at
    /// the edges. Both should have the same proportions.
    pub fn embed(&mut self, drawing: &Drawing, window: Rect, place: Rect) {
        let _ = write!(
            self.body,
            "<svg x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" viewBox=\"{} {} {} {}\">{}</svg>",
            number(place.x),
            number(place.y),
            number(place.width),
            number(place.height),
            number(window.x),
            number(window.y),
            number(window.width),
            number(window.height),
            &drawing.svg[drawing.shapes.clone()]
        );
    }

    /// Everything until [`Canvas::close`] belongs to one group, turned about a point.
    pub fn open_turned(&mut self, degrees: f64, about: (f64, f64)) {
        let _ = write!(
            self.body,
            "<g transform=\"rotate({} {} {})\">",
            number(degrees),
            number(about.0),
            number(about.1)
        );
        self.open.push("</g>");
    }

    /// Everything until [`Canvas::close`] shows only inside `path`.
    pub fn open_clipped(&mut self, name: &str, path: &Path) {
        let id = format!("{}-{name}", self.prefix);
        let _ = write!(
            self.defs,
            "<clipPath id=\"{id}\"><path d=\"{}\"/></clipPath>",
            path.data()
        );
        let _ = write!(self.body, "<g clip-path=\"url(#{id})\">");
        self.open.push("</g>");
    }

    /// Everything until [`Canvas::close`] has one class, for a stylesheet or a test to find.
    pub fn open_class(&mut self, class: &'static str) {
        let _ = write!(self.body, "<g class=\"{class}\">");
        self.open.push("</g>");
    }

    /// Everything until [`Canvas::close`] leads to `href`, which is named by `name`.
    pub fn open_link(&mut self, href: &str, name: &str) {
        let _ = write!(
            self.body,
            "<a href=\"{}\" aria-label=\"{}\">",
            escape(href),
            escape(name)
        );
        self.open.push("</a>");
        self.has_links = true;
    }

    pub fn close(&mut self) {
        let end = self.open.pop().expect("every close follows an open");
        self.body.push_str(end);
    }

    /// The reference to a pattern of slanted lines, for a `fill`: waste, and what may not be used.
    pub fn hatch(&mut self) -> String {
        self.pattern(
            "hatch",
            &format!(
                "width=\"6\" height=\"6\" patternTransform=\"rotate(45)\"><path d=\"M0 0V6\" stroke=\"{}\" stroke-width=\"1.6\" fill=\"none\"/>",
                palette::HATCH
            ),
        )
    }

    /// The reference to a pattern of crossed lines, for stretches with a defect.
    pub fn cross_hatch(&mut self) -> String {
        self.pattern(
            "cross-hatch",
            &format!(
                "width=\"5\" height=\"5\" patternTransform=\"rotate(45)\"><path d=\"M0 0V5M0 0H5\" stroke=\"{}\" stroke-width=\"1.4\" fill=\"none\"/>",
                palette::INK
            ),
        )
    }

    fn pattern(&mut self, name: &'static str, rest: &str) -> String {
        if !self.patterns.contains(&name) {
            self.patterns.push(name);
            let _ = write!(
                self.defs,
                "<pattern id=\"{}-{name}\" patternUnits=\"userSpaceOnUse\" {rest}</pattern>",
                self.prefix
            );
        }
        format!("url(#{}-{name})", self.prefix)
    }

    /// The drawing on its own paper, so that it reads in a dark scheme too.
    pub fn finish(self, height: f64) -> Drawing {
        // A page may show it up to this much larger; its stylesheet keeps it inside a narrow one.
        const LARGEST: f64 = 1.35;
        let size = format!(
            " width=\"{}\" height=\"{}\"",
            number((self.width * LARGEST).round()),
            number((height * LARGEST).round())
        );
        self.end(height, true, &size)
    }

    /// The drawing at its true size: one user unit is one millimetre, and the ground is clear.
    pub fn finish_full_size(self, height: f64) -> Drawing {
        let size = format!(
            " width=\"{}mm\" height=\"{}mm\"",
            number(self.width),
            number(height)
        );
        self.end(height, false, &size)
    }

    fn end(self, height: f64, paper: bool, size: &str) -> Drawing {
        assert!(self.open.is_empty(), "every open group is closed");
        let (width, prefix) = (self.width, &self.prefix);
        // Children of an image are not told to a reader of the screen, so links need a group.
        let role = if self.has_links { "group" } else { "img" };
        let mut svg = String::with_capacity(self.body.len() + self.defs.len() + 700);
        let _ = write!(
            svg,
            "<svg xmlns=\"http://www.w3.org/2000/svg\"{size} viewBox=\"0 0 {} {}\" role=\"{role}\" \
             aria-labelledby=\"{prefix}-title {prefix}-desc\" font-family=\"system-ui, sans-serif\">\
             <title id=\"{prefix}-title\">{}</title><desc id=\"{prefix}-desc\">{}</desc>",
            number(width),
            number(height),
            escape(&self.title),
            escape(&self.description)
        );
        if paper {
            let _ = write!(
                svg,
                "<rect class=\"paper\" width=\"{}\" height=\"{}\" rx=\"4\" fill=\"{}\"/>",
                number(width),
                number(height),
                palette::PAPER
            );
        }
        let from = svg.len();
        if !self.defs.is_empty() {
            let _ = write!(svg, "<defs>{}</defs>", self.defs);
        }
        svg.push_str(&self.body);
        let shapes = from..svg.len();
        svg.push_str("</svg>");
        Drawing {
            width,
            height,
            svg,
            shapes,
        }
    }
}

/// Text for an element's content or an attribute's value. What XML cannot carry is left out.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\n' | '\r' | '\t' => out.push(' '),
            letter if letter.is_control() || matches!(letter, '\u{fffe}' | '\u{ffff}') => {}
            letter => out.push(letter),
        }
    }
    out
}

/// A number with at most four decimals and none that say nothing: a tenth of a micrometre where
/// a unit is a millimetre.
pub fn number(value: f64) -> String {
    let mut text = format!("{value:.4}");
    let kept = text.trim_end_matches('0').trim_end_matches('.').len();
    text.truncate(kept);
    if text == "-0" {
        text.remove(0);
    }
    text
}
