//! Decides the face normals along a seam: those the file gives, or those of the faces that are found to meet there.

use nalgebra::{Point3, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::document::Table;

use super::Reading;
use super::faces::{self, Blamed, Met, NotMet, Wanted};
use super::fixture::Fixture;
use super::place;
use super::points_file::Normals;
use super::section::Parts;
use crate::cell::{Form, Joint, Offset, Piece, SeamPath, Solid};
use crate::units;

/// Places along a straight piece, and along a round one, at which the faces are looked for. Many on a round one, so that the facets of
/// a mesh average out.
const PLACES_STRAIGHT: usize = 5;
const PLACES_ROUND: usize = 24;

/// Places at which it is asked whether a line has come to its joint: the first so far inside its end, the others so far apart; and how
/// closely it is told where it does.
const INSIDE_END_MM: f64 = 0.5;
const PAST_STEP_MM: f64 = 5.0;
const PAST_TOLD_TO_MM: f64 = 0.1;
/// How far beyond an end it is asked whether the joint goes on there, mm: as far as an arc is struck before it.
const LEADS_MM: f64 = 200.0;

/// How far normals given by hand may be off square to the seam.
const SQUARE_WITHIN_DEG: f64 = 15.0;

/// What would be right where the reference is given twice and differs.
const ONE_REFERENCE: &str = "leave out the one that is wrong: n1 or reference alone says it";

/// What a seam's table says of its faces.
pub(super) struct Faces {
    joint: Joint,
    /// Shapes that the reference face may belong to; empty where not said.
    reference: Vec<usize>,
    /// Shapes that the joint is made of; empty where not said.
    joins: Vec<usize>,
    n1: Option<Vector3<f64>>,
    n2: Option<Vector3<f64>>,
}

impl Faces {
    /// Reads the keys that concern faces.
    pub(super) fn read(table: &Table<'_>, fixture: Option<&Fixture>) -> Option<Self> {
        let joint = table.choice(
            "joint",
            &[
                ("fillet", Joint::Fillet),
                ("lap", Joint::Lap),
                ("butt", Joint::Butt),
                ("corner", Joint::Corner),
            ],
        );
        let of = |key, names: Vec<String>| -> Vec<usize> {
            let Some(fixture) = fixture else { return Vec::new() };
            names.iter().flat_map(|name| fixture.parts_named(table, key, name)).collect()
        };
        let reference = of("reference", table.opt_text("reference").into_iter().collect());
        let joins = of("joins", table.texts("joins"));
        let n1 = place::opt_direction(table, "n1").map(Unit::into_inner);
        let n2 = place::opt_direction(table, "n2").map(Unit::into_inner);
        if table.has("n2") && !table.has("n1") {
            table.problem(
                "n2",
                "n2 is given and n1 is not",
                "give n1, the reference face's, as well".to_owned(),
            );
        }
        Some(Self { joint: joint?, reference, joins, n1, n2 })
    }

    /// How the members meet.
    pub(super) fn joint(&self) -> Joint {
        self.joint
    }

    /// Whether the normals are the file's and nothing is to be found: for a butt, the first alone says all.
    fn by_hand(&self) -> bool {
        self.n1.is_some() && (self.n2.is_some() || self.joint == Joint::Butt)
    }

    /// What the file gives of the normals, at the start; the second is the first where it is not given.
    fn stated(&self) -> Option<Normals> {
        self.n1.map(|n1| Normals { n1, n2: self.n2.unwrap_or(n1) })
    }
}

/// A seam's pieces with their normals.
pub(super) struct Joined {
    pub(super) pieces: Vec<Piece>,
    /// The fixture's shapes that meet there, in order, each once.
    pub(super) shapes: Vec<usize>,
    /// Those whose face is the reference, where that is known.
    pub(super) reference: Vec<usize>,
    /// As [`crate::cell::Seam::past_joint`], in the drawn direction.
    pub(super) past_joint: Option<[f64; 2]>,
}

/// What the normals are looked for in.
pub(super) struct Place<'p> {
    pub(super) reading: &'p Reading<'p>,
    pub(super) table: &'p Table<'p>,
    pub(super) fixture: &'p Fixture,
    pub(super) parts: &'p Parts,
    /// Name of the seam.
    pub(super) seam: &'p str,
    /// Key of the seam's line.
    pub(super) key: &'p str,
    /// Work angle aimed at, rad.
    pub(super) work: f64,
}

