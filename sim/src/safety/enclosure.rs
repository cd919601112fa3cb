//! Decides what walls close off from each other, seen from above: exactly, however they stand.
//!
//! Walls are convex pieces. Between two that are nearer to each other than a body is wide nobody gets through, and where the pieces and such
//! straps between them run round in a ring, inside and outside are apart. Of the space that is closer than half of that width to a piece,
//! which nobody's middle comes into, the rings of pieces and straps are all: two convex sets that meet do so in one piece. So two
//! points that are not in it are joined if and only if every ring goes round both or neither of them, counted modulo two.

use nalgebra::{Point2, Vector2};

use super::closing::ROUNDING;

/// Two lines whose directions differ by less are parallel, as the sine.
const IN_LINE: f64 = 1e-9;

/// Where two pieces are nearest to each other, by index, and how far that is, m.
#[derive(Clone, Debug)]
pub(super) struct Strap {
    pieces: [usize; 2],
    ends: [Point2<f64>; 2],
}

/// Pieces with the straps between them.
#[derive(Clone, Debug, Default)]
pub(super) struct Straps {
    pieces: Vec<Vec<Point2<f64>>>,
    straps: Vec<Strap>,
}

impl Straps {
    /// Adds a piece, the corners of a convex polygon in order.
    pub(super) fn add(&mut self, piece: Vec<Point2<f64>>, width: f64) {
        let own = self.pieces.len();
        for (index, other) in self.pieces.iter().enumerate() {
            if boxes_apart(other, &piece) < width
                && let Some((apart, ends)) = nearest(other, &piece)
                && apart < width - ROUNDING
            {
                self.straps.push(Strap { pieces: [index, own], ends });
            }
        }
        self.pieces.push(piece);
    }

    pub(super) fn count(&self) -> usize {
        self.pieces.len()
    }

    /// How far a point is from a piece, m; 0 in it.
    pub(super) fn distance(&self, piece: usize, point: &Point2<f64>) -> f64 {
        distance(&self.pieces[piece], point)
    }

    /// Corner to corner, the least and greatest of a piece along each axis.
    pub(super) fn extent(&self, piece: usize) -> Option<[Point2<f64>; 2]> {
        extent(&self.pieces[piece])
    }

    /// Whether a piece lies between two points and holds neither.
    pub(super) fn is_between(&self, piece: usize, from: &Point2<f64>, to: &Point2<f64>) -> bool {
        let piece = &self.pieces[piece];
        let holds = |point: &Point2<f64>| distance(piece, point) <= ROUNDING;
        !holds(from)
            && !holds(to)
            && nearest(piece, &[*from, *to]).is_some_and(|(apart, _)| apart <= ROUNDING)
    }

    /// Whether a piece of those that are `there`, or a strap between two of them, lies on the line from one point to another.
    pub(super) fn is_crossed(&self, there: impl Fn(usize) -> bool, way: [Point2<f64>; 2]) -> bool {
        let meets = |other: &[Point2<f64>]| nearest(other, &way).is_some_and(|(apart, _)| apart <= ROUNDING);
        (0..self.pieces.len()).any(|piece| there(piece) && meets(&self.pieces[piece]))
            || self
                .straps
                .iter()
                .any(|strap| strap.pieces.iter().all(|piece| there(*piece)) && meets(&strap.ends))
    }

    /// What those pieces that are `there` close off.
    pub(super) fn rings(&self, there: impl Fn(usize) -> bool) -> Rings<'_> {
        let middle = |piece: usize| self.pieces[piece][0];
        let mut part: Vec<Option<usize>> = vec![None; self.pieces.len()];
        let straps: Vec<&Strap> =
            self.straps.iter().filter(|strap| strap.pieces.iter().all(|piece| there(*piece))).collect();
        let way = |strap: &Strap| {
            let [a, b] = strap.pieces;
            [middle(a), strap.ends[0], strap.ends[1], middle(b)]
        };
        let mut beside: Vec<Vec<usize>> = vec![Vec::new(); self.pieces.len()];
        for (index, strap) in straps.iter().enumerate() {
            strap.pieces.iter().for_each(|piece| beside[*piece].push(index));
        }
        let (mut tree, mut others) = (Vec::new(), Vec::new());
        let mut is_used = vec![false; straps.len()];
        for root in 0..self.pieces.len() {
            if part[root].is_some() {
                continue;
            }
            part[root] = Some(root);
            let mut open = vec![root];
            while let Some(from) = open.pop() {
                for &index in &beside[from] {
                    if std::mem::replace(&mut is_used[index], true) {
                        continue;
                    }
                    let strap = straps[index];
                    let to = if strap.pieces[0] == from { strap.pieces[1] } else { strap.pieces[0] };
                    let step = Step { from, to, way: way(strap) };
                    if part[to].is_none() {
                        part[to] = Some(root);
                        open.push(to);
                        tree.push(step);
                    } else {
                        others.push(step);
                    }
                }
            }
        }
        Rings { pieces: self, tree, others }
    }
}

