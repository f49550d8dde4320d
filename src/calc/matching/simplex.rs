//! A linear program with bounded variables, solved by the revised simplex method.
//!
//! `min c x` with `A x + s = b` row by row, `s` being one logical variable for each row, and every
//! variable within its bounds. The inverse of the basis is dense: the programs here have a few
//! hundred rows. Columns may be added while the point stays feasible (then [`Lp::primal`] goes
//! on), and rows or bounds changed while the prices stay right (then [`Lp::dual`] goes on).

mod dual;

const FEASIBLE: f64 = 1e-7;
const OPTIMAL: f64 = 1e-7;
const PIVOT: f64 = 1e-7;
/// Pivots without progress after which the right sides are shaken, and how often at most.
const STUCK: u32 = 40;
const SHAKES: u32 = 6;
/// How far, at least; at most twice as far.
const SHAKE: f64 = 5e-6;
/// Variables that are looked at again before all are.
const PROMISING: usize = 100;
/// Pivots between two inversions from scratch.
const REFACTOR: usize = 120;
/// Pivots after an inversion whose result is taken without a look with clean numbers.
const TRUSTED: usize = 60;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    Optimal,
    Infeasible,
    /// The limit on pivots was reached, or the numbers went bad.
    Stopped,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Basic(usize),
    Lower,
    Upper,
}

#[derive(Clone, Debug, Default)]
pub(super) struct Lp {
    /// Entries of each variable by row.
    columns: Vec<Vec<(u32, f64)>>,
    cost: Vec<f64>,
    lower: Vec<f64>,
    upper: Vec<f64>,
    state: Vec<State>,
    right: Vec<f64>,
    /// The basic variable of each row.
    basis: Vec<usize>,
    values: Vec<f64>,
    /// Row by row.
    inverse: Vec<f64>,
    prices: Vec<f64>,
    since_refactor: usize,
    /// The right sides as they are, while those in use are shaken.
    steady: Option<Vec<f64>>,
    /// Variables that promised most when all were last looked at.
    promising: Vec<usize>,
    /// Of the dual method: variables that may move, what each costs beyond the prices, and its entry in the row that
    /// leaves.
    movable: Vec<usize>,
    reduced: Vec<f64>,
    slopes: Vec<f64>,
    pub pivots: u64,
}

/// A basis with all that follows from it, to come back to.
pub(super) struct Point {
    state: Vec<State>,
    basis: Vec<usize>,
    values: Vec<f64>,
    inverse: Vec<f64>,
    prices: Vec<f64>,
    since_refactor: usize,
}

impl Lp {
    /// Where the program stands; to come back to it, rows, columns and bounds must be as now.
    pub fn point(&self) -> Point {
        Point {
            state: self.state.clone(),
            basis: self.basis.clone(),
            values: self.values.clone(),
            inverse: self.inverse.clone(),
            prices: self.prices.clone(),
            since_refactor: self.since_refactor,
        }
    }

    pub fn go_back(&mut self, point: &Point) {
        self.state.clone_from(&point.state);
        self.basis.clone_from(&point.basis);
        self.values.clone_from(&point.values);
        self.inverse.clone_from(&point.inverse);
        self.prices.clone_from(&point.prices);
        self.since_refactor = point.since_refactor;
    }

    pub fn rows(&self) -> usize {
        self.right.len()
    }

    pub fn variables(&self) -> usize {
        self.columns.len()
    }

    /// Adds a row with entries of existing variables; its logical variable, within `slack`, is
    /// basic. Returns that variable.
    pub fn add_row(&mut self, entries: &[(usize, f64)], right: f64, slack: (f64, f64)) -> usize {
        let row = self.rows();
        for &(variable, value) in entries {
            self.columns[variable].push((row as u32, value));
        }
        let logical = self.variables();
        self.columns.push(vec![(row as u32, 1.0)]);
        self.cost.push(0.0);
        self.lower.push(slack.0);
        self.upper.push(slack.1);
        self.state.push(State::Basic(row));
        self.right.push(right);
        if let Some(steady) = &mut self.steady {
            steady.push(right);
        }
        self.basis.push(logical);
        // The new row of the inverse is the unit row less the old ones times its basic entries.
        let old = row;
        let size = row + 1;
        let mut inverse = vec![0.0; size * size];
        for row in 0..old {
            inverse[row * size..row * size + old]
                .copy_from_slice(&self.inverse[row * old..(row + 1) * old]);
        }
        let mut activity = 0.0;
        for &(variable, value) in entries {
            activity += value * self.value(variable);
            if let State::Basic(basic_row) = self.state[variable] {
                for column in 0..old {
                    inverse[old * size + column] -= value * self.inverse[basic_row * old + column];
                }
            }
        }
        inverse[old * size + old] = 1.0;
        self.inverse = inverse;
        self.values.push(right - activity);
        self.prices.push(0.0);
        logical
    }

