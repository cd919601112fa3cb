//! Decides what no tour of many tasks can beat: walks of as many stops as there are tasks, of which some may be visited twice and others
//! not at all, with prices on the tasks that make the cheapest walk visit each about once (Lagrangian relaxation of the visits;
//! Held and Karp 1971, The traveling-salesman problem and minimum spanning trees: Part II, prices by subgradients). No walk goes back at
//! once to the task that it comes from. Rests are taken to cost nothing.

use super::Problem;

/// Times that the prices are changed.
const ROUNDS: usize = 30;
/// Share of the step to the known tour below which the bound hardly grows any more.
const LEAST_SHARE: f64 = 0.02;
/// Rounds without a better bound after which the prices change by half as much.
const PATIENCE: usize = 5;
/// How much of its last change a change of the prices keeps: by the last walk alone they swing from side to side.
const KEPT: f64 = 0.7;

/// A walk to a choice: its cost, and the place of the choice before.
#[derive(Clone, Copy)]
struct Step {
    cost: f64,
    from: usize,
    /// Which of the two walks to that one.
    rank: u8,
}

const NONE: Step = Step { cost: f64::INFINITY, from: usize::MAX, rank: 0 };

/// Lower bound of the whole time, s; `known`: the time of a tour.
pub(super) fn bound(problem: &Problem, known: f64) -> f64 {
    let walks = Walks::new(problem);
    let mut prices = first_prices(problem);
    let mut change = vec![0.0; problem.tasks()];
    let (mut best, mut share, mut since) = (0.0_f64, 0.5, 0);
    for _ in 0..ROUNDS {
        let Some((cost, visits)) = walks.cheapest(&prices) else { return known };
        let value = cost + prices.iter().sum::<f64>();
        if value > best + 1e-6 {
            best = value;
            since = 0;
        } else {
            since += 1;
            if since == PATIENCE {
                share *= 0.5;
                since = 0;
            }
        }
        if best >= known || share < LEAST_SHARE || visits.iter().all(|visits| *visits == 1) {
            break;
        }
        for (change, visits) in change.iter_mut().zip(&visits) {
            *change = KEPT * *change + 1.0 - f64::from(*visits);
        }
        let size: f64 = change.iter().map(|change| change * change).sum();
        let step = share * (known - value) / size.max(1.0);
        for (price, change) in prices.iter_mut().zip(&change) {
            *price += step * change;
        }
    }
    best.min(known)
}

/// Of each task what it costs at least, with half of the way there and half of the way on.
fn first_prices(problem: &Problem) -> Vec<f64> {
    let count = problem.choices.len();
    let mut into = problem.leave.clone();
    let mut out = problem.come.clone();
    for (out, between) in out.iter_mut().zip(problem.between.chunks(count)) {
        *out = between.iter().copied().fold(*out, f64::min);
        into.iter_mut().zip(between).for_each(|(into, between)| *into = into.min(*between));
    }
    let of_choice = |stop: usize| problem.choices[stop].own() + 0.5 * (into[stop] + out[stop]);
    let of_task = |task: usize| problem.of_task(task).map(of_choice).fold(f64::INFINITY, f64::min);
    // A task that no move leads to has no price that helps.
    (0..problem.tasks()).map(of_task).map(|price| if price.is_finite() { price } else { 0.0 }).collect()
}

struct Walks<'p> {
    problem: &'p Problem,
    /// By task come to: the tasks that a walk may come from.
    sources: Vec<Vec<usize>>,
    /// By choice come to and choice left, s.
    way: Vec<f64>,
    /// The first and the last place at which a task may stand.
    places: Vec<(usize, usize)>,
}

