//! Copper conductors: resistance, temperature, wire gauges, and how much current heats or melts them.
//! Law: R(T) = ρ20 · length / area · (1 + α20 · (T − 20 °C)). Source: annealed copper of IEC 60028
//! (from memory): ρ20 = 1/58 Ω·mm²/m, α20 = 0.00393 per K. Wire gauges: the rule of ASTM B258 (from memory).
//! Promise: resistance grows with length and temperature, and shrinks with area.
//! Not modelled: skin effect, cooling to the air, lay of the strands (use a table's maximum for stranded cable).

use crate::{Amps, Celsius, Meters, Ohms, Seconds, SquareMeters};

/// Resistivity of annealed copper at 20 °C, Ω·m (IEC 60028, from memory).
pub const COPPER_RESISTIVITY: f64 = 1e-6 / 58.0;
/// Temperature coefficient of copper's resistance at 20 °C, per K (IEC 60028, from memory).
pub const COPPER_COEFFICIENT: f64 = 0.00393;
/// Copper's resistance would be zero this far below 0 °C, K (IEC 60364-5-54).
pub const COPPER_BETA: f64 = 234.5;
/// Heat capacity of copper per volume, J/(K·m³) (IEC 60364-5-54).
pub const COPPER_HEAT: f64 = 3.45e6;
/// Melting point of copper, °C.
pub const COPPER_MELTS: Celsius = Celsius(1083.0);

/// Maximum resistance at 20 °C of fine-stranded plain copper cable: area in mm², resistance in mΩ/m
/// (IEC 60228, class 5; confirmed on two public pages).
pub const FINE_STRANDED: [(f64, f64); 10] = [
    (0.5, 39.0),
    (0.75, 26.0),
    (1.0, 19.5),
    (1.5, 13.3),
    (2.5, 7.98),
    (4.0, 4.95),
    (6.0, 3.30),
    (10.0, 1.91),
    (16.0, 1.21),
    (25.0, 0.780),
];

/// Resistance of a solid copper conductor at a temperature.
pub fn resistance(length: Meters, area: SquareMeters, at: Celsius) -> Ohms {
    copper_at(Ohms(COPPER_RESISTIVITY * length.0 / area.0), at)
}

/// Resistance at a temperature of a copper conductor (or winding) whose resistance at 20 °C is known.
pub fn copper_at(at_20: Ohms, at: Celsius) -> Ohms {
    at_20 * (1.0 + COPPER_COEFFICIENT * (at.0 - 20.0))
}

/// Resistance after a change of temperature, from the coefficient at 0 °C (per K), as older books give it.
pub fn resistance_after(known: Ohms, at: Celsius, then: Celsius, coefficient_at_0: f64) -> Ohms {
    known * ((1.0 + coefficient_at_0 * then.0) / (1.0 + coefficient_at_0 * at.0))
}

/// Highest resistance that the standard allows a fine-stranded cable of this section at 20 °C; `None` for a
/// section that is not in [`FINE_STRANDED`].
pub fn fine_stranded(length: Meters, area: SquareMeters) -> Option<Ohms> {
    let square_mm = area.0 * 1e6;
    let (_, milliohms) = FINE_STRANDED
        .into_iter()
        .find(|(listed, _)| (listed - square_mm).abs() < 1e-6 * listed)?;
    Some(Ohms(milliohms * 1e-3 * length.0))
}

/// Diameter of a solid wire of American wire gauge; 0, −1, −2, −3 are 1/0, 2/0, 3/0 and 4/0.
pub fn gauge_diameter(gauge: i32) -> Meters {
    Meters(0.127e-3 * libm::pow(92.0, (36.0 - f64::from(gauge)) / 39.0))
}

/// Section of a solid wire of American wire gauge.
pub fn gauge_area(gauge: i32) -> SquareMeters {
    circle(gauge_diameter(gauge))
}

/// The gauge whose section is nearest in ratio, from 4/0 (−3) to 40.
pub fn nearest_gauge(area: SquareMeters) -> i32 {
    let gauge = 36.0 - 39.0 * libm::log(diameter_of(area).0 / 0.127e-3) / libm::log(92.0);
    (libm::round(gauge) as i32).clamp(-3, 40)
}

/// Section of a round conductor.
pub fn circle(diameter: Meters) -> SquareMeters {
    SquareMeters(std::f64::consts::FRAC_PI_4 * diameter.0 * diameter.0)
}

/// Diameter of the round conductor of this section.
pub fn diameter_of(area: SquareMeters) -> Meters {
    Meters((area.0 / std::f64::consts::FRAC_PI_4).sqrt())
}

/// The constant k of adiabatic heating, A·s^½/m²: I²·t = k²·area² takes copper from one temperature to the other.
/// Law and copper's numbers: IEC 60364-5-54; with them the square root's factor is 226 A·s^½/mm².
pub fn heating_constant(from: Celsius, to: Celsius) -> f64 {
    heating_factor() * libm::log((COPPER_BETA + to.0) / (COPPER_BETA + from.0)).sqrt()
}

/// Temperature of a copper conductor that carries a current for a time and loses no heat.
pub fn heated(from: Celsius, current: Amps, area: SquareMeters, during: Seconds) -> Celsius {
    let load = current.0 / area.0 / heating_factor();
    Celsius((COPPER_BETA + from.0) * libm::exp(load * load * during.0) - COPPER_BETA)
}

/// √(heat · (β + 20) / ρ20), A·s^½/m².
fn heating_factor() -> f64 {
    (COPPER_HEAT * (COPPER_BETA + 20.0) / COPPER_RESISTIVITY).sqrt()
}

/// Current that melts a copper wire after a time (Onderdonk's rule): I = A·√(log10(1 + (Tm − Ta)/(234 + Ta)) / (33·t)),
/// A in circular mils. The denominator adds the ambient temperature; a widely copied form subtracts it and is wrong.
pub fn melting_current(area: SquareMeters, after: Seconds, ambient: Celsius) -> Amps {
    let mil = 2.54e-5;
    let circular_mils = area.0 / circle(Meters(mil)).0;
    let rise = (COPPER_MELTS.0 - ambient.0) / (234.0 + ambient.0);
    Amps(circular_mils * (libm::log10(1.0 + rise) / (33.0 * after.0)).sqrt())
}

/// Current that melts a copper wire in free air when left on (Preece's rule): I = 80 A · (diameter in mm)^1.5.
pub fn lasting_melting_current(diameter: Meters) -> Amps {
    Amps(80.0 * libm::pow(diameter.0 * 1e3, 1.5))
}
