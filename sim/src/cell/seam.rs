//! Decides what a seam is: the root line as drawn, the faces that meet there, and how it is to be welded.
//!
//! Seam frame at arc length `s`: `t` along travel, `n1` outward normal of the reference face, `b` = the other face's
//! normal made square to `n1` and `t` (butt: `n1 × t` in the drawn direction). All in the frame of the seam's station.

use nalgebra::{Point3, Rotation3, Unit, UnitQuaternion, Vector3};

use super::{
    GivenWay, Offset, Procedure, SearchedFace, Sequence, ShapeId, StationId, Tacks, TouchSearch,
    frames::{AxisUse, ExternalValues},
};

/// Index of a seam in `Cell::seams`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SeamId(pub usize);

/// By so much beyond a corner the line still is on the piece that ends there, m: lengths added up in another order are rounded
/// another way.
const AT_CORNER: f64 = 1e-9;

/// How the members meet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Joint {
    /// Two faces at an angle, weld in the inside corner.
    Fillet,
    /// One plate on another, weld along the upper one's edge.
    Lap,
    /// Edge to edge in one surface.
    Butt,
    /// Two faces at an angle, weld on the outside.
    Corner,
}

impl Joint {
    /// The word for it in files.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Fillet => "fillet",
            Self::Lap => "lap",
            Self::Butt => "butt",
            Self::Corner => "corner",
        }
    }
}

/// One seam on one station.
#[derive(Clone, Debug)]
pub struct Seam {
    /// Name in the file, with the copy's number where the fixture is repeated.
    pub name: String,
    /// Name in the file.
    pub drawn_as: String,
    /// The station it is welded on.
    pub station: StationId,
    /// How its members meet.
    pub joint: Joint,
    /// The procedure with the seam's own changes applied.
    pub procedure: Procedure,
    /// Where it lies; `None` for a seam given by its length only (timed, not planned).
    pub path: Option<SeamPath>,
    /// Length as drawn, m (a closed seam once round).
    pub drawn_length: f64,
    /// Stretches along the path where the arc is on, m from the start of travel, in order, not overlapping; leads reach beyond it.
    /// A seam without a path has them as lengths alone.
    pub runs: Vec<Run>,
    /// Its tacks, where they are stated.
    pub tacks: Option<Tacks>,
    /// Points that were taught for it, which are then proven as they stand.
    pub taught: Option<GivenWay>,
    /// Touch searches before it is welded.
    pub searches: Vec<TouchSearch>,
    /// Which faces were searched for it at which arc length (m), before an earlier pass or before this one.
    pub searched: Vec<(SearchedFace, f64)>,
    /// The part shapes that meet at the seam.
    pub joined: Vec<ShapeId>,
    /// Those of them whose face is the reference, where that is known.
    pub reference: Vec<ShapeId>,
    /// Over how much of its line, from its start and from its end along travel, no two faces of parts lie within 1 mm of it, m: there it
    /// runs past the joint; negative where the joint goes on beyond that end. `None` where there are none near it anywhere, nothing of a closed line and of one given by its length.
    pub past_joint: Option<[f64; 2]>,
    /// External axes while it is welded: of one that is chosen or coordinated, the value that the file states first.
    pub external: ExternalValues,
    /// What each external axis does while it is welded.
    pub axis_uses: Vec<AxisUse>,
    /// Direction in which the torch leaves and comes, in the station frame; `None` for along the torch.
    pub approach: Option<Unit<Vector3<f64>>>,
    /// Which of the file's seams it is, from 0: the same on every station and copy, and in every pass.
    pub row: usize,
    /// Whether its file says `reversed`.
    pub reversed: bool,
    /// Its path if the file said otherwise. Runs are counted along travel, so they are the same either way.
    pub other_way: Option<SeamPath>,
    /// Which pass it is, from 1; each is a seam of its own, right after the one before. 0 for tacks that the arm sets.
    pub pass: u32,
    /// Which copy of its fixture on its station it belongs to, from 0.
    pub copy: usize,
    /// How many of its station's openings of clamps come before it.
    pub openings: usize,
    /// What binds when it is welded, and which way.
    pub sequence: Sequence,
}

impl Seam {
    /// Metres of weld: the sum of all runs.
    #[must_use]
    pub fn weld_length(&self) -> f64 {
        self.runs.iter().map(Run::length).sum()
    }

