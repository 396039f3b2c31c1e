//! The worlds: every fully specified case that is considered, each belonging to one suspect.
//! Promise: priors are normalized once, and every later sum walks the worlds in the order stored here.
//! Limit: memory and time grow with the number of worlds; meant for up to some 20,000.

use libm::{exp, log};

/// Worlds with their suspects and prior weights, and the prior of "none of these".
#[derive(Debug, Clone, PartialEq)]
pub struct Worlds {
    suspect_of: Vec<u32>,
    log_prior: Vec<f64>,
    by_suspect: Vec<u32>,
    starts: Vec<usize>,
    log_suspect_prior: Vec<f64>,
    none_of_these: f64,
}

/// Why a list of worlds cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WorldsError {
    /// No world at all, or none with a weight above zero.
    #[error("no world has any weight")]
    NoWeight,
    /// One entry per world is needed in both lists.
    #[error("{suspects} suspects but {weights} weights; each world needs one of both")]
    UnequalLengths {
        /// Length of the list of suspects.
        suspects: usize,
        /// Length of the list of weights.
        weights: usize,
    },
    /// A log weight has to be finite, or minus infinity.
    #[error("world {world} has the log weight {found}; it has to be finite, or minus infinity")]
    BadWeight {
        /// Which world.
        world: usize,
        /// What was found.
        found: f64,
    },
    /// A suspect index is beyond the number of suspects.
    #[error("world {world} belongs to suspect {found}, but there are {suspects} suspects")]
    UnknownSuspect {
        /// Which world.
        world: usize,
        /// What was found.
        found: u32,
        /// How many suspects there are.
        suspects: usize,
    },
    /// A probability of "none of these" has to be at least 0 and below 1.
    #[error("the prior of none-of-these is {found}; it has to be at least 0 and below 1")]
    BadNoneOfThese {
        /// What was found.
        found: f64,
    },
}

impl Worlds {
    /// Takes the suspect (below `suspects`) and the log prior weight of each world; weights need not be
    /// normalized. A world's weight is its share of everything: suspect's odds times share within the suspect.
    pub fn new(suspects: usize, suspect_of: Vec<u32>, log_weight: Vec<f64>) -> Result<Self, WorldsError> {
        if suspect_of.len() != log_weight.len() {
            return Err(WorldsError::UnequalLengths { suspects: suspect_of.len(), weights: log_weight.len() });
        }
        for (world, (&found, &weight)) in suspect_of.iter().zip(&log_weight).enumerate() {
            if found as usize >= suspects {
                return Err(WorldsError::UnknownSuspect { world, found, suspects });
            }
            if weight.is_nan() || weight == f64::INFINITY {
                return Err(WorldsError::BadWeight { world, found: weight });
            }
        }
        let (by_suspect, starts) = group(suspects, &suspect_of);
        let total = log_sum(&log_weight, 0..log_weight.len());
        if total == f64::NEG_INFINITY {
            return Err(WorldsError::NoWeight);
        }
        let log_prior: Vec<f64> = log_weight.iter().map(|weight| weight - total).collect();
        let log_suspect_prior = starts
            .windows(2)
            .map(|ends| log_sum(&log_prior, by_suspect[ends[0]..ends[1]].iter().map(|&w| w as usize)))
            .collect();
        Ok(Worlds { suspect_of, log_prior, by_suspect, starts, log_suspect_prior, none_of_these: 0.0 })
    }

    /// Sets the prior probability that no world listed here is the truth.
    pub fn with_none_of_these(mut self, prior: f64) -> Result<Self, WorldsError> {
        if !(0.0..1.0).contains(&prior) {
            return Err(WorldsError::BadNoneOfThese { found: prior });
        }
        self.none_of_these = prior;
        Ok(self)
    }

    /// How many worlds there are.
    pub fn len(&self) -> usize {
        self.suspect_of.len()
    }

