//! A bolted or crimped joint that a hand can undo. Law: V = I·R, R fixed during one crank.
//! Promise: dissipates, never supplies; symmetric in its two terminals.
//! Not modelled: warming during the crank, contact bounce, the last of a film breaking down under voltage.

use quantity::Dimension;

use super::since::{HANDS, SHOCK, WATER};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

/// Loose: it touches somewhere (estimate; a clean and tight one has 0.05 to 0.3 mΩ).
pub(super) const LOOSE: Severity = Severity::Log { low: 5e-3, high: 1.0 };
/// Corroded but tight (estimate: above 3 mΩ is bad, 10 to 100 mΩ is common).
pub(super) const CORRODED: Severity = Severity::Log { low: 5e-3, high: 0.3 };

/// `kind = "joint"`.
pub static JOINT: Kind = Kind {
    name: "joint",
    summary: "A bolted joint, such as a battery terminal or a ground point.",
    terminals: Terminals::Ends { rings: false },
    fields: &[
        Field::default(
            "resistance",
            Want::Quantity(Dimension::Resistance),
            "0.1 mohm",
            "Its resistance (estimate: 0.05 to 0.3 mΩ when clean and tight).",
        ),
        Field::default(
            "looks",
            Want::Choice(&["fast", "loose", "off"]),
            "fast",
            "What a hand that moves it finds; corrosion under the ring is not seen.",
        ),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new(
            "loose",
            "is loose",
            3.0,
            &[Effect::SetTo("resistance"), Effect::Choose("looks", "loose")],
            LOOSE,
            CLEAN,
        )
        .after(HANDS),
        Mode::new("corroded", "is corroded", 3.0, &[Effect::SetTo("resistance")], CORRODED, CLEAN).after(WATER),
        Mode::new(
            "not-clamped",
            "is not clamped: screw bottoms or paint lies under the ring",
            1.0,
            &[Effect::SetTo("resistance")],
            Severity::Log { low: 0.02, high: 10.0 },
            CLEAN,
        )
        .after(HANDS),
        Mode::new("off", "is off", 1.0, &[Effect::Open(""), Effect::Choose("looks", "off")], Severity::None, FASTEN)
            .that_stays()
            .after(SHOCK),
    ],
    share: 5.0,
    lower: |part| part.resist(0, part.ohms(0)),
};

/// Loose, corroded or badly seated look alike to a meter; taking the joint apart mends all three.
const CLEAN: Remedy = Remedy::new(
    "clean",
    "take apart, clean to bare metal, seat and tighten",
    8.0,
    "negative lead off first, on last; an insulated tool; soft terminals shear above 4 to 6 N·m",
);
const FASTEN: Remedy = Remedy::new("fasten", "fasten", 5.0, "an insulated tool");
