//! The inertia drive: a pinion on a helical thread that stays behind while the shaft spins up, and so is thrown into mesh.
//! Law: with k the lead over 2π, r the mean radius of the thread, tan λ = k/r, φ = atan µ and q = r·tan(λ + φ), the pinion
//! goes only if the shaft accelerates faster than (q·F + T)/J; then its axial acceleration is
//! k·(J·α − q·F − T)/(J + q·m·k). Derived from the balance of the pinion. Principle: US Army Ordnance text OD1003.
//! Promise: a weaker push, more drag and more friction never engage sooner.
//! Not modelled: the blow at the ring gear, a tooth that meets a tooth.

use std::f64::consts::TAU;

use libm::{atan, sqrt, tan};
use quantity::{KilogramSquareMeters, Meters, NewtonMeters, Radians, RadiansPerSecondSquared, Seconds};

/// The drive's pinion and thread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InertiaDrive {
    /// Mass of the pinion, kg.
    pub mass: f64,
    /// Moment of inertia of the pinion.
    pub inertia: KilogramSquareMeters,
    /// Lead of the thread: how far the pinion travels in one turn.
    pub lead: Meters,
    /// Mean radius of the thread.
    pub radius: Meters,
    /// Friction on the thread.
    pub friction: f64,
    /// Axial force of the anti-drift spring and of friction along the shaft, N.
    pub holding_force: f64,
    /// Torque that drags the pinion along with the shaft: old grease, a canted shaft, a tight fit.
    pub drag: NewtonMeters,
    /// Way into mesh.
    pub travel: Meters,
}

impl InertiaDrive {
    /// The drive of a small starter (estimate): a pinion of 0.12 kg on a lead of 30 mm, thrown from 3370 rad/s² on.
    pub const USUAL: Self = Self {
        mass: 0.12,
        inertia: KilogramSquareMeters(1.45e-5),
        lead: Meters(0.030),
        radius: Meters(0.007),
        friction: 0.12,
        holding_force: 8.0,
        drag: NewtonMeters(0.0),
        travel: Meters(0.015),
    };

    fn lead_per_radian(&self) -> f64 {
        self.lead.0 / TAU
    }

    /// Lead angle of the thread.
    pub fn lead_angle(&self) -> Radians {
        Radians(atan(self.lead_per_radian() / self.radius.0))
    }

    /// Torque that a newton of axial force takes to overcome along the thread, m.
    fn lever(&self) -> f64 {
        self.radius.0 * tan(self.lead_angle().0 + atan(self.friction))
    }

    fn held_back(&self) -> f64 {
        self.lever() * self.holding_force + self.drag.0
    }

    /// Whether the pinion can run back along its thread when the engine fires: the thread does not lock itself.
    pub fn returns(&self) -> bool {
        tan(self.lead_angle().0) > self.friction
    }

    /// Below this acceleration of the shaft the pinion only turns with it: the starter spins and the engine does not.
    pub fn least_acceleration(&self) -> RadiansPerSecondSquared {
        RadiansPerSecondSquared(self.held_back() / self.inertia.0)
    }

    /// Axial acceleration of the pinion, m/s²; zero below [`Self::least_acceleration`].
    pub fn axial_acceleration(&self, shaft: RadiansPerSecondSquared) -> f64 {
        self.axial_acceleration_under_way(shaft).max(0.0)
    }

    /// The same of a pinion that has left its place: negative where the shaft no longer gains enough on it.
    pub fn axial_acceleration_under_way(&self, shaft: RadiansPerSecondSquared) -> f64 {
        let along = self.lead_per_radian();
        let push = self.inertia.0 * shaft.0 - self.held_back();
        along * push / (self.inertia.0 + self.lever() * self.mass * along)
    }

    /// Time from rest into mesh while the shaft accelerates evenly; nothing when the pinion does not go.
    pub fn throw_out_time(&self, shaft: RadiansPerSecondSquared) -> Option<Seconds> {
        let axial = self.axial_acceleration(shaft);
        (axial > 0.0).then(|| Seconds(sqrt(2.0 * self.travel.0 / axial)))
    }

    /// How far the shaft turns in the pinion on the way into mesh.
    pub fn slip(&self) -> Radians {
        Radians(self.travel.0 / self.lead_per_radian())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;

    const DRIVE: InertiaDrive = InertiaDrive::USUAL;

    #[test]
    fn textbook_threshold_of_the_shaft_derived() {
        check(DRIVE.lead_angle().0.to_degrees(), 34.30, 0.01);
        check(DRIVE.least_acceleration().0 / 3374.0, 1.0, 0.002);
        let with = |change: fn(&mut InertiaDrive)| {
            let mut drive = DRIVE;
            change(&mut drive);
            drive.least_acceleration().0
        };
        check(with(|drive| drive.drag = NewtonMeters(0.05)) / 6822.0, 1.0, 0.002);
        check(with(|drive| drive.friction = 0.30) / 4769.0, 1.0, 0.002);
    }

    #[test]
    fn textbook_time_into_mesh_derived() {
        for (shaft, axial, milliseconds) in [(4000.0, 2.41, 112.0), (8000.0, 17.8, 41.1), (20_000.0, 63.9, 21.7)] {
            let shaft = RadiansPerSecondSquared(shaft);
            check(DRIVE.axial_acceleration(shaft) / axial, 1.0, 0.003);
            check(DRIVE.throw_out_time(shaft).unwrap().0 * 1e3 / milliseconds, 1.0, 0.004);
        }
        check(DRIVE.slip().0, std::f64::consts::PI, 0.001);
        assert_eq!(DRIVE.throw_out_time(RadiansPerSecondSquared(3000.0)), None);
    }

    #[test]
    fn law_a_steep_thread_lets_the_pinion_back() {
        assert!(DRIVE.returns());
        assert!(!InertiaDrive { friction: 0.7, ..DRIVE }.returns());
    }
}
