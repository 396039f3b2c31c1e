//! A story, read from its text: what is planted, what is said and seen, and how the job has to end.
//! Promise: a key that is not known, a value of the wrong kind, or a story that expects nothing fails.

use std::collections::BTreeMap;

use quantity::{Celsius, Dimension};
use toml::{Table, Value};

/// A story.
pub struct Story {
    pub file: String,
    pub title: String,
    pub machine: String,
    /// Computed from the machine when it is not given; `none` when its owner says nothing.
    pub complaint: Option<String>,
    pub faults: Vec<String>,
    /// Lines of a sheet that say what is planted beside the catalogue: the desk does not see them.
    pub own: String,
    pub air: Option<Celsius>,
    pub instruments: Option<Vec<String>>,
    /// Taken before the desk is asked: name, and what was read; measured on the machine where no value is given.
    pub opening: Vec<(String, Option<String>)>,
    /// Probes that cannot be taken.
    pub skip: Vec<String>,
    /// What is read the first time in place of what is there.
    pub wrong: BTreeMap<String, String>,
    /// Measurements, counted from 1, at which a tip slips off: a number reads as with nothing between the tips.
    pub slips: Vec<usize>,
    /// Steps, counted from 1, at which the fault is away and the machine shows what a healthy one shows.
    pub away: Vec<usize>,
    /// Said once the repair check is done.
    pub after: Vec<(String, String)>,
    pub expect: Expect,
}

/// How it has to end.
pub struct Expect {
    /// What the verdict may name first; nothing when there must be no verdict.
    pub verdict: Vec<String>,
    pub proven: bool,
    /// How the job may end without a verdict: a word of `Stop`, or `undecided`.
    pub stop: Vec<String>,
    /// The first step that is advised.
    pub first: Option<String>,
    /// Never proposed; a name, or its beginning and `*`.
    pub never: Vec<String>,
    /// What the proof waits for when the repair check is done.
    pub pending: Option<String>,
    pub most_steps: usize,
    pub because: String,
}

/// One table of a story, taken apart key by key.
struct Keys<'a> {
    file: &'a str,
    table: Table,
}

impl Keys<'_> {
    fn wanted(&self, what: &str) -> ! {
        panic!("{}: `{what}` is missing or of the wrong kind", self.file)
    }

    fn maybe<T>(&mut self, key: &str, take: impl Fn(Value) -> Option<T>) -> Option<T> {
        let value = self.table.remove(key)?;
        Some(take(value).unwrap_or_else(|| self.wanted(key)))
    }

    fn must<T>(&mut self, key: &str, take: impl Fn(Value) -> Option<T>) -> T {
        self.maybe(key, take).unwrap_or_else(|| self.wanted(key))
    }

    fn nothing_left(&self) {
        let left: Vec<&String> = self.table.keys().collect();
        assert!(left.is_empty(), "{}: unknown keys {left:?}", self.file);
    }
}

fn text(value: Value) -> Option<String> {
    value.as_str().map(str::to_owned)
}

fn texts(value: Value) -> Option<Vec<String>> {
    value.as_array()?.iter().map(|text| Some(text.as_str()?.to_owned())).collect()
}

fn counts(value: Value) -> Option<Vec<usize>> {
    value.as_array()?.iter().map(count).collect()
}

fn count(value: &Value) -> Option<usize> {
    usize::try_from(value.as_integer()?).ok()
}

/// `NAME = VALUE`, or a name alone.
fn readings(value: Value) -> Option<Vec<(String, Option<String>)>> {
    let split = |text: &String| match text.split_once(" = ") {
        Some((name, value)) => (name.trim().to_owned(), Some(value.trim().to_owned())),
        None => (text.trim().to_owned(), None),
    };
    Some(texts(value)?.iter().map(split).collect())
}

/// Reads a story.
pub fn read(file: &str, source: &str) -> Story {
    let mut table: Table = source.parse().unwrap_or_else(|error| panic!("{file}: {error}"));
    let Some(Value::Table(expect)) = table.remove("expect") else { panic!("{file}: no [expect]") };
    let mut keys = Keys { file, table };
    let mut expect = Keys { file, table: expect };
    assert_eq!(keys.table.remove("case"), Some(Value::Integer(1)), "{file}: `case = 1` is missing");
    let air = |value: Value| quantity::read(value.as_str()?, Dimension::Temperature).ok().map(Celsius);
    let wrong = |value: Value| {
        let each = |(name, value): (&String, &Value)| Some((name.clone(), value.as_str()?.to_owned()));
        value.as_table()?.iter().map(each).collect::<Option<BTreeMap<_, _>>>()
    };
    let said = |value: Value| readings(value)?.into_iter().map(|(name, value)| Some((name, value?))).collect();
    let story = Story {
        file: file.to_owned(),
        title: keys.must("title", text),
        machine: keys.must("machine", text),
        complaint: keys.maybe("complaint", text),
        faults: keys.must("faults", texts),
        own: keys.maybe("own", text).unwrap_or_default(),
        air: keys.maybe("air", air),
        instruments: keys.maybe("instruments", texts),
        opening: keys.maybe("opening", readings).unwrap_or_default(),
        skip: keys.maybe("skip", texts).unwrap_or_default(),
        wrong: keys.maybe("wrong", wrong).unwrap_or_default(),
        slips: keys.maybe("slips", counts).unwrap_or_default(),
        away: keys.maybe("away", counts).unwrap_or_default(),
        after: keys.maybe("after", said).unwrap_or_default(),
        expect: Expect {
            verdict: expect.maybe("verdict", texts).unwrap_or_default(),
            proven: expect.maybe("proven", |value| value.as_bool()).unwrap_or_default(),
            stop: expect.maybe("stop", texts).unwrap_or_default(),
            first: expect.maybe("first", text),
            never: expect.maybe("never", texts).unwrap_or_default(),
            pending: expect.maybe("pending", text),
            most_steps: expect.must("most_steps", |value| count(&value)),
            because: expect.must("because", text),
        },
    };
    keys.nothing_left();
    expect.nothing_left();
    let ends = !story.expect.verdict.is_empty() || !story.expect.stop.is_empty();
    assert!(ends, "{file}: neither a `verdict` nor a `stop` is expected");
    assert!(!story.expect.because.is_empty(), "{file}: `because` says nothing");
    story
}

#[test]
#[should_panic(expected = "unknown keys")]
fn a_key_that_no_story_has_is_refused() {
    read("misspelled", &format!("fualts = []\n{SHORTEST}"));
}

#[test]
#[should_panic(expected = "unknown keys")]
fn a_key_that_no_expectation_has_is_refused() {
    read("misspelled", &format!("{SHORTEST}\nneverr = []"));
}

#[test]
#[should_panic(expected = "neither")]
fn a_story_that_expects_no_end_is_refused() {
    read("no end", &SHORTEST.replace("verdict = [\"x\"]", ""));
}

const SHORTEST: &str = "case = 1\ntitle = \"\"\nmachine = \"curlew\"\nfaults = []\n[expect]\nverdict = [\"x\"]\nproven = true\nmost_steps = 1\nbecause = \"x\"";
