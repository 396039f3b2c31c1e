//! The units a person may write, and what each means in SI.
//! A unit is looked up in the wanted kind first, exactly, then without regard to capitals; the prefix
//! always keeps its capital, so that `mohm` and `Mohm` are never confused.
//! Promise: powers of ten stay apart from other factors, so that `180 mohm` and `0.18 ohm` give the same bits.
//! Limit: prefixes only where the trade uses them; there is no megaampere, so `MA` is asked about.

use crate::Dimension;
use crate::conductor;

/// How a number with this unit becomes SI.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) enum Law {
    /// Multiply by this factor (after the power of ten).
    Times(f64),
    /// Degrees Fahrenheit to °C.
    Fahrenheit,
    /// Kelvin to °C.
    Kelvin,
    /// American wire gauge to m².
    Gauge,
}

/// A unit as found: the power of ten to fold into the number's exponent, then the law.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(crate) struct Scale {
    pub power: i32,
    pub law: Law,
}

impl Scale {
    /// American wire gauge.
    pub const GAUGE: Scale = Scale { power: 0, law: Law::Gauge };

    /// A power of ten of the SI unit.
    pub fn ten_to(power: i32) -> Scale {
        Scale { power, law: ONE }
    }

    /// The SI value of a number already multiplied by ten to the `power`; `None` where the law has no
    /// meaning for it (a gauge that is not one of the standard's).
    pub fn to_si(self, number: f64) -> Option<f64> {
        match self.law {
            Law::Times(factor) => Some(number * factor),
            Law::Fahrenheit => Some((number - 32.0) / 1.8),
            Law::Kelvin => Some(number - 273.15),
            Law::Gauge => {
                let gauge = (-3..=40).find(|&gauge| f64::from(gauge) == number)?;
                Some(conductor::gauge_area(gauge).0)
            }
        }
    }
}

/// A spelling without prefix, its power of ten and law, and the prefixes it takes.
struct Unit(&'static [&'static str], i32, Law, &'static str);

const ONE: Law = Law::Times(1.0);
/// Radians per second in one revolution per minute.
pub(crate) const RPM: f64 = std::f64::consts::PI / 30.0;
const TURN: f64 = 2.0 * std::f64::consts::PI;
const INCH: f64 = 0.0254;
/// Area of a circle one mil across, m².
const CIRCULAR_MIL: f64 = std::f64::consts::FRAC_PI_4 * 2.54e-5 * 2.54e-5;
/// One pound-force, N: 0.45359237 kg · 9.80665 m/s².
const POUND_FORCE: f64 = 0.45359237 * 9.80665;
/// One pound-force foot, N·m.
const POUND_FOOT: f64 = POUND_FORCE * 0.3048;

/// Prefixes: what is written, the power of ten, and its letter in a unit's list.
const PREFIXES: [(&str, i32, char); 15] = [
    ("p", -12, 'p'),
    ("n", -9, 'n'),
    ("u", -6, 'u'),
    ("μ", -6, 'u'),
    ("m", -3, 'm'),
    ("k", 3, 'k'),
    ("K", 3, 'k'),
    ("M", 6, 'M'),
    ("G", 9, 'G'),
    ("nano", -9, 'n'),
    ("micro", -6, 'u'),
    ("milli", -3, 'm'),
    ("kilo", 3, 'k'),
    ("mega", 6, 'M'),
    ("meg", 6, 'M'),
];

