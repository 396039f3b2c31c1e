//! A sheet's values from readings of a healthy machine: what was planted comes back, what nobody saw stays.
#![expect(clippy::disallowed_methods, reason = "a test that reads sheets")]
#![allow(clippy::unwrap_used, reason = "a test")]

use diagnosis::fit::{Fit, Unfit, fit};
use diagnosis::spread::sigma;
use machine::probe::Sort;
use machine::{Edit, Instrument, Machine, Observer, Probe, Program, Seen};
use quantity::Reading;

fn machine(id: &str) -> Machine {
    let path = format!("{}/../../machines/{id}.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    Machine::new(machine::sheet::read(&text).sheet.unwrap())
}

/// Every number that a healthy machine with some edits shows on the probes that the wiring suggests.
fn numbers(machine: &Machine, edits: &[Edit], wanted: impl Fn(&Probe) -> bool) -> Vec<(Probe, Reading)> {
    let probes: Vec<Probe> = machine.proposed_probes().into_iter().filter(wanted).collect();
    let mut seen = vec![Seen::Nothing; probes.len()];
    Observer::new().observe(machine, &Program::new(machine, &probes), &probes, edits, None, &mut seen).unwrap();
    let number =
        |(probe, seen)| if let Seen::Number(value) = seen { Some((probe, Reading::Number(value))) } else { None };
    probes.into_iter().zip(seen).filter_map(number).collect()
}

fn is_safe(probe: &Probe) -> bool {
    !matches!(probe.sort, Sort::Meter(Instrument::Amps, _)) || probe.state == "rest"
}

fn readings(machine: &Machine, texts: &[(&str, f64)]) -> Vec<(Probe, Reading)> {
    texts.iter().map(|(name, value)| (machine.probe(name).unwrap(), Reading::Number(*value))).collect()
}

/// The edits that turn a value of the sheet by a factor; a charge by as much less.
fn turned(machine: &Machine, value: &diagnosis::fit::Fitted, by: f64) -> Vec<Edit> {
    let slot = |field: &str| machine.slot(value.part, field).unwrap();
    let edit = |(field, _, sheet): &(&str, quantity::Dimension, f64)| {
        if *field == "charge" {
            return Edit::Set { slot: slot(field), to: sheet * by };
        }
        let given = machine.values()[slot(field)];
        match machine.slot(value.part, "length") {
            Ok(length) if given.is_nan() => Edit::Scale { slot: length, by },
            _ => Edit::Set { slot: slot(field), to: sheet * by },
        }
    };
    value.writes.iter().map(edit).collect()
}

/// Numbers from -1 to 1 that look like chance.
fn chance(seed: u32) -> impl FnMut() -> f64 {
    let mut state = seed;
    move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state >> 8) / f64::from(1 << 23) - 1.0
    }
}

/// The sheet's own values: a fit to the sheet's own readings.
fn own(machine: &Machine) -> Fit {
    fit(machine, &numbers(machine, &[], is_safe), None).unwrap()
}

#[test]
fn law_a_sheet_fits_its_own_machine() {
    for id in ["curlew", "moorhen", "dunlin", "dabchick"] {
        let fit = own(&machine(id));
        assert!(fit.settled && fit.before < 1e-9 && fit.after < 1e-9, "{id}: {} {}", fit.before, fit.after);
        for value in &fit.values {
            assert!((value.fitted - value.sheet).abs() <= 1e-9 * value.sheet, "{id}: {value:?}");
        }
    }
}

