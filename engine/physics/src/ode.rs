//! Ordinary differential equations, stepped as far as the accuracy allows and stopped where something changes.
//! Law: the additive Runge–Kutta pair of order 4 and 3 ARK4(3)6L\[2\]SA of Kennedy & Carpenter (Appl. Numer. Math. 44,
//! 2003): what is stiff is taken implicitly by its own linear part, all else explicitly, so that a winding that settles in
//! a millisecond does not hold up an engine that turns in a fifth of a second. The step is kept by the error of the
//! embedded pair; a crossing is located on the cubic through both ends of the step, and the step is taken again up to it.
//! Promise: no allocation; the same bits for the same start; a linear part that is a little wrong costs steps, never
//! accuracy. Limit: unknowns that are stiff without saying so are followed by short steps.

use libm::{fabs, pow, sqrt};

/// Equations in `N` unknowns, `S` of them stiff, that are left where one of `E` quantities turns negative.
pub trait Equations<const N: usize, const S: usize, const E: usize> {
    /// Rates follow from so many unknowns, the first ones; the others only add up.
    const FOLLOW: usize = N;

    /// How fast each unknown changes.
    fn rates(&self, at: f64, state: &[f64; N]) -> [f64; N];

    /// The stiff unknowns about a state, each after those that it hangs on.
    fn stiff(&self, state: &[f64; N]) -> [Stiff; S];

    /// Quantities that are positive for as long as these equations hold.
    fn holds_while(&self, at: f64, state: &[f64; N]) -> [f64; E];

    /// Size of each unknown below which its error does not matter; infinite for one that steers no step.
    fn scale(&self) -> [f64; N];
}

/// The linear part of a stiff unknown's rate.
#[derive(Clone, Copy, Debug)]
pub struct Stiff {
    /// Which unknown.
    pub unknown: usize,
    /// What its rate changes by with itself, 1/s.
    pub by_itself: f64,
    /// Another unknown that it follows at once, and what its rate changes by with that.
    pub by_other: (usize, f64),
}

impl Stiff {
    fn of<const N: usize>(&self, state: &[f64; N]) -> f64 {
        self.by_itself * state[self.unknown] + self.by_other.1 * state[self.by_other.0]
    }
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
    /// The last step, while the same equations hold.
    span: Option<Span<N>>,
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

/// Each stage by the rates of the stages before it, for what is not stiff.
const FREE: [[f64; 5]; 5] = [
    [0.5, 0.0, 0.0, 0.0, 0.0],
    [13861.0 / 62500.0, 6889.0 / 62500.0, 0.0, 0.0, 0.0],
    [
        -116_923_316_275.0 / 2_393_684_061_468.0,
        -2_731_218_467_317.0 / 15_368_042_101_831.0,
        9_408_046_702_089.0 / 11_113_171_139_209.0,
        0.0,
        0.0,
    ],
    [
        -451_086_348_788.0 / 2_902_428_689_909.0,
        -2_682_348_792_572.0 / 7_519_795_681_897.0,
        12_662_868_775_082.0 / 11_960_479_115_383.0,
        3_355_817_975_965.0 / 11_060_851_509_271.0,
        0.0,
    ],
    [
        647_845_179_188.0 / 3_216_320_057_751.0,
        73_281_519_250.0 / 8_382_639_484_533.0,
        552_539_513_391.0 / 3_454_668_386_233.0,
        3_354_512_671_639.0 / 8_306_763_924_573.0,
        4040.0 / 17871.0,
    ],
];
/// The same for what is stiff, its own share [`OWN`] apart.
const HELD: [[f64; 5]; 5] = [
    [0.25, 0.0, 0.0, 0.0, 0.0],
    [8611.0 / 62500.0, -1743.0 / 31250.0, 0.0, 0.0, 0.0],
    [5_012_029.0 / 34_652_500.0, -654_441.0 / 2_922_500.0, 174_375.0 / 388_108.0, 0.0, 0.0],
    [
        15_267_082_809.0 / 155_376_265_600.0,
        -71_443_401.0 / 120_774_400.0,
        730_878_875.0 / 902_184_768.0,
        2_285_395.0 / 8_070_912.0,
        0.0,
    ],
    [82889.0 / 524_892.0, 0.0, 15625.0 / 83664.0, 69875.0 / 102_672.0, -2260.0 / 8211.0],
];
/// Share of its own rate in each stage of what is stiff.
const OWN: f64 = 0.25;
const C: [f64; 5] = [1.0 / 2.0, 83.0 / 250.0, 31.0 / 50.0, 17.0 / 20.0, 1.0];
const WEIGHTS: [f64; 6] = [82889.0 / 524_892.0, 0.0, 15625.0 / 83664.0, 69875.0 / 102_672.0, -2260.0 / 8211.0, OWN];
/// Weights of order 3.
const COARSE: [f64; 6] = [
    4_586_570_599.0 / 29_645_900_160.0,
    0.0,
    178_811_875.0 / 945_068_544.0,
    814_220_225.0 / 1_159_782_912.0,
    -3_700_637.0 / 11_593_932.0,
    61727.0 / 225_920.0,
];

/// The first step's share of the longest.
const SHORT: f64 = 1e-2;

/// What happens within a step: the cubic through both its ends with their rates.
#[derive(Clone, Copy, Debug)]
pub struct Span<const N: usize> {
    /// How long it is.
    pub step: f64,
    from: [f64; N],
    to: [f64; N],
    rates: [[f64; N]; 2],
}

impl<const N: usize> Span<N> {
    /// The unknowns at a share of the step.
    pub fn at(&self, share: f64) -> [f64; N] {
        let Self { step, from, to, rates: [first, last] } = self;
        let rest = 1.0 - share;
        std::array::from_fn(|unknown| {
            let (from, to) = (from[unknown], to[unknown]);
            let bend = rest * step * first[unknown] - share * step * last[unknown] + (share - rest) * (to - from);
            rest * from + share * to + share * rest * bend
        })
    }

