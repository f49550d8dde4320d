//! The small calculators: fixed answers, refusals with their place, and no panic on any body.

use std::collections::BTreeSet;

use proptest::prelude::*;
use scrapwright::reference;
use scrapwright::wire::calculators::{CALCULATORS, calculator};
use serde_json::{Value, json};

fn answer(name: &str, request: &Value) -> Value {
    let calculator = calculator(name).expect("a calculator");
    (calculator.answer)(request.to_string().as_bytes())
        .unwrap_or_else(|problem| panic!("{name}: {problem}"))
}

/// Pointers and details of a refusal.
fn refusal(name: &str, request: &Value) -> Vec<(String, String)> {
    let calculator = calculator(name).expect("a calculator");
    let problem =
        (calculator.answer)(request.to_string().as_bytes()).expect_err("it must be refused");
    assert_eq!(problem.status, 422);
    problem
        .errors
        .into_iter()
        .map(|error| (error.pointer, error.detail))
        .collect()
}

fn close(value: &Value, expected: f64, within: f64) {
    let actual = value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"));
    assert!(
        (actual - expected).abs() <= within,
        "{actual} is not {expected}"
    );
}

#[test]
fn every_example_is_answered_with_its_sources() {
    let mut names = BTreeSet::new();
    for calculator in CALCULATORS {
        assert!(names.insert(calculator.name));
        assert!(calculator.summary.ends_with('.'));
        let request: Value = serde_json::from_str(calculator.example).expect("JSON");
        let answer = answer(calculator.name, &request);
        let sources = answer["sources"].as_array().expect("sources");
        assert!(!sources.is_empty(), "{}", calculator.name);
        for source in sources {
            let provenance = source["provenance"].as_str().expect("a word");
            assert!(["read", "memory", "practice", "workshop"].contains(&provenance));
        }
    }
}

#[test]
fn an_unknown_field_or_a_body_that_is_no_object_is_refused_by_all() {
    for calculator in CALCULATORS {
        let mut request: Value = serde_json::from_str(calculator.example).expect("JSON");
        request["surplus"] = json!(1);
        let errors = refusal(calculator.name, &request);
        assert!(errors.iter().any(|(pointer, _)| pointer == "/surplus"));
        assert_eq!(refusal(calculator.name, &json!([]))[0].0, "");
    }
}

/// Wood Handbook, equation (4-5): 9.243 % at 21.1 °C and 50 %.
#[test]
fn emc_answers_by_the_handbook_and_refuses_impossible_air() {
    let request = json!({"temperature_c": 21.1, "relative_humidity_percent": 50});
    let answer = answer("emc", &request);
    close(&answer["emc_percent"], 9.243, 0.001);
    assert_eq!(answer.get("note"), None);
    let damp = json!({"temperature_c": 21.1, "relative_humidity_percent": 120});
    assert_eq!(
        refusal("emc", &damp),
        [(
            "/relative_humidity_percent".to_owned(),
            "is 120; must be a number from 0 to 100".to_owned()
        )]
    );
    let saturated = json!({"temperature_c": 21.1, "relative_humidity_percent": 99});
    assert!(super::calculators::answer("emc", &saturated)["note"].is_string());
}

/// Wood Handbook, equation (13-2) and Table 13-5: black cherry, 10 in, 6 to 10 %.
#[test]
fn movement_answers_by_the_handbook_and_names_the_nearest_woods() {
    let request = |species: &str, rings: &str, from: f64| {
        json!({"species": species, "width": "10 in", "growth_rings": rings,
               "from_mc_percent": from, "to_mc_percent": 10})
    };
    let flat = answer("movement", &request("black cherry", "flat-sawn", 6.0));
    assert_eq!(flat["change"], json!(2.51968));
    let quarter = answer("movement", &request("black cherry", "quarter-sawn", 6.0));
    assert_eq!(quarter["change"], json!(1.28016));
    let shrinking = answer("movement", &request("black cherry", "flat-sawn", 14.0));
    assert_eq!(shrinking["change"], json!(-2.51968));
    let errors = refusal("movement", &request("blak chery", "round", -1.0));
    let pointers: Vec<&str> = errors.iter().map(|(pointer, _)| pointer.as_str()).collect();
    assert_eq!(pointers, ["/species", "/growth_rings", "/from_mc_percent"]);
    assert!(
        errors[0].1.contains("nearest are black cherry"),
        "{}",
        errors[0].1
    );
    let unknown = refusal("movement", &request("Norway spruce", "flat-sawn", 6.0));
    assert!(
        unknown[0].1.contains("no published shrinkage"),
        "{}",
        unknown[0].1
    );
}

