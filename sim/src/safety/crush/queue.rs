//! Decides what is looked at next: that which may be worst by what is known of it.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Bounds that differ by less than this are alike, m.
const ALIKE: f64 = 1e-6;

/// What is still to be looked at, each with a length (m) that what it may give is not less than.
pub(super) struct Queue<P> {
    heap: BinaryHeap<Entry<P>>,
    added: usize,
}

struct Entry<P> {
    /// In steps of [`ALIKE`].
    bound: i64,
    size: i64,
    number: usize,
    piece: P,
}

impl<P> Queue<P> {
    pub(super) fn new() -> Self {
        Self { heap: BinaryHeap::new(), added: 0 }
    }

    /// Adds a piece that gives no less than `bound`; of equal bounds the one of the least `size` comes first, then the first.
    pub(super) fn push(&mut self, bound: f64, size: f64, piece: P) {
        // Both are far within the range: a few metres.
        let [bound, size] = [bound, size].map(|value| (value / ALIKE).floor() as i64);
        self.heap.push(Entry { bound, size, number: self.added, piece });
        self.added += 1;
    }

    /// The piece of the least bound.
    pub(super) fn pop(&mut self) -> Option<P> {
        self.heap.pop().map(|entry| entry.piece)
    }
}

impl<P> Entry<P> {
    fn key(&self) -> (i64, i64, usize) {
        (self.bound, self.size, self.number)
    }
}

impl<P> PartialEq for Entry<P> {
    fn eq(&self, other: &Self) -> bool {
        self.key() == other.key()
    }
}

impl<P> Eq for Entry<P> {}

impl<P> PartialOrd for Entry<P> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl<P> Ord for Entry<P> {
    /// The heap gives out the greatest first.
    fn cmp(&self, other: &Self) -> Ordering {
        other.key().cmp(&self.key())
    }
}
