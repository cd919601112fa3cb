//! Decides how a curve is gone along within limits of speed, acceleration and jerk of every axis: from rest to rest, or passing its ends
//! at speed.
//!
//! First the fastest way within speeds and accelerations alone (`fastest`), which nothing can beat: the *bound*. Its acceleration
//! jumps, so its motion along the curve is averaged over a moving window of time: a jump of acceleration becomes a ramp, and the
//! whole takes a window longer. What is then still over a limit somewhere is asked to go slower there and thereabouts, in a few
//! rounds; what is left over after that stretches the whole way in time, so that every limit is kept at every instant looked at. Of several
//! windows and rounds the quickest counts. The way is not proven to be the fastest one with limited jerk: the excess over the bound
//! says the most that it can be off.

use super::fastest::Grid;
use super::{Curve, Instant};

/// What the axes of a curve may do; every number above 0, jerks may be infinite.
#[derive(Clone, Debug, PartialEq)]
pub struct AxisLimits {
    /// Greatest speed of each, rad/s or m/s.
    pub speed: Vec<f64>,
    /// Greatest acceleration of each.
    pub acceleration: Vec<f64>,
    /// Greatest jerk of each.
    pub jerk: Vec<f64>,
}

/// A curve gone along from rest to rest, or passing its ends at speed.
#[derive(Clone, Debug)]
pub struct TimedWay {
    curve: Curve,
    motion: Averaged,
    /// How much slower than `motion` it is gone, at least 1.
    stretch: f64,
    bound: f64,
}

/// Windows that are tried, as shares of the longest time in which an axis builds up its acceleration.
const WINDOWS: [f64; 4] = [0.5, 0.75, 1.0, 1.5];

/// Instants between two nodes that are looked at while the way is sought, and at last.
const LOOKS: u32 = 2;
const LAST_LOOK: u32 = 8;

/// Rounds of going slower where a limit is passed.
const ROUNDS: usize = 12;

/// The same where the ends are passed at speed: what a way from rest to rest may leave to stretching, this one must not, since its
/// ends would be stretched too.
const PASSING_ROUNDS: usize = 60;

/// A count of steps this little above a whole one is that one: a way is timed alike when a file has rounded its ends.
const ROUNDED: f64 = 1e-3;

/// What a limit may be passed by while a way is sought: the last stretch takes it away.
const SLACK: f64 = 1e-6;

/// The power of what a limit is passed by with which a way that passes its ends is slowed there: more than needed, so that rounds come to
/// an end.
const PASSING_POWER: f64 = 1.5;

/// Time of the fastest way along `curve` from rest to rest that keeps speeds and accelerations alone, s; jerk may be unlimited.
///
/// Asked at `steps` steps or more; `speed_limit` as for [`TimedWay::new`].
#[must_use]
pub fn fastest_time(
    curve: &Curve,
    limits: &AxisLimits,
    steps: usize,
    speed_limit: &dyn Fn(f64) -> f64,
) -> f64 {
    let sampled = Sampled::new(curve, limits, steps, speed_limit);
    let mut grid = Grid::new(curve.axes());
    sampled.fill(&mut grid, limits, &vec![1.0; sampled.s.len()]);
    grid.fastest(0.0, 0.0, &mut Vec::new())
}

impl TimedWay {
    /// The way along `curve`, asked at `steps` steps or more, with `speed_limit(s)` the greatest ṡ that something other than an axis
    /// allows at `s` (infinite where nothing does), such as a tool speed or motors that turn several axes.
    #[must_use]
    pub fn new(curve: Curve, limits: &AxisLimits, steps: usize, speed_limit: &dyn Fn(f64) -> f64) -> Self {
        Self::passing(curve, limits, steps, speed_limit, [0.0; 2])
    }

