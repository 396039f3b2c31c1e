//! The schematic of a machine: drawn at rest, or with what a state and faults do to it.

use std::collections::BTreeSet;

use drawing::{Layout, Overlay, Potentials, Width};
use machine::{Bench, Machine, Setting};

use super::changes::Changes;
use super::machines::Ready;
use super::refusal::Refusal;
use super::stand::Stand;

/// What a drawn state shows.
#[derive(Clone, Debug)]
pub struct Shown {
    /// Voltages and currents; of what chatters, with its relays released.
    pub potentials: Potentials,
    /// Whether relays pull in and drop out for ever.
    pub chatters: bool,
    /// Parts with a planted fault.
    pub faulty: Vec<usize>,
    /// The state and what was changed, in a line.
    pub caption: String,
}

/// Solves a state to be drawn.
///
/// # Errors
/// When something asked for does not exist or cannot be read, or the circuit has no solution.
pub fn shown(stand: &Stand, state: Option<&str>, changes: &Changes) -> Result<Shown, Refusal> {
    let name = state.map_or_else(|| stand.usual_state(), str::to_owned);
    let state = stand.state(&name)?;
    let edits = stand.edits(changes)?;
    let mut bench = Bench::new();
    let setting = Setting { state: &state, edits: &edits, air: stand.air(changes)? };
    let machine = &stand.machine;
    let point = bench.solve(machine, &setting).map_err(|error| Refusal::unsolvable(error, machine))?;
    let potentials = Potentials::new(machine, &bench.network, &point.state);
    let mut faulty = BTreeSet::new();
    for text in &changes.faults {
        let (name, _) = stand.planted(text)?;
        faulty.extend(stand.fault(name)?.part);
    }
    let chatters = point.pulled().is_some();
    let mut said = vec![format!("state {}: {}", state.name, state.title)];
    if chatters {
        said.push("relays chatter; drawn released".to_owned());
    }
    said.extend(changes.faults.iter().map(|fault| format!("fault {fault}")));
    said.extend(changes.edits_as_given().into_iter().map(|edit| format!("edit {edit}")));
    said.extend(changes.air.iter().map(|air| format!("air {air}")));
    Ok(Shown { potentials, chatters, faulty: faulty.into_iter().collect(), caption: said.join("; ") })
}

/// Draws a machine as a picture that stands alone; nothing shown: at rest, without a solution.
pub fn picture(machine: &Machine, width: Width, shown: Option<&Shown>) -> String {
    let layout = Layout::new(machine, width);
    let mut overlay = Overlay { standalone: true, ..Overlay::default() };
    if let Some(shown) = shown {
        overlay.solution = Some(&shown.potentials);
        overlay.faults = &shown.faulty;
        overlay.caption = &shown.caption;
    }
    drawing::draw(machine, &layout, &overlay)
}

/// The same for a page: it takes the page's colors, and each node is a link where one is wanted.
pub fn for_page(ready: &Ready, narrow: bool, overlay: &Overlay<'_>) -> String {
    drawing::draw(&ready.machine, ready.layout(narrow), overlay)
}
