//! From text to a sheet or its problems.
//! Idea: names first (places, controls, parts with their kinds), then everything that refers to them.
//! Promise: no text makes it panic; reading never stops at the first problem; one mistake is one finding.

use toml::de::DeTable;

use super::findings::{Findings, Said};
use super::names::Names;
use super::near::nearest;
use super::walk::Block;
use super::{Part, Sheet, fault, guess, machine, meter, part, state, syntax};
use crate::kind::spec::Terminals;
use crate::problem::Problem;

/// What came of reading a sheet.
pub struct Reading {
    /// The sheet, if nothing is in its way.
    pub sheet: Option<Sheet>,
    /// Problems and notes, in the order of the text.
    pub findings: Vec<Problem>,
}

/// Reads a sheet's text.
pub fn read(text: &str) -> Reading {
    let mut findings = Findings::new(text);
    let (table, errors) = DeTable::parse_recoverable(text);
    syntax::report(text, &errors, &mut findings);
    let mut top = Block::new("the sheet".to_owned(), 0..0, table.get_ref());

    machine::edition(&mut top, &mut findings);
    let heading = machine::heading(&mut top, &mut findings);
    let mut names = Names {
        places: machine::places(&mut top, &mut findings),
        controls: machine::controls(&mut top, &mut findings),
        ..Names::default()
    };
    names.control_used = vec![false; names.controls.len()];
    let mut blocks = top.sections("part", &mut findings);
    names.parts = part::headers(&mut blocks, &mut findings);

    let parts = part::parts(blocks, &mut names, &mut findings);
    names.find_rings(&parts);
    for node in [&heading.reference, &heading.ground].into_iter().flatten() {
        names.node(node, &mut findings);
    }
    let states = state::states(&mut top, &names, &parts, &mut findings);
    let faults = fault::faults(&mut top, &names, &mut findings);
    let odds = fault::odds(&mut top, &names, &mut findings);
    let meters = meter::meters(&mut top, &mut findings);
    let guesses = guess::guesses(&mut top, &names, &parts, &mut findings);
    let questions = guess::questions(&mut top, &names, &mut findings);
    top.finish(&mut findings);
    require_a_circuit(&names, &mut findings);
    if names.complete() {
        note_lonely_splices(&names, &mut findings);
        note_loose_terminals(&names, &parts, &mut findings);
        note_unused_controls(&names, &mut findings);
    }

    let findings = findings.finish();
    let usable = !findings.iter().any(Problem::is_in_the_way);
    let sheet = usable.then_some(Sheet {
        id: heading.id,
        title: heading.title,
        reference: heading.reference,
        ground: heading.ground,
        places: names.places,
        controls: names.controls,
        parts,
        states,
        faults,
        odds,
        meters,
        guesses,
        questions,
    });
    Reading { sheet, findings }
}

/// A sheet without a node has nothing to be measured.
fn require_a_circuit(names: &Names, findings: &mut Findings<'_>) {
    let conducts =
        names.parts.iter().any(|part| part.kind.is_none_or(|kind| !matches!(kind.terminals, Terminals::None)));
    if !conducts {
        findings.absence(
            &(0..0),
            Said {
                message: "the sheet has no part that conducts".to_owned(),
                found: String::new(),
                allowed: "parts such as battery, cable, starter".to_owned(),
                hint: Some("write `[part.battery]` and under it `kind = \"battery\"`".to_owned()),
            },
        );
    }
}

/// A splice that is named once is probably a slip of the pen.
fn note_lonely_splices(names: &Names, findings: &mut Findings<'_>) {
    for (splice, mentions) in &names.splices {
        let [only] = mentions.as_slice() else {
            continue;
        };
        let part = names.parts.iter().find(|part| part.name == *splice);
        let terminal = part.and_then(|part| part.terminals().first().cloned());
        let others = names.splices.keys().filter(|other| *other != splice);
        let hint = match (terminal, nearest(splice, others.map(String::as_str))) {
            (Some(terminal), _) => format!("`{splice}` is a part too: did you mean `{splice}.{terminal}`?"),
            (None, Some(near)) => format!("did you mean `{near}`?"),
            (None, None) => "connect something else to it, or correct the name".to_owned(),
        };
        findings.note(
            only,
            Said {
                message: format!("dangling end: splice `{splice}` is named only once"),
                found: splice.clone(),
                allowed: "a splice that at least two ends name".to_owned(),
                hint: Some(hint),
            },
        );
    }
}

/// Terminals with a path behind them that nothing is connected to.
fn note_loose_terminals(names: &Names, parts: &[Part], findings: &mut Findings<'_>) {
    for part in parts {
        let ways = matches!(part.kind.terminals, Terminals::Ways);
        if !ways && !matches!(part.kind.terminals, Terminals::Named(_)) {
            continue;
        }
        let conducts = |index| part.kind.branches.iter().any(|path| path.from == index || path.to == index);
        let terminals = part.terminals.iter().enumerate();
        let loose = terminals.filter(|(index, (_, other))| (ways || conducts(*index)) && other.is_none());
        let loose: Vec<String> = loose
            .filter(|(_, (terminal, _))| !part.kind.is_inner(&part.values, terminal))
            .map(|(_, (terminal, _))| format!("{}.{terminal}", part.name.name))
            .filter(|full| !names.met.contains(full))
            .collect();
        if loose.is_empty() {
            continue;
        }
        findings.note(
            &part.name.span,
            Said {
                message: format!("dangling end: nothing is connected to {}", loose.join(", ")),
                found: part.name.name.clone(),
                allowed: "an end that names it".to_owned(),
                hint: Some("connect it, if it is connected on the machine".to_owned()),
            },
        );
    }
}

fn note_unused_controls(names: &Names, findings: &mut Findings<'_>) {
    for (control, used) in names.controls.iter().zip(&names.control_used) {
        if !used {
            findings.note(
                &control.name.span,
                Said {
                    message: format!("control `{}` moves nothing", control.name.name),
                    found: control.name.name.clone(),
                    allowed: "a part with `closed-when` that names it".to_owned(),
                    hint: Some("name it where it switches something, or delete it".to_owned()),
                },
            );
        }
    }
}
