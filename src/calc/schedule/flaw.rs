//! What is wrong with a request, and where.

use std::collections::BTreeMap;

/// The most flaws that are listed; one more line says how many others there are.
pub const MAX_FLAWS: usize = 1_000;

/// One step of the way to a flaw in the request.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step {
    Field(&'static str),
    Index(usize),
    /// The id by which a calendar or a resource is named.
    Key(String),
}

/// What is wrong with a request, where, and what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flaw {
    pub path: Vec<Step>,
    pub detail: String,
}

pub(super) struct Flaws {
    pub list: Vec<Flaw>,
    pub more: usize,
}

impl Flaws {
    pub fn add(&mut self, path: Vec<Step>, detail: String) {
        if self.list.len() < MAX_FLAWS {
            self.list.push(Flaw { path, detail });
        } else {
            self.more += 1;
        }
    }
}

pub(super) fn field(name: &'static str) -> Step {
    Step::Field(name)
}

/// `/list/index/name`, without the last where it is empty.
pub(super) fn place(list: &'static str, index: usize, name: &'static str) -> Vec<Step> {
    let mut path = vec![field(list), Step::Index(index)];
    if !name.is_empty() {
        path.push(field(name));
    }
    path
}

/// Names to indexes; a repeated name is a flaw.
pub(super) fn index_ids<'a>(
    ids: impl Iterator<Item = &'a str>,
    path: impl Fn(usize) -> Vec<Step>,
    flaws: &mut Flaws,
) -> BTreeMap<&'a str, usize> {
    let mut index = BTreeMap::new();
    for (i, id) in ids.enumerate() {
        if let Some(first) = index.get(id) {
            flaws.add(
                path(i),
                format!("is {id:?}, as number {first} is; ids must be unique"),
            );
        } else {
            index.insert(id, i);
        }
    }
    index
}
