//! A machine's sheet as a rig that can be cranked in time: the battery, the wiring reduced to its ports, relay, motor,
//! drive and engine, with any edits made.
//! Law: see [`physics::cranking`]; the wiring is reduced at the state `held`, its lamps and diodes as straight lines there.
//! The mean torque of the sheet's engine is kept: what the gas takes of it is taken off the friction.
//! Promise: the same edits and the same air give the same rig. Limit: one battery, one starting motor; what a sheet does not
//! say (inertia of the flywheel, relay's times, heat of the motor) is an estimate, named where it stands.

use circuit::{Law, Network, Position, Solver};
use machine::kind::Want;
use machine::{Bench, Edit, Machine, Setting};
use physics::cranking::{Coupling, Engine, Motor, Ports, Relay, Rig, Start};
use physics::cylinder::{AIR, Cylinder};
use physics::inertia_drive::InertiaDrive;
use physics::pack::{Chemistry, Pack};
use physics::winding::Magnet;
use quantity::{
    AmpHours, Amps, Celsius, Henries, KilogramSquareMeters, Meters, NewtonMeterSecondsPerRadian, NewtonMeters, Ohms,
    Radians, RadiansPerSecond, Seconds, Volts,
};

use crate::given::Refused;

/// A machine ready to be cranked in time.
#[derive(Clone, Debug, PartialEq)]
pub struct Stand {
    /// The rig.
    pub rig: Rig,
    /// The machine as it stands in its air.
    pub start: Start,
}

/// A drive that needs more than this never takes hold, rad/s².
const NEVER: f64 = 1e8;
/// Moment of inertia of an engine's flywheel where the sheet says none (estimate for a single of 100 to 400 cm³).
const FLYWHEEL: f64 = 0.01;
/// Crank radius over length of the rod (estimate: 0.25 to 0.3).
const ROD_RATIO: f64 = 0.27;
/// Exponent of a compression at cranking speed (estimate: 1.2 to 1.3).
const EXPONENT: f64 = 1.25;
/// Share of the charge that leaks a second for each bar over the air's (estimate).
const LEAK: f64 = 0.3;

impl Stand {
    /// A machine with edits made, in air of a temperature, its battery at a charge (its own where none is given).
    ///
    /// # Errors
    /// When the sheet has no battery or no starting motor on an engine, or its circuit has no solution.
    pub fn of(machine: &Machine, edits: &[Edit], air: Celsius, charge: Option<f64>) -> Result<Self, Refused> {
        let own = Own { machine, edits };
        let battery = own.part(&["battery"]).ok_or(Refused::Lacks {
            what: "battery",
            hint: "give it a [part.battery] with kind = \"battery\", chemistry and capacity",
        })?;
        let wiring = Wiring::of(machine, edits, air)?;
        let pack = own.pack(battery, &wiring);
        let motor = own.motor(&wiring);
        let coupling = own.coupling(&wiring);
        let engine = own.engine(&wiring, &coupling, air);
        let rig = Rig { pack, ports: wiring.ports, relay: wiring.relay, motor, coupling, engine };
        let charge = charge.or_else(|| own.number(battery, "charge")).unwrap_or(0.9);
        let start = Start::cold(&rig, charge);
        Ok(Self { rig, start })
    }
}

/// A machine's values with the edits made.
struct Own<'a> {
    machine: &'a Machine,
    edits: &'a [Edit],
}

