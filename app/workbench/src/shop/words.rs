//! What terminal and pages say in the same words: probes, bands, odds, verdicts, checks.
//! Promise: plain text in rows of label and content; how it looks is the mouth's own affair.

use diagnosis::advice::{Advice, Band, Check, Pending, Step, Stop, Verdict};
use diagnosis::complaint::COMPLAINTS;
use diagnosis::proof;
use journal::Entry;
use machine::{Machine, Probe};
use quantity::{Dimension, Reading, show};

use super::bill;

/// A label and what stands behind it.
pub type Row = (&'static str, String);

/// A probability in words that fit a bench: whole percent, never 0 or 100.
pub fn odds(probability: f64) -> String {
    match probability {
        p if p < 0.005 => "<1 %".to_owned(),
        p if p > 0.995 => ">99 %".to_owned(),
        p => format!("{:.0} %", p * 100.0),
    }
}

/// A healthy band in the unit of the reading.
pub fn band(band: &Band, dimension: Dimension) -> String {
    match band {
        Band::Between { low, high, .. } => format!("{} to {}", show(*low, dimension), show(*high, dimension)),
        Band::Expected(word) => word.clone(),
    }
}

/// A reading beside what a healthy machine shows, in a sentence.
pub fn compared(probe: &Probe, reading: &Reading, band: &Band) -> String {
    let verdict = if proof::within(band, reading) { "as a healthy machine" } else { "not as a healthy machine" };
    format!("{}: {verdict}", probe.show(reading))
}

/// Minutes of work, no finer than they are known: tenths below ten, whole ones above, hours where there are many.
pub fn minutes(minutes: f64) -> String {
    match minutes {
        few if few < 9.95 => format!("{} min", (few * 10.0).round() / 10.0),
        some if some < 300.0 => format!("{some:.0} min"),
        many => show(many * 60.0, Dimension::Time),
    }
}

/// A step's heading.
pub fn step_title(step: &Step) -> String {
    let again = if step.again { "once more, since much rests on it: " } else { "" };
    format!("{again}{}", step.title)
}

/// How a probe is taken: leads or place, the meter's setting, the state and how to get into it.
pub fn how(machine: &Machine, probe: &Probe) -> Vec<Row> {
    let mut rows = Vec::new();
    if !probe.red.is_empty() {
        rows.push(("red", point(machine, &probe.red)));
        rows.push(("black", point(machine, &probe.black)));
    } else if let Some(place) = probe.places.first() {
        rows.push(("place", machine.sheet.places[*place].title.clone()));
    }
    if !probe.setting().is_empty() {
        rows.push(("meter", probe.setting().to_owned()));
    }
    if let Ok(state) = machine.state(&probe.state) {
        let how = if probe.setup.is_empty() { String::new() } else { format!(" ({})", probe.setup.join("; ")) };
        rows.push(("state", format!("{}{how}", state.title)));
    }
    rows
}

/// Time, hands and caution of a step.
pub fn cost(probe: Option<&Probe>, step: &Step) -> Vec<Row> {
    let waits = step.elapsed > step.minutes + 0.5;
    let waits = if waits { format!(" of work, done after {}", minutes(step.elapsed)) } else { String::new() };
    let mut rows = vec![("time", format!("{}{waits}", minutes(step.minutes)))];
    if let Some(helps) = probe.map(Probe::helps).filter(|helps| !helps.is_empty()) {
        rows.push(("hands", helps.to_owned()));
    }
    if !step.caution.is_empty() {
        rows.push(("mind", step.caution.clone()));
    }
    rows
}

/// A point of the machine: its name in words, what meets there, where it is, hints that find the pin.
pub fn point(machine: &Machine, name: &str) -> String {
    let node = machine.node(name).ok();
    let place = node.and_then(|node| machine.place_of_node(node));
    let place = place.map(|place| machine.sheet.places[place].title.as_str());
    let hints = node.map(|node| machine.pin_hint(node)).unwrap_or_default();
    let meets = node.and_then(|node| machine.meeting(node)).unwrap_or_default();
    let title = node.map_or_else(|| name.to_owned(), |node| machine.node_title(node));
    let beside = [meets, place.unwrap_or_default().to_owned(), hints].into_iter().filter(|text| !text.is_empty());
    let beside: Vec<String> = beside.collect();
    if beside.is_empty() { title } else { format!("{title} ({})", beside.join("; ")) }
}

/// What a reading of a probe is measured in; a ratio where it is a word.
pub fn dimension(machine: &Machine, probe: &str) -> Dimension {
    machine.probe(probe).map_or(Dimension::Ratio, |probe| probe.dimension())
}

/// The verdict in one line.
pub fn verdict(advice: &Advice, verdict: &Verdict) -> String {
    let title = |fault: &String| fault_title(advice, fault);
    let together = |faults: &Vec<String>| faults.iter().map(title).collect::<Vec<_>>().join(", and with it ");
    let titles: Vec<String> = verdict.any_of.iter().map(together).collect();
    format!("Likely ({}): {}", odds(verdict.probability), titles.join(", or "))
}

/// A fault in the technician's words, where the advice names it.
pub fn fault_title(advice: &Advice, fault: &str) -> String {
    let known = advice.suspects.iter().find(|suspect| suspect.fault == fault);
    known.map_or_else(|| fault.to_owned(), |suspect| suspect.title.clone())
}

/// What a verdict rests on and what is to be done about it.
pub fn verdict_rows(machine: &Machine, advice: &Advice, verdict: &Verdict) -> Vec<Row> {
    let mut rows = Vec::new();
    if let Some(keystone) = &advice.keystone {
        rows.push(("rests on", keystone.clone()));
    }
    if verdict.consequence {
        let text = "this seldom comes by itself: look for the cause behind it before the job is closed";
        rows.push(("mind", text.to_owned()));
    }
    rows.push(("remedy", verdict.remedy_title.clone()));
    if !verdict.caution.is_empty() {
        rows.push(("mind", verdict.caution.clone()));
    }
    for (index, check) in verdict.proof.iter().enumerate() {
        rows.push((if index == 0 { "then" } else { "" }, check_line(machine, check)));
    }
    if let Some(pending) = verdict.pending {
        rows.push(("later", pending.to_string()));
    }
    rows
}

/// One line of the repair check.
pub fn check_line(machine: &Machine, check: &Check) -> String {
    let dimension = dimension(machine, &check.probe);
    if check.refusal { check.title.clone() } else { format!("{}: {}", check.title, band(&check.band, dimension)) }
}

/// What has to be minded at a reading of the repair check.
pub fn check_caution(machine: &Machine, check: &Check) -> String {
    let state = machine.probe(&check.probe).ok().and_then(|probe| machine.state(&probe.state).ok());
    state.map(|state| state.caution).unwrap_or_default()
}

/// Why nothing more is advised.
pub fn stop(stop: Stop) -> &'static str {
    match stop {
        Stop::NoneOfThese => "No fault in the catalogue explains these readings.",
        Stop::NotWorthMore => "No probe is worth its minutes any more.",
        Stop::Unsafe => "What is left to be measured would not be safe.",
    }
}

