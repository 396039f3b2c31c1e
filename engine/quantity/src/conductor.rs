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
    let (_, milliohms) = FINE_STRANDED.into_iter().find(|(listed, _)| (listed - square_mm).abs() < 1e-6 * listed)?;
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

#[cfg(test)]
mod tests {
    use super::*;

    fn check(found: f64, expected: f64, within: f64) {
        assert!((found - expected).abs() <= within, "{found} is not {expected} ± {within}");
    }

    fn square_mm(area: f64) -> SquareMeters {
        SquareMeters(area * 1e-6)
    }

    /// Gauge, diameter in mm (confirmed in an open library's table), section in mm², mΩ/m (derived).
    const GAUGES: [(i32, f64, f64, f64); 10] = [
        (20, 0.8118, 0.5176, 33.31),
        (18, 1.0237, 0.8230, 20.95),
        (16, 1.2908, 1.3087, 13.17),
        (14, 1.6277, 2.0809, 8.285),
        (12, 2.0525, 3.3088, 5.211),
        (10, 2.5882, 5.2612, 3.277),
        (8, 3.2636, 8.3656, 2.061),
        (6, 4.1154, 13.302, 1.296),
        (4, 5.1894, 21.151, 0.8152),
        (2, 6.5437, 33.631, 0.5127),
    ];

    #[test]
    fn textbook_wire_gauges_by_the_rule_of_astm_b258_from_memory() {
        for (gauge, diameter, area, milliohms) in GAUGES {
            check(gauge_diameter(gauge).0 * 1e3, diameter, 6e-5);
            check(gauge_area(gauge).0 * 1e6, area, 6e-4);
            let per_meter = resistance(Meters(1.0), gauge_area(gauge), Celsius(20.0));
            check(per_meter.0 * 1e3 / milliohms, 1.0, 4e-4);
            assert_eq!(nearest_gauge(gauge_area(gauge)), gauge);
        }
        check(gauge_diameter(-3).0 * 1e3, 11.684, 6e-4); // 4/0 is 0.46 in by definition
    }

    #[test]
    fn textbook_heating_constants_of_iec_60364_5_54() {
        let k = |from, to| heating_constant(Celsius(from), Celsius(to)) * 1e-6;
        check(k(70.0, 160.0), 115.0, 0.5); // PVC; table value from memory
        check(k(90.0, 250.0), 143.0, 0.5); // XLPE; table value from memory
        check(k(30.0, 160.0), 143.0, 0.5); // PVC from 30 °C; table value from memory
        check(heating_factor() * 1e-6, 225.67, 0.02); // the standard rounds to 226; derived
    }

    #[test]
    fn textbook_short_currents_warm_cables_derived() {
        let after = |current, area| heated(Celsius(20.0), Amps(current), square_mm(area), Seconds(5.0)).0;
        check(after(120.0, 6.0), 30.2, 0.3);
        check(after(100.0, 2.5), 63.2, 0.5);
    }

    #[test]
    fn law_heating_undoes_the_heating_constant() {
        let (from, to, area) = (Celsius(20.0), Celsius(160.0), square_mm(6.0));
        let current = Amps(heating_constant(from, to) * area.0 / 5.0_f64.sqrt());
        check(heated(from, current, area, Seconds(5.0)).0, to.0, 1e-9);
    }

    #[test]
    fn textbook_onderdonk_adds_the_ambient_temperature() {
        // A widely copied example subtracts it and gives 178 A. Derived from the published form.
        check(melting_current(gauge_area(16), Seconds(5.0), Celsius(25.0)).0, 168.9, 0.5);
    }

    #[test]
    fn textbook_onderdonk_and_the_heating_constant_agree() {
        // Two rules of different origin for 1 mm² melting in 1 s from 20 °C; derived.
        let onderdonk = melting_current(square_mm(1.0), Seconds(1.0), Celsius(20.0)).0;
        let iec = heating_constant(Celsius(20.0), COPPER_MELTS) * 1e-6;
        check(onderdonk, 290.4, 0.1);
        check(iec * 226.0 / (heating_factor() * 1e-6), 289.8, 0.1); // as the standard rounds its factor
        check(onderdonk / iec, 1.0, 0.004);
    }

    #[test]
    fn textbook_preece_in_inches() {
        check(lasting_melting_current(Meters(0.0254)).0, 10_244.0, 5.0); // the form in inches, confirmed
    }

    #[test]
    fn textbook_drops_at_cranking_current_derived() {
        let fine = fine_stranded(Meters(0.5), square_mm(10.0)).unwrap();
        check((fine * Amps(120.0)).0 * 1e3, 114.6, 0.1);
        let drop = |at| Amps(120.0) * resistance(Meters(0.8), gauge_area(6), Celsius(at));
        check(drop(20.0).0 * 1e3, 124.4, 0.2);
        check(drop(60.0).0 * 1e3, 144.0, 0.2);
        assert_eq!(fine_stranded(Meters(1.0), square_mm(7.0)), None);
    }

    #[test]
    fn textbook_corroded_cable_that_an_ohmmeter_passes_derived() {
        // 0.5 m of 10 mm², down to 1/40 of its section: fine-stranded maximum × 40.
        let corroded = fine_stranded(Meters(0.5), square_mm(10.0)).unwrap() * 40.0;
        check(corroded.0 * 1e3, 38.0, 0.5);
        check((corroded * Amps(100.0)).0, 3.8, 0.05);
    }

    #[test]
    fn textbook_temperature_coefficient_of_copper() {
        // Muthusubramanian & Salivahanan, example 1.6, p. 21 (prints 0.46 Ω).
        let warm = resistance_after(Ohms(0.4), Celsius(12.0), Celsius(50.0), 0.004);
        check(warm.0, 0.458, 0.005);
    }

    #[test]
    fn law_thinner_longer_and_warmer_all_resist_more() {
        let base = resistance(Meters(1.0), square_mm(10.0), Celsius(20.0));
        assert!(resistance(Meters(1.1), square_mm(10.0), Celsius(20.0)) > base);
        assert!(resistance(Meters(1.0), square_mm(9.0), Celsius(20.0)) > base);
        assert!(resistance(Meters(1.0), square_mm(10.0), Celsius(21.0)) > base);
    }

    /// Maximum resistance of tinned fine-stranded cable, mΩ/m (IEC 60228, class 5; confirmed on a public page).
    const TINNED: [f64; 10] = [40.1, 26.7, 20.0, 13.7, 8.21, 5.09, 3.39, 1.95, 1.24, 0.795];

    #[test]
    fn textbook_tinned_cable_resists_two_or_three_percent_more_than_plain() {
        for ((area, plain), tinned) in FINE_STRANDED.into_iter().zip(TINNED) {
            check(tinned / plain, 1.025, 0.01);
            let solid = resistance(Meters(1.0), square_mm(area), Celsius(20.0)).0 * 1e3;
            check(plain / solid, 1.13, 0.03); // the strands' lay and the standard's allowance
        }
    }

    #[test]
    fn textbook_copper_gains_39_percent_from_20_to_120_degrees_from_memory() {
        check(copper_at(Ohms(1.0), Celsius(120.0)).0, 1.393, 1e-9);
        // Two descriptions of the same metal: 1/α20 is 20 °C above β, to a tenth of a degree.
        check(1.0 / COPPER_COEFFICIENT - 20.0, COPPER_BETA, 0.1);
    }
}