impl Own<'_> {
    fn part(&self, kinds: &[&str]) -> Option<usize> {
        self.machine.sheet.parts.iter().position(|part| kinds.contains(&part.kind.name))
    }

    fn number(&self, part: usize, field: &str) -> Option<f64> {
        let slot = self.machine.slot(part, field).ok()?;
        let value = self.edits.iter().fold(self.machine.values()[slot], |value, edit| match *edit {
            Edit::Set { slot: at, to } if at == slot => to,
            Edit::Scale { slot: at, by } if at == slot => value * by,
            Edit::Add { slot: at, by } if at == slot => value + by,
            _ => value,
        });
        (!value.is_nan()).then_some(value)
    }

    fn word(&self, part: usize, field: &str) -> Option<&'static str> {
        let known = self.machine.sheet.parts[part].kind.fields.iter().find(|known| known.name == field)?;
        let Want::Choice(words) = known.want else { return None };
        words.get(self.number(part, field)? as usize).copied()
    }

    fn pack(&self, battery: usize, wiring: &Wiring) -> Pack {
        let chemistry = match self.word(battery, "chemistry") {
            Some("agm") => Chemistry::GlassMat,
            Some("flooded") => Chemistry::Flooded,
            _ => Chemistry::LfpPower,
        };
        let capacity = AmpHours(self.number(battery, "capacity").unwrap_or(8280.0) / 3600.0);
        let mut pack = Pack::new(chemistry, capacity);
        if let Some(stated) = self.number(battery, "resistance") {
            pack = pack.with_resistance(Ohms(stated), Amps(wiring.cranking.abs().max(20.0)));
        }
        pack.wear *= self.number(battery, "wear").unwrap_or(1.0);
        pack.dead_cells = self.number(battery, "dead-cells").unwrap_or(0.0);
        pack
    }

    fn motor(&self, wiring: &Wiring) -> Motor {
        let plain = &wiring.motor;
        let inertia = self.number(wiring.motor_part, "inertia").unwrap_or(1.1e-4);
        Motor {
            resistance: plain.resistance,
            // Electrical time constant of 2 ms (estimate: 1 to 5 ms).
            inductance: Henries(2e-3 * plain.resistance.0.max(0.01)),
            brushes: Volts(0.0),
            constant: plain.constant,
            magnet: Magnet::Ferrite,
            friction: plain.friction,
            drag: plain.drag,
            inertia: KilogramSquareMeters(inertia),
            winding_heat: 90.0,
            iron_heat: 600.0,
            winding_to_iron: 0.8,
            iron_to_air: 1.0,
        }
    }

    fn drive(&self, wiring: &Wiring) -> Option<usize> {
        let parts = self.machine.sheet.parts.iter().enumerate().filter(|(_, part)| part.kind.name == "drive");
        parts.map(|(index, _)| index).find(|index| self.number(*index, "motor") == Some(wiring.motor_part as f64))
    }

    fn coupling(&self, wiring: &Wiring) -> Coupling {
        let drive = self.drive(wiring);
        let of = |field: &str, other: f64| drive.and_then(|drive| self.number(drive, field)).unwrap_or(other);
        let wanted = wiring.motor.drive.map_or(0.0, |drive| drive.engages_above.0);
        let thrown = drive.is_some_and(|drive| self.word(drive, "type") == Some("inertia"));
        Coupling {
            ratio: of("ratio", 18.0),
            efficiency: of("efficiency", 0.85),
            // What it needs beyond the plain pinion is what drags the pinion along: dirt, grease, a canted shaft.
            thrown: (thrown && wanted < NEVER).then(|| {
                let more = (wanted - InertiaDrive::USUAL.least_acceleration().0) * InertiaDrive::USUAL.inertia.0;
                InertiaDrive { drag: NewtonMeters(more), ..InertiaDrive::USUAL }
            }),
            slips: wanted >= NEVER || wiring.motor.drive.is_none(),
        }
    }

    fn engine(&self, wiring: &Wiring, coupling: &Coupling, air: Celsius) -> Engine {
        let drive = self.drive(wiring);
        let part = drive.and_then(|drive| self.number(drive, "engine")).map(|part| part as usize);
        let of = |field: &str| part.and_then(|part| self.number(part, field));
        let geared = coupling.ratio * coupling.efficiency;
        // As the motor's shaft feels it in this air, brought back to the crankshaft.
        let (friction, drag, breakaway) = wiring.cold.drive.map_or((0.0, 0.0, 0.0), |load| {
            let own = wiring.cold.breakaway.0;
            let breakaway = (load.breakaway.0 - own).max(load.load.0) * geared;
            (load.load.0 * geared, load.load_drag.0 * geared * coupling.ratio, breakaway)
        });
        let closes = Radians(of("closes").unwrap_or(85.0).to_radians());
        let cylinder = of("bore").zip(of("stroke")).map(|(bore, stroke)| Cylinder {
            bore: Meters(bore),
            stroke: Meters(stroke),
            rod_ratio: ROD_RATIO,
            compression: of("compression").unwrap_or(10.0),
            exponent: EXPONENT,
            closes,
            air: AIR,
        });
        let mut engine = Engine {
            cylinder,
            strokes: if of("strokes") == Some(4.0) { 4 } else { 2 },
            leak: LEAK,
            friction: NewtonMeters(friction),
            sticking: if friction > 0.0 { (breakaway / friction).clamp(1.0, 3.0) } else { 1.0 },
            drag: NewtonMeterSecondsPerRadian(drag),
            flywheel: KilogramSquareMeters(of("flywheel").unwrap_or(FLYWHEEL)),
            // An engine rests where its next compression begins: it has been turned back by the last one.
            stands: Radians(closes.0 + 0.2),
            air,
        };
        let usual = RadiansPerSecond(wiring.turning / coupling.ratio);
        let gas = if usual.0 > 0.0 { engine.gas_torque(usual).0 } else { 0.0 };
        engine.friction = NewtonMeters((friction - gas).max(0.25 * friction));
        engine
    }
}

