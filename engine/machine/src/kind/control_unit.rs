//! A control unit: a consumer between supply and ground, awake or asleep, with one driver from `output` to `ground`.
//! Law: a current that hardly depends on voltage; the driver is a contact that follows the controls. One that resets
//! below a voltage is a relay whose coil is the unit's own supply: its driver opens there and closes again above.
//! Not modelled: the seconds of a restart, minutes until it sleeps, its logic.

use circuit::Law;
use quantity::{Dimension, Volts};

use super::load::draw;
use super::since::{HANDS, JUMP, WATER};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const CURRENT: usize = 0;
const ASLEEP: usize = 1;
const AWAKE_WHEN: usize = 2;
const AWAKE: usize = 3;
const OUTPUT_WHEN: usize = 4;
const OUTPUT_RESISTANCE: usize = 5;
const OUTPUT: usize = 6;
const RESETS_BELOW: usize = 7;

/// `kind = "control-unit"`.
pub static CONTROL_UNIT: Kind = Kind {
    name: "control-unit",
    summary: "A control unit with a sleeping current and one driver to ground.",
    terminals: Terminals::Named(&["supply", "ground", "output"]),
    fields: &[
        Field::default("current", Want::Quantity(Dimension::Current), "0.6 A", "Current while awake (estimate)."),
        Field::default(
            "asleep",
            Want::Quantity(Dimension::Current),
            "1 mA",
            "Standing current while asleep (common practice: 1 to 5 mA).",
        ),
        Field::optional(
            "awake-when",
            Want::Controls,
            "The positions of controls in which it is awake; always awake when not given.",
        ),
        Field::optional("awake", Want::Choice(&["yes", "no"]), "Awake or asleep whatever the controls say."),
        Field::optional(
            "output-when",
            Want::Controls,
            "The positions of controls in which its driver conducts; never when not given.",
        ),
        Field::default(
            "output-resistance",
            Want::Quantity(Dimension::Resistance),
            "50 mohm",
            "Resistance of the conducting driver (estimate).",
        ),
        Field::optional(
            "output-stuck",
            Want::Choice(&["open", "closed"]),
            "A driver that never conducts (`open`) or always (`closed`).",
        ),
        Field::optional(
            "resets-below",
            Want::Quantity(Dimension::Voltage),
            "Supply below which it resets and its driver opens; never when not given (estimate: good ones work down to 6 V).",
        ),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }, Path { name: "output", from: 2, to: 1 }],
    modes: &[
        Mode::new(
            "output-dead",
            "has a dead output",
            1.0,
            &[Effect::Choose("output-stuck", "open")],
            Severity::None,
            REPLACE,
        )
        .after(JUMP),
        Mode::new(
            "resets",
            "resets as soon as the battery sags",
            1.0,
            &[Effect::SetTo("resets-below")],
            Severity::Even { low: 7.5, high: 11.5 },
            REPLACE,
        )
        .after(WATER),
        Mode::new(
            "inhibited",
            "refuses (tilt sensor or immobilizer)",
            1.0,
            &[Effect::Choose("output-stuck", "open")],
            Severity::None,
            RESET,
        )
        .after(HANDS),
        Mode::new("stays-awake", "never falls asleep", 1.0, &[Effect::Choose("awake", "yes")], Severity::None, RESET),
        Mode::new(
            "draws-too-much",
            "draws too much while asleep",
            1.0,
            &[Effect::SetTo("asleep")],
            Severity::Log { low: 20e-3, high: 0.5 },
            REPLACE,
        )
        .after(WATER),
        Mode::new("dead", "is dead", 0.5, &[Effect::Open("*")], Severity::None, REPLACE).after(JUMP),
    ],
    share: 1.0,
    lower: |part| {
        let awake = match part.choice(AWAKE) {
            0 => true,
            1 => false,
            _ => part.value_or(AWAKE_WHEN, 1.0) == 1.0,
        };
        part.set(0, draw(part.value(if awake { CURRENT } else { ASLEEP })));
        let conducts = match part.choice(OUTPUT) {
            0 => false,
            1 => true,
            _ => part.holds(OUTPUT_WHEN),
        };
        if conducts {
            part.resist(1, part.ohms(OUTPUT_RESISTANCE));
            let resets = Volts(part.value(RESETS_BELOW));
            if !resets.0.is_nan() {
                part.relay(0, 1, resets, resets, None);
            }
        } else {
            part.set(1, Law::Open);
        }
    },
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 20.0, "rule out its supply and its ground first");
const RESET: Remedy = Remedy::new("reset", "reset", 10.0, "");
