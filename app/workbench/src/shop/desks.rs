//! Desks for several machines at once: each with its table of readings, computed in the background.
//! Promise: at most three tables are in memory, the ones used last; nobody waits for a table to be computed, its progress
//! can be asked for; the same job with the same entries is thought about once.

use std::collections::{BTreeMap, VecDeque};
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;

use diagnosis::advice::Advice;
use diagnosis::request;
use diagnosis::trial::Trial;
use journal::Job;
use machine::probe::Sort;
use quantity::Celsius;

use super::advice;
use super::bill;
use super::learned::Lessons;
use super::machines::Ready;
use super::probes;
use super::readings::Map;
use super::refusal::Refusal;
use super::settings::Settings;
use super::{tables, words};

/// Tables in memory.
const MOST: usize = 3;
/// Nobody is shown a page that says "computing" for what takes no longer than this.
const PATIENCE: Duration = Duration::from_millis(400);
/// Healthy bands that are remembered for each machine.
const BANDS: usize = 4000;
/// Pieces of advice that are remembered for each machine.
const REMEMBERED: usize = 32;

/// The desks.
pub struct Desks {
    /// The one used last at the front.
    places: Mutex<Vec<Arc<Place>>>,
    /// What a part costs that was not the fault.
    settings: Arc<Settings>,
}

/// A machine's desk, or what there is of it yet.
struct Place {
    fingerprint: String,
    /// Of the table, in thousandths.
    done: AtomicU32,
    /// The desk, with those who work planted faults beside it; nothing in it when computing it broke off.
    desk: OnceLock<Option<Mutex<Trial>>>,
    /// Rung when the desk is there.
    bell: (Mutex<()>, Condvar),
    remembered: Mutex<VecDeque<(String, Arc<Advice>)>>,
    /// Healthy bands as shown, by probe and air temperature (its bits).
    bands: Mutex<BTreeMap<(String, Option<u64>), String>>,
}

/// What can be had now.
pub enum Thought {
    /// The advice.
    Advice(Arc<Advice>),
    /// Nothing before the table is there; how much of it is, 0 to 1.
    Later(f64),
}

impl Desks {
    /// No desk yet; parts cost what the settings say.
    pub fn new(settings: Settings) -> Self {
        Self { places: Mutex::default(), settings: Arc::new(settings) }
    }

    /// Has a machine's table computed, unless it is there or on its way.
    pub fn prepare(&self, ready: &Arc<Ready>) {
        self.place(ready);
    }

    /// Advice for a job with this machine, by what the jobs before it have taught.
    ///
    /// # Errors
    /// When the job names something that the machine does not have.
    pub fn advise(&self, ready: &Arc<Ready>, job: &Job, lessons: &Lessons) -> Result<Thought, Refusal> {
        let place = self.place(ready);
        let Some(desk) = place.soon() else { return Ok(Thought::Later(place.share())) };
        let key = format!("{} {}", job.id, job.entries.len());
        let known = lock(&place.remembered).iter().find(|(known, _)| *known == key).map(|(_, advice)| advice.clone());
        if let Some(advice) = known {
            return Ok(Thought::Advice(advice));
        }
        let mut trial = lock(desk);
        let desk = trial.desk();
        desk.learn(&lessons.learned);
        let advice = Arc::new(advice::advise(desk, &job.request(None))?);
        drop(trial);
        let mut remembered = lock(&place.remembered);
        remembered.push_front((key, advice.clone()));
        remembered.truncate(REMEMBERED);
        Ok(Thought::Advice(advice))
    }

    /// What a healthy machine shows on a probe, as its instrument displays it; nothing while the table is not there.
    pub fn healthy(&self, ready: &Arc<Ready>, air: Option<Celsius>, probe: &str) -> Option<String> {
        let place = self.place(ready);
        let key = (probe.to_owned(), air.map(|air| air.0.to_bits()));
        if let Some(known) = lock(&place.bands).get(&key) {
            return Some(known.clone());
        }
        let mut trial = lock(place.there()?);
        let desk = trial.desk();
        let probe = ready.machine.probe(probe).ok().filter(|probe| !matches!(probe.sort, Sort::Ask(_)))?;
        let column = desk.atlas().column_of(&probe)?;
        let band = probes::displayed_band(&probe, &desk.band(column, air));
        let mut bands = lock(&place.bands);
        if bands.len() >= BANDS {
            bands.clear();
        }
        bands.insert(key, band.clone());
        Some(band)
    }

