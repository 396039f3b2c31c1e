//! Starting odds bent by proven verdicts: what this model's jobs have taught, and before that what the same kind of part
//! has taught on other models.
//! Law: Gamma–Poisson with exposure (`inference::rates`); exposure is counted in verdicts. The class (kind and mode) has a
//! factor on its starting share, Gamma(w, w) with w its share of [`PRIOR_VERDICTS`]; its posterior mean is the prior mean
//! of the model, whose own verdicts are counted there alone.
//! A verdict counts what an owner has noticed: a fault that is noticed once in five times brings a fifth of its jobs, and
//! shares of jobs are what is learned; odds follow from them in proportion.
//! Promise: the healthy machine keeps its odds, the faults together their jobs; without a verdict nothing changes.
//! Limit: hours and starts are not known, so a machine's total of faults is not learned, only their shares.

use std::collections::BTreeMap;

use libm::exp2;
use machine::{Fault, Machine, Signs};

use crate::atlas::Survey;
use crate::complaint::brings;
use crate::inference::{HALF_LIFE_YEARS, Lesson, PRIOR_VERDICTS, Rate, RateError};

/// The share of cases in which a stated range holds the true share.
pub const RANGE: f64 = 0.9;

/// A fault of a machine with its starting share of all faults.
#[derive(Clone, Debug, PartialEq)]
pub struct Start {
    /// `part:mode`.
    pub fault: String,
    /// In words.
    pub title: String,
    /// Kind of part and mode, as in `joint:corroded`: what other models teach.
    pub class: String,
    /// Share of all jobs before any verdict: by its odds, and how often its owner would notice it; they sum to one.
    pub share: f64,
}

/// What one job has taught.
#[derive(Clone, Debug, PartialEq)]
pub struct Taught {
    /// The machine's id.
    pub model: String,
    /// Odds of the faults when it was closed, by name.
    pub odds: Vec<(String, f64)>,
    /// Whether the repair check was passed and has survived.
    pub proven: bool,
    /// Years since.
    pub years: f64,
}

/// A fault's odds before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// What it was.
    pub start: Start,
    /// Its share now.
    pub share: f64,
    /// The range of the share: [`RANGE`] of cases.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Verdicts of this model, whole and in part, faded with the years.
    pub own: f64,
    /// Verdicts of other models on this kind and mode.
    pub others: f64,
}

/// What-if cases of a fault by which it is told how often it is noticed.
const CASES: usize = 32;

/// The faults of a machine with their starting shares.
pub fn starts(machine: &Machine) -> Vec<Start> {
    let atlas = Survey::of(machine, CASES, Vec::new()).by_one_hand();
    let (sound, sick) = atlas.signs.split_at(CASES);
    let brings = |(sick, sound): (&Signs, &Signs)| brings(sick, sound, &atlas.nominal);
    let suspects = atlas.cast.suspects.iter().skip(1).zip(sick.chunks(CASES));
    // Half a case more that brings it and half that does not: what none of so few has shown may still be.
    let share = |sick: &[Signs]| (sick.iter().zip(sound).map(brings).sum::<f64>() + 0.5) / (CASES + 1) as f64;
    let jobs = suspects.map(|(suspect, sick)| suspect.odds * share(sick));
    let jobs: Vec<f64> = jobs.collect();
    let all: f64 = jobs.iter().sum();
    let faults = atlas.cast.suspects.iter().filter_map(|suspect| suspect.fault.as_ref());
    let start = |(fault, jobs): (&Fault, f64)| Start {
        class: class(machine, fault),
        fault: fault.name.clone(),
        title: fault.title.clone(),
        share: jobs / all,
    };
    faults.zip(jobs).map(start).collect()
}

fn class(machine: &Machine, fault: &Fault) -> String {
    let mode = fault.name.rsplit(':').next().unwrap_or_default();
    match fault.part {
        Some(part) => format!("{}:{mode}", machine.sheet.parts[part].kind.name),
        None => fault.name.clone(),
    }
}

