//! A session at work: the schematic with both leads, the controls, the meter, and what else can be done.
//! Promise: nothing here depends on what was planted but what was read; what something costs and what to mind stands
//! beside its button, before it is done.

use drawing::Overlay;
use machine::probe::Sort;
use machine::{Instrument, Machine};
use maud::{Markup, PreEscaped, html};

use super::practice::Asked;
use super::practice_told as told;
use crate::shop::practice::sessions::Session;
use crate::shop::practice::{HINT_MINUTES, NULL_MINUTES, ODDS_MINUTES};
use crate::shop::{probes, words};
use crate::web::Shared;
use crate::web::form::{encoded, seal};

/// Lines of a list that are shown without a search.
const FIRST: usize = 8;

/// The instruments' words on their buttons.
const MODES: [(&str, &str); 7] = [
    ("volts", "volts"),
    ("ohms", "ohms"),
    ("low-z", "low-Z volts"),
    ("lamp", "test lamp"),
    ("amps", "amps, in line"),
    ("clamp", "clamp"),
    ("diode", "diode"),
];

/// All of it.
pub fn working(workshop: &Shared, session: &Session, asked: &Asked, told: &Markup) -> Markup {
    html! {
        (head(session))
        div.told #told { (told) }
        section.draw aria-label="Schematic" { (schematic(session)) (points(session, asked)) }
        @if !asked.at.is_empty() { (at(workshop, session, &asked.at)) }
        (controls(workshop, session))
        (modes(workshop, session))
        (meter(workshop, session))
        section.more aria-label="What else can be done" {
            (asking(workshop, session))
            (looks(workshop, session, asked))
            (remedies(workshop, session, asked))
            (ends(workshop, session))
            (told::notes(session))
        }
    }
}

/// Machine, owner, air, clock.
pub fn head(session: &Session) -> Markup {
    let practice = &session.practice;
    let case = practice.case();
    html! {
        header.head {
            p.hint { a href={ "/machine/" (session.name) } { (practice.machine().sheet.title) } " · seed " (case.seed) }
            @if session.changed { p.hint { "The sheet has changed since this session was begun." } }
            h1 { "“" (case.complaint.title) "”" }
            p { "says the owner. The air is at " (quantity::show(case.air.0, quantity::Dimension::Temperature)) ". " (clock(session)) }
        }
    }
}

fn clock(session: &Session) -> Markup {
    let spent = session.practice.minutes();
    let parts: Vec<String> = spent
        .split()
        .into_iter()
        .filter(|(_, took)| *took > 0.0)
        .map(|(what, took)| format!("{what} {took:.1}"))
        .collect();
    html! {
        b.clock { "The clock: " (format!("{:.1}", spent.total())) " min" }
        @if !parts.is_empty() { " (" (parts.join(", ")) ")" }
    }
}

/// A form of one act; what is in it says of what.
pub fn form(workshop: &Shared, session: &Session, act: &str, content: &Markup) -> Markup {
    html! {
        form.act method="post" action={ "/practice/" (session.id) "/act" } data-once {
            (seal(workshop))
            input type="hidden" name="act" value=(act);
            (content)
        }
    }
}

fn schematic(session: &Session) -> Markup {
    let machine = session.practice.machine();
    let hand = session.practice.hand();
    let node = |name: &Option<String>| name.as_deref().and_then(|name| machine.node(name).ok());
    let link = |name: &str| format!("?at={name}#at");
    let draw = |narrow| {
        // Voltages would give away what is to be measured.
        let overlay =
            Overlay { red: node(&hand.red), black: node(&hand.black), link: Some(&link), ..Overlay::default() };
        PreEscaped(drawing::draw(machine, session.plan(narrow), &overlay))
    };
    html! {
        p.hint { "Touch a point to put a lead on it. Contacts are drawn at rest, whatever the controls are at." }
        div.drawn.only-narrow { (draw(true)) }
        div.drawn.only-wide { (draw(false)) }
    }
}

/// The same points by name, for who cannot touch the drawing.
fn points(session: &Session, asked: &Asked) -> Markup {
    let filter = &asked.find[0];
    let found = session.practice.points(filter);
    html! {
        details open[!filter.is_empty()] #points {
            summary { "Points by name" }
            (search(session, "point", filter, "Part of a point's name"))
            ul.others {
                @for point in found.iter().take(if filter.is_empty() { FIRST } else { usize::MAX }) {
                    li { a.button href={ "?at=" (point.name) "#at" } data-at=(point.name) {
                        span { (point.title) @if !point.pin.is_empty() { " (" (point.pin) ")" } }
                        span { (point.place) @if point.access > 0.0 { ", " (words::minutes(point.access)) } }
                    } }
                }
            }
            (rest(found.len(), filter))
        }
    }
}

