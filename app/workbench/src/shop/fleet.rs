//! Will they start? For the temperatures of some mornings each machine's odds, what keeps it from starting, what to do the
//! evening before, and which part that wants.
//! Law: `calculator::morning`, over what the sheet says and the journal's last readings leave open (`known.rs`).
//! Promise: what the odds rest on is named; a machine that cannot be told about says why. Limit: rides between a reading and
//! the evening are not known; an open job is named and not reckoned in.

mod boards;
mod forecast;
mod known;

use calculator::morning::{Evening, Hitch, Measure, Morning, USUAL, morning};
use journal::{Journal, JournalError};
use machine::Machine;
use quantity::Celsius;
use rayon::prelude::*;
use serde::Serialize;

use super::bill;
use super::history;
use super::settings::Settings;
use super::words;
pub use boards::{Boards, Found};
pub use forecast::{Asked, NoForecast, read, typed, usual};

/// Jobs that are looked at for whether a board is still that of the journal.
pub const JOBS: usize = 2000;
/// Odds from which a machine is left alone.
pub const ENOUGH: f64 = 0.95;
/// Extra resistance of a path, or wear of a battery over the sheet's, from which mending it is looked at.
const PATH_WORTH: f64 = 2e-3;
const WEAR_WORTH: f64 = 1.5;
/// A series that crosses its limit before that many days from now is named.
const SOON: f64 = 60.0;

/// All machines on all mornings.
#[derive(Clone, Debug, Serialize)]
pub struct Board {
    /// The mornings, in the order asked.
    pub mornings: Vec<Asked>,
    /// Odds that are enough.
    pub enough: f64,
    /// One a machine.
    pub machines: Vec<Row>,
}

/// One machine.
#[derive(Clone, Debug, Serialize)]
pub struct Row {
    /// Its id.
    pub machine: String,
    /// Its title.
    pub title: String,
    /// What was read that the odds rest on, a sentence each.
    pub knows: Vec<String>,
    /// What was never read, so that the usual is taken.
    pub not_read: Vec<&'static str>,
    /// A job that is open.
    pub open_job: Option<String>,
    /// One a morning; empty where nothing can be told.
    pub mornings: Vec<Told>,
    /// Why nothing can be told.
    pub refused: Option<String>,
    /// What crosses its limit soon, a sentence each.
    pub watch: Vec<String>,
    /// The part that the measures want.
    pub buy: Vec<Part>,
}

/// One morning of a machine.
#[derive(Clone, Debug, Serialize)]
pub struct Told {
    /// Odds of a start.
    pub odds: f64,
    /// Speed of the crankshaft at the first burst, rpm: the middle case.
    pub rpm: f64,
    /// Speed from which it fires, rpm.
    pub fires_above_rpm: f64,
    /// What keeps it from starting, in words; nothing where the odds are enough.
    pub limit: Option<String>,
    /// What to do the evening before, and the odds with it, the least trouble first; up to the first that is enough.
    pub tonight: Vec<Tonight>,
}

/// Something to do the evening before.
#[derive(Clone, Debug, Serialize)]
pub struct Tonight {
    #[serde(skip)]
    of: Measure,
    /// Its word.
    pub measure: &'static str,
    /// In words.
    pub title: &'static str,
    /// What is usual to mind.
    pub caution: Option<&'static str>,
    /// Odds with it.
    pub odds: f64,
}

/// A part to buy.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Part {
    /// Its title on the sheet.
    pub title: String,
    /// Price as in the settings.
    pub price: Option<String>,
    /// How many lie on the shelf, by the settings.
    pub shelf: Option<u32>,
    /// Days until one arrives, by the settings.
    pub lead_days: Option<f64>,
}

/// What a board is made for.
pub struct Wanted<'a> {
    /// The mornings.
    pub mornings: &'a [Asked],
    /// Odds that are enough.
    pub enough: f64,
    /// Prices and shelf.
    pub settings: &'a Settings,
}

