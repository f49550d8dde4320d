//! Printed sheets, read back from the bytes of the PDF: what is said to be 100 mm long is.

use std::io::Read;

use scrapwright::calc::matching::Shop;
use scrapwright::calc::shaping::{Circle, cut_circle};
use scrapwright::calc::work::{Design, Kind, Practice, default_design};
use scrapwright::export::pdf::{
    BinSign, Label, LabelStock, Paper, StockFlaw, bin_signs, label_sheets, sheets, single_labels,
    template,
};
use scrapwright::export::qr::QrCode;
use scrapwright::export::svg::{
    Bench, DrillHole, Style, circle_template, drilling_template, finished_piece, handle_template,
    jig_template, template as svg_template, templates,
};
use scrapwright::units::Length;

use super::drawing::{inches, style};
use super::shop_drawing::circle;

const POINTS_PER_MM: f64 = 72.0 / 25.4;

#[derive(Clone, Debug)]
struct Stroke {
    /// Along the path, in millimetres on the paper.
    length: f64,
    low: (f64, f64),
    high: (f64, f64),
}

impl Stroke {
    fn size(&self) -> (f64, f64) {
        (self.high.0 - self.low.0, self.high.1 - self.low.1)
    }
}

#[derive(Debug)]
struct Page {
    /// Of the media box, in millimetres.
    size: (f64, f64),
    strokes: Vec<Stroke>,
}

type Matrix = [f64; 6];

fn after(inner: Matrix, outer: Matrix) -> Matrix {
    [
        inner[0] * outer[0] + inner[1] * outer[2],
        inner[0] * outer[1] + inner[1] * outer[3],
        inner[2] * outer[0] + inner[3] * outer[2],
        inner[2] * outer[1] + inner[3] * outer[3],
        inner[4] * outer[0] + inner[5] * outer[2] + outer[4],
        inner[4] * outer[1] + inner[5] * outer[3] + outer[5],
    ]
}

fn find(bytes: &[u8], wanted: &[u8], from: usize) -> Option<usize> {
    bytes[from..]
        .windows(wanted.len())
        .position(|window| window == wanted)
        .map(|at| at + from)
}

/// The body of object `number`, without its stream, and the decoded stream if it has one.
fn object(pdf: &[u8], number: usize) -> (String, Vec<u8>) {
    let head = format!("\n{number} 0 obj\n");
    let start = find(pdf, head.as_bytes(), 0).expect("the object is there") + head.len();
    let end = find(pdf, b"endobj", start).expect("the object ends");
    let body = &pdf[start..end];
    let Some(stream) = find(body, b"stream\n", 0) else {
        return (String::from_utf8_lossy(body).into_owned(), Vec::new());
    };
    let dictionary = String::from_utf8_lossy(&body[..stream]).into_owned();
    let length: usize = number_after(&dictionary, "/Length ") as usize;
    let data = &body[stream + 7..stream + 7 + length];
    let mut decoded = Vec::new();
    if dictionary.contains("/FlateDecode") {
        flate2::read::ZlibDecoder::new(data)
            .read_to_end(&mut decoded)
            .expect("a sound stream");
    } else {
        decoded.extend_from_slice(data);
    }
    (dictionary, decoded)
}

fn number_after(text: &str, key: &str) -> f64 {
    let rest = &text[text.find(key).expect("the key is there") + key.len()..];
    let end = rest
        .find(|letter: char| !(letter.is_ascii_digit() || "+-.".contains(letter)))
        .unwrap_or(rest.len());
    rest[..end].parse().expect("a number")
}

fn numbers_in(text: &str, key: &str) -> Vec<f64> {
    let rest = &text[text.find(key).expect("the key is there") + key.len()..];
    let rest = &rest[..rest.find(']').expect("an array")];
    rest.trim_start_matches('[')
        .split_whitespace()
        .map(|number| number.parse().expect("a number"))
        .collect()
}

