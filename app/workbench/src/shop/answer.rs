//! The JSON forms, in one place: fields in this order, SI units, only ever added to.
//! Promise: what a table shows is taken from the same form, so that text and JSON cannot disagree; a floating node is
//! `null`, a number that is zero has no sign.

use circuit::operating_point::coil_volts;
use circuit::{Network, OperatingPoint, Outcome, Position, Solution, State};
use machine::problem::{Problem, Weight};
use machine::{Machine, Probe, Seen, Shown};
use quantity::show;
use serde::{Serialize, Serializer};

use super::refusal::Refusal;

/// An object whose keys keep the order of the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Table<'m, T>(pub Vec<(&'m str, T)>);

impl<T: Serialize> Serialize for Table<'_, T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}

/// The answer of `solve`.
#[derive(Clone, Debug, Serialize)]
pub struct Solved<'m> {
    /// The machine's id.
    pub sheet: &'m str,
    /// The operating state's name.
    pub state: String,
    /// Faults as given.
    pub faults: Vec<String>,
    /// Raw edits as given.
    pub edits: Vec<String>,
    /// `steady` or `chatter`.
    pub outcome: &'static str,
    /// The steady state, or the half with the chattering relays released.
    #[serde(flatten)]
    pub half: Half<'m>,
    /// Speed of the crankshaft while a starter is in mesh, else 0.
    pub cranking_rpm: f64,
    /// Whether a starter is in mesh.
    pub engaged: bool,
    /// Both halves when it chatters.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub positions: Option<[AtPosition<'m>; 2]>,
    /// Just before the first fuse opened, if one did.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before_blow: Option<BeforeBlow<'m>>,
    /// What the instruments asked for show, in the order asked.
    pub read: Vec<Read>,
}

/// Voltages, currents and positions of one state of the relays.
#[derive(Clone, Debug, Serialize)]
pub struct Half<'m> {
    /// Potentials against the reference, volts; nothing where floating.
    pub nodes: Table<'m, Option<f64>>,
    /// Amperes, first terminal to second.
    pub currents: Table<'m, f64>,
    /// Volts across each coil that is there.
    pub coil_volts: Table<'m, f64>,
    /// `released`, `pulled` or `chatter`.
    pub relays: Table<'m, &'static str>,
    /// `whole` or `blown`.
    pub fuses: Table<'m, &'static str>,
    /// Motors.
    pub motors: Table<'m, Shaft>,
}

/// A motor's shaft.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Shaft {
    /// Current.
    pub current_a: f64,
    /// Speed of the motor's own shaft.
    pub speed_rad_s: f64,
    /// Torque in the air gap.
    pub torque_nm: f64,
}

/// One half of a chattering state.
#[derive(Clone, Debug, Serialize)]
pub struct AtPosition<'m> {
    /// `released` or `pulled`.
    pub position: &'static str,
    /// What holds there.
    #[serde(flatten)]
    pub half: Half<'m>,
}

/// Just before the first fuse opened.
#[derive(Clone, Debug, Serialize)]
pub struct BeforeBlow<'m> {
    /// Amperes, first terminal to second.
    pub currents: Table<'m, f64>,
    /// Potentials against the reference, volts.
    pub nodes: Table<'m, Option<f64>>,
}

/// The answer of `read`.
#[derive(Clone, Debug, Serialize)]
pub struct Read {
    /// The probe's name.
    pub probe: String,
    /// SI value, or a word; nothing where the display shows none.
    pub value: Option<Value>,
    /// Unit of the value; empty for a word.
    pub unit: &'static str,
    /// What the display shows.
    pub display: String,
    /// Whether the instrument is beyond its limit.
    pub overload: bool,
    /// Whether a lead's point had no path before the instrument came.
    pub floating: bool,
    /// `steady` or `chatter`, with the instrument connected.
    pub outcome: &'static str,
    /// Both halves of a chattering reading.
    pub positions: Vec<ReadAt>,
    /// An ohmmeter on a circuit that is alive.
    #[serde(skip)]
    pub live: bool,
}

