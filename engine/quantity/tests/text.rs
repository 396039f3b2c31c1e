//! What people write and what comes of it: every spelling, every refusal, every value shown and read back.

use proptest::prelude::*;
use quantity::{Dimension, ReadErrorKind, conductor, read, read_loosely, show};

/// Each line: the kind, texts that must all give the same bits, and the value.
fn check(dimension: Dimension, texts: &[&str], value: f64) {
    for text in texts {
        assert_eq!(read(text, dimension), Ok(value), "{text:?} as {dimension:?}");
    }
}

/// The message and its hint, as a person sees them.
fn check_refusal(dimension: Dimension, text: &str, message: &str, hint: &str) {
    let outcome = read(text, dimension).map_err(|refusal| (refusal.to_string(), refusal.hint));
    assert_eq!(outcome, Err((message.to_owned(), Some(hint.to_owned()))), "{text:?}");
}

#[test]
fn law_spellings_of_one_value_give_the_same_bits() {
    use Dimension::*;
    let volts = ["12.9V", "12,9 V", "12.9 v", "12.9\u{a0}V", "12.9\u{2009}V", "12900 mV", "+12.9 volts", "12.9 VDC"];
    check(Voltage, &volts, 12.9);
    check(Voltage, &["12,345 V", "12.345V", "12345mV"], 12.345);
    check(Voltage, &["-0.5 V", "\u{2212}0.5 V", "\u{2013}0.5 V", "- .5 V", "-500 mV"], -0.5);
    check(Voltage, &["45 µV", "45 \u{3bc}V", "45uV", "4.5e-5 V", "4.5E-5V", "45 microvolts"], 45e-6);
    check(Voltage, &["2 MV"], 2e6);
    check(
        Resistance,
        &["180 mohm", "0.18 \u{3a9}", "0.18 \u{2126}", "180mΩ", "180 milliohm", "0R18", "180 mOHM"],
        0.18,
    );
    check(Resistance, &["4k7", "4.7k", "4,7 kohm", "4700 Ohms", "4.7 Kohm"], 4700.0);
    check(Resistance, &["1 Mohm", "1 megohm", "1M", "1 MΩ", "1e3 kohm", "1 mega ohm", "1 MOHM"], 1e6);
    check(Current, &["5e-9 A", "5E-9A", "5 nA", "0,005 uA", "5 × 10^-9 A", "5×10⁻⁹ A"], 5e-9);
    check(Current, &["120 A", "120 amps", "0.12 kA", "120 a"], 120.0);
    check(Temperature, &["-5 °C", "-5C", "-5 degC", "-5 deg C", "−5 ℃", "23 F", "-5 º C"], -5.0);
    check(Area, &["16mm²", "16 mm2", "16 mm^2", "0.16 cm2", "16 MM2", "16 sq mm"], 16e-6);
    check(Area, &["6 AWG", "AWG 6", "6awg", "awg6", "6 gauge"], conductor_area(6));
    check(Area, &["1/0 AWG", "0 AWG", "AWG 1/0"], conductor_area(0));
    check(Area, &["4/0 AWG", "0000 AWG"], conductor_area(-3));
    check(Charge, &["2.3 Ah", "2300 mAh", "8280 C", "2,3 A·h", "2.3 amp-hours", "2.3 AH"], 2.3 * 3600.0);
    check(Time, &["2 min", "120 s", "120000 ms", "2 minutes", "120 sec."], 120.0);
    check(Time, &["1 h", "60 min", "3600 s", "1 hr"], 3600.0);
    let constant =
        ["0.011 V s/rad", "0.011 V·s/rad", "0.011 V*s/rad", "0.011 N m/A", "0.011 Nm/A", "11 mV s / rad", "0.011 V s"];
    check(MotorConstant, &constant, 0.011);
    check(Drag, &["0.0002 N m s/rad", "0.2 mN m s/rad", "2e-4 N*m*s/rad", "0.0002 Nms/rad"], 2e-4);
    check(Torque, &["0.15 N m", "0.15 Nm", "150 mN m", "0.15 N.m", "0.15 N-m", "15 N cm"], 0.15);
    check(Inertia, &["1.1e-4 kg m2", "1.1e-4 kg m²", "1.1e-4 kg*m^2", "0.11 g m2", "1.1 kg cm2"], 1.1e-4);
    check(Power, &["55 W", "55w", "0.055 kW"], 55.0);
    check(Ratio, &["35 %", "0.35", "0,35", "35%", "35 percent"], 0.35);
    check(Length, &["0.45 m", "450 mm", "45 cm", "45 CM"], 0.45);
    check(Capacitance, &["10 uF", "10 µF", "1e4 nF"], 1e-5);
    check(Inductance, &["50 uH"], 50e-6);
    check(Conductance, &["5 mS"], 5e-3);
    check(Frequency, &["50 Hz", "0.05 kHz", "50 hz"], 50.0);
}

fn conductor_area(gauge: i32) -> f64 {
    conductor::gauge_area(gauge).0
}

