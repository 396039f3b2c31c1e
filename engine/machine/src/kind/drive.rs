//! What couples a starting motor to its engine: an inertia drive, a one-way clutch or a pre-engaged pinion.
//! Law: see `shaft`. An inertia drive meets the ring gear only above α = (q·F + T)/J of the rotor: the estimate of
//! 3400 rad/s² is that of a 0.12 kg pinion on a 30 mm lead; the other types are always in mesh.
//! A torque limiter holds the engine up to its torque; a rotor that would have to give more turns alone against it.
//! A pre-engaged pinion is pushed in by the motor's `solenoid`, which closes the motor's contact only then.
//! Not modelled: a limiter that slips for a part of each turn, a pinion that meets the ring gear tooth on tooth.

use quantity::{Celsius, Dimension};

use super::since::{DAMP, HANDS, HEAT, STANDING};
use super::spec::{Effect, Field, Kind, Mode, Remedy, Severity, Terminals, Want};

const TYPE: usize = 2;
const RATIO: usize = 3;
const EFFICIENCY: usize = 4;
const ENGAGES_ABOVE: usize = 5;
const JAMMED: usize = 6;
const LIMITER: usize = 7;
const SLIPS_BELOW: usize = 8;

/// Acceleration of the rotor above which an inertia drive is thrown into mesh (estimate; see the module's head).
const INERTIA_ENGAGES_ABOVE: f64 = 3400.0;
/// No rotor reaches this acceleration, rad/s²: the drive never engages.
pub(super) const NEVER: f64 = 1e9;
/// Index of the word `inertia`.
const INERTIA: f64 = 0.0;

/// `kind = "drive"`.
pub static DRIVE: Kind = Kind {
    name: "drive",
    summary: "The gear or clutch through which a motor turns its engine.",
    terminals: Terminals::None,
    fields: &[
        Field::required("motor", Want::Part(&["starter", "motor"]), "The motor that it sits on."),
        Field::required("engine", Want::Part(&["engine"]), "The engine that it turns."),
        Field::default(
            "type",
            Want::Choice(&["inertia", "one-way-clutch", "pre-engaged"]),
            "inertia",
            "How it comes into mesh.",
        ),
        Field::required(
            "ratio",
            Want::Ratio { low: 1.0, high: 200.0 },
            "Turns of the motor for one of the crankshaft; 10 to 30 is usual (estimate).",
        ),
        Field::default(
            "efficiency",
            Want::Ratio { low: 0.1, high: 1.0 },
            "0.85",
            "Share of the motor's torque that arrives (estimate: 0.8 to 0.9).",
        ),
        Field::optional(
            "engages-above",
            Want::Quantity(Dimension::AngularAcceleration),
            "Acceleration of the rotor that throws it into mesh; 3400 rad/s² for an inertia drive (estimate), else always in mesh.",
        ),
        Field::optional("jammed", Want::Flag, "`true` when it is stuck in the ring gear and holds the motor."),
        Field::optional(
            "limiter",
            Want::Quantity(Dimension::Torque),
            "Torque at the crankshaft above which a torque limiter slips; none when not given (estimate: two to three times what the engine wants).",
        ),
        Field::optional(
            "slips-below",
            Want::Quantity(Dimension::Temperature),
            "Temperature below which a one-way clutch does not take hold; holds at any when not given.",
        ),
        Field::optional("seized", Want::Flag, "`true` when a one-way clutch does not let go of the running engine."),
    ],
    branches: &[],
    modes: &[
        Mode::new(
            "dirty-helix",
            "is sticky with dirt and hardly takes hold",
            4.0,
            &[Effect::SetTo("engages-above")],
            Severity::Log { low: 6e3, high: 60e3 },
            CLEAN,
        )
        .after(DAMP)
        .only("type", &["inertia"]),
        Mode::new(
            "slips",
            "slips: teeth, rollers or spring are worn and it does not take hold",
            3.0,
            &[Effect::Set("engages-above", NEVER)],
            Severity::None,
            REPLACE,
        ),
        Mode::new(
            "slips-cold",
            "slips in the cold: thick oil or weak springs hold its rollers back",
            2.0,
            &[Effect::SetTo("slips-below")],
            Severity::Even { low: -10.0, high: 18.0 },
            WASH,
        )
        .after(STANDING)
        .only("type", &["one-way-clutch"]),
        Mode::new(
            "does-not-let-go",
            "does not let go: the running engine drives the starter",
            0.5,
            &[Effect::Set("seized", 1.0)],
            Severity::None,
            REPLACE,
        )
        .after(HEAT)
        .only("type", &["one-way-clutch"]),
        Mode::new(
            "limiter-slips",
            "has a worn torque limiter that slips",
            2.0,
            &[Effect::Scale("limiter")],
            Severity::Log { low: 0.1, high: 0.6 },
            LIMITER_PLATES,
        )
        .after(HANDS),
        Mode::new("jammed-in-mesh", "is jammed in mesh", 1.0, &[Effect::Set("jammed", 1.0)], Severity::None, FREE)
            .that_stays()
            .after(HANDS),
    ],
    share: 5.0,
    lower: |_| {},
};

/// A drive's values as its shaft needs them.
pub(super) struct Gearing {
    pub ratio: f64,
    pub efficiency: f64,
    /// rad/s²; zero is always in mesh.
    pub engages_above: f64,
    pub jammed: bool,
    /// Torque at the crankshaft that a limiter holds, N·m; infinite without one.
    pub holds: f64,
}

impl Gearing {
    /// At an air temperature, 20 °C when not given.
    pub(super) fn of(values: &[f64], air: Option<Celsius>) -> Self {
        let or = |field: usize, other: f64| if values[field].is_nan() { other } else { values[field] };
        let usual = if values[TYPE] == INERTIA { INERTIA_ENGAGES_ABOVE } else { 0.0 };
        let slips = air.map_or(20.0, |air| air.0) < or(SLIPS_BELOW, f64::NEG_INFINITY);
        Self {
            ratio: values[RATIO],
            efficiency: values[EFFICIENCY],
            engages_above: if slips { NEVER } else { or(ENGAGES_ABOVE, usual) },
            jammed: values[JAMMED] == 1.0,
            holds: or(LIMITER, f64::INFINITY),
        }
    }
}

const CLEAN: Remedy =
    Remedy::new("clean", "clean", 25.0, "battery's negative lead lifted; leave the helix dry, never greased");
const REPLACE: Remedy =
    Remedy::new("replace", "replace", 40.0, "battery's negative lead lifted before the starter comes out");
const WASH: Remedy = Remedy::new(
    "clean",
    "change the oil of, wash and renew the springs of",
    75.0,
    "oil drained; battery's negative lead lifted",
);
const LIMITER_PLATES: Remedy =
    Remedy::new("renew", "renew the torque limiter of", 50.0, "oil drained; battery's negative lead lifted");
const FREE: Remedy = Remedy::new(
    "free",
    "free",
    20.0,
    "kill switch off, battery's negative lead lifted: it may jump when it comes free",
);
