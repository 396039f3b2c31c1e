//! What needs the table of readings: advice for a hint, what a mended machine must show, what a session amounts to.
//! Promise: nobody waits; what takes long is worked out in the background, once.

use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use diagnosis::advice::{Advice, Check};
use diagnosis::proof::within;
use diagnosis::request::{Entry, entry};
use diagnosis::trial::Trial;

use super::super::super::advice;
use super::super::super::refusal::Refusal;
use super::super::super::workshop::Workshop;
use super::super::score::Report;
use super::super::{Act, Checked, Practice};
use super::Session;

/// What a session comes to once nothing more can be done.
pub enum Finished {
    /// The machine is mended; this is what it must show now.
    Checks(Vec<Check>),
    /// All of it, with what the repair check has shown.
    All(Box<Report>, Vec<Checked>),
}

/// What can be had of it now.
pub enum Ended {
    /// It.
    There(Arc<Finished>),
    /// It is being worked out; of the table so much is there, 0 to 1.
    Later(f64),
    /// It cannot be worked out.
    Refused(Refusal),
    /// The program's own fault.
    FellOver,
}

type Worked = Result<Finished, Refusal>;

#[derive(Default)]
pub(super) struct Ending {
    advice: Option<Arc<Advice>>,
    working: Option<JoinHandle<Worked>>,
    finished: Option<Arc<Finished>>,
}

/// A machine's table is asked for so often while it is not there.
const PAUSE: Duration = Duration::from_millis(200);

impl Session {
    /// Advice after what was read so far; how much of the table is there while it is not.
    ///
    /// # Errors
    /// When the desk cannot use what was read.
    pub fn advice(&mut self, workshop: &Workshop) -> Result<Result<Arc<Advice>, f64>, Refusal> {
        if let Some(known) = &self.ending.advice {
            return Ok(Ok(known.clone()));
        }
        let request = self.practice.request(self.practice.notes.len());
        let advised = workshop.desks.trial(&self.ready, |bench| advice::advise(bench.desk(), &request));
        match advised {
            Err(done) => Ok(Err(done)),
            Ok(advised) => {
                let advised = Arc::new(advised?);
                self.ending.advice = Some(advised.clone());
                Ok(Ok(advised))
            }
        }
    }

    /// What a session that is over comes to.
    pub fn ended(&mut self, workshop: &Arc<Workshop>) -> Ended {
        if let Some(known) = &self.ending.finished {
            return Ended::There(known.clone());
        }
        let done = workshop.desks.trial(&self.ready, |_| ()).err();
        let Some(working) = self.ending.working.take() else {
            let (workshop, ready, kept) = (workshop.clone(), self.ready.clone(), self.practice.kept());
            self.ending.working = Some(std::thread::spawn(move || {
                let practice = Practice::replay(ready.machine.clone(), &kept)?;
                loop {
                    match workshop.desks.trial(&ready, |bench| finished(&practice, bench)) {
                        Ok(finished) => return finished,
                        Err(_) => std::thread::sleep(PAUSE),
                    }
                }
            }));
            return Ended::Later(done.unwrap_or(1.0));
        };
        if !working.is_finished() {
            self.ending.working = Some(working);
            return Ended::Later(done.unwrap_or(1.0));
        }
        match working.join() {
            Ok(Ok(finished)) => {
                let finished = Arc::new(finished);
                self.ending.finished = Some(finished.clone());
                Ended::There(finished)
            }
            Ok(Err(refusal)) => Ended::Refused(refusal),
            Err(_) => Ended::FellOver,
        }
    }
}

fn finished(practice: &Practice, bench: &mut Trial) -> Worked {
    let checks = |act: usize| matches!(practice.acts.get(act), Some(Act::Check { .. }));
    let before = practice.notes.iter().position(|noted| checks(noted.act)).unwrap_or(practice.notes.len());
    let mut proof = Vec::new();
    if practice.is_mended() {
        let advice = advice::advise(bench.desk(), &practice.request(before))?;
        proof = advice.verdict.map(|verdict| verdict.proof).unwrap_or_default();
        if before == practice.notes.len() && !proof.is_empty() {
            return Ok(Finished::Checks(proof));
        }
    }
    let faults = practice.machine().faults();
    let checked = proof.into_iter().zip(&practice.notes[before..]).map(|(check, noted)| {
        let typed = noted.typed.as_deref().unwrap_or_default();
        let passed = match entry(practice.machine(), &faults, &check.probe, typed) {
            Ok(Entry::Took(_, reading)) => within(&check.band, &reading),
            _ => false,
        };
        Checked { check, shown: noted.shown.clone().unwrap_or_default(), passed }
    });
    let checked = checked.collect();
    Ok(Finished::All(Box::new(practice.result(bench)?), checked))
}
