//! A machine: its schematic and potentials in any state and with any fault laid on it, and the ways from here.

use axum::Router;
use axum::extract::{Path, RawQuery, State};
use axum::routing::get;
use drawing::Overlay;
use machine::Machine;
use maud::{Markup, PreEscaped, html};
use quantity::{Dimension, show};

use super::jobs;
use crate::shop::changes::Changes;
use crate::shop::machines::Ready;
use crate::shop::refusal::Refusal;
use crate::shop::stand::{Request, Stand};
use crate::shop::{schematic, words};
use crate::web::form::{Fields, read, seal};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/machine/{name}", get(show_page))
}

async fn show_page(
    State(workshop): State<Shared>,
    Path(name): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Markup, Trouble> {
    blocking(move || {
        let asked = read(query.unwrap_or_default().as_bytes());
        let Some(ready) = workshop.ready(&name)? else { return Ok(spoiled(&name)) };
        let jobs = workshop.journal.jobs(Some(&ready.machine.sheet.id), 5)?;
        workshop.desks.prepare(&ready);
        Ok(page(&workshop, &name, &ready, &asked, &jobs))
    })
    .await?
}

fn spoiled(name: &str) -> Markup {
    Frame::new(name, Where::Machines).page(&html! {
        h1 { (name) }
        p.trouble role="alert" { "This machine's sheet has problems." }
        p { a.button.main href={ "/machine/" (name) "/sheet" } { "Mend its sheet" } }
    })
}

fn page(workshop: &Shared, name: &str, ready: &Ready, asked: &Fields, jobs: &[journal::Brief]) -> Markup {
    let title = &ready.machine.sheet.title;
    let here = |rest: &str| format!("/machine/{name}{rest}");
    let mut stand = Stand::new(ready.machine.clone());
    let state = match asked.text("state") {
        "" => stand.usual_state(),
        asked => asked.to_owned(),
    };
    Frame::new(title, Where::Machines).page(&html! {
        h1 { (title) }
        div.row {
            form.inline method="post" action=(here("/job")) data-once { (seal(workshop)) button.main { "Begin a job" } }
            form.inline method="post" action=(here("/practice")) data-once { (seal(workshop)) button { "Practice" } }
            a.button href=(here("/sheet")) { "Sheet" }
            a.button href=(here("/readings")) { "Table of readings" }
            a.button href=(here("/history")) { "History" }
            a.button href=(here("/guide")) { "Guide" }
        }
        @if !jobs.is_empty() { h2 { "Jobs" } (jobs::table(jobs)) }
        h2 { "In any state, with any fault" }
        (choice(ready, asked, &state))
        (drawn(&stand, ready, asked, &state))
        (solved(&mut stand, ready, asked, state))
        h2 { "Worksheets" }
        div.row {
            @for worksheet in calculator::CATALOGUE {
                a.button href={ "/worksheet/" (worksheet.name) "?machine=" (name) } { (worksheet.title) }
            }
        }
    })
}

fn choice(ready: &Ready, asked: &Fields, state: &str) -> Markup {
    html! {
        form.fields method="get" {
            div { label for="state" { "State" }
            select #state name="state" {
                @for known in ready.machine.state_names() {
                    @let title = ready.machine.state(&known).map_or_else(|_| known.clone(), |state| state.title);
                    option value=(known) selected[known == state] { (known) ": " (title) }
                }
            } }
            div { label for="fault" { "Fault" }
            select #fault name="fault" {
                option value="" { "none" }
                @for fault in &ready.faults {
                    option value=(fault.name) selected[fault.name == asked.text("fault")] { (fault.title) }
                }
            } }
            div {
                label for="severity" { "How bad; empty: usual" }
                input #severity name="severity" value=(asked.text("severity")) inputmode="decimal" autocomplete="off";
            }
            div {
                label for="air" { "Air; empty: 20 °C" }
                input #air name="air" value=(asked.text("air")) inputmode="decimal" autocomplete="off";
            }
            div.row { button.main { "Show" } }
        }
    }
}

/// The changes that the form asks for.
fn changes(asked: &Fields) -> Changes {
    let severity = asked.text("severity");
    let fault = match (asked.text("fault"), severity) {
        ("", _) => None,
        (fault, "") => Some(fault.to_owned()),
        (fault, severity) => Some(format!("{fault}={severity}")),
    };
    let air = Some(asked.text("air")).filter(|air| !air.is_empty()).map(str::to_owned);
    Changes { faults: fault.into_iter().collect(), air, ..Changes::default() }
}

fn solved(stand: &mut Stand, ready: &Ready, asked: &Fields, state: String) -> Markup {
    let request = Request { state: Some(state), changes: changes(asked), ..Request::default() };
    match table(stand, &request, ready) {
        Ok(table) => table,
        Err(refusal) => html! {
            div.trouble role="alert" {
                p { (refusal.message) "." }
                p { "Allowed: " (refusal.allowed) }
            }
        },
    }
}

/// The schematic, for a screen and for a telephone; a node leads to its line in the table.
fn drawn(stand: &Stand, ready: &Ready, asked: &Fields, state: &str) -> Markup {
    let Ok(shown) = schematic::shown(stand, Some(state), &changes(asked)) else { return html! {} };
    let link = |name: &str| format!("#{}", anchor(&ready.machine, name));
    let overlay = Overlay {
        solution: Some(&shown.potentials),
        faults: &shown.faulty,
        caption: &shown.caption,
        link: Some(&link),
        ..Overlay::default()
    };
    html! {
        div.drawn.only-wide { (PreEscaped(schematic::for_page(ready, false, &overlay))) }
        div.drawn.only-narrow { (PreEscaped(schematic::for_page(ready, true, &overlay))) }
    }
}

/// The place of a node's line on the page.
fn anchor(machine: &Machine, name: &str) -> String {
    machine.node(name).map_or_else(|_| "points".to_owned(), |node| format!("point-{node}"))
}

fn table(stand: &mut Stand, request: &Request, ready: &Ready) -> Result<Markup, Refusal> {
    let solved = stand.solve(request)?;
    let machine = &ready.machine;
    let volts =
        |volts: Option<f64>| volts.map_or_else(|| "floating".to_owned(), |volts| show(volts, Dimension::Voltage));
    Ok(html! {
        @if solved.outcome == "chatter" { p.mind { b { "mind " } "The relay chatters; shown is what holds while it is released." } }
        @if solved.cranking_rpm > 0.0 { p { "The engine turns at " (format!("{:.0}", solved.cranking_rpm)) " rpm." } }
        div.scroll tabindex="0" role="region" aria-label="Potentials" {
            table {
                caption { "Potentials against " (machine.node_title(machine.reference())) }
                thead { tr { th scope="col" { "Point" } th.n scope="col" { "Volts" } } }
                tbody {
                    @for (name, potential) in &solved.half.nodes.0 {
                        tr id=(anchor(machine, name)) { td { (words::point(machine, name)) } td.n { (volts(*potential)) } }
                    }
                }
            }
        }
        details {
            summary { "Currents" }
            table {
                thead { tr { th scope="col" { "Part" } th.n scope="col" { "Amperes" } } }
                tbody { @for (name, amps) in &solved.half.currents.0 { tr { td { (name) } td.n { (show(*amps, Dimension::Current)) } } } }
            }
        }
    })
}