    /// The latest reading of a job beside what a healthy machine shows, in a sentence; nothing where there is nothing to
    /// compare.
    pub fn compared(&self, ready: &Arc<Ready>, job: &Job) -> Option<String> {
        let (name, value) = job.latest_reading()?;
        let request::Entry::Took(probe, reading) = request::entry(&ready.machine, &ready.faults, name, value).ok()?
        else {
            return None;
        };
        let place = self.place(ready);
        let mut trial = lock(place.there()?);
        let desk = trial.desk();
        let column = desk.atlas().column_of(&probe)?;
        Some(words::compared(&probe, &reading, &desk.band(column, job.request(None).air)))
    }

    /// The table of readings of one operating state, or how much of it is computed.
    ///
    /// # Errors
    /// While the table is not there.
    pub fn map(&self, ready: &Arc<Ready>, state: &str) -> Result<Map, f64> {
        let place = self.place(ready);
        match place.soon() {
            Some(desk) => Ok(Map::new(lock(desk).desk(), state)),
            None => Err(place.share()),
        }
    }

    /// Works with the machine's desk and the technicians beside it, by the sheet's own odds.
    ///
    /// # Errors
    /// While the table is not there: how much of it is.
    pub fn trial<T>(&self, ready: &Arc<Ready>, work: impl FnOnce(&mut Trial) -> T) -> Result<T, f64> {
        self.trial_by(ready, &Lessons::default(), work)
    }

    /// The same by what jobs have taught.
    ///
    /// # Errors
    /// While the table is not there: how much of it is.
    pub fn trial_by<T>(
        &self,
        ready: &Arc<Ready>,
        lessons: &Lessons,
        work: impl FnOnce(&mut Trial) -> T,
    ) -> Result<T, f64> {
        let place = self.place(ready);
        let Some(trial) = place.soon() else { return Err(place.share()) };
        let mut trial = lock(trial);
        trial.desk().learn(&lessons.learned);
        Ok(work(&mut trial))
    }

    fn place(&self, ready: &Arc<Ready>) -> Arc<Place> {
        let mut places = lock(&self.places);
        // What broke off is begun anew.
        places.retain(|place| !matches!(place.desk.get(), Some(None)));
        if let Some(index) = places.iter().position(|place| place.fingerprint == ready.fingerprint) {
            let place = places.remove(index);
            places.insert(0, place.clone());
            return place;
        }
        let place = Arc::new(Place {
            fingerprint: ready.fingerprint.clone(),
            done: AtomicU32::new(0),
            desk: OnceLock::new(),
            bell: Default::default(),
            remembered: Mutex::default(),
            bands: Mutex::default(),
        });
        places.insert(0, place.clone());
        places.truncate(MOST);
        let (filling, ready, settings) = (place.clone(), ready.clone(), self.settings.clone());
        std::thread::spawn(move || {
            let progress = |done: f64| filling.done.store((1000.0 * done) as u32, Ordering::Relaxed);
            let filled = catch_unwind(AssertUnwindSafe(|| {
                let worlds = tables::full(&ready.machine);
                let table = tables::table_with(&ready.machine, &ready.text, worlds, &progress);
                let mut trial = Trial::new(ready.machine.clone(), table);
                trial.desk().price(|fault| bill::in_vain(&ready.machine, &settings, fault));
                trial
            }));
            // Nobody else fills it.
            let _ = filling.desk.set(filled.ok().map(Mutex::new));
            drop(lock(&filling.bell.0));
            filling.bell.1.notify_all();
        });
        place
    }
}

impl Place {
    /// The desk; waits a moment for one that only has to be read from the disk.
    fn soon(&self) -> Option<&Mutex<Trial>> {
        let waiting = lock(&self.bell.0);
        let there = self.bell.1.wait_timeout_while(waiting, PATIENCE, |()| self.desk.get().is_none());
        drop(there);
        match self.desk.get()? {
            Some(desk) => Some(desk),
            // Whoever waited falls over likewise: a page that says so is better than one that waits for ever.
            None => resume_unwind(Box::new("the table of readings broke off")),
        }
    }

    /// The desk, if it is there.
    fn there(&self) -> Option<&Mutex<Trial>> {
        self.desk.get()?.as_ref()
    }

    /// How much of the table is there, 0 to 1.
    fn share(&self) -> f64 {
        f64::from(self.done.load(Ordering::Relaxed)) / 1000.0
    }
}

/// A thread that fell over while it thought has left nothing half done that another could not think anew.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
