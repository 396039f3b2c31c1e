//! Remedies and the expected minutes until one of them has fixed the fault.
//! Law: with independent costs, descending p/c minimizes Σ p_i Σ_{k≤i} c_k (Kalagnanam & Henrion; proof by
//! swapping neighbors); what is lost when a remedy was not the one adds to its c for all but the fault that it fixes.
//! Source: docs/oracles.md. Promise: exact for that order, access paid once included.
//! Limit: a right remedy always works; with shared access p/c is taken step by step, and is then only a good order.

use super::places::Places;

/// Below this share of the start, what is still unfixed no longer counts.
const NEGLIGIBLE_UNFIXED: f64 = 1e-6;

/// A remedy: what it costs and whom it would cure.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedy {
    /// Minutes of the remedy and of the check that it worked, access excluded.
    pub minutes: f64,
    /// What is lost beside them when it was not the fault, in minutes: a part that cannot be given back.
    pub lost: f64,
    /// Where it is done, if access there costs anything.
    pub place: Option<usize>,
    /// The suspects that it fixes.
    pub fixes: Vec<u32>,
}

/// The order in which to try remedies: best p/c first, each step paying the access it still needs.
/// `suspects` and `mass` run side by side; remedies that fix nothing left are not in the order.
pub fn repair_order(suspects: &[u32], mass: &[f64], remedies: &[Remedy], places: &Places) -> Vec<usize> {
    let mut order = Vec::new();
    Repairs::new(suspects, remedies).walk(mass, places, |index| order.push(index));
    order
}

/// Expected minutes until fixed when remedies are tried in the order of `repair_order`. Mass need not sum to one:
/// the result is minutes × mass. What no remedy fixes pays `unfixed_minutes` at the end.
pub fn expected_minutes_of_repair(
    suspects: &[u32],
    mass: &[f64],
    remedies: &[Remedy],
    places: &Places,
    unfixed_minutes: f64,
) -> f64 {
    Repairs::new(suspects, remedies).expected_minutes(mass, places, unfixed_minutes)
}

/// Remedies with the places of their suspects in a mass vector.
#[derive(Debug)]
pub(super) struct Repairs<'a> {
    remedies: &'a [Remedy],
    targets: Vec<Vec<usize>>,
}

impl<'a> Repairs<'a> {
    pub(super) fn new(suspects: &[u32], remedies: &'a [Remedy]) -> Self {
        let cures = |remedy: &Remedy| {
            let listed = suspects.iter().enumerate();
            listed.filter(|(_, suspect)| remedy.fixes.contains(suspect)).map(|(at, _)| at).collect()
        };
        Repairs { remedies, targets: remedies.iter().map(cures).collect() }
    }

    /// Where the suspects that a remedy fixes stand in the mass vector.
    pub(super) fn targets(&self, remedy: usize) -> &[usize] {
        &self.targets[remedy]
    }

    /// The mass that a remedy fixes.
    pub(super) fn chance(&self, remedy: usize, mass: &[f64]) -> f64 {
        self.targets[remedy].iter().map(|&at| mass[at]).sum()
    }

    /// Minutes × mass until fixed, remedies only.
    pub(super) fn expected_minutes(&self, mass: &[f64], places: &Places, unfixed_minutes: f64) -> f64 {
        let (minutes, unfixed) = self.walk(mass, places, |_| {});
        if unfixed > 0.0 { minutes + unfixed * unfixed_minutes } else { minutes }
    }

    /// Tries remedies in order; gives minutes × mass, and the mass that no remedy fixes.
    fn walk(&self, mass: &[f64], places: &Places, mut tried: impl FnMut(usize)) -> (f64, f64) {
        let mut left = mass.to_vec();
        let mut places = places.clone();
        let start: f64 = left.iter().sum();
        let (mut unfixed, mut minutes) = (start, 0.0);
        while unfixed > NEGLIGIBLE_UNFIXED * start {
            let mut best: Option<(usize, f64, f64)> = None;
            for (index, remedy) in self.remedies.iter().enumerate() {
                let chance = self.chance(index, &left);
                let cost = remedy.minutes + remedy.lost + places.unpaid(remedy.place);
                // Compares chance / cost crosswise, since a cost may be zero.
                if chance > 0.0 && best.is_none_or(|(_, p, c)| chance * c > p * cost) {
                    best = Some((index, chance, cost));
                }
            }
            let Some((index, chance, cost)) = best else {
                return (minutes, unfixed);
            };
            tried(index);
            minutes += cost * unfixed - self.remedies[index].lost * chance;
            unfixed = (unfixed - chance).max(0.0);
            self.targets[index].iter().for_each(|&at| left[at] = 0.0);
            places.open(self.remedies[index].place);
        }
        (minutes, 0.0)
    }
}
