//! Ways to fail, planted on the school's machines: each does to owner, eye, hand and meter what the trade says it does.
//! Laws are physics and bookkeeping (what opens carries nothing, what leaks drains); figures follow from Ohm's law.

#![expect(clippy::panic, reason = "a helper of a test says what it found")]

use machine::probe::{Observer, Program, Seen, Signs};
use machine::{Edit, Machine, sheet};
use quantity::Celsius;

const CURLEW: &str = include_str!("../../../machines/curlew.toml");
const MOORHEN: &str = include_str!("../../../machines/moorhen.toml");
const DUNLIN: &str = include_str!("../../../machines/dunlin.toml");
const DABCHICK: &str = include_str!("../../../machines/dabchick.toml");
const PLOVER: &str = include_str!("../../../machines/plover.toml");
const SANDPIPER: &str = include_str!("../../../machines/sandpiper.toml");

/// A machine with faults, at an air temperature.
struct Bench {
    machine: Machine,
    edits: Vec<Edit>,
    air: Option<Celsius>,
}

impl Bench {
    /// Faults as `part:mode` or `part:mode=severity`; without a severity the middle of its spread.
    fn with(text: &str, faults: &[&str]) -> Self {
        let machine = Machine::new(sheet::read(text).sheet.expect("a sheet without problems"));
        let mut edits = Vec::new();
        for planted in faults {
            let (name, severity) = planted.split_once('=').map_or((*planted, None), |(name, at)| (name, Some(at)));
            let fault = machine.fault(name).unwrap_or_else(|error| panic!("{error}: {:?}", error.near));
            let at = severity.map_or_else(|| fault.severity_at(0.5), |at| at.parse().expect("a number"));
            edits.extend(fault.edits(at));
        }
        Self { machine, edits, air: None }
    }

    fn at(self, celsius: f64) -> Self {
        Self { air: Some(Celsius(celsius)), ..self }
    }

    fn look(&self, name: &str) -> (Seen, Signs, Option<&'static str>) {
        let probe = self.machine.probe(name).unwrap_or_else(|error| panic!("{name}: {error}"));
        let probes = [probe];
        let program = Program::new(&self.machine, &probes);
        let mut seen = [Seen::Nothing];
        let mut observer = Observer::new();
        observer.observe(&self.machine, &program, &probes, &self.edits, self.air, &mut seen).expect("a solution");
        let word =
            if let Seen::Word(index) = seen[0] { probes[0].words().get(usize::from(index)).copied() } else { None };
        (seen[0], observer.signs(), word)
    }

    fn number(&self, name: &str) -> f64 {
        match self.look(name).0 {
            Seen::Number(value) => value,
            other => panic!("{name}: {other:?}"),
        }
    }

    fn word(&self, name: &str) -> &'static str {
        self.look(name).2.unwrap_or_else(|| panic!("{name} is no word"))
    }

    fn signs(&self) -> Signs {
        self.look("ask:since").1
    }
}

/// Share of jobs that a machine's faults of one part have together.
fn share(text: &str, part: &str) -> f64 {
    let faults = Bench::with(text, &[]).machine.faults();
    faults.iter().filter(|fault| fault.name.starts_with(&format!("{part}:"))).map(|fault| fault.odds).sum()
}

fn knows(text: &str, fault: &str) -> bool {
    Bench::with(text, &[]).machine.fault(fault).is_ok()
}

// ---- odds

#[test]
fn law_what_cannot_happen_to_a_part_leaves_its_odds_to_what_can() {
    // A battery is a third of all jobs, lithium or lead (shares of kinds: common practice, no source).
    for text in [CURLEW, MOORHEN, DUNLIN, DABCHICK] {
        assert!((share(text, "battery") - 33.0).abs() < 1e-9);
        assert!((share(text, "starter") - 7.0).abs() < 1e-9);
    }
    for (text, drive) in [(CURLEW, "drive"), (MOORHEN, "clutch"), (DUNLIN, "clutch")] {
        assert!((share(text, drive) - 5.0).abs() < 1e-9, "{}", share(text, drive));
    }
}

// ---- fuses and breakers

