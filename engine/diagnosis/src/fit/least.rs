//! Least squares with a prior: Gauss-Newton steps held back by damping until they help.
//! Law: the least of Σ ρ(r) + ½ Σ (x/s)², ρ the squared half up to [`BEND`] σ and straight beyond (Huber 1964), so that
//! one wild reading does not bend all values; damping after Levenberg 1944 and Marquardt 1963. Derivatives are differences.
//! Promise: every value stays within its bounds; a value that no residual feels stays exactly where it was.
//! Limit: finds the valley that it starts in.

use libm::{fabs, sqrt};

/// Beyond so many σ a residual pulls no harder.
const BEND: f64 = 2.0;
/// Step of a difference, in units of a value.
const STEP: f64 = 1e-3;
/// A residual that cannot be computed counts as so many σ.
const LOST: f64 = 30.0;
/// Attempts to get lower, and damped steps, in all.
const ATTEMPTS: usize = 80;

/// One value that may move: its prior spread about 0, and how far it may go.
#[derive(Clone, Copy, Debug)]
pub(super) struct Free {
    pub(super) spread: f64,
    pub(super) low: f64,
    pub(super) high: f64,
}

/// Where the least lies.
#[derive(Clone, Debug)]
pub(super) struct Least {
    pub(super) at: Vec<f64>,
    /// One σ of each value.
    pub(super) sigmas: Vec<f64>,
    /// Attempts made.
    pub(super) attempts: usize,
    /// Whether the last step was too small to matter.
    pub(super) settled: bool,
}

/// The least of some residuals, in σ; `None` of the model is a machine without a solution, NaN a residual without one.
pub(super) fn least(free: &[Free], mut model: impl FnMut(&[f64]) -> Option<Vec<f64>>) -> Option<Least> {
    let mut at = vec![0.0; free.len()];
    let mut residuals = model(&at)?;
    let mut cost = price(&residuals, &at, free);
    let (mut damping, mut attempts, mut settled) = (1e-3, 0, false);
    let (mut matrix, mut slope) = normal(free, &at, &residuals, &slopes(free, &at, &mut model));
    while attempts < ATTEMPTS && damping < 1e9 && !settled {
        attempts += 1;
        let mut damped = matrix.clone();
        for (index, row) in damped.iter_mut().enumerate() {
            row[index] *= 1.0 + damping;
        }
        let step = solve(&factor(damped)?, slope.clone());
        let next: Vec<f64> =
            at.iter().zip(&step).zip(free).map(|((at, step), free)| (at - step).clamp(free.low, free.high)).collect();
        let moved = at.iter().zip(&next).zip(free).map(|((at, next), free)| fabs(at - next) / free.spread);
        let moved = moved.fold(0.0, f64::max);
        let found = model(&next).map(|residuals| (price(&residuals, &next, free), residuals));
        match found {
            Some((lower, found)) if lower <= cost => {
                (at, residuals, cost) = (next, found, lower);
                settled = moved < 1e-7;
                damping = f64::max(damping * 0.1, 1e-9);
                (matrix, slope) = normal(free, &at, &residuals, &slopes(free, &at, &mut model));
            }
            _ if moved < 1e-9 => settled = true,
            _ => damping *= 5.0,
        }
    }
    let root = factor(matrix)?;
    let sigma = |index: usize| {
        let mut unit = vec![0.0; free.len()];
        unit[index] = 1.0;
        sqrt(solve(&root, unit)[index])
    };
    Some(Least { sigmas: (0..free.len()).map(sigma).collect(), at, attempts, settled })
}

fn price(residuals: &[f64], at: &[f64], free: &[Free]) -> f64 {
    let of_residual = |residual: &f64| {
        let size = if residual.is_nan() { LOST } else { fabs(*residual) };
        if size <= BEND { 0.5 * size * size } else { BEND * (size - 0.5 * BEND) }
    };
    let of_value = |(at, free): (&f64, &Free)| 0.5 * (at / free.spread) * (at / free.spread);
    residuals.iter().map(of_residual).sum::<f64>() + at.iter().zip(free).map(of_value).sum::<f64>()
}

/// How every residual changes with every value: one row a value.
fn slopes(free: &[Free], at: &[f64], model: &mut impl FnMut(&[f64]) -> Option<Vec<f64>>) -> Vec<Vec<f64>> {
    let mut rows = Vec::with_capacity(free.len());
    for (index, free) in free.iter().enumerate() {
        let mut beside = |to: f64| {
            let mut moved = at.to_vec();
            moved[index] = to.clamp(free.low, free.high);
            (moved[index], model(&moved))
        };
        let ((left, below), (right, above)) = (beside(at[index] - STEP), beside(at[index] + STEP));
        rows.push(match (below, above) {
            (Some(below), Some(above)) if right > left => {
                let slope = |(below, above): (&f64, &f64)| (above - below) / (right - left);
                below.iter().zip(&above).map(slope).map(|slope| if slope.is_finite() { slope } else { 0.0 }).collect()
            }
            _ => Vec::new(),
        });
    }
    rows
}

