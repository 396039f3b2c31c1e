//! A pack against recorded porous-electrode runs, cold-cranking standards and the first law.
//!
//! Recorded: PyBaMM 26.6.2, Doyle-Fuller-Newman model, 40 points an electrode and 120 shells a particle, one temperature
//! ("lumped", 10 W/(m²·K)), six pulses of 5 s with rests of 30 s from 90 % of charge.

use quantity::{AmpHours, Amps, Celsius, Joules, Seconds, Volts};

use super::{Chemistry, Held, Pack, Rates};
use crate::{check, lead_acid, lfp};

const STEP: Seconds = Seconds(0.01);
const ALL: [Chemistry; 4] = [Chemistry::LfpPower, Chemistry::LfpEnergy, Chemistry::Flooded, Chemistry::GlassMat];

/// Holds a current for a time in air of a temperature; tells each step to `seen`.
fn hold(pack: &Pack, held: &mut Held, current: Amps, air: Celsius, time: f64, mut seen: impl FnMut(&Rates)) {
    for _ in 0..(time / STEP.0).round() as usize {
        // Midpoint rule, so that the error is far below what is asserted.
        let half = held.after(&pack.rates(held, current, air), STEP * 0.5);
        let rates = pack.rates(&half, current, air);
        seen(&rates);
        *held = held.after(&rates, STEP);
    }
}

/// One cell as the reference has it: single, with its own heat capacity and cooling.
fn cell(cell: crate::sag::Sag, curve: &'static [(f64, f64, f64)], heat_capacity: f64, cooling: f64) -> Pack {
    let four = Pack::new(Chemistry::LfpEnergy, cell.capacity);
    Pack { cell, curve, heat_capacity: 4.0 * heat_capacity, cooling: 4.0 * cooling, ..four }
}

/// Volts a cell: first instant and end of pulse 1, end of its rest, first instant of pulse 6; temperature at its end.
fn train(pack: &Pack, current: f64, celsius: f64) -> [f64; 5] {
    let air = Celsius(celsius);
    let mut held = pack.rested(0.9, air);
    let mut found = Vec::new();
    for _ in 0..6 {
        found.push(pack.voltage(&held, Amps(current)).0 / 4.0);
        hold(pack, &mut held, Amps(current), air, 5.0, |_| ());
        found.push(pack.voltage(&held, Amps(current)).0 / 4.0);
        found.push(held.temperature.0);
        hold(pack, &mut held, Amps(0.0), air, 30.0, |_| ());
        found.push(pack.voltage(&held, Amps(0.0)).0 / 4.0);
    }
    [found[0], found[1], found[3], found[20], found[22]]
}

/// Rest curve of the published set of Prada 2013, as far as these trains reach; it does not change with temperature.
const PRADA: [(f64, f64, f64); 12] = [
    (0.50, 3.2660, 0.0),
    (0.59, 3.2686, 0.0),
    (0.65, 3.2700, 0.0),
    (0.68, 3.2715, 0.0),
    (0.71, 3.2761, 0.0),
    (0.74, 3.2875, 0.0),
    (0.77, 3.3018, 0.0),
    (0.80, 3.3097, 0.0),
    (0.83, 3.3124, 0.0),
    (0.86, 3.3134, 0.0),
    (0.89, 3.3140, 0.0),
    (0.92, 3.3145, 0.0),
];

#[test]
fn textbook_six_pulses_of_prada_2013_and_their_wake_up() {
    // A can of 26 × 65 mm: 70 g, 1100 J/(kg·K), 6.37e-3 m².
    let pack = cell(lfp::POWER_CELL, &PRADA, 77.0, 0.0637);
    for (amps, celsius, expected) in [
        (23.0, 25.0, [3.0806, 3.0448, 3.3128, 3.0675, 26.88]),
        (23.0, 0.0, [2.9996, 2.9677, 3.3129, 2.9946, 2.50]),
        (23.0, -10.0, [2.9573, 2.9266, 3.3129, 2.9558, -7.17]),
        (23.0, -20.0, [2.9121, 2.8820, 3.3129, 2.9129, -16.81]),
        (46.0, 25.0, [2.9971, 2.9527, 3.3096, 2.9802, 30.10]),
        (46.0, 0.0, [2.9047, 2.8668, 3.3097, 2.9032, 6.44]),
        (46.0, -10.0, [2.8619, 2.8251, 3.3097, 2.8649, -2.89]),
        (46.0, -20.0, [2.8182, 2.7820, 3.3098, 2.8240, -12.20]),
    ] {
        let found = train(&pack, amps, celsius);
        // The reference counts no heat of what diffuses, so that it stays cooler. Its rest comes sooner at 20 C: one
        // exponential cannot follow the root of time.
        let within = if amps < 30.0 { [0.002, 0.012, 0.003, 0.006, 0.4] } else { [0.002, 0.006, 0.022, 0.010, 1.1] };
        for ((found, expected), within) in found.into_iter().zip(expected).zip(within) {
            check(found, expected, within);
        }
    }
}

