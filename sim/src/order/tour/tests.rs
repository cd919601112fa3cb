//! Against every order and choice there is, on small problems; tests have their own clock.

use super::standing::Found;
use super::*;
use crate::streams::{even, stream};

/// What a problem is made of, so that a test can go through it by itself.
struct Drawn {
    tasks: Vec<Vec<Choice>>,
    rules: Rules,
    /// By place left and place come to; home is the last.
    moves: Vec<Vec<f64>>,
}

impl Drawn {
    /// `count` tasks with `choices` each, at random places of a square of 2 s, left at another place than come to.
    fn new(seed: u64, count: usize, choices: usize, rules: Rules) -> Self {
        let mut random = stream(seed, 0, "tasks of a test");
        let mut next = || even(&mut random);
        let tasks: Vec<Vec<Choice>> = (0..count)
            .map(|_| {
                let own = |_| Choice { before: 0.2 * next(), work: 1.0 + 3.0 * next(), after: 0.2 * next() };
                (0..choices).map(own).collect()
            })
            .collect();
        let stops = count * choices;
        let places: Vec<[f64; 4]> = (0..=stops).map(|_| [0; 4].map(|_| 2.0 * next())).collect();
        let moves = (0..=stops)
            .map(|from| {
                let [_, _, x, y] = places[from];
                (0..=stops).map(|to| (x - places[to][0]).hypot(y - places[to][1])).collect()
            })
            .collect();
        Self { tasks, rules, moves }
    }

    fn home(&self) -> usize {
        self.moves.len() - 1
    }

    fn duration(&self, passage: Passage) -> f64 {
        match passage {
            Passage::First(to) => self.moves[self.home()][to],
            Passage::Between(from, to) => self.moves[from][to],
            Passage::Last(from) => self.moves[from][self.home()],
        }
    }

    fn problem(&self) -> Problem {
        Problem::new(&self.tasks, self.rules.clone(), |passage| self.duration(passage))
    }

    /// The least time by trying everything; infinite where no order keeps the rules.
    fn least(&self) -> f64 {
        let mut best = f64::INFINITY;
        self.go(&mut Vec::new(), 0.0, &mut best);
        best
    }

    /// `so_far`: task, choice, and when its work ended.
    fn go(&self, so_far: &mut Vec<(usize, usize, f64)>, time: f64, best: &mut f64) {
        let choices = self.tasks[0].len();
        let here = so_far.last().map_or(self.home(), |(task, choice, _)| task * choices + choice);
        if so_far.len() == self.tasks.len() {
            if self.keeps(so_far) {
                *best = best.min(time + self.moves[here][self.home()]);
            }
            return;
        }
        for task in 0..self.tasks.len() {
            if so_far.iter().any(|(done, ..)| *done == task) {
                continue;
            }
            for (index, choice) in self.tasks[task].iter().enumerate() {
                let mut begins = time + self.moves[here][task * choices + index] + choice.before;
                for (first, second, rest) in &self.rules.rest {
                    let ended = so_far.iter().find(|(done, ..)| done == first);
                    if let (Some((.., ended)), true) = (ended, *second == task) {
                        begins = begins.max(ended + rest);
                    }
                }
                so_far.push((task, index, begins + choice.work));
                self.go(so_far, begins + choice.work + choice.after, best);
                so_far.pop();
            }
        }
    }

    fn keeps(&self, order: &[(usize, usize, f64)]) -> bool {
        let place = |task: usize| order.iter().position(|(done, ..)| *done == task).unwrap();
        self.rules.before.iter().all(|(first, second)| place(*first) < place(*second))
            && self.rules.together.iter().all(|(one, other)| place(*one).abs_diff(place(*other)) == 1)
    }
}

/// All that there is to know is known from the start.
fn found(problem: &mut Problem, drawn: &Drawn, near: &[usize]) -> Found {
    let effort = Effort { nearer: true, most_planned: usize::MAX, bound: true };
    standing(problem, Asked::Quickest(near, 1), effort, drawn)
}

/// Of a move's duration something between nothing and all is learnt before it is planned.
impl Moves for Drawn {
    fn nearer(&self, passages: &[Passage]) -> Vec<f64> {
        let share = |passage: &Passage| match passage {
            Passage::First(stop) | Passage::Last(stop) => 0.1 * (stop % 11) as f64,
            Passage::Between(from, to) => 0.1 * ((from + 3 * to) % 11) as f64,
        };
        let least = |passage: &Passage| (share(passage) * self.duration(*passage)).min(1e6);
        passages.iter().map(least).collect()
    }

    fn planned(&self, passages: &[Passage]) -> Vec<f64> {
        passages.iter().map(|passage| self.duration(*passage)).collect()
    }
}

/// Rules of all kinds at once: the order of two, one beside another, rests that only waiting can keep.
fn all_rules(seed: u64, count: usize) -> Rules {
    let mut random = stream(seed, 1, "rules of a test");
    let mut task = || (even(&mut random) * count as f64) as usize;
    let mut rules = Rules::default();
    let (first, second) = (task(), task());
    if first != second {
        rules.before.push((first.min(second), first.max(second)));
    }
    let one = task();
    rules.together.push((one, (one + 1) % count));
    for _ in 0..4 {
        let (first, second) = (task(), task());
        if first != second {
            rules.rest.push((first, second, 4.0));
            rules.rest.push((second, first, 6.0));
        }
    }
    rules
}

