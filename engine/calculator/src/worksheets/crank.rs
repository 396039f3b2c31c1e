//! Where motor, gear and engine meet while cranking, and what a little more resistance costs.
//! Law: V = I·R + V_brush + K·ω against T = T₀ + b·ω at the crankshaft, seen through ratio and efficiency; see
//! `physics::starter`. Source: Fitzgerald, Kingsley & Umans; Guru & Hiziroglu (worked examples below).
//! Promise: more resistance or load is never faster. Limit: mean torque, no ripple of compression; one steady battery.

use circuit::Motor;
use machine::Machine;
use physics::starter::{Feed, Running};
use quantity::{
    Dimension, NewtonMeterSecondsPerRadian, NewtonMeters, Ohms, RadiansPerSecond, VoltSecondsPerRadian, Volts, show,
};

use crate::answer::{Answer, Cell, Table, Unit};
use crate::given::{Given, Refused};
use crate::own::{Solved, part_of, solved, value};
use crate::print::{amps, column, figure, figure_in, of, ohms, plain, plot, steps, volts};
use crate::worksheet::{Fallback, Input, Sheet, Want, Worksheet};

/// `crank`.
pub static CRANK: Worksheet = Worksheet {
    name: "crank",
    title: "Cranking speed, and what more resistance costs",
    about: "Current, speed at the crankshaft and volts while cranking, from battery, way, motor, gear and engine; \
            and what the same machine does with some milliohms more in the way. With a sheet every value that is \
            left out is the machine's own. The pulse of each compression is not in it.",
    inputs: &[
        Input {
            name: "battery",
            want: Want::Quantity(Dimension::Voltage, 6.0, 16.0),
            fallback: Fallback::OfMachine(|machine| held(machine)?.supply().map(|(rest, _)| rest.0), "13.2 V"),
            doc: "Rest voltage of the battery.",
        },
        Input {
            name: "battery-resistance",
            want: Want::Quantity(Dimension::Resistance, 0.0, 1.0),
            fallback: Fallback::OfMachine(|machine| held(machine)?.supply().map(|(_, inner)| inner.0), "12 mohm"),
            doc: "Inner resistance of the battery at cranking current.",
        },
        Input {
            name: "path",
            want: Want::Quantity(Dimension::Resistance, 0.0, 2.0),
            fallback: Fallback::OfMachine(own_path, "6 mohm"),
            doc: "Resistance of cables, joints and contacts, both ways.",
        },
        Input {
            name: "armature",
            want: Want::Quantity(Dimension::Resistance, 1e-4, 2.0),
            fallback: Fallback::OfMachine(|machine| of_motor(machine, |motor| motor.resistance.0), "35 mohm"),
            doc: "Resistance of the motor with its brushes.",
        },
        Input {
            name: "brushes",
            want: Want::Quantity(Dimension::Voltage, 0.0, 3.0),
            fallback: Fallback::OfMachine(|machine| of_motor(machine, |_| 0.0), "1.2 V"),
            doc: "What the brushes keep whatever the current; a sheet has it in the motor's resistance.",
        },
        Input {
            name: "constant",
            want: Want::Quantity(Dimension::MotorConstant, 0.002, 0.2),
            fallback: Fallback::OfMachine(|machine| of_motor(machine, |motor| motor.constant.0), "0.0115 V s/rad"),
            doc: "Motor constant.",
        },
        Input {
            name: "friction",
            want: Want::Quantity(Dimension::Torque, 0.0, 20.0),
            fallback: Fallback::OfMachine(|machine| of_motor(machine, |motor| motor.friction.0), "0.15 N m"),
            doc: "Friction of the motor alone.",
        },
        Input {
            name: "windage",
            want: Want::Quantity(Dimension::Drag, 0.0, 0.01),
            fallback: Fallback::OfMachine(|machine| of_motor(machine, |motor| motor.drag.0), "0 N m s/rad"),
            doc: "What the motor alone takes more for each rad/s.",
        },
        Input {
            name: "ratio",
            want: Want::Ratio(1.0, 200.0),
            fallback: Fallback::OfMachine(|machine| of_drive(machine, "ratio"), "20"),
            doc: "Turns of the motor for one of the crankshaft.",
        },
        Input {
            name: "efficiency",
            want: Want::Ratio(0.1, 1.0),
            fallback: Fallback::OfMachine(|machine| of_drive(machine, "efficiency"), "0.85"),
            doc: "Share of the motor's torque that arrives at the crankshaft.",
        },
        Input {
            name: "load",
            want: Want::Quantity(Dimension::Torque, 0.0, 500.0),
            fallback: Fallback::OfMachine(|machine| of_engine(machine, "friction-torque"), "17 N m"),
            doc: "Mean torque that the engine takes at the crankshaft at low speed, compression included.",
        },
        Input {
            name: "drag",
            want: Want::Quantity(Dimension::Drag, 0.0, 20.0),
            fallback: Fallback::OfMachine(|machine| of_engine(machine, "drag"), "0 N m s/rad"),
            doc: "What the engine takes more for each rad/s of the crankshaft.",
        },
        Input {
            name: "extra",
            want: Want::Quantity(Dimension::Resistance, 0.0, 1.0),
            fallback: Fallback::Text("10 mohm"),
            doc: "The added resistance whose cost is asked for.",
        },
        Input {
            name: "fires-above",
            want: Want::Quantity(Dimension::Speed, 2.0, 210.0),
            fallback: Fallback::Text("250 rpm"),
            doc: "Speed of the crankshaft that the ignition needs: small magneto engines 200 to 500 rpm (estimate).",
        },
    ],
    sheet: Sheet::Welcome,
    examples: &[
        "machines/curlew.toml",
        "--battery 12.6V --battery-resistance 35mohm --path 8mohm --load '14 N m' --extra 20mohm",
    ],
    work,
};

