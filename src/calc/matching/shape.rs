//! What never changes while prices do: the grid sizes of one group of pieces.

use super::model::{Clear, Group, Part, PieceClass};

/// Grid sizes of a group. Lengths count with one crosscut kerf added and widths with one rip
/// kerf, so that the parts of a cut simply add up to no more than the whole.
#[derive(Clone, Debug)]
pub(super) struct Shape {
    pub rips: Vec<RipShape>,
    pub widths: Vec<WidthShape>,
    /// Longest clear stretch of any piece, in grid units with its kerf.
    pub longest: usize,
    pub widest: usize,
    /// Least grid length of a kept remainder, with its kerf.
    pub keep_length: usize,
    pub keep_width: usize,
    /// Least grid length of a section that may be ripped.
    pub rip_length: usize,
    /// The kerfs, in grid units.
    pub crosscut_kerf: f64,
    pub rip_kerf: f64,
    pub shortest: usize,
    /// Lengths at which a section can gain: sums of strips, with and without the shortest kept
    /// remainder behind them, and the shortest that may be ripped.
    pub breakpoints: Vec<usize>,
    /// How many lengths can be left of a piece behind its sections.
    rests: usize,
}

#[derive(Clone, Debug)]
pub(super) struct RipShape {
    pub width: i64,
    pub units: usize,
    /// Grid length and class of each strip of this width, by length.
    pub strips: Vec<(usize, usize)>,
    pub is_keepable: bool,
}

/// One width of usable rectangle.
#[derive(Clone, Debug)]
pub(super) struct WidthShape {
    pub width: i64,
    pub units: usize,
    /// The rip that takes the whole width, which needs no cut.
    pub whole: Option<usize>,
    pub is_keepable: bool,
    /// Only one strip fits across and nothing beside it is kept, and each strip may stand in a
    /// section of its own: the problem is one-dimensional, with these lengths and classes.
    pub line: Option<Vec<(usize, usize)>>,
    pub longest: usize,
}

/// Steps that the tables of all groups may take in one round of pricing: a fraction of a second.
const MOST_STEPS: f64 = 2e7;
/// The same for looking up what is left of a length behind each section.
const MOST_LOOKUPS: f64 = 2e8;
/// Cells of the tables of one group, if all that can be asked for is: half a gigabyte.
const MOST_CELLS: f64 = 6e7;

/// The shapes of a part's groups. Its grid is made coarser until their tables can be filled in good time and little memory.
pub(super) fn bounded(part: &mut Part) -> Vec<Shape> {
    let mut members: Vec<Vec<usize>> = vec![Vec::new(); part.groups.len()];
    for (index, piece) in part.pieces.iter().enumerate() {
        members[piece.group].push(index);
    }
    loop {
        // To know the breakpoints takes as long as to fill the tables of rips.
        while steps_along(part, &members) > MOST_STEPS {
            part.coarsen(true);
        }
        let (longest, widest) = extent(part);
        let is_coarsest = longest <= 1 && widest <= 1;
        let mut shapes = Vec::with_capacity(part.groups.len());
        let mut load = Load::default();
        // With the first group that is too much the rest need not be known: there may be thousands.
        for (group, members) in members.iter().enumerate() {
            let shape = Shape::new(part, group, members);
            load.add(&shape);
            shapes.push(shape);
            if !is_coarsest && !load.is_bearable() {
                break;
            }
        }
        if shapes.len() == part.groups.len() && (is_coarsest || load.is_bearable()) {
            return shapes;
        }
        part.coarsen(longest >= widest);
    }
}

/// The longest clear stretch and the widest piece, in grid units with their kerfs.
fn extent(part: &Part) -> (i64, i64) {
    let habits = &part.habits;
    let units = |size: i64, unit: i64| (size + unit - 1).div_euclid(unit);
    let clear = part.pieces.iter().flat_map(|piece| &piece.clear);
    let longest = clear
        .map(|clear| clear.to - clear.earliest)
        .max()
        .unwrap_or(0);
    let widest = part.pieces.iter().map(|piece| piece.usable_width);
    let widest = widest.max().unwrap_or(0);
    (
        units(longest + habits.crosscut_kerf, part.grid.along),
        units(widest + habits.rip_kerf, part.grid.across),
    )
}

