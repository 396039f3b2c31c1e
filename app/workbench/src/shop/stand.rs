//! A machine on the stand: its states and faults looked up once, then solved and read as often as one likes.
//! Promise: one request or a million, the same question has the same answer; a refusal leaves the stand as it was.

use std::borrow::Cow;
use std::collections::BTreeMap;

use circuit::OperatingPoint;
use machine::probe::name::BadProbe;
use machine::probe::{Question, Sort};
use machine::{Bench, Edit, Fault, Hookup, Instrument, Machine, Observer, OperatingState, Program, Seen, Setting};
use quantity::{Celsius, Dimension, Ohms};

use super::answer::{Read, Solved};
use super::changes::Changes;
use super::refusal::{Place, Reason, Refusal, did_you_mean, listed};

/// A machine with everything that can be asked of it by name.
pub struct Stand {
    /// The machine.
    pub machine: Machine,
    bench: Bench,
    states: BTreeMap<String, OperatingState>,
    faults: BTreeMap<String, Fault>,
    /// Motor part and the slot of its drive's ratio.
    ratios: Vec<(usize, usize)>,
    /// Fuse part and the slot that says whether it has blown already.
    blown: Vec<(usize, usize)>,
}

/// What is asked of a stand.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Request {
    /// The operating state; nothing for [`Stand::usual_state`].
    pub state: Option<String>,
    /// What is changed before.
    pub changes: Changes,
    /// Instruments to be connected, one after the other.
    pub read: Vec<Ask>,
    /// Lead resistance that the ohmmeter takes off.
    pub nulled: Option<String>,
}

/// An instrument to be connected.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ask {
    /// The instrument's word.
    pub mode: String,
    /// Where it goes.
    pub leads: Leads,
}

/// Where an instrument goes, by name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Leads {
    /// On two nodes.
    Between {
        /// Node of the red lead.
        red: String,
        /// Node of the black lead.
        black: String,
    },
    /// In the place of, or round, a part or one path of it.
    In(String),
}

impl Stand {
    /// Puts a machine on the stand.
    pub fn new(machine: Machine) -> Self {
        let states = machine
            .state_names()
            .into_iter()
            .filter_map(|name| Some((name.clone(), machine.state(&name).ok()?)))
            .collect();
        let faults = machine.faults().into_iter().map(|fault| (fault.name.clone(), fault)).collect();
        let ratios = ratios(&machine);
        let parts = 0..machine.sheet.parts.len();
        let blown = parts.filter_map(|part| Some((part, machine.slot(part, "blown").ok()?))).collect();
        Self { machine, bench: Bench::new(), states, faults, ratios, blown }
    }

    /// The state taken when none is asked for: `held` where there is one, else `rest`, else the sheet's first.
    pub fn usual_state(&self) -> String {
        let names = self.machine.state_names();
        let wanted = ["held", "rest"].into_iter().find(|wanted| names.iter().any(|name| name == wanted));
        wanted.map(str::to_owned).or_else(|| names.first().cloned()).unwrap_or_else(|| "rest".to_owned())
    }

