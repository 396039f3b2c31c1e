//! Drawings of a job's report: the schematic with the fault and the leads laid on it, the strip of each probe.
//! Promise: a drawing has the same words as its description; one that cannot be solved is drawn at rest.

use drawing::{Layout, Overlay, Width};
use journal::Job;
use machine::Fault;
use serde::Serialize;

use crate::shop::changes::Changes;
use crate::shop::machines::Ready;
use crate::shop::schematic;
use crate::shop::stand::Stand;

/// A drawing.
#[derive(Clone, Debug, Serialize)]
pub struct Figure {
    /// Its name as a file.
    pub name: String,
    /// What it shows, in words.
    pub alt: String,
    /// The drawing, in the colors of the page.
    #[serde(skip)]
    pub svg: String,
}

/// The schematic, laid out for each use.
#[derive(Clone, Debug, Serialize)]
pub struct Drawn {
    /// Below it.
    pub caption: String,
    /// For paper and screens.
    pub paper: Figure,
    /// For telephones.
    pub narrow: Figure,
}

/// Draws the schematic of a job with its fault.
pub fn drawn(ready: &Ready, job: &Job, fault: &Fault, keystone: Option<&str>) -> Option<Drawn> {
    let machine = &ready.machine;
    let stand = Stand::new(machine.clone());
    let probe = keystone.and_then(|name| machine.probe(name).ok());
    let air = job.air().filter(|air| *air != "skip").map(str::to_owned);
    let changes = Changes { air, faults: vec![fault.name.clone()], ..Changes::default() };
    let state = probe.as_ref().map_or_else(|| stand.usual_state(), |probe| probe.state.clone());
    let shown = schematic::shown(&stand, Some(&state), &changes).ok();
    let title = machine.state(&state).map_or_else(|_| state.clone(), |state| state.title);
    let faulty: Vec<usize> = fault.part.into_iter().collect();
    let leads = if probe.as_ref().is_some_and(|probe| !probe.red.is_empty()) {
        "; red lead (R) and black lead (B) where the reading was taken that this rests on"
    } else {
        ""
    };
    let caption = match shown {
        Some(_) => {
            format!("Computed with this fault, of middling severity: {title}. A triangle marks the faulty part{leads}.")
        }
        None => format!("The machine at rest. A triangle marks the faulty part{leads}."),
    };
    let overlay = Overlay {
        solution: shown.as_ref().map(|shown| &shown.potentials),
        red: probe.as_ref().and_then(|probe| machine.node(&probe.red).ok()),
        black: probe.as_ref().and_then(|probe| machine.node(&probe.black).ok()),
        faults: &faulty,
        ..Overlay::default()
    };
    let alt = format!("Schematic of {}. {caption} The fault: {}.", machine.sheet.title, fault.title);
    let figure = |name: &str, layout: &Layout| Figure {
        name: name.to_owned(),
        alt: alt.clone(),
        svg: drawing::draw(machine, layout, &overlay),
    };
    Some(Drawn {
        paper: figure("schematic.svg", &Layout::new(machine, Width::Print)),
        narrow: figure("schematic-narrow.svg", ready.layout(true)),
        caption,
    })
}
