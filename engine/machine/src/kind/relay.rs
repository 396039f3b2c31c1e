//! A relay: a coil that moves one contact. Law: latch, see `circuit::operating_point`.
//! Pull-in and drop-out are magnitudes of coil voltage. A diode that is built in beside the coil blocks as long as it is
//! well; a loose stud inside is one of the burnt contacts, a loose nut on it is its cable's ring.
//! Not modelled here: warming of the coil, an armature that lets go late.

use quantity::{Dimension, Volts};

use super::since::JUMP;
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const COIL: usize = 0;
const CONTACT: usize = 1;
const PULL_IN: usize = 2;
const DROP_OUT: usize = 3;
const STUCK: usize = 4;

/// `kind = "relay"`.
pub static RELAY: Kind = Kind {
    name: "relay",
    summary: "A coil (coil-a, coil-b) that closes one contact (line, load).",
    terminals: Terminals::Named(&["coil-a", "coil-b", "line", "load"]),
    fields: &[
        Field::required(
            "coil",
            Want::Quantity(Dimension::Resistance),
            "Resistance of the coil; starter relays have 3 to 6 Ω (common practice, no source).",
        ),
        Field::default(
            "contact",
            Want::Quantity(Dimension::Resistance),
            "0.8 mohm",
            "Resistance of the closed contact, studs included (estimate: 0.3 to 1.5 mΩ).",
        ),
        Field::default(
            "pull-in",
            Want::Quantity(Dimension::Voltage),
            "7 V",
            "Coil voltage at which it pulls in (estimate: 6 to 8 V).",
        ),
        Field::default(
            "drop-out",
            Want::Quantity(Dimension::Voltage),
            "3 V",
            "Coil voltage below which it drops out (estimate: 1 to 4 V).",
        ),
        Field::optional(
            "stuck",
            Want::Choice(&["open", "closed"]),
            "A contact that never makes (`open`) or never breaks (`closed`), wherever the armature is.",
        ),
        Field::default(
            "diode",
            Want::Choice(&["none", "built-in"]),
            "none",
            "Whether a diode across the coil is part of it.",
        ),
    ],
    branches: &[Path { name: "coil", from: 0, to: 1 }, Path { name: "contact", from: 2, to: 3 }],
    modes: &[
        mode(
            "contacts-burnt",
            "has burnt contacts",
            3.0,
            &[Effect::SetTo("contact")],
            Severity::Log { low: 8e-3, high: 1.0 },
        )
        .as_consequence(),
        mode(
            "contacts-dead",
            "pulls in but its contacts do not make",
            2.0,
            &[Effect::Choose("stuck", "open")],
            Severity::None,
        ),
        mode("welded", "has welded contacts", 0.8, &[Effect::Choose("stuck", "closed")], Severity::None)
            .as_consequence(),
        mode("coil-open", "has an open coil", 2.0, &[Effect::Open("coil")], Severity::None),
        mode(
            "coil-turns-shorted",
            "has shorted coil turns",
            0.5,
            &[Effect::Scale("coil")],
            Severity::Even { low: 0.2, high: 0.6 },
        ),
        mode(
            "diode-shorted",
            "has a shorted diode across its coil",
            0.5,
            &[Effect::Across("coil-a", "coil-b")],
            Severity::Log { low: 10e-3, high: 1.0 },
        )
        .after(JUMP)
        .only("diode", &["built-in"]),
        mode(
            "sticky",
            "is stiff and pulls in late or not at all",
            1.0,
            &[Effect::Scale("pull-in"), Effect::Scale("drop-out")],
            Severity::Even { low: 1.3, high: 2.2 },
        ),
    ],
    share: 7.0,
    lower: |part| {
        part.resist(COIL, part.ohms(COIL));
        part.resist(CONTACT, part.ohms(CONTACT));
        let stuck = match part.choice(STUCK) {
            0 => Some(false),
            1 => Some(true),
            _ => None,
        };
        part.relay(COIL, CONTACT, Volts(part.value(PULL_IN)), Volts(part.value(DROP_OUT)), stuck);
    },
};

const fn mode(
    name: &'static str,
    title: &'static str,
    odds: f64,
    effects: &'static [Effect],
    severity: Severity,
) -> Mode {
    let caution = "lift the battery's negative lead before touching the relay's studs";
    Mode::new(name, title, odds, effects, severity, Remedy::new("replace", "replace", 8.0, caution))
}
