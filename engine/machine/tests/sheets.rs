//! The machines of the school: each sheet reads without a finding, each healthy state is what a rider would find, and
//! each typical fault does what the trade says it does. Figures are computed by the solver, limits are the trade's.

use circuit::{Network, OperatingPoint, Outcome, Position, Solver};
use machine::{Edit, Machine, sheet};
use quantity::Celsius;

const SHEETS: [(&str, &str); 8] = [
    ("curlew", include_str!("../../../machines/curlew.toml")),
    ("moorhen", include_str!("../../../machines/moorhen.toml")),
    ("dunlin", include_str!("../../../machines/dunlin.toml")),
    ("dabchick", include_str!("../../../machines/dabchick.toml")),
    ("plover", include_str!("../../../machines/plover.toml")),
    ("sandpiper", include_str!("../../../machines/sandpiper.toml")),
    ("turnstone", include_str!("../../../machines/turnstone.toml")),
    ("fieldfare", include_str!("../../../machines/fieldfare.toml")),
];

fn machine(name: &str) -> Machine {
    let (_, text) = SHEETS.iter().find(|(known, _)| *known == name).expect("a sheet of that name");
    let reading = sheet::read(text);
    assert!(reading.findings.is_empty(), "{name}: {:#?}", reading.findings);
    Machine::new(reading.sheet.expect("a sheet without problems"))
}

/// A machine in a state, with edits, at an air temperature.
struct Solved {
    point: OperatingPoint,
    rpm: f64,
    amps: f64,
    volts: f64,
}

impl Solved {
    fn at(machine: &Machine, state: &str, edits: &[Edit], air: Option<Celsius>) -> Self {
        let mut network = Network::default();
        let state = machine.state(state).expect("a state");
        machine.network(&state, edits, air, &mut network);
        let point = Solver::new().solve(&network).expect("an operating point");
        let rotor = point.state.rotors[0];
        let ratio = machine
            .part("drive")
            .or_else(|_| machine.part("clutch"))
            .and_then(|drive| machine.slot(drive, "ratio"))
            .map(|slot| machine.values()[slot])
            .expect("a ratio");
        let rpm = if rotor.engaged { rotor.speed.0 / ratio * 30.0 / std::f64::consts::PI } else { 0.0 };
        let battery = machine.branch("battery").expect("a battery");
        let (plus, minus) = (machine.branches()[battery].from, machine.branches()[battery].to);
        let volts = point.state.solution.between(plus, minus).map_or(f64::NAN, |volts| volts.0);
        Self { rpm, amps: rotor.current.0, volts, point }
    }

    fn chatters(&self) -> bool {
        matches!(self.point.outcome, Outcome::Chatter { .. })
    }

    fn pulled(&self) -> bool {
        !self.chatters() && self.point.state.relays[0] == Position::Pulled
    }

    fn turns(&self) -> bool {
        self.point.state.rotors.iter().any(|rotor| rotor.turning)
    }

    fn blows(&self) -> bool {
        self.point.state.blown.iter().any(|blown| *blown)
    }
}

fn held(machine: &Machine, edits: &[Edit]) -> Solved {
    Solved::at(machine, "held", edits, None)
}

fn set(machine: &Machine, part: &str, field: &str, to: f64) -> Edit {
    let slot = machine.part(part).and_then(|part| machine.slot(part, field)).expect("a value");
    Edit::Set { slot, to }
}

fn opened(machine: &Machine, branch: &str) -> Edit {
    Edit::Open(machine.branch(branch).expect("a branch"))
}

/// Current that the battery delivers.
fn from_battery(machine: &Machine, solved: &Solved) -> f64 {
    -solved.point.state.solution.current(machine.branch("battery").expect("a battery")).0
}

#[test]
fn law_every_sheet_reads_without_a_finding_and_knows_its_faults() {
    for (name, _) in SHEETS {
        let machine = machine(name);
        let faults = machine.faults();
        println!(
            "{name}: {} faults, {} nodes, {} branches",
            faults.len(),
            machine.node_count(),
            machine.branches().len()
        );
        assert!((60..=200).contains(&faults.len()), "{name} has {} faults", faults.len());
        let mut names: Vec<&str> = faults.iter().map(|fault| fault.name.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), faults.len(), "{name}: a fault's name is given twice");
    }
}

