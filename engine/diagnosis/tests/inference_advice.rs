//! How candidates are ranked: stages, access, bundles, what is barred.
//! The rules are those that did best in the simulation of docs/oracles.md; the cases here are made by hand.
#![allow(clippy::unwrap_used, missing_docs)]

use diagnosis::inference::{
    Advice, Belief, Candidate, Ending, Kernel, Move, Outlook, Places, Readings, Remedy, Settings, Situation, Stage,
    Standing, Test, Worlds, advise,
};

/// `n` suspects alike, one world each.
fn alike(n: u32) -> (Worlds, Outlook) {
    let worlds = Worlds::new(n as usize, (0..n).collect(), vec![0.0; n as usize]).unwrap();
    let belief = Belief::weigh(&worlds, &Readings::new()).unwrap();
    let outlook = Outlook::new(&worlds, &belief, 1e-6);
    (worlds, outlook)
}

/// Tells whether the suspect is below `limit`, with an error of 2 %.
fn splits_at(worlds: &Worlds, limit: usize, minutes: f64, place: Option<usize>) -> Test<'static> {
    let classes: Vec<u8> = (0..worlds.len()).map(|world| u8::from(world < limit)).collect();
    let kernel = Kernel::new(2, vec![0.98, 0.02, 0.02, 0.98]).unwrap();
    let mut test = Test::new(worlds, classes, kernel, minutes).unwrap();
    test.place = place;
    test
}

fn one_each(n: u32, minutes: f64) -> Vec<Remedy> {
    (0..n).map(|suspect| Remedy { minutes, lost: 0.0, place: None, fixes: vec![suspect] }).collect()
}

fn ask(outlook: &Outlook, tests: &[Test], standing: &[Standing], remedies: &[Remedy], access: &[f64]) -> Advice {
    let places = Places::new(access.to_vec());
    let ending = Ending::Repair { unfixed_minutes: 100.0 };
    advise(outlook, &Situation { tests, standing, remedies, places: &places, ending }, &Settings::default())
}

/// One step ahead, six remedies of ten minutes, no access.
fn ask_without_exact_plans(outlook: &Outlook, tests: &[Test]) -> Advice {
    let (remedies, places) = (one_each(6, 10.0), Places::default());
    let ending = Ending::Repair { unfixed_minutes: 100.0 };
    let situation = Situation { tests, standing: &[], remedies: &remedies, places: &places, ending };
    advise(outlook, &situation, &Settings { exact_suspects: 0, ..Settings::default() })
}

fn of(advice: &Advice, step: Move) -> &Candidate {
    advice.candidates.iter().find(|candidate| candidate.step == step).unwrap()
}

#[test]
fn law_while_much_is_open_bits_per_minute_decide_with_half_the_access() {
    let (worlds, outlook) = alike(16);
    let tests = [splits_at(&worlds, 8, 1.0, Some(0)), splits_at(&worlds, 8, 3.1, None)];
    // Four minutes of access: 1 + ½·4 = 3 charged, 5 in all.
    let advice = ask(&outlook, &tests, &[], &one_each(16, 20.0), &[4.0]);
    assert_eq!(advice.stage, Stage::Information);
    assert!((advice.entropy_bits - 4.0).abs() < 1e-12);
    let best = &advice.candidates[0];
    assert_eq!((best.step, best.minutes, best.charged_minutes), (Move::Test(0), 5.0, 3.0));
    // 1 − H(.02), by hand.
    assert!((best.bits - 0.858_559_5).abs() < 1e-7);
    assert!((best.score - best.bits / 3.0).abs() < 1e-15);
    assert_eq!(best.expected_minutes, None);
    let dearer = ask(&outlook, &tests, &[], &one_each(16, 20.0), &[4.4]);
    assert_eq!(dearer.candidates[0].step, Move::Test(1));
}

#[test]
fn law_a_remedy_joins_the_tests_only_if_it_leads_or_is_cheaper_than_any() {
    let (worlds, outlook) = alike(16);
    let tests = [splits_at(&worlds, 8, 1.0, None)];
    let mut remedies = one_each(16, 20.0);
    remedies[5].minutes = 0.2;
    let advice = ask(&outlook, &tests, &[], &remedies, &[]);
    let steps: Vec<Move> = advice.candidates.iter().map(|candidate| candidate.step).collect();
    // The cheap one has .337 bits for .2 minutes; the first of equals leads.
    assert_eq!(steps, [Move::Remedy(5), Move::Test(0), Move::Remedy(0)]);
}

#[test]
fn law_near_the_end_a_test_is_made_only_if_it_saves_minutes() {
    let (worlds, outlook) = alike(6);
    let settings = |minutes| {
        let tests = [splits_at(&worlds, 3, minutes, None)];
        ask_without_exact_plans(&outlook, &tests)
    };
    // Remedies only: 10 × 3.5. A free test would leave close to 10 × 2.
    let cheap = settings(1.0);
    assert_eq!((cheap.stage, cheap.candidates[0].step), (Stage::ExpectedMinutes, Move::Test(0)));
    assert!((cheap.minutes_without_tests - 35.0).abs() < 1e-9);
    // 3 suspects left at .98 and 3 at .02: 1 + 10·(.98·2 + .02·5).
    assert!((cheap.candidates[0].expected_minutes.unwrap() - 21.6).abs() < 1e-9);
    assert!((cheap.candidates[0].score - 13.4).abs() < 1e-9);
    // Risk is paid like minutes.
    let mut risky = [splits_at(&worlds, 3, 1.0, None)];
    risky[0].risk_minutes = 2.0;
    let risky = ask_without_exact_plans(&outlook, &risky);
    assert!((of(&risky, Move::Test(0)).expected_minutes.unwrap() - 23.6).abs() < 1e-9);
    let dear = settings(16.0);
    assert_eq!(dear.candidates[0].step, Move::Remedy(0));
    assert!(of(&dear, Move::Test(0)).score < 0.0);
}