/// What the journal knows of a machine.
///
/// # Errors
/// When the journal cannot be read.
pub fn known(journal: &Journal, machine: &Machine, today: f64) -> Result<Known, JournalError> {
    let jobs = history::jobs(journal, &machine.sheet.id)?;
    let (evening, knows, not_read) = known::evening(machine, &jobs, today);
    let open_job = jobs.iter().rev().find(|job| job.closed().is_none()).map(|job| job.id.clone());
    let told = history::history(machine, &jobs, today, None, &mut |_, _| None);
    let watch = told.series.iter().filter_map(|series| soon(series, today)).collect();
    Ok(Known { evening, knows, not_read, open_job, watch })
}

/// What the journal knows of a machine.
pub struct Known {
    evening: Evening,
    knows: Vec<String>,
    not_read: Vec<&'static str>,
    open_job: Option<String>,
    watch: Vec<String>,
}

/// The board of some machines; `done` is told how many of them are.
pub fn board(machines: &[(&Machine, &Known)], wanted: &Wanted<'_>, done: &(dyn Fn(usize) + Sync)) -> Board {
    let count = std::sync::atomic::AtomicUsize::new(0);
    let rows = machines.par_iter().map(|(machine, known)| {
        let row = row(machine, known, wanted);
        done(count.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1);
        row
    });
    Board { mornings: wanted.mornings.to_vec(), enough: wanted.enough, machines: rows.collect() }
}

fn row(machine: &Machine, known: &Known, wanted: &Wanted<'_>) -> Row {
    let mornings: Result<Vec<Told>, _> =
        wanted.mornings.par_iter().map(|asked| told(machine, known, Celsius(asked.air_c), wanted.enough)).collect();
    let (mornings, refused) = match mornings {
        Ok(mornings) => (mornings, None),
        Err(error) => (Vec::new(), Some(error.to_string())),
    };
    let mut buy = Vec::new();
    for tonight in mornings.iter().flat_map(|told| &told.tonight) {
        let part = parts_of(tonight.of).and_then(|(verb, kinds)| part(machine, wanted.settings, verb, kinds));
        if let Some(part) = part.filter(|part| !buy.contains(part)) {
            buy.push(part);
        }
    }
    Row {
        machine: machine.sheet.id.clone(),
        title: machine.sheet.title.clone(),
        knows: known.knows.clone(),
        not_read: known.not_read.clone(),
        open_job: known.open_job.clone(),
        mornings,
        refused,
        watch: known.watch.clone(),
        buy,
    }
}

fn told(machine: &Machine, known: &Known, air: Celsius, enough: f64) -> Result<Told, calculator::Refused> {
    let as_it_is = morning(machine, &known.evening, air, &USUAL)?;
    let mut tonight: Vec<Tonight> = Vec::new();
    if as_it_is.odds < enough {
        for (measure, words) in measures().filter(|(measure, _)| is_worth(*measure, &known.evening)) {
            let odds = morning(machine, &measure.done(known.evening), air, &USUAL)?.odds;
            // What helps no more than the simpler thing is no advice.
            let best = tonight.iter().map(|one| one.odds).fold(as_it_is.odds, f64::max);
            if odds > best + 0.02 {
                tonight.push(Tonight {
                    of: measure,
                    measure: words.word,
                    title: words.title,
                    caution: words.caution,
                    odds,
                });
            }
            if odds >= enough {
                break;
            }
        }
    }
    Ok(Told {
        odds: as_it_is.odds,
        rpm: as_it_is.turns.rpm(),
        fires_above_rpm: as_it_is.fires_above.rpm(),
        limit: (as_it_is.odds < enough).then(|| limit(&as_it_is)).flatten(),
        tonight,
    })
}

/// Whether a measure is about something that is not as it should be.
fn is_worth(measure: Measure, evening: &Evening) -> bool {
    match measure {
        Measure::Path => evening.path.likely > PATH_WORTH,
        Measure::Battery => evening.wear.likely > WEAR_WORTH,
        Measure::Charge | Measure::Indoors | Measure::ChargeIndoors => true,
    }
}

struct Words {
    word: &'static str,
    title: &'static str,
    caution: Option<&'static str>,
}

