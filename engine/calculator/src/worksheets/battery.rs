//! A battery by its meter readings: charge, inner resistance, what is left of it for a cold start.
//! Law: charge by the rest voltage of its chemistry; R = (V₀ − V)/I; resistance in the cold as published cells have it. Source: tables
//! as in `physics::lfp` and `physics::lead_acid`; SAE J537 and EN 50342-1 as transcribed; aging after Naumann et al.
//! Promise: every figure has its range where a meter or a table leaves one. Limit: EN 50342-1 and IEC 60095-1 leave
//! motorcycle batteries out, so a cold-crank figure is "in the manner of" them; no open data of lithium cranked in frost.

use physics::lead_acid::{self, COLD_CRANK_TESTS};
use physics::lfp;
use physics::pack::Guess;
use quantity::{Amps, Celsius, Dimension, Seconds, show_with};

use crate::answer::{Answer, Axis, Cell, Curve, Limit, Plot, Table, Unit};
use crate::chemistry::Chemistry;
use crate::given::{Given, Refused};
use crate::own::of_battery;
use crate::print::{amps, column, figure, figure_in, meter_volts, plain, steps, volts, word};
use crate::sag::{FULL, Inner, cold, inner, of_resistance};
use crate::worksheet::{Fallback, Input, Sheet, Want, Worksheet};

const AMPERE_HOUR: f64 = 3600.0;
const YEAR: f64 = 365.0 * 86_400.0;
/// Resistance over a new one's from which it is worn out, and from which it is worth a second look (estimates).
const WORN: f64 = 2.0;
const DOUBTFUL: f64 = 1.5;
/// A charged lithium pack rests above this, V (common practice, no source).
const LITHIUM_RESTS: f64 = 13.0;
/// A lithium pack whose board has cut it off shows less than this, V (common practice, no source).
const CUT_OFF: f64 = 1.0;
/// A lithium pack that was below 2.0 V a cell is damaged, V; below 2.5 V a cell it is empty (cell makers' notes).
const LITHIUM_DAMAGED: f64 = 8.0;
const LITHIUM_EMPTY: f64 = 10.0;
/// A lead battery below this has a dead cell or is deeply empty, V (from memory).
const LEAD_EMPTY: f64 = 10.5;
/// Years that lithium starter packs last in regular use (common practice, no source).
const LITHIUM_YEARS: f64 = 3.0;

/// Rest voltage of lead rises by this a kelvin, V.
const LEAD_WARMS: f64 = 1e-3 * lead_acid::ENTROPY * lead_acid::CELLS;

/// `battery`.
pub static BATTERY: Worksheet = Worksheet {
    name: "battery",
    title: "Charge, inner resistance and cold start of a battery",
    about: "From a rest voltage to the charge with its honest range; from a second reading under load to the inner \
            resistance, how worn that is, and the amperes left at -18 °C; then: charge, test again, or replace. \
            Lithium's flat curve tells its charge to about a quarter at best.",
    inputs: &[
        Input {
            name: "chemistry",
            want: Want::Choice(Chemistry::WORDS),
            fallback: Fallback::OfMachine(|machine| of_battery(machine, "chemistry"), "lfp-4s"),
            doc: "What is in the battery.",
        },
        Input {
            name: "capacity",
            want: Want::Quantity(Dimension::Charge, 0.3 * AMPERE_HOUR, 200.0 * AMPERE_HOUR),
            fallback: Fallback::OfMachine(|machine| of_battery(machine, "capacity"), "2.3 Ah"),
            doc: "Rated capacity, not a \"lead equivalent\".",
        },
        Input {
            name: "rest",
            want: Want::Quantity(Dimension::Voltage, 0.0, 17.0),
            fallback: Fallback::Absent,
            doc: "Volts at the posts after hours of standing; left out, the table of rest voltages is given.",
        },
        Input {
            name: "loaded",
            want: Want::Quantity(Dimension::Voltage, 0.0, 17.0),
            fallback: Fallback::Absent,
            doc: "Volts at the posts under load.",
        },
        Input {
            name: "current",
            want: Want::Quantity(Dimension::Current, 0.1, 800.0),
            fallback: Fallback::Absent,
            doc: "The load's current, as a clamp shows it.",
        },
        Input {
            name: "temperature",
            want: Want::Quantity(Dimension::Temperature, -40.0, 60.0),
            fallback: Fallback::Text("20 C"),
            doc: "Of the battery.",
        },
        Input {
            name: "cold-crank",
            want: Want::Quantity(Dimension::Current, 10.0, 1500.0),
            fallback: Fallback::Absent,
            doc: "Cold-crank amperes printed on it.",
        },
        Input { name: "years", want: Want::Ratio(0.0, 30.0), fallback: Fallback::Absent, doc: "Its age." },
        Input {
            name: "kept-at",
            want: Want::Quantity(Dimension::Temperature, 0.0, 60.0),
            fallback: Fallback::Text("20 C"),
            doc: "Mean temperature at which it was kept.",
        },
    ],
    sheet: Sheet::Welcome,
    examples: &[
        "--rest 13.12V --loaded 10.9V --current 62A",
        "--chemistry flooded --capacity 12Ah --rest 12.3V --temperature 5C",
        "machines/curlew.toml --rest 12.9V --years 4 --kept-at 25C",
    ],
    work,
};

