//! `solve`: every voltage and current of an operating state.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use quantity::{Dimension, show_with};

use super::Ending;
use super::changes::ChangeArguments;
use super::failure::{Failure, Kind};
use super::findings::machine_of;
use super::print::{BOLD, DIM, Page, WIDTH, columns, wrapped};
use crate::shop::answer::{Half, Solved};
use crate::shop::requests;
use crate::shop::sheets;
use crate::shop::stand::{Request, Stand};

/// Compute every voltage and current in an operating state
///
/// Potentials are against the machine's reference, currents run from a part's
/// first terminal to its second. A node without a path to the reference is
/// floating. Relays that pull in and drop out for ever chatter; both positions
/// are shown.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Solve {
    /// The sheet; `-` reads standard input
    sheet: PathBuf,
    /// Operating state; `held` if there is one, else `rest`
    ///
    /// STATE~PART or STATE~PART.PATH is a state with a connector unplugged.
    #[arg(long, value_name = "STATE")]
    state: Option<String>,
    #[command(flatten)]
    changes: ChangeArguments,
    /// Lead resistance that the ohmmeter of a request takes off
    #[arg(long, value_name = "OHMS", requires = "requests")]
    nulled: Option<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
    /// Answer one JSON object a line from FILE (`-`: standard input)
    ///
    /// Fields, all optional: state, faults, set, open, bridge, read, air,
    /// nulled; what a line leaves out is taken from the arguments. Every answer
    /// is one line of JSON, an error too.
    #[arg(long, value_name = "FILE")]
    requests: Option<PathBuf>,
}

const EXAMPLES: &str = r#"Examples:
  probewright solve curlew.toml
  probewright solve curlew.toml --state on --json
  probewright solve curlew.toml --fault motor-cable:corroded=30mohm
  probewright solve curlew.toml --set starter-relay.pull-in=9V --air -5C
  probewright solve curlew.toml --open main-fuse --bridge btn-out,ground=1ohm
  echo '{"state":"held","read":[{"mode":"volts","red":"starter.plus",
    "black":"battery.minus"}]}' | tr -d '\n' |
    probewright solve curlew.toml --requests -"#;

impl Solve {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let request = Request {
            state: self.state.clone(),
            changes: self.changes.changes()?,
            read: Vec::new(),
            nulled: self.nulled.clone(),
        };
        if let Some(path) = &self.requests {
            if sheets::is_standard_input(path) && sheets::is_standard_input(&self.sheet) {
                return Err(Failure::new(Kind::Usage, "sheet and requests cannot both be standard input")
                    .hint("give one of them as a file"));
            }
            let questions = sheets::lines(path).map_err(|error| Failure::opening(path, error))?;
            let mut stand = Stand::new(machine_of(&self.sheet, page)?);
            requests::answer(&mut stand, &request, questions, page.out())?;
            return Ok(Ending::Done);
        }
        let mut stand = Stand::new(machine_of(&self.sheet, page)?);
        let remarks = planted(&stand, &request)?;
        let title = stand.machine.sheet.title.clone();
        let reference = stand.machine.node_name(stand.machine.reference()).to_owned();
        let solved = stand.solve(&request)?;
        if self.json {
            page.json(&solved)?;
        } else {
            print(&solved, &title, &reference, &remarks, page)?;
        }
        Ok(Ending::Done)
    }
}

/// The faults in words, with the severity that was understood.
fn planted(stand: &Stand, request: &Request) -> Result<Vec<String>, Failure> {
    let mut remarks = Vec::new();
    for text in &request.changes.faults {
        let (name, severity) = stand.planted(text)?;
        let fault = stand.fault(name)?;
        let size = match fault.dimension {
            Some(Dimension::Ratio) => format!(" (severity {severity:.3})"),
            Some(dimension) => format!(" ({})", show_with(severity, dimension, 3)),
            None => String::new(),
        };
        remarks.push(format!("fault {name}: {}{size}", fault.title));
    }
    remarks.extend(request.changes.edits_as_given().into_iter().map(|edit| format!("edit {edit}")));
    remarks.extend(request.changes.air.iter().map(|air| format!("air {air}")));
    Ok(remarks)
}

