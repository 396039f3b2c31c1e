//! Writes networks with our answers as JSON Lines, for `referee/ngspice.py` to check.
//!
//! `cargo run -p circuit --example netlists -- random OUT.jsonl [COUNT]` or `-- starter OUT.jsonl`.

mod random;
mod starter;

use std::fs::File;
use std::io::{BufWriter, Write};

use circuit::{Law, Network, OperatingPoint, Position, Solver, State};
use quantity::Ohms;
use serde_json::{Map, Value, json};
use starter::Named;

#[expect(clippy::disallowed_methods, reason = "an example is a program of its own, not the engine")]
fn main() -> std::io::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (which, path) = match arguments.as_slice() {
        [which, path, ..] => (which.as_str(), path),
        _ => return Err(std::io::Error::other("expected: random|starter FILE [COUNT]")),
    };
    let count = arguments.get(2).and_then(|count| count.parse().ok()).unwrap_or(300);
    let mut out = BufWriter::new(File::create(path)?);
    match which {
        "starter" => write_line(&mut out, "starter circuit", &starter::starter())?,
        _ => {
            for seed in 0..count {
                write_line(&mut out, &format!("random circuit {seed}"), &random::random(seed))?;
            }
        }
    }
    out.flush()
}

fn write_line(out: &mut impl Write, title: &str, named: &Named) -> std::io::Result<()> {
    let expect = match Solver::new().solve(&named.network) {
        Ok(point) => expected(named, &point),
        Err(reason) => return Err(std::io::Error::other(format!("{title}: {reason}"))),
    };
    let netlist = circuit::spice::netlist(&named.network, title, &named.nodes, &named.branches);
    writeln!(out, "{}", json!({ "netlist": netlist, "expect": expect }))
}

fn expected(named: &Named, point: &OperatingPoint) -> Value {
    let mut expect = described(named, &point.state);
    match &point.outcome {
        circuit::Outcome::Steady => {
            expect.insert("outcome".into(), "steady".into());
            expect.insert("readings".into(), readings(named));
        }
        circuit::Outcome::Chatter { relays, pulled } => {
            let coils: Vec<&str> =
                relays.iter().map(|relay| named.branches[named.network.relays[*relay].coil].as_str()).collect();
            expect.insert("outcome".into(), "chatter".into());
            expect.insert("chattering".into(), json!(coils));
            expect.insert("pulled".into(), Value::Object(described(named, pulled)));
        }
    }
    Value::Object(expect)
}

fn described(named: &Named, state: &State) -> Map<String, Value> {
    let Network { relays, fuses, motors, branches, .. } = &named.network;
    let name = |branch: usize| named.branches[branch].clone();
    let nodes: Map<String, Value> = (0..named.nodes.len())
        .map(|node| (named.nodes[node].clone(), json!(state.solution.potential(node).map(|volts| volts.0))))
        .collect();
    let currents: Map<String, Value> =
        (0..branches.len()).map(|branch| (name(branch), json!(state.solution.current(branch).0))).collect();
    let positions: Map<String, Value> = relays
        .iter()
        .zip(&state.relays)
        .map(|(relay, position)| {
            let word = if *position == Position::Pulled { "pulled" } else { "released" };
            (name(relay.coil), word.into())
        })
        .collect();
    let blown: Map<String, Value> =
        fuses.iter().zip(&state.blown).map(|(fuse, blown)| (name(fuse.branch), json!(blown))).collect();
    let rotors: Map<String, Value> = motors
        .iter()
        .zip(&state.rotors)
        .map(|(motor, rotor)| {
            let told = json!({ "turning": rotor.turning, "engaged": rotor.engaged, "speed": rotor.speed.0 });
            (name(motor.branch), told)
        })
        .collect();
    let all = json!({
        "nodes": nodes, "currents": currents, "relays": positions, "fuses": blown, "motors": rotors
    });
    let Value::Object(all) = all else { return Map::new() };
    all
}

/// What a voltmeter and a low-impedance meter would show between some pairs of nodes, each in the network.
fn readings(named: &Named) -> Value {
    let nodes = named.nodes.len();
    let pairs = [(1, 0), (nodes - 1, 0), (nodes / 2, 1), (nodes - 1, nodes / 3)];
    let mut readings = Vec::new();
    for (from, to) in pairs.into_iter().filter(|(from, to)| from != to) {
        for (mode, ohms) in [("volts", 10e6), ("low-z", 3e3)] {
            let mut network = named.network.clone();
            network.add(from, to, Law::resistance(Ohms(ohms)));
            let Ok(point) = Solver::new().solve(&network) else { continue };
            if point.pulled().is_none() {
                let volts = point.state.solution.across(from, to).0;
                readings.push(json!({
                    "mode": mode, "red": named.nodes[from], "black": named.nodes[to], "value": volts, "outcome": "steady"
                }));
            }
        }
    }
    Value::Array(readings)
}
