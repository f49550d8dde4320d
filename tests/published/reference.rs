//! The reference tables against the publications that they name, and against themselves.

use std::collections::BTreeSet;

use scrapwright::reference::{
    self, GritSystem, Hazard, Pores, WoodKind, finish, finishes, glue, glues, grits, lumber_sizes,
    nearest_species, species, woods,
};
use scrapwright::units::{FinishFoodUse, FoodGrade, Length, Minutes, Provenance, WaterClass};

#[test]
fn every_table_can_be_read() {
    reference::check();
    assert_eq!(woods().len(), 57);
}

#[test]
fn names_of_woods_are_unique_and_found() {
    let mut names = BTreeSet::new();
    for wood in woods() {
        for name in std::iter::once(&wood.name).chain(&wood.other_names) {
            assert!(names.insert(name.to_lowercase()), "{name} is there twice");
            assert_eq!(species(name), Some(wood), "{name}");
        }
    }
    for name in [
        "hard maple",
        "black cherry",
        "black walnut",
        "white oak",
        "Sugar Maple ",
    ] {
        assert!(species(name).is_some(), "{name}");
    }
    assert_eq!(species("plywood"), None);
    assert_eq!(nearest_species("hard mapel")[0], "hard maple");
    assert_eq!(nearest_species("blak walnut")[0], "black walnut");
    assert!(nearest_species("oak").contains(&"white oak"));
    assert!(nearest_species(&"x".repeat(10_000)).is_empty());
}

#[test]
fn hardwoods_stand_first_and_figures_are_those_of_wood() {
    let first_softwood = woods()
        .iter()
        .position(|wood| wood.kind == WoodKind::Softwood)
        .expect("there are softwoods");
    assert!(
        woods()[first_softwood..]
            .iter()
            .all(|wood| wood.kind == WoodKind::Softwood)
    );
    for wood in woods() {
        let name = &wood.name;
        let figures = wood.figures;
        assert!((0.2..=1.1).contains(&figures.specific_gravity), "{name}");
        // Density with its water at 12 % is 1120 times the specific gravity.
        let density = 1120.0 * figures.specific_gravity;
        assert!((density - wood.density_kg_m3).abs() <= 6.0, "{name}");
        assert!(
            (1500.0..=13_000.0).contains(&wood.hardness.newtons()),
            "{name}"
        );
        if let (Some(tangential), Some(radial)) =
            (figures.shrinkage_tangential, figures.shrinkage_radial)
        {
            assert!(
                tangential > radial && (2.0..=13.0).contains(&tangential),
                "{name}"
            );
            assert!(wood.shrinkage_source.is_some(), "{name}");
        }
        assert_eq!(
            figures.coefficient_tangential.is_some(),
            wood.coefficient_source.is_some(),
            "{name}"
        );
        assert_eq!(
            wood.pores == Pores::None,
            wood.kind == WoodKind::Softwood,
            "{name}"
        );
        assert!((5.0..=95.0).contains(&wood.lightness()), "{name}");
    }
    let lightness = |name: &str| species(name).expect("known").lightness();
    assert!(lightness("hard maple") > lightness("black cherry"));
    assert!(lightness("black cherry") > lightness("black walnut"));
    assert!(lightness("black walnut") > lightness("wenge"));
}

/// FDA Food Code 2022, 4-101.17 (read in the adoptions of two states): wood may not be a surface
/// that food touches, except hard maple or a wood as hard and close-grained for boards, blocks
/// and the like. The Code lists no other species and no hardness; the thresholds are ours.
#[test]
fn the_food_codes_rule_for_wood_is_kept_by_the_grades() {
    let hard_maple = species("hard maple").expect("known");
    assert_eq!(hard_maple.food, FoodGrade::Cutting);
    assert_eq!(hard_maple.pores, Pores::Closed);
    for wood in woods() {
        let name = &wood.name;
        if wood.food == FoodGrade::Cutting {
            assert_eq!(wood.kind, WoodKind::Hardwood, "{name}");
            assert!(
                wood.hardness.newtons() >= 3900.0,
                "{name} is too soft to cut on"
            );
            assert!(wood.hazard != Hazard::Toxic, "{name}");
            // Teak is the one open-pored wood: oily, and in wide use.
            assert!(wood.pores != Pores::Open || name == "teak", "{name}");
        }
        if wood.kind == WoodKind::Softwood {
            assert_eq!(wood.food, FoodGrade::Avoid, "{name}");
        }
        assert!(!wood.food_reason.is_empty());
        assert_eq!(wood.food_source.provenance, Provenance::Practice);
    }
    for oak in ["red oak", "white oak", "European oak"] {
        let oak = species(oak).expect("known");
        assert!(
            oak.food < FoodGrade::Cutting,
            "open-grained oak is warned about"
        );
        assert_eq!(oak.pores, Pores::Open);
    }
}

