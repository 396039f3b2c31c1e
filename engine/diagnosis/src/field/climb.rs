//! The likeliest world of a suspect, found from where some of its worlds lie.
//! Law: Gauss–Newton steps on the residuals (read − shown)/σ, those that are far pulling less; slopes start from what
//! is known of other worlds, or are measured, and follow the steps by Broyden's rule (1965, `from memory`).
//! Limit: one peak a climb; words have no slope.

use libm::{exp, log, sqrt};

use crate::cast::{Draw, MOST_AXES, SEVERITY};

/// The likeliest world of a suspect and how the readings' residuals change about it.
#[derive(Clone, Debug)]
pub(super) struct Peak {
    pub(super) axes: usize,
    /// Where it is.
    pub(super) at: Draw,
    /// The residuals there.
    here: Vec<f64>,
    /// JᵀJ of the residuals plus the precision of the even prior.
    pub(super) precision: [[f64; MOST_AXES]; MOST_AXES],
}

impl Peak {
    /// How badly the readings fit there.
    pub(super) fn cost(&self) -> f64 {
        cost(&self.here)
    }

    /// The reading that fits worst there.
    pub(super) fn worst(&self) -> Option<usize> {
        (0..self.here.len()).max_by(|left, right| self.here[*left].abs().total_cmp(&self.here[*right].abs()))
    }

    /// The same climbed on with slopes that are measured, first where it is and again where it has come to.
    pub(super) fn polished(self, mut residuals: impl FnMut(&Draw) -> Vec<f64>) -> Self {
        let (start, axes) = (self.at, self.axes);
        let slopes = slopes_at(&start, &self.here, axes, &mut residuals);
        let Some(mut peak) = climb_with((start, self.here.clone()), slopes, axes, &mut residuals) else { return self };
        if distance(&start, &peak.at, axes) > FRESH {
            let slopes = slopes_at(&peak.at, &peak.here, axes, &mut residuals);
            peak.precision = normal_equations(&peak.at, &peak.here, &slopes).0;
        }
        peak
    }

    /// Log of the share of the cube that the peak takes, as a normal (Laplace's approximation).
    pub(super) fn log_share(&self) -> f64 {
        let half_log_root =
            |root: [[f64; MOST_AXES]; MOST_AXES]| -> f64 { (0..self.axes).map(|axis| log(root[axis][axis])).sum() };
        let scale = 0.5 * self.axes as f64 * log(std::f64::consts::TAU);
        cholesky(&self.precision, self.axes).map_or(f64::NEG_INFINITY, |root| scale - half_log_root(root))
    }
}

/// Precision of an even spread over an axis.
const EVEN: f64 = 12.0;
/// Gauss–Newton steps.
const STEPS: usize = 4;
/// A step shorter than this ends the climb, and one that gains less.
const NEAR: f64 = 0.01;
const LITTLE: f64 = 1.0;
/// Step of a finite difference.
const NUDGE: f64 = 0.01;
/// Residuals beyond this many σ pull less and less.
const FAR: f64 = 6.0;

/// Slopes are good this far from where they were measured.
const FRESH: f64 = 0.05;

/// Climbs from a place to the likeliest world; `residuals` are (read − shown)/σ of the readings that are numbers.
pub(super) fn climb(start: Draw, axes: usize, mut residuals: impl FnMut(&Draw) -> Vec<f64>) -> Option<Peak> {
    let here = residuals(&start);
    let slopes = slopes_at(&start, &here, axes, &mut residuals);
    climb_with((start, here), slopes, axes, &mut residuals)
}

/// The same from one of several worlds whose residuals are known: they give the first slopes.
pub(super) fn climb_among(
    worlds: &[(Draw, Vec<f64>)],
    start: usize,
    axes: usize,
    mut residuals: impl FnMut(&Draw) -> Vec<f64>,
) -> Option<Peak> {
    let (start, here) = worlds[start].clone();
    let slopes = slopes_by(&start, &here, axes, worlds)?;
    climb_with((start, here), slopes, axes, &mut residuals)
}

fn climb_with(
    (mut at, mut here): (Draw, Vec<f64>),
    mut slopes: Vec<Vec<f64>>,
    axes: usize,
    residuals: &mut impl FnMut(&Draw) -> Vec<f64>,
) -> Option<Peak> {
    let mut best = (at, here.clone());
    for _ in 0..STEPS {
        let (precision, pull) = normal_equations(&at, &here, &slopes);
        let change = solve(&precision, &pull, axes)?;
        let mut next = at;
        for axis in 0..axes {
            next[axis] = (at[axis] + change[axis].clamp(-0.3, 0.3)).clamp(0.005, 0.995);
        }
        let mut there = residuals(&next);
        if cost(&there) > cost(&here) {
            for axis in 0..axes {
                next[axis] = 0.5 * (next[axis] + at[axis]);
            }
            there = residuals(&next);
        }
        let length = distance(&at, &next, axes);
        let gain = cost(&here) - cost(&there);
        if cost(&there) < cost(&best.1) {
            best = (next, there.clone());
        }
        // Uphill the slopes were wrong, and are learned.
        if length < NEAR || (0.0..LITTLE).contains(&gain) {
            break;
        }
        let moved: Vec<f64> = (0..axes).map(|axis| next[axis] - at[axis]).collect();
        for (index, (after, before)) in there.iter().zip(&here).enumerate() {
            let foreseen: f64 = slopes.iter().zip(&moved).map(|(slope, step)| slope[index] * step).sum();
            let off = (after - before - foreseen) / (length * length);
            slopes.iter_mut().zip(&moved).for_each(|(slope, step)| slope[index] += off * step);
        }
        (at, here) = (next, there);
    }
    let (at, here) = best;
    let (precision, _) = normal_equations(&at, &here, &slopes);
    Some(Peak { axes, at, here, precision })
}

