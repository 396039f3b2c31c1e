//! Spoiled sheets: read, and where nothing is in the way, laid out, solved in every state and read with a meter.

use machine::{Bench, Machine, Setting};

use super::Came;
use super::spoil::{Dice, renumbered, spoiled, words};

/// A small sheet of primitives, so that most of what is spoiled in it matters.
const BENCH: &str = r#"sheet = 1
[machine]
id = "bench"
[control.key]
positions = ["off", "on"]
[part.battery]
kind = "source"
voltage = "12.8 V"
resistance = "20 mohm"
[part.fuse]
kind = "fuse"
from = "battery.plus"
to = "feed"
resistance = "5 mohm"
rating = "10 A"
[part.key-switch]
kind = "switch"
from = "feed"
to = "lamp-feed"
resistance = "20 mohm"
closed-when = { key = "on" }
[part.lamp]
kind = "lamp"
from = "lamp-feed"
to = "battery.minus"
power = "10 W"
voltage = "12 V"
[part.relay]
kind = "relay"
coil-a = "lamp-feed"
coil-b = "battery.minus"
line = "battery.plus"
load = "motor.plus"
coil = "80 ohm"
pull-in = "7 V"
drop-out = "3 V"
contact = "1 mohm"
[part.motor]
kind = "motor"
minus = "battery.minus"
resistance = "40 mohm"
constant = "0.011 V s/rad"
friction-torque = "0.15 N m"
drag = "0.0002 N m s/rad"
[part.diode]
kind = "diode"
anode = "battery.minus"
cathode = "lamp-feed"
saturation-current = "5e-9 A"
ideality = 1.75
series-resistance = "40 mohm"
[part.load]
kind = "load"
from = "motor.plus"
to = "battery.minus"
current = "0.4 A"
[state.rest]
controls = { key = "off" }
[state.on]
controls = { key = "on" }
"#;

/// Sheets to be spoiled.
pub struct Seeds {
    /// Those without a problem.
    sound: Vec<String>,
    texts: Vec<String>,
    words: Vec<String>,
}

impl Seeds {
    /// From the texts of whole sheets.
    pub fn new(texts: Vec<String>) -> Self {
        let words = words(texts.iter().map(String::as_str));
        let whole = texts.iter().filter(|text| machine::sheet::read(text).sheet.is_some());
        let sound = whole.cloned().chain([BENCH.to_owned()]).collect();
        Self { sound, texts, words }
    }

    /// Spoils one sheet and reads it.
    pub fn read_one(&self, dice: &mut Dice) -> Result<Came, String> {
        let text = match dice.below(3) {
            0 => renumbered(&self.sound, dice),
            1 => spoiled(&self.sound, &self.words, dice),
            _ => spoiled(&self.texts, &self.words, dice),
        };
        let text = String::from_utf8_lossy(&text);
        let reading = machine::sheet::read(&text);
        for problem in &reading.findings {
            let place = &problem.span;
            let in_text =
                place.start <= place.end && place.end <= text.len() && problem.line >= 1 && problem.column >= 1;
            if !in_text || problem.line > text.split('\n').count() {
                return Err(format!("a finding beside the text: {}", problem.message));
            }
            if problem.message.is_empty() || problem.allowed.is_empty() {
                return Err(format!("a finding that says nothing: {problem:?}"));
            }
            let named = problem.message.contains(['`', '"']) || problem.message.contains("the sheet");
            if problem.found.is_empty() && !named {
                return Err(format!("a finding that names nothing: {}", problem.message));
            }
        }
        let in_the_way = reading.findings.iter().any(machine::problem::Problem::is_in_the_way);
        match reading.sheet {
            Some(sheet) if !in_the_way => use_it(&Machine::new(sheet), dice),
            Some(_) => Err("a sheet in spite of its problems".to_owned()),
            None if in_the_way => Ok(Came::Refused),
            None => Err("no sheet and no problem".to_owned()),
        }
    }
}

fn use_it(machine: &Machine, dice: &mut Dice) -> Result<Came, String> {
    let mut bench = Bench::new();
    let faults = machine.faults();
    for name in machine.state_names() {
        let Ok(state) = machine.state(&name) else {
            return Err(format!("a state that is listed and not there: {name}"));
        };
        let planted = if faults.is_empty() { Vec::new() } else { dice.of(&faults).edits(0.5) };
        for edits in [&[], planted.as_slice()] {
            let setting = Setting { state: &state, edits, air: None };
            if let Err(reason) = bench.solve(machine, &setting)
                && reason.to_string().is_empty()
            {
                return Err("no solution, and no reason".to_owned());
            }
        }
    }
    let probes = machine.proposed_probes();
    if !probes.is_empty() {
        let probe = dice.of(&probes);
        if machine.probe(&probe.name).is_err() {
            return Err(format!("a probe that is proposed and not known: {}", probe.name));
        }
    }
    Ok(Came::Understood)
}