#[test]
fn textbook_six_pulses_of_the_bpx_lfp_example_and_their_wake_up() {
    // 1940 kg/m³, 1.7e-5 m³, 999 J/(kg·K), 0.00431 m².
    let pack = cell(lfp::ENERGY_CELL, &lfp::REST, 32.95, 0.0431);
    for (amps, celsius, expected) in [
        (4.0, 25.0, [3.1185, 3.1141, 3.3204, 3.1224, 25.60]),
        (4.0, 0.0, [2.9625, 2.9636, 3.3170, 2.9713, 1.10]),
        (4.0, -10.0, [2.8950, 2.8981, 3.3156, 2.9071, -8.68]),
        (4.0, -20.0, [2.8239, 2.8280, 3.3142, 2.8374, -18.43]),
        (10.0, 25.0, [2.9978, 2.9876, 3.3185, 3.0137, 27.48]),
        (10.0, 0.0, [2.8299, 2.8234, 3.3128, 2.8562, 3.85]),
        (10.0, -10.0, [2.7561, 2.7399, 3.3104, 2.7843, -5.43]),
    ] {
        let found = train(&pack, amps, celsius);
        for ((found, expected), within) in found.into_iter().zip(expected).zip([0.003, 0.008, 0.006, 0.006, 0.2]) {
            check(found, expected, within);
        }
    }
}

/// Six cells at 21.7 °C and full: what is lost after 5 s of the porous-electrode model of Sulzer 2019 (PyBaMM).
#[test]
fn textbook_five_seconds_of_sulzer_2019() {
    let air = Celsius(21.7);
    let pack = Pack { build: 1.0, heat_capacity: 1e9, ..Pack::new(Chemistry::GlassMat, AmpHours(17.0)) };
    for (amps, volts) in [(1.7, 12.946), (17.0, 12.605), (51.0, 12.161), (85.0, 11.871), (170.0, 11.340)] {
        let mut held = pack.rested(1.0, air);
        let rest = pack.open_circuit(&held).0;
        hold(&pack, &mut held, Amps(amps), air, 5.0, |_| ());
        check(rest - pack.voltage(&held, Amps(amps)).0, 12.990 - volts, 0.009);
    }
}

/// A battery that is sold with a rating passes the test of that rating: 7.2 V after 30 s at −18 °C, and 7.5 V after 10 s.
/// Usual ratings are 15 A for each Ah (glass mat) and 12 (flooded) (estimate).
#[test]
fn textbook_a_new_battery_passes_sae_j537_and_en_50342_1() {
    for (chemistry, rated) in [(Chemistry::GlassMat, 15.0), (Chemistry::Flooded, 12.0)] {
        for test in lead_acid::COLD_CRANK_TESTS {
            let pack = Pack::new(chemistry, AmpHours(12.0));
            let mut held = pack.rested(1.0, test.at);
            hold(&pack, &mut held, Amps(rated * 12.0), test.at, test.after.0, |_| ());
            let volts = pack.voltage(&held, Amps(rated * 12.0));
            let spare = volts - test.least;
            assert!((0.0..1.0).contains(&spare.0), "{chemistry:?} {}: {volts}", test.standard);
        }
    }
}

/// What is drawn can be told from the charge alone: ∫ n·(OCV − T·dOCV/dT) dq, whatever the path; with a rest curve that is
/// straight in temperature, OCV − T·dOCV/dT does not depend on T.
#[test]
fn law_energy_is_delivered_warms_or_leaves_and_nothing_is_left_over() {
    for chemistry in ALL {
        let pack = Pack { dead_cells: 1.0, wear: 1.3, ..Pack::new(chemistry, AmpHours(6.0)) };
        for (start, celsius) in [(0.95, 20.0), (0.6, -15.0)] {
            let air = Celsius(celsius);
            let mut held = pack.rested(start, Celsius(celsius + 3.0));
            let (mut delivered, mut to_air, mut drawn, mut thrown) = (0.0, 0.0, 0.0, 0.0);
            for current in [60.0, 0.0, 90.0, -5.0, 0.0, 30.0] {
                hold(&pack, &mut held, Amps(current), air, 7.0, |rates| {
                    delivered += rates.delivered.0 * STEP.0;
                    to_air += rates.to_air.0 * STEP.0;
                    drawn += rates.drawn.0 * STEP.0;
                    thrown += (rates.heat + rates.reversible).0.abs() * STEP.0;
                });
            }
            let warmed = pack.heat_capacity * (held.temperature.0 - celsius - 3.0);
            let content = |charge: f64| content(&pack, charge).0;
            let given = content(start) - content(held.charge);
            check(drawn / given, 1.0, 2e-5);
            check((delivered + warmed + to_air) / given, 1.0, 2e-5);
            assert!(thrown > 0.05 * given);
        }
    }
}

