//! Spoiled quantities, readings and names of probes, as a technician's thumb would.

use diagnosis::request;
use machine::{Fault, Machine};
use quantity::{Dimension, Expect, ReadError, ReadErrorKind, Reading};

use super::Came;
use super::spoil::{Dice, renumbered, spoiled, words};

const VALUES: [&str; 30] = [
    "12.6 V",
    "12,6V",
    "180 mohm",
    "0.18 Ω",
    "-5 °C",
    "6 AWG",
    "OL",
    ">1 Mohm",
    "2.4..12.2 V",
    "5e-9 A",
    "off",
    "dim",
    "bright",
    "skip",
    "click",
    "chatter",
    "fixed",
    "same",
    "0.9 m",
    "16 mm2",
    "33.2 mm²",
    "0.011 V s/rad",
    "0.15 N·m",
    "< 0.1 ohm",
    "1/2 in",
    "3 min",
    "45 %",
    "14 000 rpm",
    "−0.3 mA",
    "0.0002 N*m*s/rad",
];

/// Machines with the names that can be asked of them, and values for each.
pub struct Seeds {
    machines: Vec<(Machine, Vec<Fault>, Vec<Named>)>,
    values: Vec<(Dimension, Vec<String>)>,
    names: Vec<String>,
    words: Vec<String>,
}

/// A name that can be asked of a machine, with values that can be read there.
struct Named {
    name: String,
    values: Vec<String>,
}

impl Seeds {
    /// Of some machines.
    pub fn new(machines: Vec<Machine>) -> Self {
        let of = |dimension: &Dimension| {
            let readable = VALUES.iter().filter(|value| Reading::read(value, Expect::Quantity(*dimension)).is_ok());
            let values = readable.copied().chain([dimension.example()]);
            (*dimension, values.map(str::to_owned).collect())
        };
        let values: Vec<(Dimension, Vec<String>)> = Dimension::ALL.iter().map(of).collect();
        let machines: Vec<_> = machines.into_iter().map(|machine| asked_of(machine, &values)).collect();
        let names: Vec<String> =
            machines.iter().flat_map(|(_, _, names)| names.iter().map(|known| known.name.clone())).collect();
        let words = words(names.iter().map(String::as_str).chain(VALUES));
        Self { machines, values, names, words }
    }

    /// Spoils one text and reads it.
    pub fn read_one(&self, dice: &mut Dice) -> Result<Came, String> {
        let (dimension, values) = dice.of(&self.values);
        let dimension = if dice.below(8) == 0 { *dice.of(&Dimension::ALL) } else { *dimension };
        let value = self.spoil(values, dice);
        match dice.below(4) {
            0 => refusal(quantity::read(&value, dimension).map(|number| number.is_finite())),
            1 => refusal(quantity::read_loosely(&value, dimension).map(|number| number.is_finite())),
            2 => {
                let words = || vec!["off".to_owned(), "dim".to_owned(), "bright".to_owned()];
                let expect = match dice.below(3) {
                    0 => Expect::Quantity(dimension),
                    1 => Expect::Words(words()),
                    _ => Expect::QuantityOrWords(dimension, words()),
                };
                refusal(Reading::read(&value, expect).map(|reading| !reading.show(dimension).is_empty()))
            }
            _ => {
                let (machine, faults, names) = dice.of(&self.machines);
                let known = dice.of(names);
                let (name, fit): (&String, &String) = (dice.of(&self.names), dice.of(&known.values));
                match dice.below(3) {
                    0 => entry(machine, faults, &self.spoil(&self.names, dice), fit),
                    1 => entry(machine, faults, name, &value),
                    _ => entry(machine, faults, &known.name, &self.spoil(&known.values, dice)),
                }
            }
        }
    }

    fn spoil(&self, texts: &[String], dice: &mut Dice) -> String {
        let bytes = match dice.below(3) {
            0 => renumbered(texts, dice),
            _ => spoiled(texts, &self.words, dice),
        };
        String::from_utf8_lossy(&bytes).into_owned()
    }
}

fn asked_of(machine: Machine, values: &[(Dimension, Vec<String>)]) -> (Machine, Vec<Fault>, Vec<Named>) {
    let faults = machine.faults();
    let text = |words: &[&str]| -> Vec<String> { words.iter().map(|word| (*word).to_owned()).collect() };
    let mut names: Vec<Named> = Vec::new();
    for probe in machine.proposed_probes() {
        let numbers = values.iter().find(|(dimension, _)| *dimension == probe.dimension()).map(|(_, values)| values);
        let mut values = text(probe.words());
        values.extend(numbers.into_iter().flatten().filter(|_| probe.words().is_empty()).cloned());
        names.push(Named { name: probe.name, values });
    }
    for fault in &faults {
        let name = format!("try:{}@{}", fault.remedy.verb, request::part_name(&machine, fault));
        names.push(Named { name, values: text(&["fixed", "same", "skip"]) });
    }
    names.push(Named { name: "ask:since".to_owned(), values: text(&["nothing", "wash", "jump-start"]) });
    names.push(Named { name: "meter:leads".to_owned(), values: text(&["0.2 ohm", "skip"]) });
    (machine, faults, names)
}

fn refusal(read: Result<bool, ReadError>) -> Result<Came, String> {
    match read {
        Ok(true) => Ok(Came::Understood),
        Ok(false) => Err("a value that is no number".to_owned()),
        Err(error) if error.allowed.is_empty() || error.to_string().is_empty() => {
            Err(format!("a refusal that says nothing: {error:?}"))
        }
        Err(error) if error.kind != ReadErrorKind::Empty && !names(&error.to_string(), &error.found) => {
            Err(format!("a refusal that does not name what was found: {error}"))
        }
        Err(_) => Ok(Came::Refused),
    }
}

/// Whether a message repeats what was found; control characters are shown as a mark.
fn names(message: &str, found: &str) -> bool {
    let shown: String = found.chars().map(|letter| if letter.is_control() { '\u{FFFD}' } else { letter }).collect();
    message.contains(&shown)
}

fn entry(machine: &Machine, faults: &[Fault], name: &str, value: &str) -> Result<Came, String> {
    match request::entry(machine, faults, name, value) {
        Ok(_) => Ok(Came::Understood),
        Err(error) if error.allowed().is_empty() || !error.to_string().contains(['`', '"']) => {
            Err(format!("a refusal that names nothing: {error}"))
        }
        Err(_) => Ok(Came::Refused),
    }
}