#[test]
fn law_a_cracked_fuse_looks_whole_and_carries_nothing() {
    let healthy = Bench::with(CURLEW, &[]);
    let cracked = Bench::with(CURLEW, &["main-fuse:cracked"]);
    let blown = Bench::with(CURLEW, &["main-fuse:blown"]);
    assert!(healthy.number("clamp@on:main-fuse") > 3.0);
    for (open, looks) in [(&cracked, "whole"), (&blown, "blown")] {
        assert_eq!(open.number("clamp@on:main-fuse"), 0.0);
        assert_eq!(open.word("look@rest:main-fuse"), looks);
    }
}

#[test]
fn law_a_fuse_of_another_rating_shows_it_until_it_blows() {
    let large = Bench::with(CURLEW, &["main-fuse:too-large=4"]);
    assert_eq!(large.word("look@rest:main-fuse"), "wrong");
    assert!(!large.signs().blows);
    // 15 A × 0.1 opens above 2.25 A; the lamp alone takes 3.
    let small = Bench::with(CURLEW, &["main-fuse:too-small=0.1"]);
    assert_eq!(small.word("look@rest:main-fuse"), "blown");
    assert!(small.signs().blows);
    // A short that a right fuse clears heats the wire behind a large one.
    let shorted = |fuse: &[&str]| Bench::with(CURLEW, &[&["start-wire:chafed-to-ground=0.3"], fuse].concat());
    assert!(shorted(&[]).signs().blows && !shorted(&["main-fuse:too-large=4"]).signs().blows);
    assert!(shorted(&["main-fuse:too-large=4"]).number("clamp@held:button-contact") > 15.0);
}

#[test]
fn law_a_weak_breaker_lets_go_and_is_whole_again() {
    // 20 A × 0.1 opens above 3 A: the lamps take that, the hour meter does not.
    let weak = Bench::with(DABCHICK, &["main-breaker:trips-early=0.1"]);
    let signs = weak.signs();
    assert!(!signs.click && !signs.spins && !signs.blows, "{signs:?}");
    assert!(weak.number("volts@rest:key-in,battery.minus") > 12.0);
    assert!(weak.number("volts@on:key-in,battery.minus").abs() < 0.1);
    let open = Bench::with(DABCHICK, &["main-breaker:does-not-reset"]);
    assert!(open.number("volts@rest:key-in,battery.minus").abs() < 0.1);
}

// ---- switches, plugs, wires

#[test]
fn law_water_in_a_key_switch_drains_the_battery_at_rest() {
    let draw = |faults: &[&str]| Bench::with(DUNLIN, faults).signs().rest_draw;
    let (dry, wet, soaked) = (draw(&[]), draw(&["key-switch:wet=5000"]), draw(&["key-switch:wet=100"]));
    assert!(dry < 2e-3 && wet > dry + 1e-3 && soaked > 0.05, "{dry} {wet} {soaked} A");
    let plug = Bench::with(DUNLIN, &["bar-plug:wet-1-2=300"]).signs().rest_draw;
    assert!(plug > dry + 20e-3, "feed to start signal and through the coil: {plug} A");
}

#[test]
fn law_a_bridged_interlock_lets_a_forbidden_start_happen_and_can_be_seen() {
    for (fault, state, part) in [
        ("seat-contact:bridged", "empty-seat-start", "seat-contact"),
        ("brake-contact:bridged", "no-brake-start", "brake-contact"),
        ("blade-contact:bridged", "blade-start", "blade-contact"),
    ] {
        let (healthy, bridged) = (Bench::with(DABCHICK, &[]), Bench::with(DABCHICK, &[fault]));
        let feel = format!("feel@{state}:starter");
        assert_eq!((healthy.word(&feel), bridged.word(&feel)), ("still", "turns"), "{fault}");
        let look = format!("look@rest:{part}");
        assert_eq!((healthy.word(&look), bridged.word(&look)), ("right", "bridged"));
        let signs = bridged.signs();
        assert!(signs.engaged && !signs.runs_on, "its driver has nothing to complain of");
    }
    assert!(knows(DABCHICK, "seat-contact:bridged") && !knows(DABCHICK, "light-contact:bridged"));
}

