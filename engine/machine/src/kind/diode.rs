//! A diode. Law: I = Is·(exp(Vj/(n·Vt)) − 1), Vj = V − I·Rs, Vt at 27 °C whatever the air.
//! Defaults are those of a common 1 A rectifier (from memory). Not modelled: breakdown, capacitance, warming.

use circuit::Law;
use quantity::{Amps, Dimension, Volts};

use crate::lower::Lower;

use super::since::{HANDS, JUMP};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const SATURATION: usize = 0;
const IDEALITY: usize = 1;
const SERIES: usize = 2;
const REVERSED: usize = 3;

/// Boltzmann's constant over the elementary charge, volts per kelvin (both exact in the SI of 2019).
const BOLTZMANN_OVER_CHARGE: f64 = 1.380_649e-23 / 1.602_176_634e-19;
/// Thermal voltage at 27 °C.
pub const THERMAL_VOLTAGE: Volts = Volts(BOLTZMANN_OVER_CHARGE * 300.15);

impl Lower<'_> {
    /// Fits the path the other way round: its branch then counts current from the cathode's terminal to the anode's.
    fn turn_round(&mut self, path: usize) {
        if let Some(branch) = self.slots[path] {
            let branch = &mut self.network.branches[branch];
            std::mem::swap(&mut branch.from, &mut branch.to);
        }
    }
}

/// `kind = "diode"`.
pub static DIODE: Kind = Kind {
    name: "diode",
    summary: "A diode that conducts from anode to cathode.",
    terminals: Terminals::Named(&["anode", "cathode"]),
    fields: &[
        Field::default(
            "saturation-current",
            Want::Quantity(Dimension::Current),
            "5e-9 A",
            "Is (from memory, a common 1 A rectifier).",
        ),
        Field::default(
            "ideality",
            Want::Ratio { low: 0.5, high: 5.0 },
            "1.8",
            "n (from memory, a common 1 A rectifier).",
        ),
        Field::default(
            "series-resistance",
            Want::Quantity(Dimension::Resistance),
            "40 mohm",
            "Rs (from memory, a common 1 A rectifier).",
        ),
        Field::optional("reversed", Want::Choice(&["no", "yes"]), "`yes` when it sits the wrong way round."),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        Mode::new("open", "is open", 1.0, &[Effect::Open("")], Severity::None, REPLACE),
        Mode::new(
            "short",
            "is shorted",
            1.0,
            &[Effect::Across("anode", "cathode")],
            Severity::Log { low: 10e-3, high: 1.0 },
            REPLACE,
        )
        .after(JUMP),
        Mode::new(
            "reversed",
            "sits the wrong way round",
            0.3,
            &[Effect::Choose("reversed", "yes")],
            Severity::None,
            TURN,
        )
        .that_stays()
        .after(HANDS),
    ],
    share: 1.0,
    lower: |part| {
        let law = Law::Junction {
            saturation: Amps(part.value(SATURATION)),
            emission: Volts(part.value(IDEALITY) * THERMAL_VOLTAGE.0),
            resistance: part.ohms(SERIES),
        };
        part.set(0, law);
        if part.choice(REVERSED) == 1 {
            part.turn_round(0);
        }
    },
};

const REPLACE: Remedy = Remedy::new("replace", "replace", 8.0, "");
const TURN: Remedy = Remedy::new("turn", "turn round", 8.0, "");
