//! probewright: one binary, many mouths over the shop's verbs.
//! Here only the edge: arguments in, an exit code out. What is said and done is in `cli` and `shop`.

mod cli;
mod report;
mod shop;
mod web;

fn main() -> std::process::ExitCode {
    cli::main()
}