    /// Whether there is no world; never true of worlds that were built by `new`.
    pub fn is_empty(&self) -> bool {
        self.suspect_of.is_empty()
    }

    /// How many suspects there are, those without a world included.
    pub fn suspects(&self) -> usize {
        self.starts.len() - 1
    }

    /// The suspect that a world belongs to.
    pub fn suspect_of(&self, world: usize) -> u32 {
        self.suspect_of[world]
    }

    /// The worlds of one suspect, in the order in which they are summed; none for an unknown suspect.
    pub fn of_suspect(&self, suspect: u32) -> &[u32] {
        let suspect = suspect as usize;
        match (self.starts.get(suspect), self.starts.get(suspect + 1)) {
            (Some(&from), Some(&to)) => &self.by_suspect[from..to],
            _ => &[],
        }
    }

    /// Natural logs of the normalized prior weights, one a world.
    pub fn log_prior(&self) -> &[f64] {
        &self.log_prior
    }

    /// Natural logs of the suspects' priors, given that one of these worlds is the truth.
    pub fn log_suspect_prior(&self) -> &[f64] {
        &self.log_suspect_prior
    }

    /// The prior probability that none of these worlds is the truth.
    pub fn none_of_these(&self) -> f64 {
        self.none_of_these
    }
}

/// World indices sorted by suspect (stable), and where each suspect's run starts.
fn group(suspects: usize, suspect_of: &[u32]) -> (Vec<u32>, Vec<usize>) {
    let mut starts = vec![0; suspects + 1];
    for &suspect in suspect_of {
        starts[suspect as usize + 1] += 1;
    }
    for suspect in 0..suspects {
        starts[suspect + 1] += starts[suspect];
    }
    let mut next = starts.clone();
    let mut by_suspect = vec![0; suspect_of.len()];
    for (world, &suspect) in (0u32..).zip(suspect_of) {
        by_suspect[next[suspect as usize]] = world;
        next[suspect as usize] += 1;
    }
    (by_suspect, starts)
}

/// The log of a sum of exponentials, walked in the order given.
pub(super) fn log_sum(values: &[f64], order: impl Iterator<Item = usize> + Clone) -> f64 {
    let largest = order.clone().map(|at| values[at]).fold(f64::NEG_INFINITY, f64::max);
    if largest == f64::NEG_INFINITY {
        return largest;
    }
    largest + log(order.map(|at| exp(values[at] - largest)).sum::<f64>())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_priors_are_normalized_and_worlds_need_not_lie_together() {
        let worlds = Worlds::new(3, vec![2, 0, 2, 0], vec![0.0; 4]).unwrap();
        assert_eq!(worlds.of_suspect(0), [1, 3]);
        assert_eq!(worlds.of_suspect(1), [0u32; 0]);
        assert_eq!(worlds.of_suspect(2), [0, 2]);
        let priors: Vec<f64> = worlds.log_suspect_prior().iter().map(|&l| exp(l)).collect();
        assert!((priors[0] - 0.5).abs() < 1e-15 && priors[1] == 0.0 && (priors[2] - 0.5).abs() < 1e-15);
    }

    #[test]
    fn regress_a_bad_list_is_refused_with_what_was_found() {
        let refused = |suspects, of: &[u32], weights: &[f64]| {
            Worlds::new(suspects, of.to_vec(), weights.to_vec()).unwrap_err().to_string()
        };
        assert_eq!(refused(1, &[], &[]), "no world has any weight");
        assert_eq!(refused(1, &[1], &[0.0]), "world 0 belongs to suspect 1, but there are 1 suspects");
        assert!(refused(1, &[0], &[f64::NAN]).contains("log weight NaN"));
        assert!(refused(1, &[0, 0], &[0.0]).contains("2 suspects but 1 weights"));
        let worlds = Worlds::new(1, vec![0], vec![0.0]).unwrap();
        assert!(worlds.with_none_of_these(1.0).is_err());
    }
}
