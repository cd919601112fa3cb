//! Decides which pairs of bodies are shown to keep what is asked of them all through an interval, and which stay open.
//!
//! A pair is shown where its distance in the middle of the interval is at least what is asked and as much more as both bodies
//! together can have gone from there, anywhere in the interval: adaptive dynamic checking (Schwarzer, Saha, Latombe 2005) with the
//! displacement from the middle in place of the length of the way from the ends. What stays open is asked again in shorter intervals.

use seamwright_kinematics::{AxisValues, Forward, Pose};

use super::asked::Kind;
use super::carried::Stand;
use super::parry::Located;
use super::scene::{Body, PairId, Scene};
use super::spread::{Joint, arm_joints, external_joints, farthest};
use super::turning::ROUNDING;
use crate::cell::frames::FrameId;
use crate::cell::{SeamId, StationId};

/// Where arm and torch are in the middle of an interval, and how far they and the external axes may be from there in it.
pub(in crate::plan) struct Spread<'s> {
    /// In the middle.
    pub base_from_flange: &'s Pose,
    /// Where the links are in the middle, and how far each axis may be off, rad. Without it nothing is shown of links.
    pub arm: Option<(&'s Forward, &'s AxisValues)>,
    /// How far the torch may be off as the station sees it, where that is known.
    pub torch: Option<TorchSpread>,
    /// How far each external axis may be off, rad or m; empty where all stand.
    pub external: &'s [f64],
}

/// How far a torch may be off.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct TorchSpread {
    /// The station whose frame it is counted in.
    pub station: StationId,
    /// Of the wire end; and of the tool frame along the wire, m.
    pub distance: f64,
    /// Rotation, rad.
    pub angle: f64,
    /// From contact tip to wire end, m.
    pub ctwd: f64,
    /// The seam that it serves.
    pub seam: Option<SeamId>,
}

/// A pair that is still to be shown.
#[derive(Clone, Copy, Debug)]
pub(in crate::plan) struct OpenPair {
    bodies: Bodies,
    asked: f64,
    /// Halvings of the interval before it is worth asking again.
    wait: u32,
}

/// Indices among the carried or the standing bodies.
#[derive(Clone, Copy, Debug)]
enum Bodies {
    Stands { carried: usize, standing: usize },
    Own { first: usize, second: usize },
    Turns { first: usize, second: usize },
}

/// What is asked in one go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::plan) enum Group {
    /// Torch against everything that stands: its own motion is enough to show them.
    Torch,
    /// Links and hose against everything that stands, and what the arm carries against itself.
    Links,
}

/// What a look at an interval's middle came to.
#[derive(Clone, Debug)]
pub(in crate::plan) enum Looked {
    /// In the middle this pair does not keep what is asked.
    TooNear(PairId),
    /// These pairs are not shown yet; none where all are.
    Open(Vec<OpenPair>),
}

/// Halvings taken at once at most, where nothing is to be asked in between.
const MOST_HALVINGS: u32 = 10;

impl OpenPair {
    /// In how many parts of an interval some pairs are best asked next, and those pairs as they are then.
    pub fn in_parts(open: &[Self]) -> (usize, Vec<Self>) {
        let idle = open.iter().map(|pair| pair.wait).min().unwrap_or(0).min(MOST_HALVINGS);
        let later = |pair: &Self| Self { wait: pair.wait - idle, ..*pair };
        (2 << idle, open.iter().map(later).collect())
    }

    /// The two bodies.
    pub fn id(&self, scene: &Scene<'_>) -> PairId {
        let shape = |standing: usize| Body::Shape(scene.bodies.standing[standing].shape);
        let (one, other) = match self.bodies {
            Bodies::Stands { carried, standing } => (Body::Carried(carried), shape(standing)),
            Bodies::Own { first, second } => (Body::Carried(first), Body::Carried(second)),
            Bodies::Turns { first, second } => (shape(first), shape(second)),
        };
        PairId { one, other }
    }
}

