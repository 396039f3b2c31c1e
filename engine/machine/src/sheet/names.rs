//! What the names of a sheet refer to: parts with their terminals and paths, splices, controls, places.
//! It is filled from the headers before any reference is followed, so that a sheet may be written in any order.
//! Promise: a part whose kind is unknown has every terminal and every path, so that one mistake is one finding.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use super::findings::{Findings, Said, shortened};
use super::near::{listed, nearest};
use super::walk::is_name;
use super::{Control, Named, Part, Place};
use crate::kind::Kind;
use crate::kind::spec::Terminals;

/// Names to look up.
#[derive(Default)]
pub(super) struct Names {
    pub places: Vec<Place>,
    pub controls: Vec<Control>,
    pub parts: Vec<PartName>,
    /// Splices and where they are named as the end of something.
    pub splices: BTreeMap<String, Vec<Range<usize>>>,
    /// `part.terminal` that some other entry shares a node with.
    pub met: BTreeSet<String>,
    /// Whether a condition on this control was read.
    pub control_used: Vec<bool>,
}

/// A part as its header and kind tell it.
pub(super) struct PartName {
    pub name: String,
    pub kind: Option<&'static Kind>,
    pub ways: Vec<Named>,
    /// Ends at which a ring joint is implied, by their paths' names; filled once all parts are read.
    pub rings: Vec<String>,
}

impl PartName {
    /// Names of its terminals, in the kind's order; a two-terminal part's are its ends.
    pub fn terminals(&self) -> Vec<String> {
        match self.kind.map(|kind| kind.terminals) {
            Some(Terminals::Ends { .. }) => vec!["from".to_owned(), "to".to_owned()],
            Some(Terminals::Named(names)) => names.iter().map(|name| (*name).to_owned()).collect(),
            Some(Terminals::Ways) => {
                let ends = |way: &Named| [format!("{}-in", way.name), format!("{}-out", way.name)];
                self.ways.iter().flat_map(ends).collect()
            }
            Some(Terminals::None) | None => Vec::new(),
        }
    }

    /// Names of its paths that a lifted joint or a pulled plug can open.
    fn paths(&self) -> Vec<String> {
        let Some(kind) = self.kind else {
            return Vec::new();
        };
        match kind.terminals {
            Terminals::Ways => self.ways.iter().map(|way| way.name.clone()).collect(),
            Terminals::Ends { rings: true } => self.rings.clone(),
            _ => {
                let named = kind.branches.iter().filter(|path| !path.name.is_empty());
                named.map(|path| path.name.to_owned()).collect()
            }
        }
    }
}

impl Names {
    /// Whether the kind of every part is known, so that what is named nowhere is certainly named nowhere.
    pub fn complete(&self) -> bool {
        self.parts.iter().all(|part| part.kind.is_some())
    }

    /// The part of that name; says so when there is none.
    pub fn part(&self, named: &Named, findings: &mut Findings<'_>) -> Option<usize> {
        let found = self.parts.iter().position(|part| part.name == named.name);
        if found.is_none() {
            let known = self.parts.iter().map(|part| part.name.as_str());
            findings.unknown("part", named, "a part of this sheet", known);
        }
        found
    }

    /// The control of that name; says so when there is none.
    pub fn control(&self, named: &Named, findings: &mut Findings<'_>) -> Option<usize> {
        let found = self.controls.iter().position(|control| control.name.name == named.name);
        if found.is_none() {
            let known = self.controls.iter().map(|control| control.name.name.as_str());
            findings.unknown("control", named, "a control of this sheet", known);
        }
        found
    }

    /// The index of a control's position; says so when there is none.
    pub fn position(&self, control: usize, named: &Named, findings: &mut Findings<'_>) -> Option<usize> {
        let control = &self.controls[control];
        let found = control.positions.iter().position(|word| *word == named.name);
        // A control without positions is a finding of its own.
        if found.is_none() && !control.positions.is_empty() {
            let known = control.positions.iter().map(String::as_str);
            let what = format!("position of control `{}`", control.name.name);
            findings.unknown(&what, named, &format!("a {what}"), known);
        }
        found
    }

