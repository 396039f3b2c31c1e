//! An inductor. Law: v = L·di/dt + I·R, so in a steady state only its resistance is left.
//! Its current in time is `circuit::transient`'s business. Not modelled: saturation, warming.

use quantity::Dimension;

use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const RESISTANCE: usize = 1;

/// `kind = "inductor"`.
pub static INDUCTOR: Kind = Kind {
    name: "inductor",
    summary: "An inductor; a resistance in a steady state.",
    terminals: Terminals::Ends { rings: false },
    fields: &[
        Field::required("inductance", Want::Quantity(Dimension::Inductance), "Its inductance."),
        Field::default(
            "resistance",
            Want::Quantity(Dimension::Resistance),
            "0 ohm",
            "Resistance of its winding; ideal when the sheet says nothing.",
        ),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("open", "is open", 1.0, &[Effect::Open("")], Severity::None, REPLACE),
        Mode::new(
            "shorted-turns",
            "has shorted turns",
            0.5,
            &[Effect::Scale("resistance")],
            Severity::Even { low: 0.2, high: 0.7 },
            REPLACE,
        )
        .that_stays(),
    ],
    share: 0.2,
    lower: |part| part.resist(0, part.ohms(RESISTANCE)),
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 15.0, "");
