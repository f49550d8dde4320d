//! Reading a JSON body field by field, so that all its flaws are reported at once.
//!
//! [`read`] parses the body and hands its root to a function that walks it. Every method of
//! [`Node`] and [`Object`] returns `None` after noting a flaw with its JSON Pointer; the walk
//! goes on, so that later flaws are found too. If any flaw was noted the whole result is a
//! [`Problem`], whatever the walk returned.
//!
//! ```
//! use scrapwright::wire::read;
//!
//! let problem = read(br#"{"widht": "3 in", "count": 0}"#, |body| {
//!     let board = body.object(&["width", "count"])?;
//!     let width = board.required("width", |field| field.positive_length());
//!     let count = board.optional("count", |field| field.whole(1..=1000));
//!     Some((width?, count.unwrap_or(1)))
//! })
//! .expect_err("two flaws and a missing field");
//! assert_eq!(problem.errors.len(), 3);
//! ```

use std::cell::{Cell, RefCell};
use std::ops::RangeInclusive;

use serde::de::{DeserializeSeed, Deserializer, Error as _, MapAccess, SeqAccess, Visitor};
use serde_json::Value;

use super::length;
use super::problem::{FieldError, Problem};
use crate::units::{Length, LengthFlaw, Money, WallMinute};

/// The most flaws that are listed; one more line says how many others there are.
const MOST_FLAWS: usize = 1_000;

/// The most values that a body may hold, an object counted as [`OBJECT`]. A value takes 32 bytes, and an object of
/// few fields a whole node of its map, so a body of a few megabytes could otherwise take gigabytes.
const MOST_VALUES: usize = 6_000_000;
const OBJECT: usize = 12;

/// The longest text of a field, in bytes: what a field says may stand in many answers.
const LONGEST_TEXT: usize = 20_000;
/// The longest name of a table's entry, in bytes. It stands in the pointer of every flaw below it.
const LONGEST_NAME: usize = 1_000;

/// One place in a JSON body.
#[derive(Clone)]
pub struct Node<'a> {
    value: &'a Value,
    pointer: String,
    flaws: &'a RefCell<Flaws>,
}

#[derive(Default)]
struct Flaws {
    listed: Vec<FieldError>,
    unlisted: usize,
}

impl Flaws {
    fn add(&mut self, flaw: FieldError) {
        if self.listed.len() < MOST_FLAWS {
            self.listed.push(flaw);
        } else {
            self.unlisted += 1;
        }
    }

    fn finish(mut self) -> Vec<FieldError> {
        if self.unlisted > 0 {
            self.listed.push(FieldError {
                pointer: String::new(),
                detail: format!("has {} more flaws; must have none", self.unlisted),
            });
        }
        self.listed
    }
}

/// A JSON object whose unknown fields have been reported.
#[derive(Clone)]
pub struct Object<'a> {
    node: Node<'a>,
    fields: &'a serde_json::Map<String, Value>,
}

/// Parses `body` and walks it with `walk`; any flaw that was noted makes it an error.
pub fn read<T>(body: &[u8], walk: impl FnOnce(Node<'_>) -> Option<T>) -> Result<T, Problem> {
    let value = parse(body).map_err(|error| {
        Problem::wrong_content(vec![FieldError {
            pointer: String::new(),
            detail: format!("cannot be read as JSON ({error}); must be a JSON object"),
        }])
    })?;
    let flaws = RefCell::default();
    let result = walk(Node {
        value: &value,
        pointer: String::new(),
        flaws: &flaws,
    });
    let flaws = flaws.into_inner().finish();
    match result {
        Some(result) if flaws.is_empty() => Ok(result),
        _ => Err(Problem::wrong_content(flaws)),
    }
}

fn parse(body: &[u8]) -> serde_json::Result<Value> {
    let room = Cell::new(MOST_VALUES);
    let mut reader = serde_json::Deserializer::from_slice(body);
    let value = Bounded { room: &room }.deserialize(&mut reader)?;
    reader.end()?;
    Ok(value)
}

/// JSON with at most so many values in which no object names a field twice: a second one would silently win.
#[derive(Clone, Copy)]
struct Bounded<'r> {
    room: &'r Cell<usize>,
}

impl Bounded<'_> {
    fn take<E: serde::de::Error>(self, values: usize) -> Result<(), E> {
        let left = self.room.get().checked_sub(values);
        self.room.set(left.ok_or_else(|| {
            E::custom(format_args!(
                "it holds more than {MOST_VALUES} values, an object counted as {OBJECT}"
            ))
        })?);
        Ok(())
    }
}

impl<'de> DeserializeSeed<'de> for Bounded<'_> {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        self.take(1)?;
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Bounded<'_> {
    type Value = Value;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("any JSON value")
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_f64<E>(self, value: f64) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_str<E>(self, value: &str) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_string<E>(self, value: String) -> Result<Value, E> {
        Ok(Value::String(value))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Value, A::Error> {
        let mut values = Vec::new();
        while let Some(value) = list.next_element_seed(self)? {
            values.push(value);
        }
        Ok(Value::Array(values))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut object: A) -> Result<Value, A::Error> {
        self.take(OBJECT)?;
        let mut fields = serde_json::Map::new();
        while let Some(name) = object.next_key::<String>()? {
            let value = object.next_value_seed(self)?;
            if fields.contains_key(&name) {
                return Err(A::Error::custom(format_args!(
                    "the field {} is there twice",
                    shown(&Value::String(name))
                )));
            }
            fields.insert(name, value);
        }
        Ok(Value::Object(fields))
    }
}

