//! Decides what a file says of the order in which seams are welded, and whether the order that it has keeps its own rules.

use nalgebra::Point3;
use seamwright_kinematics::document::{Table, nearest};

use super::fixture::Fixture;
use super::names::Catalogue;
use super::place;
use super::seam::SeamDraft;
use crate::cell::{Before, Cooling, Seam, SeamId, Sequence, Station, StationId};
use crate::units;

/// What a station's table says of its order, by names as they stand in the output.
pub(super) struct OrderDraft {
    /// Which of the file's stations it is.
    row: usize,
    order: Option<Vec<String>>,
    turned: Vec<String>,
}

/// What must cool before a weld begins; `None` where nothing is said.
pub(super) fn cooling(table: &Table<'_>, base: Option<Cooling>) -> Option<Cooling> {
    let within = table.opt_number("cool_within_mm", place::DISTANCES_MM).map(units::mm);
    let time = table.opt_number("cool_for_s", place::DURATIONS_S);
    if let (None, Some((key, other))) = (
        base,
        match (within, time) {
            (Some(_), None) if !table.has("cool_for_s") => Some(("cool_within_mm", "cool_for_s")),
            (None, Some(_)) if !table.has("cool_within_mm") => Some(("cool_for_s", "cool_within_mm")),
            _ => None,
        },
    ) {
        table.problem(key, "this says half of what must cool", format!("write {other} as well"));
    }
    Some(Cooling {
        within: within.or(base.map(|base| base.within))?,
        time: time.or(base.map(|base| base.time))?,
    })
}

/// What a seam's table says by itself; what it names is referred to by [`refer`].
pub(super) fn of_seam(table: &Table<'_>) -> Sequence {
    ["after", "balances", "fixed_to_free"].iter().for_each(|key| table.excuse(key));
    Sequence { keeps_direction: table.opt_flag("keep_direction").unwrap_or(false), ..Sequence::default() }
}

/// What a station's table says.
pub(super) fn of_station(table: &Table<'_>, row: usize) -> OrderDraft {
    let order = table.has("weld_order").then(|| table.texts("weld_order"));
    let turned = if table.has("weld_reversed") { table.texts("weld_reversed") } else { Vec::new() };
    table.excuse("weld_order");
    table.excuse("weld_reversed");
    OrderDraft { row, order, turned }
}

/// Finds the seams that seams name, and how far each is from where its fixture is held fast.
pub(super) fn refer(root: &Table<'_>, fixtures: &mut Catalogue<Fixture>) {
    let tables = root.tables("seam");
    for index in 0..fixtures.len() {
        let Some(fixture) = fixtures.get_mut(index) else { continue };
        let mut names = Catalogue::new("seam of this fixture");
        for draft in &fixture.seams {
            names.add(draft.name.clone(), Some((draft.index, draft.procedure.passes.is_empty())));
        }
        for draft in &mut fixture.seams {
            let Some(table) = tables.get(draft.index) else { continue };
            let found = |key: &str, name: &str| {
                let (row, plain) = *names.get(names.refer(table, key, name)?)?;
                if row == draft.index {
                    table.problem(
                        key,
                        "a seam is named by itself",
                        "name another, or leave it out".to_owned(),
                    );
                    return None;
                }
                Some((row, plain))
            };
            if table.has("after") {
                let after: Vec<usize> = table
                    .texts("after")
                    .iter()
                    .filter_map(|name| found("after", name))
                    .map(|of| of.0)
                    .collect();
                draft.sequence.after = after;
            }
            if let Some((row, plain)) = table.opt_text("balances").and_then(|name| found("balances", &name)) {
                if !plain || !draft.procedure.passes.is_empty() {
                    let wrong = "one of the two is welded in several passes";
                    let right = "leave it out, and say the order of the passes by weld_order of the station"
                        .to_owned();
                    table.problem("balances", wrong, right);
                }
                draft.sequence.balances = Some(row);
            }
            if table.opt_flag("fixed_to_free") == Some(true) {
                draft.sequence.from_fixed = from_fixed(table, draft, fixture.fixed_at.as_ref());
            }
        }
    }
}

/// How far a seam is from the fixed place, m, where it goes away from it.
fn from_fixed(table: &Table<'_>, draft: &SeamDraft, fixed: Option<&Point3<f64>>) -> Option<f64> {
    let Some(fixed) = fixed else {
        let right = "write fixed_at_mm in its [[fixture]] as well: where the parts are held fast".to_owned();
        table.problem("fixed_to_free", "it is not said where the parts are held fast", right);
        return None;
    };
    let Some((path, (first, last))) = draft.path.as_ref().zip(draft.runs.first().zip(draft.runs.last()))
    else {
        let right = "leave it out, or draw the seam".to_owned();
        table.problem("fixed_to_free", "only the length of this seam is known", right);
        return None;
    };
    let [start, end] = [first.start, last.end].map(|s| (path.at(s).point - fixed).norm());
    if start > end + units::mm(1.0) {
        let wrong = format!(
            "it starts {:.1} mm from where the parts are held fast and ends {:.1} mm from there",
            units::to_mm(start),
            units::to_mm(end)
        );
        let right =
            format!("weld it the other way (reversed = {}), or leave fixed_to_free out", !draft.reversed);
        table.problem("fixed_to_free", wrong, right);
    }
    Some(start)
}

