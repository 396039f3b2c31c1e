//! The left of a job's page: the one thing that is to be done or answered now.

use diagnosis::advice::{Advice, Check, Step, Stop, Verdict};
use diagnosis::complaint::COMPLAINTS;
use machine::probe::SINCE;
use machine::{Machine, Probe};
use maud::{Markup, html};
use quantity::Dimension;

use super::job_view::{Failed, View};
use crate::shop::bill;
use crate::shop::machines::Ready;
use crate::shop::wants::{LIMIT, Wants};
use crate::shop::words::{self, Row};
use crate::web::Shared;
use crate::web::form::seal;
use crate::web::frame::{Frame, Where};

/// What the job waits for.
pub fn question(workshop: &Shared, view: &View, ready: &Ready, wants: &Wants<'_>, advice: Option<&Advice>) -> Markup {
    let machine = &ready.machine;
    let form = |question: &str, field: &Markup| form(workshop, view, question, field);
    match wants {
        Wants::Complaint => html! {
            h1 { "What does the owner say?" }
            (form("complaint", &choices(COMPLAINTS.iter().map(|known| (known.name, known.title)))))
        },
        Wants::Since => html! {
            h1 { "What happened since it last worked?" }
            (form("ask:since", &choices(SINCE.iter().map(|word| (*word, *word)))))
        },
        Wants::Air => html! {
            h1 { "How warm is it where the machine stands?" }
            (form("air", &number(view, "air", "Air, °C", &["°C"])))
        },
        Wants::Leads => html! {
            h1 { (words::LEADS.0) }
            (rows(&words::LEADS.1.map(|(label, text)| (label, text.to_owned()))))
            (form("meter:leads", &number(view, "meter:leads", "Reading, Ω", units(Dimension::Resistance))))
        },
        Wants::Ammeter => html! {
            h1 { (words::AMMETER.0) }
            (rows(&words::AMMETER.1.map(|(label, text)| (label, text.to_owned()))))
            (form("meter:amps", &number(view, "meter:amps", "Reading, A", units(Dimension::Current))))
        },
        Wants::Probe(step) => html! {
            @if let Some(verdict) = advice.and_then(|advice| advice.verdict.as_ref()) {
                p.remark { "Likely (" (words::odds(verdict.probability)) "), but one more reading is worth its minutes before the remedy." }
            }
            (probe(workshop, view, machine, step))
            (others(advice, view.taken))
        },
        Wants::Remedy(verdict) => remedy(workshop, view, machine, advice, verdict),
        Wants::Limit(beyond) => html! {
            h1 { "Ask the owner first" }
            p { "Next would be: " b { (beyond.title) } }
            (rows(&[
                ("the bill then", bill::shown(beyond.comes_to, beyond.currency)),
                ("agreed", format!("{} at most", bill::shown(beyond.limit, beyond.currency))),
            ]))
            (form(LIMIT, &number(view, LIMIT, &format!("The owner's new limit, {}", beyond.currency), &[beyond.currency])))
            p.hint { "If the owner will not go further, close the job: it can be gone on with at any time." }
        },
        Wants::RepairCheck(check) => html! {
            p.remark { "It was mended by: " (advice_remedy(advice)) ". Now it has to show that." }
            h1 { "Repair check: " (check.title) }
            (checked(machine, check))
            (form(&check.probe, &field(view, machine, &check.probe)))
        },
        Wants::HeldUp { verdict, pending, again } => html! {
            h1 { "The repair check is passed; the proof is still to come" }
            (rows(&words::held_up(verdict, *pending, *again)))
            p { "Come back to this job when it has shown itself." }
            (form("ask:held-up", &choices([("yes", "it has held up"), ("no", "it has come back")])))
        },
        Wants::NotPassed(verdict) => html! {
            h1 { "The repair check is not passed" }
            ul { @for check in &verdict.proof { li { (words::check_line(machine, check)) } } }
            p { "Read again what is not as it should be, or go on looking for the cause." }
            (others_by_name(machine, verdict.proof.iter().map(|check| check.probe.as_str())))
            (form(&verdict.remedy, &choices([("same", "the fault is still there: go on looking")])))
        },
        Wants::Proven(verdict) => proven(workshop, view, advice, verdict),
        Wants::Stopped(stop) => stopped(workshop, view, advice, *stop),
    }
}

