//! What a sheet without problems reads as, and that no text at all makes the reader panic.

use machine::problem::{Problem, locate};
use machine::sheet::{Sheet, read};
use machine::{Instrument, Machine, Observer, Program, Seen, schema::schema};
use proptest::prelude::*;
use quantity::Dimension;

/// A sheet that uses every section and every way of writing an entry.
const RICH: &str = r#"
sheet = 1
[machine]
id = "bench"
title = "Bench: one of everything"
reference = "battery.minus"
ground = "frame"

[place.under-seat]
title = "under the seat"
access = "2 min"
caution = "mind the catch"

[control.key]
positions = ["off", "on", "start"]
[control.stand]
title = "side stand"
positions = ["up", "down"]

[part.battery]
kind = "source"
voltage = "12,6 V"
resistance = "35 mohm"
at = "under-seat"
plus = "battery-plus"
[part.main-fuse]
kind = "fuse"
from = "battery-plus"
to = "feed"
rating = "20 A"
[part.key-switch]
kind = "switch"
from = "feed"
to = "key-out"
closed-when = { key = ["on", "start"], stand = "up" }
color = "RD/BK"
cavity = "15"
[part.plug]
kind = "connector"
ways = ["1", "2"]
1-in = "key-out"
1-out = "relay.coil-a"
2-in = "feed"
2-out = "relay.line"
[part.relay]
kind = "relay"
coil-b = "frame"
coil = "4.1 ohm"
pull-in = "7 V"
stuck = "open"
[part.motor-cable]
kind = "cable"
from = "relay.load"
to = "motor.plus"
length = "0.45 m"
area = "6 AWG"
loom = "left"
[part.motor]
kind = "motor"
minus = "frame"
resistance = "35 mohm"
constant = "0.011 N m/A"
seized = false
[part.ground-cable]
kind = "cable"
from = "battery.minus"
to = "frame"
resistance = "2 mohm"

[state.rest]
[state.held]
title = "button held"
controls = { key = "start" }
rotor = "blocked"
must = "refuse"
open = ["motor-cable.from-ring", "plug.1", "relay.coil", "ground-cable"]
caution = "it may turn"
[state.running]
open = "plug"

[fault.wet-plug]
title = "water bridges the plug"
odds = 2
bridge = [["plug.1-in", "plug.2-in", "2 kohm"], { from = "feed", to = "frame", resistance = "10 kohm" }]
remedy = "dry the plug"
minutes = "10 min"
[fault.tired]
set = { "battery.voltage" = "11 V", "relay.stuck" = "closed", motor.seized = true }
open = ["main-fuse"]
minutes = 3

[odds]
"battery:low" = 2.5
"plug:pin-pushed-back-1" = 0.5

[meter.pocket]
sort = "meter"
counts = 6000
accuracy = "±(0.5 % + 2 counts)"
leads = "0.14 ohm"
"#;

fn check(text: &str) -> Sheet {
    let reading = read(text);
    assert_eq!(reading.findings, Vec::<Problem>::new());
    reading.sheet.expect("a sheet without problems")
}

fn close(found: f64, expected: f64) {
    assert!((found - expected).abs() <= 1e-9 * expected.abs().max(1e-9), "{found} is not {expected}");
}

#[test]
fn every_section_reads_as_written() {
    let sheet = check(RICH);
    close(sheet.places[0].access_minutes, 2.0);
    let part = |name: &str| {
        let found = sheet.parts.iter().find(|part| part.name.name == name);
        found.expect("a part of that name")
    };
    let value = |name: &str, field: &str| {
        let part = part(name);
        let index = part.kind.fields.iter().position(|known| known.name == field);
        part.values[index.expect("a field of that name")]
    };
    close(value("battery", "voltage"), 12.6);
    close(value("relay", "stuck"), 0.0);
    close(value("relay", "drop-out"), 3.0);
    close(value("motor", "constant"), 0.011);
    close(value("motor", "seized"), 0.0);
    assert!((value("motor-cable", "area") - 13.3e-6).abs() < 0.01e-6);
    assert!(value("ground-cable", "length").is_nan());
    assert_eq!(part("motor-cable").title, "motor cable");
    assert_eq!(part("battery").place, Some(0));
    assert_eq!(part("plug").terminals[3].0, "2-out");
    assert_eq!(part("key-switch").conditions[0].1, vec![(0, vec![1, 2]), (1, vec![0])]);

    let held = &sheet.states[1];
    assert_eq!(held.positions, vec![2, 0]);
    assert!(held.blocked && held.must_refuse && !held.running);
    assert!(sheet.states[2].running);

    assert_eq!(sheet.faults[0].bridge.len(), 2);
    close(sheet.faults[0].bridge[0].2, 2000.0);
    close(sheet.faults[0].minutes, 10.0);
    let set: Vec<f64> = sheet.faults[1].set.iter().map(|(_, _, value)| *value).collect();
    assert_eq!(set, vec![11.0, 1.0, 1.0]);
    close(sheet.odds[0].1, 2.5);
    close(sheet.meters[0].accuracy_ratio, 0.005);
    close(sheet.meters[0].accuracy_counts, 2.0);
}

#[test]
fn what_a_state_or_a_fault_opens_exists_on_the_machine() {
    let machine = Machine::new(check(RICH));
    for state in &machine.sheet.states {
        assert!(machine.state(&state.name.name).is_ok(), "{}", state.name.name);
    }
    for fault in &machine.sheet.faults {
        assert!(fault.open.iter().all(|named| machine.branches_of(&named.name).is_ok()));
        let ends = fault.bridge.iter().flat_map(|(from, to, _)| [from, to]);
        assert!(ends.into_iter().all(|named| machine.node(&named.name).is_ok()));
    }
}

