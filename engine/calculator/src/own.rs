//! What a machine's own sheet says, as worksheets want it: a value of a kind of part, and a solved operating state.
//! Promise: nothing is guessed; where the sheet is silent there is no value, and the worksheet's usual one holds.
//! Limit: the first part of a kind speaks for all of them; a state that chatters is looked at with its relays pulled.

use circuit::{Law, Motor, State};
use machine::{Bench, Edit, Machine, Setting};
use quantity::{Amps, Ohms, Volts};

/// The first part of one of these kinds, the kinds in order of preference.
pub fn part_of(machine: &Machine, kinds: &[&str]) -> Option<usize> {
    kinds.iter().find_map(|kind| machine.sheet.parts.iter().position(|part| part.kind.name == *kind))
}

/// A value of the first part of a kind, SI; nothing when the sheet does not say it.
pub fn value(machine: &Machine, kind: &str, field: &str) -> Option<f64> {
    let slot = machine.slot(part_of(machine, &[kind])?, field).ok()?;
    Some(machine.values()[slot]).filter(|value| value.is_finite())
}

/// The battery's value of that name.
pub fn of_battery(machine: &Machine, field: &str) -> Option<f64> {
    value(machine, "battery", field)
}

/// A solved operating state.
pub struct Solved<'a> {
    machine: &'a Machine,
    bench: Bench,
    state: State,
}

/// The machine in one of its states as the sheet describes it, `open` lifted or unplugged too.
pub fn solved<'a>(machine: &'a Machine, state: &str, open: &[usize]) -> Option<Solved<'a>> {
    solved_with(machine, state, open, &[])
}

/// The same with values changed.
fn solved_with<'a>(machine: &'a Machine, state: &str, open: &[usize], edits: &[Edit]) -> Option<Solved<'a>> {
    let mut operating = machine.state(state).ok()?;
    operating.open.extend_from_slice(open);
    let mut bench = Bench::new();
    let point = bench.solve(machine, &Setting { state: &operating, edits, air: None }).ok()?;
    let state = point.pulled().unwrap_or(&point.state).clone();
    Some(Solved { machine, bench, state })
}

impl Solved<'_> {
    /// The branch of the battery, or of the source that stands for it.
    pub fn battery(&self) -> Option<usize> {
        let part = part_of(self.machine, &["battery", "source"])?;
        self.machine.layout(part).slots.first().copied().flatten()
    }

    /// The battery's open-circuit voltage and inner resistance.
    pub fn supply(&self) -> Option<(Volts, Ohms)> {
        match self.bench.network.branches[self.battery()?].law {
            Law::Linear { resistance, emf } => Some((emf, resistance)),
            _ => None,
        }
    }

    /// What the battery gives; negative while it is charged.
    pub fn draw(&self) -> Option<Amps> {
        Some(-self.current(self.battery()?))
    }

    /// Current through a branch, first terminal to second.
    pub fn current(&self, branch: usize) -> Amps {
        self.machine.current(&self.bench.network, &self.state.solution, branch)
    }

    /// Voltage of a node against the machine's reference; nothing when it floats.
    pub fn potential(&self, node: usize) -> Option<Volts> {
        self.state.solution.potential(node)
    }

    /// Voltage across a branch, first terminal against second.
    pub fn across(&self, branch: usize) -> Volts {
        let conductor = &self.machine.branches()[branch];
        self.state.solution.across(conductor.from, conductor.to)
    }

    /// The starting motor.
    pub fn motor(&self) -> Option<&Motor> {
        self.bench.network.motors.first()
    }

    /// Speed of the starting motor, rad/s.
    pub fn speed(&self) -> Option<f64> {
        self.state.rotors.first().map(|rotor| rotor.speed.0)
    }

    /// Whether the engine turns with the starting motor.
    #[cfg(test)]
    pub fn engaged(&self) -> bool {
        self.state.rotors.first().is_some_and(|rotor| rotor.engaged)
    }
}

/// Current of the starting motor while the button is held.
pub fn cranking_current(machine: &Machine) -> Option<f64> {
    let held = solved(machine, "held", &[])?;
    let current = held.current(held.motor()?.branch).0.abs();
    (current > 1.0).then_some(current)
}

/// What the battery gives with everything off.
pub fn rest_current(machine: &Machine) -> Option<f64> {
    solved(machine, "rest", &[])?.draw().map(|draw| draw.0).filter(|draw| *draw > 0.0)
}

/// What the battery gives with everything off and values changed; negative would be charging.
pub fn rest_current_with(machine: &Machine, edits: &[Edit]) -> Option<f64> {
    Some(solved_with(machine, "rest", &[], edits)?.draw()?.0)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A machine of the school, from its sheet.
    pub fn school(id: &str) -> Machine {
        let text = match id {
            "curlew" => include_str!("../../../machines/curlew.toml"),
            "dabchick" => include_str!("../../../machines/dabchick.toml"),
            "dunlin" => include_str!("../../../machines/dunlin.toml"),
            "fieldfare" => include_str!("../../../machines/fieldfare.toml"),
            "plover" => include_str!("../../../machines/plover.toml"),
            "sandpiper" => include_str!("../../../machines/sandpiper.toml"),
            "turnstone" => include_str!("../../../machines/turnstone.toml"),
            _ => include_str!("../../../machines/moorhen.toml"),
        };
        Machine::new(machine::sheet::read(text).sheet.unwrap())
    }

    #[test]
    fn law_what_the_sheet_does_not_say_is_not_made_up() {
        let curlew = school("curlew");
        assert_eq!(of_battery(&curlew, "capacity"), Some(2.3 * 3600.0));
        assert_eq!(of_battery(&curlew, "voltage"), None);
        assert_eq!(value(&curlew, "pump", "current"), None);
        assert!(solved(&curlew, "flying", &[]).is_none());
    }

    /// The dashboard asleep takes 1 mA and the regulator 0.3 mA: the sheet's own lines.
    #[test]
    fn law_a_resting_machine_draws_what_its_sheet_says() {
        let milliamperes = rest_current(&school("curlew")).unwrap() * 1e3;
        assert!((milliamperes - 1.3).abs() < 0.01, "{milliamperes} mA");
    }
}