fn held(machine: &Machine) -> Option<Solved<'_>> {
    solved(machine, "held", &[])
}

fn of_motor(machine: &Machine, what: fn(&Motor) -> f64) -> Option<f64> {
    held(machine)?.motor().map(what)
}

/// Between the battery's posts and the motor's, over the motor's current.
fn own_path(machine: &Machine) -> Option<f64> {
    let held = held(machine)?;
    let motor = held.motor()?.branch;
    let current = held.current(motor).0.abs();
    let lost = held.across(held.battery()?).0.abs() - held.across(motor).0.abs();
    (current > 1.0).then(|| (lost / current).max(0.0))
}

/// A sheet without a drive has its motor turn the load directly.
fn of_drive(machine: &Machine, field: &str) -> Option<f64> {
    value(machine, "drive", field).or_else(|| part_of(machine, &["drive"]).is_none().then_some(1.0))
}

/// A sheet without an engine has nothing to turn.
fn of_engine(machine: &Machine, field: &str) -> Option<f64> {
    value(machine, "engine", field).or_else(|| part_of(machine, &["engine"]).is_none().then_some(0.0))
}

/// Motor, gear and engine as given.
struct Crank {
    feed: Feed,
    ratio: f64,
    load: NewtonMeters,
    drag: NewtonMeterSecondsPerRadian,
}

impl Crank {
    fn given(given: &Given<'_>) -> Self {
        let feed = Feed {
            open_circuit: Volts(given.number("battery")),
            battery: Ohms(given.number("battery-resistance")),
            path: Ohms(given.number("path")),
            armature: Ohms(given.number("armature")),
            brushes: Volts(given.number("brushes")),
            constant: VoltSecondsPerRadian(given.number("constant")),
            friction: NewtonMeters(given.number("friction")),
        };
        let (ratio, efficiency) = (given.number("ratio"), given.number("efficiency"));
        Self {
            feed,
            ratio,
            load: NewtonMeters(given.number("load") / (ratio * efficiency)),
            drag: NewtonMeterSecondsPerRadian(
                given.number("windage") + given.number("drag") / (ratio * ratio * efficiency),
            ),
        }
    }

    fn with(&self, extra: f64) -> Running {
        let path = self.feed.path + Ohms(extra);
        Feed { path, ..self.feed }.against(self.load, self.drag)
    }

