//! Decides where a person can walk: from outside, or through the field of a device, past guards, solid shapes and fields that stop what
//! moves.
//!
//! Seen from above a person is a round of 180 mm, the least slot that lets a whole body through (ISO 13857, from memory): so wide an opening
//! lets people in, however it stands, and a narrower one nobody (`enclosure`). What closes a way at all is said in `closers`.
//!
//! Where people get to is told of the middles of squares; a middle counts as far as a person half the diagonal of a square away may stand.

use nalgebra::{Point2, Point3};
use seamwright_kinematics::Pose;

use super::closers::{Closer, OPENING_MM, closing, is_fixed, is_mesh, stands, world_from_zone};
use super::closing::hull;
use super::enclosure::{self, Inside, Straps};
use super::extent::{corners, signed_distance};
use crate::cell::{Cell, Region, Zone, ZoneId, ZoneRole};
use crate::units;

/// Side of a square of the grid, mm, and how many there are at most to a side; then they are larger.
const SQUARE_MM: f64 = 50.0;
const MOST_SQUARES: f64 = 400.0;
/// How far the plan goes on beyond all that is drawn, mm.
const AROUND_MM: f64 = 500.0;

/// The floor in squares, and what stands on it.
#[derive(Clone, Debug)]
pub struct FloorPlan {
    low: Point2<f64>,
    square: f64,
    count: [usize; 2],
    straps: Straps,
    /// Of each piece what it is of.
    closers: Vec<Closer>,
    /// Squares in which nobody can stand, by piece.
    taken: Vec<Vec<usize>>,
}

/// Squares that somebody gets to.
#[derive(Clone, Debug)]
pub struct Walked(Vec<bool>);

/// A way into the safeguarded space on which no field is broken.
#[derive(Clone, Debug, PartialEq)]
pub struct WayIn {
    /// How far into it somebody walks, m.
    pub depth: f64,
    /// Where in the world that is.
    pub at: Point2<f64>,
    /// Meshes that may close it: whether they do is not known.
    pub meshes: Vec<String>,
}

impl FloorPlan {
    /// Of a cell, external axes at rest.
    #[must_use]
    pub fn new(cell: &Cell) -> Self {
        let foot = cell.frames.world_from(cell.arm.frame, &cell.frames.rest()) * cell.arm.frame_from_base;
        let foot = Point3::from(foot.translation.vector).xy();
        let closing = closing(cell);
        let of_zones =
            cell.zones.iter().flat_map(|zone| on_floor(&zone.region, &world_from_zone(cell, zone)));
        let points =
            closing.iter().flat_map(|(_, piece)| piece.iter().copied()).chain(of_zones).chain([foot]);
        let (low, high) = points.fold((foot, foot), |(low, high), point| (low.inf(&point), high.sup(&point)));
        let around = nalgebra::Vector2::repeat(units::mm(AROUND_MM));
        let (low, high) = (low - around, high + around);
        let square = units::mm(SQUARE_MM).max((high - low).max() / MOST_SQUARES);
        // A side has at most `MOST_SQUARES` and one more.
        let count = [0, 1].map(|axis| ((high[axis] - low[axis]) / square).ceil() as usize + 1);
        let mut plan =
            Self { low, square, count, straps: Straps::default(), closers: Vec::new(), taken: Vec::new() };
        for (closer, piece) in closing {
            plan.closers.push(closer);
            plan.straps.add(piece, units::mm(OPENING_MM));
        }
        plan.taken = (0..plan.straps.count()).map(|piece| plan.taken_by(piece)).collect();
        plan
    }

    /// Whether one breaks the field of a device on the way through it.
    #[must_use]
    pub fn has_field(&self, zone: ZoneId) -> bool {
        self.closers.contains(&Closer::Field(zone))
    }

    /// Devices whose field one breaks on the way.
    #[must_use]
    pub fn fields(&self) -> Vec<ZoneId> {
        let fields = self.closers.iter().filter_map(|closer| match closer {
            Closer::Field(zone) => Some(*zone),
            _ => None,
        });
        let mut fields: Vec<ZoneId> = fields.collect();
        fields.dedup();
        fields
    }

