//! A starting motor. Law: that of `motor`, its resistance following copper and its constant a ferrite magnet (−0.2 % per
//! kelvin, from two makers' sheets) when an air temperature is given. It breaks away at 1.3 times its friction (estimate).
//! The brushes' drop is part of the resistance; their share does not follow copper, so cold is flattered a little.
//! Not modelled: the constant part of the brush drop (0.3 to 1 V), warming during a crank, current ripple.

use circuit::Motor;
use quantity::conductor::copper_at;
use quantity::{
    Celsius, Dimension, KilogramSquareMeters, NewtonMeterSecondsPerRadian, NewtonMeters, VoltSecondsPerRadian,
};

use super::shaft::{RotorFigures, seen_from_motor};
use super::since::{DAMP, HANDS, HEAT, SHOCK};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const RESISTANCE: usize = 0;
const CONSTANT: usize = 1;
const FRICTION: usize = 2;
const DRAG: usize = 3;
const INERTIA: usize = 4;
const BREAKAWAY: usize = 5;
const SEIZED: usize = 6;

/// Change of a ferrite magnet's flux per kelvin.
const FERRITE: f64 = -0.002;
/// Torque to break away over friction torque, when the sheet says nothing (estimate).
const BREAKAWAY_OVER_FRICTION: f64 = 1.3;

/// `kind = "starter"`.
pub static STARTER: Kind = Kind {
    name: "starter",
    summary: "A permanent-magnet starting motor with its brushes.",
    terminals: Terminals::Named(&["plus", "minus"]),
    fields: &[
        Field::default(
            "resistance",
            Want::Quantity(Dimension::Resistance),
            "35 mohm",
            "Armature, brushes and inner lead at 20 °C (estimate: 20 to 60 mΩ).",
        ),
        Field::default(
            "constant",
            Want::Quantity(Dimension::MotorConstant),
            "0.0115 V·s/rad",
            "K at 20 °C (estimate: 0.008 to 0.016 V·s/rad).",
        ),
        Field::default(
            "friction-torque",
            Want::Quantity(Dimension::Torque),
            "0.15 N·m",
            "Brushes and bearings (estimate).",
        ),
        Field::default("drag", Want::Quantity(Dimension::Drag), "5e-5 N·m·s/rad", "Windage and oil (estimate)."),
        Field::default(
            "inertia",
            Want::Quantity(Dimension::Inertia),
            "1.1e-4 kg·m2",
            "Of the rotor (estimate: 0.5 to 2 times 1e-4 kg·m²); only an inertia drive depends on it.",
        ),
        Field::optional(
            "breakaway",
            Want::Quantity(Dimension::Torque),
            "Torque to start the rotor alone; 1.3 times the friction when not given (estimate).",
        ),
        Field::optional("seized", Want::Flag, "`true` when the rotor is stuck."),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new(
            "brushes-worn",
            "has worn brushes",
            3.0,
            &[Effect::Add("resistance")],
            Severity::Log { low: 15e-3, high: 0.3 },
            BRUSHES,
        ),
        Mode::new(
            "brush-hung",
            "has a brush hung up in its holder",
            2.0,
            &[Effect::Add("resistance")],
            Severity::Log { low: 0.3, high: 30.0 },
            BRUSHES,
        )
        .after(DAMP),
        Mode::new(
            "inner-lead-broken",
            "is open inside: lead or all brushes",
            1.5,
            &[Effect::Open("")],
            Severity::None,
            BRUSHES,
        )
        .after(SHOCK),
        Mode::new(
            "drags",
            "drags: dirt or water inside",
            2.0,
            &[Effect::Add("friction-torque")],
            Severity::Log { low: 0.1, high: 1.5 },
            STRIP,
        )
        .after(DAMP),
        Mode::new(
            "commutator-dirty",
            "has a burnt or dirty commutator",
            2.0,
            &[Effect::Scale("resistance")],
            Severity::Log { low: 1.4, high: 6.0 },
            STRIP,
        )
        .after(HEAT),
        Mode::new(
            "magnet-loose",
            "has a loose or cracked magnet",
            0.8,
            &[Effect::Scale("constant")],
            Severity::Even { low: 0.5, high: 0.85 },
            REPLACE,
        )
        .after(SHOCK),
        Mode::new(
            "turns-shorted",
            "has a burnt armature with shorted turns",
            0.8,
            &[Effect::Scale("resistance"), Effect::Scale("constant")],
            Severity::Even { low: 0.4, high: 0.85 },
            REPLACE,
        )
        .that_stays()
        .as_consequence()
        .after(HEAT),
        Mode::new(
            "stud-to-ground",
            "has a cracked stud insulator that leaks to ground",
            0.7,
            &[Effect::ToGround("plus")],
            Severity::Log { low: 10e-3, high: 10.0 },
            STUD,
        )
        .after(HANDS),
        Mode::new("seized", "is seized", 1.0, &[Effect::Set("seized", 1.0)], Severity::None, STRIP)
            .that_stays()
            .after(DAMP),
    ],
    share: 7.0,
    lower: |part| {
        let air = part.air();
        let friction = part.value(FRICTION);
        let alone = part.value_or(BREAKAWAY, BREAKAWAY_OVER_FRICTION * friction).max(friction);
        let rotor = RotorFigures { inertia: KilogramSquareMeters(part.value(INERTIA)), breakaway: NewtonMeters(alone) };
        let shaft = seen_from_motor(&part.mechanics(), &rotor, air);
        let resistance = air.map_or(part.ohms(RESISTANCE), |air| copper_at(part.ohms(RESISTANCE), air));
        let constant = part.value(CONSTANT) * air.map_or(1.0, ferrite);
        let drag = part.value(DRAG);
        let blocked = part.blocked() || part.holds(SEIZED) || shaft.jammed;
        part.motor(0, |branch| Motor {
            branch,
            resistance,
            constant: VoltSecondsPerRadian(constant),
            friction: NewtonMeters(friction + shaft.rubs.0),
            drag: NewtonMeterSecondsPerRadian(drag),
            breakaway: NewtonMeters(alone + shaft.rubs.0),
            blocked,
            drive: shaft.drive,
        });
    },
};

/// A ferrite magnet's flux over that at 20 °C.
pub(super) fn ferrite(air: Celsius) -> f64 {
    1.0 + FERRITE * (air.0 - 20.0)
}

const BRUSHES: Remedy =
    Remedy::new("renew", "renew the brushes of", 50.0, "battery's negative lead lifted before the starter comes out");
const STRIP: Remedy =
    Remedy::new("strip", "take apart and clean", 60.0, "battery's negative lead lifted before the starter comes out");
const REPLACE: Remedy =
    Remedy::new("replace", "replace", 40.0, "battery's negative lead lifted before the starter comes out");
const STUD: Remedy = Remedy::new(
    "insulate",
    "renew the stud insulator of",
    40.0,
    "battery's negative lead lifted: the stud is live or nearly so",
);
