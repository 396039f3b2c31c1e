//! Laws that every network must obey, tried on random networks.
//! The same networks every time; PROPTEST_RNG_SEED and PROPTEST_CASES try others and more.
//! The lamp's heat balance and the diode's equation are written out here a second time, so that a slip in one shows.

use circuit::{Branch, Law, Network, Outcome, Solver, Unsolvable};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use quantity::{Amps, Ohms, Volts, Watts};

const ROOM: f64 = 0.025_865;

fn ohms() -> impl Strategy<Value = f64> {
    (-4.0..7.0).prop_map(|decades: f64| 10_f64.powf(decades))
}

fn conductor() -> impl Strategy<Value = Law> {
    prop_oneof![
        8 => ohms().prop_map(|ohms| Law::resistance(Ohms(ohms))),
        1 => Just(Law::resistance(Ohms(0.0))),
        1 => Just(Law::Open),
    ]
}

fn source() -> impl Strategy<Value = Law> {
    (1e-3..0.5, -15.0..15.0).prop_map(|(ohms, emf)| Law::Linear { resistance: Ohms(ohms), emf: Volts(emf) })
}

fn curve() -> impl Strategy<Value = Law> {
    prop_oneof![
        (-14.0..-7.0, 1.0..2.0, prop_oneof![Just(0.0), 1e-3..0.2]).prop_map(
            |(decades, ideality, ohms): (f64, f64, f64)| {
                Law::Junction {
                    saturation: Amps(10_f64.powf(decades)),
                    emission: Volts(ideality * ROOM),
                    resistance: Ohms(ohms),
                }
            }
        ),
        (1.0..60.0).prop_map(|watts| Law::Lamp(Watts(watts))),
        (0.01..8.0).prop_map(|amps| Law::Draw(Amps(amps))),
    ]
}

fn network(law: impl Strategy<Value = Law>, most: usize) -> impl Strategy<Value = Network> {
    let branch = (0_usize..10, 0_usize..10, law);
    (2_usize..10, prop::collection::vec(branch, 0..most)).prop_map(|(nodes, branches)| {
        let mut network = Network::new(nodes, 0);
        for (from, to, law) in branches {
            network.add(from % nodes, to % nodes, law);
        }
        network
    })
}

/// Resistances and sources.
fn linear() -> impl Strategy<Value = Network> {
    network(prop_oneof![5 => conductor(), 2 => source()], 22)
}

/// Everything; at most about eight nonlinear parts.
fn mixed() -> impl Strategy<Value = Network> {
    (linear(), prop::collection::vec((0_usize..10, 0_usize..10, curve()), 0..8)).prop_map(|(mut network, curves)| {
        for (from, to, law) in curves {
            let (from, to) = (from % network.nodes, to % network.nodes);
            network.add(from, to, law);
        }
        network
    })
}

/// Adds a current source; the resistance beside it makes sure that the current has somewhere to go.
fn driven(network: &Network, from: usize, to: usize, amps: f64, beside: f64) -> Network {
    let mut network = network.clone();
    network.add(from, to, Law::Source(Amps(amps)));
    network.add(from, to, Law::resistance(Ohms(beside)));
    network
}

/// Filament current from the heat balance, by bisection on the temperature.
fn lamp_amps(watts: f64, volts: f64) -> f64 {
    let size = watts / 5.0;
    let ohms = |theta: f64| 2.26 / size * (theta / 0.3).powf(1.2);
    let heat = |theta: f64| size * (0.09 * (theta - 0.3) + 0.123 * (theta.powi(4) - 0.3_f64.powi(4)));
    let (mut low, mut high) = (0.3, 1e4);
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if ohms(middle) * heat(middle) < volts * volts { low = middle } else { high = middle }
    }
    volts / ohms(low)
}

