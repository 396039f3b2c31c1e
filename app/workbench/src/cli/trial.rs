//! `trial`: simulated jobs that score the method against two rivals.

use std::io::Write;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use diagnosis::trial::{Ending, Job, Run, Technician};
use indicatif::{ProgressBar, ProgressStyle};
use machine::Machine;
use quantity::{Dimension, read_loosely, show};

use super::Ending as Ended;
use super::failure::{Failure, Kind};
use super::findings::usable;
use super::print::{BOLD, DIM, Page, WIDTH, wrapped};
use crate::shop::sheets;
use crate::shop::trial::{Mishaps, Options, Plan, Report, Row, Slip, Trust, report, work};
use crate::shop::words;

/// Score the method on simulated jobs, against two other ways of working
///
/// Faults are planted by their odds, at any severity, in machines whose
/// battery, friction, oil and weather are anywhere within what healthy ones
/// differ by. A technician whose meter has noise and whose hand slips works
/// each job to the proven fix as `advise` says; the same jobs are worked by a
/// fixed list of checks (common practice, no source) and by measuring in the
/// middle of the suspected path, with the same odds and the same stop.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Trial {
    /// The sheets; jobs are dealt to them in turn
    #[arg(required = true)]
    sheets: Vec<PathBuf>,
    /// How many jobs, over all sheets
    #[arg(long, value_name = "NUMBER", default_value_t = 500, value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    jobs: u32,
    /// Seed of the first job; the same seed gives the same bytes
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    seed: u64,
    /// What-if cases for each fault; 256 when left out, fewer for a large sheet
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u32).range(1..=4096))]
    worlds: Option<u32>,
    /// What goes wrong with readings
    ///
    /// usual: 2 % are of a neighboring point, 2 % wild, 0 V or turned round;
    /// none: no number is wrong; else one number of a job is wrong, if it takes as many
    /// as its place says.
    /// Words are misheard and proofs mislead in any case.
    #[arg(long, value_name = "SORT", default_value = "usual")]
    mishap: Mishap,
    /// The share of numbers that are wrong, half of them of a neighboring point
    #[arg(long, value_name = "SHARE", value_parser = share, conflicts_with = "mishap")]
    mishap_share: Option<f64>,
    /// Which number is the wrong one; any of the first five when left out
    #[arg(long, value_name = "PLACE", value_parser = clap::value_parser!(u8).range(1..=5))]
    mishap_at: Option<u8>,
    /// The fault comes and goes: the share of the time that it is there
    #[arg(long, value_name = "SHARE", value_parser = share)]
    intermittent: Option<f64>,
    /// Plant two faults
    #[arg(long)]
    doubles: bool,
    /// Plant faults that the catalogue lacks
    #[arg(long)]
    left_out: bool,
    /// The desk's odds are wrong by e^N(0, NUMBER)
    #[arg(long, value_name = "NUMBER", default_value_t = 0.0)]
    odds_noise: f64,
    /// Healthy resistances are wrong by up to this factor
    #[arg(long, value_name = "FACTOR", default_value_t = 1.0)]
    sheet_noise: f64,
    /// Show the job of this seed on the first sheet, step by step
    #[arg(long, value_name = "SEED")]
    show: Option<u64>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// `--mishap`.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum Mishap {
    Usual,
    None,
    Wild,
    Zero,
    Place,
    Sign,
    Any,
}

