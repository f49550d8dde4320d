//! The combined advice of whole projects.

use scrapwright::calc::advice::{Advice, Air, Circumstances, ConcernKind, MeasuredPiece, advise};
use scrapwright::calc::cost::Prices;
use scrapwright::calc::gluing::ClampSet;
use scrapwright::calc::matching::Shop;
use scrapwright::calc::work::{Design, Kind, Needs, Practice, Wood, default_design, needs};
use scrapwright::reference::{finish, glue, woods};
use scrapwright::units::{Force, Humidity, Length, Moisture, Money, Temperature};
use scrapwright::wire::advice::usual_circumstances;

fn drawn(kind: Kind) -> Needs {
    let known: Vec<Wood> = woods()
        .iter()
        .map(|species| Wood {
            species: species.name.clone(),
            figures: species.figures,
            food: species.food,
        })
        .collect();
    let design: Design = default_design(kind);
    needs(&design, &Practice::default(), &Shop::default(), &known).expect("a good design")
}

fn circumstances(kind: Kind, glue_name: &str, finish_name: &str) -> Circumstances {
    let glue = glue(glue_name).expect("known");
    let finish = finish(finish_name).expect("known");
    usual_circumstances(woods(), kind, glue, finish)
}

fn clamps(reach: i64, rated: Option<f64>, count: i64) -> ClampSet {
    ClampSet {
        name: format!("{reach} in clamps"),
        reach: Length::from_inches(reach, 1),
        rated: rated.map(Force::from_newtons),
        count,
    }
}

fn with_clamps(set: ClampSet) -> Practice {
    let mut practice = Practice::default();
    practice.clamping.rack = vec![set];
    practice
}

fn kinds(advice: &Advice) -> Vec<(ConcernKind, bool)> {
    advice
        .concerns
        .iter()
        .map(|concern| (concern.kind, concern.is_refusal))
        .collect()
}

#[test]
fn every_kind_of_project_gets_a_whole_answer() {
    for kind in Kind::ALL {
        let needs = drawn(kind);
        let mut around = circumstances(kind, "crosslinked PVA", "tung oil");
        around.grits = vec![40, 60, 80, 120, 180, 220];
        let advice = advise(&needs, &with_clamps(clamps(36, Some(4500.0), 20)), &around);
        assert_eq!(advice.panels.len(), needs.panels.len(), "{kind:?}");
        assert!(
            advice.panels.iter().all(|panel| panel.take.len() == 1),
            "{kind:?}"
        );
        assert!(advice.concerns.iter().all(|concern| !concern.is_refusal));
        assert!(advice.rough_weight.grams() > advice.finished_weight.grams());
        assert_eq!(advice.glue.amount.grams() > 0.0, advice.glue.glue_lines > 0);
        assert!(advice.finish.plan.litres > 0.0);
        let shares: f64 = advice.woods.iter().map(|wood| wood.share).sum();
        assert!((shares - 1.0).abs() < 1e-9);
        assert!(!advice.movement.is_empty(), "{kind:?}");
        for movement in &advice.movement {
            assert!(movement.width.low <= movement.width.high);
            assert!(
                movement.width.low.is_positive(),
                "wood swells from dry to damp"
            );
        }
        assert_eq!(
            advice.movement[0].length.is_some(),
            kind == Kind::EndGrainBoard
        );
        assert!(advice.cautions.contains(&"drying oil"));
        assert_eq!(
            advice.cautions.contains(&"sensitising wood"),
            needs.wood.iter().any(|used| used.species == "black walnut")
        );
    }
}

/// Walnut and maple strips between 30 and 60 % humidity: the bounds by hand from Wood Handbook
/// equations (4-5) and (13-2), 6.170 to 10.965 % and the coefficients of Table 13-5.
#[test]
fn a_striped_board_moves_within_the_bounds_of_its_woods() {
    let needs = drawn(Kind::StripedBoard);
    let around = circumstances(Kind::StripedBoard, "crosslinked PVA", "tung oil");
    let advice = advise(&needs, &Practice::default(), &around);
    let (mut maple, mut walnut) = (0.0, 0.0);
    for place in &needs.places {
        match place.species.as_str() {
            "hard maple" => maple += place.width.mm(),
            "black walnut" => walnut += place.width.mm(),
            other => panic!("{other} is not in the default board"),
        }
    }
    let points = 10.965 - 6.170;
    let low = points * (maple * 0.00165 + walnut * 0.00190);
    let high = points * (maple * 0.00353 + walnut * 0.00274);
    let width = advice.movement[0].width;
    assert!((width.low.mm() - low).abs() < 0.002, "{width:?} {low}");
    assert!((width.high.mm() - high).abs() < 0.002, "{width:?} {high}");
    // Dearest neighbours: maple along its rings, walnut across them.
    let ridge = advice.movement[0].ridge.mm();
    let thickness = needs.finished.thickness.mm();
    assert!((ridge - points * thickness * (0.00353 - 0.00190)).abs() < 0.002);
}

