//! Drawings say what they mean: to scale, with a text alternative, readable without colour.

use scraper::{ElementRef, Html, Selector};
use scrapwright::calc::matching::{Content, Layout, Part, Shop, Stock, Stretch};
use scrapwright::calc::pattern::BoardStrip;
use scrapwright::calc::work::{EdgeTreatment, Extras, GripRecesses, JuiceGroove};
use scrapwright::export::svg::{
    BoardFace, Colour, CutPiece, Drawing, OffcutFace, Shelved, Style, bin, board, layout, offcut,
};
use scrapwright::units::{InchFraction, Length, LengthFormat, Money};

pub(super) fn inches(numerator: i64, denominator: i64) -> Length {
    Length::from_inches(numerator, denominator)
}

pub(super) fn colour(species: &str) -> Colour {
    match species {
        "hard maple" => Colour::new(0xd9, 0xb9, 0x8a),
        _ => Colour::new(0x5b, 0x3a, 0x26),
    }
}

pub(super) fn style() -> Style<'static> {
    Style {
        prefix: "d1",
        width: Style::PHONE,
        lengths: LengthFormat::Inches(InchFraction::Sixteenths),
        colour: &colour,
    }
}

pub(super) struct Seen(Html);

impl Seen {
    /// Reads a drawing and checks what holds for every one of them.
    pub(super) fn new(drawing: &Drawing) -> Seen {
        let svg = &drawing.svg;
        assert!(!svg.contains("style="), "the security policy forbids it");
        assert!(!svg.contains("<style"), "the security policy forbids it");
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        let seen = Seen(Html::parse_fragment(svg));
        let root = seen.only("svg");
        assert!(matches!(root.attr("role"), Some("img" | "group")));
        let named: Vec<&str> = root
            .attr("aria-labelledby")
            .expect("a drawing has a name")
            .split(' ')
            .collect();
        assert_eq!(named.len(), 2);
        for id in named {
            let text: String = seen.only(&format!("#{id}")).text().collect();
            assert!(!text.trim().is_empty());
        }
        for element in seen.all("[id]") {
            assert!(element.attr("id").is_some_and(|id| id.starts_with("d1-")));
        }
        seen
    }

    pub(super) fn all(&self, selector: &str) -> Vec<ElementRef<'_>> {
        let selector = Selector::parse(selector).expect("a selector");
        self.0.select(&selector).collect()
    }

    pub(super) fn only(&self, selector: &str) -> ElementRef<'_> {
        let found = self.all(selector);
        assert_eq!(found.len(), 1, "{selector}");
        found[0]
    }

    pub(super) fn words(&self) -> Vec<String> {
        self.all("text")
            .iter()
            .map(|text| text.text().collect())
            .collect()
    }

    pub(super) fn says(&self, words: &str) -> bool {
        self.words().iter().any(|text| text == words)
    }

    pub(super) fn description(&self) -> String {
        self.only("desc").text().collect()
    }
}

pub(super) fn attribute(element: &ElementRef, name: &str) -> f64 {
    element
        .attr(name)
        .and_then(|value| value.parse().ok())
        .expect("a number")
}

fn part(size: Length, content: Content) -> Part {
    Part { size, content }
}

fn strip(id: &str) -> Content {
    Content::Strip(id.to_owned())
}

const UNUSABLE: [Stretch; 1] = [Stretch {
    from: Length::ZERO,
    to: Length::from_inches(3, 2),
}];

fn maple() -> Stock<'static> {
    Stock {
        id: "B3-0412",
        species: "hard maple",
        length: inches(36, 1),
        width: inches(13, 2),
        thickness: inches(7, 8),
        unusable: &UNUSABLE,
        square_ends: true,
        straight_edges: true,
        count: Some(1),
        price: Money::ZERO,
        preference: 0,
    }
}

/// A bad end off, one section of two strips with a remainder and waste beside them, one kept section.
fn maple_layout() -> Layout {
    let kerf = inches(1, 8);
    let rips = vec![
        part(
            inches(13, 8),
            Content::Cut(vec![part(inches(35, 2), strip("a"))]),
        ),
        part(
            inches(13, 8),
            Content::Cut(vec![part(inches(35, 2), strip("a"))]),
        ),
        part(inches(2, 1), Content::Keep),
        part(
            inches(13, 2) - inches(13, 8) * 2 - inches(2, 1) - kerf * 3,
            Content::Waste,
        ),
    ];
    Layout {
        stock: "B3-0412".to_owned(),
        copies: 1,
        parts: vec![
            part(inches(3, 2), Content::Waste),
            part(inches(35, 2), Content::Cut(rips)),
            part(
                inches(36, 1) - inches(3, 2) - inches(35, 2) - kerf * 2,
                Content::Keep,
            ),
        ],
    }
}

fn draw_maple(labels: &[String]) -> Seen {
    Seen::new(&layout(
        &style(),
        &CutPiece {
            layout: &maple_layout(),
            stock: maple(),
            shop: &Shop::default(),
            labels,
        },
    ))
}

