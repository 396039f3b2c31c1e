//! The worksheets: a form made from the same description as the command, the answer below it with its working.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Path, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use calculator::{Answer, CATALOGUE, Cell, Entry, Fallback, Input, Origin, Refused, Sheet, Table, Want, Worksheet};
use maud::{Markup, PreEscaped, html};

use crate::shop::machines::Ready;
use crate::shop::plot;
use crate::web::form::{Fields, read};
use crate::web::frame::{Frame, Where};
use crate::web::trouble::Trouble;
use crate::web::{Shared, blocking};

/// Its addresses.
pub fn routes() -> Router<Shared> {
    Router::new().route("/worksheets", get(list)).route("/worksheet/{name}", get(show))
}

async fn list() -> Markup {
    Frame::new("Worksheets", Where::Worksheets).page(&html! {
        h1 { "Worksheets" }
        ul.cards {
            @for worksheet in CATALOGUE {
                li.card { h2 { a href={ "/worksheet/" (worksheet.name) } { (worksheet.title) } } p { (worksheet.about) } }
            }
        }
    })
}

async fn show(
    State(workshop): State<Shared>,
    Path(name): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Response, Trouble> {
    let worksheet = calculator::find(&name).ok_or_else(|| {
        Trouble::new(StatusCode::NOT_FOUND, "there is no such worksheet").hint("/worksheets lists them")
    })?;
    blocking(move || {
        let asked = read(query.unwrap_or_default().as_bytes());
        let machines = workshop.machines.names();
        let machine = asked.text("machine").to_owned();
        let ready = if machine.is_empty() { None } else { workshop.ready(&machine)? };
        Ok(page(worksheet, &machines, &asked, ready.as_ref()))
    })
    .await?
}

fn page(worksheet: &'static Worksheet, machines: &[String], asked: &Fields, ready: Option<&Arc<Ready>>) -> Response {
    let written = |name: &str| -> Vec<String> {
        let changes = worksheet.inputs.iter().any(|input| input.name == name && input.want == Want::Changes);
        let texts = asked.all(name).into_iter();
        let texts: Vec<String> = match changes {
            true => texts.flat_map(|text| text.lines().map(str::to_owned).collect::<Vec<_>>()).collect(),
            false => texts.collect(),
        };
        texts.into_iter().map(|text| text.trim().to_owned()).filter(|text| !text.is_empty()).collect()
    };
    // Opened for the first time it is worked where nothing has to be given.
    let given = asked.text("work") == "yes" || ready.is_some();
    let worked = worksheet.answer(ready.map(|ready| &ready.machine), written);
    let refused = worked.as_ref().err().filter(|_| given);
    let content = html! {
        h1 { (worksheet.title) }
        p { (worksheet.about) }
        @match &worked {
            Ok((entries, answer)) => { (answered(worksheet, entries, answer)) h2 { "With other inputs" } }
            Err(Refused::NoSheet) if !given => { p.hint { "Choose a machine first." } }
            Err(_) => {}
        }
        (form(worksheet, machines, asked, refused))
    };
    let status = if refused.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    (status, Frame::new(worksheet.title, Where::Worksheets).page(&content)).into_response()
}

fn form(worksheet: &Worksheet, machines: &[String], asked: &Fields, refused: Option<&Refused>) -> Markup {
    html! {
        form method="get" action={ "/worksheet/" (worksheet.name) } {
            input type="hidden" name="work" value="yes";
            @if let Some(refused) = refused {
                div.trouble role="alert" { p { (refused) } @if let Some(hint) = refused.hint() { p { (hint) } } }
            }
            @if worksheet.sheet != Sheet::Unused {
                label for="machine" { "Machine" }
                select #machine name="machine" {
                    option value="" { @if worksheet.sheet == Sheet::Needed { "choose one" } @else { "none" } }
                    @for name in machines { option value=(name) selected[name == asked.text("machine")] { (name) } }
                }
            }
            @for input in worksheet.inputs { (field(input, asked, refused)) }
            div.row { button.main { "Work it out" } }
        }
    }
}

