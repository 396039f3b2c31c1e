//! Sheets made from patterns: which there are, what is asked, and the sheet that the answers give.
//! A pattern is a sheet with questions. An answer sets values or narrows a guess; what nobody answers stays guessed, and
//! is marked so in the sheet.
//! Promise: an answer is read before it is kept; the sheet is read back before it is handed out; answers weigh in the
//! order of the questions, in whatever order they were given.

use std::collections::BTreeMap;

use machine::kind::spec::Want;
use machine::sheet::{Question, Sheet};
use machine::{BadSetting, Machine};
use quantity::show_with;
use toml_edit::{Array, DocumentMut, Item, Table, TableLike, Value};

use super::refusal::{Place, Reason, Refusal, listed};
use super::written::Unwritten;

/// A pattern as it is built in.
#[derive(Clone, Copy, Debug)]
pub struct Pattern {
    /// Its name.
    pub name: &'static str,
    /// The text of its sheet.
    pub text: &'static str,
}

macro_rules! patterns {
    ($($name:literal),+ $(,)?) => {
        /// Every pattern, the commonest machines first.
        pub const PATTERNS: &[Pattern] = &[$(Pattern {
            name: $name,
            text: include_str!(concat!("../../../../machines/patterns/", $name, ".toml")),
        }),+];
    };
}

patterns![
    "trail-bike-feed-switched",
    "trail-bike-ground-switched",
    "quad",
    "mower",
    "scooter",
    "outboard",
    "generator"
];

/// The patterns that a word means: one by its name, or all whose names begin with it.
pub fn called(word: &str) -> Vec<Pattern> {
    let word = word.trim().to_lowercase().replace(' ', "-");
    if let Some(exact) = PATTERNS.iter().find(|pattern| pattern.name == word) {
        return vec![*exact];
    }
    PATTERNS.iter().filter(|pattern| !word.is_empty() && pattern.name.starts_with(&word)).copied().collect()
}

/// A sheet in the making.
pub struct Draft {
    machine: Machine,
    document: DocumentMut,
    pattern: String,
    /// Answers by the number of their question.
    answers: BTreeMap<usize, Given>,
}

/// An answer that was read.
enum Given {
    /// A word of the question.
    Word(String),
    /// A value, as it is written into the sheet.
    Value(String),
}

impl Draft {
    /// A draft that nothing has been answered for.
    ///
    /// # Errors
    /// When the pattern is no sheet.
    pub fn of(pattern: Pattern) -> Result<Self, Unwritten> {
        let document = pattern.text.parse()?;
        Ok(Self {
            machine: Machine::new(sound(pattern.text)?),
            document,
            pattern: pattern.name.to_owned(),
            answers: BTreeMap::new(),
        })
    }

    /// What the pattern is of.
    pub fn title(&self) -> &str {
        &self.machine.sheet.title
    }

    /// What is asked.
    pub fn questions(&self) -> &[Question] {
        &self.machine.sheet.questions
    }

    /// Whether a question has its answer.
    pub fn is_answered(&self, question: usize) -> bool {
        self.answers.contains_key(&question)
    }

    /// How a question can be answered, in one line.
    pub fn allowed(&self, question: usize) -> String {
        let asked = &self.questions()[question];
        match asked.sets.first() {
            Some((part, field)) => match self.machine.sheet.parts[*part].kind.fields[*field].want {
                Want::Quantity(dimension) => dimension.allowed().to_owned(),
                Want::Ratio { low, high } => format!("a number from {low} to {high}"),
                Want::Choice(words) => words.join(", "),
                _ => "true or false".to_owned(),
            },
            None => {
                let numbered =
                    asked.answers.iter().zip(1..).map(|(answer, number)| format!("{number} {}", answer.word));
                numbered.collect::<Vec<_>>().join(", ")
            }
        }
    }

    /// What is taken when a question is not answered, in one line.
    pub fn unanswered(&self, question: usize) -> Option<String> {
        let (part, field) = *self.questions()[question].sets.first()?;
        let kind = self.machine.sheet.parts[part].kind;
        let Want::Quantity(dimension) = kind.fields[field].want else { return None };
        let shown = |value: f64| show_with(value, dimension, 3);
        let guess = self.machine.sheet.guesses.iter().find(|guess| (guess.part, guess.field) == (part, field));
        let written = self.machine.values()[self.machine.layout(part).values + field];
        Some(match guess {
            Some(guess) => format!("anything from {} to {}", shown(guess.low), shown(guess.high)),
            None => shown(written),
        })
    }