#[test]
fn a_sheet_without_states_rests_with_every_control_at_its_first_position() {
    let text = "sheet = 1\n[machine]\nid = \"two\"\n[part.a]\nkind = \"source\"\nvoltage = \"12 V\"\nplus = \"p\"\n\
                [part.b]\nkind = \"switch\"\nfrom = \"p\"\nto = \"a.minus\"\nclosed-when = { key = \"on\" }\n\
                [control.key]\npositions = [\"off\", \"on\"]\n";
    let sheet = check(text);
    assert_eq!(sheet.states.len(), 1);
    assert_eq!((sheet.states[0].name.name.as_str(), &sheet.states[0].positions), ("rest", &vec![0]));
}

#[test]
fn line_ends_and_a_byte_order_mark_of_another_system_do_not_matter() {
    check(&RICH.replace('\n', "\r\n"));
    check(&format!("\u{feff}{RICH}"));
}

#[test]
fn the_schema_knows_every_key_that_the_reader_accepts() {
    let schema = schema();
    let keys = |section: &str| schema["properties"][section]["additionalProperties"]["properties"].clone();
    for (section, key) in
        [("place", "access"), ("control", "positions"), ("state", "must"), ("fault", "bridge"), ("meter", "leads")]
    {
        assert!(keys(section)[key].is_object(), "{section} {key}");
    }
}

/// Pieces that are most likely to upset a reader of sheets.
const PIECES: [&str; 24] = [
    "\"", "'", "[", "]", "{", "}", "=", ".", "#", "\n", "\\", ",", "-", "é", "\u{0}", "\"\"\"", "nan", "1e999", "[[",
    "{}", "[]", "part", "12 V", "\u{feff}",
];

/// A text after a cut, an insertion, a swap of two lines or a line said twice.
fn mutated(text: &str, at: usize, length: usize, piece: usize, way: u8) -> String {
    let letters: Vec<char> = text.chars().collect();
    let at = at % (letters.len() + 1);
    let end = (at + length).min(letters.len());
    let join = |letters: &[char]| letters.iter().collect::<String>();
    let mut lines: Vec<&str> = text.lines().collect();
    let (line, other) = (at % lines.len().max(1), (at + length) % lines.len().max(1));
    match way % 4 {
        0 => join(&letters[..at]) + &join(&letters[end..]),
        1 => join(&letters[..at]) + PIECES[piece % PIECES.len()] + &join(&letters[at..]),
        2 if !lines.is_empty() => {
            lines.swap(line, other);
            lines.join("\n")
        }
        _ if !lines.is_empty() => {
            lines.insert(other, lines[line]);
            lines.join("\n")
        }
        _ => String::new(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn law_no_mutation_of_a_sheet_makes_the_reader_panic(
        steps in prop::collection::vec((any::<usize>(), 0_usize..40, any::<usize>(), any::<u8>()), 1..6)
    ) {
        let mut text = RICH.to_owned();
        for (at, length, piece, way) in steps {
            text = mutated(&text, at, length, piece, way);
        }
        let reading = read(&text);
        let in_the_way = reading.findings.iter().any(Problem::is_in_the_way);
        prop_assert_eq!(reading.sheet.is_none(), in_the_way);
        for problem in &reading.findings {
            prop_assert!(text.get(problem.span.clone()).is_some());
            prop_assert_eq!((problem.line, problem.column), locate(&text, problem.span.start));
            prop_assert!(problem.hint.is_some() && !problem.allowed.is_empty());
        }
        if let Some(sheet) = reading.sheet {
            let machine = Machine::new(sheet);
            for name in machine.state_names() {
                prop_assert!(machine.state(&name).is_ok(), "{}", name);
            }
        }
    }

    #[test]
    fn law_no_text_makes_the_reader_panic(text in "\\PC{0,200}") {
        read(&text);
    }
}

/// A meter of 2000 counts, 1 % + 4 and leads of 0.30 Ω, and the standard one: digits, accuracy, ohms of a resistor of 10 Ω.
#[test]
fn law_a_meter_of_the_sheet_has_its_own_digits_accuracy_and_leads() {
    let sheet = |meter: &str| {
        format!(
            "sheet = 1\n[machine]\nid = \"pair\"\n[part.battery]\nkind = \"source\"\nvoltage = \"12 V\"\n\
             [part.one]\nkind = \"resistance\"\nfrom = \"a\"\nto = \"b\"\nresistance = \"10 ohm\"\n[state.rest]\n{meter}"
        )
    };
    let of = |meter: &str| {
        let machine = Machine::new(read(&sheet(meter)).sheet.unwrap());
        let probe = machine.probe("ohms@rest:a,b").unwrap();
        let mut seen = [Seen::Nothing];
        let program = Program::new(&machine, std::slice::from_ref(&probe));
        Observer::new().observe(&machine, &program, &[probe], &[], None, &mut seen).unwrap();
        let Seen::Number(ohms) = seen[0] else { panic!("no number") };
        let face = machine.face(Instrument::Volts);
        (ohms, face.show(3.4567, Dimension::Voltage), face.uncertainty(12.0))
    };
    let (ohms, shown, off) = of("");
    close(ohms, 10.0 * (1.0 - 1e-6) + 0.14);
    assert_eq!(shown, "3.457 V");
    close(off, 0.005 * 12.0 + 2.0 * 0.01);
    let own = "[meter.old]\nsort = \"meter\"\ncounts = 2000\naccuracy = \"1 % + 4\"\nleads = \"0.30 ohm\"\n";
    let (ohms, shown, off) = of(own);
    close(ohms, 10.0 * (1.0 - 1e-6) + 0.30);
    assert_eq!(shown, "3.46 V");
    close(off, 0.01 * 12.0 + 4.0 * 0.01);
}
