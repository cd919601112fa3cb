//! Small findings made up by hand, for tests of what is shown: one seam of each verdict, one blocked way.

use super::seam::{SeamFindings, Taught, TaughtMove, WorstAngles};
use super::stop::{Limit, Place, Stop};
use super::time::{Covers, CycleFindings, LayoutName, SetBy, ShiftFindings, StationTime};
use super::{
    Analyses, BlockedWay, CellName, FORMAT, Findings, GivingWayFindings, Load, Margin, Obstacle, Overall,
    PositionFindings, ProcedureFindings, Room, Search, Tight, Yardstick, caution,
};
use crate::cell::{Joint, Main, Production};
use crate::findings::words::LengthUnit;
use crate::plan::{Effort, Verdict, weights};

/// A bench with four seams.
pub(crate) fn findings() -> Findings {
    let seams = vec![holds(), cannot_hold(), not_found(), by_length()];
    let mut way = BlockedWay {
        station: "bench".into(),
        from: Some("rib left".into()),
        to: None,
        obstacle: Obstacle::Bodies { body: "upper arm".into(), other: "lamp post".into(), short_mm: 31.25 },
        sentence: String::new(),
    };
    way.sentence = way.sentence_in(LengthUnit::Millimetre);
    let blocked_ways = vec![way];
    let load = Load { torch_kg: 2.9, rated_kg: Some(6.0) };
    let margin = seams[0].margins[1].clone();
    Findings {
        format: FORMAT,
        made_by: "seamwright 0.0.0".into(),
        cell: CellName {
            name: "bench".into(),
            about: "Four seams that show every answer".into(),
            arm: "reach-1400".into(),
            torch: "bent-neck".into(),
        },
        overall: Overall::new(
            &seams,
            &blocked_ways,
            &load,
            &Analyses { fit_up: None, safety: None, outlook: None, clamps_open: true, stations_apart: true },
        ),
        tightest: vec![Tight {
            number: 1,
            seam: seams[0].full_name(),
            sentence: margin.sentence(LengthUnit::Millimetre),
            margin,
        }],
        seams,
        blocked_ways,
        blocked_clamps: Vec::new(),
        drawn_in: Vec::new(),
        load,
        cycle: Some(cycle()),
        cycle_not_checked: None,
        outlook: None,
        fit_up: None,
        safety: None,
        advice: None,
        comfort: None,
        as_built: Vec::new(),
        jobs: None,
        first_visit: None,
        loads: None,
        order: None,
        procedures: vec![ProcedureFindings {
            procedure: "fillet 5".into(),
            travel_speed_mm_s: 7.0,
            process: 135,
            arc_energy_kj_mm: 0.96,
            heat_input_kj_mm: 0.768,
            heat_input_factor: 0.8,
            melt_off_kg_h: 4.5,
            deposition_kg_h: 4.3,
            section_mm2: 21.7,
            fillet_leg_mm: 6.6,
            fills_corners: true,
            asked: None,
        }],
        clearance_assumed: true,
        assumed: vec!["air moves are assumed to run at 70 % of the pace that the axes allow".into()],
        not_checked: caution::NEVER_CHECKED.map(str::to_owned).to_vec(),
        cautions: caution::CAUTIONS.map(str::to_owned).to_vec(),
        search: Search {
            effort: Effort {
                turn_step_deg: 10.0,
                levels: 3,
                layer_step_mm: 10.0,
                check_step_mm: 2.0,
                air_step_mm: 8.0,
                finest_step_mm: 0.05,
                detour_tries: 1000,
                poses: 1200,
                solutions: 3400,
                clearance_queries: 560,
            },
            weights: weights().into(),
            seed: 1,
        },
        yardstick: Yardstick::OURS,
    }
}

fn seam(number: usize, name: &str, verdict: Verdict) -> SeamFindings {
    SeamFindings {
        number,
        station: "bench".into(),
        seam: name.into(),
        joint: Joint::Fillet,
        pass: 1,
        procedure: "fillet 5".into(),
        verdict,
        unreached: false,
        reason: None,
        stops: Vec::new(),
        giving_way: None,
        drawn_mm: 160.0,
        weld_mm: 150.0,
        runs: 1,
        corner_mm: 0.0,
        past_joint_mm: None,
        no_joint_drawn: false,
        welded_over: None,
        position: None,
        worst_angles: None,
        notes: Vec::new(),
        slowed: Vec::new(),
        margins: Vec::new(),
        configuration: None,
        taught: Vec::new(),
        beside: None,
    }
}