    /// Squares in which somebody stands in a zone; where something takes all of it, the nearest beside it.
    #[must_use]
    pub fn of_zone(&self, cell: &Cell, zone: &Zone) -> Vec<usize> {
        let pose = world_from_zone(cell, zone);
        let inside = self.squares(&zone.region, &pose, self.half_diagonal());
        let stands = self.stands(&self.closers.iter().map(|closer| closer.is_there(&[])).collect::<Vec<_>>());
        if inside.iter().any(|&at| stands[at]) {
            return inside;
        }
        // A strip before a table, say: who is there stands beside it.
        let own = on_floor(&zone.region, &pose);
        let sum = own.iter().fold(nalgebra::Vector2::zeros(), |sum, point| sum + point.coords);
        let middle = Point2::from(sum / own.len().max(1) as f64);
        let far = |at: &usize| (self.middle(*at) - middle).norm();
        let free = (0..stands.len()).filter(|&at| stands[at]).min_by(|a, b| far(a).total_cmp(&far(b)));
        vec![free.unwrap_or_else(|| self.at(&middle))]
    }

    /// Where somebody gets to who comes from outside, breaking none of the fields `closed`.
    #[must_use]
    pub fn from_outside(&self, closed: &[ZoneId]) -> Walked {
        self.walked_past(|closer| closer.is_there(closed))
    }

    /// The same where every mesh closes the way as well: there somebody gets for certain.
    #[must_use]
    pub fn surely_from_outside(&self, closed: &[ZoneId]) -> Walked {
        self.walked_past(|closer| *closer == Closer::Mesh || closer.is_there(closed))
    }

    fn walked_past(&self, is_there: impl Fn(&Closer) -> bool) -> Walked {
        let there: Vec<bool> = self.closers.iter().map(is_there).collect();
        let rings = self.straps.rings(|piece| there[piece]);
        self.walked(&there, |middle| rings.about(middle).is_outside())
    }

    /// Where somebody gets to who comes through the field of `zone` and goes on behind it, breaking none of the fields `closed`.
    #[must_use]
    pub fn through(&self, cell: &Cell, zone: &Zone, closed: &[ZoneId]) -> Walked {
        let pose = world_from_zone(cell, zone);
        let into = (pose.rotation * nalgebra::Vector3::y()).xy();
        let is_flat = matches!(zone.region, Region::Field { .. });
        let before = into.try_normalize(1e-6).filter(|_| is_flat).map(|into| {
            // As far before the field as half a body, so that one stands in it, and longer than the plan.
            let on_it = Point2::from(pose.translation.vector.xy()) - into * units::mm(0.5 * OPENING_MM);
            let along = nalgebra::Vector2::new(-into.y, into.x) * (self.square * 4.0 * MOST_SQUARES);
            vec![on_it - along, on_it + along]
        });
        let behind = |point: &Point2<f64>| {
            !is_flat || into.dot(&(point - pose.translation.vector.xy()).coords) >= -self.square
        };
        let mut there: Vec<bool> = self.closers.iter().map(|closer| closer.is_there(closed)).collect();
        let mut straps = self.straps.clone();
        if let Some(line) = before {
            straps.add(line, units::mm(OPENING_MM));
            there.push(true);
        }
        let rings = straps.rings(|piece| there[piece]);
        let own = self.squares(&zone.region, &pose, self.half_diagonal());
        let stands = self.stands(&there);
        let own = own.into_iter().filter(|&at| stands[at] && behind(&self.middle(at)));
        let from: std::collections::BTreeSet<Inside> = own.map(|at| rings.about(&self.middle(at))).collect();
        self.walked(&there, |middle| behind(middle) && from.contains(&rings.about(middle)))
    }

    /// Whether somebody of those who are `walked` there, breaking none of the fields `closed`, steps into the field of a zone that is one of
    /// them, over a place on its edge; `out` leads out of it there. Where a mesh may be in the way, that is taken to close it.
    #[must_use]
    pub(super) fn is_stepped_over(
        &self,
        walked: &Walked,
        (zone, closed): (ZoneId, &[ZoneId]),
        place: &Point2<f64>,
        out: &nalgebra::Vector2<f64>,
    ) -> bool {
        let half_a_body = out * (units::mm(0.5 * OPENING_MM) + self.half_diagonal());
        let way = [place + half_a_body, place - half_a_body];
        let is_there = |piece: usize| {
            let closer = &self.closers[piece];
            *closer != Closer::Field(zone) && (*closer == Closer::Mesh || closer.is_there(closed))
        };
        walked.0[self.at(&way[0])] && !self.straps.is_crossed(is_there, way)
    }

    /// Whether somebody gets over points that lie there, `radius` (m) about each.
    #[must_use]
    pub fn gets_to(&self, walked: &Walked, points: &[Point3<f64>], radius: f64) -> bool {
        let outline = hull(points.iter().map(Point3::xy).collect());
        let margin = radius + self.half_diagonal();
        self.about(&outline, margin)
            .any(|at| walked.0[at] && enclosure::distance(&outline, &self.middle(at)) <= margin)
    }