/// What it takes to fill the tables of sections and of lengths.
#[derive(Default)]
struct Load {
    steps: f64,
    lookups: f64,
    /// Of one group: tables are kept for one at a time.
    cells: f64,
}

impl Load {
    fn add(&mut self, shape: &Shape) {
        self.steps += shape.steps();
        self.lookups += shape.lookups();
        self.cells = self.cells.max(shape.cells());
    }

    fn is_bearable(&self) -> bool {
        self.steps <= MOST_STEPS && self.lookups <= MOST_LOOKUPS && self.cells <= MOST_CELLS
    }
}

/// Steps to fill the tables of rips of all groups once.
fn steps_along(part: &Part, members: &[Vec<usize>]) -> f64 {
    let of_group = |(group, members): (&Group, &Vec<usize>)| {
        let n_strips: usize = group.rips.iter().map(|rip| rip.classes.len()).sum();
        let clear = members.iter().flat_map(|&piece| &part.pieces[piece].clear);
        let longest = clear
            .map(|clear| clear.to - clear.earliest)
            .max()
            .unwrap_or(0);
        // A table of no length is one step, which no coarser grid spares.
        (longest / part.grid.along) as f64 * n_strips as f64
    };
    part.groups.iter().zip(members).map(of_group).sum()
}

impl Shape {
    /// `members` are the places of the group's pieces.
    fn new(part: &Part, group: usize, members: &[usize]) -> Shape {
        let habits = &part.habits;
        let (along, across) = (part.grid.along, part.grid.across);
        let down = |size: i64, unit: i64| usize::try_from(size.div_euclid(unit)).unwrap_or(0);
        let up =
            |size: i64, unit: i64| usize::try_from((size + unit - 1).div_euclid(unit)).unwrap_or(0);
        let rips: Vec<RipShape> = part.groups[group]
            .rips
            .iter()
            .map(|rip| {
                let mut strips: Vec<(usize, usize)> = rip
                    .classes
                    .iter()
                    .map(|&class| {
                        let length = part.strips[class].length + habits.crosscut_kerf;
                        (down(length, along).max(1), class)
                    })
                    .collect();
                strips.sort_unstable();
                RipShape {
                    width: rip.width,
                    units: down(rip.width + habits.rip_kerf, across).max(1),
                    strips,
                    is_keepable: rip.width >= habits.keep_width,
                }
            })
            .collect();
        let pieces: Vec<&PieceClass> = members.iter().map(|&piece| &part.pieces[piece]).collect();
        let length = |clear: &Clear| up(clear.to - clear.earliest + habits.crosscut_kerf, along);
        let longest_of = |piece: &PieceClass| piece.clear.iter().map(length).max().unwrap_or(0);
        let longest = pieces
            .iter()
            .map(|piece| longest_of(piece))
            .max()
            .unwrap_or(0);
        let mut widths: Vec<i64> = pieces.iter().map(|piece| piece.usable_width).collect();
        widths.sort_unstable();
        widths.dedup();
        let rip_length = down(habits.min_rip_length + habits.crosscut_kerf, along);
        let keep_length = down(habits.keep_length + habits.crosscut_kerf, along).max(1);
        let shortest = rips
            .iter()
            .flat_map(|rip| rip.strips.iter().map(|strip| strip.0))
            .min()
            .unwrap_or(usize::MAX);
        let widths: Vec<WidthShape> = widths
            .into_iter()
            .map(|width| {
                let longest = pieces
                    .iter()
                    .filter(|piece| piece.usable_width == width)
                    .map(|piece| longest_of(piece))
                    .max()
                    .unwrap_or(0);
                WidthShape {
                    width,
                    units: up(width + habits.rip_kerf, across),
                    whole: rips.iter().position(|rip| rip.width == width),
                    is_keepable: width >= habits.keep_width,
                    line: None,
                    longest,
                }
            })
            .collect();
        let widest = widths.iter().map(|width| width.units).max().unwrap_or(0);
        let mut shape = Shape {
            rips,
            widths,
            longest,
            widest,
            keep_length,
            keep_width: down(habits.keep_width + habits.rip_kerf, across).max(1),
            rip_length,
            crosscut_kerf: habits.crosscut_kerf as f64 / along as f64,
            rip_kerf: habits.rip_kerf as f64 / across as f64,
            shortest,
            breakpoints: Vec::new(),
            rests: 0,
        };
        let has_credit = habits.credit.0 > 0;
        for index in 0..shape.widths.len() {
            let line = shape.line(
                &shape.widths[index],
                habits.keep_width,
                habits.rip_kerf,
                has_credit,
            );
            shape.widths[index].line = line;
        }
        if shape.widths.iter().any(|width| width.line.is_none()) {
            shape.breakpoints = shape.breakpoints(has_credit);
            let clear = pieces.iter().flat_map(|piece| &piece.clear);
            shape.rests = shape.rests(clear.map(length));
        }
        shape
    }

