//! The guide as plain text of 80 columns: for a printer without a browser, a terminal, an archive.
//! Promise: everything that the page says but the drawings.

use std::fmt::Write as _;

use super::guide_course::{capital, hundredths};
use super::guide_said as said;
use crate::shop::guide::{Chapter, CheckTold, Guide, Place, RemedyTold, StepTold, What};
use crate::shop::words::{LEADS, minutes, odds};

/// Columns of the page, and of the labels at the left.
const WIDTH: usize = 80;
const LABEL: usize = 11;

/// The whole guide.
pub fn text(guide: &Guide) -> String {
    let mut out = Text(String::new());
    out.heading(&guide.title);
    out.line(said::ABOUT);
    out.heading("What does the owner say?");
    for chapter in &guide.chapters {
        let first = chapter.places.first().map_or(0, |place| place.number);
        out.line(&format!("{}: step {first} ({} of 100 jobs)", capital(&chapter.title), hundredths(chapter.share)));
    }
    said::absent(guide).iter().for_each(|absent| out.line(absent));
    out.heading("Before anything is touched");
    guide.cautions.iter().for_each(|caution| out.labeled("mind", caution));
    out.line(LEADS.0);
    LEADS.1.iter().for_each(|(label, text)| out.labeled(label, text));
    out.line(&format!("{}{}.", said::FOLLOW[0], said::FOLLOW[1]));
    out.line(said::FOLLOW[2]);
    guide.chapters.iter().for_each(|chapter| out.chapter(chapter, &guide.remedies));
    out.heading("Remedies");
    for (index, remedy) in guide.remedies.iter().enumerate() {
        out.line(&format!("R{} {}", index + 1, capital(&remedy.title)));
        if !remedy.caution.is_empty() {
            out.labeled("mind", &remedy.caution);
        }
        out.labeled("mends", &remedy.mends.join("; "));
        remedy.rows.iter().for_each(|(label, text)| out.labeled(label, text));
        out.labeled("time", &minutes(remedy.minutes));
        out.checks(&remedy.checks);
    }
    out.heading("How the circuit works");
    for state in &guide.states {
        out.line(&format!("{} ({})", capital(&state.title), state.name));
        if !state.caution.is_empty() {
            out.labeled("mind", &state.caution);
        }
        state.told.iter().for_each(|line| out.labeled("", line));
        state.carries.iter().for_each(|(parts, amps)| out.labeled(amps, parts));
        state.live.iter().for_each(|(volts, points)| out.labeled("at", &format!("{volts}: {points}")));
    }
    out.heading("What a healthy machine shows");
    out.line(&said::HEALTHY.concat());
    for state in &guide.bands {
        out.line(&capital(&state.state.title));
        if !state.caution.is_empty() {
            out.labeled("mind", &state.caution);
        }
        for table in &state.tables {
            let black = if table.black.is_empty() { String::new() } else { format!("; black on {}", table.black) };
            out.labeled("meter", &format!("{}{black}", table.setting));
            table.rows.iter().for_each(|(place, shown)| out.labeled("", &format!("{shown}  {place}")));
        }
    }
    out.heading("Care");
    for care in &guide.care {
        out.line(&care.title);
        care.cautions.iter().for_each(|caution| out.labeled("mind", caution));
        care.told.iter().for_each(|line| out.labeled("", line));
        if let Some((heads, rows)) = &care.table {
            out.labeled("", &heads.join(" | "));
            rows.iter().for_each(|row| out.labeled("", &row.join(" | ")));
        }
        out.labeled("sources", &care.sources.join("; "));
    }
    out.heading("For the pocket");
    out.line(said::CARD);
    for group in &guide.card {
        out.line(group.title);
        for (point, shown) in &group.rows {
            let states = guide.card_states.iter().zip(shown).filter(|(_, shown)| !shown.is_empty());
            let states: Vec<String> = states.map(|(state, shown)| format!("{} {shown}", state.name)).collect();
            out.labeled("", &format!("{point}: {}", states.join("; ")));
        }
    }
    out.0
}

