//! Decides what a plane square to a seam cuts out of the parts that stand around it: lines with the normals of their faces, and which
//! points of the plane lie inside a part.
//!
//! A closed part is cut in closed outlines, so that a point is inside where a ray from it crosses them an odd number of times. Round
//! solids are cut as polygons, their faces keep their true normals.

use std::f64::consts::{FRAC_PI_2, TAU};
use std::sync::Arc;

use nalgebra::{Point2, Point3, Vector2, Vector3};
use seamwright_kinematics::Pose;

use super::shapes::ShapeDraft;
use crate::cell::{Cell, Mesh, Role, Shape, ShapeId, Solid, StationId, mesh};
use crate::units;

/// Triangles that are passed over together where the plane does not come near them.
const BLOCK: usize = 64;

/// How far a polygon may stay inside the round it stands for, mm.
const ROUND_WITHIN_MM: f64 = 0.01;

/// The parts of a fixture, ready to be cut.
pub(super) struct Parts(Vec<Part>);

/// The normals at the three corners of each triangle.
type CornerNormals = Vec<[Vector3<f64>; 3]>;

/// One part as triangles.
struct Part {
    /// Index among the fixture's shapes.
    shape: usize,
    /// `fixture_from_part`.
    pose: Pose,
    mesh: Arc<Mesh>,
    /// Normals at the corners of each triangle, where they are not the triangle's own.
    smooth: Option<CornerNormals>,
    blocks: Vec<Bounds>,
    bounds: Bounds,
}

/// A line cut out of a face, in the plane.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cut {
    pub(super) ends: [Point2<f64>; 2],
    /// Outward normals of the face at the ends, projected to the plane and of length 1.
    pub(super) normals: [Vector2<f64>; 2],
    /// Cosine of the angle between the face and the seam: 1 where the face lies along it, 0 where it ends it.
    pub(super) along: f64,
}

/// What the plane cuts out of one part.
pub(super) struct Outline {
    /// Index among the fixture's shapes.
    pub(super) shape: usize,
    pub(super) cuts: Vec<Cut>,
    closed: bool,
}

/// The plane, and what it cuts out of every part near its origin.
pub(super) struct Section {
    /// The plane's axes in the fixture frame; its origin is the point asked for.
    pub(super) u: Vector3<f64>,
    pub(super) v: Vector3<f64>,
    pub(super) outlines: Vec<Outline>,
}

impl Parts {
    /// The shapes of a fixture that belong to its weldment.
    pub(super) fn new(shapes: &[ShapeDraft]) -> Self {
        let parts = shapes.iter().enumerate().filter(|(_, draft)| draft.role == Role::Part);
        Self(parts.map(|(shape, draft)| Part::new(shape, draft.pose, &draft.solid)).collect())
    }

    /// All parts that lie on a station, in its frame; indices are those of the cell's shapes.
    pub(super) fn on_station(cell: &Cell, station: StationId) -> Self {
        let is_part =
            |(_, shape): &(usize, &Shape)| shape.station == Some(station) && shape.role == Role::Part;
        let parts = cell.shapes.iter().enumerate().filter(is_part);
        Self(parts.map(|(index, shape)| Part::new(index, shape.frame_from_shape, &shape.solid)).collect())
    }

    /// Cuts every part that comes within `reach` of `point` square to `t`; only those of `among`, where that names any.
    pub(super) fn cut(&self, point: &Point3<f64>, t: &Vector3<f64>, reach: f64, among: &[usize]) -> Section {
        let across = if t.x.abs() < 0.7 { Vector3::x() } else { Vector3::y() };
        let u = t.cross(&across).normalize();
        let v = t.cross(&u);
        let wanted = self.0.iter().filter(|part| among.is_empty() || among.contains(&part.shape));
        let outlines = wanted.filter_map(|part| part.cut(point, t, &u, &v, reach)).collect();
        Section { u, v, outlines }
    }

    /// Of the parts but those `shown`, and only of those `among` where that names any, the one whose box comes nearest to a point.
    pub(super) fn nearest_but(
        &self,
        point: &Point3<f64>,
        shown: &[usize],
        among: &[usize],
    ) -> Option<Nearest> {
        let asked =
            |part: &&Part| !shown.contains(&part.shape) && (among.is_empty() || among.contains(&part.shape));
        let off = |part: &Part| part.bounds.distance(&(part.pose.inverse() * point));
        let nearest = self.0.iter().filter(asked).min_by(|a, b| off(a).total_cmp(&off(b)))?;
        let corners: Vec<Point3<f64>> = nearest.mesh.vertices.iter().map(|at| nearest.pose * at).collect();
        let Bounds { low, high } = Bounds::of(corners.iter());
        Some(Nearest { shape: nearest.shape, off: off(nearest), size: high - low })
    }
}

