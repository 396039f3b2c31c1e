//! From an outlook to a small problem that can be solved exactly: few suspects, the best few tests, few outcomes.
//! Idea: outcomes that say nearly the same are merged, the pair that loses fewest bits first.
//! Promise: outcomes with proportional columns are merged before any other, at no loss.
//! Limit: a plan over the best few tests only; correlation between tests within a suspect is not seen.

use super::belief::surprise;
use super::exact::{Ending, SmallProblem, SmallTest};
use super::outlook::{Forecast, Outlook};
use super::policy::Settings;
use super::situation::{Situation, Standing};

/// A small problem, with the test that each of its tests stands for.
pub(super) struct Narrowed {
    pub(super) problem: SmallProblem,
    pub(super) tests: Vec<usize>,
    pub(super) remedies: Vec<usize>,
}

/// Takes tests in the order given, each with what has to be made before it, as long as they fit.
pub(super) fn narrow(
    outlook: &Outlook,
    situation: &Situation,
    forecasts: &[Option<Forecast>],
    order: &[usize],
    settings: &Settings,
) -> Option<Narrowed> {
    let mut tests: Vec<usize> = Vec::new();
    for &test in order {
        let fresh: Vec<usize> = situation.bundle(test)?.into_iter().filter(|member| !tests.contains(member)).collect();
        if tests.len() + fresh.len() <= settings.exact_tests {
            tests.extend(fresh);
        }
    }
    let repairs = matches!(situation.ending, Ending::Repair { .. });
    let helps = |remedy: &usize| {
        repairs && situation.remedies[*remedy].fixes.iter().any(|suspect| outlook.suspects().contains(suspect))
    };
    let remedies: Vec<usize> = (0..situation.remedies.len()).filter(helps).collect();
    let states = |count: usize, most_outcomes: usize| {
        let outcomes =
            |test: &usize| forecasts[*test].as_ref().map_or(1, |forecast| possible(forecast).min(most_outcomes));
        let of_tests = tests[..count].iter().fold(1usize, |states, test| states.saturating_mul(outcomes(test) + 1));
        of_tests.saturating_mul(1 << remedies.len().min(40))
    };
    // Fewer outcomes first, then fewer tests; what a test needs first stands before it, so a head of the list is whole.
    let sizes = (tests.len().min(1)..=tests.len())
        .rev()
        .flat_map(|count| (2..=settings.exact_outcomes.max(2)).rev().map(move |most_outcomes| (count, most_outcomes)));
    let (count, most_outcomes) =
        sizes.into_iter().find(|&(count, most_outcomes)| states(count, most_outcomes) <= settings.exact_states)?;
    tests.truncate(count);
    let problem = SmallProblem {
        suspects: outlook.suspects().to_vec(),
        mass: outlook.mass().to_vec(),
        tests: tests
            .iter()
            .map(|&test| small_test(situation, forecasts[test].as_ref()?, test, &tests, most_outcomes))
            .collect::<Option<_>>()?,
        remedies: remedies.iter().map(|&remedy| situation.remedies[remedy].clone()).collect(),
        places: situation.places.clone(),
        ending: situation.ending,
    };
    Some(Narrowed { problem, tests, remedies })
}

/// How many outcomes can come at all.
fn possible(forecast: &Forecast) -> usize {
    (0..forecast.outcomes()).filter(|&outcome| forecast.probability(outcome) > 0.0).count()
}

fn small_test(
    situation: &Situation,
    forecast: &Forecast,
    test: usize,
    kept: &[usize],
    most_outcomes: usize,
) -> Option<SmallTest> {
    let columns = merged(forecast, most_outcomes);
    let (outcomes, suspects) = (columns.len(), columns.first()?.len());
    let mut likelihood = Vec::with_capacity(outcomes * suspects);
    for suspect in 0..suspects {
        let mass: f64 = columns.iter().map(|column| column[suspect]).sum();
        likelihood.extend(columns.iter().map(|column| column[suspect] / mass));
    }
    let made = &situation.tests[test];
    let waits_for = |first: &&usize| situation.standing(**first) != Standing::Done;
    let prerequisites = made.prerequisites.iter().filter(waits_for);
    Some(SmallTest {
        outcomes,
        likelihood,
        minutes: made.charged_minutes(),
        place: made.place,
        prerequisites: prerequisites.map(|first| kept.iter().position(|k| k == first)).collect::<Option<_>>()?,
        done: false,
    })
}

/// The joint columns of a forecast, merged until at most `most` are left.
fn merged(forecast: &Forecast, most: usize) -> Vec<Vec<f64>> {
    let mut columns: Vec<Vec<f64>> = (0..forecast.outcomes())
        .map(|outcome| forecast.joint(outcome).collect::<Vec<f64>>())
        .filter(|column| column.iter().sum::<f64>() > 0.0)
        .collect();
    while columns.len() > most {
        let mut least = (f64::INFINITY, 0, 1);
        for second in 1..columns.len() {
            for first in 0..second {
                let sum: Vec<f64> = columns[first].iter().zip(&columns[second]).map(|(a, b)| a + b).collect();
                let loss = confusion(&sum) - confusion(&columns[first]) - confusion(&columns[second]);
                if loss < least.0 {
                    least = (loss, first, second);
                }
            }
        }
        let (_, first, second) = least;
        let gone = columns.remove(second);
        columns[first].iter_mut().zip(gone).for_each(|(kept, gone)| *kept += gone);
    }
    columns
}

/// Probability of an outcome times the entropy of the suspects after it.
fn confusion(column: &[f64]) -> f64 {
    column.iter().map(|&p| surprise(p)).sum::<f64>() - surprise(column.iter().sum())
}
