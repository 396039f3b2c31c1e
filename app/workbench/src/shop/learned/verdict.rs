//! What a closed job teaches: whose fault it was, and how bad.

use diagnosis::learned::{Found, Start, Taught};
use journal::{Entry, Job};

use super::seconds;

/// A job's last verdict, shared among the faults that the readings could not tell apart by their starting odds, and how bad
/// they were where that was proven; `now` in seconds.
pub fn lesson<'a>(job: &Job, starts: impl FnOnce() -> &'a [Start], now: f64) -> Option<(Taught, Vec<Found>)> {
    let standing = job.standing();
    let (place, told, probability, severities) = standing.iter().enumerate().rev().find_map(|(place, kept)| {
        let Entry::Told { faults, probability, severities, .. } = &kept.entry else { return None };
        Some((place, faults, *probability, severities))
    })?;
    let after = || {
        standing[place..].iter().filter_map(|kept| match &kept.entry {
            Entry::Reading { probe, value } => Some((probe.as_str(), value.as_str())),
            _ => None,
        })
    };
    let in_vain = after().any(|(probe, value)| probe.starts_with("try:") && value == "same");
    let came_back = after().any(|(probe, value)| probe == "ask:held-up" && value == "no");
    if in_vain || came_back {
        return None;
    }
    let proven = job.closed()?;
    let starts = starts();
    let start = |name: &String| starts.iter().find(|start| start.fault == *name);
    let share = |name: &String| start(name).map_or(0.0, |start| start.share);
    let all: f64 = told.iter().map(share).sum();
    if all <= 0.0 {
        return None;
    }
    let sure = if proven { 1.0 } else { probability.clamp(0.0, 1.0) };
    let odds: Vec<(String, f64)> = told.iter().map(|name| (name.clone(), sure * share(name) / all)).collect();
    let years = (now - seconds(&standing[place].at)?).max(0.0) / (365.25 * 86_400.0);
    let found = told.iter().zip(&odds).zip(severities).filter_map(|((name, (_, counts)), fits)| {
        Some(Found { class: start(name)?.class.clone(), fits: (*fits)?, counts: *counts })
    });
    let found = if proven { found.collect() } else { Vec::new() };
    Some((Taught { model: job.machine.clone(), odds, proven, years }, found))
}
