//! Faults that come and go: a world whose fault is there with a probability whenever one looks.
//! Law: L = q·L(fault) + (1 − q)·L(healthy) for each reading, q the presence: 1 with 0.88, else 0.3, 0.5 or 0.7.
//! Source: simulation, docs/oracles.md. Promise: a suspect is given such worlds only where they fit its clues better
//! than a fault that stays; where they fit as well its odds are the same with and without them.
//! What is worn, blown or flat does not come and go.
//! Limit: looks are independent given the presence; only worlds of the cast come and go.

use libm::{exp, log};

use super::clue::{Clue, ClueSort};
use crate::cast::Cast;
use crate::complaint::COMES_AND_GOES;
use crate::likelihood::Weighed;

/// Presences of a fault that comes and goes.
const PRESENCES: [f64; 3] = [0.3, 0.5, 0.7];
/// Share of faults that come and go, each presence (common practice, no source: one in eight).
const EACH: f64 = 0.04;
/// Worlds of a suspect by which it is judged, and which it is given when many suspects come and go.
const FEW: usize = 32;
/// So many suspects are many.
const MANY: usize = 16;
/// Evidence so many nats below the best does not matter.
const HOPELESS: f64 = 12.0;

/// Which suspects may come and go, with how many of their worlds.
pub(super) struct Sometimes {
    suspects: Vec<usize>,
    worlds_each: usize,
    each: usize,
}

impl Sometimes {
    /// The suspects whose clues fit better if they come and go.
    pub(super) fn of(cast: &Cast, clues: &[Clue<'_>], of_cast: &[Weighed], log_odds: &[f64]) -> Self {
        let few = FEW.min(cast.worlds_each);
        let can = |suspect: usize| cast.suspects[suspect].fault.as_ref().is_some_and(|fault| fault.comes_and_goes);
        let evidence = |suspect: usize| {
            let mut stays = vec![0.0; few];
            if !can(suspect) {
                for (point, stays) in stays.iter_mut().enumerate() {
                    let world = suspect * cast.worlds_each + point;
                    *stays = of_cast.iter().map(|weighed| weighed.log_likelihood[world]).sum();
                }
                return (log_mean(&stays), f64::NEG_INFINITY);
            }
            let mut goes = vec![Product::default(); few * PRESENCES.len()];
            for (clue, weighed) in clues.iter().zip(of_cast) {
                for (point, (stays, goes)) in stays.iter_mut().zip(goes.chunks_exact_mut(PRESENCES.len())).enumerate() {
                    let world = suspect * cast.worlds_each + point;
                    *stays += weighed.log_likelihood[world];
                    let mixture = Mixture::of(cast, clue, weighed, world);
                    goes.iter_mut().zip(PRESENCES).for_each(|(goes, presence)| goes.times(mixture.at(presence).0));
                }
            }
            let goes: Vec<f64> = goes.into_iter().map(Product::log).collect();
            (log_mean(&stays), log_mean(&goes))
        };
        let both: Vec<(f64, f64)> = (0..cast.suspects.len()).map(evidence).collect();
        let best = both.iter().zip(log_odds).map(|((stays, goes), odds)| odds + stays.max(*goes));
        let best = best.fold(f64::NEG_INFINITY, f64::max);
        let comes_and_goes = |suspect: &usize| {
            let (stays, goes) = both[*suspect];
            goes > stays && log_odds[*suspect] + goes > best - HOPELESS
        };
        let suspects: Vec<usize> = (1..cast.suspects.len()).filter(comes_and_goes).collect();
        let worlds_each = if suspects.len() > MANY { few } else { cast.worlds_each };
        Self { suspects, worlds_each, each: cast.worlds_each }
    }

    /// Worlds of the cast that come and go, each with its presence.
    pub(super) fn worlds(&self) -> impl Iterator<Item = (u32, f64)> + '_ {
        let of_suspect = |suspect: &usize| {
            let first = suspect * self.each;
            (first..first + self.worlds_each).flat_map(|world| PRESENCES.map(|presence| (world as u32, presence)))
        };
        self.suspects.iter().flat_map(of_suspect)
    }

