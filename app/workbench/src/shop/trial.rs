//! Trials: simulated jobs on some machines, worked by all hands, scored, in their JSON form.
//! Promise: the same seed and options give the same bytes, whatever the number of hands.

use std::collections::BTreeMap;
use std::sync::Mutex;

use diagnosis::coverage::Matrix;
use diagnosis::planted::Unanswered;
use diagnosis::trial::{
    Calibration, Ending, Interval, Job, Mid, Paired, Run, Score, Technician, Trial, calibration, paired, score,
};
use machine::{Fault, Machine};
use rayon::prelude::*;
use serde::Serialize;

pub use diagnosis::trial::{Mishaps, Options, Slip};

use super::tables;

/// What is to be worked.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Seed of the first job; the next ones follow.
    pub seed: u64,
    /// How many jobs, over all sheets.
    pub jobs: usize,
    /// What-if cases for each suspect.
    pub worlds: Option<usize>,
    /// What they are made harder by.
    pub options: Options,
}

/// One worked job.
pub struct Worked {
    /// Index of the sheet.
    pub sheet: usize,
    /// The job.
    pub job: Job,
    /// Whether another fault, at some severity, shows on every probe what the planted one shows at the middle of its own.
    pub imitated: bool,
}

/// Works all jobs: the first on the first sheet, the next on the next. `done` is told of each that is done.
///
/// # Errors
/// At the first job that has no operating point.
pub fn work(sheets: &[(Machine, String)], plan: &Plan, done: impl Fn() + Sync) -> Result<Vec<Worked>, Unanswered> {
    let atlases: Vec<_> = sheets
        .iter()
        .map(|(machine, text)| tables::table(machine, text, plan.worlds.unwrap_or_else(|| tables::full(machine))))
        .collect();
    let matrices: Vec<Matrix> = sheets.iter().map(|(machine, _)| Matrix::of(machine, None)).collect();
    let options: Vec<Options> =
        matrices.iter().map(|matrix| Options { alike: alike(matrix), ..plan.options.clone() }).collect();
    let imitated: Vec<Vec<&str>> = matrices.iter().map(|matrix| matrix.imitated().collect()).collect();
    // One bench a hand and a sheet: a hand that finds none free makes one.
    let benches: Vec<Mutex<Vec<Trial>>> = sheets.iter().map(|_| Mutex::new(Vec::new())).collect();
    let one = |index: usize| -> Result<Option<Worked>, Unanswered> {
        let sheet = index % sheets.len();
        let free = benches[sheet].lock().ok().and_then(|mut free| free.pop());
        let mut bench = free.unwrap_or_else(|| Trial::new(sheets[sheet].0.clone(), atlases[sheet].clone()));
        let job = bench.job(plan.seed.wrapping_add(index as u64), &options[sheet]);
        if let Ok(mut free) = benches[sheet].lock() {
            free.push(bench);
        }
        done();
        Ok(job?.map(|mut job| {
            if plan.jobs > 1 {
                // Only a shown job wants them; thousands of jobs would fill the memory.
                job.runs.iter_mut().flat_map(|run| &mut run.steps).for_each(|step| step.odds = Vec::new());
            }
            let is_imitated = |(fault, _): &(Fault, f64)| imitated[sheet].contains(&fault.name.as_str());
            Worked { sheet, imitated: job.planting.faults.iter().any(is_imitated), job }
        }))
    };
    let all: Vec<_> = (0..plan.jobs).into_par_iter().with_max_len(1).map(one).collect::<Result<_, _>>()?;
    Ok(all.into_iter().flatten().collect())
}

/// Small groups of faults that no probe tells apart: naming one of them is as right as naming another.
fn alike(matrix: &Matrix) -> Vec<Vec<String>> {
    const SMALL: usize = 3;
    let mut groups = matrix.groups_by_name();
    groups.retain(|group| (2..=SMALL).contains(&group.len()));
    groups
}

