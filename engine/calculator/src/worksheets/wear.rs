//! What a starter bushing's clearance does, and how many starts are left in it.
//! Law: tilt = clearance over span; drag of the canted shaft in proportion to wear (estimate); life t = π·D·L·w/(4·f·K·V·F),
//! Shigley's equation 12-32; an inertia drive engages above (q·F + T)/J, see `physics::inertia_drive`.
//! Promise: more clearance, load and dirt never leave more starts. Limit: one steady load; wear rates of small starters
//! are estimates, so that starts counted since new beat them.

use machine::Machine;
use physics::bushing::{Cant, Wear, tilt};
use quantity::{Dimension, Meters, Newtons, show};

use crate::answer::{Answer, Table, Unit};
use crate::fits;
use crate::given::{Given, Refused};
use crate::own::{solved, value};
use crate::print::{column, figure, figure_in, of, plain, plot, rounded, steps};
use crate::worksheet::{Fallback, Input, Sheet, Want, Worksheet};

/// An inertia drive chatters on the ring gear below this share of acceleration over what it wants (estimate).
const SURE: f64 = 1.3;
/// Moment of inertia of a small pinion, kg·m² (estimate).
const PINION: f64 = 1.45e-5;
/// Clearance at which a bushing is called worn where no inertia drive says so, m (estimate).
const WORN: f64 = 0.30e-3;
/// Share of the starts left after which to look again, a year at most (common practice, no source), days.
const LOOK: f64 = 0.5;
const YEAR: f64 = 365.0;
/// One 1e-6 mm³/(N·m) in m³/(N·m).
const RATE: f64 = 1e-15;
/// What motion and surroundings multiply the wear rate by (estimates).
const STATES: (&[&str], [f64; 3]) = (&["oiled", "dry", "dirty"], [1.0, 10.0, 50.0]);

/// `wear`.
pub static WEAR: Worksheet = Worksheet {
    name: "wear",
    title: "A starter bushing: clearance, drag, starts left",
    about: "From the clearance of the bushing to the shaft's tilt, the drag, whether an inertia drive still goes into \
            mesh, and the starts left; with sizes, the fit's name and the press fit in the case. Starts counted \
            since new are better than any table of wear.",
    inputs: &[
        length(
            "clearance",
            1e-6,
            3e-3,
            Fallback::OfMachine(|machine| value(machine, "bushing", "clearance"), "0.15 mm"),
            "Diametral clearance now, as felt or measured.",
        ),
        length("new", 1e-6, 1e-3, Fallback::Text("0.05 mm"), "Clearance of a new one."),
        length(
            "worn-at",
            1e-5,
            5e-3,
            Fallback::Absent,
            "Clearance at which it has to go; left out, where an inertia drive stops being sure, else 0.30 mm (estimate).",
        ),
        length(
            "span",
            2e-3,
            0.5,
            Fallback::Text("60 mm"),
            "Supported length: between the middles of the two bushings.",
        ),
        length("diameter", 3e-3, 40e-3, Fallback::Text("10 mm"), "Bore of the bushing."),
        length("length", 2e-3, 80e-3, Fallback::Text("12 mm"), "Length of the bushing."),
        Input {
            name: "load",
            want: Want::Quantity(Dimension::Force, 1.0, 20_000.0),
            fallback: Fallback::Text("150 N"),
            doc: "Force on the bushing while cranking: tooth force, shared by the span (estimate).",
        },
        Input {
            name: "speed",
            want: Want::Quantity(Dimension::Speed, 1.0, 3000.0),
            fallback: Fallback::OfMachine(own_speed, "5000 rpm"),
            doc: "Speed of the shaft in it while cranking.",
        },
        Input {
            name: "start-time",
            want: Want::Quantity(Dimension::Time, 0.1, 120.0),
            fallback: Fallback::Text("2 s"),
            doc: "How long one start takes.",
        },
        ratio("starts-a-day", 0.01, 1000.0, Fallback::Text("6"), "Starts in a day."),
        Input {
            name: "state",
            want: Want::Choice(STATES.0),
            fallback: Fallback::Text("oiled"),
            doc: "How it runs: dry wears ten times, dirty fifty times as fast (estimates).",
        },
        ratio(
            "wear-rate",
            1e-5,
            1e6,
            Fallback::Text("1"),
            "Wear rate in 1e-6 mm³/(N·m): about 1 for oiled sintered bronze (estimate).",
        ),
        ratio(
            "starts-since-new",
            1.0,
            1e7,
            Fallback::Absent,
            "Starts that took it from new to the clearance now; beats the wear rate.",
        ),
        Input {
            name: "acceleration",
            want: Want::Quantity(Dimension::AngularAcceleration, 100.0, 1e6),
            fallback: Fallback::OfMachine(own_acceleration, "20000 rad/s2"),
            doc: "What the motor gives its rotor at pull-in with a good bushing.",
        },
        Input {
            name: "inertia",
            want: Want::Quantity(Dimension::Inertia, 1e-6, 1e-2),
            fallback: Fallback::OfMachine(|machine| value(machine, "starter", "inertia"), "1.1e-4 kg m2"),
            doc: "Of the rotor.",
        },
        Input {
            name: "engages-above",
            want: Want::Quantity(Dimension::AngularAcceleration, 0.0, 1e5),
            fallback: Fallback::OfMachine(own_threshold, "3400 rad/s2"),
            doc: "Acceleration that an inertia drive wants; 0 for a drive that is always in mesh.",
        },
        length("bore", 3e-3, 40e-3, Fallback::Absent, "Measured bore of the bushing."),
        length("shaft", 3e-3, 40e-3, Fallback::Absent, "Measured shaft."),
        length("seat", 4e-3, 60e-3, Fallback::Absent, "Measured bore of the case in which the bushing sits."),
        length("outside", 4e-3, 60e-3, Fallback::Absent, "Measured outside of the bushing."),
        length("case", 5e-3, 0.2, Fallback::Text("30 mm"), "Outer diameter of the case around the seat."),
    ],
    sheet: Sheet::Welcome,
    examples: &[
        "machines/curlew.toml --clearance 0.22mm --state dry",
        "--bore 10.06mm --shaft 9.96mm --starts-since-new 9000",
        "--seat 14mm --outside 14.018mm --diameter 10mm --length 12mm",
    ],
    work,
};

