//! Decides how a line of looks is parted: the whole of it, one half, and so on.

/// Looks in a line: the whole of them, one half, and so on. Numbered as a tree is: the halves of `number` are twice that, and one more.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch {
    pub(super) number: usize,
    pub(super) from: usize,
    to: usize,
}

impl Stretch {
    pub(super) fn all(looks: usize) -> Option<Self> {
        (looks > 0).then_some(Self { number: 1, from: 0, to: looks })
    }

    /// The look that stands for it.
    pub(super) fn middle(self) -> usize {
        usize::midpoint(self.from, self.to)
    }

    /// Both halves; none of a single look.
    pub(super) fn halves(self) -> Option<[Self; 2]> {
        let Self { number, from, to } = self;
        let middle = self.middle();
        (to - from > 1).then(|| {
            [Self { number: 2 * number, from, to: middle }, Self { number: 2 * number + 1, from: middle, to }]
        })
    }

    /// Numbers of all stretches are below this.
    pub(super) fn numbers(looks: usize) -> usize {
        2 * looks.next_power_of_two().max(1) + 2
    }
}
