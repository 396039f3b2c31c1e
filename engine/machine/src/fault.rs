//! Faults: what the kinds and the sheet's author say can go wrong, as edits of the machine.
//! A fault is named `part:mode`; its severity is one number in the SI unit of what it changes.
//! Odds are shares of jobs: a kind's share spread over its parts and modes, times the sheet's own factors.

use quantity::{Dimension, Ohms};

use crate::kind::spec::{Effect, Mark, Mode, Remedy, Severity, Want};
use crate::machine::{Edit, Machine, UnknownName, unknown};

/// Something that can be wrong with the machine.
#[derive(Clone, Debug)]
pub struct Fault {
    /// `part:mode`, or the name of a fault of the sheet.
    pub name: String,
    /// `part:mode` without the way or wire that a variant of the mode adds to its name.
    pub mode: String,
    /// In the technician's words, a whole clause: "motor cable is corroded along its length".
    pub title: String,
    /// Index of the part; nothing for a fault of the sheet that is not one part's.
    pub part: Option<usize>,
    /// Share of jobs, unnormalized.
    pub odds: f64,
    /// Where the odds come from.
    pub mark: Mark,
    /// How bad it can be.
    pub severity: Severity,
    /// What the severity is; nothing when there is none.
    pub dimension: Option<Dimension>,
    /// Has a cause behind it and cannot close a job alone.
    pub consequence: bool,
    /// Whether it can be there at one look and away at the next; a fault of the sheet stays.
    pub comes_and_goes: bool,
    /// What mends it: verb, words, minutes.
    pub remedy: Mending,
    /// How answers to "what happened since?" multiply the odds.
    pub since: &'static [(&'static str, f64)],
    changes: Vec<Change>,
}

/// What mends a fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Mending {
    /// `try:VERB@PART`.
    pub verb: String,
    /// A whole clause: "replace the motor cable".
    pub title: String,
    /// Attended minutes of work, access apart.
    pub minutes: f64,
    /// Minutes until it is done, waiting included.
    pub elapsed: f64,
    /// What to mind; empty when nothing.
    pub caution: String,
}

#[derive(Clone, Copy, Debug)]
enum Change {
    Fixed(Edit),
    SetTo(usize),
    Scale(usize),
    Add(usize),
    Bridge(usize, usize),
}

impl Fault {
    /// The edits that plant this fault at a severity (ignored where there is none).
    pub fn edits(&self, severity: f64) -> Vec<Edit> {
        let edit = |change: &Change| match *change {
            Change::Fixed(edit) => edit,
            Change::SetTo(slot) => Edit::Set { slot, to: severity },
            Change::Scale(slot) => Edit::Scale { slot, by: severity },
            Change::Add(slot) => Edit::Add { slot, by: severity },
            Change::Bridge(from, to) => Edit::Bridge(from, to, Ohms(severity)),
        };
        self.changes.iter().map(edit).collect()
    }

    /// Whether it may be more or less severe.
    pub fn has_severity(&self) -> bool {
        self.severity_at(0.0) != self.severity_at(1.0)
    }

    /// The severity at a quantile of its spread, 0 mildest or least, 1 worst or largest.
    pub fn severity_at(&self, quantile: f64) -> f64 {
        match self.severity {
            Severity::None => 0.0,
            Severity::Even { low, high } => low + quantile * (high - low),
            Severity::Log { low, high } => low * libm::pow(high / low, quantile),
        }
    }
}

