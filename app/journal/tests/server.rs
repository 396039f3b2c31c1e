//! A journal on a server that goes away, comes back, swallows an answer or belongs to somebody else. Told only where
//! `PROBEWRIGHT_TEST_POSTGRES` names a server; the wire to it leads through a gate that can be shut.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::path::Path;

use journal::attachment::Attachment;
use journal::{Entry, Journal, JournalError, Kept, Place, key};
use stores::gate::Gate;
use stores::{Database, folder};

mod stores;

const SHEET: (&str, &str) = ("f00d", "sheet = 1\n");

fn note(text: &str) -> Entry {
    Entry::Note { text: text.to_owned() }
}

fn begin(journal: &Journal) -> String {
    journal.begin(None, "curlew", SHEET, "0.1.0").unwrap().id
}

fn notes(entries: &[Kept]) -> Vec<&str> {
    let text = entries.iter().map(|kept| if let Entry::Note { text } = &kept.entry { text } else { "" });
    text.filter(|text| !text.is_empty()).collect()
}

/// A bench behind a gate.
fn bench(database: &Database, gate: &Gate, waiting: &Path) -> Journal {
    Journal::open(Place::from(gate.address(database).as_str()).waiting_in(waiting)).unwrap()
}

#[test]
fn law_what_is_entered_while_the_server_is_away_waits_and_is_sent_in_order_once() {
    let Some(database) = Database::new() else { return };
    let (gate, waiting) = (Gate::new(), folder("away").join("waiting.db"));
    let journal = bench(&database, &gate, &waiting);
    let job = begin(&journal);
    journal.record(&job, &key(), &note("there")).unwrap();
    journal.sheet(journal.job(&job).unwrap().sheet()).unwrap();
    gate.shut();
    let once = key();
    let kept = journal.record(&job, &once, &note("first")).unwrap();
    assert!(kept.waits, "{kept:?}");
    assert_eq!(journal.record(&job, &once, &note("first, again")).unwrap(), kept, "its key makes it one");
    for text in ["second", "third"] {
        assert!(journal.record(&job, &key(), &note(text)).unwrap().waits);
    }
    assert_eq!(journal.waiting().unwrap(), 3);
    let seen = journal.job(&job).unwrap();
    assert_eq!(notes(&seen.entries), ["there", "first", "second", "third"], "a job is read with what waits for it");
    assert!(seen.entries.iter().zip(1..).all(|(kept, number)| kept.number == number));
    assert_eq!(journal.sheet(seen.sheet()).unwrap().as_deref(), Some(SHEET.1), "and so is its sheet");
    // Pictures, new jobs and jobs that were never read here want the server.
    let picture = Attachment::new(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec()).unwrap();
    let refused = journal.attach(&job, &key(), &picture, "").unwrap_err();
    assert!(matches!(refused, JournalError::Away { .. }), "{refused}");
    assert!(refused.to_string().contains("is away") && refused.hint().is_some(), "{refused}");
    assert!(matches!(journal.begin(None, "curlew", SHEET, "0.1.0"), Err(JournalError::Away { .. })));
    assert!(matches!(journal.record("other-1", &key(), &note("x")), Err(JournalError::Away { .. })));
    // Another bench, which reaches the server, has gone on with the job.
    let other = Journal::open(database.address.as_str()).unwrap();
    other.record(&job, &key(), &note("from the other bench")).unwrap();
    gate.open();
    let kept = journal.record(&job, &key(), &note("fourth")).unwrap();
    assert!(!kept.waits);
    assert_eq!(journal.waiting().unwrap(), 0);
    let expected = ["there", "from the other bench", "first", "second", "third", "fourth"];
    let there = other.job(&job).unwrap();
    assert_eq!(notes(&there.entries), expected);
    assert_eq!(there, journal.job(&job).unwrap());
    assert!(there.entries.iter().zip(1..).all(|(kept, number)| kept.number == number), "numbers have a gap");
}

#[test]
fn law_what_waits_outlives_the_program_and_is_sent_by_the_next_one() {
    let Some(database) = Database::new() else { return };
    let (gate, waiting) = (Gate::new(), folder("outlives").join("waiting.db"));
    let journal = bench(&database, &gate, &waiting);
    let job = begin(&journal);
    gate.shut();
    let kept = journal.record(&job, &key(), &note("said in the dark")).unwrap();
    drop(journal);
    let refused = Journal::open(Place::from(gate.address(&database).as_str()).waiting_in(&waiting)).unwrap_err();
    assert!(matches!(refused, JournalError::Away { .. }), "{refused}");
    gate.open();
    let journal = bench(&database, &gate, &waiting);
    let there = journal.job(&job).unwrap().entries.pop().unwrap();
    assert_eq!((there.key, there.at, there.waits), (kept.key, kept.at, false), "with the time at which it was said");
}