    /// The share of the step at which an unknown that has risen begins to fall.
    pub fn peak(&self, unknown: usize) -> Option<f64> {
        let [first, last] = self.rates.map(|rates| self.step * rates[unknown]);
        if first <= 0.0 || last >= 0.0 {
            return None;
        }
        // Where the slope of the cubic, a parabola from `first` to `last`, is nothing.
        let whole = self.to[unknown] - self.from[unknown];
        let (linear, square) = (2.0 * (3.0 * whole - 2.0 * first - last), 3.0 * (first + last - 2.0 * whole));
        Some(2.0 * first / (sqrt(linear * linear - 4.0 * square * first) - linear))
    }
}

/// A step that has been tried.
struct Tried<const N: usize> {
    span: Span<N>,
    error: f64,
}

impl<const N: usize> Stepper<N> {
    /// A stepper that begins with a short step.
    pub fn new(tolerance: f64, longest: f64) -> Self {
        Self { tolerance, longest, step: longest * SHORT, span: None, taken: 0, refused: 0 }
    }

    /// Begins with a short step again, after what the equations say has changed.
    pub fn restart(&mut self) {
        self.step = self.step.min(self.longest * SHORT);
        self.span = None;
    }

    /// The last step; nothing after a restart.
    pub fn last(&self) -> Option<&Span<N>> {
        self.span.as_ref()
    }

    /// Takes one step, at most up to `until` and at most up to the first crossing.
    pub fn step<const S: usize, const E: usize>(
        &mut self,
        equations: &impl Equations<N, S, E>,
        at: &mut f64,
        state: &mut [f64; N],
        until: f64,
    ) -> Ended {
        let first = self.span.map_or_else(|| equations.rates(*at, state), |span| span.rates[1]);
        let (scale, stiff) = (equations.scale(), equations.stiff(state));
        loop {
            let left = until - *at;
            let step = self.step.min(self.longest).min(left);
            let tried = self.attempt(equations, *at, state, (&first, &stiff), &scale, step);
            // A step that stays too coarse at a ten-thousandth of a microsecond is taken all the same: what is left then is
            // a jump, which no step resolves.
            if tried.error > 1.0 && step > 1e-10 {
                self.refused += 1;
                self.step = step * (0.9 * pow(tried.error, -0.25)).max(0.2);
                continue;
            }
            let grown = step * (0.9 * pow(tried.error.max(1e-6), -0.25)).min(5.0);
            // A step cut short by the end says little of what the next may be.
            self.step = if step < left { grown } else { self.step.max(grown) };
            self.taken += 1;
            let Some((share, which)) = first_crossing(equations, *at, &tried.span) else {
                *at = if step == left { until } else { *at + step };
                *state = tried.span.to;
                self.span = Some(tried.span);
                return Ended::Stepped;
            };
            let short = step * share;
            let span = self.attempt(equations, *at, state, (&first, &stiff), &scale, short).span;
            *at += short;
            *state = span.to;
            self.span = Some(span);
            return Ended::Crossed(which);
        }
    }