    /// The operating state of that name.
    ///
    /// # Errors
    /// When the machine has none of that name, or cannot unplug what it names.
    pub fn state(&self, name: &str) -> Result<Cow<'_, OperatingState>, Refusal> {
        if let Some(state) = self.states.get(name.trim()) {
            return Ok(Cow::Borrowed(state));
        }
        self.machine.state(name).map(Cow::Owned).map_err(|error| self.no_state(&error))
    }

    /// The fault of that name.
    ///
    /// # Errors
    /// When the machine has none of that name.
    pub fn fault(&self, name: &str) -> Result<&Fault, Refusal> {
        self.faults.get(name).ok_or_else(|| {
            let part = name.split(':').next().unwrap_or_default();
            let of_part: Vec<&str> =
                self.faults.keys().map(String::as_str).filter(|known| known.split(':').next() == Some(part)).collect();
            let allowed = match of_part.is_empty() {
                true => "PART:MODE or PART:MODE=SEVERITY, of a part of this sheet".to_owned(),
                false => listed(of_part),
            };
            match self.machine.fault(name) {
                Err(error) => Refusal::unknown(&error, Place::Fault, allowed),
                Ok(_) => {
                    Refusal::new(Reason::Name, Place::Fault, format!("no fault is called `{name}`"), name, allowed)
                }
            }
        })
    }

    /// The circuit as asked for, unsolved, as a netlist for a circuit simulator.
    ///
    /// # Errors
    /// When something asked for does not exist or cannot be read.
    pub fn netlist(&mut self, request: &Request) -> Result<String, Refusal> {
        let prepared = self.prepare(request.state.as_deref(), &request.changes)?;
        self.bench.build(&self.machine, &prepared.setting());
        let machine = &self.machine;
        let mut title = vec![machine.sheet.id.clone(), prepared.state.name.clone()];
        title.extend(request.changes.faults.iter().cloned());
        title.extend(request.changes.edits_as_given());
        let nodes: Vec<String> = (0..machine.node_count()).map(|node| machine.node_name(node).to_owned()).collect();
        let own = machine.branches().iter().map(|path| path.name.clone());
        let bridges = (1..).map(|number| format!("bridge-{number}"));
        let branches: Vec<String> = own.chain(bridges).take(self.bench.network.branches.len()).collect();
        Ok(circuit::spice::netlist(&self.bench.network, &title.join(", "), &nodes, &branches))
    }

    /// Solves the machine as asked, then connects the instruments one after the other.
    ///
    /// # Errors
    /// When something asked for does not exist or cannot be read, or the circuit has no solution.
    pub fn solve(&mut self, request: &Request) -> Result<Solved<'_>, Refusal> {
        let prepared = self.prepare(request.state.as_deref(), &request.changes)?;
        let nulled = nulled(request.nulled.as_deref())?;
        let asked: Vec<(String, Instrument, Hookup)> =
            request.read.iter().map(|ask| self.find(ask, &prepared.state.name)).collect::<Result<_, _>>()?;
        let Self { machine, bench, ratios, blown, .. } = self;
        let setting = prepared.setting();
        let point = bench.solve(machine, &setting).map_err(|error| Refusal::unsolvable(error, machine))?;
        let gone = |part: usize| {
            let slot = blown.iter().find(|(of, _)| *of == part).map(|(_, slot)| *slot);
            slot.is_some_and(|slot| Edit::made(&prepared.edits, slot, machine.values()[slot]) == 1.0)
        };
        let mut solved = Solved::new(machine, &bench.network, &prepared.state.name, &point, &gone);
        solved.faults.clone_from(&request.changes.faults);
        solved.edits = request.changes.edits_as_given();
        solved.cranking_rpm = cranking_rpm(machine, ratios, &bench.network, &point, &prepared.edits);
        for (name, instrument, hookup) in asked {
            let shown = bench
                .read(machine, &setting, &point, instrument, hookup, nulled)
                .map_err(|error| Refusal::unsolvable(error, machine))?;
            solved.read.push(Read::new(name, shown));
        }
        Ok(solved)
    }

    /// What one probe, by its name, shows; what is seen or felt follows a try at `on` and `held`, which may have blown a
    /// fuse.
    ///
    /// # Errors
    /// When nothing can be computed of it, something asked for does not exist, or the circuit has no solution.
    pub fn read(&mut self, name: &str, changes: &Changes, leads_nulled: Option<&str>) -> Result<Read, Refusal> {
        // In a fuse's place the test lamp has a word of its own; it is the same hook-up.
        let plain = name.trim().strip_prefix("lamp-for@").map(|rest| format!("lamp@{rest}"));
        let probe =
            self.machine.probe(plain.as_deref().unwrap_or(name)).map_err(|error| self.no_probe(name, &error))?;
        if probe.sort == Sort::Ask(Question::Since) {
            let message = format!("`{name}` is the owner's to answer; nothing can be computed");
            return Err(Refusal::new(Reason::Form, Place::Read, message, name, BadProbe::ALLOWED)
                .with_hint("take what can be measured, seen, heard or felt"));
        }
        let prepared = self.prepare(Some(&probe.state), changes)?;
        let nulled = nulled(leads_nulled)?;
        let Self { machine, bench, .. } = self;
        let setting = prepared.setting();
        let unsolvable = |error| Refusal::unsolvable(error, machine);
        let without = bench.solve(machine, &setting).map_err(unsolvable)?;
        let Sort::Meter(instrument, hookup) = probe.sort else {
            let program = Program::new(machine, std::slice::from_ref(&probe));
            let mut seen = [Seen::Nothing];
            Observer::new()
                .observe(machine, &program, std::slice::from_ref(&probe), setting.edits, setting.air, &mut seen)
                .map_err(unsolvable)?;
            return Ok(Read::seen(&probe, seen[0], without.pulled().is_some()));
        };
        let shown = bench.read(machine, &setting, &without, instrument, hookup, nulled).map_err(unsolvable)?;
        Ok(Read::new(name.trim().to_owned(), shown))
    }

    fn prepare(&self, state: Option<&str>, changes: &Changes) -> Result<Prepared, Refusal> {
        let state = match state {
            Some(name) => self.state(name)?.into_owned(),
            None => self.state(&self.usual_state())?.into_owned(),
        };
        Ok(Prepared { state, edits: self.edits(changes)?, air: self.air(changes)? })
    }

    fn find(&self, ask: &Ask, state: &str) -> Result<(String, Instrument, Hookup), Refusal> {
        let Some(instrument) = Instrument::find(ask.mode.trim()) else {
            let words = Instrument::NAMES.map(|(word, _)| word);
            let near: Vec<String> = words
                .iter()
                .filter(|word| word.starts_with(ask.mode.get(..1).unwrap_or("-")))
                .map(|word| (*word).to_owned())
                .collect();
            let message = format!("no mode is called `{}`", ask.mode);
            let refusal = Refusal::new(Reason::Name, Place::Read, message, &ask.mode, listed(words));
            return Err(Refusal { hint: did_you_mean(&near), ..refusal });
        };
        let word = instrument.name();
        match (instrument, &ask.leads) {
            (Instrument::Amps | Instrument::Clamp, Leads::Between { .. }) => {
                let message = format!("{word} wants a part to be in or round, not two nodes");
                Err(Refusal::new(Reason::Form, Place::Read, message, word, "`in` with a part or one path of it"))
            }
            (Instrument::Volts | Instrument::LowZ | Instrument::Ohms | Instrument::Diode, Leads::In(_)) => {
                let message = format!("{word} wants two nodes, not a part");
                Err(Refusal::new(Reason::Form, Place::Read, message, word, "`red` and `black`, each with a node"))
            }
            (_, Leads::Between { red, black }) => {
                let hookup =
                    Hookup::Between { red: self.node(red, Place::Read)?, black: self.node(black, Place::Read)? };
                Ok((format!("{word}@{state}:{red},{black}"), instrument, hookup))
            }
            (_, Leads::In(part)) => {
                let hookup = Hookup::In(self.branch(part, Place::Read)?);
                let word = if instrument == Instrument::Lamp { "lamp-for" } else { word };
                Ok((format!("{word}@{state}:{part}"), instrument, hookup))
            }
        }
    }

    fn no_state(&self, error: &machine::UnknownName) -> Refusal {
        let names = self.machine.state_names();
        let allowed = match error.what {
            "state" => {
                format!("{}, and each with ~PART or ~PART.branch unplugged", listed(names.iter().map(String::as_str)))
            }
            _ => "a part, or one path of it".to_owned(),
        };
        Refusal::unknown(error, Place::State, allowed)
    }

    /// Why a name is no probe, with the names that this machine has instead.
    pub fn no_probe(&self, name: &str, error: &BadProbe) -> Refusal {
        match error {
            BadProbe::Unknown(unknown) => {
                let allowed = match unknown.what {
                    "state" => return Refusal { place: Place::Read, ..self.no_state(unknown) },
                    "node" => {
                        return self.node(&unknown.found, Place::Read).err().unwrap_or_else(|| {
                            Refusal::unknown(unknown, Place::Read, "a splice or a terminal".to_owned())
                        });
                    }
                    "part or branch" => {
                        return self.branch(&unknown.found, Place::Read).err().unwrap_or_else(|| {
                            Refusal::unknown(unknown, Place::Read, "a part, or one path of it".to_owned())
                        });
                    }
                    _ => BadProbe::ALLOWED.to_owned(),
                };
                Refusal::unknown(unknown, Place::Read, allowed)
            }
            BadProbe::Form(_) | BadProbe::Kind { .. } => {
                Refusal::new(Reason::Form, Place::Read, error.to_string(), name, BadProbe::ALLOWED)
                    .with_hint("write it as in `volts@held:starter.plus,battery.minus` or `amps@rest:battery-ring`")
            }
        }
    }
}