fn distance(from: &Draw, to: &Draw, axes: usize) -> f64 {
    sqrt((0..axes).map(|axis| (to[axis] - from[axis]) * (to[axis] - from[axis])).sum())
}

/// Change of each residual with each axis, by least squares over other worlds, near ones first.
fn slopes_by(at: &Draw, here: &[f64], axes: usize, others: &[(Draw, Vec<f64>)]) -> Option<Vec<Vec<f64>>> {
    /// How far other worlds speak for this one: along the severity, and along the shared parameters.
    const REACH: (f64, f64) = (0.15, 0.6);
    /// Pull of the slopes towards none.
    const RIDGE: f64 = 1e-3;
    let mut normal = [[0.0; MOST_AXES]; MOST_AXES];
    let mut sides = vec![[0.0; MOST_AXES]; here.len()];
    for (draw, shown) in others {
        let step: Vec<f64> = (0..axes).map(|axis| draw[axis] - at[axis]).collect();
        let far = |axis: usize| step[axis] / if axis == SEVERITY { REACH.0 } else { REACH.1 };
        let speaks = exp(-0.5 * (0..axes).map(|axis| far(axis) * far(axis)).sum::<f64>());
        for row in 0..axes {
            for column in 0..axes {
                normal[row][column] += speaks * step[row] * step[column];
            }
            for (side, (there, here)) in sides.iter_mut().zip(shown.iter().zip(here)) {
                side[row] += speaks * step[row] * (there - here);
            }
        }
    }
    (0..axes).for_each(|axis| normal[axis][axis] += RIDGE);
    let solved: Option<Vec<[f64; MOST_AXES]>> = sides.iter().map(|side| solve(&normal, side, axes)).collect();
    let solved = solved?;
    Some((0..axes).map(|axis| solved.iter().map(|slopes| slopes[axis]).collect()).collect())
}

/// Change of each residual with each axis, by finite differences.
fn slopes_at(at: &Draw, here: &[f64], axes: usize, residuals: &mut impl FnMut(&Draw) -> Vec<f64>) -> Vec<Vec<f64>> {
    let along = |axis: usize| {
        let nudge = if at[axis] > 0.5 { -NUDGE } else { NUDGE };
        let mut beside = *at;
        beside[axis] += nudge;
        residuals(&beside).iter().zip(here).map(|(there, here)| (there - here) / nudge).collect()
    };
    (0..axes).map(along).collect()
}

/// JᵀJ with the prior's precision, and the pull towards the peak; far residuals pull less.
fn normal_equations(at: &Draw, here: &[f64], slopes: &[Vec<f64>]) -> ([[f64; MOST_AXES]; MOST_AXES], [f64; MOST_AXES]) {
    let trust: Vec<f64> = here.iter().map(|residual| 1.0 / (1.0 + (residual / FAR) * (residual / FAR))).collect();
    let mut precision = [[0.0; MOST_AXES]; MOST_AXES];
    let mut pull = [0.0; MOST_AXES];
    for (row, slope) in slopes.iter().enumerate() {
        for (column, other) in slopes.iter().enumerate() {
            let product: f64 =
                trust.iter().zip(slope).zip(other).map(|((trust, left), right)| trust * left * right).sum();
            precision[row][column] = product + if row == column { EVEN } else { 0.0 };
        }
        let drawn: f64 = trust.iter().zip(slope).zip(here).map(|((trust, slope), here)| trust * slope * here).sum();
        pull[row] = EVEN * (0.5 - at[row]) - drawn;
    }
    (precision, pull)
}

/// Robust sum of squares.
fn cost(residuals: &[f64]) -> f64 {
    residuals.iter().map(|residual| robust(*residual)).sum()
}

/// The square of a residual that is small; one that is far counts less and less.
pub(super) fn robust(residual: f64) -> f64 {
    FAR * FAR * libm::log1p((residual / FAR) * (residual / FAR))
}

pub(super) fn solve(
    matrix: &[[f64; MOST_AXES]; MOST_AXES],
    side: &[f64; MOST_AXES],
    axes: usize,
) -> Option<[f64; MOST_AXES]> {
    let root = cholesky(matrix, axes)?;
    let mut x = *side;
    for row in 0..axes {
        let known: f64 = (0..row).map(|column| root[row][column] * x[column]).sum();
        x[row] = (x[row] - known) / root[row][row];
    }
    for row in (0..axes).rev() {
        let known: f64 = (row + 1..axes).map(|below| root[below][row] * x[below]).sum();
        x[row] = (x[row] - known) / root[row][row];
    }
    Some(x)
}

pub(super) fn cholesky(matrix: &[[f64; MOST_AXES]; MOST_AXES], axes: usize) -> Option<[[f64; MOST_AXES]; MOST_AXES]> {
    let mut root = [[0.0; MOST_AXES]; MOST_AXES];
    for row in 0..axes {
        for column in 0..=row {
            let known: f64 = (0..column).map(|inner| root[row][inner] * root[column][inner]).sum();
            let left = matrix[row][column] - known;
            if row == column {
                if left <= 0.0 {
                    return None;
                }
                root[row][row] = sqrt(left);
            } else {
                root[row][column] = left / root[column][column];
            }
        }
    }
    Some(root)
}
