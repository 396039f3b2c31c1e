//! What came of what was done: the meter's display, hints, remedies, notes; at the end what it all amounts to.

use diagnosis::advice::{Advice, Stop, Verdict};
use maud::{Markup, html};
use quantity::{Dimension, show};

use super::job_now::rows;
use super::practice::{Asked, not_taken};
use super::practice_meter::{form, head, named};
use crate::shop::practice::score::{Against, Report};
use crate::shop::practice::sessions::{Ended, Finished, Session};
use crate::shop::practice::{Act, Checked, Mended, Shown, Told};
use crate::shop::words;
use crate::web::Shared;
use crate::web::form::{encoded, seal};

/// A reading that tells less than this tells nothing, bits.
const NOTHING: f64 = 0.1;
/// Suspects that are shown with the odds, and with a hint.
const ODDS: usize = 8;
const HINTED: usize = 3;

/// What came of the latest act, the meter's display apart; and whether the page must be asked for again.
pub fn latest(workshop: &Shared, session: &mut Session, asked: &Asked) -> (Markup, bool) {
    let refused = html! {
        @if let Some((what, refusal)) = &asked.refused { (not_taken(refusal)) p.hint { "You asked for: " (what) } }
    };
    let (told, waits) = match session.told.clone() {
        Some((Act::Hint | Act::Odds, _)) => advised(workshop, session),
        Some((_, Told::Mended(mended))) => (done(session, &mended), false),
        Some((_, Told::Named(remedy))) => (
            html! { p.remark { "Kept; whether it is right is told at the end. " a href={ "?remedy=" (encoded(&remedy)) "#remedy" } { "Its remedy" } " mends it, and the repair check proves it." } },
            false,
        ),
        Some(_) => (html! {}, false),
        None => (
            html! { p { "Everything is off, every cover is on. Find the cause and mend it in as few minutes as you can. Moving leads and controls costs nothing; reading does." } },
            false,
        ),
    };
    (html! { (refused) (told) }, waits)
}

fn advised(workshop: &Shared, session: &mut Session) -> (Markup, bool) {
    let odds = matches!(session.told, Some((Act::Odds, _)));
    match session.advice(workshop) {
        Ok(Ok(advice)) if odds => (html! { h2 { "Odds" } (suspects(&advice, ODDS)) }, false),
        Ok(Ok(advice)) => (html! { section.panel aria-label="Hint" { (hint(workshop, session, &advice)) } }, false),
        Ok(Err(share)) => (computing("Computing what this machine would show", share), true),
        Err(refusal) => (not_taken(&refusal), false),
    }
}

fn computing(what: &str, share: f64) -> Markup {
    html! { p { (what) ": " progress value=(format!("{share:.2}")) max="1" aria-label="Computed so far" {} } }
}

fn hint(workshop: &Shared, session: &Session, advice: &Advice) -> Markup {
    let machine = session.practice.machine();
    let settled = advice.verdict.as_ref().filter(|verdict| verdict.settled);
    match (settled, advice.next.first(), advice.stop) {
        (Some(verdict), _, _) => remedy(workshop, session, advice, verdict),
        (None, Some(step), _) => {
            let probe = machine.probe(&step.probe).ok();
            let mut about = probe.as_ref().map(|probe| words::how(machine, probe)).unwrap_or_default();
            about.extend(words::cost(probe.as_ref(), step).into_iter().filter(|(label, _)| *label != "mind"));
            html! {
                h2 { "Hint: " (words::step_title(step)) }
                (rows(&about))
                @if !step.caution.is_empty() { p.mind { b { "mind " } (step.caution) } }
                @if let Some(band) = &step.band {
                    p { "A healthy machine shows " b { (words::band(band, words::dimension(machine, &step.probe))) } }
                }
                (form(workshop, session, if step.probe.starts_with("try:") { "remedy" } else { "probe" }, &html! {
                    input type="hidden" name="of" value=(step.probe);
                    button.main { "Take it (" (words::minutes(step.minutes)) ")" }
                }))
                (suspects(advice, HINTED))
            }
        }
        (None, None, stop) => html! {
            h2 { @match stop {
                Some(Stop::NoneOfThese) => "No fault in the catalogue explains what was read so far.",
                _ => "No probe is worth its minutes any more; the likeliest:",
            } }
            (suspects(advice, HINTED))
        },
    }
}