fn search(session: &Session, name: &str, typed: &str, label: &str) -> Markup {
    html! {
        form.search method="get" action={ "/practice/" (session.id) "#" (name) "s" } {
            label for={ "in-" (name) } { (label) }
            div.row { input id={ "in-" (name) } name=(name) value=(typed) autocomplete="off" autocapitalize="off"; button { "Search" } }
        }
    }
}

fn rest(found: usize, filter: &str) -> Markup {
    html! {
        @if found == 0 { p { "Nothing has that in its name." } }
        @if filter.is_empty() && found > FIRST { p.hint { (found - FIRST) " more: search for them." } }
    }
}

/// A point that was touched where no script puts the lead there at once.
fn at(workshop: &Shared, session: &Session, name: &str) -> Markup {
    let machine = session.practice.machine();
    let Ok(node) = machine.node(name) else {
        return html! { div.panel #at { p.trouble role="alert" { "This machine has no such point." } } };
    };
    let name = machine.node_name(node);
    let point = session.practice.points(&name.to_lowercase()).into_iter().find(|point| point.name == name);
    let lead = |lead: &str| {
        form(
            workshop,
            session,
            lead,
            &html! { input type="hidden" name="of" value=(name); button { span.lead.(lead) { (lead) } "here" } },
        )
    };
    html! {
        section.panel #at aria-label="The point" {
            h2 { (machine.node_title(node)) }
            @if let Some(point) = point {
                p { (point.title) "; " (point.place) @if point.access > 0.0 { ", " (words::minutes(point.access)) " until a lead is on it" } }
            }
            div.row { (lead("red")) (lead("black")) }
        }
    }
}

fn controls(workshop: &Shared, session: &Session) -> Markup {
    let practice = &session.practice;
    let machine = practice.machine();
    let state = machine.state(&practice.hand().state).ok();
    let caution = practice.caution();
    html! {
        section.controls #controls aria-label="Controls" {
            h2 { "Controls" }
            p { (state.as_ref().map_or(practice.hand().state.as_str(), |state| state.title.as_str())) "." }
            @if !session.along.is_empty() { p.hint { "Moved along with it: " (session.along.join(", ")) "." } }
            @if !caution.is_empty() { p.mind { b { "mind " } (caution) } }
            @for (index, control) in machine.sheet.controls.iter().enumerate() {
                @let now = state.as_ref().and_then(|state| state.positions.get(index));
                (form(workshop, session, "operate", &html! {
                    input type="hidden" name="control" value=(control.name.name);
                    fieldset.choice {
                        legend { (control.title) }
                        @for (at, position) in control.positions.iter().enumerate() {
                            button name="of" value=(position) aria-pressed=(if now == Some(&at) { "true" } else { "false" }) { (position) }
                        }
                    }
                }))
            }
            (form(workshop, session, "state", &html! {
                label for="state" { "Or all at once, the battery's lead and the engine too" }
                div.row {
                    select #state name="of" {
                        @for (name, title) in practice.states() { option value=(name) selected[name == practice.hand().state] { (title) } }
                    }
                    button { "Do it" }
                }
            }))
        }
    }
}

fn modes(workshop: &Shared, session: &Session) -> Markup {
    let hand = session.practice.hand();
    let machine = session.practice.machine();
    let in_line = matches!(hand.mode, Instrument::Amps | Instrument::Clamp | Instrument::Lamp);
    html! {
        section.modes aria-label="Instrument" {
            h2 { "Meter" }
            (form(workshop, session, "mode", &html! {
                fieldset.choice.wide {
                    legend { "Instrument" }
                    @for (word, title) in MODES {
                        button name="of" value=(word) aria-pressed=(if hand.mode.name() == word { "true" } else { "false" }) { (title) }
                    }
                }
            }))
            @if in_line {
                (form(workshop, session, "around", &html! {
                    label for="around" { @match hand.mode {
                        Instrument::Clamp => "The clamp is round",
                        Instrument::Amps => "The meter is in the place of",
                        _ => "The lamp is between the leads, or in the place of",
                    } }
                    div.row {
                        select #around name="of" {
                            @for branch in machine.branches() { option value=(branch.name) selected[hand.around.as_ref() == Some(&branch.name)] { (branch.name) } }
                        }
                        button { "Put it there" }
                    }
                }))
            }
            (form(workshop, session, "null", &html! { button { "Hold the tips together (" (words::minutes(NULL_MINUTES)) ")" } }))
            @if hand.nulled { p.hint { "What the leads show by themselves is taken off the ohms." } }
        }
    }
}