/// From one piece to another.
struct Step {
    from: usize,
    to: usize,
    way: [Point2<f64>; 4],
}

/// Rings of pieces and straps: each strap that closes one, with those of a tree by which all hang together.
pub(super) struct Rings<'s> {
    pieces: &'s Straps,
    tree: Vec<Step>,
    others: Vec<Step>,
}

/// Which rings go round a point, modulo two.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Inside(Vec<bool>);

impl Inside {
    /// Whether the point is in the open, with all that is far away.
    pub(super) fn is_outside(&self) -> bool {
        self.0.iter().all(|is_in| !is_in)
    }
}

impl Rings<'_> {
    pub(super) fn about(&self, point: &Point2<f64>) -> Inside {
        let passes = |step: &Step| {
            let sides = step.way.windows(2).filter(|side| passes(point, &side[0], &side[1]));
            sides.count() % 2 == 1
        };
        // How often the way from the root of its tree to each piece passes a ray from the point.
        let mut to_piece = vec![false; self.pieces.count()];
        for step in &self.tree {
            to_piece[step.to] = to_piece[step.from] ^ passes(step);
        }
        let rings = self.others.iter().map(|step| to_piece[step.from] ^ passes(step) ^ to_piece[step.to]);
        Inside(rings.collect())
    }
}

/// Whether a ray from a point toward +x passes a line.
fn passes(point: &Point2<f64>, a: &Point2<f64>, b: &Point2<f64>) -> bool {
    (a.y > point.y) != (b.y > point.y) && point.x < a.x + (point.y - a.y) / (b.y - a.y) * (b.x - a.x)
}

/// How far a point is from a convex polygon, m; 0 in it.
pub(super) fn distance(polygon: &[Point2<f64>], point: &Point2<f64>) -> f64 {
    if holds(polygon, point) {
        return 0.0;
    }
    let to_sides = sides(polygon).map(|[a, b]| (onto(point, &a, &b) - point).norm());
    to_sides.fold(f64::INFINITY, f64::min)
}

/// The sides of a polygon: of a line one, of a point itself.
fn sides(polygon: &[Point2<f64>]) -> impl Iterator<Item = [Point2<f64>; 2]> + '_ {
    let count = if polygon.len() == 2 { 1 } else { polygon.len() };
    (0..count).map(|at| [polygon[at], polygon[(at + 1) % polygon.len()]])
}

fn holds(polygon: &[Point2<f64>], point: &Point2<f64>) -> bool {
    polygon.len() > 2 && sides(polygon).all(|[a, b]| (b - a).perp(&(point - a)) >= 0.0)
}

/// The point of a line that is nearest to another.
fn onto(point: &Point2<f64>, a: &Point2<f64>, b: &Point2<f64>) -> Point2<f64> {
    let along: Vector2<f64> = b - a;
    let length = along.norm_squared();
    let share = if length > 0.0 { ((point - a).dot(&along) / length).clamp(0.0, 1.0) } else { 0.0 };
    a + along * share
}

/// How far two convex polygons are apart, m, and where; none of nothing.
pub(super) fn nearest(one: &[Point2<f64>], other: &[Point2<f64>]) -> Option<(f64, [Point2<f64>; 2])> {
    let (first, second) = (one.first()?, other.first()?);
    if holds(one, second) {
        return Some((0.0, [*second; 2]));
    }
    if holds(other, first) {
        return Some((0.0, [*first; 2]));
    }
    let pairs = sides(one).flat_map(|a| sides(other).map(move |b| between(a, b)));
    pairs.reduce(|least, pair| if pair.0 < least.0 { pair } else { least })
}

/// How far two lines are apart, m, and where.
fn between([a, b]: [Point2<f64>; 2], [c, d]: [Point2<f64>; 2]) -> (f64, [Point2<f64>; 2]) {
    let (one, other): (Vector2<f64>, Vector2<f64>) = (b - a, d - c);
    let turn = one.perp(&other);
    // Of two in a line, all but rounding, the ends tell.
    if turn.abs() > IN_LINE * one.norm() * other.norm() {
        let shares = [(c - a).perp(&other) / turn, (c - a).perp(&one) / turn];
        if shares.iter().all(|share| (0.0..=1.0).contains(share)) {
            return (0.0, [a + one * shares[0]; 2]);
        }
    }
    let ends = [[a, onto(&a, &c, &d)], [b, onto(&b, &c, &d)], [onto(&c, &a, &b), c], [onto(&d, &a, &b), d]];
    let apart = ends.map(|ends| ((ends[0] - ends[1]).norm(), ends));
    apart.into_iter().fold((f64::INFINITY, [a, c]), |least, ends| if ends.0 < least.0 { ends } else { least })
}

