//! The chest clinic of Lauritzen & Spiegelhalter (1988), cast to worlds.
//! Expected: pyAgrum 3.3.1 LazyPropagation, equal to brute force to 5e-10 (docs/oracles.md); computed, not quoted.
//! A world is a joint state of A, S, T, L, B; X and D are readings, independent given the world.
#![allow(clippy::unwrap_used, missing_docs)]

use diagnosis::inference::{Belief, Evidence, Kernel, Outlook, Readings, Test, Worlds};

const A: usize = 16;
const S: usize = 8;
const T: usize = 4;
const L: usize = 2;
const B: usize = 1;

fn choose(state: bool, p: f64) -> f64 {
    if state { p } else { 1.0 - p }
}

fn p_xray(world: usize) -> f64 {
    if world & (T | L) != 0 { 0.98 } else { 0.05 }
}

fn p_short_breath(world: usize) -> f64 {
    match (world & (T | L) != 0, world & B != 0) {
        (false, false) => 0.1,
        (false, true) => 0.8,
        (true, false) => 0.7,
        (true, true) => 0.9,
    }
}

fn prior(world: usize) -> f64 {
    let is = |bit| world & bit != 0;
    choose(is(A), 0.01)
        * choose(is(S), 0.5)
        * choose(is(T), if is(A) { 0.05 } else { 0.01 })
        * choose(is(L), if is(S) { 0.1 } else { 0.01 })
        * choose(is(B), if is(S) { 0.6 } else { 0.3 })
}

/// "A", "-S", "X" and so on, as a reading on the given worlds.
fn seen(word: &str, worlds: &[usize]) -> Evidence {
    let (state, name) = word.strip_prefix('-').map_or((true, word), |name| (false, name));
    let p = |world: usize| match name {
        "A" => f64::from(u8::from(world & A != 0)),
        "S" => f64::from(u8::from(world & S != 0)),
        "X" => p_xray(world),
        "D" => p_short_breath(world),
        _ => unreachable!("no such reading"),
    };
    Evidence::new(word, worlds.iter().map(|&w| libm::log(choose(state, p(w)))).collect()).unwrap()
}

fn believe(worlds: &Worlds, states: &[usize], words: &[&str]) -> Belief {
    let mut readings = Readings::new();
    for word in words {
        readings.add(worlds, seen(word, states)).unwrap();
    }
    Belief::weigh(worlds, &readings).unwrap()
}

fn close(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{what}: found {found:.10}, expected {expected:.10}");
}

/// One row of the table: P(e), then T, L, B, E, X, D, S.
fn check(words: &[&str], expected: [f64; 8]) {
    let states: Vec<usize> = (0..32).collect();
    let log_prior = states.iter().map(|&w| libm::log(prior(w))).collect();
    // The suspects are the eight joint states of T, L and B.
    let worlds = Worlds::new(8, states.iter().map(|&w| (w & 7) as u32).collect(), log_prior).unwrap();
    let belief = believe(&worlds, &states, words);
    let evidence: f64 =
        (0..8).map(|s| libm::exp(worlds.log_suspect_prior()[s] + belief.log_evidence(&worlds)[s])).sum();
    let tolerance = 1e-8;
    close("P(e)", evidence, expected[0], tolerance);
    close("T", belief.marginal(|w| w & T != 0), expected[1], tolerance);
    close("L", belief.marginal(|w| w & L != 0), expected[2], tolerance);
    close("B", belief.marginal(|w| w & B != 0), expected[3], tolerance);
    close("E", belief.marginal(|w| w & (T | L) != 0), expected[4], tolerance);
    close("S", belief.marginal(|w| w & S != 0), expected[7], tolerance);
    // What X and D will show is a forecast of a test, unless they were seen.
    let outlook = Outlook::new(&worlds, &belief, 0.0);
    for (name, classes, rows, expected) in [
        (
            "X",
            states.iter().map(|&w| u8::from(w & (T | L) != 0)).collect::<Vec<u8>>(),
            vec![0.95, 0.05, 0.02, 0.98],
            expected[5],
        ),
        (
            "D",
            states.iter().map(|&w| 2 * u8::from(w & (T | L) != 0) + u8::from(w & B != 0)).collect(),
            vec![0.9, 0.1, 0.2, 0.8, 0.3, 0.7, 0.1, 0.9],
            expected[6],
        ),
    ] {
        if !words.iter().any(|word| word.ends_with(name)) {
            let test = Test::new(&worlds, classes, Kernel::new(2, rows).unwrap(), 1.0).unwrap();
            close(name, outlook.forecast(&test).probability(1), expected, tolerance);
        }
    }
}

