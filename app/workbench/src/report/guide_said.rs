//! The guide's own sentences, as page, text and paper have them alike.

use super::guide_course::hundredths;
use crate::shop::guide::{Chapter, Guide, Place};
use crate::shop::words::{minutes, odds};

pub const ABOUT: &str = "A guide to faults in its starting and charging circuit. It needs no network and no program: a \
                         meter, a test lamp and the steps below.";
/// How it is followed; what is typed comes between the first two.
pub const FOLLOW: [&str; 3] = [
    "Look up what the owner says and begin at its step. Do what the step says, find the line that is like what you see, go \
     to the step that it names. Write each reading down: where paper ends, call the workshop with them, or go on from them \
     with ",
    "probewright work",
    "Each line gives its odds and whom it points at. A step counts with the middle of the range that led to it; where your \
     reading stands at the edge of a range, and time allows, follow the other line too.",
];
pub const STATES: &str = "Sound, as its sheet gives it, at 20 °C. A wire is drawn the thicker the more it carries; each point \
                          tells its volts against battery minus.";
/// What the ranges mean; the sign that needs a word; the word.
pub const HEALTHY: [&str; 3] = [
    "Ranges hold for 95 of 100 healthy machines, warm or cold. ",
    "<35.0 mV",
    ": no further from nothing than that, either way.",
];
pub const CARD: &str = "Volts of a healthy machine, red on the point, black on battery minus.";
pub const BLOCKED: &str = "Blocked: do not press start. Plug out, drain what stands above the piston.";
pub const BEHIND: &str = "this seldom comes by itself: look for the cause behind it before the job is closed";
pub const CHECK: [&str; 2] = ["Repair check", ", put together again:"];
pub const NOT_MENDED: &str = "Not mended: it was another; take your readings to the workshop.";
pub const ENDS: &str = "Paper ends here: call the workshop";

/// Complaints that have no chapter; nothing where all have.
pub fn absent(guide: &Guide) -> Option<String> {
    let all = guide.absent.join("; ");
    (!all.is_empty()).then(|| format!("Not on paper: {all}. For these take the machine to the workshop."))
}

/// What a chapter's course comes to: before the share that ends well, that share, after it.
pub fn comes_to(chapter: &Chapter) -> [String; 3] {
    let [right, listed, wrong, off] = chapter.ends.map(hundredths);
    [
        format!(
            "Of 100 jobs with this machine {} begin so. Of 100 such what-if cases taken down these steps, ",
            hundredths(chapter.share)
        ),
        right,
        format!(
            " end at the remedy that mends them, {listed} at a short list that names them, {off} where paper cannot \
             follow, {wrong} at a wrong remedy, which its repair check shows; after {} on average.",
            minutes(chapter.minutes)
        ),
    ]
}

/// How often a place is reached, and whom it leaves.
pub fn reached(place: &Place) -> String {
    let leading: Vec<String> =
        place.suspects.iter().take(3).map(|(title, share)| format!("{title} {}", odds(*share))).collect();
    let now = if leading.is_empty() { String::new() } else { format!(" Suspects now: {}.", leading.join("; ")) };
    format!("Reached by {} of such jobs, after {}.{now}", odds(place.reach), minutes(place.spent))
}

/// What paper leaves where it ends.
pub fn left(place: &Place, next: Option<&(String, String, f64)>) -> String {
    let next = next.map(|(_, title, time)| format!(" Next would be: {title} ({}).", minutes(*time)));
    format!("Until here {}.{}", minutes(place.spent), next.unwrap_or_default())
}
