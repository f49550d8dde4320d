//! Small random problems, and every answer to them by the text of the contract alone.

use std::collections::BTreeMap;

use scrapwright::calc::matching::{
    Board, KeepCredit, Outcome, Piece, Request, Section, Shop, Stretch, Strip,
};
use scrapwright::units::{Length, Money};

/// A small generator of numbers, so that every run sees the same problems.
pub struct Random(pub u64);

impl Random {
    pub fn below(&mut self, limit: u64) -> i64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 20) % limit) as i64
    }

    pub fn chance(&mut self, percent: u64) -> bool {
        self.below(100) < percent as i64
    }
}

pub fn mm(mm: i64) -> Length {
    Length::from_mm(mm)
}

/// A problem in whole millimetres, small enough to try everything.
pub fn small_request(random: &mut Random, has_inner_flaws: bool) -> Request {
    let species = ["maple", "walnut"];
    let stock = (0..1 + random.below(3))
        .map(|index| {
            let length = 4 + random.below(9);
            let mut unusable = Vec::new();
            if random.chance(35) {
                let (from, to) = match random.below(if has_inner_flaws { 3 } else { 2 }) {
                    0 => (0, 1 + random.below(3)),
                    1 => (length - 1 - random.below(3), length),
                    _ => (length / 2, length / 2 + random.below(2)),
                };
                unusable.push(Stretch {
                    from: mm(from.max(0)),
                    to: mm(to),
                });
            }
            Piece {
                id: format!("piece {index}"),
                species: species[random.below(2) as usize].to_owned(),
                length: mm(length),
                width: mm(1 + random.below(6)),
                thickness: mm(1 + random.below(2)),
                count: 1 + random.below(2) as u32,
                unusable,
                square_ends: random.chance(50),
                straight_edges: random.chance(50),
                preference: 0,
            }
        })
        .collect();
    let buy = (0..random.below(2))
        .map(|index| Board {
            id: format!("board {index}"),
            species: species[random.below(2) as usize].to_owned(),
            length: mm(6 + random.below(5)),
            width: mm(2 + random.below(3)),
            thickness: mm(2),
            unusable: Vec::new(),
            square_ends: true,
            straight_edges: random.chance(50),
            price: Money::from_cents(100 + 50 * random.below(4)),
        })
        .collect();
    let strips = (0..1 + random.below(3))
        .map(|index| {
            let sections: Vec<Section> = (0..1 + random.below(2))
                .map(|_| Section {
                    rip: mm(1 + random.below(3)),
                    thickness: mm(1 + random.below(2)),
                })
                .collect();
            let mut names = vec![species[random.below(2) as usize].to_owned()];
            if random.chance(30) {
                names = species.iter().map(|&name| name.to_owned()).collect();
            }
            Strip {
                id: format!("strip {index}"),
                species: names,
                count: 1 + random.below(2) as u32,
                length: mm(2 + random.below(4)),
                sections,
            }
        })
        .collect();
    let shop = Shop {
        rip_kerf: mm(random.below(2)),
        crosscut_kerf: mm(random.below(3)),
        edge_trim: mm(random.below(2)),
        end_trim: mm(random.below(2)),
        min_rip_length: mm(random.below(7)),
        keep_length: mm(1 + random.below(4)),
        keep_width: mm(1 + random.below(3)),
        keep_credit: KeepCredit::from_billionths(250_000_000 * random.below(5) as u32)
            .expect("at most one"),
    };
    Request {
        stock,
        buy,
        strips,
        shop,
    }
}

/// Strips taken, with the largest area that can be kept beside them.
type Options = BTreeMap<Vec<u32>, i64>;

fn merge(options: &mut Options, taken: Vec<u32>, kept: i64) {
    let best = options.entry(taken).or_insert(kept);
    *best = (*best).max(kept);
}

/// Every layout of one piece, by the text of the contract alone.
struct Brute<'a> {
    request: &'a Request,
    species: &'a str,
    thickness: Length,
    unusable: &'a [Stretch],
}