fn read(pdf: &[u8]) -> Vec<Page> {
    assert!(pdf.starts_with(b"%PDF-1."), "a PDF by ISO 32000");
    let mut pages = Vec::new();
    for number in 1.. {
        if find(pdf, format!("\n{number} 0 obj\n").as_bytes(), 0).is_none() {
            break;
        }
        let (body, _) = object(pdf, number);
        if !body.contains("/Type/Page/") {
            continue;
        }
        let media = numbers_in(&body, "/MediaBox");
        let content = number_after(&body, "/Contents ") as usize;
        let (_, stream) = object(pdf, content);
        pages.push(Page {
            size: (media[2] / POINTS_PER_MM, media[3] / POINTS_PER_MM),
            strokes: strokes(&String::from_utf8_lossy(&stream)),
        });
    }
    pages
}

/// Every stroked path of a content stream (ISO 32000-1, 8.5), in millimetres on the paper.
fn strokes(content: &str) -> Vec<Stroke> {
    let mut found = Vec::new();
    let mut matrix: Matrix = [1.0, 0.0, 0.0, 1.0, 0.0, 0.0];
    let mut saved = Vec::new();
    let mut operands: Vec<f64> = Vec::new();
    let mut points: Vec<(f64, f64)> = Vec::new();
    let mut length = 0.0;
    for word in content.split_whitespace() {
        if let Ok(number) = word.parse() {
            operands.push(number);
            continue;
        }
        let place = |x: f64, y: f64| {
            (
                (matrix[0] * x + matrix[2] * y + matrix[4]) / POINTS_PER_MM,
                (matrix[1] * x + matrix[3] * y + matrix[5]) / POINTS_PER_MM,
            )
        };
        match word {
            "q" => saved.push(matrix),
            "Q" => matrix = saved.pop().expect("as many Q as q"),
            "cm" => {
                let inner = [0, 1, 2, 3, 4, 5].map(|index| operands[index]);
                matrix = after(inner, matrix);
            }
            "m" => points.push(place(operands[0], operands[1])),
            "l" => {
                let to = place(operands[0], operands[1]);
                length += distance(points[points.len() - 1], to);
                points.push(to);
            }
            "c" => {
                let from = points[points.len() - 1];
                let control = [0, 2, 4].map(|at| place(operands[at], operands[at + 1]));
                for step in 1..=64 {
                    let t = f64::from(step) / 64.0;
                    let to = bezier(from, control, t);
                    length += distance(points[points.len() - 1], to);
                    points.push(to);
                }
            }
            "S" | "s" | "f" | "f*" | "n" | "B" | "B*" | "b" | "b*" => {
                if matches!(word, "S" | "s" | "B" | "b") && !points.is_empty() {
                    let fold = |pick: fn(&(f64, f64)) -> f64, with: fn(f64, f64) -> f64| {
                        points.iter().map(pick).reduce(with).expect("points")
                    };
                    found.push(Stroke {
                        length,
                        low: (fold(|p| p.0, f64::min), fold(|p| p.1, f64::min)),
                        high: (fold(|p| p.0, f64::max), fold(|p| p.1, f64::max)),
                    });
                }
                points.clear();
                length = 0.0;
            }
            _ => {}
        }
        operands.clear();
    }
    found
}

/// The words of each page: its codes by the font's table to Unicode (ISO 32000-1, 9.10.3).
fn words_of(pdf: &[u8]) -> Vec<String> {
    let mut pages = Vec::new();
    for number in 1.. {
        if find(pdf, format!("\n{number} 0 obj\n").as_bytes(), 0).is_none() {
            break;
        }
        let (body, _) = object(pdf, number);
        if !body.contains("/Type/Page/") {
            continue;
        }
        let (_, stream) = object(pdf, number_after(&body, "/Contents ") as usize);
        let stream = String::from_utf8_lossy(&stream).into_owned();
        let resources = number_after(&body, "/Resources ") as usize;
        let (resources, _) = object(pdf, resources);
        let fonts = &resources[resources.find("/Font").expect("it has words")..];
        let mut words = String::new();
        let mut table = std::collections::BTreeMap::new();
        let mut before = "";
        for word in stream.split_whitespace() {
            if word == "Tf" || (word.parse::<f64>().is_ok() && before.starts_with("/f")) {
                if before.starts_with("/f") {
                    let font = number_after(fonts, &format!("{before} ")) as usize;
                    table = unicode_of(pdf, font);
                }
            } else {
                for run in word
                    .split('<')
                    .skip(1)
                    .filter_map(|rest| rest.split('>').next())
                {
                    for code in run.as_bytes().chunks(4) {
                        let code = String::from_utf8_lossy(code).to_uppercase();
                        words.push_str(table.get(&code).map_or("?", String::as_str));
                    }
                }
            }
            before = word;
        }
        pages.push(words);
    }
    pages
}

