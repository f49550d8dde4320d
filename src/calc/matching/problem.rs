//! A checked problem: every flaw reported at once.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Display;

use Step::{Field, Index};

use super::request::{Request, Section, Shop, Stock, Stretch, Strip};
use crate::units::{Length, Money};

/// The most entries of `stock` and of `buy`.
pub const MAX_ENTRIES: usize = 100_000;
/// The most entries of `strips`: layouts name them by 16 bits.
pub const MAX_KINDS: usize = 50_000;
/// The most strips that are wanted in all.
pub const MAX_STRIPS: u64 = 100_000;
/// The most pairs of an entry of `stock` or `buy` and a section of a strip of its species: what a
/// solve keeps in memory grows with them.
pub const MAX_PAIRS: usize = 4_000_000;
/// The most unusable stretches, species or sections of one entry.
pub const MAX_DETAILS: usize = 100;
/// The most flaws that are listed; one more line says how many others there are.
pub const MAX_FLAWS: usize = 1_000;

/// One step of the way to a flaw in the request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    Field(&'static str),
    Index(usize),
}

/// What is wrong with a request, where, and what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flaw {
    pub path: Vec<Step>,
    /// "is X; must be Y".
    pub detail: String,
}

/// A request without flaws.
#[derive(Clone, Debug)]
pub struct Problem {
    request: Request,
}

impl Problem {
    /// Checks everything; the error lists every flaw.
    pub fn new(request: Request) -> Result<Problem, Vec<Flaw>> {
        let mut flaws = Flaws::default();
        flaws.sizes(&request);
        flaws.pieces(&request);
        flaws.strips(&request.strips);
        flaws.shop(&request.shop);
        flaws.volume(&request);
        if flaws.listed.is_empty() {
            Ok(Problem { request })
        } else {
            Err(flaws.finish())
        }
    }

    pub fn request(&self) -> &Request {
        &self.request
    }

    pub fn into_request(self) -> Request {
        self.request
    }
}

#[derive(Default)]
struct Flaws {
    listed: Vec<Flaw>,
    unlisted: usize,
}

impl Flaws {
    fn add(&mut self, path: &[Step], detail: impl Into<String>) {
        if self.listed.len() < MAX_FLAWS {
            self.listed.push(Flaw {
                path: path.to_vec(),
                detail: detail.into(),
            });
        } else {
            self.unlisted += 1;
        }
    }

    fn finish(mut self) -> Vec<Flaw> {
        if self.unlisted > 0 {
            self.listed.push(Flaw {
                path: Vec::new(),
                detail: format!("has {} more flaws; must have none", self.unlisted),
            });
        }
        self.listed
    }

    fn at_most(&mut self, path: &[Step], found: impl Display, is_over: bool, most: impl Display) {
        if is_over {
            self.add(
                path,
                format!("has {found} entries; must have at most {most}"),
            );
        }
    }

    fn sizes(&mut self, request: &Request) {
        for (name, entries, most) in [
            ("stock", request.stock.len(), MAX_ENTRIES),
            ("buy", request.buy.len(), MAX_ENTRIES),
            ("strips", request.strips.len(), MAX_KINDS),
        ] {
            self.at_most(&[Field(name)], entries, entries > most, most);
        }
        let wanted: u64 = request
            .strips
            .iter()
            .map(|strip| u64::from(strip.count))
            .sum();
        if wanted > MAX_STRIPS {
            let detail = format!("asks for {wanted} strips; must ask for at most {MAX_STRIPS}");
            self.add(&[Field("strips")], detail);
        }
        let mut sections: BTreeMap<&str, usize> = BTreeMap::new();
        for strip in &request.strips {
            let species: BTreeSet<&str> = strip.species.iter().map(String::as_str).collect();
            for name in species {
                *sections.entry(name).or_default() += strip.sections.len();
            }
        }
        let of = |piece: Stock<'_>| sections.get(piece.species).copied().unwrap_or(0);
        let pairs: usize = request.pieces().map(of).sum();
        if pairs > MAX_PAIRS {
            let detail = format!(
                "has {pairs} pairs of a piece and a section for it; must have at most {MAX_PAIRS}: leave out pieces that are \
                 too small, or match in turns"
            );
            self.add(&[Field("strips")], detail);
        }
    }

    fn pieces(&mut self, request: &Request) {
        let mut places: BTreeMap<&str, String> = BTreeMap::new();
        for (position, piece) in request.pieces().enumerate() {
            let place = match position.checked_sub(request.stock.len()) {
                None => [Field("stock"), Index(position)],
                Some(position) => [Field("buy"), Index(position)],
            };
            let [Field(list), Index(index)] = place else {
                continue;
            };
            self.id(&place, piece.id, &mut places, format!("{list}/{index}"));
            if piece.species.trim().is_empty() {
                self.add(
                    &[place[0], place[1], Field("species")],
                    "is empty; must be a species",
                );
            }
            for (name, size) in [
                ("length", piece.length),
                ("width", piece.width),
                ("thickness", piece.thickness),
            ] {
                self.positive(&[place[0], place[1], Field(name)], size);
            }
            if piece.count == Some(0) {
                let detail = "is 0; must be a whole number of at least 1";
                self.add(&[place[0], place[1], Field("count")], detail);
            }
            if !(Money::ZERO..=Money::MOST).contains(&piece.price) {
                let detail = format!("is {}; must be from 0 to {}", piece.price, Money::MOST);
                self.add(&[place[0], place[1], Field("price")], detail);
            }
            self.unusable(&place, piece.unusable);
        }
    }

