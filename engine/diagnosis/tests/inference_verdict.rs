//! What a verdict rests on: keystone, outliers, none-of-these, the evidence level.
//! Densities and limits: the simulation of docs/oracles.md (computed; ½ predictive + ½ uniform, 2 % wild).
#![allow(clippy::unwrap_used, missing_docs)]

use diagnosis::inference::{
    Belief, Evidence, EvidenceError, Impossible, KEYSTONE_LEVEL, Readings, Worlds, expected_outliers, keystone,
    probability_without_each,
};

const SIGMA: f64 = 0.15;
const RANGE: f64 = 16.0;

fn log_normal(x: f64, mean: f64) -> f64 {
    let z = (x - mean) / SIGMA;
    -0.5 * z * z - libm::log(SIGMA * libm::sqrt(2.0 * std::f64::consts::PI))
}

/// A reading in volts, where each suspect predicts what the table says; 2 % are wild.
fn volts(key: &str, reading: f64, predicted: &[f64]) -> Evidence {
    let log_clean: Vec<f64> = predicted.iter().map(|&mean| log_normal(reading, mean)).collect();
    Evidence::mixture(key, &log_clean, 0.02, -libm::log(RANGE)).unwrap()
}

fn gather(worlds: &Worlds, all: Vec<Evidence>) -> Readings {
    let mut readings = Readings::new();
    for evidence in all {
        readings.add(worlds, evidence).unwrap();
    }
    readings
}

fn alike(suspects: u32) -> Worlds {
    Worlds::new(suspects as usize, (0..suspects).collect(), vec![0.0; suspects as usize]).unwrap()
}

#[test]
fn law_a_verdict_on_one_reading_names_it() {
    let worlds = alike(3);
    let readings = gather(
        &worlds,
        vec![
            volts("a", 12.0, &[12.0, 12.0, 0.0]),
            volts("b", 12.1, &[12.0, 5.0, 5.0]),
            volts("c", 12.0, &[12.0, 12.0, 12.0]),
        ],
    );
    let belief = Belief::weigh(&worlds, &readings).unwrap();
    assert!(belief.leader().0 == 0 && belief.leader().1 > 0.95);
    let found = keystone(&worlds, &readings, &[0], KEYSTONE_LEVEL).unwrap().unwrap();
    assert_eq!(readings.sorted()[found.reading].key(), "b");
    assert!((found.without - 0.5).abs() < 0.01, "without b, 0 and 1 are alike: {}", found.without);
    let each = probability_without_each(&worlds, &readings, &[0]).unwrap();
    assert!(each[0] > 0.95 && each[2] > 0.95);
}

#[test]
fn law_a_verdict_said_twice_rests_on_neither_reading() {
    let worlds = alike(2);
    let readings = gather(&worlds, vec![volts("a", 12.0, &[12.0, 5.0]), volts("b", 3.0, &[3.0, 9.0])]);
    assert_eq!(keystone(&worlds, &readings, &[0], KEYSTONE_LEVEL), Ok(None));
    // Both suspects together, one remedy: nothing can take them down.
    assert_eq!(probability_without_each(&worlds, &readings, &[0, 1]), Ok(vec![1.0, 1.0]));
}

#[test]
fn law_the_readings_that_the_winner_calls_wild_are_counted() {
    let worlds = alike(2);
    let good = |key: &str| volts(key, 12.0, &[12.0, 5.0]);
    let clean = gather(&worlds, vec![good("a"), good("b"), good("c")]);
    let outliers = |readings: &Readings| {
        let belief = Belief::weigh(&worlds, readings).unwrap();
        assert_eq!(belief.leader().0, 0);
        expected_outliers(&worlds, &belief, readings, &[0])
    };
    assert!(outliers(&clean).expected < 0.05);
    let mut one = clean.clone();
    let at = one.add(&worlds, volts("lead off", 0.0, &[12.0, 5.0])).unwrap();
    assert!((0.5..1.5).contains(&outliers(&one).expected) && outliers(&one).each[at] > 0.99);
    let mut two = one.clone();
    two.add(&worlds, volts("wrong range", 0.1, &[12.0, 5.0])).unwrap();
    assert!(outliers(&two).expected >= 1.5);
}