    /// Adds a variable at its lower bound, which must be finite.
    pub fn add_column(&mut self, cost: f64, entries: Vec<(u32, f64)>, bounds: (f64, f64)) -> usize {
        self.columns.push(entries);
        self.cost.push(cost);
        self.lower.push(bounds.0);
        self.upper.push(bounds.1);
        self.state.push(State::Lower);
        let variable = self.variables() - 1;
        if bounds.0 != 0.0 {
            self.shift(variable, bounds.0);
        }
        variable
    }

    /// Puts a variable into the basis in place of the one of `row`, which goes to its finite
    /// bound; [`Lp::refactor`] must follow.
    pub fn make_basic(&mut self, row: usize, variable: usize) {
        let leaver = self.basis[row];
        self.state[leaver] = if self.lower[leaver].is_finite() {
            State::Lower
        } else {
            State::Upper
        };
        self.state[variable] = State::Basic(row);
        self.basis[row] = variable;
    }

    pub fn value(&self, variable: usize) -> f64 {
        match self.state[variable] {
            State::Basic(row) => self.values[row],
            State::Lower => self.lower[variable],
            State::Upper => self.upper[variable],
        }
    }

    pub fn is_basic(&self, variable: usize) -> bool {
        matches!(self.state[variable], State::Basic(_))
    }

    pub fn bounds(&self, variable: usize) -> (f64, f64) {
        (self.lower[variable], self.upper[variable])
    }

    pub fn prices(&self) -> &[f64] {
        &self.prices
    }

    pub fn reduced_cost(&self, variable: usize) -> f64 {
        let entries = &self.columns[variable];
        let priced: f64 = entries
            .iter()
            .map(|&(row, value)| self.prices[row as usize] * value)
            .sum();
        self.cost[variable] - priced
    }

    pub fn objective(&self) -> f64 {
        (0..self.variables())
            .map(|variable| self.cost[variable] * self.value(variable))
            .sum()
    }

    pub fn set_cost(&mut self, variable: usize, cost: f64) {
        self.cost[variable] = cost;
    }

    /// Changes bounds; a variable off the basis moves with them.
    pub fn set_bounds(&mut self, variable: usize, bounds: (f64, f64)) {
        let before = self.value(variable);
        self.lower[variable] = bounds.0;
        self.upper[variable] = bounds.1;
        if let State::Basic(_) = self.state[variable] {
            return;
        }
        if self.state[variable] == State::Upper && !bounds.1.is_finite() {
            self.state[variable] = State::Lower;
        }
        if self.state[variable] == State::Lower && !bounds.0.is_finite() {
            self.state[variable] = State::Upper;
        }
        let after = self.value(variable);
        if after != before {
            self.shift(variable, after - before);
        }
    }

    /// Basic values after a variable off the basis has moved by `step`.
    fn shift(&mut self, variable: usize, step: f64) {
        let direction = self.direction(variable);
        for (value, slope) in self.values.iter_mut().zip(&direction) {
            *value -= step * slope;
        }
    }

    /// The inverse times a column.
    fn direction(&self, variable: usize) -> Vec<f64> {
        let size = self.rows();
        let mut direction = vec![0.0; size];
        let entries = &self.columns[variable];
        for (row, slope) in direction.iter_mut().enumerate() {
            let inverse = &self.inverse[row * size..(row + 1) * size];
            *slope = entries
                .iter()
                .map(|&(row, value)| inverse[row as usize] * value)
                .sum();
        }
        direction
    }

    /// Inverts the basis anew and recomputes values and prices; `false` if it is singular.
    pub fn refactor(&mut self) -> bool {
        let size = self.rows();
        self.since_refactor = 0;
        // Columns of the basis, beside the unit matrix: Gauss and Jordan with row exchange.
        let mut matrix = vec![0.0; size * size];
        for (position, &variable) in self.basis.iter().enumerate() {
            for &(row, value) in &self.columns[variable] {
                matrix[row as usize * size + position] = value;
            }
        }
        let mut inverse = vec![0.0; size * size];
        for row in 0..size {
            inverse[row * size + row] = 1.0;
        }
        for position in 0..size {
            let pivot_row = (position..size)
                .max_by(|&a, &b| {
                    let (a, b) = (matrix[a * size + position], matrix[b * size + position]);
                    a.abs().total_cmp(&b.abs())
                })
                .unwrap_or(position);
            let pivot = matrix[pivot_row * size + position];
            if pivot.abs() < 1e-11 {
                return false;
            }
            if pivot_row != position {
                for column in 0..size {
                    matrix.swap(pivot_row * size + column, position * size + column);
                    inverse.swap(pivot_row * size + column, position * size + column);
                }
            }
            let scale = 1.0 / pivot;
            for column in position..size {
                matrix[position * size + column] *= scale;
            }
            for column in 0..size {
                inverse[position * size + column] *= scale;
            }
            let pivot_matrix = matrix[position * size..(position + 1) * size].to_vec();
            let pivot_inverse = inverse[position * size..(position + 1) * size].to_vec();
            for row in 0..size {
                let factor = matrix[row * size + position];
                if row == position || factor == 0.0 {
                    continue;
                }
                subtract(
                    &mut matrix[row * size + position..(row + 1) * size],
                    &pivot_matrix[position..],
                    factor,
                );
                subtract(
                    &mut inverse[row * size..(row + 1) * size],
                    &pivot_inverse,
                    factor,
                );
            }
        }
        self.inverse = inverse;
        self.recompute_values();
        self.recompute_prices();
        true
    }

