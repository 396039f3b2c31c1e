//! `serve`: the workbench in the browser.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;

use clap::Args;
use journal::Place;

use super::Ending;
use super::failure::{Failure, Kind};
use super::print::{Page, aside};
use crate::shop::workshop::{NoWorkshop, Workshop};
use crate::shop::{journals, settings};
use crate::web;
use crate::web::pairing::Pairing;

/// Open the workbench in the browser
///
/// Machines with their schematics, jobs with the next probe and a large field
/// for what was read, worksheets, history. It is served to this machine only;
/// `probewright` without a command does the same. Ctrl-C ends it.
#[derive(Debug, Args)]
#[command(after_long_help = EXAMPLES)]
pub struct Serve {
    /// The port; the next free one is taken when it is in use
    #[arg(long, default_value_t = PORT)]
    port: u16,
    /// Answer to other machines too, at this address; each browser there is
    /// paired once by the code on this console
    #[arg(long, value_name = "ADDRESS")]
    listen: Option<IpAddr>,
    /// The journal, a file or postgres://USER@HOST/DATABASE; your own when left out
    #[arg(long, value_name = "PLACE", env = journals::VARIABLE, hide_env_values = true)]
    journal: Option<Place>,
    /// The folder of sheets; your own when left out
    #[arg(long, value_name = "FOLDER")]
    machines: Option<PathBuf>,
    /// The workshop's heading and prices; your own when left out
    #[arg(long, value_name = "FILE", env = settings::VARIABLE, hide_env_values = true)]
    settings: Option<PathBuf>,
}

const EXAMPLES: &str = "\
Examples:
  probewright serve
  probewright serve --port 9000
  probewright serve --journal school.db --machines sheets/
  probewright serve --listen 192.168.1.20";

/// Where the workbench is looked for first.
const PORT: u16 = 8300;
/// Ports that are tried after it.
const TRIES: u16 = 20;

impl Default for Serve {
    fn default() -> Self {
        Self {
            port: PORT,
            journal: std::env::var_os(journals::VARIABLE).map(Place::from),
            machines: None,
            settings: std::env::var_os(settings::VARIABLE).map(PathBuf::from),
            listen: None,
        }
    }
}

impl Serve {
    /// Runs the command.
    pub fn run(&self, page: &mut Page) -> Result<Ending, Failure> {
        let workshop =
            Arc::new(Workshop::open(self.journal.as_ref(), self.machines.as_deref(), self.settings.as_deref())?);
        let address = self.free()?;
        let journal = workshop.journal.place().to_string();
        let beyond = self.listen.filter(|listen| !listen.is_loopback());
        let pairing = beyond.map(|_| Pairing::new(&workshop.secret, move |code| announce(address, code)));
        web::serve(workshop, pairing, address, |address| {
            page.remark(&format!("workbench: http://{address}/"));
            page.remark(&format!("journal:   {journal}"));
            page.remark("Ctrl-C ends it; everything that was entered is kept.");
        })?;
        Ok(Ending::Done)
    }

    /// The port that was asked for, or the next one that nobody uses.
    fn free(&self) -> Result<SocketAddr, Failure> {
        let at = self.listen.unwrap_or(IpAddr::V4(Ipv4Addr::LOCALHOST));
        let ports = self.port..=self.port.saturating_add(if self.port == 0 { 0 } else { TRIES });
        let addresses = ports.map(|port| SocketAddr::new(at, port));
        let free = |address: &SocketAddr| std::net::TcpListener::bind(address).is_ok();
        addresses.into_iter().find(free).ok_or_else(|| {
            let text = format!("port {} and those after it cannot be had at {at}", self.port);
            Failure::new(Kind::Unavailable, text).hint("take another: --port 9000, or another --listen")
        })
    }
}

/// Shows a pairing code on the console, as digits and as a picture that a telephone reads.
fn announce(address: SocketAddr, code: &str) {
    let (first, second) = code.split_at(code.len().min(4));
    let mut text = format!("to pair a browser on another machine: code {first} {second}\n");
    let link = format!("http://{address}/pair?code={code}");
    if !address.ip().is_unspecified()
        && let Ok(picture) = qrcode::QrCode::new(&link)
    {
        text += &picture.render::<qrcode::render::unicode::Dense1x2>().build();
        text += &format!("\n{link}\n");
    }
    text += "Over plain HTTP whoever listens on the network can read along: use one that is yours alone.";
    aside(&text);
}

impl From<NoWorkshop> for Failure {
    fn from(error: NoWorkshop) -> Self {
        match error {
            NoWorkshop::Journal(error) => error.into(),
            NoWorkshop::Settings(error) => error.into(),
            NoWorkshop::NoHome => {
                Self::new(Kind::CannotCreate, error).hint("say where: --journal FILE --machines FOLDER")
            }
            NoWorkshop::Disk { ref path, ref source } => {
                let path = path.clone();
                Self::file(&path, std::io::Error::new(source.kind(), source.to_string()))
            }
        }
    }
}
