//! Laws of diagnosis on whole machines: curlew and moorhen, with 64 what-if cases a fault.
#![expect(clippy::disallowed_methods, reason = "a test that reads sheets")]
#![allow(clippy::unwrap_used, reason = "a test")]

use std::sync::OnceLock;

use diagnosis::planted::{Planted, work};
use diagnosis::{Advice, Atlas, Desk, Request, Survey};
use machine::Machine;

const WORLDS: usize = 64;

fn machine(id: &str) -> Machine {
    let path = format!("{}/../../machines/{id}.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    Machine::new(machine::sheet::read(&text).sheet.unwrap())
}

/// Both machines with their atlases, built once.
fn both() -> &'static [(Machine, Atlas); 2] {
    static BOTH: OnceLock<[(Machine, Atlas); 2]> = OnceLock::new();
    BOTH.get_or_init(|| {
        ["curlew", "moorhen"].map(|id| {
            let machine = machine(id);
            let atlas = Atlas::build(&machine, WORLDS);
            (machine, atlas)
        })
    })
}

fn desk(which: usize) -> Desk {
    let (machine, atlas) = &both()[which];
    Desk::new(machine.clone(), atlas.clone())
}

/// A request from readings of the form `NAME = VALUE`.
fn request(complaint: &str, readings: &[&str]) -> Request {
    let pair = |text: &&str| {
        let (name, value) = text.split_once(" = ").unwrap();
        (name.to_owned(), value.to_owned())
    };
    Request {
        complaint: (!complaint.is_empty()).then(|| complaint.to_owned()),
        readings: readings.iter().map(pair).collect(),
        ..Request::default()
    }
}

fn advise(desk: &mut Desk, complaint: &str, readings: &[&str]) -> Advice {
    desk.advise(&request(complaint, readings)).unwrap()
}

fn share(advice: &Advice, fault: &str) -> f64 {
    advice.suspects.iter().find(|suspect| suspect.fault == fault).map_or(0.0, |suspect| suspect.probability)
}

/// Suspects and shares to the last bit.
fn bits(advice: &Advice) -> Vec<(String, u64)> {
    let shares = advice.suspects.iter().map(|suspect| (suspect.fault.clone(), suspect.probability.to_bits()));
    shares.chain([("none of these".to_owned(), advice.unexplained.to_bits())]).collect()
}

/// A handful of readings of curlew cranking slowly by a bad ground cable, numbers and words.
const SLOW: [&str; 6] = [
    "watch@held:headlamp = dims",
    "clamp@held:ground-cable = -71.3 A",
    "volts@rest:starter-relay.line,battery.minus = 13.29 V",
    "volts@held:ground-eyelet,battery.minus = 4.34 V",
    "volts@held:starter-relay.line,starter-relay.load = 0.06 V",
    "listen@held:starter-relay = click",
];

#[test]
fn law_beliefs_sum_to_one() {
    let mut desk = desk(0);
    for count in 0..=SLOW.len() {
        let advice = advise(&mut desk, "cranks-slowly", &SLOW[..count]);
        let sum: f64 = advice.suspects.iter().map(|suspect| suspect.probability).sum::<f64>() + advice.unexplained;
        assert!((sum - 1.0).abs() < 1e-9, "{sum} after {count} readings");
        assert!(advice.suspects.iter().all(|suspect| (0.0..=1.0).contains(&suspect.probability)));
    }
}

#[test]
fn law_order_of_readings_does_not_matter_to_the_last_bit() {
    let known = bits(&advise(&mut desk(0), "cranks-slowly", &SLOW));
    let mut order = SLOW;
    for turn in 0..6 {
        order.rotate_left(turn % 3 + 1);
        order.swap(turn % 6, (turn + 2) % 6);
        assert_eq!(bits(&advise(&mut desk(0), "cranks-slowly", &order)), known, "{order:?}");
    }
}