    fn rpm(&self, extra: f64) -> f64 {
        self.with(extra).speed.rpm() / self.ratio
    }

    /// What the motor's shaft gives beyond its own friction and windage, as far as the gear, W.
    fn power(&self, windage: f64) -> f64 {
        let running = self.with(0.0);
        let torque = self.feed.constant.0 * running.current.0 - self.feed.friction.0 - windage * running.speed.0;
        (torque * running.speed.0).max(0.0)
    }
}

fn work(given: &Given<'_>) -> Result<Answer, Refused> {
    let crank = Crank::given(given);
    let (extra, fires) = (given.number("extra"), RadiansPerSecond(given.number("fires-above")));
    let running = crank.with(0.0);
    let (rpm, with_more) = (crank.rpm(0.0), crank.rpm(extra));
    let held = running.speed.0 <= 0.0;
    let spare = crank.feed.spare_resistance(crank.load, crank.drag, fires * crank.ratio);
    let power = crank.power(given.number("windage"));
    let headline = if held {
        format!("the engine is not turned: the motor stands and draws {}", running.current)
    } else {
        format!(
            "{} turn the engine at {} rpm; {} more in the way cost {} rpm",
            running.current,
            plain(rpm),
            ohms(extra),
            plain(rpm - with_more)
        )
    };
    let mut answer = Answer {
        headline,
        figures: vec![
            figure_in("rpm", "speed of the crankshaft", rpm, Unit::Rpm),
            figure("current_a", "current", running.current.0, Dimension::Current),
            figure("battery_v", "volts at the battery", running.battery.0, Dimension::Voltage),
            figure("motor_v", "volts at the motor", running.motor.0, Dimension::Voltage),
            figure_in("motor_rpm", "speed of the motor", running.speed.rpm(), Unit::Rpm),
            figure("power_w", "power at the motor's shaft", power, Dimension::Power),
            figure_in("lost_rpm", "what the extra resistance costs", rpm - with_more, Unit::Rpm),
            figure("spare_ohm", "resistance to spare before it is too slow", spare.0.max(0.0), Dimension::Resistance),
            figure("stall_a", "current when held", crank.feed.stall_current().0, Dimension::Current),
            figure("stall_torque_nm", "torque when held", crank.feed.stall_torque().0, Dimension::Torque),
        ],
        working: working(given, &crank, &running),
        cautions: vec!["neutral, driven wheel off the ground, hands and clothing clear; at most 5 s, then 30 s rest"],
        sources: vec![
            "permanent-magnet motor: Fitzgerald, Kingsley & Umans, Electric Machinery; Guru & Hiziroglu",
            "usual values of a 0.3 to 0.6 kW starter: estimates",
        ],
        ..Answer::default()
    };
    if held {
        answer
            .advice
            .push("a held motor burns out in seconds: let go, and find out whether engine or drive is stuck".into());
    } else if rpm < fires.rpm() {
        answer.advice.push(format!(
            "below the {} rpm that the ignition needs: charge or warm the battery, and measure the drops along the path",
            plain(fires.rpm())
        ));
    } else {
        answer.advice.push(format!("the way may gain {spare} before it falls below {} rpm", plain(fires.rpm())));
    }
    answer.tables.push(table(&crank, extra));
    let reach = (2.0 * extra).max(0.05);
    answer.plot = Some(plot(
        "Cranking speed by added resistance",
        "added resistance (mΩ)",
        "crankshaft (rpm)",
        "speed",
        steps(0.0, reach, 25).map(|extra| (1e3 * extra, crank.rpm(extra))).collect(),
        &[("needed to fire", fires.rpm())],
    ));
    Ok(answer)
}

