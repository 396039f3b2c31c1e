//! `job`: the journal's jobs are listed, shown, carried to another journal, backed up and restored.

use std::path::{Path, PathBuf};

use crate::bench::{Said, run};

const SHEET: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../machines/curlew.toml");

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("job-{name}-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn job(journal: &Path, arguments: &[&str]) -> Said {
    run(&[&["job", "--journal", journal.to_str().unwrap()], arguments].concat())
}

#[test]
fn a_job_is_begun_listed_shown_and_told_by_json() {
    let journal = folder("list").join("journal.db");
    assert_eq!(job(&journal, &["new", SHEET, "--name", "saturday"]).out, "saturday\n");
    let named = job(&journal, &["new", SHEET]).out;
    assert!(named.starts_with("curlew-20"), "{named}");
    assert_eq!(job(&journal, &["note", "saturday", "rust at the plug"]).code, 0);
    let listed = job(&journal, &["list"]).out;
    assert!(listed.contains("saturday") && listed.contains("open") && listed.contains(named.trim()), "{listed}");
    assert!(listed.lines().all(|line| line.chars().count() <= 80), "{listed}");
    let shown = job(&journal, &["show", "saturday"]).out;
    assert!(shown.contains("note: rust at the plug"), "{shown}");
    let json = job(&journal, &["list", "--json"]).out;
    assert!(json.contains("\"job\":\"saturday\",\"machine\":\"curlew\",\"complaint\":null"), "{json}");
    let again = job(&journal, &["new", SHEET, "--name", "saturday"]);
    assert!(again.code == 2 && again.err.contains("is there already"), "{}", again.err);
    let missing = job(&journal, &["show", "sunday"]);
    assert!(missing.code == 66 && missing.err.contains("job list"), "{}", missing.err);
}

#[test]
fn a_picture_is_kept_by_its_content_and_anything_else_is_refused() {
    let folder = folder("photo");
    let journal = folder.join("journal.db");
    job(&journal, &["new", SHEET, "--name", "a"]);
    let picture = folder.join("plug.jpg");
    std::fs::write(&picture, b"\xff\xd8\xff\xe0 a picture").unwrap();
    assert_eq!(job(&journal, &["photo", "a", picture.to_str().unwrap(), "--text", "green inside"]).code, 0);
    assert!(job(&journal, &["show", "a"]).out.contains("green inside"));
    std::fs::write(&picture, "<script>").unwrap();
    let refused = job(&journal, &["photo", "a", picture.to_str().unwrap()]);
    assert!(refused.code == 65 && refused.err.contains("no picture"), "{}", refused.err);
    let nothing = job(&journal, &["photo", "a", "nothing.jpg"]);
    assert_eq!(nothing.code, 66, "{}", nothing.err);
}

#[test]
fn jobs_go_to_another_journal_and_a_backup_comes_back() {
    let folder = folder("carry");
    let (journal, other) = (folder.join("journal.db"), folder.join("other.db"));
    job(&journal, &["new", SHEET, "--name", "a"]);
    job(&journal, &["note", "a", "one"]);
    let lines = folder.join("jobs.jsonl");
    let written = job(&journal, &["export", "--output", lines.to_str().unwrap()]);
    assert_eq!(written.code, 0, "{}", written.err);
    let imported = job(&other, &["import", lines.to_str().unwrap()]);
    assert_eq!((imported.out.as_str(), imported.code), ("a\n", 0), "{}", imported.err);
    assert_eq!(job(&other, &["show", "a", "--json"]).out, job(&journal, &["show", "a", "--json"]).out);
    let backup = folder.join("stick.db");
    assert_eq!(job(&journal, &["backup", backup.to_str().unwrap()]).code, 0);
    std::fs::write(&journal, "no journal at all").unwrap();
    let refused = job(&journal, &["list"]);
    assert!(refused.code == 65 && refused.err.contains("is not a journal"), "{}", refused.err);
    assert_eq!(job(&journal, &["restore", backup.to_str().unwrap()]).code, 0);
    assert!(job(&journal, &["show", "a"]).out.contains("note: one"));
    assert!(folder.join("journal-set-aside-1.db").exists());
}