/// Puts the seams of each station in the order that it asks for, and holds every order against the rules; `orders`: one a station.
pub(super) fn settle(root: &Table<'_>, stations: &mut [Station], seams: &mut [Seam], orders: &[OrderDraft]) {
    let (of_seams, of_stations) = (root.tables("seam"), root.tables("station"));
    for (index, asked) in orders.iter().enumerate() {
        let of_station: Vec<SeamId> =
            (0..seams.len()).map(SeamId).filter(|seam| seams[seam.0].station == StationId(index)).collect();
        let Some(table) = of_stations.get(asked.row) else { continue };
        let named = |key: &str, name: &str| {
            let found = of_station.iter().find(|seam| seams[seam.0].name == name).copied();
            if found.is_none() {
                let names = || of_station.iter().map(|seam| seams[seam.0].name.as_str());
                let right = match nearest(name, names()) {
                    Some(near) => format!("is it \"{near}\"?"),
                    None => "write names as the output lists them, with pass and copy".to_owned(),
                };
                table.problem(key, format!("no seam \"{name}\" is welded on this station"), right);
            }
            found
        };
        let turned: Vec<SeamId> =
            asked.turned.iter().filter_map(|name| named("weld_reversed", name)).collect();
        let order = asked
            .order
            .as_ref()
            .map(|order| order.iter().filter_map(|name| named("weld_order", name)).collect::<Vec<SeamId>>());
        for (place, seam) in turned.iter().enumerate() {
            let name = &seams[seam.0].name;
            if turned[..place].contains(seam) {
                table.problem(
                    "weld_reversed",
                    format!("\"{name}\" stands in it twice"),
                    "name it once".to_owned(),
                );
            } else if seams[seam.0].may_turn() {
                seams[seam.0].turn();
            } else {
                let wrong = format!("\"{name}\" cannot be turned round by this");
                let right = "its direction is asked for, it is taught or searched for, its metal would lie elsewhere, or only its \
                             length is known: write reversed in its [[seam]]";
                table.problem("weld_reversed", wrong, right.to_owned());
            }
        }
        match order {
            None => check(seams, &of_station, |seam, wrong, key| {
                if let Some(of) = of_seams.get(seams[seam.0].row) {
                    let right = "move one of the [[seam]] tables, or write weld_order in its [[station]]";
                    of.problem(key, wrong, right.to_owned());
                }
            }),
            Some(order) => {
                let missing: Vec<&str> = of_station
                    .iter()
                    .filter(|seam| seams[seam.0].path.is_some() && !order.contains(seam))
                    .map(|seam| seams[seam.0].name.as_str())
                    .collect();
                let twice = (1..order.len()).find(|place| order[..*place].contains(&order[*place]));
                if let Some(place) = twice {
                    let wrong = format!("\"{}\" stands in it twice", seams[order[place].0].name);
                    table.problem("weld_order", wrong, "name every seam once".to_owned());
                } else if asked.order.as_ref().is_some_and(|asked| asked.len() > order.len()) {
                    // A name that nobody bears was told; which seam it means is not known.
                } else if let Some(first) = missing.first() {
                    let wrong = format!(
                        "{} of the seams of this station are not in it, such as \"{first}\"",
                        missing.len()
                    );
                    table.problem("weld_order", wrong, "name every seam of the station".to_owned());
                } else {
                    check(seams, &order, |_, wrong, _| {
                        table.problem("weld_order", wrong, "name them in another order".to_owned());
                    });
                    stations[index].weld_order = Some(order);
                }
            }
        }
    }
}

/// Whether an order keeps the rules: the first that it breaks for each seam is `told`, with the key of the rule.
fn check(seams: &[Seam], order: &[SeamId], mut told: impl FnMut(SeamId, String, &'static str)) {
    for (place, seam) in order.iter().enumerate() {
        let this = &seams[seam.0];
        let too_early = order[place + 1..].iter().find_map(|later| {
            let other = &seams[later.0];
            Some((other, other.comes_before(this)?))
        });
        if let Some((other, why)) = too_early {
            let (key, because) = match why {
                Before::Tacks => ("tacks", "tacks come before the welds of their fixture"),
                Before::Passes => ("procedure", "passes come in their order"),
                Before::After => ("after", "`after` says so"),
                // Openings are read after the order.
                Before::Clamps => continue,
                Before::FromFixed => ("fixed_to_free", "it is nearer to where the parts are held fast"),
            };
            let also = if must_come_before(seams, order, this, other) {
                "; by other rules it would have to be, so that no order keeps them all and one must go"
            } else {
                ""
            };
            told(
                *seam,
                format!(
                    "\"{}\" would be welded before \"{}\", though {because}{also}",
                    this.name, other.name
                ),
                key,
            );
        }
        let apart = order[place + 1..].iter().skip(1).find(|later| this.balances(&seams[later.0]));
        if let Some(other) = apart {
            let key = if this.sequence.balances.is_some() { "balances" } else { "name" };
            let other = &seams[other.0].name;
            told(
                *seam,
                format!("\"{}\" and \"{other}\" balance each other, and others stand between", this.name),
                key,
            );
        }
    }
}

/// Whether rules, one after the other, have a seam of an order come before another.
fn must_come_before(seams: &[Seam], order: &[SeamId], first: &Seam, last: &Seam) -> bool {
    let mut open = vec![first];
    let mut known: Vec<bool> = vec![false; order.len()];
    while let Some(before) = open.pop() {
        for (place, after) in order.iter().map(|seam| &seams[seam.0]).enumerate() {
            if !known[place] && before.comes_before(after).is_some() {
                known[place] = true;
                open.push(after);
            }
        }
    }
    order.iter().zip(known).any(|(seam, known)| known && std::ptr::eq(&seams[seam.0], last))
}
