//! A heavy cable with a ring at each end that names a part's terminal. Law: R = ρ·ℓ/A of copper at 20 °C (or the
//! resistance written), rising 0.393 %/K when an air temperature is given; corrosion adds to it; see
//! `quantity::conductor`. Rings are joints: a fixed resistance of their own.
//! Promise: more corrosion never lets more current pass. Not modelled: warming under load, broken strands one by one.

use quantity::conductor::{copper_at, resistance};
use quantity::{Celsius, Dimension, Meters, Ohms, SquareMeters};

use super::joint;
use super::since::{HANDS, SHOCK, WATER};
use super::spec::{Effect, Fallback, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};
use crate::lower::Lower;

const LENGTH: usize = 0;
const AREA: usize = 1;
const RESISTANCE: usize = 2;
const CORROSION: usize = 3;
const FROM_RING: usize = 4;
const TO_RING: usize = 5;
/// The field that tells of a ring that moves.
const LOOKS: Field = Field::default(
    "looks",
    Want::Choice(&["fast", "loose"]),
    "fast",
    "What a hand that moves its rings finds; corrosion under a ring is not seen.",
);

/// The four fields that cable and wire share, in this order.
pub(super) const LENGTH_FIELD: Field = Field::optional("length", Want::Quantity(Dimension::Length), "Its length.");
pub(super) const AREA_FIELD: Field =
    Field::optional("area", Want::Quantity(Dimension::Area), "Section of its copper, in mm² or AWG.");
pub(super) const RESISTANCE_FIELD: Field = Field {
    name: "resistance",
    want: Want::Quantity(Dimension::Resistance),
    fallback: Fallback::Or(&[&["length", "area"]]),
    doc: "Resistance from end to end at 20 °C, in place of length and area.",
};
pub(super) const CORROSION_FIELD: Field = Field::default(
    "corrosion",
    Want::Quantity(Dimension::Resistance),
    "0 ohm",
    "What corrosion along its length and in its crimps adds.",
);

/// `kind = "cable"`.
pub static CABLE: Kind = Kind {
    name: "cable",
    summary: "A heavy cable; a ring joint is implied at each end that names a part's terminal.",
    terminals: Terminals::Ends { rings: true },
    fields: &[
        LENGTH_FIELD,
        AREA_FIELD,
        RESISTANCE_FIELD,
        CORROSION_FIELD,
        Field::default(
            "from-ring",
            Want::Quantity(Dimension::Resistance),
            "0.1 mohm",
            "Resistance of the ring at `from` (estimate: 0.05 to 0.3 mΩ when clean and tight).",
        ),
        Field::default(
            "to-ring",
            Want::Quantity(Dimension::Resistance),
            "0.1 mohm",
            "Resistance of the ring at `to` (estimate: 0.05 to 0.3 mΩ when clean and tight).",
        ),
        LOOKS,
    ],
    branches: &[
        Path { name: "", from: 0, to: 1 },
        Path { name: "from-ring", from: 2, to: 0 },
        Path { name: "to-ring", from: 1, to: 3 },
    ],
    modes: &[
        Mode::new("open", "is broken", 1.0, &[Effect::Open("")], Severity::None, REPLACE).after(SHOCK),
        Mode::new(
            "corroded",
            "is corroded along its length",
            2.0,
            &[Effect::SetTo("corrosion")],
            Severity::Log { low: 5e-3, high: 0.5 },
            REPLACE,
        )
        .after(WATER),
        Mode::new("chafed-to-ground", "is chafed through to ground", 0.4, &[Effect::ToGround("from")], CHAFE, INSULATE)
            .after(SHOCK),
        Mode::new(
            "from-ring-loose",
            "is loose at its first ring",
            2.0,
            &[Effect::SetTo("from-ring"), Effect::Choose("looks", "loose")],
            joint::LOOSE,
            CLEAN,
        )
        .after(HANDS),
        Mode::new(
            "from-ring-corroded",
            "is corroded at its first ring",
            2.0,
            &[Effect::SetTo("from-ring")],
            joint::CORRODED,
            CLEAN,
        )
        .after(WATER),
        Mode::new(
            "to-ring-loose",
            "is loose at its second ring",
            2.0,
            &[Effect::SetTo("to-ring"), Effect::Choose("looks", "loose")],
            joint::LOOSE,
            CLEAN,
        )
        .after(HANDS),
        Mode::new(
            "to-ring-corroded",
            "is corroded at its second ring",
            2.0,
            &[Effect::SetTo("to-ring")],
            joint::CORRODED,
            CLEAN,
        )
        .after(WATER),
    ],
    share: 6.0,
    lower: |part| {
        conduct(part);
        part.resist(1, part.ohms(FROM_RING));
        part.resist(2, part.ohms(TO_RING));
    },
};

/// Gives path 0 the law of a copper conductor from the four shared fields.
pub(super) fn conduct(part: &mut Lower<'_>) {
    let at_20 = part
        .value_or(RESISTANCE, resistance(Meters(part.value(LENGTH)), SquareMeters(part.value(AREA)), Celsius(20.0)).0);
    let copper = part.air().map_or(Ohms(at_20), |air| copper_at(Ohms(at_20), air));
    part.resist(0, copper + part.ohms(CORROSION));
}

/// A chafed insulation touches bare metal somewhere between hard and hardly.
pub(super) const CHAFE: Severity = Severity::Log { low: 10e-3, high: 1e3 };
pub(super) const INSULATE: Remedy = Remedy::new(
    "insulate",
    "insulate and reroute",
    20.0,
    "battery's negative lead lifted before the chafed place is moved",
);
const REPLACE: Remedy = Remedy::new("replace", "replace", 25.0, "battery's negative lead lifted first, connected last");
/// Loose or corroded look alike to a meter; taking the rings off mends both.
const CLEAN: Remedy = Remedy::new(
    "clean",
    "take off, clean to bare metal and tighten both rings of",
    8.0,
    "battery's negative lead lifted first, connected last; soft terminals shear above 4 to 6 N·m",
);
