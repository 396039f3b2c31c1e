//! The solenoid of a pre-engaged starter: what its two windings do to contact, plunger and ear. Figures follow from Ohm's
//! and Kirchhoff's laws; what the trade says of an open winding is common practice, no source.

use circuit::{Network, OperatingPoint, Outcome, Position, Solver};
use machine::probe::{Observer, Program, Seen};
use machine::{Edit, Machine, sheet};
use quantity::Celsius;

const FIELDFARE: &str = include_str!("../../../machines/fieldfare.toml");

/// A solenoid of 0.45 Ω and 1.2 Ω that pulls at 7 V and falls at 2.5 V, fed at its start terminal from one source; the
/// motor is a plain resistance of 20 mΩ, its line another source of 12 V.
fn bench(start_volts: f64, more: &str) -> Machine {
    let text = format!(
        "sheet = 1\n[machine]\nid = \"bench\"\nreference = \"minus\"\n\
         [part.start]\nkind = \"source\"\nplus = \"fed\"\nminus = \"minus\"\nvoltage = \"{start_volts} V\"\n\
         [part.supply]\nkind = \"source\"\nplus = \"line\"\nminus = \"minus\"\nvoltage = \"12 V\"\n\
         [part.solenoid]\nkind = \"solenoid\"\nstart = \"fed\"\nline = \"line\"\nload = \"load\"\ncase = \"minus\"\n{more}\n\
         [part.motor]\nkind = \"resistance\"\nfrom = \"load\"\nto = \"minus\"\nresistance = \"20 mohm\"\n"
    );
    Machine::new(sheet::read(&text).sheet.expect("a sheet without problems"))
}

fn solve(machine: &Machine, state: &str, edits: &[Edit], air: Option<f64>) -> OperatingPoint {
    let mut network = Network::default();
    machine.network(&machine.state(state).expect("a state"), edits, air.map(Celsius), &mut network);
    Solver::new().solve(&network).expect("an operating point")
}

fn amps(machine: &Machine, point: &OperatingPoint, branch: &str) -> f64 {
    point.state.solution.current(machine.branch(branch).expect("a branch")).0
}

fn pulls_at(volts: f64, air: Option<f64>) -> bool {
    solve(&bench(volts, ""), "rest", &[], air).state.relays[0] == Position::Pulled
}

/// Fieldfare cranked with one fault: how it ends, and what is heard of the solenoid.
fn cranked(fault: &str) -> (OperatingPoint, &'static str) {
    let machine = Machine::new(sheet::read(FIELDFARE).sheet.expect("a sheet without problems"));
    let edits = if fault.is_empty() {
        Vec::new()
    } else {
        let fault = machine.fault(fault).expect("a fault of that name");
        fault.edits(fault.severity_at(0.5))
    };
    let probes = [machine.probe("listen@held:solenoid").expect("a probe")];
    let mut seen = [Seen::Nothing];
    let program = Program::new(&machine, &probes);
    Observer::new().observe(&machine, &program, &probes, &edits, None, &mut seen).expect("a solution");
    let Seen::Word(word) = seen[0] else { unreachable!("ears hear words") };
    (solve(&machine, "held", &edits, None), probes[0].words()[usize::from(word)])
}

#[test]
fn law_it_pulls_in_at_the_ampere_turns_of_its_written_voltage() {
    // 7 V over both windings are 7/0.45 + 7/1.2 = 21.39 A in their common lead of 5 mΩ; the pull-in winding has the
    // motor's 20 mΩ behind it. Volts that give this current: I·(5 mΩ + 0.47 Ω ∥ 1.2 Ω) = 7.33 V.
    let edge = 21.389 * (0.005 + 0.47 * 1.2 / 1.67);
    assert!(!pulls_at(edge - 0.01, None) && pulls_at(edge + 0.01, None), "{edge}");
}

#[test]
fn law_cold_copper_pulls_in_sooner_and_hot_copper_later() {
    let edge = |air: f64| (50..120).map(|step| f64::from(step) * 0.1).find(|volts| pulls_at(*volts, Some(air)));
    let (cold, mild, hot) = (edge(-20.0), edge(20.0), edge(80.0));
    assert!(cold < mild && mild < hot, "{cold:?} {mild:?} {hot:?}");
}

#[test]
fn law_the_closed_contact_takes_the_pull_in_winding_out() {
    let machine = bench(12.0, "");
    let point = solve(&machine, "rest", &[], None);
    assert_eq!((point.state.relays[0], &point.outcome), (Position::Pulled, &Outcome::Steady));
    // What is left of it is the contact's drop, the wrong way round: 12 V·0.5/20.5 = 0.29 V.
    assert!(amps(&machine, &point, "solenoid.pull").abs() < 1.0);
    assert!((amps(&machine, &point, "solenoid.hold") - 10.0).abs() < 0.1);
}

#[test]
fn law_current_fed_back_through_both_windings_holds_nothing() {
    // Contacts welded, start terminal open: the windings lie in series and carry the same current against each other.
    let machine = bench(12.0, "stuck = \"closed\"");
    let open = [Edit::Open(machine.branch("start").expect("a source"))];
    let point = solve(&machine, "rest", &open, None);
    assert_eq!((point.state.relays[0], &point.outcome), (Position::Released, &Outcome::Steady));
    let (pull, hold) = (amps(&machine, &point, "solenoid.pull"), amps(&machine, &point, "solenoid.hold"));
    assert!(hold > 5.0 && (pull + hold).abs() < 1e-9, "{pull} {hold}");
}

#[test]
fn law_an_open_hold_in_winding_chatters_on_a_good_battery() {
    let (healthy, heard) = cranked("");
    assert!(healthy.state.rotors[0].engaged && heard == "click");
    let (point, heard) = cranked("solenoid:hold-open");
    assert!(matches!(point.outcome, Outcome::Chatter { .. }) && heard == "chatter");
}

#[test]
fn law_an_open_pull_in_winding_leaves_the_plunger_where_it_is() {
    for fault in ["solenoid:pull-open", "solenoid:start-terminal-open"] {
        let (point, heard) = cranked(fault);
        assert_eq!(point.outcome, Outcome::Steady, "{fault}");
        // The relay in the panel clicks, the second of the two.
        assert_eq!(point.state.relays, [Position::Released, Position::Pulled], "{fault}");
        assert!(!point.state.rotors[0].turning && heard == "silent", "{fault}");
    }
}

#[test]
fn law_without_the_motor_behind_it_the_pull_in_winding_pulls_nothing() {
    let machine = Machine::new(sheet::read(FIELDFARE).sheet.expect("a sheet without problems"));
    for branch in ["starter", "motor-cable"] {
        let point = solve(&machine, "held", &[Edit::Open(machine.branch(branch).expect("a branch"))], None);
        assert_eq!(point.state.relays[0], Position::Released, "{branch}");
    }
}
