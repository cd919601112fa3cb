//! Decides which clamps open while the arm is at the station, and which seams are welded before and after that.

use seamwright_kinematics::document::{Table, nearest};

use super::Reading;
use super::fixture::Fixture;
use super::names::Catalogue;
use super::station::Placed;
use crate::cell::{ClampOpening, Seam, SeamId, ShapeId, StationId};

/// A clamp that opens between welds, as its table says.
pub(super) struct OpeningDraft {
    clamp: String,
    /// Names of seams as the output lists them, but for the copy's number.
    after: Vec<String>,
    /// s.
    time: f64,
}

/// What a clamp's table says of it; `None` where it stays closed until the part is taken out. `time`: to open it, s.
pub(super) fn read(
    table: &Table<'_>,
    name: Option<&str>,
    time: f64,
    by_air: Option<bool>,
) -> Option<OpeningDraft> {
    if !table.has("opens_after") {
        table.excuse("opens_after");
        return None;
    }
    let after = table.texts("opens_after");
    if after.is_empty() {
        let right = "name the seams after which it opens, or leave it out".to_owned();
        table.problem("opens_after", "there is no seam in it", right);
    }
    if !table.has("open_at_mm") {
        let right = "write open_at_mm: where it stands open while the rest is welded".to_owned();
        table.problem("opens_after", "it is not said where this clamp stands open", right);
    }
    if by_air == Some(false) || !table.has("by") {
        let right = "write by = \"air\", or weld what needs it open on another station".to_owned();
        table.problem("opens_after", "nobody can open a clamp by hand while the arm welds", right);
    }
    Some(OpeningDraft { clamp: name?.to_owned(), after, time })
}

/// An opening with where in the order of its station it comes: after so many seams.
struct Due {
    after: usize,
    opening: ClampOpening,
}

/// Puts the openings between the seams of every station, whose order is settled.
pub(super) fn settle(
    reading: &Reading<'_>,
    root: &Table<'_>,
    fixtures: &Catalogue<Fixture>,
    placed: &mut Placed,
) {
    let tables = root.tables("fixture");
    for station in 0..placed.stations.len() {
        let row = fixtures.position(&placed.stations[station].fixture);
        let Some((row, (_, fixture))) = row.and_then(|row| Some((row, fixtures.named(row)?))) else {
            continue;
        };
        if fixture.openings.is_empty() {
            continue;
        }
        let order = order(placed, StationId(station));
        let mut due: Vec<Due> = Vec::new();
        for draft in &fixture.openings {
            let clamps = tables.get(row).map(|table| table.tables("clamp")).unwrap_or_default();
            let named = |table: &&Table<'_>| table.opt_text("name").as_deref() == Some(&draft.clamp);
            let Some(table) = clamps.iter().find(named) else { continue };
            for &(_, copy, first) in placed.copies.iter().filter(|(of, ..)| of.0 == station) {
                due.extend(due_of(table, draft, placed, fixture, &order, (copy, first)));
            }
        }
        // A stable sort: clamps that open at once keep the order of the file.
        due.sort_by_key(|due| due.after);
        for (place, seam) in order.iter().enumerate() {
            let mut before: Vec<usize> =
                due.iter().map(|due| due.after).filter(|after| *after <= place).collect();
            before.dedup();
            placed.seams[seam.0].openings = before.len();
        }
        let mut openings: Vec<(usize, ClampOpening)> = Vec::new();
        for Due { after, opening } in due {
            match openings.last_mut() {
                Some((same, known)) if *same == after => {
                    known.clamps.extend(opening.clamps);
                    known.time += opening.time;
                    known.closed.extend(opening.closed);
                    known.open.extend(opening.open);
                }
                _ => openings.push((after, opening)),
            }
        }
        for (after, opening) in &openings {
            if let Some(seam) = order.get(after - 1) {
                placed.seams[seam.0].sequence.opens_clamps = true;
            }
            reading.note(format!(
                "station {}: {} opens after {}; that what is welded by then holds is taken for granted, and that it turns about one pin or \
                 goes straight",
                placed.stations[station].name,
                opening.clamps.join(", "),
                order.get(after - 1).map_or("", |seam| placed.seams[seam.0].name.as_str())
            ));
        }
        placed.stations[station].openings = openings.into_iter().map(|(_, opening)| opening).collect();
    }
}

/// The seams of a station as they are welded.
fn order(placed: &Placed, station: StationId) -> Vec<SeamId> {
    let of_station =
        (0..placed.seams.len()).map(SeamId).filter(|seam| placed.seams[seam.0].station == station);
    let Some(order) = &placed.stations[station.0].weld_order else { return of_station.collect() };
    let others = of_station.filter(|seam| !order.contains(seam));
    order.iter().copied().chain(others).collect()
}

fn due_of(
    table: &Table<'_>,
    draft: &OpeningDraft,
    placed: &Placed,
    fixture: &Fixture,
    order: &[SeamId],
    (copy, first): (usize, usize),
) -> Option<Due> {
    let of_copy = || order.iter().enumerate().filter(|(_, seam)| placed.seams[seam.0].copy == copy);
    let place = |name: &String| {
        let found = of_copy().find(|(_, seam)| listed(&placed.seams[seam.0]) == *name);
        if found.is_none() {
            let names: Vec<String> = of_copy().map(|(_, seam)| listed(&placed.seams[seam.0])).collect();
            let right = match nearest(name, names.iter().map(String::as_str)) {
                Some(near) => format!("is it \"{near}\"?"),
                None => "write names as the output lists them, with pass or tacks, without the copy's number"
                    .to_owned(),
            };
            table.problem("opens_after", format!("no seam \"{name}\" is welded in this fixture"), right);
        }
        found.map(|(place, _)| place)
    };
    let places: Vec<Option<usize>> = draft.after.iter().map(place).collect();
    let last = places.into_iter().collect::<Option<Vec<usize>>>()?.into_iter().max()?;
    if of_copy().all(|(place, _)| place <= last) {
        let right =
            "name seams that come before others, or leave it out: it opens when the part is taken out"
                .to_owned();
        table.problem("opens_after", "nothing is welded after these seams", right);
        return None;
    }
    let of_clamp = |name: String| {
        let shapes = fixture.shapes.iter().enumerate().filter(move |(_, shape)| shape.row.name == name);
        shapes.map(|(index, _)| ShapeId(first + index)).collect::<Vec<ShapeId>>()
    };
    let (closed, open) = (of_clamp(draft.clamp.clone()), of_clamp(format!("{}, open", draft.clamp)));
    let number = if placed
        .copies
        .iter()
        .any(|(of, other, _)| *other > 0 && of.0 == placed.seams[order[0].0].station.0)
    {
        format!(" ({})", copy + 1)
    } else {
        String::new()
    };
    let clamps = vec![format!("{}{number}", draft.clamp)];
    Some(Due { after: last + 1, opening: ClampOpening { clamps, time: draft.time, closed, open } })
}

/// A seam as the output lists it, but for the copy's number.
fn listed(seam: &Seam) -> String {
    let rest = seam.name.strip_prefix(&seam.drawn_as).unwrap_or_default();
    let rest = rest.strip_prefix(&format!(" ({})", seam.copy + 1)).unwrap_or(rest);
    format!("{}{rest}", seam.drawn_as)
}
