//! Decides what torch hangs on the flange.
//!
//! The wire is made from the file's numbers: a thin bar from the contact tip to the wire end.

use std::cell::RefCell;
use std::path::Path;

use nalgebra::{Matrix3, Point3, Rotation3, Unit, UnitQuaternion, Vector3};
use seamwright_kinematics::Pose;
use seamwright_kinematics::document::{Document, Problems, Table};

use super::files::{beside, reason};
use super::names;
use super::place;
use super::shapes::{full_name, solids};
use super::{Reading, header};
use crate::cell::{DressLimits, Hose, Sensor, Solid, SpareTorch, Torch, TorchPart, TorchShape};
use crate::units;

/// More files beside a torch's than anybody would have looked through.
const MOST_SPARE_TORCHES: usize = 40;

/// Reads `[torch]`, the file it names, and what other torch files stand beside that one.
pub(super) fn read(reading: &Reading<'_>, root: &Table<'_>) -> Option<(Torch, Vec<SpareTorch>)> {
    let Some(table) = root.opt_table("torch") else {
        if !root.has("torch") {
            root.problem("torch", "this table is missing", "write [torch] with file = \"...\"".to_owned());
        }
        return None;
    };
    let file = table.text("file");
    let turn = table.opt_number("mount_turn_deg", place::ANGLES_DEG).map_or(0.0, units::deg);
    let torch = file.as_ref().and_then(|file| torch_file(reading, &table, file));
    let spare = file.map_or_else(Vec::new, |file| spare_torches(reading, &table, &file));
    table.finish();
    let mounted = |torch| mounted(torch, turn);
    let spare = spare.into_iter().map(|spare| SpareTorch { torch: mounted(spare.torch), ..spare });
    torch.map(|torch| (mounted(torch), spare.collect()))
}

/// Turned on the flange as a whole, by `turn` (rad) about its +Z.
fn mounted(torch: Torch, turn: f64) -> Torch {
    let mount = Pose::rotation(Vector3::z() * turn);
    Torch {
        flange_from_tool: mount * torch.flange_from_tool,
        centre_of_mass: torch.centre_of_mass.map(|centre| mount * centre),
        shapes: torch
            .shapes
            .into_iter()
            .map(|shape| TorchShape { flange_from_shape: mount * shape.flange_from_shape, ..shape })
            .collect(),
        hose: torch
            .hose
            .map(|hose| Hose { torch: hose.torch.iter().map(|point| mount * point).collect(), ..hose }),
        ..torch
    }
}

/// Torch files beside the one named, the first of them by name. A file there that describes no torch is nobody's problem here.
fn spare_torches(reading: &Reading<'_>, table: &Table<'_>, file: &str) -> Vec<SpareTorch> {
    let path = beside(table.file().as_ref(), file);
    let own = path.file_name().map(|name| name.to_string_lossy().into_owned());
    let folder = file.rfind('/').map_or("", |end| &file[..=end]);
    let names = reading.files.names_in(path.parent().unwrap_or(Path::new("")));
    let others = names.into_iter().filter(|name| name.ends_with(".toml") && Some(name) != own.as_ref());
    others
        .take(MOST_SPARE_TORCHES)
        .filter_map(|name| {
            let problems = Problems::default();
            let alone = Reading {
                problems: &problems,
                meshes: RefCell::default(),
                notes: RefCell::default(),
                ..*reading
            };
            let path = path.with_file_name(&name);
            let text = reading.files.text(&path).ok()?;
            let torch = from_text(&alone, &path, &text).filter(|_| problems.is_empty())?;
            Some(SpareTorch { file: format!("{folder}{name}"), torch })
        })
        .collect()
}

fn torch_file(reading: &Reading<'_>, table: &Table<'_>, file: &str) -> Option<Torch> {
    let path = beside(table.file().as_ref(), file);
    let text = reading.files.text(&path).map_err(|error| table.problem("file", reason(&error), None)).ok()?;
    from_text(reading, &path, &text)
}

/// The torch that the text of the file at `path` describes, as it stands on the flange unturned.
pub(super) fn from_text(reading: &Reading<'_>, path: &Path, text: &str) -> Option<Torch> {
    let document = Document::parse(&path.to_string_lossy(), text, reading.problems);
    let root = document.root(reading.problems);
    let name = header(&root);
    let flange_from_tool = tool(&root);
    let nominal_ctwd = root.number("nominal_ctwd_mm", 1.0..=60.0).map(units::mm);
    let mass = root.number("mass_kg", 0.0..=100.0);
    let centre_of_mass = place::opt_point(&root, "centre_of_mass_mm");
    let inertia = root.opt_number("inertia_kg_m2", 0.0..=1000.0);
    let wire = root.number("wire_diameter_mm", 0.1..=10.0).map(units::mm);
    let mut shapes = bodies(reading, &root);
    let nozzle = root.opt_table("nozzle");
    if nozzle.is_none() && !root.has("nozzle") {
        root.problem(
            "nozzle",
            "this table is missing",
            "write [nozzle] with its diameters and length".to_owned(),
        );
    }
    let nozzle = nozzle.and_then(|nozzle| {
        let read = nozzle_solid(&nozzle, nominal_ctwd);
        nozzle.finish();
        read
    });
    let (dress, hose) = hose(&root);
    let sensor = sensor(&root);
    root.finish();
    let (flange_from_tool, nominal_ctwd, wire) = (flange_from_tool?, nominal_ctwd?, wire?);
    let (nozzle, tool_from_nozzle) = nozzle?;
    let shape = |name: &str, part, tool_from_shape: Pose, solid| TorchShape {
        name: name.to_owned(),
        part,
        flange_from_shape: flange_from_tool * tool_from_shape,
        solid,
    };
    shapes.push(shape("nozzle", TorchPart::Nozzle, tool_from_nozzle, nozzle));
    let wire_solid = Solid::Cylinder { radius: wire / 2.0, half_height: nominal_ctwd / 2.0 };
    shapes.push(shape("wire", TorchPart::Wire, Pose::translation(0.0, 0.0, -nominal_ctwd / 2.0), wire_solid));
    Some(Torch {
        name: name?,
        flange_from_tool,
        nominal_ctwd,
        wire_diameter: wire,
        shapes,
        mass: mass?,
        centre_of_mass,
        inertia,
        dress,
        hose,
        sensor: sensor.flatten(),
    })
}

