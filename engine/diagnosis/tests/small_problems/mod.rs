//! Small problems whose cheapest plan is known, and what always doing what is advised costs on them.
//! P1 to P3 were made for this, with exact answers by an independent recursion (docs/oracles.md); random ones come from
//! a generator with a seed, so that `referee/plans.py` sees the very same.
#![allow(clippy::unwrap_used, missing_docs)]

use diagnosis::inference::{
    Belief, Ending, Kernel, Move, Outlook, Places, Readings, Remedy, Settings, Situation, SmallProblem, SmallTest,
    Stage, Standing, Test, Worlds, advise,
};

pub fn remedies(costs: &[(f64, Option<usize>)]) -> Vec<Remedy> {
    let remedy = |(suspect, &(minutes, place))| Remedy { minutes, lost: 0.0, place, fixes: vec![suspect] };
    (0..).zip(costs).map(remedy).collect()
}

pub fn binary(minutes: f64, place: Option<usize>, p_one: &[f64]) -> SmallTest {
    let likelihood = p_one.iter().flat_map(|p| [1.0 - p, *p]).collect();
    SmallTest { outcomes: 2, likelihood, minutes, place, prerequisites: vec![], done: false }
}

pub fn problem(
    mass: &[f64],
    tests: Vec<SmallTest>,
    remedies: Vec<Remedy>,
    access: &[f64],
    ending: Ending,
) -> SmallProblem {
    SmallProblem {
        suspects: (0..mass.len() as u32).collect(),
        mass: mass.to_vec(),
        tests,
        remedies,
        places: Places::new(access.to_vec()),
        ending,
    }
}

pub const REPAIR: Ending = Ending::Repair { unfixed_minutes: 0.0 };

pub fn p1() -> SmallProblem {
    let tests = vec![
        binary(2.0, None, &[0.95, 0.90, 0.10, 0.05]),
        binary(1.0, None, &[0.80, 0.20, 0.70, 0.30]),
        binary(3.0, None, &[0.05, 0.95, 0.50, 0.95]),
    ];
    let remedies = remedies(&[(10.0, None), (8.0, None), (6.0, None), (12.0, None)]);
    problem(&[0.4, 0.3, 0.2, 0.1], tests, remedies, &[], REPAIR)
}

pub fn p2() -> SmallProblem {
    let (s, t) = (Some(0), Some(1));
    let one_for =
        |faults: &[usize]| -> Vec<f64> { (1..=6).map(|f| f64::from(u8::from(faults.contains(&f)))).collect() };
    let tests = vec![
        binary(1.0, None, &one_for(&[1, 2, 4])),
        binary(1.0, s, &one_for(&[1, 5])),
        binary(1.5, s, &one_for(&[3, 4, 6])),
        binary(1.0, t, &one_for(&[3, 5, 6])),
        binary(2.0, t, &one_for(&[2, 6])),
    ];
    let remedies = remedies(&[(4.0, s), (6.0, None), (5.0, t), (15.0, s), (8.0, None), (3.0, t)]);
    problem(&[0.25, 0.20, 0.20, 0.15, 0.12, 0.08], tests, remedies, &[5.0, 3.0], REPAIR)
}

pub fn p3() -> SmallProblem {
    let test = |minutes, place, prerequisites, likelihood: &[f64]| SmallTest {
        outcomes: 3,
        likelihood: likelihood.to_vec(),
        minutes,
        place,
        prerequisites,
        done: false,
    };
    let tests = vec![
        test(1.0, None, vec![], &[0.8, 0.15, 0.05, 0.1, 0.8, 0.1, 0.1, 0.8, 0.1, 0.05, 0.15, 0.8, 0.05, 0.15, 0.8]),
        test(2.0, None, vec![], &[0.1, 0.1, 0.8, 0.85, 0.1, 0.05, 0.05, 0.1, 0.85, 0.3, 0.4, 0.3, 0.1, 0.8, 0.1]),
        test(1.5, Some(0), vec![], &[0.6, 0.3, 0.1, 0.3, 0.6, 0.1, 0.1, 0.3, 0.6, 0.9, 0.05, 0.05, 0.05, 0.05, 0.9]),
        // One minute, and half a minute's worth of risk.
        test(
            1.5,
            Some(0),
            vec![0],
            &[0.98, 0.01, 0.01, 0.01, 0.98, 0.01, 0.01, 0.01, 0.98, 0.98, 0.01, 0.01, 0.01, 0.01, 0.98],
        ),
    ];
    problem(&[0.35, 0.25, 0.20, 0.12, 0.08], tests, vec![], &[4.0], Ending::Declare { wrong_minutes: 60.0 })
}

