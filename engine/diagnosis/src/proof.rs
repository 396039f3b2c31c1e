//! The repair check: what the reassembled machine must show, computed from its healthy worlds.
//! It has to start as it should, the reading that found the fault must now be healthy, and every start that must be
//! refused is tried and refused.

use machine::probe::Sort;
use machine::{Hookup, Instrument, Machine, Probe};
use quantity::{Celsius, Reading};

use crate::advice::{Band, Check, Pending};
use crate::atlas::Atlas;
use crate::band::band;
use crate::complaint::Complaint;
use crate::inference::{Belief, Worlds};
use crate::request::{Entry, Known, after_repair};

/// What a repair check is computed from.
pub(crate) struct Proof<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) atlas: &'a Atlas,
    pub(crate) air: Option<Celsius>,
}

impl Proof<'_> {
    /// What the repaired machine must show.
    pub(crate) fn checks(&self, known: &Known, worlds: &Worlds, belief: &Belief, leader: u32) -> Vec<Check> {
        let mut checks: Vec<Check> = Vec::new();
        let mut add = |column: usize| {
            let probe = &self.atlas.probes[column];
            if checks.iter().all(|known| known.probe != probe.name) && self.is_firm(column) {
                checks.push(Check {
                    probe: probe.name.clone(),
                    title: probe.title.clone(),
                    band: band(self.atlas, column, self.air),
                    refusal: false,
                });
            }
        };
        for (column, probe) in self.atlas.suggested().iter().enumerate() {
            if matches!(probe.sort, Sort::Feel(_)) && probe.state == "held" {
                add(column);
            }
        }
        if let Some(column) = self.telling(known, worlds, belief, leader) {
            add(column);
        }
        if known.complaint.is_some_and(|complaint| complaint.name == "goes-flat") {
            let rests = |probe: &Probe| probe.state == "rest" && matches!(probe.sort, Sort::Meter(Instrument::Amps, _));
            self.atlas.suggested().iter().position(rests).into_iter().for_each(&mut add);
        }
        for column in self.amiss(known) {
            add(column);
        }
        for column in self.behind(leader) {
            add(column);
        }
        for state in self.machine.sheet.states.iter().filter(|state| state.must_refuse) {
            for part in self.machine.sheet.parts.iter().filter(|part| matches!(part.kind.name, "starter" | "motor")) {
                checks.push(Check {
                    probe: format!("feel@{}:{}", state.name.name, part.name.name),
                    title: format!("{}: the {} must stay still", state.title, part.title),
                    band: Band::Expected("still".to_owned()),
                    refusal: true,
                });
            }
        }
        checks
    }

    /// Where the cause behind a consequence would show: a leak and the charging behind a flat battery, a short behind a
    /// blown fuse, the battery's sag behind spoiled contacts. Nothing when the leader is no consequence.
    fn behind(&self, leader: u32) -> Vec<usize> {
        let Some(fault) = self.atlas.cast.suspects[leader as usize].fault.as_ref().filter(|fault| fault.consequence)
        else {
            return Vec::new();
        };
        let Some(part) = fault.part else { return Vec::new() };
        let machine = self.machine;
        let battery = machine.sheet.parts.iter().position(|part| matches!(part.kind.name, "battery" | "source"));
        let battery = battery.map(|battery| &machine.layout(battery).terminals);
        let is_battery = |red: usize, black: usize| battery.is_some_and(|ends| ends[..2] == [red, black]);
        let kind = machine.sheet.parts[part].kind.name;
        let ends = &machine.layout(part).terminals;
        let shows = |probe: &Probe| match (kind, probe.sort, probe.state.as_str()) {
            ("battery" | "source", Sort::Meter(Instrument::Amps, _), "rest") => true,
            ("battery" | "source", Sort::Meter(Instrument::Volts, Hookup::Between { red, black }), "running")
            | (
                "relay" | "solenoid" | "starter",
                Sort::Meter(Instrument::Volts, Hookup::Between { red, black }),
                "held",
            ) => is_battery(red, black),
            ("fuse" | "breaker", Sort::Meter(Instrument::Ohms, Hookup::Between { red, .. }), "dead-held") => {
                ends.get(1) == Some(&red)
            }
            _ => false,
        };
        (0..self.atlas.suggested().len()).filter(|column| shows(&self.atlas.suggested()[*column])).collect()
    }

    /// Whether healthy machines agree on a probe's word; numbers have a band.
    fn is_firm(&self, column: usize) -> bool {
        const AGREE: f64 = 0.95;
        let Band::Expected(word) = band(self.atlas, column, self.air) else { return true };
        let probe = &self.atlas.probes[column];
        let Some(word) = probe.words().iter().position(|known| *known == word) else { return true };
        let each = self.atlas.cast.worlds_each;
        let same = (0..each).filter(|world| self.atlas.columns[column].cell(*world).low == word as f32).count();
        same as f64 >= AGREE * each as f64
    }

    /// Readings, made before the repair, that no healthy machine shows, those farthest from it first.
    fn amiss(&self, known: &Known) -> Vec<usize> {
        /// More of them would tell the same again.
        const MOST: usize = 2;
        let mut far: Vec<(f64, usize)> = known
            .entries
            .iter()
            .enumerate()
            .filter(|(index, _)| !after_repair(&known.entries[..*index]))
            .filter_map(
                |(_, entry)| if let Entry::Took(probe, reading) = entry { Some((probe, reading)) } else { None },
            )
            .filter(|(probe, reading)| known.counts(probe, reading))
            .filter_map(|(probe, reading)| {
                let column = self.atlas.column_of(probe)?;
                let band = band(self.atlas, column, self.air);
                (column < self.atlas.suggested().len() && !within(&band, reading))
                    .then(|| (beyond(&band, reading), column))
            })
            .collect();
        far.sort_by(|left, right| right.0.total_cmp(&left.0).then(left.1.cmp(&right.1)));
        far.dedup_by_key(|(_, column)| *column);
        far.into_iter().take(MOST).map(|(_, column)| column).collect()
    }

    /// The reading, made before the repair, in which the leader differs most from a healthy machine.
    fn telling(&self, known: &Known, worlds: &Worlds, belief: &Belief, leader: u32) -> Option<usize> {
        let atlas = self.atlas;
        let distance = |column: usize| {
            let probe = &atlas.probes[column];
            let healthy = atlas.columns[column].cell(0).middle();
            let sick: f64 = worlds
                .of_suspect(leader)
                .iter()
                .filter(|world| (**world as usize) < atlas.signs.len())
                .max_by(|left, right| belief.worlds()[**left as usize].total_cmp(&belief.worlds()[**right as usize]))
                .map_or(healthy, |world| atlas.columns[column].cell(*world as usize).middle());
            if sick.is_finite() && healthy.is_finite() {
                (sick - healthy).abs() / crate::spread::sigma(probe, healthy).max(1e-9)
            } else {
                f64::from(u8::from(sick.is_finite() != healthy.is_finite())) * 10.0
            }
        };
        known
            .entries
            .iter()
            .enumerate()
            .filter(|(index, _)| !after_repair(&known.entries[..*index]))
            .filter_map(|(_, entry)| if let Entry::Took(probe, _) = entry { atlas.column_of(probe) } else { None })
            .max_by(|left, right| distance(*left).total_cmp(&distance(*right)).then(right.cmp(left)))
    }
}