    fn unusable(&mut self, place: &[Step; 2], stretches: &[Stretch]) {
        let list = [place[0], place[1], Field("unusable")];
        let found = stretches.len();
        self.at_most(&list, found, found > MAX_DETAILS, MAX_DETAILS);
        for (position, stretch) in stretches.iter().enumerate() {
            let from = [list[0], list[1], list[2], Index(position), Field("from")];
            let to = [list[0], list[1], list[2], Index(position), Field("to")];
            self.not_negative(&from, stretch.from);
            self.not_negative(&to, stretch.to);
            if stretch.to < stretch.from {
                let detail = format!(
                    "is {}; must not be before `from`, which is {}",
                    stretch.to, stretch.from
                );
                self.add(&to, detail);
            }
        }
    }

    fn strips(&mut self, strips: &[Strip]) {
        let mut places = BTreeMap::new();
        for (position, strip) in strips.iter().enumerate() {
            let place = [Field("strips"), Index(position)];
            self.id(&place, &strip.id, &mut places, format!("strips/{position}"));
            self.positive(&[place[0], place[1], Field("length")], strip.length);
            if strip.count == 0 {
                let detail = "is 0; must be a whole number of at least 1";
                self.add(&[place[0], place[1], Field("count")], detail);
            }
            for (name, entries) in [
                ("species", strip.species.len()),
                ("sections", strip.sections.len()),
            ] {
                let list = [place[0], place[1], Field(name)];
                self.at_most(&list, entries, entries > MAX_DETAILS, MAX_DETAILS);
                if entries == 0 {
                    self.add(&list, "is empty; must have at least one entry");
                }
            }
            for (index, species) in strip.species.iter().enumerate() {
                if species.trim().is_empty() {
                    let path = [place[0], place[1], Field("species"), Index(index)];
                    self.add(&path, "is empty; must be a species");
                }
            }
            for (index, Section { rip, thickness }) in strip.sections.iter().enumerate() {
                for (name, size) in [("rip", *rip), ("thickness", *thickness)] {
                    let list = Field("sections");
                    let path = [place[0], place[1], list, Index(index), Field(name)];
                    self.positive(&path, size);
                }
            }
        }
    }

    fn shop(&mut self, shop: &Shop) {
        for (name, size) in [
            ("rip_kerf", shop.rip_kerf),
            ("crosscut_kerf", shop.crosscut_kerf),
            ("edge_trim", shop.edge_trim),
            ("end_trim", shop.end_trim),
            ("min_rip_length", shop.min_rip_length),
            ("keep_length", shop.keep_length),
            ("keep_width", shop.keep_width),
        ] {
            self.not_negative(&[Field("shop"), Field(name)], size);
        }
    }

    /// Sums of volumes must stay within `i128`.
    fn volume(&mut self, request: &Request) {
        if !self.listed.is_empty() {
            return;
        }
        let wanted: i128 = request
            .strips
            .iter()
            .map(|strip| i128::from(strip.count))
            .sum();
        let (_, denominator) = request.shop.keep_credit.fraction();
        let most = i128::MAX / 4 / denominator;
        let mut total: i128 = 0;
        for piece in request.pieces() {
            let copies = piece
                .count
                .map_or(wanted, |count| wanted.min(i128::from(count)));
            let volume = piece.volume().nm3().checked_mul(copies.max(1));
            total = total.saturating_add(volume.unwrap_or(i128::MAX));
        }
        if total > most {
            let detail = format!(
                "holds {:.0} cubic metres with `buy`; must be at most {:.0}",
                total as f64 / 1e27,
                most as f64 / 1e27
            );
            self.add(&[Field("stock")], detail);
        }
    }

    fn id<'a>(
        &mut self,
        place: &[Step; 2],
        id: &'a str,
        places: &mut BTreeMap<&'a str, String>,
        here: String,
    ) {
        let path = [place[0], place[1], Field("id")];
        if id.trim().is_empty() {
            self.add(&path, "is empty; must be an id");
        } else if let Some(other) = places.insert(id, here) {
            let detail = format!("is \"{id}\", which is the id of {other} too; must be unique");
            self.add(&path, detail);
        }
    }

    fn positive(&mut self, path: &[Step], size: Length) {
        if !size.is_positive() {
            self.add(path, format!("is {size}; must be more than 0"));
        }
        self.not_too_long(path, size);
    }

    fn not_negative(&mut self, path: &[Step], size: Length) {
        if size < Length::ZERO {
            self.add(path, format!("is {size}; must not be below 0"));
        }
        self.not_too_long(path, size);
    }

    fn not_too_long(&mut self, path: &[Step], size: Length) {
        if size > Length::LONGEST {
            self.add(
                path,
                format!("is {size}; must be at most {}", Length::LONGEST),
            );
        }
    }
}
