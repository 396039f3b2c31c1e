//! One cylinder turned by hand or starter: where the piston is, how the charge resists, what a stroke takes.
//! Law: slider and crank; the closed charge follows p·Vⁿ = const from where it is shut in. The torque is
//! (p − p_air)·A·r·(sin θ + λ·sin θ·cos θ/√(1 − λ²·sin²θ)), θ from top dead center, λ crank radius over rod.
//! Source: any text on reciprocating engines; n = 1.2 to 1.3 at cranking speed (engineering estimate).
//! Not modelled: mass that leaks within the stroke, which a lower n stands for; the crankcase of a two-stroke.

use std::f64::consts::{FRAC_PI_4, PI};

use libm::{cos, pow, sin, sqrt};
use quantity::{Joules, Meters, NewtonMeters, Radians};

/// Normal air pressure, Pa.
pub const AIR: f64 = 101_325.0;

/// A cylinder's geometry and how its charge is shut in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cylinder {
    /// Diameter of the bore.
    pub bore: Meters,
    /// Travel of the piston.
    pub stroke: Meters,
    /// Crank radius over length of the connecting rod.
    pub rod_ratio: f64,
    /// Largest volume over smallest.
    pub compression: f64,
    /// Exponent of the compression; 1.4 for air that loses nothing, less at cranking speed.
    pub exponent: f64,
    /// Crank angle before top dead center at which the charge is shut in: π at the bottom, less where a port or a
    /// decompressor holds it open.
    pub closes: Radians,
    /// Pressure of the air, Pa.
    pub air: f64,
}

impl Cylinder {
    /// Where a charge is shut in while a small engine is cranked (estimate).
    pub const CLOSES: Radians = Radians(85.0 * PI / 180.0);
    /// Largest volume over smallest of a small engine (estimate).
    pub const COMPRESSION: f64 = 10.0;
    /// Crank radius over length of the rod (estimate: 0.25 to 0.3).
    const ROD_RATIO: f64 = 0.27;
    /// Exponent at cranking speed (estimate: 1.2 to 1.3).
    const EXPONENT: f64 = 1.25;

    /// A small engine's cylinder at sea level.
    pub fn of(bore: Meters, stroke: Meters, closes: Radians) -> Self {
        Self {
            bore,
            stroke,
            rod_ratio: Self::ROD_RATIO,
            compression: Self::COMPRESSION,
            exponent: Self::EXPONENT,
            closes,
            air: AIR,
        }
    }

    /// The same with another compression.
    pub fn compressing(self, compression: f64) -> Self {
        Self { compression, ..self }
    }

    /// Where an engine comes to rest: a little before its next compression, which has turned it back (estimate).
    pub fn rests(&self) -> Radians {
        Radians(self.closes.0 + 0.2)
    }

    fn area(&self) -> f64 {
        FRAC_PI_4 * self.bore.0 * self.bore.0
    }

    /// Swept volume, m³.
    pub fn displacement(&self) -> f64 {
        self.area() * self.stroke.0
    }

    /// Volume above the piston at a crank angle from top dead center, m³.
    pub fn volume(&self, angle: Radians) -> f64 {
        self.volume_and_lever(angle).0
    }

    /// Volume and [`Self::area_lever`] at an angle after top dead center, both at once.
    pub fn volume_and_lever(&self, after_top: Radians) -> (f64, f64) {
        let (sine, cosine) = (sin(after_top.0), cos(after_top.0));
        let (radius, swing) = (0.5 * self.stroke.0, self.rod_ratio * sine);
        let root = sqrt(1.0 - swing * swing);
        let below = radius * (1.0 - cosine) + radius / self.rod_ratio * (1.0 - root);
        let lever = self.area() * radius * (sine + swing * cosine / root);
        (self.displacement() / (self.compression - 1.0) + self.area() * below, lever)
    }

    /// Pressure of the charge on the way up, Pa; that of the air before it is shut in.
    pub fn pressure(&self, before_top: Radians) -> f64 {
        if before_top.0.abs() >= self.closes.0 {
            return self.air;
        }
        self.air * pow(self.volume(self.closes) / self.volume(before_top), self.exponent)
    }

    /// Volume at which the charge is shut in over the smallest.
    pub fn trapped_ratio(&self) -> f64 {
        self.volume(self.closes) / self.volume(Radians(0.0))
    }

    /// Pressure at top dead center, Pa.
    pub fn peak_pressure(&self) -> f64 {
        self.air * pow(self.trapped_ratio(), self.exponent)
    }

    /// Area of the piston times its way for a radian of the crank, m³/rad, at an angle after top dead center: negative
    /// before it. Torque on the crankshaft is this times the pressure over the air's.
    pub fn area_lever(&self, after_top: Radians) -> f64 {
        self.volume_and_lever(after_top).1
    }

    /// Torque of the gas on the crankshaft, against the starter where negative, at an angle before top dead center.
    pub fn torque(&self, before_top: Radians) -> NewtonMeters {
        NewtonMeters(-(self.pressure(before_top) - self.air) * self.area_lever(before_top))
    }

