//! The engine as a load while it is cranked. Law: mean torque = friction + drag·ω at the crankshaft, compression
//! included; below 20 °C both rise as exp(r·(20 °C − T)) for the thickening oil (estimate).
//! Not modelled: the ripple of compression, kick-back, a decompressor, the engine helping once it fires.

use quantity::{Celsius, Dimension};

use super::since::{HEAT, WATER};
use super::spec::{Effect, Field, Kind, Mode, Remedy, Severity, Terminals, Want};

const FRICTION: usize = 0;
const DRAG: usize = 1;
const BREAKAWAY: usize = 2;
const COLD_RISE: usize = 3;

/// Torque to break away over friction torque, when the sheet says nothing (estimate).
const BREAKAWAY_OVER_FRICTION: f64 = 1.2;

/// `kind = "engine"`.
pub static ENGINE: Kind = Kind {
    name: "engine",
    summary: "What the starting motor has to turn.",
    terminals: Terminals::None,
    fields: &[
        Field::required(
            "friction-torque",
            Want::Quantity(Dimension::Torque),
            "Mean torque at the crankshaft at low speed and 20 °C, compression included.",
        ),
        Field::default(
            "drag",
            Want::Quantity(Dimension::Drag),
            "0 N·m·s/rad",
            "What it takes more for each rad/s at the crankshaft, at 20 °C.",
        ),
        Field::optional(
            "breakaway",
            Want::Quantity(Dimension::Torque),
            "Torque at the crankshaft to start it from rest; 1.2 times the friction when not given (estimate).",
        ),
        Field::default(
            "cold-rise",
            Want::Ratio { low: 0.0, high: 0.1 },
            "0.012",
            "Rise of torque and drag per kelvin below 20 °C (estimate: 0.01 for a two-stroke, 0.025 with an oil sump).",
        ),
    ],
    branches: &[],
    modes: &[
        Mode::new(
            "tight",
            "is tight",
            2.0,
            &[Effect::Scale("friction-torque")],
            Severity::Log { low: 1.6, high: 4.0 },
            OVERHAUL,
        )
        .that_stays()
        .after(HEAT),
        Mode::new(
            "blocked",
            "is blocked (seized, or liquid above the piston)",
            1.0,
            &[Effect::Set("friction-torque", 1e4)],
            Severity::None,
            DRAIN,
        )
        .that_stays()
        .after(WATER),
        Mode::new(
            "low-compression",
            "has lost compression and spins too easily",
            1.0,
            &[Effect::Scale("friction-torque")],
            Severity::Even { low: 0.3, high: 0.6 },
            OVERHAUL,
        )
        .that_stays()
        .after(HEAT),
    ],
    share: 1.5,
    lower: |_| {},
};

/// Torques at the crankshaft, N·m and N·m·s/rad.
pub(super) struct Load {
    pub friction: f64,
    pub drag: f64,
    pub breakaway: f64,
}

pub(super) fn load(values: &[f64], air: Option<Celsius>) -> Load {
    let below = air.map_or(0.0, |air| 20.0 - air.0).max(0.0);
    let cold = libm::exp(values[COLD_RISE] * below);
    let friction = values[FRICTION] * cold;
    let written = values[BREAKAWAY] * cold;
    let breakaway = if written.is_nan() { BREAKAWAY_OVER_FRICTION * friction } else { written.max(friction) };
    Load { friction, drag: values[DRAG] * cold, breakaway }
}

const OVERHAUL: Remedy = Remedy::new("overhaul", "overhaul", 240.0, "");
const DRAIN: Remedy = Remedy::new(
    "free",
    "find out by hand why it does not turn and free",
    60.0,
    "spark plug out and grounded, ignition off: fuel may spray from the bore",
);
