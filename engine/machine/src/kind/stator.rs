//! The generator's three windings in star. Law: V = I·R of each winding, for an ohmmeter at rest.
//! A delta of R a winding is entered as a star of R/3. Phases are compared with each other, and with ground.
//! Not modelled: the voltage it makes; it is not coupled to the regulator, whose own modes stand for a poor charge.

use quantity::Dimension;

use super::since::{HEAT, SHOCK, WATER};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

/// `kind = "stator"`.
pub static STATOR: Kind = Kind {
    name: "stator",
    summary: "Three windings in star; `star` is their common point inside.",
    terminals: Terminals::Named(&["a", "b", "c", "star"]),
    fields: &[Field::default(
        "winding",
        Want::Quantity(Dimension::Resistance),
        "0.3 ohm",
        "Resistance of one winding at 20 °C (estimate: 0.1 to 1 Ω).",
    )],
    branches: &[
        Path { name: "a", from: 0, to: 3 },
        Path { name: "b", from: 1, to: 3 },
        Path { name: "c", from: 2, to: 3 },
    ],
    modes: &[
        Mode::new("open-phase", "has an open winding", 1.0, &[Effect::Open("a")], Severity::None, REPLACE).after(SHOCK),
        Mode::new(
            "ground-leak",
            "has a winding that touches ground",
            1.0,
            &[Effect::ToGround("b")],
            Severity::Log { low: 0.1, high: 1e3 },
            REPLACE,
        )
        .after(WATER),
        Mode::new(
            "burnt",
            "has burnt windings",
            0.7,
            &[Effect::Scale("winding")],
            Severity::Even { low: 0.3, high: 0.8 },
            REPLACE,
        )
        .as_consequence()
        .after(HEAT),
    ],
    share: 2.0,
    lower: |part| {
        for winding in 0..part.paths() {
            part.resist(winding, part.ohms(0));
        }
    },
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 90.0, "let the engine cool");
