//! A plain source. Law: V = E − I·R. Never corrected for temperature.
//! Not modelled: charge; it delivers for ever.

use circuit::Law;
use quantity::{Dimension, Volts};

use super::since::STANDING;
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const VOLTAGE: usize = 0;
const RESISTANCE: usize = 1;

/// `kind = "source"`.
pub static SOURCE: Kind = Kind {
    name: "source",
    summary: "An ideal voltage behind a resistance, between plus and minus.",
    terminals: Terminals::Named(&["plus", "minus"]),
    fields: &[
        Field::required("voltage", Want::Quantity(Dimension::Voltage), "Open-circuit voltage, plus against minus."),
        Field::default(
            "resistance",
            Want::Quantity(Dimension::Resistance),
            "0 ohm",
            "Inner resistance; ideal when the sheet says nothing.",
        ),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new(
            "low",
            "gives too little voltage",
            3.0,
            &[Effect::Scale("voltage")],
            Severity::Even { low: 0.6, high: 0.95 },
            CHARGE,
        )
        .that_stays()
        .as_consequence()
        .after(STANDING),
        Mode::new(
            "weak",
            "has too much inner resistance",
            2.0,
            &[Effect::Add("resistance")],
            Severity::Log { low: 10e-3, high: 1.0 },
            REPLACE,
        )
        .that_stays(),
        // One of six cells gives nothing.
        Mode::new(
            "dead-cell",
            "has a dead cell",
            1.0,
            &[Effect::Scale("voltage")],
            Severity::Even { low: 0.70, high: 0.84 },
            REPLACE,
        )
        .that_stays(),
    ],
    share: 33.0,
    lower: |part| {
        part.set(0, Law::Linear { resistance: part.ohms(RESISTANCE), emf: Volts(part.value(VOLTAGE)) });
    },
};

const CHARGE: Remedy = Remedy::new("charge", "charge", 8.0, "");
const REPLACE: Remedy = Remedy::new("replace", "replace", 10.0, "lift the negative lead first, connect it last");
