//! The worksheets: `cold drop crank drain charge wear battery shunt what-if`.

use serde_json::Value;

use super::bench::{machine, run};

/// Each worksheet with arguments that it can answer.
fn all() -> Vec<Vec<String>> {
    let curlew = machine("curlew");
    let lines: [&[&str]; 9] = [
        &["cold", &curlew, "--air=-8C", "--rest", "30s"],
        &["drop", &curlew],
        &["crank", &curlew],
        &["drain", &curlew, "--leak", "25mA"],
        &["charge", &curlew],
        &["wear", "--clearance", "0,12 mm"],
        &["battery", "--rest", "12.4V", "--chemistry", "agm"],
        &["shunt", "--drop", "60.2mV"],
        &["what-if", &curlew, "--set", "motor-cable.area=16mm2"],
    ];
    lines.map(|line| line.iter().map(|word| (*word).to_owned()).collect()).to_vec()
}

fn said(line: &[String]) -> super::bench::Said {
    run(&line.iter().map(String::as_str).collect::<Vec<_>>())
}

/// Every number of the JSON form, printed as the text prints it, is in the text.
#[test]
fn json_and_text_carry_the_same_numbers() {
    for line in all() {
        let text = said(&line);
        assert_eq!(text.code, 0, "{line:?}: {}", text.err);
        let wide = text.out.lines().find(|line| line.chars().count() > 80);
        assert_eq!(wide, None, "{line:?}");
        let json = said(&[line.clone(), vec!["--json".to_owned()]].concat()).json();
        assert_eq!(json["worksheet"], line[0].as_str());
        let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words(&text.out).contains(&words(json["headline"].as_str().unwrap())), "{}", text.out);
        let fixed = ["worksheet", "sheet", "inputs", "headline", "working", "advice", "cautions", "sources", "plot"];
        let figures = json.as_object().unwrap().iter().filter(|(name, _)| !fixed.contains(&name.as_str()));
        let mut numbers = Vec::new();
        for (_, value) in figures {
            collect(value, &mut numbers);
        }
        assert!(!numbers.is_empty(), "{line:?}");
        for number in numbers {
            assert!(is_in(number, &text.out), "{line:?}: {number} is not in\n{}", text.out);
        }
        assert!(json["sources"].as_array().is_some_and(|sources| !sources.is_empty()), "{line:?} names no source");
    }
}

fn collect(value: &Value, numbers: &mut Vec<f64>) {
    match value {
        Value::Number(number) => numbers.extend(number.as_f64()),
        Value::Array(rows) => rows.iter().for_each(|row| collect(row, numbers)),
        Value::Object(row) => row.values().for_each(|cell| collect(cell, numbers)),
        _ => {}
    }
}

/// Whether a text has the number to three digits or more, with whatever prefix its unit has.
fn is_in(number: f64, text: &str) -> bool {
    let words = text.split(|letter: char| !(letter.is_ascii_digit() || letter == '.' || letter == '-'));
    let shown: Vec<f64> = words.filter_map(|word| word.parse().ok()).collect();
    // Powers of ten of the prefixes; hours, mm², degrees, and rpm are printed in other units than SI.
    let scales = [1.0, 1e3, 1e6, 1e9, 1e-3, 1e-6, 1e-9, 1.0 / 3600.0, 1e3 / 3600.0, 1e6 / 3600.0, 1.0 / 60.0, 100.0];
    let scales = scales.into_iter().chain([180.0 / std::f64::consts::PI, 30.0 / std::f64::consts::PI, 1.0 / 86_400.0]);
    let mut scaled = scales.map(|scale| number * scale);
    scaled.any(|number| {
        shown.iter().any(|shown| {
            (shown - number).abs() <= 0.006 * number.abs().max(1e-12)
                || (number.abs() < 0.06 && *shown == 0.0 && number.abs() < 1e-6)
        })
    })
}

#[test]
fn what_cannot_be_is_refused_with_a_hint() {
    let curlew = machine("curlew");
    for line in [
        ["cold", &curlew, "--air=-300C"],
        ["cold", &curlew, "--charge=0"],
        ["drop", &curlew, "--current=-5A"],
        ["crank", &curlew, "--battery=30V"],
        ["drain", &curlew, "--leak="],
        ["drain", &curlew, "--leak=25"],
        ["charge", &curlew, "--starts=-1"],
        ["what-if", &curlew, "--set=motor-cable.length=-2m"],
        ["what-if", &curlew, "--fault=battery:broken"],
    ] {
        let said = run(&line);
        assert!(said.code == 2 || line[2] == "--leak=25", "{line:?}: {} {}", said.code, said.err);
        assert!(said.code == 0 || said.err.contains("hint:"), "{line:?}: {}", said.err);
    }
    for line in [["shunt", "--length=-1m"], ["battery", "--rest=30V"], ["wear", "--clearance=0mm"]] {
        let said = run(&line);
        assert_eq!(said.code, 2, "{line:?}: {}", said.err);
        assert!(said.err.contains("hint:"), "{}", said.err);
    }
    let nobody = run(&["cold"]);
    assert!(nobody.code == 2 && nobody.err.contains("SHEET"), "{}", nobody.err);
}

#[test]
fn a_plot_is_a_picture_with_a_title_and_words() {
    let file = std::env::temp_dir().join(format!("probewright-plot-{}.svg", std::process::id()));
    for mut line in all() {
        if line[0] == "what-if" {
            continue;
        }
        line.extend(["--plot".to_owned(), file.display().to_string()]);
        let said = said(&line);
        if said.code == 2 && said.err.contains("nothing to draw") {
            continue;
        }
        assert_eq!(said.code, 0, "{line:?}: {}", said.err);
        let picture = std::fs::read_to_string(&file).unwrap();
        assert!(picture.starts_with("<svg") && picture.contains("<title>") && picture.contains("<desc>"), "{line:?}");
        std::fs::remove_file(&file).unwrap();
    }
}

#[test]
fn help_tells_each_input_with_its_unit_and_an_example() {
    for line in all() {
        let help = run(&[&line[0], "--help"]).out;
        assert!(
            help.contains("Examples:") && help.contains("--json") && help.contains(&format!("probewright {}", line[0]))
        );
    }
}

#[test]
fn regress_a_start_that_is_out_of_all_proportion_ends() {
    let curlew = machine("curlew");
    for (change, code) in [
        ("--fault=motor-cable:corroded=1kohm", 0),
        ("--fault=engine:blocked", 0),
        ("--set=engine.drag=1e6 N m s/rad", 65),
        ("--set=starter.inertia=1e-12 kg m2", 0),
        ("--fault=ground-cable:corroded=-60mohm", 2),
    ] {
        let said = run(&["what-if", &curlew, change]);
        assert_eq!(said.code, code, "{change}: {}", said.err);
        assert!(code == 0 || said.err.contains("hint:"), "{}", said.err);
    }
}