/// What the branch's law is off by, in amperes or volts over what it may be off by.
fn law_error(branch: &Branch, volts: f64, amps: f64, most_volts: f64, most_amps: f64) -> f64 {
    let slack = 1e-9 * (1.0 + most_volts);
    match branch.law {
        Law::Open => amps.abs() / 1e-300,
        Law::Linear { resistance, emf } => (volts - resistance.0 * amps - emf.0).abs() / slack,
        Law::Source(driven) => (amps - driven.0).abs() / 1e-300,
        Law::Junction { saturation, emission, resistance } => {
            let inner = volts - resistance.0 * amps;
            let expected = saturation.0 * (inner / emission.0).exp_m1();
            let slope = saturation.0 * (inner / emission.0).exp() / emission.0;
            (amps - expected).abs() / (1e-9 * most_amps + slope * slack + 1e-7)
        }
        Law::Lamp(watts) => {
            (amps - lamp_amps(watts.0, volts)).abs() / (1e-9 * (1.0 + most_amps) + watts.0 / 11.0 * slack)
        }
        Law::Draw(drawn) => {
            let expected = if volts.abs() >= 1.0 { drawn.0 * volts.signum() } else { drawn.0 * volts };
            (amps - expected).abs() / (1e-9 * most_amps + drawn.0 * slack + 1e-8)
        }
    }
}

fn check_laws(network: &Network) -> Result<(), TestCaseError> {
    let mut solver = Solver::new();
    let point = match solver.solve(network) {
        Ok(point) => point,
        Err(Unsolvable::Conflict { by, .. }) => {
            prop_assert!(by.abs() > 1e-9);
            return Ok(());
        }
        Err(other) => return Err(TestCaseError::fail(other.to_string())),
    };
    let solution = &point.state.solution;
    let amps: Vec<f64> = (0..network.branches.len()).map(|branch| solution.current(branch).0).collect();
    let volts: Vec<f64> = network.branches.iter().map(|branch| solution.across(branch.from, branch.to).0).collect();
    prop_assert!(amps.iter().chain(&volts).all(|value| value.is_finite()));
    let most_amps = amps.iter().fold(0.0, |most: f64, amps| most.max(amps.abs()));
    let most_volts = volts.iter().fold(0.0, |most: f64, volts| most.max(volts.abs()));

    let mut into = vec![0.0; network.nodes];
    for (branch, amps) in network.branches.iter().zip(&amps) {
        into[branch.from] -= amps;
        into[branch.to] += amps;
    }
    let residual = into.iter().fold(0.0, |most: f64, sum| most.max(sum.abs()));
    prop_assert!(residual <= 1e-13 * most_amps, "Kirchhoff: {residual} A of {most_amps} A");

    for (index, branch) in network.branches.iter().enumerate() {
        if matches!(branch.law, Law::Open) && amps[index] == 0.0 {
            continue;
        }
        let error = law_error(branch, volts[index], amps[index], most_volts, most_amps);
        prop_assert!(error <= 1.0, "branch {index} {branch:?}: {} V, {} A, {error}", volts[index], amps[index]);
    }
    let power: f64 = volts.iter().zip(&amps).map(|(volts, amps)| volts * amps).sum();
    let turned_over: f64 = volts.iter().zip(&amps).map(|(volts, amps)| (volts * amps).abs()).sum();
    prop_assert!(power.abs() <= 1e-9 * turned_over + 1e-15, "power {power} W of {turned_over} W");

    for (node, tied) in tied(network).into_iter().enumerate() {
        prop_assert_eq!(solution.potential(node).is_some(), tied, "node {}", node);
    }
    Ok(())
}

/// Nodes with a conducting path to the reference, by walking.
fn tied(network: &Network) -> Vec<bool> {
    let mut tied = vec![false; network.nodes];
    tied[network.reference] = true;
    for _ in 0..network.nodes {
        for branch in &network.branches {
            let conducts = match branch.law {
                Law::Open | Law::Source(_) | Law::Draw(_) => false,
                Law::Linear { .. } | Law::Junction { .. } | Law::Lamp(_) => true,
            };
            if conducts && (tied[branch.from] || tied[branch.to]) {
                tied[branch.from] = true;
                tied[branch.to] = true;
            }
        }
    }
    tied
}

