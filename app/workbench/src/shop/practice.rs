//! Practice: a machine with a planted fault, a virtual meter, and a clock.
//! Idea: a session is its case and the list of acts; everything else follows by doing them again, so that a page or a file
//! need keep no more. What the meter shows comes from the verb behind `read`, what an act costs from the purse of `trial`.
//! Promise: time never runs back; an act that is refused costs nothing and leaves no trace.
//! Limit: apart from its fault the machine is as its sheet says, and the meter has no noise beyond its last digit.

use diagnosis::advice::Advice;
use diagnosis::request::{Request, entry, part_name};
use diagnosis::trial::{Chance, Price, Purse, Trial};
use machine::probe::{Question, Sort};
use machine::{Fault, Instrument, Machine, Probe};
use quantity::{Dimension, show_with};

use super::advice;
use super::answer::{self, Read};
use super::changes::Changes;
use super::refusal::{Place, Reason, Refusal, did_you_mean, listed};
use super::stand::Stand;
use super::tables;

pub mod case;
pub mod kept;
pub mod leads;
pub mod line;
pub mod lists;
pub mod remedy;
pub mod score;
pub mod sessions;

pub use case::{Case, Settings};
pub use kept::{Act, Kept, Minutes, Noted};
use leads::Hand;
pub use remedy::{Checked, Cure, Mended};

/// Minutes that a hint costs: about as long as it takes to ask somebody who knows (estimate).
pub const HINT_MINUTES: f64 = 3.0;
/// Minutes that a look at the odds costs (estimate).
pub const ODDS_MINUTES: f64 = 1.0;
/// Minutes to hold both tips together, and to take what they show off the readings that follow (estimate).
pub const NULL_MINUTES: f64 = 0.2;
/// Minutes of the ammeter's own check, and of making a machine safe whose starter runs on: as advice reckons them.
const AMMETER_MINUTES: f64 = 0.5;
const SAFE_MINUTES: f64 = 1.0;
/// How often a fault that comes and goes is there (estimate).
pub const PRESENCE: f64 = 0.5;
/// How often it changes while the meter is being read (estimate).
const FLICKERS: f64 = 0.4;

/// What an instrument, an eye, an ear or a hand tells.
#[derive(Clone, Debug)]
pub struct Shown {
    /// The probe; nothing for a check of the meter itself.
    pub probe: Option<Probe>,
    /// What is shown, in the form of `read`.
    pub read: Read,
    /// What it jumps to while one looks, where a bad contact comes and goes.
    pub flickers_to: Option<String>,
    /// What it cost.
    pub price: Price,
}

/// What an act comes to.
#[derive(Clone, Debug)]
pub enum Told {
    /// Leads, instrument or controls stand as told by [`Practice::hand`]; these other controls were moved along.
    Set(Vec<String>),
    /// Something was read.
    Shown(Box<Shown>),
    /// A remedy was done.
    Mended(Mended),
    /// A cause was named; its remedy by name.
    Named(String),
    /// Minutes have passed, no more.
    Passed,
}

/// A session.
pub struct Practice {
    stand: Stand,
    settings: Settings,
    case: Case,
    hand: Hand,
    purse: Purse,
    minutes: Minutes,
    /// Whether the fault is still there.
    faulty: bool,
    /// Fuses that the fault has blown.
    blown: Vec<String>,
    named: Option<String>,
    gave_up: bool,
    /// Seconds that the starter was held.
    held: f64,
    acts: Vec<Act>,
    notes: Vec<Noted>,
}

/// The machine's full table of readings, with the technicians who work the same case.
pub fn bench(machine: Machine, sheet: &str) -> Trial {
    let table = tables::table(&machine, sheet, tables::full(&machine));
    Trial::new(machine, table)
}

impl Practice {
    /// Plants a fault and lays the machine before the learner.
    ///
    /// # Errors
    /// When what is asked for cannot be planted, or nobody would notice it.
    pub fn begin(machine: Machine, settings: Settings) -> Result<Self, Refusal> {
        let mut stand = Stand::new(machine);
        let case = Case::draw(&stand, &settings)?;
        let blown = case.blown(&mut stand)?;
        Ok(Self {
            hand: Hand::new(&stand),
            purse: Purse::new(&stand.machine),
            minutes: Minutes::default(),
            faulty: true,
            blown,
            named: None,
            gave_up: false,
            held: 0.0,
            acts: Vec::new(),
            notes: Vec::new(),
            stand,
            settings,
            case,
        })
    }

