//! How the circuit works, state by state, in words that are read off its solution: what battery, relays, motors and
//! fuses do, what carries current, which points are live.
//! Limit: the machine as its sheet gives it, sound, at 20 °C; relays that chatter are told of, and drawn released.

use drawing::{Layout, Overlay, Width};
use machine::Machine;
use quantity::{Dimension, show};

use super::StateTold;
use crate::shop::answer::Solved;
use crate::shop::changes::Changes;
use crate::shop::refusal::Refusal;
use crate::shop::schematic;
use crate::shop::stand::{Request, Stand};

/// Currents below this are not worth a line, A.
const CURRENT: f64 = 0.5e-3;
/// Points closer than this to the one before share a line, V.
const TOGETHER: f64 = 0.06;

/// Every operating state of a machine.
pub fn states(machine: &Machine) -> Result<Vec<StateTold>, Refusal> {
    let mut stand = Stand::new(machine.clone());
    let layouts = [Layout::new(machine, Width::Print), Layout::new(machine, Width::Narrow)];
    let names = machine.state_names().into_iter().filter(|name| name != "dead-held");
    names.map(|name| state(machine, &mut stand, &layouts, &name)).collect()
}

fn state(machine: &Machine, stand: &mut Stand, layouts: &[Layout; 2], name: &str) -> Result<StateTold, Refusal> {
    let shown = schematic::shown(stand, Some(name), &Changes::default())?;
    let overlay = Overlay { solution: Some(&shown.potentials), caption: &shown.caption, ..Overlay::default() };
    let drawings = layouts.each_ref().map(|layout| drawing::draw(machine, layout, &overlay));
    let operating = stand.state(name)?.into_owned();
    let of_sheet = machine.sheet.states.iter().find(|state| state.name.name == name);
    let request = Request { state: Some(name.to_owned()), ..Request::default() };
    let solved = stand.solve(&request)?;
    let mut told = doings(machine, &solved);
    if of_sheet.is_some_and(|state| state.must_refuse) {
        told.insert(0, "A start must be refused here: the starter has to stay still.".to_owned());
    }
    Ok(StateTold {
        name: name.to_owned(),
        title: operating.title.clone(),
        setup: of_sheet.map_or_else(Vec::new, |state| setup(machine, &state.positions)),
        caution: operating.caution.clone(),
        told,
        carries: carries(machine, &solved),
        live: live(machine, &solved),
        drawings,
    })
}

/// Controls that are not at rest.
fn setup(machine: &Machine, positions: &[usize]) -> Vec<String> {
    let moved = machine.sheet.controls.iter().zip(positions).filter(|(_, position)| **position > 0);
    moved.map(|(control, position)| format!("{}: {}", control.title, control.positions[*position])).collect()
}

/// What battery, relays, motors and fuses do, a sentence each.
fn doings(machine: &Machine, solved: &Solved<'_>) -> Vec<String> {
    let mut told = Vec::new();
    let half = &solved.half;
    let volts = |name: &str| half.nodes.0.iter().find(|(known, _)| *known == name).and_then(|(_, volts)| *volts);
    for part in machine.sheet.parts.iter().filter(|part| matches!(part.kind.name, "battery" | "source")) {
        let name = &part.name.name;
        let current = half.currents.0.iter().find(|(known, _)| known == name).map_or(0.0, |(_, amps)| *amps);
        let across = volts(&format!("{name}.plus")).zip(volts(&format!("{name}.minus")));
        let across = across.map(|(plus, minus)| format!(" stands at {}", show(plus - minus, Dimension::Voltage)));
        let gives = match current {
            current if current.abs() < CURRENT => "gives nothing".to_owned(),
            current if current < 0.0 => format!("gives {}", show(-current, Dimension::Current)),
            current => format!("is charged with {}", show(current, Dimension::Current)),
        };
        told.push(format!("The {}{} and {gives}.", part.title, across.unwrap_or_default()));
    }
    for (name, word) in &half.relays.0 {
        let coil = half.coil_volts.0.iter().find(|(known, _)| known == name).map(|(_, volts)| volts.abs());
        let coil = match coil {
            Some(volts) if volts >= 0.05 => format!("has {} on its coil", show(volts, Dimension::Voltage)),
            Some(_) => "has nothing on its coil".to_owned(),
            None => "has its coil cut off".to_owned(),
        };
        let does = match *word {
            "pulled" => "and is pulled in",
            "chatter" => "and chatters: it pulls in and drops out for ever",
            _ => "and is released",
        };
        told.push(format!("The {} {coil} {does}.", title(machine, name)));
    }
    for (name, shaft) in &half.motors.0 {
        let rpm = shaft.speed_rad_s * 60.0 / std::f64::consts::TAU;
        let amps = show(shaft.current_a.abs(), Dimension::Current);
        told.push(if rpm.abs() >= 1.0 {
            let cranks = if solved.cranking_rpm > 0.0 {
                format!(" and turns the engine at {:.0} rpm", solved.cranking_rpm)
            } else {
                ", not in mesh with the engine".to_owned()
            };
            format!("The {} takes {amps}, runs at {rpm:.0} rpm{cranks}.", title(machine, name))
        } else if shaft.current_a.abs() >= CURRENT {
            format!("The {} takes {amps} and does not turn yet.", title(machine, name))
        } else {
            format!("The {} stands still without current.", title(machine, name))
        });
    }
    for (name, _) in half.fuses.0.iter().filter(|(_, word)| *word == "blown") {
        told.push(format!("The {} blows.", title(machine, name)));
    }
    told
}