    fn recompute_values(&mut self) {
        let size = self.rows();
        let mut rest = self.right.clone();
        for variable in 0..self.variables() {
            if matches!(self.state[variable], State::Basic(_)) {
                continue;
            }
            let value = self.value(variable);
            if value != 0.0 {
                for &(row, entry) in &self.columns[variable] {
                    rest[row as usize] -= entry * value;
                }
            }
        }
        for row in 0..size {
            let inverse = &self.inverse[row * size..(row + 1) * size];
            self.values[row] = inverse.iter().zip(&rest).map(|(a, b)| a * b).sum();
        }
    }

    fn recompute_prices(&mut self) {
        let size = self.rows();
        let mut prices = vec![0.0; size];
        for row in 0..size {
            let cost = self.cost[self.basis[row]];
            if cost != 0.0 {
                subtract(
                    &mut prices,
                    &self.inverse[row * size..(row + 1) * size],
                    -cost,
                );
            }
        }
        self.prices = prices;
    }

    /// Makes `entering` basic in `row`; the variable that leaves goes to `leaving`.
    fn pivot(&mut self, row: usize, entering: usize, direction: &[f64], step: f64, leaving: State) {
        let size = self.rows();
        let entered = self.value(entering) + step;
        let reduced = self.reduced_cost(entering);
        for (value, slope) in self.values.iter_mut().zip(direction) {
            *value -= step * slope;
        }
        let leaver = self.basis[row];
        self.state[leaver] = leaving;
        self.state[entering] = State::Basic(row);
        self.basis[row] = entering;
        self.values[row] = entered;
        let scale = 1.0 / direction[row];
        for entry in &mut self.inverse[row * size..(row + 1) * size] {
            *entry *= scale;
        }
        let pivot_row = self.inverse[row * size..(row + 1) * size].to_vec();
        for (other, &step) in direction.iter().enumerate().take(size) {
            if other != row && step.abs() > 1e-13 {
                subtract(
                    &mut self.inverse[other * size..(other + 1) * size],
                    &pivot_row,
                    step,
                );
            }
        }
        subtract(&mut self.prices, &pivot_row, -reduced);
        self.since_refactor += 1;
        self.pivots += 1;
    }

    /// Minimises from a feasible point.
    pub fn primal(&mut self, most_pivots: u64) -> End {
        let limit = self.pivots + most_pivots;
        let mut degenerate = 0_u32;
        let mut shakes = 0;
        let mut is_checked = false;
        self.recompute_prices();
        loop {
            if self.since_refactor >= REFACTOR && !self.refactor() {
                return End::Stopped;
            }
            if self.pivots >= limit {
                return End::Stopped;
            }
            if degenerate > STUCK && shakes < SHAKES {
                self.shake();
                shakes += 1;
                degenerate = 0;
            }
            let Some((entering, is_rising)) = self.entering(degenerate > STUCK) else {
                if let Some(right) = self.steady.take() {
                    self.right = right;
                    shakes = SHAKES;
                    if !self.refactor() {
                        return End::Stopped;
                    }
                    let end = self.dual(most_pivots, f64::INFINITY);
                    if end != End::Optimal {
                        return end;
                    }
                    continue;
                }
                if is_checked || self.since_refactor <= TRUSTED {
                    return End::Optimal;
                }
                // Look again with clean numbers.
                is_checked = true;
                if !self.refactor() {
                    return End::Stopped;
                }
                continue;
            };
            is_checked = false;
            let direction = self.direction(entering);
            let sign = if is_rising { 1.0 } else { -1.0 };
            let (most, row) = self.primal_ratio(&direction, sign);
            let range = self.upper[entering] - self.lower[entering];
            if range <= most {
                if !range.is_finite() {
                    return End::Stopped;
                }
                for (value, slope) in self.values.iter_mut().zip(&direction) {
                    *value -= sign * range * slope;
                }
                self.state[entering] = if is_rising {
                    State::Upper
                } else {
                    State::Lower
                };
                self.pivots += 1;
                degenerate = 0;
                continue;
            }
            let Some(row) = row else {
                return End::Stopped;
            };
            degenerate = if most <= 1e-10 { degenerate + 1 } else { 0 };
            let falls = sign * direction[row] > 0.0;
            let leaving = if falls { State::Lower } else { State::Upper };
            self.pivot(row, entering, &direction, sign * most, leaving);
        }
    }