/// The units of one kind. Products are written with `·`, powers without a caret.
#[rustfmt::skip]
fn units(dimension: Dimension) -> &'static [Unit] {
    match dimension {
        Dimension::Voltage => &[
            Unit(&["V", "volt", "volts", "Vdc", "V·dc", "Vac", "V·ac"], 0, ONE, "numkM"),
        ],
        Dimension::Current => &[
            Unit(&["A", "amp", "amps", "ampere", "amperes", "Adc", "A·dc"], 0, ONE, "pnumk"),
        ],
        Dimension::Resistance => &[
            Unit(&["Ω", "ohm", "ohms"], 0, ONE, "numkMG"),
            Unit(&["R"], 0, ONE, ""),
            Unit(&["k"], 3, ONE, ""),
            Unit(&["M", "meg", "megohm", "megohms"], 6, ONE, ""),
        ],
        Dimension::Conductance => &[Unit(&["S", "siemens", "mho", "1/ohm", "1/Ω"], 0, ONE, "numk")],
        Dimension::Power => &[Unit(&["W", "watt", "watts"], 0, ONE, "numkM")],
        Dimension::Temperature => &[
            Unit(&["°C", "C", "degC", "deg·C", "°·C", "celsius", "°"], 0, ONE, ""),
            Unit(&["°F", "F", "degF", "deg·F", "°·F", "fahrenheit"], 0, Law::Fahrenheit, ""),
            Unit(&["K", "kelvin"], 0, Law::Kelvin, ""),
        ],
        Dimension::TemperatureDifference => &[
            Unit(&["K", "kelvin", "°C", "C", "degC", "deg·C"], 0, ONE, "m"),
        ],
        Dimension::Charge => &[
            Unit(&["Ah", "A·h", "amp·hour", "amp·hours"], 0, Law::Times(3600.0), "um"),
            Unit(&["C", "As", "A·s", "coulomb", "coulombs"], 0, ONE, "num"),
        ],
        Dimension::Energy => &[
            Unit(&["J", "joule", "joules", "Ws", "W·s"], 0, ONE, "numkM"),
            Unit(&["Wh", "W·h"], 0, Law::Times(3600.0), "umk"),
        ],
        Dimension::Length => &[
            Unit(&["m", "meter", "meters", "metre", "metres"], 0, ONE, ""),
            Unit(&["mm", "millimeter", "millimeters"], -3, ONE, ""),
            Unit(&["cm"], -2, ONE, ""),
            Unit(&["km"], 3, ONE, ""),
            Unit(&["um", "μm", "micron", "microns"], -6, ONE, ""),
            Unit(&["nm"], -9, ONE, ""),
            Unit(&["in", "inch", "inches", "\""], 0, Law::Times(INCH), ""),
            Unit(&["mil", "mils", "thou"], -3, Law::Times(INCH), ""),
            Unit(&["ft", "foot", "feet"], 0, Law::Times(12.0 * INCH), ""),
        ],
        Dimension::Area => &[
            Unit(&["mm2", "sq·mm", "sqmm"], -6, ONE, ""),
            Unit(&["cm2"], -4, ONE, ""),
            Unit(&["m2"], 0, ONE, ""),
            Unit(&["um2", "μm2"], -12, ONE, ""),
            Unit(&["AWG", "ga", "gauge"], 0, Law::Gauge, ""),
            Unit(&["cmil"], 0, Law::Times(CIRCULAR_MIL), "k"),
        ],
        Dimension::Time => &[
            Unit(&["s", "sec", "secs", "second", "seconds"], 0, ONE, "num"),
            Unit(&["min", "mins", "minute", "minutes"], 0, Law::Times(60.0), ""),
            Unit(&["h", "hr", "hrs", "hour", "hours"], 0, Law::Times(3600.0), ""),
            Unit(&["d", "day", "days"], 0, Law::Times(86_400.0), ""),
        ],
        Dimension::Force => &[
            Unit(&["N", "newton", "newtons"], 0, ONE, "k"),
            Unit(&["lbf", "pound·force"], 0, Law::Times(POUND_FORCE), ""),
        ],
        Dimension::Torque => &[
            Unit(&["N·m", "Nm"], 0, ONE, "numk"),
            Unit(&["N·cm", "Ncm"], -2, ONE, ""),
            Unit(&["lbf·ft", "ft·lbf", "lb·ft", "ft·lb"], 0, Law::Times(POUND_FOOT), ""),
            Unit(&["lbf·in", "in·lbf", "lb·in", "in·lb"], 0, Law::Times(POUND_FOOT / 12.0), ""),
        ],
        Dimension::MotorConstant => &[
            Unit(&["V·s/rad", "Vs/rad", "V·s", "Vs", "V/(rad/s)", "N·m/A", "Nm/A"], 0, ONE, "um"),
            Unit(&["V/rpm"], 0, Law::Times(1.0 / RPM), "m"),
            Unit(&["V/krpm"], -3, Law::Times(1.0 / RPM), ""),
        ],
        Dimension::Drag => &[
            Unit(&["N·m·s/rad", "Nms/rad", "Nm·s/rad", "N·m·s", "Nms", "Nm·s", "N·m/(rad/s)", "Nm/(rad/s)"], 0, ONE, "num"),
        ],
        Dimension::Inertia => &[
            Unit(&["kg·m2", "kgm2"], 0, ONE, ""),
            Unit(&["kg·cm2", "kgcm2"], -4, ONE, ""),
            Unit(&["kg·mm2", "kgmm2"], -6, ONE, ""),
            Unit(&["g·m2", "gm2"], -3, ONE, ""),
            Unit(&["g·cm2", "gcm2"], -7, ONE, ""),
            Unit(&["g·mm2", "gmm2"], -9, ONE, ""),
        ],
        Dimension::Capacitance => &[Unit(&["F", "farad", "farads"], 0, ONE, "pnum")],
        Dimension::Inductance => &[Unit(&["H", "henry", "henries", "henrys"], 0, ONE, "num")],
        Dimension::Frequency => &[Unit(&["Hz", "hertz"], 0, ONE, "mkM")],
        Dimension::Speed => &[
            Unit(&["rad/s", "rad/sec"], 0, ONE, "mk"),
            Unit(&["rpm", "r/min", "rev/min", "1/min", "min-1"], 0, Law::Times(RPM), "k"),
            Unit(&["rev/s", "r/s", "rps"], 0, Law::Times(TURN), ""),
        ],
        Dimension::AngularAcceleration => &[
            Unit(&["rad/s2", "rad/s/s"], 0, ONE, "mk"),
            Unit(&["rpm/s"], 0, Law::Times(RPM), "k"),
        ],
        Dimension::Angle => &[
            Unit(&["rad", "radian", "radians"], 0, ONE, "um"),
            Unit(&["°", "deg", "degree", "degrees"], 0, Law::Times(TURN / 360.0), ""),
            Unit(&["turn", "turns", "rev", "revs"], 0, Law::Times(TURN), ""),
        ],
        Dimension::Ratio => &[
            Unit(&[""], 0, ONE, ""),
            Unit(&["%", "percent"], -2, ONE, ""),
            Unit(&["‰"], -3, ONE, ""),
        ],
    }
}

