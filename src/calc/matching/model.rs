//! A problem as the search sees it: equal things merged, sizes on a grid, independent parts apart.

use std::collections::BTreeMap;

use super::request::{Request, Stock};
use crate::units::Length;

/// Finer grids than this are made coarser; pricing is then a valid overestimate.
const MAX_GRID: i64 = 1 << 17;
/// Sums of costs stay below this, so that `f64` holds every one exactly.
const EXACT: f64 = (1_u64 << 51) as f64;

/// Strips that are equal but for their ids.
#[derive(Clone, Debug)]
pub(super) struct StripClass {
    pub length: i64,
    /// Rip widths with the least thickness of stock for each, in order of width.
    pub sections: Vec<(i64, i64)>,
    pub count: u32,
    /// Places in the request, with counts, in order.
    pub members: Vec<(usize, u32)>,
}

/// Pieces that are equal but for their ids.
#[derive(Clone, Debug)]
pub(super) struct PieceClass {
    /// Index into `Part::groups`.
    pub group: usize,
    pub length: i64,
    pub width: i64,
    pub thickness: i64,
    pub usable_length: i64,
    pub usable_width: i64,
    /// Clear stretches of the usable rectangle, in order, from its beginning; each as long as the
    /// shortest strip at least.
    pub clear: Vec<Clear>,
    pub price: i64,
    /// How many can be cut; for a board for sale as many as could be of use.
    pub count: u32,
    pub is_bought: bool,
    /// Places among all pieces of the request, with counts, in order of preference.
    pub members: Vec<(usize, u32)>,
    /// Full volume in grid units, credit denominator included.
    pub wood: f64,
}

/// A stretch without flaws.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Clear {
    /// Where contents can begin, from the beginning of the usable rectangle.
    pub from: i64,
    pub to: i64,
    /// Where contents may begin if nothing lies just before the flaw, at the earliest; `from` is for any contents there.
    pub earliest: i64,
    /// Lengths by which a section may reach beyond, over flaws only.
    pub before: i64,
    pub after: i64,
}

/// Pieces of one species and thickness.
#[derive(Clone, Debug)]
pub(super) struct Group {
    pub thickness: i64,
    /// Value of a kept square grid unit at full credit.
    pub keep_value: f64,
    /// Distinct rip widths in order, each with the classes of strips that it gives.
    pub rips: Vec<Rip>,
}

#[derive(Clone, Debug)]
pub(super) struct Rip {
    pub width: i64,
    pub classes: Vec<usize>,
}

/// The grid: whole units along and across the grain, and what a unit of volume is.
#[derive(Clone, Copy, Debug)]
pub(super) struct Grid {
    pub along: i64,
    pub across: i64,
    /// Whether every size is a whole number of units, so that pricing is exact.
    pub is_exact: bool,
    /// Cubic nanometres times the credit's denominator in one unit of `PieceClass::wood`.
    pub volume: i128,
    /// Cost of a unit of wood in the last stage; the units below it tell touched pieces apart.
    pub scale: f64,
}

/// Habits of the shop, in nanometres.
#[derive(Clone, Copy, Debug)]
pub(super) struct Habits {
    pub rip_kerf: i64,
    pub crosscut_kerf: i64,
    pub min_rip_length: i64,
    pub keep_length: i64,
    pub keep_width: i64,
    /// Credit numerator and denominator.
    pub credit: (i128, i128),
}

/// A part of the problem that shares neither strips nor pieces with another.
#[derive(Clone, Debug)]
pub(super) struct Part {
    pub habits: Habits,
    pub grid: Grid,
    pub strips: Vec<StripClass>,
    pub groups: Vec<Group>,
    pub pieces: Vec<PieceClass>,
}

impl Part {
    pub fn wanted(&self) -> u32 {
        self.strips.iter().map(|strip| strip.count).sum()
    }