fn holds() -> SeamFindings {
    let place = |at_mm| Place::Seam { at_mm, from_mm: at_mm, to_mm: at_mm };
    let point = |point, kind, s_mm| Taught {
        point,
        kind,
        circular: false,
        s_mm,
        axes_deg: [1.0, -2.0, 3.0, -4.0, 5.0, -6.0],
        external: [("ext_table_deg".to_owned(), 180.0)].into(),
        xyz_mm: [100.0, 200.0, 300.0],
        quaternion_wxyz: [0.5, 0.5, -0.5, 0.5],
        work_deg: 45.0,
        travel_deg: 8.0,
        turn_deg: -30.0,
        ctwd_mm: 15.0,
        configuration: "front up plus".into(),
    };
    SeamFindings {
        position: Some(PositionFindings {
            position: Production::Horizontal,
            inclination_deg: 0.0,
            rotation_deg: 135.0,
            rises_deg: 0.0,
            main: Main::PB,
            slope_deg: 0.0,
            turned_deg: 0.0,
            at_mm: 5.0,
        }),
        worst_angles: Some(WorstAngles {
            work_deg: 47.5,
            travel_deg: 8.0,
            ctwd_mm: 15.0,
            used_percent: 50.0,
            at_mm: 5.0,
        }),
        margins: vec![
            Margin {
                room: Room::AxisRange { axis: 3, left_deg: 38.72 },
                place: place(150.0),
                tightness: 3.872,
            },
            Margin {
                room: Room::Clearance {
                    body: "nozzle".into(),
                    other: "left toggle".into(),
                    distance_mm: 14.2,
                    asked_mm: 10.5,
                    spare_mm: 3.7,
                },
                place: place(64.0),
                tightness: 0.37,
            },
            Margin {
                room: Room::AxisSpeed { axis: 6, used_percent: 4.0 },
                place: place(5.0),
                tightness: 1.92,
            },
        ],
        configuration: Some("front up plus".into()),
        taught: vec![
            point(1, TaughtMove::Air, 5.0),
            point(2, TaughtMove::Approach, 5.0),
            point(3, TaughtMove::Weld, 155.0),
            point(4, TaughtMove::Retract, 155.0),
        ],
        ..seam(1, "rib left", Verdict::Holds)
    }
}

fn stopped(number: usize, name: &str, verdict: Verdict, stops: Vec<Stop>) -> SeamFindings {
    let reason = stops.first().map(|stop| stop.sentence(LengthUnit::Millimetre));
    SeamFindings { stops, reason, ..seam(number, name, verdict) }
}

fn cannot_hold() -> SeamFindings {
    let near = Limit::Clearance {
        body: "nozzle".into(),
        other: "left toggle".into(),
        short_mm: 6.8,
        asked_mm: Some(10.5),
        distance_mm: Some(3.7),
    };
    let turned = Limit::AxisRange { axis: 5, past_deg: 12.4, range_end_deg: Some(130.0) };
    let stop = |limit, at_mm, from_mm, to_mm| Stop {
        at_pace_percent: None,
        limit,
        place: Place::Seam { at_mm, from_mm, to_mm },
        x_mm: 1.0,
        y_mm: 2.0,
        z_mm: 3.0,
    };
    let stops = vec![stop(near, 130.0, 120.0, 148.0), stop(turned, 10.0, 10.0, 10.0)];
    stopped(2, "rib right", Verdict::CannotHold, stops)
}

fn not_found() -> SeamFindings {
    let limit =
        Limit::Hose { name: "hose limit on axis 6".into(), past_deg: 0.02, range_end_deg: Some(-200.0) };
    let place = Place::WayIn { before_start_mm: 14.0 };
    let stops = vec![Stop { limit, place, x_mm: 1.0, y_mm: 2.0, z_mm: 3.0, at_pace_percent: None }];
    let giving_way = Some(GivingWayFindings::Without { shapes: vec!["toggle".into()] });
    let seam = stopped(3, "a seam whose name is longer than its column", Verdict::NotFound, stops);
    SeamFindings { giving_way, ..seam }
}

fn by_length() -> SeamFindings {
    let reason = Some("given by its length only: timed, not planned".to_owned());
    SeamFindings { reason, ..seam(4, "brace", Verdict::NotChecked) }
}

fn cycle() -> CycleFindings {
    let covers = Covers {
        seams: 4,
        timed: 2,
        by_length_only: 1,
        weld_mm: 600.0,
        timed_weld_mm: 300.0,
        drawn_mm: 640.0,
    };
    CycleFindings {
        layout: LayoutName::OneFixture,
        table_axis: None,
        places: Vec::new(),
        people: 1,
        stations: vec![StationTime {
            station: "bench".into(),
            arm_s: 60.0,
            arc_s: 42.9,
            arc_ends_s: 4.0,
            cooling_s: 0.0,
            ways_s: 3.1,
            air_s: 10.0,
            external_s: 0.0,
            least_possible_s: 55.0,
            index_s: 0.0,
            way_s: 0.0,
            moved_by: Vec::new(),
            person: 1,
            person_s: 45.0,
            person_balanced_s: None,
            waits_for_others: false,
            person_small_wait_s: None,
            small_wait_percent: 1.0,
            parts_per_load: 1,
            covers,
        }],
        long_run_s: 106.5,
        counts_spread: true,
        promised_low_s: 90.525,
        promised_high_s: 122.475,
        calibration: None,
        rests_on: vec!["the times are not calibrated against measured moves".into()],
        plain_s: 105.0,
        least_possible_s: 100.0,
        set_by: SetBy::Station,
        set_by_station: Some("bench".into()),
        pace: None,
        arm_waits_s: 45.0,
        person_waits_s: 60.0,
        arm_stands_s: 0.0,
        person_stands_s: 0.0,
        arc_share_percent: 40.857,
        arm_use_percent: 57.143,
        person_use_percent: 42.857,
        parts_per_cycle: 1,
        loads_per_hour: 33.803,
        parts_per_hour: 33.803,
        parts_per_hour_at_least: 29.394,
        parts_per_hour_at_most: 39.768,
        beside_turns: Vec::new(),
        services: Vec::new(),
        shift: Some(ShiftFindings {
            length_h: 8.0,
            breaks_min: 60.0,
            availability_percent: 85.0,
            productive_h: 5.95,
            parts: 201,
            parts_at_least: 174,
            parts_at_most: 236,
        }),
        rounding: None,
        jerk: None,
        covers,
    }
}
