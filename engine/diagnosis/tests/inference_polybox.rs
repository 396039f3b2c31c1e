//! The polybox of de Kleer & Williams (1987), through the same core that weighs starting faults.
//! X = A·C, Y = B·D, Z = C·E, F = X + Y, G = Y + Z; predicted F = G = 12, observed F = 10, G = 12.
//! Conflicts and best probe are the paper's (from memory); posteriors and entropies are computed
//! (exact enumeration, docs/oracles.md), in two treatments of a faulty part's output.
#![allow(clippy::unwrap_used, missing_docs)]

use diagnosis::inference::{Belief, Evidence, Kernel, Outlook, Readings, Test, Worlds};

const M1: u32 = 1;
const M2: u32 = 2;
const M3: u32 = 4;
const A1: u32 = 8;
const A2: u32 = 16;
const P_FAIL: f64 = 0.01;

fn log_prior(set: u32) -> f64 {
    let failed = f64::from(set.count_ones());
    failed * libm::log(P_FAIL) + (5.0 - failed) * libm::log(1.0 - P_FAIL)
}

fn close(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{what}: found {found:.7}, expected {expected:.7}");
}

/// A part that failed shows any of 0..n alike, whatever goes in. A world is a set of failed parts with
/// what the multipliers then show.
struct Uniform {
    worlds: Worlds,
    belief: Belief,
    shown: Vec<[u8; 3]>,
    set: Vec<u32>,
}

fn uniform_output(n: u32) -> Uniform {
    let (mut set, mut weight, mut shown, mut f_fits, mut g_fits) = (vec![], vec![], vec![], vec![], vec![]);
    let stray = -libm::log(f64::from(n));
    let fits = |failed: bool, sum: u32, seen: u32| match (failed, sum == seen) {
        (true, _) => stray,
        (false, true) => 0.0,
        (false, false) => f64::NEG_INFINITY,
    };
    for parts in 0..32u32 {
        let range = |part| if parts & part != 0 { 0..n } else { 6..7 };
        let log_share = f64::from((parts & 7).count_ones()) * stray;
        for x in range(M1) {
            for y in range(M2) {
                for z in range(M3) {
                    set.push(parts);
                    weight.push(log_prior(parts) + log_share);
                    shown.push([x as u8, y as u8, z as u8]);
                    f_fits.push(fits(parts & A1 != 0, x + y, 10));
                    g_fits.push(fits(parts & A2 != 0, y + z, 12));
                }
            }
        }
    }
    let worlds = Worlds::new(32, set.clone(), weight).unwrap();
    let mut readings = Readings::new();
    readings.add(&worlds, Evidence::new("F = 10", f_fits).unwrap()).unwrap();
    readings.add(&worlds, Evidence::new("G = 12", g_fits).unwrap()).unwrap();
    let belief = Belief::weigh(&worlds, &readings).unwrap();
    Uniform { worlds, belief, shown, set }
}

/// n; the sets [M1], [M1,A1], the five doubles; the marginals of M1, A1, M2, M3, A2; H(X), H(Y), H(Z); P(X = 6), P(X = 4).
fn check_uniform(n: u32, sets: [f64; 3], parts: [f64; 5], entropy: [f64; 3], x: [f64; 2]) {
    let poly = uniform_output(n);
    let of = |set: u32| poly.belief.suspects()[set as usize];
    close("[M1]", of(M1), sets[0], 1e-6);
    close("[A1]", of(A1), sets[0], 1e-6);
    close("[M1,A1]", of(M1 | A1), sets[1], 1e-6);
    for double in [M2 | M3, M1 | M2, M1 | M3, M1 | A2, A1 | M2] {
        close("a double", of(double), sets[2], 1e-6);
    }
    for (part, expected) in [M1, A1, M2, M3, A2].into_iter().zip(parts) {
        close("a part", poly.belief.marginal(|world| poly.set[world] & part != 0), expected, 1e-6);
    }
    let outlook = Outlook::new(&poly.worlds, &poly.belief, 0.0);
    let probes = [0, 1, 2].map(|point| {
        let classes: Vec<u8> = poly.shown.iter().map(|shown| shown[point]).collect();
        outlook.forecast(&Test::new(&poly.worlds, classes, Kernel::symmetric(n as usize, 0.0).unwrap(), 1.0).unwrap())
    });
    for (probe, expected) in probes.iter().zip(entropy) {
        close("entropy of a probe", probe.outcome_bits(), expected, 1e-5);
    }
    close("P(X = 6)", probes[0].probability(6), x[0], 1e-5);
    close("P(X = 4)", probes[0].probability(4), x[1], 1e-5);
    assert!(probes[0].bits() > 12.0 * probes[1].bits().max(probes[2].bits()), "X is the best probe by far");
}

#[test]
fn textbook_polybox_with_uniform_faulty_output_of_16_values() {
    check_uniform(
        16,
        [0.496226, 0.005012, 0.000313],
        [0.502195, 0.502197, 0.001270, 0.000957, 0.000958],
        [1.05311, 0.00780, 0.00438],
        [0.49812, 0.49748],
    );
}