/// Matrix and slope of the normal equations, residuals beyond the bend weighed down.
fn normal(free: &[Free], at: &[f64], residuals: &[f64], slopes: &[Vec<f64>]) -> (Vec<Vec<f64>>, Vec<f64>) {
    let weight = |residual: f64| if residual.is_nan() { 0.0 } else { f64::min(1.0, BEND / fabs(residual).max(1e-300)) };
    let weights: Vec<f64> = residuals.iter().map(|residual| weight(*residual)).collect();
    let product = |left: &[f64], right: &[f64]| -> f64 {
        left.iter().zip(right).zip(&weights).filter(|(_, weight)| **weight > 0.0).map(|((l, r), w)| l * r * w).sum()
    };
    let mut matrix = vec![vec![0.0; free.len()]; free.len()];
    let mut slope = vec![0.0; free.len()];
    for row in 0..free.len() {
        for column in 0..=row {
            let value = product(&slopes[row], &slopes[column]);
            (matrix[row][column], matrix[column][row]) = (value, value);
        }
        let prior = 1.0 / (free[row].spread * free[row].spread);
        matrix[row][row] += prior;
        slope[row] = product(&slopes[row], residuals) + at[row] * prior;
    }
    (matrix, slope)
}

/// Lower triangle L of A = L·Lᵀ; nothing when A is not positive definite.
fn factor(mut matrix: Vec<Vec<f64>>) -> Option<Vec<Vec<f64>>> {
    for row in 0..matrix.len() {
        for column in 0..=row {
            let done: f64 = (0..column).map(|inner| matrix[row][inner] * matrix[column][inner]).sum();
            let left = matrix[row][column] - done;
            matrix[row][column] = if row == column { sqrt(left) } else { left / matrix[column][column] };
            if row == column && (left <= 0.0 || !left.is_finite()) {
                return None;
            }
        }
    }
    Some(matrix)
}

fn solve(root: &[Vec<f64>], mut right: Vec<f64>) -> Vec<f64> {
    for row in 0..right.len() {
        let done: f64 = (0..row).map(|inner| root[row][inner] * right[inner]).sum();
        right[row] = (right[row] - done) / root[row][row];
    }
    for row in (0..right.len()).rev() {
        let done: f64 = (row + 1..right.len()).map(|inner| root[inner][row] * right[inner]).sum();
        right[row] = (right[row] - done) / root[row][row];
    }
    right
}

#[cfg(test)]
mod tests {
    use super::*;

    const WIDE: Free = Free { spread: 1e3, low: -1e6, high: 1e6 };

    #[test]
    fn textbook_straight_line_through_five_points() {
        // y = 1, 3, 4, 6, 8 at x = 0..4: slope 1.7 and intercept 1 by the normal equations; σ² = (XᵀX)⁻¹ = 1/10, 3/5.
        let points = [1.0, 3.0, 4.0, 6.0, 8.0];
        let line = |at: &[f64]| Some(points.iter().zip(0..).map(|(y, x)| at[0] + at[1] * f64::from(x) - y).collect());
        let found = least(&[WIDE, WIDE], line).unwrap();
        assert!((found.at[0] - 1.0).abs() < 1e-5 && (found.at[1] - 1.7).abs() < 1e-5, "{found:?}");
        assert!((found.sigmas[0] - 0.6_f64.sqrt()).abs() < 1e-5 && (found.sigmas[1] - 0.1_f64.sqrt()).abs() < 1e-5);
    }

    #[test]
    fn textbook_rosenbrock_valley_is_followed_to_its_end() {
        // Least at (1, 1), where both residuals vanish.
        let valley = |at: &[f64]| Some(vec![10.0 * (at[1] - at[0] * at[0]), 1.0 - at[0]]);
        let found = least(&[WIDE, WIDE], valley).unwrap();
        assert!((found.at[0] - 1.0).abs() < 1e-4 && (found.at[1] - 1.0).abs() < 1e-4 && found.settled, "{found:?}");
    }

    #[test]
    fn law_bounds_hold_and_what_nothing_feels_stays() {
        let bounded = Free { spread: 1.0, low: -0.5, high: 0.5 };
        let found = least(&[bounded, WIDE], |at: &[f64]| Some(vec![100.0 * (at[0] - 3.0)])).unwrap();
        assert_eq!(found.at, [0.5, 0.0]);
        assert!((found.sigmas[1] - WIDE.spread).abs() < 1e-9);
    }
}
