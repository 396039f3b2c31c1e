//! What a job costs: minutes of each thing done, access once per place, the battery's lead lifted and put back.
//! Minutes are the probes' and remedies' own (common practice, no source).
//! Promise: every technician pays by the same rule.

use machine::{Machine, Probe};

use crate::plan::LIFT_MINUTES;
use crate::remedies::TRY_MINUTES;

/// Minutes paid, and what has been paid for.
#[derive(Clone, Debug)]
pub struct Purse {
    /// Access minutes of each place.
    access: Vec<f64>,
    open: Vec<bool>,
    lifted: bool,
    /// Minutes so far.
    pub minutes: f64,
    /// How often a place was opened, the lead lifted or put back, a remedy done.
    pub handled: usize,
}

/// What something costs, by what the minutes are for.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Price {
    /// The probe's or the remedy's own minutes, a remedy's try included.
    pub own: f64,
    /// Opening places that were still closed.
    pub access: f64,
    /// The battery's lead lifted, or put back.
    pub lift: f64,
}

impl Price {
    /// All of it.
    pub fn minutes(&self) -> f64 {
        self.own + self.lift + self.access
    }
}

impl Purse {
    /// A purse from which nothing has been paid; every place is closed, the battery connected.
    pub fn new(machine: &Machine) -> Self {
        let access: Vec<f64> = machine.sheet.places.iter().map(|place| place.access_minutes).collect();
        Self { open: vec![false; access.len()], access, lifted: false, minutes: 0.0, handled: 0 }
    }

    /// Minutes that a probe would cost now.
    pub fn price(&self, probe: &Probe) -> f64 {
        self.split(probe).minutes()
    }

    /// The same, by what they are for.
    pub fn split(&self, probe: &Probe) -> Price {
        let lift = if dead(probe) == self.lifted { 0.0 } else { LIFT_MINUTES };
        Price { own: probe.minutes, access: self.access(&probe.places), lift }
    }

    /// Minutes that a remedy would cost now, and the try whether it worked.
    pub fn price_of_remedy(&self, minutes: f64, place: Option<usize>) -> f64 {
        self.split_of_remedy(minutes, place).minutes()
    }

    /// The same, by what they are for.
    pub fn split_of_remedy(&self, minutes: f64, place: Option<usize>) -> Price {
        let lift = if self.lifted { LIFT_MINUTES } else { 0.0 };
        Price { own: minutes + TRY_MINUTES, access: self.access(place.as_slice()), lift }
    }

    /// Pays for a probe.
    pub fn pay(&mut self, probe: &Probe) -> f64 {
        let price = self.price(probe);
        self.handled += usize::from(dead(probe) != self.lifted);
        self.lifted = dead(probe);
        self.enter(&probe.places);
        self.minutes += price;
        price
    }

    /// Pays for a remedy and its try; the battery is connected afterwards.
    pub fn pay_remedy(&mut self, minutes: f64, place: Option<usize>) -> f64 {
        let price = self.price_of_remedy(minutes, place);
        self.lifted = false;
        self.handled += 1;
        self.enter(place.as_slice());
        self.minutes += price;
        price
    }

    fn enter(&mut self, places: &[usize]) {
        for place in places {
            self.handled += usize::from(!self.open[*place] && self.access[*place] > 0.0);
            self.open[*place] = true;
        }
    }

    /// Minutes to open those of some places that are still closed.
    pub fn access(&self, places: &[usize]) -> f64 {
        self.closed(places).iter().map(|place| self.access[*place]).sum()
    }

    /// Those of some places that are still closed, and take minutes to open.
    pub fn closed(&self, places: &[usize]) -> Vec<usize> {
        places.iter().copied().filter(|place| !self.open[*place] && self.access[*place] > 0.0).collect()
    }
}

fn dead(probe: &Probe) -> bool {
    probe.state.starts_with("dead")
}
