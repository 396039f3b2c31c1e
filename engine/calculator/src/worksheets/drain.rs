//! How long a leak takes to empty the battery so far that it will not start, and how to find the leak.
//! Law: days = C·(s₀ − s₁) / (24 h·I), self-discharge as a current beside the leak. Source: conservation of charge; classes
//! of leaks are `common practice, no source`; self-discharge `from memory`.
//! Promise: more leak is never more days. Limit: a steady leak at mild temperature; a module that wakes now and then has a
//! mean that an ammeter does not show at one look.

use quantity::Dimension;

use crate::answer::{Answer, Cell, Table, Unit};
use crate::bisect::{Step, plan};
use crate::chemistry::Chemistry;
use crate::given::{Given, Refused};
use crate::own::{of_battery, rest_current};
use crate::print::{amps, column, figure, figure_in, ohms, plain, plot, steps, text, volts, word};
use crate::worksheet::{Fallback, Input, Sheet, Want, Worksheet};

const AMPERE_HOUR: f64 = 3600.0;
const HOURS_A_MONTH: f64 = 30.0 * 24.0;
/// Drop over a meter that may put a module to sleep or wake it, V (estimate).
const DISTURBS: f64 = 0.3;
/// Most that the milliampere jack of an ordinary meter is fused for, A (from memory).
const MILLIAMPERE_JACK: f64 = 0.4;

/// `drain`.
pub static DRAIN: Worksheet = Worksheet {
    name: "drain",
    title: "Days until a leak has emptied the battery",
    about: "From the current that flows with everything off to the days until it will not start, what class of leak \
            that is, and in which order to pull fuses and plugs to find it. Without a leak, a table of usual ones; \
            with a machine's sheet, what its healthy parts take at rest.",
    inputs: &[
        Input {
            name: "leak",
            want: Want::Quantity(Dimension::Current, 1e-6, 10.0),
            fallback: Fallback::Absent,
            doc: "Current out of the battery with everything off; left out, what the machine's sheet gives, else a table.",
        },
        Input {
            name: "capacity",
            want: Want::Quantity(Dimension::Charge, 0.3 * AMPERE_HOUR, 200.0 * AMPERE_HOUR),
            fallback: Fallback::OfMachine(|machine| of_battery(machine, "capacity"), "2.3 Ah"),
            doc: "Rated capacity, not a \"lead equivalent\".",
        },
        Input {
            name: "chemistry",
            want: Want::Choice(Chemistry::WORDS),
            fallback: Fallback::OfMachine(|machine| of_battery(machine, "chemistry"), "lfp-4s"),
            doc: "What is in the battery.",
        },
        Input {
            name: "charge",
            want: Want::Ratio(0.0, 1.0),
            fallback: Fallback::OfMachine(|machine| of_battery(machine, "charge"), "100 %"),
            doc: "Charge when it is parked.",
        },
        Input {
            name: "needed",
            want: Want::Ratio(0.0, 1.0),
            fallback: Fallback::Absent,
            doc: "Charge below which it will not start; left out, 20 % for lithium and 50 % for lead (estimates).",
        },
        Input {
            name: "self-discharge",
            want: Want::Ratio(0.0, 0.6),
            fallback: Fallback::Absent,
            doc: "Share lost in thirty days standing alone; left out, 2 % for lithium and AGM, 4.5 % for flooded (from memory).",
        },
        Input {
            name: "meter",
            want: Want::Quantity(Dimension::Resistance, 1e-4, 2000.0),
            fallback: Fallback::Text("1.8 ohm"),
            doc: "What the ammeter puts in the way: about 1.8 Ω on milliamperes, 100 Ω on microamperes (from memory).",
        },
    ],
    sheet: Sheet::Welcome,
    examples: &["--leak 12mA --capacity 2.3Ah", "machines/curlew.toml --leak 25mA", "machines/dunlin.toml"],
    work,
};

