//! A program with four writers is killed without warning, again and again: every acknowledged entry is there, once.
//! The test starts itself as the program to be killed.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use journal::{Entry, Journal, key};

const FILE: &str = "PROBEWRIGHT_TEST_JOURNAL";
const JOB: &str = "PROBEWRIGHT_TEST_JOB";
const WRITERS: usize = 4;
/// Entries of one run, if it is let live.
const ENTRIES: usize = 1000;
const KILLS: u64 = 50;

#[test]
fn law_no_acknowledged_entry_is_lost_or_doubled_when_the_program_is_killed() {
    if let Ok(file) = std::env::var(FILE) {
        return write(Path::new(&file), &std::env::var(JOB).unwrap());
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("killed-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    let file = folder.join("journal.db");
    let job = Journal::open(&file).unwrap().begin(None, "curlew", ("f00d", "sheet = 1\n"), "0.1.0").unwrap().id;
    let mut acknowledged: Vec<String> = Vec::new();
    for kill in 0..KILLS {
        let name = "law_no_acknowledged_entry_is_lost_or_doubled_when_the_program_is_killed";
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", name, "--nocapture", "--test-threads=1"])
            .env(FILE, &file)
            .env(JOB, &job)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let reader = std::thread::spawn(move || {
            let acknowledged =
                lines.map_while(Result::ok).filter_map(|line| line.strip_prefix("kept ").map(str::to_owned));
            acknowledged.collect::<Vec<_>>()
        });
        // Kills spread over a run, from its first moments on.
        std::thread::sleep(Duration::from_millis(20 + kill * 37 % 230));
        child.kill().unwrap();
        child.wait().unwrap();
        // A line that the kill has cut short acknowledges nothing.
        acknowledged.extend(reader.join().unwrap().into_iter().filter(|key| key.len() == 32));
    }
    let kept = Journal::open(&file).unwrap().job(&job).unwrap().entries;
    let mut times: BTreeMap<&str, usize> = BTreeMap::new();
    for entry in &kept {
        *times.entry(&entry.key).or_default() += 1;
    }
    assert!(acknowledged.len() > 100, "only {} were acknowledged: the kills come too early", acknowledged.len());
    for key in &acknowledged {
        assert_eq!(times.get(key.as_str()), Some(&1), "{key} of {}", acknowledged.len());
    }
    assert!(kept.iter().zip(1..).all(|(entry, number)| entry.number == number), "numbers have a gap");
    let _ = writeln!(std::io::stderr(), "{} acknowledged over {KILLS} kills, {} kept", acknowledged.len(), kept.len());
    let _ = std::fs::remove_dir_all(folder);
}

/// What the killed program does: writers that say which entries are kept.
fn write(file: &Path, job: &str) {
    let journal = Journal::open(file).unwrap();
    std::thread::scope(|scope| {
        for writer in 0..WRITERS {
            let journal = &journal;
            scope.spawn(move || {
                for index in 0..ENTRIES / WRITERS {
                    let key = key();
                    let entry = Entry::Note { text: format!("writer {writer}, entry {index}") };
                    journal.record(job, &key, &entry).unwrap();
                    let mut out = std::io::stdout().lock();
                    out.write_all(format!("kept {key}\n").as_bytes()).unwrap();
                    out.flush().unwrap();
                }
            });
        }
    });
}