impl Place<'_> {
    /// Gives every piece its normals, found or from the file. `from_file` are those of a points file, at the start of each piece.
    pub(super) fn join(
        &self,
        pieces: Vec<(Point3<f64>, Form)>,
        from_file: Option<&[Normals]>,
        faces: &Faces,
    ) -> Option<Joined> {
        if from_file.is_some() && faces.n1.is_some() {
            let right = "leave them out here or in the points file".to_owned();
            self.table.problem("n1", "the normals are given twice", right);
        }
        let mut joined = Joined {
            pieces: Vec::with_capacity(pieces.len()),
            shapes: faces.joins.clone(),
            reference: faces.reference.clone(),
            past_joint: None,
        };
        let count = pieces.len();
        let mut carried = faces.stated().map(|normals| Carried { normals, t: None });
        let mut last: Option<Met> = None;
        for (index, (start, form)) in pieces.into_iter().enumerate() {
            let bare = Piece { start, form, n1: Vector3::z_axis(), b: Vector3::y_axis(), lean: 0.0 };
            let along = alone(&bare);
            let t = along.at(0.0).t;
            let which = if count > 1 { format!(" (piece {} of {count})", index + 1) } else { String::new() };
            let here = carried.as_ref().map(|carried| carried.onto(&t));
            let stated = match from_file {
                Some(normals) => normals.get(index).copied(),
                None => here.filter(|_| faces.by_hand()),
            };
            let normals = match stated {
                Some(normals) => {
                    self.check_square(&t, &normals, &which)?;
                    normals
                }
                None => {
                    let met = self.found(&along, faces, here.map(|here| here.n1), last.as_ref(), &which)?;
                    if faces.joins.is_empty() {
                        joined.shapes.extend(met.shapes);
                    }
                    joined.reference.push(met.shapes[0]);
                    let [n1, n2] = met.normals;
                    last = Some(met);
                    Normals { n1, n2 }
                }
            };
            let Some(Square { n1, b, lean }) = square(&t, &normals, faces.joint) else {
                let wrong = format!("the two normals face the same way or opposite ways{which}");
                self.table.problem(
                    self.key_of_normals(),
                    wrong,
                    "give the normals of two faces at an angle".to_owned(),
                );
                return None;
            };
            let piece = Piece { n1, b, lean, ..bare };
            let path = alone(&piece);
            if stated.is_some() {
                self.check_open(&path, &which)?;
                self.check_reference(&path, faces, &which)?;
                if faces.joins.is_empty() {
                    let near = shares(&path).map(|share| path.at(share * path.length()));
                    joined.shapes.extend(near.flat_map(|at| faces::near(self.parts, &at.point, &at.t)));
                }
            }
            carried = here.map(|here| Carried::to_the_end_of(&path, here));
            joined.pieces.push(piece);
        }
        for shapes in [&mut joined.shapes, &mut joined.reference] {
            shapes.sort_unstable();
            shapes.dedup();
        }
        joined.past_joint = self.past_joint(&joined.pieces, faces);
        if joined.shapes.is_empty() {
            self.reading.note(format!(
                "seam {}: no part lies within 1 mm of it, so the torch keeps its full clearance from all of them",
                self.seam
            ));
        }
        Some(joined)
    }

    /// The faces that meet along a piece, with their normals at its start; `n1` is the reference face's there, where stated.
    fn found(
        &self,
        along: &SeamPath,
        faces: &Faces,
        n1: Option<Vector3<f64>>,
        last: Option<&Met>,
        which: &str,
    ) -> Option<Met> {
        let name = |shape: usize| self.fixture.shapes[shape].name.clone();
        let (mut met, mut missing) = (Vec::<Met>::new(), Vec::<(f64, NotMet)>::new());
        for share in shares(along) {
            let at = along.at(share * along.length());
            let back = back_to_start(along, share);
            let wanted = Wanted {
                joint: faces.joint,
                reference: &faces.reference,
                n1: n1.map(|n1| back.inverse() * n1),
                among: &faces.joins,
            };
            match faces::met(self.parts, &at.point, &at.t, &wanted, &name) {
                Ok(here) => {
                    met.push(Met { normals: here.normals.map(|normal| back * normal), ..here });
                }
                Err(wrong) => missing.push((share, wrong)),
            }
        }
        if let Some((share, not_met)) = missing.first()
            && missing.len() > met.len()
        {
            let wrong = format!("at {:.0} % of its length{which} {}", share * 100.0, not_met.wrong);
            let (key, right) = self.to_mend(&not_met.blamed);
            self.table.problem(key, wrong, right);
            return None;
        }
        let mut found = met.first()?.clone();
        // Where either face may be the reference, the one that was it on the piece before stays it.
        if !found.reference_is_sure
            && let Some(last) = last
            && last.normals[0].angle(&found.normals[1]) < last.normals[0].angle(&found.normals[0])
        {
            found.turn_round();
        }
        let mut sums = [Vector3::zeros(); 2];
        for mut here in met {
            if !here.alike(&found) {
                here.turn_round();
            }
            if !here.alike(&found) {
                let wrong = format!("the faces at one end{which} are not those at the other");
                self.table.problem(self.key, wrong, "draw one seam for each, or give n1 and n2".to_owned());
                return None;
            }
            sums = [0, 1].map(|face| sums[face] + here.normals[face]);
            found.reference_is_sure &= here.reference_is_sure;
        }
        found.normals = sums.map(|sum| sum.normalize());
        if !found.reference_is_sure && !self.may_be_swapped(&found, faces.joint) {
            let listed = found.shapes.map(name).join("` or `");
            let right = format!(
                "write reference = the shape of the reference face (`{listed}`), or its normal as n1"
            );
            self.table.problem(
                "work_deg",
                format!("it is not clear from which face this counts{which}"),
                right,
            );
            return None;
        }
        if let Some((share, NotMet { wrong, .. })) = missing.first() {
            self.reading.note(format!(
                "seam {}: at {:.0} % of its length{which} {wrong}",
                self.seam,
                share * 100.0
            ));
        }
        Some(found)
    }

    /// The key to mend where no two faces are taken, and what would be right.
    fn to_mend(&self, blamed: &Blamed) -> (&str, String) {
        match blamed {
            Blamed::Line { nearest } => {
                let shape = nearest.map(|shape| &self.fixture.shapes[shape]);
                let mesh = shape.filter(|shape| matches!(shape.solid, Solid::Mesh(_)));
                let mind = mesh.map(|mesh| format!("mind unit and up of `{}`, ", mesh.name));
                let mind = mind.unwrap_or_default();
                (self.key, format!("draw the line where two faces of parts meet, {mind}or give n1 and n2"))
            }
            Blamed::Reference { key: "n1" } => (
                "n1",
                "write the outward normal of one of these faces, as it is at the start of the line"
                    .to_owned(),
            ),
            Blamed::Reference { key } => (key, "name the part of one of these faces".to_owned()),
            Blamed::TwoReferences => ("n1", ONE_REFERENCE.to_owned()),
            Blamed::Joins => ("joins", "name every part that makes the joint, or leave joins out".to_owned()),
        }
    }

    /// Over how much of its start and of its end no two faces lie within 1 mm of a line, negative where they go on beyond that; nothing of
    /// a closed one, `None` of one near which there are none anywhere.
    fn past_joint(&self, pieces: &[Piece], faces: &Faces) -> Option<[f64; 2]> {
        let reach = [units::mm(LEADS_MM); 2];
        let line = SeamPath { pieces: pieces.to_vec(), reach, ..alone(&pieces[0]) };
        let length = line.length();
        let from = |reversed: bool| {
            let is_joint = |off: f64| {
                let at = line.at(if reversed { length - off } else { off });
                faces::is_joint(self.parts, &at.point, &at.t, faces.joint, &faces.joins)
            };
            let places = (0..).map(|step| units::mm(INSIDE_END_MM + PAST_STEP_MM * f64::from(step)));
            let mut joint = places.take_while(|off| *off < length).find(|off| is_joint(*off))?;
            let mut past = joint - units::mm(PAST_STEP_MM);
            while past < 0.0 && past > -units::mm(LEADS_MM) && is_joint(past) {
                (joint, past) = (past, past - units::mm(PAST_STEP_MM));
            }
            while joint - past > units::mm(PAST_TOLD_TO_MM) {
                let middle = 0.5 * (past + joint);
                *(if is_joint(middle) { &mut joint } else { &mut past }) = middle;
            }
            Some(joint)
        };
        let start = from(false)?;
        if (line.at(0.0).point - line.at(length).point).norm() < units::mm(PAST_STEP_MM) {
            return Some([0.0; 2]);
        }
        Some([start, from(true)?])
    }

    /// Whether the torch stands the same whichever face is the reference.
    fn may_be_swapped(&self, met: &Met, joint: Joint) -> bool {
        let [a, b] = &met.normals;
        let within = units::deg(0.01);
        joint == Joint::Butt || faces::same_way(a, b) || (2.0 * self.work - a.angle(b)).abs() < within
    }

    fn check_square(&self, t: &Vector3<f64>, normals: &Normals, which: &str) -> Option<()> {
        for (key, normal) in [("n1", normals.n1), ("n2", normals.n2)] {
            let off = units::to_deg(normal.normalize().dot(t).abs().min(1.0).asin());
            if off > SQUARE_WITHIN_DEG {
                let wrong = format!("{key} is {off:.0} degrees off square to the seam{which}");
                let right = "give the normal of a face that runs along the seam".to_owned();
                self.table.problem(if self.table.has(key) { key } else { self.key }, wrong, right);
                return None;
            }
        }
        Some(())
    }

    /// Normals point out of the parts: a little off the seam, between the faces, there must be nothing.
    fn check_open(&self, path: &SeamPath, which: &str) -> Option<()> {
        let buried = shares(path).map(|share| {
            let at = path.at(share * path.length());
            faces::buried(self.parts, &at.point, &at.t, &(at.n1 + at.b))
        });
        let buried: Vec<Option<usize>> = buried.collect();
        let inside: Vec<usize> = buried.iter().copied().flatten().collect();
        if inside.len() * 2 <= buried.len() {
            return Some(());
        }
        let part = &self.fixture.shapes[inside[0]].name;
        let wrong = format!("the normals point into `{part}`{which}");
        self.table.problem(
            self.key_of_normals(),
            wrong,
            "give normals that point out of the metal".to_owned(),
        );
        None
    }

    /// A part that is named as the reference has the face whose normal is given by hand, where one is drawn with it.
    fn check_reference(&self, path: &SeamPath, faces: &Faces, which: &str) -> Option<()> {
        if faces.reference.is_empty() {
            return Some(());
        }
        let middle = path.at(0.5 * path.length());
        let reference = &faces.reference;
        let Some(other) = faces::other_reference(self.parts, &middle.point, &middle.t, &middle.n1, reference)
        else {
            return Some(());
        };
        let wrong = format!(
            "n1 is the normal of `{}`{which}, and reference names another part",
            self.fixture.shapes[other].name
        );
        self.table.problem(self.key_of_normals(), wrong, ONE_REFERENCE.to_owned());
        None
    }

    fn key_of_normals(&self) -> &str {
        if self.table.has("n1") { "n1" } else { self.key }
    }
}