#[test]
fn law_advice_is_a_function_of_the_request_alone() {
    let fresh = advise(&mut desk(0), "cranks-slowly", &SLOW);
    let mut used = desk(0);
    for count in 0..SLOW.len() {
        advise(&mut used, "one-click", &SLOW[count..]);
    }
    // A probe that the wiring did not suggest, in somebody else's job.
    advise(
        &mut used,
        "",
        &["low-z@held:ground-eyelet,battery.plus = 5.8 V", "volts@held:ground-eyelet,battery.plus = -5.9 V"],
    );
    let again = advise(&mut used, "cranks-slowly", &SLOW);
    assert_eq!(bits(&again), bits(&fresh));
    assert!(again == fresh, "{:?} instead of {:?}", again.next, fresh.next);
}

#[test]
fn law_an_atlas_built_in_pieces_equals_one_built_whole() {
    let (machine, atlas) = &both()[1];
    let survey = Survey::new(machine, WORLDS);
    let cuts = [0, 1, 700, 701, 3000, survey.len()];
    let mut pieces: Vec<_> = cuts.windows(2).map(|ends| survey.piece(ends[0]..ends[1])).collect();
    pieces.reverse();
    assert!(survey.assemble(pieces).to_bytes() == atlas.to_bytes());
}

#[test]
fn law_an_atlas_comes_back_from_its_bytes_exactly() {
    let (machine, atlas) = &both()[0];
    let bytes = atlas.to_bytes();
    let back = Survey::new(machine, WORLDS).restore(&bytes[..]).unwrap();
    assert!(
        back.to_bytes() == bytes && back.signs == atlas.signs && back.nominal == atlas.nominal && back.air == atlas.air
    );
    for (left, right) in back.columns.iter().zip(&atlas.columns) {
        assert_eq!(left.bins, right.bins);
    }
}

#[test]
fn law_bytes_cut_short_or_changed_or_of_another_survey_are_refused() {
    let machine = machine("curlew");
    let probes = || machine.proposed_probes().into_iter().take(12).collect::<Vec<_>>();
    let survey = || Survey::of(&machine, 2, probes());
    let whole = survey();
    let piece = whole.piece(0..whole.len());
    let bytes = whole.assemble(vec![piece]).to_bytes();
    assert!(survey().restore(&bytes[..]).is_some());
    for length in (0..bytes.len()).step_by(97).chain([bytes.len() - 1]) {
        assert!(survey().restore(&bytes[..length]).is_none(), "{length} of {} bytes", bytes.len());
    }
    let mut longer = bytes.clone();
    longer.push(0);
    assert!(survey().restore(&longer[..]).is_none());
    for at in (0..bytes.len()).step_by(61) {
        let mut changed = bytes.clone();
        changed[at] ^= 0x10;
        assert!(survey().restore(&changed[..]).is_none(), "byte {at} changed");
    }
    assert!(Survey::of(&machine, 3, probes()).restore(&bytes[..]).is_none());
    assert!(Survey::of(&machine, 2, probes().into_iter().take(11).collect()).restore(&bytes[..]).is_none());
}

#[test]
fn law_a_healthy_machines_own_readings_never_lead_to_a_confident_fault() {
    for which in 0..2 {
        let mut desk = desk(which);
        let machine = desk.machine.clone();
        let mut planted = Planted::new(&machine, &[], None).unwrap();
        assert_eq!(planted.complaint(&machine).unwrap(), None);
        let worked = work(&mut desk, &mut planted, Request::default(), 25, |_| false).unwrap();
        let named = worked.last.verdict.as_ref().map(|verdict| verdict.faults.clone());
        assert!(named.is_none(), "{}: {named:?} after {:?}", machine.sheet.id, worked.steps);
        // Every suggested probe of the states that change nothing, all at once.
        let all: Vec<(String, String)> = desk
            .probes()
            .iter()
            .filter(|probe| probe.state != "running")
            .map(|probe| (probe.name.clone(), planted.answer(&machine, &probe.name).unwrap()))
            .collect();
        let advice = desk.advise(&Request { readings: all, ..Request::default() }).unwrap();
        assert!(advice.verdict.is_none(), "{}: {:?}", machine.sheet.id, advice.verdict);
        // What stays possible is what these readings cannot show, such as the charging.
        let leader = &advice.suspects[0];
        assert!(leader.fault == "healthy" || leader.probability < 0.5, "{leader:?}");
    }
}

