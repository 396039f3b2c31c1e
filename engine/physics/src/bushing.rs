//! Bushings and their seats: fits, press forces, tilt by clearance, and how long until they are worn.
//! Law: limits of ISO 286-2, above 6 and up to 30 mm (public tables that agree); pressure of a press fit by Lamé;
//! wear of a bushing as in Shigley's equation 12-32, w = f₁·f₂·K·(4/π)·P·V·t, P over the projected area.
//! Promise: more load, speed and time never wear less. Limit: a bushing that is lubricated as the factor says; not a
//! seized one. Not modelled: heat in the bushing, dirt that embeds.

use std::f64::consts::PI;

use libm::round;
use quantity::{Meters, NewtonMeters, Radians, Seconds};

/// A zone of tolerance: lower and upper deviation from the nominal size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Zone {
    /// Name, as in `H7`.
    pub name: &'static str,
    /// Deviations in µm for 6 to 10 mm, 10 to 18 mm and 18 to 30 mm; the upper end belongs to the range.
    deviations: [(f64, f64); 3],
}

/// Zones for holes and shafts of bushings (ISO 286-2, as transcribed).
pub const ZONES: [Zone; 7] = [
    Zone { name: "H7", deviations: [(0.0, 15.0), (0.0, 18.0), (0.0, 21.0)] },
    Zone { name: "H8", deviations: [(0.0, 22.0), (0.0, 27.0), (0.0, 33.0)] },
    Zone { name: "f7", deviations: [(-28.0, -13.0), (-34.0, -16.0), (-41.0, -20.0)] },
    Zone { name: "g6", deviations: [(-14.0, -5.0), (-17.0, -6.0), (-20.0, -7.0)] },
    Zone { name: "h6", deviations: [(-9.0, 0.0), (-11.0, 0.0), (-13.0, 0.0)] },
    Zone { name: "p6", deviations: [(15.0, 24.0), (18.0, 29.0), (22.0, 35.0)] },
    Zone { name: "r6", deviations: [(19.0, 28.0), (23.0, 34.0), (28.0, 41.0)] },
];

impl Zone {
    /// A zone by its name.
    pub fn find(name: &str) -> Option<Self> {
        ZONES.into_iter().find(|zone| zone.name == name)
    }

    /// Lower and upper deviation at a size from above 6 to 30 mm; nothing outside.
    pub fn deviations(&self, size: Meters) -> Option<(Meters, Meters)> {
        let row = match size.0 * 1e3 {
            millimeters if millimeters <= 6.0 => return None,
            millimeters if millimeters <= 10.0 => 0,
            millimeters if millimeters <= 18.0 => 1,
            millimeters if millimeters <= 30.0 => 2,
            _ => return None,
        };
        let (lower, upper) = self.deviations[row];
        Some((Meters(lower * 1e-6), Meters(upper * 1e-6)))
    }
}

/// Least and most clearance of a shaft in a hole of these zones, negative where they interfere.
pub fn clearance(size: Meters, hole: Zone, shaft: Zone) -> Option<(Meters, Meters)> {
    let (hole, shaft) = (hole.deviations(size)?, shaft.deviations(size)?);
    Some((hole.0 - shaft.1, hole.1 - shaft.0))
}

/// A ring of one material: inner and outer diameter, modulus of elasticity in Pa, Poisson's ratio.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ring {
    /// Bore; zero for a solid shaft.
    pub inner: Meters,
    /// Outside.
    pub outer: Meters,
    /// Modulus of elasticity, Pa.
    pub modulus: f64,
    /// Poisson's ratio.
    pub poisson: f64,
}

impl Ring {
    fn ratio(&self) -> f64 {
        let (inner, outer) = (self.inner.0 * self.inner.0, self.outer.0 * self.outer.0);
        (outer + inner) / (outer - inner)
    }
}

/// Pressure in the joint of a ring pressed into another, Pa, by the interference in diameter (Lamé).
pub fn press_pressure(interference: Meters, inside: Ring, housing: Ring) -> f64 {
    let diameter = inside.outer.0;
    let give =
        (housing.ratio() + housing.poisson) / housing.modulus + (inside.ratio() - inside.poisson) / inside.modulus;
    interference.0 / (diameter * give)
}