/// What is still wanted before a cause that came and went is proven, perhaps once more, and why where little spoke for
/// what was done.
pub fn held_up(verdict: &Verdict, pending: Pending, again: bool) -> Vec<Row> {
    let wanted = if again { format!("once more: {pending}") } else { pending.to_string() };
    let mut rows = vec![("wanted", wanted)];
    if !verdict.settled {
        let text = "little speaks for this cause beside that it starts again: another that comes and goes may be away";
        rows.push(("mind", text.to_owned()));
    }
    rows
}

/// The check of the meter's leads, which comes before anything is measured.
pub const LEADS: (&str, [(&str, &str); 2]) = (
    "First the meter itself: ohms, both tips held together",
    [
        ("healthy", "0.05 Ω to 0.4 Ω"),
        ("means", "OL or jumping: a broken lead, the wrong socket, a flat battery in the meter"),
    ],
);

/// The check of the ammeter, which comes before its zero is believed.
pub const AMMETER: (&str, [(&str, &str); 4]) = (
    "First the ammeter: the test lamp and the meter in series across the battery",
    [
        ("meter", "dc amps, red lead in the 10 A jack"),
        ("mind", "lamp first, meter second: never the meter alone across the battery"),
        ("healthy", "about 0.4 A with a lamp of 5 W"),
        ("means", "0.00 A: the meter's fuse is blown or the lead is in the wrong jack"),
    ],
);

