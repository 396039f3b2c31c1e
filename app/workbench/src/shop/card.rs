//! The pocket card: what healthy machines show, point by point along the wiring.
//! Idea: where the motor's current flows while start is held is the main path; what lies behind the motor leads back
//! over ground; all else controls. Within a group points come in the order of their potential, as the current does.
//! Limit: a machine whose start is refused has no main path, and all its points count as control.

use circuit::Solution;
use diagnosis::Desk;
use diagnosis::advice::Band;
use machine::probe::Sort;
use machine::{Bench, Hookup, Instrument, Machine, Probe, Setting};
use quantity::Celsius;
use serde::Serialize;

use super::probes::{BandForm, displayed_band, listed};

/// A part of the wiring, in the order of the card.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Group {
    /// The battery's own terminals.
    Battery,
    /// From the battery to the motor.
    MainPath,
    /// Everything else.
    Control,
    /// From the motor back to the battery.
    Ground,
}

impl Group {
    /// All, in the order of the card.
    pub const ALL: [Self; 4] = [Self::Battery, Self::MainPath, Self::Control, Self::Ground];

    /// As a heading.
    pub fn title(self) -> &'static str {
        match self {
            Self::Battery => "Battery",
            Self::MainPath => "Main path, battery to motor",
            Self::Control => "Control",
            Self::Ground => "Ground, motor back to battery",
        }
    }
}

/// One line of the card.
#[derive(Clone, Debug, Serialize)]
pub struct Line<'a> {
    /// Part of the wiring.
    pub group: Group,
    /// The probe's name.
    pub probe: &'a str,
    /// In the technician's words.
    pub title: &'a str,
    /// Operating state.
    pub state: &'a str,
    /// What a healthy machine shows, as the instrument rounds it.
    pub display: String,
    /// The same in SI.
    pub band: BandForm,
    /// The point, when the other lead is on the reference.
    #[serde(skip)]
    pub point: Option<&'a str>,
}

/// The lines of the card, group by group.
pub fn lines<'a>(desk: &'a Desk, air: Option<Celsius>) -> Vec<Line<'a>> {
    let machine = &desk.machine;
    let wiring = Wiring::of(machine);
    let mut ranked: Vec<(Group, f64, Line<'a>)> = Vec::new();
    for (probe, band) in listed(desk, air).filter(|(probe, _)| !matches!(probe.sort, Sort::Ask(_))) {
        let (group, height) = wiring.course(machine, probe);
        ranked.push((group, height, line(machine, group, probe, &band)));
    }
    ranked.sort_by(|left, right| left.0.cmp(&right.0).then(right.1.total_cmp(&left.1)));
    ranked.into_iter().map(|(_, _, line)| line).collect()
}

fn line<'a>(machine: &Machine, group: Group, probe: &'a Probe, band: &Band) -> Line<'a> {
    let point = match probe.sort {
        Sort::Meter(Instrument::Volts, Hookup::Between { black, .. }) if black == machine.reference() => {
            Some(probe.red.as_str())
        }
        _ => None,
    };
    Line {
        group,
        probe: &probe.name,
        title: &probe.title,
        state: &probe.state,
        display: displayed_band(probe, band),
        band: band.into(),
        point,
    }
}

/// Group and potential of every node while start is held.
struct Wiring {
    nodes: Vec<(Group, f64)>,
}

impl Wiring {
    fn of(machine: &Machine) -> Self {
        let count = machine.node_count();
        let mut bench = Bench::new();
        let held = ["held", "on", "rest"].iter().find_map(|name| machine.state(name).ok());
        let solved =
            held.and_then(|state| bench.solve(machine, &Setting { state: &state, edits: &[], air: None }).ok());
        let Some(point) = solved else { return Self { nodes: vec![(Group::Control, 0.0); count] } };
        let solution = &point.pulled().unwrap_or(&point.state).solution;
        let height = |node: usize| solution.potential(node).map_or(f64::NEG_INFINITY, |volts| volts.0);
        let mut nodes: Vec<(Group, f64)> = (0..count).map(|node| (Group::Control, height(node))).collect();
        let supply = machine.battery_branch();
        let motor = bench.network.motors.first().map(|motor| motor.branch);
        if let (Some(supply), Some(motor)) = (supply, motor) {
            mark(machine, solution, supply, motor, &mut nodes);
        }
        Self { nodes }
    }

    fn course(&self, machine: &Machine, probe: &Probe) -> (Group, f64) {
        let part = match probe.sort {
            Sort::Meter(_, Hookup::Between { red, .. }) | Sort::PerAmp { red, .. } => return self.nodes[red],
            Sort::Meter(_, Hookup::In(branch)) => return self.nodes[machine.branches()[branch].from],
            Sort::Listen(part) | Sort::Watch(part) | Sort::Feel(part) | Sort::Feed(part) => part,
            Sort::Turn(part) | Sort::Look(part) | Sort::Wiggle(part) | Sort::Size(part) => part,
            Sort::Ask(_) => return (Group::Control, f64::NEG_INFINITY),
        };
        let terminals = &machine.layout(part).terminals;
        let main = terminals.iter().map(|node| self.nodes[*node]).find(|(group, _)| *group == Group::MainPath);
        // What has no terminals is turned by the motor.
        let otherwise = terminals.first().map_or((Group::MainPath, f64::NEG_INFINITY), |node| self.nodes[*node]);
        main.unwrap_or(otherwise)
    }
}

/// Marks the nodes that the motor's current passes.
fn mark(machine: &Machine, solution: &Solution, supply: usize, motor: usize, nodes: &mut [(Group, f64)]) {
    let ends = |branch: usize| [machine.branches()[branch].from, machine.branches()[branch].to];
    let current = solution.current(motor).0.abs();
    let middle = ends(motor).map(|node| nodes[node].1).iter().sum::<f64>() / 2.0;
    for branch in (0..machine.branches().len()).filter(|branch| solution.current(*branch).0.abs() > 0.5 * current) {
        for node in ends(branch) {
            nodes[node].0 = if nodes[node].1 >= middle { Group::MainPath } else { Group::Ground };
        }
    }
    let battery = machine.branches()[supply].part;
    for node in &machine.layout(battery).terminals {
        nodes[*node].0 = Group::Battery;
    }
}
