//! A machine's own fault-finding guide, for someone who follows it without any network or program: how the circuit
//! works, what healthy machines show, a course for each complaint, remedies, care.
//! Idea: everything in it is computed from the sheet; the courses are the desk's advice asked ahead of time
//! (`diagnosis::tree`), by as many hands as there are. Promise: the same sheet gives the same bytes.
//! Limit: a course stands for the middle of each branch; a job at the desk reckons with the reading itself.

mod bands;
mod care;
mod circuit;
mod course;

use diagnosis::tree::Limits;
use machine::Machine;
use serde::Serialize;

use super::advice;
use super::refusal::Refusal;
use super::words::Row;

/// What the guide is asked for.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// Probes one after the other, at most; nothing for the usual depth.
    pub depth: Option<usize>,
    /// Names of the complaints that get a chapter; empty for all that the machine's faults can cause.
    pub complaints: Vec<String>,
}

/// The whole guide.
#[derive(Clone, Debug, Serialize)]
pub struct Guide {
    /// The machine's id.
    pub sheet: String,
    /// Its title.
    pub title: String,
    /// How the circuit works, state by state.
    pub states: Vec<StateTold>,
    /// What healthy machines show, state by state.
    pub bands: Vec<StateBands>,
    /// The same on one page.
    pub card: Vec<CardGroup>,
    /// Operating states that the card names.
    pub card_states: Vec<Named>,
    /// One for each complaint.
    pub chapters: Vec<Chapter>,
    /// Complaints that have no chapter, in the owner's words.
    pub absent: Vec<String>,
    /// Remedies that the chapters come to.
    pub remedies: Vec<RemedyTold>,
    /// Care.
    pub care: Vec<Care>,
    /// What to mind wherever something is done at this machine.
    pub cautions: Vec<String>,
}

/// A name of the sheet and what it is called.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Named {
    /// As in the sheet.
    pub name: String,
    /// In words.
    pub title: String,
}

/// How one operating state works.
#[derive(Clone, Debug, Serialize)]
pub struct StateTold {
    /// Its name.
    pub name: String,
    /// In words.
    pub title: String,
    /// Controls that are not at rest.
    pub setup: Vec<String>,
    /// What to mind; empty when nothing.
    pub caution: String,
    /// What relays, motors, fuses and battery do, a sentence each.
    pub told: Vec<String>,
    /// Parts and the amperes through them, most first.
    pub carries: Vec<(String, String)>,
    /// Potentials and the points that have them, highest first.
    pub live: Vec<(String, String)>,
    /// The schematic with its potentials, for paper and screen, and for a telephone.
    pub drawings: [String; 2],
}

/// What healthy machines show in one operating state.
#[derive(Clone, Debug, Serialize)]
pub struct StateBands {
    /// The state.
    pub state: Named,
    /// How to get into it.
    pub setup: Vec<String>,
    /// What to mind; empty when nothing.
    pub caution: String,
    /// By setting of the meter and place of the black lead.
    pub tables: Vec<BandTable>,
}

/// Readings with one setting and one place of the black lead.
#[derive(Clone, Debug, Serialize)]
pub struct BandTable {
    /// Setting of the meter, or what is done.
    pub setting: String,
    /// Where black stays; empty where each row says it.
    pub black: String,
    /// Where red goes or what is tried, and what healthy machines show.
    pub rows: Vec<(String, String)>,
}

/// A part of the wiring on the pocket card.
#[derive(Clone, Debug, Serialize)]
pub struct CardGroup {
    /// Its heading.
    pub title: &'static str,
    /// Points, and what they show in each of the card's states.
    pub rows: Vec<(String, Vec<String>)>,
}

/// The course of one complaint.
#[derive(Clone, Debug, Serialize)]
pub struct Chapter {
    /// The complaint's name.
    pub complaint: String,
    /// In the owner's words.
    pub title: String,
    /// Its share of the jobs with this machine.
    pub share: f64,
    /// Of the what-if cases with this complaint: those that end at the verdict that mends them, at a list that names
    /// them, at another's verdict, elsewhere.
    pub ends: [f64; 4],
    /// Minutes of a course on average.
    pub minutes: f64,
    /// What comes first after water or a fall; nothing where nothing does.
    pub after_water: Option<StepTold>,
    /// Steps and ends in the order of the paper; whoever branches stands before what he leads to.
    pub places: Vec<Place>,
}

