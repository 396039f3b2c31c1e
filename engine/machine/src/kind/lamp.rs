//! A filament lamp. Law: the heat balance of `circuit::Law::Lamp`, which wants the rated power at 12 V.
//! A lamp rated P at another voltage U is taken as one of P·(12 V/U)^1.6 at 12 V; the exponent is the lamp maker's rule
//! of thumb for power against voltage (from memory, good within ±20 % of U).
//! Not modelled: the milliseconds of warming up; LEDs (give those as a `load`).

use circuit::Law;
use quantity::{Dimension, Watts};

use super::since::SHOCK;
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};
use crate::lower::Lower;

const POWER: usize = 0;
const VOLTAGE: usize = 1;

/// How a filament's power rises with voltage (from memory).
const POWER_EXPONENT: f64 = 1.6;

/// `kind = "lamp"`.
pub static LAMP: Kind = Kind {
    name: "lamp",
    summary: "A filament lamp: little resistance cold, ten times as much when lit.",
    terminals: Terminals::Ends { rings: false },
    fields: &[
        Field::required("power", Want::Quantity(Dimension::Power), "Rated power."),
        Field::default("voltage", Want::Quantity(Dimension::Voltage), "12 V", "Voltage at which the power is rated."),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: MODES,
    share: 0.5,
    lower: light,
};

pub(super) const MODES: &[Mode] = &[
    Mode::new("open", "is burnt out", 2.0, &[Effect::Open("")], Severity::None, REPLACE).that_stays().after(SHOCK),
    Mode::new(
        "shorted",
        "has a shorted socket",
        0.3,
        &[Effect::Across("from", "to")],
        Severity::Log { low: 10e-3, high: 0.3 },
        MEND,
    )
    .after(SHOCK),
];

/// The law shared with the instrument lamp, which has the same first two fields.
pub(super) fn light(part: &mut Lower<'_>) {
    let scale = libm::pow(12.0 / part.value(VOLTAGE), POWER_EXPONENT);
    part.set(0, Law::Lamp(Watts(part.value(POWER) * scale)));
}

const REPLACE: Remedy = Remedy::new("replace", "replace the bulb of", 8.0, "");
const MEND: Remedy = Remedy::new("mend", "mend the socket of", 15.0, "battery's negative lead lifted");
