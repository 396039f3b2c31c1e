//! Probes beyond those that the wiring suggests, for groups that none of them splits: across the parts in question and
//! from them to the frame, plugged and unplugged; amps in the place of a fuse; starts that must be refused.
//! Promise: a tip is put only where a suggested probe puts one too; an ammeter only into a machine at rest.
//! Limit: what two such probes would tell together is not looked for.

use std::collections::BTreeMap;

use machine::probe::Sort;
use machine::{Hookup, Instrument, Machine, Probe};

use super::ladder::{MIDDLE, Row, Stand};
use super::split::{Split, best};
use super::{Matrix, Question, TELLS};

impl Matrix {
    /// Looks for probes that the wiring does not suggest wherever only the repair would split a group.
    pub fn look_further(&mut self, machine: &Machine, question: &Question) {
        let touched = touched(&self.probes);
        for index in 0..self.groups.len() {
            if !self.groups[index].wants_repair() {
                continue;
            }
            let members = &self.groups[index].members;
            let parts: Vec<usize> =
                members.iter().filter_map(|member| self.subjects[*member].fault.as_ref()?.part).collect();
            let probes = candidates(machine, &parts, &touched);
            if let Some(split) = self.try_probes(machine, question, index, &probes) {
                self.groups[index].split = Some(split);
            }
        }
    }

    /// The best of some probes for a group; it is added to the matrix's own.
    fn try_probes(&mut self, machine: &Machine, question: &Question, group: usize, probes: &[Probe]) -> Option<Split> {
        let mut stand = Stand::new(machine, probes, question.air);
        let passing = self.groups[group].passing.clone();
        let mut rows: BTreeMap<(usize, u32), Option<Row>> = BTreeMap::new();
        for pair in &passing {
            let severities = pair.severities.iter().map(|severity| (pair.imitator, *severity));
            for key in std::iter::once((pair.imitated, MIDDLE)).chain(severities) {
                let fault = self.subjects[key.0].fault.as_ref();
                rows.entry(key).or_insert_with(|| stand.row(fault, key.1));
            }
        }
        let first = self.probes.len();
        self.probes.extend_from_slice(probes);
        let split = best(self, &passing, first..self.probes.len(), |probe, pair| {
            let row = |key: (usize, u32)| rows[&key].as_ref().map(|row| row[probe - first]);
            let target = row((pair.imitated, MIDDLE));
            pair.severities.iter().all(|severity| match (target, row((pair.imitator, *severity))) {
                (Some(target), Some(shown)) => stand.distance(probe - first, target, shown) > TELLS,
                _ => false,
            })
        });
        let found =
            split.as_ref().and_then(|split| if let Split::Probe { probe, .. } = split { Some(*probe) } else { None });
        let kept = found.map(|probe| self.probes[probe].clone());
        self.probes.truncate(first);
        self.probes.extend(kept);
        match split {
            Some(Split::Probe { pairs, of, .. }) => Some(Split::Probe { probe: first, pairs, of }),
            other => other,
        }
    }
}

/// Nodes at which a suggested probe puts a tip.
fn touched(probes: &[Probe]) -> Vec<usize> {
    let mut nodes: Vec<usize> = probes
        .iter()
        .filter_map(|probe| match probe.sort {
            Sort::Meter(_, Hookup::Between { red, black }) => Some([red, black]),
            _ => None,
        })
        .flatten()
        .collect();
    nodes.sort_unstable();
    nodes.dedup();
    nodes
}

/// Probes about some parts: those against the frame first, so that of equals they are taken.
fn candidates(machine: &Machine, parts: &[usize], touched: &[usize]) -> Vec<Probe> {
    let of_kind = |kind: &'static [&'static str]| {
        let all = machine.sheet.parts.iter().enumerate();
        all.filter(move |(_, part)| kind.contains(&part.kind.name)).map(|(index, _)| index)
    };
    let mut names: Vec<String> = Vec::new();
    let mut add = |sort: Sort, state: &str| {
        let name = machine.probe_name(sort, state);
        if !names.contains(&name) {
            names.push(name);
        }
    };
    for part in of_kind(&["fuse", "breaker"]) {
        for branch in machine.layout(part).slots.iter().flatten() {
            add(Sort::Meter(Instrument::Amps, Hookup::In(*branch)), "rest");
        }
    }
    for state in machine.state_names() {
        if machine.state(&state).is_ok_and(|state| state.must_refuse) {
            of_kind(&["relay", "solenoid"]).for_each(|part| add(Sort::Listen(part), &state));
            of_kind(&["starter", "motor"]).for_each(|part| add(Sort::Feel(part), &state));
        }
    }
    let mut unplugged = vec![String::new()];
    unplugged.extend(of_kind(&["connector"]).map(|part| format!("~{}", machine.sheet.parts[part].name.name)));
    for (red, black) in pairs(machine, parts, touched) {
        let between = |instrument, red, black| Sort::Meter(instrument, Hookup::Between { red, black });
        for plug in &unplugged {
            // With the negative lead lifted the battery itself lies between its minus and the machine.
            if ![red, black].contains(&machine.reference()) {
                add(between(Instrument::Ohms, red, black), &format!("dead{plug}"));
                add(between(Instrument::Ohms, red, black), &format!("dead-held{plug}"));
                add(between(Instrument::Diode, red, black), &format!("dead{plug}"));
                add(between(Instrument::Diode, black, red), &format!("dead{plug}"));
            }
            for state in ["rest", "on", "held"] {
                add(between(Instrument::Volts, red, black), &format!("{state}{plug}"));
            }
        }
    }
    names.iter().filter_map(|name| machine.probe(name).ok()).collect()
}

/// Terminals of some parts, each with the frame, with the battery's minus and with the others of its part.
fn pairs(machine: &Machine, parts: &[usize], touched: &[usize]) -> Vec<(usize, usize)> {
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    let of_part = |part: &usize| {
        let terminals = &machine.layout(*part).terminals;
        terminals.iter().copied().filter(|node| touched.contains(node)).collect::<Vec<_>>()
    };
    let mut add = |red: usize, black: usize| {
        if red != black && !pairs.contains(&(red, black)) && !pairs.contains(&(black, red)) {
            pairs.push((red, black));
        }
    };
    for common in [machine.ground(), machine.reference()] {
        parts.iter().flat_map(of_part).for_each(|node| add(node, common));
    }
    for nodes in parts.iter().map(of_part) {
        for (index, left) in nodes.iter().enumerate() {
            nodes[index + 1..].iter().for_each(|right| add(*left, *right));
        }
    }
    pairs
}