const fn length(name: &'static str, low: f64, high: f64, fallback: Fallback, doc: &'static str) -> Input {
    Input { name, want: Want::Quantity(Dimension::Length, low, high), fallback, doc }
}

const fn ratio(name: &'static str, low: f64, high: f64, fallback: Fallback, doc: &'static str) -> Input {
    Input { name, want: Want::Ratio(low, high), fallback, doc }
}

fn own_speed(machine: &Machine) -> Option<f64> {
    solved(machine, "held", &[])?.speed().filter(|speed| *speed > 1.0)
}

/// Torque over inertia in the instant in which the rotor still stands.
fn own_acceleration(machine: &Machine) -> Option<f64> {
    let pull_in = solved(machine, "pull-in", &[])?;
    let motor = pull_in.motor()?;
    let torque = motor.constant.0 * pull_in.current(motor.branch).0.abs() - motor.friction.0;
    Some(torque / value(machine, "starter", "inertia")?).filter(|acceleration| *acceleration > 0.0)
}

/// What the sheet's drive wants with a good bushing: 0 unless it is an inertia drive.
fn own_threshold(machine: &Machine) -> Option<f64> {
    const INERTIA: f64 = 0.0;
    let kind = value(machine, "drive", "type")?;
    value(machine, "drive", "engages-above").or_else(|| (kind != INERTIA).then_some(0.0))
}

/// The rotor and its drive as far as engagement depends on the bushing.
struct Engagement {
    available: f64,
    wanted: f64,
    inertia: f64,
    new: Meters,
}

impl Engagement {
    fn given(given: &Given<'_>) -> Self {
        Self {
            available: given.number("acceleration"),
            wanted: given.number("engages-above"),
            inertia: given.number("inertia"),
            new: Meters(given.number("new")),
        }
    }

    /// Acceleration there is over what the drive wants; nothing for a drive that is always in mesh.
    fn margin(&self, clearance: f64) -> Option<f64> {
        let cant = Cant::of(Meters(clearance), self.new);
        let there = (self.available - cant.rotor.0 / self.inertia).max(0.0);
        (self.wanted > 0.0).then(|| there / (self.wanted + cant.pinion.0 / PINION))
    }

    /// Clearance at which the drive stops being sure: both sides are straight lines in the wear.
    fn limit(&self) -> Option<f64> {
        let a_meter = Cant::of(Meters(self.new.0 + 1.0), self.new);
        let spare = (self.available - SURE * self.wanted).max(0.0);
        let wear = spare / (a_meter.rotor.0 / self.inertia + SURE * a_meter.pinion.0 / PINION);
        (self.wanted > 0.0).then_some(self.new.0 + wear)
    }
}

