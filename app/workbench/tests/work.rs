//! `work`: whole jobs at the terminal, answered by machines with planted faults that talk through the same pipe a
//! person would use.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use diagnosis::planted::Planted;
use machine::{Fault, Machine};
use quantity::Celsius;

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");

struct Worked {
    printed: String,
    steps: usize,
    proven: bool,
}

/// Works a job to its end: every prompt names a probe, and the planted machine answers it.
fn worked(sheet: &str, faults: &[(&str, f64)], complaint: &str) -> Worked {
    let path = format!("{ROOT}/machines/{sheet}.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    let machine = Machine::new(machine::sheet::read(&text).sheet.unwrap());
    let planted: Vec<(Fault, f64)> =
        faults.iter().map(|(name, severity)| (machine.fault(name).unwrap(), *severity)).collect();
    let mut planted = Planted::new(&machine, &planted, Some(Celsius(18.0))).unwrap();
    let journal = fresh_journal();
    let mut child = program()
        .args(["work", &path, "--complaint", complaint, "--air", "18C", "--journal"])
        .arg(&journal)
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    let output = BufReader::new(child.stdout.take().unwrap());
    writeln!(input, "nothing\n0.14").unwrap();
    let mut worked = Worked { printed: String::new(), steps: 0, proven: false };
    for line in output.lines() {
        let line = line.unwrap();
        worked.printed += &format!("{line}\n");
        assert!(line.chars().count() <= 80, "too wide: {line}");
        worked.proven |= line == "Proven.";
        if line.starts_with("First the ammeter") {
            writeln!(input, "0.41 A").unwrap();
        }
        if let Some(name) = line.strip_prefix("  name     ") {
            worked.steps += 1;
            assert!(worked.steps < 60, "no end in sight:\n{}", worked.printed);
            let answer = planted.answer(&machine, name).unwrap();
            writeln!(input, "{answer}").unwrap();
        }
        if worked.printed.contains("No fault in the catalogue") || line.contains("is not passed") {
            break;
        }
    }
    drop(input);
    child.wait().unwrap();
    let _ = std::fs::remove_dir_all(journal.parent().unwrap());
    worked
}

/// The program with pipes at both ends and a table cache of its own.
fn program() -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_probewright"));
    program
        .env("XDG_CONFIG_HOME", "/nonexistent")
        .env("XDG_CACHE_HOME", concat!(env!("CARGO_TARGET_TMPDIR"), "/cache"))
        .env("NO_COLOR", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped());
    program
}