fn size(group: &str, nominal: &str, dimension: &str, condition: &str) -> Length {
    let found = lumber_sizes().iter().find(|row| {
        (row.group.as_str(), row.nominal.as_str()) == (group, nominal)
            && (row.dimension.as_str(), row.condition.as_str()) == (dimension, condition)
    });
    found
        .unwrap_or_else(|| panic!("{group} {nominal} {dimension} {condition}"))
        .size
}

/// NIST Voluntary Product Standard PS 20, American Softwood Lumber Standard, size table.
#[test]
fn dressed_softwood_has_the_sizes_of_ps_20() {
    let dry = |nominal, dimension| size("softwood piece", nominal, dimension, "dressed dry");
    let inches = Length::from_inches;
    assert_eq!(dry("1x2", "thickness"), inches(3, 4));
    assert_eq!(dry("1x2", "width"), inches(3, 2));
    assert_eq!(dry("1x4", "width"), inches(7, 2));
    assert_eq!(dry("2x4", "thickness"), inches(3, 2));
    assert_eq!(dry("2x4", "width"), inches(7, 2));
    assert_eq!(dry("2x6", "width"), inches(11, 2));
    assert_eq!(dry("1x8", "width"), inches(29, 4));
    assert_eq!(dry("1x12", "width"), inches(45, 4));
    assert_eq!(
        size("softwood board", "1", "thickness", "dressed green"),
        inches(25, 32)
    );
    assert_eq!(
        size("softwood width", "6", "width", "dressed green"),
        inches(45, 8)
    );
}

/// NHLA Rules for the Measurement and Inspection of Hardwood and Cypress: rough thickness in
/// quarters of an inch, and what surfacing both sides leaves of it.
#[test]
fn hardwood_quarters_have_the_sizes_of_the_nhla_rules() {
    for (nominal, rough, surfaced) in [
        ("4/4", (1, 1), (13, 16)),
        ("5/4", (5, 4), (17, 16)),
        ("6/4", (3, 2), (21, 16)),
        ("8/4", (2, 1), (7, 4)),
        ("10/4", (5, 2), (9, 4)),
        ("12/4", (3, 1), (11, 4)),
        ("16/4", (4, 1), (15, 4)),
    ] {
        let group = "hardwood thickness";
        assert_eq!(
            size(group, nominal, "thickness", "rough"),
            Length::from_inches(rough.0, rough.1),
            "{nominal}"
        );
        assert_eq!(
            size(group, nominal, "thickness", "surfaced two sides"),
            Length::from_inches(surfaced.0, surfaced.1),
            "{nominal}"
        );
    }
}

/// FEPA 43-1 and ISO 6344 (P grades, median size) and ANSI B74.18 (CAMI, mean size): a higher
/// number is a finer grain in each; the two part above 220, where CAMI 400 is finer than P600.
#[test]
fn grits_are_ordered_as_published() {
    for system in [GritSystem::Fepa, GritSystem::Cami] {
        let of_system: Vec<_> = grits()
            .iter()
            .filter(|grit| grit.system == system)
            .collect();
        assert!(of_system.len() > 15);
        for pair in of_system.windows(2) {
            assert!(pair[0].number < pair[1].number);
            assert!(pair[0].particle_um > pair[1].particle_um, "{:?}", pair[1]);
        }
    }
    let size = |system, number| {
        grits()
            .iter()
            .find(|grit| (grit.system, grit.number) == (system, number))
            .map(|grit| grit.particle_um)
    };
    assert_eq!(size(GritSystem::Fepa, 80), Some(201.0));
    assert_eq!(size(GritSystem::Fepa, 120), Some(125.0));
    assert_eq!(size(GritSystem::Fepa, 220), Some(68.0));
    assert_eq!(size(GritSystem::Cami, 220), Some(68.0));
    assert!(size(GritSystem::Cami, 400) < size(GritSystem::Fepa, 600));
    assert!(size(GritSystem::Cami, 400) > size(GritSystem::Fepa, 800));
}

