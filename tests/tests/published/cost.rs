//! What a weld costs and when a cell has paid for itself: a printed cost sheet, a printed payback.

use seamwright_sim::production::cost::{PartCost, PartNeeds, Rates, payback};
use seamwright_tests::rows;

/// The cost sheet in its own units: a pound of weld metal is the "part", an hour the second.
#[test]
fn a_pound_of_weld_metal_costs_what_the_cost_sheet_says() {
    let rows = rows("published/weld_cost.csv");
    for row in &rows {
        let rates = Rates {
            labour: row.number("rate_per_h"),
            wire: row.number("wire_per_lb"),
            gas: row.number("gas_per_ft3"),
            ..Rates::default()
        };
        let arc = 1.0 / row.number("deposition_lb_h");
        let needs = PartNeeds {
            labour: arc / row.number("operating_factor"),
            wire: 1.0 / row.number("efficiency"),
            gas: row.number("gas_ft3_h") * arc,
            ..PartNeeds::default()
        };
        let cost = PartCost::of(&needs, &rates);
        for (ours, column) in [
            (cost.labour, "labour_per_lb"),
            (cost.wire, "wire_cost_per_lb"),
            (cost.gas, "gas_cost_per_lb"),
            (cost.total(), "total_per_lb"),
        ] {
            assert!((ours - row.number(column)).abs() <= row.number("tolerance"), "{row}: {column} {ours}");
        }
    }
    // The sheet goes on: 2900 of equipment is paid back by 168.8 lb, that is in 37 h (36.8) of 4.59 lb each.
    let [proposed, present] = rows.as_slice() else { panic!("two rows") };
    let saving = present.number("total_per_lb") - proposed.number("total_per_lb");
    let paid = payback(2900.0, saving, 10.2 * 0.45, 0.0);
    assert!((paid.parts.unwrap() - 168.8).abs() < 0.05, "{paid:?}");
    assert!((paid.years.unwrap() - 36.8).abs() < 0.05, "{paid:?}");
}

#[test]
fn a_million_that_saves_570_000_a_year_is_paid_back_in_a_year_and_three_quarters() {
    // abagy.com: yearly benefit 670 000, yearly running cost 100 000, investment 1 000 000; its text says under two years.
    let paid = payback(1_000_000.0, 670_000.0, 1.0, 100_000.0);
    assert_eq!(paid.yearly_saving, 570_000.0);
    assert!((paid.years.unwrap() - 1.754_386).abs() < 1e-6);
}