fn unicode_of(pdf: &[u8], font: usize) -> std::collections::BTreeMap<String, String> {
    let (font, _) = object(pdf, font);
    let (_, table) = object(pdf, number_after(&font, "/ToUnicode ") as usize);
    let table = String::from_utf8_lossy(&table).into_owned();
    let text = |hex: &str| -> String {
        let units: Vec<u16> = hex
            .as_bytes()
            .chunks(4)
            .filter_map(|unit| u16::from_str_radix(&String::from_utf8_lossy(unit), 16).ok())
            .collect();
        String::from_utf16_lossy(&units)
    };
    let mut found = std::collections::BTreeMap::new();
    for line in table.lines() {
        let hex: Vec<&str> = line
            .split('<')
            .skip(1)
            .filter_map(|rest| rest.split('>').next())
            .collect();
        if let [code, letters] = hex.as_slice() {
            found.insert(code.to_uppercase(), text(letters));
        }
    }
    found
}

fn distance(from: (f64, f64), to: (f64, f64)) -> f64 {
    (to.0 - from.0).hypot(to.1 - from.1)
}

fn bezier(from: (f64, f64), [one, two, to]: [(f64, f64); 3], t: f64) -> (f64, f64) {
    let weight = [
        (1.0 - t).powi(3),
        3.0 * t * (1.0 - t).powi(2),
        3.0 * t * t * (1.0 - t),
        t.powi(3),
    ];
    (
        weight[0] * from.0 + weight[1] * one.0 + weight[2] * two.0 + weight[3] * to.0,
        weight[0] * from.1 + weight[1] * one.1 + weight[2] * two.1 + weight[3] * to.1,
    )
}

/// A tenth of a millimetre, which no printer keeps.
fn near(value: f64, wanted: f64) -> bool {
    (value - wanted).abs() < 0.1
}

fn has_stroke(page: &Page, width: f64, height: f64) -> bool {
    page.strokes
        .iter()
        .any(|stroke| near(stroke.size().0, width) && near(stroke.size().1, height))
}

#[test]
fn every_sheet_has_its_paper_and_two_true_bars() {
    for (paper, size) in [
        // ISO 216 A4; ANSI/ASME Y14.1 A: 8 1/2 by 11 in.
        (Paper::A4, (210.0, 297.0)),
        (Paper::Letter, (215.9, 279.4)),
    ] {
        let drawing = circle_template(&style(), &circle());
        let pages = read(&template("Tray", &drawing, paper).expect("a PDF"));
        assert_eq!(pages.len(), 4, "a 14 in disc takes four sheets");
        for page in &pages {
            assert!(near(page.size.0, size.0) && near(page.size.1, size.1));
            assert!(has_stroke(page, 100.0, 0.0), "the 100 mm bar");
            assert!(has_stroke(page, 101.6, 0.0), "the 4 in bar");
            for stroke in &page.strokes {
                assert!(stroke.length.is_finite());
            }
        }
    }
}

/// Widths and heights of what must be found on the sheets of a template that fits one sheet.
fn true_lengths(kind: Kind, slug: &str) -> (Design, Vec<(f64, f64)>) {
    let mut design = default_design(kind);
    let sizes = match (&mut design, slug) {
        // A board of 7 x 6 in on four feet, each screw in a hole of 1/8 in.
        (Design::StripedBoard(board), _) => {
            board.length = inches(7, 1);
            board.arrangement.strips.truncate(6);
            for strip in &mut board.arrangement.strips {
                strip.width = inches(1, 1);
            }
            board.extras.feet = 4;
            vec![(177.8, 152.4), (3.175, 3.175)]
        }
        (Design::EndGrainBoard(board), _) => {
            board.slices = 6;
            board.panel_thickness = inches(1, 1);
            board.arrangement.strips.truncate(4);
            for strip in &mut board.arrangement.strips {
                strip.width = inches(5, 4);
            }
            board.extras.feet = 4;
            vec![(152.4, 127.0), (3.175, 3.175)]
        }
        (Design::HandleBoard(board), _) => {
            board.body_length = inches(5, 1);
            board.body_width = inches(9, 2);
            board.handle_length = inches(2, 1);
            board.corner_radius = inches(1, 2);
            vec![(177.8, 114.3), (12.7, 12.7)]
        }
        // 6 in across with a rim of 1/2 in.
        (Design::RoundTray(tray), "circle") => {
            tray.diameter = inches(6, 1);
            tray.rim = inches(1, 2);
            vec![(152.4, 152.4), (127.0, 127.0)]
        }
        // The bit's hole is 1/4 in and 12 mm more.
        (Design::RoundTray(tray), _) => {
            tray.diameter = inches(6, 1);
            tray.bit = inches(1, 4);
            vec![(18.35, 18.35)]
        }
    };
    (design, sizes)
}

