//! Licenses of everything that is built in on this platform, as `cargo metadata` tells them: each expression must be satisfiable with
//! those on the list. Limit: MPL is on it because we change none of the crates that carry it.

use serde_json::Value;

const ALLOWED: [&str; 12] = [
    "MIT",
    "MIT-0",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "Unicode-3.0",
    "Unicode-DFS-2016",
    "MPL-2.0",
    "CC0-1.0",
    "0BSD",
];

/// Packages whose license is not allowed or not told.
pub fn broken(metadata: &Value) -> Vec<String> {
    let packages = metadata["packages"].as_array().into_iter().flatten();
    let told = packages
        .map(|package| (package["name"].as_str().unwrap_or_default(), package["license"].as_str().unwrap_or_default()));
    told.filter(|(_, license)| !is_allowed(license))
        .map(|(name, license)| format!("{name} has the license `{license}`, allowed: {}", ALLOWED.join(", ")))
        .collect()
}

/// Whether one may choose only allowed licenses: `A OR (B AND C)`; the old `A/B` is `A OR B`.
fn is_allowed(expression: &str) -> bool {
    let spaced = expression.replace('/', " OR ").replace('(', " ( ").replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut at = 0;
    any(&words, &mut at) && at == words.len()
}

fn any(words: &[&str], at: &mut usize) -> bool {
    let mut good = all(words, at);
    while words.get(*at) == Some(&"OR") {
        *at += 1;
        good |= all(words, at);
    }
    good
}

fn all(words: &[&str], at: &mut usize) -> bool {
    let mut good = one(words, at);
    while words.get(*at) == Some(&"AND") {
        *at += 1;
        good &= one(words, at);
    }
    good
}

fn one(words: &[&str], at: &mut usize) -> bool {
    let word = words.get(*at).copied().unwrap_or_default();
    *at += 1;
    if word == "(" {
        let good = any(words, at);
        let closed = words.get(*at) == Some(&")");
        *at += 1;
        return good && closed;
    }
    // An exception only allows more than the license before it.
    if words.get(*at) == Some(&"WITH") {
        *at += 2;
    }
    ALLOWED.contains(&word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_one_may_choose_but_not_leave_out() {
        for good in [
            "MIT",
            "MIT OR GPL-3.0",
            "(MIT OR Apache-2.0) AND Unicode-3.0",
            "Unlicense/MIT",
            "Apache-2.0 WITH LLVM-exception",
        ] {
            assert!(is_allowed(good), "{good}");
        }
        for bad in ["", "GPL-3.0", "MIT AND GPL-3.0", "(MIT", "MIT)", "MIT Apache-2.0"] {
            assert!(!is_allowed(bad), "{bad}");
        }
    }
}