    /// The largest resisting torque on the way up, and where before top dead center it is.
    pub fn peak_torque(&self) -> (NewtonMeters, Radians) {
        // The torque has one trough between the closing and the top: golden section.
        let ratio = 0.5 * (sqrt(5.0) - 1.0);
        let (mut low, mut high) = (0.0, self.closes.0.min(PI));
        let torque = |angle: f64| self.torque(Radians(angle)).0;
        for _ in 0..80 {
            let (left, right) = (high - ratio * (high - low), low + ratio * (high - low));
            if torque(left) < torque(right) { high = right } else { low = left }
        }
        let at = Radians(0.5 * (low + high));
        (self.torque(at), at)
    }

    /// The least steady torque, friction apart, that brings the piston over the top from rest at an angle before it: the
    /// largest mean of the gas's torque over any part of the way, since what was given by then must cover what the gas
    /// has taken. What a motor loses by its own speed is not in it.
    pub fn first_compression(&self, from: Radians) -> NewtonMeters {
        const STEPS: u32 = 200;
        let mean = |step: u32| {
            let at = self.closes.0.min(from.0) * (1.0 - f64::from(step) / f64::from(STEPS));
            self.work_to(Radians(at)).0 / (from.0 - at)
        };
        NewtonMeters((1..=STEPS).map(mean).fold(0.0, f64::max))
    }

    /// Work that one compression takes, the air's own push taken off.
    pub fn work(&self) -> Joules {
        self.work_to(Radians(0.0))
    }

    /// Work that a compression takes up to an angle before top dead center.
    fn work_to(&self, before_top: Radians) -> Joules {
        let (shut, least) = (self.volume(self.closes), self.volume(before_top));
        let gas = self.air * shut / (self.exponent - 1.0) * (pow(shut / least, self.exponent - 1.0) - 1.0);
        Joules(gas - self.air * (shut - least))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;

    const SQUARE: Cylinder = Cylinder {
        bore: Meters(0.060),
        stroke: Meters(0.060),
        rod_ratio: 0.25,
        compression: 10.0,
        exponent: 1.3,
        closes: Radians(PI),
        air: AIR,
    };

    #[test]
    fn textbook_otto_cycle_of_bhatt_and_mehta_chapter_6() {
        let air = Cylinder { compression: 7.0, exponent: 1.4, air: 1e5, ..SQUARE };
        check(air.peak_pressure() / 15.25e5, 1.0, 1e-3);
        check(297.0 * pow(7.0, 0.4) / 646.8, 1.0, 1e-3);
    }

    #[test]
    fn textbook_polytropic_ratios_derived() {
        check(Cylinder { air: 1.0, ..SQUARE }.peak_pressure(), 19.95, 5e-3);
        check(Cylinder { air: 1.0, compression: 12.0, ..SQUARE }.peak_pressure(), 25.29, 5e-3);
    }

    #[test]
    fn textbook_torque_and_work_of_a_square_single_derived() {
        check(SQUARE.displacement() * 1e6, 169.65, 0.01);
        check(SQUARE.peak_pressure() / 20.22e5, 1.0, 1e-3);
        let (torque, at) = SQUARE.peak_torque();
        check(torque.0 / -47.11, 1.0, 1e-3);
        check(at.0.to_degrees(), 24.1, 0.1);
        check(SQUARE.work().0 / 46.17, 1.0, 1e-3);
    }

    /// The closed form against the sum of the torque over the angle.
    #[test]
    fn law_the_work_is_the_torque_over_the_angle() {
        for cylinder in [SQUARE, Cylinder { closes: Radians(85.0_f64.to_radians()), ..SQUARE }] {
            let steps = 20_000;
            let step = cylinder.closes.0 / f64::from(steps);
            let sum: f64 =
                (0..steps).map(|index| cylinder.torque(Radians((f64::from(index) + 0.5) * step)).0 * step).sum();
            check(-sum / cylinder.work().0, 1.0, 1e-6);
        }
    }

    /// A body under a steady torque and the gas's, stepped in time: with 2 % more than that it comes over the top, with
    /// 2 % less it does not.
    #[test]
    fn law_the_first_compression_is_passed_with_a_little_more_and_not_with_a_little_less() {
        for closes in [PI, 85.0_f64.to_radians()] {
            let cylinder = Cylinder { closes: Radians(closes), ..SQUARE };
            let from = closes + 0.2;
            let least = cylinder.first_compression(Radians(from)).0;
            let passes = |torque: f64| {
                let (mut at, mut speed, step) = (from, 0.0, 1e-5);
                while at > 0.0 && speed >= 0.0 {
                    speed += (torque + cylinder.torque(Radians(at)).0) / 0.04 * step;
                    at -= speed * step;
                }
                at <= 0.0
            };
            assert!(passes(1.02 * least) && !passes(0.98 * least), "{closes}: {least}");
        }
    }

    #[test]
    fn textbook_two_stroke_that_shuts_in_late_derived() {
        let two_stroke = Cylinder { closes: Radians(85.0_f64.to_radians()), ..SQUARE };
        check(two_stroke.trapped_ratio() / 5.675, 1.0, 1e-3);
        check(two_stroke.peak_pressure() / AIR / 9.55, 1.0, 1e-3);
    }
}