/// What to do with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Verdict {
    Good,
    Charge,
    TestAgain,
    Replace,
}

impl Verdict {
    fn word(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Charge => "charge",
            Self::TestAgain => "test again",
            Self::Replace => "replace",
        }
    }
}

fn work(given: &Given<'_>) -> Result<Answer, Refused> {
    let chemistry = Chemistry::of(given.number("chemistry"));
    let at = Celsius(given.number("temperature"));
    let inner = inner(given, chemistry, at)?;
    let mut answer = Answer {
        sources: vec![
            "rest voltages: open LFP cell set (BPX example), classic flooded table from memory, one AGM chart",
            "meter: ±(0.5 % + 2) of volts, ±(2 % + 3) of a clamp, typical, from memory",
        ],
        ..Answer::default()
    };
    let rest = given.maybe("rest");
    let known = rest.map(|rest| chemistry.charge(rest, at));
    match (rest, known) {
        (Some(rest), Some(known)) => {
            let (verdict, why) = judge(chemistry, rest, known, inner);
            answer.headline = format!(
                "{}: {} at rest is {:.0} to {:.0} % of charge; {why}",
                verdict.word(),
                meter_volts(rest),
                100.0 * known.low,
                100.0 * known.high
            );
            answer.figures.push(word("verdict", "verdict", verdict.word()));
            of_charge(&mut answer, chemistry, rest, known, at);
            answer.advice.push(next(verdict, chemistry).to_owned());
        }
        _ => {
            answer.headline =
                format!("{} at rest by charge, as in the table; give --rest for one battery", chemistry.title());
        }
    }
    if let (Some(inner), Some(rest)) = (inner, rest) {
        of_resistance(&mut answer, given, chemistry, at, rest, inner);
        answer.tables.push(cold(given, chemistry, at, rest, inner));
    } else if given.maybe("cold-crank").is_some() {
        answer.advice.push("read it under load too (--loaded, --current): only that tells the amperes left".into());
    }
    if let Some(rated) = given.maybe("cold-crank") {
        let most = COLD_CRANK_TESTS[0].most_resistance(FULL, Amps(rated));
        answer.figures.push(figure(
            "rated_ohm",
            "resistance at -18 °C that its printed figure allows",
            most.0,
            Dimension::Resistance,
        ));
        answer.working.push(format!(
            "SAE J537: ({FULL} − {}) / {} = {most} at −18 °C",
            COLD_CRANK_TESTS[0].least,
            amps(rated)
        ));
        answer.sources.push("SAE J537 and EN 50342-1 as transcribed; the latter leaves motorcycle batteries out");
    }
    age(&mut answer, given, chemistry);
    mind(&mut answer, chemistry, at, rest);
    answer.tables.push(rest_table(chemistry, at));
    answer.plot = Some(curves(chemistry, at, rest));
    Ok(answer)
}

fn judge(chemistry: Chemistry, rest: f64, known: Guess, inner: Option<Inner>) -> (Verdict, &'static str) {
    let lithium = chemistry == Chemistry::Lithium;
    let fresh = if lithium { 14.0 } else { 13.2 };
    match inner {
        _ if lithium && rest < CUT_OFF => (
            Verdict::TestAgain,
            "its management board has cut it off (a lithium charger wakes it), or it is open inside",
        ),
        _ if lithium && rest < LITHIUM_DAMAGED => {
            (Verdict::Replace, "below 2.0 V a cell it is damaged and must not be charged")
        }
        _ if lithium && rest < LITHIUM_EMPTY => {
            (Verdict::Charge, "empty: slowly, with a lithium charger, then test again")
        }
        _ if !lithium && rest < LEAD_EMPTY => {
            (Verdict::Charge, "deeply empty or a dead cell: back at 10.5 V after charging means replace")
        }
        _ if rest > fresh => (Verdict::TestAgain, "it has just been charged: let it stand for hours"),
        Some(inner) if inner.times.0 > WORN && inner.small => {
            (Verdict::TestAgain, "so small a load makes lithium look worse than it cranks")
        }
        Some(inner) if inner.times.0 > WORN && known.high >= 0.5 => {
            (Verdict::Replace, "charged enough, and its resistance is more than twice a new one's")
        }
        Some(inner) if inner.times.0 > WORN => {
            (Verdict::Charge, "high resistance, but empty: charge it before judging")
        }
        _ if lithium && rest < LITHIUM_RESTS => (Verdict::Charge, "if it does not recover to 13 V it is worn out"),
        _ if !lithium && known.likely < 0.7 => (Verdict::Charge, "lead that stands half empty turns to sulfate"),
        Some(inner) if 0.5 * (inner.times.0 + inner.times.1) > DOUBTFUL => {
            (Verdict::TestAgain, "its resistance is higher than a new one's: charge, warm, read again")
        }
        Some(_) => (Verdict::Good, "its resistance is that of a sound one"),
        None => (Verdict::Good, "as far as rest alone tells: read it under load too"),
    }
}