/// Greatest stress in the housing, Pa: around its bore.
pub fn hoop_stress(pressure: f64, housing: Ring) -> f64 {
    pressure * housing.ratio()
}

/// Axial force that turns a press fit loose, N; as a torque times half the diameter it starts to turn in the bore.
pub fn push_out(pressure: f64, friction: f64, diameter: Meters, length: Meters) -> f64 {
    friction * pressure * PI * diameter.0 * length.0
}

/// How far a shaft leans in bushings that are this far apart, by the clearance in diameter.
pub fn tilt(clearance: Meters, span: Meters) -> Radians {
    Radians(clearance.0 / span.0)
}

/// The fit to which a measured bore and a measured shaft belong: nominal size in whole millimeters, zone of the hole, zone
/// of the shaft, the tightest first; nothing where one of them is in none, worn or off size.
pub fn named_fit(bore: Meters, shaft: Meters) -> Option<(f64, Zone, Zone)> {
    let nominal = round(shaft.0 * 1e3);
    let size = Meters(nominal * 1e-3);
    // A measured size on the limit belongs to the zone, whatever its last bit says.
    const ROUNDING: f64 = 1e-10;
    let find = |names: &[&str], measured: Meters| {
        names.iter().filter_map(|name| Zone::find(name)).find(|zone| {
            zone.deviations(size).is_some_and(|(lower, upper)| {
                let off = measured.0 - size.0;
                off >= lower.0 - ROUNDING && off <= upper.0 + ROUNDING
            })
        })
    };
    Some((nominal, find(&["H7", "H8"], bore)?, find(&["h6", "g6", "f7", "p6", "r6"], shaft)?))
}

/// What a canted shaft costs (estimates for a starter of the 0.3 to 0.6 kW class).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cant {
    /// Torque that the rotor must overcome more.
    pub rotor: NewtonMeters,
    /// Torque that drags the pinion of an inertia drive along with the shaft.
    pub pinion: NewtonMeters,
}

impl Cant {
    /// By the clearance and that of a new bushing: 0.2 N·m and 0.08 N·m at 0.15 mm more than new, in proportion.
    pub fn of(clearance: Meters, new: Meters) -> Self {
        let worn = (clearance.0 - new.0).max(0.0) / 0.15e-3;
        Self { rotor: NewtonMeters(0.2 * worn), pinion: NewtonMeters(0.08 * worn) }
    }
}

/// How a bushing wears.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wear {
    /// Wear factor of the material, m³/(N·m).
    pub factor: f64,
    /// What motion and surroundings multiply it by.
    pub severity: f64,
    /// Bore.
    pub diameter: Meters,
    /// Length of the bushing.
    pub length: Meters,
}

/// One in³·min/(lbf·ft·h), the unit of wear factors in American tables, in m³/(N·m).
pub const INCH_WEAR_FACTOR: f64 = 1.638_706_4e-5 / (4.448_221_615_260_5 * 0.3048 * 60.0);

impl Wear {
    /// Sliding time until a depth is worn away, at a load in N and a sliding speed in m/s.
    pub fn time_to(&self, depth: Meters, load: f64, speed: f64) -> Seconds {
        Seconds(PI * self.diameter.0 * self.length.0 * depth.0 / (4.0 * self.severity * self.factor * speed * load))
    }

