//! A 12 V pack or battery as it cranks and stands: what its posts show, how it warms, what it holds afterwards.
//! Law: V = n·(OCV(s − lag, T) − drop) − tail, drop and tail by the wear (`sag`); ds/dt = −I/Q; m·c·dT/dt = I·(n·OCV − V)
//! − I·T·n·dOCV/dT − h·A·(T − air) (Bernardi, Pawlikowski & Newman 1985, heat of mixing left out).
//! Promise: pure and without allocation; what is drawn from the chemistry is delivered or becomes heat, and how much is
//! drawn between two charges does not depend on the way. Discharge is positive.
//! Limit: one temperature for the whole pack, all live cells alike; below empty it stays at the empty cell's voltage. Not
//! modeled: hysteresis, gassing, an electrolyte that runs dry (`docs/oracles.md` says where that shows).

mod guard;
mod limits;
mod rest;
#[cfg(test)]
mod tests;

pub use guard::{Guard, Trip};
pub use rest::Guess;

use std::sync::LazyLock;

use libm::cbrt;
use quantity::{AmpHours, Amps, Celsius, Ohms, Seconds, Siemens, Volts, Watts};

use crate::sag::{ABSOLUTE, Sag, Warm};
use crate::{lead_acid, lfp};

/// What a pack is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chemistry {
    /// Four cells of lithium iron phosphate, made for starting: the power cell's sag on the energy cell's rest curve, since
    /// the power cell's published curve belongs to another graphite.
    LfpPower,
    /// Four cells of lithium iron phosphate, made for storage and used for starting all the same.
    LfpEnergy,
    /// Six lead-acid cells with free acid.
    Flooded,
    /// Six lead-acid cells with the acid in a glass mat.
    GlassMat,
}

impl Chemistry {
    /// All of them, in order.
    pub const ALL: [Self; 4] = [Self::LfpPower, Self::LfpEnergy, Self::Flooded, Self::GlassMat];

    /// Cells in series.
    pub fn cells(self) -> f64 {
        if self.is_lfp() { 4.0 } else { lead_acid::CELLS }
    }

    /// Lithium iron phosphate of either sort.
    pub fn is_lfp(self) -> bool {
        matches!(self, Self::LfpPower | Self::LfpEnergy)
    }

    /// Constants of a cell. The power cell's published set has no temperature law for its electrolyte, which would flatter
    /// a cold pack: it gets the energy cell's, 17.1 kJ/mol (BPX example). Nor does that set's negative electrode, another
    /// cell's, allow what starting cells of this size are sold for, 30 times their capacity until nearly empty (`from
    /// memory`): the surfaces run ahead by less than a tenth of the charge there (estimate).
    pub fn cell(self) -> Sag {
        match self {
            Self::LfpPower => Sag { conduction_energy: 17_100.0, lag: 1.0, lag_time: Seconds(10.0), ..lfp::POWER_CELL },
            Self::LfpEnergy => lfp::ENERGY_CELL,
            Self::Flooded | Self::GlassMat => lead_acid::CELL,
        }
    }

    /// Cranking current over capacity, 1/h (estimates; the energy cell's is the most that its published set allows).
    fn cranking_rate(self) -> f64 {
        match self {
            Self::LfpPower => 30.0,
            Self::LfpEnergy => 5.0,
            Self::Flooded | Self::GlassMat => 8.0,
        }
    }

    /// Resistance of a cell at a cranking current.
    fn cranking_resistance(self, at: Celsius) -> Ohms {
        const USUAL_CHARGE: f64 = 0.9;
        let cell = self.cell();
        cell.apparent_resistance(Amps(self.cranking_rate() * cell.capacity.0), USUAL_CHARGE, at)
    }

    /// Resistance at a cranking current and a temperature over that at 20 °C.
    pub fn colder(self, at: Celsius) -> f64 {
        // Asked for each what-if case: what is the same for all is reckoned once.
        static MILD: LazyLock<[Ohms; 4]> =
            LazyLock::new(|| Chemistry::ALL.map(|one| one.cranking_resistance(Celsius(20.0))));
        self.cranking_resistance(at) / MILD[self as usize]
    }

    /// Inner resistance of a new battery at cranking current and 20 °C (estimates: 35 mΩ at 2.3 Ah of lithium iron
    /// phosphate, 150 mΩ·Ah of glass mat, 240 mΩ·Ah of flooded).
    pub fn new_resistance(self, capacity: AmpHours) -> Ohms {
        let ohm_ampere_hours = match self {
            Self::LfpPower | Self::LfpEnergy => 35e-3 * 2.3,
            Self::GlassMat => 0.15,
            Self::Flooded => 0.24,
        };
        Ohms(ohm_ampere_hours / capacity.0)
    }

    /// Rest curve of a cell: charge, volts at 25 °C, mV/K.
    pub fn curve(self) -> &'static [(f64, f64, f64)] {
        match self {
            Self::LfpPower | Self::LfpEnergy => &lfp::REST,
            Self::Flooded => lead_acid::Kind::Flooded.cell_curve(),
            Self::GlassMat => lead_acid::Kind::GlassMat.cell_curve(),
        }
    }
}