/// A leak's class: below this, what it is, and whether it wants finding (common practice, no source).
const CLASSES: [(f64, &str, bool); 5] = [
    (1e-3, "as good as none: regulator leakage at most", false),
    (5e-3, "usual for a clock or a control unit's memory", false),
    (20e-3, "usual for a tracker or an alarm, too much without one", true),
    (50e-3, "much even for a tracker or an alarm", true),
    (f64::INFINITY, "a fault on a small battery", true),
];

fn class(leak: f64) -> (&'static str, bool) {
    CLASSES.iter().find(|(below, ..)| leak < *below).map_or(("a fault", true), |(_, what, find)| (what, *find))
}

/// What empties a battery, SI.
struct Store {
    usable: f64,
    own: f64,
}

impl Store {
    fn days(&self, leak: f64) -> f64 {
        self.usable / (leak + self.own) / 86_400.0
    }
}

fn work(given: &Given<'_>) -> Result<Answer, Refused> {
    let chemistry = Chemistry::of(given.number("chemistry"));
    let (capacity, charge) = (given.number("capacity"), given.number("charge"));
    let needed = given.maybe("needed").unwrap_or(chemistry.least_to_start());
    if needed >= charge {
        return Err(Refused::Together {
            input: if given.is_written("needed") { "needed" } else { "charge" },
            why: format!("{} of charge is not more than the {} that a start needs", share(charge), share(needed)),
            hint: "it would not start as it is parked; charge it, or give a smaller charge that a start needs",
        });
    }
    let monthly = given.maybe("self-discharge").unwrap_or(chemistry.cells().monthly_loss());
    let own = capacity * monthly / (HOURS_A_MONTH * 3600.0);
    let store = Store { usable: capacity * (charge - needed), own };
    let healthy = given.machine.and_then(rest_current);
    let leak = given.maybe("leak").or(healthy);
    let usable = store.usable / AMPERE_HOUR;
    let mut answer = Answer {
        working: vec![
            format!(
                "usable: {} Ah · ({} − {}) = {} Ah",
                plain(capacity / AMPERE_HOUR),
                plain(charge),
                plain(needed),
                plain(usable)
            ),
            format!(
                "self-discharge of {} a month: {} · {} Ah / 720 h = {}",
                share(monthly),
                plain(monthly),
                plain(capacity / AMPERE_HOUR),
                amps(own)
            ),
        ],
        cautions: vec![
            "never work the starter, nor switch the key on, through the ammeter: its fuse blows, and the rest of the readings are 0.00 A",
            "let modules fall asleep before the reading counts: half a minute to half an hour",
            "keep the lead bridged while the meter is put in line, so that nothing wakes up",
        ],
        sources: vec!["charge over current; classes of leaks: common practice, no source; self-discharge: from memory"],
        ..Answer::default()
    };
    match leak {
        Some(leak) => of_leak(&mut answer, given, &store, leak, healthy, [charge, needed]),
        None => {
            answer.headline = format!(
                "alone it stands {} days from {} to {}; each leak shortens that as in the table",
                plain(store.days(0.0)),
                share(charge),
                share(needed)
            );
        }
    }
    answer.figures.push(figure_in("alone_days", "days without any leak", store.days(0.0), Unit::Days));
    answer.figures.push(figure("own_a", "self-discharge as a current", own, Dimension::Current));
    answer.figures.push(figure_in("usable_ah", "charge until it will not start", usable, Unit::AmpereHours));
    answer.tables.push(leaks(&store));
    if let Some(steps) = given.machine.and_then(plan) {
        answer.tables.push(order(&steps));
        answer.advice.push("put each fuse and plug back before the next, and wait for sleep each time".into());
    }
    let most = leak.unwrap_or(0.0).max(0.05) * 2.0;
    let curve = steps(0.02 * most, most, 49).map(|leak| (1e3 * leak, store.days(leak))).collect();
    answer.plot =
        Some(plot("Days by leak", "leak (mA)", "days", "until it will not start", curve, &[("two weeks", 14.0)]));
    Ok(answer)
}

