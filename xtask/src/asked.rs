//! Valid request lines for a machine, all different: over states, faults, severities and meters.

use machine::{Fault, Machine};
use serde_json::{Value, json};

/// So many lines, the same every time.
pub fn lines(machine: &Machine, count: usize) -> Vec<String> {
    let (states, faults) = (machine.state_names(), machine.faults());
    let parts = &machine.sheet.parts;
    let node = |at: usize| machine.node_name(at % machine.node_count());
    let path = |at: usize| machine.branches()[at % machine.branches().len()].name.as_str();
    let line = |number: usize| {
        let mut request = json!({ "state": states[number % states.len()] });
        let fault = &faults[number / 3 % faults.len()];
        let mut planted = vec![planted(fault, (number as f64 * 0.618_033_988_75).fract())];
        if number.is_multiple_of(5) {
            planted.push(faults[(number / 7 + 1) % faults.len()].name.clone());
        }
        request["faults"] = json!(planted);
        let mut read = Vec::new();
        let (red, black) = (node(number * 7), node(number * 11 + 1));
        if red != black {
            let mode = ["volts", "low-z", "ohms", "lamp", "diode"][number % 5];
            read.push(json!({ "mode": mode, "red": red, "black": black }));
        }
        if number.is_multiple_of(4) {
            let mode = ["clamp", "amps"][number / 4 % 2];
            read.push(json!({ "mode": mode, "in": path(number * 5) }));
        }
        request["read"] = Value::Array(read);
        match number % 11 {
            1 => request["open"] = json!([parts[number % parts.len()].name.name]),
            2 => {
                request["bridge"] =
                    json!([format!("{},{}=0.{} ohm", node(number), node(number * 3 + 1), number % 9 + 1)])
            }
            3 => request["air"] = json!(format!("{} C", number as i64 % 50 - 15)),
            4 => request["nulled"] = json!("0.14 ohm"),
            5 => request["set"] = json!({ "battery.resistance": format!("{} mohm", 20 + number % 60) }),
            _ => {}
        }
        request.to_string()
    };
    (0..count).map(line).collect()
}

/// A fault's name with a severity at a quantile of its spread.
fn planted(fault: &Fault, quantile: f64) -> String {
    match fault.dimension {
        Some(_) => format!("{}={:.6}", fault.name, fault.severity_at(quantile)),
        None => fault.name.clone(),
    }
}
