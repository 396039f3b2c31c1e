//! A permanent-magnet starter at steady speed on its battery and cables.
//! Law: V = I·R + V_brush + K·ω, shaft torque = K·I − T_friction. Source: Fitzgerald, Kingsley & Umans, Electric Machinery;
//! Guru & Hiziroglu; Burman, Special Electrical Machines (worked examples below).
//! Promise: more resistance or load is never faster. Range: battery as one voltage behind one resistance.
//! Not modelled: armature reaction, iron loss beyond friction, commutation.

use quantity::{
    Amps, KilogramSquareMeters, NewtonMeterSecondsPerRadian, NewtonMeters, Ohms, RadiansPerSecond, Seconds,
    VoltSecondsPerRadian, Volts,
};

/// A starter with its feed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Feed {
    /// Battery without load.
    pub open_circuit: Volts,
    /// Battery's internal resistance.
    pub battery: Ohms,
    /// Cables and contacts, both ways.
    pub path: Ohms,
    /// Armature with the ohmic part of its brushes.
    pub armature: Ohms,
    /// Voltage that the brushes keep whatever the current.
    pub brushes: Volts,
    /// Motor constant.
    pub constant: VoltSecondsPerRadian,
    /// Friction of the bare motor.
    pub friction: NewtonMeters,
}

/// How a starter runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Running {
    /// Current.
    pub current: Amps,
    /// Speed of the shaft; zero when the load holds it.
    pub speed: RadiansPerSecond,
    /// Voltage at the battery's posts.
    pub battery: Volts,
    /// Voltage at the motor.
    pub motor: Volts,
}

impl Feed {
    fn resistance(&self) -> Ohms {
        self.battery + self.path + self.armature
    }

    /// Current while the shaft is held.
    pub fn stall_current(&self) -> Amps {
        (self.open_circuit - self.brushes) / self.resistance()
    }

    /// Torque at the shaft while it is held, friction taken off.
    pub fn stall_torque(&self) -> NewtonMeters {
        NewtonMeters(self.constant.0 * self.stall_current().0 - self.friction.0)
    }

    /// Running against a load at the shaft; held where the load is more than it can turn.
    pub fn at(&self, load: NewtonMeters) -> Running {
        let wanted = Amps((load.0 + self.friction.0) / self.constant.0);
        let current = if wanted.0 < self.stall_current().0 { wanted } else { self.stall_current() };
        let back = self.open_circuit - self.brushes - self.resistance() * current;
        let battery = self.open_circuit - self.battery * current;
        Running {
            current,
            speed: RadiansPerSecond((back.0 / self.constant.0).max(0.0)),
            battery,
            motor: battery - self.path * current,
        }
    }

    /// Running against a load at the shaft that grows with speed: `load` at standstill and `drag` more for each rad/s.
    /// Law: both lines meet at ω = (K·(E − V_brush)/R − T)/(b + K²/R).
    pub fn against(&self, load: NewtonMeters, drag: NewtonMeterSecondsPerRadian) -> Running {
        let (constant, resistance) = (self.constant.0, self.resistance().0);
        let spare = constant * self.stall_current().0 - self.friction.0 - load.0;
        let speed = (spare / (drag.0 + constant * constant / resistance)).max(0.0);
        self.at(NewtonMeters(load.0 + drag.0 * speed))
    }

    /// Resistance that the path may gain until the shaft turns no faster than this against such a load; negative when it
    /// does not get there as it is.
    pub fn spare_resistance(
        &self,
        load: NewtonMeters,
        drag: NewtonMeterSecondsPerRadian,
        speed: RadiansPerSecond,
    ) -> Ohms {
        let current = Amps((self.friction.0 + load.0 + drag.0 * speed.0) / self.constant.0);
        (self.open_circuit - self.brushes - self.constant * speed) / current - self.resistance()
    }

