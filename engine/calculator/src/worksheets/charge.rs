//! Whether rides put back what starts and standing take, and whether regulator and generator do their part.
//! Law: balance of a day and rectified volts as in `physics::charging`. Source: conservation of charge; power electronics'
//! standard factors; windows of set-points are estimates and `from memory`, as said at each.
//! Promise: more starts, loads and leak never leave more. Limit: mean currents; a battery that still takes what comes.

use machine::Machine;
use physics::charging::{Day, Phases, imbalance};
use quantity::{Amps, Celsius, Dimension, Seconds, Volts, show};

use crate::answer::{Answer, Unit};
use crate::chemistry::Chemistry;
use crate::given::{Given, Refused};
use crate::own::{cranking_current, of_battery, part_of, rest_current, solved};
use crate::print::{amps, figure, figure_in, plain, plot, steps, volts, word};
use crate::worksheet::{Fallback, Input, Sheet, Want, Worksheet};

const AMPERE_HOUR: f64 = 3600.0;
const DAY: f64 = 86_400.0;
/// A rectifier diode's drop, V (from memory).
const DIODE: Volts = Volts(0.7);
/// Phases are judged against each other: further than this share from their mean is a fault (common practice, no source).
const UNEVEN: f64 = 0.10;
/// Least volts above idle that charge anything, V (estimate).
const LEAST: f64 = 13.5;
/// Usual window of set-points, V (estimate: 13.8 to 14.8 V).
const WINDOW: (f64, f64) = (13.8, 14.8);
/// Most that four lithium cells take, V: 3.65 V each (cell makers' notes).
const LITHIUM_MOST: f64 = 14.6;

/// `charge`.
pub static CHARGE: Worksheet = Worksheet {
    name: "charge",
    title: "What a riding day gives and takes",
    about: "Starts, rides, loads and leak to the ampere-hours of a day: does the battery fill or empty, and how long a \
            ride keeps it even. With volts measured: whether the regulator holds its window and the generator's \
            phases agree. Compare phases with each other rather than with a table.",
    inputs: &[
        count("starts", 0.0, 500.0, "4", "Starts in a day."),
        Input {
            name: "start-time",
            want: Want::Quantity(Dimension::Time, 0.1, 120.0),
            fallback: Fallback::Text("2 s"),
            doc: "How long one start takes.",
        },
        Input {
            name: "start-current",
            want: Want::Quantity(Dimension::Current, 1.0, 800.0),
            fallback: Fallback::OfMachine(cranking_current, "100 A"),
            doc: "Its current.",
        },
        Input {
            name: "ride",
            want: Want::Quantity(Dimension::Time, 0.0, DAY),
            fallback: Fallback::Text("30 min"),
            doc: "Time a day that the engine runs fast enough to charge.",
        },
        Input {
            name: "charging",
            want: Want::Quantity(Dimension::Current, 0.0, 100.0),
            fallback: Fallback::OfMachine(|machine| running(machine).map(|(gives, _)| gives), "6 A"),
            doc: "What the regulator gives while riding, loads and battery together.",
        },
        Input {
            name: "loads",
            want: Want::Quantity(Dimension::Current, 0.0, 100.0),
            fallback: Fallback::OfMachine(|machine| running(machine).map(|(_, loads)| loads), "5 A"),
            doc: "What lamps, ignition and the rest take while riding.",
        },
        Input {
            name: "leak",
            want: Want::Quantity(Dimension::Current, 0.0, 10.0),
            fallback: Fallback::OfMachine(rest_current, "1 mA"),
            doc: "Current with everything off.",
        },
        Input {
            name: "chemistry",
            want: Want::Choice(Chemistry::WORDS),
            fallback: Fallback::OfMachine(|machine| of_battery(machine, "chemistry"), "lfp-4s"),
            doc: "What is in the battery.",
        },
        Input {
            name: "efficiency",
            want: Want::Ratio(0.3, 1.0),
            fallback: Fallback::Absent,
            doc: "Share of the charge put in that comes out again; left out, 0.99 lithium, 0.95 AGM, 0.85 flooded (from memory).",
        },
        Input {
            name: "capacity",
            want: Want::Quantity(Dimension::Charge, 0.3 * AMPERE_HOUR, 200.0 * AMPERE_HOUR),
            fallback: Fallback::OfMachine(|machine| of_battery(machine, "capacity"), "2.3 Ah"),
            doc: "Rated capacity.",
        },
        Input {
            name: "charge",
            want: Want::Ratio(0.0, 1.0),
            fallback: Fallback::OfMachine(|machine| of_battery(machine, "charge"), "90 %"),
            doc: "Charge today.",
        },
        Input {
            name: "temperature",
            want: Want::Quantity(Dimension::Temperature, -40.0, 60.0),
            fallback: Fallback::Text("20 C"),
            doc: "Of the battery while it is charged.",
        },
        reading("volts", 0.0, 80.0, "Volts at the battery well above idle; 2000 to 4000 rpm are usual."),
        Input {
            name: "phases",
            want: Want::Choice(&["three", "one"]),
            fallback: Fallback::Text("three"),
            doc: "Leads of the generator: three phases, or one winding.",
        },
        reading("ab", 0.0, 200.0, "AC volts between the first two leads, plug off, at steady speed."),
        reading("bc", 0.0, 200.0, "The same between second and third."),
        reading("ca", 0.0, 200.0, "The same between third and first."),
    ],
    sheet: Sheet::Welcome,
    examples: &[
        "--starts 12 --ride 20min --charging 5A --loads 4.2A",
        "--volts 15.3V --chemistry lfp-4s",
        "--ab 21V --bc 20.6V --ca 14V",
    ],
    work,
};