#[test]
fn law_the_reverse_interlock_refuses_in_reverse_unless_it_sticks() {
    let turns = |faults: &[&str], state: &str| Bench::with(DUNLIN, faults).word(&format!("feel@{state}:starter"));
    assert_eq!(turns(&[], "held-brake"), "turns");
    assert_eq!(turns(&[], "reverse-start"), "still");
    assert_eq!(turns(&["reverse-interlock:stuck-closed"], "reverse-start"), "turns");
    assert_eq!(turns(&["reverse-interlock:open"], "held-brake"), "still");
    assert_eq!(turns(&["reverse-interlock:open"], "held"), "turns");
}

#[test]
fn law_a_misplaced_control_is_seen_at_once() {
    let left = Bench::with(CURLEW, &["kill-switch-left-off"]);
    assert_eq!(left.word("look@rest:kill-contact"), "misplaced");
    assert!(!left.signs().click);
    assert!(left.machine.proposed_probes().iter().any(|probe| probe.name == "look@rest:kill-contact"));
}

#[test]
fn law_two_wires_that_touch_are_one_fault() {
    let machine = Bench::with(CURLEW, &[]).machine;
    let names: Vec<String> = machine.faults().into_iter().map(|fault| fault.name).collect();
    assert!(names.contains(&"main-feed:chafed-to-start-wire".to_owned()));
    assert!(!names.contains(&"start-wire:chafed-to-main-feed".to_owned()));
}

#[test]
fn law_what_is_loose_moves_and_what_is_corroded_does_not() {
    let wiggle = |fault: &str, part: &str| Bench::with(CURLEW, &[fault]).word(&format!("wiggle@held:{part}"));
    assert_eq!(wiggle("battery-ring:loose", "battery-ring"), "changes");
    assert_eq!(wiggle("battery-ring:corroded", "battery-ring"), "same");
    assert_eq!(wiggle("motor-cable:from-ring-loose", "motor-cable"), "changes");
    assert_eq!(wiggle("bar-plug:unplugged", "bar-plug"), "changes");
}

// ---- relay, control unit, loads

#[test]
fn law_a_shorted_diode_in_a_relay_blows_the_fuse_when_start_is_pressed() {
    let shorted = Bench::with(DUNLIN, &["starter-relay:diode-shorted=0.05"]).signs();
    assert!(shorted.blows && !shorted.spins, "{shorted:?}");
    assert!(!knows(CURLEW, "starter-relay:diode-shorted"), "curlew's is a part of its own");
}

#[test]
fn law_a_control_unit_that_resets_drops_its_pump_while_the_starter_turns() {
    let bench = |fault: &[&str]| Bench::with(MOORHEN, fault);
    let (healthy, resets) = (bench(&[]), bench(&["control-unit:resets=11.8"]));
    for state in ["on", "held"] {
        assert!(healthy.number(&format!("clamp@{state}:fuel-pump")) > 1.5);
    }
    assert!(resets.number("clamp@on:fuel-pump") > 1.5);
    assert_eq!(resets.number("clamp@held:fuel-pump"), 0.0);
    // Its driver is no relay that anybody hears: with the starter relay dead nothing clicks.
    let silent = bench(&["control-unit:resets=9", "starter-relay:coil-open"]).signs();
    assert!(!silent.click && !silent.chatter, "{silent:?}");
    // Where its own pump pulls the supply below its limit it resets for ever, unheard.
    let unsteady = (0..400).map(|step| 12.4 + 2e-3 * f64::from(step)).find_map(|volts| {
        let bench = bench(&[&format!("control-unit:resets={volts}"), "starter-relay:coil-open"]);
        let (seen, signs, _) = bench.look("clamp@held:fuel-pump");
        matches!(seen, Seen::Range(..)).then_some(signs)
    });
    assert!(unsteady.is_some_and(|signs| !signs.chatter && !signs.click), "{unsteady:?}");
}

#[test]
fn law_a_shorted_load_blows_the_fuse_before_it() {
    let shorted = Bench::with(CURLEW, &["dashboard:shorted=0.1"]);
    assert!(shorted.signs().blows);
    assert_eq!(shorted.word("look@rest:main-fuse"), "blown");
}

// ---- battery, clutch, limiter

