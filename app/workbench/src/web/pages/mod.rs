//! The pages, one file each; a new page is a file and a line in the list.

mod fleet;
mod guide;
mod history;
mod job;
mod job_aside;
mod job_now;
mod job_view;
mod jobs;
mod machine;
mod machines;
mod new;
mod pair;
mod photo;
mod practice;
mod practice_meter;
mod practice_told;
mod quote;
mod readings;
mod report;
mod sheet;
mod worksheet;

use axum::Router;

use super::Shared;

/// All pages.
pub fn routes() -> Router<Shared> {
    let pages = [
        machines::routes,
        machine::routes,
        readings::routes,
        sheet::routes,
        new::routes,
        fleet::routes,
        guide::routes,
        history::routes,
        jobs::routes,
        job::routes,
        photo::routes,
        quote::routes,
        report::routes,
        pair::routes,
        practice::routes,
        worksheet::routes,
    ];
    pages.into_iter().fold(Router::new(), |router, page| router.merge(page()))
}