    /// How far its weld runs past the joint at its start and at its end, m; not told where no joint is drawn at all.
    #[must_use]
    pub fn welded_past_joint(&self) -> [f64; 2] {
        let (Some(path), Some(past)) = (&self.path, &self.past_joint) else { return [0.0; 2] };
        let (Some(first), Some(last)) = (self.runs.first(), self.runs.last()) else { return [0.0; 2] };
        let insets = [first.start, path.length() - last.end];
        [0, 1].map(|end| (past[end] - insets[end]).max(0.0))
    }
}

/// A stretch of a seam with the arc on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Arc length at its start, m.
    pub start: f64,
    /// Arc length at its end, m.
    pub end: f64,
}

impl Run {
    /// Metres of weld.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.end - self.start
    }
}

/// A straight or round piece of a seam, with the face normals at its start.
#[derive(Clone, Debug)]
pub struct Piece {
    /// Where it starts.
    pub start: Point3<f64>,
    /// Straight or round.
    pub form: Form,
    /// Outward normal of the reference face at the start.
    pub n1: Unit<Vector3<f64>>,
    /// Unit vector from the root toward the open side at the start, square to `n1` and to travel.
    pub b: Unit<Vector3<f64>>,
    /// How far the outward normal of the other member's face is turned from `b` toward `n1`, rad: 0 where the faces stand square to each
    /// other, and of a butt.
    pub lean: f64,
}

/// The form of a piece.
#[derive(Clone, Debug)]
pub enum Form {
    /// Straight to `end`.
    Line {
        /// Where it ends; never the start.
        end: Point3<f64>,
    },
    /// Round about an axis; the face normals turn with it.
    Arc {
        /// Centre.
        centre: Point3<f64>,
        /// Right-handed turning direction.
        axis: Unit<Vector3<f64>>,
        /// Angle from start to end, rad, above 0; above 2π where a closed seam overlaps itself.
        sweep: f64,
    },
}

/// A seam's root line in the direction of travel.
#[derive(Clone, Debug)]
pub struct SeamPath {
    /// Pieces end to end, at least one.
    pub pieces: Vec<Piece>,
    /// Half the length of the zone in which the torch turns through a corner between two pieces, m.
    pub corner_zone: f64,
    /// How far it goes on before its start and beyond its end, m: where arc lengths are below 0 and above its length.
    pub reach: [f64; 2],
    /// Where the wire end goes beside the root; arc lengths stay those of the root.
    pub offset: Offset,
}

/// A stretch in which the torch turns through a corner between two pieces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CornerZone {
    /// Arc length where the turn begins, m.
    pub from: f64,
    /// Arc length of the corner itself, m.
    pub at: f64,
    /// Arc length where the turn ends, m.
    pub to: f64,
    /// Angle turned, rad.
    pub angle: f64,
}

/// A point that the wire end goes through, with its seam frame, in the station frame.
#[derive(Clone, Copy, Debug)]
pub struct SeamPoint {
    /// On the root line, exactly, or beside it by the offset of the pass.
    pub point: Point3<f64>,
    /// Unit vector along travel; turns smoothly inside corner zones.
    pub t: Vector3<f64>,
    /// Outward normal of the reference face.
    pub n1: Vector3<f64>,
    /// Toward the open side, square to `n1` and `t`.
    pub b: Vector3<f64>,
    /// Outward normal of the other member's face; of a butt `b`.
    pub n2: Vector3<f64>,
    /// Whether it lies inside a corner zone, where the angle tolerance is waived.
    pub in_corner: bool,
}

/// A path whose ends are this near to each other is closed, m.
const CLOSED_WITHIN: f64 = 1e-6;

/// Corners flatter than this are no corners: the torch turns through them too, but inside its angle tolerance.
const CORNER_FROM: f64 = 0.0175; // 1 degree, rad

impl Form {
    /// Arc length of a piece of this form that begins at `start`, m.
    #[must_use]
    pub fn length_from(&self, start: &Point3<f64>) -> f64 {
        match self {
            Self::Line { end } => (end - start).norm(),
            Self::Arc { centre, axis, sweep } => {
                let radius = start - centre;
                (radius - axis.into_inner() * radius.dot(axis)).norm() * sweep
            }
        }
    }
}

