//! Reading requests: all flaws at once, each with its pointer; exact lengths.

use proptest::prelude::*;
use scrapwright::units::{Length, Money};
use scrapwright::wire::{self, Problem, read};

fn pointers(problem: &Problem) -> Vec<(&str, &str)> {
    problem
        .errors
        .iter()
        .map(|error| (error.pointer.as_str(), error.detail.as_str()))
        .collect()
}

#[test]
fn every_flaw_is_reported_with_its_place() {
    let body = br#"{"strips": [{"length": "3 furlongs"}, {"count": 1.5, "length": 4, "a/b~c": 1}], "surplus": true}"#;
    let problem = read(body, |body| {
        let body = body.object(&["strips", "kerf"])?;
        let kerf = body.required("kerf", |field| field.positive_length());
        let strips = body.required("strips", |strips| {
            strips.list(|strip| {
                let strip = strip.object(&["length", "count"])?;
                let count = strip.optional("count", |field| field.whole(1..=100));
                let length = strip.required("length", |field| field.length());
                Some((length?, count.unwrap_or(1)))
            })
        });
        Some((kerf?, strips?))
    })
    .expect_err("five flaws");
    assert_eq!(
        pointers(&problem),
        [
            (
                "/surplus",
                "is not a known field; must be one of strips, kerf"
            ),
            ("/kerf", "is missing; must be given"),
            (
                "/strips/0/length",
                "is \"3 furlongs\", whose unit is not known; must be in mm, cm, m, in (\") or ft (')"
            ),
            (
                "/strips/1/a~1b~0c",
                "is not a known field; must be one of length, count"
            ),
            (
                "/strips/1/count",
                "is 1.5; must be a whole number from 1 to 100"
            ),
        ]
    );
    let json = serde_json::to_value(&problem).expect("a problem is JSON");
    assert_eq!(json["type"], "/problems/wrong-content");
    assert_eq!(json["status"], 422);
    assert_eq!(json["errors"][1]["pointer"], "/kerf");
}

#[test]
fn an_optional_field_that_is_wrong_does_not_pass_for_a_missing_one() {
    let problem = read(br#"{"count": null}"#, |body| {
        let body = body.object(&["count"])?;
        Some(
            body.optional("count", |field| field.whole(1..=9))
                .unwrap_or(1),
        )
    })
    .expect_err("null is no count");
    assert_eq!(
        pointers(&problem),
        [("/count", "is null; must be a whole number from 1 to 9")]
    );
}

#[test]
fn a_body_that_is_no_json_is_said_to_be_none() {
    for body in [&b""[..], b"{", b"\xff", b"{} {}", b"[1,]"] {
        let problem = read(body, |_| Some(())).expect_err("not JSON");
        assert_eq!(problem.status, 422);
        assert!(
            problem.errors[0].detail.contains("cannot be read as JSON"),
            "{problem}"
        );
    }
}

