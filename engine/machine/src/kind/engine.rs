//! The engine as a load while it is cranked. Law: mean torque = friction + drag·ω at the crankshaft, compression
//! included; below 20 °C both rise as exp(r·(20 °C − T)) for the thickening oil (estimate).
//! A decompressor is part of the mean torque as written; one that fails raises or lowers it (factors: estimates).
//! It breaks away when it comes over its first compression from where the last one left it: friction and the largest mean
//! of the gas's torque on the way up (`physics::cylinder`), from bore, stroke, compression and where the charge is shut in.
//! Not modelled: the ripple of compression while it turns (the worksheet `crank` does), kick-back, the engine helping once
//! it fires; a changed bore does not change the first compression of a sheet that was read.

use physics::cranking::Engine;
use physics::cylinder::Cylinder;
use quantity::{Celsius, Dimension, Meters, Radians};

use super::since::{HANDS, HEAT, WATER};
use super::spec::{Effect, Field, Kind, Mode, Remedy, Severity, Terminals, Want};

const FRICTION: usize = 0;
const DRAG: usize = 1;
const BREAKAWAY: usize = 2;
const COLD_RISE: usize = 3;
const BORE: usize = 6;
const STROKE: usize = 7;
const COMPRESSION: usize = 8;
const CLOSES: usize = 9;
const FIRST_COMPRESSION: usize = 14;

/// Share of the first compression that a settled circuit has to give: in its first tenth of a second a battery gives more
/// than it settles to, and at a stalled motor's current its resistance is less than at the turning one's. Fitted to starts
/// of the eight machines in time, 20 and -10 °C, with batteries at which they just come over (0.40 to 0.91 each).
const SETTLED_SHARE: f64 = 0.55;

/// Grades of SAE J300 for engines, and of SAE J306 for gear cases that a crankshaft's bearings may share.
const OILS: &[&str] = &[
    "SAE 30", "SAE 40", "SAE 50", "0W-30", "5W-30", "5W-40", "10W-30", "10W-40", "10W-50", "15W-40", "15W-50",
    "20W-50", "75W", "75W-90", "80W", "80W-90",
];

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
            "Torque at the crankshaft to start it from rest; when not given, friction and first compression, at least 1.2 times the friction (estimate).",
        ),
        Field::default(
            "cold-rise",
            Want::Ratio { low: 0.0, high: 0.1 },
            "0.012",
            "Rise of torque and drag per kelvin below 20 °C (estimate: 0.01 for a two-stroke, 0.025 with an oil sump).",
        ),
        Field::optional("strokes", Want::Ratio { low: 2.0, high: 4.0 }, "Strokes of one working cycle: 2 or 4."),
        Field::optional("cylinders", Want::Ratio { low: 1.0, high: 8.0 }, "How many cylinders; one when not given."),
        Field::optional("bore", Want::Quantity(Dimension::Length), "Diameter of a cylinder."),
        Field::optional("stroke", Want::Quantity(Dimension::Length), "Way of a piston from one end to the other."),
        Field::optional(
            "compression",
            Want::Ratio { low: 4.0, high: 25.0 },
            "Volume above a piston at bottom dead center over that at top dead center.",
        ),
        Field::optional(
            "closes",
            Want::Ratio { low: 10.0, high: 180.0 },
            "Degrees of the crank before top dead center at which the charge is shut in while it is cranked; a decompressor makes it later, so less.",
        ),
        Field::optional(
            "flywheel",
            Want::Quantity(Dimension::Inertia),
            "Moment of inertia of all that turns with the crankshaft.",
        ),
        Field::optional(
            "oil",
            Want::Choice(OILS),
            "Grade of the oil that it is cranked in: of its sump, or of the gear case of a two-stroke.",
        ),
        Field::optional(
            "fires-above",
            Want::Quantity(Dimension::Speed),
            "Speed of the crankshaft below which it does not fire (estimate: 200 to 500 rpm with a magneto, 60 to 120 rpm with a battery ignition or as a diesel).",
        ),
        Field::optional("decompressor", Want::Flag, "`true` when a decompressor of its own eases cranking."),
        Field::optional(
            "first-compression",
            Want::Quantity(Dimension::Torque),
            "Least steady torque at the crankshaft, friction apart, that brings it over the first compression; from bore, stroke, compression and `closes` when not given.",
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
            &[Effect::Scale("friction-torque"), Effect::Scale("first-compression")],
            Severity::Even { low: 0.3, high: 0.6 },
            OVERHAUL,
        )
        .that_stays()
        .after(HEAT),
        Mode::new(
            "decompressor-dead",
            "turns against full compression: decompressor stuck, or valve clearance too wide for it to lift",
            1.5,
            &[Effect::Scale("friction-torque"), Effect::Scale("first-compression")],
            Severity::Even { low: 1.5, high: 2.6 },
            DECOMPRESSOR,
        )
        .after(HANDS)
        .only("decompressor", &["true"]),
        Mode::new(
            "decompressor-open",
            "spins easily and has no compression: its decompressor is held open",
            0.7,
            &[Effect::Scale("friction-torque"), Effect::Scale("first-compression")],
            Severity::Even { low: 0.3, high: 0.6 },
            DECOMPRESSOR,
        )
        .after(HANDS)
        .only("decompressor", &["true"]),
    ],
    share: 1.5,
    lower: |_| {},
};

/// Fills in the first compression where the sheet describes the cylinder.
pub(crate) fn complete(values: &mut [f64]) {
    let or = |field: usize, other: f64| if values[field].is_nan() { other } else { values[field] };
    if values[FIRST_COMPRESSION].is_nan() && !values[BORE].is_nan() && !values[STROKE].is_nan() {
        let closes = or(CLOSES, Cylinder::CLOSES.0.to_degrees()).to_radians();
        let cylinder = Cylinder::of(Meters(values[BORE]), Meters(values[STROKE]), Radians(closes))
            .compressing(or(COMPRESSION, Cylinder::COMPRESSION));
        values[FIRST_COMPRESSION] = cylinder.first_compression(cylinder.rests()).0;
    }
}

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
    let first = if values[FIRST_COMPRESSION].is_nan() { 0.0 } else { SETTLED_SHARE * values[FIRST_COMPRESSION] };
    let breakaway =
        if written.is_nan() { (Engine::STICKING * friction).max(friction + first) } else { written.max(friction) };
    Load { friction, drag: values[DRAG] * cold, breakaway }
}

const OVERHAUL: Remedy = Remedy::new("overhaul", "overhaul", 240.0, "");
const DECOMPRESSOR: Remedy = Remedy::new(
    "adjust",
    "set the valve clearance of, and free the decompressor of",
    45.0,
    "let the engine cool; ignition off, spark plug out: it is turned by hand",
);
const DRAIN: Remedy = Remedy::new(
    "free",
    "find out by hand why it does not turn and free",
    60.0,
    "spark plug out and grounded, ignition off: fuel may spray from the bore",
);
