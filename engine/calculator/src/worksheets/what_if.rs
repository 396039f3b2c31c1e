//! Two variants of a machine side by side: as its sheet says, and with values changed or a fault planted.
//! Law: both are cranked in time ([`physics::cranking`]) for two seconds from rest; the coldest start and the least charge are
//! found by halving; days to flat by the current of the state `rest` and self-discharge.
//! Promise: both columns come from the same computation; an empty list of changes gives two equal columns.
//! Limit: the first burst alone; what further bursts add is in `cold`.

use machine::{BadSetting, BadSeverity, Edit, Machine};
use physics::cranking::{Course, Outcome};
use quantity::{Celsius, Dimension, Seconds};

use crate::answer::{Answer, Axis, Cell, Column, Curve, Figure, Limit, Plot, Table, Unit};
use crate::chemistry::Chemistry;
use crate::given::{Given, Refused};
use crate::own::{part_of, rest_current_with};
use crate::rig::Stand;
use crate::worksheet::{Fallback, Input, Sheet, Want, Worksheet};

/// `what-if`.
pub static WHAT_IF: Worksheet = Worksheet {
    name: "what-if",
    title: "Two variants side by side",
    about: "What a change is worth before money is spent on it: a heavier cable, new bushings, a larger pack, or the \
            other way round, what a fault would cost. Cranking speed, volts, the coldest start, the least charge and \
            the days to flat, as the sheet says and with the changes.",
    inputs: &[
        Input {
            name: "set",
            want: Want::Changes,
            fallback: Fallback::Absent,
            doc: "A value of the sheet that is to be another, as in motor-cable.area=16mm2.",
        },
        Input {
            name: "fault",
            want: Want::Changes,
            fallback: Fallback::Absent,
            doc: "A fault that is to be there, as in bushing:worn=0.3mm; the middle of its spread without a value.",
        },
        Input {
            name: "air",
            want: Want::Quantity(Dimension::Temperature, -40.0, 50.0),
            fallback: Fallback::Text("0 C"),
            doc: "Temperature of machine and air.",
        },
        Input {
            name: "firing-speed",
            want: Want::Quantity(Dimension::Speed, 6.0, 84.0),
            fallback: Fallback::OfMachine(super::cold::own_firing_speed, "200 rpm"),
            doc: "Speed of the crankshaft below which the engine does not fire (estimate).",
        },
    ],
    sheet: Sheet::Needed,
    examples: &[
        "machines/curlew.toml --set motor-cable.area=16mm2 --set ground-cable.area=16mm2",
        "machines/curlew.toml --set battery.capacity=4Ah --set battery.resistance=22mohm --air -10C",
        "machines/curlew.toml --fault bushing:worn=0.3mm",
    ],
    work,
};

/// The coldest and the warmest air that is tried.
const COLDEST: f64 = -40.0;
const WARMEST: f64 = 40.0;

/// One variant's figures.
struct Variant {
    mild: Course,
    here: Course,
    coldest: Option<f64>,
    least_charge: Option<f64>,
    days: Option<f64>,
    by_air: Vec<(f64, f64)>,
}

fn work(given: &Given<'_>) -> Result<Answer, Refused> {
    let Some(machine) = given.machine else { return Err(Refused::NoSheet) };
    let mut edits = Vec::new();
    for text in given.changes("set") {
        edits.push(set(machine, text)?);
    }
    for text in given.changes("fault") {
        edits.extend(fault(machine, text)?);
    }
    if edits.is_empty() {
        return Err(Refused::Together {
            input: "set",
            why: "nothing is changed, so there is nothing to compare".to_owned(),
            hint: "add --set PART.FIELD=VALUE or --fault PART:MODE=SEVERITY",
        });
    }
    let (air, least) = (given.number("air"), given.number("firing-speed"));
    let (now, then) = (variant(machine, &[], air, least)?, variant(machine, &edits, air, least)?);
    let changes: Vec<&str> = given.changes("set").iter().chain(given.changes("fault")).map(String::as_str).collect();
    Ok(answer(given, &changes.join(", "), &now, &then))
}

fn variant(machine: &Machine, edits: &[Edit], air: f64, least: f64) -> Result<Variant, Refused> {
    let cranked = |air: f64, charge: Option<f64>| {
        let stand = Stand::of(machine, edits, Celsius(air), charge)?;
        stand.crank(stand.start, Seconds(2.0))
    };
    let starts = |course: &Course| course.outcome == Outcome::Turns && course.crank.0 >= least;
    // The warmest air at which it fails, found between the ends that are known.
    let coldest = turning_point(COLDEST, WARMEST, |air| Ok(starts(&cranked(air, None)?)))?;
    let least_charge = turning_point(0.02, 1.0, |charge| Ok(starts(&cranked(air, Some(charge))?)))?;
    let by_air = (-4..=5).map(|step| 5.0 * f64::from(step)).map(|air| Ok((air, cranked(air, None)?.crank.rpm())));
    Ok(Variant {
        mild: cranked(20.0, None)?,
        here: cranked(air, None)?,
        days: days(machine, edits, least_charge),
        coldest,
        least_charge,
        by_air: by_air.collect::<Result<_, Refused>>()?,
    })
}