#[test]
fn every_template_measures_what_it_says_on_both_papers() {
    let practice = Practice::default();
    for (kind, slug) in [
        (Kind::StripedBoard, "feet"),
        (Kind::EndGrainBoard, "feet"),
        (Kind::HandleBoard, "outline"),
        (Kind::RoundTray, "circle"),
        (Kind::RoundTray, "jig"),
    ] {
        let (design, sizes) = true_lengths(kind, slug);
        let names: Vec<&str> = templates(&design).iter().map(|named| named.slug).collect();
        assert!(names.contains(&slug), "{names:?}");
        let drawing = svg_template(&style(), &design, slug, &practice).expect(slug);
        for (paper, size) in [(Paper::A4, (210.0, 297.0)), (Paper::Letter, (215.9, 279.4))] {
            let bytes = template("A gift", &drawing, paper).expect("a PDF");
            let pages = read(&bytes);
            let words = words_of(&bytes);
            assert_eq!(pages.len(), words.len());
            for (number, (page, words)) in pages.iter().zip(&words).enumerate() {
                let lies = near(page.size.0, size.1) && near(page.size.1, size.0);
                let stands = near(page.size.0, size.0) && near(page.size.1, size.1);
                assert!(lies || stands, "{slug}: {:?}", page.size);
                assert!(has_stroke(page, 100.0, 0.0) && words.contains("100 mm"));
                assert!(has_stroke(page, 101.6, 0.0) && words.contains("4 in"));
                assert!(
                    words.contains(&format!("sheet {} of {}", number + 1, pages.len())),
                    "{words}"
                );
                assert!(
                    words.contains("Measure both bars before you use it"),
                    "{words}"
                );
            }
            for (width, height) in &sizes {
                assert!(
                    pages.iter().any(|page| has_stroke(page, *width, *height)),
                    "{kind:?} {slug} {paper:?}: {width} x {height}"
                );
            }
        }
    }
}

#[test]
fn a_small_circle_fits_one_sheet_and_measures_what_it_says() {
    let small = Circle {
        diameter: inches(6, 1),
        ..circle()
    };
    let pages =
        read(&template("Coaster", &circle_template(&style(), &small), Paper::A4).expect("a PDF"));
    assert_eq!(pages.len(), 1);
    let page = &pages[0];
    assert!(has_stroke(page, 152.4, 152.4), "the disc is 6 in across");
    assert!(has_stroke(page, 127.0, 127.0), "the hole is 5 in across");
    let disc = page
        .strokes
        .iter()
        .find(|stroke| near(stroke.size().0, 152.4) && near(stroke.size().1, 152.4))
        .expect("the disc");
    assert!(
        near(disc.length, 152.4 * std::f64::consts::PI),
        "{}",
        disc.length
    );
}