/// A request with every name looked up.
struct Prepared {
    state: OperatingState,
    edits: Vec<Edit>,
    air: Option<Celsius>,
}

impl Prepared {
    fn setting(&self) -> Setting<'_> {
        Setting { state: &self.state, edits: &self.edits, air: self.air }
    }
}

fn nulled(text: Option<&str>) -> Result<Ohms, Refusal> {
    let Some(text) = text else { return Ok(Ohms(0.0)) };
    let ohms = quantity::read_loosely(text, Dimension::Resistance)
        .map_err(|error| Refusal::unread(error, Place::Nulled, ""))?;
    Ok(Ohms(ohms))
}

/// The slot of the ratio of each motor's drive.
fn ratios(machine: &Machine) -> Vec<(usize, usize)> {
    let drives = machine.sheet.parts.iter().enumerate().filter(|(_, part)| part.kind.name == "drive");
    drives
        .filter_map(|(index, _)| {
            let motor = machine.values()[machine.slot(index, "motor").ok()?];
            let ratio = machine.slot(index, "ratio").ok()?;
            motor.is_finite().then_some((motor as usize, ratio))
        })
        .collect()
}

/// Speed of the crankshaft that a motor in mesh turns; 0 when there is none.
fn cranking_rpm(
    machine: &Machine,
    ratios: &[(usize, usize)],
    network: &circuit::Network,
    point: &OperatingPoint,
    edits: &[Edit],
) -> f64 {
    let in_mesh = network.motors.iter().zip(&point.state.rotors).find(|(_, rotor)| rotor.engaged);
    let Some((motor, rotor)) = in_mesh else { return 0.0 };
    let part = machine.branches()[motor.branch].part;
    let slot = ratios.iter().find(|(driver, _)| *driver == part).map(|(_, slot)| *slot);
    let ratio = slot.map_or(1.0, |slot| Edit::made(edits, slot, machine.values()[slot]));
    let rpm = rotor.speed.0 * 60.0 / std::f64::consts::TAU;
    if ratio > 0.0 { rpm / ratio } else { rpm }
}
