//! Care: how the battery is stored, when the bushing is looked at again, what the joints may drop; and the cautions.
//! Figures come from the worksheets with the machine's own values; what is only told carries its mark in `sources`.

use calculator::{Answer, Cell};
use machine::Machine;

use super::Care;

/// What to mind with any of these machines (common practice, no source, but for the limits of lithium cells, which their
/// makers publish).
const ALWAYS: [&str; 6] = [
    "rings and bracelets off; the battery's negative lead comes off first and goes on last; no tool across the terminals",
    "neutral, driven wheel off the ground, hands, hair and clothing clear of chain, wheel and pinion before start is pressed",
    "start is held 5 s at most, then 30 s rest; stop when relay or cable is too hot to be touched",
    "a spark plug that is out of its bore lies on bare metal of the engine, or the ignition is off, before anybody cranks; \
     fuel vapor burns: no flame, no smoking, no spark near tank and breather",
    "never bridge the relay's two large studs with a tool: that starts the machine in gear, past every interlock",
    "never lift the battery while the engine runs; help a start only from 12 V; charging ends at once when a battery \
     swells, smells or gets hot",
];

/// How a battery is stored, by chemistry; mark of the source behind it.
const STORED: [(&str, &[&str], &str); 3] = [
    (
        "lfp-4s",
        &[
            "Store it half to four fifths full, cool and dry, its negative lead off; look at it every three months.",
            "Charge it with a charger for lithium iron phosphate, 14.6 V at most, never below 0 °C; no charger that \
             desulfates or equalizes.",
            "Below 8 V at the posts it is not charged any more, nor when swollen: it goes to the dealer's collection.",
        ],
        "common practice, no source; 14.6 V and 0 °C are the cell makers' usual limits",
    ),
    (
        "agm",
        &[
            "Store it full, cool and dry, its negative lead off; charge it again every two to three months, sooner when \
             it rests below 12.5 V.",
            "Charge it with a charger for sealed batteries (AGM), 14.4 V to 14.7 V; never open it.",
        ],
        "common practice, no source",
    ),
    (
        "flooded",
        &[
            "Store it full, cool and frost-free, its negative lead off; charge it again every month: an empty one freezes \
             and sulfates.",
            "Charge it in the open with its caps loose, 14.4 V to 14.8 V; top up with distilled water only, after \
             charging, to the mark.",
        ],
        "common practice, no source",
    ),
];

/// The pieces of care that this machine wants.
pub fn care(machine: &Machine) -> Vec<Care> {
    [battery(machine), bushing(machine), joints(machine)].into_iter().flatten().collect()
}

/// What to mind: always, and at the places of this machine.
pub fn cautions(machine: &Machine) -> Vec<String> {
    let places = machine.sheet.places.iter().filter(|place| !place.caution.is_empty());
    let states = machine.sheet.states.iter().filter(|state| !state.caution.is_empty());
    let of_places = places.map(|place| format!("{}: {}", place.title, place.caution));
    let of_states = states.map(|state| format!("{}: {}", state.title, state.caution));
    ALWAYS.iter().map(|text| (*text).to_owned()).chain(of_places).chain(of_states).collect()
}

/// A worksheet worked with nothing but the machine's own values.
fn worked(machine: &Machine, name: &str) -> Option<Answer> {
    let answer = calculator::find(name)?.answer(Some(machine), |_| Vec::new());
    answer.ok().map(|(_, answer)| answer)
}

fn battery(machine: &Machine) -> Option<Care> {
    let part = machine.sheet.parts.iter().position(|part| part.kind.name == "battery")?;
    let chemistry = machine.word_with(part, "chemistry", &[])?;
    let (_, stored, source) = STORED.iter().find(|(known, ..)| *known == chemistry)?;
    let mut told: Vec<String> = stored.iter().map(|text| (*text).to_owned()).collect();
    let mut cautions = Vec::new();
    let mut sources = vec![(*source).to_owned()];
    if let Some(drain) = worked(machine, "drain") {
        told.push(format!("Left connected: {}.", drain.headline));
        sources.extend(drain.sources.iter().map(|source| (*source).to_owned()));
    }
    let by_charge = worked(machine, "battery");
    let table = by_charge.as_ref().and_then(|answer| answer.tables.first()).map(table);
    if let Some(answer) = &by_charge {
        told.push("Its charge by rest voltage, hours after the last ride or charge:".to_owned());
        cautions.extend(answer.cautions.iter().map(|text| (*text).to_owned()));
        sources.extend(answer.sources.iter().map(|source| (*source).to_owned()));
    }
    Some(Care { title: "The battery, stored".to_owned(), told, table, cautions, sources })
}

/// Only an inertia drive stops going into mesh for a worn bushing.
fn bushing(machine: &Machine) -> Option<Care> {
    let drive = machine.sheet.parts.iter().position(|part| part.kind.name == "drive")?;
    let worn = machine.sheet.parts.iter().any(|part| part.kind.name == "bushing");
    if machine.word_with(drive, "type", &[]) != Some("inertia") || !worn {
        return None;
    }
    let wear = worked(machine, "wear")?;
    let mut told = vec![format!("From {}.", wear.headline)];
    let again = wear.figures.iter().find(|figure| figure.title == "look again after");
    told.extend(again.map(|figure| format!("Look at it again after {}.", figure.value.text())));
    told.push(
        "The helix of an inertia drive stays dry or has dry lubricant, never grease: dirt sticks to it.".to_owned(),
    );
    told.extend(wear.advice.iter().cloned());
    let mut sources: Vec<String> = wear.sources.iter().map(|source| (*source).to_owned()).collect();
    sources.push("helix kept dry: common practice, no source".to_owned());
    let cautions = wear.cautions.iter().map(|text| (*text).to_owned()).collect();
    let table = wear.tables.first().map(table);
    Some(Care { title: "The starter's bushing".to_owned(), told, table, cautions, sources })
}

fn joints(machine: &Machine) -> Option<Care> {
    let drop = worked(machine, "drop")?;
    let mut told = vec![
        format!("Sound, {}.", drop.headline),
        "Once a year, and after work on the cables: each joint below, volts across it while start is held. Above \
         \"may drop\": take it apart, clean both faces to bare metal, bolt it tight, grease afterwards."
            .to_owned(),
    ];
    told.extend(drop.advice.iter().cloned());
    let mut sources: Vec<String> = drop.sources.iter().map(|source| (*source).to_owned()).collect();
    sources.push("once a year; grease after tightening: common practice, no source".to_owned());
    let cautions = drop.cautions.iter().map(|text| (*text).to_owned()).collect();
    let table = drop.tables.first().map(table);
    Some(Care { title: "The joints of the starter's path".to_owned(), told, table, cautions, sources })
}

fn table(table: &calculator::Table) -> (Vec<String>, Vec<Vec<String>>) {
    let heads = table.columns.iter().map(|column| column.title.to_owned()).collect();
    (heads, table.rows.iter().map(|row| row.iter().map(Cell::text).collect()).collect())
}
