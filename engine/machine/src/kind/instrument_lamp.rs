//! A telltale on the dashboard. Law: as `lamp`, of small power. A lamp that hangs between two circuits lets a little
//! current sneak from one to the other; that is why it is a part and not a picture.
//! Not modelled: LEDs (give those as a `load`).

use quantity::Dimension;

use super::lamp::{MODES, light};
use super::spec::{Field, Kind, Path, Terminals, Want};

/// `kind = "instrument-lamp"`.
pub static INSTRUMENT_LAMP: Kind = Kind {
    name: "instrument-lamp",
    summary: "A small lamp that tells of neutral, charging or lights.",
    terminals: Terminals::Ends { rings: false },
    fields: &[
        Field::default("power", Want::Quantity(Dimension::Power), "1.7 W", "Rated power (estimate: 1.2 to 3 W)."),
        Field::default("voltage", Want::Quantity(Dimension::Voltage), "12 V", "Voltage at which the power is rated."),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: MODES,
    share: 0.2,
    lower: light,
};
