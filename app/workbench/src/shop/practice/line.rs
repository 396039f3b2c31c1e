//! What the learner types, read: an act, or a look at what there is.
//! Promise: a line that is neither is refused with what is allowed and what it may have been meant for.

use machine::{Instrument, Machine};

use super::super::refusal::{Place, Reason, Refusal, did_you_mean, listed, shortened};
use super::super::stand::Stand;
use super::leads::find_control;
use super::{Act, no_such};

/// A line, read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Line {
    /// Something to be done.
    Act(Act),
    /// Something to be looked up, which costs nothing; with what a name must contain.
    List(List, String),
    /// The session is left as it is.
    Leave,
}

/// What can be looked up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum List {
    /// What can be typed.
    Help,
    /// What the owner said, and the conditions.
    Owner,
    /// Where leads can be put.
    Points,
    /// The probes that the wiring suggests.
    Probes,
    /// Keys, buttons, levers.
    Controls,
    /// Operating states.
    States,
    /// What mends.
    Remedies,
    /// What can be wrong.
    Faults,
    /// What was read so far.
    Notes,
    /// Minutes so far.
    Clock,
}

/// No name that a sheet could have makes a line so long.
const LONGEST: usize = 400;

/// Words that look something up.
const LISTS: &[(&str, List)] = &[
    ("help", List::Help),
    ("?", List::Help),
    ("owner", List::Owner),
    ("points", List::Points),
    ("nodes", List::Points),
    ("probes", List::Probes),
    ("list", List::Probes),
    ("controls", List::Controls),
    ("states", List::States),
    ("remedies", List::Remedies),
    ("faults", List::Faults),
    ("notes", List::Notes),
    ("clock", List::Clock),
];

/// A longer word is no slip of the finger.
const LONGEST_WORD: usize = 60;

/// Words that do something, with what has to follow them.
const ACTS: &[(&str, &str)] = &[
    ("red", "a node, as in `red battery.plus`"),
    ("black", "a node, as in `black battery.minus`"),
    ("in", "a part, as in `in battery-ring`"),
    ("mode", "volts, low-z, ohms, diode, lamp, amps or clamp"),
    ("state", "an operating state, as in `state held`"),
    ("press", "a control, as in `press start-button`"),
    ("release", "a control, as in `release start-button`"),
    ("remedy", "VERB@PART; `remedies` lists them"),
    ("name", "a fault; `faults` lists them"),
    ("null", ""),
    ("read", ""),
    ("hint", ""),
    ("odds", ""),
    ("give-up", ""),
    ("quit", ""),
];

impl Line {
    /// Reads a line for a machine.
    ///
    /// # Errors
    /// When it is no act and no list.
    pub fn read(text: &str, stand: &Stand) -> Result<Self, Refusal> {
        let text = text.trim();
        if text.chars().count() > LONGEST {
            let message = format!("a line of {} letters is too long", text.chars().count());
            return Err(Refusal::new(Reason::Form, Place::Request, message, text, format!("up to {LONGEST} letters")));
        }
        let (word, rest) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
        let (lower, rest) = (word.to_lowercase(), rest.trim());
        let act = |act| Ok(Self::Act(act));
        if text.starts_with("try:") {
            return act(Act::Remedy { name: text.to_owned() });
        }
        // A probe's name may be typed with blanks behind its comma.
        let prefixes = ["ask:", "meter:", "safe:"];
        if word.contains('@') || prefixes.iter().any(|prefix| text.starts_with(prefix)) {
            let name: String = text.chars().filter(|letter| !letter.is_whitespace()).collect();
            return act(Act::Probe { name });
        }
        if let Some((_, list)) = LISTS.iter().find(|(known, _)| *known == lower) {
            return Ok(Self::List(*list, rest.to_lowercase()));
        }
        if Instrument::find(&lower).is_some() && rest.is_empty() {
            return act(Act::Mode { mode: lower });
        }
        let Some((word, wanted)) = ACTS.iter().find(|(known, _)| *known == lower) else {
            return Self::control(text, stand);
        };
        if rest.is_empty() != wanted.is_empty() {
            return Err(incomplete(word, wanted, rest));
        }
        let rest = rest.to_owned();
        act(match *word {
            "red" => Act::Red { node: rest },
            "black" => Act::Black { node: rest },
            "in" => Act::Around { part: rest },
            "mode" => Act::Mode { mode: rest },
            "state" => Act::State { state: rest },
            "press" | "release" => pushed(stand, &rest, *word == "press")?,
            "remedy" => Act::Remedy { name: rest },
            "name" => Act::Name { fault: rest },
            "null" => Act::Null,
            "read" => Act::Read,
            "hint" => Act::Hint,
            "odds" => Act::Odds,
            "quit" => return Ok(Self::Leave),
            _ => Act::GiveUp,
        })
    }

