//! Readings as the core sees them: how well each world explains each one.
//! Law: a reading is clean, or wild with a small share; L = (1 − s)·clean + s·wild, on the exact density.
//! "None of these" gives a reading ½ prior predictive + ½ uniform. Source: docs/oracles.md.
//! Promise: readings are kept sorted by key (then by content), so that the order of taking is forgotten.
//! Limit: readings are independent given the world; what they share has to be in the worlds.

use std::cmp::Ordering;

use libm::{exp, log};

use super::worlds::{Worlds, log_sum};

/// One reading: its log likelihood in every world.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    key: String,
    log_likelihood: Vec<f64>,
    wild: Option<Vec<f64>>,
    log_uniform: Option<f64>,
}

/// Why a reading cannot be weighed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EvidenceError {
    /// A log likelihood has to be finite, or minus infinity.
    #[error("reading `{key}` has the log likelihood {found} in world {world}")]
    BadLikelihood {
        /// The reading's key.
        key: String,
        /// Which world.
        world: usize,
        /// What was found.
        found: f64,
    },
    /// A share or a responsibility has to be within 0 and 1.
    #[error("reading `{key}` has a share of {found}; a share is within 0 and 1")]
    BadShare {
        /// The reading's key.
        key: String,
        /// What was found.
        found: f64,
    },
    /// A reading has to speak of every world.
    #[error("reading `{key}` speaks of {found} worlds; there are {expected}")]
    WrongLength {
        /// The reading's key.
        key: String,
        /// How many it speaks of.
        found: usize,
        /// How many worlds there are.
        expected: usize,
    },
}

impl Evidence {
    /// A reading by its log likelihood in each world. The key fixes its place in every sum.
    pub fn new(key: impl Into<String>, log_likelihood: Vec<f64>) -> Result<Self, EvidenceError> {
        let key = key.into();
        if let Some((world, &found)) =
            log_likelihood.iter().enumerate().find(|(_, l)| l.is_nan() || **l == f64::INFINITY)
        {
            return Err(EvidenceError::BadLikelihood { key, world, found });
        }
        Ok(Evidence { key, log_likelihood, wild: None, log_uniform: None })
    }

    /// A reading that is wild with the share `wild_share`, and then has the given log density whatever the
    /// world. `log_clean` is the log density of a clean reading, per world.
    pub fn mixture(
        key: impl Into<String>,
        log_clean: &[f64],
        wild_share: f64,
        log_wild_density: f64,
    ) -> Result<Self, EvidenceError> {
        let key = key.into();
        if !(0.0..=1.0).contains(&wild_share) {
            return Err(EvidenceError::BadShare { key, found: wild_share });
        }
        let log_wild = log(wild_share) + log_wild_density;
        let log_share_clean = log(1.0 - wild_share);
        let log_likelihood: Vec<f64> =
            log_clean.iter().map(|clean| log_sum(&[log_share_clean + clean, log_wild], 0..2)).collect();
        let wild = log_likelihood
            .iter()
            .map(|&total| if total == f64::NEG_INFINITY { 0.0 } else { exp(log_wild - total).min(1.0) })
            .collect();
        Evidence::new(key, log_likelihood)?.with_wild(wild)?.with_uniform(log_wild_density)
    }

    /// States, per world, the probability that the reading is wild or misplaced if that world is the truth.
    pub fn with_wild(mut self, responsibility: Vec<f64>) -> Result<Self, EvidenceError> {
        if let Some(&found) = responsibility.iter().find(|share| !(0.0..=1.0).contains(*share)) {
            return Err(EvidenceError::BadShare { key: self.key, found });
        }
        if responsibility.len() != self.log_likelihood.len() {
            return Err(EvidenceError::WrongLength {
                key: self.key,
                found: responsibility.len(),
                expected: self.log_likelihood.len(),
            });
        }
        self.wild = Some(responsibility);
        Ok(self)
    }

    /// States the log density of a reading that is uniform over the instrument's range (or over the words that
    /// could have been said); without it "none of these" expects just what the worlds expect.
    pub fn with_uniform(mut self, log_density: f64) -> Result<Self, EvidenceError> {
        if !log_density.is_finite() {
            return Err(EvidenceError::BadLikelihood { key: self.key, world: 0, found: log_density });
        }
        self.log_uniform = Some(log_density);
        Ok(self)
    }

    /// The key that fixes this reading's place in every sum.
    pub fn key(&self) -> &str {
        &self.key
    }

    /// Log likelihood in each world.
    pub fn log_likelihood(&self) -> &[f64] {
        &self.log_likelihood
    }

    /// Probability that the reading is wild, were the given world the truth; zero where nothing was said.
    pub fn wild(&self, world: usize) -> f64 {
        self.wild.as_ref().map_or(0.0, |wild| wild[world])
    }

    fn order(&self, other: &Evidence) -> Ordering {
        self.key.cmp(&other.key).then_with(|| {
            let pairs = self.log_likelihood.iter().zip(&other.log_likelihood);
            pairs.map(|(a, b)| a.total_cmp(b)).find(|o| o.is_ne()).unwrap_or(Ordering::Equal)
        })
    }

    /// Log density under "none of these": half what the worlds expect beforehand, half uniform.
    fn log_unexplained(&self, worlds: &Worlds) -> f64 {
        let joint: Vec<f64> = worlds.log_prior().iter().zip(&self.log_likelihood).map(|(prior, l)| prior + l).collect();
        let predictive = log_sum(&joint, 0..joint.len());
        match self.log_uniform {
            Some(uniform) => log_sum(&[predictive, uniform], 0..2) - std::f64::consts::LN_2,
            None => predictive,
        }
    }
}

/// The readings of one job, sorted; the same name twice is two readings.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Readings {
    sorted: Vec<Evidence>,
    log_unexplained: Vec<f64>,
}

impl Readings {
    /// No reading yet.
    pub fn new() -> Self {
        Readings::default()
    }

    /// Sorts a reading in, and says at which index it now is.
    pub fn add(&mut self, worlds: &Worlds, evidence: Evidence) -> Result<usize, EvidenceError> {
        if evidence.log_likelihood.len() != worlds.len() {
            return Err(EvidenceError::WrongLength {
                key: evidence.key,
                found: evidence.log_likelihood.len(),
                expected: worlds.len(),
            });
        }
        let at = self.sorted.partition_point(|held| held.order(&evidence).is_le());
        // A job without "none of these" need not pay for its density.
        let unexplained =
            if worlds.none_of_these() > 0.0 { evidence.log_unexplained(worlds) } else { f64::NEG_INFINITY };
        self.log_unexplained.insert(at, unexplained);
        self.sorted.insert(at, evidence);
        Ok(at)
    }

    /// Takes a reading out again.
    pub fn remove(&mut self, index: usize) -> Option<Evidence> {
        if index >= self.sorted.len() {
            return None;
        }
        self.log_unexplained.remove(index);
        Some(self.sorted.remove(index))
    }

    /// The readings in the order in which they are summed.
    pub fn sorted(&self) -> &[Evidence] {
        &self.sorted
    }

    /// How many readings there are.
    pub fn len(&self) -> usize {
        self.sorted.len()
    }

    /// Whether there is no reading yet.
    pub fn is_empty(&self) -> bool {
        self.sorted.is_empty()
    }

    /// Log density of each reading under "none of these"; minus infinity where it has no prior.
    pub(super) fn log_unexplained(&self) -> &[f64] {
        &self.log_unexplained
    }
}
