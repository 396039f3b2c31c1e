//! The engine is dry: what its crates lean on, down to the last one, is on a list.
//! Limit: what only runs while compiling (procedure macros and what they lean on) is not looked at.

use std::collections::BTreeSet;

use crate::workspace::{Trouble, cargo};

/// The engine's crates, lowest first; each may lean on those before it.
const ENGINE: [&str; 7] = ["quantity", "circuit", "physics", "machine", "calculator", "diagnosis", "drawing"];
/// Everything else that may end up in the engine. The hash maps are inside `serde_json`, which keeps the order in which
/// fields come and never shows theirs.
const ALLOWED: [&str; 18] = [
    "equivalent",
    "foldhash",
    "hashbrown",
    "indexmap",
    "itoa",
    "libm",
    "memchr",
    "serde_core",
    "serde_json",
    "serde_spanned",
    "sobol_burley",
    "strsim",
    "thiserror",
    "toml",
    "toml_datetime",
    "toml_parser",
    "winnow",
    "zmij",
];

/// What is not as it should be.
pub fn broken() -> Result<Vec<String>, Trouble> {
    let mut broken = Vec::new();
    for (height, of) in ENGINE.into_iter().enumerate() {
        let tree = ["tree", "--locked", "--package", of, "--edges", "normal,no-proc-macro", "--prefix", "none"];
        let said = cargo().args(tree).output()?;
        if !said.status.success() {
            return Err(Trouble::Said(String::from_utf8_lossy(&said.stderr).into_owned()));
        }
        let text = String::from_utf8_lossy(&said.stdout);
        let names: BTreeSet<&str> = text.lines().filter_map(|line| line.split(' ').next()).collect();
        for on in names {
            match ENGINE.iter().position(|known| *known == on) {
                Some(other) if other > height => broken.push(format!("{of} leans on {on}, which is not below it")),
                None if !ALLOWED.contains(&on) => {
                    broken.push(format!("{of} leans on {on}, which is not on the engine's list"))
                }
                _ => {}
            }
        }
    }
    Ok(broken)
}
