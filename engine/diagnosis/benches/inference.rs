//! The price of looking ahead: 100 tests on 16,000 worlds within 10 ms on one core; advice and
//! leave-one-out beside it, since both are paid after every reading.
#![allow(missing_docs, clippy::unwrap_used)]

use diagnosis::inference::{
    Belief, Ending, Evidence, Kernel, Outlook, Places, Readings, Remedy, Settings, Situation, SmallProblem, SmallTest,
    Test, Worlds, advise, probability_without_each,
};

const SUSPECTS: u32 = 63;
const WORLDS_EACH: u32 = 256;
const TESTS: usize = 100;

fn main() {
    divan::main();
}

/// A number in 0..1 that looks random (SplitMix64).
fn scatter(seed: u64) -> f64 {
    let mut z = seed.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
}

struct Bench {
    worlds: Worlds,
    readings: Readings,
    belief: Belief,
    tests: Vec<Test<'static>>,
    remedies: Vec<Remedy>,
    places: Places,
}

/// Readings that leave more (`sharpness` near 0) or less open.
fn bench(sharpness: f64) -> Bench {
    let suspect_of: Vec<u32> = (0..SUSPECTS * WORLDS_EACH).map(|world| world / WORLDS_EACH).collect();
    let worlds = Worlds::new(SUSPECTS as usize, suspect_of.clone(), vec![0.0; suspect_of.len()])
        .unwrap()
        .with_none_of_these(0.01)
        .unwrap();
    let mut readings = Readings::new();
    for reading in 0..20u64 {
        let log_clean: Vec<f64> = (0u64..)
            .zip(&suspect_of)
            .map(|(world, &suspect)| -sharpness * (f64::from(suspect) * 0.2 + scatter(reading << 32 | world)))
            .collect();
        let reading = Evidence::mixture(format!("reading {reading}"), &log_clean, 0.02, -9.0).unwrap();
        readings.add(&worlds, reading).unwrap();
    }
    let belief = Belief::weigh(&worlds, &readings).unwrap();
    let tests = (0..TESTS as u64)
        .map(|test| {
            let class = |(world, &suspect): (u64, &u32)| {
                let middle = scatter(test << 20 | u64::from(suspect));
                (12.0 * (0.8 * middle + 0.2 * scatter(test << 40 | world))) as u8
            };
            let classes: Vec<u8> = (0u64..).zip(&suspect_of).map(class).collect();
            let mut test_made = Test::new(&worlds, classes, Kernel::symmetric(12, 0.02).unwrap(), 1.0).unwrap();
            test_made.place = Some(test as usize % 8);
            test_made
        })
        .collect();
    let remedies = (0..SUSPECTS)
        .map(|suspect| Remedy {
            minutes: 2.0 + 18.0 * scatter(u64::from(suspect)),
            lost: 0.0,
            place: Some(suspect as usize % 8),
            fixes: vec![suspect],
        })
        .collect();
    let places = Places::new(vec![0.0, 0.0, 0.5, 1.0, 2.0, 3.0, 5.0, 8.0]);
    Bench { worlds, readings, belief, tests, remedies, places }
}

/// Budget: 10 ms for all tests.
#[divan::bench]
fn bits_of_100_tests_on_16128_worlds(bencher: divan::Bencher) {
    let bench = bench(0.0);
    let outlook = Outlook::new(&bench.worlds, &bench.belief, 1e-6);
    bencher.bench_local(|| bench.tests.iter().map(|test| outlook.forecast(test).bits()).sum::<f64>());
}

/// The stage that decides is set by how much is open: all suspects, some, a few.
#[divan::bench(args = [0.0, 0.5, 1.0, 2.0])]
fn advice(bencher: divan::Bencher, sharpness: f64) {
    let bench = bench(sharpness);
    bencher.bench_local(|| {
        let outlook = Outlook::new(&bench.worlds, &bench.belief, 1e-6);
        let situation = Situation {
            tests: &bench.tests,
            standing: &[],
            remedies: &bench.remedies,
            places: &bench.places,
            ending: Ending::Repair { unfixed_minutes: 60.0 },
        };
        advise(&outlook, &situation, &Settings::default()).candidates.len()
    });
}

#[divan::bench]
fn weighing_20_readings(bencher: divan::Bencher) {
    let bench = bench(0.5);
    bencher.bench_local(|| Belief::weigh(&bench.worlds, &bench.readings));
}

#[divan::bench]
fn leaving_out_each_of_20_readings(bencher: divan::Bencher) {
    let bench = bench(0.5);
    bencher.bench_local(|| probability_without_each(&bench.worlds, &bench.readings, &[0]));
}

/// The largest plan that the default settings allow: 5 suspects, 6 tests of 3 outcomes, 5 remedies.
#[divan::bench]
fn exact_plan(bencher: divan::Bencher) {
    let tests = (0..6u64).map(|test| {
        let raw: Vec<f64> = (0..15).map(|at| 0.02 + scatter(test << 8 | at)).collect();
        let likelihood = raw.chunks(3).flat_map(|row| row.iter().map(|p| p / row.iter().sum::<f64>()));
        SmallTest {
            outcomes: 3,
            likelihood: likelihood.collect(),
            minutes: 1.0,
            place: Some(test as usize),
            prerequisites: vec![],
            done: false,
        }
    });
    let remedies = (0..5).map(|suspect| Remedy { minutes: 6.0, lost: 0.0, place: None, fixes: vec![suspect] });
    let problem = SmallProblem {
        suspects: (0..5).collect(),
        mass: vec![0.4, 0.25, 0.2, 0.1, 0.05],
        tests: tests.collect(),
        remedies: remedies.collect(),
        places: Places::new(vec![0.0, 0.0, 0.5, 1.0, 2.0, 3.0]),
        ending: Ending::Repair { unfixed_minutes: 60.0 },
    };
    bencher.bench_local(|| problem.solve());
}