    /// Doubles the units of the grid along or across the grain; pricing is then a valid overestimate.
    pub fn coarsen(&mut self, along: bool) {
        let unit = if along {
            &mut self.grid.along
        } else {
            &mut self.grid.across
        };
        *unit *= 2;
        self.grid.is_exact = false;
        for group in &mut self.groups {
            group.keep_value *= 2.0;
        }
    }

    /// Kept area to the units of `PieceClass::wood`, per square nanometre exact.
    pub fn kept_wood(&self, piece: &PieceClass, area_nm2: i128) -> f64 {
        let scaled = area_nm2 * i128::from(piece.thickness) * self.habits.credit.0;
        scaled as f64 / self.grid.volume as f64
    }
}

/// Splits a request into its independent parts. Strips that no piece can give are in none.
pub(super) fn parts(request: &Request) -> Vec<Part> {
    let shop = &request.shop;
    let habits = Habits {
        rip_kerf: shop.rip_kerf.nm(),
        crosscut_kerf: shop.crosscut_kerf.nm(),
        min_rip_length: shop.min_rip_length.nm(),
        keep_length: shop.keep_length.nm().max(1),
        keep_width: shop.keep_width.nm().max(1),
        credit: shop.keep_credit.fraction(),
    };
    let (strips, species) = strip_classes(request);
    let pieces = piece_classes(request, &habits, &strips, &species);
    split(habits, strips, pieces)
}

type SpeciesSets = Vec<Vec<usize>>;
/// Species, length, and sections as rip and thickness: strips that are alike in these are one class.
type StripClassKey = (Vec<usize>, i64, Vec<(i64, i64)>);

/// Merged strips, and the species that each may be, as indexes into the sorted names.
fn strip_classes(request: &Request) -> (Vec<StripClass>, (SpeciesSets, Vec<&str>)) {
    let mut names: Vec<&str> = request
        .strips
        .iter()
        .flat_map(|strip| strip.species.iter().map(String::as_str))
        .collect();
    names.sort_unstable();
    names.dedup();
    let mut places: BTreeMap<StripClassKey, usize> = BTreeMap::new();
    let mut classes: Vec<StripClass> = Vec::new();
    let mut sets = Vec::new();
    for (place, strip) in request.strips.iter().enumerate() {
        let mut set: Vec<usize> = strip
            .species
            .iter()
            .filter_map(|name| names.binary_search(&name.as_str()).ok())
            .collect();
        set.sort_unstable();
        set.dedup();
        let mut sections: Vec<(i64, i64)> = strip
            .sections
            .iter()
            .map(|section| (section.rip.nm(), section.thickness.nm()))
            .collect();
        sections.sort_unstable();
        sections.dedup_by_key(|section| section.0);
        let length = strip.length.nm();
        let class = *places
            .entry((set.clone(), length, sections.clone()))
            .or_insert_with(|| {
                sets.push(set);
                classes.push(StripClass {
                    length,
                    sections,
                    count: 0,
                    members: Vec::new(),
                });
                classes.len() - 1
            });
        classes[class].count += strip.count;
        classes[class].members.push((place, strip.count));
    }
    (classes, (sets, names))
}

/// A merged piece with the strips that fit it: (class, rip width).
struct Candidate {
    piece: PieceClass,
    species: usize,
    fits: Vec<(usize, i64)>,
}

