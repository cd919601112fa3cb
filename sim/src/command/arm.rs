//! `seamwright arm`: what an arm is, where it stands at given axis values, and every way in which it reaches given poses.

use std::io::{self, BufWriter, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use rayon::prelude::*;
use seamwright_kinematics::document::Problem;
use seamwright_kinematics::{Arm, AxisValues, Pose, Range, units};
use seamwright_sim::cell::read::alone::{UrdfLinks, read_arm, read_torch};
use seamwright_sim::cell::read::poses_file::PosesFile;
use seamwright_sim::findings::{ArmFindings, Space, Stand, WaysToPose};
use seamwright_sim::report::files::{self, FileError};
use seamwright_sim::report::folder::write_file;
use seamwright_sim::report::{arm as report, drawing};

use super::{Refusal, in_threads, print, say};

/// What `arm` may be told.
#[derive(Args)]
pub struct ArmArguments {
    /// An arm file, or a URDF
    file: PathBuf,
    /// Say where everything stands at these values of axis 1 to axis 6
    #[arg(long, value_name = "A,B,C,D,E,F", value_parser = six, allow_hyphen_values = true)]
    axes_deg: Option<[f64; 6]>,
    /// A torch file: say where its tool stands, or how far it comes, too
    #[arg(long, value_name = "FILE", conflicts_with = "poses")]
    torch: Option<PathBuf>,
    /// Draw the space that wrist centre, flange and tool can be in, to scale, into this SVG file
    #[arg(long, value_name = "FILE.svg", value_parser = svg_file, conflicts_with = "poses")]
    envelope: Option<PathBuf>,
    /// Print every way to each pose of this CSV file: x_mm,y_mm,z_mm,qw,qx,qy,qz of the flange in the base frame
    #[arg(long, value_name = "FILE", conflicts_with = "axes_deg")]
    poses: Option<PathBuf>,
    /// What an axis keeps where a pose leaves it free; else 0
    #[arg(long, value_name = "A,B,C,D,E,F", value_parser = six, allow_hyphen_values = true, requires = "poses")]
    near: Option<[f64; 6]>,
    /// Print JSON; of --poses one object a line, a line a pose
    #[arg(long)]
    json: bool,
    /// The link of a URDF that is the base; else its root
    #[arg(long, value_name = "LINK")]
    base: Option<String>,
    /// The link of a URDF that is the flange; else its only end behind six moving joints
    #[arg(long, value_name = "LINK")]
    tip: Option<String>,
    /// How many threads may work; the results do not depend on it
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
}

/// No axis is turned farther, degrees: from there on what the turn leaves is lost in rounding.
const MOST_TURNED_DEG: f64 = 1e6;

fn six(text: &str) -> Result<[f64; 6], String> {
    let is_turn = |degrees: &f64| degrees.abs() <= MOST_TURNED_DEG;
    let numbers: Option<Vec<f64>> =
        text.split(',').map(|number| number.trim().parse().ok().filter(is_turn)).collect();
    numbers.and_then(|numbers| numbers.try_into().ok()).ok_or_else(|| {
        format!("write six numbers from -{MOST_TURNED_DEG} to {MOST_TURNED_DEG}, as in 0,-40,40,0,60,0")
    })
}

/// A file of any other name may be one that must not be written over, such as the arm's own.
fn svg_file(name: &str) -> Result<PathBuf, String> {
    let file = PathBuf::from(name);
    let is_svg = file.extension().is_some_and(|end| end.eq_ignore_ascii_case("svg"));
    if is_svg { Ok(file) } else { Err("write a name that ends in .svg".into()) }
}

/// Says of an arm what is asked.
pub fn run(arguments: &ArmArguments) -> Result<ExitCode, Refusal> {
    let links = UrdfLinks { base: arguments.base.as_deref(), tip: arguments.tip.as_deref() };
    let arm = read_arm(&arguments.file, links).map_err(refused)?;
    if let Some(poses) = &arguments.poses {
        let poses = PosesFile::check(poses).map_err(refused)?;
        return in_threads(arguments.threads, || write_ways(arguments, &arm.arm, &poses))?;
    }
    let torch = arguments.torch.as_deref().map(read_torch).transpose().map_err(refused)?;
    let wants_spaces = arguments.axes_deg.is_none() || arguments.envelope.is_some();
    let spaces = if wants_spaces {
        in_threads(arguments.threads, || Space::all(&arm.arm, torch.as_ref(), arguments.envelope.is_some()))?
    } else {
        Vec::new()
    };
    let mut findings = ArmFindings::new(&arm, &spaces);
    findings.stands = arguments.axes_deg.map(|axes| Stand::new(&arm.arm, axes, torch.as_ref()));
    if let Some(file) = &arguments.envelope {
        let drawing = drawing::envelope(arm.arm.name(), &spaces);
        write_file(file, drawing.as_bytes()).map_err(|error| Refusal(error.to_string()))?;
    }
    if arguments.json {
        print(&files::json(&findings).map_err(|error| Refusal(error.to_string()))?)?;
    } else {
        print(&report::text(&findings))?;
    }
    Ok(ExitCode::SUCCESS)
}

fn refused(problems: Vec<Problem>) -> Refusal {
    Refusal(super::listed(&problems, "nothing was written"))
}

/// Poses that are held at once, and how many of them one thread takes.
const HELD: usize = 16_384;
const SHARE: usize = 256;

/// Why the writing of ways ends early.
enum End {
    /// Nobody reads any more.
    Closed,
    Refused(Refusal),
}

impl From<Vec<Problem>> for End {
    fn from(problems: Vec<Problem>) -> Self {
        Self::Refused(refused(problems))
    }
}

impl From<io::Error> for End {
    fn from(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::BrokenPipe => Self::Closed,
            _ => Self::Refused(Refusal(format!("standard output: {error}"))),
        }
    }
}