impl Scene<'_> {
    /// Every pair of a group that is compared; `seam` as in [`Scene::tightest`].
    pub(in crate::plan) fn open_pairs(&self, seam: Option<SeamId>, group: Group) -> Vec<OpenPair> {
        let mut pairs = Vec::new();
        let mut add = |bodies: Bodies, asked: f64| pairs.push(OpenPair { bodies, asked, wait: 0 });
        for (carried, body) in self.bodies.carried.iter().enumerate() {
            let goes_with_links = matches!(body.kind, Kind::Link(_) | Kind::Hose);
            if goes_with_links != (group == Group::Links) {
                continue;
            }
            let [apart, joined] = [false, true].map(|joined| self.asked(body.kind, joined));
            for (standing, other) in self.bodies.standing.iter().enumerate() {
                if let Some(asked) = if self.joins(seam, other.shape) { joined } else { apart } {
                    add(Bodies::Stands { carried, standing }, asked);
                }
            }
        }
        if group == Group::Links {
            for &(first, second) in &self.bodies.own_pairs {
                add(Bodies::Own { first, second }, self.bodies.cell.clearance.own);
            }
        }
        pairs
    }

    /// Every pair of standing bodies that the axes marked in `moving` move against each other.
    pub(in crate::plan) fn open_turning_pairs(&self, moving: &[bool]) -> Vec<OpenPair> {
        let asked = self.bodies.cell.clearance.moving_axis - ROUNDING;
        self.bodies
            .turning
            .compared(moving)
            .map(|(first, second)| OpenPair { bodies: Bodies::Turns { first, second }, asked, wait: 0 })
            .collect()
    }

    /// Looks at some pairs in the middle of an interval, where this scene's external axes stand as they do there.
    pub(in crate::plan) fn look(&self, spread: &Spread<'_>, pairs: &[OpenPair]) -> Looked {
        let mut look = Look { scene: self, spread, carried: vec![None; self.bodies.carried.len()] };
        let mut open = Vec::new();
        for pair in pairs {
            if pair.wait > 0 {
                open.push(OpenPair { wait: pair.wait - 1, ..*pair });
                continue;
            }
            match look.at(pair) {
                Seen::TooNear => return Looked::TooNear(pair.id(self)),
                Seen::Shown => {}
                Seen::Open { wait } => open.push(OpenPair { wait, ..*pair }),
            }
        }
        Looked::Open(open)
    }

    /// How far a point that is fixed to the station can be off as the arm's base sees it, m, and how far turned, rad.
    pub(in crate::plan) fn station_off(
        &self,
        station: StationId,
        off: &[f64],
        point_in_base: &nalgebra::Point3<f64>,
    ) -> (f64, f64) {
        if off.iter().all(|off| *off == 0.0) {
            return (0.0, 0.0);
        }
        let cell = self.bodies.cell;
        let joints = self.joints((cell.arm.frame, cell.stations[station.0].frame), off);
        let turned = joints.iter().filter(|joint| joint.kind == crate::cell::frames::AxisKind::Turn);
        let angle = turned.map(|joint| joint.off).sum();
        (farthest(joints.iter().copied(), &[*point_in_base; 8]), angle)
    }

    fn joints(&self, between: (FrameId, FrameId), off: &[f64]) -> Vec<Joint> {
        let cell = self.bodies.cell;
        let base_from_world = self.bodies.base_from_world(&self.external);
        external_joints(&cell.frames, &base_from_world, &self.external, off, between)
    }
}

enum Seen {
    TooNear,
    Shown,
    Open { wait: u32 },
}

/// A look at one interval; what is worked out for a carried body serves all its pairs.
struct Look<'l, 'c> {
    scene: &'l Scene<'c>,
    spread: &'l Spread<'l>,
    carried: Vec<Option<Middle<'l>>>,
}

/// A carried body in the middle.
#[derive(Clone)]
struct Middle<'l> {
    stand: Stand<'l>,
    /// How far it may have gone as the base sees it, m.
    gone: f64,
}

