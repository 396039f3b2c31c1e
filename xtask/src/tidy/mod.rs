//! House rules that no compiler knows: what the engine may lean on, licenses, module heads, forgotten files, rings of
//! modules, and the shape of the whole.

mod dry;
mod license;
mod modules;

use std::path::{Path, PathBuf};

use crate::workspace::{Trouble, files, metadata, root, say};

/// Folders with source of ours.
const HOUSES: [&str; 3] = ["engine", "app", "xtask"];
/// A file of more lines has a second idea; catalogues and tables of tests are looked at by eye.
const LONG: usize = 800;

/// A source file of the workspace.
pub struct Source {
    /// Path from the workspace's folder.
    pub path: PathBuf,
    /// Its text.
    pub text: String,
}

/// Runs the command.
pub fn run() -> Result<bool, Trouble> {
    let root = root();
    let metadata = metadata()?;
    let sources = sources(&root)?;
    let mut broken = dry::broken()?;
    broken.extend(license::broken(&metadata));
    broken.extend(modules::headless(&sources));
    broken.extend(modules::forgotten(&sources));
    broken.extend(ignored(&sources));
    for ring in modules::rings(&sources) {
        say(&format!("ring: {ring}"));
    }
    shape(&sources);
    for rule in &broken {
        say(&format!("BROKEN {rule}"));
    }
    say(&format!("{} house rules broken", broken.len()));
    Ok(broken.is_empty())
}

fn sources(root: &Path) -> Result<Vec<Source>, Trouble> {
    let mut all = Vec::new();
    for house in HOUSES {
        for path in files(&root.join(house), ".rs")? {
            let text = std::fs::read_to_string(&path)?;
            all.push(Source { path: path.strip_prefix(root).unwrap_or(&path).to_owned(), text });
        }
    }
    Ok(all)
}

/// Tests that are switched off.
fn ignored(sources: &[Source]) -> Vec<String> {
    let marked = |line: &&str| line.trim_start().starts_with("#[ignore");
    let off = |source: &Source| source.text.lines().any(|line| marked(&line));
    sources
        .iter()
        .filter(|source| off(source))
        .map(|source| format!("{}: an ignored test", source.path.display()))
        .collect()
}

/// Prints how long the files are.
fn shape(sources: &[Source]) {
    let mut sizes: Vec<(usize, &Path)> =
        sources.iter().map(|source| (source.text.lines().count(), source.path.as_path())).collect();
    sizes.sort();
    let at = |share: usize| sizes.get((sizes.len().max(1) - 1) * share / 100).map_or(0, |(lines, _)| *lines);
    let lines: usize = sizes.iter().map(|(lines, _)| lines).sum();
    say(&format!("{} files, {lines} lines; median {}, p90 {}, longest {}", sizes.len(), at(50), at(90), at(100)));
    for (lines, path) in sizes.iter().rev().filter(|(lines, _)| *lines > LONG) {
        say(&format!("long: {} has {lines} lines", path.display()));
    }
}
