//! How a session ends, as it is printed: what was planted, minutes against others', what each reading told, the best plan.

use std::io::Write;

use quantity::{Dimension, show};

use super::super::failure::Failure;
use super::super::print::{Page, WIDTH, wrapped};
use super::super::say;
use super::{SPLIT, row, split};
use crate::shop::practice::score::{Against, Report};
use crate::shop::words::{self, minutes};

/// All of it.
pub(super) fn told(page: &mut Page, report: &Report) -> Result<(), Failure> {
    let heading = match report.ending {
        "proven" => "Found, mended and proven",
        "fixed" => "Mended, but the cause is not proven",
        _ => "Given up",
    };
    say::heading(page, heading)?;
    let planted = &report.planted;
    let severity = planted.severity_shown.as_ref().map_or_else(String::new, |shown| format!(", {shown}"));
    let comes = if planted.comes_and_goes { ", coming and going" } else { "" };
    say::labeled(page, "planted", &format!("{} ({}{severity}{comes})", planted.title, planted.fault))?;
    say::labeled(page, "remedy", &format!("{} (`remedy {}`)", planted.remedy_title, planted.remedy))?;
    if let Some(named) = &report.named {
        let right = match (named.right, named.same_remedy) {
            (true, _) => "right",
            (_, true) => "not that, but mended by the same remedy",
            _ => "wrong",
        };
        say::labeled(page, "named", &format!("{}: {right}", named.fault))?;
    }
    if report.ending == "fixed" {
        let text = "a cause is proven when the readings make it likelier than all others before it is mended, and the \
                    repair check is passed";
        say::labeled(page, "proof", text)?;
    }
    say::heading(page, "Minutes")?;
    split(page, &report.minutes)?;
    for against in &report.against {
        let who = if against.technician == "method" { "the best plan" } else { "fixed list" };
        let ending = match against.ending {
            "proven" => "",
            "fixed" => ", mended without a proof",
            _ => ", and then hands the machine on",
        };
        row(page, SPLIT, who, &format!("{:6.1} min{ending}", against.minutes))?;
    }
    if report.starter_held_s > 0.0 {
        let text = format!("The starter was held for {} in all.", show(report.starter_held_s, Dimension::Time));
        say::paragraph(page, &text)?;
    }
    let text = "The best plan is the advice, followed step by step; like you, it does not know what was planted. The \
                sheet has no prices: the minutes are the bill.";
    say::paragraph(page, text)?;
    readings(page, report)?;
    if let Some(best) = report.against.first() {
        plan(page, best)?;
    }
    Ok(())
}

/// What each reading told.
fn readings(page: &mut Page, report: &Report) -> Result<(), Failure> {
    const NOTHING: f64 = 0.1;
    if report.told.is_empty() {
        return Ok(());
    }
    say::heading(page, "What the readings told, in bits, and the odds of the planted fault after each")?;
    for reading in &report.told {
        let bits = if reading.bits < NOTHING { "nothing".to_owned() } else { format!("{:.1} bit", reading.bits) };
        let text = format!("{} = {}", reading.reading, reading.shown);
        let line = wrapped(&text, WIDTH - 20).replace('\n', "\n                  ");
        writeln!(page.out(), "  {bits:>8}  {:>6}  {line}", words::odds(reading.odds))?;
    }
    if let Some(rests_on) = &report.rests_on {
        say::paragraph(page, &format!("The reading this rests on: {rests_on}"))?;
    }
    Ok(())
}

fn plan(page: &mut Page, best: &Against) -> Result<(), Failure> {
    say::heading(page, "The best plan on this machine")?;
    let mut checks = false;
    for step in &best.steps {
        if step.check && !checks {
            say::paragraph(page, "  then the repair check:")?;
            checks = true;
        }
        let text = format!("{} = {}", step.name, step.value);
        let line = wrapped(&text, WIDTH - 12).replace('\n', "\n          ");
        writeln!(page.out(), "  {:>8}  {line}", minutes(step.minutes))?;
    }
    Ok(())
}
