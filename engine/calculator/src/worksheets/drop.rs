//! Voltage drops on the way to the starting motor: along a machine's own path, or what cable a length wants.
//! Law: U = I·R, R = ρ·ℓ/A of copper at its temperature; a short burst heats the copper without losing any heat.
//! Source: IEC 60228 class 5 and IEC 60364-5-54 as in `quantity::conductor`; the drops that are usual are
//! `common practice, no source`, and stand here as resistances too, since a drop without its current says nothing.
//! Limit: one steady current; the sheet's own pieces, none that it does not name.

use machine::Machine;
use quantity::conductor::{FINE_STRANDED, copper_at, fine_stranded, gauge_area, heated, resistance};
use quantity::{Amps, Celsius, Dimension, Meters, Ohms, Seconds, SquareMeters, show};

use crate::answer::{Answer, Cell, Table, Unit};
use crate::given::{Given, Refused};
use crate::own::{cranking_current, solved};
use crate::path::{Piece, Side, Sort, motor_path};
use crate::print::{amps, column, figure, of, ohms, plain, plot, text, volts, word};
use crate::worksheet::{Fallback, Input, Sheet, Want, Worksheet};

/// Most that a clean joint drops while cranking, V (common practice, no source: 0.05 to 0.1 V).
const JOINT: f64 = 0.1;
/// Most that a closed contact drops, V (common practice, no source: 0.1 to 0.2 V).
const CONTACT: f64 = 0.2;
/// Most between battery plus and motor, V (common practice, no source: 0.3 to 0.5 V).
const POSITIVE: f64 = 0.5;
/// Most between motor and battery minus, V (common practice, no source).
const GROUND: f64 = 0.2;
/// Most along the whole path, V (common practice, no source: 0.5 to 0.8 V).
const WHOLE: f64 = 0.8;
/// A cranking current when nobody says one, A (estimate for a 0.3 to 0.6 kW starter).
const USUAL: f64 = 120.0;
/// What ordinary PVC stands for long, °C (IEC 60364, from memory).
const PVC: f64 = 70.0;

/// `drop`.
pub static DROP: Worksheet = Worksheet {
    name: "drop",
    title: "Voltage drops on the way to the starter",
    about: "With a machine's sheet: every joint, cable and contact that the motor's current passes, what each \
            drops in a healthy machine and what it may drop. With a length: the section that a cable wants, and \
            how warm a burst makes it. What the sheet does not name is left out.",
    inputs: &[
        Input {
            name: "current",
            want: Want::Quantity(Dimension::Current, 1.0, 800.0),
            fallback: Fallback::Absent,
            doc: "Current while cranking, as a clamp shows it; left out, what the machine's sheet gives, else 120 A.",
        },
        Input {
            name: "state",
            want: Want::Choice(&["held", "pull-in"]),
            fallback: Fallback::Text("held"),
            doc: "Turning (held), or the instant in which the rotor still stands (pull-in).",
        },
        Input {
            name: "length",
            want: Want::Quantity(Dimension::Length, 0.01, 30.0),
            fallback: Fallback::Text("0.5 m"),
            doc: "Length of a cable to be chosen.",
        },
        Input {
            name: "allowed",
            want: Want::Quantity(Dimension::Voltage, 0.005, 2.0),
            fallback: Fallback::Text("0.2 V"),
            doc: "What that cable may drop at the current.",
        },
        Input {
            name: "burst",
            want: Want::Quantity(Dimension::Time, 0.05, 120.0),
            fallback: Fallback::Text("5 s"),
            doc: "How long the current flows in one go.",
        },
        Input {
            name: "temperature",
            want: Want::Quantity(Dimension::Temperature, -40.0, 120.0),
            fallback: Fallback::Text("20 C"),
            doc: "Of the copper before the burst.",
        },
    ],
    sheet: Sheet::Welcome,
    examples: &[
        "machines/curlew.toml",
        "--current 120A --length 0.5m --allowed 0.12V",
        "machines/curlew.toml --state pull-in",
    ],
    work,
};

