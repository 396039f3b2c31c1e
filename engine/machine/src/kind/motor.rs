//! A brushed permanent-magnet motor. Law: V = I·R + K·ω, K·I = friction + drag·ω, plus its engine when a drive names it.
//! Breakaway is the friction torque. Never corrected for temperature. Not modelled: brush drop, inductance, warming.

use circuit::Motor;
use quantity::{Dimension, KilogramSquareMeters, NewtonMeterSecondsPerRadian, NewtonMeters, VoltSecondsPerRadian};

use super::shaft::{RotorFigures, seen_from_motor};
use super::since::{DAMP, HEAT, WATER};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const RESISTANCE: usize = 0;
const CONSTANT: usize = 1;
const FRICTION: usize = 2;
const DRAG: usize = 3;
const SEIZED: usize = 4;

/// Moment of inertia of a rotor of 0.3 to 0.6 kW (estimate); only the throw of an inertia drive depends on it.
pub(super) const ROTOR_INERTIA: KilogramSquareMeters = KilogramSquareMeters(1.1e-4);

/// `kind = "motor"`.
pub static MOTOR: Kind = Kind {
    name: "motor",
    summary: "A brushed permanent-magnet motor.",
    terminals: Terminals::Named(&["plus", "minus"]),
    fields: &[
        Field::required("resistance", Want::Quantity(Dimension::Resistance), "Armature, brushes and inner leads."),
        Field::required(
            "constant",
            Want::Quantity(Dimension::MotorConstant),
            "K: volts per speed, the same number as torque per ampere.",
        ),
        Field::default(
            "friction-torque",
            Want::Quantity(Dimension::Torque),
            "0 N·m",
            "Torque that opposes any motion, and that it takes to start.",
        ),
        Field::default("drag", Want::Quantity(Dimension::Drag), "0 N·m·s/rad", "Torque that grows with speed."),
        Field::optional("seized", Want::Flag, "`true` when the rotor is stuck."),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("open", "is open", 2.0, &[Effect::Open("")], Severity::None, REPLACE),
        Mode::new("seized", "is seized", 1.0, &[Effect::Set("seized", 1.0)], Severity::None, REPLACE)
            .that_stays()
            .after(DAMP),
        Mode::new(
            "shorted-turns",
            "has shorted turns",
            1.0,
            &[Effect::Scale("resistance"), Effect::Scale("constant")],
            Severity::Even { low: 0.5, high: 0.9 },
            REPLACE,
        )
        .that_stays()
        .as_consequence()
        .after(HEAT),
        Mode::new(
            "dragging",
            "drags",
            1.0,
            &[Effect::Add("friction-torque")],
            Severity::Log { low: 0.05, high: 2.0 },
            REPLACE,
        )
        .after(WATER),
    ],
    share: 7.0,
    lower: |part| {
        let friction = part.value(FRICTION);
        let rotor = RotorFigures { inertia: ROTOR_INERTIA, breakaway: NewtonMeters(friction) };
        // A primitive is never corrected for temperature; the engine behind its drive is.
        let shaft = seen_from_motor(&part.mechanics(), &rotor, part.air());
        let (resistance, constant, drag) = (part.ohms(RESISTANCE), part.value(CONSTANT), part.value(DRAG));
        let blocked = part.blocked() || part.holds(SEIZED) || shaft.jammed;
        part.motor(0, |branch| Motor {
            branch,
            resistance,
            constant: VoltSecondsPerRadian(constant),
            friction: NewtonMeters(friction + shaft.rubs.0),
            drag: NewtonMeterSecondsPerRadian(drag),
            breakaway: NewtonMeters(friction + shaft.rubs.0),
            blocked,
            drive: shaft.drive,
        });
    },
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 45.0, "battery's negative lead lifted first, connected last");
