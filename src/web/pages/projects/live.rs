//! What a design comes to, beside its form: the drawing, the strips to find, figures and warnings.

use super::drawn::Drawer;
use super::opened::flaw_words;
use crate::app::advice;
use crate::app::basis::Basis;
use crate::calc::work::{self, Change, Design, Needs, Warning};
use crate::export::svg::{Drawing, Style};
use crate::store::settings::Settings;
use crate::units::{LengthFormat, Money};
use crate::web::words;

pub(super) struct Live {
    pub drawing: Option<Drawing>,
    /// What keeps the design from being made.
    pub flaws: Vec<String>,
    /// The size that the piece will have.
    pub size: String,
    pub needs: Vec<NeedLine>,
    pub figures: Vec<Figure>,
    pub warnings: Vec<WarningLine>,
    pub alternatives: Vec<AlternativeLine>,
}

/// Equal strips to find.
pub(super) struct NeedLine {
    pub count: u32,
    pub species: String,
    pub colour: String,
    pub length: String,
    /// The ways to have it: `1 5/8 in rip from 3/4 in stock`.
    pub sections: String,
}

/// A number with its name, and where it comes from.
pub(super) struct Figure {
    pub name: &'static str,
    pub value: String,
    pub source: Option<String>,
}

pub(super) struct WarningLine {
    pub about: String,
    pub cure: String,
}

/// Another way to have nearly the same, with the button that takes it.
pub(super) struct AlternativeLine {
    pub about: String,
    pub button: String,
    /// The value of the form's `change` button; none where a figure must be typed.
    pub change: Option<String>,
}

pub(super) fn warning_line(warning: &Warning, lengths: LengthFormat) -> WarningLine {
    WarningLine {
        about: warning.about.show(lengths),
        cure: warning.cure.show(lengths),
    }
}

pub(super) fn need_lines(needs: &Needs, drawer: &Drawer<'_>) -> Vec<NeedLine> {
    let lengths = drawer.lengths;
    needs
        .strips
        .iter()
        .map(|strip| {
            let sections: Vec<String> = strip
                .sections
                .iter()
                .map(|section| {
                    format!(
                        "{} rip, {} thick",
                        lengths.show(section.rip),
                        lengths.show(section.thickness)
                    )
                })
                .collect();
            NeedLine {
                count: strip.count,
                species: strip.species.join(" or "),
                colour: strip
                    .species
                    .first()
                    .map_or_else(String::new, |name| drawer.colour_code(name)),
                length: lengths.show(strip.length),
                sections: sections.join(", or "),
            }
        })
        .collect()
}

/// `17 × 9 3/4 × 1 1/2 in`.
pub(super) fn size_words(size: work::Size, lengths: LengthFormat) -> String {
    format!(
        "{} × {} × {}",
        lengths.show(size.length),
        lengths.show(size.width),
        lengths.show(size.thickness)
    )
}

impl Live {
    /// `design` is none where the form could not be read.
    pub fn new(
        design: Option<&Design>,
        name: &str,
        basis: &Basis,
        settings: &Settings,
        prices: &[(String, Money)],
        lengths: LengthFormat,
    ) -> Live {
        let drawer = Drawer { basis, lengths };
        let mut live = Live {
            drawing: None,
            flaws: Vec::new(),
            size: String::new(),
            needs: Vec::new(),
            figures: Vec::new(),
            warnings: Vec::new(),
            alternatives: Vec::new(),
        };
        let Some(design) = design else {
            live.flaws = vec!["Some entries cannot be read yet; they are marked.".to_owned()];
            return live;
        };
        match basis.needs(design) {
            Err(flaws) => {
                live.flaws = flaws.iter().map(|flaw| flaw_words(flaw, lengths)).collect();
            }
            Ok(needs) => {
                live.drawing = Some(drawer.finished("board", Style::PHONE, name, design));
                live.size = size_words(needs.finished, lengths);
                live.needs = need_lines(&needs, &drawer);
                live.figures = figures(&needs, settings, prices);
                let warnings = needs.warnings.iter();
                live.warnings = warnings
                    .map(|warning| warning_line(warning, lengths))
                    .collect();
                live.alternatives = needs
                    .alternatives
                    .iter()
                    .map(|alternative| {
                        let (button, change) = match alternative.change {
                            Change::StripCount { strips, .. } => (
                                format!("Make it {strips} strips"),
                                Some(format!("count-{strips}")),
                            ),
                            Change::Thickness(thickness) => (
                                format!("Make it {} thick", lengths.show(thickness)),
                                Some(format!("thickness-{}", thickness.nm())),
                            ),
                            Change::SliceCount { slices, .. } => {
                                (format!("Make it {slices} slices"), None)
                            }
                        };
                        AlternativeLine {
                            about: alternative.about.show(lengths),
                            button,
                            change,
                        }
                    })
                    .collect();
            }
        }
        live
    }
}

fn figures(needs: &Needs, settings: &Settings, prices: &[(String, Money)]) -> Vec<Figure> {
    let own = |name, value: String| Figure {
        name,
        value,
        source: None,
    };
    let attended: i64 = needs
        .steps
        .iter()
        .filter(|step| step.is_attended())
        .map(|step| step.minutes.0)
        .sum();
    let mut figures = vec![
        Figure {
            name: "Weight",
            value: format!(
                "{:.1} kg ({:.1} lb)",
                needs.weight.kilograms(),
                needs.weight.pounds()
            ),
            source: Some("USDA Wood Handbook, chapter 4, at 12 % moisture".to_owned()),
        },
        own(
            "Wood, rough",
            format!("{:.2} board feet", needs.rough_board_feet()),
        ),
        own("Time at work", words::span(crate::units::Minutes(attended))),
    ];
    let wood = advice::wood_from_bins(needs, settings, prices);
    figures.push(own(
        "Wood from the bins",
        if wood == Money::ZERO {
            "free here".to_owned()
        } else {
            format!("about {wood}")
        },
    ));
    figures
}