const fn count(name: &'static str, low: f64, high: f64, usual: &'static str, doc: &'static str) -> Input {
    Input { name, want: Want::Ratio(low, high), fallback: Fallback::Text(usual), doc }
}

const fn reading(name: &'static str, low: f64, high: f64, doc: &'static str) -> Input {
    Input { name, want: Want::Quantity(Dimension::Voltage, low, high), fallback: Fallback::Absent, doc }
}

/// What the regulator gives while the engine runs, and what the loads take of it.
fn running(machine: &Machine) -> Option<(f64, f64)> {
    let running = solved(machine, "running", &[])?;
    let regulator = machine.layout(part_of(machine, &["regulator"])?).slots.first().copied().flatten()?;
    let gives = -running.current(regulator).0;
    (gives > 0.0).then(|| Some((gives, gives + running.draw()?.0))).flatten()
}

fn work(given: &Given<'_>) -> Result<Answer, Refused> {
    let chemistry = Chemistry::of(given.number("chemistry"));
    let day = Day {
        starts: given.number("starts"),
        start: Seconds(given.number("start-time")),
        start_current: Amps(given.number("start-current")),
        ride: Seconds(given.number("ride")),
        charging: Amps(given.number("charging")),
        loads: Amps(given.number("loads")),
        efficiency: given.maybe("efficiency").unwrap_or(chemistry.efficiency()),
        leak: Amps(given.number("leak")),
    };
    if day.starts * day.start.0 + day.ride.0 > DAY {
        return Err(Refused::Together {
            input: "ride",
            why: "starts and ride together are longer than a day".into(),
            hint: "give what happens in one day",
        });
    }
    let mut answer = balance(given, &day, chemistry);
    if let Some(volts) = given.maybe("volts") {
        regulator(&mut answer, volts, chemistry);
    }
    generator(&mut answer, given)?;
    let at = Celsius(given.number("temperature"));
    if chemistry == Chemistry::Lithium {
        if at.0 < 0.0 {
            answer
                .cautions
                .push("lithium must not be charged below 0 °C: it is plated inside and may short later; warm it first");
            answer
                .advice
                .push(format!("at {at} nothing may go in: warm the pack before the ride that the balance counts on"));
        } else if at.0 < 10.0 {
            answer.advice.push(format!(
                "below 10 °C charge lithium at no more than 0.2 C, here {}",
                amps(0.2 * given.number("capacity") / AMPERE_HOUR)
            ));
        }
    } else {
        answer.cautions.push("a charging lead battery gives off hydrogen: no flame, no spark, air");
    }
    Ok(answer)
}