fn of_leak(answer: &mut Answer, given: &Given<'_>, store: &Store, leak: f64, healthy: Option<f64>, charges: [f64; 2]) {
    let days = store.days(leak);
    let (class, find) = class(leak);
    let whose = if given.is_written("leak") { "" } else { "the machine's own " };
    answer.headline = format!(
        "{whose}{} empties it from {} to {} in {} days",
        amps(leak),
        share(charges[0]),
        share(charges[1]),
        plain(days)
    );
    let meter = given.number("meter");
    let burden = leak * meter;
    answer.figures.extend([
        figure_in("days", "days until it will not start", days, Unit::Days),
        figure("leak_a", "leak", leak, Dimension::Current),
        word("class", "class of the leak", class),
        figure("burden_v", "drop over the ammeter", burden, Dimension::Voltage),
    ]);
    answer.working.extend([
        format!(
            "days: {} Ah / ({} + {}) / 24 h = {}",
            plain(store.usable / AMPERE_HOUR),
            amps(leak),
            amps(store.own),
            plain(days)
        ),
        format!("over the meter: {} · {} = {}", amps(leak), ohms(meter), volts(burden)),
    ]);
    if find {
        answer.advice.push(format!("{}: {class}; find it", amps(leak)));
    } else {
        answer.advice.push(format!(
            "{}: {class}; if it goes flat sooner, look at charge, rides and the battery itself",
            amps(leak)
        ));
    }
    if let Some(healthy) = healthy.filter(|_| given.is_written("leak")) {
        answer.figures.push(figure("healthy_a", "what its healthy parts take", healthy, Dimension::Current));
        let more = leak - healthy;
        answer.advice.push(if more > 0.0 {
            format!("its healthy parts take {}: look for the {} more", amps(healthy), amps(more))
        } else {
            format!("its healthy parts alone take {}", amps(healthy))
        });
    }
    if burden > DISTURBS {
        answer.advice.push(format!(
            "the meter takes {} away: modules may stop or wake. Take a higher range, or read the millivolts over a fuse",
            volts(burden)
        ));
    }
    if leak > MILLIAMPERE_JACK {
        answer.advice.push("more than the milliampere jack is fused for: use the 10 A jack".into());
    }
}

fn leaks(store: &Store) -> Table {
    let usual = [0.5e-3, 1e-3, 2e-3, 5e-3, 10e-3, 20e-3, 50e-3, 100e-3, 500e-3];
    Table {
        name: "leaks",
        title: "Other leaks".into(),
        columns: vec![column("leak_a", "leak"), column("days", "days"), column("class", "class")],
        rows: usual
            .into_iter()
            .map(|leak| {
                vec![
                    Cell::of(leak, Dimension::Current),
                    Cell::Number(store.days(leak), Unit::Days),
                    text(class(leak).0),
                ]
            })
            .collect(),
    }
}

fn order(steps: &[Step]) -> Table {
    Table {
        name: "bisection",
        title: "In this order: each tells most for its minutes".into(),
        columns: vec![
            column("step", "step"),
            column("when", "when"),
            column("do", "do"),
            column("place", "where"),
            column("healthy_a", "healthy"),
            column("falls", "if the leak falls"),
            column("stays", "if it stays"),
        ],
        rows: (1..)
            .zip(steps)
            .map(|(number, step)| {
                vec![
                    Cell::Number(f64::from(number), Unit::Count),
                    text(&step.when),
                    text(&step.act),
                    text(&step.place),
                    // Below a microampere it is rounding of the solver.
                    Cell::of(if step.healthy < 1e-6 { 0.0 } else { step.healthy }, Dimension::Current),
                    text(step.falls.join(", ")),
                    text(step.stays.join(", ")),
                ]
            })
            .collect(),
    }
}