    /// Whether somebody who gets to where one is behind a flat guard sees what is at a point behind that: nothing then stands between them. Not of one
    /// that axes move.
    #[must_use]
    pub fn is_seen_behind(
        &self,
        cell: &Cell,
        (id, guard): (ZoneId, &Zone),
        walked: &Walked,
        point: &Point3<f64>,
    ) -> bool {
        let Region::Field { half_width, .. } = guard.region else { return false };
        if !stands(cell, guard.frame) {
            return false;
        }
        let guard_from_world = world_from_zone(cell, guard).inverse();
        let far = (guard_from_world * point).y;
        let target = point.xy();
        let is_behind = |middle: &Point2<f64>| {
            let local = guard_from_world * Point3::new(middle.x, middle.y, point.z);
            local.x.abs() <= half_width && (self.half_diagonal()..=far).contains(&local.y)
        };
        let sees = |middle: &Point2<f64>| {
            (0..self.straps.count()).all(|piece| {
                self.closers[piece] == Closer::Guard(id) || !self.straps.is_between(piece, middle, &target)
            })
        };
        let mut reached = (0..walked.0.len()).filter(|&at| walked.0[at]).map(|at| self.middle(at));
        reached.any(|middle| is_behind(&middle) && sees(&middle))
    }

    /// The middle of a square.
    #[must_use]
    pub fn middle(&self, at: usize) -> Point2<f64> {
        let [x, y] = [at % self.count[0], at / self.count[0]].map(|step| step as f64 * self.square);
        Point2::new(self.low.x + x, self.low.y + y)
    }

    fn half_diagonal(&self) -> f64 {
        self.square * std::f64::consts::FRAC_1_SQRT_2
    }

    /// Squares where somebody stands and the rings are as they must be.
    fn walked(&self, there: &[bool], may: impl Fn(&Point2<f64>) -> bool) -> Walked {
        let mut stands = self.stands(there);
        for (at, stands) in stands.iter_mut().enumerate() {
            *stands = *stands && may(&self.middle(at));
        }
        Walked(stands)
    }

    /// Squares that no piece takes.
    fn stands(&self, there: &[bool]) -> Vec<bool> {
        let mut stands = vec![true; self.count[0] * self.count[1]];
        for (taken, _) in self.taken.iter().zip(there).filter(|(_, there)| **there) {
            taken.iter().for_each(|&at| stands[at] = false);
        }
        stands
    }

    /// Squares in which nobody stands for a piece: nobody whose middle is in the square is half of a body from it.
    fn taken_by(&self, piece: usize) -> Vec<usize> {
        let margin = (0.5 * units::mm(OPENING_MM) - self.half_diagonal()).max(0.0);
        let Some(extent) = self.straps.extent(piece) else { return Vec::new() };
        let near = self.about(&extent, margin);
        near.filter(|&at| self.straps.distance(piece, &self.middle(at)) <= margin).collect()
    }

    /// Squares whose middle is no farther than `margin` from an extent, seen from above.
    fn squares(&self, region: &Region, pose: &Pose, margin: f64) -> Vec<usize> {
        let own = corners(region);
        let half_way = own.iter().map(|point| point.z).sum::<f64>() / own.len() as f64;
        let inverse = pose.inverse();
        let height = (pose * Point3::new(0.0, 0.0, half_way)).z;
        let is_near = |at: &usize| {
            let middle = self.middle(*at);
            let mut local = inverse * Point3::new(middle.x, middle.y, height);
            local.z = half_way;
            signed_distance(region, &local) <= margin
        };
        self.about(&on_floor(region, pose), margin).filter(is_near).collect()
    }

    /// Squares about some points, no fewer than those whose middle is no farther than `margin` from their hull.
    fn about(&self, points: &[Point2<f64>], margin: f64) -> impl Iterator<Item = usize> + use<> {
        let none = (Point2::from([f64::INFINITY; 2]), Point2::from([f64::NEG_INFINITY; 2]));
        let (low, high) = points.iter().fold(none, |(low, high), point| (low.inf(point), high.sup(point)));
        let wide = nalgebra::Vector2::repeat(margin + self.square);
        let ([x0, y0], [x1, y1]) = (self.square_of(&(low - wide)), self.square_of(&(high + wide)));
        let (columns, rows) = (self.count[0], if points.is_empty() { y0..y0 } else { y0..y1 + 1 });
        rows.flat_map(move |y| (x0..=x1).map(move |x| y * columns + x))
    }

