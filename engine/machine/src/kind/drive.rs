//! What couples a starting motor to its engine: an inertia drive, a one-way clutch or a pre-engaged pinion.
//! Law: see `shaft`. An inertia drive meets the ring gear only above α = (q·F + T)/J of the rotor: the estimate of
//! 3400 rad/s² is that of a 0.12 kg pinion on a 30 mm lead; the other types are always in mesh.
//! Not modelled: a clutch that slips only when cold, a torque limiter, the pull-in winding of a pre-engaged starter.

use quantity::Dimension;

use super::since::{DAMP, HANDS};
use super::spec::{Effect, Field, Kind, Mode, Remedy, Severity, Terminals, Want};

const TYPE: usize = 2;
const RATIO: usize = 3;
const EFFICIENCY: usize = 4;
const ENGAGES_ABOVE: usize = 5;
const JAMMED: usize = 6;

/// Acceleration of the rotor above which an inertia drive is thrown into mesh (estimate; see the module's head).
const INERTIA_ENGAGES_ABOVE: f64 = 3400.0;
/// No rotor reaches this acceleration, rad/s²: the drive never engages.
const NEVER: f64 = 1e9;

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
        .only("type", "inertia"),
        Mode::new(
            "slips",
            "slips: teeth, rollers or spring are worn and it does not take hold",
            3.0,
            &[Effect::Set("engages-above", NEVER)],
            Severity::None,
            REPLACE,
        ),
        Mode::new("jammed-in-mesh", "is jammed in mesh", 1.0, &[Effect::Set("jammed", 1.0)], Severity::None, FREE)
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
}

impl Gearing {
    pub(super) fn of(values: &[f64]) -> Self {
        let given = values[ENGAGES_ABOVE];
        let usual = if values[TYPE] == 0.0 { INERTIA_ENGAGES_ABOVE } else { 0.0 };
        Self {
            ratio: values[RATIO],
            efficiency: values[EFFICIENCY],
            engages_above: if given.is_nan() { usual } else { given },
            jammed: values[JAMMED] == 1.0,
        }
    }
}

const CLEAN: Remedy =
    Remedy::new("clean", "clean", 25.0, "battery's negative lead lifted; leave the helix dry, never greased");
const REPLACE: Remedy =
    Remedy::new("replace", "replace", 40.0, "battery's negative lead lifted before the starter comes out");
const FREE: Remedy = Remedy::new(
    "free",
    "free",
    20.0,
    "kill switch off, battery's negative lead lifted: it may jump when it comes free",
);
