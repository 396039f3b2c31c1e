//! The generator's windings, for an ohmmeter at rest. Law: V = I·R; a star of R a winding is, between its three leads, a
//! delta of 3·R, so its inner point needs no node; with one lead's winding open, 2·R is left between the others.
//! Phases are compared with each other, and with ground. One of a single phase is one winding between `a` and `b`.
//! Not modelled: the voltage it makes; it is not coupled to the regulator, whose own modes stand for a poor charge.

use circuit::Law;
use quantity::{Dimension, Ohms};

use super::since::{HEAT, SHOCK, WATER};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const WINDING: usize = 0;
const CONNECTION: usize = 1;
const OPEN_PHASE: usize = 2;
const PHASES: usize = 3;

/// Index of the word `one`.
const ONE: usize = 0;

const AB: usize = 0;
const BC: usize = 1;
const CA: usize = 2;

/// `kind = "stator"`.
pub static STATOR: Kind = Kind {
    name: "stator",
    summary: "The windings of a generator: three in star or delta, or a single one between a and b.",
    terminals: Terminals::Named(&["a", "b", "c"]),
    fields: &[
        Field::default(
            "winding",
            Want::Quantity(Dimension::Resistance),
            "0.3 ohm",
            "Resistance of one winding at 20 °C (estimate: 0.1 to 1 Ω).",
        ),
        Field::default("connection", Want::Choice(&["star", "delta"]), "star", "How the windings are joined inside."),
        Field::optional("open-phase", Want::Flag, "`true` when the winding at `a` is open."),
        Field::default("phases", Want::Choice(&["one", "three"]), "three", "With `one`, `c` is not used."),
    ],
    branches: &[
        Path { name: "ab", from: 0, to: 1 },
        Path { name: "bc", from: 1, to: 2 },
        Path { name: "ca", from: 2, to: 0 },
    ],
    modes: &[
        Mode::new("open-phase", "has an open winding", 1.0, &[Effect::Set("open-phase", 1.0)], Severity::None, REPLACE)
            .after(SHOCK),
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
        .that_stays()
        .as_consequence()
        .after(HEAT),
    ],
    share: 2.0,
    lower: |part| {
        let winding = part.ohms(WINDING);
        let open = part.holds(OPEN_PHASE);
        if part.choice(PHASES) == ONE {
            part.set(AB, if open { Law::Open } else { Law::resistance(winding) });
            part.set(BC, Law::Open);
            part.set(CA, Law::Open);
        } else if part.choice(CONNECTION) == 1 {
            part.resist(AB, winding);
            part.resist(BC, winding);
            part.resist(CA, winding);
            if open {
                part.set(AB, Law::Open);
            }
        } else if open {
            part.set(AB, Law::Open);
            part.resist(BC, Ohms(2.0 * winding.0));
            part.set(CA, Law::Open);
        } else {
            for path in [AB, BC, CA] {
                part.resist(path, Ohms(3.0 * winding.0));
            }
        }
    },
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 90.0, "let the engine cool");
