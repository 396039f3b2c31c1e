//! The cheapest plan there is, for a handful of suspects, tests and remedies, by dynamic programming.
//! Law: V(state) = min over legal steps of cost + Σ P(outcome)·V(next); a state is the outcomes so far and the
//! remedies tried (Bellman). Check values P1–P3: docs/oracles.md.
//! Promise: the optimum under the model; ties go to the first step listed.
//! Limit: up to 10 suspects and `LARGEST` states; outcomes are independent given the suspect.

use super::places::Places;
use super::repair::{Remedy, Repairs};

/// Most suspects that a small problem may have.
const MOST_SUSPECTS: usize = 10;
/// Most states that are worked through.
pub(super) const LARGEST: usize = 1 << 21;
/// Branches with less than this share of the start cost nothing.
const NEGLIGIBLE_BRANCH: f64 = 1e-12;

/// How a job may end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ending {
    /// Go on until a remedy has worked; a fault that no remedy fixes costs `unfixed_minutes` in the end.
    Repair {
        /// Minutes that an unfixed fault costs.
        unfixed_minutes: f64,
    },
    /// Name the fault at any time; naming the wrong one costs `wrong_minutes`. Remedies are not used.
    Declare {
        /// Minutes that a wrong verdict costs.
        wrong_minutes: f64,
    },
}

/// A step that can be taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Move {
    /// Make the test with this index.
    Test(usize),
    /// Do the remedy with this index.
    Remedy(usize),
    /// Name the likeliest suspect and stop.
    Declare,
}

/// A test in a small problem: P(outcome | suspect).
#[derive(Debug, Clone, PartialEq)]
pub struct SmallTest {
    /// How many outcomes it has.
    pub outcomes: usize,
    /// P(outcome | suspect), a row for each suspect.
    pub likelihood: Vec<f64>,
    /// Minutes charged, risk included, access excluded.
    pub minutes: f64,
    /// Where it is made.
    pub place: Option<usize>,
    /// Tests that have to be made first.
    pub prerequisites: Vec<usize>,
    /// Made already, so not to be made again.
    pub done: bool,
}

/// A problem small enough to be solved exactly.
#[derive(Debug, Clone, PartialEq)]
pub struct SmallProblem {
    /// The suspects, as remedies name them.
    pub suspects: Vec<u32>,
    /// Their probabilities, side by side with `suspects`.
    pub mass: Vec<f64>,
    /// The tests.
    pub tests: Vec<SmallTest>,
    /// The remedies.
    pub remedies: Vec<Remedy>,
    /// Access minutes.
    pub places: Places,
    /// How the job may end.
    pub ending: Ending,
}

/// The optimum, and what each first step leads to.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Expected minutes of the best plan.
    pub expected_minutes: f64,
    /// Expected minutes of each legal first step followed by the best plan, best first.
    pub moves: Vec<(Move, f64)>,
}

/// The problem is too large to be solved exactly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{suspects} suspects and {states} states; exact planning takes 10 suspects and two million states")]
pub struct TooLarge {
    /// How many suspects there are.
    pub suspects: usize,
    /// How many states there would be (saturating).
    pub states: usize,
}

impl SmallProblem {
    /// How many states the plan has to look at, at most.
    pub fn states(&self) -> usize {
        let open = self.tests.iter().filter(|test| !test.done);
        let tests = open.fold(1usize, |states, test| states.saturating_mul(test.outcomes + 1));
        let remedies = if self.uses_remedies() { self.remedies.len().min(40) } else { 0 };
        tests.saturating_mul(1 << remedies)
    }

    /// Finds the best plan.
    pub fn solve(&self) -> Result<Solution, TooLarge> {
        let (suspects, states) = (self.suspects.len(), self.states());
        if suspects > MOST_SUSPECTS || states > LARGEST {
            return Err(TooLarge { suspects, states });
        }
        let mut search = Search::new(self, states);
        let root = search.root();
        let total = root.total();
        let mut moves = Vec::new();
        search.each_move(&root, |step, minutes| moves.push((step, minutes / total)));
        moves.sort_by(|a, b| a.1.total_cmp(&b.1));
        let unfixed = match self.ending {
            Ending::Repair { unfixed_minutes } => unfixed_minutes,
            Ending::Declare { .. } => 0.0,
        };
        Ok(Solution { expected_minutes: moves.first().map_or(unfixed, |best| best.1), moves })
    }

    /// The problem that is left once a test has shown an outcome.
    pub fn after_test(&self, test: usize, outcome: usize) -> SmallProblem {
        let mut left = self.clone();
        let made = &left.tests[test];
        let likelihood = made.likelihood.iter().skip(outcome).step_by(made.outcomes.max(1));
        left.mass.iter_mut().zip(likelihood).for_each(|(mass, p)| *mass *= p);
        left.tests[test].done = true;
        left.places.open(left.tests[test].place);
        left
    }

    /// The problem that is left once a remedy has not worked.
    pub fn after_remedy(&self, remedy: usize) -> SmallProblem {
        let mut left = self.clone();
        for (mass, suspect) in left.mass.iter_mut().zip(&left.suspects) {
            if left.remedies[remedy].fixes.contains(suspect) {
                *mass = 0.0;
            }
        }
        left.places.open(left.remedies[remedy].place);
        left
    }