#[test]
fn law_a_healthy_machine_does_what_its_rider_expects() {
    for (name, _) in SHEETS {
        let machine = machine(name);
        for state in machine.state_names() {
            let solved = Solved::at(&machine, &state, &[], None);
            println!(
                "{name} {state}: pulled {} turns {} {:.0} rpm, motor {:.1} A, battery {:.3} A {:.2} V",
                solved.pulled(),
                solved.turns(),
                solved.rpm,
                solved.amps,
                from_battery(&machine, &solved),
                solved.volts
            );
            assert!(!solved.blows() && !solved.chatters(), "{name} {state}");
            let cranks = state.starts_with("held");
            assert_eq!(solved.turns(), cranks, "{name} {state}");
            assert_eq!(solved.pulled(), cranks || state == "pull-in", "{name} {state}");
            if cranks {
                assert!((250.0..500.0).contains(&solved.rpm), "{name} {state}: {} rpm", solved.rpm);
                assert!((45.0..150.0).contains(&solved.amps), "{name} {state}: {} A", solved.amps);
                assert!((10.0..12.5).contains(&solved.volts), "{name} {state}: {} V", solved.volts);
            }
        }
        let rest = from_battery(&machine, &Solved::at(&machine, "rest", &[], None));
        assert!((0.2e-3..3e-3).contains(&rest), "{name} takes {rest} A at rest");
        let charging = -from_battery(&machine, &Solved::at(&machine, "running", &[], None));
        assert!((0.1..8.0).contains(&charging), "{name} charges with {charging} A");
    }
}

#[test]
fn law_every_start_that_must_be_refused_is_refused() {
    for (name, _) in SHEETS {
        let machine = machine(name);
        let refused: Vec<String> = machine
            .state_names()
            .into_iter()
            .filter(|state| machine.state(state).expect("a state").must_refuse)
            .collect();
        assert!(refused.len() >= 2, "{name} has {refused:?}");
        for state in refused {
            let solved = Solved::at(&machine, &state, &[], None);
            assert!(!solved.turns() && !solved.pulled(), "{name} {state}");
        }
    }
}

#[test]
fn law_a_bad_battery_joint_makes_the_relay_chatter() {
    for (name, _) in SHEETS {
        let machine = machine(name);
        let chatters = |ohms: f64| held(&machine, &[set(&machine, "battery-ring", "resistance", ohms)]).chatters();
        let first = (1..400).map(|step| f64::from(step) * 1e-3).find(|ohms| chatters(*ohms));
        println!("{name} chatters from {first:?} ohm");
        assert!(first.is_some_and(|ohms| (0.02..0.3).contains(&ohms)), "{name}: {first:?}");
    }
}

#[test]
fn law_a_corroded_ground_cable_cranks_slowly_and_never_faster() {
    for (name, _) in SHEETS {
        let machine = machine(name);
        let healthy = held(&machine, &[]).rpm;
        // A diesel's starter of twice the current stalls on a third of it.
        let ohms = if name == "fieldfare" { 0.02 } else { 0.04 };
        let corroded = held(&machine, &[set(&machine, "ground-cable", "corrosion", ohms)]);
        println!("{name}: {healthy:.0} rpm, with {ohms} ohm {:.0} rpm", corroded.rpm);
        assert!(
            corroded.turns() && corroded.rpm > 0.0 && corroded.rpm < 0.85 * healthy,
            "{name}: {} rpm",
            corroded.rpm
        );
        let mut before = f64::INFINITY;
        for step in 0..60 {
            let rpm = held(&machine, &[set(&machine, "ground-cable", "corrosion", 5e-3 * f64::from(step))]).rpm;
            assert!(rpm <= before, "{name}: {rpm} rpm after {before}");
            before = rpm;
        }
    }
}

#[test]
fn law_without_its_motor_cable_the_relay_clicks_and_nothing_else() {
    for (name, _) in SHEETS {
        let machine = machine(name);
        let solved = held(&machine, &[opened(&machine, "motor-cable")]);
        // A pull-in winding finds its ground through the motor: without it the solenoid stays, its relay clicks.
        let clicks = if name == "fieldfare" { 1 } else { 0 };
        assert_eq!(solved.point.state.relays[clicks], Position::Pulled, "{name}");
        assert_eq!(solved.pulled(), name != "fieldfare", "{name}");
        assert!(!solved.turns() && !solved.blows(), "{name}");
    }
}