struct Text(String);

impl Text {
    fn heading(&mut self, text: &str) {
        let _ = writeln!(self.0, "\n{}\n{}", text.to_uppercase(), "-".repeat(text.chars().count().min(WIDTH)));
    }

    fn line(&mut self, text: &str) {
        self.0.push('\n');
        self.broken("", 0, text);
    }

    fn labeled(&mut self, label: &str, text: &str) {
        self.broken(&format!("  {label:<9}"), LABEL, text);
    }

    /// Text broken at blanks; lines after the first stand under the text.
    fn broken(&mut self, head: &str, indent: usize, text: &str) {
        let mut line = head.to_owned();
        let mut begun = false;
        for word in text.split_whitespace() {
            if begun && line.chars().count() + 1 + word.chars().count() > WIDTH {
                let _ = writeln!(self.0, "{}", line.trim_end());
                line = " ".repeat(indent);
                begun = false;
            }
            if begun {
                line.push(' ');
            }
            line.push_str(word);
            begun = true;
        }
        let _ = writeln!(self.0, "{}", line.trim_end());
    }

    fn chapter(&mut self, chapter: &Chapter, remedies: &[RemedyTold]) {
        self.heading(&chapter.title);
        self.line(&said::comes_to(chapter).concat());
        if let Some(step) = &chapter.after_water {
            self.line(&format!("After washing, rain or a fall, first: {}", step.title));
            self.done(step);
            self.labeled("", said::BLOCKED);
        }
        for place in &chapter.places {
            self.place(place, remedies);
        }
    }

    fn place(&mut self, place: &Place, remedies: &[RemedyTold]) {
        let from = place.from.as_ref().map(|(from, when)| format!("  [from {from}: {when}]")).unwrap_or_default();
        let number = place.number;
        match &place.what {
            What::Step(step) => {
                self.line(&format!("{number}. {}{from}", capital(&step.title)));
                self.done(step);
                for way in &step.ways {
                    let to = way.to.map_or_else(|| "the workshop".to_owned(), |to| format!("step {to}"));
                    let share = if way.odds > 0.0 { format!(" ({})", odds(way.odds)) } else { String::new() };
                    self.labeled("see", &format!("{}: {}{share}; go to {to}", way.when, way.means));
                }
            }
            What::Verdict(verdict) => {
                self.line(&format!("{number}. {}{from}", verdict.title));
                if !verdict.caution.is_empty() {
                    self.labeled("mind", &verdict.caution);
                }
                let known = remedies.iter().position(|remedy| remedy.name == verdict.remedy);
                let known = known.map(|index| format!(" (R{})", index + 1)).unwrap_or_default();
                self.labeled("remedy", &format!("{}{known}", verdict.remedy_title));
                if verdict.consequence {
                    self.labeled("mind", said::BEHIND);
                }
                self.checks(&verdict.checks);
                verdict.pending.iter().for_each(|pending| self.labeled("later", pending));
            }
            What::Stop { text } => self.line(&format!("{number}. {text}{from}")),
            What::Open { next } => {
                self.line(&format!("{number}. {}{from}", said::ENDS));
                for (title, share) in &place.suspects {
                    self.labeled("so far", &format!("{} {title}", odds(*share)));
                }
                self.labeled("", &said::left(place, next.as_ref()));
            }
        }
    }

    fn done(&mut self, step: &StepTold) {
        if !step.caution.is_empty() {
            self.labeled("mind", &step.caution);
        }
        step.rows.iter().for_each(|(label, text)| self.labeled(label, text));
        self.labeled("time", &minutes(step.minutes));
        if !step.healthy.is_empty() {
            self.labeled("healthy", &step.healthy);
        }
    }

    fn checks(&mut self, checks: &[CheckTold]) {
        for (index, check) in checks.iter().enumerate() {
            self.labeled(if index == 0 { "then" } else { "" }, &check.text);
            if !check.caution.is_empty() {
                self.labeled("mind", &check.caution);
            }
        }
    }
}