/// What a reading is: a number in SI, or one of the probe's words.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Value {
    /// A number.
    Number(f64),
    /// A word.
    Word(&'static str),
}

/// One half of a chattering reading.
#[derive(Clone, Debug, Serialize)]
pub struct ReadAt {
    /// `released` or `pulled`.
    pub position: &'static str,
    /// SI value.
    pub value: Option<f64>,
    /// Whether the instrument is beyond its limit.
    pub overload: bool,
}

/// One finding of `check`.
#[derive(Clone, Debug, Serialize)]
pub struct Finding<'a> {
    /// The sheet's path as given.
    pub sheet: &'a str,
    /// `problem` or `note`.
    pub weight: &'static str,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is wrong.
    pub message: &'a str,
    /// As written.
    pub found: &'a str,
    /// What would be allowed.
    pub allowed: &'a str,
    /// What to do next.
    pub hint: Option<&'a str>,
}

/// A request that could not be answered.
#[derive(Clone, Debug, Serialize)]
pub struct Refused<'a> {
    /// Why.
    pub error: RefusedBecause<'a>,
}

/// Why a request could not be answered.
#[derive(Clone, Debug, Serialize)]
pub struct RefusedBecause<'a> {
    /// What sort of mistake it is.
    pub kind: &'static str,
    /// What is wrong, and in which field.
    pub message: String,
    /// As given.
    pub found: &'a str,
    /// What would be allowed.
    pub allowed: &'a str,
    /// What to do next.
    pub hint: Option<&'a str>,
}

impl<'m> Solved<'m> {
    /// The form of an operating point; faults, edits, speed and readings are the caller's to add. `gone` tells of a
    /// part whether its fuse had blown before.
    pub fn new(
        machine: &'m Machine,
        network: &Network,
        state: &str,
        point: &OperatingPoint,
        gone: &dyn Fn(usize) -> bool,
    ) -> Self {
        let chattering: &[usize] = match &point.outcome {
            Outcome::Steady => &[],
            Outcome::Chatter { relays, .. } => relays,
        };
        let at = |position, state: &State| AtPosition {
            position: word(position),
            half: Half::new(machine, network, state, &[], gone),
        };
        Self {
            sheet: &machine.sheet.id,
            state: state.to_owned(),
            faults: Vec::new(),
            edits: Vec::new(),
            outcome: if point.pulled().is_some() { "chatter" } else { "steady" },
            half: Half::new(machine, network, &point.state, chattering, gone),
            cranking_rpm: 0.0,
            engaged: point.state.rotors.iter().any(|rotor| rotor.engaged),
            positions: point
                .pulled()
                .map(|pulled| [at(Position::Released, &point.state), at(Position::Pulled, pulled)]),
            before_blow: point.before_blow.as_ref().map(|solution| BeforeBlow {
                currents: currents(machine, network, solution),
                nodes: potentials(machine, solution),
            }),
            read: Vec::new(),
        }
    }
}

impl<'m> Half<'m> {
    fn new(
        machine: &'m Machine,
        network: &Network,
        state: &State,
        chattering: &[usize],
        gone: &dyn Fn(usize) -> bool,
    ) -> Self {
        let solution = &state.solution;
        let coils = (0..network.relays.len())
            .filter_map(|relay| Some((relay, coil_volts(network, relay, solution)?.0)))
            .map(|(relay, volts)| (owner(machine, network.relays[relay].coil), plain(volts)));
        let relays = network.relays.iter().zip(&state.relays).enumerate().map(|(index, (relay, position))| {
            let word = if chattering.contains(&index) { "chatter" } else { word(*position) };
            (owner(machine, relay.coil), word)
        });
        let fuses = network.fuses.iter().zip(&state.blown).map(|(fuse, blown)| {
            let gone = machine.branches().get(fuse.branch).is_some_and(|path| gone(path.part));
            (owner(machine, fuse.branch), if *blown || gone { "blown" } else { "whole" })
        });
        let motors = network.motors.iter().zip(&state.rotors).map(|(motor, rotor)| {
            let shaft = Shaft {
                current_a: plain(rotor.current.0),
                speed_rad_s: plain(rotor.speed.0),
                torque_nm: plain(rotor.torque.0),
            };
            (owner(machine, motor.branch), shaft)
        });
        Self {
            nodes: potentials(machine, solution),
            currents: currents(machine, network, solution),
            coil_volts: Table(coils.collect()),
            relays: Table(relays.collect()),
            fuses: Table(fuses.collect()),
            motors: Table(motors.collect()),
        }
    }
}