    /// The same passing its start and its end at ṡ = `ends` instead of resting there (0: rests); slower where the way is not possible else.
    #[must_use]
    pub fn passing(
        curve: Curve,
        limits: &AxisLimits,
        steps: usize,
        speed_limit: &dyn Fn(f64) -> f64,
        ends: [f64; 2],
    ) -> Self {
        let (rounds, looks, power) =
            if ends != [0.0; 2] { (PASSING_ROUNDS, LAST_LOOK, PASSING_POWER) } else { (ROUNDS, LOOKS, 1.0) };
        let sampled = Sampled::new(&curve, limits, steps, speed_limit);
        let (mut grid, mut x) = (Grid::new(curve.axes()), Vec::new());
        let mut pace = vec![1.0; sampled.s.len()];
        sampled.fill(&mut grid, limits, &pace);
        let bound = grid.fastest(ends[0], ends[1], &mut x);
        let first = Averaged::new(&sampled.s, &x, 0.0);
        let rise = limits.acceleration.iter().zip(&limits.jerk).map(|(a, j)| a / j).fold(0.0, f64::max);
        let windows: &[f64] = if rise > 0.0 { &WINDOWS } else { &[0.0] };
        let mut best: Option<(f64, Averaged, f64)> = None;
        let mut excess = Vec::new();
        for window in windows.iter().map(|share| share * rise) {
            pace.fill(1.0);
            let mut motion = first.with_window(window);
            for round in 0..rounds {
                motion.excess(&curve, limits, speed_limit, looks, &mut excess);
                let stretch = excess.iter().map(|(_, over)| *over).fold(1.0, f64::max);
                let time = motion.duration() * stretch;
                if best.as_ref().is_none_or(|(least, ..)| time < *least) {
                    best = Some((time, motion.clone(), stretch));
                }
                if stretch <= 1.0 + SLACK || round + 1 == rounds {
                    break;
                }
                motion.slow_down(&excess, power, &mut pace);
                sampled.fill(&mut grid, limits, &pace);
                grid.fastest(ends[0], ends[1], &mut x);
                motion = Averaged::new(&sampled.s, &x, window);
            }
        }
        let (_, motion, _) = best.unwrap_or((bound, first, 1.0));
        motion.excess(&curve, limits, speed_limit, LAST_LOOK, &mut excess);
        let stretch = excess.iter().map(|(_, over)| *over).fold(1.0, f64::max);
        Self { curve, motion, stretch, bound }
    }

    /// Whole time, s.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.motion.duration() * self.stretch
    }

    /// Time that speeds and accelerations alone would allow, s.
    #[must_use]
    pub fn bound(&self) -> f64 {
        self.bound
    }

    /// The curve.
    #[must_use]
    pub fn curve(&self) -> &Curve {
        &self.curve
    }

    /// The parameter of the curve and its derivatives by time, `t` seconds after the start.
    #[must_use]
    pub fn along(&self, t: f64) -> Instant {
        if t >= self.duration() {
            let speed = self.motion.at(self.motion.ends).speed / self.stretch;
            return Instant { position: self.curve.end(), speed, acceleration: 0.0, jerk: 0.0 };
        }
        let now = self.motion.at(self.motion.begins + t / self.stretch);
        Instant {
            speed: now.speed / self.stretch,
            acceleration: now.acceleration / self.stretch.powi(2),
            jerk: now.jerk / self.stretch.powi(3),
            ..now
        }
    }

    /// Values of all axes (rad or m) `t` seconds after the start.
    #[must_use]
    pub fn at(&self, t: f64) -> Vec<f64> {
        self.curve.at(self.along(t).position)
    }

    /// Speed, acceleration and jerk of all axes `t` seconds after the start.
    #[must_use]
    pub fn rates_at(&self, t: f64) -> [Vec<f64>; 3] {
        let now = self.along(t);
        let mut rates = [0; 3].map(|_| vec![0.0; self.curve.axes()]);
        let [first, second, third] = &mut rates;
        self.curve.derivatives(self.curve.piece(now.position), now.position, first, second, third);
        for axis in 0..first.len() {
            [first[axis], second[axis], third[axis]] = moved(&now, first[axis], second[axis], third[axis]);
        }
        rates
    }
}

/// Speed, acceleration and jerk of an axis with these derivatives by the parameter, which moves like `now`: the chain rule.
fn moved(now: &Instant, first: f64, second: f64, third: f64) -> [f64; 3] {
    let Instant { speed, acceleration, jerk, .. } = *now;
    [
        first * speed,
        second * speed * speed + first * acceleration,
        third * speed.powi(3) + 3.0 * second * speed * acceleration + first * jerk,
    ]
}

/// The derivatives of a curve at the points of its grid.
struct Sampled {
    axes: usize,
    s: Vec<f64>,
    speed: Vec<f64>,
    first: Vec<f64>,
    second: Vec<f64>,
}

impl Sampled {
    /// Every piece in equal steps, so many that there are at least `steps` in all, and the ends of pieces among them.
    fn new(curve: &Curve, limits: &AxisLimits, steps: usize, speed_limit: &dyn Fn(f64) -> f64) -> Self {
        let axes = curve.axes();
        let mut sampled =
            Self { axes, s: Vec::new(), speed: Vec::new(), first: Vec::new(), second: Vec::new() };
        let (mut first, mut second, mut third) = (vec![0.0; axes], vec![0.0; axes], vec![0.0; axes]);
        let longest = (curve.end() - curve.start()) / steps.max(1) as f64;
        let pieces = curve.knots().len() - 1;
        for (piece, ends) in curve.knots().windows(2).enumerate() {
            let length = ends[1] - ends[0];
            // A curve has a few thousand steps at most: the counts are exact.
            let count = (length / longest - ROUNDED).ceil().max(1.0) as usize;
            let with_end = usize::from(piece + 1 == pieces);
            for step in 0..count + with_end {
                let s = ends[0] + length * step as f64 / count as f64;
                curve.derivatives(piece, s, &mut first, &mut second, &mut third);
                let share = first.iter().zip(&limits.speed).map(|(f, v)| f.abs() / v).fold(0.0, f64::max);
                sampled.s.push(s);
                sampled.speed.push(speed_limit(s).min(1.0 / share));
                sampled.first.extend_from_slice(&first);
                sampled.second.extend_from_slice(&second);
            }
        }
        sampled
    }

