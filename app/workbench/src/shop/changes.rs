//! What is changed on a machine before it is solved: faults, values, opened paths, bridges, air temperature.
//! Everything comes as text from a person or a request and is looked up here, once, for all verbs.
//! Order: values first, then faults on top of them, then what is opened, then bridges.

use machine::{BadSetting, BadSeverity, Edit, Machine};
use quantity::{Celsius, Dimension, Ohms};

use super::refusal::{Place, Reason, Refusal, listed};
use super::stand::Stand;

/// The changes as they were asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Changes {
    /// `part:mode` or `part:mode=severity`.
    pub faults: Vec<String>,
    /// `part.field` and its value.
    pub set: Vec<(String, String)>,
    /// `PART` or `PART.branch`.
    pub open: Vec<String>,
    /// `NODE,NODE=0.05ohm`.
    pub bridge: Vec<String>,
    /// Air temperature; nothing when everything is as written, at 20 °C.
    pub air: Option<String>,
}

impl Changes {
    /// The raw edits as asked for, in the order in which they are made.
    pub fn edits_as_given(&self) -> Vec<String> {
        let set = self.set.iter().map(|(path, value)| format!("{path}={value}"));
        set.chain(self.open.iter().cloned()).chain(self.bridge.iter().cloned()).collect()
    }
}

impl Stand {
    /// The edits that make these changes.
    ///
    /// # Errors
    /// At the first thing that the machine does not have, or value that cannot be read.
    pub fn edits(&self, changes: &Changes) -> Result<Vec<Edit>, Refusal> {
        let mut edits = Vec::new();
        for (path, value) in &changes.set {
            edits.push(self.set(path, value)?);
        }
        for text in &changes.faults {
            let (name, severity) = self.planted(text)?;
            edits.extend(self.fault(name)?.edits(severity));
        }
        for name in &changes.open {
            let branches = self.machine.branches_of(name).map_err(|error| {
                Refusal::unknown(
                    &error,
                    Place::Open,
                    format!("a part, or one path of it: {}", names_like(name, &self.machine)),
                )
            })?;
            edits.extend(branches.into_iter().map(Edit::Open));
        }
        for text in &changes.bridge {
            edits.push(self.bridge(text)?);
        }
        Ok(edits)
    }

    /// The air temperature that was asked for.
    ///
    /// # Errors
    /// When it is none.
    pub fn air(&self, changes: &Changes) -> Result<Option<Celsius>, Refusal> {
        let Some(text) = &changes.air else { return Ok(None) };
        let degrees = quantity::read_loosely(text, Dimension::Temperature)
            .map_err(|error| Refusal::unread(error, Place::Air, ""))?;
        Ok(Some(Celsius(degrees)))
    }

