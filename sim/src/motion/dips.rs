//! Decides where a row of speeds has one slow place and where several.

use std::ops::RangeInclusive;

/// Parts of a row of speeds, each with one dip: between two neighbours, which share the highest place between them, the speed rises by
/// `apart` or more from either.
pub(super) fn dips(speeds: &[f64], apart: f64) -> Vec<RangeInclusive<usize>> {
    let mut cuts = vec![0];
    let (mut low, mut high) = (0, 0);
    let mut falls = true;
    for at in 1..speeds.len() {
        if falls && speeds[at] < speeds[low] {
            low = at;
        }
        if falls && speeds[at] >= speeds[low] + apart {
            (falls, high) = (false, at);
        }
        if !falls && speeds[at] > speeds[high] {
            high = at;
        }
        if !falls && speeds[at] <= speeds[high] - apart {
            cuts.push(high);
            (falls, low) = (true, at);
        }
    }
    cuts.push(speeds.len().saturating_sub(1));
    cuts.windows(2).map(|pair| pair[0]..=pair[1]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: the speed must rise by 2 on both sides of what it is cut at.
    #[test]
    fn dips_are_cut_where_the_speed_rises_between_them() {
        assert_eq!(dips(&[0.0, 5.0, 3.0, 5.0, 0.0], 2.0), [0..=1, 1..=3, 3..=4]);
        assert_eq!(dips(&[0.0, 5.0, 4.0, 5.0, 0.0], 2.0), [0..=1, 1..=4]);
        assert_eq!(dips(&[5.0, 1.0, 5.0], 2.0), [0..=2]);
        assert_eq!(dips(&[5.0, 4.0, 5.0], 2.0), [0..=2]);
        assert_eq!(dips(&[5.0], 2.0), [0..=0]);
    }
}