fn close(left: f64, right: f64, slack: f64) -> bool {
    (left - right).abs() <= slack
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 512,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(12),
        ..ProptestConfig::default()
    })]

    #[test]
    fn law_linear_networks_obey_kirchhoff_and_every_branch_its_own_law(network in linear()) {
        check_laws(&network)?;
    }

    #[test]
    fn law_mixed_networks_obey_kirchhoff_and_every_branch_its_own_law(network in mixed()) {
        check_laws(&network)?;
    }

    #[test]
    fn law_driven_networks_obey_kirchhoff_and_every_branch_its_own_law(
        network in mixed(), from in 0_usize..10, to in 0_usize..10, amps in -50.0..50.0, beside in 0.01..100.0,
    ) {
        check_laws(&driven(&network, from % network.nodes, to % network.nodes, amps, beside))?;
    }

    #[test]
    fn law_a_passive_network_is_reciprocal(
        network in network(conductor(), 24), left in (0_usize..10, 0_usize..10), right in (0_usize..10, 0_usize..10),
    ) {
        let pick = |pair: (usize, usize)| (pair.0 % network.nodes, pair.1 % network.nodes);
        let (left, right) = (pick(left), pick(right));
        let transfer = |by: (usize, usize), seen: (usize, usize)| {
            let mut network = network.clone();
            for pair in [by, seen] {
                network.add(pair.0, pair.1, Law::resistance(Ohms(3.0)));
            }
            network.add(by.0, by.1, Law::Source(Amps(1.0)));
            Solver::new().solve(&network).map(|point| point.state.solution.across(seen.0, seen.1).0)
        };
        let (there, back) = (transfer(left, right), transfer(right, left));
        let (Ok(there), Ok(back)) = (there, back) else { return Err(TestCaseError::fail("no solution")) };
        prop_assert!(close(there, back, 1e-11 * (1.0 + there.abs())), "{there} and {back}");
    }

    #[test]
    fn law_swapping_the_ends_of_a_branch_negates_its_current_and_nothing_else(network in mixed(), which in 0_usize..64) {
        let symmetric: Vec<usize> = (0..network.branches.len())
            .filter(|&index| match network.branches[index].law {
                Law::Linear { resistance, .. } => resistance.0 > 0.0,
                Law::Draw(_) | Law::Lamp(_) => true,
                _ => false,
            })
            .collect();
        prop_assume!(!symmetric.is_empty());
        let which = symmetric[which % symmetric.len()];
        let mut turned = network.clone();
        let branch = &mut turned.branches[which];
        std::mem::swap(&mut branch.from, &mut branch.to);
        if let Law::Linear { emf, .. } = &mut branch.law {
            *emf = -*emf;
        }
        let (Ok(before), Ok(after)) = (Solver::new().solve(&network), Solver::new().solve(&turned)) else { return Ok(()) };
        for index in 0..network.branches.len() {
            let (old, new) = (before.state.solution.current(index).0, after.state.solution.current(index).0);
            let sign = if index == which { -1.0 } else { 1.0 };
            prop_assert!(close(old, sign * new, 1e-8 * (1.0 + old.abs())), "branch {index}: {old} A, {new} A");
        }
    }

    #[test]
    fn law_a_vast_resistance_tends_to_open_and_a_tiny_one_to_ideal(network in mixed(), from in 0_usize..10, to in 0_usize..10) {
        let (from, to) = (from % network.nodes, to % network.nodes);
        let with = |law: Law| {
            let mut network = network.clone();
            network.add(from, to, law);
            Solver::new().solve(&network)
        };
        // Both ends tied, or else the vast resistance is what ties them.
        let tied = tied(&network);
        if !(tied[from] && tied[to]) {
            return Ok(());
        }
        if let (Ok(open), Ok(vast)) = (with(Law::Open), with(Law::resistance(Ohms(1e18)))) {
            for index in 0..network.branches.len() {
                let (open, vast) = (open.state.solution.current(index).0, vast.state.solution.current(index).0);
                prop_assert!(close(open, vast, 1e-7 * (1.0 + open.abs())), "open: {open} A, {vast} A");
            }
        }
        let has_ideal = network.branches.iter().any(|branch| branch.law == Law::resistance(Ohms(0.0)));
        if let (Ok(ideal), Ok(tiny), false) = (with(Law::resistance(Ohms(0.0))), with(Law::resistance(Ohms(1e-8))), has_ideal) {
            for index in 0..network.branches.len() {
                let most = (0..network.branches.len())
                    .fold(1.0, |most: f64, index| most.max(tiny.state.solution.current(index).0.abs()));
                let (ideal, tiny) = (ideal.state.solution.current(index).0, tiny.state.solution.current(index).0);
                prop_assert!(close(ideal, tiny, 1e-3 * most), "short: {ideal} A, {tiny} A");
            }
        }
    }

    #[test]
    fn law_the_slope_seen_from_two_nodes_is_that_of_a_small_current(
        network in mixed(), from in 0_usize..10, to in 0_usize..10,
    ) {
        let (from, to) = (from % network.nodes, to % network.nodes);
        let mut anchored = network.clone();
        anchored.add(from, to, Law::resistance(Ohms(20.0)));
        let mut solver = Solver::new();
        let Ok(point) = solver.solve(&anchored) else { return Ok(()) };
        let Some(seen) = solver.thevenin(from, to) else { return Err(TestCaseError::fail("two islands")) };
        prop_assert_eq!(seen.volts, point.state.solution.across(from, to));
        let small = 1e-6;
        let nudged = |amps: f64| {
            let mut network = anchored.clone();
            network.add(to, from, Law::Source(Amps(amps)));
            Solver::new().solve(&network).map(|point| point.state.solution.across(from, to).0)
        };
        let (Ok(up), Ok(down)) = (nudged(small), nudged(-small)) else { return Err(TestCaseError::fail("no solution")) };
        // A consumer's knee is a kink: right at it the two sides differ.
        let at_knee = network.branches.iter().any(|branch| {
            matches!(branch.law, Law::Draw(_))
                && (point.state.solution.across(branch.from, branch.to).0.abs() - 1.0).abs() < 1e-3
        });
        let slope = (up - down) / (2.0 * small);
        prop_assert!(
            at_knee || close(seen.resistance.0, slope, 2e-4 * slope.abs() + 1e-6),
            "{} Ω against {slope} Ω", seen.resistance.0
        );
    }

    #[test]
    fn law_a_meter_from_the_slope_agrees_with_a_meter_in_the_network(
        network in linear(), from in 0_usize..10, to in 0_usize..10, decades in 0.0..7.0,
    ) {
        let (from, to) = (from % network.nodes, to % network.nodes);
        let meter = Ohms(10_f64.powf(decades));
        let mut solver = Solver::new();
        prop_assume!(solver.solve(&network).is_ok());
        let quick = solver.meter(from, to, meter);
        let mut whole = network.clone();
        whole.add(from, to, Law::resistance(meter));
        let Ok(point) = Solver::new().solve(&whole) else { return Err(TestCaseError::fail("no solution")) };
        let shown = point.state.solution.across(from, to).0;
        let quick = quick.map_or(0.0, |volts| volts.0);
        prop_assert!(close(quick, shown, 1e-9 * (1.0 + shown.abs())), "{quick} V against {shown} V");
    }

    #[test]
    fn law_a_solver_remembers_nothing_that_shows(networks in prop::collection::vec(mixed(), 1..8), severity in ohms()) {
        let mut worn = Solver::new();
        let mut all: Vec<Network> = networks.clone();
        for network in networks {
            let mut altered = network.clone();
            if let Some(branch) = altered.branches.iter_mut().find(|branch| matches!(branch.law, Law::Linear { .. })) {
                branch.law = Law::resistance(Ohms(severity));
            }
            all.push(altered);
            all.push(network);
        }
        for network in &all {
            let (used, fresh) = (worn.solve(network), Solver::new().solve(network));
            // Debug text, so that a −0 against a 0 shows too.
            prop_assert_eq!(format!("{used:?}"), format!("{fresh:?}"));
        }
    }
}