impl Read {
    /// The form of a reading.
    pub fn new(probe: String, shown: Shown) -> Self {
        let positions: Vec<ReadAt> = shown
            .positions
            .iter()
            .map(|(position, value, overload)| ReadAt {
                position: word(*position),
                value: value.map(plain),
                overload: *overload,
            })
            .collect();
        Self {
            probe,
            value: shown.value.map(plain).map(Value::Number),
            unit: shown.dimension.symbol(),
            display: shown.display,
            overload: shown.overload,
            floating: shown.floating,
            outcome: if positions.is_empty() { "steady" } else { "chatter" },
            positions,
            live: shown.live,
        }
    }

    /// The form of what eyes, ears, hands or a caliper tell.
    pub fn seen(probe: &Probe, seen: Seen, chatters: bool) -> Self {
        let word = |index: u8| probe.words().get(usize::from(index)).copied();
        let (value, display) = match seen {
            Seen::Word(index) => (word(index).map(Value::Word), word(index).unwrap_or_default().to_owned()),
            Seen::Number(number) => (Some(Value::Number(plain(number))), show(number, probe.dimension())),
            Seen::Range(..) | Seen::Over | Seen::Nothing => (None, "nothing".to_owned()),
        };
        Self {
            probe: probe.name.clone(),
            value,
            unit: probe.dimension().symbol(),
            display,
            overload: false,
            floating: false,
            outcome: if chatters { "chatter" } else { "steady" },
            positions: Vec::new(),
            live: false,
        }
    }
}

impl<'a> Finding<'a> {
    /// The form of a finding about a sheet.
    pub fn new(sheet: &'a str, problem: &'a Problem) -> Self {
        Self {
            sheet,
            weight: match problem.weight {
                Weight::Problem => "problem",
                Weight::Note => "note",
            },
            line: problem.line,
            column: problem.column,
            message: &problem.message,
            found: &problem.found,
            allowed: &problem.allowed,
            hint: problem.hint.as_deref(),
        }
    }
}

impl<'a> Refused<'a> {
    /// The form of a refusal.
    pub fn new(refusal: &'a Refusal) -> Self {
        let message = match refusal.place.field() {
            Some(field) => format!("{field}: {}", refusal.message),
            None => refusal.message.clone(),
        };
        Self {
            error: RefusedBecause {
                kind: refusal.reason.word(),
                message,
                found: &refusal.found,
                allowed: &refusal.allowed,
                hint: refusal.hint.as_deref(),
            },
        }
    }
}

fn potentials<'m>(machine: &'m Machine, solution: &Solution) -> Table<'m, Option<f64>> {
    let potential = |node| solution.potential(node).map(|volts| plain(volts.0));
    Table((0..machine.node_count()).map(|node| (machine.node_name(node), potential(node))).collect())
}

fn currents<'m>(machine: &'m Machine, network: &Network, solution: &Solution) -> Table<'m, f64> {
    let current = |(index, path): (usize, &'m machine::machine::Conductor)| {
        (path.name.as_str(), plain(machine.current(network, solution, index).0))
    };
    Table(machine.branches().iter().enumerate().map(current).collect())
}

/// The name of the part that a branch belongs to.
fn owner(machine: &Machine, branch: usize) -> &str {
    match machine.branches().get(branch) {
        Some(path) => &machine.sheet.parts[path.part].name.name,
        None => "",
    }
}

fn word(position: Position) -> &'static str {
    match position {
        Position::Released => "released",
        Position::Pulled => "pulled",
    }
}

/// Without the sign of a zero.
fn plain(value: f64) -> f64 {
    value + 0.0
}
