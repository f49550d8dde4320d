//! What the enumeration of layouts asks of the pricing tables.

use super::price::Tables;

impl Tables<'_> {
    /// Fills what a one-dimensional problem does without until its layouts are listed.
    pub fn fill_rips(&mut self) {
        if self.rips.is_empty() {
            for index in 0..self.shape.rips.len() {
                self.fill_rip(index);
            }
        }
    }

    pub fn width_units(&self, width: usize) -> usize {
        self.shape.widths[width].units
    }

    pub fn rips_count(&self) -> usize {
        self.shape.rips.len()
    }

    pub fn rip_units(&self, rip: usize) -> usize {
        self.shape.rips[rip].units
    }

    pub fn rip_width(&self, rip: usize) -> i64 {
        self.shape.rips[rip].width
    }

    pub fn rip_value(&self, rip: usize, length: usize) -> f64 {
        self.rips[rip][length]
    }

    /// Whether the rip takes a whole width.
    pub fn is_whole(&self, width: usize, rip: usize) -> bool {
        self.shape.widths[width].whole == Some(rip)
    }

    pub fn strips_count(&self, rip: usize) -> usize {
        self.shape.rips[rip].strips.len()
    }

    /// Grid length and class.
    pub fn strip(&self, rip: usize, place: usize) -> (usize, usize) {
        self.shape.rips[rip].strips[place]
    }

    pub fn reward(&self, class: usize) -> f64 {
        self.rewards[class]
    }

    /// Value of a section of a grid length and width.
    pub fn section_units(&mut self, length: usize, units: usize) -> f64 {
        self.section_row(length)[units]
    }

    /// Lengths of sections that matter; single strips in a one-dimensional problem.
    pub fn section_lengths(&self, width: usize) -> Vec<usize> {
        match &self.shape.widths[width].line {
            Some(strips) => {
                let mut lengths: Vec<usize> = strips.iter().map(|strip| strip.0).collect();
                lengths.dedup();
                lengths
            }
            None => self.shape.breakpoints.clone(),
        }
    }

    /// Value of a whole length that is kept.
    pub fn kept_length(&self, width: usize, length: usize) -> f64 {
        let shape = &self.shape.widths[width];
        if shape.is_keepable && length >= self.shape.keep_length {
            self.kept_whole(shape.width, length)
        } else {
            0.0
        }
    }

    /// Value of what is kept beside the rips of a section.
    pub fn kept_beside(&self, length: usize, units: usize) -> f64 {
        if length >= self.shape.keep_length && units >= self.shape.keep_width {
            let slope = self.keep * (length as f64 - self.shape.crosscut_kerf);
            slope * (units as f64 - self.shape.rip_kerf)
        } else {
            0.0
        }
    }

    /// Value of what is kept of a rip behind its strips.
    pub fn kept_behind(&self, rip: usize, length: usize) -> f64 {
        let shape = &self.shape.rips[rip];
        if shape.is_keepable && length >= self.shape.keep_length {
            let slope = self.keep * shape.width as f64 / self.part.grid.across as f64;
            slope * (length as f64 - self.shape.crosscut_kerf)
        } else {
            0.0
        }
    }
}
