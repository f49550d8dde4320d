//! Designs: read and printed, and what can be made is drawn in every way, templates at full size as PDF among them.

#![no_main]

use libfuzzer_sys::{fuzz_mutator, fuzz_target};
use scrapwright::calc::matching::Shop;
use scrapwright::calc::shaping::Circle;
use scrapwright::calc::work::{Design, Needs, Practice, Wood, needs};
use scrapwright::export::pdf::{self, Paper};
use scrapwright::export::svg::{self, Bench, Colour, Drawing, Style};
use scrapwright::reference::woods;
use scrapwright::units::{InchFraction, LengthFormat};
use scrapwright::wire::design::{print_design, read_design};
use scrapwright_fuzz::mutate_json;

fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    mutate_json(data, size, max_size, seed)
});

fuzz_target!(|body: &[u8]| {
    let Ok(design) = read_design(body) else {
        return;
    };
    let printed = print_design(&design).to_string();
    assert_eq!(read_design(printed.as_bytes()).as_ref(), Ok(&design), "{printed}");

    let (practice, shop) = (Practice::default(), Shop::default());
    let style = Style {
        prefix: "fuzzed",
        width: Style::PHONE,
        lengths: LengthFormat::Inches(InchFraction::Sixteenths),
        colour: &|_| Colour::new(190, 160, 120),
    };
    let bench = Bench {
        practice: &practice,
        shop: &shop,
    };
    // Shown while it is being drawn, so before anybody knows whether it can be made.
    let mut drawings = vec![svg::miniature(&style, "A <gift>", &design, bench)];
    drawings.extend(svg::finished_piece(&style, "A <gift>", &design, bench, 1));
    let known: Vec<Wood> = woods()
        .iter()
        .map(|species| Wood {
            species: species.name.clone(),
            figures: species.figures,
            food: species.food,
        })
        .collect();
    match needs(&design, &practice, &shop, &known) {
        Ok(needs) => drawings.extend(drawn(&style, &design, &needs, &practice, &shop)),
        Err(flaws) => assert!(!flaws.is_empty()),
    }
    for drawing in drawings {
        is_sound(&drawing.svg);
    }
});

/// What is drawn only of a design that can be made.
fn drawn(style: &Style, design: &Design, needs: &Needs, practice: &Practice, shop: &Shop) -> Vec<Drawing> {
    let mut drawings = vec![svg::exploded_strips(style, "A <gift>", needs)];
    for panel in 0..needs.panels.len() {
        drawings.extend(svg::glue_up(style, design, needs, panel, practice));
    }
    match design {
        Design::EndGrainBoard(board) => {
            drawings.push(svg::slicing(style, board, &board.layout(practice, shop)));
        }
        Design::RoundTray(tray) => {
            let layout = tray.layout(practice).expect("needs have no flaws");
            let circle = Circle {
                diameter: tray.diameter,
                rim: Some(tray.rim),
                bit: tray.bit,
                thickness: tray.ring_thickness,
                depth_per_pass: practice.shaping.depth_per_pass,
            };
            drawings.push(svg::router_circle(style, &circle, &layout.ring));
        }
        Design::StripedBoard(_) | Design::HandleBoard(_) => {}
    }
    let templates: Vec<Drawing> = svg::templates(design)
        .iter()
        .filter_map(|template| svg::template(style, design, template.slug, practice))
        .collect();
    for template in &templates {
        let file = pdf::template("A gift", template, Paper::A4).expect("a template is a sound drawing");
        assert!(file.starts_with(b"%PDF-"));
    }
    drawings.extend(templates);
    drawings
}

/// Every tag is closed in its order, and no number is missing.
fn is_sound(svg: &str) {
    for word in ["NaN", "inf\"", "inf ", "-inf"] {
        assert!(!svg.contains(word), "{word} in {svg}");
    }
    let mut open = Vec::new();
    for tag in svg.split('<').skip(1) {
        let (tag, _) = tag.split_once('>').expect("a tag ends");
        let name = tag.split([' ', '/']).find(|part| !part.is_empty()).unwrap_or_default();
        if tag.starts_with('/') {
            assert_eq!(open.pop(), Some(name));
        } else if !tag.ends_with('/') {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "{open:?} in {svg}");
}