#[test]
fn a_layout_reads_without_colour() {
    let seen = draw_maple(&["1".to_owned(), "4".to_owned()]);
    assert_eq!(seen.all("rect.strip").len(), 2);
    assert!(seen.says("1") && seen.says("4"));
    let kept = seen.all("rect.kept");
    assert_eq!(kept.len(), 2);
    for remainder in kept {
        assert!(remainder.attr("stroke-dasharray").is_some());
    }
    assert_eq!(seen.only("rect.waste").attr("fill"), Some("url(#d1-hatch)"));
    assert_eq!(
        seen.only("pattern#d1-hatch").attr("patternUnits"),
        Some("userSpaceOnUse")
    );
    assert_eq!(
        seen.only("rect.unusable").attr("fill"),
        Some("url(#d1-cross-hatch)")
    );
    // Two crosscuts and three rips.
    assert_eq!(seen.all("rect.kerf").len(), 5);
    assert_eq!(
        seen.only("title").text().collect::<String>(),
        "How B3-0412 is cut"
    );
    assert_eq!(
        seen.description(),
        "A piece of hard maple, 36 × 6 1/2 in × 7/8 in, gives 2 strips of 17 1/2 × 1 5/8 in (1, 4). \
         Kept for a bin: 17 1/2 × 2 in and 16 3/4 × 6 1/2 in. \
         Not usable, from the left end: 0 in to 1 1/2 in."
    );
}

#[test]
fn a_layout_is_to_scale() {
    let seen = draw_maple(&[]);
    let strips = seen.all("rect.strip");
    let per_inch = attribute(&strips[0], "width") / 17.5;
    assert!((attribute(&strips[0], "height") - 1.625 * per_inch).abs() < 0.01);
    for kerf in seen.all("rect.kerf") {
        let thin = attribute(&kerf, "width").min(attribute(&kerf, "height"));
        assert!((thin - per_inch / 8.0).abs() < 0.01);
    }
    let down = attribute(&strips[1], "y") - attribute(&strips[0], "y");
    assert!((down - 1.75 * per_inch).abs() < 0.01);
    // Without a label a strip shows its id.
    assert_eq!(seen.words().iter().filter(|word| *word == "a").count(), 2);
}

#[test]
fn a_rough_piece_loses_its_trims_as_waste() {
    let stock = Stock {
        square_ends: false,
        straight_edges: false,
        unusable: &[],
        ..maple()
    };
    let (length, _) = stock.usable(&Shop::default());
    let whole = Layout {
        stock: "B3-0412".to_owned(),
        copies: 3,
        parts: vec![part(length, Content::Keep)],
    };
    let seen = Seen::new(&layout(
        &style(),
        &CutPiece {
            layout: &whole,
            stock,
            shop: &Shop::default(),
            labels: &[],
        },
    ));
    let (waste, kept) = (seen.only("rect.waste"), seen.only("rect.kept"));
    let per_inch = attribute(&waste, "width") / 36.0;
    // The dashed outline lies 1.2 units inside what it stands for.
    let from = attribute(&kept, "x") - 1.2 - attribute(&waste, "x");
    assert!((from - 0.25 * per_inch).abs() < 0.01, "an end trim");
    let below = attribute(&kept, "y") - 1.2 - attribute(&waste, "y");
    assert!((below - per_inch / 16.0).abs() < 0.01, "an edge trim");
    assert!(
        seen.only("title")
            .text()
            .collect::<String>()
            .ends_with("3 times")
    );
}

#[test]
fn an_offcut_shows_its_sizes_in_the_members_unit() {
    let unusable = [(Length::ZERO, inches(3, 2))];
    let piece = OffcutFace {
        tag: "B3-0412",
        species: "hard maple",
        length: inches(26, 1),
        width: inches(13, 4),
        thickness: inches(7, 8),
        unusable: &unusable,
    };
    let seen = Seen::new(&offcut(&style(), &piece));
    assert!(seen.says("26 in") && seen.says("3 1/4 in") && seen.says("7/8 in"));
    assert_eq!(seen.all("rect.unusable").len(), 1);
    let metric = Style {
        lengths: LengthFormat::Millimetres,
        ..style()
    };
    let seen = Seen::new(&offcut(&metric, &piece));
    assert!(seen.says("660.4 mm"));
    assert!(seen.description().contains("hard maple"));
}

#[test]
fn words_cannot_break_out_of_a_drawing() {
    let piece = OffcutFace {
        tag: "<script>\"&",
        species: "'oak' & <ash>\u{0}\n",
        length: inches(26, 1),
        width: inches(13, 4),
        thickness: inches(7, 8),
        unusable: &[],
    };
    let drawing = offcut(&style(), &piece);
    assert!(!drawing.svg.contains("<script"));
    assert!(!drawing.svg.contains('\u{0}'));
    let seen = Seen::new(&drawing);
    assert_eq!(
        seen.only("title").text().collect::<String>(),
        "<script>\"&, 'oak' & <ash> "
    );
}

