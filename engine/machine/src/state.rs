//! Operating states by name: those of the sheet, the two that are derived, and any of them with a connector unplugged.

use crate::machine::{Machine, UnknownName, unknown};
use crate::sheet::State;

/// An operating state ready to be solved.
#[derive(Clone, Debug, PartialEq)]
pub struct OperatingState {
    /// As asked for, `~` and all.
    pub name: String,
    /// In the technician's words.
    pub title: String,
    /// Position index of every control.
    pub positions: Vec<usize>,
    /// Rotors are held still.
    pub blocked: bool,
    /// The engine runs.
    pub running: bool,
    /// A start must be refused here.
    pub must_refuse: bool,
    /// What to mind; empty when nothing.
    pub caution: String,
    /// Branches that are lifted or unplugged.
    pub open: Vec<usize>,
    /// Values of the conditions on controls: slot in the row of values, 1 or 0.
    pub(crate) conditions: Vec<(usize, f64)>,
}

impl Machine {
    /// The names of all states that can be had, derived ones included.
    pub fn state_names(&self) -> Vec<String> {
        let mut names: Vec<String> = self.sheet.states.iter().map(|state| state.name.name.clone()).collect();
        if self.sheet_state("held").is_some() {
            names.push("pull-in".to_owned());
            if self.sheet_state("dead").is_some() {
                names.push("dead-held".to_owned());
            }
        }
        names
    }

    /// The state of that name; `STATE~PART` or `STATE~PART.branch` unplugs a connector too.
    ///
    /// # Errors
    /// When the state, or what is to be unplugged, does not exist.
    pub fn state(&self, name: &str) -> Result<OperatingState, UnknownName> {
        let mut pieces = name.trim().split('~');
        let base = pieces.next().unwrap_or_default().trim();
        let mut state = self.plain_state(base)?;
        for unplugged in pieces {
            state.open.extend(self.branches_of(unplugged)?);
        }
        state.open.sort_unstable();
        state.open.dedup();
        name.trim().clone_into(&mut state.name);
        Ok(state)
    }

    fn plain_state(&self, name: &str) -> Result<OperatingState, UnknownName> {
        let held = self.sheet_state("held");
        match (name, held, self.sheet_state("dead")) {
            ("pull-in", Some(held), _) => {
                let mut state = self.operating(held)?;
                state.blocked = true;
                state.title = "the instant the relay pulls in, rotor still".to_owned();
                Ok(state)
            }
            ("dead-held", Some(held), Some(dead)) => {
                let mut state = self.operating(dead)?;
                state.positions = held.positions.clone();
                state.conditions = self.conditions(&held.positions);
                state.title = format!("{}, controls as in: {}", dead.title, held.title);
                Ok(state)
            }
            _ => match self.sheet_state(name) {
                Some(state) => self.operating(state),
                None => Err(unknown("state", name, self.state_names().iter().map(String::as_str))),
            },
        }
    }

    fn sheet_state(&self, name: &str) -> Option<&State> {
        self.sheet.states.iter().find(|state| state.name.name == name)
    }

    fn operating(&self, state: &State) -> Result<OperatingState, UnknownName> {
        let mut open = Vec::new();
        for named in &state.open {
            open.extend(self.branches_of(&named.name)?);
        }
        Ok(OperatingState {
            name: state.name.name.clone(),
            title: state.title.clone(),
            positions: state.positions.clone(),
            blocked: state.blocked,
            running: state.running,
            must_refuse: state.must_refuse,
            caution: state.caution.clone(),
            open,
            conditions: self.conditions(&state.positions),
        })
    }

    fn conditions(&self, positions: &[usize]) -> Vec<(usize, f64)> {
        let mut values = Vec::new();
        for (part, layout) in self.sheet.parts.iter().zip(&self.parts) {
            for (field, condition) in &part.conditions {
                let holds = condition.iter().all(|(control, allowed)| allowed.contains(&positions[*control]));
                values.push((layout.values + field, f64::from(u8::from(holds))));
            }
        }
        values
    }
}