    /// Turns that a time is at a sliding speed in m/s.
    pub fn turns(&self, during: Seconds, speed: f64) -> f64 {
        speed * during.0 / (PI * self.diameter.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;

    const STEEL: f64 = 207e9;

    fn fit(size: f64, hole: &str, shaft: &str) -> (f64, f64) {
        let zone = |name: &str| Zone::find(name).unwrap();
        let (least, most) = clearance(Meters(size * 1e-3), zone(hole), zone(shaft)).unwrap();
        (least.0 * 1e6, most.0 * 1e6)
    }

    #[test]
    fn textbook_fits_of_iso_286_2_as_transcribed() {
        for (size, shaft, least, most) in [
            (8.0, "f7", 13.0, 43.0),
            (12.0, "f7", 16.0, 52.0),
            (20.0, "f7", 20.0, 62.0),
            (10.0, "g6", 5.0, 29.0),
            (12.0, "p6", -29.0, 0.0),
            (12.0, "r6", -34.0, -5.0),
            (8.0, "r6", -28.0, -4.0),
        ] {
            let found = fit(size, "H7", shaft);
            check(found.0, least, 1e-9);
            check(found.1, most, 1e-9);
        }
        assert_eq!(Zone::find("H7").and_then(|zone| zone.deviations(Meters(0.040))), None);
    }

    #[test]
    fn textbook_measured_sizes_belong_to_fits_of_iso_286_2() {
        let named = |bore: f64, shaft: f64| {
            named_fit(Meters(bore * 1e-3), Meters(shaft * 1e-3))
                .map(|(size, hole, shaft)| format!("{size}{}/{}", hole.name, shaft.name))
        };
        assert_eq!(named(8.015, 7.980).as_deref(), Some("8H7/f7"));
        assert_eq!(named(12.010, 12.025).as_deref(), Some("12H7/p6"));
        assert_eq!(named(20.025, 19.990).as_deref(), Some("20H8/h6"));
        assert_eq!(named(10.10, 9.98), None); // worn
        assert_eq!(named(40.0, 40.0), None); // beyond the tables
    }

    #[test]
    fn law_a_bushing_within_its_new_clearance_costs_nothing() {
        let at = |millimeters: f64| Cant::of(Meters(millimeters * 1e-3), Meters(0.05e-3));
        assert_eq!(at(0.04).rotor.0, 0.0);
        check(at(0.20).rotor.0, 0.2, 1e-12);
        assert!(at(0.30).pinion > at(0.20).pinion);
    }

    #[test]
    fn textbook_lame_bhandari_example_22_6() {
        let jacket = Ring { inner: Meters(0.040), outer: Meters(0.060), modulus: STEEL, poisson: 0.3 };
        let tube = Ring { inner: Meters(0.020), outer: Meters(0.040), ..jacket };
        let pressure = 100e6 / jacket.ratio();
        check(pressure / 38.46e6, 1.0, 1e-3);
        let interference = pressure / press_pressure(Meters(1.0), tube, jacket);
        check(interference * 1e3 / 0.03171, 1.0, 1e-3);
        check(hoop_stress(pressure, jacket), 100e6, 1.0);
    }

    #[test]
    fn textbook_bronze_in_aluminum_derived() {
        let bushing = Ring { inner: Meters(0.010), outer: Meters(0.014), modulus: 110e9, poisson: 0.34 };
        let housing = Ring { inner: Meters(0.014), outer: Meters(0.030), modulus: 70e9, poisson: 0.33 };
        let pressure = |micrometers: f64| press_pressure(Meters(micrometers * 1e-6), bushing, housing) * 1e-6;
        check(pressure(5.0) / 6.88, 1.0, 2e-3);
        check(pressure(34.0) / 46.8, 1.0, 2e-3);
    }

    #[test]
    fn textbook_wear_shigley_problem_12_22() {
        let (inch, pound, foot) = (0.0254, 4.448_221_615_260_5, 0.3048);
        let wear =
            Wear { factor: 0.6e-10 * INCH_WEAR_FACTOR, severity: 1.8, diameter: Meters(inch), length: Meters(inch) };
        let speed = 52.4 * foot / 60.0;
        let time = wear.time_to(Meters(0.005 * inch), 500.0 * pound, speed);
        check(time.0 / 3600.0 / 1388.0, 1.0, 2e-3);
        check(wear.turns(time, speed) / 16.7e6, 1.0, 3e-3);
        check(0.6e-10 * INCH_WEAR_FACTOR / 1.21e-17, 1.0, 5e-3);
    }

    #[test]
    fn textbook_tilt_derived() {
        let tilt = tilt(Meters(0.20e-3), Meters(0.020));
        check(tilt.0, 0.0100, 1e-12);
        check(tilt.0.to_degrees(), 0.573, 1e-3);
    }
}
