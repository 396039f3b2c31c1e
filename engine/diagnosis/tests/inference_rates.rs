//! Learning from verdicts: every figure of a worked fleet, by Python with scipy (`computed`, docs/oracles.md), and
//! closed forms: Gamma(1, b) is exponential, Gamma(½, ½) is χ² with one degree of freedom.
//! `referee/rates.py` compares the intervals with scipy over a grid.
#![allow(clippy::unwrap_used, missing_docs)]

use diagnosis::inference::{Lesson, MOST_UNPROVEN, Rate, Shares, prior_odds};
use proptest::prelude::*;

fn close(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{what}: found {found:.9}, expected {expected:.9}");
}

/// One row of the worked fleet: 1,500 hours, k proven verdicts.
struct Row {
    fault: &'static str,
    prior: (f64, f64),
    prior_rate: f64,
    prior_share: f64,
    verdicts: f64,
    posterior: (f64, f64),
    rate: f64,
    interval: (f64, f64),
    share: f64,
    /// P(at least one in 100 h), before and after.
    soon: (f64, f64),
}

const FLEET: [Row; 4] = [
    Row {
        fault: "corroded ground",
        prior: (2.0, 2000.0),
        prior_rate: 0.001,
        prior_share: 0.4,
        verdicts: 5.0,
        posterior: (7.0, 3500.0),
        rate: 0.002,
        interval: (0.000939, 0.003384),
        share: 0.5833,
        soon: (0.09297, 0.17897),
    },
    Row {
        fault: "solenoid contacts",
        prior: (1.5, 2000.0),
        prior_rate: 0.00075,
        prior_share: 0.3,
        verdicts: 0.0,
        posterior: (1.5, 3500.0),
        rate: 0.000429,
        interval: (0.000050, 0.001116),
        share: 0.1250,
        soon: (0.07057, 0.04138),
    },
    Row {
        fault: "fuse",
        prior: (1.0, 2000.0),
        prior_rate: 0.0005,
        prior_share: 0.2,
        verdicts: 1.0,
        posterior: (2.0, 3500.0),
        rate: 0.000571,
        interval: (0.000102, 0.001355),
        share: 0.1667,
        soon: (0.04762, 0.05478),
    },
    Row {
        fault: "stator",
        prior: (0.5, 2000.0),
        prior_rate: 0.00025,
        prior_share: 0.1,
        verdicts: 1.0,
        posterior: (1.5, 3500.0),
        rate: 0.000429,
        interval: (0.000050, 0.001116),
        share: 0.1250,
        soon: (0.02410, 0.04138),
    },
];

#[test]
fn textbook_rates_of_a_fleet_learn_from_seven_verdicts() {
    let before: Vec<Rate> = FLEET.iter().map(|row| Rate::new(row.prior.0, row.prior.1).unwrap()).collect();
    let after: Vec<Rate> =
        FLEET.iter().zip(&before).map(|(row, rate)| rate.learned(row.verdicts, 1500.0).unwrap()).collect();
    let share = |rates: &[Rate]| prior_odds(&rates.iter().map(|&rate| (rate, 1.0)).collect::<Vec<_>>());
    let (shares_before, shares_after) = (share(&before), share(&after));
    for (at, row) in FLEET.iter().enumerate() {
        let what = row.fault;
        close(what, before[at].mean(), row.prior_rate, 1e-12);
        close(what, shares_before[at], row.prior_share, 1e-12);
        assert_eq!((after[at].verdicts(), after[at].exposure()), row.posterior, "{what}");
        close(what, after[at].mean(), row.rate, 5e-7);
        let (low, high) = after[at].interval(0.9);
        close(what, low, row.interval.0, 5.01e-7);
        close(what, high, row.interval.1, 5.01e-7);
        close(what, shares_after[at], row.share, 5e-5);
        close(what, before[at].at_least_one_in(100.0), row.soon.0, 5.01e-6);
        close(what, after[at].at_least_one_in(100.0), row.soon.1, 5.01e-6);
    }
}

#[test]
fn textbook_shares_learn_from_soft_verdicts() {
    // Ground, solenoid, fuse, stator; every verdict was proven as far as its odds say.
    let mut shares = Shares::new(vec![6.0, 5.0, 5.0, 4.0]).unwrap();
    for odds in [[0.9, 0.0, 0.1, 0.0], [1.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.03, 0.97], [0.6, 0.4, 0.0, 0.0]] {
        shares.learn(&Lesson { odds: odds.to_vec(), proven: true }).unwrap();
    }
    for (found, expected) in shares.counts().iter().zip([8.5, 5.4, 5.13, 4.97]) {
        close("count", *found, expected, 1e-12);
    }
    for (found, expected) in shares.means().into_iter().zip([0.354167, 0.225, 0.21375, 0.207083]) {
        close("share", found, expected, 5e-7);
    }
}