    /// Splits the odds of its suspects between worlds that stay and worlds that come and go, which are added.
    pub(super) fn share_out(&self, cast: &Cast, log_odds: &[f64], suspects: &mut Vec<u32>, weights: &mut Vec<f64>) {
        let stays = log(1.0 - EACH * PRESENCES.len() as f64);
        for (suspect, weight) in suspects.iter().zip(weights.iter_mut()) {
            if self.suspects.contains(&(*suspect as usize)) {
                *weight += stays;
            }
        }
        for (world, _) in self.worlds() {
            let suspect = cast.suspect_of(world as usize);
            suspects.push(suspect as u32);
            weights.push(log_odds[suspect] + log(EACH / self.worlds_each as f64) + cast.log_learned_of(world as usize));
        }
    }

    /// How a clue weighs the worlds that were added.
    pub(super) fn weigh(&self, cast: &Cast, clue: &Clue<'_>, of_cast: &Weighed, all: &mut Weighed) {
        for (world, presence) in self.worlds() {
            let (likelihood, wild) = Mixture::of(cast, clue, of_cast, world as usize).at(presence);
            all.log_likelihood.push(log(likelihood));
            if !of_cast.wild.is_empty() {
                all.wild.push(wild);
            }
        }
    }
}

/// How a clue weighs a world of the cast whose fault comes and goes.
enum Mixture {
    /// By its likelihood, and the part of it that is wild, with the fault there and without it.
    Looks { there: (f64, f64), gone: (f64, f64) },
    /// By its likelihood with the fault there in any of so many looks, and without it in all of them.
    Waits { there: f64, gone: f64, looks: u32 },
    /// By this, however often the fault is there.
    Fixed(f64),
}

impl Mixture {
    fn of(cast: &Cast, clue: &Clue<'_>, of_cast: &Weighed, world: usize) -> Self {
        let healthy = world % cast.worlds_each;
        let of = |world: usize| exp(of_cast.log_likelihood[world]);
        match &clue.sort {
            ClueSort::Read { .. } => {
                let both = |world: usize| {
                    let likelihood = of(world);
                    (likelihood, likelihood * of_cast.wild[world])
                };
                Self::Looks { there: both(world), gone: both(healthy) }
            }
            // A remedy that was right stays right; a wrong one looks right while the fault is gone.
            ClueSort::Tried { fixes, looks, .. } if !fixes.contains(&(cast.suspect_of(world) as u32)) => {
                Self::Waits { there: of(world), gone: 1.0 - of(world), looks: *looks }
            }
            // Half of the owners say so; the others say what it does when it does it (estimate).
            ClueSort::Complaint(complaint) if complaint.name == COMES_AND_GOES => Self::Fixed(0.5),
            ClueSort::Complaint(_) => Self::Fixed(0.5 * of(world)),
            _ => Self::Fixed(of(world)),
        }
    }

    /// Likelihood of the clue, and its probability of being wild, at a presence.
    fn at(&self, presence: f64) -> (f64, f64) {
        match self {
            Self::Fixed(likelihood) => (*likelihood, 0.0),
            Self::Waits { there, gone, looks } => {
                let away = (1.0 - presence).powi(*looks as i32);
                ((1.0 - away) * there + away * gone, 0.0)
            }
            Self::Looks { there, gone } => {
                let mix = |there: f64, gone: f64| presence * there + (1.0 - presence) * gone;
                let (all, wild) = (mix(there.0, gone.0), mix(there.1, gone.1));
                (all, if wild > 0.0 { wild / all } else { 0.0 })
            }
        }
    }
}

/// A product of many likelihoods, safe from underflow.
#[derive(Clone, Copy)]
struct Product {
    log: f64,
    rest: f64,
}

impl Default for Product {
    fn default() -> Self {
        Self { log: 0.0, rest: 1.0 }
    }
}

impl Product {
    fn times(&mut self, factor: f64) {
        self.rest *= factor;
        if self.rest < 1e-150 {
            self.log += log(self.rest);
            self.rest = 1.0;
        }
    }

    fn log(self) -> f64 {
        self.log + log(self.rest)
    }
}

fn log_mean(values: &[f64]) -> f64 {
    let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + log(values.iter().map(|value| exp(value - most)).sum::<f64>() / values.len() as f64)
}
