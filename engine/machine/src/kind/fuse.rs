//! A fuse. Law: V = I·R until its current exceeds 1.5 × rating, see `circuit::operating_point`.
//! Not modelled: the time it takes to melt; a surge that is over in milliseconds blows nothing here either.

use circuit::Law;
use quantity::{Amps, Dimension};

use super::since::{JUMP, SHOCK};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const RATING: usize = 0;
const RESISTANCE: usize = 1;
const BLOWN: usize = 2;

/// `kind = "fuse"`.
pub static FUSE: Kind = Kind {
    name: "fuse",
    summary: "A fuse that opens above one and a half times its rating.",
    terminals: Terminals::Ends { rings: false },
    fields: &[
        Field::required("rating", Want::Quantity(Dimension::Current), "Rated current."),
        Field::default(
            "resistance",
            Want::Quantity(Dimension::Resistance),
            "5 mohm",
            "Cold resistance, holder included (from memory: blade fuses of 10 to 30 A have 2 to 8 mΩ).",
        ),
        Field::optional("blown", Want::Flag, "`true` when it has blown already."),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("blown", "has blown", 3.0, &[Effect::Set("blown", 1.0)], Severity::None, REPLACE)
            .as_consequence()
            .after(JUMP),
        Mode::new("cracked", "is cracked inside", 0.5, &[Effect::Open("")], Severity::None, REPLACE).after(SHOCK),
        Mode::new(
            "spread-holder",
            "sits loose in a spread or corroded holder",
            1.0,
            &[Effect::SetTo("resistance")],
            Severity::Log { low: 50e-3, high: 10.0 },
            TIGHTEN,
        ),
    ],
    share: 2.0,
    lower: |part| {
        if part.holds(BLOWN) {
            part.set(0, Law::Open);
        } else {
            part.resist(0, part.ohms(RESISTANCE));
        }
        part.fuse(0, Amps(part.value(RATING)));
    },
};

const REPLACE: Remedy = Remedy::new(
    "replace",
    "replace",
    2.0,
    "the same rating, never a larger one; a second blown fuse means a short to find",
);
const TIGHTEN: Remedy = Remedy::new("clean", "clean and tighten the holder of", 8.0, "battery's negative lead lifted");