/// 144 cubic inches are a board foot; 1 x 6 x 96 in are four.
#[test]
fn board_feet_are_exact() {
    let request = json!({"length": "96 in", "width": "6 in", "thickness": "1 in", "count": 1});
    let answer = answer("board-feet", &request);
    assert_eq!(answer["board_feet"], json!(4.0));
    assert_eq!(answer["volume_mm3"], json!(9_438_948.864));
    assert_eq!(answer["tally"]["board_feet"], json!(4.0));
    let errors = refusal(
        "board-feet",
        &json!({"length": 0, "width": "-1 in", "thickness": "1 in"}),
    );
    assert_eq!(errors.len(), 2);
}

/// 18 in by 1 1/2 in of hard maple at 175 to 250 psi: 21.02 to 30.03 kN, five clamps of 4500 N for
/// the lower end (common practice, no single source).
#[test]
fn clamping_answers_with_force_number_and_reach() {
    let request = json!({"length": "18 in", "width": "10 in", "height": "1 1/2 in",
        "species": ["hard maple"], "clamp_force_n": 4500, "clamp_reach": "24 in", "caul_depth": "2 in"});
    let panel = answer("clamping", &request);
    close(&panel["pressure_kpa"]["low"], 1206.6, 0.05);
    close(&panel["pressure_kpa"]["high"], 1723.7, 0.05);
    close(&panel["force_n"]["low"], 21_018.0, 1.0);
    close(&panel["force_n"]["high"], 30_025.0, 1.0);
    assert_eq!(panel["clamps"], json!(5));
    assert_eq!(panel["clamps_for_highest_pressure"], json!(7));
    close(&panel["spacing"], 101.6, 0.0);
    close(&panel["reach_needed"], 355.6, 0.0);
    assert_eq!(panel["reach_enough"], json!(true));
    assert_eq!(panel["places"].as_array().map(Vec::len), Some(5));

    let mut mixed = request.clone();
    mixed["species"] = json!(["hard maple", "yellow-poplar"]);
    close(
        &answer("clamping", &mixed)["pressure_kpa"]["low"],
        689.5,
        0.05,
    );
    let mut unrated = request.clone();
    unrated["clamp_force_n"] = json!(0);
    assert_eq!(refusal("clamping", &unrated)[0].0, "/clamp_force_n");
    unrated
        .as_object_mut()
        .expect("an object")
        .remove("clamp_force_n");
    assert_eq!(
        refusal("clamping", &unrated),
        [(
            "/clamp_force_n".to_owned(),
            "is missing; must be given".to_owned()
        )]
    );
    let mut bare = request;
    bare["caul_depth"] = json!(0);
    assert_eq!(refusal("clamping", &bare)[0].0, "/caul_depth");
    bare["species"] = json!([]);
    assert_eq!(refusal("clamping", &bare)[0].0, "/species");
}