/// The measures in words.
fn measures() -> impl Iterator<Item = (Measure, Words)> {
    const CHARGER: &str = "a charger for its chemistry; lithium never below 0 °C nor above 14.6 V; never a frozen, swollen or hot battery";
    const OUT: &str = "negative lead off first, on last; no flame, no heat gun";
    Measure::ALL.into_iter().map(|measure| {
        let (word, title, caution) = match measure {
            Measure::Indoors => ("indoors", "keep the battery indoors until the start", Some(OUT)),
            Measure::Charge => ("charge", "charge the battery", Some(CHARGER)),
            Measure::ChargeIndoors => ("charge-indoors", "charge the battery and keep it indoors", Some(CHARGER)),
            Measure::Path => ("path", "bring the cables and joints of the starter back to what they were", Some(OUT)),
            Measure::Battery => ("battery", "fit a new battery, charged", Some(OUT)),
        };
        (measure, Words { word, title, caution })
    })
}

/// What keeps it from starting, in words: what costs most.
fn limit(morning: &Morning) -> Option<String> {
    let (hitch, cost) = *morning.hitches.first()?;
    let why = match hitch {
        Hitch::NoContact => "the relay does not hold on this battery".to_owned(),
        Hitch::SpinsOnly => "the starter spins without taking the engine along".to_owned(),
        Hitch::Stalls => "the starter stalls against the cold engine".to_owned(),
        Hitch::TooSlow => {
            let (turns, fires) = (morning.turns.rpm(), morning.fires_above.rpm());
            let weaker = if turns < fires { "" } else { ", weaker ones slower" };
            format!(
                "it is turned too slowly: {turns:.0} rpm in the middle case{weaker}, and it fires above about {fires:.0}"
            )
        }
        Hitch::HardlyFires => "it is turned fast enough, but cold fuel hardly catches".to_owned(),
    };
    Some(format!("{why} ({} of cases lost to that)", words::odds(cost)))
}

/// The remedy's verb and the kinds of part that a measure wants.
fn parts_of(measure: Measure) -> Option<(&'static str, &'static [&'static str])> {
    match measure {
        Measure::Battery => Some(("replace", &["battery"])),
        Measure::Path => Some(("replace", &["cable"])),
        Measure::Charge | Measure::Indoors | Measure::ChargeIndoors => None,
    }
}

fn part(machine: &Machine, settings: &Settings, verb: &str, kinds: &[&str]) -> Option<Part> {
    let part = machine.sheet.parts.iter().find(|part| kinds.contains(&part.kind.name))?;
    let stock = settings.part(&machine.sheet.id, verb, &part.name.name, part.kind.name);
    let price = stock.zip(settings.money.as_ref()).map(|(stock, money)| bill::shown(stock.price, &money.currency));
    Some(Part {
        title: part.title.clone(),
        price,
        shelf: stock.and_then(|stock| stock.shelf),
        lead_days: stock.map(|stock| stock.lead_days),
    })
}

impl Row {
    /// What to mind with all that is to be done tonight, each once.
    pub fn cautions(&self) -> Vec<&'static str> {
        let all = self.mornings.iter().flat_map(|told| &told.tonight).filter_map(|tonight| tonight.caution);
        all.collect::<std::collections::BTreeSet<_>>().into_iter().collect()
    }
}

impl Part {
    /// What it costs and when it is there, in a line.
    pub fn in_words(&self) -> String {
        let mut words = self.title.clone();
        if let Some(price) = &self.price {
            words += &format!(", {price}");
        }
        match (self.shelf, self.lead_days) {
            (Some(0), Some(days)) => words += &format!(", none on the shelf: {days:.0} days"),
            (Some(shelf), _) => words += &format!(", {shelf} on the shelf"),
            (None, _) => {}
        }
        words
    }
}

/// A series that is over its limit, or soon will be.
fn soon(series: &history::Series, today: f64) -> Option<String> {
    let crossing = series.forecast.as_ref()?;
    if crossing.crossed_already.is_some_and(|odds| odds > 0.5) {
        return Some(format!("{}: over its limit", series.title));
    }
    let likely = crossing.likely.as_ref()?;
    let days = history::day(&format!("{likely}T00:00:00Z"))? - today;
    (days < SOON).then(|| format!("{}: crosses its limit about {likely}", series.title))
}