fn remedy(workshop: &Shared, session: &Session, advice: &Advice, verdict: &Verdict) -> Markup {
    let about = words::verdict_rows(session.practice.machine(), advice, verdict);
    let (mind, about): (Vec<_>, Vec<_>) = about.into_iter().partition(|(label, _)| *label == "mind");
    html! {
        h2 { "Hint: " (words::verdict(advice, verdict)) }
        (rows(&about))
        @for (_, text) in &mind { p.mind { b { "mind " } (text) } }
        (form(workshop, session, "remedy", &html! {
            input type="hidden" name="of" value=(verdict.remedy.trim_start_matches("try:"));
            button.main { "Do it and try to start" }
        }))
    }
}

fn suspects(advice: &Advice, most: usize) -> Markup {
    let leaders = advice.suspects.iter().filter(|suspect| suspect.probability >= 0.01).take(most);
    let bar = |probability: f64, title: &str| {
        html! {
            li {
                span.odds { (words::odds(probability)) }
                span { (title) }
                progress value=(format!("{probability:.3}")) max="1" aria-label={ "Odds of " (title) } {}
            }
        }
    };
    html! {
        ul.suspects role="list" {
            @for suspect in leaders { (bar(suspect.probability, &suspect.title)) }
            @if advice.unexplained >= 0.02 { (bar(advice.unexplained, "something that is not in the catalogue")) }
        }
    }
}

fn done(session: &Session, mended: &Mended) -> Markup {
    let said = session.practice.case().complaint.title;
    html! {
        p.remark data-said {
            (mended.cure.title) ": "
            @match (mended.fixed, mended.blew_again) {
                (true, _) => "the complaint is gone.",
                (_, true) => { "the new one blows as soon as it is tried; “" (said) "”." },
                _ => { "as before, “" (said) "”." },
            }
            " It took " (words::minutes(mended.price.minutes())) "."
        }
    }
}

/// The meter's display: what was read last, and nothing once leads or controls were moved.
pub fn display(session: &Session) -> Markup {
    let shown = match &session.told {
        Some((act, Told::Shown(shown))) if !session.moved => Some((act, shown)),
        _ => None,
    };
    let Some((act, shown)) = shown else { return html! { p.display { "– – –" } } };
    html! {
        p.display data-said {
            (shown.read.display)
            @if !shown.read.positions.is_empty() { ", chattering" }
            @if let Some(other) = &shown.flickers_to { span.flickers { " flickers to " (other) } }
        }
        p.hint { (read_of(act, shown)) ", " (words::minutes(shown.price.minutes())) @if shown.price.access > 0.0 { ", " (words::minutes(shown.price.access)) " of it access" } "." }
        @if shown.read.floating { p.hint { "A lead is on a point with no path of its own." } }
        @if shown.read.live { p.mind { b { "mind " } "the circuit is alive, an ohmmeter reads nonsense there; take the battery's lead off" } }
        @if shown.read.overload && shown.read.unit == "A" { p.mind { b { "mind " } "beyond 10 A a real meter's fuse would have opened; take the clamp" } }
    }
}

fn read_of(act: &Act, shown: &Shown) -> String {
    match (&shown.probe, shown.read.probe.as_str()) {
        (Some(probe), _) => probe.title.clone(),
        (None, "safe:battery-off") => "the battery's negative lead is off and tucked away".to_owned(),
        (None, "meter:amps") => "lamp and meter in series across the battery".to_owned(),
        (None, _) if *act == Act::Null => "tips together; taken off the ohms from now on".to_owned(),
        (None, _) => "tips together".to_owned(),
    }
}

