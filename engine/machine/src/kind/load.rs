//! A consumer that is awake or asleep. Law: a resistance (V = I·R), a power (the resistance that takes it at 12 V) or a
//! current that hardly depends on voltage; asleep, its standing current.
//! Not modelled: inrush, the minutes until it falls asleep, resets when the voltage sags.

use circuit::Law;
use quantity::{Amps, Dimension, Ohms};

use super::since::{HANDS, SHOCK, WATER};
use super::spec::{Effect, Fallback, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const RESISTANCE: usize = 0;
const CURRENT: usize = 1;
const POWER: usize = 2;
const AWAKE_WHEN: usize = 3;
const ASLEEP: usize = 4;
const AWAKE: usize = 5;

/// `kind = "load"`.
pub static LOAD: Kind = Kind {
    name: "load",
    summary: "A consumer given as a resistance, a current or a power, perhaps asleep at times.",
    terminals: Terminals::Ends { rings: false },
    fields: &[
        Field {
            name: "resistance",
            want: Want::Quantity(Dimension::Resistance),
            fallback: Fallback::Or(&[&["current"], &["power"]]),
            doc: "Resistance while awake; give this, `current` or `power`.",
        },
        Field::optional(
            "current",
            Want::Quantity(Dimension::Current),
            "Current while awake, whatever the voltage above 1 V.",
        ),
        Field::optional(
            "power",
            Want::Quantity(Dimension::Power),
            "Power while awake at 12 V; taken as the resistance 144 V²/P.",
        ),
        Field::optional(
            "awake-when",
            Want::Controls,
            "The positions of controls in which it is awake; always awake when not given.",
        ),
        Field::default("asleep", Want::Quantity(Dimension::Current), "0 A", "Standing current while asleep."),
        Field::optional("awake", Want::Choice(&["yes", "no"]), "Awake or asleep whatever the controls say."),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new(
            "draws-too-much",
            "draws too much while asleep",
            2.0,
            &[Effect::SetTo("asleep")],
            Severity::Log { low: 20e-3, high: 0.5 },
            REPLACE,
        )
        .after(HANDS),
        Mode::new("stays-awake", "never falls asleep", 1.5, &[Effect::Choose("awake", "yes")], Severity::None, RESET)
            .after(HANDS),
        Mode::new("open", "is dead", 1.0, &[Effect::Open("")], Severity::None, REPLACE).after(SHOCK),
        Mode::new(
            "shorted",
            "is shorted inside",
            0.5,
            &[Effect::Across("from", "to")],
            Severity::Log { low: 20e-3, high: 2.0 },
            REPLACE,
        )
        .after(WATER),
    ],
    share: 2.0,
    lower: |part| {
        let awake = match part.choice(AWAKE) {
            0 => true,
            1 => false,
            _ => part.value_or(AWAKE_WHEN, 1.0) == 1.0,
        };
        part.set(
            0,
            if awake {
                awake_law(part.value(RESISTANCE), part.value(CURRENT), part.value(POWER))
            } else {
                draw(part.value(ASLEEP))
            },
        );
    },
};

/// The first of the three that is given.
fn awake_law(resistance: f64, current: f64, power: f64) -> Law {
    if !resistance.is_nan() {
        Law::resistance(Ohms(resistance))
    } else if !current.is_nan() {
        draw(current)
    } else if power > 0.0 {
        Law::resistance(at_12_v(power))
    } else {
        Law::Open
    }
}

/// The resistance that takes this many watts at 12 V.
pub(super) fn at_12_v(power: f64) -> Ohms {
    Ohms(144.0 / power)
}

/// A consumer of this many amperes; none at all is an absent branch.
pub(super) fn draw(current: f64) -> Law {
    if current == 0.0 { Law::Open } else { Law::Draw(Amps(current)) }
}

const REPLACE: Remedy = Remedy::new("replace", "replace", 20.0, "");
const RESET: Remedy = Remedy::new("reset", "reset or replace", 15.0, "a reset may lose the settings it keeps");
