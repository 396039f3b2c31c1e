//! The machine: nodes with their names, branches with theirs, and every value in one row of numbers.
//! Idea: a fault, a severity or a temperature changes numbers in the row, never the layout, so that thousands of
//! what-if cases cost a copy each.
//! Rules of names: a node is called by its splice, else by its first terminal in sheet order; every alias is accepted.

use std::collections::BTreeMap;

use circuit::{Law, Network, Solution};
use quantity::{Amps, Celsius, Ohms};

use crate::kind::engine;
use crate::kind::spec::{Terminals, Want};
use crate::lower::{Lower, Mechanics};
use crate::sheet::{Part, Sheet};
use crate::state::OperatingState;

/// A machine ready to be solved.
#[derive(Clone)]
pub struct Machine {
    /// The sheet it was made from.
    pub sheet: Sheet,
    pub(crate) nodes: Vec<String>,
    pub(crate) by_alias: BTreeMap<String, usize>,
    pub(crate) branches: Vec<Conductor>,
    pub(crate) branch_by_name: BTreeMap<String, usize>,
    pub(crate) parts: Vec<Layout>,
    /// SI values of all fields of all parts as the sheet gives them; conditions are 0.
    pub(crate) values: Vec<f64>,
    pub(crate) reference: usize,
    pub(crate) ground: usize,
    shafts: Vec<Shaft>,
}

/// A branch of the machine's network.
#[derive(Clone, Debug)]
pub struct Conductor {
    /// `PART` or `PART.branch`.
    pub name: String,
    /// Index of the part.
    pub part: usize,
    /// Node at which the current enters.
    pub from: usize,
    /// Node at which the current leaves.
    pub to: usize,
}

/// Where a part's things are.
#[derive(Clone, Debug)]
pub struct Layout {
    /// Index of its first value.
    pub values: usize,
    /// Branch of each of its paths; nothing where a ring joint is not implied.
    pub slots: Vec<Option<usize>>,
    /// Node of each of its terminals; of a two-terminal part: its two ends, then what they are fixed to.
    pub terminals: Vec<usize>,
}

/// What turns with a motor.
#[derive(Clone, Debug, Default)]
struct Shaft {
    drive: Option<usize>,
    engine: Option<usize>,
    bushings: Vec<usize>,
}

/// A change to a machine's values or wiring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Edit {
    /// A value of the row takes another.
    Set {
        /// Index in the row.
        slot: usize,
        /// SI value.
        to: f64,
    },
    /// A value of the row is multiplied.
    Scale {
        /// Index in the row.
        slot: usize,
        /// Factor.
        by: f64,
    },
    /// Something is added to a value of the row.
    Add {
        /// Index in the row.
        slot: usize,
        /// SI value.
        by: f64,
    },
    /// A branch conducts no more.
    Open(usize),
    /// A resistance between two nodes.
    Bridge(usize, usize, Ohms),
}

impl Edit {
    /// A value of the row after some edits.
    pub fn made(edits: &[Self], slot: usize, value: f64) -> f64 {
        edits.iter().fold(value, |value, edit| match *edit {
            Self::Set { slot: at, to } if at == slot => to,
            Self::Scale { slot: at, by } if at == slot => value * by,
            Self::Add { slot: at, by } if at == slot => value + by,
            _ => value,
        })
    }
}

/// A name that the machine does not know, with the nearest that it does.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("no {what} is called `{found}`")]
pub struct UnknownName {
    /// What was looked for: node, part, state …
    pub what: &'static str,
    /// As given.
    pub found: String,
    /// The names that come nearest.
    pub near: Vec<String>,
}

