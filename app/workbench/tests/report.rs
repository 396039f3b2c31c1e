//! `report`: a job told to its owner and to the workshop's file, as a page and as a message. What is on the paper is in
//! `referee/papers.py`.

use std::path::{Path, PathBuf};

use crate::bench::{Said, machine, paper, run, run_with};

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("report-{name}-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn report(journal: &Path, job: &str, format: &str) -> Said {
    run(&["report", job, "--journal", journal.to_str().unwrap(), "--format", format])
}

/// Works a job of a sheet at the terminal with what is typed there.
fn work(journal: &Path, sheet: &str, job: &str, typed: &str) {
    let said = run_with(&["work", sheet, "--job", job, "--journal", journal.to_str().unwrap()], typed);
    assert!(said.code < 2, "{}", said.err);
}

/// What is typed in the README's worked job, up to that many lines.
fn readme(most: usize) -> String {
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../../README.md")).unwrap();
    let start = "```text\n$ probewright work machines/curlew.toml --job curlew-slow\n";
    let shown = readme.split(start).nth(1).unwrap().split("\n```").next().unwrap();
    shown.lines().filter_map(|line| line.strip_prefix("> ")).take(most).map(|line| format!("{line}\n")).collect()
}

#[test]
fn a_proven_job_is_told_with_every_reading_the_cause_the_remedy_and_the_proof() {
    let journal = folder("proven").join("journal.db");
    work(&journal, &machine("curlew"), "slow", &readme(usize::MAX));
    let page = report(&journal, "slow", "html").out;
    for told in [
        "Proven: repaired, and the repair check is passed.",
        "it cranks slowly",
        "12 C",
        // Readings against what a healthy machine shows.
        "12.98 V",
        "6.37 V",
        "4.042 V",
        "below: not as a healthy machine",
        "above: not as a healthy machine",
        "No reading carries this alone. It rests on: ",
        // Both leads, and what lies between them.
        "ground eyelet (where the ground cable meets the ground bolt at the frame; under the seat; BK)",
        "Red lead on ground eyelet, black lead on negative lead; between them: ground cable",
        "Ground cable is corroded along its length.",
        "Replace the ground cable.",
        // The usual cautions stand at the steps.
        "battery's negative lead lifted first, connected last",
        "neutral, rear wheel off the ground, hands and clothing clear",
        "the starter must stay still",
        "0.064 V",
        "Minutes as reckoned for each step",
        "Together",
    ] {
        let told = told.replace('\'', "&#39;");
        assert!(page.contains(&told) || page.contains(&told.replace("&#39;", "'")), "`{told}` is not told");
    }
    assert_eq!(page, report(&journal, "slow", "html").out, "the same journal gives other bytes");
    let message = report(&journal, "slow", "text").out;
    assert!((6..=14).contains(&message.lines().count()), "{message}");
    assert!(message.contains("Cause: Ground cable is corroded along its length."), "{message}");
    assert!(message.contains("Proven: ") && message.contains("0.064 V"), "{message}");
}

#[test]
fn a_verdict_comes_though_what_would_tell_for_it_is_skipped_and_says_on_what_it_rests() {
    let journal = folder("skipped").join("journal.db");
    let typed = readme(usize::MAX);
    let before = typed.split("60.8 mohm\n").next().unwrap();
    work(&journal, &machine("curlew"), "skipped", &format!("{before}skip\nskip\n"));
    let page = report(&journal, "skipped", "html").out;
    assert!(page.contains("Found, not repaired yet: not proven."), "{page}");
    assert!(page.contains("The reading this rests on: Volts from ground eyelet to negative lead: 4.024 V"), "{page}");
}

#[test]
fn an_open_job_says_what_is_known_and_promises_nothing() {
    let journal = folder("open").join("journal.db");
    work(&journal, &machine("curlew"), "new", "");
    let empty = report(&journal, "new", "html").out;
    assert!(empty.contains("The job is open: the cause is not found yet."), "{empty}");
    work(&journal, &machine("curlew"), "open", &readme(8));
    let open = report(&journal, "open", "text").out;
    assert!(open.contains("No cause is found yet; the odds: ") && !open.contains("roven:"), "{open}");
    // All that was typed up to the verdict: found, and said to be no proof yet.
    let typed = readme(usize::MAX);
    let before = typed.split("fixed\n").next().unwrap();
    work(&journal, &machine("curlew"), "found", before);
    let found = report(&journal, "found", "html").out;
    for told in ["Found, not repaired yet: not proven.", "Not proven: likely, &gt;99 %.", "What is to be done"] {
        assert!(found.contains(told), "`{told}` is not told");
    }
    assert!(found.contains("the machine must show") && found.contains("turns"), "no proof is asked for");
}

#[test]
fn what_was_taken_back_or_skipped_is_left_out() {
    let journal = folder("undone").join("journal.db");
    work(&journal, &machine("curlew"), "a", "cranks-slowly\nnothing\n12 C\n0.14\n7.77 V\nundo\nskip\n");
    let page = report(&journal, "a", "html").out;
    assert!(!page.contains("7.77") && !page.contains("skip"), "{page}");
    assert!(page.contains("0.14"), "{page}");
}