fn solve(network: &Network) -> circuit::OperatingPoint {
    Solver::new().solve(network).expect("the network has a solution")
}

fn battery(network: &mut Network, plus: usize, minus: usize, volts: f64, ohms: f64) -> usize {
    network.add(plus, minus, Law::Linear { resistance: Ohms(ohms), emf: Volts(volts) })
}

#[test]
fn law_an_island_floats_and_its_own_current_is_right() {
    let mut network = Network::new(5, 0);
    battery(&mut network, 1, 0, 12.0, 0.1);
    battery(&mut network, 2, 3, 9.0, 1.0);
    let load = network.add(2, 3, Law::resistance(Ohms(8.0)));
    let solution = solve(&network).state.solution;
    assert_eq!(solution.potential(1), Some(Volts(12.0)));
    assert_eq!([solution.potential(2), solution.potential(3), solution.potential(4)], [None; 3]);
    assert!(close(solution.current(load).0, 1.0, 1e-12));
    assert!(close(solution.across(2, 3).0, 8.0, 1e-12));
    assert_eq!(Solver::new().solve(&network).map(|_| ()), Ok(()));
}

#[test]
fn law_no_meter_sees_anything_between_two_islands() {
    let mut network = Network::new(4, 0);
    battery(&mut network, 1, 0, 12.0, 0.1);
    battery(&mut network, 2, 3, 9.0, 1.0);
    let mut solver = Solver::new();
    assert!(solver.solve(&network).is_ok());
    assert_eq!(solver.thevenin(1, 2), None);
    assert_eq!(solver.meter(1, 2, Ohms(10e6)), None);
    assert!(solver.thevenin(2, 3).is_some_and(|seen| seen.volts == Volts(9.0) && seen.resistance == Ohms(1.0)));
}

