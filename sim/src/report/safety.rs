//! Decides what of people's safety stands on the screen: what it is not, what is wrong, device by device, spaces, places.

use super::page::Page;
use crate::findings::words::fixed;
use crate::findings::{EmergencyStopFindings, Findings, SafetyFindings, WorstStopFindings};

impl Page {
    pub(super) fn safety(&mut self, safety: &SafetyFindings) {
        self.heading("Safeguarding: where people and motion meet (screening only)");
        self.item(&safety.screening);
        let unit = self.unit;
        let mark = |holds: bool| if holds { "" } else { "WRONG: " };
        for device in &safety.devices {
            self.item(&format!(
                "{}{}, {} ({}): {}",
                mark(device.holds != Some(false)),
                device.device,
                device.role.name(),
                device.task(),
                device.sentence_in(unit)
            ));
            if let Some(times) = &device.times {
                self.sub_item(&times.sentence());
            }
            for asked in &device.asked {
                self.sub_item(&asked.sentence_in(unit));
            }
            if let Some(intrusion) = &device.intrusion {
                self.sub_item(&intrusion.sentence_in(unit));
            }
        }
        for guard in &safety.guards {
            self.item(&format!(
                "{}{}, guard: {}",
                mark(guard.holds != Some(false)),
                guard.guard,
                guard.sentence_in(unit)
            ));
        }
        for space in &safety.spaces {
            self.item(&format!("{}{}", mark(space.holds), space.sentence_in(unit)));
        }
        for place in &safety.places {
            self.item(&format!("{}{}", mark(place.holds != Some(false)), place.sentence_in(unit)));
        }
        for clamp in &safety.clamps_at_places {
            self.item(&format!("{}{}", mark(clamp.holds), clamp.sentence_in(unit)));
        }
        for (holds, gap) in safety.crush_sentences(unit) {
            self.item(&format!("{}{gap}", mark(holds)));
        }
        if let Some(way) = &safety.way_in {
            self.item(&format!("{}{}", mark(!way.open), way.sentence_in(unit)));
        }
        for none in &safety.no_crush_gaps {
            self.item(none);
        }
        for device in &safety.loading_stops_the_arm {
            self.item(device);
        }
        self.stopping(safety);
        // The worst of each; findings.json has more.
        for category in 0..=2 {
            for held in [false, true] {
                let of = |stop: &&WorstStopFindings| stop.category == category && stop.held_on_path == held;
                if let Some(stop) = safety.worst_stops.iter().find(of) {
                    self.item(&stop.sentence_in(unit));
                }
                if let Some(stop) = safety.wire_end_stops.iter().find(of) {
                    self.sub_item(&stop.of_wire_end_in(unit));
                }
            }
        }
        if let Some(manual) = &safety.manual {
            self.item(&manual.sentence());
        }
        let stops: Vec<String> = safety.emergency_stops.iter().map(EmergencyStopFindings::sentence).collect();
        self.item(&format!("emergency stops: {}", stops.join("; ")));
        for view in &safety.arc_views {
            self.item(&view.sentence());
        }
        self.item(&safety.fume);
        for caution in &safety.cautions {
            self.item(caution);
        }
        for reason in &safety.rests_on {
            self.sub_item(reason);
        }
        for reason in &safety.not_checked {
            self.sub_item(&format!("not checked: {reason}"));
        }
    }

    /// What wrist, forearm and positioners carry.
    pub(super) fn loads(&mut self, findings: &Findings) {
        let Some(loads) = &findings.loads else { return };
        self.heading("Loads, by the masses that the files state (screening only: the makers' data decide)");
        for load in &loads.all {
            let mark = if load.holds == Some(false) { "WRONG: " } else { "" };
            self.item(&format!("{mark}{}", load.sentence));
        }
        for reason in &loads.not_checked {
            self.sub_item(&format!("not checked: {reason}"));
        }
    }

    fn stopping(&mut self, safety: &SafetyFindings) {
        for category in 0..=2 {
            let axes: Vec<String> = safety
                .stopping
                .iter()
                .filter(|stop| stop.category == category)
                .map(|stop| {
                    let way = match (stop.turn_deg, stop.slide_mm) {
                        (Some(turn), _) => format!("{}°", fixed(turn, 0)),
                        (_, Some(slide)) => self.unit.distance(slide),
                        (None, None) => String::new(),
                    };
                    let assumed = match (stop.as_measured, stop.assumed, stop.carried_on) {
                        (true, ..) => " with the time that was measured",
                        (_, true, _) => " assumed",
                        (_, false, true) => " carried on from a lower speed",
                        (_, false, false) => "",
                    };
                    format!("{} {} s {way}{assumed}", stop.axis, fixed(stop.time_s, 2))
                })
                .collect();
            if !axes.is_empty() {
                self.item(&format!("stop category {category} from full speed: {}", axes.join(", ")));
            }
        }
    }
}