#[test]
fn a_bin_is_shelves_of_pieces_at_one_scale() {
    let piece = |tag, length, width, count, href| Shelved {
        tag,
        species: "hard maple",
        length: inches(length, 1),
        width: inches(width, 1),
        count,
        unusable: &[],
        is_claimed: tag == "A-2",
        href,
    };
    let pieces = [
        piece("A-1", 30, 4, 1, Some("/offcuts/1")),
        piece("A-2", 15, 2, 3, Some("/offcuts/2")),
    ];
    let seen = Seen::new(&bin(&style(), "Bin A", &pieces));
    assert_eq!(seen.only("svg").attr("role"), Some("group"));
    let links = seen.all("a");
    assert_eq!(links.len(), 2);
    assert_eq!(
        links[1].attr("aria-label"),
        Some("A-2 ×3, hard maple, 15 × 2 in, claimed")
    );
    let width = |href: &str, selector: &str| {
        attribute(
            &seen.all(&format!("a[href='{href}'] {selector}"))[0],
            "width",
        )
    };
    let (long, short) = (
        width("/offcuts/1", "rect[fill='#d9b98a']"),
        width("/offcuts/2", "rect[fill='#d9b98a']"),
    );
    assert!((long - 2.0 * short).abs() < 0.01);
    assert!(seen.only("rect.claimed").attr("stroke-dasharray").is_some());
    assert!(seen.description().starts_with("4 pieces under 2 tags"));

    let seen = Seen::new(&bin(&style(), "Bin B", &[]));
    assert_eq!(seen.description(), "The bin is empty.");
    assert_eq!(seen.only("svg").attr("role"), Some("img"));
}

fn stripes() -> [BoardStrip; 3] {
    [
        BoardStrip::new("walnut", inches(3, 1)),
        BoardStrip::new("hard maple", inches(3, 2)),
        BoardStrip::new("walnut", inches(3, 1)),
    ]
}

#[test]
fn a_board_shows_its_strips_and_its_treatment() {
    let strips = stripes();
    let face = BoardFace {
        name: "Bread board",
        length: inches(15, 1),
        thickness: inches(1, 1),
        strips: &strips,
        extras: Extras {
            edge: EdgeTreatment::RoundOver {
                radius: inches(1, 8),
            },
            groove: Some(JuiceGroove {
                width: inches(3, 8),
                depth: inches(1, 8),
                inset: inches(3, 4),
            }),
            grips: Some(GripRecesses {
                length: inches(4, 1),
                height: inches(1, 2),
                depth: inches(3, 8),
            }),
            feet: 4,
        },
        seed: 5,
    };
    let drawing = board(&style(), &face);
    let seen = Seen::new(&drawing);
    assert_eq!(
        seen.description(),
        "A board 15 × 7 1/2 in × 1 in with 3 strips along its length; across it: 3 in walnut, \
         1 1/2 in hard maple and 3 in walnut. Edges rounded over at 1/8 in. \
         A groove 3/8 in wide, its middle 3/4 in from the edges. Finger grips in both ends. \
         It stands on 4 feet."
    );
    let per_inch = attribute(&seen.all("rect[fill='#d9b98a']")[0], "height") / 1.5;
    let groove = attribute(&seen.only(".groove"), "stroke-width");
    assert!((groove - 0.375 * per_inch).abs() < 0.01);
    assert_eq!(seen.all(".grip").len(), 2);
    // Two rows of feet: from the side two are seen, from above all four as hidden lines, 1 1/4 in from the sides.
    assert_eq!(seen.all(".foot").len(), 2);
    let feet = seen.all("circle.foot-below");
    let places: Vec<(i64, i64)> = feet
        .iter()
        .map(|foot| {
            let inch =
                |name: &str| ((attribute(foot, name) - 14.0) / per_inch * 100.0).round() as i64;
            (inch("cx"), inch("cy"))
        })
        .collect();
    assert_eq!(places, [(125, 625), (125, 125), (1375, 625), (1375, 125)]);
    assert!(seen.says("15 in") && seen.says("7 1/2 in") && seen.says("1 in"));
    assert_eq!(
        drawing,
        board(&style(), &face),
        "the same seed, the same bytes"
    );
    let other = BoardFace {
        seed: 6,
        ..face.clone()
    };
    assert_ne!(
        drawing,
        board(&style(), &other),
        "another seed, other grain"
    );
}

#[test]
fn a_colour_is_six_hexadecimal_digits() {
    assert_eq!(
        Colour::parse("#d9b98a"),
        Some(Colour::new(0xd9, 0xb9, 0x8a))
    );
    for bad in ["", "#12345", "d9b98a", "#d9b98g", "#d9b98a0", "#é9b98"] {
        assert_eq!(Colour::parse(bad), None, "{bad}");
    }
    // WCAG 2.2, definition of relative luminance: white 1, black 0.
    assert!((Colour::new(255, 255, 255).luminance() - 1.0).abs() < 1e-9);
    assert!(Colour::new(0, 0, 0).luminance().abs() < 1e-9);
}