#[test]
fn a_field_that_is_there_twice_is_refused() {
    let problem = read(br#"{"board": {"width": 1, "width": 2}}"#, |_| Some(()))
        .expect_err("one of the two would be lost");
    assert!(
        problem.errors[0]
            .detail
            .contains("\"width\" is there twice")
    );
    // Large numbers, deep nesting and escapes survive the stricter reading.
    let text = r#"{"a\u0062": [1, -2, 3.5, 1e3, 18446744073709551615, null, true, "\n"]}"#;
    let kept = read(text.as_bytes(), |body| {
        let list = body.object(&["ab"])?.field("ab")?;
        list.list(|_| Some(())).map(|list| list.len())
    });
    assert_eq!(kept, Ok(8));
}

#[test]
fn money_in_json_is_whole_hundredths() {
    let money = |body: &[u8]| read(body, |field| field.money());
    assert_eq!(money(b"14.50"), Ok(Money::from_cents(1450)));
    assert_eq!(money(b"0.1"), Ok(Money::from_cents(10)));
    for body in [&b"14.505"[..], b"-1", b"\"14.50\"", b"1e300"] {
        assert!(money(body).is_err());
    }
}

#[test]
fn a_number_is_millimetres_and_must_be_exact() {
    let nm = |body: &str| read(body.as_bytes(), |field| field.length()).map(Length::nm);
    assert_eq!(nm("444.5"), Ok(444_500_000));
    assert_eq!(nm("0.396875"), Ok(396_875));
    assert_eq!(nm("1e3"), Ok(1_000_000_000));
    assert_eq!(nm("\"1 3/4 in\""), Ok(44_450_000));
    for body in [
        "-1",
        "0.1234567",
        "100001",
        "1e300",
        "\"5\"",
        "true",
        "null",
        "[]",
    ] {
        assert!(nm(body).is_err(), "{body}");
    }
}

#[test]
fn a_body_of_flaws_lists_a_thousand_and_counts_the_rest() {
    let body = format!("[{}1]", "1,".repeat(1_999));
    let problem = read(body.as_bytes(), |body| {
        body.list(|value| value.text().map(str::to_owned))
    })
    .unwrap_err();
    assert_eq!(problem.errors.len(), 1_001);
    assert_eq!(problem.errors[999].pointer, "/999");
    assert_eq!(problem.errors[1_000].pointer, "");
    assert_eq!(
        problem.errors[1_000].detail,
        "has 1000 more flaws; must have none"
    );
}

#[test]
fn a_body_of_more_values_than_anybody_means_is_refused() {
    let objects = |count: usize| format!("[{}{{}}]", "{},".repeat(count - 1));
    let n_read =
        |body: &str| read(body.as_bytes(), |body| body.list(|_| Some(()))).map(|read| read.len());
    assert_eq!(n_read(&objects(400_000)), Ok(400_000));
    let problem = n_read(&objects(500_000)).unwrap_err();
    assert!(
        problem.detail.starts_with(
            "The body cannot be read as JSON (it holds more than 6000000 values, an object counted as 12"
        ),
        "{}",
        problem.detail
    );
}

#[test]
fn a_name_without_end_is_refused_before_it_stands_in_every_pointer() {
    let body = format!("{{\"{}\": [1, 2, 3]}}", "n".repeat(1_001));
    let problem = read(body.as_bytes(), |body| {
        let mut entries = body.table()?;
        entries
            .pop()?
            .1
            .list(|value| value.text().map(str::to_owned))
    })
    .unwrap_err();
    assert_eq!(problem.errors.len(), 1);
    assert_eq!(
        problem.errors[0].detail,
        "has a name of 1001 bytes; must have names of at most 1000"
    );
}

proptest! {
    /// Contract: in a response, a length is a number of millimetres with at most six decimals.
    #[test]
    fn a_length_prints_its_exact_decimals(nm in -1_000_000_000_000_000_i64..1_000_000_000_000_000) {
        // Below 10 nm the same number is written with an exponent.
        prop_assume!(nm.abs() >= 10);
        let length = Length::from_nm(nm);
        let text = wire::length::to_json(length).to_string();
        let exact = length.to_string();
        prop_assert_eq!(text, exact.trim_end_matches(" mm"));
    }

    #[test]
    fn a_printed_length_reads_back_the_same(nm in 0..=Length::LONGEST.nm()) {
        let length = Length::from_nm(nm);
        let json = wire::length::to_json(length);
        prop_assert_eq!(wire::length::from_json(&json), Ok(length));
    }
}

/// A field that cannot be read hides no flaw that shows only when all fields are looked at together.
#[test]
fn a_match_request_lists_its_flaws_of_both_kinds() {
    let body = br#"{
        "stock": [
            {"id": "A1", "species": "hard maple", "length": 600, "width": 80, "thickness": 20},
            {"id": "A1", "species": "hard maple", "length": -1, "width": 80, "thickness": 20,
             "unusable": [{"from": 50, "to": 2}, {"from": "x", "to": 60}]}],
        "strips": [
            {"id": "s", "species": ["hard maple"], "length": 300, "sections": [{"rip": 20, "thickness": 19}]},
            {"id": "s", "species": [], "count": 0, "length": 300, "sections": []},
            {"id": "t", "species": ["hard maple"], "count": 10000000, "length": 300,
             "sections": [{"rip": 20, "thickness": 19}]}]
    }"#;
    let problem = wire::matching::parse(body).expect_err("nine flaws");
    let mut places: Vec<&str> = pointers(&problem).into_iter().map(|flaw| flaw.0).collect();
    places.sort_unstable();
    assert_eq!(
        places,
        [
            "/stock/1/id",
            "/stock/1/length",
            "/stock/1/unusable/0/to",
            "/stock/1/unusable/1/from",
            "/strips",
            "/strips/1/count",
            "/strips/1/id",
            "/strips/1/sections",
            "/strips/1/species",
        ]
    );
}

fn schedule(body: &str) -> Result<wire::schedule::Response, Problem> {
    let budget = |_| scrapwright::calc::budget::Budget::of_steps(1_000);
    wire::schedule::answer(body.as_bytes(), budget, &|_| ())
}

