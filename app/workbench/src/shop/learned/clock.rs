//! How long things took: the times between a job's entries, beside the minutes that the catalogue gives them.
//! Promise: what was typed in from notes afterwards is no time; what is entered within a few seconds was done together.
//! Limit: a pause looks like work; the law that learns from the times knows that some have one in them.

use diagnosis::learned::{Timed, act, act_of_place, act_of_remedy};
use diagnosis::request::{self, Entry as Read};
use diagnosis::trial::{Price, Purse};
use journal::{Entry, Job};
use machine::{Fault, Machine, Probe};

use super::super::practice::cure_name;
use super::seconds;

/// The latest jobs that are looked at.
pub const JOBS: usize = 200;
/// What several things that were entered together are an act of.
pub const SEVERAL: &str = "several";
/// Entries that follow within so many seconds were done together.
const TOGETHER: f64 = 10.0;
/// What took a smaller share of its minutes was typed in afterwards.
const TYPED: f64 = 0.05;
/// What waits for more of its minutes than it is attended says nothing of the hands.
const WAITS: f64 = 0.5;

/// What was done of which the minutes are known.
struct Done {
    act: String,
    expected: f64,
}

/// The times of a job.
pub fn timed(machine: &Machine, job: &Job) -> Vec<Timed> {
    let faults = machine.faults();
    let mut purse = Purse::new(machine);
    let mut timed = Vec::new();
    // What was done since the last time, its end, and when it was begun.
    let (mut open, mut ended, mut begun): (Vec<Option<Done>>, f64, f64) = (Vec::new(), 0.0, 0.0);
    for kept in job.standing() {
        let Some(at) = seconds(&kept.at) else { continue };
        let done = match &kept.entry {
            Entry::Reading { probe, value } => match request::entry(machine, &faults, probe, value) {
                Ok(Read::Took(probe, _)) => looked(machine, &mut purse, &probe),
                Ok(Read::Tried { .. }) => mended(machine, &mut purse, &faults, probe),
                _ => None,
            },
            Entry::Opened { .. } | Entry::Complaint { .. } | Entry::Air { .. } | Entry::Reopened => None,
            _ => continue,
        };
        let answers = matches!(kept.entry, Entry::Reading { .. });
        if at - ended > TOGETHER || !answers {
            timed.extend(time(&open, ended - begun));
            (open, begun) = (Vec::new(), ended);
        }
        if answers {
            open.push(done);
        } else {
            begun = at;
        }
        ended = at;
    }
    timed.extend(time(&open, ended - begun));
    timed
}

/// What was entered together, with its minutes; nothing where those of a part of it are not known.
fn time(done: &[Option<Done>], seconds: f64) -> Option<Timed> {
    let known: Option<Vec<&Done>> = done.iter().map(Option::as_ref).collect();
    let known = known.filter(|known| !known.is_empty())?;
    let expected: f64 = known.iter().map(|done| done.expected).sum();
    let act = if let [one] = known.as_slice() { one.act.clone() } else { SEVERAL.to_owned() };
    let took = seconds / 60.0;
    (took >= TYPED * expected).then_some(Timed { act, expected, took })
}

fn looked(machine: &Machine, purse: &mut Purse, probe: &Probe) -> Option<Done> {
    let price = purse.split(probe);
    let closed = purse.closed(&probe.places);
    purse.pay(probe);
    let waits = probe.elapsed - probe.minutes > WAITS * probe.minutes;
    (!waits).then(|| done(machine, price, &closed, act(probe)))
}

fn mended(machine: &Machine, purse: &mut Purse, faults: &[Fault], name: &str) -> Option<Done> {
    let wanted = name.strip_prefix("try:")?;
    let fault = faults.iter().find(|fault| cure_name(machine, fault) == wanted)?;
    let place = fault.part.and_then(|part| machine.sheet.parts[part].place);
    let price = purse.split_of_remedy(fault.remedy.minutes, place);
    let closed = purse.closed(place.as_slice());
    purse.pay_remedy(fault.remedy.minutes, place);
    let waits = fault.remedy.elapsed - fault.remedy.minutes > WAITS * fault.remedy.minutes;
    (!waits).then(|| done(machine, price, &closed, act_of_remedy(name)))
}

/// Where most of the minutes went into opening one place, it was that which took them.
fn done(machine: &Machine, price: Price, closed: &[usize], act: &str) -> Done {
    let expected = price.minutes();
    let act = match closed {
        [place] if price.access > 0.5 * expected => act_of_place(machine, *place),
        _ => act.to_owned(),
    };
    Done { act, expected }
}
