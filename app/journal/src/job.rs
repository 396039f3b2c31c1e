//! A job as its entries tell it: what stands, what is asked of the adviser, whether it is closed.
//! Promise: a function of the entries alone; nothing is kept here that is not in them.

use diagnosis::Request;
use quantity::{Celsius, Dimension};

use crate::entry::{Entry, Kept};

/// A job, read from the journal.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// Its name, as in `curlew-2026-01-31-1`.
    pub id: String,
    /// The machine's id.
    pub machine: String,
    /// All entries, in order.
    pub entries: Vec<Kept>,
}

impl Job {
    /// The entries that still stand: what was taken back is left out.
    pub fn standing(&self) -> Vec<&Kept> {
        let mut standing: Vec<&Kept> = Vec::new();
        for kept in &self.entries {
            if kept.entry == Entry::Undo {
                if let Some(last) = standing.iter().rposition(|kept| kept.entry.can_be_undone()) {
                    standing.remove(last);
                }
            } else {
                standing.push(kept);
            }
        }
        standing
    }

    /// The latest entry that can be taken back.
    pub fn last_undoable(&self) -> Option<&Entry> {
        self.standing().into_iter().rev().map(|kept| &kept.entry).find(|entry| entry.can_be_undone())
    }

    /// Whether the job is closed, and then whether with a proven cause.
    pub fn closed(&self) -> Option<bool> {
        let end = self.entries.iter().rev().find_map(|kept| match kept.entry {
            Entry::Closed { proven } => Some(Some(proven)),
            Entry::Reopened => Some(None),
            _ => None,
        });
        end.flatten()
    }

    /// Fingerprint of the sheet with which the job was opened.
    pub fn sheet(&self) -> &str {
        let opened = self.entries.iter().find_map(|kept| match &kept.entry {
            Entry::Opened { sheet, .. } => Some(sheet.as_str()),
            _ => None,
        });
        opened.unwrap_or_default()
    }

    /// The job as a request for advice.
    pub fn request(&self, instruments: Option<&[String]>) -> Request {
        let mut request = Request { instruments: instruments.map(<[String]>::to_vec), ..Request::default() };
        for kept in self.standing() {
            match &kept.entry {
                Entry::Complaint { value } if value != "skip" => request.complaint = Some(value.clone()),
                Entry::Air { value } => {
                    request.air = quantity::read_loosely(value, Dimension::Temperature).ok().map(Celsius);
                }
                Entry::Instruments { value } if instruments.is_none() => request.instruments = Some(value.clone()),
                Entry::Reading { probe, value } if !(probe.starts_with("ask:") && value == "skip") => {
                    request.readings.push((probe.clone(), value.clone()));
                }
                _ => {}
            }
        }
        request
    }

    /// What the owner says; `skip` where the technician left it open.
    pub fn complaint(&self) -> Option<&str> {
        self.standing().into_iter().rev().find_map(|kept| match &kept.entry {
            Entry::Complaint { value } => Some(value.as_str()),
            _ => None,
        })
    }

    /// Air temperature as typed.
    pub fn air(&self) -> Option<&str> {
        self.standing().into_iter().rev().find_map(|kept| match &kept.entry {
            Entry::Air { value } => Some(value.as_str()),
            _ => None,
        })
    }

    /// What the owner has agreed to pay at most; nothing where there is no limit.
    pub fn limit(&self) -> Option<f64> {
        self.standing().into_iter().rev().find_map(|kept| match &kept.entry {
            Entry::Limit { amount, .. } => Some(*amount),
            _ => None,
        })
    }

    /// Names and values of the readings that stand, in order.
    pub fn readings(&self) -> impl Iterator<Item = (&str, &str)> {
        self.standing().into_iter().filter_map(|kept| match &kept.entry {
            Entry::Reading { probe, value } => Some((probe.as_str(), value.as_str())),
            _ => None,
        })
    }

    /// The value of the latest standing reading of that name.
    pub fn reading(&self, name: &str) -> Option<&str> {
        self.standing().into_iter().rev().find_map(|kept| match &kept.entry {
            Entry::Reading { probe, value } if probe == name => Some(value.as_str()),
            _ => None,
        })
    }

    /// Name and value of the latest entry, where it is a reading that stands.
    pub fn latest_reading(&self) -> Option<(&str, &str)> {
        match &self.standing().last()?.entry {
            Entry::Reading { probe, value } => Some((probe, value)),
            _ => None,
        }
    }

    /// What was read after the latest remedy that worked: name and value.
    pub fn after_repair(&self) -> Vec<(String, String)> {
        let mut after = Vec::new();
        let mut repaired = false;
        for kept in self.standing() {
            if let Entry::Reading { probe, value } = &kept.entry {
                if repaired {
                    after.push((probe.clone(), value.clone()));
                }
                repaired = if probe.starts_with("try:") { value == "fixed" } else { repaired };
            }
        }
        after
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn job(entries: &[Entry]) -> Job {
        let kept = |(number, entry): (usize, &Entry)| Kept {
            number: number as u64 + 1,
            key: number.to_string(),
            at: String::new(),
            entry: entry.clone(),
            waits: false,
        };
        Job { id: "a-1".into(), machine: "a".into(), entries: entries.iter().enumerate().map(kept).collect() }
    }

    fn reading(probe: &str, value: &str) -> Entry {
        Entry::Reading { probe: probe.into(), value: value.into() }
    }

    #[test]
    fn law_taking_back_twice_takes_back_two_entries_and_never_what_was_told() {
        let told = Entry::Told { faults: vec![], probability: 0.9, proven: false, severities: vec![] };
        let job = job(&[reading("a", "1"), reading("b", "2"), told.clone(), Entry::Undo, Entry::Undo, Entry::Undo]);
        let standing: Vec<&Entry> = job.standing().into_iter().map(|kept| &kept.entry).collect();
        assert_eq!(standing, [&told]);
    }

    #[test]
    fn law_only_what_follows_a_repair_that_held_is_its_check() {
        let job = job(&[
            reading("try:clean@a", "fixed"),
            reading("b", "1"),
            reading("try:swap@c", "same"),
            reading("d", "2"),
            reading("try:charge@e", "fixed"),
            reading("f", "3"),
        ]);
        assert_eq!(
            job.after_repair(),
            [("b", "1"), ("try:swap@c", "same"), ("f", "3")].map(|(a, b)| (a.into(), b.into()))
        );
    }

    #[test]
    fn law_a_job_that_is_gone_on_with_is_open_again() {
        let closed = Entry::Closed { proven: true };
        assert_eq!(job(std::slice::from_ref(&closed)).closed(), Some(true));
        assert_eq!(job(&[closed, Entry::Reopened]).closed(), None);
    }

    #[test]
    fn law_a_question_left_open_is_no_reading() {
        let request =
            job(&[reading("ask:since", "skip"), reading("b", "1"), Entry::Air { value: "-4,5".into() }]).request(None);
        assert_eq!(request.readings, [("b".to_owned(), "1".to_owned())]);
        assert_eq!(request.air.unwrap().0, -4.5);
    }
}
