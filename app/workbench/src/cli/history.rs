//! `history`: a machine's readings over the years, and when they cross what is healthy.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;
use journal::{Journal, Place};
use machine::Machine;
use quantity::show;

use super::Ending;
use super::failure::{Failure, Kind};
use super::findings::usable;
use super::print::{BOLD, DIM, Page, WIDTH, wrapped};
use super::say;
use crate::shop::history::{self, Series, a_year};
use crate::shop::sheets::{self, OpenSheet};
use crate::shop::{advice, journals, written};

/// Show how a machine's readings drift over the years, and when they cross a limit
///
/// Every number that the journal has of a machine, probe by probe: rest
/// voltage, inner resistance, drops along the path, clearance of the bushing,
/// leaks. Through the readings since the latest repair that the probe shows a
/// straight line is laid in which a gross error pulls little; it tells the
/// change a year and the dates between which a limit is crossed, in four cases
/// of five. Fewer than five readings on separate days have no line. Readings
/// in the cold or the heat are compared at 20 C, by what the sheet's machine
/// shows healthy at both temperatures.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct History {
    /// The machine's sheet, or its name in the journal
    #[arg(value_name = "MACHINE|SHEET")]
    machine: PathBuf,
    /// The journal, a file or postgres://USER@HOST/DATABASE; your own when left out
    #[arg(long, value_name = "PLACE", env = journals::VARIABLE, hide_env_values = true)]
    journal: Option<Place>,
    /// Only this probe, with all its readings; `inner-resistance` is the battery's
    #[arg(long, value_name = "NAME")]
    probe: Option<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
    /// Draw the plot of the probe into this SVG file
    #[arg(long, value_name = "FILE", requires = "probe")]
    plot: Option<PathBuf>,
}

const EXAMPLES: &str = "\
Examples:
  probewright history curlew
  probewright history curlew.toml --journal bench.db
  probewright history curlew --probe volts@rest:battery.plus,battery.minus
  probewright history curlew --probe inner-resistance --plot battery.svg
  probewright history curlew --json

Where limits come from: the edge of what healthy machines show, as `expect`
prints it; for a bushing what the worksheet `wear` calls worn; for the inner
resistance twice a new one's, as in the worksheet `battery`.";

impl History {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let journal = journals::open(self.journal.as_ref())?;
        let (machine, text) = machine_and_text(&self.machine, &journal, page)?;
        let id = machine.sheet.id.clone();
        let jobs = history::jobs(&journal, &id)?;
        let desk = (!jobs.is_empty()).then(|| advice::desk(machine.clone(), &text));
        let mut healthy = |probe: &machine::Probe, air| {
            let desk = desk.as_ref()?;
            Some(desk.band(desk.atlas().column_of(probe)?, air))
        };
        let today = history::today();
        let told = history::history(&machine, &jobs, today, self.probe.as_deref(), &mut healthy);
        if let (Some(name), true) = (&self.probe, told.series.is_empty()) {
            let failure = Failure::new(Kind::Usage, format!("no reading of `{name}` is in the journal for `{id}`"));
            return Err(failure.hint(format!("probewright history {id} lists what was read")));
        }
        if let (Some(path), [series]) = (&self.plot, told.series.as_slice()) {
            let text = history::svg(series, today, (720, 420)).map_err(|error| Failure::new(Kind::Internal, error))?;
            written::keep(path, &text).map_err(|error| {
                Failure::new(Kind::CannotCreate, format!("{} cannot be written: {error}", path.display()))
            })?;
        }
        if self.json {
            page.json(&told)?;
        } else if self.probe.is_some() {
            told.series.iter().try_for_each(|series| whole(series, today, page))?;
        } else {
            all(&told, page)?;
        }
        if let (Some(path), false) = (&self.plot, self.json) {
            page.remark(&format!("the plot is in {}", path.display()));
        }
        Ok(Ending::Done)
    }
}