#[test]
fn textbook_polybox_with_uniform_faulty_output_of_32_values() {
    check_uniform(
        32,
        [0.496857, 0.005019, 0.000157],
        [0.502354, 0.502355, 0.000634, 0.000478, 0.000479],
        [1.06159, 0.00420, 0.00234],
        [0.49780, 0.49749],
    );
}

/// What a set of failed parts predicts at X, Y and Z once F = 10 and G = 12 are seen: forward through parts that
/// work, backward through adders that work. Nothing where it predicts nothing; an error where it contradicts itself.
fn consistent(set: u32) -> Option<[Option<i32>; 3]> {
    let works = |part| set & part == 0;
    let mut at: [Option<i32>; 3] = [M1, M2, M3].map(|part| works(part).then_some(6));
    let sums = [(A1, 0, 1, 10), (A2, 1, 2, 12)];
    for _ in 0..3 {
        for (adder, a, b, sum) in sums {
            if works(adder) {
                at[a] = at[a].or(at[b].map(|b| sum - b));
                at[b] = at[b].or(at[a].map(|a| sum - a));
            }
        }
    }
    let holds = |(adder, a, b, sum): (u32, usize, usize, i32)| {
        !works(adder) || at[a].zip(at[b]).is_none_or(|(a, b)| a + b == sum)
    };
    let as_made = [M1, M2, M3].iter().zip(at).all(|(&part, at)| !works(part) || at == Some(6));
    (as_made && sums.into_iter().all(holds)).then_some(at)
}

#[test]
fn textbook_polybox_by_consistency_alone() {
    let predicted: Vec<_> = (0..32).map(consistent).collect();
    assert_eq!(predicted.iter().flatten().count(), 27);
    let worlds = Worlds::new(32, (0..32).collect(), (0..32).map(log_prior).collect()).unwrap();
    let fits = predicted.iter().map(|p| if p.is_some() { 0.0 } else { f64::NEG_INFINITY }).collect();
    let mut readings = Readings::new();
    readings.add(&worlds, Evidence::new("F = 10, G = 12", fits).unwrap()).unwrap();
    let belief = Belief::weigh(&worlds, &readings).unwrap();

    close("[M1]", belief.suspects()[M1 as usize], 0.478026, 1e-6);
    close("[A1]", belief.suspects()[A1 as usize], 0.478026, 1e-6);
    for double in [M1 | A1, M2 | M3, M1 | M2, M1 | M3, M1 | A2, A1 | M2] {
        close("a double", belief.suspects()[double as usize], 0.004829, 1e-6);
    }
    let marginals = [(M1, 0.497635), (A1, 0.497635), (M2, 0.019609), (M3, 0.014780), (A2, 0.014780)];
    for (part, expected) in marginals {
        close("a part", belief.marginal(|world| world as u32 & part != 0), expected, 1e-6);
    }

    // A set that predicts nothing gives each of 16 values alike, so that bits = H(outcome) − U·log2 16.
    let mut rows: Vec<f64> = (0..17 * 16).map(|at| f64::from(u8::from(at / 16 == at % 16))).collect();
    rows[16 * 16..].fill(1.0 / 16.0);
    let kernel = Kernel::new(16, rows).unwrap();
    let outlook = Outlook::new(&worlds, &belief, 0.0);
    let probes = [0, 1, 2].map(|point| {
        let class = |p: &Option<[Option<i32>; 3]>| p.and_then(|p| p[point]).map_or(16, |v| v as u8);
        let classes: Vec<u8> = predicted.iter().map(class).collect();
        let silent = belief.marginal(|world| classes[world] == 16);
        (outlook.forecast(&Test::new(&worlds, classes, &kernel, 1.0).unwrap()), silent)
    });
    close("silent at X", probes[0].1, 0.005074, 1e-6);
    close("P(X = 6)", probes[0].0.probability(6) - probes[0].1 / 16.0, 0.50236, 1e-5);
    close("P(X = 4)", probes[0].0.probability(4) - probes[0].1 / 16.0, 0.49256, 1e-5);
    let entropies = [(1.05349, 1.03319), (0.08198, 0.08119), (0.04797, 0.04698)];
    for ((probe, _), (entropy, net)) in probes.iter().zip(entropies) {
        close("entropy of a probe", probe.outcome_bits(), entropy, 1e-5);
        close("net gain of a probe", probe.bits(), net, 1e-5);
    }
    assert!(probes[0].0.bits() > 12.0 * probes[1].0.bits().max(probes[2].0.bits()));

    let at_x = |p: &Option<[Option<i32>; 3]>| p.and_then(|p| p[0]).map_or(16, |v| v as u8);
    let classes: Vec<u8> = predicted.iter().map(at_x).collect();
    let meanings = outlook.meanings(&Test::new(&worlds, classes, &kernel, 1.0).unwrap());
    assert_eq!((meanings[6].suspects[0].0, meanings[4].suspects[0].0), (A1, M1));
    assert_ne!(meanings[9].suspects[0].0.count_ones(), 1, "any other X needs two failed parts");
}