/// Everything that was read so far.
pub fn notes(session: &Session) -> Markup {
    let practice = &session.practice;
    let all: Vec<_> = practice.notes().iter().filter(|noted| noted.reading.is_some()).collect();
    html! {
        h2 { "Notes" }
        @if all.is_empty() { p { "Nothing has been read yet." } } @else {
            div.scroll tabindex="0" role="region" aria-label="Notes" {
                table.notes {
                    thead { tr { th scope="col" { "What" } th scope="col" { "Shown" } th.n scope="col" { "min" } th.n scope="col" { "Clock" } } }
                    tbody {
                        @for noted in all.iter().rev() {
                            tr {
                                td { (told_of(session, noted.reading.as_deref().unwrap_or_default())) }
                                td { (noted.shown.as_deref().unwrap_or_default()) }
                                td.n { (format!("{:.1}", noted.minutes)) }
                                td.n { (format!("{:.1}", noted.clock)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A probe, a remedy or a check of the meter in words.
fn told_of(session: &Session, name: &str) -> String {
    match name {
        "meter:leads" => "tips together".to_owned(),
        "meter:amps" => "lamp and meter in series across the battery".to_owned(),
        "safe:battery-off" => "the battery's negative lead taken off".to_owned(),
        name => match name.strip_prefix("try:") {
            Some(remedy) => {
                let all = session.practice.remedies("").into_iter();
                all.map(|(cure, _)| cure)
                    .find(|cure| cure.name == remedy)
                    .map_or_else(|| name.to_owned(), |cure| cure.title)
            }
            None => named(session.practice.machine(), name),
        },
    }
}

/// A session that is over; and whether the page must be asked for again.
pub fn over(workshop: &Shared, session: &mut Session, asked: &Asked) -> (Markup, bool) {
    let ended = session.ended(workshop);
    let waits = matches!(ended, Ended::Later(_));
    let content = html! {
        (head(session))
        div.told #told {
            @if let Some((_, refusal)) = &asked.refused { (not_taken(refusal)) }
            @if let Some((_, Told::Mended(mended))) = &session.told { (done(session, mended)) }
            @match &ended {
                Ended::Later(share) => (computing("Computing what this machine would show, and how the best plan fares on it", *share)),
                Ended::Refused(refusal) => (not_taken(refusal)),
                Ended::FellOver => p.trouble role="alert" { "What it amounts to could not be worked out; the fault is the workbench's own. The session is kept." },
                Ended::There(finished) => @match &**finished {
                    Finished::Checks(checks) => {
                        h2 { "The repair check" }
                        p { "The cause is proven when the mended machine shows what it must." }
                        ul {
                            @for check in checks {
                                @let caution = words::check_caution(session.practice.machine(), check);
                                li { (words::check_line(session.practice.machine(), check)) @if !caution.is_empty() { p.mind { b { "mind " } (caution) } } }
                            }
                        }
                        form.act method="post" action={ "/practice/" (session.id) "/check" } data-once { (seal(workshop)) button.main { "Do the repair check" } }
                    },
                    Finished::All(report, checked) => (result(session, report, checked)),
                },
            }
        }
        (again(workshop, session))
        div.more { (notes(session)) }
    };
    (content, waits)
}

fn again(workshop: &Shared, session: &Session) -> Markup {
    let settings = session.practice.kept().settings;
    let address = format!("/machine/{}/practice", session.name);
    html! {
        div.row {
            form.inline method="post" action=(address) data-once { (seal(workshop)) button.main { "Another" } }
            form.inline method="post" action=(address) data-once {
                (seal(workshop))
                input type="hidden" name="seed" value=(settings.seed);
                @if let Some(complaint) = &settings.complaint { input type="hidden" name="complaint" value=(complaint); }
                @if let Some(air) = &settings.air { input type="hidden" name="air" value=(air); }
                button { "Again with the same seed" }
            }
        }
    }
}

fn result(session: &Session, report: &Report, checked: &[Checked]) -> Markup {
    let planted = &report.planted;
    let severity = planted.severity_shown.as_ref().map_or_else(String::new, |shown| format!(", {shown}"));
    let comes = if planted.comes_and_goes { ", coming and going" } else { "" };
    html! {
        h2.ending { @match report.ending { "proven" => "Found, mended and proven", "fixed" => "Mended, but the cause is not proven", _ => "Given up" } }
        dl.how {
            dt { "planted" } dd { (planted.title) " (" code { (planted.fault) } (severity) (comes) ")" }
            dt { "remedy" } dd { (planted.remedy_title) }
            @if let Some(named) = &report.named {
                dt { "named" } dd { (named.fault) ": " @match (named.right, named.same_remedy) { (true, _) => "right", (_, true) => "not that, but mended by the same remedy", _ => "wrong" } }
            }
            @if let Some(rests_on) = &report.rests_on { dt { "rests on" } dd { (told_of(session, rests_on)) } }
        }
        @if report.ending == "fixed" { p { "A cause is proven when the readings make it likelier than all others before it is mended, and the repair check is passed." } }
        @if !checked.is_empty() {
            h3 { "Repair check" }
            ul { @for one in checked { li { (words::check_line(session.practice.machine(), &one.check)) "; shows " (one.shown) @if !one.passed { ", which it must not" } } } }
        }
        h2 { "Minutes" }
        (minutes(report))
        (readings(session, report))
        @if let Some(best) = report.against.first() { (plan(session, best)) }
    }
}

fn minutes(report: &Report) -> Markup {
    html! {
        table {
            tbody {
                @for (what, took) in report.minutes.split().into_iter().filter(|(_, took)| *took > 0.0) {
                    tr { th scope="row" { (what) } td.n { (format!("{took:.1}")) } td {} }
                }
                tr { th scope="row" { b { "you, in all" } } td.n { b { (format!("{:.1}", report.total_min)) } } td {} }
                @for against in &report.against {
                    tr {
                        th scope="row" { @if against.technician == "method" { "the best plan" } @else { "a fixed list of checks" } }
                        td.n { (format!("{:.1}", against.minutes)) }
                        td { @match against.ending { "proven" => "", "fixed" => "mended without a proof", _ => "and then hands the machine on" } }
                    }
                }
            }
        }
        @if report.starter_held_s > 0.0 { p { "The starter was held for " (show(report.starter_held_s, Dimension::Time)) " in all." } }
        p.hint { "The best plan is the advice, followed step by step; like you, it does not know what was planted. The sheet has no prices: the minutes are the bill." }
    }
}

fn readings(session: &Session, report: &Report) -> Markup {
    html! {
        @if !report.told.is_empty() {
            h2 { "What the readings told" }
            div.scroll tabindex="0" role="region" aria-label="What the readings told" {
                table {
                    thead { tr { th scope="col" { "Reading" } th scope="col" { "Shown" } th.n scope="col" { "Told" } th.n scope="col" { "Odds after" } } }
                    tbody {
                        @for reading in &report.told {
                            tr {
                                td { (told_of(session, &reading.reading)) }
                                td { (reading.shown) }
                                td.n { @if reading.bits < NOTHING { "nothing" } @else { (format!("{:.1} bit", reading.bits)) } }
                                td.n { (words::odds(reading.odds)) }
                            }
                        }
                    }
                }
            }
            p.hint { "Odds are those of what was planted." }
        }
    }
}

fn plan(session: &Session, best: &Against) -> Markup {
    html! {
        h2 { "The best plan on this machine" }
        ol.plan {
            @for step in &best.steps {
                li { @if step.check { "repair check: " } (told_of(session, &step.name)) " = " b { (step.value) } " (" (words::minutes(step.minutes)) ")" }
            }
        }
    }
}
