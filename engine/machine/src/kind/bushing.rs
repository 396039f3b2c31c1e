//! A plain bearing of the starter's shaft. Law: clearance beyond a new one's lets the shaft cant (angle = clearance over
//! span), which drags on the rotor and carries the pinion along; both in proportion to the wear (estimate).
//! Not modelled: wear in time (see the worksheet of that name), the bore that a turning bushing wears.

use physics::bushing::Cant;
use quantity::{Dimension, Meters};

use super::since::{DAMP, STANDING};
use super::spec::{Effect, Field, Kind, Mode, Remedy, Severity, Terminals, Want};

const CLEARANCE: usize = 1;
const SEIZED: usize = 2;

/// Diametral clearance of a new bushing, m (an H7/f7 fit of 10 mm allows 13 to 43 µm).
const NEW: f64 = 0.05e-3;
/// `kind = "bushing"`.
pub static BUSHING: Kind = Kind {
    name: "bushing",
    summary: "A plain bearing that carries a starting motor's shaft.",
    terminals: Terminals::None,
    fields: &[
        Field::required("carries", Want::Part(&["starter", "motor"]), "The motor whose shaft it carries."),
        Field::default(
            "clearance",
            Want::Quantity(Dimension::Length),
            "0.05 mm",
            "Diametral clearance (estimate; new ones have 0.01 to 0.05 mm).",
        ),
        Field::optional("seized", Want::Flag, "`true` when the shaft is stuck in it."),
    ],
    branches: &[],
    modes: &[
        Mode::new(
            "worn",
            "is worn and lets the shaft cant",
            4.0,
            &[Effect::SetTo("clearance")],
            Severity::Even { low: 0.15e-3, high: 0.5e-3 },
            REPLACE,
        )
        .that_stays()
        .after(STANDING),
        Mode::new("seized", "has seized on the shaft", 0.5, &[Effect::Set("seized", 1.0)], Severity::None, REPLACE)
            .that_stays()
            .after(DAMP),
    ],
    share: 3.0,
    lower: |_| {},
};

/// What the canted shaft costs.
pub(super) fn cant(values: &[f64]) -> Cant {
    Cant::of(Meters(values[CLEARANCE]), Meters(NEW))
}

pub(super) fn is_seized(values: &[f64]) -> bool {
    values[SEIZED] == 1.0
}

const REPLACE: Remedy = Remedy::new(
    "replace",
    "replace",
    60.0,
    "battery's negative lead lifted before the starter comes out; size shaft and bore before pressing",
);