/// What stays in sight while the drawing is touched.
fn meter(workshop: &Shared, session: &Session) -> Markup {
    let hand = session.practice.hand();
    let connected = session.connected();
    let machine = session.practice.machine();
    let caution = connected.as_ref().map(|(probe, _)| probes::hazard(machine, probe)).unwrap_or_default();
    let on = |name: &Option<String>| name.clone().unwrap_or_else(|| "nowhere".to_owned());
    html! {
        section.meter #meter aria-label="Meter" {
            div.row.leads {
                @for (lead, node) in [("red", &hand.red), ("black", &hand.black)] {
                    button.toggle type="button" disabled data-lead=(lead) aria-pressed="false" { span.lead.(lead) { (lead) } span { (on(node)) } }
                }
            }
            @if let Some(part) = &hand.around { p.hint { "in or round " (part) } }
            @if !caution.is_empty() { p.mind { b { "mind " } (caution) } }
            div.reading {
                div { (told::display(session)) }
                (form(workshop, session, "read", &html! {
                    button.main.read { "Read " (hand.mode.name()) @if let Some((_, price)) = &connected { " (" (words::minutes(*price)) ")" } }
                }))
            }
        }
    }
}

fn asking(workshop: &Shared, session: &Session) -> Markup {
    html! {
        div.row {
            (form(workshop, session, "hint", &html! { button { "Hint (" (words::minutes(HINT_MINUTES)) ")" } }))
            (form(workshop, session, "odds", &html! { button { "Odds (" (words::minutes(ODDS_MINUTES)) ")" } }))
        }
    }
}

fn looks(workshop: &Shared, session: &Session, asked: &Asked) -> Markup {
    let filter = &asked.find[1];
    let by_hand = |sort: Sort| !matches!(sort, Sort::Meter(..) | Sort::PerAmp { .. });
    let found: Vec<_> = session.practice.probes(filter);
    let found: Vec<_> = found.into_iter().filter(|(probe, _)| !filter.is_empty() || by_hand(probe.sort)).collect();
    html! {
        @if let Some((probe, price)) = session.priced(&asked.probe) {
            section.panel #probe aria-label="Probe" {
                h2 { (probe.title) }
                (super::job_now::rows(&words::how(session.practice.machine(), &probe)))
                @let caution = probes::hazard(session.practice.machine(), &probe);
                @if !caution.is_empty() { p.mind { b { "mind " } (caution) } }
                (form(workshop, session, "probe", &html! { input type="hidden" name="of" value=(probe.name); button.main { "Take it (" (words::minutes(price)) ")" } }))
            }
        }
        details open[!filter.is_empty()] #finds {
            summary { "Look, listen, feel, ask; any probe by name" }
            (search(session, "find", filter, "Part of a probe's name"))
            ul.others {
                @for (probe, price) in found.iter().take(if filter.is_empty() { FIRST } else { usize::MAX }) {
                    li { a.button href={ "?probe=" (encoded(&probe.name)) "#probe" } { span { (probe.title) } span { (words::minutes(*price)) } } }
                }
            }
            (rest(found.len(), filter))
        }
    }
}

fn remedies(workshop: &Shared, session: &Session, asked: &Asked) -> Markup {
    let filter = &asked.find[2];
    let all = session.practice.remedies("");
    let chosen = all.iter().find(|(cure, _)| cure.name == asked.remedy.trim_start_matches("try:"));
    let found = session.practice.remedies(filter);
    html! {
        @if let Some((cure, price)) = chosen {
            section.panel #remedy aria-label="Remedy" {
                h2 { (cure.title) }
                @if cure.elapsed > cure.minutes + 0.5 { p.hint { "Done after " (words::minutes(cure.elapsed)) "." } }
                @if !cure.caution.is_empty() { p.mind { b { "mind " } (cure.caution) } }
                (form(workshop, session, "remedy", &html! { input type="hidden" name="of" value=(cure.name); button.main { "Do it and try to start (" (words::minutes(*price)) ")" } }))
            }
        }
        details open[!filter.is_empty()] #mends {
            summary { "Remedies" }
            (search(session, "mend", filter, "Part of a remedy's name"))
            ul.others {
                @for (cure, price) in found.iter().take(if filter.is_empty() { FIRST } else { usize::MAX }) {
                    li { a.button href={ "?remedy=" (encoded(&cure.name)) "#remedy" } { span { (cure.title) } span { (words::minutes(*price)) } } }
                }
            }
            (rest(found.len(), filter))
        }
    }
}

fn ends(workshop: &Shared, session: &Session) -> Markup {
    html! {
        details {
            summary { "Name the cause, or give up" }
            (form(workshop, session, "name", &html! {
                label for="cause" { "The cause; judged at the end" }
                div.row {
                    select #cause name="of" { @for (name, title) in session.practice.faults("") { option value=(name) { (title) } } }
                    button { "Name it" }
                }
            }))
            (form(workshop, session, "give-up", &html! { button { "Give up, and see what it was" } }))
        }
    }
}

/// What a part's name is in words.
pub fn named(machine: &Machine, name: &str) -> String {
    machine.probe(name).map_or_else(|_| name.to_owned(), |probe| probe.title)
}