/// A journal in a folder of its own.
fn fresh_journal() -> PathBuf {
    use std::sync::atomic::{AtomicUsize, Ordering};
    static COUNT: AtomicUsize = AtomicUsize::new(0);
    let number = COUNT.fetch_add(1, Ordering::Relaxed);
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("work-{}-{number}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    folder.join("journal.db")
}

fn proves(sheet: &str, faults: &[(&str, f64)], complaint: &str, cause: &str) -> Worked {
    let worked = worked(sheet, faults, complaint);
    assert!(worked.proven, "not proven:\n{}", worked.printed);
    let proof = worked.printed.rsplit("\nProven.\n").next().unwrap();
    assert!(proof.contains(cause), "proved something else:\n{}", worked.printed);
    worked
}

#[test]
fn a_ground_cable_of_60_milliohms_that_cranks_slowly_is_proven() {
    let worked = proves("curlew", &[("ground-cable:corroded", 0.060)], "cranks-slowly", "Ground cable");
    assert!(worked.steps <= 20, "{} steps", worked.steps);
}

#[test]
fn a_dead_start_switch_is_proven() {
    proves("curlew", &[("button-contact:open", 0.0)], "nothing-happens", "Start");
}

#[test]
fn a_motor_cable_that_is_off_behind_a_clicking_relay_is_proven() {
    proves("curlew", &[("motor-cable:open", 0.0)], "one-click", "Motor cable");
}

#[test]
fn a_battery_joint_that_makes_the_relay_chatter_is_proven() {
    proves("curlew", &[("battery-ring:loose", 0.12)], "chatters", "negative terminal");
}

#[test]
fn a_blown_main_fuse_is_proven_with_the_chafed_wire_behind_it() {
    proves("curlew", &[("start-wire:chafed-to-ground", 0.05)], "fuse-blows", "Start signal wire");
}

/// The README's worked job: what is typed there gives what is shown there, to the letter.
#[test]
fn the_worked_job_of_the_readme_is_what_the_program_prints() {
    let readme = std::fs::read_to_string(format!("{ROOT}/README.md")).unwrap();
    let start = "```text\n$ probewright work machines/curlew.toml --job curlew-slow\n";
    let shown = readme.split(start).nth(1).unwrap().split("\n```").next().unwrap();
    let typed: String =
        shown.lines().filter_map(|line| line.strip_prefix("> ")).map(|line| format!("{line}\n")).collect();
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("readme-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let mut child = program()
        .args(["work", &format!("{ROOT}/machines/curlew.toml"), "--job", "curlew-slow", "--journal", "journal.db"])
        .current_dir(&folder)
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(typed.as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    std::fs::remove_dir_all(&folder).unwrap();
    assert!(output.status.success());
    assert_eq!(String::from_utf8(output.stdout).unwrap().trim(), shown.trim());
}

/// Types some lines into `work` with a journal and a job's name; gives what was printed and what was said beside it.
fn typed(journal: &Path, lines: &str) -> (String, String) {
    let mut child = program()
        .args(["work", &format!("{ROOT}/machines/curlew.toml"), "--job", "a", "--journal"])
        .arg(journal)
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(lines.as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap())
}

/// The entries of the job, one a line of JSON.
fn entries(journal: &Path) -> String {
    let shown = program().args(["job", "show", "a", "--json", "--journal"]).arg(journal).output().unwrap();
    String::from_utf8(shown.stdout).unwrap()
}

/// A remedy on suspicion after which a machine that comes and goes starts again is proven by nothing but time.
#[test]
fn a_lucky_start_has_to_hold_up_more_than_once() {
    let journal = fresh_journal();
    let lucky = "comes-and-goes\nnothing\n20 C\n0.2\ntry:clean@button-contact = fixed\nturns\nstill\nstill\n";
    let (checked, _) = typed(&journal, lucky);
    assert!(checked.contains("wanted   5 good starts in a row") && checked.contains("may be away"), "{checked}");
    let (once, _) = typed(&journal, "yes\n");
    assert!(once.contains("once more: 5 good starts") && !once.contains("Proven"), "{once}");
    let (proven, _) = typed(&journal, "yes\nyes\nyes\n");
    assert!(proven.contains("Proven."), "{proven}");
}

#[test]
fn a_job_that_was_left_goes_on_where_it_was() {
    let journal = fresh_journal();
    let (first, _) = typed(&journal, "one-click\nnothing\n15 C\n0.14\nnote rust at the plug\nquit\n");
    assert!(first.contains("The job is kept"), "{first}");
    assert_eq!(entries(&journal).lines().count(), 6, "{}", entries(&journal));
    let (second, _) = typed(&journal, "skip\nquit\n");
    assert!(!second.contains("What does the owner say?") && second.contains("  name     "), "{second}");
    assert!(second.contains("> skip"), "{second}");
    assert!(entries(&journal).lines().last().unwrap().contains("\"skip\""));
    let (third, _) = typed(&journal, "done\n");
    assert!(third.contains("Closed without a proven cause"), "{third}");
    typed(&journal, "quit\n");
    assert!(entries(&journal).lines().last().unwrap().contains("\"reopened\""));
}

#[test]
fn what_cannot_be_read_is_told_and_asked_for_again_and_undo_takes_back() {
    let journal = fresh_journal();
    let lines = "it is broken\none-click\nnothing\n15 A\n15 C\nundo\n7 C\n0.14\nwhy\nlist\nbananas\nundo\nquit\n";
    let (out, beside) = typed(&journal, lines);
    assert!(beside.contains("no complaint is called `it is broken`") && beside.contains("allowed: "), "{beside}");
    assert!(beside.contains("\"15 A\" is a current"), "{beside}");
    assert!(beside.contains("bananas"), "{beside}");
    assert!(out.contains("taken back: meter:leads = 0.14"), "{out}");
    assert!(out.contains("`take 2` takes the second"), "{out}");
    let kept = entries(&journal);
    assert!(kept.contains("\"undo\"") && kept.contains("\"7 C\""), "{kept}");
}

#[test]
fn a_job_of_another_machine_is_refused() {
    let journal = fresh_journal();
    let moorhen = format!("{ROOT}/machines/moorhen.toml");
    let begun = program().args(["job", "new", &moorhen, "--name", "a", "--journal"]).arg(&journal).output().unwrap();
    assert_eq!(String::from_utf8(begun.stdout).unwrap(), "a\n");
    let (_, beside) = typed(&journal, "");
    assert!(beside.contains("`a` is a job of `moorhen`, not of `curlew`"), "{beside}");
}
