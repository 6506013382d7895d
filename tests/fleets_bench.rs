//! How long a generated fleet takes to load: facts appended in batches, every engine worked out, durable.
//!
//!     cargo bench -p gudgeon-tests --bench fleets            # 1 000 engines
//!     cargo bench -p gudgeon-tests --bench fleets -- 100000
//!
//! On a file of `SQLite`; with `GUDGEON_TEST_DATABASE=postgres` on a server of its own.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]
#![expect(clippy::float_arithmetic, reason = "rates are for people to read")]
#![expect(clippy::expect_used, reason = "a bench that cannot go on has failed")]

use gudgeon_databases::Database;
use gudgeon_store::Store;
use gudgeon_tests::generator::load;
use std::env;
use std::time::Instant;

fn main() {
    let asked = env::args().skip(1).find_map(|argument| argument.parse().ok());
    let engines: u32 = asked.unwrap_or(1_000);
    let database = Database::fresh(|url| {
        Store::open(url, true).and_then(|store| store.migrate()).expect("a new database");
    });
    let store = Store::open(database.url(), false).expect("it opens again");
    let start = Instant::now();
    let facts = load(&store, 1, engines);
    let seconds = start.elapsed().as_secs_f64();
    let rate = f64::from(u32::try_from(facts).unwrap_or(u32::MAX)) / seconds;
    println!("{engines} engines, {facts} facts: {seconds:.1} s, {rate:.0} facts a second");
}