/// Both leads on the schematic; a telephone gets a picture laid out for its width.
fn on_the_schematic(view: &View, machine: &Machine, probe: &Probe) -> Markup {
    let at = |width: &str| {
        format!("/job/{}/schematic.svg?probe={}&width={width}", view.bench.job.id, probe.name.replace('+', "%2B"))
    };
    let (red, black) = (words::point(machine, &probe.red), words::point(machine, &probe.black));
    html! {
        @if !probe.red.is_empty() {
            details {
                summary { "On the schematic" }
                picture.drawn {
                    source media="(min-width: 60rem)" srcset=(at("wide"));
                    img src=(at("narrow")) loading="lazy" alt={ "Schematic of the machine in this state: red lead on " (red) ", black lead on " (black) };
                }
            }
        }
    }
}

/// A probe that the technician has asked for by its name.
pub fn other(workshop: &Shared, view: &View, ready: &Ready, probe: &Probe) -> Markup {
    html! {
        p.hint { "Your own choice. " a href={ "/job/" (view.bench.job.id) } { "Back to what is advised" } }
        h1 { (probe.title) }
        (rows(&words::how(&ready.machine, probe)))
        @if !probe.caution.is_empty() { (mind(&probe.caution)) }
        (form(workshop, view, &probe.name, &field(view, &ready.machine, &probe.name)))
        (on_the_schematic(view, &ready.machine, probe))
    }
}

/// The table of readings is on its way.
pub fn later(view: &View, ready: &Ready, done: f64) -> Markup {
    let title = format!("{}: {}", view.bench.job.id, ready.machine.sheet.title);
    Frame::new(&title, Where::Jobs).again("").page(&html! {
        h1 { "Computing what this machine would show" }
        p { "Every fault, with what a meter would read at every point. It is kept: the next job of this machine begins at once." }
        p { progress value=(format!("{done:.2}")) max="1" aria-label="Computed so far" {} " " (words::odds(done)) }
    })
}

/// The job is closed.
pub fn closed(workshop: &Shared, view: &View, advice: Option<&Advice>) -> Markup {
    let proven = view.bench.job.closed() == Some(true);
    html! {
        h1 { @if proven { "Closed: the cause is proven" } @else { "Closed without a proven cause" } }
        @if let (true, Some(advice), Some(verdict)) = (proven, advice, advice.and_then(|advice| advice.verdict.as_ref())) {
            (cause(&view.bench.job, advice, verdict))
        }
        form method="post" action={ "/job/" (view.bench.job.id) "/reopen" } data-once {
            (seal(workshop))
            button { "Go on with it" }
        }
    }
}

/// No sheet of this machine can be used.
pub fn without_machine(workshop: &Shared, view: &View) -> Markup {
    let job = &view.bench.job;
    let _ = workshop;
    Frame::new(&job.id, Where::Jobs).page(&html! {
        h1 { (job.id) }
        p.trouble role="alert" { "The sheet of " (job.machine) " has problems, so nothing can be advised." }
        p { a.button.main href={ "/machine/" (job.machine) "/sheet" } { "Mend its sheet" } }
    })
}

fn probe(workshop: &Shared, view: &View, machine: &Machine, step: &Step) -> Markup {
    let probe = machine.probe(&step.probe).ok();
    let mut about = probe.as_ref().map(|probe| words::how(machine, probe)).unwrap_or_default();
    about.extend(words::cost(probe.as_ref(), step).into_iter().filter(|(label, _)| *label != "mind"));
    html! {
        h1 { (words::step_title(step)) }
        (rows(&about))
        @if !step.caution.is_empty() { (mind(&step.caution)) }
        @if let Some(band) = &step.band {
            p { "A healthy machine shows" br; span.healthy { (words::band(band, words::dimension(machine, &step.probe))) } }
        }
        (form(workshop, view, &step.probe, &field(view, machine, &step.probe)))
        @if !step.outcomes.is_empty() {
            h2 { "What it would mean" }
            ul.means {
                @for outcome in &step.outcomes {
                    li { b { (outcome.when) } ": " (outcome.means) " (" (words::odds(outcome.probability)) ")" }
                }
            }
        }
        @if let Some(probe) = &probe { (on_the_schematic(view, machine, probe)) }
    }
}

