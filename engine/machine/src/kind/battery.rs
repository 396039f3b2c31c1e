//! A starting battery. Law: V = E(charge) − I·R, E by interpolation between points of rest voltage.
//! Rest voltages, resistance of a new one and what the cold adds to it are those of `physics::lfp`, `physics::lead_acid`
//! and `physics::pack` (published sets and tables; no open data for high rates below zero); nearly empty the resistance
//! rises (estimate).
//! While the engine runs, R of a lead-acid one is the 4 Ω·Ah over its capacity that stands for the overvoltage of
//! charging (estimate): 13.8 V at a few amperes; a battery that is not charged then reads up to a volt too low.
//! Not modelled: sag and recovery in time, hysteresis of the LFP plateau (20 to 100 mV), self-discharge inside.

use circuit::Law;
use physics::pack::{Chemistry, nearly_empty};
use physics::{lead_acid, lfp};
use quantity::{AmpHours, Celsius, Dimension, Ohms, Volts};

use super::since::{HANDS, HEAT, SHOCK, STANDING};
use super::spec::{Effect, Field, Kind, Mode, Path, Remedy, Severity, Terminals, Want};

const CHEMISTRY: usize = 0;
const CAPACITY: usize = 1;
const CHARGE: usize = 2;
const VOLTAGE: usize = 3;
const RESISTANCE: usize = 4;
const WEAR: usize = 5;
const DEAD_CELLS: usize = 6;
const REVERSED: usize = 7;

const AMPERE_HOUR: f64 = 3600.0;
/// Rise of a lead-acid battery's voltage in charge per ampere and per capacity, Ω·C (estimate: 4 Ω·Ah).
const OVERVOLTAGE: f64 = 4.0 * AMPERE_HOUR;
/// What is left of the charge in a sulfated one (estimate).
const SULFATED: f64 = 0.35;
/// Index of the word `lfp-4s`.
const LFP: usize = 0;
/// Temperature at which rest voltages are tabulated.
const TABLES_AT: Celsius = Celsius(25.0);