/// What the policy does on a small problem, one world for each suspect.
pub fn chosen(problem: &SmallProblem, settings: &Settings) -> (Move, Stage) {
    let log_weight = problem.mass.iter().map(|&p| libm::log(p)).collect();
    let worlds = Worlds::new(problem.mass.len(), problem.suspects.clone(), log_weight).unwrap();
    let belief = Belief::weigh(&worlds, &Readings::new()).unwrap();
    let outlook = Outlook::new(&worlds, &belief, 0.0);
    let tests: Vec<Test> = problem
        .tests
        .iter()
        .map(|test| {
            let kernel = Kernel::new(test.outcomes, test.likelihood.clone()).unwrap();
            let mut made =
                Test::new(&worlds, (0..problem.mass.len() as u8).collect::<Vec<u8>>(), kernel, test.minutes).unwrap();
            made.place = test.place;
            made.prerequisites = test.prerequisites.clone();
            made
        })
        .collect();
    let standing: Vec<Standing> =
        problem.tests.iter().map(|test| if test.done { Standing::Done } else { Standing::Open }).collect();
    let situation = Situation {
        tests: &tests,
        standing: &standing,
        remedies: &problem.remedies,
        places: &problem.places,
        ending: problem.ending,
    };
    let advice = advise(&outlook, &situation, settings);
    (advice.candidates[0].first, advice.stage)
}

/// Exact expected minutes × mass of always doing what the policy says.
pub fn minutes_of(problem: &SmallProblem, settings: &Settings) -> f64 {
    let total: f64 = problem.mass.iter().sum();
    if total < 1e-12 {
        return 0.0;
    }
    match chosen(problem, settings).0 {
        Move::Declare => {
            let Ending::Declare { wrong_minutes } = problem.ending else { unreachable!() };
            wrong_minutes * (total - problem.mass.iter().copied().fold(0.0, f64::max))
        }
        Move::Remedy(at) => {
            let cost = problem.remedies[at].minutes + problem.places.unpaid(problem.remedies[at].place);
            cost * total + minutes_of(&problem.after_remedy(at), settings)
        }
        Move::Test(at) => {
            let test = &problem.tests[at];
            let left = (0..test.outcomes).map(|outcome| minutes_of(&problem.after_test(at, outcome), settings));
            (test.minutes + problem.places.unpaid(test.place)) * total + left.sum::<f64>()
        }
    }
}

/// Neither bits per minute nor exact plans.
pub fn one_step_ahead() -> Settings {
    Settings { open_bits: f64::INFINITY, exact_suspects: 0, ..Settings::default() }
}

/// A small generator for random problems (SplitMix64; Steele, Lea & Flood 2014).
pub struct Dice(pub u64);

impl Dice {
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[(self.uniform() * from.len() as f64) as usize]
    }
}

/// Binary tests with 0, 2 or 10 % error, two places of 1 to 6 minutes, remedies of 2 to 20 minutes.
pub fn random_problem(dice: &mut Dice, suspects: usize, tests: usize) -> SmallProblem {
    let places = [None, Some(0), Some(1)];
    let mass: Vec<f64> = (0..suspects).map(|_| -libm::log(1.0 - dice.uniform())).collect();
    let total: f64 = mass.iter().sum();
    let mass: Vec<f64> = mass.iter().map(|m| m / total).collect();
    let tests = (0..tests)
        .map(|_| {
            let error = dice.pick(&[0.0, 0.02, 0.1]);
            let p_one: Vec<f64> = (0..suspects).map(|_| dice.pick(&[error, 1.0 - error])).collect();
            binary(0.5 + 2.5 * dice.uniform(), dice.pick(&places), &p_one)
        })
        .collect();
    let costs: Vec<_> = (0..suspects).map(|_| (2.0 + 18.0 * dice.uniform(), dice.pick(&places))).collect();
    let access = [1.0 + 5.0 * dice.uniform(), 1.0 + 5.0 * dice.uniform()];
    problem(&mass, tests, remedies(&costs), &access, REPAIR)
}