impl Machine {
    /// Every fault that the catalogue and the sheet know for this machine, in sheet order.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        for (index, part) in self.sheet.parts.iter().enumerate() {
            let of_kind = self.sheet.parts.iter().filter(|other| other.kind.name == part.kind.name).count();
            let modes = || part.kind.modes.iter().filter(|mode| self.applies(index, mode));
            let weights: f64 = modes().map(|mode| mode.odds).sum();
            for mode in modes() {
                let odds = part.kind.share * mode.odds / weights / of_kind as f64;
                self.add_mode(index, mode, odds, &mut faults);
            }
        }
        for (named, factor) in &self.sheet.odds {
            for fault in faults.iter_mut().filter(|fault| fault.name == named.name || fault.mode == named.name) {
                fault.odds *= factor;
            }
        }
        faults.extend(self.sheet.faults.iter().map(|own| self.sheet_fault(own)));
        faults
    }

    /// The fault of that name.
    ///
    /// # Errors
    /// When the machine has none of that name.
    pub fn fault(&self, name: &str) -> Result<Fault, UnknownName> {
        let faults = self.faults();
        match faults.iter().position(|fault| fault.name == name) {
            Some(index) => Ok(faults[index].clone()),
            None => Err(unknown("fault", name, faults.iter().map(|fault| fault.name.as_str()))),
        }
    }

    fn add_mode(&self, index: usize, mode: &'static Mode, odds: f64, faults: &mut Vec<Fault>) {
        let part = &self.sheet.parts[index];
        let title = capitalized(&part.title);
        let base = Fault {
            name: format!("{}:{}", part.name.name, mode.name),
            mode: format!("{}:{}", part.name.name, mode.name),
            title: format!("{title} {}", mode.title),
            part: Some(index),
            odds,
            mark: mode.mark,
            severity: mode.severity,
            dimension: None,
            consequence: mode.consequence,
            comes_and_goes: mode.comes_and_goes,
            remedy: mending(&mode.remedy, &part.title),
            since: mode.since,
            changes: Vec::new(),
        };
        if let [Effect::ToLoom(terminal)] = mode.effects {
            let Some(own) = self.terminal(index, terminal) else { return };
            let beside = self.loom_neighbors(index);
            // Two wires that touch are one fault: it is listed with the first of them and has the odds of both.
            for other in beside.iter().filter(|other| **other > index) {
                let Some(end) = self.terminal(*other, "from") else { continue };
                if end == own {
                    continue;
                }
                let neighbor = &self.sheet.parts[*other];
                faults.push(Fault {
                    name: format!("{}-{}", base.name, neighbor.name.name),
                    title: format!("{title} {} {}", mode.title, neighbor.title),
                    odds: 2.0 * odds / beside.len() as f64,
                    dimension: Some(Dimension::Resistance),
                    changes: vec![Change::Bridge(own, end)],
                    ..base.clone()
                });
            }
            return;
        }
        if let [Effect::Open("each")] = mode.effects {
            for (way, slot) in part.ways.iter().zip(&self.parts[index].slots) {
                let Some(branch) = *slot else { continue };
                faults.push(Fault {
                    name: format!("{}-{way}", base.name),
                    title: format!("{title} {} {way}", mode.title),
                    odds: odds / part.ways.len() as f64,
                    changes: vec![Change::Fixed(Edit::Open(branch))],
                    ..base.clone()
                });
            }
            return;
        }
        if let [Effect::AcrossWays] = mode.effects {
            let ends = &self.parts[index].terminals;
            for (way, pair) in part.ways.windows(2).enumerate() {
                let (left, right) = (ends[2 * way], ends[2 * way + 2]);
                if left == right {
                    continue;
                }
                faults.push(Fault {
                    name: format!("{}-{}-{}", base.name, pair[0], pair[1]),
                    title: format!("{title} {} {} and {}", mode.title, pair[0], pair[1]),
                    odds: odds / (part.ways.len() - 1) as f64,
                    dimension: Some(Dimension::Resistance),
                    changes: vec![Change::Bridge(left, right)],
                    ..base.clone()
                });
            }
            return;
        }
        let mut changes = Vec::new();
        let mut dimension = None;
        for effect in mode.effects {
            match self.change(index, effect) {
                Some((found, of)) => {
                    changes.extend(found);
                    dimension = dimension.or(of);
                }
                // The part lacks what this mode would change (a ring that is not there): the mode does not apply.
                None => return,
            }
        }
        faults.push(Fault { changes, dimension, ..base });
    }

    fn change(&self, index: usize, effect: &Effect) -> Option<(Vec<Change>, Option<Dimension>)> {
        let kind = self.sheet.parts[index].kind;
        let slot = |field: &str| self.slot(index, field).ok();
        let of = |field: &str| match kind.fields.iter().find(|known| known.name == field)?.want {
            Want::Quantity(dimension) => Some(dimension),
            _ => Some(Dimension::Ratio),
        };
        Some(match *effect {
            Effect::Open(path) => (self.open_changes(index, path)?, None),
            Effect::Set(field, to) => (vec![Change::Fixed(Edit::Set { slot: slot(field)?, to })], None),
            Effect::Choose(field, word) => {
                let Want::Choice(words) = kind.fields.iter().find(|known| known.name == field)?.want else {
                    return None;
                };
                let to = words.iter().position(|known| *known == word)? as f64;
                (vec![Change::Fixed(Edit::Set { slot: slot(field)?, to })], None)
            }
            Effect::SetTo(field) => {
                self.ring_exists(index, field)?;
                (vec![Change::SetTo(slot(field)?)], of(field))
            }
            Effect::Add(field) => (vec![Change::Add(slot(field)?)], of(field)),
            Effect::Scale(field) => (vec![Change::Scale(slot(field)?)], Some(Dimension::Ratio)),
            Effect::ToGround(terminal) => {
                let node = self.terminal(index, terminal)?;
                if node == self.ground || node == self.reference {
                    return None;
                }
                (vec![Change::Bridge(node, self.ground)], Some(Dimension::Resistance))
            }
            Effect::Across(from, to) => {
                let (from, to) = (self.terminal(index, from)?, self.terminal(index, to)?);
                (vec![Change::Bridge(from, to)], Some(Dimension::Resistance))
            }
            Effect::ToLoom(_) | Effect::AcrossWays => return None,
        })
    }

    fn open_changes(&self, index: usize, path: &str) -> Option<Vec<Change>> {
        let layout = &self.parts[index];
        let kind = self.sheet.parts[index].kind;
        let branches: Vec<usize> = if path == "*" {
            layout.slots.iter().flatten().copied().collect()
        } else {
            let position = kind.branches.iter().position(|known| known.name == path)?;
            vec![(*layout.slots.get(position)?)?]
        };
        Some(branches.into_iter().map(|branch| Change::Fixed(Edit::Open(branch))).collect())
    }

    /// Whether a part can fail in this way: it has the words that the mode asks for, and the sheet gives what the mode
    /// would make more or less.
    fn applies(&self, index: usize, mode: &Mode) -> bool {
        let part = &self.sheet.parts[index];
        let word = |field: &str| part.kind.word(&part.values, field);
        let asked = mode.only.is_none_or(|(field, words)| word(field).is_some_and(|word| words.contains(&word)));
        let given = |field: &str| self.slot(index, field).is_ok_and(|slot| !self.values[slot].is_nan());
        let lacks = |effect: &Effect| matches!(*effect, Effect::Scale(field) | Effect::Add(field) if !given(field));
        asked && !mode.effects.iter().any(lacks)
    }

    /// A field that is a ring joint's counts only where that ring is.
    fn ring_exists(&self, index: usize, field: &str) -> Option<()> {
        let kind = self.sheet.parts[index].kind;
        match kind.branches.iter().position(|path| path.name == field && !field.is_empty()) {
            Some(position) => self.parts[index].slots[position].map(|_| ()),
            None => Some(()),
        }
    }

    /// The node of a part's terminal by the terminal's own name.
    pub fn terminal(&self, part: usize, terminal: &str) -> Option<usize> {
        let position = self.sheet.parts[part].terminals.iter().position(|(name, _)| name == terminal)?;
        self.parts[part].terminals.get(position).copied()
    }

    fn loom_neighbors(&self, index: usize) -> Vec<usize> {
        let loom = &self.sheet.parts[index].loom;
        (0..self.sheet.parts.len())
            .filter(|other| *other != index)
            .filter(|other| self.sheet.parts[*other].kind.name == "wire" && self.sheet.parts[*other].loom == *loom)
            .collect()
    }

    fn sheet_fault(&self, own: &crate::sheet::SheetFault) -> Fault {
        let mut changes: Vec<Change> = own
            .set
            .iter()
            .map(|&(part, field, to)| Change::Fixed(Edit::Set { slot: self.parts[part].values + field, to }))
            .collect();
        for named in &own.open {
            let branches = self.branches_of(&named.name).unwrap_or_default();
            changes.extend(branches.into_iter().map(|branch| Change::Fixed(Edit::Open(branch))));
        }
        for (from, to, ohms) in &own.bridge {
            if let (Ok(from), Ok(to)) = (self.node(&from.name), self.node(&to.name)) {
                changes.push(Change::Fixed(Edit::Bridge(from, to, Ohms(*ohms))));
            }
        }
        Fault {
            name: own.name.name.clone(),
            mode: own.name.name.clone(),
            title: own.title.clone(),
            part: own.set.first().map(|(part, _, _)| *part),
            odds: own.odds,
            mark: Mark::CommonPractice,
            severity: Severity::None,
            dimension: None,
            consequence: false,
            comes_and_goes: false,
            remedy: Mending {
                verb: "mend".to_owned(),
                title: own.remedy.clone(),
                minutes: own.minutes,
                elapsed: own.elapsed,
                caution: String::new(),
            },
            since: &[],
            changes,
        }
    }
}

fn mending(remedy: &Remedy, part: &str) -> Mending {
    Mending {
        verb: remedy.verb.to_owned(),
        title: format!("{} the {part}", remedy.title),
        minutes: remedy.minutes,
        elapsed: remedy.elapsed,
        caution: remedy.caution.to_owned(),
    }
}

fn capitalized(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