#[test]
fn law_cold_never_helps() {
    for (name, _) in SHEETS {
        let machine = machine(name);
        let rpm = |celsius: f64| Solved::at(&machine, "held", &[], Some(Celsius(celsius))).rpm;
        let speeds: Vec<f64> = [35.0, 20.0, 10.0, 0.0, -10.0, -20.0].into_iter().map(rpm).collect();
        println!("{name} at 35, 20, 10, 0, -10, -20 °C: {speeds:.0?} rpm");
        assert!(speeds[1..].windows(2).all(|pair| pair[1] <= pair[0]), "{name}: {speeds:?}");
        let written = held(&machine, &[]).rpm;
        assert!((written - speeds[1]).abs() < 1e-6 * written, "{name} at 20 °C is as written");
    }
}

#[test]
fn law_a_worn_bushing_lets_the_inertia_drive_spin_alone() {
    let machine = machine("curlew");
    let worn = held(&machine, &[set(&machine, "bushing", "clearance", 0.5e-3)]);
    assert!(worn.turns() && !worn.point.state.rotors[0].engaged);
    let used = held(&machine, &[set(&machine, "bushing", "clearance", 0.15e-3)]);
    assert!(used.point.state.rotors[0].engaged && used.rpm < held(&machine, &[]).rpm);
}

#[test]
fn law_a_reversed_coil_diode_blows_the_main_fuse() {
    let machine = machine("curlew");
    let reversed = held(&machine, &[set(&machine, "coil-diode", "reversed", 1.0)]);
    assert!(reversed.blows() && !reversed.turns());
}

#[test]
fn law_a_reversed_neutral_diode_refuses_in_neutral_but_not_with_the_clutch() {
    let machine = machine("moorhen");
    let reversed = [set(&machine, "interlock-diode", "reversed", 1.0)];
    assert!(!held(&machine, &reversed).turns());
    assert!(Solved::at(&machine, "held-clutch", &reversed, None).turns());
}

#[test]
fn law_the_neutral_lamp_tells_of_neutral_and_not_of_the_clutch() {
    let machine = machine("moorhen");
    let lamp = machine.branch("neutral-lamp").expect("a lamp");
    let current = |state: &str| Solved::at(&machine, state, &[], None).point.state.solution.current(lamp).0;
    assert!(current("on") > 0.1);
    assert!(current("held-clutch").abs() < 1e-3);
}

#[test]
fn law_more_corrosion_never_cranks_faster() {
    for (name, _) in SHEETS {
        let machine = machine(name);
        // Not wires, plugs, the strap and the foot that feed lamps or a coil: what they take less the starter has more.
        let carries = |fault: &machine::Fault| {
            let kind = fault.part.map_or("", |part| machine.sheet.parts[part].kind.name);
            let mode = fault.name.split(':').nth(1).unwrap_or_default();
            let gets_worse = ["corroded", "loose", "worn", "aged", "drags", "tight"];
            ["cable", "joint", "battery", "starter", "bushing", "engine"].contains(&kind)
                && gets_worse.iter().any(|word| mode.ends_with(word))
                && !["starter:magnet-loose", "frame-strap:corroded"].contains(&fault.name.as_str())
                && !["solenoid-foot:", "coil-ground-bolt:"].iter().any(|foot| fault.name.starts_with(foot))
        };
        for fault in machine.faults().into_iter().filter(carries) {
            let mut before = f64::INFINITY;
            for step in 0..=20 {
                let rpm = held(&machine, &fault.edits(fault.severity_at(f64::from(step) / 20.0))).rpm;
                assert!(rpm <= before + 1e-9, "{name} {}: {rpm} rpm after {before}", fault.name);
                before = rpm;
            }
        }
    }
}

#[test]
fn law_every_fault_solves_in_every_state_from_mildest_to_worst() {
    for (name, _) in SHEETS {
        let machine = machine(name);
        let mut solver = Solver::new();
        let mut network = Network::default();
        for state in machine.state_names() {
            let state = machine.state(&state).expect("a state");
            for fault in machine.faults() {
                for quantile in [0.0, 0.5, 1.0] {
                    let edits = fault.edits(fault.severity_at(quantile));
                    machine.network(&state, &edits, Some(Celsius(-10.0)), &mut network);
                    let point = solver.solve(&network);
                    assert!(point.is_ok(), "{name} {} {} at {quantile}: {point:?}", state.name, fault.name);
                }
            }
        }
    }
}