fn remedy(workshop: &Shared, view: &View, machine: &Machine, advice: Option<&Advice>, verdict: &Verdict) -> Markup {
    let told = advice.map(|advice| (words::verdict(advice, verdict), words::verdict_rows(machine, advice, verdict)));
    let (title, about) = told.unwrap_or_default();
    html! {
        h1 { (title) }
        (rows(&about.iter().filter(|(label, _)| *label != "mind").cloned().collect::<Vec<_>>()))
        @for (_, text) in about.iter().filter(|(label, _)| *label == "mind") { (mind(text)) }
        p { "Do it, try to start, then say what happened." }
        (form(workshop, view, &verdict.remedy, &choices([("fixed", "it works now"), ("same", "no change")])))
    }
}

fn proven(workshop: &Shared, view: &View, advice: Option<&Advice>, verdict: &Verdict) -> Markup {
    html! {
        h1 { "Proven" }
        @if let Some(advice) = advice { (cause(&view.bench.job, advice, verdict)) }
        form.answer method="post" action={ "/job/" (view.bench.job.id) "/close" } data-once {
            (seal(workshop))
            button.main { "Close the job" }
        }
    }
}

fn cause(job: &journal::Job, advice: &Advice, verdict: &Verdict) -> Markup {
    let mut about: Vec<Row> = verdict.faults.iter().map(|fault| ("cause", words::fault_title(advice, fault))).collect();
    about.push(("remedy", verdict.remedy_title.clone()));
    about.extend(job.after_repair().into_iter().map(|(name, value)| ("shown", format!("{name} = {value}"))));
    rows(&about)
}

fn stopped(workshop: &Shared, view: &View, advice: Option<&Advice>, stop: Stop) -> Markup {
    let healthy = advice.and_then(|advice| advice.suspects.first()).is_some_and(|leader| leader.fault == "healthy");
    let cold = matches!(view.bench.job.complaint(), Some("cold-only" | "cranks-slowly"));
    html! {
        h1 { (words::stop(stop)) }
        @if healthy && stop == Stop::NotWorthMore {
            p { "There is nothing to repair in what was measured." }
            @if let (true, Some(air)) = (cold, view.bench.job.air()) {
                p { a.button href={ "/worksheet/cold?machine=" (view.bench.job.machine) "&air=" (air) } { "How to start it in this cold" } }
            }
        }
        p { "Take back a reading that you doubt, enter another one, or close the job." }
        form method="post" action={ "/job/" (view.bench.job.id) "/close" } data-once {
            (seal(workshop))
            button { "Close without a proven cause" }
        }
    }
}

fn advice_remedy(advice: Option<&Advice>) -> &str {
    advice.and_then(|advice| advice.verdict.as_ref()).map_or("", |verdict| verdict.remedy_title.as_str())
}

fn checked(machine: &Machine, check: &Check) -> Markup {
    let how = machine.probe(&check.probe).map(|probe| words::how(machine, &probe)).unwrap_or_default();
    let caution = words::check_caution(machine, check);
    html! {
        (rows(&how))
        @if !caution.is_empty() { (mind(&caution)) }
        @if !check.refusal {
            p { "It must show" br; span.healthy { (words::band(&check.band, words::dimension(machine, &check.probe))) } }
        }
    }
}

/// What else could be done next.
fn others(advice: Option<&Advice>, taken: usize) -> Markup {
    let steps = advice.map_or(&[][..], |advice| &advice.next);
    html! {
        @if steps.len() > 1 {
            details {
                summary { "Do something else first" }
                ul.others {
                    @for (index, step) in steps.iter().enumerate().filter(|(index, _)| *index != taken) {
                        li { a.button href={ "?take=" (index + 1) } { span { (step.title) } span { (words::minutes(step.minutes)) } } }
                    }
                }
            }
        }
    }
}

fn others_by_name<'a>(machine: &Machine, names: impl Iterator<Item = &'a str>) -> Markup {
    html! {
        ul.others {
            @for probe in names.filter_map(|name| machine.probe(name).ok()) {
                li { a.button href={ "?probe=" (probe.name) } { (probe.title) } }
            }
        }
    }
}