/// A complaint in the owner's words; its name where nobody knows it.
pub fn complaint(name: &str) -> &str {
    COMPLAINTS.iter().find(|known| known.name == name).map_or(name, |known| known.title)
}

/// What happened since it last worked, in a person's words; the word itself where nobody knows it.
pub fn since(word: &str) -> &str {
    match word {
        "nothing" => "nothing in particular",
        "wash" => "it was washed",
        "rain" => "it got wet in the rain",
        "crash" => "it was crashed or dropped",
        "lay-up" => "it was laid up",
        "jump-start" => "it was jump-started",
        "work-done" => "work was done on it",
        "heat" => "it got hot",
        other => other,
    }
}

/// An entry in a line.
pub fn entry(entry: &Entry) -> String {
    match entry {
        Entry::Opened { sheet, engine, .. } => format!("begun with sheet {sheet}, engine {engine}"),
        Entry::Complaint { value } => format!("the owner says: {value}"),
        Entry::Air { value } => format!("air {value}"),
        Entry::Instruments { value } => format!("at hand: {}", value.join(", ")),
        Entry::Reading { probe, value } => format!("{probe} = {value}"),
        Entry::Note { text } => format!("note: {text}"),
        Entry::Photo { hash, text } => format!("picture {}: {text}", hash.get(..12).unwrap_or(hash)),
        Entry::Quoted { expected, worst, currency } => {
            format!(
                "the owner was told: about {}, at worst {}",
                bill::shown(*expected, currency),
                bill::shown(*worst, currency)
            )
        }
        Entry::Limit { amount, currency } => format!("the owner agrees to {} at most", bill::shown(*amount, currency)),
        Entry::Undo => "the entry before is taken back".to_owned(),
        Entry::Told { faults, probability, proven, .. } => {
            let proven = if *proven { ", proven" } else { "" };
            format!("told: {} ({:.0} %{proven})", faults.join(", "), 100.0 * probability)
        }
        Entry::Closed { proven: true } => "closed, proven".to_owned(),
        Entry::Closed { proven: false } => "closed without a proven cause".to_owned(),
        Entry::Reopened => "gone on with".to_owned(),
    }
}

/// When an entry was made, as this bench's clock showed it: day and time.
pub fn when(at: &str) -> (String, String) {
    match at.parse::<jiff::Timestamp>() {
        Ok(at) => {
            let at = at.to_zoned_datetime(jiff::tz::TimeZone::system());
            (at.strftime("%Y-%m-%d").to_string(), at.strftime("%H:%M").to_string())
        }
        // Imported from somebody who keeps time in another way.
        Err(_) => (at.to_owned(), String::new()),
    }
}

#[cfg(test)]
mod tests {
    use super::minutes;

    #[test]
    fn minutes_are_no_finer_than_they_are_known() {
        let said = [0.3, 0.8, 1.2, 2.5, 5.268, 9.97, 33.4, 90.0, 480.0].map(minutes);
        let wanted = ["0.3 min", "0.8 min", "1.2 min", "2.5 min", "5.3 min", "10 min", "33 min", "90 min", "8 h"];
        assert_eq!(said, wanted);
    }
}
