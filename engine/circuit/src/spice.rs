//! A network as a netlist that a circuit simulator reads, with the parts that change state told in comments.
//!
//! Elements follow the common language of such simulators: R, V, I, D with a model, B for a current given by a formula.
//! Lines that begin with `*@` carry what the language has no word for: names, relays, fuses, motors. A driver reads
//! them and applies the rules of [`crate::operating_point`] itself, so that both sides can be compared.
//! Node i is `n`i (the reference `0`), branch i has elements ending in `b`i; a filament's temperature is a node `h`i.
//! Promise: nothing is rounded; a constant current rises by 1 nA per volt, or a simulator that overshoots never finds
//! back. Limit: islands are not tied and a current source between islands is not left out,
//! that is the driver's business.

use std::fmt::Write;

use crate::network::{Branch, Drive, Law, Motor, Network, Relay};

/// Boltzmann's constant over the elementary charge, times 27 °C: what N of a diode's model is a multiple of.
const THERMAL_VOLTS: f64 = 1.380_649e-23 / 1.602_176_634e-19 * 300.15;

/// The netlist of a network: contacts closed, fuses whole, motors at rest.
/// A name that is missing is the node's or branch's number.
pub fn netlist(network: &Network, title: &str, node_names: &[String], branch_names: &[String]) -> String {
    let mut text = String::new();
    write_all(&mut text, network, title, node_names, branch_names).expect("writing to a string never fails");
    text
}

fn write_all(
    text: &mut String,
    network: &Network,
    title: &str,
    node_names: &[String],
    branch_names: &[String],
) -> std::fmt::Result {
    let one_line: String = title.chars().filter(|letter| !letter.is_control()).collect();
    writeln!(text, "* {one_line}")?;
    for node in 0..network.nodes {
        writeln!(text, "*@ node {} {}", node_name(network, node), quoted(node_names.get(node), node))?;
    }
    for (index, branch) in network.branches.iter().enumerate() {
        write_branch(text, network, index, branch, &quoted(branch_names.get(index), index))?;
    }
    for relay in &network.relays {
        write_relay(text, relay)?;
    }
    for fuse in &network.fuses {
        writeln!(text, "*@ fuse branch=b{} rating={:e}", fuse.branch, fuse.rating.0)?;
    }
    for motor in &network.motors {
        write_motor(text, motor)?;
    }
    writeln!(text, ".options reltol=1e-6 abstol=1e-12 vntol=1e-9 gmin=1e-14 itl1=500 temp=27 tnom=27")?;
    writeln!(text, ".end")
}

fn node_name(network: &Network, node: usize) -> String {
    if node == network.reference { "0".to_owned() } else { format!("n{node}") }
}

/// A name between quotes, with quotes, backslashes and control characters written as in JSON.
fn quoted(name: Option<&String>, index: usize) -> String {
    let Some(name) = name else { return format!("\"{index}\"") };
    let mut text = String::from("\"");
    for letter in name.chars() {
        match letter {
            '"' | '\\' => text.extend(['\\', letter]),
            _ if letter.is_control() => text.extend(format!("\\u{:04x}", u32::from(letter)).chars()),
            _ => text.push(letter),
        }
    }
    text.push('"');
    text
}

