//! The dual method: from a point whose prices are right to one that keeps every bound.

use super::{End, FEASIBLE, Lp, OPTIMAL, PIVOT, REFACTOR, State, TRUSTED};

impl Lp {
    /// Restores feasibility while the prices stay right; ends early above `cutoff`.
    pub fn dual(&mut self, most_pivots: u64, cutoff: f64) -> End {
        let limit = self.pivots + most_pivots;
        let mut is_checked = false;
        let mut rounds = 0_u32;
        self.movable.clear();
        let movable = (0..self.variables()).filter(|&one| self.lower[one] < self.upper[one]);
        self.movable.extend(movable);
        self.reduced.resize(self.variables(), 0.0);
        self.slopes.resize(self.variables(), 0.0);
        self.reduce_all();
        self.take_sides();
        loop {
            if self.since_refactor >= REFACTOR && !self.refactor_dual() {
                return End::Stopped;
            }
            if self.pivots >= limit {
                return End::Stopped;
            }
            rounds += 1;
            if cutoff.is_finite() && rounds.is_multiple_of(8) && self.objective() > cutoff {
                return End::Infeasible;
            }
            let Some((row, is_low)) = self.leaving() else {
                if is_checked || self.since_refactor <= TRUSTED {
                    return End::Optimal;
                }
                is_checked = true;
                if !self.refactor_dual() {
                    return End::Stopped;
                }
                continue;
            };
            let Some(entering) = self.dual_ratio(row, is_low) else {
                if self.since_refactor == 0 {
                    return End::Infeasible;
                }
                if !self.refactor_dual() {
                    return End::Stopped;
                }
                continue;
            };
            is_checked = false;
            let direction = self.direction(entering);
            if direction[row].abs() < PIVOT {
                if self.since_refactor == 0 || !self.refactor_dual() {
                    return End::Stopped;
                }
                continue;
            }
            let leaver = self.basis[row];
            let (bound, state) = if is_low {
                (self.lower[leaver], State::Lower)
            } else {
                (self.upper[leaver], State::Upper)
            };
            let step = (self.values[row] - bound) / direction[row];
            let rate = self.reduced[entering] / direction[row];
            for &variable in &self.movable {
                self.reduced[variable] -= rate * self.slopes[variable];
            }
            self.reduced[entering] = 0.0;
            self.reduced[leaver] = -rate;
            self.pivot(row, entering, &direction, step, state);
        }
    }

    fn refactor_dual(&mut self) -> bool {
        let is_regular = self.refactor();
        self.reduce_all();
        is_regular
    }

    /// Reckons what every variable that may move costs beyond the prices.
    fn reduce_all(&mut self) {
        for place in 0..self.movable.len() {
            let variable = self.movable[place];
            self.reduced[variable] = match self.state[variable] {
                State::Basic(_) => 0.0,
                _ => self.reduced_cost(variable),
            };
        }
    }

    /// Puts every variable off the basis to the bound that its reduced cost asks for; bounds that
    /// were fixed for a while may have hidden a change of sign.
    fn take_sides(&mut self) {
        for place in 0..self.movable.len() {
            let variable = self.movable[place];
            let (lower, upper) = self.bounds(variable);
            let is_low = match self.state[variable] {
                State::Basic(_) => continue,
                State::Lower => true,
                State::Upper => false,
            };
            if !lower.is_finite() || !upper.is_finite() {
                continue;
            }
            let reduced = self.reduced[variable];
            if is_low && reduced < -OPTIMAL {
                self.state[variable] = State::Upper;
                self.shift(variable, upper - lower);
            } else if !is_low && reduced > OPTIMAL {
                self.state[variable] = State::Lower;
                self.shift(variable, lower - upper);
            }
        }
    }

    /// The row that breaks a bound most, and whether it is too low.
    fn leaving(&self) -> Option<(usize, bool)> {
        let mut best = None;
        let mut worst = FEASIBLE;
        for row in 0..self.rows() {
            let variable = self.basis[row];
            let low = self.lower[variable] - self.values[row];
            let high = self.values[row] - self.upper[variable];
            if low.max(high) > worst {
                worst = low.max(high);
                best = Some((row, low > high));
            }
        }
        best
    }

    fn dual_ratio(&mut self, row: usize, is_low: bool) -> Option<usize> {
        let size = self.rows();
        let inverse = &self.inverse[row * size..(row + 1) * size];
        let sign = if is_low { -1.0 } else { 1.0 };
        let mut best: Option<(f64, f64, usize)> = None;
        for &variable in &self.movable {
            let side = match self.state[variable] {
                State::Basic(_) => {
                    self.slopes[variable] = 0.0;
                    continue;
                }
                State::Lower => 1.0,
                State::Upper => -1.0,
            };
            let slope: f64 = self.columns[variable]
                .iter()
                .map(|&(row, value)| inverse[row as usize] * value)
                .sum();
            self.slopes[variable] = slope;
            // Rising from below, or falling from above, must move the basic variable back.
            let slope = sign * slope;
            if slope * side <= PIVOT {
                continue;
            }
            let reduced = (side * self.reduced[variable]).max(0.0);
            let ratio = reduced / slope.abs();
            let is_better = match best {
                None => true,
                Some((best_ratio, best_slope, _)) => {
                    ratio < best_ratio - 1e-10
                        || (ratio < best_ratio + 1e-10 && slope.abs() > best_slope)
                }
            };
            if is_better {
                best = Some((ratio, slope.abs(), variable));
            }
        }
        best.map(|(_, _, variable)| variable)
    }
}
