//! A plain resistance. Law: V = I·R. Never corrected for temperature.

use quantity::Dimension;

use super::spec::{Effect, Fallback, Field, Kind, Mark, Mode, Path, Remedy, Severity, Terminals, Want};

/// `kind = "resistance"`.
pub static RESISTANCE: Kind = Kind {
    name: "resistance",
    summary: "A plain resistance between two nodes.",
    terminals: Terminals::Ends { rings: false },
    fields: &[Field {
        name: "resistance",
        want: Want::Quantity(Dimension::Resistance),
        fallback: Fallback::Required,
        doc: "Its resistance.",
    }],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode {
            name: "open",
            title: "is open",
            odds: 2.0,
            mark: Mark::FromMemory,
            effects: &[Effect::Open("")],
            severity: Severity::None,
            consequence: false,
            remedy: REPLACE,
            since: &[],
        },
        Mode {
            name: "high",
            title: "has too much resistance",
            odds: 1.0,
            mark: Mark::FromMemory,
            effects: &[Effect::Scale("resistance")],
            severity: Severity::Log { low: 1.5, high: 20.0 },
            consequence: false,
            remedy: REPLACE,
            since: &[],
        },
        Mode {
            name: "low",
            title: "has too little resistance",
            odds: 0.5,
            mark: Mark::FromMemory,
            effects: &[Effect::Scale("resistance")],
            severity: Severity::Log { low: 0.05, high: 0.7 },
            consequence: false,
            remedy: REPLACE,
            since: &[],
        },
        Mode {
            name: "shorted",
            title: "is shorted",
            odds: 0.3,
            mark: Mark::FromMemory,
            effects: &[Effect::Set("resistance", 1e-3)],
            severity: Severity::None,
            consequence: false,
            remedy: REPLACE,
            since: &[],
        },
    ],
    share: 1.0,
    lower: |part| part.resist(0, part.ohms(0)),
};

const REPLACE: Remedy = Remedy { verb: "replace", title: "replace", minutes: 10.0, caution: "" };
