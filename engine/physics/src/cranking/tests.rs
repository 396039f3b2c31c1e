//! Starts of a small two-stroke with an inertia drive and of its relatives.

use quantity::{
    AmpHours, Celsius, KilogramSquareMeters, Meters, NewtonMeterSecondsPerRadian, NewtonMeters, Ohms, Radians, Seconds,
    Volts,
};

use super::*;
use crate::cylinder::{AIR, Cylinder};
use crate::inertia_drive::InertiaDrive;
use crate::pack::{Chemistry, Pack};

/// A trail bike of the class that `facts` estimate: all figures estimates.
pub(super) fn bike(air: f64) -> Rig {
    let ports = Ports::plain(Ohms(0.004));
    Rig {
        pack: Pack::new(Chemistry::LfpPower, AmpHours(2.3)).with_resistance(Ohms(0.035), quantity::Amps(70.0)),
        ports: [ports.open(), ports],
        relay: Some(Relay::of(Ohms(4.1), Volts(7.0), Volts(3.0))),
        motor: Motor::SMALL,
        coupling: Coupling { ratio: 18.0, efficiency: 0.85, thrown: Some(InertiaDrive::USUAL), slips: false },
        engine: Engine {
            cylinder: Some(Cylinder {
                bore: Meters(0.066),
                stroke: Meters(0.072),
                rod_ratio: 0.28,
                compression: 11.0,
                exponent: 1.25,
                closes: Radians(85.0_f64.to_radians()),
                air: AIR,
            }),
            strokes: 2,
            leak: 0.3,
            friction: NewtonMeters(5.0),
            sticking: 1.2,
            drag: NewtonMeterSecondsPerRadian(0.12),
            flywheel: KilogramSquareMeters(0.008),
            stands: Radians(100.0_f64.to_radians()),
            air: Celsius(air),
        },
    }
}

fn cranked(rig: &Rig) -> Course {
    rig.crank(Start::cold(rig, 0.9), Seconds(2.0))
}

#[test]
fn law_what_the_battery_gives_up_is_found_again() {
    let mut chattering = bike(20.0);
    chattering.pack.wear *= 12.0;
    let mut clutch = bike(-5.0);
    clutch.coupling.thrown = None;
    let mut held = bike(20.0);
    held.engine.friction = NewtonMeters(80.0);
    for rig in [bike(20.0), bike(-15.0), chattering, clutch, held] {
        let course = cranked(&rig);
        let missing = course.tally.unaccounted();
        assert!(missing.abs() <= 1e-3, "{:?}: {missing} of {:?}", course.outcome, course.tally);
    }
}

#[test]
fn law_a_tighter_step_gives_the_same_start() {
    for air in [20.0, -10.0] {
        let rig = bike(air);
        let (usual, fine) = (cranked(&rig), rig.crank_within(Start::cold(&rig, 0.9), Seconds(2.0), 1e-8));
        let apart = |of: fn(&Course) -> f64| (of(&usual) / of(&fine) - 1.0).abs();
        for (what, apart) in [
            ("speed", apart(|course| course.crank.0)),
            ("volts", apart(|course| course.volts.0)),
            ("amps", apart(|course| course.amps.0)),
            ("least volts", apart(|course| course.least_volts.0)),
        ] {
            assert!(apart < 1e-3, "{what} at {air} °C: {apart} ({} and {} steps)", usual.steps, fine.steps);
        }
        assert!(usual.steps < 1500, "{} steps", usual.steps);
    }
}

#[test]
fn law_each_outcome_comes_out_of_the_physics() {
    let outcome = |change: fn(&mut Rig)| {
        let mut rig = bike(20.0);
        change(&mut rig);
        cranked(&rig).outcome
    };
    assert_eq!(outcome(|_| ()), Outcome::Turns);
    assert_eq!(outcome(|rig| rig.engine.friction = NewtonMeters(80.0)), Outcome::Stalls);
    assert_eq!(outcome(|rig| rig.ports = [rig.ports[0], Ports::plain(Ohms(0.3))]), Outcome::SpinsOnly);
    assert_eq!(outcome(|rig| rig.pack.wear *= 12.0), Outcome::Chatters);
    assert_eq!(outcome(|rig| rig.pack.dead_cells = 3.0), Outcome::NoContact);
    assert_eq!(
        outcome(|rig| {
            if let Some(drive) = &mut rig.coupling.thrown {
                drive.drag = NewtonMeters(0.5);
            }
        }),
        Outcome::SpinsOnly
    );
}