#[test]
fn a_schedule_that_cannot_be_read_and_makes_no_sense_hears_of_all_at_once() {
    let body = r#"{"from": "2027-03-03T00:00", "to": "2027-03-01T00:00",
        "calendars": {"shop": [{"from": "2027-03-01T12:00", "to": "2027-03-01T11:00"}, {"from": "noon"}]},
        "resources": [{"id": "clamps", "capacity": -2}, {"id": "clamps", "capacity": 1}],
        "tasks": [{"id": "mill", "minutes": -5, "calendar": "night", "needs": {"saw": 1}},
            {"id": "glue", "minutes": 1.5, "after": [{"task": "dry fit", "min_gap": "long"}]}],
        "holds": [{"from": "glue", "to": "unclamp", "needs": {"clamps": 1}}],
        "busy": [{"resource": "clamps", "from": "2027-03-02T00:00", "to": "later", "amount": 1}],
        "due": [{"task": "cure", "by": "soon"}]}"#;
    let problem = schedule(body).expect_err("many flaws");
    let mut places: Vec<&str> = pointers(&problem).iter().map(|(at, _)| *at).collect();
    places.sort_unstable();
    assert_eq!(
        places,
        [
            "/busy/0/to",
            "/calendars/shop/0/to",
            "/calendars/shop/1/from",
            "/calendars/shop/1/to",
            "/due/0/by",
            "/due/0/task",
            "/holds/0/to",
            "/resources/0/capacity",
            "/resources/1/id",
            "/tasks/0/calendar",
            "/tasks/0/minutes",
            "/tasks/0/needs/saw",
            "/tasks/1/after/0/min_gap",
            "/tasks/1/after/0/task",
            "/tasks/1/minutes",
            "/to",
        ]
    );
    // A name that cannot be read may be what others mean, so nothing is said of those.
    let unnamed = r#"{"from": "2027-03-01T00:00", "to": "2027-03-02T00:00", "resources": [],
        "tasks": [{"id": 7, "minutes": 5}, {"id": "b", "minutes": 5, "after": [{"task": "7"}]}]}"#;
    let problem = schedule(unnamed).expect_err("a number for a name");
    let places: Vec<&str> = pointers(&problem).iter().map(|(at, _)| *at).collect();
    assert_eq!(places, ["/tasks/0/id"]);
}

#[test]
fn a_schedule_that_ends_before_it_begins_and_a_task_without_end_are_both_told() {
    let body = r#"{"from":"2027-03-01T00:00","to":"2026-03-02T00:00","resources":[],
        "tasks":[{"id":"a","minutes":9223372036854775807}]}"#;
    let problem = schedule(body).expect_err("two flaws");
    let found = pointers(&problem);
    assert_eq!(found.len(), 2, "{found:?}");
    assert_eq!(found[0].0, "/to");
    assert_eq!(found[1].0, "/tasks/0/minutes");
    assert!(found[1].1.contains("must be from 0 to"), "{}", found[1].1);
}

#[test]
fn what_no_schedule_can_keep_is_named() {
    let about = |rest: &str| {
        let body = format!(
            r#"{{"from": "2027-03-01T00:00", "to": "2027-03-03T00:00", "resources": [{{"id": "clamps", "capacity": 2}}],
            "calendars": {{"shop": [{{"from": "2027-03-01T10:00", "to": "2027-03-01T20:00"}}],
            "shut": [{{"from": "2027-03-01T10:00", "to": "2027-03-01T10:00"}}]}}, "tasks": [{rest}]}}"#
        );
        let problem = schedule(&body).expect_err("no schedule");
        assert_eq!(problem.kind, "no-schedule");
        problem.detail
    };
    assert_eq!(
        about(
            r#"{"id": "a", "minutes": 5, "after": [{"task": "b"}]}, {"id": "b", "minutes": 5, "after": [{"task": "a"}]}"#
        ),
        "Tasks \"a\" and \"b\" come after each other in a circle."
    );
    assert_eq!(
        about(r#"{"id": "a", "minutes": 700, "calendar": "shop"}"#),
        "Task \"a\" takes 700 minutes, which fit into no window of \"shop\" between `from` and `to`."
    );
    assert_eq!(
        about(r#"{"id": "a", "minutes": 5, "calendar": "shut"}"#),
        "Task \"a\" takes 5 minutes, which fit into no window of \"shut\" between `from` and `to`."
    );
    assert_eq!(
        about(r#"{"id": "a", "minutes": 5, "needs": {"clamps": 3}}"#),
        "Task \"a\" needs 3 of \"clamps\", of which there are 2."
    );
    assert_eq!(
        about(r#"{"id": "a", "minutes": 2881}"#),
        "Task \"a\" takes 2881 minutes; from `from` to `to` there are 2880, so the horizon is too short."
    );
}