fn balance(given: &Given<'_>, day: &Day, chemistry: Chemistry) -> Answer {
    let net = day.net().0;
    let left = (given.number("charge") - chemistry.least_to_start()) * given.number("capacity") / AMPERE_HOUR;
    let days = if net < 0.0 { (left / -net).max(0.0) } else { f64::NAN };
    let even = day.even_ride();
    let minutes = |seconds: f64| show(seconds, Dimension::Time);
    let headline = match even {
        _ if net >= 0.0 => format!("a day like this puts {} Ah in: it stays full", plain(net)),
        Some(even) => format!(
            "a day like this takes {} Ah out: flat in {} days; {} of riding a day would keep it even",
            plain(-net),
            plain(days),
            minutes(even.0)
        ),
        None => format!(
            "a day like this takes {} Ah out: flat in {} days, and no ride puts it back",
            plain(-net),
            plain(days)
        ),
    };
    let gain = day.charging - day.loads;
    let mut answer = Answer {
        headline,
        figures: vec![
            figure_in("net_ah", "left in the battery by a day", net, Unit::AmpereHours),
            figure_in("days", "days until it will not start", days, Unit::Days),
            figure(
                "even_ride_s",
                "ride a day that keeps it even",
                even.map_or(f64::NAN, |ride| ride.0),
                Dimension::Time,
            ),
            figure_in("start_ah", "one start takes", day.start_charge().0, Unit::AmpereHours),
            figure(
                "refill_s",
                "ride that refills one start",
                day.refill().map_or(f64::NAN, |ride| ride.0),
                Dimension::Time,
            ),
            figure_in("starts_ah", "the starts take", day.starts_charge().0, Unit::AmpereHours),
            figure_in("ride_ah", "the ride puts in", day.ride_charge().0, Unit::AmpereHours),
            figure_in("leak_ah", "standing takes", day.leak_charge().0, Unit::AmpereHours),
        ],
        working: vec![
            format!(
                "starts: {} · {} · {} = {} Ah",
                given.text("starts"),
                day.start_current,
                show(day.start.0, Dimension::Time),
                plain(day.starts_charge().0)
            ),
            format!(
                "ride: ({} − {}) · {} · {} = {} Ah",
                day.charging,
                day.loads,
                minutes(day.ride.0),
                plain(if gain.0 > 0.0 { day.efficiency } else { 1.0 }),
                plain(day.ride_charge().0)
            ),
            format!(
                "standing: {} · {} h = {} Ah",
                day.leak,
                plain((DAY - day.ride.0) / 3600.0),
                plain(day.leak_charge().0)
            ),
            format!(
                "the day: {} − {} − {} = {} Ah",
                plain(day.ride_charge().0),
                plain(day.starts_charge().0),
                plain(day.leak_charge().0),
                plain(net)
            ),
        ],
        sources: vec!["balance of charge; efficiencies from memory; set-points and usual currents: estimates"],
        ..Answer::default()
    };
    if gain.0 <= 0.0 {
        answer.advice.push(format!("the loads take {} more than comes: fewer lamps, or a generator to look at", -gain));
    } else if net < 0.0 {
        answer
            .advice
            .push("ride longer, start less often, find the leak, or charge it from the mains each week".into());
    }
    answer.plot = Some(plot(
        "What a day leaves, by riding time",
        "ride (min)",
        "left in the battery (Ah)",
        "a day",
        steps(0.0, (2.0 * day.ride.0).clamp(3600.0, DAY), 24)
            .map(|ride| (ride / 60.0, Day { ride: Seconds(ride), ..*day }.net().0))
            .collect(),
        &[("even", 0.0)],
    ));
    answer
}