impl<'p> Walks<'p> {
    fn new(problem: &'p Problem) -> Self {
        let (tasks, count) = (problem.tasks(), problem.choices.len());
        // What comes before what, by way of others too.
        let mut before = vec![false; tasks * tasks];
        for (first, second) in &problem.rules.before {
            before[first * tasks + second] = true;
        }
        for via in 0..tasks {
            for from in 0..tasks {
                for to in 0..tasks {
                    before[from * tasks + to] |= before[from * tasks + via] && before[via * tasks + to];
                }
            }
        }
        let may_go = |from: usize, to: usize| {
            let between = (0..tasks).any(|via| before[from * tasks + via] && before[via * tasks + to]);
            from != to && !before[to * tasks + from] && !between
        };
        let sources = (0..tasks).map(|to| (0..tasks).filter(|from| may_go(*from, to)).collect());
        let way = (0..count * count).map(|at| problem.between[at % count * count + at / count]);
        let places = (0..tasks).map(|task| {
            let earlier = (0..tasks).filter(|other| before[other * tasks + task]).count();
            let later = (0..tasks).filter(|other| before[task * tasks + other]).count();
            (earlier, tasks - 1 - later)
        });
        Self { problem, sources: sources.collect(), way: way.collect(), places: places.collect() }
    }

    /// What a choice costs at a place, its task rewarded by its price.
    fn own(&self, prices: &[f64], stop: usize, place: usize) -> f64 {
        let task = self.problem.task_of[stop];
        let (first, last) = self.places[task];
        let stands = (first..=last).contains(&place);
        if stands { self.problem.choices[stop].own() - prices[task] } else { f64::INFINITY }
    }

    /// The cheapest walk, each task rewarded by its price, and how often it visits each task.
    fn cheapest(&self, prices: &[f64]) -> Option<(f64, Vec<u32>)> {
        let problem = self.problem;
        let (tasks, count) = (problem.tasks(), problem.choices.len());
        // To each choice the cheapest walk, and the cheapest of those that come from another task.
        let mut layers: Vec<Vec<[Step; 2]>> = Vec::with_capacity(tasks);
        let begin = |stop| [Step { cost: problem.leave[stop] + self.own(prices, stop, 0), ..NONE }, NONE];
        layers.push((0..count).map(begin).collect());
        let (mut so_far, mut ranks) = (vec![0.0; count], vec![0; count]);
        for place in 1..tasks {
            let before = &layers[place - 1];
            let mut layer = vec![[NONE; 2]; count];
            for (task, sources) in self.sources.iter().enumerate() {
                // Not back to where a walk comes from.
                for (stop, walks) in before.iter().enumerate() {
                    let rank = usize::from(self.coming_from(&walks[0]) == Some(task));
                    ranks[stop] = rank as u8;
                    so_far[stop] = walks[rank].cost;
                }
                for to in problem.of_task(task) {
                    layer[to] = self.come_to(to, self.own(prices, to, place), sources, (&so_far, &ranks));
                }
            }
            layers.push(layer);
        }
        let last = &layers[tasks - 1];
        let home = |stop: usize| last[stop][0].cost + problem.come[stop];
        let mut at = (0..count).min_by(|a, b| home(*a).total_cmp(&home(*b)))?;
        let cost = home(at);
        if !cost.is_finite() {
            return None;
        }
        let (mut visits, mut rank) = (vec![0; tasks], 0);
        for layer in layers.iter().rev() {
            visits[problem.task_of[at]] += 1;
            let step = layer[at][rank];
            (at, rank) = (step.from, usize::from(step.rank));
        }
        Some((cost, visits))
    }

    /// The two cheapest walks on to a choice from two tasks; `so_far`: what it costs to each choice, and which of its walks that is.
    fn come_to(&self, to: usize, own: f64, sources: &[usize], (so_far, ranks): (&[f64], &[u8])) -> [Step; 2] {
        let mut walks = [NONE; 2];
        if own.is_infinite() {
            return walks;
        }
        let way = &self.way[to * so_far.len()..(to + 1) * so_far.len()];
        for task in sources {
            let mut best = NONE;
            for from in self.problem.of_task(*task) {
                let cost = so_far[from] + way[from];
                if cost < best.cost {
                    best = Step { cost, from, rank: ranks[from] };
                }
            }
            if best.cost < walks[0].cost {
                walks = [best, walks[0]];
            } else if best.cost < walks[1].cost {
                walks[1] = best;
            }
        }
        walks.map(|walk| Step { cost: walk.cost + own, ..walk })
    }

    fn coming_from(&self, step: &Step) -> Option<usize> {
        self.problem.task_of.get(step.from).copied()
    }
}