    fn uses_remedies(&self) -> bool {
        matches!(self.ending, Ending::Repair { .. })
    }
}

/// Where a plan has got to. Masses are joint with the outcomes so far, so values are minutes × mass.
#[derive(Clone)]
struct State {
    mass: [f64; MOST_SUSPECTS],
    index: usize,
    tests_done: u64,
    places: Places,
}

impl State {
    fn total(&self) -> f64 {
        self.mass.iter().sum()
    }
}

struct Search<'a> {
    problem: &'a SmallProblem,
    repairs: Repairs<'a>,
    /// How far each test's outcome, and each remedy, moves the index of a state.
    test_stride: Vec<usize>,
    remedy_stride: usize,
    floor: f64,
    /// NaN where not yet known.
    known: Vec<f64>,
}

impl<'a> Search<'a> {
    fn new(problem: &'a SmallProblem, states: usize) -> Self {
        let mut stride = 1;
        let mut test_stride = Vec::new();
        for test in &problem.tests {
            test_stride.push(stride);
            stride *= if test.done { 1 } else { test.outcomes + 1 };
        }
        Search {
            problem,
            repairs: Repairs::new(&problem.suspects, &problem.remedies),
            test_stride,
            remedy_stride: stride,
            floor: NEGLIGIBLE_BRANCH * problem.mass.iter().sum::<f64>(),
            known: vec![f64::NAN; states],
        }
    }

    fn root(&self) -> State {
        let mut mass = [0.0; MOST_SUSPECTS];
        mass.iter_mut().zip(&self.problem.mass).for_each(|(to, from)| *to = *from);
        let done = self.problem.tests.iter().enumerate().filter(|(_, test)| test.done);
        let tests_done = done.fold(0, |mask, (at, _)| mask | bit(at));
        State { mass, index: 0, tests_done, places: self.problem.places.clone() }
    }

    fn value(&mut self, state: &State) -> f64 {
        if state.total() <= self.floor {
            return 0.0;
        }
        if self.known[state.index].is_nan() {
            let mut best = f64::INFINITY;
            self.each_move(state, |_, minutes| best = best.min(minutes));
            if let (Ending::Repair { unfixed_minutes }, true) = (self.problem.ending, best.is_infinite()) {
                best = unfixed_minutes * state.total();
            }
            self.known[state.index] = best;
        }
        self.known[state.index]
    }

    /// Tells every legal move with its minutes × mass.
    fn each_move(&mut self, state: &State, mut tell: impl FnMut(Move, f64)) {
        let total = state.total();
        let can_go_on = match self.problem.ending {
            Ending::Declare { wrong_minutes } => {
                let likeliest = state.mass.iter().copied().fold(0.0, f64::max);
                tell(Move::Declare, wrong_minutes * (total - likeliest));
                true
            }
            Ending::Repair { .. } => self.each_remedy(state, total, &mut tell),
        };
        // Where no remedy can help any more, no test can either.
        if can_go_on {
            for test in 0..self.problem.tests.len() {
                self.make_test(state, total, test, &mut tell);
            }
        }
    }

    fn each_remedy(&mut self, state: &State, total: f64, tell: &mut impl FnMut(Move, f64)) -> bool {
        let mut any = false;
        for (at, remedy) in self.problem.remedies.iter().enumerate() {
            if self.repairs.chance(at, &state.mass) > 0.0 {
                let mut next = state.clone();
                self.repairs.targets(at).iter().for_each(|&suspect| next.mass[suspect] = 0.0);
                next.index += self.remedy_stride << at;
                next.places.open(remedy.place);
                let cost = remedy.minutes + state.places.unpaid(remedy.place);
                let in_vain = remedy.lost * (total - self.repairs.chance(at, &state.mass)).max(0.0);
                tell(Move::Remedy(at), cost * total + in_vain + self.value(&next));
                any = true;
            }
        }
        any
    }

    fn make_test(&mut self, state: &State, total: f64, at: usize, tell: &mut impl FnMut(Move, f64)) {
        let test = &self.problem.tests[at];
        let waits = test.prerequisites.iter().any(|&first| state.tests_done & bit(first) == 0);
        if state.tests_done & bit(at) != 0 || waits {
            return;
        }
        let mut minutes = (test.minutes + state.places.unpaid(test.place)) * total;
        let mut next = state.clone();
        next.tests_done |= bit(at);
        next.places.open(test.place);
        for outcome in 0..test.outcomes {
            let likelihood = test.likelihood.iter().skip(outcome).step_by(test.outcomes.max(1));
            let joint = next.mass.iter_mut().zip(&state.mass).zip(likelihood);
            joint.for_each(|((to, from), p)| *to = from * p);
            next.index = state.index + (outcome + 1) * self.test_stride[at];
            minutes += self.value(&next);
        }
        tell(Move::Test(at), minutes);
    }
}

/// A test's bit in `State::tests_done`; a test beyond the 64th has none, and waits for ever.
fn bit(test: usize) -> u64 {
    1u64.checked_shl(test as u32).unwrap_or(0)
}
