//! Modules: each has a head, each is part of a crate, and none import each other in a ring.
//! A ring is looked for among the files of a crate by what their `use` lines and paths name; a parent that names its
//! own child is a house that names its room, no ring. Limit: a path made by a macro is not seen.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::Source;

/// Files that do not begin with what they are for.
pub fn headless(sources: &[Source]) -> Vec<String> {
    let has_head = |source: &&Source| {
        source.text.lines().find(|line| !line.trim().is_empty()).is_some_and(|line| line.starts_with("//!"))
    };
    let without = sources.iter().filter(|source| !has_head(source));
    without.map(|source| format!("{}: no module head (`//!`)", source.path.display())).collect()
}

/// Files that no crate, test, bench or example reaches.
pub fn forgotten(sources: &[Source]) -> Vec<String> {
    let known: BTreeMap<&Path, &Source> = sources.iter().map(|source| (source.path.as_path(), source)).collect();
    let mut reached = BTreeSet::new();
    let mut open: Vec<PathBuf> =
        sources.iter().filter(|source| is_root(&source.path)).map(|source| source.path.clone()).collect();
    while let Some(path) = open.pop() {
        let Some(source) = known.get(path.as_path()) else { continue };
        if reached.insert(path.clone()) {
            open.extend(children(source));
        }
    }
    let lost = sources.iter().filter(|source| !reached.contains(&source.path));
    lost.map(|source| format!("{}: no `mod` line names it, it is never built", source.path.display())).collect()
}

/// The root of a library, program, test, bench or example.
fn is_root(path: &Path) -> bool {
    let pieces: Vec<&str> = path.iter().filter_map(|piece| piece.to_str()).collect();
    let in_crate: &[&str] =
        if pieces.first() == Some(&"xtask") { &pieces[1..] } else { pieces.get(2..).unwrap_or_default() };
    match in_crate {
        ["src", "lib.rs" | "main.rs"] | ["build.rs"] => true,
        // The workbench's tests are one program.
        ["tests", file] => pieces.get(1) != Some(&"workbench") || *file == "runner.rs",
        ["benches" | "examples", _] | ["benches" | "examples", _, "main.rs"] => true,
        _ => false,
    }
}

/// The files that the `mod` lines of a file name, both ways of placing them.
fn children(source: &Source) -> Vec<PathBuf> {
    let folder = source.path.parent().unwrap_or(Path::new(""));
    let stem = source.path.file_stem().and_then(|stem| stem.to_str()).unwrap_or_default();
    let own = if matches!(stem, "lib" | "main" | "mod") || is_root(&source.path) {
        folder.to_owned()
    } else {
        folder.join(stem)
    };
    let mut found = Vec::new();
    let mut placed: Option<PathBuf> = None;
    for line in source.text.lines().map(str::trim) {
        if let Some(path) = line.strip_prefix("#[path = \"").and_then(|rest| rest.strip_suffix("\"]")) {
            placed = Some(folder.join(path));
        }
        let Some(name) = mod_name(line) else { continue };
        match placed.take() {
            Some(path) => found.push(flat(&path)),
            None => found.extend([own.join(format!("{name}.rs")), own.join(name).join("mod.rs")]),
        }
    }
    found
}

/// Without `..` inside.
fn flat(path: &Path) -> PathBuf {
    let mut flat = PathBuf::new();
    for piece in path {
        if piece == ".." {
            flat.pop();
        } else {
            flat.push(piece);
        }
    }
    flat
}

fn mod_name(line: &str) -> Option<&str> {
    let line = if line.starts_with("pub") { line.split_once(' ')?.1 } else { line };
    let name = line.strip_prefix("mod ")?.strip_suffix(';')?;
    name.chars().all(|letter| letter.is_alphanumeric() || letter == '_').then_some(name)
}

/// Modules of one crate that import each other, however long the way round.
pub fn rings(sources: &[Source]) -> Vec<String> {
    let mut crates: BTreeMap<PathBuf, BTreeMap<String, &Source>> = BTreeMap::new();
    for source in sources {
        if let Some((house, module)) = module_of(&source.path) {
            crates.entry(house).or_default().insert(module, source);
        }
    }
    let mut rings = Vec::new();
    for (house, modules) in &crates {
        let edges: BTreeMap<&str, BTreeSet<&str>> =
            modules.iter().map(|(name, source)| (name.as_str(), imports(name, &source.text, modules))).collect();
        let mut told = BTreeSet::new();
        for start in edges.keys() {
            let Some(way) = way_back(start, &edges) else { continue };
            let mut members = way.clone();
            members.sort_unstable();
            if told.insert(members) {
                rings.push(format!("{}: {} → {start}", house.display(), way.join(" → ")));
            }
        }
    }
    rings
}

