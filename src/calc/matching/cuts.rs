//! Cutting planes: sets of rows whose halves, rounded down, a fractional point breaks.
//!
//! For rows `a_r x <= d_r` in whole numbers, every whole point keeps `sum_j floor(sum_r a_rj / 2) x_j <= floor(sum_r d_r
//! / 2)` (Caprara and Fischetti 1996; of up to three rows here). A point that fills the rows breaks it when the sum of the `d_r` is
//! odd and less than one in all is used of the columns whose sum is odd.

/// A row of the point: which of its columns have an odd entry, and by how much it is overfilled.
pub(super) struct Row {
    pub right: u32,
    /// Places of columns, in order.
    pub odd: Vec<usize>,
    /// What the point uses beyond `right`; negative where it does not fill the row.
    pub over: f64,
}

/// By how much a cut must be broken to be worth its row.
const LEAST: f64 = 0.02;
/// Cuts of one round in which one row may be.
const OFTEN: u32 = 4;

/// Sets of rows whose cut `weights` break, most broken first.
pub(super) fn broken(rows: &[Row], weights: &[f64], most: usize) -> Vec<Vec<usize>> {
    let words = weights.len().div_ceil(64);
    let mut bits = vec![0_u64; rows.len() * words];
    let mut rows_of: Vec<Vec<usize>> = vec![Vec::new(); weights.len()];
    for (place, row) in rows.iter().enumerate() {
        for &column in &row.odd {
            bits[place * words + column / 64] |= 1 << (column % 64);
            rows_of[column].push(place);
        }
    }
    let bits_of = |row: usize| &bits[row * words..(row + 1) * words];
    let score = |set: &[usize]| -> f64 {
        let mut sum: f64 = -set.iter().map(|&row| rows[row].over).sum::<f64>();
        for word in 0..words {
            let mut odd = set.iter().fold(0, |odd, &row| odd ^ bits_of(row)[word]);
            while odd != 0 {
                sum += weights[word * 64 + odd.trailing_zeros() as usize];
                odd &= odd - 1;
            }
        }
        sum
    };
    let alone: Vec<f64> = (0..rows.len()).map(|row| score(&[row])).collect();
    // What two rows have in common.
    let mut common = vec![0.0; rows.len() * rows.len()];
    for (column, rows_here) in rows_of.iter().enumerate() {
        for &a in rows_here {
            for &b in rows_here {
                common[a * rows.len() + b] += weights[column];
            }
        }
    }
    let common = |a: usize, b: usize| common[a * rows.len() + b];
    let limit = 1.0 - 2.0 * LEAST;
    let is_odd = |set: &[usize]| {
        let sum: u64 = set.iter().map(|&row| u64::from(rows[row].right)).sum();
        !sum.is_multiple_of(2)
    };
    let mut found: Vec<(f64, Vec<usize>)> = Vec::new();
    let mut offer = |set: &[usize]| {
        if is_odd(set) {
            let score = score(set);
            if score < limit {
                found.push((score, set.to_vec()));
            }
        }
    };
    for a in 0..rows.len() {
        if alone[a] < limit {
            offer(&[a]);
        }
        let beside: Vec<usize> = (0..rows.len())
            .filter(|&b| b != a && common(a, b) > 1e-6)
            .collect();
        for (place, &b) in beside.iter().enumerate() {
            let two = alone[a] + alone[b] - 2.0 * common(a, b);
            if a < b && two < limit {
                offer(&[a, b]);
            }
            for &c in &beside[place + 1..] {
                let behind = common(b, c);
                // Each three once: from its first row where all three have something in common.
                if behind > 1e-6 && (b < a || c < a) {
                    continue;
                }
                if two + alone[c] - 2.0 * common(a, c) - 2.0 * behind < limit {
                    offer(&[a, b, c]);
                }
            }
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
    let mut often = vec![0; rows.len()];
    let mut sets = Vec::new();
    for (_, set) in found {
        if sets.len() >= most {
            break;
        }
        if set.iter().all(|&row| often[row] < OFTEN) {
            for &row in &set {
                often[row] += 1;
            }
            sets.push(set);
        }
    }
    sets
}