#[test]
fn crosses_with_one_number_lie_on_each_other() {
    let drawing = circle_template(&style(), &circle());
    let pages = read(&template("Tray", &drawing, Paper::A4).expect("a PDF"));
    // The rings of the crosses are 4 mm across.
    let crosses = |page: &Page| -> Vec<(f64, f64)> {
        page.strokes
            .iter()
            .filter(|stroke| near(stroke.size().0, 4.0) && near(stroke.size().1, 4.0))
            .map(|stroke| (stroke.low.0 + 2.0, stroke.low.1 + 2.0))
            .collect()
    };
    let (left, right) = (crosses(&pages[0]), crosses(&pages[1]));
    // The seam between the first two sheets has two crosses, equally high on both, and a step apart
    // that both sheets keep: 190 mm shown, 12 mm of it twice.
    let shared: Vec<_> = left
        .iter()
        .filter(|(x, y)| {
            right
                .iter()
                .any(|(other_x, other_y)| near(*y, *other_y) && near(x - other_x, 178.0))
        })
        .collect();
    assert_eq!(shared.len(), 2, "{left:?} {right:?}");
}

#[test]
fn the_jig_has_both_pivots_at_their_distances() {
    let cuts = cut_circle(&circle()).expect("it can be cut");
    let drawing = jig_template(&style(), &circle(), &cuts);
    // The drawing itself is in millimetres: the bit's hole is 1/4 in and 12 mm more.
    assert!(drawing.svg.contains("mm\" height=\""));
    let seen = super::drawing::Seen::new(&drawing);
    let x: Vec<f64> = seen
        .all("circle.hole")
        .iter()
        .map(|hole| super::drawing::attribute(hole, "cx"))
        .collect();
    assert_eq!(x.len(), 3);
    assert!((x[0] - x[1] - 180.975).abs() < 1e-3);
    assert!((x[0] - x[2] - 161.925).abs() < 1e-3);
}

#[test]
fn holes_are_measured_from_the_lower_left_corner() {
    let holes = [DrillHole {
        along: inches(1, 1),
        across: inches(2, 1),
        diameter: inches(3, 8),
        what: "foot",
    }];
    let drawing = drilling_template(&style(), inches(6, 1), inches(4, 1), &holes);
    let pages = read(&template("Feet", &drawing, Paper::Letter).expect("a PDF"));
    let page = &pages[0];
    let find = |width: f64, height: f64| {
        page.strokes
            .iter()
            .find(|stroke| near(stroke.size().0, width) && near(stroke.size().1, height))
            .expect("it is drawn")
    };
    let (face, hole) = (find(152.4, 101.6), find(9.525, 9.525));
    // The y axis of a PDF points upwards.
    assert!(near((hole.low.0 + hole.high.0) / 2.0 - face.low.0, 25.4));
    assert!(near((hole.low.1 + hole.high.1) / 2.0 - face.low.1, 50.8));
}

#[test]
fn a_handle_template_is_as_long_as_its_outline() {
    let Design::HandleBoard(mut design) = default_design(Kind::HandleBoard) else {
        unreachable!("the kind was asked for")
    };
    // Small enough for one sheet.
    design.body_length = inches(5, 1);
    design.body_width = inches(9, 2);
    design.handle_length = inches(2, 1);
    design.corner_radius = inches(1, 2);
    let shape = design.shape().expect("it closes");
    let drawing = handle_template(&style(), &design, &shape);
    let pages = read(&template("Handle", &drawing, Paper::Letter).expect("a PDF"));
    assert_eq!(pages.len(), 1);
    let outline = pages[0]
        .strokes
        .iter()
        .find(|stroke| near(stroke.size().0, 177.8) && near(stroke.size().1, 114.3))
        .expect("an outline of 7 by 4 1/2 in");
    assert!(near(outline.length, shape.outline_length.mm()));
    assert!(has_stroke(&pages[0], 12.7, 12.7), "the hole of 1/2 in");
}

fn code() -> QrCode {
    QrCode::new("https://workshop.example/offcuts/B3-0412").expect("it is short")
}

fn label(code: &QrCode) -> Label<'_> {
    Label {
        tag: "B3-0412",
        species: "hard maple",
        sizes: "26 × 3 1/4 × 7/8 in",
        place: "Bin 3",
        code,
    }
}