/// `flange_from_tool`: the wire end, +Z along the wire, +X in the plane of the neck toward the flange side.
fn tool(root: &Table<'_>) -> Option<Pose> {
    let at = place::point(root, "wire_end_mm");
    let wire = place::direction(root, "wire_direction");
    let stated = place::opt_direction(root, "toward_flange");
    let (at, wire) = (at?, wire?);
    // Back along the flange axis, made square to the wire: for a bent neck it lies in the plane of the neck.
    let back = stated.map_or_else(|| -Vector3::z(), Unit::into_inner);
    let square = Unit::try_new(back - wire.into_inner() * back.dot(&wire), 1e-3);
    let Some(x) = square else {
        let right = "write toward_flange as the direction that tool +X takes".to_owned();
        root.problem("wire_direction", "the wire runs straight along the flange axis", right);
        return None;
    };
    let columns = Matrix3::from_columns(&[x.into_inner(), wire.cross(&x), wire.into_inner()]);
    let rotation = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(columns));
    Some(Pose::from_parts(at.coords.into(), rotation))
}

fn bodies(reading: &Reading<'_>, root: &Table<'_>) -> Vec<TorchShape> {
    let mut shapes = Vec::new();
    for table in root.tables("shape") {
        let name = names::read(&table);
        let solids = solids(reading, &table);
        table.finish();
        if let Some(name) = name {
            shapes.extend(solids.into_iter().map(|(group, solid, pose)| TorchShape {
                name: full_name(&name, &group),
                part: TorchPart::Body,
                flange_from_shape: pose,
                solid,
            }));
        }
    }
    shapes
}

/// The nozzle and `tool_from_nozzle`.
fn nozzle_solid(table: &Table<'_>, nominal_ctwd: Option<f64>) -> Option<(Solid, Pose)> {
    let outer = table.number("outer_diameter_mm", 1.0..=200.0).map(units::mm);
    let mouth = table.opt_number("mouth_diameter_mm", 1.0..=200.0).map(units::mm);
    let length = table.number("length_mm", 1.0..=500.0).map(units::mm);
    let recess = table.number("tip_recess_mm", -30.0..=30.0).map(units::mm);
    let (outer, length, recess, ctwd) = (outer?, length?, recess?, nominal_ctwd?);
    if recess >= ctwd {
        table.problem(
            "tip_recess_mm",
            "the mouth would reach the wire end",
            "give less than nominal_ctwd_mm".to_owned(),
        );
        return None;
    }
    // The mouth stands before the tip by the recess, at +z of the solid.
    let mouth_at = recess - ctwd;
    let solid = Solid::Frustum {
        radius_low: outer / 2.0,
        radius_high: mouth.unwrap_or(outer) / 2.0,
        half_height: length / 2.0,
    };
    Some((solid, Pose::translation(0.0, 0.0, mouth_at - length / 2.0)))
}

/// The sensor; the inner none where it is unsound.
fn sensor(root: &Table<'_>) -> Option<Option<Sensor>> {
    let table = root.opt_table("sensor")?;
    let look_ahead = table.number("look_ahead_mm", 0.0..=500.0).map(units::mm);
    let turn_tolerance = table.opt_number("turn_tolerance_deg", 0.0..=90.0).map_or(0.0, units::deg);
    table.finish();
    Some(look_ahead.map(|look_ahead| Sensor { look_ahead, turn_tolerance }))
}

fn hose(root: &Table<'_>) -> (DressLimits, Option<Hose>) {
    let Some(table) = root.opt_table("hose") else { return (DressLimits::default(), None) };
    let range = |key: &str| place::opt_range(&table, key, place::ANGLES_DEG, units::deg);
    let limits = DressLimits {
        axis4: range("axis4_deg"),
        axis6: range("axis6_deg"),
        axis4_plus_axis6: range("axis4_plus_axis6_deg"),
    };
    let space = hose_space(&table);
    table.finish();
    (limits, space)
}

/// The space that the hose takes, where the file states it.
fn hose_space(table: &Table<'_>) -> Option<Hose> {
    let keys = ["radius_mm", "forearm_mm", "torch_mm"];
    if !keys.iter().any(|key| table.has(key)) && !table.has("forearm_link") {
        return None;
    }
    let radius = table.number("radius_mm", place::SIZES_MM).map(units::mm);
    let forearm_link = table.opt_whole("forearm_link", 3..=4).unwrap_or(3) as usize;
    let points = |key: &str| -> Option<Vec<Point3<f64>>> {
        if !table.has(key) {
            let right = "write the points along the hose, as in [[0, 0, 100], [200, 0, 150]]".to_owned();
            table.problem(key, "this is missing", right);
            table.excuse(key);
            return None;
        }
        let points = table.opt_rows::<3>(key, place::POSITIONS_MM, 1)?;
        Some(points.into_iter().map(place::metres).collect())
    };
    let (forearm, torch) = (points("forearm_mm"), points("torch_mm"));
    Some(Hose { radius: radius?, forearm_link, forearm: forearm?, torch: torch? })
}
