//! `read`: what a meter shows, or eyes, ears and hands tell.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::Ending;
use super::changes::ChangeArguments;
use super::failure::Failure;
use super::findings::machine_of;
use super::print::{DIM, Page, columns};
use crate::shop::answer;
use crate::shop::stand::Stand;

/// Compute what a meter shows
///
/// The meter is part of the circuit that it reads: it is connected first, then
/// the state is entered. A probe is named INSTRUMENT@STATE:RED,BLACK (volts,
/// low-z, ohms, diode, lamp) or INSTRUMENT@STATE:PART (amps in its place, clamp
/// round it, lamp-for in a fuse's place). Eyes, ears and hands work too:
/// listen@, watch@, feel@, feed@, turn@, look@ and size@STATE:PART.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Read {
    /// The sheet; `-` reads standard input
    sheet: PathBuf,
    /// The probes
    #[arg(required = true, value_name = "PROBE")]
    probes: Vec<String>,
    #[command(flatten)]
    changes: ChangeArguments,
    /// Lead resistance that the ohmmeter takes off, as in 0.14ohm
    #[arg(long, value_name = "OHMS")]
    nulled: Option<String>,
    /// Print JSON, one object a line
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright read curlew.toml volts@held:starter.plus,battery.minus
  probewright read curlew.toml amps@rest:battery-ring
  probewright read curlew.toml ohms@dead:btn-out,ground --nulled 0.14ohm
  probewright read curlew.toml clamp@held:motor-cable --air -5C --json
  probewright read curlew.toml listen@held:starter-relay watch@held:headlamp
  probewright read curlew.toml volts@held~key-plug:key-in,battery.minus";

impl Read {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let changes = self.changes.changes()?;
        let mut stand = Stand::new(machine_of(&self.sheet, page)?);
        let mut rows = Vec::new();
        for probe in &self.probes {
            let read = stand.read(probe, &changes, self.nulled.as_deref())?;
            for warning in warnings(&read) {
                page.warn(&warning);
            }
            if self.json {
                page.json(&read)?;
            } else {
                rows.push((read.probe.clone(), shown(&read)));
            }
        }
        if !self.json {
            for (probe, display) in rows {
                let line = columns(&[(probe, display)]);
                writeln!(page.out(), "{}", line.trim())?;
            }
        }
        Ok(Ending::Done)
    }
}

fn shown(read: &answer::Read) -> String {
    let mut text = read.display.clone();
    if !read.positions.is_empty() {
        text += " chattering";
    }
    if read.floating {
        text += &format!("  {DIM}(a lead is on a point with no path of its own){DIM:#}");
    }
    text
}

fn warnings(read: &answer::Read) -> Vec<String> {
    let mut warnings = Vec::new();
    if read.live {
        warnings.push(format!(
            "{}: the circuit is alive, an ohmmeter reads nonsense there; lift the battery (state `dead`)",
            read.probe
        ));
    }
    if read.overload && read.unit == "A" {
        warnings.push(format!("{}: beyond 10 A, the meter's fuse would open; take the clamp", read.probe));
    }
    warnings
}
