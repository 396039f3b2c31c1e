//! A program with four writers is killed without warning, again and again, and so is the server that it writes to: every
//! acknowledged entry is there, once. The test starts itself as the program to be killed. On a server only where
//! `PROBEWRIGHT_TEST_POSTGRES` names one; `PROBEWRIGHT_TEST_POSTGRES_KILL` kills it and starts it again.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use journal::{Entry, Journal, Place, key};
use stores::{Database, folder};

mod stores;

const PLACE: &str = "PROBEWRIGHT_TEST_JOURNAL";
const JOB: &str = "PROBEWRIGHT_TEST_JOB";
const KILL: &str = "PROBEWRIGHT_TEST_POSTGRES_KILL";
const SHEET: (&str, &str) = ("f00d", "sheet = 1\n");
const WRITERS: usize = 4;
/// Entries of one run, if it is let live.
const ENTRIES: usize = 1000;
/// How often a program is killed that writes to a file.
const KILLS: u64 = 50;
/// How often one is that writes to a server, and how often the server is.
const SERVER_KILLS: u64 = 10;

/// Whoever kills the server keeps the others from it.
static SERVER: Mutex<()> = Mutex::new(());

#[test]
fn law_no_acknowledged_entry_is_lost_or_doubled_when_the_program_is_killed() {
    let name = "law_no_acknowledged_entry_is_lost_or_doubled_when_the_program_is_killed";
    if let Ok(place) = std::env::var(PLACE) {
        return write(&Journal::open(place.as_str()).unwrap(), &std::env::var(JOB).unwrap());
    }
    let folder = folder("killed");
    killed(name, folder.join("journal.db").to_str().unwrap(), KILLS, 20);
    let _ = std::fs::remove_dir_all(folder);
}

#[test]
fn law_a_server_keeps_what_it_acknowledged_to_a_program_that_is_killed() {
    let name = "law_a_server_keeps_what_it_acknowledged_to_a_program_that_is_killed";
    if let Ok(place) = std::env::var(PLACE) {
        return write(&Journal::open(place.as_str()).unwrap(), &std::env::var(JOB).unwrap());
    }
    let _alone = SERVER.lock().unwrap_or_else(PoisonError::into_inner);
    let Some(database) = Database::new() else { return };
    killed(name, &database.address, SERVER_KILLS, 200);
}

#[test]
fn law_no_acknowledged_entry_is_lost_or_doubled_when_the_server_is_killed() {
    let _alone = SERVER.lock().unwrap_or_else(PoisonError::into_inner);
    let (Some(database), Ok(kill)) = (Database::new(), std::env::var(KILL)) else { return };
    let folder = folder("server-killed");
    let bench = |number: usize| {
        let place = Place::from(database.address.as_str()).waiting_in(&folder.join(format!("{number}.db")));
        Journal::open(place).unwrap()
    };
    let benches = [bench(1), bench(2)];
    let job = benches[0].begin(None, "curlew", SHEET, "0.1.0").unwrap().id;
    let over = AtomicBool::new(false);
    let (there, here) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let acknowledged: Mutex<Vec<String>> = Mutex::default();
    let mut all_killed = true;
    std::thread::scope(|scope| {
        for journal in &benches {
            let (job, over, there, here, acknowledged) = (&job, &over, &there, &here, &acknowledged);
            // A bench reads a job before it adds to it.
            journal.job(job).unwrap();
            scope.spawn(move || {
                while !over.load(Ordering::Relaxed) {
                    let key = key();
                    let kept = journal.record(job, &key, &Entry::Note { text: "typed".into() }).unwrap();
                    if kept.waits { here } else { there }.fetch_add(1, Ordering::Relaxed);
                    acknowledged.lock().unwrap().push(key);
                    if kept.waits {
                        // Nobody types faster; what waits is sent one by one.
                        std::thread::sleep(Duration::from_millis(60));
                    }
                }
            });
        }
        for kill_number in 0..SERVER_KILLS {
            // Each server that comes back is written to before it is killed, at some moment of an act.
            let goal = there.load(Ordering::Relaxed) + 15;
            for _ in 0..600 {
                std::thread::sleep(Duration::from_millis(50 + kill_number * 7 % 13));
                if there.load(Ordering::Relaxed) >= goal {
                    break;
                }
            }
            let killed = Command::new("sh").args(["-c", &kill]).stdin(Stdio::null()).status();
            all_killed &= killed.is_ok_and(|status| status.success());
        }
        over.store(true, Ordering::Relaxed);
    });
    assert!(all_killed, "the server cannot be killed and started: {kill}");
    // Each bench sends what still waits.
    for journal in &benches {
        journal.job(&job).unwrap();
        assert_eq!(journal.waiting().unwrap(), 0);
    }
    let acknowledged = acknowledged.into_inner().unwrap();
    all_there_once(&benches[1], &job, &acknowledged);
    let (there, here) = (there.into_inner(), here.into_inner());
    assert!(there > 100 && here > 5, "{there} kept on the server, {here} waited: the kills do not hit");
    let _ = writeln!(std::io::stderr(), "{there} kept there and {here} kept here over {SERVER_KILLS} server kills");
    let _ = std::fs::remove_dir_all(folder);
}

/// Starts this test as a program, kills it after so many milliseconds and more, and so on; then looks for what was
/// acknowledged.
fn killed(test: &str, place: &str, kills: u64, soonest: u64) {
    let job = Journal::open(place).unwrap().begin(None, "curlew", SHEET, "0.1.0").unwrap().id;
    let mut acknowledged: Vec<String> = Vec::new();
    for kill in 0..kills {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", test, "--nocapture", "--test-threads=1"])
            .env(PLACE, place)
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
        std::thread::sleep(Duration::from_millis(soonest + kill * 37 % 230));
        child.kill().unwrap();
        child.wait().unwrap();
        // A line that the kill has cut short acknowledges nothing.
        acknowledged.extend(reader.join().unwrap().into_iter().filter(|key| key.len() == 32));
    }
    assert!(acknowledged.len() > 100, "only {} were acknowledged: the kills come too early", acknowledged.len());
    let kept = all_there_once(&Journal::open(place).unwrap(), &job, &acknowledged);
    let _ = writeln!(std::io::stderr(), "{} acknowledged over {kills} kills, {kept} kept", acknowledged.len());
}

/// Looks for each acknowledged entry; says how many there are in all.
fn all_there_once(journal: &Journal, job: &str, acknowledged: &[String]) -> usize {
    let kept = journal.job(job).unwrap().entries;
    let mut times: BTreeMap<&str, usize> = BTreeMap::new();
    for entry in &kept {
        *times.entry(&entry.key).or_default() += 1;
    }
    for key in acknowledged {
        assert_eq!(times.get(key.as_str()), Some(&1), "{key} of {}", acknowledged.len());
    }
    assert!(kept.iter().zip(1..).all(|(entry, number)| entry.number == number), "numbers have a gap");
    kept.len()
}

/// What the killed program does: writers that say which entries are kept.
fn write(journal: &Journal, job: &str) {
    std::thread::scope(|scope| {
        for writer in 0..WRITERS {
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
