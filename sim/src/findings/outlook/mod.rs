//! Decides what is shown of what a cycle means for the plant: shifts played through, demand, seams elsewhere, money.

mod demand;
mod money;
mod shifts;

pub use demand::DemandFindings;
pub use money::{CostFindings, HandFindings, MoneyFindings, OnceFindings, Range, YearsFindings};
pub use shifts::{
    ArmTimeFindings, EffectFindings, MeanFindings, OeeFindings, PeopleTimeFindings, PlayedFindings,
};

use schemars::JsonSchema;
use seamwright_kinematics::units::{to_kwh, to_litres, to_mm};
use serde::{Deserialize, Serialize};

use super::words::{fixed, rounded};
use crate::cell::Cell;
use crate::production::{Consumption, Cycle, Outlook, SeamMove};

/// What a cycle means for the plant.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OutlookFindings {
    /// Shifts played through, where that is asked for.
    pub played: Option<PlayedFindings>,
    /// How cycle and demand fit, where a demand is stated.
    pub demand: Option<DemandFindings>,
    /// Seams that would shorten the cycle at another station, the best first.
    pub seam_moves: Vec<SeamMoveFindings>,
    /// What a part uses up.
    pub uses: UsesFindings,
    /// What a part costs, where rates are stated.
    pub money: Option<MoneyFindings>,
    /// Why there is none though rates are stated.
    #[serde(default)]
    pub money_missing: Option<String>,
}

/// A seam welded at another station that carries the same fixture; planned there, and the cycle worked out anew.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SeamMoveFindings {
    /// Station and seam.
    pub seam: String,
    /// Where it would be welded.
    pub to_station: String,
    /// What the arm does for it where it is welded now.
    pub arm_s: f64,
    /// How much shorter the plain cycle would be.
    pub gain_s: f64,
    /// The same of the mean cycle; findings of older runs do not have it.
    #[serde(default)]
    pub mean_gain_s: f64,
}

/// What a part uses up, scrap not counted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct UsesFindings {
    /// Length of weld.
    pub weld_mm: f64,
    /// Arc time, craters included.
    pub arc_s: f64,
    /// Wire melted.
    pub wire_g: f64,
    /// Gas, before and after the arc included.
    pub gas_l: f64,
    /// Energy into the arc.
    pub arc_kwh: f64,
    /// Seams of which wire and energy are not known.
    pub without_settings: usize,
    /// Seams of which the gas is not known.
    pub without_gas: usize,
}

impl OutlookFindings {
    pub(super) fn new(cell: &Cell, cycle: &Cycle, outlook: &Outlook) -> Self {
        Self {
            played: outlook.played.as_ref().map(PlayedFindings::new),
            demand: outlook.demand.as_ref().map(|met| DemandFindings::new(met, &cycle.coverage)),
            seam_moves: outlook.seam_moves.iter().map(|it| SeamMoveFindings::new(cell, it)).collect(),
            uses: UsesFindings::new(&outlook.consumption, cycle.parts_per_cycle()),
            money: cell
                .money
                .as_ref()
                .zip(outlook.returns.as_ref())
                .map(|(money, returns)| MoneyFindings::new(money, returns)),
            money_missing: (cell.money.is_some() && outlook.returns.is_none())
                .then(|| money_missing(outlook.good_parts)),
        }
    }
}

impl OutlookFindings {
    /// Whether nothing shows that the year's quantity cannot be made.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.demand.as_ref().is_none_or(DemandFindings::holds)
    }

    /// Which of the counts rests on what, where stoppages are played through beside a stated or assumed availability; `availability_percent`
    /// is that of the shift.
    #[must_use]
    pub fn two_counts_sentence(&self, availability_percent: f64) -> Option<String> {
        let played = self.played.as_ref()?;
        let takt = if self.demand.is_some() { "`Hours` and `Takt` rest" } else { "`Hours` rests" };
        let money = if self.money.is_some() { "`Shift` and `Money` rest" } else { "`Shift` rests" };
        Some(format!(
            "{takt} on {} % availability, {money} on the breaks, stoppages and stops that the file lists, played through: by these the arm is \
             available for {} % of the planned time. Where that list is whole, the played count is the one to promise",
            fixed(availability_percent, 0),
            fixed(played.oee.availability_percent, 0)
        ))
    }
}

/// Why no cost is worked out, by the good parts of a shift: most, expected, fewest; none where there is no shift.
fn money_missing(good_parts: Option<[f64; 3]>) -> String {
    let Some(good_parts) = good_parts else {
        return "no cost is worked out: no shift is stated, so nothing says how many parts its time is shared by".to_owned();
    };
    let [most, expected, fewest] = good_parts.map(|parts| fixed(parts, 1));
    format!(
        "no cost is worked out: a shift makes {expected} good parts as expected, {most} at the short end of what is promised and {fewest} \
         at the long one, and a shift that finishes none has nothing to share its cost out over"
    )
}

impl SeamMoveFindings {
    fn new(cell: &Cell, it: &SeamMove) -> Self {
        let seam = &cell.seams[it.seam.0];
        Self {
            seam: format!("{} / {}", cell.stations[seam.station.0].name, seam.drawn_as),
            to_station: cell.stations[it.to.0].name.clone(),
            arm_s: rounded(it.duration, 6),
            gain_s: rounded(it.gain, 6),
            mean_gain_s: rounded(it.mean_gain, 6),
        }
    }

    /// What it would gain, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        format!(
            "{} welded on {} instead ({} s of the arm) makes the mean cycle {} s shorter: write only_station = {:?} for it",
            self.seam,
            self.to_station,
            fixed(self.arm_s, 1),
            fixed(self.mean_gain_s, 1),
            self.to_station
        )
    }
}

impl UsesFindings {
    fn new(used: &Consumption, parts: u64) -> Self {
        // Parts of a cycle are few: the number is exact.
        let each = |amount: f64| rounded(amount / parts as f64, 6);
        Self {
            weld_mm: each(to_mm(used.weld)),
            arc_s: each(used.arc),
            wire_g: each(used.wire * 1000.0),
            gas_l: each(to_litres(used.gas)),
            arc_kwh: each(to_kwh(used.arc_energy)),
            without_settings: used.without_settings,
            without_gas: used.without_gas,
        }
    }

    /// What a part uses up, in words; none where nothing is known of it.
    #[must_use]
    pub fn sentence(&self) -> Option<String> {
        if self.wire_g == 0.0 {
            return None;
        }
        let gas =
            if self.gas_l > 0.0 { format!(", {} L of gas", fixed(self.gas_l, 1)) } else { String::new() };
        Some(format!(
            "a part made takes {} s of arc with its craters, {} g of wire{gas}, {} kWh into the arc",
            fixed(self.arc_s, 1),
            fixed(self.wire_g, 0),
            fixed(self.arc_kwh, 3)
        ))
    }
}
