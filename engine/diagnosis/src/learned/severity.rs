//! How bad a kind of fault usually is when it is found: the range of its severity in four parts, from slight to bad.
//! Law: shares of a mixture whose components are the parts, each job known by how well each part explains its readings;
//! expectation–maximization (Dempster, Laird & Rubin 1977, J. R. Stat. Soc. B 39, 1, `from memory`) under a Dirichlet
//! prior that is even and weighs as much as the starting odds, [`PRIOR_VERDICTS`] verdicts.
//! Promise: shares sum to one; a job whose readings say nothing of the severity changes nothing.
//! Limit: within a part all severities stay alike; only what was proven counts.

use std::collections::BTreeMap;

use crate::cast::{PARTS, Parts};
use crate::inference::PRIOR_VERDICTS;

/// Rounds; each halves what is left to do at least where the prior weighs as much as the verdicts.
const ROUNDS: usize = 60;

/// A fault that was proven, with what its readings say of its severity.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Kind of part and mode, as in `joint:corroded`.
    pub class: String,
    /// How well each part explains the readings, up to a factor.
    pub fits: Parts,
    /// What the verdict counts, 0 to 1.
    pub counts: f64,
}

/// How bad a kind and mode usually is.
#[derive(Clone, Debug, PartialEq)]
pub struct Usual {
    /// Kind of part and mode.
    pub class: String,
    /// Share of each part of the range; a quarter each before any verdict.
    pub shares: Parts,
    /// Verdicts behind it.
    pub verdicts: f64,
}

impl Usual {
    /// Density over that of the sheet.
    pub fn density(&self) -> Parts {
        self.shares.map(|share| share * PARTS as f64)
    }
}

/// How bad each kind and mode usually is, of which something was found, in the order of their names.
pub fn usual(found: &[Found]) -> Vec<Usual> {
    let mut classes: BTreeMap<&str, Vec<(Parts, f64)>> = BTreeMap::new();
    for one in found {
        let all: f64 = one.fits.iter().sum();
        let usable = one.fits.iter().all(|fit| *fit >= 0.0) && all > 0.0 && all.is_finite() && one.counts > 0.0;
        if usable {
            classes.entry(&one.class).or_default().push((one.fits, one.counts));
        }
    }
    let of = |(class, found): (&str, Vec<(Parts, f64)>)| {
        let verdicts: f64 = found.iter().map(|(_, counts)| counts).sum();
        Usual { class: class.to_owned(), shares: shares(&found, verdicts), verdicts }
    };
    classes.into_iter().map(of).collect()
}

fn shares(found: &[(Parts, f64)], verdicts: f64) -> Parts {
    let even = 1.0 / PARTS as f64;
    let mut shares = [even; PARTS];
    for _ in 0..ROUNDS {
        let mut next = [PRIOR_VERDICTS * even; PARTS];
        for (fits, counts) in found {
            let all: f64 = fits.iter().zip(&shares).map(|(fit, share)| fit * share).sum();
            next.iter_mut().zip(fits).zip(&shares).for_each(|((next, fit), share)| *next += counts * fit * share / all);
        }
        shares = next.map(|count| count / (PRIOR_VERDICTS + verdicts));
    }
    shares
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::Chance;

    fn found(fits: Parts) -> Found {
        Found { class: "joint:corroded".into(), fits, counts: 1.0 }
    }

    #[test]
    fn law_what_is_known_for_sure_is_counted_and_what_says_nothing_changes_nothing() {
        // By hand: (5 + 20)/40, (5 + 0)/40.
        let bad = &usual(&vec![found([0.0, 0.0, 0.0, 3.0]); 20])[0];
        assert!((bad.shares[3] - 0.625).abs() < 1e-12 && (bad.shares[0] - 0.125).abs() < 1e-12, "{bad:?}");
        assert!((bad.density().iter().sum::<f64>() - 4.0).abs() < 1e-12);
        let dumb = &usual(&vec![found([0.2; PARTS]); 500])[0];
        assert!(dumb.shares.iter().all(|share| (share - 0.25).abs() < 1e-12), "{dumb:?}");
        assert!(usual(&[found([0.0; PARTS]), found([f64::NAN, 1.0, 1.0, 1.0])]).is_empty());
    }

    /// Severities of a known spread, each seen through readings that blur it over its neighbors.
    #[test]
    fn law_a_thousand_blurred_verdicts_recover_the_spread() {
        let truth: Parts = [0.1, 0.2, 0.3, 0.4];
        let mut chance = Chance::of(5, "severity");
        let mut all = Vec::new();
        for _ in 0..1000 {
            let part = chance.by_weight(&truth).unwrap();
            // Read as itself in seven cases of ten, else as the next, either way.
            let read = if chance.happens(0.7) { part } else { (part + 1) % PARTS };
            let fits = [0, 1, 2, 3].map(|part| {
                if part == read {
                    0.7
                } else if (part + 1) % PARTS == read {
                    0.3
                } else {
                    0.0
                }
            });
            all.push(found(fits));
        }
        let learned = &usual(&all)[0];
        for (share, truth) in learned.shares.iter().zip(truth) {
            assert!((share - truth).abs() < 0.05, "{learned:?}");
        }
        assert!((learned.shares.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }
}
