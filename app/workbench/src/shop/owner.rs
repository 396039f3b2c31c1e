//! The owner's sheet: what is worth asking someone who is far away, and the answers as one line of text.
//! Idea: each answer has a short code of its own, a number, a letter and two check letters, so that the line can be
//! copied by a program or written off by hand; codes of another sheet or a mistyped one are told, not guessed.
//! Law: a code that was changed at random passes once in 529; check letters are a digest of sheet, question and answer.
//! Promise: an owner is never asked to take a cover off, to bridge, to measure, or to touch what moves; what needs the
//! starter carries its caution. The same line taken twice counts once.

use diagnosis::complaint::COMPLAINTS;
use journal::Entry;
use machine::probe::{SINCE, Sort};
use machine::{Machine, Probe};
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::refusal::{Place, Reason, Refusal};
use super::words;

/// Version of the line.
const VERSION: &str = "pw1";
/// Letters that are not taken for each other or for a digit.
const LETTERS: &[u8; 23] = b"abcdefghjkmnpqrstuvwxyz";
/// Things to look at or listen to, at most.
const CHECKS: usize = 8;

/// What an owner is asked.
#[derive(Debug, Serialize)]
pub struct OwnersSheet {
    /// The machine's title.
    pub title: String,
    /// How the line begins: version, machine, what stands for its sheet.
    pub head: String,
    /// The questions in order.
    pub questions: Vec<Asked>,
}

/// One question.
#[derive(Debug, Serialize)]
pub struct Asked {
    /// `complaint`, `air` or a probe's name.
    pub name: String,
    /// In words.
    pub title: String,
    /// How to get there: controls, one by one.
    pub setup: Vec<String>,
    /// What to mind; empty when nothing.
    pub caution: String,
    /// The answers.
    pub answers: Vec<Answer>,
}

/// One answer.
#[derive(Debug, Serialize)]
pub struct Answer {
    /// As a job keeps it.
    pub value: String,
    /// In words.
    pub text: String,
    /// What stands for it in the line.
    pub code: String,
}

impl OwnersSheet {
    /// The sheet for a machine; `fingerprint` stands for its text.
    pub fn new(machine: &Machine, fingerprint: &str) -> Self {
        let mark: String = fingerprint.chars().take(4).collect();
        let mut questions = vec![
            asked("complaint", "What does the machine do?", COMPLAINTS.iter().map(|known| (known.name, known.title))),
            asked(
                "ask:since",
                "What happened since it last worked?",
                SINCE.iter().map(|word| (*word, words::since(word))),
            ),
            asked("air", "How warm is it where the machine stands?", AIR),
        ];
        let safe = machine.proposed_probes().into_iter().filter(|probe| is_for_an_owner(machine, probe));
        questions.extend(safe.take(CHECKS).map(|probe| Asked {
            setup: probe.setup.clone(),
            caution: probe.caution.clone(),
            ..asked(&probe.name, &sentence(&probe.title), probe.words().iter().map(|word| (*word, *word)))
        }));
        for (number, question) in questions.iter_mut().enumerate() {
            for (index, answer) in question.answers.iter_mut().enumerate() {
                let letter = char::from(LETTERS[index % LETTERS.len()]);
                let check = check(&mark, &question.name, &answer.value);
                answer.code = format!("{}{letter}{check}", number + 1);
            }
        }
        Self { title: machine.sheet.title.clone(), head: format!("{VERSION} {} {mark}", machine.sheet.id), questions }
    }

