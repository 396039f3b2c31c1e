//! What there is to choose from: points, probes, remedies, faults; looking them up costs nothing.
//! Promise: nothing here depends on what was planted.

use machine::Probe;

use super::Practice;
use super::line::{place_of, wanted};
use super::remedy::{Cure, cures};

/// A point that a lead can be put on.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Its name.
    pub name: String,
    /// In words: the part and its terminal, or which parts meet there.
    pub title: String,
    /// Where it is.
    pub place: String,
    /// Minutes until a lead is on it: access that is not paid yet.
    pub access: f64,
    /// Wire colors and pins, to find it; a hint, never evidence.
    pub pin: String,
}

impl Practice {
    /// Points whose name, title or place contains something.
    pub fn points(&self, filter: &str) -> Vec<Point> {
        let machine = self.machine();
        let point = |node: usize| {
            let place = machine.place_of_node(node);
            Point {
                name: machine.node_name(node).to_owned(),
                title: machine.meeting(node).unwrap_or_else(|| machine.node_title(node)),
                place: place_of(machine, place),
                access: self.purse.access(place.as_slice()),
                pin: machine.pin_hint(node),
            }
        };
        let all = (0..machine.node_count()).map(point);
        all.filter(|point| wanted(filter, &point.name, &point.title) || point.place.contains(filter)).collect()
    }

    /// Probes that the wiring suggests, each with what it would cost now.
    pub fn probes(&self, filter: &str) -> Vec<(Probe, f64)> {
        let all = self.machine().proposed_probes().into_iter();
        let of = all.filter(|probe| wanted(filter, &probe.name, &probe.title));
        of.map(|probe| (self.purse.price(&probe), probe)).map(|(price, probe)| (probe, price)).collect()
    }

    /// Remedies, each with what it would cost now.
    pub fn remedies(&self, filter: &str) -> Vec<(Cure, f64)> {
        let all = cures(self.machine()).into_iter();
        let of = all.filter(|cure| wanted(filter, &cure.name, &cure.title));
        of.map(|cure| (self.purse.price_of_remedy(cure.minutes, cure.place), cure))
            .map(|(price, cure)| (cure, price))
            .collect()
    }

    /// Faults by name, each with its title.
    pub fn faults(&self, filter: &str) -> Vec<(String, String)> {
        let all = self.machine().faults().into_iter().map(|fault| (fault.name, fault.title));
        all.filter(|(name, title)| wanted(filter, name, title)).collect()
    }

    /// Operating states by name, each with its title.
    pub fn states(&self) -> Vec<(String, String)> {
        let names = self.machine().state_names().into_iter();
        names.filter_map(|name| Some((name.clone(), self.machine().state(&name).ok()?.title))).collect()
    }
}