    /// Time constant with which the bare motor runs up.
    pub fn run_up(&self, inertia: KilogramSquareMeters) -> Seconds {
        Seconds(inertia.0 * self.resistance().0 / (self.constant.0 * self.constant.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;

    /// A starter of the 0.5 kW class (engineering estimate).
    const REF: Feed = Feed {
        open_circuit: Volts(13.2),
        battery: Ohms(0.012),
        path: Ohms(0.006),
        armature: Ohms(0.035),
        brushes: Volts(1.2),
        constant: VoltSecondsPerRadian(0.0115),
        friction: NewtonMeters(0.15),
    };
    const GEAR: f64 = 20.0;

    fn rpm(speed: RadiansPerSecond) -> f64 {
        speed.0 * 30.0 / std::f64::consts::PI
    }

    fn bench(volts: f64, armature: f64, constant: f64, friction: f64) -> Feed {
        Feed {
            open_circuit: Volts(volts),
            battery: Ohms(0.0),
            path: Ohms(0.0),
            armature: Ohms(armature),
            brushes: Volts(0.0),
            constant: VoltSecondsPerRadian(constant),
            friction: NewtonMeters(friction),
        }
    }

    #[test]
    fn textbook_fitzgerald_kingsley_umans_example_7_9() {
        let no_load = 2100.0 * std::f64::consts::PI / 30.0;
        let constant = (50.0 - 1.25 * 1.03) / no_load;
        check(constant / 0.22151, 1.0, 5e-3);
        let loss = (50.0 - 1.25 * 1.03) * 1.25;
        check(loss / 60.9, 1.0, 5e-3);
        // At 48 V and 1700 rpm; the book rounds K to 0.22 and prints 275 W.
        let speed = 1700.0 * std::f64::consts::PI / 30.0;
        let shaft = |constant: f64| {
            let current = (48.0 - constant * speed) / 1.03;
            constant * speed * current - loss
        };
        check(shaft(constant) / 267.1, 1.0, 5e-3);
        check(shaft(0.22) / 275.0, 1.0, 5e-3);
        let load = NewtonMeters(constant * (48.0 - constant * speed) / 1.03);
        check(rpm(bench(48.0, 1.03, constant, 0.0).at(load).speed) / 1700.0, 1.0, 1e-9);
    }

    #[test]
    fn textbook_guru_hiziroglu_example_12_1() {
        let motor = bench(40.0, 0.8, 95.0 * 0.004, 0.0);
        check(rpm(motor.at(NewtonMeters(1.2)).speed) / 942.0, 1.0, 1e-3);
        check(motor.stall_torque().0 / 19.0, 1.0, 1e-3);
    }

    #[test]
    fn textbook_burman_example_4_1_and_the_next() {
        check(rpm(bench(48.0, 1.0, 0.12, 0.0).at(NewtonMeters(0.0)).speed), 3819.0, 1.0);
        check(rpm(bench(28.0, 1.0, 1.0 / 5.0, 0.0).at(NewtonMeters(0.0)).speed), 1336.9, 0.1);
    }

    #[test]
    fn textbook_a_small_starter_on_its_battery_derived() {
        check(REF.stall_current().0 / 226.42, 1.0, 1e-3);
        check(REF.stall_torque().0 / 2.454, 1.0, 1e-3);
        let free = REF.at(NewtonMeters(0.0));
        check(free.current.0 / 13.04, 1.0, 1e-3);
        check(free.speed.0 / 983.4, 1.0, 1e-3);
        let loaded = REF.at(NewtonMeters(1.0));
        check(loaded.current.0 / 100.0, 1.0, 1e-3);
        check(rpm(loaded.speed) / GEAR / 278.2, 1.0, 1e-3);
        check(loaded.battery.0, 12.00, 0.012);
        check(loaded.motor.0, 11.40, 0.012);
        check(REF.run_up(KilogramSquareMeters(1.1e-4)).0 * 1e3 / 44.1, 1.0, 2e-3);
        let more = |milliohms: f64| Feed { path: Ohms(0.006 + milliohms * 1e-3), ..REF };
        for (milliohms, crank, stall) in [(10.0, 236.7, 190.5), (20.0, 195.1, 164.4), (50.0, 70.6, 116.5)] {
            check(rpm(more(milliohms).at(NewtonMeters(1.0)).speed) / GEAR / crank, 1.0, 1e-3);
            check(more(milliohms).stall_current().0 / stall, 1.0, 1e-3);
        }
    }

    /// The two lines meet: what the motor gives at that speed is what the load takes there, and a load that does not grow
    /// with speed is the plain one.
    #[test]
    fn law_a_load_that_grows_with_speed_is_met_where_the_motor_gives_it() {
        let (load, drag) = (NewtonMeters(0.6), NewtonMeterSecondsPerRadian(8e-4));
        let running = REF.against(load, drag);
        let given = REF.constant.0 * running.current.0 - REF.friction.0;
        check(given, load.0 + drag.0 * running.speed.0, 1e-12);
        let plain = REF.against(NewtonMeters(1.0), NewtonMeterSecondsPerRadian(0.0));
        check(plain.speed.0, REF.at(NewtonMeters(1.0)).speed.0, 1e-9);
        check(REF.against(NewtonMeters(5.0), drag).speed.0, 0.0, 1e-9);
    }

    #[test]
    fn law_the_spare_resistance_takes_the_shaft_to_that_speed() {
        let (load, drag) = (NewtonMeters(0.6), NewtonMeterSecondsPerRadian(8e-4));
        for speed in [100.0, 300.0, 500.0].map(RadiansPerSecond) {
            let spare = REF.spare_resistance(load, drag, speed);
            let more = Feed { path: REF.path + spare, ..REF };
            check(more.against(load, drag).speed.0, speed.0, 1e-9);
        }
        assert!(REF.spare_resistance(load, drag, RadiansPerSecond(2000.0)).0 < 0.0);
    }

    #[test]
    fn law_a_load_beyond_the_stall_holds_the_shaft() {
        let held = REF.at(NewtonMeters(5.0));
        assert_eq!(held.current, REF.stall_current());
        check(held.speed.0, 0.0, 1e-9);
        check(held.battery.0, 13.2 - 0.012 * 226.42, 1e-3);
    }
}
