//! `[state.NAME]`: where the controls stand, what is lifted, and what is to be minded.
//! Rules: a control that is not named is at its first position; `pull-in` and `dead-held` are derived from other
//! states and cannot be written; a sheet without states has one, `rest`.

use super::findings::{Findings, Said, shortened};
use super::machine::title;
use super::names::Names;
use super::near::nearest;
use super::walk::Block;
use super::{Named, Part, State};

/// States that the machine derives from others.
const DERIVED: [(&str, &str); 2] = [("pull-in", "`held`"), ("dead-held", "`dead` and `held`")];

/// All states of the sheet.
pub(super) fn states(top: &mut Block<'_>, names: &Names, parts: &[Part], findings: &mut Findings<'_>) -> Vec<State> {
    let mut states = Vec::new();
    for (name, mut block) in top.sections("state", findings) {
        refuse_derived(&name, findings);
        let title = title(&mut block, &name, findings);
        let positions = positions(&mut block, names, findings);
        let rotor = word("rotor", &["blocked", "free"], &mut block, findings);
        if let Some((_, named)) = &rotor
            && names.complete()
        {
            note_rotor_without_motor(named, parts, findings);
        }
        let must = word("must", &["refuse"], &mut block, findings);
        let open = block.texts("open", findings).unwrap_or_default();
        for named in &open {
            names.opened(named, findings);
        }
        let running = block.flag("running", findings) || name.name == "running";
        let caution = block.text_or_empty("caution", findings);
        block.finish(findings);
        states.push(State {
            name,
            title,
            positions,
            blocked: rotor.is_some_and(|(word, _)| word == 0),
            must_refuse: must.is_some(),
            running,
            open,
            caution,
        });
    }
    if states.is_empty() {
        states.push(rest(names));
    }
    states
}

/// The one state of a sheet that writes none.
fn rest(names: &Names) -> State {
    State {
        name: Named { name: "rest".to_owned(), span: 0..0 },
        title: "rest".to_owned(),
        positions: vec![0; names.controls.len()],
        blocked: false,
        must_refuse: false,
        running: false,
        open: Vec::new(),
        caution: String::new(),
    }
}

fn refuse_derived(name: &Named, findings: &mut Findings<'_>) {
    if let Some((word, from)) = DERIVED.iter().find(|(word, _)| *word == name.name) {
        findings.problem(
            &name.span,
            Said {
                message: format!("state `{word}` is derived and cannot be written"),
                found: (*word).to_owned(),
                allowed: "rest, on, held, running, dead, or a name of your own".to_owned(),
                hint: Some(format!("delete it: it follows from {from}")),
            },
        );
    }
}

fn positions(block: &mut Block<'_>, names: &Names, findings: &mut Findings<'_>) -> Vec<usize> {
    let mut positions = vec![0; names.controls.len()];
    let Some(mut table) = block.table("controls", "{ key = \"on\" }", findings) else {
        return positions;
    };
    for entry in table.rest() {
        let word = table.as_text(&entry, "one position in quotes", findings);
        let control = names.control(&entry.key, findings);
        if let (Some(control), Some(word)) = (control, word) {
            positions[control] = names.position(control, &word, findings).unwrap_or(0);
        }
    }
    positions
}

/// One of a few words: its index, and where it stands.
pub(super) fn word(
    key: &str,
    words: &[&str],
    block: &mut Block<'_>,
    findings: &mut Findings<'_>,
) -> Option<(usize, Named)> {
    let named = block.text(key, findings)?;
    if let Some(index) = words.iter().position(|word| *word == named.name) {
        return Some((index, named));
    }
    let near = nearest(&named.name, words.iter().copied());
    let only = words.first().filter(|_| words.len() == 1);
    let hint = match (near, only) {
        (Some(near), _) => Some(format!("did you mean \"{near}\"?")),
        (None, Some(only)) => Some(format!("write \"{only}\", or delete the line")),
        (None, None) => Some("write one of these words".to_owned()),
    };
    findings.problem(
        &named.span,
        Said {
            message: format!("`{key}` of {}: \"{}\" is not a word for this", block.of, shortened(&named.name)),
            found: shortened(&named.name),
            allowed: words.join(", "),
            hint,
        },
    );
    None
}

fn note_rotor_without_motor(rotor: &Named, parts: &[Part], findings: &mut Findings<'_>) {
    let motor = |part: &Part| matches!(part.kind.name, "motor" | "starter");
    if !parts.iter().any(motor) {
        findings.note(
            &rotor.span,
            Said {
                message: "a rotor is spoken of, but the sheet has no motor".to_owned(),
                found: rotor.name.clone(),
                allowed: "a part of kind starter or motor".to_owned(),
                hint: Some("delete the line, or add the motor".to_owned()),
            },
        );
    }
}
