//! A network solved near a base must have the answer that it has when solved in full.
//! The same networks every time; PROPTEST_RNG_SEED and PROPTEST_CASES try others and more.

#[path = "../examples/netlists/random.rs"]
mod random;
#[path = "../examples/netlists/starter.rs"]
mod starter;

use circuit::{Law, Network, OperatingPoint, Outcome, Solver, State, Unsolvable};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use quantity::{Amps, Ohms, Volts};

/// One difference from the base; branches and nodes are picked modulo what there is.
#[derive(Clone, Debug)]
enum Difference {
    Resistance(usize, f64),
    Factor(usize, f64),
    Open(usize),
    Shut(usize),
    Emf(usize, f64),
    Bridge(usize, usize, f64),
    Test(usize, usize, f64),
}

fn ohms() -> impl Strategy<Value = f64> {
    (-4.0..7.0).prop_map(|decades: f64| 10_f64.powf(decades))
}

fn difference() -> impl Strategy<Value = Difference> {
    prop_oneof![
        3 => (0_usize..64, prop_oneof![5 => ohms(), 1 => Just(0.0)]).prop_map(|(at, ohms)| Difference::Resistance(at, ohms)),
        2 => (0_usize..64, 0.1..10.0).prop_map(|(at, by)| Difference::Factor(at, by)),
        3 => (0_usize..64).prop_map(Difference::Open),
        1 => (0_usize..64).prop_map(Difference::Shut),
        1 => (0_usize..64, -3.0..3.0).prop_map(|(at, by)| Difference::Emf(at, by)),
        2 => (0_usize..64, 0_usize..64, ohms()).prop_map(|(from, to, ohms)| Difference::Bridge(from, to, ohms)),
        1 => (0_usize..64, 0_usize..64, -0.1..0.1).prop_map(|(from, to, amps)| Difference::Test(from, to, amps)),
    ]
}

fn differ(network: &Network, differences: &[Difference]) -> Network {
    let mut network = network.clone();
    for difference in differences {
        let conducts = |law: Law| matches!(law, Law::Linear { .. }) && law != Law::resistance(LEAK);
        let conductors: Vec<usize> =
            (0..network.branches.len()).filter(|&index| conducts(network.branches[index].law)).collect();
        let nodes = network.nodes;
        let mut alter = |at: usize, to: &dyn Fn(f64, f64) -> Law| {
            if let Some(&branch) = conductors.get(at % conductors.len().max(1))
                && let Law::Linear { resistance, emf } = network.branches[branch].law
            {
                network.branches[branch].law = to(resistance.0, emf.0);
            }
        };
        let linear = |ohms, emf| Law::Linear { resistance: Ohms(ohms), emf: Volts(emf) };
        match *difference {
            Difference::Resistance(at, to) => alter(at, &|_, emf| linear(to, emf)),
            Difference::Factor(at, by) => alter(at, &|ohms, emf| linear(ohms * by, emf)),
            Difference::Open(at) => alter(at, &|_, _| Law::Open),
            Difference::Shut(at) => {
                let curve = |law: Law| matches!(law, Law::Junction { .. } | Law::Lamp(_) | Law::Draw(_));
                let mut curves = network.branches.iter_mut().filter(|branch| curve(branch.law));
                if let Some(branch) = curves.nth(at % 6) {
                    branch.law = Law::Open;
                }
            }
            Difference::Emf(at, by) => alter(at, &|ohms, emf| linear(ohms, emf + by)),
            Difference::Bridge(from, to, ohms) => {
                network.add(from % nodes, to % nodes, Law::resistance(Ohms(ohms)));
            }
            Difference::Test(from, to, amps) => {
                network.add(from % nodes, to % nodes, Law::Source(Amps(amps)));
                network.add(to % nodes, from % nodes, Law::resistance(Ohms(1e4)));
            }
        }
    }
    network
}

const LEAK: Ohms = Ohms(123.0);

/// Voltages are compared only where a leak ties every node: one that hangs on blocking diodes moves by volts for a
/// rounding error of a current, in a full solution too.
fn leaky(mut network: Network) -> Network {
    let reference = network.reference;
    for node in (0..network.nodes).filter(|node| *node != reference) {
        network.add(node, reference, Law::resistance(LEAK));
    }
    network
}

