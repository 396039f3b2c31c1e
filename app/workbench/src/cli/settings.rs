//! `settings`: the workshop's heading and prices, and which file they come from.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::Ending;
use super::failure::Failure;
use super::print::Page;
use crate::shop::folders;
use crate::shop::settings::{self, EXAMPLE};

/// Show the workshop's settings: heading of reports, prices, parts on the shelf
///
/// All of it is optional. With prices a job shows what it costs so far, what it
/// may come to, and asks before it goes beyond the owner's limit; a part that
/// cannot be given back is proposed later.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Settings {
    /// The file; your own when left out
    #[arg(long, value_name = "FILE", env = settings::VARIABLE, hide_env_values = true)]
    settings: Option<PathBuf>,
    /// Print a file to begin with, with invented prices
    #[arg(long, conflicts_with_all = ["settings", "json"])]
    example: bool,
    /// Print JSON instead of text
    #[arg(long)]
    json: bool,
}

const EXAMPLES: &str = "\
Examples:
  probewright settings --example > ~/.config/probewright/settings.toml
  probewright settings
  probewright settings --settings school.toml --json";

impl Settings {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        if self.example {
            page.out().write_all(EXAMPLE.as_bytes())?;
            return Ok(Ending::Done);
        }
        let (settings, file) = settings::Settings::open(self.settings.as_deref())?;
        match &file {
            Some(file) => page.remark(&format!("from {}", file.display())),
            None => {
                let own = folders::configuration().map(|folder| folder.join("settings.toml"));
                let place = own.map_or_else(|_| "FILE".to_owned(), |own| own.display().to_string());
                page.remark(&format!("nothing is set: `probewright settings --example > {place}` begins a file"));
            }
        }
        if self.json {
            page.json(&settings)?;
            return Ok(Ending::Done);
        }
        let out = page.out();
        let heading = &settings.workshop;
        writeln!(out, "{:<14} {}", "workshop", if heading.name.is_empty() { "-" } else { &heading.name })?;
        for line in heading.address.iter().chain([&heading.contact]).filter(|line| !line.is_empty()) {
            writeln!(out, "{:<14} {line}", "")?;
        }
        match &settings.money {
            Some(money) => {
                writeln!(out, "{:<14} {} {:.2}", "an hour", money.currency, money.hour)?;
                writeln!(out, "{:<14} {} {:.2}", "a day's wait", money.currency, money.standing_day)?;
            }
            None => writeln!(out, "{:<14} - (minutes only)", "an hour")?,
        }
        for (remedy, stock) in &settings.stock {
            let shelf = stock.shelf.map_or_else(|| "on the shelf".to_owned(), |count| format!("{count} on the shelf"));
            let lead = if stock.lead_days > 0.0 { format!(", else {:.0} d", stock.lead_days) } else { String::new() };
            let back = if stock.returnable { ", can go back" } else { "" };
            writeln!(out, "{remedy:<26} {:>9.2}  {shelf}{lead}{back}", stock.price)?;
        }
        Ok(Ending::Done)
    }
}
