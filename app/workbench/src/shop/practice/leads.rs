//! Where the learner's hands are: leads, dial, controls.
//! Promise: moving them costs nothing; reading does. A position of the controls is one of the sheet's operating states:
//! where several have what was asked for, the one that moves the fewest other controls.

use machine::Instrument;

use super::super::refusal::{Place, Reason, Refusal, listed};
use super::super::stand::Stand;
use super::no_such;

/// Where leads, dial and controls are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hand {
    /// Node of the red lead.
    pub red: Option<String>,
    /// Node of the black lead.
    pub black: Option<String>,
    /// The part that the ammeter or lamp is in the place of, or that the clamp is round.
    pub around: Option<String>,
    /// The instrument.
    pub mode: Instrument,
    /// Name of the operating state.
    pub state: String,
    /// Whether the ohmmeter takes its leads off.
    pub nulled: bool,
}

impl Hand {
    pub(super) fn new(stand: &Stand) -> Self {
        let names = stand.machine.state_names();
        let rest = names.iter().find(|name| *name == "rest").or(names.first());
        Self {
            red: None,
            black: None,
            around: None,
            mode: Instrument::Volts,
            state: rest.cloned().unwrap_or_default(),
            nulled: false,
        }
    }

    pub(super) fn red(&mut self, stand: &Stand, node: &str) -> Result<(), Refusal> {
        let found = stand.node(node.trim(), Place::Request)?;
        self.red = Some(stand.machine.node_name(found).to_owned());
        self.around = None;
        Ok(())
    }

    pub(super) fn black(&mut self, stand: &Stand, node: &str) -> Result<(), Refusal> {
        let found = stand.node(node.trim(), Place::Request)?;
        self.black = Some(stand.machine.node_name(found).to_owned());
        self.around = None;
        Ok(())
    }

    pub(super) fn around(&mut self, stand: &Stand, part: &str) -> Result<(), Refusal> {
        let found = stand.branch(part.trim(), Place::Request)?;
        self.around = Some(stand.machine.branches()[found].name.clone());
        Ok(())
    }

    pub(super) fn mode(&mut self, mode: &str) -> Result<(), Refusal> {
        let words = Instrument::NAMES.iter().map(|(word, _)| *word);
        self.mode = Instrument::find(mode.trim()).ok_or_else(|| no_such("mode", mode.trim(), words))?;
        Ok(())
    }

    pub(super) fn enter(&mut self, stand: &Stand, state: &str) -> Result<(), Refusal> {
        self.state.clone_from(&stand.state(state)?.name);
        Ok(())
    }

    /// Moves a control; the titles and positions of those that had to be moved along.
    pub(super) fn operate(&mut self, stand: &Stand, control: &str, position: &str) -> Result<Vec<String>, Refusal> {
        let sheet = &stand.machine.sheet;
        let index = find_control(stand, control)?;
        let positions = &sheet.controls[index].positions;
        let wanted = positions.iter().position(|known| known == position.trim()).ok_or_else(|| {
            let what = format!("position of `{}`", sheet.controls[index].name.name);
            no_such(&what, position.trim(), positions.iter().map(String::as_str))
        })?;
        // What is unplugged stays so.
        let (base, unplugged) = match self.state.split_once('~') {
            Some((base, rest)) => (base.to_owned(), format!("~{rest}")),
            None => (self.state.clone(), String::new()),
        };
        let now = stand.state(&base)?.into_owned();
        let moved = |positions: &[usize]| -> Vec<usize> {
            (0..positions.len()).filter(|other| *other != index && positions[*other] != now.positions[*other]).collect()
        };
        let mut best: Option<(String, Vec<usize>, Vec<usize>)> = None;
        for name in stand.machine.state_names() {
            let Ok(state) = stand.state(&name) else { continue };
            let same = state.open == now.open && state.running == now.running && state.blocked == now.blocked;
            if !same || state.positions[index] != wanted {
                continue;
            }
            let along = moved(&state.positions);
            if best.as_ref().is_none_or(|(_, known, _)| along.len() < known.len()) {
                best = Some((name, along, state.positions.clone()));
            }
        }
        let Some((name, along, positions)) = best else {
            let message = format!(
                "the sheet knows no state with the {} {} from here",
                sheet.controls[index].title,
                position.trim()
            );
            let names = stand.machine.state_names();
            return Err(Refusal::new(
                Reason::Value,
                Place::Request,
                message,
                position,
                listed(names.iter().map(String::as_str)),
            )
            .with_hint("`state NAME` goes there at once; `states` lists them"));
        };
        self.state = name + &unplugged;
        let told = |other: &usize| {
            let control = &sheet.controls[*other];
            format!("{} {}", control.title, control.positions[positions[*other]])
        };
        Ok(along.iter().map(told).collect())
    }

    /// The probe that instrument, leads and controls amount to.
    pub(super) fn probe(&self) -> Result<String, Refusal> {
        let word = self.mode.name();
        let missing = |what: &str, hint: &str| {
            let message = format!("{word}: {what}");
            Err(Refusal::new(Reason::Form, Place::Request, message, "", "leads that are connected").with_hint(hint))
        };
        match (self.mode, &self.around, &self.red, &self.black) {
            (Instrument::Amps | Instrument::Clamp | Instrument::Lamp, Some(part), _, _) => {
                Ok(format!("{word}@{}:{part}", self.state))
            }
            (Instrument::Amps | Instrument::Clamp, None, _, _) => {
                missing("it is nowhere yet", "type `in PART`, as in `in battery-ring`")
            }
            (_, _, Some(red), Some(black)) => Ok(format!("{word}@{}:{red},{black}", self.state)),
            (_, _, None, _) => missing("the red lead is nowhere yet", "type `red NODE`; `points` lists the nodes"),
            (_, _, _, None) => missing("the black lead is nowhere yet", "type `black NODE`; `points` lists the nodes"),
        }
    }
}

/// A control by its name or its title.
pub(super) fn find_control(stand: &Stand, text: &str) -> Result<usize, Refusal> {
    let controls = &stand.machine.sheet.controls;
    let wanted = text.trim().to_lowercase().replace(' ', "-");
    let is = |control: &machine::sheet::Control| {
        control.name.name == wanted || control.title.to_lowercase().replace(' ', "-") == wanted
    };
    controls
        .iter()
        .position(is)
        .ok_or_else(|| no_such("control", text.trim(), controls.iter().map(|control| control.name.name.as_str())))
}
