//! Decides which two faces meet at a point of a seam, and which of them is the reference.
//!
//! Seen in the plane square to the seam ([`super::section`]), two faces make an inside corner where each goes on from their common
//! corner to the open side of the other, an outside corner where each ends there, and a butt where they face the same way on either
//! side of the seam. All of the space between them must be free of every part. Of several such pairs the one whose corner lies nearest
//! to the seam counts, and if others are as near and differ, none does.

use nalgebra::{Point2, Point3, Rotation2, Vector2, Vector3};

use super::section::{Cut, Parts, Section};
use crate::cell::Joint;
use crate::units;

/// How near a face must be to the seam, mm.
const MEETS_MM: f64 = 1.0;
/// How far a face must go on to count as going on, mm.
const GOES_ON_MM: f64 = 0.3;
/// How far from the corner the space between two faces is probed, mm.
const PROBE_MM: f64 = 0.25;
/// Corners whose distances from the seam differ by less than this are equally near, mm.
const AS_NEAR_MM: f64 = 0.2;
/// How much of a part around the seam is looked at, mm.
const AROUND_MM: f64 = 3.0;
/// How far off the seam the open side is probed for normals given by hand, mm.
const HAND_PROBE_MM: f64 = 1.5;

/// Neighbouring pieces of a surface that turn by less than this are one face: the facets of a round tube with 15 sides or more.
const ONE_FACE_DEG: f64 = 25.0;
/// Faces that differ by less than this face the same way.
const SAME_WAY_DEG: f64 = 12.0;
/// A face counts as a member of the joint while it lies along the seam to within this.
const ALONG_SEAM_DEG: f64 = 30.0;
/// How far a stated reference normal may be off the face that is meant.
const MEANT_DEG: f64 = 20.0;

/// The faces that meet at a seam point, in the fixture's frame.
#[derive(Clone, Debug)]
pub(super) struct Met {
    /// Outward normals, square to the seam; the reference face's first.
    pub(super) normals: [Vector3<f64>; 2],
    /// The fixture's shapes that they belong to.
    pub(super) shapes: [usize; 2],
    /// Whether it was clear from the faces, or from what was asked, that the first is the reference.
    pub(super) reference_is_sure: bool,
}

/// What the file says of a seam's faces.
pub(super) struct Wanted<'w> {
    pub(super) joint: Joint,
    /// The shapes the reference face may belong to; empty where not said.
    pub(super) reference: &'w [usize],
    /// The reference face's normal, where stated.
    pub(super) n1: Option<Vector3<f64>>,
    /// The shapes the joint is made of; empty where not said.
    pub(super) among: &'w [usize],
}

/// Why no two faces are taken at a point of a seam.
pub(super) struct NotMet {
    /// What is found instead.
    pub(super) wrong: String,
    pub(super) blamed: Blamed,
}

