//! Ordinary differential equations, stepped as far as the accuracy allows and stopped where something changes.
//! Law: the explicit Runge–Kutta pair of order 5 and 4 of Dormand & Prince (J. Comp. Appl. Math. 6, 1980), its step kept
//! by the error of the embedded pair; a crossing is located on the cubic through both ends of the step, and the step is
//! taken again up to it. Promise: no allocation; the same bits for the same start.
//! Limit: not for time constants far below the changes of interest; the shortest in a cranking machine is the motor's
//! inductance over its resistance, about a millisecond, which an explicit pair takes in its stride.

use libm::{fabs, pow, sqrt};

/// Equations in `N` unknowns that are left where one of `E` quantities turns negative.
pub trait Equations<const N: usize, const E: usize> {
    /// How fast each unknown changes.
    fn rates(&self, at: f64, state: &[f64; N]) -> [f64; N];

    /// Quantities that are positive for as long as these equations hold.
    fn holds_while(&self, at: f64, state: &[f64; N]) -> [f64; E];

    /// Size of each unknown below which its error does not matter; infinite for one that steers no step.
    fn scale(&self) -> [f64; N];
}

/// Steps equations; keeps its step from one call to the next. Whoever changes state or equations in between says so by
/// [`Stepper::restart`].
#[derive(Clone, Copy, Debug)]
pub struct Stepper<const N: usize> {
    /// Largest relative error of a step.
    pub tolerance: f64,
    /// Longest step.
    pub longest: f64,
    step: f64,
    /// How fast things change where the last step ended, while the same equations hold.
    rates: Option<[f64; N]>,
    /// Steps taken so far.
    pub taken: u32,
    /// Steps that were too coarse and taken again.
    pub refused: u32,
}

/// Why a step ended where it did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// The accuracy allowed no more, or the time asked for is reached.
    Stepped,
    /// The quantity of that index turned negative.
    Crossed(usize),
}