/// The clearance: as written, or bore less shaft.
fn clearance(given: &Given<'_>) -> Result<f64, Refused> {
    /// Two ways to the same clearance may differ by this much, m.
    const AGREE: f64 = 10e-6;
    let written = given.number("clearance");
    let (Some(bore), Some(shaft)) = (given.maybe("bore"), given.maybe("shaft")) else { return Ok(written) };
    let measured = bore - shaft;
    let together = |input, why, hint| Err(Refused::Together { input, why, hint });
    let size = |meters: f64| show(meters, Dimension::Length);
    if measured <= 0.0 {
        let why = format!("a shaft of {} does not turn in a bore of {}", size(shaft), size(bore));
        return together("shaft", why, "size both again; for a press fit write --seat and --outside");
    }
    if given.is_written("clearance") && (measured - written).abs() > AGREE {
        let why = format!("bore less shaft is {}, not {}", size(measured), size(written));
        return together("clearance", why, "leave it out, or size bore and shaft again");
    }
    Ok(measured)
}

fn work(given: &Given<'_>) -> Result<Answer, Refused> {
    let clearance = clearance(given)?;
    let engagement = Engagement::given(given);
    let new = engagement.new.0;
    let since = given.maybe("starts-since-new");
    if since.is_some() && clearance <= new {
        return Err(Refused::Together {
            input: "starts-since-new",
            why: "it has no more clearance than a new one, so that no wear can be counted".into(),
            hint: "leave it out, or give the clearance that it had when new",
        });
    }
    let worn_at = given.maybe("worn-at").or(engagement.limit()).unwrap_or(WORN);
    let left = (worn_at - clearance).max(0.0);
    let severity = STATES.1[(given.number("state") as usize).min(2)];
    let wear = Wear {
        factor: given.number("wear-rate") * RATE,
        severity,
        diameter: Meters(given.number("diameter")),
        length: Meters(given.number("length")),
    };
    let load = Newtons(given.number("load"));
    let slide = given.number("speed") * wear.diameter.0 / 2.0;
    let start = given.number("start-time");
    let by_law = wear.time_to(Meters(left), load.0, slide).0 / start;
    let starts = since.map_or(by_law, |since| left / ((clearance - new) / since));
    let (hours, days) = (starts * start / 3600.0, starts / given.number("starts-a-day"));
    let cant = Cant::of(Meters(clearance), engagement.new);
    let lean = tilt(Meters(clearance), Meters(given.number("span")));
    let margin = engagement.margin(clearance);
    let size = |meters: f64| show(meters, Dimension::Length);
    let headline = if left <= 0.0 {
        format!("worn out: {} of clearance, it has to go at {}", size(clearance), size(worn_at))
    } else {
        format!(
            "{} of clearance: about {} starts, {} days, until it is worn at {}",
            size(clearance),
            plain(rounded(starts)),
            plain(rounded(days)),
            size(worn_at)
        )
    };
    let mut answer = Answer {
        headline,
        figures: vec![
            figure_in("starts_left", "starts left", rounded(starts), Unit::Count),
            figure_in("hours_left", "hours of cranking left", hours, Unit::Hours),
            figure_in("inspect_days", "look again after", (LOOK * days).min(YEAR), Unit::Days),
            figure("clearance_m", "clearance", clearance, Dimension::Length),
            figure("worn_at_m", "worn at", worn_at, Dimension::Length),
            figure("tilt_rad", "tilt of the shaft", lean.0, Dimension::Angle),
            figure("drag_nm", "drag on the rotor", cant.rotor.0, Dimension::Torque),
            figure("margin", "acceleration over what the drive wants", margin.unwrap_or(f64::NAN), Dimension::Ratio),
        ],
        cautions: vec!["battery's negative lead lifted before the starter comes out"],
        sources: vec![
            "life: Shigley's Mechanical Engineering Design, equation 12-32",
            "drag, engagement and wear rates of small starters: estimates; fits: ISO 286-2 as transcribed",
        ],
        ..Answer::default()
    };
    answer.working.push(format!("tilt: {} / {} = {} rad", size(clearance), given.text("span"), plain(lean.0)));
    answer.working.push(format!("left: {} − {} = {}", size(worn_at), size(clearance), size(left)));
    if let Some(since) = since {
        answer.working.push(format!(
            "wear so far: ({} − {}) / {} starts, so {} / that = {} starts",
            size(clearance),
            size(new),
            plain(since),
            size(left),
            plain(rounded(starts))
        ));
    }
    answer.working.push(format!(
        "{}: π · {} · {} · {} / (4 · {} · {}e-15 m³/(N·m) · {} m/s · {load}) = {} h of cranking, {} starts",
        if since.is_some() { "by the law it would be" } else { "by the law" },
        size(wear.diameter.0),
        size(wear.length.0),
        size(left),
        plain(severity),
        plain(given.number("wear-rate")),
        plain(slide),
        plain(by_law * start / 3600.0),
        plain(rounded(by_law))
    ));
    judge(&mut answer, left, margin);
    if let (Some(bore), Some(shaft)) = (given.maybe("bore"), given.maybe("shaft")) {
        fits::running(&mut answer, bore, shaft);
    }
    fits::pressed(&mut answer, given)?;
    answer.tables.push(table(&engagement, given.number("span")));
    let reach = (1.2 * worn_at).max(1.2 * clearance).max(0.3e-3);
    answer.plot = Some(match margin {
        Some(_) => plot(
            "Acceleration over what the drive wants, by clearance",
            "clearance (mm)",
            "margin",
            "margin",
            steps(new, reach, 24).map(|c| (1e3 * c, engagement.margin(c).unwrap_or(0.0))).collect(),
            &[("sure", SURE), ("no longer", 1.0)],
        ),
        None => plot(
            "Drag by clearance",
            "clearance (mm)",
            "drag (N·m)",
            "drag",
            steps(new, reach, 24).map(|c| (1e3 * c, Cant::of(Meters(c), engagement.new).rotor.0)).collect(),
            &[],
        ),
    });
    Ok(answer)
}