/// What a trial amounts to, as JSON.
#[derive(Debug, Serialize)]
pub struct Report {
    /// Seed of the first job.
    pub seed: u64,
    /// Jobs worked.
    pub jobs: usize,
    /// What-if cases for each suspect.
    pub worlds: Option<usize>,
    /// One for each technician, the method first.
    pub technicians: Vec<Scored>,
    /// The method against each rival.
    pub against: Vec<Against>,
    /// How far the method's odds can be trusted while a job is open.
    pub open: Trust,
    /// The same at its first verdict.
    pub verdict: Trust,
    /// The method by machine.
    pub by_machine: Vec<Row>,
    /// The method by what the owner said.
    pub by_complaint: Vec<Row>,
    /// The method by what was planted, most failures first.
    pub by_fault: Vec<Row>,
    /// With one wrong number a job: the method by what was wrong and at which number; jobs that ended before it are apart.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub by_slip: Vec<Row>,
    /// With faults left out of the catalogue: the method where a fault that remains can look like the one left out
    /// (`imitated`), and where none can (`foreign`).
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<Row>,
    /// Jobs in which the method was confident and wrong, or proved the wrong thing.
    pub failures: Vec<Failed>,
    /// Every job in short.
    pub each: Vec<Brief>,
}

/// One job in short.
#[derive(Debug, Serialize)]
pub struct Brief {
    /// The machine's id.
    pub machine: String,
    /// The job's seed.
    pub seed: u64,
    /// What was planted.
    pub planted: Vec<String>,
    /// What the owner said.
    pub complaint: &'static str,
    /// The method's first verdict, if there was one.
    pub verdict: Option<Vec<String>>,
    /// Whether it was right.
    pub right: bool,
    /// How the method's job ended: `proven`, `proven-wrong`, `fixed` or `handed-on`.
    pub ending: &'static str,
    /// Minutes to the end, the method's first.
    pub minutes: Vec<f64>,
}

/// One technician's score.
#[derive(Debug, Serialize)]
pub struct Scored {
    /// `method`, `list` or `halving`.
    pub technician: &'static str,
    /// Share of first verdicts that were right.
    pub right: f64,
    /// Share that were wrong.
    pub confident_wrong: f64,
    /// Share of jobs stopped as "none of these".
    pub none_of_these: f64,
    /// Share of other jobs without a verdict.
    pub no_verdict: f64,
    /// Share of jobs proven right.
    pub proven: f64,
    /// Number of jobs in which something else was proven.
    pub proven_wrong: usize,
    /// Share of jobs fixed without a proof.
    pub fixed_unproven: f64,
    /// Share of jobs handed on.
    pub unfixed: f64,
    /// Number of jobs in which one of several faults was mended and the owner would still have noticed the others.
    pub half_mended: usize,
    /// Of these, those in which all were mended in the end, and no remedy was tried without a verdict.
    pub then_mended: usize,
    /// Minutes to the end.
    pub minutes: Minutes,
    /// Mean number of steps.
    pub steps: f64,
    /// Mean number of remedies that did not end the job.
    pub remedies_in_vain: f64,
}

/// Minutes to the end of a job.
#[derive(Debug, Serialize)]
pub struct Minutes {
    /// Mean to the first verdict, or until remedies were tried without one.
    pub to_verdict: f64,
    /// Mean.
    pub mean: f64,
    /// Median.
    pub median: f64,
    /// Ninetieth percentile.
    pub p90: f64,
}

/// The method against a rival, job by job.
#[derive(Debug, Serialize)]
pub struct Against {
    /// The rival.
    pub rival: &'static str,
    /// Mean minutes saved (negative) or lost.
    pub difference: Range,
    /// Mean minutes over the rival's.
    pub ratio: Range,
}