/// Enthalpy of a pack above empty, by many small straight pieces.
fn content(pack: &Pack, charge: f64) -> Joules {
    let pieces = 20_000;
    let width = charge / f64::from(pieces);
    let volts: f64 = (0..pieces)
        .map(|at| {
            let middle = (f64::from(at) + 0.5) * width;
            let [warm, cool] = [1.0, 0.0].map(|celsius| pack.open_circuit(&pack.rested(middle, Celsius(celsius))).0);
            cool - 273.15 * (warm - cool)
        })
        .sum();
    Joules(volts * width * 3600.0 * pack.capacity().0)
}

#[test]
fn law_a_pack_shows_its_open_circuit_without_a_current_and_again_after_a_rest() {
    for chemistry in ALL {
        let pack = Pack::new(chemistry, AmpHours(5.0));
        let mut held = pack.rested(0.8, Celsius(5.0));
        assert_eq!(pack.voltage(&held, Amps(0.0)), pack.open_circuit(&held));
        hold(&pack, &mut held, Amps(40.0), Celsius(5.0), 3.0, |_| ());
        assert!(pack.voltage(&held, Amps(0.0)) < pack.open_circuit(&held) && held.temperature.0 > 5.0);
        let later = pack.standing(&held, Celsius(5.0), Amps(0.0), Seconds(8.0 * 3600.0));
        check(pack.voltage(&later, Amps(0.0)).0, pack.open_circuit(&later).0, 1e-3);
        check(later.temperature.0, 5.0, 0.05);
    }
}

#[test]
fn law_standing_is_the_end_of_many_small_steps_without_current() {
    let pack = Pack::new(Chemistry::LfpEnergy, AmpHours(5.0));
    let air = Celsius(5.0);
    let mut held = pack.rested(0.8, air);
    hold(&pack, &mut held, Amps(40.0), air, 4.0, |_| ());
    let at_once = pack.standing(&held, air, Amps(0.0), Seconds(30.0));
    hold(&pack, &mut held, Amps(0.0), air, 30.0, |_| ());
    check(at_once.tail.0, held.tail.0, 1e-6);
    check(at_once.temperature.0, held.temperature.0, 1e-6);
    // The pack is a little warmer than the air, which standing does not follow.
    check(at_once.lag / held.lag, 1.0, 0.08);
}

#[test]
fn law_wear_a_dead_cell_and_a_stated_resistance_do_what_they_say() {
    for chemistry in ALL {
        let new = Pack::new(chemistry, AmpHours(8.0));
        let at = Celsius(20.0);
        let held = new.rested(0.7, at);
        let lost = |pack: &Pack, held: &Held| (pack.open_circuit(held) - pack.voltage(held, Amps(80.0))).0;
        let worn = Pack { wear: 2.0 * new.wear, ..new };
        check(lost(&worn, &held) / lost(&new, &held), 2.0, 1e-9);
        let dead = Pack { dead_cells: 1.0, ..new };
        let one = new.open_circuit(&held).0 / chemistry.cells();
        check((new.voltage(&held, Amps(80.0)) - dead.voltage(&held, Amps(80.0))).0, one, 1e-9);
        let stated = new.with_resistance(quantity::Ohms(0.018), Amps(80.0));
        check(lost(&stated, &stated.rested(1.0, at)) / 80.0, 0.018, 1e-9);
        let step = 1e-3;
        let slope = (new.voltage(&held, Amps(80.0)) - new.voltage(&held, Amps(80.0 + step))).0 / step;
        check(new.source_resistance(&held, Amps(80.0)).0 / slope, 1.0, 1e-4);
    }
}

#[test]
fn law_a_cold_pack_wakes_up_by_its_own_heat() {
    for chemistry in [Chemistry::LfpPower, Chemistry::LfpEnergy] {
        let pack = Pack::new(chemistry, AmpHours(4.0));
        let air = Celsius(-10.0);
        let mut held = pack.rested(0.9, air);
        let current = Amps(if chemistry == Chemistry::LfpPower { 60.0 } else { 20.0 });
        let first = pack.voltage(&held, current);
        hold(&pack, &mut held, current, air, 5.0, |_| ());
        let later = pack.standing(&held, air, Amps(0.0), Seconds(30.0));
        assert!(pack.voltage(&later, current) > first + Volts(0.005), "{chemistry:?}");
    }
}