fn write_branch(text: &mut String, network: &Network, index: usize, branch: &Branch, name: &str) -> std::fmt::Result {
    let (from, to) = (node_name(network, branch.from), node_name(network, branch.to));
    let kind = match branch.law {
        Law::Open => "open",
        Law::Linear { .. } => "linear",
        Law::Source(_) => "source",
        Law::Junction { .. } => "junction",
        Law::Lamp(_) => "lamp",
        Law::Draw(_) => "draw",
    };
    writeln!(text, "*@ branch b{index} {from} {to} {kind} {name}")?;
    match branch.law {
        Law::Open => Ok(()),
        Law::Linear { resistance, emf } if resistance.0 == 0.0 => {
            writeln!(text, "vb{index} {from} {to} {:e}", emf.0)
        }
        Law::Linear { resistance, emf } if emf.0 == 0.0 => {
            writeln!(text, "rb{index} {from} {to} {:e}", resistance.0)
        }
        Law::Linear { resistance, emf } => {
            writeln!(text, "vb{index} {from} mb{index} {:e}", emf.0)?;
            writeln!(text, "rb{index} mb{index} {to} {:e}", resistance.0)
        }
        Law::Source(amps) => writeln!(text, "ib{index} {from} {to} {:e}", amps.0),
        Law::Junction { saturation, emission, resistance } => {
            writeln!(text, "vb{index} {from} mb{index} 0")?;
            writeln!(text, "db{index} mb{index} {to} modb{index}")?;
            writeln!(
                text,
                ".model modb{index} d(is={:e} n={:e} rs={:e})",
                saturation.0,
                emission.0 / THERMAL_VOLTS,
                resistance.0
            )
        }
        Law::Lamp(watts) => {
            let size = watts.0 / 5.0;
            let across = format!("v(mb{index},{to})");
            let ohms = format!("({:e}*(max(v(h{index}),0.29)/0.3)**1.2)", 2.26 / size);
            writeln!(text, "vb{index} {from} mb{index} 0")?;
            writeln!(text, "bb{index} mb{index} {to} i={across}/{ohms}")?;
            writeln!(
                text,
                "bh{index} 0 h{index} i={across}*{across}/{ohms}-{size:e}*(0.09*(v(h{index})-0.3)+0.123*(max(v(h{index}),0)**4-0.0081))"
            )?;
            writeln!(text, ".nodeset v(h{index})=1.5")
        }
        Law::Draw(amps) => {
            writeln!(text, "vb{index} {from} mb{index} 0")?;
            let knee = Law::KNEE.0;
            let across = format!("v(mb{index},{to})");
            writeln!(text, "bb{index} mb{index} {to} i={:e}*min(max({across}/{knee:e},-1),1)+1e-9*{across}", amps.0)
        }
    }
}

fn write_relay(text: &mut String, relay: &Relay) -> std::fmt::Result {
    let stuck = match relay.stuck {
        None => "no",
        Some(false) => "open",
        Some(true) => "closed",
    };
    writeln!(
        text,
        "*@ relay coil=b{} contact=b{} pull-in={:e} drop-out={:e} stuck={stuck}",
        relay.coil, relay.contact, relay.pull_in.0, relay.drop_out.0
    )
}

fn write_motor(text: &mut String, motor: &Motor) -> std::fmt::Result {
    write!(
        text,
        "*@ motor branch=b{} resistance={:e} constant={:e} friction={:e} drag={:e} breakaway={:e} blocked={}",
        motor.branch,
        motor.resistance.0,
        motor.constant.0,
        motor.friction.0,
        motor.drag.0,
        motor.breakaway.0,
        motor.blocked
    )?;
    if let Some(Drive { inertia, engages_above, load, load_drag, breakaway }) = motor.drive {
        write!(
            text,
            " inertia={:e} engages-above={:e} load={:e} load-drag={:e} engine-breakaway={:e}",
            inertia.0, engages_above.0, load.0, load_drag.0, breakaway.0
        )?;
    }
    writeln!(text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use quantity::{Amps, Ohms, Volts};

    #[test]
    fn law_names_come_back_and_elements_are_plain() {
        let mut network = Network::new(2, 0);
        network.add(1, 0, Law::Linear { resistance: Ohms(0.012), emf: Volts(12.8) });
        network.add(1, 0, Law::Draw(Amps(0.4)));
        let names = ["frame".to_owned(), "battery \"plus\"".to_owned()];
        let text = netlist(&network, "two\nbranches", &names, &["battery".to_owned()]);
        let expected = "* twobranches\n\
            *@ node 0 \"frame\"\n\
            *@ node n1 \"battery \\\"plus\\\"\"\n\
            *@ branch b0 n1 0 linear \"battery\"\n\
            vb0 n1 mb0 1.28e1\n\
            rb0 mb0 0 1.2e-2\n\
            *@ branch b1 n1 0 draw \"1\"\n\
            vb1 n1 mb1 0\n\
            bb1 mb1 0 i=4e-1*min(max(v(mb1,0)/1e0,-1),1)+1e-9*v(mb1,0)\n";
        assert!(text.starts_with(expected), "{text}");
        assert!(text.ends_with(".end\n"));
    }
}