fn piece_classes(
    request: &Request,
    habits: &Habits,
    strips: &[StripClass],
    (sets, names): &(SpeciesSets, Vec<&str>),
) -> Vec<Candidate> {
    let mut by_species: Vec<Vec<usize>> = vec![Vec::new(); names.len()];
    for (class, set) in sets.iter().enumerate() {
        for &species in set {
            by_species[species].push(class);
        }
    }
    type Key = (usize, i64, i64, i64, i64, i64, Vec<Clear>, i64, bool);
    let mut places: BTreeMap<Key, usize> = BTreeMap::new();
    let mut candidates: Vec<Candidate> = Vec::new();
    for (place, stock) in request.pieces().enumerate() {
        let Ok(species) = names.binary_search(&stock.species) else {
            continue;
        };
        let (usable_length, usable_width) = stock.usable(&request.shop);
        if !usable_length.is_positive() || !usable_width.is_positive() {
            continue;
        }
        let mut fits = Vec::new();
        for &class in &by_species[species] {
            for &(rip, thickness) in &strips[class].sections {
                let fits_across = rip <= usable_width.nm() && thickness <= stock.thickness.nm();
                let may_rip =
                    rip == usable_width.nm() || usable_length.nm() >= habits.min_rip_length;
                if fits_across && may_rip {
                    fits.push((class, rip));
                }
            }
        }
        let Some(shortest) = fits.iter().map(|&(class, _)| strips[class].length).min() else {
            continue;
        };
        let least = shortest.min(habits.keep_length);
        let clear = useful_stretches(&stock, usable_length, request, habits.crosscut_kerf, least);
        let longest = clear
            .iter()
            .map(|clear| clear.to - clear.earliest)
            .max()
            .unwrap_or(0);
        fits.retain(|&(class, _)| strips[class].length <= longest);
        if fits.is_empty() {
            continue;
        }
        let is_bought = stock.count.is_none();
        let key = (
            species,
            stock.thickness.nm(),
            stock.length.nm(),
            stock.width.nm(),
            usable_length.nm(),
            usable_width.nm(),
            clear.clone(),
            stock.price.cents(),
            is_bought,
        );
        let useful: u32 = {
            let mut classes: Vec<usize> = fits.iter().map(|&(class, _)| class).collect();
            classes.dedup();
            classes.iter().map(|&class| strips[class].count).sum()
        };
        let index = *places.entry(key).or_insert_with(|| {
            candidates.push(Candidate {
                piece: PieceClass {
                    group: 0,
                    length: stock.length.nm(),
                    width: stock.width.nm(),
                    thickness: stock.thickness.nm(),
                    usable_length: usable_length.nm(),
                    usable_width: usable_width.nm(),
                    clear,
                    price: stock.price.cents(),
                    count: 0,
                    is_bought,
                    members: Vec::new(),
                    wood: 0.0,
                },
                species,
                fits,
            });
            candidates.len() - 1
        });
        let piece = &mut candidates[index].piece;
        let count = stock.count.unwrap_or(useful);
        piece.count = piece.count.saturating_add(count).min(useful);
        piece.members.push((place, count));
    }
    let preference: Vec<u32> = request.pieces().map(|stock| stock.preference).collect();
    for candidate in &mut candidates {
        candidate
            .piece
            .members
            .sort_by_key(|&(place, _)| (preference[place], place));
    }
    candidates
}

/// The clear stretches that are at least so long. A shorter one is of no use, so that sections may reach over
/// it as over a flaw, and contents behind it may begin where they would behind a flaw.
fn useful_stretches(
    stock: &Stock<'_>,
    usable: Length,
    request: &Request,
    kerf: i64,
    least: i64,
) -> Vec<Clear> {
    let mut useless = Vec::new();
    loop {
        let clear = clear_stretches(stock, usable, request, kerf, &useless);
        let n_useless = useless.len();
        useless.extend(
            clear
                .iter()
                .filter(|clear| clear.to - clear.earliest < least)
                .map(|clear| (clear.earliest, clear.to)),
        );
        if useless.len() == n_useless {
            return clear;
        }
    }
}

