//! Decides what is shown of regular stops: how long each takes, and whether it costs cycle, hides in the table's turn, or waits.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::words::{counted, fixed, rounded};
use crate::cell::Cell;
use crate::plan::Plan;
use crate::production::{Cycle, StopTime};

/// A regular stop. Times are of one stop, in the mean over the stations it may follow.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ServiceFindings {
    /// Its name.
    pub service: String,
    /// After how many loads it comes.
    pub every_loads: u32,
    /// The work itself.
    pub work_s: f64,
    /// The way to its device and back; none where the file does not say where it is, or no clear way was found.
    pub ways_s: Option<f64>,
    /// Points to teach for that way; none likewise.
    pub points: Option<usize>,
    /// What of both happens while the table turns.
    pub in_turn_s: f64,
    /// What happens while the arm would have waited for the person anyway.
    pub in_waits_s: f64,
    /// What it adds to the cycle in which it comes.
    pub costs_s: f64,
    /// After which stations the file wants the arm to go while axes turn, and it does not: its way is not shown to be clear then.
    #[serde(default)]
    pub not_in_turn: Vec<NotInTurnFindings>,
    /// Whether the file wants the arm to go while axes turn, and that counts for nothing: only one table by itself has the arm stand for its
    /// turn in which it could go.
    #[serde(default)]
    pub turn_not_counted: bool,
}

/// A way to a device that is not shown to be clear at every place of a turn.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NotInTurnFindings {
    /// The station that the arm comes from.
    pub station: String,
    /// A body of arm or torch.
    pub body: String,
    /// The other body of which it is not shown to keep clear.
    pub other: String,
}

impl ServiceFindings {
    pub(super) fn all(cell: &Cell, plan: &Plan, cycle: &Cycle) -> Vec<Self> {
        let stops = cycle.services.iter();
        stops
            .map(|stop| {
                let service = &cell.service[stop.service];
                // Stations are few: the count is exact.
                let stations = stop.after.len() as f64;
                let mean = |of: &dyn Fn(&StopTime) -> f64| stop.after.iter().map(of).sum::<f64>() / stations;
                let arm = mean(&|after| after.arm());
                let ways = plan.devices.iter().filter(|way| way.service == stop.service);
                let refused = ways.clone().filter_map(|way| {
                    let (body, other) = way.way.as_ref().ok()?.while_turning.clone()?.err()?;
                    let station = cell.stations[way.station.0].name.clone();
                    Some(NotInTurnFindings { station, body, other })
                });
                let not_in_turn = refused.collect();
                let points: Option<Vec<usize>> =
                    ways.map(|way| way.way.as_ref().ok().map(|route| route.taught())).collect();
                let points = points.filter(|points| !points.is_empty());
                Self {
                    service: service.name.clone(),
                    every_loads: stop.every_loads,
                    work_s: s(service.duration),
                    ways_s: points.is_some().then(|| s(mean(&|after| after.ways))),
                    points: points.and_then(|points| points.into_iter().max()),
                    in_turn_s: s(mean(&|after| after.in_turn)),
                    in_waits_s: s((arm - stop.costs).max(0.0)),
                    costs_s: s(stop.costs),
                    not_in_turn,
                    turn_not_counted: cycle.layout.only_table().is_none()
                        && service.device.as_ref().is_some_and(|device| device.during_turn),
                }
            })
            .collect()
    }

    /// How long it takes and where that time goes, in words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let ways = match self.ways_s {
            Some(ways) => format!(" and {} s there and back", fixed(ways, 1)),
            None => ", no way there in the times".to_owned(),
        };
        let mut goes = Vec::new();
        for (time, what) in [
            (self.in_turn_s, "while the table turns"),
            (self.in_waits_s, "while the arm would wait for the person"),
            (self.costs_s, "on top of that cycle"),
        ] {
            if time >= 0.05 {
                goes.push(format!("{} s {what}", fixed(time, 1)));
            }
        }
        let goes = if goes.is_empty() { "it costs nothing".to_owned() } else { goes.join(", ") };
        let refused = self.not_in_turn.iter().map(|NotInTurnFindings { station, body, other }| {
            format!(
                "; after {station} it does not go while axes turn, as `during_turn` would have it: at some place of the turn {body} is not \
                 shown to keep clear of {other}"
            )
        });
        let refused: String = refused.collect();
        let elsewhere = if self.turn_not_counted {
            "; `during_turn` changes nothing here: it is for one table by itself, and where other fixtures or axes are the arm goes before or \
             after they move"
        } else {
            ""
        };
        format!(
            "{}, every {}: {} s{ways}; {goes}{refused}{elsewhere}",
            self.service,
            counted(u64::from(self.every_loads), "load"),
            fixed(self.work_s, 1)
        )
    }
}

fn s(seconds: f64) -> f64 {
    rounded(seconds, 6)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wish_to_go_while_the_table_turns_that_is_not_granted_is_told() {
        let granted = ServiceFindings {
            service: "cleaning".to_owned(),
            every_loads: 3,
            work_s: 12.0,
            ways_s: Some(3.0),
            points: Some(2),
            in_turn_s: 0.0,
            in_waits_s: 0.0,
            costs_s: 15.0,
            not_in_turn: Vec::new(),
            turn_not_counted: false,
        };
        let said = "cleaning, every 3 loads: 12.0 s and 3.0 s there and back; 15.0 s on top of that cycle";
        assert_eq!(granted.sentence(), said);
        let refused = NotInTurnFindings {
            station: "A".to_owned(),
            body: "neck".to_owned(),
            other: "screen".to_owned(),
        };
        let elsewhere = ServiceFindings { turn_not_counted: true, ..granted.clone() };
        assert!(elsewhere.sentence().starts_with(&format!("{said}; `during_turn` changes nothing here")));
        let refused = ServiceFindings { not_in_turn: vec![refused], ..granted };
        let said = format!(
            "{said}; after A it does not go while axes turn, as `during_turn` would have it: at some place of the turn neck is not shown to \
             keep clear of screen"
        );
        assert_eq!(refused.sentence(), said);
    }
}
