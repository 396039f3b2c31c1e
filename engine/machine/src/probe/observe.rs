//! What a machine with given faults would show on a probe, exactly: the instrument is in the circuit.
//! A fuse that opens in `on` or `held` stays open from then on, so what a fault did before the technician came
//! is part of what he finds.

use circuit::{Law, OperatingPoint, Outcome, Position, Solver, Unsolvable};
use quantity::{Celsius, Ohms};

use crate::machine::{Edit, Machine};
use crate::meter::{Bench, Hookup, Instrument, Setting, TEST_CURRENT, VOLTMETER, lamp_word};
use crate::state::OperatingState;

use super::{Probe, Sort};

/// What is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Seen {
    /// A number in SI.
    Number(f64),
    /// A chattering reading between two numbers.
    Range(f64, f64),
    /// Beyond the instrument's limit.
    Over,
    /// One of the probe's words, by index.
    Word(u8),
    /// It says nothing of the circuit.
    Nothing,
}

/// What the machine does when its owner tries to start it, told without instruments.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Signs {
    /// A relay pulls in.
    pub click: bool,
    /// A relay pulls in and drops out for ever.
    pub chatter: bool,
    /// A motor turns while start is held.
    pub spins: bool,
    /// Its drive is in mesh while it turns.
    pub engaged: bool,
    /// Shaft speed of the motor.
    pub speed: f64,
    /// A motor turns in `rest` or `on`.
    pub runs_on: bool,
    /// A fuse has opened by itself.
    pub blows: bool,
    /// Current drawn from the battery at rest, amperes.
    pub rest_draw: f64,
    /// Current into the battery while the engine runs, amperes.
    pub charge: f64,
    /// Shaft speed of the motor while it turns its engine on a cold morning.
    pub cold_speed: f64,
    /// The same in mild air.
    pub mild_speed: f64,
    /// Shaft speed of the motor below which the engine does not fire; zero where the sheet does not say.
    pub fires_above: f64,
}

/// Air of a cold morning, and mild air (estimates).
const COLD_MORNING: Celsius = Celsius(-8.0);
const MILD: Celsius = Celsius(20.0);

/// Observes machines; keeps buffers from one to the next.
#[derive(Clone, Debug, Default)]
pub struct Observer {
    bench: Bench,
    /// One for each state of the program, while there is a base.
    solvers: Vec<Solver>,
    signs: Signs,
}

/// What is observed, the edits apart.
#[derive(Clone, Copy)]
struct Tour<'a> {
    machine: &'a Machine,
    program: &'a Program,
    probes: &'a [Probe],
    air: Option<Celsius>,
}

/// Probes grouped by the state that they are made in, so that each state is solved once.
#[derive(Clone, Debug, Default)]
pub struct Program {
    /// `on` and `held` first: they have been tried before the technician comes, and lamps are compared with `on`.
    stops: Vec<Stop>,
    tried: usize,
    /// Shaft speed of the motor below which the engine does not fire, rad/s.
    fires_above: f64,
}

/// An operating state that is looked at.
#[derive(Clone, Debug)]
struct Stop {
    state: OperatingState,
    /// The probes made in it.
    probes: Vec<usize>,
    /// Its air, where it is not that of the day.
    air: Option<Celsius>,
}

impl Stop {
    fn today(state: OperatingState) -> Self {
        Self { state, probes: Vec::new(), air: None }
    }
}

impl Program {
    /// Groups probes by state.
    pub fn new(machine: &Machine, probes: &[Probe]) -> Self {
        let mut program = Self::default();
        for name in ["on", "held", "rest", "running"] {
            if let Ok(state) = machine.state(name) {
                program.stops.push(Stop::today(state));
                program.tried += usize::from(matches!(name, "on" | "held"));
            }
        }
        program.group(machine, probes);
        // What its owner has seen on other days.
        if machine.sheet.parts.iter().any(|part| part.kind.name == "engine")
            && let Ok(held) = machine.state("held")
        {
            let on_days = [COLD_MORNING, MILD].map(|air| Stop { air: Some(air), ..Stop::today(held.clone()) });
            program.stops.extend(on_days);
            program.fires_above = machine.fires_above();
        }
        program
    }

    /// Groups probes by state and enters no other state: for machines in which no fuse has opened before.
    pub fn plain(machine: &Machine, probes: &[Probe]) -> Self {
        let mut program = Self::default();
        program.group(machine, probes);
        program
    }

