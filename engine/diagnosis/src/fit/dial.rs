//! The values of a sheet that readings may correct, each turned by one number that is 0 where the sheet stands.
//! Most are turned by a factor e^x; what a person could not measure apart (a cable's copper and rings) turns together.
//! Limit: what a sheet gives as nothing cannot be turned by a factor and stays nothing.

use circuit::{Law, Network};
use libm::{exp, log};
use machine::kind::Want;
use machine::{Edit, Machine};
use quantity::conductor::resistance;
use quantity::{Celsius, Dimension, Meters, SquareMeters};

use super::least::Free;

/// One value of the sheet.
#[derive(Clone, Debug)]
pub(super) struct Dial {
    pub(super) part: usize,
    /// The field that stands for what is turned.
    pub(super) field: &'static str,
    pub(super) dimension: Dimension,
    /// What the sheet says, in SI.
    pub(super) sheet: f64,
    pub(super) free: Free,
    turns: Turns,
    /// Fields to be written, with what the sheet says of each.
    writes: Vec<(&'static str, Dimension, f64)>,
}

#[derive(Clone, Debug)]
enum Turns {
    /// These values of the row are multiplied by e^x.
    Scale(Vec<usize>),
    /// This one is set to the sheet's times e^x.
    Set(usize),
    /// This one is set to the sheet's plus x.
    Shift(usize),
}

/// One σ of a healthy machine's value about the sheet's, as a factor (estimate).
const SPREAD: f64 = 1.5;
/// The same of a supply's open-circuit voltage (estimate).
const VOLTAGE_SPREAD: f64 = 1.03;
/// The same of a state of charge, as a difference (estimate).
const CHARGE_SPREAD: f64 = 0.15;
/// No value is turned further than by this factor.
const FURTHEST: f64 = 100.0;
/// Below this charge a battery's inner resistance depends on it.
const NEARLY_EMPTY: f64 = 0.2;

/// Fields that turn together, the first giving the name; one line a value.
const TOGETHER: &[(&str, &[&str])] = &[
    ("source", &["resistance"]),
    ("cable", &["resistance", "corrosion", "from-ring", "to-ring"]),
    ("wire", &["resistance", "corrosion"]),
    ("joint", &["resistance"]),
    ("switch", &["resistance"]),
    ("connector", &["resistance"]),
    ("fuse", &["resistance"]),
    ("breaker", &["resistance"]),
    ("resistance", &["resistance"]),
    ("horn", &["resistance"]),
    ("relay", &["coil"]),
    ("relay", &["contact"]),
    ("solenoid", &["pull"]),
    ("solenoid", &["hold"]),
    ("solenoid", &["contact"]),
    ("starter", &["resistance"]),
    ("starter", &["constant"]),
    ("starter", &["friction-torque"]),
    ("motor", &["resistance"]),
    ("motor", &["constant"]),
    ("motor", &["friction-torque"]),
    ("engine", &["friction-torque", "drag"]),
    ("load", &["resistance"]),
    ("load", &["current"]),
    ("load", &["power"]),
    ("load", &["asleep"]),
    ("control-unit", &["current"]),
    ("control-unit", &["asleep"]),
    ("lamp", &["power"]),
    ("instrument-lamp", &["power"]),
    ("pump", &["power"]),
    ("ignition", &["current"]),
    ("regulator", &["leak"]),
    ("stator", &["winding"]),
];

/// Every value of a machine that readings may correct, in sheet order.
pub(super) fn dials(machine: &Machine) -> Vec<Dial> {
    let mut dials = Vec::new();
    for (part, of) in machine.sheet.parts.iter().enumerate() {
        match of.kind.name {
            "battery" => dials.extend(supply(machine, part)),
            "source" => dials.extend(voltage(machine, part)),
            _ => {}
        }
        let lines = TOGETHER.iter().filter(|(kind, _)| *kind == of.kind.name);
        dials.extend(lines.filter_map(|(_, fields)| together(machine, part, fields)));
    }
    dials
}

impl Dial {
    /// The edits that turn it.
    pub(super) fn edits(&self, by: f64) -> Vec<Edit> {
        match &self.turns {
            Turns::Scale(slots) => slots.iter().map(|slot| Edit::Scale { slot: *slot, by: exp(by) }).collect(),
            Turns::Set(slot) | Turns::Shift(slot) => vec![Edit::Set { slot: *slot, to: self.value(by) }],
        }
    }

    /// What the sheet's value becomes.
    pub(super) fn value(&self, by: f64) -> f64 {
        if let Turns::Shift(_) = self.turns { self.sheet + by } else { self.sheet * exp(by) }
    }

