//! A fuse. Law: V = I·R until its current exceeds 1.5 × rating, see `circuit::operating_point`.
//! Not modelled: the time it takes to melt; a surge that is over in milliseconds blows nothing here either.

use circuit::Law;
use quantity::{Amps, Dimension};

use super::since::{HANDS, JUMP, SHOCK};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const RATING: usize = 0;
const RESISTANCE: usize = 1;
const BLOWN: usize = 2;
const CRACKED: usize = 3;

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
        Field::optional("cracked", Want::Flag, "`true` when it is open though it looks whole."),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("blown", "has blown", 3.0, &[Effect::Set("blown", 1.0)], Severity::None, REPLACE)
            .that_stays()
            .as_consequence()
            .after(JUMP),
        Mode::new("cracked", "is cracked inside", 0.5, &[Effect::Set("cracked", 1.0)], Severity::None, REPLACE)
            .after(SHOCK),
        Mode::new(
            "too-small",
            "is one of too small a rating",
            0.3,
            &[Effect::Scale("rating")],
            Severity::Log { low: 0.05, high: 0.6 },
            RIGHT_ONE,
        )
        .that_stays()
        .after(HANDS),
        Mode::new(
            "too-large",
            "is one of too large a rating, or a bridge",
            0.5,
            &[Effect::Scale("rating")],
            Severity::Log { low: 2.0, high: 20.0 },
            RIGHT_ONE,
        )
        .that_stays()
        .after(HANDS),
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
        if part.holds(BLOWN) || part.holds(CRACKED) {
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
const RIGHT_ONE: Remedy = Remedy::new(
    "fit",
    "fit one of the right rating in place of",
    2.0,
    "find out why somebody fitted another: a short may wait behind it",
);
const TIGHTEN: Remedy = Remedy::new("clean", "clean and tighten the holder of", 8.0, "battery's negative lead lifted");
