//! What the owner says: computed from the physics of each world, never typed in as a table; soft evidence.
//! Edges are soft by ±10 % (estimate); an owner is wrong once in twenty (common practice, no source).

use machine::Signs;

/// A complaint that the tool understands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Complaint {
    /// As typed.
    pub name: &'static str,
    /// In the owner's words.
    pub title: &'static str,
    /// Whether this version can compute it from the wiring; one that it cannot is kept and weighs nothing.
    pub computed: bool,
}

/// What the owner of a machine says whose fault comes and goes; no fault that stays makes him say it.
pub const COMES_AND_GOES: &str = "comes-and-goes";

/// What the owner of a machine says that starts in mild air and not on a frosty morning.
pub const COLD_ONLY: &str = "cold-only";

/// All complaints.
pub const COMPLAINTS: &[Complaint] = &[
    Complaint { name: "nothing-happens", title: "nothing happens when I press start", computed: true },
    Complaint { name: "one-click", title: "one click, then nothing", computed: true },
    Complaint { name: "chatters", title: "it chatters", computed: true },
    Complaint { name: "spins-only", title: "the starter spins, the engine doesn't turn", computed: true },
    Complaint { name: "grinds", title: "it grinds", computed: false },
    Complaint { name: "cranks-slowly", title: "it cranks slowly", computed: true },
    Complaint { name: COLD_ONLY, title: "it fails only on cold mornings", computed: true },
    Complaint { name: "hot-only", title: "it fails only when hot", computed: false },
    Complaint { name: "goes-flat", title: "the battery goes flat within days or weeks", computed: true },
    Complaint { name: COMES_AND_GOES, title: "it comes and goes", computed: true },
    Complaint { name: "keeps-cranking", title: "the starter runs without the button", computed: true },
    Complaint { name: "fuse-blows", title: "the fuse blows", computed: true },
    Complaint { name: "not-charging", title: "it does not charge", computed: true },
    Complaint { name: "kicks-back", title: "it kicks back", computed: false },
    Complaint { name: "fires-on-release", title: "it fires only when I let go of the button", computed: false },
    Complaint { name: "cranks-no-fire", title: "it cranks but does not fire", computed: false },
];

/// An owner describes something else than what happens once in twenty jobs.
pub(crate) const OWNER_IS_WRONG: f64 = 0.05;
/// A rest current this much above healthy flattens the battery.
const LEAK: f64 = 0.020;
/// Below this share of the healthy current into the battery it does not charge (estimate).
const CHARGES: f64 = 0.3;
/// Below so much less than the speed at which an engine fires it never does, above so much more it always does (estimate).
const DOUBT: f64 = 0.3;
/// Share of the healthy speed in mild air below which an engine does not fire, where its sheet does not say (estimate).
const FIRES: f64 = 0.6;
/// Below this share of healthy speed it cranks slowly.
const SLOW: f64 = 0.85;

/// How much likelier nothing is wrong with the starting circuit when the complaint lies elsewhere (common practice, no
/// source: ignition, fuel or timing in most of such jobs).
pub(crate) const ELSEWHERE: f64 = 50.0;

/// Whether a complaint is of what happens while the machine cranks as it should.
pub(crate) fn is_elsewhere(complaint: &Complaint) -> bool {
    matches!(complaint.name, "kicks-back" | "fires-on-release" | "cranks-no-fire")
}

/// Complaints that a single start does not show.
const AT_REST: &[&str] = &["goes-flat", "not-charging", COLD_ONLY, COMES_AND_GOES];
/// How often somebody thinks of one that is not the owner's (estimate).
const UNTHOUGHT: f64 = 0.3;

/// The complaint of that name.
pub fn find(name: &str) -> Option<&'static Complaint> {
    COMPLAINTS.iter().find(|complaint| complaint.name == name)
}

/// The probability that a world makes its owner say this; the same for all worlds when it cannot be computed.
pub fn likelihood(complaint: &Complaint, signs: &Signs, nominal: &Signs) -> f64 {
    let computed = COMPLAINTS.iter().filter(|known| known.computed).count() as f64;
    let weights = || COMPLAINTS.iter().filter(|known| known.computed).map(|known| weight(known.name, signs, nominal));
    if is_elsewhere(complaint) {
        // While it cranks as it should nobody says so of the starter; slow cranking may be why it does not fire.
        let most = weights().fold(0.0, f64::max);
        let slow = if complaint.name == "cranks-no-fire" { weight("cranks-slowly", signs, nominal) } else { 0.0 };
        return (1.0 - OWNER_IS_WRONG) * (1.0 - most).max(slow) + OWNER_IS_WRONG / computed;
    }
    if !complaint.computed {
        return 1.0 / computed;
    }
    let all: f64 = weights().sum();
    let said = weight(complaint.name, signs, nominal);
    let share = if all > 0.0 { said / all } else { 0.0 };
    (1.0 - OWNER_IS_WRONG) * share + OWNER_IS_WRONG / computed
}