impl Machine {
    /// Lays out a sheet that has no problems.
    pub fn new(sheet: Sheet) -> Self {
        let mut wiring = Wiring::default();
        for part in &sheet.parts {
            wiring.add(part, &sheet);
        }
        let (nodes, by_alias, root_node) = wiring.name_nodes();
        let mut machine = Self {
            nodes,
            by_alias,
            branches: Vec::new(),
            branch_by_name: BTreeMap::new(),
            parts: Vec::new(),
            values: Vec::new(),
            reference: 0,
            ground: 0,
            shafts: Vec::new(),
            sheet,
        };
        for (index, ends) in wiring.ends.iter().enumerate() {
            let terminals: Vec<usize> = ends.iter().map(|end| root_node[wiring.sets[*end]]).collect();
            machine.lay_out(index, terminals);
        }
        machine.shafts = shafts(&machine.sheet);
        machine.reference = machine.find_reference();
        machine.ground = machine.find_ground();
        machine
    }

    fn lay_out(&mut self, index: usize, terminals: Vec<usize>) {
        let part = &self.sheet.parts[index];
        let kind = part.kind;
        let mut slots = Vec::new();
        let mut add = |name: &str, from: usize, to: usize| {
            let full = if name.is_empty() { part.name.name.clone() } else { format!("{}.{name}", part.name.name) };
            self.branch_by_name.insert(full.clone(), self.branches.len());
            self.branches.push(Conductor { name: full, part: index, from, to });
            Some(self.branches.len() - 1)
        };
        if matches!(kind.terminals, Terminals::Ways) {
            for (way, name) in part.ways.iter().enumerate() {
                slots.push(add(name, terminals[2 * way], terminals[2 * way + 1]));
            }
        } else {
            let rings = matches!(kind.terminals, Terminals::Ends { rings: true });
            for path in kind.branches {
                let (from, to) = (terminals[path.from], terminals[path.to]);
                let implied = !(rings && !path.name.is_empty() && from == to);
                slots.push(if implied { add(path.name, from, to) } else { None });
            }
        }
        let values = self.values.len();
        self.values.extend_from_slice(&part.values);
        for (field, _) in &part.conditions {
            self.values[values + field] = 0.0;
        }
        if kind.name == "engine" {
            engine::complete(&mut self.values[values..]);
        }
        self.parts.push(Layout { values, slots, terminals });
    }

    /// Number of nodes.
    pub fn node_count(&self) -> usize {
        self.nodes.len()
    }

    /// The name of a node.
    pub fn node_name(&self, node: usize) -> &str {
        &self.nodes[node]
    }

    /// The node that a name means: a splice, or a terminal by any of its names.
    ///
    /// # Errors
    /// When nothing is called so.
    pub fn node(&self, name: &str) -> Result<usize, UnknownName> {
        let name = name.trim();
        self.by_alias.get(name).copied().ok_or_else(|| unknown("node", name, self.by_alias.keys().map(String::as_str)))
    }

    /// All branches, in sheet order.
    pub fn branches(&self) -> &[Conductor] {
        &self.branches
    }

    /// The branch called `PART` or `PART.branch`.
    ///
    /// # Errors
    /// When nothing is called so.
    pub fn branch(&self, name: &str) -> Result<usize, UnknownName> {
        let name = name.trim();
        let names = || self.branch_by_name.keys().map(String::as_str);
        self.branch_by_name.get(name).copied().ok_or_else(|| unknown("part or branch", name, names()))
    }

    /// The branches that a name opens: one branch, or all of a part's.
    ///
    /// # Errors
    /// When nothing is called so.
    pub fn branches_of(&self, name: &str) -> Result<Vec<usize>, UnknownName> {
        match (self.branch(name), self.part(name)) {
            (_, Ok(part)) => Ok(self.parts[part].slots.iter().flatten().copied().collect()),
            (Ok(branch), _) => Ok(vec![branch]),
            (Err(error), _) => Err(error),
        }
    }

    /// The part of that name.
    ///
    /// # Errors
    /// When no part is called so.
    pub fn part(&self, name: &str) -> Result<usize, UnknownName> {
        let name = name.trim();
        let names = || self.sheet.parts.iter().map(|part| part.name.name.as_str());
        names().position(|known| known == name).ok_or_else(|| unknown("part", name, names()))
    }

