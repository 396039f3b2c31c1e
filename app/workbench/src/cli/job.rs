//! `job`: what is kept in the journal: listed, shown, carried elsewhere, backed up.

use std::fs::File;
use std::io::{self, BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use diagnosis::trial::Trial;
use journal::attachment::Attachment;
use journal::lines::ExportError;
use journal::{Brief, Entry, Journal, Place, key};
use machine::Machine;
use serde::Serialize;

use super::failure::{Failure, Kind};
use super::print::Page;
use super::work::Work;
use super::{Ending, findings, say};
use crate::shop::job::OpenJob;
use crate::shop::owner::{self, OwnersSheet};
use crate::shop::settings::{self, Settings};
use crate::shop::{bill, journals, sheets, tables, words};

/// List, show, export and back up the jobs of the journal
///
/// Every job that was worked, at the terminal or in the browser, with all its
/// entries. Entries are only ever added; nothing here takes one away.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES, arg_required_else_help = true)]
pub struct Job {
    #[command(subcommand)]
    act: Act,
    /// The journal, a file or postgres://USER@HOST/DATABASE; your own when left out
    #[arg(long, global = true, value_name = "PLACE", env = journals::VARIABLE, hide_env_values = true)]
    journal: Option<Place>,
}

const EXAMPLES: &str = "\
Examples:
  probewright job list
  probewright job show curlew-2026-01-31-1
  probewright job resume curlew-2026-01-31-1
  probewright job photo curlew-2026-01-31-1 plug.jpg --text 'green inside'
  probewright job export --output jobs.jsonl
  probewright job import jobs.jsonl
  probewright job backup /media/stick/journal.db";

#[derive(Debug, Subcommand)]
enum Act {
    /// Begin a job without working it yet; prints its name
    New {
        /// The machine's sheet
        sheet: PathBuf,
        /// The job's name; machine, day and number when left out
        #[arg(long)]
        name: Option<String>,
    },
    /// List jobs, the latest first
    List {
        /// Only those of this machine
        #[arg(long, value_name = "ID")]
        machine: Option<String>,
        /// At most so many
        #[arg(long, default_value_t = 30)]
        most: usize,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Show a job's entries
    Show {
        /// The job's name
        job: String,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Go on with a job at the terminal, with the sheet that it was begun with
    Resume {
        /// The job's name
        job: String,
    },
    /// Add a remark to a job
    Note {
        /// The job's name
        job: String,
        /// The remark
        text: String,
    },
    /// Add a picture to a job: JPEG, PNG, WebP or GIF, at most 12 MB
    Photo {
        /// The job's name
        job: String,
        /// The picture's file
        file: PathBuf,
        /// What it shows
        #[arg(long, default_value = "")]
        text: String,
    },
    /// Take an owner's answers, the line that the page of `owner` makes
    Answers {
        /// The job's name
        job: String,
        /// The line, as in 'pw1 curlew 7f3a 1bkp 2ahx'
        #[arg(required = true)]
        line: Vec<String>,
    },
    /// What a job may come to, before work: expected, and in nine cases of ten at worst
    Quote {
        /// The job's name
        job: String,
        /// The workshop's prices; your own when left out
        #[arg(long, value_name = "FILE", env = settings::VARIABLE, hide_env_values = true)]
        settings: Option<PathBuf>,
        /// Keep it with the job as what the owner was told
        #[arg(long)]
        keep: bool,
        /// Print JSON instead of text
        #[arg(long)]
        json: bool,
    },
    /// Write jobs, with sheets and pictures, as JSON Lines
    Export {
        /// The jobs' names; all when none is given
        jobs: Vec<String>,
        /// Where to; `-` is standard output
        #[arg(long, value_name = "FILE", default_value = "-")]
        output: PathBuf,
    },
    /// Add the jobs of an export that are not there yet
    Import {
        /// The lines; `-` reads standard input
        file: PathBuf,
    },
    /// Copy the whole journal into a new file, while others may go on writing
    Backup {
        /// The new file
        file: PathBuf,
    },
    /// Put a backup in the journal's place; what was there is kept beside it
    Restore {
        /// The backup
        file: PathBuf,
    },
}

impl Job {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        if let Act::Restore { file } = &self.act {
            return restore(page, &journals::place(self.journal.as_ref())?, file);
        }
        let journal = journals::open(self.journal.as_ref())?;
        match &self.act {
            Act::New { sheet, name } => return begin(page, &journal, sheet, name.as_deref()),
            Act::List { machine, most, json } => {
                let jobs = journal.jobs(machine.as_deref(), *most)?;
                match json {
                    true => page.json(&jobs.iter().map(Listed::from).collect::<Vec<_>>())?,
                    false => list(page, &jobs)?,
                }
            }
            Act::Show { job, json } => {
                let job = journal.job(job)?;
                match json {
                    true => job.entries.iter().try_for_each(|kept| page.json(kept))?,
                    false => show(page, &job)?,
                }
            }
            Act::Resume { job } => return resume(page, &journal, job),
            Act::Answers { job, line } => answers(page, &journal, job, &line.join(" "))?,
            Act::Quote { job, settings, keep, json } => {
                return quote(page, &journal, job, settings.as_deref(), (*keep, *json));
            }
            Act::Note { job, text } => {
                journal.record(job, &key(), &Entry::Note { text: text.clone() })?;
            }
            Act::Photo { job, file, text } => {
                let bytes = std::fs::read(file).map_err(|error| Failure::file(file, error))?;
                let picture = Attachment::new(bytes)
                    .map_err(|error| Failure::new(Kind::BadData, format!("{}: {error}", file.display())))?;
                journal.attach(job, &key(), &picture, text)?;
            }
            Act::Export { jobs, output } => export(page, &journal, jobs, output)?,
            Act::Import { file } => import(page, &journal, file)?,
            Act::Backup { file } => {
                journal.backup(file)?;
                page.remark(&format!("written: {}", file.display()));
            }
            Act::Restore { .. } => {}
        }
        Ok(Ending::Done)
    }
}

/// A job of the list, as JSON.
#[derive(Serialize)]
struct Listed<'a> {
    job: &'a str,
    machine: &'a str,
    complaint: Option<&'a str>,
    opened: &'a str,
    latest: &'a str,
    entries: usize,
    closed: bool,
    proven: bool,
    told: &'a [String],
}

impl<'a> From<&'a Brief> for Listed<'a> {
    fn from(brief: &'a Brief) -> Self {
        Self {
            job: &brief.id,
            machine: &brief.machine,
            complaint: brief.complaint.as_deref(),
            opened: &brief.opened,
            latest: &brief.latest,
            entries: brief.entries,
            closed: brief.closed.is_some(),
            proven: brief.closed == Some(true),
            told: &brief.told,
        }
    }
}