/// The wiring as the motor, the battery and the relay's coil see it.
struct Wiring {
    ports: [Ports; 2],
    relay: Option<Relay>,
    /// As the sheet says at 20 °C.
    motor: circuit::Motor,
    /// In this air.
    cold: circuit::Motor,
    motor_part: usize,
    /// Current and speed that the settled circuit has.
    cranking: f64,
    turning: f64,
}

/// The branches at the ports of a network without anything that changes state.
struct Reduced {
    network: Network,
    battery: usize,
    motor: usize,
    coil: Option<usize>,
}

impl Wiring {
    fn of(machine: &Machine, edits: &[Edit], air: Celsius) -> Result<Self, Refused> {
        let lacks_motor = Refused::Lacks {
            what: "starting motor that the battery can turn",
            hint: "a sheet needs a battery, a starter and the state `held`",
        };
        let battery = machine.battery_branch().ok_or(lacks_motor.clone())?;
        let state = machine.state("held").map_err(|_| lacks_motor.clone())?;
        let mut bench = Bench::new();
        let unsolved = |_| Refused::Lacks {
            what: "solution in the state `held`",
            hint: "`probewright solve SHEET --state held` says why",
        };
        bench.build(machine, &Setting { state: &state, edits, air: None });
        let plain = bench.network.motors.first().copied().ok_or(lacks_motor.clone())?;
        let point = bench.solve(machine, &Setting { state: &state, edits, air: Some(air) }).map_err(unsolved)?;
        let network = &bench.network;
        let cold = network.motors.first().copied().ok_or(lacks_motor)?;
        let settled = point.pulled().unwrap_or(&point.state);
        let (cranking, turning) = settled.rotors.first().map_or((0.0, 0.0), |rotor| (rotor.current.0, rotor.speed.0));
        let of_starter = starter_relay(network, &settled.relays, &cold, battery);
        let fixed = |closed: bool| {
            let mut still = Network { relays: Vec::new(), fuses: Vec::new(), motors: Vec::new(), ..network.clone() };
            for (index, relay) in network.relays.iter().enumerate() {
                let makes = if of_starter == Some(index) { closed } else { settled.relays[index] == Position::Pulled };
                if !relay.stuck.unwrap_or(makes) {
                    still.branches[relay.contact].law = Law::Open;
                }
            }
            for (index, fuse) in network.fuses.iter().enumerate() {
                if settled.blown[index] {
                    still.branches[fuse.branch].law = Law::Open;
                }
            }
            let coil = of_starter.map(|relay| network.relays[relay].coil);
            Reduced { network: still, battery, motor: cold.branch, coil }.ports(closed).map_err(unsolved)
        };
        let relay = of_starter.map(|index| {
            let relay = &network.relays[index];
            let coil = match network.branches[relay.coil].law {
                Law::Linear { resistance, .. } => resistance,
                _ => Ohms(f64::INFINITY),
            };
            Relay {
                coil,
                rise: Seconds(8e-3),
                pull_in: relay.pull_in,
                drop_out: relay.drop_out,
                closes_after: Seconds(6e-3),
                opens_after: Seconds(4e-3),
            }
        });
        // A coil that is open carries nothing and pulls nothing.
        let relay =
            relay.map(|relay| if relay.coil.0.is_finite() { relay } else { Relay { coil: Ohms(1e6), ..relay } });
        let motor_part = machine.branches()[cold.branch].part;
        Ok(Self { ports: [fixed(false)?, fixed(true)?], relay, motor: plain, cold, motor_part, cranking, turning })
    }
}

/// The relay whose contact the motor's current goes through: the one without which the motor gets nothing.
fn starter_relay(network: &Network, relays: &[Position], motor: &circuit::Motor, battery: usize) -> Option<usize> {
    let with = |open: Option<usize>| {
        let mut still = Network { relays: Vec::new(), fuses: Vec::new(), motors: Vec::new(), ..network.clone() };
        for (index, relay) in network.relays.iter().enumerate() {
            let away = match open {
                Some(which) => index == which,
                None => relays[index] == Position::Released && !is_in_line(network, index, motor),
            };
            if away {
                still.branches[relay.contact].law = Law::Open;
            }
        }
        let source = Law::Linear { resistance: Ohms(0.0), emf: Volts(12.0) };
        still.branches[battery].law = source;
        let point = Solver::new().solve(&still).ok()?;
        Some(point.state.solution.current(motor.branch).0.abs())
    };
    let candidates = (0..network.relays.len()).filter(|index| is_in_line(network, *index, motor));
    candidates.min_by(|left, right| {
        let left = with(Some(*left)).unwrap_or(f64::INFINITY);
        left.total_cmp(&with(Some(*right)).unwrap_or(f64::INFINITY))
    })
}