impl Brute<'_> {
    fn is_clear(&self, start: i64, length: i64) -> bool {
        self.unusable
            .iter()
            .all(|flaw| mm(start) >= flaw.to || flaw.from >= mm(start + length))
    }

    /// What a rectangle can be without a further cut.
    fn leaves(&self, start: i64, length: i64, width: i64) -> Options {
        let mut options = Options::new();
        let none = vec![0; self.request.strips.len()];
        merge(&mut options, none.clone(), 0);
        if length <= 0 || width <= 0 || !self.is_clear(start, length) {
            return options;
        }
        let shop = &self.request.shop;
        if mm(length) >= shop.keep_length && mm(width) >= shop.keep_width {
            merge(&mut options, none.clone(), length * width);
        }
        for (index, strip) in self.request.strips.iter().enumerate() {
            let fits = strip.length == mm(length)
                && strip.species.iter().any(|name| name == self.species)
                && strip
                    .sections
                    .iter()
                    .any(|section| section.rip == mm(width) && section.thickness <= self.thickness);
            if fits {
                let mut taken = none.clone();
                taken[index] = 1;
                merge(&mut options, taken, 0);
            }
        }
        options
    }

    fn cut(&self, level: usize, start: i64, length: i64, width: i64) -> Options {
        let shop = &self.request.shop;
        let is_rip = level == 1;
        let whole = if is_rip { width } else { length };
        let kerf = if is_rip {
            shop.rip_kerf
        } else {
            shop.crosscut_kerf
        };
        let kerf = kerf.nm() / 1_000_000;
        let may_cut = !is_rip || mm(length) >= shop.min_rip_length;
        // By position of the next part: what has been taken before it.
        let mut before: Vec<Options> = vec![Options::new(); (whole + 1) as usize];
        before[0].insert(vec![0; self.request.strips.len()], 0);
        let mut result = Options::new();
        for at in 0..=whole {
            if before[at as usize].is_empty() {
                continue;
            }
            let here = before[at as usize].clone();
            for size in 0..=whole - at {
                let is_last = at + size == whole;
                if !is_last && !may_cut {
                    continue;
                }
                let options = if is_rip {
                    self.part(level, start, length, size)
                } else {
                    self.part(level, start + at, size, width)
                };
                let next = at + size + kerf;
                for (taken, kept) in &here {
                    for (more, area) in &options {
                        let sum: Vec<u32> = taken.iter().zip(more).map(|(a, b)| a + b).collect();
                        let too_many = sum
                            .iter()
                            .zip(&self.request.strips)
                            .any(|(sum, strip)| *sum > strip.count);
                        if too_many {
                            continue;
                        }
                        if is_last {
                            merge(&mut result, sum, kept + area);
                        } else if next >= whole {
                            // The kerf reaches the end or runs off it; waste of nothing follows.
                            merge(&mut result, sum, kept + area);
                        } else if size > 0 || kerf > 0 {
                            merge(&mut before[next as usize], sum, kept + area);
                        }
                    }
                }
            }
        }
        result
    }

    fn part(&self, level: usize, start: i64, length: i64, width: i64) -> Options {
        let mut options = self.leaves(start, length, width);
        if level < 2 && length > 0 && width > 0 {
            for (taken, kept) in self.cut(level + 1, start, length, width) {
                merge(&mut options, taken, kept);
            }
        }
        options
    }
}

/// The best of all answers: missing strips, cents, scaled net wood.
pub fn brute_force(request: &Request) -> (u32, i64, i128) {
    let (numerator, denominator) = request.shop.keep_credit.fraction();
    let wanted: Vec<u32> = request.strips.iter().map(|strip| strip.count).collect();
    let total: u32 = wanted.iter().sum();
    let mut states: BTreeMap<Vec<u32>, (i64, i128)> = BTreeMap::new();
    states.insert(vec![0; wanted.len()], (0, 0));
    for piece in request.pieces() {
        let (length, width) = piece.usable(&request.shop);
        if !length.is_positive() || !width.is_positive() {
            continue;
        }
        let brute = Brute {
            request,
            species: piece.species,
            thickness: piece.thickness,
            unusable: piece.unusable,
        };
        let nm = |length: Length| length.nm() / 1_000_000;
        let options = brute.cut(0, nm(piece.start(&request.shop)), nm(length), nm(width));
        let volume = i128::from(nm(piece.length))
            * i128::from(nm(piece.width))
            * i128::from(nm(piece.thickness));
        for _ in 0..piece.count.unwrap_or(total) {
            let mut next = states.clone();
            for (taken, (spend, wood)) in &states {
                for (more, kept) in &options {
                    if more.iter().all(|count| *count == 0) {
                        continue;
                    }
                    let sum: Vec<u32> = taken.iter().zip(more).map(|(a, b)| a + b).collect();
                    if sum.iter().zip(&wanted).any(|(sum, wanted)| sum > wanted) {
                        continue;
                    }
                    let kept = i128::from(*kept) * i128::from(nm(piece.thickness));
                    let worth = (
                        spend + piece.price.cents(),
                        wood + volume * denominator - kept * numerator,
                    );
                    let best = next.entry(sum).or_insert(worth);
                    *best = (*best).min(worth);
                }
            }
            states = next;
        }
    }
    states
        .into_iter()
        .map(|(taken, (spend, wood))| (total - taken.iter().sum::<u32>(), spend, wood))
        .min()
        .expect("doing nothing is an answer")
}

pub fn worth(request: &Request, outcome: &Outcome) -> (u32, i64, i128) {
    let total: u32 = request.strips.iter().map(|strip| strip.count).sum();
    let cubic_mm = 1_000_000_i128.pow(3);
    assert_eq!(outcome.net_wood.scaled() % cubic_mm, 0);
    (
        total - outcome.covered,
        outcome.spend.cents(),
        outcome.net_wood.scaled() / cubic_mm,
    )
}
