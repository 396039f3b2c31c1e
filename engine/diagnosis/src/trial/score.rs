//! What trials amount to: minutes, verdicts, calibration; means with intervals.
//! Laws: reliability in ten equal bins of the leader's probability, ECE = Σ share·|stated − true|; paired bootstrap of the
//! difference and of the ratio of means (percentile interval, 2000 resamples from a seed: Efron & Tibshirani, An
//! Introduction to the Bootstrap, 1993, ch. 13, `from memory`).
//! Promise: the order of the runs alone decides the bits, never how many hands worked them.

use super::chance::Chance;
use super::course::{Ending, Mid, Run};
use crate::advice::Stop;

/// What one technician's jobs amount to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Score {
    /// Jobs.
    pub jobs: usize,
    /// First verdicts that were right.
    pub right: usize,
    /// First verdicts that were wrong.
    pub wrong: usize,
    /// Jobs without a verdict that were stopped as "none of these".
    pub none_of_these: usize,
    /// Other jobs without a verdict.
    pub no_verdict: usize,
    /// Proven, and what was planted.
    pub proven_right: usize,
    /// Proven, and not what was planted.
    pub proven_wrong: usize,
    /// Fixed, but the repair check did not pass.
    pub fixed_unproven: usize,
    /// Handed on.
    pub unfixed: usize,
    /// One of several faults was mended and the owner would still have noticed the others.
    pub half_mended: usize,
    /// Of these, all were mended in the end, and no remedy was tried without a verdict.
    pub then_mended: usize,
    /// Mean minutes to the first verdict, or until remedies were tried without one.
    pub to_verdict: f64,
    /// Minutes to the end.
    pub mean: f64,
    /// Half the jobs take no longer.
    pub median: f64,
    /// Nine of ten jobs take no longer.
    pub p90: f64,
    /// Mean number of steps, repair check included.
    pub steps: f64,
    /// Mean number of remedies that did not end the job.
    pub remedies_in_vain: f64,
}

/// Scores the runs of one technician.
pub fn score<'a>(runs: impl Iterator<Item = &'a Run>) -> Score {
    let mut score = Score::default();
    let mut minutes = Vec::new();
    let mut to_verdict = Vec::new();
    let (mut steps, mut in_vain) = (0, 0);
    for run in runs {
        score.jobs += 1;
        match (&run.first, run.stop) {
            (Some(first), _) if first.right => score.right += 1,
            (Some(_), _) => score.wrong += 1,
            (None, Some(Stop::NoneOfThese)) => score.none_of_these += 1,
            (None, _) => score.no_verdict += 1,
        }
        match run.ending {
            Ending::Proven { right: true } => score.proven_right += 1,
            Ending::Proven { right: false } => score.proven_wrong += 1,
            Ending::Fixed => score.fixed_unproven += 1,
            Ending::Unfixed => score.unfixed += 1,
        }
        score.half_mended += usize::from(run.half_mended);
        score.then_mended += usize::from(run.half_mended && run.left == 0 && !run.guessed);
        minutes.push(run.minutes);
        to_verdict.push(run.to_verdict);
        steps += run.steps.len();
        let tried = run.steps.iter().filter(|step| step.name.starts_with("try:")).count();
        in_vain += tried - usize::from(run.ending != Ending::Unfixed).min(tried);
    }
    score.to_verdict = mean(&to_verdict);
    score.mean = mean(&minutes);
    score.median = quantile(&minutes, 0.5);
    score.p90 = quantile(&minutes, 0.9);
    score.steps = steps as f64 / score.jobs.max(1) as f64;
    score.remedies_in_vain = in_vain as f64 / score.jobs.max(1) as f64;
    score
}

/// The mean; 0 of none.
pub fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}

/// The least value that so large a share does not exceed; 0 of none.
pub fn quantile(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let place = (libm::ceil(share * sorted.len() as f64) as usize).clamp(1, sorted.len().max(1)) - 1;
    sorted.get(place).copied().unwrap_or(0.0)
}

/// An estimate with its 95 % interval.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Interval {
    /// The estimate.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Two technicians on the same jobs.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Paired {
    /// Mean minutes of the first less those of the second.
    pub difference: Interval,
    /// Mean minutes of the first over those of the second.
    pub ratio: Interval,
}

const RESAMPLES: usize = 2000;

