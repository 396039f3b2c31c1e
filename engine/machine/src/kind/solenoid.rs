//! The solenoid of a pre-engaged starter: it pushes the pinion in and closes the motor's contact.
//! Law: two windings of equal turns, both fed at `start`: the pull-in winding goes to `load`, so it is in series with the
//! motor and dead as soon as the contact closes; the hold-in winding goes to the `case`. The plunger feels the sum of the
//! two currents, which is the current of their common lead: latch on the drop across that lead, see
//! `circuit::operating_point`. So an open hold-in winding chatters on a good battery, an open pull-in winding leaves too
//! little to move the plunger, and current fed back from `load` through both windings cancels and lets go.
//! The windings follow copper when an air temperature is given. Not modelled: the plunger's way, warming, bounce.

use quantity::conductor::copper_at;
use quantity::{Dimension, Ohms, Volts};

use super::since::{DAMP, HEAT, JUMP, WATER};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const PULL: usize = 0;
const HOLD: usize = 1;
const CONTACT: usize = 2;
const PULL_IN: usize = 3;
const DROP_OUT: usize = 4;
const STUCK: usize = 5;

const LEAD_PATH: usize = 0;
const CONTACT_PATH: usize = 1;
const PULL_PATH: usize = 2;
const HOLD_PATH: usize = 3;

/// The lead from the start terminal to both windings (estimate: a blade and its solder).
const LEAD: Ohms = Ohms(5e-3);

/// `kind = "solenoid"`.
pub static SOLENOID: Kind = Kind {
    name: "solenoid",
    summary: "The solenoid on a pre-engaged starter: pull-in winding (start to load), hold-in winding (start to case), one contact (line, load). One that stands apart is a relay.",
    terminals: Terminals::Named(&["start", "line", "load", "case", "windings"]),
    fields: &[
        Field::default(
            "pull",
            Want::Quantity(Dimension::Resistance),
            "0.45 ohm",
            "Resistance of the pull-in winding at 20 °C (estimate: 0.2 to 0.7 Ω).",
        ),
        Field::default(
            "hold",
            Want::Quantity(Dimension::Resistance),
            "1.2 ohm",
            "Resistance of the hold-in winding at 20 °C (estimate: 0.8 to 1.8 Ω).",
        ),
        Field::default(
            "contact",
            Want::Quantity(Dimension::Resistance),
            "0.5 mohm",
            "Resistance of the closed contact, studs included (estimate: 0.3 to 1 mΩ).",
        ),
        Field::default(
            "pull-in",
            Want::Quantity(Dimension::Voltage),
            "7 V",
            "Voltage over both windings at 20 °C at which the plunger moves (estimate: 6 to 8 V).",
        ),
        Field::default(
            "drop-out",
            Want::Quantity(Dimension::Voltage),
            "2.5 V",
            "Voltage over the hold-in winding alone at 20 °C below which the plunger falls back (estimate: 1 to 4 V).",
        ),
        Field::optional(
            "stuck",
            Want::Choice(&["open", "closed"]),
            "A contact that never makes (`open`) or never breaks (`closed`), wherever the plunger is.",
        ),
    ],
    // The first two as in a relay: what moves the plunger, and what the plunger moves.
    branches: &[
        Path { name: "coil", from: 0, to: 4 },
        Path { name: "contact", from: 1, to: 2 },
        Path { name: "pull", from: 4, to: 2 },
        Path { name: "hold", from: 4, to: 3 },
    ],
    modes: &[
        Mode::new("hold-open", "has an open hold-in winding", 1.5, &[Effect::Open("hold")], Severity::None, REPLACE)
            .after(HEAT),
        Mode::new("pull-open", "has an open pull-in winding", 1.0, &[Effect::Open("pull")], Severity::None, REPLACE)
            .after(HEAT),
        Mode::new(
            "start-terminal-open",
            "has a broken start terminal: both windings get nothing",
            1.0,
            &[Effect::Open("coil")],
            Severity::None,
            REPLACE,
        )
        .after(WATER),
        Mode::new(
            "hold-turns-shorted",
            "has shorted turns in its hold-in winding",
            0.5,
            &[Effect::Scale("hold")],
            Severity::Even { low: 0.15, high: 0.5 },
            REPLACE,
        )
        .that_stays()
        .after(HEAT),
        Mode::new(
            "contacts-burnt",
            "has burnt contacts",
            3.0,
            &[Effect::SetTo("contact")],
            Severity::Log { low: 8e-3, high: 1.0 },
            REPLACE,
        )
        .as_consequence(),
        Mode::new(
            "contacts-dead",
            "pulls in but its contacts do not make",
            2.0,
            &[Effect::Choose("stuck", "open")],
            Severity::None,
            REPLACE,
        ),
        Mode::new("welded", "has welded contacts", 0.8, &[Effect::Choose("stuck", "closed")], Severity::None, REPLACE)
            .as_consequence()
            .after(JUMP),
        Mode::new(
            "sticky",
            "has a stiff plunger that moves late or not at all",
            2.0,
            &[Effect::Scale("pull-in"), Effect::Scale("drop-out")],
            Severity::Even { low: 1.3, high: 2.2 },
            PLUNGER,
        )
        .after(DAMP),
    ],
    share: 7.0,
    lower: |part| {
        let winding = |at_20: Ohms| part.air().map_or(at_20, |air| copper_at(at_20, air));
        let (pull, hold) = (part.ohms(PULL), part.ohms(HOLD));
        let (pull_now, hold_now) = (winding(pull), winding(hold));
        part.resist(LEAD_PATH, LEAD);
        part.resist(CONTACT_PATH, part.ohms(CONTACT));
        part.resist(PULL_PATH, pull_now);
        part.resist(HOLD_PATH, hold_now);
        let stuck = match part.choice(STUCK) {
            0 => Some(false),
            1 => Some(true),
            _ => None,
        };
        // Ampere-turns are what moves it: volts of a sound pair at 20 °C, told as the drop across the common lead.
        let moves = LEAD.0 * part.value(PULL_IN) * (1.0 / pull.0 + 1.0 / hold.0);
        let falls = LEAD.0 * part.value(DROP_OUT) / hold.0;
        part.relay(LEAD_PATH, CONTACT_PATH, Volts(moves), Volts(falls), stuck);
    },
};

const REPLACE: Remedy =
    Remedy::new("replace", "replace", 25.0, "lift the battery's negative lead before touching the solenoid's studs");
const PLUNGER: Remedy = Remedy::new(
    "clean",
    "take out, clean and grease the plunger of",
    30.0,
    "lift the battery's negative lead before the solenoid comes off",
);
