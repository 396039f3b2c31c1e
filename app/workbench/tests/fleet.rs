//! `fleet` and its page: odds by morning, what the journal knows moves them, mistakes name their line.

use std::time::Duration;

use crate::bench::{Said, machine, run, run_with};
use crate::history::journal;
use crate::serve::Served;

const REST: &str = "volts@rest:battery.plus,battery.minus";

/// A day that is not long ago, so that little was drawn since.
fn yesterday() -> String {
    let day = jiff::Timestamp::now() - jiff::SignedDuration::from_hours(24);
    day.to_string()[..10].to_owned()
}

fn fleet(journal: &str, more: &[&str]) -> Said {
    run(&[&["fleet", &machine("curlew"), "--journal", journal], more].concat())
}

fn odds(said: &Said) -> Vec<f64> {
    let board = said.json();
    board["machines"][0]["mornings"].as_array().unwrap().iter().map(|told| told["odds"].as_f64().unwrap()).collect()
}

#[test]
fn law_colder_mornings_have_worse_odds_and_say_what_to_do() {
    let journal = journal("fleet-cold", &[]);
    let mornings = ["--morning", "Monday=-18C", "--morning=-9C", "--morning", "thaw=4 C", "--json"];
    let said = fleet(&journal, &mornings);
    let told = odds(&said);
    assert!(told.is_sorted() && told[0] < 0.95 && told[2] > 0.95, "{told:?}");
    assert_eq!(said.code, 1, "a machine that may not start is a no");
    let first = &said.json()["machines"][0]["mornings"][0];
    assert!(first["limit"].is_string(), "{first}");
    let tonight = first["tonight"].as_array().unwrap();
    assert!(!tonight.is_empty() && tonight.iter().all(|one| one["odds"].as_f64().unwrap() > told[0]), "{first}");
    let good = fleet(&journal, &["--morning", "15C"]);
    assert_eq!(good.code, 0, "{}{}", good.out, good.err);
}

#[test]
fn law_what_the_journal_knows_moves_the_odds() {
    let day = yesterday();
    let at = |name: &str, readings: &[(&str, &str)]| {
        let said = fleet(&journal(name, &[(&day, 10, readings)]), &["--morning=-10C", "--json"]);
        (odds(&said)[0], said.json()["machines"][0]["knows"].to_string())
    };
    let (full, knows) = at("fleet-full", &[(REST, "13.35 V")]);
    assert!(knows.contains("V at rest") && knows.contains(&day), "{knows}");
    let (empty, _) = at("fleet-empty", &[(REST, "12.4 V")]);
    let (charged, knows) = at("fleet-charged", &[(REST, "12.4 V"), ("try:charge@battery", "fixed")]);
    assert!(knows.contains("filled on"), "{knows}");
    assert!(empty < 0.5 && empty < full - 0.2 && charged > full - 0.02, "{empty} {full} {charged}");
    let long_ago = journal("fleet-old", &[("2024-01-10", 10, &[(REST, "12.4 V")])]);
    let old = fleet(&long_ago, &["--morning=-10C", "--json"]);
    assert!(old.json()["machines"][0]["not_read"][0].as_str().unwrap().contains("rest voltage"), "{}", old.out);
    assert!(odds(&old)[0] > empty, "a charge of years ago says nothing");
    // Volts, amperes and the volts at the motor: a pack that sags, a path that drops.
    let (worn, knows) = at(
        "fleet-worn",
        &[(REST, "13.30 V"), ("volts@held:battery.plus,battery.minus", "8.6 V"), ("clamp@held:battery-cable", "80 A")],
    );
    assert!(knows.contains("times the resistance of a new battery"), "{knows}");
    assert!(worn < full, "{worn} {full}");
}

#[test]
fn law_tables_are_read_and_a_mistake_names_its_line() {
    let journal = journal("fleet-table", &[]);
    let table = |text: &str| run_with(&["fleet", &machine("curlew"), "--journal", &journal, "--forecast", "-"], text);
    let said = table("date;air\n2026-12-05;-8,5\n2026-12-06;3\n");
    assert!(said.out.contains("2026-12-05") && said.out.contains("-8.5 °C"), "{}{}", said.out, said.err);
    assert!(said.out.lines().all(|line| line.chars().count() <= 80), "{}", said.out);
    let said = table("2026-12-05;-8,5\n2026-12-06;mild\n");
    assert!(said.code == 2 && said.err.contains("line 2") && said.err.contains("mild"), "{}", said.err);
    let said = fleet(&journal, &["--morning", "900 C"]);
    assert!(said.code == 2 && said.err.contains("-40 to 50"), "{}", said.err);
    let said = fleet(&journal, &["--morning", "0 C", "--enough", "many"]);
    assert_eq!(said.code, 2, "{}", said.err);
}

#[test]
fn the_page_takes_mornings_and_shows_every_machine() {
    let served = Served::new("fleet");
    served.post("/machines/demo", &[]);
    assert!(served.get("/").body.contains("href=\"/fleet\""));
    assert!(served.get("/fleet").body.contains("-10 C"), "usual mornings stand there to begin with");
    let wrong = served.get("/fleet?mornings=%3Cscript%3E%2C+-8+C%0ASunday%2C+mild");
    assert!(wrong.body.contains("line 2") && wrong.body.contains("&lt;script&gt;"), "{}", wrong.body);
    assert!(!wrong.body.contains("<script>"), "{}", wrong.body);
    let ask = || served.get("/fleet?mornings=Saturday%2C+12+C");
    let mut page = ask();
    while page.body.contains(" data-again") {
        std::thread::sleep(Duration::from_millis(300));
        page = ask();
    }
    assert!(page.body.contains("Saturday 12 °C") && page.body.contains("href=\"/machine/curlew\""), "{}", page.body);
    assert_eq!(page.body.matches("<th scope=\"row\">").count(), 8, "{}", page.body);
}
