//! What leaves the bench: pages that hold all they need in one file, for a mailbox, a telephone without a network, a
//! printer.
//! Promise: no page here loads anything from elsewhere, runs a script of anybody else, or says when or where it was made
//! unless the journal does; the same sheet and entries give the same bytes.

pub mod guide;
mod guide_course;
#[cfg(feature = "pdf")]
pub mod guide_pdf;
mod guide_said;
pub mod guide_text;
pub mod job;
mod job_costs;
mod job_figure;
pub mod job_html;
mod job_line;
#[cfg(feature = "pdf")]
pub mod job_pdf;
mod job_photo;
pub mod job_text;
pub mod owner;
pub mod page;
