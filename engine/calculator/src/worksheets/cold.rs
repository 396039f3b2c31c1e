//! The cold-start plan: how long to hold the button, how long to rest, how often, and when to stop.
//! Law: see `starting.rs`; the best of nine plans is taken.
//! Promise: colder air, an emptier or an older battery never give better odds.
//! Limit: odds of an engine in tune with fresh fuel; no choke, no fuel that is too old, no flooding.

use machine::Machine;
use physics::cranking::Outcome;
use quantity::{Celsius, Dimension, RadiansPerSecond, Seconds, show};

use crate::answer::{Answer, Axis, Cell, Column, Curve, Figure, Limit, Plot, Table, Unit};
use crate::given::{Given, Refused};
use crate::own::{of_battery, value};
use crate::rig::Stand;
use crate::starting::{Burst, Firing, Habit, Plan};
use crate::worksheet::{Fallback, Input, Sheet, Want, Worksheet};

/// `cold`.
pub static COLD: Worksheet = Worksheet {
    name: "cold",
    title: "Cold-start plan",
    about: "How long to hold the button, how long to rest, and when to stop. Battery, wiring, motor, drive and \
            engine are solved together in time, burst after burst: a cold pack warms while it works and gives \
            more at the next burst, but each burst costs charge and heats the winding. Burst and rest are chosen \
            for the best odds; of plans that are alike the shorter is taken. The odds are those of \
            an engine in tune with fresh fuel.",
    inputs: &[
        Input {
            name: "air",
            want: Want::Quantity(Dimension::Temperature, -40.0, 50.0),
            fallback: Fallback::Text("0 C"),
            doc: "Temperature of the air that the machine has stood in.",
        },
        Input {
            name: "pack",
            want: Want::Quantity(Dimension::Temperature, -40.0, 50.0),
            fallback: Fallback::Absent,
            doc: "Temperature of the battery, when it was kept warmer; that of the air when left out.",
        },
        Input {
            name: "charge",
            want: Want::Ratio(0.02, 1.0),
            fallback: Fallback::OfMachine(own_charge, "0.9"),
            doc: "State of charge.",
        },
        Input {
            name: "firing-speed",
            want: Want::Quantity(Dimension::Speed, 6.0, 84.0),
            fallback: Fallback::OfMachine(own_firing_speed, "200 rpm"),
            doc: "Speed of the crankshaft below which the engine does not fire (estimate: 200 to 500 rpm with a magneto, 60 to 90 rpm with a battery ignition).",
        },
        Input {
            name: "fires-in",
            want: Want::Quantity(Dimension::Time, 0.1, 30.0),
            fallback: Fallback::Text("1.5 s"),
            doc: "How long it takes to fire at 20 °C once it is turned fast enough (estimate).",
        },
        Input {
            name: "on",
            want: Want::Quantity(Dimension::Time, 0.5, 15.0),
            fallback: Fallback::Text("5 s"),
            doc: "The longest burst that is allowed; the starter's maker may say less (common practice, no source: 5 s).",
        },
        Input {
            name: "rest",
            want: Want::Quantity(Dimension::Time, 1.0, 600.0),
            fallback: Fallback::Absent,
            doc: "Rest between bursts; left out, the best of 20, 30 and 60 s is taken.",
        },
        Input { name: "tries", want: Want::Ratio(1.0, 10.0), fallback: Fallback::Text("6"), doc: "The most bursts." },
        Input {
            name: "winding-limit",
            want: Want::Quantity(Dimension::Temperature, 60.0, 180.0),
            fallback: Fallback::Text("130 C"),
            doc: "Temperature that the winding must not pass (IEC 60085 class B: 130 °C).",
        },
    ],
    sheet: Sheet::Needed,
    examples: &[
        "curlew.toml --air=-8C",
        "curlew.toml --air -8C --pack 18C",
        "curlew.toml --air=-15C --charge 60% --json",
    ],
    work,
};

fn own_charge(machine: &Machine) -> Option<f64> {
    of_battery(machine, "charge")
}

/// The speed from which the machine's engine fires.
pub(super) fn own_firing_speed(machine: &Machine) -> Option<f64> {
    value(machine, "engine", "fires-above")
}

