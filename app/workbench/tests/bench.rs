//! What the tests stand on: a small sheet, and one way to run the program.

use std::io::Write;
use std::path::PathBuf;
use std::sync::{Mutex, OnceLock};

use assert_cmd::Command;
use serde_json::Value;

/// A source feeds, through a fuse, a relay that a button works and a heater behind its contact; a lamp hangs on an
/// island that only a plug ties to the rest.
pub const TINY: &str = r#"
sheet = 1

[machine]
id = "tiny"
title = "Tiny: a button, a relay and a heater"

[control.button]
positions = ["free", "pressed"]

[part.source]
kind = "source"
voltage = "12 V"
resistance = "0.1 ohm"

[part.main-fuse]
kind = "fuse"
from = "source.plus"
to = "feed"
resistance = "0.1 ohm"
rating = "10 A"

[part.button-contact]
kind = "switch"
from = "feed"
to = "relay.coil-a"
resistance = "0 ohm"
closed-when = { button = "pressed" }

[part.relay]
kind = "relay"
coil = "10 ohm"
contact = "0 ohm"
pull-in = "7 V"
drop-out = "3 V"
coil-b = "source.minus"
line = "feed"
load = "out"

[part.heater]
kind = "resistance"
from = "out"
to = "source.minus"
resistance = "4 ohm"

[part.bridge-plug]
kind = "switch"
from = "feed"
to = "island"
resistance = "1 ohm"
closed-when = { button = "pressed" }

[part.tail]
kind = "resistance"
from = "island"
to = "tail-end"
resistance = "1 kohm"

[state.rest]

[state.held]
controls = { button = "pressed" }
"#;

/// A sheet with a mistake on line 8.
pub const BROKEN: &str = r#"sheet = 1

[machine]
id = "broken"

[part.source]
kind = "source"
voltage = "12 ohm"
"#;

/// What the program said.
pub struct Said {
    /// Exit code.
    pub code: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Said {
    /// Standard output as JSON.
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}: {}{}", self.out, self.err))
    }

    /// Each line of standard output as JSON.
    pub fn lines(&self) -> Vec<Value> {
        self.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    }
}

/// Whether a PDF was written where the typesetter is built in, and refused with a way out elsewhere.
pub fn paper(said: &Said, file: &std::path::Path) {
    if cfg!(feature = "pdf") {
        assert!(std::fs::read(file).unwrap().starts_with(b"%PDF-1.7"), "{}", said.err);
    } else {
        assert_eq!(said.code, 69, "{}", said.err);
        assert!(said.err.contains("without the feature `pdf`") && said.err.contains("--format html"), "{}", said.err);
    }
}

/// Runs the program.
pub fn run(arguments: &[&str]) -> Said {
    run_with(arguments, "")
}

/// Runs the program with this on standard input.
pub fn run_with(arguments: &[&str], input: &str) -> Said {
    let mut command = Command::new(env!("CARGO_BIN_EXE_probewright"));
    let ran = command.args(arguments).env_remove("CLICOLOR_FORCE").env("XDG_CACHE_HOME", cache());
    let ran = ran.env("XDG_CONFIG_HOME", "/nonexistent");
    let ran = ran.write_stdin(input).output().unwrap();
    Said {
        code: ran.status.code().unwrap_or(-1),
        out: String::from_utf8(ran.stdout).unwrap(),
        err: String::from_utf8(ran.stderr).unwrap(),
    }
}

/// One of the repository's machines, its table of readings computed once for all tests.
pub fn machine(name: &str) -> String {
    static WARM: Mutex<Vec<String>> = Mutex::new(Vec::new());
    let path = format!("{}/../../machines/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let mut warm = WARM.lock().unwrap();
    if !warm.contains(&path) {
        assert_eq!(run(&["atlas", &path]).code, 0);
        warm.push(path.clone());
    }
    path
}

/// Where this build of the program keeps its tables of readings; those of earlier builds are thrown away.
fn cache() -> &'static PathBuf {
    static PATH: OnceLock<PathBuf> = OnceLock::new();
    PATH.get_or_init(|| {
        let built = std::fs::metadata(env!("CARGO_BIN_EXE_probewright")).unwrap().modified().unwrap();
        let age = built.duration_since(std::time::UNIX_EPOCH).unwrap().as_millis();
        let caches = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("caches");
        let own = caches.join(age.to_string());
        std::fs::create_dir_all(&own).unwrap();
        for other in std::fs::read_dir(&caches).unwrap().flatten().filter(|other| other.path() != own) {
            // Another run may be throwing it away too.
            let _ = std::fs::remove_dir_all(other.path());
        }
        own
    })
}

/// The small sheet as a file.
pub fn tiny() -> &'static str {
    static PATH: OnceLock<String> = OnceLock::new();
    PATH.get_or_init(|| file("tiny.toml", TINY))
}

/// A file of that name with that text, for this run of the tests.
pub fn file(name: &str, text: &str) -> String {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(std::process::id().to_string());
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join(name);
    std::fs::File::create(&path).unwrap().write_all(text.as_bytes()).unwrap();
    path.to_str().unwrap().to_owned()
}
