//! Decides what `[first_visit]` says: a table, and which of its rows are drawn as which seams.

use seamwright_kinematics::document::{Table, nearest};

use super::Reading;
use super::files::{beside, reason};
use super::names::Catalogue;
use super::rough_file;
use crate::cell::{FirstVisit, RoughJob, Seam, StationId};

/// The table beside the cell, where it names one. In a cell that is read for a job it is passed over.
pub(super) fn read(
    reading: &Reading<'_>,
    root: &Table<'_>,
    stations: &Catalogue<StationId>,
    seams: &[Seam],
) -> Option<FirstVisit> {
    if reading.for_a_job {
        root.excuse("first_visit");
        return None;
    }
    let table = root.opt_table("first_visit")?;
    let named = table.text("table");
    let station = station(&table, stations);
    let rows = table.tables("drawn");
    let known = Known { at: station, seams, unsound: unsound(reading, root, seams) };
    let found = named.and_then(|named| {
        let path = beside(table.file().as_ref(), &named);
        let text =
            reading.files.text(&path).map_err(|error| table.problem("table", reason(&error), None)).ok()?;
        rough_file::from_text(&Reading::for_a_job(&path, reading), &path, &text)
    });
    let mut drawn = vec![Vec::new(); found.as_ref().map_or(0, |found| found.seams.len())];
    for row in rows {
        let (name, seams) = (row.text("row"), known.seams_of(&row));
        if let (Some(name), Some(found)) = (name, &found) {
            match found.seams.iter().position(|seam| seam.name == name) {
                Some(index) if drawn[index].is_empty() => {
                    if let Some(twice) =
                        seams.iter().find(|seam| drawn.iter().flatten().any(|it| it == *seam))
                    {
                        let wrong = format!("the seam \"{twice}\" stands under another row too");
                        row.problem("seams", wrong, "name each seam under one row".to_owned());
                    }
                    drawn[index] = seams;
                }
                Some(_) => {
                    row.problem("row", "this row is named twice", "write its seams together".to_owned())
                }
                None => row.problem(
                    "row",
                    "no row of the table that begins with seam has this name",
                    hint(&name, found),
                ),
            }
        }
        row.finish();
    }
    table.finish();
    Some(FirstVisit { table: found?, drawn, station: station? })
}

/// The only station, or the one that is named.
fn station(table: &Table<'_>, stations: &Catalogue<StationId>) -> Option<StationId> {
    match table.opt_text("station") {
        None if stations.len() < 2 => stations.get(0).copied(),
        None if table.has("station") => None,
        None => {
            let right = "write station = \"...\" with its name".to_owned();
            table.problem("station", "it is not said at which station this is loaded", right);
            None
        }
        Some(named) => stations.look_up(table, "station", &named).copied(),
    }
}

/// The seams that a row may name.
struct Known<'a> {
    at: Option<StationId>,
    seams: &'a [Seam],
    /// Rows of the cell that make no seam, since something is wrong with them: what names them is not reported as well.
    unsound: Vec<String>,
}

impl Known<'_> {
    /// The names of the seams that a row was drawn as.
    fn seams_of(&self, row: &Table<'_>) -> Vec<String> {
        let here =
            || self.seams.iter().filter(|seam| Some(seam.station) == self.at).map(|seam| seam.name.as_str());
        let names = row.texts("seams");
        if names.is_empty() {
            row.problem(
                "seams",
                "nothing is drawn of this row",
                "name its seams, or leave the row out".to_owned(),
            );
        }
        for name in &names {
            let unsound = self.unsound.iter().any(|of| name.starts_with(of.as_str()));
            if self.at.is_some() && !unsound && !here().any(|known| known == name) {
                let near = nearest(name, here());
                let right = near.map_or("write names of seams of that station".to_owned(), |near| {
                    format!("is it \"{near}\"?")
                });
                row.problem("seams", format!("no seam there is named \"{name}\""), right);
            }
        }
        names
    }
}

/// The names of rows that make no seam, where something is wrong in the file.
fn unsound(reading: &Reading<'_>, root: &Table<'_>, seams: &[Seam]) -> Vec<String> {
    if reading.problems.is_empty() {
        return Vec::new();
    }
    let rows = root.tables("seam").into_iter().enumerate();
    let without = rows.filter(|(row, _)| !seams.iter().any(|seam| seam.row == *row));
    without.filter_map(|(_, table)| table.opt_text("name")).collect()
}

fn hint(name: &str, table: &RoughJob) -> String {
    let names = || table.seams.iter().map(|seam| seam.name.as_str());
    match nearest(name, names()) {
        Some(near) => format!("is it \"{near}\"?"),
        None => format!("known: {}", names().take(8).collect::<Vec<_>>().join(", ")),
    }
}
