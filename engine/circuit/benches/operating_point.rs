//! Operating points of a starter circuit of 39 nodes: from cold, again, with one more fault, with one more meter.
//! Budget on one core of two: 25 µs from cold, 3 µs for one more fault or meter.

#[path = "../examples/netlists/starter.rs"]
mod starter;

use circuit::{Law, Network, Solver};
use quantity::Ohms;

fn main() {
    divan::main();
}

fn network() -> Network {
    starter::starter().network
}

fn branch(name: &str) -> usize {
    starter::starter().branches.iter().position(|known| known == name).expect("the starter circuit has it")
}

#[divan::bench(sample_size = 16)]
fn from_cold_with_a_fresh_solver(bencher: divan::Bencher) {
    let network = network();
    bencher.bench_local(|| Solver::new().solve(divan::black_box(&network)));
}

#[divan::bench(sample_size = 16)]
fn from_released_with_a_warm_solver(bencher: divan::Bencher) {
    let network = network();
    let mut solver = Solver::new();
    bencher.bench_local(|| solver.solve(divan::black_box(&network)));
}

#[divan::bench(sample_size = 16)]
fn one_more_fault_that_keeps_the_shape(bencher: divan::Bencher) {
    let mut network = network();
    let joint = branch("relay-load-ring");
    let mut solver = Solver::new();
    let mut severity = 0;
    bencher.bench_local(|| {
        severity = (severity + 1) % 16;
        network.branches[joint].law = Law::resistance(Ohms(0.000_3 + 0.000_04 * f64::from(severity)));
        solver.solve(divan::black_box(&network))
    });
}

#[divan::bench(sample_size = 16)]
fn one_more_fault_of_any_severity(bencher: divan::Bencher) {
    let mut network = network();
    let joint = branch("relay-load-ring");
    let mut solver = Solver::new();
    let mut severity = 0;
    bencher.bench_local(|| {
        severity = (severity + 1) % 16;
        network.branches[joint].law = Law::resistance(Ohms(0.000_1 * f64::from(1 << severity)));
        solver.solve(divan::black_box(&network))
    });
}

#[divan::bench(sample_size = 16)]
fn one_more_fault_near_a_base(bencher: divan::Bencher) {
    let mut network = network();
    let joint = branch("relay-load-ring");
    let mut solver = Solver::new();
    let _ = solver.solve_base(&network);
    let mut severity = 0;
    bencher.bench_local(|| {
        severity = (severity + 1) % 16;
        network.branches[joint].law = Law::resistance(Ohms(0.000_1 * f64::from(1 << severity)));
        solver.solve_near(divan::black_box(&network))
    });
}

#[divan::bench(sample_size = 16)]
fn one_more_meter_near_a_base(bencher: divan::Bencher) {
    let mut network = network();
    let mut solver = Solver::new();
    let _ = solver.solve_base(&network);
    let meter = network.add(1, 0, Law::resistance(Ohms(10e6)));
    let mut node = 0;
    bencher.bench_local(|| {
        node = node % (network.nodes - 1) + 1;
        network.branches[meter].from = node;
        solver.solve_near(divan::black_box(&network))
    });
}

#[divan::bench(sample_size = 16)]
fn one_more_meter_by_the_slope_of_a_near_fault(bencher: divan::Bencher) {
    let mut network = network();
    let mut solver = Solver::new();
    let _ = solver.solve_base(&network);
    network.branches[branch("relay-load-ring")].law = Law::resistance(Ohms(0.01));
    let _ = solver.solve_near(&network);
    let mut node = 0;
    bencher.bench_local(|| {
        node = node % (network.nodes - 1) + 1;
        solver.meter(divan::black_box(node), 0, Ohms(10e6))
    });
}

#[divan::bench(sample_size = 16)]
fn one_more_meter_by_the_slope(bencher: divan::Bencher) {
    let network = network();
    let mut solver = Solver::new();
    let _ = solver.solve(&network);
    let mut node = 0;
    bencher.bench_local(|| {
        node = node % (network.nodes - 1) + 1;
        solver.meter(divan::black_box(node), 0, Ohms(10e6))
    });
}

#[divan::bench(sample_size = 16)]
fn one_more_meter_in_the_network(bencher: divan::Bencher) {
    let mut network = network();
    let meter = network.add(1, 0, Law::resistance(Ohms(10e6)));
    let mut solver = Solver::new();
    let mut node = 0;
    bencher.bench_local(|| {
        node = node % (network.nodes - 1) + 1;
        network.branches[meter].from = node;
        solver.solve(divan::black_box(&network))
    });
}