/// A numbered place of a course.
#[derive(Clone, Debug, Serialize)]
pub struct Place {
    /// Its number in the whole guide.
    pub number: usize,
    /// The step that leads here and what was seen there; nothing at the beginning.
    pub from: Option<(usize, String)>,
    /// How likely one comes here, of all with this complaint.
    pub reach: f64,
    /// Minutes on the way here.
    pub spent: f64,
    /// Exact readings that this place stands for, `NAME=VALUE` in order.
    pub readings: Vec<String>,
    /// Leading suspects with their odds.
    pub suspects: Vec<(String, f64)>,
    /// What is to be done or thought here.
    pub what: What,
}

/// What a place holds.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// Something to be done.
    Step(StepTold),
    /// A verdict that can be acted on.
    Verdict(VerdictTold),
    /// Nothing more to be measured.
    Stop {
        /// Why.
        text: String,
    },
    /// Paper ends here.
    Open {
        /// What the desk would do next, with its minutes.
        next: Option<(String, String, f64)>,
    },
}

/// A step.
#[derive(Clone, Debug, Serialize)]
pub struct StepTold {
    /// Name of the probe or remedy.
    pub probe: String,
    /// What is done.
    pub title: String,
    /// Leads, meter, state, hands: labeled lines.
    pub rows: Vec<Row>,
    /// Minutes that it takes here.
    pub minutes: f64,
    /// What to mind; empty when nothing.
    pub caution: String,
    /// What a healthy machine shows; empty for a remedy.
    pub healthy: String,
    /// Where it goes on.
    pub ways: Vec<WayOn>,
}

/// A branch.
#[derive(Clone, Debug, Serialize)]
pub struct WayOn {
    /// What is seen; `anything else` where the rest is pooled.
    pub when: String,
    /// Whom it points at.
    pub means: String,
    /// How likely it is.
    pub odds: f64,
    /// Number of the place to go to; nothing where paper ends.
    pub to: Option<usize>,
}

/// A verdict.
#[derive(Clone, Debug, Serialize)]
pub struct VerdictTold {
    /// In one line.
    pub title: String,
    /// `part:mode`, likeliest first.
    pub faults: Vec<String>,
    /// Probability.
    pub odds: f64,
    /// Name of the remedy.
    pub remedy: String,
    /// In words.
    pub remedy_title: String,
    /// What to mind while doing it; empty when nothing.
    pub caution: String,
    /// Whether a cause behind it is still to be found.
    pub consequence: bool,
    /// What the machine must show when reassembled.
    pub checks: Vec<CheckTold>,
    /// What cannot be seen today and has to hold.
    pub pending: Option<String>,
}

/// A line of the repair check.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CheckTold {
    /// What must be shown.
    pub text: String,
    /// What to mind; empty when nothing.
    pub caution: String,
}

/// A remedy that the chapters come to.
#[derive(Clone, Debug, Serialize)]
pub struct RemedyTold {
    /// `try:VERB@PART`.
    pub name: String,
    /// In words.
    pub title: String,
    /// The faults of this machine that it mends.
    pub mends: Vec<String>,
    /// Where the part is, and what is needed to get there.
    pub rows: Vec<Row>,
    /// Attended minutes, access and trial start included.
    pub minutes: f64,
    /// What to mind; empty when nothing.
    pub caution: String,
    /// Places of the guide that end here.
    pub from: Vec<usize>,
    /// What the machine must show afterwards.
    pub checks: Vec<CheckTold>,
}

/// A piece of care.
#[derive(Clone, Debug, Serialize)]
pub struct Care {
    /// Its heading.
    pub title: String,
    /// What to do, a sentence or two each.
    pub told: Vec<String>,
    /// A table: headings and rows.
    pub table: Option<(Vec<String>, Vec<Vec<String>>)>,
    /// What can hurt.
    pub cautions: Vec<String>,
    /// Where it is from.
    pub sources: Vec<String>,
}

/// Works the guide out.
///
/// # Errors
/// When a complaint does not exist, or the machine cannot be solved.
pub fn guide(machine: Machine, text: &str, asked: &Asked) -> Result<Guide, Refusal> {
    let wanted: Vec<String> = asked.complaints.iter().map(|name| advice::complaint(name)).collect::<Result<_, _>>()?;
    let states = circuit::states(&machine)?;
    let desk = advice::desk(machine, text);
    let usual = Limits::default();
    let limits = Limits { depth: asked.depth.unwrap_or(usual.depth), ..usual };
    let (chapters, absent) = course::chapters(&desk, &wanted, limits)?;
    let machine = &desk.machine;
    let (card_states, card) = bands::card(&desk);
    Ok(Guide {
        sheet: machine.sheet.id.clone(),
        title: machine.sheet.title.clone(),
        states,
        bands: bands::bands(&desk),
        card,
        card_states,
        remedies: course::remedies(machine, &chapters),
        care: care::care(machine),
        cautions: care::cautions(machine),
        chapters,
        absent,
    })
}
