//! Decides which choice of every task is taken in a given order of the tasks.
//!
//! Without rests it is a shortest way through layers. With rests what matters of a way so far is when it is there and until when each
//! later task must rest; a way that is nowhere earlier than another is dropped.

use super::{Passage, Problem, ROUNDING, Tour};

/// Ways kept to one choice: beyond, the quickest.
const MOST_LABELS: usize = 64;

/// A way up to and over a choice.
#[derive(Clone)]
struct Label {
    /// When the choice is left.
    time: f64,
    /// For each task, when its work ended.
    ends: Vec<f64>,
    parent: usize,
    stop: usize,
}

/// The quickest tour through the tasks in this order, and whether none is quicker; none where a move that it needs does not exist.
pub(super) fn best(problem: &Problem, order: &[usize]) -> Option<(Tour, bool)> {
    if problem.rules.rest.is_empty() {
        return quick(problem, order).map(|tour| (tour, true));
    }
    let mut layers: Vec<Vec<Label>> = Vec::with_capacity(order.len());
    let mut exact = true;
    for (place, task) in order.iter().enumerate() {
        // Which ends still matter.
        let matters: Vec<bool> = (0..problem.tasks())
            .map(|done| {
                order[place + 1..]
                    .iter()
                    .any(|later| problem.rests[*later].iter().any(|(first, _)| *first == done))
            })
            .collect();
        let mut layer: Vec<Label> = Vec::new();
        for stop in problem.of_task(*task) {
            let mut here: Vec<Label> = match layers.last() {
                None => {
                    let begin = Label {
                        time: 0.0,
                        ends: vec![f64::NEG_INFINITY; problem.tasks()],
                        parent: 0,
                        stop: 0,
                    };
                    vec![stepped(problem, &begin, 0, stop, Passage::First(stop))]
                }
                Some(before) => before
                    .iter()
                    .enumerate()
                    .map(|(index, label)| {
                        stepped(problem, label, index, stop, Passage::Between(label.stop, stop))
                    })
                    .collect(),
            };
            here.retain(|label| label.time.is_finite());
            here.sort_by(|a, b| a.time.total_cmp(&b.time));
            let mut kept: Vec<Label> = Vec::new();
            for label in here {
                let no_better = |other: &Label| {
                    (0..matters.len())
                        .all(|task| !matters[task] || other.ends[task] <= label.ends[task] + ROUNDING)
                };
                if !kept.iter().any(no_better) {
                    kept.push(label);
                }
            }
            exact &= kept.len() <= MOST_LABELS;
            kept.truncate(MOST_LABELS);
            layer.append(&mut kept);
        }
        layers.push(layer);
    }
    let last = layers.last()?;
    let home = |label: &Label| label.time + problem.duration(Passage::Last(label.stop));
    let mut at = (0..last.len()).min_by(|a, b| home(&last[*a]).total_cmp(&home(&last[*b])))?;
    let mut stops = Vec::with_capacity(order.len());
    for layer in layers.iter().rev() {
        stops.push(layer[at].stop);
        at = layer[at].parent;
    }
    stops.reverse();
    problem.tour(stops).map(|tour| (tour, exact))
}

fn stepped(problem: &Problem, from: &Label, parent: usize, stop: usize, passage: Passage) -> Label {
    let (task, choice) = (problem.task_of[stop], problem.choices[stop]);
    let rested = problem.rests[task].iter().map(|(other, rest)| from.ends[*other] + rest);
    let there = from.time + problem.duration(passage) + choice.before;
    let end = rested.fold(there, f64::max) + choice.work;
    let mut ends = from.ends.clone();
    ends[task] = end;
    Label { time: end + choice.after, ends, parent, stop }
}

/// By the choices that are best where nothing rests.
pub(super) fn quick(problem: &Problem, order: &[usize]) -> Option<Tour> {
    let mut times: Vec<f64> = Vec::new();
    let mut parents: Vec<Vec<usize>> = Vec::with_capacity(order.len());
    let mut before = 0..0;
    for task in order {
        let here = problem.of_task(*task);
        let mut next = Vec::with_capacity(here.len());
        let mut parent = Vec::with_capacity(here.len());
        for stop in here.clone() {
            let entries = before.clone().zip(&times);
            let entry = entries
                .map(|(from, time)| (time + problem.duration(Passage::Between(from, stop)), from))
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .unwrap_or((problem.duration(Passage::First(stop)), 0));
            next.push(entry.0 + problem.choices[stop].own());
            parent.push(entry.1);
        }
        times = next;
        parents.push(parent);
        before = here;
    }
    let home =
        before.clone().zip(&times).map(|(stop, time)| (time + problem.duration(Passage::Last(stop)), stop));
    let mut at = home.min_by(|a, b| a.0.total_cmp(&b.0))?.1;
    let mut stops = Vec::with_capacity(order.len());
    for (task, parent) in order.iter().zip(&parents).rev() {
        stops.push(at);
        at = parent[at - problem.first_of[*task]];
    }
    stops.reverse();
    problem.tour(stops)
}
