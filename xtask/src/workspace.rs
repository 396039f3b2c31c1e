//! Where this workspace lies, what Cargo says of it, and its program.

use std::fmt;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use machine::Machine;
use serde_json::Value;

/// The machines that ship with the workspace.
pub const MACHINES: [&str; 2] = ["curlew", "moorhen"];

/// Why a task could not be done.
#[derive(Debug)]
pub enum Trouble {
    /// In words.
    Said(String),
    /// Reading, writing or starting a program.
    System(std::io::Error),
    /// Text that is not JSON.
    Json(serde_json::Error),
}

impl fmt::Display for Trouble {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Said(words) => out.write_str(words),
            Self::System(error) => error.fmt(out),
            Self::Json(error) => error.fmt(out),
        }
    }
}

impl From<std::io::Error> for Trouble {
    fn from(error: std::io::Error) -> Self {
        Self::System(error)
    }
}

impl From<serde_json::Error> for Trouble {
    fn from(error: serde_json::Error) -> Self {
        Self::Json(error)
    }
}

/// A line on standard output; a reader that went away is no trouble.
pub fn say(line: &str) {
    let _ = writeln!(std::io::stdout(), "{line}");
}

/// The workspace's folder.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap_or(Path::new(".")).to_owned()
}

/// Cargo, the one that runs this.
pub fn cargo() -> Command {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    command.current_dir(root());
    // What Cargo tells this program of its package is seen by a library's build script, which then builds all anew.
    for (name, _) in std::env::vars_os() {
        if name.to_str().is_some_and(|name| name.starts_with("CARGO_PKG_") || name.starts_with("CARGO_MANIFEST_")) {
            command.env_remove(name);
        }
    }
    command
}

/// What Cargo says of the workspace on this platform.
pub fn metadata() -> Result<Value, Trouble> {
    let version = Command::new("rustc").arg("-vV").output()?;
    let version = String::from_utf8_lossy(&version.stdout).into_owned();
    let host = version.lines().find_map(|line| line.strip_prefix("host: ")).unwrap_or_default();
    let said = cargo().args(["metadata", "--format-version", "1", "--locked", "--filter-platform", host]).output()?;
    if !said.status.success() {
        return Err(Trouble::Said(String::from_utf8_lossy(&said.stderr).into_owned()));
    }
    Ok(serde_json::from_slice(&said.stdout)?)
}

/// The release build of the program, made first.
pub fn program() -> Result<PathBuf, Trouble> {
    if !cargo().args(["build", "--quiet", "--release", "--package", "workbench"]).status()?.success() {
        return Err(Trouble::Said("the program does not build".to_owned()));
    }
    let target = metadata()?["target_directory"].as_str().unwrap_or("target").to_owned();
    Ok(Path::new(&target).join("release/probewright"))
}

/// A machine that ships with the workspace: its file and itself.
pub fn shipped(id: &str) -> Result<(PathBuf, Machine), Trouble> {
    let file = root().join("machines").join(format!("{id}.toml"));
    let sheet = machine::sheet::read(&std::fs::read_to_string(&file)?).sheet;
    let sheet = sheet.ok_or_else(|| Trouble::Said(format!("{} has problems", file.display())))?;
    Ok((file, Machine::new(sheet)))
}

/// All files below a folder whose name ends so, in order; folders of builds and hidden ones apart.
pub fn files(folder: &Path, ending: &str) -> Result<Vec<PathBuf>, Trouble> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        if path.is_dir() && !name.starts_with('.') && name != "target" {
            found.extend(files(&path, ending)?);
        } else if name.ends_with(ending) {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}