    /// The session that these settings and acts lead to.
    ///
    /// # Errors
    /// When it is another machine's, or at the first act that is refused.
    pub fn replay(machine: Machine, kept: &Kept) -> Result<Self, Refusal> {
        if kept.machine != machine.sheet.id {
            let message = format!("this is a session of `{}`, not of `{}`", kept.machine, machine.sheet.id);
            return Err(Refusal::new(Reason::Value, Place::Request, message, &kept.machine, machine.sheet.id.clone()));
        }
        let mut practice = Self::begin(machine, kept.settings.clone())?;
        kept.acts.iter().try_for_each(|act| practice.act(act.clone()).map(|_| ()))?;
        Ok(practice)
    }

    /// Everything that can be asked of the machine by name.
    pub fn stand(&self) -> &Stand {
        &self.stand
    }

    /// The machine.
    pub fn machine(&self) -> &Machine {
        &self.stand.machine
    }

    /// What was planted; the learner's to find.
    pub fn case(&self) -> &Case {
        &self.case
    }

    /// All that has to be kept of the session.
    pub fn kept(&self) -> Kept {
        let (settings, acts) = (self.settings.clone(), self.acts.clone());
        Kept { machine: self.machine().sheet.id.clone(), settings, acts }
    }

    /// What was done and what came of it.
    pub fn notes(&self) -> &[Noted] {
        &self.notes
    }

    /// What to mind in the state that the controls are in; empty when nothing.
    pub fn caution(&self) -> String {
        let point = self.machine().node_name(self.machine().reference());
        let there = format!("volts@{}:{point},{point}", self.hand.state);
        self.machine().probe(&there).map(|probe| probe.caution).unwrap_or_default()
    }

    /// Where leads, dial and controls are.
    pub fn hand(&self) -> &Hand {
        &self.hand
    }

    /// Minutes so far, by what they went into.
    pub fn minutes(&self) -> Minutes {
        self.minutes
    }

    /// Whether the machine is mended.
    pub fn is_mended(&self) -> bool {
        !self.faulty
    }

    /// Whether nothing more can be done.
    pub fn is_over(&self) -> bool {
        self.gave_up || !self.faulty
    }

    /// Does one thing.
    ///
    /// # Errors
    /// When it names something that the machine does not have, or cannot be done now; nothing has happened then.
    pub fn act(&mut self, act: Act) -> Result<Told, Refusal> {
        if self.is_over() && (self.gave_up || !matches!(act, Act::Check { .. })) {
            let message = "the session is over".to_owned();
            return Err(Refusal::new(Reason::Form, Place::Request, message, "", "a new session"));
        }
        if self.faulty && matches!(act, Act::Check { .. }) {
            let message = "there is nothing to check: nothing has been mended yet".to_owned();
            return Err(Refusal::new(Reason::Form, Place::Request, message, "", "a probe, or a remedy first"));
        }
        let told = self.done(&act).map_err(by_itself)?;
        self.acts.push(act);
        Ok(told)
    }

    /// The desk's advice on what was read so far, for the minutes of a hint.
    ///
    /// # Errors
    /// When the session is over, or the desk cannot use what was read.
    pub fn hint(&mut self, bench: &mut Trial) -> Result<Advice, Refusal> {
        self.act(Act::Hint)?;
        advice::advise(bench.desk(), &self.request(self.notes.len()))
    }

    /// The odds after what was read so far, for the minutes of a look at them.
    ///
    /// # Errors
    /// When the session is over, or the desk cannot use what was read.
    pub fn odds(&mut self, bench: &mut Trial) -> Result<Advice, Refusal> {
        self.act(Act::Odds)?;
        advice::advise(bench.desk(), &self.request(self.notes.len()))
    }

    fn done(&mut self, act: &Act) -> Result<Told, Refusal> {
        match act {
            Act::Red { node } => self.hand.red(&self.stand, node).map(|()| Told::Set(Vec::new())),
            Act::Black { node } => self.hand.black(&self.stand, node).map(|()| Told::Set(Vec::new())),
            Act::Around { part } => self.hand.around(&self.stand, part).map(|()| Told::Set(Vec::new())),
            Act::Mode { mode } => self.hand.mode(mode).map(|()| Told::Set(Vec::new())),
            Act::State { state } => self.hand.enter(&self.stand, state).map(|()| Told::Set(Vec::new())),
            Act::Operate { control, position } => self.hand.operate(&self.stand, control, position).map(Told::Set),
            Act::Null => {
                let told = self.own_check("meter:leads", NULL_MINUTES);
                self.hand.nulled = true;
                Ok(told)
            }
            Act::Read => self.take(act, &self.hand.probe()?),
            Act::Probe { name } if name == "meter:leads" => Ok(self.own_check(name, NULL_MINUTES)),
            Act::Probe { name } if name == "meter:amps" => Ok(self.own_check(name, AMMETER_MINUTES)),
            Act::Probe { name } if name == "safe:battery-off" => Ok(self.own_check(name, SAFE_MINUTES)),
            Act::Probe { name } | Act::Check { name } => self.take(act, name),
            Act::Hint => Ok(self.asked(HINT_MINUTES)),
            Act::Odds => Ok(self.asked(ODDS_MINUTES)),
            Act::Remedy { name } => self.mend(name).map(Told::Mended),
            Act::Name { fault } => {
                let found = self.stand.fault(fault.trim())?;
                let remedy = format!("{}@{}", found.remedy.verb, part_name(&self.stand.machine, found));
                self.named = Some(found.name.clone());
                self.note(None, None, None, 0.0);
                Ok(Told::Named(remedy))
            }
            Act::GiveUp => {
                self.gave_up = true;
                Ok(Told::Passed)
            }
        }
    }

