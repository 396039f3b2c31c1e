//! The published trial: `docs/trial.md`, every number of it computed now.
//! One run of `probewright trial` a condition, on all machines that ship, from the same seed; the small problems from the
//! recursion of `referee/plans.py`. The same program writes the same page. What a condition came to is kept in
//! `.cache/trials` under the bytes of program and sheets: a run that was cut off goes on where it stood.
//! Limit: a share of a few hundred jobs is known to a few parts in a hundred; ratios of minutes carry their interval.

use std::fmt::Write as _;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::process::Command;

use serde_json::Value;

use crate::workspace::{Trouble, cargo, files, program, root, say};

/// Jobs of each condition.
const JOBS: u64 = 200;
/// What-if cases for each fault.
const WORLDS: &str = "64";
const PAGE: &str = "docs/trial.md";

/// A condition: what it is called, and how it is asked for.
const CONDITIONS: [(&str, &[&str]); 10] = [
    ("as usual: 4 numbers of 100 are wrong", &[]),
    ("no number is wrong", &["--mishap", "none"]),
    ("3 of 100 are wrong", &["--mishap-share", "0.03"]),
    ("10 of 100 are wrong", &["--mishap-share", "0.1"]),
    ("one of the first five numbers is wrong", &["--mishap", "any"]),
    ("odds wrong by a factor of 3 (one σ)", &["--odds-noise", "1.0986"]),
    ("healthy resistances wrong by up to 2", &["--sheet-noise", "2"]),
    ("the fault is there half of the time", &["--intermittent", "0.5"]),
    ("two faults at once", &["--doubles"]),
    ("the fault is not in the catalogue", &["--left-out"]),
];

/// Runs the command: the page, or with `--check` whether its first row is what a report in the JSON form says.
pub fn run(arguments: &[String]) -> Result<bool, Trouble> {
    let jobs = match arguments {
        [] => JOBS,
        [word, report] if word == "--check" => return check(report),
        [word, number] if word == "--jobs" => {
            number.parse().map_err(|_| Trouble::Said(format!("`{number}`: a whole number is wanted")))?
        }
        _ => return Err(Trouble::Said("allowed: --jobs NUMBER, --check REPORT".to_owned())),
    };
    let binary = program()?;
    let sheets = files(&root().join("machines"), ".toml")?;
    let sheets: Vec<_> = sheets.into_iter().filter(|path| path.parent() == Some(&root().join("machines"))).collect();
    let mut inputs = DefaultHasher::new();
    for input in std::iter::once(&binary).chain(&sheets) {
        std::fs::read(input)?.hash(&mut inputs);
    }
    let kept = root().join(".cache/trials");
    std::fs::create_dir_all(&kept)?;
    let trial = |options: &[&str]| -> Result<Value, Trouble> {
        let mut name = inputs.clone();
        (jobs, WORLDS, options).hash(&mut name);
        let kept = kept.join(format!("{:016x}.json", name.finish()));
        if let Ok(report) = std::fs::read(&kept) {
            return Ok(serde_json::from_slice(&report)?);
        }
        let ran = Command::new(&binary)
            .arg("trial")
            .args(&sheets)
            .args(["--jobs", &jobs.to_string(), "--worlds", WORLDS, "--json"])
            .args(options)
            .output()?;
        if !ran.status.success() {
            return Err(Trouble::Said(String::from_utf8_lossy(&ran.stderr).into_owned()));
        }
        let report = serde_json::from_slice(&ran.stdout)?;
        std::fs::write(&kept, &ran.stdout)?;
        Ok(report)
    };
    let small = small()?;
    let mut reports = Vec::new();
    for (name, options) in CONDITIONS {
        say(&format!("{jobs} jobs: {name}"));
        reports.push(trial(options)?);
    }
    let page = page(jobs, &reports, &small)?;
    std::fs::write(root().join(PAGE), page)?;
    say(&format!("written: {PAGE}"));
    Ok(true)
}

fn check(report: &str) -> Result<bool, Trouble> {
    let usual: Value = serde_json::from_str(&std::fs::read_to_string(report)?)?;
    let row = row(CONDITIONS[0].0, &usual);
    let same = std::fs::read_to_string(root().join(PAGE))?.contains(&row);
    say(&if same {
        format!("{PAGE} says what the program does: {row}")
    } else {
        format!("{PAGE} is of another program: `cargo xtask trials` writes it anew; now it is\n{row}")
    });
    Ok(same)
}

/// What the recursion says of the small problems.
fn small() -> Result<String, Trouble> {
    let built = cargo()
        .args(["build", "--quiet", "--release", "--locked", "-p", "diagnosis", "--example", "answers"])
        .status()?;
    if !built.success() {
        return Err(Trouble::Said("the example `answers` does not build".to_owned()));
    }
    let answers = program()?.with_file_name("examples").join("answers");
    let ran = Command::new("python3").arg(root().join("referee/plans.py")).arg(answers).output()?;
    if !ran.status.success() {
        return Err(Trouble::Said(String::from_utf8_lossy(&ran.stderr).into_owned()));
    }
    Ok(String::from_utf8_lossy(&ran.stdout).into_owned())
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or(f64::NAN)
}

fn percent(value: &Value) -> String {
    format!("{:.1} %", 100.0 * number(value))
}

fn method(report: &Value) -> &Value {
    &report["technicians"][0]
}

fn ratio(against: &Value) -> String {
    let of = |name: &str| number(&against["ratio"][name]);
    format!("{:.2} ({:.2} to {:.2})", of("value"), of("low"), of("high"))
}