    /// `CONTROL POSITION`, else nothing that is known.
    fn control(text: &str, stand: &Stand) -> Result<Self, Refusal> {
        if let Some((control, position)) = text.rsplit_once(char::is_whitespace)
            && let Ok(index) = find_control(stand, control)
        {
            let control = &stand.machine.sheet.controls[index];
            let found = control.positions.iter().find(|known| known.eq_ignore_ascii_case(position));
            let position = found.map_or(position, String::as_str).to_owned();
            return Ok(Self::Act(Act::Operate { control: control.name.name.clone(), position }));
        }
        if let Ok(index) = find_control(stand, text) {
            let control = &stand.machine.sheet.controls[index];
            let message = format!("`{}` wants a position", control.name.name);
            let allowed = listed(control.positions.iter().map(String::as_str));
            return Err(Refusal::new(Reason::Form, Place::Request, message, text, allowed));
        }
        let controls = stand.machine.sheet.controls.iter().map(|control| control.name.name.as_str());
        let known = || ACTS.iter().map(|(word, _)| *word).chain(LISTS.iter().map(|(word, _)| *word));
        let word = text.split_whitespace().next().unwrap_or_default();
        let message = format!("`{}` is nothing that can be done here", shortened(text));
        let allowed = "a probe's name, a control and its position, or one of the words that `help` tells";
        let refusal = Refusal::new(Reason::Form, Place::Request, message, text, allowed);
        Err(Refusal { hint: did_you_mean(&near(word, known().chain(controls))), ..refusal })
    }
}

fn incomplete(word: &str, wanted: &str, rest: &str) -> Refusal {
    let (message, allowed) = match wanted {
        "" => (format!("`{word}` stands alone"), format!("`{word}`")),
        wanted => (format!("`{word}` wants more"), wanted.to_owned()),
    };
    Refusal::new(Reason::Form, Place::Request, message, rest, allowed)
}

/// A button pressed or let go: its position of that word, else the one at rest or the other.
fn pushed(stand: &Stand, control: &str, down: bool) -> Result<Act, Refusal> {
    let index = find_control(stand, control)?;
    let control = &stand.machine.sheet.controls[index];
    let word = if down { "pressed" } else { "released" };
    let other = control.positions.get(usize::from(down));
    let position = control.positions.iter().find(|known| *known == word).or(other).cloned();
    let position = position.ok_or_else(|| {
        let known: Vec<&str> = control.positions.iter().map(String::as_str).collect();
        no_such("position", word, known.into_iter())
    })?;
    Ok(Act::Operate { control: control.name.name.clone(), position })
}

/// Known words that are near what was typed: a slip or two of the finger, or a piece of the word.
pub fn near<'a>(found: &str, known: impl Iterator<Item = &'a str>) -> Vec<String> {
    let found = found.trim().to_lowercase();
    let letters = found.chars().count();
    if !(1..=LONGEST_WORD).contains(&letters) {
        return Vec::new();
    }
    let most = match letters {
        1..=2 => 0,
        3..=4 => 1,
        5..=8 => 2,
        _ => 3,
    };
    let mut near: Vec<(usize, &str)> = known
        .filter_map(|word| {
            let lower = word.to_lowercase();
            let slips = slips(&found, &lower);
            let piece = letters >= 3 && lower.contains(&found);
            (slips <= most || piece).then_some((if slips <= most { slips } else { most + 1 }, word))
        })
        .collect();
    near.sort_by_key(|(slips, word)| (*slips, word.len()));
    near.dedup_by_key(|(_, word)| *word);
    near.into_iter().take(3).map(|(_, word)| word.to_owned()).collect()
}

/// Letters to be put in, taken out or changed to make one word of the other (Levenshtein's distance).
fn slips(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (above, letter) in one.chars().enumerate() {
        let mut corner = row[0];
        row[0] = above + 1;
        for (index, known) in other.iter().enumerate() {
            let changed = corner + usize::from(letter != *known);
            corner = row[index + 1];
            row[index + 1] = changed.min(corner + 1).min(row[index] + 1);
        }
    }
    row.last().copied().unwrap_or(0)
}

/// Whether something is to be listed: its name or its title contains what was asked for.
pub(super) fn wanted(filter: &str, name: &str, title: &str) -> bool {
    filter.is_empty() || name.to_lowercase().contains(filter) || title.to_lowercase().contains(filter)
}

/// The title of a place, or that none is needed.
pub(super) fn place_of(machine: &Machine, place: Option<usize>) -> String {
    place.map_or_else(|| "at hand".to_owned(), |place| machine.sheet.places[place].title.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(found: &str, known: &[&str], expected: &[&str]) {
        assert_eq!(near(found, known.iter().copied()), expected, "{found}");
    }

    #[test]
    fn law_slips_of_the_finger_and_pieces_of_words_find_what_was_meant() {
        check("reed", &["read", "red", "black"], &["red", "read"]);
        check("start", &["start-button", "key"], &["start-button"]);
        check("remdy", &["remedy", "remedies"], &["remedy"]);
        check("zzz", &["read", "red"], &[]);
        check("", &["read"], &[]);
        check(&"x".repeat(10_000), &["read"], &[]);
    }

    #[test]
    fn textbook_slips_between_kitten_and_sitting() {
        assert_eq!(slips("kitten", "sitting"), 3);
        assert_eq!(slips("", "abc"), 3);
        assert_eq!(slips("abc", "abc"), 0);
    }
}
