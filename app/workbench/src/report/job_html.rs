//! A job's report as a page in one file: for a mailbox, a telephone, a printer.
//! Promise: see `page`; pictures and drawings are within it, whatever was typed is text.

use base64::prelude::{BASE64_STANDARD, Engine};
use maud::{Markup, PreEscaped, html};

use super::job::JobReport;
use super::job_figure::Drawn;
use super::job_line::{Line, Row};
use super::page::page;

/// The whole page.
pub fn html(report: &JobReport) -> String {
    let title = format!("{}: report on job {}", report.machine, report.job);
    page(&title, &content(report)).into_string()
}

fn content(report: &JobReport) -> Markup {
    html! {
        header {
            @if !report.heading.name.is_empty() {
                address {
                    b { (report.heading.name) }
                    @for line in &report.heading.address { br; (line) }
                    @if !report.heading.contact.is_empty() { br; (report.heading.contact) }
                }
            }
            h1 { (report.machine) }
            p.quiet { "Report on job " (report.job) ", " (report.dates) }
            p.state { (report.state) }
        }
        (rows(&report.about))
        (found(report))
        (done(report))
        (proof(report))
        (costs(report))
        @if let Some(drawn) = &report.drawn { (schematic(drawn)) }
        @if !report.readings.is_empty() {
            h2 { "What was measured" }
            @for line in &report.readings { (item(line)) }
        }
        @if !report.photos.taken.is_empty() || !report.photos.left_out.is_empty() { (photos(report)) }
        footer {
            @if !report.heading.note.is_empty() { p { (report.heading.note) } }
            p.quiet { (report.made) }
        }
    }
}

fn found(report: &JobReport) -> Markup {
    html! {
        h2 { "What was found" }
        @if report.cause.is_empty() {
            @if report.suspects.is_empty() { p { "No cause is found yet." } }
            @else { p { "No cause is found yet. The odds as they stand:" } (rows(&report.suspects)) }
        }
        @for (index, cause) in report.cause.iter().enumerate() {
            p.lead { @if index > 0 { "or: " } (cause) "." }
        }
        @if !report.odds.is_empty() { p { (report.odds) } }
        @if !report.rests_on.is_empty() { p { (report.rests_on) } }
    }
}

fn done(report: &JobReport) -> Markup {
    html! {
        @if !report.remedy.is_empty() {
            h2 { @if report.repaired { "What was done" } @else { "What is to be done" } }
            p.lead { (report.remedy) "." }
            @if !report.remedy_mind.is_empty() { p.caution { (report.remedy_mind) } }
            @if !report.parts.is_empty() { p { "Parts: " (report.parts.join(", ")) "." } }
        }
    }
}

fn costs(report: &JobReport) -> Markup {
    let costs = &report.costs;
    html! {
        @if !costs.lines.is_empty() || !costs.said.is_empty() { h2 { "Work" @if costs.priced { " and cost" } } }
        @if !costs.lines.is_empty() {
            table.sum {
                thead {
                    tr {
                        th scope="col" { "Minutes as reckoned for each step" }
                        th.n scope="col" { "Minutes" }
                        @if costs.priced { th.n scope="col" { "Amount" } }
                    }
                }
                tbody {
                    @for line in &costs.lines {
                        tr { td { (line.what) } td.n { (line.minutes) } @if costs.priced { td.n { (line.amount) } } }
                    }
                }
            }
        }
        (rows(&costs.said))
    }
}

fn proof(report: &JobReport) -> Markup {
    html! {
        @if report.proven || report.repaired || !report.proof_wanted.is_empty() {
            h2 { "Proof" }
            @if report.proven { p { "After the repair the machine has shown what a healthy one shows." } }
            @if !report.proof.is_empty() {
                table {
                    thead { tr { th scope="col" { "Repair check" } th.n scope="col" { "Shown" } th.n scope="col" { "Healthy" } } }
                    tbody {
                        @for line in &report.proof {
                            tr {
                                td { (line.title) @if !line.mind.is_empty() { br; span.mind { "Mind: " (line.mind) } } }
                                td.n { (line.shown) @if line.out { br; (line.compared) } }
                                td.n { (line.healthy) }
                            }
                        }
                    }
                }
            }
            @if !report.proof_wanted.is_empty() {
                p { @if report.repaired { "Still wanted:" } @else { "After the repair the machine must show:" } }
                ul { @for wanted in &report.proof_wanted { li { (wanted) } } }
            }
        }
        @if !report.watch.is_empty() {
            h2 { "What to watch" }
            ul { @for watch in &report.watch { li { (watch) } } }
        }
    }
}

fn schematic(drawn: &Drawn) -> Markup {
    html! {
        h2 { "On the schematic" }
        figure {
            div.paper role="img" aria-label=(drawn.paper.alt) { (PreEscaped(&drawn.paper.svg)) }
            div.narrow role="img" aria-label=(drawn.narrow.alt) { (PreEscaped(&drawn.narrow.svg)) }
            figcaption { (drawn.caption) }
        }
    }
}

fn rows(rows: &[Row]) -> Markup {
    html! {
        @if !rows.is_empty() { dl { @for (label, text) in rows { dt { (label) } dd { (text) } } } }
    }
}

/// A reading with what lies between its tips.
fn item(line: &Line) -> Markup {
    html! {
        section.reading.keep.out[line.out] {
            div {
                h3 { (line.title) @if line.again { ", once more" } }
                p.shown {
                    span.number { (line.shown) }
                    @if !line.compared.is_empty() { " " span.compared { (line.compared) } }
                }
                @if !line.healthy.is_empty() { p { "healthy " span.number { (line.healthy) } } }
                @if !line.how.is_empty() { (rows(&line.how)) }
                @if !line.mind.is_empty() { p.mind { b { "Mind: " } (line.mind) } }
            }
            @if let Some(strip) = &line.strip { figure { (PreEscaped(&strip.svg)) } }
        }
    }
}

fn photos(report: &JobReport) -> Markup {
    html! {
        h2 { "Pictures" }
        @for photo in &report.photos.taken {
            figure.keep {
                img alt=(photo.text) src={ "data:" (photo.media) ";base64," (BASE64_STANDARD.encode(&photo.bytes)) };
                figcaption { (photo.text) }
            }
        }
        @for left_out in &report.photos.left_out { p { (left_out) "." } }
    }
}
