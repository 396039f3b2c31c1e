//! A thin wire of a loom. Law: as `cable`, without rings. Wires of one loom can chafe through to each other.
//! Not modelled: warming, a break that comes and goes (an intermittent fault is the diagnosis's business).

use super::cable::{AREA_FIELD, CHAFE, CORROSION_FIELD, INSULATE, LENGTH_FIELD, RESISTANCE_FIELD, conduct};
use super::since::{SHOCK, WATER};
use super::spec::{Effect, Kind, Mode, Path, Remedy, Severity, Terminals};

/// `kind = "wire"`.
pub static WIRE: Kind = Kind {
    name: "wire",
    summary: "A wire of a loom.",
    terminals: Terminals::Ends { rings: false },
    fields: &[LENGTH_FIELD, AREA_FIELD, RESISTANCE_FIELD, CORROSION_FIELD],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("open", "is broken", 2.0, &[Effect::Open("")], Severity::None, MEND).after(SHOCK),
        Mode::new(
            "corroded",
            "is corroded along its length or in a crimp",
            1.5,
            &[Effect::SetTo("corrosion")],
            Severity::Log { low: 0.1, high: 30.0 },
            MEND,
        )
        .after(WATER),
        Mode::new("chafed-to-ground", "is chafed through to ground", 1.0, &[Effect::ToGround("from")], CHAFE, INSULATE)
            .after(SHOCK),
        Mode::new("chafed-to", "is chafed through to the", 0.5, &[Effect::ToLoom("from")], CHAFE, INSULATE)
            .after(SHOCK),
    ],
    share: 3.0,
    lower: conduct,
};

const MEND: Remedy = Remedy::new("mend", "mend", 15.0, "battery's negative lead lifted before a live wire is cut");