#[test]
fn textbook_definitions_of_derived_units() {
    let close = |text: &str, dimension, value: f64| {
        let found = read(text, dimension).unwrap();
        assert!((found / value - 1.0).abs() < 1e-12, "{text}: {found} is not {value}");
    };
    close("9000 rpm", Dimension::Speed, 300.0 * std::f64::consts::PI);
    close("9000 min-1", Dimension::Speed, 300.0 * std::f64::consts::PI);
    close("9000 min⁻¹", Dimension::Speed, 300.0 * std::f64::consts::PI);
    close("30 deg", Dimension::Angle, std::f64::consts::PI / 6.0);
    close("1 Wh", Dimension::Energy, 3600.0);
    close("0.1 in", Dimension::Length, 2.54e-3);
    close("1e6 cmil", Dimension::Area, 506.707_479_097_497_8e-6);
    close("1 Gohm", Dimension::Resistance, 1e9);
    close("100 pF", Dimension::Capacitance, 1e-10);
    close("1 kg mm2", Dimension::Inertia, 1e-6);
    close("1 g cm2", Dimension::Inertia, 1e-7);
    close("1 g mm2", Dimension::Inertia, 1e-9);
    close("12 lbf in", Dimension::Torque, 1.355_817_948_331_400_4);
    close("1 rev/s", Dimension::Speed, std::f64::consts::TAU);
    close("1 d", Dimension::Time, 86_400.0);
    close("5 thou", Dimension::Length, 127e-6);
    close("1 V/krpm", Dimension::MotorConstant, 0.009_549_296_585_513_72);
    close("1 ft lbf", Dimension::Torque, 1.355_817_948_331_400_4);
    close("50 F", Dimension::Temperature, 10.0);
    close("300 K", Dimension::Temperature, 26.85);
}

#[test]
fn law_refusals_name_the_thing_what_is_allowed_and_the_next_step() {
    use Dimension::*;
    let volts = "a voltage is wanted here, in V, mV or kV, as in \"12.6 V\"";
    check_refusal(Voltage, "12", &format!("\"12\" has no unit; {volts}"), "write \"12 V\"");
    check_refusal(Voltage, "12,9", &format!("\"12,9\" has no unit; {volts}"), "write \"12,9 V\"");
    check_refusal(Voltage, "12 A", &format!("\"12 A\" is a current; {volts}"), "write \"12.6 V\"");
    check_refusal(Voltage, "", &format!("nothing is written; {volts}"), "write \"12.6 V\"");
    check_refusal(Voltage, "dead", &format!("\"dead\" does not start with a number; {volts}"), "write \"12.6 V\"");
    check_refusal(
        Voltage,
        "12.6 Vlot",
        &format!("\"12.6 Vlot\" has a unit that is not known; {volts}"),
        "did you mean \"12.6 volt\"?",
    );
    let doubt = "leaves its decimal mark in doubt";
    check_refusal(
        Voltage,
        "1.234,5 V",
        &format!("\"1.234,5 V\" {doubt}; {volts}"),
        "write \"1234.5 V\" without grouping",
    );
    check_refusal(Voltage, "1 000 V", &format!("\"1 000 V\" {doubt}; {volts}"), "write \"1000 V\" without grouping");
    check_refusal(
        Voltage,
        "-1'000,5V",
        &format!("\"-1'000,5V\" {doubt}; {volts}"),
        "write \"-1000.5 V\" without grouping",
    );
    check_refusal(Voltage, "1e99 V", &format!("\"1e99 V\" is out of range; {volts}"), "write \"12.6 V\"");
    let area = "an area is wanted here, in mm² or a wire gauge, as in \"16 mm2\" or \"6 AWG\"";
    check_refusal(Area, "6 mm", &format!("\"6 mm\" is a length; {area}"), "write \"6 AWG\" or \"13.3 mm²\"");
    check_refusal(Area, "16", &format!("\"16\" has no unit; {area}"), "write \"16 mm²\" or \"16 AWG\"");
    check_refusal(
        Area,
        "99 AWG",
        &format!("\"99 AWG\" is out of range; {area}"),
        "gauges go from \"4/0 AWG\" (thick) to \"40 AWG\" (thin)",
    );
    check_refusal(
        Current,
        "5 MA",
        "\"5 MA\" has a unit that is not known; a current is wanted here, in A, mA, µA or nA, as in \"120 A\"",
        "did you mean \"5 mA\"?",
    );
    let cold = "\"-300 °C\" is out of range; a temperature is wanted here, in °C, °F or K, as in \"-5 °C\"";
    check_refusal(Temperature, "-300 °C", cold, "nothing is colder than -273.15 °C");
}

#[test]
fn law_hints_guess_only_what_is_likely() {
    let hint = |text, dimension| read(text, dimension).map_err(|refusal| refusal.hint);
    let said = |hint: &str| Err(Some(hint.to_owned()));
    assert_eq!(hint("V 12", Dimension::Voltage), said("write \"12 V\""));
    assert_eq!(hint("2 mn", Dimension::Time), said("did you mean \"2 min\"?"));
    assert_eq!(hint("35 mm", Dimension::Area), said("write \"35 mm²\" if that is its section"));
    assert_eq!(hint("1.2.3 V", Dimension::Voltage), said("write \"12.6 V\""));
    assert_eq!(hint("2 1/2 V", Dimension::Voltage), said("write \"12.6 V\""));
    let plain = said("write \"1234567 ohm\" without grouping");
    assert_eq!(hint("1,234,567 ohm", Dimension::Resistance), plain);
}