#[test]
fn law_a_probe_outside_the_atlas_gives_the_same_belief_as_one_inside() {
    let (machine, atlas) = &both()[0];
    for reading in [
        "clamp@held:ground-cable = 71.3 A",
        "ohms@dead:kill-out,btn-out = 6.3 Ω",
        "volts@held:ground-eyelet,battery.minus = 4.34 V",
    ] {
        let name = reading.split_once(" = ").unwrap().0;
        let others = atlas.probes.iter().filter(|probe| probe.name != name).cloned().collect();
        let survey = Survey::of(machine, WORLDS, others);
        let piece = survey.piece(0..survey.len());
        let mut without = Desk::new(machine.clone(), survey.assemble(vec![piece]));
        assert!(without.probes().len() < atlas.probes.len());
        let inside = advise(&mut desk(0), "cranks-slowly", &[reading]);
        let outside = advise(&mut without, "cranks-slowly", &[reading]);
        assert_eq!(bits(&outside), bits(&inside), "{reading}");
    }
}

#[test]
fn law_a_range_a_bound_overload_a_word_and_a_skip_all_count() {
    let mut desk = desk(0);
    let rises = |desk: &mut Desk, complaint: &str, reading: &str, fault: &str| {
        let (before, after) =
            (share(&advise(desk, complaint, &[]), fault), share(&advise(desk, complaint, &[reading]), fault));
        assert!(after > 1.5 * before, "{reading}: {fault} from {before} to {after}");
    };
    rises(&mut desk, "chatters", "volts@held:battery.minus,negative-lead = -11.3..-2.3 V", "battery-ring:loose");
    rises(
        &mut desk,
        "nothing-happens",
        "ohms@dead:starter-relay.coil-a,starter-relay.coil-b = >100 ohm",
        "starter-relay:coil-open",
    );
    rises(&mut desk, "nothing-happens", "ohms@dead-held:kill-out,btn-out = >3 ohm", "button-contact:open");
    rises(&mut desk, "one-click", "volts@held:starter.plus,battery.minus = <0.1 V", "motor-cable:open");
    rises(&mut desk, "cranks-slowly", "clamp@held:ground-cable = <60 A", "battery:aged");
    rises(&mut desk, "nothing-happens", "look@rest:main-fuse = blown", "main-fuse:blown");
    rises(&mut desk, "nothing-happens", "watch@held:headlamp = off", "battery:broken-inside");
    let stator =
        desk.probes().iter().find(|probe| probe.state == "dead" && probe.red == "regulator.a").unwrap().name.clone();
    let fault = desk
        .machine
        .faults()
        .into_iter()
        .find(|fault| fault.name.starts_with("stator:") && fault.name.contains("open"))
        .unwrap();
    rises(&mut desk, "", &format!("{stator} = OL"), &fault.name);
    // A skip changes no belief, and the probe is not proposed again.
    let before = advise(&mut desk, "nothing-happens", &[]);
    let first = before.next[0].probe.clone();
    let after = advise(&mut desk, "nothing-happens", &[&format!("{first} = skip")]);
    assert_eq!(bits(&before), bits(&after));
    assert!(after.next.iter().all(|step| step.probe != first));
    assert!(!after.next.is_empty());
}

/// A reading as the reasons show it.
fn probe_shows(advice: &Advice, probe: &str) -> String {
    let reason = advice.reasons.iter().find(|reason| reason.reading.starts_with(probe));
    reason.map_or_else(String::new, |reason| reason.reading.clone())
}