fn work(given: &Given<'_>) -> Result<Answer, Refused> {
    let mut answer = match given.machine {
        Some(machine) => along(machine, given)?,
        None => sized(given, given.maybe("current").unwrap_or(USUAL)),
    };
    if given.machine.is_some() && given.is_written("length") {
        let current = given.maybe("current").or(own_current(&answer)).unwrap_or(USUAL);
        let cable = sized(given, current);
        answer.advice.push(cable.headline);
        answer.figures.extend(cable.figures.into_iter().filter(|figure| figure.name != "current_a"));
        answer.tables.extend(cable.tables);
        answer.working.extend(cable.working);
        answer.sources.extend(cable.sources);
        answer.plot = cable.plot;
    }
    Ok(answer)
}

fn own_current(answer: &Answer) -> Option<f64> {
    answer.figures.iter().find_map(|figure| match (figure.name, &figure.value) {
        ("current_a", Cell::Number(current, _)) => Some(*current),
        _ => None,
    })
}

/// The machine's own path.
fn along(machine: &Machine, given: &Given<'_>) -> Result<Answer, Refused> {
    let lacks =
        |what| Refused::Lacks { what, hint: "describe battery, motor and the way between, and the state `held`" };
    let state = given.text("state");
    let held = solved(machine, state, &[]).ok_or(lacks("state in which the button is held"))?;
    let motor = held.motor().ok_or(lacks("starting motor"))?;
    let own = held.current(motor.branch).0.abs();
    let pieces = motor_path(machine, &held).ok_or(lacks("closed way from battery to motor and back in this state"))?;
    let current = given.maybe("current").unwrap_or(own);
    // The usual drops are those of a turning engine; they stand for resistances at this machine's own current then.
    let usual = cranking_current(machine).unwrap_or(own);
    // A piece keeps its resistance at another current; a feed that branches off keeps its share.
    let pieces: Vec<Piece> = pieces
        .into_iter()
        .map(|piece| Piece { drop: piece.drop * current / own, current: piece.current * current / own, ..piece })
        .collect();
    let sum = |side: Option<Side>| -> f64 {
        pieces.iter().filter(|piece| side.is_none_or(|side| piece.side == side)).map(|piece| piece.drop).sum()
    };
    let (positive, ground, whole) = (sum(Some(Side::Positive)), sum(Some(Side::Ground)), sum(None));
    let mut answer = Answer {
        headline: format!("at {} the way to the starter and back drops {}", amps(current), volts(whole)),
        figures: vec![
            figure("drop_v", "drop of the whole path", whole, Dimension::Voltage),
            figure("resistance_ohm", "resistance of the whole path", whole / current, Dimension::Resistance),
            figure("current_a", "current of the motor", current, Dimension::Current),
            figure("positive_drop_v", "positive side", positive, Dimension::Voltage),
            figure("ground_drop_v", "ground side", ground, Dimension::Voltage),
        ],
        cautions: vec![
            "neutral, driven wheel off the ground, hands and clothing clear of it; at most 5 s, then 30 s rest",
            "the battery's plus is not fused: clip the leads on before cranking, and let no tip slip to ground",
        ],
        sources: vec![
            "drops that are usual while cranking: common practice, no source",
            "the sheet's own resistances; copper of IEC 60028, from memory",
        ],
        ..Answer::default()
    };
    answer.working.push(if given.is_written("current") {
        format!(
            "the sheet's machine takes {} in `{state}`; each drop there times {} / {}",
            amps(own),
            amps(current),
            amps(own)
        )
    } else {
        format!("the circuit solved in `{state}`: the motor takes {}", amps(own))
    });
    answer.working.push(format!("{} + {} = {}", volts(positive), volts(ground), volts(whole)));
    answer.working.push(format!("{} / {} = {}", volts(whole), amps(current), ohms(whole / current)));
    answer.working.push(format!(
        "usual limits as resistances: {} over the {} of a turning engine = {} for the whole path",
        volts(WHOLE),
        amps(usual),
        ohms(WHOLE / usual)
    ));
    for (what, found, most) in
        [("positive side", positive, POSITIVE), ("ground side", ground, GROUND), ("whole path", whole, WHOLE)]
    {
        let most = most * current / usual;
        if found > most {
            answer.advice.push(format!(
                "even healthy, the {what} drops {} at this current, more than the usual {}: judge it by its {}, not by volts",
                volts(found),
                volts(most),
                ohms(found / current)
            ));
        }
    }
    answer.advice.push(
        "measure from battery post to motor stud first, then ground side; only where a side is high go piece by piece"
            .into(),
    );
    answer.tables.push(budget(&pieces, current, usual, [positive, ground, whole]));
    Ok(answer)
}

