//! Decides how a quicker order stands on the screen.

use super::page::Page;
use crate::findings::OrderFindings;

impl Page {
    pub(super) fn order(&mut self, order: &OrderFindings) {
        self.heading("Order of the seams");
        for station in &order.stations {
            self.item(&station.sentence);
            for line in station.lines() {
                self.sub_item(&line);
            }
        }
        if let Some(mean_cycle) = &order.mean_cycle {
            self.item(&mean_cycle.sentence(order.applied));
        }
        self.item(&order.meaning);
    }
}