fn print(
    solved: &Solved<'_>,
    title: &str,
    reference: &str,
    remarks: &[String],
    page: &mut Page,
) -> Result<(), Failure> {
    let out = page.out();
    writeln!(out, "{BOLD}{title}{BOLD:#}")?;
    writeln!(out, "state {}: {}", solved.state, solved.outcome)?;
    for remark in remarks {
        writeln!(out, "{}", wrapped(remark, WIDTH))?;
    }
    let halves: Vec<&Half<'_>> = match &solved.positions {
        Some(positions) => positions.iter().map(|position| &position.half).collect(),
        None => vec![&solved.half],
    };
    let both = if halves.len() > 1 { ", released / pulled" } else { "" };
    heading(out, &format!("Potentials against {reference}{both}"))?;
    let rows = rows(
        &halves,
        |half| &half.nodes.0,
        |value| match value {
            Some(volts) => shown(*volts, Dimension::Voltage),
            None => "floating".to_owned(),
        },
    );
    write!(out, "{}", columns(&rows))?;
    heading(out, &format!("Currents, first terminal to second{both}"))?;
    write!(out, "{}", columns(&self::rows(&halves, |half| &half.currents.0, |amps| shown(*amps, Dimension::Current))))?;
    if !solved.half.relays.0.is_empty() {
        heading(out, &format!("Relays{both}"))?;
        write!(out, "{}", columns(&relays(solved, &halves)))?;
    }
    if !solved.half.fuses.0.is_empty() {
        heading(out, "Fuses")?;
        write!(out, "{}", columns(&self::rows(&[&solved.half], |half| &half.fuses.0, |word| (*word).to_owned())))?;
    }
    if !solved.half.motors.0.is_empty() {
        heading(out, &format!("Motors{both}"))?;
        let motor = |shaft: &crate::shop::answer::Shaft| {
            let speed = shown(shaft.speed_rad_s, Dimension::Speed);
            format!(
                "{}  {speed}  {}",
                shown(shaft.current_a, Dimension::Current),
                shown(shaft.torque_nm, Dimension::Torque)
            )
        };
        write!(out, "{}", columns(&self::rows(&halves, |half| &half.motors.0, motor)))?;
        let mesh = if solved.engaged { "in mesh" } else { "not in mesh" };
        writeln!(out, "  {DIM}cranking {:.0} rpm, {mesh}{DIM:#}", solved.cranking_rpm)?;
    }
    if let Some(before) = &solved.before_blow {
        heading(out, "Currents just before the first fuse opened")?;
        let rows: Vec<(String, String)> = before
            .currents
            .0
            .iter()
            .filter(|(_, amps)| amps.abs() >= 0.01)
            .map(|(name, amps)| ((*name).to_owned(), shown(*amps, Dimension::Current)))
            .collect();
        write!(out, "{}", columns(&rows))?;
    }
    Ok(())
}

fn relays(solved: &Solved<'_>, halves: &[&Half<'_>]) -> Vec<(String, String)> {
    let coil = |name: &str| {
        let volts = halves.iter().filter_map(|half| half.coil_volts.0.iter().find(|(of, _)| *of == name));
        let shown: Vec<String> = volts.map(|(_, volts)| shown(*volts, Dimension::Voltage)).collect();
        if shown.is_empty() { "coil open".to_owned() } else { format!("coil {}", shown.join(" / ")) }
    };
    solved.half.relays.0.iter().map(|(name, word)| ((*name).to_owned(), format!("{word}  {}", coil(name)))).collect()
}

/// One row a name, the values of all halves beside each other.
fn rows<'m, T>(
    halves: &[&Half<'m>],
    table: impl for<'h> Fn(&'h Half<'m>) -> &'h Vec<(&'m str, T)>,
    text: impl Fn(&T) -> String,
) -> Vec<(String, String)> {
    let Some(first) = halves.first() else { return Vec::new() };
    let names = table(first).iter().map(|(name, _)| *name).enumerate();
    names
        .map(|(row, name)| {
            let values: Vec<String> =
                halves.iter().filter_map(|half| table(half).get(row)).map(|(_, value)| text(value)).collect();
            (name.to_owned(), values.join(" / "))
        })
        .collect()
}

fn heading(out: &mut impl Write, text: &str) -> std::io::Result<()> {
    writeln!(out, "\n{BOLD}{text}{BOLD:#}")
}

/// Four digits; what is only rounding is nothing.
fn shown(value: f64, dimension: Dimension) -> String {
    show_with(if value.abs() < 1e-12 { 0.0 } else { value }, dimension, 4)
}