    fn attempt<Q: Equations<N, S, E>, const S: usize, const E: usize>(
        &self,
        equations: &Q,
        at: f64,
        state: &[f64; N],
        (first, stiff): (&[f64; N], &[Stiff; S]),
        scale: &[f64; N],
        step: f64,
    ) -> Tried<N> {
        let mut slopes = [[0.0; N]; 6];
        let mut linear = [[0.0; S]; 6];
        slopes[0] = *first;
        linear[0] = stiff.map(|row| row.of(state));
        for stage in 0..5 {
            let mut next = *state;
            for (slope, weight) in slopes.iter().zip(&FREE[stage][..=stage]) {
                for unknown in 0..Q::FOLLOW {
                    next[unknown] += step * weight * slope[unknown];
                }
            }
            for (index, row) in stiff.iter().enumerate() {
                let moved = HELD[stage].iter().zip(&FREE[stage]).zip(&linear[..=stage]);
                let moved: f64 = moved.map(|((held, free), linear)| (held - free) * linear[index]).sum();
                let (other, how) = row.by_other;
                next[row.unknown] += step * (moved + OWN * how * next[other]);
                next[row.unknown] /= 1.0 - step * OWN * row.by_itself;
                linear[stage + 1][index] = row.of(&next);
            }
            slopes[stage + 1] = equations.rates(at + C[stage] * step, &next);
        }
        let by = |weights: &[f64; 6], unknown: usize| -> f64 {
            slopes.iter().zip(weights).map(|(slope, weight)| weight * slope[unknown]).sum()
        };
        let changes: [f64; N] = std::array::from_fn(|unknown| by(&WEIGHTS, unknown));
        let next: [f64; N] = std::array::from_fn(|unknown| state[unknown] + step * changes[unknown]);
        let (mut sum, mut counted) = (0.0, 0.0_f64);
        for unknown in (0..N).filter(|unknown| scale[*unknown].is_finite()) {
            let size = scale[unknown] + fabs(state[unknown]).max(fabs(next[unknown]));
            let share = step * (changes[unknown] - by(&COARSE, unknown)) / (self.tolerance * size);
            sum += share * share;
            counted += 1.0;
        }
        let rates = [*first, equations.rates(at + step, &next)];
        Tried { span: Span { step, from: *state, to: next, rates }, error: sqrt(sum / counted.max(1.0)) }
    }
}

/// Share of the step at which the first quantity turns negative, and which.
fn first_crossing<const N: usize, const S: usize, const E: usize>(
    equations: &impl Equations<N, S, E>,
    at: f64,
    span: &Span<N>,
) -> Option<(f64, usize)> {
    let after = equations.holds_while(at + span.step, &span.to);
    let before = equations.holds_while(at, &span.from);
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
            let value = equations.holds_while(at + share * span.step, &span.at(share))[which];
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A ball on a bouncing floor: falls, and is turned round where it touches.
    struct Falls;

    impl Equations<2, 0, 1> for Falls {
        fn rates(&self, _: f64, state: &[f64; 2]) -> [f64; 2] {
            [state[1], -9.81]
        }

        fn stiff(&self, _: &[f64; 2]) -> [Stiff; 0] {
            []
        }

        fn holds_while(&self, _: f64, state: &[f64; 2]) -> [f64; 1] {
            [state[0]]
        }

        fn scale(&self) -> [f64; 2] {
            [1.0, 1.0]
        }
    }

    struct Swings;

    impl Equations<2, 0, 0> for Swings {
        fn rates(&self, _: f64, state: &[f64; 2]) -> [f64; 2] {
            [state[1], -state[0]]
        }

        fn stiff(&self, _: &[f64; 2]) -> [Stiff; 0] {
            []
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

    /// A pendulum, and what follows it the faster the stiffer it is (after Prothero & Robinson 1974), with a linear part that
    /// is off by a factor.
    struct Follows {
        stiffness: f64,
        said: f64,
    }

    impl Equations<3, 1, 0> for Follows {
        fn rates(&self, _: f64, state: &[f64; 3]) -> [f64; 3] {
            [-self.stiffness * (state[0] - state[1]), state[2], -state[1]]
        }

        fn stiff(&self, _: &[f64; 3]) -> [Stiff; 1] {
            let rate = self.said * self.stiffness;
            [Stiff { unknown: 0, by_itself: -rate, by_other: (1, rate) }]
        }

        fn holds_while(&self, _: f64, _: &[f64; 3]) -> [f64; 0] {
            []
        }

        fn scale(&self) -> [f64; 3] {
            [1.0; 3]
        }
    }

    #[test]
    fn law_what_settles_fast_costs_few_steps_and_a_wrong_linear_part_no_accuracy() {
        let follow = |stiffness: f64, said: f64| {
            let (mut at, mut state) = (0.0, [1.0, 1.0, 0.0]);
            let mut stepper = Stepper::new(3e-4, 1.0);
            while at < 10.0 {
                stepper.step(&Follows { stiffness, said }, &mut at, &mut state, 10.0);
            }
            // From rest beside the pendulum: what it lags by, and what is left of its start.
            let (square, over) = (stiffness * stiffness, stiffness * stiffness + 1.0);
            let lagging = (square * libm::cos(10.0) + stiffness * libm::sin(10.0)) / over;
            ((state[0] - lagging - (1.0 - square / over) * libm::exp(-10.0 * stiffness)).abs(), stepper.taken)
        };
        for stiffness in [1.0, 1e2, 1e4, 1e6] {
            let (error, steps) = follow(stiffness, 1.0);
            assert!(error < 3e-3 && steps < 80, "{stiffness}: {error} in {steps}");
        }
        let (_, explicit) = follow(1e3, 0.0);
        for said in [0.8, 1.2] {
            let (error, steps) = follow(1e3, said);
            assert!(
                error < 3e-3 && steps < explicit / 6,
                "{said}: {error} in {steps}, {explicit} without a linear part"
            );
        }
    }

    #[test]
    fn textbook_conditions_of_order_four_of_an_additive_pair() {
        // Kennedy & Carpenter 2003, section 2: each of both tables, and each after the other.
        let nodes: Vec<f64> = std::iter::once(0.0).chain(C).collect();
        let table = |rows: [[f64; 5]; 5], own: f64| -> Vec<Vec<f64>> {
            let row = |stage: usize| {
                let mut row = rows[stage].to_vec();
                row.push(0.0);
                row[stage + 1] += own;
                row
            };
            std::iter::once(vec![0.0; 6]).chain((0..5).map(row)).collect()
        };
        let tables = [table(FREE, 0.0), table(HELD, OWN)];
        let by = |row: &[f64], values: &[f64]| row.iter().zip(values).map(|(a, b)| a * b).sum::<f64>();
        let after = |table: &[Vec<f64>], values: &[f64]| table.iter().map(|row| by(row, values)).collect::<Vec<f64>>();
        let times = |left: &[f64], right: &[f64]| left.iter().zip(right).map(|(a, b)| a * b).collect::<Vec<f64>>();
        let squares = times(&nodes, &nodes);
        let is = |value: f64, expected: f64| assert!((value - expected).abs() < 1e-14, "{value} is no {expected}");
        for (weights, order) in [(WEIGHTS, 4), (COARSE, 3)] {
            is(weights.iter().sum(), 1.0);
            is(by(&weights, &nodes), 1.0 / 2.0);
            is(by(&weights, &squares), 1.0 / 3.0);
            for table in &tables {
                let once = after(table, &nodes);
                assert!(after(table, &[1.0; 6]).iter().zip(&nodes).all(|(sum, node)| (sum - node).abs() < 1e-14));
                is(by(&weights, &once), 1.0 / 6.0);
                if order == 4 {
                    is(by(&weights, &times(&squares, &nodes)), 1.0 / 4.0);
                    is(by(&weights, &times(&nodes, &once)), 1.0 / 8.0);
                    is(by(&weights, &after(table, &squares)), 1.0 / 12.0);
                    tables.iter().for_each(|other| is(by(&weights, &after(other, &once)), 1.0 / 24.0));
                }
            }
        }
    }

    #[test]
    fn law_a_peak_within_a_step_is_where_the_cubic_turns() {
        // 3 t − 4 t³ rises from nothing and turns at t = 1/2.
        let span = Span { step: 0.8, from: [0.0], to: [3.0 * 0.8 - 4.0 * 0.512], rates: [[3.0], [3.0 - 12.0 * 0.64]] };
        let share = span.peak(0).unwrap();
        assert!((share * 0.8 - 0.5).abs() < 1e-12 && (span.at(share)[0] - 1.0).abs() < 1e-12, "{share}");
        assert!(Span { rates: [[3.0], [0.1]], ..span }.peak(0).is_none());
    }
}