/// The probability that what is wrong with a machine brings it: that its owner says something of it that he would not say
/// of the same machine without its fault.
pub(crate) fn brings(sick: &Signs, sound: &Signs, nominal: &Signs) -> f64 {
    let weights = |signs: &Signs| {
        let computed = COMPLAINTS.iter().filter(|known| known.computed);
        computed.map(|known| weight(known.name, signs, nominal)).collect::<Vec<f64>>()
    };
    let (sick, sound) = (weights(sick), weights(sound));
    let all: f64 = sick.iter().sum();
    let anyway = sound.iter().copied().fold(0.0, f64::max);
    let new = sick.iter().zip(&sound).map(|(sick, sound)| (sick - sound).max(0.0)).sum::<f64>();
    if all > 0.0 { new / all * (1.0 - anyway).max(0.0) } else { 0.0 }
}

/// How surely a machine is called as bad as before, 0 to 1: it still does what its owner said, or it does not start as it
/// should; of anything else that he might say nobody may have thought yet.
pub(crate) fn stays(said: Option<&Complaint>, signs: &Signs, nominal: &Signs) -> f64 {
    let new = |known: &Complaint| {
        let new = weight(known.name, signs, nominal) - weight(known.name, nominal, nominal);
        let seen = said.is_some_and(|said| said == known) || !AT_REST.contains(&known.name);
        if seen { new } else { UNTHOUGHT * new }
    };
    COMPLAINTS.iter().filter(|known| known.computed).map(new).fold(0.0, f64::max)
}

/// How much of what happens in a world fits a complaint, 0 to 1.
pub fn weight(complaint: &str, signs: &Signs, nominal: &Signs) -> f64 {
    let speed = if nominal.speed > 0.0 { signs.speed / nominal.speed } else { 1.0 };
    let stands = !signs.spins && !signs.chatter && !signs.runs_on;
    let yes = |holds: bool| f64::from(u8::from(holds));
    match complaint {
        "nothing-happens" => yes(stands && !signs.click),
        "one-click" => yes(stands && signs.click),
        "chatters" => yes(signs.chatter),
        "spins-only" => yes(signs.spins && !signs.engaged && nominal.engaged),
        "cranks-slowly" => yes(signs.spins && (signs.engaged || !nominal.engaged)) * below(speed, SLOW),
        // A starter that runs on flattens the battery too, but that is not what its owner says.
        "goes-flat" if signs.runs_on => 0.0,
        "goes-flat" => below(nominal.rest_draw + LEAK, signs.rest_draw),
        // It starts in mild air, and on a frosty morning it does not.
        COLD_ONLY if signs.runs_on || nominal.mild_speed <= 0.0 => 0.0,
        COLD_ONLY => fires_at(signs.mild_speed, nominal) * fails_in_the_cold(signs, nominal),
        // Noticed on a machine that starts as ever; one that does not has another complaint.
        "not-charging" if !nominal.spins || nominal.charge <= 0.0 || signs.runs_on => 0.0,
        "not-charging" => {
            yes(signs.spins && signs.engaged == nominal.engaged) * below(signs.charge, CHARGES * nominal.charge)
        }
        "keeps-cranking" => yes(signs.runs_on),
        "fuse-blows" => yes(signs.blows),
        _ => 0.0,
    }
}

/// How surely a machine does not start on a frosty morning, 0 to 1.
pub(crate) fn fails_in_the_cold(signs: &Signs, nominal: &Signs) -> f64 {
    1.0 - fires_at(signs.cold_speed, nominal)
}

/// How surely the engine fires at a speed of its motor.
fn fires_at(speed: f64, nominal: &Signs) -> f64 {
    let needs = if nominal.fires_above > 0.0 { nominal.fires_above } else { FIRES * nominal.mild_speed };
    ((speed / needs - 1.0 + DOUBT) / (2.0 * DOUBT)).clamp(0.0, 1.0)
}

/// 1 where `value` is well below `edge`, 0 where it is well above, soft by ±10 % of the edge.
fn below(value: f64, edge: f64) -> f64 {
    let width = 0.1 * edge.abs().max(1e-9);
    ((edge + width - value) / (2.0 * width)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_a_machine_is_as_bad_as_before_by_what_a_start_shows_or_its_owner_said() {
        let sound = Signs { spins: true, engaged: true, speed: 100.0, rest_draw: 0.002, ..Signs::default() };
        let slow = Signs { speed: 50.0, ..sound };
        let leaks = Signs { rest_draw: 0.5, ..sound };
        let stays = |said: &str, signs: &Signs| stays(find(said), signs, &sound);
        assert_eq!(stays("cranks-slowly", &sound).to_bits(), 0.0_f64.to_bits());
        for said in ["cranks-slowly", "nothing-happens", "goes-flat"] {
            assert!(stays(said, &slow) > 0.99, "{said}");
        }
        assert!(stays("goes-flat", &leaks) > 0.99);
        let unthought = stays("cranks-slowly", &leaks);
        assert!(unthought > 0.0 && unthought < 0.5, "{unthought}");
    }
}
