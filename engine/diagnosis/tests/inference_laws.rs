//! Laws of the inference core, on random problems.
#![allow(clippy::unwrap_used, missing_docs)]

use diagnosis::inference::{Belief, Evidence, Kernel, Outlook, Readings, Test, Worlds};
use proptest::prelude::*;

/// Worlds with suspects in any order, and readings as (key, log likelihoods).
#[derive(Debug, Clone)]
struct Case {
    suspects: usize,
    suspect_of: Vec<u32>,
    weight: Vec<f64>,
    none: f64,
    readings: Vec<(String, Vec<f64>)>,
    classes: Vec<u8>,
    rows: Vec<Vec<f64>>,
}

fn case() -> impl Strategy<Value = Case> {
    (1usize..6, 1usize..40, 0usize..7, 1usize..5, 1usize..5).prop_flat_map(
        |(suspects, worlds, readings, classes, outcomes)| {
            let likelihood = prop_oneof![9 => -30.0..3.0f64, 1 => Just(-1e4)];
            // Few keys, so that two readings often share one.
            let reading = ("[ab]", prop::collection::vec(likelihood, worlds));
            (
                prop::collection::vec(0..suspects as u32, worlds),
                prop::collection::vec(-5.0..5.0f64, worlds),
                prop_oneof![Just(0.0), 0.001..0.5f64],
                prop::collection::vec(reading, readings),
                prop::collection::vec(0..classes as u8, worlds),
                prop::collection::vec(prop::collection::vec(0.01..1.0f64, outcomes), classes),
            )
                .prop_map(move |(suspect_of, weight, none, readings, classes, rows)| Case {
                    suspects,
                    suspect_of,
                    weight,
                    none,
                    readings,
                    classes,
                    rows,
                })
        },
    )
}

impl Case {
    fn worlds(&self) -> Worlds {
        Worlds::new(self.suspects, self.suspect_of.clone(), self.weight.clone())
            .unwrap()
            .with_none_of_these(self.none)
            .unwrap()
    }

    fn believe(&self, worlds: &Worlds, order: &[usize]) -> Belief {
        let mut readings = Readings::new();
        for &at in order {
            let (key, likelihood) = &self.readings[at];
            let evidence = Evidence::new(key.clone(), likelihood.clone()).unwrap().with_uniform(-2.8).unwrap();
            readings.add(worlds, evidence).unwrap();
        }
        Belief::weigh(worlds, &readings).unwrap()
    }

    fn test(&self, worlds: &Worlds) -> Test<'static> {
        let rows = self.rows.iter().flat_map(|row| row.iter().map(|p| p / row.iter().sum::<f64>()));
        Test::new(worlds, self.classes.clone(), Kernel::new(self.rows[0].len(), rows.collect()).unwrap(), 1.0).unwrap()
    }

    fn all(&self) -> Vec<usize> {
        (0..self.readings.len()).collect()
    }
}