    /// Where a part's values, branches and nodes are.
    pub fn layout(&self, part: usize) -> &Layout {
        &self.parts[part]
    }

    /// Index in the row of values of `PART.field`.
    ///
    /// # Errors
    /// When the part or the field does not exist.
    pub fn slot(&self, part: usize, field: &str) -> Result<usize, UnknownName> {
        let kind = self.sheet.parts[part].kind;
        let position = kind.fields.iter().position(|known| known.name == field);
        position
            .map(|position| self.parts[part].values + position)
            .ok_or_else(|| unknown("field", field, kind.fields.iter().map(|known| known.name)))
    }

    /// Current through a branch of a solved network of this machine, first terminal to second. A part that sits the
    /// wrong way round is a branch turned round, and its current is still told by the sheet's terminals.
    pub fn current(&self, network: &Network, solution: &Solution, branch: usize) -> Amps {
        let current = solution.current(branch);
        if network.branches[branch].from == self.branches[branch].from { current } else { -current }
    }

    /// The drive on a motor's shaft.
    pub(crate) fn drive_of(&self, motor: usize) -> Option<usize> {
        self.shafts[motor].drive
    }

    /// The row of values as the sheet gives them.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// A value of a part with some edits; NaN when neither sheet nor edits give it, nothing when its kind has no such field.
    pub fn value_with(&self, part: usize, field: &str, edits: &[Edit]) -> Option<f64> {
        let slot = self.slot(part, field).ok()?;
        Some(Edit::made(edits, slot, self.values[slot]))
    }

    /// The word chosen for a field of a part with some edits.
    pub fn word_with(&self, part: usize, field: &str, edits: &[Edit]) -> Option<&'static str> {
        let known = self.sheet.parts[part].kind.fields.iter().find(|known| known.name == field)?;
        let Want::Choice(words) = known.want else { return None };
        words.get(self.value_with(part, field, edits)? as usize).copied()
    }

    /// The node against which voltages are given.
    pub fn reference(&self) -> usize {
        self.reference
    }

    /// The frame.
    pub fn ground(&self) -> usize {
        self.ground
    }

    /// Fills in the network of an operating state with some edits at an air temperature.
    pub fn network(&self, state: &OperatingState, edits: &[Edit], air: Option<Celsius>, into: &mut Network) {
        let mut values = self.values.clone();
        self.network_with(&mut values, state, edits, air, into);
    }

    /// As [`Machine::network`], with a row of values that the caller owns; it is changed by the edits.
    pub fn network_with(
        &self,
        values: &mut [f64],
        state: &OperatingState,
        edits: &[Edit],
        air: Option<Celsius>,
        into: &mut Network,
    ) {
        for (slot, value) in &state.conditions {
            values[*slot] = *value;
        }
        for edit in edits {
            match *edit {
                Edit::Set { slot, to } => values[slot] = to,
                Edit::Scale { slot, by } => values[slot] *= by,
                Edit::Add { slot, by } => values[slot] += by,
                Edit::Open(_) | Edit::Bridge(..) => {}
            }
        }
        into.nodes = self.nodes.len();
        into.reference = self.reference;
        into.branches.clear();
        into.fuses.clear();
        into.relays.clear();
        into.motors.clear();
        for conductor in &self.branches {
            into.add(conductor.from, conductor.to, Law::Open);
        }
        for (index, part) in self.sheet.parts.iter().enumerate() {
            let layout = &self.parts[index];
            let row = |part: usize| {
                let first = self.parts[part].values;
                &values[first..first + self.sheet.parts[part].values.len()]
            };
            let shaft = &self.shafts[index];
            let bushings: Vec<&[f64]> = shaft.bushings.iter().map(|part| row(*part)).collect();
            let mechanics = Mechanics {
                drive: shaft.drive.map_or(&[], row),
                engine: shaft.engine.map_or(&[], row),
                bushings: &bushings,
            };
            let mut lower = Lower {
                values: row(index),
                slots: &layout.slots,
                network: into,
                air,
                running: state.running,
                blocked: state.blocked,
                mechanics,
            };
            (part.kind.lower)(&mut lower);
        }
        let opened = edits.iter().filter_map(|edit| if let Edit::Open(branch) = edit { Some(*branch) } else { None });
        for branch in state.open.iter().copied().chain(opened) {
            into.branches[branch].law = Law::Open;
        }
        for edit in edits {
            if let Edit::Bridge(from, to, ohms) = *edit {
                into.add(from, to, Law::resistance(ohms));
            }
        }
    }

    /// `machine.reference`, else the minus of the first battery or source, else the first node.
    fn find_reference(&self) -> usize {
        if let Some(named) = &self.sheet.reference
            && let Ok(node) = self.node(&named.name)
        {
            return node;
        }
        let supplies = ["battery", "source"];
        let minus = supplies.iter().find_map(|kind| {
            let part = self.sheet.parts.iter().position(|part| part.kind.name == *kind)?;
            self.parts[part].terminals.get(1).copied()
        });
        minus.unwrap_or(0)
    }

    /// `machine.ground`, else the node where most parts meet, the reference apart.
    fn find_ground(&self) -> usize {
        if let Some(named) = &self.sheet.ground
            && let Ok(node) = self.node(&named.name)
        {
            return node;
        }
        let mut meet = vec![0_usize; self.nodes.len()];
        for conductor in &self.branches {
            meet[conductor.from] += 1;
            meet[conductor.to] += 1;
        }
        let candidates = (0..meet.len()).filter(|node| *node != self.reference);
        candidates.max_by_key(|node| (meet[*node], std::cmp::Reverse(*node))).unwrap_or(self.reference)
    }
}

