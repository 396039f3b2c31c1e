//! `practice`: a machine with a planted fault and a virtual meter, worked at a prompt.
//! Here only wording and printing; what is done, and what it costs, is `shop::practice`.

mod outcome;

use std::io::Write;
use std::path::PathBuf;
use std::thread::JoinHandle;
use std::time::{SystemTime, UNIX_EPOCH};

use clap::Args;
use diagnosis::advice::{Advice, Stop};
use diagnosis::trial::{Price, Trial};
use machine::Machine;
use quantity::{Dimension, show};

use super::Ending;
use super::failure::{Failure, Kind};
use super::findings;
use super::input::Input;
use super::print::{BOLD, DIM, Page, WIDTH, wrapped};
use super::say;
use crate::shop::practice::line::{Line, List};
use crate::shop::practice::{
    self, Act, HINT_MINUTES, Kept, Mended, NULL_MINUTES, ODDS_MINUTES, Settings, Shown, Told, bench,
};
use crate::shop::words::{self, minutes};
use crate::shop::{probes, sheets};

/// Look for a planted fault with a virtual meter
///
/// You get a machine that somebody has brought, what its owner says, and a
/// meter: put its leads where you like, work key and button, look, listen, do
/// remedies. Everything takes the minutes that it takes at a real machine. At
/// the end they stand beside those of the best plan and of a fixed list of
/// checks on the very same machine.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Practice {
    /// The machine's sheet
    sheet: PathBuf,
    /// The same number plants the same fault again; taken from the clock when left out
    #[arg(long, value_name = "NUMBER")]
    seed: Option<u64>,
    /// Plant this fault: PART:MODE or PART:MODE=SEVERITY; drawn by the odds when left out
    #[arg(long, value_name = "PART:MODE[=SEVERITY]")]
    fault: Option<String>,
    /// Draw a fault that makes its owner say this, as in cranks-slowly
    ///
    /// comes-and-goes draws a bad contact that is there at one look and away
    /// at the next. With --fault, it is what the owner says.
    #[arg(long, value_name = "NAME")]
    complaint: Option<String>,
    /// Air temperature, as in -5C; drawn when left out
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    air: Option<String>,
    /// Go on with a session, or look at it again: a file whose last line is what --json printed
    #[arg(long, value_name = "FILE", conflicts_with_all = ["seed", "fault", "complaint", "air"])]
    replay: Option<PathBuf>,
    /// Say at once what was planted
    #[arg(long)]
    reveal: bool,
    /// Print the whole session as one line of JSON at the end
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
At the prompt:
  red NODE, black NODE      put the leads on two points
  volts, ohms, low-z, diode, lamp, amps, clamp
                            take an instrument, or turn the meter's dial
  in PART                   the ammeter in its place, the clamp round it
  key on, press start-button, release start-button
                            work the controls; `state held` does all at once
  read                      read the meter
  volts@held:starter.plus,battery.minus
                            all of that in one line; listen@held:starter-relay,
                            look@rest:main-fuse and other probes too
  remedy replace@motor-cable
                            mend something, then try to start
  points, probes, controls, states, remedies, faults
                            what there is (`points cable`: with cable in it)
  hint, odds                the next probe with its reason; the odds
  help                      all of this and more

Examples:
  probewright practice curlew.toml
  probewright practice curlew.toml --seed 17
  probewright practice curlew.toml --complaint cranks-slowly --air 5C
  probewright practice curlew.toml --fault motor-cable:corroded=30mohm --json

Exit codes: 0 found, mended and proven; 1 given up, or mended without a proof.";

/// Columns of names in lists; where one is longer, each name has a line of its own.
const NAMES: usize = 34;
/// Columns of what minutes went into.
const SPLIT: usize = 20;

impl Practice {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let sheet = sheets::open(&self.sheet).map_err(|error| Failure::opening(&self.sheet, error))?;
        let text = sheet.text.clone();
        let machine = findings::usable(sheet, page)?;
        let practice = self.practice(&machine)?;
        let table = std::thread::spawn(move || bench(machine, &text));
        let mut session = Session { page, input: Input::new(), practice, table: Some(table), bench: None };
        session.opening(self.reveal)?;
        if session.work()? { session.end(self.json) } else { session.left(self.json) }
    }
}