    /// Moves the right sides so that basic variables at a bound come off it: many pivots without progress
    /// become steps, if short ones.
    fn shake(&mut self) {
        if self.steady.is_none() {
            self.steady = Some(self.right.clone());
        }
        let mut random = self.pivots.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
        for row in 0..self.rows() {
            let variable = self.basis[row];
            random ^= random << 13;
            random ^= random >> 7;
            random ^= random << 17;
            let step = SHAKE * (1.0 + (random >> 11) as f64 / (1_u64 << 53) as f64);
            if self.upper[variable] - self.lower[variable] < 4.0 * SHAKE {
                continue;
            }
            let value = self.values[row];
            let step = if value <= self.lower[variable] + FEASIBLE {
                step
            } else if value >= self.upper[variable] - FEASIBLE {
                -step
            } else {
                continue;
            };
            self.values[row] += step;
            for &(row, entry) in &self.columns[variable] {
                self.right[row as usize] += entry * step;
            }
        }
    }

    /// The variable off the basis that promises most, of those that promised most when all were last looked
    /// at, and whether it should rise.
    fn entering(&mut self, takes_first: bool) -> Option<(usize, bool)> {
        let mut best = None;
        let mut best_gain = OPTIMAL;
        for &variable in &self.promising {
            if let Some((gain, is_rising)) = self.gain(variable)
                && gain > best_gain
            {
                best_gain = gain;
                best = Some((variable, is_rising));
            }
        }
        if best.is_some() && !takes_first {
            return best;
        }
        let mut found: Vec<(f64, usize, bool)> = Vec::new();
        for variable in 0..self.variables() {
            if let Some((gain, is_rising)) = self.gain(variable) {
                found.push((gain, variable, is_rising));
                if takes_first {
                    break;
                }
            }
        }
        if found.len() > PROMISING {
            found.select_nth_unstable_by(PROMISING, |a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
            found.truncate(PROMISING);
        }
        self.promising.clear();
        self.promising.extend(found.iter().map(|found| found.1));
        let best = found.into_iter();
        let best = best.max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        best.map(|(_, variable, is_rising)| (variable, is_rising))
    }

    /// How much a unit of a variable off the basis improves, and whether it should rise; `None` where it does not.
    fn gain(&self, variable: usize) -> Option<(f64, bool)> {
        let is_rising = match self.state[variable] {
            State::Basic(_) => return None,
            State::Lower => true,
            State::Upper => false,
        };
        if self.lower[variable] == self.upper[variable] {
            return None;
        }
        let reduced = self.reduced_cost(variable);
        let gain = if is_rising { -reduced } else { reduced };
        (gain > OPTIMAL).then_some((gain, is_rising))
    }

    /// How far the entering variable can go, and the row that stops it: of those within a
    /// tolerance the one with the largest pivot.
    fn primal_ratio(&self, direction: &[f64], sign: f64) -> (f64, Option<usize>) {
        let room = |row: usize, slack: f64| {
            let slope = sign * direction[row];
            let variable = self.basis[row];
            let bound = if slope > PIVOT {
                self.lower[variable]
            } else if slope < -PIVOT {
                self.upper[variable]
            } else {
                return f64::INFINITY;
            };
            if bound.is_finite() {
                ((self.values[row] - bound) / slope + slack / slope.abs()).max(0.0)
            } else {
                f64::INFINITY
            }
        };
        let relaxed = (0..self.rows())
            .map(|row| room(row, FEASIBLE))
            .fold(f64::INFINITY, f64::min);
        if !relaxed.is_finite() {
            return (f64::INFINITY, None);
        }
        let mut best: Option<usize> = None;
        for row in 0..self.rows() {
            if room(row, 0.0) <= relaxed
                && best.is_none_or(|best: usize| direction[row].abs() > direction[best].abs())
            {
                best = Some(row);
            }
        }
        match best {
            Some(row) => (room(row, 0.0), Some(row)),
            None => (f64::INFINITY, None),
        }
    }
}

/// `row -= factor * other`.
fn subtract(row: &mut [f64], other: &[f64], factor: f64) {
    for (entry, other) in row.iter_mut().zip(other) {
        *entry -= factor * other;
    }
}