/// Rows of label and content; leads are shown as such, by word, shape and color.
pub fn rows(rows: &[Row]) -> Markup {
    html! {
        @if !rows.is_empty() {
            dl.how {
                @for (label, text) in rows {
                    dt { @if matches!(*label, "red" | "black") { span.lead.(label) { (label) } } @else { (label) } }
                    dd { (text) }
                }
            }
        }
    }
}

fn mind(text: &str) -> Markup {
    html! { p.mind { b { "mind " } (text) } }
}

fn form(workshop: &Shared, view: &View, question: &str, field: &Markup) -> Markup {
    html! {
        form.answer method="post" action={ "/job/" (view.bench.job.id) "/answer" } data-once {
            (seal(workshop))
            input type="hidden" name="question" value=(question);
            @if let Some(failed) = view.failed.as_ref().filter(|failed| failed.question == question) { (not_taken(failed)) }
            (field)
        }
    }
}

/// Why something that was typed was not taken.
pub fn not_taken(failed: &Failed) -> Markup {
    html! {
        div.trouble #why role="alert" {
            p { (failed.refusal.message) "." }
            p { "Allowed: " (failed.refusal.allowed) }
            @if let Some(hint) = &failed.refusal.hint { p { (hint) } }
        }
    }
}

/// The name of the form that a question is answered by.
pub fn form_of<'a>(wants: &'a Wants<'_>) -> &'a str {
    match wants {
        Wants::Complaint => "complaint",
        Wants::Air => "air",
        other => other.name(),
    }
}

/// One button for each word.
fn choices<'a>(words: impl IntoIterator<Item = (&'a str, &'a str)>) -> Markup {
    html! {
        div.words {
            @for (word, title) in words { button name="word" value=(word) { (title) } }
            button name="word" value="skip" { "skip" }
        }
    }
}

/// What is typed or touched for a probe.
fn field(view: &View, machine: &Machine, name: &str) -> Markup {
    if name.starts_with("try:") {
        return choices([("fixed", "it works now"), ("same", "no change")]);
    }
    let words = machine.probe(name).map(|probe| probe.words()).unwrap_or_default();
    let dimension = words::dimension(machine, name);
    html! {
        @if !words.is_empty() { (choices(words.iter().map(|word| (*word, *word)))) }
        @if words.is_empty() {
            (number(view, name, &format!("Reading, {}", dimension.symbol()), units(dimension)))
        }
    }
}

/// A large field for a number, with keys for gloves.
fn number(view: &View, question: &str, label: &str, units: &[&str]) -> Markup {
    let failed = view.failed.as_ref().filter(|failed| failed.question == question);
    const KEYS: [(&str, &str, &str); 16] = [
        ("7", "7", "7"),
        ("8", "8", "8"),
        ("9", "9", "9"),
        ("erase", "⌫", "erase the last"),
        ("4", "4", "4"),
        ("5", "5", "5"),
        ("6", "6", "6"),
        ("sign", "±", "change the sign"),
        ("1", "1", "1"),
        ("2", "2", "2"),
        ("3", "3", "3"),
        ("OL", "OL", "overload"),
        ("0", "0", "0"),
        (".", ".", "point"),
        ("..", "…", "to, between two numbers"),
        (">", ">", "more than"),
    ];
    html! {
        label for="typed" { (label) }
        input #typed name="typed" inputmode="decimal" autocomplete="off" autocapitalize="off" spellcheck="false"
            value=[failed.map(|failed| failed.typed.as_str())] aria-describedby=(if failed.is_some() { "why how" } else { "how" })
            aria-invalid=[failed.is_some().then_some("true")];
        p.hint #how { "As the meter shows it: 12.6, 12,6, 180 mohm, OL, 2.4..12.2" }
        div.pad data-pad="typed" hidden {
            @for (key, shown, spoken) in KEYS { button type="button" data-key=(key) aria-label=(spoken) { (shown) } }
            @for unit in units { button type="button" data-key="" data-unit=(unit) { (unit) } }
        }
        div.row {
            button.main { "Enter" }
            button name="word" value="skip" { "Skip: can't reach, not sure" }
        }
    }
}

fn units(dimension: Dimension) -> &'static [&'static str] {
    match dimension {
        Dimension::Voltage => &["mV", "V"],
        Dimension::Current => &["mA", "A"],
        Dimension::Resistance => &["mΩ", "Ω", "kΩ", "MΩ"],
        Dimension::Length => &["mm"],
        _ => &[],
    }
}
