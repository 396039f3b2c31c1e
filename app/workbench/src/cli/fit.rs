//! `fit`: the sheet's own values from readings of a healthy machine.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use diagnosis::fit::{Fit as Answer, Fitted, Unfit, fit};
use quantity::show;

use super::Ending;
use super::failure::{Failure, Kind};
use super::findings::usable;
use super::print::{DIM, Page, WIDTH, wrapped};
use super::say;
use crate::shop::advice::air;
use crate::shop::fit::{SEEN, Told, as_seen, keep, listed, readings, rewritten};
use crate::shop::sheets;
use crate::shop::written::Unwritten;

/// Fit a sheet's own values to readings of a healthy machine
///
/// A sheet is written from data plates and estimates. Before a machine is
/// blamed, see whether its sheet is right: take readings while it is healthy,
/// and the values that they can see (charge, resistances, motor constant,
/// friction, loads) are turned until the computed machine shows what was read.
/// Each value starts from the sheet's, give or take a factor of 1.5, so what
/// no reading sees stays as it is.
///
/// For each value: what the sheet says, what it comes to with one sigma, and
/// how much of that the readings say. A value more than 3 sigma off is flagged:
/// the sheet is wrong there, or the machine is not healthy. A reading that no
/// value explains is named: read it again.
///
/// Good readings to take: battery volts at rest and while cranking, each drop
/// along the motor's path while cranking, clamp amps at the same time, ohms of
/// the relay's coil. Neutral, wheel off the ground, hands clear; at most 5 s of
/// cranking, then 30 s rest.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Fit {
    /// The sheet; `-` reads standard input
    sheet: PathBuf,
    /// A probe with its value (repeatable, in any order)
    #[arg(long = "reading", value_name = "NAME=VALUE")]
    readings: Vec<String>,
    /// A file of lines NAME = VALUE; `#` begins a remark
    #[arg(long = "readings", value_name = "FILE")]
    file: Option<PathBuf>,
    /// Air temperature when they were taken, as in -5C
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    air: Option<String>,
    /// Write the sheet with the fitted values here, comments kept
    #[arg(long, value_name = "FILE")]
    write: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright fit curlew.toml \\
    --reading 'volts@rest:battery.plus,battery.minus=13.1 V' \\
    --reading 'volts@held:battery.plus,battery.minus=10.1 V' \\
    --reading 'clamp@held:motor-cable=88 A'
  probewright fit curlew.toml --readings healthy.txt --air 12C
  probewright fit curlew.toml --readings healthy.txt --write curlew-mine.toml";

impl Fit {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let sheet = sheets::open(&self.sheet).map_err(|error| Failure::opening(&self.sheet, error))?;
        let text = sheet.text.clone();
        let machine = usable(sheet, page)?;
        let air = self.air.as_deref().map(air).transpose()?;
        let mut given = self.readings.clone();
        if let Some(file) = &self.file {
            given.extend(listed(file).map_err(|error| Failure::opening(file, error))?);
        }
        let readings = readings(&machine, &given)?;
        let answer = fit(&machine, &readings, air).map_err(unfit)?;
        if let Some(path) = &self.write {
            let written = rewritten(&machine, &text, &answer).and_then(|text| keep(path, &text));
            written.map_err(unwritten)?;
        }
        if self.json {
            page.json(&Told::new(&machine, air.map(|air| air.0), &answer))?;
        } else {
            say::heading(page, &machine.sheet.title)?;
            print(&answer, page)?;
            if let Some(path) = &self.write {
                say::heading(page, &format!("Written with the values that the readings see: {}", path.display()))?;
            }
        }
        Ok(Ending::Done)
    }
}

fn unfit(error: Unfit) -> Failure {
    match error {
        Unfit::NoNumber => Failure::new(Kind::Usage, error)
            .hint("give a number as in --reading 'volts@rest:battery.plus,battery.minus=12.6 V'")
            .hint("`probewright probes SHEET` lists what can be read"),
        Unfit::Unsolvable => Failure::new(Kind::BadData, error),
    }
}

