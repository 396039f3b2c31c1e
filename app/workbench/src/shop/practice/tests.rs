//! Laws of a session: the clock never runs back, replaying gives the same session, remedies mend what they mend, the
//! meter shows what `read` shows, and nothing that is typed breaks anything.

use diagnosis::trial::Chance;
use machine::Machine;

use super::line::Line;
use super::remedy::cures;
use super::{Act, Kept, Practice, Settings, Told, cure_name};
use crate::shop::changes::Changes;
use crate::shop::stand::Stand;

fn machine(name: &str) -> Machine {
    let path = format!("{}/../../machines/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    Machine::new(machine::sheet::read(&std::fs::read_to_string(path).unwrap()).sheet.unwrap())
}

fn planted(name: &str, fault: &str) -> Practice {
    let settings =
        Settings { seed: 4, fault: Some(fault.to_owned()), air: Some("12 C".to_owned()), ..Settings::default() };
    Practice::begin(machine(name), settings).unwrap()
}

/// Types a line; what it told, if it was an act that was not refused.
fn typed(practice: &mut Practice, line: &str) -> Option<Told> {
    match Line::read(line, practice.stand()) {
        Ok(Line::Act(act)) => practice.act(act).ok(),
        _ => None,
    }
}

fn display(practice: &mut Practice, line: &str) -> String {
    match typed(practice, line) {
        Some(Told::Shown(shown)) => shown.read.display,
        other => panic!("{line}: {other:?}"),
    }
}

/// Anything that a learner could type, sensible or not, drawn.
fn any_line(practice: &Practice, chance: &mut Chance) -> String {
    let machine = practice.machine();
    let node = |chance: &mut Chance| machine.node_name(chance.one_of(machine.node_count())).to_owned();
    let probes = machine.proposed_probes();
    let cures = cures(machine);
    match chance.one_of(12) {
        0 => format!("red {}", node(chance)),
        1 => format!("black {}", node(chance)),
        2 => ["volts", "ohms", "low-z", "diode", "lamp", "amps", "clamp"][chance.one_of(7)].to_owned(),
        3 => ["key on", "key off", "press start-button", "release start-button", "state dead"][chance.one_of(5)]
            .to_owned(),
        4 => format!("in {}", machine.branches()[chance.one_of(machine.branches().len())].name),
        5 => ["hint", "odds", "null", "ask:since", "meter:amps", "notes", "nonsense"][chance.one_of(7)].to_owned(),
        6 => cures[chance.one_of(cures.len())].name.replace('@', " ") + "@",
        7 => format!("remedy {}", cures[chance.one_of(cures.len())].name),
        8 | 9 => "read".to_owned(),
        _ => probes[chance.one_of(probes.len())].name.clone(),
    }
}

fn drawn_session(name: &str, seed: u64, acts: usize) -> Practice {
    let mut practice = Practice::begin(machine(name), Settings { seed, ..Settings::default() }).unwrap();
    let mut chance = Chance::of(seed, "typed");
    for _ in 0..acts {
        let line = any_line(&practice, &mut chance);
        typed(&mut practice, &line);
    }
    practice
}

#[test]
fn law_the_clock_never_runs_back_and_is_the_sum_of_what_was_paid() {
    for seed in 0..8 {
        let mut practice = Practice::begin(machine("curlew"), Settings { seed, ..Settings::default() }).unwrap();
        let mut chance = Chance::of(seed, "typed");
        let mut clock = 0.0;
        for _ in 0..60 {
            let line = any_line(&practice, &mut chance);
            let told = typed(&mut practice, &line);
            let now = practice.minutes().total();
            assert!(now >= clock, "{line}: {now} after {clock}");
            match told {
                Some(Told::Shown(_) | Told::Mended(_) | Told::Passed) => assert!(now > clock, "{line} cost nothing"),
                _ => assert!(now == clock, "{line} cost {}", now - clock),
            }
            clock = now;
        }
        let paid: f64 = practice.notes().iter().map(|noted| noted.minutes).sum();
        assert!((paid - clock).abs() < 1e-9, "{paid} was paid, the clock is at {clock}");
        assert!(practice.notes().windows(2).all(|pair| pair[0].clock <= pair[1].clock));
    }
}

/// Whatever the meter shows, `OL` at one end of a chattering range too, advice can be had afterwards.
#[test]
fn regress_advice_reads_all_that_the_meter_shows() {
    for (name, fault) in [("moorhen", "battery:flat=0.05"), ("curlew", "start-wire:chafed-to-ground=0.05")] {
        let mut practice = planted(name, fault);
        for path in machine(name).branches() {
            for instrument in ["amps@held", "amps@on", "clamp@held", "lamp-for@on"] {
                typed(&mut practice, &format!("{instrument}:{}", path.name));
            }
        }
        for probe in machine(name).proposed_probes() {
            typed(&mut practice, &probe.name);
        }
        let faults = machine(name).faults();
        for (name, value) in practice.request(practice.notes().len()).readings {
            let read = diagnosis::request::entry(practice.machine(), &faults, &name, &value);
            assert!(read.is_ok(), "{name} = {value}: {read:?}");
        }
        assert!(practice.notes().len() > 100);
    }
}

#[test]
fn law_a_place_is_opened_once() {
    let mut practice = planted("curlew", "ground-cable:corroded=60mohm");
    let probe = "volts@rest:battery.plus,battery.minus";
    let price = |practice: &mut Practice| match typed(practice, probe) {
        Some(Told::Shown(shown)) => shown.price,
        other => panic!("{other:?}"),
    };
    let (first, second) = (price(&mut practice), price(&mut practice));
    // The sheet: 2 min under the seat.
    assert!((first.access - 2.0).abs() < 1e-9 && second.access == 0.0, "{first:?} {second:?}");
    assert_eq!(first.own, second.own);
}

#[test]
fn law_acts_done_again_give_the_same_session() {
    for (name, seed) in [("curlew", 3), ("moorhen", 11), ("curlew", 12)] {
        let played = drawn_session(name, seed, 50);
        let text = serde_json::to_string(&played.kept()).unwrap();
        let kept = Kept::read(&format!("what was printed before\n{text}\n")).unwrap();
        assert_eq!(kept, played.kept());
        let again = Practice::replay(machine(name), &kept).unwrap();
        assert_eq!(again.notes(), played.notes());
        assert_eq!(again.hand(), played.hand());
        assert_eq!(again.minutes(), played.minutes());
        assert_eq!(again.case().planted(), played.case().planted());
        assert!(!kept.acts.is_empty());
    }
    let kept = drawn_session("curlew", 3, 5).kept();
    assert!(Practice::replay(machine("moorhen"), &kept).is_err_and(|error| error.message.contains("`curlew`")));
}

#[test]
fn law_a_wrong_remedy_costs_and_leaves_the_fault() {
    let fault = "motor-cable:open";
    let mut practice = planted("curlew", fault);
    let right = cure_name(practice.machine(), &practice.case().fault);
    let early = practice.act(Act::Check { name: "feel@held:starter".to_owned() });
    assert!(early.is_err_and(|refusal| refusal.message.contains("nothing has been mended")));
    let probe = "volts@held:starter.plus,battery.minus";
    let before = display(&mut practice, probe);
    for cure in cures(&machine("curlew")).into_iter().filter(|cure| cure.name != right) {
        let clock = practice.minutes().total();
        let told = typed(&mut practice, &format!("remedy {}", cure.name));
        assert!(matches!(told, Some(Told::Mended(mended)) if !mended.fixed), "{}", cure.name);
        assert!(practice.minutes().total() >= clock + cure.minutes);
        assert!(!practice.is_over());
    }
    assert_eq!(display(&mut practice, probe), before);
    assert!(matches!(typed(&mut practice, &format!("try:{right}")), Some(Told::Mended(mended)) if mended.fixed));
    assert!(practice.is_over() && typed(&mut practice, "read").is_none());
}

/// The verb behind `read`, with the fuse that the short has blown pulled, and nothing else.
#[test]
fn law_the_virtual_meter_shows_what_read_shows_for_the_same_leads() {
    let cases: [(&str, &str, &[&str]); 3] = [
        ("curlew", "ground-cable:corroded=0.06", &[]),
        ("curlew", "start-wire:chafed-to-ground=0.05", &["main-fuse"]),
        ("moorhen", "battery:flat", &[]),
    ];
    let mut compared = 0;
    for (name, fault, blown) in cases {
        let mut practice = planted(name, fault);
        let mut stand = Stand::new(machine(name));
        let changes = Changes {
            faults: vec![practice.case().planted()],
            open: blown.iter().map(|fuse| (*fuse).to_owned()).collect(),
            air: Some("12 C".to_owned()),
            ..Changes::default()
        };
        for probe in machine(name).proposed_probes().iter().step_by(3) {
            let Some(Told::Shown(shown)) = typed(&mut practice, &probe.name) else { continue };
            if probe.name == "ask:since" {
                continue;
            }
            let expected = stand.read(&probe.name, &changes, None).unwrap();
            if expected.display != "nothing" {
                assert_eq!(shown.read.display, expected.display, "{fault} {}", probe.name);
                compared += 1;
            }
        }
    }
    assert!(compared > 80, "{compared}");
}

/// With leads, dial and controls in place one by one, the meter shows what the probe of that name shows.
#[test]
fn law_a_reading_put_together_is_the_probe_of_that_name() {
    let mut practice = planted("curlew", "ground-cable:corroded=0.06");
    for line in ["volts", "red frame", "black negative-lead", "key on", "press start-button"] {
        assert!(typed(&mut practice, line).is_some(), "{line}");
    }
    assert_eq!(practice.hand().state, "held");
    let read = display(&mut practice, "read");
    assert_eq!(read, display(&mut practice, "volts@held:frame,negative-lead"));
    assert!(typed(&mut practice, "release start button").is_some());
    assert_eq!(practice.hand().state, "on");
    // The starter has stopped: hardly a drop is left.
    assert_ne!(display(&mut practice, "read"), read);
    assert!(matches!(typed(&mut practice, "key off"), Some(Told::Set(along)) if along == ["light switch off"]));
    assert_eq!(practice.hand().state, "rest");
}

#[test]
fn law_a_machine_that_does_not_start_is_not_measured_running() {
    let running = "volts@running:battery.plus,battery.minus";
    let mut practice = planted("curlew", "motor-cable:open");
    let refused = practice.act(Act::Probe { name: running.to_owned() });
    assert!(refused.is_err_and(|refusal| refusal.message.contains("does not run")));
    assert!(typed(&mut practice, "remedy replace@motor-cable").is_some());
    assert!(practice.act(Act::Check { name: running.to_owned() }).is_ok());
    let mut charges = planted("curlew", "regulator:open");
    assert_eq!(charges.case().complaint.name, "not-charging");
    assert!(typed(&mut charges, running).is_some());
}

#[test]
fn law_tips_held_together_take_the_leads_off_the_ohms() {
    let mut practice = planted("curlew", "motor-cable:open");
    // 0.14 Ω of leads are 0.1 Ω on a display whose last digit is 0.1 Ω.
    assert_eq!(display(&mut practice, "meter:leads"), "0.1 Ω");
    let coil = "ohms@dead~relay-plug:starter-relay.coil-a,starter-relay.coil-b";
    let ohms = |text: &str| quantity::read(text, quantity::Dimension::Resistance).unwrap();
    let with = ohms(&display(&mut practice, coil));
    assert_eq!(display(&mut practice, "null"), "0.1 Ω");
    let without = ohms(&display(&mut practice, coil));
    assert!((with - without - 0.14).abs() <= 0.1001, "{with} then {without}");
    // Advice takes readings with the leads in them.
    let readings = practice.request(practice.notes().len()).readings;
    assert_eq!(readings[0].1, readings[1].1);
    assert_eq!(ohms(&readings[0].1), with);
}

#[test]
fn law_a_bad_contact_that_comes_and_goes_shows_both_faces() {
    let settings = Settings {
        seed: 2,
        fault: Some("battery-ring:loose=0.12".to_owned()),
        complaint: Some("comes-and-goes".to_owned()),
        air: Some("20 C".to_owned()),
    };
    let mut practice = Practice::begin(machine("curlew"), settings).unwrap();
    assert!(practice.case().comes_and_goes);
    let (mut shown, mut jumps) = (std::collections::BTreeSet::new(), 0);
    for turn in 0..12 {
        // Whatever moves the machine may bring it or take it away.
        typed(&mut practice, if turn % 2 == 0 { "ohms@dead:frame,ground-eyelet" } else { "remedy replace@horn" });
        if let Some(Told::Shown(read)) = typed(&mut practice, "volts@held:battery.plus,negative-lead") {
            jumps += usize::from(read.flickers_to.is_some());
            shown.insert(read.read.display);
        }
    }
    assert!(shown.len() == 2 && jumps > 0, "{shown:?}, {jumps} jumps");
}

#[test]
fn law_what_is_drawn_is_noticed_and_follows_from_the_seed() {
    let case = |seed| {
        let practice = Practice::begin(machine("moorhen"), Settings { seed, ..Settings::default() }).unwrap();
        (practice.case().planted(), practice.case().complaint.name, practice.case().air.0)
    };
    let drawn: Vec<_> = (0..12).map(case).collect();
    assert_eq!(drawn, (0..12).map(case).collect::<Vec<_>>());
    let different: std::collections::BTreeSet<&String> = drawn.iter().map(|(planted, _, _)| planted).collect();
    assert!(different.len() > 6, "{different:?}");
    let settings = Settings { complaint: Some("Cranks slowly".to_owned()), ..Settings::default() };
    let asked = Practice::begin(machine("moorhen"), settings).unwrap();
    assert_eq!(asked.case().complaint.name, "cranks-slowly");
}

#[test]
fn law_what_cannot_be_planted_is_told() {
    let refused = |fault: Option<&str>, complaint: Option<&str>| {
        let own = |text: Option<&str>| text.map(str::to_owned);
        let settings = Settings { seed: 1, fault: own(fault), complaint: own(complaint), air: None };
        match Practice::begin(machine("curlew"), settings) {
            Err(refusal) => refusal,
            Ok(practice) => panic!("planted {}", practice.case().planted()),
        }
    };
    assert!(refused(Some("horn:open"), None).message.contains("nobody would notice"));
    assert!(refused(None, Some("grinds")).message.contains("cannot be computed"));
    assert!(refused(None, Some("crank-slowly")).hint.unwrap().contains("cranks-slowly"));
    assert!(refused(Some("battery:flat"), Some("comes-and-goes")).message.contains("does not come and go"));
}

#[test]
fn regress_nothing_that_is_typed_breaks_anything() {
    let mut practice = planted("curlew", "motor-cable:open");
    let long = "x".repeat(100_000);
    let lines = [
        "",
        " ",
        "@",
        "@:",
        "volts@",
        "volts@held:",
        "volts@held:,",
        "red",
        "red ",
        "red 💡",
        "black \u{0}",
        "in",
        "in key",
        "mode",
        "mode banana",
        "state",
        "state held~",
        "state ~",
        "press",
        "press key",
        "release",
        "key",
        "key sideways",
        "remedy",
        "remedy @",
        "remedy try:try:",
        "remedy battery",
        "name",
        "name :",
        "name battery:",
        "null null",
        "volts@held:battery.plus,battery.plus",
        "amps@held:starter",
        "mohm@held:a,b/c",
        "try:",
        "ask:",
        "ask:why",
        "meter:",
        "safe:",
        "volts@running:battery.plus,battery.minus",
        "lamp-for@rest:",
        "--help",
        "'; drop",
        "read 5",
    ];
    for line in lines.iter().copied().chain([long.as_str(), &format!("red {long}"), &format!("{long}@{long}:{long}")]) {
        let before = practice.minutes().total();
        match Line::read(line, practice.stand()) {
            Ok(Line::Act(act)) => {
                if let Err(refusal) = practice.act(act) {
                    told_well(line, &refusal);
                    assert!(practice.minutes().total() == before, "{line} cost time");
                }
            }
            Ok(other) => panic!("{line} is {other:?}"),
            Err(refusal) => told_well(line, &refusal),
        }
    }
    let mut chance = Chance::of(1, "letters");
    for _ in 0..2000 {
        let letters = ["a", "@", ":", ",", " ", "red", "é", "~", "=", ".", "held", "battery", "\t", "\u{7f}", "try:"];
        let line: String = (0..chance.one_of(8)).map(|_| letters[chance.one_of(letters.len())]).collect();
        typed(&mut practice, &line);
    }
    assert!(matches!(practice.act(Act::GiveUp), Ok(Told::Passed)));
}

fn told_well(line: &str, refusal: &crate::shop::refusal::Refusal) {
    let short: String = line.chars().take(40).collect();
    assert!(!refusal.message.is_empty() && !refusal.allowed.is_empty(), "{short}: {refusal:?}");
    assert!(refusal.message.chars().count() < 500, "{short}: {}", refusal.message.len());
}
