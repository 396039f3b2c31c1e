//! What healthy machines show: every suggested probe by state, setting and place of the black lead, and the card for the
//! pocket. Promise: the bands are those of `expect` and of the desk, as the instrument rounds them.

use diagnosis::Desk;
use machine::probe::Sort;
use machine::{Hookup, Instrument, Machine, Probe};

use super::{BandTable, CardGroup, Named, StateBands};
use crate::shop::card::{Group, Line, lines};
use crate::shop::probes::{displayed_band, hazard, listed};

/// States that stand side by side on the card.
const CARD: [&str; 3] = ["rest", "on", "held"];

/// The tables, state by state in the order of the sheet.
pub fn bands(desk: &Desk) -> Vec<StateBands> {
    let machine = &desk.machine;
    let mut states: Vec<StateBands> = Vec::new();
    for (probe, band) in listed(desk, None).filter(|(probe, _)| !matches!(probe.sort, Sort::Ask(_))) {
        let at = states.iter().position(|known| known.state.name == probe.state).unwrap_or_else(|| {
            let state = machine.state(&probe.state).ok();
            states.push(StateBands {
                state: Named {
                    name: probe.state.clone(),
                    title: state.as_ref().map_or_else(|| probe.state.clone(), |state| state.title.clone()),
                },
                setup: probe.setup.clone(),
                caution: String::new(),
                tables: Vec::new(),
            });
            states.len() - 1
        });
        let state = &mut states[at];
        for note in hazard(machine, probe).split("; ").filter(|note| !note.is_empty()) {
            if !state.caution.contains(note) {
                let between = if state.caution.is_empty() { "" } else { "; " };
                state.caution = format!("{}{between}{note}", state.caution);
            }
        }
        let (setting, black, row) = placed(machine, probe);
        let tables = &mut state.tables;
        let at = tables.iter().position(|known| known.setting == setting && known.black == black);
        let at = at.unwrap_or_else(|| {
            tables.push(BandTable { setting, black, rows: Vec::new() });
            tables.len() - 1
        });
        tables[at].rows.push((row, displayed_band(probe, &band)));
    }
    let rank = |state: &StateBands| {
        let base = state.state.name.split('~').next().unwrap_or_default();
        machine.sheet.states.iter().position(|known| known.name.name == base).unwrap_or(machine.sheet.states.len())
    };
    states.sort_by_key(rank);
    states
}

/// Setting, place of black where many share it, and what a row says.
fn placed(machine: &Machine, probe: &Probe) -> (String, String, String) {
    let point = |name: &str| machine.node(name).map_or_else(|_| name.to_owned(), |node| machine.node_title(node));
    let setting = match probe.setting() {
        "" => "eyes, ears and hands".to_owned(),
        setting => setting.to_owned(),
    };
    match probe.sort {
        Sort::Meter(Instrument::Volts, Hookup::Between { black, .. }) if black == machine.reference() => {
            (setting, point(&probe.black), point(&probe.red))
        }
        Sort::Meter(_, Hookup::Between { .. }) => {
            (setting, String::new(), format!("red {}, black {}", point(&probe.red), point(&probe.black)))
        }
        _ => (setting, String::new(), probe.title.clone()),
    }
}

/// The card: volts against the reference in the states that stand side by side, then what else is quickly looked at.
pub fn card(desk: &Desk) -> (Vec<Named>, Vec<CardGroup>) {
    let machine = &desk.machine;
    let all = lines(desk, None);
    let is_there = |state: &&str| all.iter().any(|line| line.point.is_some() && line.state == *state);
    let states: Vec<&str> = CARD.into_iter().filter(is_there).collect();
    let titled = |name: &&str| Named {
        name: (*name).to_owned(),
        title: machine.state(name).map_or_else(|_| (*name).to_owned(), |state| state.title),
    };
    let groups = Group::ALL.into_iter().map(|group| CardGroup {
        title: group.title(),
        rows: rows(machine, &states, all.iter().filter(|line| line.group == group).collect()),
    });
    (states.iter().map(titled).collect(), groups.filter(|group| !group.rows.is_empty()).collect())
}

fn rows(machine: &Machine, states: &[&str], lines: Vec<&Line<'_>>) -> Vec<(String, Vec<String>)> {
    let mut points: Vec<&str> = Vec::new();
    for point in lines.iter().filter(|line| states.contains(&line.state)).filter_map(|line| line.point) {
        if !points.contains(&point) {
            points.push(point);
        }
    }
    let shown = |point: &str, state: &str| {
        let line = lines.iter().find(|line| line.point == Some(point) && line.state == state);
        line.map_or_else(String::new, |line| line.display.clone())
    };
    let row = |point: &str| {
        let title = machine.node(point).map_or_else(|_| point.to_owned(), |node| machine.node_title(node));
        (title, states.iter().map(|state| shown(point, state)).collect())
    };
    points.into_iter().map(row).collect()
}