/// Five tasks with two choices each: 120 orders, 32 choices.
#[test]
fn no_order_of_few_tasks_is_quicker_whatever_rules_there_are() {
    for seed in 0..60 {
        let rules = if seed < 20 { Rules::default() } else { all_rules(seed, 5) };
        let drawn = Drawn::new(seed, 5, 2, rules);
        let (least, found) = (drawn.least(), found(&mut drawn.problem(), &drawn, &[0, 1, 2, 3, 4]));
        match found.tour {
            Some(tour) => {
                assert!((tour.time - least).abs() < 1e-9, "seed {seed}: {} is not {least}", tour.time);
                assert!(
                    (found.bound - least).abs() < 1e-9,
                    "seed {seed}: the bound {} is not {least}",
                    found.bound
                );
                let order: Vec<(usize, usize, f64)> =
                    tour.stops.iter().map(|stop| (stop / 2, stop % 2, 0.0)).collect();
                assert!(drawn.keeps(&order), "seed {seed}: {order:?} breaks {:?}", drawn.rules);
            }
            None => assert!(least.is_infinite(), "seed {seed}: no tour, but one of {least} s"),
        }
    }
}

/// Three chains of four, one choice each: 34 650 orders, gone through one by one with rests between the chains.
#[test]
fn twelve_tasks_are_solved_exactly_with_rests_too() {
    for seed in [7, 8] {
        let mut rules = Rules::default();
        for chain in 0..3 {
            rules.before.extend((0..3).map(|link| (4 * chain + link, 4 * chain + link + 1)));
        }
        rules.rest = (0..4).flat_map(|k| [(k, 4 + k, 9.0), (4 + k, 8 + k, 9.0), (8 + k, k, 7.0)]).collect();
        let drawn = Drawn::new(seed, 12, 1, rules);
        let mut least = f64::INFINITY;
        // Who goes on next, of the chains: every word of four a, four b and four c.
        let mut words: Vec<[usize; 3]> = vec![[0; 3]];
        let mut all: Vec<Vec<usize>> = vec![Vec::new()];
        for _ in 0..12 {
            let mut longer = Vec::new();
            for (word, gone) in all.iter().zip(&words) {
                for chain in (0..3).filter(|chain| gone[*chain] < 4) {
                    let mut next = word.clone();
                    next.push(4 * chain + gone[chain]);
                    longer.push(next);
                }
            }
            all = longer;
            words = all
                .iter()
                .map(|word| [0, 1, 2].map(|chain| word.iter().filter(|task| **task / 4 == chain).count()))
                .collect();
        }
        assert_eq!(all.len(), 34_650);
        for order in &all {
            let (mut time, mut here, mut ends) = (0.0, drawn.home(), [f64::NEG_INFINITY; 12]);
            for task in order {
                let choice = &drawn.tasks[*task][0];
                time += drawn.moves[here][*task] + choice.before;
                for (first, _, rest) in drawn.rules.rest.iter().filter(|(_, second, _)| second == task) {
                    time = f64::max(time, ends[*first] + rest);
                }
                time += choice.work;
                ends[*task] = time;
                time += choice.after;
                here = *task;
            }
            least = least.min(time + drawn.moves[here][drawn.home()]);
        }
        let near: Vec<usize> = (0..12).collect();
        let found = found(&mut drawn.problem(), &drawn, &near);
        assert!((found.tour.unwrap().time - least).abs() < 1e-9);
        assert!((found.bound - least).abs() < 1e-9);
    }
}

/// Twelve tasks on the rim of a circle, home on it too: a closed way through points of a convex curve is shortest in their order on it
/// (a way that crosses itself is shortened by uncrossing), so the sum of the chords is the least.
#[test]
fn twelve_tasks_round_a_circle_are_done_in_their_order_on_it() {
    let place = |k: usize| {
        let angle = std::f64::consts::TAU * (k * 5 % 13) as f64 / 13.0;
        [angle.cos(), angle.sin()]
    };
    let distance = |a: usize, b: usize| (place(a)[0] - place(b)[0]).hypot(place(a)[1] - place(b)[1]);
    let duration = |passage| match passage {
        Passage::First(k) | Passage::Last(k) => distance(12, k),
        Passage::Between(a, b) => distance(a, b),
    };
    let tasks = vec![vec![Choice { before: 0.0, work: 1.0, after: 0.0 }]; 12];
    let problem = Problem::new(&tasks, Rules::default(), duration);
    let near: Vec<usize> = (0..12).collect();
    let chord = 2.0 * (std::f64::consts::PI / 13.0).sin();
    let time = solved(&problem, &near, 1, 0).tour.unwrap().time;
    assert!((time - (12.0 + 13.0 * chord)).abs() < 1e-9, "{time}");
}

