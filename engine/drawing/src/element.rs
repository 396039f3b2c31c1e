//! What is drawn of a machine: one element a conducting path, each a sign on a vertical wire between two nodes.
//! Idea: a part with several paths (relay, plug) is drawn where its paths are, under one name, as schematics of looms are.
//! Promise: every path and every terminal of every part is in an element; parts without terminals are told beside the
//! motor that they turn with, or in the notes.

use machine::Machine;

use crate::symbol::{BOX, HALF, LEAD, Sign};
use crate::text::{LINE, wrap};

/// One conducting path.
#[derive(Clone, Debug)]
pub(crate) struct Element {
    /// Index of the part.
    pub part: usize,
    /// Index of the machine's branch.
    pub branch: usize,
    /// Node of its first terminal.
    pub from: usize,
    /// Node of its second.
    pub to: usize,
    /// What it looks like.
    pub sign: Sign,
    /// What it is called in full.
    pub title: String,
    /// The same in lines that fit.
    pub lines: Vec<String>,
    /// Nodes at the leads to its right, from the top.
    pub leads: Vec<usize>,
    /// Parts that are told here: what turns with a motor, the winding of a regulator.
    pub with: Vec<usize>,
    /// Whether current passes easily, for the order of potentials.
    pub easy: bool,
    /// From node to node.
    pub height: f64,
    /// Middle of the sign below the upper node.
    pub middle: f64,
}

impl Element {
    /// Where its label's first line has its middle, below its upper node.
    pub(crate) fn first_line(&self) -> f64 {
        let more = (self.lines.len().max(1) - 1) as f64 * LINE;
        match self.sign {
            Sign::Contact => self.middle - more - 10.0,
            Sign::Regulator(_) | Sign::Charger(..) => 12.0,
            _ => self.middle - more / 2.0,
        }
    }

    /// How far right of the wire its label begins.
    pub(crate) fn label_at(&self) -> f64 {
        HALF + 3.0
    }

    /// Width that it needs right of the wire, its label apart.
    pub(crate) fn reach(&self) -> f64 {
        self.sign.right()
    }
}

/// All elements of a machine, and the parts told of nowhere.
pub(crate) fn elements(machine: &Machine, widest: f64) -> (Vec<Element>, Vec<usize>) {
    let parts = 0..machine.sheet.parts.len();
    let chargers: Vec<Charger> = parts.clone().filter_map(|part| charger(machine, part)).collect();
    let mut elements: Vec<Element> = Vec::new();
    for (branch, path) in machine.branches().iter().enumerate() {
        if chargers.iter().any(|charger| charger.stator == path.part || charger.ways.contains(&branch)) {
            continue;
        }
        let part = &machine.sheet.parts[path.part];
        let way = path.name.strip_prefix(&format!("{}.", part.name.name)).unwrap_or_default();
        let mut sign = sign(machine, path.part, way);
        let mut leads = Vec::new();
        let mut with = Vec::new();
        if let Sign::Regulator(phases) = sign {
            leads.extend(machine.layout(path.part).terminals.iter().skip(2).take(usize::from(phases.max(2))));
            if let Some(charger) = chargers.iter().find(|charger| charger.regulator == path.part) {
                sign = Sign::Charger(phases, !charger.ways.is_empty());
                with.push(charger.stator);
                with.extend(charger.ways.iter().map(|way| machine.branches()[*way].part));
                with.dedup();
                if !charger.ways.is_empty() {
                    let winding = machine.layout(charger.stator).terminals.iter();
                    leads.extend(winding.take(charger.ways.len()));
                }
            }
        }
        if sign == Sign::Round("M") {
            with.extend(turning_with(machine, path.part));
        }
        let mut title = titled(&part.title, part.kind.name, way);
        if way.is_empty() && !part.color.is_empty() {
            title = format!("{title} ({})", part.color);
        }
        let mut element = Element {
            part: path.part,
            branch,
            from: path.from,
            to: path.to,
            sign,
            title,
            lines: Vec::new(),
            leads,
            with,
            easy: easy(part.kind.name, way),
            height: 0.0,
            middle: 0.0,
        };
        // Rings stand at the ends of a cable that says its name.
        let ring = part.kind.name == "cable" && !way.is_empty();
        label(machine, &mut element, if ring { 0 } else { 3 }, widest);
        elements.push(element);
    }
    let told = |part: &usize| elements.iter().any(|element| element.part == *part || element.with.contains(part));
    let untold = parts.filter(|part| !told(part)).collect();
    (elements, untold)
}

/// Breaks its title into lines and finds its height.
fn label(machine: &Machine, element: &mut Element, most: usize, widest: f64) {
    let mut lines = if most == 0 { Vec::new() } else { wrap(&element.title, widest, most) };
    for part in &element.with {
        lines.extend(wrap(&format!("- {}", machine.sheet.parts[*part].title), widest, 2));
    }
    let text = lines.len() as f64 * LINE;
    // A node's own label takes half a line at each end.
    let (height, middle) = match element.sign {
        Sign::Contact => {
            let above = text + 12.0;
            (above + 20.0, above)
        }
        Sign::Regulator(_) | Sign::Charger(..) => (text + 2.0 * BOX + 22.0, text + BOX + 12.0),
        Sign::Round("M") => {
            let height = (text + 18.0).max(48.0);
            (height, height / 2.0)
        }
        sign => {
            let height = (text + 18.0).max(sign.height());
            (height, height / 2.0)
        }
    };
    element.lines = lines;
    element.height = libm::ceil(height / 2.0) * 2.0;
    element.middle = libm::round(middle);
}