impl Practice {
    fn practice(&self, machine: &Machine) -> Result<practice::Practice, Failure> {
        if let Some(path) = &self.replay {
            let lines = sheets::lines(path).map_err(|error| Failure::opening(path, error))?;
            let text = std::io::read_to_string(lines)?;
            return Ok(practice::Practice::replay(machine.clone(), &Kept::read(&text)?)?);
        }
        let settings = Settings {
            seed: self.seed.unwrap_or_else(from_the_clock),
            fault: self.fault.clone(),
            complaint: self.complaint.clone(),
            air: self.air.clone(),
        };
        Ok(practice::Practice::begin(machine.clone(), settings)?)
    }
}

/// Small enough to be typed again.
fn from_the_clock() -> u64 {
    let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    now.as_millis() as u64 % 1_000_000
}

struct Session<'a> {
    page: &'a mut Page,
    input: Input,
    practice: practice::Practice,
    /// Computed while the learner reads.
    table: Option<JoinHandle<Trial>>,
    bench: Option<Trial>,
}

impl Session<'_> {
    fn opening(&mut self, reveal: bool) -> Result<(), Failure> {
        let seed = self.practice.case().seed;
        say::heading(self.page, &self.practice.machine().sheet.title.clone())?;
        self.owner()?;
        say::labeled(self.page, "seed", &format!("{seed} (`--seed {seed}` plants the same again)"))?;
        if reveal {
            let case = self.practice.case();
            let text = format!("{} ({})", case.fault.title, case.planted());
            say::labeled(self.page, "planted", &text)?;
        }
        let hints = format!("a hint takes {}, the odds {}", minutes(HINT_MINUTES), minutes(ODDS_MINUTES));
        let text = format!(
            "Everything is off, every cover is on, the clock is at 0. Find the cause and mend it in as few minutes as \
             you can; {hints}. Type help."
        );
        say::paragraph(self.page, &format!("\n{text}"))?;
        Ok(())
    }

    fn owner(&mut self) -> Result<(), Failure> {
        let case = self.practice.case();
        let (said, air) = (case.complaint.title, case.air.0);
        say::labeled(self.page, "owner", &format!("\"{said}\""))?;
        say::labeled(self.page, "air", &show(air, Dimension::Temperature))?;
        Ok(())
    }

    /// Takes lines until the session is over; false when it is left before.
    fn work(&mut self) -> Result<bool, Failure> {
        while !self.practice.is_over() {
            let Some(text) = self.input.line(self.page, "> ")? else {
                self.practice.act(Act::GiveUp)?;
                break;
            };
            if text.is_empty() {
                continue;
            }
            match self.line(&text) {
                Ok(true) => {}
                Ok(false) => return Ok(false),
                Err(failure) if matches!(failure.kind, Kind::Usage | Kind::BadData) => self.page.fail(&failure),
                Err(failure) => return Err(failure),
            }
        }
        Ok(true)
    }

    /// One line; false when it leaves the session.
    fn line(&mut self, text: &str) -> Result<bool, Failure> {
        match Line::read(text, self.practice.stand())? {
            Line::Leave => return Ok(false),
            Line::List(list, filter) => self.list(list, &filter)?,
            Line::Act(act) => self.act(act)?,
        }
        Ok(true)
    }

    fn act(&mut self, act: Act) -> Result<(), Failure> {
        match act {
            Act::Hint => {
                self.await_bench()?;
                let Self { practice, bench: Some(bench), .. } = self else { return Err(no_bench()) };
                let advice = practice.hint(bench)?;
                self.hinted(&advice)?;
                self.clock(HINT_MINUTES)
            }
            Act::Odds => {
                self.await_bench()?;
                let Self { practice, bench: Some(bench), .. } = self else { return Err(no_bench()) };
                let advice = practice.odds(bench)?;
                say::suspects(self.page, &advice, 8)?;
                self.clock(ODDS_MINUTES)
            }
            act => {
                let nulls = act == Act::Null;
                match self.practice.act(act.clone())? {
                    Told::Set(along) => self.stands(&act, &along),
                    Told::Shown(shown) => self.shown(&shown, nulls),
                    Told::Mended(mended) => self.mended(&mended),
                    Told::Named(remedy) => {
                        let text = format!(
                            "Kept; whether it is right is told at the end. `remedy {remedy}` mends it, and the repair \
                             check proves it."
                        );
                        Ok(say::paragraph(self.page, &text)?)
                    }
                    Told::Passed => Ok(()),
                }
            }
        }
    }

    /// The table has been in the making since the session began.
    fn await_bench(&mut self) -> Result<(), Failure> {
        if let Some(table) = self.table.take() {
            self.bench = table.join().ok();
        }
        if self.bench.is_some() { Ok(()) } else { Err(no_bench()) }
    }

    /// Where leads, dial and controls are now; with what to mind when the controls have been moved.
    fn stands(&mut self, act: &Act, along: &[String]) -> Result<(), Failure> {
        let hand = self.practice.hand().clone();
        let on = |node: &Option<String>| node.clone().unwrap_or_else(|| "nowhere".to_owned());
        if !matches!(act, Act::State { .. } | Act::Operate { .. }) {
            let leads = match &hand.around {
                Some(part) => format!("in {part}"),
                None => format!("red {}, black {}", on(&hand.red), on(&hand.black)),
            };
            return Ok(say::paragraph(self.page, &format!("{}: {leads}; {}", hand.mode.name(), hand.state))?);
        }
        let state = self.practice.machine().state(&hand.state).map(|state| state.title).unwrap_or_default();
        let along = if along.is_empty() { String::new() } else { format!("; moved with it: {}", along.join(", ")) };
        say::paragraph(self.page, &format!("{}: {state}{along}", hand.state))?;
        let caution = self.practice.caution();
        if !caution.is_empty() {
            say::labeled(self.page, "mind", &caution)?;
        }
        Ok(())
    }

    fn shown(&mut self, shown: &Shown, nulls: bool) -> Result<(), Failure> {
        let Some(probe) = &shown.probe else {
            let text = match shown.read.probe.as_str() {
                "safe:battery-off" => "The battery's negative lead is off and tucked away.".to_owned(),
                "meter:amps" => format!("lamp and meter in series across the battery: {}", shown.read.display),
                _ if nulls => format!("tips together: {}; taken off from now on", shown.read.display),
                _ => format!("tips together: {}", shown.read.display),
            };
            say::paragraph(self.page, &text)?;
            return self.clock(shown.price.minutes());
        };
        let hazard = probes::hazard(self.practice.machine(), probe);
        say::paragraph(self.page, &probe.title.clone())?;
        if !hazard.is_empty() {
            say::labeled(self.page, "mind", &hazard)?;
        }
        let mut text = format!("{BOLD}{}{BOLD:#}", shown.read.display);
        if !shown.read.positions.is_empty() {
            text += ", chattering";
        }
        if let Some(other) = &shown.flickers_to {
            text += &format!(", and for moments {other}");
        }
        if shown.read.floating {
            text += " (a lead is on a point with no path of its own)";
        }
        say::labeled(self.page, "shows", &text)?;
        if shown.read.live {
            let text = "the circuit is alive, an ohmmeter reads nonsense there; lift the battery (`state dead`)";
            say::labeled(self.page, "beware", text)?;
        }
        if shown.read.overload && shown.read.unit == "A" {
            let text = "beyond 10 A a real meter's fuse would have opened; take the clamp";
            say::labeled(self.page, "beware", text)?;
        }
        say::labeled(self.page, "time", &spent(&shown.price, self.practice.minutes().total()))?;
        Ok(())
    }

    fn mended(&mut self, mended: &Mended) -> Result<(), Failure> {
        say::paragraph(self.page, &mended.cure.title.clone())?;
        if !mended.cure.caution.is_empty() {
            say::labeled(self.page, "mind", &mended.cure.caution)?;
        }
        let waits = mended.cure.elapsed > mended.cure.minutes + 0.5;
        let waits = if waits { format!("; done after {}", minutes(mended.cure.elapsed)) } else { String::new() };
        let total = self.practice.minutes().total();
        let said = self.practice.case().complaint.title;
        let text = match (mended.fixed, mended.blew_again) {
            (true, _) => "tried: the complaint is gone".to_owned(),
            (_, true) => format!("the new one blows as soon as it is tried: \"{said}\""),
            _ => format!("tried: as before, \"{said}\""),
        };
        say::labeled(self.page, "shows", &text)?;
        say::labeled(self.page, "time", &format!("{}{waits}", spent(&mended.price, total)))?;
        Ok(())
    }

    fn hinted(&mut self, advice: &Advice) -> Result<(), Failure> {
        let machine = self.practice.machine();
        let settled = advice.verdict.as_ref().filter(|verdict| verdict.settled);
        match (settled, advice.next.first(), advice.stop) {
            (Some(verdict), _, _) => {
                say::verdict(self.page, machine, advice, verdict)?;
                say::labeled(self.page, "type", &format!("remedy {}", verdict.remedy.trim_start_matches("try:")))?;
            }
            (None, Some(step), _) => {
                say::step(self.page, machine, step)?;
                say::suspects(self.page, advice, 3)?;
            }
            (None, None, Some(Stop::NoneOfThese)) => {
                let text = "No fault in the catalogue explains what was read so far.";
                say::paragraph(self.page, text)?;
            }
            (None, None, _) => {
                say::paragraph(self.page, "No probe is worth its minutes any more; the likeliest:")?;
                say::suspects(self.page, advice, 5)?;
            }
        }
        Ok(())
    }

    fn clock(&mut self, took: f64) -> Result<(), Failure> {
        let price = Price { own: took, ..Price::default() };
        let text = spent(&price, self.practice.minutes().total());
        Ok(say::labeled(self.page, "time", &text)?)
    }

    fn list(&mut self, list: List, filter: &str) -> Result<(), Failure> {
        let practice = &self.practice;
        let costs = |text: &str, price: f64| format!("{text} ({})", minutes(price));
        let rows: Vec<(String, String)> = match list {
            List::Help => return Ok(say::paragraph_lines(self.page, &help())?),
            List::Owner => return self.owner(),
            List::Clock => {
                let spent = practice.minutes();
                return split(self.page, &spent);
            }
            List::Points => {
                let row = |point: practice::lists::Point| {
                    let access =
                        if point.access > 0.0 { format!(", {}", minutes(point.access)) } else { String::new() };
                    let pin = if point.pin.is_empty() { String::new() } else { format!(" ({})", point.pin) };
                    (point.name, format!("{}{pin}; {}{access}", point.title, point.place))
                };
                practice.points(filter).into_iter().map(row).collect()
            }
            List::Probes => {
                let row = |(probe, price): (machine::Probe, f64)| (probe.name.clone(), costs(&probe.title, price));
                practice.probes(filter).into_iter().map(row).collect()
            }
            List::Remedies => {
                let row = |(cure, price): (practice::Cure, f64)| (cure.name.clone(), costs(&cure.title, price));
                practice.remedies(filter).into_iter().map(row).collect()
            }
            List::Faults => practice.faults(filter),
            List::States => practice.states(),
            List::Controls => {
                let controls = practice.machine().sheet.controls.iter();
                controls.map(|control| (control.name.name.clone(), control.positions.join(", "))).collect()
            }
            List::Notes => {
                let noted = practice.notes().iter().filter_map(|noted| {
                    Some((noted.reading.clone()?, format!("{} ({})", noted.shown.clone()?, minutes(noted.minutes))))
                });
                noted.collect()
            }
        };
        if rows.is_empty() {
            let none = if list == List::Notes { "Nothing has been read yet." } else { "Nothing has that in its name." };
            return Ok(say::paragraph(self.page, none)?);
        }
        let longest = rows.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0);
        for (name, text) in rows {
            row(self.page, longest.min(NAMES), &name, &text)?;
        }
        Ok(())
    }

    fn end(mut self, json: bool) -> Result<Ending, Failure> {
        self.await_bench()?;
        if self.practice.is_mended() {
            self.repair_check()?;
        }
        let Self { practice, bench: Some(bench), page, .. } = &mut self else { return Err(no_bench()) };
        let report = practice.result(bench)?;
        outcome::told(page, &report)?;
        if json {
            page.json(&report)?;
        }
        Ok(if report.ending == "proven" { Ending::Done } else { Ending::No })
    }

    fn left(self, json: bool) -> Result<Ending, Failure> {
        if json {
            say::paragraph(self.page, "Left; `--replay` goes on with what follows.")?;
            self.page.json(&self.practice.kept())?;
        } else {
            say::paragraph(self.page, "Left; without --json nothing is kept.")?;
        }
        Ok(Ending::No)
    }

    fn repair_check(&mut self) -> Result<(), Failure> {
        let Self { practice, bench: Some(bench), page, .. } = self else { return Err(no_bench()) };
        let checked = practice.repair_check(bench)?;
        say::heading(page, "Repair check")?;
        for one in &checked {
            let passed = if one.passed { "" } else { ", which it must not" };
            let text = format!("{}; shows {}{passed}", words::check_line(practice.machine(), &one.check), one.shown);
            writeln!(page.out(), "  {}", wrapped(&text, WIDTH - 2).replace('\n', "\n  "))?;
        }
        Ok(())
    }
}