fn begin(page: &mut Page, journal: &Journal, path: &Path, name: Option<&str>) -> Result<Ending, Failure> {
    let sheet = sheets::open(path).map_err(|error| Failure::opening(path, error))?;
    let text = sheet.text.clone();
    let machine = findings::usable(sheet, page)?;
    if let Some(name) = name
        && journal.job(name).is_ok()
    {
        return Err(journal::JournalError::Taken { id: name.to_owned() }.into());
    }
    let job = OpenJob::named(journal, name, &machine, &text)?;
    writeln!(page.out(), "{}", job.id)?;
    Ok(Ending::Done)
}

fn list(page: &mut Page, jobs: &[Brief]) -> Result<(), Failure> {
    if jobs.is_empty() {
        page.remark("no jobs yet: `probewright work SHEET` begins one");
    }
    for job in jobs {
        let state = match job.closed {
            None => "open",
            Some(true) => "proven",
            Some(false) => "closed",
        };
        let what = match job.told.first() {
            Some(fault) => fault.as_str(),
            None => job.complaint.as_deref().unwrap_or("-"),
        };
        let (day, _) = words::when(&job.latest);
        writeln!(page.out(), "{:<26} {day}  {state:<7} {:>3}  {what}", job.id, job.entries)?;
    }
    Ok(())
}

fn show(page: &mut Page, job: &journal::Job) -> Result<(), Failure> {
    say::heading(page, &format!("{}, a job of {}", job.id, job.machine))?;
    let standing: Vec<u64> = job.standing().iter().map(|kept| kept.number).collect();
    for kept in &job.entries {
        let taken_back = kept.entry.can_be_undone() && !standing.contains(&kept.number);
        let text = words::entry(&kept.entry) + if taken_back { " (taken back)" } else { "" };
        let (day, time) = words::when(&kept.at);
        say::labeled(page, &kept.number.to_string(), &format!("{day} {time}  {text}"))?;
    }
    Ok(())
}

