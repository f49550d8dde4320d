//! Designs as JSON text, as requests carry them and the database keeps them.

use scrapwright::calc::work::{Design, Kind, default_design};
use scrapwright::wire::design::{print_design, read_design};
use serde_json::json;

fn read(value: serde_json::Value) -> Result<Design, Vec<(String, String)>> {
    read_design(value.to_string().as_bytes()).map_err(|problem| {
        problem
            .errors
            .into_iter()
            .map(|error| (error.pointer, error.detail))
            .collect()
    })
}

fn refused(value: serde_json::Value) -> Vec<(String, String)> {
    read(value).expect_err("must be refused")
}

fn flaw(pointer: &str, detail: &str) -> (String, String) {
    (pointer.to_owned(), detail.to_owned())
}

#[test]
fn every_kind_is_read_as_it_was_printed() {
    for kind in Kind::ALL {
        let design = default_design(kind);
        let printed = print_design(&design);
        assert_eq!(printed["kind"], kind.slug());
        let again = read(printed.clone());
        assert_eq!(again, Ok(design));
        assert_eq!(again.map(|design| print_design(&design)), Ok(printed));
    }
}

#[test]
fn lengths_may_carry_their_unit_and_extras_may_be_left_out() {
    let design = read(json!({
        "kind": "striped-board", "length": "17 in", "width": 254, "thickness": "1 1/2\"",
        "surface": "either",
        "strips": [{"species": "hard maple", "width": "3/4 in"}],
        "groove": {"width": "3/8 in", "depth": 5, "inset": 20}
    }));
    let printed = design.map(|design| print_design(&design));
    assert_eq!(
        printed,
        Ok(json!({
            "kind": "striped-board", "length": 431.8, "width": 254, "thickness": 38.1,
            "surface": "either",
            "strips": [{"species": "hard maple", "width": 19.05}],
            "edge": {"shape": "eased"},
            "groove": {"width": 9.525, "depth": 5, "inset": 20}
        }))
    );
}

#[test]
fn every_flaw_of_a_design_has_its_pointer() {
    assert_eq!(
        refused(json!({
            "kind": "striped-board", "length": "17 furlongs", "width": -3, "colour": "brown",
            "surface": "end grain", "strips": [{"species": "", "width": "3/4 in", "count": 2}],
            "edge": {"shape": "round over"}, "feet": 13
        })),
        [
            flaw(
                "/colour",
                "is not a known field; must be one of kind, length, width, thickness, surface, strips, edge, groove, grips, feet"
            ),
            flaw(
                "/length",
                "is \"17 furlongs\", whose unit is not known; must be in mm, cm, m, in (\") or ft (')"
            ),
            flaw(
                "/width",
                "is \"-3\", which is negative; must not be below 0"
            ),
            flaw("/thickness", "is missing; must be given"),
            flaw(
                "/surface",
                "is \"end grain\"; must be \"edge grain\" or \"face grain\" or \"either\""
            ),
            flaw(
                "/strips/0/count",
                "is not a known field; must be one of species, width"
            ),
            flaw(
                "/strips/0/species",
                "is \"\"; must be a text that is not empty"
            ),
            flaw("/edge/radius", "is missing; must be given"),
            flaw("/feet", "is 13; must be a whole number from 0 to 12"),
        ]
    );
}

#[test]
fn a_design_needs_a_known_kind() {
    assert_eq!(
        refused(json!({"length": 3})),
        [flaw("/kind", "is missing; must be given")]
    );
    assert_eq!(
        refused(json!([])),
        [flaw("", "is a list; must be an object")]
    );
    let flaws = refused(json!({"kind": "canoe"}));
    assert_eq!(flaws[0].0, "/kind");
    assert!(
        flaws[0]
            .1
            .starts_with("is \"canoe\"; must be \"striped-board\""),
        "{flaws:?}"
    );
}