#[test]
fn what_was_typed_is_text_and_a_page_asks_for_nothing() {
    let folder = folder("hostile");
    let journal = folder.join("journal.db");
    let sheet = folder.join("trap.toml");
    let trap = crate::bench::TINY.replace("Tiny: a button", "Tiny <script>alert(1)</script> #panic() a button");
    std::fs::write(&sheet, trap).unwrap();
    let note = "note <script>alert(2)</script> \u{1b}[31m #eval(\"1\") *bold* https://evil.example/x.js\n";
    work(&journal, sheet.to_str().unwrap(), "a", &format!("skip\nskip\nskip\n0.1\n{note}"));
    let picture = folder.join("plug.jpg");
    std::fs::write(&picture, b"\xff\xd8\xff\xe0 a picture").unwrap();
    let journal_at = journal.to_str().unwrap();
    let kept =
        ["job", "--journal", journal_at, "photo", "a", picture.to_str().unwrap(), "--text", "\"><img onerror=x>"];
    assert_eq!(run(&kept).code, 0);
    let page = report(&journal, "a", "html").out;
    assert!(page.contains("&lt;script&gt;alert(2)&lt;/script&gt;"), "{page}");
    assert!(!page.contains("<script") && !page.contains("<img onerror") && !page.contains("href="), "{page}");
    assert!(page.contains("data:image/jpeg;base64,/9j/4CBhIHBpY3R1cmU="), "{page}");
    assert!(page.contains("default-src &#39;none&#39;") || page.contains("default-src 'none'"), "no policy");
    let message = report(&journal, "a", "text").out;
    assert!(!message.contains('\u{1b}'), "{message:?}");
}

#[test]
fn the_machine_is_that_of_the_sheet_that_the_job_was_begun_with() {
    let folder = folder("changed");
    let (journal, sheet) = (folder.join("journal.db"), folder.join("tiny.toml"));
    std::fs::write(&sheet, crate::bench::TINY).unwrap();
    let path = sheet.to_str().unwrap();
    let typed = "skip\nskip\nskip\n0.1\nvolts@rest:source.plus,source.minus=11.9\n";
    work(&journal, path, "a", typed);
    let before = report(&journal, "a", "html").out;
    assert!(before.contains("11.9"), "{before}");
    std::fs::write(&sheet, crate::bench::TINY.replace("12 V", "24 V").replace("Tiny: ", "Mended: ")).unwrap();
    assert_eq!(report(&journal, "a", "html").out, before);
    // Gone on with under the new sheet: what was told stays, and nothing is made up.
    work(&journal, path, "a", "volts@rest:feed,source.minus=23.9\n");
    let after = report(&journal, "a", "html").out;
    assert!(after.contains("Tiny: ") && !after.contains("Mended: ") && after.contains("23.9"), "{after}");
}

#[test]
fn a_pdf_is_written_where_it_is_built_in_and_refused_with_a_way_out_elsewhere() {
    let folder = folder("pdf");
    let journal = folder.join("journal.db");
    work(&journal, crate::bench::tiny(), "a", "skip\nskip\nskip\n0.1\n");
    let file = folder.join("report.pdf");
    let arguments = ["report", "a", "--journal", journal.to_str().unwrap(), "--format", "pdf", "--output"];
    let said = run(&[&arguments[..], &[file.to_str().unwrap()]].concat());
    paper(&said, &file);
    assert_eq!(report(&journal, "nobody", "html").code, 66);
}

#[test]
fn the_page_of_the_workbench_is_the_one_of_the_terminal_and_may_do_nothing() {
    let served = crate::serve::Served::new("report");
    served.post("/machines/demo", &[]);
    let begun = served.form("/machine/curlew/job", &[("seal", &served.seal())], "").location();
    served.post(&format!("{begun}/note"), &[("text", "<script>alert(1)</script>")]);
    assert!(served.get(&begun).body.contains(&format!("href=\"{begun}/report\"")), "no way to the report");
    let page = (0..200)
        .map(|_| served.get(&format!("{begun}/report")))
        .find(|page| !page.body.contains("Computing what this machine would show"))
        .unwrap();
    assert!(page.head.contains("default-src 'none'; style-src 'unsafe-inline'"), "{}", page.head);
    let journal = served.folder.join("probewright/journal.db");
    let name = begun.trim_start_matches("/job/");
    assert_eq!(page.body, report(&journal, name, "html").out);
    assert_eq!(served.get(&format!("{begun}/report.txt")).body, report(&journal, name, "text").out);
    let paper = served.get(&format!("{begun}/report.pdf"));
    assert_eq!(paper.status, if cfg!(feature = "pdf") { 200 } else { 501 }, "{}", paper.head);
    assert_eq!(served.get("/job/nobody/report").status, 404);
}