    /// One σ of the value when one of the turn is given.
    pub(super) fn sigma(&self, by: f64, sigma: f64) -> f64 {
        if let Turns::Shift(_) = self.turns { sigma } else { self.value(by) * sigma }
    }

    /// What to write in the sheet, field by field.
    pub(super) fn writes(&self, by: f64) -> Vec<(&'static str, Dimension, f64)> {
        let turned = |(field, dimension, sheet): &(&'static str, Dimension, f64)| match self.turns {
            Turns::Shift(_) => (*field, *dimension, sheet + by),
            _ => (*field, *dimension, sheet * exp(by)),
        };
        self.writes.iter().map(turned).collect()
    }
}

fn factor(spread: f64) -> Free {
    Free { spread: log(spread), low: -log(FURTHEST), high: log(FURTHEST) }
}

/// What the sheet gives for a field; nothing for what it leaves out or gives as nothing.
fn given(machine: &Machine, part: usize, field: &str) -> Option<(usize, f64)> {
    let slot = machine.slot(part, field).ok()?;
    let value = machine.values()[slot];
    (value.is_finite() && value != 0.0).then_some((slot, value))
}

fn dimension(machine: &Machine, part: usize, field: &str) -> Dimension {
    let fields = machine.sheet.parts[part].kind.fields;
    match fields.iter().find(|known| known.name == field).map(|known| known.want) {
        Some(Want::Quantity(dimension)) => dimension,
        _ => Dimension::Ratio,
    }
}

fn together(machine: &Machine, part: usize, fields: &'static [&'static str]) -> Option<Dial> {
    let mut slots = Vec::new();
    let mut writes = Vec::new();
    for field in fields {
        if let Some((slot, value)) = given(machine, part, field) {
            slots.push(slot);
            writes.push((*field, dimension(machine, part, field), value));
        } else if let (Some((length, meters)), Some((_, area))) =
            (given(machine, part, "length"), given(machine, part, "area"))
            && *field == "resistance"
        {
            // Copper is turned by its length, and written as the resistance that stands for both.
            slots.push(length);
            let copper = resistance(Meters(meters), SquareMeters(area), Celsius(20.0));
            writes.push((*field, Dimension::Resistance, copper.0));
        }
    }
    let (field, dimension, _) = *writes.first()?;
    let alike = writes.iter().filter(|(_, other, _)| *other == dimension);
    let sheet = alike.map(|(_, _, value)| value).sum();
    Some(Dial { part, field, dimension, sheet, free: factor(SPREAD), turns: Turns::Scale(slots), writes })
}

fn voltage(machine: &Machine, part: usize) -> Option<Dial> {
    let (slot, sheet) = given(machine, part, "voltage")?;
    let writes = vec![("voltage", Dimension::Voltage, sheet)];
    let free = factor(VOLTAGE_SPREAD);
    Some(Dial { part, field: "voltage", dimension: Dimension::Voltage, sheet, free, turns: Turns::Set(slot), writes })
}

/// A battery: its charge, or its rest voltage where the sheet gives that; and its inner resistance.
fn supply(machine: &Machine, part: usize) -> Vec<Dial> {
    let charge = given(machine, part, "charge");
    let rest = voltage(machine, part).or_else(|| {
        let (slot, sheet) = charge?;
        let free = Free { spread: CHARGE_SPREAD, low: 0.01 - sheet, high: 1.0 - sheet };
        let writes = vec![("charge", Dimension::Ratio, sheet)];
        Some(Dial {
            part,
            field: "charge",
            dimension: Dimension::Ratio,
            sheet,
            free,
            turns: Turns::Shift(slot),
            writes,
        })
    });
    let inner = inner_resistance(machine, part).filter(|_| charge.is_some_and(|(_, charge)| charge >= NEARLY_EMPTY));
    rest.into_iter().chain(inner).collect()
}

/// The inner resistance of a battery that is not nearly empty, given or estimated by its kind.
fn inner_resistance(machine: &Machine, part: usize) -> Option<Dial> {
    let slot = machine.slot(part, "resistance").ok()?;
    let (_, wear) = given(machine, part, "wear")?;
    let name = machine.state_names().into_iter().next()?;
    let mut network = Network::default();
    machine.network(&machine.state(&name).ok()?, &[], None, &mut network);
    let branch = (*machine.layout(part).slots.first()?)?;
    let Law::Linear { resistance, .. } = network.branches[branch].law else { return None };
    let sheet = resistance.0 / wear;
    let writes = vec![("resistance", Dimension::Resistance, sheet)];
    let free = factor(SPREAD);
    let dimension = Dimension::Resistance;
    Some(Dial { part, field: "resistance", dimension, sheet, free, turns: Turns::Set(slot), writes })
}
