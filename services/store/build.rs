//! Rebuilds the crate when a migration changes: they are embedded, and the compiler does not watch them.

fn main() {
    println!("cargo::rerun-if-changed=../../migrations");
}
