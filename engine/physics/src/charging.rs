//! Charging: what a generator's windings make behind a rectifier, and whether a day's rides put back what starts took.
//! Law: no-load mean of a full bridge, 3·√2/π = 1.35 times the volts between two of three leads and 2·√2/π = 0.90 times
//! those of a single winding, two diodes taken off each (power electronics' standard result).
//! Promise: more riding never leaves less where charging beats the loads. Limit: no load, no ripple filter, sine waves.
//! Not modelled: speed, the generator's own reactance, a regulator that shorts or opens it.

use std::f64::consts::{PI, SQRT_2};

use quantity::{AmpHours, Amps, Seconds, Volts};

/// Windings of a generator.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phases {
    /// One winding.
    One,
    /// Three leads.
    Three,
}

impl Phases {
    /// Mean of a full bridge's output over the effective value of its input, before its diodes.
    pub fn bridge(self) -> f64 {
        match self {
            Self::One => 2.0 * SQRT_2 / PI,
            Self::Three => 3.0 * SQRT_2 / PI,
        }
    }

    /// Rectified volts without load, from the effective volts between two leads; each diode keeps its drop.
    pub fn rectified(self, between_leads: Volts, diode: Volts) -> Volts {
        (between_leads * self.bridge() - diode * 2.0).max(Volts(0.0))
    }
}

/// Largest distance of a phase from the mean of all, as a share of it; nothing for less than two or no volts.
pub fn imbalance(phases: &[Volts]) -> Option<f64> {
    let mean = phases.iter().copied().sum::<Volts>() / phases.len() as f64;
    let far = phases.iter().map(|phase| (*phase - mean).abs()).fold(Volts(0.0), Volts::max);
    (phases.len() > 1 && mean.0 > 0.0).then(|| far / mean)
}

/// A day of starts, rides and standing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Day {
    /// Starts in a day.
    pub starts: f64,
    /// Length of one.
    pub start: Seconds,
    /// Its current.
    pub start_current: Amps,
    /// Time that the engine runs.
    pub ride: Seconds,
    /// What the regulator gives while it runs.
    pub charging: Amps,
    /// What lamps, ignition and the rest take while it runs.
    pub loads: Amps,
    /// Share of the charge put in that comes out again.
    pub efficiency: f64,
    /// What flows with everything off.
    pub leak: Amps,
}

/// Seconds of a day.
const DAY: f64 = 86_400.0;

impl Day {
    /// What one start takes.
    pub fn start_charge(&self) -> AmpHours {
        self.start_current * self.start
    }

    /// What the battery gains an ampere-second's worth of while the engine runs: efficiency counts for gains alone.
    pub fn gain(&self) -> Amps {
        let net = self.charging - self.loads;
        if net.0 > 0.0 { net * self.efficiency } else { net }
    }

    /// What the starts of the day take.
    pub fn starts_charge(&self) -> AmpHours {
        self.start_charge() * self.starts
    }

    /// What the rides put in; negative where the loads take more than comes.
    pub fn ride_charge(&self) -> AmpHours {
        self.gain() * self.ride
    }

    /// What leaks while it stands.
    pub fn leak_charge(&self) -> AmpHours {
        self.leak * Seconds((DAY - self.ride.0).max(0.0))
    }

    /// What the day leaves in the battery.
    pub fn net(&self) -> AmpHours {
        self.ride_charge() - self.starts_charge() - self.leak_charge()
    }

    /// Riding time that refills one start; nothing where riding does not charge.
    pub fn refill(&self) -> Option<Seconds> {
        (self.gain().0 > 0.0).then(|| self.start_charge() / self.gain())
    }

    /// Riding time a day at which nothing is gained or lost; nothing where there is none within the day.
    pub fn even_ride(&self) -> Option<Seconds> {
        let lost = self.starts_charge() + self.leak * Seconds(DAY);
        let ride = lost / (self.gain() + self.leak);
        (self.gain().0 > 0.0 && ride.0 <= DAY).then_some(ride)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check;

    /// 1.35 and 0.90 are the rounded factors of every power electronics book; derived here as means of sine arches.
    #[test]
    fn textbook_factors_of_two_bridges_derived() {
        let mean = |from: f64, to: f64| {
            let steps = 10_000;
            let arch = |step: i32| {
                let at = from + (to - from) * (f64::from(step) + 0.5) / f64::from(steps);
                SQRT_2 * libm::cos(at)
            };
            (0..steps).map(arch).sum::<f64>() / f64::from(steps)
        };
        check(Phases::Three.bridge(), mean(-PI / 6.0, PI / 6.0), 1e-6);
        check(Phases::One.bridge(), mean(-PI / 2.0, PI / 2.0), 1e-6);
        check(Phases::Three.bridge(), 1.35, 0.001);
        check(Phases::One.bridge(), 0.90, 0.001);
        check(Phases::Three.rectified(Volts(20.0), Volts(0.7)).0, 25.61, 0.01);
        check(Phases::One.rectified(Volts(1.0), Volts(0.7)).0, 0.0, 1e-12);
    }

    #[test]
    fn law_the_odd_phase_is_seen_whatever_the_speed() {
        let odd = |volts: [f64; 3]| imbalance(&volts.map(Volts)).unwrap();
        check(odd([20.0, 20.0, 20.0]), 0.0, 1e-12);
        check(odd([18.0, 21.0, 21.0]), 0.1, 1e-12);
        check(odd([36.0, 42.0, 42.0]), odd([18.0, 21.0, 21.0]), 1e-12);
        assert_eq!((imbalance(&[Volts(20.0)]), imbalance(&[Volts(0.0); 3])), (None, None));
    }

    const DAY_OUT: Day = Day {
        starts: 4.0,
        start: Seconds(2.0),
        start_current: Amps(100.0),
        ride: Seconds(1800.0),
        charging: Amps(6.0),
        loads: Amps(5.0),
        efficiency: 0.95,
        leak: Amps(1e-3),
    };

    /// 2 s at 100 A are 0.0556 Ah; at 1.0 A net and 0.95 they take 211 s to come back: derived.
    #[test]
    fn textbook_a_start_and_its_refill_derived() {
        check(DAY_OUT.start_charge().0, 0.0556, 1e-4);
        check(DAY_OUT.refill().unwrap().0, 211.0, 0.5);
    }

    #[test]
    fn law_a_day_of_that_ride_leaves_the_battery_as_it_was() {
        let even = Day { ride: DAY_OUT.even_ride().unwrap(), ..DAY_OUT };
        check(even.net().0, 0.0, 1e-12);
        assert!(Day { ride: Seconds(even.ride.0 + 60.0), ..DAY_OUT }.net().0 > 0.0);
        assert_eq!(Day { loads: Amps(7.0), ..DAY_OUT }.even_ride(), None);
        assert_eq!(Day { starts: 2000.0, ..DAY_OUT }.even_ride(), None);
    }

    #[test]
    fn law_more_starts_and_loads_never_leave_more() {
        assert!(Day { starts: 5.0, ..DAY_OUT }.net().0 < DAY_OUT.net().0);
        assert!(Day { loads: Amps(5.5), ..DAY_OUT }.net().0 < DAY_OUT.net().0);
        assert!(Day { leak: Amps(5e-3), ..DAY_OUT }.net().0 < DAY_OUT.net().0);
    }
}
