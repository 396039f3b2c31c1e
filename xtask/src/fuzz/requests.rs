//! Spoiled request lines, through the program's own door: `solve SHEET --requests -`.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use machine::Machine;
use serde_json::Value;

use super::spoil::{Dice, renumbered, spoiled, words};
use super::{Came, HANGS, LONGEST, Tally};
use crate::asked;
use crate::workspace::Trouble;

/// Lines asked at once; together they have to fit into a pipe.
pub const BATCH: usize = 64;
/// Bytes that a pipe is sure to hold.
const PIPE: usize = 60_000;

/// A machine on the stand, with lines to be spoiled.
pub struct Seeds {
    binary: PathBuf,
    sheet: PathBuf,
    lines: Vec<String>,
    words: Vec<String>,
    door: Option<Door>,
}

/// The program, running.
struct Door {
    child: Child,
    questions: ChildStdin,
    answers: Receiver<String>,
}

impl Seeds {
    /// Of a sheet.
    pub fn new(binary: &Path, sheet: &Path, machine: &Machine) -> Result<Self, Trouble> {
        let lines = asked::lines(machine, 4000);
        let words = words(lines.iter().map(String::as_str));
        Ok(Self { binary: binary.to_owned(), sheet: sheet.to_owned(), lines, words, door: None })
    }

    /// Spoils a batch of lines and asks them.
    pub fn ask(&mut self, seed: u64, numbers: &[u64], tally: &mut Tally) -> Result<(), Trouble> {
        let batch: Vec<(u64, Vec<u8>)> = numbers.iter().map(|number| (*number, self.line(seed, *number))).collect();
        let size: usize = batch.iter().map(|(_, line)| line.len() + 1).sum();
        if size < PIPE && self.together(&batch, tally)? {
            return Ok(());
        }
        for (number, line) in &batch {
            self.alone(*number, line, tally)?;
        }
        Ok(())
    }

    fn line(&self, seed: u64, number: u64) -> Vec<u8> {
        let mut dice = Dice::new(seed, number);
        let mut line = match dice.below(3) {
            0 => renumbered(&self.lines, &mut dice),
            1 => crossed(&self.lines, &mut dice).into_bytes(),
            _ => spoiled(&self.lines, &self.words, &mut dice),
        };
        line.truncate(PIPE / 2);
        line.iter_mut().filter(|byte| **byte == b'\n').for_each(|byte| *byte = b' ');
        // A blank line is no question and has no answer.
        if line.trim_ascii().is_empty() { b"{".to_vec() } else { line }
    }

    /// Asks a batch; false when an answer is missing or late, so that each has to be asked alone.
    fn together(&mut self, batch: &[(u64, Vec<u8>)], tally: &mut Tally) -> Result<bool, Trouble> {
        let mut door = self.open()?;
        let asked: Vec<u8> = batch.iter().flat_map(|(_, line)| line.iter().copied().chain([b'\n'])).collect();
        if door.questions.write_all(&asked).is_err() {
            door.shut();
            return Ok(false);
        }
        let begun = Instant::now();
        let mut came = Vec::with_capacity(batch.len());
        for _ in batch {
            match door.answers.recv_timeout(LONGEST) {
                Ok(answer) => came.push(answer),
                Err(_) => {
                    door.shut();
                    return Ok(false);
                }
            }
        }
        tally.slowest = tally.slowest.max(begun.elapsed());
        self.door = Some(door);
        for ((number, _), answer) in batch.iter().zip(came) {
            weigh(*number, &answer, tally);
        }
        Ok(true)
    }

    fn alone(&mut self, number: u64, line: &[u8], tally: &mut Tally) -> Result<(), Trouble> {
        let mut slow = Duration::MAX;
        for _ in 0..3 {
            let mut door = self.open()?;
            let begun = Instant::now();
            let _ = door.questions.write_all(line).and_then(|()| door.questions.write_all(b"\n"));
            match door.answers.recv_timeout(HANGS) {
                Ok(answer) => {
                    self.door = Some(door);
                    slow = slow.min(begun.elapsed());
                    if slow <= LONGEST {
                        tally.slowest = tally.slowest.max(slow);
                        weigh(number, &answer, tally);
                        return Ok(());
                    }
                }
                Err(reason) => {
                    door.shut();
                    let line = String::from_utf8_lossy(line);
                    tally.fail(number, format!("no answer ({reason}) to {line}"));
                    return Ok(());
                }
            }
        }
        tally.fail(number, "takes longer than a second".to_owned());
        Ok(())
    }

    fn open(&mut self) -> Result<Door, Trouble> {
        if let Some(door) = self.door.take() {
            return Ok(door);
        }
        let mut child = Command::new(&self.binary)
            .arg("solve")
            .arg(&self.sheet)
            .args(["--requests", "-"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()?;
        let (Some(questions), Some(answers)) = (child.stdin.take(), child.stdout.take()) else {
            return Err(Trouble::Said("the program has no pipes".to_owned()));
        };
        let (send, receive) = channel();
        std::thread::spawn(move || {
            for line in BufReader::new(answers).lines() {
                if line.is_err() || line.is_ok_and(|line| send.send(line).is_err()) {
                    return;
                }
            }
        });
        Ok(Door { child, questions, answers: receive })
    }
}

impl Door {
    fn shut(mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Drop for Seeds {
    fn drop(&mut self) {
        if let Some(door) = self.door.take() {
            door.shut();
        }
    }
}

/// A line with some fields of another: valid, but nobody thought of it.
fn crossed(lines: &[String], dice: &mut Dice) -> String {
    let (line, other) = (dice.of(lines), dice.of(lines));
    let (Ok(Value::Object(mut line)), Ok(Value::Object(other))) =
        (serde_json::from_str(line), serde_json::from_str(other))
    else {
        return String::new();
    };
    for (field, value) in other {
        match (dice.below(3), line.get_mut(&field), value) {
            (0, Some(Value::Array(own)), Value::Array(more)) => own.extend(more),
            (0 | 1, _, value) => drop(line.insert(field, value)),
            _ => {}
        }
    }
    Value::Object(line).to_string()
}

fn weigh(number: u64, answer: &str, tally: &mut Tally) {
    match sound(answer) {
        Ok(came) => tally.add(came),
        Err(what) => {
            tally.inputs += 1;
            tally.fail(number, what);
        }
    }
}

/// Whether an answer is one: a solution of finite numbers, or a refusal that names what was found and what is allowed.
fn sound(answer: &str) -> Result<Came, String> {
    let value: Value = serde_json::from_str(answer).map_err(|error| format!("an answer that is no JSON: {error}"))?;
    let Some(error) = value.get("error") else {
        let holes = |table: &str| value[table].as_object().is_none_or(|table| table.values().any(Value::is_null));
        return match value["outcome"].as_str() {
            Some("steady" | "chatter") if !holes("currents") && !holes("coil_volts") => Ok(Came::Understood),
            _ => Err(format!("neither a solution nor a refusal: {}", answer.chars().take(300).collect::<String>())),
        };
    };
    let told = |field: &str| error[field].as_str().unwrap_or_default();
    let nothing_there =
        ["missing", "nothing is written", "expected value"].iter().any(|words| told("message").contains(words));
    let names_it = !told("found").is_empty() || told("message").contains('`') || nothing_there;
    if ["kind", "message", "allowed"].iter().any(|field| told(field).is_empty()) || !names_it {
        return Err(format!("a refusal that does not say enough: {error}"));
    }
    Ok(Came::Refused)
}
