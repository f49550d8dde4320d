//! Strips along one line: a knapsack in which each class has a limit.

pub(super) struct LineItem {
    pub length: usize,
    pub class: usize,
    pub reward: f64,
    pub limit: usize,
}

/// A bounded knapsack by depth first search, under the values of the unbounded one.
pub(super) struct LineSearch<'a> {
    pub items: &'a [LineItem],
    pub bounds: &'a [f64],
    pub taken: Vec<usize>,
    pub best: Vec<usize>,
    pub best_value: f64,
    pub nodes: u32,
}

impl LineSearch<'_> {
    pub fn take(&mut self, next: usize, length: usize, value: f64) {
        if value > self.best_value {
            self.best_value = value;
            self.best.clone_from(&self.taken);
        }
        if self.nodes == 0 || value + self.bounds[length] <= self.best_value * (1.0 + 1e-12) {
            return;
        }
        self.nodes -= 1;
        let Some(item) = self.items.get(next) else {
            return;
        };
        let most = item.limit.min(length / item.length);
        for count in (0..=most).rev() {
            self.taken.extend(std::iter::repeat_n(item.class, count));
            self.take(
                next + 1,
                length - count * item.length,
                value + count as f64 * item.reward,
            );
            self.taken.truncate(self.taken.len() - count);
        }
    }
}