fn extent(polygon: &[Point2<f64>]) -> Option<[Point2<f64>; 2]> {
    let first = polygon.first()?;
    let (low, high) =
        polygon.iter().fold((*first, *first), |(low, high), point| (low.inf(point), high.sup(point)));
    Some([low, high])
}

/// No more than how far two polygons are apart, m.
fn boxes_apart(one: &[Point2<f64>], other: &[Point2<f64>]) -> f64 {
    let (Some([low, high]), Some([other_low, other_high])) = (extent(one), extent(other)) else {
        return f64::INFINITY;
    };
    (low - other_high).sup(&(other_low - high)).map(|apart| apart.max(0.0)).norm()
}

#[cfg(test)]
mod tests {
    use super::*;

    const WIDTH: f64 = 0.18;

    fn line(a: [f64; 2], b: [f64; 2], turn: f64) -> Vec<Point2<f64>> {
        let turned = nalgebra::Rotation2::new(turn);
        [a, b].map(|point| turned * Point2::from(point)).to_vec()
    }

    fn straps(lines: &[Vec<Point2<f64>>]) -> Straps {
        let mut straps = Straps::default();
        lines.iter().for_each(|line| straps.add(line.clone(), WIDTH));
        straps
    }

    /// A yard of 4 by 2 m with an opening in its upper side: closed if and only if that is narrower than a body, however the yard is turned.
    #[test]
    fn a_yard_is_open_from_the_width_of_a_body_on_at_any_turn() {
        for step in 0..90 {
            let turn = f64::from(step) * 0.07;
            for (opening, is_open) in
                [(0.0, false), (0.1799, false), (0.18, true), (0.1801, true), (1.0, true)]
            {
                let yard = straps(&[
                    line([0.0, 0.0], [4.0, 0.0], turn),
                    line([4.0, 0.0], [4.0, 2.0], turn),
                    line([4.0, 2.0], [2.0 + opening, 2.0], turn),
                    line([2.0, 2.0], [0.0, 2.0], turn),
                    line([0.0, 2.0], [0.0, 0.0], turn),
                ]);
                let rings = yard.rings(|_| true);
                let about = |x: f64, y: f64| rings.about(&line([x, y], [x, y], turn)[0]);
                assert_eq!(about(1.0, 1.0).is_outside(), is_open, "{opening} m at {turn}");
                assert!(
                    about(5.0, 1.0).is_outside() && about(-1.0, 1.7).is_outside(),
                    "{opening} m at {turn}"
                );
                assert!(
                    !is_open || yard.rings(|piece| piece != 0).about(&Point2::new(0.0, 0.1)).is_outside()
                );
            }
        }
    }

    /// Two yards side by side that share a wall: apart from each other and from the open.
    #[test]
    fn two_rooms_are_told_apart() {
        let rooms = straps(&[
            line([0.0, 0.0], [4.0, 0.0], 0.0),
            line([4.0, 0.0], [4.0, 2.0], 0.0),
            line([4.0, 2.0], [0.0, 2.0], 0.0),
            line([0.0, 2.0], [0.0, 0.0], 0.0),
            line([2.0, 0.0], [2.0, 2.0], 0.0),
        ]);
        let about = |there: fn(usize) -> bool, x: f64| rooms.rings(there).about(&Point2::new(x, 1.0));
        assert_ne!(about(|_| true, 1.0), about(|_| true, 3.0));
        assert!(!about(|_| true, 1.0).is_outside() && !about(|_| true, 3.0).is_outside());
        let one_room = |piece: usize| piece != 4;
        assert_eq!(about(one_room, 1.0), about(one_room, 3.0));
        let without_right = |piece: usize| piece != 1;
        assert!(!about(without_right, 1.0).is_outside() && about(without_right, 3.0).is_outside());
    }

    /// A yard within a yard, and a post that stands free in it.
    #[test]
    fn what_stands_free_closes_nothing() {
        let square = |half: f64| {
            vec![
                Point2::new(-half, -half),
                Point2::new(half, -half),
                Point2::new(half, half),
                Point2::new(-half, half),
            ]
        };
        let ring = |half: f64| {
            let corners = square(half);
            (0..4).map(|at| vec![corners[at], corners[(at + 1) % 4]]).collect::<Vec<_>>()
        };
        let all: Vec<_> = ring(3.0).into_iter().chain(ring(1.0)).chain([square(0.1)]).collect();
        let straps = straps(&all);
        let rings = straps.rings(|_| true);
        let about = |x: f64| rings.about(&Point2::new(x, 0.0));
        assert!(about(4.0).is_outside());
        assert!(!about(2.0).is_outside());
        assert!(!about(0.5).is_outside() && about(0.5) == about(-0.5) && about(0.5) != about(2.0));
        assert!(straps.is_between(8, &Point2::new(-0.5, 0.0), &Point2::new(0.5, 0.0)));
        assert!(!straps.is_between(8, &Point2::new(-0.5, 0.2), &Point2::new(0.5, 0.2)));
    }
}