#[test]
fn a_weak_glue_is_refused_until_somebody_says_to_keep_it() {
    let needs = drawn(Kind::StripedBoard);
    let mut around = circumstances(Kind::StripedBoard, "casein", "tung oil");
    let refused = advise(&needs, &Practice::default(), &around);
    assert_eq!(kinds(&refused), [(ConcernKind::Glue, true)]);
    around.glue.accepted = true;
    let accepted = advise(&needs, &Practice::default(), &around);
    assert_eq!(kinds(&accepted), [(ConcernKind::Glue, false)]);
}

#[test]
fn wet_pieces_short_clamps_a_cold_shop_and_a_film_are_each_named_with_a_cure() {
    let needs = drawn(Kind::StripedBoard);
    let mut around = circumstances(Kind::StripedBoard, "crosslinked PVA", "shellac");
    around.air = Some(Air {
        temperature: Temperature::from_celsius(6.0).expect("mild"),
        humidity: Humidity::from_percent(50.0).expect("a humidity"),
    });
    around.measured = vec![
        MeasuredPiece {
            name: "B3-0412".to_owned(),
            moisture: Moisture::from_percent(9.0).expect("a moisture"),
        },
        MeasuredPiece {
            name: "B3-0413".to_owned(),
            moisture: Moisture::from_percent(14.0).expect("a moisture"),
        },
    ];
    around.grits = vec![60, 120, 220];
    let advice = advise(&needs, &with_clamps(clamps(12, None, 2)), &around);
    let kinds: Vec<ConcernKind> = advice.concerns.iter().map(|concern| concern.kind).collect();
    for kind in [
        ConcernKind::Glue,
        ConcernKind::Moisture,
        ConcernKind::Finish,
        ConcernKind::Clamps,
        ConcernKind::Grit,
    ] {
        assert!(kinds.contains(&kind), "{kind:?}");
    }
    for concern in &advice.concerns {
        assert!(!concern.about.to_string().is_empty() && !concern.cure.to_string().is_empty());
    }
    let moisture = advice
        .concerns
        .iter()
        .find(|concern| concern.kind == ConcernKind::Moisture)
        .expect("there is one");
    assert_eq!(
        moisture.about.to_string(),
        "B3-0412 and B3-0413 are 5.0 % of moisture apart."
    );
    assert!(
        advice.panels[0].sets[0].pressure.is_none(),
        "nobody rated the clamps"
    );
}

#[test]
fn the_grain_of_a_ring_matters_more_across_than_along() {
    let needs = drawn(Kind::RoundTray);
    let around = circumstances(Kind::RoundTray, "crosslinked PVA", "tung oil");
    let ring = advise(&needs, &Practice::default(), &around)
        .ring_on_disc
        .expect("a tray has a ring");
    assert!(ring.crossed.mismatch.high > ring.lined_up.high);
    assert_eq!(
        ring.crossed.joint,
        needs.panels.last().expect("the tray").length
    );
    assert!(ring.crossed.is_too_long());
    let board = drawn(Kind::StripedBoard);
    let around = circumstances(Kind::StripedBoard, "crosslinked PVA", "tung oil");
    assert_eq!(
        advise(&board, &Practice::default(), &around).ring_on_disc,
        None
    );
}

#[test]
fn wood_from_the_bins_costs_what_the_workshop_asks() {
    let needs = drawn(Kind::StripedBoard);
    let mut around = circumstances(Kind::StripedBoard, "crosslinked PVA", "tung oil");
    assert_eq!(
        advise(&needs, &Practice::default(), &around).cost.total(),
        Money::ZERO
    );
    around.prices = Prices {
        bin_wood_board_foot: Money::from_cents(300),
        ..Prices::default()
    };
    let cost = advise(&needs, &Practice::default(), &around).cost;
    let expected = (needs.rough_board_feet() * 300.0).round() as i64;
    assert_eq!(cost.bin_wood, Money::from_cents(expected));
}
