//! probewright: the command line.

fn main() {}
