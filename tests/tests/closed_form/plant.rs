//! What a cycle means for the plant, for the starter cell: every figure worked out again by hand from the cell file's numbers, the cycle
//! and the count of parts; and what one change moves.

use std::path::Path;

use seamwright_sim::cell::read::read_cell;
use seamwright_sim::cell::{Cell, Cooling, Guess, Rework};
use seamwright_sim::findings::{Findings, OutlookFindings};
use seamwright_sim::plan::{Options, Plan, Searched};
use seamwright_sim::production;
use seamwright_sim::schedule::{Schedule, schedule};

fn near(what: &str, ours: f64, expected: f64) {
    // findings.json has six decimals.
    assert!(
        (ours - expected).abs() <= 1e-6 * expected.abs().max(1.0) + 1e-6,
        "{what}: {ours}, not {expected}"
    );
}

struct Starter {
    cell: Cell,
    searched: Searched,
    plan: Plan,
}

impl Starter {
    fn new() -> Self {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenes/gate-bracket/cell.toml");
        let cell = read_cell(&file).unwrap();
        let searched = Searched::new(&cell, &Options::default());
        let plan = searched.plan(&cell);
        Self { cell, searched, plan }
    }

    /// The same plan, timed and looked at again with a changed cell.
    fn looked_at(&self, change: impl Fn(&mut Cell)) -> (Findings, Schedule) {
        let mut cell = self.cell.clone();
        change(&mut cell);
        let schedule = schedule(&cell, &self.plan);
        let cycle = production::cycle(&cell, &schedule);
        let now = cycle.as_ref().unwrap();
        let outlook = production::outlook(&cell, &self.searched, &self.plan, &schedule, now, 0, &|_, _| ());
        (Findings::new(&cell, &self.plan, &cycle, Some(&outlook), None, None, 0), schedule)
    }
}

fn outlook(findings: &Findings) -> &OutlookFindings {
    findings.outlook.as_ref().unwrap()
}

#[test]
fn every_figure_of_the_starter_can_be_worked_out_by_hand() {
    let starter = Starter::new();
    let (findings, _) = starter.looked_at(|_| ());
    let cycle = findings.cycle.as_ref().unwrap();
    let seen = outlook(&findings);

    // Wire 1.2 mm, 5.4 m/min, 190 A, 20.5 V, gas 14 L/min. Six welds: the arc travels at 7 mm/s and then stands 0.6 s in the crater; gas
    // also flows 0.3 s before, 0.5 s for the start, 0.5 s after.
    let weld_mm: f64 = 4.0 * 130.0 + 2.0 * 80.0;
    let arc = weld_mm / 7.0 + 6.0 * 0.6;
    near("weld", seen.uses.weld_mm, weld_mm);
    near("arc", seen.uses.arc_s, arc);
    near("wire", seen.uses.wire_g, 5400.0 / 60.0 * arc * std::f64::consts::PI / 4.0 * 1.44 * 7.85e-3);
    near("gas", seen.uses.gas_l, 14.0 / 60.0 * (arc + 6.0 * 1.3));
    near("energy", seen.uses.arc_kwh, 20.5 * 190.0 * arc / 3.6e6);

    // Takt: 220 shifts of 8 h less 45 min; 85 % available; 1.5 % scrap; 24 000 parts.
    let demand = seen.demand.as_ref().unwrap();
    let planned = 220.0 * 7.25;
    near("planned", demand.planned_h, planned);
    near("takt", demand.planned_takt_s, planned * 3600.0 / 24_000.0);
    let net = planned * 3600.0 * 0.85 * 0.985 / 24_000.0;
    near("net takt", demand.net_takt_s, net);
    near("load", demand.load_percent, 100.0 * cycle.long_run_s / 2.0 / net);
    near("people", demand.people_busy, cycle.stations[0].person_s / net);

    // Money: 38 a person's hour, 18 a cell's, 2 a kg, 4 a m³, 0.22 a kWh (85 % efficient), 1 an hour of arc; scrap is paid too.
    let money = seen.money.as_ref().unwrap();
    let good = seen.played.as_ref().unwrap().good_parts.mean;
    near("good parts", money.good_parts.expected, good);
    near("labour", money.part.labour.expected, 38.0 * 8.0 / good);
    near("cell", money.part.cell.expected, 18.0 * 7.25 / good);
    near("wire", money.part.wire.expected, 2.0 * seen.uses.wire_g / 1000.0 / 0.985);
    near("gas", money.part.gas.expected, 4.0 * seen.uses.gas_l / 1000.0 / 0.985);
    near("power", money.part.power.expected, 0.22 * seen.uses.arc_kwh / 0.85 / 0.985);
    near("tips", money.part.consumables.expected, arc / 3600.0 / 0.985);
    let points = findings.seams.iter().map(|seam| seam.taught.len()).sum::<usize>() as f64;
    let once = 140_000.0 + 9000.0 + 75.0 * (points * 3.5 / 60.0 + 24.0);
    near("once", money.once.total.expected, once);

    // By hand: 6 mm/s, the arc on for 40 % of the welding, 60 s beside it; 8 h paid for 7.25 h worked.
    let hand = money.by_hand.as_ref().unwrap();
    let time = weld_mm / 6.0 / 0.4 + 60.0;
    near("time by hand", hand.time_min.expected, time / 60.0);
    near("labour by hand", hand.part.labour.expected, 38.0 * time / 3600.0 * 8.0 / 7.25);
    let saving = hand.part.total.expected - money.part.total.expected;
    near("saving", hand.saving.expected, saving);
    near("capacity", hand.yearly_capacity.unwrap().expected, good * 220.0);
    near("payback", hand.payback.unwrap().expected.unwrap(), once / (saving * 24_000.0 - 5000.0));
    // People and cell paid for all 220 shifts: 38 · 8 h and 18 · 7.25 h each, over 24 000 parts; material as before.
    let whole = (38.0 * 8.0 + 18.0 * 7.25) * 220.0 / 24_000.0;
    let material = money.part.total.expected - money.part.labour.expected - money.part.cell.expected;
    let saving_alone = hand.part.total.expected - whole - material;
    let years = once / (saving_alone * 24_000.0 - 5000.0);
    assert_eq!(hand.payback_alone.unwrap().expected, (years > 0.0).then_some(years));
    // The person's arc is on as long as 6 mm/s takes; wire as in the weld, without the cell's scrap.
    let as_long = weld_mm / 6.0 / arc;
    near("gas by hand", hand.part.gas.expected, 4.0 * seen.uses.gas_l / 1000.0 * as_long);
    near("power by hand", hand.part.power.expected, 0.22 * seen.uses.arc_kwh / 0.85 * as_long);
    near("tips by hand", hand.part.consumables.expected, weld_mm / 6.0 / 3600.0);
    near("wire by hand", hand.part.wire.expected, 2.0 * seen.uses.wire_g / 1000.0);
    near("break even", hand.break_even_parts.unwrap().expected.unwrap(), (once / 3.0 + 5000.0) / saving);
    // The range holds what is expected, and its ends are the ends of everything at once.
    assert!(
        money.part.total.low < money.part.total.expected && money.part.total.expected < money.part.total.high
    );
    near("least saving", hand.saving.low, hand.part.total.low - money.part.total.high);
    assert!(money.left_out.is_empty(), "{:?}", money.left_out);
}