/// EN 204:2016, classes of thermoplastic wood glues (the classes of kinds are from memory but
/// for the one- and two-part PVA of Forest Products Journal 68(2)).
#[test]
fn glues_have_their_water_class() {
    let class = |name: &str| glue(name).expect("known").figures.water_class;
    assert_eq!(class("PVA"), WaterClass::D(2));
    assert_eq!(class("crosslinked PVA"), WaterClass::D(3));
    assert_eq!(class("two-part PVA"), WaterClass::D(4));
    assert_eq!(class("polyurethane"), WaterClass::D(4));
    assert_eq!(class("epoxy"), WaterClass::Waterproof);
    assert_eq!(class("urea-formaldehyde"), WaterClass::C(2));
    assert_eq!(class("hot hide glue"), WaterClass::D(1));
    assert_eq!(class("casein"), WaterClass::Unclassed);
    for glue in glues() {
        let clamp = glue.figures.clamp_time;
        assert!(
            clamp.low <= clamp.high && clamp.low > Minutes::ZERO,
            "{}",
            glue.name
        );
    }
    assert!(glue("epoxy").expect("known").figures.contact_pressure_only);
    // EN 204:2016, Table 2, from memory: wet strength after four days in water, in N/mm².
    let wet = |class: &str| {
        let figure = reference::gluing_figure(class).expect("a class");
        assert_eq!(figure.source.provenance, Provenance::Memory);
        figure.range.expect("a figure").low
    };
    assert_eq!((wet("EN 204 D1"), wet("EN 204 D2")), (10.0, 8.0));
    assert_eq!((wet("EN 204 D3"), wet("EN 204 D4")), (2.0, 4.0));
}

/// Common practice for a pure drying oil, no single source: flood, 10 to 20 minutes, wipe off,
/// 24 hours between coats, seven days before water.
#[test]
fn drying_oils_follow_common_practice() {
    let oil = finish("tung oil").expect("known").figures;
    assert!(oil.soak.low <= Minutes(10) && oil.soak.high >= Minutes(20));
    assert_eq!(oil.recoat.low, Minutes::from_hours(24));
    assert_eq!(oil.water_contact.low, Minutes::from_days(7));
    for finish in finishes() {
        let drying = finish.properties.find("drying oil").expect("said of each");
        assert_eq!(
            drying.text == "yes",
            finish.figures.rags_self_heat,
            "{}",
            finish.name
        );
        assert!(
            finish.properties.find("allergy").is_some(),
            "{}",
            finish.name
        );
    }
    let food = |name: &str| finish(name).expect("known").figures.food_use;
    assert_eq!(food("mineral oil"), FinishFoodUse::Listed);
    assert_eq!(food("boiled linseed oil"), FinishFoodUse::No);
    assert_eq!(food("varnish"), FinishFoodUse::AskMaker);
}

#[test]
fn no_source_is_a_web_address_and_none_is_missing() {
    for wood in woods() {
        let sources = [
            Some(&wood.density_source),
            Some(&wood.hardness_source),
            wood.shrinkage_source.as_ref(),
            wood.coefficient_source.as_ref(),
            Some(&wood.pores_source),
            Some(&wood.hazard_source),
        ];
        for source in sources.into_iter().flatten() {
            assert!(!source.publication.contains("http"), "{source}");
            let named = !source.publication.is_empty();
            assert!(
                named || source.provenance == Provenance::Practice,
                "{}",
                wood.name
            );
        }
    }
    for caution in reference::cautions() {
        assert!(caution.text.ends_with('.'), "{}", caution.text);
    }
}
