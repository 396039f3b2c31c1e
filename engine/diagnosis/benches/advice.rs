//! The price of a table of readings and of advice, on curlew with 64 what-if cases a fault.
#![allow(missing_docs, clippy::unwrap_used)]

use diagnosis::planted::{Planted, work};
use diagnosis::{Atlas, Desk, Request, Survey};
use machine::Machine;

const WORLDS: usize = 64;
const FAULT: &str = "ground-cable:corroded";

fn main() {
    divan::main();
}

fn curlew() -> Machine {
    let text = include_str!("../../../machines/curlew.toml");
    Machine::new(machine::sheet::read(text).sheet.unwrap())
}

fn desk() -> Desk {
    let machine = curlew();
    let atlas = Atlas::build(&machine, WORLDS);
    Desk::new(machine, atlas)
}

/// A job that has come so far by the desk's own advice.
fn job(desk: &mut Desk, readings: usize) -> Request {
    let fault = desk.machine.fault(FAULT).unwrap();
    let mut planted = Planted::new(&desk.machine, &[(fault, 0.02)], None).unwrap();
    let request = Request { complaint: Some("cranks-slowly".to_owned()), confirm: 0.999, ..Request::default() };
    let worked = work(desk, &mut planted, request.clone(), readings, |_| false).unwrap();
    let readings = worked.steps.into_iter().map(|done| (done.name, done.value)).collect();
    Request { readings, ..request }
}

/// Budget: 1 s on one hand, so that two hands give the first advice within half a second.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn atlas_by_one_hand(bencher: divan::Bencher) {
    let machine = curlew();
    bencher.bench_local(|| Atlas::build(&machine, WORLDS).signs.len());
}

/// Budget: 20 ms.
#[divan::bench(args = [1, 6], sample_count = 50, sample_size = 1)]
fn advice_after_readings(bencher: divan::Bencher, readings: usize) {
    let mut desk = desk();
    let request = job(&mut desk, readings);
    bencher.bench_local(|| desk.advise(&request).unwrap().next.len());
}

/// Budget: 0.2 s.
#[divan::bench(sample_count = 20, sample_size = 1)]
fn a_typed_probe_outside_the_atlas(bencher: divan::Bencher) {
    let mut desk = desk();
    let mut request = job(&mut desk, 1);
    request.readings.push(("low-z@held:starter-relay.load,frame".to_owned(), "9.1 V".to_owned()));
    bencher.bench_local(|| desk.advise(&request).unwrap().next.len());
}

/// Budget: 30 ms with four times as many what-if cases.
#[divan::bench(sample_count = 20, sample_size = 1)]
fn restored_from_bytes(bencher: divan::Bencher) {
    let machine = curlew();
    let bytes = Atlas::build(&machine, WORLDS).to_bytes();
    bencher.bench_local(|| Survey::new(&machine, WORLDS).restore(&bytes[..]).unwrap().signs.len());
}