/// What to do next.
fn next(verdict: Verdict, chemistry: Chemistry) -> &'static str {
    match (verdict, chemistry) {
        (Verdict::Good, _) => "look elsewhere: drops along the path, motor, drive",
        (Verdict::Charge, Chemistry::Lithium) => {
            "charge with a lithium charger to 14.6 V at most, let it stand overnight, read rest again"
        }
        (Verdict::Charge, _) => "charge fully, let it stand overnight, read rest and load again",
        (Verdict::TestAgain, _) => "test again: hours of rest, 20 °C, at least half a cranking current, clean posts",
        (Verdict::Replace, _) => "replace it, and find out what wore or emptied it: leak, regulator, short rides",
    }
}

fn of_charge(answer: &mut Answer, chemistry: Chemistry, rest: f64, known: Guess, at: Celsius) {
    let percent = |name, title, share: f64| figure_in(name, title, 100.0 * share, Unit::Percent);
    answer.figures.extend([
        percent("charge_percent", "likely charge", known.likely),
        percent("charge_low_percent", "at least", known.low),
        percent("charge_high_percent", "at most", known.high),
    ]);
    if chemistry == Chemistry::Lithium {
        answer.working.push(format!(
            "{} / 4 cells = {} a cell, by the table at {at}",
            meter_volts(rest),
            show_with(rest / 4.0, Dimension::Voltage, 4)
        ));
        answer.working.push("hysteresis of up to 25 mV a cell and the meter's ±(0.5 % + 2) make the range".into());
    } else {
        answer.working.push(format!(
            "at 25 °C it would show {} − {} · ({} − 25) = {}",
            meter_volts(rest),
            volts(LEAD_WARMS),
            plain(at.0),
            meter_volts(rest - LEAD_WARMS * (at.0 - 25.0))
        ));
        answer.working.push("what tables differ by and the meter's ±(0.5 % + 2) make the range".into());
    }
}

fn age(answer: &mut Answer, given: &Given<'_>, chemistry: Chemistry) {
    let Some(years) = given.maybe("years") else { return };
    if chemistry != Chemistry::Lithium {
        answer
            .advice
            .push(format!("{} years of lead are judged by the reading under load, not by a law", plain(years)));
        return;
    }
    let times = lfp::aged(Seconds(years * YEAR), 0.5, Celsius(given.number("kept-at")));
    answer.figures.push(figure("aged_times", "resistance over new by standing alone", times, Dimension::Ratio));
    answer.working.push(format!(
        "{} years at {}, half charged: resistance × {}",
        plain(years),
        given.text("kept-at"),
        plain(times)
    ));
    answer
        .sources
        .push("standing: Naumann et al., doi 10.1016/j.est.2018.01.019; cranking in frost wears it beyond that");
    if years > LITHIUM_YEARS {
        answer.advice.push("in regular use lithium starter packs last about three years (common practice)".into());
    }
}

fn mind(answer: &mut Answer, chemistry: Chemistry, at: Celsius, rest: Option<f64>) {
    if chemistry == Chemistry::Lithium {
        answer.cautions.push("never charge lithium below 0 °C or above 14.6 V; never a swollen, hot or opened pack");
        if rest.is_some_and(|rest| (CUT_OFF..LITHIUM_DAMAGED).contains(&rest)) {
            answer.cautions.push("do not force charge into a pack below 8 V: it may short inside later and burn");
        }
    } else {
        answer.cautions.push("acid and hydrogen: goggles, no flame, no spark; never charge a frozen battery");
        if at.0 < 0.0 && rest.is_some_and(|rest| rest < LEAD_EMPTY + 1.5) {
            answer
                .advice
                .push("an empty lead battery freezes from about -10 °C: thaw it, look at the case, then charge".into());
        }
    }
    answer.cautions.push("negative lead off first, on last");
}

