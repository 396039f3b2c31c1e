//! A battery under load: its inner resistance from two readings, and the amperes that this leaves in frost.
//! Law: R = (V₀ − V)/I, its range from the meter's face; in the cold R grows as that of published cells. Source: SAE J537 and
//! EN 50342-1 as transcribed, whose volts and seconds the figures are held against.
//! Limit: the first seconds; no open data of lithium cranked in frost, so that the range is wide on purpose.

use physics::lead_acid::COLD_CRANK_TESTS;
use quantity::{AmpHours, Amps, Celsius, Dimension, Face, Volts};

use crate::answer::{Answer, Figure, Table};
use crate::chemistry::Chemistry;
use crate::given::{Given, Refused};
use crate::print::{amps, column, figure, meter_volts, of, ohms, plain, text};

const AMPERE_HOUR: f64 = 3600.0;
/// Rest voltage from which the cold-crank envelope is reckoned, V.
pub const FULL: Volts = Volts(12.6);
/// Below this many times the capacity an hour a lithium pack shows more resistance than it has when cranking (derived
/// from a published set: 42 mΩ a cell at 0.1, 10 mΩ at 10).
const CRANKING_RATE: f64 = 5.0;

/// A resistance with its range, Ω, and how it compares with a new one's at that temperature.
#[derive(Clone, Copy, Debug)]
pub struct Inner {
    /// Likely.
    pub ohms: f64,
    /// By how much it may be off.
    pub off: f64,
    /// Least and most times a new one's.
    pub times: (f64, f64),
    /// The load.
    pub current: f64,
    /// The load is too small to tell how a lithium pack cranks.
    pub small: bool,
}

/// The inner resistance by two readings.
pub fn inner(given: &Given<'_>, chemistry: Chemistry, at: Celsius) -> Result<Option<Inner>, Refused> {
    let together = |input, why: String, hint| Err(Refused::Together { input, why, hint });
    let (rest, loaded, current) = match [given.maybe("rest"), given.maybe("loaded"), given.maybe("current")] {
        [_, None, None] => return Ok(None),
        [Some(rest), Some(loaded), Some(current)] => (rest, loaded, current),
        [None, ..] => {
            return together("rest", "a reading under load wants the rest voltage beside it".into(), "add --rest");
        }
        [_, None, _] => {
            return together("loaded", "a current wants the volts under that load beside it".into(), "add --loaded");
        }
        [.., None] => {
            return together("current", "volts under load want the load's current beside them".into(), "add --current");
        }
    };
    if loaded >= rest {
        let why = format!("{} under load is not below the {} at rest", meter_volts(loaded), meter_volts(rest));
        return together("loaded", why, "read rest first, then under load, both at the posts; is the charger off?");
    }
    let drop = rest - loaded;
    // One meter reads both: its share counts for the difference, its counts twice.
    let face = Face::volts();
    let counts = face.accuracy_counts * libm::hypot(face.step(rest), face.step(loaded));
    let of_drop = libm::hypot(face.accuracy_ratio * drop, counts) / drop;
    let of_current = Face::clamp().uncertainty(current) / current;
    let ohms = drop / current;
    let off = ohms * libm::hypot(of_drop, of_current);
    let ampere_hours = given.number("capacity") / AMPERE_HOUR;
    let new = chemistry.cells().new_resistance(AmpHours(ampere_hours)).0;
    let (least, most) = chemistry.colder(Celsius(20.0), at);
    let small = chemistry == Chemistry::Lithium && current < CRANKING_RATE * ampere_hours;
    let times = ((ohms - off).max(0.0) / (new * most), (ohms + off) / (new * least));
    Ok(Some(Inner { ohms, off, times, current, small }))
}

/// Amperes left at −18 °C by each standard's volts: least and most.
fn amperes(chemistry: Chemistry, at: Celsius, rest: f64, inner: Inner, least: Volts) -> (f64, f64) {
    let (low, high) = chemistry.colder(at, COLD_CRANK_TESTS[0].at);
    let spare = (rest - least.0).max(0.0);
    (spare / ((inner.ohms + inner.off) * high), spare / ((inner.ohms - inner.off).max(0.1 * inner.ohms) * low))
}

/// The figures and the working of the inner resistance.
pub fn of_resistance(
    answer: &mut Answer,
    given: &Given<'_>,
    chemistry: Chemistry,
    at: Celsius,
    rest: f64,
    inner: Inner,
) {
    let (low, high) = amperes(chemistry, at, rest, inner, COLD_CRANK_TESTS[0].least);
    let resistance = |name, title, si| figure(name, title, si, Dimension::Resistance);
    let ratio = |name, title, number| figure(name, title, number, Dimension::Ratio);
    let found: [Figure; 7] = [
        resistance("resistance_ohm", "inner resistance", inner.ohms),
        resistance("resistance_low_ohm", "at least", (inner.ohms - inner.off).max(0.0)),
        resistance("resistance_high_ohm", "at most", inner.ohms + inner.off),
        ratio("times_new_low", "times a new one's, at least", inner.times.0),
        ratio("times_new_high", "times a new one's, at most", inner.times.1),
        figure("cold_low_a", "amperes left at -18 °C to 7.2 V, at least", low, Dimension::Current),
        figure("cold_high_a", "at most", high, Dimension::Current),
    ];
    answer.figures.extend(found);
    let new = chemistry.cells().new_resistance(AmpHours(given.number("capacity") / AMPERE_HOUR)).0;
    answer.working.push(format!(
        "({} − {}) / {} = {} ± {}",
        meter_volts(rest),
        meter_volts(given.number("loaded")),
        amps(inner.current),
        ohms(inner.ohms),
        ohms(inner.off)
    ));
    answer.working.push(format!(
        "a new one of {}: about {} at 20 °C (estimate); at {at} this one has {} to {} times that of a new one",
        given.text("capacity"),
        ohms(new),
        plain(inner.times.0),
        plain(inner.times.1)
    ));
    answer.sources.push("new ones' resistances and their rise in the cold: estimates");
    answer.cautions.push("a load tester gets hot, and sparks when taken off: switch it off first, away from the vents");
    answer
        .cautions
        .push("with the starter as the load: neutral, driven wheel off the ground, hands clear, at most 5 s");
    if inner.off > 0.2 * inner.ohms {
        answer.advice.push("the meter leaves more than a fifth of it open: take a larger load".into());
    }
    if inner.small {
        answer.advice.push(
            "so small a load makes lithium look worse than it cranks: take at least five times its capacity".into(),
        );
    }
}

/// The cold-crank envelope.
pub fn cold(given: &Given<'_>, chemistry: Chemistry, at: Celsius, rest: f64, inner: Inner) -> Table {
    let rated = given.number("cold-crank");
    let rows = COLD_CRANK_TESTS
        .iter()
        .map(|test| {
            let (low, high) = amperes(chemistry, at, rest, inner, test.least);
            vec![
                text(test.standard),
                of(test.least.0, Dimension::Voltage),
                of(test.after.0, Dimension::Time),
                of(low, Dimension::Current),
                of(high, Dimension::Current),
                of(test.most_resistance(FULL, Amps(rated)).0, Dimension::Resistance),
            ]
        })
        .collect();
    Table {
        name: "cold",
        title: "At -18 °C, in the manner of".into(),
        columns: vec![
            column("standard", "standard"),
            column("least_v", "least volts"),
            column("after_s", "after"),
            column("low_a", "amperes, at least"),
            column("high_a", "at most"),
            column("rated_ohm", "what the printed figure allows"),
        ],
        rows,
    }
}
