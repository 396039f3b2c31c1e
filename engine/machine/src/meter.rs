//! What an instrument shows when it is connected: every reading is solved with the instrument in the circuit.
//! Laws: voltmeter 10 MΩ, low-impedance volts 3 kΩ; ohmmeter 0.5 mA with 3 V compliance beside its own 10 MΩ, its
//! leads in the reading unless nulled; ammeter 0.24 Ω in the place of a lifted joint, pulled fuse or part; clamp round
//! a branch; test lamp of 5 W. Source: common practice, no source (a handheld meter's typical figures).
//! Promise: the instrument is connected before the state is entered, so a reading may chatter where the state does not.

use circuit::{Branch, Law, Network, OperatingPoint, Outcome, Position, Solver, State, Unsolvable};
use quantity::{Amps, Celsius, Dimension, Face, Ohms, Volts, Watts};

use crate::machine::{Edit, Machine};
use crate::state::OperatingState;

/// Input resistance of a voltmeter.
pub const VOLTMETER: Ohms = Ohms(10e6);
/// Input resistance in low-impedance mode.
pub const LOW_IMPEDANCE: Ohms = Ohms(3e3);
/// Test current of the ohmmeter.
pub const TEST_CURRENT: Amps = Amps(0.5e-3);
/// Above this voltage the ohmmeter shows `OL`.
pub const COMPLIANCE: Volts = Volts(3.0);
/// Both leads of a meter whose sheet does not say otherwise.
pub const LEADS: Ohms = Ohms(0.14);
/// Shunt, fuse and leads of the ammeter.
pub const AMMETER: Ohms = Ohms(0.24);
/// Above this the ammeter shows `OL` and its fuse is at stake.
pub const AMMETER_LIMIT: Amps = Amps(10.0);
/// The test lamp.
pub const TEST_LAMP: Watts = Watts(5.0);

/// An instrument and its setting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Instrument {
    /// Volts, 10 MΩ.
    Volts,
    /// Volts through 3 kΩ.
    LowZ,
    /// Ohms.
    Ohms,
    /// Junction test: volts at the test current.
    Diode,
    /// Test lamp: volts across it.
    Lamp,
    /// Amps through the meter.
    Amps,
    /// Amps round a conductor.
    Clamp,
}

impl Instrument {
    /// All of them, with the word that a probe's name begins with.
    pub const NAMES: [(&'static str, Self); 7] = [
        ("volts", Self::Volts),
        ("low-z", Self::LowZ),
        ("ohms", Self::Ohms),
        ("diode", Self::Diode),
        ("lamp", Self::Lamp),
        ("amps", Self::Amps),
        ("clamp", Self::Clamp),
    ];

    /// The word that a probe's name begins with.
    pub fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(_, instrument)| *instrument == self).map_or("", |(name, _)| name)
    }

    /// The instrument of that word.
    pub fn find(name: &str) -> Option<Self> {
        Self::NAMES.iter().find(|(known, _)| *known == name).map(|(_, instrument)| *instrument)
    }

    /// What it reads.
    pub fn dimension(self) -> Dimension {
        match self {
            Self::Volts | Self::LowZ | Self::Diode | Self::Lamp => Dimension::Voltage,
            Self::Ohms => Dimension::Resistance,
            Self::Amps | Self::Clamp => Dimension::Current,
        }
    }

    /// The display of the standard handheld instrument.
    pub fn face(self) -> Face {
        match self {
            Self::Volts | Self::LowZ | Self::Lamp => Face::volts(),
            Self::Ohms => Face::ohms(),
            Self::Diode => Face::diode(),
            Self::Amps => Face::amps(),
            Self::Clamp => Face::clamp(),
        }
    }
}

/// Where an instrument is connected.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hookup {
    /// Two leads on two nodes.
    Between {
        /// Node of the red lead.
        red: usize,
        /// Node of the black lead.
        black: usize,
    },
    /// In the place of, or round, a branch.
    In(usize),
}

/// What an instrument shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Shown {
    /// SI value; nothing where the display shows none (`OL` ohms, a chattering reading).
    pub value: Option<f64>,
    /// What is read.
    pub dimension: Dimension,
    /// The display, a range when the reading chatters.
    pub display: String,
    /// Whether the instrument is beyond its limit.
    pub overload: bool,
    /// Whether a lead's point had no path before the instrument came.
    pub floating: bool,
    /// The two halves of a chattering reading: position, value, overload.
    pub positions: Vec<(Position, Option<f64>, bool)>,
    /// An ohmmeter on a circuit that is alive reads nonsense.
    pub live: bool,
}

