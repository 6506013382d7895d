//! The comparison of shops against the mixed model of statsmodels.

use super::{Faults, cases, header};
use gudgeon_life::sure::agreement::{Reading, compare};
use serde_json::{Value, json};

fn reading(row: &Value) -> Reading {
    let number = |at: usize| row[at].as_f64().expect("a number");
    let name = |at: usize| row[at].as_u64().expect("a whole number");
    Reading { shop: name(0), engine: name(1), hours: number(2), value: number(3) }
}

#[test]
fn offsets_agree_with_statsmodels() {
    let tolerance = &header("agreement.json")["tolerance"];
    let (of_se, se_rel) = (tolerance["offset_of_se"].as_f64(), tolerance["se_rel"].as_f64());
    let mut faults = Faults::default();
    for case in cases("agreement.json") {
        let readings: Vec<Reading> =
            case.input["readings"].as_array().expect("a list").iter().map(reading).collect();
        let found = compare(&readings);
        let expected = case.expect["offsets"].as_object().expect("an object");
        assert_eq!(found.shops.len(), expected.len(), "{}", case.id);
        for shop in found.shops {
            let expected = &expected[&shop.shop.to_string()];
            let offset = shop.together.expect("an offset");
            let se = expected["se"].as_f64().expect("a number");
            let off = (offset.offset - expected["offset"].as_f64().expect("a number")).abs();
            if off > of_se.expect("a tolerance") * se {
                faults
                    .0
                    .push(format!("{} {}: {offset:?}, expected {expected}", case.id, shop.shop));
            }
            faults.near(&case, "se", offset.se, &json!(se), se_rel.expect("a tolerance"));
        }
    }
    faults.none();
}
