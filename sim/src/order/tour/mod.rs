//! Decides in which order tasks are done, and how each: the tour that takes the least time under rules of order and of waiting.
//!
//! Knows nothing of cells. A task has choices, of which one is taken; between the choices of two tasks there is a move of known
//! duration, the tour begins and ends at home. Everything is a sum of durations but waiting, and coming earlier never makes anything
//! later; so of two ways to have done the same tasks, one that is nowhere later is never worse.
//!
//! - `exact`: the least time of all, for up to [`MOST_EXACT`] tasks
//! - `in_order`: the best choices in a given order
//! - `many`: a good tour for more tasks
//! - `bound`: what no tour of many tasks can beat
//! - `standing`: the same where a move's duration is known only once it was planned

mod bound;
mod exact;
mod in_order;
mod many;
mod standing;
#[cfg(test)]
mod tests;

pub(crate) use standing::{Asked, Effort, Moves, standing};

/// More tasks than this are not solved exactly.
pub(crate) const MOST_EXACT: usize = 12;

/// Times that differ by less are equal, s: rounding.
const ROUNDING: f64 = 1e-9;

/// One way to do a task, s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Choice {
    /// From coming until its work may begin: here the tour may have to wait.
    pub before: f64,
    /// From there until its work ends.
    pub work: f64,
    /// From there until it is left.
    pub after: f64,
}

impl Choice {
    fn own(&self) -> f64 {
        self.before + self.work + self.after
    }
}

/// What binds the order of tasks, by their indices.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Rules {
    /// The first comes somewhere before the second.
    pub before: Vec<(usize, usize)>,
    /// The two follow each other, either first.
    pub together: Vec<(usize, usize)>,
    /// Where the first comes before the second, the second's work begins no sooner than so many seconds after the end of the
    /// first's.
    pub rest: Vec<(usize, usize, f64)>,
}

/// Tasks, moves and rules.
#[derive(Clone, Debug)]
pub(crate) struct Problem {
    /// Choices of all tasks, task by task.
    choices: Vec<Choice>,
    /// The task of each choice.
    task_of: Vec<usize>,
    /// Where the choices of each task begin, and their number at the end.
    first_of: Vec<usize>,
    rules: Rules,
    /// For each task, the tasks that come before it.
    earlier: Vec<Vec<usize>>,
    /// For each task, those that stand beside it.
    beside: Vec<Vec<usize>>,
    /// For each task, what it rests from.
    rests: Vec<Vec<(usize, f64)>>,
    leave: Vec<f64>,
    come: Vec<f64>,
    /// By choice left and choice come to.
    between: Vec<f64>,
}

/// A move of a tour; choices by their index among all.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Passage {
    /// From home.
    First(usize),
    /// From one choice to the next.
    Between(usize, usize),
    /// Home.
    Last(usize),
}

/// A whole tour: choices by their index among all, in their order.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Tour {
    pub stops: Vec<usize>,
    /// With all waiting, s.
    pub time: f64,
}

/// A tour, and what none can beat.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Solved {
    /// None where none keeps the rules with moves that there are.
    pub tour: Option<Tour>,
    /// s; the tour's own time where it is the best.
    pub bound: f64,
}

impl Problem {
    /// `tasks`: the choices of each, at least one; `duration`: of a move, infinite where there is none.
    pub fn new(tasks: &[Vec<Choice>], rules: Rules, duration: impl Fn(Passage) -> f64) -> Self {
        let choices: Vec<Choice> = tasks.iter().flatten().copied().collect();
        let task_of: Vec<usize> =
            tasks.iter().enumerate().flat_map(|(task, choices)| choices.iter().map(move |_| task)).collect();
        let mut first_of = vec![0];
        for task in tasks {
            first_of.push(first_of[first_of.len() - 1] + task.len());
        }
        let count = choices.len();
        let lists = || vec![Vec::new(); tasks.len()];
        let (mut earlier, mut beside, mut rests) = (lists(), lists(), vec![Vec::new(); tasks.len()]);
        for (first, second) in &rules.before {
            earlier[*second].push(*first);
        }
        for (one, other) in &rules.together {
            beside[*one].push(*other);
            beside[*other].push(*one);
        }
        for (first, second, rest) in &rules.rest {
            rests[*second].push((*first, *rest));
        }
        let between = (0..count * count).map(|at| {
            let (from, to) = (at / count, at % count);
            if task_of[from] == task_of[to] { f64::INFINITY } else { duration(Passage::Between(from, to)) }
        });
        Self {
            between: between.collect(),
            leave: (0..count).map(|to| duration(Passage::First(to))).collect(),
            come: (0..count).map(|from| duration(Passage::Last(from))).collect(),
            choices,
            task_of,
            first_of,
            rules,
            earlier,
            beside,
            rests,
        }
    }