/// The text of a unit in the one form the table uses: `V * s / rad` and `V s/rad` become `V·s/rad`.
pub(crate) fn normal(text: &str) -> String {
    let mut unit = String::new();
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        let joins = letters.peek().is_some_and(|next| next.is_alphabetic());
        match letter {
            '^' => {}
            '.' => unit.push('·'),
            '-' if joins => unit.push('·'),
            '·' | '⋅' | '∙' | '×' | '*' => unit.push('·'),
            space if space.is_whitespace() => unit.push('·'),
            other => unit.push(other),
        }
    }
    while unit.contains("··") {
        unit = unit.replace("··", "·");
    }
    let unit = unit.replace("·/", "/").replace("/·", "/");
    unit.trim_matches('·').to_owned()
}

/// Looks a unit (in [`normal`] form) up among those of one kind.
pub(crate) fn find(unit: &str, dimension: Dimension) -> Option<Scale> {
    let exact = |spelling: &str, written: &str| spelling == written;
    // A lone `M` is megaohms, so a lone `m` must not be taken for it.
    let tolerant = |spelling: &str, written: &str| spelling != "M" && spelling.to_lowercase() == written.to_lowercase();
    find_by(unit, dimension, exact).or_else(|| find_by(unit, dimension, tolerant))
}

/// Kinds other than the wanted one to which this unit (in [`normal`] form) belongs: the first, exactly spelled
/// before tolerantly spelled.
pub(crate) fn belongs_to(unit: &str) -> Option<Dimension> {
    let exact = |spelling: &str, written: &str| spelling == written;
    let kinds = || Dimension::ALL.into_iter();
    kinds()
        .find(|&kind| find_by(unit, kind, exact).is_some())
        .or_else(|| kinds().find(|&kind| find(unit, kind).is_some()))
}

fn find_by(unit: &str, dimension: Dimension, same: impl Fn(&str, &str) -> bool) -> Option<Scale> {
    let table = units(dimension);
    let plain = table.iter().find(|Unit(spellings, ..)| spellings.iter().any(|spelling| same(spelling, unit)));
    if let Some(&Unit(_, power, law, _)) = plain {
        return Some(Scale { power, law });
    }
    PREFIXES.iter().find_map(|(written, shift, letter)| {
        let rest = after_prefix(unit, written)?;
        let Unit(_, power, law, _) = table.iter().find(|Unit(spellings, _, _, prefixes)| {
            prefixes.contains(*letter) && spellings.iter().any(|spelling| same(spelling, rest))
        })?;
        Some(Scale { power: power + shift, law: *law })
    })
}

/// The spelling of a unit of this kind that is nearest to what was written, if near enough to ask about.
pub(crate) fn nearest(unit: &str, dimension: Dimension) -> Option<String> {
    let table = || units(dimension).iter();
    let plain = table().flat_map(|Unit(spellings, ..)| spellings.iter().map(|unit| (*unit).to_owned()));
    let prefixed = table().flat_map(|Unit(spellings, _, _, prefixes)| {
        let with = |prefix: char| spellings.iter().map(move |unit| format!("{prefix}{unit}"));
        prefixes.chars().flat_map(with)
    });
    let candidates: Vec<String> = plain.chain(prefixed).filter(|unit| !unit.is_empty()).collect();
    crate::refusal::nearest(unit, candidates.iter().map(String::as_str)).map(|found| found.replace('·', " "))
}

/// What follows a prefix: a letter as it is, a word in any capitals and perhaps apart (`mega ohm`).
fn after_prefix<'a>(unit: &'a str, prefix: &str) -> Option<&'a str> {
    if prefix.chars().count() == 1 {
        return unit.strip_prefix(prefix);
    }
    let head = unit.get(..prefix.len())?;
    let rest = unit.get(prefix.len()..)?;
    head.eq_ignore_ascii_case(prefix).then(|| rest.trim_start_matches('·'))
}