/// The stretches of the usable rectangle in which strips may lie. `useless` ones count as flaws.
fn clear_stretches(
    stock: &Stock<'_>,
    usable: Length,
    request: &Request,
    kerf: i64,
    useless: &[(i64, i64)],
) -> Vec<Clear> {
    let start = stock.start(&request.shop).nm();
    let end = usable.nm();
    let mut flaws: Vec<(i64, i64)> = stock
        .unusable
        .iter()
        .map(|stretch| (stretch.from.nm() - start, stretch.to.nm() - start))
        .filter(|&(from, to)| to > 0 && from < end)
        .chain(useless.iter().copied())
        .collect();
    flaws.sort_unstable();
    let mut clear: Vec<Clear> = Vec::new();
    // Where the last flaw began and how far the flaws so far reach.
    let (mut from, mut reach) = (0, 0);
    let (mut earliest, mut before) = (0, 0);
    for (flaw_from, flaw_to) in flaws.into_iter().chain([(end, end)]) {
        if flaw_from > earliest {
            clear.push(Clear {
                from: from.min(flaw_from),
                to: flaw_from,
                earliest,
                before,
                after: 0,
            });
        }
        if flaw_to > reach || flaw_from > reach {
            let flaw_start = clear.last().map_or(0, |clear| clear.to);
            reach = reach.max(flaw_to);
            // Contents after a flaw begin behind it and behind a whole kerf, or two with waste
            // between them where one alone would not clear it.
            let length = reach - flaw_start;
            from = if clear.is_empty() {
                reach.max(kerf)
            } else if length <= kerf {
                flaw_start + kerf
            } else {
                reach.max(flaw_start + 2 * kerf)
            };
            earliest = reach.max(kerf);
            before = from - flaw_start;
        }
    }
    let starts: Vec<i64> = clear.iter().skip(1).map(|clear| clear.from).collect();
    let count = clear.len();
    for (index, clear) in clear.iter_mut().enumerate() {
        clear.after = if index + 1 < count {
            // What lies behind the flaw is cut off behind a kerf.
            (starts[index] - kerf - clear.to).max(0)
        } else {
            end - clear.to
        };
    }
    clear
}

/// Joins what shares a strip, and makes a part of each.
fn split(habits: Habits, strips: Vec<StripClass>, candidates: Vec<Candidate>) -> Vec<Part> {
    let mut root: Vec<usize> = (0..strips.len()).collect();
    fn find(root: &mut [usize], mut index: usize) -> usize {
        while root[index] != index {
            root[index] = root[root[index]];
            index = root[index];
        }
        index
    }
    let mut reached = vec![false; strips.len()];
    for candidate in &candidates {
        let first = candidate.fits[0].0;
        for &(class, _) in &candidate.fits {
            reached[class] = true;
            let (a, b) = (find(&mut root, first), find(&mut root, class));
            root[a.max(b)] = a.min(b);
        }
    }
    let mut part_of = vec![usize::MAX; strips.len()];
    let mut new_index = vec![0; strips.len()];
    let mut parts: Vec<(Vec<StripClass>, Vec<Candidate>)> = Vec::new();
    for (class, strip) in strips.into_iter().enumerate() {
        if !reached[class] {
            continue;
        }
        let first = find(&mut root, class);
        if part_of[first] == usize::MAX {
            part_of[first] = parts.len();
            parts.push((Vec::new(), Vec::new()));
        }
        part_of[class] = part_of[first];
        let (strips, _) = &mut parts[part_of[class]];
        new_index[class] = strips.len();
        strips.push(strip);
    }
    for mut candidate in candidates {
        let part = part_of[candidate.fits[0].0];
        for (class, _) in &mut candidate.fits {
            *class = new_index[*class];
        }
        parts[part].1.push(candidate);
    }
    parts
        .into_iter()
        .map(|(strips, candidates)| part(habits, strips, candidates))
        .collect()
}

