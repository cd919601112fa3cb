//! Decides how the room that is left stands on the screen.

use super::page::Page;
use super::tables;
use crate::findings::{ComfortFindings, Findings};

impl Page {
    pub(super) fn comfort(&mut self, findings: &Findings, comfort: &ComfortFindings) {
        self.heading("Room left where it is least, and where along the seam");
        let welded = findings.seams.iter().filter(|seam| seam.is_welded()).collect::<Vec<_>>();
        self.table(&tables::room(&welded, self.unit));
        self.heading("How far the fixture may stray at least, from where it is drawn");
        self.table(&tables::stray(&comfort.seams, self.unit));
        self.line("");
        for station in &comfort.stations {
            self.item(&station.sentence());
        }
        self.item(&comfort.meaning);
        self.sub_item(&comfort.tried_sentence());
    }
}