/// `kind = "battery"`.
pub static BATTERY: Kind = Kind {
    name: "battery",
    summary: "A 12 V starting battery: LFP of four cells, AGM or flooded lead-acid.",
    terminals: Terminals::Named(&["plus", "minus"]),
    fields: &[
        Field::required("chemistry", Want::Choice(&["lfp-4s", "agm", "flooded"]), "What is in it."),
        Field::required("capacity", Want::Quantity(Dimension::Charge), "Rated capacity, not a \"lead equivalent\"."),
        Field::default(
            "charge",
            Want::Ratio { low: 0.0, high: 1.0 },
            "0.9",
            "State of charge (estimate for a machine in use).",
        ),
        Field::optional(
            "voltage",
            Want::Quantity(Dimension::Voltage),
            "Rest voltage as measured; from chemistry and charge when not given.",
        ),
        Field::optional(
            "resistance",
            Want::Quantity(Dimension::Resistance),
            "Inner resistance at 20 °C at cranking current; from chemistry and capacity when not given (estimate).",
        ),
        Field::default("wear", Want::Ratio { low: 1.0, high: 50.0 }, "1", "Inner resistance over that of a new one."),
        Field::default("dead-cells", Want::Ratio { low: 0.0, high: 6.0 }, "0", "Cells that give no voltage."),
        Field::optional("reversed", Want::Flag, "`true` when its terminals are the wrong way round."),
        Field::default(
            "looks",
            Want::Choice(&["right", "low-acid"]),
            "right",
            "What is seen through its case; only a flooded one shows its acid.",
        ),
    ],
    branches: &[Path { name: "", from: 0, to: 1 }],
    modes: &[
        // A rest voltage on the sheet is a charged battery's; a flat one takes it from the table.
        Mode::new(
            "flat",
            "is flat",
            10.0,
            &[Effect::SetTo("charge"), Effect::Set("voltage", f64::NAN)],
            Severity::Even { low: 0.0, high: 0.15 },
            RECHARGE,
        )
        .that_stays()
        .as_consequence()
        .after(STANDING),
        Mode::new(
            "aged",
            "is worn out: too much inner resistance",
            8.0,
            &[Effect::Scale("wear")],
            Severity::Log { low: 1.8, high: 15.0 },
            REPLACE,
        )
        .that_stays()
        .after(HEAT),
        Mode::new(
            "dead-cell",
            "has a dead cell",
            3.0,
            &[Effect::Set("dead-cells", 1.0), Effect::Set("voltage", f64::NAN)],
            Severity::None,
            REPLACE,
        )
        .that_stays()
        .after(STANDING),
        Mode::new(
            "sulfated",
            "is sulfated: it takes no charge and holds none",
            3.0,
            &[Effect::Scale("wear"), Effect::Set("charge", SULFATED), Effect::Set("voltage", f64::NAN)],
            Severity::Log { low: 3.0, high: 30.0 },
            REPLACE,
        )
        .that_stays()
        .after(STANDING)
        .only("chemistry", &["agm", "flooded"]),
        Mode::new(
            "low-acid",
            "is low on acid: its plates stand half dry",
            1.5,
            &[Effect::Scale("wear"), Effect::Choose("looks", "low-acid")],
            Severity::Log { low: 1.5, high: 6.0 },
            TOP_UP,
        )
        .that_stays()
        .after(HEAT)
        .only("chemistry", &["flooded"]),
        Mode::new("broken-inside", "is broken inside", 1.0, &[Effect::Open("")], Severity::None, REPLACE).after(SHOCK),
        Mode::new("cut-off", "is cut off by its management board", 1.5, &[Effect::Open("")], Severity::None, WAKE)
            .as_consequence()
            .after(STANDING)
            .only("chemistry", &["lfp-4s"]),
        Mode::new(
            "reversed",
            "is connected the wrong way round",
            0.2,
            &[Effect::Set("reversed", 1.0)],
            Severity::None,
            TURN,
        )
        .that_stays()
        .after(HANDS),
    ],
    share: 33.0,
    lower: |part| {
        let chemistry = part.choice(CHEMISTRY);
        let charge = part.value(CHARGE);
        let rest = part.value_or(VOLTAGE, rest_voltage(chemistry, charge));
        let alive = 1.0 - part.value(DEAD_CELLS) / if chemistry == LFP { 4.0 } else { 6.0 };
        let sign = if part.holds(REVERSED) { -1.0 } else { 1.0 };
        let estimate = made_of(chemistry).new_resistance(AmpHours(part.value(CAPACITY) / AMPERE_HOUR)).0;
        let cold = part.air().map_or(1.0, |air| made_of(chemistry).colder(air));
        let cranking = part.value_or(RESISTANCE, estimate) * part.value(WEAR) * nearly_empty(charge) * cold;
        let charging = if part.running() && chemistry != LFP { OVERVOLTAGE / part.value(CAPACITY) } else { 0.0 };
        let resistance = cranking.max(charging);
        let emf = Volts(sign * rest * alive.max(0.0));
        part.set(0, Law::Linear { resistance: Ohms(resistance), emf });
    },
};

/// What the word of that index stands for.
fn made_of(chemistry: usize) -> Chemistry {
    match chemistry {
        LFP => Chemistry::LfpPower,
        1 => Chemistry::GlassMat,
        _ => Chemistry::Flooded,
    }
}

/// Rest voltage of a whole battery: index of the chemistry's word, state of charge.
fn rest_voltage(chemistry: usize, charge: f64) -> f64 {
    match made_of(chemistry) {
        Chemistry::GlassMat => lead_acid::Kind::GlassMat.rest_voltage(charge).0,
        Chemistry::Flooded => lead_acid::Kind::Flooded.rest_voltage(charge).0,
        Chemistry::LfpPower | Chemistry::LfpEnergy => 4.0 * lfp::open_circuit(charge, TABLES_AT).0,
    }
}

// The charger does the rest alone (times: common practice, no source).
const RECHARGE: Remedy = Remedy::new(
    "charge",
    "charge",
    8.0,
    "a charger for its chemistry; lithium never below 0 °C nor above 14.6 V; never a frozen, swollen or hot battery",
)
.done_after(150.0);
const REPLACE: Remedy = Remedy::new("replace", "replace", 10.0, "negative lead off first, on last");
const WAKE: Remedy = Remedy::new(
    "wake",
    "put a lithium charger on",
    10.0,
    "find what emptied it; never force a pack below 8 V, never open it",
)
.done_after(60.0);
const TOP_UP: Remedy = Remedy::new(
    "top-up",
    "fill distilled water into, then charge",
    20.0,
    "goggles and gloves: acid; no flame, no spark; water only, and only up to the mark",
)
.done_after(300.0);
const TURN: Remedy =
    Remedy::new("turn", "swap the leads of", 10.0, "negative lead off first; then look at diodes, regulator and fuses");