/// The machine of a sheet, or of the sheet that its latest job was begun with.
pub(super) fn machine_and_text(asked: &Path, journal: &Journal, page: &mut Page) -> Result<(Machine, String), Failure> {
    let named = asked.to_str().filter(|name| !name.contains(['/', '.']) && !asked.exists());
    let sheet = match named {
        None => sheets::open(asked).map_err(|error| Failure::opening(asked, error))?,
        Some(name) => {
            let latest = journal.jobs(Some(name), 1)?;
            let Some(latest) = latest.first() else {
                let failure =
                    Failure::new(Kind::NoInput, format!("no job of a machine called `{name}` is in the journal"));
                return Err(failure.hint("give its sheet, or a name that `probewright job list` shows"));
            };
            let text = journal.sheet(journal.job(&latest.id)?.sheet())?.unwrap_or_default();
            let read = machine::sheet::read(&text);
            let path = format!("{name}, as its latest job has it");
            OpenSheet { path, text, findings: read.findings, sheet: read.sheet }
        }
    };
    let text = sheet.text.clone();
    Ok((usable(sheet, page)?, text))
}

/// One line a series, then what those with a line say.
fn all(told: &history::History, page: &mut Page) -> Result<(), Failure> {
    writeln!(page.out(), "{BOLD}{}{BOLD:#}", wrapped(&format!("{}: over {} jobs", told.title, told.jobs), WIDTH))?;
    if told.series.is_empty() {
        writeln!(page.out(), "No number was read yet.")?;
        return Ok(());
    }
    let (with, without): (Vec<&Series>, Vec<&Series>) =
        told.series.iter().partition(|series| series.forecast.is_some());
    for series in with {
        say::heading(page, &series.title)?;
        say::labeled(page, "name", &series.probe)?;
        say::labeled(page, "says", &series.said)?;
    }
    if !without.is_empty() {
        say::heading(page, "Too few readings for a trend")?;
        for series in without {
            let latest = series.readings.last().map_or("", |taken| taken.shown.as_str());
            let count = series.readings.iter().filter(|taken| taken.current).count();
            writeln!(page.out(), "  {count:>3}  {latest:>10}  {}", series.probe)?;
        }
    }
    Ok(())
}

/// A series with all its readings and its plot.
fn whole(series: &Series, today: f64, page: &mut Page) -> Result<(), Failure> {
    writeln!(page.out(), "{BOLD}{}{BOLD:#}", wrapped(&series.title, WIDTH))?;
    writeln!(page.out(), "{}", wrapped(&series.said, WIDTH))?;
    if let Some(forecast) = &series.forecast {
        let of = |value: f64| show(value, series.dimension);
        say::heading(page, "Forecast")?;
        say::labeled(page, "a year", &a_year(forecast.a_year, series.dimension))?;
        let range = [forecast.a_year_low, forecast.a_year_high].map(|change| a_year(change, series.dimension));
        say::labeled(page, "", &format!("{} to {}, in four cases of five", range[0], range[1]))?;
        say::labeled(page, "next", &format!("{} to {}", of(forecast.next_low), of(forecast.next_high)))?;
        if let Some(limit) = &series.limit {
            say::labeled(page, "limit", &format!("{}, {}", of(limit.value), limit.source))?;
        }
    }
    say::heading(page, "Readings")?;
    writeln!(page.out(), "{DIM}  {:<10}  {:>12}  {:>7}  {:>12}  job{DIM:#}", "day", "read", "air", "at 20 °C")?;
    for taken in &series.readings {
        for repair in
            series.repairs.iter().filter(|repair| repair.at.as_str() > before(series, taken) && repair.at <= taken.at)
        {
            writeln!(
                page.out(),
                "{DIM}  {}{DIM:#}",
                wrapped(&format!("-- {} ({})", repair.remedy, repair.job), WIDTH - 2)
            )?;
        }
        let air = taken.air_c.map_or_else(|| "?".to_owned(), |air| format!("{air:.0} °C"));
        let at_20 = if taken.air_c.is_some() { show(taken.compared, series.dimension) } else { String::new() };
        let day = taken.at.get(..10).unwrap_or(&taken.at);
        writeln!(page.out(), "  {day:<10}  {:>12}  {air:>7}  {at_20:>12}  {}", taken.shown, taken.job)?;
    }
    let (dots, legend) = history::dots(series, today);
    say::heading(page, "Over the years")?;
    write!(page.out(), "{dots}")?;
    writeln!(page.out(), "  {}", wrapped(&legend, WIDTH - 2).replace('\n', "\n  "))?;
    Ok(())
}

/// When the reading before was taken.
fn before<'a>(series: &'a Series, taken: &history::Taken) -> &'a str {
    let index = series.readings.iter().position(|other| std::ptr::eq(other, taken)).unwrap_or(0);
    index.checked_sub(1).map_or("", |before| series.readings[before].at.as_str())
}