/// The least value from which on something holds, within a thousandth of the range; nothing when it never does.
fn turning_point(low: f64, high: f64, holds: impl Fn(f64) -> Result<bool, Refused>) -> Result<Option<f64>, Refused> {
    if !holds(high)? {
        return Ok(None);
    }
    let (mut fails, mut does) = (low, high);
    if holds(low)? {
        return Ok(Some(low));
    }
    for _ in 0..10 {
        let middle = 0.5 * (fails + does);
        if holds(middle)? { does = middle } else { fails = middle }
    }
    Ok(Some(does))
}

/// Days from the charge that it has to the charge that it needs.
fn days(machine: &Machine, edits: &[Edit], needed: Option<f64>) -> Option<f64> {
    let battery = part_of(machine, &["battery"])?;
    let with = |field: &str| machine.value_with(battery, field, edits).filter(|value| value.is_finite());
    let (capacity, charge) = (with("capacity")?, with("charge")?);
    let monthly = Chemistry::of(with("chemistry")?).cells().monthly_loss();
    let drawn = rest_current_with(machine, edits)?.max(0.0) + capacity * monthly / (30.0 * 86_400.0);
    let usable = capacity * (charge - needed?);
    (usable > 0.0 && drawn > 0.0).then(|| usable / drawn / 86_400.0)
}

fn set(machine: &Machine, text: &str) -> Result<Edit, Refused> {
    let wrong = |why: String| Refused::Together {
        input: "set",
        why,
        hint: "write PART.FIELD=VALUE as in motor-cable.area=16mm2; the sheet names its parts",
    };
    let malformed = || wrong(format!("`{text}` is not PART.FIELD=VALUE"));
    let (path, value) = text.split_once('=').ok_or_else(malformed)?;
    machine.setting(path, value).map_err(|bad| match bad {
        BadSetting::Form => malformed(),
        BadSetting::Part(error) | BadSetting::Field(_, error) => wrong(near(&error)),
        BadSetting::Value(bad) => wrong(format!("{path}: {}; {}", bad.message, bad.allowed)),
    })
}

fn fault(machine: &Machine, text: &str) -> Result<Vec<Edit>, Refused> {
    let wrong = |why: String| Refused::Together {
        input: "fault",
        why,
        hint: "write PART:MODE or PART:MODE=SEVERITY as in bushing:worn=0.3mm; `probewright atlas SHEET` names the faults",
    };
    let (name, severity) = match text.split_once('=') {
        Some((name, severity)) => (name.trim(), Some(severity.trim())),
        None => (text.trim(), None),
    };
    let found = machine.fault(name).map_err(|error| wrong(near(&error)))?;
    let severity = match severity {
        None => found.severity_at(0.5),
        Some(written) => found.read_severity(written).map_err(|bad| match bad {
            BadSeverity::AllOrNothing => wrong(format!("`{name}` is all or nothing; it takes no severity")),
            BadSeverity::Unread(error) => wrong(format!("{name}: {error}")),
            BadSeverity::BelowZero(least, most, dimension) => {
                let usual = [least, most].map(|severity| quantity::show(severity, dimension)).join(" to ");
                wrong(format!("{name}: a severity of `{written}` is below zero; usual are {usual}"))
            }
        })?,
    };
    Ok(found.edits(severity))
}

/// An unknown name with the ones that come near.
fn near(error: &machine::UnknownName) -> String {
    match error.near.as_slice() {
        [] => error.to_string(),
        near => format!("{error}; near it: {}", near.join(", ")),
    }
}

