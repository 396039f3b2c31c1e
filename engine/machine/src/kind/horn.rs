//! A horn. Law: V = I·R of its mean current while it sounds; what switches it is a `switch` of its own.
//! Not modelled: the interrupter inside, its inductance.

use quantity::Dimension;

use super::since::WATER;
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

/// `kind = "horn"`.
pub static HORN: Kind = Kind {
    name: "horn",
    summary: "A horn.",
    terminals: Terminals::Ends { rings: false },
    fields: &[Field::default(
        "resistance",
        Want::Quantity(Dimension::Resistance),
        "5 ohm",
        "12 V over its mean current (estimate: 1.5 to 4 A).",
    )],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("open", "is dead", 2.0, &[Effect::Open("")], Severity::None, REPLACE).after(WATER),
        Mode::new(
            "shorted",
            "is shorted",
            0.5,
            &[Effect::Across("from", "to")],
            Severity::Log { low: 10e-3, high: 0.5 },
            REPLACE,
        ),
    ],
    share: 0.3,
    lower: |part| part.resist(0, part.ohms(0)),
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 8.0, "");