#[test]
fn law_colder_emptier_and_worse_never_crank_faster() {
    let speed = |change: &dyn Fn(&mut Rig)| {
        let mut rig = bike(10.0);
        change(&mut rig);
        cranked(&rig).crank.0
    };
    let mut last = f64::INFINITY;
    for air in [30.0, 20.0, 10.0, 0.0, -10.0, -20.0] {
        let now = speed(&|rig| rig.engine.air = Celsius(air));
        assert!(now <= last + 1e-3, "{air} °C: {now} after {last}");
        last = now;
    }
    for more in [0.0, 5e-3, 10e-3, 20e-3] {
        let now = speed(&|rig| rig.ports[1] = Ports::plain(Ohms(0.004 + more)));
        let worse = speed(&|rig| rig.ports[1] = Ports::plain(Ohms(0.004 + more + 5e-3)));
        assert!(worse < now, "{more} Ω");
    }
    assert!(speed(&|rig| rig.motor.friction = NewtonMeters(0.4)) < speed(&|_| ()));
    assert!(speed(&|rig| rig.engine.drag = NewtonMeterSecondsPerRadian(0.2)) < speed(&|_| ()));
}

/// A cold pack gives more at the next burst than at the one before: it has warmed.
#[test]
fn law_bursts_wake_a_cold_pack_up() {
    let rig = bike(-10.0);
    let mut start = Start::cold(&rig, 0.9);
    let mut speeds = Vec::new();
    for _ in 0..4 {
        let course = rig.crank(start, Seconds(5.0));
        speeds.push(course.crank.0);
        start = course.end.after_rest(&rig, Seconds(30.0));
    }
    assert!(speeds.is_sorted(), "{speeds:?}");
    assert!(start.held.temperature.0 > -10.0 && start.winding.0 > -10.0);
}

/// Run-up of the bare motor on a stiff source: with τₘ = J·R/K² and τₑ = L/R the two time constants of the textbook's
/// second-order circuit sum to τₘ and multiply to τₘ·τₑ.
#[test]
fn textbook_a_bare_motor_runs_up_with_its_two_time_constants() {
    let mut rig = bike(20.0);
    rig.relay = None;
    rig.coupling.slips = true;
    rig.coupling.thrown = None;
    rig.pack.wear = 1e-6;
    rig.motor.friction = NewtonMeters(0.0);
    rig.motor.drag = NewtonMeterSecondsPerRadian(0.0);
    rig.motor.winding_heat = 1e9;
    rig.motor.iron_heat = 1e9;
    let (ohms, constant): (f64, f64) = (0.035 + 0.004, 0.0115);
    let (mechanical, electrical) = (1.1e-4 * ohms / (constant * constant), 1e-4 / ohms);
    let root = (0.25 * mechanical * mechanical - mechanical * electrical).sqrt();
    let (slow, fast) = (0.5 * mechanical + root, 0.5 * mechanical - root);
    let course = rig.crank_within(Start::cold(&rig, 0.9), Seconds(0.2), 1e-8);
    let open = rig.pack.open_circuit(&rig.pack.rested(0.9, Celsius(20.0))).0;
    for sample in course.samples.iter().filter(|sample| sample.at.0 > 2e-3) {
        let left = slow * (-sample.at.0 / slow).exp() - fast * (-sample.at.0 / fast).exp();
        let expected = open / constant * (1.0 - left / (slow - fast));
        assert!((sample.rotor.0 / expected - 1.0).abs() < 5e-4, "{sample:?}: {expected}");
    }
}

#[test]
fn law_a_start_ends_whatever_the_figures() {
    let cranked = |change: &dyn Fn(&mut Rig)| {
        let mut rig = bike(10.0);
        change(&mut rig);
        cranked(&rig)
    };
    // A kiloohm in the way, a blocked engine, a coil behind a kiloohm: solved, not only given up.
    for course in [
        cranked(&|rig| rig.ports[1] = Ports::plain(Ohms(1e3))),
        cranked(&|rig| rig.engine.friction = NewtonMeters(1e4)),
        cranked(&|rig| rig.ports.iter_mut().for_each(|ports| ports.0[2][2] = -1e3)),
    ] {
        assert!(course.outcome != Outcome::Unsolved && course.outcome != Outcome::Turns, "{:?}", course.outcome);
        assert!(
            course.steps < 20_000 && course.tally.unaccounted().abs() < 1e-3,
            "{} {:?}",
            course.steps,
            course.tally
        );
    }
    let upside_down = |rig: &mut Rig| rig.relay = Some(Relay::of(Ohms(4.1), Volts(3.0), Volts(8.0)));
    for change in
        [&upside_down as &dyn Fn(&mut Rig), &|rig| rig.engine.drag = NewtonMeterSecondsPerRadian(1e6), &|rig| {
            rig.motor.inertia = KilogramSquareMeters(1e-12)
        }]
    {
        assert!(cranked(change).steps <= 60_100);
    }
}
