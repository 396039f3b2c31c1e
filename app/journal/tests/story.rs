//! One journal from its first job to its backup, its way to another journal and back, and what is refused: each story
//! is told in a file, and on a server too where one is named (see `stores`).
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::Path;

use journal::attachment::Attachment;
use journal::{Entry, Journal, JournalError, key};
use stores::{folder, on_every_store};

mod stores;

const SHEET: (&str, &str) = ("f00d", "sheet = 1\n");

fn reading(probe: &str, value: &str) -> Entry {
    Entry::Reading { probe: probe.to_owned(), value: value.to_owned() }
}

fn picture() -> Attachment {
    Attachment::new([b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".as_slice(), &[7; 5000]].concat()).unwrap()
}

/// A journal with two jobs, one of them closed, with a picture.
fn two_jobs(journal: &Journal) -> [String; 2] {
    let first = journal.begin(None, "curlew", SHEET, "0.1.0").unwrap().id;
    journal.record(&first, &key(), &Entry::Complaint { value: "one-click".into() }).unwrap();
    journal.record(&first, &key(), &reading("volts@rest:battery.plus,battery.minus", "12,9 V")).unwrap();
    journal.attach(&first, &key(), &picture(), "the plug, green inside").unwrap();
    journal.record(&first, &key(), &Entry::Closed { proven: true }).unwrap();
    let second = journal.begin(None, "curlew", SHEET, "0.1.0").unwrap().id;
    journal.record(&second, &key(), &Entry::Air { value: "-5".into() }).unwrap();
    [first, second]
}

#[test]
fn law_what_was_recorded_is_read_again_by_another_program() {
    on_every_store("read", |place| {
        let [first, second] = two_jobs(&Journal::open(place(1)).unwrap());
        let journal = Journal::open(place(1)).unwrap();
        let job = journal.job(&first).unwrap();
        assert_eq!(job.complaint(), Some("one-click"));
        assert_eq!(job.closed(), Some(true));
        assert_eq!(job.entries.iter().map(|kept| kept.number).collect::<Vec<_>>(), [1, 2, 3, 4, 5]);
        assert_eq!(journal.sheet(job.sheet()).unwrap().as_deref(), Some(SHEET.1));
        let (media, bytes) = journal.attachment(&picture().hash).unwrap().unwrap();
        assert_eq!((media.as_str(), bytes), ("image/png", picture().bytes));
        assert_eq!(journal.latest_open("curlew").unwrap().unwrap().id, second);
        assert_eq!(journal.jobs(Some("curlew"), 10).unwrap().len(), 2);
        assert!(journal.jobs(Some("moorhen"), 10).unwrap().is_empty());
        assert!(matches!(journal.record("nobody-1", &key(), &Entry::Undo), Err(JournalError::NoJob { .. })));
    });
}

#[test]
fn law_the_same_key_twice_is_one_entry() {
    on_every_store("twice", |place| {
        let journal = Journal::open(place(1)).unwrap();
        let [_, job] = two_jobs(&journal);
        let once = key();
        let first = journal.record(&job, &once, &reading("a", "1")).unwrap();
        let second = journal.record(&job, &once, &reading("a", "2")).unwrap();
        assert_eq!(first, second);
        assert_eq!(journal.job(&job).unwrap().reading("a"), Some("1"));
    });
}

#[test]
fn law_nobody_can_change_or_remove_an_entry() {
    let file = folder("fixed").join("journal.db");
    let [job, _] = two_jobs(&Journal::open(&file).unwrap());
    let raw = rusqlite::Connection::open(&file).unwrap();
    for attempt in ["DELETE FROM entry", "UPDATE entry SET body = '{}'", "DELETE FROM job"] {
        let refused = raw.execute(attempt, []).unwrap_err().to_string();
        assert!(refused.contains("only added"), "{attempt}: {refused}");
    }
    assert_eq!(Journal::open(&file).unwrap().job(&job).unwrap().entries.len(), 5);
}

#[test]
fn law_lines_go_to_another_journal_and_back_unchanged() {
    on_every_store("lines", |place| {
        let journal = Journal::open(place(1)).unwrap();
        let jobs = two_jobs(&journal);
        let mut lines = Vec::new();
        journal.export(&jobs, &mut lines).unwrap();
        let other = Journal::open(place(2)).unwrap();
        let imported = other.import(lines.as_slice()).unwrap();
        assert_eq!((imported.jobs.as_slice(), imported.entries, imported.known), (jobs.as_slice(), 7, 0));
        let mut again = Vec::new();
        other.export(&jobs, &mut again).unwrap();
        assert_eq!(lines, again);
        let twice = other.import(lines.as_slice()).unwrap();
        assert_eq!((twice.jobs.len(), twice.entries, twice.known), (0, 0, 7));
    });
}

#[test]
fn law_two_jobs_of_one_name_from_two_benches_are_both_kept() {
    on_every_store("names", |place| {
        let journals = [1, 2].map(|number| Journal::open(place(number)).unwrap());
        let jobs = journals.each_ref().map(two_jobs);
        assert_eq!(jobs[0], jobs[1], "two benches give the same names on one day");
        let mut lines = Vec::new();
        journals[1].export(&jobs[1], &mut lines).unwrap();
        let imported = journals[0].import(lines.as_slice()).unwrap();
        assert_eq!(imported.jobs.len(), 2);
        assert!(imported.jobs.iter().all(|job| !jobs[0].contains(job)), "{:?}", imported.jobs);
        assert_eq!(journals[0].jobs(None, 10).unwrap().len(), 4);
        let there = journals[0].job(&imported.jobs[0]).unwrap().entries;
        assert_eq!(there, journals[1].job(&jobs[1][0]).unwrap().entries);
    });
}

#[test]
fn law_a_line_that_cannot_be_read_is_named_and_nothing_is_added() {
    on_every_store("bad-line", |place| {
        let journal = Journal::open(place(1)).unwrap();
        let jobs = two_jobs(&journal);
        let mut lines = Vec::new();
        journal.export(&jobs, &mut lines).unwrap();
        lines.extend_from_slice(b"\n{\"job\": 7}\n");
        let other = Journal::open(place(2)).unwrap();
        let refused = other.import(lines.as_slice()).unwrap_err();
        assert!(matches!(refused, JournalError::BadLine { line: 11, .. }), "{refused}");
        assert!(other.jobs(None, 10).unwrap().is_empty());
    });
}

#[test]
fn law_a_backup_brings_back_what_was_damaged_and_the_damaged_file_is_kept() {
    let folder = folder("damaged");
    let file = folder.join("journal.db");
    let journal = Journal::open(&file).unwrap();
    let [job, _] = two_jobs(&journal);
    let backup = journal.back_up_daily().unwrap().unwrap();
    assert_eq!(journal.back_up_daily().unwrap(), None, "once a day");
    drop(journal);
    // A bad block in the middle of the file.
    let mut bytes = fs::read(&file).unwrap();
    let middle = 4096 * 2 + 8;
    bytes[middle..middle + 200].fill(0xA5);
    fs::write(&file, &bytes).unwrap();
    let refused = Journal::open(&file).unwrap_err();
    assert!(matches!(&refused, JournalError::Damaged { backup: Some(found), .. } if *found == backup), "{refused}");
    assert!(refused.hint().unwrap().contains("job restore"));
    assert_eq!(fs::read(&file).unwrap(), bytes, "a damaged file is not written to");
    let aside = Journal::restore(&file, &backup).unwrap().unwrap();
    assert_eq!(fs::read(aside).unwrap(), bytes);
    assert_eq!(Journal::open(&file).unwrap().job(&job).unwrap().entries.len(), 5);
}

#[test]
fn law_a_file_of_another_kind_or_of_a_later_program_is_refused() {
    let folder = folder("foreign");
    let text = folder.join("text.db");
    fs::write(&text, "sheet = 1").unwrap();
    assert!(matches!(Journal::open(&text), Err(JournalError::NotAJournal { .. })));
    assert_eq!(fs::read_to_string(&text).unwrap(), "sheet = 1");
    let other = folder.join("other.db");
    rusqlite::Connection::open(&other).unwrap().execute_batch("CREATE TABLE pears (weight REAL)").unwrap();
    assert!(matches!(Journal::open(&other), Err(JournalError::NotAJournal { .. })));
    let newer = folder.join("newer.db");
    drop(Journal::open(&newer).unwrap());
    rusqlite::Connection::open(&newer).unwrap().pragma_update(None, "user_version", 99).unwrap();
    assert!(matches!(Journal::open(&newer), Err(JournalError::Newer { version: 99, .. })));
    assert!(matches!(Journal::restore(&newer, &text), Err(JournalError::NotAJournal { .. })));
}

#[test]
fn law_a_full_disk_and_a_place_that_cannot_be_written_are_told_plainly() {
    let folder = folder("full");
    let journal = Journal::open(&folder.join("journal.db")).unwrap();
    let [job, _] = two_jobs(&journal);
    journal.fill_up();
    let note = Entry::Note { text: "x".repeat(50_000) };
    let refused = journal.record(&job, &key(), &note).unwrap_err();
    assert!(matches!(refused, JournalError::Full { .. }), "{refused}");
    assert!(refused.to_string().contains("the disk is full"), "{refused}");
    assert_eq!(journal.job(&job).unwrap().entries.len(), 5, "what was there stays");
    // A folder in which nobody can make a file.
    let nowhere = Journal::open(Path::new("/proc/self/journal.db")).unwrap_err();
    assert!(nowhere.to_string().contains("journal.db"), "{nowhere}");
    fs::write(folder.join("file"), "").unwrap();
    assert!(matches!(Journal::open(&folder.join("file/journal.db")), Err(JournalError::Disk { .. })));
}

#[test]
fn law_a_job_has_the_name_that_it_was_given_once() {
    on_every_store("given", |place| {
        let journal = Journal::open(place(1)).unwrap();
        assert_eq!(journal.begin(Some("saturday"), "curlew", SHEET, "0.1.0").unwrap().id, "saturday");
        assert!(matches!(journal.begin(Some("saturday"), "curlew", SHEET, "0.1.0"), Err(JournalError::Taken { .. })));
        for name in ["", "../x", "a b", ".hidden", "<b>"] {
            let refused = journal.begin(Some(name), "curlew", SHEET, "0.1.0");
            assert!(matches!(refused, Err(JournalError::BadName { .. })), "{name}");
        }
    });
}

#[test]
fn law_two_benches_write_one_job_and_see_each_other() {
    on_every_store("benches", |place| {
        let benches = [(); 2].map(|()| Journal::open(place(1)).unwrap());
        let job = benches[0].begin(None, "curlew", SHEET, "0.1.0").unwrap().id;
        std::thread::scope(|scope| {
            for (bench, journal) in benches.iter().enumerate() {
                let job = &job;
                scope.spawn(move || {
                    for index in 0..40 {
                        let own = Entry::Note { text: format!("bench {bench}, entry {index}") };
                        let kept = journal.record(job, &key(), &own).unwrap();
                        // What is acknowledged is there at once, for either bench.
                        assert_eq!(journal.job(job).unwrap().entries[kept.number as usize - 1], kept);
                        // Each bench begins jobs of its own meanwhile: names are given once.
                        if index % 10 == 0 {
                            journal.begin(None, "moorhen", SHEET, "0.1.0").unwrap();
                        }
                    }
                });
            }
        });
        let [one, other] = benches.each_ref().map(|journal| journal.job(&job).unwrap());
        assert_eq!(one, other);
        assert!(one.entries.iter().zip(1..).all(|(kept, number)| kept.number == number), "numbers have a gap");
        for bench in 0..2 {
            let start = format!("bench {bench}, ");
            let of = |kept: &&journal::Kept| matches!(&kept.entry, Entry::Note { text } if text.starts_with(&start));
            assert_eq!(one.entries.iter().filter(of).count(), 40, "{start}");
        }
        assert_eq!(benches[1].jobs(Some("moorhen"), 100).unwrap().len(), 8);
    });
}

#[test]
fn law_a_backup_in_a_file_brings_all_jobs_back() {
    on_every_store("backup", |place| {
        let journal = Journal::open(place(1)).unwrap();
        let jobs = two_jobs(&journal);
        let backup = folder("backup-file").join("backup.db");
        let _ = fs::remove_file(&backup);
        journal.backup(&backup).unwrap();
        assert!(matches!(journal.backup(&backup), Err(JournalError::Disk { .. })), "a backup is not written over");
        assert_eq!(fs::read_dir(backup.parent().unwrap()).unwrap().count(), 1, "nothing else is left there");
        Journal::restore(place(2), &backup).unwrap();
        let told = |journal: &Journal| {
            let mut lines = Vec::new();
            journal.export(&jobs, &mut lines).unwrap();
            lines
        };
        assert_eq!(told(&Journal::open(place(2)).unwrap()), told(&journal));
    });
}