/// Compares minutes job by job.
pub fn paired(first: &[f64], second: &[f64], seed: u64) -> Paired {
    let jobs = first.len().min(second.len());
    let ratio = |one: f64, other: f64| if other > 0.0 { one / other } else { 0.0 };
    let (one, other) = (mean(&first[..jobs]), mean(&second[..jobs]));
    let mut chance = Chance::of(seed, "bootstrap");
    let (mut differences, mut ratios) = (Vec::with_capacity(RESAMPLES), Vec::with_capacity(RESAMPLES));
    for _ in 0..if jobs > 0 { RESAMPLES } else { 0 } {
        let (mut sum, mut other_sum) = (0.0, 0.0);
        for _ in 0..jobs {
            let job = chance.one_of(jobs);
            sum += first[job];
            other_sum += second[job];
        }
        differences.push((sum - other_sum) / jobs as f64);
        ratios.push(ratio(sum, other_sum));
    }
    let interval = |value: f64, all: &[f64]| Interval { value, low: quantile(all, 0.025), high: quantile(all, 0.975) };
    Paired { difference: interval(one - other, &differences), ratio: interval(ratio(one, other), &ratios) }
}

/// One bin of the reliability table.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Bin {
    /// Moments in it.
    pub count: usize,
    /// Mean probability of the leader.
    pub stated: f64,
    /// Share of the moments in which the leader was right.
    pub correct: f64,
}

/// How far the odds can be trusted.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Calibration {
    /// Ten bins of the leader's probability, 0 to 0.1 first.
    pub bins: Vec<Bin>,
    /// Expected calibration error.
    pub ece: f64,
    /// Mean stated probability.
    pub stated: f64,
    /// Mean share right.
    pub correct: f64,
    /// Mean Brier score over all suspects.
    pub brier: f64,
    /// Mean log score, nats.
    pub log: f64,
}

/// The calibration of some moments.
pub fn calibration(moments: &[Mid]) -> Calibration {
    let mut bins = vec![Bin::default(); 10];
    for moment in moments {
        let bin = &mut bins[((moment.top * 10.0) as usize).min(9)];
        bin.count += 1;
        bin.stated += moment.top;
        bin.correct += f64::from(u8::from(moment.right));
    }
    let all = moments.len().max(1) as f64;
    for bin in bins.iter_mut().filter(|bin| bin.count > 0) {
        bin.stated /= bin.count as f64;
        bin.correct /= bin.count as f64;
    }
    let of = |what: fn(&Mid) -> f64| mean(&moments.iter().map(what).collect::<Vec<_>>());
    Calibration {
        ece: bins.iter().map(|bin| bin.count as f64 / all * (bin.stated - bin.correct).abs()).sum(),
        stated: of(|moment| moment.top),
        correct: of(|moment| f64::from(u8::from(moment.right))),
        brier: of(|moment| moment.brier),
        log: of(|moment| moment.surprise),
        bins,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mid(top: f64, right: bool) -> Mid {
        Mid { top, right, brier: 0.0, surprise: 0.0 }
    }

    #[test]
    fn textbook_calibration_of_a_hand_worked_table() {
        // Two at 0.95, one of them right; two at 0.25, both right: ECE = ½·|.95 − .5| + ½·|.25 − 1| = .6.
        let table = calibration(&[mid(0.95, true), mid(0.95, false), mid(0.25, true), mid(0.25, true)]);
        assert!((table.ece - 0.6).abs() < 1e-12, "{}", table.ece);
        assert_eq!(table.bins.iter().map(|bin| bin.count).sum::<usize>(), 4);
        assert_eq!((table.bins[9].count, table.bins[2].count), (2, 2));
    }

    #[test]
    fn textbook_quantiles_of_ten_numbers() {
        let numbers: Vec<f64> = (1..=10).rev().map(f64::from).collect();
        assert_eq!((quantile(&numbers, 0.5), quantile(&numbers, 0.9), quantile(&[], 0.9)), (5.0, 9.0, 0.0));
    }

    #[test]
    fn law_the_paired_interval_holds_its_estimate_and_shrinks_when_jobs_go_together() {
        let mut chance = Chance::of(3, "jobs");
        let second: Vec<f64> = (0..400).map(|_| 10.0 + 20.0 * chance.even()).collect();
        let half: Vec<f64> = second.iter().map(|minutes| 0.5 * minutes).collect();
        let shuffled: Vec<f64> = half.iter().rev().copied().collect();
        let (together, apart) = (paired(&half, &second, 1), paired(&shuffled, &second, 1));
        assert!((together.ratio.value - 0.5).abs() < 1e-12);
        assert!(together.ratio.high - together.ratio.low < 1e-9);
        assert!(apart.ratio.low < 0.5 && 0.5 < apart.ratio.high && apart.ratio.high - apart.ratio.low < 0.1);
        assert!(together.difference.low < -10.0 + 1.0 && together.difference.high > -10.0 - 1.0);
    }
}