    /// What a line says, as entries in the order asked; what was left out is left open.
    ///
    /// # Errors
    /// When the line is of another machine, sheet or version, or one of its codes is none.
    pub fn read(&self, line: &str) -> Result<Vec<Entry>, Refusal> {
        let lower = line.to_lowercase();
        let mut words = lower.split([' ', ',', ';', '\n', '\t']).filter(|word| !word.is_empty());
        for (expected, what) in self.head.to_lowercase().split(' ').zip(["version", "machine", "sheet"]) {
            let found = words.next().unwrap_or_default();
            if found != expected {
                let message = format!("the line is of another {what}: `{found}`, not `{expected}`");
                let refusal = Refusal::new(
                    Reason::Value,
                    Place::Reading,
                    message,
                    line,
                    format!("a line that begins `{}`", self.head),
                );
                return Err(
                    refusal.with_hint("send the owner a new sheet, or look whether the beginning was copied whole")
                );
            }
        }
        let mut taken: Vec<Option<&Answer>> = vec![None; self.questions.len()];
        let mut wrong = Vec::new();
        for code in words {
            let found = self.questions.iter().enumerate().find_map(|(number, question)| {
                question.answers.iter().find(|answer| answer.code == code).map(|answer| (number, answer))
            });
            match found {
                Some((number, answer)) if taken[number].is_none_or(|first| first.code == answer.code) => {
                    taken[number] = Some(answer);
                }
                Some((number, _)) => wrong.push(format!("question {} has two answers", number + 1)),
                None => wrong.push(format!("`{code}` is no code of this sheet, it is mistyped")),
            }
        }
        if !wrong.is_empty() {
            let refusal = Refusal::new(
                Reason::Value,
                Place::Reading,
                wrong.join("; "),
                line,
                "codes as they stand beside the answers",
            );
            return Err(refusal.with_hint("ask the owner for these again; nothing was kept"));
        }
        let entries = self.questions.iter().zip(taken).filter_map(|(question, answer)| {
            let value = answer?.value.clone();
            Some(match question.name.as_str() {
                "complaint" => Entry::Complaint { value },
                "air" => Entry::Air { value },
                probe => Entry::Reading { probe: probe.to_owned(), value },
            })
        });
        Ok(entries.collect())
    }
}

/// A key for the entry of a line: the same line for the same job gives the same one.
pub fn key(job: &str, entry: &Entry) -> String {
    let said = serde_json::to_string(entry).unwrap_or_default();
    let digest = Sha256::new().chain_update("owner").chain_update(job).chain_update("\n").chain_update(said).finalize();
    digest.iter().take(16).map(|byte| format!("{byte:02x}")).collect()
}

/// Temperatures that nobody needs a thermometer for, each with a figure in its middle (estimate).
const AIR: [(&str, &str); 5] = [
    ("-10 C", "hard frost"),
    ("-2 C", "around freezing, a little frost"),
    ("6 C", "cold, no frost"),
    ("16 C", "mild"),
    ("28 C", "warm, summer"),
];

fn asked<'a>(name: &str, title: &str, answers: impl IntoIterator<Item = (&'a str, &'a str)>) -> Asked {
    let answer =
        |(value, text): (&str, &str)| Answer { value: value.to_owned(), text: text.to_owned(), code: String::new() };
    Asked {
        name: name.to_owned(),
        title: title.to_owned(),
        setup: Vec::new(),
        caution: String::new(),
        answers: answers.into_iter().map(answer).collect(),
    }
}

/// Eyes and ears at the controls, nothing opened, nobody else needed.
fn is_for_an_owner(machine: &Machine, probe: &Probe) -> bool {
    let open = probe.places.iter().all(|place| machine.sheet.places[*place].access_minutes <= 0.0);
    matches!(probe.sort, Sort::Listen(_) | Sort::Watch(_) | Sort::Feel(_)) && open && probe.hands <= 2
}

fn check(mark: &str, question: &str, answer: &str) -> String {
    let digest = Sha256::new().chain_update(mark).chain_update("\n").chain_update(question).chain_update("\n");
    let digest = digest.chain_update(answer).finalize();
    digest.iter().take(2).map(|byte| char::from(LETTERS[usize::from(*byte) % LETTERS.len()])).collect()
}

