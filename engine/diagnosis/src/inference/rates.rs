//! What proven verdicts teach: how often each fault comes, and its share among all faults.
//! Law: a rate with the density Gamma(a, b), after k verdicts in an exposure E, is Gamma(a + k, b + E); shares of a
//! Dirichlet(α) become α + counts (conjugate priors; Gelman et al., Bayesian Data Analysis, ch. 2 and 3, from memory).
//! Promise: learning in two steps is learning in one; what none-of-these took is never counted.
//! Limit: a steady rate, forgotten at one pace; exposure is in whatever the caller counts, hours or starts.

use libm::{exp, exp2, expm1, lgamma, log, log1p};

/// Verdicts that a prior is worth, so that a handful of jobs bends it and does not break it (`estimate`).
pub const PRIOR_VERDICTS: f64 = 20.0;
/// Years after which what was learned counts half (`estimate`).
pub const HALF_LIFE_YEARS: f64 = 3.0;
/// The most that a verdict without a passed repair check counts for one fault (`estimate`).
pub const MOST_UNPROVEN: f64 = 0.5;

/// How often a fault comes, as far as it is known: so many verdicts in so much exposure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate {
    verdicts: f64,
    exposure: f64,
}

/// Why something cannot be learned from, or is no rate.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum RateError {
    /// A rate needs verdicts and exposure above zero.
    #[error("a rate of {verdicts} verdicts in an exposure of {exposure}; both have to be finite and above zero")]
    NoRate {
        /// The verdicts found.
        verdicts: f64,
        /// The exposure found.
        exposure: f64,
    },
    /// A count or an exposure to be added has to be finite, and not below zero.
    #[error("{found} was to be added; what is added is finite and not below zero")]
    BadCount {
        /// What was found.
        found: f64,
    },
    /// The odds of a verdict are a probability for each fault, together at most one.
    #[error("the odds of a verdict sum to {found}; each is a probability, together at most one")]
    BadOdds {
        /// What they sum to.
        found: f64,
    },
    /// A verdict has to speak of every fault.
    #[error("a verdict on {found} faults; there are {expected}")]
    WrongLength {
        /// How many faults it speaks of.
        found: usize,
        /// How many there are.
        expected: usize,
    },
}

impl Rate {
    /// A rate as if so many verdicts had been seen in so much exposure: Gamma(verdicts, exposure).
    pub fn new(verdicts: f64, exposure: f64) -> Result<Self, RateError> {
        let usable = |number: f64| number.is_finite() && number > 0.0;
        if !usable(verdicts) || !usable(exposure) {
            return Err(RateError::NoRate { verdicts, exposure });
        }
        Ok(Rate { verdicts, exposure })
    }

    /// A rate before any verdict: the fault's share of all faults, which together come at the given rate, with the
    /// weight of `PRIOR_VERDICTS`.
    pub fn before_any_verdict(share: f64, rate_of_all: f64) -> Result<Self, RateError> {
        Rate::new(PRIOR_VERDICTS * share, PRIOR_VERDICTS / rate_of_all)
    }

    /// The rate after so many verdicts (whole or in part) in so much more exposure. What a class of parts has
    /// taught is the prior of a model; a verdict counted there must not be counted again here.
    pub fn learned(self, verdicts: f64, exposure: f64) -> Result<Self, RateError> {
        Ok(Rate { verdicts: self.verdicts + added(verdicts)?, exposure: self.exposure + added(exposure)? })
    }

    /// The rate when it has not been fed for some years: the same mean, less sure.
    pub fn forgotten(self, years: f64) -> Result<Self, RateError> {
        let kept = kept(years)?;
        Rate::new(self.verdicts * kept, self.exposure * kept)
    }

    /// Verdicts that stand behind it.
    pub fn verdicts(self) -> f64 {
        self.verdicts
    }

    /// Exposure that stands behind it.
    pub fn exposure(self) -> f64 {
        self.exposure
    }

    /// Faults in one unit of exposure, as expected.
    pub fn mean(self) -> f64 {
        self.verdicts / self.exposure
    }

    /// The rate that the truth is below with the given probability.
    pub fn quantile(self, probability: f64) -> f64 {
        gamma_quantile(self.verdicts, probability) / self.exposure
    }

    /// The interval that holds the truth with the given probability, as much left out below as above.
    pub fn interval(self, probability: f64) -> (f64, f64) {
        let tail = (1.0 - probability) / 2.0;
        (self.quantile(tail), self.quantile(1.0 - tail))
    }

    /// The probability of at least one such fault in some exposure to come: 1 − (b / (b + t))^a.
    pub fn at_least_one_in(self, exposure: f64) -> f64 {
        -expm1(-self.verdicts * log1p(exposure / self.exposure))
    }
}

/// Prior odds of the faults in a new case, from each fault's rate and the machine's own exposure to it (the same for
/// all where it is common); they sum to one.
pub fn prior_odds(rates: &[(Rate, f64)]) -> Vec<f64> {
    let expected = rates.iter().map(|(rate, exposure)| rate.mean() * exposure);
    let total: f64 = expected.clone().sum();
    expected.map(|faults| faults / total).collect()
}

/// A verdict to learn from: the odds of each fault when the job was closed. What they lack to one was none-of-these,
/// and teaches nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson {
    /// The odds, one a fault.
    pub odds: Vec<f64>,
    /// Whether the repair check passed, and the repair has survived since.
    pub proven: bool,
}

