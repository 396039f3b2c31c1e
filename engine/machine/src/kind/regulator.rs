//! A regulator with its rectifier. Law: while the engine runs, its set-point behind a resistance that stands for what the
//! generator can give; at rest, a small current back through its diodes.
//! Its inputs `a`, `b`, `c` are where the stator's leads end; no path leads inward from them.
//! Not modelled: speed, ripple, its stator's state (a `stator` can be measured, but its faults do not lower the charge).

use circuit::Law;
use quantity::{Dimension, Volts};

use super::load::draw;
use super::since::{HEAT, JUMP, WATER};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const SET_POINT: usize = 0;
const RESISTANCE: usize = 1;
const LEAK: usize = 2;

/// `kind = "regulator"`.
pub static REGULATOR: Kind = Kind {
    name: "regulator",
    summary: "The charging regulator with its rectifier; it works while the engine runs.",
    terminals: Terminals::Named(&["plus", "minus", "a", "b", "c"]),
    fields: &[
        Field::default(
            "set-point",
            Want::Quantity(Dimension::Voltage),
            "14.4 V",
            "Voltage that it holds (estimate: 13.8 to 14.8 V).",
        ),
        Field::default(
            "resistance",
            Want::Quantity(Dimension::Resistance),
            "0.15 ohm",
            "Drop of its output per ampere, generator included (estimate).",
        ),
        Field::default(
            "leak",
            Want::Quantity(Dimension::Current),
            "0.2 mA",
            "Current that it takes at rest (common practice: below 1 mA).",
        ),
        Field::optional(
            "phases",
            Want::Choice(&["one", "three"]),
            "Phases that it rectifies; where a sheet says so, the rectifier has a fault of its own. With `one`, `c` is not used.",
        ),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new(
            "leaking",
            "leaks at rest",
            1.5,
            &[Effect::SetTo("leak")],
            Severity::Log { low: 20e-3, high: 1.0 },
            REPLACE,
        )
        .after(JUMP),
        Mode::new(
            "high",
            "charges with too much voltage",
            1.0,
            &[Effect::SetTo("set-point")],
            Severity::Even { low: 15.2, high: 18.0 },
            REPLACE,
        )
        .after(HEAT),
        Mode::new(
            "low",
            "charges too little",
            2.0,
            &[Effect::Scale("resistance")],
            Severity::Log { low: 10.0, high: 200.0 },
            REPLACE,
        )
        .after(WATER),
        Mode::new("open", "does not charge", 2.0, &[Effect::Open("")], Severity::None, REPLACE).after(HEAT),
        Mode::new(
            "shorted",
            "is shorted from its output to ground",
            0.7,
            &[Effect::Across("plus", "minus")],
            Severity::Log { low: 20e-3, high: 2.0 },
            REPLACE,
        )
        .after(JUMP)
        .only("phases", &["one", "three"]),
    ],
    share: 4.0,
    lower: |part| {
        if part.running() {
            part.set(0, Law::Linear { resistance: part.ohms(RESISTANCE), emf: Volts(part.value(SET_POINT)) });
        } else {
            part.set(0, draw(part.value(LEAK)));
        }
    },
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 20.0, "let it cool; check plug and ground of it first");