impl Machine {
    /// The display of an instrument of this machine's workshop: the standard one's, with the digits and the accuracy that
    /// the sheet gives. A meter's is that of its dc volts; its other ranges are worse in the standard one's proportions.
    pub fn face(&self, instrument: Instrument) -> Face {
        let (sort, standard) = match instrument {
            Instrument::Clamp => ("clamp", Face::clamp()),
            _ => ("meter", Face::volts()),
        };
        let mut face = instrument.face();
        let Some(own) = self.sheet.meters.iter().find(|meter| meter.sort == sort) else { return face };
        let digits = f64::from(own.counts) / f64::from(face.counts);
        face.ranges.iter_mut().for_each(|range| *range *= digits);
        face.counts = own.counts;
        face.accuracy_ratio *= own.accuracy_ratio / standard.accuracy_ratio;
        face.accuracy_counts *= own.accuracy_counts / standard.accuracy_counts;
        face
    }

    /// Both leads of the workshop's meter.
    pub fn leads(&self) -> Ohms {
        self.sheet.meters.iter().find(|meter| meter.sort == "meter").map_or(LEADS, |meter| Ohms(meter.lead_ohms))
    }
}

/// What is to be solved: an operating state of a machine with edits at an air temperature.
#[derive(Clone, Copy, Debug)]
pub struct Setting<'a> {
    /// The operating state.
    pub state: &'a OperatingState,
    /// Faults and raw edits.
    pub edits: &'a [Edit],
    /// Air temperature; nothing when everything is as written, at 20 °C.
    pub air: Option<Celsius>,
}

/// Solves machines and reads meters; keeps buffers from one call to the next.
#[derive(Clone, Debug, Default)]
pub struct Bench {
    /// The circuit solver, with its memory of shapes.
    pub solver: Solver,
    /// The network solved last.
    pub network: Network,
    values: Vec<f64>,
}

impl Bench {
    /// A bench with nothing on it.
    pub fn new() -> Self {
        Self::default()
    }

    /// Solves the machine in a setting.
    ///
    /// # Errors
    /// When ideal sources contradict each other or a value is not finite.
    pub fn solve(&mut self, machine: &Machine, setting: &Setting<'_>) -> Result<OperatingPoint, Unsolvable> {
        self.build(machine, setting);
        self.solver.solve_near(&self.network)
    }

    /// Solves the machine in a setting that settings solved and read from now on are likely to be near: they come
    /// sooner, and differ in rounding only.
    ///
    /// # Errors
    /// When ideal sources contradict each other or a value is not finite.
    pub fn solve_base(&mut self, machine: &Machine, setting: &Setting<'_>) -> Result<OperatingPoint, Unsolvable> {
        self.build(machine, setting);
        self.solver.solve_base(&self.network)
    }

    /// Fills in [`Bench::network`] for a setting without solving it.
    pub fn build(&mut self, machine: &Machine, setting: &Setting<'_>) {
        self.values.clear();
        self.values.extend_from_slice(machine.values());
        machine.network_with(&mut self.values, setting.state, setting.edits, setting.air, &mut self.network);
    }

    /// Connects an instrument, enters the state and reads it. `floating` of the leads' points comes from `without`,
    /// the same setting solved without the instrument.
    ///
    /// # Errors
    /// When ideal sources contradict each other or a value is not finite.
    pub fn read(
        &mut self,
        machine: &Machine,
        setting: &Setting<'_>,
        without: &OperatingPoint,
        instrument: Instrument,
        hookup: Hookup,
        nulled: Ohms,
    ) -> Result<Shown, Unsolvable> {
        self.build(machine, setting);
        let branch = connect(&mut self.network, instrument, hookup);
        let point = self.solver.solve_near(&self.network)?;
        // A part that sits the wrong way round is a branch turned round; the reading is still first terminal to second.
        let turned = matches!(hookup, Hookup::In(at) if self.network.branches[at].from != machine.branches()[at].from);
        let sense = |state: &State| {
            let less = Ohms(nulled.0 + LEADS.0 - machine.leads().0);
            let (value, over) = sense(&self.network, state, instrument, hookup, branch, less);
            (if turned { -value } else { value }, over)
        };
        let now = sense(&point.state);
        let floating = match hookup {
            Hookup::Between { red, black } => {
                [red, black].iter().any(|node| without.state.solution.potential(*node).is_none())
            }
            Hookup::In(_) => false,
        };
        let live = instrument == Instrument::Ohms && is_live(without, hookup);
        let face = machine.face(instrument);
        let dimension = instrument.dimension();
        Ok(match (&point.outcome, point.pulled()) {
            (Outcome::Chatter { .. }, Some(pulled)) => {
                let halves = [(Position::Released, now), (Position::Pulled, sense(pulled))];
                let positions = halves.map(|(position, (value, over))| {
                    (position, (!over || instrument != Instrument::Ohms).then_some(value), over)
                });
                let low = halves[0].1.0.min(halves[1].1.0);
                let high = halves[0].1.0.max(halves[1].1.0);
                Shown {
                    value: None,
                    dimension,
                    display: format!("{}..{}", face.show(low, dimension), face.show(high, dimension)),
                    overload: positions.iter().any(|(_, _, over)| *over),
                    floating,
                    positions: positions.to_vec(),
                    live,
                }
            }
            _ => {
                let (value, overload) = now;
                let hidden = overload && instrument == Instrument::Ohms;
                let display = match instrument {
                    _ if overload => "OL".to_owned(),
                    Instrument::Lamp => lamp_word(value).to_owned(),
                    _ => face.show(value, dimension),
                };
                let value = (!hidden).then_some(value);
                Shown { value, dimension, display, overload, floating, positions: Vec::new(), live }
            }
        })
    }
}