#[test]
fn law_a_verdict_without_proof_counts_half_and_none_of_these_never() {
    let lesson = |odds: [f64; 3], proven| Lesson { odds: odds.to_vec(), proven }.counts().unwrap();
    assert_eq!(lesson([0.97, 0.02, 0.01], true), [0.97, 0.02, 0.01]);
    assert_eq!(lesson([0.97, 0.02, 0.01], false), [MOST_UNPROVEN, 0.02, 0.01]);
    // The other seven tenths were none-of-these.
    assert_eq!(lesson([0.2, 0.1, 0.0], true).iter().sum::<f64>(), 0.2 + 0.1);
    let mut shares = Shares::before_any_verdict(&[2.0, 1.0, 1.0]).unwrap();
    assert_eq!(shares.counts(), [10.0, 5.0, 5.0]);
    assert!(shares.learn(&Lesson { odds: vec![1.0], proven: true }).is_err());
    assert!(Lesson { odds: vec![0.9, 0.2], proven: true }.counts().is_err());
}

#[test]
fn textbook_quantiles_with_a_closed_form() {
    let exponential = Rate::new(1.0, 4.0).unwrap();
    for p in [1e-12, 0.05, 0.5, 0.95, 0.999_999] {
        let exact = -libm::log1p(-p) / 4.0;
        close("exponential", exponential.quantile(p) / exact, 1.0, 1e-9);
    }
    // χ² with one degree of freedom: P(z² < 1) = .682689492137, P(z² < 1.959963985²) = .95.
    let chi_square = Rate::new(0.5, 0.5).unwrap();
    close("one sigma", chi_square.quantile(0.682_689_492_137_086), 1.0, 1e-10);
    close("95 %", chi_square.quantile(0.95), 1.959_963_984_540_054 * 1.959_963_984_540_054, 1e-10);
    assert_eq!(chi_square.quantile(0.0), 0.0);
    assert_eq!(chi_square.quantile(1.0), f64::INFINITY);
}

#[test]
fn regress_what_is_no_rate_is_refused() {
    assert!(
        Rate::new(0.0, 1.0).is_err() && Rate::new(1.0, f64::NAN).is_err() && Rate::new(f64::INFINITY, 1.0).is_err()
    );
    let said = Rate::new(1.0, 2.0).unwrap().learned(-1.0, 5.0).unwrap_err().to_string();
    assert_eq!(said, "-1 was to be added; what is added is finite and not below zero");
    assert!(Shares::new(vec![0.0, 0.0]).is_err() && Shares::new(vec![1.0, -1.0]).is_err());
}

proptest! {
    #[test]
    fn law_learning_in_two_steps_is_learning_in_one(
        a in 0.1..50.0f64, b in 1.0..1e5f64, k in 0u32..20, j in 0u32..20, e in 0.0..1e4f64, f in 0.0..1e4f64,
    ) {
        let rate = Rate::new(a, b).unwrap();
        let two = rate.learned(f64::from(k), e).unwrap().learned(f64::from(j), f).unwrap();
        let one = rate.learned(f64::from(k + j), e + f).unwrap();
        prop_assert!((two.mean() / one.mean() - 1.0).abs() < 1e-12);
        prop_assert!((two.quantile(0.9) / one.quantile(0.9) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn law_forgetting_keeps_the_mean_and_widens_the_interval(a in 0.2..50.0f64, b in 1.0..1e5f64, years in 0.1..10.0f64) {
        let rate = Rate::new(a, b).unwrap();
        let old = rate.forgotten(years).unwrap();
        prop_assert!((old.mean() / rate.mean() - 1.0).abs() < 1e-12);
        let ratio = |rate: Rate| { let (low, high) = rate.interval(0.9); high / low };
        prop_assert!(ratio(old) > ratio(rate));
        prop_assert!((rate.forgotten(3.0).unwrap().verdicts() - 0.5 * a).abs() < 1e-12 * a);
    }

    #[test]
    fn law_the_chance_of_a_fault_is_the_poisson_chance_averaged_over_the_rate(
        a in 0.5..20.0f64, b in 10.0..1e4f64, share in 0.01..2.0f64,
    ) {
        // 1 − E[exp(−rate·t)], the average taken over 400 equally likely rates.
        let rate = Rate::new(a, b).unwrap();
        let exposure = share * b;
        let chance = |at: u32| 1.0 - libm::exp(-rate.quantile((f64::from(at) + 0.5) / 400.0) * exposure);
        let averaged = (0..400).map(chance).sum::<f64>() / 400.0;
        prop_assert!((rate.at_least_one_in(exposure) - averaged).abs() < 5e-3, "{}", averaged);
    }
}