/// The walks of `bound` are no tours: on small problems it is held against the best tour itself.
#[test]
fn no_tour_beats_the_bound() {
    for seed in 0..20 {
        let drawn = Drawn::new(seed, 5, 2, all_rules(seed, 5));
        let least = drawn.least();
        if least.is_finite() {
            let bound = bound::bound(&drawn.problem(), least + 1.0);
            assert!(bound <= least + 1e-6, "seed {seed}: {bound} is above {least}");
        }
    }
}

/// Forty seams of 0.3 m on a plate of 2 m, each for 8 s in either direction by two branches; a move takes a second a metre, two more to change the
/// branch. The time of the seams themselves is in it, as it is in the arm's time at a station.
#[test]
fn forty_seams_come_within_a_twentieth_of_the_bound() {
    for seed in 0..3 {
        let rules =
            Rules { before: vec![(0, 9), (3, 20), (20, 31)], together: vec![(5, 6)], rest: Vec::new() };
        let mut drawn = Drawn::new(seed, 40, 4, rules);
        let mut random = stream(seed, 3, "seams on a plate");
        let mut next = || even(&mut random);
        // By choice: direction, then branch.
        let mut places: Vec<[f64; 5]> = Vec::new();
        for _ in 0..40 {
            let [x, y, angle] = [2.0 * next(), 2.0 * next(), std::f64::consts::TAU * next()];
            let [to_x, to_y] = [x + 0.3 * angle.cos(), y + 0.3 * angle.sin()];
            for branch in [0.0, 1.0] {
                places.extend([[x, y, to_x, to_y, branch], [to_x, to_y, x, y, branch]]);
            }
        }
        places.push([1.0, -1.0, 1.0, -1.0, 0.0]);
        for (from, [_, _, x, y, branch]) in places.iter().enumerate() {
            for (to, [to_x, to_y, _, _, to_branch]) in places.iter().enumerate() {
                drawn.moves[from][to] = (x - to_x).hypot(y - to_y) + 2.0 * (branch - to_branch).abs();
            }
        }
        for choice in drawn.tasks.iter_mut().flatten() {
            *choice = Choice { before: 0.5, work: 8.0, after: 0.5 };
        }
        let near: Vec<usize> = (0..40).collect();
        let found = found(&mut drawn.problem(), &drawn, &near);
        let time = found.tour.unwrap().time;
        assert!(
            found.bound > 360.0 && time <= 1.02 * found.bound,
            "seed {seed}: {time} s, the bound {} s",
            found.bound
        );
    }
}

/// What is known before is the least; the tour that seems best is not, since one of its moves takes longer than it seems.
#[test]
fn a_tour_stands_only_once_all_of_its_moves_are_planned() {
    for seed in 0..10 {
        let mut drawn = Drawn::new(seed, 5, 2, all_rules(seed, 5));
        let mut problem = drawn.problem();
        let mut random = stream(seed, 2, "what is in the way");
        let home = drawn.home();
        for from in 0..=home {
            for to in 0..=home {
                let more = even(&mut random);
                drawn.moves[from][to] += if more > 0.9 {
                    f64::INFINITY
                } else if more > 0.5 {
                    2.0 * more
                } else {
                    0.0
                };
            }
        }
        let least = drawn.least();
        let found = found(&mut problem, &drawn, &[0, 1, 2, 3, 4]);
        let time = found.tour.map_or(f64::INFINITY, |tour| tour.time);
        assert!(time == least || (time - least).abs() < 1e-9, "seed {seed}: {time} is not {least}");
        assert!(found.planned <= 10 * 10 + 20);
    }
}

/// Of the rules one more can only make it slower.
#[test]
fn a_rule_more_never_makes_it_quicker() {
    for seed in 0..20 {
        let rules = all_rules(seed, 6);
        let mut drawn = Drawn::new(seed, 6, 2, Rules::default());
        let near: Vec<usize> = (0..6).collect();
        let mut time = |rules: Rules| {
            drawn.rules = rules;
            found(&mut drawn.problem(), &drawn, &near).tour.map_or(f64::INFINITY, |tour| tour.time)
        };
        let mut before = time(Rules::default());
        let first = Rules { before: rules.before.clone(), ..Rules::default() };
        let second = Rules { together: rules.together.clone(), ..first.clone() };
        for more in [first, second, rules] {
            let now = time(more);
            assert!(now >= before - 1e-9, "seed {seed}: {now} after {before}");
            before = now;
        }
    }
}

/// Choices in a given order, rests included: every combination.
#[test]
fn no_choices_in_a_given_order_are_quicker() {
    for seed in 0..20 {
        let mut drawn = Drawn::new(seed, 5, 3, all_rules(seed, 5));
        drawn.rules.before = (0..4).map(|task| (task, task + 1)).collect();
        drawn.rules.together.clear();
        let (tour, exact) = in_order::best(&drawn.problem(), &[0, 1, 2, 3, 4]).unwrap();
        assert!(exact && (tour.time - drawn.least()).abs() < 1e-9, "seed {seed}");
    }
}