/// Plans whose odds differ by less are alike: the shorter is taken.
const ALIKE: f64 = 0.002;
/// A further burst that adds less than this to the odds is not worth its charge.
const WORTH: f64 = 0.002;

fn work(given: &Given<'_>) -> Result<Answer, Refused> {
    let Some(machine) = given.machine else { return Err(Refused::NoSheet) };
    let air = Celsius(given.number("air"));
    let mut stand = Stand::of(machine, &[], air, Some(given.number("charge")))?;
    let warm = given.maybe("pack").map(Celsius);
    if let Some(pack) = warm {
        stand.start.held.temperature = pack;
    }
    let least = RadiansPerSecond(given.number("firing-speed"));
    let firing = Firing::new(least, Seconds(given.number("fires-in")), air);
    let hottest = Celsius(given.number("winding-limit"));
    let tries = given.number("tries").round().max(1.0) as usize;
    let longest = given.number("on");
    let rests: Vec<f64> = given.maybe("rest").map_or_else(|| vec![20.0, 30.0, 60.0], |rest| vec![rest]);
    let mut best: Option<Plan> = None;
    for share in [1.0, 0.6, 0.4] {
        for rest in &rests {
            let habit = Habit { on: Seconds(share * longest), rest: Seconds(*rest), tries, hottest, worth: WORTH };
            let plan = Plan::of(&stand, &firing, &habit)?;
            let better = best.as_ref().is_none_or(|best| {
                let gain = plan.odds() - best.odds();
                gain > ALIKE || (gain > -ALIKE && plan.takes() < best.takes())
            });
            if better {
                best = Some(plan);
            }
        }
    }
    let Some(plan) = best else { return Err(Refused::NoSheet) };
    Ok(answer(given, &stand, &plan, least))
}

fn answer(given: &Given<'_>, stand: &Stand, plan: &Plan, least: RadiansPerSecond) -> Answer {
    let odds = plan.odds();
    let (first, last) = (&plan.bursts[0], &plan.bursts[plan.bursts.len() - 1]);
    let turns = first.course.outcome == Outcome::Turns || last.course.outcome == Outcome::Turns;
    let count = plan.bursts.len();
    let on = show(first.on.0, Dimension::Time);
    let rest = show(plan.rest.0, Dimension::Time);
    // Never certain, never hopeless.
    let percent = match odds {
        odds if odds > 0.995 => "more than 99 %".to_owned(),
        odds if odds < 0.005 => "less than 1 %".to_owned(),
        odds => format!("{:.0} %", 100.0 * odds),
    };
    let headline = match (turns, count) {
        (false, _) => format!("do not crank: {}", outcome(first.course.outcome)),
        (true, 1) => format!("hold the button for up to {on}: odds of a start {percent}"),
        (true, count) => format!("up to {count} bursts of {on} with {rest} of rest between: odds of a start {percent}"),
    };
    let end = &last.course.end;
    let kelvins = end.held.temperature.0 - first.before.held.temperature.0;
    let used = first.before.held.charge - end.held.charge;
    let figure = |name, title: &str, value| Figure { name, title: title.to_owned(), value };
    let figures = vec![
        figure("odds", "odds of a start", Cell::Number(odds, Unit::Of(Dimension::Ratio))),
        figure("takes_s", "the whole plan takes", Cell::of(plan.takes(), Dimension::Time)),
        figure("pack_gains_k", "the battery warms by", Cell::of(kelvins, Dimension::TemperatureDifference)),
        figure("uses_percent", "charge used", Cell::Number(100.0 * used, Unit::Percent)),
        figure("winding_c", "winding at the end", Cell::of(end.winding.0, Dimension::Temperature)),
    ];
    let columns = [
        ("on_s", "on"),
        ("rest_s", "rest"),
        ("rpm", "speed"),
        ("volts_mean", "volts"),
        ("volts_min", "least"),
        ("amps", "current"),
        ("pack_c", "battery"),
        ("winding_c", "winding"),
        ("odds", "odds"),
        ("outcome", "engine"),
    ];
    let rows = plan.bursts.iter().enumerate().map(|(index, burst)| {
        let after = if index + 1 < count { plan.rest.0 } else { 0.0 };
        let course = &burst.course;
        vec![
            Cell::of(burst.on.0, Dimension::Time),
            Cell::of(after, Dimension::Time),
            Cell::Number(course.crank.rpm(), Unit::Rpm),
            Cell::of(course.volts.0, Dimension::Voltage),
            Cell::of(course.least_volts.0, Dimension::Voltage),
            Cell::of(course.amps.0, Dimension::Current),
            Cell::of(course.end.held.temperature.0, Dimension::Temperature),
            Cell::of(course.end.winding.0, Dimension::Temperature),
            Cell::Number(100.0 * burst.odds, Unit::Percent),
            Cell::Text(outcome(course.outcome).to_owned()),
        ]
    });
    let bursts = Table {
        name: "bursts",
        title: "Burst by burst".into(),
        columns: columns.map(|(name, title)| Column { name, title }).to_vec(),
        rows: rows.collect(),
    };
    Answer {
        headline,
        figures,
        tables: vec![bursts],
        working: working(stand, plan, least),
        advice: advice(given, plan, turns),
        cautions: vec![
            "in neutral, wheel off the ground, hands and clothes clear of wheel, chain and kick lever",
            "never charge a lithium battery below 0 °C: bring it indoors first; never warm it with a flame or a heat gun",
            "jump leads only from a 12 V battery, donor engine off; last clip to the frame, away from the battery",
        ],
        sources: vec![
            "battery: open parameter sets of lithium iron phosphate cells (Prada 2013; BPX example), lead-acid after Bode 1977 and Sulzer 2019",
            "motor and engine: mean torque of the sheet, ripple of a slider and crank; times, spreads and odds of firing are estimates",
            "5 s on, 30 s rest: common practice, no source",
        ],
        plot: plot(plan, least),
    }
}

