//! What the journal's last readings say of a battery and its path, with what stands open.
//! Law: charge by the rest voltage less what the sheet's machine draws since; wear by volts and amperes while cranking, as in
//! the worksheet `battery`; the path by volts at the motor beside them, against the sheet's own.
//! Promise: each sentence names its reading and its day; what was not read is named, and the usual ranges hold.
//! Limit: the latest of each; a charge or a new battery that was entered as a remedy counts, a ride does not, so that a
//! charge counts for a month only.

use calculator::morning::{Evening, FULL, NEW, Span, leak, new_over_own, own_path};
use journal::Job;
use machine::Machine;
use quantity::{Celsius, Dimension, Seconds, show};

use crate::shop::history::{MILD, Repair, cranked, latest_rest, repairs};

/// A charge that was read or filled longer ago is no longer known: the machine was ridden, days.
const CURRENT: f64 = 30.0;
/// A reading of wear or path leaves a quarter open (estimate: meter, clamp and warmth of the cells).
const OPEN: f64 = 0.25;

/// What is known, sentences that say why, and what was never read.
pub fn evening(machine: &Machine, jobs: &[Job], today: f64) -> (Evening, Vec<String>, Vec<&'static str>) {
    let mut evening = Evening::of(machine);
    let (mut knows, mut not_read) = (Vec::new(), Vec::new());
    let repairs = repairs(machine, jobs);
    let battery = |verb: &str| latest_on_battery(machine, &repairs, verb);
    let drawn = leak(machine);
    let since = |day: f64| Seconds((today - day).max(0.0) * 86_400.0);
    let renewed = battery("replace");
    let filled =
        battery("charge").into_iter().chain(renewed.clone()).max_by(|one, other| one.day.total_cmp(&other.day));
    let fresh = |day: f64| today - day < CURRENT;
    let rest = latest_rest(machine, jobs).filter(|rest| fresh(rest.day));
    let filled = filled.filter(|filled| fresh(filled.day));
    match (rest, filled) {
        (Some(rest), filled) if filled.as_ref().is_none_or(|filled| filled.day <= rest.day) => {
            let at = Celsius(rest.air_c.unwrap_or(MILD.0));
            evening = evening.rested_at(machine, rest.value, at, since(rest.day), drawn);
            knows.push(format!(
                "{} at rest on {}, and {} since: {} of charge",
                show(rest.value, Dimension::Voltage),
                date(&rest.at),
                show(drawn.0, Dimension::Current),
                between(evening.charge)
            ));
        }
        (_, Some(filled)) => {
            evening = evening.drained(machine, FULL, since(filled.day), drawn);
            knows.push(format!("filled on {}, and {} since", date(&filled.at), show(drawn.0, Dimension::Current)));
        }
        (..) => not_read.push("rest voltage of this month"),
    }
    let cranked = cranked(machine, jobs);
    match cranked.as_ref().filter(|cranked| renewed.as_ref().is_none_or(|renewed| renewed.day <= cranked.day)) {
        Some(cranked) => {
            let times = cranked.times_new * new_over_own(machine);
            evening.wear = open(times, 0.8);
            knows.push(format!(
                "{:.1} times the resistance of a new battery on {}",
                cranked.times_new,
                date(&cranked.at)
            ));
        }
        None if renewed.is_some() => evening.wear = NEW,
        None => not_read.push("volts and amperes while cranking"),
    }
    if let Some((path, at)) = cranked.and_then(|cranked| Some((cranked.path?, cranked.at)))
        && let Some(own) = own_path(machine)
    {
        let more = path - own.0;
        evening.path = open(more.max(0.0), 0.0);
        knows.push(format!(
            "{} from battery to starter on {}, of which {} are the sheet's",
            show(path, Dimension::Resistance),
            date(&at),
            show(own.0, Dimension::Resistance)
        ));
    }
    (evening, knows, not_read)
}

fn open(value: f64, least: f64) -> Span {
    Span { low: (value * (1.0 - OPEN)).max(least), likely: value.max(least), high: (value * (1.0 + OPEN)).max(least) }
}

fn between(span: Span) -> String {
    format!("{:.0} to {:.0} %", 100.0 * span.low, 100.0 * span.high)
}

fn date(at: &str) -> &str {
    at.get(..10).unwrap_or(at)
}

fn latest_on_battery(machine: &Machine, repairs: &[Repair], verb: &str) -> Option<Repair> {
    let of_battery = |repair: &&Repair| {
        let part = machine.part(&repair.part).is_ok_and(|part| machine.sheet.parts[part].kind.name == "battery");
        part && repair.remedy.starts_with(&format!("try:{verb}@"))
    };
    repairs.iter().rev().find(of_battery).cloned()
}