fn same_state(network: &Network, near: &State, full: &State, volts_too: bool) -> Result<(), TestCaseError> {
    prop_assert_eq!(&near.relays, &full.relays);
    prop_assert_eq!(&near.blown, &full.blown);
    let current = |state: &State, at: usize| state.solution.current(at).0;
    let most = (0..network.branches.len()).fold(0.0, |most: f64, at| most.max(current(full, at).abs()));
    for at in 0..network.branches.len() {
        let (left, right) = (current(near, at), current(full, at));
        let slack = 1e-9 * most + 1e-10;
        prop_assert!((left - right).abs() <= slack, "branch {at}: {left} A near, {right} A in full, {most} A most");
    }
    let volts = |node: usize| full.solution.potential(node).map_or(0.0, |volts| volts.0.abs());
    let highest = (0..network.nodes).map(volts).fold(0.0, f64::max);
    for node in 0..network.nodes {
        let (left, right) = (near.solution.potential(node), full.solution.potential(node));
        prop_assert_eq!(left.is_some(), right.is_some(), "node {}", node);
        if let (Some(left), Some(right), true) = (left, right, volts_too) {
            let slack = 1e-9 * (20.0 + highest);
            prop_assert!((left.0 - right.0).abs() <= slack, "node {node}: {left:?} near, {right:?} in full");
        }
    }
    for (left, right) in near.rotors.iter().zip(&full.rotors) {
        prop_assert_eq!((left.turning, left.engaged), (right.turning, right.engaged));
        prop_assert!((left.speed.0 - right.speed.0).abs() <= 1e-7 * (1.0 + right.speed.0), "{left:?} {right:?}");
    }
    Ok(())
}

fn same(network: &Network, near: &OperatingPoint, full: &OperatingPoint, volts_too: bool) -> Result<(), TestCaseError> {
    same_state(network, &near.state, &full.state, volts_too)?;
    prop_assert_eq!(near.before_blow.is_some(), full.before_blow.is_some());
    match (&near.outcome, &full.outcome) {
        (Outcome::Steady, Outcome::Steady) => Ok(()),
        (Outcome::Chatter { relays, pulled }, Outcome::Chatter { relays: others, pulled: other }) => {
            prop_assert_eq!(relays, others);
            same_state(network, pulled, other, volts_too)
        }
        _ => Err(TestCaseError::fail("one chatters, the other is steady")),
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 2048,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(14),
        ..ProptestConfig::default()
    })]

    #[test]
    fn law_near_a_base_is_what_a_full_solution_gives(seed in 0_u64..1_000_000, differences in prop::collection::vec(difference(), 1..4)) {
        let base = random::random(seed).network;
        for (base, volts_too) in [(leaky(base.clone()), true), (base, false)] {
            let network = differ(&base, &differences);
        let mut solver = Solver::new();
        if solver.solve_base(&base).is_err() { continue }
        let near = solver.solve_near(&network);
        let full = Solver::new().solve(&network);
        // Consumers in series share as they please; a full solution may be at a loss where a near one is not.
        if matches!(full, Err(Unsolvable::Restless { .. })) { continue }
        prop_assert_eq!(near.is_err(), full.is_err());
        let (Ok(near), Ok(full)) = (near, full) else { continue };
        same(&network, &near, &full, volts_too)?;
        }
    }

    #[test]
    fn law_meters_after_a_near_solution_see_what_they_see_after_a_full_one(
        seed in 0_u64..1_000_000, differences in prop::collection::vec(difference(), 1..4),
        pairs in prop::collection::vec((0_usize..64, 0_usize..64), 1..5),
    ) {
        let base = leaky(random::random(seed).network);
        let network = differ(&base, &differences);
        let (mut quick, mut slow) = (Solver::new(), Solver::new());
        prop_assume!(quick.solve_base(&base).is_ok() && slow.solve(&network).is_ok() && quick.solve_near(&network).is_ok());
        for (from, to) in pairs {
            let (from, to) = (from % network.nodes, to % network.nodes);
            match (quick.thevenin(from, to), slow.thevenin(from, to)) {
                (None, None) => {}
                (Some(left), Some(right)) => {
                    let (left, right) = (left.resistance.0, right.resistance.0);
                    let slack = 2e-4 * right + 1e-6;
                    prop_assert!((left - right).abs() <= slack, "{left} Ω near, {right} Ω in full");
                }
                (left, right) => prop_assert!(false, "{left:?} near, {right:?} in full"),
            }
        }
    }
}

