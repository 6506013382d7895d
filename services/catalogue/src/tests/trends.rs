//! Measured limits of items: what is read of them, and what would act on nothing.

use super::bench::BENCH;
use super::refused::GOOD;
use crate::parse;
use gudgeon_life::hours::Hours;

const PLUGS: &str = "id = \"plugs\"";

/// The small file with plugs that follow a measured limit, and one text of it replaced.
fn with(trend: &str, old: &str, new: &str) -> String {
    let text = format!("{GOOD}{BENCH}").replacen(PLUGS, &format!("{PLUGS}\ntrend = {trend}"), 1);
    assert!(text.contains(old), "{old}");
    text.replacen(old, new, 1)
}

#[test]
fn the_running_in_is_fifty_hours_unless_said() {
    for (trend, run_in) in [
        ("{ quantity = \"bore\" }", 50),
        ("{ quantity = \"bore\", run-in = 0 }", 0),
        ("{ quantity = \"bore\", run-in = \"12:30\" }", 0),
    ] {
        let read = parse("x", &with(trend, PLUGS, PLUGS)).expect(trend);
        let plugs = read.items.iter().find(|it| it.id.as_str() == "plugs").expect("plugs");
        let found = plugs.trend.as_ref().expect("a trend");
        let half = if trend.contains("12:30") { Hours::from_seconds(45_000) } else { Hours::ZERO };
        assert_eq!(
            (found.quantity.as_str(), found.run_in),
            ("bore", Hours::from_whole(run_in) + half)
        );
    }
}

#[test]
fn what_would_act_on_nothing_is_refused() {
    let bore = "{ quantity = \"bore\" }";
    for (trend, old, new, key, says) in [
        ("{ run-in = 5 }", "", "", "trend.quantity", "missing; expected the id of a quantity"),
        ("{ quantity = \"bor\" }", "", "", "trend.quantity", "did you mean `bore`?"),
        ("{ quantity = \"winding\" }", "", "", "trend.quantity", "has no `wear`"),
        (bore, "limit = { max = 67.62 }", "limit = { min = 67 }", "trend.quantity", "no `max`"),
        (bore, "wear = \"rises\"", "wear = \"falls\"", "trend.quantity", "no `min`"),
        (
            bore,
            "positions = [\"mag\", \"pto\"]\nsource = \"rule\"\nnew",
            "positions = [\"mag\"]\nsource = \"rule\"\nnew",
            "trend.quantity",
            "not measured at `pto`",
        ),
        ("{ quantity = \"bore\", every = 5 }", "", "", "trend.every", "no such key here"),
    ] {
        let faults = parse("x", &with(trend, old, new)).err().unwrap_or_default();
        let found = faults.iter().any(|it| it.key == key && it.message.contains(says));
        assert!(found, "{trend} {new}: {faults:#?}");
    }
}