#[test]
fn law_a_current_source_between_islands_drives_nothing() {
    let mut network = Network::new(4, 0);
    battery(&mut network, 1, 0, 12.0, 0.1);
    network.add(2, 3, Law::resistance(Ohms(5.0)));
    let source = network.add(1, 2, Law::Source(Amps(1.0)));
    let solution = solve(&network).state.solution;
    assert_eq!(solution.current(source), Amps(0.0));
    assert_eq!(solution.potential(2), None);
}

#[test]
fn law_ideal_sources_that_disagree_are_a_conflict() {
    let mut network = Network::new(2, 0);
    battery(&mut network, 1, 0, 12.0, 0.0);
    let second = battery(&mut network, 1, 0, 12.5, 0.0);
    match Solver::new().solve(&network) {
        Err(Unsolvable::Conflict { branch, by }) => {
            assert_eq!(branch, second);
            assert!(close(by.abs(), 0.5, 1e-12));
        }
        other => panic!("{other:?}"),
    }
    network.branches[second].law = Law::Linear { resistance: Ohms(0.0), emf: Volts(12.0) };
    assert_eq!(solve(&network).state.solution.potential(1), Some(Volts(12.0)));
}

#[test]
fn law_degenerate_shapes_have_an_answer_or_an_error() {
    let laws = [
        Law::Open,
        Law::resistance(Ohms(0.0)),
        Law::resistance(Ohms(2.0)),
        Law::Linear { resistance: Ohms(0.0), emf: Volts(3.0) },
        Law::Linear { resistance: Ohms(1.0), emf: Volts(3.0) },
        Law::Source(Amps(1.0)),
        Law::Junction { saturation: Amps(1e-9), emission: Volts(0.05), resistance: Ohms(0.0) },
        Law::Junction { saturation: Amps(1e-9), emission: Volts(0.05), resistance: Ohms(0.1) },
        Law::Lamp(Watts(5.0)),
        Law::Lamp(Watts(0.0)),
        Law::Draw(Amps(1.0)),
        Law::Draw(Amps(0.0)),
    ];
    assert!(solve(&Network::new(1, 0)).state.solution.potential(0).is_some());
    assert_eq!(solve(&Network::new(3, 2)).state.solution.potential(0), None);
    for first in laws {
        for second in laws {
            for ends in [[(0, 0), (0, 0)], [(0, 1), (0, 1)], [(0, 1), (1, 0)], [(0, 0), (0, 1)], [(0, 1), (1, 2)]] {
                let mut network = Network::new(4, 1);
                network.add(ends[0].0, ends[0].1, first);
                network.add(ends[1].0, ends[1].1, second);
                match Solver::new().solve(&network) {
                    Ok(point) => assert_eq!(point.outcome, Outcome::Steady),
                    Err(Unsolvable::Conflict { by, .. }) => assert!(close(by.abs(), 3.0, 3.1)),
                    Err(Unsolvable::Restless { .. }) => {
                        assert!(
                            first == Law::Source(Amps(1.0)) || second == Law::Source(Amps(1.0)),
                            "{first:?} {second:?}"
                        );
                    }
                    Err(other) => panic!("{first:?} {second:?}: {other}"),
                }
            }
        }
    }
}