/// Plain geometry.
#[test]
fn circle_answers_with_the_settings_of_the_router() {
    let request = json!({"diameter": "14 in", "rim": "1/2 in", "bit": "1/4 in",
        "thickness": "1 in", "depth_per_pass": "3/16 in"});
    let ring = answer("circle", &request);
    assert_eq!(
        ring["outside"],
        json!({"pivot_to_near_edge": 177.8, "pivot_to_bit_centre": 180.975})
    );
    assert_eq!(
        ring["inside"],
        json!({"pivot_to_near_edge": 158.75, "pivot_to_bit_centre": 161.925})
    );
    assert_eq!(ring["disc_diameter"], json!(317.5));
    assert_eq!(ring["blank_at_least"], json!(368.3));
    assert_eq!(ring["passes"], json!(6));
    assert_eq!(
        ring["pass_depths"],
        json!([4.7625, 4.7625, 4.7625, 4.7625, 4.7625, 1.5875])
    );
    assert!(
        ring["note"].is_string(),
        "3/16 in is more than the makers allow"
    );
    let mut thick_rim = request;
    thick_rim["rim"] = json!("7 in");
    let errors = refusal("circle", &thick_rim);
    assert_eq!(errors[0].0, "/rim");
    thick_rim["rim"] = json!("1/2 in");
    thick_rim["depth_per_pass"] = json!(0.000001);
    assert_eq!(refusal("circle", &thick_rim)[0].0, "/depth_per_pass");
}

/// EN 204 (Table 2, from memory): a food board is washed and asks D3.
#[test]
fn a_glue_without_water_class_is_refused_on_a_food_board_and_can_be_accepted() {
    let request = |glue: &str| {
        json!({"length": "18 in", "height": "1 1/2 in", "glue": glue, "for_food": true,
               "strips": [{"width": "3/4 in", "count": 14}]})
    };
    let good = answer("glue-up", &request("crosslinked PVA"));
    assert_eq!(good["glue_lines"], json!(13));
    assert_eq!(good["water_class"], json!("D3"));
    assert_eq!(good["flaws"], json!([]));
    assert_eq!(good["spread_minutes"], json!(7));
    assert_eq!(
        good["fits_open_time"],
        json!(false),
        "it stays open for five minutes"
    );
    assert_eq!(good["sub_panels"], json!(2));
    for weak in ["casein", "aliphatic resin", "hot hide glue"] {
        let errors = refusal("glue-up", &request(weak));
        assert_eq!(errors[0].0, "/glue");
        assert!(errors[0].1.contains("accept_glue"), "{}", errors[0].1);
    }
    let mut accepted = request("casein");
    accepted["accept_glue"] = json!(true);
    let flaws = answer("glue-up", &accepted)["flaws"].clone();
    assert_eq!(flaws.as_array().map(Vec::len), Some(1));
    let errors = refusal("glue-up", &request("chewing gum"));
    assert!(errors[0].1.contains("crosslinked PVA"), "{}", errors[0].1);
}

#[test]
fn oak_on_a_cutting_board_is_warned_about() {
    let check = |species: &str, share: f64| {
        let request = json!({"use": "cutting", "woods": [{"species": species, "share": share}]});
        answer("food-check", &request)["verdict"].clone()
    };
    assert_eq!(check("hard maple", 1.0), json!("fit"));
    assert_eq!(check("white oak", 0.5), json!("warned"));
    assert_eq!(check("red oak", 0.5), json!("unfit"));
    assert_eq!(check("purpleheart", 0.1), json!("fit"));
    assert_eq!(check("purpleheart", 0.9), json!("warned"));
}

#[test]
fn a_drying_oil_brings_its_fire_caution() {
    let request = json!({"finish": "tung oil", "length": "17 in", "width": "10 in",
        "thickness": "1 1/2 in", "for_food": true, "cut_on": true});
    let oil = answer("finish", &request);
    assert_eq!(oil["ready_after_minutes"], json!(2 * 1440 + 7 * 1440));
    assert_eq!(oil["rags_can_catch_fire"], json!(true));
    let cautions = oil["cautions"].to_string();
    assert!(cautions.contains("catch fire by themselves"));
    let mut for_no_food = request;
    for_no_food["finish"] = json!("boiled linseed oil");
    assert_eq!(refusal("finish", &for_no_food)[0].0, "/finish");
    for_no_food["accept_finish"] = json!(true);
    assert_eq!(
        answer("finish", &for_no_food)["flaws"]
            .as_array()
            .map(Vec::len),
        Some(1)
    );
}

