//! An ignition unit fed from the battery. Law: a current that hardly depends on voltage while it is fed.
//! Below `works-above` it gives no spark: what a starved ignition does while the starter pulls the voltage down.
//! Not modelled: spark, timing, units fed from their own winding (those are no part of a 12 V starting circuit).

use quantity::Dimension;

use super::load::draw;
use super::since::WATER;
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const CURRENT: usize = 0;

/// `kind = "ignition"`.
pub static IGNITION: Kind = Kind {
    name: "ignition",
    summary: "An ignition unit that the battery feeds.",
    terminals: Terminals::Ends { rings: false },
    fields: &[
        Field::default("current", Want::Quantity(Dimension::Current), "0.8 A", "Mean current (estimate)."),
        Field::default(
            "works-above",
            Want::Quantity(Dimension::Voltage),
            "7 V",
            "Supply below which it gives no spark (estimate).",
        ),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("dead", "is dead", 1.0, &[Effect::Open("")], Severity::None, REPLACE).after(WATER),
        Mode::new(
            "shorted",
            "is shorted inside",
            0.3,
            &[Effect::Across("from", "to")],
            Severity::Log { low: 20e-3, high: 2.0 },
            REPLACE,
        ),
    ],
    share: 0.3,
    lower: |part| part.set(0, draw(part.value(CURRENT))),
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 15.0, "");