/// Counts by fault, whole for what is proven, capped for what is not, faded by its age; what is none of the faults is not
/// counted.
fn counts(taught: &Taught) -> Result<Vec<(&str, f64)>, RateError> {
    let lesson = Lesson { odds: taught.odds.iter().map(|(_, odds)| *odds).collect(), proven: taught.proven };
    let fades = exp2(-taught.years.max(0.0) / HALF_LIFE_YEARS);
    Ok(taught.odds.iter().zip(lesson.counts()?).map(|((name, _), count)| (name.as_str(), fades * count)).collect())
}

/// The odds of a model's faults after all that was taught; `models` has the starting shares of every model that taught.
///
/// # Errors
/// When what a job taught is no probability.
pub fn learn(model: &str, models: &BTreeMap<String, Vec<Start>>, all: &[Taught]) -> Result<Vec<Learned>, RateError> {
    let Some(own) = models.get(model) else { return Ok(Vec::new()) };
    let mut factors: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
    let mut verdicts: BTreeMap<&str, f64> = BTreeMap::new();
    let mut exposure = 0.0;
    for taught in all {
        let counts = counts(taught)?;
        let seen: f64 = counts.iter().map(|(_, count)| count).sum();
        if taught.model == model {
            exposure += seen;
            counts.iter().for_each(|(name, count)| *verdicts.entry(name).or_default() += count);
            continue;
        }
        // Another model: as many verdicts on a class as its share there lets expect, and as many as there were.
        for start in models.get(&taught.model).into_iter().flatten() {
            let factor = factors.entry(&start.class).or_default();
            factor.1 += seen * start.share;
            factor.0 += counts.iter().filter(|(name, _)| *name == start.fault).map(|(_, count)| count).sum::<f64>();
        }
    }
    let class_share =
        |class: &str| own.iter().filter(|start| start.class == class).map(|start| start.share).sum::<f64>();
    let mut rates = Vec::with_capacity(own.len());
    for start in own {
        let (count, expected) = factors.get(start.class.as_str()).copied().unwrap_or_default();
        let weight = PRIOR_VERDICTS * class_share(&start.class);
        // A fault that the sheet rules out stays ruled out.
        if !(weight > 0.0 && start.share > 0.0) {
            rates.push(None);
            continue;
        }
        let factor = Rate::new(weight, weight)?.learned(count, expected)?.mean();
        let known = verdicts.get(start.fault.as_str()).copied().unwrap_or(0.0);
        let rate = Rate::before_any_verdict(start.share * factor, 1.0)?.learned(known, exposure)?;
        rates.push(Some((rate, known, count)));
    }
    let total: f64 = rates.iter().flatten().map(|(rate, ..)| rate.mean()).sum();
    Ok(own
        .iter()
        .zip(rates)
        .map(|(start, rate)| match rate {
            Some((rate, own, others)) => {
                let (low, high) = rate.interval(RANGE);
                let of = |rate: f64| (rate / total).min(1.0);
                Learned { start: start.clone(), share: of(rate.mean()), low: of(low), high: of(high), own, others }
            }
            None => Learned { start: start.clone(), share: 0.0, low: 0.0, high: 0.0, own: 0.0, others: 0.0 },
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::Chance;

    fn model(shares: &[f64]) -> Vec<Start> {
        let all: f64 = shares.iter().sum();
        let start = |(index, share): (usize, &f64)| Start {
            fault: format!("part-{index}:worn"),
            title: String::new(),
            class: format!("kind-{}:worn", index % 12),
            share: share / all,
        };
        shares.iter().enumerate().map(start).collect()
    }

    fn proven(model: &str, fault: &str) -> Taught {
        Taught { model: model.into(), odds: vec![(fault.into(), 1.0)], proven: true, years: 0.0 }
    }

    /// 40 faults whose true shares are the starting ones times e^N(0, 1); 1,000 proven verdicts drawn from the true ones.
    #[test]
    fn law_a_thousand_verdicts_recover_the_planted_odds_within_their_ranges() {
        let mut chance = Chance::of(19, "learned");
        let (mut held, mut all, mut before, mut after) = (0, 0, 0.0, 0.0);
        for _ in 0..10 {
            let start: Vec<f64> = (0..40).map(|_| libm::exp(chance.normal())).collect();
            let truth: Vec<f64> = start.iter().map(|share| share * libm::exp(chance.normal())).collect();
            let total: f64 = truth.iter().sum();
            let models = BTreeMap::from([("a".to_owned(), model(&start))]);
            let drawn = (0..1000).filter_map(|_| chance.by_weight(&truth));
            let taught: Vec<Taught> = drawn.map(|fault| proven("a", &format!("part-{fault}:worn"))).collect();
            let learned = learn("a", &models, &taught).unwrap();
            assert!((learned.iter().map(|fault| fault.share).sum::<f64>() - 1.0).abs() < 1e-12);
            for (fault, truth) in learned.iter().zip(&truth) {
                let truth = truth / total;
                held += i32::from(fault.low <= truth && truth <= fault.high);
                all += 1;
                before += (fault.start.share - truth).abs();
                after += (fault.share - truth).abs();
            }
        }
        // Ranges of 90 % over 400 faults.
        let held = 100.0 * f64::from(held) / f64::from(all);
        assert!((85.0..=95.0).contains(&held), "{held}");
        assert!(after < 0.2 * before, "{before} {after}");
    }

    #[test]
    fn law_nothing_taught_changes_nothing_and_five_cases_do_not_turn_the_order_of_far_apart_odds() {
        let models = BTreeMap::from([("a".to_owned(), model(&[0.7, 0.2, 0.1]))]);
        let none = learn("a", &models, &[]).unwrap();
        assert!(none.iter().all(|fault| (fault.share - fault.start.share).abs() < 1e-12));
        let five = vec![proven("a", "part-2:worn"); 5];
        let learned = learn("a", &models, &five).unwrap();
        // By hand: (20 · 0.1 + 5) / 25, (20 · 0.7) / 25.
        assert!((learned[2].share - 0.28).abs() < 1e-12 && (learned[0].share - 0.56).abs() < 1e-12);
        // Six years on they count a quarter.
        let old: Vec<Taught> = five.iter().map(|taught| Taught { years: 6.0, ..taught.clone() }).collect();
        assert!((learn("a", &models, &old).unwrap()[2].share - 3.25 / 21.25).abs() < 1e-12);
    }

    /// A verdict on another model moves the class here; one on this model is not counted in the class once more.
    #[test]
    fn law_other_models_teach_the_kind() {
        let models = BTreeMap::from([("a".to_owned(), model(&[0.5, 0.5])), ("b".to_owned(), model(&[0.5, 0.5]))]);
        let learned = learn("a", &models, &vec![proven("b", "part-0:worn"); 10]).unwrap();
        // By hand: factors (10 + 10)/(10 + 5) and 10/(10 + 5), shares 2/3 and 1/3.
        assert!((learned[0].share - 2.0 / 3.0).abs() < 1e-12 && learned[0].own == 0.0 && learned[0].others == 10.0);
        let own = learn("a", &models, &vec![proven("a", "part-0:worn"); 10]).unwrap();
        assert!((own[0].share - 20.0 / 30.0).abs() < 1e-12 && own[0].others == 0.0);
    }

    #[test]
    fn law_what_is_not_proven_counts_half_at_most_and_none_of_these_never() {
        let models = BTreeMap::from([("a".to_owned(), model(&[0.5, 0.5]))]);
        let soft = |odds: f64| Taught { odds: vec![("part-0:worn".into(), odds)], proven: false, ..proven("a", "") };
        let own = |taught: Taught| learn("a", &models, &[taught]).unwrap()[0].own;
        assert_eq!([own(soft(0.97)), own(soft(0.3)), own(soft(0.0))], [0.5, 0.3, 0.0]);
    }
}
