//! What the maintainers of this workspace run: `cargo xtask tidy`, `fuzz`, `figures`, `trials`.
//! Each prints what it found and exits 1 when something is not as it should be.

mod asked;
mod figures;
mod fuzz;
mod tidy;
mod trials;
mod workspace;

use std::process::ExitCode;

const USAGE: &str = "\
cargo xtask tidy                                     house rules that no compiler knows
cargo xtask fuzz [COUNT] [--seed N] [--from NUMBER]  spoiled text for everything that reads text
cargo xtask figures                                  how fast it is, beside a circuit simulator
cargo xtask trials [--jobs N | --check]              docs/trial.md: how often it is right, and in how many minutes
";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let done = match arguments.split_first() {
        Some((word, [])) if word == "tidy" => tidy::run(),
        Some((word, rest)) if word == "fuzz" => fuzz::run(rest),
        Some((word, [])) if word == "figures" => figures::run(),
        Some((word, rest)) if word == "trials" => trials::run(rest),
        _ => Err(workspace::Trouble::Said(USAGE.to_owned())),
    };
    match done {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(trouble) => {
            workspace::say(&format!("error: {trouble}"));
            ExitCode::from(2)
        }
    }
}