/// Volts at 25 °C and mV/K between the rows of a rest curve; level beyond its ends.
fn look(curve: &[(f64, f64, f64)], charge: f64) -> (f64, f64) {
    let mut last = curve.first().copied().unwrap_or_default();
    for row in curve {
        if row.0 > charge && row.0 > last.0 {
            let part = ((charge - last.0) / (row.0 - last.0)).max(0.0);
            return (last.1 + (row.1 - last.1) * part, last.2 + (row.2 - last.2) * part);
        }
        last = *row;
    }
    (last.1, last.2)
}

/// A pack.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pack {
    /// What it is made of.
    pub chemistry: Chemistry,
    /// Its cells, at the pack's own capacity.
    pub cell: Sag,
    /// Their rest curve: charge, volts at 25 °C, mV/K.
    pub curve: &'static [(f64, f64, f64)],
    /// What a new pack loses at a current against its cells' constants: plates of another build, grids, straps, posts.
    pub build: f64,
    /// What it loses against a new one, 1 when new.
    pub wear: f64,
    /// Cells that give no voltage and lose what the others lose.
    pub dead_cells: f64,
    /// What one kelvin more takes, J/K.
    pub heat_capacity: f64,
    /// What leaves to the air for each kelvin above it, W/K.
    pub cooling: f64,
}

/// What a pack holds: its state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// Charge, a share from 0 to 1.
    pub charge: f64,
    /// Temperature of the cells.
    pub temperature: Celsius,
    /// By how much charge the surfaces are emptier than the whole.
    pub lag: f64,
    /// Voltage that a load has left behind.
    pub tail: Volts,
}

/// How fast what is held changes, and where the power goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rates {
    /// Change of charge, 1/s.
    pub charge: f64,
    /// Change of temperature, K/s.
    pub temperature: f64,
    /// Change of the lag, 1/s.
    pub lag: f64,
    /// Change of the tail, V/s.
    pub tail: f64,
    /// Voltage at the posts.
    pub voltage: Volts,
    /// Enthalpy given up by the chemistry, I·n·(OCV − T·dOCV/dT): delivered + heat + reversible.
    pub drawn: Watts,
    /// Voltage times current at the posts.
    pub delivered: Watts,
    /// Heat of all that is lost on the way.
    pub heat: Watts,
    /// Heat of the change of entropy, −I·n·T·dOCV/dT; cools where negative.
    pub reversible: Watts,
    /// Heat that the air takes.
    pub to_air: Watts,
}

/// Density of a whole pack, kg/m³ (estimate), and W/(m²·K) between its case and still air (estimate).
const DENSITY: f64 = 1900.0;
const STILL_AIR: f64 = 10.0;

impl Pack {
    /// A new pack. Mass 0.15 kg/Ah for lithium iron phosphate (70 g for a can of 2.3 Ah, four of them, and a quarter for the
    /// case) and 0.35 kg/Ah for lead-acid (estimate); 1000 J/(kg·K) (999 in the BPX example; lead-acid `from memory`);
    /// cooling as of a cube of that mass (estimate). Lead-acid loses more than the published cell, which has no grids and no
    /// posts: 1.35 times as much (glass mat) and 1.5 (flooded), so that a battery with a usual cold-cranking rating passes
    /// its test with some tenths of a volt (estimate).
    pub fn new(chemistry: Chemistry, capacity: AmpHours) -> Self {
        let mass = capacity.0 * if chemistry.is_lfp() { 0.15 } else { 0.35 };
        let side = cbrt(mass / DENSITY);
        Self {
            chemistry,
            cell: chemistry.cell().scaled(capacity),
            curve: chemistry.curve(),
            build: match chemistry {
                Chemistry::LfpPower | Chemistry::LfpEnergy => 1.0,
                Chemistry::GlassMat => 1.35,
                Chemistry::Flooded => 1.5,
            },
            wear: 1.0,
            dead_cells: 0.0,
            heat_capacity: mass * 1000.0,
            cooling: STILL_AIR * 6.0 * side * side,
        }
    }

    /// The same pack with the resistance that is stated for it when new, at 20 °C, fully charged, at a cranking current.
    pub fn with_resistance(self, stated: Ohms, at: Amps) -> Self {
        let new = self.cell.apparent_resistance(at, 1.0, Celsius(20.0)) * self.chemistry.cells();
        Self { build: stated.0 / new.0, ..self }
    }

    /// Its capacity.
    pub fn capacity(&self) -> AmpHours {
        self.cell.capacity
    }

    /// Rested at a charge and a temperature.
    pub fn rested(&self, charge: f64, at: Celsius) -> Held {
        Held { charge, temperature: at, lag: 0.0, tail: Volts(0.0) }
    }