/// What of the file is wrong where no two faces are taken.
pub(super) enum Blamed {
    /// The line, or where the shape stands that comes nearest without meeting it.
    Line { nearest: Option<usize> },
    /// The parts that are said to make the joint: with one that they leave out there is one.
    Joins,
    /// Two faces meet, but neither is the reference that this key asks for.
    Reference { key: &'static str },
    /// Two faces meet, the part that is named has one of them and the stated normal is the other's.
    TwoReferences,
}

/// Two normals that face the same way, so that the open side is not told by the second.
pub(super) fn same_way(a: &Vector3<f64>, b: &Vector3<f64>) -> bool {
    a.angle(b) < units::deg(SAME_WAY_DEG)
}

/// The faces that meet at `point` of a seam that runs along `t`.
pub(super) fn met(
    parts: &Parts,
    point: &Point3<f64>,
    t: &Vector3<f64>,
    wanted: &Wanted<'_>,
    name: &dyn Fn(usize) -> String,
) -> Result<Met, NotMet> {
    let section = parts.cut(point, t, units::mm(AROUND_MM), wanted.among);
    let faces = faces(&section);
    let pairs = nearest_pairs(&section, &faces, wanted.joint);
    let Some(pair) = pairs.first() else {
        let wrong = nothing_found(&section, &faces, wanted.joint, name);
        if let Some(left_out) = left_out(parts, point, t, wanted) {
            let wrong = format!(
                "{wrong}; `{}` has a face of the joint here, and joins leaves it out",
                name(left_out)
            );
            return Err(NotMet { wrong, blamed: Blamed::Joins });
        }
        let shown: Vec<usize> = faces.iter().map(|face| face.shape).collect();
        let nearest = parts.nearest_but(point, &shown, wanted.among);
        let wrong = match &nearest {
            Some(nearest) => format!("{wrong}; {}", nearest.in_words(&section, !shown.is_empty(), name)),
            None => wrong,
        };
        return Err(NotMet { wrong, blamed: Blamed::Line { nearest: nearest.map(|nearest| nearest.shape) } });
    };
    if let Some(other) = pairs.iter().find(|other| !pair.alike(other)) {
        let wrong = format!(
            "two pairs of faces meet here, {} and {}",
            pair.in_words(&section, name),
            other.in_words(&section, name)
        );
        return Err(NotMet { wrong, blamed: Blamed::Line { nearest: None } });
    }
    let (swapped, reference_is_sure) = reference(&section, pair, wanted, name)?;
    let [a, b] = if swapped { [pair.b, pair.a] } else { [pair.a, pair.b] };
    Ok(Met {
        normals: [a, b].map(|face| section.lift(&face.normal)),
        shapes: [a.shape, b.shape],
        reference_is_sure,
    })
}

/// The pairs of faces that make the joint and whose corners lie nearest to the seam.
fn nearest_pairs<'f>(section: &Section, faces: &'f [Face], joint: Joint) -> Vec<Pair<'f>> {
    let mut pairs: Vec<Pair<'_>> = Vec::new();
    for (index, a) in faces.iter().enumerate() {
        for b in &faces[index + 1..] {
            pairs.extend(Pair::of(section, joint, a, b));
        }
    }
    let nearest = pairs.iter().map(|pair| pair.off).fold(f64::INFINITY, f64::min);
    pairs.retain(|pair| pair.off <= nearest + units::mm(AS_NEAR_MM));
    pairs
}

/// The part that makes the joint here with others, and is not among those that the file says make it.
fn left_out(parts: &Parts, point: &Point3<f64>, t: &Vector3<f64>, wanted: &Wanted<'_>) -> Option<usize> {
    let section = parts.cut(point, t, units::mm(AROUND_MM), &[]);
    let faces = faces(&section);
    let pairs = nearest_pairs(&section, &faces, wanted.joint);
    let joined = pairs.iter().flat_map(|pair| [pair.a.shape, pair.b.shape]);
    (!wanted.among.is_empty()).then(|| joined.into_iter().find(|shape| !wanted.among.contains(shape)))?
}

/// The part that normals given by hand contradict at `point`, where they do: a face there has the stated normal, and no part that is named
/// as the reference has one.
pub(super) fn other_reference(
    parts: &Parts,
    point: &Point3<f64>,
    t: &Vector3<f64>,
    n1: &Vector3<f64>,
    reference: &[usize],
) -> Option<usize> {
    let section = parts.cut(point, t, units::mm(AROUND_MM), &[]);
    let faces = faces(&section);
    let mut meant = faces.iter().filter(|face| face.is_meant_by(&section, n1)).map(|face| face.shape);
    let first = meant.next()?;
    (!reference.contains(&first) && !meant.any(|shape| reference.contains(&shape))).then_some(first)
}

/// Whether there is something to weld at `point` along a seam that runs along `t`: within a millimetre of it faces of two parts, or two of one that make
/// the joint; of the parts `among` alone, where said.
pub(super) fn is_joint(
    parts: &Parts,
    point: &Point3<f64>,
    t: &Vector3<f64>,
    joint: Joint,
    among: &[usize],
) -> bool {
    let section = parts.cut(point, t, units::mm(AROUND_MM), among);
    let faces = faces(&section);
    let pairs =
        faces.iter().enumerate().flat_map(|(index, a)| faces[index + 1..].iter().map(move |b| (a, b)));
    let mut pairs = pairs.filter(|(a, b)| a.shape != b.shape || Pair::of(&section, joint, a, b).is_some());
    pairs.next().is_some()
}