/// Whether a relay's contact is stout enough to be in the motor's path: a contact's own resistance is less than a coil's.
fn is_in_line(network: &Network, relay: usize, motor: &circuit::Motor) -> bool {
    let ohms = |branch: usize| match network.branches[branch].law {
        Law::Linear { resistance, .. } => resistance.0,
        _ => f64::INFINITY,
    };
    ohms(network.relays[relay].contact) <= ohms(motor.branch).max(motor.resistance.0)
}

/// A port's voltages and currents at one point.
struct Point {
    battery_volts: f64,
    motor_amps: f64,
    coil_amps: f64,
}

impl Reduced {
    /// Straight lines about a cranking machine: battery at 11 V, 80 A in the motor, 2.5 A in the coil.
    fn ports(&self, closed: bool) -> Result<Ports, circuit::Unsolvable> {
        let motor_amps = if closed { 80.0 } else { 0.0 };
        let at = |battery_volts, motor_amps, coil_amps| self.solve(&Point { battery_volts, motor_amps, coil_amps });
        let base = at(11.0, motor_amps, 2.5)?;
        let by_volts = at(11.5, motor_amps, 2.5)?;
        let by_motor = if closed { at(11.0, 90.0, 2.5)? } else { base };
        let by_coil = at(11.0, motor_amps, 2.6)?;
        let mut ports = [[0.0; 4]; 3];
        for row in 0..3 {
            let slope = |other: &[f64; 3], step: f64| (other[row] - base[row]) / step;
            let slopes = [slope(&by_volts, 0.5), slope(&by_motor, 10.0), slope(&by_coil, 0.1)];
            let [volts, motor, coil] = slopes;
            ports[row] = [volts, motor, coil, base[row] - 11.0 * volts - motor_amps * motor - 2.5 * coil];
        }
        Ok(Ports(ports))
    }

    /// The battery's current, the motor's and the coil's voltage at a point.
    fn solve(&self, point: &Point) -> Result<[f64; 3], circuit::Unsolvable> {
        let mut network = self.network.clone();
        network.branches[self.battery].law = Law::Linear { resistance: Ohms(0.0), emf: Volts(point.battery_volts) };
        // A motor that is cut off floats; as a resistance it takes what potential there is.
        if point.motor_amps != 0.0 {
            network.branches[self.motor].law = Law::Source(Amps(point.motor_amps));
        }
        if let Some(coil) = self.coil {
            network.branches[coil].law = Law::Source(Amps(point.coil_amps));
        }
        let solved = Solver::new().solve(&network)?.state.solution;
        let across = |branch: usize| {
            let branch = &network.branches[branch];
            solved.between(branch.from, branch.to).map_or(0.0, |volts| volts.0)
        };
        Ok([-solved.current(self.battery).0, across(self.motor), self.coil.map_or(0.0, across)])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::tests::school;

    const EIGHT: [&str; 8] =
        ["curlew", "moorhen", "plover", "dunlin", "dabchick", "sandpiper", "turnstone", "fieldfare"];

    /// The settled circuit and the mean of the course in time agree: 4 % of the speed, 12 % of the current.
    #[test]
    fn law_the_course_in_time_has_the_mean_of_the_settled_circuit() {
        for name in EIGHT {
            let machine = school(name);
            let stand = Stand::of(&machine, &[], Celsius(20.0), None).unwrap();
            let course = stand.rig.crank(stand.start, Seconds(2.0));
            let state = machine.state("held").unwrap();
            let setting = Setting { state: &state, edits: &[], air: Some(Celsius(20.0)) };
            let rotor = Bench::new().solve(&machine, &setting).unwrap().state.rotors[0];
            let settled = rotor.speed.rpm() / stand.rig.coupling.ratio;
            let (speed, current) = (course.crank.rpm() / settled, course.amps.0 / rotor.current.0);
            // Gears that rub while the engine drives the starter, and a clutch that lets go, are in the course alone.
            assert!((speed - 1.0).abs() < 0.04 && (current - 1.0).abs() < 0.12, "{name}: {speed} and {current}");
            assert!(course.tally.unaccounted().abs() < 1e-3, "{name}: {:?}", course.tally);
        }
    }
}