/// |z| beyond which a reading is more likely wild than clean: 4.25 at .005, 3.91 at .02, 3.66 at .05.
#[test]
fn textbook_a_reading_is_probably_wrong_beyond_a_limit_set_by_the_wild_share() {
    for (share, limit) in [(1e-9, 7.0), (0.005, 4.25), (0.02, 3.91), (0.05, 3.66)] {
        let wild = |z: f64| {
            let clean = [log_normal(z * SIGMA, 0.0)];
            Evidence::mixture("x", &clean, share, -libm::log(RANGE)).unwrap().wild(0)
        };
        assert!(wild(limit - 0.02) < 0.5 && wild(limit + 0.02) > 0.5, "{share}: {}", wild(limit));
    }
}

/// One reading says at most 35.3, 13.0, 11.0, 9.7 bits for the suspect that it fits.
#[test]
fn textbook_the_wild_share_bounds_what_one_reading_can_say() {
    for (share, bits) in [(1e-9, 35.3), (0.005, 13.0), (0.02, 11.0), (0.05, 9.7)] {
        let clean = [log_normal(12.0, 12.0), log_normal(12.0, 0.0)];
        let reading = Evidence::mixture("x", &clean, share, -libm::log(RANGE)).unwrap();
        let said = (reading.log_likelihood()[0] - reading.log_likelihood()[1]) / std::f64::consts::LN_2;
        assert!((said - bits).abs() < 0.06, "{share}: {said}");
    }
}

#[test]
fn law_none_of_these_wins_when_nothing_fits_and_loses_when_something_does() {
    let worlds = alike(2).with_none_of_these(0.02).unwrap();
    let fits = gather(&worlds, vec![volts("a", 12.0, &[12.0, 5.0]), volts("b", 3.1, &[3.0, 9.0])]);
    let belief = Belief::weigh(&worlds, &fits).unwrap();
    assert!(belief.none_of_these() < 0.02);
    assert!(belief.evidence_level(&worlds).unwrap() > 0.0);
    let odd = ["a", "b", "c", "d"].map(|key| volts(key, 7.0, &[12.0, 3.0]));
    let belief = Belief::weigh(&worlds, &gather(&worlds, odd.to_vec())).unwrap();
    assert!(belief.none_of_these() > 0.8, "{}", belief.none_of_these());
    assert!(belief.evidence_level(&worlds).unwrap() < 0.0);
}

/// By hand: one reading with densities 0.8 and 0.2 in two alike worlds, uniform 1/16, prior of none 0.1.
/// None: ½·0.5 + ½·0.0625 = 0.28125. Weights: 0.36, 0.09, 0.028125.
#[test]
fn law_none_of_these_by_hand() {
    let worlds = alike(2).with_none_of_these(0.1).unwrap();
    let reading = Evidence::new("x", vec![libm::log(0.8), libm::log(0.2)]).unwrap();
    let readings = gather(&worlds, vec![reading.with_uniform(-libm::log(16.0)).unwrap()]);
    let belief = Belief::weigh(&worlds, &readings).unwrap();
    let total = 0.36 + 0.09 + 0.028125;
    assert!((belief.none_of_these() - 0.028125 / total).abs() < 1e-14);
    assert!((belief.suspects()[0] - 0.36 / total).abs() < 1e-14);
    let level = libm::log10(0.8 / 0.28125);
    assert!((belief.evidence_level(&worlds).unwrap() - level).abs() < 1e-14);
}

#[test]
fn regress_what_cannot_be_weighed_is_refused() {
    let worlds = alike(2);
    let never = Evidence::new("x", vec![f64::NEG_INFINITY; 2]).unwrap();
    assert_eq!(Belief::weigh(&worlds, &gather(&worlds, vec![never])), Err(Impossible));
    let refused = Evidence::new("x", vec![0.0, f64::NAN]).unwrap_err();
    assert!(matches!(refused, EvidenceError::BadLikelihood { world: 1, .. }));
    let short = Readings::new().add(&worlds, Evidence::new("x", vec![0.0]).unwrap()).unwrap_err();
    assert_eq!(short.to_string(), "reading `x` speaks of 1 worlds; there are 2");
    assert!(Evidence::mixture("x", &[0.0], 1.5, 0.0).is_err());
}