#[test]
fn law_exact_readings_of_a_machine_that_differs_give_its_values_back_within_sigma() {
    for (id, seed) in [("curlew", 1), ("curlew", 2), ("moorhen", 3), ("dunlin", 4), ("dabchick", 5)] {
        let machine = machine(id);
        let sheet = own(&machine).values;
        let mut chance = chance(seed);
        let mut planted = Vec::new();
        let mut edits = Vec::new();
        for value in &sheet {
            // Less than one σ of what healthy machines differ by.
            let by = match value.name.as_str() {
                name if name.ends_with(".charge") || name.ends_with(".voltage") => 1.0 + 0.02 * chance(),
                _ => libm::exp(0.3 * chance()),
            };
            planted.push(value.sheet * by);
            edits.extend(turned(&machine, value, by));
        }
        // At the edge of the ohmmeter's range one machine shows a number and the other OL: that is no matter of values.
        let known: Vec<String> = numbers(&machine, &[], is_safe).into_iter().map(|(probe, _)| probe.name).collect();
        let readings = numbers(&machine, &edits, |probe| is_safe(probe) && known.contains(&probe.name));
        assert!(readings.len() + 2 > known.len());
        let fit = fit(&machine, &readings, None).unwrap();
        let seen = fit.values.iter().filter(|value| value.information > 0.5).count();
        let mut worst = 0.0_f64;
        for (value, planted) in fit.values.iter().zip(&planted) {
            let off = (value.fitted - planted).abs() / value.sigma;
            worst = worst.max(off);
            assert!(off <= 1.0, "{id}: {planted} was planted, {value:?}");
        }
        println!(
            "{id}: {} readings, {seen} of {} values seen, worst {worst:.2} sigma off, {:.2} to {:.3} sigma in {} attempts",
            fit.readings.len(),
            fit.values.len(),
            fit.before,
            fit.after,
            fit.attempts
        );
        assert!(
            fit.settled && seen > 15 && fit.after < 0.2 && fit.before > 0.5,
            "{id}: {seen} {} {}",
            fit.before,
            fit.after
        );
        for one in &fit.readings {
            assert!(one.is_explained(), "{id}: {one:?}");
        }
    }
}

#[test]
fn law_what_no_reading_feels_stays_the_sheets() {
    // Lead-acid: the rest voltage tells the charge; the flat plateau of a lithium one would not.
    let machine = machine("dunlin");
    let fit = fit(&machine, &readings(&machine, &[("volts@rest:battery.plus,battery.minus", 12.2)]), None).unwrap();
    let value = |name: &str| fit.values.iter().find(|value| value.name == name).unwrap();
    let charge = value("battery.charge");
    assert!(charge.information > 0.5 && charge.fitted < charge.sheet - 0.05, "{charge:?}");
    for name in ["starter.constant", "motor-cable.resistance", "starter-relay.coil", "engine.friction-torque"] {
        let value = value(name);
        assert!(value.fitted == value.sheet && value.information < 1e-9 && !value.is_apart(), "{value:?}");
    }
}

#[test]
fn law_a_wrong_cable_is_flagged_and_nothing_else() {
    let machine = machine("curlew");
    let cable = machine.part("motor-cable").unwrap();
    for by in [0.25, 8.0, 30.0] {
        let wrong = Edit::Scale { slot: machine.slot(cable, "length").unwrap(), by };
        let fit = fit(&machine, &numbers(&machine, &[wrong], |probe| is_safe(probe) && probe.state != "running"), None)
            .unwrap();
        let apart: Vec<&str> =
            fit.values.iter().filter(|value| value.is_apart()).map(|value| value.name.as_str()).collect();
        let value = fit.values.iter().find(|value| value.name == "motor-cable.resistance").unwrap();
        let copper = value.writes[0].2;
        println!(
            "by {by}: {apart:?} {:.1} sigma, {:.3} m\u{3a9} ± {:.3}",
            value.apart,
            value.fitted * 1e3,
            value.sigma * 1e3
        );
        if by > 1.0 {
            assert_eq!(apart, ["motor-cable.resistance"], "{fit:?}");
            assert!(copper > 0.0 && (value.fitted / value.sheet - by).abs() < 0.35 * by, "{value:?}");
        } else {
            // A quarter of a milliohm is below what a meter sees beside clean contacts: it must not be called wrong falsely.
            assert!(apart.iter().all(|name| *name == "motor-cable.resistance"), "{apart:?}");
        }
    }
}

#[test]
fn law_the_order_of_readings_does_not_matter_to_the_last_bit() {
    let machine = machine("moorhen");
    let cable = machine.part("ground-cable").unwrap();
    let edits = [Edit::Scale { slot: machine.slot(cable, "length").unwrap(), by: 5.0 }];
    let mut all = numbers(&machine, &edits, is_safe);
    // Twice the same probe, with two values.
    let twice = (all[3].0.clone(), Reading::Number(12.0));
    all.push(twice);
    let bits = |fit: &Fit| -> Vec<(u64, u64)> {
        fit.values.iter().map(|value| (value.fitted.to_bits(), value.sigma.to_bits())).collect()
    };
    let known = bits(&fit(&machine, &all, None).unwrap());
    all.reverse();
    assert_eq!(bits(&fit(&machine, &all, None).unwrap()), known);
    let third = all.len() / 3;
    all.rotate_left(third);
    assert_eq!(bits(&fit(&machine, &all, None).unwrap()), known);
}