/// An error naming the nearest known names.
pub(crate) fn unknown<'a>(what: &'static str, found: &str, known: impl Iterator<Item = &'a str>) -> UnknownName {
    let mut near: Vec<(f64, &str)> =
        known.map(|name| (strsim::jaro_winkler(found, name), name)).filter(|(score, _)| *score > 0.75).collect();
    near.sort_by(|left, right| right.0.total_cmp(&left.0));
    near.dedup_by_key(|(_, name)| *name);
    UnknownName {
        what,
        found: found.to_owned(),
        near: near.into_iter().take(3).map(|(_, name)| name.to_owned()).collect(),
    }
}

fn shafts(sheet: &Sheet) -> Vec<Shaft> {
    let refers = |part: &Part, field: &str| {
        let index = part.kind.fields.iter().position(|known| known.name == field)?;
        let value = part.values[index];
        (!value.is_nan()).then_some(value as usize)
    };
    let mut shafts = vec![Shaft::default(); sheet.parts.len()];
    for (index, part) in sheet.parts.iter().enumerate() {
        match part.kind.name {
            "drive" => {
                if let Some(motor) = refers(part, "motor") {
                    shafts[motor].drive = Some(index);
                    shafts[motor].engine = refers(part, "engine");
                }
            }
            "bushing" => {
                if let Some(motor) = refers(part, "carries") {
                    shafts[motor].bushings.push(index);
                }
            }
            _ => {}
        }
    }
    shafts
}

/// Terminals and splices on their way to nodes: each is an entry, entries that share a node are joined.
#[derive(Default)]
struct Wiring {
    names: Vec<(String, Rank)>,
    sets: Vec<usize>,
    known: BTreeMap<String, usize>,
    /// Entries of each part's terminals, as in [`Layout::terminals`].
    ends: Vec<Vec<usize>>,
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    Splice,
    Terminal(usize, usize),
    End(usize, usize),
}