#[test]
fn labels_fill_sheets_from_the_first_free_place() {
    let code = code();
    let stock = LabelStock::COMMON[0];
    assert_eq!(stock.labels(), 24);
    let many = vec![label(&code); 24];
    let pages = |first| read(&label_sheets(&stock, first, &many).expect("a PDF")).len();
    assert_eq!(pages(0), 1);
    assert_eq!(pages(1), 2);
    assert_eq!(read(&label_sheets(&stock, 0, &[]).expect("a PDF")).len(), 1);
    let single = read(&single_labels(62.0, 29.0, &many[..3]).expect("a PDF"));
    assert_eq!(single.len(), 3);
    assert!(near(single[0].size.0, 62.0) && near(single[0].size.1, 29.0));
    let signs = [BinSign {
        name: "Bin 3",
        place: "by the window",
        code: &code,
    }];
    let sign = read(&bin_signs(Paper::Letter, &signs).expect("a PDF"));
    assert!(near(sign[0].size.0, 279.4), "a sign lies on its side");
}

#[test]
fn a_grid_of_labels_must_lie_on_its_sheet() {
    for stock in LabelStock::COMMON {
        assert_eq!(stock.check(), Ok(()), "{}", stock.name());
    }
    let stock = LabelStock::COMMON[0];
    assert_eq!(stock.name(), "A4, 3 × 8, 63.5 × 33.9 mm");
    let cases = [
        (
            LabelStock {
                columns: 0,
                ..stock
            },
            StockFlaw::NoLabels,
        ),
        (
            LabelStock {
                rows: 1000,
                ..stock
            },
            StockFlaw::NoLabels,
        ),
        (
            LabelStock {
                width: 8.0,
                ..stock
            },
            StockFlaw::TooSmall,
        ),
        (
            LabelStock {
                across: 50.0,
                ..stock
            },
            StockFlaw::Overlapping,
        ),
        (
            LabelStock {
                left: 20.0,
                ..stock
            },
            StockFlaw::OffTheSheet,
        ),
        (
            LabelStock {
                top: f64::NAN,
                ..stock
            },
            StockFlaw::OffTheSheet,
        ),
    ];
    for (stock, flaw) in cases {
        assert_eq!(stock.check(), Err(flaw));
    }
}

#[test]
fn drawings_of_a_page_stand_on_paper_at_one_scale() {
    let draw = |prefix, kind| {
        let style = Style { prefix, ..style() };
        let practice = Practice::default();
        let design = default_design(kind);
        finished_piece(
            &style,
            "A gift",
            &design,
            Bench {
                practice: &practice,
                shop: &Shop::default(),
            },
            1,
        )
        .expect("its shape closes")
    };
    let drawings = [
        draw("a", Kind::StripedBoard),
        draw("b", Kind::HandleBoard),
        draw("c", Kind::RoundTray),
    ];
    let named: Vec<_> = drawings
        .iter()
        .map(|drawing| ("Finished", drawing))
        .collect();
    let pages = read(&sheets("A gift", Paper::A4, &named).expect("a PDF"));
    assert_eq!(pages.len(), 1);
    let twice: Vec<_> = named.iter().chain(&named).copied().collect();
    let more = read(&sheets("Gifts", Paper::A4, &twice).expect("a PDF"));
    assert_eq!(more.len(), 2, "none is cut in two");
    // The tray's disc and the hole of its ring, 14 and 13 in, are the only strokes as wide as high.
    let rounds: Vec<f64> = pages[0]
        .strokes
        .iter()
        .map(Stroke::size)
        .filter(|size| size.0 > 20.0 && near(size.0, size.1))
        .map(|size| size.0)
        .collect();
    let (widest, narrowest) = rounds
        .iter()
        .fold((0.0f64, f64::MAX), |(most, least), size| {
            (most.max(*size), least.min(*size))
        });
    assert!(
        (narrowest / widest - 13.0 / 14.0).abs() < 0.02,
        "{rounds:?}"
    );
    assert_eq!(
        read(&sheets("", Paper::Letter, &[]).expect("a PDF")).len(),
        1
    );
}

#[test]
fn strange_words_still_make_a_sheet() {
    let code = code();
    let long = "an unbelievably long name for a very small piece of wood that nobody wants to read";
    let strange = Label {
        tag: "<&\"'>",
        species: long,
        sizes: "木 🪵 \u{0}",
        place: "",
        code: &code,
    };
    assert!(label_sheets(&LabelStock::COMMON[3], 5, &[strange]).is_ok());
    let nothing = drilling_template(&style(), Length::ZERO, Length::ZERO, &[]);
    assert!(template("", &nothing, Paper::A4).is_ok());
}