/// The pieces and their sums; limits are resistances, those that the usual drops stand for at the usual current.
fn budget(pieces: &[Piece], current: f64, usual: f64, [positive, ground, whole]: [f64; 3]) -> Table {
    let row = |title: &str, side: &str, drop: f64, through: f64, most: Option<f64>| {
        vec![
            text(title),
            text(side),
            of(drop, Dimension::Voltage),
            of(drop / through, Dimension::Resistance),
            Cell::Number(100.0 * drop / whole, Unit::Percent),
            of(most.unwrap_or(f64::NAN) * current / usual, Dimension::Voltage),
            of(most.unwrap_or(f64::NAN) / usual, Dimension::Resistance),
        ]
    };
    let mut rows: Vec<Vec<Cell>> = pieces
        .iter()
        .map(|piece| {
            let most = match piece.sort {
                Sort::Joint => Some(JOINT),
                Sort::Contact => Some(CONTACT),
                Sort::Cable => None,
            };
            row(&piece.title, piece.side.word(), piece.drop, piece.current, most)
        })
        .collect();
    rows.push(row("positive side", "positive", positive, current, Some(POSITIVE)));
    rows.push(row("ground side", "ground", ground, current, Some(GROUND)));
    rows.push(row("whole path", "both", whole, current, Some(WHOLE)));
    Table {
        name: "path",
        title: "From battery plus through the motor to battery minus".into(),
        columns: vec![
            column("piece", "piece"),
            column("side", "side"),
            column("drop_v", "drop"),
            column("resistance_ohm", "resistance"),
            column("share_percent", "share"),
            column("allowed_v", "may drop"),
            column("allowed_ohm", "may have"),
        ],
        rows,
    }
}

/// Drop of a listed section at the temperature.
fn drop_of(area: SquareMeters, length: Meters, current: Amps, at: Celsius) -> f64 {
    let cold = fine_stranded(length, area).unwrap_or(resistance(length, area, Celsius(20.0)));
    (current * copper_at(cold, at)).0
}