/// A share as a percentage.
fn share(share: f64) -> String {
    format!("{} %", plain(100.0 * share))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::tests::school;
    use crate::worksheets::tests::{number, refused, worked};

    fn days(pairs: &[(&str, &str)]) -> f64 {
        number(&worked(&DRAIN, &[&[("self-discharge", "0"), ("needed", "20 %")], pairs].concat()), "days")
    }

    /// Derived from days = C·(s₀ − s₁)/(24 h·I), 100 to 20 %.
    #[test]
    fn textbook_days_of_four_leaks_derived() {
        for (capacity, leak, expected) in
            [("2.3 Ah", "1 mA", 76.7), ("2.3 Ah", "5 mA", 15.3), ("2.3 Ah", "50 mA", 1.53), ("12 Ah", "50 mA", 8.0)]
        {
            let found = days(&[("capacity", capacity), ("leak", leak)]);
            assert!((found / expected - 1.0).abs() < 4e-3, "{capacity} {leak}: {found} days");
        }
    }

    /// A milliampere input of 1.8 Ω drops 90 mV at 50 mA, a microampere input of 100 Ω 0.5 V at 5 mA: derived.
    #[test]
    fn textbook_burden_of_two_meters_derived() {
        let milli = worked(&DRAIN, &[("leak", "50 mA")]);
        assert!((number(&milli, "burden_v") - 0.090).abs() < 1e-9);
        assert!(!milli.advice.iter().any(|line| line.contains("takes")));
        let micro = worked(&DRAIN, &[("leak", "5 mA"), ("meter", "100 ohm")]);
        assert!((number(&micro, "burden_v") - 0.5).abs() < 1e-9);
        assert!(micro.advice.iter().any(|line| line.contains("may stop or wake")), "{:?}", micro.advice);
    }

    #[test]
    fn law_more_leak_and_more_self_discharge_are_fewer_days() {
        let base = days(&[("leak", "10 mA")]);
        assert!(days(&[("leak", "11 mA")]) < base);
        let also = number(&worked(&DRAIN, &[("leak", "10 mA"), ("needed", "20 %"), ("self-discharge", "5 %")]), "days");
        assert!(also < base);
        let mut last = f64::INFINITY;
        for row in &worked(&DRAIN, &[]).tables[0].rows {
            let Cell::Number(days, Unit::Days) = row[1] else { panic!("{row:?}") };
            assert!(days < last);
            last = days;
        }
    }

    /// Standing alone, the month's share is lost in a month: the parallel current is that share.
    #[test]
    fn law_self_discharge_alone_takes_its_own_share_a_month() {
        let answer = worked(&DRAIN, &[("self-discharge", "10 %"), ("needed", "90 %")]);
        assert!((number(&answer, "alone_days") - 30.0).abs() < 1e-9);
    }

    #[test]
    fn law_a_machine_says_what_its_healthy_parts_take_and_how_to_look() {
        let curlew = school("curlew");
        let leak = |leak: Option<&str>| {
            let written =
                |name: &str| if name == "leak" { leak.iter().map(|a| (*a).to_owned()).collect() } else { Vec::new() };
            DRAIN.answer(Some(&curlew), written).unwrap().1
        };
        assert!((number(&leak(None), "leak_a") - 1.3e-3).abs() < 1e-5);
        let answer = leak(Some("25 mA"));
        assert!(answer.advice.iter().any(|line| line.contains("23.7 mA more")), "{:?}", answer.advice);
        let plan = &answer.tables[1];
        assert_eq!(plan.name, "bisection");
        assert!(!plan.rows.is_empty());
    }

    #[test]
    fn law_what_cannot_be_is_refused() {
        for (input, text) in
            [("leak", "-5 mA"), ("leak", "12 V"), ("charge", "120 %"), ("capacity", "0 Ah"), ("leak", "")]
        {
            assert_eq!(refused(&DRAIN, &[(input, text)]).input(), Some(input));
        }
        let refused = refused(&DRAIN, &[("charge", "40 %"), ("needed", "50 %")]);
        assert_eq!(refused.input(), Some("needed"));
        assert!(refused.hint().is_some());
    }
}