impl Wiring {
    fn add(&mut self, part: &Part, sheet: &Sheet) {
        let number = self.ends.len();
        let rings = matches!(part.kind.terminals, Terminals::Ends { rings: true });
        let two_ended = matches!(part.kind.terminals, Terminals::Ends { .. });
        let mut inner = Vec::new();
        let mut outer = Vec::new();
        for (index, (terminal, fixed)) in part.terminals.iter().enumerate() {
            let rank = if two_ended { Rank::End(number, index) } else { Rank::Terminal(number, index) };
            let own = self.entry(&format!("{}.{terminal}", part.name.name), rank);
            inner.push(own);
            let Some(fixed) = fixed else {
                outer.push(own);
                continue;
            };
            let other = self.fixed_to(&fixed.name, sheet);
            if !(rings && implies_ring(&fixed.name, sheet)) {
                self.join(own, other);
            }
            outer.push(other);
        }
        if two_ended {
            inner.extend(outer);
        }
        self.ends.push(inner);
    }

    fn fixed_to(&mut self, name: &str, sheet: &Sheet) -> usize {
        let Some((part, terminal)) = name.split_once('.') else { return self.entry(name, Rank::Splice) };
        let number = sheet.parts.iter().position(|known| known.name.name == part).unwrap_or(usize::MAX);
        let two_ended =
            sheet.parts.get(number).is_some_and(|known| matches!(known.kind.terminals, Terminals::Ends { .. }));
        let index = sheet
            .parts
            .get(number)
            .and_then(|known| known.terminals.iter().position(|(name, _)| name == terminal))
            .unwrap_or(usize::MAX);
        let rank = if two_ended { Rank::End(number, index) } else { Rank::Terminal(number, index) };
        self.entry(name, rank)
    }

    fn entry(&mut self, name: &str, rank: Rank) -> usize {
        if let Some(entry) = self.known.get(name) {
            return *entry;
        }
        let entry = self.names.len();
        self.names.push((name.to_owned(), rank));
        self.sets.push(entry);
        self.known.insert(name.to_owned(), entry);
        entry
    }

    fn root(&self, entry: usize) -> usize {
        let mut entry = entry;
        while self.sets[entry] != entry {
            entry = self.sets[entry];
        }
        entry
    }

    fn join(&mut self, left: usize, right: usize) {
        let (left, right) = (self.root(left), self.root(right));
        self.sets[left] = right;
    }

    /// Names of the nodes, all aliases, and the node of each set's root; flattens the sets.
    fn name_nodes(&mut self) -> (Vec<String>, BTreeMap<String, usize>, Vec<usize>) {
        for entry in 0..self.sets.len() {
            self.sets[entry] = self.root(entry);
        }
        let mut best: BTreeMap<usize, usize> = BTreeMap::new();
        for entry in 0..self.names.len() {
            let current = best.entry(self.sets[entry]).or_insert(entry);
            if self.names[entry].1 < self.names[*current].1 {
                *current = entry;
            }
        }
        let mut order: Vec<usize> = best.keys().copied().collect();
        order.sort_by_key(|root| {
            let first = (0..self.names.len()).find(|entry| self.sets[*entry] == *root);
            first.unwrap_or(*root)
        });
        let mut root_node = vec![usize::MAX; self.sets.len()];
        let mut nodes = Vec::with_capacity(order.len());
        for root in order {
            root_node[root] = nodes.len();
            nodes.push(self.names[best[&root]].0.clone());
        }
        let by_alias = self.known.iter().map(|(name, entry)| (name.clone(), root_node[self.sets[*entry]])).collect();
        (nodes, by_alias, root_node)
    }
}

fn implies_ring(fixed_to: &str, sheet: &Sheet) -> bool {
    let Some((part, _)) = fixed_to.split_once('.') else { return false };
    sheet.parts.iter().find(|known| known.name.name == part).is_some_and(|known| known.kind.name != "joint")
}