/// The count of a shift follows from planned time, OEE's factors and the plain cycle, as the screen prints it.
#[test]
fn the_printed_breakdown_multiplies_out_to_the_count() {
    let (findings, _) = Starter::new().looked_at(|_| ());
    let played = outlook(&findings).played.as_ref().unwrap();
    let oee = &played.oee;
    let parts = played.planned_min * 60.0 * oee.availability_percent / 100.0 * oee.effectiveness_percent
        / 100.0
        / played.ideal_part_s;
    near("parts", played.parts.mean, parts);
    near("good", played.good_parts.mean, parts * oee.quality_ratio_percent / 100.0);
    near("ideal", played.ideal_part_s, findings.cycle.as_ref().unwrap().plain_s / 2.0);
}

/// One change, and the parts of a shift move as paper says. Without luck (no stoppages, curtain, scrap, breaks, even loading) a part
/// takes max(R, L) + X. It begins empty: the first part comes after loading one side, a turn and a weld.
#[test]
fn one_clamp_one_speed_and_one_load_time_move_the_count_as_paper_says() {
    let starter = Starter::new();
    let count = |change: &dyn Fn(&mut Cell)| {
        let (findings, schedule) = starter.looked_at(|cell| {
            let play = cell.shift_play.as_mut().unwrap();
            (play.stoppages, play.breaks, play.curtain, play.scrap) = (Vec::new(), Vec::new(), None, 0.0);
            cell.shift.as_mut().unwrap().breaks = 0.0;
            cell.service.clear();
            cell.stations.iter_mut().for_each(|station| station.loading.spread.value = 0.0);
            change(cell);
        });
        let played = outlook(&findings).played.clone().unwrap();
        assert_eq!(played.parts.within, 0.0);
        let visit = &schedule.visits[0];
        let cycle = findings.cycle.as_ref().unwrap();
        let side = &cycle.stations[0];
        let unload = starter.cell.stations[0].loading.unload;
        // Nothing has to be taken out of either side the first time.
        let first = side.person_s - unload + side.index_s + visit.duration();
        let second = side.arm_s.max(side.person_s - unload) + side.index_s;
        let then = side.arm_s.max(side.person_s) + side.index_s;
        let expected = 2 + ((8.0 * 3600.0 - first - second) / then + 1e-9).floor() as u64;
        assert_eq!(played.parts.mean, expected as f64);
        expected
    };
    let as_it_is = count(&|_| ());
    // A clamp of 4 s more is the person's time, and the person waits for the arm: the first part alone comes later.
    let clamp = count(&|cell| cell.stations.iter_mut().for_each(|station| station.loading.clamping += 4.0));
    assert!(as_it_is - clamp <= 1);
    // Loading that takes longer than the arm sets the pace.
    let slow = count(&|cell| cell.stations.iter_mut().for_each(|station| station.loading.load += 100.0));
    assert!(slow < as_it_is - 20, "{slow} of {as_it_is}");
    // A tenth faster travel: the arc takes a tenth less.
    let fast = count(&|cell| {
        cell.seams.iter_mut().for_each(|seam| seam.procedure.travel_speed *= 1.1);
    });
    assert!(fast > as_it_is + 10, "{fast} of {as_it_is}");
}