const EXAMPLES: &str = "\
Examples:
  probewright trial curlew.toml --jobs 200
  probewright trial curlew.toml --show 17
  probewright trial curlew.toml --mishap place --mishap-at 3 --json
  probewright trial machines/*.toml --jobs 5000      the full trial";

fn share(text: &str) -> Result<f64, String> {
    match read_loosely(text, Dimension::Ratio) {
        Ok(share) if share > 0.0 && share <= 1.0 => Ok(share),
        _ => Err("a share above 0, at most 1, as in 0.1 or 10%".to_owned()),
    }
}

impl Trial {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ended, Failure> {
        let mut opened = Vec::new();
        for path in &self.sheets {
            let sheet = sheets::open(path).map_err(|error| Failure::opening(path, error))?;
            let text = sheet.text.clone();
            opened.push((usable(sheet, page)?, text));
        }
        let plan = self.plan();
        let broke = |error| Failure::new(Kind::BadData, error);
        if self.show.is_some() {
            opened.truncate(1);
            let worked = work(&opened, &plan, || {}).map_err(broke)?;
            for one in &worked {
                in_full(&opened[0].0, &one.job, page)?;
            }
            return Ok(ended(worked.len(), page));
        }
        let bar = bar(plan.jobs);
        let worked = work(&opened, &plan, || bar.inc(1)).map_err(broke)?;
        bar.finish_and_clear();
        let report = report(&opened, &plan, &worked);
        if self.json {
            page.json(&report)?;
        } else {
            print(&report, page)?;
        }
        Ok(ended(worked.len(), page))
    }

    fn plan(&self) -> Plan {
        let one = |slip| Mishaps::One { slip, at: self.mishap_at };
        let mishaps = match self.mishap {
            Mishap::Usual => self.mishap_share.map_or(Mishaps::Usual, Mishaps::Share),
            Mishap::None => Mishaps::None,
            Mishap::Wild => one(Some(Slip::Wild)),
            Mishap::Zero => one(Some(Slip::Zero)),
            Mishap::Place => one(Some(Slip::Place)),
            Mishap::Sign => one(Some(Slip::Sign)),
            Mishap::Any => one(None),
        };
        Plan {
            seed: self.show.unwrap_or(self.seed),
            jobs: if self.show.is_some() { 1 } else { self.jobs as usize },
            worlds: self.worlds.map(|worlds| worlds as usize),
            options: Options {
                mishaps,
                presence: self.intermittent.unwrap_or(1.0),
                doubles: self.doubles,
                left_out: self.left_out,
                odds_noise: self.odds_noise,
                sheet_noise: self.sheet_noise,
                alike: Vec::new(),
            },
        }
    }
}

/// How far it is, on standard error, when that is a terminal.
fn bar(jobs: usize) -> ProgressBar {
    const LOOK: &str = "{bar:40} {pos} of {len} jobs, {eta} left";
    let looks = ProgressStyle::with_template(LOOK).unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(jobs as u64).with_style(looks)
}

fn ended(worked: usize, page: &mut Page) -> Ended {
    if worked == 0 {
        page.warn("no fault was planted: on these machines none would be noticed");
        return Ended::No;
    }
    Ended::Done
}

fn percent(share: f64) -> String {
    format!("{:.1} %", share * 100.0)
}

fn print(report: &Report, page: &mut Page) -> Result<(), Failure> {
    let out = page.out();
    writeln!(out, "{BOLD}{} jobs, seed {}{BOLD:#}", report.jobs, report.seed)?;
    let heads = ["method", "list", "halving"];
    writeln!(out, "\n{DIM}{:34}{}{DIM:#}", "", heads.map(|head| format!("{head:>12}")).concat())?;
    let mut line = |name: &str, cell: &dyn Fn(&crate::shop::trial::Scored) -> String| {
        let cells: String = report.technicians.iter().map(|scored| format!("{:>12}", cell(scored))).collect();
        writeln!(out, "{name:34}{cells}")
    };
    line("first verdict right", &|scored| percent(scored.right))?;
    line("first verdict wrong", &|scored| percent(scored.confident_wrong))?;
    line("none of these", &|scored| percent(scored.none_of_these))?;
    line("no verdict", &|scored| percent(scored.no_verdict))?;
    line("proven", &|scored| percent(scored.proven))?;
    line("proven wrong (jobs)", &|scored| scored.proven_wrong.to_string())?;
    line("fixed, not proven", &|scored| percent(scored.fixed_unproven))?;
    line("handed on", &|scored| percent(scored.unfixed))?;
    if report.technicians.iter().any(|scored| scored.half_mended > 0) {
        line("one mended, another noticed (jobs)", &|scored| scored.half_mended.to_string())?;
        line("    then all, by verdicts", &|scored| scored.then_mended.to_string())?;
    }
    line("minutes to the verdict: mean", &|scored| format!("{:.1}", scored.minutes.to_verdict))?;
    line("minutes to the end: mean", &|scored| format!("{:.1}", scored.minutes.mean))?;
    line("                    median", &|scored| format!("{:.1}", scored.minutes.median))?;
    line("                    90 % within", &|scored| format!("{:.1}", scored.minutes.p90))?;
    line("remedies tried in vain, a job", &|scored| format!("{:.2}", scored.remedies_in_vain))?;
    line("steps", &|scored| format!("{:.1}", scored.steps))?;
    writeln!(out)?;
    for against in &report.against {
        let (ratio, saved) = (&against.ratio, &against.difference);
        writeln!(
            out,
            "minutes against {}: {:.2} times ({:.2} to {:.2}), {:+.1} ({:+.1} to {:+.1})",
            against.rival, ratio.value, ratio.low, ratio.high, saved.value, saved.low, saved.high
        )?;
    }
    trust("Odds while the job is open", &report.open, page)?;
    trust("Odds at the verdict", &report.verdict, page)?;
    table("By machine", &report.by_machine, page)?;
    table("By complaint", &report.by_complaint, page)?;
    table("By fault, most failures first", &report.by_fault[..report.by_fault.len().min(20)], page)?;
    if !report.by_slip.is_empty() {
        table("By the wrong number", &report.by_slip, page)?;
    }
    if !report.left_out.is_empty() {
        table("By whether a fault that remains can look like the one left out", &report.left_out, page)?;
    }
    if !report.failures.is_empty() {
        writeln!(page.out(), "\n{BOLD}Confident and wrong, or proven wrong{BOLD:#}")?;
    }
    for failed in &report.failures {
        let text = format!(
            "{} {} {}: {} ({}), said {}; {}",
            failed.machine,
            failed.seed,
            failed.what,
            failed.planted.join(" + "),
            failed.complaint,
            failed.verdict.first().map_or("nothing", String::as_str),
            failed.why.join("; ")
        );
        writeln!(page.out(), "{}", wrapped(&text, WIDTH))?;
    }
    Ok(())
}

fn trust(title: &str, trust: &Trust, page: &mut Page) -> Result<(), Failure> {
    let out = page.out();
    writeln!(out, "\n{BOLD}{title}{BOLD:#}: {} moments", trust.moments)?;
    writeln!(
        out,
        "  calibration error {:.3}, stated less true {:+.3}, Brier {:.3}, log {:.3}",
        trust.ece, trust.stated_minus_true, trust.brier, trust.log
    )?;
    for bin in trust.bins.iter().filter(|bin| bin.count > 0) {
        writeln!(
            out,
            "  {:.1} to {:.1}: {:6} moments, stated {:.3}, right {:.3}",
            bin.from,
            bin.from + 0.1,
            bin.count,
            bin.stated,
            bin.correct
        )?;
    }
    Ok(())
}

fn table(title: &str, rows: &[Row], page: &mut Page) -> Result<(), Failure> {
    let out = page.out();
    writeln!(out, "\n{BOLD}{title}{BOLD:#}")?;
    writeln!(
        out,
        "{DIM}{:36}{:>6}{:>7}{:>7}{:>6}{:>8}  over rivals{DIM:#}",
        "", "jobs", "right", "wrong", "none", "min"
    )?;
    for row in rows {
        let ratios: String = row.ratios.iter().map(|ratio| format!(" {ratio:.2}")).collect();
        let name: String = row.name.chars().take(36).collect();
        writeln!(
            out,
            "{name:36}{:6}{:7}{:7}{:6}{:8.1} {ratios}",
            row.jobs, row.right, row.wrong, row.no_verdict, row.minutes
        )?;
    }
    Ok(())
}

/// One job in full.
fn in_full(machine: &Machine, job: &Job, page: &mut Page) -> Result<(), Failure> {
    let planting = &job.planting;
    let out = page.out();
    writeln!(out, "{BOLD}{}, job {}{BOLD:#}", machine.sheet.id, planting.seed)?;
    for (fault, severity) in &planting.faults {
        let severity =
            fault.dimension.map_or_else(String::new, |dimension| format!(" at {}", show(*severity, dimension)));
        writeln!(out, "planted: {}{severity}", fault.name)?;
    }
    let holds = if planting.complaint_holds { "" } else { ", which is not what happens" };
    writeln!(out, "the owner says: {}{holds}", planting.complaint)?;
    writeln!(out, "air: {}, read as {}", planting.air, planting.air_read)?;
    for run in &job.runs {
        worked(run, page)?;
    }
    Ok(())
}

fn worked(run: &Run, page: &mut Page) -> Result<(), Failure> {
    let out = page.out();
    writeln!(out, "\n{BOLD}{}{BOLD:#}", run.technician.name())?;
    for (index, step) in run.steps.iter().enumerate() {
        if let Some(first) = run.first.as_ref().filter(|first| first.after == index) {
            say_first(first, out)?;
        }
        if !step.odds.is_empty() && run.technician == Technician::Method {
            let odds: Vec<String> =
                step.odds.iter().map(|(fault, share)| format!("{fault} {:.0} %", share * 100.0)).collect();
            writeln!(out, "{DIM}       {}{DIM:#}", wrapped(&odds.join(", "), WIDTH - 7))?;
        }
        let slip = step.should_be.as_ref().map_or_else(String::new, |right| {
            format!("   [{}; should be {right}]", step.slip.map_or("misheard or misleading", Slip::name))
        });
        let check = if step.check { "check: " } else { "" };
        let away = if step.away { "   [fault away]" } else { "" };
        let minutes = words::minutes(step.minutes);
        writeln!(out, "  {:>2}. {check}{} = {}   ({minutes}){slip}{away}", index + 1, step.name, step.value)?;
    }
    if let Some(first) = run.first.as_ref().filter(|first| first.after >= run.steps.len()) {
        say_first(first, out)?;
    }
    if let Some(stop) = run.stop {
        writeln!(out, "  stopped: {}", stop.name())?;
    }
    let ending = match run.ending {
        Ending::Proven { right: true } => "proven",
        Ending::Proven { right: false } => "proven, and wrong",
        Ending::Fixed => "fixed, not proven",
        Ending::Unfixed => "handed on",
    };
    Ok(writeln!(out, "  {ending} after {:.1} min", run.minutes)?)
}

fn say_first(first: &diagnosis::trial::First, out: &mut impl Write) -> std::io::Result<()> {
    let right = if first.right { "right" } else { "WRONG" };
    writeln!(out, "  verdict: {} at {:.3} ({right})", first.faults.join(" or "), first.probability)
}