impl<'l> Look<'l, '_> {
    fn at(&mut self, pair: &OpenPair) -> Seen {
        let gone = self.gone(pair.bodies);
        let scene = self.scene;
        let asked = pair.asked;
        let located_standing = |standing: usize| Located {
            form: &scene.bodies.standing[standing].form,
            placed: &scene.placed[standing],
        };
        let (one, other) = match pair.bodies {
            Bodies::Stands { carried, standing } => {
                let body = &self.middle(carried).stand;
                if !body.is_there {
                    return Seen::Shown;
                }
                return seen(&body.located(), &located_standing(standing), asked, gone);
            }
            Bodies::Own { first, second } => {
                let one = self.middle(first).stand.clone();
                let other = &self.middle(second).stand;
                if !one.is_there || !other.is_there {
                    return Seen::Shown;
                }
                return seen(&one.located(), &other.located(), asked, gone);
            }
            Bodies::Turns { first, second } => (located_standing(first), located_standing(second)),
        };
        seen(&one, &other, asked, gone)
    }

    fn gone(&mut self, bodies: Bodies) -> f64 {
        let scene = self.scene;
        let spread = self.spread;
        let frame_of = |standing: usize| scene.bodies.frame_of(standing);
        let stands = spread.external.iter().all(|off| *off == 0.0);
        match bodies {
            Bodies::Stands { carried, standing } => {
                let own = self.middle(carried).gone;
                let body = &scene.bodies.carried[carried];
                let torch = spread.torch.filter(|_| body.from_tool > 0.0);
                if stands {
                    return own;
                }
                let corners = scene.standing_corners(standing);
                let joints = scene.joints((scene.bodies.cell.arm.frame, frame_of(standing)), spread.external);
                let by_base = own + farthest(joints.into_iter(), &corners);
                // As the station sees it, the torch and whatever turns with the station are nearer to rest.
                let Some(torch) = torch else { return by_base };
                let station = scene.bodies.cell.stations[torch.station.0].frame;
                let joints = scene.joints((station, frame_of(standing)), spread.external);
                by_base.min(self.torch_gone(carried, &torch) + farthest(joints.into_iter(), &corners))
            }
            Bodies::Own { first, second } => {
                let Some((forward, off)) = spread.arm else { return f64::INFINITY };
                let link = |index: usize| scene.bodies.carried[index].link.unwrap_or(6);
                let (inner, outer) =
                    if link(first) <= link(second) { (first, second) } else { (second, first) };
                let corners =
                    scene.bodies.carried[outer].corners_in_base(spread.base_from_flange, Some(forward));
                farthest(
                    arm_joints(&scene.bodies.cell.arm.arm, forward, off, link(inner), link(outer)),
                    &corners,
                )
            }
            Bodies::Turns { first, second } => {
                let joints = scene.joints((frame_of(first), frame_of(second)), spread.external);
                let joints = self.that_move(&joints, first, second);
                let there = farthest(joints.iter().copied(), &scene.standing_corners(second));
                let back = farthest(joints.iter().rev().copied(), &scene.standing_corners(first));
                there.min(back)
            }
        }
    }

    /// Of the joints from one standing body out to another those that move the two against each other: what turns a round body about its
    /// own line does not.
    fn that_move<'j>(&self, joints: &'j [Joint], first: usize, second: usize) -> &'j [Joint] {
        let in_itself = |joint: Option<&Joint>, body: usize| {
            let ends = self.scene.round_about(body);
            joint.zip(ends).is_some_and(|(joint, ends)| joint.turns_in_itself(&ends))
        };
        let joints = if in_itself(joints.first(), first) { &joints[1..] } else { joints };
        if in_itself(joints.last(), second) { &joints[..joints.len() - 1] } else { joints }
    }

    fn middle(&mut self, carried: usize) -> &Middle<'l> {
        if self.carried[carried].is_none() {
            self.carried[carried] = Some(self.middle_of(carried));
        }
        self.carried[carried].as_ref().expect("it was made just now")
    }

    fn middle_of(&self, carried: usize) -> Middle<'l> {
        let (scene, spread) = (self.scene, self.spread);
        let body = &scene.bodies.carried[carried];
        let wire =
            scene.wire(spread.torch.and_then(|torch| torch.seam), spread.torch.map(|torch| torch.ctwd));
        let stand = body.stand(spread.base_from_flange, spread.arm.map(|(forward, _)| forward), wire);
        let arm = &scene.bodies.cell.arm.arm;
        let by_axes = spread.arm.map_or(f64::INFINITY, |(forward, off)| body.gone(arm, forward, off));
        let stands = spread.external.iter().all(|off| *off == 0.0);
        let torch = spread.torch.filter(|_| stands && body.from_tool > 0.0);
        let by_torch = torch.map_or(f64::INFINITY, |torch| self.torch_gone(carried, &torch));
        Middle { stand, gone: by_axes.min(by_torch) }
    }

    /// How far a torch body can be off as the station sees it.
    fn torch_gone(&self, carried: usize, torch: &TorchSpread) -> f64 {
        let beyond = (torch.ctwd - self.scene.bodies.cell.torch.nominal_ctwd).abs();
        torch.distance + torch.angle * (self.scene.bodies.carried[carried].from_tool + beyond)
    }
}