#[test]
fn law_without_a_file_to_wait_in_nothing_is_acknowledged_while_the_server_is_away() {
    let Some(database) = Database::new() else { return };
    let gate = Gate::new();
    let journal = Journal::open(gate.address(&database).as_str()).unwrap();
    let job = begin(&journal);
    gate.shut();
    assert!(matches!(journal.record(&job, &key(), &note("x")), Err(JournalError::Away { .. })));
    assert!(matches!(journal.job(&job), Err(JournalError::Away { .. })));
    gate.open();
    assert_eq!(journal.job(&job).unwrap().entries.len(), 1);
}

#[test]
fn law_an_act_whose_answer_was_lost_is_done_once() {
    let Some(database) = Database::new() else { return };
    let (gate, waiting) = (Gate::new(), folder("swallowed").join("waiting.db"));
    let journal = bench(&database, &gate, &waiting);
    gate.swallow_next_commit();
    let job = begin(&journal);
    assert_eq!(journal.names().unwrap(), std::slice::from_ref(&job), "begun once");
    gate.swallow_next_commit();
    let kept = journal.record(&job, &key(), &note("once")).unwrap();
    assert_eq!((kept.number, kept.waits), (2, false));
    assert_eq!(gate.swallowed(), 2, "the test has not shut the gate in the middle");
    assert_eq!(journal.job(&job).unwrap().entries.len(), 2);
    assert_eq!(journal.waiting().unwrap(), 0);
}

#[test]
fn law_nobody_can_change_or_remove_an_entry_on_a_server() {
    let Some(database) = Database::new() else { return };
    let journal = Journal::open(database.address.as_str()).unwrap();
    let job = begin(&journal);
    let mut raw = database.raw();
    raw.batch_execute("SET search_path = probewright").unwrap();
    let attempts = [
        "DELETE FROM entry",
        "UPDATE entry SET body = '{}'",
        "TRUNCATE entry",
        "DELETE FROM job",
        "TRUNCATE job CASCADE",
    ];
    for attempt in attempts {
        let refused = raw.batch_execute(attempt).unwrap_err();
        assert!(refused.as_db_error().unwrap().message().contains("only added"), "{attempt}: {refused:?}");
    }
    assert_eq!(journal.job(&job).unwrap().entries.len(), 1);
}

#[test]
fn law_a_database_of_another_kind_or_of_a_later_program_is_refused() {
    let (Some(foreign), Some(newer)) = (Database::new(), Database::new()) else { return };
    foreign.raw().batch_execute("CREATE SCHEMA probewright; CREATE TABLE probewright.pears (weight real)").unwrap();
    assert!(matches!(Journal::open(foreign.address.as_str()), Err(JournalError::NotAJournal { .. })));
    drop(Journal::open(newer.address.as_str()).unwrap());
    newer.raw().batch_execute("INSERT INTO probewright.journal_version VALUES (99)").unwrap();
    assert!(matches!(Journal::open(newer.address.as_str()), Err(JournalError::Newer { version: 99, .. })));
}

#[test]
fn law_an_address_that_leads_nowhere_is_told_plainly() {
    let refused = Journal::open("postgres://bench@127.0.0.1:seven/jobs").unwrap_err();
    assert!(matches!(refused, JournalError::BadPlace { .. }), "{refused}");
    let Some(database) = Database::new() else { return };
    let refused = Journal::open(format!("{}_not", database.address).as_str()).unwrap_err();
    assert!(matches!(refused, JournalError::Refused { .. }), "{refused}");
    assert!(refused.to_string().contains("does not exist"), "{refused}");
    database.raw().batch_execute("CREATE ROLE guest LOGIN").unwrap();
    let _ = Journal::open(database.address.as_str()).unwrap();
    let refused = Journal::open(database.address.replace("//probewright@", "//guest@").as_str()).unwrap_err();
    database.raw().batch_execute("DROP ROLE guest").unwrap();
    assert!(matches!(refused, JournalError::NotWritable { .. }), "{refused}");
}

#[test]
fn law_a_backup_is_not_mixed_with_other_jobs() {
    let (Some(one), Some(two)) = (Database::new(), Database::new()) else { return };
    let backup = folder("mixed").join("backup.db");
    let [from, to] = [&one, &two].map(|database| Journal::open(database.address.as_str()).unwrap());
    from.begin(Some("saturday"), "curlew", SHEET, "0.1.0").unwrap();
    from.backup(&backup).unwrap();
    to.begin(Some("sunday"), "curlew", SHEET, "0.1.0").unwrap();
    let refused = Journal::restore(two.address.as_str(), &backup).unwrap_err();
    assert!(matches!(&refused, JournalError::NotEmpty { job, .. } if job == "sunday"), "{refused}");
    assert_eq!(to.names().unwrap(), ["sunday"]);
    // Twice is once: what broke off in the middle is begun again.
    assert_eq!(Journal::restore(one.address.as_str(), &backup).unwrap(), None);
    assert_eq!(from.names().unwrap(), ["saturday"]);
}
