//! Readings that tell for what leads by themselves: it shows there what hardly any other fault would.
//! Idea: where the others have only fallen one by one, little speaks for the one that is left, and a fault that the
//! catalogue lacks is given another's name. So a leader has to stand out though its readings count for less than they say.
//! Law: tempered odds, prior times likelihood^0.3; a probe tells by the share of the others, weighed so, that would show
//! something else there (powers of the likelihood against a wrong model: Grünwald 2012, `from memory`; the figures are
//! estimates, by simulation).
//! Limit: a missing fault that shows the same wherever it is cheap to look is not found so; the proof of the repair is left.

use libm::{exp, log};

use crate::delegates::Delegates;
use crate::turn::Turn;

/// A leader stands out with so much of the tempered odds: 0.5 finds half as many missing faults.
const STANDS_OUT: f64 = 0.9;
/// How far likelihood weighs beside the prior.
const TEMPER: f64 = 0.3;
/// The leader may show a class with less than this share of its own worlds: then it does not show it.
const SELDOM: f64 = 0.02;
/// Stands for no probability at all in logarithms.
const LEAST: f64 = 1e-300;

/// How far a leader stands out, and how well each probe tells for it.
pub(crate) struct Telling<'a> {
    turn: &'a Turn<'a>,
    leader: &'a [u32],
    /// Tempered weight of each world of the cast, none for the leader's own.
    others: Vec<f64>,
}

impl<'a> Telling<'a> {
    /// For the suspects that share a remedy and lead together.
    pub(crate) fn new(turn: &'a Turn<'a>, leader: &'a [u32]) -> Self {
        let each = turn.atlas.cast.worlds_each;
        let own = |world: usize| leader.contains(&((world / each) as u32));
        let worlds = turn.field.worlds.log_prior().iter().zip(turn.belief.worlds()).take(turn.atlas.cast.len());
        let weight = |(world, (prior, belief)): (usize, (&f64, &f64))| {
            if own(world) { 0.0 } else { tempered(*prior, *belief) }
        };
        Self { turn, leader, others: worlds.enumerate().map(weight).collect() }
    }

    /// Whether the leader holds most of the odds though every reading counts for less.
    pub(crate) fn stands_out(&self) -> bool {
        let priors = self.turn.field.worlds.log_suspect_prior();
        let weights = priors.iter().zip(self.turn.belief.suspects()).map(|(prior, belief)| tempered(*prior, *belief));
        let (mut own, mut all) = (0.0, 0.0);
        for (suspect, weight) in (0..).zip(weights) {
            own += if self.leader.contains(&suspect) { weight } else { 0.0 };
            all += weight;
        }
        own >= STANDS_OUT * all
    }

    /// The share of the others that would show something else on a probe than the leader; 0 where it shows nothing.
    pub(crate) fn of(&self, delegates: &Delegates, column: usize) -> f64 {
        let shown = delegates.shown_by(self.leader, self.turn.atlas, column);
        let own: f64 = shown.iter().sum();
        let all: f64 = self.others.iter().sum();
        if own <= 0.0 || all <= 0.0 {
            return 0.0;
        }
        let classes = &self.turn.atlas.columns[column].bins.classes;
        let apart = |class: u8| shown[usize::from(class)] < SELDOM * own;
        let other = self.others.iter().zip(classes).filter(|(_, class)| apart(**class));
        other.map(|(weight, _)| weight).sum::<f64>() / all
    }
}

/// A weight by its log prior and its belief, the likelihood between them counted for less.
fn tempered(log_prior: f64, belief: f64) -> f64 {
    if log_prior == f64::NEG_INFINITY {
        return 0.0;
    }
    exp(log_prior + TEMPER * (log(belief.max(LEAST)) - log_prior))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn textbook_a_tempered_weight_of_two_worked_by_hand() {
        // Prior 0.01, belief 0.64: a likelihood of 64 counts as 64^0.3 = 3.482.
        assert!((tempered(log(0.01), 0.64) - 0.01 * 3.482_202_253).abs() < 1e-9);
        assert!((tempered(log(0.2), 0.2) - 0.2).abs() < 1e-15);
    }

    #[test]
    fn regress_a_fault_without_odds_has_no_weight() {
        assert_eq!(tempered(f64::NEG_INFINITY, 0.0).to_bits(), 0.0_f64.to_bits());
    }
}