    /// Takes the answer to a question by its name.
    ///
    /// # Errors
    /// When there is no such question, or it does not take that answer.
    pub fn answer(&mut self, name: &str, text: &str) -> Result<(), Refusal> {
        let question = self.questions().iter().position(|question| question.name.name == name.trim());
        let question = question.ok_or_else(|| {
            let names = listed(self.questions().iter().map(|question| question.name.name.as_str()));
            let message = format!("this pattern asks no question `{}`", name.trim());
            Refusal::new(Reason::Name, Place::Request, message, name, names)
        })?;
        let given = match self.questions()[question].sets.is_empty() {
            true => Given::Word(self.word(question, text)?),
            false => Given::Value(self.value(question, text)?),
        };
        self.answers.insert(question, given);
        Ok(())
    }

    /// The word that is meant: in full, or by a beginning that only one has; also by its number.
    fn word(&self, question: usize, text: &str) -> Result<String, Refusal> {
        let typed = text.trim().to_lowercase().replace([' ', '_'], "-");
        let words = || self.questions()[question].answers.iter().map(|answer| answer.word.as_str());
        let by_number = typed.parse::<usize>().ok().and_then(|number| words().nth(number.checked_sub(1)?));
        let begins: Vec<&str> = words().filter(|word| !typed.is_empty() && word.starts_with(&typed)).collect();
        let exact = words().find(|word| *word == typed);
        let only = if let [word] = begins.as_slice() { Some(*word) } else { None };
        match exact.or(by_number).or(only) {
            Some(word) => Ok(word.to_owned()),
            None => {
                let message = format!("`{}` is no answer to this", text.trim());
                Err(Refusal::new(Reason::Value, Place::Request, message, text, self.allowed(question))
                    .with_hint("type one of these words or its number, or nothing when it is not known"))
            }
        }
    }

    /// A value for all fields of the question; a bare number has the usual unit, where there is only one: 10 of a cable
    /// may be an area or a gauge.
    fn value(&self, question: usize, text: &str) -> Result<String, Refusal> {
        let mut written = text.trim().to_owned();
        for (part, field) in &self.questions()[question].sets {
            let known = &self.machine.sheet.parts[*part];
            let field = &known.kind.fields[*field];
            let path = format!("{}.{}", known.name.name, field.name);
            let bare = written.replace(',', ".").parse::<f64>().is_ok();
            if let (true, Want::Quantity(dimension)) = (bare, field.want)
                && let Some(unit) = dimension.loose_unit()
            {
                written = format!("{written} {unit}");
            }
            self.machine.setting(&path, &written).map_err(|error| {
                let (message, allowed, hint) = match error {
                    BadSetting::Value(wrong) => (wrong.message, wrong.allowed, wrong.hint),
                    _ => (format!("`{path}` cannot be set"), self.allowed(question), None),
                };
                let refusal = Refusal::new(Reason::Value, Place::Request, message, text, allowed);
                Refusal { hint, ..refusal }
            })?;
        }
        Ok(written)
    }

    /// The text of the sheet, and how many of its values are guessed.
    ///
    /// # Errors
    /// When what comes out has a problem.
    pub fn written(&self, id: &str, title: &str) -> Result<(String, usize), Unwritten> {
        let mut document = self.document.clone();
        for (question, given) in &self.answers {
            self.apply(&mut document, *question, given);
        }
        document.remove("question");
        document["machine"]["id"] = toml_edit::value(id);
        document["machine"]["title"] = toml_edit::value(title);
        self.mark(&mut document);
        let guessed = document.get("guess").and_then(Item::as_table_like).map_or(0, TableLike::len);
        if guessed == 0 {
            document.remove("guess");
        }
        let text = format!("{}{}", heading(&self.pattern, guessed), without_heading(&document.to_string()));
        sound(&text).map(|_| (text, guessed))
    }

    fn apply(&self, document: &mut DocumentMut, question: usize, given: &Given) {
        let asked = &self.questions()[question];
        match given {
            Given::Value(text) => {
                for (part, field) in &asked.sets {
                    self.set(document, *part, *field, Value::from(text.as_str()));
                }
            }
            Given::Word(word) => {
                let Some(answer) = asked.answers.iter().find(|answer| answer.word == *word) else { return };
                let path = |part: usize, field: usize| {
                    let known = &self.machine.sheet.parts[part];
                    format!("{}.{}", known.name.name, known.kind.fields[field].name)
                };
                let table = self.document["question"][&asked.name.name]["answers"][word.as_str()].clone();
                for (part, field, _) in &answer.sets {
                    if let Some(value) = table.get(path(*part, *field)).and_then(Item::as_value) {
                        self.set(document, *part, *field, value.clone());
                    }
                }
                for guess in &answer.guesses {
                    let path = path(guess.part, guess.field);
                    let middle = self.shown(guess.part, guess.field, (guess.low * guess.high).max(0.0).sqrt());
                    self.set(document, guess.part, guess.field, middle);
                    let mut between: Option<Array> = table.get(&path).and_then(Item::as_array).cloned();
                    between.iter_mut().for_each(|between| between.decor_mut().clear());
                    let guesses = document.entry("guess").or_insert(Item::Table(Table::new()));
                    if let (Some(between), Some(guesses)) = (between, guesses.as_table_like_mut()) {
                        guesses.insert(&path, toml_edit::value(between));
                    }
                }
            }
        }
    }