/// Crate folder and `a::b` of a file below `src`.
fn module_of(path: &Path) -> Option<(PathBuf, String)> {
    let pieces: Vec<&str> = path.iter().filter_map(|piece| piece.to_str()).collect();
    let src = pieces.iter().position(|piece| *piece == "src")?;
    let mut names: Vec<&str> = pieces[src + 1..].iter().map(|piece| piece.trim_end_matches(".rs")).collect();
    if matches!(names.last(), Some(&("mod" | "lib" | "main"))) {
        names.pop();
    }
    (!names.is_empty()).then(|| (pieces[..src].iter().collect(), names.join("::")))
}

/// The modules that a module's text names by `crate::` or `super::`, its children apart.
fn imports<'m>(name: &str, text: &str, modules: &'m BTreeMap<String, &Source>) -> BTreeSet<&'m str> {
    let code = text.split("#[cfg(test)]").next().unwrap_or_default();
    let lines = code.lines().map(str::trim_start).filter(|line| !line.starts_with("//"));
    let code: String = lines.flat_map(|line| [line, "\n"]).collect();
    let mut paths = BTreeSet::new();
    for (at, _) in code.match_indices("crate::") {
        named(&code[at + 7..], "", &mut paths);
    }
    for (at, _) in code.match_indices("super::") {
        let mut rest = &code[at..];
        let mut base: Vec<&str> = name.split("::").collect();
        while let Some(up) = rest.strip_prefix("super::") {
            base.pop();
            rest = up;
        }
        named(rest, &base.join("::"), &mut paths);
    }
    let of = |path: &String| {
        let within = |module: &&String| *path == **module || path.starts_with(&format!("{module}::"));
        modules.keys().filter(within).max_by_key(|module| module.len()).map(String::as_str)
    };
    let child = |module: &&str| module.starts_with(&format!("{name}::"));
    paths.iter().filter_map(of).filter(|module| *module != name && !child(module)).collect()
}

/// The paths that a piece of code begins with: `a::b`, or `a::{b, c::d}` as several.
fn named(code: &str, base: &str, paths: &mut BTreeSet<String>) {
    let end = code.find(|letter: char| !letter.is_alphanumeric() && !"_:".contains(letter)).unwrap_or(code.len());
    let head = code[..end].trim_end_matches(':');
    let joined = |tail: &str| [base, tail].into_iter().filter(|piece| !piece.is_empty()).collect::<Vec<_>>().join("::");
    let path = joined(head);
    if code[end..].starts_with('{') {
        let inner = &code[end + 1..];
        let mut depth = 0_i32;
        let mut start = 0;
        for (at, letter) in inner.char_indices() {
            match letter {
                '{' => depth += 1,
                '}' if depth == 0 => {
                    named(inner[start..at].trim_start(), &path, paths);
                    return;
                }
                '}' => depth -= 1,
                ',' if depth == 0 => {
                    named(inner[start..at].trim_start(), &path, paths);
                    start = at + 1;
                }
                _ => {}
            }
        }
    } else if !path.is_empty() {
        paths.insert(path);
    }
}

/// The shortest way from a module back to itself.
fn way_back<'m>(start: &'m str, edges: &BTreeMap<&'m str, BTreeSet<&'m str>>) -> Option<Vec<&'m str>> {
    let mut ways = std::collections::VecDeque::from([vec![start]]);
    let mut seen = BTreeSet::new();
    while let Some(way) = ways.pop_front() {
        let last = way.last().copied().unwrap_or(start);
        for next in edges.get(last).into_iter().flatten() {
            if *next == start {
                return Some(way);
            }
            if seen.insert(*next) {
                let mut longer = way.clone();
                longer.push(next);
                ways.push_back(longer);
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_a_group_of_imports_is_several_paths() {
        let mut paths = BTreeSet::new();
        named("a::{b, c::{D, e::F}, g};\nuse x;", "", &mut paths);
        assert_eq!(paths.into_iter().collect::<Vec<_>>(), ["a::b", "a::c::D", "a::c::e::F", "a::g"]);
    }

    #[test]
    fn law_a_mod_line_is_told_from_a_mod_block() {
        assert_eq!(mod_name("pub(crate) mod forest;"), Some("forest"));
        assert_eq!(mod_name("mod tests {"), None);
    }
}
