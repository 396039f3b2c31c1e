//! What is changed on a machine before it is solved: faults, values, opened paths, bridges, air temperature.
//! Everything comes as text from a person or a request and is looked up here, once, for all verbs.
//! Order: values first, then faults on top of them, then what is opened, then bridges.

use machine::kind::Want;
use machine::{Edit, Machine};
use quantity::{Celsius, Dimension, Ohms};

use super::refusal::{Place, Reason, Refusal, did_you_mean, listed};
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
    /// The faults as asked for, whole.
    pub fn faults_as_given(&self) -> Vec<&str> {
        self.faults.iter().map(String::as_str).collect()
    }

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
                Refusal::unknown(&error, Place::Open, format!("a part, or one path of it: {}", names_like(name, &self.machine)))
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
        let Some(dimension) = fault.dimension else {
            let message = format!("`{name}` is all or nothing; it takes no severity");
            return Err(Refusal::new(Reason::Value, Place::Fault, message, given, format!("`{name}` alone"))
                .with_hint(format!("write `{name}`")));
        };
        let bare = given.replace(',', ".").parse::<f64>().ok().filter(|value| value.is_finite());
        let severity = match bare {
            Some(bare) => bare,
            None => quantity::read(given, dimension).map_err(|error| Refusal::unread(error, Place::Fault, name))?,
        };
        Ok((name, severity))
    }

    fn set(&self, path: &str, value: &str) -> Result<Edit, Refusal> {
        let machine = &self.machine;
        let Some((part_name, field_name)) = path.trim().split_once('.') else {
            let message = format!("`{path}` names no field of a part");
            return Err(Refusal::new(Reason::Form, Place::Set, message, path, "PART.FIELD=VALUE")
                .with_hint("write it as in `starter-relay.pull-in=8 V`"));
        };
        let part = machine.part(part_name).map_err(|error| {
            let parts = machine.sheet.parts.iter().map(|part| part.name.name.as_str());
            Refusal::unknown(&error, Place::Set, format!("a part: {}", listed(parts)))
        })?;
        let kind = machine.sheet.parts[part].kind;
        let slot = machine.slot(part, field_name).map_err(|error| {
            let fields = listed(kind.fields.iter().map(|field| field.name));
            Refusal::unknown(&error, Place::Set, format!("a field of `{part_name}`, a {}: {fields}", kind.name))
        })?;
        let want = kind.fields.iter().find(|field| field.name == field_name).map_or(Want::Flag, |field| field.want);
        Ok(Edit::Set { slot, to: value_of(want, path, value.trim())? })
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
        let ohms = quantity::read(ohms, Dimension::Resistance)
            .map_err(|error| Refusal::unread(error, Place::Bridge, ""))?;
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
            Refusal::unknown(&error, place, format!("a part, or one path of it: {}", names_like(name, &self.machine)))
        })
    }
}

/// The paths of the part that a name begins with, else all.
fn names_like(name: &str, machine: &Machine) -> String {
    let part = machine.part(name.split('.').next().unwrap_or_default()).ok();
    let paths = machine.branches().iter().filter(|path| part.is_none_or(|part| path.part == part));
    listed(paths.map(|path| path.name.as_str()))
}

/// A value of a field, as the kind wants it.
fn value_of(want: Want, path: &str, text: &str) -> Result<f64, Refusal> {
    let refuse = |message: String, allowed: String| Refusal::new(Reason::Value, Place::Set, message, text, allowed);
    match want {
        Want::Quantity(dimension) => {
            quantity::read(text, dimension).map_err(|error| Refusal::unread(error, Place::Set, path))
        }
        Want::Ratio { low, high } => {
            let value = quantity::read(text, Dimension::Ratio)
                .map_err(|error| Refusal::unread(error, Place::Set, path))?;
            if (low..=high).contains(&value) {
                return Ok(value);
            }
            Err(refuse(format!("{path}: {text} is out of range"), format!("{low} to {high}")))
        }
        Want::Choice(words) => match words.iter().position(|word| *word == text) {
            Some(index) => Ok(index as f64),
            None => {
                let near: Vec<String> =
                    words.iter().filter(|word| word.starts_with(text.get(..1).unwrap_or("-"))).map(|word| (*word).to_owned()).collect();
                let refusal = refuse(format!("{path}: `{text}` is not a word for this"), listed(words.iter().copied()));
                Err(Refusal { hint: did_you_mean(&near), ..refusal })
            }
        },
        Want::Flag => match text {
            "true" => Ok(1.0),
            "false" => Ok(0.0),
            _ => Err(refuse(format!("{path}: `{text}` is neither true nor false"), "true, false".to_owned())),
        },
        Want::Controls | Want::Part(_) => Err(refuse(
            format!("{path} is part of the wiring and cannot be set for one solution"),
            "fields with a number or a word".to_owned(),
        )
        .with_hint("change it in a copy of the sheet")),
    }
}
