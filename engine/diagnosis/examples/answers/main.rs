//! Answers of the inference core as JSON, for `inference.py`, `plans.py` and `rates.py` in `referee/` to
//! check: a question a line on standard input, an answer a line on standard output.
//!
//! `cargo run -p diagnosis --example answers -- network|plans|rates < QUESTIONS > ANSWERS`

mod network;
mod plans;
mod rates;
#[path = "../../tests/small_problems/mod.rs"]
mod small_problems;

use std::error::Error;
use std::io::{BufRead, Write};

#[expect(clippy::disallowed_methods, reason = "an example is a program of its own, not the engine")]
fn main() -> Result<(), Box<dyn Error>> {
    let about = std::env::args().nth(1).unwrap_or_default();
    let mut out = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        let answer = match about.as_str() {
            "network" => serde_json::to_value(network::answer(&serde_json::from_str(&line?)?)?)?,
            "plans" => serde_json::to_value(plans::answer(&serde_json::from_str(&line?)?)?)?,
            "rates" => serde_json::to_value(rates::answer(&serde_json::from_str(&line?)?)?)?,
            _ => return Err("expected: network, plans or rates".into()),
        };
        writeln!(out, "{answer}")?;
    }
    Ok(())
}