impl<'a> Node<'a> {
    pub fn pointer(&self) -> &str {
        &self.pointer
    }

    /// Notes a flaw of this place, in the form "is X; must be Y".
    pub fn refuse<T>(&self, detail: impl Into<String>) -> Option<T> {
        self.flaws.borrow_mut().add(FieldError {
            pointer: self.pointer.clone(),
            detail: detail.into(),
        });
        None
    }

    /// Notes a flaw whose place in the body is known already.
    pub fn note(&self, flaw: FieldError) {
        self.flaws.borrow_mut().add(flaw);
    }

    /// Notes a flaw of a known value that must be something else.
    fn must_be<T>(&self, what: impl std::fmt::Display) -> Option<T> {
        self.refuse(format!("is {}; must be {what}", shown(self.value)))
    }

    fn at(&self, step: &str, value: &'a Value) -> Node<'a> {
        // RFC 6901, section 4: "~" and "/" inside a name are written "~0" and "~1".
        let step = step.replace('~', "~0").replace('/', "~1");
        Node {
            value,
            pointer: format!("{}/{step}", self.pointer),
            flaws: self.flaws,
        }
    }

    /// An object with no other fields than `known`.
    pub fn object(&self, known: &[&str]) -> Option<Object<'a>> {
        let Some(fields) = self.value.as_object() else {
            return self.must_be("an object");
        };
        for (name, value) in fields {
            if !known.contains(&name.as_str()) {
                self.at(name, value).refuse::<()>(format!(
                    "is not a known field; must be one of {}",
                    known.join(", ")
                ));
            }
        }
        Some(Object {
            node: self.clone(),
            fields,
        })
    }