    /// Writes a value into its part and takes it off the guesses.
    fn set(&self, document: &mut DocumentMut, part: usize, field: usize, mut value: Value) {
        let known = &self.machine.sheet.parts[part];
        let field = known.kind.fields[field].name;
        value.decor_mut().clear();
        document["part"][&known.name.name][field] = Item::Value(value);
        if let Some(guesses) = document.get_mut("guess").and_then(Item::as_table_like_mut) {
            guesses.remove(&format!("{}.{field}", known.name.name));
        }
    }

    /// A number as the sheet writes it.
    fn shown(&self, part: usize, field: usize, number: f64) -> Value {
        match self.machine.sheet.parts[part].kind.fields[field].want {
            Want::Quantity(dimension) => Value::from(show_with(number, dimension, 3)),
            _ => Value::from((number * 100.0).round() / 100.0),
        }
    }

    /// Says behind every guessed value that it is one, and behind what an unanswered question leaves as the pattern has it.
    fn mark(&self, document: &mut DocumentMut) {
        let guesses = document.get("guess").and_then(Item::as_table_like);
        let guessed: Vec<String> =
            guesses.into_iter().flat_map(TableLike::iter).map(|(path, _)| path.to_owned()).collect();
        let open = self.questions().iter().enumerate().filter(|(question, _)| !self.is_answered(*question));
        let assumed = open.flat_map(|(_, question)| {
            let words = question.answers.iter().flat_map(|answer| &answer.sets);
            question.sets.iter().copied().chain(words.map(|(part, field, _)| (*part, *field)))
        });
        for (part, field) in assumed {
            self.mark_one(document, part, field, ASSUMED);
        }
        for path in guessed {
            let known = path.split_once('.').and_then(|(part, field)| {
                let part = self.machine.part(part).ok()?;
                Some((part, self.machine.slot(part, field).ok()? - self.machine.layout(part).values))
            });
            if let Some((part, field)) = known {
                self.mark_one(document, part, field, MARK);
            }
        }
    }

    /// Says something behind a value, written out where the pattern leaves it to its kind; a word that is left is not.
    fn mark_one(&self, document: &mut DocumentMut, part: usize, field: usize, mark: &str) {
        let known = &self.machine.sheet.parts[part];
        let name = known.kind.fields[field].name;
        let Some(table) = document["part"].get_mut(&known.name.name).and_then(Item::as_table_like_mut) else { return };
        let number = self.machine.values()[self.machine.layout(part).values + field];
        let is_number = matches!(known.kind.fields[field].want, Want::Quantity(_) | Want::Ratio { .. });
        if table.get(name).is_none() && is_number && number.is_finite() {
            table.insert(name, Item::Value(self.shown(part, field, number)));
        }
        if let Some(value) = table.get_mut(name).and_then(Item::as_value_mut) {
            value.decor_mut().set_suffix(mark);
        }
    }
}

/// What stands behind a guessed value.
const MARK: &str = "  # a guess";
/// What stands behind a value that a question left as the pattern has it.
const ASSUMED: &str = "  # assumed: nobody has read it";

/// Takes the mark of a guess off a value.
pub fn unmark(value: &mut Value) {
    let decor = value.decor_mut();
    let suffix = decor.suffix().and_then(|suffix| suffix.as_str()).unwrap_or_default().replace(MARK, "");
    decor.set_suffix(suffix);
}

/// What a new sheet begins with.
fn heading(pattern: &str, guessed: usize) -> String {
    let guesses = match guessed {
        0 => "No value in it is guessed between two others; what is not marked is the pattern's.".to_owned(),
        count => format!(
            "{count} values are guesses, marked so, each\n\
             # between the two of [guess]: advice reckons with all of that range. Correct what you learn and delete its\n\
             # line under [guess], or let `probewright fit --write` do it from readings of the healthy machine."
        ),
    };
    format!("# Made from the pattern {pattern}.\n# {guesses}\n")
}

/// The text without the comment that it begins with.
fn without_heading(text: &str) -> &str {
    let mut rest = text;
    while rest.starts_with('#') {
        rest = rest.split_once('\n').map_or("", |(_, rest)| rest);
    }
    rest
}

/// The sheet of a text without problems.
fn sound(text: &str) -> Result<Sheet, Unwritten> {
    let read = machine::sheet::read(text);
    let first = read.findings.first().map_or_else(String::new, |finding| finding.message.clone());
    read.sheet.ok_or(Unwritten::Unsound(first))
}