    fn at(&self, point: &Point2<f64>) -> usize {
        let [x, y] = self.square_of(point);
        y * self.count[0] + x
    }

    /// Column and row of a point, the nearest where it lies beyond the plan.
    fn square_of(&self, point: &Point2<f64>) -> [usize; 2] {
        [0, 1].map(|axis| {
            let step = ((point[axis] - self.low[axis]) / self.square).round();
            // Within the plan: the number is small and not negative.
            step.clamp(0.0, (self.count[axis] - 1) as f64) as usize
        })
    }
}

impl Walked {
    /// Whether somebody gets to any of some squares.
    #[must_use]
    pub fn has_any(&self, squares: &[usize]) -> bool {
        squares.iter().any(|&at| self.0[at])
    }
}

/// The way on which somebody walks deepest into the safeguarded space from outside, past guards and devices as they are drawn; none where they
/// close it, or it is not stated.
#[must_use]
pub fn way_in(cell: &Cell) -> Option<WayIn> {
    let zone = cell.zones.iter().find(|zone| zone.role == ZoneRole::SafeguardedSpace)?;
    let plan = FloorPlan::new(cell);
    let fields = plan.fields();
    let pose = world_from_zone(cell, zone);
    let own = corners(&zone.region);
    let half_way = own.iter().map(|point| point.z).sum::<f64>() / own.len() as f64;
    let depth = |at: usize| {
        let middle = plan.middle(at);
        let mut local = pose.inverse() * Point3::new(middle.x, middle.y, pose.translation.vector.z);
        local.z = half_way;
        -signed_distance(&zone.region, &local)
    };
    let squares = plan.of_zone(cell, zone);
    let deepest = |walked: &Walked| {
        let reached = squares.iter().filter(|&&at| walked.0[at]).map(|&at| (depth(at), plan.middle(at)));
        let deepest = reached.reduce(|most, other| if other.0 > most.0 { other } else { most })?;
        // A fence may be drawn so far inside.
        (deepest.0 > units::mm(OPENING_MM)).then_some(deepest)
    };
    let (depth, at) = deepest(&plan.from_outside(&fields))?;
    let past_meshes = plan.surely_from_outside(&fields);
    let meshes = cell.shapes.iter().filter(|shape| is_fixed(cell, shape) && is_mesh(shape));
    let meshes = meshes.map(|shape| shape.name.clone()).filter(|_| deepest(&past_meshes).is_none());
    Some(WayIn { depth, at, meshes: meshes.collect() })
}