fn outcome(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Unsolved => "cannot be followed",
        Outcome::NoContact => "the relay does not close",
        Outcome::Chatters => "the relay chatters",
        Outcome::SpinsOnly => "the starter spins, the engine doesn't",
        Outcome::Stalls => "the starter stalls against the engine",
        Outcome::Turns => "turns",
    }
}

fn working(stand: &Stand, plan: &Plan, least: RadiansPerSecond) -> Vec<String> {
    let mut said = Vec::new();
    let pack = &stand.rig.pack;
    let open = pack.open_circuit(&stand.start.held);
    let first = &plan.bursts[0].course;
    said.push(format!(
        "before the first burst: {open} at rest, {} of charge, battery at {}",
        show(stand.start.held.charge, Dimension::Ratio),
        stand.start.held.temperature
    ));
    if first.amps.0 > 0.0 {
        let inner = (open.0 - first.volts.0) / first.amps.0;
        said.push(format!(
            "while cranking: {} and {} at the posts, so {} inside the battery",
            first.amps,
            first.volts,
            show(inner, Dimension::Resistance)
        ));
    }
    if let Some(meshed) = first.meshed {
        said.push(format!(
            "the engine is turned after {meshed}; it then turns {:.0} rpm in the mean",
            first.crank.rpm()
        ));
    }
    said.push(format!("it fires above {:.0} rpm, give or take 12 %", least.rpm()));
    said.push(format!("the plan ends there because {}", plan.ends));
    let missing = plan.bursts.iter().map(|burst| burst.course.tally.unaccounted().abs()).fold(0.0, f64::max);
    said.push(format!("energy drawn and energy found agree within {:.4} %", 100.0 * missing));
    said
}

fn advice(given: &Given<'_>, plan: &Plan, turns: bool) -> Vec<String> {
    let mut said = Vec::new();
    let (first, last) = (&plan.bursts[0].course, &plan.bursts[plan.bursts.len() - 1].course);
    if !turns {
        said.push(match first.outcome {
            Outcome::SpinsOnly => {
                "holding on only wears the drive: warm the battery, or look at drive and bushings".to_owned()
            }
            Outcome::Stalls => "a stalled starter burns out: let go at once".to_owned(),
            _ => "charge the battery indoors and try again".to_owned(),
        });
    }
    if turns && plan.bursts.len() > 1 && last.crank.0 > 1.02 * first.crank.0 {
        let gain = last.crank.rpm() - first.crank.rpm();
        said.push(format!("each burst warms the battery: the last turns {gain:.0} rpm faster than the first"));
    }
    if turns {
        said.push("let go as soon as it fires; if it does not turn the engine at once, let go and rest".to_owned());
    }
    if plan.odds() < 0.6 {
        said.push("better than more bursts: kick it, where there is a kick lever; warm the battery indoors for two hours; or a donor battery of the same voltage".to_owned());
    } else {
        said.push(format!("if it has not fired after that, stop: {}", plan.ends));
    }
    if given.number("air") < 5.0 {
        said.push("a battery that is slow only in the cold is not broken for that: compare with `battery` at 20 °C before buying one".to_owned());
    }
    said
}