#[test]
fn unlike_moistures_are_put_in_plain_words() {
    let request = json!({"temperature_c": 21.1, "relative_humidity_percent": 50, "pieces": [
        {"name": "strip 1", "mc_percent": 8.5}, {"name": "strip 2", "mc_percent": 11.5}]});
    let checked = answer("moisture-check", &request);
    assert_eq!(checked["ready_to_glue"], json!(false));
    let concerns = checked["concerns"].as_array().expect("a list");
    assert_eq!(concerns.len(), 2);
    assert_eq!(concerns[0]["kind"], json!("apart"));
    assert_eq!(concerns[1]["pieces"], json!(["strip 2"]));
}

#[test]
fn panels_share_clamps_where_they_may() {
    let example: Value =
        serde_json::from_str(calculator("clamp-load").expect("known").example).expect("JSON");
    let shared = answer("clamp-load", &example);
    assert_eq!(shared["all_together"], json!(true));
    assert_eq!(shared["loads"][0]["clamps"], json!(5));
    assert_eq!(shared["loads"][0]["saved"], json!(5));
    let mut short = example;
    short["clamp_reach"] = json!("20 in");
    let apart = answer("clamp-load", &short);
    assert_eq!(apart["all_together"], json!(false));
    assert_eq!(apart["loads"].as_array().map(Vec::len), Some(2));
    assert!(
        apart["hindrances"][0]
            .as_str()
            .expect("text")
            .contains("reach")
    );
}

/// Every subject that a wood, a glue or a finish brings stands in the table.
#[test]
fn every_subject_of_caution_is_in_the_table() {
    use scrapwright::calc::cautions;
    let known = |subject: &str| reference::cautions_about(subject).next().is_some();
    for wood in reference::woods() {
        for subject in cautions::of_wood(wood.hazard, wood.is_oily()) {
            assert!(known(subject), "{subject}");
        }
    }
    let glues = reference::glues().iter();
    let finishes = reference::finishes().iter();
    let subjects = glues
        .flat_map(|glue| cautions::of_glue(&glue.figures))
        .chain(finishes.flat_map(|finish| cautions::of_finish(&finish.figures)));
    for subject in subjects {
        assert!(known(subject), "{subject}");
    }
    for finish in reference::finishes() {
        assert_eq!(
            cautions::of_finish(&finish.figures).contains(&"drying oil"),
            finish.figures.rags_self_heat
        );
    }
}

/// Any JSON of the shapes that these requests have.
fn any_value() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        (-1e3..1e12).prop_map(Value::from),
        prop_oneof![
            Just("100 m"),
            Just("0.000001 mm"),
            Just("18 in"),
            Just("hard maple"),
            Just("PVA"),
            Just("tung oil"),
            Just("across"),
            Just("flat-sawn"),
            Just("cutting"),
            Just("")
        ]
        .prop_map(Value::from),
    ];
    leaf.prop_recursive(2, 12, 4, |inner| {
        prop::collection::vec(inner, 0..4).prop_map(Value::from)
    })
}

/// JSON Pointers to everything in a request.
fn places(value: &Value, pointer: &str) -> Vec<String> {
    let inner: Vec<(String, &Value)> = match value {
        Value::Object(fields) => fields
            .iter()
            .map(|(name, value)| (format!("{pointer}/{name}"), value))
            .collect(),
        Value::Array(values) => values
            .iter()
            .enumerate()
            .map(|(place, value)| (format!("{pointer}/{place}"), value))
            .collect(),
        _ => Vec::new(),
    };
    let below = inner
        .iter()
        .flat_map(|(pointer, value)| places(value, pointer));
    std::iter::once(pointer.to_owned()).chain(below).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// One field of a working request changed to anything is answered or refused, never a panic.
    #[test]
    fn no_body_makes_a_calculator_panic(
        which in 0..CALCULATORS.len(),
        place in 0_usize..100,
        value in any_value(),
    ) {
        let calculator = &CALCULATORS[which];
        let mut request: Value = serde_json::from_str(calculator.example).expect("JSON");
        let places = places(&request, "");
        *request.pointer_mut(&places[place % places.len()]).expect("there") = value;
        let answered = (calculator.answer)(request.to_string().as_bytes());
        if let Err(problem) = answered {
            prop_assert!(!problem.errors.is_empty(), "{}", problem.detail);
        }
    }
}