    /// How many tasks there are.
    pub fn tasks(&self) -> usize {
        self.earlier.len()
    }

    /// The task of a choice, and which of its choices it is.
    pub fn place(&self, choice: usize) -> (usize, usize) {
        let task = self.task_of[choice];
        (task, choice - self.first_of[task])
    }

    /// Says how long a move takes, as far as that is known.
    pub fn set(&mut self, passage: Passage, duration: f64) {
        match passage {
            Passage::First(to) => self.leave[to] = duration,
            Passage::Between(from, to) => self.between[from * self.choices.len() + to] = duration,
            Passage::Last(from) => self.come[from] = duration,
        }
    }

    fn duration(&self, passage: Passage) -> f64 {
        match passage {
            Passage::First(to) => self.leave[to],
            Passage::Between(from, to) => self.between[from * self.choices.len() + to],
            Passage::Last(from) => self.come[from],
        }
    }

    fn of_task(&self, task: usize) -> std::ops::Range<usize> {
        self.first_of[task]..self.first_of[task + 1]
    }

    /// Whether `next` may follow `last` (none: it is the first) when `is_done` says what was done before `next`.
    fn may_follow(&self, is_done: impl Fn(usize) -> bool, last: Option<usize>, next: usize) -> bool {
        self.earlier[next].iter().all(|task| is_done(*task))
            && self.beside[next].iter().all(|task| !is_done(*task) || Some(*task) == last)
            && last.is_none_or(|last| self.beside[last].iter().all(|task| is_done(*task) || *task == next))
    }

    /// Whether the tasks in this order keep every rule but rests, for which a tour may wait.
    pub fn keeps_rules(&self, order: &[usize]) -> bool {
        let mut done = vec![false; self.tasks()];
        let mut last = None;
        for task in order {
            if !self.may_follow(|other| done[other], last, *task) {
                return false;
            }
            done[*task] = true;
            last = Some(*task);
        }
        true
    }

    /// Its moves.
    pub fn passages(stops: &[usize]) -> Vec<Passage> {
        let (Some(first), Some(last)) = (stops.first(), stops.last()) else { return Vec::new() };
        let between = stops.windows(2).map(|pair| Passage::Between(pair[0], pair[1]));
        std::iter::once(Passage::First(*first)).chain(between).chain([Passage::Last(*last)]).collect()
    }

    /// The whole time of a tour, with waiting, s.
    pub fn time(&self, stops: &[usize]) -> f64 {
        let mut ends = vec![f64::NEG_INFINITY; self.tasks()];
        let mut time = 0.0;
        for (index, passage) in Self::passages(stops).into_iter().enumerate() {
            time += self.duration(passage);
            let Some(&stop) = stops.get(index) else { break };
            let (task, choice) = (self.task_of[stop], self.choices[stop]);
            let rested = self.rests[task].iter().map(|(other, rest)| ends[*other] + rest);
            time = rested.fold(time + choice.before, f64::max) + choice.work;
            ends[task] = time;
            time += choice.after;
        }
        time
    }

    fn tour(&self, stops: Vec<usize>) -> Option<Tour> {
        let time = self.time(&stops);
        time.is_finite().then_some(Tour { stops, time })
    }
}

/// The best tour in any order, or a good one; `near`: an order to begin with; `round`: how often was asked before.
fn solved(problem: &Problem, near: &[usize], seed: u64, round: u64) -> Solved {
    if problem.tasks() <= MOST_EXACT {
        exact::solved(problem, near)
    } else {
        many::solved(problem, near, seed, many::SHAKES[usize::from(round > 0)], round)
    }
}