/// The part that comes nearest to a point.
pub(super) struct Nearest {
    pub(super) shape: usize,
    /// How far it is at least, m.
    off: f64,
    /// How far it reaches along the fixture's axes, m.
    size: Vector3<f64>,
}

impl Nearest {
    /// Where it stands seen from the origin of a section, and its size; `is_other` where another part has been told of.
    pub(super) fn in_words(
        &self,
        section: &Section,
        is_other: bool,
        name: &dyn Fn(usize) -> String,
    ) -> String {
        let [x, y, z] = <[f64; 3]>::from(self.size).map(units::to_mm);
        let part = name(self.shape);
        let place = if section.holder(&Point2::origin()) == Some(self.shape) {
            format!("it runs inside `{part}`, which")
        } else if self.off > 0.0 {
            let other = if is_other { "other " } else { "" };
            let off = units::to_mm(self.off);
            format!("the nearest {other}part, `{part}`, is at least {off:.1} mm away and")
        } else {
            format!("`{part}`, which lies about it and not at it,")
        };
        format!("{place} takes up {x:.1} x {y:.1} x {z:.1} mm")
    }
}

/// The part shape of a station that has metal at a point, looked at in the plane square to `t` there.
#[must_use]
pub fn part_at(cell: &Cell, station: StationId, point: &Point3<f64>, t: &Vector3<f64>) -> Option<ShapeId> {
    let section = Parts::on_station(cell, station).cut(point, t, units::mm(1.0), &[]);
    section.holder(&Point2::origin()).map(ShapeId)
}

impl Section {
    /// The shape that holds a point of the plane.
    pub(super) fn holder(&self, point: &Point2<f64>) -> Option<usize> {
        self.outlines.iter().find(|outline| outline.holds(point)).map(|outline| outline.shape)
    }

    /// A direction of the plane in the fixture frame.
    pub(super) fn lift(&self, direction: &Vector2<f64>) -> Vector3<f64> {
        self.u * direction.x + self.v * direction.y
    }

    /// A direction of the fixture frame as seen in the plane.
    pub(super) fn drop(&self, direction: &Vector3<f64>) -> Vector2<f64> {
        Vector2::new(direction.dot(&self.u), direction.dot(&self.v))
    }
}

impl Outline {
    fn holds(&self, point: &Point2<f64>) -> bool {
        let crossed = self.cuts.iter().filter(|cut| {
            let [a, b] = cut.ends;
            (a.x <= point.x) != (b.x <= point.x) && {
                let (low, high) = if a.x <= b.x { (a, b) } else { (b, a) };
                (high - low).perp(&(point - low)) < 0.0
            }
        });
        self.closed && crossed.count() % 2 == 1
    }
}

impl Cut {
    /// The nearest point of the line to the plane's origin.
    pub(super) fn nearest(&self) -> Point2<f64> {
        let [a, b] = self.ends;
        let along = b - a;
        if along.norm_squared() == 0.0 {
            return a;
        }
        a + along * (-a.coords.dot(&along) / along.norm_squared()).clamp(0.0, 1.0)
    }

    /// The face's normal at a point of the line.
    pub(super) fn normal_at(&self, point: &Point2<f64>) -> Vector2<f64> {
        let [a, b] = self.ends;
        let along = b - a;
        let share =
            if along.norm_squared() == 0.0 { 0.5 } else { (point - a).dot(&along) / along.norm_squared() };
        self.normals[0].lerp(&self.normals[1], share).normalize()
    }
}

/// A block with edges along the part's axes.
#[derive(Clone, Copy)]
struct Bounds {
    low: Point3<f64>,
    high: Point3<f64>,
}

