//! A small cell written for one question: a rib on a plate, level, before the arm. Keys of its procedure and of its seam are the
//! question's own. Invented.

use std::path::Path;

use seamwright_sim::cell::Cell;
use seamwright_sim::cell::read::{Bundled, read_cell_with};

const ARM: &[u8] = include_bytes!("../../scenes/arms/reach-1400.toml");
const TORCH: &[u8] = include_bytes!("../../scenes/torches/bent-neck.toml");

/// The rib stands along x, 200 mm long and 8 mm thick, 60 mm high, on a plate whose upper face is at z = 10 mm of the fixture.
const CELL: &str = r#"
format = 1
name = "bench"
[arm]
file = "../arms/arm.toml"
at_mm = [0, 0, 450]
home_deg = [0, -40, 40, 0, 60, 0]
[torch]
file = "../torches/torch.toml"
[[fixture]]
name = "jig"
[[fixture.shape]]
name = "plate"
role = "part"
kind = "box"
at_mm = [0, 0, 5]
size_mm = [300, 200, 10]
[[fixture.shape]]
name = "rib"
role = "part"
kind = "box"
at_mm = [0, 0, 40]
size_mm = [200, 8, 60]
"#;

const STATION: &str = r#"
[[station]]
name = "here"
fixture = "jig"
load_s = 20
"#;

const PROCEDURE: &str = r#"
[[procedure]]
name = "fillet"
work_deg = 45
travel_deg = 5
ctwd_mm = 15
travel_speed_mm_s = 8
"#;

const SEAM: &str = r#"
[[seam]]
name = "rib"
procedure = "fillet"
joint = "fillet"
reference = "plate"
"#;

/// The line along the rib's left side (+y), 200 mm.
pub const LEFT: &str = "points_mm = [[-100, 4, 10], [100, 4, 10]]";

/// What a question adds to the bench, each as lines of TOML.
#[derive(Clone, Copy, Default)]
pub struct Question<'t> {
    /// To the procedure.
    pub procedure: &'t str,
    /// To the seam: its line at least.
    pub seam: &'t str,
    /// To the station: where it stands, other than on the floor at x = 900, z = 600 mm.
    pub station: &'t str,
    /// Tables of the file besides.
    pub besides: &'t str,
    /// Files beside the cell's: name and content.
    pub files: &'t [(&'t str, &'t [u8])],
    /// Lines added to the torch file.
    pub torch: &'t str,
}

impl Question<'_> {
    /// The cell, or its problems, a line each.
    ///
    /// # Errors
    /// Where it has problems.
    pub fn read(&self) -> Result<Cell, String> {
        let station = if self.station.is_empty() { "at_mm = [900, 0, 600]" } else { self.station };
        let text =
            [CELL, self.besides, STATION, station, PROCEDURE, self.procedure, SEAM, self.seam].join("\n");
        let torch = [TORCH, self.torch.as_bytes()].concat();
        let mut files: Vec<(&str, &[u8])> = vec![
            ("cells/cell.toml", text.as_bytes()),
            ("arms/arm.toml", ARM),
            ("torches/torch.toml", &torch),
        ];
        files.extend_from_slice(self.files);
        read_cell_with(Path::new("cells/cell.toml"), &Bundled(&files))
            .map_err(|problems| problems.iter().map(|problem| format!("{problem}\n")).collect())
    }

    /// The cell.
    ///
    /// # Panics
    /// Where it has problems.
    #[must_use]
    #[expect(clippy::unwrap_used, reason = "a check without its cell must fail")]
    pub fn cell(&self) -> Cell {
        self.read().unwrap()
    }
}
