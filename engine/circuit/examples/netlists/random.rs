//! Random circuits of the primitives: a battery, wires, switches, fuses, diodes, lamps, consumers, relays that feed
//! motors. Weak batteries, blown fuses, floating ends and chatter are meant to occur.

use circuit::{Drive, Fuse, Law, Motor, Relay};
use quantity::{
    Amps, KilogramSquareMeters, NewtonMeterSecondsPerRadian, NewtonMeters, Ohms, RadiansPerSecondSquared,
    VoltSecondsPerRadian, Volts, Watts,
};

use crate::starter::Named;

/// A generator of the kind known as SplitMix64 (Steele, Lea, Flood 2014).
pub struct Dice(pub u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * ((self.next() >> 11) as f64 / (1_u64 << 53) as f64)
    }

    fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    fn chance(&mut self, share: f64) -> bool {
        self.between(0.0, 1.0) < share
    }
}

/// The random circuit of a seed.
pub fn random(seed: u64) -> Named {
    let mut dice = Dice(seed);
    let mut all = Named::new("battery.minus");
    let resistance = dice.log_between(0.005, 0.2);
    let emf = dice.between(9.0, 14.0);
    all.add("battery", "battery.plus", "battery.minus", Law::Linear { resistance: Ohms(resistance), emf: Volts(emf) });
    let mut places = vec!["battery.minus".to_owned(), "battery.plus".to_owned()];
    for part in 0..4 + dice.below(14) {
        let name = format!("part-{part}");
        let fresh = format!("{name}.to");
        let from = places[dice.below(places.len())].clone();
        let to = if dice.chance(0.6) { fresh.clone() } else { places[dice.below(places.len())].clone() };
        if from == to {
            continue;
        }
        series_part(&mut all, &mut dice, &name, &from, &to);
        if to == fresh {
            places.push(fresh);
        }
    }
    for relay in 0..dice.below(4) {
        relay_and_load(&mut all, &mut dice, &format!("relay-{relay}"), &mut places);
    }
    all
}

fn series_part(all: &mut Named, dice: &mut Dice, name: &str, from: &str, to: &str) {
    match dice.below(11) {
        0..=2 => {
            let ohms = dice.log_between(0.0002, 2.0);
            all.ohms(name, from, to, ohms);
        }
        3 => {
            let ohms = dice.log_between(2.0, 1e7);
            all.ohms(name, from, to, ohms);
        }
        4 => {
            let closed = dice.chance(0.6);
            let law = if closed { Law::resistance(Ohms(0.02)) } else { Law::Open };
            all.add(name, from, to, law);
        }
        5 => {
            let branch = all.ohms(name, from, to, 0.004);
            let rating = Amps(dice.between(3.0, 30.0));
            all.network.fuses.push(Fuse { branch, rating });
        }
        6 | 7 => {
            let saturation = Amps(dice.log_between(1e-12, 1e-8));
            let emission = Volts(dice.between(1.0, 2.0) * 0.025_865);
            let resistance = Ohms(if dice.chance(0.3) { 0.0 } else { dice.between(0.01, 0.1) });
            all.add(name, from, to, Law::Junction { saturation, emission, resistance });
        }
        8 | 9 => {
            let watts = Watts(dice.between(1.2, 60.0));
            all.add(name, from, to, Law::Lamp(watts));
        }
        _ => {
            let amps = Amps(dice.log_between(1e-3, 4.0));
            all.add(name, from, to, Law::Draw(amps));
        }
    }
}

fn relay_and_load(all: &mut Named, dice: &mut Dice, name: &str, places: &mut Vec<String>) {
    let place = |dice: &mut Dice| places[dice.below(places.len())].clone();
    let (plus, minus) = (place(dice), if dice.chance(0.7) { places[0].clone() } else { place(dice) });
    let line = if dice.chance(0.7) { places[1].clone() } else { place(dice) };
    let load = format!("{name}.load");
    if plus == minus {
        return;
    }
    let ohms = dice.between(3.0, 90.0);
    let coil = all.ohms(&format!("{name}.coil"), &plus, &minus, ohms);
    let contact = all.ohms(&format!("{name}.contact"), &line, &load, 0.0008);
    if dice.chance(0.4) {
        all.diode(&format!("{name}.diode"), &minus, &plus);
    }
    let pull_in = Volts(dice.between(4.0, 8.0));
    let drop_out = Volts(dice.between(0.5, 4.0));
    let stuck = if dice.chance(0.1) { Some(dice.chance(0.5)) } else { None };
    all.network.relays.push(Relay { coil, contact, pull_in, drop_out, stuck });
    if dice.chance(0.75) {
        let resistance = Ohms(dice.between(0.02, 0.06));
        let branch = all.ohms(&format!("{name}.motor"), &load, "battery.minus", resistance.0);
        let friction = dice.between(0.05, 0.5);
        let drive = dice.chance(0.5).then(|| Drive {
            inertia: KilogramSquareMeters(1.1e-4),
            engages_above: RadiansPerSecondSquared(if dice.chance(0.3) { 0.0 } else { dice.between(2e3, 3e4) }),
            load: NewtonMeters(dice.between(0.1, 1.5)),
            load_drag: NewtonMeterSecondsPerRadian(dice.between(0.0, 1e-3)),
            breakaway: NewtonMeters(dice.between(0.2, 2.5)),
        });
        all.network.motors.push(Motor {
            branch,
            resistance,
            constant: VoltSecondsPerRadian(dice.between(0.008, 0.016)),
            friction: NewtonMeters(friction),
            drag: NewtonMeterSecondsPerRadian(if dice.chance(0.2) { 0.0 } else { dice.log_between(1e-5, 1e-3) }),
            breakaway: NewtonMeters(friction * dice.between(1.0, 2.0)),
            blocked: dice.chance(0.15),
            drive,
        });
    }
    places.push(load);
}