#[test]
fn law_a_wild_reading_is_left_unexplained_and_bends_little() {
    let machine = machine("curlew");
    let mut all = numbers(&machine, &[], |probe| is_safe(probe) && probe.state != "running");
    let which = all.iter().position(|(probe, _)| probe.name == "volts@held:starter.plus,battery.minus").unwrap();
    let Reading::Number(shown) = all[which].1 else { panic!("a number") };
    all[which].1 = Reading::Number(shown - 3.0);
    let fit = fit(&machine, &all, None).unwrap();
    let lost: Vec<&str> =
        fit.readings.iter().filter(|one| !one.is_explained()).map(|one| one.probe.name.as_str()).collect();
    assert_eq!(lost, ["volts@held:starter.plus,battery.minus"]);
    assert!(fit.values.iter().all(|value| !value.is_apart()), "{fit:?}");
}

#[test]
fn law_more_readings_say_more() {
    let machine = machine("curlew");
    let all = numbers(&machine, &[], is_safe);
    let (few, many) = (fit(&machine, &all[..12], None).unwrap(), fit(&machine, &all, None).unwrap());
    for (few, many) in few.values.iter().zip(&many.values) {
        assert!(
            many.information >= few.information - 1e-6 && many.sigma <= few.sigma * (1.0 + 1e-6),
            "{few:?} {many:?}"
        );
    }
}

/// A source behind a resistance feeds another: V = E·R/(R + r), I = E/(R + r). The least is sought here by hand, step by
/// step along each value.
#[test]
fn textbook_a_divider_is_fitted_as_its_formula_says() {
    let text = r#"
sheet = 1
[machine]
id = "divider"
[part.source]
kind = "source"
voltage = "12 V"
resistance = "0.8 ohm"
[part.heater]
kind = "resistance"
from = "source.plus"
to = "source.minus"
resistance = "5.2 ohm"
[state.rest]
"#;
    let machine = Machine::new(machine::sheet::read(text).sheet.unwrap());
    let (volts, amps) = ("volts@rest:source.plus,source.minus", "clamp@rest:heater");
    let (read_volts, read_amps) = (11.1, 3.0);
    let fit = fit(&machine, &readings(&machine, &[(volts, read_volts), (amps, read_amps)]), None).unwrap();
    let own = |name: &str, value: f64| sigma(&machine.probe(name).unwrap(), value);
    let (of_volts, of_amps) = (own(volts, read_volts), own(amps, read_amps));
    let bent = |off: f64| if off.abs() <= 2.0 { 0.5 * off * off } else { 2.0 * (off.abs() - 1.0) };
    let price = |at: [f64; 3]| {
        let [supply, inner, heater] = [12.0 * at[0].exp(), 0.8 * at[1].exp(), 5.2 * at[2].exp()];
        let current = supply / (heater + inner);
        let priors = [1.03_f64.ln(), 1.5_f64.ln(), 1.5_f64.ln()];
        let prior: f64 = at.iter().zip(priors).map(|(at, spread)| 0.5 * (at / spread).powi(2)).sum();
        bent((current * heater - read_volts) / of_volts) + bent((current - read_amps) / of_amps) + prior
    };
    let (mut at, mut step) = ([0.0; 3], 0.1);
    while step > 1e-7 {
        let mut moved = false;
        for index in 0..3 {
            for by in [-step, step] {
                let mut next = at;
                next[index] += by;
                if price(next) < price(at) {
                    (at, moved) = (next, true);
                }
            }
        }
        if !moved {
            step *= 0.5;
        }
    }
    let names = ["source.voltage", "source.resistance", "heater.resistance"];
    for (name, at) in names.iter().zip(at) {
        let value = fit.values.iter().find(|value| value.name == *name).unwrap();
        assert!(((value.fitted / value.sheet).ln() - at).abs() < 1e-4, "{at} {value:?}");
        assert!(at.abs() > 1e-3 && value.information > 0.0);
    }
}

#[test]
fn without_a_number_there_is_nothing_to_fit() {
    let machine = machine("curlew");
    let word = (machine.probe("listen@held:starter-relay").unwrap(), Reading::Word("click".to_owned()));
    assert_eq!(fit(&machine, &[word], None).unwrap_err(), Unfit::NoNumber);
    assert_eq!(fit(&machine, &[], None).unwrap_err(), Unfit::NoNumber);
}
