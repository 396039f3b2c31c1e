//! A horn. Law: V = I·R of its mean current while its button lets it sound.
//! Not modelled: the interrupter inside, its inductance, the button as a part of its own (add a `switch` for that).

use circuit::Law;
use quantity::Dimension;

use super::since::WATER;
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const RESISTANCE: usize = 0;
const SOUNDS_WHEN: usize = 1;

/// `kind = "horn"`.
pub static HORN: Kind = Kind {
    name: "horn",
    summary: "A horn.",
    terminals: Terminals::Ends { rings: false },
    fields: &[
        Field::default(
            "resistance",
            Want::Quantity(Dimension::Resistance),
            "5 ohm",
            "12 V over its mean current (estimate: 1.5 to 4 A).",
        ),
        Field::optional(
            "sounds-when",
            Want::Controls,
            "The positions of controls in which it sounds; always, while it is fed, when not given.",
        ),
    ],
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
    lower: |part| {
        if part.value_or(SOUNDS_WHEN, 1.0) == 1.0 {
            part.resist(0, part.ohms(RESISTANCE));
        } else {
            part.set(0, Law::Open);
        }
    },
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 8.0, "");
