//! What the digits of a file leave of the angles of a weld taught as planned: next to nothing, but in a corner zone.

use std::fmt::Write;
use std::path::Path;

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::{Bundled, read_cell_with};
use seamwright_sim::check::{Checked, Options, check};
use seamwright_sim::findings::Taught;
use seamwright_sim::plan::Verdict;
use seamwright_sim::units::deg;

const ARM: &[u8] = include_bytes!("../../../scenes/arms/reach-1400.toml");
const TORCH: &[u8] = include_bytes!("../../../scenes/torches/bent-neck.toml");

/// A weld round three sides of a block, which the arm can go round at one travel angle alone: that at the end of its tolerance.
const CELL: &str = r#"
format = 1
name = "round a block"
[arm]
file = "arm.toml"
at_mm = [0, 0, 450]
home_deg = [0, -40, 40, 0, 60, 0]
[torch]
file = "torch.toml"
[[fixture]]
name = "jig"
[[fixture.shape]]
name = "plate"
role = "part"
kind = "box"
at_mm = [0, 0, 5]
size_mm = [300, 240, 10]
[[fixture.shape]]
name = "block"
role = "part"
kind = "box"
at_mm = [0, 0, 30]
size_mm = [120, 80, 40]
[[station]]
name = "bench"
fixture = "jig"
at_mm = [850, 0, 600]
load_s = 20
unload_s = 8
[[procedure]]
name = "f"
work_deg = 45
work_tolerance_deg = 10
travel_deg = 5
travel_tolerance_deg = 10
ctwd_mm = 15
ctwd_tolerance_mm = 0
corner_zone_mm = ZONE
travel_speed_mm_s = SPEED
[[seam]]
name = "u"
procedure = "f"
joint = "fillet"
points_mm = [[-60, 40, 10], [-60, -40, 10], [60, -40, 10], [60, 40, 10]]
reference = "plate"
"#;

fn cell(zone: f64, speed: f64, taught: Option<&[Taught]>) -> Cell {
    let mut text = CELL.replace("ZONE", &zone.to_string()).replace("SPEED", &speed.to_string());
    let mut file = "move,ctwd_mm,axis1_deg,axis2_deg,axis3_deg,axis4_deg,axis5_deg,axis6_deg\n".to_owned();
    if let Some(points) = taught {
        text += "taught_csv = \"taught.csv\"\n";
        for point in points {
            write!(file, "{},{}", point.kind.name(), point.ctwd_mm).unwrap();
            point.axes_deg.iter().for_each(|value| write!(file, ",{value:.6}").unwrap());
            file.push('\n');
        }
    }
    let files: [(&str, &[u8]); 4] = [
        ("cell.toml", text.as_bytes()),
        ("arm.toml", ARM),
        ("torch.toml", TORCH),
        ("taught.csv", file.as_bytes()),
    ];
    read_cell_with(Path::new("cell.toml"), &Bundled(&files)).unwrap_or_else(|problems| panic!("{problems:?}"))
}

fn checked(cell: &Cell) -> Checked {
    check(cell, &Options { seed: 0, watch: &() })
}

/// Six decimals of a degree put the wire end some millionths of a millimetre beside its place. Where the asked angles turn by 90 degrees in a corner
/// zone of 0.2 mm, each of these is 0.00045 degrees, and what was planned on the end of its tolerance holds as taught. Everywhere else
/// that is nothing: a tolerance that ends 0.003 degrees before what was taught is passed along the straight lines too.
#[test]
fn what_digits_leave_of_an_angle_counts_nowhere_but_in_a_corner_zone() {
    for (zone, speed) in [(0.2, 10.0), (0.5, 25.0)] {
        let planned = checked(&cell(zone, speed, None));
        assert_eq!(planned.plan.seams[0].verdict, Verdict::Holds, "zone {zone}");
        let points = &planned.findings.seams[0].taught;
        let end = points.iter().map(|point| point.travel_deg).fold(f64::INFINITY, f64::min);
        assert!((end + 5.0).abs() < 1e-6, "planned at {end} degrees, and not on the end of 5 ± 10");
        let mut taught = cell(zone, speed, Some(points));
        let as_taught = checked(&taught);
        let stops = &as_taught.findings.seams[0].stops;
        assert_eq!(as_taught.plan.seams[0].verdict, Verdict::Holds, "zone {zone}: {stops:?}");
        taught.seams[0].procedure.travel.below -= deg(0.003);
        let narrower = checked(&taught);
        let binding = narrower.plan.seams[0].binding.as_ref();
        let [from, to] = binding.map(|binding| [binding.from, binding.to]).unwrap_or_default();
        assert_eq!(narrower.plan.seams[0].verdict, Verdict::CannotHold, "zone {zone}: {binding:?}");
        assert!(from < 0.001 && to > 0.279, "zone {zone}: from {from} m to {to} m");
    }
}