#[test]
fn law_few_suspects_are_planned_exactly_and_never_worse_than_one_step_ahead() {
    let (worlds, outlook) = alike(4);
    let tests = [splits_at(&worlds, 2, 4.0, None), splits_at(&worlds, 1, 4.0, None)];
    let advice = ask(&outlook, &tests, &[], &one_each(4, 10.0), &[]);
    assert_eq!(advice.stage, Stage::Exact);
    let one_step = Settings { exact_suspects: 0, ..Settings::default() };
    let places = Places::default();
    let remedies = one_each(4, 10.0);
    let situation = Situation {
        tests: &tests,
        standing: &[],
        remedies: &remedies,
        places: &places,
        ending: Ending::Repair { unfixed_minutes: 100.0 },
    };
    let ahead = advise(&outlook, &situation, &one_step);
    assert!(advice.candidates[0].expected_minutes <= ahead.candidates[0].expected_minutes);
}

#[test]
fn law_a_test_that_needs_another_is_scored_as_a_bundle_and_starts_with_it() {
    let (worlds, outlook) = alike(16);
    let mut tests = vec![
        splits_at(&worlds, 0, 1.0, Some(0)),
        splits_at(&worlds, 8, 2.0, Some(0)),
        splits_at(&worlds, 8, 9.0, None),
    ];
    tests[1].prerequisites = vec![0];
    tests[1].risk_minutes = 0.5;
    let standing = |first| [first, Standing::Open, Standing::Open];
    let remedies = one_each(16, 20.0);
    let advice = ask(&outlook, &tests, &standing(Standing::Open), &remedies, &[4.0]);
    let best = &advice.candidates[0];
    assert_eq!((best.step, best.first), (Move::Test(1), Move::Test(0)));
    // Access once: 1 + 2 + 4, and as charged 1 + 2 + .5 + ½·4.
    assert_eq!((best.minutes, best.charged_minutes), (7.0, 5.5));

    let advice = ask(&outlook, &tests, &standing(Standing::Done), &remedies, &[4.0]);
    assert_eq!((of(&advice, Move::Test(1)).first, of(&advice, Move::Test(1)).minutes), (Move::Test(1), 6.0));
    assert!(advice.candidates.iter().all(|candidate| candidate.step != Move::Test(0)), "made already");

    let advice = ask(&outlook, &tests, &standing(Standing::Barred), &remedies, &[4.0]);
    assert_eq!(advice.candidates[0].step, Move::Test(2));
    assert!(advice.candidates.iter().all(|candidate| candidate.step != Move::Test(1)), "barred with it");
}

#[test]
fn regress_tests_that_need_each_other_are_never_proposed() {
    let (worlds, outlook) = alike(16);
    let mut tests = vec![splits_at(&worlds, 8, 1.0, None), splits_at(&worlds, 4, 1.0, None)];
    tests[0].prerequisites = vec![1];
    tests[1].prerequisites = vec![0];
    let advice = ask(&outlook, &tests, &[], &one_each(16, 20.0), &[]);
    assert!(advice.candidates.iter().all(|candidate| matches!(candidate.step, Move::Remedy(_))));
    assert_eq!(advice.candidates.len(), 16);
    tests[0].prerequisites = vec![7];
    assert_eq!(ask(&outlook, &tests, &[], &one_each(16, 20.0), &[]).candidates.len(), 16);
}

#[test]
fn regress_a_lone_suspect_leaves_its_remedy_and_nothing_leaves_nothing() {
    let (worlds, outlook) = alike(1);
    let tests = [splits_at(&worlds, 1, 1.0, None)];
    let advice = ask(&outlook, &tests, &[], &one_each(1, 20.0), &[]);
    assert_eq!((advice.candidates[0].step, advice.stage), (Move::Remedy(0), Stage::Exact));
    assert_eq!(advice.candidates[0].expected_minutes, Some(20.0));
    let nothing = ask(&outlook, &[], &[], &[], &[]);
    assert_eq!((nothing.candidates.len(), nothing.minutes_without_tests), (0, 100.0));
}

#[test]
fn law_many_outcomes_are_merged_for_the_exact_plan_at_little_loss() {
    // Twelve classes that fall in three kinds: merging to three outcomes loses nothing.
    let (worlds, outlook) = alike(5);
    let coarse: Vec<f64> = vec![0.9, 0.05, 0.05, 0.05, 0.9, 0.05, 0.05, 0.05, 0.9];
    let fine: Vec<f64> = coarse.iter().flat_map(|p| [0.25; 4].map(|share| share * p)).collect();
    let advice = |kernel| {
        let tests = [Test::new(&worlds, vec![0, 0, 1, 2, 2], kernel, 2.0).unwrap(), splits_at(&worlds, 1, 1.0, None)];
        ask(&outlook, &tests, &[], &one_each(5, 10.0), &[])
    };
    let (one, other) = (advice(Kernel::new(3, coarse).unwrap()), advice(Kernel::new(12, fine).unwrap()));
    assert_eq!((one.stage, other.stage), (Stage::Exact, Stage::Exact));
    for (a, b) in one.candidates.iter().zip(&other.candidates) {
        assert_eq!(a.step, b.step);
        assert!((a.expected_minutes.unwrap() - b.expected_minutes.unwrap()).abs() < 1e-9);
    }
}