impl Bounds {
    fn of<'p>(mut corners: impl Iterator<Item = &'p Point3<f64>>) -> Self {
        let first = corners.next().copied().unwrap_or_default();
        corners.fold(Self { low: first, high: first }, |all, corner| Self {
            low: all.low.inf(corner),
            high: all.high.sup(corner),
        })
    }

    fn distance(&self, point: &Point3<f64>) -> f64 {
        (self.low - point).sup(&(point - self.high)).sup(&Vector3::zeros()).norm()
    }

    /// Whether the plane through `point` square to `t` passes.
    fn is_cut(&self, point: &Point3<f64>, t: &Vector3<f64>) -> bool {
        let half = (self.high - self.low) / 2.0;
        let middle = nalgebra::center(&self.low, &self.high);
        // A little wider, so that rounding skips no triangle whose neighbour is cut.
        (middle - point).dot(t).abs() <= half.dot(&t.abs()) * (1.0 + 1e-9) + 1e-9
    }
}

impl Part {
    fn new(shape: usize, pose: Pose, solid: &Solid) -> Self {
        let (mesh, smooth) = match solid {
            Solid::Mesh(mesh) => (Arc::clone(mesh), None),
            Solid::Box { half } => (Arc::new(block(half)), None),
            Solid::Cylinder { radius, half_height } => round(&bar(*radius, *radius, *half_height)),
            Solid::Frustum { radius_low, radius_high, half_height } => {
                round(&bar(*radius_low, *radius_high, *half_height))
            }
            Solid::Capsule { radius, half_length } => round(&round_ends(*radius, *half_length)),
            Solid::Sphere { radius } => round(&round_ends(*radius, 0.0)),
        };
        let corners = |triangle: &[u32; 3]| triangle.map(|i| &mesh.vertices[i as usize]);
        let blocks =
            mesh.triangles.chunks(BLOCK).map(|block| Bounds::of(block.iter().flat_map(corners))).collect();
        let bounds = Bounds::of(mesh.vertices.iter());
        Self { shape, pose, mesh, smooth, blocks, bounds }
    }

    fn cut(
        &self,
        point: &Point3<f64>,
        t: &Vector3<f64>,
        u: &Vector3<f64>,
        v: &Vector3<f64>,
        reach: f64,
    ) -> Option<Outline> {
        let part_from_fixture = self.pose.inverse();
        let point = part_from_fixture * point;
        let [t, u, v] = [t, u, v].map(|axis| part_from_fixture * axis);
        if self.bounds.distance(&point) > reach {
            return None;
        }
        let plane = Plane { point, t, u, v };
        let blocks = (0..self.blocks.len()).filter(|block| self.blocks[*block].is_cut(&point, &t));
        let triangles =
            blocks.flat_map(|block| block * BLOCK..((block + 1) * BLOCK).min(self.mesh.triangles.len()));
        let cuts = triangles.filter_map(|triangle| self.cut_triangle(triangle, &plane)).collect();
        Some(Outline { shape: self.shape, cuts, closed: self.mesh.closed })
    }

    fn cut_triangle(&self, triangle: usize, plane: &Plane) -> Option<Cut> {
        let ids = self.mesh.triangles[triangle];
        let above = ids.map(|id| (self.mesh.vertices[id as usize] - plane.point).dot(&plane.t));
        // The corner that lies alone on its side; a corner in the plane counts as above it, for all triangles alike.
        let alone = (0..3).find(|i| {
            let side = |k: usize| above[k % 3] >= 0.0;
            side(*i) != side(i + 1) && side(*i) != side(i + 2)
        })?;
        let own = match &self.smooth {
            Some(normals) => normals[triangle],
            None => [mesh::normal(&self.mesh.vertices, &ids)?; 3],
        };
        let mut ends = [(Point2::origin(), Vector2::zeros()); 2];
        for (end, other) in ends.iter_mut().zip([(alone + 1) % 3, (alone + 2) % 3]) {
            // Both triangles of an edge take it from its lower corner, and so find the very same point.
            let (from, to) = if ids[alone] < ids[other] { (alone, other) } else { (other, alone) };
            let share = above[from] / (above[from] - above[to]);
            let [a, b] = [from, to].map(|k| self.mesh.vertices[ids[k] as usize]);
            let at = a + (b - a) * share - plane.point;
            let normal = own[from].lerp(&own[to], share);
            *end = (
                Point2::new(at.dot(&plane.u), at.dot(&plane.v)),
                Vector2::new(normal.dot(&plane.u), normal.dot(&plane.v)),
            );
        }
        let unit = |normal: Vector2<f64>| normal.try_normalize(1e-9).unwrap_or_default();
        Some(Cut {
            ends: ends.map(|end| end.0),
            normals: ends.map(|end| unit(end.1)),
            along: ends[0].1.norm().min(ends[1].1.norm()),
        })
    }
}