    /// Takes a probe: looks first, and pays only when there is an answer.
    fn take(&mut self, act: &Act, name: &str) -> Result<Told, Refusal> {
        // The test lamp in a fuse's place has a word of its own for the same hook-up.
        let plain = name.trim().strip_prefix("lamp-for@").map(|rest| format!("lamp@{rest}"));
        let name = plain.as_deref().unwrap_or(name.trim());
        let found = self.stand.machine.probe(name).map_err(|error| self.stand.no_probe(name, &error))?;
        self.can_be_had(&found)?;
        // By its one name, whichever alias was typed: advice knows it by that.
        let name = self.stand.machine.probe_name(found.sort, &found.state);
        let probe = Probe { name: name.clone(), ..found };
        let mut purse = self.purse.clone();
        let price = purse.split(&probe);
        purse.pay(&probe);
        let (read, plain, flickers_to) = self.look(&probe, purse.handled)?;
        self.purse = purse;
        let checks = matches!(act, Act::Check { .. });
        *(if checks { &mut self.minutes.repair_check } else { &mut self.minutes.probing }) += price.own;
        self.minutes.access += price.access;
        self.minutes.setup += price.lift;
        self.held += probe.crank_seconds;
        let shown = match &flickers_to {
            Some(other) => format!("{}, jumping to {other}", read.display),
            None => read.display.clone(),
        };
        self.note(Some(name), Some(shown), Some(plain), price.minutes());
        Ok(Told::Shown(Box::new(Shown { probe: Some(probe), read, flickers_to, price })))
    }

    /// What a probe shows, what would be typed of it in a job, and what it jumps to.
    fn look(&mut self, probe: &Probe, handled: usize) -> Result<(Read, String, Option<String>), Refusal> {
        if probe.sort == Sort::Ask(Question::Since) {
            return Ok((spoken(&probe.name, "nothing"), "nothing".to_owned(), None));
        }
        let comes_and_goes = self.case.comes_and_goes && self.faulty;
        let there = !comes_and_goes || self.chance(&format!("presence {handled}")).happens(PRESENCE);
        let (now, otherwise) = (self.changes(there), self.changes(!there));
        let leads = format!("{} ohm", self.stand.machine.leads().0);
        let nulled = (self.hand.nulled && is_ohms(probe)).then_some(leads.as_str());
        let mut read = self.stand.read(&probe.name, &now, nulled)?;
        // The desk takes readings with the leads in them, and none that it could not read.
        let plain = match nulled {
            Some(_) => typed(probe, &self.stand.read(&probe.name, &now, None)?),
            None => typed(probe, &read),
        };
        let can_be_read = entry(&self.stand.machine, &[], &probe.name, &plain).is_ok();
        let plain = if can_be_read { plain } else { "skip".to_owned() };
        if read.display == "nothing" {
            "nothing that could be read".clone_into(&mut read.display);
        }
        let jumps = self.chance(&format!("flicker {} {}", probe.name, self.notes.len())).happens(FLICKERS);
        if !(comes_and_goes && jumps) {
            return Ok((read, plain, None));
        }
        let other = self.stand.read(&probe.name, &otherwise, nulled)?;
        if matches!(probe.sort, Sort::Wiggle(_)) && other.display == "changes" {
            // That it does so while it is moved is the answer.
            return Ok((spoken(&probe.name, "changes"), "changes".to_owned(), None));
        }
        let flickers_to = (other.display != read.display && other.value.is_some()).then_some(other.display);
        Ok((read, plain, flickers_to))
    }

    fn chance(&self, name: &str) -> Chance {
        Chance::of(self.settings.seed, name)
    }