    /// The place of that name; says so when there is none.
    pub fn place(&self, named: &Named, findings: &mut Findings<'_>) -> Option<usize> {
        let found = self.places.iter().position(|place| place.name.name == named.name);
        if found.is_none() {
            let known = self.places.iter().map(|place| place.name.name.as_str());
            findings.unknown("place", named, "a place of this sheet", known);
        }
        found
    }

    /// Checks what a terminal is said to share a node with, and remembers it.
    pub fn meet(&mut self, owner: &str, terminal: &str, other: &Named, findings: &mut Findings<'_>) {
        if other.name.contains('.') {
            let itself = other.name == format!("{owner}.{terminal}");
            let own_end = matches!(terminal, "from" | "to") && other.name.split('.').next() == Some(owner);
            if itself || own_end {
                findings.problem(
                    &other.span,
                    Said {
                        message: format!("`{terminal}` of part `{owner}` is fixed to the part itself"),
                        found: other.name.clone(),
                        allowed: "a terminal of another part, or a splice".to_owned(),
                        hint: Some("name what is at the far side of this connection".to_owned()),
                    },
                );
                return;
            }
            self.terminal(other, findings);
            self.met.insert(other.name.clone());
            return;
        }
        if !is_name(&other.name) {
            findings.problem(&other.span, not_a_node(other));
            return;
        }
        let mentions = self.splices.entry(other.name.clone()).or_default();
        mentions.push(other.span.clone());
    }

    /// Checks the name of a node: a terminal, or a splice that some part names.
    pub fn node(&self, named: &Named, findings: &mut Findings<'_>) {
        if named.name.contains('.') {
            self.terminal(named, findings);
        } else if !is_name(&named.name) {
            findings.problem(&named.span, not_a_node(named));
        } else if !self.splices.contains_key(&named.name) && self.complete() {
            let splices = self.splices.keys().map(String::as_str);
            let allowed = "a splice that a part names, or `part.terminal`";
            findings.unknown("splice", named, allowed, splices);
        }
    }

    fn terminal(&self, named: &Named, findings: &mut Findings<'_>) {
        let Some((part, terminal)) = named.name.split_once('.') else {
            return;
        };
        if !is_name(part) || !is_name(terminal) {
            findings.problem(&named.span, not_a_node(named));
            return;
        }
        let Some(known) = self.parts.iter().find(|known| known.name == part) else {
            let names = self.parts.iter().map(|known| known.name.as_str());
            let near = nearest(part, names);
            let hint = near.map(|near| format!("did you mean `{near}.{terminal}`?"));
            return self.unknown_part_of(named, part, hint, findings);
        };
        let terminals = known.terminals();
        let open = known.kind.is_none() || terminals.iter().any(|name| name == terminal);
        // A connector without ways is a finding of its own.
        let unfinished =
            known.kind.is_some_and(|kind| matches!(kind.terminals, Terminals::Ways)) && known.ways.is_empty();
        if open || unfinished {
            return;
        }
        let near = nearest(terminal, terminals.iter().map(String::as_str));
        let full: Vec<String> = terminals.iter().map(|name| format!("{part}.{name}")).collect();
        let allowed = if full.is_empty() {
            "another part: this one has no electrical connection".to_owned()
        } else {
            format!("one of {}", full.join(", "))
        };
        findings.absence(
            &named.span,
            Said {
                message: format!("part `{part}` has no terminal `{terminal}`"),
                found: named.name.clone(),
                allowed,
                hint: Some(near.map_or_else(
                    || {
                        if full.is_empty() { "name a part that conducts" } else { "name a terminal that it has" }
                            .to_owned()
                    },
                    |near| format!("did you mean `{part}.{near}`?"),
                )),
            },
        );
    }