/// The plane in a part's frame.
struct Plane {
    point: Point3<f64>,
    t: Vector3<f64>,
    u: Vector3<f64>,
    v: Vector3<f64>,
}

fn block(half: &Vector3<f64>) -> Mesh {
    let corner = |index: u32| {
        Point3::from(Vector3::from_fn(|k, _| if index >> k & 1 == 0 { -half[k] } else { half[k] }))
    };
    let faces = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    Mesh {
        vertices: (0..8).map(corner).collect(),
        triangles: faces.iter().flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]).collect(),
        closed: true,
    }
}

/// A stretch of the line that a round solid's surface is turned from: radius, height, and the normal there.
type Profile = Vec<[(f64, f64, [f64; 2]); 2]>;

fn bar(low: f64, high: f64, half: f64) -> Profile {
    let slope = Vector2::new(2.0 * half, low - high).normalize();
    vec![
        [(0.0, -half, [0.0, -1.0]), (low, -half, [0.0, -1.0])],
        [(low, -half, slope.into()), (high, half, slope.into())],
        [(high, half, [0.0, 1.0]), (0.0, half, [0.0, 1.0])],
    ]
}

fn round_ends(radius: f64, half: f64) -> Profile {
    let steps = sides(radius) / 4 + 1;
    let at = |step: usize, end: f64| {
        // Exactly on the axis at the poles.
        let (sin, cos) =
            if step == steps { (1.0, 0.0) } else { (FRAC_PI_2 * step as f64 / steps as f64).sin_cos() };
        (radius * cos, end * (half + radius * sin), [cos, end * sin])
    };
    let low = (0..steps).map(|step| [at(steps - step, -1.0), at(steps - step - 1, -1.0)]);
    let high = (0..steps).map(|step| [at(step, 1.0), at(step + 1, 1.0)]);
    let middle = (half > 0.0).then(|| [at(0, -1.0), at(0, 1.0)]);
    low.chain(middle).chain(high).collect()
}

/// Sides of the polygon that stands for a round.
fn sides(radius: f64) -> usize {
    let half_angle = (1.0 - units::mm(ROUND_WITHIN_MM) / radius).clamp(-1.0, 1.0).acos();
    ((TAU / 2.0 / half_angle).ceil() as usize).clamp(24, 720).next_multiple_of(4)
}

/// Corners around z at one height; a single one on the axis itself.
struct Ring {
    radius: f64,
    height: f64,
    first: u32,
}

/// Turns a profile about z.
fn round(profile: &Profile) -> (Arc<Mesh>, Option<CornerNormals>) {
    let count = sides(profile.iter().flatten().map(|at| at.0).fold(0.0, f64::max)) as u32;
    let turn = |side: u32| (TAU * f64::from(side % count) / f64::from(count)).sin_cos();
    let mut rings: Vec<Ring> = Vec::new();
    let mut mesh = Mesh { vertices: Vec::new(), triangles: Vec::new(), closed: true };
    let mut normals = Vec::new();
    for stretch in profile {
        // Rings are shared by the stretches that meet in them, so that the surface stays closed.
        let ring = stretch.map(|(radius, height, _)| {
            rings.iter().position(|ring| (ring.radius, ring.height) == (radius, height)).unwrap_or_else(
                || {
                    rings.push(Ring { radius, height, first: mesh.vertices.len() as u32 });
                    mesh.vertices.extend((0..if radius > 0.0 { count } else { 1 }).map(|side| {
                        let (sin, cos) = turn(side);
                        Point3::new(radius * cos, radius * sin, height)
                    }));
                    rings.len() - 1
                },
            )
        });
        for side in 0..count {
            let corner = |end: usize, side: u32| {
                let Ring { radius, first, .. } = rings[ring[end]];
                let [out, up] = stretch[end].2;
                let (sin, cos) = turn(side);
                let id = if radius > 0.0 { first + side % count } else { first };
                (id, Vector3::new(out * cos, out * sin, up))
            };
            let [a, b, c, d] = [corner(0, side), corner(0, side + 1), corner(1, side + 1), corner(1, side)];
            for triangle in [[a, b, c], [a, c, d]] {
                let ids = triangle.map(|corner| corner.0);
                if ids[0] != ids[1] && ids[1] != ids[2] && ids[2] != ids[0] {
                    mesh.triangles.push(ids);
                    normals.push(triangle.map(|corner| corner.1));
                }
            }
        }
    }
    (Arc::new(mesh), Some(normals))
}