fn judge(answer: &mut Answer, left: f64, margin: Option<f64>) {
    if left <= 0.0 {
        answer.advice.push("replace the bushing before it wears shaft and case; size both before pressing".into());
    }
    match margin {
        Some(margin) if margin < 1.0 => {
            answer.advice.push("the drive will not go into mesh: the starter spins and the engine does not".into());
        }
        Some(margin) if margin < SURE => {
            answer
                .advice
                .push("the drive is not sure of its mesh: it may chatter on the ring gear, first in the cold".into());
        }
        _ => {}
    }
    answer.advice.push("long tries on a canted shaft burn the motor: stop at 5 s".into());
}

fn table(engagement: &Engagement, span: f64) -> Table {
    Table {
        name: "clearances",
        title: "By clearance".into(),
        columns: vec![
            column("clearance_m", "clearance"),
            column("tilt_rad", "tilt"),
            column("drag_nm", "drag"),
            column("margin", "margin"),
        ],
        rows: [0.05e-3, 0.1e-3, 0.15e-3, 0.2e-3, 0.3e-3, 0.4e-3, 0.5e-3]
            .into_iter()
            .map(|clearance| {
                vec![
                    of(clearance, Dimension::Length),
                    of(tilt(Meters(clearance), Meters(span)).0, Dimension::Angle),
                    of(Cant::of(Meters(clearance), engagement.new).rotor.0, Dimension::Torque),
                    of(engagement.margin(clearance).unwrap_or(f64::NAN), Dimension::Ratio),
                ]
            })
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::Cell;
    use crate::own::tests::school;
    use crate::worksheets::tests::{number, refused, worked};

    /// Shigley, problem 12-22: D = L = 1 in, 0.005 in to wear, f₁ 1.8, K 0.6e-10 in³·min/(lbf·ft·h), 52.4 ft/min, 500 lbf:
    /// 1388 h.
    #[test]
    fn textbook_shigley_problem_12_22() {
        let rate = format!("{}", 1.8 * 0.6e-10 * physics::bushing::INCH_WEAR_FACTOR / RATE);
        let speed = format!("{} rpm", 52.4 * 12.0 / std::f64::consts::PI);
        let answer = worked(
            &WEAR,
            &[
                ("diameter", "1 in"),
                ("length", "1 in"),
                ("clearance", "0.1 mm"),
                ("worn-at", "0.227 mm"),
                ("wear-rate", &rate),
                ("speed", &speed),
                ("load", "500 lbf"),
            ],
        );
        assert!((number(&answer, "hours_left") / 1388.0 - 1.0).abs() < 2e-3, "{}", number(&answer, "hours_left"));
    }

    /// 0.20 mm over 20 mm is 0.0100 rad: derived.
    #[test]
    fn textbook_tilt_derived() {
        let answer = worked(&WEAR, &[("clearance", "0.2 mm"), ("span", "20 mm")]);
        assert!((number(&answer, "tilt_rad") - 0.0100).abs() < 1e-9);
    }

    /// Bronze 14/10 in aluminum of 30 mm: 5 µm give 6.88 MPa, 34 µm 46.8 MPa: derived by Lamé.
    #[test]
    fn textbook_bronze_in_aluminum_derived() {
        for (outside, expected) in [("14.005 mm", 6.88), ("14.034 mm", 46.8)] {
            let answer = worked(&WEAR, &[("seat", "14 mm"), ("outside", outside)]);
            assert!((number(&answer, "press_mpa") / expected - 1.0).abs() < 2e-3);
            assert!(number(&answer, "hoop_mpa") > number(&answer, "press_mpa"));
        }
        let loose = worked(&WEAR, &[("seat", "14 mm"), ("outside", "13.98 mm")]);
        assert!(loose.advice.iter().any(|line| line.contains("turns in the case")));
    }

    #[test]
    fn textbook_a_fit_of_iso_286_2_is_named() {
        let fit = |bore, shaft| {
            let answer = worked(&WEAR, &[("bore", bore), ("shaft", shaft)]);
            match answer.figures.iter().find(|figure| figure.name == "fit").map(|figure| figure.value.clone()) {
                Some(Cell::Text(text)) => text,
                other => panic!("{other:?}"),
            }
        };
        assert_eq!(fit("10.010 mm", "9.980 mm"), "10H7/f7");
        assert!(fit("10.08 mm", "9.96 mm").starts_with("none"));
    }

    #[test]
    fn law_more_clearance_load_and_dirt_never_leave_more_starts() {
        let starts = |pairs: &[(&str, &str)]| number(&worked(&WEAR, pairs), "starts_left");
        let base = starts(&[]);
        for worse in
            [("clearance", "0.2 mm"), ("load", "200 N"), ("state", "dry"), ("speed", "6000 rpm"), ("start-time", "3 s")]
        {
            assert!(starts(&[worse]) < base, "{worse:?}");
        }
        assert_eq!(starts(&[("clearance", "1 mm")]), 0.0);
        let margin = |clearance| number(&worked(&WEAR, &[("clearance", clearance)]), "margin");
        assert!(margin("0.05 mm") > margin("0.2 mm") && margin("0.2 mm") > margin("0.4 mm"));
    }

    /// As many starts again for as much wear again.
    #[test]
    fn law_counted_starts_foretell_their_own_like() {
        let answer = worked(
            &WEAR,
            &[("new", "0.05 mm"), ("clearance", "0.1 mm"), ("worn-at", "0.2 mm"), ("starts-since-new", "4000")],
        );
        assert!((number(&answer, "starts_left") - 8000.0).abs() < 1e-6);
    }

    /// At the clearance called worn the margin is that at which a drive stops being sure.
    #[test]
    fn law_worn_is_where_the_drive_stops_being_sure() {
        let at = format!("{} mm", 1e3 * number(&worked(&WEAR, &[]), "worn_at_m"));
        assert!((number(&worked(&WEAR, &[("clearance", &at)]), "margin") - SURE).abs() < 1e-6);
    }

    #[test]
    fn law_a_machine_brings_its_rotor_and_drive() {
        let with = |id: &str| WEAR.answer(Some(&school(id)), |_| Vec::new()).unwrap().1;
        assert!(number(&with("curlew"), "margin") > SURE);
        let dunlin = with("dunlin");
        assert!(dunlin.figures.iter().any(|figure| figure.name == "margin" && figure.value == Cell::None));
    }

    #[test]
    fn law_what_cannot_be_is_refused() {
        for (input, text) in
            [("clearance", "-0.1 mm"), ("load", "0 N"), ("load", "12 V"), ("span", "0 mm"), ("speed", "")]
        {
            assert_eq!(refused(&WEAR, &[(input, text)]).input(), Some(input));
        }
        assert_eq!(refused(&WEAR, &[("bore", "10 mm"), ("shaft", "10.01 mm")]).input(), Some("shaft"));
        let two = [("bore", "10.1 mm"), ("shaft", "10 mm"), ("clearance", "0.2 mm")];
        assert_eq!(refused(&WEAR, &two).input(), Some("clearance"));
        assert_eq!(
            refused(&WEAR, &[("clearance", "0.05 mm"), ("starts-since-new", "100")]).input(),
            Some("starts-since-new")
        );
        assert_eq!(refused(&WEAR, &[("seat", "14 mm"), ("outside", "9 mm")]).input(), Some("outside"));
    }
}
