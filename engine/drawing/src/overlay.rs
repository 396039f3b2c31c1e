//! What is drawn on top of the wiring: a solution, the leads of a meter, faults, links.

use circuit::{Law, Network, Position, State};
use machine::Machine;
use quantity::{Amps, Volts};

/// What a solved state shows at every node and path of a machine.
#[derive(Clone, Debug, PartialEq)]
pub struct Potentials {
    /// Of each node, against the machine's reference; nothing where it floats.
    pub volts: Vec<Option<Volts>>,
    /// Of each of the machine's branches, first terminal to second.
    pub amps: Vec<Amps>,
    /// Of each of the machine's branches: whether nothing conducts there (contact open, fuse blown, joint lifted).
    pub open: Vec<bool>,
}

impl Potentials {
    /// Takes them from a state of a solved network of the machine (see `Machine::network`).
    pub fn new(machine: &Machine, network: &Network, state: &State) -> Self {
        let volts = (0..machine.node_count()).map(|node| state.solution.potential(node)).collect();
        let paths = 0..machine.branches().len();
        let amps = paths.clone().map(|branch| machine.current(network, &state.solution, branch)).collect();
        let mut open: Vec<bool> = paths.map(|branch| network.branches[branch].law == Law::Open).collect();
        for (fuse, blown) in network.fuses.iter().zip(&state.blown) {
            open[fuse.branch] |= *blown;
        }
        for (relay, position) in network.relays.iter().zip(&state.relays) {
            let makes = relay.stuck.unwrap_or(*position == Position::Pulled);
            open[relay.contact] |= !makes;
        }
        Self { volts, amps, open }
    }
}

/// What is drawn on top of the wiring.
#[derive(Clone, Default)]
pub struct Overlay<'a> {
    /// Voltages and currents of a state; without one, contacts are drawn at rest.
    pub solution: Option<&'a Potentials>,
    /// Node under the red lead.
    pub red: Option<usize>,
    /// Node under the black lead.
    pub black: Option<usize>,
    /// Indices of parts to be marked as faulty.
    pub faults: &'a [usize],
    /// Where a node's name leads to; with it every node is a link.
    pub link: Option<&'a dyn Fn(&str) -> String>,
    /// A line below the title: the state that is shown.
    pub caption: &'a str,
    /// Whether it stands alone: with title and caption, black on white. Else it takes the colors of its page.
    pub standalone: bool,
}
