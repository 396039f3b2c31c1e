//! Dense factorization of a small symmetric positive definite matrix, M = L·D·Lᵀ, and its back-substitution.
//! Law: Golub & Van Loan, *Matrix Computations*, 4th ed., algorithm 4.1.2 (`from memory`).
//! Promise: allocates only when it grows. Limit: dense, meant for up to about 100 unknowns.

/// The factors of one matrix; row-major, `size` × `size`, lower triangle L with unit diagonal, D on the diagonal.
#[derive(Clone, Debug, Default)]
pub(crate) struct Factors {
    size: usize,
    entries: Vec<f64>,
    reciprocal: Vec<f64>,
}

/// What stands in for a vanished pivot, so that a step along a flat direction is long but finite.
const WEAK: f64 = 1e-12;

impl Factors {
    /// A zero matrix to be filled through [`Factors::add`].
    pub(crate) fn reset(&mut self, size: usize) {
        self.size = size;
        self.entries.clear();
        self.entries.resize(size * size, 0.0);
        self.reciprocal.clear();
        self.reciprocal.resize(size, 0.0);
    }

    /// A symmetric matrix given row by row, and what is added to its diagonal.
    pub(crate) fn load(&mut self, matrix: &[f64], diagonal: impl ExactSizeIterator<Item = f64>) {
        self.size = diagonal.len();
        self.entries.clear();
        self.entries.extend_from_slice(matrix);
        self.reciprocal.clear();
        self.reciprocal.resize(self.size, 0.0);
        for (entry, more) in self.entries.iter_mut().step_by(self.size + 1).zip(diagonal) {
            *entry += more;
        }
    }

    /// Adds to the entry at `row` ≥ `column`.
    #[inline]
    pub(crate) fn add(&mut self, row: usize, column: usize, value: f64) {
        self.entries[row * self.size + column] += value;
    }

    /// Factors in place; false when a pivot is not positive.
    pub(crate) fn factor(&mut self) -> bool {
        self.factor_above(0.0) && self.entries.iter().step_by(self.size + 1).all(|pivot| *pivot > 0.0)
    }

    /// Factors in place a matrix that may be singular: a pivot below this share of its diagonal is taken as
    /// [`WEAK`] of it, or of one. False when an entry is not finite.
    pub(crate) fn factor_above(&mut self, share: f64) -> bool {
        let n = self.size;
        for row in 0..n {
            let (above, rest) = self.entries.split_at_mut(row * n);
            let this = &mut rest[..n];
            let mut pivot = this[row];
            let diagonal = pivot;
            for column in 0..row {
                let other = &above[column * n..column * n + column];
                let mut sum = this[column];
                for (left, right) in this[..column].iter().zip(other) {
                    sum -= left * right;
                }
                this[column] = sum;
            }
            for (entry, reciprocal) in this[..row].iter_mut().zip(&self.reciprocal) {
                let scaled = *entry * reciprocal;
                pivot -= scaled * *entry;
                *entry = scaled;
            }
            if !pivot.is_finite() {
                return false;
            }
            this[row] = pivot;
            self.reciprocal[row] =
                if pivot > share * diagonal { 1.0 / pivot } else { 1.0 / (WEAK * diagonal.max(1.0)) };
        }
        true
    }

    /// Overwrites the right-hand side with the solution.
    pub(crate) fn solve(&self, side: &mut [f64]) {
        let n = self.size;
        for row in 0..n {
            let line = &self.entries[row * n..row * n + row];
            let mut sum = side[row];
            for (factor, known) in line.iter().zip(side.iter()) {
                sum -= factor * known;
            }
            side[row] = sum;
        }
        for row in (0..n).rev() {
            let value = side[row] * self.reciprocal[row];
            side[row] = value;
        }
        for row in (0..n).rev() {
            let value = side[row];
            if value != 0.0 {
                for (column, factor) in self.entries[row * n..row * n + row].iter().enumerate() {
                    side[column] -= factor * value;
                }
            }
        }
    }
}

/// The size of a matrix that [`invert`] takes.
pub(crate) const FEW: usize = 4;

/// The inverse of a small matrix by elimination in the order given, which suits one whose leading parts are all
/// regular; nothing when a pivot is not above a share of its `scale`. Rows beyond the scales' number are ignored.
pub(crate) fn invert(mut matrix: [[f64; FEW]; FEW], scale: &[f64], share: f64) -> Option<[[f64; FEW]; FEW]> {
    let count = scale.len();
    let mut inverse = [[0.0; FEW]; FEW];
    for (row, line) in inverse[..count].iter_mut().enumerate() {
        line[row] = 1.0;
    }
    for pivot in 0..count {
        let value = matrix[pivot][pivot];
        let holds = value.abs() > share * scale[pivot];
        if !holds {
            return None;
        }
        let (line, answer) = (matrix[pivot].map(|entry| entry / value), inverse[pivot].map(|entry| entry / value));
        for row in 0..count {
            let factor = matrix[row][pivot];
            for column in 0..count {
                matrix[row][column] -= factor * line[column];
                inverse[row][column] -= factor * answer[column];
            }
        }
        (matrix[pivot], inverse[pivot]) = (line, answer);
    }
    Some(inverse)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_product_of_factors_returns_the_right_hand_side() {
        let matrix = [[4.0, 1.0, -0.5], [1.0, 3.0, 0.25], [-0.5, 0.25, 1e-3 + 0.2]];
        let mut factors = Factors::default();
        factors.reset(3);
        for (row, line) in matrix.iter().enumerate() {
            for (column, value) in line.iter().enumerate().take(row + 1) {
                factors.add(row, column, *value);
            }
        }
        assert!(factors.factor());
        let mut x = [1.0, -2.0, 0.125];
        factors.solve(&mut x);
        for (line, expected) in matrix.iter().zip([1.0, -2.0, 0.125]) {
            let product: f64 = line.iter().zip(&x).map(|(a, b)| a * b).sum();
            assert!((product - expected).abs() < 1e-12, "{product} against {expected}");
        }
    }

    #[test]
    fn law_a_small_matrix_times_its_inverse_is_one() {
        let matrix = [[2.0, -1.0, 0.5, 9.0], [3.0, 4.0, 0.0, 9.0], [-1.0, 0.25, 1.0, 9.0], [9.0; 4]];
        let inverse = invert(matrix, &[1.0; 3], 1e-3).unwrap();
        for (row, line) in matrix[..3].iter().enumerate() {
            for column in 0..3 {
                let product: f64 = line[..3].iter().zip(&inverse).map(|(entry, other)| entry * other[column]).sum();
                assert!((product - f64::from(u8::from(row == column))).abs() < 1e-15);
            }
        }
        assert!(invert([[1.0, 1.0, 0.0, 0.0], [1.0, 1.0, 0.0, 0.0], [0.0; 4], [0.0; 4]], &[1.0; 2], 1e-3).is_none());
    }

    #[test]
    fn law_an_indefinite_matrix_is_refused() {
        let mut factors = Factors::default();
        factors.reset(1);
        assert!(!factors.factor());
    }
}