    /// Cells that give voltage.
    pub fn live_cells(&self) -> f64 {
        (self.chemistry.cells() - self.dead_cells).max(0.0)
    }

    /// What the posts would show after a long rest.
    pub fn open_circuit(&self, held: &Held) -> Volts {
        self.source(held.charge, held.temperature).0
    }

    /// Voltage of all live cells at a charge, and its change per kelvin.
    fn source(&self, charge: f64, at: Celsius) -> (Volts, Volts) {
        let (volts, millivolts_per_kelvin) = look(self.curve, charge);
        let entropy = 1e-3 * millivolts_per_kelvin;
        (Volts(volts + entropy * (at.0 - 25.0)) * self.live_cells(), Volts(entropy) * self.live_cells())
    }

    /// Charge at the surfaces.
    fn surface(&self, held: &Held) -> f64 {
        (held.charge - held.lag).clamp(0.0, 1.0)
    }

    fn warm(&self, held: &Held) -> Warm {
        self.cell.warm(self.surface(held), held.temperature)
    }

    /// Cells that lose voltage at a current, times what they lose more than their constants say.
    fn lossy(&self, held: &Held) -> f64 {
        self.build * self.wear * self.chemistry.cells() * nearly_empty(held.charge)
    }

    fn voltage_of(&self, held: &Held, warm: &Warm, current: Amps) -> Volts {
        self.source(self.surface(held), held.temperature).0 - warm.drop(current) * self.lossy(held) - held.tail
    }

    /// What the posts show at a current, this instant.
    pub fn voltage(&self, held: &Held, current: Amps) -> Volts {
        self.voltage_of(held, &self.warm(held), current)
    }

    /// Slope −dV/dI about a current, this instant.
    pub fn source_resistance(&self, held: &Held, around: Amps) -> Ohms {
        self.warm(held).slope(around) * self.lossy(held)
    }

    /// The laws of its cells as they are now; good for as long as charge and temperature hardly change.
    pub fn warmed(&self, held: &Held) -> Warm {
        self.warm(held)
    }

    /// How fast it changes at a current, in air of a temperature.
    pub fn rates(&self, held: &Held, current: Amps, air: Celsius) -> Rates {
        let warm = self.warm(held);
        let voltage = self.voltage_of(held, &warm, current);
        self.rates_at(held, &warm, current, voltage, air)
    }

    /// The same while it feeds consumers that take `alone` and `per_volt` more for each volt, its cells' laws at hand.
    /// Their line is straight about the current, as far as the few amperes that hang on the voltage go.
    pub fn rates_under(&self, held: &Held, warm: &Warm, alone: Amps, per_volt: Siemens, air: Celsius) -> Rates {
        const USUAL: f64 = 12.0;
        let near = alone.0 + per_volt.0 * USUAL;
        let slope = warm.slope(Amps(near)).0 * self.lossy(held);
        let there = self.voltage_of(held, warm, Amps(near)).0;
        let current = (near + per_volt.0 * (there + slope * near - USUAL)) / (1.0 + per_volt.0 * slope);
        let voltage = Volts(there - slope * (current - near));
        self.rates_at(held, warm, Amps(current), voltage, air)
    }

    fn rates_at(&self, held: &Held, warm: &Warm, current: Amps, voltage: Volts, air: Celsius) -> Rates {
        let (whole, entropy) = self.source(held.charge, held.temperature);
        let delivered = voltage * current;
        let heat = (whole - voltage) * current;
        let reversible = entropy * current * -(held.temperature.0 + ABSOLUTE);
        let to_air = Watts(self.cooling * (held.temperature.0 - air.0));
        let emptying = current.0 / (3600.0 * self.capacity().0);
        let lag_time = self.cell.lag_time.0 * warm.slower;
        Rates {
            charge: -emptying,
            temperature: (heat + reversible - to_air).0 / self.heat_capacity,
            lag: self.cell.lag * emptying - held.lag / lag_time,
            tail: ((self.cell.tail * current * self.lossy(held)).0 - held.tail.0) / self.cell.tail_time.0,
            voltage,
            drawn: delivered + heat + reversible,
            delivered,
            heat,
            reversible,
            to_air,
        }
    }
}

/// Resistance over that of a charged one: nearly empty it rises from 1 at 20 % of charge to 6 at nothing (estimate).
pub fn nearly_empty(charge: f64) -> f64 {
    const NEARLY_EMPTY: f64 = 0.2;
    let lacks = ((NEARLY_EMPTY - charge) / NEARLY_EMPTY).max(0.0);
    1.0 + 5.0 * lacks * lacks
}

impl Held {
    /// What is held a short time later; a step of at most a quarter of a second serves all chemistries.
    pub fn after(self, rates: &Rates, step: Seconds) -> Self {
        Self {
            charge: self.charge + rates.charge * step.0,
            temperature: Celsius(self.temperature.0 + rates.temperature * step.0),
            lag: self.lag + rates.lag * step.0,
            tail: Volts(self.tail.0 + rates.tail * step.0),
        }
    }
}
