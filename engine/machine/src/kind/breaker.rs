//! A circuit breaker: a bimetal contact that opens when it is hot. Law: V = I·R until its current exceeds 1.5 × rating
//! in a steady solution, as a fuse; see `circuit::operating_point`.
//! One that resets by itself is whole again in the next operating state; one that is reset by hand stays open.
//! Not modelled: seconds until it trips, its cycling while a short lasts, the air's share in its heat.

use quantity::{Amps, Dimension};

use super::since::{HEAT, JUMP, SHOCK, WATER};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const RATING: usize = 0;
const RESISTANCE: usize = 1;

/// `kind = "breaker"`.
pub static BREAKER: Kind = Kind {
    name: "breaker",
    summary: "A circuit breaker that opens above one and a half times its rating and resets.",
    terminals: Terminals::Ends { rings: false },
    fields: &[
        Field::required("rating", Want::Quantity(Dimension::Current), "Rated current."),
        Field::default(
            "resistance",
            Want::Quantity(Dimension::Resistance),
            "8 mohm",
            "Resistance of contact and bimetal (estimate: 4 to 15 mΩ for 15 to 30 A).",
        ),
        Field::default(
            "resets",
            Want::Choice(&["by-itself", "by-hand"]),
            "by-itself",
            "Whether it closes again when it has cooled, or when its button is pressed.",
        ),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("tripped", "has tripped", 3.0, &[Effect::Open("")], Severity::None, RESET)
            .that_stays()
            .as_consequence()
            .after(JUMP)
            .only("resets", &["by-hand"]),
        Mode::new(
            "trips-early",
            "is weak and trips far below its rating",
            2.0,
            &[Effect::Scale("rating")],
            Severity::Log { low: 0.02, high: 0.5 },
            REPLACE,
        )
        .after(HEAT),
        Mode::new("does-not-reset", "is open and does not reset", 1.5, &[Effect::Open("")], Severity::None, REPLACE)
            .that_stays()
            .after(SHOCK),
        Mode::new(
            "contacts-burnt",
            "has burnt contacts",
            1.5,
            &[Effect::SetTo("resistance")],
            Severity::Log { low: 50e-3, high: 10.0 },
            REPLACE,
        )
        .after(WATER),
        Mode::new(
            "bridged",
            "is bridged or welded and would not trip",
            0.5,
            &[Effect::Set("rating", NEVER)],
            Severity::None,
            REPLACE,
        )
        .that_stays()
        .after(JUMP),
    ],
    share: 2.0,
    lower: |part| {
        part.resist(0, part.ohms(RESISTANCE));
        part.fuse(0, Amps(part.value(RATING)));
    },
};

/// No circuit of 12 V carries this current, A.
const NEVER: f64 = 1e6;

const RESET: Remedy = Remedy::new("reset", "press the button of", 1.0, "find what tripped it before it is used again");
const REPLACE: Remedy = Remedy::new(
    "replace",
    "replace",
    5.0,
    "battery's negative lead lifted; the same rating, never a larger one, never a bridge",
);