/// Leads that were measured are taken off: 0.31 Ω with them say what 0.25 Ω less say with the sheet's own 0.14 Ω.
#[test]
fn law_leads_that_were_measured_are_taken_off_ohms() {
    let mut desk = desk(0);
    let probe = "ohms@dead:key-in,ignition-feed";
    let mut odds = |leads: &[&str], ohms: &str| {
        let reading = format!("{probe} = {ohms}");
        let readings: Vec<&str> = leads.iter().copied().chain([reading.as_str()]).collect();
        let advice = advise(&mut desk, "nothing-happens", &readings);
        // What was typed is shown, not what it comes to.
        let typed = probe_shows(&advice, probe);
        assert!(typed.contains(if ohms.starts_with("0.50") { "0.5" } else { "67" }), "{typed}");
        advice.suspects.iter().map(|suspect| suspect.probability).collect::<Vec<f64>>()
    };
    let close = |left: &[f64], right: &[f64]| left.iter().zip(right).all(|(left, right)| (left - right).abs() < 1e-9);
    let own = odds(&[], "0.50 ohm");
    assert!(close(&own, &odds(&["meter:leads = 0.31 ohm"], "0.67 ohm")));
    assert!(!close(&own, &odds(&[], "0.67 ohm")));
}

#[test]
fn law_a_reading_within_the_healthy_band_lowers_what_it_should() {
    let mut desk = desk(0);
    let before = advise(&mut desk, "cranks-slowly", &[]);
    for (reading, faults) in [
        ("volts@held:starter-relay.line,starter-relay.load = 0.08 V", &["starter-relay:contacts-burnt"][..]),
        (
            "volts@held:ground-eyelet,battery.minus = 0.16 V",
            &["ground-cable:corroded", "battery-ring:loose", "battery-ring:corroded"],
        ),
        ("volts@held:starter.minus,frame = 0.01 V", &["starter-mount:loose", "starter-mount:corroded"]),
    ] {
        let after = advise(&mut desk, "cranks-slowly", &[reading]);
        for fault in faults {
            let (was, is) = (share(&before, fault), share(&after, fault));
            assert!(is < 0.5 * was, "{reading}: {fault} from {was} to {is}");
        }
    }
}

/// The share of all that the remedy of a fault's part mends.
fn together(desk: &Desk, advice: &Advice, fault: &str) -> f64 {
    let mended = |name: &str| desk.machine.fault(name).map(|fault| (fault.part, fault.remedy.verb)).ok();
    let alike = advice.suspects.iter().filter(|suspect| mended(&suspect.fault) == mended(fault));
    alike.map(|suspect| suspect.probability).sum()
}

#[test]
fn law_repeating_an_agreeing_reading_never_weakens_the_leader() {
    let mut desk = desk(0);
    for (complaint, readings) in [
        ("cranks-slowly", &SLOW[..]),
        (
            "nothing-happens",
            &["watch@held:headlamp = bright", "ohms@dead:starter-relay.coil-a,starter-relay.coil-b = OL"],
        ),
        (
            "one-click",
            &["volts@held:starter.plus,battery.minus = 0.01 V", "volts@held:starter-relay.load,battery.minus = 13.1 V"],
        ),
    ] {
        let once = advise(&mut desk, complaint, readings);
        let leader = once.suspects[0].fault.clone();
        let was = together(&desk, &once, &leader);
        for reading in readings {
            let rest: Vec<&str> = readings.iter().filter(|other| *other != reading).copied().collect();
            let twice: Vec<&str> = readings.iter().copied().chain([*reading]).collect();
            let (without, again) = (advise(&mut desk, complaint, &rest), advise(&mut desk, complaint, &twice));
            let (without, again) = (together(&desk, &without, &leader), together(&desk, &again, &leader));
            // A reading that speaks against the leader may do so twice; what-if cases are drawn anew, and scatter.
            assert!(
                without > was || again >= was - 0.01,
                "{leader}: {was} falls to {again} when `{reading}` is repeated"
            );
        }
    }
}
