//! All that may be done next and what it costs: tests with their order and access, remedies, the ending.
//! Idea: a test that needs others first is a bundle, priced as their sum, each place opened once.
//! Promise: what is barred bars all that needs it; tests that need each other are never proposed.
//! Limit: each test is made at most once; a reading to be repeated is a test of its own.

use super::exact::Ending;
use super::places::Places;
use super::repair::Remedy;
use super::test::Test;

/// Whether a test may still be proposed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Standing {
    /// It can be made.
    #[default]
    Open,
    /// It was made: no longer proposed, but what needs it first may follow.
    Done,
    /// It was skipped, is forbidden, or lacks its instrument; what needs it first is barred too.
    Barred,
}

/// All that may be done, and what it costs.
#[derive(Debug, Clone)]
pub struct Situation<'a> {
    /// The tests, on the same worlds as the outlook.
    pub tests: &'a [Test<'a>],
    /// Their standing, side by side; tests beyond the end of the list are open.
    pub standing: &'a [Standing],
    /// The remedies.
    pub remedies: &'a [Remedy],
    /// Access minutes, and what is open.
    pub places: &'a Places,
    /// How the job may end.
    pub ending: Ending,
}

impl Situation<'_> {
    /// A test's standing.
    pub fn standing(&self, test: usize) -> Standing {
        self.standing.get(test).copied().unwrap_or_default()
    }

    /// What has to be made for a test, in order and with itself last; nothing if part of it is barred.
    pub fn bundle(&self, test: usize) -> Option<Vec<usize>> {
        let mut bundle = Vec::new();
        self.gather(test, &mut Vec::new(), &mut bundle)?;
        Some(bundle)
    }

    fn gather(&self, test: usize, above: &mut Vec<usize>, bundle: &mut Vec<usize>) -> Option<()> {
        let barred = test >= self.tests.len() || self.standing(test) == Standing::Barred;
        // A test that needs itself first can never be made.
        if barred || above.contains(&test) {
            return None;
        }
        if self.standing(test) == Standing::Open && !bundle.contains(&test) {
            above.push(test);
            for &first in &self.tests[test].prerequisites {
                self.gather(first, above, bundle)?;
            }
            above.pop();
            bundle.push(test);
        }
        Some(())
    }

    /// Own and risk minutes, unpaid access, and the places as they are after all members.
    pub(super) fn cost(&self, members: impl Iterator<Item = (f64, f64, Option<usize>)>) -> Cost {
        let mut cost = Cost { own: 0.0, risk: 0.0, access: 0.0, places: self.places.clone() };
        for (own, risk, place) in members {
            cost.own += own;
            cost.risk += risk;
            cost.access += cost.places.unpaid(place);
            cost.places.open(place);
        }
        cost
    }
}

/// What a bundle costs, and the places as they are after it.
pub(super) struct Cost {
    pub(super) own: f64,
    pub(super) risk: f64,
    pub(super) access: f64,
    pub(super) places: Places,
}