fn on_floor(region: &Region, pose: &Pose) -> Vec<Point2<f64>> {
    corners(region).into_iter().map(|point| (pose * point).xy()).collect()
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cell::Solid;
    use crate::cell::read::{Bundled, read_cell_with};

    const ARM: &[u8] = include_bytes!("../../../scenes/arms/reach-1400.toml");
    const TORCH: &[u8] = include_bytes!("../../../scenes/torches/bent-neck.toml");

    /// A yard of 4 by 2.6 m on a frame that is turned by `turn` degrees, with more in it.
    fn yard(turn: f64, more: &str) -> Cell {
        let text = format!(
            "format = 1\nname = \"yard\"\n[arm]\nfile = \"arm.toml\"\non = \"hall\"\n[torch]\nfile = \"torch.toml\"\n\
             [[fixture]]\nname = \"jig\"\n[[fixture.shape]]\nname = \"part\"\nrole = \"part\"\nkind = \"box\"\nsize_mm = [100, 100, 10]\n\
             [[station]]\nname = \"bench\"\nfixture = \"jig\"\non = \"hall\"\nat_mm = [900, 0, 600]\nload_s = 20\n\
             [[procedure]]\nname = \"fillet\"\nwork_deg = 45\ntravel_deg = 5\nctwd_mm = 15\ntravel_speed_mm_s = 8\n\
             [[seam]]\nname = \"by length\"\nprocedure = \"fillet\"\njoint = \"fillet\"\nlength_mm = 100\n\
             [[frame]]\nname = \"hall\"\nat_mm = [333, -77, 0]\nrotation_zyx_deg = [{turn}, 0, 0]\n\
             [[zone]]\nname = \"inside\"\nrole = \"safeguarded_space\"\nkind = \"box\"\non = \"hall\"\nat_mm = [500, 0, 1000]\n\
             size_mm = [4000, 2600, 2000]\n{}{}{}{more}",
            fence("right", [-1500, -1300], [2500, -1300]),
            fence("rear", [-1500, -1300], [-1500, 1300]),
            fence("front", [2500, -1300], [2500, 1300]),
        );
        let files: [(&str, &[u8]); 3] =
            [("cell.toml", text.as_bytes()), ("arm.toml", ARM), ("torch.toml", TORCH)];
        read_cell_with(Path::new("cell.toml"), &Bundled(&files)).unwrap()
    }

    fn fence(name: &str, from: [i32; 2], to: [i32; 2]) -> String {
        format!(
            "[[zone]]\nname = \"{name}\"\nrole = \"guard\"\nkind = \"field\"\non = \"hall\"\nfrom_mm = [{}, {}, 0]\n\
             to_mm = [{}, {}, 0]\nheight_mm = 2000\n",
            from[0], from[1], to[0], to[1]
        )
    }

    const TURNS: [f64; 8] = [0.0, 12.3, 30.0, 37.0, 45.0, 61.7, 90.0, 123.4];

    /// The left fence in two with a hole between: from 180 mm on people come in, at whatever turn.
    #[test]
    fn a_hole_lets_people_in_at_any_turn_or_at_none() {
        for turn in TURNS {
            for (hole, is_open) in [(170, false), (179, false), (180, true), (181, true), (225, true)] {
                let halves = fence("left", [-1500, 1300], [500, 1300])
                    + &fence("left too", [500 + hole, 1300], [2500, 1300]);
                assert_eq!(way_in(&yard(turn, &halves)).is_some(), is_open, "{hole} mm at {turn}");
            }
        }
    }

    /// A passage between two fences side by side, closed at one end, with the opening at its other end.
    #[test]
    fn a_passage_lets_people_in_at_any_turn_or_at_none() {
        for turn in TURNS {
            for (wide, is_open) in [(175, false), (185, true), (240, true)] {
                let fences = fence("left", [-1500, 1300], [500, 1300])
                    + &fence("outer", [-100, 1300 + wide], [2500, 1300 + wide])
                    + &fence("end", [2500, 1300], [2500, 1300 + wide]);
                assert_eq!(way_in(&yard(turn, &fences)).is_some(), is_open, "{wide} mm at {turn}");
            }
        }
    }

    /// A post in a hole of 400 mm, 60 mm across: 170 mm are left on either side, or 200 mm on one.
    #[test]
    fn a_post_closes_a_hole_where_it_leaves_too_little() {
        for turn in TURNS {
            for (x, is_open) in [(700, false), (730, true)] {
                let post = format!(
                    "[[shape]]\nname = \"post\"\nkind = \"cylinder\"\non = \"hall\"\nat_mm = [{x}, 1300, 600]\nradius_mm = 30\n\
                     height_mm = 1200\n"
                );
                let halves =
                    fence("left", [-1500, 1300], [500, 1300]) + &fence("left too", [900, 1300], [2500, 1300]);
                assert_eq!(way_in(&yard(turn, &(halves + &post))).is_some(), is_open, "{x} mm at {turn}");
            }
        }
    }

    /// Where a mesh may close the hole it is not known.
    #[test]
    fn what_a_mesh_closes_is_not_known() {
        let hole = fence("left", [-1500, 1300], [500, 1300]) + &fence("left too", [900, 1300], [2500, 1300]);
        let way = way_in(&yard(30.0, &hole)).unwrap();
        assert_eq!(way.meshes, Vec::<String>::new());
        let mut cell = yard(
            30.0,
            &(hole
                + "[[shape]]\nname = \"grating\"\nkind = \"box\"\non = \"hall\"\nat_mm = [700, 1300, 600]\nsize_mm = [400, 40, 1200]\n"),
        );
        assert_eq!(way_in(&cell), None);
        let Solid::Box { half } = cell.shapes[0].solid else { panic!("{:?}", cell.shapes) };
        let vertices = (0..8)
            .map(|corner: usize| {
                let side = |axis: usize| if corner >> axis & 1 == 0 { -half[axis] } else { half[axis] };
                Point3::new(side(0), side(1), side(2))
            })
            .collect();
        let mesh = crate::cell::Mesh { vertices, triangles: Vec::new(), closed: true };
        cell.shapes[0].solid = Solid::Mesh(std::sync::Arc::new(mesh));
        assert_eq!(way_in(&cell).unwrap().meshes, ["grating"]);
    }
}