    fn group(&mut self, machine: &Machine, probes: &[Probe]) {
        for (index, probe) in probes.iter().enumerate() {
            let known = self.stops.iter_mut().find(|stop| stop.state.name == probe.state);
            if let Some(stop) = known {
                stop.probes.push(index);
            } else if let Ok(state) = machine.state(&probe.state) {
                self.stops.push(Stop { probes: vec![index], ..Stop::today(state) });
            }
        }
    }
}

impl Observer {
    /// A new observer.
    pub fn new() -> Self {
        Self::default()
    }

    /// Machines observed from now on are near this one: they are solved as changes of it, state by state. What they show
    /// depends on the base by rounding only, and on nothing else that was observed before.
    pub fn start_from(&mut self, machine: &Machine, program: &Program, edits: &[Edit], air: Option<Celsius>) {
        self.solvers.resize(program.stops.len(), Solver::new());
        for (solver, stop) in self.solvers.iter_mut().zip(&program.stops) {
            std::mem::swap(&mut self.bench.solver, solver);
            // A base without a solution is an empty base: what is near it is solved in full.
            let _ = self.bench.solve_base(machine, &Setting { state: &stop.state, edits, air: stop.air.or(air) });
            std::mem::swap(&mut self.bench.solver, solver);
        }
    }

    /// What every probe of a program shows; one entry a probe, in `seen`.
    ///
    /// # Errors
    /// When the network has no solution.
    pub fn observe(
        &mut self,
        machine: &Machine,
        program: &Program,
        probes: &[Probe],
        edits: &[Edit],
        air: Option<Celsius>,
        seen: &mut [Seen],
    ) -> Result<(), Unsolvable> {
        let tour = Tour { machine, program, probes, air };
        let mut edits = edits.to_vec();
        let mut blows = false;
        // A fuse that opens in `held` is open in `on` too: then all is looked at once more.
        while self.look(&tour, &mut edits, seen)? {
            blows = true;
        }
        self.signs.blows |= blows;
        Ok(())
    }