fn split(page: &mut Page, spent: &practice::Minutes) -> Result<(), Failure> {
    for (what, took) in spent.split().into_iter().filter(|(_, took)| *took > 0.0) {
        row(page, SPLIT, what, &format!("{took:6.1} min"))?;
    }
    row(page, SPLIT, "in all", &format!("{:6.1} min", spent.total()))
}

/// A name and what is said of it; a name that is too long has a line of its own.
fn row(page: &mut Page, width: usize, name: &str, text: &str) -> Result<(), Failure> {
    let alone = width == NAMES;
    let column = if alone { 6 } else { width + 4 };
    let indent = format!("\n{:column$}", "");
    let text = wrapped(text, WIDTH - column).replace("\n  ", &indent);
    if alone {
        return Ok(writeln!(page.out(), "  {name}\n      {DIM}{text}{DIM:#}")?);
    }
    Ok(writeln!(page.out(), "  {name:width$}  {DIM}{text}{DIM:#}")?)
}

/// What something took, and the clock.
fn spent(price: &Price, total: f64) -> String {
    let mut parts = Vec::new();
    if price.access > 0.0 {
        parts.push(format!("access {}", minutes(price.access)));
    }
    if price.lift > 0.0 {
        parts.push(format!("battery lead {}", minutes(price.lift)));
    }
    let of = if parts.is_empty() { String::new() } else { format!(" ({} of it)", parts.join(", ")) };
    format!("{}{of}; the clock is at {total:.1} min", minutes(price.minutes()))
}

fn help() -> String {
    let first = EXAMPLES.split("\n\nExamples:").next().unwrap_or_default();
    format!(
        "{first}
  null                      tips together ({}), taken off the ohms from then on
  ask:since                 ask the owner what happened since it last worked
  name PART:MODE            say what the cause is; judged at the end
  owner, notes, clock       what the owner said, what was read, minutes so far
  give-up                   end it, and see what it was
  quit                      leave it; with --json, `--replay` goes on

Moving leads and working controls costs nothing; reading does: the probe, the
covers on the way to it (each once), the battery's lead off and on. A hint
takes {}, the odds {}. A button is held only while the meter is read: at
most 5 s, then 30 s rest, which pass while the leads are moved.
`probewright expect SHEET` prints what a healthy machine shows.",
        minutes(NULL_MINUTES),
        minutes(HINT_MINUTES),
        minutes(ODDS_MINUTES)
    )
}

fn no_bench() -> Failure {
    Failure::new(Kind::Internal, "the table of readings could not be computed")
}
