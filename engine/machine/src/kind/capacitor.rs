//! A capacitor. Law: i = C·dv/dt, so in a steady state it is absent and joins nothing.
//! Its charge in time is `circuit::transient`'s business. Not modelled: leakage, series resistance.

use circuit::Law;
use quantity::Dimension;

use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

/// `kind = "capacitor"`.
pub static CAPACITOR: Kind = Kind {
    name: "capacitor",
    summary: "A capacitor; absent in a steady state.",
    terminals: Terminals::Ends { rings: false },
    fields: &[Field::required("capacitance", Want::Quantity(Dimension::Capacitance), "Its capacitance.")],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[Mode::new(
        "shorted",
        "is shorted",
        1.0,
        &[Effect::Across("from", "to")],
        Severity::Log { low: 50e-3, high: 50.0 },
        Remedy::new("replace", "replace", 10.0, ""),
    )],
    share: 0.2,
    lower: |part| part.set(0, Law::Open),
};