/// The volts that the regulator holds.
fn regulator(answer: &mut Answer, at: f64, chemistry: Chemistry) {
    let too_high = if chemistry == Chemistry::Lithium { LITHIUM_MOST } else { WINDOW.1 };
    let verdict = if at > 16.0 {
        answer
            .cautions
            .push("stop the engine: this voltage boils lead, opens lithium packs and kills lamps and modules");
        "the regulator does not limit at all: replace it, its ground checked first"
    } else if at > too_high {
        "too high: regulator, its ground or its sensing wire"
    } else if at >= WINDOW.0 {
        "as it should be"
    } else if at >= LEAST {
        "low, but it charges: more speed, fewer lamps, then measure again"
    } else {
        "it does not charge: plug and ground of the regulator, then the generator's phases"
    };
    answer.figures.push(word("regulator", "regulator", verdict));
    answer.working.push(format!(
        "set-point: {} against {} to {}; least above idle {}",
        volts(at),
        volts(WINDOW.0),
        volts(too_high),
        volts(LEAST)
    ));
    answer.advice.push(format!("regulator, {}: {verdict}", volts(at)));
}

/// The generator's leads against each other, and what a rectifier makes of them.
fn generator(answer: &mut Answer, given: &Given<'_>) -> Result<(), Refused> {
    let read: Vec<(&str, f64)> =
        ["ab", "bc", "ca"].into_iter().filter_map(|name| Some((name, given.maybe(name)?))).collect();
    if read.is_empty() {
        return Ok(());
    }
    let phases = if given.number("phases") == 0.0 { Phases::Three } else { Phases::One };
    if phases == Phases::One && read.iter().any(|(name, _)| *name != "ab") {
        return Err(Refused::Together {
            input: "phases",
            why: "a single winding has two leads, so that only --ab can be read".into(),
            hint: "leave --bc and --ca out, or write --phases three",
        });
    }
    let mean = read.iter().map(|(_, volts)| volts).sum::<f64>() / read.len() as f64;
    let out = phases.rectified(Volts(mean), DIODE);
    answer.figures.push(figure("rectified_v", "rectified, without load", out.0, Dimension::Voltage));
    answer.working.push(format!(
        "rectified: {} · {} − 2 · {} = {out}",
        plain(phases.bridge()),
        volts(mean),
        volts(DIODE.0)
    ));
    answer.cautions.push("the open generator's leads carry tens of volts: hold the tips behind their guards");
    if out.0 < LEAST {
        answer.advice.push(
            "less than a battery wants even without load: more speed, else the generator's windings or magnets".into(),
        );
    }
    if phases == Phases::Three {
        let all: Vec<Volts> = read.iter().map(|(_, volts)| Volts(*volts)).collect();
        match imbalance(&all) {
            Some(uneven) if read.len() == 3 => {
                answer.figures.push(figure_in(
                    "uneven_percent",
                    "furthest phase from the mean",
                    100.0 * uneven,
                    Unit::Percent,
                ));
                answer.advice.push(if uneven > UNEVEN {
                    "the phases differ by more than 10 % of their mean: a winding, its lead or its plug; ohms to ground must be none".into()
                } else {
                    "the phases agree within 10 %: the generator is not what fails; a regulator can still be".into()
                });
            }
            _ => answer.advice.push("read all three pairs of leads: only phases against each other tell".into()),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::Cell;
    use crate::own::tests::school;
    use crate::worksheets::tests::{number, refused, worked};

    fn told(answer: &Answer, name: &str) -> String {
        match answer.figures.iter().find(|figure| figure.name == name).map(|figure| &figure.value) {
            Some(Cell::Text(text)) => text.clone(),
            other => panic!("{other:?}"),
        }
    }

    /// A start of 2 s at 100 A takes 0.0556 Ah and comes back in 211 s at 1.0 A net and 0.95: derived.
    #[test]
    fn textbook_a_start_and_its_refill_derived() {
        let answer = worked(&CHARGE, &[("efficiency", "0.95")]);
        assert!((number(&answer, "start_ah") - 0.0556).abs() < 1e-4);
        assert!((number(&answer, "refill_s") - 211.0).abs() < 0.5);
    }

    #[test]
    fn law_the_even_ride_leaves_nothing_and_takes_nothing() {
        let short = worked(&CHARGE, &[("ride", "5 min")]);
        assert!(number(&short, "net_ah") < 0.0 && number(&short, "days") > 0.0);
        let even = format!("{} s", number(&short, "even_ride_s"));
        assert!(number(&worked(&CHARGE, &[("ride", &even)]), "net_ah").abs() < 1e-9);
    }

    #[test]
    fn law_more_starts_loads_and_leak_never_leave_more() {
        let net = |pairs: &[(&str, &str)]| number(&worked(&CHARGE, pairs), "net_ah");
        let base = net(&[]);
        for worse in [("starts", "5"), ("loads", "5.2 A"), ("leak", "5 mA"), ("ride", "20 min"), ("start-time", "3 s")]
        {
            assert!(net(&[worse]) < base, "{worse:?}");
        }
        let never = worked(&CHARGE, &[("loads", "7 A")]);
        assert!(never.headline.contains("no ride puts it back"), "{}", never.headline);
    }

    /// A dead regulator gives 16 to 60 V; lithium takes 14.6 V at most, lead 14.8 V (estimates and cell makers' notes).
    #[test]
    fn law_the_regulators_volts_are_judged_by_chemistry() {
        let verdict =
            |volts, chemistry| told(&worked(&CHARGE, &[("volts", volts), ("chemistry", chemistry)]), "regulator");
        assert!(verdict("14.2 V", "lfp-4s").contains("as it should"));
        assert!(verdict("14.7 V", "lfp-4s").contains("too high"));
        assert!(verdict("14.7 V", "flooded").contains("as it should"));
        assert!(verdict("12.7 V", "agm").contains("does not charge"));
        let dead = worked(&CHARGE, &[("volts", "30 V")]);
        assert!(dead.cautions.iter().any(|line| line.starts_with("stop the engine")));
    }

    /// 1.35 · 20 V − 2 · 0.7 V = 25.6 V; 0.90 · 30 V − 1.4 V = 25.6 V.
    #[test]
    fn textbook_rectified_volts_and_an_odd_phase() {
        let even = worked(&CHARGE, &[("ab", "20 V"), ("bc", "20 V"), ("ca", "20 V")]);
        assert!((number(&even, "rectified_v") - 25.6).abs() < 0.05);
        assert!(even.advice.iter().any(|line| line.contains("agree")));
        let one = worked(&CHARGE, &[("ab", "30 V"), ("phases", "one")]);
        assert!((number(&one, "rectified_v") - 25.6).abs() < 0.05);
        let odd = worked(&CHARGE, &[("ab", "20 V"), ("bc", "14 V"), ("ca", "14 V")]);
        assert!(odd.advice.iter().any(|line| line.contains("differ")));
    }

    #[test]
    fn law_lithium_in_frost_is_cautioned() {
        let cautions = |at| worked(&CHARGE, &[("temperature", at)]).cautions;
        let frost = |lines: Vec<&'static str>| lines.iter().any(|line| line.contains("below 0 °C"));
        assert!(frost(cautions("-1 C")) && !frost(cautions("1 C")));
        assert!(!frost(worked(&CHARGE, &[("temperature", "-5 C"), ("chemistry", "agm")]).cautions));
    }

    /// What the regulator gives is what the loads take and what goes into the battery: Kirchhoff's current law.
    #[test]
    fn law_a_machine_charges_as_its_solved_circuit() {
        let curlew = school("curlew");
        let (gives, loads) = running(&curlew).unwrap();
        let into = -solved(&curlew, "running", &[]).unwrap().draw().unwrap().0;
        assert!(into > 0.0 && (gives - loads - into).abs() < 1e-9);
        let answer = CHARGE.answer(Some(&curlew), |_| Vec::new()).unwrap().1;
        assert!(number(&answer, "net_ah") > 0.0);
    }

    #[test]
    fn law_what_cannot_be_is_refused() {
        for (input, text) in
            [("ride", "-5 min"), ("ride", "25 h"), ("temperature", "0 K"), ("starts", "-1"), ("charging", "14 V")]
        {
            assert_eq!(refused(&CHARGE, &[(input, text)]).input(), Some(input));
        }
        assert_eq!(refused(&CHARGE, &[("phases", "one"), ("bc", "20 V")]).input(), Some("phases"));
        assert_eq!(refused(&CHARGE, &[("ride", "24 h")]).input(), Some("ride"));
    }
}