/// The parts within a millimetre of `point`.
pub(super) fn near(parts: &Parts, point: &Point3<f64>, t: &Vector3<f64>) -> Vec<usize> {
    let section = parts.cut(point, t, units::mm(MEETS_MM), &[]);
    let near = |cut: &Cut| cut.nearest().coords.norm() <= units::mm(MEETS_MM);
    let mut shapes: Vec<usize> = section
        .outlines
        .iter()
        .filter(|outline| outline.cuts.iter().any(near))
        .map(|outline| outline.shape)
        .collect();
    shapes.extend(section.holder(&Point2::origin()));
    shapes
}

/// The part into which normals given by hand point, if they do: a little off the seam, halfway between them, must be free space.
pub(super) fn buried(
    parts: &Parts,
    point: &Point3<f64>,
    t: &Vector3<f64>,
    open_side: &Vector3<f64>,
) -> Option<usize> {
    let section = parts.cut(point, t, units::mm(AROUND_MM), &[]);
    let probe = section.drop(open_side).try_normalize(1e-9)? * units::mm(HAND_PROBE_MM);
    section.holder(&Point2::from(probe))
}

/// A face of a part near the seam, as cut by the plane.
#[derive(Debug)]
struct Face {
    shape: usize,
    cuts: Vec<Cut>,
    nearest: Point2<f64>,
    normal: Vector2<f64>,
}

impl Face {
    /// Least and greatest distance from `origin` at which it lies in `direction`.
    fn extent(&self, origin: &Point2<f64>, direction: &Vector2<f64>) -> (f64, f64) {
        let ends = self.cuts.iter().flat_map(|cut| cut.ends);
        ends.map(|end| (end - origin).dot(direction))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)))
    }

    /// Whether it begins near `origin` and goes on from there in `direction`.
    fn goes_on(&self, origin: &Point2<f64>, direction: &Vector2<f64>) -> bool {
        let (low, high) = self.extent(origin, direction);
        low <= units::mm(MEETS_MM) && high >= low.max(0.0) + units::mm(GOES_ON_MM)
    }

    /// Whether a stated reference normal is its own.
    fn is_meant_by(&self, section: &Section, n1: &Vector3<f64>) -> bool {
        section.lift(&self.normal).angle(n1) < units::deg(MEANT_DEG)
    }

    fn in_words(&self, section: &Section, name: &dyn Fn(usize) -> String) -> String {
        // Adding zero turns −0 into 0.
        let [x, y, z] =
            <[f64; 3]>::from(section.lift(&self.normal)).map(|x| (x * 100.0).round() / 100.0 + 0.0);
        format!("`{}` facing [{x}, {y}, {z}]", name(self.shape))
    }
}

/// The faces that lie along the seam within [`MEETS_MM`] of it.
fn faces(section: &Section) -> Vec<Face> {
    let mut faces = Vec::new();
    for outline in &section.outlines {
        let around = |cut: &&Cut| {
            cut.along >= units::deg(ALONG_SEAM_DEG).cos()
                && cut.nearest().coords.norm() <= units::mm(AROUND_MM)
        };
        let cuts: Vec<Cut> = outline.cuts.iter().filter(around).copied().collect();
        for cuts in runs(cuts) {
            let off = |cut: &Cut| cut.nearest().coords.norm();
            let least = cuts.iter().map(off).fold(f64::INFINITY, f64::min);
            if least > units::mm(MEETS_MM) {
                continue;
            }
            // Where two facets are as near, their common normal counts.
            let as_near: Vec<&Cut> = cuts.iter().filter(|cut| off(cut) <= least + 1e-7).collect();
            let nearest = as_near[0].nearest();
            let normal: Vector2<f64> = as_near.iter().map(|cut| cut.normal_at(&nearest)).sum();
            if let Some(normal) = normal.try_normalize(1e-6) {
                faces.push(Face { shape: outline.shape, cuts, nearest, normal });
            }
        }
    }
    faces
}