    /// The machine as it stands, with its fault there or away.
    fn changes(&self, there: bool) -> Changes {
        let mut changes = self.case.changes();
        if !(there && self.faulty) {
            changes.faults.clear();
        }
        changes.open.clone_from(&self.blown);
        changes
    }

    /// A machine that does not start cannot be measured running; its repair check can.
    fn can_be_had(&self, probe: &Probe) -> Result<(), Refusal> {
        let Ok(state) = self.stand.machine.state(&probe.state) else { return Ok(()) };
        if !state.running || !self.faulty || self.case.starts() {
            return Ok(());
        }
        let message = "the engine does not run: this machine cannot be started".to_owned();
        let names = self.stand.machine.state_names();
        let others = names.iter().map(String::as_str).filter(|name| *name != probe.state);
        Err(Refusal::new(Reason::Value, Place::Request, message, &probe.state, listed(others)))
    }

    /// A check of the meter itself, which finds it sound; or the machine made safe.
    fn own_check(&mut self, name: &str, minutes: f64) -> Told {
        let machine = &self.stand.machine;
        let text = match name {
            "meter:leads" => machine.face(Instrument::Ohms).show(machine.leads().0, Dimension::Resistance),
            // A lamp of 5 W across a battery of 12 V and a bit.
            "meter:amps" => machine.face(Instrument::Amps).show(0.41, Dimension::Current),
            _ => "off".to_owned(),
        };
        let typed = if name == "safe:battery-off" { "off" } else { "ok" };
        // The leads are in the desk's readings anyway.
        let typed = (name != "meter:leads").then(|| typed.to_owned());
        self.minutes.setup += minutes;
        self.note(Some(name.to_owned()), Some(text.clone()), typed, minutes);
        let price = Price { own: minutes, ..Price::default() };
        Told::Shown(Box::new(Shown { probe: None, read: spoken(name, &text), flickers_to: None, price }))
    }

    fn asked(&mut self, minutes: f64) -> Told {
        self.minutes.hints += minutes;
        self.note(None, None, None, minutes);
        Told::Passed
    }

    /// Notes what came of an act: the probe or remedy, what was shown, what would be typed of it.
    fn note(&mut self, reading: Option<String>, shown: Option<String>, typed: Option<String>, minutes: f64) {
        self.notes.push(Noted { act: self.acts.len(), reading, shown, typed, minutes, clock: self.minutes.total() });
    }

    /// The session as a job, for advice: its first so many notes.
    fn request(&self, notes: usize) -> Request {
        let entry = |noted: &Noted| Some((noted.reading.clone()?, noted.typed.clone()?));
        Request {
            complaint: Some(self.case.complaint.name.to_owned()),
            air: Some(self.case.air),
            readings: self.notes.iter().take(notes).filter_map(entry).collect(),
            ..Request::default()
        }
    }
}

/// What a person would type of a reading.
fn typed(probe: &Probe, read: &Read) -> String {
    match &read.value {
        _ if !probe.words().is_empty() && read.display == "nothing" => "skip".to_owned(),
        _ if read.display == "nothing" => "OL".to_owned(),
        // Without an instrument's digits: as exact as it is.
        Some(answer::Value::Number(value)) if probe.face.is_none() => show_with(*value, probe.dimension(), 4),
        _ => read.display.clone(),
    }
}

fn is_ohms(probe: &Probe) -> bool {
    matches!(probe.sort, Sort::Meter(Instrument::Ohms, _))
}

/// Something that is told in words.
fn spoken(name: &str, text: &str) -> Read {
    Read {
        probe: name.to_owned(),
        value: None,
        unit: "",
        display: text.to_owned(),
        overload: false,
        floating: false,
        outcome: "steady",
        positions: Vec::new(),
        live: false,
    }
}

/// A refusal that stands by itself: what was typed is one line, not an argument.
fn by_itself(refusal: Refusal) -> Refusal {
    Refusal { place: Place::Request, ..refusal }
}

/// A word that is none of those known, with those that it may have been meant for.
fn no_such<'a>(what: &str, found: &str, known: impl Iterator<Item = &'a str> + Clone) -> Refusal {
    let near = line::near(found, known.clone());
    let refusal = Refusal::new(
        Reason::Name,
        Place::Request,
        format!("no {what} is called `{}`", super::refusal::shortened(found)),
        found,
        listed(known),
    );
    Refusal { hint: did_you_mean(&near), ..refusal }
}

/// The faults' own words for what mends a fault.
/// The remedy that a fault asks for, as `VERB@PART`.
pub fn cure_name(machine: &Machine, fault: &Fault) -> String {
    format!("{}@{}", fault.remedy.verb, part_name(machine, fault))
}

#[cfg(test)]
mod tests;