fn answer(given: &Given<'_>, changes: &str, now: &Variant, then: &Variant) -> Answer {
    let rpm = |course: &Course| {
        let turns = course.outcome == Outcome::Turns;
        Cell::Number(if turns { course.crank.rpm() } else { 0.0 }, Unit::Rpm)
    };
    let maybe = |value: Option<f64>, unit: Unit| value.map_or(Cell::None, |value| Cell::Number(value, unit));
    let percent = |charge: Option<f64>| maybe(charge.map(|charge| 100.0 * charge), Unit::Percent);
    let coldest = |air: Option<f64>| match air {
        Some(air) if air <= COLDEST => Cell::Text(format!("below {COLDEST:.0} °C")),
        Some(air) => Cell::of(air, Dimension::Temperature),
        None => Cell::Text("none".to_owned()),
    };
    let air = given.text("air");
    let row = |what: String, of: &dyn Fn(&Variant) -> Cell| vec![Cell::Text(what), of(now), of(then)];
    let rows = vec![
        row("cranking at 20 °C".into(), &|variant| rpm(&variant.mild)),
        row(format!("cranking at {air}"), &|variant| rpm(&variant.here)),
        row(format!("volts at the posts, {air}"), &|variant| Cell::of(variant.here.volts.0, Dimension::Voltage)),
        row(format!("least volts, {air}"), &|variant| Cell::of(variant.here.least_volts.0, Dimension::Voltage)),
        row(format!("motor's current, {air}"), &|variant| Cell::of(variant.here.amps.0, Dimension::Current)),
        row("coldest start".into(), &|variant| coldest(variant.coldest)),
        row(format!("least charge for a start, {air}"), &|variant| percent(variant.least_charge)),
        row("days until it will not start".into(), &|variant| maybe(variant.days, Unit::Days)),
    ];
    let speeds = (now.here.crank.rpm(), then.here.crank.rpm());
    let figure = |name, title: &str, value| Figure { name, title: title.to_owned(), value };
    let columns = [("figure", "figure"), ("now", "as the sheet says"), ("then", "changed")];
    let curve = |title: &str, variant: &Variant| Curve { title: title.to_owned(), points: variant.by_air.clone() };
    Answer {
        headline: format!("{changes}: {:.0} rpm instead of {:.0} rpm at {air}", speeds.1, speeds.0),
        figures: vec![figure("gain_rpm", "cranking speed gained", Cell::Number(speeds.1 - speeds.0, Unit::Rpm))],
        tables: vec![Table {
            name: "variants",
            title: "Side by side".into(),
            columns: columns.map(|(name, title)| Column { name, title }).to_vec(),
            rows,
        }],
        working: vec![
            "each variant is cranked in time for 2 s from rest; speed, volts and current are means over whole cycles"
                .into(),
            format!("a start counts from {} on", given.text("firing-speed")),
        ],
        advice: Vec::new(),
        cautions: vec![
            "another battery only of the same voltage and with the charger and the charging voltage that it asks for",
        ],
        sources: vec![
            "battery: open parameter sets of lithium iron phosphate cells (Prada 2013; BPX example), lead-acid after Bode 1977 and Sulzer 2019",
        ],
        plot: Some(Plot {
            title: "Cranking speed by temperature".into(),
            x: Axis { title: "air and machine (°C)".into() },
            y: Axis { title: "crankshaft (rpm)".into() },
            curves: vec![curve("as the sheet says", now), curve("changed", then)],
            limits: vec![Limit {
                title: "fires above".into(),
                at: given.number("firing-speed") * 30.0 / std::f64::consts::PI,
            }],
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::tests::school;

    fn compared(sheet: &str, set: &[&str], fault: &[&str]) -> (Answer, [f64; 2]) {
        let machine = school(sheet);
        let given = |name: &str| match name {
            "set" => set.iter().map(|text| (*text).to_owned()).collect(),
            "fault" => fault.iter().map(|text| (*text).to_owned()).collect(),
            _ => Vec::new(),
        };
        let answer = WHAT_IF.answer(Some(&machine), given).unwrap().1;
        let speeds = [1, 2].map(|column| match answer.tables[0].rows[1][column] {
            Cell::Number(rpm, _) => rpm,
            _ => f64::NAN,
        });
        (answer, speeds)
    }

    #[test]
    fn law_copper_and_packs_help_and_worn_bushings_never_do() {
        for set in ["motor-cable.area=16mm2", "battery.resistance=20 mohm", "bushing.clearance=0.01 mm"] {
            let (_, [now, then]) = compared("curlew", &[set], &[]);
            assert!(then >= now - 1e-6, "{set}: {now} then {then}");
        }
        for fault in ["bushing:worn=0.3mm", "battery:aged=3", "motor-cable:corroded=10mohm", "engine:tight=1.8"] {
            let (_, [now, then]) = compared("curlew", &[], &[fault]);
            assert!(then < now, "{fault}: {now} then {then}");
        }
    }

    #[test]
    fn law_the_same_value_again_changes_nothing() {
        let (answer, [now, then]) = compared("curlew", &["battery.capacity=2.3 Ah"], &[]);
        assert_eq!(now, then);
        assert!(answer.tables[0].rows.iter().all(|row| row[1] == row[2]));
    }

    #[test]
    fn law_what_cannot_be_changed_is_refused_with_the_nearest_name() {
        let machine = school("curlew");
        for (name, text) in [
            ("set", "motor-cabel.area=16mm2"),
            ("set", "motor-cable.area=16 V"),
            ("set", "nothing"),
            ("fault", "bushing:wron"),
        ] {
            let written = |input: &str| if input == name { vec![text.to_owned()] } else { Vec::new() };
            let refused = WHAT_IF.answer(Some(&machine), written).unwrap_err();
            assert_eq!(refused.input(), Some(name), "{text}: {refused}");
        }
        assert!(WHAT_IF.answer(Some(&machine), |_| Vec::new()).is_err());
    }
}
