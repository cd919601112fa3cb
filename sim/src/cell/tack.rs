//! Decides what tacks a seam has: where, how high, who sets them, and whether they are welded over.

use super::Run;

/// The tacks of a seam.
#[derive(Clone, Debug, PartialEq)]
pub struct Tacks {
    /// Where they lie, m of arc length from the start of travel, in order.
    pub places: Vec<Run>,
    /// How far they stand out of the root, m.
    pub height: f64,
    /// Who sets them.
    pub by: TackedBy,
    /// Whether the weld goes over them; else it stops before each and starts anew behind it.
    pub welded_over: bool,
}

/// Who sets tacks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TackedBy {
    /// A person, while loading.
    Person,
    /// The arm, before the welds of the fixture.
    Arm,
}

impl Tacks {
    /// What is left of `runs` where the weld keeps `clear` (m) of every tack; pieces shorter than `shortest` (m) are left out.
    #[must_use]
    pub fn around(&self, runs: &[Run], clear: f64, shortest: f64) -> Vec<Run> {
        let mut left = runs.to_vec();
        for tack in &self.places {
            let (from, to) = (tack.start - clear, tack.end + clear);
            left = left
                .into_iter()
                .flat_map(|run| {
                    [
                        Run { start: run.start, end: run.end.min(from) },
                        Run { start: run.start.max(to), ..run },
                    ]
                })
                .filter(|run| run.length() >= shortest)
                .collect();
        }
        left
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Tacks of 10 mm at 40 and 150 mm, 3 mm kept clear: welds from 0 to 32, 48 to 142 and 158 to 200 mm.
    #[test]
    fn a_weld_around_tacks_stops_before_each_and_starts_behind_it() {
        let places = [(0.035, 0.045), (0.145, 0.155)].map(|(start, end)| Run { start, end }).to_vec();
        let tacks = Tacks { places, height: 0.002, by: TackedBy::Person, welded_over: false };
        let left = tacks.around(&[Run { start: 0.0, end: 0.2 }], 0.003, 0.001);
        let expected = [(0.0, 0.032), (0.048, 0.142), (0.158, 0.2)];
        assert_eq!(left.len(), 3);
        for (run, (start, end)) in left.iter().zip(expected) {
            assert!((run.start - start).abs() < 1e-12 && (run.end - end).abs() < 1e-12, "{run:?}");
        }
        // A stitch that lies in the gap of a tack is gone, one that does not touch it is whole.
        let stitches = [Run { start: 0.034, end: 0.047 }, Run { start: 0.06, end: 0.08 }];
        assert_eq!(tacks.around(&stitches, 0.003, 0.001), stitches[1..]);
    }
}