impl From<FileError> for End {
    fn from(error: FileError) -> Self {
        Self::Refused(Refusal(error.to_string()))
    }
}

/// Writes every way to every pose to standard output, and to standard error why there is none.
fn write_ways(arguments: &ArmArguments, arm: &Arm, poses: &PosesFile) -> Result<ExitCode, Refusal> {
    if let Err(reason) = arm.geometry() {
        let file = arguments.file.display();
        let text = format!("{file}: the axis values for a given pose cannot be found for this arm: {reason}");
        return Err(Refusal(text));
    }
    let endless: Vec<String> = (1..=6)
        .zip(arm.axes())
        .filter(|(_, axis)| axis.range == Range::ENDLESS)
        .map(|(number, _)| number.to_string())
        .collect();
    if !endless.is_empty() {
        say(&format!(
            "no range is stated for axis {}: in_range takes any turn of it for good\n",
            endless.join(", ")
        ));
    }
    let near = arguments.near.map_or_else(AxisValues::zeros, |near| AxisValues::from(near.map(units::deg)));
    let written = written(arguments.json, arm, poses, &near);
    match written {
        Ok(()) | Err(End::Closed) => Ok(ExitCode::SUCCESS),
        Err(End::Refused(refusal)) => Err(refusal),
    }
}

fn written(json: bool, arm: &Arm, poses: &PosesFile, near: &AxisValues) -> Result<(), End> {
    let mut out = BufWriter::new(io::stdout().lock());
    if !json {
        out.write_all(report::WAYS_HEAD.as_bytes())?;
    }
    let mut first = 0;
    poses.for_each_chunk(HELD, |poses| {
        let shares = poses.par_chunks(SHARE).enumerate();
        let shares =
            shares.map(|(share, poses)| ways_of(json, arm, first + (share * SHARE) as u64, poses, near));
        let shares: Vec<Ways> = shares.collect::<Result<_, FileError>>()?;
        first += poses.len() as u64;
        for share in shares {
            out.write_all(share.found.as_bytes())?;
            if !share.remarks.is_empty() {
                say(&share.remarks);
            }
        }
        Ok::<(), End>(())
    })?;
    Ok(out.flush()?)
}

/// The ways to some poses, as they are written.
#[derive(Default)]
struct Ways {
    found: String,
    /// What must be said of a pose, one line each.
    remarks: String,
}

fn ways_of(json: bool, arm: &Arm, first: u64, poses: &[Pose], near: &AxisValues) -> Result<Ways, FileError> {
    let mut written = Ways::default();
    for (pose, number) in poses.iter().zip(first..) {
        let ways = WaysToPose::new(arm, number, pose, near);
        if json {
            written.found += &files::json_line(&ways)?;
        } else {
            report::write_ways(&ways, &mut written.found);
        }
        if let Some(remark) = ways.remark() {
            written.remarks += &remark;
            written.remarks.push('\n');
        }
    }
    Ok(written)
}