fn part(habits: Habits, strips: Vec<StripClass>, candidates: Vec<Candidate>) -> Part {
    // Groups: all that a species and thickness can give, so that their pieces share tables.
    let mut groups: Vec<Group> = Vec::new();
    let mut places: BTreeMap<(usize, i64), usize> = BTreeMap::new();
    let mut pieces = Vec::new();
    for mut candidate in candidates {
        let key = (candidate.species, candidate.piece.thickness);
        let group = *places.entry(key).or_insert_with(|| {
            groups.push(Group {
                thickness: candidate.piece.thickness,
                keep_value: 0.0,
                rips: Vec::new(),
            });
            groups.len() - 1
        });
        for &(class, width) in &candidate.fits {
            let rips = &mut groups[group].rips;
            let place = match rips.binary_search_by_key(&width, |rip| rip.width) {
                Ok(place) => place,
                Err(place) => {
                    let classes = Vec::new();
                    rips.insert(place, Rip { width, classes });
                    place
                }
            };
            if let Err(place_in) = rips[place].classes.binary_search(&class) {
                rips[place].classes.insert(place_in, class);
            }
        }
        candidate.piece.group = group;
        pieces.push(candidate.piece);
    }
    let wanted: u32 = strips.iter().map(|strip| strip.count).sum();
    let grid = grid(&habits, &strips, &pieces, wanted);
    for piece in &mut pieces {
        let volume = i128::from(piece.length)
            * i128::from(piece.width)
            * i128::from(piece.thickness)
            * habits.credit.1;
        piece.wood = (volume / grid.volume) as f64;
    }
    for group in &mut groups {
        let unit = i128::from(grid.along) * i128::from(grid.across) * i128::from(group.thickness);
        group.keep_value = (unit * habits.credit.0) as f64 / grid.volume as f64;
    }
    Part {
        habits,
        grid,
        strips,
        groups,
        pieces,
    }
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

fn grid(habits: &Habits, strips: &[StripClass], pieces: &[PieceClass], wanted: u32) -> Grid {
    // Where a remainder of any size is kept, the least size is no size that a cut is made at.
    let keep_size = |size: i64| if size > 1 { size } else { 0 };
    let along = strips.iter().map(|strip| strip.length).chain([
        habits.crosscut_kerf,
        keep_size(habits.keep_length),
        habits.min_rip_length,
    ]);
    let along = along.chain(pieces.iter().flat_map(|piece| {
        let clear = piece.clear.iter();
        clear
            .flat_map(|clear| [clear.from, clear.earliest, clear.to])
            .chain([piece.length, piece.usable_length])
    }));
    let along = along.fold(0, gcd).max(1);
    let across = strips
        .iter()
        .flat_map(|strip| strip.sections.iter().map(|section| section.0))
        .chain([habits.rip_kerf, keep_size(habits.keep_width)]);
    let across = across
        .chain(
            pieces
                .iter()
                .flat_map(|piece| [piece.width, piece.usable_width]),
        )
        .fold(0, gcd)
        .max(1);
    let through = pieces
        .iter()
        .map(|piece| piece.thickness)
        .fold(0, gcd)
        .max(1);
    let longest = pieces
        .iter()
        .map(|piece| piece.usable_length)
        .max()
        .unwrap_or(1);
    let widest = pieces
        .iter()
        .map(|piece| piece.usable_width)
        .max()
        .unwrap_or(1);
    let coarse = |unit: i64, most: i64, limit: i64| {
        let least = most / limit + 1;
        if unit >= least {
            (unit, true)
        } else {
            (least, false)
        }
    };
    let (along_unit, exact_along) = coarse(along, longest, MAX_GRID);
    let (across_unit, exact_across) = coarse(across, widest, 1 << 12);
    // Volumes count in the units of the exact grid, or coarser where they would not stay exact.
    let mut volume = i128::from(along) * i128::from(across) * i128::from(through);
    let largest = pieces
        .iter()
        .map(|piece| {
            i128::from(piece.length) * i128::from(piece.width) * i128::from(piece.thickness)
        })
        .max()
        .unwrap_or(1)
        * habits.credit.1;
    let most = |volume: i128| (largest / volume) as f64 * f64::from(wanted + 1);
    let mut is_exact = exact_along && exact_across;
    while most(volume) >= EXACT / 4.0 {
        volume *= 2;
        is_exact = false;
    }
    let mut scale = 1.0;
    while most(volume) * scale * 2.0 < EXACT {
        scale *= 2.0;
    }
    Grid {
        along: along_unit,
        across: across_unit,
        is_exact,
        volume,
        scale,
    }
}