/// The cable that a length wants.
fn sized(given: &Given<'_>, current: f64) -> Answer {
    let (length, allowed) = (Meters(given.number("length")), given.number("allowed"));
    let (at, burst) = (Celsius(given.number("temperature")), Seconds(given.number("burst")));
    let current = Amps(current);
    let most = Ohms(allowed / current.0);
    // R of one square meter's section, over what it may have.
    let least = SquareMeters(resistance(length, SquareMeters(1.0), at).0 / most.0);
    let listed = FINE_STRANDED.iter().map(|(area, _)| SquareMeters(area * 1e-6));
    let section = listed.clone().find(|area| drop_of(*area, length, current, at) <= allowed);
    let gauge = (-3..=20).rev().find(|gauge| (current * resistance(length, gauge_area(*gauge), at)).0 <= allowed);
    let chosen = section.unwrap_or(least);
    let after = heated(at, current, chosen, burst);
    let (cold_drop, warm_drop) = (drop_of(chosen, length, current, at), drop_of(chosen, length, current, after));
    let area = |area: SquareMeters| show(area.0, Dimension::Area);
    let spoken = show(length.0, Dimension::Length);
    let headline = match section {
        Some(section) => format!(
            "{spoken} at {current} wants {}: it drops {} of the {} allowed",
            area(section),
            volts(cold_drop),
            volts(allowed)
        ),
        None => format!(
            "{spoken} at {current} wants more than 25 mm²: shorten the way, or allow more than {}",
            volts(allowed)
        ),
    };
    let mut answer = Answer {
        headline,
        figures: vec![
            figure("least_area_m2", "least section", least.0, Dimension::Area),
            figure("section_m2", "standard section", section.map_or(f64::NAN, |area| area.0), Dimension::Area),
            word("gauge", "wire gauge", gauge.map_or("none".to_owned(), spoken_gauge)),
            figure("cable_drop_v", "drop of that section", cold_drop, Dimension::Voltage),
            figure("cable_ohm", "resistance of that section", cold_drop / current.0, Dimension::Resistance),
            figure("end_c", "copper after the burst", after.0, Dimension::Temperature),
            figure("end_drop_v", "drop at the end of the burst", warm_drop, Dimension::Voltage),
            figure("current_a", "current", current.0, Dimension::Current),
        ],
        working: vec![
            format!("may have: {} / {current} = {most}", volts(allowed)),
            format!(
                "least section: 0.01724 Ω·mm²/m · (1 + 0.00393 · ({at} − 20 °C)) · {spoken} / {most} = {}",
                area(least)
            ),
            format!("the standard's most for {} over {spoken} at {at}: {}", area(chosen), ohms(cold_drop / current.0)),
            format!(
                "after {} without cooling: (234.5 + {}) · exp(({} / {})² · {} / 226²) − 234.5 = {after}",
                show(burst.0, Dimension::Time),
                plain(at.0),
                plain(current.0),
                plain(chosen.0 * 1e6),
                plain(burst.0)
            ),
        ],
        sources: vec![
            "IEC 60228 class 5 as printed by two cable makers; gauges by the rule of ASTM B258, solid copper",
            "heating without cooling: IEC 60364-5-54, factor 226",
        ],
        ..Answer::default()
    };
    if after.0 > PVC {
        answer
            .advice
            .push(format!("{after} is more than ordinary PVC stands for long ({PVC} °C): take a larger section"));
    }
    if gauge.is_some() {
        answer
            .advice
            .push("a stranded cable of a gauge may resist 2 to 5 % more than the solid wire reckoned here".into());
    }
    let table = Table {
        name: "sections",
        title: "Standard sections".into(),
        columns: vec![column("section_m2", "section"), column("drop_v", "drop"), column("end_c", "after the burst")],
        rows: listed
            .map(|area| {
                vec![
                    of(area.0, Dimension::Area),
                    of(drop_of(area, length, current, at), Dimension::Voltage),
                    // Copper melts long before a thin wire's figure means anything.
                    Some(heated(at, current, area, burst).0)
                        .filter(|end| *end < quantity::conductor::COPPER_MELTS.0)
                        .map_or_else(|| text("melts"), |end| of(end, Dimension::Temperature)),
                ]
            })
            .collect(),
    };
    answer.tables.push(table);
    let points = FINE_STRANDED
        .iter()
        .filter(|(area, _)| *area >= 2.5)
        .map(|(area, _)| (*area, 1e3 * drop_of(SquareMeters(area * 1e-6), length, current, at)))
        .collect();
    answer.plot =
        Some(plot("Drop by section", "section (mm²)", "drop (mV)", "drop", points, &[("allowed", 1e3 * allowed)]));
    answer
}