fn resume(page: &mut Page, journal: &Journal, name: &str) -> Result<Ending, Failure> {
    let job = OpenJob::known(journal, name)?;
    let (machine, text) = begun_with(journal, &job)?;
    let (settings, _) = Settings::open(std::env::var_os(settings::VARIABLE).map(PathBuf::from).as_deref())?;
    Work::default().go_on(page, machine, &text, job, settings)
}

fn answers(page: &mut Page, journal: &Journal, name: &str, line: &str) -> Result<(), Failure> {
    let job = OpenJob::known(journal, name)?;
    let (machine, text) = begun_with(journal, &job)?;
    let entries = OwnersSheet::new(&machine, &tables::fingerprint(&text)).read(line).map_err(Failure::typed)?;
    for entry in &entries {
        journal.record(name, &owner::key(name, entry), entry)?;
        say::paragraph(page, &words::entry(entry))?;
    }
    Ok(())
}

fn quote(
    page: &mut Page,
    journal: &Journal,
    name: &str,
    settings: Option<&Path>,
    (keep, json): (bool, bool),
) -> Result<Ending, Failure> {
    let (settings, _) = Settings::open(settings)?;
    let job = OpenJob::known(journal, name)?;
    let (machine, text) = begun_with(journal, &job)?;
    let table = tables::table(&machine, &text, tables::full(&machine));
    let Some(quote) = bill::quote(&mut Trial::new(machine, table), &settings, &job)? else {
        let failure = Failure::new(Kind::Configuration, "nothing has a price, so nothing can be quoted");
        return Err(failure.hint("`probewright settings --example` prints a file to begin with"));
    };
    match json {
        true => page.json(&quote)?,
        false => say::quote(page, &quote)?,
    }
    if keep {
        let bill::Quote { expected, worst, currency, .. } = quote;
        journal.record(name, &key(), &Entry::Quoted { expected, worst, currency })?;
    }
    Ok(Ending::Done)
}

/// The machine of a job, by the sheet that it was begun with.
fn begun_with(journal: &Journal, job: &OpenJob<'_>) -> Result<(Machine, String), Failure> {
    let text = journal.sheet(job.sheet())?.unwrap_or_default();
    let read = machine::sheet::read(&text);
    let usable = read.findings.iter().all(|found| found.weight != machine::problem::Weight::Problem);
    match read.sheet.filter(|_| usable) {
        Some(sheet) => Ok((Machine::new(sheet), text)),
        None => {
            let failure =
                Failure::new(Kind::BadData, "the sheet that this job was begun with cannot be used by this version");
            let hint = format!("give a sheet of {}: probewright work SHEET --job {}", job.machine, job.id);
            Err(failure.hint(hint))
        }
    }
}

fn export(page: &mut Page, journal: &Journal, jobs: &[String], output: &Path) -> Result<(), Failure> {
    let jobs = match jobs {
        [] => {
            let mut all: Vec<String> = journal.jobs(None, usize::MAX >> 1)?.into_iter().map(|job| job.id).collect();
            all.sort();
            all
        }
        jobs => jobs.to_vec(),
    };
    if sheets::is_standard_input(output) {
        return Ok(journal.export(&jobs, page.out())?);
    }
    let file = File::create_new(output).map_err(|error| Failure::file(output, error))?;
    let mut out = BufWriter::new(file);
    journal.export(&jobs, &mut out)?;
    out.flush()?;
    out.get_ref().sync_all()?;
    page.remark(&format!("written: {} jobs to {}", jobs.len(), output.display()));
    Ok(())
}

fn import(page: &mut Page, journal: &Journal, file: &Path) -> Result<(), Failure> {
    let imported = match sheets::is_standard_input(file) {
        true => journal.import(BufReader::new(io::stdin())),
        false => journal.import(BufReader::new(File::open(file).map_err(|error| Failure::file(file, error))?)),
    }?;
    for job in &imported.jobs {
        writeln!(page.out(), "{job}")?;
    }
    page.remark(&format!("{} entries added, {} were there already", imported.entries, imported.known));
    Ok(())
}

fn restore(page: &mut Page, place: &Place, backup: &Path) -> Result<Ending, Failure> {
    if let Some(aside) = Journal::restore(place, backup)? {
        page.remark(&format!("what was there is kept: {}", aside.display()));
    }
    page.remark(&format!("restored: {place}"));
    Ok(Ending::Done)
}

impl From<ExportError> for Failure {
    fn from(error: ExportError) -> Self {
        match error {
            ExportError::Journal(error) => error.into(),
            ExportError::Write(error) => error.into(),
        }
    }
}
