//! A plain resistance. Law: V = I·R. Never corrected for temperature.

use quantity::Dimension;

use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

/// `kind = "resistance"`.
pub static RESISTANCE: Kind = Kind {
    name: "resistance",
    summary: "A plain resistance between two nodes.",
    terminals: Terminals::Ends { rings: false },
    fields: &[Field::required("resistance", Want::Quantity(Dimension::Resistance), "Its resistance.")],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("open", "is open", 2.0, &[Effect::Open("")], Severity::None, REPLACE),
        Mode::new(
            "high",
            "has too much resistance",
            1.0,
            &[Effect::Scale("resistance")],
            Severity::Log { low: 1.5, high: 20.0 },
            REPLACE,
        )
        .that_stays(),
        Mode::new(
            "low",
            "has too little resistance",
            0.5,
            &[Effect::Scale("resistance")],
            Severity::Log { low: 0.05, high: 0.7 },
            REPLACE,
        )
        .that_stays(),
        Mode::new("shorted", "is shorted", 0.3, &[Effect::Set("resistance", 1e-3)], Severity::None, REPLACE),
    ],
    share: 1.0,
    lower: |part| part.resist(0, part.ohms(0)),
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 10.0, "");