    /// Name and severity of a fault as asked for: `part:mode=20 mohm`, `part:mode=0.02` (in SI), `part:mode` (the
    /// middle of its spread).
    ///
    /// # Errors
    /// When there is no such fault, or the severity cannot be read.
    pub fn planted<'a>(&self, text: &'a str) -> Result<(&'a str, f64), Refusal> {
        let (name, given) = match text.split_once('=') {
            Some((name, given)) => (name.trim(), Some(given.trim())),
            None => (text.trim(), None),
        };
        let fault = self.fault(name)?;
        let Some(given) = given else { return Ok((name, fault.severity_at(0.5))) };
        let severity = fault.read_severity(given).map_err(|bad| match bad {
            BadSeverity::AllOrNothing => {
                let message = format!("`{name}` is all or nothing; it takes no severity");
                Refusal::new(Reason::Value, Place::Fault, message, given, format!("`{name}` alone"))
                    .with_hint(format!("write `{name}`"))
            }
            BadSeverity::Unread(error) => Refusal::unread(error, Place::Fault, name),
            BadSeverity::BelowZero(least, most, dimension) => {
                let usual = |value| quantity::show(value, dimension);
                let message = format!("{name}: a severity of `{given}` is below zero");
                let allowed = format!("zero or more; usual are {} to {}", usual(least), usual(most));
                Refusal::new(Reason::Value, Place::Fault, message, given, allowed)
            }
        })?;
        Ok((name, severity))
    }

    fn set(&self, path: &str, value: &str) -> Result<Edit, Refusal> {
        let machine = &self.machine;
        machine.setting(path, value).map_err(|bad| match bad {
            BadSetting::Form => {
                let message = format!("`{path}` names no field of a part");
                Refusal::new(Reason::Form, Place::Set, message, path, "PART.FIELD=VALUE")
                    .with_hint("write it as in `starter-relay.pull-in=8 V`")
            }
            BadSetting::Part(error) => {
                let parts = machine.sheet.parts.iter().map(|part| part.name.name.as_str());
                Refusal::unknown(&error, Place::Set, format!("a part: {}", listed(parts)))
            }
            BadSetting::Field(part, error) => {
                let part = &machine.sheet.parts[part];
                let fields = listed(part.kind.fields.iter().map(|field| field.name));
                let (name, kind) = (&part.name.name, part.kind.name);
                Refusal::unknown(&error, Place::Set, format!("a field of `{name}`, a {kind}: {fields}"))
            }
            BadSetting::Value(wrong) => Refusal {
                reason: Reason::Value,
                place: Place::Set,
                message: format!("{path}: {}", wrong.message),
                found: wrong.found,
                allowed: wrong.allowed,
                hint: wrong.hint,
            },
        })
    }

    fn bridge(&self, text: &str) -> Result<Edit, Refusal> {
        const FORM: &str = "NODE,NODE=0.05ohm";
        let malformed = || {
            let message = format!("`{text}` is not two nodes and a resistance");
            Refusal::new(Reason::Form, Place::Bridge, message, text, FORM)
                .with_hint("write it as in `battery.plus,starter.plus=2 mohm`")
        };
        let (nodes, ohms) = text.split_once('=').ok_or_else(malformed)?;
        let (from, to) = nodes.split_once(',').ok_or_else(malformed)?;
        let (from, to) = (self.node(from, Place::Bridge)?, self.node(to, Place::Bridge)?);
        let ohms =
            quantity::read(ohms, Dimension::Resistance).map_err(|error| Refusal::unread(error, Place::Bridge, ""))?;
        if ohms < 0.0 {
            let message = format!("`{text}` has a resistance below zero");
            return Err(Refusal::new(Reason::Value, Place::Bridge, message, text, "zero or more"));
        }
        Ok(Edit::Bridge(from, to, Ohms(ohms)))
    }

    /// The node of that name.
    ///
    /// # Errors
    /// When nothing is called so.
    pub fn node(&self, name: &str, place: Place) -> Result<usize, Refusal> {
        self.machine.node(name).map_err(|error| {
            let nodes = (0..self.machine.node_count()).map(|node| self.machine.node_name(node));
            Refusal::unknown(&error, place, format!("a splice or a terminal: {}", listed(nodes)))
        })
    }

    /// The one path of that name, for an instrument in it or round it.
    ///
    /// # Errors
    /// When nothing is called so, or a part has several paths.
    pub fn branch(&self, name: &str, place: Place) -> Result<usize, Refusal> {
        self.machine.branch(name).map_err(|error| {
            let paths = names_like(name, &self.machine);
            if self.machine.part(name).is_ok() {
                let message = format!("`{name}` has several paths or none; one has to be named");
                return Refusal::new(Reason::Name, place, message, name, format!("one path of it: {paths}"));
            }
            Refusal::unknown(&error, place, format!("a part, or one path of it: {paths}"))
        })
    }
}

/// The paths of the part that a name begins with, else all.
fn names_like(name: &str, machine: &Machine) -> String {
    let part = machine.part(name.split('.').next().unwrap_or_default()).ok();
    let paths = machine.branches().iter().filter(|path| part.is_none_or(|part| path.part == part));
    listed(paths.map(|path| path.name.as_str()))
}