/// Sorts cuts into faces: lines that share an end and hardly turn there.
fn runs(cuts: Vec<Cut>) -> Vec<Vec<Cut>> {
    // Lines of zero length have no normal of their own to speak of, but they hold their neighbours together.
    let mut ends: Vec<([u64; 2], usize)> = cuts
        .iter()
        .enumerate()
        .flat_map(|(index, cut)| cut.ends.map(|end| ([end.x + 0.0, end.y + 0.0].map(f64::to_bits), index)))
        .collect();
    ends.sort_unstable();
    let mut head: Vec<usize> = (0..cuts.len()).collect();
    let find = |head: &mut Vec<usize>, mut index: usize| {
        while head[index] != index {
            head[index] = head[head[index]];
            index = head[index];
        }
        index
    };
    for met in ends.chunk_by(|a, b| a.0 == b.0) {
        for pair in met.windows(2) {
            let (a, b) = (pair[0].1, pair[1].1);
            let at = Point2::from(pair[0].0.map(f64::from_bits));
            if cuts[a].normal_at(&at).angle(&cuts[b].normal_at(&at)) < units::deg(ONE_FACE_DEG) {
                let (a, b) = (find(&mut head, a), find(&mut head, b));
                head[a.max(b)] = a.min(b);
            }
        }
    }
    let mut runs: Vec<(usize, Vec<Cut>)> = Vec::new();
    for (index, cut) in cuts.into_iter().enumerate() {
        let head = find(&mut head, index);
        match runs.iter_mut().find(|(known, _)| *known == head) {
            Some((_, run)) => run.push(cut),
            None => runs.push((head, vec![cut])),
        }
    }
    runs.into_iter().map(|(_, run)| run).collect()
}

/// Two faces that make the joint.
struct Pair<'f> {
    a: &'f Face,
    b: &'f Face,
    /// How far their corner lies from the seam, m.
    off: f64,
    /// Whether each goes on beyond the corner, away from the open side.
    goes_beyond: [bool; 2],
}

impl<'f> Pair<'f> {
    fn of(section: &Section, joint: Joint, a: &'f Face, b: &'f Face) -> Option<Self> {
        let angle = a.normal.angle(&b.normal);
        if angle < units::deg(SAME_WAY_DEG) {
            return if matches!(joint, Joint::Butt | Joint::Corner) {
                Self::flush(section, a, b)
            } else {
                None
            };
        }
        if joint == Joint::Butt || angle > units::deg(180.0 - SAME_WAY_DEG) {
            return None;
        }
        let inside = Self::corner(section, a, b, 1.0);
        if joint == Joint::Corner { inside.or_else(|| Self::corner(section, a, b, -1.0)) } else { inside }
    }

    /// Two faces at an angle; `sense` is 1 for an inside corner, −1 for an outside one.
    fn corner(section: &Section, a: &'f Face, b: &'f Face, sense: f64) -> Option<Self> {
        let corner = crossing(a, b)?;
        let toward_open = |of: &Face, other: &Face| {
            (other.normal - of.normal * other.normal.dot(&of.normal)).normalize() * sense
        };
        let (along_a, along_b) = (toward_open(a, b), toward_open(b, a));
        if !a.goes_on(&corner, &along_a) || !b.goes_on(&corner, &along_b) {
            return None;
        }
        let beyond = units::mm(MEETS_MM + GOES_ON_MM);
        let goes_beyond = [a.extent(&corner, &-along_a).1 > beyond, b.extent(&corner, &-along_b).1 > beyond];
        if sense < 0.0 && (goes_beyond[0] || goes_beyond[1]) {
            return None;
        }
        let open = std::f64::consts::PI - sense * a.normal.angle(&b.normal);
        let pair = Self { a, b, off: corner.coords.norm(), goes_beyond };
        is_free(section, &corner, &along_a, &a.normal, [0.0, open]).then_some(pair)
    }

    /// Two faces in one surface, on either side of the seam.
    fn flush(section: &Section, a: &'f Face, b: &'f Face) -> Option<Self> {
        let normal = (a.normal + b.normal).normalize();
        let across = Rotation2::new(std::f64::consts::FRAC_PI_2) * normal;
        let seam = Point2::origin();
        let lies = |face: &Face, direction: Vector2<f64>| {
            face.goes_on(&seam, &direction) && face.extent(&seam, &-direction).1 <= units::mm(MEETS_MM)
        };
        if !(lies(a, across) && lies(b, -across) || lies(a, -across) && lies(b, across)) {
            return None;
        }
        let heights = [a, b].map(|face| face.nearest.coords.dot(&normal));
        let top = Point2::from(normal * heights[0].max(heights[1]));
        let sixth = std::f64::consts::PI / 6.0;
        let pair =
            Self { a, b, off: a.nearest.coords.norm().max(b.nearest.coords.norm()), goes_beyond: [false; 2] };
        is_free(section, &top, &across, &normal, [sixth, 5.0 * sixth]).then_some(pair)
    }