fn title<'a>(machine: &'a Machine, name: &'a str) -> &'a str {
    machine.part(name).map_or(name, |part| machine.sheet.parts[part].title.as_str())
}

/// Parts and the amperes through them, most first; what carries the same stands in one line.
fn carries(machine: &Machine, solved: &Solved<'_>) -> Vec<(String, String)> {
    let mut through: Vec<(f64, String)> = Vec::new();
    for (name, amps) in solved.half.currents.0.iter().filter(|(_, amps)| amps.abs() >= CURRENT) {
        let part = name.split('.').next().unwrap_or(name);
        let path = name.strip_prefix(part).unwrap_or_default().replace('.', " ");
        through.push((amps.abs(), format!("{}{path}", title(machine, part))));
    }
    // Where amperes are alike the order of the sheet stays.
    through.sort_by(|left, right| right.0.total_cmp(&left.0));
    let mut lines: Vec<(String, String)> = Vec::new();
    for (amps, part) in through {
        let shown = show(amps, Dimension::Current);
        match lines.last_mut() {
            Some((parts, known)) if *known == shown => *parts = format!("{parts}, {part}"),
            _ => lines.push((part, shown)),
        }
    }
    lines
}

/// Potentials and the points that have them, highest first; those that float come last.
fn live(machine: &Machine, solved: &Solved<'_>) -> Vec<(String, String)> {
    let point = |name: &str| machine.node(name).map_or_else(|_| name.to_owned(), |node| machine.node_title(node));
    let mut tied: Vec<(f64, String)> = Vec::new();
    let mut floating: Vec<String> = Vec::new();
    for (name, volts) in &solved.half.nodes.0 {
        match volts {
            Some(volts) => tied.push((*volts, point(name))),
            None => floating.push(point(name)),
        }
    }
    tied.sort_by(|left, right| right.0.total_cmp(&left.0));
    let mut groups: Vec<(f64, f64, Vec<String>)> = Vec::new();
    for (volts, point) in tied {
        match groups.last_mut() {
            Some((_, low, points)) if *low - volts <= TOGETHER => {
                *low = volts;
                if !points.contains(&point) {
                    points.push(point);
                }
            }
            _ => groups.push((volts, volts, vec![point])),
        }
    }
    let shown = |volts: f64| if volts.abs() < 5e-4 { "0 V".to_owned() } else { show(volts, Dimension::Voltage) };
    let line = |(high, low, points): (f64, f64, Vec<String>)| {
        let volts = if shown(high) == shown(low) { shown(high) } else { format!("{} to {}", shown(low), shown(high)) };
        (volts, points.join(", "))
    };
    let mut lines: Vec<(String, String)> = groups.into_iter().map(line).collect();
    if !floating.is_empty() {
        lines.push(("cut off".to_owned(), floating.join(", ")));
    }
    lines
}