#[test]
fn textbook_asia_multi_fault_marginals() {
    check(&[], [1.0, 0.0104, 0.055, 0.45, 0.064828, 0.110290040, 0.4359706, 0.5]);
    check(&["D"], [0.4359706, 0.018845307, 0.102759223, 0.833967336, 0.120535834, 0.162098326, 1.0, 0.633996880]);
    check(
        &["A", "D"],
        [0.004501375, 0.087750965, 0.099525145, 0.811402072, 0.182299853, 0.219538863, 1.0, 0.625919858],
    );
    check(&["A", "D", "-S"], [0.001683875, 0.112834979, 0.022566996, 0.717942246, 0.134273625, 0.174874471, 1.0, 0.0]);
    check(&["A", "D", "S"], [0.002817500, 0.072759539, 0.145519077, 0.867258208, 0.211002662, 0.246232476, 1.0, 1.0]);
    check(&["A", "X", "D"], [0.000988227, 0.391711720, 0.444270508, 0.628821776, 0.813768702, 1.0, 1.0, 0.702025117]);
    check(&["S", "X"], [0.075852400, 0.067183108, 0.645991425, 0.6, 0.706456223, 1.0, 0.731936867, 1.0]);
    check(&["-X", "D", "-S"], [0.144415664, 0.000547309, 0.000526259, 0.773746091, 0.001068095, 0.0, 1.0, 0.0]);
}

#[test]
fn textbook_asia_prior_of_the_eight_joint_states() {
    let table = [0.5210244, 0.4141476, 0.0232556, 0.0311724, 0.0054756, 0.0043524, 0.0002444, 0.0003276];
    for (state, expected) in table.into_iter().enumerate() {
        let found: f64 = [0, A, S, A | S].iter().map(|&above| prior(state | above)).sum();
        close("prior", found, expected, 1e-10);
    }
}

/// Single faults only: none, T, L or B alone.
#[test]
fn textbook_asia_single_fault_table_and_equal_signatures_never_separate() {
    let states = [0, T, L, B];
    let log_prior = |&state: &usize| libm::log([0, A, S, A | S].iter().map(|&above| prior(state | above)).sum());
    let worlds = Worlds::new(4, vec![0, 1, 2, 3], states.iter().map(log_prior).collect()).unwrap();
    let rows = [
        (["-X", "-D"], 0.543971940, [0.849599518, 0.000062657, 0.000266115, 0.150071710]),
        (["-X", "D"], 0.378307418, [0.135738607, 0.000210224, 0.000892848, 0.863158322]),
        (["X", "-D"], 0.037383989, [0.650656109, 0.044674529, 0.189738654, 0.114930709]),
        (["X", "D"], 0.040336653, [0.067003082, 0.096610103, 0.410315932, 0.426070883]),
    ];
    let odds = 0.005680653 / 0.024126489;
    let before = Belief::weigh(&worlds, &Readings::new()).unwrap();
    let start = [0.540536021, 0.005680653, 0.024126489, 0.429656837];
    (0..4).for_each(|s| close("prior", before.suspects()[s], start[s], 1e-9));
    for (words, p_evidence, expected) in rows {
        let belief = believe(&worlds, &states, &words);
        let found: f64 =
            (0..4).map(|s| libm::exp(worlds.log_suspect_prior()[s] + belief.log_evidence(&worlds)[s])).sum();
        close("P(e | single)", found, p_evidence, 1e-8);
        for (suspect, expected) in expected.into_iter().enumerate() {
            close("posterior", belief.suspects()[suspect], expected, 1e-8);
        }
        let ratio = belief.suspects()[1] / belief.suspects()[2];
        close("odds of T to L", ratio, odds, 1e-7);
        close("odds of T to L, to rounding", ratio, before.suspects()[1] / before.suspects()[2], 1e-14);
    }
}