    /// Whether both pairs have the same normals, whatever parts they belong to.
    fn alike(&self, other: &Self) -> bool {
        let alike = |x: &Face, y: &Face| x.normal.angle(&y.normal) < units::deg(SAME_WAY_DEG);
        alike(self.a, other.a) && alike(self.b, other.b) || alike(self.a, other.b) && alike(self.b, other.a)
    }

    fn in_words(&self, section: &Section, name: &dyn Fn(usize) -> String) -> String {
        format!("{} with {}", self.a.in_words(section, name), self.b.in_words(section, name))
    }
}

/// Where the surfaces of two faces cross.
fn crossing(a: &Face, b: &Face) -> Option<Point2<f64>> {
    let rows = nalgebra::Matrix2::from_rows(&[a.normal.transpose(), b.normal.transpose()]);
    let right = Vector2::new(a.normal.dot(&a.nearest.coords), b.normal.dot(&b.nearest.coords));
    rows.lu().solve(&right).map(Point2::from)
}

/// Whether no part is met on the way round `corner` from the direction `along` a face over its `normal`, between two angles (rad).
fn is_free(
    section: &Section,
    corner: &Point2<f64>,
    along: &Vector2<f64>,
    normal: &Vector2<f64>,
    [from, to]: [f64; 2],
) -> bool {
    const PROBES: usize = 8;
    (1..PROBES).all(|probe| {
        let angle = from + (to - from) * probe as f64 / PROBES as f64;
        let direction = along * angle.cos() + normal * angle.sin();
        section.holder(&(corner + direction * units::mm(PROBE_MM))).is_none()
    })
}

/// Whether the second face is the reference, and whether that is sure.
fn reference(
    section: &Section,
    pair: &Pair<'_>,
    wanted: &Wanted<'_>,
    name: &dyn Fn(usize) -> String,
) -> Result<(bool, bool), NotMet> {
    let faces = [pair.a, pair.b];
    let is_named = faces.map(|face| wanted.reference.is_empty() || wanted.reference.contains(&face.shape));
    let is_meant = faces.map(|face| wanted.n1.is_none_or(|n1| face.is_meant_by(section, &n1)));
    match [0, 1].map(|face| is_named[face] && is_meant[face]) {
        [true, false] => Ok((false, true)),
        [false, true] => Ok((true, true)),
        [false, false] => {
            let key = if is_named == [false; 2] { "reference" } else { "n1" };
            if is_named != [false; 2] && is_meant != [false; 2] {
                let [named, meant] = [is_named, is_meant].map(|is| faces[usize::from(!is[0])]);
                let wrong = format!(
                    "two references are stated: reference names {}, and n1 is the normal of {}",
                    named.in_words(section, name),
                    meant.in_words(section, name)
                );
                return Err(NotMet { wrong, blamed: Blamed::TwoReferences });
            }
            let wrong =
                format!("neither of the faces that meet here is that one: {}", pair.in_words(section, name));
            Err(NotMet { wrong, blamed: Blamed::Reference { key } })
        }
        // The member that is not butted is the one whose face goes on beyond the seam.
        [true, true] => match pair.goes_beyond {
            [true, false] => Ok((false, true)),
            [false, true] => Ok((true, true)),
            _ => Ok((false, false)),
        },
    }
}

fn nothing_found(section: &Section, faces: &[Face], joint: Joint, name: &dyn Fn(usize) -> String) -> String {
    let joint = match joint {
        Joint::Fillet => "the inside corner of a fillet",
        Joint::Lap => "the step of a lap",
        Joint::Butt => "one surface on both sides of a butt",
        Joint::Corner => "a corner",
    };
    match faces {
        [] => "no face of a part lies within 1 mm of it".to_owned(),
        [face] => format!("only one face of a part lies within 1 mm of it: {}", face.in_words(section, name)),
        several => {
            let listed: Vec<String> =
                several.iter().take(6).map(|face| face.in_words(section, name)).collect();
            format!("no two of the faces within 1 mm of it make {joint}: {}", listed.join(", "))
        }
    }
}