#[test]
fn law_equal_parts_side_by_side_share_and_in_series_carry_the_same() {
    let parts = [
        Law::Draw(Amps(0.4)),
        Law::Lamp(Watts(21.0)),
        Law::Junction { saturation: Amps(5e-9), emission: Volts(0.045), resistance: Ohms(0.0) },
        Law::Junction { saturation: Amps(5e-9), emission: Volts(0.045), resistance: Ohms(0.05) },
    ];
    for part in parts {
        for emf in [12.0, -12.0] {
            let mut network = Network::new(4, 0);
            battery(&mut network, 1, 0, emf, 0.02);
            network.add(1, 2, Law::resistance(Ohms(0.3)));
            let beside = [network.add(2, 0, part), network.add(2, 0, part)];
            let solution = solve(&network).state.solution;
            let [left, right] = beside.map(|branch| solution.current(branch).0);
            assert!(close(left, right, 1e-9 * (1.0 + left.abs())), "{part:?} side by side: {left} A, {right} A");

            network.branches.truncate(2);
            let series = [network.add(2, 3, part), network.add(3, 0, part)];
            let solution = solve(&network).state.solution;
            let [left, right] = series.map(|branch| solution.current(branch).0);
            assert!(close(left, right, 1e-12), "{part:?} in series: {left} A, {right} A");
        }
    }
}

#[test]
fn law_values_without_a_meaning_are_refused_with_their_branch() {
    let bad = [
        Law::resistance(Ohms(f64::NAN)),
        Law::resistance(Ohms(-1.0)),
        Law::resistance(Ohms(f64::INFINITY)),
        Law::Linear { resistance: Ohms(1.0), emf: Volts(f64::NAN) },
        Law::Source(Amps(f64::INFINITY)),
        Law::Lamp(Watts(-5.0)),
        Law::Draw(Amps(f64::NAN)),
        Law::Junction { saturation: Amps(0.0), emission: Volts(0.05), resistance: Ohms(0.0) },
        Law::Junction { saturation: Amps(1e-9), emission: Volts(-0.05), resistance: Ohms(0.0) },
    ];
    for law in bad {
        let mut network = Network::new(2, 0);
        battery(&mut network, 1, 0, 12.0, 0.1);
        network.add(1, 0, law);
        assert_eq!(Solver::new().solve(&network), Err(Unsolvable::NotFinite { branch: 1 }), "{law:?}");
    }
}

/// The same 2000 networks every time.
#[test]
fn law_newton_takes_few_steps() {
    use proptest::strategy::ValueTree;
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let networks: Vec<Network> = (0..2000).map(|_| mixed().new_tree(&mut runner).unwrap().current()).collect();
    let mut efforts: Vec<usize> = networks
        .iter()
        .filter(|network| network.branches.iter().any(|branch| !matches!(branch.law, Law::Open | Law::Linear { .. })))
        .filter_map(|network| {
            let mut solver = Solver::new();
            solver.solve(network).ok().map(|_| solver.effort())
        })
        .collect();
    efforts.sort_unstable();
    let mean = efforts.iter().sum::<usize>() as f64 / efforts.len() as f64;
    let (most_of_them, worst) = (efforts[efforts.len() * 99 / 100], efforts[efforts.len() - 1]);
    println!("{} networks: mean {mean:.1}, 99 % within {most_of_them}, worst {worst}", efforts.len());
    assert!(mean <= 10.0 && most_of_them <= 25 && worst <= 40, "mean {mean}, 99 % {most_of_them}, worst {worst}");
}

#[test]
fn law_an_offer_of_current_that_no_part_can_take_is_said() {
    let mut network = Network::new(2, 0);
    network.add(0, 1, Law::Source(Amps(1.0)));
    network.add(1, 0, Law::Draw(Amps(0.5)));
    assert!(matches!(Solver::new().solve(&network), Err(Unsolvable::Restless { .. })));
}