/// Normals given once, at the start, as they turn with the seam from piece to piece.
struct Carried {
    normals: Normals,
    /// Travel direction where they hold; `None` at the start.
    t: Option<Vector3<f64>>,
}

impl Carried {
    /// Turned from where they hold to the travel direction `t`.
    fn onto(&self, t: &Vector3<f64>) -> Normals {
        let turn = self.t.and_then(|before| UnitQuaternion::rotation_between(&before, t));
        let turn = turn.unwrap_or_else(UnitQuaternion::identity);
        Normals { n1: turn * self.normals.n1, n2: turn * self.normals.n2 }
    }

    fn to_the_end_of(path: &SeamPath, at_start: Normals) -> Self {
        let forward = back_to_start(path, 1.0).inverse();
        let normals = Normals { n1: forward * at_start.n1, n2: forward * at_start.n2 };
        Self { normals, t: Some(path.at(path.length()).t) }
    }
}

impl Met {
    fn turn_round(&mut self) {
        self.normals.swap(0, 1);
        self.shapes.swap(0, 1);
    }

    fn alike(&self, other: &Self) -> bool {
        (0..2).all(|face| faces::same_way(&self.normals[face], &other.normals[face]))
    }
}

fn alone(piece: &Piece) -> SeamPath {
    SeamPath { pieces: vec![piece.clone()], corner_zone: 0.0, offset: Offset::default(), reach: [0.0; 2] }
}