/// Whether two bodies that may have come nearer by `gone` (m) keep what is asked.
fn seen(one: &Located<'_>, other: &Located<'_>, asked: f64, gone: f64) -> Seen {
    let needed = asked + gone;
    if one.placed.farther_than(other.placed, needed) {
        return Seen::Shown;
    }
    let Some(distance) = one.distance(other, needed) else { return Seen::Shown };
    // What is asked may be nothing, but what touches does not keep it.
    if distance < asked || distance <= 0.0 {
        return Seen::TooNear;
    }
    // Each halving of the interval halves what can have gone: until that is as little as there is to spare, it stays open.
    let halvings = (gone / (distance - asked)).log2().ceil();
    Seen::Open { wait: (halvings - 1.0).clamp(0.0, 40.0) as u32 }
}

#[cfg(test)]
mod tests {
    use super::super::parry::Form;
    use super::*;
    use crate::cell::Solid;

    fn ball_over_ball(distance: f64, asked: f64, gone: f64) -> Seen {
        let form = Form::new(&Solid::Sphere { radius: 0.1 });
        let [low, high] = [0.0, 0.2 + distance].map(|z| form.place(&Pose::translation(0.0, 0.0, z)));
        let [low, high] = [&low, &high].map(|placed| Located { form: &form, placed });
        seen(&low, &high, asked, gone)
    }

    /// Balls 40 mm apart of which 10 mm are asked have 30 mm to spare. After k halvings of the interval no more than gone / 2ᵏ can have
    /// happened: with 29 mm they are shown, with 50 mm after one halving (25), with 100 mm after two (25), with 1 m after six (15.6). One
    /// halving is done in any case, so that one fewer is waited for.
    #[test]
    fn a_pair_waits_until_it_can_be_shown() {
        assert!(matches!(ball_over_ball(0.04, 0.01, 0.029), Seen::Shown));
        for (gone, waited) in [(0.05, 0), (0.1, 1), (1.0, 5), (f64::INFINITY, 40)] {
            let Seen::Open { wait } = ball_over_ball(0.04, 0.01, gone) else {
                panic!("{gone} m is not open")
            };
            assert_eq!(wait, waited, "{gone} m");
        }
        assert!(matches!(ball_over_ball(0.009, 0.01, 0.05), Seen::TooNear));
        // What is asked may be nothing or less, but what touches keeps nothing.
        for asked in [0.0, -0.01] {
            assert!(matches!(ball_over_ball(0.0, asked, 0.05), Seen::TooNear), "{asked} m");
            assert!(matches!(ball_over_ball(0.001, asked, 0.05), Seen::Open { .. }), "{asked} m");
        }
    }

    /// Where every pair waits for two halvings more, eight parts are made at once and none waits for those again; ten halvings at most
    /// are skipped.
    #[test]
    fn parts_are_as_many_as_the_least_wait_says() {
        let pair = |wait: u32| OpenPair { bodies: Bodies::Own { first: 0, second: 1 }, asked: 0.0, wait };
        for (waits, parts, left) in
            [([0, 5], 2, [0, 5]), ([2, 3], 8, [0, 1]), ([12, 40], 2048, [2, 30]), ([3, 1], 4, [2, 0])]
        {
            let (count, later) = OpenPair::in_parts(&waits.map(pair));
            assert_eq!(count, parts, "{waits:?}");
            assert_eq!(later.iter().map(|pair| pair.wait).collect::<Vec<_>>(), left, "{waits:?}");
        }
    }
}
