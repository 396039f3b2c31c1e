//! A plug with ways. Law: V = I·R per way. Terminals of way N are `N-in` and `N-out`, its branch is `ID.N`.
//! A spread female, green copper and a way burnt by its own heat look alike to a meter, and one act mends all three.
//! Not modelled: one bad way among good ones, pulled pins that touch.

use quantity::Dimension;

use super::since::{HANDS, WATER};
use super::spec::{Effect, Field, Kind, Mode, Remedy, Severity, Terminals, Want};

const RESISTANCE: usize = 0;
const CORROSION: usize = 1;

/// Water between neighboring ways (estimate).
const WET: Severity = Severity::Log { low: 100.0, high: 20e3 };

/// `kind = "connector"`.
pub static CONNECTOR: Kind = Kind {
    name: "connector",
    summary: "A plug with several ways that can be unplugged.",
    terminals: Terminals::Ways,
    fields: &[
        Field::default(
            "resistance",
            Want::Quantity(Dimension::Resistance),
            "3 mohm",
            "Resistance of each way (estimate: 1 to 5 mΩ).",
        ),
        Field::default(
            "corrosion",
            Want::Quantity(Dimension::Resistance),
            "0 ohm",
            "What water and corrosion add to each way.",
        ),
        Field::default(
            "looks",
            Want::Choice(&["latched", "unplugged", "wet"]),
            "latched",
            "What is seen of it without pulling it apart.",
        ),
    ],
    branches: &[],
    modes: &[
        Mode::new(
            "unplugged",
            "is unplugged or not latched",
            2.0,
            &[Effect::Open("*"), Effect::Choose("looks", "unplugged")],
            Severity::None,
            PLUG,
        )
        .that_stays()
        .after(HANDS),
        Mode::new(
            "corroded",
            "is wet, corroded or burnt",
            4.0,
            &[Effect::SetTo("corrosion")],
            Severity::Log { low: 50e-3, high: 100.0 },
            CLEAN,
        )
        .after(WATER),
        Mode::new(
            "pin-pushed-back",
            "has its pin pushed back in way",
            2.0,
            &[Effect::Open("each")],
            Severity::None,
            PIN,
        )
        .after(HANDS),
        Mode::new("wet", "has water between its ways", 0.7, &[Effect::AcrossWays], WET, DRY).after(WATER),
    ],
    share: 7.0,
    lower: |part| {
        let way = part.ohms(RESISTANCE) + part.ohms(CORROSION);
        for path in 0..part.paths() {
            part.resist(path, way);
        }
    },
};

const PLUG: Remedy = Remedy::new("plug", "plug in and latch", 2.0, "");
const DRY: Remedy = Remedy::new("dry", "pull apart, dry and seal", 12.0, "ignition off before it is pulled apart");
const CLEAN: Remedy = Remedy::new("clean", "dry, clean or renew", 10.0, "ignition off before it is pulled apart");
const PIN: Remedy = Remedy::new("seat", "seat and lock the pin of", 12.0, "ignition off before it is pulled apart");