    /// The grid, at each point at `pace` of what is allowed.
    fn fill(&self, grid: &mut Grid, limits: &AxisLimits, pace: &[f64]) {
        grid.clear();
        let mut acceleration = limits.acceleration.clone();
        for (point, pace) in pace.iter().enumerate() {
            for (scaled, limit) in acceleration.iter_mut().zip(&limits.acceleration) {
                *scaled = limit * pace * pace;
            }
            let row = point * self.axes..(point + 1) * self.axes;
            grid.push(
                self.s[point],
                &self.first[row.clone()],
                &self.second[row],
                &acceleration,
                self.speed[point] * pace,
            );
        }
    }
}

/// The parameter over time with an acceleration that is constant from node to node, averaged over a window.
#[derive(Clone, Debug)]
struct Averaged {
    nodes: Vec<Node>,
    /// Length of the window, s; 0 averages nothing.
    window: f64,
    /// When it passes its first and its last node, s.
    begins: f64,
    ends: f64,
}

#[derive(Clone, Copy, Debug)]
struct Node {
    t: f64,
    s: f64,
    speed: f64,
    /// From here to the next node.
    acceleration: f64,
    /// Integral of `s` over time up to here.
    area: f64,
}

impl Averaged {
    /// From ṡ² at the points of a grid.
    fn new(s: &[f64], x: &[f64], window: f64) -> Self {
        let mut nodes: Vec<Node> = Vec::with_capacity(s.len());
        let (mut t, mut area) = (0.0, 0.0);
        for (point, (at, x_at)) in s.iter().zip(x).enumerate() {
            let speed = x_at.sqrt();
            let Some((next, x_next)) = s.get(point + 1).zip(x.get(point + 1)) else {
                nodes.push(Node { t, s: *at, speed, acceleration: 0.0, area });
                break;
            };
            let step = next - at;
            let acceleration = (x_next - x_at) / (2.0 * step);
            nodes.push(Node { t, s: *at, speed, acceleration, area });
            let time = 2.0 * step / (speed + x_next.sqrt());
            area += at * time + speed * time * time / 2.0 + acceleration * time.powi(3) / 6.0;
            t += time;
        }
        Self::over(nodes, window)
    }

    fn with_window(&self, window: f64) -> Self {
        Self::over(self.nodes.clone(), window)
    }

    fn over(nodes: Vec<Node>, window: f64) -> Self {
        let (first, last) = (nodes[0], nodes[nodes.len() - 1]);
        let ends = last.t + window;
        let mut motion = Self { nodes, window, begins: 0.0, ends };
        // Passed at speed, an end is reached about the middle of the window.
        if window > 0.0 && first.speed > 0.0 {
            motion.begins = motion.when(first.s, 0.0, window);
        }
        if window > 0.0 && last.speed > 0.0 {
            motion.ends = motion.when(last.s, last.t, ends);
        }
        motion
    }

    fn duration(&self) -> f64 {
        self.ends - self.begins
    }

    /// Integral of s, s, and its two derivatives, not averaged; at rest beyond both ends, or going on as they are passed.
    fn plain(&self, t: f64) -> [f64; 4] {
        let (first, last) = (self.nodes[0], self.nodes[self.nodes.len() - 1]);
        if t <= 0.0 {
            return [t * (first.s + t * first.speed / 2.0), first.s + t * first.speed, first.speed, 0.0];
        }
        if t >= last.t {
            let d = t - last.t;
            return [
                last.area + d * (last.s + d * last.speed / 2.0),
                last.s + d * last.speed,
                last.speed,
                0.0,
            ];
        }
        let Node { t: start, s, speed, acceleration, area } =
            self.nodes[self.nodes.partition_point(|node| node.t <= t) - 1];
        let d = t - start;
        [
            area + d * (s + d * (speed / 2.0 + d * acceleration / 6.0)),
            s + d * (speed + d * acceleration / 2.0),
            speed + d * acceleration,
            acceleration,
        ]
    }

    fn at(&self, t: f64) -> Instant {
        let now = self.beyond(t);
        let last = self.nodes[self.nodes.len() - 1].s;
        Instant { position: now.position.clamp(self.nodes[0].s, last), ..now }
    }

