//! What a job costs: minutes of each thing done, access once per place, the battery's lead lifted and put back.
//! Minutes are the probes' and remedies' own (common practice, no source).
//! Promise: every technician pays by the same rule.

use machine::{Machine, Probe};

use crate::plan::LIFT_MINUTES;
use crate::remedies::TRY_MINUTES;

/// Minutes paid, and what has been paid for.
pub(crate) struct Purse<'a> {
    machine: &'a Machine,
    open: Vec<bool>,
    lifted: bool,
    /// Minutes so far.
    pub(crate) minutes: f64,
    /// How often a place was opened, the lead lifted or put back, a remedy done.
    pub(crate) handled: usize,
}

impl<'a> Purse<'a> {
    pub(crate) fn new(machine: &'a Machine) -> Self {
        Self { machine, open: vec![false; machine.sheet.places.len()], lifted: false, minutes: 0.0, handled: 0 }
    }

    /// Minutes that a probe would cost now.
    pub(crate) fn price(&self, probe: &Probe) -> f64 {
        let lift = if dead(probe) == self.lifted { 0.0 } else { LIFT_MINUTES };
        probe.minutes + lift + self.access(&probe.places)
    }

    /// Minutes that a remedy would cost now, and the try whether it worked.
    pub(crate) fn price_of_remedy(&self, minutes: f64, place: Option<usize>) -> f64 {
        let lift = if self.lifted { LIFT_MINUTES } else { 0.0 };
        minutes + TRY_MINUTES + lift + self.access(place.as_slice())
    }

    pub(crate) fn pay(&mut self, probe: &Probe) -> f64 {
        let price = self.price(probe);
        self.handled += usize::from(dead(probe) != self.lifted);
        self.lifted = dead(probe);
        self.enter(&probe.places);
        self.minutes += price;
        price
    }

    pub(crate) fn pay_remedy(&mut self, minutes: f64, place: Option<usize>) -> f64 {
        let price = self.price_of_remedy(minutes, place);
        self.lifted = false;
        self.handled += 1;
        self.enter(place.as_slice());
        self.minutes += price;
        price
    }

    fn enter(&mut self, places: &[usize]) {
        for place in places {
            self.handled += usize::from(!self.open[*place] && self.machine.sheet.places[*place].access_minutes > 0.0);
            self.open[*place] = true;
        }
    }

    fn access(&self, places: &[usize]) -> f64 {
        let unpaid = |place: &&usize| !self.open[**place];
        places.iter().filter(unpaid).map(|place| self.machine.sheet.places[*place].access_minutes).sum()
    }
}

fn dead(probe: &Probe) -> bool {
    probe.state.starts_with("dead")
}