/// The starter circuit's base, with one of its branches altered.
fn starter_with(name: &str, law: Law) -> (Solver, Network) {
    let starter::Named { mut network, branches, .. } = starter::starter();
    let mut solver = Solver::new();
    solver.solve_base(&network).expect("it has a solution");
    let branch = branches.iter().position(|known| known == name).expect("it has that branch");
    network.branches[branch].law = law;
    (solver, network)
}

#[test]
fn law_no_severity_of_a_joint_costs_a_full_solution() {
    for decade in 0..20 {
        let ohms = 1e-4 * 2_f64.powi(decade);
        let (mut solver, network) = starter_with("relay-load-ring", Law::resistance(Ohms(ohms)));
        let near = solver.solve_near(&network).unwrap();
        assert!(solver.was_near(), "{ohms} Ω");
        same(&network, &near, &Solver::new().solve(&network).unwrap(), true).unwrap();
    }
}

#[test]
fn law_another_course_of_the_relays_is_followed_in_full() {
    let battery = starter::starter().branches.iter().position(|known| known == "battery").unwrap();
    for volts in [0.5, 4.0, 6.5, 8.0, 9.0, 10.0, 11.0, 13.5] {
        let mut network = starter::starter().network;
        let mut solver = Solver::new();
        solver.solve_base(&network).unwrap();
        network.branches[battery].law = Law::Linear { resistance: Ohms(0.03), emf: Volts(volts) };
        let near = solver.solve_near(&network).unwrap();
        same(&network, &near, &Solver::new().solve(&network).unwrap(), true).unwrap();
    }
}

#[test]
fn law_near_solutions_do_not_know_of_each_other() {
    let base = starter::starter().network;
    let others: Vec<Network> = (0..base.branches.len()).map(|at| differ(&base, &[Difference::Open(at)])).collect();
    let mut worn = Solver::new();
    worn.solve_base(&base).unwrap();
    for network in others.iter().chain(others.iter().rev()) {
        let mut fresh = Solver::new();
        fresh.solve_base(&base).unwrap();
        let text = |point| format!("{point:?}");
        assert_eq!(text(worn.solve_near(network)), text(fresh.solve_near(network)));
    }
}

#[test]
fn textbook_divider_opened_shorted_and_bridged() {
    let mut base = Network::new(3, 0);
    base.add(1, 0, Law::Linear { resistance: Ohms(1.0), emf: Volts(12.0) });
    let upper = base.add(1, 2, Law::resistance(Ohms(2.0)));
    let lower = base.add(2, 0, Law::resistance(Ohms(3.0)));
    base.add(2, 0, Law::resistance(Ohms(6.0)));
    let check = |network: &Network, volts: f64, amps: f64, near: bool| {
        let mut solver = Solver::new();
        solver.solve_base(&base).unwrap();
        let solution = solver.solve_near(network).unwrap().state.solution;
        assert_eq!(solver.was_near(), near);
        let (found, passes) = (solution.potential(2).unwrap().0, solution.current(upper).0);
        assert!((found - volts).abs() < 1e-14 * 12.0 && (passes - amps).abs() < 1e-14 * 12.0, "{found} V, {passes} A");
    };
    check(&base, 4.8, 2.4, true);
    let with = |branch: usize, law: Law| {
        let mut network = base.clone();
        network.branches[branch].law = law;
        network
    };
    check(&with(lower, Law::Open), 8.0, 12.0 / 9.0, true);
    check(&with(lower, Law::resistance(Ohms(0.0))), 0.0, 4.0, true);
    check(&with(lower, Law::resistance(Ohms(6.0))), 6.0, 2.0, true);
    // Rounding would be all that is left of the base's current.
    check(&with(upper, Law::Open), 0.0, 0.0, false);
    let mut bridged = base.clone();
    bridged.add(2, 0, Law::resistance(Ohms(2.0)));
    check(&bridged, 3.0, 3.0, true);
    bridged.add(1, 2, Law::resistance(Ohms(0.0)));
    check(&bridged, 6.0, 0.0, true);
}