    /// The same without being held to the ends.
    fn beyond(&self, t: f64) -> Instant {
        let now = self.plain(t);
        if self.window == 0.0 {
            return Instant { position: now[1], speed: now[2], acceleration: now[3], jerk: 0.0 };
        }
        let before = self.plain(t - self.window);
        let mean = |order: usize| (now[order] - before[order]) / self.window;
        Instant { position: mean(0), speed: mean(1), acceleration: mean(2), jerk: mean(3) }
    }

    /// Every instant looked at, and how much slower the way would have to be for all limits to be kept then: when a node enters
    /// the window, when it leaves it, just before each, and `looks` − 1 times between.
    fn excess(
        &self,
        curve: &Curve,
        limits: &AxisLimits,
        speed_limit: &dyn Fn(f64) -> f64,
        looks: u32,
        excess: &mut Vec<(f64, f64)>,
    ) {
        excess.clear();
        let mut times: Vec<f64> = self.nodes.iter().map(|node| node.t).collect();
        if self.window > 0.0 {
            times.extend(self.nodes.iter().map(|node| node.t + self.window));
        }
        times.retain(|t| (self.begins..=self.ends).contains(t));
        times.extend([self.begins, self.ends]);
        times.sort_by(f64::total_cmp);
        let mut look = Look {
            motion: self,
            curve,
            limits,
            speed_limit,
            derivatives: [0; 3].map(|_| vec![0.0; curve.axes()]),
        };
        let (mut piece, mut last) = (0, 0.0);
        for pair in times.windows(2) {
            let length = pair[1] - pair[0];
            if length <= 0.0 {
                continue;
            }
            for step in 0..=looks {
                // Just before the next node: at it the jerk is already the next one.
                let t = pair[0] + length * (f64::from(step) / f64::from(looks)).min(1.0 - 1e-9);
                while piece + 2 < curve.knots().len() && curve.knots()[piece + 1] <= self.at(t).position {
                    if looks == LAST_LOOK {
                        // Third derivatives of the curve jump at its knots: both sides of each are looked at.
                        let t = self.when(curve.knots()[piece + 1], last, t);
                        excess.extend([(t, look.over(t, piece)), (t, look.over(t, piece + 1))]);
                    }
                    piece += 1;
                }
                excess.push((t, look.over(t, piece)));
                last = t;
            }
        }
    }

    /// When it passes `s`, between two times on either side of it.
    fn when(&self, s: f64, mut before: f64, mut after: f64) -> f64 {
        for _ in 0..48 {
            let middle = 0.5 * (before + after);
            if self.beyond(middle).position < s {
                before = middle;
            } else {
                after = middle;
            }
        }
        after
    }

    /// Takes the pace down at every node that is in the window at an instant at which a limit is passed.
    fn slow_down(&self, excess: &[(f64, f64)], power: f64, pace: &mut [f64]) {
        let mut slower = vec![1.0_f64; pace.len()];
        for (t, over) in excess.iter().filter(|(_, over)| *over > 1.0 + SLACK) {
            let from = self.nodes.partition_point(|node| node.t < t - self.window);
            let to = self.nodes.partition_point(|node| node.t <= *t);
            for slower in &mut slower[from.saturating_sub(1)..(to + 1).min(pace.len())] {
                *slower = slower.min(over.powf(-power));
            }
        }
        for (pace, slower) in pace.iter_mut().zip(slower) {
            *pace *= slower;
        }
    }
}

/// Looks at single instants.
struct Look<'a> {
    motion: &'a Averaged,
    curve: &'a Curve,
    limits: &'a AxisLimits,
    speed_limit: &'a dyn Fn(f64) -> f64,
    derivatives: [Vec<f64>; 3],
}

impl Look<'_> {
    /// How much slower the way would have to be for all limits to be kept at `t`, taken to be on `piece`.
    fn over(&mut self, t: f64, piece: usize) -> f64 {
        let now = self.motion.at(t);
        let [first, second, third] = &mut self.derivatives;
        self.curve.derivatives(piece, now.position, first, second, third);
        let (mut fast, mut bent, mut jerked) =
            (now.speed / (self.speed_limit)(now.position), 0.0_f64, 0.0_f64);
        for axis in 0..first.len() {
            let [speed, acceleration, jerk] = moved(&now, first[axis], second[axis], third[axis]);
            fast = fast.max(speed.abs() / self.limits.speed[axis]);
            bent = bent.max(acceleration.abs() / self.limits.acceleration[axis]);
            jerked = jerked.max(jerk.abs() / self.limits.jerk[axis]);
        }
        // Without a window the jerk is not known, and not limited.
        fast.max(bent.sqrt()).max(if self.motion.window > 0.0 { jerked.cbrt() } else { 0.0 })
    }
}