fn working(given: &Given<'_>, crank: &Crank, running: &Running) -> Vec<String> {
    let feed = &crank.feed;
    let all = feed.battery + feed.path + feed.armature;
    let torque = |torque: f64| show(torque, Dimension::Torque);
    let drag = |drag: f64| show(drag, Dimension::Drag);
    let mut lines = vec![
        format!(
            "resistance in all: {} + {} + {} = {}",
            ohms(feed.battery.0),
            ohms(feed.path.0),
            ohms(feed.armature.0),
            ohms(all.0)
        ),
        format!(
            "load at the motor: {} / ({} · {}) = {}, and {} more for each rad/s",
            given.text("load"),
            given.text("ratio"),
            given.text("efficiency"),
            torque(crank.load.0),
            drag(crank.drag.0)
        ),
        format!(
            "held: ({} − {}) / {} = {}",
            feed.open_circuit,
            volts(feed.brushes.0),
            ohms(all.0),
            amps(feed.stall_current().0)
        ),
    ];
    if running.speed.0 > 0.0 {
        let wanted = crank.load.0 + crank.drag.0 * running.speed.0;
        lines.extend([
            format!(
                "speed: ({} · {} − {} − {}) / ({} + ({})² / {}) = {} rad/s",
                show(feed.constant.0, Dimension::MotorConstant),
                amps(feed.stall_current().0),
                torque(feed.friction.0),
                torque(crank.load.0),
                drag(crank.drag.0),
                show(feed.constant.0, Dimension::MotorConstant),
                ohms(all.0),
                plain(running.speed.0)
            ),
            format!(
                "current: ({} + {}) / {} = {}",
                torque(wanted),
                torque(feed.friction.0),
                show(feed.constant.0, Dimension::MotorConstant),
                running.current
            ),
            format!(
                "crankshaft: {} rpm / {} = {} rpm",
                plain(running.speed.rpm()),
                given.text("ratio"),
                plain(crank.rpm(0.0))
            ),
        ]);
    }
    lines.push(format!(
        "battery: {} − {} · {} = {}",
        feed.open_circuit,
        running.current,
        ohms(feed.battery.0),
        running.battery
    ));
    lines
}