/// A gauge as a person says it: 4/0 to 1/0, then numbers.
fn spoken_gauge(gauge: i32) -> String {
    if gauge <= 0 { format!("{}/0 AWG", 1 - gauge) } else { format!("{gauge} AWG") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::tests::school;
    use crate::worksheets::tests::{number, refused, worked};

    fn cable(current: &str, length: &str, allowed: &str) -> Answer {
        worked(&DROP, &[("current", current), ("length", length), ("allowed", allowed)])
    }

    /// 0.5 m of 10 mm² class 5 at 120 A drops 114.6 mV; 0.8 m of AWG 6 at 120 A drops 124.4 mV: derived from IEC 60228
    /// and ASTM B258. One millivolt less allowed wants the next larger one.
    #[test]
    fn textbook_the_section_that_just_does_is_chosen_derived() {
        let just = cable("120 A", "0.5 m", "115 mV");
        assert!((number(&just, "section_m2") - 10e-6).abs() < 1e-12);
        assert!((number(&just, "cable_drop_v") - 0.1146).abs() < 1e-4);
        assert!((number(&cable("120 A", "0.5 m", "114 mV"), "section_m2") - 16e-6).abs() < 1e-12);
        let gauge = |allowed| match &cable("120 A", "0.8 m", allowed).figures[2].value {
            Cell::Text(gauge) => gauge.clone(),
            other => panic!("{other:?}"),
        };
        assert_eq!((gauge("124.6 mV").as_str(), gauge("124 mV").as_str()), ("6 AWG", "5 AWG"));
    }

    /// 120 A for 5 s from 20 °C take 6 mm² to 30.2 °C, 100 A take 2.5 mm² to 63.2 °C: derived by IEC 60364-5-54.
    #[test]
    fn textbook_a_burst_warms_the_copper_derived() {
        for (current, length, allowed, square_mm, celsius) in
            [("120 A", "0.5 m", "0.2 V", 6.0, 30.2), ("100 A", "0.1 m", "80 mV", 2.5, 63.2)]
        {
            let answer = cable(current, length, allowed);
            assert!((number(&answer, "section_m2") - square_mm * 1e-6).abs() < 1e-12);
            assert!((number(&answer, "end_c") - celsius).abs() < 0.4);
            assert!(number(&answer, "end_drop_v") > number(&answer, "cable_drop_v"));
        }
    }

    #[test]
    fn law_longer_ways_and_tighter_limits_never_want_less_copper() {
        let least =
            |current: &str, length: &str, allowed: &str| number(&cable(current, length, allowed), "least_area_m2");
        let base = least("120 A", "0.5 m", "0.2 V");
        assert!(least("150 A", "0.5 m", "0.2 V") > base);
        assert!(least("120 A", "0.6 m", "0.2 V") > base);
        assert!(least("120 A", "0.5 m", "0.15 V") > base);
        let none = cable("500 A", "20 m", "50 mV");
        assert!(none.headline.contains("more than 25 mm²"), "{}", none.headline);
    }

    #[test]
    fn law_a_machine_is_told_piece_by_piece_and_the_pieces_add_up() {
        let curlew = school("curlew");
        let at = |current: Option<&str>| {
            let written = |name: &str| {
                if name == "current" { current.iter().map(|a| (*a).to_owned()).collect() } else { Vec::new() }
            };
            DROP.answer(Some(&curlew), written).unwrap().1
        };
        let answer = at(None);
        let rows = &answer.tables[0].rows;
        let drops: Vec<f64> =
            rows.iter().map(|row| if let Cell::Number(drop, _) = row[2] { drop } else { 0.0 }).collect();
        let (pieces, sums) = drops.split_at(drops.len() - 3);
        assert!((pieces.iter().sum::<f64>() - sums[2]).abs() < 1e-9 && (sums[0] + sums[1] - sums[2]).abs() < 1e-9);
        assert!(rows.iter().any(|row| row[0] == text("starter relay, contact")), "{rows:?}");
        // Twice the current, twice the drop: the same resistance.
        let (small, large) = (at(Some("50 A")), at(Some("100 A")));
        assert!((number(&large, "drop_v") / number(&small, "drop_v") - 2.0).abs() < 1e-9);
        assert!((number(&large, "resistance_ohm") - number(&answer, "resistance_ohm")).abs() < 1e-9);
        // 1.2 m of 10 mm² copper is 2.07 mΩ; contact, joints and rings come on top (the sheet's own lines).
        assert!(number(&answer, "resistance_ohm") > 2.07e-3 + 0.8e-3);
    }

    #[test]
    fn law_what_cannot_be_is_refused() {
        for (input, text) in [
            ("length", "-1 m"),
            ("length", "0 m"),
            ("temperature", "0 K"),
            ("allowed", "30 V"),
            ("current", "0 A"),
            ("current", "12 V"),
        ] {
            assert_eq!(refused(&DROP, &[(input, text)]).input(), Some(input));
        }
    }
}
