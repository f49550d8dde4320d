//! Printed sheets, read back from the bytes of the PDF: what is said to be 100 mm long is.

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
use super::pdf_reader::{Page, Stroke, read, words_of};
use super::shop_drawing::circle;

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

/// The middles of a sheet's crosses, whose rings are 4 mm across.
fn crosses(page: &Page) -> Vec<(f64, f64)> {
    page.strokes
        .iter()
        .filter(|stroke| near(stroke.size().0, 4.0) && near(stroke.size().1, 4.0))
        .map(|stroke| (stroke.low.0 + 2.0, stroke.low.1 + 2.0))
        .collect()
}

/// So many sheets side by side, from the words at their heads.
fn columns(words: &[String]) -> usize {
    let last = words.last().expect("a sheet");
    let (_, column) = last.split_once("column ").expect("several sheets");
    // The words of the bar follow without a space.
    let (column, _) = column.split_once("100 mm").expect("the bar");
    column.parse().expect("a number")
}

#[test]
fn crosses_with_one_number_lie_on_each_other_on_every_template_and_paper() {
    let practice = Practice::default();
    for (kind, slug) in [
        (Kind::StripedBoard, "feet"),
        (Kind::EndGrainBoard, "feet"),
        (Kind::HandleBoard, "outline"),
        (Kind::RoundTray, "circle"),
        (Kind::RoundTray, "jig"),
    ] {
        let mut design = default_design(kind);
        match &mut design {
            Design::StripedBoard(board) => board.extras.feet = 4,
            Design::EndGrainBoard(board) => board.extras.feet = 4,
            Design::HandleBoard(_) => {}
            Design::RoundTray(tray) => tray.diameter = inches(24, 1),
        }
        let drawing = svg_template(&style(), &design, slug, &practice).expect(slug);
        // From one sheet to the next, upright or lying: what is shown less the 12 mm that both show.
        for (paper, steps) in [
            (Paper::A4, [(178.0, 232.0), (265.0, 145.0)]),
            (Paper::Letter, [(183.9, 214.4), (247.4, 150.9)]),
        ] {
            let bytes = template("A gift", &drawing, paper).expect("a PDF");
            let (pages, words) = (read(&bytes), words_of(&bytes));
            assert!(pages.len() > 1, "{kind:?} {slug}");
            let stands = pages[0].size.0 < pages[0].size.1;
            let (right, down) = steps[usize::from(!stands)];
            let columns = columns(&words);
            let mut seams = 0;
            for (place, page) in pages.iter().enumerate() {
                let beside = (place % columns + 1 < columns).then_some((place + 1, (right, 0.0)));
                // The y axis of a PDF points upwards.
                let below = Some((place + columns, (0.0, -down)));
                for (next, step) in beside.into_iter().chain(below) {
                    let Some(next) = pages.get(next) else {
                        continue;
                    };
                    let others = crosses(next);
                    let met = crosses(page).into_iter().filter(|(x, y)| {
                        others.iter().any(|(other_x, other_y)| {
                            near(x - other_x, step.0) && near(y - other_y, step.1)
                        })
                    });
                    assert_eq!(met.count(), 2, "{kind:?} {slug} {paper:?}, sheet {place}");
                    seams += 1;
                }
                assert!(words[place].contains("crosses with the same number meet"));
            }
            let rows = pages.len() / columns;
            assert_eq!(seams, rows * (columns - 1) + columns * (rows - 1));
        }
    }
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