proptest! {
    #[test]
    fn law_beliefs_sum_to_one(case in case()) {
        let worlds = case.worlds();
        let belief = case.believe(&worlds, &case.all());
        let suspects: f64 = belief.suspects().iter().sum();
        prop_assert!((suspects + belief.none_of_these() - 1.0).abs() < 1e-12);
        prop_assert!((belief.marginal(|_| true) - suspects).abs() < 1e-12);
        prop_assert_eq!(case.none == 0.0, belief.none_of_these() == 0.0 && belief.evidence_level(&worlds).is_none());
        prop_assert!(belief.entropy_bits() <= libm::log2(case.suspects as f64 + 1.0) + 1e-12);
        for suspect in 0..case.suspects as u32 {
            let effective = belief.effective_worlds(suspect);
            prop_assert!(effective <= worlds.of_suspect(suspect).len() as f64 * (1.0 + 1e-12));
        }
    }

    #[test]
    fn law_order_of_readings_does_not_matter_to_the_bit(case in case(), seed in any::<u64>()) {
        let worlds = case.worlds();
        let mut order = case.all();
        let mut dice = seed;
        for at in (1..order.len()).rev() {
            dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            order.swap(at, (dice >> 33) as usize % (at + 1));
        }
        let (one, other) = (case.believe(&worlds, &case.all()), case.believe(&worlds, &order));
        let bits = |belief: &Belief| -> Vec<u64> {
            belief.worlds().iter().chain(belief.suspects()).map(|p| p.to_bits())
                .chain([belief.none_of_these().to_bits()]).collect()
        };
        prop_assert_eq!(bits(&one), bits(&other));
    }

    #[test]
    fn law_taking_a_reading_out_is_as_if_it_was_never_given(case in case()) {
        let worlds = case.worlds();
        let mut readings = Readings::new();
        for (key, likelihood) in &case.readings {
            readings.add(&worlds, Evidence::new(key.clone(), likelihood.clone()).unwrap()).unwrap();
        }
        for index in 0..readings.len() {
            let mut fewer = readings.clone();
            prop_assert!(fewer.remove(index).is_some());
            prop_assert_eq!(Belief::weigh_without(&worlds, &readings, index), Belief::weigh(&worlds, &fewer));
        }
        prop_assert_eq!(readings.remove(99), None);
    }

    #[test]
    fn law_bits_are_between_nothing_and_the_entropy(case in case()) {
        let worlds = case.worlds();
        let belief = case.believe(&worlds, &case.all());
        prop_assume!(belief.suspects().iter().sum::<f64>() > 1e-6);
        let outlook = Outlook::new(&worlds, &belief, 0.0);
        let forecast = outlook.forecast(&case.test(&worlds));
        let bits = forecast.bits();
        prop_assert!(bits >= 0.0);
        prop_assert!(bits <= outlook.entropy_bits() + 1e-9 && bits <= forecast.outcome_bits() + 1e-9);
        let total: f64 = (0..forecast.outcomes()).map(|o| forecast.probability(o)).sum();
        prop_assert!((total - 1.0).abs() < 1e-9);
        // What is expected of a suspect over all outcomes is what is believed now.
        let meanings = outlook.meanings(&case.test(&worlds));
        for (&suspect, &mass) in outlook.suspects().iter().zip(outlook.mass()) {
            let expected: f64 = meanings.iter()
                .map(|m| m.probability * m.suspects.iter().find(|s| s.0 == suspect).unwrap().1).sum();
            prop_assert!((expected - mass).abs() < 1e-9);
        }
        // By definition: entropy now minus expected entropy afterwards.
        let entropy = |p: &[(u32, f64)]| p.iter().filter(|p| p.1 > 0.0).map(|p| -p.1 * libm::log2(p.1)).sum::<f64>();
        let after: f64 = meanings.iter().map(|m| m.probability * entropy(&m.suspects)).sum();
        prop_assert!((outlook.entropy_bits() - after - bits).abs() < 1e-9);
    }

    #[test]
    fn law_equal_signatures_never_separate(
        likelihood in prop::collection::vec((-30.0..3.0f64, -30.0..3.0f64), 1..12), odds in 0.01..100.0f64,
    ) {
        // Suspects 0 and 1 look alike to every reading; 2 does not.
        let worlds = Worlds::new(3, vec![0, 1, 2], vec![libm::log(odds), 0.0, 0.0]).unwrap();
        let mut readings = Readings::new();
        for (at, (alike, other)) in likelihood.into_iter().enumerate() {
            let evidence = Evidence::new(format!("{at}"), vec![alike, alike, other]).unwrap();
            readings.add(&worlds, evidence).unwrap();
            let belief = Belief::weigh(&worlds, &readings).unwrap();
            if belief.suspects()[1] > 0.0 {
                let found = belief.suspects()[0] / belief.suspects()[1];
                prop_assert!((found / odds - 1.0).abs() < 1e-11, "{found} {odds}");
            }
        }
        let pair = Worlds::new(2, vec![0, 1], vec![libm::log(odds), 0.0]).unwrap();
        let belief = Belief::weigh(&pair, &Readings::new()).unwrap();
        let kernel = Kernel::new(3, vec![0.2, 0.5, 0.3]).unwrap();
        let bits = Outlook::new(&pair, &belief, 0.0).forecast(&Test::new(&pair, vec![0, 0], kernel, 1.0).unwrap()).bits();
        prop_assert!(bits < 1e-12, "{bits}");
    }
}