/// How a test lamp of 12 V looks at a voltage: below 2 V nothing is seen by daylight, from 9 V it is bright (estimate).
pub fn lamp_word(volts: f64) -> &'static str {
    match volts.abs() {
        volts if volts < 2.0 => "off",
        volts if volts < 9.0 => "dim",
        _ => "bright",
    }
}

/// Adds an instrument to a network; gives the branch whose current it senses.
pub fn connect(network: &mut Network, instrument: Instrument, hookup: Hookup) -> usize {
    match (instrument, hookup) {
        (Instrument::Amps, Hookup::In(branch)) => {
            network.branches[branch].law = Law::resistance(AMMETER);
            network.fuses.retain(|fuse| fuse.branch != branch);
            network.motors.retain(|motor| motor.branch != branch);
            branch
        }
        (Instrument::Lamp, Hookup::In(branch)) => {
            network.branches[branch].law = Law::Lamp(TEST_LAMP);
            network.fuses.retain(|fuse| fuse.branch != branch);
            branch
        }
        (_, Hookup::In(branch)) => branch,
        (Instrument::Ohms | Instrument::Diode, Hookup::Between { red, black }) => {
            network.add(black, red, Law::Source(TEST_CURRENT));
            network.add(red, black, Law::resistance(VOLTMETER))
        }
        (Instrument::LowZ, Hookup::Between { red, black }) => network.add(red, black, Law::resistance(LOW_IMPEDANCE)),
        (Instrument::Lamp, Hookup::Between { red, black }) => network.add(red, black, Law::Lamp(TEST_LAMP)),
        (_, Hookup::Between { red, black }) => network.add(red, black, Law::resistance(VOLTMETER)),
    }
}

/// Raw value and overload of an instrument connected by [`connect`].
pub fn sense(
    network: &Network,
    state: &State,
    instrument: Instrument,
    hookup: Hookup,
    branch: usize,
    nulled: Ohms,
) -> (f64, bool) {
    let current = state.solution.current(branch).0;
    let Branch { from, to, .. } = network.branches[branch];
    match (instrument, hookup) {
        (Instrument::Ohms, Hookup::Between { .. }) => {
            let volts = current * VOLTMETER.0;
            (volts / TEST_CURRENT.0 + LEADS.0 - nulled.0, volts.abs() > COMPLIANCE.0)
        }
        (Instrument::Diode, Hookup::Between { .. }) => {
            let volts = current * VOLTMETER.0;
            (volts, volts.abs() > COMPLIANCE.0)
        }
        (Instrument::Volts, Hookup::Between { .. }) => (current * VOLTMETER.0, false),
        (Instrument::LowZ, Hookup::Between { .. }) => (current * LOW_IMPEDANCE.0, false),
        (Instrument::Lamp, _) => (state.solution.across(from, to).0, false),
        (Instrument::Amps, _) => (current, current.abs() > AMMETER_LIMIT.0),
        _ => (current, false),
    }
}

fn is_live(without: &OperatingPoint, hookup: Hookup) -> bool {
    let Hookup::Between { red, black } = hookup else { return false };
    without.state.solution.between(red, black).is_some_and(|volts| volts.0.abs() > 0.005)
}