/// Good starts in a row after which a fault that is there every other time is away by luck once in twenty.
pub(crate) const STARTS: u32 = 5;

/// What cannot be seen today: by the complaint, by how often the fault was there when one looked, and by whether what
/// seems to have mended it is doubted.
pub(crate) fn pending(complaint: Option<&Complaint>, presence: Option<f64>, doubted: bool) -> Option<Pending> {
    /// A fault is absent from all of the starts by luck with this probability.
    const LUCK: f64 = 0.05;
    match (complaint.map(|complaint| complaint.name), presence) {
        (_, Some(presence)) => Some(Pending::Starts(libm::ceil(libm::log(LUCK) / libm::log1p(-presence)) as u32)),
        (Some("cold-only"), None) => Some(Pending::Cold),
        (Some("hot-only"), None) => Some(Pending::Hot),
        // Said by the owner, though the readings show a fault that stays: half of the looks.
        (Some("comes-and-goes"), None) => Some(Pending::Starts(STARTS)),
        _ => doubted.then_some(Pending::Starts(STARTS)),
    }
}

/// Whether the readings after the repair show all that must be shown.
pub(crate) fn passes(known: &Known, checks: &[Check]) -> bool {
    let after = |index: usize| after_repair(&known.entries[..index]);
    let taken = |check: &Check| {
        known.entries.iter().enumerate().rev().find_map(|(index, entry)| match entry {
            Entry::Took(probe, reading) if probe.name == check.probe && after(index) => Some(reading),
            _ => None,
        })
    };
    checks.iter().all(|check| taken(check).is_some_and(|reading| within(&check.band, reading)))
}

/// How far a reading lies outside a band, in widths of the band; without a number it is far.
fn beyond(band: &Band, reading: &Reading) -> f64 {
    const FAR: f64 = 10.0;
    match (band, reading) {
        (Band::Between { low, high, .. }, Reading::Number(value)) => {
            (low - value).max(value - high) / (high - low).max(f64::MIN_POSITIVE)
        }
        _ => FAR,
    }
}

/// Whether a reading lies in a band.
pub fn within(band: &Band, reading: &Reading) -> bool {
    match (band, reading) {
        (Band::Between { low, high, .. }, Reading::Number(value)) => (*low..=*high).contains(value),
        (Band::Between { low, high, .. }, Reading::Range { low: from, high: to }) => low <= from && to <= high,
        (Band::Between { high, .. }, Reading::Below(limit)) => limit <= high,
        (Band::Between { low, .. }, Reading::Above(limit)) => limit >= low,
        (Band::Expected(word), Reading::Word(said)) => word == said,
        (Band::Expected(word), Reading::Overload) => word == "OL",
        (Band::Expected(word), Reading::Above(_)) => word == "OL",
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::complaint;

    /// P(n good starts by luck) = (1 − q)ⁿ: 5 at q = 0.5, 9 at 0.3, 3 at 0.7 are the first below one in twenty.
    #[test]
    fn textbook_good_starts_that_rule_out_luck() {
        for (presence, starts) in [(0.5, 5), (0.3, 9), (0.7, 3)] {
            assert_eq!(pending(None, Some(presence), false), Some(Pending::Starts(starts)));
            let luck = (1.0_f64 - presence).powi(starts as i32);
            assert!(luck <= 0.05 && luck / (1.0 - presence) > 0.05);
        }
        let of = |complaint: &str, doubted: bool| pending(complaint::find(complaint), None, doubted);
        assert_eq!(of("cold-only", false), Some(Pending::Cold));
        assert_eq!(of("cranks-slowly", false), None);
        assert_eq!(of("cranks-slowly", true), Some(Pending::Starts(STARTS)));
        assert_eq!(pending(None, Some(0.5), false), Some(Pending::Starts(STARTS)));
    }
}