/// An estimate with its 95 % interval.
#[derive(Debug, Serialize)]
pub struct Range {
    /// Estimate.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// How far odds can be trusted.
#[derive(Debug, Serialize)]
pub struct Trust {
    /// Moments.
    pub moments: usize,
    /// Expected calibration error.
    pub ece: f64,
    /// Mean stated probability less the share that was right.
    pub stated_minus_true: f64,
    /// Mean Brier score over all suspects.
    pub brier: f64,
    /// Mean log score, nats.
    pub log: f64,
    /// Reliability in ten bins.
    pub bins: Vec<Shelf>,
}

/// One bin of the reliability table.
#[derive(Debug, Serialize)]
pub struct Shelf {
    /// Lower edge.
    pub from: f64,
    /// Moments.
    pub count: usize,
    /// Mean probability of the leader.
    pub stated: f64,
    /// Share in which it was right.
    pub correct: f64,
}

/// One row of a table by machine, complaint or fault.
#[derive(Debug, Serialize)]
pub struct Row {
    /// What it is about.
    pub name: String,
    /// Jobs.
    pub jobs: usize,
    /// First verdicts that were right.
    pub right: usize,
    /// First verdicts that were wrong.
    pub wrong: usize,
    /// Jobs without a verdict.
    pub no_verdict: usize,
    /// Mean minutes of the method.
    pub minutes: f64,
    /// Its mean minutes over those of each rival.
    pub ratios: Vec<f64>,
}

/// A job in which the method failed.
#[derive(Debug, Serialize)]
pub struct Failed {
    /// The machine's id.
    pub machine: String,
    /// The job's seed.
    pub seed: u64,
    /// `confident-wrong` or `proven-wrong`.
    pub what: &'static str,
    /// What was planted.
    pub planted: Vec<String>,
    /// What the owner said.
    pub complaint: &'static str,
    /// The first verdict.
    pub verdict: Vec<String>,
    /// What misled.
    pub why: Vec<String>,
}

/// Scores worked jobs.
pub fn report(sheets: &[(Machine, String)], plan: &Plan, worked: &[Worked]) -> Report {
    let of = |who: Technician| worked.iter().filter_map(move |worked| run_of(&worked.job, who));
    let minutes = |who: Technician| of(who).map(|run| run.minutes).collect::<Vec<f64>>();
    let rivals = || Technician::ALL.into_iter().skip(1);
    let method = minutes(Technician::Method);
    let against = rivals().map(|rival| Against::new(rival, &paired(&method, &minutes(rival), plan.seed)));
    let open: Vec<Mid> = of(Technician::Method).flat_map(|run| run.mids.iter().copied()).collect();
    let at_verdict: Vec<Mid> = of(Technician::Method).filter_map(|run| run.at_verdict).collect();
    let id = |worked: &Worked| sheets[worked.sheet].0.sheet.id.clone();
    let planted = |worked: &Worked| names(&worked.job).join(" + ");
    let imitated = |worked: &Worked| if worked.imitated { "imitated" } else { "foreign" }.to_owned();
    let slip = |worked: &Worked| slipped(&worked.job, &plan.options);
    let one_slip = matches!(plan.options.mishaps, Mishaps::One { .. });
    let mut by_fault = rows(worked, planted);
    by_fault.sort_by_key(|row| (std::cmp::Reverse(row.wrong + row.no_verdict), row.name.clone()));
    Report {
        seed: plan.seed,
        jobs: worked.len(),
        worlds: plan.worlds,
        technicians: Technician::ALL.map(|who| Scored::new(who, &score(of(who)))).into_iter().collect(),
        against: against.collect(),
        open: Trust::new(open.len(), &calibration(&open)),
        verdict: Trust::new(at_verdict.len(), &calibration(&at_verdict)),
        by_machine: rows(worked, id),
        by_complaint: rows(worked, |worked| worked.job.planting.complaint.to_owned()),
        by_fault,
        by_slip: if one_slip { rows(worked, slip) } else { Vec::new() },
        left_out: if plan.options.left_out { rows(worked, imitated) } else { Vec::new() },
        failures: worked.iter().filter_map(|worked| Failed::of(id(worked), &worked.job)).collect(),
        each: worked.iter().filter_map(|worked| Brief::of(id(worked), &worked.job)).collect(),
    }
}

/// How one technician fared.
pub fn run_of(job: &Job, who: Technician) -> Option<&Run> {
    job.runs.iter().find(|run| run.technician == who)
}

/// What was wrong with the method's one wrong number, and which it was.
fn slipped(job: &Job, options: &Options) -> String {
    let slip = run_of(job, Technician::Method).and_then(|run| run.steps.iter().find_map(|step| step.slip));
    match (slip, options.slips_at(job.planting.seed)) {
        (Some(slip), Some(at)) => format!("{} at number {at}", slip.name()),
        _ => "ended before it".to_owned(),
    }
}

fn names(job: &Job) -> Vec<String> {
    job.planting.faults.iter().map(|(fault, _)| fault.name.clone()).collect()
}

fn rows(worked: &[Worked], key: impl Fn(&Worked) -> String) -> Vec<Row> {
    let mut groups: BTreeMap<String, Vec<&Worked>> = BTreeMap::new();
    for one in worked {
        groups.entry(key(one)).or_default().push(one);
    }
    let row = |(name, group): (String, Vec<&Worked>)| {
        let of = |who: Technician| score(group.iter().filter_map(|worked| run_of(&worked.job, who)));
        let method = of(Technician::Method);
        Row {
            name,
            jobs: method.jobs,
            right: method.right,
            wrong: method.wrong,
            no_verdict: method.none_of_these + method.no_verdict,
            minutes: method.mean,
            ratios: Technician::ALL.into_iter().skip(1).map(|rival| method.mean / of(rival).mean).collect(),
        }
    };
    groups.into_iter().map(row).collect()
}

impl Scored {
    fn new(who: Technician, score: &Score) -> Self {
        let share = |count: usize| count as f64 / score.jobs.max(1) as f64;
        Self {
            technician: who.name(),
            right: share(score.right),
            confident_wrong: share(score.wrong),
            none_of_these: share(score.none_of_these),
            no_verdict: share(score.no_verdict),
            proven: share(score.proven_right),
            proven_wrong: score.proven_wrong,
            fixed_unproven: share(score.fixed_unproven),
            unfixed: share(score.unfixed),
            half_mended: score.half_mended,
            then_mended: score.then_mended,
            minutes: Minutes { to_verdict: score.to_verdict, mean: score.mean, median: score.median, p90: score.p90 },
            steps: score.steps,
            remedies_in_vain: score.remedies_in_vain,
        }
    }
}

impl Against {
    fn new(rival: Technician, paired: &Paired) -> Self {
        let range = |interval: Interval| Range { value: interval.value, low: interval.low, high: interval.high };
        Self { rival: rival.name(), difference: range(paired.difference), ratio: range(paired.ratio) }
    }
}

impl Trust {
    fn new(moments: usize, table: &Calibration) -> Self {
        let shelf = |(index, bin): (usize, &diagnosis::trial::Bin)| Shelf {
            from: index as f64 / 10.0,
            count: bin.count,
            stated: bin.stated,
            correct: bin.correct,
        };
        Self {
            moments,
            ece: table.ece,
            stated_minus_true: table.stated - table.correct,
            brier: table.brier,
            log: table.log,
            bins: table.bins.iter().enumerate().map(shelf).collect(),
        }
    }
}

impl Brief {
    fn of(machine: String, job: &Job) -> Option<Self> {
        let run = run_of(job, Technician::Method)?;
        Some(Self {
            machine,
            seed: job.planting.seed,
            planted: names(job),
            complaint: job.planting.complaint,
            verdict: run.first.as_ref().map(|first| first.faults.clone()),
            right: run.first.as_ref().is_some_and(|first| first.right),
            ending: match run.ending {
                Ending::Proven { right: true } => "proven",
                Ending::Proven { right: false } => "proven-wrong",
                Ending::Fixed => "fixed",
                Ending::Unfixed => "handed-on",
            },
            minutes: job.runs.iter().map(|run| run.minutes).collect(),
        })
    }
}

impl Failed {
    fn of(machine: String, job: &Job) -> Option<Self> {
        let run = run_of(job, Technician::Method)?;
        let what = match (&run.first, run.ending) {
            (_, Ending::Proven { right: false }) => "proven-wrong",
            (Some(first), _) if !first.right => "confident-wrong",
            _ => return None,
        };
        let mut why = Vec::new();
        if !job.planting.complaint_holds {
            why.push("the owner said something else than what happens".to_owned());
        }
        let until = run.first.as_ref().map_or(run.steps.len(), |first| first.after);
        let until = if what == "proven-wrong" { run.steps.len() } else { until };
        for (index, step) in run.steps[..until].iter().enumerate() {
            if let Some(right) = &step.should_be {
                let slip = step.slip.map_or("misheard", Slip::name);
                why.push(format!("step {}: {} = {}, {slip}, should be {right}", index + 1, step.name, step.value));
            }
        }
        if let Some(mid) = run.at_verdict {
            let held = (-mid.surprise).exp();
            why.push(format!("what was planted held {held:.4} then"));
        }
        Some(Self {
            machine,
            seed: job.planting.seed,
            what,
            planted: names(job),
            complaint: job.planting.complaint,
            verdict: run.first.as_ref().map(|first| first.faults.clone()).unwrap_or_default(),
            why,
        })
    }
}