/// One good part in twenty is mended in 6 min, paid for breaks in proportion (480 of 435 min): 0.05 · 6 · 480/435 = 0.331034 min of paid time a
/// part, at 38 an hour 0.209655.
#[test]
fn parts_that_are_mended_cost_paid_time() {
    let starter = Starter::new();
    let (plain, _) = starter.looked_at(|_| ());
    let (mended, _) = starter.looked_at(|cell| {
        let money = cell.money.as_mut().unwrap();
        money.rework = Rework { share: Guess([0.05; 3]), time: Guess([360.0; 3]) };
    });
    let [plain, mended] = [&plain, &mended].map(|findings| outlook(findings).money.clone().unwrap());
    near("minutes", mended.rework_min, 0.05 * 6.0 * 480.0 / 435.0);
    near("labour", mended.part.labour.expected - plain.part.labour.expected, 0.209_655_172);
    near("cell", mended.part.cell.expected, plain.part.cell.expected);
    assert!(plain.rework_min == 0.0 && mended.breakdown().contains("0.33 of it mending parts"));
}

/// What must cool after an earlier seam, another between: with travel speed 10 % higher the seam between is sooner done and the wait as much
/// longer. The change is worth what the same cell is worth with that speed in its procedures, shift by shift on the same luck.
#[test]
fn more_travel_speed_gains_nothing_where_something_must_cool() {
    let starter = Starter::new();
    let mut order: Vec<usize> = schedule(&starter.cell, &starter.plan).visits[0]
        .events
        .iter()
        .filter_map(|event| event.seam)
        .map(|seam| seam.0)
        .collect();
    order.dedup();
    // A seam and a distance within which there is one welded before it, and none of those between.
    let (cooled, within) = (2..order.len())
        .flat_map(|last| (1..600).map(move |mm| (last, f64::from(mm) / 1000.0)))
        .find_map(|(last, within)| {
            let mut seam = starter.cell.seams[order[last]].clone();
            seam.procedure.cooling = Some(Cooling { within, time: 120.0 });
            let mut before = order[..last].iter().map(|at| starter.cell.seams[*at].cools_before(&seam) > 0.0);
            let direct = before.next_back()?;
            (!direct && before.any(|near| near)).then_some((order[last], within))
        })
        .unwrap();
    let cools = |cell: &mut Cell| {
        cell.seams[cooled].procedure.cooling = Some(Cooling { within, time: 120.0 });
    };
    let faster = |cell: &mut Cell| {
        cools(cell);
        cell.seams.iter_mut().for_each(|seam| seam.procedure.travel_speed *= 1.1);
    };
    let [(plain, _), (cooled, now), (quicker, then)] =
        [starter.looked_at(|_| ()), starter.looked_at(cools), starter.looked_at(faster)];
    let waits = |schedule: &Schedule| schedule.visits[0].times().cooling;
    assert!(waits(&now) > 0.0 && waits(&then) > waits(&now) + 1.0, "{} {}", waits(&now), waits(&then));
    let played = |findings: &Findings| outlook(findings).played.clone().unwrap();
    let worth = |findings: &Findings| {
        let effects = played(findings).effects;
        effects.into_iter().find(|effect| effect.change.starts_with("travel speed")).unwrap().good_parts.mean
    };
    let gained = played(&quicker).good_parts.mean - played(&cooled).good_parts.mean;
    assert!((worth(&cooled) - gained).abs() < 1e-5, "{} {gained}", worth(&cooled));
    assert!(worth(&cooled) < worth(&plain), "{} {}", worth(&cooled), worth(&plain));
}