#[test]
fn law_lead_acid_has_ways_to_fail_that_lithium_has_not() {
    for fault in ["battery:sulfated", "battery:low-acid"] {
        assert!(knows(DABCHICK, fault) && !knows(CURLEW, fault), "{fault}");
        let (healthy, sick) = (Bench::with(DABCHICK, &[]), Bench::with(DABCHICK, &[fault]));
        assert!(sick.signs().speed < 0.95 * healthy.signs().speed, "{fault}: {:?}", sick.signs());
    }
    assert!(knows(DUNLIN, "battery:sulfated") && !knows(DUNLIN, "battery:low-acid"), "a sealed one shows no acid");
    assert!(knows(CURLEW, "battery:cut-off") && !knows(DUNLIN, "battery:cut-off"));
    assert_eq!(Bench::with(DABCHICK, &["battery:low-acid"]).word("look@rest:battery"), "low-acid");
}

#[test]
fn law_a_blocked_engine_behind_a_limiter_spins_the_starter_alone() {
    let signs = Bench::with(DUNLIN, &["engine:blocked"]).signs();
    assert!(signs.spins && !signs.engaged, "{signs:?}");
    assert!(!Bench::with(MOORHEN, &["engine:blocked"]).signs().spins, "without a limiter it stalls");
    let worn = Bench::with(DUNLIN, &["clutch:limiter-slips=0.2"]).signs();
    assert!(worn.spins && !worn.engaged && worn.speed > Bench::with(DUNLIN, &[]).signs().speed, "{worn:?}");
    assert!(!knows(MOORHEN, "clutch:limiter-slips"));
}

#[test]
fn law_a_clutch_that_slips_in_the_cold_cranks_in_the_warm() {
    let cold = |celsius: f64| Bench::with(DUNLIN, &["clutch:slips-cold=8"]).at(celsius).signs();
    assert!(cold(12.0).engaged && cold(2.0).spins && !cold(2.0).engaged);
}

#[test]
fn law_a_clutch_that_does_not_let_go_lets_the_engine_drive_the_starter() {
    let seized = Bench::with(DUNLIN, &["clutch:does-not-let-go"]);
    assert_eq!(seized.word("feel@running:starter"), "turns");
    assert_eq!(Bench::with(DUNLIN, &[]).word("feel@running:starter"), "still");
    assert!(seized.signs().engaged, "it cranks as ever");
}

// ---- drop per ampere

#[test]
fn law_a_drop_per_ampere_is_the_resistance_whatever_the_battery_gives() {
    let probe = "mohm@held:negative-lead,ground-eyelet/battery-cable";
    let read = |faults: &[&str]| Bench::with(CURLEW, faults).number(probe);
    let healthy = read(&[]);
    assert!((0.3e-3..1.5e-3).contains(&healthy), "{healthy} ohm");
    for other in [&[][..], &["battery:flat=0.1"], &["battery:aged=1.5"], &["motor-cable:corroded=0.01"]] {
        let corroded = read(&[&["ground-cable:corroded=0.02"], other].concat());
        assert!((corroded - healthy - 0.02).abs() < 0.02e-3, "{other:?}: {corroded} ohm");
    }
    let lifted =
        Bench::with(CURLEW, &["motor-cable:open"]).look("mohm@held:starter-relay.load,starter.plus/motor-cable");
    assert_eq!(lifted.0, Seen::Over, "no current, no quotient");
    let proposed = |text: &str| -> Vec<String> {
        let probes = Bench::with(text, &[]).machine.proposed_probes();
        probes.into_iter().map(|probe| probe.name).filter(|name| name.starts_with("mohm@")).collect()
    };
    assert!(proposed(CURLEW).contains(&probe.to_owned()), "along the path of the motor's current");
    let moorhen = proposed(MOORHEN);
    assert_eq!(moorhen.len(), 7, "{moorhen:?}");
    assert!(moorhen.iter().all(|name| !name.contains(":frame,")), "and not along the frame's strap: {moorhen:?}");
}

// ---- engine and its decompressor

#[test]
fn law_only_an_engine_with_a_decompressor_can_lose_it() {
    for mode in ["decompressor-dead", "decompressor-open"] {
        assert!(knows(PLOVER, &format!("engine:{mode}")));
        for text in [CURLEW, MOORHEN, DUNLIN, DABCHICK, SANDPIPER] {
            assert!(!knows(text, &format!("engine:{mode}")));
        }
        assert!(!knows(&PLOVER.replace("decompressor = true", "decompressor = false"), &format!("engine:{mode}")));
    }
}