fn table(crank: &Crank, extra: f64) -> Table {
    let mut more = vec![0.0, 0.010, 0.020, 0.050, extra];
    more.sort_by(f64::total_cmp);
    more.dedup();
    let rows = more
        .into_iter()
        .map(|extra| {
            let running = crank.with(extra);
            vec![
                of(extra, Dimension::Resistance),
                Cell::Number(crank.rpm(extra), Unit::Rpm),
                of(running.current.0, Dimension::Current),
                of(running.battery.0, Dimension::Voltage),
                of(running.motor.0, Dimension::Voltage),
            ]
        })
        .collect();
    Table {
        name: "extra",
        title: "With more resistance in the way".into(),
        columns: vec![
            column("extra_ohm", "added"),
            column("rpm", "crankshaft"),
            column("current_a", "current"),
            column("battery_v", "battery"),
            column("motor_v", "motor"),
        ],
        rows,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::tests::school;
    use crate::worksheets::tests::{number, refused, worked};

    fn close(found: f64, expected: f64, share: f64) {
        assert!((found / expected - 1.0).abs() <= share, "{found} is not {expected}");
    }

    /// A starter of the 0.5 kW class (estimate): 1 N·m at the motor, 20:1 without loss; derived from the law.
    const REFERENCE: [(&str, &str); 3] = [("load", "20 N m"), ("efficiency", "1"), ("ratio", "20")];

    #[test]
    fn textbook_the_reference_starter_derived() {
        let answer = worked(&CRANK, &REFERENCE);
        for (name, expected) in [
            ("current_a", 100.0),
            ("rpm", 278.2),
            ("battery_v", 12.00),
            ("motor_v", 11.40),
            ("power_w", 582.6),
            ("stall_a", 226.42),
            ("stall_torque_nm", 2.454),
        ] {
            close(number(&answer, name), expected, 1e-3);
        }
        for (extra, rpm) in [("10 mohm", 236.7), ("20 mohm", 195.1), ("50 mohm", 70.6)] {
            let more = worked(&CRANK, &[&REFERENCE[..], &[("extra", extra)]].concat());
            close(278.2 - number(&more, "lost_rpm"), rpm, 1e-3);
        }
        let free = worked(&CRANK, &[("load", "0 N m"), ("ratio", "1")]);
        close(number(&free, "motor_rpm"), 9390.0, 1e-3);
        close(number(&free, "current_a"), 13.04, 1e-3);
    }

    /// Guru & Hiziroglu, example 12.1, p. 662 (40 V, 0.8 Ω, K 0.38, 1.2 N·m: 942 rpm, 19 N·m when held), rewound for a
    /// quarter of the voltage: V and K over 4, R over 16 leave torque and speed as they are.
    #[test]
    fn textbook_guru_hiziroglu_example_12_1_rewound() {
        let answer = worked(
            &CRANK,
            &[
                ("battery", "10 V"),
                ("battery-resistance", "0 ohm"),
                ("path", "0 ohm"),
                ("armature", "50 mohm"),
                ("brushes", "0 V"),
                ("constant", "0.095 V s/rad"),
                ("friction", "0 N m"),
                ("ratio", "1"),
                ("efficiency", "1"),
                ("load", "1.2 N m"),
            ],
        );
        close(number(&answer, "rpm"), 942.0, 1e-3);
        close(number(&answer, "stall_torque_nm"), 19.0, 1e-3);
    }

    /// Fitzgerald, Kingsley & Umans, example 7.9, p. 389 (48 V, 1.03 Ω, K 0.22151, loss 60.9 W at every speed: 1700 rpm,
    /// 267.1 W), rewound for a quarter of the voltage. The loss is a friction of 60.9 W at 1700 rpm here.
    #[test]
    fn textbook_fitzgerald_example_7_9_rewound() {
        let speed = RadiansPerSecond::from_rpm(1700.0).0;
        let (friction, load) = (60.9 / speed, 267.1 / speed);
        let [friction, load] = [friction, load].map(|torque| format!("{torque} N m"));
        let answer = worked(
            &CRANK,
            &[
                ("battery", "12 V"),
                ("battery-resistance", "0 ohm"),
                ("path", "0 ohm"),
                ("armature", "64.375 mohm"),
                ("brushes", "0 V"),
                ("constant", "0.0553775 V s/rad"),
                ("friction", &friction),
                ("ratio", "1"),
                ("efficiency", "1"),
                ("load", &load),
            ],
        );
        close(number(&answer, "motor_rpm"), 1700.0, 5e-3);
        close(number(&answer, "power_w"), 267.1, 5e-3);
    }

    #[test]
    fn law_more_resistance_load_and_drag_never_turn_faster() {
        let rpm = |pairs: &[(&str, &str)]| number(&worked(&CRANK, pairs), "rpm");
        let base = rpm(&[]);
        for worse in [("path", "7 mohm"), ("load", "18 N m"), ("drag", "0.1 N m s/rad"), ("battery", "12.6 V")] {
            assert!(rpm(&[worse]) < base, "{worse:?}");
        }
        let held = worked(&CRANK, &[("load", "200 N m")]);
        assert_eq!(number(&held, "rpm"), 0.0);
        assert!(held.headline.contains("stands"));
    }

    /// The worksheet knows one load on the battery, the sheet's machine has its lamps on too: within 3 %.
    #[test]
    fn law_a_machine_cranks_as_its_solved_circuit() {
        for id in ["curlew", "moorhen", "dunlin", "dabchick"] {
            let machine = school(id);
            let answer = CRANK.answer(Some(&machine), |_| Vec::new()).unwrap().1;
            let held = held(&machine).unwrap();
            let speed = held.speed().unwrap();
            assert!(held.engaged());
            close(number(&answer, "motor_rpm"), RadiansPerSecond(speed).rpm(), 0.03);
            close(number(&answer, "current_a"), held.current(held.motor().unwrap().branch).0.abs(), 0.03);
        }
    }

    #[test]
    fn law_what_cannot_be_is_refused() {
        for (input, text) in [
            ("battery", "30 V"),
            ("path", "-1 mohm"),
            ("ratio", "0.5"),
            ("efficiency", "120 %"),
            ("load", "12 V"),
            ("extra", ""),
        ] {
            assert_eq!(refused(&CRANK, &[(input, text)]).input(), Some(input));
        }
    }
}