/// Cranking speed in time, burst by burst.
fn plot(plan: &Plan, least: RadiansPerSecond) -> Option<Plot> {
    let mut points = Vec::new();
    let mut began = 0.0;
    for burst in &plan.bursts {
        points.push((began, 0.0));
        points.push((began + 0.05, 0.0));
        points.extend(smoothed(burst).into_iter().map(|(at, rpm)| (began + at, rpm)));
        points.push((began + burst.on.0, 0.0));
        began += burst.on.0 + plan.rest.0;
    }
    (points.len() > 1).then(|| Plot {
        title: "Cranking speed, burst by burst".into(),
        x: Axis { title: "time (s)".into() },
        y: Axis { title: "crankshaft (rpm)".into() },
        curves: vec![Curve { title: "speed".into(), points }],
        limits: vec![Limit { title: "fires above".into(), at: least.rpm() }],
    })
}

/// Mean speed over each quarter of a second.
fn smoothed(burst: &Burst) -> Vec<(f64, f64)> {
    let samples = &burst.course.samples;
    let count = (burst.on.0 / 0.25).round().max(2.0);
    let width = burst.on.0 / count;
    let mut points = Vec::new();
    for index in 0..count as usize {
        let (from, to) = (index as f64 * width, (index as f64 + 1.0) * width);
        let (mut sum, mut time) = (0.0, 0.0);
        for pair in samples.windows(2) {
            let (low, high) = (pair[0].at.0.max(from), pair[1].at.0.min(to));
            if high > low {
                sum += 0.5 * (pair[0].crank.rpm() + pair[1].crank.rpm()) * (high - low);
                time += high - low;
            }
        }
        if time > 0.0 {
            points.push((0.5 * (from + to), sum / time));
        }
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::tests::school;
    use crate::worksheets::tests::{number, worked_on};

    fn odds(sheet: &str, pairs: &[(&str, &str)]) -> f64 {
        number(&worked_on(&COLD, &school(sheet), pairs), "odds")
    }

    #[test]
    fn law_colder_emptier_and_harder_to_fire_never_start_better() {
        let mut last = 1.0;
        for air in ["20 C", "5 C", "-5 C", "-12 C", "-20 C"] {
            let now = odds("curlew", &[("air", air)]);
            assert!((0.0..=1.0).contains(&now) && now <= last + ALIKE, "{air}: {now} after {last}");
            last = now;
        }
        let at = |pairs: &[(&str, &str)]| odds("curlew", &[&[("air", "-5 C")], pairs].concat());
        assert!(at(&[("charge", "20%")]) <= at(&[("charge", "80%")]) + ALIKE);
        assert!(at(&[("firing-speed", "300 rpm")]) < at(&[("firing-speed", "200 rpm")]));
        assert!(at(&[("pack", "18 C")]) > at(&[]));
        assert!(at(&[("tries", "1")]) <= at(&[("tries", "6")]) + ALIKE);
    }

    #[test]
    fn law_a_plan_keeps_its_limits() {
        let answer = worked_on(&COLD, &school("curlew"), &[("air", "-10 C"), ("on", "4 s"), ("winding-limit", "60 C")]);
        assert!(number(&answer, "winding_c") <= 60.0);
        let bursts = &answer.tables[0];
        assert!(!bursts.rows.is_empty() && bursts.rows.len() <= 6);
        assert!(bursts.rows.iter().all(|row| matches!(row[0], Cell::Number(on, _) if on <= 4.0)));
    }
}
