//! The minutes of a job: as its probes and remedies are reckoned, and as the clock of its entries shows.
//! Promise: each number says which of the two it is; a job that was typed in afterwards has no minutes by the clock.

use std::collections::BTreeSet;

use diagnosis::request;
use journal::{Entry, Job};

use super::job::Row;
use crate::shop::machines::Ready;

/// A pause longer than this is none of the job's minutes.
const PAUSE: f64 = 60.0;
/// Less than this was not worked, only typed.
const LEAST: f64 = 2.0;

/// The minutes of a job.
pub fn spent(job: &Job, ready: &Ready) -> Vec<Row> {
    let (machine, faults) = (&ready.machine, &ready.faults);
    let (mut probes, mut access, mut remedies) = (0.0, 0.0, 0.0);
    let mut open: BTreeSet<usize> = BTreeSet::new();
    for kept in job.standing() {
        let Entry::Reading { probe, value } = &kept.entry else { continue };
        match request::entry(machine, faults, probe, value) {
            Ok(request::Entry::Took(probe, _)) => {
                probes += probe.minutes;
                for place in probe.places.iter().filter(|place| open.insert(**place)) {
                    access += machine.sheet.places[*place].access_minutes;
                }
            }
            Ok(request::Entry::Tried { verb, part, .. }) => {
                let of =
                    |fault: &&machine::Fault| fault.remedy.verb == verb && request::part_name(machine, fault) == part;
                remedies += faults.iter().find(of).map_or(0.0, |fault| fault.remedy.minutes);
            }
            _ => {}
        }
    }
    let mut rows = Vec::new();
    if probes + access + remedies > 0.0 {
        let parts = [("measuring", probes), ("access", access), ("repair", remedies)];
        let told: Vec<String> = parts
            .into_iter()
            .filter(|(_, time)| *time > 0.0)
            .map(|(label, time)| format!("{label} {}", minutes(time)))
            .collect();
        let all = minutes(probes + access + remedies);
        rows.push(("Reckoned".to_owned(), format!("about {all}, by the minutes of each step: {}", told.join(", "))));
    }
    if let Some(clock) = by_the_clock(job).filter(|clock| *clock >= LEAST) {
        let text = format!("{}, from entry to entry; pauses of more than an hour left out", minutes(clock));
        rows.push(("By the clock".to_owned(), text));
    }
    rows
}

/// Whole minutes: neither of the two is better known than that.
fn minutes(minutes: f64) -> String {
    format!("{:.0} min", minutes.max(1.0))
}

fn by_the_clock(job: &Job) -> Option<f64> {
    let times: Option<Vec<jiff::Timestamp>> = job.entries.iter().map(|kept| kept.at.parse().ok()).collect();
    let times = times?;
    let pauses = times.windows(2).map(|pair| pair[0].duration_until(pair[1]).as_secs_f64() / 60.0);
    Some(pauses.filter(|pause| (0.0..=PAUSE).contains(pause)).sum())
}