/// Where along a piece its faces are looked for, as shares of its length.
fn shares(piece: &SeamPath) -> impl Iterator<Item = f64> + use<> {
    let places = match piece.pieces[0].form {
        Form::Line { .. } => PLACES_STRAIGHT,
        Form::Arc { .. } => PLACES_ROUND,
    };
    (0..places).map(move |place| (place as f64 + 0.5) / places as f64)
}

/// Turns what holds at a share of a piece back to its start: normals turn with an arc.
fn back_to_start(piece: &SeamPath, share: f64) -> UnitQuaternion<f64> {
    match &piece.pieces[0].form {
        Form::Line { .. } => UnitQuaternion::identity(),
        Form::Arc { axis, sweep, .. } => UnitQuaternion::from_axis_angle(axis, -sweep * share),
    }
}

/// The frame of a seam: as [`Piece`] has it.
struct Square {
    n1: Unit<Vector3<f64>>,
    b: Unit<Vector3<f64>>,
    lean: f64,
}

/// `n1` made square to the seam, and what stands square to both; `None` where the normals do not tell it.
fn square(t: &Vector3<f64>, normals: &Normals, joint: Joint) -> Option<Square> {
    let Normals { n1, n2 } = normals;
    let flush = joint == Joint::Corner && faces::same_way(n1, n2);
    let n1 = Unit::try_new(n1 - t * n1.dot(t), 1e-3)?;
    if joint == Joint::Butt || flush {
        return Some(Square { n1, b: Unit::new_normalize(n1.cross(t)), lean: 0.0 });
    }
    let n2 = Unit::try_new(n2 - t * n2.dot(t), 1e-3)?;
    // Nearer than ten degrees to one line they do not span a joint.
    let toward_open = n2.into_inner() - n1.into_inner() * n2.dot(&n1);
    let b = Unit::try_new(toward_open, units::deg(10.0).sin())?;
    Some(Square { n1, b, lean: n2.dot(&n1).atan2(n2.dot(&b)) })
}