impl Piece {
    /// Arc length, m.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.form.length_from(&self.start)
    }

    /// Angle the seam frame turns over `length` of this piece, rad.
    fn turn_over(&self, length: f64) -> f64 {
        match &self.form {
            Form::Line { .. } => 0.0,
            Form::Arc { sweep, .. } => sweep * length / self.length(),
        }
    }

    fn at(&self, s: f64) -> SeamPoint {
        let n2 = self.b.into_inner() * self.lean.cos() + self.n1.into_inner() * self.lean.sin();
        match &self.form {
            Form::Line { end } => {
                let t = (end - self.start).normalize();
                SeamPoint {
                    point: self.start + t * s,
                    t,
                    n1: self.n1.into_inner(),
                    b: self.b.into_inner(),
                    n2,
                    in_corner: false,
                }
            }
            Form::Arc { centre, axis, sweep } => {
                let turn = Rotation3::from_axis_angle(axis, sweep * s / self.length());
                let from_centre = turn * (self.start - centre);
                SeamPoint {
                    point: centre + from_centre,
                    t: axis.cross(&from_centre).normalize(),
                    n1: turn * self.n1.into_inner(),
                    b: turn * self.b.into_inner(),
                    n2: turn * n2,
                    in_corner: false,
                }
            }
        }
    }
}