fn field(input: &Input, asked: &Fields, refused: Option<&Refused>) -> Markup {
    let wrong = refused.and_then(Refused::input) == Some(input.name);
    let id = format!("in-{}", input.name);
    let (limits, numeric) = match input.want {
        Want::Quantity(dimension, low, high) => {
            (format!(" From {} to {}.", quantity::show(low, dimension), quantity::show(high, dimension)), true)
        }
        Want::Ratio(low, high) => (format!(" From {low} to {high}."), true),
        Want::Choice(_) => (String::new(), false),
        Want::Changes => (" One a line: PART.FIELD=VALUE.".to_owned(), false),
    };
    let usual = match input.fallback {
        Fallback::Required => " It must be given.".to_owned(),
        Fallback::Text(text) => format!(" Usual: {text}."),
        Fallback::OfMachine(_, text) => format!(" Open: the machine's own; else {text}."),
        Fallback::Absent => String::new(),
    };
    let value = asked.raw(input.name);
    html! {
        label for=(id) { (input.name.replace('-', " ")) }
        @match input.want {
            Want::Choice(words) => select id=(id) name=(input.name) aria-describedby={ (id) "-hint" } {
                option value="" { "usual" }
                @for word in words { option value=(word) selected[*word == value] { (word) } }
            },
            Want::Changes => textarea id=(id) name=(input.name) aria-describedby={ (id) "-hint" } spellcheck="false" { "\n" (value) },
            _ => input id=(id) name=(input.name) value=(value) inputmode=[numeric.then_some("decimal")] autocomplete="off"
                aria-invalid=[wrong.then_some("true")] aria-describedby={ (id) "-hint" };,
        }
        p.hint id={ (id) "-hint" } { (input.doc) (limits) (usual) }
    }
}

fn answered(worksheet: &Worksheet, entries: &[Entry], answer: &Answer) -> Markup {
    let used = worksheet.inputs.iter().zip(entries).filter(|(_, entry)| entry.origin != Origin::Absent);
    html! {
        h2 { "Answer" }
        p.remark role="status" { (answer.headline) }
        @if !answer.figures.is_empty() {
            table { tbody { @for figure in &answer.figures { tr { td { (figure.title) } td.n { (figure.value.text()) } } } } }
        }
        @for rows in &answer.tables { (table(rows)) }
        @if let Some(svg) = answer.plot.as_ref().and_then(|drawn| plot::svg(drawn).ok()) { figure.scroll tabindex="0" role="region" aria-label="Plot" { (PreEscaped(svg)) } }
        (section("What to do", answer.advice.iter().map(String::as_str)))
        @for caution in &answer.cautions { p.mind { b { "mind " } (caution) } }
        details { summary { "Working" } ol { @for step in &answer.working { li { (step) } } } }
        details {
            summary { "Inputs as used" }
            table {
                tbody {
                    @for (input, entry) in used {
                        @let origin = match entry.origin { Origin::Machine => "the machine's", Origin::Usual => "usual", _ => "" };
                        tr { td { (input.name) } td.n { (entry.text) } td { (origin) } }
                    }
                }
            }
        }
        details { summary { "Sources" } ul { @for source in &answer.sources { li { (source) } } } }
    }
}

fn section<'a>(title: &str, texts: impl Iterator<Item = &'a str>) -> Markup {
    let texts: Vec<&str> = texts.collect();
    html! { @if !texts.is_empty() { h3 { (title) } ul { @for text in &texts { li { (text) } } } } }
}

fn table(table: &Table) -> Markup {
    let number = |cell: &Cell| matches!(cell, Cell::Number(..));
    html! {
        div.scroll tabindex="0" role="region" aria-label=(table.title) {
            table {
                caption { (table.title) }
                thead { tr { @for column in &table.columns { th scope="col" { (column.title) } } } }
                tbody { @for row in &table.rows { tr { @for cell in row { td.n[number(cell)] { (cell.text()) } } } } }
            }
        }
    }
}