fn rest_table(chemistry: Chemistry, at: Celsius) -> Table {
    Table {
        name: "rest",
        title: format!("{} at {at}, standing for hours", chemistry.title()),
        columns: vec![column("charge_percent", "charge"), column("rest_v", "rest")],
        rows: [0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0]
            .into_iter()
            .map(|charge| {
                vec![
                    Cell::Number(100.0 * charge, Unit::Percent),
                    Cell::Number(chemistry.rest_voltage(charge, at).0, Unit::MeterVolts),
                ]
            })
            .collect(),
    }
}

fn curves(chemistry: Chemistry, at: Celsius, rest: Option<f64>) -> Plot {
    let (from, to) = if chemistry == Chemistry::Lithium { (12.0, 13.8) } else { (11.4, 13.0) };
    let curve = |title: &str, of: fn(&Guess) -> f64| Curve {
        title: title.to_owned(),
        points: steps(from, to, 32).map(|rest| (rest, 100.0 * of(&chemistry.charge(rest, at)))).collect(),
    };
    Plot {
        title: "Charge by rest voltage".into(),
        x: Axis { title: "rest voltage (V)".into() },
        y: Axis { title: "charge (%)".into() },
        curves: vec![
            curve("at least", |known| known.low),
            curve("likely", |known| known.likely),
            curve("at most", |known| known.high),
        ],
        limits: rest
            .map(|rest| Limit { title: "this one".into(), at: 100.0 * chemistry.charge(rest, at).likely })
            .into_iter()
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::own::tests::school;
    use crate::worksheets::tests::{number, refused, worked};

    fn verdict(pairs: &[(&str, &str)]) -> String {
        let answer = worked(&BATTERY, pairs);
        match &answer.figures[0].value {
            Cell::Text(word) => word.clone(),
            other => panic!("{other:?}"),
        }
    }

    const LEAD: [(&str, &str); 2] = [("chemistry", "flooded"), ("capacity", "12 Ah")];

    /// The classic table of flooded batteries, from memory, at 25 °C.
    #[test]
    fn textbook_flooded_charges_from_memory() {
        for (rest, expected) in [("12.65 V", 100.0), ("12.24 V", 50.0), ("12.06 V", 25.0)] {
            let answer = worked(&BATTERY, &[&LEAD[..], &[("rest", rest), ("temperature", "25 C")]].concat());
            assert!((number(&answer, "charge_percent") - expected).abs() < 0.01);
            assert!(number(&answer, "charge_low_percent") < expected);
        }
    }

    /// (12.6 − 7.2) V over 100, 180 and 230 A are 54, 30 and 23.5 mΩ at −18 °C: derived from SAE J537.
    #[test]
    fn textbook_resistance_that_a_printed_figure_allows_derived() {
        for (rated, milliohms) in [("100 A", 54.0), ("180 A", 30.0), ("230 A", 23.5)] {
            let found = number(&worked(&BATTERY, &[("cold-crank", rated)]), "rated_ohm") * 1e3;
            assert!((found - milliohms).abs() < 0.05, "{found}");
        }
    }

    /// 1.0 V at 100 A is 10.0 mΩ; ±(0.5 % + 2 counts of 10 mV) twice is 2.9 %, ±(2 % + 3) of the clamp 2.3 %: 3.7 % in
    /// all, derived.
    #[test]
    fn textbook_resistance_from_two_readings_with_its_range_derived() {
        let answer =
            worked(&BATTERY, &[&LEAD[..], &[("rest", "12.6 V"), ("loaded", "11.6 V"), ("current", "100 A")]].concat());
        assert!((number(&answer, "resistance_ohm") - 0.010).abs() < 1e-9);
        let off = number(&answer, "resistance_high_ohm") / 0.010 - 1.0;
        assert!((off - 0.0367).abs() < 2e-4, "{off}");
    }

    /// Naumann et al.: 25 °C, half charged, 365 days are 1.0168; three years at 40 °C 1.2022 (figures of an open package).
    #[test]
    fn textbook_calendar_resistance_of_naumann() {
        for (years, kept, expected) in [("1", "25 C", 1.0168), ("3", "40 C", 1.2022)] {
            let found = number(&worked(&BATTERY, &[("years", years), ("kept-at", kept)]), "aged_times");
            assert!((found / expected - 1.0).abs() < 5e-4, "{found}");
        }
    }

    /// Charged lithium rests above 13 V, 13.26 V is a good reading; below 13 V it is charged first (common practice, no
    /// source).
    #[test]
    fn law_verdicts_follow_what_is_read() {
        let sound = [("rest", "13.26 V"), ("loaded", "11.2 V"), ("current", "60 A")];
        let worn = [("rest", "13.26 V"), ("loaded", "6.5 V"), ("current", "60 A")];
        let fed = [("rest", "13.26 V"), ("loaded", "9.6 V"), ("current", "60 A")];
        assert_eq!(verdict(&sound), "good");
        assert_eq!(verdict(&worn), "replace");
        assert_eq!(verdict(&fed), "test again");
        assert_eq!(verdict(&[("rest", "12.9 V")]), "charge");
        assert_eq!(verdict(&[("rest", "9 V")]), "charge");
        assert_eq!(verdict(&[("rest", "7 V")]), "replace");
        assert_eq!(verdict(&[("rest", "0 V")]), "test again");
        assert_eq!(verdict(&[("rest", "14.4 V")]), "test again");
        assert_eq!(verdict(&[&LEAD[..], &[("rest", "12.65 V")]].concat()), "good");
        assert_eq!(verdict(&[&LEAD[..], &[("rest", "12.1 V")]].concat()), "charge");
        // A lamp as the load cannot condemn a lithium pack.
        assert_eq!(verdict(&[("rest", "13.26 V"), ("loaded", "12.8 V"), ("current", "5 A")]), "test again");
        // Half empty and high in resistance: charged before it is thrown away.
        assert_eq!(
            verdict(&[&LEAD[..], &[("rest", "11.7 V"), ("loaded", "7 V"), ("current", "60 A")]].concat()),
            "charge"
        );
    }

    #[test]
    fn law_more_sag_is_more_resistance_and_fewer_cold_amperes() {
        let at = |loaded, name| {
            number(&worked(&BATTERY, &[("rest", "13.2 V"), ("loaded", loaded), ("current", "60 A")]), name)
        };
        assert!(at("10.5 V", "resistance_ohm") > at("11 V", "resistance_ohm"));
        assert!(at("10.5 V", "cold_high_a") < at("11 V", "cold_high_a"));
        let share = |current, loaded| {
            let answer = worked(&BATTERY, &[("rest", "13.2 V"), ("loaded", loaded), ("current", current)]);
            number(&answer, "resistance_high_ohm") / number(&answer, "resistance_ohm")
        };
        // The same battery under a larger load is known better.
        assert!(share("10 A", "12.8 V") > share("60 A", "10.8 V"));
        // Read in the cold, the same ohms are a better battery.
        let times = |celsius| {
            let pairs = [("rest", "13.2 V"), ("loaded", "11 V"), ("current", "60 A"), ("temperature", celsius)];
            number(&worked(&BATTERY, &pairs), "times_new_high")
        };
        assert!(times("-10 C") < times("20 C"));
    }

    #[test]
    fn law_cautions_follow_the_chemistry() {
        let said = |pairs: &[(&str, &str)], what: &str| {
            worked(&BATTERY, pairs).cautions.iter().any(|line| line.contains(what))
        };
        assert!(said(&[], "below 0 °C") && !said(&[], "acid"));
        assert!(said(&LEAD, "acid") && !said(&LEAD, "swollen"));
        assert!(said(&[("rest", "6 V")], "do not force"));
    }

    #[test]
    fn law_a_machine_brings_its_chemistry() {
        let dabchick = school("dabchick");
        let written = |name: &str| if name == "rest" { vec!["12.5 V".to_owned()] } else { Vec::new() };
        let (entries, answer) = BATTERY.answer(Some(&dabchick), written).unwrap();
        assert_eq!(entries[0].text, "flooded");
        assert!(answer.headline.starts_with("good"), "{}", answer.headline);
    }

    #[test]
    fn law_what_cannot_be_is_refused() {
        for (input, text) in
            [("rest", "30 V"), ("rest", "-1 V"), ("temperature", "0 K"), ("current", "0 A"), ("rest", "")]
        {
            assert_eq!(refused(&BATTERY, &[(input, text)]).input(), Some(input));
        }
        let above = [("rest", "12 V"), ("loaded", "12.5 V"), ("current", "60 A")];
        assert_eq!(refused(&BATTERY, &above).input(), Some("loaded"));
        assert_eq!(refused(&BATTERY, &above[..2]).input(), Some("current"));
        assert_eq!(refused(&BATTERY, &above[1..]).input(), Some("rest"));
        assert_eq!(refused(&BATTERY, &[above[0], above[2]]).input(), Some("loaded"));
    }
}
