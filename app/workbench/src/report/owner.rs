//! The owner's sheet as a page in one file: questions that a telephone shows without a network and a printer prints.
//! Promise: without script each answer shows its code to be written off; with it the line is made ready to be sent.

use maud::{Markup, html};

use super::page::page_with_script;
use crate::shop::owner::OwnersSheet;

/// Makes the line of the answers that are marked.
const SCRIPT: &str = include_str!("owner.js");

/// The whole page.
pub fn page(sheet: &OwnersSheet) -> Markup {
    let content = html! {
        h1 { (sheet.title) ": questions for its owner" }
        p { "Mark what fits and leave open what you do not know. Nothing has to be opened, measured or bridged. Then send the one line at the end." }
        p.caution { "If the starter does not stop, take the key out and, if that does not help, the battery's negative lead off at once. Do not start it in a closed room." }
        form.owner autocomplete="off" data-head=(sheet.head) {
            @for (number, question) in sheet.questions.iter().enumerate() {
                fieldset.keep {
                    legend { (number + 1) ". " (question.title) }
                    @if !question.setup.is_empty() { p { "Controls: " (question.setup.join("; ")) } }
                    @if !question.caution.is_empty() { p.caution { (question.caution) } }
                    @for answer in &question.answers {
                        label.answer {
                            input type="radio" name=(number) value=(answer.code);
                            span { (answer.text) }
                            code { (answer.code) }
                        }
                    }
                }
            }
            h2 { "The line to send" }
            p #by-hand { "Write behind these three words the codes of your answers, with a blank between them:" }
            p { output.line #line { (sheet.head) } }
            p #ready hidden { a.send #send href="mailto:" { "Send it by mail" } " or copy it into a message." }
        }
    };
    page_with_script(&format!("{}: questions for its owner", sheet.title), &content, SCRIPT)
}
