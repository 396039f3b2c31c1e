//! A switch that follows the controls. Law: closed, V = I·R; open, no current.
//! It is closed while `closed-when` holds, or always when the sheet gives no condition; `stuck` overrides both.
//! Not modelled: bounce, arcing, several poles (a switch a pole), water across it (a `[fault]` with a bridge, where a
//! sheet's author has seen it).

use super::since::{HANDS, SHOCK, WATER};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};
use circuit::Law;
use quantity::Dimension;

const RESISTANCE: usize = 0;
const CLOSED_WHEN: usize = 1;
const STUCK: usize = 2;

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
const REPLACE: Remedy = Remedy::new(
    "replace",
    "replace",
    15.0,
    "kill switch off before the battery is connected again: the starter may turn at once",
);
