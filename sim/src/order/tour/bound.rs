//! Decides what no tour of many tasks can beat: walks of as many stops as there are tasks, of which some may be visited twice and others
//! not at all, with prices on the tasks that make the cheapest walk visit each about once (Lagrangian relaxation of the visits;
//! Held and Karp 1971, The traveling-salesman problem and minimum spanning trees: Part II, prices by subgradients). No walk goes back at
//! once to the task that it comes from. Rests are taken to cost nothing.

use super::Problem;

/// Times that the prices are changed.
const ROUNDS: usize = 100;
/// Rounds without a better bound after which the prices change by half as much.
const PATIENCE: usize = 8;

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
    let tasks = problem.tasks();
    let mut prices = vec![0.0; tasks];
    let (mut best, mut share, mut since) = (0.0_f64, 1.0, 0);
    for _ in 0..ROUNDS {
        let Some((cost, visits)) = walks.cheapest(&prices) else { return f64::INFINITY };
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
        let missing: Vec<f64> = visits.iter().map(|visits| 1.0 - f64::from(*visits)).collect();
        let size: f64 = missing.iter().map(|m| m * m).sum();
        if size == 0.0 {
            break;
        }
        let step = share * (known - value).max(1e-3) / size;
        for (price, missing) in prices.iter_mut().zip(&missing) {
            *price += step * missing;
        }
    }
    best.min(known)
}

struct Walks<'p> {
    problem: &'p Problem,
    /// By task left and task come to: whether a tour may go so.
    may_go: Vec<bool>,
    /// The first and the last place at which a task may stand.
    places: Vec<(usize, usize)>,
}

impl<'p> Walks<'p> {
    fn new(problem: &'p Problem) -> Self {
        let tasks = problem.tasks();
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
        let may_go = (0..tasks * tasks).map(|at| {
            let (from, to) = (at / tasks, at % tasks);
            let between = (0..tasks).any(|via| before[from * tasks + via] && before[via * tasks + to]);
            from != to && !before[to * tasks + from] && !between
        });
        let places = (0..tasks).map(|task| {
            let earlier = (0..tasks).filter(|other| before[other * tasks + task]).count();
            let later = (0..tasks).filter(|other| before[task * tasks + other]).count();
            (earlier, tasks - 1 - later)
        });
        Self { problem, may_go: may_go.collect(), places: places.collect() }
    }

    /// The cheapest walk, each task rewarded by its price, and how often it visits each task.
    fn cheapest(&self, prices: &[f64]) -> Option<(f64, Vec<u32>)> {
        let problem = self.problem;
        let (tasks, count) = (problem.tasks(), problem.choices.len());
        let own = |stop: usize| problem.choices[stop].own() - prices[problem.task_of[stop]];
        let stands = |stop: usize, place: usize| {
            let (first, last) = self.places[problem.task_of[stop]];
            (first..=last).contains(&place)
        };
        // To each choice the cheapest walk, and the cheapest of those that come from another task.
        let mut layers: Vec<Vec<[Step; 2]>> = Vec::with_capacity(tasks);
        layers.push(
            (0..count)
                .map(|stop| {
                    let cost = if stands(stop, 0) { problem.leave[stop] + own(stop) } else { f64::INFINITY };
                    [Step { cost, ..NONE }, NONE]
                })
                .collect(),
        );
        for place in 1..tasks {
            let before = &layers[place - 1];
            let coming_from = |step: &Step| {
                if step.from == usize::MAX { usize::MAX } else { problem.task_of[step.from] }
            };
            let mut layer = vec![[NONE; 2]; count];
            for (from, walks) in before.iter().enumerate() {
                let left = problem.task_of[from];
                if walks[0].cost.is_infinite() {
                    continue;
                }
                let came_from = coming_from(&walks[0]);
                for task in (0..tasks).filter(|task| self.may_go[left * tasks + task]) {
                    // Not back to where it comes from.
                    let rank = usize::from(came_from == task);
                    let so_far = walks[rank].cost;
                    if so_far.is_infinite() {
                        continue;
                    }
                    for to in problem.of_task(task) {
                        let cost = so_far + problem.between[from * count + to];
                        let [best, other] = &mut layer[to];
                        let step = Step { cost, from, rank: rank as u8 };
                        if cost < best.cost {
                            if coming_from(best) != left {
                                *other = *best;
                            }
                            *best = step;
                        } else if cost < other.cost && coming_from(best) != left {
                            *other = step;
                        }
                    }
                }
            }
            for (stop, walks) in layer.iter_mut().enumerate() {
                let own = if stands(stop, place) { own(stop) } else { f64::INFINITY };
                walks.iter_mut().for_each(|walk| walk.cost += own);
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
}