    /// Checks what is lifted, unplugged or cut: `part` or `part.branch`.
    pub fn opened(&self, named: &Named, findings: &mut Findings<'_>) {
        let (part, path) = match named.name.split_once('.') {
            None => (named.name.as_str(), None),
            Some((part, path)) => (part, Some(path)),
        };
        let Some(known) = self.parts.iter().find(|known| known.name == part) else {
            let near = nearest(part, self.parts.iter().map(|known| known.name.as_str()));
            let hint = near.map(|near| match path {
                Some(path) => format!("did you mean `{near}.{path}`?"),
                None => format!("did you mean `{near}`?"),
            });
            return self.unknown_part_of(named, part, hint, findings);
        };
        let paths = known.paths();
        let Some(kind) = known.kind else { return };
        let conducts = !matches!(kind.terminals, Terminals::None);
        let fits = match path {
            None => conducts,
            Some(path) => paths.iter().any(|name| name == path),
        };
        if fits {
            return;
        }
        let mut full: Vec<String> = paths.iter().map(|name| format!("{part}.{name}")).collect();
        full.insert(0, part.to_owned());
        let allowed = if conducts { full.join(", ") } else { "a part that conducts".to_owned() };
        let message = match path {
            None => format!("part `{part}` has nothing that can be opened"),
            Some(path) => format!("part `{part}` has no branch `{path}`"),
        };
        let near = path.and_then(|path| nearest(path, paths.iter().map(String::as_str)));
        let ring = path.is_some_and(|path| path.ends_with("-ring")) && near.is_none();
        let hint = match near {
            Some(near) => Some(format!("did you mean `{part}.{near}`?")),
            None if ring => Some("only a cable's end at another part's terminal has a ring".to_owned()),
            None if conducts => Some(format!("write `{part}` to open all of it")),
            None => Some("name a part that carries current".to_owned()),
        };
        findings.absence(&named.span, Said { message, found: named.name.clone(), allowed, hint });
    }

    fn unknown_part_of(&self, named: &Named, part: &str, hint: Option<String>, findings: &mut Findings<'_>) {
        let known = self.parts.iter().map(|known| known.name.as_str());
        let allowed = listed(known).unwrap_or_default();
        findings.absence(
            &named.span,
            Said {
                message: format!("no part is called `{}`", shortened(part)),
                found: shortened(&named.name),
                allowed: format!("a part of this sheet: {allowed}"),
                hint: hint.or_else(|| Some("correct the name, or add the part to the sheet".to_owned())),
            },
        );
    }

    /// Fills in where ring joints are implied: at a cable's end that names a terminal of a part other than a joint.
    pub fn find_rings(&mut self, parts: &[Part]) {
        let is_joint = |name: &str| {
            let part = self.parts.iter().find(|part| part.name == name);
            part.is_some_and(|part| part.kind.is_some_and(|kind| kind.name == "joint"))
        };
        let mut rings: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for part in parts {
            if !matches!(part.kind.terminals, Terminals::Ends { rings: true }) {
                continue;
            }
            let implied = part.terminals.iter().filter(|(_, other)| {
                let other = other.as_ref().and_then(|other| other.name.split_once('.'));
                other.is_some_and(|(owner, _)| !is_joint(owner))
            });
            let names = implied.map(|(terminal, _)| format!("{terminal}-ring")).collect();
            rings.insert(part.name.name.clone(), names);
        }
        for part in &mut self.parts {
            part.rings = rings.remove(&part.name).unwrap_or_default();
        }
    }
}

fn not_a_node(named: &Named) -> Said {
    Said {
        message: format!("`{}` is neither a terminal nor a splice", shortened(&named.name)),
        found: shortened(&named.name),
        allowed: "`part.terminal`, or a splice's name of letters, digits, - and _".to_owned(),
        hint: Some("write a part, a dot and its terminal, as in `battery.plus`".to_owned()),
    }
}
