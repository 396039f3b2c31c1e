//! `draw`: the schematic as a picture.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::Ending;
use super::changes::ChangeArguments;
use super::failure::{Failure, Kind};
use super::findings::machine_of;
use super::print::Page;
use crate::shop::changes::Changes;
use crate::shop::stand::Stand;
use crate::shop::{schematic, written};

/// Draw the schematic of a machine as an SVG picture
///
/// Supply is at the top, ground at the bottom, the starter's circuit in heavy
/// lines at the left. With a state or a change, contacts stand as that state
/// has them, every node tells its potential, and a wire is the thicker the more
/// current it carries; without, contacts are at rest. Parts with a planted
/// fault carry a triangle.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Draw {
    /// The sheet; `-` reads standard input
    sheet: PathBuf,
    /// Operating state to be shown
    ///
    /// STATE~PART or STATE~PART.PATH is a state with a connector unplugged.
    #[arg(long, value_name = "STATE")]
    state: Option<String>,
    #[command(flatten)]
    changes: ChangeArguments,
    /// How wide it may be
    #[arg(long, value_name = "WIDTH", default_value = "wide")]
    width: Width,
    /// Write to FILE instead of standard output
    #[arg(long, short, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Width {
    /// A screen, about 1200 px
    Wide,
    /// A phone, 390 px
    Narrow,
    /// A4 paper, upright
    Print,
}

const EXAMPLES: &str = "\
Examples:
  probewright draw curlew.toml > curlew.svg
  probewright draw curlew.toml --state held --output held.svg
  probewright draw curlew.toml --state held --fault main-fuse:blown
  probewright draw curlew.toml --width narrow --output phone.svg";

impl Draw {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let changes = self.changes.changes()?;
        let stand = Stand::new(machine_of(&self.sheet, page)?);
        let wanted = self.state.is_some() || changes != Changes::default();
        let shown = match wanted {
            true => Some(schematic::shown(&stand, self.state.as_deref(), &changes)?),
            false => None,
        };
        if shown.as_ref().is_some_and(|shown| shown.chatters) {
            page.warn("relays pull in and drop out for ever; they are drawn released");
        }
        let width = match self.width {
            Width::Wide => drawing::Width::Wide,
            Width::Narrow => drawing::Width::Narrow,
            Width::Print => drawing::Width::Print,
        };
        let picture = schematic::picture(&stand.machine, width, shown.as_ref());
        match self.output.as_deref().filter(|path| *path != Path::new("-")) {
            None => page.out().write_all(picture.as_bytes())?,
            Some(path) => written::keep(path, &picture).map_err(|error| {
                Failure::new(Kind::CannotCreate, format!("cannot write `{}`: {error}", path.display()))
            })?,
        }
        Ok(Ending::Done)
    }
}
