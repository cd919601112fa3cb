//! Decides what is shown of the power source settings: energy into the seam, wire melted, size of the weld.

use schemars::JsonSchema;
use seamwright_kinematics::units::{
    per_mm_to_per_inch, to_kj_mm, to_mm, to_mm2, to_per_hour, to_per_minute, to_percent,
};
use serde::{Deserialize, Serialize};

use super::words::{fixed, joined, rounded};
use crate::cell::{Cell, Joint, Procedure, Seam};
use crate::production::heat::thermal_efficiency;
use crate::production::{Asked, LEAST_FILLED, MOST_FILLED, procedure_figures};

/// What the settings of a procedure come to at its travel speed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProcedureFindings {
    /// The procedure's name.
    pub procedure: String,
    /// Its travel speed; a seam may have its own.
    pub travel_speed_mm_s: f64,
    /// Number of the process in ISO 4063.
    #[serde(default)]
    pub process: u32,
    /// Electrical energy for a millimetre of seam, U·I/v: the heat input of AWS D1.1 and ASME IX.
    pub arc_energy_kj_mm: f64,
    /// Arc energy times the factor of the process in EN 1011-1.
    pub heat_input_kj_mm: f64,
    /// That factor.
    pub heat_input_factor: f64,
    /// Wire melted in an hour of arc.
    pub melt_off_kg_h: f64,
    /// Weld metal laid down in an hour of arc.
    pub deposition_kg_h: f64,
    /// Section of the weld metal.
    pub section_mm2: f64,
    /// Leg of the flat fillet with equal legs that this section fills.
    pub fillet_leg_mm: f64,
    /// Whether a seam with an inside corner to fill, of a fillet or lap joint, is welded with it.
    #[serde(default)]
    pub fills_corners: bool,
    /// How that compares with the leg asked for, where one is.
    pub asked: Option<AskedFindings>,
}

/// What is laid down against what the weld asked for needs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AskedFindings {
    /// Leg of the flat fillet with equal legs.
    pub leg_mm: f64,
    /// Section laid down over section needed.
    pub filled_percent: f64,
    /// Travel speed at which the wire just fills it.
    pub speed_to_fill_mm_s: f64,
    /// Wire feed that just fills it at the travel speed.
    pub feed_to_fill_m_min: f64,
    /// What contradicts what, where something does: one sentence.
    pub contradiction: Option<String>,
}

/// Every procedure with settings that a seam uses, once for each travel speed, in the order of first use.
pub(super) fn all(cell: &Cell) -> Vec<ProcedureFindings> {
    let mut all: Vec<ProcedureFindings> = Vec::new();
    for at in 0..cell.seams.len() {
        if let Some(found) = ProcedureFindings::new(cell, at).filter(|found| !all.contains(found)) {
            all.push(found);
        }
    }
    all
}

/// Travel speeds (m/s) of all passes of the weld that the seam `at` is a pass of; each pass is a seam, right after the one before.
fn speeds_of_passes(cell: &Cell, at: usize) -> Vec<f64> {
    let seam = &cell.seams[at];
    let first = (at + 1).saturating_sub(seam.pass as usize);
    let of_weld = cell.seams[first..].iter().take(seam.procedure.passes.len().max(1));
    of_weld.map(|pass| pass.procedure.travel_speed).collect()
}

impl ProcedureFindings {
    fn new(cell: &Cell, at: usize) -> Option<Self> {
        let procedure = &cell.seams[at].procedure;
        let passes = speeds_of_passes(cell, at);
        let fills_corner = |seam: &Seam| {
            seam.procedure.name == procedure.name && matches!(seam.joint, Joint::Fillet | Joint::Lap)
        };
        let figures = procedure_figures(procedure, &passes)?;
        let settings = procedure.settings?;
        Some(Self {
            procedure: procedure.name.clone(),
            travel_speed_mm_s: rounded(to_mm(procedure.travel_speed), 6),
            process: settings.process.number(),
            arc_energy_kj_mm: rounded(to_kj_mm(figures.arc_energy), 6),
            heat_input_kj_mm: rounded(to_kj_mm(figures.heat_input), 6),
            heat_input_factor: thermal_efficiency(settings.process),
            melt_off_kg_h: rounded(to_per_hour(figures.melt_off), 6),
            deposition_kg_h: rounded(to_per_hour(figures.deposition), 6),
            section_mm2: rounded(to_mm2(figures.section), 6),
            fillet_leg_mm: rounded(to_mm(figures.fillet_leg), 6),
            fills_corners: cell.seams.iter().any(fills_corner),
            // Said once of a weld, with its first pass.
            asked: figures
                .asked
                .filter(|_| cell.seams[at].pass <= 1)
                .map(|asked| AskedFindings::new(procedure, &passes, &asked)),
        })
    }

    /// The figures in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let filled = if self.fills_corners {
            format!(", which fills a flat fillet of leg {} mm", fixed(self.fillet_leg_mm, 1))
        } else {
            String::new()
        };
        format!(
            "{} at {} mm/s: heat input {} kJ/mm by EN 1011-1 (arc energy × {}), {} kJ/mm or {} kJ/in by AWS D1.1 (arc energy); {} kg/h laid down, section {} mm²{filled}",
            self.procedure,
            fixed(self.travel_speed_mm_s, 1),
            fixed(self.heat_input_kj_mm, 2),
            fixed(self.heat_input_factor, 1),
            fixed(self.arc_energy_kj_mm, 2),
            fixed(per_mm_to_per_inch(self.arc_energy_kj_mm), 1),
            fixed(self.deposition_kg_h, 2),
            fixed(self.section_mm2, 1)
        )
    }
}

impl AskedFindings {
    fn new(procedure: &Procedure, passes: &[f64], asked: &Asked) -> Self {
        let wrong = if asked.filled < LEAST_FILLED {
            Some("the wire cannot fill")
        } else if asked.filled > MOST_FILLED {
            Some("the wire overfills")
        } else {
            None
        };
        let leg = to_mm(asked.leg);
        let speeds: Vec<String> = passes.iter().map(|speed| fixed(to_mm(*speed), 1)).collect();
        let (of_passes, change) = match passes {
            [] | [_] => (String::new(), String::new()),
            _ => (
                format!(" in {} passes", passes.len()),
                " for the first pass and the others changed alike".to_owned(),
            ),
        };
        let contradiction = wrong.map(|wrong| {
            format!(
                "{}: {wrong} a leg of {} mm{of_passes} at {} mm/s: {} % of its section is laid down; it takes {} mm/s{change}, or {} m/min of wire",
                procedure.name,
                fixed(leg, 1),
                joined(&speeds),
                fixed(to_percent(asked.filled), 0),
                fixed(to_mm(asked.speed_to_fill), 1),
                fixed(to_per_minute(asked.feed_to_fill), 1)
            )
        });
        Self {
            leg_mm: rounded(leg, 6),
            filled_percent: rounded(to_percent(asked.filled), 6),
            speed_to_fill_mm_s: rounded(to_mm(asked.speed_to_fill), 6),
            feed_to_fill_m_min: rounded(to_per_minute(asked.feed_to_fill), 6),
            contradiction,
        }
    }
}