#[test]
fn law_a_lone_small_m_is_a_length_never_megaohms() {
    let refusal = read("5 m", Dimension::Resistance).unwrap_err();
    assert_eq!(refusal.kind, ReadErrorKind::WrongDimension(Dimension::Length));
}

#[test]
fn law_numbers_that_are_none_are_refused() {
    for text in [
        "NaN V",
        "inf V",
        "∞ V",
        "1e31 V",
        "1e999999999999 V",
        "-1e400 V",
        "V",
        "e5 V",
        ". V",
        "-",
        "12, V",
        "--5 V",
        "10² V",
        "10^2 V",
    ] {
        assert!(read(text, Dimension::Voltage).is_err(), "{text}");
    }
    assert_eq!(read("1e-400 V", Dimension::Voltage), Ok(0.0));
    assert!(read("-0 V", Dimension::Voltage).unwrap().is_sign_positive());
}

#[test]
fn law_long_input_is_cut_and_control_characters_do_not_get_through() {
    let refusal = read(&format!("12 \u{1b}[31m{}", "x".repeat(5000)), Dimension::Voltage).unwrap_err();
    assert!(refusal.found.chars().count() <= 41 && refusal.to_string().len() < 200);
    assert!(!refusal.to_string().contains('\u{1b}'));
}

#[test]
fn law_bare_numbers_pass_only_at_a_prompt_and_only_where_one_unit_is_meant() {
    assert_eq!(read_loosely("12,9", Dimension::Voltage), Ok(12.9));
    assert_eq!(read_loosely("2.3", Dimension::Charge), Ok(2.3 * 3600.0));
    assert_eq!(read_loosely("-5", Dimension::Temperature), Ok(-5.0));
    assert!(read_loosely("6", Dimension::Area).is_err() && read_loosely("6", Dimension::Length).is_err());
}

#[test]
fn law_every_example_and_loose_unit_reads_as_its_own_kind() {
    for dimension in Dimension::ALL {
        assert!(read(dimension.example(), dimension).is_ok(), "{dimension:?}");
        assert!(dimension.allowed().contains(dimension.example()), "{dimension:?}");
        assert!(read(&format!("1 {}", dimension.symbol()), dimension).is_ok(), "{dimension:?}");
        if dimension.loose_unit().is_some() {
            assert!(read_loosely("1", dimension).is_ok(), "{dimension:?}");
        }
    }
}

fn any_dimension() -> impl Strategy<Value = Dimension> {
    proptest::sample::select(Dimension::ALL.to_vec())
}

proptest! {
    #[test]
    fn law_no_text_makes_it_panic_and_every_refusal_has_a_hint(text in "\\PC*", dimension in any_dimension()) {
        for outcome in [read(&text, dimension), read_loosely(&text, dimension)] {
            match outcome {
                Ok(value) => prop_assert!(value.abs() <= 1e30),
                Err(refusal) => prop_assert!(refusal.hint.is_some() && !refusal.to_string().is_empty()),
            }
        }
    }

    #[test]
    fn law_no_near_miss_makes_it_panic(
        text in "[-+−]?[0-9]{0,4}[.,' _/]{0,2}[0-9]{0,4}([eE][-+]?[0-9]{0,12})?[ \u{a0}]?[mMkKuµpnGRe%]?(V|A|Ω|ohm|AWG|°|C|F|m²|mm2|s|min|h|Ah|N m|/|rad|·){0,3}",
        dimension in any_dimension(),
    ) {
        if let Ok(value) = read_loosely(&text, dimension) {
            prop_assert!(value.is_finite());
        }
    }

    #[test]
    fn law_prefix_and_exponent_say_the_same(digits in 1u32..1_000_000) {
        let milli = read(&format!("{digits} mohm"), Dimension::Resistance);
        prop_assert_eq!(&milli, &read(&format!("{digits}e-3 ohm"), Dimension::Resistance));
        let mega = read(&format!("{digits} Mohm"), Dimension::Resistance);
        prop_assert_eq!(mega, read(&format!("{digits}e6 ohm"), Dimension::Resistance));
    }

    #[test]
    fn law_what_is_shown_can_be_read_back(
        size in -12.0..12.0f64, sign in proptest::bool::ANY, dimension in any_dimension()
    ) {
        let size = libm::pow(10.0, size);
        let value = if sign || dimension == Dimension::Temperature { size } else { -size };
        let shown = show(value, dimension);
        let found = read(&shown, dimension);
        prop_assert!(found.is_ok(), "{shown} as {dimension:?}: {found:?}");
        let near = if dimension == Dimension::Temperature { 0.05 } else { 0.0 };
        prop_assert!((found.unwrap() - value).abs() <= near + 0.0051 * size, "{shown} is not {value}");
    }
}