impl SeamPath {
    /// Arc length of the whole path, m.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.pieces.iter().map(Piece::length).sum()
    }

    /// The zones in which the torch turns through a corner, in order.
    #[must_use]
    pub fn corner_zones(&self) -> Vec<CornerZone> {
        let mut at = 0.0;
        let mut zones = Vec::new();
        for (index, pair) in self.pieces.windows(2).enumerate() {
            at += pair[0].length();
            let angle = self.corner_turn(index).angle();
            let half = self.half_zone(index);
            if angle > CORNER_FROM {
                zones.push(CornerZone { from: at - half, at, to: at + half, angle });
            }
        }
        zones
    }

    /// Arc lengths from `from` to `to` (both included, m) so close that between two of them the torch advances at most
    /// `step` (m) and the seam frame turns at most `turn` (rad); piece ends and corner zones are always among them.
    #[must_use]
    pub fn samples(&self, from: f64, to: f64, step: f64, turn: f64) -> Vec<f64> {
        let mut marks = vec![from, to];
        let mut end = 0.0;
        for piece in &self.pieces {
            marks.push(end);
            end += piece.length();
        }
        for zone in self.corner_zones() {
            marks.extend([zone.from, zone.to]);
        }
        marks.retain(|s| (from..=to).contains(s));
        marks.sort_by(f64::total_cmp);
        marks.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        let mut samples = vec![from];
        for pair in marks.windows(2) {
            let length = pair[1] - pair[0];
            let turned =
                turn_between(&self.at(pair[0] + length * 1e-6), &self.at(pair[1] - length * 1e-6)).angle();
            let round = self.piece_at(0.5 * (pair[0] + pair[1])).turn_over(length).max(turned);
            let count = (length / step - 1e-9).ceil().max((round / turn - 1e-9).ceil()).max(1.0) as usize;
            samples.extend((1..=count).map(|i| pair[0] + length * i as f64 / count as f64));
        }
        samples
    }

    /// Arc lengths at which a piece, or the turn through a corner, begins or ends; unsorted.
    #[must_use]
    pub fn marks(&self) -> Vec<f64> {
        let mut marks = vec![0.0];
        let mut at = 0.0;
        for (index, piece) in self.pieces.iter().enumerate() {
            at += piece.length();
            marks.push(at);
            if index + 1 < self.pieces.len() {
                let half = self.half_zone(index);
                marks.extend([at - half, at + half]);
            }
        }
        marks
    }

    /// The most that the seam frame turns between arc lengths `from` and `to` (m), back and forth added up, rad.
    #[must_use]
    pub fn turn_over(&self, from: f64, to: f64) -> f64 {
        let overlap = |start: f64, end: f64| (to.min(end) - from.max(start)).max(0.0);
        let mut start = 0.0;
        let mut turn = 0.0;
        for (index, piece) in self.pieces.iter().enumerate() {
            let end = start + piece.length();
            turn += piece.turn_over(overlap(start, end));
            if index + 1 < self.pieces.len() {
                let half = self.half_zone(index);
                // Without a zone the frame is still that of the piece before at the corner itself, and turns right behind it.
                let share = if half > 0.0 {
                    overlap(end - half, end + half) / (2.0 * half)
                } else {
                    f64::from((from..to).contains(&(end + AT_CORNER)))
                };
                if share > 0.0 {
                    turn += share * self.corner_turn(index).angle();
                }
            }
            start = end;
        }
        turn
    }

    /// Whether its end is its start.
    #[must_use]
    pub fn is_closed(&self) -> bool {
        let end = Self { reach: [0.0; 2], ..self.clone() }.root_at(self.length()).point;
        self.pieces.first().is_some_and(|first| (end - first.start).norm() < CLOSED_WITHIN)
    }

    /// Arc lengths of its corners; that of a closed path whose start is a corner too.
    #[must_use]
    pub fn corners(&self) -> Vec<f64> {
        let mut corners: Vec<f64> = self.corner_zones().iter().map(|zone| zone.at).collect();
        if let ([first, .., last], true) = (self.pieces.as_slice(), self.is_closed())
            && turn_between(&last.at(last.length()), &first.at(0.0)).angle() > CORNER_FROM
        {
            corners.extend([0.0, self.length()]);
        }
        corners
    }

    /// The point and seam frame at arc length `s` (m; taken into the path's ends).
    ///
    /// The point of the root is exact; the offset of a pass is added in the frame as it stands there. Within `corner_zone` of a corner (or half the shorter neighbour, where that is less) the
    /// frame turns evenly about one axis from the one piece's frame to the other's.
    #[must_use]
    pub fn at(&self, s: f64) -> SeamPoint {
        let root = self.root_at(s);
        SeamPoint { point: root.point + root.n1 * self.offset.n1 + root.b * self.offset.b, ..root }
    }

    /// The same on the root itself, whatever the offset of the pass.
    #[must_use]
    pub fn root_at(&self, s: f64) -> SeamPoint {
        let (index, start) = self.locate(s);
        let piece = &self.pieces[index];
        let length = piece.length();
        let before = if index == 0 { self.reach[0] } else { 0.0 };
        let beyond = if index + 1 == self.pieces.len() { self.reach[1] } else { 0.0 };
        let along = (s - start).clamp(-before, length + beyond);
        let point = piece.at(along);
        if along <= length / 2.0 {
            if index > 0 {
                return self.through_corner(index - 1, point, along, false);
            }
        } else if index + 1 < self.pieces.len() {
            return self.through_corner(index, point, length - along, true);
        }
        point
    }

    /// The piece that holds arc length `s`, and where it starts.
    fn locate(&self, s: f64) -> (usize, f64) {
        let mut index = 0;
        let mut start = 0.0;
        while index + 1 < self.pieces.len() && s > start + self.pieces[index].length() + AT_CORNER {
            start += self.pieces[index].length();
            index += 1;
        }
        (index, start)
    }

    /// The piece that holds arc length `s`.
    #[must_use]
    pub fn piece_at(&self, s: f64) -> &Piece {
        &self.pieces[self.locate(s).0]
    }

    fn half_zone(&self, index: usize) -> f64 {
        self.corner_zone.min(self.pieces[index].length() / 2.0).min(self.pieces[index + 1].length() / 2.0)
    }

    /// The turn from the end of a piece to the start of the next.
    pub(crate) fn corner_turn(&self, index: usize) -> UnitQuaternion<f64> {
        let piece = &self.pieces[index];
        turn_between(&piece.at(piece.length()), &self.pieces[index + 1].at(0.0))
    }

    /// `point` lies `distance` before (or after) the corner that ends piece `index`.
    fn through_corner(&self, index: usize, point: SeamPoint, distance: f64, before: bool) -> SeamPoint {
        let half = self.half_zone(index);
        if distance >= half {
            return point;
        }
        let whole = self.corner_turn(index);
        // Share of the whole turn done at the corner itself is one half; zero and one at the zone's ends.
        let share = if before { 0.5 * (1.0 - distance / half) } else { -0.5 * (1.0 - distance / half) };
        let turn = whole.powf(share);
        SeamPoint {
            t: turn * point.t,
            n1: turn * point.n1,
            b: turn * point.b,
            n2: turn * point.n2,
            in_corner: whole.angle() > CORNER_FROM,
            ..point
        }
    }
}

/// The rotation that takes the one seam frame to the other.
fn turn_between(from: &SeamPoint, to: &SeamPoint) -> UnitQuaternion<f64> {
    let frame = |p: &SeamPoint| Rotation3::from_basis_unchecked(&[p.t, p.n1, p.t.cross(&p.n1)]);
    UnitQuaternion::from_rotation_matrix(&(frame(to) * frame(from).inverse()))
}