impl Lesson {
    /// What it counts for each fault: its odds, and without proof never more than `MOST_UNPROVEN`.
    pub fn counts(&self) -> Result<Vec<f64>, RateError> {
        let found: f64 = self.odds.iter().sum();
        if !self.odds.iter().all(|p| (0.0..=1.0).contains(p)) || found > 1.0 + 1e-9 {
            return Err(RateError::BadOdds { found });
        }
        let most = if self.proven { 1.0 } else { MOST_UNPROVEN };
        Ok(self.odds.iter().map(|p| p.min(most)).collect())
    }
}

/// Shares of the faults among all faults, where nobody knows the exposure: Dirichlet(α), α a count for each fault.
#[derive(Debug, Clone, PartialEq)]
pub struct Shares {
    counts: Vec<f64>,
}

impl Shares {
    /// Shares as if so many verdicts had been seen for each fault.
    pub fn new(counts: Vec<f64>) -> Result<Self, RateError> {
        if let Some(&found) = counts.iter().find(|count| !(count.is_finite() && **count >= 0.0)) {
            return Err(RateError::BadCount { found });
        }
        if counts.iter().sum::<f64>() <= 0.0 {
            return Err(RateError::BadCount { found: 0.0 });
        }
        Ok(Shares { counts })
    }

    /// Shares before any verdict, with the weight of `PRIOR_VERDICTS`.
    pub fn before_any_verdict(shares: &[f64]) -> Result<Self, RateError> {
        let total: f64 = shares.iter().sum();
        Shares::new(shares.iter().map(|share| PRIOR_VERDICTS * share / total).collect())
    }

    /// Counts one lesson.
    pub fn learn(&mut self, lesson: &Lesson) -> Result<(), RateError> {
        let counts = lesson.counts()?;
        if counts.len() != self.counts.len() {
            return Err(RateError::WrongLength { found: counts.len(), expected: self.counts.len() });
        }
        self.counts.iter_mut().zip(counts).for_each(|(held, count)| *held += count);
        Ok(())
    }

    /// Shares that were not fed for some years: the same means, less sure.
    pub fn forgotten(&self, years: f64) -> Result<Self, RateError> {
        let kept = kept(years)?;
        Shares::new(self.counts.iter().map(|count| count * kept).collect())
    }

    /// The counts that stand behind them.
    pub fn counts(&self) -> &[f64] {
        &self.counts
    }

    /// The expected shares; they sum to one.
    pub fn means(&self) -> Vec<f64> {
        let total: f64 = self.counts.iter().sum();
        self.counts.iter().map(|count| count / total).collect()
    }
}

fn added(found: f64) -> Result<f64, RateError> {
    if found.is_finite() && found >= 0.0 { Ok(found) } else { Err(RateError::BadCount { found }) }
}

/// The share that is left of old counts.
fn kept(years: f64) -> Result<f64, RateError> {
    Ok(exp2(-added(years)? / HALF_LIFE_YEARS))
}

/// The x with P(shape, x) = probability, by halving an interval of ln x.
fn gamma_quantile(shape: f64, probability: f64) -> f64 {
    if probability.is_nan() || probability <= 0.0 {
        return 0.0;
    }
    if probability >= 1.0 {
        return f64::INFINITY;
    }
    // P(a, x) is never above x^a / Γ(a + 1), so the quantile is not below this.
    let mut low = (log(probability) + lgamma(shape + 1.0)) / shape;
    let mut high = low.max(0.0) + 1.0;
    while gamma_below(shape, exp(high)) < probability {
        (low, high) = (high, high + 1.0);
    }
    while high - low > 1e-15 * high.abs().max(1.0) {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if gamma_below(shape, exp(middle)) < probability { low = middle } else { high = middle }
    }
    exp(0.5 * (low + high))
}

/// The regularized lower incomplete gamma function P(a, x): its power series below the mean, the continued fraction of
/// its complement above (Abramowitz & Stegun 1964, 6.5.29 and 6.5.31, from memory).
fn gamma_below(shape: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let leading = exp(shape * log(x) - x - lgamma(shape));
    if x < shape + 1.0 {
        // Σ x^n / (a (a+1) … (a+n))
        let (mut term, mut sum, mut next) = (1.0 / shape, 1.0 / shape, shape);
        while term > 1e-17 * sum {
            next += 1.0;
            term *= x / next;
            sum += term;
        }
        return (leading * sum).min(1.0);
    }
    // 1/(x+1−a −) 1(1−a)/(x+3−a −) 2(2−a)/(x+5−a −) …, from the front (Lentz 1976).
    let tiny = 1e-300;
    let mut denominator = x + 1.0 - shape;
    let (mut c, mut d) = (1.0 / tiny, 1.0 / denominator);
    let mut fraction = d;
    let mut n = 1.0;
    loop {
        let numerator = -n * (n - shape);
        denominator += 2.0;
        d = numerator * d + denominator;
        c = denominator + numerator / c;
        d = 1.0 / if d.abs() < tiny { tiny } else { d };
        c = if c.abs() < tiny { tiny } else { c };
        fraction *= c * d;
        if (c * d - 1.0).abs() < 1e-16 || n > 1e7 {
            return (1.0 - leading * fraction).clamp(0.0, 1.0);
        }
        n += 1.0;
    }
}
