//! A switch that follows the controls. Law: closed, V = I·R; open, no current.
//! It is closed while `closed-when` holds, or always when the sheet gives no condition; `stuck` overrides both.
//! One that does not close may be broken, worn or out of adjustment: a meter cannot tell, one act mends all three.
//! Not modelled: bounce, arcing, several poles (a switch a pole).

use super::since::{HANDS, SHOCK, WATER};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};
use circuit::Law;
use quantity::Dimension;

const RESISTANCE: usize = 0;
const CLOSED_WHEN: usize = 1;
const STUCK: usize = 2;

/// Water and dirt between the contacts (estimate: tap water in a small gap, salt in it or not).
const WET: Severity = Severity::Log { low: 50.0, high: 20e3 };

/// `kind = "switch"`.
pub static SWITCH: Kind = Kind {
    name: "switch",
    summary: "A contact that controls open and close.",
    terminals: Terminals::Ends { rings: false },
    fields: &[
        Field::default(
            "resistance",
            Want::Quantity(Dimension::Resistance),
            "20 mohm",
            "Resistance of the closed contact (estimate: 5 to 50 mΩ).",
        ),
        Field::optional(
            "closed-when",
            Want::Controls,
            "The positions of controls in which it is closed; always closed when not given.",
        ),
        Field::optional(
            "stuck",
            Want::Choice(&["open", "closed"]),
            "A contact that never makes (`open`) or never breaks (`closed`).",
        ),
        Field::default(
            "role",
            Want::Choice(&["control", "interlock"]),
            "control",
            "An interlock lets a start happen, or refuses it; somebody may have bridged it.",
        ),
        Field::default(
            "looks",
            Want::Choice(&["right", "misplaced", "wet", "bridged"]),
            "right",
            "What is seen of it; `misplaced` is a control in a position that was not meant.",
        ),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("open", "does not close", 3.0, &[Effect::Choose("stuck", "open")], Severity::None, CLEAN)
            .after(SHOCK),
        Mode::new(
            "high-resistance",
            "has burnt or dirty contacts",
            3.0,
            &[Effect::SetTo("resistance")],
            Severity::Log { low: 0.1, high: 30.0 },
            CLEAN,
        )
        .after(WATER),
        Mode::new("stuck-closed", "does not open", 1.0, &[Effect::Choose("stuck", "closed")], Severity::None, REPLACE)
            .after(HANDS),
        Mode::new(
            "wet",
            "has water across its contacts",
            1.0,
            &[Effect::Across("from", "to"), Effect::Choose("looks", "wet")],
            WET,
            DRY,
        )
        .after(WATER),
        Mode::new(
            "bridged",
            "has been bridged by an earlier hand",
            0.7,
            &[Effect::Choose("stuck", "closed"), Effect::Choose("looks", "bridged")],
            Severity::None,
            UNBRIDGE,
        )
        .that_stays()
        .after(HANDS)
        .only("role", &["interlock"]),
    ],
    share: 9.0,
    lower: |part| {
        let closed = match part.choice(STUCK) {
            0 => false,
            1 => true,
            _ => part.value_or(CLOSED_WHEN, 1.0) == 1.0,
        };
        if closed {
            part.resist(0, part.ohms(RESISTANCE));
        } else {
            part.set(0, Law::Open);
        }
    },
};

const CLEAN: Remedy = Remedy::new("clean", "clean or adjust", 10.0, "");
const DRY: Remedy = Remedy::new("dry", "dry, clean and seal", 15.0, "ignition off before it is opened");
const UNBRIDGE: Remedy = Remedy::new(
    "unbridge",
    "take the bridge off",
    8.0,
    "try every start that has to be refused before the machine goes out",
);
const REPLACE: Remedy = Remedy::new(
    "replace",
    "replace",
    15.0,
    "kill switch off before the battery is connected again: the starter may turn at once",
);
