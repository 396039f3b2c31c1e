//! A length of known cable as an ammeter: the drop along it tells the current.
//! Law: I = U/R, R of copper at the cable's temperature. Source: IEC 60228 class 5 where the section is in its table, else
//! the resistivity of annealed copper (IEC 60028, `from memory`); ASTM B258 for gauges.
//! Limit: the section is the maker's word; a strand cut or corroded reads high.

use quantity::conductor::{copper_at, fine_stranded, resistance};
use quantity::{Celsius, Dimension, Meters, SquareMeters, Volts, show};

use crate::answer::{Answer, Axis, Cell, Curve, Figure, Plot};
use crate::given::{Given, Refused};
use crate::worksheet::{Fallback, Input, Sheet, Want, Worksheet};

/// `shunt`.
pub static SHUNT: Worksheet = Worksheet {
    name: "shunt",
    title: "A length of known cable as an ammeter",
    about: "The millivolts along a cable of known length and section tell the current that no meter's \
            own range can take. Needle points through the insulation, or on bare strands at both ends: \
            never on the ring terminals, whose joints would be read as cable.",
    inputs: &[
        Input {
            name: "drop",
            want: Want::Quantity(Dimension::Voltage, 1e-5, 5.0),
            fallback: Fallback::Absent,
            doc: "What the meter shows along the cable; left out, the table of currents is given.",
        },
        Input {
            name: "length",
            want: Want::Quantity(Dimension::Length, 0.01, 30.0),
            fallback: Fallback::Text("0.45 m"),
            doc: "Length between the two points.",
        },
        Input {
            name: "area",
            want: Want::Quantity(Dimension::Area, 0.05e-6, 120e-6),
            fallback: Fallback::Text("10 mm2"),
            doc: "Section of the copper, or a gauge as in \"6 AWG\".",
        },
        Input {
            name: "temperature",
            want: Want::Quantity(Dimension::Temperature, -40.0, 150.0),
            fallback: Fallback::Text("20 C"),
            doc: "Of the copper.",
        },
        Input {
            name: "counts",
            want: Want::Quantity(Dimension::Voltage, 1e-6, 0.1),
            fallback: Fallback::Text("0.1 mV"),
            doc: "Smallest step of the meter's display.",
        },
    ],
    sheet: Sheet::Unused,
    examples: &["--drop 60.2mV --length 0.45m --area 10mm2", "--length 0.8m --area '6 AWG' --temperature 60C"],
    work,
};

fn work(given: &Given<'_>) -> Result<Answer, Refused> {
    let (length, area) = (Meters(given.number("length")), SquareMeters(given.number("area")));
    let at = Celsius(given.number("temperature"));
    let (cold, rule) = match fine_stranded(length, area) {
        Some(cold) => (cold, "IEC 60228 class 5, most at 20 °C"),
        None => (resistance(length, area, Celsius(20.0)), "copper of 0.01724 Ω·mm²/m at 20 °C"),
    };
    let ohms = copper_at(cold, at);
    let per_ampere = Cell::of(ohms.0, Dimension::Resistance);
    let step = Volts(given.number("counts")) / ohms;
    let mut answer = Answer {
        working: vec![
            format!(
                "{} of {} by {rule}: {}",
                show(length.0, Dimension::Length),
                show(area.0, Dimension::Area),
                show(cold.0, Dimension::Resistance)
            ),
            format!("at {at}: {}, so each ampere shows as {}", per_ampere.text(), show(ohms.0, Dimension::Voltage)),
        ],
        cautions: vec![
            "needle points near the battery: the cable is not fused, and a slip to ground draws hundreds of amperes",
        ],
        sources: vec!["IEC 60228 (class 5) as printed by two cable makers; ASTM B258; copper's 0.00393 per kelvin"],
        ..Answer::default()
    };
    answer.figures.push(Figure { name: "resistance_ohm", title: "resistance of the length".into(), value: per_ampere });
    if let Some(drop) = given.maybe("drop") {
        let current = Volts(drop) / ohms;
        answer.headline = format!("{} along the cable is {current}", show(drop, Dimension::Voltage));
        answer.working.push(format!(
            "{} / {} = {current}",
            show(drop, Dimension::Voltage),
            show(ohms.0, Dimension::Resistance)
        ));
        let value = Cell::of(current.0, Dimension::Current);
        answer.figures.insert(0, Figure { name: "current_a", title: "current".into(), value });
    } else {
        answer.headline = format!("each ampere shows as {} along the cable", show(ohms.0, Dimension::Voltage));
    }
    let value = Cell::of(step.0, Dimension::Current);
    answer.figures.push(Figure { name: "step_a", title: "one step of the display".into(), value });
    if step.0 > 5.0 {
        answer.advice.push("one step is more than 5 A: take a longer piece, or a clamp".into());
    }
    let most = given.maybe("drop").map_or(200.0, |drop| 2.0 * drop / ohms.0);
    answer.plot = Some(Plot {
        title: "Drop along the cable by current".into(),
        x: Axis { title: "current (A)".into() },
        y: Axis { title: "drop (mV)".into() },
        curves: vec![Curve {
            title: "drop".into(),
            points: (0..=20)
                .map(|step| f64::from(step) * most / 20.0)
                .map(|amps| (amps, 1e3 * amps * ohms.0))
                .collect(),
        }],
        limits: Vec::new(),
    });
    Ok(answer)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::worksheets::tests::{number, worked};

    /// 0.5 m of 10 mm² at 120 A and 20 °C drops 114.6 mV; 0.8 m of AWG 6 at 120 A drops 124.4 and at 60 °C 144.0 mV:
    /// derived from IEC 60228 and ASTM B258.
    #[test]
    fn textbook_drops_of_two_cables_are_120_amperes() {
        for (drop, length, area, at, within) in [
            ("114.6 mV", "0.5 m", "10 mm2", "20 C", 0.11),
            ("124.4 mV", "0,8 m", "6 AWG", "20 C", 0.2),
            ("144.0 mV", "80 cm", "6 AWG", "60 C", 0.2),
        ] {
            let answer = worked(&SHUNT, &[("drop", drop), ("length", length), ("area", area), ("temperature", at)]);
            let current = number(&answer, "current_a");
            assert!((current - 120.0).abs() <= within, "{length} {area} {at}: {current} A");
        }
    }

    #[test]
    fn law_a_hotter_cable_shows_the_same_drop_at_less_current() {
        let at = |celsius: &str| number(&worked(&SHUNT, &[("drop", "50 mV"), ("temperature", celsius)]), "current_a");
        assert!(at("-20 C") > at("20 C") && at("20 C") > at("80 C"));
    }
}