/// What a path is called.
fn titled(title: &str, kind: &str, path: &str) -> String {
    match (kind, path) {
        (_, "") => title.to_owned(),
        ("cable", "from-ring" | "to-ring") => format!("{title}, {} ring", path.trim_end_matches("-ring")),
        ("connector", way) => format!("{way}: {title}"),
        ("solenoid", "coil") => format!("{title}: start lead"),
        ("solenoid", "pull" | "hold") => format!("{title}: {path}-in winding"),
        ("stator", winding) => format!("{title}: winding {winding}"),
        (_, path) => format!("{title}: {path}"),
    }
}

fn sign(machine: &Machine, part: usize, path: &str) -> Sign {
    let sheet = &machine.sheet.parts[part];
    match (sheet.kind.name, path) {
        ("battery", _) => Sign::Battery,
        ("source", _) => Sign::Source,
        ("cable", "") => Sign::Cable,
        ("cable", _) | ("joint", _) => Sign::Joint,
        ("wire", _) => Sign::Wire,
        ("connector", _) => Sign::Way,
        ("fuse", _) => Sign::Fuse,
        ("breaker", _) => Sign::Breaker,
        ("switch", _) => {
            // The first position of every control is the one at rest.
            let rests = |(_, condition): &(usize, machine::sheet::Condition)| {
                condition.iter().all(|(_, allowed)| allowed.contains(&0))
            };
            Sign::Switch(sheet.conditions.iter().all(rests))
        }
        ("relay" | "solenoid", "contact") | ("control-unit", "output") => Sign::Contact,
        ("solenoid", "coil") => Sign::Wire,
        ("relay", _) => Sign::Coil,
        ("solenoid", _) | ("stator", _) => Sign::Winding,
        ("diode", _) => Sign::Diode,
        ("starter" | "motor" | "pump", _) => Sign::Round("M"),
        ("lamp" | "instrument-lamp", _) => Sign::Lamp,
        ("horn", _) => Sign::Horn,
        ("resistance", _) => Sign::Resistor,
        ("capacitor", _) => Sign::Capacitor,
        ("inductor", _) => Sign::Inductor,
        ("regulator", _) => Sign::Regulator(phases(machine, part)),
        ("ignition", _) => Sign::Block("IGN"),
        ("control-unit", _) => Sign::Block("CU"),
        _ => Sign::Block(""),
    }
}

/// Whether a closed path of that kind lets current pass without a drop that counts.
fn easy(kind: &str, path: &str) -> bool {
    matches!(kind, "cable" | "joint" | "wire" | "connector" | "fuse" | "breaker" | "switch") || path == "contact"
}

/// A winding with its regulator, and the ways of a plug between them.
struct Charger {
    stator: usize,
    regulator: usize,
    ways: Vec<usize>,
}

fn phases(machine: &Machine, part: usize) -> u8 {
    let part = &machine.sheet.parts[part];
    if part.kind.word(&part.values, "phases") == Some("one") { 1 } else { 3 }
}

/// What a stator feeds, if its leads go to one regulator and nowhere else, straight or each through a way of a plug.
fn charger(machine: &Machine, stator: usize) -> Option<Charger> {
    let parts = &machine.sheet.parts;
    if parts[stator].kind.name != "stator" {
        return None;
    }
    let single = phases(machine, stator);
    let inner: Vec<usize> = machine.layout(stator).terminals.iter().copied().take(usize::from(single.max(2))).collect();
    let paths = machine.branches();
    (0..parts.len()).filter(|part| parts[*part].kind.name == "regulator").find_map(|regulator| {
        let outer: Vec<usize> = machine.layout(regulator).terminals.iter().copied().skip(2).take(inner.len()).collect();
        if phases(machine, regulator) != single || outer.len() != inner.len() {
            return None;
        }
        let way = |(outer, inner): (&usize, &usize)| {
            paths.iter().position(|path| {
                parts[path.part].kind.name == "connector"
                    && [(path.from, path.to), (path.to, path.from)].contains(&(*outer, *inner))
            })
        };
        let ways: Vec<usize> =
            if outer == inner { Vec::new() } else { outer.iter().zip(&inner).map(way).collect::<Option<_>>()? };
        let alone = paths.iter().enumerate().all(|(branch, path)| {
            let own = path.part == stator || ways.contains(&branch);
            own || ![path.from, path.to].iter().any(|node| inner.contains(node) || outer.contains(node))
        });
        alone.then_some(Charger { stator, regulator, ways })
    })
}

/// The parts on a motor's shaft, and the engine that its drive turns.
fn turning_with(machine: &Machine, motor: usize) -> Vec<usize> {
    let parts = &machine.sheet.parts;
    let refers = |part: usize, field: &str| {
        let value = machine.slot(part, field).ok().map(|slot| machine.values()[slot])?;
        value.is_finite().then_some(value as usize)
    };
    let mut with = Vec::new();
    for (part, of) in parts.iter().enumerate() {
        match of.kind.name {
            "drive" if refers(part, "motor") == Some(motor) => {
                with.push(part);
                with.extend(refers(part, "engine"));
            }
            "bushing" if refers(part, "carries") == Some(motor) => with.push(part),
            _ => {}
        }
    }
    with.dedup();
    with
}

/// How far right of the wire a lead can be touched.
pub(crate) const LEAD_AT: f64 = LEAD + 10.0;