    /// The strips of a one-dimensional width, if this is one.
    fn line(
        &self,
        width: &WidthShape,
        keep_width: i64,
        rip_kerf: i64,
        has_credit: bool,
    ) -> Option<Vec<(usize, usize)>> {
        let fitting: Vec<&RipShape> = self
            .rips
            .iter()
            .filter(|rip| rip.width <= width.width)
            .collect();
        let narrowest = fitting.first()?;
        let is_single = 2 * narrowest.units > width.units;
        let keeps_beside = has_credit && width.width - narrowest.width - rip_kerf >= keep_width;
        if !is_single || keeps_beside {
            return None;
        }
        let mut strips = Vec::new();
        for rip in fitting {
            for &(length, class) in &rip.strips {
                if rip.width != width.width && length < self.rip_length {
                    return None;
                }
                strips.push((length, class));
            }
        }
        strips.sort_unstable();
        strips.dedup();
        Some(strips)
    }

    fn breakpoints(&self, has_credit: bool) -> Vec<usize> {
        let mut is_sum = vec![false; self.longest + 1];
        for rip in &self.rips {
            let mut reached = vec![false; self.longest + 1];
            reached[0] = true;
            for at in 0..=self.longest {
                if !reached[at] {
                    continue;
                }
                for &(length, _) in &rip.strips {
                    if let Some(place) = reached.get_mut(at + length) {
                        *place = true;
                    }
                }
            }
            for (sum, reached) in is_sum.iter_mut().zip(reached) {
                *sum |= reached;
            }
        }
        let mut points: Vec<usize> = (0..=self.longest).filter(|&at| is_sum[at]).collect();
        if has_credit {
            let with_keep: Vec<usize> = points.iter().map(|at| at + self.keep_length).collect();
            points.extend(with_keep);
        }
        points.push(self.rip_length);
        points.retain(|&at| at >= 1 && at <= self.longest);
        points.sort_unstable();
        points.dedup();
        points
    }

    /// Lengths that can be left of clear stretches of these lengths, those among them.
    fn rests(&self, wholes: impl Iterator<Item = usize>) -> usize {
        let mut is_left = vec![false; self.longest + 1];
        for whole in wholes {
            is_left[whole] = true;
        }
        let strips = self.rips.iter().flat_map(|rip| &rip.strips);
        let mut steps: Vec<usize> = strips.map(|strip| strip.0).collect();
        steps.extend([self.keep_length, self.rip_length]);
        steps.sort_unstable();
        steps.dedup();
        for at in (1..=self.longest).rev() {
            if is_left[at] {
                for &step in &steps {
                    if step > at {
                        break;
                    }
                    is_left[at - step] = true;
                }
            }
        }
        is_left.into_iter().filter(|&is_left| is_left).count()
    }

    /// Steps to fill the tables of sections once.
    fn steps(&self) -> f64 {
        self.breakpoints.len() as f64 * self.widest as f64 * self.rips.len() as f64
    }

    /// Look-ups to fill the tables of lengths once.
    fn lookups(&self) -> f64 {
        let widths = self.widths.iter().filter(|width| width.line.is_none());
        widths.count() as f64 * self.rests as f64 * self.breakpoints.len() as f64 / 2.0
    }

    /// Cells of all tables.
    fn cells(&self) -> f64 {
        let rows = self.rests.max(self.breakpoints.len()) as f64;
        rows * self.widest as f64 + self.longest as f64 * self.widths.len() as f64
    }

    /// Index of the width of a piece of this group.
    pub fn width_of(&self, piece: &PieceClass) -> usize {
        self.widths
            .binary_search_by_key(&piece.usable_width, |width| width.width)
            .expect("the widths of all pieces were collected")
    }
}