const A: [[f64; 6]; 6] = [
    [1.0 / 5.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    [3.0 / 40.0, 9.0 / 40.0, 0.0, 0.0, 0.0, 0.0],
    [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0, 0.0, 0.0, 0.0],
    [19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0, 0.0, 0.0],
    [9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0, 0.0],
    [35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0],
];
const C: [f64; 6] = [1.0 / 5.0, 3.0 / 10.0, 4.0 / 5.0, 8.0 / 9.0, 1.0, 1.0];
const ERROR: [f64; 7] =
    [71.0 / 57600.0, 0.0, -71.0 / 16695.0, 71.0 / 1920.0, -17253.0 / 339_200.0, 22.0 / 525.0, -1.0 / 40.0];

/// A step that has been tried.
struct Tried<const N: usize> {
    state: [f64; N],
    rates: [f64; N],
    error: f64,
}

impl<const N: usize> Stepper<N> {
    /// A stepper that begins with a short step.
    pub fn new(tolerance: f64, longest: f64) -> Self {
        Self { tolerance, longest, step: longest * 1e-2, rates: None, taken: 0, refused: 0 }
    }

    /// Begins with a short step again, after what the equations say has changed.
    pub fn restart(&mut self) {
        self.step = self.step.min(self.longest * 2e-2);
        self.rates = None;
    }

    /// Takes one step, at most up to `until` and at most up to the first crossing.
    pub fn step<const E: usize>(
        &mut self,
        equations: &impl Equations<N, E>,
        at: &mut f64,
        state: &mut [f64; N],
        until: f64,
    ) -> Ended {
        let first = self.rates.take().unwrap_or_else(|| equations.rates(*at, state));
        let scale = equations.scale();
        loop {
            let left = until - *at;
            let step = self.step.min(self.longest).min(left);
            let tried = self.attempt(equations, *at, state, &first, &scale, step);
            // A step that stays too coarse at a ten-thousandth of a microsecond is taken all the same: what is left then is
            // a jump, which no step resolves.
            if tried.error > 1.0 && step > 1e-10 {
                self.refused += 1;
                self.step = step * (0.9 * pow(tried.error, -0.2)).max(0.2);
                continue;
            }
            let grown = step * (0.9 * pow(tried.error.max(1e-6), -0.2)).min(5.0);
            // A step cut short by the end says little of what the next may be.
            self.step = if step < left { grown } else { self.step.max(grown) };
            self.taken += 1;
            let crossed = first_crossing(equations, *at, state, &first, step, &tried);
            let Some((share, which)) = crossed else {
                *at = if step == left { until } else { *at + step };
                *state = tried.state;
                self.rates = Some(tried.rates);
                return Ended::Stepped;
            };
            let short = step * share;
            *state = self.attempt(equations, *at, state, &first, &scale, short).state;
            *at += short;
            return Ended::Crossed(which);
        }
    }

    fn attempt<const E: usize>(
        &self,
        equations: &impl Equations<N, E>,
        at: f64,
        state: &[f64; N],
        first: &[f64; N],
        scale: &[f64; N],
        step: f64,
    ) -> Tried<N> {
        let mut slopes = [[0.0; N]; 7];
        slopes[0] = *first;
        let mut next = *state;
        for stage in 0..6 {
            for unknown in 0..N {
                let mut sum = 0.0;
                for (slope, weight) in slopes.iter().zip(&A[stage]) {
                    sum += weight * slope[unknown];
                }
                next[unknown] = state[unknown] + step * sum;
            }
            slopes[stage + 1] = equations.rates(at + C[stage] * step, &next);
        }
        let mut sum = 0.0;
        let mut counted: f64 = 0.0;
        for unknown in 0..N {
            if !scale[unknown].is_finite() {
                continue;
            }
            let error: f64 = slopes.iter().zip(&ERROR).map(|(slope, weight)| weight * slope[unknown]).sum();
            let size = scale[unknown] + fabs(state[unknown]).max(fabs(next[unknown]));
            let share = step * error / (self.tolerance * size);
            sum += share * share;
            counted += 1.0;
        }
        Tried { state: next, rates: slopes[6], error: sqrt(sum / counted.max(1.0)) }
    }
}

/// Share of the step at which the first quantity turns negative, and which.
fn first_crossing<const N: usize, const E: usize>(
    equations: &impl Equations<N, E>,
    at: f64,
    state: &[f64; N],
    first: &[f64; N],
    step: f64,
    tried: &Tried<N>,
) -> Option<(f64, usize)> {
    let after = equations.holds_while(at + step, &tried.state);
    let before = equations.holds_while(at, state);
    let mut found: Option<(f64, usize)> = None;
    for which in (0..E).filter(|which| after[*which] < 0.0) {
        let mut low = (0.0, before[which]);
        let mut high = (1.0, after[which]);
        if low.1 <= 0.0 {
            return Some((0.0, which));
        }
        // Illinois: a secant that does not stick to one end.
        for _ in 0..40 {
            let share = low.0 + (high.0 - low.0) * low.1 / (low.1 - high.1);
            let between = interpolated(state, first, step, tried, share);
            let value = equations.holds_while(at + share * step, &between)[which];
            if value < 0.0 {
                high = (share, value);
                low.1 *= 0.5;
            } else {
                low = (share, value);
                high.1 *= 0.5;
            }
            if high.0 - low.0 < 1e-10 || value == 0.0 {
                break;
            }
        }
        if found.is_none_or(|(share, _)| high.0 < share) {
            found = Some((high.0, which));
        }
    }
    found
}

/// The cubic through both ends of a step with their slopes.
fn interpolated<const N: usize>(
    state: &[f64; N],
    first: &[f64; N],
    step: f64,
    tried: &Tried<N>,
    share: f64,
) -> [f64; N] {
    let rest = 1.0 - share;
    let mut between = [0.0; N];
    for unknown in 0..N {
        let (from, to) = (state[unknown], tried.state[unknown]);
        let bend = rest * step * first[unknown] - share * step * tried.rates[unknown] + (share - rest) * (to - from);
        between[unknown] = rest * from + share * to + share * rest * bend;
    }
    between
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A ball on a bouncing floor: falls, and is turned round where it touches.
    struct Falls;

    impl Equations<2, 1> for Falls {
        fn rates(&self, _: f64, state: &[f64; 2]) -> [f64; 2] {
            [state[1], -9.81]
        }

        fn holds_while(&self, _: f64, state: &[f64; 2]) -> [f64; 1] {
            [state[0]]
        }

        fn scale(&self) -> [f64; 2] {
            [1.0, 1.0]
        }
    }

    struct Swings;

    impl Equations<2, 0> for Swings {
        fn rates(&self, _: f64, state: &[f64; 2]) -> [f64; 2] {
            [state[1], -state[0]]
        }

        fn holds_while(&self, _: f64, _: &[f64; 2]) -> [f64; 0] {
            []
        }

        fn scale(&self) -> [f64; 2] {
            [1.0, 1.0]
        }
    }

    #[test]
    fn law_a_fall_ends_where_the_equation_of_the_fall_says() {
        let (mut at, mut state) = (0.0, [2.0, 0.0]);
        let mut stepper = Stepper::new(1e-8, 1.0);
        while stepper.step(&Falls, &mut at, &mut state, 5.0) == Ended::Stepped {}
        assert!((at - sqrt(4.0 / 9.81)).abs() < 1e-9, "{at}");
        assert!((state[1] + sqrt(4.0 * 9.81)).abs() < 1e-8);
    }

    #[test]
    fn law_a_pendulum_comes_back_after_a_turn_and_a_tighter_tolerance_is_nearer() {
        let error = |tolerance: f64| {
            let (mut at, mut state) = (0.0, [1.0, 0.0]);
            let mut stepper = Stepper::new(tolerance, 10.0);
            while at < std::f64::consts::TAU {
                stepper.step(&Swings, &mut at, &mut state, std::f64::consts::TAU);
            }
            ((state[0] - 1.0).abs().max(state[1].abs()), stepper.taken)
        };
        let ((coarse, few), (fine, many)) = (error(1e-4), error(1e-9));
        assert!(coarse < 1e-2 && fine < 1e-7 && few < many, "{coarse} in {few}, {fine} in {many}");
        assert!(many < 250, "{many} steps for one turn");
    }
}