fn row(name: &str, report: &Value) -> String {
    let method = method(report);
    format!(
        "| {name} | {} | {} | {} | {} | {} | {} | {:.3} |",
        percent(&method["right"]),
        percent(&method["confident_wrong"]),
        method["proven_wrong"],
        percent(&Value::from(number(&method["none_of_these"]) + number(&method["no_verdict"]))),
        ratio(&report["against"][0]),
        ratio(&report["against"][1]),
        number(&report["open"]["ece"]),
    )
}

/// What became of the jobs with two faults, of which the first verdict can name but one.
fn doubles(report: &Value) -> String {
    let method = method(report);
    format!(
        "Of two faults *right* is a first verdict that names one. After the first remedy {} machines were half mended; {} of \
         them were then mended wholly.",
        method["half_mended"], method["then_mended"]
    )
}

/// What became of the jobs whose fault is not in the catalogue.
fn left_out(report: &Value) -> String {
    let mut said =
        "A fault that is not in the catalogue cannot be named: there *right* is another that the same remedy of the \
                    same part mends, or that no reading tells from it."
            .to_owned();
    for row in report["left_out"].as_array().into_iter().flatten() {
        let whose = match row["name"].as_str() {
            Some("imitated") => "whose fault another can look like, by the matrix of `coverage`",
            _ => "whose fault no other can look like",
        };
        // Writing to a string does not fail.
        let _ = write!(
            said,
            " Of {} jobs {whose}, {} ended without a verdict, {} in one on another fault.",
            row["jobs"], row["no_verdict"], row["wrong"]
        );
    }
    said
}

fn page(jobs: u64, reports: &[Value], small: &str) -> Result<String, Trouble> {
    let usual = &reports[0];
    let mut page = String::new();
    let mut put = |text: &str| writeln!(page, "{text}").map_err(|error| Trouble::Said(error.to_string()));
    put("# Trial figures\n")?;
    put(&format!(
        "Written by `cargo xtask trials --jobs {jobs}`; the same program writes the same page. {jobs} simulated jobs a \
         condition, dealt to the eight machines in turn, {WORLDS} what-if cases a fault: faults are planted by their odds, \
         at any severity, in machines whose battery, friction, oil and weather differ; a technician whose meter has noise \
         and whose hand slips works each to the proven fix (all `computed`; odds, minutes and mishaps are estimates).\n"
    ))?;
    put("## Under which conditions\n")?;
    put(
        "*Right*: the first verdict names the fault, or its group of faults that no reading tells apart. *Confident and wrong*: \
         the first verdict names another. *Proven wrong*: a repair check passed on another. Minutes to the proven fix stand \
         over those of a fixed list of checks in the order of the trade (common practice, no source) and of a technician \
         who halves the suspected path, on the same jobs, with their intervals of 95 %. *Calibration*: how far stated odds \
         and frequency lie apart while a job is open.\n",
    )?;
    put(
        "| condition | right | confident and wrong | proven wrong | no verdict | minutes, × list | × halving | calibration |",
    )?;
    put("|---|---|---|---|---|---|---|---|")?;
    for ((name, _), report) in CONDITIONS.iter().zip(reports) {
        put(&row(name, report))?;
    }
    put(&format!("\n{}\n", doubles(&reports[CONDITIONS.len() - 2])))?;
    put(&format!("{}\n", left_out(&reports[CONDITIONS.len() - 1])))?;
    put("## Machine by machine, as usual\n")?;
    put("| machine | jobs | right | wrong | no verdict | mean minutes | × list | × halving |")?;
    put("|---|---|---|---|---|---|---|---|")?;
    for one in usual["by_machine"].as_array().into_iter().flatten() {
        put(&format!(
            "| {} | {} | {} | {} | {} | {:.0} | {:.2} | {:.2} |",
            one["name"].as_str().unwrap_or_default(),
            one["jobs"],
            one["right"],
            one["wrong"],
            one["no_verdict"],
            number(&one["minutes"]),
            number(&one["ratios"][0]),
            number(&one["ratios"][1]),
        ))?;
    }
    put("\n## Minutes, as usual\n")?;
    put("| who | mean | median | 90 of 100 under | readings and remedies |")?;
    put("|---|---|---|---|---|")?;
    for one in usual["technicians"].as_array().into_iter().flatten() {
        let minutes = |name: &str| number(&one["minutes"][name]);
        put(&format!(
            "| {} | {:.0} min | {:.0} min | {:.0} min | {:.1} |",
            one["technician"].as_str().unwrap_or_default(),
            minutes("mean"),
            minutes("median"),
            minutes("p90"),
            number(&one["steps"]),
        ))?;
    }
    put("\n## Whether the odds are what they say, as usual\n")?;
    put("| stated | moments | stated, mean | came true |")?;
    put("|---|---|---|---|")?;
    for bin in usual["open"]["bins"].as_array().into_iter().flatten() {
        if bin["count"].as_u64() == Some(0) {
            continue;
        }
        put(&format!(
            "| from {} | {} | {} | {} |",
            percent(&bin["from"]),
            bin["count"],
            percent(&bin["stated"]),
            percent(&bin["correct"])
        ))?;
    }
    put("\n## Against the least minutes that are possible\n")?;
    put(
        "On problems so small that every plan can be tried, by a recursion outside the program (`referee/plans.py`), which \
         says:\n",
    )?;
    put("```")?;
    put(small.trim_end())?;
    put("```")?;
    Ok(page)
}