fn sentence(title: &str) -> String {
    let mut letters = title.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet() -> OwnersSheet {
        let text = include_str!("../../../../machines/curlew.toml");
        let machine = Machine::new(machine::sheet::read(text).sheet.unwrap());
        OwnersSheet::new(&machine, "7f3a0000")
    }

    /// The codes of the given answers behind the head.
    fn line(sheet: &OwnersSheet, answers: &[usize]) -> String {
        let codes = sheet.questions.iter().zip(answers).map(|(question, index)| question.answers[*index].code.as_str());
        format!("{} {}", sheet.head, codes.collect::<Vec<_>>().join(" "))
    }

    #[test]
    fn law_every_answer_comes_back_as_it_was_given() {
        let sheet = sheet();
        for pick in 0..12 {
            let answers: Vec<usize> = sheet.questions.iter().map(|question| pick % question.answers.len()).collect();
            let entries = sheet.read(&line(&sheet, &answers)).unwrap();
            assert_eq!(entries.len(), sheet.questions.len());
            for ((entry, question), index) in entries.iter().zip(&sheet.questions).zip(&answers) {
                let value = match entry {
                    Entry::Complaint { value } | Entry::Air { value } => value,
                    Entry::Reading { probe, value } if *probe == question.name => value,
                    other => panic!("{other:?} for {}", question.name),
                };
                assert_eq!(*value, question.answers[*index].value);
            }
        }
        let shouted = line(&sheet, &[0, 1, 2]).to_uppercase().replace(' ', ", ");
        assert_eq!(sheet.read(&shouted).unwrap().len(), 3, "capitals, commas and questions left open are no mistakes");
    }

    #[test]
    fn law_a_line_with_one_letter_changed_is_hardly_ever_taken_for_another_answer() {
        let sheet = sheet();
        let line = line(&sheet, &[1, 3, 2, 0, 1, 0, 1]);
        let right = sheet.read(&line).unwrap();
        let (mut tried, mut passed) = (0, 0);
        for (at, old) in line.char_indices().filter(|(_, old)| *old != ' ') {
            for new in "abcdefghijklmnopqrstuvwxyz0123456789".chars().filter(|new| *new != old) {
                let mut changed = line.clone();
                changed.replace_range(at..=at, &new.to_string());
                tried += 1;
                passed += u32::from(sheet.read(&changed).is_ok_and(|entries| entries != right));
            }
        }
        assert!(tried > 900 && passed * 200 <= tried, "{passed} of {tried} typing mistakes are not noticed");
    }

    #[test]
    fn law_two_codes_in_each_others_place_are_no_mistake_and_two_answers_to_one_question_are() {
        let sheet = sheet();
        let (first, second) = (&sheet.questions[0].answers, &sheet.questions[1].answers);
        let read = |codes: &[&Answer]| {
            let codes: Vec<&str> = codes.iter().map(|answer| answer.code.as_str()).collect();
            sheet.read(&format!("{} {}", sheet.head, codes.join(" ")))
        };
        assert_eq!(read(&[&second[0], &first[0]]).unwrap(), read(&[&first[0], &second[0]]).unwrap());
        assert!(read(&[&first[0], &first[1]]).is_err());
        let other = OwnersSheet { head: sheet.head.replace("7f3a", "beef"), ..self::sheet() };
        assert!(other.read(&line(&sheet, &[0])).is_err(), "codes of another sheet");
    }

    #[test]
    fn law_nothing_asks_an_owner_to_open_bridge_or_measure() {
        let sheet = sheet();
        assert!(sheet.questions.len() >= 5);
        for question in &sheet.questions[3..] {
            let instrument = question.name.split('@').next().unwrap();
            assert!(matches!(instrument, "listen" | "watch" | "feel"), "{}", question.name);
            let starts = question.name.contains("@held");
            assert!(!starts || !question.caution.is_empty(), "the starter carries its caution: {}", question.name);
        }
    }
}
