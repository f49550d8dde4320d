//! Changes of JSON bodies that keep them JSON: bytes changed at random seldom get past the parser.

use std::time::{Duration, Instant};

use scrapwright::calc::budget::Budget;
use scrapwright::wire::matching::Limits;
use serde_json::{Value, json};

/// What a solver gets, whatever the request asks for.
const SOLVE: Duration = Duration::from_millis(20);
/// What reading, building, checking and a busy machine may add to it.
const GRACE: Duration = Duration::from_secs(2);

/// Runs `solve` with a short budget.
///
/// # Panics
/// If it takes longer than its budget and the grace.
pub fn within_limits<T>(solve: impl FnOnce(&dyn Fn(Limits) -> Budget<'static>) -> T) -> T {
    let begun = Instant::now();
    let answer = solve(&|limits| {
        let begun = Instant::now();
        Budget::until(limits.time.min(SOLVE), move || begun.elapsed()).with_threads(limits.threads)
    });
    let took = begun.elapsed();
    assert!(took < SOLVE + GRACE, "took {took:?}");
    answer
}

/// Changes one place of the JSON body `data[..size]`, or some bytes where it is none, and gives the new size.
pub fn mutate_json(data: &mut [u8], size: usize, max_size: usize, seed: u32) -> usize {
    let mut dice = Dice(u64::from(seed) + 1);
    let body = match serde_json::from_slice::<Value>(&data[..size]) {
        Ok(body) if dice.below(8) > 0 => body,
        _ => return libfuzzer_sys::fuzzer_mutate(data, size, max_size),
    };
    let mut changed = body.clone();
    for _ in 0..=dice.below(3) {
        let places = places(&changed);
        let place = &places[dice.below(places.len())];
        // A value from elsewhere in the body makes names meet.
        let other = body.pointer(&places[dice.below(places.len())]).cloned();
        if let Some(value) = changed.pointer_mut(place) {
            change(value, other.unwrap_or_default(), &mut dice);
        }
    }
    let text = changed.to_string();
    if text.len() > max_size {
        return libfuzzer_sys::fuzzer_mutate(data, size, max_size);
    }
    data[..text.len()].copy_from_slice(text.as_bytes());
    text.len()
}

fn change(value: &mut Value, other: Value, dice: &mut Dice) {
    match (dice.below(6), &mut *value) {
        (0, _) => *value = other,
        (1, _) => *value = dice.pick(),
        (2 | 3, Value::Array(list)) if !list.is_empty() => {
            let place = dice.below(list.len());
            if dice.below(2) == 0 {
                list.remove(place);
            } else {
                list.insert(place, list[place].clone());
            }
        }
        (2 | 3, Value::Object(fields)) if !fields.is_empty() => {
            let name = fields.keys().nth(dice.below(fields.len())).cloned().unwrap_or_default();
            let removed = fields.remove(&name);
            if dice.below(2) == 0 {
                fields.insert(format!("{name} too"), removed.unwrap_or_default());
            }
        }
        (_, Value::Array(list)) => list.push(other),
        (_, Value::Number(number)) => {
            let number = number.as_f64().unwrap_or_default();
            let changed = match dice.below(5) {
                0 => number + 1.0,
                1 => number - 1.0,
                2 => number * 2.0,
                3 => number / 2.0,
                _ => number * (dice.below(2000) as f64) / 1000.0,
            };
            *value = if changed.fract() == 0.0 && changed.abs() < 1e15 {
                json!(changed as i64)
            } else {
                json!(changed)
            };
        }
        (_, Value::String(text)) => match dice.below(4) {
            0 => text.push('2'),
            1 => *text = format!("1{text}"),
            2 => text.push_str(" x"),
            _ => {
                text.pop();
            }
        },
        _ => *value = dice.pick(),
    }
}

/// A JSON Pointer to every value.
fn places(body: &Value) -> Vec<String> {
    let mut found = vec![String::new()];
    let mut next = 0;
    while let Some(place) = found.get(next).cloned() {
        next += 1;
        match body.pointer(&place) {
            Some(Value::Array(list)) => found.extend((0..list.len()).map(|index| format!("{place}/{index}"))),
            Some(Value::Object(fields)) => found.extend(fields.keys().map(|name| {
                let step = name.replace('~', "~0").replace('/', "~1");
                format!("{place}/{step}")
            })),
            _ => {}
        }
    }
    found
}

/// SplitMix64: the same seed gives the same change.
struct Dice(u64);

impl Dice {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((mixed ^ (mixed >> 31)) % count.max(1) as u64) as usize
    }

    /// A value at the edge of something.
    fn pick(&mut self) -> Value {
        let edges = [
            json!(null),
            json!(true),
            json!(false),
            json!(0),
            json!(1),
            json!(-1),
            json!(2),
            json!(1000),
            json!(100_000),
            json!(0.1),
            json!(0.000_001),
            json!(1e18),
            json!(1e300),
            json!(u32::MAX),
            json!(i64::MAX),
            json!(i64::MIN),
            json!(u64::MAX),
            json!([]),
            json!({}),
            json!(""),
            json!("a"),
            json!("0 in"),
            json!("1/64 in"),
            json!("1/2 in"),
            json!("3 in"),
            json!("14 in"),
            json!("8 ft"),
            json!("100 m"),
            json!("0.000001 mm"),
            json!("hard maple"),
            json!("black walnut"),
            json!("2027-03-01T10:00"),
            json!("2027-03-01T10:01"),
            json!("9999-12-31T23:59"),
            json!("-9999-01-01T00:00"),
        ];
        edges[self.below(edges.len())].clone()
    }
}
