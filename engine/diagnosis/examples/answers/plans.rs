//! Small problems by lot, with the optimum, what advice costs, and the whole tree of what is advised.

use std::error::Error;

use diagnosis::inference::{Ending, Move, Settings, SmallProblem};
use serde::{Deserialize, Serialize};

use crate::small_problems::{Dice, chosen, minutes_of, one_step_ahead, p1, p2, p3, random_problem};

/// How many problems of which size, by which seed; none of them: P1 to P3.
#[derive(Deserialize)]
pub struct Question {
    problems: usize,
    suspects: usize,
    tests: usize,
    seed: u64,
    /// Leave out the problems and the trees, which only a short list needs.
    #[serde(default)]
    figures_only: bool,
}

#[derive(Serialize)]
pub struct Answer {
    optimum: f64,
    advised: f64,
    one_step_ahead: f64,
    problem: Option<Problem>,
    tree: Option<Tree>,
}

#[derive(Serialize)]
struct Problem {
    mass: Vec<f64>,
    tests: Vec<Test>,
    remedies: Vec<(f64, Option<usize>)>,
    access: Vec<f64>,
    /// What a wrong verdict costs, where the job ends by one.
    wrong_minutes: Option<f64>,
}

#[derive(Serialize)]
struct Test {
    minutes: f64,
    place: Option<usize>,
    needs: Vec<usize>,
    /// P(outcome | suspect), a row for each suspect.
    rows: Vec<Vec<f64>>,
}

/// What is advised, and what comes after each outcome.
#[derive(Serialize)]
struct Tree {
    step: String,
    after: Vec<Tree>,
}

/// Solves them all.
pub fn answer(question: &Question) -> Result<Vec<Answer>, Box<dyn Error>> {
    let mut dice = Dice(question.seed);
    let drawn = (0..question.problems).map(|_| random_problem(&mut dice, question.suspects, question.tests));
    let problems = if question.problems == 0 { vec![p1(), p2(), p3()] } else { drawn.collect() };
    let settings = Settings::default();
    let told = |problem: &SmallProblem| {
        Ok(Answer {
            optimum: problem.solve()?.expected_minutes,
            advised: minutes_of(problem, &settings),
            one_step_ahead: minutes_of(problem, &one_step_ahead()),
            problem: (!question.figures_only).then(|| written(problem)),
            tree: (!question.figures_only).then(|| tree(problem, &settings)),
        })
    };
    problems.iter().map(told).collect()
}

fn written(problem: &SmallProblem) -> Problem {
    Problem {
        mass: problem.mass.clone(),
        tests: problem
            .tests
            .iter()
            .map(|test| Test {
                minutes: test.minutes,
                place: test.place,
                needs: test.prerequisites.clone(),
                rows: test.likelihood.chunks(test.outcomes).map(<[f64]>::to_vec).collect(),
            })
            .collect(),
        remedies: problem.remedies.iter().map(|remedy| (remedy.minutes, remedy.place)).collect(),
        access: (0..2).map(|place| problem.places.unpaid(Some(place))).collect(),
        wrong_minutes: match problem.ending {
            Ending::Declare { wrong_minutes } => Some(wrong_minutes),
            Ending::Repair { .. } => None,
        },
    }
}

fn tree(problem: &SmallProblem, settings: &Settings) -> Tree {
    if problem.mass.iter().sum::<f64>() < 1e-12 {
        return Tree { step: "nothing left".into(), after: vec![] };
    }
    let (step, _) = chosen(problem, settings);
    let after = match step {
        Move::Declare => vec![],
        Move::Remedy(at) => vec![tree(&problem.after_remedy(at), settings)],
        Move::Test(at) => {
            let outcomes = 0..problem.tests[at].outcomes;
            outcomes.map(|outcome| tree(&problem.after_test(at, outcome), settings)).collect()
        }
    };
    Tree { step: format!("{step:?}"), after }
}