    /// One look at every state; true when a fuse opened that earlier states had not seen open.
    fn look(&mut self, tour: &Tour<'_>, edits: &mut Vec<Edit>, seen: &mut [Seen]) -> Result<bool, Unsolvable> {
        self.signs = Signs::default();
        let mut on: Option<OperatingPoint> = None;
        for number in 0..tour.program.stops.len() {
            self.swap_solver(number);
            let again = self.look_at(tour, number, edits, &mut on, seen);
            self.swap_solver(number);
            if again? {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Puts the solver that knows a state's base on the bench, or takes it off again.
    fn swap_solver(&mut self, number: usize) {
        if let Some(solver) = self.solvers.get_mut(number) {
            std::mem::swap(&mut self.bench.solver, solver);
        }
    }

    /// One look at one state; true as in [`Observer::look`]. `on` is that state's answer once it has been seen.
    fn look_at(
        &mut self,
        tour: &Tour<'_>,
        number: usize,
        edits: &mut Vec<Edit>,
        on: &mut Option<OperatingPoint>,
        seen: &mut [Seen],
    ) -> Result<bool, Unsolvable> {
        let Tour { machine, program, probes, air } = *tour;
        let Stop { state, probes: of_state, air: other_day } = &program.stops[number];
        let air = other_day.or(air);
        if other_day.is_some() {
            // What it did on another day is not worth losing today's readings for.
            if let Ok(point) = self.bench.solve(machine, &Setting { state, edits, air }) {
                self.note_other_day(air, &point);
                self.signs.fires_above = program.fires_above;
            }
            return Ok(false);
        }
        let point = self.bench.solve(machine, &Setting { state, edits, air })?;
        if number < program.tried && self.keep_blown(machine, &point, edits) {
            self.signs.blows = true;
            if number > 0 {
                return Ok(true);
            }
        }
        let setting = Setting { state, edits, air };
        self.note_signs(machine, &state.name, &point);
        // First what is read off the solution itself, while the solver still has it; then what changes it.
        let mut later = Vec::new();
        for &index in of_state {
            match self.read_off(machine, &probes[index], &point, on.as_ref(), edits) {
                Some(found) => seen[index] = found,
                None => later.push(index),
            }
        }
        for index in later {
            seen[index] = self.connect(machine, &setting, &point, &probes[index])?;
        }
        if state.name == "on" {
            *on = Some(point);
        }
        Ok(false)
    }

    /// Adds the fuses that have opened and stay open to the edits; true when there were any.
    fn keep_blown(&self, machine: &Machine, point: &OperatingPoint, edits: &mut Vec<Edit>) -> bool {
        let before = edits.len();
        for (fuse, blown) in self.bench.network.fuses.iter().zip(&point.state.blown) {
            if *blown && machine.stays_open(fuse.branch) && !edits.contains(&Edit::Open(fuse.branch)) {
                edits.push(Edit::Open(fuse.branch));
            }
        }
        edits.len() > before
    }

    /// What the machine observed last would make its owner say.
    pub fn signs(&self) -> Signs {
        self.signs
    }

    fn note_signs(&mut self, machine: &Machine, state: &str, point: &OperatingPoint) {
        let turning = point.state.rotors.iter().find(|rotor| rotor.turning);
        match state {
            "held" => {
                // The driver of a control unit that resets is a relay that nobody hears.
                let heard = |relay: usize| {
                    let part = machine.branches()[self.bench.network.relays[relay].coil].part;
                    matches!(machine.sheet.parts[part].kind.name, "relay" | "solenoid")
                };
                let pulled = |relay: usize| point.state.relays[relay] == Position::Pulled;
                self.signs.click = (0..point.state.relays.len()).any(|relay| pulled(relay) && heard(relay));
                self.signs.chatter = match &point.outcome {
                    Outcome::Chatter { relays, .. } => relays.iter().any(|relay| heard(*relay)),
                    Outcome::Steady => false,
                };
                self.signs.spins = turning.is_some();
                self.signs.engaged = turning.is_some_and(|rotor| rotor.engaged);
                self.signs.speed = turning.map_or(0.0, |rotor| rotor.speed.0);
            }
            "rest" | "on" => {
                self.signs.runs_on |= turning.is_some();
                if state == "rest"
                    && let Some(battery) = machine.battery_branch()
                {
                    self.signs.rest_draw = -point.state.solution.current(battery).0;
                }
            }
            "running" => {
                if let Some(battery) = machine.battery_branch() {
                    self.signs.charge = point.state.solution.current(battery).0;
                }
            }
            _ => {}
        }
    }

    /// How fast the engine is turned in other air than today's.
    fn note_other_day(&mut self, air: Option<Celsius>, point: &OperatingPoint) {
        let settled = point.pulled().is_none();
        let turning = point.state.rotors.iter().find(|rotor| settled && rotor.turning && rotor.engaged);
        let speed = turning.map_or(0.0, |rotor| rotor.speed.0);
        if air == Some(COLD_MORNING) {
            self.signs.cold_speed = speed;
        } else {
            self.signs.mild_speed = speed;
        }
    }

    /// What can be told from the solved state.
    fn read_off(
        &mut self,
        machine: &Machine,
        probe: &Probe,
        point: &OperatingPoint,
        on: Option<&OperatingPoint>,
        edits: &[Edit],
    ) -> Option<Seen> {
        let network = &self.bench.network;
        let chatters = matches!(point.outcome, Outcome::Chatter { .. });
        match probe.sort {
            Sort::Meter(Instrument::Volts, Hookup::Between { red, black }) if !chatters => {
                let volts = self.bench.solver.meter(red, black, VOLTMETER);
                Some(Seen::Number(volts.map_or(0.0, |volts| volts.0)))
            }
            // 10 MΩ change neither half of a chattering relay's circuit by as much as the display shows.
            Sort::Meter(Instrument::Volts, Hookup::Between { red, black }) => {
                let half = |solution: &circuit::Solution| solution.between(red, black).map_or(0.0, |volts| volts.0);
                Some(range(half(&point.state.solution), point.pulled().map_or(0.0, |pulled| half(&pulled.solution))))
            }
            Sort::Meter(Instrument::Clamp, Hookup::In(branch)) => {
                let current = |solution: &circuit::Solution| machine.current(network, solution, branch).0;
                Some(match point.pulled() {
                    Some(pulled) => range(current(&point.state.solution), current(&pulled.solution)),
                    None => Seen::Number(current(&point.state.solution)),
                })
            }
            Sort::Meter(Instrument::Ohms, Hookup::Between { red, black }) if !chatters => {
                let voltage = point.state.solution.between(red, black).map_or(0.0, |volts| volts.0);
                if voltage.abs() > 1e-3 {
                    return None;
                }
                let Some(pair) = self.bench.solver.thevenin(red, black) else { return Some(Seen::Over) };
                // Far below a junction's threshold the slope is the reading; above, the meter must be connected.
                let volts = pair.resistance.0 * TEST_CURRENT.0;
                (volts < 0.02).then_some(Seen::Number(pair.resistance.beside(VOLTMETER).0 + machine.leads().0))
            }
            // What chatters, or carries next to nothing, has no drop per ampere that anybody could read.
            Sort::PerAmp { .. } if chatters => Some(Seen::Over),
            Sort::PerAmp { red, black, clamped } => {
                let amps = machine.current(network, &point.state.solution, clamped).0.abs();
                let volts = self.bench.solver.meter(red, black, VOLTMETER).map_or(0.0, |volts| volts.0.abs());
                Some(if amps < LEAST_CLAMPED { Seen::Over } else { Seen::Number(volts / amps) })
            }
            Sort::Listen(part) => {
                let coil = machine.layout(part).slots[0]?;
                let relay = network.relays.iter().position(|relay| relay.coil == coil)?;
                Some(Seen::Word(match &point.outcome {
                    Outcome::Chatter { relays, .. } if relays.contains(&relay) => 2,
                    _ if point.state.relays[relay] == Position::Pulled => 1,
                    _ => 0,
                }))
            }
            Sort::Watch(part) => {
                let branch = machine.layout(part).slots[0]?;
                let now = point.state.solution.current(branch).0.abs();
                let before = on.unwrap_or(point).state.solution.current(branch).0.abs();
                Some(Seen::Word(match now {
                    now if now < 1e-3 || now < 0.25 * before => 0,
                    now if now < 0.93 * before => 1,
                    _ => 2,
                }))
            }
            Sort::Feel(part) => {
                let branch = machine.layout(part).slots[0]?;
                let motor = network.motors.iter().position(|motor| motor.branch == branch);
                let turns = motor.is_some_and(|motor| point.state.rotors[motor].turning);
                Some(Seen::Word(u8::from(turns || (probe.state == "running" && machine.is_driven(part, edits)))))
            }
            Sort::Turn(part) => Some(Seen::Word(machine.hand_on(part, edits))),
            Sort::Look(part) => Some(Seen::Word(self.look_of(machine, part, point, edits)?)),
            Sort::Wiggle(part) => {
                let word = machine.word_with(part, "looks", edits);
                Some(Seen::Word(u8::from(word.is_some_and(|word| MOVES.contains(&word)))))
            }
            Sort::Size(part) => {
                let slot = machine.slot(part, "clearance").ok()?;
                Some(Seen::Number(Edit::made(edits, slot, machine.values()[slot])))
            }
            Sort::Ask(_) => Some(Seen::Nothing),
            Sort::Meter(..) | Sort::Feed(_) => None,
        }
    }

    /// What a look at a part finds, as index of its words.
    fn look_of(&self, machine: &Machine, part: usize, point: &OperatingPoint, edits: &[Edit]) -> Option<u8> {
        let network = &self.bench.network;
        let branch = machine.layout(part).slots[0]?;
        let gone = || {
            let fuse = network.fuses.iter().position(|fuse| fuse.branch == branch);
            network.branches[branch].law == Law::Open || fuse.is_some_and(|fuse| point.state.blown[fuse])
        };
        Some(match machine.sheet.parts[part].kind.name {
            // A cracked one looks whole; one of another rating shows it as long as it is whole.
            "fuse" if machine.value_with(part, "cracked", edits)? == 1.0 => 0,
            "fuse" if gone() => 1,
            "fuse" => {
                let slot = machine.slot(part, "rating").ok()?;
                2 * u8::from(Edit::made(edits, slot, machine.values()[slot]) != machine.values()[slot])
            }
            "breaker" => u8::from(gone()),
            _ => machine.value_with(part, "looks", edits)? as u8,
        })
    }

    /// What takes another solution, with the instrument in the circuit.
    fn connect(
        &mut self,
        machine: &Machine,
        setting: &Setting<'_>,
        without: &OperatingPoint,
        probe: &Probe,
    ) -> Result<Seen, Unsolvable> {
        match probe.sort {
            Sort::Meter(instrument, hookup) => {
                let shown = self.bench.read(machine, setting, without, instrument, hookup, Ohms(0.0))?;
                Ok(match (shown.value, shown.positions.as_slice()) {
                    _ if shown.overload => Seen::Over,
                    (Some(value), _) if instrument == Instrument::Lamp => {
                        let word = probe.words().iter().position(|word| *word == lamp_word(value));
                        Seen::Word(word.unwrap_or(0) as u8)
                    }
                    (Some(value), _) => Seen::Number(value),
                    (None, [(_, Some(left), _), (_, Some(right), _)]) => range(*left, *right),
                    _ => Seen::Over,
                })
            }
            Sort::Feed(part) => {
                let edits = machine.fed_directly(part, setting.edits);
                self.bench.solve(machine, &Setting { edits: &edits, ..*setting }).map(|point| {
                    let branch = machine.layout(part).slots[0];
                    let motor = self.bench.network.motors.iter().position(|motor| Some(motor.branch) == branch);
                    Seen::Word(u8::from(motor.is_some_and(|motor| point.state.rotors[motor].turning)))
                })
            }
            _ => Ok(Seen::Nothing),
        }
    }
}

/// A clamp shows a current that can be divided by from here on (estimate), A.
const LEAST_CLAMPED: f64 = 2.0;
/// Words of `looks` for what moves under a hand.
const MOVES: [&str; 2] = ["loose", "unplugged"];
/// Jump leads of a direct supply, both together.
const JUMPER: Ohms = Ohms(5e-3);
/// By hand an engine is "tight" above this multiple of its healthy torque, "blocked" above the other (estimate).
const TIGHT: f64 = 1.6;
const BLOCKED: f64 = 10.0;

impl Machine {
    /// The branch of the first battery or source.
    pub fn battery_branch(&self) -> Option<usize> {
        let supply = self.sheet.parts.iter().position(|part| matches!(part.kind.name, "battery" | "source"))?;
        self.layout(supply).slots[0]
    }

    /// Whether a fuse that has opened stays open in the states that follow: all but breakers that reset by themselves.
    fn stays_open(&self, fuse: usize) -> bool {
        const BY_ITSELF: f64 = 0.0;
        let part = self.branches()[fuse].part;
        self.slot(part, "resets").map_or(true, |slot| self.values()[slot] != BY_ITSELF)
    }

    /// Shaft speed of the motor below which the engine does not fire, rad/s; zero where the sheet does not say.
    fn fires_above(&self) -> f64 {
        let own = |kind: &str, field: &str| {
            let part = self.sheet.parts.iter().position(|part| part.kind.name == kind)?;
            self.value_with(part, field, &[]).filter(|value| !value.is_nan())
        };
        own("engine", "fires-above").zip(own("drive", "ratio")).map_or(0.0, |(speed, ratio)| speed * ratio)
    }

    /// Whether a running engine takes the motor along: its one-way clutch does not let go.
    fn is_driven(&self, motor: usize, edits: &[Edit]) -> bool {
        self.drive_of(motor).and_then(|drive| self.value_with(drive, "seized", edits)) == Some(1.0)
    }

    /// The edits with a motor fed straight from the first battery or source.
    fn fed_directly(&self, motor: usize, edits: &[Edit]) -> Vec<Edit> {
        let mut all = edits.to_vec();
        let supply = self.sheet.parts.iter().position(|part| matches!(part.kind.name, "battery" | "source"));
        if let Some(supply) = supply {
            let (battery, fed) = (&self.layout(supply).terminals, &self.layout(motor).terminals);
            all.push(Edit::Bridge(battery[0], fed[0], JUMPER));
            all.push(Edit::Bridge(battery[1], fed[1], JUMPER));
        }
        all
    }

    /// How the engine feels by hand: 0 free, 1 tight, 2 blocked.
    fn hand_on(&self, engine: usize, edits: &[Edit]) -> u8 {
        let worst = ["friction-torque", "breakaway", "drag"]
            .iter()
            .filter_map(|field| {
                let slot = self.slot(engine, field).ok()?;
                let healthy = self.values()[slot];
                (healthy > 0.0).then(|| Edit::made(edits, slot, healthy) / healthy)
            })
            .fold(1.0, f64::max);
        if worst >= BLOCKED { 2 } else { u8::from(worst >= TIGHT) }
    }
}

fn range(left: f64, right: f64) -> Seen {
    Seen::Range(left.min(right), left.max(right))
}