fn unwritten(error: Unwritten) -> Failure {
    match error {
        Unwritten::Text(_) | Unwritten::Unsound(_) => Failure::new(Kind::BadData, error),
        Unwritten::Disk { .. } => Failure::new(Kind::CannotCreate, error),
    }
}

fn print(answer: &Answer, page: &mut Page) -> Result<(), Failure> {
    let count = answer.readings.len();
    let from =
        format!("{count} readings lie {:.2} sigma from the sheet, {:.2} when fitted", answer.before, answer.after);
    say::labeled(page, "fit", &from)?;
    if !answer.settled {
        say::labeled(page, "mind", "the search did not come to rest; take the values with care")?;
    }
    let apart: Vec<&Fitted> = answer.values.iter().filter(|value| value.is_apart()).collect();
    if !apart.is_empty() {
        say::heading(page, "The sheet is wrong, or the machine is not healthy")?;
    }
    for value in apart {
        let (sheet, fitted) = (show(value.sheet, value.dimension), show(value.fitted, value.dimension));
        let text =
            format!("{}: the sheet says {sheet}, the machine {fitted}: {:.1} sigma apart", value.name, value.apart);
        writeln!(page.out(), "  {}", wrapped(&text, WIDTH - 2))?;
    }
    let seen: Vec<&Fitted> = answer.values.iter().filter(|value| value.information >= SEEN).collect();
    say::heading(page, "Values that the readings see")?;
    let labels: Vec<String> = seen.iter().map(|value| label(value)).collect();
    let width = labels.iter().map(|label| label.chars().count()).max().unwrap_or(0).clamp(5, 34);
    let heads = format!("{:>10}  {:>10}  {:>10}  readings", "sheet", "fitted", "sigma");
    writeln!(page.out(), "{DIM}  {:<width$}  {heads}{DIM:#}", "value")?;
    for (value, label) in seen.iter().zip(&labels) {
        let label = match label.chars().count() {
            count if count > width => format!("{label}\n  {:width$}", ""),
            _ => format!("{label:<width$}"),
        };
        let [sheet, fitted, sigma] = [value.sheet, value.fitted, value.sigma].map(|number| bare(value, number));
        let said = 100.0 * value.information;
        writeln!(page.out(), "  {label}  {sheet:>10}  {fitted:>10}  {sigma:>10}  {said:>6.0} %")?;
    }
    let unseen = answer.values.len() - seen.len();
    if unseen > 0 {
        writeln!(
            page.out(),
            "  {}",
            wrapped(&format!("{unseen} more that they do not see stay as the sheet says"), WIDTH - 2)
        )?;
    }
    say::heading(page, "Readings: as read, by the sheet, fitted")?;
    for one in &answer.readings {
        writeln!(page.out(), "  {}", one.probe.name)?;
        let (read, sheet) = (one.probe.show(&one.reading), as_seen(&one.probe, one.sheet.0));
        let off = |sigma: f64| if sigma.is_finite() { format!("{sigma:+.1}") } else { "differs".to_owned() };
        let note = if one.is_explained() { "" } else { "  no value explains it" };
        let fitted = as_seen(&one.probe, one.fitted.0);
        let (before, after) = (off(one.sheet.1), off(one.fitted.1));
        writeln!(page.out(), "    {read:>11}  {sheet:>11} {before:>7}  {fitted:>11} {after:>7}{note}")?;
    }
    Ok(())
}

/// Units too long for a column, which stand behind the name instead.
fn is_long(value: &Fitted) -> bool {
    value.dimension.symbol().chars().count() > 3
}

fn label(value: &Fitted) -> String {
    if is_long(value) { format!("{} ({})", value.name, value.dimension.symbol()) } else { value.name.clone() }
}

fn bare(value: &Fitted, number: f64) -> String {
    let shown = show(number, value.dimension);
    if is_long(value) { shown.split(' ').next().unwrap_or_default().to_owned() } else { shown }
}
