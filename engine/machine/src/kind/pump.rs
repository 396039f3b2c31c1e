//! A fuel or oil pump. Law: the resistance that takes its power at 12 V; it runs while it is fed.
//! Not modelled: its own starting current, pressure, the seconds of priming.

use quantity::Dimension;

use super::load::at_12_v;
use super::since::STANDING;
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

/// `kind = "pump"`.
pub static PUMP: Kind = Kind {
    name: "pump",
    summary: "A fuel or oil pump that runs while it is fed.",
    terminals: Terminals::Ends { rings: false },
    fields: &[Field::default(
        "power",
        Want::Quantity(Dimension::Power),
        "30 W",
        "Power at 12 V (estimate: 20 to 60 W).",
    )],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("open", "is dead", 1.5, &[Effect::Open("")], Severity::None, REPLACE).after(STANDING),
        Mode::new(
            "jammed",
            "is jammed and draws too much",
            1.0,
            &[Effect::Scale("power")],
            Severity::Log { low: 2.0, high: 12.0 },
            REPLACE,
        )
        .that_stays()
        .after(STANDING),
    ],
    share: 0.5,
    lower: |part| part.resist(0, at_12_v(part.value(0))),
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 40.0, "no spark, no smoking: the fuel system is opened");