    /// The member `name` of an object, before it is known which other members there may be.
    pub fn member(&self, name: &str) -> Option<Node<'a>> {
        let Some(fields) = self.value.as_object() else {
            return self.must_be("an object");
        };
        match fields.get(name) {
            Some(value) => Some(self.at(name, value)),
            None => self
                .at(name, self.value)
                .refuse("is missing; must be given"),
        }
    }

    /// The entries of an object that is used as a table: name and value of each.
    pub fn table(&self) -> Option<Vec<(&'a str, Node<'a>)>> {
        let Some(fields) = self.value.as_object() else {
            return self.must_be("an object");
        };
        if let Some(long) = fields.keys().find(|name| name.len() > LONGEST_NAME) {
            return self.refuse(format!(
                "has a name of {} bytes; must have names of at most {LONGEST_NAME}",
                long.len()
            ));
        }
        let entries = fields.iter();
        Some(
            entries
                .map(|(name, value)| (name.as_str(), self.at(name, value)))
                .collect(),
        )
    }

    /// Every element read by `element`; `None` if any of them is wrong.
    pub fn list<T>(&self, mut element: impl FnMut(Node<'a>) -> Option<T>) -> Option<Vec<T>> {
        let Some(values) = self.value.as_array() else {
            return self.must_be("a list");
        };
        // All elements are read before any is missed, so that each reports its own flaws.
        let read: Vec<Option<T>> = values
            .iter()
            .enumerate()
            .map(|(place, value)| element(self.at(&place.to_string(), value)))
            .collect();
        read.into_iter().collect()
    }

    /// Like [`Node::list`], but a list of more than `most` elements is refused without a look at them.
    pub fn list_of_at_most<T>(
        &self,
        most: usize,
        element: impl FnMut(Node<'a>) -> Option<T>,
    ) -> Option<Vec<T>> {
        match self.value.as_array() {
            Some(values) if values.len() > most => self.refuse(format!(
                "is a list of {}; must be at most {most}",
                values.len()
            )),
            _ => self.list(element),
        }
    }

    /// Whether the value is `null`.
    pub fn is_null(&self) -> bool {
        self.value.is_null()
    }

    /// Whether the value is a text without anything in it.
    pub fn is_empty_text(&self) -> bool {
        self.value
            .as_str()
            .is_some_and(|text| text.trim().is_empty())
    }

    /// A number exactly as it was written, or as the shortest decimal that stands for it.
    pub fn decimal(&self) -> Option<String> {
        match self.value {
            Value::Number(number) => Some(number.to_string()),
            _ => self.must_be("a number"),
        }
    }

    /// A text that is not blank.
    pub fn text(&self) -> Option<&'a str> {
        match self.value.as_str() {
            Some(text) if text.len() > LONGEST_TEXT => self.refuse(format!(
                "has {} bytes; must have at most {LONGEST_TEXT}",
                text.len()
            )),
            Some(text) if !text.trim().is_empty() => Some(text),
            _ => self.must_be("a text that is not empty"),
        }
    }

    pub fn boolean(&self) -> Option<bool> {
        match self.value.as_bool() {
            Some(value) => Some(value),
            None => self.must_be("true or false"),
        }
    }

    /// A whole number in `range`; `3.0` is one too.
    pub fn whole(&self, range: RangeInclusive<i64>) -> Option<i64> {
        let whole = self.value.as_i64().or_else(|| {
            let number = self.value.as_f64()?;
            // Beyond 2^53 a float no longer tells neighbouring whole numbers apart.
            (number.fract() == 0.0 && number.abs() < 9e15).then_some(number as i64)
        });
        match whole {
            Some(whole) if range.contains(&whole) => Some(whole),
            _ => self.must_be(format_args!(
                "a whole number {}",
                bounds(range.start(), range.end(), *range.end() == i64::MAX)
            )),
        }
    }

    /// A number in `range`; an infinite end is no limit.
    pub fn number(&self, range: RangeInclusive<f64>) -> Option<f64> {
        match self.value.as_f64() {
            Some(number) if range.contains(&number) => Some(number),
            _ => self.must_be(format_args!(
                "a number {}",
                bounds(range.start(), range.end(), range.end().is_infinite())
            )),
        }
    }

    /// A length of zero or more.
    pub fn length(&self) -> Option<Length> {
        match length::from_json(self.value) {
            Ok(length) => Some(length),
            Err(error) => self.refuse(error.to_string()),
        }
    }

    /// A length of zero or more that sets a limit: one beyond the longest is as good as that.
    pub fn limit_length(&self) -> Option<Length> {
        match length::from_json(self.value) {
            Err(error) if error.flaw == LengthFlaw::TooLong => Some(Length::LONGEST),
            Err(error) => self.refuse(error.to_string()),
            Ok(length) => Some(length),
        }
    }

    /// A length of more than zero.
    pub fn positive_length(&self) -> Option<Length> {
        let length = self.length()?;
        if length.is_positive() {
            Some(length)
        } else {
            self.must_be("more than 0")
        }
    }

    /// An amount of money in whole hundredths, as a number.
    pub fn money(&self) -> Option<Money> {
        let amount = self
            .value
            .as_f64()
            .filter(|amount| (0.0..=Money::MOST.units()).contains(amount))
            .map(|amount| (Money::from_units_rounded(amount), amount));
        match amount {
            Some((money, amount)) if money.units() == amount => Some(money),
            _ => self.must_be("an amount of money from 0 in whole hundredths, such as 14.50"),
        }
    }

    /// A wall-clock minute such as `2027-03-01T10:00`.
    pub fn wall_minute(&self) -> Option<WallMinute> {
        match self.value.as_str().and_then(WallMinute::parse) {
            Some(minute) => Some(minute),
            None => self.must_be("a wall-clock time such as \"2027-03-01T10:00\""),
        }
    }

    /// One of a few words, each with what it means.
    pub fn one_of<T: Copy>(&self, meanings: &[(&str, T)]) -> Option<T> {
        let text = self.value.as_str();
        let found = meanings.iter().find(|(word, _)| text == Some(word));
        match found {
            Some((_, meaning)) => Some(*meaning),
            None => {
                let words: Vec<String> = meanings
                    .iter()
                    .map(|(word, _)| format!("\"{word}\""))
                    .collect();
                self.must_be(words.join(" or "))
            }
        }
    }
}

impl<'a> Object<'a> {
    /// The object as a place, for flaws that belong to no single field.
    pub fn node(&self) -> &Node<'a> {
        &self.node
    }

    /// The field `name`, if it is there.
    pub fn field(&self, name: &str) -> Option<Node<'a>> {
        let value = self.fields.get(name)?;
        Some(self.node.at(name, value))
    }

    /// The field `name` read by `read`; a missing one is a flaw.
    pub fn required<T>(&self, name: &str, read: impl FnOnce(Node<'a>) -> Option<T>) -> Option<T> {
        match self.field(name) {
            Some(field) => read(field),
            None => self
                .node
                .at(name, self.node.value)
                .refuse("is missing; must be given"),
        }
    }

    /// The field `name` read by `read`, if it is there; `None` also where it is wrong.
    pub fn optional<T>(&self, name: &str, read: impl FnOnce(Node<'a>) -> Option<T>) -> Option<T> {
        self.field(name).and_then(read)
    }
}

fn bounds<T: std::fmt::Display>(low: &T, high: &T, open: bool) -> String {
    if open {
        format!("of at least {low}")
    } else {
        format!("from {low} to {high}")
    }
}

/// The value as it was written, cut short.
fn shown(value: &Value) -> String {
    const MOST_SHOWN: usize = 40;
    let text = match value {
        Value::Object(_) => return "an object".to_owned(),
        Value::Array(_) => return "a list".to_owned(),
        other => other.to_string(),
    };
    if text.chars().nth(MOST_SHOWN).is_none() {
        return text;
    }
    text.chars().take(MOST_SHOWN).chain(['…']).collect()
}