#[test]
fn law_a_dead_decompressor_makes_work_for_hand_and_starter_and_an_open_one_takes_it_away() {
    let speed = |faults: &[&str]| Bench::with(PLOVER, faults).signs().speed;
    let (healthy, dead, open) =
        (speed(&[]), speed(&["engine:decompressor-dead"]), speed(&["engine:decompressor-open"]));
    assert!(dead < 0.85 * healthy && open > 1.05 * healthy, "{dead} {healthy} {open}");
    assert_eq!(Bench::with(PLOVER, &["engine:decompressor-dead=2.4"]).word("turn@rest:engine"), "tight");
    assert_eq!(Bench::with(PLOVER, &[]).word("turn@rest:engine"), "free");
}

#[test]
fn law_what_a_sheet_says_of_cylinder_and_oil_changes_no_reading() {
    let lines = |line: &&str| {
        let described = ["strokes", "bore", "stroke", "compression", "closes", "flywheel", "oil"];
        !described.iter().any(|field| line.starts_with(&format!("{field} =")))
    };
    let bare: String = PLOVER.lines().filter(lines).map(|line| format!("{line}\n")).collect();
    assert!(bare.len() < PLOVER.len() - 100);
    for probe in ["volts@held:battery.plus,battery.minus", "clamp@held:motor-cable"] {
        assert_eq!(Bench::with(&bare, &[]).number(probe), Bench::with(PLOVER, &[]).number(probe));
    }
}

// ---- charging

#[test]
fn law_a_single_winding_is_itself_and_has_no_third_lead() {
    // 0.7 Ω and the meter's leads of 0.14 Ω.
    let healthy = Bench::with(PLOVER, &[]).number("ohms@dead:regulator.a,regulator.b");
    assert!((healthy - 0.84).abs() < 1e-6, "{healthy}");
    assert_eq!(Bench::with(PLOVER, &["stator:open-phase"]).look("ohms@dead:regulator.a,regulator.b").0, Seen::Over);
    let leak = Bench::with(PLOVER, &["stator:ground-leak=5"]).number("ohms@dead:regulator.a,frame");
    // From the other end: the whole winding, the leak, the leads.
    assert!((leak - (0.7 + 5.0 + 0.14)).abs() < 1e-3, "{leak}");
    let probes = Bench::with(PLOVER, &[]).machine.proposed_probes();
    assert!(probes.iter().all(|probe| !probe.name.contains("regulator.c") && !probe.name.contains("stator.c")));
}

#[test]
fn law_the_plug_of_a_generator_shows_at_the_regulators_end_alone() {
    // A star of 0.35 Ω a winding: two in series between any two leads, the plug's two pins and the meter's leads.
    let at = |faults: &[&str], ends: &str| Bench::with(SANDPIPER, faults).look(&format!("ohms@dead:{ends}")).0;
    let Seen::Number(healthy) = at(&[], "regulator.a,regulator.b") else { panic!("a number") };
    assert!((healthy - (0.7 + 0.006 + 0.14)).abs() < 1e-6, "{healthy}");
    let fault = ["stator-plug:pin-pushed-back-2"];
    assert_eq!(at(&fault, "regulator.a,regulator.b"), Seen::Over);
    assert!(matches!(at(&fault, "stator-plug.1-in,stator-plug.2-in"), Seen::Number(_)));
    let proposed = Bench::with(SANDPIPER, &[]).machine.proposed_probes();
    assert!(proposed.iter().any(|probe| probe.name == "ohms@dead:regulator.a,regulator.b"));
}

#[test]
fn law_a_rectifier_shorted_hard_blows_the_main_fuse() {
    assert!(Bench::with(PLOVER, &["regulator:shorted=0.1"]).signs().blows);
    assert!(!Bench::with(PLOVER, &["regulator:shorted=2"]).signs().blows);
    // A sheet that does not tell of the rectifier's phases knows nothing of its shorts.
    assert!(!knows(DUNLIN, "regulator:shorted"));
}
